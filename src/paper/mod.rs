//! The bare sheet: what its paper would scan as everywhere, how rough that is, and where the sheet ends.

pub mod blur;
pub mod edge;
pub mod field;
mod overview;
pub mod ruler;
mod shading;
pub mod tile;
pub mod toning;
pub mod tooth;
mod wash;

pub use edge::SheetEdge;
pub use field::PaperField;
pub use overview::Overview;
pub use ruler::Ruler;
pub use tile::Tile;
pub use tooth::Tooth;
