//! A picture of a PDF and the reading of its samples: ISO 32000-1, 8.9.

use std::io::{Cursor, ErrorKind};

use hayro_syntax::object::{Array, Dict, Object, Stream};

use super::colors::{Ready, Space};
use super::filters::{Kind, Packed};
use super::{broken, unsupported};
use crate::decode::lay::Sample;
use crate::decode::packed::Bytes;
use crate::decode::samples::{Predictor, Row};
use crate::decode::{Format, cut_off, jpeg, jpx, limits};
use crate::error::{Error, Result, zeroed};

/// A picture as it is stored.
pub(super) struct Picture<'a> {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Bits of a channel.
    pub(super) bits: usize,
    pub(super) space: Space,
    /// What the least and the most of each channel mean, where that is not as usual: 0 and 1 of the channel's range, or numbers of
    /// colors.
    decode: Option<Vec<[f64; 2]>>,
    packed: Packed<'a>,
    mask: Option<Mask<'a>>,
}

/// How far a picture is there: gray of any size, white where it is, or the other way round.
struct Mask<'a> {
    picture: Box<Picture<'a>>,
    inverted: bool,
}

impl<'a> Picture<'a> {
    /// The picture of a stream. `defaults` are colors that stand for those of a device, and `black` says whether a stencil is drawn
    /// in black.
    ///
    /// # Errors
    /// For a kind that is not read, or an impossible one.
    pub(super) fn of(stream: &Stream<'a>, defaults: &Dict<'a>, black: bool) -> Result<Self> {
        let dict = stream.dict();
        let packed = Packed::of(stream)?;
        let number = |key: &str, short: &str| dict.get::<u32>(key).or_else(|| dict.get(short));
        let (mut width, mut height) = (number("Width", "W").unwrap_or(0) as usize, number("Height", "H").unwrap_or(0) as usize);
        let stencil = dict.get::<bool>("ImageMask") == Some(true);
        if stencil && !black {
            return Err(unsupported("holds a stencil that is drawn in a color, and no picture"));
        }
        let stated = dict.get::<Object<'_>>("ColorSpace").map(|object| Space::of(&object, defaults, 0)).transpose()?;
        let (bits, space) = match packed.kind {
            Kind::Jpeg { .. } => {
                // What the JPEG itself says of its size holds: 8.9.5.1, table 89.
                let (jpeg, channels) = jpeg::head(&packed.whole(limits::MAX_PIXELS)?).map_err(inside)?;
                [width, height] = jpeg;
                let space = stated.unwrap_or_else(|| Space::of_channels(channels));
                if space.channels() != channels {
                    return Err(broken("its JPEG has other channels than the PDF says"));
                }
                (8, space)
            }
            Kind::Jpx => {
                let numbers = stated.as_ref().is_some_and(Space::is_palette);
                let head = jpx::head(&packed.whole(limits::MAX_PIXELS)?, numbers)?;
                [width, height] = [head.width, head.height];
                // Table 89: how far it is there counts only where the PDF says so.
                if head.alpha && number("SMaskInData", "SMaskInData").unwrap_or(0) > 0 {
                    return Err(unsupported("holds a see-through picture as JPEG 2000"));
                }
                let own = head.profile.map(|profile| Space::Icc { channels: head.channels, profile });
                let space = stated.or(own).unwrap_or_else(|| Space::of_channels(head.channels));
                if space.channels() != head.channels {
                    return Err(broken("its JPEG 2000 has other channels than the PDF says"));
                }
                (head.bits, space)
            }
            _ if stencil => (1, Space::Gray),
            Kind::Fax { columns, .. } if columns != width => return Err(broken("its fax is of another width than the PDF says")),
            Kind::Fax { .. } => (1, stated.unwrap_or(Space::Gray)),
            Kind::Plain => {
                let space = stated.ok_or_else(|| broken("its colors are not stated"))?;
                (number("BitsPerComponent", "BPC").unwrap_or(8) as usize, space)
            }
        };
        let fits = matches!(bits, 1 | 2 | 4 | 8) || (bits == 16 && !space.is_palette());
        if !fits || (matches!(packed.kind, Kind::Fax { .. }) && space.channels() != 1) {
            return Err(broken(&format!("its picture has {bits} bits a channel")));
        }
        limits::pixels(width as u64, height as u64)?;
        if width as u64 * space.channels() as u64 * bits as u64 / 8 > limits::MAX_ROW {
            return Err(broken(&format!("its picture is {width} pixels wide")));
        }
        // A JPEG 2000 means what it says: table 89.
        let decode = if packed.kind == Kind::Jpx { None } else { decode(dict, &space, bits) };
        let mut picture = Self { width, height, bits, space, decode, packed, mask: None };
        if !stencil {
            picture.mask = mask(dict, defaults)?;
        }
        Ok(picture)
    }

    /// Whether it can be a strip of the same picture.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        self.width == other.width && (self.bits > 8) == (other.bits > 8) && self.space == other.space
    }

    /// Reads all pixels as red, green and blue, laid on white; says whether any was not opaque.
    ///
    /// # Errors
    /// For damage, or want of memory.
    pub(super) fn read<S: Sample>(&self, space: &Ready, to: &mut [S]) -> Result<bool> {
        let nearly = self.packed.nearly()?;
        let mut source = self.source(&nearly)?;
        let mask = self.mask.as_ref().map(Mask::read).transpose()?;
        let row = Row {
            bits: self.bits,
            floating: false,
            channels: self.space.channels(),
            big_endian: true,
            predictor: Predictor::None,
        };
        let what = "a row of the scan";
        let mut bytes = zeroed::<u8>(row.bytes(self.width), what)?;
        let mut samples = zeroed::<S>(self.width * row.channels, what)?;
        let mut entries = zeroed::<u16>(if self.space.is_palette() { self.width } else { 0 }, what)?;
        let meant = self.decode.as_deref().map(|decode| Meant::of(decode, &self.space.ranges()));
        let mut seen = false;
        for (y, to) in to.chunks_exact_mut(self.width * 3).enumerate() {
            fill(&mut source, &mut bytes)?;
            if self.space.is_palette() {
                row.entries(&mut bytes, &mut entries);
                if let Some([[from, to]]) = self.decode.as_deref() {
                    let most = f64::from((1_u32 << self.bits) - 1);
                    // A cast to an integer clamps.
                    entries.iter_mut().for_each(|v| *v = (from + f64::from(*v) * (to - from) / most + 0.5) as u16);
                }
                space.look_up(&entries, to);
            } else {
                row.read(&mut bytes, &mut samples);
                if let Some(meant) = &meant {
                    meant.apply(&mut samples);
                }
                space.lay(&samples, to);
            }
            if let Some(mask) = &mask {
                seen |= mask.lay(y, self.height, to);
            }
        }
        Ok(seen)
    }

    /// The bytes of its rows.
    fn source<'b>(&self, nearly: &'b [u8]) -> Result<Bytes<'b>> {
        Ok(match self.packed.kind {
            Kind::Plain => self.packed.open(nearly)?,
            Kind::Jpeg { luma } => {
                let bytes = self.packed.last(nearly)?;
                Box::new(Cursor::new(jpeg::drawn(&bytes, luma, [self.width, self.height]).map_err(inside)?))
            }
            Kind::Jpx => {
                let bytes = self.packed.last(nearly)?;
                Box::new(Cursor::new(jpx::samples(&bytes, self.space.is_palette())?))
            }
            Kind::Fax { fax, black_is_one, .. } => {
                let bytes = self.packed.last(nearly)?;
                let mut rows = fax.unpack(&bytes, self.width, self.height, Format::Pdf)?;
                if !black_is_one {
                    rows.iter_mut().for_each(|byte| *byte = !*byte);
                }
                Box::new(Cursor::new(rows))
            }
        })
    }
}

/// What the samples mean where that is not as usual: table 90. `None` where it is.
fn decode(dict: &Dict<'_>, space: &Space, bits: usize) -> Option<Vec<[f64; 2]>> {
    let stated = dict.get::<Array<'_>>("Decode").or_else(|| dict.get("D"))?;
    let stated: Vec<f64> = stated.iter::<f32>().take(64).map(f64::from).collect();
    let pairs = stated.as_chunks::<2>().0.to_vec();
    let usual = if space.is_palette() { vec![[0.0, f64::from((1_u32 << bits) - 1)]] } else { space.ranges() };
    (pairs.len() == usual.len() && pairs != usual).then_some(pairs)
}

/// What stored samples mean, channel by channel: the value of nothing, and what the most adds, both as parts of the range.
struct Meant(Vec<[f64; 2]>);

impl Meant {
    fn of(decode: &[[f64; 2]], ranges: &[[f64; 2]]) -> Self {
        let part = |([from, to], [least, most]): (&[f64; 2], &[f64; 2])| {
            let place = |v: f64| (v - least) / (most - least);
            [place(*from), place(*to) - place(*from)]
        };
        Self(decode.iter().zip(ranges).map(part).collect())
    }

    fn apply<S: Sample>(&self, row: &mut [S]) {
        let white = f64::from(S::WHITE);
        for pixel in row.chunks_exact_mut(self.0.len()) {
            for (v, [from, more]) in pixel.iter_mut().zip(&self.0) {
                // A cast to an integer clamps, and `of` does at the other end.
                *v = S::of((from * white + more * f64::from(v.value()) + 0.5) as u32);
            }
        }
    }
}

/// What makes parts of a picture see-through: 8.9.6 and 11.6.5.3.
fn mask<'a>(dict: &Dict<'a>, defaults: &Dict<'a>) -> Result<Option<Mask<'a>>> {
    if let Some(stream) = dict.get::<Stream<'a>>("SMask") {
        if stream.dict().contains_key("Matte") {
            return Err(unsupported("holds a picture whose colors are mixed with another color where it is see-through"));
        }
        return Mask::of(&stream, defaults, false).map(Some);
    }
    match dict.get::<Object<'a>>("Mask") {
        // A stencil is 1 where the picture is not there.
        Some(Object::Stream(stream)) => Mask::of(&stream, defaults, true).map(Some),
        Some(Object::Array(_)) => Err(unsupported("holds a picture of which certain colors are see-through")),
        _ => Ok(None),
    }
}

impl<'a> Mask<'a> {
    fn of(stream: &Stream<'a>, defaults: &Dict<'a>, inverted: bool) -> Result<Self> {
        // A mask of a mask is none.
        if ["SMask", "Mask"].iter().any(|key| stream.dict().contains_key(key)) {
            return Err(broken("a mask has a mask of its own"));
        }
        let picture = Picture::of(stream, defaults, true)?;
        if picture.space.channels() != 1 || picture.space.is_palette() {
            return Err(broken("a mask is not gray"));
        }
        Ok(Self { picture: Box::new(picture), inverted })
    }

    fn read(&self) -> Result<Opacity> {
        let Picture { width, height, .. } = *self.picture;
        let mut rows = zeroed::<u8>(width * height, "the mask of the scan")?;
        let mut strip = zeroed::<u8>(width * height * 3, "the mask of the scan")?;
        self.picture.read(&Ready::Gray, &mut strip)?;
        let turned = if self.inverted { 0xFF } else { 0 };
        rows.iter_mut().zip(strip.as_chunks::<3>().0).for_each(|(to, from)| *to = from[0] ^ turned);
        Ok(Opacity { width, height, rows })
    }
}

/// How far the pixels of a picture are there.
struct Opacity {
    width: usize,
    height: usize,
    rows: Vec<u8>,
}

impl Opacity {
    /// Lays row `y` of a picture of `height` rows on white; says whether any pixel was not opaque.
    fn lay<S: Sample>(&self, y: usize, height: usize, row: &mut [S]) -> bool {
        let pixels = row.as_chunks_mut::<3>().0;
        let count = pixels.len();
        // In 64 bits: a mask may be larger than its picture.
        let scaled = |at: usize, own: usize, other: usize| (at as u64 * other as u64 / own as u64) as usize;
        let own = &self.rows[scaled(y, height, self.height) * self.width..][..self.width];
        let mut seen = false;
        for (x, pixel) in pixels.iter_mut().enumerate() {
            let opacity = u32::from(own[scaled(x, count, self.width)]);
            seen |= opacity != 0xFF;
            let white = S::WHITE * (0xFF - opacity);
            *pixel = pixel.map(|v| S::of((v.value() * opacity + white + 0x7F) / 0xFF));
        }
        seen
    }
}

/// The next row.
fn fill(source: &mut Bytes<'_>, bytes: &mut [u8]) -> Result<()> {
    source.read_exact(bytes).map_err(|why| match why.kind() {
        ErrorKind::UnexpectedEof => cut_off(Format::Pdf),
        _ => broken(&why.to_string()),
    })
}

/// An error of a JPEG, of which the painter knows nothing.
fn inside(why: Error) -> Error {
    Error::new(why.kind(), why.message().replacen("This JPEG", "The JPEG in this PDF", 1))
}
