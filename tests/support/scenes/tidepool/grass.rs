//! Eelgrass: long blades that cross, each a translucent wash of its own.

use super::kit::{Color, base_in, ease, glaze, touch};
use super::palette;
use crate::random::Random;
use crate::render::noise::Wander;
use crate::render::outline::{Outline, curve, unsteady};
use crate::render::painting::Painting;
use crate::render::stroke::Stroke;

/// Blades from a root: `reach` px long, leaning between two directions (radians).
pub(super) fn paint(p: &mut Painting, root: [f32; 2], reach: f32, lean: [f32; 2], count: usize, seed: u64) {
    let mut random = Random::new(seed);
    let slow = Wander::new(seed ^ 1, 170.0);
    for k in 0..count {
        let share = (k as f32 + 0.5) / count as f32;
        let order = ((k * 5 + 2) % count) as f32 / count as f32;
        let turn = lean[0] + (lean[1] - lean[0]) * (0.5 * order + 0.5 * share) + random.between(-0.08, 0.08);
        let long = reach * random.between(0.62, 1.0);
        let curl = random.between(-1.0, 0.8);
        let from = [root[0] + random.between(-0.05, 0.05) * reach, root[1] + random.between(-0.02, 0.02) * reach];
        let mut points = vec![from];
        let mut at = from;
        for i in 1..=6 {
            let t = turn + curl * (i as f32 / 6.0) * (i as f32 / 6.0);
            at = [at[0] + long / 6.0 * libm::cosf(t), at[1] + long / 6.0 * libm::sinf(t)];
            points.push(at);
        }
        let path = curve(&points, 24);
        let width = reach * random.between(0.024, 0.036);
        blade(p, &mut random, &path, width, &slow);
    }
}

fn blade(p: &mut Painting, random: &mut Random, path: &Outline, width: f32, slow: &Wander) {
    let n = path.len();
    let side = |sign: f32| {
        (0..n).map(move |i| {
            let (a, b) = (path[i.saturating_sub(1)], path[(i + 1).min(n - 1)]);
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let long = (dx * dx + dy * dy).sqrt().max(1e-6);
            let t = i as f32 / (n - 1) as f32;
            let half = 0.5 * width * (0.55 + 0.45 * ease(0.0, 0.25, t)) * ease(1.005, 0.86, t).max(0.03);
            [path[i][0] - sign * dy / long * half, path[i][1] + sign * dx / long * half]
        })
    };
    let one: Outline = side(1.0).collect();
    let mut two: Outline = side(-1.0).collect();
    two.reverse();
    let outline: Outline = one.into_iter().chain(two).collect();
    let (root, tip) = (path[0], path[n - 1]);
    let long2 = (tip[0] - root[0]) * (tip[0] - root[0]) + (tip[1] - root[1]) * (tip[1] - root[1]);
    let along = |x: f32, y: f32| ((x - root[0]) * (tip[0] - root[0]) + (y - root[1]) * (tip[1] - root[1])) / long2;
    let (age, shift) = (random.between(0.0, 1.0), random.between(0.0, 900.0));
    let green = |x: f32, y: f32| (0.95 - 0.45 * age * ease(0.5, 1.0, along(x, y))) * (0.9 + 0.45 * slow.at(x + shift, y));
    let deep = |x: f32, y: f32| 1.1 * ease(0.55, 0.0, along(x, y)) + 0.35 * slow.at(x, y + shift).max(0.0);
    let brown = |x: f32, y: f32| age * ease(0.45, 1.0, along(x, y));
    let colors: [Color<'_>; 3] =
        [(palette::grass_green(), 0.34, &green), (palette::deep_green(), 0.30, &deep), (palette::sienna(), 0.32, &brown)];
    let hand = unsteady(random, &outline, 0.7, 150.0);
    let Some(cover) = p.cover(&[hand]) else { return };
    let Some(form) = base_in(p, cover, &colors, 0.75, &[]) else { return };
    let rib = Stroke::new(path[..n * 9 / 10].to_vec(), &[2.6, 1.8, 2.2, 1.0, 0.5]);
    touch(p, &form, &rib, &palette::deep_green(), 0.42, 0.8);
    glaze(p, &form, &palette::deep_green(), 0.28, &|x, y| {
        let reach = 0.3 * width;
        ease(0.0, 1.4, (form.depth_at(x - reach, y - 0.3 * reach) - form.depth_at(x + reach, y + 0.3 * reach)) / reach)
    });
}
