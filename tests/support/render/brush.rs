//! The ways of laying paint: flat and wet-edged washes, fades, dry brush, lines, pale washes, body color, splatter.

use super::element::Element;
use super::noise;
use super::outline::{Outline, blob};
use super::painting::{Coat, Painting, Wash};
use super::patch::Patch;
use super::pigment::{Pigment, WHITE};
use super::stroke::Stroke;
use crate::color;

/// A fading wash counts as solid paint from this share of its body color on (linear light); below, alpha falls to 0 with
/// the remaining share. No scan can tell how much of a wet-in-wet wash "is there": this is what a painter expects to see on
/// a dark ground.
pub const SOLID: f32 = 0.5;

/// Holes in a wash: left white as part of the picture, or open to the paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hole {
    /// A reserved white.
    Reserved,
    /// A pocket of bare paper.
    Pocket,
}

impl Painting {
    /// A flat or wet-edged area.
    pub fn wash(&mut self, outlines: &[Outline], holes: &[(Outline, Hole)], pigment: &Pigment, wash: &Wash, element: Element) {
        let Some(area) = self.cover(outlines) else { return };
        let mut open = Patch::flat(area.frame, 0.0);
        let mut reserved = open.clone();
        for (outline, kind) in holes {
            let Some(hole) = self.cover(std::slice::from_ref(outline)) else { continue };
            open = open.with(&hole, f32::max);
            if *kind == Hole::Reserved {
                reserved = reserved.with(&hole, f32::max);
            }
        }
        reserved = reserved.times(&area);
        let cover = area.minus(&open);
        let depth = self.depth(&cover, pigment, wash);
        // Across the edge of a reserved white the pixel stays painted throughout.
        let member = cover.clone().with(&reserved, |a, b| (a + b).min(1.0));
        self.lay(&cover, &[Coat { pigment, depth }], &member, element);
        self.name(&reserved, Element::Reserved);
    }

    /// A wash whose thickness follows `strength` 0..1 over its frame and runs out to nothing where that does.
    pub fn fade(&mut self, cover: &Patch, strength: &Patch, pigment: &Pigment, wash: &Wash) {
        let body = self.depth(cover, pigment, &Wash { tideline: 0.0, ..*wash });
        let strength = strength.clone().map(|f| if f < 0.012 { 0.0 } else { (f * 1.25).min(1.0) });
        let member = self.fade_member(cover, &body, &strength, pigment);
        let depth = body.times(&strength);
        self.lay(cover, &[Coat { pigment, depth }], &member, Element::Fade);
    }

    fn fade_member(&self, cover: &Patch, body: &Patch, strength: &Patch, pigment: &Pigment) -> Patch {
        let frame = cover.frame;
        let film = super::pigment::Film::new(pigment, body.greatest());
        let far = |a: [f32; 3], b: [f32; 3]| [0, 1, 2].iter().map(|&c| (a[c] - b[c]) * (a[c] - b[c])).sum::<f32>().sqrt();
        let mut member = Patch::flat(frame, 0.0);
        for (i, m) in member.values.iter_mut().enumerate().filter(|(i, _)| cover.values[*i] > 0.0 && strength.values[*i] > 0.0) {
            let ground = self.light[(frame.y + i / frame.width) * self.size[0] + frame.x + i % frame.width];
            let full = film.over(body.values[i], ground);
            let here = film.over(body.values[i] * strength.values[i], ground);
            let share = far(ground, here) / (far(ground, full) + 1e-6);
            *m = (share / SOLID).clamp(0.0, 1.0) * cover.values[i];
        }
        member
    }

    /// A strength that falls along a direction (radians) across a cover, wandering as wet paint does.
    #[must_use]
    pub fn run_out(&mut self, cover: &Patch, direction: f32, power: f32) -> Patch {
        let (c, s) = (libm::cosf(direction), libm::sinf(direction));
        let (mut low, mut high) = (f32::MAX, f32::MIN);
        let way = Patch::from_fn(cover.frame, |x, y| x * c + y * s);
        for (w, v) in way.values.iter().zip(&cover.values) {
            if *v > 0.5 {
                (low, high) = (low.min(*w), high.max(*w));
            }
        }
        let scale = 1.0 / (high - low + 1e-3);
        let slow = self.wander(cover.frame, 5.5);
        let quick = self.wander(cover.frame, 1.5);
        let soft = cover.clone().blurred(self.mm(1.3));
        let mut strength = way;
        for (i, v) in strength.values.iter_mut().enumerate() {
            let f = 1.0 - (*v - low) * scale + 0.10 * slow.values[i] + 0.035 * quick.values[i];
            // The outline dissolves too.
            let f = f.min(2.4 * (soft.values[i] - 0.5)).clamp(0.0, 1.0);
            *v = libm::powf(f, power);
        }
        strength
    }

    /// A wet-in-wet wash that runs out along a direction, without a hard edge anywhere.
    pub fn fading_wash(&mut self, outlines: &[Outline], direction: f32, power: f32, pigment: &Pigment, wash: &Wash) {
        let Some(cover) = self.cover(outlines) else { return };
        let strength = self.run_out(&cover, direction, power);
        let all = cover.map(|v| if v > 0.0 { 1.0 } else { 0.0 });
        self.fade(&all, &strength, pigment, wash);
    }

    /// A dry-brush stroke: bristles catch the tops of the tooth, less and less along the way. `load` 0..1.
    pub fn dry_brush(&mut self, stroke: &Stroke, pigment: &Pigment, body: f32, load: f32, wear: f32) {
        let Some(covered) = stroke.cover(self.size) else { return };
        let frame = covered.cover.frame;
        let height = self.height(frame);
        // The brush's bristles: noise that is long in the stroke's direction.
        const HAIRS: usize = 64;
        const LONG: usize = 24;
        let bristles = noise::field(&mut self.random, HAIRS, LONG, 2.6);
        let mut cover = covered.cover;
        for (i, v) in cover.values.iter_mut().enumerate().filter(|(_, v)| **v > 0.0) {
            let (t, side) = (covered.along.values[i], covered.aside.values[i].clamp(-1.0, 1.0));
            let across = (side * 0.5 + 0.5) * (HAIRS - 2) as f32;
            let along = t * (LONG - 2) as f32;
            let (h, l) = (across as usize, along as usize);
            let (fh, fl) = (across - h as f32, along - l as f32);
            let at = |dh: usize, dl: usize| bristles[(l + dl) * HAIRS + h + dh];
            let bristle = (at(0, 0) * (1.0 - fh) + at(1, 0) * fh) * (1.0 - fl) + (at(0, 1) * (1.0 - fh) + at(1, 1) * fh) * fl;
            let lean = side.abs() * side * side;
            let touch = load - wear * t + 0.45 * bristle + 0.8 * height.values[i] - 0.7 * lean.abs();
            *v *= (touch * 1.8 + 0.5).clamp(0.0, 1.0);
        }
        let depth = height.map(|h| body * (1.0 + 0.1 * h).max(0.2));
        let member = cover.clone();
        self.lay(&cover, &[Coat { pigment, depth }], &member, Element::Dry);
    }

    /// A line of the brush or the pen.
    pub fn line(&mut self, stroke: &Stroke, pigment: &Pigment, body: f32) {
        let Some(covered) = stroke.cover(self.size) else { return };
        let wash = Wash { body, variation: 0.0, granulation: 0.5, ..Wash::default() };
        let wander = self.wander(covered.cover.frame, 2.0);
        let depth = self.depth(&covered.cover, pigment, &wash).with(&wander, |d, w| d * (1.0 + 0.18 * w).max(0.3));
        self.lay(&covered.cover, &[Coat { pigment, depth }], &covered.cover, Element::Line);
    }

    /// The thickness at which a pigment lies `difference` (CIEDE2000) from the paper.
    #[must_use]
    pub fn pale_body(&self, pigment: &Pigment, difference: f64) -> f32 {
        let paper = self.kind.tint.reflectance();
        let (mut low, mut high) = (0.0_f64, 3.0_f64);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            let there = color::difference(color::encode3(pigment.over(middle, paper)), color::encode3(paper));
            if there < difference { low = middle } else { high = middle }
        }
        low as f32
    }

    /// A flat wash that lies `difference` (CIEDE2000) from the paper.
    pub fn pale(&mut self, outlines: &[Outline], holes: &[(Outline, Hole)], pigment: &Pigment, difference: f64) {
        let body = self.pale_body(pigment, difference);
        let wash = Wash { body, variation: 0.08, granulation: 0.5, tideline: 0.25, ..Wash::default() };
        self.wash(outlines, holes, pigment, &wash, Element::Pale);
    }

    /// White body color.
    pub fn gouache(&mut self, outlines: &[Outline], body: f32) {
        let wash = Wash { body, variation: 0.1, granulation: 1.0, ..Wash::default() };
        self.wash(outlines, &[], &WHITE, &wash, Element::Gouache);
    }

    /// Drops flung off the brush around a point: `reach` px far, `largest` px in radius.
    pub fn splatter(&mut self, center: [f32; 2], count: usize, reach: f32, largest: f32, pigment: &Pigment, body: f32) {
        for _ in 0..count {
            let (turn, far) = (self.random.between(0.0, std::f32::consts::TAU), self.random.unit());
            let far = reach * (0.05 + 0.95 * libm::powf(far, 0.8));
            let small = self.random.unit();
            let radius = 1.1 + (largest - 1.1) * small * small * small;
            let at = [center[0] + far * libm::cosf(turn), center[1] + far * libm::sinf(turn)];
            let margin = radius + 20.0;
            if (0..2).any(|i| at[i] < margin || at[i] > self.size[i] as f32 - margin) {
                continue;
            }
            let long = self.random.between(0.85, 1.2);
            let drop = blob(&mut self.random, at, [radius * long, radius / long], 0.10, 5, turn);
            let wash = Wash { body: body * self.random.between(0.6, 1.2), variation: 0.0, tideline: 0.3, ..Wash::default() };
            self.wash(&[drop], &[], pigment, &wash, Element::Splatter);
        }
    }
}
