//! A reduced copy of a sheet: what the paper is estimated from.

use crate::error::Result;
use crate::filter::order::median;
use crate::image::{Plane, Sheet};

/// Cells along the sheet's longer side. Shading and stray light are slower than a hundredth of a sheet.
const CELLS: usize = 200;
/// Darker than this in all channels is a lid or a black ground, not paper, if anything else is there: black drawing papers
/// scan at 0.2 (L* 22).
const BLACK: f32 = 0.1;

/// A reduced copy of a sheet: the mean of each square cell, and how far its pixels lie apart.
#[derive(Debug)]
pub struct Overview {
    /// Side of a cell in sheet pixels.
    pub cell: usize,
    /// Mean encoded color of each cell.
    pub mean: Plane<[f32; 3]>,
    /// Standard deviation of the green channel inside each cell.
    pub spread: Plane<f32>,
}

impl Overview {
    /// Reduces a sheet. O(pixels).
    ///
    /// # Errors
    /// When there is no memory.
    pub fn new(sheet: &Sheet) -> Result<Self> {
        let (w, h) = (sheet.width(), sheet.height());
        let cell = (w.max(h) as f32 / CELLS as f32).round().clamp(2.0, 64.0) as usize;
        let (cols, rows) = (w.div_ceil(cell), h.div_ceil(cell));
        let mut mean = Plane::new(cols, rows, "an overview of the sheet")?;
        let mut spread = Plane::new(cols, rows, "an overview of the sheet")?;
        let mut line = [vec![0.0; w], vec![0.0; w], vec![0.0; w]];
        let mut sums = vec![[0.0_f32; 4]; cols];
        for row in 0..rows {
            sums.fill([0.0; 4]);
            let lines = row * cell..((row + 1) * cell).min(h);
            let tall = lines.len();
            for y in lines {
                let [r, g, b] = &mut line;
                sheet.row(y, r, g, b);
                for (column, sum) in sums.iter_mut().enumerate() {
                    let at = column * cell..((column + 1) * cell).min(w);
                    for x in at {
                        sum[0] += r[x];
                        sum[1] += g[x];
                        sum[2] += b[x];
                        sum[3] += g[x] * g[x];
                    }
                }
            }
            for (column, sum) in sums.iter().enumerate() {
                let count = (tall * (((column + 1) * cell).min(w) - column * cell)) as f32;
                let m = [0, 1, 2].map(|c| sum[c] / count);
                mean.set(column, row, m);
                spread.set(column, row, (sum[3] / count - m[1] * m[1]).max(0.0).sqrt());
            }
        }
        Ok(Self { cell, mean, spread })
    }

    /// How far the pixels of each cell lie apart, less what the slope of the shading across it explains.
    fn texture(&self) -> Vec<f32> {
        let (cols, rows) = (self.mean.width(), self.mean.height());
        let green = |x: usize, y: usize| self.mean.at(x, y)[1];
        let slope = |before: f32, after: f32, cells: usize| if cells == 0 { 0.0 } else { (after - before) / cells as f32 };
        let mut texture = Vec::with_capacity(cols * rows);
        for y in 0..rows {
            let (top, bottom) = (y.saturating_sub(1), (y + 1).min(rows - 1));
            for x in 0..cols {
                let (left, right) = (x.saturating_sub(1), (x + 1).min(cols - 1));
                let across = slope(green(left, y), green(right, y), right - left);
                let down = slope(green(x, top), green(x, bottom), bottom - top);
                let spread = self.spread.at(x, y);
                texture.push((spread * spread - (across * across + down * down) / 12.0).max(0.0).sqrt());
            }
        }
        texture
    }

    /// Cells with no more texture than twice that of `bare` ones: no contour runs through, and no line.
    pub(super) fn plain(&self, bare: &[bool]) -> Vec<bool> {
        let texture = self.texture();
        let mut usual: Vec<f32> = texture.iter().zip(bare).filter(|(_, bare)| **bare).map(|(texture, _)| *texture).collect();
        if usual.is_empty() {
            return vec![false; texture.len()];
        }
        let limit = 2.0 * median(&mut usual) + 0.004;
        texture.iter().map(|texture| *texture <= limit).collect()
    }

    /// Cells inside which little changes: no contour runs through. The limit is twice the spread of the smoothest third.
    pub(super) fn smooth(&self) -> Vec<bool> {
        let mut spreads = self.spread.data().to_vec();
        let at = spreads.len() / 3;
        let typical = *spreads.select_nth_unstable_by(at, f32::total_cmp).1;
        self.spread.data().iter().map(|s| *s < 2.0 * typical + 0.006).collect()
    }

    /// The most frequent color among the smooth cells for which `usable` holds; the middle of the range if there is none.
    #[must_use]
    pub fn mode(&self, usable: impl Fn(usize) -> bool) -> [f32; 3] {
        const STEPS: usize = 40;
        let bin = |v: f32| ((v * STEPS as f32) as usize).min(STEPS);
        let key = |c: &[f32; 3]| (bin(c[0]) * (STEPS + 1) + bin(c[1])) * (STEPS + 1) + bin(c[2]);
        let smooth = self.smooth();
        let dark = |c: &[f32; 3]| c.iter().all(|v| *v < BLACK);
        let usable = |i: usize| usable(i) && smooth[i];
        let any_light = (0..self.mean.data().len()).any(|i| usable(i) && !dark(&self.mean.data()[i]));
        let usable = |i: usize| usable(i) && !(any_light && dark(&self.mean.data()[i]));
        let mut counts = vec![0_u32; (STEPS + 1) * (STEPS + 1) * (STEPS + 1)];
        for (i, c) in self.mean.data().iter().enumerate() {
            if usable(i) {
                counts[key(c)] += 1;
            }
        }
        // Equal counts go to the lighter color.
        let best = counts.iter().enumerate().max_by_key(|&(i, n)| (*n, i)).map_or(0, |(i, _)| i);
        let (mut sum, mut n) = ([0.0; 3], 0.0_f32);
        for (i, c) in self.mean.data().iter().enumerate() {
            if usable(i) && key(c) == best {
                n += 1.0;
                (0..3).for_each(|k| sum[k] += c[k]);
            }
        }
        if n == 0.0 { [0.5; 3] } else { sum.map(|v| v / n) }
    }
}
