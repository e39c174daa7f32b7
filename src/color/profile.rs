//! Embedded color profiles (ICC.1): samples to encoded sRGB, relative colorimetric, with the profile's black as black.
//!
//! The library reads profiles; what it reads is computed here, and in `table.rs`. Its own path looks the last curve up in a table
//! without interpolation, which costs up to six 16-bit counts near black, and leaves black as it is.
//!
//! The depth of the samples is kept. Widening 8-bit scans to 16 would keep the half count that rounding costs, less than
//! the noise of any scanner, and would double the memory of everything that comes after.

use moxcms::{
    Chromaticity, CicpProfile, ColorPrimaries, ColorProfile, DataColorSpace, MatrixCoefficients, ProfileText, ToneReprCurve,
    TransferCharacteristics, XyY,
};

use super::black::Black;
use super::lab::{D50, Lab, linear_of_xyz, xyz_of_d50};
use super::math;
use super::table::Table;
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

/// Whether its samples are the four inks of print.
pub(super) fn is_of_inks(profile: &ColorProfile) -> bool {
    profile.color_space == DataColorSpace::Cmyk
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
    /// To linear light through a curve a channel, then to linear sRGB; the last of a row is added.
    Matrix { curves: [Box<[f32]>; 3], matrix: [[f32; 4]; 3] },
    /// To linear light through one curve for all channels, of sRGB's own primaries or of gray.
    Alike(Box<[f32]>),
    /// Through a color table.
    Table(Table),
}

impl Conversion {
    /// `None` where profile and picture do not fit, or the profile lacks what it needs.
    fn of(profile: &ColorProfile, gray: bool) -> Option<Self> {
        let has_table = profile.lut_a_to_b_colorimetric.is_some() || profile.lut_a_to_b_perceptual.is_some();
        match profile.color_space {
            DataColorSpace::Gray if gray && has_table => Table::of(profile).map(Self::Table),
            DataColorSpace::Gray if gray => Some(Self::Alike(gray_curve(profile)?)),
            DataColorSpace::Rgb if has_table => Table::of(profile).map(Self::Table),
            DataColorSpace::Rgb if profile.is_matrix_shaper() => {
                let primaries = profile.colorant_matrix().v;
                let [red, green, blue] = [&profile.red_trc, &profile.green_trc, &profile.blue_trc];
                let curves = [curve(red.as_ref()?)?, curve(green.as_ref()?)?, curve(blue.as_ref()?)?];
                let xyz = |light: [f64; 3]| primaries.map(|row| row[0] * light[0] + row[1] * light[1] + row[2] * light[2]);
                let black = Black::of(xyz([0, 1, 2].map(|c| f64::from(curves[c][0]))));
                let linear = |light| linear_of_xyz(black.below(xyz(light)));
                let dark = linear([0.0; 3]);
                let [red, green, blue] = [linear([1.0, 0.0, 0.0]), linear([0.0, 1.0, 0.0]), linear([0.0, 0.0, 1.0])];
                let matrix =
                    [0, 1, 2].map(|r| [red[r] - dark[r], green[r] - dark[r], blue[r] - dark[r], dark[r]].map(|v| v as f32));
                matrix.iter().flatten().all(|v| v.is_finite()).then_some(Self::Matrix { curves, matrix })
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
            Self::Table(table) => {
                // Scans of 8 bits have few colors that are near each other: each is converted once, as long as it is near.
                let mut known = vec![None; 1 << 12];
                for pixel in samples.as_chunks_mut::<3>().0 {
                    let place = pixel.iter().fold(0, |place, v| place << 4 | usize::from(v & 15));
                    let color = known[place].filter(|(from, _)| from == pixel).map_or_else(
                        || through(table, pixel.map(|v| f32::from(v) / 255.0)).map(|v| rounded(v, 255.0) as u8),
                        |(_, color)| color,
                    );
                    known[place] = Some((*pixel, color));
                    *pixel = color;
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
            Self::Table(table) => {
                for pixel in samples.as_chunks_mut::<3>().0 {
                    *pixel = through(table, pixel.map(|v| f32::from(v) / 65535.0)).map(|v| rounded(v, 65535.0) as u16);
                }
            }
        }
    }
}

/// Linear light of a profile of gray, black as black. Where its colors are told by L\*, its curve gives that (ICC.1:2010, F.2).
fn gray_curve(profile: &ColorProfile) -> Option<Box<[f32]>> {
    let mut curve = curve(profile.gray_trc.as_ref()?)?;
    if profile.pcs == DataColorSpace::Lab {
        curve.iter_mut().for_each(|v| *v = xyz_of_d50(Lab { l: f64::from(*v) * 100.0, a: 0.0, b: 0.0 })[1] as f32);
    }
    let gray = |v: f32| D50.map(|white| white * f64::from(v));
    let black = Black::of(gray(curve[0]));
    curve.iter_mut().for_each(|v| *v = black.below(gray(*v))[1] as f32);
    Some(curve)
}

/// A pixel of samples 0..1 through a table to encoded sRGB.
fn through(table: &Table, [red, green, blue]: [f32; 3]) -> [f32; 3] {
    table.linear([red, green, blue, 0.0]).map(|light| Curves::get().encoded(light))
}

/// A curve of a profile at every 16-bit sample: ICC.1:2010, 10.5 and 10.15. `None` where it is not sound. Not by the library, to which zero
/// to the power of 461/256, and of other numbers, is far below zero.
pub(super) fn curve(stated: &ToneReprCurve) -> Option<Box<[f32]>> {
    let at = |i: u16| f64::from(i) / 65535.0;
    let table: Box<[f32]> = match stated {
        ToneReprCurve::Lut(nodes) => match nodes[..] {
            [] => (0..=65535).map(|i| at(i) as f32).collect(),
            [power] => (0..=65535).map(|i| math::pow(at(i), f64::from(power) / 256.0) as f32).collect(),
            _ => (0..=65535).map(|i| between(nodes, at(i)) as f32).collect(),
        },
        ToneReprCurve::Parametric(numbers) => {
            let [g, a, b, c, d, e, f] = parameters(numbers)?.map(f64::from);
            let part = |x: f64| if x >= d { math::pow((a * x + b).max(0.0), g) + e } else { c * x + f };
            (0..=65535).map(|i| part(at(i)) as f32).collect()
        }
    };
    table.iter().all(|v| v.is_finite()).then_some(table)
}

/// Straight between the nearest two of at least two nodes.
fn between(nodes: &[u16], x: f64) -> f64 {
    let place = x * (nodes.len() - 1) as f64;
    let below = (place as usize).min(nodes.len() - 2);
    let [low, high] = [nodes[below], nodes[below + 1]].map(f64::from);
    (low + (high - low) * (place - below as f64)) / 65535.0
}

/// The numbers g, a, b, c, d, e and f of a curve of any of the five kinds, so that it is (a x + b)^g + e from d on, and c x + f below.
fn parameters(numbers: &[f32]) -> Option<[f32; 7]> {
    Some(match *numbers {
        [g] => [g, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        [g, a, b] => [g, a, b, 0.0, -b / a, 0.0, 0.0],
        [g, a, b, c] => [g, a, b, 0.0, -b / a, c, c],
        [g, a, b, c, d] => [g, a, b, c, d, 0.0, 0.0],
        [g, a, b, c, d, e, f] => [g, a, b, c, d, e, f],
        _ => return None,
    })
}

/// Linear light of the profile's primaries to encoded sRGB; what lies outside its gamut is clipped.
fn encoded(transfer: &Curves, matrix: &[[f32; 4]; 3], linear: [f32; 3]) -> [f32; 3] {
    matrix.map(|row| transfer.encoded(row[0] * linear[0] + row[1] * linear[1] + row[2] * linear[2] + row[3]))
}

/// The nearest whole count.
fn rounded(v: f32, most: f32) -> u32 {
    (v * most + 0.5) as u32
}
