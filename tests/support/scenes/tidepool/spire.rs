//! Coiled shells: the tall whelk and the round periwinkles.

use super::kit::{Color, Form, Pose, base, bump, ease, glaze, light_touch, touch};
use super::palette;
use crate::random::Random;
use crate::render::noise::Wander;
use crate::render::outline::{Outline, blade, curve, ring};
use crate::render::painting::Painting;
use crate::render::pigment::{Pigment, mix};
use crate::render::stroke::Stroke;
use std::f32::consts::PI;

/// How a coil is built. Its own unit is the shell's length; the apex lies at (0, 0), the axis runs down to (0, 1).
#[derive(Clone, Copy)]
pub(super) struct Coil {
    /// Half width at the widest.
    pub(super) width: f32,
    /// Where the last whorl starts, of the length.
    pub(super) last: f32,
    /// How much each whorl is longer than the one above.
    pub(super) growth: f32,
    /// How far the whorls stand out.
    pub(super) bulge: f32,
    /// Slope of the sutures across the width.
    pub(super) slope: f32,
    /// Spiral cords a whorl.
    pub(super) cords: f32,
    /// The base is drawn out into a canal.
    pub(super) canal: bool,
}

impl Coil {
    /// Whorls counted from the apex at a place along the axis; whole numbers are sutures; the last whorl is 0 and above negative.
    fn whorl(&self, v: f32) -> f32 {
        if v >= self.last {
            // The last whorl reaches the base.
            (v - self.last) / (1.0 - self.last)
        } else {
            libm::logf((v / self.last).max(0.02)) / libm::logf(self.growth)
        }
    }

    fn half(&self, v: f32) -> f32 {
        let v = v.clamp(0.0, 1.0);
        let w = self.whorl(v);
        let within = w - w.floor();
        if v < self.last {
            let cone = self.width * 0.76 * (v / self.last).max(0.0);
            let out = libm::powf(libm::sinf(PI * within.clamp(0.0, 1.0)).max(0.0), 0.7);
            return cone * (1.0 - self.bulge + 1.25 * self.bulge * out * (0.6 + 0.4 * within)) + 0.006;
        }
        // The last whorl swells, then narrows: to a canal, or round.
        let swell = 0.74 + 0.26 * libm::sinf(PI * 0.5 * (w / 0.30).min(1.0));
        let t = ((w - 0.30) / 0.70).clamp(0.0, 1.0);
        let fall = if self.canal {
            (1.0 - t) * (1.0 - 0.30 * libm::sinf(PI * t)) + 0.16 * ease(0.55, 0.85, t) * ease(1.0, 0.93, t) + 0.30 * t * (1.0 - t)
        } else {
            (1.0 - t * t).max(0.0).sqrt()
        };
        let shoulder = 1.0 - 0.8 * self.bulge * bump(w, 0.06);
        (self.width * swell * fall * shoulder).max(0.004)
    }

    /// How far left (-1) or right (1), and the axis place of the suture plane through a place.
    fn place(&self, [x, y]: [f32; 2]) -> (f32, f32) {
        let half = self.half(y).max(0.01);
        let u = (x / half).clamp(-1.3, 1.3);
        // A cord is seen as an arc that sags in front.
        let sag = 0.10 * half * (1.0 - u * u).max(0.0);
        (u, y - self.slope * x - sag)
    }

    fn outline(&self) -> Outline {
        const N: usize = 160;
        let side = |sign: f32| {
            (0..=N).map(move |i| {
                let v = i as f32 / N as f32;
                let v = v * v * 0.4 + v * 0.6;
                [sign * self.half(v - self.slope * sign * self.half(v) * 0.9), v]
            })
        };
        side(1.0).chain(side(-1.0).rev()).collect()
    }
}

/// The colors of a shell.
pub(super) struct Coat3 {
    pub(super) pale: (Pigment, f32),
    pub(super) main: (Pigment, f32),
    pub(super) dark: (Pigment, f32),
    /// How strongly the dark comes in flames and blotches, 0..1.
    pub(super) flames: f32,
}

pub(super) fn paint(p: &mut Painting, pose: &Pose, coil: &Coil, coat: &Coat3, seed: u64) {
    let mut random = Random::new(seed);
    let (slow, flame, grain) = (Wander::new(seed ^ 5, 0.22), Wander::new(seed ^ 6, 0.045), Wander::new(seed ^ 7, 1.0));
    let here = |x: f32, y: f32| coil.place(pose.local(x, y));
    let turned = |u: f32| libm::asinf(u.clamp(-1.0, 1.0));
    // Light from the upper left; dark under each suture, at the far right, and thinly at the left edge.
    let round = |u: f32, v: f32| {
        let w = coil.whorl(v);
        let within = w - w.floor();
        let side = 0.45 + 0.75 * ease(-0.45, 1.0, u) + 0.28 * ease(-0.75, -1.0, u);
        let under = 0.55 * bump(within, 0.13) + 0.55 * ease(0.72, 1.0, within) * if w < 0.0 { 1.0 } else { 0.4 };
        side + under
    };
    let cord = |v: f32| {
        let w = coil.whorl(v);
        let k = w * coil.cords;
        0.80 + 0.25 * libm::sinf(2.0 * PI * k) + 0.12 * grain.at(k.floor() * 1.7, 3.0)
    };
    let pale = |x: f32, y: f32| {
        let (u, v) = here(x, y);
        0.7 + 0.4 * ease(-0.6, 1.0, u) + 0.3 * slow.at(u * 0.3, v)
    };
    let main = |x: f32, y: f32| {
        let (u, v) = here(x, y);
        round(u, v) * cord(v) * (0.85 + 0.4 * slow.at(u * 0.4 + 4.0, v))
    };
    let dark = |x: f32, y: f32| {
        let (u, v) = here(x, y);
        let w = coil.whorl(v);
        let streak = flame.at(turned(u) * 0.20 + 0.02 * libm::sinf(w * 7.0), v * 0.22);
        let broken = 0.55 + 0.45 * libm::sinf(2.0 * PI * w * coil.cords);
        coat.flames * ease(0.02, 0.55, streak) * broken * (0.6 + 0.5 * round(u, v)) + 0.10
    };
    let whites: Vec<Outline> = (0..6)
        .map(|k| {
            // Lights lie along the cords, at the upper left of each whorl.
            let v = [0.24, 0.36, 0.50, 0.545, 0.62, 0.70][k] * (coil.last + 0.25) / 0.69;
            let half = coil.half(v);
            let from = [-random.between(0.62, 0.74) * half, v];
            let long = random.between(0.22, 0.42) * half;
            pose.all(&blade(from, long, 0.005 + 0.006 * v, coil.slope + 0.20, -0.06))
        })
        .collect();
    let outline = pose.all(&coil.outline());
    let colors: [Color<'_>; 3] =
        [(coat.pale.0, coat.pale.1, &pale), (coat.main.0, coat.main.1, &main), (coat.dark.0, coat.dark.1, &dark)];
    let Some(form) = base(p, &[outline], &colors, 0.45, &whites) else { return };
    glaze(p, &form, &palette::shadow(), 0.40, &|x, y| {
        let (u, v) = here(x, y);
        let w = coil.whorl(v);
        let within = w - w.floor();
        ease(0.15, 1.0, u + 0.1 * slow.at(v, 2.0)) * 0.8 + 0.9 * bump(within, 0.05) + 0.25 * ease(0.82, 1.0, within)
    });
    sutures(p, pose, coil, &form, &mut random);
    mouth(p, pose, coil, &form, seed);
}

/// The lines where whorls meet, and finer cord lines.
fn sutures(p: &mut Painting, pose: &Pose, coil: &Coil, form: &Form, random: &mut Random) {
    let px = (pose.scale / 700.0).max(0.35);
    let dark = mix(&[(palette::sepia(), 0.7), (palette::sienna(), 0.4)]);
    let arc = |v0: f32, from: f32, to: f32| -> Outline {
        (0..=40)
            .map(|i| from + (to - from) * i as f32 / 40.0)
            .map(|u| {
                let half = coil.half(v0 + coil.slope * u * coil.half(v0));
                let x = u * half;
                pose.out([x, v0 + coil.slope * x + 0.10 * half * (1.0 - u * u)])
            })
            .collect()
    };
    let mut v = coil.last;
    for _ in 0..7 {
        let weight = px * 5.0 * (0.35 + v);
        touch(p, form, &Stroke::new(arc(v, -1.0, 1.0), &[0.7 * weight, 0.3 * weight, 0.5 * weight, weight]), &dark, 0.55, 0.8);
        v /= coil.growth;
        if v < 0.03 {
            break;
        }
    }
    for _ in 0..(coil.cords * 9.0) as usize {
        let v = coil.last * random.between(0.35, 1.9);
        let (from, long) = (random.between(-0.9, 0.7), random.between(0.15, 0.6));
        let weight = px * random.between(0.8, 2.2);
        let path = arc(v.min(0.93), from, (from + long).min(0.98));
        touch(p, form, &Stroke::new(path, &[0.2 * weight, weight, 0.6 * weight, 0.1 * weight]), &dark, 0.24, 0.7);
    }
    for _ in 0..(coil.cords * 2.0) as usize {
        let v = coil.last * random.between(0.4, 1.6);
        let from = random.between(-0.7, -0.25);
        let weight = px * random.between(1.5, 3.2);
        let path = arc(v.min(0.9), from, from + random.between(0.05, 0.16));
        light_touch(p, form, &Stroke::new(path, &[0.3 * weight, weight, 0.3 * weight]), random.between(0.5, 1.3));
    }
}

/// The opening: a dark hollow behind a pale lip.
fn mouth(p: &mut Painting, pose: &Pose, coil: &Coil, form: &Form, seed: u64) {
    let (a, b) = (coil.last + 0.16 * (1.0 - coil.last), if coil.canal { 0.985 } else { 0.90 });
    let w = coil.half(coil.last + 0.33 * (1.0 - coil.last));
    let along = |t: f32| a + (b - a) * t;
    let lip = if coil.canal {
        vec![
            [0.52 * w, along(0.0)],
            [0.84 * w, along(0.13)],
            [0.80 * w, along(0.42)],
            [0.47 * w, along(0.72)],
            [0.12 * w, along(0.985)],
            [-0.01 * w, along(0.93)],
            [0.05 * w, along(0.62)],
            [0.12 * w, along(0.28)],
        ]
    } else {
        vec![
            [0.38 * w, along(0.0)],
            [0.92 * w, along(0.22)],
            [0.92 * w, along(0.62)],
            [0.45 * w, along(0.98)],
            [0.0, along(0.86)],
            [-0.02, along(0.42)],
        ]
    };
    let lip = pose.all(&ring(&lip, 14));
    let middle =
        [lip.iter().map(|q| q[0]).sum::<f32>() / lip.len() as f32, lip.iter().map(|q| q[1]).sum::<f32>() / lip.len() as f32];
    let inner: Outline =
        lip.iter().map(|q| [middle[0] + 0.85 * (q[0] - middle[0]), middle[1] + 0.90 * (q[1] - middle[1])]).collect();
    // A pale lip in body color, then the hollow wet in wet.
    let Some(cover) = p.cover(std::slice::from_ref(&lip)) else { return };
    let frame = cover.frame;
    let depth = p.height(frame).map(|h| 0.34 + 0.05 * h);
    p.glaze(&cover.times(&form.mask), &[crate::render::painting::Coat { pigment: &crate::render::pigment::WHITE, depth }]);
    let Some(hollow) = p.cover(std::slice::from_ref(&inner)) else { return };
    let hollow = super::kit::Form {
        mask: hollow.clone().times(&form.mask).map(|v| if v > 0.0 { 1.0 } else { 0.0 }),
        inside: hollow.depth_inside(),
        cover: hollow,
    };
    let slow = Wander::new(seed ^ 11, 0.1);
    let scale = pose.scale;
    let tone = |x: f32, y: f32| {
        let [u, v] = pose.local(x, y);
        let near = hollow.depth_at(x, y) / (0.055 * scale);
        let hard = hollow.cover.at(x as usize, y as usize);
        hard * (0.30 + 0.75 * ease(0.0, 1.0, near)) * (0.7 + 0.5 * ease(0.9 * w, 0.05 * w, u)) * (1.0 + 0.25 * slow.at(u, v))
    };
    glaze(p, &hollow, &mix(&[(palette::coral(), 0.8), (palette::sienna(), 0.5)]), 0.62, &tone);
    glaze(p, &hollow, &palette::sepia(), 0.55, &|x, y| {
        let [u, _] = pose.local(x, y);
        tone(x, y) * ease(0.72 * w, 0.10 * w, u)
    });
    let px = (scale / 700.0).max(0.35);
    let mut edge = curve(&inner, 1);
    edge.push(inner[0]);
    touch(p, form, &Stroke::new(edge, &[1.6 * px, 2.6 * px, 1.2 * px, 3.0 * px, 1.4 * px]), &palette::sepia(), 0.35, 0.8);
}
