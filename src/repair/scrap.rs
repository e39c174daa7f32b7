//! Scraps of paper that hang on paint: stains that end at a leaf, what a hard compression or a sharpening leaves in its notches and
//! at its tips, paper that shading or the light between close stems has changed.
//!
//! They are pale, they hang on strong paint, and by far the most of what is pale and does so is art: a wash beside another, a petal
//! on its calyx, the lit side of a stem. How they differ was learned from labeled plates and from rendered scenes.

use std::collections::{BTreeMap, BTreeSet};

use self::cells::{Cells, FAINT_LIGHT, MIXED, PALE};
use super::piece::{Piece, Pieces};
use crate::color::math::{self, max};
use crate::error::Result;
use crate::filter::vector::{dot, length};
use crate::filter::{Connectivity, Regions, grid};
use crate::image::{Plane, Sheet};
use crate::learned::scraps;
use crate::matte::cover::{Cover, bits};
use crate::matte::evidence::{CONTRAST_STEPS, Evidence};
use crate::paper::PaperField;
use crate::units::{Ppi, Px, area_mm2};

mod cells;

/// How many features there are.
pub const COUNT: usize = 23;
/// Their names, in the order of a scrap's features.
pub const NAMES: [&str; COUNT] = [
    "area_mm2",
    "width_mm",
    "red",
    "green",
    "blue",
    "strength",
    "light",
    "hue",
    "spread",
    "bare",
    "dark",
    "beyond",
    "step",
    "hangs_on",
    "alike",
    "wide",
    "fine",
    "open",
    "out_mm",
    "near_paper",
    "near_pale",
    "near_dark",
    "sharp",
];

/// Log odds of art below which what is pale is a scrap, and by how much lower for each factor of e that it is larger than a square
/// millimeter: more would be lost.
const SCRAP: f32 = -0.7;
const LARGER: f32 = 0.3;
/// What is larger than so many square millimeters may be a wash, whatever else it looks like: only the painter clears it. And what is
/// larger than that is no scrap to anybody.
const LARGE: f32 = 8.0;
const LARGEST: f32 = 30.0;
/// What stands alone where scraps are gone, and is no larger, was part of them.
const STRANDED_MM2: f64 = 0.6;

/// Something pale that hangs on paint; see [`NAMES`].
pub type Scrap = Piece<COUNT>;

/// All that is pale and hangs on paint.
#[derive(Debug)]
pub struct Scraps {
    /// Art and not.
    pub pieces: Pieces<COUNT>,
    holds: Plane<u8>,
}

impl Scraps {
    /// Judges what is pale in a cover.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn find(sheet: &Sheet, field: &PaperField, evidence: &Evidence, cover: &Cover, ppi: Ppi) -> Result<Self> {
        let cells = Cells::new(sheet, field, evidence, cover)?;
        let (w, h) = (cells.holds.width(), cells.holds.height());
        let pale = Regions::find(w, h, Connectivity::Four, |y, row| {
            row.iter_mut().zip(cells.holds.row(y)).for_each(|(v, cell)| *v = u8::from(*cell == PALE));
        });
        let each = judge(&cells, &pale, evidence, ppi);
        let cleared = each.iter().map(|scrap| scrap.is_some_and(|scrap| scrap.is_stray())).collect();
        Ok(Self { pieces: Pieces { regions: pale, reduced: 2, each, cleared }, holds: cells.holds })
    }

    /// The pixels of some of them, and of their own fringe in the cells around.
    #[must_use]
    pub fn pixels(&self, which: &[bool], evidence: &Evidence) -> Vec<(usize, usize)> {
        let faint = (FAINT_LIGHT * CONTRAST_STEPS) as u16;
        let (w, h) = (self.holds.width(), self.holds.height());
        let (width, height) = (evidence.contrast.width(), evidence.contrast.height());
        let mut cells = Vec::new();
        for y in 0..h {
            for run in self.pieces.regions.row(y).iter().filter(|run| which[run.region as usize]) {
                let across = (run.start as usize).saturating_sub(1)..(run.end as usize + 1).min(w);
                cells.extend((y.saturating_sub(1)..(y + 2).min(h)).flat_map(|y| across.clone().map(move |x| (y, x))));
            }
        }
        cells.retain(|(y, x)| matches!(self.holds.at(*x, *y), PALE | MIXED));
        // The fringe of one row is part of the next.
        cells.sort_unstable();
        cells.dedup();
        let pixels = cells.into_iter().flat_map(|(y, x)| grid::four(x, y, width, height));
        pixels.filter(|(x, y)| evidence.contrast.at(*x, *y) < faint).collect()
    }

    /// The pixels that go when some of them go: their own, and those of what stood in them. `regions` are those of the paint before
    /// any scrap went.
    #[must_use]
    pub fn removed(
        &self,
        which: &[bool],
        cover: &Cover,
        regions: &Regions,
        evidence: &Evidence,
        ppi: Ppi,
    ) -> Vec<(usize, usize)> {
        let is_held = |(x, y): &(usize, usize)| cover.cover.at(*x, *y) & bits::HELD != 0;
        let mut gone: BTreeSet<_> = self.pixels(which, evidence).into_iter().filter(|at| !is_held(at)).collect();
        let stranded = stranded(&gone, cover, regions, ppi);
        gone.extend(stranded);
        gone.into_iter().collect()
    }
}

/// What stands alone once the pixels `gone` are, and was one with them among the `regions` that paint had before: specks, letters
/// and the like that lay in them.
fn stranded(gone: &BTreeSet<(usize, usize)>, cover: &Cover, regions: &Regions, ppi: Ppi) -> Vec<(usize, usize)> {
    /// The foot of an edge lies between, in pixels.
    const FOOT: usize = 3;
    let most = (STRANDED_MM2 / area_mm2(1, ppi)) as usize;
    let cover = &cover.cover;
    let (w, h) = (cover.width(), cover.height());
    let around = |(x, y): (usize, usize), reach: usize| {
        let rows = y.saturating_sub(reach)..(y + reach + 1).min(h);
        rows.flat_map(move |j| (x.saturating_sub(reach)..(x + reach + 1).min(w)).map(move |i| (i, j)))
    };
    let is_left = |at: (usize, usize)| cover.at(at.0, at.1) & (bits::PAINT | bits::FREE) == bits::PAINT && !gone.contains(&at);
    // Few pixels of a sheet are ever looked at. Of each that was, whether it is part of something large.
    let mut large: BTreeMap<(usize, usize), bool> = BTreeMap::new();
    let mut stranded = Vec::new();
    for &at in gone {
        let region = regions.at(at.0, at.1);
        for start in around(at, FOOT) {
            let is_new = is_left(start) && !large.contains_key(&start);
            if !is_new || region.is_none() || regions.at(start.0, start.1) != region {
                continue;
            }
            let (mut found, mut next, mut is_large) = (vec![start], 0, false);
            large.insert(start, false);
            while next < found.len() && !is_large {
                for at in around(found[next], 1).filter(|at| is_left(*at)) {
                    match large.get(&at) {
                        Some(large) => is_large |= large,
                        None => {
                            large.insert(at, false);
                            found.push(at);
                        }
                    }
                }
                next += 1;
                is_large |= found.len() > most;
            }
            if is_large {
                large.extend(found.into_iter().map(|at| (at, true)));
            } else {
                stranded.append(&mut found);
            }
        }
    }
    stranded
}

/// Judges what is pale and hangs on paint.
fn judge(cells: &Cells, pale: &Regions, evidence: &Evidence, ppi: Ppi) -> Vec<Option<Scrap>> {
    let mm = |cells: f32| Px(2.0 * f64::from(cells)).at(ppi).0 as f32;
    let each = cells.sums(pale, evidence, ppi).into_iter().map(|s| {
        let area = area_mm2(4 * u64::from(s.cells), ppi) as f32;
        if s.dark == 0 || area > LARGEST {
            return None;
        }
        let [cells, border, bare, dark] = [s.cells, s.border, s.bare, s.dark].map(|n| max(n as f32, 1.0));
        let off = s.off.map(|v| v / cells);
        let [red, green, blue] = off;
        let (strength, light) = (max(length(off), 1e-4), (red + green + blue) / 3.0);
        let features = [
            area,
            mm(2.0 * cells / border),
            red,
            green,
            blue,
            strength,
            light,
            length(off.map(|v| v - light)) / strength,
            max(s.squares / cells - light * light, 0.0).sqrt() / strength,
            s.bare as f32 / border,
            dark / border,
            dot(s.rim.beyond, off) / (max(s.rim.beyond_cells as f32, 1.0) * strength * strength),
            (s.rim.strength - s.rim.foot) / (bare * strength),
            length(s.paint) / dark,
            dot(s.paint, off) / (max(length(s.paint), 1e-4) * strength),
            s.wide / cells,
            s.fine / cells,
            s.rim.open as f32 / bare,
            mm(s.rim.out / bare),
            s.near[0] / cells,
            s.near[1] / cells,
            s.near[2] / cells,
            s.rim.sharp / (bare * strength),
        ];
        let limit = if area < LARGE { SCRAP - LARGER * math::lnf(max(area, 1.0)) } else { f32::MIN };
        Some(Scrap::judge(&scraps::FOREST, s.at, features, limit))
    });
    each.collect()
}
