//! Embedded color profiles (ICC.1): samples to encoded sRGB, relative colorimetric. The one file that touches the
//! profile library.

use crate::error::Warning;
use crate::image::Samples;

/// Converts RGB samples in place; `gray` says that the three are one gray channel spread out. Gives the profile's name.
pub fn convert(_icc: &[u8], _gray: bool, _samples: &mut Samples, _warnings: &mut Vec<Warning>) -> Option<String> {
    None
}
