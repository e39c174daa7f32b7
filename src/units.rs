//! Lengths and resolutions as types of their own, so that mixing them does not compile.

/// Millimeters in an inch (exact by definition, ISO 80000-3).
pub const MM_PER_INCH: f64 = 25.4;

/// Scan resolution in pixels per inch.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Ppi(pub f64);

/// A length in millimeters.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Mm(pub f64);

/// A length in pixels of the oriented sheet.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Px(pub f64);

impl Ppi {
    /// What is taken where a file does not say: common practice for scans meant for print, no source.
    pub const ASSUMED: Self = Self(300.0);

    /// Pixels to one of 300 ppi, 1..2.5: tooth and washes are so many millimeters wide whatever the resolution, but below 300
    /// ppi noise sets the scale.
    #[must_use]
    pub fn coarseness(self) -> f32 {
        (self.0 as f32 / 300.0).clamp(1.0, 2.5)
    }

    /// Pixels per meter, rounded, as the PNG `pHYs` chunk stores it: 300 ppi is 11811.
    #[must_use]
    pub fn per_meter(self) -> u32 {
        (self.0 / MM_PER_INCH * 1000.0).round() as u32
    }
}

impl Mm {
    /// This length at a resolution.
    #[must_use]
    pub fn at(self, ppi: Ppi) -> Px {
        Px(self.0 / MM_PER_INCH * ppi.0)
    }
}

impl Px {
    /// This length at a resolution.
    #[must_use]
    pub fn at(self, ppi: Ppi) -> Mm {
        Mm(self.0 / ppi.0 * MM_PER_INCH)
    }
}

/// Area of `pixels` pixels in square millimeters at a resolution.
#[must_use]
pub fn area_mm2(pixels: u64, ppi: Ppi) -> f64 {
    let side = Px(1.0).at(ppi).0;
    pixels as f64 * side * side
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values computed from the PNG specification's unit (pixels per meter) and the exact inch.
    #[test]
    fn per_meter() {
        for (ppi, stored) in [(72.0, 2835), (96.0, 3780), (150.0, 5906), (254.0, 10000), (300.0, 11811), (600.0, 23622)] {
            assert_eq!(Ppi(ppi).per_meter(), stored);
        }
    }

    #[test]
    fn an_inch_is_25_4_mm() {
        assert_eq!(Mm(25.4).at(Ppi(300.0)), Px(300.0));
        assert!((area_mm2(90_000, Ppi(300.0)) - 645.16).abs() < 1e-9);
    }
}
