//! Marks on bare paper that are no part of the painting: found, told apart, and left out of the art.

pub mod marks;
pub mod toning;

pub use marks::{Kind, Rules};
