//! How the strips and tiles of a TIFF are coded, and their bytes one after the other.

use std::io::Cursor;

use crate::decode::packed::{Bytes, Fax, deflated, lzw, packed_bits};
use crate::decode::{Format, damaged, jpeg};
use crate::error::Result;

/// How the bytes are packed.
pub(super) enum Coding {
    None,
    Lzw,
    Deflate,
    PackBits,
    /// One bit a pixel.
    Fax(Fax),
    /// Whole pictures, which may have their tables in common.
    Jpeg(Option<Vec<u8>>),
}

/// The shape of a strip or tile as it is coded.
#[derive(Clone, Copy)]
pub(super) struct Shape {
    pub(super) wide: usize,
    pub(super) high: usize,
    /// Channels side by side.
    pub(super) channels: usize,
}

impl Coding {
    /// The bytes of a strip or tile that is stored as `packed`.
    pub(super) fn unpack<'a>(&self, packed: &'a [u8], shape: Shape) -> Result<Bytes<'a>> {
        Ok(match self {
            Self::None => Box::new(packed),
            Self::Lzw => lzw(packed, true),
            Self::Deflate => deflated(packed),
            Self::PackBits => packed_bits(packed),
            Self::Fax(fax) => Box::new(Cursor::new(fax.unpack(packed, shape.wide, shape.high, Format::Tiff)?)),
            Self::Jpeg(tables) => {
                let whole = tables.as_deref().map(|tables| joined(tables, packed));
                let picture = jpeg::stored(whole.as_deref().unwrap_or(packed), [shape.wide, shape.high])?;
                if picture.channels != shape.channels || picture.width != shape.wide {
                    return Err(damaged(Format::Tiff, &"a strip or tile is of another shape than the TIFF says"));
                }
                Box::new(Cursor::new(picture.samples))
            }
        })
    }
}

/// A picture and the tables that were taken out of it: both begin and end with marks of their own (TIFF Technical Note 2, 1995).
fn joined(tables: &[u8], packed: &[u8]) -> Vec<u8> {
    let tables = tables.strip_suffix(&[0xFF, 0xD9]).unwrap_or(tables);
    [tables, packed.strip_prefix(&[0xFF, 0xD8]).unwrap_or(packed)].concat()
}
