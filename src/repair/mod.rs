//! Marks on bare paper that are no part of the painting: found, told apart, and left out of the art.

mod faint;
mod fleck;
pub mod marks;
pub mod parts;
pub mod piece;
pub mod scrap;
mod streak;
mod toning;

pub use marks::{Kind, Rules};

use crate::error::Result;
use crate::filter::Regions;
use crate::image::Plane;
use crate::matte::evidence::Evidence;
use crate::units::Ppi;

/// A sheet of which more than this share is toned or shaded in patches is uneven.
pub const UNEVEN: f32 = 0.01;

/// What of the faint paint found is no paint.
#[derive(Debug)]
pub struct Stains {
    /// Where it is, at half size.
    pub at: Plane<bool>,
    /// How many there are; none is no `Stains`.
    pub count: usize,
}

/// Finds toning, stains, and streaks that run into a wash; `None` when all of the faint paint is paint. `regions` are those of
/// likely paint, `sure` says which of them count, `uneven` that the sheet has patches of its own.
///
/// # Errors
/// When there is no memory.
pub fn stains(evidence: &Evidence, regions: &Regions, sure: &[bool], uneven: bool, ppi: Ppi) -> Result<Option<Stains>> {
    let faint = faint::Faint::new(evidence, regions, sure)?;
    let mut at = Plane::new(faint.painted.width(), faint.painted.height(), "the stains of the paper")?;
    let count = toning::find(evidence, &faint, uneven, ppi, &mut at) + streak::find(evidence, &faint, ppi, &mut at)?;
    if count == 0 {
        return Ok(None);
    }
    fleck::join(evidence, &faint, ppi, &mut at);
    Ok(Some(Stains { at, count }))
}
