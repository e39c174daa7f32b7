//! What soils the bare paper of a scene under any conditions: each kind of mark once or more, where there is paper for it.

use super::conditions::Around;
use super::palette::Palette;
use crate::random::Random;
use crate::render::distance::to_nearest;
use crate::render::marks::Mark;
use crate::render::outline::{Outline, curve};
use crate::render::painting::Painting;
use crate::render::stroke::Stroke;
use std::f32::consts::{PI, TAU};

/// How far off the paint (mm) a stray streak lies, counted from its own side.
const STREAK_CLEAR: f32 = 0.8;

/// Bare paper on a painted sheet.
struct Bare<'a> {
    painting: &'a Painting,
    /// Distance to paint in px.
    to_paint: Vec<f32>,
    /// Width of the strip along the scan's border that may lie beyond the sheet, px.
    margin: f32,
}

impl<'a> Bare<'a> {
    fn of(painting: &'a Painting, margin: f32) -> Self {
        let [width, height] = painting.size;
        let painted: Vec<bool> = painting.member.iter().map(|&m| m >= 0.004).collect();
        Self { painting, to_paint: to_nearest(&painted, width, height), margin }
    }

    /// How far the nearest paint is from any point of a curve; nothing off the sheet.
    fn clearance(&self, path: &[[f32; 2]]) -> f32 {
        let [width, height] = self.painting.size;
        let at = |p: &[f32; 2]| {
            let inside = (0..2).all(|i| p[i] >= self.margin && p[i] < [width, height][i] as f32 - self.margin);
            if inside { self.to_paint[p[1] as usize * width + p[0] as usize] } else { 0.0 }
        };
        path.iter().map(at).fold(f32::MAX, f32::min)
    }

    /// The first of many curves that stays `clear` px off all paint; else the one that stays off farthest.
    fn place(&self, random: &mut Random, clear: f32, of: impl Fn(&mut Random, [f32; 2]) -> Outline) -> Outline {
        let size = self.painting.size.map(|v| v as f32);
        let (mut best, mut farthest) = (Outline::new(), -1.0);
        for _ in 0..300 {
            let from = [0, 1].map(|i| random.between(self.margin, size[i] - self.margin));
            let path = of(random, from);
            let far = self.clearance(&path);
            if far > farthest {
                (best, farthest) = (path, far);
            }
            if far >= clear {
                break;
            }
        }
        best
    }
}

/// A bent curve from a point: so long and so far bent (px), in any direction.
fn bent(random: &mut Random, from: [f32; 2], length: f32, bend: f32) -> Outline {
    let turn = random.between(0.0, TAU);
    let (along, across) = ([libm::cosf(turn), libm::sinf(turn)], [-libm::sinf(turn), libm::cosf(turn)]);
    let sway = [bend * random.between(-1.0, 1.0), bend * random.between(-1.0, 1.0)];
    let point = |t: f32, aside: f32| [0, 1].map(|i| from[i] + t * length * along[i] + aside * across[i]);
    curve(&[point(0.0, 0.0), point(0.33, sway[0]), point(0.67, sway[1]), point(1.0, 0.0)], 12)
}

/// Soils a painted sheet.
pub(super) fn soil(p: &mut Painting, random: &mut Random, palette: Palette, around: Around) {
    let [width, height] = p.size.map(|v| v as f32);
    let unit = width.min(height);
    let edge = if around == Around::Nothing { 0.0 } else { unit * random.between(0.018, 0.03) };
    let bare = Bare::of(p, 1.5 * edge + p.mm(0.4));
    let area = width * height / (p.mm(1.0) * p.mm(1.0));
    let fine = (p.ppi / 300.0).sqrt();
    let mut marks = Vec::new();
    // A speck for every 1 to 4 square centimeters.
    marks.push(Mark::Dust { count: (area / random.between(100.0, 400.0)).ceil().max(6.0) as usize });
    for _ in 0..1 + random.below(2) {
        let length = p.mm(random.between(3.0, 9.0)).min(0.25 * unit);
        let path = bare.place(random, p.mm(0.7), |random, from| bent(random, from, length, 0.3 * length));
        marks.push(Mark::Hair { path, width: fine * random.between(1.2, 1.8) });
    }
    // A guideline from side to side, upright or lying, and a short stroke.
    let lying = random.chance(0.5);
    let far = random.between(0.1, 0.9);
    let [start, end] = [far, far + random.between(-0.04, 0.04)].map(|v| v * if lying { height } else { width });
    let line = if lying { [[edge, start], [width - edge, end]] } else { [[start, edge], [end, height - edge]] };
    let pencil = (fine * random.between(1.4, 2.2), random.between(0.12, 0.22));
    marks.push(Mark::Graphite { path: line.to_vec(), width: pencil.0, dark: pencil.1 });
    let length = 0.12 * unit;
    let path = bare.place(random, p.mm(0.7), |random, from| bent(random, from, length, 0.1 * length));
    marks.push(Mark::Graphite { path, width: pencil.0, dark: pencil.1 });
    let radius = p.mm(random.between(1.5, 3.0)).min(0.08 * unit);
    let spot = bare.place(random, 0.5 * radius, |_, from| vec![from]);
    marks.push(Mark::Smudge { center: spot[0], radius, dark: random.between(0.035, 0.07) });
    // A streak as wide as a brush that touched the paper in passing, away from all paint.
    let thick = p.mm(random.between(0.5, 1.1)).min(0.025 * unit);
    let length = p.mm(random.between(4.0, 12.0)).min(0.25 * unit);
    let clear = p.mm(STREAK_CLEAR) + 0.5 * thick;
    let streak = bare.place(random, clear, |random, from| {
        let turn = PI * random.between(-1.0, 1.0);
        let to = [from[0] + length * libm::cosf(turn), from[1] + length * libm::sinf(turn)];
        let aside = length * random.between(-0.1, 0.1);
        let middle = [0.5 * (from[0] + to[0]) - aside * libm::sinf(turn), 0.5 * (from[1] + to[1]) + aside * libm::cosf(turn)];
        curve(&[from, middle, to], 16)
    });
    let stroke = Stroke::new(streak, &[thick, random.between(0.4, 0.8) * thick]);
    marks.push(Mark::Stray { stroke, pigment: palette.pale(random), difference: f64::from(random.between(2.0, 4.5)) });
    let lid = match around {
        Around::Nothing => None,
        Around::WhiteLid => Some([0.93, 0.93, 0.925]),
        Around::BlackLid => Some([0.018, 0.018, 0.02]),
    };
    if let Some(lid) = lid {
        let tilt = random.between(-0.006, 0.006);
        let corners = [
            [edge, 0.8 * edge],
            [width - 0.7 * edge, edge],
            [width - 0.9 * edge, height - 1.1 * edge],
            [0.8 * edge, height - 0.6 * edge],
        ];
        let turned = |c: [f32; 2]| [c[0] - tilt * (c[1] - 0.5 * height), c[1] + tilt * (c[0] - 0.5 * width)];
        marks.push(Mark::SheetEdge { sheet: corners.map(turned).to_vec(), lid });
    }
    p.marks = marks;
}
