//! What soils bare paper: dust, hairs, graphite, smudges, stray streaks, and the edge of the sheet. None of it is part of the
//! truth, and none of it touches the paint.

use super::distance;
use super::element::Element;
use super::noise;
use super::outline::{Outline, blob};
use super::painting::Painting;
use super::paper::height_of;
use super::patch::{Frame, Patch};
use super::pigment::Pigment;
use super::raster;
use super::stroke::Stroke;
use crate::random::Random;

/// One disturbance of the bare paper.
#[derive(Clone, Debug)]
pub enum Mark {
    /// Specks of dust strewn over the sheet.
    Dust {
        /// How many.
        count: usize,
    },
    /// A hair or a fiber.
    Hair {
        /// Its curve.
        path: Outline,
        /// Width in px.
        width: f32,
    },
    /// A pencil line: graphite on the tops of the tooth.
    Graphite {
        /// Its curve.
        path: Outline,
        /// Width in px.
        width: f32,
        /// Light it takes, 0..1.
        dark: f32,
    },
    /// A rubbed gray patch.
    Smudge {
        /// Its middle.
        center: [f32; 2],
        /// Its half length in px.
        radius: f32,
        /// Light it takes, 0..1.
        dark: f32,
    },
    /// A pale streak of paint that got where it should not.
    Stray {
        /// The streak.
        stroke: Stroke,
        /// Its pigment.
        pigment: Pigment,
        /// How far from the paper it lies, CIEDE2000.
        difference: f64,
    },
    /// The sheet ends inside the scan: lid, shadow and cut edge.
    SheetEdge {
        /// The sheet's outline.
        sheet: Outline,
        /// The lid's reflectance.
        lid: [f32; 3],
    },
}

/// The light of the soiled sheet, and the marks' labels.
pub struct Soiled {
    /// Reflectance, linear light.
    pub light: Vec<[f32; 3]>,
    /// [`Element`] of the mark on each pixel, 0 where none.
    pub label: Vec<u8>,
}

struct Soiling<'a> {
    painting: &'a Painting,
    out: Soiled,
    /// 1 on paper well away from paint, 0 at and near paint.
    free: Vec<f32>,
}

impl Soiling<'_> {
    fn index(&self, frame: Frame, i: usize) -> usize {
        (frame.y + i / frame.width) * self.painting.size[0] + frame.x + i % frame.width
    }

    /// Multiplies the light by a factor (over 1: lightens) where the cover is, on free paper.
    fn darken(&mut self, element: Element, cover: &Patch, factor: [f32; 3]) {
        for (i, &v) in cover.values.iter().enumerate().filter(|(_, v)| **v > 0.0) {
            let at = self.index(cover.frame, i);
            let part = v * self.free[at];
            self.out.light[at].iter_mut().zip(factor).for_each(|(v, f)| *v *= 1.0 - part * (1.0 - f));
            if part > 0.15 {
                self.out.label[at] = element as u8;
            }
        }
    }

    fn dust(&mut self, random: &mut Random, count: usize) {
        let size = self.painting.size.map(|v| v as f32);
        let unit = (self.painting.ppi / 300.0).sqrt();
        let on_dark = self.painting.kind.tint.is_dark();
        for _ in 0..count {
            let at = [random.between(12.0, size[0] - 12.0), random.between(12.0, size[1] - 12.0)];
            let radius = unit * random.between(0.7, 2.4);
            let flat = random.between(0.5, 1.0);
            let turn = random.between(0.0, 3.0);
            let speck = blob(random, at, [radius, radius * flat], 0.2, 5, turn);
            let (pale, dark) = (random.chance(0.2), random.between(0.25, 0.8));
            let Some(cover) = raster::fill(&[speck], self.painting.size) else { continue };
            let factor = if on_dark {
                // The same specks, as much lighter than black paper as they are darker than white.
                [9.0 - 8.0 * dark; 3]
            } else if pale {
                [1.05, 1.05, 1.06]
            } else {
                [dark, 0.98 * dark, 0.95 * dark]
            };
            self.darken(Element::Dust, &cover, factor);
        }
    }

    fn apply(&mut self, random: &mut Random, mark: &Mark) {
        let painting = self.painting;
        match mark {
            Mark::Dust { count } => self.dust(random, *count),
            Mark::Hair { path, width } => {
                if let Some(hair) = Stroke::new(path.clone(), &[0.8 * width, *width, 0.7 * width]).cover(painting.size) {
                    let factor = if painting.kind.tint.is_dark() { [5.0, 4.8, 4.6] } else { [0.50, 0.46, 0.43] };
                    self.darken(Element::Hair, &hair.cover, factor);
                }
            }
            Mark::Graphite { path, width, dark } => {
                let Some(line) = Stroke::new(path.clone(), &[*width, 1.25 * width, 0.9 * width]).cover(painting.size) else {
                    return;
                };
                let press = noise::patch(random, line.cover.frame, painting.mm(7.0));
                let tooth = height_of(&painting.paper.height, painting.size[0], line.cover.frame);
                let cover = line
                    .cover
                    .with(&tooth, |v, h| v * (0.6 + 0.5 * h).clamp(0.0, 1.0))
                    .with(&press, |v, p| v * (0.9 + 0.2 * p).clamp(0.2, 1.2));
                let left = 1.0 - dark;
                self.darken(Element::Graphite, &cover, [left, left, left + 0.004]);
            }
            Mark::Smudge { center, radius, dark } => {
                let ends =
                    [[center[0] - 2.2 * radius, center[1] - 1.5 * radius], [center[0] + 2.2 * radius, center[1] + 1.5 * radius]];
                let Some(frame) = Frame::around(ends.iter(), 0.0, painting.size) else { return };
                let cloud = noise::patch(random, frame, painting.mm(1.0));
                let tooth = height_of(&painting.paper.height, painting.size[0], frame);
                let (rx, ry) = (radius * radius, 0.4 * radius * radius);
                let cover = Patch::from_fn(frame, |x, y| {
                    let (dx, dy) = (x - center[0], y - center[1]);
                    libm::expf(-(dx * dx / rx + dy * dy / ry))
                })
                .with(&tooth, |v, h| v * (0.7 + 0.25 * h).clamp(0.0, 1.3))
                .with(&cloud, |v, n| v * (1.0 + 0.2 * n).max(0.0));
                self.darken(Element::Smudge, &cover, [1.0 - dark; 3]);
            }
            Mark::Stray { stroke, pigment, difference } => {
                let Some(streak) = stroke.cover(painting.size) else { return };
                let body = painting.pale_body(pigment, *difference);
                let film = super::pigment::Film::new(pigment, body * 2.0);
                for (i, &v) in streak.cover.values.iter().enumerate().filter(|(_, v)| **v > 0.0) {
                    let at = self.index(streak.cover.frame, i);
                    let part = v * self.free[at];
                    let ground = self.out.light[at];
                    let depth = body * (1.0 - 0.15 * painting.paper.height[at]).clamp(0.3, 2.0);
                    let painted = film.over(depth, ground);
                    self.out.light[at] = [0, 1, 2].map(|c| ground[c] + (painted[c] - ground[c]) * part);
                    if part > 0.15 {
                        self.out.label[at] = Element::Stray as u8;
                    }
                }
            }
            Mark::SheetEdge { sheet, lid } => self.sheet_edge(random, sheet, *lid),
        }
    }

    /// Beyond the sheet lies the lid, in the sheet's shadow; the cut edge itself is a little darker.
    fn sheet_edge(&mut self, random: &mut Random, sheet: &Outline, lid: [f32; 3]) {
        let painting = self.painting;
        let [width, height] = painting.size;
        let all = Frame { x: 0, y: 0, width, height };
        let Some(cover) = raster::fill(std::slice::from_ref(sheet), painting.size).map(|p| p.within(all)) else { return };
        let on_sheet: Vec<bool> = cover.values.iter().map(|&v| v > 0.5).collect();
        let off_sheet: Vec<bool> = on_sheet.iter().map(|v| !v).collect();
        let to_sheet = distance::to_nearest(&on_sheet, width, height);
        let to_edge = distance::to_nearest(&off_sheet, width, height);
        let grain = noise::field(random, width, height, 1.6);
        let (near, wide, cut) = (painting.mm(0.6), painting.mm(2.1), painting.mm(0.22));
        // The shadow falls down and to the right by half a millimeter.
        let shift = painting.mm(0.45) as usize;
        let bright = lid[1] > 0.3;
        let depth = if bright { 0.5 } else { 0.3 };
        for y in 0..height {
            for x in 0..width {
                let i = y * width + x;
                let part = cover.values[i];
                let cast = to_sheet[y.saturating_sub(shift) * width + x.saturating_sub(shift)];
                let shade = 1.0 - depth * libm::expf(-cast / near) - 0.15 * libm::expf(-to_sheet[i] / wide);
                let rim = 1.0 - 0.10 * libm::expf(-to_edge[i] / cut);
                let ground = self.out.light[i];
                self.out.light[i] = [0, 1, 2].map(|c| {
                    let beyond = lid[c] * shade * (1.0 + 0.004 * grain[i]);
                    ground[c] * rim * part + beyond * (1.0 - part)
                });
                if part < 0.98 {
                    self.out.label[i] = Element::Outside as u8;
                }
            }
        }
    }
}

/// The painted sheet with all its marks.
#[must_use]
pub fn soil(painting: &Painting) -> Soiled {
    let [width, height] = painting.size;
    let out = Soiled { light: painting.light.clone(), label: vec![0; width * height] };
    if painting.marks.is_empty() {
        return out;
    }
    let painted: Vec<bool> = painting.member.iter().map(|&m| m >= 0.004).collect();
    let free = distance::to_nearest(&painted, width, height).into_iter().map(|d| ((d - 5.0) * 0.5).clamp(0.0, 1.0)).collect();
    let mut soiling = Soiling { painting, out, free };
    let mut random = painting.chance_for(3);
    for mark in &painting.marks {
        soiling.apply(&mut random, mark);
    }
    soiling.out
}
