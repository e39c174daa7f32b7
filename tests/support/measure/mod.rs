//! Measures of a lift against the truth.
//!
//! Alpha errors follow Rhemann, Rother, Wang, Gelautz, Kohli and Rott, "A perceptually motivated online benchmark for image
//! matting", CVPR 2009 (`alpha`). What a painter would see is measured on four grounds in CIEDE2000, near edges and
//! everywhere; what stayed on bare paper, what was lost of the paint, and the pale halo round it are counted (`seen`).
//! `judged` prepares the truth once and puts the measures together; `identity` lays the art back on its own paper; `inside` is what a
//! color from inside the paint comes to, all else known. `figures` names what counts, with its limits, and `table` sums it up over
//! many scenes.

pub mod alpha;
pub mod figures;
pub mod identity;
pub mod inside;
pub mod judged;
pub mod seen;
pub mod table;

pub use judged::{Judge, Score};
