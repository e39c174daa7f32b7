//! Islands: bare areas enclosed by paint. Each is a pocket to clear or a white to keep; color cannot tell which.
//!
//! What is proposed was learned from what islands look like and what surrounds them (`features`), and follows what
//! the painter decides about others like it.

use std::ops::Range;

use super::cover::{Cover, bits};
use super::evidence::Evidence;
use super::features::{self, Features, TRACED};
use crate::color::math;
use crate::error::Result;
use crate::filter::Regions;
use crate::image::Plane;
use crate::learned::{Sorted, WHITES, whites};
use crate::units::{Mm, Ppi, area_mm2};

/// An island smaller than this is decided without asking.
const LISTED_MM2: f64 = 0.3;
/// Faint contours part a petal along all its veins: what they enclose is listed only from here on.
const TRACED_MM2: f64 = 1.5;
/// Log odds beyond which a proposal is no surer: one in twenty is wrong.
const SUREST: f32 = 3.0;
/// Log odds below which, either way, a proposal is in doubt: by the trees' own word one in five or six is wrong.
const DOUBT: f32 = 1.5;
/// How sure of a proposal is sure.
const SURE: f32 = 0.75;
/// A white lost is worse than a pocket kept.
const LEAN: f32 = 0.4;
/// Paper that is open to the outside is ground by every rule: how much surer a white must look for all that.
const OPEN: f32 = 1.2;
/// Log odds of a reserved white, at least.
const RESERVED: f32 = 1.0;
/// By how much a decision moves the log odds of an island beside it that looks the same, and how far off, in millimeters, it
/// still counts.
const WORD: f32 = 5.0;
const NEAR: f32 = 10.0;
/// Fewer bare pixels than this are texture of the paint, not an island.
pub(super) const LEAST: u32 = 6;

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

    /// 1 for what speaks for art, -1 for what speaks against it.
    #[must_use]
    pub fn sign(self) -> f32 {
        match self {
            Self::Keep => 1.0,
            Self::Clear => -1.0,
        }
    }
}

/// From one pixel to another.
pub(crate) fn offset(from: [usize; 2], to: [usize; 2]) -> [f32; 2] {
    [0, 1].map(|c| to[c] as f32 - from[c] as f32)
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
    /// Share of its border that are faint contours, 0..1.
    pub traced: f32,
    /// What is proposed.
    pub proposed: Decision,
    /// How sure the proposal is, 0.5 (a coin) to 1.
    pub confidence: f32,
    /// Whether the painter is to be asked: it is in doubt, and nothing asked before would settle it.
    pub asked: bool,
    /// What it looks like.
    pub features: Features,
    /// Log odds of a white by that alone.
    prior: f32,
    sorted: Sorted<WHITES>,
}

/// Finds the islands among the free regions, in order of their first pixel. `open` regions are cleared anyway; `shapes` are those
/// of the others; `bared` ones show where a wash has run out, and are no whites; `bays` are open at a gap.
///
/// # Errors
/// When there is no memory.
pub fn find(
    evidence: &Evidence,
    cover: &Cover,
    free: &Regions,
    open: &[bool],
    shapes: &[Shape],
    bared: &[bool],
    bays: Range<usize>,
    toned: f32,
    ppi: Ppi,
) -> Result<Vec<Island>> {
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
            traced: s.traced(),
            proposed: Decision::Keep,
            confidence: 0.5,
            asked: false,
            features: Features::default(),
            prior: 0.0,
            sorted: Sorted::NOT,
        })
        .collect();
    // Paper again: the outside, or another island.
    let ground: Vec<bool> = open.iter().zip(shapes).map(|(open, shape)| *open || shape.bare >= LEAST).collect();
    let measured = features::measure(evidence, cover, free, open, &ground, &islands, toned, ppi)?;
    for (island, (features, better)) in islands.iter_mut().zip(measured) {
        island.features = features;
        let inside = |[x, y]: &[usize; 2]| free.at(*x, *y) == Some(island.region);
        island.at = better.filter(inside).unwrap_or(island.at);
        island.sorted = whites::FOREST.sort(&features.values);
        let lean = if island.bay { -OPEN } else { LEAN };
        let odds = (whites::FOREST.log_odds(&island.sorted) + lean).clamp(-SUREST, SUREST);
        island.prior = match (bared[island.region], features.is_reserved()) {
            (true, _) => -SUREST,
            (_, true) => odds.max(RESERVED),
            _ => odds,
        };
    }
    propose(&mut islands, &[], ppi);
    Ok(islands)
}

/// The area from which on an island is listed, in square millimeters.
fn listed_from(traced: bool) -> f64 {
    if traced { TRACED_MM2 } else { LISTED_MM2 }
}

impl Island {
    /// Whether faint contours are part of what encloses it.
    #[must_use]
    pub fn is_traced(&self) -> bool {
        self.traced > TRACED
    }

    /// Whether paint and lines that are no doubt there close around it: what is open at a gap, or enclosed by hardly more than
    /// faint contours, is ground by every rule until the painter says that it is not.
    #[must_use]
    pub fn is_closed(&self) -> bool {
        const MOSTLY: f32 = 0.5;
        !self.bay && self.traced < MOSTLY
    }

    /// Whether it is a cell between faint contours, too small to be asked about: no rule about islands is meant for it.
    #[must_use]
    pub fn is_cell(&self) -> bool {
        self.is_traced() && !self.is_listed()
    }

    /// By how much a `decision` about another moves its log odds.
    fn word(&self, other: &Self, decision: Decision, near: f32) -> f32 {
        if self.features.is_reserved() {
            return 0.0;
        }
        decision.sign() * WORD * self.sorted.holds(&other.sorted, offset(self.at, other.at), near)
    }

    /// Whether the painter may be asked about it.
    #[must_use]
    pub fn is_listed(&self) -> bool {
        self.area_mm2 >= listed_from(self.is_traced())
    }

    /// Whether one that is too small to be asked about is kept where nobody is to be followed: as a white, or as texture of the
    /// paint, within one wash and no pocket by its looks. In `dry` brush it is a hole, but for a smooth one.
    #[must_use]
    pub fn is_kept_alone(&self, dry: bool) -> bool {
        let white = self.proposed == Decision::Keep;
        if self.is_traced() {
            white
        } else if dry {
            self.features.is_reserved()
        } else {
            self.features.is_deep() && (white || self.confidence < SURE)
        }
    }
}

/// Proposes what to do with each island, given what the painter `decided` for some: who keeps one petal keeps those beside it.
/// What lies in one wash stands for itself. And marks those to ask about.
pub fn propose(islands: &mut [Island], decided: &[(usize, Decision)], ppi: Ppi) {
    let near = Mm(f64::from(NEAR)).at(ppi).0 as f32;
    let mut odds: Vec<f32> = islands.iter().map(|island| island.prior).collect();
    for (i, odds) in odds.iter_mut().enumerate() {
        for &(j, decision) in decided.iter().filter(|(j, _)| *j != i) {
            *odds += islands[i].word(&islands[j], decision, near);
        }
        let white = 1.0 / (1.0 + math::expf(-odds.clamp(-SUREST, SUREST)));
        (islands[i].proposed, islands[i].confidence) =
            if white >= 0.5 { (Decision::Keep, white) } else { (Decision::Clear, 1.0 - white) };
        islands[i].asked = false;
    }
    decided.iter().for_each(|(j, decision)| odds[*j] = decision.sign() * f32::MAX);
    ask(islands, &mut odds, near);
}

/// Marks the islands to ask about, given the log odds of all. An answer settles what looks like it: what would follow, were the
/// proposals before it right, is not asked about as well; nor are reserved whites, since there may be dozens and all are kept.
fn ask(islands: &mut [Island], odds: &mut [f32], near: f32) {
    let listed: Vec<usize> =
        (0..islands.len()).filter(|i| islands[*i].is_listed() && !islands[*i].features.is_reserved()).collect();
    loop {
        let open = listed.iter().copied().filter(|i| !islands[*i].asked && odds[*i].abs() < DOUBT);
        let Some(next) = open.min_by(|a, b| odds[*a].abs().total_cmp(&odds[*b].abs())) else { return };
        islands[next].asked = true;
        let answer = if odds[next] >= 0.0 { Decision::Keep } else { Decision::Clear };
        for &i in listed.iter().filter(|i| **i != next) {
            odds[i] += islands[i].word(&islands[next], answer, near);
        }
    }
}

/// Where a free region lies, and how much of it is bare.
#[derive(Clone, Debug)]
pub struct Shape {
    left: usize,
    right: usize,
    top: usize,
    bottom: usize,
    /// Its pixels, and those of them without any evidence of paint.
    pub(super) pixels: u32,
    pub(super) bare: u32,
    /// Sides of pixels along its border, and those of them at a faint contour.
    border: u32,
    traced: u32,
    longest: usize,
    at: [usize; 2],
}

impl Default for Shape {
    fn default() -> Self {
        Self {
            left: usize::MAX,
            right: 0,
            top: usize::MAX,
            bottom: 0,
            pixels: 0,
            bare: 0,
            border: 0,
            traced: 0,
            longest: 0,
            at: [0, 0],
        }
    }
}

impl Shape {
    /// The shapes of the free regions that are not open.
    #[must_use]
    pub fn of(cover: &Cover, free: &Regions, open: &[bool]) -> Vec<Self> {
        let mut shapes = vec![Self::default(); free.count()];
        for y in 0..free.height() {
            let row = cover.cover.row(y);
            for run in free.row(y).iter().filter(|run| !open[run.region as usize]) {
                let (start, end) = (run.start as usize, run.end as usize);
                let bare = row[start..end].iter().filter(|c| *c & bits::PAINT == 0).count() as u32;
                let shape = &mut shapes[run.region as usize];
                shape.add(start, end, y, bare);
                let above = (y > 0).then(|| &cover.cover.row(y - 1)[start..end]);
                let below = (y + 1 < free.height()).then(|| &cover.cover.row(y + 1)[start..end]);
                let beside = [start.checked_sub(1), Some(end)].into_iter().flatten().filter_map(|x| row.get(x));
                let border = above.into_iter().chain(below).flatten().chain(beside).filter(|c| *c & bits::FREE == 0);
                for c in border {
                    shape.border += 1;
                    shape.traced += u32::from(c & bits::CONTOUR != 0);
                }
            }
        }
        shapes
    }

    /// As [`Island::is_listed`].
    pub(super) fn is_listed(&self, ppi: Ppi) -> bool {
        area_mm2(u64::from(self.bare), ppi) >= listed_from(self.is_traced())
    }

    /// Share of its border that are faint contours, 0..1.
    fn traced(&self) -> f32 {
        self.traced as f32 / self.border.max(1) as f32
    }

    /// Whether faint contours are part of what encloses it.
    pub(super) fn is_traced(&self) -> bool {
        self.traced() > TRACED
    }

    /// Its larger side.
    pub(super) fn span(&self) -> usize {
        self.right.saturating_sub(self.left).max(self.bottom.saturating_sub(self.top))
    }

    fn add(&mut self, start: usize, end: usize, y: usize, bare: u32) {
        self.left = self.left.min(start);
        self.right = self.right.max(end);
        self.top = self.top.min(y);
        self.bottom = y + 1;
        self.pixels += (end - start) as u32;
        self.bare += bare;
        // The middle of the longest run lies inside whatever the shape.
        if end - start > self.longest {
            self.longest = end - start;
            self.at = [(start + end) / 2, y];
        }
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

#[cfg(test)]
mod tests {
    use super::*;

    const PPI: Ppi = Ppi(300.0);

    /// Islands that look the same, in a row at these columns, with these log odds.
    fn row(islands: &[(usize, f32)]) -> Vec<Island> {
        let island = |&(x, prior): &(usize, f32)| Island {
            region: 0,
            at: [x, 0],
            bounds: [x, 0, 30, 30],
            pixels: 900,
            area_mm2: 6.0,
            bay: false,
            traced: 0.0,
            proposed: Decision::Keep,
            confidence: 0.5,
            asked: false,
            features: Features::default(),
            prior,
            sorted: Sorted::NOT,
        };
        islands.iter().map(island).collect()
    }

    fn asked(islands: &[Island]) -> Vec<bool> {
        islands.iter().map(|island| island.asked).collect()
    }

    #[test]
    fn one_of_what_is_alike_is_asked_about() {
        // Three within a centimeter, two a decimeter away or two, one of them beyond doubt.
        let mut islands = row(&[(0, 0.4), (40, -0.2), (80, 1.0), (1200, 0.9), (2400, 2.9)]);
        propose(&mut islands, &[], PPI);
        assert_eq!(asked(&islands), [false, true, false, true, false]);
        propose(&mut islands, &[(1, Decision::Keep)], PPI);
        assert_eq!(asked(&islands), [false, false, false, true, false], "the answer settles the others");
        assert!(islands[0].proposed == Decision::Keep && islands[2].proposed == Decision::Keep);
        propose(&mut islands, &[(1, Decision::Clear), (3, Decision::Clear)], PPI);
        assert_eq!(asked(&islands)[..4], [false; 4]);
        assert!(islands[0].proposed == Decision::Clear && islands[2].proposed == Decision::Clear);
    }
}
