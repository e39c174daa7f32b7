//! The figures that a lift is judged by, and how large each may be. This is the one place for the limits.

use super::judged::Score;
use crate::render::element::Element;

/// Pixels of the sheet that sums over pixels are stated for: 1080 x 1350, a sheet of 91 x 114 mm at 300 ppi.
///
/// Sums of alpha errors, of gradient errors and of connectivity errors grow with the sheet. They are compared by the area: the sum over
/// the scene, times this, divided by the scene's pixels. Errors along edges grow with the length of the edges only, so that a smaller
/// sheet of the same composition comes out worse by it than a larger one, never better.
pub const SHEET: f64 = 1080.0 * 1350.0;

/// A scene whose figure is over this many times its limit counts as failed.
pub const FAILED: f64 = 3.0;

/// One figure; smaller is better in all of them.
pub struct Figure {
    /// Its name in a table.
    pub name: &'static str,
    /// How large it may be in the mean over scenes, if there is a limit to it.
    pub limit: Option<f64>,
    of: fn(&Judged) -> Option<f64>,
}

/// A judged lift of one scene.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The scene's seed.
    pub seed: u64,
    /// The scene's conditions in words.
    pub conditions: String,
    /// The words for its conditions that other scenes share.
    pub kinds: Vec<&'static str>,
    /// The scores.
    pub score: Score,
    /// The art laid back on the paper that the lift itself measured, against the scan: mean in 8-bit counts. Not known of an art that
    /// comes from elsewhere.
    pub identity: Option<f64>,
}

impl Figure {
    /// The figure of a name.
    ///
    /// # Panics
    /// When there is none.
    #[must_use]
    pub fn named(name: &str) -> &'static Self {
        FIGURES.iter().find(|f| f.name == name).unwrap_or_else(|| panic!("{name} is no figure"))
    }

    /// Its value for a scene; nothing where the scene has no pixel of what it is about.
    #[must_use]
    pub fn of(&self, judged: &Judged) -> Option<f64> {
        (self.of)(judged)
    }

    /// How many times its limit a scene is; 0 without a limit or a value.
    #[must_use]
    pub fn excess(&self, judged: &Judged) -> f64 {
        self.limit.zip(self.of(judged)).map_or(0.0, |(limit, value)| value / limit)
    }
}

/// A sum over a scene, in thousands, as it would be for a sheet of [`SHEET`].
fn per_sheet(sum: f64, score: &Score) -> Option<f64> {
    Some(sum * SHEET / score.pixels as f64)
}

fn lost(judged: &Judged, element: Element) -> Option<f64> {
    judged.score.element(element).map(|e| 100.0 * e.wrong)
}

fn difference(judged: &Judged, element: Element) -> Option<f64> {
    judged.score.element(element).map(|e| e.difference)
}

const fn figure(name: &'static str, limit: f64, of: fn(&Judged) -> Option<f64>) -> Figure {
    Figure { name, limit: Some(limit), of }
}

const fn noted(name: &'static str, of: fn(&Judged) -> Option<f64>) -> Figure {
    Figure { name, limit: None, of }
}

/// All figures. Color differences are CIEDE2000, shares are percent of the pixels in question.
pub const FIGURES: [Figure; 31] = [
    figure("edge", 1.3, |j| Some(j.score.edge.0)),
    figure("edge, 95 % under", 5.0, |j| Some(j.score.edge.1)),
    figure("band", 1.9, |j| Some(j.score.band.0)),
    noted("band, 95 % under", |j| Some(j.score.band.1)),
    figure("everywhere", 0.35, |j| Some(j.score.all.0)),
    noted("everywhere, 99 % under", |j| Some(j.score.all.1)),
    figure("alpha SAD per sheet", 15.0, |j| per_sheet(j.score.sad, &j.score)),
    noted("alpha SAD as summed", |j| Some(j.score.sad)),
    noted("alpha MSE", |j| Some(j.score.mse)),
    figure("gradient per sheet", 12.0, |j| per_sheet(j.score.gradient, &j.score)),
    noted("gradient as summed", |j| Some(j.score.gradient)),
    noted("connectivity per sheet", |j| per_sheet(j.score.connectivity, &j.score)),
    noted("connectivity as summed", |j| Some(j.score.connectivity)),
    figure("residue %", 0.02, |j| Some(100.0 * j.score.residue)),
    figure("blobs", 1.0, |j| Some(j.score.blobs as f64)),
    noted("stray streaks left %", |j| lost(j, Element::Stray)),
    figure("lost %", 0.5, |j| Some(100.0 * j.score.lost)),
    figure("lost of pale %", 0.8, |j| lost(j, Element::Pale)),
    figure("lost of reserved %", 0.5, |j| lost(j, Element::Reserved)),
    figure("lost of gouache %", 6.0, |j| lost(j, Element::Gouache)),
    figure("halo, L*", 1.5, |j| Some(j.score.halo)),
    figure("identity, counts", 0.10, |j| j.identity),
    figure("hard", 0.8, |j| difference(j, Element::Hard)),
    figure("wash", 0.6, |j| difference(j, Element::Wash)),
    figure("fade", 3.5, |j| difference(j, Element::Fade)),
    figure("pale", 0.9, |j| difference(j, Element::Pale)),
    figure("reserved", 1.0, |j| difference(j, Element::Reserved)),
    figure("dry", 1.8, |j| difference(j, Element::Dry)),
    figure("line", 1.2, |j| difference(j, Element::Line)),
    figure("splatter", 1.1, |j| difference(j, Element::Splatter)),
    figure("gouache", 1.5, |j| difference(j, Element::Gouache)),
];
