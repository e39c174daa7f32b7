//! Ridges of a tile: how far each pixel is darker than both its sides, all along a straight piece through it.

use crate::color::math::{max, min};
use crate::filter::gauss;
use crate::paper::tile::Tile;

/// Sine and cosine of the directions looked along, over half a turn.
const DIRECTIONS: [(f32, f32); 12] = [
    (0.0, 1.0),
    (0.258_819_05, 0.965_925_8),
    (0.5, 0.866_025_4),
    (0.707_106_77, 0.707_106_77),
    (0.866_025_4, 0.5),
    (0.965_925_8, 0.258_819_05),
    (1.0, 0.0),
    (0.965_925_8, -0.258_819_05),
    (0.866_025_4, -0.5),
    (0.707_106_77, -0.707_106_77),
    (0.5, -0.866_025_4),
    (0.258_819_05, -0.965_925_8),
];
/// Weights of the channels: noise is least in green, and coding blurs the other two.
const GRAY: [f32; 3] = [0.25, 0.5, 0.25];
/// Smoothing before the second difference, in pixels at 300 ppi.
const SIGMA: f32 = 0.9;
/// Steps of a pixel at 300 ppi summed along a direction, each way.
const LENGTH: usize = 7;
/// No single pixel counts for more than this, encoded.
const STRONGEST: f32 = 0.015;
/// A pixel of a line is a ridge itself, by this share of what there is along it.
const ITSELF: f32 = 0.3;
/// And over the whole piece darker than what lies so many pixels beside it at 300 ppi, on either side by this share of its
/// strength: what is darker than one side is an edge.
const BESIDE: f32 = 2.0;
const SIDES: f32 = 0.3;

/// Measures ridges, and what that needs.
#[derive(Debug)]
pub(super) struct Ridges {
    /// Lines are light.
    dark: bool,
    /// Pixels to one of 300 ppi.
    scale: f32,
    kernel: Vec<f32>,
    gray: Vec<f32>,
    across: Vec<f32>,
    smooth: Vec<f32>,
    /// Second differences along x, along y, and mixed.
    second: [Vec<f32>; 3],
    /// Those across a direction.
    ridge: Vec<f32>,
    half: Vec<f32>,
    direction: Vec<u8>,
    strongest: Vec<f32>,
}

impl Ridges {
    /// `dark` is whether the paper is dark and its lines are light, `scale` how many pixels are one of 300 ppi.
    pub(super) fn new(dark: bool, scale: f32) -> Self {
        Self {
            dark,
            scale,
            kernel: gauss::kernel(SIGMA * scale),
            gray: Vec::new(),
            across: Vec::new(),
            smooth: Vec::new(),
            second: [const { Vec::new() }; 3],
            ridge: Vec::new(),
            half: Vec::new(),
            direction: Vec::new(),
            strongest: Vec::new(),
        }
    }

    /// Pixels that a tile must have to spare on each side.
    pub(super) fn halo(&self) -> usize {
        2 * self.along() + self.beside() + self.kernel.len() - 1
    }

    /// The strongest ridge through each pixel of a tile, encoded; 0 where there is none.
    pub(super) fn strongest(&mut self, tile: &Tile) -> &[f32] {
        let (n, rows) = (tile.columns().len(), tile.rows().len());
        self.smooth(tile);
        self.second_differences(n, rows);
        self.strongest.clear();
        self.strongest.resize(n * rows, 0.0);
        self.direction.resize(n * rows, 0);
        for k in 0..DIRECTIONS.len() {
            self.along_direction(k, n, rows);
        }
        self.drop_edges(n);
        &self.strongest
    }

    /// How far sums along a direction reach, one pixel more than their length.
    fn along(&self) -> usize {
        ((LENGTH + 1) as f32 * self.scale).ceil() as usize
    }

    fn beside(&self) -> usize {
        (BESIDE * self.scale).ceil() as usize
    }

    /// Pixels in a row of `smooth` for a tile `n` pixels wide.
    fn smooth_width(&self, n: usize) -> usize {
        n + 4 * self.along() + 2 * self.beside()
    }

    fn smooth(&mut self, tile: &Tile) {
        let (stride, tall) = (tile.stride(), tile.tall());
        let weights = GRAY.map(|weight| if self.dark { -weight } else { weight });
        self.gray.resize(stride * tall, 0.0);
        for (i, row) in self.gray.chunks_exact_mut(stride).enumerate() {
            let [r, g, b] = [0, 1, 2].map(|c| tile.residual(c, i));
            for (((out, r), g), b) in row.iter_mut().zip(r).zip(g).zip(b) {
                *out = weights[0] * r + weights[1] * g + weights[2] * b;
            }
        }
        gauss::blur_block(&self.gray, stride, &self.kernel, &mut self.across, &mut self.smooth);
    }

    /// Second differences, with what two sums along a direction reach over on each side.
    fn second_differences(&mut self, n: usize, rows: usize) {
        let (wide, step) = (self.smooth_width(n), self.scale.round() as usize);
        let (w, h) = (n + 4 * self.along(), rows + 4 * self.along());
        let corner = self.beside() - step;
        self.ridge.resize(w * h, 0.0);
        let [xx, yy, xy] = &mut self.second;
        [&mut *xx, yy, xy].into_iter().for_each(|plane| plane.resize(w * h, 0.0));
        let rows = xx.chunks_exact_mut(w).zip(yy.chunks_exact_mut(w)).zip(xy.chunks_exact_mut(w));
        for (y, ((xx, yy), xy)) in rows.enumerate() {
            let line = |dx: usize, dy: usize| &self.smooth[(corner + y + dy * step) * wide + corner + dx * step..][..w];
            let (above, below) = ([0, 1, 2].map(|dx| line(dx, 0)), [0, 1, 2].map(|dx| line(dx, 2)));
            let [left, here, right] = [0, 1, 2].map(|dx| line(dx, 1));
            for x in 0..w {
                xx[x] = left[x] - 2.0 * here[x] + right[x];
                yy[x] = above[1][x] - 2.0 * here[x] + below[1][x];
                xy[x] = 0.25 * (above[0][x] + below[2][x] - above[2][x] - below[0][x]);
            }
        }
    }

    /// Sums ridges along one direction, and keeps what is stronger than along others.
    fn along_direction(&mut self, k: usize, n: usize, rows: usize) {
        let (sin, cos) = DIRECTIONS[k];
        let along = self.along();
        let (w, wide) = (n + 4 * along, n + 2 * along);
        let (of_xx, of_xy, of_yy) = (sin * sin, -2.0 * sin * cos, cos * cos);
        let [xx, yy, xy] = &self.second;
        for (((out, xx), yy), xy) in self.ridge.iter_mut().zip(xx).zip(yy).zip(xy) {
            *out = min(max(of_xx * xx + of_xy * xy + of_yy * yy, -STRONGEST), STRONGEST);
        }
        let offset = |steps: usize| [cos, sin].map(|v| (v * steps as f32 * self.scale).round() as isize);
        self.half.clear();
        self.half.resize(wide * (rows + 2 * along), 0.0);
        for steps in 1..=LENGTH {
            let [dx, dy] = offset(steps);
            for (y, out) in self.half.chunks_exact_mut(wide).enumerate() {
                let from = (y + along).wrapping_add_signed(dy) * w + along.wrapping_add_signed(dx);
                out.iter_mut().zip(&self.ridge[from..from + wide]).for_each(|(out, v)| *out += v);
            }
        }
        // What lies behind a pixel lies ahead of one further back.
        let [dx, dy] = offset(LENGTH + 1);
        let kept = self.strongest.chunks_exact_mut(n).zip(self.direction.chunks_exact_mut(n));
        for (y, (strongest, direction)) in kept.enumerate() {
            let ahead = &self.half[(y + along) * wide + along..][..n];
            let behind = &self.half[(y + along).wrapping_add_signed(-dy) * wide + along.wrapping_add_signed(-dx)..][..n];
            let here = &self.ridge[(y + 2 * along) * w + 2 * along..][..n];
            for x in 0..n {
                let weaker = min(ahead[x], behind[x]) * (1.0 / LENGTH as f32);
                if weaker > strongest[x] && here[x] > ITSELF * weaker {
                    (strongest[x], direction[x]) = (weaker, k as u8);
                }
            }
        }
    }

    /// Leaves out what is darker than one side only.
    fn drop_edges(&mut self, n: usize) {
        /// Places along the piece that are looked at, each way from its middle, and steps from one to the next.
        const PLACES: i32 = 3;
        const APART: f32 = 2.0;
        let (wide, first) = (self.smooth_width(n), 2 * self.along() + self.beside());
        for (i, (strongest, direction)) in
            self.strongest.iter_mut().zip(&self.direction).enumerate().filter(|(_, (v, _))| **v > 0.0)
        {
            let (sin, cos) = DIRECTIONS[usize::from(*direction)];
            let at = |along: f32, beside: f32| {
                let offset = [along * cos - beside * sin, along * sin + beside * cos].map(|v| (v * self.scale).round() as isize);
                self.smooth
                    [(first + i / n).wrapping_add_signed(offset[1]) * wide + (first + i % n).wrapping_add_signed(offset[0])]
            };
            let (mut left, mut right) = (0.0, 0.0);
            for place in -PLACES..=PLACES {
                let along = APART * place as f32;
                let here = at(along, 0.0);
                left += at(along, -BESIDE) - here;
                right += at(along, BESIDE) - here;
            }
            if min(left, right) < (2 * PLACES + 1) as f32 * SIDES * *strongest {
                *strongest = 0.0;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::{Plane, Samples, Sheet};
    use crate::paper::{Overview, PaperField};

    /// The strongest ridge at each pixel of a gray picture on light paper.
    fn ridges(w: usize, h: usize, gray: impl Fn(usize, usize) -> u8) -> Vec<f32> {
        let samples = (0..w * h).flat_map(|i| [gray(i % w, i / w); 3]).collect();
        let sheet = Sheet::new(w, h, Samples::Eight(samples), None);
        let overview = Overview::new(&sheet).unwrap();
        let outside = Plane::new(overview.mean.width(), overview.mean.height(), "a mask").unwrap();
        let field = PaperField::estimate(&overview, &outside, None, true).unwrap();
        let mut found = Ridges::new(false, 1.0);
        let mut tile = Tile::default();
        tile.load(&sheet, &field, 0..h, 0..w, found.halo());
        found.strongest(&tile).to_vec()
    }

    #[test]
    fn a_line_is_a_ridge_in_every_direction_and_an_edge_is_none() {
        let (w, h) = (90, 90);
        let flat = ridges(w, h, |_, _| 230);
        assert!(flat.iter().all(|v| *v == 0.0), "bare paper");
        for (dx, dy) in [(1, 0), (2, 1), (1, 1), (1, 2), (0, 1), (-1, 2), (-1, 1), (-2, 1)] {
            // Distance from a straight line through the middle.
            let off = |x: usize, y: usize| {
                let (x, y) = (x as f32 - 45.0, y as f32 - 45.0);
                (x * dy as f32 - y * dx as f32) / ((dx * dx + dy * dy) as f32).sqrt()
            };
            let line = ridges(w, h, |x, y| if off(x, y).abs() < 0.75 { 222 } else { 230 });
            let at = 45 * w + 45;
            assert!(line[at] > 0.004, "{dx} {dy}: a line 8 counts deep gives {}", line[at]);
            // Both edges of a broad stroke, dark and light.
            for stroke in [200, 245] {
                let edges = ridges(w, h, |x, y| if off(x, y).abs() < 8.0 { stroke } else { 230 });
                let near = (0..w * h).filter(|i| {
                    (off(i % w, i / w).abs() - 8.0).abs() < 4.0 && (15..75).contains(&(i % w)) && (15..75).contains(&(i / w))
                });
                let strongest = near.fold(0.0_f32, |top, i| top.max(edges[i]));
                assert!(strongest < 0.1 * line[at], "{dx} {dy}: an edge gives {strongest}");
            }
        }
    }
}
