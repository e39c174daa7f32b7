//! Islands: bare areas enclosed by paint. Each is a pocket to clear or a white to keep; color cannot tell which.
//!
//! What surrounds an island speaks: a reserved white lies inside one wash, with paint far and alike on every side; a
//! pocket lies between strokes, and rays from it soon run through thin paint into bare paper again.

use std::ops::Range;

use super::cover::{Cover, bits};
use super::evidence::{Evidence, STEPS};
use crate::filter::Regions;
use crate::filter::components::Run;
use crate::image::Plane;
use crate::units::{Mm, Ppi, area_mm2};

/// An island smaller than this is decided without asking.
pub const LISTED_MM2: f64 = 0.3;
/// As log odds: whether a fine contour holds a petal or the ground in a loop of the pen only the painter knows.
const DOUBT: f32 = 0.04;
/// A line up to this wide is a drawn contour.
const FINE: Mm = Mm(0.33);
/// Fewer bare pixels than this are texture of the paint, not an island.
const LEAST: u32 = 6;

/// What is done with an area.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decision {
    /// It stays in the art.
    Keep,
    /// It is taken out.
    Clear,
}

impl Decision {
    /// The word used in recipes and reports.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Keep => "keep",
            Self::Clear => "clear",
        }
    }
}

/// One bare area enclosed by paint.
#[derive(Clone, Debug, PartialEq)]
pub struct Island {
    /// Number of its free region.
    pub region: usize,
    /// A pixel well inside it.
    pub at: [usize; 2],
    /// Bounding box: left, top, width, height in pixels.
    pub bounds: [usize; 4],
    /// Bare pixels in it.
    pub pixels: u32,
    /// Its area.
    pub area_mm2: f64,
    /// Whether it is a bay: open at a gap of its contour.
    pub bay: bool,
    /// What is proposed.
    pub proposed: Decision,
    /// How sure the proposal is, 0.5 (a coin) to 1.
    pub confidence: f32,
}

/// Which free regions are slivers of paper between lines: enclosed, so narrow that the blur leaves no pixel of them bare,
/// and crossed by no ray that stays in paint. Without such lines all around, what is paler than half of the paint about it
/// is the paint's own unevenness.
#[must_use]
pub fn slivers(evidence: &Evidence, cover: &Cover, free: &Regions, open: &[bool], ppi: Ppi) -> Vec<bool> {
    /// Rays that stay in paint, at most, as a share of all; and where a pixel lies so few deviations off the paper.
    const DEEP: f32 = 0.25;
    const DEEP_OF_PAPER: f32 = 0.72;
    /// Mean width up to which such a region is a sliver.
    const NARROW: f64 = 0.6;
    const AS_PAPER: u8 = (4.5 * STEPS) as u8;
    let (w, h) = (cover.cover.width() as isize, cover.cover.height() as isize);
    let mut as_paper = vec![false; free.count()];
    let mut pixels = vec![0_u32; free.count()];
    let mut shapes = vec![Shape::default(); free.count()];
    for y in 0..free.height() {
        let row = cover.cover.row(y);
        for run in free.row(y).iter().filter(|run| !open[run.region as usize]) {
            let (region, start, end) = (run.region as usize, run.start as usize, run.end as usize);
            let bare = row[start..end].iter().filter(|c| *c & bits::PAINT == 0).count() as u32;
            as_paper[region] |= evidence.fine.row(y)[start..end].iter().any(|z| *z < AS_PAPER);
            pixels[region] += run.end - run.start;
            shapes[region].add(start, end, y, bare);
        }
    }
    let reach = Mm(0.6).at(ppi).0.ceil() as isize;
    // Rays, and those of them that stayed in paint.
    let mut seen = vec![(0_u32, 0_u32); free.count()];
    for y in 0..free.height() {
        for run in free.row(y) {
            let region = run.region as usize;
            if open[region] || shapes[region].bare >= LEAST {
                continue;
            }
            let (start, end, middle) = (run.start as isize, run.end as isize, (run.start + run.end) as isize / 2);
            for (x, dx, dy) in [(start, -1, 0), (end - 1, 1, 0), (middle, 0, -1), (middle, 0, 1)] {
                let (mut left, mut deep) = (false, true);
                for i in 1..=reach {
                    let (x, y) = (x + dx * i, y as isize + dy * i);
                    if x < 0 || y < 0 || x >= w || y >= h {
                        break;
                    }
                    let is_free = cover.cover.at(x as usize, y as usize) & bits::FREE != 0;
                    left |= !is_free;
                    if left && is_free {
                        deep = false;
                        break;
                    }
                }
                // A ray along the sliver has met no paint yet and says nothing.
                if left {
                    seen[region].0 += 1;
                    seen[region].1 += u32::from(deep);
                }
            }
        }
    }
    let few = |(rays, deep): &(u32, u32), share: f32| *rays > 0 && (*deep as f32) < share * *rays as f32;
    let wide = Mm(NARROW).at(ppi).0 as f32;
    let narrow = |i: usize| {
        let s = &shapes[i];
        (pixels[i] as f32) < wide * s.right.saturating_sub(s.left).max(s.bottom.saturating_sub(s.top)) as f32
    };
    (0..free.count()).map(|i| few(&seen[i], if as_paper[i] && narrow(i) { DEEP_OF_PAPER } else { DEEP })).collect()
}

/// Finds the islands among the free regions, in order of their first pixel. `open` regions are cleared anyway; `bared` ones
/// show where a wash has run out, and are no whites; `bays` are open at a gap, and no more than asked about.
#[must_use]
pub fn find(cover: &Cover, free: &Regions, open: &[bool], bared: &[bool], bays: Range<usize>, ppi: Ppi) -> Vec<Island> {
    /// How sure it is that paper bared by a run-out is no white.
    const BARED: f32 = 0.95;
    let mut shapes = vec![Shape::default(); free.count()];
    for y in 0..free.height() {
        let row = cover.cover.row(y);
        for run in free.row(y) {
            let region = run.region as usize;
            if open[region] {
                continue;
            }
            let (start, end) = (run.start as usize, run.end as usize);
            let bare = row[start..end].iter().filter(|c| *c & bits::PAINT == 0).count() as u32;
            shapes[region].add(start, end, y, bare);
        }
    }
    // Whether an island is listed at all must not hang on the reduced size of a preview, hence millimeters below.
    let mut islands: Vec<Island> = shapes
        .iter()
        .enumerate()
        .filter(|(_, s)| s.bare >= LEAST)
        .map(|(region, s)| Island {
            region,
            at: s.at,
            bounds: [s.left, s.top, s.right - s.left, s.bottom - s.top],
            pixels: s.bare,
            area_mm2: area_mm2(u64::from(s.bare), ppi),
            bay: bays.contains(&region),
            proposed: Decision::Keep,
            confidence: 0.5,
        })
        .collect();
    let mut number = vec![usize::MAX; free.count()];
    for (i, island) in islands.iter().enumerate() {
        number[island.region] = i;
    }
    // Paper again: the outside, or another island.
    let ground: Vec<bool> = open.iter().zip(&shapes).map(|(open, shape)| *open || shape.bare >= LEAST).collect();
    let around = Around { cover, free, ground: &ground, fine: FINE.at(ppi).0.ceil() as usize + 2 };
    let mut surroundings = vec![Surroundings::default(); islands.len()];
    for y in 0..free.height() {
        for run in free.row(y) {
            let i = number[run.region as usize];
            if i != usize::MAX {
                surroundings[i].look(&around, run, y, reach_of(islands[i].area_mm2, ppi));
            }
        }
    }
    for (island, around) in islands.iter_mut().zip(&surroundings) {
        let score = around.white_score(island.area_mm2);
        let score = if island.bay { score.min(-DOUBT) } else { score };
        let probability = 1.0 / (1.0 + crate::color::math::expf(-score));
        (island.proposed, island.confidence) = if bared[island.region] {
            (Decision::Clear, BARED)
        } else if probability >= 0.5 {
            (Decision::Keep, probability)
        } else {
            (Decision::Clear, 1.0 - probability)
        };
    }
    islands
}

/// How far paint must reach around an island for it to lie inside a wash: half its own size, 0.6 to 4 mm.
fn reach_of(area_mm2: f64, ppi: Ppi) -> usize {
    Mm((0.5 * area_mm2.sqrt()).clamp(0.6, 4.0)).at(ppi).0.ceil() as usize
}

#[derive(Clone, Debug)]
struct Shape {
    left: usize,
    right: usize,
    top: usize,
    bottom: usize,
    bare: u32,
    longest: usize,
    at: [usize; 2],
}

impl Default for Shape {
    fn default() -> Self {
        Self { left: usize::MAX, right: 0, top: usize::MAX, bottom: 0, bare: 0, longest: 0, at: [0, 0] }
    }
}

impl Shape {
    fn add(&mut self, start: usize, end: usize, y: usize, bare: u32) {
        self.left = self.left.min(start);
        self.right = self.right.max(end);
        self.top = self.top.min(y);
        self.bottom = y + 1;
        self.bare += bare;
        // The middle of the longest run lies inside whatever the shape.
        if end - start > self.longest {
            self.longest = end - start;
            self.at = [(start + end) / 2, y];
        }
    }
}

/// What rays from an island's border met.
#[derive(Clone, Debug, Default)]
struct Surroundings {
    rays: u32,
    /// Rays that stayed in paint for the whole reach.
    deep: u32,
    /// Rays that were through the paint at once: it is a fine line.
    thin: u32,
    seen: u32,
}

/// What rays run through: the cover, its free regions, and which of these are paper again.
struct Around<'a> {
    cover: &'a Cover,
    free: &'a Regions,
    ground: &'a [bool],
    /// A fine line and the bare paper that tells its end are no wider than this, in pixels.
    fine: usize,
}

impl Surroundings {
    /// Sends rays left and right from a run's ends, and up and down from its middle where the border is there.
    fn look(&mut self, around: &Around<'_>, run: &Run, y: usize, reach: usize) {
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
        self.rays += 1;
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
            let foot_of_ground =
                |bits| bits & bits::FREE != 0 && around.free.at(x, y).is_some_and(|region| around.ground[region]);
            bare = if bits & bits::PAINT == 0 || foot_of_ground(bits) { bare + 1 } else { 0 };
            if bare == 2 {
                self.thin += u32::from(i as usize <= around.fine);
                return;
            }
        }
        self.deep += 1;
    }

    /// Above zero for a white to keep, below for a pocket, as log odds.
    ///
    /// The weights are set by hand on rendered scenes (common practice, no source): depth of the surrounding paint
    /// speaks first, then size, since reserved whites are small. A petal drawn in a fine line has next to no paint around
    /// it: most of its contour that a ray meets squarely is thin, and that of a pocket between leaves is not.
    fn white_score(&self, area_mm2: f64) -> f32 {
        /// Smaller than this what a fine line encloses is a gap between lines.
        const DRAWN_MM2: f64 = 2.0;
        if self.rays == 0 {
            return 0.0;
        }
        let (deep, thin) = (self.deep as f32 / self.rays as f32, self.thin as f32 / self.rays as f32);
        let large = crate::color::math::lnf((area_mm2.max(1.0) / 40.0) as f32).max(0.0);
        let reserved = 12.0 * (deep - 0.72) - 1.2 * large;
        let drawn = (12.0 * (thin - 0.25) - 0.6 * large).min(-DOUBT);
        if area_mm2 < DRAWN_MM2 { reserved } else { reserved.max(drawn) }
    }
}

/// The outline of a free region as line segments between pixel corners: x0, y0, x1, y1 repeated.
#[must_use]
pub fn outline(free: &Regions, island: &Island) -> Vec<f32> {
    let [left, top, width, height] = island.bounds;
    let mut inside: Plane<u8> = Plane::from_vec(width + 2, height + 2, vec![0; (width + 2) * (height + 2)]);
    for y in top..top + height {
        for run in free.row(y).iter().filter(|run| run.region as usize == island.region) {
            inside.row_mut(y - top + 1)[run.start as usize - left + 1..run.end as usize - left + 1].fill(1);
        }
    }
    let mut segments = Vec::new();
    for y in 1..height + 2 {
        let mut start = None;
        for x in 0..width + 2 {
            let border = inside.at(x, y) != inside.at(x, y - 1);
            match (border, start) {
                (true, None) => start = Some(x),
                (false, Some(from)) => {
                    let line = (top + y - 1) as f32;
                    segments.extend([(left + from - 1) as f32, line, (left + x - 1) as f32, line]);
                    start = None;
                }
                _ => {}
            }
        }
    }
    for x in 1..width + 2 {
        let mut start = None;
        for y in 0..height + 2 {
            let border = inside.at(x, y) != inside.at(x - 1, y);
            match (border, start) {
                (true, None) => start = Some(y),
                (false, Some(from)) => {
                    let line = (left + x - 1) as f32;
                    segments.extend([line, (top + from - 1) as f32, line, (top + y - 1) as f32]);
                    start = None;
                }
                _ => {}
            }
        }
    }
    segments
}
