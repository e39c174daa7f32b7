//! CIE L\*a\*b\* (CIE 15:2004) of sRGB colors, relative to D65; and of colors stored relative to D50, their sRGB.

use super::profile::LINEAR_OF_D50;
use super::{math, transfer};

/// XYZ of linear sRGB, rows X, Y, Z: the exact fractions of the CSS Color 4 sample code, which follow from the
/// primaries and the D65 white of IEC 61966-2-1.
pub const XYZ_OF_LINEAR: [[f64; 3]; 3] = [
    [506_752.0 / 1_228_815.0, 87_881.0 / 245_763.0, 12_673.0 / 70_218.0],
    [87_098.0 / 409_605.0, 175_762.0 / 245_763.0, 12_673.0 / 175_545.0],
    [7_918.0 / 409_605.0, 87_881.0 / 737_289.0, 1_001_167.0 / 1_053_270.0],
];

/// A color in CIE L\*a\*b\*: lightness 0..100, then green to red, then blue to yellow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lab {
    /// Lightness, 0 black to 100 white.
    pub l: f64,
    /// Green (negative) to red.
    pub a: f64,
    /// Blue (negative) to yellow.
    pub b: f64,
}

impl Lab {
    /// From encoded sRGB 0..1.
    #[must_use]
    pub fn of_encoded(rgb: [f64; 3]) -> Self {
        Self::of_linear(rgb.map(transfer::linear))
    }

    /// From linear-light sRGB 0..1.
    #[must_use]
    pub fn of_linear(rgb: [f64; 3]) -> Self {
        let [fx, fy, fz] = XYZ_OF_LINEAR.map(|row| {
            let white = row[0] + row[1] + row[2];
            let value = row[0] * rgb[0] + row[1] * rgb[1] + row[2] * rgb[2];
            compressed(value / white)
        });
        Self { l: 116.0 * fy - 16.0, a: 500.0 * (fx - fy), b: 200.0 * (fy - fz) }
    }
}

/// The white that profiles and stored L\*a\*b\* refer to, ICC.1:2010 7.2.16.
pub(super) const D50: [f64; 3] = [0.9642, 1.0, 0.8249];

/// Linear-light sRGB of a color relative to D50, as files store it; beyond 0..1 where sRGB does not reach.
#[must_use]
pub fn linear_of_d50(color: Lab) -> [f64; 3] {
    linear_of_xyz(xyz_of_d50(color))
}

/// XYZ under D50 of a color relative to it.
pub(super) fn xyz_of_d50(color: Lab) -> [f64; 3] {
    let y = (color.l + 16.0) / 116.0;
    let [x, y, z] = [y + color.a / 500.0, y, y - color.b / 200.0].map(expanded);
    [x * D50[0], y * D50[1], z * D50[2]]
}

/// The color relative to D50 of XYZ under it.
pub(super) fn of_xyz(xyz: [f64; 3]) -> Lab {
    let [fx, fy, fz] = [0, 1, 2].map(|i| compressed(xyz[i] / D50[i]));
    Lab { l: 116.0 * fy - 16.0, a: 500.0 * (fx - fy), b: 200.0 * (fy - fz) }
}

/// Linear-light sRGB of XYZ under D50; beyond 0..1 where sRGB does not reach.
pub(super) fn linear_of_xyz(xyz: [f64; 3]) -> [f64; 3] {
    LINEAR_OF_D50.map(|row| row[0] * xyz[0] + row[1] * xyz[1] + row[2] * xyz[2])
}

/// The inverse of [`compressed`].
fn expanded(t: f64) -> f64 {
    if t > 6.0 / 29.0 { t * t * t } else { (116.0 * t - 16.0) * 27.0 / 24389.0 }
}

/// The cube root with its straight foot, CIE 15:2004 equation 8.5 in exact fractions.
fn compressed(t: f64) -> f64 {
    if t > 216.0 / 24389.0 { math::cbrt(t) } else { (24389.0 / 27.0 * t + 16.0) / 116.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(lab: Lab, l: f64, a: f64, b: f64, within: f64) {
        assert!((lab.l - l).abs() < within && (lab.a - a).abs() < within && (lab.b - b).abs() < within, "{lab:?}");
    }

    #[test]
    fn white_and_black() {
        close(Lab::of_encoded([1.0; 3]), 100.0, 0.0, 0.0, 1e-9);
        close(Lab::of_encoded([0.0; 3]), 0.0, 0.0, 0.0, 1e-9);
    }

    /// Computed elsewhere to two decimals, with the matrix of the standard rounded to four.
    #[test]
    fn paper_and_gray() {
        close(Lab::of_encoded([246.0, 244.0, 236.0].map(|v| v / 255.0)), 96.14, -0.72, 4.09, 0.01);
        close(Lab::of_encoded([119.0 / 255.0; 3]), 50.03, 0.0, 0.0, 0.006);
    }

    /// Gray of L* 50 reflects 0.184187 (CIE 15:2004); sRGB's red is (54.29, 80.80, 69.89) relative to D50, as CSS Color 4 has it (from
    /// memory).
    #[test]
    fn relative_to_d50() {
        let gray = linear_of_d50(Lab { l: 50.0, a: 0.0, b: 0.0 });
        assert!(gray.iter().all(|v| (v - 0.184_187).abs() < 1e-4), "{gray:?}");
        let red = linear_of_d50(Lab { l: 54.29, a: 80.8, b: 69.89 });
        assert!((red[0] - 1.0).abs() < 2e-3 && red[1].abs() < 2e-3 && red[2].abs() < 2e-3, "{red:?}");
    }
}
