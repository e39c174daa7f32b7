//! How much the scan is blurred, from the narrow end of its own step edges.

use crate::color::transfer::Curves;
use crate::image::Sheet;

/// Taken where a scan has too few clean edges, in pixels: the middle of what good flatbeds reach (FADGI 2016, MTF50 of
/// 0.20-0.325 cycles a pixel is a sigma of 0.94-0.58).
pub const TYPICAL: f32 = 0.85;

/// Standard deviation of the scan's blur in pixels, 0.5..1.4: the second moment of the derivative across edges that
/// have flat ground on both sides, lower quartile over the sheet, less the variance of a pixel's own width.
#[must_use]
pub fn estimate(sheet: &Sheet) -> f32 {
    const REACH: usize = 14;
    /// The least step in light that counts.
    const STEP: f32 = 0.2;
    let (w, h) = (sheet.width(), sheet.height());
    if w <= REACH + 1 {
        return TYPICAL;
    }
    let mut line = [vec![0.0; w], vec![0.0; w], vec![0.0; w]];
    let mut variances = Vec::new();
    let curves = Curves::get();
    // A few hundred rows hold thousands of edges.
    for y in (0..h).step_by((h / 500).max(1)) {
        let [r, g, b] = &mut line;
        sheet.row(y, r, g, b);
        let light = |x: usize| (curves.linear(r[x]) + curves.linear(g[x]) + curves.linear(b[x])) / 3.0;
        let encoded = |x: usize| (r[x] + g[x] + b[x]) / 3.0;
        for x in 0..w - REACH {
            // Light is worth converting at edges only: it changes less than 2.3 times as much as encoded values.
            if (encoded(x + REACH) - encoded(x)).abs() < STEP / 2.3 {
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
    if variances.len() < 100 {
        return TYPICAL;
    }
    variances.sort_by(f32::total_cmp);
    // 1/12 is the variance of one pixel's own width.
    (variances[variances.len() / 4] - 1.0 / 12.0).max(0.2).sqrt().clamp(0.5, 1.4)
}
