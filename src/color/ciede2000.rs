//! The CIEDE2000 color difference: G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula:
//! implementation notes, supplementary test data, and mathematical observations", Color Research and Application 30
//! (2005), doi 10.1002/col.20070. Equation numbers are that paper's.

use std::f64::consts::{PI, TAU};

use super::lab::Lab;
use super::math::{atan2, cos, exp, hypot, sin};

/// How different two colors look. 1 is about what a trained eye sees side by side. Symmetric; all weights kL, kC, kH 1.
#[must_use]
pub fn difference(one: Lab, two: Lab) -> f64 {
    // Equations 2 to 7: chroma with the a axis stretched near gray, and hue.
    let mean_chroma = (hypot(one.a, one.b) + hypot(two.a, two.b)) / 2.0;
    let stretch = 1.0 + 0.5 * (1.0 - saturation(mean_chroma));
    let (chroma1, hue1) = polar(one.a * stretch, one.b);
    let (chroma2, hue2) = polar(two.a * stretch, two.b);
    let gray = chroma1 * chroma2 == 0.0;

    // Equations 8 to 11: differences. The hue goes the short way round.
    let lightness_step = two.l - one.l;
    let chroma_step = chroma2 - chroma1;
    let mut turn = if gray { 0.0 } else { hue2 - hue1 };
    if turn > PI {
        turn -= TAU;
    } else if turn < -PI {
        turn += TAU;
    }
    let hue_step = 2.0 * (chroma1 * chroma2).sqrt() * sin(turn / 2.0);

    // Equations 12 to 14: means.
    let lightness = (one.l + two.l) / 2.0;
    let chroma = (chroma1 + chroma2) / 2.0;
    let sum = hue1 + hue2;
    let hue = if gray {
        sum
    } else if (hue1 - hue2).abs() <= PI {
        sum / 2.0
    } else if sum < TAU {
        (sum + TAU) / 2.0
    } else {
        (sum - TAU) / 2.0
    };

    // Equations 15 to 21: weights.
    let t = 1.0 - 0.17 * cos(hue - rad(30.0)) + 0.24 * cos(2.0 * hue) + 0.32 * cos(3.0 * hue + rad(6.0))
        - 0.20 * cos(4.0 * hue - rad(63.0));
    let blue = (hue.to_degrees() - 275.0) / 25.0;
    let rotation = rad(30.0) * exp(-blue * blue);
    let mid = (lightness - 50.0) * (lightness - 50.0);
    let weight_l = 1.0 + 0.015 * mid / (20.0 + mid).sqrt();
    let weight_c = 1.0 + 0.045 * chroma;
    let weight_h = 1.0 + 0.015 * chroma * t;
    let twist = -2.0 * saturation(chroma) * sin(2.0 * rotation);

    // Equation 22.
    let (l, c, h) = (lightness_step / weight_l, chroma_step / weight_c, hue_step / weight_h);
    (l * l + c * c + h * h + twist * c * h).max(0.0).sqrt()
}

/// sqrt(C^7 / (C^7 + 25^7)), the same in equations 4 and 17.
fn saturation(chroma: f64) -> f64 {
    let to_the_7th = |v: f64| v * v * v * v * v * v * v;
    (to_the_7th(chroma) / (to_the_7th(chroma) + to_the_7th(25.0))).sqrt()
}

/// Length, and angle from 0 to 2 pi.
fn polar(a: f64, b: f64) -> (f64, f64) {
    let angle = if a == 0.0 && b == 0.0 { 0.0 } else { atan2(b, a) };
    (hypot(a, b), if angle < 0.0 { angle + TAU } else { angle })
}

fn rad(degrees: f64) -> f64 {
    degrees / 180.0 * PI
}
