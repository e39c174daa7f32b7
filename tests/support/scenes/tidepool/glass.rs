//! Sea-glass: pale translucent pieces with frosted rims.

use super::kit::{Color, Pose, base_in, bump, ease, glaze, light_touch, touch};
use super::palette;
use crate::random::Random;
use crate::render::noise::Wander;
use crate::render::outline::{Outline, blob, ring, unsteady};
use crate::render::painting::Painting;
use crate::render::pigment::{Pigment, mix};
use crate::render::stroke::Stroke;
use std::f32::consts::TAU;

/// A rounded piece with a few dull corners.
pub(super) fn paint(p: &mut Painting, pose: &Pose, corners: usize, flat: f32, pigment: &Pigment, body: f32, seed: u64) {
    let mut random = Random::new(seed);
    let mut points = Vec::new();
    let start = random.between(0.0, TAU);
    for k in 0..corners {
        let a = start + TAU * (k as f32 + random.between(-0.20, 0.20)) / corners as f32;
        let r = random.between(0.90, 1.08);
        // A corner worn round: two points close together.
        for d in [-0.20_f32, 0.20] {
            points.push([r * libm::cosf(a + d), flat * r * libm::sinf(a + d)]);
        }
    }
    let outline = pose.all(&ring(&points, 14));
    let (slow, drop) = (Wander::new(seed ^ 1, 0.55), Wander::new(seed ^ 2, 0.16));
    let whites: Vec<Outline> = vec![
        pose.all(&blob(&mut random, [-0.38, -0.36 * flat], [0.15, 0.045], 0.2, 7, -0.65)),
        pose.all(&blob(&mut random, [-0.58, -0.10 * flat], [0.05, 0.028], 0.2, 6, -1.0)),
    ];
    // Light enters at the upper left and gathers at the lower right, where the piece glows.
    let through = |x: f32, y: f32| {
        let q = pose.local(x, y);
        let (gx, gy) = (q[0] - 0.34, q[1] / flat - 0.36);
        let glow = bump((gx * gx + gy * gy).sqrt(), 0.46);
        let (dx, dy) = (q[0] + 0.30, q[1] / flat + 0.28);
        let dark = bump((dx * dx + dy * dy).sqrt(), 0.75);
        (0.58 + 0.55 * dark - 0.34 * glow) * (1.0 + 0.30 * slow.at(q[0], q[1]))
    };
    let gray = |x: f32, y: f32| {
        let q = pose.local(x, y);
        0.5 + 0.4 * slow.at(q[0] + 5.0, q[1])
    };
    let colors: [Color<'_>; 2] = [(*pigment, body, &through), (palette::shadow(), 0.05, &gray)];
    let hand = unsteady(&mut p.random, &outline, 0.012 * pose.scale, 1.3 * pose.scale);
    let Some(cover) = p.cover(&[hand]) else { return };
    let Some(form) = base_in(p, cover, &colors, 0.55, &whites) else { return };
    // The frosted rim: a broad soft band, deeper away from the light, with a paler line inside it.
    let rim = 0.15 * pose.scale;
    let deep = mix(&[(*pigment, 0.85), (palette::shadow(), 0.22)]);
    glaze(p, &form, &deep, body * 1.15, &|x, y| {
        let q = pose.local(x, y);
        let d = form.depth_at(x, y);
        let side = 0.55 + 0.5 * ease(-0.6, 0.9, 0.7 * q[0] + 0.7 * q[1] / flat);
        let band = ease(1.35, 0.35, d / rim + 0.25 * slow.at(q[0] * 2.0, q[1] * 2.0));
        let inner = 0.35 * bump(d / rim - 1.55, 0.22);
        side * (0.85 * band + inner) + 0.16 * ease(0.2, 0.7, drop.at(q[0], q[1]))
    });
    let px = pose.scale / 130.0;
    // Pits of the frost, dark and light; a bubble or two.
    for _ in 0..(34.0 * pose.scale / 130.0) as usize {
        let (a, r) = (random.between(0.0, TAU), random.unit().sqrt() * 0.92);
        let at = pose.out([r * libm::cosf(a), flat * r * libm::sinf(a)]);
        let dot = Stroke::new(
            vec![at, [at[0] + random.between(-2.0, 2.0), at[1] + random.between(-1.0, 1.5)]],
            &[random.between(0.9, 2.4)],
        );
        if random.chance(0.55) {
            touch(p, &form, &dot, &deep, body * 1.1, 0.7);
        } else {
            light_touch(p, &form, &dot, random.between(0.15, 0.5));
        }
    }
    let arc: Outline = (0..=16)
        .map(|i| 2.5 + 1.5 * i as f32 / 16.0)
        .map(|a| pose.out([0.80 * libm::cosf(a), 0.80 * flat * libm::sinf(a)]))
        .collect();
    light_touch(p, &form, &Stroke::new(arc, &[0.5 * px, 2.6 * px, 1.4 * px, 2.4 * px, 0.4 * px]), 0.55);
    let bubble: Outline = (0..=14)
        .map(|i| TAU * i as f32 / 14.0)
        .map(|a| pose.out([0.16 + 0.05 * libm::cosf(a), 0.05 + 0.05 * libm::sinf(a)]))
        .collect();
    touch(p, &form, &Stroke::new(bubble, &[1.0 * px, 1.8 * px, 0.8 * px]), &deep, body * 1.6, 0.6);
}
