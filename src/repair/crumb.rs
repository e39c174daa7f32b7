//! Crumbs of paper at the rim of paint: what a hard compression or a sharpening leaves in the notches of a leaf and at its tips.
//!
//! A crumb is small and hardly off the paper, it hangs on strong paint, and beyond it the paper is bare. A pale wash that ends at
//! a strong one is larger.

use crate::error::Result;
use crate::filter::{Connectivity, Regions, grid};
use crate::image::{Plane, Sheet};
use crate::matte::cover::{Cover, bits};
use crate::matte::evidence::{CONTRAST_STEPS, Evidence};
use crate::paper::{PaperField, Ruler};
use crate::units::Ppi;

/// The largest of crumbs at 300 ppi, in half-size pixels.
const LARGEST: u32 = 90;
/// Crumbs are fainter than this, encoded, and when lighter than the paper than this; they hang on paint stronger than that.
const FAINT: f32 = 0.09;
const FAINT_LIGHT: f32 = 0.22;
const STRONG: f32 = 0.22;
/// The paper must leave as much room above it, encoded, for a crumb to be lighter.
const ROOM: f32 = 0.5;
/// So much of a crumb borders bare paper, one part in so many.
const BARE: u32 = 4;

/// What half-size pixels hold.
const PAPER: u8 = 0;
const PALE: u8 = 1;
const DARK: u8 = 2;
const MIXED: u8 = 3;

#[derive(Clone, Copy, Default)]
struct Crumb {
    cells: u32,
    bare: u32,
    hangs: bool,
}

/// Takes the crumbs out of the cover.
///
/// # Errors
/// When there is no memory.
pub fn clear(sheet: &Sheet, field: &PaperField, evidence: &Evidence, cover: &mut Cover, ppi: Ppi) -> Result<()> {
    let cells = cells(sheet, field, evidence, cover)?;
    let (w, h) = (cells.width(), cells.height());
    let (width, height) = (cover.cover.width(), cover.cover.height());
    let pale = Regions::find(w, h, Connectivity::Four, |y, row| {
        row.iter_mut().zip(cells.row(y)).for_each(|(v, cell)| *v = u8::from(*cell == PALE));
    });
    let mut crumbs = vec![Crumb::default(); pale.count()];
    let largest = (LARGEST as f32 * ppi.coarseness() * ppi.coarseness()) as u32;
    for y in 0..h {
        for run in pale.row(y) {
            let crumb = &mut crumbs[run.region as usize];
            crumb.cells += run.end - run.start;
            // A wash is no crumb, and there is much of it.
            if crumb.cells > largest {
                continue;
            }
            for i in (run.start as usize..run.end as usize).map(|x| y * w + x) {
                let beside = || grid::beside(i, w, h);
                crumb.bare += u32::from(beside().any(|j| cells.data()[j] == PAPER));
                crumb.hangs |= beside().flat_map(|j| grid::beside(j, w, h)).any(|j| cells.data()[j] == DARK);
            }
        }
    }
    let faint = (FAINT_LIGHT * CONTRAST_STEPS) as u16;
    for y in 0..h {
        for run in pale.row(y) {
            let crumb = crumbs[run.region as usize];
            if crumb.cells > largest || !crumb.hangs || BARE * crumb.bare < crumb.cells {
                continue;
            }
            // Its own fringe lies in the cells around it.
            let cells_across = (run.start as usize).saturating_sub(1)..(run.end as usize + 1).min(w);
            for (x, down) in cells_across.flat_map(|x| (y.saturating_sub(1)..(y + 2).min(h)).map(move |y| (x, y))) {
                let own = cells.at(x, down) == PALE || cells.at(x, down) == MIXED;
                for (x, y) in grid::four(x, down, width, height).filter(|_| own) {
                    let bits = cover.cover.at(x, y);
                    if bits & bits::HELD == 0 && evidence.contrast.at(x, y) < faint {
                        cover.cover.set(x, y, (bits & !bits::PAINT) | bits::FREE);
                    }
                }
            }
        }
    }
    Ok(())
}

/// What every half-size pixel holds.
fn cells(sheet: &Sheet, field: &PaperField, evidence: &Evidence, cover: &Cover) -> Result<Plane<u8>> {
    let (width, height) = (cover.cover.width(), cover.cover.height());
    let mut cells: Plane<u8> = Plane::new(width.div_ceil(2), height.div_ceil(2), "the rims of paint")?;
    let mut ruler = Ruler::new(field, 0..width);
    let mut paper = [0, 1, 2].map(|_| vec![0.0; width]);
    let mut above = vec![0.0; width];
    let mut lighter = vec![0.0; cells.width()];
    let mut paint = vec![(0, 0); cells.width()];
    let [faint, faint_light, strong] = [FAINT, FAINT_LIGHT, STRONG].map(|v| (v * CONTRAST_STEPS) as u16);
    let has_room = field.color().iter().sum::<f32>() > 3.0 * ROOM;
    for y in 0..cells.height() {
        let rows = || 2 * y..(2 * y + 2).min(height);
        // The foot of an edge runs around all paint.
        let painted = |bits: &u8| *bits & (bits::PAINT | bits::FREE) == bits::PAINT;
        if !rows().any(|y| cover.cover.row(y).iter().any(painted)) {
            continue;
        }
        lighter.fill(0.0);
        for y in rows() {
            let [red, green, blue] = &mut paper;
            ruler.draw(field, y, [red, green, blue]);
            for (channel, paper) in paper.iter().enumerate() {
                sheet.above(y, 0, channel, paper, &mut above);
                above.iter().enumerate().for_each(|(x, v)| lighter[x / 2] += v);
            }
        }
        // Painted pixels of every cell, and the strongest contrast of them.
        paint.fill((0, 0));
        for y in rows() {
            let contrast = evidence.contrast.row(y).chunks(2);
            for ((cell, bits), contrast) in paint.iter_mut().zip(cover.cover.row(y).chunks(2)).zip(contrast) {
                for (_, contrast) in bits.iter().zip(contrast).filter(|(bits, _)| painted(bits)) {
                    *cell = (cell.0 + 1, cell.1.max(*contrast));
                }
            }
        }
        for (x, &(paint, top)) in paint.iter().enumerate() {
            let all = rows().len() * (width - 2 * x).min(2);
            let is_light = has_room && lighter[x] > 0.0;
            let (pale, dark) = if is_light { (faint_light, strong) } else { (faint, 2 * faint) };
            let holds = match paint {
                0 => PAPER,
                _ if top >= dark => DARK,
                _ if 2 * paint >= all && top < pale => PALE,
                _ => MIXED,
            };
            cells.set(x, y, holds);
        }
    }
    Ok(cells)
}
