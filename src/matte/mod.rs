//! Which pixels are painted, and how far: evidence of paint, cover, islands, and the soft edge.

pub mod bay;
pub mod contour;
mod cores;
pub mod cover;
pub mod dry;
pub mod edge;
pub mod evidence;
pub mod fade;
pub mod features;
pub mod hue;
pub mod island;
mod outline;
mod pale;
mod rays;
mod ridge;
pub mod sliver;
mod strip;
pub mod strokes;
pub mod thin;

pub use cover::{Cover, Thresholds};
pub use evidence::Evidence;
pub use island::Island;
