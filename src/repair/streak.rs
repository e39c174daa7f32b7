//! Stray streaks that run into a wash: where a loaded brush brushed past, or water ran.
//!
//! A streak that lies alone is told by its shape (`marks`). One that touches a wash is one region with it. But it is narrow
//! where the wash is broad, and it is of another hue.

use super::faint::Faint;
use crate::error::Result;
use crate::filter::vector::{dot, length};
use crate::filter::{Connectivity, Regions, distance};
use crate::image::Plane;
use crate::matte::evidence::Evidence;
use crate::units::Ppi;

/// Half the width of a streak at most, and its length and area at least, at 300 ppi, in half-size pixels.
const HALF_WIDTH: f32 = 8.0;
const LENGTH: f32 = 30.0;
const CELLS: f32 = 150.0;
/// Half the width of a band at least.
const BAND: f32 = 3.5;
/// Streaks are fainter than this, encoded.
const STRONGEST: f32 = 0.062;
/// Hues differ when the cosine between them is smaller.
const SAME_HUE: f32 = 0.85;

#[derive(Clone, Copy)]
struct Part {
    cells: f32,
    sum: [f32; 3],
    from: [usize; 2],
    to: [usize; 2],
    /// The largest distance from bare paper.
    deepest: u8,
    /// The broad part it touches.
    beside: Option<usize>,
}

impl Default for Part {
    fn default() -> Self {
        Self { cells: 0.0, sum: [0.0; 3], from: [usize::MAX; 2], to: [0; 2], deepest: 0, beside: None }
    }
}

fn parts(regions: &Regions, evidence: &Evidence, depth: &Plane<u8>) -> Vec<Part> {
    let mut parts = vec![Part::default(); regions.count()];
    for y in 0..regions.height() {
        for run in regions.row(y) {
            let part = &mut parts[run.region as usize];
            let (start, end) = (run.start as usize, run.end as usize);
            part.from = [part.from[0].min(start), part.from[1].min(y)];
            part.to = [part.to[0].max(end), part.to[1].max(y + 1)];
            for x in start..end {
                part.cells += 1.0;
                part.deepest = part.deepest.max(depth.at(x, y));
                let off = evidence.pooled.at(x, y);
                (0..3).for_each(|c| part.sum[c] += off[c]);
            }
        }
    }
    parts
}

/// Adds the streaks among faint paint to `found`, and counts them.
///
/// # Errors
/// When there is no memory.
pub(super) fn find(evidence: &Evidence, faint: &Faint, ppi: Ppi, found: &mut Plane<bool>) -> Result<usize> {
    let scale = ppi.coarseness();
    let (w, h) = (found.width(), found.height());
    let unit = f32::from(distance::UNIT);
    let far = (HALF_WIDTH * scale * unit) as u8;
    let mut depth = Plane::from_vec(w, h, faint.painted.data().iter().map(|p| if *p { distance::FAR } else { 0 }).collect());
    distance::chamfer(&mut depth);
    let mut to_core = Plane::from_vec(w, h, depth.data().iter().map(|d| if *d >= far { 0 } else { distance::FAR }).collect());
    distance::chamfer(&mut to_core);
    let broad = |x: usize, y: usize| to_core.at(x, y) <= far.saturating_add((1.5 * unit) as u8);
    let find = |of: bool| {
        Regions::find(w, h, Connectivity::Four, |y, row| {
            row.iter_mut().enumerate().for_each(|(x, v)| *v = u8::from(faint.at(x, y) && broad(x, y) == of));
        })
    };
    let (wide, narrow) = (find(true), find(false));
    let washes = parts(&wide, evidence, &depth);
    let mut streaks = parts(&narrow, evidence, &depth);
    for y in 0..h {
        for run in narrow.row(y) {
            let streak = &mut streaks[run.region as usize];
            let mut look = |x: usize, y: usize| streak.beside = streak.beside.or(wide.at(x, y));
            let (start, end) = (run.start as usize, run.end as usize);
            if start > 0 {
                look(start - 1, y);
            }
            if end < w {
                look(end, y);
            }
            for x in start..end {
                if y > 0 {
                    look(x, y - 1);
                }
                if y + 1 < h {
                    look(x, y + 1);
                }
            }
        }
    }
    let is_streak = |part: &Part| {
        let span = (part.to[0] - part.from[0]).max(part.to[1] - part.from[1]) as f32;
        let own = length(part.sum);
        // By itself it is one when it is a band, not the faint part of a line: a hair may lie across it.
        let apart = match part.beside.map(|i| &washes[i]) {
            Some(wash) => dot(part.sum, wash.sum) < SAME_HUE * own * length(wash.sum),
            None => f32::from(part.deepest) >= BAND * scale * unit,
        };
        apart && part.cells >= CELLS * scale * scale && span >= LENGTH * scale && own < STRONGEST * part.cells
    };
    let taken: Vec<bool> = streaks.iter().map(is_streak).collect();
    for y in 0..h {
        for run in narrow.row(y).iter().filter(|run| taken[run.region as usize]) {
            found.row_mut(y)[run.start as usize..run.end as usize].fill(true);
        }
    }
    Ok(taken.iter().filter(|taken| **taken).count())
}
