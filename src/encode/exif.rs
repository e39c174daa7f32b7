//! The tags that TIFF and EXIF share, and a block of EXIF for PNG and WebP. Exif 2.32 (CIPA DC-008-2019),
//! 4.6.4; TIFF 6.0, section 8; all from memory.

use super::directory::{HEAD, Value, directory, head, rational};
use super::imprint::Imprint;
use crate::error::{Error, Kind, Result};

/// `ImageDescription`, `Orientation`, `XResolution`, `YResolution`, `ResolutionUnit`, `Artist`, `Copyright`.
const DESCRIPTION: u16 = 270;
const ORIENTATION: u16 = 274;
const ACROSS: u16 = 282;
const DOWN: u16 = 283;
const UNIT: u16 = 296;
const ARTIST: u16 = 315;
const COPYRIGHT: u16 = 33432;

/// The tags that say what the imprint says: the picture is upright, its resolution to an inch, and its texts.
pub(super) fn tags(imprint: &Imprint) -> Vec<(u16, Value)> {
    let mut tags = vec![(ORIENTATION, Value::Short(vec![1]))];
    if let Some(ppi) = imprint.ppi {
        tags.extend([
            (ACROSS, Value::Rational(rational(ppi))),
            (DOWN, Value::Rational(rational(ppi))),
            (UNIT, Value::Short(vec![2])),
        ]);
    }
    for ((_, text), tag) in imprint.texts().into_iter().zip([DESCRIPTION, ARTIST, COPYRIGHT]) {
        tags.extend(text.map(|text| (tag, Value::Ascii(text.to_owned()))));
    }
    tags
}

/// A block of EXIF: the head of a TIFF file and a directory, as `eXIf` in PNG and `EXIF` in WebP hold it, without a marker before it.
pub(super) fn block(imprint: &Imprint) -> Result<Vec<u8>> {
    let mut bytes = head(HEAD as u32).to_vec();
    let tags = directory(tags(imprint), HEAD)
        .ok_or_else(|| Error::new(Kind::Limit, "The title, name and copyright are too long for a picture. Shorten them."))?;
    bytes.extend(tags);
    Ok(bytes)
}
