//! Arithmetic of color differences, three channels at a time.

use crate::color::math::max;

/// Sum of products.
#[must_use]
#[inline]
pub fn dot(a: [f32; 3], b: [f32; 3]) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Euclidean length.
#[must_use]
#[inline]
pub fn length(v: [f32; 3]) -> f32 {
    dot(v, v).sqrt()
}

/// Sum, channel by channel.
#[must_use]
#[inline]
pub fn plus(a: [f32; 3], b: [f32; 3]) -> [f32; 3] {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

/// The largest difference in any channel.
#[must_use]
#[inline]
pub fn apart(a: [f32; 3], b: [f32; 3]) -> f32 {
    max(max((a[0] - b[0]).abs(), (a[1] - b[1]).abs()), (a[2] - b[2]).abs())
}

/// The first less the second, channel by channel.
#[must_use]
#[inline]
pub fn difference(a: [f32; 3], b: [f32; 3]) -> [f32; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}
