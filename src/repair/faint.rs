//! Faint paint: what was found, less what is so strong that it was left out of the pooling. At half size.

use crate::error::Result;
use crate::filter::Regions;
use crate::image::Plane;
use crate::matte::evidence::Evidence;

/// Faint paint and all other, at half size.
pub(super) struct Faint {
    /// Whatever was found.
    pub(super) painted: Plane<bool>,
    known: Plane<bool>,
}

impl Faint {
    /// Of the regions of likely paint; `sure` says which of them count.
    ///
    /// # Errors
    /// When there is no memory.
    pub(super) fn new(evidence: &Evidence, regions: &Regions, sure: &[bool]) -> Result<Self> {
        let (w, h) = (evidence.pooled.width(), evidence.pooled.height());
        let mut painted: Plane<bool> = Plane::new(w, h, "the stains of the paper")?;
        for y in 0..regions.height() {
            let row = painted.row_mut(y / 2);
            for run in regions.row(y).iter().filter(|run| sure[run.region as usize]) {
                row[run.start as usize / 2..(run.end as usize).div_ceil(2)].fill(true);
            }
        }
        let known = Plane::from_vec(w, h, evidence.pooled.data().iter().map(|v| *v != [0.0; 3]).collect());
        Ok(Self { painted, known })
    }

    /// Whether a pixel is faint paint.
    pub(super) fn at(&self, x: usize, y: usize) -> bool {
        self.painted.at(x, y) && self.known.at(x, y)
    }

    /// Whether a pixel is paint too strong to be pooled.
    pub(super) fn is_strong(&self, x: usize, y: usize) -> bool {
        self.painted.at(x, y) && !self.known.at(x, y)
    }

    /// Whether it is bare, and its pooled residual known.
    pub(super) fn is_bare(&self, x: usize, y: usize) -> bool {
        !self.painted.at(x, y) && self.known.at(x, y)
    }
}
