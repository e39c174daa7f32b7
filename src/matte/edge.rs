//! The matte: how far each pixel is painted, 0..1, as the mixing fraction in encoded values.
//!
//! Inside paint it is 1, on bare paper 0. Near an outline the paint's own color is taken from inside the stroke (its
//! plateau or ridge, undimmed where the stroke is thin, and carried on to the outline where it grows towards it), and the pixel
//! is placed on the straight line from paper to that color. Where noise makes this uncertain (faint paint), the outline's
//! geometry, blurred as the scanner blurs, weighs in by the inverse of its variance.

use std::ops::Range;

use super::cores::Cores;
use super::cover::{Cover, bits};
use super::dry::DryBrush;
use super::evidence::{Evidence, unbiased};
use super::outline::{self, Outline, from_outline};
use super::thin::{SECOND, Thinness};
use crate::color::math::max;
use crate::color::transfer::Curves;
use crate::error::Result;
use crate::filter::vector::{difference, dot};
use crate::filter::{distance, gauss, local_max};
use crate::image::{Plane, Sheet};
use crate::paper::PaperField;
use crate::paper::tile::{self, Tile};

/// A matte of 1.
pub const FULL: u16 = u16::MAX;
/// The matte of a pixel that has evidence of paint but is no part of it: the rim. Zero means never painted.
pub const RIM: u16 = 1;

/// Radius in which the paint's own color is looked for, in pixels.
const LOOK: usize = 4;
/// Blur before a thin stroke's narrow peak is read.
const FIRST: f32 = 0.5;
/// Reach along a ridge over which peaks are averaged: one pixel alone is too noisy for a ratio.
const ALONG: usize = 3;
/// With more core pixels than this around, half of them say as much.
const PLENTY: u32 = 20;
/// So much more alpha than the matte's own is no bright dot.
const PALE: f32 = 0.1;
/// Standard deviation of the geometric coverage: an outline is known to a fifth of a pixel.
const GEOMETRY: f32 = 0.18;
/// What counts for less than this is left out.
const LITTLE: f32 = 0.01;
/// Variance of one pixel's noise in that of the finest pooling.
const NOISE: f32 = 2.5;
/// Of paint this many deviations off the paper, what strays from the line to its own color is its own unevenness as much as the
/// paper's.
const UNEVEN: f32 = 1.0 / 16.0;
/// Coverage from which on paint is as good as solid, and at which it is solid: granulation and grain are no edge.
const SOLID: [f32; 2] = [0.9, 0.98];
/// Only in strokes with paint so many pixels deep: what a dry brush leaves is covered in part all over.
const BROAD: f32 = 4.4;

/// Makes the matte, one row of tiles at a time.
#[derive(Debug)]
pub struct Edging {
    matte: Plane<u16>,
    /// Distance from kept pixels to the cleared, and from cleared to the kept, in fifths of a pixel.
    inward: Plane<u8>,
    outward: Plane<u8>,
    /// Distance from paint to the ground, whatever is decided about it: a stroke's own color must not depend on that. `None`
    /// where no ground is kept: it is the same as `inward` then.
    depth: Option<Plane<u8>>,
    /// Where the outlines run, of the paint against all ground.
    outline: Outline,
    sigma: f32,
    thinness: Thinness,
    /// The kernels of the two blurs that tell how thin a stroke is.
    first: Vec<f32>,
    second: Vec<f32>,
    next: usize,
    tile: Tile,
    wider: Tile,
    pool: Buffers,
}

/// What is known around the pixels of a tile. Those of the first kind hold the tile with [`LOOK`] pixels on each side.
#[derive(Debug, Default)]
struct Buffers {
    /// One bit a pixel, rows padded to whole words and one more.
    core: Vec<u64>,
    thin: Vec<bool>,
    /// Own color of core pixels.
    own: Vec<[f32; 3]>,
    /// How far the color of a core pixel is the paint's own, 0..1.
    trust: Vec<f32>,
    deviations: Vec<u8>,
    contrast: Vec<u16>,
    contrast_across: Vec<u16>,
    top: Vec<u16>,
    across: Vec<f32>,
    inward: Vec<u8>,
    deepest: Vec<u8>,
    kept: Vec<f32>,
    coverage: Vec<f32>,
    /// As `coverage`, with all ground taken for cleared.
    painted: Vec<f32>,
    darkness: Vec<f32>,
    narrow: Vec<f32>,
    broad: Vec<f32>,
}

/// By how much less than [`reach`] the blur reaches out of paint, in fifths of a pixel.
const SOONER: u8 = 3;
/// Columns that are worked on at once, where no such blocks lie side by side.
const COLUMNS: usize = 64;
/// Half the window in which a pixel must stand out to be core.
const CORE: usize = 2;
/// A thin shape is a dot where no pixel at this distance, along a square around it, is kept.
const RING: usize = 5;
/// A stroke is thin where nothing within two pixels lies deeper than this, in fifths of a pixel.
const THIN: u8 = 13;

impl Edging {
    /// Prepares the distances and outlines. `sigma` is the scan's blur in pixels, and `tolerance` that of the recipe.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn new(
        sheet: &Sheet,
        field: &PaperField,
        evidence: &Evidence,
        cover: &Cover,
        sigma: f32,
        tolerance: f32,
    ) -> Result<Self> {
        let farthest = reach(sigma) + 2 * distance::UNIT;
        let inward = to_nearest(cover, |c| c & bits::CLEARED != 0, farthest)?;
        let outward = to_nearest(cover, |c| c & bits::CLEARED == 0, farthest)?;
        let kept_ground = |c: &u8| c & (bits::GROUND | bits::CLEARED) == bits::GROUND;
        let any_kept = cover.cover.data().iter().fold(false, |any, c| any | kept_ground(c));
        let depth = if any_kept { Some(to_nearest(cover, |c| c & bits::GROUND != 0, farthest)?) } else { None };
        let outline = {
            let distances = [depth.as_ref().unwrap_or(&inward), &outward];
            Outline::find(sheet, field, evidence, cover, distances, sigma, tolerance)?
        };
        Ok(Self {
            matte: Plane::new(sheet.width(), sheet.height(), "the matte")?,
            inward,
            outward,
            depth,
            outline,
            sigma,
            thinness: Thinness::new(sigma, FIRST),
            first: gauss::kernel(FIRST),
            second: gauss::kernel(SECOND),
            next: 0,
            tile: Tile::default(),
            wider: Tile::default(),
            pool: Buffers::default(),
        })
    }

    /// How far the work is, 0..1.
    #[must_use]
    pub fn progress(&self) -> f32 {
        self.next as f32 / self.matte.height() as f32
    }

    /// The matte so far; whole once `advance` has returned false.
    #[must_use]
    pub fn into_matte(self) -> Plane<u16> {
        self.matte
    }

    /// Works through the next row of tiles; false when there was none left.
    pub fn advance(
        &mut self,
        sheet: &Sheet,
        field: &PaperField,
        evidence: &Evidence,
        cover: &Cover,
        dry: Option<&DryBrush>,
    ) -> bool {
        let Some(rows) = tile::next_rows(&mut self.next, sheet.height()) else { return false };
        // Narrower than a tile: little is to spare around, and more of them have no outline in them.
        let busy = self.begin(cover, rows.clone());
        let blocks = (0..sheet.width()).step_by(COLUMNS).map(|x| x..(x + COLUMNS).min(sheet.width()));
        let busy = blocks.zip(busy).filter(|(_, busy)| *busy).map(|(columns, _)| columns);
        for columns in tile::joined(busy) {
            self.tile(sheet, field, evidence, cover, rows.clone(), columns);
        }
        if let Some(dry) = dry {
            dry.open(sheet, field, evidence, cover, (&self.inward, self.depth.as_ref()), rows, &mut self.matte);
        }
        true
    }

    /// Gives rows the matte that they have away from outlines, and tells which blocks of columns are near one.
    fn begin(&mut self, cover: &Cover, rows: Range<usize>) -> Vec<bool> {
        let near = near(self.sigma);
        let mut busy = vec![false; cover.cover.width().div_ceil(COLUMNS)];
        for y in rows {
            let (inward, outward) = (self.inward.row(y), self.outward.row(y));
            for ((m, i), c) in self.matte.row_mut(y).iter_mut().zip(inward).zip(cover.cover.row(y)) {
                let rim = u16::from(c & (bits::PAINT | bits::OUTSIDE) == bits::PAINT) * RIM;
                *m = if *i > 0 { FULL } else { rim };
            }
            let parts = self.outline.row(y).chunks(COLUMNS);
            for (((busy, inward), outward), parts) in
                busy.iter_mut().zip(inward.chunks(COLUMNS)).zip(outward.chunks(COLUMNS)).zip(parts)
            {
                *busy |= inward.iter().zip(outward).fold(false, |busy, (i, o)| busy | near(*i, *o));
                *busy |= parts.iter().fold(false, |busy, part| busy | (*part > 0));
            }
        }
        busy
    }

    fn tile(
        &mut self,
        sheet: &Sheet,
        field: &PaperField,
        evidence: &Evidence,
        cover: &Cover,
        rows: Range<usize>,
        columns: Range<usize>,
    ) {
        let near = near(self.sigma);
        self.load(sheet, field, evidence, cover, rows.clone(), columns.clone());
        let mut cores = Cores::default();
        for (i, y) in rows.enumerate() {
            for (k, x) in columns.clone().enumerate() {
                let (inward, outward) = (self.inward.at(x, y), self.outward.at(x, y));
                // Of pale paint some lies farther out.
                let beyond = inward == 0 && self.outline.row(y)[x] > outline::part(false);
                if !(beyond || near(inward, outward)) || cover.cover.at(x, y) & bits::OUTSIDE != 0 {
                    continue;
                }
                let value = self.pixel(evidence, i, k, inward > 0 || beyond, &mut cores);
                let m = self.matte.at(x, y);
                self.matte.set(x, y, ((value * f32::from(FULL)).round() as u16).max(m.min(RIM)));
            }
        }
    }

    /// Fills the buffers for a tile: core pixels, their colors, and coverage by geometry.
    fn load(
        &mut self,
        sheet: &Sheet,
        field: &PaperField,
        evidence: &Evidence,
        cover: &Cover,
        rows: Range<usize>,
        columns: Range<usize>,
    ) {
        let reach = reach(self.sigma);
        let (w, h) = (sheet.width(), sheet.height());
        self.tile.load(sheet, field, rows.clone(), columns.clone(), LOOK);
        let b = &mut self.pool;
        let (tall, n) = (rows.len() + 2 * LOOK, columns.len() + 2 * LOOK);
        let wide = n + 2 * CORE;
        let place =
            |i: usize, spare: usize, start: usize, size: usize| gauss::mirror((start + i) as isize - spare as isize, size);
        b.contrast.resize((tall + 2 * CORE) * wide, 0);
        b.contrast_across.resize((tall + 2 * CORE) * n, 0);
        let lines = b.contrast.chunks_exact_mut(wide).zip(b.contrast_across.chunks_exact_mut(n));
        for (i, (around, to)) in lines.enumerate() {
            let start = columns.start as isize - (LOOK + CORE) as isize;
            evidence.strong_contrast(place(i, LOOK + CORE, rows.start, h), start, &mut b.deviations, around);
            local_max::inside(around, CORE, to);
        }
        // Depths around, and the deepest within two pixels.
        let padded = n + 2 * RING;
        b.inward.resize((tall + 2 * RING) * padded, 0);
        for i in 0..tall + 2 * RING {
            let from = self.depth.as_ref().unwrap_or(&self.inward).row(place(i, LOOK + RING, rows.start, h));
            let start = columns.start as isize - (LOOK + RING) as isize;
            gauss::mirrored(from, start, &mut b.inward[i * padded..(i + 1) * padded]);
        }
        // Coverage by geometry: the outline as the scanner's blur would show it.
        let kernel = gauss::kernel(self.sigma);
        let spare = kernel.len() - 1 + LOOK;
        b.kept.resize((rows.len() + 2 * spare) * n, 0.0);
        let mut line = vec![0.0; columns.len() + 2 * spare];
        let [mut known, mut parts, mut deep] = [(); 3].map(|()| vec![0; line.len()]);
        let left = columns.start as isize - spare as isize;
        let (outline, inward, all_cleared) = (&self.outline, &self.inward, self.depth.is_none());
        let mut blur_mask = |bit: u8, out: &mut Vec<f32>| {
            let of_all_ground = bit == bits::GROUND || all_cleared;
            deep.fill(distance::UNIT);
            for (i, to) in b.kept.chunks_exact_mut(n).enumerate() {
                let y = place(i, spare, rows.start, h);
                gauss::mirrored(cover.cover.row(y), left, &mut known);
                gauss::mirrored(outline.row(y), left, &mut parts);
                if !of_all_ground {
                    // Beside ground that is kept runs no outline of what is.
                    gauss::mirrored(inward.row(y), left, &mut deep);
                }
                for (((v, bits), part), deep) in line.iter_mut().zip(&known).zip(&parts).zip(&deep) {
                    let (bare, beside) = (bits & bit != 0, (*deep == distance::UNIT) & (bits & bits::GROUND == 0));
                    let whole = outline::part(!bare);
                    *v = outline::painted(if (*part != 0) & (bare | beside) { *part } else { whole });
                }
                gauss::blur_inside(&line, &kernel, to);
            }
            out.resize(tall * n, 0.0);
            gauss::blur_down(&b.kept, n, &kernel, out);
        };
        blur_mask(bits::CLEARED, &mut b.coverage);
        if self.depth.is_some() {
            blur_mask(bits::GROUND, &mut b.painted);
        } else {
            b.painted.clone_from(&b.coverage);
        }
        let words = n / 64 + 2;
        b.core.clear();
        b.core.resize(tall * words, 0);
        b.thin.clear();
        b.thin.resize(tall * n, false);
        b.own.resize(tall * n, [0.0; 3]);
        b.trust.resize(tall * n, 0.0);
        let places: Vec<usize> = (0..n).map(|k| place(k, LOOK, columns.start, w)).collect();
        let curves = Curves::get();
        b.top.resize(n, 0);
        b.deepest.resize(wide, 0);
        let mut any_thin = false;
        for i in 0..tall {
            local_max::across_rows(b.contrast_across[i * n..(i + 2 * CORE + 1) * n].chunks_exact(n), &mut b.top);
            b.deepest.fill(0);
            let around = &b.inward[(i + RING - CORE) * padded..(i + RING + CORE + 1) * padded];
            for row in around.chunks_exact(padded).map(|row| &row[RING - CORE..]) {
                b.deepest.iter_mut().zip(row).for_each(|(d, v)| *d = (*d).max(*v));
            }
            let here = &b.contrast[(i + CORE) * wide + CORE..][..n];
            let depth = &b.inward[(i + RING) * padded + RING..][..n];
            let y = place(i, LOOK, rows.start, h);
            let (middle, middle_top) = (evidence.middle.row(y / 2), evidence.middle_top.row(y / 2));
            let (residual, paper) = ([0, 1, 2].map(|c| self.tile.residual(c, i)), [0, 1, 2].map(|c| self.tile.paper(c, i)));
            for k in 0..n {
                if depth[k] == 0 {
                    continue;
                }
                // Faint paint is as strong as its tooth: the strongest pixels would be the noisiest, so its pooled color
                // stands for it.
                let faint = b.top[k] == 0;
                let x = places[k] / 2;
                let core = if faint {
                    let pooled = unbiased(middle[x]);
                    pooled > 0.0 && pooled >= 0.85 * unbiased(middle_top[x])
                } else {
                    f32::from(here[k]) >= 0.88 * f32::from(b.top[k]) || depth[k] > reach + distance::UNIT
                };
                if !core {
                    continue;
                }
                b.core[i * words + k / 64] |= 1 << (k % 64);
                let off = if faint { evidence.pooled.at(x, y / 2) } else { residual.map(|r| r[k]) };
                let mut own = [0, 1, 2].map(|c| paper[c][k] + off[c]);
                let thin = depth[k] <= THIN && b.deepest[k..=k + 2 * CORE].iter().all(|d| *d <= THIN);
                b.thin[i * n + k] = thin;
                any_thin |= thin;
                // Near the outline the blur has mixed paper in: un-mixed in light, where it happened.
                let covered = b.painted[i * n + k].clamp(0.5, 1.0);
                if !thin && covered < 0.99 {
                    for (c, own) in own.iter_mut().enumerate() {
                        let p = curves.linear(paper[c][k]);
                        *own = curves.encoded((p + (curves.linear(*own) - p) / covered).clamp(0.006, 1.0));
                    }
                }
                b.trust[i * n + k] = if thin { 1.0 } else { covered * covered };
                b.own[i * n + k] = own;
            }
        }
        if any_thin {
            self.undim(sheet, field, rows.clone(), columns.clone());
        }
    }

    /// Gives thin strokes' core pixels the color that the scanner's blur has dimmed, block by block: thin strokes are few.
    fn undim(&mut self, sheet: &Sheet, field: &PaperField, rows: Range<usize>, columns: Range<usize>) {
        const ROWS: usize = 32;
        // A block at the tile's border has what is around the tile too.
        let reach = |range: &Range<usize>, whole: usize| {
            let first = if range.start == 0 { 0 } else { range.start + LOOK };
            first..if range.end == whole { whole + 2 * LOOK } else { range.end + LOOK }
        };
        let n = columns.len() + 2 * LOOK;
        for top in (0..rows.len()).step_by(ROWS) {
            let down = top..(top + ROWS).min(rows.len());
            let lines = reach(&down, rows.len());
            for left in (0..columns.len()).step_by(COLUMNS) {
                let across = left..(left + COLUMNS).min(columns.len());
                let places = reach(&across, columns.len());
                if lines.clone().any(|i| self.pool.thin[i * n..][places.clone()].contains(&true)) {
                    let on_sheet = |range: &Range<usize>, start: usize| start + range.start..start + range.end;
                    self.wider.load(
                        sheet,
                        field,
                        on_sheet(&down, rows.start),
                        on_sheet(&across, columns.start),
                        LOOK + ALONG + self.second.len() - 1,
                    );
                    self.undim_block([top, left], lines.clone(), places, n);
                }
            }
        }
    }

    /// As [`Edging::undim`] for the block in `wider`, whose first pixel is pixel `at` of the tile; `lines` and `places` are
    /// counted with [`LOOK`] pixels before the tile, whose rows hold `n` so.
    fn undim_block(&mut self, at: [usize; 2], lines: Range<usize>, places: Range<usize>, n: usize) {
        let curves = Curves::get();
        let (b, tile) = (&mut self.pool, &self.wider);
        let stride = tile.stride();
        b.darkness.clear();
        b.darkness.resize(stride * tile.tall(), 0.0);
        for (i, out) in b.darkness.chunks_exact_mut(stride).enumerate() {
            for c in 0..3 {
                for ((d, r), p) in out.iter_mut().zip(tile.residual(c, i)).zip(tile.paper(c, i)) {
                    // Bare paper is dark by nothing.
                    if r.abs() > 0.004 {
                        *d += (curves.linear(*p) - curves.linear(r + p)) * (1.0 / 3.0);
                    }
                }
            }
        }
        // Both blurs end up with LOOK + ALONG pixels around the block.
        let spare = self.second.len() - 1;
        let wide = tile.columns().len() + 2 * (LOOK + ALONG);
        let tall = tile.rows().len() + 2 * (LOOK + ALONG);
        let mut blur = |kernel: &[f32], out: &mut Vec<f32>| {
            let lead = spare + 1 - kernel.len();
            b.across.resize(wide * (tile.tall() - 2 * lead), 0.0);
            let from = b.darkness[lead * stride..].chunks_exact(stride);
            for (from, to) in from.zip(b.across.chunks_exact_mut(wide)) {
                gauss::blur_inside(&from[lead..stride - lead], kernel, to);
            }
            out.resize(tall * wide, 0.0);
            gauss::blur_down(&b.across, wide, kernel, out);
        };
        blur(&self.first, &mut b.narrow);
        blur(&self.second, &mut b.broad);
        let all = b.thin.len() / n;
        for i in lines {
            for k in places.clone() {
                if !b.thin[i * n + k] {
                    continue;
                }
                let (mut narrow, mut broad) = (0.0, 0.0);
                for j in i.saturating_sub(ALONG)..(i + ALONG + 1).min(all) {
                    for l in k.saturating_sub(ALONG)..(k + ALONG + 1).min(n) {
                        if b.thin[j * n + l] {
                            let place = (j + ALONG - at[0]) * wide + l + ALONG - at[1];
                            narrow += b.narrow[place];
                            broad += b.broad[place];
                        }
                    }
                }
                if narrow.abs() < 1e-4 {
                    continue;
                }
                let dot = alone(&b.inward, n + 2 * RING, (i + RING, k + RING));
                let gain = 1.0 / self.thinness.share_left(broad / narrow, dot);
                let (row, column) = (i + tile.halo() - LOOK - at[0], k + tile.halo() - LOOK - at[1]);
                for (c, own) in b.own[i * n + k].iter_mut().enumerate() {
                    let p = curves.linear(tile.paper(c, row)[column]);
                    let light = (p - gain * (p - curves.linear(*own))).clamp(0.006, 1.0);
                    *own = curves.encoded(light);
                }
            }
        }
    }

    /// The matte of one pixel near an outline, in row `i` and column `k` of the tile.
    fn pixel(&self, evidence: &Evidence, i: usize, k: usize, inside: bool, cores: &mut Cores) -> f32 {
        let b = &self.pool;
        let paper = [0, 1, 2].map(|c| self.tile.paper(c, i + LOOK)[k + LOOK]);
        let residual = [0, 1, 2].map(|c| self.tile.residual(c, i + LOOK)[k + LOOK]);
        let n = self.tile.columns().len() + 2 * LOOK;
        let words = n / 64 + 2;
        // The nine columns of core bits of a row, the pixel's own in the middle.
        let core = |dy: usize| {
            let word = (i + dy) * words + k / 64;
            (b.core[word] >> (k % 64)) | (b.core[word + 1] << 1 << (63 - k % 64))
        };
        let many = (0..WINDOW.len()).map(|dy| (core(dy) & WINDOW[dy]).count_ones()).sum::<u32>() > PLENTY;
        let parity = self.tile.rows().start + i + self.tile.columns().start + k;
        cores.clear();
        let depths = n + 2 * RING;
        for (dy, window) in WINDOW.into_iter().enumerate() {
            let row = i + dy;
            let mut bits = core(dy) & window;
            if many {
                // Every other pixel, like the fields of a chessboard that does not move with the tile.
                bits &= if (parity + dy).is_multiple_of(2) { 0x155 } else { 0x0aa };
            }
            while bits != 0 {
                let dx = bits.trailing_zeros() as usize;
                bits &= bits - 1;
                let (across, down) = (dx.abs_diff(LOOK), dy.abs_diff(LOOK));
                let at = row * n + k + dx;
                let depth = (!b.thin[at]).then(|| from_outline(b.inward[(row + RING) * depths + RING + k + dx]));
                cores.add(b.own[at], b.trust[at] * NEARNESS[down * down + across * across], depth);
            }
        }
        let stroke = cores.along(paper, residual);
        let cover = b.coverage[(i + LOOK) * n + k + LOOK].clamp(0.0, 1.0);
        if stroke.weight < 1e-4 {
            // An edge softer than the scan's blur: its color lies farther in than is looked for.
            return if inside { cover } else { 0.0 };
        }
        let toward = difference(stroke.own, paper);
        let here = from_outline(b.inward[(i + LOOK + RING) * depths + RING + k + LOOK]);
        let gain = stroke.gain(toward, max(here, 0.0));
        let toward = toward.map(|v| gain * v);
        let square = max(dot(toward, toward), 1e-6);
        let along = direction(evidence, toward, square);
        let measured = dot(residual, along).clamp(0.0, 1.0);
        let variance = NOISE * evidence.tooth.variance_along(along) + 1e-6 / square;
        let by_shape = variance / (variance + GEOMETRY * GEOMETRY);
        // Where the color says it all, the shape is not worth its cost.
        let value = if by_shape < LITTLE {
            measured
        } else {
            let curves = Curves::get();
            let mixed = [0, 1, 2].map(|c| {
                let (p, f) = (curves.linear(paper[c]), curves.linear(paper[c] + toward[c]));
                curves.encoded(p + cover * (f - p)) - paper[c]
            });
            let geometric = (dot(mixed, toward) / square).clamp(0.0, 1.0);
            measured + by_shape * (geometric - measured)
        };
        // A white that is kept has no depth at all.
        let broad = cores.deepest() >= BROAD || inside && here < 0.0;
        let solid = if broad { (cover - SOLID[0]) / (SOLID[1] - SOLID[0]) } else { 0.0 };
        let value = max(value, solid.clamp(0.0, 1.0));
        if value < 0.02 || value < 0.5 && pale(paper, residual, toward) > value + PALE {
            0.0
        } else if value > 0.975 {
            1.0
        } else {
            value
        }
    }
}

/// The direction along which a residual measures how far it is paint that lies `toward` off the paper, whose square is known: 1
/// for all of it. Faint paint is told best where the paper varies least, and strong paint by its color.
fn direction(evidence: &Evidence, toward: [f32; 3], square: f32) -> [f32; 3] {
    let matched = evidence.tooth.matched(toward);
    let deviations = max(dot(matched, toward), 1e-3);
    let faint = 1.0 / (1.0 + (deviations * UNEVEN) * (deviations * UNEVEN));
    [0, 1, 2].map(|c| faint * matched[c] / deviations + (1.0 - faint) * toward[c] / square)
}

/// How much alpha it takes to explain what is lighter than the paper beside paint that is not: on paper near to white next to
/// none of it shows through paint, and a little sharpening or noise would make a bright dot of a pixel that is mostly paper.
fn pale(paper: [f32; 3], residual: [f32; 3], toward: [f32; 3]) -> f32 {
    (0..3).filter(|&c| toward[c] <= 0.0).fold(0.0, |most, c| max(most, residual[c] / max(1.0 - paper[c], 1e-6)))
}

/// Whether a pixel with these distances is so near an outline that a blur of `sigma` pixels reaches it.
fn near(sigma: f32) -> impl Fn(u8, u8) -> bool {
    // Outside the blur has died out a little sooner than what is known about the outline.
    let outer = reach(sigma) - SOONER;
    // The last pixel inside is as good as full. Zero wraps around to the farthest.
    let inner = reach(sigma) - distance::UNIT;
    move |inward, outward| (inward.wrapping_sub(1) < inner) | (outward.wrapping_sub(1) < outer)
}

/// How far from the outline a blur of `sigma` pixels has died out, in fifths of a pixel.
fn reach(sigma: f32) -> u8 {
    ((2.0 + 2.2 * sigma) * f32::from(distance::UNIT)) as u8
}

/// Whether no pixel of the square ring around one is kept.
fn alone(inward: &[u8], stride: usize, (row, column): (usize, usize)) -> bool {
    let line = |y: usize| inward[y * stride + column - RING..=y * stride + column + RING].iter().all(|d| *d == 0);
    let sides = |y: usize| inward[y * stride + column - RING] == 0 && inward[y * stride + column + RING] == 0;
    line(row - RING) && line(row + RING) && (row - RING..=row + RING).all(sides)
}

/// The columns of a disk of radius [`LOOK`], row by row, as bits.
const WINDOW: [u64; 2 * LOOK + 1] = [
    0b0_0111_1100,
    0b0_1111_1110,
    0b1_1111_1111,
    0b1_1111_1111,
    0b1_1111_1111,
    0b1_1111_1111,
    0b1_1111_1111,
    0b0_1111_1110,
    0b0_0111_1100,
];

/// `exp(-d / 8)` for squared distances `d` of 0..=32.
const NEARNESS: [f32; 33] = [
    1.0, 0.882_497, 0.778_801, 0.687_289, 0.606_531, 0.535_261, 0.472_367, 0.416_862, 0.367_879, 0.324_652, 0.286_505, 0.252_840,
    0.223_130, 0.196_912, 0.173_774, 0.153_355, 0.135_335, 0.119_433, 0.105_399, 0.093_014, 0.082_085, 0.072_440, 0.063_928,
    0.056_416, 0.049_787, 0.043_937, 0.038_774, 0.034_218, 0.030_197, 0.026_649, 0.023_518, 0.020_754, 0.018_316,
];
/// Distance from every pixel of a cover to the nearest that is `on`, in fifths of a pixel, as far as `farthest`.
fn to_nearest(cover: &Cover, on: impl Fn(u8) -> bool, farthest: u8) -> Result<Plane<u8>> {
    let mut plane: Plane<u8> = Plane::new(cover.cover.width(), cover.cover.height(), "the matte")?;
    for (d, c) in plane.data_mut().iter_mut().zip(cover.cover.data()) {
        *d = if on(*c) { 0 } else { distance::FAR };
    }
    distance::chamfer_within(&mut plane, farthest);
    Ok(plane)
}
