//! From matte to art: the paint's own color, un-mixed from the paper, at the alpha that the painter's dials ask for.

mod unmix;

pub use unmix::{Dials, RowSource, Unmixer, a_min};
