//! WebP and BMP through the `image` crate: 8 bits a channel, the whole picture at once.

use std::io::Cursor;

use image::codecs::{bmp::BmpDecoder, webp::WebPDecoder};
use image::{ColorType, ImageDecoder, ImageError};

use super::lay::{Alpha, Channels, lay, transparency};
use super::{Format, Profile, Stored, cut_off, damaged, exif, limits};
use crate::error::{Error, Kind, Result, zeroed};
use crate::geometry::orient::Orientation;
use crate::image::Samples;
use crate::units::MM_PER_INCH;

pub(super) fn read(bytes: &[u8], format: Format) -> Result<Stored> {
    let file = Cursor::new(bytes);
    match format {
        Format::Bmp => decoded(BmpDecoder::new(file).map_err(|why| explained(&why, format))?, format, bmp_density(bytes)),
        _ => decoded(WebPDecoder::new(file).map_err(|why| explained(&why, format))?, format, None),
    }
}

fn decoded(mut decoder: impl ImageDecoder, format: Format, density: Option<(f64, f64)>) -> Result<Stored> {
    let (width, height) = decoder.dimensions();
    let pixels = limits::pixels(width.into(), height.into())?;
    let profile = Profile::of(decoder.icc_profile().map_err(|why| explained(&why, format))?);
    let block = decoder.exif_metadata().map_err(|why| explained(&why, format))?;
    let facts = block.as_deref().map(exif::read).unwrap_or_default();
    let color = decoder.color_type();
    let (gray, alpha) = match color {
        ColorType::L8 => (true, Alpha::None),
        ColorType::La8 => (true, Alpha::Straight),
        ColorType::Rgb8 => (false, Alpha::None),
        ColorType::Rgba8 => (false, Alpha::Straight),
        other => return Err(damaged(format, &format!("unexpected colors {other:?}"))),
    };
    let channels = Channels::new(gray, alpha);
    let mut stored = zeroed::<u8>(pixels * channels.count, "the scan")?;
    decoder.read_image(&mut stored).map_err(|why| explained(&why, format))?;
    let (samples, seen) = if channels == Channels::new(false, Alpha::None) {
        (stored, false)
    } else {
        let mut samples = zeroed::<u8>(pixels * 3, "the scan")?;
        let seen = lay(&stored, channels, &mut samples);
        (samples, seen)
    };
    Ok(Stored {
        width: width as usize,
        height: height as usize,
        samples: Samples::Eight(samples),
        gray,
        orientation: facts.orientation.unwrap_or(Orientation::Upright),
        profile,
        density: density.or(facts.density),
        pages: 1,
        page: 0,
        warnings: if seen { vec![transparency()] } else { Vec::new() },
    })
}

/// Pixels per meter stand in the header behind size, depth and length; older headers, of 12 bytes, have none.
fn bmp_density(bytes: &[u8]) -> Option<(f64, f64)> {
    let number = |at: usize| bytes.get(at..at + 4)?.try_into().ok().map(i32::from_le_bytes);
    let per_inch = |at: usize| number(at).filter(|v| *v > 0).map(|v| f64::from(v) * MM_PER_INCH / 1000.0);
    if number(14)? < 40 {
        return None;
    }
    per_inch(38).zip(per_inch(42))
}

fn explained(why: &ImageError, format: Format) -> Error {
    let name = format.name();
    match why {
        ImageError::Unsupported(_) => Error::new(
            Kind::Unsupported,
            format!("This kind of {name} is not read. Save it as TIFF or PNG from the program that it came from. ({why})"),
        ),
        ImageError::Limits(_) => {
            Error::new(Kind::Limit, format!("This {name} is too large to be read. Scan at a lower resolution."))
        }
        ImageError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => cut_off(format),
        _ => damaged(format, why),
    }
}
