//! Washes that run out to nothing.

use super::cover::Cover;
use super::evidence::Evidence;
use crate::error::Result;
use crate::image::{Plane, Sheet};
use crate::paper::PaperField;

/// Softens the matte where a wash runs out.
///
/// # Errors
/// When there is no memory.
pub fn soften(_s: &Sheet, _f: &PaperField, _e: &Evidence, _c: &Cover, _m: &mut Plane<u16>) -> Result<()> {
    Ok(())
}
