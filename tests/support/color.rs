//! sRGB (IEC 61966-2-1), CIE L*a*b* under D65 and CIEDE2000, for judging.

use std::sync::OnceLock;

/// Linear light of an encoded value 0..1.
#[must_use]
pub fn decode(v: f32) -> f32 {
    let v = f64::from(v.max(0.0));
    (if v <= 0.040_45 { v / 12.92 } else { libm::pow((v + 0.055) / 1.055, 2.4) }) as f32
}

/// Encoded value of linear light, by the formula.
#[must_use]
pub fn encode_exact(v: f64) -> f64 {
    let v = v.clamp(0.0, 1.0);
    if v <= 0.003_130_8 { v * 12.92 } else { 1.055 * libm::pow(v, 1.0 / 2.4) - 0.055 }
}

const STEPS: usize = 65_536;

/// Encoded value of linear light 0..1 (clamped), off the formula by less than 1e-6: a table, since a sheet asks
/// for a hundred million of them.
#[must_use]
pub fn encode(v: f32) -> f32 {
    static TABLE: OnceLock<Vec<f32>> = OnceLock::new();
    let table = TABLE.get_or_init(|| (0..=STEPS + 1).map(|i| encode_exact(i as f64 / STEPS as f64) as f32).collect());
    let at = v.clamp(0.0, 1.0) * STEPS as f32;
    let i = at as usize;
    table[i] + (table[i + 1] - table[i]) * (at - i as f32)
}

/// Encoded values of three channels of linear light.
#[must_use]
pub fn encode3(v: [f32; 3]) -> [f32; 3] {
    v.map(encode)
}

/// L*, a*, b* of an encoded sRGB color.
#[must_use]
pub fn lab(v: [f32; 3]) -> [f64; 3] {
    let [r, g, b] = v.map(decode_fast);
    let curve = |t: f64| if t > 216.0 / 24_389.0 { libm::cbrt(t) } else { (24_389.0 / 27.0 * t + 16.0) / 116.0 };
    let x = curve((0.412_456_4 * r + 0.357_576_1 * g + 0.180_437_5 * b) / 0.950_47);
    let y = curve(0.212_672_9 * r + 0.715_152_2 * g + 0.072_175 * b);
    let z = curve((0.019_333_9 * r + 0.119_192 * g + 0.950_304_1 * b) / 1.088_83);
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// Linear light from a fine table (4096 steps): enough for a color difference.
fn decode_fast(v: f32) -> f64 {
    static TABLE: OnceLock<Vec<f32>> = OnceLock::new();
    let table = TABLE.get_or_init(|| (0..=4097).map(|i| decode(i as f32 / 4096.0)).collect());
    let at = v.clamp(0.0, 1.0) * 4096.0;
    let i = at as usize;
    f64::from(table[i] + (table[i + 1] - table[i]) * (at - i as f32))
}

/// CIEDE2000 between two L*a*b* colors (Sharma, Wu and Dalal 2005), all weights 1.
#[must_use]
pub fn ciede2000(one: [f64; 3], two: [f64; 3]) -> f64 {
    use std::f64::consts::PI;
    if one == two {
        return 0.0;
    }
    let pow7 = |v: f64| {
        let cube = v * v * v;
        cube * cube * v
    };
    let far = |v: f64| (pow7(v) / (pow7(v) + 6_103_515_625.0)).sqrt();
    let chroma = |c: [f64; 3]| (c[1] * c[1] + c[2] * c[2]).sqrt();
    let stretch = 1.5 - 0.5 * far(0.5 * (chroma(one) + chroma(two)));
    let polar = |c: [f64; 3]| {
        let a = c[1] * stretch;
        let radius = (a * a + c[2] * c[2]).sqrt();
        let hue = if radius > 0.0 { libm::atan2(c[2], a) } else { 0.0 };
        (radius, if hue < 0.0 { hue + 2.0 * PI } else { hue })
    };
    let ((c1, h1), (c2, h2)) = (polar(one), polar(two));
    let colorless = c1 * c2 == 0.0;
    let mut turn = h2 - h1;
    let mut hue = h1 + h2;
    if colorless {
        turn = 0.0;
    } else {
        let apart = turn.abs() > PI;
        hue = match (apart, hue < 2.0 * PI) {
            (false, _) => 0.5 * hue,
            (true, true) => 0.5 * hue + PI,
            (true, false) => 0.5 * hue - PI,
        };
        if apart {
            turn -= 2.0 * PI * turn.signum();
        }
    }
    let (light, c) = (0.5 * (one[0] + two[0]), 0.5 * (c1 + c2));
    let d_hue = 2.0 * (c1 * c2).sqrt() * libm::sin(0.5 * turn);
    let degrees = PI / 180.0;
    let t =
        1.0 - 0.17 * libm::cos(hue - 30.0 * degrees) + 0.24 * libm::cos(2.0 * hue) + 0.32 * libm::cos(3.0 * hue + 6.0 * degrees)
            - 0.20 * libm::cos(4.0 * hue - 63.0 * degrees);
    let off = (hue / degrees - 275.0) / 25.0;
    let rotation = -libm::sin(60.0 * degrees * libm::exp(-off * off)) * 2.0 * far(c);
    let middle = (light - 50.0) * (light - 50.0);
    let l = (two[0] - one[0]) / (1.0 + 0.015 * middle / (20.0 + middle).sqrt());
    let s = (c2 - c1) / (1.0 + 0.045 * c);
    let h = d_hue / (1.0 + 0.015 * c * t);
    (l * l + s * s + h * h + rotation * s * h).max(0.0).sqrt()
}

/// CIEDE2000 between two encoded sRGB colors.
#[must_use]
pub fn difference(one: [f32; 3], two: [f32; 3]) -> f64 {
    if one == two { 0.0 } else { ciede2000(lab(one), lab(two)) }
}
