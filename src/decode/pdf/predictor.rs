//! Rows that were stored as differences: ISO 32000-1, 7.4.4.4.

use std::io::{Read, Result as IoResult};

use hayro_syntax::object::Dict;

use super::broken;
use crate::decode::limits;
use crate::decode::packed::Bytes;
use crate::error::Result;

/// What the rows are differences of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Predictor {
    way: Way,
    /// Channels of a pixel.
    channels: usize,
    /// Bits of a channel: 1, 2, 4, 8 or 16.
    bits: usize,
    /// Bytes of a row.
    row: usize,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    /// To the pixel before: TIFF 6.0, section 14.
    Before,
    /// As every row says: PNG, third edition, 9.
    PerRow,
}

impl Predictor {
    /// As the parameters of a filter have it; `None` where nothing is to be undone.
    ///
    /// # Errors
    /// For rows that cannot be.
    pub(super) fn of(parameters: &Dict<'_>) -> Result<Option<Self>> {
        let number = |key: &str, default: u32| parameters.get::<u32>(key).unwrap_or(default) as usize;
        let way = match number("Predictor", 1) {
            2 => Way::Before,
            10..=15 => Way::PerRow,
            _ => return Ok(None),
        };
        let (channels, bits, columns) = (number("Colors", 1), number("BitsPerComponent", 8), number("Columns", 1));
        let row = (channels as u64).saturating_mul(bits as u64).saturating_mul(columns as u64).div_ceil(8);
        if !matches!(bits, 1 | 2 | 4 | 8 | 16) || row == 0 || row > limits::MAX_ROW || channels > 32 {
            return Err(broken("the differences of its rows are of an impossible size"));
        }
        Ok(Some(Self { way, channels, bits, row: row as usize }))
    }

    /// The rows themselves.
    pub(super) fn undo(self, source: Bytes<'_>) -> Bytes<'_> {
        let empty = vec![0; self.row];
        Box::new(Undone { predictor: self, source, above: empty.clone(), row: empty, taken: self.row })
    }
}

struct Undone<'a> {
    predictor: Predictor,
    source: Bytes<'a>,
    above: Vec<u8>,
    row: Vec<u8>,
    /// How much of the row was handed out.
    taken: usize,
}

impl Read for Undone<'_> {
    fn read(&mut self, out: &mut [u8]) -> IoResult<usize> {
        if self.taken == self.row.len() && !out.is_empty() {
            self.next_row()?;
            self.taken = 0;
        }
        let count = out.len().min(self.row.len() - self.taken);
        out[..count].copy_from_slice(&self.row[self.taken..][..count]);
        self.taken += count;
        Ok(count)
    }
}

impl Undone<'_> {
    fn next_row(&mut self) -> IoResult<()> {
        let Predictor { way, channels, bits, .. } = self.predictor;
        std::mem::swap(&mut self.above, &mut self.row);
        match way {
            Way::Before => {
                self.source.read_exact(&mut self.row)?;
                add_up(&mut self.row, channels, bits);
            }
            Way::PerRow => {
                let mut tag = [0];
                self.source.read_exact(&mut tag)?;
                self.source.read_exact(&mut self.row)?;
                unfilter(tag[0], (channels * bits).div_ceil(8), &self.above, &mut self.row);
            }
        }
        Ok(())
    }
}

/// Adds to every sample the one of the same channel before it.
fn add_up(row: &mut [u8], channels: usize, bits: usize) {
    match bits {
        8 => (channels..row.len()).for_each(|i| row[i] = row[i].wrapping_add(row[i - channels])),
        16 => {
            let words = row.as_chunks_mut::<2>().0;
            for i in channels..words.len() {
                let sum = u16::from_be_bytes(words[i]).wrapping_add(u16::from_be_bytes(words[i - channels]));
                words[i] = sum.to_be_bytes();
            }
        }
        _ => {
            let (each, most) = (8 / bits, (1_u8 << bits) - 1);
            let shift = |i: usize| 8 - bits * (i % each + 1);
            for i in channels..row.len() * each {
                let before = row[(i - channels) / each] >> shift(i - channels) & most;
                let own = row[i / each] >> shift(i) & most;
                let sum = before.wrapping_add(own) & most;
                row[i / each] = row[i / each] & !(most << shift(i)) | sum << shift(i);
            }
        }
    }
}

/// Takes one of the five filters of PNG back; `apart` bytes lie between a byte and the one it is told from.
fn unfilter(tag: u8, apart: usize, above: &[u8], row: &mut [u8]) {
    for i in 0..row.len() {
        let (left, corner) = if i < apart { (0, 0) } else { (row[i - apart], above[i - apart]) };
        let told = match tag {
            1 => left,
            2 => above[i],
            3 => (u16::from(left).midpoint(u16::from(above[i]))) as u8,
            4 => paeth(left, above[i], corner),
            _ => return,
        };
        row[i] = row[i].wrapping_add(told);
    }
}

/// Of three neighbors the one nearest to left + above - corner: Paeth's predictor, PNG 9.4.
fn paeth(left: u8, above: u8, corner: u8) -> u8 {
    let [a, b, c] = [left, above, corner].map(i16::from);
    let guess = a + b - c;
    let [da, db, dc] = [a, b, c].map(|v| (guess - v).abs());
    if da <= db && da <= dc {
        left
    } else if db <= dc {
        above
    } else {
        corner
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    fn undone(way: Way, channels: usize, bits: usize, row: usize, stored: &[u8]) -> Vec<u8> {
        let mut out = Vec::new();
        let mut rows = Predictor { way, channels, bits, row }.undo(Box::new(Cursor::new(stored.to_vec())));
        // The end of the rows is told by an error that nothing is left.
        let _ = rows.read_to_end(&mut out);
        out
    }

    /// Worked by hand after the formulas of PNG, third edition, table 9.1: rows of three bytes, every filter once.
    #[test]
    fn filters_of_png() {
        let stored = [0, 10, 20, 30, 1, 1, 1, 1, 2, 1, 1, 1, 3, 1, 1, 1, 4, 1, 1, 1];
        let rows = undone(Way::PerRow, 1, 8, 3, &stored);
        // None; 1, 1+1, 1+2; each above + 1; 1+(0+2)/2, 1+(2+3)/2, 1+(3+4)/2; by Paeth: above of 0, 2, 0 is nearest thrice.
        assert_eq!(rows, [10, 20, 30, 1, 2, 3, 2, 3, 4, 2, 3, 4, 3, 4, 5]);
    }

    /// The branches of PNG 9.4: ties go to left, then above.
    #[test]
    fn nearest_neighbor() {
        assert_eq!([paeth(10, 20, 10), paeth(20, 10, 10), paeth(10, 20, 15), paeth(5, 5, 5)], [20, 20, 15, 5]);
    }

    /// TIFF 6.0, section 14, for samples of 2, 8 and 16 bits.
    #[test]
    fn differences() {
        assert_eq!(undone(Way::Before, 3, 8, 6, &[10, 20, 30, 1, 2, 255]), [10, 20, 30, 11, 22, 29]);
        assert_eq!(undone(Way::Before, 1, 16, 4, &[0x00, 0xFF, 0x00, 0x02]), [0x00, 0xFF, 0x01, 0x01]);
        // 1, 1, 3, 1: sums 1, 2, 5 - 4, 2.
        assert_eq!(undone(Way::Before, 1, 2, 1, &[0b0101_1101]), [0b0110_0110]);
    }
}
