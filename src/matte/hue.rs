//! The palest of paint, told by its hue.
//!
//! Where a wash thins out, what is left of it no longer stands out of the paper by its strength. It does by its hue, which is
//! known: that of the pale paint beside it. Along one direction of color, measured by the paper's own spread, noise has one
//! dimension instead of three, and no other measure tells paint of that hue better (the matched filter, Turin 1960).
//!
//! A hue that the paper itself takes on, where it yellows or lies in the shade, tells nothing and is not followed.

mod broad;

use super::evidence::{Evidence, STEPS};
use super::fade::CELL as COARSE;
use crate::color::math::min;
use crate::error::Result;
use crate::filter::vector::{difference, dot, length};
use crate::filter::{Regions, gauss, local_max};
use crate::image::Plane;
use crate::units::Ppi;

/// How far the sheet lies off the paper along the hue of the pale paint about, at half size, in [`STEPS`]; zero where there is no
/// such paint, or it is of a hue of the paper's own.
#[derive(Debug)]
pub struct AlongHue {
    /// By the middle pooling.
    pub strength: Plane<u8>,
    /// The largest of `strength` within about 6 pixels at 300 ppi.
    pub top: Plane<u8>,
}

/// Side of a cell of the map of hues, in cells of [`Evidence::coarse`].
const CELL: usize = 2;
/// Paint further off the paper than this, encoded, is not pale.
pub(super) const PALE: f32 = 0.22;
/// Hues are looked for within so many pixels at 300 ppi: 3 mm. (Standard deviation of a blur.)
const REACH: f32 = 36.0;
/// Pale paint covers at least this share of the neighborhood, and this share of all that is painted in it.
const LEAST: f32 = 0.12;
const PREVAILS: f32 = 0.4;
/// Reach over which the largest strength is looked for at 300 ppi, in half-size pixels.
const TOP: f32 = 3.0;

impl AlongHue {
    /// Measures a sheet. `regions` are those of likely paint, `sure` says which of them count, `stains` what of them is no paint,
    /// at half size. `None` where there is no pale paint of such a hue.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn measure(
        evidence: &Evidence,
        (regions, sure): (&Regions, &[bool]),
        stains: Option<&Plane<bool>>,
        ppi: Ppi,
    ) -> Result<Option<Self>> {
        let Some(hues) = hues(evidence, (regions, sure), stains, ppi)? else { return Ok(None) };
        let tooth = &evidence.middle_tooth;
        let mean = tooth.mean();
        let directions =
            hues.data().iter().map(|hue| (*hue != [0.0; 3] && !tooth.varies_along(*hue)).then(|| tooth.matched(*hue)));
        let directions = Plane::from_vec(hues.width(), hues.height(), directions.collect());
        let (w, h) = (evidence.pooled.width(), evidence.pooled.height());
        let mut strength: Plane<u8> = Plane::new(w, h, "the hues of pale paint")?;
        // A cell's side in pixels at half size.
        let side = CELL * COARSE / 2;
        for row in 0..directions.height() {
            for (column, direction) in directions.row(row).iter().enumerate() {
                let Some(matched) = *direction else { continue };
                let columns = column * side..((column + 1) * side).min(w);
                for y in row * side..((row + 1) * side).min(h) {
                    let pooled = &evidence.pooled.row(y)[columns.clone()];
                    for (out, off) in strength.row_mut(y)[columns.clone()].iter_mut().zip(pooled) {
                        // Zero is strong paint, which is not pooled.
                        if *off != [0.0; 3] {
                            *out = stored(dot(difference(*off, mean), matched));
                        }
                    }
                }
            }
        }
        broad::raise(&evidence.coarse, mean, &directions, ppi, &mut strength)?;
        if strength.data().iter().all(|v| *v == 0) {
            return Ok(None);
        }
        let top = local_max::square(&strength, (TOP * ppi.coarseness()) as usize)?;
        Ok(Some(Self { strength, top }))
    }
}

/// The mean residual of the pale paint around each cell; zero where there is too little of it.
fn hues(
    evidence: &Evidence,
    (regions, sure): (&Regions, &[bool]),
    stains: Option<&Plane<bool>>,
    ppi: Ppi,
) -> Result<Option<Plane<[f32; 3]>>> {
    let coarse = &evidence.coarse;
    let (cols, rows) = (coarse.width().div_ceil(CELL), coarse.height().div_ceil(CELL));
    let empty = || Plane::<f32>::new(cols, rows, "the hues of pale paint");
    // The residual of pale paint, how much of it there is, and how much other.
    let mut sums = [empty()?, empty()?, empty()?, empty()?, empty()?];
    let mut found = false;
    let mut painted = vec![0.0; coarse.width()];
    for y in 0..coarse.height() {
        paint_cells(regions, sure, y * COARSE, &mut painted);
        for (x, painted) in painted.iter().enumerate().filter(|(_, painted)| **painted > 0.0) {
            if stains.is_some_and(|stains| stains.at(x * COARSE / 2, y * COARSE / 2)) {
                continue;
            }
            let [r, g, b, _] = coarse.at(x, y);
            let at = (y / CELL) * cols + x / CELL;
            if length([r, g, b]) > PALE {
                sums[4].data_mut()[at] += painted;
            } else {
                found = true;
                let added = [r, g, b, 1.0];
                sums.iter_mut().zip(added).for_each(|(sum, v)| sum.data_mut()[at] += painted * v);
            }
        }
    }
    if !found {
        return Ok(None);
    }
    for sum in &mut sums {
        gauss::blur(sum, REACH * ppi.coarseness() / (CELL * COARSE) as f32)?;
    }
    let [r, g, b, pale, other] = &sums;
    let hue = |i: usize| {
        let (pale, other) = (pale.data()[i], other.data()[i]);
        let enough = pale >= LEAST * (CELL * CELL) as f32 && pale >= PREVAILS * (pale + other);
        if enough { [r.data()[i], g.data()[i], b.data()[i]] } else { [0.0; 3] }
    };
    Ok(Some(Plane::from_vec(cols, rows, (0..cols * rows).map(hue).collect())))
}

/// Deviations in [`STEPS`].
fn stored(deviations: f32) -> u8 {
    min(deviations * STEPS, 255.0) as u8
}

/// Sets the painted share of each coarse cell of the row that begins at `top`: one line through its middle tells.
fn paint_cells(regions: &Regions, sure: &[bool], top: usize, cells: &mut [f32]) {
    cells.fill(0.0);
    let middle = (top + COARSE / 2).min(regions.height() - 1);
    for run in regions.row(middle).iter().filter(|run| sure[run.region as usize]) {
        for (cell, pixels) in run.cells(COARSE) {
            cells[cell] += pixels as f32 * (1.0 / COARSE as f32);
        }
    }
}
