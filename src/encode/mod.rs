//! Writing pictures to files. One file a format; nothing here changes a pixel.
//!
//! Every writer takes rows as they come, or any part of them: straight-alpha RGBA samples from the top left, 8 bits each, or 16 bits
//! with the high byte first.

mod deflate;
mod directory;
mod exif;
mod format;
mod growing;
mod imprint;
pub mod png;
mod rows;
pub mod tiff;
pub mod webp;
mod xmp;

pub use format::Format;
pub use imprint::Imprint;

use crate::error::Result;

/// A picture on its way into a file of any format.
pub enum Writer {
    /// Into a PNG.
    Png(Box<png::PngWriter>),
    /// Into a TIFF.
    Tiff(Box<tiff::TiffWriter>),
    /// Into a WebP.
    Webp(Box<webp::WebpWriter>),
}

impl Writer {
    /// Begins a picture of `width` by `height` RGBA pixels of `bits` a channel: 8 or 16, in a WebP 8.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) for another depth, an empty picture or a text that no file can hold,
    /// [`Kind::Limit`](crate::error::Kind::Limit) for a picture beyond the format, or when there is no memory.
    pub fn new(format: Format, width: usize, height: usize, bits: u8, imprint: &Imprint) -> Result<Self> {
        Ok(match format {
            Format::Png => Self::Png(Box::new(png::PngWriter::new(width, height, bits, imprint)?)),
            Format::Tiff => Self::Tiff(Box::new(tiff::TiffWriter::new(width, height, bits, imprint)?)),
            Format::Webp => Self::Webp(Box::new(webp::WebpWriter::new(width, height, bits, imprint)?)),
        })
    }

    /// Takes the next rows, or any part of them.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) when more comes than the picture holds,
    /// [`Kind::Limit`](crate::error::Kind::Limit) when the file grows beyond the format or the memory.
    pub fn write_rows(&mut self, bytes: &[u8]) -> Result<()> {
        match self {
            Self::Png(writer) => writer.write_rows(bytes),
            Self::Tiff(writer) => writer.write_rows(bytes),
            Self::Webp(writer) => writer.write_rows(bytes),
        }
    }

    /// The file.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) when rows are missing, [`Kind::Limit`](crate::error::Kind::Limit) when
    /// the file grows beyond the format or the memory.
    pub fn finish(self) -> Result<Vec<u8>> {
        match self {
            Self::Png(writer) => writer.finish(),
            Self::Tiff(writer) => writer.finish(),
            Self::Webp(writer) => writer.finish(),
        }
    }
}
