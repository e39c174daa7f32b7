//! Cover: which pixels are painted, which are bare, which lie outside the sheet.
//!
//! Evidence is thresholded with hysteresis (Canny 1986): what is surely paint pulls in what touches it and is likely
//! paint. The foot of a blurred edge is then cut back to half the contrast of its own stroke, so that the outline lies
//! where the stroke's does, and what remains bare is joined to the outside or listed as an island.

use std::ops::Range;

use super::evidence::{BLOCK, CONTRAST_STEPS, Evidence, RINGING, STEPS, unbiased};
use crate::color::math;
use crate::error::Result;
use crate::filter::vector::length;
use crate::filter::{Connectivity, Regions, distance, gauss, grid, local_max};
use crate::image::{Plane, Sheet};
use crate::paper::tile::{self, Tile};
use crate::paper::{PaperField, SheetEdge};
use crate::units::Ppi;

/// Thresholds on the evidence, in deviations of bare paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thresholds {
    /// One fine pixel this far off is paint.
    pub fine_high: f32,
    /// One this far off is paint when it touches paint.
    pub fine_low: f32,
    /// As `fine_high`, for the pooling over about 2 pixels.
    pub middle_high: f32,
    /// As `fine_low`, for the pooling over about 2 pixels.
    pub middle_low: f32,
    /// For the pooling over about 5 pixels, high and low.
    pub wide: f32,
    /// One this far off along the hue of the pale paint about is paint when it touches paint.
    pub along_hue: f32,
    /// A wash too faint for all these, but told by its border, is paint where so large a share of its depth shows.
    pub light_wash: f32,
    /// A contour is this much stronger than bare paper's own ridges, all along.
    pub contour: f32,
}

impl Thresholds {
    /// The thresholds for a tolerance of 0..100. They double every 25 steps, so a higher tolerance keeps less.
    #[must_use]
    pub fn for_tolerance(tolerance: f32) -> Self {
        let factor = crate::color::math::powf(2.0, (tolerance - 50.0) / 25.0);
        Self {
            fine_high: 7.0 * factor,
            fine_low: 4.5 * factor,
            middle_high: 6.0 * factor,
            middle_low: 4.0 * factor,
            wide: 6.0 * factor,
            along_hue: ALONG_HUE * factor,
            light_wash: 0.5 * factor,
            contour: 1.3 * factor,
        }
    }
}

/// [`Thresholds::along_hue`] at the usual tolerance.
pub(super) const ALONG_HUE: f32 = 3.0;

/// What the painter's own strokes say, a byte a pixel.
pub mod stroke {
    /// Nothing.
    pub const NONE: u8 = 0;
    /// Keep as paint.
    pub const KEEP: u8 = 1;
    /// Clear as paper.
    pub const CLEAR: u8 = 2;
}

/// Coding leaves no more contrast than this beside the strongest edge, black on white in all three channels.
const MOST_OF_CODING: u16 = (RINGING * 1.732 * CONTRAST_STEPS) as u16;

const UNLIKELY: u8 = 0;
const SURE: u8 = 2;

/// How sure one row of the sheet is to be paint.
fn sureness(
    (field, evidence): (&PaperField, &Evidence),
    edge: &SheetEdge,
    strokes: Option<&Plane<u8>>,
    limits: &Limits,
    y: usize,
    row: &mut [u8],
) {
    let fine = evidence.fine.row(y);
    let (middle, wide) = (evidence.middle.row(y / 2), evidence.wide.row(y / 4));
    let noise = evidence.noise.as_ref().map(|noise| between_blocks(noise, y, row.len()));
    if let Some(noise) = &noise {
        let contrast = evidence.contrast.row(y);
        for (x, (out, n)) in row.iter_mut().zip(noise).enumerate() {
            let less = |deviations: u8| (u16::from(deviations) * 16 / n.max(&1)) as u8;
            // Distances are stored up to a limit: of a line beyond it nothing may be taken away that coding does not leave.
            let f = if contrast[x] > MOST_OF_CODING { fine[x] } else { less(fine[x]) };
            let m = less(middle[x / 2]);
            // Coding noise is of one block; half of it is gone where several are pooled.
            let v = (u16::from(wide[x / 4]) * 32 / (n + 16)) as u8;
            *out = limits.judge(f, m, v);
        }
    } else {
        // Two pixels share a middle value, and four a wide one.
        let (middle, wide) = (doubled(middle), doubled(&doubled(wide)));
        for (((out, fine), middle), wide) in row.iter_mut().zip(fine).zip(&middle).zip(&wide) {
            *out = limits.judge(*fine, *middle, *wide);
        }
    }
    if let Some(along) = &evidence.along_hue {
        for (x, strength) in along.strength.row(y / 2).iter().enumerate().filter(|(_, strength)| **strength >= limits.along_hue) {
            // Of coding noise, which is of every hue, a quarter is left along one where several blocks are pooled.
            let n = noise.as_ref().map_or(16, |noise| noise[2 * x]);
            if u16::from(*strength) * 64 / (n + 48) >= u16::from(limits.along_hue) {
                row.iter_mut().skip(2 * x).take(2).for_each(|out| *out |= u8::from(*out == UNLIKELY));
            }
        }
    }
    let width = row.len();
    field.light_wash(y, limits.light_wash).take_while(|x| *x < width).for_each(|x| row[x] = SURE);
    if let Some(strokes) = strokes {
        for (out, s) in row.iter_mut().zip(strokes.row(y)) {
            match *s {
                stroke::KEEP => *out = SURE,
                stroke::CLEAR => *out = UNLIKELY,
                _ => {}
            }
        }
    }
    if !edge.is_none() {
        let mut outside = vec![0; row.len()];
        edge.row_from(y, 0, &mut outside);
        row.iter_mut().zip(&outside).for_each(|(out, o)| *out *= 1 - o);
    }
}

/// A row of `width` pixels of what is known of blocks, drawn from the middle of each straight to that of the next, so that what is
/// told by it does not end in steps as large as they are.
fn between_blocks(blocks: &Plane<u8>, y: usize, width: usize) -> Vec<u16> {
    let mix = |a: u16, b: u16, part: usize| a * (2 * BLOCK - part) as u16 + b * part as u16;
    let (above, below, part) = grid::between(y, BLOCK, blocks.height());
    let rows = blocks.row(above).iter().zip(blocks.row(below));
    let line: Vec<u16> = rows.map(|(a, b)| mix(u16::from(*a), u16::from(*b), part)).collect();
    (0..width)
        .map(|x| {
            let (left, right, part) = grid::between(x, BLOCK, line.len());
            mix(line[left], line[right], part) / (4 * BLOCK * BLOCK) as u16
        })
        .collect()
}

/// Every value twice.
fn doubled(row: &[u8]) -> Vec<u8> {
    row.iter().flat_map(|v| [*v; 2]).collect()
}

/// [`Thresholds`] in the evidence's own steps.
struct Limits {
    each: [u8; 5],
    along_hue: u8,
    light_wash: f32,
}

impl Limits {
    fn new(t: &Thresholds) -> Self {
        let steps = |v: f32| (v * STEPS).clamp(1.0, 255.0) as u8;
        let each = [t.fine_high, t.fine_low, t.middle_high, t.middle_low, t.wide].map(steps);
        Self { each, along_hue: steps(t.along_hue), light_wash: t.light_wash }
    }

    #[inline]
    fn judge(&self, fine: u8, middle: u8, wide: u8) -> u8 {
        let [fine_high, fine_low, middle_high, middle_low, wide_both] = self.each;
        let sure = u8::from(fine >= fine_high) | u8::from(middle >= middle_high) | u8::from(wide >= wide_both);
        let likely = u8::from(fine >= fine_low) | u8::from(middle >= middle_low);
        // Sure is likely too.
        (sure << 1) | (likely & !sure)
    }
}

/// Finds the painted regions, marks and all: regions of likely paint that hold sure paint.
///
/// Returns all regions of likely paint, and for each whether it holds sure paint.
///
/// # Errors
/// When there is no memory.
pub fn detect(
    field: &PaperField,
    evidence: &Evidence,
    edge: &SheetEdge,
    strokes: Option<&Plane<u8>>,
    thresholds: &Thresholds,
) -> Result<(Regions, Vec<bool>)> {
    let (w, h) = (evidence.fine.width(), evidence.fine.height());
    let limits = Limits::new(thresholds);
    let mut codes: Plane<u8> = Plane::new(w, h, "the cover")?;
    let regions = Regions::find(w, h, Connectivity::Eight, |y, row| {
        sureness((field, evidence), edge, strokes, &limits, y, row);
        codes.row_mut(y).copy_from_slice(row);
    });
    let mut sure = vec![false; regions.count()];
    for y in 0..h {
        let row = codes.row(y);
        for run in regions.row(y) {
            let region = run.region as usize;
            sure[region] = sure[region] || row[run.start as usize..run.end as usize].contains(&SURE);
        }
    }
    Ok((regions, sure))
}

/// What a pixel is, as bits.
pub mod bits {
    /// Painted, as far as the evidence goes.
    pub const PAINT: u8 = 1;
    /// Not painted, or the foot of an edge.
    pub const FREE: u8 = 2;
    /// Beyond the sheet.
    pub const OUTSIDE: u8 = 4;
    /// Kept by the painter's own stroke: never cut back.
    pub const HELD: u8 = 16;
    /// Free and to be cleared.
    pub const CLEARED: u8 = 8;
    /// Free, and cleared or kept as is decided: paper, and no unevenness of the paint.
    pub const GROUND: u8 = 32;
    /// Of a faint contour: it parts what is free, and is kept only beside what is kept.
    pub const CONTOUR: u8 = 64;
}

/// The cover of a sheet.
#[derive(Debug)]
pub struct Cover {
    /// [`bits`] of every pixel.
    pub cover: Plane<u8>,
    /// Distance from painted pixels to the nearest that is not, in fifths of a pixel.
    pub depth: Plane<u8>,
}

impl Cover {
    /// The painted pixels: regions for which `kept` holds.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn of_regions(regions: &Regions, kept: &[bool], width: usize, edge: &SheetEdge) -> Result<Self> {
        let height = regions.height();
        let mut cover: Plane<u8> = Plane::new(width, height, "the cover")?;
        let mut depth = Plane::new(width, height, "the cover")?;
        let mut outside = vec![0; width];
        for y in 0..height {
            let (row, deep) = (cover.row_mut(y), depth.row_mut(y));
            row.fill(bits::FREE);
            for run in regions.row(y).iter().filter(|run| kept[run.region as usize]) {
                row[run.start as usize..run.end as usize].fill(bits::PAINT);
                deep[run.start as usize..run.end as usize].fill(distance::FAR);
            }
            if !edge.is_none() {
                edge.row_from(y, 0, &mut outside);
                row.iter_mut().zip(&outside).filter(|(_, o)| **o != 0).for_each(|(r, _)| *r = bits::FREE | bits::OUTSIDE);
            }
        }
        distance::chamfer(&mut depth);
        Ok(Self { cover, depth })
    }

    /// Takes regions out of the paint again. Regions never touch, so the depth of the others stays what it is.
    pub fn drop_regions(&mut self, regions: &Regions, dropped: &[bool]) {
        for y in 0..regions.height() {
            for run in regions.row(y).iter().filter(|run| dropped[run.region as usize]) {
                let range = run.start as usize..run.end as usize;
                self.depth.row_mut(y)[range.clone()].fill(0);
                for c in &mut self.cover.row_mut(y)[range] {
                    *c = (*c & !bits::PAINT) | bits::FREE;
                }
            }
        }
    }

    /// Takes a pixel out of the paint, unless the painter's stroke holds it.
    pub fn bare(&mut self, x: usize, y: usize) {
        let bits = self.cover.at(x, y);
        if bits & bits::HELD == 0 {
            self.cover.set(x, y, (bits & !bits::PAINT) | bits::FREE);
        }
    }

    /// As [`Self::bare`], and clears it.
    pub fn clear(&mut self, x: usize, y: usize) {
        let bits = self.cover.at(x, y);
        if bits & bits::HELD == 0 {
            self.cover.set(x, y, (bits & !bits::PAINT) | bits::FREE | bits::CLEARED);
        }
    }

    /// Takes a pixel for paint, unless it lies outside.
    pub fn paint(&mut self, x: usize, y: usize) {
        let bits = self.cover.at(x, y);
        if bits & bits::OUTSIDE == 0 {
            self.cover.set(x, y, (bits | bits::PAINT) & !(bits::FREE | bits::CLEARED | bits::GROUND));
        }
    }

    /// Gives back the memory of the depth, once all marks are told.
    pub fn forget_depth(&mut self) {
        self.depth = Plane::from_vec(0, 0, Vec::new());
    }

    /// Marks what the painter's strokes keep.
    pub fn hold(&mut self, strokes: &Plane<u8>) {
        for (c, s) in self.cover.data_mut().iter_mut().zip(strokes.data()) {
            *c |= if *s == stroke::KEEP { bits::HELD } else { 0 };
        }
    }
}

/// Cuts the foot of blurred edges back to half the contrast of their own stroke.
#[derive(Debug, Default)]
pub struct Trim {
    tile: Tile,
    buffers: TrimBuffers,
    next: usize,
    /// The scan's blur in pixels.
    sigma: f32,
    /// [`FAINT_DEEPEST`] at the sheet's resolution.
    faint_deepest: u8,
}

#[derive(Debug, Default)]
struct TrimBuffers {
    deviations: Vec<u8>,
    around: Vec<u16>,
    across: Vec<u16>,
    top: Vec<u16>,
    /// Pixels that may be paper between lines: row and column.
    valleys: Vec<(usize, usize)>,
    /// How far the pixels of a tile lie off the paper.
    strength: Vec<f32>,
}

/// Feet are cut no deeper than this, in fifths of a pixel; those of faint paint, found by poolings that reach far beyond it,
/// no deeper than this at 300 ppi.
const DEEPEST: u8 = 33;
const FAINT_DEEPEST: f32 = 45.0;
/// Half of what faint paint has about it, less what the strongest of many noisy values is too strong by.
const FAINT_HALF: f32 = 0.5;
/// Paint of no more contrast than this may have half of it where tooth lies against it, and no foot there: deviations tell.
const LIKE_TOOTH: f32 = 0.09;
/// Pale paint beside a line is at least this share of it; what is fainter may be what the line's blur leaves.
const BESIDE_LINE: f32 = 0.35;
/// Paper between close lines is found no deeper than this, in fifths of a pixel.
const HATCHED: u8 = 150;
/// It is off the paper by no more than so many times what spills over from the lines beside it, and a little noise; or
/// fainter than this share of them; or no further off than so many deviations at the finest scale, and fainter than a larger
/// share.
const SPILLED: f32 = 1.25;
const NOISE: f32 = 0.012;
const FAINT: f32 = 0.15;
const AS_PAPER: f32 = 4.5;
const BETWEEN: f32 = 0.35;
/// A pixel between lines is fainter than this share of what is about it, after the blur of the finest pooling.
const VALLEY: f32 = 0.75;
/// Variance of a fine line's own profile: 1.7 pixels wide.
const FINE_LINE: f32 = 0.24;
/// Reach over which a stroke's own contrast is looked for, in pixels.
const REACH: usize = 3;
/// Reach over which lines are looked for beside a pixel, in pixels.
const LINES: usize = 4;

impl Trim {
    /// `sigma` is the scan's blur in pixels.
    #[must_use]
    pub fn new(sigma: f32, ppi: Ppi) -> Self {
        let scale = ppi.coarseness();
        Self { sigma, faint_deepest: (FAINT_DEEPEST * scale) as u8, ..Self::default() }
    }

    /// Works through the next row of tiles; false when there was none left.
    pub fn advance(&mut self, sheet: &Sheet, field: &PaperField, evidence: &Evidence, cover: &mut Cover) -> bool {
        let Some(rows) = tile::next_rows(&mut self.next, sheet.height()) else { return false };
        for columns in tile::across(sheet.width()) {
            let near = |d: &u8| *d > 0 && *d <= HATCHED;
            if rows.clone().any(|y| cover.depth.row(y)[columns.clone()].iter().any(near)) {
                self.tile(sheet, field, evidence, cover, rows.clone(), columns);
            }
        }
        true
    }

    fn tile(
        &mut self,
        sheet: &Sheet,
        field: &PaperField,
        evidence: &Evidence,
        cover: &mut Cover,
        rows: Range<usize>,
        columns: Range<usize>,
    ) {
        let TrimBuffers { deviations, around, across, top, valleys, strength } = &mut self.buffers;
        let (n, contrast) = (columns.len(), &evidence.contrast);
        around.resize(n + 2 * REACH, 0);
        across.resize((rows.len() + 2 * REACH) * n, 0);
        for (i, to) in across.chunks_exact_mut(n).enumerate() {
            let y = gauss::mirror((rows.start + i) as isize - REACH as isize, sheet.height());
            evidence.strong_contrast(y, columns.start as isize - REACH as isize, deviations, around);
            local_max::inside(around, REACH, to);
        }
        top.resize(n, 0);
        valleys.clear();
        for (i, y) in rows.clone().enumerate() {
            local_max::across_rows(across[i * n..(i + 2 * REACH + 1) * n].chunks_exact(n), top);
            let here = &contrast.row(y)[columns.clone()];
            let (middle, middle_top) = (evidence.middle.row(y / 2), evidence.middle_top.row(y / 2));
            let depth = &cover.depth.row(y)[columns.clone()];
            let along = evidence.along_hue.as_ref().map(|along| (along.strength.row(y / 2), along.top.row(y / 2)));
            for (k, out) in cover.cover.row_mut(y)[columns.clone()].iter_mut().enumerate() {
                if depth[k] == 0 || depth[k] > HATCHED || *out & bits::HELD != 0 {
                    continue;
                }
                let (own, strongest) = (f32::from(here[k]), f32::from(top[k]));
                if depth[k] > if top[k] == 0 { self.faint_deepest } else { DEEPEST } {
                    // A valley, even blurred, before anything costlier is asked.
                    if own < VALLEY * strongest {
                        valleys.push((i, k));
                    }
                    continue;
                }
                let half = (columns.start + k) / 2;
                // Faint paint is as strong as its tooth, and only pooling tells where it ends; strong paint is not pooled.
                let foot = if top[k] == 0 {
                    unbiased(middle[half]) < FAINT_HALF * unbiased(middle_top[half])
                } else {
                    own < 0.5 * strongest && (strongest > LIKE_TOOTH * CONTRAST_STEPS || is_foot(evidence, columns.start + k, y))
                };
                // Pale paint beside a line drawn over it is fainter than half of the line, and no foot of it.
                let of_hue = |(strength, top): (&[u8], &[u8])| {
                    let off = f32::from(strength[half]);
                    off >= ALONG_HUE * STEPS && off >= FAINT_HALF * f32::from(top[half]) && own >= BESIDE_LINE * strongest
                };
                if foot && !along.is_some_and(of_hue) {
                    *out |= bits::FREE;
                }
            }
        }
        if valleys.is_empty() {
            return;
        }
        self.tile.load(sheet, field, rows.clone(), columns.clone(), LINES);
        let stride = self.tile.stride();
        strength.resize(stride * self.tile.tall(), 0.0);
        for (i, row) in strength.chunks_exact_mut(stride).enumerate() {
            let [r, g, b] = [0, 1, 2].map(|c| self.tile.residual(c, i));
            for (((out, r), g), b) in row.iter_mut().zip(r).zip(g).zip(b) {
                *out = length([*r, *g, *b]);
            }
        }
        let spread = self.sigma * self.sigma + FINE_LINE;
        for (i, k) in valleys {
            let (x, y) = (columns.start + *k, rows.start + *i);
            let as_paper = f32::from(evidence.fine.at(x, y)) < AS_PAPER * STEPS;
            if between_lines(strength, stride, (LINES + *i, LINES + *k), spread, as_paper) {
                cover.cover.row_mut(y)[x] |= bits::FREE;
            }
        }
    }
}

/// Whether a pixel lies not half as many deviations off the paper as the strongest about it.
fn is_foot(evidence: &Evidence, x: usize, y: usize) -> bool {
    let (w, h) = (evidence.fine.width(), evidence.fine.height());
    let columns = x.saturating_sub(REACH)..(x + REACH + 1).min(w);
    let rows = y.saturating_sub(REACH)..(y + REACH + 1).min(h);
    let top = rows.flat_map(|y| &evidence.fine.row(y)[columns.clone()]).fold(0, |top, z| top.max(*z));
    unbiased(evidence.fine.at(x, y)) < FAINT_HALF * unbiased(top)
}

/// Whether a pixel is paper between two lines: fainter than half of either, and no further off the paper than their blur
/// spills over, or as paper is anyway. `strength` is how far pixels lie off the paper, in rows of `stride`, and `spread` the
/// variance of a blurred line's profile.
fn between_lines(strength: &[f32], stride: usize, (row, column): (usize, usize), spread: f32, as_paper: bool) -> bool {
    let strength = |x: usize, y: usize| strength[y * stride + x];
    let own = strength(column, row);
    [(1_isize, 0_isize), (0, 1), (1, 1), (1, -1)].into_iter().any(|(dx, dy)| {
        let step = (dx * dx + dy * dy) as f32;
        let side = |sign: isize| {
            (1..=LINES as isize)
                .map(|i| (strength((column as isize + sign * i * dx) as usize, (row as isize + sign * i * dy) as usize), i))
                .fold((0.0_f32, 1_isize), |best, next| if next.0 > best.0 { next } else { best })
        };
        let (left, right) = (side(1), side(-1));
        let spilled = |(strength, i): (f32, isize)| strength * math::expf(-step * (i * i) as f32 / (2.0 * spread));
        let weaker = math::min(left.0, right.0);
        let little = own < FAINT * weaker || as_paper && own < BETWEEN * weaker;
        own < 0.5 * weaker && (little || own < SPILLED * (spilled(left) + spilled(right)) + NOISE)
    })
}

/// The regions of paint whose feet are cut, corners touching.
#[must_use]
pub fn solid_regions(cover: &Cover) -> Regions {
    let (w, h) = (cover.cover.width(), cover.cover.height());
    Regions::find(w, h, Connectivity::Eight, |y, row| {
        row.iter_mut()
            .zip(cover.cover.row(y))
            .for_each(|(out, c)| *out = u8::from(c & (bits::PAINT | bits::FREE) == bits::PAINT));
    })
}

/// The regions of free pixels, sides touching; those of the outside among them.
#[must_use]
pub fn free_regions(cover: &Cover) -> Regions {
    let (w, h) = (cover.cover.width(), cover.cover.height());
    Regions::find(w, h, Connectivity::Four, |y, row| {
        row.iter_mut().zip(cover.cover.row(y)).for_each(|(out, c)| *out = c & bits::FREE);
    })
}

/// Which free regions reach the border of the scan or the outside of the sheet.
#[must_use]
pub fn open_regions(cover: &Cover, free: &Regions) -> Vec<bool> {
    let mut open = vec![false; free.count()];
    let (w, h) = (cover.cover.width(), cover.cover.height());
    for y in 0..h {
        let row = cover.cover.row(y);
        for run in free.row(y) {
            let (start, end) = (run.start as usize, run.end as usize);
            let border = y == 0 || y + 1 == h || start == 0 || end == w;
            let region = run.region as usize;
            open[region] = open[region] || border || row[start..end].iter().any(|c| c & bits::OUTSIDE != 0);
        }
    }
    open
}

/// Marks the pixels of the free regions for which `ground` holds as ground.
pub fn mark_ground(cover: &mut Cover, free: &Regions, ground: &[bool]) {
    for y in 0..free.height() {
        let row = cover.cover.row_mut(y);
        for run in free.row(y).iter().filter(|run| ground[run.region as usize]) {
            row[run.start as usize..run.end as usize].iter_mut().for_each(|c| *c |= bits::GROUND);
        }
    }
}

/// Marks the pixels of the free regions for which `clear` holds as cleared.
pub fn clear_regions(cover: &mut Cover, free: &Regions, clear: &[bool]) {
    for y in 0..free.height() {
        let row = cover.cover.row_mut(y);
        for run in free.row(y) {
            let range = run.start as usize..run.end as usize;
            if clear[run.region as usize] {
                row[range].iter_mut().for_each(|c| *c |= bits::CLEARED);
            } else {
                row[range].iter_mut().for_each(|c| *c &= !bits::CLEARED);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: the middles of the first and second block of eight lie at 3.5 and 11.5.
    #[test]
    fn blocks_are_drawn_from_middle_to_middle() {
        let blocks = Plane::from_vec(2, 1, vec![16, 32]);
        let row = between_blocks(&blocks, 5, 13);
        assert_eq!(row, [16, 16, 16, 16, 17, 19, 21, 23, 25, 27, 29, 31, 32]);
        let steep = Plane::from_vec(1, 2, vec![0, 255]);
        assert_eq!([3, 4, 11, 12].map(|y| between_blocks(&steep, y, 1)[0]), [0, 15, 239, 255], "down the sheet, and no overflow");
    }
}
