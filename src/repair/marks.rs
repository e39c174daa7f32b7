//! Tells painted regions from marks: dust, hairs, pencil, smudges, stray faint streaks.
//!
//! Each region is measured once: its size in millimeters, its color as light absorbed over the paper's, the strongest
//! and the broadest contrast in it, and how thick it gets. What is small, thin and neutral, or faint and alone, is a
//! mark; what has the color of paint nearby is a crumb of that paint.

use crate::color::math::{self, max, min};
use crate::error::Result;
use crate::filter::vector::{dot, length};
use crate::filter::{Regions, distance, gauss};
use crate::image::{Plane, Sheet};
use crate::paper::toning::yellows_or_grays;
use crate::paper::{PaperField, Tile};
use crate::units::{Mm, Ppi};

/// What a region of the cover is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Part of the painting.
    Paint,
    /// A speck of dust, dark or light.
    Speck,
    /// A hair or fiber.
    Hair,
    /// A pencil line away from the painting, or a smudge of graphite.
    Pencil,
    /// A faint stain or stray streak.
    Stain,
}

impl Kind {
    /// The name used in reports.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Paint => "paint",
            Self::Speck => "specks",
            Self::Hair => "hairs",
            Self::Pencil => "pencil",
            Self::Stain => "stains",
        }
    }
}

/// Which marks are cleared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rules {
    /// Specks up to this diameter.
    pub specks: Mm,
    /// Hairs and fibers.
    pub hairs: bool,
    /// All pencil that does not touch paint. Otherwise it is cleared as stray, unless there is so much of it that the
    /// picture is a drawing.
    pub pencil: bool,
    /// Faint stains and stray streaks.
    pub stains: bool,
    /// Whether the sheet is toned.
    pub toned: bool,
    /// Whether the scan was coded in blocks.
    pub coded: bool,
    /// Whether the paper is dark, and what is painted on it mostly lighter.
    pub dark: bool,
}

/// One region, measured.
#[derive(Clone, Debug, Default)]
pub(super) struct Region {
    pub(super) pixels: u32,
    pub(super) left: u32,
    pub(super) right: u32,
    pub(super) top: u32,
    pub(super) bottom: u32,
    pub(super) sampled: f32,
    /// Absorbance over the paper, summed, per channel.
    pub(super) absorbed: [f32; 3],
    /// Contrast summed.
    pub(super) contrast: f32,
    /// And weighted by the square of the depth, with the weights: the feet of edges count for little.
    pub(super) core: f32,
    pub(super) core_weight: f32,
    /// The largest mean absorbance of a 3 x 3 neighborhood.
    pub(super) peak_absorbed: f32,
    /// The largest contrast of a 3 x 3 neighborhood.
    pub(super) peak: f32,
    /// The largest contrast of a 7 x 7 neighborhood.
    pub(super) broad: f32,
    /// The largest distance to the outside, in pixels.
    pub(super) thick: f32,
    /// Pixels of a pale wash.
    pub(super) washed: u32,
}

impl Region {
    pub(super) fn strength(&self) -> f32 {
        self.contrast / self.sampled.max(1.0)
    }

    /// Contrast of its middle.
    fn core(&self) -> f32 {
        self.core / self.core_weight.max(1.0)
    }

    pub(super) fn mean(&self) -> [f32; 3] {
        self.absorbed.map(|v| v / self.sampled.max(1.0))
    }

    /// Whether most of it is a pale wash, told from the paper by its border, and it is no speck or streak beside one.
    pub(super) fn is_wash(&self, scale: f32) -> bool {
        let large = self.pixels as f32 > WASH * scale * scale && self.thick > THICK * scale;
        2 * self.washed > self.pixels && large
    }

    /// Largest extent in pixels.
    pub(super) fn span(&self) -> f32 {
        (self.right - self.left).max(self.bottom - self.top) as f32
    }

    /// 0 for a neutral color, 1 for a pure one.
    pub(super) fn colorfulness(&self) -> f32 {
        let [a, b, c] = self.mean();
        let (high, low) = (a.max(b).max(c), a.min(b).min(c));
        (high - low - UNSURE).max(0.0) / a.abs().max(b.abs()).max(c.abs()).max(1e-3)
    }
}

/// What the paper field may be off between channels, as absorbance: about one count.
const UNSURE: f32 = 0.006;
/// Faint and no larger than this, in pixels, a region of a scan coded in blocks is a fault of the coding: a block of color and
/// half of the next.
const BLOCKS: f32 = 1.5 * 256.0;
/// A sheet of which more than this share is toned in patches has other spots of toning too.
pub const TONED: f32 = 0.006;
/// Lines that absorb less than this at their darkest are graphite.
const GRAPHITE: f32 = 0.26;
/// Lines that absorb more than this at their darkest are ink, if they are a little colored. Of a hair's shadow the finer scan
/// shows more.
const HAIR: f32 = 0.42;
/// Less colored than this is a dark hair, which absorbs up to so much; and so much where two cross, or one and a pencil line.
const GRAY: f32 = 0.15;
const DARK_HAIR: f32 = 0.5;
const CROSSED: f32 = 0.7;
/// So many times as strong as its middle is a line that another crosses: both absorb.
const CROSSING: f32 = 1.65;
/// Pixels at 300 ppi of the smallest wash: five square millimeters.
const WASH: f32 = 700.0;
/// And the least depth of one, in such pixels: what is narrower is a streak.
const THICK: f32 = 12.0;
/// Contrast of a narrow streak over all of it, encoded; of one that may lie beside paint; and in the middle of one that is
/// broader than a line, whatever hair crosses it: darker than the paper, and lighter.
const EVEN: f32 = 0.055;
const FAINT: f32 = 0.04;
const FAINT_MIDDLE: [f32; 2] = [0.06, 0.085];
/// No more than so many lines that come loose of paint once feet are cut are hairs or stray pencil.
pub const FEW_LINES: usize = 6;
/// Pencil away from paint that covers more than one part in so many of it makes the picture a drawing.
const DRAWING: u64 = 6;
/// Regions with more pixels than this are measured on every fourth row only; and tall ones with more than that, in some bands of
/// rows.
const LARGE: u32 = 20_000;
const HUGE: u32 = 400_000;

/// All regions of a cover, measured, and the paint around each.
pub struct Measured {
    pub(super) regions: Vec<Region>,
    pub(super) near: Nearby,
    ppi: Ppi,
}

impl Measured {
    /// Measures the regions that `sure` says count. `depth` holds the distance from every region pixel to the outside of its
    /// region.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn new(sheet: &Sheet, field: &PaperField, regions: &Regions, sure: &[bool], depth: &Plane<u8>, ppi: Ppi) -> Result<Self> {
        let measured = measure(sheet, field, regions, sure, depth);
        let near = Nearby::new(field, regions, &measured, scale(ppi))?;
        Ok(Self { regions: measured, near, ppi })
    }

    /// Tells what each region is; those that are not `sure` come back as [`Kind::Speck`].
    #[must_use]
    pub fn kinds(&self, sure: &[bool], rules: &Rules) -> Vec<Kind> {
        let kind = |(region, sure): (&Region, &bool)| {
            if *sure { judge(region, &self.near, scale(self.ppi), self.ppi, rules) } else { Kind::Speck }
        };
        let mut kinds: Vec<Kind> = self.regions.iter().zip(sure).map(kind).collect();
        let pixels = |kind: Kind| -> u64 {
            self.regions.iter().zip(&kinds).filter(|(_, k)| **k == kind).map(|(r, _)| u64::from(r.pixels)).sum()
        };
        // A pencil drawing with some washes is not a painting with stray pencil: all of it stays.
        if !rules.pencil && pixels(Kind::Pencil) * DRAWING > pixels(Kind::Paint) {
            kinds.iter_mut().filter(|k| **k == Kind::Pencil).for_each(|k| *k = Kind::Paint);
        }
        kinds
    }
}

/// Pixels to one of 300 ppi.
pub(super) fn scale(ppi: Ppi) -> f32 {
    ppi.0 as f32 / 300.0
}

/// Whether a region is surely part of the painting, so that others can be likened to it.
fn is_art(r: &Region, scale: f32) -> bool {
    let thin_and_gray = r.colorfulness() < 0.27 && r.thick < 4.2 * scale && r.peak_absorbed < 0.42;
    r.pixels as f32 > 400.0 * scale * scale && r.peak > 0.10 && r.strength() > 0.05 && !thin_and_gray
}

fn judge(r: &Region, near: &Nearby, scale: f32, ppi: Ppi, rules: &Rules) -> Kind {
    if r.is_wash(scale) {
        return Kind::Paint;
    }
    let area = r.pixels as f32 / (scale * scale);
    let span = r.span() / scale;
    let color = r.colorfulness();
    let neutral = color < 0.27;
    let mean = r.mean();
    let darker = mean.iter().sum::<f32>() > 0.0;
    let (likeness, closeness) = near.likeness(r, mean);
    // Beside strong paint the coding leaves spots of its color.
    let faint = if closeness > 0.1 { 0.1 } else { 0.05 };
    if rules.coded && rules.specks.0 > 0.0 && (r.pixels as f32) < BLOCKS && r.broad < 0.8 * faint && r.peak < faint {
        return Kind::Speck;
    }
    let diameter = rules.specks.at(ppi).0 as f32 / scale;
    let speck_area = 0.785 * (1.12 * diameter) * (1.12 * diameter);
    // So faint all along, or in its middle, it is a streak even beside paint of its color.
    let visible = darker || rules.dark;
    let slender = span * scale / r.thick;
    let faint_along = r.strength() < FAINT && slender > 4.5 && area > speck_area && closeness < 0.2;
    let broader = r.thick > 4.8 * scale && slender > 5.0;
    let faint_middle = r.core() < FAINT_MIDDLE[usize::from(!darker)] && broader && closeness < 0.35;
    // Far from paint of its color a very long one may be broader.
    let band = r.thick < 16.0 * scale || r.thick < 24.0 * scale && slender > 12.0 && closeness < 0.001;
    if visible && (faint_along || faint_middle) && band && rules.stains {
        return Kind::Stain;
    }
    // A crumb of a stroke: close to real paint, of its color, and not fainter than paint is.
    // Faint and nearly gray it may be dust as well.
    let colored = color > if r.peak_absorbed < 0.3 { 0.2 } else { 0.15 };
    if closeness > 0.02 && likeness > 0.975 && darker && (colored || r.peak_absorbed > 1.0) && r.broad > 0.012 {
        return Kind::Paint;
    }
    if area < 7.0 && r.peak < 0.05 && diameter > 0.0 {
        return Kind::Speck;
    }
    if neutral && area < speck_area && span < 1.7 * diameter {
        return Kind::Speck;
    }
    // A patch of noise a little lighter than paper is no larger than a square millimeter.
    if !darker && (area < speck_area || area < 150.0 && r.broad < 0.02 && diameter > 0.0) {
        return Kind::Speck;
    }
    // Dirt in the valleys of a rough paper is gray, and paler than a drop of gray paint.
    if color < 0.1 && darker && area < 3.0 * speck_area && span < 3.0 * diameter && r.peak_absorbed < GRAPHITE {
        return Kind::Speck;
    }
    // What is a little lighter than paper along both sides of a streak is the measure of the paper, which the streak draws down.
    if !darker && r.broad < 0.025 && r.thick < 6.0 * scale && span > 12.0 * r.thick / scale && rules.stains {
        return Kind::Stain;
    }
    let crossing = color < GRAY && r.peak > CROSSING * r.core();
    let thin = r.thick < if crossing { 6.0 } else { 4.2 } * scale;
    let darkest = if crossing {
        CROSSED
    } else if color < GRAY {
        DARK_HAIR
    } else {
        HAIR
    };
    // A fiber of the cloth on gray or dark paper: fainter than a line of white paint.
    if !darker && color < 0.1 && thin && r.peak < 0.3 && span * scale > 6.0 * r.thick && rules.hairs {
        return Kind::Hair;
    }
    // Whoever keeps specks of every size wants none of them taken for a piece of a line.
    let line = diameter > 0.0 || span * scale > 6.0 * r.thick;
    if neutral && thin && line && r.peak_absorbed < darkest * scale.sqrt() && darker {
        // Graphite is grayer and fainter than a fiber's shadow.
        return if r.peak_absorbed < GRAPHITE {
            Kind::Pencil
        } else if rules.hairs {
            Kind::Hair
        } else {
            Kind::Paint
        };
    }
    let faint_and_large = area > 60_000.0 && r.strength() > 0.03;
    if neutral && r.broad < 0.055 && darker && !faint_and_large && rules.stains {
        return Kind::Stain;
    }
    // On a toned sheet what lies alone and is no stronger than toning is toning: its spots are many, and small ones show no
    // slope. What is hardly there has no hue to go by.
    let of_paper = yellows_or_grays(mean.map(|v| if darker { v } else { -v }), UNSURE);
    if rules.toned && rules.stains && r.broad < 0.11 && r.strength() < 0.075 && (of_paper || r.strength() < 0.03) {
        return Kind::Stain;
    }
    // A streak is narrow; a wash as faint, but broad, is the palest of paint and stays.
    let narrow = area < 12_000.0 && r.thick < 16.0 * scale;
    // Away from all paint a streak may be a little stronger, if it is as even as a brush leaves it: a drawn line peaks.
    let stray = closeness < 0.001 && r.broad < 0.1 && r.broad > 0.8 * r.peak;
    // As faint all along as no line is, even where a hair or dust lies on it.
    let even = span > 5.0 * r.thick / scale && r.strength() < EVEN && closeness < 0.06;
    // What is lighter than dark paper is more so as encoded.
    let weak = r.broad < if darker { 0.062 } else { 0.08 };
    let streak = narrow && (weak || stray || even);
    if visible && rules.stains && streak {
        return Kind::Stain;
    }
    Kind::Paint
}

fn measure(sheet: &Sheet, field: &PaperField, regions: &Regions, sure: &[bool], depth: &Plane<u8>) -> Vec<Region> {
    let mut measured = vec![Region { left: u32::MAX, top: u32::MAX, ..Region::default() }; regions.count()];
    for y in 0..regions.height() {
        for run in regions.row(y) {
            let r = &mut measured[run.region as usize];
            r.pixels += run.end - run.start;
            r.left = r.left.min(run.start);
            r.right = r.right.max(run.end);
            r.top = r.top.min(y as u32);
            r.bottom = r.bottom.max(y as u32 + 1);
            let washed = run.cells(field.cell()).filter(|(column, _)| field.is_washed(column * field.cell(), y));
            r.washed += washed.map(|(_, pixels)| pixels as u32).sum::<u32>();
        }
    }
    /// Half the side of the broad neighborhood.
    const HALO: usize = 3;
    const ROWS: usize = 32;
    /// Of so many bands one measures what is huge.
    const BANDS: usize = 4;
    let is_huge = |r: &Region| r.pixels > HUGE && (r.bottom - r.top) as usize > 8 * BANDS * ROWS;
    let huge: Vec<bool> = measured.iter().map(is_huge).collect();
    let absorbance = Absorbance::new();
    let mut tile = Tile::default();
    let (w, h) = (sheet.width(), sheet.height());
    for first in (0..h).step_by(ROWS) {
        let rows = first..(first + ROWS).min(h);
        let measures_huge = (first / ROWS).is_multiple_of(BANDS);
        let counts = |region: usize| sure[region] && (measures_huge || !huge[region]);
        let counted = |y: usize| regions.row(y).iter().filter(|run| counts(run.region as usize));
        let left = rows.clone().flat_map(counted).map(|run| run.start as usize).min();
        let right = rows.clone().flat_map(counted).map(|run| run.end as usize).max();
        let (Some(left), Some(right)) = (left, right) else { continue };
        tile.load(sheet, field, rows.clone(), left..right, HALO);
        for y in rows {
            let at = y - first + HALO;
            let (residual, papers) = ([0, 1, 2].map(|c| tile.residual(c, at)), [0, 1, 2].map(|c| tile.paper(c, at)));
            for run in counted(y) {
                let r = &mut measured[run.region as usize];
                if r.pixels > LARGE && y % 4 != 0 {
                    continue;
                }
                let step = if r.pixels > LARGE { 4 } else { 1 };
                for x in (run.start as usize..run.end as usize).step_by(step) {
                    let column = x - left + HALO;
                    let here = residual.map(|row| row[column]);
                    let paper = papers.map(|row| row[column]);
                    r.sampled += 1.0;
                    for c in 0..3 {
                        r.absorbed[c] += absorbance.of(here[c] + paper[c], paper[c]);
                    }
                    let contrast = length(here);
                    r.contrast += contrast;
                    // What goes on beyond the sheet is cut by its edge all the same.
                    let within = (x + 1).min(y + 1).min(w - x).min(h - y);
                    let deep = min(f32::from(depth.at(x, y)) / f32::from(distance::UNIT), within as f32);
                    r.core += deep * deep * contrast;
                    r.core_weight += deep * deep;
                    r.thick = max(r.thick, deep);
                    let small = around::<1>(&tile, at, column);
                    r.peak = max(r.peak, length(small));
                    let smoothed = (0..3).map(|c| absorbance.of(small[c] + paper[c], paper[c])).sum::<f32>() / 3.0;
                    r.peak_absorbed = max(r.peak_absorbed, smoothed);
                    // Broad contrast settles where paint is faint: once it is beyond doubt there is no need to go on.
                    if r.broad < 0.1 && (x + y).is_multiple_of(2) {
                        r.broad = max(r.broad, length(around::<HALO>(&tile, at, column)));
                    }
                }
            }
        }
    }
    measured
}

/// Mean residual over a square with soft corners (a triangle across times a triangle down).
fn around<const RADIUS: usize>(tile: &Tile, at: usize, column: usize) -> [f32; 3] {
    let weight = |i: usize| (RADIUS + 1 - i.abs_diff(RADIUS)) as f32;
    let total = ((RADIUS + 1) * (RADIUS + 1)) as f32;
    let mut sum = [0.0; 3];
    for dy in 0..=2 * RADIUS {
        for (c, sum) in sum.iter_mut().enumerate() {
            let row = &tile.residual(c, at + dy - RADIUS)[column - RADIUS..=column + RADIUS];
            row.iter().enumerate().for_each(|(dx, v)| *sum += weight(dy) * weight(dx) * v);
        }
    }
    sum.map(|v| v / (total * total))
}

/// Light absorbed over the paper: the natural logarithm of paper light over scan light, from a table.
struct Absorbance(Vec<f32>);

impl Absorbance {
    const STEPS: usize = 1024;

    fn new() -> Self {
        use crate::color::transfer;
        let light = |i: usize| transfer::linear(i as f64 / Self::STEPS as f64).max(0.004);
        Self((0..=Self::STEPS).map(|i| -math::ln(light(i)) as f32).collect())
    }

    fn of(&self, scan: f32, paper: f32) -> f32 {
        let at = |v: f32| self.0[((v * Self::STEPS as f32) as usize).min(Self::STEPS)];
        at(scan) - at(paper)
    }
}

/// The mean color of real paint around every place, on the paper field's grid.
pub(super) struct Nearby {
    cell: usize,
    weight: Plane<f32>,
    color: [Plane<f32>; 3],
}

impl Nearby {
    fn new(field: &PaperField, regions: &Regions, measured: &[Region], scale: f32) -> Result<Self> {
        /// Reach in pixels at 300 ppi: about 2 mm.
        const REACH: f32 = 20.0;
        let (cols, rows, cell) = (field.grid().width(), field.grid().height(), field.cell());
        let mut weight: Plane<f32> = Plane::new(cols, rows, "a map of colors")?;
        let mut color = [weight.clone(), weight.clone(), weight.clone()];
        let art: Vec<Option<[f32; 3]>> = measured.iter().map(|r| is_art(r, scale).then(|| r.mean())).collect();
        let share = 1.0 / (cell * cell) as f32;
        for y in 0..regions.height() {
            for run in regions.row(y) {
                let Some(mean) = art[run.region as usize] else { continue };
                for (column, pixels) in run.cells(cell) {
                    let (at, part) = ((y / cell) * cols + column, pixels as f32 * share);
                    weight.data_mut()[at] += part;
                    (0..3).for_each(|c| color[c].data_mut()[at] += part * mean[c]);
                }
            }
        }
        let sigma = (REACH * scale / cell as f32).max(0.5);
        gauss::blur(&mut weight, sigma)?;
        for plane in &mut color {
            gauss::blur(plane, sigma)?;
        }
        Ok(Self { cell, weight, color })
    }

    /// Cosine between a color and that of the paint around a region, and how much paint there is around (0..1).
    pub(super) fn likeness(&self, r: &Region, mean: [f32; 3]) -> (f32, f32) {
        let x = ((r.left + r.right) / 2) as usize / self.cell;
        let y = ((r.top + r.bottom) / 2) as usize / self.cell;
        let weight = self.weight.at(x, y);
        let near = [0, 1, 2].map(|c| self.color[c].at(x, y));
        (dot(near, mean) / (length(near) * length(mean)).max(1e-6), weight)
    }
}
