//! Cover: which pixels are painted, which are bare, which lie outside the sheet.
//!
//! Evidence is thresholded with hysteresis (Canny 1986): what is surely paint pulls in what touches it and is likely
//! paint. The foot of a blurred edge is then cut back to half the contrast of its own stroke, so that the outline lies
//! where the stroke's does, and what remains bare is joined to the outside or listed as an island.

use super::evidence::{BAND, Evidence, FINE_SIGMA, STEPS, length};
use crate::error::Result;
use crate::filter::{Connectivity, Regions, distance, gauss, local_max};
use crate::image::{Plane, Sheet};
use crate::paper::{PaperField, SheetEdge, Strip};

/// Thresholds on the evidence, in deviations of bare paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thresholds {
    /// One fine pixel this far off is paint.
    pub fine_high: f32,
    /// One this far off is paint when it touches paint.
    pub fine_low: f32,
    /// As `fine_high`, for the pooling over about 2 pixels.
    pub middle_high: f32,
    /// As `fine_low`, for the pooling over about 2 pixels.
    pub middle_low: f32,
    /// For the pooling over about 5 pixels, high and low.
    pub wide: f32,
}

impl Thresholds {
    /// The thresholds for a tolerance of 0..100. They double every 25 steps, so a higher tolerance keeps less.
    #[must_use]
    pub fn for_tolerance(tolerance: f32) -> Self {
        let factor = crate::color::math::powf(2.0, (tolerance - 50.0) / 25.0);
        Self {
            fine_high: 7.0 * factor,
            fine_low: 4.5 * factor,
            middle_high: 6.0 * factor,
            middle_low: 4.0 * factor,
            wide: 6.0 * factor,
        }
    }
}

/// What the painter's own strokes say, a byte a pixel.
pub mod stroke {
    /// Nothing.
    pub const NONE: u8 = 0;
    /// Keep as paint.
    pub const KEEP: u8 = 1;
    /// Clear as paper.
    pub const CLEAR: u8 = 2;
}

const UNLIKELY: u8 = 0;
const LIKELY: u8 = 1;
const SURE: u8 = 2;

/// How sure one row of the sheet is to be paint.
fn sureness(evidence: &Evidence, edge: &SheetEdge, strokes: Option<&Plane<u8>>, limits: &Limits, y: usize, row: &mut [u8]) {
    let fine = evidence.fine.row(y);
    let middle = evidence.middle.row(y / 2);
    let wide = evidence.wide.row(y / 4);
    if let Some(noise) = &evidence.noise {
        let noise = noise.row(y / 8);
        for (x, out) in row.iter_mut().enumerate() {
            let n = u16::from(noise[x / 8]);
            let [f, m, v] = [fine[x], middle[x / 2], wide[x / 4]].map(|e| (u16::from(e) * 16).checked_div(n).unwrap_or(0));
            *out = limits.judge(f, m, v);
        }
    } else {
        for (x, out) in row.iter_mut().enumerate() {
            *out = limits.judge(u16::from(fine[x]), u16::from(middle[x / 2]), u16::from(wide[x / 4]));
        }
    }
    if let Some(strokes) = strokes {
        for (out, s) in row.iter_mut().zip(strokes.row(y)) {
            match *s {
                stroke::KEEP => *out = SURE,
                stroke::CLEAR => *out = UNLIKELY,
                _ => {}
            }
        }
    }
    if !edge.is_none() {
        let mut outside = vec![0; row.len()];
        edge.row(y, evidence.fine.height(), &mut outside);
        row.iter_mut().zip(&outside).for_each(|(out, o)| *out *= 1 - o);
    }
}

/// [`Thresholds`] in the evidence's own steps.
struct Limits([u16; 5]);

impl Limits {
    fn new(t: &Thresholds) -> Self {
        Self([t.fine_high, t.fine_low, t.middle_high, t.middle_low, t.wide].map(|v| ((v * STEPS) as u16).clamp(1, 255)))
    }

    #[inline]
    fn judge(&self, fine: u16, middle: u16, wide: u16) -> u8 {
        let [fine_high, fine_low, middle_high, middle_low, wide_both] = self.0;
        let sure = fine >= fine_high || middle >= middle_high || wide >= wide_both;
        let likely = fine >= fine_low || middle >= middle_low;
        if sure {
            SURE
        } else if likely {
            LIKELY
        } else {
            UNLIKELY
        }
    }
}

/// Finds the painted regions, marks and all: regions of likely paint that hold sure paint.
///
/// Returns all regions of likely paint, and for each whether it holds sure paint.
#[must_use]
pub fn detect(
    evidence: &Evidence,
    edge: &SheetEdge,
    strokes: Option<&Plane<u8>>,
    thresholds: &Thresholds,
) -> (Regions, Vec<bool>) {
    let (w, h) = (evidence.fine.width(), evidence.fine.height());
    let limits = Limits::new(thresholds);
    let regions = Regions::find(w, h, Connectivity::Eight, |y, row| sureness(evidence, edge, strokes, &limits, y, row));
    let mut sure = vec![false; regions.count()];
    let mut row = vec![0; w];
    for y in 0..h {
        sureness(evidence, edge, strokes, &limits, y, &mut row);
        for run in regions.row(y) {
            let region = run.region as usize;
            sure[region] = sure[region] || row[run.start as usize..run.end as usize].contains(&SURE);
        }
    }
    (regions, sure)
}

/// What a pixel is, as bits.
pub mod bits {
    /// Painted, as far as the evidence goes.
    pub const PAINT: u8 = 1;
    /// Not painted, or the foot of an edge.
    pub const FREE: u8 = 2;
    /// Beyond the sheet.
    pub const OUTSIDE: u8 = 4;
    /// Free and to be cleared.
    pub const CLEARED: u8 = 8;
}

/// The cover of a sheet.
#[derive(Debug)]
pub struct Cover {
    /// [`bits`] of every pixel.
    pub cover: Plane<u8>,
    /// Distance from painted pixels to the nearest that is not, in fifths of a pixel.
    pub depth: Plane<u8>,
}

impl Cover {
    /// The painted pixels: regions for which `kept` holds.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn of_regions(regions: &Regions, kept: &[bool], width: usize, edge: &SheetEdge) -> Result<Self> {
        let height = regions.height();
        let mut cover: Plane<u8> = Plane::new(width, height, "the cover")?;
        let mut depth = Plane::new(width, height, "the cover")?;
        let mut outside = vec![0; width];
        for y in 0..height {
            let (row, deep) = (cover.row_mut(y), depth.row_mut(y));
            row.fill(bits::FREE);
            for run in regions.row(y).iter().filter(|run| kept[run.region as usize]) {
                row[run.start as usize..run.end as usize].fill(bits::PAINT);
                deep[run.start as usize..run.end as usize].fill(distance::FAR);
            }
            if !edge.is_none() {
                edge.row(y, height, &mut outside);
                row.iter_mut().zip(&outside).filter(|(_, o)| **o != 0).for_each(|(r, _)| *r = bits::FREE | bits::OUTSIDE);
            }
        }
        distance::chamfer(&mut depth);
        Ok(Self { cover, depth })
    }

    /// Takes regions out of the paint again. Regions never touch, so the depth of the others stays what it is.
    pub fn drop_regions(&mut self, regions: &Regions, dropped: &[bool]) {
        for y in 0..regions.height() {
            for run in regions.row(y).iter().filter(|run| dropped[run.region as usize]) {
                let range = run.start as usize..run.end as usize;
                self.depth.row_mut(y)[range.clone()].fill(0);
                for c in &mut self.cover.row_mut(y)[range] {
                    *c = (*c & !bits::PAINT) | bits::FREE;
                }
            }
        }
    }

    /// Painted pixels that stay after clearing: everything not [`bits::CLEARED`].
    #[must_use]
    pub fn is_kept(&self, x: usize, y: usize) -> bool {
        self.cover.at(x, y) & bits::CLEARED == 0
    }
}

/// Cuts the foot of blurred edges back to half the contrast of their own stroke.
#[derive(Debug)]
pub struct Trim {
    pooled: Plane<f32>,
    pooled_top: Plane<f32>,
    strip: Strip,
    next: usize,
}

/// Paint fainter than this against its paper is judged by the pooled residual, encoded.
pub const WEAK: f32 = 0.075;
/// Feet are cut no deeper than this, in fifths of a pixel.
const DEEPEST: u8 = 33;
/// Reach over which a stroke's own contrast is looked for, in pixels.
const REACH: usize = 4;

impl Trim {
    /// Prepares the pooled contrast.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn new(evidence: &Evidence) -> Result<Self> {
        let (w, h) = (evidence.pooled.width(), evidence.pooled.height());
        let pooled = Plane::from_vec(w, h, evidence.pooled.data().iter().map(|v| length(*v)).collect());
        let pooled_top = square_max(&pooled, 3)?;
        Ok(Self { pooled, pooled_top, strip: Strip::default(), next: 0 })
    }

    /// Works through the next band; false when there was none left.
    pub fn advance(&mut self, sheet: &Sheet, field: &PaperField, cover: &mut Cover) -> bool {
        let (w, h) = (sheet.width(), sheet.height());
        if self.next >= h {
            return false;
        }
        let rows = self.next..(self.next + BAND).min(h);
        self.next = rows.end;
        let kernel = gauss::kernel(FINE_SIGMA);
        let halo = REACH + kernel.len() - 1;
        self.strip.load(sheet, field, rows.clone(), halo);
        let contrast = smooth_contrast(&self.strip, &kernel, REACH);
        let mut across = vec![0.0; contrast.len()];
        let mut scratch = Vec::new();
        for (from, to) in contrast.chunks_exact(w).zip(across.chunks_exact_mut(w)) {
            local_max::along_row(from, REACH, to, &mut scratch);
        }
        let mut top = vec![0.0; w];
        for (i, y) in rows.enumerate() {
            local_max::across_rows(across[i * w..(i + 2 * REACH + 1) * w].chunks_exact(w), &mut top);
            let here = &contrast[(i + REACH) * w..(i + REACH + 1) * w];
            let (pooled, pooled_top) = (self.pooled.row(y / 2), self.pooled_top.row(y / 2));
            let depth = cover.depth.row(y);
            for (x, out) in cover.cover.row_mut(y).iter_mut().enumerate() {
                if *out & bits::PAINT == 0 || depth[x] > DEEPEST {
                    continue;
                }
                let faint = top[x] < WEAK && pooled_top[x / 2] < WEAK;
                let foot = if faint { pooled[x / 2] < 0.5 * pooled_top[x / 2] } else { here[x] < 0.5 * top[x] };
                if foot {
                    *out |= bits::FREE;
                }
            }
        }
        true
    }
}

/// Length of the residual after the finest blur, for the strip's rows with `spare` rows on each side.
#[must_use]
pub fn smooth_contrast(strip: &Strip, kernel: &[f32], spare: usize) -> Vec<f32> {
    let w = strip.width();
    let reach = kernel.len() - 1;
    let tall = strip.rows().len() + 2 * spare;
    let offset = strip.halo() - spare - reach;
    let mut squares = vec![0.0; tall * w];
    let mut across = vec![0.0; (tall + 2 * reach) * w];
    let mut smooth = vec![0.0; w];
    for c in 0..3 {
        for (i, out) in across.chunks_exact_mut(w).enumerate() {
            gauss::blur_row(strip.residual(c, i + offset), kernel, out);
        }
        for (i, out) in squares.chunks_exact_mut(w).enumerate() {
            let row = |dy: isize| {
                let i = (i + reach) as isize + dy;
                &across[i as usize * w..(i as usize + 1) * w]
            };
            gauss::blur_column(kernel, row, &mut smooth);
            out.iter_mut().zip(&smooth).for_each(|(o, s)| *o += s * s);
        }
    }
    squares.iter_mut().for_each(|v| *v = v.sqrt());
    squares
}

/// The largest value in a square around each pixel.
fn square_max(plane: &Plane<f32>, radius: usize) -> Result<Plane<f32>> {
    let (w, h) = (plane.width(), plane.height());
    let mut across = Plane::new(w, h, "the cover")?;
    let mut scratch = Vec::new();
    for y in 0..h {
        local_max::along_row(plane.row(y), radius, across.row_mut(y), &mut scratch);
    }
    let mut out = Plane::new(w, h, "the cover")?;
    for y in 0..h {
        let rows = y.saturating_sub(radius)..(y + radius + 1).min(h);
        local_max::across_rows(rows.map(|i| across.row(i)), out.row_mut(y));
    }
    Ok(out)
}

/// The regions of free pixels, sides touching; those of the outside among them.
#[must_use]
pub fn free_regions(cover: &Cover) -> Regions {
    let (w, h) = (cover.cover.width(), cover.cover.height());
    Regions::find(w, h, Connectivity::Four, |y, row| {
        row.iter_mut().zip(cover.cover.row(y)).for_each(|(out, c)| *out = c & bits::FREE);
    })
}

/// Which free regions reach the border of the scan or the outside of the sheet.
#[must_use]
pub fn open_regions(cover: &Cover, free: &Regions) -> Vec<bool> {
    let mut open = vec![false; free.count()];
    let (w, h) = (cover.cover.width(), cover.cover.height());
    for y in 0..h {
        let row = cover.cover.row(y);
        for run in free.row(y) {
            let (start, end) = (run.start as usize, run.end as usize);
            let border = y == 0 || y + 1 == h || start == 0 || end == w;
            let region = run.region as usize;
            open[region] = open[region] || border || row[start..end].iter().any(|c| c & bits::OUTSIDE != 0);
        }
    }
    open
}

/// Marks the pixels of the free regions for which `clear` holds as cleared.
pub fn clear_regions(cover: &mut Cover, free: &Regions, clear: &[bool]) {
    for y in 0..free.height() {
        let row = cover.cover.row_mut(y);
        for run in free.row(y) {
            let range = run.start as usize..run.end as usize;
            if clear[run.region as usize] {
                row[range].iter_mut().for_each(|c| *c |= bits::CLEARED);
            } else {
                row[range].iter_mut().for_each(|c| *c &= !bits::CLEARED);
            }
        }
    }
}
