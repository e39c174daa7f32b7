//! Marks on bare paper that are no part of the painting: found, told apart, and left out of the art.

pub mod marks;

pub use marks::{Kind, Rules};
