//! Stray streaks are told from pale washes that are just as faint: by their shape and their hue.

mod lifting;

use std::rc::Rc;

use barewash::image::{Samples, Sheet};
use barewash::pipeline::Recipe;
use barewash::units::Ppi;
use barewash_support::random::Random;

use lifting::{lifted, unit};

const SIZE: [usize; 2] = [640, 480];

const CREAM: [f32; 3] = [0.94, 0.92, 0.86];

/// A sheet of `paper`, less what `absorbed` takes at each pixel. It is uneven over a dozen pixels as old paper is, and
/// scanned with some noise.
fn sheet(paper: [f32; 3], absorbed: impl Fn(f32, f32) -> [f32; 3]) -> Rc<Sheet> {
    /// Pixels from one blotch to the next.
    const BLOTCH: usize = 10;
    const UNEVEN: f32 = 0.004;
    const NOISE: f32 = 0.004;
    let mut random = Random::new(5);
    let [w, h] = SIZE;
    let across = w / BLOTCH + 2;
    let blotches: Vec<[f32; 4]> = (0..across * (h / BLOTCH + 2)).map(|_| random.normals()).collect();
    let uneven = |x: usize, y: usize, c: usize| {
        let at = |dx: usize, dy: usize| blotches[(y / BLOTCH + dy) * across + x / BLOTCH + dx][c];
        let (fx, fy) = ((x % BLOTCH) as f32 / BLOTCH as f32, (y % BLOTCH) as f32 / BLOTCH as f32);
        (at(0, 0) * (1.0 - fx) + at(1, 0) * fx) * (1.0 - fy) + (at(0, 1) * (1.0 - fx) + at(1, 1) * fx) * fy
    };
    let mut samples = Vec::with_capacity(w * h * 3);
    for y in 0..h {
        for x in 0..w {
            let noise = random.normals();
            let off = absorbed(x as f32, y as f32);
            for c in 0..3 {
                let v = paper[c] - off[c] + UNEVEN * uneven(x, y, c) + NOISE * noise[c];
                samples.push((v * 65535.0) as u16);
            }
        }
    }
    Rc::new(Sheet::new(w, h, Samples::Sixteen(samples), Some(Ppi(300.0))))
}

/// The mean alpha within six pixels of a place.
fn alpha(art: &[[f32; 4]], [x, y]: [usize; 2]) -> f32 {
    let mut sum = 0.0;
    for v in y - 6..y + 7 {
        sum += art[v * SIZE[0] + x - 6..v * SIZE[0] + x + 7].iter().map(|p| p[3]).sum::<f32>();
    }
    sum / 169.0
}

fn disc(x: f32, y: f32, [cx, cy]: [f32; 2], radius: f32) -> f32 {
    ((radius - ((x - cx) * (x - cx) + (y - cy) * (y - cy)).sqrt()) / 2.0 + 0.5).clamp(0.0, 1.0)
}

/// A band, 14 pixels broad, that runs into a wash: of another hue it is a streak, of the same it is part of the wash.
#[test]
fn a_streak_that_runs_into_a_wash_is_told_by_its_hue() {
    let scan = |hue: [f32; 3]| {
        sheet(CREAM, move |x, y| {
            let wash = disc(x, y, [450.0, 240.0], 110.0);
            let band = ((7.0 - (y - 240.0).abs()) / 2.0 + 0.5).clamp(0.0, 1.0);
            let band = if (120.0..450.0).contains(&x) { band * (1.0 - wash) } else { 0.0 };
            [0, 1, 2].map(|c| wash * [0.030, 0.012, 0.004][c] + band * hue[c])
        })
    };
    let of = |hue| unit(&mut lifted(&scan(hue), &Recipe::default()));
    let (other, same) = (of([0.004, 0.008, 0.030]), of([0.026, 0.0104, 0.0035]));
    for (name, art) in [("another", &other), ("the same", &same)] {
        assert!(alpha(art, [450, 240]) > 0.95, "the wash beside a band of {name} hue: {}", alpha(art, [450, 240]));
    }
    assert!(alpha(&other, [220, 240]) < 0.05, "the streak is kept: {}", alpha(&other, [220, 240]));
    assert!(alpha(&same, [220, 240]) > 0.95, "the wash's own arm is lost: {}", alpha(&same, [220, 240]));
}

/// On dark paper a stray streak is lighter, and stands out more as encoded. It is one beside paint, too. A stroke of white as narrow, but as strong as paint is,
/// stays.
#[test]
fn a_faint_light_streak_on_dark_paper_is_stray() {
    let of = |lighter: f32| {
        let scan = sheet([0.21, 0.21, 0.22], |x, y| {
            let wash = disc(x, y, [450.0, 240.0], 110.0);
            let band = ((6.0 - (y - 108.0).abs()) / 2.0 + 0.5).clamp(0.0, 1.0) * f32::from(u8::from((370.0..530.0).contains(&x)));
            [-0.4 * wash - lighter * band; 3]
        });
        let art = unit(&mut lifted(&scan, &Recipe::default()));
        assert!(alpha(&art, [450, 240]) > 0.95, "the wash: {}", alpha(&art, [450, 240]));
        alpha(&art, [450, 108])
    };
    let (faint, strong) = (of(0.042), of(0.12));
    assert!(faint < 0.05, "the streak is kept: {faint}");
    assert!(strong > 0.9, "the stroke is lost: {strong}");
}
