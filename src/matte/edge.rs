//! The matte: how far each pixel is painted, 0..1, as the mixing fraction in encoded values.
//!
//! Inside paint it is 1, on bare paper 0. Near an outline the paint's own color is taken from inside the stroke (its
//! plateau or ridge, undimmed where the stroke is thin), and the pixel is placed on the straight line from paper to that
//! color. Where noise makes this uncertain (faint paint), the outline's geometry, blurred as the scanner blurs, weighs
//! in by the inverse of its variance.

use super::cover::{Cover, WEAK, bits, smooth_contrast};
use super::evidence::{BAND, Evidence, FINE_SIGMA, length};
use super::thin::{SECOND, Thinness};
use crate::color::transfer::Curves;
use crate::error::Result;
use crate::filter::{distance, gauss, local_max};
use crate::image::{Plane, Sheet};
use crate::paper::{PaperField, Strip};

/// A matte of 1.
pub const FULL: u16 = u16::MAX;
/// The matte of a pixel that has evidence of paint but is no part of it: the rim. Zero means never painted.
pub const RIM: u16 = 1;

/// Radius in which the paint's own color is looked for, in pixels.
const LOOK: usize = 4;
/// Blur before a thin stroke's narrow peak is read.
const FIRST: f32 = 0.5;
/// Standard deviation of the geometric coverage: an outline is known to a fifth of a pixel.
const GEOMETRY: f32 = 0.18;

/// Makes the matte band by band.
#[derive(Debug)]
pub struct Edging {
    matte: Plane<u16>,
    /// Distance from kept pixels to the cleared, and from cleared to the kept, in fifths of a pixel.
    inward: Plane<u8>,
    outward: Plane<u8>,
    pooled: Plane<f32>,
    sigma: f32,
    thinness: Thinness,
    strip: Strip,
    next: usize,
    pool: Buffers,
}

#[derive(Debug, Default)]
struct Buffers {
    core: Vec<bool>,
    thin: Vec<bool>,
    kept: Vec<f32>,
    coverage: Vec<f32>,
    darkness: Vec<f32>,
    narrow: Vec<f32>,
    broad: Vec<f32>,
    own: [Vec<f32>; 3],
}

impl Edging {
    /// Prepares the distances. `sigma` is the scan's blur in pixels.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn new(evidence: &Evidence, cover: &Cover, sigma: f32) -> Result<Self> {
        let (w, h) = (cover.cover.width(), cover.cover.height());
        let mut inward: Plane<u8> = Plane::new(w, h, "the matte")?;
        let mut outward: Plane<u8> = Plane::new(w, h, "the matte")?;
        for ((i, o), c) in inward.data_mut().iter_mut().zip(outward.data_mut()).zip(cover.cover.data()) {
            let kept = c & bits::CLEARED == 0;
            (*i, *o) = if kept { (distance::FAR, 0) } else { (0, distance::FAR) };
        }
        distance::chamfer(&mut inward);
        distance::chamfer(&mut outward);
        let pooled = Plane::from_vec(
            evidence.pooled.width(),
            evidence.pooled.height(),
            evidence.pooled.data().iter().map(|v| length(*v)).collect(),
        );
        Ok(Self {
            matte: Plane::new(w, h, "the matte")?,
            inward,
            outward,
            pooled,
            sigma,
            thinness: Thinness::new(sigma, FIRST),
            strip: Strip::default(),
            next: 0,
            pool: Buffers::default(),
        })
    }

    /// How far the work is, 0..1.
    #[must_use]
    pub fn progress(&self) -> f32 {
        self.next as f32 / self.matte.height() as f32
    }

    /// The matte so far; whole once `advance` has returned false.
    #[must_use]
    pub fn into_matte(self) -> Plane<u16> {
        self.matte
    }

    /// Works through the next band; false when there was none left.
    pub fn advance(&mut self, sheet: &Sheet, field: &PaperField, evidence: &Evidence, cover: &Cover) -> bool {
        let (w, h) = (sheet.width(), sheet.height());
        if self.next >= h {
            return false;
        }
        let rows = self.next..(self.next + BAND).min(h);
        self.next = rows.end;
        // Beyond this from the outline the scanner's blur has died out.
        let unit = f32::from(distance::UNIT);
        let reach = ((2.0 + 2.2 * self.sigma) * unit) as u8;
        let outer = reach + (0.8 * unit) as u8;
        let in_band = |inward: u8, outward: u8| (inward > 0 && inward <= reach) || (outward > 0 && outward <= outer);
        let mut busy = false;
        for y in rows.clone() {
            let (inward, outward) = (self.inward.row(y), self.outward.row(y));
            let cover = cover.cover.row(y);
            for (x, m) in self.matte.row_mut(y).iter_mut().enumerate() {
                busy = busy || in_band(inward[x], outward[x]);
                *m = if inward[x] > 0 {
                    FULL
                } else if cover[x] & (bits::PAINT | bits::OUTSIDE) == bits::PAINT {
                    RIM
                } else {
                    0
                };
            }
        }
        if !busy {
            return true;
        }
        self.load(sheet, field, cover, rows.clone(), reach);
        let tall = LOOK;
        let mut outside_full = vec![0_u8; w];
        for (i, y) in rows.enumerate() {
            let (inward, outward) = (self.inward.row(y), self.outward.row(y));
            outside_full.iter_mut().zip(cover.cover.row(y)).for_each(|(o, c)| *o = c & bits::OUTSIDE);
            for x in 0..w {
                if outside_full[x] != 0 || !in_band(inward[x], outward[x]) {
                    continue;
                }
                let value = self.pixel(evidence, x, i + tall, inward[x] > 0, inward[x] + unit as u8 > reach);
                let m = self.matte.row_mut(y);
                let floor = if m[x] == 0 { 0 } else { RIM };
                m[x] = ((value * f32::from(FULL)).round() as u16).max(floor);
            }
        }
        true
    }

    /// Fills the buffers for a band: core pixels, their colors, and coverage by geometry. All hold the band's rows with
    /// [`LOOK`] rows on each side.
    fn load(&mut self, sheet: &Sheet, field: &PaperField, cover: &Cover, rows: std::ops::Range<usize>, reach: u8) {
        /// Half the window in which a pixel must stand out to be core.
        const CORE: usize = 2;
        let (w, h) = (sheet.width(), sheet.height());
        let fine = gauss::kernel(FINE_SIGMA);
        let second = gauss::kernel(SECOND);
        let halo = LOOK + CORE.max(LOOK) + (second.len() - 1).max(fine.len() - 1);
        self.strip.load(sheet, field, rows.clone(), halo);
        let contrast = smooth_contrast(&self.strip, &fine, LOOK + CORE);
        let mut across = vec![0.0; contrast.len()];
        let mut scratch = Vec::new();
        for (from, to) in contrast.chunks_exact(w).zip(across.chunks_exact_mut(w)) {
            local_max::along_row(from, CORE, to, &mut scratch);
        }
        let tall = rows.len() + 2 * LOOK;
        let sheet_row = |i: usize, spare: usize| gauss::mirror(rows.start as isize + i as isize - spare as isize, h);
        let buffers = &mut self.pool;
        buffers.core.resize(tall * w, false);
        buffers.thin.resize(tall * w, false);
        let mut top = vec![0.0; w];
        let mut any_thin = false;
        let half_height = self.pooled.height();
        for i in 0..tall {
            local_max::across_rows(across[i * w..(i + 2 * CORE + 1) * w].chunks_exact(w), &mut top);
            let here = &contrast[(i + CORE) * w..(i + CORE + 1) * w];
            let y = sheet_row(i, LOOK);
            let inward = self.inward.row(y);
            let pooled = self.pooled.row(y / 2);
            let (above, below) = (self.pooled.row((y / 2).saturating_sub(1)), self.pooled.row((y / 2 + 1).min(half_height - 1)));
            let around = [y.saturating_sub(2), y.saturating_sub(1), y, (y + 1).min(h - 1), (y + 2).min(h - 1)];
            for x in 0..w {
                let at = i * w + x;
                if inward[x] == 0 {
                    buffers.core[at] = false;
                    buffers.thin[at] = false;
                    continue;
                }
                let mut core = here[x] >= 0.88 * top[x] || inward[x] > reach + distance::UNIT;
                if !core && top[x] < WEAK {
                    let (a, b) = ((x / 2).saturating_sub(1), (x / 2 + 1).min(pooled.len() - 1));
                    let highest = [pooled[a], pooled[b], above[x / 2], below[x / 2]].into_iter().fold(0.0, f32::max);
                    core = pooled[x / 2] >= 0.85 * highest;
                }
                buffers.core[at] = core;
                // Thin: nowhere within two pixels does the stroke reach deeper than 2.6 pixels.
                let thin = core && inward[x] <= 13 && {
                    let (from, to) = (x.saturating_sub(2), (x + 3).min(w));
                    around.iter().all(|&y| self.inward.row(y)[from..to].iter().all(|v| *v <= 13))
                };
                buffers.thin[at] = thin;
                any_thin |= thin;
            }
        }
        let offset = self.strip.halo() - LOOK;
        for c in 0..3 {
            buffers.own[c].resize(tall * w, 0.0);
            for i in 0..tall {
                let (r, p) = (self.strip.residual(c, i + offset), self.strip.paper(c, i + offset));
                buffers.own[c][i * w..(i + 1) * w].iter_mut().zip(r.iter().zip(p)).for_each(|(o, (r, p))| *o = r + p);
            }
        }
        if any_thin {
            self.undim(tall);
        }
        // Coverage by geometry: the outline as the scanner's blur would show it.
        let kernel = gauss::kernel(self.sigma);
        let spare = kernel.len() - 1;
        let buffers = &mut self.pool;
        buffers.kept.resize((rows.len() + 2 * spare) * w, 0.0);
        let mut line = vec![0.0; w];
        for i in 0..rows.len() + 2 * spare {
            let y = sheet_row(i, spare);
            line.iter_mut().zip(cover.cover.row(y)).for_each(|(v, c)| *v = f32::from(u8::from(c & bits::CLEARED == 0)));
            gauss::blur_row(&line, &kernel, &mut buffers.kept[i * w..(i + 1) * w]);
        }
        buffers.coverage.resize(rows.len() * w, 0.0);
        for i in 0..rows.len() {
            let kept = &buffers.kept;
            let row = |dy: isize| {
                let i = ((i + spare) as isize + dy) as usize;
                &kept[i * w..(i + 1) * w]
            };
            gauss::blur_column(&kernel, row, &mut buffers.coverage[i * w..(i + 1) * w]);
        }
    }

    /// Gives thin strokes' core pixels the color that the scanner's blur has dimmed.
    fn undim(&mut self, tall: usize) {
        let w = self.strip.width();
        let curves = Curves::get();
        let first = gauss::kernel(FIRST);
        let second = gauss::kernel(SECOND);
        let spare = LOOK + second.len() - 1;
        let offset = self.strip.halo() - LOOK - spare;
        let high = tall + 2 * spare;
        let b = &mut self.pool;
        b.darkness.resize(high * w, 0.0);
        for i in 0..high {
            for x in 0..w {
                let mut sum = 0.0;
                for c in 0..3 {
                    let (r, p) = (self.strip.residual(c, i + offset)[x], self.strip.paper(c, i + offset)[x]);
                    if r.abs() > 0.004 {
                        sum += curves.linear(p) - curves.linear(r + p);
                    }
                }
                b.darkness[i * w + x] = sum / 3.0;
            }
        }
        let mut across = vec![0.0; high * w];
        let mut blur = |kernel: &[f32], out: &mut Vec<f32>| {
            out.resize((tall + 2 * LOOK) * w, 0.0);
            for (from, to) in b.darkness.chunks_exact(w).zip(across.chunks_exact_mut(w)) {
                gauss::blur_row(from, kernel, to);
            }
            let lead = spare - LOOK;
            for (i, to) in out.chunks_exact_mut(w).enumerate() {
                let row = |dy: isize| {
                    let i = ((i + lead) as isize + dy) as usize;
                    &across[i * w..(i + 1) * w]
                };
                gauss::blur_column(kernel, row, to);
            }
        };
        blur(&first, &mut b.narrow);
        blur(&second, &mut b.broad);
        for i in 0..tall {
            for x in 0..w {
                if !b.thin[i * w + x] {
                    continue;
                }
                // Along the ridge both peaks are averaged: one pixel alone is too noisy for a ratio.
                let (mut narrow, mut broad) = (0.0, 0.0);
                let (rows, columns) = (i.saturating_sub(3)..(i + 4).min(tall), x.saturating_sub(3)..(x + 4).min(w));
                for j in rows {
                    for k in columns.clone() {
                        if b.thin[j * w + k] {
                            narrow += b.narrow[(j + LOOK) * w + k];
                            broad += b.broad[(j + LOOK) * w + k];
                        }
                    }
                }
                if narrow.abs() < 1e-4 {
                    continue;
                }
                let gain = 1.0 / self.thinness.share_left(broad / narrow);
                for c in 0..3 {
                    let p = curves.linear(self.strip.paper(c, i + self.strip.halo() - LOOK)[x]);
                    let own = &mut b.own[c][i * w + x];
                    let light = (p - gain * (p - curves.linear(*own))).clamp(0.006, 1.0);
                    *own = curves.encoded(light);
                }
            }
        }
    }

    /// The matte of one pixel near an outline. `i` is its row in the buffers.
    fn pixel(&self, evidence: &Evidence, x: usize, i: usize, inside: bool, deep: bool) -> f32 {
        let w = self.strip.width();
        let b = &self.pool;
        let offset = self.strip.halo() - LOOK;
        let paper = [0, 1, 2].map(|c| self.strip.paper(c, i + offset)[x]);
        let residual = [0, 1, 2].map(|c| self.strip.residual(c, i + offset)[x]);
        let size = length(residual);
        // How far off the line from paper to a stroke's color a pixel of that stroke may lie.
        let slack = 0.018 + 0.10 * size;
        let sharp = 0.5 / (slack * slack);
        let mut sum = [0.0; 3];
        let mut total = 0.0;
        for (dy, reach) in [2_usize, 3, 4, 4, 4, 4, 4, 3, 2].into_iter().enumerate() {
            let row = (i + dy - LOOK) * w;
            let down = dy.abs_diff(LOOK);
            for k in x.saturating_sub(reach)..(x + reach + 1).min(w) {
                if !b.core[row + k] {
                    continue;
                }
                let own = [b.own[0][row + k], b.own[1][row + k], b.own[2][row + k]];
                let toward = [own[0] - paper[0], own[1] - paper[1], own[2] - paper[2]];
                let square = dot(toward, toward) + 1e-6;
                let t = dot(residual, toward) / square;
                if t >= 1.25 {
                    continue;
                }
                let off = [0, 1, 2].map(|c| residual[c] - t * toward[c]);
                let u = dot(off, off) * sharp;
                let near = NEARNESS[down * down + k.abs_diff(x) * k.abs_diff(x)];
                // The first terms of the series of e^u: a Gaussian's shape without its cost.
                let weight = near / (1.0 + u * (1.0 + u * (0.5 + u * (1.0 / 6.0))));
                total += weight;
                (0..3).for_each(|c| sum[c] += weight * own[c]);
            }
        }
        let plain = f32::from(u8::from(inside));
        if total < 1e-4 {
            return plain;
        }
        let own = sum.map(|v| v / total);
        let toward = [own[0] - paper[0], own[1] - paper[1], own[2] - paper[2]];
        let square = dot(toward, toward).max(1e-6);
        let measured = (dot(residual, toward) / square).clamp(0.0, 1.0);
        let cover = b.coverage[(i - LOOK) * w + x].clamp(0.0, 1.0);
        let curves = Curves::get();
        let mixed = [0, 1, 2].map(|c| {
            let (p, f) = (curves.linear(paper[c]), curves.linear(own[c]));
            curves.encoded(p + cover * (f - p)) - paper[c]
        });
        let geometric = (dot(mixed, toward) / square).clamp(0.0, 1.0);
        let variance = 1.3 * evidence.tooth.variance_along(toward) / (square * square) + 1e-6 / square;
        let (by_color, by_shape) = (1.0 / variance, 1.0 / (GEOMETRY * GEOMETRY));
        let mut value = (measured * by_color + geometric * by_shape) / (by_color + by_shape);
        if deep && inside {
            value = value.max(0.98);
        }
        if value < 0.02 {
            0.0
        } else if value > 0.975 {
            1.0
        } else {
            value
        }
    }
}

fn dot(a: [f32; 3], b: [f32; 3]) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// `exp(-d / 8)` for squared distances `d` of 0..=32.
const NEARNESS: [f32; 33] = [
    1.0, 0.882_497, 0.778_801, 0.687_289, 0.606_531, 0.535_261, 0.472_367, 0.416_862, 0.367_879, 0.324_652, 0.286_505, 0.252_840,
    0.223_130, 0.196_912, 0.173_774, 0.153_355, 0.135_335, 0.119_433, 0.105_399, 0.093_014, 0.082_085, 0.072_440, 0.063_928,
    0.056_416, 0.049_787, 0.043_937, 0.038_774, 0.034_218, 0.030_197, 0.026_649, 0.023_518, 0.020_754, 0.018_316,
];
