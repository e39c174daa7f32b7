//! The studio's colors: mixtures of the pigments, named by what they are for.

use crate::render::pigment::{
    CADMIUM_RED, CADMIUM_YELLOW, CERULEAN, HANSA, HOOKERS_GREEN, INDIAN_RED, INK, ORANGE, PHTHALO, Pigment, ROSE, ULTRAMARINE,
    UMBER, mix,
};

pub(super) fn apricot() -> Pigment {
    mix(&[(ORANGE, 0.55), (ROSE, 0.22), (HANSA, 0.3)])
}

pub(super) fn coral() -> Pigment {
    mix(&[(ORANGE, 0.45), (ROSE, 0.55), (CADMIUM_RED, 0.25)])
}

pub(super) fn shell_rose() -> Pigment {
    mix(&[(ROSE, 0.8), (INDIAN_RED, 0.12), (UMBER, 0.12)])
}

pub(super) fn sienna() -> Pigment {
    mix(&[(UMBER, 0.55), (ORANGE, 0.5)])
}

pub(super) fn sand() -> Pigment {
    mix(&[(HANSA, 0.42), (UMBER, 0.34), (ORANGE, 0.12)])
}

pub(super) fn ochre() -> Pigment {
    mix(&[(CADMIUM_YELLOW, 0.5), (UMBER, 0.4), (ORANGE, 0.2)])
}

pub(super) fn olive() -> Pigment {
    mix(&[(HOOKERS_GREEN, 0.45), (UMBER, 0.42), (HANSA, 0.35)])
}

pub(super) fn weed_brown() -> Pigment {
    mix(&[(UMBER, 0.8), (HOOKERS_GREEN, 0.28), (ORANGE, 0.2)])
}

pub(super) fn grass_green() -> Pigment {
    mix(&[(PHTHALO, 0.30), (HANSA, 0.62), (UMBER, 0.16)])
}

pub(super) fn deep_green() -> Pigment {
    mix(&[(HOOKERS_GREEN, 0.7), (ULTRAMARINE, 0.3), (UMBER, 0.15)])
}

pub(super) fn aqua() -> Pigment {
    mix(&[(PHTHALO, 0.55), (CERULEAN, 0.45)])
}

pub(super) fn bottle() -> Pigment {
    mix(&[(PHTHALO, 0.7), (HANSA, 0.35)])
}

pub(super) fn cobalt() -> Pigment {
    mix(&[(ULTRAMARINE, 0.75), (CERULEAN, 0.35)])
}

pub(super) fn amber() -> Pigment {
    mix(&[(ORANGE, 0.7), (UMBER, 0.22), (HANSA, 0.4)])
}

/// The violet gray of shadows inside pale things.
pub(super) fn shadow() -> Pigment {
    mix(&[(ULTRAMARINE, 0.62), (UMBER, 0.26), (ROSE, 0.24)])
}

/// A cool gray for stones.
pub(super) fn slate() -> Pigment {
    mix(&[(ULTRAMARINE, 0.55), (UMBER, 0.45)])
}

/// The dark for accents: not black.
pub(super) fn sepia() -> Pigment {
    mix(&[(UMBER, 0.75), (ULTRAMARINE, 0.55), (INK, 0.10)])
}
