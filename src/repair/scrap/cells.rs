//! What is pale, and what is about it: the cover at half size, and sums over it.

use std::ops::Range;

use super::LARGEST;
use crate::color::math::max;
use crate::error::Result;
use crate::filter::vector::{length, plus};
use crate::filter::{Regions, grid};
use crate::image::{Plane, Sheet};
use crate::matte::cover::{Cover, bits};
use crate::matte::evidence::{CONTRAST_STEPS, Evidence, STEPS};
use crate::paper::PaperField;
use crate::paper::tile::{self, Tile};
use crate::units::{Mm, Ppi, area_mm2};

/// Pale is fainter than this, encoded, and when lighter than the paper than this; a scrap hangs on paint stronger than that.
const FAINT: f32 = 0.14;
pub(super) const FAINT_LIGHT: f32 = 0.22;
const STRONG: f32 = 0.22;
/// The paper must leave as much room above it, encoded, for a scrap to be lighter.
const ROOM: f32 = 0.5;
/// How far beyond a rim the next paint is looked for.
const FAR: Mm = Mm(8.0);
/// How far beyond its side the paper beside something pale is looked at, in cells.
const BEYOND: usize = 3;
/// Side of the squares in which paper and paint are counted.
const SQUARE: Mm = Mm(1.5);
/// Steps of the residual of a cell.
const OFF_STEPS: f32 = 500.0;

/// What half-size pixels hold.
const PAPER: u8 = 0;
pub(super) const PALE: u8 = 1;
const DARK: u8 = 2;
pub(super) const MIXED: u8 = 3;

/// The cover at half size.
pub(super) struct Cells {
    pub(super) holds: Plane<u8>,
    /// The mean residual, in [`OFF_STEPS`] as far as they go; of those in and beside pale cells.
    off: Plane<[i8; 3]>,
}

/// What is summed up over something pale.
#[derive(Clone, Default)]
pub(super) struct Sums {
    pub(super) at: [usize; 2],
    pub(super) longest: u32,
    pub(super) cells: u32,
    pub(super) off: [f32; 3],
    /// Squares of the mean channel.
    pub(super) squares: f32,
    /// Deviations at the widest pooling and the finest.
    pub(super) wide: f32,
    pub(super) fine: f32,
    /// What is near: paper, pale paint, strong paint.
    pub(super) near: [f32; 3],
    /// Sides of its cells beside something else.
    pub(super) border: u32,
    /// Those beside paper, and what is measured there.
    pub(super) bare: u32,
    pub(super) rim: Rim,
    /// Those beside strong paint, and its residual.
    pub(super) dark: u32,
    pub(super) paint: [f32; 3],
}

/// What is summed up over the sides beside paper.
#[derive(Clone, Default)]
pub(super) struct Rim {
    /// Strength of the cell, and of the paper beside it.
    pub(super) strength: f32,
    pub(super) foot: f32,
    /// Residual of the paper a little beyond, where there is some, and of how many cells.
    pub(super) beyond: [f32; 3],
    pub(super) beyond_cells: u32,
    /// Sides beyond which no paint follows for long; and how far away it is, in cells.
    pub(super) open: u32,
    pub(super) out: f32,
    /// The steepest drop of the contrast near the side.
    pub(super) sharp: f32,
}

impl Cells {
    pub(super) fn new(sheet: &Sheet, field: &PaperField, evidence: &Evidence, cover: &Cover) -> Result<Self> {
        let (width, height) = (cover.cover.width(), cover.cover.height());
        let what = "the rims of paint";
        let holds: Plane<u8> = Plane::new(width.div_ceil(2), height.div_ceil(2), what)?;
        let off = Plane::new(holds.width(), holds.height(), what)?;
        let mut cells = Self { holds, off };
        let has_room = field.color().iter().sum::<f32>() > 3.0 * ROOM;
        cells.sort(evidence, cover, if has_room { FAINT_LIGHT } else { FAINT });
        let mut tile = Tile::default();
        let mut next = 0;
        while let Some(rows) = tile::next_rows(&mut next, height) {
            for columns in tile::across(width) {
                if cells.is_pale_near(&rows, &columns) {
                    tile.load(sheet, field, rows.clone(), columns, 0);
                    cells.measure(&tile, evidence, cover);
                }
            }
        }
        Ok(cells)
    }

    /// Sorts the cells, fainter than `pale` being pale, by the painted pixels in each and the strongest contrast of them.
    fn sort(&mut self, evidence: &Evidence, cover: &Cover, pale: f32) {
        let (width, height) = (cover.cover.width(), cover.cover.height());
        let [pale, strong] = [pale, STRONG].map(|v| (v * CONTRAST_STEPS) as u16);
        let (mut counts, mut tops) = (vec![0_u8; self.holds.width()], vec![0_u16; self.holds.width()]);
        for y in 0..self.holds.height() {
            let rows = 2 * y..(2 * y + 2).min(height);
            counts.fill(0);
            tops.fill(0);
            for y in rows.clone() {
                let (bits, contrast) = (cover.cover.row(y), evidence.contrast.row(y));
                let (pairs, last) = bits.as_chunks::<2>();
                let (of_pairs, of_last) = contrast.as_chunks::<2>();
                for ((count, top), (bits, contrast)) in counts.iter_mut().zip(&mut tops).zip(pairs.iter().zip(of_pairs)) {
                    let [a, b] = bits.map(painted);
                    *count += a + b;
                    *top = (*top).max(u16::from(a) * contrast[0]).max(u16::from(b) * contrast[1]);
                }
                if let ([bits], [contrast], Some(count), Some(top)) = (last, of_last, counts.last_mut(), tops.last_mut()) {
                    *count += painted(*bits);
                    *top = (*top).max(u16::from(painted(*bits)) * contrast);
                }
            }
            for (x, (cell, (&count, &top))) in self.holds.row_mut(y).iter_mut().zip(counts.iter().zip(&tops)).enumerate() {
                let all = rows.len() * (width - 2 * x).min(2);
                *cell = match usize::from(count) {
                    0 => PAPER,
                    _ if top >= strong => DARK,
                    painted if 2 * painted >= all && top < pale => PALE,
                    _ => MIXED,
                };
            }
        }
    }

    /// Whether anything in a tile may be pale, or so little beyond it that the tile's cells are looked at.
    fn is_pale_near(&self, rows: &Range<usize>, columns: &Range<usize>) -> bool {
        let [rows, columns] = [(rows, self.holds.height()), (columns, self.holds.width())]
            .map(|(of, size)| (of.start / 2).saturating_sub(BEYOND)..(of.end.div_ceil(2) + BEYOND).min(size));
        rows.into_iter().any(|y| self.holds.row(y)[columns.clone()].contains(&PALE))
    }

    /// Measures the cells of a tile. Pale is what is fainter than it may be where it is lighter than paper, and else fainter than
    /// [`FAINT`].
    fn measure(&mut self, tile: &Tile, evidence: &Evidence, cover: &Cover) {
        let faint = (FAINT * CONTRAST_STEPS) as u16;
        let (first, width) = (tile.columns().start / 2, tile.columns().len());
        let mut sums = [0, 1, 2].map(|_| vec![0.0_f32; width.div_ceil(2)]);
        for i in (0..tile.rows().len()).step_by(2) {
            let rows = i..(i + 2).min(tile.rows().len());
            sums.iter_mut().for_each(|sums| sums.fill(0.0));
            for i in rows.clone() {
                for (c, sums) in sums.iter_mut().enumerate() {
                    let (pairs, last) = tile.residual(c, i).as_chunks::<2>();
                    sums.iter_mut().zip(pairs).for_each(|(sum, [a, b])| *sum += a + b);
                    if let ([v], Some(sum)) = (last, sums.last_mut()) {
                        *sum += v;
                    }
                }
            }
            let y = (tile.rows().start + i) / 2;
            let (offs, holds) = (&mut self.off.row_mut(y)[first..], &mut self.holds.row_mut(y)[first..]);
            let all = |k: usize| rows.len() * (width - 2 * k).min(2);
            for (k, off) in offs.iter_mut().enumerate().take(sums[0].len()) {
                let steps = if all(k) == 4 { OFF_STEPS / 4.0 } else { OFF_STEPS / all(k) as f32 };
                *off = [0, 1, 2].map(|c| (sums[c][k] * steps) as i8);
            }
            for (k, cell) in holds.iter_mut().enumerate().take(sums[0].len()).filter(|(_, cell)| **cell == PALE) {
                let is_light = sums.iter().map(|sums| sums[k]).sum::<f32>() > 0.0;
                let pixels = grid::four(first + k, y, cover.cover.width(), cover.cover.height());
                let tops = pixels.filter(|(x, y)| painted(cover.cover.at(*x, *y)) == 1).map(|(x, y)| evidence.contrast.at(x, y));
                if !is_light && tops.max().is_some_and(|top| top >= faint) {
                    *cell = MIXED;
                }
            }
        }
    }

    fn off(&self, i: usize) -> [f32; 3] {
        self.off.data()[i].map(|v| f32::from(v) * (1.0 / OFF_STEPS))
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

    /// What is summed up over each of the `pale` regions; over one too large for a scrap, only its cells.
    pub(super) fn sums(&self, pale: &Regions, evidence: &Evidence, ppi: Ppi) -> Vec<Sums> {
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
        /// Pixels inside and outside of the side from which drops of the contrast begin, and over how many they go.
        const DROPS: Range<isize> = -2..4;
        const DROP: isize = 2;
        let (w, h) = (self.holds.width(), self.holds.height());
        let cell = |steps: isize| grid::step(i, direction, steps, w, h);
        let holds_paper = |j: &usize| self.holds.data()[*j] == PAPER;
        rim.strength += length(self.off(i));
        rim.foot += cell(1).map_or(0.0, |j| length(self.off(j)));
        if let Some(beyond) = cell(BEYOND as isize).filter(holds_paper) {
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

/// 1 for what is painted, 0 for what is not: the foot of an edge runs around all paint.
fn painted(bits: u8) -> u8 {
    u8::from(bits & (bits::PAINT | bits::FREE) == bits::PAINT)
}
