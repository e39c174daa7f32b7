//! The formats that are written, and what fits into each.

use crate::error::{Error, Kind, Result};

/// A format that is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Format {
    /// PNG, 8 or 16 bits a channel.
    #[default]
    Png,
    /// TIFF, 8 or 16 bits a channel.
    Tiff,
    /// WebP without loss, 8 bits a channel.
    Webp,
}

impl Format {
    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Png => "PNG",
            Self::Tiff => "TIFF",
            Self::Webp => "WebP",
        }
    }

    /// Refuses a depth that it is not written with.
    ///
    /// # Errors
    /// [`Kind::Parameter`] for other than 8 or 16 bits a channel, in a WebP for other than 8.
    pub fn check_bits(self, bits: u8) -> Result<()> {
        let name = self.name();
        let message = match (self, bits) {
            (Self::Png | Self::Tiff, 8 | 16) | (Self::Webp, 8) => return Ok(()),
            (Self::Png | Self::Tiff, _) => format!("A {name} is saved with 8 or 16 bits a channel, not {bits}."),
            (Self::Webp, _) => format!("A {name} holds 8 bits a channel, not {bits}. Save it with 8 bits, or as PNG or TIFF."),
        };
        Err(Error::new(Kind::Parameter, message))
    }

    /// Pixels along a side, at most.
    fn longest(self) -> usize {
        match self {
            // 11.2.1 of its specification, third edition: 31 bits.
            Self::Png => i32::MAX as usize,
            // 32-bit numbers (TIFF 6.0, ImageWidth); as many as a PNG has are enough.
            Self::Tiff => i32::MAX as usize,
            // RFC 9649, 3.4, could store one more, which common readers refuse.
            Self::Webp => 16_383,
        }
    }

    /// Bytes of all samples of a picture of `width` by `height` pixels, if it can be written with so many bits a channel.
    ///
    /// # Errors
    /// [`Kind::Parameter`] for another depth or an empty picture, [`Kind::Limit`] for one beyond the format.
    pub fn samples(self, width: usize, height: usize, bits: u8) -> Result<usize> {
        let name = self.name();
        self.check_bits(bits)?;
        if width == 0 || height == 0 {
            return Err(Error::new(Kind::Parameter, format!("There is no picture to save: it is {width} x {height} pixels.")));
        }
        let bytes = width.checked_mul(height).and_then(|n| n.checked_mul(usize::from(bits) / 2));
        bytes.filter(|_| width.max(height) <= self.longest()).ok_or_else(|| {
            let next = match self {
                Self::Png | Self::Tiff => "Trim the sheet, or scan at a lower resolution.",
                Self::Webp => "It holds 16383 pixels along a side. Save the painting as PNG or TIFF, or trim the sheet.",
            };
            Error::new(Kind::Limit, format!("{width} x {height} pixels do not fit into a {name}. {next}"))
        })
    }

    /// What is still missing after `more` bytes.
    ///
    /// # Errors
    /// [`Kind::Parameter`] when more comes than the picture holds.
    pub(super) fn take(self, missing: usize, more: usize) -> Result<usize> {
        let name = self.name();
        let left = missing.checked_sub(more);
        left.ok_or_else(|| Error::new(Kind::Parameter, format!("{} bytes too many for this {name}.", more - missing)))
    }

    /// Refuses to end a picture of which bytes are missing.
    ///
    /// # Errors
    /// [`Kind::Parameter`] when they are.
    pub(super) fn end(self, missing: usize) -> Result<()> {
        let name = self.name();
        if missing > 0 {
            return Err(Error::new(Kind::Parameter, format!("{missing} bytes are missing from this {name}.")));
        }
        Ok(())
    }

    /// What a library or the memory would not do.
    pub(super) fn failed(self, why: &dyn std::fmt::Display) -> Error {
        let name = self.name();
        Error::new(Kind::Limit, format!("The {name} could not be written ({why}). Close other programs and save again."))
    }
}
