//! Evidence of paint: how many deviations of bare paper every pixel lies off it, pooled over three scales.
//!
//! A pale wash is a few counts deep in one channel: lost in the tooth pixel by pixel, plain in the mean of a few
//! millimeters. Strong paint is left out of the pooling, or it would put a ring around everything.

use std::ops::Range;

use crate::error::Result;
use crate::filter::{distance, gauss};
use crate::image::{Plane, Sheet};
use crate::paper::{PaperField, SheetEdge, Strip, Tooth};
use crate::units::Ppi;

/// Steps of a stored distance to one deviation.
pub const STEPS: f32 = 8.0;
/// Standard deviation of the finest pooling, in pixels: about the scan's own blur.
pub const FINE_SIGMA: f32 = 0.7;
/// Paint this many deviations off the paper at the finest scale is left out of the wider poolings.
const STRONG: f32 = 6.0;
/// Rows that are worked on at once. A multiple of 8, so that every reduced row belongs to one band.
pub const BAND: usize = 64;
/// Side of the blocks in which coding noise is measured: that of a JPEG block.
const BLOCK: usize = 8;

/// The evidence over a whole sheet.
#[derive(Debug)]
pub struct Evidence {
    /// Deviations off the paper in [`STEPS`], at full size.
    pub fine: Plane<u8>,
    /// The same pooled over about 2 pixels at 300 ppi, at half size.
    pub middle: Plane<u8>,
    /// The same pooled over about 5 pixels at 300 ppi, at a quarter.
    pub wide: Plane<u8>,
    /// The residual pooled as for `middle`, strong paint left out; zero where nothing else is.
    pub pooled: Plane<[f32; 3]>,
    /// The mean residual of 4 x 4 pixels, strong paint and all, at a quarter.
    pub coarse: Plane<[f32; 3]>,
    /// How much noisier than ordinary paper a block is, in sixteenths; only where the scan was coded in blocks.
    pub noise: Option<Plane<u8>>,
    /// The tooth at the finest scale.
    pub tooth: Tooth,
}

/// Gathers the evidence band by band.
#[derive(Debug)]
pub struct Gathering {
    fine: Plane<u8>,
    half: Plane<[f32; 4]>,
    blocks: Plane<[f32; 2]>,
    coarse: Plane<[f32; 3]>,
    grid: [f64; BLOCK],
    tooth: Tooth,
    strip: Strip,
    next: usize,
    scratch: Scratch,
}

#[derive(Debug, Default)]
struct Scratch {
    across: [Vec<f32>; 3],
    smooth: [Vec<f32>; 3],
    strong: Plane8,
    outside: Vec<u8>,
}

type Plane8 = Vec<u8>;

impl Gathering {
    /// Prepares for a sheet: measures the tooth on bare tiles.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn new(sheet: &Sheet, field: &PaperField) -> Result<Self> {
        let (w, h) = (sheet.width(), sheet.height());
        let what = "the evidence of paint";
        Ok(Self {
            fine: Plane::new(w, h, what)?,
            half: Plane::new(w.div_ceil(2), h.div_ceil(2), what)?,
            coarse: Plane::new(w.div_ceil(4), h.div_ceil(4), what)?,
            blocks: Plane::new(w.div_ceil(BLOCK), h.div_ceil(BLOCK), what)?,
            grid: [0.0; BLOCK],
            tooth: fine_tooth(sheet, field),
            strip: Strip::default(),
            next: 0,
            scratch: Scratch::default(),
        })
    }

    /// Works through the next band; false when there was none left.
    pub fn advance(&mut self, sheet: &Sheet, field: &PaperField, edge: &SheetEdge) -> bool {
        let h = sheet.height();
        if self.next >= h {
            return false;
        }
        let rows = self.next..(self.next + BAND).min(h);
        self.next = rows.end;
        self.band(sheet, field, edge, rows);
        true
    }

    /// How far the work is, 0..1.
    #[must_use]
    pub fn progress(&self) -> f32 {
        self.next as f32 / self.fine.height() as f32
    }

    fn band(&mut self, sheet: &Sheet, field: &PaperField, edge: &SheetEdge, rows: Range<usize>) {
        /// Reach of the exclusion around strong paint, in pixels.
        const GUARD: usize = 2;
        let half = gauss::kernel(FINE_SIGMA);
        let reach = half.len() - 1;
        let halo = GUARD + reach;
        self.strip.load(sheet, field, rows.clone(), halo);
        let (w, tall) = (sheet.width(), rows.len() + 2 * GUARD);
        let Scratch { across, smooth, strong, outside } = &mut self.scratch;
        for c in 0..3 {
            across[c].resize((rows.len() + 2 * halo) * w, 0.0);
            smooth[c].resize(tall * w, 0.0);
            for (i, out) in across[c].chunks_exact_mut(w).enumerate() {
                gauss::blur_row(self.strip.residual(c, i), &half, out);
            }
            for (i, out) in smooth[c].chunks_exact_mut(w).enumerate() {
                let source = &across[c];
                gauss::blur_column(&half, |dy| row_of(source, w, (i + reach) as isize + dy), out);
            }
        }
        strong.resize(tall * w, 0);
        for i in 0..tall {
            let at = i * w..(i + 1) * w;
            let inside = i >= GUARD && i < GUARD + rows.len();
            let mut fine = inside.then(|| self.fine.row_mut(rows.start + i - GUARD));
            let (r, g, b) = (&smooth[0][at.clone()], &smooth[1][at.clone()], &smooth[2][at.clone()]);
            for (x, out) in strong[at].iter_mut().enumerate() {
                let z = self.tooth.distance_squared([r[x], g[x], b[x]]).sqrt();
                *out = if z > STRONG { 0 } else { distance::FAR };
                if let Some(fine) = &mut fine {
                    fine[x] = (z * STEPS).min(255.0) as u8;
                }
            }
        }
        outside.resize(w, 0);
        let mut keep = vec![0_u8; w];
        for (i, y) in rows.clone().enumerate() {
            // Everything within two pixels of strong paint is left out, and the outside of the sheet.
            keep.fill(distance::FAR);
            for j in i..=i + 2 * GUARD {
                let row = &strong[j * w..(j + 1) * w];
                keep.iter_mut().zip(row).for_each(|(k, s)| *k &= s);
            }
            let column = keep.clone();
            for x in 0..w {
                let from = x.saturating_sub(GUARD);
                let to = (x + GUARD + 1).min(w);
                keep[x] = column[from..to].iter().fold(distance::FAR, |a, b| a & b);
            }
            if !edge.is_none() {
                edge.row(y, sheet.height(), outside);
                keep.iter_mut().zip(outside.iter()).for_each(|(k, o)| {
                    if *o != 0 {
                        *k = 0;
                    }
                });
            }
            let residual = [0, 1, 2].map(|c| self.strip.residual(c, i + halo));
            let coarse = self.coarse.row_mut(y / 4);
            for (c, residual) in residual.iter().enumerate() {
                for (sum, four) in coarse.iter_mut().zip(residual.chunks(4)) {
                    sum[c] += four.iter().sum::<f32>() * (1.0 / 16.0);
                }
            }
            let sums = self.half.row_mut(y / 2);
            let blocks = self.blocks.row_mut(y / BLOCK);
            let at = (i + GUARD) * w;
            for x in 0..w {
                if x > 0 {
                    // Steps across columns, by their place in a block: coding in blocks shows as larger steps at its borders.
                    let opponent = |x: usize| residual[2][x] - residual[1][x];
                    self.grid[(x - 1) % BLOCK] += f64::from((opponent(x) - opponent(x - 1)).abs().min(0.05));
                }
                if keep[x] == 0 {
                    continue;
                }
                let sum = &mut sums[x / 2];
                let block = &mut blocks[x / BLOCK];
                let mut rough = [0.0; 3];
                for c in 0..3 {
                    sum[c] += residual[c][x];
                    rough[c] = residual[c][x] - smooth[c][at + x];
                }
                sum[3] += 1.0;
                block[0] += self.tooth.distance_squared(rough);
                block[1] += 1.0;
            }
        }
    }

    /// Pools what was gathered.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn finish(self, field: &PaperField, ppi: Ppi) -> Result<Evidence> {
        // Tooth and wash are so many millimeters wide whatever the resolution; below 300 ppi noise sets the scale.
        let scale = (ppi.0 as f32 / 300.0).clamp(1.0, 2.5);
        let coded = coded_in_blocks(&self.grid);
        let noise = if coded { block_noise(&self.blocks, field)? } else { None };
        let quarter = halve(&self.half)?;
        let (middle, pooled) = pool(self.half, 2, 2.0 * scale, field, true)?;
        let (wide, _) = pool(quarter, 4, 5.0 * scale, field, false)?;
        let coarse = whole_cells(self.coarse, self.fine.width(), self.fine.height());
        Ok(Evidence { fine: self.fine, middle, wide, pooled, coarse, noise, tooth: self.tooth })
    }
}

impl Evidence {
    /// How much noisier than ordinary paper the place of a pixel is: 1 or more.
    #[must_use]
    #[inline]
    pub fn noise_at(&self, x: usize, y: usize) -> f32 {
        self.noise.as_ref().map_or(1.0, |n| f32::from(n.at(x / BLOCK, y / BLOCK)) / 16.0)
    }

    /// Length of the pooled residual at a pixel, encoded.
    #[must_use]
    #[inline]
    pub fn pooled_at(&self, x: usize, y: usize) -> f32 {
        length(self.pooled.at(x / 2, y / 2))
    }
}

/// Euclidean length of a color difference.
#[must_use]
#[inline]
pub fn length(v: [f32; 3]) -> f32 {
    (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt()
}

/// Cells cut by the right and bottom border hold fewer pixels than sixteen.
fn whole_cells(mut coarse: Plane<[f32; 3]>, width: usize, height: usize) -> Plane<[f32; 3]> {
    let (last_x, last_y) = (width - (coarse.width() - 1) * 4, height - (coarse.height() - 1) * 4);
    for y in 0..coarse.height() {
        let tall = if y + 1 == coarse.height() { last_y } else { 4 };
        let last = coarse.width() - 1;
        for (x, v) in coarse.row_mut(y).iter_mut().enumerate() {
            let count = tall * if x == last { last_x } else { 4 };
            *v = v.map(|s| s * 16.0 / count as f32);
        }
    }
    coarse
}

fn row_of(plane: &[f32], width: usize, i: isize) -> &[f32] {
    let i = i as usize;
    &plane[i * width..(i + 1) * width]
}

/// The tooth at the finest scale, from tiles of bare paper spread over the sheet.
fn fine_tooth(sheet: &Sheet, field: &PaperField) -> Tooth {
    /// Tiles looked at, at most: more add nothing to a covariance.
    const TILES: usize = 160;
    let cell = field.cell();
    let bare: Vec<usize> = (0..field.bare().data().len()).filter(|&i| field.bare().data()[i]).collect();
    let kernel = gauss::kernel(FINE_SIGMA);
    let reach = kernel.len() - 1;
    let mut samples = Vec::new();
    let cols = field.grid().width();
    let every = (bare.len() / TILES).max(1);
    for &i in bare.iter().step_by(every) {
        let (x0, y0) = ((i % cols) * cell, (i / cols) * cell);
        // Every third pixel: neighbors are correlated by the blur anyway.
        for y in (y0..y0 + cell.min(24)).step_by(3) {
            for x in (x0..x0 + cell.min(24)).step_by(3) {
                if x < reach || y < reach || x + reach >= sheet.width() || y + reach >= sheet.height() {
                    continue;
                }
                let mut sum = [0.0; 3];
                for dy in 0..=2 * reach {
                    for dx in 0..=2 * reach {
                        let weight = kernel[dy.abs_diff(reach)] * kernel[dx.abs_diff(reach)];
                        let (px, py) = (x + dx - reach, y + dy - reach);
                        let (c, p) = (sheet.pixel(px, py), field.pixel(px, py));
                        (0..3).for_each(|k| sum[k] += weight * (c[k] - p[k]));
                    }
                }
                samples.push(sum);
            }
        }
    }
    Tooth::measure(&samples, 1.0)
}

/// Whether steps at the borders of 8-pixel blocks stand out.
fn coded_in_blocks(grid: &[f64; BLOCK]) -> bool {
    /// Ratio of border steps to others from which on coding is assumed; plain scans stay below 1.03.
    const STANDS_OUT: f64 = 1.08;
    let mut others: Vec<f64> = grid[..BLOCK - 1].to_vec();
    others.sort_by(f64::total_cmp);
    others[3] > 0.0 && grid[BLOCK - 1] > STANDS_OUT * others[3]
}

/// Noise of each block against that of bare paper, smoothed over neighbors.
fn block_noise(blocks: &Plane<[f32; 2]>, field: &PaperField) -> Result<Option<Plane<u8>>> {
    let (w, h) = (blocks.width(), blocks.height());
    let mut energy = Plane::from_vec(w, h, blocks.data().iter().map(|b| b[0]).collect());
    let mut weight = Plane::from_vec(w, h, blocks.data().iter().map(|b| b[1]).collect());
    gauss::blur(&mut energy, 0.75)?;
    gauss::blur(&mut weight, 0.75)?;
    let level: Vec<f32> =
        energy.data().iter().zip(weight.data()).map(|(e, n)| if *n > 1.0 { (e / n).sqrt() } else { 0.0 }).collect();
    let cell = field.cell();
    let mut bare: Vec<f32> = (0..w * h)
        .filter(|&i| level[i] > 0.0 && bare_at(field, (i % w) * BLOCK / cell, (i / w) * BLOCK / cell))
        .map(|i| level[i])
        .collect();
    if bare.is_empty() {
        return Ok(None);
    }
    bare.sort_by(f32::total_cmp);
    let usual = bare[bare.len() / 2];
    Ok(Some(Plane::from_vec(w, h, level.iter().map(|v| (v / usual).clamp(1.0, 6.0) * 16.0).map(|v| v as u8).collect())))
}

fn bare_at(field: &PaperField, column: usize, row: usize) -> bool {
    column < field.bare().width() && row < field.bare().height() && field.bare().at(column, row)
}

/// Sums of two by two.
fn halve(plane: &Plane<[f32; 4]>) -> Result<Plane<[f32; 4]>> {
    let (w, h) = (plane.width(), plane.height());
    let mut out: Plane<[f32; 4]> = Plane::new(w.div_ceil(2), h.div_ceil(2), "the evidence of paint")?;
    for y in 0..h {
        let row = out.row_mut(y / 2);
        for (x, v) in plane.row(y).iter().enumerate() {
            (0..4).for_each(|c| row[x / 2][c] += v[c]);
        }
    }
    Ok(out)
}

/// Blurs sums of residuals to a standard deviation of `sigma` sheet pixels and measures them by bare paper's own
/// spread at that scale. `size` is the side of a sum in sheet pixels.
fn pool(sums: Plane<[f32; 4]>, size: usize, sigma: f32, field: &PaperField, keep: bool) -> Result<(Plane<u8>, Plane<[f32; 3]>)> {
    /// Less free paper than this under the kernel says nothing.
    const LEAST: f32 = 0.12;
    let (w, h) = (sums.width(), sums.height());
    let side = size as f32;
    // A square of side n has itself a variance of (n^2 - 1) / 12.
    let kernel = gauss::kernel((sigma * sigma - (side * side - 1.0) / 12.0).max(0.1).sqrt() / side);
    let mut across: Plane<[f32; 4]> = Plane::new(w, h, "the evidence of paint")?;
    let (mut from, mut to) = (vec![0.0; w], vec![0.0; w]);
    for y in 0..h {
        for c in 0..4 {
            from.iter_mut().zip(sums.row(y)).for_each(|(f, s)| *f = s[c]);
            gauss::blur_row(&from, &kernel, &mut to);
            across.row_mut(y).iter_mut().zip(&to).for_each(|(a, t)| a[c] = *t);
        }
    }
    let mut blurred = sums;
    for y in 0..h {
        let out = blurred.row_mut(y);
        out.iter_mut().zip(across.row(y)).for_each(|(o, a)| *o = a.map(|v| kernel[0] * v));
        for (i, k) in kernel.iter().enumerate().skip(1) {
            let above = across.row(gauss::mirror(y as isize - i as isize, h));
            let below = across.row(gauss::mirror((y + i) as isize, h));
            for ((o, a), b) in out.iter_mut().zip(above).zip(below) {
                (0..4).for_each(|c| o[c] += k * (a[c] + b[c]));
            }
        }
    }
    drop(across);
    let full = side * side;
    let mean = |v: &[f32; 4]| if v[3] > LEAST * full { [v[0] / v[3], v[1] / v[3], v[2] / v[3]] } else { [0.0; 3] };
    let cell = field.cell();
    let mut samples = Vec::new();
    let every = (w * h / 400_000).max(1);
    for i in (0..w * h).step_by(every) {
        let v = &blurred.data()[i];
        let (x, y) = ((i % w) * size / cell, (i / w) * size / cell);
        if v[3] > 0.9 * full && bare_at(field, x, y) {
            samples.push(mean(v));
        }
    }
    let tooth = Tooth::measure(&samples, 1.2 * sigma);
    let mut distance = Plane::new(w, h, "the evidence of paint")?;
    for (out, v) in distance.data_mut().iter_mut().zip(blurred.data()) {
        if v[3] > LEAST * full {
            let z = (tooth.distance_squared(mean(v)) * (v[3] / full).min(1.0)).sqrt();
            *out = (z * STEPS).min(255.0) as u8;
        }
    }
    let pooled =
        if keep { Plane::from_vec(w, h, blurred.data().iter().map(mean).collect()) } else { Plane::from_vec(0, 0, Vec::new()) };
    Ok((distance, pooled))
}
