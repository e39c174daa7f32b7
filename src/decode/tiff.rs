//! TIFF 6.0 and its 64-bit sibling. The `tiff` crate reads the directories; strips and tiles are unpacked row by row, straight into
//! the sheet, since the crate reads fewer kinds of color, depth and packing than scanners and archives write.

mod coding;
mod colors;
mod page;

use std::io::Cursor;

use tiff::TiffError;
use tiff::decoder::{Decoder, Limits};
use tiff::tags::Tag;

use super::{Format, Profile, Stored, cut_off, damaged, limits, no_such_page, one_of_many};
use crate::error::{Error, Kind, Result, Warning};
use crate::geometry::orient::Orientation;
use page::Page;

/// Pages that are looked at.
const MOST_PAGES: usize = 1000;
/// The largest profile or table that is read, in bytes.
const LARGEST_TAG: usize = 16 << 20;
const VALUE: usize = 32;
const LEAST_LIST: usize = 64 << 10;
const LARGEST_LIST: usize = 128 << 20;

type Tiff<'a> = Decoder<Cursor<&'a [u8]>>;

pub(super) fn read(bytes: &[u8], page: Option<usize>) -> Result<Stored> {
    let mut limits = Limits::unlimited();
    limits.ifd_value_size = LARGEST_TAG;
    // The crate holds a list of numbers as so many bytes each, and takes the memory before it looks whether the file has them.
    limits.decoding_buffer_size = bytes.len().saturating_mul(VALUE).clamp(LEAST_LIST, LARGEST_LIST);
    let open = || Ok::<_, Error>(Decoder::new(Cursor::new(bytes)).map_err(explained)?.with_limits(limits.clone()));
    let mut warnings = Vec::new();
    let Chosen { place, page, pages } = chosen_page(open()?, page, &mut warnings)?;
    // Opened anew: the list of pages may have ended in damage, which is of no concern to the pages before it.
    let mut tiff = open()?;
    if place > 0 {
        tiff.seek_to_image(place).map_err(explained)?;
    }
    let (width, height) = tiff.dimensions().map_err(explained)?;
    limits::pixels(width.into(), height.into())?;
    let (width, height) = (width as usize, height as usize);
    let icc = tiff.find_tag(Tag::IccProfile).ok().flatten().and_then(|v| v.into_u8_vec().ok());
    let stored = Page::of(&mut tiff, [width, height], icc.as_deref(), &mut warnings)?;
    let samples = stored.read(bytes, &mut warnings)?;
    let profile = if stored.is_converted() { Profile::Applied(stored.converted_by()) } else { Profile::of(icc) };
    Ok(Stored {
        width,
        height,
        samples,
        gray: stored.is_gray(),
        orientation: small(&mut tiff, Tag::Orientation).and_then(Orientation::from_number).unwrap_or(Orientation::Upright),
        profile,
        density: density(&mut tiff),
        pages,
        page,
        warnings,
    })
}

/// A page among those of a file.
struct Chosen {
    /// Where it stands among all pictures of the file.
    place: usize,
    /// Where among the pages.
    page: usize,
    /// How many pages there are.
    pages: usize,
}

/// The page that is asked for, or the largest. What is marked as a smaller copy of another is no page, since programs put a thumbnail
/// first or behind; unless there is nothing else.
fn chosen_page(mut tiff: Tiff<'_>, asked: Option<usize>, warnings: &mut Vec<Warning>) -> Result<Chosen> {
    let mut all = Vec::new();
    loop {
        let (width, height) = tiff.dimensions().map_err(explained)?;
        let reduced = small(&mut tiff, Tag::NewSubfileType).is_some_and(|kind| kind & 1 == 1);
        all.push((all.len(), reduced, u64::from(width) * u64::from(height)));
        if all.len() == MOST_PAGES || !tiff.more_images() || tiff.next_image().is_err() {
            break;
        }
    }
    if all.iter().any(|(_, reduced, _)| !reduced) {
        all.retain(|(_, reduced, _)| !reduced);
    }
    let pages = all.len();
    let largest = || all.iter().enumerate().rev().max_by_key(|(_, (.., size))| *size).map_or(0, |(page, _)| page);
    let page = asked.unwrap_or_else(largest);
    let Some((place, ..)) = all.get(page).copied() else { return Err(no_such_page(Format::Tiff, page, pages)) };
    if asked.is_none() && pages > 1 {
        warnings.push(one_of_many(Format::Tiff, page, pages));
    }
    Ok(Chosen { place, page, pages })
}

/// A tag of one number, where it is there and sound.
fn number(tiff: &mut Tiff<'_>, tag: Tag) -> Option<u64> {
    tiff.find_tag(tag).ok().flatten()?.into_u64_vec().ok()?.first().copied()
}

/// A tag of one small number.
fn small(tiff: &mut Tiff<'_>, tag: Tag) -> Option<u16> {
    number(tiff, tag).and_then(|v| u16::try_from(v).ok())
}

/// Pixels per inch, across and down.
fn density(tiff: &mut Tiff<'_>) -> Option<(f64, f64)> {
    let mut number = |tag: Tag| match tiff.find_tag(tag).ok().flatten()? {
        tiff::decoder::ifd::Value::Rational(above, below) => Some(f64::from(above) / f64::from(below)),
        other => other.into_f64().ok(),
    };
    let (across, down) = (number(Tag::XResolution)?, number(Tag::YResolution)?);
    match small(tiff, Tag::ResolutionUnit) {
        Some(1) => None,
        Some(3) => Some((across * 2.54, down * 2.54)),
        _ => Some((across, down)),
    }
}

fn unsupported(what: &str, then: &str) -> Error {
    Error::new(Kind::Unsupported, format!("This TIFF {what}. {then} from the program that it came from."))
}

fn explained(why: TiffError) -> Error {
    match &why {
        TiffError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => cut_off(Format::Tiff),
        TiffError::LimitsExceeded | TiffError::IntSizeError => Error::new(
            Kind::Limit,
            format!(
                "This TIFF asks for more memory than a picture of its size needs. Save it again from the program that it came from. ({why})"
            ),
        ),
        TiffError::UnsupportedError(_) => {
            unsupported(&format!("is of a kind that is not read ({why})"), "Save it as RGB with 8 or 16 bits a channel")
        }
        _ => damaged(Format::Tiff, &why),
    }
}
