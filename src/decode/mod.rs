//! Reading scans. One file a format; each gives its pixels as stored, and [`read`] makes it an upright sheet in sRGB.

mod density;
mod exif;
mod jpeg;
mod jpx;
mod lay;
mod limits;
mod luma;
mod packed;
mod pdf;
mod plain;
mod png;
mod samples;
mod tiff;

pub use limits::MAX_PIXELS;

use crate::color::profile;
use crate::error::{Error, Kind, Result, Warning};
use crate::geometry::orient::{Orientation, upright};
use crate::image::{Samples, Sheet};

/// The formats that are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// TIFF 6.0 and its 64-bit sibling.
    Tiff,
    /// PNG.
    Png,
    /// JPEG, baseline and progressive.
    Jpeg,
    /// WebP, lossless and not.
    WebP,
    /// BMP.
    Bmp,
    /// PDF, whose pages are pictures.
    Pdf,
}

impl Format {
    /// By the first bytes; the name of a file says nothing.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Option<Self> {
        match bytes {
            [0x89, b'P', b'N', b'G', ..] => Some(Self::Png),
            [0xFF, 0xD8, 0xFF, ..] => Some(Self::Jpeg),
            [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some(Self::WebP),
            [b'B', b'M', ..] => Some(Self::Bmp),
            [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Some(Self::Tiff),
            // Some have a little before their beginning: ISO 32000-1, annex H.3.
            _ => bytes[..bytes.len().min(1024)].windows(5).any(|five| five == b"%PDF-").then_some(Self::Pdf),
        }
    }

    /// `TIFF`, `PNG`, `JPEG`, `WebP`, `BMP` or `PDF`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Tiff => "TIFF",
            Self::Png => "PNG",
            Self::Jpeg => "JPEG",
            Self::WebP => "WebP",
            Self::Bmp => "BMP",
            Self::Pdf => "PDF",
        }
    }
}

/// A scan and what its file said about it.
#[derive(Clone, Debug)]
pub struct Scan {
    /// The picture: upright, in encoded sRGB, opaque; 8-bit files stay 8-bit and 16-bit ones 16-bit.
    pub sheet: Sheet,
    /// The format it came in.
    pub format: Format,
    /// The name of the color profile embedded in the file.
    pub profile: Option<String>,
    /// How many pages the file holds.
    pub pages: usize,
    /// Which of them this is, counted from 0.
    pub page: usize,
    /// What the painter should know though the file could be read.
    pub warnings: Vec<Warning>,
}

/// A picture as one of the formats gives it.
struct Stored {
    width: usize,
    height: usize,
    /// RGB, in the colors of the file's own profile.
    samples: Samples,
    /// Whether the file holds one gray channel, spread over the three.
    gray: bool,
    orientation: Orientation,
    profile: Profile,
    /// Pixels per inch across and down, as stored.
    density: Option<(f64, f64)>,
    /// How many pages there are, and which one this is, counted from 0.
    pages: usize,
    page: usize,
    warnings: Vec<Warning>,
}

/// What a file says about its colors.
enum Profile {
    /// Nothing.
    None,
    /// An ICC profile.
    Embedded(Vec<u8>),
    /// Something less than that.
    Stated(profile::Stated),
    /// The samples are converted already, by the profile of this name if there was one.
    Applied(Option<String>),
}

impl Profile {
    fn of(icc: Option<Vec<u8>>) -> Self {
        icc.map_or(Self::None, Self::Embedded)
    }
}

/// Reads a scan from the bytes of a file; of several pages the largest.
///
/// # Errors
/// As [`read_page`].
pub fn read(bytes: &[u8]) -> Result<Scan> {
    read_page(bytes, None)
}

/// Reads a page of a scan from the bytes of a file, counted from 0.
///
/// Transparency is laid on white, gray becomes RGB, the embedded profile is converted to sRGB (relative colorimetric),
/// and the picture is turned upright. Memory: the samples once, twice for an orientation that exchanges the sides, and
/// a strip, tile or row besides; a whole picture more for interlaced PNG and JPEG.
///
/// # Errors
/// [`Kind::Unsupported`] for a format or variety that is not read, [`Kind::Malformed`] for a damaged file,
/// [`Kind::Limit`] for more than [`MAX_PIXELS`], with 16 bits a channel more than 150 million, or more than there is memory for,
/// [`Kind::Parameter`] for a page that is not there. Each says what to do.
pub fn read_page(bytes: &[u8], page: Option<usize>) -> Result<Scan> {
    let format = Format::of(bytes).ok_or_else(|| unknown(bytes))?;
    let Stored { width, height, mut samples, gray, orientation, profile, density, pages, page: read, mut warnings } = match format
    {
        Format::Tiff => tiff::read(bytes, page),
        Format::Png => png::read(bytes),
        Format::Jpeg => jpeg::read(bytes),
        Format::Pdf => pdf::read(bytes, page),
        Format::WebP | Format::Bmp => plain::read(bytes, format),
    }?;
    if let Samples::Sixteen(_) = samples {
        limits::deep(width, height)?;
    }
    if let Some(page) = page.filter(|page| *page >= pages) {
        return Err(no_such_page(format, page, pages));
    }
    let profile = match profile {
        Profile::None => None,
        Profile::Embedded(icc) => profile::convert(&icc, gray, &mut samples, &mut warnings),
        Profile::Stated(stated) => {
            profile::convert_stated(&stated, &mut samples, &mut warnings);
            None
        }
        Profile::Applied(name) => name,
    };
    let samples = match samples {
        Samples::Eight(v) => Samples::Eight(upright::<3, _>(v, width, height, orientation)?),
        Samples::Sixteen(v) => Samples::Sixteen(upright::<3, _>(v, width, height, orientation)?),
    };
    let (width, height) = if orientation.swaps_sides() { (height, width) } else { (width, height) };
    let density = density.map(|(across, down)| if orientation.swaps_sides() { (down, across) } else { (across, down) });
    let ppi = density::settle(density, width, height, &mut warnings);
    Ok(Scan { sheet: Sheet::new(width, height, samples, ppi), format, profile, pages, page: read, warnings })
}

fn unknown(bytes: &[u8]) -> Error {
    let what = match bytes {
        [] => return Error::new(Kind::Malformed, "The file is empty. Copy it again from where it came, or scan again."),
        [b'G', b'I', b'F', b'8', ..] => "This is a GIF.",
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => "This is a HEIC, AVIF or video file.",
        [0, 0, 0, 12, b'j', b'P', ..] | [0xFF, 0x4F, 0xFF, 0x51, ..] => "This is a JPEG 2000.",
        _ => "This is not a picture file that is known here.",
    };
    Error::new(Kind::Unsupported, format!("{what} Scan or save the painting as TIFF, PNG or JPEG."))
}

/// The damage that every format reports in the same words; `why` is the decoder's own.
fn damaged(format: Format, why: &dyn std::fmt::Display) -> Error {
    // Some decoders put line ends into their sentences.
    let why = why.to_string().split_whitespace().collect::<Vec<_>>().join(" ");
    Error::new(
        Kind::Malformed,
        format!("This {} is damaged. Copy the file again from where it came, or scan again. ({why})", format.name()),
    )
}

/// The remark that goes with a file of several pages, of which one was read.
fn one_of_many(format: Format, page: usize, pages: usize) -> Warning {
    Warning::new(
        "several-pages",
        format!(
            "The {} holds {pages} pages; the largest, page {}, was read. Choose another one if it is the painting.",
            format.name(),
            page + 1
        ),
    )
}

/// A page that a file does not have.
fn no_such_page(format: Format, page: usize, pages: usize) -> Error {
    let holds = if pages == 1 { "one page".to_owned() } else { format!("{pages} pages") };
    Error::new(Kind::Parameter, format!("There is no page {} in this {}: it holds {holds}.", page + 1, format.name()))
}

/// A file that ends before its picture does.
fn cut_off(format: Format) -> Error {
    Error::new(
        Kind::Malformed,
        format!(
            "This {} is cut off: a part of the picture is missing. Copy the file again from where it came, or scan again.",
            format.name()
        ),
    )
}
