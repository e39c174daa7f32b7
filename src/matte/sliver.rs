//! Bare areas too small to be asked about: they follow what lies around them.
//!
//! Slivers of paper between lines are ground, and so is a small gap between two pockets. But between the petals that a painter
//! keeps, they are white as these are. The holes in dry brush are ground whatever lies around.

use super::cover::{Cover, bits};
use super::evidence::{CONTRAST_STEPS, Evidence, STEPS};
use super::island::{LEAST, Shape};
use crate::filter::Regions;
use crate::units::{Mm, Ppi};

/// Rays that stay in paint, at most, as a share of all, around a sliver; and around one where a pixel lies so few deviations
/// off the paper.
const DEEP: f32 = 0.25;
const DEEP_OF_PAPER: f32 = 0.72;
const AS_PAPER: u8 = (4.5 * STEPS) as u8;
/// Mean width up to which such a region is a sliver.
const NARROW: Mm = Mm(0.6);
/// Contrast of strong paint, as the evidence has it.
const STRONG: u16 = (0.15 * CONTRAST_STEPS) as u16;
/// How far rays go.
const REACH: Mm = Mm(0.6);

/// A small area, and the paper around it.
#[derive(Clone, Debug)]
pub struct Small {
    /// Number of its free region.
    pub region: usize,
    /// The regions that rays from it ended in.
    beside: Vec<u32>,
    /// Whether it is a cell between faint contours, which are veins of a petal more often than its rim.
    traced: bool,
    /// Whether it is a hole in dry brush.
    pub dry: bool,
}

impl Small {
    /// Whether it is kept because what surrounds it is, where `fate` says what becomes of that, as far as it is known yet. The
    /// `open` ground beside a cell between contours says nothing.
    fn follows(&self, fate: &[Option<bool>], open: &[bool], alone: bool) -> Option<bool> {
        let counts = |region: &&u32| !(self.traced && open[**region as usize]);
        let beside = || self.beside.iter().filter(counts).map(|region| fate[*region as usize]);
        let (kept, cleared) =
            (beside().filter(|fate| *fate == Some(true)).count(), beside().filter(|fate| *fate == Some(false)).count());
        let undecided = alone && (!self.traced || kept == cleared);
        (kept + cleared > 0).then_some(kept > cleared || undecided)
    }
}

/// Settles the small areas by what becomes of the regions around them, and of each other. `fate` says that of all regions, and
/// nothing yet of these; `alone` says which of them are kept by themselves, being texture of the paint.
pub fn settle<'a>(
    small: impl Iterator<Item = &'a Small> + Clone,
    open: &[bool],
    alone: impl Fn(&Small) -> bool,
    fate: &mut [Option<bool>],
) {
    // From sliver to sliver across a hatching.
    const ROUNDS: usize = 4;
    for _ in 0..ROUNDS {
        let unsettled = small.clone().filter(|s| fate[s.region].is_none());
        let next: Vec<_> = unsettled.filter_map(|s| Some((s.region, s.follows(fate, open, alone(s))?))).collect();
        next.iter().for_each(|(region, keep)| fate[*region] = Some(*keep));
        if next.is_empty() {
            break;
        }
    }
    for s in small {
        fate[s.region] = fate[s.region].or_else(|| Some(alone(s)));
    }
}

/// Finds the small areas among the enclosed free regions, of which some are `holes` in dry brush. A sliver is so narrow that the
/// blur leaves no pixel of it bare, and crossed by few rays that stay in paint. Without lines all around, what is paler than half of
/// the paint about it is the paint's own unevenness, and no area at all.
#[must_use]
pub fn find(
    evidence: &Evidence,
    cover: &Cover,
    free: &Regions,
    open: &[bool],
    shapes: &[Shape],
    holes: &[bool],
    ppi: Ppi,
) -> Vec<Small> {
    let (w, h) = (cover.cover.width() as isize, cover.cover.height() as isize);
    let mut as_paper = vec![false; free.count()];
    let small = |i: usize| !open[i] && !shapes[i].is_listed(ppi);
    let reach = REACH.at(ppi).0.ceil() as isize;
    let mut seen = vec![Seen::default(); free.count()];
    for y in 0..free.height() {
        for run in free.row(y) {
            let region = run.region as usize;
            if !small(region) {
                continue;
            }
            as_paper[region] |= evidence.fine.row(y)[run.start as usize..run.end as usize].iter().any(|z| *z < AS_PAPER);
            let (start, end, middle) = (run.start as isize, run.end as isize, (run.start + run.end) as isize / 2);
            for (x, dx, dy) in [(start, -1, 0), (end - 1, 1, 0), (middle, 0, -1), (middle, 0, 1)] {
                let (mut left, mut ended, mut strongest) = (false, None, 0);
                for i in 1..=reach {
                    let (x, y) = (x + dx * i, y as isize + dy * i);
                    if x < 0 || y < 0 || x >= w || y >= h {
                        break;
                    }
                    let (x, y) = (x as usize, y as usize);
                    let is_free = cover.cover.at(x, y) & bits::FREE != 0;
                    left |= !is_free;
                    strongest = strongest.max(evidence.contrast.at(x, y));
                    if left && is_free {
                        ended = free.at(x, y).map(|region| region as u32);
                        break;
                    }
                }
                // A ray along the sliver has met no paint yet and says nothing.
                if left {
                    let seen = &mut seen[region];
                    seen.rays += 1;
                    seen.deep += u32::from(ended.is_none());
                    seen.strong += u32::from(strongest >= STRONG);
                    seen.ended.extend(ended);
                }
            }
        }
    }
    let wide = NARROW.at(ppi).0 as f32;
    let narrow = |i: usize| (shapes[i].pixels as f32) < wide * shapes[i].span() as f32;
    let found = seen.into_iter().enumerate().filter(|(i, seen)| small(*i) && seen.rays > 0);
    found
        .filter_map(|(region, seen)| {
            let share = if as_paper[region] && narrow(region) { DEEP_OF_PAPER } else { DEEP };
            let (is_island, traced) = (shapes[region].bare >= LEAST, shapes[region].is_traced());
            let of_rays = |n: u32, share: f32| (n as f32) < share * seen.rays as f32;
            let sliver = !is_island && of_rays(seen.deep, share);
            // Between the dabs of a dry brush contours part what is one ground.
            let between_dabs = traced && !of_rays(seen.strong, 0.5);
            let of_dry_brush = !traced && holes[region];
            let counts = is_island || sliver || between_dabs || of_dry_brush;
            counts.then_some(Small { region, beside: seen.ended, traced, dry: of_dry_brush })
        })
        .collect()
}

/// What rays from an area met.
#[derive(Clone, Debug, Default)]
struct Seen {
    rays: u32,
    /// Those that stayed in paint, and those that met strong paint.
    deep: u32,
    strong: u32,
    /// Where the others ended.
    ended: Vec<u32>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Regions: 0 is open ground, 1 a kept white, 2 a cleared pocket; 3 to 5 are small.
    fn settled(beside: [&[u32]; 3], texture: &[usize]) -> Vec<Option<bool>> {
        let small: Vec<Small> = beside
            .iter()
            .enumerate()
            .map(|(i, beside)| Small { region: 3 + i, beside: beside.to_vec(), traced: false, dry: false })
            .collect();
        let mut fate = vec![Some(false), Some(true), Some(false), None, None, None];
        settle(small.iter(), &[true, false, false, false, false, false], |small| texture.contains(&small.region), &mut fate);
        fate.split_off(3)
    }

    #[test]
    fn small_areas_follow_what_is_around_them() {
        let (kept, cleared) = (Some(true), Some(false));
        assert_eq!(settled([&[1, 1, 2], &[1, 2, 2], &[0, 1]], &[]), [kept, cleared, cleared], "the most; ground when equal");
        assert_eq!(settled([&[1, 1], &[3, 3], &[4]], &[]), [kept; 3], "from one to the next");
        assert_eq!(settled([&[], &[4], &[5]], &[]), [cleared; 3], "ground where nothing is known");
        assert_eq!(settled([&[0], &[2], &[]], &[3, 5]), [kept, cleared, kept], "texture stays by itself");
    }
}
