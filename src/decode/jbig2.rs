//! JBIG2 (ITU-T T.88) as a PDF holds it: ISO 32000-1, 7.4.7. Black and white only. The `hayro-jbig2` crate decodes it, the whole picture
//! at once.

use hayro_jbig2::{DecodeSettings, Decoder, Globals, Page};

use super::{Format, damaged};
use crate::error::{Result, zeroed};

/// All rows of a picture of `wide` by `high` pixels, each in whole bytes, 1 where it is black. `shared` holds what several pictures of
/// the file have in common.
///
/// # Errors
/// For damage, another size, or want of memory.
pub(super) fn unpack(packed: &[u8], shared: Option<&[u8]>, wide: usize, high: usize) -> Result<Vec<u8>> {
    let settings = DecodeSettings::default();
    let shared = shared.map(|bytes| Globals::new(bytes, &settings)).transpose().map_err(|why| broken(&why))?;
    let page = Page::new_embedded(packed, shared.as_ref(), &settings).map_err(|why| broken(&why))?;
    if [page.width() as usize, page.height() as usize] != [wide, high] {
        return Err(broken(&format!("it is of another size, {} x {}", page.width(), page.height())));
    }
    let row = wide.div_ceil(8);
    let mut bits = Bits { rows: zeroed(row.saturating_mul(high), "the scan")?, row, at: 0, line: 0 };
    page.decode(&mut bits).map_err(|why| broken(&why))?;
    Ok(bits.rows)
}

fn broken(why: &dyn std::fmt::Display) -> crate::error::Error {
    damaged(Format::Pdf, &format!("its JBIG2: {why}"))
}

/// Rows of one bit a pixel, 1 where it is black.
struct Bits {
    rows: Vec<u8>,
    /// Bytes in a row.
    row: usize,
    /// Pixels before the next, and rows above it.
    at: usize,
    line: usize,
}

impl Decoder for Bits {
    fn push_pixel(&mut self, black: bool) {
        if let Some(byte) = self.rows.get_mut(self.line * self.row + self.at / 8) {
            *byte |= u8::from(black) << (7 - self.at % 8);
        }
        self.at += 1;
    }

    fn push_pixel_chunk(&mut self, black: bool, chunk_count: u32) {
        let from = self.line * self.row + self.at / 8;
        if black && let Some(bytes) = self.rows.get_mut(from..from + chunk_count as usize) {
            bytes.fill(0xFF);
        }
        self.at += chunk_count as usize * 8;
    }

    fn next_line(&mut self) {
        (self.at, self.line) = (0, self.line + 1);
    }
}
