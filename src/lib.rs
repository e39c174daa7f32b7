//! barewash lifts a painting off its scanned paper.

pub mod error;
pub mod image;
pub mod units;
