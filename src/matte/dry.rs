//! Dry brush: paint that the tooth has broken up.
//!
//! A brush that skips over the tooth leaves one film of one pigment, full of holes in which the paper is bare or half bare. They are
//! ground, however small. Specks as small in a wash are its texture, and between the lines of a drawing there is as often a tint
//! as paper. So holes are looked for only where all the paint around is thin, of one color, and as strong here as there; lines
//! are not, since those so close differ in width and the blur makes them differ in strength.

use std::ops::Range;

use self::strokes::Strokes;
use super::cover::{Cover, bits};
use super::edge::{FULL, RIM};
use super::evidence::{CONTRAST_STEPS, Evidence};
use crate::color::math::max;
use crate::color::transfer::Curves;
use crate::error::Result;
use crate::filter::vector::{difference, dot, length};
use crate::filter::{Regions, gauss, local_max};
use crate::image::{Plane, Sheet};
use crate::paper::PaperField;
use crate::paper::tile::{self, Tile};
use crate::units::{Mm, Ppi, Px};

mod strokes;

/// Side of a cell, in pixels.
const CELL: usize = 8;
/// How far around a cell paint is looked at (standard deviation of a blur).
const AROUND: Mm = Mm(0.6);
/// Area of such paint to the length of its outline, at most: half the width of a stroke, if it had straight sides.
const THIN: Mm = Mm(0.6);
/// Sides of pixels overstate the length of an outline that runs in all directions.
const SIDES: f32 = core::f32::consts::FRAC_PI_4;
/// Clear of strokes there is less than this share of pale paint.
const PALE: f32 = 0.5;
/// Paint is no weaker than this, encoded: in a pale wash what looks strong is the tooth.
const STRONG: f32 = 0.25;
/// What has its own color covers at least this share of the sheet around. Lines are crests and have less of it.
const LEVEL: f32 = 0.13;
/// The mean of all directions of color is at least this long, and the strengths deviate by no more than this share.
const ALIKE: f32 = 0.997;
const UNEVEN: f32 = 0.13;
/// Holes and what is none are counted around (standard deviation of a blur): there are more holes, and some share of them is bare:
/// covered to less than this share. Where none is, there is a wash beneath.
const TOGETHER: Mm = Mm(4.0);
const BARE: f32 = 0.1;
const AS_PAPER: f32 = 0.09;
/// Where no hole lies as near, nothing is dry brush.
const NEAR: Mm = Mm(2.0);
/// What strays so far from the line between paper and paint, encoded, has a color of its own.
const STRAYS: f32 = 0.03;
/// And one pixel, with its noise.
const OTHER: f32 = 0.05;
/// How far a kept white blurs into the paint around it, in fifths of a pixel.
const WHITE: u8 = 15;
/// Painted in part up to the first share, and as good as whole from the second on: granulation is no hole.
const PART: [f32; 2] = [0.8, 0.9];

/// Where a sheet has dry brush, and of which paint.
#[derive(Debug)]
pub struct DryBrush {
    /// How far the paint of each cell lies off the paper, encoded; zero where there is no dry brush.
    paint: Plane<[f32; 3]>,
}

/// What there is in a cell, and blurred what there is around it.
#[derive(Clone, Copy, Default)]
struct Around {
    paint: f32,
    outline: f32,
    /// What is well clear of it: bare paper, and pale paint.
    bare: f32,
    pale: f32,
    /// Pixels of the paint's own color, their strengths and the squares of those, and the directions of their color.
    level: f32,
    strength: f32,
    squares: f32,
    direction: [f32; 3],
}

impl DryBrush {
    /// Looks for dry brush where holes may be: near `free` regions that are not `open`. `None` when there is none.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn find(
        sheet: &Sheet,
        field: &PaperField,
        evidence: &Evidence,
        free: &Regions,
        open: &[bool],
        ppi: Ppi,
    ) -> Result<Option<Self>> {
        let (w, h) = (sheet.width(), sheet.height());
        let mut cells: Plane<Around> = Plane::new(w.div_ceil(CELL), h.div_ceil(CELL), "the dry brush")?;
        let mut near: Plane<u8> = Plane::new(cells.width(), cells.height(), "the dry brush")?;
        for y in 0..h {
            for run in free.row(y).iter().filter(|run| !open[run.region as usize]) {
                run.cells(CELL).for_each(|(cell, _)| near.row_mut(y / CELL)[cell] = 1);
            }
        }
        let near = local_max::square(&near, (NEAR.at(ppi).0 / CELL as f64) as usize)?;
        let is_near = |near: &u8| *near > 0;
        let sigma = AROUND.at(ppi).0 as f32 / CELL as f32;
        let reach = CELL * (gauss::kernel(sigma).len() - 1);
        let wider = |of: &Range<usize>, size: usize| of.start.saturating_sub(reach)..(of.end + reach).min(size);
        let mut strokes = Strokes::default();
        let mut next = 0;
        while let Some(rows) = tile::next_rows(&mut next, h) {
            for columns in tile::across(w) {
                let counts = any_in(&near, &wider(&rows, h), &wider(&columns, w), is_near);
                if counts && strokes.load(evidence, rows.clone(), columns.clone()) {
                    strokes.outlines(evidence, &mut cells);
                }
            }
        }
        blur(&mut cells, sigma, |cell| [&mut cell.paint, &mut cell.outline, &mut cell.bare, &mut cell.pale])?;
        let thin = |cell: &Around| {
            let area = Px(f64::from(cell.paint / max(SIDES * cell.outline, 1e-3))).at(ppi);
            cell.outline > 0.0 && area.0 < THIN.0 && cell.pale <= PALE * cell.bare
        };
        let mut tile = Tile::default();
        let mut any = false;
        next = 0;
        while let Some(rows) = tile::next_rows(&mut next, h) {
            for columns in tile::across(w) {
                if any_in(&cells, &rows, &columns, thin) && strokes.load(evidence, rows.clone(), columns.clone()) {
                    tile.load(sheet, field, rows.clone(), columns, 0);
                    strokes.colors(&tile, &mut cells);
                    any = true;
                }
            }
        }
        if !any {
            return Ok(None);
        }
        blur(&mut cells, sigma, |cell| {
            let [red, green, blue] = &mut cell.direction;
            [&mut cell.level, &mut cell.strength, &mut cell.squares, red, green, blue]
        })?;
        let paint_of = |(cell, near): (&Around, &u8)| {
            let dry = is_near(near) && thin(cell);
            if dry { cell.paint_of_one().unwrap_or_default() } else { [0.0; 3] }
        };
        let paint: Vec<[f32; 3]> = cells.data().iter().zip(near.data()).map(paint_of).collect();
        let any = paint.iter().any(is_dry);
        Ok(any.then(|| Self { paint: Plane::from_vec(cells.width(), cells.height(), paint) }))
    }

    /// How far the paint around a pixel of dry brush lies off the paper, encoded.
    fn paint(&self, x: usize, y: usize) -> Option<[f32; 3]> {
        Some(self.paint.at(x / CELL, y / CELL)).filter(is_dry)
    }

    /// Which of the `free` regions that are not `open` are holes in dry brush: bare or half bare, and of no color of their own.
    /// Where there is none, or more with a color than without, it is no dry brush after all.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn holes(&mut self, sheet: &Sheet, field: &PaperField, free: &Regions, open: &[bool], ppi: Ppi) -> Result<Vec<bool>> {
        let mut measured = vec![Hole::default(); free.count()];
        let mut tile = Tile::default();
        let mut next = 0;
        while let Some(rows) = tile::next_rows(&mut next, sheet.height()) {
            for columns in tile::across(sheet.width()).filter(|columns| any_in(&self.paint, &rows, columns, is_dry)) {
                tile.load(sheet, field, rows.clone(), columns.clone(), 0);
                for (i, y) in rows.clone().enumerate() {
                    let (residual, papers) = ([0, 1, 2].map(|c| tile.residual(c, i)), [0, 1, 2].map(|c| tile.paper(c, i)));
                    for run in free.row(y).iter().filter(|run| !open[run.region as usize]) {
                        let hole = &mut measured[run.region as usize];
                        for x in (run.start as usize).max(columns.start)..(run.end as usize).min(columns.end) {
                            let [off, paper] = [&residual, &papers].map(|rows| rows.map(|row| row[x - columns.start]));
                            hole.add([x, y], off, paper, self.paint(x, y));
                        }
                    }
                }
            }
        }
        self.settle(&measured, ppi)?;
        let still = |hole: &Hole| hole.is_one() && self.paint(hole.at[0], hole.at[1]).is_some();
        Ok(measured.iter().map(still).collect())
    }

    /// Opens what is bare or half bare in these rows of a matte, but for what lies nearer to a white that is kept than to what is
    /// cleared: `inward` is the distance to the cleared, and `depth` that to all ground, if some of it is kept, in fifths of a pixel.
    pub fn open(
        &self,
        sheet: &Sheet,
        field: &PaperField,
        evidence: &Evidence,
        cover: &Cover,
        (inward, depth): (&Plane<u8>, Option<&Plane<u8>>),
        rows: Range<usize>,
        to: &mut Plane<u16>,
    ) {
        let mut tile = Tile::default();
        for columns in tile::across(sheet.width()).filter(|columns| any_in(&self.paint, &rows, columns, is_dry)) {
            tile.load(sheet, field, rows.clone(), columns.clone(), 0);
            for (i, y) in rows.clone().enumerate() {
                let residual = [0, 1, 2].map(|c| tile.residual(c, i));
                for (k, x) in columns.clone().enumerate() {
                    let Some(paint) = self.paint(x, y) else { continue };
                    let (inward, bits) = (inward.at(x, y), cover.cover.at(x, y));
                    let beside_white = depth.is_some_and(|depth| depth.at(x, y) < inward.min(WHITE));
                    let held = bits & (bits::HELD | bits::OUTSIDE) != 0;
                    if inward == 0 || held || beside_white || evidence.contrast.at(x, y) >= least(paint) {
                        continue;
                    }
                    let value = matte(residual.map(|row| row[k]), paint);
                    let now = &mut to.row_mut(y)[x];
                    *now = (*now).min((value * f32::from(FULL)).round() as u16).max(RIM);
                }
            }
        }
    }

    /// Takes those places for dry brush no longer that have no holes, or too many that are none.
    fn settle(&mut self, measured: &[Hole], ppi: Ppi) -> Result<()> {
        let (w, h) = (self.paint.width(), self.paint.height());
        let around = |counts: fn(&Hole) -> bool| -> Result<Plane<f32>> {
            let mut plane: Plane<f32> = Plane::new(w, h, "the dry brush")?;
            for hole in measured.iter().filter(|hole| hole.is_within() && counts(hole)) {
                plane.row_mut(hole.at[1] / CELL)[hole.at[0] / CELL] += 1.0;
            }
            gauss::blur(&mut plane, TOGETHER.at(ppi).0 as f32 / CELL as f32)?;
            Ok(plane)
        };
        let (holes, others, bare) = (around(Hole::is_one)?, around(|hole| !hole.is_one())?, around(|hole| hole.bare)?);
        for (i, paint) in self.paint.data_mut().iter_mut().enumerate() {
            let [holes, others, bare] = [&holes, &others, &bare].map(|plane| plane.data()[i]);
            if holes <= others || bare <= BARE * holes {
                *paint = [0.0; 3];
            }
        }
        Ok(())
    }
}

/// What is in an enclosed area: how far it lies off the paper and how far the dry brush about does, both summed.
#[derive(Clone, Copy, Default)]
struct Hole {
    /// A pixel of it.
    at: [usize; 2],
    /// Whether any of it is as paper is.
    bare: bool,
    pixels: u32,
    dry: u32,
    off: [f32; 3],
    paint: [f32; 3],
}

impl Hole {
    fn add(&mut self, at: [usize; 2], off: [f32; 3], paper: [f32; 3], paint: Option<[f32; 3]>) {
        self.at = at;
        self.pixels += 1;
        (0..3).for_each(|c| self.off[c] += off[c]);
        if let Some(paint) = paint {
            self.dry += 1;
            (0..3).for_each(|c| self.paint[c] += paint[c]);
            // Blur has mixed it in light.
            let curves = Curves::get();
            let light = |off: [f32; 3]| [0, 1, 2].map(|c| curves.linear(max(paper[c] + off[c], 0.0)) - curves.linear(paper[c]));
            let (off, paint) = (light(off), light(paint));
            self.bare |= dot(off, paint) < AS_PAPER * dot(paint, paint);
        }
    }

    /// Whether most of it lies in dry brush.
    fn is_within(&self) -> bool {
        2 * self.dry > self.pixels
    }

    /// And it lies between paper and that paint.
    fn is_one(&self) -> bool {
        if !self.is_within() {
            return false;
        }
        let off = self.off.map(|v| v / self.pixels as f32);
        let paint = self.paint.map(|v| v / self.dry as f32);
        length(astray(off, paint)) < STRAYS
    }
}

/// What of `off` is not along `paint`.
fn astray(off: [f32; 3], paint: [f32; 3]) -> [f32; 3] {
    let share = dot(off, paint) / dot(paint, paint);
    difference(off, paint.map(|v| share * v))
}

/// The matte of a pixel that lies `off` the paper within dry brush of a `paint`: 1 but for what is bare or half bare.
fn matte(off: [f32; 3], paint: [f32; 3]) -> f32 {
    let share = dot(off, paint) / dot(paint, paint);
    if length(astray(off, paint)) > OTHER {
        return 1.0;
    }
    let whole = (share - PART[0]) / (PART[1] - PART[0]);
    if whole <= 0.0 { max(share, 0.0) } else { PART[0] + (1.0 - PART[0]) * whole.min(1.0) }
}

/// The contrast below which a pixel within dry brush of a `paint` may be bare in part, as the evidence has it.
fn least(paint: [f32; 3]) -> u16 {
    (PART[1] * length(paint) * CONTRAST_STEPS) as u16
}

impl Around {
    /// The paint around, if it is one.
    fn paint_of_one(&self) -> Option<[f32; 3]> {
        let level = max(self.level, 1e-6);
        let (mean, alike) = (self.strength / level, length(self.direction) / level);
        let uneven = max(self.squares / level - mean * mean, 0.0).sqrt() / max(mean, 1e-6);
        let one = self.level > LEVEL && mean > STRONG && alike > ALIKE && uneven < UNEVEN;
        one.then(|| self.direction.map(|v| v / length(self.direction) * mean))
    }
}

/// Whether a cell with this paint is of dry brush.
fn is_dry(paint: &[f32; 3]) -> bool {
    *paint != [0.0; 3]
}

/// Whether something holds for any of the cells that a tile lies on.
fn any_in<T: Copy>(cells: &Plane<T>, rows: &Range<usize>, columns: &Range<usize>, holds: impl Fn(&T) -> bool) -> bool {
    let of_tile = columns.start / CELL..columns.end.div_ceil(CELL);
    (rows.start / CELL..rows.end.div_ceil(CELL)).any(|row| cells.row(row)[of_tile.clone()].iter().any(&holds))
}

/// Blurs some of what cells hold, as shares of the sheet.
fn blur<const N: usize>(cells: &mut Plane<Around>, sigma: f32, of: impl Fn(&mut Around) -> [&mut f32; N]) -> Result<()> {
    let mut one: Plane<f32> = Plane::new(cells.width(), cells.height(), "the dry brush")?;
    for i in 0..N {
        for (to, cell) in one.data_mut().iter_mut().zip(cells.data_mut()) {
            *to = *of(cell)[i] / (CELL * CELL) as f32;
        }
        gauss::blur(&mut one, sigma)?;
        for (from, cell) in one.data().iter().zip(cells.data_mut()) {
            *of(cell)[i] = *from;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand.
    #[test]
    fn the_matte_is_the_share_of_the_paint() {
        let paint = [-0.2, -0.4, -0.4];
        let of = |share: f32| matte(paint.map(|v| share * v), paint);
        for (share, value) in [(0.0, 0.0), (0.3, 0.3), (0.8, 0.8), (0.85, 0.9), (0.9, 1.0), (1.2, 1.0)] {
            assert!((of(share) - value).abs() < 1e-5, "{share}: {}", of(share));
        }
        assert_eq!(matte([0.1, -0.1, -0.1], paint), 1.0, "no paper and none of that paint");
        assert!((matte([-0.1, -0.2, -0.19], paint) - 0.489).abs() < 1e-3, "noise");
        assert!((f32::from(least(paint)) / CONTRAST_STEPS - 0.54).abs() < 1e-4);
    }

    #[test]
    fn one_paint_is_of_one_color_and_strength() {
        let around = |strengths: [f32; 2], directions: [[f32; 3]; 2]| Around {
            level: 0.3,
            strength: 0.15 * (strengths[0] + strengths[1]),
            squares: 0.15 * (strengths[0] * strengths[0] + strengths[1] * strengths[1]),
            direction: [0, 1, 2].map(|c| 0.15 * (directions[0][c] + directions[1][c])),
            ..Around::default()
        };
        let (red, blue) = ([0.0, -0.6, -0.8], [-0.8, -0.6, 0.0]);
        let paint = around([0.52, 0.48], [red, red]).paint_of_one().expect("one paint");
        assert!((0..3).all(|c| (paint[c] - 0.5 * red[c]).abs() < 1e-5), "{paint:?}");
        assert!(around([0.6, 0.4], [red, red]).paint_of_one().is_none(), "of two strengths");
        assert!(around([0.5, 0.5], [red, blue]).paint_of_one().is_none(), "of two colors");
        assert!(around([0.2, 0.2], [red, red]).paint_of_one().is_none(), "pale");
    }
}
