//! Pieces: what lies apart from the painting or hangs on it, each judged by trees, and by what the painter says of others like it.

use std::collections::BTreeMap;

use crate::color::math::{max, min};
use crate::filter::Regions;
use crate::filter::components::Run;
use crate::learned::{Forest, PIECES, Sorted};
use crate::matte::island::{Decision, offset};
use crate::units::{Mm, Ppi};

/// No piece leans further to art or to paper than this, in log odds: the painter must be able to turn it.
const SUREST: f32 = 3.0;
/// Nor less than this to what was found without a word.
const LEAST: f32 = 0.5;
/// By how much a word about a piece moves the log odds of another that looks the same, and how far off, in millimeters, it still
/// counts.
const WORD: f32 = 6.0;
const NEAR: Mm = Mm(20.0);

/// One piece.
#[derive(Clone, Copy, Debug)]
pub struct Piece<const FEATURES: usize> {
    /// A pixel of it.
    pub at: [usize; 2],
    /// What it looks like.
    pub features: [f32; FEATURES],
    /// Log odds of art, less those from which on it stays.
    lean: f32,
    sorted: Sorted<PIECES>,
}

impl<const FEATURES: usize> Piece<FEATURES> {
    /// Judges a piece, which stays from `limit` on in log odds of art.
    #[must_use]
    pub fn judge(forest: &Forest<PIECES>, at: [usize; 2], features: [f32; FEATURES], limit: f32) -> Self {
        let sorted = forest.sort(&features);
        Self { at, features, lean: forest.log_odds(&sorted) - limit, sorted }
    }

    /// Whether it is no part of the painting, by its looks.
    #[must_use]
    pub fn is_stray(&self) -> bool {
        self.lean < 0.0
    }

    /// By how much a `decision` about another moves its log odds.
    fn word(&self, other: &Self, decision: Decision, near: f32) -> f32 {
        decision.sign() * WORD * self.sorted.holds(&other.sorted, offset(self.at, other.at), near)
    }
}

/// A piece as the painter points at it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pointed {
    /// A pixel of it: what is decided there is decided for the piece.
    pub at: [usize; 2],
    /// Whether it is cleared.
    pub cleared: bool,
    /// How many others would go along, were it turned over.
    pub follow: usize,
}

/// The pieces of one kind on a sheet.
#[derive(Debug)]
pub struct Pieces<const FEATURES: usize> {
    /// Where they are.
    pub regions: Regions,
    /// Sheet pixels to one of these along a side.
    pub reduced: usize,
    /// The piece that each region is, if it is one.
    pub each: Vec<Option<Piece<FEATURES>>>,
    /// Whether it is cleared where the painter says nothing.
    pub cleared: Vec<bool>,
}

impl<const FEATURES: usize> Pieces<FEATURES> {
    /// The piece at a pixel of the sheet.
    #[must_use]
    pub fn at(&self, [x, y]: [usize; 2]) -> Option<usize> {
        let (x, y) = (x / self.reduced, y / self.reduced);
        let on_sheet = y < self.regions.height();
        on_sheet.then(|| self.regions.at(x, y)).flatten().filter(|region| self.each[*region].is_some())
    }

    /// The piece nearest to a pixel of the sheet, up to `reach` pixels away along both axes, and how far away it is.
    #[must_use]
    pub fn nearest(&self, [x, y]: [usize; 2], reach: usize) -> Option<(usize, usize)> {
        let [x, y, reach] = [x, y, reach].map(|v| v / self.reduced);
        let rows = y.saturating_sub(reach)..(y + reach + 1).min(self.regions.height());
        let pieces = rows.flat_map(|row| self.regions.row(row).iter().map(move |run| (row, run)));
        let off = |(row, run): (usize, &Run)| {
            let across = (run.start as usize).saturating_sub(x).max((x + 1).saturating_sub(run.end as usize));
            (row.abs_diff(y).max(across), run.region as usize)
        };
        let near = pieces.map(off).filter(|(off, region)| *off <= reach && self.each[*region].is_some()).min()?;
        Some((near.0 * self.reduced, near.1))
    }

    /// A piece as the painter sees it, where that much was `said` of others.
    #[must_use]
    pub fn pointed(&self, region: usize, said: &[([usize; 2], Decision)], ppi: Ppi) -> Option<Pointed> {
        let piece = self.each[region].as_ref()?;
        let now = self.settle(said, ppi).unwrap_or_else(|| self.cleared.clone());
        let other = if now[region] { Decision::Keep } else { Decision::Clear };
        let then = self.settle(&[said, &[(piece.at, other)]].concat(), ppi).unwrap_or_else(|| now.clone());
        let follow = now.iter().zip(&then).filter(|(now, then)| now != then).count();
        Some(Pointed { at: piece.at, cleared: now[region], follow: follow.saturating_sub(1) })
    }

    /// Those that are now `cleared`, or kept if not `clear`, and were not before.
    #[must_use]
    pub fn turned(&self, cleared: &[bool], clear: bool) -> Vec<bool> {
        cleared.iter().zip(&self.cleared).map(|(now, before)| now != before && *now == clear).collect()
    }

    /// Visits the pixels of some of them.
    pub fn pixels(&self, which: &[bool], mut visit: impl FnMut(usize, usize)) {
        for y in 0..self.regions.height() {
            for run in self.regions.row(y).iter().filter(|run| which[run.region as usize]) {
                (run.start as usize..run.end as usize).for_each(|x| visit(x, y));
            }
        }
    }

    /// What becomes of each piece, given what was `said` of those at some places: whether it is cleared. `None` when nothing was.
    #[must_use]
    pub fn settle(&self, said: &[([usize; 2], Decision)], ppi: Ppi) -> Option<Vec<bool>> {
        let said: BTreeMap<usize, Decision> = said.iter().filter_map(|(at, decision)| Some((self.at(*at)?, *decision))).collect();
        if said.is_empty() {
            return None;
        }
        let near = NEAR.at(ppi).0 as f32;
        let settled = |(i, (piece, cleared)): (usize, (&Option<Piece<FEATURES>>, &bool))| {
            let Some(piece) = piece else { return *cleared };
            if let Some(decision) = said.get(&i) {
                return *decision == Decision::Clear;
            }
            let start = if *cleared { max(min(piece.lean, -LEAST), -SUREST) } else { min(max(piece.lean, LEAST), SUREST) };
            let words = said.iter().filter_map(|(j, decision)| Some(piece.word(self.each[*j].as_ref()?, *decision, near)));
            words.fold(start, |odds, word| odds + word) < 0.0
        };
        Some(self.each.iter().zip(&self.cleared).enumerate().map(settled).collect())
    }
}
