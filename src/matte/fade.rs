//! Washes that run out to nothing.
//!
//! A wash laid wet fades without an edge. By convention (what a painter expects on a dark ground) it is solid down to
//! half of its body's strength; below that the matte falls to 0 with what remains. The body's strength is the highest
//! contrast that can be climbed to from a pixel without crossing an edge or changing hue: a watershed of the contrast
//! (Vincent and Soille 1991) whose shallow basins are merged. Flat washes, however pale or mottled, have no such climb.
//!
//! All this is slow in space and so is done on cells of 4 x 4 pixels.

use super::cover::{Cover, bits};
use super::evidence::Evidence;
use crate::error::Result;
use crate::filter::grid::beside;
use crate::filter::vector::{dot, length};
use crate::filter::{Connectivity, Regions, gauss, local_max};
use crate::image::{Plane, Sheet};
use crate::paper::PaperField;

/// Side of a cell in pixels.
pub const CELL: usize = 4;
/// The share of its body's strength from which on a wash is solid. A little under half: the top of a slope is read
/// from its strongest cells.
const SOLID: f32 = 0.48;
/// A step counts as an edge when it is steeper than this share of the local contrast a pixel. A blurred step of the
/// full contrast is about twice as steep.
const EDGE: f32 = 0.055;
/// Hues agree when the cosine between their directions off the paper is larger.
const SAME_HUE: f32 = 0.97;
/// A slope joins its solid part smoothly when its last cell is above this.
const SMOOTH_JOIN: f32 = 0.7;
/// Contrast too small to have a hue.
const NO_HUE: f32 = 0.012;

/// Softens the matte where a wash runs out.
///
/// # Errors
/// When there is no memory.
pub fn soften(sheet: &Sheet, field: &PaperField, evidence: &Evidence, cover: &Cover, matte: &mut Plane<u16>) -> Result<()> {
    let mut cells = Cells::new(evidence, cover)?;
    cells.diffuse();
    let Some(fade) = Fade::find(&cells)? else { return Ok(()) };
    fade.apply(sheet, field, matte);
    Ok(())
}

/// What is known of each cell.
struct Cells {
    width: usize,
    height: usize,
    /// Mean residual, spread among cells that no edge divides.
    residual: Vec<[f32; 3]>,
    /// Painted, and no edge runs through.
    smooth: Vec<bool>,
    /// Kept.
    kept: Vec<bool>,
    /// Beyond the sheet.
    outside: Vec<bool>,
}

impl Cells {
    fn new(evidence: &Evidence, cover: &Cover) -> Result<Self> {
        let coarse = &evidence.coarse;
        let (w, h) = (coarse.width(), coarse.height());
        let mut residual = coarse.clone();
        blur_colors(&mut residual, 0.55)?;
        let residual = residual.into_vec();
        let mut kept_pixels = vec![0_u8; w * h];
        let mut painted_pixels = vec![0_u8; w * h];
        let mut outside = vec![false; w * h];
        for y in 0..cover.cover.height() {
            let at = (y / CELL) * w;
            for (x, four) in cover.cover.row(y).chunks(CELL).enumerate() {
                for c in four {
                    kept_pixels[at + x] += u8::from(c & bits::CLEARED == 0);
                    painted_pixels[at + x] += u8::from(c & (bits::PAINT | bits::CLEARED) == bits::PAINT);
                    outside[at + x] |= c & bits::OUTSIDE != 0;
                }
            }
        }
        let half = (CELL * CELL / 2) as u8;
        let kept: Vec<bool> = kept_pixels.iter().map(|n| *n > half).collect();
        let strength: Vec<f32> = residual.iter().map(|r| length(*r)).collect();
        // Steepness a pixel, by central differences over two cells.
        let mut steep = vec![0.0; w * h];
        for y in 0..h {
            for x in 0..w {
                let across = (residual[y * w + (x + 1).min(w - 1)], residual[y * w + x.saturating_sub(1)]);
                let down = (residual[(y + 1).min(h - 1) * w + x], residual[y.saturating_sub(1) * w + x]);
                let mut sum = 0.0;
                for c in 0..3 {
                    let (dx, dy) = (across.0[c] - across.1[c], down.0[c] - down.1[c]);
                    sum += dx * dx + dy * dy;
                }
                steep[y * w + x] = sum.sqrt() / (2 * CELL) as f32;
            }
        }
        let mut calm: Vec<f32> = (0..w * h).filter(|&i| !kept[i] && !outside[i]).map(|i| steep[i]).collect();
        calm.sort_by(f32::total_cmp);
        let noise = 3.2 * calm.get(calm.len() / 2).copied().unwrap_or(0.0);
        let top = local_max::square(&Plane::from_vec(w, h, strength), 2)?;
        let smooth = (0..w * h).map(|i| painted_pixels[i] > half && steep[i] <= (EDGE * top.data()[i]).max(noise)).collect();
        Ok(Self { width: w, height: h, residual, smooth, kept, outside })
    }

    /// Spreads residuals among smooth neighbors, so that granulation does not look like hills: about 8 pixels.
    fn diffuse(&mut self) {
        const ROUNDS: usize = 9;
        let (w, h) = (self.width, self.height);
        // Each smooth cell with its smooth neighbors; itself stands in for one that is missing.
        let around: Vec<[u32; 5]> = (0..w * h)
            .filter(|&i| self.smooth[i])
            .map(|i| {
                let mut five = [i as u32; 5];
                five[1..].iter_mut().zip(beside(i, w, h).filter(|&j| self.smooth[j])).for_each(|(f, j)| *f = j as u32);
                five
            })
            .collect();
        let mut next = self.residual.clone();
        for _ in 0..ROUNDS {
            for five in &around {
                let [i, a, b, c, d] = five.map(|i| self.residual[i as usize]);
                next[five[0] as usize] = [0, 1, 2].map(|k| (i[k] + a[k] + b[k] + c[k] + d[k]) * 0.2);
            }
            std::mem::swap(&mut self.residual, &mut next);
        }
    }

    fn same_hue(&self, a: [f32; 3], b: [f32; 3], least: f32) -> bool {
        let (la, lb) = (length(a), length(b));
        la.min(lb) < NO_HUE || dot(a, b) > least * la * lb
    }
}

/// Basins of the watershed, merged as they meet.
struct Basins {
    parent: Vec<u32>,
    /// Residual at the top of each root's basin.
    peak: Vec<[f32; 3]>,
}

const NONE: u32 = u32::MAX;

impl Basins {
    /// Floods the smooth cells from the strongest down.
    fn flood(cells: &Cells) -> Self {
        /// Two basins are one when the dip between their tops is shallower than this share of the lower.
        const DIP: f32 = 0.85;
        let n = cells.residual.len();
        let strength: Vec<f32> = cells.residual.iter().map(|r| length(*r)).collect();
        // Strongest first, then by place. A strength is not negative, so its bits sort as it does.
        let key = |i: usize| (u64::from(!strength[i].to_bits()) << 32) | i as u64;
        let mut order: Vec<u64> = (0..n).filter(|&i| cells.smooth[i]).map(key).collect();
        order.sort_unstable();
        let mut basins = Self { parent: vec![NONE; n], peak: cells.residual.clone() };
        for i in order {
            let i = (i & u64::from(u32::MAX)) as usize;
            basins.parent[i] = i as u32;
            let mut roots = [NONE; 4];
            for (slot, j) in roots.iter_mut().zip(beside(i, cells.width, cells.height)) {
                if basins.parent[j] != NONE && cells.same_hue(cells.residual[i], cells.residual[j], SAME_HUE) {
                    *slot = basins.root(j as u32);
                }
            }
            let strongest = |b: &Self, r: u32| length(b.peak[r as usize]);
            let Some(best) = roots
                .into_iter()
                .filter(|r| *r != NONE)
                .max_by(|&a, &b| strongest(&basins, a).total_cmp(&strongest(&basins, b)).then(b.cmp(&a)))
            else {
                continue;
            };
            basins.parent[i] = best;
            for other in roots.into_iter().filter(|r| *r != NONE && *r != best) {
                let top = basins.peak[other as usize];
                let shallow = strength[i] >= DIP * length(top);
                if basins.parent[other as usize] == other && shallow && cells.same_hue(top, basins.peak[best as usize], 0.95) {
                    basins.parent[other as usize] = best;
                }
            }
        }
        basins
    }

    fn root(&mut self, mut i: u32) -> u32 {
        while self.parent[i as usize] != i {
            let up = self.parent[self.parent[i as usize] as usize];
            self.parent[i as usize] = up;
            i = up;
        }
        i
    }
}

/// The cells in which the matte is soft.
struct Fade {
    width: usize,
    height: usize,
    /// Matte of each cell, and the body's residual; only where `soft`.
    value: Vec<f32>,
    body: Vec<[f32; 3]>,
    soft: Vec<bool>,
}

impl Fade {
    fn find(cells: &Cells) -> Result<Option<Self>> {
        let (w, h) = (cells.width, cells.height);
        let mut basins = Basins::flood(cells);
        let mut value = vec![1.0; w * h];
        let mut body = vec![[0.0; 3]; w * h];
        for i in 0..w * h {
            if !cells.smooth[i] {
                continue;
            }
            let root = basins.root(i as u32);
            body[i] = basins.peak[root as usize].map(|v| v * SOLID);
            let square = length(body[i]) * length(body[i]);
            // Faint washes are flat as far as can be told: their own noise would look like slopes.
            if square > (0.035 * SOLID) * (0.035 * SOLID) {
                let r = cells.residual[i];
                value[i] = (dot(r, body[i]) / square).clamp(0.0, 1.0);
            }
        }
        // Only slopes that really run out to bare paper, without an edge on the way.
        let regions = Regions::find(w, h, Connectivity::Four, |y, row| {
            for (x, v) in row.iter_mut().enumerate() {
                *v = u8::from(value[y * w + x] < 1.0);
            }
        });
        // Where a real slope meets the solid part of its wash it has reached it; a flat wash taken for the foot of other
        // paint meets that paint, or its own other half, at a step.
        let mut contacts = vec![0_u32; regions.count()];
        let mut steps = vec![0_u32; regions.count()];
        let mut shore = vec![0_u32; regions.count()];
        let mut size = vec![0_u32; regions.count()];
        for y in 0..h {
            for run in regions.row(y) {
                for x in run.start as usize..run.end as usize {
                    let i = y * w + x;
                    size[run.region as usize] += 1;
                    for _ in beside(i, w, h).filter(|&j| cells.smooth[j] && value[j] >= 1.0) {
                        contacts[run.region as usize] += 1;
                        steps[run.region as usize] += u32::from(value[i] < SMOOTH_JOIN);
                    }
                    let mut bare = false;
                    let mut edge = false;
                    for ny in y.saturating_sub(1)..(y + 2).min(h) {
                        for nx in x.saturating_sub(1)..(x + 2).min(w) {
                            let j = ny * w + nx;
                            bare |= !cells.kept[j] && !cells.outside[j];
                            edge |= cells.kept[j] && !cells.smooth[j];
                        }
                    }
                    shore[run.region as usize] += u32::from(bare && !edge && value[i] < 0.45);
                }
            }
        }
        let mut soft = vec![false; w * h];
        let mut any = false;
        for y in 0..h {
            for run in regions.row(y) {
                let region = run.region as usize;
                let joined = contacts[region] > 0 && steps[region] * 5 <= contacts[region] * 2;
                if shore[region] >= 3 && size[region] >= 12 && joined {
                    soft[y * w + run.start as usize..y * w + run.end as usize].fill(true);
                    any = true;
                }
            }
        }
        Ok(any.then_some(Self { width: w, height: h, value, body, soft }))
    }

    /// Lowers the matte of the pixels inside soft cells, and beside them where a pixel is the wash's own.
    fn apply(&self, sheet: &Sheet, field: &PaperField, matte: &mut Plane<u16>) {
        let h = sheet.height();
        let mut near = vec![false; self.width];
        for row in 0..self.height {
            // Cells within two of a soft one.
            near.fill(false);
            for cells in self.soft.chunks_exact(self.width).take(row + 3).skip(row.saturating_sub(2)) {
                for x in (0..self.width).filter(|&x| cells[x]) {
                    near[x.saturating_sub(2)..(x + 3).min(self.width)].fill(true);
                }
            }
            if !near.contains(&true) {
                continue;
            }
            for y in row * CELL..((row + 1) * CELL).min(h) {
                for (x, m) in matte.row_mut(y).iter_mut().enumerate() {
                    if *m <= 1 || !near[x / CELL] {
                        continue;
                    }
                    let inside = self.soft[row * self.width + x / CELL];
                    let Some((value, body)) = self.around(x, y, inside) else { continue };
                    let value = if inside { value } else { seam(sheet, field, x, y, value, body) };
                    *m = (*m).min((value * f32::from(u16::MAX)).round() as u16);
                }
            }
        }
    }

    /// Matte and body at a pixel, from the soft cells around: the nearest four by bilinear weights inside, all within
    /// two cells beside.
    fn around(&self, x: usize, y: usize, inside: bool) -> Option<(f32, [f32; 3])> {
        let half = (CELL as f32 - 1.0) / 2.0;
        let (fx, fy) = ((x as f32 - half) / CELL as f32, (y as f32 - half) / CELL as f32);
        let reach = if inside { 1 } else { 2 };
        let share = 1.0 / (reach as f32 + if inside { 0.0 } else { 0.5 });
        let near = |f: f32, size: usize| {
            let low = f.max(0.0) as usize;
            (low + 1).saturating_sub(reach)..(low + reach + 1).min(size)
        };
        let (mut total, mut value, mut body) = (0.0, 0.0, [0.0; 3]);
        for cy in near(fy, self.height) {
            let down = (1.0 - (cy as f32 - fy).abs() * share).max(0.0);
            for cx in near(fx, self.width) {
                let i = cy * self.width + cx;
                if self.soft[i] {
                    let weight = down * (1.0 - (cx as f32 - fx).abs() * share).max(0.0);
                    total += weight;
                    value += weight * self.value[i];
                    (0..3).for_each(|c| body[c] += weight * self.body[i][c]);
                }
            }
        }
        (total > 1e-3).then(|| (value / total, body.map(|v| v / total)))
    }
}

/// The matte of a pixel beside a soft cell: of the wash if it has its hue and is no stronger, otherwise other paint.
fn seam(sheet: &Sheet, field: &PaperField, x: usize, y: usize, value: f32, body: [f32; 3]) -> f32 {
    let mut r = field.pixel(x, y).map(|p| -p);
    for dy in 0..3 {
        for dx in 0..3 {
            let px = gauss::mirror((x + dx) as isize - 1, sheet.width());
            let py = gauss::mirror((y + dy) as isize - 1, sheet.height());
            let scan = sheet.pixel(px, py);
            (0..3).for_each(|c| r[c] += scan[c] / 9.0);
        }
    }
    let square = length(body) * length(body);
    if square < 1e-4 {
        return 1.0;
    }
    let t = dot(r, body) / square;
    let off = length([0, 1, 2].map(|c| r[c] - t * body[c]));
    if t <= value + 0.12 && off < 0.02 + 0.12 * length(r) { t.clamp(0.0, 1.0) } else { 1.0 }
}

fn blur_colors(plane: &mut Plane<[f32; 3]>, sigma: f32) -> Result<()> {
    for c in 0..3 {
        let mut channel = Plane::from_vec(plane.width(), plane.height(), plane.data().iter().map(|v| v[c]).collect());
        gauss::blur(&mut channel, sigma)?;
        plane.data_mut().iter_mut().zip(channel.data()).for_each(|(v, b)| v[c] = *b);
    }
    Ok(())
}
