//! Pale washes that lie no further off the paper than its own unevenness: a count or two.
//!
//! Followed as shading is, they would be gone. Light and tooth change paper along its own color, though, and tints of stray light
//! and age are slow. So what lies off it in another direction, all over a patch that ends within a few cells, is painted; and so is
//! what is lighter and ends so, like white paint: paper has many ways to be darker, and none to be that.

use std::collections::{BTreeMap, BTreeSet};

use super::Overview;
use super::shading::local_mean;
use super::toning::yellows_or_grays;
use crate::color::math::max;
use crate::error::Result;
use crate::filter::grid;
use crate::filter::order::{median, quantile};
use crate::filter::vector::{difference, dot, length, plus};

/// Cells are averaged over so many (standard deviation of a Gaussian): a few tell where a wash ends, more of them that there is one
/// where coding or dark paper are noisier than it is deep. How far across its border a patch is looked at goes with that, in cells.
const AVERAGED: [(f32, isize); 2] = [(1.5, 4), (2.7, 6)];
/// What is lighter than the paper within so many cells (as above) has another border than its light.
const AROUND: f32 = 20.0;
/// The length that half of all lie below, in deviations, in two directions of color (Rayleigh distribution), and in one (normal).
const TWO_DIRECTIONS: f32 = 1.1774;
const ONE_DIRECTION: f32 = 0.6745;
/// A cell of a patch stands out by so many deviations of all others, in hue and in light.
const STANDS_OUT: [f32; 2] = [4.0, 3.0];
/// And one in four by so many; what coding in blocks leaves of color does not.
const DEEP: [f32; 2] = [4.5, 3.7];
/// Deviations are no smaller than this, encoded: what an 8-bit scan and its coding leave in such a mean.
const LEAST_DEVIATION: f32 = 0.0006;
/// What lies further off the paper than this, encoded, is no such wash.
const FAINT: f32 = 0.04;
/// Fewer cells the local means do not follow.
const LEAST: usize = 100;
/// Which share of its depth is gone across its border at a hard place.
const GONE: f32 = 0.65;
/// So large a share of the border that can be seen is hard, and that is so much of all of it: what runs out of strong paint ends
/// there too.
const HARD: f32 = 0.75;
const SEEN: f32 = 0.55;
/// So much of it is, of one that stands alone.
const ALONE: f32 = 0.7;
/// What is off the paper by so many times as much as it is off the paper's own color is shaded.
const SHADE: f32 = 4.0;
/// What falls as toning does is left to that; channels may be in another order by so much, encoded.
const TONED: f32 = 0.001;
/// What ends with the sheet along more of its border than this is shade, or the sheet's own.
const OF_SHEET: f32 = 0.05;
/// The average reaches so many cells beyond it.
const BEYOND: usize = 2;
/// So many cells beyond the surest ones what remains of a wash is told.
const SHORE: u8 = 4;

/// Cells of washes.
pub(super) struct Washed {
    /// Which cells they are.
    pub(super) at: Vec<bool>,
    /// Those of washes with paper nearly all around.
    pub(super) alone: Vec<bool>,
    /// How much of a wash that is lighter than the paper a cell shows, 0..1: half at its outline.
    pub(super) light: Vec<f32>,
}

/// Which cells are washed, among those that `fitted` says lie near the `field`.
///
/// # Errors
/// When there is no memory.
pub(super) fn cells(overview: &Overview, on_sheet: &[bool], fitted: &[bool], field: &[[f32; 3]]) -> Result<Washed> {
    let (cols, rows) = (overview.mean.width(), overview.mean.height());
    let off: Vec<[f32; 3]> = overview.mean.data().iter().zip(field).map(|(mean, field)| difference(*mean, *field)).collect();
    let along: Vec<f32> = off.iter().zip(field).map(|(off, field)| dot(*off, *field) / max(dot(*field, *field), 1e-4)).collect();
    // Of rough paper single cells lie further off.
    let near = local_mean(cols, rows, &off, on_sheet, 1.0)?;
    let faint: Vec<bool> =
        near.iter().zip(on_sheet).map(|(off, on_sheet)| *on_sheet && off.is_some_and(|off| length(off) < FAINT)).collect();

    let aside = |i: usize| difference(off[i], field[i].map(|v| along[i] * v));
    let asides: Vec<[f32; 3]> = (0..off.len()).map(aside).collect();
    let mut patches = Vec::new();
    for (averaged, across) in AVERAGED {
        let hues = local_mean(cols, rows, &asides, fitted, averaged)?;
        let look = Look::new([cols, rows], on_sheet, &faint, hues, TWO_DIRECTIONS, across);
        patches.extend(look.patches([STANDS_OUT[0], DEEP[0]], length));
    }
    patches.retain(|patch: &Patch| {
        let [aside, off] = [&asides, &off].map(|of| patch.cells.iter().fold([0.0; 3], |sum, &i| plus(sum, of[i])));
        let fall = off.map(|v| -v / patch.cells.len() as f32);
        let toned = fall.iter().sum::<f32>() > 0.0 && yellows_or_grays(fall, TONED);
        length(off) < SHADE * length(aside) && !toned
    });

    let lights: Vec<[f32; 1]> = along.iter().zip(field).map(|(along, field)| [along * length(*field)]).collect();
    // Paper between washes that are darker than it is no lighter for that.
    let mut faint = faint;
    let darker = |patch: &&Patch| patch.cells.iter().map(|&i| along[i]).sum::<f32>() < 0.0;
    patches.iter().filter(darker).flat_map(|patch| &patch.cells).for_each(|&i| faint[i] = false);
    let around = local_mean(cols, rows, &lights, &faint, AROUND)?;
    let mut light = vec![0.0; off.len()];
    let lights: Vec<[f32; 1]> =
        lights.iter().zip(around).map(|([v], around)| [around.map_or(0.0, |[around]| v - around)]).collect();
    for (averaged, across) in AVERAGED {
        let lights = local_mean(cols, rows, &lights, &faint, averaged)?;
        let lights = lights.into_iter().map(|v| v.map(|[v]| [v, 0.0, 0.0])).collect();
        let look = Look::new([cols, rows], on_sheet, &faint, lights, ONE_DIRECTION, across);
        for mut patch in look.patches([STANDS_OUT[1], DEEP[1]], |off| off[0]) {
            // The narrower mean, which comes first, tells the outline better.
            if patch.is_alone && patch.cells.iter().all(|&i| light[i] == 0.0) {
                let shares = look.shares(&patch);
                shares.iter().for_each(|(i, share)| light[*i] = max(light[*i], *share));
                patch.cells = shares.into_iter().filter(|(_, share)| *share >= 0.5).map(|(i, _)| i).collect();
            }
            patches.push(patch);
        }
    }

    let of = |patches: &mut dyn Iterator<Item = &Patch>| {
        let mut washed = vec![false; off.len()];
        patches.flat_map(|patch| &patch.cells).for_each(|&i| washed[i] = true);
        for _ in 0..BEYOND {
            let before = washed.clone();
            let beside = |i: usize| grid::beside(i, cols, rows).any(|j| before[j]);
            (0..before.len()).filter(|i| !before[*i]).for_each(|i| washed[i] = beside(i));
        }
        washed
    };
    Ok(Washed { at: of(&mut patches.iter()), alone: of(&mut patches.iter().filter(|patch| patch.is_alone)), light })
}

/// Cells side by side that are washed.
struct Patch {
    cells: Vec<usize>,
    /// Where they are deepest, how far that is off the paper.
    deepest: [f32; 3],
    /// Whether paper lies nearly all around.
    is_alone: bool,
}

/// How far cells lie off the paper in some way, averaged over those around; `None` for those that no such wash covers.
struct Look<'a> {
    size: [usize; 2],
    on_sheet: &'a [bool],
    averaged: Vec<Option<[f32; 3]>>,
    /// The middle of all, and how far they deviate from that.
    middle: [f32; 3],
    deviation: f32,
    /// How far across a border is looked, in cells.
    across: isize,
}

impl<'a> Look<'a> {
    /// `half` is the length that half of all lie below, in deviations.
    fn new(
        size: [usize; 2],
        on_sheet: &'a [bool],
        faint: &[bool],
        mut averaged: Vec<Option<[f32; 3]>>,
        half: f32,
        across: isize,
    ) -> Self {
        averaged.iter_mut().zip(faint).filter(|(_, faint)| !**faint).for_each(|(averaged, _)| *averaged = None);
        let each: Vec<[f32; 3]> = averaged.iter().flatten().copied().collect();
        if each.is_empty() {
            return Self { size, on_sheet, averaged, middle: [0.0; 3], deviation: 0.0, across };
        }
        let middle = [0, 1, 2].map(|c| median(&mut each.iter().map(|v| v[c]).collect::<Vec<f32>>()));
        let mut lengths: Vec<f32> = each.iter().map(|v| length(difference(*v, middle))).collect();
        let deviation = max(median(&mut lengths) / half, LEAST_DEVIATION);
        Self { size, on_sheet, averaged, middle, deviation, across }
    }

    /// Patches of cells of which each stands out by so many deviations, and one in four by so many, in the `height` of what they are
    /// off.
    fn patches(&self, [each, deepest]: [f32; 2], height: impl Fn([f32; 3]) -> f32) -> Vec<Patch> {
        let [cols, rows] = self.size;
        let stands_out = |v: &Option<[f32; 3]>| v.is_some_and(|v| height(difference(v, self.middle)) > each * self.deviation);
        let mut open: Vec<bool> = self.averaged.iter().map(stands_out).collect();
        let mut patches = Vec::new();
        for first in 0..open.len() {
            if std::mem::take(&mut open[first]) {
                let cells = grid::flood(vec![first], cols, rows, |_, to| std::mem::take(&mut open[to]));
                patches.extend(self.patch(cells, deepest).filter(|patch| patch.cells.len() >= LEAST));
            }
        }
        patches
    }

    /// These cells, if they are so deep and end all around as washes do.
    fn patch(&self, cells: Vec<usize>, deepest: f32) -> Option<Patch> {
        let [cols, rows] = self.size;
        let inside: BTreeSet<usize> = cells.iter().copied().collect();
        let value = |i: usize| self.averaged[i].unwrap_or_default();
        let sum = cells.iter().fold([0.0; 3], |sum, &i| plus(sum, value(i)));
        let deep = |i: usize| dot(value(i), sum) / max(length(sum), 1e-6);
        let depth = quantile(&mut cells.iter().map(|&i| deep(i)).collect::<Vec<f32>>(), 0.75);
        let (mut hard, mut soft, mut of_sheet, mut painted) = (0.0_f32, 0.0, 0.0, 0.0);
        for &i in &cells {
            for direction in [(-1, 0), (1, 0), (0, -1), (0, 1)] {
                let at = |n| grid::step(i, direction, n, cols, rows);
                let is_within = |cell: Option<usize>| cell.is_some_and(|cell| inside.contains(&cell));
                if is_within(at(1)) || is_within(at(self.across)) {
                    continue;
                }
                let is_known = |n| at(n).is_some_and(|cell| self.averaged[cell].is_some());
                *(match at(self.across).filter(|beyond| self.on_sheet[*beyond]) {
                    None => &mut of_sheet,
                    // Where other paint lies beyond nothing is known.
                    Some(_) if !(1..=self.across).all(is_known) => &mut painted,
                    Some(beyond) if depth - deep(beyond) > GONE * depth => &mut hard,
                    Some(_) => &mut soft,
                }) += 1.0;
            }
        }
        let (seen, all) = (hard + soft, max(hard + soft + of_sheet + painted, 1.0));
        let is_one = depth > deepest * self.deviation && hard > HARD * seen && seen > SEEN * all && of_sheet < OF_SHEET * all;
        let deepest = sum.map(|v| v * depth / max(length(sum), 1e-6));
        is_one.then_some(Patch { cells, deepest, is_alone: seen > ALONE * all })
    }

    /// How much of a patch's wash its cells and those about them show, 0..1.
    fn shares(&self, patch: &Patch) -> Vec<(usize, f32)> {
        let [cols, rows] = self.size;
        let mut steps: BTreeMap<usize, u8> = patch.cells.iter().map(|i| (*i, 0)).collect();
        let cells = grid::flood(patch.cells.clone(), cols, rows, |from, to| {
            let beyond = steps[&from] + 1;
            let enter = beyond <= SHORE && self.averaged[to].is_some() && !steps.contains_key(&to);
            if enter {
                steps.insert(to, beyond);
            }
            enter
        });
        let share = |i: usize| dot(self.averaged[i].unwrap_or_default(), patch.deepest) / dot(patch.deepest, patch.deepest);
        cells.into_iter().map(|i| (i, share(i).clamp(0.0, 1.0))).collect()
    }
}
