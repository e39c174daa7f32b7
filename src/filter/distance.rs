//! Distance to a mask by the 5-7-11 chamfer (Borgefors, "Distance transformations in digital images", 1986):
//! within 2 % of the Euclidean distance, two passes, one byte a pixel.

use crate::image::Plane;

/// Distances are in fifths of a pixel.
pub const UNIT: u8 = 5;
/// The largest distance told apart: 51 pixels.
pub const FAR: u8 = 255;

/// Turns a plane holding 0 (on the mask) and [`FAR`] (off it) into distances to the nearest 0, in fifths of a pixel.
pub fn chamfer(plane: &mut Plane<u8>) {
    let (w, h) = (plane.width(), plane.height());
    let data = plane.data_mut();
    let mut scratch = vec![FAR; w];
    // Rows reach back two; each pass looks only at pixels already final.
    for y in 0..h {
        let (done, rest) = data.split_at_mut(y * w);
        let above = (y >= 1).then(|| &done[(y - 1) * w..]);
        let second = (y >= 2).then(|| &done[(y - 2) * w..(y - 1) * w]);
        vertical(&mut rest[..w], above, second);
        along(&mut rest[..w], &mut scratch, false);
    }
    for y in (0..h).rev() {
        let (head, done) = data.split_at_mut((y + 1) * w);
        let below = (y + 1 < h).then(|| &done[..w]);
        let second = (y + 2 < h).then(|| &done[w..2 * w]);
        vertical(&mut head[y * w..], below, second);
        along(&mut head[y * w..], &mut scratch, true);
    }
}

fn vertical(row: &mut [u8], near: Option<&[u8]>, second: Option<&[u8]>) {
    let w = row.len();
    let Some(near) = near else { return };
    // Nothing comes from where nothing is.
    if near.iter().all(|v| *v == FAR) && second.is_none_or(|row| row.iter().all(|v| *v == FAR)) {
        return;
    }
    for (v, n) in row.iter_mut().zip(near) {
        *v = (*v).min(n.saturating_add(5));
    }
    let shifts = |row: &mut [u8], from: &[u8], by: usize, cost: u8| {
        if by >= w {
            return;
        }
        for (v, n) in row[by..].iter_mut().zip(from) {
            *v = (*v).min(n.saturating_add(cost));
        }
        for (v, n) in row[..w - by].iter_mut().zip(&from[by..]) {
            *v = (*v).min(n.saturating_add(cost));
        }
    };
    shifts(row, near, 1, 7);
    shifts(row, near, 2, 11);
    if let Some(second) = second {
        shifts(row, second, 1, 11);
    }
}

/// How far a distance below [`FAR`] can come along a row, as steps that double: all of it is reached after the last.
const STEPS: [usize; 6] = [1, 2, 4, 8, 16, 32];

/// Carries distances on from left to right, or backward. Doubling steps over a whole row go many pixels at once; a sweep would
/// wait for each pixel's neighbor.
fn along(row: &mut [u8], scratch: &mut [u8], backward: bool) {
    if row.iter().all(|v| *v == FAR) {
        return;
    }
    let width = row.len();
    for step in STEPS.into_iter().filter(|step| *step < width) {
        scratch.copy_from_slice(row);
        if backward {
            carry(row, &scratch[step..], step);
        } else {
            carry(&mut row[step..], scratch, step);
        }
    }
}

fn carry(row: &mut [u8], from: &[u8], step: usize) {
    let cost = step as u8 * UNIT;
    for (v, n) in row.iter_mut().zip(from) {
        *v = (*v).min(n.saturating_add(cost));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the exact Euclidean distance, by brute force.
    #[test]
    fn close_to_euclid() {
        let (w, h) = (61, 47);
        let on = |x: usize, y: usize| (x == 9 && y == 30) || (x > 40 && y < 5) || (x == 55 && y == 40);
        let mut plane = Plane::from_vec(w, h, (0..w * h).map(|i| if on(i % w, i / w) { 0 } else { FAR }).collect());
        chamfer(&mut plane);
        for y in 0..h {
            for x in 0..w {
                let exact = (0..w * h)
                    .filter(|i| on(i % w, i / w))
                    .map(|i| ((x as f64 - (i % w) as f64).powi(2) + (y as f64 - (i / w) as f64).powi(2)).sqrt())
                    .fold(f64::MAX, f64::min)
                    .min(51.0);
                let got = f64::from(plane.at(x, y)) / f64::from(UNIT);
                assert!((got - exact).abs() <= 0.021 * exact + 0.05, "{x} {y}: {got} for {exact}");
            }
        }
    }
}
