//! How much the scan is blurred, from the narrow end of its own step edges.

use std::cell::Cell;

use crate::color::math::{self, max};
use crate::color::transfer::Curves;
use crate::filter::order::median;
use crate::image::Sheet;

/// Taken where a scan has too few clean edges, in pixels: the middle of what good flatbeds reach (FADGI 2016, MTF50 of
/// 0.20-0.325 cycles a pixel is a sigma of 0.94-0.58).
pub const TYPICAL: f32 = 0.85;

/// The variance of one pixel's own width.
const PIXEL: f32 = 1.0 / 12.0;
/// What can be told, in pixels.
const RANGE: [f32; 2] = [0.5, 1.4];
/// Fewer edges than this tell nothing.
const ENOUGH: usize = 100;

/// Standard deviation of the scan's blur in pixels, 0.5..1.4.
///
/// Edges of a wash dry darker, which makes them look steeper than the scanner shows any edge, and a broad rim softer. Their feet
/// tell: where they contradict the edges' width, the truth is taken to lie between, and where they contradict it grossly, they
/// are right.
#[must_use]
pub fn estimate(sheet: &Sheet) -> f32 {
    /// Shares of what the feet say, between which the width is believed, and between which it is believed half.
    const BELIEVED: [f32; 2] = [0.85, 1.15];
    const HALF: [f32; 2] = [0.62, 1.3];
    let within = |share: f32, range: [f32; 2]| share >= range[0] && share <= range[1];
    match (by_width(sheet), by_feet(sheet)) {
        (Some(width), Some(feet)) if !within(width / feet, HALF) => feet,
        (Some(width), Some(feet)) if !within(width / feet, BELIEVED) => 0.5 * (width + feet),
        (Some(blur), _) | (None, Some(blur)) => blur,
        (None, None) => TYPICAL,
    }
}

/// A row of the sheet.
struct Row {
    channels: [Vec<f32>; 3],
    /// Their mean, encoded.
    mean: Vec<f32>,
    /// Their mean in linear light, where it was asked for.
    lights: Vec<Cell<Option<f32>>>,
}

impl Row {
    fn new(width: usize) -> Self {
        Self { channels: [0, 1, 2].map(|_| vec![0.0; width]), mean: vec![0.0; width], lights: vec![Cell::default(); width] }
    }

    fn read(&mut self, sheet: &Sheet, y: usize) {
        let [r, g, b] = &mut self.channels;
        sheet.row(y, r, g, b);
        self.lights.fill(Cell::default());
        for (((mean, r), g), b) in self.mean.iter_mut().zip(r).zip(g).zip(b) {
            *mean = (*r + *g + *b) * (1.0 / 3.0);
        }
    }

    /// How much the mean changes over so many pixels.
    fn change(&self, x: usize, over: usize) -> f32 {
        (self.mean[x + over] - self.mean[x]).abs()
    }

    /// The mean of the channels in linear light.
    fn light(&self, x: usize) -> f32 {
        let light = &self.lights[x];
        light.get().unwrap_or_else(|| {
            let curves = Curves::get();
            let mean = self.channels.iter().map(|channel| curves.linear(channel[x])).sum::<f32>() * (1.0 / 3.0);
            light.set(Some(mean));
            mean
        })
    }
}

/// Light changes by no more than so many times what encoded values do.
const SLOPE: f32 = 2.3;

/// From how the foot of upright edges rises: of a Gaussian's logarithm the second difference is the inverse of its variance
/// everywhere, and on the bare side a rim hardly tells. The median over the sheet.
fn by_feet(sheet: &Sheet) -> Option<f32> {
    /// Pixels looked at on either side.
    const AROUND: usize = 8;
    /// The least step in light, and the least change from a pixel to the next at its steepest.
    const STEP: f32 = 0.15;
    const STEEP: f32 = 0.06;
    /// An edge that changes more than this share of that down the sheet is slanted, and looks wider.
    const SLANT: f32 = 0.25;
    /// Where the foot changes by less than this share of that, it is noise.
    const FOOT: f32 = 0.06;
    let (w, h) = (sheet.width(), sheet.height());
    let [mut above, mut here, mut below] = [(); 3].map(|()| Row::new(w));
    let mut found = Vec::new();
    for y in (1..h.saturating_sub(1)).step_by((h / 250).max(1)) {
        here.read(sheet, y);
        // Most rows have no edge that needs them.
        let mut around = false;
        for x in AROUND..w.saturating_sub(AROUND) {
            // Light is worth converting at edges only.
            if max(here.change(x, 1), here.change(x - 1, 1)) < STEEP / SLOPE {
                continue;
            }
            // The bare side is on the left, then on the right.
            for right in [true, false] {
                let column = |i: isize| x.wrapping_add_signed(if right { i } else { -i });
                let at = |i: isize| here.light(column(i));
                let top = at(1) - at(0);
                let change = |i: isize| (at(i + 1) - at(i)) * top.signum();
                if top.abs() < STEEP || change(1) > top.abs() || change(-1) > top.abs() {
                    continue;
                }
                let (ground, step) = (at(-3), (at(2) - at(-3)).abs());
                let slack = 0.02 * step + 0.002;
                if step < STEP || !(4..=7).all(|i| (at(-i) - ground).abs() <= slack) {
                    continue;
                }
                if !around {
                    above.read(sheet, y - 1);
                    below.read(sheet, y + 1);
                    around = true;
                }
                let down = [0, 1].map(|i| below.light(column(i)) - above.light(column(i)));
                if (down[0] + down[1]).abs() > 4.0 * SLANT * top.abs() {
                    continue;
                }
                let (far, near) = (change(-2), change(-1));
                if far < FOOT * top.abs() || near <= 0.0 {
                    continue;
                }
                let bend = math::lnf(near * near / (far * top.abs()));
                if bend > 0.05 {
                    found.push(bend);
                }
            }
        }
    }
    (found.len() >= ENOUGH).then(|| (1.0 / median(&mut found) - PIXEL).max(0.2).sqrt().clamp(RANGE[0], RANGE[1]))
}

/// From the width of edges that have flat ground on both sides: the second moment of their derivative, lower quartile over the
/// sheet, less the variance of a pixel's own width.
fn by_width(sheet: &Sheet) -> Option<f32> {
    const REACH: usize = 14;
    /// The least step in light that counts.
    const STEP: f32 = 0.2;
    let (w, h) = (sheet.width(), sheet.height());
    if w <= REACH + 1 {
        return None;
    }
    let mut row = Row::new(w);
    let mut variances = Vec::new();
    // A few hundred rows hold thousands of edges.
    for y in (0..h).step_by((h / 500).max(1)) {
        row.read(sheet, y);
        let light = |x: usize| row.light(x);
        for x in 0..w - REACH {
            // Light is worth converting at edges only.
            if row.change(x, REACH) < STEP / SLOPE {
                continue;
            }
            let (a, b) = (light(x), light(x + REACH));
            let step = b - a;
            let slack = 0.03 * step.abs() + 0.002;
            if step.abs() <= STEP || (light(x + 3) - a).abs() >= slack || (b - light(x + 11)).abs() >= slack {
                continue;
            }
            let steps: [f32; 8] = std::array::from_fn(|t| light(x + 4 + t) - light(x + 3 + t));
            let sum: f32 = steps.iter().sum();
            let mean = steps.iter().zip(0_u8..).map(|(d, t)| d * f32::from(t)).sum::<f32>() / sum;
            let spread = |(d, t): (&f32, u8)| d * (f32::from(t) - mean) * (f32::from(t) - mean);
            let variance = steps.iter().zip(0_u8..).map(spread).sum::<f32>() / sum;
            if mean > 2.6 && mean < 4.4 && variance > 0.1 {
                variances.push(variance);
            }
        }
    }
    if variances.len() < ENOUGH {
        return None;
    }
    variances.sort_by(f32::total_cmp);
    Some((variances[variances.len() / 4] - PIXEL).max(0.2).sqrt().clamp(RANGE[0], RANGE[1]))
}
