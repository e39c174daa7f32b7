//! JPEG, baseline and progressive, gray or color, through the `image` crate.

use std::io::Cursor;

use image::codecs::jpeg::JpegDecoder;
use image::{ColorType, ImageDecoder, ImageError};

use super::lay::{Alpha, Channels, lay};
use super::{Format, Stored, cut_off, damaged, exif, limits};
use crate::error::{Error, Kind, Result, Warning, zeroed};
use crate::geometry::orient::Orientation;
use crate::image::Samples;

pub(super) fn read(bytes: &[u8]) -> Result<Stored> {
    let facts = walk(bytes);
    if let Some(why) = facts.frame.and_then(Frame::refused) {
        return Err(Error::new(Kind::Unsupported, why));
    }
    if let Some(frame) = facts.frame {
        limits::pixels(frame.width.into(), frame.height.into())?;
    }
    let mut decoder = JpegDecoder::new(Cursor::new(bytes)).map_err(explained)?;
    let (width, height) = decoder.dimensions();
    let pixels = limits::pixels(width.into(), height.into())?;
    // The decoder fills what is missing with gray and says nothing.
    if !facts.ended {
        return Err(cut_off(Format::Jpeg));
    }
    let profile = decoder.icc_profile().map_err(explained)?;
    let block = decoder.exif_metadata().map_err(explained)?;
    let tags = block.as_deref().map(exif::read).unwrap_or_default();
    let mut warnings = Vec::new();
    let density = density(facts.density, tags.density, &mut warnings);
    let gray = match decoder.color_type() {
        ColorType::L8 => true,
        ColorType::Rgb8 => false,
        other => return Err(damaged(Format::Jpeg, &format!("unexpected colors {other:?}"))),
    };
    let mut samples = zeroed::<u8>(pixels * 3, "the scan")?;
    if gray {
        let mut one = zeroed::<u8>(pixels, "the scan")?;
        decoder.read_image(&mut one).map_err(explained)?;
        lay(&one, Channels::new(true, Alpha::None), &mut samples);
    } else {
        decoder.read_image(&mut samples).map_err(explained)?;
    }
    Ok(Stored {
        width: width as usize,
        height: height as usize,
        samples: Samples::Eight(samples),
        gray,
        orientation: tags.orientation.unwrap_or(Orientation::Upright),
        profile,
        density,
        warnings,
    })
}

/// Two places state a resolution. Where they differ, 72 and 96 are what is written by those who do not know.
fn density(header: Option<(f64, f64)>, tags: Option<(f64, f64)>, warnings: &mut Vec<Warning>) -> Option<(f64, f64)> {
    let (Some(one), Some(two)) = (header, tags) else { return header.or(tags) };
    if (one.0 - two.0).abs() <= 1.0 && (one.1 - two.1).abs() <= 1.0 {
        return Some(one);
    }
    let known = |d: (f64, f64)| d.0 > 10.0 && d.0 != 72.0 && d.0 != 96.0;
    let (taken, left) = if known(one) || !known(two) { (one, two) } else { (two, one) };
    warnings.push(Warning::new(
        "two-ppi",
        format!("The file states {} and {} pixels per inch; {} is taken.", taken.0.round(), left.0.round(), taken.0.round()),
    ));
    Some(taken)
}

/// What the markers of a JPEG say, ITU-T T.81 annex B.
#[derive(Debug, Default)]
struct Facts {
    frame: Option<Frame>,
    /// JFIF's pixels per inch, across and down.
    density: Option<(f64, f64)>,
    /// Whether the mark of the end was found.
    ended: bool,
}

/// The frame header.
#[derive(Clone, Copy, Debug)]
struct Frame {
    /// The last digit of its marker, which says how the picture is coded.
    coding: u8,
    bits: u8,
    width: u16,
    height: u16,
    components: u8,
}

impl Frame {
    /// Why this picture is not read.
    fn refused(self) -> Option<&'static str> {
        match self {
            Self { components: 4, .. } => Some(
                "This JPEG is in print colors (CMYK). Scan again in color (RGB), or save it as RGB from the program that it came from.",
            ),
            Self { coding: 3 | 7 | 11 | 15, .. } => {
                Some("This JPEG is of the rare lossless kind. Save it as TIFF or PNG from the program that it came from.")
            }
            Self { coding: 9 | 10 | 13 | 14, .. } => {
                Some("This JPEG is of the rare arithmetic kind. Save it as TIFF or PNG from the program that it came from.")
            }
            Self { bits, .. } if bits != 8 => {
                Some("This JPEG has more than 8 bits a channel. Save it as TIFF or PNG from the program that it came from.")
            }
            _ => None,
        }
    }
}

/// Walks the markers up to the picture, then looks for the end.
fn walk(bytes: &[u8]) -> Facts {
    let mut facts = Facts::default();
    let mut at = 2;
    while let Some(&mark) = bytes.get(at + 1) {
        if bytes[at] != 0xFF || mark == 0xFF || mark == 0 {
            // Filling, or dirt between the segments, which decoders pass over as well.
            at += 1;
            continue;
        }
        if mark == 0x01 || (0xD0..=0xD8).contains(&mark) {
            at += 2;
            continue;
        }
        let Some(long) = bytes.get(at + 2..at + 4) else { break };
        let long = usize::from(u16::from_be_bytes([long[0], long[1]]));
        let segment = bytes.get(at + 4..(at + 2 + long).max(at + 4)).unwrap_or_default();
        match mark {
            0xDA | 0xD9 => break,
            0xC0..=0xCF if !matches!(mark, 0xC4 | 0xC8 | 0xCC) => {
                if let [bits, h1, h0, w1, w0, components, ..] = *segment {
                    let (height, width) = (u16::from_be_bytes([h1, h0]), u16::from_be_bytes([w1, w0]));
                    facts.frame.get_or_insert(Frame { coding: mark & 0xF, bits, width, height, components });
                }
            }
            0xE0 => {
                if let [b'J', b'F', b'I', b'F', 0, _, _, unit, x1, x0, y1, y0, ..] = *segment {
                    let (x, y) = (f64::from(u16::from_be_bytes([x1, x0])), f64::from(u16::from_be_bytes([y1, y0])));
                    facts.density = match unit {
                        1 => Some((x, y)),
                        2 => Some((x * 2.54, y * 2.54)),
                        _ => None,
                    };
                }
            }
            _ => {}
        }
        at += 2 + long;
    }
    // In the coded data an FF is always followed by a zero or a restart, so this cannot be a part of the picture.
    facts.ended = bytes.get(at.min(bytes.len())..).is_some_and(|rest| rest.windows(2).any(|pair| pair == [0xFF, 0xD9]));
    facts
}

fn explained(why: ImageError) -> Error {
    match why {
        ImageError::Unsupported(_) => Error::new(
            Kind::Unsupported,
            format!("This kind of JPEG is not read. Save it as TIFF or PNG from the program that it came from. ({why})"),
        ),
        ImageError::Limits(_) => {
            Error::new(Kind::Limit, format!("This JPEG is too large to be read. Scan at a lower resolution. ({why})"))
        }
        ImageError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => cut_off(Format::Jpeg),
        _ => damaged(Format::Jpeg, &why),
    }
}
