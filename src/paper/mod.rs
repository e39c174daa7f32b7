//! The bare sheet: what its paper would scan as everywhere, how rough that is, and where the sheet ends.

pub mod blur;
pub mod edge;
pub mod field;
pub mod ruler;
pub mod tile;
pub mod tooth;

pub use edge::SheetEdge;
pub use field::{Overview, PaperField};
pub use ruler::Ruler;
pub use tile::Tile;
pub use tooth::Tooth;
