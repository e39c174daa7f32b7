//! TIFF, through the `tiff` crate: strips and tiles straight into the sheet, planes side by side, the largest page.

use std::io::Cursor;

use tiff::decoder::{ChunkType, Decoder, DecodingBuffer, Limits};
use tiff::tags::{PhotometricInterpretation as Colors, Tag};
use tiff::{ColorType, TiffError, TiffUnsupportedError};

use super::lay::{Alpha, Channels, Sample, lay, transparency};
use super::{Format, Stored, cut_off, damaged, limits};
use crate::error::{Error, Kind, Result, Warning, zeroed};
use crate::geometry::orient::Orientation;
use crate::image::Samples;

/// Pages that are looked at.
const MOST_PAGES: usize = 1000;
/// The largest profile or table that is read, in bytes.
const LARGEST_TAG: usize = 16 << 20;

const UNASSOCIATED_ALPHA: u16 = 2;
const ASSOCIATED_ALPHA: u16 = 1;

type Tiff<'a> = Decoder<Cursor<&'a [u8]>>;

pub(super) fn read(bytes: &[u8]) -> Result<Stored> {
    let mut limits = Limits::unlimited();
    limits.ifd_value_size = LARGEST_TAG;
    let open = || Ok::<_, Error>(Decoder::new(Cursor::new(bytes)).map_err(explained)?.with_limits(limits.clone()));
    let mut warnings = Vec::new();
    let page = largest_page(open()?, &mut warnings)?;
    // Opened anew: the list of pages may have ended in damage, which is of no concern to the pages before it.
    let mut tiff = open()?;
    if page > 0 {
        tiff.seek_to_image(page).map_err(explained)?;
    }
    let (width, height) = tiff.dimensions().map_err(explained)?;
    let pixels = limits::pixels(width.into(), height.into())?;
    let page = Page::of(&mut tiff, width as usize, height as usize, &mut warnings)?;
    let samples = match page.bits {
        16 => Samples::Sixteen(page.read::<u16>(&mut tiff, pixels, &mut warnings)?),
        _ => Samples::Eight(page.read::<u8>(&mut tiff, pixels, &mut warnings)?),
    };
    Ok(Stored {
        width: page.width,
        height: page.height,
        samples,
        gray: page.channels.gray,
        orientation: small(&mut tiff, Tag::Orientation).and_then(Orientation::from_number).unwrap_or(Orientation::Upright),
        profile: tiff.find_tag(Tag::IccProfile).ok().flatten().and_then(|v| v.into_u8_vec().ok()),
        density: density(&mut tiff),
        warnings,
    })
}

/// The largest page that is not marked as a smaller copy of another: programs put a thumbnail first or behind.
fn largest_page(mut tiff: Tiff<'_>, warnings: &mut Vec<Warning>) -> Result<usize> {
    let (mut best, mut full_pages) = (None, 0);
    let mut count = 0;
    loop {
        let (width, height) = tiff.dimensions().map_err(explained)?;
        let reduced = small(&mut tiff, Tag::NewSubfileType).is_some_and(|kind| kind & 1 == 1);
        full_pages += usize::from(!reduced);
        let size = (!reduced, u64::from(width) * u64::from(height));
        if best.is_none_or(|(_, largest)| size > largest) {
            best = Some((count, size));
        }
        count += 1;
        if count == MOST_PAGES || !tiff.more_images() || tiff.next_image().is_err() {
            break;
        }
    }
    let page = best.map_or(0, |(page, _)| page);
    if full_pages > 1 {
        warnings.push(Warning::new(
            "several-pages",
            format!(
                "The TIFF holds {full_pages} pages; only the largest, page {}, was read. Save the others as files of their own.",
                page + 1
            ),
        ));
    }
    Ok(page)
}

/// How the samples of a page are stored.
struct Page {
    width: usize,
    height: usize,
    /// 1, 2, 4, 8 or 16 bits a sample.
    bits: u8,
    channels: Channels,
    /// Every channel in strips or tiles of its own.
    planar: bool,
    /// How to come from luma and two color differences to RGB.
    luma: Option<Luma>,
}

impl Page {
    fn of(tiff: &mut Tiff<'_>, width: usize, height: usize, warnings: &mut Vec<Warning>) -> Result<Self> {
        if small(tiff, Tag::SampleFormat).is_some_and(|format| format != 1) {
            return Err(unsupported("holds floating-point or signed samples", "Save it with 8 or 16 bits a channel"));
        }
        let color = tiff.colortype().map_err(explained)?;
        let extra = tiff.find_tag_unsigned_vec::<u16>(Tag::ExtraSamples).map_err(explained)?.unwrap_or_default();
        let stored = usize::from(small(tiff, Tag::SamplesPerPixel).unwrap_or(1));
        let alpha = match extra.first() {
            Some(&ASSOCIATED_ALPHA) => Alpha::Multiplied,
            Some(&UNASSOCIATED_ALPHA) => Alpha::Straight,
            _ => Alpha::None,
        };
        let (gray, bits) = match color {
            ColorType::Gray(bits) | ColorType::Multiband { bit_depth: bits, .. } => (true, bits),
            ColorType::RGB(bits) | ColorType::RGBA(bits) | ColorType::YCbCr(bits) => (false, bits),
            ColorType::CMYK(_) | ColorType::CMYKA(_) => {
                return Err(unsupported("is in print colors (CMYK)", "Scan again in color (RGB), or save it as RGB"));
            }
            ColorType::Lab(_) => return Err(unsupported("is in Lab colors", "Save it as RGB")),
            _ => return Err(unsupported("has colors of a rare kind", "Save it as RGB")),
        };
        if !matches!((gray, bits), (true, 1 | 2 | 4) | (_, 8 | 16)) || matches!(color, ColorType::YCbCr(16)) {
            return Err(unsupported(&format!("has {bits} bits a channel"), "Save it with 8 or 16 bits a channel"));
        }
        let planar = small(tiff, Tag::PlanarConfiguration) == Some(2);
        // What the decoder hands out: all channels of gray, otherwise the colors and their transparency.
        let count = if gray { stored } else { usize::from(color.num_samples()) };
        let alpha = if count > if gray { 1 } else { 3 } { alpha } else { Alpha::None };
        if bits < 8 && count > 1 {
            return Err(unsupported("packs several channels into a byte", "Save it with 8 or 16 bits a channel"));
        }
        if stored > count && !planar && small(tiff, Tag::Predictor).is_some_and(|p| p != 1) {
            // The decoder would undo the prediction with the wrong distance between samples.
            return Err(unsupported(
                "has a fourth channel beside its colors",
                "Save it with three channels, or without compression",
            ));
        }
        if stored > if gray { 1 } else { 3 } + usize::from(alpha != Alpha::None) {
            warnings.push(Warning::new(
                "extra-channel",
                "The TIFF has a further channel beside its colors, such as infrared for finding dust. It was left out.",
            ));
        }
        let luma = matches!(color, ColorType::YCbCr(_)).then(|| Luma::of(tiff));
        if planar && luma.is_some() {
            return Err(unsupported("keeps luma and color differences apart", "Save it as RGB"));
        }
        Ok(Self { width, height, bits, channels: Channels { gray, alpha, count }, planar, luma })
    }

    /// All samples as RGB.
    fn read<S: Stored8Or16>(&self, tiff: &mut Tiff<'_>, pixels: usize, warnings: &mut Vec<Warning>) -> Result<Vec<S>> {
        let (chunk_width, chunk_height) = tiff.chunk_dimensions();
        let row = u64::from(chunk_width) * self.channels.count as u64 * u64::from(self.bits.div_ceil(8));
        if row > limits::MAX_ROW || chunk_height == 0 {
            return Err(damaged(Format::Tiff, &format!("a strip or tile {chunk_width} pixels wide")));
        }
        let (chunk_width, chunk_height) = (chunk_width as usize, (chunk_height as usize).min(self.height));
        let across = match tiff.get_chunk_type() {
            ChunkType::Strip => 1,
            ChunkType::Tile => self.width.div_ceil(chunk_width),
        };
        let chunks = across * self.height.div_ceil(chunk_height);
        let mut out = zeroed::<S>(pixels * 3, "the scan")?;
        // Strips of plain RGB are the rows of the sheet.
        let straight = across == 1 && chunk_width == self.width && !self.planar && self.luma.is_none();
        if straight && self.channels == Channels::new(false, Alpha::None) {
            for chunk in 0..chunks {
                let rows = &mut out[chunk * chunk_height * self.width * 3..];
                let len = rows.len().min(chunk_height * self.width * 3);
                tiff.read_chunk_bytes(chunk as u32, S::buffer(&mut rows[..len]).as_bytes_mut()).map_err(explained)?;
            }
            return Ok(out);
        }
        let in_chunk = chunk_width.min(self.width) * chunk_height;
        let mut stored = zeroed::<S>(in_chunk * self.channels.count, "a strip of the scan")?;
        let mut plane = zeroed::<S>(if self.planar || self.bits < 8 { in_chunk } else { 0 }, "a strip of the scan")?;
        let mut seen = false;
        for chunk in 0..chunks {
            let (left, top) = (chunk % across * chunk_width, chunk / across * chunk_height);
            let (wide, high) = (chunk_width.min(self.width - left), chunk_height.min(self.height - top));
            let stored = &mut stored[..wide * high * self.channels.count];
            self.read_chunk(tiff, chunk, chunks, wide, stored, &mut plane[..])?;
            for (y, row) in stored.chunks_exact_mut(wide * self.channels.count).enumerate() {
                if let Some(luma) = &self.luma {
                    row.as_chunks_mut::<3>()
                        .0
                        .iter_mut()
                        .for_each(|p| *p = luma.rgb(p.map(|s| s.value() as f32)).map(|v| S::of(v.into())));
                }
                let at = ((top + y) * self.width + left) * 3;
                seen |= lay(row, self.channels, &mut out[at..at + wide * 3]);
            }
        }
        if seen {
            warnings.push(transparency());
        }
        Ok(out)
    }

    /// One strip or tile, its channels side by side.
    fn read_chunk<S: Stored8Or16>(
        &self,
        tiff: &mut Tiff<'_>,
        chunk: usize,
        chunks: usize,
        wide: usize,
        stored: &mut [S],
        plane: &mut [S],
    ) -> Result<()> {
        if self.bits < 8 {
            let packed_row = (wide * usize::from(self.bits)).div_ceil(8);
            let high = stored.len() / wide;
            let mut packed = zeroed::<u8>(packed_row * high, "a strip of the scan")?;
            tiff.read_chunk_bytes(chunk as u32, &mut packed).map_err(explained)?;
            for (row, packed) in stored.chunks_exact_mut(wide).zip(packed.chunks_exact(packed_row)) {
                self.unpack(packed, row);
            }
            return Ok(());
        }
        if !self.planar {
            return tiff.read_chunk_bytes(chunk as u32, S::buffer(stored).as_bytes_mut()).map_err(explained);
        }
        let count = self.channels.count;
        let plane = &mut plane[..stored.len() / count];
        for channel in 0..count {
            let index = chunk + channel * chunks;
            tiff.read_chunk_bytes(index as u32, S::buffer(plane).as_bytes_mut()).map_err(explained)?;
            for (to, from) in stored[channel..].iter_mut().step_by(count).zip(plane.iter()) {
                *to = *from;
            }
        }
        Ok(())
    }

    /// Samples of 1, 2 or 4 bits, the leftmost in the highest bits, spread over the range of a byte.
    fn unpack<S: Sample>(&self, packed: &[u8], row: &mut [S]) {
        let bits = usize::from(self.bits);
        let most = (1_u32 << bits) - 1;
        for (x, to) in row.iter_mut().enumerate() {
            let at = x * bits;
            let value = u32::from(packed[at / 8]) >> (8 - bits - at % 8) & most;
            *to = S::of(value * S::WHITE / most);
        }
    }
}

/// A sample that the decoder can write to.
trait Stored8Or16: Sample {
    fn buffer(samples: &mut [Self]) -> DecodingBuffer<'_>;
}

impl Stored8Or16 for u8 {
    fn buffer(samples: &mut [Self]) -> DecodingBuffer<'_> {
        DecodingBuffer::U8(samples)
    }
}

impl Stored8Or16 for u16 {
    fn buffer(samples: &mut [Self]) -> DecodingBuffer<'_> {
        DecodingBuffer::U16(samples)
    }
}

/// Luma and color differences to RGB: TIFF 6.0, section 21.
struct Luma {
    /// Shares of red, green and blue in luma.
    shares: [f32; 3],
    /// Stored values of no and full luma, and of no and full color differences.
    reference: [f32; 6],
}

impl Luma {
    fn of(tiff: &mut Tiff<'_>) -> Self {
        let mut numbers = |tag: Tag| tiff.find_tag(tag).ok().flatten().and_then(|v| v.into_f32_vec().ok());
        let shares = numbers(Tag::Unknown(529)).and_then(|v| v.try_into().ok()).filter(|s: &[f32; 3]| s[1] > 0.0);
        let reference = numbers(Tag::Unknown(532)).and_then(|v| v.try_into().ok());
        Self {
            shares: shares.unwrap_or([0.299, 0.587, 0.114]),
            reference: reference
                .filter(|r: &[f32; 6]| r[1] > r[0] && r[3] > r[2] && r[5] > r[4])
                .unwrap_or([0.0, 255.0, 128.0, 255.0, 128.0, 255.0]),
        }
    }

    /// 8-bit RGB.
    fn rgb(&self, stored: [f32; 3]) -> [u8; 3] {
        let [black, white, blue0, blue1, red0, red1] = self.reference;
        let y = (stored[0] - black) * 255.0 / (white - black);
        let cb = (stored[1] - blue0) * 127.0 / (blue1 - blue0);
        let cr = (stored[2] - red0) * 127.0 / (red1 - red0);
        let [red_share, green_share, blue_share] = self.shares;
        let red = cr * (2.0 - 2.0 * red_share) + y;
        let blue = cb * (2.0 - 2.0 * blue_share) + y;
        let green = (y - blue_share * blue - red_share * red) / green_share;
        // A cast to an integer clamps.
        [red, green, blue].map(|v| (v + 0.5) as u8)
    }
}

/// A tag of one small number, where it is there and sound.
fn small(tiff: &mut Tiff<'_>, tag: Tag) -> Option<u16> {
    let values = tiff.find_tag(tag).ok().flatten()?.into_u64_vec().ok()?;
    values.first().and_then(|&v| u16::try_from(v).ok())
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
        TiffError::UnsupportedError(TiffUnsupportedError::InterpretationWithBits(Colors::RGBPalette, _)) => {
            unsupported("has a palette instead of colors", "Save it as RGB")
        }
        TiffError::UnsupportedError(TiffUnsupportedError::InterpretationWithBits(
            Colors::CIELab | Colors::IccLab | Colors::ItuLab,
            _,
        )) => unsupported("is in Lab colors", "Save it as RGB"),
        TiffError::UnsupportedError(TiffUnsupportedError::UnsupportedCompressionMethod(method)) => unsupported(
            &format!("is compressed in a way that is not read ({method:?})"),
            "Save it without compression, or with LZW or ZIP,",
        ),
        TiffError::UnsupportedError(_) => {
            unsupported(&format!("is of a kind that is not read ({why})"), "Save it as RGB with 8 or 16 bits a channel")
        }
        _ => damaged(Format::Tiff, &why),
    }
}
