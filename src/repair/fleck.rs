//! Flecks of a stain or streak: where it gathered in a valley of the paper, or a hair's shadow lies across, it may be too strong
//! to be pooled. What is small, pale, and surrounded by a stain is part of it.

use super::faint::Faint;
use crate::filter::{Connectivity, Regions, grid};
use crate::image::Plane;
use crate::matte::evidence::{CONTRAST_STEPS, Evidence};
use crate::units::Ppi;

/// The largest of flecks at 300 ppi, in half-size pixels.
const LARGEST: u32 = 60;
/// Flecks are fainter than this, encoded.
const STRONGEST: f32 = 0.15;

#[derive(Clone, Copy, Default)]
struct Fleck {
    cells: u32,
    border: u32,
    stained: u32,
    peak: u16,
}

/// Adds the flecks of what is `stained` to it.
pub(super) fn join(evidence: &Evidence, faint: &Faint, ppi: Ppi, stained: &mut Plane<bool>) {
    let (w, h) = (stained.width(), stained.height());
    let strong = Regions::find(w, h, Connectivity::Four, |y, row| {
        row.iter_mut().enumerate().for_each(|(x, v)| *v = u8::from(faint.is_strong(x, y)));
    });
    let mut flecks = vec![Fleck::default(); strong.count()];
    let contrast = &evidence.contrast;
    for y in 0..h {
        for run in strong.row(y) {
            let fleck = &mut flecks[run.region as usize];
            let (start, end) = (run.start as usize, run.end as usize);
            fleck.cells += run.end - run.start;
            for y in 2 * y..(2 * y + 2).min(contrast.height()) {
                let row = &contrast.row(y)[2 * start..(2 * end).min(contrast.width())];
                fleck.peak = row.iter().fold(fleck.peak, |peak, v| peak.max(*v));
            }
            for i in (start..end).flat_map(|x| grid::beside(y * w + x, w, h)) {
                let (x, y) = (i % w, i / w);
                if !faint.is_strong(x, y) {
                    fleck.border += 1;
                    fleck.stained += u32::from(stained.at(x, y));
                }
            }
        }
    }
    let scale = ppi.coarseness();
    let largest = (LARGEST as f32 * scale * scale) as u32;
    let strongest = (STRONGEST * CONTRAST_STEPS) as u16;
    let joins = |f: &Fleck| f.cells <= largest && f.peak < strongest && 2 * f.stained > f.border;
    for y in 0..h {
        for run in strong.row(y).iter().filter(|run| joins(&flecks[run.region as usize])) {
            stained.row_mut(y)[run.start as usize..run.end as usize].fill(true);
        }
    }
}
