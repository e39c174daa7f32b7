//! Dry brush of known alpha: a film of one paint with holes in it, some bare and some half bare. And what looks like it and is none.
//!
//! Light mixes linearly, and the true alpha is the fraction of encoded values (Porter and Duff 1984); that a dry brush leaves the
//! valleys of the tooth bare is common practice, no source.

mod lifting;

use std::rc::Rc;

use barewash::color::math;
use barewash::color::transfer::encoded;
use barewash::image::Sheet;
use barewash::pipeline::Recipe;
use barewash_support::random::Random;

use lifting::{bytes, lifted, light, painted};

const SIDE: usize = 480;
const PAPER: [f32; 3] = [247.0, 243.0, 234.0];
const PAINT: [f32; 3] = [150.0, 60.0, 40.0];
/// Where the strokes lie, and how blurred their ends are.
const STROKES: [[f32; 2]; 3] = [[80.0, 140.0], [200.0, 260.0], [320.0, 380.0]];
const BLUR: f32 = 0.9;
/// Beyond so many pixels nothing is left of a hole.
const FAR: usize = 12;

/// Paint over a ground.
fn over(ground: [f32; 3], covered: f32, paint: [f32; 3]) -> [f32; 3] {
    [0, 1, 2].map(|c| 255.0 * encoded(f64::from(light(ground[c]) + covered * (light(paint[c]) - light(ground[c])))) as f32)
}

fn mixed(covered: f32, paint: [f32; 3]) -> [f32; 3] {
    over(PAPER, covered, paint)
}

/// How far a scan is paint, encoded.
fn alpha(covered: f32, paint: [f32; 3]) -> f32 {
    let (here, way) = (mixed(covered, paint), [0, 1, 2].map(|c| PAPER[c] - paint[c]));
    let along = |v: [f32; 3]| (0..3).map(|c| v[c] * way[c]).sum::<f32>();
    along([0, 1, 2].map(|c| PAPER[c] - here[c])) / along(way)
}

/// How far each pixel is covered by strokes with a hole in every square of so many pixels.
fn covered(spacing: usize, deep: impl Fn(&mut Random) -> f32) -> Vec<f32> {
    let mut random = Random::new(5);
    let across = |v: f32, [from, to]: [f32; 2]| {
        let rise = |at: f32| 0.5 + 0.5 * math::erff((v - at) / (BLUR * std::f32::consts::SQRT_2));
        rise(from) - rise(to)
    };
    let mut covered: Vec<f32> = (0..SIDE * SIDE)
        .map(|i| {
            let (x, y) = ((i % SIDE) as f32, (i / SIDE) as f32);
            across(x, [40.0, 440.0]) * STROKES.iter().map(|stroke| across(y, *stroke)).sum::<f32>()
        })
        .collect();
    for cell in 0..(SIDE / spacing) * (SIDE / spacing) {
        let at = [cell % (SIDE / spacing), cell / (SIDE / spacing)]
            .map(|v| (v * spacing) as f32 + random.between(0.0, spacing as f32));
        let (deep, radius) = (deep(&mut random), random.between(1.2, 2.4));
        let reach = |at: f32| (at as usize).saturating_sub(FAR)..(at as usize + FAR).min(SIDE);
        for (x, y) in reach(at[1]).flat_map(|y| reach(at[0]).map(move |x| (x, y))) {
            let [dx, dy] = [x as f32 - at[0], y as f32 - at[1]];
            let square = (dx * dx + dy * dy) / (2.0 * radius * radius);
            covered[y * SIDE + x] *= 1.0 - deep * math::expf(-square);
        }
    }
    covered
}

fn scanned(covered: &[f32], paint: [f32; 3]) -> Rc<Sheet> {
    painted(SIDE, 8, 0.8, |[x, y]| mixed(covered[y * SIDE + x], paint))
}

/// Mean of how far a lift's alpha is from the truth where that is neither paper nor whole, by the default recipe.
fn off(covered: &[f32], paint: [f32; 3]) -> f32 {
    let art = bytes(&mut lifted(&scanned(covered, paint), &Recipe::default()));
    let (mut count, mut sum) = (0.0, 0.0);
    for (covered, pixel) in covered.iter().zip(art.chunks_exact(4)) {
        let truth = alpha(*covered, paint);
        if (0.1..0.75).contains(&truth) {
            count += 1.0;
            sum += (f32::from(pixel[3]) / 255.0 - truth).abs();
        }
    }
    assert!(count > 5000.0);
    sum / count
}

#[test]
fn holes_are_open_as_far_as_the_tooth_is_bare() {
    let covered = covered(9, |random| random.between(0.5, 1.0));
    for paint in [PAINT, [60.0, 90.0, 40.0]] {
        let off = off(&covered, paint);
        assert!(off < 0.06, "{paint:?}: off by {off}");
    }
}

/// Paint that granulates is light in specks, and nowhere bare.
#[test]
fn granulation_is_no_hole() {
    let covered = covered(9, |random| random.between(0.05, 0.22));
    let art = bytes(&mut lifted(&scanned(&covered, PAINT), &Recipe::default()));
    let inside = (100..120).flat_map(|y| (60..420).map(move |x| y * SIDE + x));
    let thin = inside.filter(|i| art[4 * i + 3] < 242).count();
    assert!(thin < 8, "{thin} pixels of 7200 are not solid");
}

/// Dry brush over a wash: what shows in the holes is paint as well.
#[test]
fn a_wash_beneath_is_kept() {
    let covered = covered(9, |random| random.between(0.6, 1.0));
    for wash in [[226.0, 232.0, 190.0], [244.0, 226.0, 222.0]] {
        let sheet = painted(SIDE, 8, 0.8, |[x, y]| {
            let within =
                (30..450).contains(&x) && STROKES.iter().any(|[from, to]| (from - 10.0..to + 10.0).contains(&(y as f32)));
            over(if within { wash } else { PAPER }, covered[y * SIDE + x], PAINT)
        });
        let art = bytes(&mut lifted(&sheet, &Recipe::default()));
        let inside = (85..135).flat_map(|y| (60..420).map(move |x| y * SIDE + x));
        let gone = inside.filter(|i| art[4 * i + 3] < 242).count();
        assert!(gone < 20, "{wash:?}: {gone} pixels of 18000 are gone");
    }
}
