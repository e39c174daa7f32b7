//! Print inks (cyan, magenta, yellow, black) to encoded sRGB: by the profile of the press where the file has one.

use std::sync::Arc;

use moxcms::{ColorProfile, DataColorSpace, Layout, Transform16BitExecutor};

use super::profile;
use crate::error::Warning;

/// Pixels converted at a time.
const BATCH: usize = 4096;

/// The way from inks to color.
pub struct Inks {
    /// By the library; without a profile, by what is left of white light behind one ink after the other.
    by_profile: Option<Arc<Transform16BitExecutor>>,
    /// The name of the profile.
    pub name: Option<String>,
}

impl Inks {
    /// By the profile in the file, relative colorimetric with the darkest ink as black. Where there is none, or it is damaged or
    /// of no press, a remark says so.
    pub fn of(icc: Option<&[u8]>, warnings: &mut Vec<Warning>) -> Self {
        let profile = icc.and_then(|icc| profile::read(icc, warnings));
        let name = profile.as_ref().and_then(profile::name);
        let by_profile = profile.filter(|profile| profile.color_space == DataColorSpace::Cmyk).and_then(|profile| {
            let (srgb, options) = (ColorProfile::new_srgb(), profile::options());
            profile.create_transform_16bit(Layout::Rgba, &srgb, Layout::Rgb, options).ok()
        });
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
        let Some(library) = &self.by_profile else {
            for (to, from) in rgb.as_chunks_mut::<3>().0.iter_mut().zip(inks.as_chunks::<4>().0) {
                let [c, m, y, k] = from.map(|ink| u64::from(u16::MAX - ink));
                *to = [c, m, y].map(|light| ((light * k + 32_767) / 65_535) as u16);
            }
            return;
        };
        for (to, from) in rgb.chunks_mut(BATCH * 3).zip(inks.chunks(BATCH * 4)) {
            // It fails only for slices that do not belong together.
            let _ = library.transform(from, to);
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
