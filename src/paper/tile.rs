//! A tile of the sheet laid against its paper: the color residual, with a border to spare on every side.
//!
//! Work goes tile by tile so that everything a tile needs stays in the processor's cache, and so that tiles with nothing
//! in them can be passed over. Beyond the sheet pixels mirror, so a tile's result does not depend on how the sheet was cut.

use std::ops::Range;

use super::{PaperField, Ruler};
use crate::filter::gauss;
use crate::image::Sheet;

/// Rows and columns of a tile. A multiple of 8, so that every reduced pixel belongs to one tile.
pub const SIDE: Size = Size { rows: 64, columns: 256 };

/// A tile's size.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    /// Rows.
    pub rows: usize,
    /// Columns.
    pub columns: usize,
}

/// Three channels of residual (scan minus paper, encoded) and of paper for a tile and the border around it.
#[derive(Debug, Default)]
pub struct Tile {
    rows: Range<usize>,
    columns: Range<usize>,
    halo: usize,
    ruler: Ruler,
    residual: [Vec<f32>; 3],
    paper: [Vec<f32>; 3],
}

impl Tile {
    /// Fills the tile with a part of the sheet and `halo` pixels more on each side.
    pub fn load(&mut self, sheet: &Sheet, field: &PaperField, rows: Range<usize>, columns: Range<usize>, halo: usize) {
        (self.rows, self.columns, self.halo) = (rows, columns, halo);
        let (stride, tall) = (self.stride(), self.tall());
        for plane in self.residual.iter_mut().chain(&mut self.paper) {
            plane.resize(tall * stride, 0.0);
        }
        // The columns that lie on the sheet; what is missing left and right is mirrored afterward.
        let first = self.columns.start.saturating_sub(halo);
        let last = (self.columns.end + halo).min(sheet.width());
        let lead = first + halo - self.columns.start;
        self.ruler.measure(field, first..last);
        for i in 0..tall {
            let y = gauss::mirror((self.rows.start + i) as isize - halo as isize, sheet.height());
            let at = i * stride + lead..i * stride + lead + (last - first);
            let [r, g, b] = &mut self.paper;
            self.ruler.draw(field, y, [&mut r[at.clone()], &mut g[at.clone()], &mut b[at.clone()]]);
            for (c, (residual, paper)) in self.residual.iter_mut().zip(&mut self.paper).enumerate() {
                sheet.above(y, first, c, &paper[at.clone()], &mut residual[at.clone()]);
                for plane in [residual, paper] {
                    let row = &mut plane[i * stride..(i + 1) * stride];
                    for x in (0..lead).chain(lead + (last - first)..stride) {
                        let from = gauss::mirror((self.columns.start + x) as isize - halo as isize, sheet.width());
                        row[x] = row[from + halo - self.columns.start];
                    }
                }
            }
        }
    }

    /// The rows of the tile itself.
    #[must_use]
    pub fn rows(&self) -> Range<usize> {
        self.rows.clone()
    }

    /// The columns of the tile itself.
    #[must_use]
    pub fn columns(&self) -> Range<usize> {
        self.columns.clone()
    }

    /// Pixels to spare on each side.
    #[must_use]
    pub fn halo(&self) -> usize {
        self.halo
    }

    /// Pixels in a row, border and all.
    #[must_use]
    pub fn stride(&self) -> usize {
        self.columns.len() + 2 * self.halo
    }

    /// Rows, border and all.
    #[must_use]
    pub fn tall(&self) -> usize {
        self.rows.len() + 2 * self.halo
    }

    /// The residual of one channel in row `i`, border and all; pixel `halo` of row `halo` is the tile's first.
    #[must_use]
    #[inline]
    pub fn residual(&self, channel: usize, i: usize) -> &[f32] {
        let stride = self.stride();
        &self.residual[channel][i * stride..(i + 1) * stride]
    }

    /// The paper of one channel in row `i`, border and all.
    #[must_use]
    #[inline]
    pub fn paper(&self, channel: usize, i: usize) -> &[f32] {
        let stride = self.stride();
        &self.paper[channel][i * stride..(i + 1) * stride]
    }

    /// The residual of one channel, blurred, less `reach` of the border on each side (`reach` is the kernel's).
    pub fn blurred(&self, channel: usize, kernel: &[f32], scratch: &mut Vec<f32>, out: &mut Vec<f32>) {
        gauss::blur_block(&self.residual[channel], self.stride(), kernel, scratch, out);
    }
}

/// The next row of tiles in a picture `height` rows tall, and moves `next` past it; `None` when none is left.
pub fn next_rows(next: &mut usize, height: usize) -> Option<Range<usize>> {
    let rows = *next..(*next + SIDE.rows).min(height);
    *next = rows.end.max(*next);
    (!rows.is_empty()).then_some(rows)
}

/// The columns of the tiles of one row.
pub fn across(width: usize) -> impl Iterator<Item = Range<usize>> {
    (0..width).step_by(SIDE.columns).map(move |x| x..(x + SIDE.columns).min(width))
}

/// Joins blocks of columns that lie side by side, up to a tile's columns: of a wider one less lies around it.
pub fn joined(blocks: impl Iterator<Item = Range<usize>>) -> Vec<Range<usize>> {
    let mut joined: Vec<Range<usize>> = Vec::new();
    for block in blocks {
        match joined.last_mut().filter(|last| last.end == block.start && last.len() + block.len() <= SIDE.columns) {
            Some(last) => last.end = block.end,
            None => joined.push(block),
        }
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::{Plane, Samples};
    use crate::paper::Overview;

    /// However the sheet is cut, a blurred residual comes out the same to the bit.
    #[test]
    fn cuts_leave_no_trace() {
        let (w, h) = (83, 57);
        let samples = (0..3 * w * h).map(|i| 180 + ((i * 7919) % 71) as u8).collect();
        let sheet = Sheet::new(w, h, Samples::Eight(samples), None);
        let overview = Overview::new(&sheet).unwrap();
        let outside = Plane::new(overview.mean.width(), overview.mean.height(), "a mask").unwrap();
        let field = PaperField::estimate(&overview, &outside, None, true).unwrap();
        let kernel = gauss::kernel(1.3);
        let reach = kernel.len() - 1;
        let whole = |rows: usize, columns: usize| {
            let mut out = vec![0.0; w * h];
            let (mut tile, mut scratch, mut blurred) = (Tile::default(), Vec::new(), Vec::new());
            for y in (0..h).step_by(rows) {
                for x in (0..w).step_by(columns) {
                    tile.load(&sheet, &field, y..(y + rows).min(h), x..(x + columns).min(w), reach);
                    tile.blurred(1, &kernel, &mut scratch, &mut blurred);
                    let n = tile.columns().len();
                    for (i, row) in blurred.chunks_exact(n).enumerate() {
                        out[(y + i) * w + x..(y + i) * w + x + n].copy_from_slice(row);
                    }
                }
            }
            out
        };
        let one = whole(h, w);
        for (rows, columns) in [(1, w), (8, 16), (33, 7), (57, 1)] {
            assert!(one.iter().zip(whole(rows, columns)).all(|(a, b)| a.to_bits() == b.to_bits()), "{rows} x {columns}");
        }
    }
}
