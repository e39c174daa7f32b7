//! What is painted with.

use crate::random::Random;
use crate::render::pigment::{
    CADMIUM_RED, CERULEAN, HANSA, HOOKERS_GREEN, INDIAN_RED, INK, ORANGE, PHTHALO, Pigment, ROSE, ULTRAMARINE, UMBER, WHITE, mix,
};

/// The paints of one painting.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Palette {
    /// Transparent color and black ink, for paper that is lighter than they are.
    Transparent,
    /// Body color and white ink, for dark paper, on which transparent color does not show.
    Body,
}

impl Palette {
    /// A pigment that shows on the palette's paper.
    pub(super) fn strong(self, random: &mut Random) -> Pigment {
        let parts = [ROSE, CADMIUM_RED, HOOKERS_GREEN, ULTRAMARINE, UMBER, CERULEAN, INDIAN_RED, PHTHALO, ORANGE];
        let (one, two) = (parts[random.below(parts.len())], parts[random.below(parts.len())]);
        let share = f64::from(random.between(0.2, 1.0));
        let color = mix(&[(one, share), (two, 1.0 - share)]);
        match self {
            Self::Transparent => color,
            Self::Body => mix(&[(color, 0.5), (WHITE, 0.5)]),
        }
    }

    /// A pigment for a wash that lies close to the paper.
    pub(super) fn pale(self, random: &mut Random) -> Pigment {
        let parts = match self {
            Self::Transparent => [HANSA, CERULEAN, ROSE, ULTRAMARINE],
            Self::Body => [HANSA, CERULEAN, INDIAN_RED, WHITE],
        };
        parts[random.below(parts.len())]
    }

    /// What lines are drawn with.
    pub(super) fn ink(self) -> Pigment {
        match self {
            Self::Transparent => INK,
            Self::Body => WHITE,
        }
    }
}
