//! Rays from the border of an island outward: how far they stay in paint, and where they end.
//!
//! A reserved white lies inside one wash, with paint far on every side; from a pocket between strokes rays soon run through thin
//! paint into bare paper again.

use super::cover::{Cover, bits};
use crate::filter::Regions;
use crate::filter::components::Run;
use crate::units::{Mm, Ppi};

/// A line up to this wide is a drawn contour.
const FINE: Mm = Mm(0.33);

/// What rays run through: the cover, its free regions, and which of these are paper again.
pub(super) struct Around<'a> {
    cover: &'a Cover,
    free: &'a Regions,
    open: &'a [bool],
    ground: &'a [bool],
    /// A fine line and the bare paper that tells its end are no wider than this, in pixels.
    fine: usize,
    ppi: Ppi,
}

impl<'a> Around<'a> {
    /// `open` regions reach the outside; `ground` are these and other islands.
    pub(super) fn new(cover: &'a Cover, free: &'a Regions, open: &'a [bool], ground: &'a [bool], ppi: Ppi) -> Self {
        Self { cover, free, open, ground, fine: FINE.at(ppi).0.ceil() as usize + 2, ppi }
    }

    /// How far paint must reach around an island for it to lie inside a wash, in pixels: half its own size, 0.6 to 4 mm.
    pub(super) fn reach(&self, area_mm2: f64) -> usize {
        Mm((0.5 * area_mm2.sqrt()).clamp(0.6, 4.0)).at(self.ppi).0.ceil() as usize
    }
}

/// What rays from an island's border met.
#[derive(Clone, Debug, Default)]
pub(super) struct Rays {
    sent: u32,
    /// Those that stayed in paint for the whole reach.
    deep: u32,
    /// Those that were through the paint at once: it is a fine line.
    thin: u32,
    /// Those that came out where it is open.
    out: u32,
    seen: u32,
}

impl Rays {
    /// The shares that stayed in paint, were through it at once, and came out where it is open.
    pub(super) fn shares(&self) -> [f32; 3] {
        [self.deep, self.thin, self.out].map(|count| count as f32 / self.sent.max(1) as f32)
    }

    /// Sends rays left and right from a run's ends, and up and down from its middle where the border is there.
    pub(super) fn send(&mut self, around: &Around<'_>, run: &Run, y: usize, reach: usize) {
        // Thousands of rays say no more than a few hundred.
        self.seen += 1;
        if self.seen > 64 && !self.seen.is_multiple_of(8) {
            return;
        }
        let (start, end) = (run.start as usize, run.end as usize);
        let middle = usize::midpoint(start, end);
        let inside = |x: usize, y: usize| around.free.at(x, y) == Some(run.region as usize);
        self.ray(around, (start, y), (-1, 0), reach);
        self.ray(around, (end - 1, y), (1, 0), reach);
        if y > 0 && !inside(middle, y - 1) {
            self.ray(around, (middle, y), (0, -1), reach);
        }
        if y + 1 < around.cover.cover.height() && !inside(middle, y + 1) {
            self.ray(around, (middle, y), (0, 1), reach);
        }
    }

    fn ray(&mut self, around: &Around<'_>, from: (usize, usize), step: (isize, isize), reach: usize) {
        self.sent += 1;
        let (w, h) = (around.cover.cover.width() as isize, around.cover.cover.height() as isize);
        let mut bare = 0;
        for i in 1..=reach as isize {
            let (x, y) = (from.0 as isize + step.0 * i, from.1 as isize + step.1 * i);
            if x < 0 || y < 0 || x >= w || y >= h {
                return;
            }
            let (x, y) = (x as usize, y as usize);
            // Two bare pixels in a row end the paint; a single one is tooth.
            let bits = around.cover.cover.at(x, y);
            let region = if bits & bits::FREE != 0 { around.free.at(x, y) } else { None };
            let paper = bits & bits::PAINT == 0 || region.is_some_and(|region| around.ground[region]);
            bare = if paper { bare + 1 } else { 0 };
            if bare == 2 {
                self.thin += u32::from(i as usize <= around.fine);
                self.out += u32::from(region.is_none_or(|region| around.open[region]));
                return;
            }
        }
        self.deep += 1;
    }
}
