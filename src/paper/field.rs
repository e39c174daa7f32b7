//! The paper field: what bare paper would scan as at every pixel, per channel and slow.
//!
//! A reduced copy of the sheet gives the paper's color as the most frequent one; a quadratic surface is fitted to the
//! cells near it, ever more strictly (flat-field correction without a white frame); what the surface leaves over is
//! followed by local means of the bare cells alone. Shading that deepens toward a border (gutter, lid, toning) is taken
//! in from the sheet outward as long as it changes slowly and darkens like shadow, not like paint.

use crate::error::Result;
use crate::filter::order::median;
use crate::filter::vector::apart;
use crate::filter::{gauss, grid, linear};
use crate::image::{Plane, Sheet};
use crate::paper::Tooth;

/// Cells along the sheet's longer side. Shading and stray light are slower than a hundredth of a sheet.
const CELLS: usize = 200;
/// Successive widths of the surface fit, encoded 0..1: wide ones first, so that it grows over a strongly shaded sheet. The
/// last is about what tooth leaves in the mean of a cell.
const FIT_WIDTHS: [f32; 9] = [0.06, 0.06, 0.06, 0.05, 0.04, 0.03, 0.02, 0.014, 0.010];
/// No fit is narrower than so many times the median distance of its cells from the surface: rough paper.
const NOISE: f32 = 2.5;
/// A cell that lies further off the field than so many deviations of bare cells is none.
const FITS: f32 = 3.5;
/// How far the mean of a cell brings a scan's noise down.
const SMOOTHED: f32 = 4.0;
/// Reach of the local means, in cells: 5 % of the longer side, then 2 % for what old paper's toning is like.
const LOCAL_SIGMAS: [f32; 3] = [9.0, 9.0, 4.0];
/// Cells this close to the field may be bare paper, stained or not, encoded.
const LIKELY: f32 = 0.03;
/// Darker than this in all channels is a lid or a black ground, not paper, if anything else is there: black drawing papers
/// scan at 0.2 (L* 22).
const BLACK: f32 = 0.1;

/// A reduced copy of a sheet: the mean of each square cell, and how far its pixels lie apart.
#[derive(Debug)]
pub struct Overview {
    /// Side of a cell in sheet pixels.
    pub cell: usize,
    /// Mean encoded color of each cell.
    pub mean: Plane<[f32; 3]>,
    /// Standard deviation of the green channel inside each cell.
    pub spread: Plane<f32>,
}

impl Overview {
    /// Reduces a sheet. O(pixels).
    ///
    /// # Errors
    /// When there is no memory.
    pub fn new(sheet: &Sheet) -> Result<Self> {
        let (w, h) = (sheet.width(), sheet.height());
        let cell = (w.max(h) as f32 / CELLS as f32).round().clamp(2.0, 64.0) as usize;
        let (cols, rows) = (w.div_ceil(cell), h.div_ceil(cell));
        let mut mean = Plane::new(cols, rows, "an overview of the sheet")?;
        let mut spread = Plane::new(cols, rows, "an overview of the sheet")?;
        let mut line = [vec![0.0; w], vec![0.0; w], vec![0.0; w]];
        let mut sums = vec![[0.0_f32; 4]; cols];
        for row in 0..rows {
            sums.fill([0.0; 4]);
            let lines = row * cell..((row + 1) * cell).min(h);
            let tall = lines.len();
            for y in lines {
                let [r, g, b] = &mut line;
                sheet.row(y, r, g, b);
                for (column, sum) in sums.iter_mut().enumerate() {
                    let at = column * cell..((column + 1) * cell).min(w);
                    for x in at {
                        sum[0] += r[x];
                        sum[1] += g[x];
                        sum[2] += b[x];
                        sum[3] += g[x] * g[x];
                    }
                }
            }
            for (column, sum) in sums.iter().enumerate() {
                let count = (tall * (((column + 1) * cell).min(w) - column * cell)) as f32;
                let m = [0, 1, 2].map(|c| sum[c] / count);
                mean.set(column, row, m);
                spread.set(column, row, (sum[3] / count - m[1] * m[1]).max(0.0).sqrt());
            }
        }
        Ok(Self { cell, mean, spread })
    }

    /// Cells inside which little changes: no contour runs through. The limit is twice the spread of the smoothest third.
    fn smooth(&self) -> Vec<bool> {
        let mut spreads = self.spread.data().to_vec();
        let at = spreads.len() / 3;
        let typical = *spreads.select_nth_unstable_by(at, f32::total_cmp).1;
        self.spread.data().iter().map(|s| *s < 2.0 * typical + 0.006).collect()
    }

    /// The most frequent color among the smooth cells for which `usable` holds; the middle of the range if there is none.
    #[must_use]
    pub fn mode(&self, usable: impl Fn(usize) -> bool) -> [f32; 3] {
        const STEPS: usize = 40;
        let bin = |v: f32| ((v * STEPS as f32) as usize).min(STEPS);
        let key = |c: &[f32; 3]| (bin(c[0]) * (STEPS + 1) + bin(c[1])) * (STEPS + 1) + bin(c[2]);
        let smooth = self.smooth();
        let dark = |c: &[f32; 3]| c.iter().all(|v| *v < BLACK);
        let usable = |i: usize| usable(i) && smooth[i];
        let any_light = (0..self.mean.data().len()).any(|i| usable(i) && !dark(&self.mean.data()[i]));
        let usable = |i: usize| usable(i) && !(any_light && dark(&self.mean.data()[i]));
        let mut counts = vec![0_u32; (STEPS + 1) * (STEPS + 1) * (STEPS + 1)];
        for (i, c) in self.mean.data().iter().enumerate() {
            if usable(i) {
                counts[key(c)] += 1;
            }
        }
        // Equal counts go to the lighter color.
        let best = counts.iter().enumerate().max_by_key(|&(i, n)| (*n, i)).map_or(0, |(i, _)| i);
        let (mut sum, mut n) = ([0.0; 3], 0.0_f32);
        for (i, c) in self.mean.data().iter().enumerate() {
            if usable(i) && key(c) == best {
                n += 1.0;
                (0..3).for_each(|k| sum[k] += c[k]);
            }
        }
        if n == 0.0 { [0.5; 3] } else { sum.map(|v| v / n) }
    }
}

/// What bare paper would scan as, on a coarse grid of cell centers.
#[derive(Clone, Debug)]
pub struct PaperField {
    cell: usize,
    grid: Plane<[f32; 3]>,
    bare: Plane<bool>,
    likely: Plane<bool>,
}

impl PaperField {
    /// Estimates the field. `outside` marks cells that do not belong to the sheet; `stated` is the painter's own word
    /// for the paper color, encoded 0..1, which then only sets where the search begins.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn estimate(overview: &Overview, outside: &Plane<bool>, stated: Option<[f32; 3]>) -> Result<Self> {
        let (cols, rows) = (overview.mean.width(), overview.mean.height());
        let mean = overview.mean.data();
        let on_sheet: Vec<bool> = outside.data().iter().map(|o| !o).collect();
        let start = stated.unwrap_or_else(|| overview.mode(|i| on_sheet[i]));
        let smooth = overview.smooth();
        let mut surface = Surface::constant(start);
        let mut field = vec![start; mean.len()];
        let mut noise = 0.0_f32;
        for width in FIT_WIDTHS {
            let width = width.max(NOISE * noise);
            let near: Vec<bool> = (0..mean.len()).map(|i| on_sheet[i] && smooth[i] && apart(mean[i], field[i]) < width).collect();
            if let Some(better) = Surface::fit(cols, rows, mean, |i| near[i]) {
                surface = better;
            }
            for (i, value) in field.iter_mut().enumerate() {
                *value = surface.at(i % cols, i / cols, cols, rows);
            }
            let mut off: Vec<f32> = (0..mean.len()).filter(|&i| near[i]).map(|i| apart(mean[i], field[i])).collect();
            if width <= LIKELY && !off.is_empty() {
                noise = median(&mut off);
            }
        }
        let width = FIT_WIDTHS[FIT_WIDTHS.len() - 1].max(NOISE * noise);
        let mut bare: Vec<bool> = (0..mean.len()).map(|i| on_sheet[i] && apart(mean[i], field[i]) < width).collect();
        let fitted = bare.clone();
        follow_shading(overview, &on_sheet, &mut field, &mut bare);
        for sigma in LOCAL_SIGMAS {
            local_means(cols, rows, mean, &on_sheet, &fitted, sigma, &mut field, &mut bare)?;
        }
        for value in &mut field {
            *value = value.map(|v| v.clamp(0.01, 0.9999));
        }
        let likely = (0..mean.len()).map(|i| on_sheet[i] && smooth[i] && apart(mean[i], field[i]) < LIKELY).collect();
        Ok(Self {
            cell: overview.cell,
            grid: Plane::from_vec(cols, rows, field),
            bare: Plane::from_vec(cols, rows, bare),
            likely: Plane::from_vec(cols, rows, likely),
        })
    }

    /// Side of a grid cell in sheet pixels.
    #[must_use]
    pub fn cell(&self) -> usize {
        self.cell
    }

    /// The field at the cell centers.
    #[must_use]
    pub fn grid(&self) -> &Plane<[f32; 3]> {
        &self.grid
    }

    /// Cells that are bare paper.
    #[must_use]
    pub fn bare(&self) -> &Plane<bool> {
        &self.bare
    }

    /// Cells that may be bare paper, with all the unevenness of its toning.
    #[must_use]
    pub fn likely(&self) -> &Plane<bool> {
        &self.likely
    }

    /// The mean paper color over the bare cells, encoded 0..1.
    #[must_use]
    pub fn color(&self) -> [f32; 3] {
        let (mut sum, mut n) = ([0.0_f64; 3], 0.0_f64);
        for (value, _) in self.grid.data().iter().zip(self.bare.data()).filter(|(_, b)| **b) {
            (0..3).for_each(|k| sum[k] += f64::from(value[k]));
            n += 1.0;
        }
        if n == 0.0 { self.grid.at(self.grid.width() / 2, self.grid.height() / 2) } else { sum.map(|v| (v / n) as f32) }
    }

    /// How uneven the light on the sheet is: the range of the field's lightest channel over the bare cells (2nd to
    /// 98th percentile) as a share of its mean, 0..1.
    #[must_use]
    pub fn unevenness(&self) -> f32 {
        let mut values: Vec<f32> =
            self.grid.data().iter().zip(self.bare.data()).filter(|(_, b)| **b).map(|(v, _)| v[0].max(v[1]).max(v[2])).collect();
        if values.is_empty() {
            return 0.0;
        }
        values.sort_by(f32::total_cmp);
        let at = |share: f32| values[(share * (values.len() - 1) as f32) as usize];
        (at(0.98) - at(0.02)) / at(0.5)
    }

    /// The field at one pixel.
    #[must_use]
    pub fn pixel(&self, x: usize, y: usize) -> [f32; 3] {
        let (left, right, fx) = between(x, self.cell, self.grid.width());
        let (top, bottom, fy) = between(y, self.cell, self.grid.height());
        let (a, b) = (self.grid.at(left, top), self.grid.at(right, top));
        let (c, d) = (self.grid.at(left, bottom), self.grid.at(right, bottom));
        [0, 1, 2].map(|k| {
            let upper = a[k] + fx * (b[k] - a[k]);
            let lower = c[k] + fx * (d[k] - c[k]);
            upper + fy * (lower - upper)
        })
    }
}

/// The two cells whose centers a pixel lies between, and the share of the second.
pub(super) fn between(pixel: usize, cell: usize, cells: usize) -> (usize, usize, f32) {
    let at = (pixel as f32 - (cell as f32 - 1.0) / 2.0) / cell as f32;
    if at < 0.0 {
        return (0, 0, 0.0);
    }
    let low = at as usize;
    if low + 1 >= cells { (cells - 1, cells - 1, 0.0) } else { (low, low + 1, at - low as f32) }
}

/// A quadratic surface over the sheet, one a channel.
struct Surface([[f64; 6]; 3]);

impl Surface {
    fn constant(color: [f32; 3]) -> Self {
        Self(color.map(|v| [f64::from(v), 0.0, 0.0, 0.0, 0.0, 0.0]))
    }

    fn basis(column: usize, row: usize, cols: usize, rows: usize) -> [f64; 6] {
        let x = column as f64 / cols as f64 - 0.5;
        let y = row as f64 / rows as f64 - 0.5;
        [1.0, x, y, x * x, x * y, y * y]
    }

    /// Least squares over the cells for which `near` holds; `None` when they do not determine it.
    fn fit(cols: usize, rows: usize, mean: &[[f32; 3]], near: impl Fn(usize) -> bool) -> Option<Self> {
        let mut normal = [[0.0; 6]; 6];
        let mut right = [[0.0; 6]; 3];
        let mut count = 0;
        for (i, color) in mean.iter().enumerate() {
            if !near(i) {
                continue;
            }
            count += 1;
            let basis = Self::basis(i % cols, i / cols, cols, rows);
            for (j, bj) in basis.iter().enumerate() {
                for (k, bk) in basis.iter().enumerate().take(j + 1) {
                    normal[j][k] += bj * bk;
                }
                for c in 0..3 {
                    right[c][j] += bj * f64::from(color[c]);
                }
            }
        }
        if count < 24 {
            return None;
        }
        // A ridge on the curved terms keeps a surface seen only in a corner from running away across the sheet.
        for (k, row) in normal.iter_mut().enumerate().skip(1) {
            row[k] += f64::from(count) * if k < 3 { 1e-5 } else { 1e-4 };
        }
        let mut solved = [[0.0; 6]; 3];
        for c in 0..3 {
            solved[c] = linear::solve(&normal, &right[c])?;
        }
        Some(Self(solved))
    }

    fn at(&self, column: usize, row: usize, cols: usize, rows: usize) -> [f32; 3] {
        let basis = Self::basis(column, row, cols, rows);
        [0, 1, 2].map(|c| (0..6).map(|k| self.0[c][k] * basis[k]).sum::<f64>() as f32)
    }
}

/// Takes cells into the bare paper whose shading deepens slowly toward the sheet's border.
fn follow_shading(overview: &Overview, on_sheet: &[bool], field: &mut [[f32; 3]], bare: &mut [bool]) {
    /// Largest change from a cell to its neighbor, encoded: a gutter falls by half over a few centimeters.
    const STEP: f32 = 0.022;
    /// Largest spread inside a cell over that of ordinary paper: contours of paint are rougher.
    const ROUGH: f32 = 2.0;
    /// Paper darker than this share of its own color is no longer told from a dark wash.
    const DARKEST: f32 = 0.45;
    /// Shading runs along its side of the sheet: a cell may fall so many times as far as the middle one at its distance from
    /// the border, and a little more. A wash is darker in its own place alone.
    const LIKE: f32 = 2.0;
    const SLACK: f32 = 0.008;
    let (cols, rows) = (overview.mean.width(), overview.mean.height());
    let mean = overview.mean.data();
    let mut spreads: Vec<f32> = (0..mean.len()).filter(|&i| bare[i]).map(|i| overview.spread.data()[i]).collect();
    if spreads.is_empty() {
        return;
    }
    let smooth = median(&mut spreads) * ROUGH + 0.004;
    let zone = (cols.min(rows) as f32 * 0.22) as usize;
    let near_border = |i: usize| {
        let (x, y) = (i % cols, i / cols);
        x.min(y).min(cols - 1 - x).min(rows - 1 - y) < zone
    };
    let paper = field.to_vec();
    let seeds: Vec<usize> = (0..mean.len()).filter(|&i| bare[i] && near_border(i)).collect();
    let mut shaded = vec![false; mean.len()];
    grid::flood(seeds, cols, rows, |i, j| {
        let shade = !bare[j]
            && !shaded[j]
            && on_sheet[j]
            && near_border(j)
            && overview.spread.data()[j] <= smooth
            && apart(mean[i], mean[j]) < STEP
            && shadow_like(&mean[j], &paper[j], DARKEST);
        shaded[j] |= shade;
        shade
    });
    let falls = |i: usize| (0..3).map(|c| paper[i][c] - mean[i][c]).sum::<f32>() / 3.0;
    let mut along = vec![false; mean.len()];
    for side in 0..4 {
        let (length, depth) = if side < 2 { (rows, cols) } else { (cols, rows) };
        for d in 0..zone.min(depth) {
            let at = |k: usize| match side {
                0 => k * cols + d,
                1 => k * cols + cols - 1 - d,
                2 => d * cols + k,
                _ => (rows - 1 - d) * cols + k,
            };
            let mut seen: Vec<f32> = (0..length).map(at).filter(|&i| shaded[i] || bare[i]).map(falls).collect();
            if seen.len() * 4 < length {
                continue;
            }
            let usual = median(&mut seen);
            for i in (0..length).map(at).filter(|&i| shaded[i]) {
                along[i] |= falls(i) < LIKE * usual + SLACK;
            }
        }
    }
    for i in (0..mean.len()).filter(|&i| along[i]) {
        bare[i] = true;
        field[i] = mean[i];
    }
}

/// Whether a color is the paper in less light: all channels fall, blue at least as much as red, by like shares.
fn shadow_like(color: &[f32; 3], paper: &[f32; 3], darkest: f32) -> bool {
    let share = [0, 1, 2].map(|c| color[c] / paper[c].max(0.02));
    let fall = 1.0 - share[1];
    share[1] > darkest
        && share[0] < 1.03
        && share[0] >= share[1] - 0.012
        && share[1] >= share[2] - 0.012
        && share[0] - share[2] < 0.02 + 0.9 * fall.max(0.0)
        && share.iter().all(|s| *s < 1.04)
}

/// Adds to the field what the bare cells around lie off it, and drops cells that lie far from the result.
fn local_means(
    cols: usize,
    rows: usize,
    mean: &[[f32; 3]],
    on_sheet: &[bool],
    fitted: &[bool],
    sigma: f32,
    field: &mut [[f32; 3]],
    bare: &mut [bool],
) -> Result<()> {
    // Measured where the surface itself fits: cells taken in for their shading lie on the field by making.
    let off = |i: usize, field: &[[f32; 3]]| [0, 1, 2].map(|c| mean[i][c] - field[i][c]);
    let samples: Vec<[f32; 3]> = (0..mean.len()).filter(|&i| bare[i] && fitted[i]).map(|i| off(i, field)).collect();
    if samples.is_empty() {
        return Ok(());
    }
    let usual = Tooth::measure(&samples, SMOOTHED);
    let fits = |i: usize, field: &[[f32; 3]]| on_sheet[i] && usual.distance_squared(off(i, field)) < FITS * FITS;
    let fit: Vec<bool> = (0..mean.len()).map(|i| fits(i, field)).collect();
    // A cell counts when its four neighbors fit too: the blurred foot of a stroke does not tint the paper.
    for (i, out) in bare.iter_mut().enumerate() {
        let (x, y) = (i % cols, i / cols);
        *out = fit[i]
            && (x == 0 || fit[i - 1])
            && (x + 1 == cols || fit[i + 1])
            && (y == 0 || fit[i - cols])
            && (y + 1 == rows || fit[i + cols]);
    }
    let mut weight = Plane::from_vec(cols, rows, bare.iter().map(|b| f32::from(u8::from(*b))).collect());
    gauss::blur(&mut weight, sigma)?;
    for c in 0..3 {
        let off = (0..mean.len()).map(|i| if bare[i] { mean[i][c] - field[i][c] } else { 0.0 }).collect();
        let mut off = Plane::from_vec(cols, rows, off);
        gauss::blur(&mut off, sigma)?;
        for (i, value) in field.iter_mut().enumerate() {
            // Far from bare paper the correction dies out instead of being stretched.
            value[c] += off.data()[i] / (weight.data()[i] + 0.1);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::Samples;
    use crate::paper::Ruler;

    /// Uneven paper with a dark square on it: the field is found under the square too.
    #[test]
    fn shading_is_recovered_beside_paint() {
        let (w, h) = (600, 400);
        let truth = |x: usize, y: usize| {
            let light = 1.0 - 0.05 * (x as f32 / w as f32 - 0.3) * (x as f32 / w as f32 - 0.3) - 0.03 * y as f32 / h as f32;
            [0.96 * light, 0.95 * light, 0.91 * light]
        };
        let mut samples = Vec::new();
        for y in 0..h {
            for x in 0..w {
                let painted = (250..380).contains(&x) && (120..260).contains(&y);
                let color = if painted { [0.2, 0.3, 0.5] } else { truth(x, y) };
                samples.extend(color.map(|v| (v * 65535.0) as u16));
            }
        }
        let sheet = Sheet::new(w, h, Samples::Sixteen(samples), None);
        let overview = Overview::new(&sheet).unwrap();
        let outside = Plane::new(overview.mean.width(), overview.mean.height(), "a mask").unwrap();
        let field = PaperField::estimate(&overview, &outside, None).unwrap();
        let mut row = [vec![0.0; w], vec![0.0; w], vec![0.0; w]];
        for y in [0, 7, 199, 399] {
            let [r, g, b] = &mut row;
            Ruler::new(&field, 0..w).draw(&field, y, [r, g, b]);
            for x in [0, 5, 123, 300, 599] {
                let single = field.pixel(x, y);
                for c in 0..3 {
                    assert!(
                        (row[c][x] - truth(x, y)[c]).abs() < 1.0 / 255.0,
                        "{x} {y} {c}: {} for {}",
                        row[c][x],
                        truth(x, y)[c]
                    );
                    assert!((row[c][x] - single[c]).abs() < 1e-5);
                }
            }
        }
    }
}
