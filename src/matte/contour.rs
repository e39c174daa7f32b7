//! Faint contours: lines that drown in noise pixel by pixel, and are plain when followed along their direction.
//!
//! A ridge is dark against both its sides, so stains and shading do not show in it (second derivatives: Steger, "An unbiased
//! detector of curvilinear structures", 1998). It is a contour where the ridge goes on both ways: the weaker of the sums along
//! it, before and behind, counts, and a dot, an end of something else or a grain has none. What bare paper around does in the
//! same way sets the scale, and hysteresis finds the lines.

use super::cover::{Cover, Thresholds, bits};
use super::evidence::{BLOCK, bare_at};
use super::ridge::Ridges;
use crate::color::math::{max, min};
use crate::error::Result;
use crate::filter::{Connectivity, Regions, gauss, local_max};
use crate::image::{Plane, Sheet};
use crate::paper::tile::{self, Tile};
use crate::paper::{PaperField, SheetEdge};
use crate::units::Ppi;

/// Steps of a stored strength to bare paper's own.
const STEPS: f32 = 16.0;
/// A contour is this much stronger than bare paper's own ridges where it is strongest.
const HIGH: f32 = 3.0;
/// It is no shorter than this, in pixels at 300 ppi.
const SHORTEST: f32 = 24.0;
/// Side of the cells in which bare paper is looked at, in pixels.
const CELL: usize = 64;
/// This share of bare paper's pixels sets the scale, which is no finer than this, encoded, and in no cell smaller than this share
/// of the usual.
const QUANTILE: f32 = 0.9;
const FINEST: f32 = 2e-4;
const SMOOTHEST: f32 = 0.5;
/// A cell with fewer bare pixels tells little.
const LEAST: u32 = (CELL * CELL / 4) as u32;
/// Coding noise is mostly of other shapes, and raises the scale of a block by no more than this.
const CODED: f32 = 1.25;
/// Steps of a root of an encoded value: 4 counts of 255 fill the byte.
const ROOT_STEPS: f32 = 2000.0;

/// Looks for contours, some rows at a time.
#[derive(Debug)]
pub struct Tracing {
    /// Roots of how strong ridges are, in [`ROOT_STEPS`].
    roots: Plane<u8>,
    ridges: Ridges,
    scale: f32,
    tile: Tile,
    next: usize,
}

impl Tracing {
    /// Prepares for a sheet.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn new(sheet: &Sheet, field: &PaperField, ppi: Ppi) -> Result<Self> {
        let scale = ppi.coarseness();
        // On dark paper lines are light.
        let dark = field.is_dark();
        let roots = Plane::new(sheet.width(), sheet.height(), "the contours")?;
        Ok(Self { roots, ridges: Ridges::new(dark, scale), scale, tile: Tile::default(), next: 0 })
    }

    /// Works through the next rows; false when there were none left.
    pub fn advance(&mut self, sheet: &Sheet, field: &PaperField) -> bool {
        let Some(rows) = tile::next_rows(&mut self.next, sheet.height()) else { return false };
        for columns in tile::across(sheet.width()) {
            self.tile.load(sheet, field, rows.clone(), columns.clone(), self.ridges.halo());
            let strongest = self.ridges.strongest(&self.tile);
            for (y, row) in rows.clone().zip(strongest.chunks_exact(columns.len())) {
                for (out, v) in self.roots.row_mut(y)[columns.clone()].iter_mut().zip(row) {
                    *out = min(v.sqrt() * ROOT_STEPS, 255.0) as i32 as u8;
                }
            }
        }
        true
    }

    /// How far the work is, 0..1.
    #[must_use]
    pub fn progress(&self) -> f32 {
        self.next as f32 / self.roots.height() as f32
    }

    /// The contours by the `usual` thresholds: how strong each of their pixels is against bare paper, in sixteenths, and 0
    /// elsewhere. `noise` is that of the evidence.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn finish(self, field: &PaperField, edge: &SheetEdge, noise: &Plane<u8>, usual: &Thresholds) -> Result<Plane<u8>> {
        let bare = bare_scale(&self.roots, field)?;
        let mut strength = self.roots;
        let (w, h) = (strength.width(), strength.height());
        let mut outside = vec![0; w];
        for y in 0..h {
            let (bare, noise) = (bare.row(y / CELL), noise.row(y / BLOCK));
            let row = strength.row_mut(y);
            for (i, block) in row.chunks_mut(BLOCK).enumerate() {
                let coded = min(f32::from(noise[i]) * (1.0 / 16.0), CODED);
                let steps = STEPS / (bare[i * BLOCK / CELL] * coded);
                block.iter_mut().for_each(|v| *v = min(square(*v) * steps, 255.0) as i32 as u8);
            }
            if !edge.is_none() {
                edge.row_from(y, 0, &mut outside);
                row.iter_mut().zip(&outside).for_each(|(v, o)| *v *= 1 - o);
            }
        }
        drop_short(&mut strength, steps(usual), (SHORTEST * self.scale) as u32);
        Ok(strength)
    }
}

fn square(root: u8) -> f32 {
    f32::from(root) * f32::from(root)
}

/// The least strength of a contour.
fn steps(thresholds: &Thresholds) -> u8 {
    (thresholds.contour * STEPS).clamp(1.0, 255.0) as u8
}

/// Leaves the contours: what hangs together from `least` on, reaches [`HIGH`] somewhere, and is no shorter than `shortest`.
fn drop_short(strength: &mut Plane<u8>, least: u8, shortest: u32) {
    #[derive(Clone)]
    struct Found {
        top: u8,
        left: u32,
        right: u32,
        first: u32,
        last: u32,
    }
    let (w, h) = (strength.width(), strength.height());
    let regions = Regions::find(w, h, Connectivity::Eight, |y, row| {
        row.iter_mut().zip(strength.row(y)).for_each(|(out, v)| *out = u8::from(*v >= least));
    });
    let mut found = vec![Found { top: 0, left: u32::MAX, right: 0, first: u32::MAX, last: 0 }; regions.count()];
    for y in 0..h {
        let row = strength.row(y);
        for run in regions.row(y) {
            let found = &mut found[run.region as usize];
            found.top = row[run.start as usize..run.end as usize].iter().fold(found.top, |top, v| top.max(*v));
            (found.left, found.right) = (found.left.min(run.start), found.right.max(run.end));
            (found.first, found.last) = (found.first.min(y as u32), y as u32 + 1);
        }
    }
    let is_contour = |f: &Found| f.top >= (HIGH * STEPS) as u8 && (f.right - f.left).max(f.last - f.first) >= shortest;
    let kept: Vec<bool> = found.iter().map(is_contour).collect();
    for y in 0..h {
        let row = strength.row_mut(y);
        let mut dropped = 0;
        for run in regions.row(y).iter().filter(|run| kept[run.region as usize]) {
            row[dropped..run.start as usize].fill(0);
            dropped = run.end as usize;
        }
        row[dropped..].fill(0);
    }
}

/// Takes the contours that hang together with paint for paint, for the while that free regions are told apart. Beside strong
/// paint, and where lines meet, there is a gap in them.
///
/// # Errors
/// When there is no memory.
pub fn raise(cover: &mut Cover, contours: &Plane<u8>, thresholds: &Thresholds, ppi: Ppi) -> Result<()> {
    /// Half of such a gap, in pixels at 300 ppi.
    const GAP: f32 = 4.0;
    let least = steps(thresholds);
    let (w, h) = (cover.cover.width(), cover.cover.height());
    let solid = |c: u8| c & (bits::PAINT | bits::FREE) == bits::PAINT;
    let near = local_max::square(contours, (GAP * ppi.coarseness()) as usize)?;
    let regions = Regions::find(w, h, Connectivity::Eight, |y, row| {
        for ((out, c), strength) in row.iter_mut().zip(cover.cover.row(y)).zip(near.row(y)) {
            *out = u8::from(solid(*c) || *strength >= least);
        }
    });
    let mut joined = vec![false; regions.count()];
    for y in 0..h {
        let row = cover.cover.row(y);
        for run in regions.row(y) {
            let region = run.region as usize;
            joined[region] = joined[region] || row[run.start as usize..run.end as usize].iter().any(|c| solid(*c));
        }
    }
    for y in 0..h {
        let (row, contours) = (cover.cover.row_mut(y), contours.row(y));
        for run in regions.row(y).iter().filter(|run| joined[run.region as usize]) {
            let range = run.start as usize..run.end as usize;
            for (c, strength) in row[range.clone()].iter_mut().zip(&contours[range]) {
                if *strength >= least && !solid(*c) && *c & bits::OUTSIDE == 0 {
                    *c = (*c | bits::CONTOUR | bits::PAINT) & !bits::FREE;
                }
            }
        }
    }
    Ok(())
}

/// Keeps the raised contours beside what is kept, and clears the others like the foot of an edge.
pub fn settle(cover: &mut Cover) {
    /// Half as wide as a contour's ridge, and a pixel.
    const REACH: usize = 2;
    let (w, h) = (cover.cover.width(), cover.cover.height());
    let kept = |c: &u8| c & (bits::CONTOUR | bits::FREE | bits::CLEARED) == bits::FREE;
    for y in 0..h {
        // Most rows, and all of a scan that was not traced, have none.
        if cover.cover.row(y).iter().fold(0, |all, c| all | c) & bits::CONTOUR == 0 {
            continue;
        }
        for x in 0..w {
            let c = cover.cover.at(x, y);
            if c & bits::CONTOUR == 0 {
                continue;
            }
            let columns = x.saturating_sub(REACH)..(x + REACH + 1).min(w);
            let mut rows = y.saturating_sub(REACH)..(y + REACH + 1).min(h);
            let beside = rows.any(|y| cover.cover.row(y)[columns.clone()].iter().any(kept));
            let settled = if beside { c & !(bits::FREE | bits::CLEARED) } else { c | bits::FREE | bits::CLEARED };
            cover.cover.set(x, y, settled);
        }
    }
}

/// How strong bare paper's own ridges are in each cell of the sheet, as squares of roots; where there is little bare paper, how
/// strong they are nearby.
fn bare_scale(roots: &Plane<u8>, field: &PaperField) -> Result<Plane<f32>> {
    /// A cell far from all bare paper takes the usual.
    const USUAL: f32 = 0.01;
    let (w, h) = (roots.width(), roots.height());
    let (cols, rows) = (w.div_ceil(CELL), h.div_ceil(CELL));
    let mut sums: Plane<f32> = Plane::new(cols, rows, "the contours")?;
    let mut weights: Plane<f32> = Plane::new(cols, rows, "the contours")?;
    let mut all = [0_u32; 256];
    for row in 0..rows {
        for column in 0..cols {
            let counts = count_bare(roots, field, column * CELL, row * CELL);
            all.iter_mut().zip(&counts).for_each(|(all, n)| *all += n);
            if counts.iter().sum::<u32>() >= LEAST {
                sums.set(column, row, scale_of(&counts));
                weights.set(column, row, 1.0);
            }
        }
    }
    let usual = scale_of(&all);
    sums.data_mut().iter_mut().zip(weights.data()).for_each(|(sum, weight)| *sum = weight * max(*sum, SMOOTHEST * usual));
    gauss::blur(&mut sums, 1.0)?;
    gauss::blur(&mut weights, 1.0)?;
    sums.data_mut().iter_mut().zip(weights.data()).for_each(|(sum, weight)| *sum = (*sum + USUAL * usual) / (weight + USUAL));
    Ok(sums)
}

/// How often each root stands in the bare part of a cell.
fn count_bare(roots: &Plane<u8>, field: &PaperField, left: usize, top: usize) -> [u32; 256] {
    let side = field.cell();
    let (right, bottom) = ((left + CELL).min(roots.width()), (top + CELL).min(roots.height()));
    let mut counts = [0; 256];
    for j in top / side..bottom.div_ceil(side) {
        for i in (left / side..right.div_ceil(side)).filter(|i| bare_at(field, *i, j)) {
            for y in top.max(j * side)..bottom.min((j + 1) * side) {
                let row = &roots.row(y)[left.max(i * side)..right.min((i + 1) * side)];
                row.iter().for_each(|root| counts[usize::from(*root)] += 1);
            }
        }
    }
    counts
}

/// The square of the root that [`QUANTILE`] of the counted do not exceed.
fn scale_of(counts: &[u32; 256]) -> f32 {
    let mut left = (QUANTILE * counts.iter().sum::<u32>() as f32) as u32;
    let reached = |n: &u32| {
        let here = *n > left;
        left = left.saturating_sub(*n);
        here
    };
    let root = counts.iter().position(reached).unwrap_or(0);
    max(square(root as u8), FINEST * ROOT_STEPS * ROOT_STEPS)
}
