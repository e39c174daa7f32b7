//! A scallop: a fan of ribs with growth bands and two ears.

use super::kit::{Form, Pose, base_behind, bump, by_hand, ease, glaze, light_touch, touch};
use super::palette;
use crate::random::Random;
use crate::render::noise::Wander;
use crate::render::outline::{Outline, blade, curve, ring};
use crate::render::painting::Painting;
use crate::render::patch::Patch;
use crate::render::stroke::Stroke;
use std::f32::consts::PI;

/// Half the fan's opening in radians.
const OPEN: f32 = 0.99;
const RIBS: f32 = 17.0;

/// How far the rim lies from the hinge, for a share -1..1 of the opening.
fn rim(q: f32) -> f32 {
    let end = q.abs();
    let fall = 0.13 * end * end * end + 0.25 * libm::powf(end, 9.0);
    1.0 - fall + 0.013 * libm::cosf(RIBS * PI * q) * (1.0 - end * end * end)
}

fn at(q: f32, t: f32) -> [f32; 2] {
    let a = q * OPEN;
    let r = rim(q) * t;
    [r * libm::sinf(a), -r * libm::cosf(a)]
}

/// Share of the opening and of the way to the rim at a place of the shell's own.
fn polar([x, y]: [f32; 2]) -> (f32, f32) {
    let q = libm::atan2f(x, -y) / OPEN;
    (q, (x * x + y * y).sqrt() / rim(q.clamp(-1.0, 1.0)))
}

pub(super) fn paint(p: &mut Painting, pose: &Pose, seed: u64) {
    let mut random = Random::new(seed);
    let mut outline: Outline = (0..=240).map(|i| at(i as f32 / 120.0 - 1.0, 1.0)).collect();
    outline.extend([
        at(1.0, 0.55),
        at(0.98, 0.25),
        [0.045, -0.02],
        [0.0, 0.030],
        [-0.045, -0.02],
        at(-0.98, 0.25),
        at(-1.0, 0.55),
    ]);
    let outline = pose.all(&outline);

    let bend = Wander::new(seed ^ 1, 0.35);
    let band = Wander::new(seed ^ 2, 1.0);
    let slow = Wander::new(seed ^ 3, 0.5);
    // Growth bands: each darkens outwards and ends crisply.
    let growth = |q: f32, t: f32| {
        let k = t * t * 5.2 + t * 1.6 + 0.16 * bend.at(q * 2.0, t) + 0.25 * (1.0 - (0.9 * q) * (0.9 * q));
        let within = k - k.floor();
        let own = 0.62 + 0.38 * band.at(k.floor() * 3.7 + 0.5, 8.0);
        own * (0.30 + 0.70 * within * within) * ease(1.0, 0.955, within) + 0.18
    };
    let ribs = |q: f32, t: f32| {
        let phase = RIBS * PI * q + 0.15 * bend.at(q * 7.0, t * 3.0);
        let groove = 0.5 - 0.5 * libm::cosf(phase);
        let lean = libm::sinf(phase);
        (0.62 + 0.32 * lean + 0.55 * groove * groove * groove) * ease(0.02, 0.3, t) + (1.0 - ease(0.02, 0.3, t)) * 0.8
    };
    let fan = |x: f32, y: f32| polar(pose.local(x, y));
    let warm = |x: f32, y: f32| {
        let (q, t) = fan(x, y);
        growth(q, t) * ribs(q, t) * (1.0 + 0.35 * slow.at(q, t))
    };
    let rose = |x: f32, y: f32| {
        let (q, t) = fan(x, y);
        growth(q, t + 0.015) * ribs(q, t) * ease(0.15, 0.95, t + 0.25 * slow.at(q + 3.0, t))
    };
    let yellow = |x: f32, y: f32| {
        let (q, t) = fan(x, y);
        0.35 + ease(0.75, 0.1, t) * 0.9 + 0.3 * slow.at(q + 9.0, t)
    };
    let whites: Vec<Outline> = (0..11)
        .map(|i| {
            let q = (-12.0 + 2.0 * i as f32 - 0.30) / RIBS;
            let start = random.between(0.55, 0.80);
            let turn = q * OPEN - PI / 2.0;
            let from = at(q, start);
            let long = random.between(0.07, 0.17) * if i < 7 { 1.0 } else { 0.55 };
            pose.all(&blade(from, long, 0.014, turn, 0.02))
        })
        .collect();
    let colors: [super::kit::Color<'_>; 3] =
        [(palette::sand(), 0.10, &yellow), (palette::apricot(), 0.34, &warm), (palette::shell_rose(), 0.30, &rose)];
    let mut front = None;
    let cover = by_hand(p, &outline);
    let Some(form) = base_behind(p, cover, &colors, 0.5, &whites, &mut front) else { return };
    ears(p, pose, &mut front);

    // The form turns away to the right and under the hinge.
    let shade = |x: f32, y: f32| {
        let (q, t) = fan(x, y);
        let side = ease(0.05, 1.05, q + 0.12 * slow.at(q * 2.0, t)) * 0.9 + ease(-0.75, -1.05, q) * 0.35;
        let under = bump(t, 0.2) * 0.8;
        let phase = 0.5 - 0.5 * libm::cosf(RIBS * PI * q - 0.7);
        (side * (0.45 + 0.85 * phase) + under) * (0.8 + 0.3 * ease(0.5, 1.0, t))
    };
    glaze(p, &form, &palette::shadow(), 0.34, &shade);
    details(p, pose, &form, &mut random);
}

fn ears(p: &mut Painting, pose: &Pose, front: &mut Option<Patch>) {
    for side in [-1.0_f32, 1.0] {
        let ear = [[-0.01, 0.052], [0.20, 0.045], [0.385, 0.03], [0.375, -0.03], [0.335, -0.105], [0.335, -0.175], [0.10, -0.12]];
        let ear: Outline = ear.iter().map(|[x, y]| [x * side * if side > 0.0 { 1.0 } else { 0.86 }, *y]).collect();
        let ear = pose.all(&ring(&ear, 10));
        let fold = |x: f32, y: f32| {
            let [u, v] = pose.local(x, y);
            let stripe = libm::sinf((v * 0.9 - u.abs() * 0.28) * 95.0);
            0.65 + 0.30 * stripe + 0.8 * bump(u, 0.13) + if side > 0.0 { 0.3 } else { 0.0 }
        };
        let colors: [super::kit::Color<'_>; 2] = [(palette::apricot(), 0.25, &fold), (palette::shell_rose(), 0.20, &fold)];
        let cover = by_hand(p, &ear);
        if let Some(form) = base_behind(p, cover, &colors, 0.6, &[], front) {
            glaze(p, &form, &palette::shadow(), 0.30, &|x, y| {
                let [u, v] = pose.local(x, y);
                bump(u, 0.16) + 0.5 * ease(0.0, 0.06, v)
            });
        }
    }
}

/// Brush lines in the grooves and along growth marks, and lights on the ribs.
fn details(p: &mut Painting, pose: &Pose, form: &Form, random: &mut Random) {
    let px = pose.scale / 430.0;
    let line = crate::render::pigment::mix(&[(palette::sienna(), 0.7), (palette::shadow(), 0.5)]);
    let mut q = -RIBS + 1.0 - RIBS % 2.0;
    while q < RIBS {
        let share = q / RIBS;
        q += 2.0;
        if share.abs() > 0.99 {
            continue;
        }
        let (start, end) = (random.between(0.10, 0.24), random.between(0.94, 0.995));
        let sway = random.between(-0.006, 0.006);
        let path: Outline = (0..=30)
            .map(|i| start + (end - start) * i as f32 / 30.0)
            .map(|t| pose.out(at(share + sway * libm::sinf(t * 6.0), t)))
            .collect();
        let weight = px * (1.0 + 0.7 * ease(-0.2, 0.9, share));
        let widths: Vec<f32> = (0..14).map(|i| weight * (0.5 + i as f32 / 14.0 * 2.2) * random.between(0.45, 1.25)).collect();
        touch(p, form, &Stroke::new(path, &widths), &line, 0.42, 0.9 * px);
    }
    for _ in 0..16 {
        let t = random.between(0.3, 0.97);
        let (from, long) = (random.between(-0.95, 0.6), random.between(0.12, 0.5));
        let path: Outline = (0..=40)
            .map(|i| from + long * i as f32 / 40.0)
            .map(|q| pose.out(at(q.clamp(-0.97, 0.97), t + 0.008 * libm::cosf(RIBS * PI * q))))
            .collect();
        let weight = px * random.between(0.8, 2.0);
        touch(
            p,
            form,
            &Stroke::new(path, &[0.2 * weight, weight, 0.7 * weight, 0.15 * weight]),
            &palette::shell_rose(),
            0.45,
            0.7 * px,
        );
    }
    for _ in 0..26 {
        let k = (random.between(-7.0, 3.0)).round() * 2.0 - 0.4;
        let (share, t) = (k / RIBS, random.between(0.35, 0.96));
        if share.abs() > 0.93 {
            continue;
        }
        let path = curve(&[pose.out(at(share, t)), pose.out(at(share, t + random.between(0.008, 0.035)))], 6);
        light_touch(p, form, &Stroke::new(path, &[px * 1.2, px * 2.6, px]), random.between(0.5, 1.5));
    }
}
