//! Toning, folds and shadows of the sheet: patches of other paper without an edge.
//!
//! A cell cannot tell a toned patch from a pale wash. Its border can: a wash ends within a cell or two, the paper's own
//! patches fade over many. So of every patch of cells that lie off the field, the border is looked across, place by place.

use super::Overview;
use crate::filter::grid;
use crate::filter::order::quantile;
use crate::filter::vector::{difference, length};

/// How far a border is looked across, in pixels, and in cells at least and at most: a wash's own run-out is longer.
const ACROSS_PIXELS: usize = 18;
const ACROSS: [usize; 2] = [2, 4];
/// A place of the border is soft where less than this share of the patch's depth is gone across it.
const SOFT: f32 = 0.6;
/// Patches of fewer cells show no slope.
const LEAST: usize = 6;
/// A patch of so many pixels is larger than a pale wash that stands alone tends to be.
const LARGE: usize = 40_000;
/// The core of a patch: its cells deeper than this share of its deepest. Of so many cells it shows whether it is a wash, by a border of
/// which less than this share is soft and which does not end at that of the sheet.
const CORE: f32 = 0.5;
const LEAST_CORE: usize = 100;
const CORE_SOFT: f32 = 0.3;
/// A cell deeper than this, encoded, can only be shaded: all channels fall by like amounts.
const TONED: f32 = 0.15;
const SHADED: [f32; 2] = [0.7, 1.3];

/// Cells that are paper of another tone.
pub(super) struct Toned {
    /// Which cells they are.
    pub(super) at: Vec<bool>,
    /// How many there are.
    pub(super) count: usize,
    /// How many of them tell of an old sheet: they have yellowed, or lie inside of it, where neither lid nor gutter shades.
    pub(super) old: usize,
}

/// Which cells are toned or shaded paper. `washed` are none; `fits` says which lie no further off the `field` than bare ones do.
pub(super) fn cells(
    overview: &Overview,
    on_sheet: &[bool],
    washed: &[bool],
    fits: &[bool],
    bare: &[bool],
    field: &[[f32; 3]],
) -> Toned {
    let (cols, rows) = (overview.mean.width(), overview.mean.height());
    let off: Vec<[f32; 3]> = overview.mean.data().iter().zip(field).map(|(mean, field)| difference(*mean, *field)).collect();
    let plain = overview.plain(bare);
    let may_be = |i: usize| on_sheet[i] && !washed[i] && !fits[i] && plain[i] && may_be_paper(off[i]);
    let open: Vec<bool> = (0..off.len()).map(may_be).collect();
    let mut number = vec![usize::MAX; open.len()];
    let mut patches = Vec::new();
    for first in 0..open.len() {
        if open[first] && number[first] == usize::MAX {
            number[first] = patches.len();
            let enter = |_, to: usize| {
                let enter = open[to] && number[to] == usize::MAX;
                if enter {
                    number[to] = patches.len();
                }
                enter
            };
            let cells = grid::flood(vec![first], cols, rows, enter);
            patches.push(Patch::new(cells, &off));
        }
    }
    let across = ACROSS_PIXELS.div_ceil(overview.cell).clamp(ACROSS[0], ACROSS[1]) as isize;
    let look_across = |cells: &[usize], is_inside: &dyn Fn(usize) -> bool, depth: f32| {
        let mut border = Border::default();
        for &i in cells {
            for direction in [(-1, 0), (1, 0), (0, -1), (0, 1)] {
                let at = |n| grid::step(i, direction, n, cols, rows);
                match (at(1), at(across)) {
                    (Some(beside), _) if is_inside(beside) => {}
                    (_, Some(beyond)) if is_inside(beyond) => {}
                    (None, _) | (_, None) => border.of_sheet += 1.0,
                    (_, Some(beyond)) if !on_sheet[beyond] => border.of_sheet += 1.0,
                    (_, Some(beyond)) if !fits[beyond] && !open[beyond] => border.painted += 1.0,
                    (_, Some(beyond)) if length(difference(off[i], off[beyond])) < SOFT * depth => border.soft += 1.0,
                    _ => border.hard += 1.0,
                }
            }
        }
        border
    };
    // A wash that uneven paper about has joined to a patch, by whose border it would be judged.
    let is_wash = |patch: &Patch| {
        let is_deep = |i: usize| length(off[i]) >= CORE * patch.deepest;
        let core: Vec<usize> = patch.cells.iter().copied().filter(|i| is_deep(*i)).collect();
        let mut inside = vec![false; open.len()];
        core.iter().for_each(|i| inside[*i] = true);
        core.len() >= LEAST_CORE && look_across(&core, &|i| inside[i], patch.depth).is_of_wash()
    };
    let mut toned = Toned { at: vec![false; open.len()], count: 0, old: 0 };
    for (k, patch) in patches.iter().enumerate().filter(|(_, patch)| patch.cells.len() >= LEAST) {
        let border = look_across(&patch.cells, &|i| number[i] == k, patch.depth);
        let large = patch.cells.len() * overview.cell * overview.cell >= LARGE;
        if patch.is_paper(&border, large) && !is_wash(patch) {
            patch.cells.iter().for_each(|&i| toned.at[i] = true);
            toned.count += patch.cells.len();
            let old = if border.ends_the_sheet() { patch.has_yellowed() } else { large };
            toned.old += if old { patch.cells.len() } else { 0 };
        }
    }
    toned
}

/// Whether channels fall by `fall` as they do where paper yellows or lies in the shade: blue most and red least, or all alike.
/// They may be in another order by `slack`.
#[must_use]
pub fn yellows_or_grays([red, green, blue]: [f32; 3], slack: f32) -> bool {
    red > -slack && green > red - slack && blue > green - slack
}

/// Whether a cell so far off the field may be paper at all: anything faint, and what is in the shade.
fn may_be_paper(off: [f32; 3]) -> bool {
    let [red, green, blue] = off.map(|v| -v);
    length(off) < TONED || blue > 0.0 && red.min(green) > SHADED[0] * blue && red < SHADED[1] * green
}

/// Cells off the paper field that touch one another.
struct Patch {
    cells: Vec<usize>,
    /// Mean over the cells.
    off: [f32; 3],
    /// Three cells in four lie less deep.
    depth: f32,
    /// 95 in 100 lie less deep.
    deepest: f32,
}

/// Places along the border of a patch, by what lies beyond.
#[derive(Default)]
struct Border {
    soft: f32,
    hard: f32,
    /// Where paint is beyond nothing is known.
    painted: f32,
    /// Where the sheet or the scan ends.
    of_sheet: f32,
}

impl Border {
    /// Whether the patch comes in from the edge of the sheet.
    fn ends_the_sheet(&self) -> bool {
        self.of_sheet > 0.07 * self.places()
    }

    /// Whether a core of this border is a wash.
    fn is_of_wash(&self) -> bool {
        self.soft < CORE_SOFT * (self.soft + self.hard) && !self.ends_the_sheet()
    }

    fn places(&self) -> f32 {
        self.soft + self.hard + self.painted + self.of_sheet
    }
}

impl Patch {
    fn new(cells: Vec<usize>, off: &[[f32; 3]]) -> Self {
        let mut depths: Vec<f32> = cells.iter().map(|&i| length(off[i])).collect();
        let mean = [0, 1, 2].map(|c| cells.iter().map(|&i| off[i][c]).sum::<f32>() / cells.len() as f32);
        Self { depth: quantile(&mut depths, 0.75), deepest: quantile(&mut depths, 0.95), cells, off: mean }
    }

    fn has_yellowed(&self) -> bool {
        let [red, _, blue] = self.off.map(|v| -v);
        blue > 0.02 && red < 0.5 * blue
    }

    /// Toning yellows: blue falls most, red least. Shade takes all alike. Lighter patches are paper less toned.
    ///
    /// The limits are set by hand on rendered scenes and on plates of old books (common practice, no source).
    fn is_paper(&self, border: &Border, large: bool) -> bool {
        let sign = if self.off.iter().sum::<f32>() < 0.0 { -1.0 } else { 1.0 };
        let fall = self.off.map(|v| v * sign);
        if !yellows_or_grays(fall, 0.1 * self.depth + 0.003) {
            return false;
        }
        let [red, _, blue] = fall;
        let gray = red > 0.3 * blue;
        let looked = border.soft + border.hard;
        let soft = border.soft / looked.max(1.0);
        let seen = border.soft / (looked + border.painted).max(1.0);
        if border.ends_the_sheet() {
            // Toning comes in from the edges of a sheet, and a gutter is deep.
            let toned = self.depth < 0.25 && soft > 0.6;
            let gutter = self.depth < 0.7 && soft > 0.65 && gray;
            seen > 0.1 && (toned || gutter)
        } else {
            // Inside the sheet a yellow patch may be a pale wash that runs out on most sides, and a lighter one white paint.
            let hue = if gray { soft > 0.75 } else { large && soft > 0.88 };
            sign < 0.0 && self.deepest < 0.11 && seen > 0.45 && hue
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::Plane;

    const COLS: usize = 60;
    const ROWS: usize = 60;

    /// Which of the cells of a sheet are toned, `off` being how far each lies off plain paper.
    fn toned(off: impl Fn(f32, f32) -> [f32; 3]) -> Vec<bool> {
        let paper = [0.95, 0.93, 0.88];
        let mean = (0..COLS * ROWS)
            .map(|i| {
                let off = off((i % COLS) as f32 - 30.0, (i / COLS) as f32 - 30.0);
                [0, 1, 2].map(|c| paper[c] + off[c])
            })
            .collect();
        let overview = Overview {
            cell: 12,
            mean: Plane::from_vec(COLS, ROWS, mean),
            spread: Plane::from_vec(COLS, ROWS, vec![0.01; COLS * ROWS]),
        };
        let field = vec![paper; COLS * ROWS];
        let fits: Vec<bool> = overview.mean.data().iter().map(|mean| length(difference(*mean, paper)) < 0.006).collect();
        cells(&overview, &vec![true; COLS * ROWS], &vec![false; COLS * ROWS], &fits, &fits, &field).at
    }

    fn middle(toned: &[bool]) -> bool {
        toned[30 * COLS + 30]
    }

    /// The same brown, 0.06 deep: over many cells it is the paper's own, with an edge it is a wash, and as green it is a wash
    /// even without one.
    #[test]
    fn a_patch_without_an_edge_is_paper_and_one_with_an_edge_is_paint() {
        const BROWN: [f32; 3] = [-0.04, -0.045, -0.06];
        let fading = |x: f32, y: f32| (1.0 - (x * x + y * y).sqrt() / 18.0).max(0.0);
        let within = |x: f32, y: f32| f32::from(u8::from(x * x + y * y < 14.0 * 14.0));
        assert!(middle(&toned(|x, y| BROWN.map(|v| v * fading(x, y)))));
        assert!(!middle(&toned(|x, y| BROWN.map(|v| v * within(x, y)))));
        assert!(!middle(&toned(|x, y| [-0.06, -0.02, -0.06].map(|v| v * fading(x, y)))));
    }

    /// Uneven paper around it, that goes on to the border of the sheet, makes no toning of a wash.
    #[test]
    fn a_wash_in_uneven_paper_is_paint() {
        const BROWN: [f32; 3] = [-0.04, -0.045, -0.06];
        let around = |x: f32, y: f32| 0.2 * f32::from(u8::from(x * x + y * y < 24.0 * 24.0 || x < 0.0 && y.abs() < 10.0));
        let within = |x: f32, y: f32| f32::from(u8::from(x * x + y * y < 14.0 * 14.0));
        let fading = |x: f32, y: f32| (1.0 - (x * x + y * y).sqrt() / 24.0).max(0.0);
        assert!(!middle(&toned(|x, y| BROWN.map(|v| v * around(x, y).max(within(x, y))))));
        assert!(middle(&toned(|x, y| BROWN.map(|v| v * around(x, y).max(fading(x, y))))));
    }

    /// A gutter as deep as 0.5 at the border of the sheet is paper; a wash so deep inside of it is not, edge or none.
    #[test]
    fn deep_shade_is_paper_at_the_border_only() {
        let gutter = toned(|x, _| [-0.5, -0.49, -0.47].map(|v| v * (-(x + 10.0) / 20.0).max(0.0)));
        assert!(gutter[30 * COLS] && gutter[30 * COLS + 15] && !gutter[30 * COLS + 40]);
        let wash = toned(|x, y| [-0.5, -0.49, -0.47].map(|v| v * (1.0 - (x * x + y * y).sqrt() / 20.0).max(0.0)));
        assert!(!middle(&wash));
    }
}
