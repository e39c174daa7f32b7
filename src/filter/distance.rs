//! Distance to a mask by the 5-7-11 chamfer (Borgefors, "Distance transformations in digital images", 1986):
//! within 2 % of the Euclidean distance, two passes, one byte a pixel.

use crate::image::Plane;

/// Distances are in fifths of a pixel.
pub const UNIT: u8 = 5;
/// The largest distance told apart: 51 pixels.
pub const FAR: u8 = 255;

/// Turns a plane holding 0 (on the mask) and [`FAR`] (off it) into distances to the nearest 0, in fifths of a pixel.
pub fn chamfer(plane: &mut Plane<u8>) {
    chamfer_within(plane, FAR);
}

/// As [`chamfer`] for who asks for no distance above `reach`: those beyond may come out too large, and cost less.
pub fn chamfer_within(plane: &mut Plane<u8>, reach: u8) {
    let (w, h) = (plane.width(), plane.height());
    let data = plane.data_mut();
    let mut sweep = Sweep::new(w, reach);
    // Rows reach back two; each pass looks only at pixels already final.
    for y in 0..h {
        let (done, rest) = data.split_at_mut(y * w);
        let near = (y >= 1).then(|| &done[(y - 1) * w..]);
        let second = (y >= 2).then(|| &done[(y - 2) * w..(y - 1) * w]);
        sweep.row(&mut rest[..w], near, second, false);
    }
    sweep.empty = [true; 2];
    for y in (0..h).rev() {
        let (head, done) = data.split_at_mut((y + 1) * w);
        let near = (y + 1 < h).then(|| &done[..w]);
        let second = (y + 2 < h).then(|| &done[w..2 * w]);
        sweep.row(&mut head[y * w..], near, second, true);
    }
}

/// How far a distance below [`FAR`] can come along a row, as steps that double: all of it is reached after the last.
const STEPS: [usize; 6] = [1, 2, 4, 8, 16, 32];
/// Costs of the steps to a neighbor straight on, on the diagonal, and a knight's move away.
const STRAIGHT: u8 = UNIT;
const DIAGONAL: u8 = 7;
const KNIGHT: u8 = 11;

/// One pass over all rows.
struct Sweep {
    steps: Vec<usize>,
    scratch: Vec<u8>,
    /// Stands for rows beyond the border.
    beyond: Vec<u8>,
    /// Whether the last row, and the one before it, hold nothing but [`FAR`].
    empty: [bool; 2],
}

impl Sweep {
    fn new(width: usize, reach: u8) -> Self {
        // Before a step all of `step - 1` pixels is reached.
        let needed = |step: &usize| *step < width && (step - 1) * usize::from(UNIT) < usize::from(reach);
        let steps = STEPS.into_iter().filter(needed).collect();
        Self { steps, scratch: vec![FAR; width], beyond: vec![FAR; width], empty: [true; 2] }
    }

    /// Carries distances into a row from the two rows before it, and along it.
    fn row(&mut self, row: &mut [u8], near: Option<&[u8]>, second: Option<&[u8]>, backward: bool) {
        // Nothing comes from where nothing is.
        if self.empty != [true; 2] {
            vertical(row, near.unwrap_or(&self.beyond), second.unwrap_or(&self.beyond));
        }
        let empty = row.iter().fold(FAR, |least, v| least.min(*v)) == FAR;
        if !empty {
            self.along(row, backward);
        }
        self.empty = [empty, self.empty[0]];
    }

    /// Carries distances on from left to right, or backward. Doubling steps over a whole row go many pixels at once; a sweep
    /// would wait for each pixel's neighbor.
    fn along(&mut self, row: &mut [u8], backward: bool) {
        for &step in &self.steps {
            self.scratch.copy_from_slice(row);
            if backward {
                carry(row, &self.scratch[step..], step);
            } else {
                carry(&mut row[step..], &self.scratch, step);
            }
        }
    }
}

/// Carries distances into a row from the row beside it and the one behind that.
fn vertical(row: &mut [u8], near: &[u8], second: &[u8]) {
    let w = row.len();
    let from = |row: &[u8], x: usize, by: isize, cost: u8| {
        x.checked_add_signed(by).and_then(|x| row.get(x)).map_or(FAR, |v| v.saturating_add(cost))
    };
    for x in (0..w.min(2)).chain(w.saturating_sub(2).max(2)..w) {
        let knights = from(near, x, -2, KNIGHT).min(from(near, x, 2, KNIGHT)).min(from(second, x, -1, KNIGHT));
        let diagonals = from(near, x, -1, DIAGONAL).min(from(near, x, 1, DIAGONAL));
        let others = knights.min(from(second, x, 1, KNIGHT)).min(diagonals);
        row[x] = row[x].min(from(near, x, 0, STRAIGHT)).min(others);
    }
    let Some(inner) = w.checked_sub(4) else { return };
    let [a, b, c, d, e] = [0, 1, 2, 3, 4].map(|by| &near[by..by + inner]);
    let (f, g) = (&second[1..=inner], &second[3..inner + 3]);
    for (x, v) in row[2..inner + 2].iter_mut().enumerate() {
        let knights = a[x].min(e[x]).min(f[x]).min(g[x]).saturating_add(KNIGHT);
        let diagonals = b[x].min(d[x]).saturating_add(DIAGONAL);
        *v = (*v).min(c[x].saturating_add(STRAIGHT)).min(diagonals).min(knights);
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

    /// Up to the distance asked for, nothing differs.
    #[test]
    fn near_distances_as_all_others() {
        for (w, h) in [(61, 47), (3, 9), (1, 5), (40, 1)] {
            let on = |i: usize| (i * 7919) % 997 == 3 || i == w * h / 2;
            let mut whole = Plane::from_vec(w, h, (0..w * h).map(|i| if on(i) { 0 } else { FAR }).collect());
            let mut near = whole.clone();
            chamfer(&mut whole);
            chamfer_within(&mut near, 30);
            assert!(whole.data().iter().zip(near.data()).all(|(a, b)| a == b || *a > 30 && *b > 30));
        }
    }

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
