//! A sea star with five tapering arms.

use super::kit::{Color, Pose, base, bump, ease, glaze, light_touch, touch};
use super::palette;
use crate::random::Random;
use crate::render::noise::Wander;
use crate::render::outline::{Outline, curve, ring};
use crate::render::painting::Painting;
use crate::render::pigment::{CADMIUM_RED, ORANGE, ROSE, UMBER, mix};
use crate::render::stroke::Stroke;
use std::f32::consts::TAU;

pub(super) fn paint(p: &mut Painting, pose: &Pose, seed: u64) {
    let mut random = Random::new(seed);
    // Each arm has a direction, a length and a bend of its own.
    let arms: Vec<(f32, f32, f32)> = (0..5)
        .map(|k| {
            (
                TAU * (k as f32 / 5.0) - TAU / 4.0 + random.between(-0.09, 0.09),
                random.between(0.90, 1.06),
                random.between(-0.16, 0.16),
            )
        })
        .collect();
    let on_arm = |k: usize, t: f32, side: f32| {
        let (turn, long, bend) = arms[k];
        let r = t * long;
        let middle = bend * t * t;
        let (c, s) = (libm::cosf(turn + middle), libm::sinf(turn + middle));
        [c * r - s * side, s * r + c * side]
    };
    let half = |t: f32| 0.205 * (1.0 - 0.62 * t) * ease(1.06, 0.90, t).max(0.05);
    let mut points = Vec::new();
    for k in 0..5 {
        for t in [0.42, 0.62, 0.80, 0.93] {
            points.push(on_arm(k, t, -half(t)));
        }
        points.push(on_arm(k, 1.0, 0.0));
        for t in [0.93, 0.80, 0.62, 0.42] {
            points.push(on_arm(k, t, half(t)));
        }
        let next = (k + 1) % 5;
        let (a, b) = (on_arm(k, 0.30, 0.16), on_arm(next, 0.30, -0.16));
        points.push([0.48 * (a[0] + b[0]), 0.48 * (a[1] + b[1])]);
    }
    let outline = pose.all(&ring(&points, 8));
    let (slow, quick) = (Wander::new(seed ^ 1, 0.30), Wander::new(seed ^ 2, 0.055));
    let tone = |x: f32, y: f32| {
        let q = pose.local(x, y);
        0.75 + 0.45 * slow.at(q[0], q[1])
    };
    let tips = |x: f32, y: f32| {
        let q = pose.local(x, y);
        let r = (q[0] * q[0] + q[1] * q[1]).sqrt();
        0.15 + 0.8 * ease(0.25, 1.0, r) + 0.6 * slow.at(q[0] + 8.0, q[1]).max(0.0)
    };
    let gold = |x: f32, y: f32| {
        let q = pose.local(x, y);
        0.6 + 0.5 * slow.at(q[0] + 17.0, q[1])
    };
    let red = mix(&[(ORANGE, 0.5), (CADMIUM_RED, 0.30), (ROSE, 0.30), (UMBER, 0.10)]);
    let colors: [Color<'_>; 3] = [(palette::ochre(), 0.14, &gold), (palette::apricot(), 0.40, &tone), (red, 0.42, &tips)];
    let Some(form) = base(p, &[outline], &colors, 0.5, &[]) else { return };
    let shade = mix(&[(palette::shadow(), 0.8), (ROSE, 0.3), (UMBER, 0.25)]);
    let reach = 0.13 * pose.scale;
    glaze(p, &form, &shade, 0.55, &|x, y| {
        let q = pose.local(x, y);
        let lean =
            (form.depth_at(x - 0.55 * reach, y - 0.65 * reach) - form.depth_at(x + 0.40 * reach, y + 0.50 * reach)) / reach;
        0.95 * ease(0.05, 0.95, lean)
            + 0.35 * ease(0.2, 0.6, quick.at(q[0], q[1]))
            + 0.2 * bump(form.depth_at(x, y), 0.02 * pose.scale)
    });
    let px = pose.scale / 300.0;
    for k in 0..5 {
        // The ridge of each arm, and rows of knobs beside it.
        let ridge: Outline = (2..=19).map(|i| pose.out(on_arm(k, i as f32 / 20.0, 0.0))).collect();
        touch(p, &form, &Stroke::new(curve(&ridge, 4), &[2.0 * px, 3.5 * px, 2.5 * px, 1.0 * px]), &red, 0.5, 1.2);
        for row in [-0.66_f32, -0.33, 0.0, 0.33, 0.66] {
            let count = if row == 0.0 { 17 } else { 13 };
            for i in 0..count {
                let t = 0.10 + 0.84 * (i as f32 + random.between(0.2, 0.8)) / count as f32;
                let q = on_arm(k, t, row * half(t) * random.between(0.85, 1.1));
                let at = pose.out(q);
                let size = px * (if row == 0.0 { 4.2 } else { 3.2 }) * (1.1 - 0.5 * t) * random.between(0.7, 1.2);
                touch(
                    p,
                    &form,
                    &Stroke::new(
                        vec![[at[0] + 0.45 * size, at[1] + 0.5 * size], [at[0] + 0.6 * size, at[1] + 0.6 * size]],
                        &[1.4 * size],
                    ),
                    &shade,
                    0.42,
                    0.8,
                );
                light_touch(p, &form, &Stroke::new(vec![at, [at[0] + 0.3, at[1] + 0.3]], &[size]), random.between(0.35, 1.2));
            }
        }
    }
    for _ in 0..20 {
        let (a, r) = (random.between(0.0, TAU), 0.17 * random.unit());
        let at = pose.out([r * libm::cosf(a), r * libm::sinf(a)]);
        light_touch(
            p,
            &form,
            &Stroke::new(vec![at, [at[0] + 0.3, at[1] + 0.3]], &[px * random.between(1.6, 3.6)]),
            random.between(0.3, 1.0),
        );
    }
}
