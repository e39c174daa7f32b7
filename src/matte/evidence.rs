//! Evidence of paint: how many deviations of bare paper every pixel lies off it, pooled over three scales.
//!
//! A pale wash is a few counts deep in one channel: lost in the tooth pixel by pixel, plain in the mean of a few
//! millimeters. Strong paint is left out of the pooling, or it would put a ring around everything.

use super::hue::AlongHue;
use super::strip::{self, Gathered, Strip};
use crate::color::math::{max, min};
use crate::error::Result;
use crate::filter::order::{median, quantile};
use crate::filter::{gauss, local_max};
use crate::image::{Plane, Sheet};
use crate::paper::tile;
use crate::paper::{PaperField, SheetEdge, Tooth};
use crate::units::Ppi;

/// Steps of a stored distance to one deviation.
pub const STEPS: f32 = 8.0;
/// Steps of a stored contrast to one: white on black in all three channels, 1.73, still fits.
pub const CONTRAST_STEPS: f32 = 32768.0;
/// Standard deviation of the finest pooling, in pixels: about the scan's own blur.
const FINE_SIGMA: f32 = 0.7;
/// Paint this many deviations off the paper at the finest scale, and this far off in encoded value, is left out of the wider
/// poolings: it would put a ring around itself. Faint paint stays in, or its own edge would be pooled from paper alone.
pub(super) const STRONG: f32 = 6.0;
/// As above, encoded.
pub(super) const STRONG_CONTRAST: f32 = 0.06;
/// Reach over which a faint stroke's own contrast is looked for at 300 ppi, in half-size pixels.
const POOLED_REACH: f32 = 3.0;
/// What coding leaves beside an edge is no more than this share of the paint's own contrast.
pub(super) const RINGING: f32 = 0.08;
/// Side of the blocks in which coding noise is measured: that of a JPEG block.
pub(super) const BLOCK: usize = 8;

/// The evidence over a whole sheet.
#[derive(Debug)]
pub struct Evidence {
    /// Deviations off the paper in [`STEPS`], at full size.
    pub fine: Plane<u8>,
    /// Length of the residual at the finest pooling, encoded, in [`CONTRAST_STEPS`], at full size.
    pub contrast: Plane<u16>,
    /// The deviations pooled over about 2 pixels at 300 ppi, at half size.
    pub middle: Plane<u8>,
    /// The same pooled over about 5 pixels at 300 ppi, at a quarter.
    pub wide: Plane<u8>,
    /// The residual pooled as for `middle`, strong paint left out; zero where nothing else is.
    pub pooled: Plane<[f32; 3]>,
    /// The tooth as pooled for `middle`.
    pub middle_tooth: Tooth,
    /// The largest of `middle` within about 6 pixels at 300 ppi.
    pub middle_top: Plane<u8>,
    /// The mean residual of 4 x 4 pixels, strong paint and all, at a quarter; and the standard deviation of its mean channel
    /// among them.
    pub coarse: Plane<[f32; 4]>,
    /// How much noisier than ordinary paper a block is, in sixteenths; only where the scan was coded in blocks.
    pub noise: Option<Plane<u8>>,
    /// The tooth at the finest scale.
    pub tooth: Tooth,
    /// How far the sheet lies off the paper along the hue of the pale paint about; known after a first look for paint.
    pub along_hue: Option<AlongHue>,
    /// Faint contours ([`super::contour`]); only where the scan was coded in blocks, whose noise hides them.
    pub contours: Option<Plane<u8>>,
}

impl Evidence {
    /// The contrast of row `y` from column `start` on where paint is strong, and 0 elsewhere; beyond the sheet it mirrors.
    pub fn strong_contrast(&self, y: usize, start: isize, deviations: &mut Vec<u8>, out: &mut [u16]) {
        deviations.resize(out.len(), 0);
        gauss::mirrored(self.fine.row(y), start, deviations);
        gauss::mirrored(self.contrast.row(y), start, out);
        out.iter_mut().zip(deviations).for_each(|(out, d)| *out = strong(*out, *d));
    }

    /// The contrast of a pixel where paint is strong, and 0 elsewhere.
    #[must_use]
    pub fn strong_at(&self, x: usize, y: usize) -> u16 {
        strong(self.contrast.at(x, y), self.fine.at(x, y))
    }
}

/// A contrast that is of strong paint, with these deviations off the paper, and 0 for any other.
#[inline]
fn strong(contrast: u16, deviations: u8) -> u16 {
    const DEVIATIONS: u8 = (STRONG * STEPS) as u8;
    const CONTRAST: u16 = (STRONG_CONTRAST * CONTRAST_STEPS) as u16;
    if deviations >= DEVIATIONS && contrast >= CONTRAST { contrast } else { 0 }
}

/// Gathers the evidence, some rows at a time.
#[derive(Debug)]
pub struct Gathering {
    gathered: Gathered,
    strips: Vec<Strip>,
    tooth: Tooth,
    next: usize,
}

impl Gathering {
    /// Prepares for a sheet: measures the tooth on bare tiles.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn new(sheet: &Sheet, field: &PaperField) -> Result<Self> {
        let (w, h) = (sheet.width(), sheet.height());
        let what = "the evidence of paint";
        let blocks = if coded_in_blocks(sheet) { Some(Plane::new(w.div_ceil(BLOCK), h.div_ceil(BLOCK), what)?) } else { None };
        let gathered = Gathered {
            fine: Plane::new(w, h, what)?,
            contrast: Plane::new(w, h, what)?,
            half: Plane::new(w.div_ceil(2), h.div_ceil(2), what)?,
            coarse: Plane::new(w.div_ceil(4), h.div_ceil(4), what)?,
            blocks,
        };
        let kernel = gauss::kernel(FINE_SIGMA);
        let strip = |x: usize| Strip::new(sheet, field, x..(x + strip::COLUMNS).min(w), kernel.clone());
        Ok(Self {
            gathered,
            strips: (0..w).step_by(strip::COLUMNS).map(strip).collect(),
            tooth: fine_tooth(sheet, field),
            next: 0,
        })
    }

    /// Works through the next rows; false when there were none left.
    pub fn advance(&mut self, sheet: &Sheet, field: &PaperField, edge: &SheetEdge) -> bool {
        let Some(rows) = tile::next_rows(&mut self.next, sheet.height()) else { return false };
        for strip in &mut self.strips {
            for y in rows.clone() {
                strip.row(sheet, field, edge, &self.tooth, y, &mut self.gathered);
            }
        }
        true
    }

    /// How far the work is, 0..1.
    #[must_use]
    pub fn progress(&self) -> f32 {
        self.next as f32 / self.gathered.fine.height() as f32
    }

    /// Pools what was gathered.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn finish(self, field: &PaperField, ppi: Ppi) -> Result<Evidence> {
        let scale = ppi.coarseness();
        let Gathered { fine, contrast, half, coarse, blocks } = self.gathered;
        let noise = match &blocks {
            Some(blocks) => block_noise(blocks, &fine, field)?,
            None => None,
        };
        let quarter = halve(&half)?;
        let (middle, pooled, middle_tooth) = pool(half, 2, 2.0 * scale, field, true)?;
        let eighth = halve(&quarter)?;
        let (mut wide, ..) = pool(quarter, 4, 5.0 * scale, field, false)?;
        let (broad, ..) = pool(eighth, 8, 10.0 * scale, field, false)?;
        for y in 0..wide.height() {
            let broad = broad.row(y / 2);
            wide.row_mut(y).iter_mut().enumerate().for_each(|(x, w)| *w = (*w).max(broad[x / 2].min(w.saturating_add(*w / 2))));
        }
        let coarse = whole_cells(coarse, fine.width(), fine.height());
        let middle_top = local_max::square(&middle, (POOLED_REACH * scale) as usize)?;
        Ok(Evidence {
            fine,
            contrast,
            middle,
            wide,
            pooled,
            middle_tooth,
            middle_top,
            coarse,
            noise,
            tooth: self.tooth,
            along_hue: None,
            contours: None,
        })
    }
}

/// The part of a stored pooled distance that noise, which has a length too in each of its three directions, does not explain:
/// faint paint stands out of rough paper by its color.
#[must_use]
pub fn unbiased(distance: u8) -> f32 {
    let z = f32::from(distance) * (1.0 / STEPS);
    max(z * z - 3.0, 0.0).sqrt()
}

/// From sums to means, and from the sum of squares to the deviation. Cells cut by the right and bottom border hold fewer
/// pixels than sixteen.
fn whole_cells(mut coarse: Plane<[f32; 4]>, width: usize, height: usize) -> Plane<[f32; 4]> {
    let (last_x, last_y) = (width - (coarse.width() - 1) * 4, height - (coarse.height() - 1) * 4);
    for y in 0..coarse.height() {
        let tall = if y + 1 == coarse.height() { last_y } else { 4 };
        let last = coarse.width() - 1;
        for (x, v) in coarse.row_mut(y).iter_mut().enumerate() {
            let count = tall * if x == last { last_x } else { 4 };
            let [r, g, b, square] = v.map(|s| s * 16.0 / count as f32);
            let sum = r + g + b;
            *v = [r, g, b, max(square - sum * sum, 0.0).sqrt() * (1.0 / 3.0)];
        }
    }
    coarse
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

/// Whether steps at the borders of 8-pixel blocks stand out, as coding in blocks leaves them.
fn coded_in_blocks(sheet: &Sheet) -> bool {
    /// Ratio of border steps to others from which on coding is assumed; plain scans stay below 1.03.
    const STANDS_OUT: f64 = 1.08;
    let w = sheet.width();
    let mut line = [vec![0.0; w], vec![0.0; w], vec![0.0; w]];
    let mut steps = [0.0_f64; BLOCK];
    // Some hundred thousand steps tell.
    for y in (0..sheet.height()).step_by((sheet.height() / 300).max(1)) {
        let [r, g, b] = &mut line;
        sheet.row(y, r, g, b);
        let opponent: Vec<f32> = b.iter().zip(g.iter()).map(|(b, g)| b - g).collect();
        for (x, pair) in opponent.windows(2).enumerate() {
            // Contours of paint are the same everywhere; large steps would drown the small ones.
            steps[x % BLOCK] += f64::from((pair[1] - pair[0]).abs().min(0.05));
        }
    }
    let mut others = steps[..BLOCK - 1].to_vec();
    others.sort_by(f64::total_cmp);
    others[3] > 0.0 && steps[BLOCK - 1] > STANDS_OUT * others[3]
}

/// Noise of each block against that of bare paper, smoothed over neighbors.
fn block_noise(blocks: &Plane<[f32; 2]>, fine: &Plane<u8>, field: &PaperField) -> Result<Option<Plane<u8>>> {
    /// Distances beyond this may be much larger than is stored.
    const STORED: f32 = 30.0;
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
    let usual = median(&mut bare);
    let mut strongest = Plane::from_vec(w, h, vec![0_u8; w * h]);
    for y in 0..fine.height() {
        let row = strongest.row_mut(y / BLOCK);
        for (top, block) in row.iter_mut().zip(fine.row(y).chunks(BLOCK)) {
            *top = block.iter().fold(*top, |top, z| top.max(*z));
        }
    }
    let strongest = local_max::square(&strongest, 1)?;
    let noise = level.iter().zip(strongest.data()).map(|(level, strongest)| {
        let strongest = f32::from(*strongest) * (1.0 / STEPS);
        let most = if strongest < STORED { max(2.0, 1.0 + RINGING * strongest) } else { 6.0 };
        ((level / usual).clamp(1.0, most) * 16.0) as u8
    });
    Ok(Some(Plane::from_vec(w, h, noise.collect())))
}

/// Whether a cell of the field is bare paper.
pub(super) fn bare_at(field: &PaperField, column: usize, row: usize) -> bool {
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
/// spread at that scale, which comes back too. `size` is the side of a sum in sheet pixels.
fn pool(
    sums: Plane<[f32; 4]>,
    size: usize,
    sigma: f32,
    field: &PaperField,
    keep: bool,
) -> Result<(Plane<u8>, Plane<[f32; 3]>, Tooth)> {
    /// Less free paper than this under the kernel says nothing.
    const LEAST: f32 = 0.12;
    /// Blotchy and coded paper has longer tails than its spread tells of: they are measured at this share of the bare cells,
    /// where three normal directions reach so far (chi-squared distribution), and believed up to so many times that.
    const TAIL: f32 = 0.995;
    const NORMAL_TAIL: f32 = 3.583;
    const LONGEST: f32 = 1.6;
    let (w, h) = (sums.width(), sums.height());
    let side = size as f32;
    // A square of side n has itself a variance of (n^2 - 1) / 12.
    let kernel = gauss::kernel((sigma * sigma - (side * side - 1.0) / 12.0).max(0.1).sqrt() / side);
    let reach = kernel.len() - 1;
    let mut padded = vec![[0.0; 4]; w + 2 * reach];
    // Rows blurred across, as many as the kernel reaches over; the next takes the place of the oldest.
    let mut across = vec![vec![[0.0; 4]; w]; 2 * reach + 1];
    let span = across.len();
    let full = side * side;
    let mut blurred = sums;
    let mut begun = 0;
    for y in 0..h {
        while begun < (y + reach + 1).min(h) {
            gauss::mirrored(blurred.row(begun), -(reach as isize), &mut padded);
            gauss::blur_inside_by(4, padded.as_flattened(), &kernel, across[begun % span].as_flattened_mut());
            begun += 1;
        }
        let row = |dy: isize| across[gauss::mirror(y as isize + dy, h) % span].as_flattened();
        gauss::blur_column(&kernel, row, blurred.row_mut(y).as_flattened_mut());
        // Of the sums, means; how much paper they are of stays beside them.
        for v in blurred.row_mut(y) {
            let share = v[3];
            let known = share > LEAST * full;
            v[..3].iter_mut().for_each(|sum| *sum = if known { *sum / share } else { 0.0 });
        }
    }
    let cell = field.cell();
    let mut samples = Vec::new();
    let mut bare = Vec::new();
    // Some ten thousand are plenty for a covariance.
    let every = (w * h / 60_000).max(1);
    for i in (0..w * h).step_by(every) {
        let v = &blurred.data()[i];
        let (x, y) = ((i % w) * size / cell, (i / w) * size / cell);
        if v[3] > 0.9 * full && x < field.likely().width() && y < field.likely().height() && field.likely().at(x, y) {
            let mean = [v[0], v[1], v[2]];
            samples.push(mean);
            if field.bare().at(x, y) {
                bare.push(mean);
            }
        }
    }
    let tooth = Tooth::measure(&samples, 1.2 * sigma);
    let mut far: Vec<f32> = bare.iter().map(|s| tooth.distance_squared(*s)).collect();
    let longer = (quantile(&mut far, TAIL).sqrt() / NORMAL_TAIL).clamp(1.0, LONGEST);
    let mut distance = Plane::new(w, h, "the evidence of paint")?;
    for (out, v) in distance.data_mut().iter_mut().zip(blurred.data()) {
        if v[3] > LEAST * full {
            let z = (tooth.distance_squared([v[0], v[1], v[2]]) * min(v[3] / full, 1.0)).sqrt() / longer;
            *out = min(z * STEPS, 255.0) as i32 as u8;
        }
    }
    let pooled = if keep {
        Plane::from_vec(w, h, blurred.data().iter().map(|v| [v[0], v[1], v[2]]).collect())
    } else {
        Plane::from_vec(0, 0, Vec::new())
    };
    Ok((distance, pooled, tooth.widened(longer)))
}
