//! Marks on bare paper that are no part of the painting: found, told apart, and left out of the art.

mod faint;
pub mod marks;
mod streak;
mod toning;

pub use marks::{Kind, Rules};

use crate::error::Result;
use crate::filter::Regions;
use crate::image::Plane;
use crate::matte::evidence::Evidence;
use crate::units::Ppi;

/// What of the faint paint found is no paint, at half size: toning, stains, and streaks that run into a wash. `None` when all
/// of it is paint. `regions` are those of likely paint, `sure` says which of them count.
///
/// # Errors
/// When there is no memory.
pub fn stains(evidence: &Evidence, regions: &Regions, sure: &[bool], ppi: Ppi) -> Result<Option<Plane<bool>>> {
    let faint = faint::Faint::new(evidence, regions, sure)?;
    let mut found = Plane::new(faint.painted.width(), faint.painted.height(), "the stains of the paper")?;
    let toned = toning::find(evidence, &faint, ppi, &mut found);
    let streaked = streak::find(evidence, &faint, ppi, &mut found)?;
    Ok((toned || streaked).then_some(found))
}
