//! Thin strokes: how much of a line's or a dot's contrast the scanner's blur has taken.
//!
//! A line of width `w` blurred by `s` keeps `erf(w / (2 sqrt(2) s))` of its contrast at the ridge, a dot of radius `r`
//! keeps `1 - exp(-r^2 / (2 s^2))` (integrals of the Gaussian). Blurring once more and comparing the two peaks gives
//! the width, and so what is missing.

use crate::color::math;

/// The second blur, in pixels.
pub const SECOND: f32 = 2.0;

/// From the ratio of two blurs' peaks to the share of contrast that is left.
#[derive(Clone, Debug)]
pub struct Thinness {
    line: Vec<(f32, f32)>,
    dot: Vec<(f32, f32)>,
}

impl Thinness {
    /// For a scan blurred by `sigma` pixels and smoothed by `first` more before the peak is read.
    #[must_use]
    pub fn new(sigma: f32, first: f32) -> Self {
        let narrow = math::hypotf(sigma, first);
        let broad = math::hypotf(sigma, SECOND);
        let line = (0..200)
            .map(|i| {
                let width = 0.25 + 0.04 * i as f32;
                let peak = |s: f32| math::erff(width / (2.0 * std::f32::consts::SQRT_2 * s));
                (peak(broad) / peak(narrow), peak(narrow))
            })
            .collect();
        let dot = (0..200)
            .map(|i| {
                let radius = 0.4 + 0.03 * i as f32;
                let peak = |s: f32| 1.0 - math::expf(-radius * radius / (2.0 * s * s));
                (peak(broad) / peak(narrow), peak(narrow))
            })
            .collect();
        Self { line, dot }
    }

    /// The share of contrast left at a line's ridge or a dot's middle, 0.3..1, for the ratio of the broad peak to the narrow
    /// one.
    #[must_use]
    pub fn share_left(&self, ratio: f32, dot: bool) -> f32 {
        let table = if dot { &self.dot } else { &self.line };
        let i = table.partition_point(|(r, _)| *r < ratio);
        let share = match i {
            0 => table[0].1,
            i if i == table.len() => 1.0,
            i => {
                let ((r0, s0), (r1, s1)) = (table[i - 1], table[i]);
                s0 + (s1 - s0) * (ratio - r0) / (r1 - r0).max(1e-6)
            }
        };
        share.clamp(0.3, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lines drawn and blurred numerically: the share is found from the two peaks alone.
    #[test]
    fn widths_are_told_from_two_blurs() {
        let (sigma, first) = (0.8_f32, 0.5_f32);
        let thinness = Thinness::new(sigma, first);
        for width in [0.8_f32, 1.5, 2.5, 4.0] {
            let peak = |s: f32| {
                let n = 4000;
                let step = width / n as f32;
                (0..n)
                    .map(|i| {
                        let x = -width / 2.0 + (i as f32 + 0.5) * step;
                        math::expf(-x * x / (2.0 * s * s)) * step
                    })
                    .sum::<f32>()
                    / (s * (2.0 * std::f32::consts::PI).sqrt())
            };
            let narrow = peak(math::hypotf(sigma, first));
            let ratio = peak(math::hypotf(sigma, SECOND)) / narrow;
            assert!(
                (thinness.share_left(ratio, false) - narrow).abs() < 0.02,
                "{width}: {} for {narrow}",
                thinness.share_left(ratio, false)
            );
        }
    }

    /// Disks drawn and blurred numerically, ring by ring: told from two blurs too.
    #[test]
    fn radii_are_told_from_two_blurs() {
        let (sigma, first) = (0.8_f32, 0.5_f32);
        let thinness = Thinness::new(sigma, first);
        for radius in [0.8_f32, 1.2, 2.0, 3.0] {
            let middle = |s: f32| {
                let n = 4000;
                let step = radius / n as f32;
                (0..n)
                    .map(|i| {
                        let r = (i as f32 + 0.5) * step;
                        r * math::expf(-r * r / (2.0 * s * s)) * step / (s * s)
                    })
                    .sum::<f32>()
            };
            let narrow = middle(math::hypotf(sigma, first));
            let ratio = middle(math::hypotf(sigma, SECOND)) / narrow;
            assert!((thinness.share_left(ratio, true) - narrow).abs() < 0.02, "{radius}: {}", thinness.share_left(ratio, true));
        }
    }
}
