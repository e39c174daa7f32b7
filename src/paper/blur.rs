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
    let (w, h) = (sheet.width(), sheet.height());
    if w <= REACH + 1 {
        return TYPICAL;
    }
    let mut line = [vec![0.0; w], vec![0.0; w], vec![0.0; w]];
    let mut light = vec![0.0_f32; w];
    let mut variances = Vec::new();
    let curves = Curves::get();
    // A few hundred rows hold thousands of edges.
    for y in (0..h).step_by((h / 500).max(1)) {
        let [r, g, b] = &mut line;
        sheet.row(y, r, g, b);
        for (x, v) in light.iter_mut().enumerate() {
            *v = (curves.linear(r[x]) + curves.linear(g[x]) + curves.linear(b[x])) / 3.0;
        }
        for x in 0..w - REACH {
            let (a, b) = (light[x], light[x + REACH]);
            let step = b - a;
            let slack = 0.03 * step.abs() + 0.002;
            if step.abs() <= 0.2 || (light[x + 3] - a).abs() >= slack || (b - light[x + 11]).abs() >= slack {
                continue;
            }
            let (mut sum, mut mean) = (0.0, 0.0);
            for t in 0..8 {
                let d = light[x + 4 + t] - light[x + 3 + t];
                sum += d;
                mean += d * t as f32;
            }
            mean /= sum;
            let mut variance = 0.0;
            for t in 0..8 {
                let d = light[x + 4 + t] - light[x + 3 + t];
                variance += d * (t as f32 - mean) * (t as f32 - mean);
            }
            variance /= sum;
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
