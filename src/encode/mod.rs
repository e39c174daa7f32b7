//! Writing pictures to files. One file a format; nothing here changes a pixel.
//!
//! Every writer takes rows as they come, or any part of them: straight-alpha RGBA samples from the top left, 8 bits each, or 16 bits
//! with the high byte first.

mod directory;
mod exif;
mod format;
mod growing;
mod imprint;
pub mod png;
pub mod tiff;

pub use format::Format;
pub use imprint::Imprint;
