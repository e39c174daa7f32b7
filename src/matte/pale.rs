//! Where the outline of pale paint runs.
//!
//! Pale paint is hardly stronger than the paper's tooth, and one pixel tells nothing. Several do: pooled, and measured along the
//! paint's own color, they are half of it at the outline (the matched filter, Turin 1960). How far from it a pixel lies is then
//! told by the weaker or stronger half, and by the cover, each by the inverse of its variance.

use super::evidence::{BLOCK, Evidence};
use super::fade::CELL;
use super::hue::PALE;
use crate::color::math::{self, max};
use crate::error::Result;
use crate::filter::vector::{difference, dot, length};
use crate::filter::{distance, gauss, grid};
use crate::image::Plane;
use crate::units::Ppi;

/// The paint's own color is that of cells this deep in it, in fifths of a pixel, as far off as a blur of so many pixels at
/// 300 ppi reaches.
pub(super) const DEEP: u8 = 4 * distance::UNIT;
const REACH: f32 = 10.0;
/// Side of the squares in which it is summed up, in pixels.
const SIDE: usize = 8;
/// There is some of it about, in cells to a square.
const LEAST: f32 = 0.12;
/// Standard deviation of what the cover says about where the outline runs, in pixels: tooth that lies against paint bites it.
const COVER: f32 = 2.5;
/// No more than this is said about how far a pixel lies from it, in pixels.
const FAR: f32 = 5.0;
/// Deviation of the middle pooling in pixels at 300 ppi.
const POOLED: f32 = 2.0;

/// The colors of the pale paint of a sheet.
#[derive(Debug)]
pub(super) struct Pale {
    /// For each square of [`SIDE`] pixels what measures a residual, as a share of the paint's own, and how many deviations off the
    /// paper that is; none where there is no pale paint about.
    along: Plane<([f32; 3], f32)>,
    /// The share of its strength that pale paint has left at its outline.
    half: f32,
    /// Pixels over which pale paint rises at its outline from none to all, as pooled.
    rise: f32,
}

impl Pale {
    /// `depth` is the distance from paint to the ground, in fifths of a pixel, `sigma` the scan's blur in pixels, and `tolerance` is
    /// that of the recipe.
    pub(super) fn new(evidence: &Evidence, depth: &Plane<u8>, sigma: f32, tolerance: f32, ppi: Ppi) -> Result<Self> {
        const CELLS: usize = SIDE / CELL;
        let coarse = &evidence.coarse;
        let empty = || Plane::<f32>::new(coarse.width().div_ceil(CELLS), coarse.height().div_ceil(CELLS), "the matte");
        let mut around = [empty()?, empty()?, empty()?, empty()?];
        for y in 0..coarse.height() {
            let depths = depth.row((y * CELL + CELL / 2).min(depth.height() - 1));
            for (x, residual) in coarse.row(y).iter().enumerate() {
                let residual = [residual[0], residual[1], residual[2]];
                if depths[(x * CELL + CELL / 2).min(depths.len() - 1)] >= DEEP && length(residual) < PALE {
                    let (x, y) = (x / CELLS, y / CELLS);
                    let added = [residual[0], residual[1], residual[2], 1.0];
                    around.iter_mut().zip(added).for_each(|(sum, v)| sum.set(x, y, sum.at(x, y) + v));
                }
            }
        }
        for plane in &mut around {
            gauss::blur(plane, REACH * ppi.coarseness() / SIDE as f32)?;
        }
        let tooth = &evidence.middle_tooth;
        let [r, g, b, count] = &around;
        let told = |i: usize| {
            let count = count.data()[i];
            if count < LEAST {
                return ([0.0; 3], 0.0);
            }
            let own = difference([r, g, b].map(|sum| sum.data()[i] / count), tooth.mean());
            let matched = tooth.matched(own);
            let deviations = max(dot(matched, own), 1e-3);
            (matched.map(|v| v / deviations), deviations)
        };
        let along = Plane::from_vec(count.width(), count.height(), (0..count.data().len()).map(told).collect());
        let pooled = POOLED * ppi.coarseness();
        // From .35 to .71: more is said to be paint by a lower tolerance, whatever the cover says.
        let half = 0.5 * math::powf(2.0, (tolerance - 50.0) / 100.0);
        Ok(Self { along, half, rise: gauss::ROOT_TWO_PI * (pooled * pooled + sigma * sigma).sqrt() })
    }

    /// How far a pixel is painted, 0..1, that lies so many pixels inside by the cover, or outside if less than none. `None` where
    /// there is no pale paint about, or something stronger.
    pub(super) fn painted(&self, evidence: &Evidence, x: usize, y: usize, inside: f32) -> Option<f32> {
        let (along, deviations) = self.along.at(x / SIDE, y / SIDE);
        if deviations == 0.0 {
            return None;
        }
        let share = dot(difference(pooled(&evidence.pooled, x, y)?, evidence.middle_tooth.mean()), along);
        let noise = evidence.noise.as_ref().map_or(1.0, |noise| f32::from(noise.at(x / BLOCK, y / BLOCK)) * (1.0 / 16.0));
        let told = ((share - self.half) * self.rise).clamp(-FAR, FAR);
        let doubt = noise * self.rise / deviations;
        let (by_color, by_cover) = (1.0 / (doubt * doubt), 1.0 / (COVER * COVER));
        let from_outline = (told * by_color + inside.clamp(-FAR, FAR) * by_cover) / (by_color + by_cover);
        Some((from_outline + 0.5).clamp(0.0, 1.0))
    }
}

/// The pooled residual at a pixel, straight between those about it; `None` where strong paint is among them.
fn pooled(plane: &Plane<[f32; 3]>, x: usize, y: usize) -> Option<[f32; 3]> {
    let (left, right, across) = grid::between(x, 2, plane.width());
    let (above, below, down) = grid::between(y, 2, plane.height());
    let [across, down] = [across, down].map(|part| part as f32 * 0.25);
    let mut sum = [0.0; 3];
    for (v, share) in [(above, 1.0 - down), (below, down)] {
        for (u, part) in [(left, 1.0 - across), (right, across)] {
            let value = plane.at(u, v);
            if value == [0.0; 3] {
                return None;
            }
            (0..3).for_each(|c| sum[c] += share * part * value[c]);
        }
    }
    Some(sum)
}
