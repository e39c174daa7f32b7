//! Turning a picture upright, by the eight orientations that TIFF 6.0 (tag 274) and EXIF share.

use crate::error::{Result, zeroed};

/// How the stored rows lie in the upright picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Orientation {
    /// 1: as stored.
    Upright,
    /// 2: left and right exchanged.
    Mirrored,
    /// 3: upside down.
    HalfTurn,
    /// 4: top and bottom exchanged.
    Flipped,
    /// 5: rows and columns exchanged.
    Transposed,
    /// 6: to be turned a quarter clockwise.
    QuarterTurn,
    /// 7: rows and columns exchanged, and turned by half.
    Transversed,
    /// 8: to be turned a quarter counterclockwise.
    QuarterTurnBack,
}

impl Orientation {
    /// From the number that files hold, 1 to 8; `None` for any other.
    #[must_use]
    pub fn from_number(number: u16) -> Option<Self> {
        Some(match number {
            1 => Self::Upright,
            2 => Self::Mirrored,
            3 => Self::HalfTurn,
            4 => Self::Flipped,
            5 => Self::Transposed,
            6 => Self::QuarterTurn,
            7 => Self::Transversed,
            8 => Self::QuarterTurnBack,
            _ => return None,
        })
    }

    /// Whether width and height change places.
    #[must_use]
    pub fn swaps_sides(self) -> bool {
        matches!(self, Self::Transposed | Self::QuarterTurn | Self::Transversed | Self::QuarterTurnBack)
    }
}

/// Side of the squares that a turned picture is copied in: a square of source and target fits the first-level cache.
const SQUARE: usize = 32;

/// The picture upright. `samples` are rows of `width` pixels of `N` samples each; the new width is the old height where
/// the sides change places. In place, without memory, where they do not.
///
/// # Errors
/// [`crate::error::Kind::Limit`] when there is no memory for the turned copy.
pub fn upright<const N: usize, S: Copy + Default>(
    mut samples: Vec<S>,
    width: usize,
    height: usize,
    orientation: Orientation,
) -> Result<Vec<S>> {
    debug_assert_eq!(samples.len(), N * width * height);
    if orientation.swaps_sides() {
        let mut out = zeroed::<S>(samples.len(), "turning the scan upright")?;
        turn(samples.as_chunks::<N>().0, out.as_chunks_mut::<N>().0, width, height, orientation);
        return Ok(out);
    }
    let pixels = samples.as_chunks_mut::<N>().0;
    match orientation {
        Orientation::Mirrored => pixels.chunks_exact_mut(width).for_each(<[[S; N]]>::reverse),
        Orientation::HalfTurn => pixels.reverse(),
        Orientation::Flipped => {
            for y in 0..height / 2 {
                let (above, below) = pixels.split_at_mut((height - 1 - y) * width);
                above[y * width..(y + 1) * width].swap_with_slice(&mut below[..width]);
            }
        }
        _ => {}
    }
    Ok(samples)
}

fn turn<P: Copy>(from: &[P], to: &mut [P], width: usize, height: usize, orientation: Orientation) {
    // The target row is the source column, from the left or from the right; likewise the other way.
    let from_right = matches!(orientation, Orientation::Transversed | Orientation::QuarterTurnBack);
    let from_bottom = matches!(orientation, Orientation::QuarterTurn | Orientation::Transversed);
    for top in (0..height).step_by(SQUARE) {
        for left in (0..width).step_by(SQUARE) {
            for x in left..(left + SQUARE).min(width) {
                let row = if from_right { width - 1 - x } else { x } * height;
                for y in top..(top + SQUARE).min(height) {
                    let column = if from_bottom { height - 1 - y } else { y };
                    to[row + column] = from[y * width + x];
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The stored rows of one upright picture in each of the eight orientations, by the wording of TIFF 6.0: what the
    /// zeroth row and the zeroth column of the file are in the picture.
    #[test]
    fn all_eight() {
        // Upright:  a b c
        //           d e f
        for (number, stored, width) in [
            (1, "abcdef", 3), // top, left
            (2, "cbafed", 3), // top, right
            (3, "fedcba", 3), // bottom, right
            (4, "defabc", 3), // bottom, left
            (5, "adbecf", 2), // left, top
            (6, "cfbead", 2), // right, top
            (7, "fcebda", 2), // right, bottom
            (8, "daebfc", 2), // left, bottom
        ] {
            let orientation = Orientation::from_number(number).expect("1 to 8");
            let pixels = upright::<1, _>(stored.as_bytes().to_vec(), width, 6 / width, orientation).expect("memory");
            assert_eq!(String::from_utf8_lossy(&pixels), "abcdef", "orientation {number}");
            assert_eq!(orientation.swaps_sides(), width == 2);
        }
        assert_eq!(Orientation::from_number(0), None);
        assert_eq!(Orientation::from_number(9), None);
    }

    /// Beyond one square, with ragged ends: a quarter turn and a quarter turn back give the picture again.
    #[test]
    fn there_and_back() {
        let (width, height) = (SQUARE * 2 + 5, SQUARE + 3);
        let picture: Vec<u32> = (0..(width * height) as u32).collect();
        for (there, back) in [
            (Orientation::QuarterTurn, Orientation::QuarterTurnBack),
            (Orientation::Transposed, Orientation::Transposed),
            (Orientation::Transversed, Orientation::Transversed),
        ] {
            let once = upright::<1, _>(picture.clone(), width, height, there).expect("memory");
            assert_ne!(once, picture);
            assert_eq!(upright::<1, _>(once, height, width, back).expect("memory"), picture);
        }
    }
}
