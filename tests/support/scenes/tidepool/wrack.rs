//! Bladder wrack: forking fronds with a midrib and pairs of air bladders.

use super::kit::{Color, Pose, base, base_in, bump, ease, glaze, light_touch, touch};
use super::palette;
use crate::random::Random;
use crate::render::noise::Wander;
use crate::render::outline::{Outline, blob, curve};
use crate::render::painting::Painting;
use crate::render::stroke::Stroke;

struct Frond {
    path: Outline,
    widths: Vec<f32>,
    last: bool,
}

/// Where a frond starts.
#[derive(Clone, Copy)]
struct Bud {
    at: [f32; 2],
    turn: f32,
    width: f32,
    long: f32,
}

struct Plant {
    random: Random,
    /// The direction that all of it strives for.
    up: f32,
    fronds: Vec<Frond>,
}

impl Plant {
    /// Grows a frond: it runs, narrows, forks.
    fn grow(&mut self, bud: Bud, level: usize) {
        let Bud { turn, width, long, .. } = bud;
        let bend = self.random.between(-0.5, 0.5) - 0.35 * (turn - self.up);
        let (mut at, mut points) = (bud.at, vec![bud.at]);
        for i in 0..4 {
            let t = turn + bend * (i as f32 / 3.0 - 0.3);
            at = [at[0] + 0.25 * long * libm::cosf(t), at[1] + 0.25 * long * libm::sinf(t)];
            points.push(at);
        }
        let end = turn + bend * 0.7;
        let last = level == 0;
        let shape: &[f32] = if last { &[0.80, 1.05, 1.12, 1.0, 0.55] } else { &[0.72, 0.86, 0.92, 0.98, 1.25, 0.95] };
        let widths = shape.iter().map(|w| w * width * self.random.between(0.90, 1.10)).collect();
        self.fronds.push(Frond { path: curve(&points, 10), widths, last });
        if last {
            return;
        }
        let open = self.random.between(0.24, 0.50);
        let lean = self.random.between(-0.12, 0.12);
        for side in [-1.0, 1.0] {
            let cut = usize::from(level > 1 && self.random.chance(0.22));
            let long = long * self.random.between(0.70, 0.98);
            let width = width * self.random.between(0.94, 1.04);
            self.grow(Bud { at, turn: end + side * open + lean, width, long }, level - 1 - cut);
        }
    }
}

/// A plant that forks `levels` times and grows along the pose's x axis.
pub(super) fn paint(p: &mut Painting, pose: &Pose, levels: usize, seed: u64) {
    let mut plant = Plant { random: Random::new(seed), up: pose.turn, fronds: Vec::new() };
    plant.grow(Bud { at: pose.at, turn: pose.turn, width: 0.056 * pose.scale, long: 0.42 * pose.scale }, levels);
    let Plant { mut random, fronds, .. } = plant;
    let Some(cover) = fronds
        .iter()
        .map(|f| Stroke::new(f.path.clone(), &f.widths))
        .filter_map(|s| s.cover(p.size))
        .map(|c| c.cover)
        .reduce(|a, b| a.or(&b))
    else {
        return;
    };
    let (slow, quick) = (Wander::new(seed ^ 1, 190.0), Wander::new(seed ^ 2, 40.0));
    let far = move |x: f32, y: f32| {
        let (dx, dy) = (x - pose.at[0], y - pose.at[1]);
        (dx * dx + dy * dy).sqrt() / pose.scale
    };
    let olive = |x: f32, y: f32| 0.75 + 0.55 * slow.at(x, y) + 0.2 * quick.at(x, y);
    let brown = |x: f32, y: f32| (0.9 - 0.35 * far(x, y)).max(0.15) + 0.5 * slow.at(x + 900.0, y).max(0.0);
    let gold = |x: f32, y: f32| 0.35 + 0.65 * ease(0.7, 1.7, far(x, y)) + 0.4 * slow.at(x, y + 700.0);
    let colors: [Color<'_>; 3] =
        [(palette::ochre(), 0.36, &gold), (palette::olive(), 0.32, &olive), (palette::weed_brown(), 0.26, &brown)];
    let Some(form) = base_in(p, cover, &colors, 0.65, &[]) else { return };
    let reach = 0.05 * pose.scale;
    glaze(p, &form, &palette::weed_brown(), 0.40, &|x, y| {
        let lean = (form.depth_at(x - 0.5 * reach, y - 0.5 * reach) - form.depth_at(x + 0.4 * reach, y + 0.4 * reach)) / reach;
        0.8 * ease(0.0, 0.8, lean) + 0.6 * ease(0.15, 0.6, quick.at(x, y))
    });
    let px = pose.scale / 620.0;
    // Midribs, then bladders in pairs beside them, then swollen tips.
    for f in &fronds {
        let w = f.widths[0];
        let widths = [0.22 * w, 0.16 * w, 0.12 * w, 0.05 * w];
        touch(p, &form, &Stroke::new(f.path.clone(), &widths), &palette::weed_brown(), 0.62, 1.0);
        let light: Outline = f.path.iter().map(|q| [q[0] - 0.13 * w, q[1] - 0.10 * w]).collect();
        light_touch(
            p,
            &form,
            &Stroke::new(light[4..light.len() * 2 / 3].to_vec(), &[0.5 * px, 1.6 * px, 0.9 * px, 1.4 * px, 0.4 * px]),
            0.32,
        );
    }
    for f in &fronds {
        let n = f.path.len();
        let w = f.widths[0];
        if f.last {
            let (a, b) = (f.path[n - 9], f.path[n - 1]);
            let turn = libm::atan2f(b[1] - a[1], b[0] - a[0]);
            for side in [-1.0_f32, 1.0] {
                let open = turn + side * 0.42;
                let at = [b[0] + 0.85 * w * libm::cosf(open), b[1] + 0.85 * w * libm::sinf(open)];
                let tip = blob(&mut random, at, [1.25 * w, 0.46 * w], 0.06, 6, open);
                receptacle(p, &tip, &slow, &mut random, px);
            }
        } else if random.chance(0.86) {
            let k = n / 2 + random.below(n / 5);
            let (a, b) = (f.path[k - 3], f.path[k + 3]);
            let turn = libm::atan2f(b[1] - a[1], b[0] - a[0]);
            for side in [-1.0_f32, 1.0] {
                let r = w * random.between(0.46, 0.62);
                let out = 0.62 * w * side;
                let at = [f.path[k][0] - libm::sinf(turn) * out, f.path[k][1] + libm::cosf(turn) * out];
                bladder(p, &mut random, at, r, turn, px);
            }
        }
    }
}

/// An air bladder: round, with a reserved light and a dark underside.
fn bladder(p: &mut Painting, random: &mut Random, at: [f32; 2], r: f32, turn: f32, px: f32) {
    let outline = blob(random, at, [1.28 * r, r], 0.03, 5, turn);
    let white = blob(random, [at[0] - 0.34 * r, at[1] - 0.38 * r], [0.26 * r, 0.15 * r], 0.15, 6, -0.6);
    let ball = move |x: f32, y: f32| {
        let (dx, dy) = ((x - at[0] + 0.32 * r) / r, (y - at[1] + 0.36 * r) / r);
        (dx * dx + dy * dy).sqrt()
    };
    let gold = |x: f32, y: f32| 0.55 + 0.55 * ease(0.2, 1.3, ball(x, y));
    let olive = |x: f32, y: f32| 0.25 + 0.95 * ease(0.3, 1.5, ball(x, y));
    let colors: [Color<'_>; 2] = [(palette::ochre(), 0.42, &gold), (palette::olive(), 0.62, &olive)];
    if let Some(form) = base(p, &[outline], &colors, 0.6, &[white]) {
        glaze(p, &form, &palette::sepia(), 0.55, &|x, y| ease(0.85, 1.7, ball(x, y)));
        let glint = [at[0] + 0.45 * r, at[1] + 0.52 * r];
        light_touch(p, &form, &Stroke::new(vec![[glint[0] - 0.2 * r, glint[1] + 0.12 * r], glint], &[0.8 * px, 2.2 * px]), 0.5);
    }
}

/// A swollen, warty tip.
fn receptacle(p: &mut Painting, outline: &Outline, slow: &Wander, random: &mut Random, px: f32) {
    let gold = |x: f32, y: f32| 0.95 + 0.35 * slow.at(x, y);
    let olive = |x: f32, y: f32| 0.55 + 0.35 * slow.at(x + 300.0, y);
    let colors: [Color<'_>; 2] = [(palette::ochre(), 0.48, &gold), (palette::olive(), 0.36, &olive)];
    let Some(form) = base(p, std::slice::from_ref(outline), &colors, 0.7, &[]) else { return };
    let f = form.cover.frame;
    let (left, top) = (f.x as f32, f.y as f32);
    for _ in 0..16 {
        let at = [left + random.unit() * f.width as f32, top + random.unit() * f.height as f32];
        if form.depth_at(at[0], at[1]) < 4.0 {
            continue;
        }
        let dot = vec![at, [at[0] + 0.8, at[1] + 0.8]];
        touch(p, &form, &Stroke::new(dot, &[px * random.between(2.0, 3.6)]), &palette::weed_brown(), 0.55, 0.6);
    }
    glaze(p, &form, &palette::weed_brown(), 0.4, &|x, y| {
        let d = form.depth_at(x + 5.0, y + 6.0);
        bump(d, 9.0)
    });
}
