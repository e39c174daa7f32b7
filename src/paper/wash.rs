//! Pale washes that lie no further off the paper than its own unevenness: a count or two.
//!
//! Followed as shading is, they would be gone. Light and tooth change paper along its own color, though, and tints of stray light
//! and age are slow. So what lies off it in another direction, all over a patch that ends within a few cells, is painted.

use std::collections::BTreeSet;

use super::Overview;
use super::shading::local_mean;
use crate::color::math::max;
use crate::error::Result;
use crate::filter::grid;
use crate::filter::order::{median, quantile};
use crate::filter::vector::{difference, dot, length, plus};

/// Cells are averaged over so many (standard deviation of a Gaussian).
const AVERAGED: f32 = 1.5;
/// A cell of a patch stands out by so many deviations of all others.
const STANDS_OUT: f32 = 4.0;
/// Deviations are no smaller than this, encoded: what an 8-bit scan and its coding leave in such a mean.
const LEAST_DEVIATION: f32 = 0.0006;
/// What lies further off the paper than this, encoded, is no such wash.
const FAINT: f32 = 0.04;
/// And of a wash most do by so many more; what coding in blocks leaves of color does not.
const DEEP: f32 = 5.5;
/// Fewer cells the local means do not follow.
const LEAST: usize = 100;
/// How far across its border a patch is looked at, in cells, and which share of its depth is gone there at a hard place.
const ACROSS: isize = 4;
const GONE: f32 = 0.65;
/// So large a share of the border that can be looked across is hard, and so much as this of what a square of as many cells has.
const HARD: f32 = 0.75;
const LOOKED: f32 = 0.25;
/// What is off the paper by so many times as much as it is off the paper's own color is shaded.
const SHADE: f32 = 4.0;
/// What ends with the sheet along more of its border than this is shade, or the sheet's own.
const OF_SHEET: f32 = 0.05;
/// The average reaches so many cells beyond it.
const BEYOND: usize = 2;

/// Which cells are washed, among those that `fitted` says lie near the `field`.
///
/// # Errors
/// When there is no memory.
pub(super) fn cells(overview: &Overview, on_sheet: &[bool], fitted: &[bool], field: &[[f32; 3]]) -> Result<Vec<bool>> {
    let (cols, rows) = (overview.mean.width(), overview.mean.height());
    let off: Vec<[f32; 3]> = overview.mean.data().iter().zip(field).map(|(mean, field)| difference(*mean, *field)).collect();
    let aside = |(off, field): (&[f32; 3], &[f32; 3])| {
        let along = dot(*off, *field) / max(dot(*field, *field), 1e-4);
        difference(*off, field.map(|v| along * v))
    };
    let asides: Vec<[f32; 3]> = off.iter().zip(field).map(aside).collect();
    let mut averaged = local_mean(cols, rows, &asides, fitted, AVERAGED)?;
    averaged.iter_mut().zip(&off).zip(on_sheet).for_each(|((averaged, off), on_sheet)| {
        if !on_sheet || length(*off) > FAINT {
            *averaged = None;
        }
    });
    let mut washed = vec![false; fitted.len()];
    let each: Vec<[f32; 3]> = averaged.iter().flatten().copied().collect();
    if each.is_empty() {
        return Ok(washed);
    }
    let middle = [0, 1, 2].map(|c| median(&mut each.iter().map(|v| v[c]).collect::<Vec<f32>>()));
    // Two directions are left, and of a length in two directions half lie below 1.18 deviations (Rayleigh distribution).
    let mut lengths: Vec<f32> = each.iter().map(|v| length(difference(*v, middle))).collect();
    let deviation = max(median(&mut lengths) / 1.1774, LEAST_DEVIATION);
    let stands_out = |i: usize| averaged[i].is_some_and(|v| length(difference(v, middle)) > STANDS_OUT * deviation);
    let open: Vec<bool> = (0..fitted.len()).map(stands_out).collect();
    let mut seen = vec![false; fitted.len()];
    for first in 0..fitted.len() {
        if !open[first] || seen[first] {
            continue;
        }
        seen[first] = true;
        let patch = grid::flood(vec![first], cols, rows, |_, to| open[to] && !std::mem::replace(&mut seen[to], true));
        let [aside, off] = [&asides, &off].map(|of| length(patch.iter().fold([0.0; 3], |sum, &i| plus(sum, of[i]))));
        if patch.len() >= LEAST && off < SHADE * aside && ends(&patch, &averaged, on_sheet, DEEP * deviation, [cols, rows]) {
            patch.iter().for_each(|&i| washed[i] = true);
        }
    }
    for _ in 0..BEYOND {
        let before = washed.clone();
        (0..before.len()).filter(|i| !before[*i]).for_each(|i| washed[i] = grid::beside(i, cols, rows).any(|j| before[j]));
    }
    Ok(washed)
}

/// Whether a patch is as deep as the `least` of washes, and ends all around as they do.
fn ends(patch: &[usize], averaged: &[Option<[f32; 3]>], on_sheet: &[bool], least: f32, [cols, rows]: [usize; 2]) -> bool {
    let inside: BTreeSet<usize> = patch.iter().copied().collect();
    let value = |i: usize| averaged[i].unwrap_or_default();
    let sum = patch.iter().fold([0.0; 3], |sum, &i| plus(sum, value(i)));
    let deep = |i: usize| dot(value(i), sum) / max(length(sum), 1e-6);
    let depth = quantile(&mut patch.iter().map(|&i| deep(i)).collect::<Vec<f32>>(), 0.75);
    let (mut hard, mut soft, mut of_sheet, mut all) = (0_u32, 0_u32, 0_u32, 0_u32);
    for &i in patch {
        for direction in [(-1, 0), (1, 0), (0, -1), (0, 1)] {
            let at = |n| grid::step(i, direction, n, cols, rows);
            if at(1).is_some_and(|beside| inside.contains(&beside)) {
                continue;
            }
            all += 1;
            let Some(beyond) = at(ACROSS).filter(|beyond| on_sheet[*beyond]) else {
                of_sheet += 1;
                continue;
            };
            // Where other paint lies beyond nothing is known.
            let bare = (1..=ACROSS).all(|n| at(n).is_some_and(|cell| averaged[cell].is_some())) && !inside.contains(&beyond);
            if bare {
                *(if depth - deep(beyond) > GONE * depth { &mut hard } else { &mut soft }) += 1;
            }
        }
    }
    let [hard_share, of_sheet] = [(hard, hard + soft), (of_sheet, all)].map(|(part, of)| part as f32 / max(of as f32, 1.0));
    let looked = hard as f32 / (4.0 * (patch.len() as f32).sqrt());
    depth > least && hard_share > HARD && looked > LOOKED && of_sheet < OF_SHEET
}
