//! What is refused before memory is asked for.

use crate::error::{Error, Kind, Result};

/// The largest picture that is read, in pixels. An A3 sheet at 800 ppi and an A4 sheet at 1200 ppi stay below it; at
/// 16 bits a channel it takes 1.2 GB, which leaves a 32-bit address space room for the work on it.
pub const MAX_PIXELS: u64 = 200_000_000;

/// The largest row or tile column of intermediate data, in bytes: far above any real one.
pub(super) const MAX_ROW: u64 = 64 << 20;

/// What a PDF may unpack to beside its pictures, in bytes: tables of objects, and what is drawn on its pages. A thousand pages of
/// scans with the words that were read off them stay far below.
pub(super) const MAX_TABLES: u64 = 64 << 20;

/// The most bytes that so many packed ones can hold: no code of RFC 1951 stands for more than 258 bytes, and it takes a bit to name it
/// and another one for the distance.
pub(super) fn unpacked(packed: usize) -> u64 {
    packed as u64 * (258 * 8 / 2)
}

/// The most pixels that a JPEG of so many bytes can hold: every block of 8 x 8 samples of a channel takes a bit at least (ITU-T T.81,
/// annex F: no code is shorter), and the finest channel has a sample for every four pixels at least.
pub(super) fn coded(bytes: usize) -> u64 {
    bytes as u64 * (8 * 64 * 4)
}

/// The number of pixels, where the picture is small enough.
///
/// # Errors
/// [`Kind::Malformed`] for an empty picture, [`Kind::Limit`] for one above [`MAX_PIXELS`].
pub(super) fn pixels(width: u64, height: u64) -> Result<usize> {
    if width == 0 || height == 0 {
        return Err(Error::new(
            Kind::Malformed,
            format!("This file holds an empty picture ({width} x {height} pixels). Scan again."),
        ));
    }
    let pixels = width.saturating_mul(height);
    if pixels > MAX_PIXELS {
        return Err(Error::new(
            Kind::Limit,
            format!(
                "This picture is too large: {width} x {height} pixels are {} megapixels, and {} can be worked on. \
                 Scan at a lower resolution, or in parts.",
                pixels / 1_000_000,
                MAX_PIXELS / 1_000_000
            ),
        ));
    }
    // Below MAX_PIXELS it fits any address space.
    Ok(pixels as usize)
}
