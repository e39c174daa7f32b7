//! Where an outline runs between pixels.
//!
//! The cover says of every pixel that it is painted or bare. One that an outline runs through is both, and how far it is off
//! the paper tells in which parts: in linear light a straight edge, blurred by a Gaussian of deviation `s`, rises about its
//! middle by `1 / (s sqrt(2 pi))` a pixel.

use super::cover::{Cover, bits};
use super::evidence::Evidence;
use super::pale::{self, Pale};
use crate::color::math::max;
use crate::color::transfer::Curves;
use crate::error::Result;
use crate::filter::vector::dot;
use crate::filter::{distance, gauss};
use crate::image::{Plane, Sheet};
use crate::paper::PaperField;

/// Reach over which a stroke's own contrast is looked for, in pixels.
const REACH: usize = 2;
/// What half of it is of the strongest pixel: the blur has dimmed that one too, and rims are darkest at their outermost.
const HALF: f32 = 0.55;
/// How far from the cover's outline that of pale paint may run, in pixels.
const BAND: usize = 5;
/// Columns that are gone through at once where an outline runs through them.
const CHUNK: usize = 32;
/// Parts of a pixel that are told apart.
const PARTS: u8 = 254;

/// How far the pixels along all outlines are painted.
#[derive(Debug)]
pub(super) struct Outline {
    /// 0 where no outline runs, and elsewhere one more than the painted part in [`PARTS`].
    parts: Plane<u8>,
}

impl Outline {
    /// The distances are those from paint to the ground and back, in fifths of a pixel, and `sigma` is the scan's blur in pixels.
    /// A `tolerance` of 50, of 0..100, has pale paint end where half of it is left, and a higher one sooner.
    pub(super) fn find(
        sheet: &Sheet,
        field: &PaperField,
        evidence: &Evidence,
        cover: &Cover,
        [depth, outward]: [&Plane<u8>; 2],
        sigma: f32,
        tolerance: f32,
    ) -> Result<Self> {
        let (w, h) = (sheet.width(), sheet.height());
        let mut parts: Plane<u8> = Plane::new(w, h, "the matte")?;
        let curves = Curves::get();
        let light = |x: usize, y: usize| {
            let (scan, paper) = (sheet.pixel(x, y), field.pixel(x, y));
            [0, 1, 2].map(|c| curves.linear(paper[c]) - curves.linear(scan[c]))
        };
        // The strongest of the paint around.
        let strongest = |x: usize, y: usize| {
            let columns = x.saturating_sub(REACH)..(x + REACH + 1).min(w);
            let mut best = (0, x, y);
            for v in y.saturating_sub(REACH)..(y + REACH + 1).min(h) {
                let row = evidence.contrast.row(v)[columns.clone()].iter().zip(&depth.row(v)[columns.clone()]);
                for (u, (contrast, depth)) in columns.clone().zip(row) {
                    if *depth > 0 && *contrast > best.0 {
                        best = (*contrast, u, v);
                    }
                }
            }
            let (_, u, v) = best;
            (evidence.strong_at(u, v) > 0).then(|| light(u, v))
        };
        let mut tell = |x: usize, y: usize, top: [f32; 3]| {
            if parts.at(x, y) > 0 || cover.cover.at(x, y) & bits::HELD != 0 {
                return;
            }
            let share = dot(light(x, y), top) / max(dot(top, top), 1e-6);
            let painted = (0.5 + (share - HALF) * gauss::ROOT_TWO_PI * sigma).clamp(0.0, 1.0);
            parts.set(x, y, part_of(painted));
        };
        let mut faint = Vec::new();
        let inner = 1..w.max(2) - 1;
        for y in 1..h.saturating_sub(1) {
            for start in inner.clone().step_by(CHUNK) {
                let columns = start..(start + CHUNK).min(inner.end);
                // All at once: most chunks hold none.
                if !depth.row(y)[columns.clone()].iter().fold(false, |any, depth| any | (*depth == distance::UNIT)) {
                    continue;
                }
                for x in columns.filter(|x| depth.at(*x, y) == distance::UNIT && is_kept(cover.cover.at(*x, y))) {
                    let around = [(x - 1, y), (x + 1, y), (x, y - 1), (x, y + 1)];
                    if around.iter().any(|(u, v)| cover.cover.at(*u, *v) & bits::OUTSIDE != 0) {
                        continue;
                    }
                    if let Some(top) = strongest(x, y) {
                        tell(x, y, top);
                        around.into_iter().filter(|(u, v)| depth.at(*u, *v) == 0).for_each(|(u, v)| tell(u, v, top));
                    } else {
                        faint.push((x, y));
                    }
                }
            }
        }
        let mut outline = Self { parts };
        if !faint.is_empty() {
            let pale = Pale::new(evidence, depth, sigma, tolerance, sheet.working_ppi())?;
            outline.draw_pale(evidence, cover, [depth, outward], &pale, &faint);
        }
        Ok(outline)
    }

    /// Draws the outlines of pale paint in the band about the pixels where the cover has them.
    fn draw_pale(
        &mut self,
        evidence: &Evidence,
        cover: &Cover,
        [depth, outward]: [&Plane<u8>; 2],
        pale: &Pale,
        faint: &[(usize, usize)],
    ) {
        let (w, h) = (depth.width(), depth.height());
        // Crumbs and thin lines have no color that could be told from what lies about them.
        let of_area = |x: usize, y: usize| {
            let about = |i: usize, at: usize, count: usize| (at + 3 * i).saturating_sub(6).min(count - 1);
            (0..25)
                .map(|i| (about(i % 5, x, w), about(i / 5, y, h)))
                .any(|(u, v)| depth.at(u, v) >= pale::DEEP && evidence.strong_at(u, v) == 0)
        };
        let band = |at: usize, count: usize| at.saturating_sub(BAND)..(at + BAND + 1).min(count);
        for &(x, y) in faint.iter().filter(|(x, y)| of_area(*x, *y)) {
            for (u, v) in band(y, h).flat_map(|v| band(x, w).map(move |u| (u, v))) {
                let (inward, outward, bits) = (depth.at(u, v), outward.at(u, v), cover.cover.at(u, v));
                let far = inward.max(outward) > (BAND as u8) * distance::UNIT;
                let apart = inward > 0 && !is_kept(bits) || bits & (bits::HELD | bits::OUTSIDE) != 0;
                if far || apart || self.parts.at(u, v) > 0 {
                    continue;
                }
                let inside = if inward > 0 { from_outline(inward) } else { -from_outline(outward) };
                let painted = pale.painted(evidence, u, v, inside);
                self.parts.set(u, v, painted.map_or(part(inward > 0), part_of));
            }
        }
    }

    /// A row of it, 0 where no outline runs.
    #[inline]
    pub(super) fn row(&self, y: usize) -> &[u8] {
        self.parts.row(y)
    }
}

/// Whether paint with these [`bits`] is kept. What is cleared for itself, like a mark, is no ground, nor is it kept; and of a faint
/// contour no more is known than that it runs there.
fn is_kept(bits: u8) -> bool {
    bits & (bits::CLEARED | bits::CONTOUR) == 0
}

/// How deep a pixel lies, in pixels from the outline, by its distance to the ground in fifths of a pixel.
#[inline]
pub(super) fn from_outline(distance: u8) -> f32 {
    f32::from(distance) * (1.0 / distance::UNIT as f32) - 0.5
}

/// What stands for a pixel that is painted so far, 0..1.
fn part_of(painted: f32) -> u8 {
    1 + (painted * f32::from(PARTS)) as u8
}

/// What stands for a pixel that is painted wholly or not at all.
#[inline]
pub(super) fn part(painted: bool) -> u8 {
    1 + u8::from(painted) * PARTS
}

/// How far a pixel is painted, 0..1, by its part other than 0.
#[inline]
pub(super) fn painted(part: u8) -> f32 {
    f32::from(part.wrapping_sub(1)) * (1.0 / PARTS as f32)
}
