//! How the bytes of a stream are packed: ISO 32000-1, 7.4.

use std::borrow::Cow;
use std::io::{Cursor, Read};

use hayro_syntax::object::{Array, Dict, Name, Object, Stream};

use super::predictor::Predictor;
use super::{broken, screen, unsupported};
use crate::decode::limits;
use crate::decode::packed::{Bytes, Fax, Way, deflated, lzw, packed_bits};
use crate::error::{Result, reserve};

/// Filters of a stream, at most: real ones have one or two.
const MOST_STEPS: usize = 8;

/// The bytes of a stream and what was done to them, the last first.
pub(super) struct Packed<'a> {
    bytes: Cow<'a, [u8]>,
    steps: Vec<Step>,
    /// What the bytes are after these steps.
    pub(super) kind: Kind,
}

#[derive(Debug, PartialEq)]
enum Step {
    Hex,
    Base85,
    Runs,
    Deflate(Option<Predictor>),
    Lzw { early: bool, predictor: Option<Predictor> },
}

/// What unpacked bytes are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Kind {
    /// Themselves.
    Plain,
    /// A JPEG; whether its three channels are luma and color differences where it does not say so itself.
    Jpeg { luma: bool },
    /// A JPEG 2000.
    Jpx,
    /// A fax of so many pixels a row; black is 1 where `black_is_one`, as it never is in gray.
    Fax { fax: Fax, columns: usize, black_is_one: bool },
}

impl<'a> Packed<'a> {
    /// The bytes of a stream.
    ///
    /// # Errors
    /// For a filter that is not read, by its common name.
    pub(super) fn of(stream: &Stream<'a>) -> Result<Self> {
        let dict = stream.dict();
        if matches!(dict.get::<Object<'_>>("F"), Some(Object::String(_) | Object::Dict(_))) {
            return Err(unsupported("keeps its picture in another file"));
        }
        let (mut steps, mut kind) = (Vec::new(), Kind::Plain);
        for (name, parameters) in listed(dict) {
            if kind != Kind::Plain {
                return Err(broken("its picture is packed in an impossible way"));
            }
            match name.as_ref() {
                b"ASCIIHexDecode" | b"AHx" => steps.push(Step::Hex),
                b"ASCII85Decode" | b"A85" => steps.push(Step::Base85),
                b"RunLengthDecode" | b"RL" => steps.push(Step::Runs),
                b"FlateDecode" | b"Fl" => steps.push(Step::Deflate(Predictor::of(&parameters)?)),
                b"LZWDecode" | b"LZW" => {
                    let early = parameters.get::<u32>("EarlyChange") != Some(0);
                    steps.push(Step::Lzw { early, predictor: Predictor::of(&parameters)? });
                }
                b"DCTDecode" | b"DCT" => kind = Kind::Jpeg { luma: parameters.get::<u32>("ColorTransform") != Some(0) },
                b"CCITTFaxDecode" | b"CCF" => kind = fax(&parameters),
                // What is locked is opened by the library.
                b"Crypt" => {}
                b"JPXDecode" => kind = Kind::Jpx,
                b"JBIG2Decode" => {
                    return Err(unsupported(
                        "holds its picture as JBIG2, black and white only, so that the colors of the painting are not in it",
                    ));
                }
                other => {
                    let other = String::from_utf8_lossy(other);
                    return Err(unsupported(&format!("holds its picture packed in a way that is not read ({other})")));
                }
            }
        }
        Ok(Self { bytes: stream.raw_data(), steps, kind })
    }

    /// The bytes with all steps but the last undone. Several are rare.
    ///
    /// # Errors
    /// Where there is more between two steps than a sound file would have, or no memory.
    pub(super) fn nearly(&self) -> Result<Cow<'_, [u8]>> {
        let most = (self.bytes.len() as u64).saturating_mul(4).saturating_add(limits::MAX_TABLES);
        let mut bytes: Cow<'_, [u8]> = Cow::Borrowed(&self.bytes);
        let before = self.steps.len().saturating_sub(1);
        for step in &self.steps[..before] {
            let unpacked = all(step.undo(&bytes)?, most)?;
            bytes = Cow::Owned(unpacked);
        }
        Ok(bytes)
    }

    /// The unpacked bytes, one after the other, of what [`Self::nearly`] gave.
    pub(super) fn open<'b>(&self, nearly: &'b [u8]) -> Result<Bytes<'b>> {
        self.steps.last().map_or_else(|| Ok(Box::new(nearly) as Bytes<'b>), |step| step.undo(nearly))
    }

    /// The unpacked bytes of what [`Self::nearly`] gave at once: a picture packed by itself.
    pub(super) fn last<'b>(&self, nearly: &'b [u8]) -> Result<Cow<'b, [u8]>> {
        if self.steps.is_empty() {
            return Ok(Cow::Borrowed(nearly));
        }
        all(self.open(nearly)?, limits::MAX_PIXELS).map(Cow::Owned)
    }

    /// The unpacked bytes at once, where they are up to so many.
    pub(super) fn whole(&self, most: u64) -> Result<Cow<'_, [u8]>> {
        if self.steps.is_empty() {
            return Ok(Cow::Borrowed(&self.bytes));
        }
        all(self.open(&self.nearly()?)?, most).map(Cow::Owned)
    }
}

/// The filters of a stream and the parameters of each.
fn listed<'a>(dict: &Dict<'a>) -> Vec<(Name<'a>, Dict<'a>)> {
    let parameters = dict.get::<Object<'a>>("DecodeParms").or_else(|| dict.get("DP"));
    match (dict.get::<Object<'a>>("Filter"), parameters) {
        (Some(Object::Name(name)), Some(Object::Dict(parameters))) => vec![(name, parameters)],
        (Some(Object::Name(name)), Some(Object::Array(several))) => {
            vec![(name, several.flex_iter().next::<Dict<'a>>().unwrap_or_default())]
        }
        (Some(Object::Name(name)), _) => vec![(name, Dict::empty())],
        (Some(Object::Array(names)), parameters) => {
            let several: Vec<Object<'a>> = match parameters {
                Some(Object::Array(several)) => several.iter::<Object<'a>>().take(MOST_STEPS).collect(),
                Some(one) => vec![one],
                None => Vec::new(),
            };
            let mut several = several.into_iter().map(|one| one.into_dict().unwrap_or_default());
            let names: Array<'a> = names;
            names.iter::<Name<'a>>().take(MOST_STEPS).map(|name| (name, several.next().unwrap_or_default())).collect()
        }
        _ => Vec::new(),
    }
}

/// Table 11 of ISO 32000-1.
fn fax(parameters: &Dict<'_>) -> Kind {
    let on = |key: &str, default: bool| parameters.get::<bool>(key).unwrap_or(default);
    let way = match parameters.get::<i32>("K").unwrap_or(0) {
        ..0 => Way::Differences,
        0 => Way::Rows,
        1.. => Way::Mixed,
    };
    let fax = Fax { way, aligned: on("EncodedByteAlign", false), marked: on("EndOfLine", false), ends: on("EndOfBlock", true) };
    let columns = parameters.get::<u32>("Columns").unwrap_or(1728) as usize;
    Kind::Fax { fax, columns, black_is_one: on("BlackIs1", false) }
}

impl Step {
    fn undo<'b>(&self, bytes: &'b [u8]) -> Result<Bytes<'b>> {
        let rows = |source: Bytes<'b>, predictor: Option<Predictor>| match predictor {
            Some(predictor) => predictor.undo(source),
            None => source,
        };
        Ok(match self {
            Self::Hex => Box::new(Cursor::new(hex(bytes))),
            Self::Base85 => Box::new(Cursor::new(base85(bytes))),
            Self::Runs => packed_bits(bytes),
            Self::Deflate(predictor) => rows(deflated(bytes), *predictor),
            Self::Lzw { early, predictor } => rows(lzw(bytes, *early), *predictor),
        })
    }
}

/// Everything from a source, where it is up to `most` bytes. Damage ends it, as programs that show such files have it.
pub(super) fn all(mut source: Bytes<'_>, most: u64) -> Result<Vec<u8>> {
    let mut out = Vec::new();
    let mut part = [0; 8192];
    while let Ok(count @ 1..) = source.read(&mut part) {
        if out.len() as u64 + count as u64 > most {
            return Err(screen::too_large());
        }
        reserve(&mut out, count, "the PDF")?;
        out.extend_from_slice(&part[..count]);
    }
    Ok(out)
}

/// Two digits a byte, up to `>`; a last one alone has a zero behind it: ISO 32000-1, 7.4.2.
fn hex(bytes: &[u8]) -> Vec<u8> {
    let digits = bytes.iter().take_while(|byte| **byte != b'>').filter_map(|byte| char::from(*byte).to_digit(16));
    let digits: Vec<u8> = digits.map(|digit| digit as u8).collect();
    digits.chunks(2).map(|pair| pair[0] << 4 | pair.get(1).unwrap_or(&0)).collect()
}

/// Five characters to four bytes, up to `~`; `z` is four zeros; the last group may be shorter: ISO 32000-1, 7.4.3.
fn base85(bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut group = Vec::with_capacity(5);
    let value = |group: &[u8]| {
        let digits = group.iter().copied().chain(std::iter::repeat(84)).take(5);
        digits.fold(0_u64, |sum, digit| sum * 85 + u64::from(digit)) as u32
    };
    for byte in bytes.iter().take_while(|byte| **byte != b'~') {
        match byte {
            b'z' if group.is_empty() => out.extend([0; 4]),
            b'!'..=b'u' => group.push(byte - b'!'),
            _ => {}
        }
        if group.len() == 5 {
            out.extend(value(&group).to_be_bytes());
            group.clear();
        }
    }
    if group.len() > 1 {
        out.extend_from_slice(&value(&group).to_be_bytes()[..group.len() - 1]);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_of_sixteen() {
        assert_eq!(
            hex(b"4E 6f
7>77"),
            [0x4E, 0x6F, 0x70]
        );
    }

    /// "Man " is 9jqo^ (RFC 1924's base is another; this is the common example of ASCII85, from memory), and zeros are z.
    #[test]
    fn digits_of_eighty_five() {
        assert_eq!(base85(b"9jqo^~>"), b"Man ");
        assert_eq!(
            base85(
                b"z9jq
o^9jqo~>"
            ),
            b"\0\0\0\0Man Man"
        );
    }
}
