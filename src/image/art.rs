//! The lifted painting.

use crate::units::Ppi;

/// Straight-alpha RGBA in encoded sRGB, rows packed, at scan resolution.
///
/// Color is kept wherever alpha is above zero, however low; where alpha is zero the color is zero.
#[derive(Clone, Debug, PartialEq)]
pub struct Art {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Resolution, where known.
    pub ppi: Option<Ppi>,
    /// The pixels.
    pub pixels: Pixels,
}

/// RGBA samples of an [`Art`], 8 or 16 bits a channel.
#[derive(Clone, Debug, PartialEq)]
pub enum Pixels {
    /// 8 bits a channel.
    Eight(Vec<u8>),
    /// 16 bits a channel.
    Sixteen(Vec<u16>),
}
