//! A shore crab seen from above. Its own unit is half the carapace's width; it looks up.

use super::kit::{Color, Form, Pose, base, base_behind, bump, by_hand, ease, glaze, light_touch, patch_of, touch};
use super::palette;
use crate::random::Random;
use crate::render::noise::Wander;
use crate::render::outline::{Outline, blob, curve, ellipse, ring, unsteady};
use crate::render::painting::Painting;
use crate::render::patch::Patch;
use crate::render::pigment::{CADMIUM_RED, HANSA, HOOKERS_GREEN, ORANGE, Pigment, ULTRAMARINE, UMBER, mix};
use crate::render::stroke::Stroke;

struct Painter<'a> {
    p: &'a mut Painting,
    pose: Pose,
    slow: Wander,
    quick: Wander,
    random: Random,
    /// What is painted already and lies in front of what follows.
    front: Option<Patch>,
}

fn shell_green() -> Pigment {
    mix(&[(HOOKERS_GREEN, 0.40), (UMBER, 0.32), (HANSA, 0.42), (ORANGE, 0.10)])
}

fn joint_red() -> Pigment {
    mix(&[(ORANGE, 0.6), (CADMIUM_RED, 0.35), (UMBER, 0.30)])
}

fn dark() -> Pigment {
    mix(&[(ULTRAMARINE, 0.5), (UMBER, 0.62), (HOOKERS_GREEN, 0.25)])
}

impl Painter<'_> {
    /// A joint: green running into red at its ends, darker along the side away from the light, a light on the other.
    fn joint(&mut self, path: &[[f32; 2]], widths: &[f32], red: f32) {
        let scaled: Vec<f32> = widths.iter().map(|w| w * self.pose.scale).collect();
        let swayed = unsteady(&mut self.random, &self.pose.all(&curve(path, 12)), 1.2, 70.0);
        let cover = Stroke::new(swayed, &scaled).cover(self.p.size).map(|c| c.cover);
        let (pose, slow, quick) = (self.pose, self.slow, self.quick);
        let (from, to) = (path[0], path[path.len() - 1]);
        let long2 = (to[0] - from[0]) * (to[0] - from[0]) + (to[1] - from[1]) * (to[1] - from[1]);
        let along = move |q: [f32; 2]| ((q[0] - from[0]) * (to[0] - from[0]) + (q[1] - from[1]) * (to[1] - from[1])) / long2;
        let green = |x: f32, y: f32| {
            let q = pose.local(x, y);
            let t = along(q);
            0.55 + 0.5 * bump(t - 0.5, 0.45) + 0.45 * slow.at(q[0], q[1])
        };
        let warm = |x: f32, y: f32| {
            let q = pose.local(x, y);
            let t = along(q);
            red * (0.30 + ease(0.35, 0.0, t) + ease(0.6, 1.0, t)) + 0.4 * red * slow.at(q[0] + 7.0, q[1]).max(0.0)
        };
        let colors: [Color<'_>; 2] = [(shell_green(), 0.42, &green), (joint_red(), 0.34, &warm)];
        let middle = curve(path, 8);
        let widest = widths.iter().fold(0.0_f32, |a, &b| a.max(b));
        let white = widest > 0.085;
        let whites: Vec<Outline> = if white {
            let k = middle.len() / 3;
            let spot = middle[k];
            vec![pose.all(&blob(
                &mut self.random,
                [spot[0] - 0.16 * widest, spot[1] - 0.14 * widest],
                [0.14 * widest, 0.06 * widest],
                0.15,
                5,
                0.4,
            ))]
        } else {
            Vec::new()
        };
        let Some(form) = base_behind(self.p, cover, &colors, 0.55, &whites, &mut self.front) else { return };
        let reach = widest * pose.scale * 0.5;
        glaze(self.p, &form, &dark(), 0.50, &|x, y| {
            let q = pose.local(x, y);
            // Away from the light: how the depth inside changes to the lower right.
            let lean =
                (form.depth_at(x - 0.5 * reach, y - 0.6 * reach) - form.depth_at(x + 0.35 * reach, y + 0.5 * reach)) / reach;
            let mottle = ease(0.12, 0.5, quick.at(q[0], q[1])) * 0.55;
            (0.75 * ease(0.05, 0.8, lean) + mottle).clamp(0.0, 1.2)
        });
        // A drawn edge on the shadow side, broken.
        let mut line: Outline = middle.iter().map(|m| [m[0] + 0.30 * widest, m[1] + 0.28 * widest]).collect();
        line = pose.all(&line);
        let px = pose.scale / 250.0;
        touch(
            self.p,
            &form,
            &Stroke::new(line, &[0.4 * px, 2.2 * px, 0.8 * px, 2.0 * px, 0.3 * px]),
            &palette::sepia(),
            0.30,
            0.9,
        );
    }

    fn legs(&mut self) {
        // Hip, knee, ankle, tip of each walking leg on the right; the left mirrors it with a difference.
        let legs: [[[f32; 2]; 4]; 4] = [
            [[0.72, 0.02], [1.34, -0.30], [1.72, -0.02], [1.98, 0.44]],
            [[0.74, 0.20], [1.46, 0.08], [1.84, 0.42], [2.02, 0.96]],
            [[0.68, 0.36], [1.34, 0.48], [1.62, 0.86], [1.66, 1.40]],
            [[0.54, 0.50], [1.02, 0.86], [1.12, 1.20], [0.94, 1.62]],
        ];
        for side in [-1.0_f32, 1.0] {
            for (k, leg) in legs.iter().enumerate().rev() {
                let q: Vec<[f32; 2]> = leg
                    .iter()
                    .enumerate()
                    .map(|(i, [x, y])| {
                        let loose = 0.045 * i as f32;
                        [side * (x + self.random.between(-loose, loose)), y + self.random.between(-loose, loose)]
                    })
                    .collect();
                let w = [0.175, 0.185, 0.175, 0.155][k];
                let toward =
                    |a: [f32; 2], b: [f32; 2], t: f32, lift: f32| [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t - lift];
                self.joint(
                    &[q[0], toward(q[0], q[1], 0.5, 0.05), toward(q[0], q[1], 0.95, 0.0)],
                    &[0.85 * w, 1.12 * w, 1.12 * w, 0.72 * w],
                    0.35,
                );
                self.joint(
                    &[toward(q[1], q[2], 0.10, 0.0), toward(q[1], q[2], 0.5, 0.03), toward(q[1], q[2], 0.93, 0.0)],
                    &[0.62 * w, 0.90 * w, 0.82 * w, 0.52 * w],
                    0.55,
                );
                self.joint(
                    &[toward(q[2], q[3], 0.09, 0.0), toward(q[2], q[3], 0.5, -0.03), q[3]],
                    &[0.46 * w, 0.54 * w, 0.34 * w, 0.03 * w],
                    0.9,
                );
            }
        }
    }

    fn claw(&mut self, side: f32, big: f32) {
        let m = |x: f32, y: f32| [side * x, y];
        let (pose, slow, quick) = (self.pose, self.slow, self.quick);
        let tips = move |q: [f32; 2]| ease(-1.30, -1.62, q[1]);
        let green = |x: f32, y: f32| {
            let q = pose.local(x, y);
            (0.85 + 0.5 * slow.at(q[0], q[1])) * (1.0 - 0.6 * tips(q))
        };
        let finger = [
            m(0.86, -1.16),
            m(0.76, -1.13),
            m(0.66, -1.24),
            m(0.575, -1.42),
            m(0.545, -1.60),
            m(0.62, -1.545),
            m(0.70, -1.45),
            m(0.79, -1.36),
            m(0.86, -1.28),
        ];
        let outline = self.pose.all(&ring(&finger, 12));
        let warm = |x: f32, y: f32| {
            let q = pose.local(x, y);
            0.75 + 0.6 * ease(-1.2, -1.55, q[1]) + 0.4 * slow.at(q[0], q[1])
        };
        let colors: [Color<'_>; 2] = [(shell_green(), 0.22, &green), (joint_red(), 0.42, &warm)];
        let cover = by_hand(self.p, &outline);
        if let Some(form) = base_behind(self.p, cover, &colors, 0.6, &[], &mut self.front) {
            glaze(self.p, &form, &dark(), 0.5, &|x, y| {
                let q = pose.local(x, y);
                ease(-1.15, -1.25, q[1]) * bump(q[0] - side * 0.80, 0.10) + 0.9 * ease(-1.50, -1.60, q[1])
            });
            let px = pose.scale / 250.0;
            for (x, y) in [(0.73, -1.40), (0.68, -1.46), (0.78, -1.345)] {
                let tooth = pose.all(&ellipse(m(x, y), [0.016, 0.013], 0.0));
                patch_of(self.p, &form, &[tooth], &palette::sepia(), 0.4, 0.0);
            }
            let path = pose.all(&[m(0.70, -1.22), m(0.62, -1.36), m(0.59, -1.48)]);
            light_touch(self.p, &form, &Stroke::new(curve(&path, 8), &[px, 2.6 * px, 0.8 * px]), 0.9);
        }
        // The hand with its fixed finger, then the moving finger above it.
        let hand = [
            m(1.13, -0.84),
            m(1.26, -0.98),
            m(1.24 + 0.02 * big, -1.20),
            m(1.06, -1.40 - 0.04 * big),
            m(0.82, -1.58),
            m(0.60, -1.66 - 0.05 * big),
            m(0.70, -1.53),
            m(0.80, -1.42),
            m(0.80, -1.36),
            m(0.84, -1.22),
            m(0.89, -1.02),
            m(0.98, -0.88),
        ];
        let outline = self.pose.all(&ring(&hand, 12));
        let warm = |x: f32, y: f32| {
            let q = pose.local(x, y);
            0.35 + 0.8 * tips(q) + 0.6 * slow.at(q[0] + 5.0, q[1] + 2.0).max(0.0)
        };
        let colors: [Color<'_>; 2] = [(shell_green(), 0.38, &green), (joint_red(), 0.36, &warm)];
        let white = pose.all(&blob(&mut self.random, m(1.02, -1.15), [0.035, 0.10], 0.15, 6, 0.35 * side));
        let cover = by_hand(self.p, &outline);
        if let Some(form) = base_behind(self.p, cover, &colors, 0.55, &[white], &mut self.front) {
            glaze(self.p, &form, &dark(), 0.55, &|x, y| {
                let q = pose.local(x, y);
                let right = (q[0] - side * 1.03) * 2.6;
                let spots = ease(0.15, 0.55, quick.at(q[0], q[1])) * 0.7;
                ease(-0.1, 0.7, right + 0.3 * (q[1] + 1.2)) * 0.8 + spots
            });
        }
        self.joint(&[m(1.06, -0.62), m(1.12, -0.72), m(1.10, -0.84)], &[0.24, 0.34, 0.30], 0.6);
        self.joint(&[m(0.66, -0.26), m(0.84, -0.42), m(1.00, -0.56)], &[0.22, 0.27, 0.24], 0.5);
    }

    fn carapace(&mut self) {
        let half = [
            [0.0, -0.60],
            [0.07, -0.635],
            [0.13, -0.59],
            [0.20, -0.62],
            [0.27, -0.565],
            [0.36, -0.545],
            [0.47, -0.57],
            [0.58, -0.545],
            [0.635, -0.475],
            [0.735, -0.455],
            [0.765, -0.375],
            [0.855, -0.335],
            [0.865, -0.245],
            [0.945, -0.195],
            [0.935, -0.105],
            [1.0, -0.045],
            [0.955, 0.065],
            [0.885, 0.21],
            [0.775, 0.365],
            [0.645, 0.50],
            [0.50, 0.60],
            [0.30, 0.655],
            [0.0, 0.665],
        ];
        let mut points: Vec<[f32; 2]> = half.to_vec();
        points.extend(half[1..half.len() - 1].iter().rev().map(|[x, y]| [-x, *y]));
        let outline = self.pose.all(&ring(&points, 8));
        let (pose, slow, quick) = (self.pose, self.slow, self.quick);
        let dome = |q: [f32; 2]| {
            let (x, y) = (q[0], (q[1] - 0.02) * 1.45);
            (x * x + y * y).sqrt()
        };
        let green = |x: f32, y: f32| {
            let q = pose.local(x, y);
            // Light falls on the upper left of the dome.
            let (lx, ly) = (q[0] + 0.32, (q[1] + 0.22) * 1.3);
            let lit = bump((lx * lx + ly * ly).sqrt(), 0.42);
            (0.95 - 0.62 * lit + 0.35 * ease(0.5, 1.0, dome(q))) * (1.0 + 0.35 * slow.at(q[0], q[1]))
        };
        let warm = |x: f32, y: f32| {
            let q = pose.local(x, y);
            0.12 + 0.75 * ease(0.62, 1.0, dome(q)) + 0.75 * slow.at(q[0] * 1.4 + 11.0, q[1] * 1.4).max(0.0)
        };
        let gold = |x: f32, y: f32| {
            let q = pose.local(x, y);
            0.6 + 0.5 * slow.at(q[0] + 31.0, q[1])
        };
        let whites: Vec<Outline> = [
            ([-0.40, -0.30], [0.085, 0.030], -0.5),
            ([-0.22, -0.40], [0.05, 0.018], -0.2),
            ([-0.56, -0.12], [0.035, 0.02], -0.9),
        ]
        .iter()
        .map(|(at, radii, turn)| pose.all(&blob(&mut self.random, *at, *radii, 0.2, 7, *turn)))
        .collect();
        let colors: [Color<'_>; 3] = [(palette::ochre(), 0.16, &gold), (shell_green(), 0.55, &green), (joint_red(), 0.34, &warm)];
        let cover = by_hand(self.p, &outline);
        let Some(form) = base_behind(self.p, cover, &colors, 0.5, &whites, &mut self.front) else { return };
        glaze(self.p, &form, &dark(), 0.62, &|x, y| {
            let q = pose.local(x, y);
            let side = ease(0.35, 1.0, 0.75 * q[0] + 0.75 * q[1] + 0.18 * slow.at(q[0] * 2.0, q[1] * 2.0));
            // The raised regions of the back: grooves in the shape of an H, and branching mottles.
            let x0 = q[0].abs();
            let groove = bump(x0 - 0.22 - 0.22 * (q[1] + 0.05) * (q[1] + 0.05), 0.035) * bump(q[1] - 0.05, 0.42)
                + bump(q[1] - 0.10 + 0.25 * x0, 0.032) * ease(0.65, 0.45, x0)
                + 0.7 * bump(x0 - 0.55 + 0.5 * (q[1] + 0.25), 0.04) * bump(q[1] + 0.12, 0.22);
            let mottle = ease(0.10, 0.42, quick.at(x0, q[1])) * ease(1.0, 0.55, dome(q));
            0.75 * side + 0.75 * groove + 0.5 * mottle
        });
        self.granules(&form);
    }

    /// Dots, the drawn grooves and lights of the back.
    fn granules(&mut self, form: &Form) {
        let (pose, px) = (self.pose, self.pose.scale / 250.0);
        for _ in 0..210 {
            let q = [self.random.between(-0.9, 0.9), self.random.between(-0.52, 0.6)];
            let near = q[0] * q[0] + 1.9 * q[1] * q[1];
            if near > 0.72 || self.random.chance(0.35 * (1.0 - near)) {
                continue;
            }
            let r = px * self.random.between(0.8, 2.4);
            let dot = ellipse(pose.out(q), [r, r * self.random.between(0.7, 1.0)], 0.0);
            patch_of(self.p, form, &[dot], &palette::sepia(), self.random.between(0.2, 0.6), 0.0);
        }
        for _ in 0..46 {
            let q = [self.random.between(-0.75, 0.25), self.random.between(-0.45, 0.2)];
            let (a, b) = (pose.out(q), pose.out([q[0] + self.random.between(-0.02, 0.02), q[1] + 0.012]));
            light_touch(
                self.p,
                form,
                &Stroke::new(vec![a, b], &[px * self.random.between(1.0, 2.8)]),
                self.random.between(0.4, 1.4),
            );
        }
        let lines: [&[[f32; 2]]; 6] = [
            &[[-0.27, -0.24], [-0.215, -0.06], [-0.23, 0.10], [-0.29, 0.25]],
            &[[0.27, -0.24], [0.215, -0.06], [0.23, 0.10], [0.29, 0.25]],
            &[[-0.21, 0.05], [-0.10, 0.085], [0.0, 0.075], [0.10, 0.085], [0.21, 0.05]],
            &[[-0.30, -0.03], [-0.46, -0.10], [-0.60, -0.20]],
            &[[0.30, -0.03], [0.46, -0.10], [0.60, -0.20]],
            &[[-0.34, 0.545], [0.0, 0.575], [0.34, 0.545]],
        ];
        for line in lines {
            let path = curve(&pose.all(line), 10);
            touch(
                self.p,
                form,
                &Stroke::new(path, &[0.5 * px, 3.4 * px, 1.6 * px, 2.8 * px, 0.4 * px]),
                &palette::sepia(),
                0.5,
                0.9,
            );
        }
    }

    fn face(&mut self) {
        let (pose, px) = (self.pose, self.pose.scale / 250.0);
        for side in [-1.0_f32, 1.0] {
            let stalk = curve(&pose.all(&[[side * 0.27, -0.55], [side * 0.29, -0.64]]), 6);
            self.p.line(&Stroke::new(stalk, &[13.0 * px, 15.0 * px]), &joint_red(), 0.5);
            let eye = pose.all(&ellipse([side * 0.295, -0.675], [0.045, 0.052], 0.2 * side));
            let tone = |_: f32, _: f32| 1.0;
            let colors: [Color<'_>; 1] = [(palette::sepia(), 1.1, &tone)];
            if let Some(form) = base(self.p, &[eye], &colors, 0.3, &[]) {
                let glint = pose.out([side * 0.295 - 0.014, -0.692]);
                light_touch(self.p, &form, &Stroke::new(vec![glint, [glint[0] + px, glint[1] + px]], &[3.4 * px]), 2.2);
            }
            let feeler =
                curve(&pose.all(&[[side * 0.13, -0.60], [side * 0.17, -0.80], [side * 0.30, -0.98], [side * 0.36, -1.18]]), 14);
            self.p.line(&Stroke::new(feeler, &[3.4 * px, 2.2 * px, 1.6 * px, 0.9 * px]), &joint_red(), 0.75);
            let short = curve(&pose.all(&[[side * 0.06, -0.62], [side * 0.07, -0.72], [side * 0.04, -0.79]]), 8);
            self.p.line(&Stroke::new(short, &[4.0 * px, 2.6 * px, 1.2 * px]), &palette::sienna(), 0.6);
        }
    }
}

pub(super) fn paint(p: &mut Painting, pose: &Pose, seed: u64) {
    let mut painter = Painter {
        p,
        pose: *pose,
        slow: Wander::new(seed ^ 1, 0.33),
        quick: Wander::new(seed ^ 2, 0.085),
        random: Random::new(seed),
        front: None,
    };
    // From front to back: what lies behind leaves out what is in front.
    painter.carapace();
    painter.claw(-1.0, 0.0);
    painter.claw(1.0, 1.0);
    painter.legs();
    painter.face();
}
