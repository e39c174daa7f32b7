//! Errors of alpha alone (Rhemann et al. 2009). Planes are row by row, 0..1; `valid` pixels count, the others do not.

use crate::render::components::regions;

/// Sum of absolute differences, in thousands of pixels.
#[must_use]
pub fn sad(alpha: &[f32], truth: &[f32], valid: &[bool]) -> f64 {
    counted(alpha, truth, valid).map(|(a, t)| f64::from((a - t).abs())).sum::<f64>() / 1000.0
}

/// Mean squared difference, times 1000.
#[must_use]
pub fn mse(alpha: &[f32], truth: &[f32], valid: &[bool]) -> f64 {
    let count = valid.iter().filter(|v| **v).count().max(1);
    1000.0 * counted(alpha, truth, valid).map(|(a, t)| f64::from((a - t) * (a - t))).sum::<f64>() / count as f64
}

fn counted<'a>(alpha: &'a [f32], truth: &'a [f32], valid: &'a [bool]) -> impl Iterator<Item = (f32, f32)> + 'a {
    alpha.iter().zip(truth).zip(valid).filter(|(_, v)| **v).map(|((&a, &t), _)| (a, t))
}

/// Gradient error: squared difference of the gradients' lengths, summed, in thousands. Gradients by derivatives of a
/// Gaussian of sigma 1.4, normalized to unit energy.
#[must_use]
pub fn gradient(alpha: &[f32], truth: &[f32], valid: &[bool], width: usize, height: usize) -> f64 {
    let (one, two) = (slopes(alpha, width, height), slopes(truth, width, height));
    let square = |i: usize| f64::from((one[i] - two[i]) * (one[i] - two[i]));
    (0..valid.len()).filter(|&i| valid[i]).map(square).sum::<f64>() / 1000.0
}

fn slopes(plane: &[f32], width: usize, height: usize) -> Vec<f32> {
    const SIGMA: f32 = 1.4;
    // Out to where the Gaussian's density falls to 0.01 of its scale.
    let reach = (SIGMA * (-2.0 * libm::logf((2.0 * std::f32::consts::PI).sqrt() * SIGMA * 0.01)).sqrt()).ceil() as isize;
    let smooth: Vec<f32> = (-reach..=reach)
        .map(|t| libm::expf(-((t * t) as f32) / (2.0 * SIGMA * SIGMA)) / (SIGMA * (2.0 * std::f32::consts::PI).sqrt()))
        .collect();
    let slope: Vec<f32> = smooth.iter().zip(-reach..=reach).map(|(g, t)| -(t as f32) * g / (SIGMA * SIGMA)).collect();
    let power = |k: &[f32]| k.iter().map(|v| v * v).sum::<f32>();
    let unit = 1.0 / (power(&smooth) * power(&slope)).sqrt();
    let across = filtered(plane, width, height, &slope, &smooth);
    let down = filtered(plane, width, height, &smooth, &slope);
    across.iter().zip(&down).map(|(a, d)| unit * (a * a + d * d).sqrt()).collect()
}

/// Correlates rows with one kernel and columns with another; edges repeat.
fn filtered(plane: &[f32], width: usize, height: usize, along: &[f32], down: &[f32]) -> Vec<f32> {
    let reach = along.len() / 2;
    let near = |at: usize, k: usize, end: usize| (at + k).saturating_sub(reach).min(end - 1);
    let mut rows = vec![0.0_f32; plane.len()];
    for (line, out) in plane.chunks_exact(width).zip(rows.chunks_exact_mut(width)) {
        for (x, v) in out.iter_mut().enumerate() {
            *v = along.iter().enumerate().map(|(k, w)| w * line[near(x, k, width)]).sum();
        }
    }
    let mut out = vec![0.0_f32; plane.len()];
    for (y, line) in out.chunks_exact_mut(width).enumerate() {
        for (k, w) in down.iter().enumerate() {
            let from = near(y, k, height) * width;
            line.iter_mut().zip(&rows[from..from + width]).for_each(|(v, r)| *v += w * r);
        }
    }
    out
}

/// Connectivity error (theta 0.15, p = 1, ten levels), in thousands: how far each pixel's alpha stands above the level at which it
/// is still joined to the largest region that is opaque in both.
#[must_use]
pub fn connectivity(alpha: &[f32], truth: &[f32], valid: &[bool], width: usize, height: usize) -> f64 {
    let mut joined = vec![f32::NAN; alpha.len()];
    for step in 1..=10_u8 {
        let (level, below) = (f32::from(step) / 10.0, f32::from(step - 1) / 10.0);
        let both: Vec<bool> = alpha.iter().zip(truth).map(|(&a, &t)| a >= level && t >= level).collect();
        let (number, found) = regions(&both, width, height, false);
        // The first of the largest.
        let mut largest = (0, u32::MAX);
        for (k, region) in found.iter().enumerate() {
            if region.area > largest.0 {
                largest = (region.area, k as u32 + 1);
            }
        }
        for (j, &n) in joined.iter_mut().zip(&number) {
            if j.is_nan() && n != largest.1 {
                *j = below;
            }
        }
    }
    let phi = |v: f32, level: f32| {
        let above = v - level;
        1.0 - if above >= 0.15 { above } else { 0.0 }
    };
    let error = |i: usize| {
        let level = if joined[i].is_nan() { 1.0 } else { joined[i] };
        f64::from((phi(alpha[i], level) - phi(truth[i], level)).abs())
    };
    (0..valid.len()).filter(|&i| valid[i]).map(error).sum::<f64>() / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [bool; 64] = [true; 64];

    #[test]
    fn sums_and_means() {
        let (mut alpha, truth) = ([0.0_f32; 64], [0.0_f32; 64]);
        alpha[9] = 1.0;
        alpha[10] = 0.5;
        assert!((sad(&alpha, &truth, &ALL) - 0.0015).abs() < 1e-12);
        assert!((mse(&alpha, &truth, &ALL) - 1250.0 / 64.0).abs() < 1e-9);
        let mut some = ALL;
        some[9] = false;
        assert!((sad(&alpha, &truth, &some) - 0.0005).abs() < 1e-12);
    }

    #[test]
    fn a_loose_speck_is_not_connected() {
        // A block opaque in both, and a speck opaque in the result alone.
        let mut truth = [0.0_f32; 64];
        for y in 0..4 {
            truth[y * 8..y * 8 + 4].fill(1.0);
        }
        let mut alpha = truth;
        assert_eq!(connectivity(&alpha, &truth, &ALL, 8, 8), 0.0);
        alpha[63] = 1.0;
        assert!((connectivity(&alpha, &truth, &ALL, 8, 8) - 0.001).abs() < 1e-9);
    }

    #[test]
    fn a_soft_edge_for_a_hard_one_is_a_gradient_error() {
        let hard: Vec<f32> = (0..64).map(|i| if i % 8 < 4 { 0.0 } else { 1.0 }).collect();
        let soft: Vec<f32> = (0..64).map(|i| (i % 8) as f32 / 7.0).collect();
        assert_eq!(gradient(&hard, &hard, &ALL, 8, 8), 0.0);
        assert!(gradient(&soft, &hard, &ALL, 8, 8) > 0.0);
        assert!(gradient(&[0.3; 64], &[0.7; 64], &ALL, 8, 8) < 1e-9, "flat planes have no gradient, at the border either");
    }
}
