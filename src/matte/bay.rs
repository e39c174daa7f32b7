//! Bays: paper that a broken contour nearly encloses. A petal drawn in a fine line is open at a gap or two, and is no less a
//! white for that; so is a pocket between leaves whose tips do not quite meet.
//!
//! Gaps are closed by a morphological opening of the bare paper (Serra, "Image Analysis and Mathematical Morphology", 1982):
//! what a disk as wide as a gap cannot leave is a region of its own.

use super::cover::{Cover, bits};
use crate::error::Result;
use crate::filter::components::Run;
use crate::filter::{Connectivity, Regions, distance, grid};
use crate::image::Plane;
use crate::units::{Mm, Ppi, area_mm2};

/// Gaps up to these widths are closed, the narrow ones first; and of a bay's border no more than such a share is open.
const GAPS: [(Mm, f32); 3] = [(Mm(0.8), 0.22), (Mm(1.8), 0.18), (Mm(3.2), 0.16)];
/// Smaller bays are not worth a question.
const LEAST_MM2: f64 = 1.5;
/// And smaller cores are part of whatever is around them.
const LEAST_CORE_MM2: f64 = 0.3;
/// A bay larger than this share of the sheet is ground.
const GROUND: f64 = 0.05;

/// Paper at half size, not looked at or part of no bay.
const NONE: u32 = u32::MAX;

/// Splits the bays off the free regions that `open` says are open; they come after the regions they were part of, in the
/// order of their first pixel, and are not open themselves.
///
/// # Errors
/// When there is no memory.
pub fn split(cover: &Cover, free: Regions, open: Vec<bool>, ppi: Ppi) -> Result<(Regions, Vec<bool>)> {
    let (bays, count) = find(cover, &free, &open, ppi)?;
    if count == 0 {
        return Ok((free, open));
    }
    let first = free.count();
    let split = free.split(first + count, |run, y, part| {
        let mut start = run.start;
        while start < run.end {
            let bay = bays.at(start as usize / 2, y / 2);
            let mut end = (start / 2 + 1) * 2;
            while end < run.end && bays.at(end as usize / 2, y / 2) == bay {
                end += 2;
            }
            let end = end.min(run.end);
            let region = if bay == NONE || !open[run.region as usize] { run.region } else { first as u32 + bay };
            part(Run { start, end, region });
            start = end;
        }
    });
    let mut open = open;
    open.resize(first + count, false);
    Ok((split, open))
}

/// The number of the bay at each half-size pixel, and how many bays there are.
fn find(cover: &Cover, free: &Regions, open: &[bool], ppi: Ppi) -> Result<(Plane<u32>, usize)> {
    const OPEN: u8 = 1;
    const BARE: u8 = 2;
    let what = "paper that is nearly enclosed";
    let (w, h) = (cover.cover.width().div_ceil(2), cover.cover.height().div_ceil(2));
    // Bare in all four pixels, or in some.
    let mut room: Plane<u8> = Plane::from_vec(w, h, vec![0; w * h]);
    let mut some: Plane<bool> = Plane::new(w, h, what)?;
    let mut outside: Plane<bool> = Plane::new(w, h, what)?;
    // Of the pixels of a row, whether they are of open paper, and bare; and the bare pixels of every cell.
    let (mut paper, mut bare) = (vec![0_u8; 2 * w], vec![0_u8; w]);
    for y in 0..h {
        bare.fill(0);
        let rows = 2 * y..(2 * y + 2).min(cover.cover.height());
        for row in rows.clone() {
            paper.fill(0);
            for run in free.row(row).iter().filter(|run| open[run.region as usize]) {
                paper[run.start as usize..run.end as usize].fill(OPEN);
            }
            // The foot of a fine line is a wall too: where the line is faint there is nothing else of it.
            let pixels = paper.iter_mut().zip(cover.cover.row(row));
            pixels.for_each(|(paper, bits)| *paper |= (*paper & OPEN) * BARE * u8::from(bits & bits::PAINT == 0));
            for ((bare, some), [a, b]) in bare.iter_mut().zip(some.row_mut(y)).zip(paper.as_chunks::<2>().0) {
                *bare += a / BARE + b / BARE;
                *some |= a | b != 0;
            }
        }
        for (x, (bare, room)) in bare.iter().zip(room.row_mut(y)).enumerate() {
            let whole = rows.len() * (cover.cover.width() - 2 * x).min(2);
            *room = if usize::from(*bare) == whole { distance::FAR } else { 0 };
            let beyond = cover.cover.at(2 * x, 2 * y) & bits::OUTSIDE != 0;
            outside.set(x, y, beyond || x == 0 || y == 0 || x + 1 == w || y + 1 == h);
        }
    }
    distance::chamfer(&mut room);
    let mut paper = Paper { room, some, outside, bays: Plane::from_vec(w, h, vec![NONE; w * h]), count: 0 };
    for (gap, share) in GAPS {
        paper.close(gap, share, ppi);
    }
    Ok((paper.bays, paper.count as usize))
}

/// Paper that is open to the outside, at half size.
struct Paper {
    /// How far the next paint is.
    room: Plane<u8>,
    /// Whether there is some, that is in no bay yet.
    some: Plane<bool>,
    outside: Plane<bool>,
    bays: Plane<u32>,
    count: u32,
}

impl Paper {
    /// Finds the bays behind gaps of a width.
    fn close(&mut self, gap: Mm, share: f32, ppi: Ppi) {
        let (w, h) = (self.room.width(), self.room.height());
        let reach = (gap.at(ppi).0 as f32 / 4.0 * f32::from(distance::UNIT)) as u8;
        let cores = Regions::find(w, h, Connectivity::Four, |y, row| {
            let paper = self.room.row(y).iter().zip(self.some.row(y));
            row.iter_mut().zip(paper).for_each(|(core, (room, some))| *core = u8::from(*some && *room > reach));
        });
        let mut core = Plane::from_vec(w, h, vec![NONE; w * h]);
        let mut is_ground = vec![false; cores.count()];
        let mut seeds = Vec::new();
        let mut pixels = vec![0_u64; cores.count()];
        (0..h).flat_map(|y| cores.row(y)).for_each(|run| pixels[run.region as usize] += 4 * u64::from(run.end - run.start));
        let counts: Vec<bool> = pixels.iter().map(|pixels| area_mm2(*pixels, ppi) >= LEAST_CORE_MM2).collect();
        for y in 0..h {
            for run in cores.row(y).iter().filter(|run| counts[run.region as usize]) {
                let columns = run.start as usize..run.end as usize;
                core.row_mut(y)[columns.clone()].fill(run.region);
                is_ground[run.region as usize] |= self.outside.row(y)[columns.clone()].contains(&true);
                // Only from the rim of a core is there anything to grow into.
                let room = &self.room.row(y)[columns.clone()];
                let rim = columns.zip(room).filter(|(_, room)| **room <= reach.saturating_add(distance::UNIT));
                seeds.extend(rim.map(|(x, _)| y * w + x));
            }
        }
        if is_ground.iter().all(|ground| *ground) {
            return;
        }
        grow(&mut core, &self.some, seeds);
        let (before, mut number) = (self.count, vec![NONE; cores.count()]);
        for (number, _) in number.iter_mut().zip(self.measure(&core, &is_ground, share, ppi)).filter(|(_, is_bay)| *is_bay) {
            *number = self.count;
            self.count += 1;
        }
        if self.count == before {
            return;
        }
        for ((core, bay), some) in core.data().iter().zip(self.bays.data_mut()).zip(self.some.data_mut()) {
            if *core != NONE && number[*core as usize] != NONE {
                (*bay, *some) = (number[*core as usize], false);
            }
        }
    }

    /// Which cores are bays: large enough, no ground, and open at little of their border.
    fn measure(&self, core: &Plane<u32>, is_ground: &[bool], share: f32, ppi: Ppi) -> Vec<bool> {
        let (w, h) = (core.width(), core.height());
        let mut pixels = vec![0_u64; is_ground.len()];
        let mut border = vec![(0_u32, 0_u32); is_ground.len()];
        // Most of a sheet is one ground: whatever is of the same region as the pixel before is passed over without a look.
        let mut ground = NONE;
        for (i, &own) in core.data().iter().enumerate() {
            if own == ground {
                continue;
            }
            if own == NONE || is_ground[own as usize] {
                ground = own;
                continue;
            }
            pixels[own as usize] += 4;
            for j in grid::beside(i, w, h).filter(|j| core.data()[*j] != own) {
                border[own as usize].0 += 1;
                // A line thinner than these pixels has paper on both sides in one, and is no gap.
                let through = self.room.data()[i] > 0 && self.room.data()[j] > 0;
                border[own as usize].1 += u32::from(core.data()[j] != NONE && through);
            }
        }
        let most = (GROUND * (4 * w * h) as f64) as u64;
        let is_bay = |(i, ground): (usize, &bool)| {
            let (all, open) = border[i];
            !ground && area_mm2(pixels[i], ppi) >= LEAST_MM2 && pixels[i] < most && (open as f32) < share * all as f32
        };
        is_ground.iter().enumerate().map(is_bay).collect()
    }
}

/// Gives all other paper to the nearest core: the crevices along its paint, and half of the way through a gap.
fn grow(core: &mut Plane<u32>, some: &Plane<bool>, seeds: Vec<usize>) {
    let (w, h) = (core.width(), core.height());
    grid::flood(seeds, w, h, |from, to| {
        let enter = core.data()[to] == NONE && some.data()[to];
        if enter {
            core.data_mut()[to] = core.data()[from];
        }
        enter
    });
}
