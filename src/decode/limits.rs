//! What is refused before memory is asked for.

use crate::error::{Error, Kind, Result};

/// The largest picture that is read, in pixels, of 8 bits a channel. A module in a browser has 4 GB, and the work on a picture of rendered
/// paint takes about 22 bytes a pixel.
pub const MAX_PIXELS: u64 = 170_000_000;

/// The same of 16 bits a channel, which takes about 27 bytes a pixel. An A3 sheet at 800 ppi and an A4 sheet at 1200 ppi stay below it.
pub(super) const MAX_DEEP_PIXELS: u64 = 150_000_000;

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
    within(width, height, MAX_PIXELS, "")?;
    // Below MAX_PIXELS it fits any address space.
    Ok((width * height) as usize)
}

/// Refuses a picture of 16 bits a channel that is larger than [`MAX_DEEP_PIXELS`].
///
/// # Errors
/// [`Kind::Limit`].
pub(super) fn deep(width: usize, height: usize) -> Result<()> {
    within(width as u64, height as u64, MAX_DEEP_PIXELS, " with 16 bits a channel")
}

fn within(width: u64, height: u64, most: u64, depth: &str) -> Result<()> {
    let pixels = width.saturating_mul(height);
    if pixels <= most {
        return Ok(());
    }
    // Rounded down, so that what is said to work does.
    let share = (((most as f64 / pixels as f64).sqrt() * 100.0) as u64).max(1);
    let shallow = if depth.is_empty() { "" } else { "with 8 bits, " };
    Err(Error::new(
        Kind::Limit,
        format!(
            "This picture is too large: {width} x {height} pixels are {} megapixels, and {} can be worked on{depth}. \
             Scan at {share} % of this resolution or less, {shallow}or in parts.",
            pixels / 1_000_000,
            most / 1_000_000
        ),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is said to work works, and is not much less than what does.
    #[test]
    fn the_size_that_works_is_told() {
        assert_eq!(pixels(13_000, 13_000), Ok(169_000_000));
        assert_eq!(deep(9921, 14_031), Ok(()));
        for (why, most) in [
            (pixels(20_000, 28_000).expect_err("too large"), MAX_PIXELS),
            (deep(20_000, 28_000).expect_err("too deep"), MAX_DEEP_PIXELS),
        ] {
            assert_eq!(why.kind(), Kind::Limit);
            let (_, rest) = why.message().split_once("Scan at ").expect("what to do");
            let share: u64 = rest.split(' ').next().and_then(|share| share.parse().ok()).expect("a number");
            let scanned = |share: u64| (20_000 * share / 100) * (28_000 * share / 100);
            assert!(scanned(share) <= most && scanned(share + 1) > most, "{why}");
        }
        assert!(deep(20_000, 28_000).expect_err("too deep").message().contains("with 8 bits"));
    }
}
