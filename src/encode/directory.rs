//! A directory of tags as TIFF and EXIF have it: TIFF 6.0, section 2, little-endian.

use crate::units::Ppi;

/// Bytes of a file's head before anything else: `II`, 42, and where the directory begins.
pub(super) const HEAD: usize = 8;

/// What a tag holds, by the types of TIFF 6.0, section 2, "Types".
pub(super) enum Value {
    /// 16-bit numbers.
    Short(Vec<u16>),
    /// 32-bit numbers.
    Long(Vec<u32>),
    /// Numerator and denominator.
    Rational([u32; 2]),
    /// Text, ended by a zero byte. The type asks for 7-bit ASCII; other characters are written as UTF-8, as is common practice and
    /// what readers try first. Exif 3.0 has a type of its own for it, but readers of earlier versions pass that over.
    Ascii(String),
    /// Bytes.
    Undefined(Vec<u8>),
}

impl Value {
    /// Number of its type, how many of it there are, and their bytes.
    fn stored(&self) -> (u16, usize, Vec<u8>) {
        match self {
            Self::Ascii(text) => (2, text.len() + 1, text.bytes().chain([0]).collect()),
            Self::Short(v) => (3, v.len(), v.iter().flat_map(|n| n.to_le_bytes()).collect()),
            Self::Long(v) => (4, v.len(), v.iter().flat_map(|n| n.to_le_bytes()).collect()),
            Self::Rational(v) => (5, 1, v.iter().flat_map(|n| n.to_le_bytes()).collect()),
            Self::Undefined(v) => (7, v.len(), v.clone()),
        }
    }
}

/// The head of a file whose directory begins at byte `at`.
pub(super) fn head(at: u32) -> [u8; HEAD] {
    let [a, b, c, d] = at.to_le_bytes();
    [b'I', b'I', 42, 0, a, b, c, d]
}

/// The bytes of a directory that begins at byte `at`, an even one, and what does not fit into its entries after it. It is the only
/// one of its file. `None` where it would reach beyond 4 GB.
pub(super) fn directory(mut tags: Vec<(u16, Value)>, at: usize) -> Option<Vec<u8>> {
    tags.sort_by_key(|(tag, _)| *tag); // Entries stand in ascending order.
    let mut entries = u16::try_from(tags.len()).ok()?.to_le_bytes().to_vec();
    let beyond = at + 2 + 12 * tags.len() + 4;
    let mut rest = Vec::new();
    for (tag, value) in &tags {
        let (kind, count, bytes) = value.stored();
        entries.extend(tag.to_le_bytes());
        entries.extend(kind.to_le_bytes());
        entries.extend(u32::try_from(count).ok()?.to_le_bytes());
        if bytes.len() <= 4 {
            entries.extend(bytes.iter().copied().chain([0; 4]).take(4));
        } else {
            entries.extend(u32::try_from(beyond + rest.len()).ok()?.to_le_bytes());
            rest.extend(bytes);
            // A value begins on a word boundary.
            rest.resize(rest.len().next_multiple_of(2), 0);
        }
    }
    entries.extend([0; 4]);
    entries.extend(rest);
    Some(entries)
}

/// A resolution as a fraction of pixels an inch, to a ten-thousandth: 300 / 1, or 2999994 / 10000.
pub(super) fn rational(ppi: Ppi) -> [u32; 2] {
    let (numerator, denominator) = ((ppi.0 * 10_000.0).round() as u32, 10_000);
    let (mut a, mut b) = (numerator, denominator);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    [numerator / a, denominator / a]
}
