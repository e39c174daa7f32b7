//! The largest value in a square window around each pixel, and the smallest.

use crate::error::Result;
use crate::image::Plane;

/// Window maximum along a row that has `radius` to spare on both sides: `output` is shorter by twice that.
pub fn inside<T: Copy + PartialOrd>(input: &[T], radius: usize, output: &mut [T]) {
    let len = output.len();
    output.copy_from_slice(&input[..len]);
    for shift in 1..=2 * radius {
        larger(output, &input[shift..shift + len]);
    }
}

/// The window maximum down a column: elementwise maximum of rows; nothing is written when there is none.
pub fn across_rows<'a, T: Copy + PartialOrd + 'a>(mut rows: impl Iterator<Item = &'a [T]>, output: &mut [T]) {
    if let Some(first) = rows.next() {
        output.copy_from_slice(&first[..output.len()]);
    }
    rows.for_each(|row| larger(output, row));
}

fn larger<T: Copy + PartialOrd>(output: &mut [T], row: &[T]) {
    for (out, v) in output.iter_mut().zip(row) {
        *out = if *v > *out { *v } else { *out };
    }
}

/// The largest value in a square of side `2 * radius + 1` around each pixel.
///
/// # Errors
/// When there is no memory for two more planes.
pub fn square<T: Copy + PartialOrd + Default>(plane: &Plane<T>, radius: usize) -> Result<Plane<T>> {
    let (w, h) = (plane.width(), plane.height());
    let mut across = Plane::new(w, h, "a local maximum")?;
    let mut padded = vec![T::default(); w + 2 * radius];
    for y in 0..h {
        // The border repeated adds nothing to a window that reaches beyond it.
        let row = plane.row(y);
        padded[..radius].fill(row[0]);
        padded[radius..radius + w].copy_from_slice(row);
        padded[radius + w..].fill(row[w - 1]);
        inside(&padded, radius, across.row_mut(y));
    }
    let mut out = Plane::new(w, h, "a local maximum")?;
    for y in 0..h {
        let rows = y.saturating_sub(radius)..(y + radius + 1).min(h);
        across_rows(rows.map(|i| across.row(i)), out.row_mut(y));
    }
    Ok(out)
}

/// The smallest value in such a square.
///
/// # Errors
/// When there is no memory for four more planes.
pub fn least(plane: &Plane<f32>, radius: usize) -> Result<Plane<f32>> {
    let negated = |plane: &Plane<f32>| Plane::from_vec(plane.width(), plane.height(), plane.data().iter().map(|v| -v).collect());
    Ok(negated(&square(&negated(plane), radius)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_the_plain_loop() {
        let (w, h) = (57, 23);
        let plane = Plane::from_vec(w, h, (0..w * h).map(|i| ((i * 37) % 523) as f32).collect());
        for radius in [0, 1, 2, 4, 6, 9, 70] {
            let square = square(&plane, radius).unwrap();
            for y in 0..h {
                let rows = y.saturating_sub(radius)..(y + radius + 1).min(h);
                for x in 0..w {
                    let columns = x.saturating_sub(radius)..(x + radius + 1).min(w);
                    let expected =
                        rows.clone().flat_map(|j| plane.row(j)[columns.clone()].iter().copied()).fold(f32::MIN, f32::max);
                    assert_eq!(square.at(x, y), expected, "radius {radius} at {x}, {y}");
                }
            }
        }
    }
}
