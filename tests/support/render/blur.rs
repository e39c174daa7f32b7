//! Gaussian blur of a plane, edges repeated.

/// Blurs in place. Up to a sigma of 4 px by the kernel itself (out to 4 sigma); above by three running means of the same variance,
/// which no eye tells apart.
pub fn blur(plane: &mut [f32], width: usize, height: usize, sigma: f32) {
    if sigma <= 0.0 || plane.is_empty() {
    } else if sigma <= 4.0 {
        kernel(plane, width, height, sigma);
    } else {
        let mut left = sigma * sigma;
        for passes in [3.0, 2.0, 1.0] {
            // A running mean over 2r+1 pixels has the variance ((2r+1)^2 - 1) / 12; each takes its share of what is left.
            let radius = (((12.0 * left / passes + 1.0).sqrt() - 1.0) * 0.5).round().max(1.0);
            means(plane, width, height, radius as usize);
            left -= radius * (radius + 1.0) / 3.0;
        }
    }
}

/// Half of a normalized Gaussian, center first.
fn half_gaussian(sigma: f32) -> Vec<f32> {
    let reach = (4.0 * sigma).ceil() as usize;
    let mut half: Vec<f32> = (0..=reach).map(|i| libm::expf(-((i * i) as f32) / (2.0 * sigma * sigma))).collect();
    let sum = half[0] + 2.0 * half[1..].iter().sum::<f32>();
    half.iter_mut().for_each(|v| *v /= sum);
    half
}

fn kernel(plane: &mut [f32], width: usize, height: usize, sigma: f32) {
    let half = half_gaussian(sigma);
    let reach = half.len() - 1;
    // Across: a row with its ends repeated, so that the inner loop has no conditions.
    let mut wide = vec![0.0; width + 2 * reach];
    for row in plane.chunks_exact_mut(width) {
        wide[..reach].fill(row[0]);
        wide[reach..reach + width].copy_from_slice(row);
        wide[reach + width..].fill(row[width - 1]);
        for (v, &w) in row.iter_mut().zip(&wide[reach..]) {
            *v = w * half[0];
        }
        for (i, &k) in half.iter().enumerate().skip(1) {
            let (left, right) = (&wide[reach - i..], &wide[reach + i..]);
            for ((v, &l), &r) in row.iter_mut().zip(left).zip(right) {
                *v += k * (l + r);
            }
        }
    }
    // Down: the rows above that are still wanted but already overwritten are kept in a ring.
    let mut above: Vec<Vec<f32>> = vec![plane[..width].to_vec(); reach + 1];
    for y in 0..height {
        above.rotate_right(1);
        above[0].copy_from_slice(&plane[y * width..(y + 1) * width]);
        let (done, below) = plane.split_at_mut((y + 1) * width);
        let out = &mut done[y * width..];
        for (v, &a) in out.iter_mut().zip(&above[0]) {
            *v = a * half[0];
        }
        for (i, &k) in half.iter().enumerate().skip(1) {
            let ahead = i.min(height - 1 - y);
            let under: &[f32] = if ahead == 0 { &above[0] } else { &below[(ahead - 1) * width..ahead * width] };
            for ((v, &a), &b) in out.iter_mut().zip(&above[i]).zip(under) {
                *v += k * (a + b);
            }
        }
    }
}

fn means(plane: &mut [f32], width: usize, height: usize, radius: usize) {
    let share = 1.0 / (2 * radius + 1) as f64;
    let mut row_copy = vec![0.0; width];
    for row in plane.chunks_exact_mut(width) {
        row_copy.copy_from_slice(row);
        let at = |i: isize| f64::from(row_copy[i.clamp(0, width as isize - 1) as usize]);
        let mut sum: f64 = (-(radius as isize)..=radius as isize).map(at).sum();
        for (x, v) in row.iter_mut().enumerate() {
            *v = (sum * share) as f32;
            sum += at(x as isize + radius as isize + 1) - at(x as isize - radius as isize);
        }
    }
    let source = plane.to_vec();
    let row = |y: isize| {
        let y = y.clamp(0, height as isize - 1) as usize;
        &source[y * width..(y + 1) * width]
    };
    let mut sums = vec![0.0_f64; width];
    for y in -(radius as isize)..=radius as isize {
        sums.iter_mut().zip(row(y)).for_each(|(s, &v)| *s += f64::from(v));
    }
    for (y, out) in plane.chunks_exact_mut(width).enumerate() {
        out.iter_mut().zip(&sums).for_each(|(v, &s)| *v = (s * share) as f32);
        let (enter, leave) = (row(y as isize + radius as isize + 1), row(y as isize - radius as isize));
        for ((s, &e), &l) in sums.iter_mut().zip(enter).zip(leave) {
            *s += f64::from(e) - f64::from(l);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A point becomes a Gaussian of the asked variance, and no light is lost.
    #[test]
    fn a_point_spreads_by_sigma() {
        for sigma in [0.6_f32, 1.2, 3.0, 9.0] {
            let n = 121;
            let mut plane = vec![0.0_f32; n * n];
            plane[60 * n + 60] = 1.0;
            blur(&mut plane, n, n, sigma);
            let (mut sum, mut across, mut down) = (0.0, 0.0, 0.0);
            for (i, &v) in plane.iter().enumerate() {
                let (x, y) = ((i % n) as f32 - 60.0, (i / n) as f32 - 60.0);
                sum += v;
                across += v * x * x;
                down += v * y * y;
            }
            assert!((sum - 1.0).abs() < 1e-4, "{sigma}: {sum}");
            for spread in [across, down] {
                assert!((spread.sqrt() / sigma - 1.0).abs() < 0.03, "{sigma}: {}", spread.sqrt());
            }
        }
    }
}
