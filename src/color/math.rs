//! The only home of transcendental functions, and arithmetic that must be quick in WebAssembly.
//!
//! Those of the standard library come from the platform and differ in the last bit between machines and in wasm; these
//! are computed in software by the `libm` crate and give the same bits everywhere. `sqrt`, `abs`, `floor` and the like
//! are exact by IEEE 754 and may be used from the standard library.

/// The larger of two, by a comparison: in WebAssembly that of the standard library is a call that no loop can be made of.
/// `b` when either is no number.
#[must_use]
#[inline]
pub fn max(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

/// The smaller of two, as [`max`].
#[must_use]
#[inline]
pub fn min(a: f32, b: f32) -> f32 {
    if a < b { a } else { b }
}

/// x to the power y.
#[must_use]
pub fn pow(x: f64, y: f64) -> f64 {
    libm::pow(x, y)
}

/// x to the power y, single precision.
#[must_use]
pub fn powf(x: f32, y: f32) -> f32 {
    libm::powf(x, y)
}

/// e to the power x.
#[must_use]
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// e to the power x, single precision.
#[must_use]
pub fn expf(x: f32) -> f32 {
    libm::expf(x)
}

/// Natural logarithm.
#[must_use]
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// Natural logarithm, single precision.
#[must_use]
pub fn lnf(x: f32) -> f32 {
    libm::logf(x)
}

/// Cube root.
#[must_use]
pub fn cbrt(x: f64) -> f64 {
    libm::cbrt(x)
}

/// Cube root, single precision.
#[must_use]
pub fn cbrtf(x: f32) -> f32 {
    libm::cbrtf(x)
}

/// Sine of an angle in radians.
#[must_use]
pub fn sin(x: f64) -> f64 {
    libm::sin(x)
}

/// Sine of an angle in radians, single precision.
#[must_use]
pub fn sinf(x: f32) -> f32 {
    libm::sinf(x)
}

/// Cosine of an angle in radians.
#[must_use]
pub fn cos(x: f64) -> f64 {
    libm::cos(x)
}

/// Cosine of an angle in radians, single precision.
#[must_use]
pub fn cosf(x: f32) -> f32 {
    libm::cosf(x)
}

/// Hyperbolic tangent.
#[must_use]
pub fn tanh(x: f64) -> f64 {
    libm::tanh(x)
}

/// Hyperbolic tangent, single precision.
#[must_use]
pub fn tanhf(x: f32) -> f32 {
    libm::tanhf(x)
}

/// Angle in radians of the point (x, y), from -pi to pi.
#[must_use]
pub fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}

/// Angle in radians of the point (x, y), from -pi to pi, single precision.
#[must_use]
pub fn atan2f(y: f32, x: f32) -> f32 {
    libm::atan2f(y, x)
}

/// Length of the vector (x, y).
#[must_use]
pub fn hypot(x: f64, y: f64) -> f64 {
    libm::hypot(x, y)
}

/// Length of the vector (x, y), single precision.
#[must_use]
pub fn hypotf(x: f32, y: f32) -> f32 {
    libm::hypotf(x, y)
}

/// The error function, single precision.
#[must_use]
pub fn erff(x: f32) -> f32 {
    libm::erff(x)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{E, FRAC_PI_4, LN_2, SQRT_2};

    use super::*;

    /// Exact values, worked out with 50 decimal digits and rounded; a result may differ by one unit in the last place.
    #[test]
    fn values() {
        for (got, exact) in [
            (pow(0.5, 2.4), 0.189_464_570_813_799_78),
            (pow(2.0, 0.5), SQRT_2),
            (exp(1.0), E),
            (ln(2.0), LN_2),
            (cbrt(2.0), 1.259_921_049_894_873_2),
            (sin(1.0), 0.841_470_984_807_896_5),
            (cos(1.0), 0.540_302_305_868_139_8),
            (tanh(1.0), 0.761_594_155_955_764_9),
            (atan2(1.0, 1.0), FRAC_PI_4),
            (hypot(1.0, 1.0), SQRT_2),
        ] {
            assert!((got - exact).abs() <= f64::EPSILON * exact, "{got} for {exact}");
        }
        for (got, exact) in [
            (powf(0.5, 2.4), 0.189_464_57_f32),
            (expf(1.0), E as f32),
            (lnf(2.0), LN_2 as f32),
            (cbrtf(2.0), 1.259_921),
            (sinf(1.0), 0.841_471),
            (cosf(1.0), 0.540_302_3),
            (tanhf(1.0), 0.761_594_2),
            (atan2f(1.0, 1.0), FRAC_PI_4 as f32),
            (hypotf(1.0, 1.0), SQRT_2 as f32),
        ] {
            assert!((got - exact).abs() <= f32::EPSILON * exact, "{got} for {exact}");
        }
    }
}
