//! What tells a pocket from a white: what an island looks like, and what lies around it.
//!
//! A pocket lies between things: strong paint of several strokes ends at it crisply, and soon there is paper again beyond them. A
//! white lies within one: pale paint of one hue fades into it, or a fine line parts it from the next.
//!
//! All is measured at half size. Around every island paint is gone through in rings, each place from the island it is nearest to,
//! so that the work is bounded by the sheet however many islands there are.

use super::Island;
use super::cover::{Cover, bits};
use super::evidence::{CONTRAST_STEPS, Evidence, STEPS};
use super::rays::{Around, Rays};
use crate::color::math;
use crate::error::Result;
use crate::filter::order::{median, quantile};
use crate::filter::vector::length;
use crate::filter::{Regions, distance, grid};
use crate::image::Plane;
use crate::units::{Mm, Ppi, Px};

/// How many features there are.
pub const COUNT: usize = 30;
/// Their names, in the order of [`Features::values`].
pub const NAMES: [&str; COUNT] = [
    "area_mm2",
    "gap",
    "edge_weak",
    "edge_strong",
    "edge_spread",
    "ring_1",
    "ring_2",
    "ring_3",
    "ring_4",
    "paint",
    "paint_of_sheet",
    "hue_alike",
    "colored",
    "bare_2",
    "bare_3",
    "bare_4",
    "walls",
    "ground_mm",
    "off_paper",
    "lighter",
    "deviations",
    "unrest",
    "border",
    "wide_share",
    "filled",
    "deep",
    "thin",
    "out",
    "toned",
    "traced",
];

/// Where the rings around an island end, in half-size pixels at 300 ppi.
const RINGS: [f32; 4] = [1.0, 2.0, 4.0, 7.0];
/// Open ground that no ring has met.
const FAR: Mm = Mm(1.5);
/// Half-size pixels from the border at which an island is no longer narrow.
const SHALLOW: f32 = 3.0;
/// Share of a border from which on faint contours count.
pub(super) const TRACED: f32 = 0.02;
/// No island, in the plane of territories.
const NONE: u32 = u32::MAX;

/// What an island looks like, as numbers; see [`NAMES`]. Contrasts are encoded, 0..1.7.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Features {
    /// The numbers.
    pub values: [f32; COUNT],
}

/// Where a feature stands; a name that there is not does not compile.
const fn place(name: &str) -> usize {
    let mut i = 0;
    while !is_same(NAMES[i].as_bytes(), name.as_bytes()) {
        i += 1;
    }
    i
}

const fn is_same(a: &[u8], b: &[u8]) -> bool {
    let mut i = 0;
    while i < a.len() && i < b.len() && a[i] == b[i] {
        i += 1;
    }
    i == a.len() && i == b.len()
}

impl Features {
    /// Whether paint stays around it on nearly every side.
    #[must_use]
    pub fn is_deep(&self) -> bool {
        const DEEP: usize = place("deep");
        self.values[DEEP] >= 0.72
    }

    /// Whether it is a hole in one wash, smooth or on a sheet without toning: a reserved white, whatever else it looks like
    /// (common practice, no source). Plates in old books have their whites in drawn lines, and pockets between broad leaves.
    #[must_use]
    pub fn is_reserved(&self) -> bool {
        const OF: [usize; 8] = [
            place("gap"),
            place("deep"),
            place("filled"),
            place("toned"),
            place("out"),
            place("walls"),
            place("bare_2"),
            place("traced"),
        ];
        let [gap, deep, filled, toned, out, walls, bare, traced] = OF.map(|i| self.values[i]);
        let oval = filled >= 0.94 && deep >= 0.75;
        let even = toned < 0.01 && deep >= 0.85;
        let enclosed = out == 0.0 && walls < 0.02 && bare == 0.0;
        gap == 0.0 && traced <= TRACED && (oval || even && enclosed)
    }
}

/// What is gathered for one island.
#[derive(Clone, Debug, Default)]
struct Gathered {
    cells: f32,
    /// Sums of x, y, and their products, from the first cell.
    first: [usize; 2],
    moments: [f32; 5],
    /// Largest distance to the border, in half-size pixels, and the cells at a distance of one and a half.
    depth: f32,
    deepest: [usize; 2],
    /// That distance where the island says that it is.
    depth_at: f32,
    wide: f32,
    /// Deviations well inside; how far off the paper it is there, summed, and its square.
    deviations: Vec<f32>,
    off: [f32; 3],
    off_square: f32,
    /// The strongest contrast beside each place of the border.
    edge: Vec<f32>,
    /// Contrast in every ring, of paint in all rings, and the bare share of the rings.
    rings: [Vec<f32>; 4],
    paint: Vec<f32>,
    bare: [f32; 4],
    /// Off-paper colors of the paint in the third ring: their sum, the sum of their lengths, of and of what is no gray in them.
    hue: [f32; 3],
    hue_length: f32,
    colored: f32,
    hues: f32,
    /// Places within two rings where the next island's territory begins.
    walls: f32,
    /// The ring step at which open ground was first met.
    ground: Option<f64>,
    rays: Rays,
}

/// Measures islands on a sheet of which the share `toned` is toned or shaded in patches, and finds a better place for one that is
/// said to be where it is narrow. `open` free regions reach the outside; `ground` are these and other islands.
///
/// # Errors
/// When there is no memory.
pub fn measure(
    evidence: &Evidence,
    cover: &Cover,
    free: &Regions,
    open: &[bool],
    ground: &[bool],
    islands: &[Island],
    toned: f32,
    ppi: Ppi,
) -> Result<Vec<(Features, Option<[usize; 2]>)>> {
    if islands.is_empty() {
        return Ok(Vec::new());
    }
    let mut number = vec![usize::MAX; free.count()];
    for (i, island) in islands.iter().enumerate() {
        number[island.region] = i;
    }
    let mut gathered = vec![Gathered::default(); islands.len()];
    let rays = Around::new(cover, free, open, ground, ppi);
    for y in 0..free.height() {
        for run in free.row(y) {
            let i = number[run.region as usize];
            if i != usize::MAX {
                gathered[i].rays.send(&rays, run, y, rays.reach(islands[i].area_mm2));
            }
        }
    }
    let cells = Cells { evidence, cover };
    let (mut territory, seeds) = seeds(cover, free, &number, islands)?;
    inside(&cells, &territory, islands, &mut gathered);
    around(&cells, &mut territory, seeds, ppi.coarseness(), &mut gathered);
    let of_sheet = cells.paint_of_sheet();
    let measured = gathered.into_iter().zip(islands).map(|(g, island)| {
        // Where the island says that it is may lie in a narrow part of it.
        let better = (g.depth_at < SHALLOW && g.depth > g.depth_at).then(|| g.deepest.map(|v| 2 * v));
        (g.features(island, of_sheet, toned, ppi), better)
    });
    Ok(measured.collect())
}

/// The sheet at half size.
struct Cells<'a> {
    evidence: &'a Evidence,
    cover: &'a Cover,
}

impl Cells<'_> {
    /// The up to four values of a cell in a plane of full size.
    fn of<T: Copy>(plane: &Plane<T>, x: usize, y: usize) -> impl Iterator<Item = T> {
        let columns = 2 * x..(2 * x + 2).min(plane.width());
        (2 * y..(2 * y + 2).min(plane.height())).flat_map(move |y| plane.row(y)[columns.clone()].iter().copied())
    }

    fn contrast(&self, x: usize, y: usize) -> f32 {
        let (sum, count) = Self::of(&self.evidence.contrast, x, y).fold((0, 0), |(sum, n), v| (sum + u32::from(v), n + 1));
        sum as f32 / (count as f32 * CONTRAST_STEPS)
    }

    /// The largest contrast of the cell and the eight around it.
    fn strongest(&self, x: usize, y: usize, [w, h]: [usize; 2]) -> f32 {
        let rows = y.saturating_sub(1)..(y + 2).min(h);
        let around = rows.flat_map(|y| (x.saturating_sub(1)..(x + 2).min(w)).map(move |x| (x, y)));
        let top = around.flat_map(|(x, y)| Self::of(&self.evidence.contrast, x, y)).max().unwrap_or(0);
        f32::from(top) / CONTRAST_STEPS
    }

    fn deviations(&self, x: usize, y: usize) -> f32 {
        let (sum, count) = Self::of(&self.evidence.fine, x, y).fold((0, 0), |(sum, n), v| (sum + u32::from(v), n + 1));
        sum as f32 / (count as f32 * STEPS)
    }

    fn off_paper(&self, x: usize, y: usize) -> [f32; 3] {
        let [r, g, b, _] = self.evidence.coarse.at(x / 2, y / 2);
        [r, g, b]
    }

    /// Whether most of the cell is painted.
    fn painted(&self, x: usize, y: usize) -> bool {
        let painted = Self::of(&self.cover.cover, x, y).map(|bits| i32::from(bits & bits::PAINT != 0) * 2 - 1).sum::<i32>();
        painted >= 0
    }

    /// The middle contrast of all paint.
    fn paint_of_sheet(&self) -> f32 {
        // One row in eight is enough of a large number.
        let (contrast, cover) = (&self.evidence.contrast, &self.cover.cover);
        let mut counts = vec![0_u32; 1 << 16];
        for y in (0..cover.height()).step_by(8) {
            let painted = contrast.row(y).iter().zip(cover.row(y)).filter(|(_, bits)| **bits & bits::PAINT != 0);
            painted.for_each(|(v, _)| counts[usize::from(*v)] += 1);
        }
        let half = counts.iter().sum::<u32>() / 2;
        let mut below = 0;
        let middle = counts.iter().position(|n| {
            below += n;
            below > half
        });
        middle.unwrap_or(0) as f32 / CONTRAST_STEPS
    }
}

/// The islands at half size, and their cells in order.
fn seeds(cover: &Cover, free: &Regions, number: &[usize], islands: &[Island]) -> Result<(Plane<u32>, Vec<usize>)> {
    let (w, h) = (cover.cover.width().div_ceil(2), cover.cover.height().div_ceil(2));
    let mut territory: Plane<u32> = Plane::new(w, h, "what lies around the whites")?;
    territory.data_mut().fill(NONE);
    let mut count = vec![0_u8; w];
    for y in 0..h {
        count.fill(0);
        for run in (2 * y..(2 * y + 2).min(free.height())).flat_map(|y| free.row(y)) {
            let island = number[run.region as usize];
            if island == usize::MAX {
                continue;
            }
            for x in run.start as usize / 2..(run.end as usize).div_ceil(2) {
                let own = (run.end.min(2 * x as u32 + 2) - run.start.max(2 * x as u32)) as u8;
                // At least two of its pixels, the first island's if there are two.
                if territory.at(x, y) == NONE || territory.at(x, y) == island as u32 {
                    count[x] += own;
                    if count[x] >= 2 {
                        territory.set(x, y, island as u32);
                    }
                }
            }
        }
    }
    for (i, island) in islands.iter().enumerate() {
        let [x, y] = island.at.map(|v| v / 2);
        if territory.at(x, y) == NONE {
            territory.set(x, y, i as u32);
        }
    }
    let seeds = (0..w * h).filter(|i| territory.data()[*i] != NONE).collect();
    Ok((territory, seeds))
}

/// Gathers what is within the islands.
fn inside(cells: &Cells<'_>, territory: &Plane<u32>, islands: &[Island], gathered: &mut [Gathered]) {
    let at: Vec<[usize; 2]> = islands.iter().map(|island| island.at).collect();
    let (w, h) = (territory.width(), territory.height());
    let mut depth = Plane::from_vec(w, h, territory.data().iter().map(|t| if *t == NONE { 0 } else { distance::FAR }).collect());
    distance::chamfer(&mut depth);
    let depth_at = |x: usize, y: usize| f32::from(depth.at(x, y)) / f32::from(distance::UNIT);
    let each = || (0..w * h).filter(|i| territory.data()[*i] != NONE).map(|i| (i % w, i / w, territory.data()[i] as usize));
    for (x, y, island) in each() {
        let g = &mut gathered[island];
        if g.cells == 0.0 {
            g.first = [x, y];
        }
        g.cells += 1.0;
        let [dx, dy] = [x as f32 - g.first[0] as f32, y as f32 - g.first[1] as f32];
        for (moment, v) in g.moments.iter_mut().zip([dx, dy, dx * dx, dx * dy, dy * dy]) {
            *moment += v;
        }
        if depth_at(x, y) > g.depth {
            (g.depth, g.deepest) = (depth_at(x, y), [x, y]);
        }
        if [x, y] == at[island].map(|v| v / 2) {
            g.depth_at = depth_at(x, y);
        }
        g.wide += f32::from(u8::from(depth_at(x, y) >= 1.5));
    }
    for (x, y, island) in each() {
        let g = &mut gathered[island];
        if depth_at(x, y) >= math::min(1.5, 0.5 * g.depth) {
            g.deviations.push(cells.deviations(x, y));
            let off = cells.off_paper(x, y);
            (0..3).for_each(|c| g.off[c] += off[c]);
            g.off_square += off.iter().map(|v| v * v).sum::<f32>();
        }
    }
}

/// Goes outward from the islands ring by ring, and gathers what is there.
fn around(cells: &Cells<'_>, territory: &mut Plane<u32>, seeds: Vec<usize>, scale: f32, gathered: &mut [Gathered]) {
    let (w, h) = (territory.width(), territory.height());
    let mut front = seeds;
    let mut next = Vec::new();
    let last = (RINGS[3] * scale) as usize;
    for step in 1..=last {
        let ring = RINGS.iter().position(|end| step <= (end * scale) as usize).unwrap_or(3);
        for &from in &front {
            let island = territory.data()[from];
            for to in grid::beside(from, w, h) {
                let there = territory.data()[to];
                if there == NONE {
                    territory.data_mut()[to] = island;
                    next.push(to);
                } else if there != island && ring < 2 {
                    gathered[island as usize].walls += 1.0;
                }
            }
        }
        for &i in &next {
            let (x, y) = (i % w, i / w);
            let g = &mut gathered[territory.data()[i] as usize];
            let contrast = cells.contrast(x, y);
            g.rings[ring].push(contrast);
            if step == 1 {
                g.edge.push(cells.strongest(x, y, [w, h]));
            }
            if !cells.painted(x, y) {
                g.bare[ring] += 1.0;
                if step > 1 {
                    g.ground = g.ground.or(Some(step as f64));
                }
                continue;
            }
            g.paint.push(contrast);
            if ring == 2 {
                let off = cells.off_paper(x, y);
                let mean = (off[0] + off[1] + off[2]) / 3.0;
                (0..3).for_each(|c| g.hue[c] += off[c]);
                g.hue_length += length(off);
                g.colored += length(off.map(|v| v - mean));
                g.hues += 1.0;
            }
        }
        std::mem::swap(&mut front, &mut next);
        next.clear();
    }
}

impl Gathered {
    fn features(mut self, island: &Island, of_sheet: f32, toned: f32, ppi: Ppi) -> Features {
        let [deep, thin, out] = self.rays.shares();
        let cells = self.cells.max(1.0);
        let border = self.rings[0].len().max(1) as f32;
        let inner = self.deviations.len().max(1) as f32;
        let off = self.off.map(|v| v / inner);
        let off_length = length(off);
        let hues = self.hues.max(1.0);
        let bare = |ring: usize| self.bare[ring] / self.rings[ring].len().max(1) as f32;
        let bares = [1, 2, 3].map(bare);
        // Share of an ellipse of the same second moments that it fills.
        let [x, y, xx, xy, yy] = self.moments.map(|v| v / cells);
        let (xx, xy, yy) = (xx - x * x + 1.0 / 12.0, xy - x * y, yy - y * y + 1.0 / 12.0);
        let filled = cells / (4.0 * core::f32::consts::PI * (xx * yy - xy * xy).max(1e-6).sqrt());
        let spread = {
            let logs: Vec<f32> = self.edge.iter().map(|v| math::lnf(v + 0.005)).collect();
            let mean = logs.iter().sum::<f32>() / logs.len().max(1) as f32;
            (logs.iter().map(|v| (v - mean) * (v - mean)).sum::<f32>() / logs.len().max(1) as f32).sqrt()
        };
        let edge = [0.25, 0.75].map(|share| quantile(&mut self.edge, share));
        let rings = self.rings.each_mut().map(|ring| median(ring));
        let paint = median(&mut self.paint);
        let ground = self.ground.map_or(FAR.0, |step| Px(2.0 * step).at(ppi).0) as f32;
        Features {
            values: [
                island.area_mm2 as f32,
                f32::from(u8::from(island.bay)),
                edge[0],
                edge[1],
                spread,
                rings[0],
                rings[1],
                rings[2],
                rings[3],
                paint,
                paint / of_sheet.max(0.01),
                length(self.hue) / self.hue_length.max(1e-6),
                self.colored / hues,
                bares[0],
                bares[1],
                bares[2],
                self.walls / border,
                ground,
                off_length,
                (off[0] + off[1] + off[2]) / 3.0,
                median(&mut self.deviations),
                (self.off_square / inner - off_length * off_length).max(0.0).sqrt(),
                border / cells.sqrt(),
                self.wide / cells,
                filled,
                deep,
                thin,
                out,
                toned,
                island.traced,
            ],
        }
    }
}
