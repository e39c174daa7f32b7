//! Washes that run out to nothing.
//!
//! A wash laid wet fades without an edge. By convention (what a painter expects on a dark ground) it is solid down to
//! half of its body's strength; below that the matte falls to 0 with what remains. The body's strength is the highest
//! contrast that can be climbed to from a pixel without crossing an edge or changing hue: a watershed of the contrast
//! (Vincent and Soille 1991) whose basins are merged where their hue says one wash. Flat washes, however pale or mottled,
//! have no such climb.
//!
//! All this is slow in space and so is done on cells of 4 x 4 pixels.

use std::collections::BTreeMap;

use super::cover::{Cover, bits};
use super::evidence::{CONTRAST_STEPS, Evidence};
use crate::color::math::{max, min};
use crate::color::transfer::Curves;
use crate::error::Result;
use crate::filter::grid::{self, beside};
use crate::filter::order::{median, quantile};
use crate::filter::vector::{dot, length};
use crate::filter::{Connectivity, Regions, gauss, local_max};
use crate::image::Plane;
use crate::paper::PaperField;

mod lowered;

/// Side of a cell in pixels.
pub const CELL: usize = 4;
/// The share of its body's strength, in light, from which on a wash is solid.
const SOLID: f32 = 0.5;
/// A step counts as an edge when it is steeper than this share of the local contrast a pixel. A blurred step of the
/// full contrast is about twice as steep.
const EDGE: f32 = 0.055;
/// As `EDGE`, from which on a shore is an edge and no run-out.
const CLIFF: f32 = 0.085;
/// And when some pixel of it is steeper than this share of the local contrast: a step in the scan's own blur is twice as
/// steep, a wash that runs out over a few pixels half.
const SHARP: f32 = 0.2;
/// Hues agree when the cosine between their directions off the paper is larger.
const SAME_HUE: f32 = 0.97;
/// Cells whose pixels lie further apart than this share of their strength hold lines, not a wash.
const ROUGH: f32 = 0.15;
/// As `SAME_HUE`, between the weakest and the strongest part of one wash: its hue changes with its depth.
const KIN: f32 = 0.93;
/// A slope joins its solid part smoothly when its last cell is above this.
const SMOOTH_JOIN: f32 = 0.7;
/// How far the residual of faint paint may lie off its hue, encoded.
const WOBBLE: f32 = 0.006;
/// Contrast too small to have a hue.
const NO_HUE: f32 = 0.012;

/// What is known of each cell.
struct Cells {
    width: usize,
    height: usize,
    /// Mean residual of the wash, lines drawn over it left out; spread among cells that no edge divides.
    residual: Vec<[f32; 3]>,
    /// Its length.
    strength: Vec<f32>,
    /// Painted, and no edge runs through.
    smooth: Vec<bool>,
    /// Painted, and steeper than a wash that runs out ever is, or than paper is uneven.
    cliff: Vec<bool>,
    /// Painted, whatever is decided about islands: a decision about one must not change the wash around it.
    painted: Vec<bool>,
    /// Beyond the sheet.
    outside: Vec<bool>,
    /// Bare paper that reaches the outside. Where a wash thins out into a white that paint encloses, that is its color.
    open: Vec<bool>,
}

impl Cells {
    fn new(evidence: &Evidence, cover: &Cover) -> Result<Self> {
        let coarse = &evidence.coarse;
        let (w, h) = (coarse.width(), coarse.height());
        let mut residual = Plane::from_vec(w, h, coarse.data().iter().map(|v| [v[0], v[1], v[2]]).collect());
        let spread: Vec<f32> = coarse.data().iter().map(|v| v[3]).collect();
        blur_colors(&mut residual, 0.55)?;
        let counts = Count::of_cells(cover, w, h);
        let painted: Vec<bool> = counts.iter().map(|count| usize::from(count.painted()) > CELL * CELL / 2).collect();
        let outside: Vec<bool> = counts.iter().map(|count| count.outside()).collect();
        let mut open: Vec<bool> = counts.iter().map(|count| count.cleared()).collect();
        let mut bare: Vec<f32> = (0..w * h).filter(|&i| !painted[i] && !outside[i]).map(|i| spread[i]).collect();
        let tooth = 2.0 * median(&mut bare);
        let mut calm: Vec<bool> = residual.data().iter().zip(&spread).map(|(r, s)| *s < max(ROUGH * length(*r), tooth)).collect();
        look_under_lines(&mut residual, &painted, &mut calm)?;
        let residual = residual.into_vec();
        let strength: Vec<f32> = residual.iter().map(|r| length(*r)).collect();
        // Steepness a pixel, by central differences over two cells.
        let mut steep = vec![0.0; w * h];
        for y in 0..h {
            let row = |y: usize| &residual[y * w..][..w];
            let (above, here, below) = (row(y.saturating_sub(1)), row(y), row((y + 1).min(h - 1)));
            for (x, steep) in steep[y * w..][..w].iter_mut().enumerate() {
                let (left, right) = (here[x.saturating_sub(1)], here[(x + 1).min(w - 1)]);
                let (up, down) = (above[x], below[x]);
                let mut sum = 0.0;
                for c in 0..3 {
                    let (dx, dy) = (right[c] - left[c], down[c] - up[c]);
                    sum += dx * dx + dy * dy;
                }
                *steep = sum.sqrt() / (2 * CELL) as f32;
            }
        }
        let mut flat: Vec<f32> = (0..w * h).filter(|&i| !painted[i] && !outside[i]).map(|i| steep[i]).collect();
        let noise = 3.2 * median(&mut flat);
        let strength = Plane::from_vec(w, h, strength);
        let top = local_max::square(&strength, 2)?;
        let steeper = |i: usize, share: f32| steep[i] > max(share * top.data()[i], noise);
        let smooth = (0..w * h).map(|i| painted[i] && calm[i] && !steeper(i, EDGE)).collect();
        let cliff = (0..w * h)
            .map(|i| painted[i] && steeper(i, CLIFF) && steepest(&evidence.contrast, i % w, i / w) > SHARP * top.data()[i])
            .collect();
        (0..w * h).for_each(|i| open[i] &= !painted[i] && !outside[i]);
        Ok(Self { width: w, height: h, residual, strength: strength.into_vec(), smooth, cliff, painted, outside, open })
    }

    /// Spreads residuals among smooth neighbors, so that granulation does not look like hills: about 8 pixels.
    fn diffuse(&mut self) {
        const ROUNDS: usize = 9;
        let (w, h) = (self.width, self.height);
        // Smooth cells alone, close together in memory.
        let mut number = vec![0_u32; w * h];
        let places: Vec<usize> = (0..w * h).filter(|&i| self.smooth[i]).collect();
        (0_u32..).zip(&places).for_each(|(n, i)| number[*i] = n);
        // Each with its smooth neighbors; itself stands in for one that is missing.
        let around: Vec<[u32; 4]> = places
            .iter()
            .map(|&i| {
                let mut four = [number[i]; 4];
                four.iter_mut().zip(beside(i, w, h).filter(|&j| self.smooth[j])).for_each(|(f, j)| *f = number[j]);
                four
            })
            .collect();
        // A fourth value, of no use, makes a vector of each.
        let mut now: Vec<[f32; 4]> = places.iter().map(|&i| self.residual[i]).map(|[r, g, b]| [r, g, b, 0.0]).collect();
        let mut next = now.clone();
        for _ in 0..ROUNDS {
            for ((out, i), four) in next.iter_mut().zip(&now).zip(&around) {
                let [a, b, c, d] = four.map(|j| now[j as usize]);
                *out = [0, 1, 2, 3].map(|k| (i[k] + a[k] + b[k] + c[k] + d[k]) * 0.2);
            }
            std::mem::swap(&mut now, &mut next);
        }
        for (i, [r, g, b, _]) in places.into_iter().zip(now) {
            self.residual[i] = [r, g, b];
            self.strength[i] = length(self.residual[i]);
        }
    }

    /// Whether two cells are of the same hue.
    fn alike(&self, a: usize, b: usize, least: f32) -> bool {
        same_hue((self.residual[a], self.strength[a]), (self.residual[b], self.strength[b]), least)
    }
}

/// Whether two residuals, each with its length, are of the same hue.
fn same_hue((a, la): ([f32; 3], f32), (b, lb): ([f32; 3], f32), least: f32) -> bool {
    let along = dot(a, b);
    // The weaker of two may point astray by as much as the paper is uncertain.
    let astray = |weak: f32, strong: f32| along > 0.0 && weak * weak - (along / strong) * (along / strong) < WOBBLE * WOBBLE;
    min(la, lb) < NO_HUE || along > least * la * lb || astray(min(la, lb), max(la, lb))
}

/// How many pixels of a cell are painted, outside and cleared, counted at once: five bits each.
#[derive(Clone, Copy)]
struct Count(u16);

impl Count {
    const OUTSIDE: u16 = 1 << 5;
    const CLEARED: u16 = 1 << 10;

    /// Of all cells, `w` by `h`.
    fn of_cells(cover: &Cover, w: usize, h: usize) -> Vec<Self> {
        let of_pixel = |c: &u8| {
            u16::from(c & (bits::PAINT | bits::FREE) == bits::PAINT)
                + u16::from(c & bits::OUTSIDE != 0) * Self::OUTSIDE
                + u16::from(c & bits::CLEARED != 0) * Self::CLEARED
        };
        let mut counts = vec![Self(0); w * h];
        for y in 0..cover.cover.height() {
            let row = &mut counts[(y / CELL) * w..][..w];
            let (whole, rest) = cover.cover.row(y).as_chunks::<CELL>();
            for (count, pixels) in row.iter_mut().zip(whole) {
                count.0 += pixels.iter().map(of_pixel).sum::<u16>();
            }
            row[w - 1].0 += rest.iter().map(of_pixel).sum::<u16>();
        }
        counts
    }

    fn painted(self) -> u16 {
        self.0 % Self::OUTSIDE
    }

    fn outside(self) -> bool {
        self.0 % Self::CLEARED >= Self::OUTSIDE
    }

    fn cleared(self) -> bool {
        self.0 >= Self::CLEARED
    }
}

/// The steepest change of contrast a pixel in a cell and a pixel around it, encoded.
fn steepest(contrast: &Plane<u16>, column: usize, row: usize) -> f32 {
    let (w, h) = (contrast.width(), contrast.height());
    let (left, right) = ((column * CELL).max(1), ((column + 1) * CELL + 1).min(w - 1));
    let mut greatest = 0_u16;
    for y in (row * CELL).max(1)..((row + 1) * CELL + 1).min(h - 1) {
        let here = contrast.row(y);
        let across = here[left - 1..].iter().zip(&here[left + 1..=right]);
        let down = contrast.row(y - 1)[left..right].iter().zip(&contrast.row(y + 1)[left..right]);
        greatest = across.chain(down).fold(greatest, |greatest, (a, b)| greatest.max(a.abs_diff(*b)));
    }
    f32::from(greatest) / (2.0 * CONTRAST_STEPS)
}

/// Where a line runs over a wash, gives its cells the residual of the wash beside it: the weakest within two cells, and of
/// those the strongest within two cells (an opening, Serra 1982), so that the shape of broader paint stays.
fn look_under_lines(residual: &mut Plane<[f32; 3]>, painted: &[bool], calm: &mut [bool]) -> Result<()> {
    const REACH: usize = 2;
    let (w, h) = (residual.width(), residual.height());
    let strength = Plane::from_vec(w, h, residual.data().iter().map(|r| length(*r)).collect());
    let weakest = local_max::least(&strength, REACH)?;
    let opened = local_max::square(&weakest, REACH)?;
    let around = |i: usize| {
        let (x, y) = (i % w, i / w);
        (y.saturating_sub(REACH)..(y + REACH + 1).min(h))
            .flat_map(move |y| (x.saturating_sub(REACH)..(x + REACH + 1).min(w)).map(move |x| y * w + x))
    };
    let before = residual.clone();
    let calm_before = calm.to_vec();
    let (strength, weakest, opened) = (strength.data(), weakest.data(), opened.data());
    for (i, out) in residual.data_mut().iter_mut().enumerate() {
        if !painted[i] || strength[i] <= 1.25 * opened[i] + 0.02 {
            continue;
        }
        // Of equally weak cells the first, of equally strong ones of those the last.
        let first_weakest = |j: usize| around(j).find(|&k| strength[k] == weakest[j]);
        let under = around(i).filter(|&j| weakest[j] == opened[i]).filter_map(first_weakest).max();
        if let Some(under) = under.filter(|&under| painted[under]) {
            *out = before.data()[under];
            calm[i] = calm_before[under];
        }
    }
    Ok(())
}

/// Basins of the watershed, merged as they meet. The root of each is the cell at its top.
struct Basins {
    parent: Vec<u32>,
    /// Smooth cells, strongest first.
    order: Vec<u32>,
}

const NONE: u32 = u32::MAX;

impl Basins {
    /// Floods the smooth cells from the strongest down.
    fn flood(cells: &Cells) -> Self {
        let (n, strength) = (cells.residual.len(), &cells.strength);
        // Strongest first, then by place. A strength is not negative, so its bits sort as it does.
        let key = |i: usize| (u64::from(!strength[i].to_bits()) << 32) | i as u64;
        // A passage a cell or two wide is a gap in an edge.
        let (w, h) = (cells.width, cells.height);
        let broad = |i: usize| {
            let (x, y) = (i % w, i / w);
            (y.saturating_sub(1)..(y + 2).min(h))
                .all(|y| cells.smooth[y * w..][x.saturating_sub(1)..(x + 2).min(w)].iter().all(|s| *s))
        };
        let mut order: Vec<u64> = (0..n).filter(|&i| broad(i)).map(key).collect();
        order.sort_unstable();
        let order = order.into_iter().map(|k| (k & u64::from(u32::MAX)) as u32).collect();
        let mut basins = Self { parent: vec![NONE; n], order };
        for at in 0..basins.order.len() {
            let i = basins.order[at] as usize;
            basins.parent[i] = i as u32;
            let mut roots = [NONE; 4];
            for (slot, j) in roots.iter_mut().zip(beside(i, cells.width, cells.height)) {
                if basins.parent[j] != NONE && cells.alike(i, j, SAME_HUE) {
                    let root = basins.root(j as u32);
                    // Hue may drift a little from cell to cell, but not from one paint to another.
                    if cells.alike(i, root as usize, KIN) {
                        *slot = root;
                    }
                }
            }
            let stronger = |a: &u32, b: &u32| strength[*a as usize].total_cmp(&strength[*b as usize]).then(b.cmp(a));
            let Some(best) = roots.into_iter().filter(|r| *r != NONE).max_by(stronger) else { continue };
            basins.parent[i] = best;
            for other in roots.into_iter().filter(|r| *r != NONE && *r != best) {
                if basins.parent[other as usize] == other && cells.alike(other as usize, best as usize, KIN) {
                    basins.parent[other as usize] = best;
                }
            }
        }
        basins
    }

    /// Joins basins that a line or an edge drawn over one wash divides: on both sides of it, all painted between, the wash
    /// is of one hue and strength.
    fn bridge(&mut self, cells: &Cells) {
        /// How wide what divides them may be, in cells.
        const REACH: usize = 6;
        /// How far the strengths may differ, as a share and encoded.
        const ALIKE: f32 = 0.15;
        const NOISE: f32 = 0.006;
        /// Places across which two basins must meet so.
        const LEAST: u32 = 4;
        let (w, h) = (cells.width, cells.height);
        let mut meetings: BTreeMap<(u32, u32), u32> = BTreeMap::new();
        for from in 0..w * h {
            if self.parent[from] == NONE {
                continue;
            }
            let (x, y) = (from % w, from / w);
            for (step, room) in [(1, w - 1 - x), (w, h - 1 - y)] {
                let beyond = (1..=REACH.min(room)).map(|i| from + i * step);
                let divided = beyond.clone().take_while(|&i| self.parent[i] == NONE && cells.painted[i]).count();
                let Some(to) = beyond.clone().nth(divided).filter(|&to| divided > 0 && self.parent[to] != NONE) else { continue };
                let (here, there) = (cells.residual[from], cells.residual[to]);
                let (one, other) = (self.root(from as u32), self.root(to as u32));
                let apart = length([0, 1, 2].map(|c| here[c] - there[c]));
                let alike = apart < ALIKE * max(cells.strength[from], cells.strength[to]) + NOISE;
                if one != other && alike && cells.alike(from, to, SAME_HUE) {
                    *meetings.entry((one.min(other), one.max(other))).or_insert(0) += 1;
                }
            }
        }
        for ((one, other), count) in meetings {
            let (one, other) = (self.root(one), self.root(other));
            if count >= LEAST && one != other && cells.alike(one as usize, other as usize, KIN) {
                let first_stronger = cells.strength[one as usize] >= cells.strength[other as usize];
                let (strong, weak) = if first_stronger { (one, other) } else { (other, one) };
                self.parent[weak as usize] = strong;
            }
        }
    }

    fn root(&mut self, mut i: u32) -> u32 {
        while self.parent[i as usize] != i {
            let up = self.parent[self.parent[i as usize] as usize];
            self.parent[i as usize] = up;
            i = up;
        }
        i
    }

    /// The body of each root's wash: the mean of its strongest cells.
    fn bodies(&self, cells: &Cells, root: &[u32]) -> Vec<[f32; 3]> {
        /// So large a share of a wash is taken for its body; a single cell would be the wettest rim.
        const SHARE: f32 = 0.03;
        const LEAST: f32 = 6.0;
        let n = self.parent.len();
        let mut size = vec![0.0_f32; n];
        self.order.iter().for_each(|i| size[root[*i as usize] as usize] += 1.0);
        let mut taken = vec![0.0_f32; n];
        let mut sum = vec![[0.0_f32; 3]; n];
        for &i in &self.order {
            let root = root[i as usize] as usize;
            if taken[root] < max(SHARE * size[root], LEAST) {
                taken[root] += 1.0;
                (0..3).for_each(|c| sum[root][c] += cells.residual[i as usize][c]);
            }
        }
        sum.iter().zip(&taken).map(|(s, n)| s.map(|v| v / max(*n, 1.0))).collect()
    }
}

/// Where washes run out, and how far.
#[derive(Debug)]
pub struct Fade {
    /// Of the grid of cells.
    width: usize,
    height: usize,
    /// Matte of each cell, and the residual of the wash where it begins to be solid; zero where not `soft`.
    wash: Vec<[f32; 4]>,
    soft: Vec<bool>,
}

/// A region weaker than the solid part of its wash.
#[derive(Clone, Copy, Default)]
struct Slope {
    /// Its cells, and the sum of what remains of the wash in them.
    size: u32,
    sum: f32,
    /// Sides toward the solid part of its wash, and those of them that are a step.
    contacts: u32,
    steps: u32,
    /// Cells beside bare paper without an edge, and the sum of what remains in them.
    border: u32,
    border_sum: f32,
    /// Those in which the wash has run out, and those of them beside paper that reaches the outside.
    shores: u32,
    shore: u32,
    /// Cells beside paper that reaches the outside, with an edge.
    hard: u32,
}

impl Slope {
    /// Adds a cell; whether it lies beside paper that reaches the outside, beside any bare paper, and at an edge.
    fn add(&mut self, value: f32, open: bool, bare: bool, edge: bool) {
        /// To less than this a wash has run out at its shore.
        const OUT: f32 = 0.6;
        self.size += 1;
        self.sum += value;
        self.hard += u32::from(open && edge);
        if edge || !bare {
            return;
        }
        self.border += 1;
        self.border_sum += value;
        self.shores += u32::from(value < OUT);
        self.shore += u32::from(open && value < OUT);
    }

    /// Whether a wash really runs out there.
    fn runs_out(&self) -> bool {
        /// How many times its shores, those of whites in it too, the line may be on which a slope has reached the solid part
        /// of its wash. In mottled paint that line winds around every blotch.
        const WINDING: u32 = 5;
        /// What remains at the border, as a share of what remains on an average: of a wash that runs out less, of mottled
        /// paint as much.
        const DOWN: f32 = 0.94;
        /// If it is larger than this, in cells.
        const LARGE: u32 = 50;
        // A shore of some length, for what has run out over it, and more of it than of edges.
        let shore = self.shore >= 3 && 40 * self.shore * self.shore >= self.size && self.shore > self.hard;
        // Where a real slope meets the solid part of its wash it has reached it; a flat wash taken for the foot of other
        // paint meets that paint, or its own other half, at a step.
        let joined = self.contacts > 0 && self.steps * 5 <= self.contacts * 2 && self.contacts <= WINDING * self.shores;
        let down = self.size <= LARGE || self.border_sum * self.size as f32 <= DOWN * self.sum * self.border as f32;
        self.size >= 12 && shore && joined && down
    }
}

/// A painted region beside which there may be a wash it belongs to.
#[derive(Clone)]
struct Patch {
    /// Sides toward bare paper, and toward an edge.
    shore: u32,
    hard: u32,
    /// Of its cells.
    strengths: Vec<f32>,
    sum: [f32; 3],
    /// The nearest soft cell and its distance.
    wash: u32,
    distance: u8,
}

impl Default for Patch {
    fn default() -> Self {
        Self { shore: 0, hard: 0, strengths: Vec::new(), sum: [0.0; 3], wash: NONE, distance: u8::MAX }
    }
}

impl Fade {
    /// Looks for run-outs in the paint, whatever is decided about the ground in it; `None` where there are none. What is
    /// cleared in the cover is the ground that reaches the outside.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn find(evidence: &Evidence, cover: &Cover, field: &PaperField) -> Result<Option<Self>> {
        let mut cells = Cells::new(evidence, cover)?;
        cells.diffuse();
        Self::of_cells(&cells, field)
    }

    fn of_cells(cells: &Cells, field: &PaperField) -> Result<Option<Self>> {
        let (w, h) = (cells.width, cells.height);
        let mut basins = Basins::flood(cells);
        basins.bridge(cells);
        let mut root = vec![NONE; w * h];
        for at in 0..basins.order.len() {
            let i = basins.order[at];
            root[i as usize] = basins.root(i);
        }
        let bodies = basins.bodies(cells, &root);
        // A short run-out is steeper than a wash inside, but no cliff: it belongs to the wash above it.
        let mut loose: Vec<usize> = (0..w * h).filter(|&i| root[i] == NONE && cells.painted[i] && !cells.cliff[i]).collect();
        for _ in 0..3 {
            let mut joined = Vec::new();
            for &i in &loose {
                let above = beside(i, w, h)
                    .filter(|&j| root[j] != NONE && cells.alike(i, j, SAME_HUE))
                    .max_by(|&a, &b| cells.strength[a].total_cmp(&cells.strength[b]).then(b.cmp(&a)));
                if let Some(j) = above {
                    joined.push((i, root[j]));
                }
            }
            for (i, r) in joined {
                root[i] = r;
            }
            loose.retain(|&i| root[i] == NONE);
        }
        let curves = Curves::get();
        let mut value = vec![1.0; w * h];
        let mut body = vec![[0.0; 3]; w * h];
        // A pale wash with a border is none that runs out.
        let is_washed = |i: usize| field.is_washed(i % w * CELL, i / w * CELL);
        for i in (0..w * h).filter(|&i| root[i] != NONE && !is_washed(i)) {
            let off = bodies[root[i] as usize];
            // Faint washes are flat as far as can be told: their own noise would look like slopes.
            // And as strong as its body a wash is solid.
            let square = dot(off, off);
            if square <= 0.035 * 0.035 || dot(cells.residual[i], off) > 0.9 * square {
                continue;
            }
            let paper = field.pixel(((i % w) * CELL + CELL / 2).min(w * CELL - 1), ((i / w) * CELL + CELL / 2).min(h * CELL - 1));
            body[i] = [0, 1, 2].map(|c| {
                let (p, f) = (curves.linear(paper[c]), curves.linear(paper[c] + off[c]));
                curves.encoded(p + SOLID * (f - p)) - paper[c]
            });
            let square = dot(body[i], body[i]);
            value[i] = (dot(cells.residual[i], body[i]) / square).clamp(0.0, 1.0);
        }
        // Only slopes that really run out to bare paper, without an edge on the way.
        let regions = Regions::find(w, h, Connectivity::Four, |y, row| {
            for (x, v) in row.iter_mut().enumerate() {
                *v = u8::from(value[y * w + x] < 1.0);
            }
        });
        let mut slopes = vec![Slope::default(); regions.count()];
        for y in 0..h {
            for run in regions.row(y) {
                let slope = &mut slopes[run.region as usize];
                for x in run.start as usize..run.end as usize {
                    let i = y * w + x;
                    for _ in beside(i, w, h).filter(|&j| root[j] == root[i] && value[j] >= 1.0) {
                        slope.contacts += 1;
                        slope.steps += u32::from(value[i] < SMOOTH_JOIN);
                    }
                    let (mut open, mut bare, mut edge) = (false, false, false);
                    for ny in y.saturating_sub(1)..(y + 2).min(h) {
                        for nx in x.saturating_sub(1)..(x + 2).min(w) {
                            let j = ny * w + nx;
                            open |= cells.open[j];
                            bare |= !cells.painted[j] && !cells.outside[j];
                            edge |= cells.cliff[j];
                        }
                    }
                    slope.add(value[i], open, bare, edge);
                }
            }
        }
        let mut soft = vec![false; w * h];
        let mut any = false;
        for y in 0..h {
            for run in regions.row(y) {
                if slopes[run.region as usize].runs_out() {
                    soft[y * w + run.start as usize..y * w + run.end as usize].fill(true);
                    any = true;
                }
            }
        }
        let of_cell = |((value, [r, g, b]), soft): ((f32, [f32; 3]), &bool)| if *soft { [value, r, g, b] } else { [0.0; 4] };
        let wash = value.into_iter().zip(body).zip(&soft).map(of_cell).collect();
        let mut fade = Self { width: w, height: h, wash, soft };
        if any {
            fade.join_patches(cells, is_washed);
        }
        Ok(any.then_some(fade))
    }

    /// Where a wash runs out in patches, the outer ones touch it nowhere: they take the body of the nearest soft wash of
    /// their hue.
    fn join_patches(&mut self, cells: &Cells, is_washed: impl Fn(usize) -> bool) {
        /// How far a patch may lie from its wash, in cells: about 5 mm at 300 pixels per inch.
        const REACH: u8 = 16;
        /// A patch is weaker than this share of the color from which on its wash is solid.
        const WEAKER: f32 = 1.5;
        /// The lower quartile of a patch that runs out is no more than this share of its upper one. Not of its strongest
        /// cell, which may be the foot of other paint.
        const FLAT: f32 = 0.7;
        /// If it is larger than this, in cells.
        const LARGE: usize = 100;
        let (w, h) = (self.width, self.height);
        let loose = |i: usize| cells.painted[i] && !cells.cliff[i] && !self.soft[i] && !is_washed(i);
        let regions = Regions::find(w, h, Connectivity::Four, |y, row| {
            row.iter_mut().enumerate().for_each(|(x, v)| *v = u8::from(loose(y * w + x)));
        });
        // The nearest soft cell of every bare one, and how far it is.
        let mut nearest: Vec<(u32, u8)> = (0..w * h).map(|i| (if self.soft[i] { i as u32 } else { NONE }, 0)).collect();
        let seeds = (0..w * h).filter(|&i| self.soft[i]).collect();
        grid::flood(seeds, w, h, |from, to| {
            let (source, steps) = nearest[from];
            let enter = nearest[to].0 == NONE && steps < REACH && !cells.painted[to];
            if enter {
                nearest[to] = (source, steps + 1);
            }
            enter
        });
        let mut patches = vec![Patch::default(); regions.count()];
        for y in 0..h {
            for run in regions.row(y) {
                let patch = &mut patches[run.region as usize];
                for x in run.start as usize..run.end as usize {
                    let i = y * w + x;
                    patch.strengths.push(cells.strength[i]);
                    (0..3).for_each(|c| patch.sum[c] += cells.residual[i][c]);
                    for j in beside(i, w, h) {
                        patch.hard += u32::from(cells.cliff[j]);
                        patch.shore += u32::from(!cells.painted[j] && !cells.outside[j]);
                        if nearest[j].0 != NONE && nearest[j].1 < patch.distance {
                            (patch.wash, patch.distance) = nearest[j];
                        }
                    }
                }
            }
        }
        let body_of = |patch: &mut Patch| {
            if patch.wash == NONE || patch.shore < 3 || patch.shore < patch.hard {
                return None;
            }
            let [_, r, g, b] = self.wash[patch.wash as usize];
            let (body, strengths) = ([r, g, b], &mut patch.strengths);
            let strongest = strengths.iter().fold(0.0, |strongest, v| max(strongest, *v));
            if strongest > WEAKER * length(body) || !same_hue((patch.sum, length(patch.sum)), (body, length(body)), KIN) {
                return None;
            }
            // A flat wash is nobody's run-out.
            let flat = strengths.len() > LARGE && quantile(strengths, 0.25) > FLAT * quantile(strengths, 0.75);
            (!flat).then_some(body)
        };
        let bodies: Vec<Option<[f32; 3]>> = patches.iter_mut().map(body_of).collect();
        for y in 0..h {
            for run in regions.row(y) {
                let Some(body) = bodies[run.region as usize] else { continue };
                for i in y * w + run.start as usize..y * w + run.end as usize {
                    let value = (dot(cells.residual[i], body) / dot(body, body)).clamp(0.0, 1.0);
                    self.soft[i] = true;
                    self.wash[i] = [value, body[0], body[1], body[2]];
                }
            }
        }
    }

    /// Which of the free regions bare paper shows in because a wash has run out there: a good part of their border is soft.
    #[must_use]
    pub fn bared(&self, cover: &Cover, free: &Regions) -> Vec<bool> {
        /// As a share of the border.
        const SOFT: f32 = 0.4;
        /// Paint that has run out to less than this.
        const THIN: f32 = 0.4;
        let near = self.near_soft(1, THIN);
        let (w, h) = (cover.cover.width(), cover.cover.height());
        // Places of the border looked at, and the soft ones among them.
        let mut border = vec![(0_u32, 0_u32); free.count()];
        for y in 0..h {
            for run in free.row(y) {
                let (start, end) = (run.start as usize, run.end as usize);
                let middle = usize::midpoint(start, end);
                let (left, right) = ((start > 0).then(|| (start - 1, y)), (end < w).then_some((end, y)));
                let (up, down) = ((y > 0).then(|| (middle, y - 1)), (y + 1 < h).then_some((middle, y + 1)));
                let (seen, soft) = &mut border[run.region as usize];
                for (x, y) in [left, right, up, down].into_iter().flatten() {
                    if cover.cover.at(x, y) & bits::FREE == 0 {
                        *seen += 1;
                        *soft += u32::from(near[(y / CELL) * self.width + x / CELL]);
                    }
                }
            }
        }
        border.into_iter().map(|(seen, soft)| soft as f32 > SOFT * seen as f32).collect()
    }

    /// Cells within `reach` of a soft one whose matte is below `limit`.
    fn near_soft(&self, reach: usize, limit: f32) -> Vec<bool> {
        let mut near = vec![false; self.soft.len()];
        for i in (0..near.len()).filter(|&i| self.soft[i] && self.wash[i][0] < limit) {
            let (x, y) = (i % self.width, i / self.width);
            for row in y.saturating_sub(reach)..(y + reach + 1).min(self.height) {
                near[row * self.width..][x.saturating_sub(reach)..(x + reach + 1).min(self.width)].fill(true);
            }
        }
        near
    }
}

fn blur_colors(plane: &mut Plane<[f32; 3]>, sigma: f32) -> Result<()> {
    for c in 0..3 {
        let mut channel = Plane::from_vec(plane.width(), plane.height(), plane.data().iter().map(|v| v[c]).collect());
        gauss::blur(&mut channel, sigma)?;
        plane.data_mut().iter_mut().zip(channel.data()).for_each(|(v, b)| v[c] = *b);
    }
    Ok(())
}
