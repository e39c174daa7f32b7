//! What barewash's tests and pictures are made with: simulated scans whose right answer is known exactly
//! (`render`, `scenes`), the measures that judge a lift against it (`measure`), and pictures to look at both (`pictures`).
//!
//! This crate is never part of what ships. It keeps its own few lines of color arithmetic on purpose: a judge
//! that borrowed the code on trial would forgive its mistakes.

pub mod color;
pub mod files;
pub mod measure;
pub mod pictures;
pub mod random;
pub mod render;
pub mod scenes;
