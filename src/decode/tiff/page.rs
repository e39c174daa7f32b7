//! One page of a TIFF: how its pixels are stored, and the reading of them.

use std::io::{Cursor, ErrorKind, Read};

use tiff::tags::{ByteOrder, Tag};

use super::coding::{Coding, Shape};
use super::colors::{Colors, Shared, luma};
use super::{Tiff, explained, number, small, unsupported};
use crate::color::inks::Inks;
use crate::decode::lay::{Alpha, Channels, Sample, transparency};
use crate::decode::packed::{Bytes, Fax, Way};
use crate::decode::samples::{Predictor, Row};
use crate::decode::{Format, cut_off, damaged, limits};
use crate::error::{Result, Warning, zeroed};
use crate::image::Samples;

const ASSOCIATED_ALPHA: u16 = 1;
const UNASSOCIATED_ALPHA: u16 = 2;
const EXTRA: &str = "The TIFF has a further channel beside its colors, such as infrared for finding dust. It was left out.";

/// How the pixels of a page are stored.
pub(super) struct Page {
    width: usize,
    height: usize,
    row: Row,
    colors: Colors,
    /// Whether the color is one channel of gray, and what the others mean.
    channels: Channels,
    /// Every channel in strips or tiles of its own.
    planar: bool,
    /// How many pixels across and down share their color differences.
    shared: [usize; 2],
    coding: Coding,
    /// Whether the lowest bit of a byte is the leftmost.
    reversed: bool,
    /// Pixels across and down in a strip or tile.
    chunk: [usize; 2],
    /// Strips or tiles across; several are tiles, all of which are whole.
    across: usize,
    /// Where each is, and how long.
    places: Vec<(u64, u64)>,
}

impl Page {
    /// Reads how the present page is stored. `icc` is its profile.
    pub(super) fn of(tiff: &mut Tiff<'_>, size: [usize; 2], icc: Option<&[u8]>, warnings: &mut Vec<Warning>) -> Result<Self> {
        let [width, height] = size;
        let each = tiff.find_tag_unsigned_vec::<u16>(Tag::BitsPerSample).map_err(explained)?.unwrap_or_else(|| vec![1]);
        let bits = usize::from(*each.first().unwrap_or(&1));
        let stored = usize::from(small(tiff, Tag::SamplesPerPixel).unwrap_or(1));
        if each.iter().any(|other| usize::from(*other) != bits) {
            return Err(unsupported("has channels of different depth", "Save it with 8 or 16 bits a channel"));
        }
        let floating = match small(tiff, Tag::SampleFormat).unwrap_or(1) {
            1 | 4 => false,
            3 => true,
            // The axes of L*a*b* are signed by nature.
            2 if small(tiff, Tag::PhotometricInterpretation) == Some(8) => false,
            _ => return Err(unsupported("holds signed or complex numbers", "Save it with 8 or 16 bits a channel")),
        };
        let is_read = if floating { matches!(bits, 16 | 32 | 64) } else { matches!(bits, 1..=16 | 24 | 32) };
        if !is_read {
            return Err(unsupported(&format!("has {bits} bits a channel"), "Save it with 8 or 16 bits a channel"));
        }
        let (colors, needed) = colors(tiff, bits, icc, warnings)?;
        if stored < needed {
            return Err(damaged(Format::Tiff, &format!("{stored} channels where {needed} are needed")));
        }
        let extra = tiff.find_tag_unsigned_vec::<u16>(Tag::ExtraSamples).map_err(explained)?.unwrap_or_default();
        let is_picture = !matches!(colors, Colors::Palette(_) | Colors::Inks(_));
        let alpha = match extra.first() {
            Some(&ASSOCIATED_ALPHA) if is_picture && stored > needed => Alpha::Multiplied,
            Some(&UNASSOCIATED_ALPHA) if is_picture && stored > needed => Alpha::Straight,
            _ => Alpha::None,
        };
        if stored > needed + usize::from(alpha != Alpha::None) {
            warnings.push(Warning::new("extra-channel", EXTRA));
        }
        let planar = small(tiff, Tag::PlanarConfiguration) == Some(2) && stored > 1;
        let coding = coding(tiff, bits)?;
        // The decoder of JPEG gives every pixel differences of its own.
        let shared = match (&colors, &coding) {
            (Colors::Luma(_), Coding::Jpeg(_)) => [1, 1],
            (Colors::Luma(_), _) => shared(tiff)?,
            _ => [1, 1],
        };
        if shared != [1, 1] && (planar || bits != 8 || stored != 3) {
            return Err(unsupported("keeps luma and color differences in a rare way", "Save it as RGB"));
        }
        let takes_differences = matches!(coding, Coding::Lzw | Coding::Deflate);
        let predictor = match small(tiff, Tag::Predictor) {
            Some(2) if takes_differences && matches!(bits, 8 | 16 | 32 | 64) => Predictor::Difference,
            Some(3) if takes_differences && floating => Predictor::Floating,
            Some(2 | 3) if takes_differences => {
                return Err(unsupported("is compressed in a rare way", "Save it without compression"));
            }
            _ => Predictor::None,
        };
        let (chunk, across, places) = places(tiff, size, if planar { stored } else { 1 })?;
        let channels = Channels { gray: needed == 1, alpha, count: stored };
        let big_endian = matches!(tiff.byte_order(), ByteOrder::BigEndian);
        let row = Row { bits, floating, channels: if planar { 1 } else { stored }, big_endian, predictor };
        // In 64 bits: nothing may wrap around where a size has 32.
        let bits_of_row = (chunk[0] as u64).saturating_mul(stored as u64).saturating_mul(bits as u64);
        if bits_of_row / 8 > limits::MAX_ROW {
            return Err(damaged(Format::Tiff, &format!("a strip or tile {} pixels wide", chunk[0])));
        }
        let reversed = small(tiff, Tag::FillOrder) == Some(2);
        Ok(Self { width, height, row, colors, channels, planar, shared, coding, reversed, chunk, across, places })
    }

    /// Whether its colors are to be converted by a profile of gray.
    pub(super) fn is_gray(&self) -> bool {
        self.channels.gray && !matches!(self.colors, Colors::Palette(_))
    }

    /// Whether its colors mean the same without a profile, or were converted by it already.
    pub(super) fn is_converted(&self) -> bool {
        matches!(self.colors, Colors::Lab { .. } | Colors::Inks(_))
    }

    /// The name of the profile by which it is converted already.
    pub(super) fn converted_by(&self) -> Option<String> {
        if let Colors::Inks(inks) = &self.colors { inks.name.clone() } else { None }
    }

    /// All pixels as RGB: 16 bits a channel of what has more than 8.
    pub(super) fn read(&self, file: &[u8], warnings: &mut Vec<Warning>) -> Result<Samples> {
        let wide = match &self.colors {
            Colors::Palette(palette) => palette.iter().flatten().any(|v| v % 257 != 0),
            _ => self.row.bits > 8,
        };
        Ok(if wide { Samples::Sixteen(self.pixels(file, warnings)?) } else { Samples::Eight(self.pixels(file, warnings)?) })
    }

    fn pixels<S: Sample>(&self, file: &[u8], warnings: &mut Vec<Warning>) -> Result<Vec<S>> {
        let [wide, high] = self.chunk;
        let planes = if self.planar { self.channels.count } else { 1 };
        let chunks = self.places.len() / planes;
        let mut out = zeroed::<S>(self.width * self.height * 3, "the scan")?;
        let mut buffers = Buffers::new(self)?;
        let (mut seen, mut beyond) = (false, false);
        for chunk in 0..chunks {
            let (left, top) = (chunk % self.across * wide, chunk / self.across * high);
            let rows = high.min(self.height - top);
            // A last strip is as high as what is left; a tile is always whole.
            let stored = if self.across > 1 || wide > self.width { high } else { rows };
            let sources = (0..planes).map(|plane| self.bytes(file, chunk + plane * chunks, stored));
            let mut sources = sources.collect::<Result<Vec<Bytes<'_>>>>()?;
            let columns = wide.min(self.width - left);
            for y in top..top + rows {
                let to = &mut out[(y * self.width + left) * 3..][..columns * 3];
                if matches!(self.colors, Colors::Palette(_)) {
                    // Whatever further channels there are mean nothing.
                    fill(&mut sources[0], &mut buffers.bytes)?;
                    self.row.entries(&mut buffers.bytes, &mut buffers.entries);
                    self.colors.look_up(&buffers.entries, self.row.channels, to);
                } else {
                    beyond |= self.read_row(&mut sources, &mut buffers)?;
                    seen |= self.colors.lay(&mut buffers.row[..columns * self.channels.count], self.channels, to);
                }
            }
        }
        if seen {
            warnings.push(transparency());
        }
        if beyond {
            warnings.push(Warning::new("beyond-white", "The scan holds numbers beyond white (1.0); they were cut off there."));
        }
        Ok(out)
    }

    /// Reads a row with its channels side by side; says whether any sample lies beyond white.
    fn read_row<S: Sample>(&self, sources: &mut [Bytes<'_>], buffers: &mut Buffers<S>) -> Result<bool> {
        let Buffers { bytes, row, plane, .. } = buffers;
        if !self.planar {
            fill(&mut sources[0], bytes)?;
            return Ok(self.row.read(bytes, row));
        }
        let count = sources.len();
        let mut beyond = false;
        for (channel, source) in sources.iter_mut().enumerate() {
            fill(source, bytes)?;
            beyond |= self.row.read(bytes, plane);
            row[channel..].iter_mut().step_by(count).zip(plane.iter()).for_each(|(to, from)| *to = *from);
        }
        Ok(beyond)
    }

    /// The unpacked bytes of a strip or tile.
    fn bytes<'a>(&self, file: &'a [u8], chunk: usize, high: usize) -> Result<Bytes<'a>> {
        let (at, long) = self.places[chunk];
        let rest = usize::try_from(at).ok().and_then(|at| file.get(at..)).ok_or_else(|| cut_off(Format::Tiff))?;
        // What is not packed needs no length, and some state it wrongly.
        let long = if matches!(self.coding, Coding::None) { rest.len() } else { usize::try_from(long).unwrap_or(rest.len()) };
        let packed = &rest[..long.min(rest.len())];
        let shape = Shape { wide: self.chunk[0], high, channels: self.row.channels };
        if self.reversed && self.row.bits < 8 {
            let turned: Vec<u8> = packed.iter().map(|byte| byte.reverse_bits()).collect();
            let mut all = Vec::new();
            let most = self.row.bytes(shape.wide) as u64 * high as u64;
            self.coding.unpack(&turned, shape)?.take(most).read_to_end(&mut all).map_err(|why| damaged(Format::Tiff, &why))?;
            return Ok(Box::new(Cursor::new(all)));
        }
        let unpacked = self.coding.unpack(packed, shape)?;
        let [across, down] = self.shared;
        if [across, down] == [1, 1] {
            return Ok(unpacked);
        }
        Ok(Box::new(Shared { units: unpacked, wide: shape.wide, across, down, rows: Vec::new(), taken: 0 }))
    }
}

/// What a row goes through.
struct Buffers<S> {
    bytes: Vec<u8>,
    /// All channels side by side.
    row: Vec<S>,
    /// One channel, where each stands by itself.
    plane: Vec<S>,
    /// Numbers of colors, where there is a palette.
    entries: Vec<u16>,
}

impl<S: Sample> Buffers<S> {
    fn new(page: &Page) -> Result<Self> {
        let what = "a row of the scan";
        let (wide, count) = (page.chunk[0], page.channels.count);
        let (plane, entries) = (usize::from(page.planar), usize::from(matches!(page.colors, Colors::Palette(_))));
        Ok(Self {
            bytes: zeroed(page.row.bytes(wide), what)?,
            row: zeroed(wide * count, what)?,
            plane: zeroed(wide * plane, what)?,
            entries: zeroed(wide * count * entries, what)?,
        })
    }
}

/// The next bytes of a strip or tile.
fn fill(source: &mut Bytes<'_>, bytes: &mut [u8]) -> Result<()> {
    source.read_exact(bytes).map_err(|why| match why.kind() {
        ErrorKind::UnexpectedEof => cut_off(Format::Tiff),
        _ => damaged(Format::Tiff, &why),
    })
}

/// How samples come to be colors, and how many of them it takes.
fn colors(tiff: &mut Tiff<'_>, bits: usize, icc: Option<&[u8]>, warnings: &mut Vec<Warning>) -> Result<(Colors, usize)> {
    Ok(match small(tiff, Tag::PhotometricInterpretation) {
        Some(0) => (Colors::Plain { white_is_zero: true }, 1),
        // Some that state nothing are gray as well.
        Some(1) | None => (Colors::Plain { white_is_zero: false }, 1),
        Some(2) => (Colors::Plain { white_is_zero: false }, 3),
        Some(3) => (Colors::Palette(palette(tiff, bits)?), 1),
        Some(4) => return Err(unsupported("is a mask for another picture", "Save the picture itself")),
        Some(5) => {
            if small(tiff, Tag::Unknown(332)).is_some_and(|set| set != 1) {
                return Err(unsupported("is in inks of its own", "Save it as RGB"));
            }
            (Colors::Inks(Inks::of(icc, warnings)), 4)
        }
        Some(6) => (Colors::Luma(luma(tiff)), 3),
        Some(8) => (Colors::Lab { signed: true }, 3),
        Some(9) => (Colors::Lab { signed: false }, 3),
        Some(kind) => return Err(unsupported(&format!("has colors of a rare kind ({kind})"), "Save it as RGB")),
    })
}

/// The colors of a palette; those of few bits are stored in the high byte, or, by some, in the low one.
fn palette(tiff: &mut Tiff<'_>, bits: usize) -> Result<Vec<[u16; 3]>> {
    let all = tiff.find_tag_unsigned_vec::<u16>(Tag::ColorMap).map_err(explained)?.unwrap_or_default();
    let count = all.len() / 3;
    if bits > 16 || count == 0 || all.len() < 3 << bits.min(16) {
        return Err(damaged(Format::Tiff, &"the palette is missing or too short"));
    }
    let low = all.iter().all(|v| *v < 256);
    // The high byte tells all that was scanned: the low one is filled in one way by some, and in another by others.
    let full = |v: u16| if low { v * 257 } else { (v >> 8) * 257 };
    Ok((0..count).map(|i| [all[i], all[count + i], all[2 * count + i]].map(full)).collect())
}

/// How the strips and tiles are packed.
fn coding(tiff: &mut Tiff<'_>, bits: usize) -> Result<Coding> {
    let options = number(tiff, Tag::Unknown(292)).unwrap_or(0);
    let fax = |way, aligned, marked| match bits {
        1 => Ok(Coding::Fax(Fax { way, aligned, marked, ends: true })),
        _ => Err(damaged(Format::Tiff, &"a fax of more than one bit")),
    };
    match small(tiff, Tag::Compression).unwrap_or(1) {
        1 => Ok(Coding::None),
        2 => fax(Way::Rows, true, false),
        3 => fax(if options & 1 == 1 { Way::Mixed } else { Way::Rows }, false, true),
        4 => fax(Way::Differences, false, false),
        5 => Ok(Coding::Lzw),
        7 => {
            let tables = tiff.find_tag(Tag::JPEGTables).map_err(explained)?.and_then(|v| v.into_u8_vec().ok());
            if bits == 8 { Ok(Coding::Jpeg(tables)) } else { Err(unsupported("is a JPEG of more than 8 bits", "Save it as RGB")) }
        }
        8 | 32946 => Ok(Coding::Deflate),
        32773 => Ok(Coding::PackBits),
        6 => Err(unsupported("is compressed in an old way that was given up (JPEG of 1992)", "Save it with LZW or ZIP,")),
        other => Err(unsupported(
            &format!("is compressed in a way that is not read (number {other})"),
            "Save it without compression, or with LZW or ZIP,",
        )),
    }
}

/// How many pixels across and down share their color differences.
fn shared(tiff: &mut Tiff<'_>) -> Result<[usize; 2]> {
    let stated = tiff.find_tag_unsigned_vec::<u16>(Tag::ChromaSubsampling).map_err(explained)?.unwrap_or_else(|| vec![2, 2]);
    match stated.as_slice() {
        &[across @ (1 | 2 | 4), down @ (1 | 2 | 4)] => Ok([across.into(), down.into()]),
        _ => Err(damaged(Format::Tiff, &"the color differences are shared in an impossible way")),
    }
}

/// The size of strips or tiles, how many lie across, and where each is.
type Places = ([usize; 2], usize, Vec<(u64, u64)>);

fn places(tiff: &mut Tiff<'_>, [width, height]: [usize; 2], planes: usize) -> Result<Places> {
    let mut numbers = |tag| tiff.find_tag_unsigned_vec::<u64>(tag).map_err(explained).map(Option::unwrap_or_default);
    let (tiles, strips) = (numbers(Tag::TileOffsets)?, numbers(Tag::StripOffsets)?);
    let is_tiled = !tiles.is_empty();
    let (offsets, lengths) =
        if is_tiled { (tiles, numbers(Tag::TileByteCounts)?) } else { (strips, numbers(Tag::StripByteCounts)?) };
    let mut side = |tag| number(tiff, tag).and_then(|v| usize::try_from(v).ok());
    let chunk = if is_tiled {
        [side(Tag::TileWidth).unwrap_or(0), side(Tag::TileLength).unwrap_or(0)]
    } else {
        [width, side(Tag::RowsPerStrip).unwrap_or(height).min(height)]
    };
    let wrong = || damaged(Format::Tiff, &"the strips or tiles do not make up the picture");
    if chunk.contains(&0) || chunk[1] > limits::MAX_PIXELS as usize {
        return Err(wrong());
    }
    let across = width.div_ceil(chunk[0]);
    if offsets.len() as u64 != across as u64 * height.div_ceil(chunk[1]) as u64 * planes as u64 {
        return Err(wrong());
    }
    let length = |i: usize| lengths.get(i).copied().unwrap_or(u64::MAX);
    Ok((chunk, across, offsets.iter().enumerate().map(|(i, at)| (*at, length(i))).collect()))
}
