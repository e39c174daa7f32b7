//! The matte where washes run out: lowered to what remains of the wash, and of other paint over it.

use std::ops::Range;

use super::{CELL, Fade};
use crate::color::math::{max, min};
use crate::filter::vector::{dot, length};
use crate::filter::{gauss, local_max};
use crate::image::{Plane, Sheet};
use crate::matte::cover::{Cover, bits};
use crate::matte::evidence::Evidence;
use crate::paper::PaperField;
use crate::paper::tile::{self, Tile};

impl Fade {
    /// Lowers the matte of the pixels inside soft cells and beside them: to the wash's own where a pixel is the wash's,
    /// and where other paint lies over the wash, to what both leave together.
    pub fn apply(&self, sheet: &Sheet, field: &PaperField, evidence: &Evidence, cover: &Cover, matte: &mut Plane<u16>) {
        /// Reach in which the strength of other paint is looked for, in pixels.
        const OVER: usize = 4;
        /// Deviations of bare paper that a pixel of the wash may lie off it.
        const NOISE: f32 = 1.5;
        /// Columns of a block: narrower than a tile's, since run-outs are few.
        const COLUMNS: usize = 64;
        let (w, h) = (sheet.width(), sheet.height());
        let near = self.near_soft(2, f32::INFINITY);
        let kernel = gauss::kernel(0.6);
        let noise = NOISE * evidence.tooth.deviation()[1];
        let mut tile = Tile::default();
        let (mut scratch, mut smooth) = (Vec::new(), [Vec::new(), Vec::new(), Vec::new()]);
        let (mut wash, mut off, mut across) = (Vec::new(), Vec::new(), Vec::new());
        let mut down = Down::default();
        let mut next = 0;
        while let Some(rows) = tile::next_rows(&mut next, h) {
            let is_near = |columns: &Range<usize>| {
                let cells = columns.start / CELL..columns.end.div_ceil(CELL);
                (rows.start / CELL..rows.end.div_ceil(CELL)).any(|y| near[y * self.width..][cells.clone()].contains(&true))
            };
            let blocks = (0..w).step_by(COLUMNS).map(|x| x..(x + COLUMNS).min(w)).filter(is_near);
            for columns in tile::joined(blocks) {
                tile.load(sheet, field, rows.clone(), columns.clone(), OVER + kernel.len() - 1);
                for (c, smooth) in smooth.iter_mut().enumerate() {
                    tile.blurred(c, &kernel, &mut scratch, smooth);
                }
                let (n, wide, tall) = (columns.len(), columns.len() + 2 * OVER, rows.len() + 2 * OVER);
                let on_sheet = |k: usize| gauss::mirror((columns.start + k) as isize - OVER as isize, w);
                let places: Vec<usize> = (0..wide).map(on_sheet).collect();
                wash.clear();
                wash.resize(wide * tall, None);
                off.clear();
                off.resize(wide * tall, 0.0);
                for i in 0..tall {
                    let y = gauss::mirror((rows.start + i) as isize - OVER as isize, h);
                    let (near, cover) = (&near[(y / CELL) * self.width..], cover.cover.row(y));
                    down.draw(self, y, columns.start.saturating_sub(OVER)..(columns.end + OVER).min(w));
                    for (k, &x) in places.iter().enumerate() {
                        // An area that is kept is kept whole, the foot of its edge too.
                        let kept = cover[x] & (bits::GROUND | bits::CLEARED) == bits::GROUND;
                        if !near[x / CELL] || cover[x] & bits::PAINT == 0 || kept {
                            continue;
                        }
                        let at = i * wide + k;
                        wash[at] = down.at(self, x, y);
                        if let Some((value, body)) = wash[at] {
                            off[at] = length([0, 1, 2].map(|c| smooth[c][at] - value * body[c]));
                        }
                    }
                }
                across.resize(n * tall, 0.0);
                for (from, to) in off.chunks_exact(wide).zip(across.chunks_exact_mut(n)) {
                    local_max::inside(from, OVER, to);
                }
                let mut top = vec![0.0; n];
                for (i, y) in rows.clone().enumerate() {
                    local_max::across_rows(across[i * n..(i + 2 * OVER + 1) * n].chunks_exact(n), &mut top);
                    for (k, m) in matte.row_mut(y)[columns.clone()].iter_mut().enumerate() {
                        let at = (i + OVER) * wide + k + OVER;
                        let Some((value, body)) = wash[at].filter(|_| *m > 1) else { continue };
                        let inside = self.soft[(y / CELL) * self.width + (columns.start + k) / CELL];
                        let r = [0, 1, 2].map(|c| smooth[c][at]);
                        let lowered = match own_fraction(r, value, body, noise) {
                            Some(_) if inside => value,
                            Some(own) => 0.5 * (own + value),
                            None => {
                                let covered = min(off[at] / max(top[k], 0.03), 1.0);
                                if covered > 0.9 { 1.0 } else { 1.0 - (1.0 - value) * (1.0 - covered) }
                            }
                        };
                        *m = (*m).min((lowered * f32::from(u16::MAX)).round() as u16);
                    }
                }
            }
        }
    }
}

/// The wash around a row of pixels: of the soft cells above and below, the nearest by far the most.
#[derive(Default)]
struct Down {
    /// The first column of cells.
    first: usize,
    /// Sums over weighted cells, and the weights; for pixels in soft cells, and for those around.
    sums: [Vec<([f32; 4], f32)>; 2],
}

impl Down {
    /// The cells that count for a pixel lie within as many of them, and how fast their weights fall.
    const REACH: [(usize, f32); 2] = [(1, 1.0), (2, 1.0 / 2.5)];

    /// Where a pixel lies among the centers of cells.
    fn place(pixel: usize) -> f32 {
        (pixel as f32 - (CELL as f32 - 1.0) / 2.0) * (1.0 / CELL as f32)
    }

    /// The cells within a reach of a place.
    fn near(place: f32, reach: usize, size: usize) -> Range<usize> {
        let low = max(place, 0.0) as usize;
        (low + 1).saturating_sub(reach)..(low + reach + 1).min(size)
    }

    /// Sums up for some columns of row `y`.
    fn draw(&mut self, fade: &Fade, y: usize, columns: Range<usize>) {
        let far = Self::REACH[1].0;
        let cells = (columns.start / CELL).saturating_sub(far)..(columns.end.div_ceil(CELL) + far).min(fade.width);
        self.first = cells.start;
        for (sums, (reach, fall)) in self.sums.iter_mut().zip(Self::REACH) {
            sums.clear();
            sums.resize(cells.len(), ([0.0; 4], 0.0));
            for row in Self::near(Self::place(y), reach, fade.height) {
                let weight = max(1.0 - (row as f32 - Self::place(y)).abs() * fall, 0.0);
                let at = row * fade.width + cells.start..row * fade.width + cells.end;
                for (((sum, total), wash), soft) in sums.iter_mut().zip(&fade.wash[at.clone()]).zip(&fade.soft[at]) {
                    sum.iter_mut().zip(wash).for_each(|(sum, v)| *sum += weight * v);
                    *total += if *soft { weight } else { 0.0 };
                }
            }
        }
    }

    /// Matte and body of the wash at a pixel of that row.
    fn at(&self, fade: &Fade, x: usize, y: usize) -> Option<(f32, [f32; 3])> {
        let around = usize::from(!fade.soft[(y / CELL) * fade.width + x / CELL]);
        let ((reach, fall), place) = (Self::REACH[around], Self::place(x));
        let (mut sum, mut total) = ([0.0; 4], 0.0);
        for column in Self::near(place, reach, fade.width) {
            let weight = max(1.0 - (column as f32 - place).abs() * fall, 0.0);
            let (below, of_all) = &self.sums[around][column - self.first];
            sum.iter_mut().zip(below).for_each(|(sum, v)| *sum += weight * v);
            total += weight * of_all;
        }
        let [value, r, g, b] = sum.map(|v| v / total);
        (total > 1e-3).then_some((value, [r, g, b]))
    }
}

/// How much of the wash's body a residual is, if it has the wash's hue and is no stronger than the wash there; `None` for
/// other paint.
fn own_fraction(residual: [f32; 3], value: f32, body: [f32; 3], noise: f32) -> Option<f32> {
    let square = dot(body, body);
    let t = dot(residual, body) / max(square, 1e-4);
    let off = length([0, 1, 2].map(|c| residual[c] - t * body[c]));
    (t <= value + 0.12 + noise / max(square.sqrt(), 1e-2) && off < 0.02 + noise + 0.12 * length(residual))
        .then(|| t.clamp(0.0, 1.0))
}
