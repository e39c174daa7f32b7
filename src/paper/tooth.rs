//! The tooth: how bare paper varies, as a covariance of its color at one scale.
//!
//! Tooth is nearly all lightness and paint is mostly color, so distance from the paper is measured in units of the
//! paper's own spread in each direction (Mahalanobis distance).

use crate::color::math::max;
use crate::filter::linear;
use crate::filter::order::median;
use crate::filter::vector::{dot, length};

/// A tooth is never trusted to be smoother than this, encoded: half a count of 8 bits, and what a scan's noise leaves.
const FLOOR: f64 = 0.0022;

/// Lightness, red against green, and yellow against blue: at right angles, of unit length.
const AXES: [[f32; 3]; 3] = {
    let (third, half, sixth) = (0.577_350_26, std::f32::consts::FRAC_1_SQRT_2, 0.408_248_3);
    [[third, third, third], [half, -half, 0.0], [sixth, sixth, -2.0 * sixth]]
};

/// Samples beyond this many deviations are no bare paper.
const REACH: f32 = 4.0;

/// Mean and covariance of bare paper's residual at one scale, kept as the matrix that whitens it.
#[derive(Clone, Debug, PartialEq)]
pub struct Tooth {
    mean: [f32; 3],
    /// Lower triangular: the inverse of the covariance's Cholesky factor.
    whiten: [[f32; 3]; 3],
    covariance: [[f32; 3]; 3],
    /// Standard deviation along the direction in which it varies most of all, if there is one.
    mostly: Option<f32>,
}

impl Tooth {
    /// From residuals of bare paper. Outliers (dust, the foot of a stroke) are left out by the median absolute
    /// deviation of each channel. `smoothing` is how far the scale averages noise down (1: not at all).
    #[must_use]
    pub fn measure(samples: &[[f32; 3]], smoothing: f32) -> Self {
        let floor = FLOOR / f64::from(smoothing.max(1.0));
        // Along lightness and two directions across it: a pale wash is far off in color while well within what tooth does
        // to lightness, and must not pass for spread of the paper.
        let mut middle = [0.0_f32; 3];
        let mut spread = [0.0_f64; 3];
        let mut values: Vec<f32> = Vec::with_capacity(samples.len());
        for (k, axis) in AXES.iter().enumerate() {
            values.clear();
            values.extend(samples.iter().map(|s| dot(*s, *axis)));
            let center = median(&mut values);
            values.iter_mut().for_each(|v| *v = (*v - center).abs());
            spread[k] = f64::from(1.4826 * median(&mut values) + 2e-4);
            (0..3).for_each(|c| middle[c] += center * axis[c]);
        }
        let mut tooth = Self::of_deviations(middle, spread);
        // Each further look keeps what lies within the last one's reach, so that a spread along one direction of color
        // (yellowing) is taken in whole.
        for _ in 0..3 {
            let kept: Vec<&[f32; 3]> = samples.iter().filter(|s| tooth.distance_squared(**s) < REACH * REACH).collect();
            tooth = Self::of_samples(middle, &kept, floor);
        }
        tooth
    }

    /// From a mean and standard deviations along [`AXES`].
    fn of_deviations(mean: [f32; 3], deviation: [f64; 3]) -> Self {
        let mut covariance = [[0.0; 3]; 3];
        for (axis, deviation) in AXES.iter().zip(deviation) {
            for i in 0..3 {
                for j in 0..3 {
                    covariance[i][j] += deviation * deviation * f64::from(axis[i]) * f64::from(axis[j]);
                }
            }
        }
        Self::of_covariance(mean, &covariance)
    }

    /// From samples that are bare paper.
    fn of_samples(mean: [f32; 3], samples: &[&[f32; 3]], floor: f64) -> Self {
        let mut sum = [[0.0_f64; 3]; 3];
        for s in samples {
            let off = [0, 1, 2].map(|c| f64::from(s[c] - mean[c]));
            for i in 0..3 {
                (0..=i).for_each(|j| sum[i][j] += off[i] * off[j]);
            }
        }
        for i in 0..3 {
            for j in 0..=i {
                // A tenth more for what the cut leaves out.
                sum[i][j] = 1.1 * sum[i][j] / samples.len().max(1) as f64 + if i == j { floor * floor } else { 0.0 };
            }
        }
        Self::of_covariance(mean, &sum)
    }

    /// From the lower half of a covariance.
    fn of_covariance(mean: [f32; 3], lower: &[[f64; 3]; 3]) -> Self {
        let factor = linear::cholesky(lower).unwrap_or([[FLOOR, 0.0, 0.0], [0.0, FLOOR, 0.0], [0.0, 0.0, FLOOR]]);
        let mut covariance = [[0.0; 3]; 3];
        for i in 0..3 {
            for j in 0..3 {
                covariance[i][j] = lower[i.max(j)][i.min(j)] as f32;
            }
        }
        let whiten = linear::invert_lower(&factor).map(|row| row.map(|v| v as f32));
        Self { mean, whiten, covariance, mostly: main_deviation(&covariance) }
    }

    /// How many standard deviations of bare paper a residual lies off it, squared.
    #[must_use]
    #[inline]
    pub fn distance_squared(&self, residual: [f32; 3]) -> f32 {
        let [r, g, b] = [residual[0] - self.mean[0], residual[1] - self.mean[1], residual[2] - self.mean[2]];
        let m = &self.whiten;
        let x = m[0][0] * r;
        let y = m[1][0] * r + m[1][1] * g;
        let z = m[2][0] * r + m[2][1] * g + m[2][2] * b;
        x * x + y * y + z * z
    }

    /// [`Tooth::distance_squared`] for a row of three planes.
    pub fn distances_squared(&self, residual: [&[f32]; 3], out: &mut [f32]) {
        let n = out.len();
        let (red, green, blue) = (&residual[0][..n], &residual[1][..n], &residual[2][..n]);
        for (((out, r), g), b) in out.iter_mut().zip(red).zip(green).zip(blue) {
            *out = self.distance_squared([*r, *g, *b]);
        }
    }

    /// What measures residuals along a direction of color: the dot product with it, of what lies off the mean, is in standard
    /// deviations of bare paper. Of all directions to measure along, this one tells best what has the given color.
    #[must_use]
    pub fn matched(&self, color: [f32; 3]) -> [f32; 3] {
        let m = &self.whiten;
        let white = [0, 1, 2].map(|i| dot(m[i], color));
        let size = max(length(white), f32::MIN_POSITIVE);
        [0, 1, 2].map(|j| (m[0][j] * white[0] + m[1][j] * white[1] + m[2][j] * white[2]) / size)
    }

    /// The mean residual of bare paper.
    #[must_use]
    pub fn mean(&self) -> [f32; 3] {
        self.mean
    }

    /// Whether bare paper varies in one direction of color most of all, and this color lies in it: yellowing and shade, where the
    /// paper has them, and its tooth.
    #[must_use]
    pub fn varies_along(&self, color: [f32; 3]) -> bool {
        /// A color in that direction stands out no more than so many times better than the direction itself.
        const BETTER: f32 = 1.12;
        self.mostly.is_some_and(|deviation| dot(color, self.matched(color)) * deviation < BETTER * length(color))
    }

    /// The same paper with deviations so many times as large.
    #[must_use]
    pub fn widened(mut self, by: f32) -> Self {
        self.whiten.as_flattened_mut().iter_mut().for_each(|v| *v /= by);
        self.covariance.as_flattened_mut().iter_mut().for_each(|v| *v *= by * by);
        self.mostly = self.mostly.map(|v| v * by);
        self
    }

    /// Variance of bare paper along a direction of color (need not be of unit length).
    #[must_use]
    pub fn variance_along(&self, direction: [f32; 3]) -> f32 {
        let mut sum = 0.0;
        for i in 0..3 {
            for j in 0..3 {
                sum += direction[i] * self.covariance[i][j] * direction[j];
            }
        }
        sum
    }

    /// Standard deviation of bare paper in each channel, encoded 0..1.
    #[must_use]
    pub fn deviation(&self) -> [f32; 3] {
        [0, 1, 2].map(|c| self.covariance[c][c].sqrt())
    }
}

/// The square root of the largest eigenvalue (by power iteration), if it is far from the others.
fn main_deviation(covariance: &[[f32; 3]; 3]) -> Option<f32> {
    /// Far more than three directions need.
    const ROUNDS: usize = 32;
    /// So many times the mean variance of all directions; three, were there no other.
    const ALONE: f32 = 1.4;
    let along = |direction: [f32; 3]| covariance.map(|row| dot(row, direction));
    let mut direction = AXES[0];
    for _ in 0..ROUNDS {
        let turned = along(direction);
        let size = max(length(turned), f32::MIN_POSITIVE);
        direction = turned.map(|v| v / size);
    }
    let largest = dot(direction, along(direction));
    let mean = (0..3).map(|c| covariance[c][c]).sum::<f32>() / 3.0;
    (largest > ALONE * mean).then(|| largest.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Paper that yellows, and varies little in every other color.
    fn yellowing() -> Tooth {
        let samples: Vec<[f32; 3]> = (0..4000_u64)
            .map(|i| {
                let yellow = ((i * 7919) % 4001) as f32 / 4001.0 - 0.5;
                let [r, g, b] = [104_729, 1_299_709, 15_485_863].map(|prime| ((i * prime) % 997) as f32 / 997.0 - 0.5);
                [0.01 * r + 0.01 * yellow, 0.01 * g + 0.02 * yellow, 0.01 * b + 0.06 * yellow]
            })
            .collect();
        Tooth::measure(&samples, 1.0)
    }

    /// Along its own color a residual is as many deviations off as in all directions together, and along no other is it more
    /// (the inequality of Cauchy and Schwarz).
    #[test]
    fn no_direction_tells_a_color_better_than_its_own() {
        let tooth = yellowing();
        let off = [0.01, -0.02, 0.015];
        let along = |color: [f32; 3]| dot(off, tooth.matched(color));
        let mean = tooth.mean();
        let all = tooth.distance_squared([0, 1, 2].map(|c| off[c] + mean[c])).sqrt();
        assert!((along(off) - all).abs() < 1e-3 * all, "{} {all}", along(off));
        for other in [[1.0, 0.0, 0.0], [0.2, -1.0, 0.3], [0.01, -0.02, 0.02], [-0.01, 0.02, -0.015]] {
            assert!(along(other) < all);
        }
    }

    #[test]
    fn paper_varies_along_its_yellowing_and_no_other_hue() {
        let tooth = yellowing();
        assert!(tooth.varies_along([-0.01, -0.02, -0.06]));
        assert!(!tooth.varies_along([0.0, -0.03, -0.01]));
        let flat: Vec<[f32; 3]> =
            (0..4000_u64).map(|i| [104_729, 1_299_709, 15_485_863].map(|p| ((i * p) % 997) as f32 / 99_700.0)).collect();
        assert!(!Tooth::measure(&flat, 1.0).varies_along([-0.01, -0.02, -0.06]), "noise alone has no direction");
    }

    /// Residuals that move in lightness alone: the same shift counts for little in lightness, for much in color.
    #[test]
    fn lightness_is_forgiven_and_color_is_not() {
        let samples: Vec<[f32; 3]> = (0..4000)
            .map(|i| {
                let light = ((i * 7919) % 4001) as f32 / 4001.0 - 0.5;
                let fine = ((i * 104_729) % 997) as f32 / 997.0 - 0.5;
                [0.04 * light, 0.04 * light + 0.002 * fine, 0.04 * light - 0.002 * fine]
            })
            .collect();
        let tooth = Tooth::measure(&samples, 1.0);
        let light = tooth.distance_squared([0.012, 0.012, 0.012]).sqrt();
        let color = tooth.distance_squared([0.0, 0.0, -0.012]).sqrt();
        assert!(light < 2.0 && color > 3.0 && color > 3.0 * light, "{light} {color}");
    }
}
