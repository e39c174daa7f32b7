//! Scraps of paper that hang on paint: stains that end at a leaf, what a hard compression or a sharpening leaves in its notches and
//! at its tips, paper that shading or the light between close stems has changed.
//!
//! They are pale, they hang on strong paint, and by far the most of what is pale and does so is art: a wash beside another, a petal
//! on its calyx, the lit side of a stem. How they differ was learned from labeled plates and from rendered scenes.

use std::collections::BTreeMap;

use super::piece::{Piece, Pieces};
use crate::color::math::{self, max};
use crate::error::Result;
use crate::filter::vector::{dot, length, plus};
use crate::filter::{Connectivity, Regions, grid};
use crate::image::{Plane, Sheet};
use crate::learned::scraps;
use crate::matte::cover::{Cover, bits};
use crate::matte::evidence::{CONTRAST_STEPS, Evidence, STEPS};
use crate::paper::{PaperField, Ruler};
use crate::units::{Mm, Ppi, Px, area_mm2};

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

/// Pale is fainter than this, encoded, and when lighter than the paper than this; a scrap hangs on paint stronger than that.
const FAINT: f32 = 0.14;
const FAINT_LIGHT: f32 = 0.22;
const STRONG: f32 = 0.22;
/// The paper must leave as much room above it, encoded, for a scrap to be lighter.
const ROOM: f32 = 0.5;
/// Log odds of art below which what is pale is a scrap, and by how much lower for each factor of e that it is larger than a square
/// millimeter: more would be lost.
const SCRAP: f32 = -0.7;
const LARGER: f32 = 0.3;
/// What is larger than so many square millimeters may be a wash, whatever else it looks like: only the painter clears it. And what is
/// larger than that is no scrap to anybody.
const LARGE: f32 = 8.0;
const LARGEST: f32 = 30.0;
/// How far beyond a rim the next paint is looked for.
const FAR: Mm = Mm(8.0);
/// Side of the squares in which paper and paint are counted.
const SQUARE: Mm = Mm(1.5);
/// What stands alone where scraps are gone, and is no larger, was part of them.
const STRANDED_MM2: f64 = 0.6;
/// Steps of the residual of a cell.
const OFF_STEPS: f32 = 500.0;

/// What half-size pixels hold.
const PAPER: u8 = 0;
const PALE: u8 = 1;
const DARK: u8 = 2;
const MIXED: u8 = 3;

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
        let each = cells.judge(&pale, evidence, ppi);
        let cleared = each.iter().map(|scrap| scrap.is_some_and(|scrap| scrap.is_stray())).collect();
        Ok(Self { pieces: Pieces { regions: pale, reduced: 2, each, cleared }, holds: cells.holds })
    }

    /// Visits the pixels of some of them, and of their own fringe in the cells around.
    pub fn pixels(&self, which: &[bool], evidence: &Evidence, mut visit: impl FnMut(usize, usize)) {
        let faint = (FAINT_LIGHT * CONTRAST_STEPS) as u16;
        let (w, h) = (self.holds.width(), self.holds.height());
        let (width, height) = (evidence.contrast.width(), evidence.contrast.height());
        for y in 0..h {
            for run in self.pieces.regions.row(y).iter().filter(|run| which[run.region as usize]) {
                let across = (run.start as usize).saturating_sub(1)..(run.end as usize + 1).min(w);
                for (x, down) in across.flat_map(|x| (y.saturating_sub(1)..(y + 2).min(h)).map(move |y| (x, y))) {
                    let own = self.holds.at(x, down) == PALE || self.holds.at(x, down) == MIXED;
                    let pixels = grid::four(x, down, width, height).filter(|_| own);
                    pixels.filter(|(x, y)| evidence.contrast.at(*x, *y) < faint).for_each(|(x, y)| visit(x, y));
                }
            }
        }
    }
}

/// The pixels of what stands alone now that scraps are `gone`, and was one with them among the `regions` that paint had before:
/// specks, letters and the like that lay in them.
#[must_use]
pub fn stranded(cover: &Cover, regions: &Regions, gone: &[(usize, usize)], ppi: Ppi) -> Vec<(usize, usize)> {
    /// The foot of an edge lies between, in pixels.
    const FOOT: usize = 3;
    #[derive(Clone, Copy, PartialEq)]
    enum Seen {
        Small,
        Large,
    }
    let most = (STRANDED_MM2 / area_mm2(1, ppi)) as usize;
    let cover = &cover.cover;
    let (w, h) = (cover.width(), cover.height());
    let around = |(x, y): (usize, usize), reach: usize| {
        let rows = y.saturating_sub(reach)..(y + reach + 1).min(h);
        rows.flat_map(move |j| (x.saturating_sub(reach)..(x + reach + 1).min(w)).map(move |i| (i, j)))
    };
    let is_solid = |(x, y): (usize, usize)| cover.at(x, y) & (bits::PAINT | bits::FREE) == bits::PAINT;
    // Few pixels of a sheet are ever looked at.
    let mut seen: BTreeMap<(usize, usize), Seen> = BTreeMap::new();
    let mut stranded = Vec::new();
    for &at in gone {
        let region = regions.at(at.0, at.1);
        for start in around(at, FOOT) {
            if !is_solid(start) || seen.contains_key(&start) || region.is_none() || regions.at(start.0, start.1) != region {
                continue;
            }
            let (mut found, mut next, mut large) = (vec![start], 0, false);
            seen.insert(start, Seen::Small);
            while next < found.len() && !large {
                for at in around(found[next], 1).filter(|at| is_solid(*at)) {
                    match seen.get(&at) {
                        None => found.push(at),
                        Some(Seen::Small) => continue,
                        Some(Seen::Large) => large = true,
                    }
                    seen.insert(at, Seen::Small);
                }
                next += 1;
                large |= found.len() > most;
            }
            if large {
                seen.extend(found.iter().map(|at| (*at, Seen::Large)));
            } else {
                stranded.append(&mut found);
            }
        }
    }
    stranded
}

/// The cover at half size.
struct Cells {
    holds: Plane<u8>,
    /// The mean residual, in [`OFF_STEPS`] as far as they go.
    off: Plane<[i8; 3]>,
}

/// What is summed up over something pale.
#[derive(Clone, Default)]
struct Sums {
    at: [usize; 2],
    longest: u32,
    cells: u32,
    off: [f32; 3],
    /// Squares of the mean channel.
    squares: f32,
    /// Deviations at the widest pooling and the finest.
    wide: f32,
    fine: f32,
    /// What is near: paper, pale paint, strong paint.
    near: [f32; 3],
    /// Sides of its cells beside something else.
    border: u32,
    /// Those beside paper, and what is measured there.
    bare: u32,
    rim: Rim,
    /// Those beside strong paint, and its residual.
    dark: u32,
    paint: [f32; 3],
}

/// What is summed up over the sides beside paper.
#[derive(Clone, Default)]
struct Rim {
    /// Strength of the cell, and of the paper beside it.
    strength: f32,
    foot: f32,
    /// Residual of the paper a little beyond, where there is some, and of how many cells.
    beyond: [f32; 3],
    beyond_cells: u32,
    /// Sides beyond which no paint follows for long; and how far away it is, in cells.
    open: u32,
    out: f32,
    /// The steepest drop of the contrast near the side.
    sharp: f32,
}

impl Cells {
    fn new(sheet: &Sheet, field: &PaperField, evidence: &Evidence, cover: &Cover) -> Result<Self> {
        let (width, height) = (cover.cover.width(), cover.cover.height());
        let what = "the rims of paint";
        let mut holds: Plane<u8> = Plane::new(width.div_ceil(2), height.div_ceil(2), what)?;
        let mut off: Plane<[i8; 3]> = Plane::new(holds.width(), holds.height(), what)?;
        let mut ruler = Ruler::new(field, 0..width);
        let mut paper = [0, 1, 2].map(|_| vec![0.0; width]);
        let mut above = vec![0.0; width];
        let mut sums = [0, 1, 2].map(|_| vec![0.0_f32; holds.width()]);
        let mut paint = vec![(0, 0); holds.width()];
        let [faint, faint_light, strong] = [FAINT, FAINT_LIGHT, STRONG].map(|v| (v * CONTRAST_STEPS) as u16);
        let has_room = field.color().iter().sum::<f32>() > 3.0 * ROOM;
        for y in 0..holds.height() {
            let rows = || 2 * y..(2 * y + 2).min(height);
            // The foot of an edge runs around all paint.
            let painted = |bits: &u8| *bits & (bits::PAINT | bits::FREE) == bits::PAINT;
            sums.iter_mut().for_each(|sums| sums.fill(0.0));
            for y in rows() {
                let [red, green, blue] = &mut paper;
                ruler.draw(field, y, [red, green, blue]);
                for (channel, (paper, sums)) in paper.iter().zip(&mut sums).enumerate() {
                    sheet.above(y, 0, channel, paper, &mut above);
                    sums.iter_mut().zip(above.chunks(2)).for_each(|(sum, pair)| *sum += pair.iter().sum::<f32>());
                }
            }
            // Painted pixels of every cell, and the strongest contrast of them.
            paint.fill((0, 0));
            for y in rows() {
                let contrast = evidence.contrast.row(y).chunks(2);
                for ((cell, bits), contrast) in paint.iter_mut().zip(cover.cover.row(y).chunks(2)).zip(contrast) {
                    for (_, contrast) in bits.iter().zip(contrast).filter(|(bits, _)| painted(bits)) {
                        *cell = (cell.0 + 1, cell.1.max(*contrast));
                    }
                }
            }
            for (x, &(paint, top)) in paint.iter().enumerate() {
                let sum = [0, 1, 2].map(|c| sums[c][x]);
                let all = rows().len() * (width - 2 * x).min(2);
                let steps = if all == 4 { OFF_STEPS / 4.0 } else { OFF_STEPS / all as f32 };
                let is_light = has_room && sum.iter().sum::<f32>() > 0.0;
                let pale = if is_light { faint_light } else { faint };
                let cell = match paint {
                    0 => PAPER,
                    _ if top >= strong => DARK,
                    _ if 2 * paint >= all && top < pale => PALE,
                    _ => MIXED,
                };
                holds.set(x, y, cell);
                off.set(x, y, sum.map(|v| (v * steps) as i8));
            }
        }
        Ok(Self { holds, off })
    }

    fn off(&self, i: usize) -> [f32; 3] {
        self.off.data()[i].map(|v| f32::from(v) * (1.0 / OFF_STEPS))
    }

    /// Judges what is pale and hangs on paint.
    fn judge(&self, pale: &Regions, evidence: &Evidence, ppi: Ppi) -> Vec<Option<Scrap>> {
        let mm = |cells: f32| Px(2.0 * f64::from(cells)).at(ppi).0 as f32;
        let each = self.sums(pale, evidence, ppi).into_iter().map(|s| {
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

    /// Shares of what lies in and around the squares of the sheet, a few millimeters wide: paper, pale, and all other paint. And how
    /// many cells are the side of one.
    fn near(&self, ppi: Ppi) -> (usize, Plane<[f32; 3]>) {
        let side = ((SQUARE.at(ppi).0 / 2.0) as usize).max(1);
        let (w, h) = (self.holds.width().div_ceil(side), self.holds.height().div_ceil(side));
        let mut counts = vec![[0_u32; 3]; w * h];
        for y in 0..self.holds.height() {
            for (counts, cells) in counts[y / side * w..][..w].iter_mut().zip(self.holds.row(y).chunks(side)) {
                let [paper, pale] = [PAPER, PALE].map(|kind| cells.iter().map(|cell| u32::from(*cell == kind)).sum::<u32>());
                *counts = [counts[0] + paper, counts[1] + pale, counts[2] + cells.len() as u32 - paper - pale];
            }
        }
        let mut near = vec![[0.0; 3]; w * h];
        for (i, near) in near.iter_mut().enumerate() {
            let (x, y) = (i % w, i / w);
            let mut sum = [0_u32; 3];
            for j in y.saturating_sub(1)..(y + 2).min(h) {
                for counts in &counts[j * w + x.saturating_sub(1)..j * w + (x + 2).min(w)] {
                    sum = std::array::from_fn(|k| sum[k] + counts[k]);
                }
            }
            let all = sum.iter().sum::<u32>().max(1) as f32;
            *near = sum.map(|n| n as f32 / all);
        }
        (side, Plane::from_vec(w, h, near))
    }

    fn sums(&self, pale: &Regions, evidence: &Evidence, ppi: Ppi) -> Vec<Sums> {
        let (w, h) = (self.holds.width(), self.holds.height());
        let far = (FAR.at(ppi).0 / 2.0) as isize;
        let (side, near) = self.near(ppi);
        let mut sums = vec![Sums::default(); pale.count()];
        // Most of what is pale is wash, and no scrap: only how much of it there is counts.
        for run in (0..h).flat_map(|y| pale.row(y)) {
            sums[run.region as usize].cells += run.end - run.start;
        }
        for y in 0..h {
            for run in pale.row(y) {
                let s = &mut sums[run.region as usize];
                if area_mm2(4 * u64::from(s.cells), ppi) as f32 > LARGEST {
                    continue;
                }
                if run.end - run.start > s.longest {
                    (s.at, s.longest) = ([(run.start + run.end) as usize & !1, 2 * y], run.end - run.start);
                }
                for x in run.start as usize..run.end as usize {
                    let i = y * w + x;
                    let off = self.off(i);
                    let mean = off.iter().sum::<f32>() / 3.0;
                    s.off = plus(s.off, off);
                    s.squares += mean * mean;
                    s.wide += f32::from(evidence.wide.at(x / 2, y / 2)) / STEPS;
                    s.fine += f32::from(evidence.fine.at(2 * x, 2 * y)) / STEPS;
                    s.near = plus(s.near, near.at(x / side, y / side));
                    for direction in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
                        let Some(j) = grid::step(i, direction, 1, w, h) else { continue };
                        let holds = self.holds.data()[j];
                        s.border += u32::from(holds != PALE);
                        if holds == PAPER {
                            s.bare += 1;
                            self.rim(i, direction, far, evidence, &mut s.rim);
                        } else if holds != PALE {
                            // A rim of mixed cells lies between.
                            let next = grid::step(i, direction, 2, w, h).filter(|_| holds == MIXED).unwrap_or(j);
                            if self.holds.data()[next] == DARK {
                                s.dark += 1;
                                s.paint = plus(s.paint, self.off(next));
                            }
                        }
                    }
                }
            }
        }
        sums
    }

    /// Adds what is measured at the side of cell `i` in a `direction`, beyond which is paper; paint is looked for `far` cells out.
    fn rim(&self, i: usize, direction: (isize, isize), far: isize, evidence: &Evidence, rim: &mut Rim) {
        /// How far beyond the side paper is looked at, in cells.
        const BEYOND: isize = 3;
        /// Pixels inside and outside of the side from which drops of the contrast begin, and over how many they go.
        const DROPS: std::ops::Range<isize> = -2..4;
        const DROP: isize = 2;
        let (w, h) = (self.holds.width(), self.holds.height());
        let cell = |steps: isize| grid::step(i, direction, steps, w, h);
        let holds_paper = |j: &usize| self.holds.data()[*j] == PAPER;
        rim.strength += length(self.off(i));
        rim.foot += cell(1).map_or(0.0, |j| length(self.off(j)));
        if let Some(beyond) = cell(BEYOND).filter(holds_paper) {
            rim.beyond = plus(rim.beyond, self.off(beyond));
            rim.beyond_cells += 1;
        }
        let out = (1..far).find(|steps| cell(*steps).is_some_and(|j| !holds_paper(&j)));
        rim.open += u32::from(out.is_none());
        rim.out += out.unwrap_or(far) as f32;
        let contrast = |steps: isize| {
            let at = |from: usize, step: isize, size: usize| (2 * from).saturating_add_signed(steps * step).min(size - 1);
            let (width, height) = (evidence.contrast.width(), evidence.contrast.height());
            f32::from(evidence.contrast.at(at(i % w, direction.0, width), at(i / w, direction.1, height))) / CONTRAST_STEPS
        };
        rim.sharp += DROPS.map(|steps| contrast(steps) - contrast(steps + DROP)).fold(0.0, max);
    }
}
