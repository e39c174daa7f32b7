//! The colors of a TIFF that are none of gray and red, green, blue: palettes, luma and color differences, L\*a\*b\*, print inks.

use std::io::{Read, Result as IoResult};

use tiff::tags::Tag;

use super::Tiff;
use crate::color::inks::Inks;
use crate::color::lab::{Lab, linear_of_d50};
use crate::color::transfer::Curves;
use crate::decode::lay::{Channels, Sample, lay};
use crate::decode::luma::Luma;

/// How the samples of a pixel come to be a color.
pub(super) enum Colors {
    /// Gray, or red, green, blue; gray may be black where it is most.
    Plain {
        white_is_zero: bool,
    },
    /// Numbers of colors.
    Palette(Vec<[u16; 3]>),
    Luma(Luma),
    /// Lightness and two axes of color; the axes are signed, or stored from 128 on.
    Lab {
        signed: bool,
    },
    Inks(Inks),
}

impl Colors {
    /// Lays a row of stored pixels out as RGB over white. Says whether any pixel was not opaque.
    pub(super) fn lay<S: Sample>(&self, row: &mut [S], channels: Channels, to: &mut [S]) -> bool {
        match self {
            Self::Plain { white_is_zero } => {
                if *white_is_zero {
                    row.iter_mut().step_by(channels.count).for_each(|v| *v = S::of(S::WHITE - v.value()));
                }
            }
            // Their pixels are numbers: see [`Self::look_up`].
            Self::Palette(_) => {}
            Self::Luma(luma) => {
                for pixel in row.chunks_exact_mut(channels.count) {
                    let [y, blue, red] = [0, 1, 2].map(|c| f32::from(pixel[c].sixteen()) * (255.0 / 65535.0));
                    let rgb = luma.rgb([y, blue, red]).map(|v| S::of_sixteen((v.clamp(0.0, 255.0) * 257.0 + 0.5) as u16));
                    pixel[..3].copy_from_slice(&rgb);
                }
            }
            Self::Lab { signed } => {
                let curves = Curves::get();
                for pixel in row.chunks_exact_mut(channels.count) {
                    let color = stored_lab([0, 1, 2].map(|c| pixel[c].value()), S::WHITE, *signed);
                    let rgb = linear_of_d50(color).map(|v| curves.encoded(v as f32));
                    (0..3).for_each(|c| pixel[c] = S::of_sixteen((rgb[c] * 65535.0 + 0.5) as u16));
                }
            }
            Self::Inks(inks) => {
                let four: Vec<u16> =
                    row.chunks_exact(channels.count).flat_map(|pixel| [0, 1, 2, 3].map(|c| pixel[c].sixteen())).collect();
                let mut rgb = vec![0; to.len()];
                inks.lay(&four, &mut rgb);
                to.iter_mut().zip(rgb).for_each(|(to, v)| *to = S::of_sixteen(v));
                return false;
            }
        }
        lay(row, channels, to)
    }

    /// Looks numbers up in the palette; what is beyond its end is black.
    pub(super) fn look_up<S: Sample>(&self, entries: &[u16], every: usize, to: &mut [S]) {
        let Self::Palette(palette) = self else { return };
        for (to, entry) in to.as_chunks_mut::<3>().0.iter_mut().zip(entries.iter().step_by(every)) {
            *to = palette.get(usize::from(*entry)).copied().unwrap_or_default().map(S::of_sixteen);
        }
    }
}

/// L\*a\*b\* as stored in 8 or 16 bits: TIFF 6.0, section 23; and the ICC's way, axes from 128 on, and in 16 bits white at FF00 (the
/// technical notes to TIFF of 1995, from memory).
fn stored_lab(stored: [u32; 3], white: u32, signed: bool) -> Lab {
    let wide = white > 0xFF;
    let most = if wide && !signed { 0xFF00 } else { white };
    let one = if wide { 256.0 } else { 1.0 };
    let axis = |v: u32| match (signed, wide) {
        (true, false) => f64::from(v as u8 as i8),
        (true, true) => f64::from(v as u16 as i16) / one,
        (false, _) => f64::from(v) / one - 128.0,
    };
    Lab { l: f64::from(stored[0]) * 100.0 / f64::from(most), a: axis(stored[1]), b: axis(stored[2]) }
}

/// How luma and color differences are stored; what is not stated, or not sound, is as in JPEG files.
pub(super) fn luma(tiff: &mut Tiff<'_>) -> Luma {
    let mut numbers = |tag: Tag| tiff.find_tag(tag).ok().flatten().and_then(|v| v.into_f32_vec().ok());
    let shares = numbers(Tag::Unknown(529)).and_then(|v| v.try_into().ok()).filter(|s: &[f32; 3]| s[1] > 0.0);
    let reference = numbers(Tag::Unknown(532)).and_then(|v| v.try_into().ok());
    let reference = reference.filter(|r: &[f32; 6]| r[1] > r[0] && r[3] > r[2] && r[5] > r[4]);
    Luma { shares: shares.unwrap_or(Luma::JPEG.shares), reference: reference.unwrap_or(Luma::JPEG.reference) }
}

/// Rows of luma and color differences, three bytes a pixel, where several pixels share their differences: they are stored in units of
/// `across` by `down` pixels of luma and one of each difference.
pub(super) struct Shared<'a> {
    pub(super) units: Box<dyn Read + 'a>,
    pub(super) wide: usize,
    pub(super) across: usize,
    pub(super) down: usize,
    /// Rows drawn, and how much of them was taken.
    pub(super) rows: Vec<u8>,
    pub(super) taken: usize,
}

impl Read for Shared<'_> {
    fn read(&mut self, out: &mut [u8]) -> IoResult<usize> {
        if self.taken == self.rows.len() {
            let (lumas, units) = (self.across * self.down, self.wide.div_ceil(self.across));
            let mut stored = vec![0; units * (lumas + 2)];
            self.units.read_exact(&mut stored)?;
            self.rows.resize(self.wide * self.down * 3, 0);
            for (x, y) in (0..self.down).flat_map(|y| (0..self.wide).map(move |x| (x, y))) {
                let unit = &stored[x / self.across * (lumas + 2)..][..lumas + 2];
                let luma = unit[y * self.across + x % self.across];
                self.rows[(y * self.wide + x) * 3..][..3].copy_from_slice(&[luma, unit[lumas], unit[lumas + 1]]);
            }
            self.taken = 0;
        }
        let count = out.len().min(self.rows.len() - self.taken);
        out[..count].copy_from_slice(&self.rows[self.taken..self.taken + count]);
        self.taken += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lab_as_it_is_stored() {
        let white = stored_lab([255, 0, 0], 0xFF, true);
        assert_eq!((white.l, white.a, white.b), (100.0, 0.0, 0.0));
        let red = stored_lab([128, 200, 0x38], 0xFF, false);
        assert!((red.l - 50.196).abs() < 1e-3 && red.a == 72.0 && red.b == -72.0, "{red:?}");
        let blue = stored_lab([0xFF00, 0x8000, 0x7F80], 0xFFFF, false);
        assert_eq!((blue.l, blue.a, blue.b), (100.0, 0.0, -0.5));
        assert_eq!(stored_lab([0, 0xFF, 0x80], 0xFF, true).b, -128.0);
    }

    #[test]
    fn pixels_share_their_color() {
        let stored: &[u8] = &[1, 2, 3, 4, 50, 60, 5, 6, 7, 8, 70, 80];
        let mut shared = Shared { units: Box::new(stored), wide: 3, across: 2, down: 2, rows: Vec::new(), taken: 0 };
        let mut out = [0; 18];
        shared.read_exact(&mut out).unwrap();
        assert_eq!(out, [1, 50, 60, 2, 50, 60, 5, 70, 80, 3, 50, 60, 4, 50, 60, 7, 70, 80]);
    }
}
