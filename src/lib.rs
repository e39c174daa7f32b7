//! barewash lifts a painting off its scanned paper.

pub mod color;
pub mod decode;
pub mod encode;
pub mod error;
pub mod filter;
pub mod foreground;
pub mod geometry;
pub mod image;
pub mod matte;
pub mod paper;
pub mod pipeline;
pub mod repair;
pub mod units;
#[cfg(target_arch = "wasm32")]
pub mod wasm;
