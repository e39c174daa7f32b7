//! barewash lifts a painting off its scanned paper.

pub mod color;
pub mod decode;
pub mod encode;
pub mod error;
pub mod geometry;
pub mod image;
pub mod units;
