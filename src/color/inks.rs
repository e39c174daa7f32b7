//! Print inks (cyan, magenta, yellow, black) to encoded sRGB: by the profile of the press where the file has one.

use super::profile;
use super::table::Table;
use super::transfer::Curves;
use crate::error::Warning;

/// The way from inks to color.
pub struct Inks {
    /// Without a profile, by what is left of white light behind one ink after the other.
    by_profile: Option<Table>,
    /// The name of the profile.
    pub name: Option<String>,
}

impl Inks {
    /// By the profile in the file, relative colorimetric, the darkest color that its press prints as black. Where there is none, or
    /// it is damaged or of no press, a remark says so.
    pub fn of(icc: Option<&[u8]>, warnings: &mut Vec<Warning>) -> Self {
        let profile = icc.and_then(|icc| profile::read(icc, warnings));
        let name = profile.as_ref().and_then(profile::name);
        let by_profile = profile.filter(profile::is_of_inks).and_then(|profile| Table::of(&profile));
        if by_profile.is_none() {
            warnings.push(Warning::new(
                "print-colors",
                "The scan is in print colors (CMYK) without the profile of a press, so its colors are only roughly right. \
                 Scan again in color (RGB).",
            ));
        }
        Self { by_profile, name }
    }

    /// Turns `inks`, four 16-bit samples a pixel of which 65535 is full ink, into RGB, three a pixel.
    pub fn lay(&self, inks: &[u16], rgb: &mut [u16]) {
        let pixels = rgb.as_chunks_mut::<3>().0.iter_mut().zip(inks.as_chunks::<4>().0);
        let Some(table) = &self.by_profile else {
            for (to, from) in pixels {
                let [c, m, y, k] = from.map(|ink| u64::from(u16::MAX - ink));
                *to = [c, m, y].map(|light| ((light * k + 32_767) / 65_535) as u16);
            }
            return;
        };
        let curves = Curves::get();
        for (to, from) in pixels {
            *to = table
                .linear(from.map(|ink| f32::from(ink) / 65535.0))
                .map(|light| (curves.encoded(light) * 65535.0 + 0.5) as u16);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is left of white behind ink and black: (1 - c) (1 - k). Common practice, no source.
    #[test]
    fn without_a_profile_inks_take_their_share_of_light() {
        let mut warnings = Vec::new();
        let inks = Inks::of(None, &mut warnings);
        assert_eq!(warnings[0].code, "print-colors");
        let mut rgb = [0; 9];
        inks.lay(&[0, 0, 0, 0, 65_535, 0, 0, 0, 0, 0, 32_768, 32_768], &mut rgb);
        assert_eq!(rgb, [65_535, 65_535, 65_535, 0, 65_535, 65_535, 32_767, 32_767, 16_383]);
    }
}
