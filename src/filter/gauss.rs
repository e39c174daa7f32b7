//! Gaussian blur by a finite kernel: the same sum in the same order wherever a band begins.

use crate::color::math;
use crate::error::Result;
use crate::image::Plane;

/// The square root of 2 pi: a step that is blurred by a Gaussian of deviation `s` rises by `1 / (ROOT_TWO_PI s)` a pixel at its
/// middle.
pub const ROOT_TWO_PI: f32 = 2.506_628_3;

/// The right half of a normalized Gaussian kernel, center first, cut at 3 sigma (at least one neighbor).
#[must_use]
pub fn kernel(sigma: f32) -> Vec<f32> {
    let radius = ((3.0 * sigma).ceil() as usize).max(1);
    let half: Vec<f32> = (0..=radius).map(|i| math::expf(-0.5 * (i as f32 / sigma) * (i as f32 / sigma))).collect();
    let total = half[0] + 2.0 * half[1..].iter().sum::<f32>();
    half.iter().map(|v| v / total).collect()
}

/// Index of a pixel beyond the border, mirrored back inside (the border pixel itself is not repeated).
#[must_use]
pub fn mirror(i: isize, len: usize) -> usize {
    let last = len as isize - 1;
    if last == 0 {
        return 0;
    }
    let i = i.rem_euclid(2 * last);
    (if i > last { 2 * last - i } else { i }) as usize
}

/// Fills `out` with a row from column `start` on; beyond the row it mirrors.
pub fn mirrored<T: Copy>(row: &[T], start: isize, out: &mut [T]) {
    let (n, len) = (row.len() as isize, out.len() as isize);
    let inside = (-start).clamp(0, len) as usize..(n - start).clamp(0, len) as usize;
    for i in (0..inside.start).chain(inside.end..out.len()) {
        out[i] = row[mirror(start + i as isize, row.len())];
    }
    if !inside.is_empty() {
        let from = (start + inside.start as isize) as usize;
        out[inside.clone()].copy_from_slice(&row[from..from + inside.len()]);
    }
}

/// Blurs one row; borders mirror. `input` and `output` have the same length; `padded` is room for the row and what lies
/// beyond its borders.
pub fn blur_row(input: &[f32], half: &[f32], output: &mut [f32], padded: &mut Vec<f32>) {
    let radius = half.len() - 1;
    padded.resize(input.len() + 2 * radius, 0.0);
    mirrored(input, -(radius as isize), padded);
    blur_inside(padded, half, output);
}

/// Blurs the part of a row that has the kernel's reach to spare on both sides: `output` is shorter by twice that.
pub fn blur_inside(input: &[f32], half: &[f32], output: &mut [f32]) {
    blur_inside_by(1, input, half, output);
}

/// As [`blur_inside`] for a row of interleaved channels, `channels` values a pixel.
pub fn blur_inside_by(channels: usize, input: &[f32], half: &[f32], output: &mut [f32]) {
    let (radius, len) = (half.len() - 1, output.len());
    let shifted = |by: isize| &input[(radius as isize + by) as usize * channels..][..len];
    weighted(half, shifted, output);
}

/// The sum of a symmetric kernel over rows: `row(0)` by its middle, `row(-i)` and `row(i)` by its value at `i`.
fn weighted<'a>(half: &[f32], row: impl Fn(isize) -> &'a [f32], output: &mut [f32]) {
    // The kernels in use are short, and of known length each goes over its rows once. The order of the sum is the same.
    match half.len() {
        3 => weighted_once::<2>(half, row, output),
        4 => weighted_once::<3>(half, row, output),
        5 => weighted_once::<4>(half, row, output),
        7 => weighted_once::<6>(half, row, output),
        _ => {
            for (out, v) in output.iter_mut().zip(row(0)) {
                *out = half[0] * v;
            }
            for (i, w) in half.iter().enumerate().skip(1) {
                let (before, after) = (row(-(i as isize)), row(i as isize));
                for ((out, a), b) in output.iter_mut().zip(before).zip(after) {
                    *out += w * (a + b);
                }
            }
        }
    }
}

fn weighted_once<'a, const RADIUS: usize>(half: &[f32], row: impl Fn(isize) -> &'a [f32], output: &mut [f32]) {
    let n = output.len();
    let middle = &row(0)[..n];
    let pairs: [(&[f32], &[f32], f32); RADIUS] = std::array::from_fn(|i| {
        let by = i as isize + 1;
        (&row(-by)[..n], &row(by)[..n], half[i + 1])
    });
    for (x, out) in output.iter_mut().enumerate() {
        let mut sum = half[0] * middle[x];
        for (before, after, weight) in &pairs {
            sum += weight * (before[x] + after[x]);
        }
        *out = sum;
    }
}

/// Blurs columns of rows that are `width` long; `output` has as many rows less as the kernel reaches up and down.
pub fn blur_down(input: &[f32], width: usize, half: &[f32], output: &mut [f32]) {
    let radius = half.len() - 1;
    for (y, out) in output.chunks_exact_mut(width).enumerate() {
        let row = |dy: isize| {
            let i = ((y + radius) as isize + dy) as usize;
            &input[i * width..(i + 1) * width]
        };
        blur_column(half, row, out);
    }
}

/// Blurs a block of rows `width` long, less the kernel's reach on each side. `scratch` is room for what is blurred across only.
pub fn blur_block(input: &[f32], width: usize, half: &[f32], scratch: &mut Vec<f32>, output: &mut Vec<f32>) {
    let (reach, tall) = (half.len() - 1, input.len() / width);
    let inner = width - 2 * reach;
    scratch.resize(tall * inner, 0.0);
    for (row, to) in input.chunks_exact(width).zip(scratch.chunks_exact_mut(inner)) {
        blur_inside(row, half, to);
    }
    output.resize((tall - 2 * reach) * inner, 0.0);
    blur_down(scratch, inner, half, output);
}

/// The middle row of a vertical blur: `row(dy)` gives the row `dy` rows below the one wanted, already mirrored.
pub fn blur_column<'a>(half: &[f32], row: impl Fn(isize) -> &'a [f32], output: &mut [f32]) {
    weighted(half, row, output);
}

/// Blurs a whole plane. Allocates one further plane.
///
/// # Errors
/// When there is no memory for it.
pub fn blur(plane: &mut Plane<f32>, sigma: f32) -> Result<()> {
    let half = kernel(sigma);
    let (w, h) = (plane.width(), plane.height());
    let mut across = Plane::new(w, h, "a blurred copy")?;
    let mut padded = Vec::new();
    for y in 0..h {
        blur_row(plane.row(y), &half, across.row_mut(y), &mut padded);
    }
    for y in 0..h {
        blur_column(&half, |dy| across.row(mirror(y as isize + dy, h)), plane.row_mut(y));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_kernel_sums_to_one_and_has_the_variance_asked_for() {
        for sigma in [0.7, 1.0, 2.5] {
            let half = kernel(sigma);
            let sum: f32 = half[0] + 2.0 * half[1..].iter().sum::<f32>();
            assert!((sum - 1.0).abs() < 1e-6);
            let variance: f32 = 2.0 * half.iter().enumerate().map(|(i, w)| w * (i * i) as f32).sum::<f32>();
            assert!((variance / (sigma * sigma) - 1.0).abs() < 0.05, "{sigma}: {variance}");
        }
    }

    #[test]
    fn a_constant_stays_and_an_impulse_keeps_its_sum() {
        for (w, h) in [(1, 1), (1, 9), (9, 1), (3, 2), (40, 31)] {
            let mut flat = Plane::from_vec(w, h, vec![0.25; w * h]);
            blur(&mut flat, 2.0).unwrap();
            assert!(flat.data().iter().all(|v| (v - 0.25).abs() < 1e-6), "{w} x {h}");
        }
        let mut dot = Plane::from_vec(41, 41, vec![0.0; 41 * 41]);
        dot.set(20, 20, 1.0);
        blur(&mut dot, 2.0).unwrap();
        assert!((dot.data().iter().sum::<f32>() - 1.0).abs() < 1e-5);
    }
}
