//! Antialiased brush and pen strokes of varying width.

use super::outline::{Outline, apart};
use super::patch::{Frame, Patch};

/// A stroke: a curve, and its width in pixels along it (spread evenly over the curve's length).
#[derive(Clone, Debug)]
pub struct Stroke {
    /// The middle of the stroke.
    pub path: Outline,
    /// Widths from start to end; at least one.
    pub widths: Vec<f32>,
}

/// What a stroke covers, and for each pixel where along (0..1) and how far aside (-1..1 of half the width) it lies.
pub struct Covered {
    /// Coverage.
    pub cover: Patch,
    /// Share of the way along.
    pub along: Patch,
    /// Sideways, in half widths.
    pub aside: Patch,
}

impl Stroke {
    /// A stroke of widths along a curve.
    #[must_use]
    pub fn new(path: Outline, widths: &[f32]) -> Self {
        Self { path, widths: widths.to_vec() }
    }

    fn width_at(&self, share: f32) -> f32 {
        let last = self.widths.len() - 1;
        let at = share.clamp(0.0, 1.0) * last as f32;
        let i = (at as usize).min(last.saturating_sub(1));
        let next = self.widths[(i + 1).min(last)];
        self.widths[i] + (next - self.widths[i]) * (at - i as f32)
    }

    /// What it covers, or `None` off the sheet.
    #[must_use]
    pub fn cover(&self, sheet: [usize; 2]) -> Option<Covered> {
        let widest = self.widths.iter().fold(0.0_f32, |a, &b| a.max(b));
        let frame = Frame::around(self.path.iter(), widest * 0.5 + 4.0, sheet)?;
        let length: f32 = self.path.windows(2).map(|p| apart(p[0], p[1])).sum::<f32>().max(1e-6);
        let [mut cover, mut along, mut aside] = [(); 3].map(|()| Patch::flat(frame, 0.0));
        let mut walked = 0.0;
        for pair in self.path.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let long = apart(a, b);
            if long < 1e-6 {
                continue;
            }
            let (share, step) = (walked / length, long / length);
            let (r1, r2) = (0.5 * self.width_at(share), 0.5 * self.width_at(share + step));
            walked += long;
            let reach = r1.max(r2) + 1.0;
            let Some(near) = Frame::around(pair.iter(), reach, sheet) else { continue };
            let (dx, dy) = ((b[0] - a[0]) / long, (b[1] - a[1]) / long);
            for y in near.y..near.y + near.height {
                for x in near.x..near.x + near.width {
                    let (px, py) = (x as f32 + 0.5 - a[0], y as f32 + 0.5 - a[1]);
                    let on = (px * dx + py * dy).clamp(0.0, long);
                    let (ex, ey) = (px - on * dx, py - on * dy);
                    let away = (ex * ex + ey * ey).sqrt();
                    let t = on / long;
                    let radius = r1 + (r2 - r1) * t;
                    // A band of width 2r seen through a pixel-wide window: right for thick and for hair-thin strokes.
                    let part = (radius - away + 0.5).clamp(0.0, 1.0) - (-radius - away + 0.5).clamp(0.0, 1.0);
                    let i = (y - frame.y) * frame.width + x - frame.x;
                    if part > cover.values[i] {
                        cover.values[i] = part;
                        along.values[i] = share + step * t;
                        let side = px * -dy + py * dx;
                        aside.values[i] = side / radius.max(0.5);
                    }
                }
            }
        }
        Some(Covered { cover, along, aside })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_covers_length_times_width() {
        for width in [0.4_f32, 1.0, 3.0, 8.0] {
            let stroke = Stroke::new(vec![[20.3, 15.2], [90.1, 62.7]], &[width]);
            let area: f32 = stroke.cover([128, 128]).expect("on the sheet").cover.values.iter().sum();
            let expected = apart([20.3, 15.2], [90.1, 62.7]) * width + std::f32::consts::PI * width * width * 0.25;
            assert!((area / expected - 1.0).abs() < 0.03, "width {width}: {area} for {expected}");
        }
    }
}
