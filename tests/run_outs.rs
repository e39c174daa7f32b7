//! Washes that run out are lowered with what remains of them, mottled paint is not.
//!
//! That granulating and blotted paint varies by half its strength within a few millimeters, and that its edge is soft in
//! places, is common practice, no source.

mod lifting;

use barewash::color::math;
use barewash::pipeline::Recipe;

use lifting::{bytes, lifted, painted};

const WIDTH: usize = 640;
const PAPER: [f32; 3] = [240.0, 236.0, 226.0];
/// How far the paint lies off the paper, in counts, at full strength.
const PAINT: [f32; 3] = [-70.0, -60.0, -85.0];
const NOISE: f32 = 1.0;

/// Shares of paint at a place in pixels, sized as an art, and the matte there.
fn alpha(share: impl Fn(f32, f32) -> f32) -> Vec<f32> {
    let sheet = painted(WIDTH, 7, NOISE, |[x, y]| {
        let share = share(x as f32, y as f32);
        [0, 1, 2].map(|c| PAPER[c] + share * PAINT[c])
    });
    bytes(&mut lifted(&sheet, &Recipe::default())).chunks_exact(4).map(|pixel| f32::from(pixel[3]) / 255.0).collect()
}

/// From 0 to 1 as `x` goes from `low` to `high`.
fn rise(low: f32, high: f32, x: f32) -> f32 {
    ((x - low) / (high - low)).clamp(0.0, 1.0)
}

/// A square of paint whose upper edge is soft.
fn square(x: f32, y: f32) -> f32 {
    rise(120.0, 121.5, x) * rise(120.0, 121.5, WIDTH as f32 - x) * rise(120.0, 150.0, y) * rise(120.0, 121.5, WIDTH as f32 - y)
}

/// How far a place lies within the hard sides of the square.
fn within(x: f32, y: f32) -> f32 {
    x.min(WIDTH as f32 - x).min(WIDTH as f32 - y) - 120.0
}

fn mean(alpha: &[f32], columns: std::ops::Range<usize>, rows: std::ops::Range<usize>) -> f32 {
    let count = (columns.len() * rows.len()) as f32;
    rows.map(|y| alpha[y * WIDTH..][columns.clone()].iter().sum::<f32>()).sum::<f32>() / count
}

#[test]
fn mottled_paint_is_solid() {
    let blotches = |x: f32, y: f32| 0.3 + 0.7 * (math::sinf(x * 0.045) * math::cosf(y * 0.04)).max(0.0);
    let alpha = alpha(|x, y| square(x, y) * blotches(x, y).max(1.0 - rise(10.0, 50.0, within(x, y))));
    let inside = mean(&alpha, 160..480, 180..480);
    assert!(inside > 0.99, "{inside} of it solid");
}

#[test]
fn a_wash_that_runs_out_is_lowered() {
    let alpha = alpha(|x, y| square(x, y) * rise(110.0, 400.0, y));
    let (weak, strong) = (mean(&alpha, 160..480, 160..180), mean(&alpha, 160..480, 300..480));
    assert!((0.2..0.6).contains(&weak) && strong > 0.99, "{weak} and {strong}");
}
