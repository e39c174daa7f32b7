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
/// Second differences, and what is made of them, count in so many to the encoded unit.
const STEPS: f32 = 131_072.0;
/// No single pixel counts for more than this, in [`STEPS`].
const STRONGEST: i16 = 2000;
/// A pixel of a line is a ridge itself, by this share, in tenths, of what there is along it.
const ITSELF: i16 = 3;
/// And over the whole piece darker than what lies so many pixels beside it at 300 ppi, on either side by this share of its
/// strength: what is darker than one side is an edge.
const BESIDE: f32 = 2.0;
const SIDES: f32 = 0.3;
/// Places along the piece where its sides are looked at, each way from its middle, and steps from one to the next.
const PLACES: i32 = 3;
const APART: f32 = 2.0;

/// Measures ridges, and what that needs.
#[derive(Debug, Default)]
pub(super) struct Ridges {
    /// Lines are light.
    dark: bool,
    /// Pixels to one of 300 ppi.
    scale: f32,
    kernel: Vec<f32>,
    gray: Vec<f32>,
    across: Vec<f32>,
    smooth: Vec<f32>,
    /// The second differences along x and along y, half their sum and all their difference, and twice the mixed one.
    sum: Vec<i16>,
    difference: Vec<i16>,
    mixed: Vec<i16>,
    /// Those across a direction, and sums along it.
    ridge: Vec<i16>,
    ahead: Vec<i16>,
    /// The strongest, as [`keep_stronger`] writes it, and what of it is an edge on neither side, encoded.
    strongest: Vec<i16>,
    lines: Vec<f32>,
}

impl Ridges {
    /// `dark` is whether the paper is dark and its lines are light, `scale` how many pixels are one of 300 ppi.
    pub(super) fn new(dark: bool, scale: f32) -> Self {
        Self { dark, scale, kernel: gauss::kernel(SIGMA * scale), ..Self::default() }
    }

    /// Pixels that a tile must have to spare on each side.
    pub(super) fn halo(&self) -> usize {
        self.along() + self.apart() + self.kernel.len() - 1
    }

    /// The strongest ridge through each pixel of a tile, encoded; 0 where there is none.
    pub(super) fn strongest(&mut self, tile: &Tile) -> &[f32] {
        let (n, rows) = (tile.columns().len(), tile.rows().len());
        self.smooth(tile);
        self.second_differences(n, rows);
        self.strongest.clear();
        self.strongest.resize(n * rows, 0);
        for k in 0..DIRECTIONS.len() {
            self.along_direction(k, n);
        }
        self.drop_edges(n);
        &self.lines
    }

    /// How far sums along a direction reach.
    fn along(&self) -> usize {
        ((LENGTH + 1) as f32 * self.scale).ceil() as usize
    }

    /// From one pixel to the next in a second difference.
    fn apart(&self) -> usize {
        self.scale.round() as usize
    }

    /// Pixels in a row of what sums along a direction are made of, for a tile `n` pixels wide.
    fn width(&self, n: usize) -> usize {
        n + 2 * self.along()
    }

    /// From a pixel to that so many steps along a direction and beside it, in rows `width` long.
    fn offset(&self, direction: usize, along: f32, beside: f32, width: usize) -> isize {
        let (sin, cos) = DIRECTIONS[direction];
        let [x, y] = [along * cos - beside * sin, along * sin + beside * cos].map(|v| (v * self.scale).round() as isize);
        y * width as isize + x
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

    /// Second differences, with what sums along a direction reach over on each side.
    fn second_differences(&mut self, n: usize, rows: usize) {
        let (w, h, apart) = (self.width(n), rows + 2 * self.along(), self.apart());
        let wide = w + 2 * apart;
        [&mut self.sum, &mut self.difference, &mut self.mixed].into_iter().for_each(|plane| plane.resize(w * h, 0));
        let planes = self.sum.chunks_exact_mut(w).zip(self.difference.chunks_exact_mut(w)).zip(self.mixed.chunks_exact_mut(w));
        for (y, ((sum, difference), mixed)) in planes.enumerate() {
            let line = |dx: usize, dy: usize| &self.smooth[(y + dy * apart) * wide + dx * apart..][..w];
            let (above, below) = ([0, 1, 2].map(|dx| line(dx, 0)), [0, 1, 2].map(|dx| line(dx, 2)));
            let [left, here, right] = [0, 1, 2].map(|dx| line(dx, 1));
            for x in 0..w {
                let (beside, over) = (left[x] + right[x], above[1][x] + below[1][x]);
                sum[x] = counted(0.5 * (beside + over) - 2.0 * here[x]);
                difference[x] = counted(beside - over);
                mixed[x] = counted(0.5 * (above[0][x] + below[2][x] - above[2][x] - below[0][x]));
            }
        }
    }

    /// Sums ridges along one direction, and keeps what is stronger than along others.
    fn along_direction(&mut self, k: usize, n: usize) {
        let (w, along) = (self.width(n), self.along());
        let (sin, cos) = DIRECTIONS[k];
        // Of twice the angle. The product's upper half is a single step of the processor; what it is short of is doubled already.
        let [of_difference, of_mixed] = [cos * cos - sin * sin, 2.0 * sin * cos].map(|v| (v * 32767.0).round() as i16);
        let part = |a: i16, b: i16| ((i32::from(a) * i32::from(b)) >> 16) as i16;
        let len = self.sum.len();
        self.ridge.resize(len, 0);
        self.ahead.resize(len, 0);
        for (((out, sum), difference), mixed) in self.ridge.iter_mut().zip(&self.sum).zip(&self.difference).zip(&self.mixed) {
            *out = (sum - part(*difference, of_difference) - part(*mixed, of_mixed)).clamp(-STRONGEST, STRONGEST);
        }
        let steps: [isize; LENGTH] = std::array::from_fn(|i| self.offset(k, (i + 1) as f32, 0.0, w));
        sum_shifted(&self.ridge, steps, &mut self.ahead);
        // What lies behind a pixel lies ahead of one further back.
        let back = -self.offset(k, (LENGTH + 1) as f32, 0.0, w);
        for (y, strongest) in self.strongest.chunks_exact_mut(n).enumerate() {
            let first = (y + along) * w + along;
            let [ahead, behind] = [0, back].map(|offset| &self.ahead[first.wrapping_add_signed(offset)..][..n]);
            keep_stronger(k as i16, ahead, behind, &self.ridge[first..][..n], strongest);
        }
    }

    /// Leaves out what is darker than one side only.
    fn drop_edges(&mut self, n: usize) {
        let wide = self.width(n) + 2 * self.apart();
        let border = self.along() + self.apart();
        let beside = |k: usize, beside: f32| {
            std::array::from_fn(|place| self.offset(k, APART * (place as f32 - PLACES as f32), beside, wide))
        };
        let places: [[[isize; 2 * PLACES as usize + 1]; 3]; DIRECTIONS.len()] =
            std::array::from_fn(|k| [0.0, -BESIDE, BESIDE].map(|by| beside(k, by)));
        self.lines.clear();
        self.lines.resize(self.strongest.len(), 0.0);
        for (y, (lines, strongest)) in self.lines.chunks_exact_mut(n).zip(self.strongest.chunks_exact(n)).enumerate() {
            let first = (border + y) * wide + border;
            for x in (0..n).filter(|x| strongest[*x] >= 16) {
                let over =
                    |offsets: &[isize]| offsets.iter().map(|o| self.smooth[(first + x).wrapping_add_signed(*o)]).sum::<f32>();
                let [here, left, right] = places[usize::from(strongest[x] as u16 % 16)].each_ref().map(|offsets| over(offsets));
                let strength = f32::from(strongest[x] >> 4) * (8.0 / (LENGTH as f32 * STEPS));
                if min(left, right) - here >= (2 * PLACES + 1) as f32 * SIDES * strength {
                    lines[x] = strength;
                }
            }
        }
    }
}

/// Keeps the weaker of the sums `ahead` and `behind` where it is stronger than what was kept and `here` is a ridge itself: an eighth
/// of it in the upper twelve bits, direction `k` in the lower four, so that what is stronger is greater.
fn keep_stronger(k: i16, ahead: &[i16], behind: &[i16], here: &[i16], strongest: &mut [i16]) {
    for (((ahead, behind), here), strongest) in ahead.iter().zip(behind).zip(here).zip(strongest) {
        let weaker = *ahead.min(behind) >> 3;
        let is_ridge = -i16::from(10 * here > ITSELF * weaker);
        *strongest = (*strongest).max(((weaker << 4) | k) & is_ridge);
    }
}

/// An encoded value in [`STEPS`], as far as they go.
fn counted(value: f32) -> i16 {
    const FARTHEST: f32 = 8000.0;
    min(max(value * STEPS, -FARTHEST), FARTHEST) as i32 as i16
}

/// The sum of the values at some offsets from each; near the ends, what was there before.
fn sum_shifted(values: &[i16], offsets: [isize; LENGTH], out: &mut [i16]) {
    let [first, last] = [offsets.into_iter().min(), offsets.into_iter().max()].map(|offset| offset.unwrap_or(0));
    let (from, to) = (usize::try_from(-first).unwrap_or(0), values.len() - usize::try_from(last).unwrap_or(0));
    let out = &mut out[from..to];
    let shifted = offsets.map(|offset| &values[from.wrapping_add_signed(offset)..][..out.len()]);
    for (i, out) in out.iter_mut().enumerate() {
        *out = shifted.iter().map(|values| values[i]).sum();
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
