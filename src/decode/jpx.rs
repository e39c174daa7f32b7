//! JPEG 2000 (ISO/IEC 15444-1) as a PDF holds it: ISO 32000-1, 7.4.9. The `hayro-jpeg2000` crate decodes it, into numbers of 32 bits
//! and the whole picture at once.

use hayro_jpeg2000::{ColorSpace, DecodeSettings, DecoderContext, Image};

use super::{Format, cut_off, damaged, limits};
use crate::error::{Error, Kind, Result, reserved, zeroed};

/// Bytes that a tile takes at least: where it begins and where its data do (A.4.2 and A.4.3).
const TILE: u64 = 14;
/// Pixels that a byte stands for at most: a block of coefficients has no more (A.6.1, `xcb` and `ycb`), and in a scan none is empty.
const BLOCK: u64 = 4096;

/// What a picture says of itself.
pub(super) struct Head {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Bits of a channel as [`samples`] gives it, 8 or 16.
    pub(super) bits: usize,
    /// Channels of color.
    pub(super) channels: usize,
    /// Whether one more tells how far a pixel is there.
    pub(super) alpha: bool,
    /// The color profile of those channels, where they are not gray, sRGB or inks without one.
    pub(super) profile: Option<Vec<u8>>,
}

/// What a picture says of itself. `numbers` says whether the numbers of colors are wanted where it has a palette, and not the colors.
///
/// # Errors
/// For damage, for kinds of colors that are not read, and for what is too large.
pub(super) fn head(bytes: &[u8], numbers: bool) -> Result<Head> {
    open(bytes, numbers).map(|open| open.head)
}

/// A picture before it is decoded.
struct Open<'a> {
    image: Image<'a>,
    head: Head,
    /// Channels that are stored, of color or not.
    channels: usize,
}

fn open(bytes: &[u8], numbers: bool) -> Result<Open<'_>> {
    let settings = DecodeSettings { resolve_palette_indices: !numbers, ..DecodeSettings::default() };
    let image = Image::new(bytes, &settings).map_err(|why| broken(&why))?;
    limits::pixels(image.width().into(), image.height().into())?;
    let stream = codestream(bytes).ok_or_else(|| cut_off(Format::Pdf))?;
    let pixels = u64::from(image.width()) * u64::from(image.height());
    if stream.tiles.saturating_mul(TILE) > stream.length || pixels > stream.length.saturating_mul(BLOCK) {
        return Err(cut_off(Format::Pdf));
    }
    let (channels, profile) = match image.color_space() {
        ColorSpace::Gray => (1, None),
        ColorSpace::RGB => (3, None),
        ColorSpace::CMYK => (4, None),
        ColorSpace::Icc { profile, num_channels: channels @ (1 | 3 | 4) } => (usize::from(*channels), Some(profile.clone())),
        ColorSpace::Icc { .. } | ColorSpace::Unknown { .. } => {
            return Err(Error::new(
                Kind::Unsupported,
                "This PDF has its picture as JPEG 2000 in colors of a rare kind. Scan the painting as TIFF, PNG or JPEG.",
            ));
        }
    };
    let head = Head {
        width: image.width() as usize,
        height: image.height() as usize,
        bits: if image.original_bit_depth() > 8 { 16 } else { 8 },
        channels,
        alpha: image.has_alpha(),
        profile,
    };
    Ok(Open { image, channels: stream.channels.max(head.channels), head })
}

/// The samples of the channels of color, row by row, of 16 bits with the higher byte first. They are stretched to 8 or 16 bits, but for
/// `numbers` of colors.
///
/// # Errors
/// For damage, or want of memory.
pub(super) fn samples(bytes: &[u8], numbers: bool) -> Result<Vec<u8>> {
    let Open { image, head: Head { width, height, bits, channels, .. }, channels: stored } = open(bytes, numbers)?;
    let pixels = width * height;
    if stored > channels + 1 {
        return Err(broken(&format!("{stored} channels")));
    }
    // The library takes what it needs without asking: the channels, once more where they are told apart by name, and a part of the
    // picture as it stands in the file and as it becomes.
    drop(reserved::<f32>(pixels.saturating_mul(2 * stored + 3), "unpacking the JPEG 2000")?);
    let mut context = DecoderContext::default();
    let decoded = image.decode(&mut context).map_err(|why| broken(&why))?;
    let planes = decoded.components();
    if planes.len() < channels || planes.iter().any(|plane| plane.samples().len() != pixels) {
        return Err(broken(&"channels are missing"));
    }
    let bytes_each = bits / 8;
    let mut out = zeroed::<u8>(pixels * channels * bytes_each, "the scan")?;
    for (channel, plane) in planes.iter().take(channels).enumerate() {
        let most = ((1_u64 << bits) - 1) as f32;
        let stretch = if numbers { 1.0 } else { most / ((1_u64 << plane.bit_depth().clamp(1, 32)) - 1) as f32 };
        let places = out.chunks_exact_mut(channels * bytes_each);
        for (to, value) in places.zip(plane.samples()) {
            // A cast to an integer clamps.
            let value = ((value * stretch).min(most) + 0.5) as u16;
            match to[channel * bytes_each..][..bytes_each] {
                [ref mut byte] => *byte = value as u8,
                ref mut two => two.copy_from_slice(&value.to_be_bytes()),
            }
        }
    }
    Ok(out)
}

/// What is told of a picture before its first tile.
struct Stream {
    /// Its bytes.
    length: u64,
    tiles: u64,
    /// Channels that are stored.
    channels: usize,
}

/// What the library does not tell: ISO/IEC 15444-1, I.4 (boxes) and A.5.1 (size).
fn codestream(bytes: &[u8]) -> Option<Stream> {
    let (mut rest, mut stream) = (bytes, None);
    if bytes.starts_with(&[0xFF, 0x4F]) {
        (rest, stream) = (&[], Some(bytes));
    }
    while let Some((&length, after)) = rest.split_first_chunk::<4>() {
        let head = if u32::from_be_bytes(length) == 1 { 16 } else { 8 };
        let length = match u32::from_be_bytes(length) {
            0 => rest.len(),
            1 => usize::try_from(u64::from_be_bytes(*rest.get(8..)?.first_chunk()?)).unwrap_or(usize::MAX),
            length => length as usize,
        };
        // Some boxes end beyond the file, and the library takes what there is.
        let length = length.min(rest.len());
        let Some(content) = rest.get(head..length) else { break };
        if after.starts_with(b"jp2c") {
            stream = Some(content);
        }
        rest = &rest[length..];
    }
    let stream = stream?;
    let number = |at: usize| stream.get(at..)?.first_chunk().map(|four| u64::from(u32::from_be_bytes(*four)));
    // Size of the grid, of a tile, and where the first tile begins.
    let tiles = |along: usize| Some(number(8 + along)?.saturating_sub(number(32 + along)?).div_ceil(number(24 + along)?.max(1)));
    let channels = stream.get(40..)?.first_chunk().map(|two| usize::from(u16::from_be_bytes(*two)))?;
    Some(Stream { length: stream.len() as u64, tiles: tiles(0)?.saturating_mul(tiles(4)?), channels })
}

fn broken(why: &dyn std::fmt::Display) -> Error {
    damaged(Format::Pdf, &format!("its JPEG 2000: {why}"))
}
