//! Un-mixing with the paper known.
//!
//! A pixel C over paper P is explained exactly by every alpha from `a_min` to 1, with the paint's color
//! F = (C - (1 - a) P) / a (Porter and Duff 1984, solved for F). So alpha is free for the eye to choose, and whatever it
//! chooses, the art laid back on its own paper gives the scan again: the own-paper identity, within one count.

use crate::color::math::{self, max, min};
use crate::image::{Plane, Sheet};
use crate::paper::{PaperField, Ruler};

/// The painter's dials that shape alpha, each 0..1. They never ask for a new matte.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dials {
    /// Edge softness: 0.5 leaves edges as scanned, 0 makes them crisp, 1 soft.
    pub soft: f32,
    /// How much of the rim is removed: 0 leaves what the evidence calls paint, 1 takes all that belongs to the paper.
    pub rim: f32,
    /// Body: 1 leaves paint solid, 0 takes all paper out of it.
    pub body: f32,
}

/// The least alpha that explains a pixel over its paper with a color inside the gamut; values 0..1.
#[must_use]
#[inline]
pub fn a_min(scan: [f32; 3], paper: [f32; 3]) -> f32 {
    let mut least = 0.0_f32;
    for c in 0..3 {
        let (p, v) = (paper[c], scan[c]);
        let a = if v <= p { (p - v) / max(p, 1e-6) } else { (v - p) / max(1.0 - p, 1e-6) };
        least = max(least, a);
    }
    min(least, 1.0)
}

/// Turns rows of matte into rows of art.
#[derive(Clone, Debug)]
pub struct Unmixer {
    /// Alpha 0..1 for every matte value, after softness and rim.
    curve: Vec<f32>,
    body: f32,
}

impl Unmixer {
    /// For a setting of the dials.
    #[must_use]
    pub fn new(dials: Dials) -> Self {
        // A power on the odds m / (1 - m) steepens or flattens an edge about its middle.
        let power = math::powf(4.0, 1.0 - 2.0 * dials.soft);
        let shape = |m: f32| {
            if power == 1.0 || m <= 0.0 || m >= 1.0 {
                return m;
            }
            let (a, b) = (math::powf(m, power), math::powf(1.0 - m, power));
            a / (a + b)
        };
        let curve = (0..=u16::MAX)
            .map(|m| {
                if m == 0 {
                    return 0.0;
                }
                // A matte of 1/65535 is rim: evidence of paint, but no part of it.
                let m = shape(f32::from(m - 1) / f32::from(u16::MAX - 1));
                1.0 - (1.0 - m) * dials.rim
            })
            .collect();
        Self { curve, body: dials.body }
    }

    /// Alpha for a pixel, 0..1: at least `a_min` wherever it is not zero.
    #[inline]
    fn alpha(&self, matte: u16, scan: [f32; 3], paper: [f32; 3]) -> f32 {
        let m = self.curve[usize::from(matte)];
        if m <= 0.0 {
            return 0.0;
        }
        let least = a_min(scan, paper);
        least + self.body * (max(m, least) - least)
    }

    /// One row of art, 8 bits a channel, straight alpha. `out` holds 4 bytes a pixel for columns `x0..x0 + out.len() / 4`.
    ///
    /// Alpha is rounded up and color to nearest, which keeps the identity within half a count of 8 bits.
    pub fn row8(&self, source: &mut RowSource<'_>, matte: &Plane<u16>, y: usize, x0: usize, out: &mut [u8]) {
        let matte = &matte.row(y)[x0..];
        self.row(source, matte, y, x0, out.as_chunks_mut::<4>().0, 255.0, |v| v as u8);
    }

    /// As [`Unmixer::row8`], 16 bits a channel.
    pub fn row16(&self, source: &mut RowSource<'_>, matte: &Plane<u16>, y: usize, out: &mut [u16]) {
        self.row(source, matte.row(y), y, 0, out.as_chunks_mut::<4>().0, 65535.0, |v| v as u16);
    }

    #[inline]
    fn row<T: Copy + Default>(
        &self,
        source: &mut RowSource<'_>,
        matte: &[u16],
        y: usize,
        x0: usize,
        out: &mut [[T; 4]],
        top: f32,
        whole: impl Fn(f32) -> T,
    ) {
        if matte[..out.len()].iter().all(|m| *m == 0) {
            return out.fill([T::default(); 4]);
        }
        source.load(y);
        // What is solid shows the scan as it is.
        let solid = self.body == 1.0 && self.curve[usize::from(u16::MAX)] == 1.0;
        for ((x, pixel), m) in (x0..).zip(out).zip(matte) {
            *pixel = if *m == 0 {
                [T::default(); 4]
            } else if *m == u16::MAX && solid {
                let [r, g, b] = source.scan_at(x).map(|v| v * top + 0.5);
                [whole(r), whole(g), whole(b), whole(top)]
            } else {
                let (scan, paper) = source.at(x);
                let [r, g, b, a] = self.pixel(*m, scan, paper, top);
                [whole(r), whole(g), whole(b), whole(a)]
            };
        }
    }

    /// Straight RGBA in counts 0..`top`, still to be cut down to whole ones.
    #[inline]
    fn pixel(&self, matte: u16, scan: [f32; 3], paper: [f32; 3], top: f32) -> [f32; 4] {
        let wanted = self.alpha(matte, scan, paper);
        // A hair's breadth is taken off before rounding up, so that an exact count stays what it is.
        let alpha = (wanted * top - 1e-3).ceil().clamp(0.0, top);
        if alpha == 0.0 {
            return [0.0; 4];
        }
        let a = alpha / top;
        let own = [0, 1, 2].map(|c| {
            let f = paper[c] + (scan[c] - paper[c]) / a;
            f.clamp(0.0, 1.0) * top + 0.5
        });
        [own[0], own[1], own[2], alpha]
    }
}

/// The rows of a sheet and of its paper, one at a time.
#[derive(Debug)]
pub struct RowSource<'a> {
    sheet: &'a Sheet,
    field: &'a PaperField,
    ruler: Ruler,
    scan: [Vec<f32>; 3],
    paper: [Vec<f32>; 3],
}

impl<'a> RowSource<'a> {
    /// Over a sheet and its paper.
    #[must_use]
    pub fn new(sheet: &'a Sheet, field: &'a PaperField) -> Self {
        let line = || [0, 1, 2].map(|_| vec![0.0; sheet.width()]);
        Self { sheet, field, ruler: Ruler::new(field, 0..sheet.width()), scan: line(), paper: line() }
    }

    /// Loads a row.
    pub fn load(&mut self, y: usize) {
        let [r, g, b] = &mut self.scan;
        self.sheet.row(y, r, g, b);
        let [r, g, b] = &mut self.paper;
        self.ruler.draw(self.field, y, [r, g, b]);
    }

    /// The scan at a column of the loaded row, encoded 0..1.
    #[must_use]
    #[inline]
    pub fn scan_at(&self, x: usize) -> [f32; 3] {
        [self.scan[0][x], self.scan[1][x], self.scan[2][x]]
    }

    /// The paper at a column of the loaded row, encoded 0..1.
    #[must_use]
    #[inline]
    pub fn paper_at(&self, x: usize) -> [f32; 3] {
        [self.paper[0][x], self.paper[1][x], self.paper[2][x]]
    }

    /// Scan and paper at a column of the loaded row.
    #[inline]
    fn at(&self, x: usize) -> ([f32; 3], [f32; 3]) {
        (self.scan_at(x), self.paper_at(x))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn counts(v: [u8; 3]) -> [f32; 3] {
        v.map(|c| f32::from(c) / 255.0)
    }

    /// Worked by hand from C = aF + (1 - a)P on paper 246, 244, 236.
    #[test]
    fn least_alpha_of_known_paints() {
        let paper = counts([246, 244, 236]);
        for (scan, alpha) in [
            ([246, 243, 226], 0.0424),
            ([244, 214, 214], 0.1230),
            ([214, 228, 238], 0.1301),
            ([58, 74, 150], 0.7642),
            ([250, 250, 248], 0.6316),
            ([200, 60, 50], 0.7881),
            ([30, 28, 34], 0.8852),
            ([246, 244, 236], 0.0),
        ] {
            assert!((a_min(counts(scan), paper) - alpha).abs() < 5e-5, "{scan:?}: {}", a_min(counts(scan), paper));
        }
        // Gouache on black paper, white on kraft: the sign turns, the rule stays.
        assert!((a_min(counts([240, 240, 238]), counts([53, 53, 53])) - 0.926).abs() < 5e-4);
        assert!((a_min(counts([250, 248, 244]), counts([190, 160, 126])) - 0.926).abs() < 5e-4);
    }

    proptest! {
        /// Whatever the dials say, the art on its own paper is the scan again, within a count.
        #[test]
        fn own_paper_identity(
            scan in prop::array::uniform3(0_u8..=255), paper in prop::array::uniform3(1_u8..=254),
            matte in 1_u16.., soft in 0.0_f32..=1.0, rim in 0.0_f32..=1.0, body in 0.0_f32..=1.0,
        ) {
            let (c, p) = (counts(scan), counts(paper));
            let unmixer = Unmixer::new(Dials { soft, rim, body });
            let [r, g, b, a] = unmixer.pixel(matte, c, p, 255.0);
            prop_assume!(a > 0.0);
            let a = a / 255.0;
            for (f, (c, p)) in [r, g, b].into_iter().zip(c.into_iter().zip(p)) {
                let back = a * f + (1.0 - a) * p * 255.0;
                prop_assert!((back - c * 255.0).abs() <= 1.0, "{back} for {}", c * 255.0);
            }
        }

        /// More body is never less alpha, and nothing falls below the least alpha.
        #[test]
        fn body_is_monotone(
            scan in prop::array::uniform3(0_u8..=255), paper in prop::array::uniform3(1_u8..=254),
            matte in 2_u16.., low in 0.0_f32..=1.0, high in 0.0_f32..=1.0,
        ) {
            prop_assume!(low <= high);
            let (c, p) = (counts(scan), counts(paper));
            let alpha = |body| Unmixer::new(Dials { soft: 0.5, rim: 1.0, body }).alpha(matte, c, p);
            prop_assert!(alpha(low) <= alpha(high));
            prop_assert!(alpha(low) >= a_min(c, p));
        }
    }

    #[test]
    fn half_soft_is_as_scanned() {
        let unmixer = Unmixer::new(Dials { soft: 0.5, rim: 1.0, body: 1.0 });
        for m in [2_u16, 100, 30_000, 65_535] {
            assert!((unmixer.curve[usize::from(m)] - f32::from(m - 1) / 65_534.0).abs() < 1e-6);
        }
    }
}
