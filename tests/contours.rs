//! White petals drawn in faint contours on a scan that was kept as JPEG: its noise drowns such a line pixel by pixel.

mod lifting;

use std::rc::Rc;

use barewash::image::{Samples, Sheet};
use barewash::matte::island::Decision;
use barewash::pipeline::Recipe;
use barewash::pipeline::recipe::Decided;
use barewash::units::Ppi;
use barewash_support::random::Random;

use lifting::{bytes, lifted, through_jpeg};

const SIDE: usize = 600;
const RADIUS: f32 = 60.0;

/// A round petal around the middle, white as the paper within a line `depth` counts deep, on a dark stalk.
fn petal(depth: f32) -> Rc<Sheet> {
    let mut random = Random::new(11);
    let mut samples = Vec::with_capacity(SIDE * SIDE * 3);
    for i in 0..SIDE * SIDE {
        let (x, y) = ((i % SIDE) as f32 - 300.0, (i / SIDE) as f32 - 300.0);
        let line = (1.6 - ((x * x + y * y).sqrt() - RADIUS).abs()).clamp(0.0, 1.0);
        let stalk = x.abs() < 12.0 && (RADIUS - 3.0..220.0).contains(&y);
        let grain = random.normals();
        let color = if stalk { [70.0, 110.0, 60.0] } else { [238.0, 234.0, 222.0].map(|paper| paper - depth * line) };
        samples.extend([0, 1, 2].map(|c| (color[c] + 1.5 * grain[0] + 0.7 * grain[c]) as u8));
    }
    let sheet = Sheet::new(SIDE, SIDE, Samples::Eight(samples), Some(Ppi(300.0)));
    through_jpeg(&sheet, 80)
}

/// Alpha of a pixel of the art.
fn alpha(art: &[u8], x: usize, y: usize) -> u8 {
    art[4 * (y * SIDE + x) + 3]
}

/// A contour a few counts deep encloses: its white is asked about and can be kept whole, or cleared, with nothing left around.
#[test]
fn a_faint_contour_encloses_a_white() {
    /// Pixels to either side of the line that may be its own.
    const LINE: f32 = 6.0;
    for depth in [9.0, 7.0, 5.0] {
        let sheet = petal(depth);
        let asked = lifted(&sheet, &Recipe::default());
        let found = asked.islands().iter().filter(|(_, island, ..)| island.area_mm2 > 60.0).count();
        assert_eq!(found, 1, "{depth} counts deep");
        let decided = |decision| Recipe { decided: vec![Decided { at: [300, 290], decision }], ..Recipe::default() };
        let kept = bytes(&mut lifted(&sheet, &decided(Decision::Keep)));
        let cleared = bytes(&mut lifted(&sheet, &decided(Decision::Clear)));
        let (mut lost, mut left) = (0, 0);
        for (x, y) in (0..SIDE * SIDE).map(|i| (i % SIDE, i / SIDE)) {
            let (right, down) = (x as f32 - 300.0, y as f32 - 300.0);
            let outward = (right * right + down * down).sqrt() - RADIUS;
            let by_stalk = right.abs() < 20.0 && down > 0.0;
            lost += u32::from(outward < -2.0 && alpha(&kept, x, y) < 250);
            left += u32::from(outward > LINE && !by_stalk && alpha(&kept, x, y) > 5);
            left += u32::from(outward.abs() > LINE && !by_stalk && alpha(&cleared, x, y) > 5);
        }
        assert!(lost < 150 && left < 20, "{depth} counts deep: {lost} pixels lost, {left} too many");
    }
}

/// Without a contour there is nothing to ask: the noise of bare paper makes none.
#[test]
fn noise_encloses_nothing() {
    let lift = lifted(&petal(0.0), &Recipe::default());
    assert!(lift.islands().is_empty());
    let art = bytes(&mut lifted(&petal(0.0), &Recipe::default()));
    let left = (0..SIDE * SIDE).filter(|i| (i % SIDE).abs_diff(300) > 20 && alpha(&art, i % SIDE, i / SIDE) > 5).count();
    assert_eq!(left, 0);
}
