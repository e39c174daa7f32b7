//! A stroke's own color, from the pixels around that show it least mixed with paper.

use crate::color::math::max;
use crate::filter::vector::{difference, dot, length};

/// No more pixels are taken: every other of the window, if there are plenty.
const MOST: usize = 40;
/// Contrast grows towards an outline by no more than this.
const GAIN: f32 = 1.3;
/// Variance of depth, in square pixels, below which little can be said about how contrast changes with it.
const SHALLOW: f32 = 0.15;

/// The core pixels around a pixel, channel by channel, so that several are weighed at once.
pub(super) struct Cores {
    count: usize,
    own: [[f32; MOST]; 3],
    weight: [f32; MOST],
    /// How deep each lies in its stroke, in pixels from the outline.
    depth: [f32; MOST],
    deepest: f32,
    /// Whether one of them is of a thin stroke, which has no depth.
    thin: bool,
}

impl Default for Cores {
    fn default() -> Self {
        Self { count: 0, own: [[0.0; MOST]; 3], weight: [0.0; MOST], depth: [0.0; MOST], deepest: 0.0, thin: false }
    }
}

/// Pixels weighed at once.
const LANES: usize = 4;

impl Cores {
    /// Forgets all pixels.
    pub(super) fn clear(&mut self) {
        self.count = 0;
        self.deepest = 0.0;
        self.thin = false;
    }

    /// Adds one: its color without paper, what it counts for, how deep it lies, `None` in a thin stroke.
    pub(super) fn add(&mut self, own: [f32; 3], weight: f32, depth: Option<f32>) {
        (0..3).for_each(|c| self.own[c][self.count] = own[c]);
        self.weight[self.count] = weight;
        self.depth[self.count] = depth.unwrap_or_default();
        self.deepest = max(self.deepest, self.depth[self.count]);
        self.thin |= depth.is_none();
        self.count += 1;
    }

    /// How deep the deepest of them lies in its stroke, in pixels; 0 in thin strokes.
    pub(super) fn deepest(&self) -> f32 {
        self.deepest
    }

    /// Those whose line from the paper a residual lies on.
    pub(super) fn along(&mut self, paper: [f32; 3], residual: [f32; 3]) -> Stroke {
        // How far off the line from paper to a stroke's color a pixel of that stroke may lie.
        let slack = 0.018 + 0.10 * length(residual);
        let sharp = 0.5 / (slack * slack);
        // A few too many that count for nothing, so that whole vectors are left.
        let count = self.count.next_multiple_of(LANES);
        self.weight[self.count..count].fill(0.0);
        let [red, green, blue] = self.own.each_ref().map(|channel| &channel[..count]);
        for (((weight, r), g), b) in self.weight[..count].iter_mut().zip(red).zip(green).zip(blue) {
            let toward = [r - paper[0], g - paper[1], b - paper[2]];
            let square = dot(toward, toward) + 1e-6;
            let t = dot(residual, toward) / square;
            let off = [0, 1, 2].map(|c| residual[c] - t * toward[c]);
            let u = dot(off, off) * sharp;
            // The first terms of the series of e^u: a Gaussian's shape without its cost.
            let near = *weight / (1.0 + u * (1.0 + u * (0.5 + u * (1.0 / 6.0))));
            *weight = if t < 1.25 { near } else { 0.0 };
        }
        let mut sums = [[0.0; LANES]; 9];
        for i in (0..count).step_by(LANES) {
            for lane in 0..LANES {
                let at = i + lane;
                let (weight, depth) = (self.weight[at], self.depth[at]);
                let [r, g, b] = [red[at], green[at], blue[at]];
                let deep = weight * depth;
                let each = [weight, weight * r, weight * g, weight * b, deep, deep * depth, deep * r, deep * g, deep * b];
                (0..9).for_each(|k| sums[k][lane] += each[k]);
            }
        }
        let [total, r, g, b, depth, depth_square, deep_r, deep_g, deep_b] = sums.map(|sum| (sum[0] + sum[1]) + (sum[2] + sum[3]));
        let mean = 1.0 / max(total, f32::MIN_POSITIVE);
        Stroke {
            weight: total,
            own: [r, g, b].map(|v| v * mean),
            depth: depth * mean,
            depth_square: depth_square * mean,
            deep: [deep_r, deep_g, deep_b].map(|v| v * mean),
            thin: self.thin,
        }
    }
}

/// The weighted means of the pixels of one stroke.
pub(super) struct Stroke {
    /// What they count for in all.
    pub(super) weight: f32,
    /// Of their color.
    pub(super) own: [f32; 3],
    /// Of their depth, its square, and its product with the color.
    depth: f32,
    depth_square: f32,
    deep: [f32; 3],
    thin: bool,
}

impl Stroke {
    /// How much stronger the paint is at a depth than their mean color, which lies `toward` off the paper, 1..[`GAIN`]: a wet rim
    /// is strongest at its outermost, where the blur hides it, and so the straight line through what they show is carried on
    /// (least squares).
    pub(super) fn gain(&self, toward: [f32; 3], depth: f32) -> f32 {
        if self.thin {
            return 1.0;
        }
        let spread = difference(self.deep, self.own.map(|own| own * self.depth));
        let slope =
            dot(spread, toward) / max(dot(toward, toward), 1e-6) / (self.depth_square - self.depth * self.depth + SHALLOW);
        (1.0 + slope * (depth - self.depth)).clamp(1.0, GAIN)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAPER: [f32; 3] = [0.93, 0.92, 0.88];

    /// Cores at depths of half a pixel to three and a half, and of the given strengths on the way from paper to blue.
    fn cores(strength: impl Fn(f32) -> f32) -> Cores {
        let mut cores = Cores::default();
        for i in 0..28 {
            let depth = 0.5 + (i % 4) as f32;
            let s = strength(depth);
            let own = [PAPER[0] - 0.6 * s, PAPER[1] - 0.4 * s, PAPER[2] - 0.1 * s];
            cores.add(own, 1.0, Some(depth));
        }
        cores
    }

    fn gain(mut cores: Cores, depth: f32) -> f32 {
        let stroke = cores.along(PAPER, [-0.3, -0.2, -0.05]);
        assert!(stroke.weight > 20.0);
        stroke.gain(difference(stroke.own, PAPER), depth)
    }

    #[test]
    fn a_rim_is_carried_on_to_the_outline() {
        // Strength 1 at depth 2, a tenth more a pixel farther out: 1.2 at the outline, less what few depths are held back by.
        let rim = gain(cores(|depth| 1.2 - 0.1 * depth), 0.0);
        assert!((1.17..=1.2).contains(&rim), "{rim}");
        assert!((gain(cores(|depth| 1.2 - 0.1 * depth), 2.0) - 1.0).abs() < 1e-3, "the mean at its own depth");
    }

    #[test]
    fn flat_paint_and_paint_that_thins_out_gain_nothing() {
        assert!((gain(cores(|_| 1.0), 0.0) - 1.0).abs() < 1e-4);
        assert!((gain(cores(|depth| 0.8 + 0.1 * depth), 0.0) - 1.0).abs() < 1e-4);
        assert!((gain(cores(|depth| 2.0 - 0.5 * depth), 0.0) - GAIN).abs() < 1e-4, "no more than the most");
    }

    #[test]
    fn thin_strokes_have_no_depth() {
        let mut cores = cores(|depth| 1.2 - 0.1 * depth);
        cores.add([0.3, 0.5, 0.8], 1.0, None);
        assert!((gain(cores, 0.0) - 1.0).abs() < f32::EPSILON);
    }
}
