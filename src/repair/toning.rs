//! Toning and stains of old paper: faint areas without an edge.
//!
//! The evidence cannot tell a stain from a pale wash. Its border can: a wash ends there, whether it dried with an edge or ran
//! out to nothing, and beyond it is bare paper; a stain goes on below whatever it was cut at. So of each faint area, strong
//! paint left out, what is seen just outside the border is held against what is seen just inside.

use super::faint::Faint;
use crate::filter::vector::{dot, length};
use crate::filter::{Connectivity, Regions};
use crate::image::Plane;
use crate::matte::evidence::Evidence;
use crate::paper::toning::yellows_or_grays;
use crate::units::Ppi;

/// Areas smaller than this, in half-size pixels, show too little of an edge.
const LEAST: f32 = 75.0;
/// Stains are fainter than this, encoded.
const STRONGEST: f32 = 0.12;
/// How far outside the border it is looked at 300 ppi, and inside, in half-size pixels: beyond what the pooling blurs, and
/// beyond the ragged border of a wash that is hardly there.
const OUTSIDE: f32 = 5.0;
const INSIDE: f32 = 4.0;
/// A stain is no fainter than this share of its mean just within its border, and beyond it this share of that still shows.
const WITHIN: f32 = 0.7;
const BEYOND: f32 = 0.4;
/// On an even sheet so much of it must show, and channels may fall in another order by so much, encoded.
const SURELY_BEYOND: f32 = 0.65;
const SLACK: f32 = 0.004;
/// A border at which fewer places can be looked at than this says nothing.
const PLACES: f32 = 24.0;

#[derive(Clone, Copy, Default)]
struct Area {
    cells: f32,
    sum: [f32; 3],
    places: f32,
    inside: f32,
    outside: f32,
}

impl Area {
    fn mean(&self) -> [f32; 3] {
        self.sum.map(|v| v / self.cells.max(1.0))
    }

    /// On an even sheet, where a stain is rarer than a pale wash, it must have the hue of one, and go on for longer. What is
    /// lighter than paper is paint.
    fn is_sure(&self) -> bool {
        yellows_or_grays(self.mean().map(|v| -v), SLACK) && self.outside > SURELY_BEYOND * self.inside
    }

    fn is_stain(&self) -> bool {
        self.cells >= LEAST
            && self.places >= PLACES
            && length(self.mean()) < STRONGEST
            && self.inside > WITHIN * self.places
            && self.outside > BEYOND * self.inside
    }
}

/// Adds what is toning or stain among faint paint to `stained`, and counts it. `uneven` says that the sheet has patches of its
/// own.
pub(super) fn find(evidence: &Evidence, faint: &Faint, uneven: bool, ppi: Ppi, stained: &mut Plane<bool>) -> usize {
    let scale = ppi.coarseness();
    let (outward, inward) = ((OUTSIDE * scale) as isize, (INSIDE * scale) as isize);
    let (w, h) = (stained.width(), stained.height());
    let areas = Regions::find(w, h, Connectivity::Four, |y, row| {
        row.iter_mut().enumerate().for_each(|(x, v)| *v = u8::from(faint.at(x, y)));
    });
    let mut found = vec![Area::default(); areas.count()];
    for y in 0..h {
        for run in areas.row(y) {
            let area = &mut found[run.region as usize];
            for x in run.start as usize..run.end as usize {
                area.cells += 1.0;
                let off = evidence.pooled.at(x, y);
                (0..3).for_each(|c| area.sum[c] += off[c]);
            }
        }
    }
    for y in 0..h {
        for run in areas.row(y) {
            let mean = found[run.region as usize].mean();
            let square = dot(mean, mean).max(1e-8);
            let of_mean = |x: usize, y: usize| dot(evidence.pooled.at(x, y), mean) / square;
            for x in run.start as usize..run.end as usize {
                for (dx, dy) in [(-1, 0), (1, 0), (0, -1), (0, 1)] {
                    let at = |i: isize| (x as isize + i * dx, y as isize + i * dy);
                    let on = |(x, y): (isize, isize)| x >= 0 && y >= 0 && x < w as isize && y < h as isize;
                    let (beside, out, within) = (at(1), at(outward), at(1 - inward));
                    if !on(beside) || !on(out) || !on(within) {
                        continue;
                    }
                    let [beside, out, within] = [beside, out, within].map(|(x, y)| (x as usize, y as usize));
                    let bare = |(x, y): (usize, usize)| faint.is_bare(x, y);
                    if bare(beside) && bare(out) && areas.at(within.0, within.1) == Some(run.region as usize) {
                        let area = &mut found[run.region as usize];
                        area.places += 1.0;
                        area.inside += of_mean(within.0, within.1);
                        area.outside += of_mean(out.0, out.1);
                    }
                }
            }
        }
    }
    let stains: Vec<bool> = found.iter().map(|area| area.is_stain() && (uneven || area.is_sure())).collect();
    for y in 0..h {
        for run in areas.row(y).iter().filter(|run| stains[run.region as usize]) {
            stained.row_mut(y)[run.start as usize..run.end as usize].fill(true);
        }
    }
    stains.iter().filter(|stain| **stain).count()
}
