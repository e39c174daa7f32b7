//! The truth made ready for judging, and the scores of a lift.

use super::alpha;
use super::identity::{Identity, identity};
use super::seen::{compare, mean_and_share};
use crate::render::components::regions;
use crate::render::distance::{nearest, to_nearest};
use crate::render::element::Element;
use crate::render::truth::Scene;

/// Bare paper further than this from paint (px) must be empty.
const CLEAR_OF_PAINT: f32 = 6.0;

/// Alpha over this on bare paper is residue.
const RESIDUE: f32 = 0.02;

/// A scene made ready for judging.
pub struct Judge<'a> {
    scene: &'a Scene,
    valid: Vec<bool>,
    bare: Vec<bool>,
    band: Vec<bool>,
    rim: Vec<bool>,
    owner: Vec<u8>,
}

/// How one kind of element came out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ElementScore {
    /// Which.
    pub element: Element,
    /// Pixels of it, with 4 px around for paint.
    pub pixels: usize,
    /// Mean absolute error of alpha.
    pub alpha_error: f64,
    /// CIEDE2000 averaged over the grounds.
    pub difference: f64,
    /// Share of its solid pixels that became thin (paint), or of its pixels that stayed (paper and marks).
    pub wrong: f64,
}

/// The scores of a lift; smaller is better in all of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Score {
    /// Pixels of the sheet.
    pub pixels: usize,
    /// Sum of absolute differences of alpha, thousands of pixels.
    pub sad: f64,
    /// Mean squared difference of alpha, times 1000.
    pub mse: f64,
    /// Gradient error, thousands.
    pub gradient: f64,
    /// Connectivity error, thousands.
    pub connectivity: f64,
    /// Share of clear bare paper with something left on it.
    pub residue: f64,
    /// How many separate leavings.
    pub blobs: usize,
    /// Share of solid paint (alpha 0.98 and over) that came out under 0.95.
    pub lost: f64,
    /// Mean CIEDE2000 over the grounds in the edge band, fades included; and what 95 % stay under.
    pub band: (f64, f64),
    /// The same without fades: crisp edges alone, averaged over the grounds first.
    pub edge: (f64, f64),
    /// The same everywhere; and what 99 % stay under.
    pub all: (f64, f64),
    /// Mean excess of L* over the truth on black, 1 to 6 px outside the edge.
    pub halo: f64,
    /// The art laid back on the true paper, against the scan, where there is paint.
    pub identity: Identity,
    /// One entry for each kind of element on the sheet.
    pub elements: Vec<ElementScore>,
}

impl<'a> Judge<'a> {
    /// Prepares a scene.
    #[must_use]
    pub fn new(scene: &'a Scene) -> Self {
        let (width, height) = (scene.scan.width(), scene.scan.height());
        let (alpha, label) = (scene.alpha.data(), scene.label.data());
        let far_from = |of: &dyn Fn(usize) -> bool| {
            let marked: Vec<bool> = (0..alpha.len()).map(of).collect();
            to_nearest(&marked, width, height)
        };
        let valid: Vec<bool> = label.iter().map(|&l| l != Element::Ignored as u8).collect();
        let to_paint = far_from(&|i| alpha[i] > 0.0);
        let to_half = far_from(&|i| alpha[i] >= 0.5);
        let bare = (0..alpha.len()).map(|i| valid[i] && alpha[i] <= 0.0 && to_paint[i] > CLEAR_OF_PAINT).collect();
        let rim = (0..alpha.len()).map(|i| valid[i] && alpha[i] < 0.5 && (1.0..=6.0).contains(&to_half[i])).collect();
        let owner = owners(label, width, height, &to_paint, &valid);
        let band = band(alpha, &valid, width, height);
        Self { scene, valid, bare, band, rim, owner }
    }

    /// Scores a lift: straight alpha, encoded 0..1, row by row.
    ///
    /// # Panics
    /// When the art is not of the sheet's size.
    #[must_use]
    pub fn score(&self, art: &[[f32; 4]]) -> Score {
        let scene = self.scene;
        let (width, height) = (scene.scan.width(), scene.scan.height());
        assert_eq!(art.len(), width * height, "an art of the sheet's size");
        let truth = scene.alpha.data();
        let result: Vec<f32> = art.iter().map(|p| p[3]).collect();
        let left: Vec<bool> = self.bare.iter().zip(&result).map(|(&b, &a)| b && a > RESIDUE).collect();
        let solid = |i: usize| self.valid[i] && truth[i] >= 0.98;
        let thin = |i: usize| result[i] < 0.95;
        let seen = compare(art, &scene.black, truth, &self.valid);
        let over_grounds = |counts: &dyn Fn(usize) -> bool, share: f64| {
            let each = seen.on.iter().filter_map(|on| {
                let mut values: Vec<f32> = (0..on.len()).filter(|&i| counts(i)).map(|i| on[i]).collect();
                mean_and_share(&mut values, share)
            });
            let (mean, high) = each.fold((0.0, 0.0), |sum, v| (sum.0 + v.0, sum.1 + v.1));
            (mean / 4.0, high / 4.0)
        };
        let average = |i: usize| seen.on.iter().map(|on| on[i]).sum::<f32>() / 4.0;
        let fade = Element::Fade as u8;
        let mut crisp: Vec<f32> = (0..result.len()).filter(|&i| self.band[i] && self.owner[i] != fade).map(average).collect();
        Score {
            pixels: result.len(),
            sad: alpha::sad(&result, truth, &self.valid),
            mse: alpha::mse(&result, truth, &self.valid),
            gradient: alpha::gradient(&result, truth, &self.valid, width, height),
            connectivity: alpha::connectivity(&result, truth, &self.valid, width, height),
            residue: share(result.len(), |i| self.bare[i], |i| left[i]),
            blobs: regions(&left, width, height, true).1.len(),
            lost: share(result.len(), solid, thin),
            band: over_grounds(&|i| self.band[i], 0.95),
            edge: mean_and_share(&mut crisp, 0.95).unwrap_or_default(),
            all: over_grounds(&|i| self.valid[i], 0.99),
            halo: mean(result.len(), |i| self.rim[i], |i| f64::from(seen.lighter[i])),
            identity: identity(&scene.scan, art, &scene.paper, |i| self.valid[i] && truth[i] > RESIDUE),
            elements: self.elements(&result, &seen.on, &left),
        }
    }

    fn elements(&self, result: &[f32], on: &[Vec<f32>; 4], left: &[bool]) -> Vec<ElementScore> {
        let (truth, label) = (self.scene.alpha.data(), self.scene.label.data());
        let n = result.len();
        let one = |element: Element, counts: &dyn Fn(usize) -> bool, wrong: f64| {
            let pixels = (0..n).filter(|&i| counts(i)).count();
            (pixels > 20).then(|| ElementScore {
                element,
                pixels,
                alpha_error: mean(n, counts, |i| f64::from((result[i] - truth[i]).abs())),
                difference: mean(n, counts, |i| on.iter().map(|d| f64::from(d[i])).sum::<f64>() / 4.0),
                wrong,
            })
        };
        let paint = Element::PAINT.iter().filter_map(|&element| {
            let counts = |i: usize| self.owner[i] == element as u8;
            one(element, &counts, share(n, |i| counts(i) && truth[i] >= 0.98, |i| result[i] < 0.95))
        });
        let taken = Element::TAKEN.iter().chain([&Element::Bare]).filter_map(|&element| {
            let counts = |i: usize| self.bare[i] && label[i] == element as u8;
            one(element, &counts, share(n, counts, |i| left[i]))
        });
        paint.chain(taken).collect()
    }
}

impl Score {
    /// How one kind of element came out, if it is on the sheet.
    #[must_use]
    pub fn element(&self, element: Element) -> Option<&ElementScore> {
        self.elements.iter().find(|e| e.element == element)
    }
}

/// Every pixel within 4 px of paint belongs to the kind of paint that is named nearest to it.
fn owners(label: &[u8], width: usize, height: usize, to_paint: &[f32], valid: &[bool]) -> Vec<u8> {
    let mut kinds = nearest_kind(label, width, height);
    kinds
        .iter_mut()
        .zip(to_paint.iter().zip(valid))
        .filter(|(_, (far, valid))| **far > 4.0 || !**valid)
        .for_each(|(k, _)| *k = 0);
    kinds
}

/// The kind of paint that is named nearest to each pixel; 0 where there is none.
pub(super) fn nearest_kind(label: &[u8], width: usize, height: usize) -> Vec<u8> {
    let named: Vec<bool> = label.iter().map(|&l| l > 0 && l < Element::Pocket as u8).collect();
    nearest(&named, width, height).map_or_else(|| vec![0; label.len()], |from| from.into_iter().map(|i| label[i]).collect())
}

/// Pixels within two of a partly covered one, in a square.
fn band(alpha: &[f32], valid: &[bool], width: usize, height: usize) -> Vec<bool> {
    let mut out = vec![false; alpha.len()];
    for (i, _) in alpha.iter().enumerate().filter(|(_, a)| **a > 0.01 && **a < 0.99) {
        let (x, y) = (i % width, i / width);
        for v in y.saturating_sub(2)..=(y + 2).min(height - 1) {
            out[v * width + x.saturating_sub(2)..=v * width + (x + 2).min(width - 1)].fill(true);
        }
    }
    out.iter_mut().zip(valid).for_each(|(o, v)| *o &= v);
    out
}

fn share(n: usize, of: impl Fn(usize) -> bool, which: impl Fn(usize) -> bool) -> f64 {
    mean(n, of, |i| f64::from(u8::from(which(i))))
}

fn mean(n: usize, of: impl Fn(usize) -> bool, value: impl Fn(usize) -> f64) -> f64 {
    let (count, sum) = (0..n).filter(|&i| of(i)).fold((0_usize, 0.0), |(c, s), i| (c + 1, s + value(i)));
    if count == 0 { 0.0 } else { sum / count as f64 }
}
