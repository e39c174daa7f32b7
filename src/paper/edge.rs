//! Where the sheet of paper ends and the scanner's lid, bed or backing begins.
//!
//! From each side of the scan the first stretch that is not paper is measured; where enough of these agree on a
//! straight line (random sample consensus over a fixed set of pairs; Fischler and Bolles 1981), what lies beyond is
//! outside. A lid of one plain color is also followed cell by cell, so that a torn or deckle edge is found.

use super::{Overview, PaperField, Ruler};
use crate::error::Result;
use crate::filter::grid;
use crate::filter::order::median;
use crate::filter::vector::apart;
use crate::image::{Plane, Sheet};
use crate::units::{Mm, Ppi};

/// How deep from each side an edge is looked for, as a share of the scan.
const ZONE: f32 = 0.13;
/// How far a pixel must lie off the paper to be no paper, encoded.
const OFF: f32 = 0.035;
/// The edge's own shadow and blur on the sheet's side, cleared with it.
const SHADOW: Mm = Mm(0.6);
/// Distance between the rows (columns) that are measured.
const STRIDE: usize = 4;

/// The outside of the sheet: beyond lines near the sides, and cells of lid.
#[derive(Clone, Debug, Default)]
pub struct SheetEdge {
    /// Width and height of the scan.
    size: [usize; 2],
    lines: Vec<Line>,
    lid: Option<(usize, Plane<bool>)>,
}

#[derive(Clone, Copy, Debug)]
struct Line {
    side: Side,
    /// Depth of the edge at the start of the side.
    depth: f32,
    /// Change of depth a pixel along the side.
    slope: f32,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Left,
    Right,
    Top,
    Bottom,
}

impl SheetEdge {
    /// Looks for the edge. `field` is a first estimate of the paper made without knowing the edge.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn find(sheet: &Sheet, overview: &Overview, field: &PaperField, ppi: Ppi) -> Result<Self> {
        let mut lines = Vec::new();
        for side in [Side::Left, Side::Right, Side::Top, Side::Bottom] {
            let profile = profile(sheet, field, side);
            if let Some(line) = fit(&profile, side, SHADOW.at(ppi).0 as f32) {
                lines.push(line);
            }
        }
        let lid = lid_cells(overview, field)?.map(|cells| (overview.cell, cells));
        Ok(Self { size: [sheet.width(), sheet.height()], lines, lid })
    }

    /// Whether no edge was found: the paper fills the scan.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.lines.is_empty() && self.lid.is_none()
    }

    /// Marks the pixels of row `y`, from column `first` on and as many as `outside` holds, that lie outside the sheet with
    /// 1, all others with 0.
    pub fn row_from(&self, y: usize, first: usize, outside: &mut [u8]) {
        outside.fill(0);
        let [width, height] = self.size;
        for line in &self.lines {
            let depth_at = |along: usize| line.depth + line.slope * along as f32;
            match line.side {
                Side::Left => {
                    let end = (depth_at(y).max(0.0) as usize).saturating_sub(first).min(outside.len());
                    outside[..end].fill(1);
                }
                Side::Right => {
                    let start = width.saturating_sub(depth_at(y).max(0.0) as usize).saturating_sub(first).min(outside.len());
                    outside[start..].fill(1);
                }
                Side::Top | Side::Bottom => {
                    let depth = if line.side == Side::Top { y } else { height - 1 - y } as f32;
                    // The line crosses a row at one place at most: test both ends first.
                    if depth >= depth_at(0) && depth >= depth_at(width) {
                        continue;
                    }
                    for (x, v) in (first..).zip(outside.iter_mut()) {
                        *v |= u8::from(depth < depth_at(x));
                    }
                }
            }
        }
        if let Some((cell, cells)) = &self.lid {
            let row = cells.row(y / cell);
            for (x, v) in (first..).zip(outside.iter_mut()) {
                *v |= u8::from(row[x / cell]);
            }
        }
    }

    /// The cells of an overview that are at least partly outside.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn cells(&self, overview: &Overview, sheet: &Sheet) -> Result<Plane<bool>> {
        let mut cells = Plane::new(overview.mean.width(), overview.mean.height(), "the sheet's edge")?;
        if self.is_none() {
            return Ok(cells);
        }
        let mut outside = vec![0; sheet.width()];
        for y in (0..sheet.height()).step_by((overview.cell / 2).max(1)) {
            self.row_from(y, 0, &mut outside);
            for (column, out) in cells.row_mut(y / overview.cell).iter_mut().enumerate() {
                let end = ((column + 1) * overview.cell).min(outside.len());
                *out |= outside[column * overview.cell..end].contains(&1);
            }
        }
        Ok(cells)
    }
}

/// For every fourth row (column) of a side: where the first stretch off the paper begins and ends, in pixels from it.
fn profile(sheet: &Sheet, field: &PaperField, side: Side) -> Vec<Option<(f32, f32)>> {
    let (w, h) = (sheet.width(), sheet.height());
    let across = matches!(side, Side::Left | Side::Right);
    let (length, breadth) = if across { (h, w) } else { (w, h) };
    let deep = ((ZONE * breadth as f32) as usize).max(8).min(breadth);
    let mut off: Vec<Vec<bool>> = vec![Vec::new(); length.div_ceil(STRIDE)];
    // The columns that are looked at, one more for the mean over three.
    let columns = match side {
        Side::Left => 0..(deep + 1).min(w),
        Side::Right => w.saturating_sub(deep + 1)..w,
        Side::Top | Side::Bottom => 0..w,
    };
    let n = columns.len();
    let [mut line, mut paper] = [(); 2].map(|()| [vec![0.0; n], vec![0.0; n], vec![0.0; n]]);
    let mut ruler = Ruler::new(field, columns.clone());
    let mut measure = |y: usize, line: &mut [Vec<f32>; 3]| {
        let [r, g, b] = &mut paper;
        ruler.draw(field, y, [r, g, b]);
        line.iter_mut().zip(&paper).enumerate().for_each(|(c, (v, paper))| sheet.above(y, columns.start, c, paper, v));
    };
    let far = |line: &[Vec<f32>; 3], x: usize| {
        // A mean over three pixels keeps single specks out.
        let (a, c) = (x.saturating_sub(1), (x + 1).min(n - 1));
        line.iter().any(|line| ((line[a] + line[x] + line[c]) / 3.0).abs() > OFF)
    };
    if across {
        for (i, y) in (0..h).step_by(STRIDE).enumerate() {
            measure(y, &mut line);
            off[i] = (0..deep).map(|d| far(&line, if side == Side::Left { d } else { n - 1 - d })).collect();
        }
    } else {
        for d in 0..deep {
            measure(if side == Side::Top { d } else { h - 1 - d }, &mut line);
            for (i, x) in (0..w).step_by(STRIDE).enumerate() {
                off[i].push(far(&line, x));
            }
        }
    }
    // Gaps of up to 8 pixels inside the stretch are bridged.
    off.iter()
        .map(|row| {
            let start = row.iter().position(|v| *v)?;
            let (mut end, mut gap) = (start, 0);
            for (i, v) in row.iter().enumerate().skip(start) {
                if *v {
                    (end, gap) = (i, 0);
                } else {
                    gap += 1;
                    if gap > 8 {
                        break;
                    }
                }
            }
            (end + 8 < row.len()).then_some((start as f32, end as f32))
        })
        .collect()
}

/// A line through the ends of the stretches, if enough of them agree.
fn fit(profile: &[Option<(f32, f32)>], side: Side, shadow: f32) -> Option<Line> {
    let points: Vec<(f32, f32, f32)> =
        profile.iter().enumerate().filter_map(|(i, p)| p.map(|(start, end)| ((i * STRIDE) as f32, start, end))).collect();
    let share = points.len() as f32 / profile.len().max(1) as f32;
    if share < 0.45 || points.len() < 12 {
        return None;
    }
    let touching = points.iter().filter(|p| p.1 < 6.0).count() as f32 / points.len() as f32;
    let mut deep: Vec<f32> = points.iter().map(|p| p.2 - p.1).collect();
    // Either the lid reaches the border of the scan, or the edge is a narrow shadow line nearly all along the side.
    if touching <= 0.6 && (share < 0.85 || median(&mut deep) > 45.0) {
        return None;
    }
    let length = (profile.len() * STRIDE) as f32;
    let n = points.len();
    let mut best = (0, Line { side, depth: 0.0, slope: 0.0 });
    for k in 0..400 {
        let (i, j) = ((k * 7919) % n, (k * 104_729 + n / 2) % n);
        let (a, b) = (points[i], points[j]);
        if (a.0 - b.0).abs() < 0.2 * length {
            continue;
        }
        let slope = (a.2 - b.2) / (a.0 - b.0);
        if slope.abs() > 0.05 {
            continue;
        }
        let depth = a.2 - slope * a.0;
        let agree = points.iter().filter(|p| (p.2 - slope * p.0 - depth).abs() < 2.5).count();
        if agree > best.0 {
            best = (agree, Line { side, depth, slope });
        }
    }
    (best.0 as f32 >= 0.4 * profile.len() as f32).then_some(Line { depth: best.1.depth + shadow + 1.0, ..best.1 })
}

/// At how much of the border of `cells` at least half of `step` is crossed within three cells, 0..1.
fn sharpness(mean: &[[f32; 3]], cells: &[usize], inside: &[bool], cols: usize, rows: usize, step: f32) -> f32 {
    const ACROSS: isize = 3;
    let (mut sharp, mut places) = (0.0_f32, 0.0_f32);
    for &i in cells {
        for direction in [(-1, 0), (1, 0), (0, -1), (0, 1)] {
            let at = |n| grid::step(i, direction, n, cols, rows);
            if let (Some(beside), Some(beyond)) = (at(1), at(ACROSS))
                && !inside[beside]
            {
                places += 1.0;
                sharp += f32::from(u8::from(apart(mean[i], mean[beyond]) > 0.5 * step));
            }
        }
    }
    if places == 0.0 { 0.0 } else { sharp / places }
}

/// Cells of a plainly colored lid that reach in from the border, grown by what its shadow covers.
fn lid_cells(overview: &Overview, field: &PaperField) -> Result<Option<Plane<bool>>> {
    /// A lid is at least this far from the paper, encoded.
    const UNLIKE: f32 = 0.16;
    /// Inside a lid cell pixels lie no further apart than so many times what is usual along the side.
    const PLAIN: f32 = 2.0;
    /// Lid cells lie this close to their side's lid color.
    const ALIKE: f32 = 0.09;
    /// A lid ends with an edge at so much of its border at least; the shade of a gutter has none.
    const SHARP: f32 = 0.5;
    let (cols, rows) = (overview.mean.width(), overview.mean.height());
    let (mean, spread) = (overview.mean.data(), overview.spread.data());
    let paper = field.color();
    let sides: [Vec<usize>; 4] = [
        (0..rows).map(|y| y * cols).collect(),
        (0..rows).map(|y| y * cols + cols - 1).collect(),
        (0..cols).collect(),
        (0..cols).map(|x| (rows - 1) * cols + x).collect(),
    ];
    let mut lid: Plane<bool> = Plane::new(cols, rows, "the lid")?;
    let mut found = false;
    for side in sides {
        let mut color = [0.0; 3];
        for (c, out) in color.iter_mut().enumerate() {
            let mut values: Vec<f32> = side.iter().map(|&i| mean[i][c]).collect();
            *out = median(&mut values);
        }
        let alike = side.iter().filter(|&&i| apart(mean[i], color) < ALIKE).count() as f32 / side.len() as f32;
        if apart(color, paper) < UNLIKE || alike < 0.6 {
            continue;
        }
        // A lid is plain, and paint that reaches the border of the scan is not.
        let mut spreads: Vec<f32> = side.iter().map(|&i| spread[i]).collect();
        let plain = PLAIN * median(&mut spreads) + 0.004;
        let is_lid = |i: usize| apart(mean[i], color) < ALIKE && spread[i] < plain;
        let seeds: Vec<usize> = side.into_iter().filter(|&i| is_lid(i)).collect();
        let mut seen = vec![false; mean.len()];
        seeds.iter().for_each(|&i| seen[i] = true);
        let flooded = grid::flood(seeds, cols, rows, |_, j| is_lid(j) && !std::mem::replace(&mut seen[j], true));
        // A dark ground painted to the border is not a lid: a lid leaves most of the scan free.
        if flooded.len() * 3 > mean.len() {
            continue;
        }
        if sharpness(mean, &flooded, &seen, cols, rows, apart(color, paper)) < SHARP {
            continue;
        }
        found = true;
        flooded.into_iter().for_each(|i| lid.data_mut()[i] = true);
    }
    if !found {
        return Ok(None);
    }
    // The cells that the edge itself cuts through, and its shadow.
    for _ in 0..2 {
        let before = lid.clone();
        for y in 0..rows {
            for x in 0..cols {
                let near = (y.saturating_sub(1)..(y + 2).min(rows))
                    .any(|ny| (x.saturating_sub(1)..(x + 2).min(cols)).any(|nx| before.at(nx, ny)));
                lid.set(x, y, near);
            }
        }
    }
    Ok(Some(lid))
}
