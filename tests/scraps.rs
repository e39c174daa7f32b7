//! Scraps of paper at the rim of paint go; pale paint beside strong paint stays.

mod lifting;

use std::rc::Rc;

use barewash::image::Sheet;
use barewash::matte::island::Decision;
use barewash::pipeline::Recipe;
use barewash::pipeline::recipe::Tidy;

use lifting::{bytes, lifted, painted};

const SIDE: usize = 500;
const PAPER: [f32; 3] = [232.0, 222.0, 198.0];
/// As light as the halo of a sharpened scan, and a pale wash.
const HALO: [f32; 3] = [240.0, 234.0, 220.0];
const PALE: [f32; 3] = [222.0, 206.0, 190.0];
const DARK: [f32; 3] = [60.0, 90.0, 70.0];

/// A dark leaf with something beside its right edge, so many pixels wide and high.
fn leaf(beside: [f32; 3], size: usize) -> Rc<Sheet> {
    painted(SIDE, 9, 0.7, |[x, y]| {
        if (100..300).contains(&x) && (100..400).contains(&y) {
            DARK
        } else if (300..300 + size).contains(&x) && (240..240 + size).contains(&y) {
            beside
        } else {
            PAPER
        }
    })
}

/// Opaque pixels in the square beside the leaf, away from both their edges.
fn left(beside: [f32; 3], size: usize, stains: Decision) -> usize {
    let recipe = Recipe { tidy: Tidy { stains, ..Recipe::default().tidy }, ..Recipe::default() };
    let art = bytes(&mut lifted(&leaf(beside, size), &recipe));
    let inside = (243..240 + size - 3).flat_map(|y| (303..300 + size - 3).map(move |x| y * SIDE + x));
    inside.filter(|i| art[4 * i + 3] > 128).count()
}

#[test]
fn scraps_go_and_washes_stay() {
    let all = |size: usize| (size - 6) * (size - 6);
    assert_eq!(left(HALO, 14, Decision::Clear), 0, "a scrap of the halo is paper");
    assert!(left(HALO, 14, Decision::Keep) > all(14) / 2, "whoever keeps stains keeps it");
    assert_eq!(left(PALE, 60, Decision::Clear), all(60), "a pale wash of five millimeters is none");
}
