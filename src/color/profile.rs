//! Embedded color profiles (ICC.1): samples to encoded sRGB, relative colorimetric.
//!
//! Profiles of three curves and a matrix, and gray ones of one curve, are computed here from what the library reads out
//! of them: its own path looks the last curve up in a table without interpolation, which costs up to six 16-bit counts
//! near black. Profiles with a color table go through the library, at 16 bits.
//!
//! The depth of the samples is kept. Widening 8-bit scans to 16 would keep the half count that rounding costs, less than
//! the noise of any scanner, and would double the memory of everything that comes after.

use std::sync::Arc;

use moxcms::{
    BarycentricWeightScale, Chromaticity, CicpProfile, ColorPrimaries, ColorProfile, DataColorSpace, InterpolationMethod, Layout,
    MatrixCoefficients, ProfileText, RenderingIntent, ToneReprCurve, TransferCharacteristics, Transform16BitExecutor,
    TransformOptions, XyY,
};

use super::transfer::Curves;
use crate::error::Warning;
use crate::image::Samples;

/// A profile that moves no color by more than this is taken as sRGB, and the samples pass unchanged. In encoded values:
/// one 8-bit count. The sRGB profiles in use differ from the standard by up to two thirds of a count, where their
/// curves are tables of few entries.
const SAME: f32 = 1.0 / 255.0;

/// Linear sRGB of XYZ under D50, the white that profiles refer to: the inverse of [`super::lab::XYZ_OF_LINEAR`] adapted
/// from its own white to (0.9642, 1, 0.8249) by the Bradford transform, as ICC.1:2010 annex E does.
#[rustfmt::skip]
pub(super) const LINEAR_OF_D50: [[f64; 3]; 3] = [
    [ 3.134_186_364_236_818, -1.617_208_958_998_274, -0.490_694_064_006_384],
    [-0.978_748_504_190_694_1,  1.916_130_096_773_586_8,  0.033_433_399_159_995_55],
    [ 0.071_963_927_802_246_75, -0.228_993_873_453_203_3,  1.405_753_732_896_444_7],
];

/// Pixels converted at a time through the library.
const BATCH: usize = 4096;

/// Converts RGB samples of a profile in place to encoded sRGB. `gray` says that they are one gray channel spread over
/// the three. Gives the name of the profile. Where the profile is damaged or does not fit the picture, the samples stay
/// as they are, to be taken as sRGB, and a remark says so.
pub fn convert(icc: &[u8], gray: bool, samples: &mut Samples, warnings: &mut Vec<Warning>) -> Option<String> {
    let profile = read(icc, warnings)?;
    let name = name(&profile);
    match Conversion::of(&profile, gray) {
        Some(conversion) if conversion.changes_nothing() => {}
        Some(conversion) => conversion.apply(samples),
        None => warnings.push(Warning::new(
            "unfit-profile",
            format!(
                "The color profile in the file ({}) does not fit its picture and was left out; the colors are taken as sRGB.",
                name.as_deref().unwrap_or("without a name")
            ),
        )),
    }
    name
}

/// What a file says of its colors where it has no profile.
pub enum Stated {
    /// The numbers of ITU-T H.273 for the primaries and for the curve.
    Numbers {
        /// Table 2 there.
        primaries: u8,
        /// Table 3 there.
        transfer: u8,
    },
    /// The power of a sample that its light is, and white, red, green and blue as CIE x and y; what is missing is as in sRGB.
    Curve {
        /// The power.
        power: Option<f32>,
        /// White, red, green and blue.
        chromaticities: Option<[[f32; 2]; 4]>,
    },
}

/// A display gamma this near 2.2 stands for sRGB, whose curve it was made to resemble (PNG, third edition, 11.3.2.5).
const LIKE_SRGB: f32 = 0.05;

/// Converts RGB samples whose colors a file states in place to encoded sRGB. Where they cannot be read the samples stay as they are,
/// and a remark says so.
pub fn convert_stated(stated: &Stated, samples: &mut Samples, warnings: &mut Vec<Warning>) {
    match Conversion::of_stated(stated) {
        Some(conversion) if conversion.changes_nothing() => {}
        Some(conversion) => conversion.apply(samples),
        None => warnings.push(Warning::new(
            "unread-colors",
            "The file states its colors in a way that is not read, such as for displays of high brightness; they are taken as sRGB.",
        )),
    }
}

/// A profile; a remark where it is damaged.
pub(super) fn read(icc: &[u8], warnings: &mut Vec<Warning>) -> Option<ColorProfile> {
    let profile = ColorProfile::new_from_slice(icc).ok();
    if profile.is_none() {
        warnings.push(Warning::new(
            "broken-profile",
            "The color profile in the file is damaged and was left out; the colors are taken as sRGB.",
        ));
    }
    profile
}

/// How the library converts.
pub(super) fn options() -> TransformOptions {
    TransformOptions {
        rendering_intent: RenderingIntent::RelativeColorimetric,
        prefer_fixed_point: false,
        // The closest of the library's ways, but up to 3 counts off exact tetrahedra in dark grays.
        interpolation_method: InterpolationMethod::Tetrahedral,
        barycentric_weight_scale: BarycentricWeightScale::High,
        ..TransformOptions::default()
    }
}

/// The description that the profile gives of itself.
pub(super) fn name(profile: &ColorProfile) -> Option<String> {
    let text = match profile.description.as_ref()? {
        ProfileText::PlainString(text) => text,
        ProfileText::Localizable(texts) => &texts.iter().find(|t| t.language == "en").or(texts.first())?.value,
        ProfileText::Description(text) if text.ascii_string.is_empty() => &text.unicode_string,
        ProfileText::Description(text) => &text.ascii_string,
    };
    let text = text.trim_matches(|c: char| c.is_control() || c.is_whitespace());
    (!text.is_empty()).then(|| text.to_owned())
}

/// How to come from a profile's samples to encoded sRGB.
enum Conversion {
    /// To linear light through a curve a channel, then to linear sRGB.
    Matrix { curves: [Box<[f32]>; 3], matrix: [[f32; 3]; 3] },
    /// To linear light through one curve for all channels, of sRGB's own primaries or of gray.
    Alike(Box<[f32]>),
    /// By the library.
    Table(Arc<Transform16BitExecutor>),
}

impl Conversion {
    /// `None` where profile and picture do not fit, or the profile lacks what it needs.
    fn of(profile: &ColorProfile, gray: bool) -> Option<Self> {
        let has_table = profile.lut_a_to_b_colorimetric.is_some() || profile.lut_a_to_b_perceptual.is_some();
        match profile.color_space {
            DataColorSpace::Gray if gray => Some(Self::Alike(curve(profile.gray_trc.as_ref()?)?)),
            DataColorSpace::Rgb if !has_table && profile.is_matrix_shaper() => {
                let primaries = profile.colorant_matrix().v;
                let matrix = LINEAR_OF_D50.map(|row| {
                    [0, 1, 2].map(|c| (row[0] * primaries[0][c] + row[1] * primaries[1][c] + row[2] * primaries[2][c]) as f32)
                });
                if !matrix.iter().flatten().all(|v| v.is_finite()) {
                    return None;
                }
                let curves = [&profile.red_trc, &profile.green_trc, &profile.blue_trc];
                let [Some(red), Some(green), Some(blue)] = curves.map(|c| c.as_ref().and_then(curve)) else { return None };
                Some(Self::Matrix { curves: [red, green, blue], matrix })
            }
            DataColorSpace::Rgb => {
                let srgb = ColorProfile::new_srgb();
                profile.create_transform_16bit(Layout::Rgb, &srgb, Layout::Rgb, options()).ok().map(Self::Table)
            }
            _ => None,
        }
    }

    /// `None` where nothing is known of such colors.
    fn of_stated(stated: &Stated) -> Option<Self> {
        let mut profile = ColorProfile::new_srgb();
        match *stated {
            Stated::Numbers { primaries, transfer } => {
                let numbers = CicpProfile {
                    color_primaries: primaries.try_into().ok()?,
                    transfer_characteristics: transfer.try_into().ok()?,
                    matrix_coefficients: MatrixCoefficients::Identity,
                    full_range: true,
                };
                if let TransferCharacteristics::Smpte2084 | TransferCharacteristics::Hlg = numbers.transfer_characteristics {
                    return None;
                }
                // Whether the library knew the numbers is told by its keeping them: what it returns is always the same.
                profile.cicp = None;
                profile.update_rgb_colorimetry_from_cicp(numbers);
                profile.cicp?;
            }
            Stated::Curve { power, chromaticities } => {
                let stated =
                    power.filter(|power| (power - 2.2).abs() > LIKE_SRGB).map(|power| ToneReprCurve::Parametric(vec![power]));
                let Some([white, red, green, blue]) = chromaticities else {
                    return Some(Self::Alike(curve(stated.as_ref().or(profile.red_trc.as_ref())?)?));
                };
                let [red, green, blue] = [red, green, blue].map(|[x, y]| Chromaticity { x, y });
                let white = XyY { x: white[0].into(), y: white[1].into(), yb: 1.0 };
                profile.update_rgb_colorimetry(white, ColorPrimaries { red, green, blue });
                if stated.is_some() {
                    (profile.red_trc, profile.green_trc, profile.blue_trc) = (stated.clone(), stated.clone(), stated);
                }
            }
        }
        Self::of(&profile, false)
    }

    /// Whether every color of a coarse cube and every gray stays where it is.
    fn changes_nothing(&self) -> bool {
        const CUBE: [u16; 6] = [0, 51, 102, 153, 204, 255];
        let cube = CUBE.iter().flat_map(|&r| CUBE.iter().flat_map(move |&g| CUBE.iter().map(move |&b| [r, g, b])));
        let grays = (0..=255).map(|v| [v; 3]);
        let mut pixels = match self {
            Self::Alike(_) => grays.collect::<Vec<_>>(),
            _ => cube.chain(grays).collect(),
        };
        pixels.iter_mut().for_each(|p| *p = p.map(|v| v * 257));
        let before = pixels.clone();
        let mut flat = pixels.into_flattened();
        self.apply_16(&mut flat);
        flat.iter().zip(before.as_flattened()).all(|(&now, &then)| f32::from(now.abs_diff(then)) <= SAME * 65535.0)
    }

    fn apply(&self, samples: &mut Samples) {
        match samples {
            Samples::Eight(v) => self.apply_8(v),
            Samples::Sixteen(v) => self.apply_16(v),
        }
    }

    fn apply_8(&self, samples: &mut [u8]) {
        match self {
            Self::Alike(curve) => {
                let table: Vec<u8> =
                    (0..=255_usize).map(|v| rounded(Curves::get().encoded(curve[v * 257]), 255.0) as u8).collect();
                samples.iter_mut().for_each(|v| *v = table[usize::from(*v)]);
            }
            Self::Matrix { curves, matrix } => {
                let small = [0, 1, 2].map(|c: usize| -> [f32; 256] { std::array::from_fn(|v| curves[c][v * 257]) });
                let transfer = Curves::get();
                for pixel in samples.as_chunks_mut::<3>().0 {
                    let linear = [0, 1, 2].map(|c| small[c][usize::from(pixel[c])]);
                    *pixel = encoded(transfer, matrix, linear).map(|v| rounded(v, 255.0) as u8);
                }
            }
            Self::Table(_) => {
                let mut wide = [0_u16; BATCH * 3];
                for part in samples.chunks_mut(BATCH * 3) {
                    let wide = &mut wide[..part.len()];
                    for (to, &from) in wide.iter_mut().zip(part.iter()) {
                        *to = u16::from(from) * 257;
                    }
                    self.apply_16(wide);
                    for (to, &from) in part.iter_mut().zip(wide.iter()) {
                        *to = ((u32::from(from) + 128) / 257) as u8;
                    }
                }
            }
        }
    }

    fn apply_16(&self, samples: &mut [u16]) {
        match self {
            Self::Alike(curve) => {
                for v in samples {
                    *v = rounded(Curves::get().encoded(curve[usize::from(*v)]), 65535.0) as u16;
                }
            }
            Self::Matrix { curves, matrix } => {
                let transfer = Curves::get();
                for pixel in samples.as_chunks_mut::<3>().0 {
                    let linear = [0, 1, 2].map(|c| curves[c][usize::from(pixel[c])]);
                    *pixel = encoded(transfer, matrix, linear).map(|v| rounded(v, 65535.0) as u16);
                }
            }
            Self::Table(library) => {
                let mut from = [0_u16; BATCH * 3];
                for part in samples.chunks_mut(BATCH * 3) {
                    let from = &mut from[..part.len()];
                    from.copy_from_slice(part);
                    // It fails only for slices of unequal length.
                    let _ = library.transform(from, part);
                }
            }
        }
    }
}

/// Linear light of every 16-bit sample.
fn curve(stated: &ToneReprCurve) -> Option<Box<[f32]>> {
    let curve = stated.make_linear_evaluator().ok()?;
    let table: Box<[f32]> = (0..=65535_u16).map(|v| curve.evaluate_value(f32::from(v) / 65535.0)).collect();
    table.iter().all(|v| v.is_finite()).then_some(table)
}

/// Linear light of the profile's primaries to encoded sRGB; what lies outside its gamut is clipped.
fn encoded(transfer: &Curves, matrix: &[[f32; 3]; 3], linear: [f32; 3]) -> [f32; 3] {
    matrix.map(|row| transfer.encoded(row[0] * linear[0] + row[1] * linear[1] + row[2] * linear[2]))
}

/// The nearest whole count.
fn rounded(v: f32, most: f32) -> u32 {
    (v * most + 0.5) as u32
}
