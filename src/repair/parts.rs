//! Loose parts: what lies apart from the painting, and whether it belongs to it.
//!
//! An anther, a drop of spatter or a root's tip belongs to the painting; a patch of toning, a caption's letter or a scrap of the
//! page's edge does not. How they differ was learned from labeled plates and from rendered scenes.

use super::marks::{Measured, Region, scale};
use super::piece::Piece;
use crate::color::math;
use crate::filter::Regions;
use crate::learned::parts;
use crate::units::{Mm, Ppi, Px, area_mm2};

/// How many features there are.
pub const COUNT: usize = 21;
/// Their names, in the order of a part's features.
pub const NAMES: [&str; COUNT] = [
    "area_mm2",
    "span_mm",
    "thick_mm",
    "fill",
    "slim",
    "strength",
    "broad",
    "peak",
    "peak_absorbed",
    "colorfulness",
    "red",
    "green",
    "blue",
    "likeness",
    "closeness",
    "margin_mm",
    "row",
    "crowd",
    "toned",
    "coded",
    "yellow",
];

/// Larger parts are judged by no tree: nobody paints next to nothing else.
const LARGEST_MM2: f64 = 120.0;
/// Log odds below which a part is no art.
const STRAY: f32 = -1.6;
/// And by how much lower for each factor of e that it is larger than a square millimeter: more would be lost.
const LARGER: f32 = 0.4;
/// Side of the squares in which parts are counted.
const SQUARE: Mm = Mm(4.0);

/// One loose part; see [`NAMES`].
pub type Part = Piece<COUNT>;

/// Judges the loose parts among `regions` of a sheet that is `toned` to this share, and `coded` in blocks or not: one for each
/// region, none for those too large.
pub fn judge(measured: &Measured, regions: &Regions, size: [usize; 2], toned: f32, coded: bool, ppi: Ppi) -> Vec<Option<Part>> {
    let mut at = vec![([0; 2], 0); regions.count()];
    for y in 0..regions.height() {
        for run in regions.row(y) {
            let (place, longest) = &mut at[run.region as usize];
            if run.end - run.start > *longest {
                (*place, *longest) = ([(run.start + run.end) as usize / 2, y], run.end - run.start);
            }
        }
    }
    let crowds = Crowds::of(&measured.regions, size, ppi);
    let mm = |px: f32| Px(f64::from(px)).at(ppi).0 as f32;
    let each = measured.regions.iter().zip(at).map(|(r, (at, _))| {
        let area = area_mm2(u64::from(r.pixels), ppi);
        if area >= LARGEST_MM2 {
            return None;
        }
        let [red, green, blue] = r.mean();
        let (likeness, closeness) = measured.near.likeness(r, [red, green, blue]);
        let [width, height] = [r.right - r.left, r.bottom - r.top];
        let beyond = [r.left, r.top, size[0] as u32 - r.right, size[1] as u32 - r.bottom].into_iter().min().unwrap_or(0);
        let (row, crowd) = crowds.around(r);
        let features = [
            area as f32,
            mm(r.span()),
            mm(r.thick),
            r.pixels as f32 / (width * height).max(1) as f32,
            r.span() / (2.0 * r.thick).max(1.0),
            r.strength(),
            r.broad,
            r.peak,
            r.peak_absorbed,
            r.colorfulness(),
            red,
            green,
            blue,
            likeness,
            closeness,
            mm(beyond as f32),
            row,
            crowd,
            toned,
            f32::from(u8::from(coded)),
            blue - red,
        ];
        // A pale wash is art, whatever else it looks like: only the painter clears it.
        let limit = if r.is_wash(scale(ppi)) { f32::MIN } else { STRAY - LARGER * math::lnf(area.max(1.0) as f32) };
        Some(Part::judge(&parts::FOREST, at, features, limit))
    });
    each.collect()
}

/// How many parts lie in every square of the sheet: letters stand in rows, spatter in a cloud.
struct Crowds {
    side: usize,
    columns: usize,
    counts: Vec<u32>,
}

impl Crowds {
    fn of(regions: &[Region], [width, height]: [usize; 2], ppi: Ppi) -> Self {
        let side = (SQUARE.at(ppi).0 as usize).max(1);
        let columns = width / side + 1;
        let mut crowds = Self { side, columns, counts: vec![0; columns * (height / side + 1)] };
        for r in regions {
            let [x, y] = crowds.square(r);
            crowds.counts[y * columns + x] += 1;
        }
        crowds
    }

    fn square(&self, r: &Region) -> [usize; 2] {
        [(r.left + r.right) as usize / 2 / self.side, (r.top + r.bottom) as usize / 2 / self.side]
    }

    /// Others in its row of seven squares, and in the nine squares around it.
    fn around(&self, r: &Region) -> (f32, f32) {
        let [x, y] = self.square(r);
        let rows = self.counts.len() / self.columns;
        let sum = |across: usize, down: usize| -> u32 {
            let columns = x.saturating_sub(across)..(x + across + 1).min(self.columns);
            (y.saturating_sub(down)..(y + down + 1).min(rows))
                .map(|y| self.counts[y * self.columns..][columns.clone()].iter().sum::<u32>())
                .sum()
        };
        ((sum(3, 0) - 1) as f32, (sum(1, 1) - 1) as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crowds_count_a_row_and_all_around() {
        // Squares of 47 pixels at 300 ppi.
        let region = |x: u32, y: u32| Region { left: x, right: x + 4, top: y, bottom: y + 4, ..Region::default() };
        let regions = [region(10, 10), region(60, 12), region(110, 8), region(190, 10), region(12, 60), region(12, 160)];
        let crowds = Crowds::of(&regions, [400, 300], Ppi(300.0));
        assert_eq!(crowds.around(&regions[0]), (2.0, 2.0), "three squares to the side, one below");
        assert_eq!(crowds.around(&regions[1]), (3.0, 3.0));
        assert_eq!(crowds.around(&regions[5]), (0.0, 0.0), "alone");
    }
}
