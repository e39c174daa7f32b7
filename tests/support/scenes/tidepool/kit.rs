//! What the subjects share: a pose, a painted form, and the touches laid into it.

use crate::render::element::Element;
use crate::render::outline::{Outline, unsteady};
use crate::render::painting::{Coat, Painting, Wash};
use crate::render::patch::Patch;
use crate::render::pigment::{Pigment, WHITE};
use crate::render::stroke::Stroke;

/// Where a subject lies: its own unit is `scale` px long, its x axis turned by `turn` radians.
#[derive(Clone, Copy)]
pub(super) struct Pose {
    pub(super) at: [f32; 2],
    pub(super) turn: f32,
    pub(super) scale: f32,
}

impl Pose {
    pub(super) fn new(at: [f32; 2], turn: f32, scale: f32) -> Self {
        Self { at, turn, scale }
    }

    pub(super) fn out(&self, [x, y]: [f32; 2]) -> [f32; 2] {
        let (s, c) = (libm::sinf(self.turn) * self.scale, libm::cosf(self.turn) * self.scale);
        [self.at[0] + c * x - s * y, self.at[1] + s * x + c * y]
    }

    pub(super) fn all(&self, points: &[[f32; 2]]) -> Outline {
        points.iter().map(|p| self.out(*p)).collect()
    }

    pub(super) fn local(&self, x: f32, y: f32) -> [f32; 2] {
        let (s, c) = (libm::sinf(self.turn) / self.scale, libm::cosf(self.turn) / self.scale);
        let (dx, dy) = (x - self.at[0], y - self.at[1]);
        [c * dx + s * dy, c * dy - s * dx]
    }
}

/// 0 below `low`, 1 above `high`, smooth between; falls when `high < low`.
pub(super) fn ease(low: f32, high: f32, v: f32) -> f32 {
    let t = ((v - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// A bump of height 1 around 0.
pub(super) fn bump(v: f32, width: f32) -> f32 {
    libm::expf(-(v / width) * (v / width))
}

/// A painted area that more paint is laid into.
pub(super) struct Form {
    pub(super) cover: Patch,
    /// 1 wherever the form touches a pixel.
    pub(super) mask: Patch,
    /// Distance inside in px.
    pub(super) inside: Patch,
}

impl Form {
    fn of(cover: Patch) -> Self {
        let inside = cover.depth_inside();
        Self { mask: cover.clone().map(|v| if v > 0.0 { 1.0 } else { 0.0 }), inside, cover }
    }

    /// Distance inside at a place on the sheet, in px.
    pub(super) fn depth_at(&self, x: f32, y: f32) -> f32 {
        self.inside.at(x as usize, y as usize)
    }
}

/// A tone over the sheet: factor on a wash's body at a place.
pub(super) type Tone<'a> = &'a dyn Fn(f32, f32) -> f32;

/// One color of a first wash: pigment, body, tone.
pub(super) type Color<'a> = (Pigment, f32, Tone<'a>);

/// Lays the first wash of a form: several colors run into each other while wet. Outlines in px of the sheet get a hand's
/// unsteadiness; `whites` stay paper, as part of the picture.
pub(super) fn base(
    p: &mut Painting,
    outlines: &[Outline],
    colors: &[Color<'_>],
    tideline: f32,
    whites: &[Outline],
) -> Option<Form> {
    let hand: Vec<Outline> = outlines.iter().map(|o| unsteady(&mut p.random, o, 1.3, 55.0)).collect();
    let area = p.cover(&hand)?;
    base_in(p, area, colors, tideline, whites)
}

/// The same for a part that lies behind others: what `front` covers is left out, and the part joins `front`.
pub(super) fn base_behind(
    p: &mut Painting,
    cover: Option<Patch>,
    colors: &[Color<'_>],
    tideline: f32,
    whites: &[Outline],
    front: &mut Option<Patch>,
) -> Option<Form> {
    let cover = cover?;
    let area = match front {
        Some(front) => cover.minus(front),
        None => cover,
    };
    *front = Some(front.as_ref().map_or_else(|| area.clone(), |f| f.or(&area)));
    base_in(p, area, colors, tideline, whites)
}

/// An outline drawn by a hand, as a cover.
pub(super) fn by_hand(p: &mut Painting, outline: &Outline) -> Option<Patch> {
    let hand = unsteady(&mut p.random, outline, 1.1, 60.0);
    p.cover(&[hand])
}

/// The same over a cover of one's own.
pub(super) fn base_in(p: &mut Painting, area: Patch, colors: &[Color<'_>], tideline: f32, whites: &[Outline]) -> Option<Form> {
    let frame = area.frame;
    let mut open = Patch::flat(frame, 0.0);
    for white in whites {
        if let Some(hole) = p.cover(std::slice::from_ref(white)) {
            open = open.with(&hole, f32::max);
        }
    }
    let cover = area.clone().minus(&open);
    let coats: Vec<Coat<'_>> = colors
        .iter()
        .map(|(pigment, body, tone)| {
            let wash = Wash { body: *body, tideline, variation: 0.16, ..Wash::default() };
            let tones = Patch::from_fn(frame, tone);
            let floor = body * 0.06;
            let depth = p.depth(&cover, pigment, &wash).with(&tones, |d, t| (d * t).max(floor));
            Coat { pigment, depth }
        })
        .collect();
    p.lay(&cover, &coats, &area, Element::Wash);
    p.name(&open.times(&area), Element::Reserved);
    Some(Form::of(area))
}

/// A soft glaze inside a form, as thick as `tone` says.
pub(super) fn glaze(p: &mut Painting, form: &Form, pigment: &Pigment, body: f32, tone: Tone<'_>) {
    let tones = Patch::from_fn(form.mask.frame, |x, y| if form.mask.at(x as usize, y as usize) > 0.0 { tone(x, y) } else { 0.0 });
    let wash = Wash { body, variation: 0.14, ..Wash::default() };
    let depth = p.depth(&form.cover, pigment, &wash).times(&tones).map(|d| d.max(0.0));
    p.glaze(&form.mask, &[Coat { pigment, depth }]);
}

/// A brush touch inside a form; `soft` px of damp edge.
pub(super) fn touch(p: &mut Painting, form: &Form, stroke: &Stroke, pigment: &Pigment, body: f32, soft: f32) {
    let Some(covered) = stroke.cover(p.size) else { return };
    let height = p.height(covered.cover.frame);
    let depth = height.map(|h| (body * (1.0 - 0.10 * h)).max(0.1 * body));
    let cover = covered.cover.blurred(soft).times(&form.mask);
    p.glaze(&cover, &[Coat { pigment, depth }]);
}

/// A crisp second wash inside a form, with a tideline of its own.
pub(super) fn patch_of(p: &mut Painting, form: &Form, outlines: &[Outline], pigment: &Pigment, body: f32, tideline: f32) {
    let Some(cover) = p.cover(outlines) else { return };
    let wash = Wash { body, tideline, tide_mm: 0.25, ..Wash::default() };
    let depth = p.depth(&cover, pigment, &wash);
    p.glaze(&cover.times(&form.mask), &[Coat { pigment, depth }]);
}

/// White body color touched into a form.
pub(super) fn light_touch(p: &mut Painting, form: &Form, stroke: &Stroke, body: f32) {
    let Some(covered) = stroke.cover(p.size) else { return };
    let height = p.height(covered.cover.frame);
    let depth = height.map(|h| (body * (1.0 + 0.12 * h)).max(0.2 * body));
    let cover = covered.cover.times(&form.mask);
    p.glaze(&cover, &[Coat { pigment: &WHITE, depth }]);
    p.name(&cover, Element::Gouache);
}
