//! PNG. Straight through the `png` crate, since the `image` crate's wrapper around it gives neither the resolution nor
//! single rows: with rows a 16-bit scan with transparency is never held twice.

use std::io::Cursor;

use png::{BitDepth, ColorType, Decoder, DecodingError, Limits, Reader, ScaledFloat, Transformations, Unit};

use super::lay::{Alpha, Channels, Sample, lay, transparency};
use super::{Format, Profile, Stored, cut_off, damaged, exif, limits};
use crate::color::profile::Stated;
use crate::error::{Error, Kind, Result, zeroed};
use crate::geometry::orient::Orientation;
use crate::image::Samples;
use crate::units::MM_PER_INCH;

/// What the decoder may take for itself: a row, and the text and profile of the file.
const WORKING_MEMORY: usize = 256 << 20;

pub(super) fn read(bytes: &[u8]) -> Result<Stored> {
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes), Limits { bytes: WORKING_MEMORY });
    decoder.set_transformations(Transformations::EXPAND);
    decoder.set_ignore_text_chunk(true);
    let header = decoder.read_header_info().map_err(explained)?;
    let pixels = limits::pixels(header.width.into(), header.height.into())?;
    let bits = pixels as u64 * header.color_type.samples() as u64 * header.bit_depth as u64;
    if bits / 8 > limits::unpacked(bytes.len()) {
        return Err(cut_off(Format::Png));
    }
    let mut reader = decoder.read_info().map_err(explained)?;
    let info = reader.info();
    // The decoder takes it for granted that entries are whole (the rule: PNG, third edition, 11.2.2), and panics.
    if info.palette.as_ref().is_some_and(|palette| palette.len() % 3 != 0) {
        return Err(damaged(Format::Png, &"the palette ends within a color"));
    }
    let (width, height) = (info.width as usize, info.height as usize);
    let mut warnings = Vec::new();
    let meters = info.pixel_dims.filter(|d| d.unit == Unit::Meter);
    let density = meters.map(|d| (f64::from(d.xppu), f64::from(d.yppu))).map(|(x, y)| (per_inch(x), per_inch(y)));
    let facts = info.exif_metadata.as_deref().map(exif::read).unwrap_or_default();
    let profile = colors(info);
    let (color, depth) = reader.output_color_type();
    let (gray, alpha) = match color {
        ColorType::Grayscale => (true, Alpha::None),
        ColorType::GrayscaleAlpha => (true, Alpha::Straight),
        ColorType::Rgb => (false, Alpha::None),
        ColorType::Rgba => (false, Alpha::Straight),
        ColorType::Indexed => return Err(damaged(Format::Png, &"the palette is missing")),
    };
    let channels = Channels::new(gray, alpha);
    let mut seen = false;
    let samples = if depth == BitDepth::Sixteen {
        let mut out = zeroed::<u16>(pixels * 3, "the scan")?;
        let mut wide = zeroed::<u16>(width * channels.count, "a row of the scan")?;
        rows(&mut reader, width, |y, row| {
            for (to, from) in wide.iter_mut().zip(row.as_chunks::<2>().0) {
                *to = u16::from_be_bytes(*from);
            }
            seen |= lay_row(&wide, channels, &mut out, width, y);
        })?;
        Samples::Sixteen(out)
    } else {
        let mut out = zeroed::<u8>(pixels * 3, "the scan")?;
        rows(&mut reader, width, |y, row| seen |= lay_row(row, channels, &mut out, width, y))?;
        Samples::Eight(out)
    };
    if seen {
        warnings.push(transparency());
    }
    Ok(Stored {
        width,
        height,
        samples,
        gray,
        orientation: facts.orientation.unwrap_or(Orientation::Upright),
        profile,
        density: density.or(facts.density),
        pages: 1,
        page: 0,
        warnings,
    })
}

fn lay_row<S: Sample>(row: &[S], channels: Channels, out: &mut [S], width: usize, y: usize) -> bool {
    lay(row, channels, &mut out[y * width * 3..(y + 1) * width * 3])
}

/// Hands every row over with its number. Rows of an interlaced picture are known only when all of it is.
fn rows(reader: &mut Reader<Cursor<&[u8]>>, width: usize, mut take: impl FnMut(usize, &[u8])) -> Result<()> {
    if reader.info().interlaced {
        let size = reader.output_buffer_size().ok_or_else(|| damaged(Format::Png, &"size out of range"))?;
        let mut whole = zeroed::<u8>(size, "an interlaced PNG")?;
        reader.next_frame(&mut whole).map_err(explained)?;
        let line = reader.output_line_size(width as u32).ok_or_else(|| damaged(Format::Png, &"size out of range"))?;
        whole.chunks_exact(line).enumerate().for_each(|(y, row)| take(y, row));
        return Ok(());
    }
    for y in 0..reader.info().height as usize {
        let row = reader.next_row().map_err(explained)?.ok_or_else(|| cut_off(Format::Png))?;
        take(y, row.data());
    }
    Ok(())
}

fn per_inch(per_meter: f64) -> f64 {
    per_meter * MM_PER_INCH / 1000.0
}

/// What the file says of its colors, the best first: PNG, third edition, 4.3.
fn colors(info: &png::Info<'_>) -> Profile {
    if let Some(numbers) = info.coding_independent_code_points.filter(|numbers| numbers.is_video_full_range_image) {
        return Profile::Stated(Stated::Numbers { primaries: numbers.color_primaries, transfer: numbers.transfer_function });
    }
    if let Some(icc) = &info.icc_profile {
        return Profile::Embedded(icc.to_vec());
    }
    let (gamma, chromaticities) = (info.gama_chunk, info.chrm_chunk);
    if info.srgb.is_some() || gamma.is_none() && chromaticities.is_none() {
        return Profile::None;
    }
    let power = gamma.map(|gamma| 1.0 / gamma.into_value()).filter(|power| power.is_finite());
    let place = |(x, y): (ScaledFloat, ScaledFloat)| [x.into_value(), y.into_value()];
    let chromaticities = chromaticities.map(|c| [c.white, c.red, c.green, c.blue].map(place));
    Profile::Stated(Stated::Curve { power, chromaticities })
}

fn explained(why: DecodingError) -> Error {
    match &why {
        DecodingError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => cut_off(Format::Png),
        DecodingError::LimitsExceeded => Error::new(
            Kind::Limit,
            "The PNG asks for more memory than a picture of its size needs. Save it again from the program that it came from.",
        ),
        _ => damaged(Format::Png, &why),
    }
}
