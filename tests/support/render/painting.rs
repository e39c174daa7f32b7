//! A sheet being painted: light reflected, how far each pixel is painted, and what with.

use super::element::Element;
use super::marks::Mark;
use super::noise;
use super::outline::Outline;
use super::paper::{Paper, PaperKind, height_of};
use super::patch::{Frame, Patch};
use super::pigment::{Film, Pigment};
use super::raster;
use crate::random::Random;

/// A sheet being painted.
pub struct Painting {
    /// Pixels across and down.
    pub size: [usize; 2],
    /// Resolution the sheet will be scanned at.
    pub ppi: f32,
    /// The paper's kind, for solving pale washes.
    pub kind: PaperKind,
    /// The bare sheet.
    pub paper: Paper,
    /// Reflectance with the paint on, linear light.
    pub light: Vec<[f32; 3]>,
    /// How far a pixel is painted, linear light.
    pub member: Vec<f32>,
    /// The latest [`Element`] laid on each pixel.
    pub label: Vec<u8>,
    /// What soils the bare paper, in order.
    pub marks: Vec<Mark>,
    /// The painter's own chance.
    pub random: Random,
    seed: Random,
}

/// One pigment laid in a stroke, and its thickness.
pub struct Coat<'a> {
    /// The pigment.
    pub pigment: &'a Pigment,
    /// Thickness over the frame of the cover it is laid through.
    pub depth: Patch,
}

/// How a flat wash dries.
#[derive(Clone, Copy, Debug)]
pub struct Wash {
    /// Thickness.
    pub body: f32,
    /// Slow unevenness, as a share.
    pub variation: f32,
    /// How much of the pigment's own granulation shows: 1 is natural.
    pub granulation: f32,
    /// Darkening at the edge, as a share.
    pub tideline: f32,
    /// Width of the tideline in mm.
    pub tide_mm: f32,
}

impl Default for Wash {
    fn default() -> Self {
        Self { body: 0.4, variation: 0.12, granulation: 1.0, tideline: 0.0, tide_mm: 0.35 }
    }
}

impl Painting {
    /// A bare sheet.
    #[must_use]
    pub fn new(seed: u64, size: [usize; 2], ppi: f32, kind: PaperKind) -> Self {
        let seed = Random::new(seed);
        let paper = Paper::new(&mut seed.fork(1), size[0], size[1], ppi, &kind);
        let n = size[0] * size[1];
        Self {
            size,
            ppi,
            kind,
            light: paper.light.clone(),
            paper,
            member: vec![0.0; n],
            label: vec![0; n],
            marks: Vec::new(),
            random: seed.fork(2),
            seed,
        }
    }

    /// Millimeters in pixels.
    #[must_use]
    pub fn mm(&self, length: f32) -> f32 {
        length * self.ppi / 25.4
    }

    /// A stream of chance for a piece of work that is not painting (marks, the scanner).
    #[must_use]
    pub fn chance_for(&self, tag: u64) -> Random {
        self.seed.fork(tag)
    }

    /// Coverage of outlines on this sheet.
    #[must_use]
    pub fn cover(&self, outlines: &[Outline]) -> Option<Patch> {
        raster::fill(outlines, self.size)
    }

    /// Height of the tooth over a frame.
    #[must_use]
    pub fn height(&self, frame: Frame) -> Patch {
        height_of(&self.paper.height, self.size[0], frame)
    }

    /// Smooth chance over a frame: mean 0, variance 1, grain in mm.
    #[must_use]
    pub fn wander(&mut self, frame: Frame, grain_mm: f32) -> Patch {
        let grain = self.mm(grain_mm);
        noise::patch(&mut self.random, frame, grain)
    }

    /// Lays coats of pigment, one over the other, through a cover; `member` says how far the pixels become painted.
    pub fn lay(&mut self, cover: &Patch, coats: &[Coat<'_>], member: &Patch, element: Element) {
        let frame = cover.frame;
        let films: Vec<Film> = coats.iter().map(|c| Film::new(c.pigment, c.depth.greatest())).collect();
        // A line or a dry touch is named where it is thin, an area only where it holds most of the pixel.
        let named = if matches!(element, Element::Line | Element::Dry | Element::Fade) { 0.12 } else { 0.5 };
        for row in 0..frame.height {
            let start = (frame.y + row) * self.size[0] + frame.x;
            for column in 0..frame.width {
                let (i, at) = (row * frame.width + column, start + column);
                let part = cover.values[i];
                if part > 0.0 {
                    let ground = self.light[at];
                    let mut painted = ground;
                    for (coat, film) in coats.iter().zip(&films) {
                        painted = film.over(coat.depth.values[i], painted);
                    }
                    self.light[at] = [0, 1, 2].map(|c| ground[c] + (painted[c] - ground[c]) * part);
                }
                let m = member.values[i];
                if m > 0.0 {
                    self.member[at] = 1.0 - (1.0 - self.member[at]) * (1.0 - m);
                    if m > named {
                        self.label[at] = element as u8;
                    }
                }
            }
        }
    }

    /// Lays coats over what is painted already, on the painted part of each pixel alone: nothing grows at the edges, and
    /// what is painted stays as far painted as it was.
    pub fn glaze(&mut self, cover: &Patch, coats: &[Coat<'_>]) {
        let frame = cover.frame;
        let films: Vec<Film> = coats.iter().map(|c| Film::new(c.pigment, c.depth.greatest())).collect();
        for (i, &part) in cover.values.iter().enumerate().filter(|(_, v)| **v > 0.0) {
            let at = (frame.y + i / frame.width) * self.size[0] + frame.x + i % frame.width;
            let member = self.member[at];
            if member < 0.02 {
                continue;
            }
            let paper = self.paper.light[at];
            let before = [0, 1, 2].map(|c| ((self.light[at][c] - (1.0 - member) * paper[c]) / member).clamp(0.0, 1.0));
            let mut after = before;
            for (coat, film) in coats.iter().zip(&films) {
                after = film.over(coat.depth.values[i], after);
            }
            for c in 0..3 {
                self.light[at][c] += member * part * (after[c] - before[c]);
            }
        }
    }

    /// Names what is already painted.
    pub fn name(&mut self, area: &Patch, element: Element) {
        let frame = area.frame;
        for (i, _) in area.values.iter().enumerate().filter(|(_, v)| **v > 0.5) {
            self.label[(frame.y + i / frame.width) * self.size[0] + frame.x + i % frame.width] = element as u8;
        }
    }

    /// The thickness of a wash over a cover: body, unevenness, pigment settled in the tooth's hollows, tideline.
    /// Never under a sixth of the body: a flat wash is paint everywhere.
    #[must_use]
    pub fn depth(&mut self, cover: &Patch, pigment: &Pigment, wash: &Wash) -> Patch {
        let frame = cover.frame;
        let slow = self.mm(4.0).max(frame.width.min(frame.height) as f32 * 0.25).min(self.mm(12.0));
        let height = self.height(frame);
        let settle = 0.17 * pigment.granulation as f32 * wash.granulation;
        let mut depth = if wash.variation > 0.0 && frame.area() > 900 {
            noise::octaves(&mut self.random, frame, slow, 3, 0.45).map(|v| 1.0 + wash.variation * v)
        } else {
            Patch::flat(frame, 1.0)
        };
        if settle > 0.0 {
            let fleck = self.wander(frame, 0.16).values;
            for ((d, h), f) in depth.values.iter_mut().zip(&height.values).zip(fleck) {
                *d *= 1.0 - settle * (h - 0.35 * f);
            }
        }
        if wash.tideline > 0.0 {
            let inside = cover.depth_inside();
            let wander = self.wander(frame, 5.0);
            let reach = self.mm(wash.tide_mm);
            for ((d, &far), w) in depth.values.iter_mut().zip(&inside.values).zip(&wander.values) {
                // Pigment carried to the edge: a dark line there, a little missing behind it.
                let (near, behind) = (far / reach, far / (3.5 * reach));
                let strength = wash.tideline * (0.75 + 0.45 * w).clamp(0.15, 1.5);
                *d *= 1.0 + strength * (libm::expf(-near * near) - 0.22 * libm::expf(-behind * behind));
            }
        }
        let floor = wash.body / 6.0;
        depth.map(|d| (d * wash.body).max(floor))
    }
}
