//! JPEG, baseline and progressive: gray, color, or print inks. Straight through the decoder that the `image` crate uses as well, which
//! turns inks to color by a rule of thumb and gives no picture without conversion.

mod apart;

use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::lay::{Alpha, Channels, Sample, lay};
use super::luma::Luma;
use super::{Format, Profile, Stored, cut_off, damaged, exif, limits};
use crate::color::inks::Inks;
use crate::error::{Error, Kind, Result, Warning, zeroed};
use crate::geometry::orient::Orientation;
use crate::image::Samples;

/// Passes of a progressive picture, at most: real ones have about ten.
const MOST_SCANS: usize = 200;

pub(super) fn read(bytes: &[u8]) -> Result<Stored> {
    let facts = walk(bytes);
    // The decoder fills what is missing with gray and says nothing.
    if facts.frame.is_some() && !facts.ended {
        return Err(cut_off(Format::Jpeg));
    }
    let mut decoding = open(bytes, facts.frame)?;
    let Decoding { width, height, colors, .. } = decoding;
    let pixels = width * height;
    let icc = decoding.decoder.icc_profile();
    let tags = decoding.decoder.exif().map(|block| exif::read(block)).unwrap_or_default();
    let mut warnings = Vec::new();
    let density = density(facts.density, tags.density, &mut warnings);
    let (gray, samples, profile) = match colors {
        ColorSpace::Luma => {
            let one = decoding.samples(ColorSpace::Luma)?;
            let mut samples = zeroed::<u8>(pixels * 3, "the scan")?;
            lay(&one, Channels::new(true, Alpha::None), &mut samples);
            (true, samples, Profile::of(icc))
        }
        ColorSpace::CMYK | ColorSpace::YCCK => {
            let four = decoding.samples(colors)?;
            let inks = Inks::of(icc.as_deref(), &mut warnings);
            (false, from_inks(&four, colors == ColorSpace::YCCK, &inks, width)?, Profile::Applied(inks.name))
        }
        _ => (false, decoding.samples(ColorSpace::RGB)?, Profile::of(icc)),
    };
    Ok(Stored {
        width,
        height,
        samples: Samples::Eight(samples),
        gray,
        orientation: tags.orientation.unwrap_or(Orientation::Upright),
        profile,
        density,
        pages: 1,
        page: 0,
        warnings,
    })
}

/// A picture as it is stored, without conversion of its colors.
pub(super) struct Picture {
    pub(super) width: usize,
    pub(super) channels: usize,
    pub(super) samples: Vec<u8>,
}

/// The picture of a part of another file, no larger than `most` across and down.
pub(super) fn stored(bytes: &[u8], most: [usize; 2]) -> Result<Picture> {
    let mut decoding = open(bytes, walk(bytes).frame)?;
    let Decoding { width, height, colors, .. } = decoding;
    if width > most[0] || height > most[1] {
        return Err(damaged(Format::Jpeg, &"a part of the picture is larger than it should be"));
    }
    Ok(Picture { width, channels: colors.num_components(), samples: decoding.samples(colors)? })
}

/// The size of the picture of another file, and how many channels it has.
pub(super) fn head(bytes: &[u8]) -> Result<([usize; 2], usize)> {
    let Decoding { width, height, colors, .. } = open(bytes, walk(bytes).frame)?;
    Ok(([width, height], colors.num_components()))
}

/// The samples of the picture of a PDF, as that counts them (ISO 32000-1, 7.4.8): gray, red, green and blue, or inks as they are
/// stored. `luma` says whether three channels are luma and color differences where the JPEG does not say so itself.
pub(super) fn drawn(bytes: &[u8], luma: bool, size: [usize; 2]) -> Result<Vec<u8>> {
    let facts = walk(bytes);
    if !facts.ended {
        return Err(cut_off(Format::Jpeg));
    }
    let mut decoding = open(bytes, facts.frame)?;
    let Decoding { width, height, colors, .. } = decoding;
    if [width, height] != size {
        return Err(damaged(Format::Jpeg, &"it is of two sizes"));
    }
    match colors {
        ColorSpace::Luma | ColorSpace::CMYK => decoding.samples(colors),
        ColorSpace::YCCK => {
            let mut four = decoding.samples(colors)?;
            for [a, b, c, _] in four.as_chunks_mut::<4>().0 {
                // A cast to an integer clamps.
                [*a, *b, *c] = Luma::JPEG.rgb([*a, *b, *c].map(f32::from)).map(|v| 255 - (v + 0.5) as u8);
            }
            Ok(four)
        }
        ColorSpace::YCbCr if !luma && !facts.tells_colors => decoding.samples(colors),
        _ => decoding.samples(ColorSpace::RGB),
    }
}

struct Decoding<'a> {
    bytes: &'a [u8],
    decoder: JpegDecoder<ZCursor<&'a [u8]>>,
    /// Whether its channels stand in scans of their own.
    apart: bool,
    width: usize,
    height: usize,
    /// What its channels are.
    colors: ColorSpace,
}

/// Reads the head of a picture.
fn open(bytes: &[u8], frame: Option<Frame>) -> Result<Decoding<'_>> {
    if let Some(why) = frame.and_then(Frame::refused) {
        return Err(Error::new(Kind::Unsupported, why));
    }
    if let Some(frame) = frame {
        limits::pixels(frame.width.into(), frame.height.into())?;
    }
    let side = usize::from(u16::MAX);
    let options = DecoderOptions::default().set_max_width(side).set_max_height(side).jpeg_set_max_scans(MOST_SCANS);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options.set_strict_mode(false));
    decoder.decode_headers().map_err(explained)?;
    let (Some((width, height)), Some(colors)) = (decoder.dimensions(), decoder.input_colorspace()) else {
        return Err(damaged(Format::Jpeg, &"there is no picture in it"));
    };
    if limits::pixels(width as u64, height as u64)? as u64 > limits::coded(bytes.len()) {
        return Err(cut_off(Format::Jpeg));
    }
    Ok(Decoding { bytes, decoder, apart: frame.is_some_and(|frame| frame.apart), width, height, colors })
}

impl Decoding<'_> {
    /// The samples in these colors: those that are stored, or RGB of luma and color differences.
    fn samples(&mut self, colors: ColorSpace) -> Result<Vec<u8>> {
        let mut samples = zeroed::<u8>(self.width * self.height * colors.num_components(), "the scan")?;
        if self.apart {
            self.put_together(colors, &mut samples)?;
        } else {
            let options = self.decoder.options().jpeg_set_out_colorspace(colors);
            self.decoder.set_options(options);
            self.decoder.decode_into(&mut samples).map_err(explained)?;
        }
        Ok(samples)
    }

    /// The samples of channels that stand apart.
    fn put_together(&self, colors: ColorSpace, samples: &mut [u8]) -> Result<()> {
        let count = colors.num_components();
        let channels = apart::channels(self.bytes)?.filter(|channels| channels.len() == count);
        let channels = channels.ok_or_else(|| damaged(Format::Jpeg, &"a channel is missing"))?;
        for (index, channel) in channels.iter().enumerate() {
            let mut alone = open(&channel.file, None)?;
            if !channel.fits(alone.width, alone.height) || alone.colors != ColorSpace::Luma {
                return Err(damaged(Format::Jpeg, &"a channel is of the wrong size"));
            }
            channel.spread(&alone.samples(ColorSpace::Luma)?, index, count, self.width, samples);
        }
        if self.colors == ColorSpace::YCbCr && colors == ColorSpace::RGB {
            for pixel in samples.as_chunks_mut::<3>().0 {
                // A cast to an integer clamps.
                *pixel = Luma::JPEG.rgb(pixel.map(f32::from)).map(|v| (v + 0.5) as u8);
            }
        }
        Ok(())
    }
}

/// Colors of stored inks. Nearly all files store how much of the paper is left bare, as the programs that write them have it
/// (common practice, no source); or luma and color differences of what is inked, and bare black (ITU-T T.872, from memory).
fn from_inks(stored: &[u8], as_luma: bool, inks: &Inks, width: usize) -> Result<Vec<u8>> {
    let mut samples = zeroed::<u8>(stored.len() / 4 * 3, "the scan")?;
    let (mut row, mut rgb) = (vec![0_u16; width * 4], vec![0_u16; width * 3]);
    for (to, from) in samples.chunks_mut(width * 3).zip(stored.chunks(width * 4)) {
        for (ink, pixel) in row.as_chunks_mut::<4>().0.iter_mut().zip(from.as_chunks::<4>().0) {
            let [a, b, c, black] = *pixel;
            // A cast to an integer clamps.
            let inked = if as_luma {
                Luma::JPEG.rgb([a, b, c].map(f32::from)).map(|v| (v + 0.5) as u8)
            } else {
                [a, b, c].map(|v| 255 - v)
            };
            *ink = [inked[0], inked[1], inked[2], 255 - black].map(Sample::sixteen);
        }
        inks.lay(&row, &mut rgb);
        to.iter_mut().zip(&rgb).for_each(|(to, v)| *to = Sample::of_sixteen(*v));
    }
    Ok(samples)
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
    /// Whether it says what its channels are: a segment of the programs that write print inks (ITU-T T.872, from memory).
    tells_colors: bool,
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
    channels: u8,
    /// Whether it is baseline and its first scan does not hold all channels.
    apart: bool,
}

impl Frame {
    /// Why this picture is not read.
    fn refused(self) -> Option<&'static str> {
        match self {
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
            0xDA => {
                if let (Some(frame), Some(count)) = (&mut facts.frame, segment.first()) {
                    frame.apart = matches!(frame.coding, 0 | 1) && *count < frame.channels;
                }
                break;
            }
            0xD9 => break,
            0xC0..=0xCF if !matches!(mark, 0xC4 | 0xC8 | 0xCC) => {
                if let [bits, h1, h0, w1, w0, channels, ..] = *segment {
                    let (height, width) = (u16::from_be_bytes([h1, h0]), u16::from_be_bytes([w1, w0]));
                    facts.frame.get_or_insert(Frame { coding: mark & 0xF, bits, width, height, channels, apart: false });
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
            0xEE => facts.tells_colors |= segment.starts_with(b"Adobe") && segment.len() >= 12,
            _ => {}
        }
        at += 2 + long;
    }
    // In the coded data an FF is always followed by a zero or a restart, so this cannot be a part of the picture.
    facts.ended = bytes.get(at.min(bytes.len())..).is_some_and(|rest| rest.windows(2).any(|pair| pair == [0xFF, 0xD9]));
    facts
}

fn explained(why: DecodeErrors) -> Error {
    match why {
        DecodeErrors::Unsupported(_) => Error::new(
            Kind::Unsupported,
            format!("This kind of JPEG is not read. Save it as TIFF or PNG from the program that it came from. ({why:?})"),
        ),
        DecodeErrors::LargeDimensions(_) => {
            Error::new(Kind::Limit, "This JPEG is too large to be read. Scan at a lower resolution.")
        }
        DecodeErrors::ExhaustedData => cut_off(Format::Jpeg),
        _ => damaged(Format::Jpeg, &format!("{why:?}")),
    }
}
