//! The paper field: what bare paper would scan as at every pixel, per channel and slow.
//!
//! A reduced copy of the sheet gives the paper's color as the most frequent one; a quadratic surface is fitted to the
//! cells near it, ever more strictly (flat-field correction without a white frame); what the surface leaves over is
//! followed by local means of the bare cells alone. Shading along the sides (`shading`) and toned patches (`toning`)
//! are taken in.

use crate::color::math::max;
use crate::error::Result;
use crate::filter::order::median;
use crate::filter::vector::{apart, difference};
use crate::filter::{gauss, linear};
use crate::image::Plane;
use crate::paper::wash::Washed;
use crate::paper::{Overview, Tooth, shading, toning, wash};

/// Successive widths of the surface fit, encoded 0..1: wide ones first, so that it grows over a strongly shaded sheet. The
/// last is about what tooth leaves in the mean of a cell.
const FIT_WIDTHS: [f32; 9] = [0.06, 0.06, 0.06, 0.05, 0.04, 0.03, 0.02, 0.014, 0.010];
/// A fit that is narrow from the beginning does not bend into a large pale wash: so many rounds at so many times what cells
/// differ by from their neighbors, and no narrower than this, encoded.
const NARROW_ROUNDS: usize = 12;
const NARROW: f32 = 3.0;
const NARROWEST: f32 = 0.004;
/// A cell is explained by a fit within so many times the same.
const AS_PAPER: f32 = 1.5;
/// It must explain so many times the cells that the other does.
const BETTER: f32 = 1.5;
/// No fit is narrower than so many times the median distance of its cells from the surface: rough paper.
const NOISE: f32 = 2.5;
/// A cell that lies further off the field than so many deviations of bare cells is none.
const FITS: f32 = 3.5;
/// How far the mean of a cell brings a scan's noise down.
const SMOOTHED: f32 = 4.0;
/// Reach of the local means, in cells: 5 % of the longer side, then 2 % for what old paper's toning is like.
const LOCAL_SIGMAS: [f32; 3] = [9.0, 9.0, 4.0];
/// Toned patches are looked for again beside those found, so many times at most: a gutter deepens beyond its first fold.
const TONED: usize = 4;
/// Cells this close to the field may be bare paper, stained or not, encoded.
const LIKELY: f32 = 0.03;

/// What bare paper would scan as, on a coarse grid of cell centers.
#[derive(Clone, Debug)]
pub struct PaperField {
    cell: usize,
    grid: Plane<[f32; 3]>,
    bare: Plane<bool>,
    likely: Plane<bool>,
    washed: Plane<bool>,
    /// How much of a wash lighter than the paper each cell shows; `None` where there is none.
    light: Option<Plane<f32>>,
    toned: f32,
    patches: f32,
}

impl PaperField {
    /// Estimates the field. `outside` marks cells that do not belong to the sheet; `stated` is the painter's own word
    /// for the paper color, encoded 0..1, which then only sets where the search begins. `follow_toning` takes toned and shaded
    /// patches for paper.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn estimate(overview: &Overview, outside: &Plane<bool>, stated: Option<[f32; 3]>, follow_toning: bool) -> Result<Self> {
        let (cols, rows) = (overview.mean.width(), overview.mean.height());
        let mean = overview.mean.data();
        let on_sheet: Vec<bool> = outside.data().iter().map(|o| !o).collect();
        let start = stated.unwrap_or_else(|| overview.mode(|i| on_sheet[i]));
        let smooth = overview.smooth();
        let paper: Vec<bool> = on_sheet.iter().zip(&smooth).map(|(on_sheet, smooth)| *on_sheet && *smooth).collect();
        let rough = roughness(overview, &paper);
        let as_paper = max(AS_PAPER * rough, NARROWEST);
        let explained =
            |fit: &Fit| (0..mean.len()).filter(|&i| paper[i] && apart(mean[i], fit.field[i]) < as_paper).count() as f32;
        let wide = Fit::narrowing(overview, start, &paper, &FIT_WIDTHS);
        let least = BETTER * explained(&wide);
        // Of a sheet that is explained well already none can explain so much more.
        let may_be_better = least < paper.iter().filter(|paper| **paper).count() as f32;
        let narrow = [max(NARROW * rough, NARROWEST); NARROW_ROUNDS];
        let other = may_be_better.then(|| Fit::narrowing(overview, start, &paper, &narrow));
        let Fit { mut field, width } = other.filter(|other| explained(other) > least).unwrap_or(wide);
        let near = |field: &[[f32; 3]]| -> Vec<bool> {
            (0..mean.len()).map(|i| on_sheet[i] && apart(mean[i], field[i]) < width).collect()
        };
        let fitted = near(&field);
        shading::along_sides(overview, &on_sheet, &fitted, width, &mut field);
        let mut bare = near(&field);
        let Washed { at: washed, alone, light } = wash::cells(overview, &on_sheet, &bare, &field)?;
        let unpainted: Vec<bool> = on_sheet.iter().zip(&washed).map(|(on_sheet, washed)| *on_sheet && !washed).collect();
        bare.iter_mut().zip(&washed).for_each(|(bare, washed)| *bare &= !washed);
        for sigma in LOCAL_SIGMAS {
            local_means(cols, rows, mean, &unpainted, &fitted, sigma, &mut field, &mut bare)?;
        }
        let (mut old, mut patches) = (0, 0);
        if follow_toning {
            for _ in 0..TONED {
                let fits = spread(mean, &fitted, &field, &bare)
                    .map_or_else(|| bare.clone(), |usual| fitting(mean, &on_sheet, &usual, &field));
                let toned = toning::cells(overview, &on_sheet, &washed, &fits, &bare, &field);
                if toned.count == 0 {
                    break;
                }
                old += toned.old;
                patches += toned.count;
                shading::draw_through(cols, rows, mean, &toned.at, &mut field, &mut bare)?;
            }
        }
        for value in &mut field {
            *value = value.map(|v| v.clamp(0.01, 0.9999));
        }
        let likely = (0..mean.len()).map(|i| paper[i] && !washed[i] && apart(mean[i], field[i]) < LIKELY).collect();
        Ok(Self {
            cell: overview.cell,
            grid: Plane::from_vec(cols, rows, field),
            bare: Plane::from_vec(cols, rows, bare),
            likely: Plane::from_vec(cols, rows, likely),
            washed: Plane::from_vec(cols, rows, alone),
            light: light.iter().any(|share| *share > 0.0).then(|| Plane::from_vec(cols, rows, light)),
            toned: old as f32 / (cols * rows) as f32,
            patches: patches as f32 / (cols * rows) as f32,
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

    /// Whether a pixel is of a pale wash that lies as near the field as bare paper does, and stands alone.
    #[must_use]
    pub fn is_washed(&self, x: usize, y: usize) -> bool {
        self.washed.at(x / self.cell, y / self.cell)
    }

    /// The pixels of row `y` in which a wash lighter than the paper shows at least such a share, 0..1, of its depth; half is its
    /// outline.
    pub fn light_wash(&self, y: usize, least: f32) -> impl Iterator<Item = usize> {
        let rows = self.light.as_ref().map(|light| {
            let (top, bottom, part) = between(y, self.cell, light.height());
            light.row(top).iter().zip(light.row(bottom)).map(|(a, b)| a + part * (b - a)).collect::<Vec<f32>>()
        });
        let row = rows.filter(|row| row.iter().any(|share| *share >= least)).unwrap_or_default();
        (0..row.len() * self.cell).filter(move |x| {
            let (left, right, part) = between(*x, self.cell, row.len());
            row[left] + part * (row[right] - row[left]) >= least
        })
    }

    /// Cells that may be bare paper, with all the unevenness of its toning.
    #[must_use]
    pub fn likely(&self) -> &Plane<bool> {
        &self.likely
    }

    /// Share of the sheet, 0..1, that is toned in patches: an old sheet, not one in the shade of a lid or a gutter.
    #[must_use]
    pub fn toned(&self) -> f32 {
        self.toned
    }

    /// Share of the sheet, 0..1, that is toned or shaded in patches, by whatever.
    #[must_use]
    pub fn patches(&self) -> f32 {
        self.patches
    }

    /// Whether the paper is darker than middle gray, encoded.
    #[must_use]
    pub fn is_dark(&self) -> bool {
        self.color().iter().sum::<f32>() < 1.5
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

/// A surface fitted to the cells that lie near it.
struct Fit {
    /// The surface at every cell.
    field: Vec<[f32; 3]>,
    /// Within which a cell is near.
    width: f32,
}

impl Fit {
    /// Fits ever more strictly.
    fn narrowing(overview: &Overview, start: [f32; 3], paper: &[bool], widths: &[f32]) -> Self {
        let (cols, rows) = (overview.mean.width(), overview.mean.height());
        let mean = overview.mean.data();
        let mut field = vec![start; mean.len()];
        let mut noise = 0.0_f32;
        let mut width = LIKELY;
        for narrower in widths {
            width = narrower.max(NOISE * noise);
            let fitted: Vec<usize> = (0..mean.len()).filter(|&i| paper[i] && apart(mean[i], field[i]) < width).collect();
            if let Some(better) = Surface::fit(cols, rows, mean, &fitted) {
                field = better.over(cols, rows);
            }
            let mut off: Vec<f32> = fitted.iter().map(|&i| apart(mean[i], field[i])).collect();
            if width <= LIKELY && !off.is_empty() {
                noise = median(&mut off);
                width = narrower.max(NOISE * noise);
            }
        }
        Self { field, width }
    }
}

/// By how much cells of bare paper differ from their right neighbors, half of them by less.
fn roughness(overview: &Overview, paper: &[bool]) -> f32 {
    let (cols, mean) = (overview.mean.width(), overview.mean.data());
    let pairs = (1..mean.len()).filter(|i| i % cols != 0 && paper[i - 1] && paper[*i]);
    let mut steps: Vec<f32> = pairs.map(|i| apart(mean[i - 1], mean[i])).collect();
    if steps.is_empty() { 0.0 } else { median(&mut steps) }
}

/// A quadratic surface over the sheet, one a channel.
struct Surface([[f64; 6]; 3]);

impl Surface {
    /// Powers of column and row in the terms.
    const POWERS: [(usize, usize); 6] = [(0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2)];

    /// Where a column or row lies on the sheet, -0.5 to 0.5.
    fn place(at: usize, of: usize) -> f64 {
        at as f64 / of as f64 - 0.5
    }

    /// The powers of a place that products of terms have.
    fn powers(place: f64) -> [f64; 5] {
        let square = place * place;
        [1.0, place, square, square * place, square * square]
    }

    /// Least squares over the `near` cells; `None` when they do not determine it.
    fn fit(cols: usize, rows: usize, mean: &[[f32; 3]], near: &[usize]) -> Option<Self> {
        let mut normal = [[0.0; 6]; 6];
        let mut right = [[0.0; 6]; 3];
        // Along a row only the column changes: its powers are summed up first.
        for cells in near.chunk_by(|a, b| a / cols == b / cols) {
            let (mut sums, mut colors) = ([0.0; 5], [[0.0; 3]; 3]);
            for &i in cells {
                let powers = Self::powers(Self::place(i % cols, cols));
                (0..5).for_each(|k| sums[k] += powers[k]);
                for (color, v) in colors.iter_mut().zip(mean[i]) {
                    (0..3).for_each(|k| color[k] += powers[k] * f64::from(v));
                }
            }
            let down = Self::powers(Self::place(cells[0] / cols, rows));
            for (j, (xj, yj)) in Self::POWERS.into_iter().enumerate() {
                for (k, (xk, yk)) in Self::POWERS.into_iter().enumerate().take(j + 1) {
                    normal[j][k] += sums[xj + xk] * down[yj + yk];
                }
                for (right, color) in right.iter_mut().zip(&colors) {
                    right[j] += color[xj] * down[yj];
                }
            }
        }
        if near.len() < 24 {
            return None;
        }
        // A ridge on the curved terms keeps a surface seen only in a corner from running away across the sheet.
        for (k, row) in normal.iter_mut().enumerate().skip(1) {
            row[k] += near.len() as f64 * if k < 3 { 1e-5 } else { 1e-4 };
        }
        let mut solved = [[0.0; 6]; 3];
        for c in 0..3 {
            solved[c] = linear::solve(&normal, &right[c])?;
        }
        Some(Self(solved))
    }

    /// The surface at every cell.
    fn over(&self, cols: usize, rows: usize) -> Vec<[f32; 3]> {
        let across: Vec<f64> = (0..cols).map(|column| Self::place(column, cols)).collect();
        let mut field = Vec::with_capacity(cols * rows);
        for row in 0..rows {
            let y = Self::place(row, rows);
            // Along a row it is a parabola.
            let parabolas = self.0.map(|[one, x1, y1, xx, xy, yy]| [one + y * (y1 + y * yy), x1 + y * xy, xx]);
            field.extend(across.iter().map(|x| parabolas.map(|[one, x1, xx]| (one + x * (x1 + x * xx)) as f32)));
        }
        field
    }
}

/// How far bare cells lie off the field, as a spread in every direction of color; `None` when there are none. Measured where
/// the surface itself fits.
fn spread(mean: &[[f32; 3]], fitted: &[bool], field: &[[f32; 3]], bare: &[bool]) -> Option<Tooth> {
    let samples: Vec<[f32; 3]> =
        (0..mean.len()).filter(|&i| bare[i] && fitted[i]).map(|i| difference(mean[i], field[i])).collect();
    (!samples.is_empty()).then(|| Tooth::measure(&samples, SMOOTHED))
}

/// Which cells lie no further off the field than bare ones do.
fn fitting(mean: &[[f32; 3]], on_sheet: &[bool], usual: &Tooth, field: &[[f32; 3]]) -> Vec<bool> {
    let fits = |i: usize| on_sheet[i] && usual.distance_squared(difference(mean[i], field[i])) < FITS * FITS;
    (0..mean.len()).map(fits).collect()
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
    let Some(usual) = spread(mean, fitted, field, bare) else { return Ok(()) };
    let fit = fitting(mean, on_sheet, &usual, field);
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
    use crate::image::{Samples, Sheet};
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
        let field = PaperField::estimate(&overview, &outside, None, true).unwrap();
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
