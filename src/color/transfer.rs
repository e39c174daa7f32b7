//! The sRGB transfer curve (IEC 61966-2-1): encoded values, as files and screens hold them, to and from linear light.
//!
//! Blending is done in encoded values, optics in linear light; the names here always say which one a value is.
//! [`linear`] and [`encoded`] are the definition, [`Curves`] the fast tables for work per pixel.

use std::sync::OnceLock;

use super::math;

/// Encoded values up to this one lie on the straight foot of the curve.
const FOOT_ENCODED: f64 = 0.04045;
/// Linear values up to this one lie on the straight foot of the curve.
const FOOT_LINEAR: f64 = 0.003_130_8;
/// Slope of the foot.
const SLOPE: f64 = 12.92;

/// Linear light of an encoded value, both 0..1. The definition, in double precision; slow.
#[must_use]
pub fn linear(encoded: f64) -> f64 {
    if encoded <= FOOT_ENCODED { encoded / SLOPE } else { math::pow((encoded + 0.055) / 1.055, 2.4) }
}

/// Encoded value of linear light, both 0..1. The definition, in double precision; slow.
#[must_use]
pub fn encoded(linear: f64) -> f64 {
    if linear <= FOOT_LINEAR { linear * SLOPE } else { bow(linear) }
}

/// The curved part of [`encoded`], continued below the foot.
fn bow(linear: f64) -> f64 {
    1.055 * math::pow(linear, 1.0 / 2.4) - 0.055
}

/// Steps of the tables that are interpolated.
const STEPS: usize = 4096;

/// Values at `STEPS` equal steps over 0..1, and one past the end, so that the step that begins at 1 is like any other.
type Table = Box<[f32; STEPS + 2]>;

/// Tables of the curve for work per pixel, 33 KiB in all. Same bits on every machine.
///
/// Both interpolating functions clamp to 0..1 and take a NaN as 0. They differ from the definition by less than
/// 2.5e-7, which is 0.017 of a 16-bit count; a test holds this.
pub struct Curves {
    linear_of_8: [f32; 256],
    linear: Table,
    /// Over the square root of the linear value: the curve is steep near black, its square root is not.
    encoded: Table,
}

impl Curves {
    /// The tables, made on first use.
    #[must_use]
    pub fn get() -> &'static Self {
        static CURVES: OnceLock<Curves> = OnceLock::new();
        CURVES.get_or_init(Self::new)
    }

    fn new() -> Self {
        let mut linear_of_8 = [0.0; 256];
        for (code, slot) in linear_of_8.iter_mut().enumerate() {
            *slot = linear(code as f64 / 255.0) as f32;
        }
        let at = |i: usize| i as f64 / STEPS as f64;
        let curved = |v: f64| math::pow((v + 0.055) / 1.055, 2.4) as f32;
        let linear = Box::new(std::array::from_fn(|i| curved(at(i))));
        let encoded = Box::new(std::array::from_fn(|i| bow(at(i) * at(i)) as f32));
        Self { linear_of_8, linear, encoded }
    }

    /// Linear light 0..1 of an 8-bit encoded value, rounded from the definition.
    #[must_use]
    pub fn linear_of_8(&self, encoded: u8) -> f32 {
        self.linear_of_8[usize::from(encoded)]
    }

    /// Linear light of an encoded value.
    #[must_use]
    pub fn linear(&self, encoded: f32) -> f32 {
        let v = clamped(encoded);
        if v <= FOOT_ENCODED as f32 { v * (1.0 / SLOPE) as f32 } else { interpolated(&self.linear, v) }
    }

    /// Encoded value of linear light.
    #[must_use]
    pub fn encoded(&self, linear: f32) -> f32 {
        let v = clamped(linear);
        if v <= FOOT_LINEAR as f32 { v * SLOPE as f32 } else { interpolated(&self.encoded, v.sqrt()) }
    }
}

/// Within 0..1; 0 for a NaN.
pub(super) fn clamped(v: f32) -> f32 {
    if v > 0.0 { math::min(v, 1.0) } else { 0.0 }
}

/// Straight between the two nearest entries.
fn interpolated(table: &Table, v: f32) -> f32 {
    let place = v * STEPS as f32;
    // Never above; said for the compiler, which then reads the table unchecked.
    let i = (place as usize).min(STEPS);
    let part = place - i as f32;
    table[i] + (table[i + 1] - table[i]) * part
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Computed from the formulas of IEC 61966-2-1 to six digits, as published in many copies of its sample code.
    #[test]
    fn published_values() {
        for (code, light) in
            [(0, 0.0), (10, 0.003035), (11, 0.003347), (128, 0.215861), (188, 0.502886), (245, 0.913099), (255, 1.0)]
        {
            assert!((linear(f64::from(code) / 255.0) - light).abs() < 5e-7, "{code}");
            assert!((Curves::get().linear_of_8(code as u8) - light as f32).abs() < 5e-7, "{code}");
        }
        assert!((encoded(0.5) * 255.0 - 187.516).abs() < 5e-4);
        assert!((encoded(0.18) * 255.0 - 117.646).abs() < 5e-4);
    }

    #[test]
    fn definition_inverts_itself() {
        for code in 0..=65535 {
            let v = f64::from(code) / 65535.0;
            // The two thresholds of the standard do not meet exactly: up to 3e-8 between them.
            assert!((encoded(linear(v)) - v).abs() < 3e-8, "{code}");
        }
    }

    #[test]
    fn tables_keep_their_promise() {
        let curves = Curves::get();
        let (mut worst_linear, mut worst_encoded) = (0.0_f64, 0.0_f64);
        for i in 0..=1_000_003 {
            let v = i as f32 / 1_000_003.0;
            worst_linear = worst_linear.max((f64::from(curves.linear(v)) - linear(f64::from(v))).abs());
            worst_encoded = worst_encoded.max((f64::from(curves.encoded(v)) - encoded(f64::from(v))).abs());
        }
        assert!(worst_linear < 2.5e-7 && worst_encoded < 2.5e-7, "{worst_linear:e} {worst_encoded:e}");
    }

    #[test]
    fn tables_round_trip_every_16_bit_value() {
        let curves = Curves::get();
        for code in 0..=65535_u16 {
            let back = curves.encoded(curves.linear(f32::from(code) / 65535.0)) * 65535.0;
            assert_eq!(back.round() as u16, code);
        }
    }

    #[test]
    fn outside_is_clamped() {
        let curves = Curves::get();
        for (v, is) in [(-1.0, 0.0), (2.0, 1.0), (f32::NAN, 0.0), (f32::INFINITY, 1.0)] {
            assert_eq!(curves.linear(v), is);
            assert_eq!(curves.encoded(v), is);
        }
    }
}
