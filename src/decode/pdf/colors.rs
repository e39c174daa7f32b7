//! The colors of a picture in a PDF: ISO 32000-1, 8.6.

use hayro_syntax::object::{Array, Dict, Name, Object, Stream};

use super::filters::Packed;
use super::{broken, unsupported};
use crate::color::inks::Inks;
use crate::color::lab::{Lab, linear_of_d50};
use crate::color::profile::Stated;
use crate::color::transfer::Curves;
use crate::decode::Profile;
use crate::decode::lay::Sample;
use crate::error::{Result, Warning};

/// The largest profile or table of colors, in bytes.
const LARGEST_TABLE: u64 = 16 << 20;
/// Colors that are told by other colors, at most.
const MOST_DEEP: usize = 4;

/// What the samples of a pixel mean.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Space {
    Gray,
    Rgb,
    /// Print inks.
    Inks,
    /// By a profile of so many channels.
    Icc {
        channels: usize,
        profile: Vec<u8>,
    },
    /// Gray, the light being a power of it.
    CalGray {
        power: f32,
    },
    /// Red, green and blue with their power, white, and primaries.
    CalRgb {
        power: f32,
        chromaticities: Option<[[f32; 2]; 4]>,
    },
    /// L\*a\*b\*, with the least and most of both axes of color.
    Lab {
        axes: [f64; 4],
    },
    /// Numbers of colors; their samples stand one after the other.
    Palette {
        base: Box<Self>,
        table: Vec<u8>,
    },
}

/// The way to red, green and blue.
pub(super) enum Ready {
    /// They are it.
    Gray,
    /// They are it.
    Rgb,
    Inks(Inks),
    Lab([f64; 4]),
    Palette(Vec<[u8; 3]>),
}

impl Space {
    /// The colors of a picture. `defaults` holds those that stand for a device's (8.6.5.6).
    ///
    /// # Errors
    /// For colors that are not read, in words.
    pub(super) fn of(object: &Object<'_>, defaults: &Dict<'_>, depth: usize) -> Result<Self> {
        if depth > MOST_DEEP {
            return Err(broken("its colors are told by themselves"));
        }
        let inner = |object: Option<Object<'_>>| {
            object.map_or_else(|| Err(broken("its colors are not stated")), |object| Self::of(&object, defaults, depth + 1))
        };
        match object {
            Object::Name(name) => {
                let (device, default) = match name.as_ref() {
                    b"DeviceGray" | b"G" | b"CalGray" => (Self::Gray, "DefaultGray"),
                    b"DeviceRGB" | b"RGB" | b"CalRGB" => (Self::Rgb, "DefaultRGB"),
                    b"DeviceCMYK" | b"CMYK" => (Self::Inks, "DefaultCMYK"),
                    other => {
                        return defaults.get::<Object<'_>>(other).map_or_else(|| Err(rare(other)), |object| inner(Some(object)));
                    }
                };
                match defaults.get::<Object<'_>>(default) {
                    Some(array @ Object::Array(_)) => inner(Some(array)),
                    _ => Ok(device),
                }
            }
            Object::Array(array) => {
                let mut parts = array.flex_iter();
                let name = parts.next::<Name<'_>>();
                match name.as_deref().unwrap_or_default() {
                    b"ICCBased" => parts.next::<Stream<'_>>().map_or_else(|| Err(broken("a profile is missing")), |s| icc(&s)),
                    b"CalGray" => Ok(Self::CalGray { power: power(&parts.next().unwrap_or_default(), 1)[0] }),
                    b"CalRGB" => Ok(calibrated(&parts.next().unwrap_or_default())),
                    b"Lab" => {
                        let stated = parts.next::<Dict<'_>>().and_then(|dict| numbers(&dict, "Range"));
                        let axes = stated.and_then(|v| v.try_into().ok()).filter(|a: &[f64; 4]| a[0] < a[1] && a[2] < a[3]);
                        Ok(Self::Lab { axes: axes.unwrap_or([-100.0, 100.0, -100.0, 100.0]) })
                    }
                    b"Indexed" | b"I" => {
                        let base = inner(parts.next::<Object<'_>>())?;
                        let most = parts.next::<u32>().unwrap_or(255).min(255) as usize;
                        let mut table = match parts.next::<Object<'_>>() {
                            Some(Object::String(table)) => table.as_bytes().to_vec(),
                            Some(Object::Stream(table)) => Packed::of(&table)?.whole(LARGEST_TABLE)?.into_owned(),
                            _ => return Err(broken("its palette is missing")),
                        };
                        table.truncate((most + 1) * base.channels());
                        Ok(Self::Palette { base: Box::new(base), table })
                    }
                    // Some write the name of a device in brackets.
                    b"DeviceGray" | b"DeviceRGB" | b"DeviceCMYK" | b"G" | b"RGB" | b"CMYK" => {
                        inner(name.clone().map(Object::Name))
                    }
                    other => Err(rare(other)),
                }
            }
            _ => Err(broken("its colors are not stated")),
        }
    }

    /// Colors of so many channels of which nothing else is known.
    pub(super) fn of_channels(channels: usize) -> Self {
        match channels {
            1 => Self::Gray,
            3 => Self::Rgb,
            _ => Self::Inks,
        }
    }

    /// Samples of a pixel.
    pub(super) fn channels(&self) -> usize {
        match self {
            Self::Gray | Self::CalGray { .. } | Self::Palette { .. } => 1,
            Self::Rgb | Self::CalRgb { .. } | Self::Lab { .. } => 3,
            Self::Inks => 4,
            Self::Icc { channels, .. } => *channels,
        }
    }

    /// Whether a profile of gray belongs to it.
    pub(super) fn is_gray(&self) -> bool {
        match self {
            Self::Palette { base, .. } => base.is_gray(),
            other => other.channels() == 1,
        }
    }

    /// Whether its samples are numbers of colors.
    pub(super) fn is_palette(&self) -> bool {
        matches!(self, Self::Palette { .. })
    }

    /// The least and most that each channel can mean.
    pub(super) fn ranges(&self) -> Vec<[f64; 2]> {
        match self {
            Self::Lab { axes: [a, b, c, d] } => vec![[0.0, 100.0], [*a, *b], [*c, *d]],
            other => vec![[0.0, 1.0]; other.channels()],
        }
    }

    /// The way to red, green and blue, and what is still to be done with those.
    pub(super) fn ready(&self, warnings: &mut Vec<Warning>) -> (Ready, Profile) {
        match self {
            Self::Gray => (Ready::Gray, Profile::None),
            Self::Rgb => (Ready::Rgb, Profile::None),
            Self::CalGray { power } => {
                (Ready::Gray, Profile::Stated(Stated::Curve { power: Some(*power), chromaticities: None }))
            }
            Self::CalRgb { power, chromaticities } => {
                (Ready::Rgb, Profile::Stated(Stated::Curve { power: Some(*power), chromaticities: *chromaticities }))
            }
            Self::Icc { channels: 4, profile } => inked(Inks::of(Some(profile), warnings)),
            Self::Inks => inked(Inks::of(None, warnings)),
            Self::Icc { channels, profile } => {
                (if *channels == 1 { Ready::Gray } else { Ready::Rgb }, Profile::Embedded(profile.clone()))
            }
            Self::Lab { axes } => (Ready::Lab(*axes), Profile::Applied(None)),
            Self::Palette { base, table } => {
                let (way, profile) = base.ready(warnings);
                let mut colors = vec![[0; 3]; table.len() / base.channels()];
                way.lay(table, colors.as_flattened_mut());
                (Ready::Palette(colors), profile)
            }
        }
    }
}

fn inked(inks: Inks) -> (Ready, Profile) {
    let name = inks.name.clone();
    (Ready::Inks(inks), Profile::Applied(name))
}

fn rare(name: &[u8]) -> crate::error::Error {
    unsupported(&format!("has its picture in colors of a rare kind ({})", String::from_utf8_lossy(name)))
}

fn icc(stream: &Stream<'_>) -> Result<Space> {
    match stream.dict().get::<u32>("N") {
        Some(channels @ (1 | 3 | 4)) => {
            let profile = Packed::of(stream)?.whole(LARGEST_TABLE)?.into_owned();
            Ok(Space::Icc { channels: channels as usize, profile })
        }
        _ => Err(broken("a color profile is of an impossible number of channels")),
    }
}

fn numbers(dict: &Dict<'_>, key: &str) -> Option<Vec<f64>> {
    dict.get::<Array<'_>>(key).map(|array| array.iter::<f32>().take(16).map(f64::from).collect())
}

/// Powers of light, 1 where they are not stated or not sound: tables 63 and 64.
fn power(dict: &Dict<'_>, channels: usize) -> Vec<f32> {
    let stated = numbers(dict, "Gamma").or_else(|| dict.get::<f32>("Gamma").map(|one| vec![one.into()])).unwrap_or_default();
    let sound = |v: &f64| (0.1..10.0).contains(v);
    (0..channels).map(|i| stated.get(i).copied().filter(sound).unwrap_or(1.0) as f32).collect()
}

/// Table 64. The columns of the matrix are the primaries, in XYZ. Channels of different powers do not occur; the middle one is taken.
fn calibrated(dict: &Dict<'_>) -> Space {
    let chromaticity = |xyz: &[f64]| {
        let sum = xyz[0] + xyz[1] + xyz[2];
        [xyz[0] / sum, xyz[1] / sum].map(|v| v as f32)
    };
    let all = numbers(dict, "WhitePoint").filter(|v| v.len() == 3).zip(numbers(dict, "Matrix").filter(|v| v.len() == 9));
    let chromaticities = all.map(|(white, matrix)| [&white, &matrix[..3], &matrix[3..6], &matrix[6..]].map(chromaticity));
    let chromaticities = chromaticities.filter(|all| all.iter().flatten().all(|v| v.is_finite() && (0.0..=1.0).contains(v)));
    Space::CalRgb { power: power(dict, 3)[1], chromaticities }
}

impl Ready {
    /// Lays samples out as red, green and blue.
    pub(super) fn lay<S: Sample>(&self, row: &[S], to: &mut [S]) {
        let pixels = to.as_chunks_mut::<3>().0;
        match self {
            Self::Gray => pixels.iter_mut().zip(row).for_each(|(to, v)| *to = [*v; 3]),
            Self::Rgb => pixels.iter_mut().zip(row.as_chunks::<3>().0).for_each(|(to, from)| *to = *from),
            Self::Inks(inks) => {
                let four: Vec<u16> = row.iter().map(|v| v.sixteen()).collect();
                let mut rgb = vec![0; to.len()];
                inks.lay(&four, &mut rgb);
                to.iter_mut().zip(rgb).for_each(|(to, v)| *to = S::of_sixteen(v));
            }
            Self::Lab([a0, a1, b0, b1]) => {
                let curves = Curves::get();
                for (to, from) in pixels.iter_mut().zip(row.as_chunks::<3>().0) {
                    let [l, a, b] = from.map(|v| f64::from(v.value()) / f64::from(S::WHITE));
                    let color = Lab { l: l * 100.0, a: a0 + a * (a1 - a0), b: b0 + b * (b1 - b0) };
                    let rgb = linear_of_d50(color).map(|v| curves.encoded(v as f32));
                    *to = rgb.map(|v| S::of_sixteen((v * 65535.0 + 0.5) as u16));
                }
            }
            // Its pixels are numbers: see `look_up`.
            Self::Palette(_) => {}
        }
    }

    /// Looks numbers up in the palette; what is beyond its end is the last color (8.6.6.3).
    pub(super) fn look_up<S: Sample>(&self, entries: &[u16], to: &mut [S]) {
        let Self::Palette(palette) = self else { return };
        for (to, entry) in to.as_chunks_mut::<3>().0.iter_mut().zip(entries) {
            let color = palette.get(usize::from(*entry)).or(palette.last()).copied().unwrap_or_default();
            *to = color.map(S::of_eight);
        }
    }
}
