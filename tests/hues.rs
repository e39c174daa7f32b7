//! Pale paint is followed to its rim along its own hue, through the noise of a scan that was kept as JPEG.

mod lifting;

use std::rc::Rc;

use barewash::color::math;
use barewash::image::Sheet;
use barewash::pipeline::Recipe;

use lifting::{bytes, lifted, painted, through_jpeg};

const SIDE: usize = 600;
const PAPER: [f32; 3] = [252.0, 246.0, 220.0];
/// What the petals take of it in the middle of the flower; a quarter of that at the rim.
const PINK: [f32; 3] = [1.0, 10.0, 12.0];
/// How deep the lines are that part the petals.
const LINE: f32 = 25.0;
const RADIUS: f32 = 100.0;

fn from_middle(x: usize, y: usize) -> f32 {
    let (right, down) = (x as f32 - 300.0, y as f32 - 300.0);
    (right * right + down * down).sqrt()
}

/// A flower of wavy petals, each parted from the next by a line, paler towards the rim.
fn flower(noise: f32) -> Rc<Sheet> {
    let sheet = painted(SIDE, 21, noise, |[x, y]| {
        let r = from_middle(x, y);
        if r > RADIUS {
            return PAPER;
        }
        let share = 1.0 - 0.75 * r / RADIUS;
        let wave = math::sinf(0.25 * r + 3.0 * math::sinf(0.08 * (x as f32 - 300.0)));
        let line = if wave > 0.93 { LINE } else { 0.0 };
        [0, 1, 2].map(|c| PAPER[c] - share * PINK[c] - line)
    });
    through_jpeg(&sheet, 75)
}

#[test]
fn a_pale_flower_is_kept_to_its_rim() {
    for noise in [0.5, 1.0] {
        let art = bytes(&mut lifted(&flower(noise), &Recipe::default()));
        let (mut outer, mut kept, mut beyond) = (0, 0, 0);
        for (i, pixel) in art.chunks_exact(4).enumerate() {
            let (r, opaque) = (from_middle(i % SIDE, i / SIDE), usize::from(pixel[3] > 128));
            if (60.0..97.0).contains(&r) {
                outer += 1;
                kept += opaque;
            }
            beyond += opaque * usize::from(r > 104.0);
        }
        let kept = kept as f32 / outer as f32;
        assert!(kept > 0.88 && beyond == 0, "noise {noise}: {kept} of the outer petals kept, {beyond} pixels too many");
    }
}
