//! WebP without loss (RFC 9649): straight alpha, 8 bits a channel.
//!
//! The color of fully transparent pixels stays as it is. The format has no place for a resolution but EXIF. What the encoder packs is
//! simple: a file is larger than it could be, but made in a moment.

use image_webp::{ColorType, WebPEncoder};

use super::growing::Growing;
use super::{Format, Imprint, exif, xmp};
use crate::color::srgb_profile::srgb_profile;
use crate::error::{Result, reserved};

/// Writes a WebP. The format's encoder wants the whole picture, so rows are gathered until the end; then the picture is held twice, and
/// the file beside it. The same rows give the same bytes on every machine, however they are handed over.
pub struct WebpWriter {
    width: u32,
    height: u32,
    imprint: Imprint,
    /// The rows so far.
    samples: Vec<u8>,
    /// Bytes still to come.
    missing: usize,
}

impl WebpWriter {
    /// Begins a picture of `width` by `height` RGBA pixels, up to 16383 along a side; `bits` a channel can be 8 only.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) for another depth, an empty picture or a text that no file can hold, [`Kind::Limit`](crate::error::Kind::Limit) for a picture beyond
    /// the format, or when there is no memory.
    pub fn new(width: usize, height: usize, bits: u8, imprint: &Imprint) -> Result<Self> {
        let missing = Format::Webp.samples(width, height, bits)?;
        imprint.check()?;
        let samples = reserved(missing, "the pixels of the WebP")?;
        Ok(Self { width: width as u32, height: height as u32, imprint: imprint.clone(), samples, missing })
    }

    /// Takes the next rows, or any part of them: RGBA samples from the top left.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) when more comes than the picture holds.
    pub fn write_rows(&mut self, bytes: &[u8]) -> Result<()> {
        self.missing = Format::Webp.take(self.missing, bytes.len())?;
        self.samples.extend_from_slice(bytes);
        Ok(())
    }

    /// The file.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) when rows are missing, [`Kind::Limit`](crate::error::Kind::Limit) when there is no memory.
    pub fn finish(self) -> Result<Vec<u8>> {
        Format::Webp.end(self.missing)?;
        // The encoder copies the picture and packs the copy into what grows by doubling, and where it finds no memory for that it ends
        // the program. So it is asked for here first, and given back.
        drop(reserved::<u8>(self.samples.len().saturating_mul(3), "packing the WebP")?);
        let mut file = Growing::default();
        let mut encoder = WebPEncoder::new(&mut file);
        if self.imprint.profile {
            encoder.set_icc_profile(srgb_profile());
        }
        if self.imprint.ppi.is_some() || self.imprint.has_text() {
            encoder.set_exif_metadata(exif::block(&self.imprint)?);
        }
        if let Some(packet) = xmp::packet(&self.imprint) {
            encoder.set_xmp_metadata(packet.into_bytes());
        }
        encoder.encode(&self.samples, self.width, self.height, ColorType::Rgba8).map_err(|e| Format::Webp.failed(&e))?;
        Ok(file.0)
    }
}
