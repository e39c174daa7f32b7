//! Outlines and curves to paint with.

use crate::random::Random;
use std::f32::consts::{PI, TAU};

/// A closed outline or an open curve, in pixels of the sheet.
pub type Outline = Vec<[f32; 2]>;

/// Turns around the origin (radians), then moves.
#[must_use]
pub fn place(points: &[[f32; 2]], at: [f32; 2], turn: f32) -> Outline {
    let (s, c) = (libm::sinf(turn), libm::cosf(turn));
    points.iter().map(|p| [at[0] + c * p[0] - s * p[1], at[1] + s * p[0] + c * p[1]]).collect()
}

/// An ellipse.
#[must_use]
pub fn ellipse(center: [f32; 2], radii: [f32; 2], turn: f32) -> Outline {
    let n = ((radii[0].max(radii[1]) * 2.0) as usize).clamp(24, 400);
    let points: Outline = (0..n)
        .map(|i| {
            let t = TAU * i as f32 / n as f32;
            [radii[0] * libm::cosf(t), radii[1] * libm::sinf(t)]
        })
        .collect();
    place(&points, center, turn)
}

/// An uneven rounded shape: an ellipse whose radius wanders by about `rough` in 2 to `lobes` waves.
#[must_use]
pub fn blob(random: &mut Random, center: [f32; 2], radii: [f32; 2], rough: f32, lobes: usize, turn: f32) -> Outline {
    let waves: Vec<(f32, f32, f32)> =
        (2..=lobes).map(|k| (k as f32, 1.5 * rough / k as f32 * random.normal(), random.between(0.0, TAU))).collect();
    let n = ((radii[0].max(radii[1]) * 3.0) as usize).clamp(32, 700);
    let points: Outline = (0..n)
        .map(|i| {
            let t = TAU * i as f32 / n as f32;
            let r = waves.iter().fold(1.0, |r, (k, a, phase)| r + a * libm::cosf(k * t + phase)).max(0.2);
            [radii[0] * r * libm::cosf(t), radii[1] * r * libm::sinf(t)]
        })
        .collect();
    place(&points, center, turn)
}

/// A blade: pointed at both ends, `width` at its fullest, bent sideways by a share of its length.
#[must_use]
pub fn blade(from: [f32; 2], length: f32, width: f32, turn: f32, bend: f32) -> Outline {
    const N: usize = 60;
    let side = |sign: f32| {
        (0..=N).map(move |i| {
            let t = i as f32 / N as f32;
            let half = 0.5 * width * libm::sinf(PI * libm::powf(t, 0.8)).max(0.0);
            [t * length, bend * length * libm::sinf(PI * t) + sign * half]
        })
    };
    let points: Outline = side(1.0).chain(side(-1.0).rev()).collect();
    place(&points, from, turn)
}

/// A smooth curve through points (Catmull and Rom 1974), `pieces` straight pieces a span.
#[must_use]
pub fn curve(points: &[[f32; 2]], pieces: usize) -> Outline {
    smooth(points, pieces, false)
}

/// A smooth closed outline through points.
#[must_use]
pub fn ring(points: &[[f32; 2]], pieces: usize) -> Outline {
    smooth(points, pieces, true)
}

fn smooth(points: &[[f32; 2]], pieces: usize, closed: bool) -> Outline {
    let n = points.len();
    let at = |i: isize| -> [f32; 2] {
        if closed {
            return points[i.rem_euclid(n as isize) as usize];
        }
        let mirror = |end: [f32; 2], next: [f32; 2]| [2.0 * end[0] - next[0], 2.0 * end[1] - next[1]];
        if i < 0 {
            mirror(points[0], points[1])
        } else if i as usize >= n {
            mirror(points[n - 1], points[n - 2])
        } else {
            points[i as usize]
        }
    };
    let spans = if closed { n } else { n - 1 };
    let mut out = Vec::with_capacity(spans * pieces + 1);
    for i in 0..spans as isize {
        let [a, b, c, d] = [at(i - 1), at(i), at(i + 1), at(i + 2)];
        for j in 0..pieces {
            let t = j as f32 / pieces as f32;
            out.push([0, 1].map(|k| {
                let (p, q) = (c[k] - a[k], d[k] - b[k]);
                let (u, v) = (3.0 * (c[k] - b[k]) - 2.0 * p * 0.5 - q * 0.5, 2.0 * (b[k] - c[k]) + 0.5 * (p + q));
                b[k] + t * (0.5 * p + t * (u + t * v))
            }));
        }
    }
    if !closed {
        out.push(points[n - 1]);
    }
    out
}

/// The outline of a hand: each point pushed along the outline's normal by a wandering amount (px), waves of about `wave` px.
#[must_use]
pub fn unsteady(random: &mut Random, outline: &[[f32; 2]], amount: f32, wave: f32) -> Outline {
    let n = outline.len();
    let length: f32 = (0..n).map(|i| apart(outline[i], outline[(i + 1) % n])).sum();
    let waves: Vec<(f32, f32, f32)> = (0..9)
        .map(|_| {
            let turns = (length / wave * random.between(0.35, 1.6)).round().max(1.0);
            (TAU * turns / length, random.normal() * 0.45, random.between(0.0, TAU))
        })
        .collect();
    let mut walked = 0.0;
    (0..n)
        .map(|i| {
            let (before, here, after) = (outline[(i + n - 1) % n], outline[i], outline[(i + 1) % n]);
            let (dx, dy) = (after[0] - before[0], after[1] - before[1]);
            let long = (dx * dx + dy * dy).sqrt().max(1e-6);
            let push = amount * waves.iter().map(|(k, a, phase)| a * libm::sinf(k * walked + phase)).sum::<f32>();
            walked += apart(here, after);
            [here[0] - dy / long * push, here[1] + dx / long * push]
        })
        .collect()
}

/// Distance between two points.
#[must_use]
pub fn apart(a: [f32; 2], b: [f32; 2]) -> f32 {
    let (dx, dy) = (a[0] - b[0], a[1] - b[1]);
    (dx * dx + dy * dy).sqrt()
}
