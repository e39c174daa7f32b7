//! Black point compensation (ISO 18619, from memory): what is darkest to a profile comes out black, and all other colors move along.

use super::lab::{D50, Lab, of_xyz, xyz_of_d50};

/// What is darkest to a profile: XYZ under D50 that is taken off all colors, which are then spread again up to white. Engines in use
/// do it for each of X, Y and Z, so that a tinted black comes out black as well.
#[derive(Clone, Copy)]
pub(super) struct Black {
    dark: [f64; 3],
    spread: [f64; 3],
}

impl Black {
    /// Black as it is.
    pub(super) const NONE: Self = Self { dark: [0.0; 3], spread: [1.0; 3] };
    /// The lightness that no black is above.
    const LIGHTEST: f64 = 50.0;
    /// What is lighter than this is no black, but white of a profile of negatives.
    const NEGATIVE: f64 = 95.0;

    /// Of the darkest color, XYZ under D50.
    pub(super) fn of(darkest: [f64; 3]) -> Self {
        let Lab { l, a, b } = of_xyz(darkest);
        if !(0.0..=Self::NEGATIVE).contains(&l) {
            return Self::NONE;
        }
        let dark = xyz_of_d50(Lab { l: l.min(Self::LIGHTEST), a, b });
        Self { dark, spread: [0, 1, 2].map(|i| D50[i] / (D50[i] - dark[i])) }
    }

    /// XYZ under D50, with that taken off.
    pub(super) fn below(&self, xyz: [f64; 3]) -> [f64; 3] {
        [0, 1, 2].map(|i| (xyz[i] - self.dark[i]) * self.spread[i])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// White stays, the darkest becomes black, and what lies halfway between them lies halfway.
    #[test]
    fn colors_are_spread() {
        let dark = [0.02, 0.01, 0.003];
        let black = Black::of(dark);
        let near = |one: [f64; 3], two: [f64; 3]| one.iter().zip(two).all(|(one, two)| (one - two).abs() < 1e-9);
        assert!(near(black.below(dark), [0.0; 3]) && near(black.below(D50), D50));
        assert!(near(black.below([0, 1, 2].map(|i| (dark[i] + D50[i]) / 2.0)), D50.map(|v| v / 2.0)));
    }

    /// Gray of L* 50 reflects 0.184187 (CIE 15:2004): the most that is taken off. White is no black.
    #[test]
    fn black_is_not_light() {
        let gray = D50.map(|v| v * 0.3);
        assert!((Black::of(gray).dark[1] - 0.184_187).abs() < 1e-6);
        assert_eq!(Black::of(D50).below(gray), gray);
    }
}
