//! Strokes of strong paint, tile by tile: how much of them there is, how long their outline is, and of what color they are.

use std::ops::Range;

use super::{Around, CELL};
use crate::color::math::max;
use crate::filter::vector::length;
use crate::filter::{gauss, local_max};
use crate::image::Plane;
use crate::matte::evidence::{BLOCK, Evidence, STEPS};
use crate::paper::tile::Tile;

/// Reach over which a pixel's own stroke is looked for, in pixels.
const REACH: usize = 3;
/// Paint has its own color where it has nearly all the contrast of its stroke.
const NEARLY: f32 = 0.88;
/// What lies so many deviations off the paper, and clear of strokes, is pale paint.
const FAINT: u16 = (4.0 * STEPS) as u16;

/// The strokes in a tile and a little around: contrast, and the strongest within [`REACH`].
#[derive(Default)]
pub(super) struct Strokes {
    rows: Range<usize>,
    columns: Range<usize>,
    deviations: Vec<u8>,
    contrast: Vec<u16>,
    across: Vec<u16>,
    top: Vec<u16>,
    /// 1 for each pixel that is paint, one more to the right and below.
    painted: Vec<u8>,
}

impl Strokes {
    /// Loads a tile; false if there is no strong paint in it.
    pub(super) fn load(&mut self, evidence: &Evidence, rows: Range<usize>, columns: Range<usize>) -> bool {
        (self.rows, self.columns) = (rows, columns);
        let (wide, tall) = (self.wide(), self.rows.len() + 1);
        let stride = wide + 2 * REACH;
        self.contrast.resize(stride * (tall + 2 * REACH), 0);
        let mut any = false;
        for (i, row) in self.contrast.chunks_exact_mut(stride).enumerate() {
            let y = gauss::mirror((self.rows.start + i) as isize - REACH as isize, evidence.contrast.height());
            evidence.strong_contrast(y, self.columns.start as isize - REACH as isize, &mut self.deviations, row);
            any |= row.iter().fold(0, |all, v| all | v) > 0;
        }
        if any {
            self.across.resize(wide * (tall + 2 * REACH), 0);
            for (row, to) in self.contrast.chunks_exact(stride).zip(self.across.chunks_exact_mut(wide)) {
                local_max::inside(row, REACH, to);
            }
            self.top.resize(wide * tall, 0);
            for (i, to) in self.top.chunks_exact_mut(wide).enumerate() {
                local_max::across_rows(self.across[i * wide..(i + 2 * REACH + 1) * wide].chunks_exact(wide), to);
            }
        }
        any
    }

    /// Columns of the tile, and one more.
    fn wide(&self) -> usize {
        self.columns.len() + 1
    }

    /// Contrast and the strongest about in row `i` of the tile, one column more than it has.
    fn row(&self, i: usize) -> (&[u16], &[u16]) {
        let wide = self.wide();
        (&self.contrast[(i + REACH) * (wide + 2 * REACH) + REACH..][..wide], &self.top[i * wide..][..wide])
    }

    /// Adds up paint and outlines, and what lies clear of them.
    pub(super) fn outlines(&mut self, evidence: &Evidence, cells: &mut Plane<Around>) {
        let wide = self.wide();
        let mut painted = std::mem::take(&mut self.painted);
        painted.resize(wide * (self.rows.len() + 1), 0);
        for (i, to) in painted.chunks_exact_mut(wide).enumerate() {
            let (own, top) = self.row(i);
            // At least half of the strongest.
            to.iter_mut().zip(own).zip(top).for_each(|((to, own), top)| *to = u8::from((*own > 0) & (*own >= top - own)));
        }
        let first = self.columns.start / CELL;
        let mut clear = vec![0_u8; wide];
        for (i, y) in self.rows.clone().enumerate() {
            let (middle, noise) = (evidence.middle.row(y / 2), evidence.noise.as_ref().map(|noise| noise.row(y / BLOCK)));
            let (row, below) = (&painted[i * wide..][..wide], &painted[(i + 1) * wide..][..wide]);
            clear.iter_mut().zip(self.row(i).1).for_each(|(clear, top)| *clear = u8::from(*top == 0));
            let cells = &mut cells.row_mut(y / CELL)[first..self.columns.end.div_ceil(CELL)];
            for (c, cell) in cells.iter_mut().enumerate() {
                let (from, to) = (c * CELL, ((c + 1) * CELL).min(wide - 1));
                let [here, right, below] = [&row[from..to], &row[from + 1..=to], &below[from..to]].map(eight);
                cell.paint += here.count_ones() as f32;
                cell.outline += ((here ^ right).count_ones() + (here ^ below).count_ones()) as f32;
                let clear = eight(&clear[from..to]);
                if clear == 0 {
                    continue;
                }
                let limit = noise.map_or(FAINT, |noise| FAINT * u16::from(noise[first + c]) / 16);
                // Two pixels share each of these.
                let middle = &middle[(self.columns.start + from) / 2..][..(to - from).div_ceil(2)];
                let pairs =
                    middle.iter().enumerate().map(|(pair, v)| (u64::from(u16::from(*v) >= limit) * 0x0101) << (16 * pair));
                let pale = pairs.fold(0, |all, pair| all | pair);
                cell.pale += (clear & pale).count_ones() as f32;
                cell.bare += (clear & !pale).count_ones() as f32;
            }
        }
        self.painted = painted;
    }

    /// Adds up the colors of the paint.
    pub(super) fn colors(&self, tile: &Tile, cells: &mut Plane<Around>) {
        for (i, y) in self.rows.clone().enumerate() {
            let residual = [0, 1, 2].map(|c| tile.residual(c, i));
            let (own, top) = self.row(i);
            for ((k, x), (own, top)) in self.columns.clone().enumerate().zip(own.iter().zip(top)) {
                if *own == 0 || f32::from(*own) < NEARLY * f32::from(*top) {
                    continue;
                }
                let off = residual.map(|row| row[k]);
                let (cell, strength) = (&mut cells.row_mut(y / CELL)[x / CELL], length(off));
                cell.level += 1.0;
                cell.strength += strength;
                cell.squares += strength * strength;
                (0..3).for_each(|c| cell.direction[c] += off[c] / max(strength, 1e-6));
            }
        }
    }
}

/// Up to eight bytes in one.
fn eight(bytes: &[u8]) -> u64 {
    let eight = bytes.first_chunk::<CELL>().copied().unwrap_or_else(|| {
        let mut eight = [0; CELL];
        eight[..bytes.len()].copy_from_slice(bytes);
        eight
    });
    u64::from_le_bytes(eight)
}
