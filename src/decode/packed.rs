//! Bytes that were packed without loss, as several formats have them: LZW, deflate, runs, faxes.

use std::io::{Error as IoError, ErrorKind, Read, Result as IoResult};

use hayro_ccitt::{DecodeSettings, Decoder, DecoderContext, EncodingMode};
use weezl::{BitOrder, LzwStatus, decode::Decoder as LzwDecoder};

use super::{Format, cut_off, damaged};
use crate::error::{Result, zeroed};

/// Bytes, unpacked as they are read.
pub(super) type Bytes<'a> = Box<dyn Read + 'a>;

/// Bytes packed by LZW, the highest bits first. `early`: codes grow one code before they must, as in TIFF and nearly every PDF.
pub(super) fn lzw(packed: &[u8], early: bool) -> Bytes<'_> {
    let new = if early { LzwDecoder::with_tiff_size_switch } else { LzwDecoder::new };
    Box::new(Lzw { decoder: new(BitOrder::Msb, 8), packed })
}

/// Bytes packed by deflate, in the envelope of zlib.
pub(super) fn deflated(packed: &[u8]) -> Bytes<'_> {
    Box::new(flate2::bufread::ZlibDecoder::new(packed))
}

/// Bytes packed by PackBits: TIFF 6.0, section 9; PDF's runs are the same (ISO 32000-1, 7.4.5), but for a mark of the end, after which
/// nothing follows.
pub(super) fn packed_bits(packed: &[u8]) -> Bytes<'_> {
    Box::new(PackBits { packed, run: Run::None })
}

/// How a fax is coded, one bit a pixel: ITU-T T.4 and T.6.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fax {
    pub(super) way: Way,
    /// Every row begins with a byte.
    pub(super) aligned: bool,
    /// Rows end with a mark.
    pub(super) marked: bool,
    /// The picture may end with a mark, before its last row.
    pub(super) ends: bool,
}

/// What a row is told from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Way {
    /// Group 3: from nothing.
    Rows,
    /// Group 3: some rows from the one before.
    Mixed,
    /// Group 4: from the one before.
    Differences,
}

impl Fax {
    /// All rows, each in whole bytes, 1 where the fax is black.
    ///
    /// # Errors
    /// Where rows are missing or wrong, or there is no memory.
    pub(super) fn unpack(&self, packed: &[u8], wide: usize, high: usize, format: Format) -> Result<Vec<u8>> {
        let settings = DecodeSettings {
            columns: wide as u32,
            rows: high as u32,
            end_of_block: self.ends,
            end_of_line: self.marked,
            rows_are_byte_aligned: self.aligned,
            encoding: match self.way {
                Way::Rows => EncodingMode::Group3_1D,
                Way::Mixed => EncodingMode::Group3_2D,
                Way::Differences => EncodingMode::Group4,
            },
            strict: false,
        };
        let row = wide.div_ceil(8);
        let mut bits = Bits { rows: zeroed(row.saturating_mul(high), "a strip of the scan")?, row, next: 0 };
        let decoded = hayro_ccitt::decode(packed, &mut bits, &mut DecoderContext::new(settings));
        if bits.next < high {
            return Err(decoded.err().map_or_else(|| cut_off(format), |why| damaged(format, &why)));
        }
        Ok(bits.rows)
    }
}

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
