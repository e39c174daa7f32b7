//! How the strips and tiles of a TIFF are coded, and their bytes one after the other.

use std::io::{Cursor, Error as IoError, ErrorKind, Read, Result as IoResult};

use hayro_ccitt::{DecodeSettings, Decoder, DecoderContext, EncodingMode};
use weezl::{BitOrder, LzwStatus, decode::Decoder as LzwDecoder};

use crate::decode::{Format, cut_off, damaged, jpeg};
use crate::error::{Result, zeroed};

/// The bytes of a strip or tile, unpacked.
pub(super) type Bytes<'a> = Box<dyn Read + 'a>;

/// How the bytes are packed.
pub(super) enum Coding {
    None,
    Lzw,
    Deflate,
    PackBits,
    /// One bit a pixel: ITU-T T.4 and T.6.
    Fax {
        mode: EncodingMode,
        /// Every row begins with a byte.
        aligned: bool,
        /// Rows end with a mark.
        marked: bool,
    },
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
            Self::Lzw => Box::new(Lzw { decoder: LzwDecoder::with_tiff_size_switch(BitOrder::Msb, 8), packed }),
            Self::Deflate => Box::new(flate2::bufread::ZlibDecoder::new(packed)),
            Self::PackBits => Box::new(PackBits { packed, run: Run::None }),
            Self::Fax { mode, aligned, marked } => {
                let settings = DecodeSettings {
                    columns: shape.wide as u32,
                    rows: shape.high as u32,
                    end_of_block: true,
                    end_of_line: *marked,
                    rows_are_byte_aligned: *aligned,
                    encoding: *mode,
                    strict: false,
                };
                let row = shape.wide.div_ceil(8);
                let mut bits = Bits { rows: zeroed(row.saturating_mul(shape.high), "a strip of the scan")?, row, next: 0 };
                let decoded = hayro_ccitt::decode(packed, &mut bits, &mut DecoderContext::new(settings));
                if bits.next < shape.high {
                    return Err(decoded.err().map_or_else(|| cut_off(Format::Tiff), |why| damaged(Format::Tiff, &why)));
                }
                Box::new(Cursor::new(bits.rows))
            }
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

/// Bytes packed by LZW.
struct Lzw<'a> {
    decoder: LzwDecoder,
    packed: &'a [u8],
}

impl Read for Lzw<'_> {
    fn read(&mut self, out: &mut [u8]) -> IoResult<usize> {
        loop {
            let step = self.decoder.decode_bytes(self.packed, out);
            self.packed = &self.packed[step.consumed_in..];
            match step.status {
                Err(why) => return Err(IoError::new(ErrorKind::InvalidData, why)),
                Ok(LzwStatus::Done | LzwStatus::NoProgress) => return Ok(step.consumed_out),
                Ok(LzwStatus::Ok) if step.consumed_out > 0 || out.is_empty() => return Ok(step.consumed_out),
                Ok(LzwStatus::Ok) if self.packed.is_empty() && step.consumed_in == 0 => return Ok(0),
                Ok(LzwStatus::Ok) => {}
            }
        }
    }
}

/// Bytes packed by PackBits: TIFF 6.0, section 9.
struct PackBits<'a> {
    packed: &'a [u8],
    run: Run,
}

enum Run {
    None,
    /// So many bytes as they are.
    Copied(usize),
    /// One byte so many times.
    Repeated(u8, usize),
}

impl Read for PackBits<'_> {
    fn read(&mut self, out: &mut [u8]) -> IoResult<usize> {
        while let Run::None = self.run {
            let Some((&head, rest)) = self.packed.split_first() else { return Ok(0) };
            self.packed = rest;
            match head {
                0..128 => self.run = Run::Copied(usize::from(head) + 1),
                128 => {}
                129.. => {
                    let Some((&byte, rest)) = self.packed.split_first() else { return Ok(0) };
                    self.packed = rest;
                    self.run = Run::Repeated(byte, 257 - usize::from(head));
                }
            }
        }
        let (count, left) = match self.run {
            Run::None => (0, 0),
            Run::Copied(left) => {
                let count = left.min(out.len()).min(self.packed.len());
                out[..count].copy_from_slice(&self.packed[..count]);
                self.packed = &self.packed[count..];
                (count, left)
            }
            Run::Repeated(byte, left) => {
                let count = left.min(out.len());
                out[..count].fill(byte);
                (count, left)
            }
        };
        self.run = match (left - count, &self.run) {
            (0, _) | (_, Run::None) => Run::None,
            (left, Run::Copied(_)) => Run::Copied(left),
            (left, Run::Repeated(byte, _)) => Run::Repeated(*byte, left),
        };
        Ok(count)
    }
}

/// Rows of one bit a pixel, 1 where the fax is black.
struct Bits {
    rows: Vec<u8>,
    /// Bytes in a row.
    row: usize,
    next: usize,
}

impl Decoder for Bits {
    fn push_row(&mut self, changes: &[u32]) {
        let Some(row) = self.rows.chunks_exact_mut(self.row).nth(self.next) else { return };
        for black in changes.chunks(2) {
            let from = black[0] as usize;
            let to = black.get(1).map_or(self.row * 8, |to| *to as usize);
            (from..to).for_each(|x| row[x / 8] |= 0x80 >> (x % 8));
        }
        self.next += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example of TIFF 6.0, section 9.
    #[test]
    fn packed_bits() {
        let packed = [0xFE, 0xAA, 0x02, 0x80, 0x00, 0x2A, 0xFD, 0xAA, 0x03, 0x80, 0x00, 0x2A, 0x22, 0xF7, 0xAA];
        let mut out = Vec::new();
        PackBits { packed: &packed, run: Run::None }.read_to_end(&mut out).unwrap();
        let head = [0xAA, 0xAA, 0xAA, 0x80, 0x00, 0x2A, 0xAA, 0xAA, 0xAA, 0xAA, 0x80, 0x00, 0x2A, 0x22];
        assert_eq!(out, [&head[..], &[0xAA; 10]].concat());
    }
}
