//! The largest value in a square window around each pixel.

use crate::color::math::max;
use crate::error::Result;
use crate::image::Plane;

/// Window maximum along one row: `output[x]` is the largest of `input[x - radius ..= x + radius]` inside the row.
///
/// Doubling windows: log2(radius) passes, each a plain elementwise maximum.
pub fn along_row(input: &[f32], radius: usize, output: &mut [f32], scratch: &mut Vec<f32>) {
    let n = input.len();
    let window = 2 * radius + 1;
    // scratch[i] is the maximum of the `covered` padded values from i on.
    scratch.clear();
    scratch.resize(radius, f32::NEG_INFINITY);
    scratch.extend_from_slice(input);
    scratch.resize(n + 2 * radius, f32::NEG_INFINITY);
    let mut covered = 1;
    while covered * 2 <= window {
        let len = scratch.len() - covered;
        for i in 0..len {
            if scratch[i + covered] > scratch[i] {
                scratch[i] = scratch[i + covered];
            }
        }
        covered *= 2;
    }
    let shift = window - covered;
    for (x, out) in output.iter_mut().enumerate() {
        *out = max(scratch[x], scratch[x + shift]);
    }
}

/// As [`along_row`] for the part of a row that has `radius` to spare on both sides: `output` is shorter by twice that.
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
pub fn square(plane: &Plane<f32>, radius: usize) -> Result<Plane<f32>> {
    let (w, h) = (plane.width(), plane.height());
    let mut across = Plane::new(w, h, "a local maximum")?;
    let mut scratch = Vec::new();
    for y in 0..h {
        along_row(plane.row(y), radius, across.row_mut(y), &mut scratch);
    }
    let mut out = Plane::new(w, h, "a local maximum")?;
    for y in 0..h {
        let rows = y.saturating_sub(radius)..(y + radius + 1).min(h);
        across_rows(rows.map(|i| across.row(i)), out.row_mut(y));
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_the_plain_loop() {
        let input: Vec<f32> = (0..57).map(|i| ((i * 37) % 23) as f32).collect();
        for radius in [0, 1, 2, 4, 6, 9] {
            let mut output = vec![0.0; input.len()];
            along_row(&input, radius, &mut output, &mut Vec::new());
            for (x, got) in output.iter().enumerate() {
                let expected = input[x.saturating_sub(radius)..(x + radius + 1).min(57)].iter().copied().fold(f32::MIN, f32::max);
                assert_eq!(*got, expected, "radius {radius} at {x}");
            }
            let mut middle = vec![0.0; input.len() - 2 * radius];
            inside(&input, radius, &mut middle);
            assert_eq!(middle, output[radius..input.len() - radius]);
        }
    }
}
