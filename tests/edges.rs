//! The soft edge of disks whose alpha is known: what a Gaussian blur leaves of it in linear light, told in encoded values.
//!
//! The blur of a straight edge is the normal distribution function (Abramowitz and Stegun, "Handbook of Mathematical Functions",
//! 1964, 7.1 and 26.2); that edges of a wash dry darker is common practice, no source.

mod lifting;

use std::rc::Rc;

use barewash::color::math;
use barewash::color::transfer::encoded;
use barewash::image::Sheet;
use barewash::paper::blur;
use barewash::pipeline::Recipe;

use lifting::{bytes, lifted, light, painted};

/// Disks three by three, each in a square of its own.
const SIDE: usize = 720;
const SQUARE: usize = 240;
const PAPER: [f32; 3] = [247.0, 243.0, 234.0];
const MIDDLE: f32 = 120.0;
const RADIUS: f32 = 60.4;
const BLUR: f32 = 0.9;

/// How far inside a disk a pixel lies.
fn depth(x: usize, y: usize) -> f32 {
    RADIUS - math::hypotf((x % SQUARE) as f32 - MIDDLE, (y % SQUARE) as f32 - MIDDLE)
}

/// A disk of flat color, or of one that its rim takes farther off the paper by a share of it.
struct Disk {
    color: [f32; 3],
    rim: f32,
}

impl Disk {
    /// The paint's own color at a depth, in linear light.
    fn own(&self, depth: f32) -> [f32; 3] {
        let d = math::max(depth, 0.0) / 2.5;
        let strength = 1.0 + self.rim * math::expf(-d * d);
        [0, 1, 2].map(|c| math::max(light(PAPER[c]) - strength * (light(PAPER[c]) - light(self.color[c])), 0.0))
    }

    /// What the scan shows at a depth, in counts, and how far that is paint.
    fn scanned(&self, depth: f32) -> ([f32; 3], f32) {
        let covered = 0.5 + 0.5 * math::erff(depth / (BLUR * std::f32::consts::SQRT_2));
        let own = self.own(depth);
        let count = |light: f32| 255.0 * encoded(f64::from(light)) as f32;
        let color = [0, 1, 2].map(|c| count(light(PAPER[c]) + covered * (own[c] - light(PAPER[c]))));
        let along = |of: [f32; 3]| (0..3).map(|c| (PAPER[c] - count(own[c])) * of[c]).sum::<f32>();
        let (part, whole) = (along([0, 1, 2].map(|c| PAPER[c] - color[c])), along([0, 1, 2].map(|c| PAPER[c] - count(own[c]))));
        (color, part / whole)
    }

    /// The scan, with this much noise, in counts.
    fn sheet(&self, noise: f32) -> Rc<Sheet> {
        painted(SIDE, 8, noise, |[x, y]| self.scanned(depth(x, y)).0)
    }

    /// Mean error of alpha and mean of its size, over the pixels that are neither paper nor paint.
    fn errors(&self) -> [f32; 2] {
        let art = bytes(&mut lifted(&self.sheet(0.6), &Recipe::default()));
        let (mut count, mut sum, mut size) = (0.0, 0.0, 0.0);
        for (i, pixel) in art.chunks_exact(4).enumerate() {
            let (_, truth) = self.scanned(depth(i % SIDE, i / SIDE));
            if (0.1..0.9).contains(&truth) {
                let error = f32::from(pixel[3]) / 255.0 - truth;
                count += 1.0;
                sum += error;
                size += error.abs();
            }
        }
        assert!(count > 500.0);
        [sum / count, size / count]
    }
}

#[test]
fn the_edge_of_flat_paint() {
    let [bias, size] = Disk { color: [60.0, 90.0, 150.0], rim: 0.0 }.errors();
    assert!(bias.abs() < 0.02 && size < 0.03, "too much by {bias}, off by {size}");
}

#[test]
fn the_edge_of_paint_with_a_darker_rim() {
    for color in [[150.0, 170.0, 205.0], [200.0, 205.0, 220.0]] {
        for rim in [0.1, 0.2, 0.3] {
            let [bias, size] = Disk { color, rim }.errors();
            assert!(bias.abs() < 0.03 && size < 0.03, "{color:?} with rim {rim}: too much by {bias}, off by {size}");
        }
    }
}

#[test]
fn the_edge_of_pale_paint() {
    let [bias, size] = Disk { color: [247.0, 226.0, 224.0], rim: 0.0 }.errors();
    assert!(bias.abs() < 0.03 && size < 0.04, "too much by {bias}, off by {size}");
}

#[test]
fn the_outline_of_paint_as_faint_as_noise() {
    let disk = Disk { color: [245.0, 235.0, 227.0], rim: 0.0 };
    let art = bytes(&mut lifted(&disk.sheet(4.0), &Recipe::default()));
    let (mut count, mut size) = (0.0, 0.0);
    for (i, pixel) in art.chunks_exact(4).enumerate() {
        let depth = depth(i % SIDE, i / SIDE);
        if depth.abs() < 6.0 {
            count += 1.0;
            size += (f32::from(pixel[3]) / 255.0 - disk.scanned(depth).1).abs();
        }
    }
    // So many pixels is the outline off on average.
    let off = 12.0 * size / count;
    assert!(off < 0.55, "off by {off} pixels");
}

#[test]
fn the_blur_is_told_beside_rims() {
    for rim in [0.0, 0.1, 0.2, 0.3] {
        let blur = blur::estimate(&Disk { color: [150.0, 170.0, 205.0], rim }.sheet(0.6));
        assert!((blur / BLUR - 1.0).abs() < 0.15, "rim {rim}: {blur} in place of {BLUR}");
    }
}
