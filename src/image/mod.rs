//! Pixels: the scanned sheet, single planes, and the lifted art. Knows nothing of paper or paint.

mod art;
mod plane;
mod sheet;

pub use art::{Art, Pixels};
pub use plane::Plane;
pub use sheet::{Samples, Sheet};
