//! Smooth random fields.

use super::patch::{Frame, Patch};
use crate::random::Random;

/// Mean square of a cubic B-spline's weights in one direction; the field's variance is its square.
const WEIGHT_POWER: f32 = 151.0 / 315.0;

/// The four cubic B-spline weights at a fraction of a step.
fn weights(t: f32) -> [f32; 4] {
    let s = 1.0 - t;
    let (t2, s2) = (t * t, s * s);
    let inner = |u2: f32, u: f32| 4.0 / 6.0 - u2 + 0.5 * u2 * u;
    [s2 * s / 6.0, inner(t2, t), inner(s2, s), t2 * t / 6.0]
}

/// Smooth noise over `width * height` pixels: mean 0, variance 1, grain about `scale` pixels. White noise on a lattice of
/// spacing `scale / 2` (at least 1 px), interpolated by cubic B-splines.
#[must_use]
pub fn field(random: &mut Random, width: usize, height: usize, scale: f32) -> Vec<f32> {
    let step = (scale * 0.5).max(1.0);
    let across = (width as f32 / step) as usize + 5;
    let places: Vec<(usize, [f32; 4])> = (0..width)
        .map(|x| {
            let at = x as f32 / step;
            (at as usize, weights(at - at.floor()))
        })
        .collect();
    let mut white = vec![0.0; across + 3];
    let mut expand = |random: &mut Random, row: &mut Vec<f32>| {
        for four in white.chunks_exact_mut(4) {
            four.copy_from_slice(&random.normals());
        }
        row.clear();
        row.extend(
            places.iter().map(|&(i, w)| w[0] * white[i] + w[1] * white[i + 1] + w[2] * white[i + 2] + w[3] * white[i + 3]),
        );
    };
    let mut rows: [Vec<f32>; 4] = Default::default();
    for row in &mut rows {
        expand(random, row);
    }
    let mut out = Vec::with_capacity(width * height);
    let mut top = 0;
    for y in 0..height {
        let at = y as f32 / step;
        while top < at as usize {
            rows.rotate_left(1);
            expand(random, &mut rows[3]);
            top += 1;
        }
        let w = weights(at - at.floor()).map(|v| v / WEIGHT_POWER);
        let [a, b, c, d] = &rows;
        out.extend((0..width).map(|x| w[0] * a[x] + w[1] * b[x] + w[2] * c[x] + w[3] * d[x]));
    }
    out
}

/// Smooth noise over a frame.
#[must_use]
pub fn patch(random: &mut Random, frame: Frame, scale: f32) -> Patch {
    Patch { frame, values: field(random, frame.width, frame.height, scale) }
}

/// Noise of several grains at once, each octave half the size and a share of the strength of the one before; variance 1.
#[must_use]
pub fn octaves(random: &mut Random, frame: Frame, scale: f32, count: usize, share: f32) -> Patch {
    let mut sum = Patch::flat(frame, 0.0);
    let (mut power, mut strength, mut grain) = (0.0, 1.0, scale);
    for _ in 0..count {
        for (s, v) in sum.values.iter_mut().zip(field(random, frame.width, frame.height, grain)) {
            *s += strength * v;
        }
        power += strength * strength;
        strength *= share;
        grain *= 0.5;
    }
    let scale = 1.0 / power.sqrt();
    sum.map(|v| v * scale)
}

/// A wandering value for formulas: smooth, within about -1..1, at any place.
#[derive(Clone, Copy, Debug)]
pub struct Wander {
    seed: u64,
    scale: f32,
}

impl Wander {
    /// Grain of about `scale` units of the place asked for.
    #[must_use]
    pub fn new(seed: u64, scale: f32) -> Self {
        Self { seed, scale: 1.0 / scale }
    }

    fn corner(self, x: i32, y: i32) -> f32 {
        let mut h = self.seed ^ (x as u32 as u64) << 32 ^ u64::from(y as u32);
        h = (h ^ (h >> 31)).wrapping_mul(0x7fb5_d329_728e_a185);
        h = (h ^ (h >> 27)).wrapping_mul(0x81da_def4_bc2d_d44d);
        ((h >> 40) as f32) * (2.0 / 16_777_216.0) - 1.0
    }

    /// The value at a place: three lattices, turned against each other, so that no grid shows.
    #[must_use]
    pub fn at(self, x: f32, y: f32) -> f32 {
        let (x, y) = (x * self.scale, y * self.scale);
        let (u, v) = (0.8 * x - 0.6 * y, 0.6 * x + 0.8 * y);
        let (s, t) = (1.9 * (0.28 * x + 0.96 * y), 1.9 * (0.28 * y - 0.96 * x));
        0.66 * (self.lattice(x, y) + self.lattice(u + 17.3, v + 5.1)) + 0.30 * self.lattice(s + 41.7, t + 9.2)
    }

    fn lattice(self, x: f32, y: f32) -> f32 {
        let (i, j) = (x.floor(), y.floor());
        let ease = |t: f32| t * t * t * (t * (t * 6.0 - 15.0) + 10.0);
        let (u, v) = (ease(x - i), ease(y - j));
        let (i, j) = (i as i32, j as i32);
        let top = self.corner(i, j) * (1.0 - u) + self.corner(i + 1, j) * u;
        let bottom = self.corner(i, j + 1) * (1.0 - u) + self.corner(i + 1, j + 1) * u;
        top * (1.0 - v) + bottom * v
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn variance_is_1_at_every_grain() {
        for scale in [1.0, 4.0, 15.0] {
            let v = field(&mut Random::new(1), 700, 700, scale);
            let n = v.len() as f64;
            let mean = v.iter().map(|&x| f64::from(x)).sum::<f64>() / n;
            let variance = v.iter().map(|&x| (f64::from(x) - mean) * (f64::from(x) - mean)).sum::<f64>() / n;
            assert!(mean.abs() < 0.08 && (variance - 1.0).abs() < 0.12, "grain {scale}: mean {mean}, variance {variance}");
        }
    }
}
