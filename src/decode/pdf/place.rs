//! How a picture lies on its page: how large, which way up, and whether strips make up one picture.

use hayro_syntax::page::{Page, Rotation};

use super::content::Matrix;
use super::picture::Picture;
use super::unsupported;
use crate::error::{Result, Warning};
use crate::geometry::orient::Orientation;

/// PDF's unit of length is this part of an inch, where a page has no other: ISO 32000-1, 8.3.2.3.
const UNITS_PER_INCH: f64 = 72.0;
/// Lengths are written with two or three decimals; a resolution is taken as whole where that explains the rest, in units.
const ROUNDED: f64 = 0.015;
/// Strips meet where less than this many of their rows lie between.
const GAP: f64 = 0.6;
/// A turn less than this is of no account: the sine of a tenth of a degree, a row in six hundred.
const STRAIGHT: f64 = 0.001_75;

/// How a picture lies.
#[derive(Debug)]
pub(super) struct Place {
    pub(super) orientation: Orientation,
    /// Pixels per inch across and down, as stored; not known where the page states an impossible size.
    pub(super) density: Option<(f64, f64)>,
    /// Whether it is turned by less than a quarter.
    slanted: bool,
}

impl Place {
    /// What the painter should know of it.
    pub(super) fn remark(&self) -> Option<Warning> {
        self.slanted.then(|| {
            Warning::new(
                "slanted",
                "The PDF lays its picture on the page at a slant; the scan is read straight, as it is stored.",
            )
        })
    }

    /// The matrix puts the picture of `width` by `height` pixels on a page that is shown turned by `rotation`.
    fn of([a, b, c, d]: [f64; 4], rotation: Rotation, units_per_inch: f64, [width, height]: [usize; 2]) -> Self {
        // The way along a stored row, and from the first stored row to the last; down is positive on a screen, negative on a page.
        let turned = |[x, y]: [f64; 2]| match rotation {
            Rotation::None => [x, -y],
            Rotation::Horizontal => [y, x],
            Rotation::Flipped => [-x, y],
            Rotation::FlippedHorizontal => [-y, -x],
        };
        let (along, down) = (turned([a, b]), turned([-c, -d]));
        let upright = along[0].abs() + down[1].abs() >= along[1].abs() + down[0].abs();
        let orientation = if upright {
            match (along[0] >= 0.0, down[1] >= 0.0) {
                (true, true) => Orientation::Upright,
                (false, true) => Orientation::Mirrored,
                (false, false) => Orientation::HalfTurn,
                (true, false) => Orientation::Flipped,
            }
        } else {
            match (along[1] >= 0.0, down[0] >= 0.0) {
                (true, true) => Orientation::Transposed,
                (true, false) => Orientation::QuarterTurn,
                (false, false) => Orientation::Transversed,
                (false, true) => Orientation::QuarterTurnBack,
            }
        };
        let (across, high) = (length([a, b]), length([c, d]));
        let aside = if upright { along[1].abs().max(down[0].abs()) } else { along[0].abs().max(down[1].abs()) };
        let across_ppi = per_inch(width, across, units_per_inch);
        let density = across_ppi.zip(per_inch(height, high, units_per_inch));
        Self { orientation, density, slanted: aside > STRAIGHT * across.max(high) }
    }
}

fn length([x, y]: [f64; 2]) -> f64 {
    (x * x + y * y).sqrt()
}

/// Pixels an inch of so many in a length.
fn per_inch(pixels: usize, length: f64, units_per_inch: f64) -> Option<f64> {
    let pixels = pixels as f64 * units_per_inch;
    let ppi = pixels / length;
    let whole = ppi.round();
    let ppi = if (pixels / whole - length).abs() <= ROUNDED { whole } else { ppi };
    ppi.is_finite().then_some(ppi)
}

/// The pictures of a page in the order of their rows, where they are one picture or strips of one, and how that lies.
///
/// # Errors
/// Where they are something else.
pub(super) fn joined<'a>(page: &Page<'a>, mut parts: Vec<(Picture<'a>, Matrix)>) -> Result<(Place, Vec<Picture<'a>>)> {
    let layered = || {
        unsupported(
            "lays several pictures over each other or beside each other on the page, as software of scanners does to save room; \
             there is no whole scan in it",
        )
    };
    let unit = page.raw().get::<f32>("UserUnit").map_or(1.0, f64::from);
    let units_per_inch = UNITS_PER_INCH / if unit > 0.0 { unit } else { 1.0 };
    let Some((first, matrix)) = parts.first() else { return Err(layered()) };
    let [a, b, c, d, ..] = *matrix;
    // The ways of a column and of a row on the page, and how long they are.
    let column = [a, b].map(|v| v / first.width as f64);
    let row = [c, d].map(|v| v / first.height as f64);
    let (wide, high) = (length(column), length(row));
    if parts.len() > 1 {
        // Where a strip begins: its first row, and how far aside.
        let top = |m: &Matrix| -((m[4] + m[2]) * row[0] + (m[5] + m[3]) * row[1]) / (high * high);
        let aside = |m: &Matrix| (m[4] * column[0] + m[5] * column[1]) / (wide * wide);
        parts.sort_by(|(_, one), (_, other)| top(one).total_cmp(&top(other)));
        let (left, mut next) = (aside(&parts[0].1), top(&parts[0].1));
        for (part, own) in &parts {
            let expected = [a, b, row[0] * part.height as f64, row[1] * part.height as f64];
            let same_size = (0..4).all(|i| (own[i] - expected[i]).abs() <= GAP * if i < 2 { wide } else { high });
            let meets = (top(own) - next).abs() <= GAP && (aside(own) - left).abs() <= GAP;
            if !(same_size && meets && part.is_like(&parts[0].0)) {
                return Err(layered());
            }
            next = top(own) + part.height as f64;
        }
    }
    let (width, height) = (parts[0].0.width, parts.iter().fold(0, |sum: usize, (part, _)| sum.saturating_add(part.height)));
    let whole = [a, b, row[0] * height as f64, row[1] * height as f64];
    let place = Place::of(whole, page.rotation(), units_per_inch, [width, height]);
    Ok((place, parts.into_iter().map(|(part, _)| part).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture of 300 by 600 pixels on one inch by two, laid and turned in all ways. By 8.3.3 the unit square's (1, 0) is the right
    /// end of the lowest row and (0, 1) the left end of the highest; by table 30 a page is turned clockwise when shown.
    #[test]
    fn ways_to_lie() {
        use Orientation::*;
        let (upright, mirrored) = ([72.0, 0.0, 0.0, 144.0], [-72.0, 0.0, 0.0, 144.0]);
        // Counterclockwise by a quarter: its right is up on the page.
        let (quarter_back, quarter) = ([0.0, 72.0, -144.0, 0.0], [0.0, -72.0, 144.0, 0.0]);
        for (matrix, rotation, expected) in [
            (upright, Rotation::None, Upright),
            (mirrored, Rotation::None, Mirrored),
            ([-72.0, 0.0, 0.0, -144.0], Rotation::None, HalfTurn),
            ([72.0, 0.0, 0.0, -144.0], Rotation::None, Flipped),
            (quarter_back, Rotation::None, QuarterTurnBack),
            (quarter, Rotation::None, QuarterTurn),
            ([0.0, -72.0, -144.0, 0.0], Rotation::None, Transposed),
            ([0.0, 72.0, 144.0, 0.0], Rotation::None, Transversed),
            (upright, Rotation::Horizontal, QuarterTurn),
            (upright, Rotation::Flipped, HalfTurn),
            (upright, Rotation::FlippedHorizontal, QuarterTurnBack),
            (quarter_back, Rotation::Horizontal, Upright),
            (quarter, Rotation::FlippedHorizontal, Upright),
        ] {
            let place = Place::of(matrix, rotation, 72.0, [300, 600]);
            assert_eq!((place.orientation, place.density, place.slanted), (expected, Some((300.0, 300.0)), false), "{matrix:?}");
        }
        // A unit of the page twice as large (table 30): the picture is twice as wide.
        assert_eq!(Place::of(upright, Rotation::None, 36.0, [300, 600]).density, Some((150.0, 150.0)));
        // Written as 595.2 for 2480 pixels at 300 ppi, or not so.
        assert_eq!(per_inch(2480, 595.2, 72.0), Some(300.0));
        assert_eq!(per_inch(2480, 595.19, 72.0), Some(300.0));
        assert!(per_inch(2480, 595.0, 72.0).is_some_and(|ppi| (ppi - 300.1).abs() < 0.01));
        assert_eq!(per_inch(2480, 0.0, 72.0), None);
    }

    #[test]
    fn a_slant_is_told() {
        let (along, aside) = (71.9, 3.77);
        let place = Place::of([along, aside, -2.0 * aside, 2.0 * along], Rotation::None, 72.0, [300, 600]);
        assert!(place.slanted && place.orientation == Orientation::Upright);
        assert!(place.density.is_some_and(|(across, down)| (across - 300.0).abs() < 0.2 && (down - 300.0).abs() < 0.2));
    }
}
