//! Pebbles: granulating grays with a vein.

use super::kit::{Color, Pose, base, ease, glaze, light_touch, touch};
use super::palette;
use crate::random::Random;
use crate::render::noise::Wander;
use crate::render::outline::{blob, curve};
use crate::render::painting::Painting;
use crate::render::pigment::Pigment;
use crate::render::stroke::Stroke;
use std::f32::consts::TAU;

pub(super) fn paint(p: &mut Painting, pose: &Pose, flat: f32, pigment: &Pigment, vein: bool, seed: u64) {
    let mut random = Random::new(seed);
    let outline = blob(&mut random, pose.at, [pose.scale, flat * pose.scale], 0.05, 5, pose.turn);
    let slow = Wander::new(seed ^ 1, 0.6);
    let ball = |x: f32, y: f32| {
        let q = pose.local(x, y);
        let (dx, dy) = (q[0] + 0.35, (q[1] / flat) + 0.42);
        (dx * dx + dy * dy).sqrt()
    };
    let tone = |x: f32, y: f32| {
        let q = pose.local(x, y);
        (0.30 + 0.95 * ease(0.1, 1.6, ball(x, y))) * (1.0 + 0.35 * slow.at(q[0], q[1]))
    };
    let warm = |x: f32, y: f32| {
        let q = pose.local(x, y);
        0.6 + 0.6 * slow.at(q[0] + 6.0, q[1])
    };
    let mut whites = vec![pose.all(&blob(&mut random, [-0.40, -0.50 * flat], [0.13, 0.05], 0.2, 6, -0.5))];
    if vein {
        // A vein across the stone, left white: a ribbon between two wandering lines.
        let line: Vec<[f32; 2]> = (0..7)
            .map(|i| [-1.1 + 2.2 * i as f32 / 6.0, flat * (0.35 - 0.10 * i as f32) + random.between(-0.05, 0.05)])
            .collect();
        let upper = curve(&line, 10);
        let mut ribbon = upper.clone();
        ribbon.extend(upper.iter().rev().map(|q| [q[0], q[1] + 0.045 + 0.02 * libm::sinf(9.0 * q[0])]));
        whites.push(pose.all(&ribbon));
    }
    let colors: [Color<'_>; 2] = [(*pigment, 0.40, &tone), (palette::sand(), 0.14, &warm)];
    let Some(form) = base(p, &[outline], &colors, 0.5, &whites) else { return };
    glaze(p, &form, &palette::slate(), 0.40, &|x, y| ease(0.9, 1.75, ball(x, y)));
    let px = pose.scale / 130.0;
    for _ in 0..60 {
        let (a, r) = (random.between(0.0, TAU), random.unit().sqrt() * 0.93);
        let at = pose.out([r * libm::cosf(a), flat * r * libm::sinf(a)]);
        let dot = Stroke::new(vec![at, [at[0] + 0.5, at[1] + 0.3]], &[px * random.between(0.8, 2.6)]);
        if random.chance(0.75) {
            touch(p, &form, &dot, &palette::sepia(), random.between(0.2, 0.5), 0.6);
        } else {
            light_touch(p, &form, &dot, random.between(0.3, 1.0));
        }
    }
}
