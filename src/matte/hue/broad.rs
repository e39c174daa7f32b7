//! Washes paler than what the middle pooling can tell, where they are broad: pooled over 4 pixels more, noise is a half to a third of
//! what it was, and half of what a wash has within still stands out of it. There a wash ends: its border, blurred alike on both sides,
//! is half as strong as it.
//!
//! What is narrow, a hair or a line, would be as strong in such a pooling and broader than it is, so it is left to the finer ones.

use super::{CELL, PALE, stored};
use crate::error::Result;
use crate::filter::order::median;
use crate::filter::vector::{difference, dot, length};
use crate::filter::{gauss, grid, local_max};
use crate::image::Plane;
use crate::matte::cover::ALONG_HUE;
use crate::units::Ppi;

/// Standard deviation of the pooling at 300 ppi, in cells of 4 pixels. With fewer than this share known a cell is not known.
const POOL: f32 = 1.0;
const KNOWN: f32 = 0.3;
/// Half the side of a square at 300 ppi, in cells: what does not hold one is narrow.
const NARROW: f32 = 2.0;
/// Within so many cells at 300 ppi a wash shows its full strength; what holds a square has this share of it, and its border half.
const WITHIN: f32 = 3.0;
const BROAD: f32 = 0.6;
const BORDER: f32 = 0.5;
/// Fewer cells show no noise.
const LEAST: usize = 100;
/// Noise is never trusted to be less, in deviations of the middle pooling: coding leaves none at all in colors that hardly change.
const FLOOR: f32 = 0.3;

/// Raises `strength`, which is at half size, to what the pooling of the residual in cells, `coarse`, has along the `directions`.
///
/// # Errors
/// When there is no memory.
pub(super) fn raise(
    coarse: &Plane<[f32; 4]>,
    mean: [f32; 3],
    directions: &Plane<Option<[f32; 3]>>,
    ppi: Ppi,
    strength: &mut Plane<u8>,
) -> Result<()> {
    let (w, h) = (coarse.width(), coarse.height());
    let [mut along, mut known] = [Plane::<f32>::new(w, h, "broad washes")?, Plane::new(w, h, "broad washes")?];
    let residual = |[r, g, b, _]: [f32; 4]| [r, g, b];
    // The foot of strong paint beside is none of the wash.
    let strength_of = coarse.data().iter().map(|cell| length(residual(*cell))).collect();
    let strongest = local_max::square(&Plane::from_vec(w, h, strength_of), 1)?;
    for y in 0..h {
        for x in 0..w {
            let Some(matched) = directions.at(x / CELL, y / CELL).filter(|_| strongest.at(x, y) <= PALE) else { continue };
            along.set(x, y, dot(difference(residual(coarse.at(x, y)), mean), matched));
            known.set(x, y, 1.0);
        }
    }
    for plane in [&mut along, &mut known] {
        gauss::blur(plane, POOL * ppi.coarseness())?;
    }
    for (v, known) in along.data_mut().iter_mut().zip(known.data()) {
        *v = if *known > KNOWN { *v / known } else { 0.0 };
    }
    // Paint lies off the paper one way: what lies off the other way is noise.
    let mut noise: Vec<f32> = along.data().iter().filter(|v| **v < 0.0).map(|v| -v).collect();
    if noise.len() < LEAST {
        return Ok(());
    }
    let deviation = (1.4826 * median(&mut noise)).max(FLOOR);
    let cells = |at_300: f32| (at_300 * ppi.coarseness()) as usize;
    let broad = local_max::square(&local_max::least(&along, cells(NARROW))?, cells(NARROW))?;
    let within = local_max::square(&along, cells(WITHIN))?;
    let needed = ALONG_HUE * deviation;
    for y in 0..h {
        for x in 0..w {
            let within = within.at(x, y);
            if broad.at(x, y) < needed.max(BROAD * within) {
                continue;
            }
            for (x, y) in grid::four(x, y, strength.width(), strength.height()) {
                let off = at_half(&along, x, y);
                if off >= needed.max(BORDER * within) {
                    strength.set(x, y, strength.at(x, y).max(stored(off / deviation)));
                }
            }
        }
    }
    Ok(())
}

/// A value at a pixel of half size, between the middles of the cells around.
fn at_half(cells: &Plane<f32>, x: usize, y: usize) -> f32 {
    let (left, right, across) = grid::between(x, 2, cells.width());
    let (above, below, down) = grid::between(y, 2, cells.height());
    let [across, down] = [across, down].map(|quarters| quarters as f32 / 4.0);
    let row = |y: usize| cells.at(left, y) * (1.0 - across) + cells.at(right, y) * across;
    row(above) * (1.0 - down) + row(below) * down
}
