//! Shading that no surface over the whole sheet follows: along its sides, and drawn through what is painted on it.

use super::Overview;
use crate::error::Result;
use crate::filter::gauss;
use crate::filter::order::median;
use crate::filter::vector::{apart, difference, dot, length};
use crate::image::Plane;

/// Adds to the field what shading falls from along each side of the sheet: a gutter, the shadow of a lid. It runs along its
/// side, so that the middle one of the plain cells at every distance from the border shows it, whatever is painted on the
/// others. `width` is how far bare cells lie apart, encoded.
pub(super) fn along_sides(overview: &Overview, on_sheet: &[bool], bare: &[bool], width: f32, field: &mut [[f32; 3]]) {
    /// How far from the border shading is looked for, as a share of the sheet's shorter side.
    const ZONE: f32 = 0.22;
    /// Largest change from a cell to the next one outward, encoded: a gutter falls by half over a few centimeters.
    const STEP: f32 = 0.022;
    /// At least so many cells in a hundred along the side must be paper.
    const LEAST: usize = 40;
    /// The outer part of the zone, one in so many, must lie this deep, encoded: less is no shading.
    const OUTER: usize = 4;
    const DEEP: f32 = 0.012;
    let (cols, rows) = (overview.mean.width(), overview.mean.height());
    let mean = overview.mean.data();
    let plain = overview.plain(bare);
    let zone = (cols.min(rows) as f32 * ZONE) as usize;
    for side in [Side::Left, Side::Right, Side::Top, Side::Bottom] {
        let along = if matches!(side, Side::Left | Side::Right) { rows } else { cols };
        let mut off = [0.0; 3];
        let mut profile = vec![off; zone];
        for depth in (0..zone).rev() {
            let seen: Vec<usize> = (0..along)
                .map(|k| side.cell(depth, k, cols, rows))
                .filter(|&i| on_sheet[i] && plain[i] && apart(difference(mean[i], field[i]), off) < STEP + width)
                .collect();
            if seen.len() * 100 >= LEAST * along {
                let middle = |of: &dyn Fn(usize) -> f32| median(&mut seen.iter().map(|&i| of(i)).collect::<Vec<f32>>());
                let usual = [0, 1, 2].map(|c| middle(&|i| mean[i][c] - field[i][c]));
                if like_shadow(usual, [0, 1, 2].map(|c| middle(&|i| field[i][c]))) {
                    off = usual;
                }
            }
            profile[depth] = off;
        }
        let outer = mean_of(&profile[..zone / OUTER]);
        if length(outer) < DEEP {
            continue;
        }
        // Age and shade tint paper most at its border: what is more of a tint farther in is of pale washes on so many of the cells.
        let paper = mean_of(field);
        let tint = |off: [f32; 3]| difference(off, paper.map(|v| v * dot(off, paper) / dot(paper, paper).max(1e-4)));
        let most = length(tint(outer));
        for off in &mut profile[zone / OUTER..] {
            let own = tint(*off);
            let too_much = 1.0 - most / length(own).max(most).max(1e-6);
            *off = difference(*off, own.map(|v| v * too_much));
        }
        for depth in 0..zone {
            let off = mean_of(&profile[depth.saturating_sub(1)..(depth + 2).min(zone)]);
            for k in 0..along {
                let i = side.cell(depth, k, cols, rows);
                (0..3).for_each(|c| field[i][c] += off[c]);
            }
        }
    }
}

#[derive(Clone, Copy)]
enum Side {
    Left,
    Right,
    Top,
    Bottom,
}

impl Side {
    /// The cell at a distance from this side, and so far along it.
    fn cell(self, depth: usize, along: usize, cols: usize, rows: usize) -> usize {
        match self {
            Self::Left => along * cols + depth,
            Self::Right => along * cols + cols - 1 - depth,
            Self::Top => depth * cols + along,
            Self::Bottom => (rows - 1 - depth) * cols + along,
        }
    }
}

fn mean_of(values: &[[f32; 3]]) -> [f32; 3] {
    let count = values.len().max(1) as f32;
    [0, 1, 2].map(|c| values.iter().map(|v| v[c]).sum::<f32>() / count)
}

/// Whether paper that lies so far off its own color is paper in less light: all channels fall, blue at least as much as red,
/// by like shares.
fn like_shadow(off: [f32; 3], paper: [f32; 3]) -> bool {
    /// Paper darker than this share of its own color is no longer told from a dark wash.
    const DARKEST: f32 = 0.45;
    let share = [0, 1, 2].map(|c| 1.0 + off[c] / paper[c].max(0.02));
    let fall = 1.0 - share[1];
    share[1] > DARKEST
        && share[0] < 1.03
        && share[0] >= share[1] - 0.012
        && share[1] >= share[2] - 0.012
        && share[0] - share[2] < 0.02 + 0.9 * fall.max(0.0)
        && share.iter().all(|s| *s < 1.04)
}

/// Draws the field through `shaded` cells of paper, and, between these and the bare ones, through what is painted there.
/// The shaded cells are bare from now on.
///
/// # Errors
/// When there is no memory.
pub(super) fn draw_through(
    cols: usize,
    rows: usize,
    mean: &[[f32; 3]],
    shaded: &[bool],
    field: &mut [[f32; 3]],
    bare: &mut [bool],
) -> Result<()> {
    /// Reach in cells over which shaded cells are averaged: they are picked for being dark, their noise among it.
    const OWN: f32 = 1.0;
    /// Reaches over which painted cells take the change of the nearest others.
    const REACHES: [f32; 3] = [1.0, 2.5, 6.0];
    let mut known: Vec<bool> = bare.iter().zip(shaded).map(|(bare, shaded)| *bare || *shaded).collect();
    let off: Vec<[f32; 3]> = mean.iter().zip(&*field).map(|(mean, field)| difference(*mean, *field)).collect();
    let mut change = vec![[0.0; 3]; mean.len()];
    for (i, own) in local_mean(cols, rows, &off, &known, OWN)?.into_iter().enumerate() {
        if let (true, Some(own)) = (shaded[i], own) {
            change[i] = own;
        }
    }
    for reach in REACHES {
        for (i, near) in local_mean(cols, rows, &change, &known, reach)?.into_iter().enumerate() {
            if let (false, Some(near)) = (known[i], near) {
                (known[i], change[i]) = (true, near);
            }
        }
    }
    for (i, change) in change.iter().enumerate() {
        (0..3).for_each(|c| field[i][c] += change[c]);
        bare[i] |= shaded[i];
    }
    Ok(())
}

/// The mean of the `known` values around each cell, weighted by a Gaussian; `None` where there are too few.
pub(super) fn local_mean<const N: usize>(
    cols: usize,
    rows: usize,
    values: &[[f32; N]],
    known: &[bool],
    sigma: f32,
) -> Result<Vec<Option<[f32; N]>>> {
    /// How much of a reach must be known.
    const LEAST: f32 = 0.1;
    let blurred = |of: &dyn Fn(usize) -> f32| -> Result<Plane<f32>> {
        let mut plane = Plane::from_vec(cols, rows, (0..known.len()).map(|i| if known[i] { of(i) } else { 0.0 }).collect());
        gauss::blur(&mut plane, sigma)?;
        Ok(plane)
    };
    let weight = blurred(&|_| 1.0)?;
    let sums = (0..N).map(|c| blurred(&|i| values[i][c])).collect::<Result<Vec<Plane<f32>>>>()?;
    let mean = |(i, weight): (usize, &f32)| (*weight > LEAST).then(|| std::array::from_fn(|c| sums[c].data()[i] / weight));
    Ok(weight.data().iter().enumerate().map(mean).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half the light is the same paper; a blue wash as dark is not, nor is paper in a tenth of its light.
    #[test]
    fn a_shadow_takes_like_shares_of_all_channels() {
        let paper = [0.95, 0.93, 0.86];
        assert!(like_shadow(paper.map(|v| -0.2 * v), paper));
        assert!(!like_shadow([-0.3, -0.2, -0.05], paper));
        assert!(!like_shadow(paper.map(|v| -0.9 * v), paper));
    }

    /// A shaded stripe with a painted gap in it: the gap takes the stripe's shade, the bare rest keeps its own.
    #[test]
    fn the_field_is_drawn_through_what_is_painted_on_a_shaded_stripe() {
        let (cols, rows) = (24, 24);
        let stripe = |i: usize| (8..16).contains(&(i % cols));
        let painted = |i: usize| stripe(i) && (10..13).contains(&(i / cols));
        let mean: Vec<[f32; 3]> = (0..cols * rows)
            .map(|i| {
                if painted(i) {
                    [0.1; 3]
                } else if stripe(i) {
                    [0.7; 3]
                } else {
                    [0.9; 3]
                }
            })
            .collect();
        let shaded: Vec<bool> = (0..mean.len()).map(|i| stripe(i) && !painted(i)).collect();
        let mut bare: Vec<bool> = (0..mean.len()).map(|i| !stripe(i)).collect();
        let mut field = vec![[0.9; 3]; mean.len()];
        draw_through(cols, rows, &mean, &shaded, &mut field, &mut bare).unwrap();
        assert!((field[11 * cols + 12][1] - 0.7).abs() < 0.02, "{:?}", field[11 * cols + 12]);
        assert_eq!(field[11 * cols + 2], [0.9; 3]);
        assert!(bare[4 * cols + 12] && !bare[11 * cols + 12]);
    }
}
