//! A limpet from above: ribs from an apex that lies off its middle.

use super::kit::{Color, Pose, base, bump, ease, glaze, light_touch, touch};
use super::palette;
use crate::random::Random;
use crate::render::noise::Wander;
use crate::render::outline::Outline;
use crate::render::painting::Painting;
use crate::render::pigment::{Pigment, mix};
use crate::render::stroke::Stroke;
use std::f32::consts::TAU;

pub(super) fn paint(p: &mut Painting, pose: &Pose, main: &Pigment, seed: u64) {
    let mut random = Random::new(seed);
    let waves: Vec<(f32, f32)> = [11.0, 17.0, 23.0].iter().map(|k| (*k, random.between(0.0, TAU))).collect();
    let apex = [-0.10, -0.12];
    // The rim, as seen from the apex.
    let rim = |a: f32| {
        let (c, s) = (libm::cosf(a), libm::sinf(a));
        // An ellipse around the middle, met by a ray from the apex.
        let (rx, ry) = (1.0, 0.84);
        let (px, py, dx, dy) = (apex[0] / rx, apex[1] / ry, c / rx, s / ry);
        let (aa, bb, cc) = (dx * dx + dy * dy, px * dx + py * dy, px * px + py * py - 1.0);
        let r = (-bb + (bb * bb - aa * cc).sqrt()) / aa;
        r * (1.0 + 0.020 * waves.iter().map(|(k, f)| libm::cosf(k * a + f)).sum::<f32>())
    };
    let at = |a: f32, t: f32| {
        let r = rim(a) * t;
        [apex[0] + r * libm::cosf(a), apex[1] + r * libm::sinf(a)]
    };
    let polar = |x: f32, y: f32| {
        let q = pose.local(x, y);
        let (dx, dy) = (q[0] - apex[0], q[1] - apex[1]);
        let a = libm::atan2f(dy, dx);
        (a, (dx * dx + dy * dy).sqrt() / rim(a))
    };
    let outline: Outline = (0..360).map(|i| pose.out(at(TAU * i as f32 / 360.0, 1.0))).collect();
    let (slow, band) = (Wander::new(seed ^ 1, 0.5), Wander::new(seed ^ 2, 1.0));
    let ribs = |a: f32, t: f32| {
        let wave = waves.iter().map(|(k, f)| libm::cosf(2.0 * k * a + f)).sum::<f32>() / 3.0;
        1.0 - 0.42 * wave * ease(0.08, 0.35, t)
    };
    let rings = |a: f32, t: f32| {
        let k = 5.5 * t + 0.25 * slow.at(a, t * 3.0);
        let within = k - k.floor();
        (0.55 + 0.45 * band.at(k.floor() * 2.3, 5.0)) * (0.45 + 0.55 * within) + 0.25
    };
    let tone = |x: f32, y: f32| {
        let (a, t) = polar(x, y);
        ribs(a, t) * rings(a, t) * (1.0 + 0.3 * slow.at(a + 9.0, t))
    };
    let sand = |x: f32, y: f32| {
        let (a, t) = polar(x, y);
        0.6 + 0.5 * bump(t, 0.35) + 0.4 * slow.at(a, t + 4.0)
    };
    let colors: [Color<'_>; 2] = [(palette::sand(), 0.20, &sand), (*main, 0.34, &tone)];
    let whites: Vec<Outline> = (0..5)
        .map(|i| {
            let a = 3.5 + 0.27 * i as f32;
            let t = random.between(0.45, 0.62);
            let turn = pose.turn + a;
            crate::render::outline::blade(pose.out(at(a, t)), 0.22 * pose.scale, 0.030 * pose.scale, turn, 0.0)
        })
        .collect();
    let Some(form) = base(p, &[outline], &colors, 0.55, &whites) else { return };
    glaze(p, &form, &palette::shadow(), 0.42, &|x, y| {
        let (a, t) = polar(x, y);
        let away = libm::cosf(a - 0.85 + pose.turn);
        ease(-0.1, 1.0, away) * (0.35 + 0.75 * ease(0.05, 0.9, t)) * ribs(a + 0.03, t) + 0.9 * bump(t - 0.02, 0.05)
    });
    let px = pose.scale / 150.0;
    let dark = mix(&[(palette::sepia(), 0.8), (palette::sienna(), 0.3)]);
    for i in 0..34 {
        let a = TAU * (i as f32 + random.between(-0.3, 0.3)) / 34.0;
        let (from, to) = (random.between(0.12, 0.3), random.between(0.8, 1.0));
        let path: Outline = (0..=14).map(|j| from + (to - from) * j as f32 / 14.0).map(|t| pose.out(at(a, t))).collect();
        let w = px * random.between(0.7, 1.7);
        touch(p, &form, &Stroke::new(path, &[0.3 * w, 1.2 * w, 0.6 * w, 1.5 * w, 0.4 * w]), &dark, 0.34, 0.7);
    }
    for _ in 0..12 {
        let (a, t) = (random.between(3.1, 5.2), random.between(0.3, 0.95));
        light_touch(
            p,
            &form,
            &Stroke::new(vec![pose.out(at(a, t)), pose.out(at(a, t + 0.06))], &[px, 2.0 * px, 0.8 * px]),
            random.between(0.4, 1.2),
        );
    }
}
