//! The few facts of an EXIF block that a scan needs: orientation and resolution.
//!
//! EXIF is a small TIFF without a picture (CIPA DC-008, 4.5). A damaged block is no reason to refuse a picture: what
//! cannot be read is left out.

use crate::geometry::orient::Orientation;

/// What was found.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Exif {
    /// How the picture lies.
    pub(super) orientation: Option<Orientation>,
    /// Pixels per inch, across and down.
    pub(super) density: Option<(f64, f64)>,
}

/// Entries that are looked at: a real block has some dozens.
const MOST_ENTRIES: usize = 1000;

const ORIENTATION: u16 = 0x112;
const ACROSS: u16 = 0x11A;
const DOWN: u16 = 0x11B;
const UNIT: u16 = 0x128;

/// Reads a block, with or without the six bytes that begin it in a JPEG.
pub(super) fn read(block: &[u8]) -> Exif {
    let block = block.strip_prefix(b"Exif\0\0").unwrap_or(block);
    facts(block).unwrap_or_default()
}

fn facts(block: &[u8]) -> Option<Exif> {
    let order = match block.get(..4)? {
        [b'I', b'I', 42, 0] => Order::Little,
        [b'M', b'M', 0, 42] => Order::Big,
        _ => return None,
    };
    let word = |at: usize| order.word(block, at);
    let directory = order.long(block, 4)? as usize;
    let entries = usize::from(word(directory)?).min(MOST_ENTRIES);
    let mut exif = Exif::default();
    // The unit is inches where it is not stated.
    let (mut across, mut down, mut unit) = (None, None, 2);
    for i in 0..entries {
        let at = directory.checked_add(2 + 12 * i)?;
        let (Some(tag), Some(kind)) = (word(at), word(at + 2)) else { break };
        match (tag, kind) {
            (ORIENTATION, 3) => exif.orientation = word(at + 8).and_then(Orientation::from_number),
            (ACROSS, 5) => across = order.ratio(block, at + 8),
            (DOWN, 5) => down = order.ratio(block, at + 8),
            (UNIT, 3) => unit = word(at + 8).unwrap_or(unit),
            _ => {}
        }
    }
    exif.density = match unit {
        2 => across.zip(down),
        3 => across.zip(down).map(|(a, d)| (a * 2.54, d * 2.54)),
        _ => None,
    };
    Some(exif)
}

#[derive(Clone, Copy)]
enum Order {
    Little,
    Big,
}

impl Order {
    fn word(self, block: &[u8], at: usize) -> Option<u16> {
        let bytes = block.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(match self {
            Self::Little => u16::from_le_bytes(bytes),
            Self::Big => u16::from_be_bytes(bytes),
        })
    }

    fn long(self, block: &[u8], at: usize) -> Option<u32> {
        let bytes = block.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(match self {
            Self::Little => u32::from_le_bytes(bytes),
            Self::Big => u32::from_be_bytes(bytes),
        })
    }

    /// The fraction whose place is stored at `at`.
    fn ratio(self, block: &[u8], at: usize) -> Option<f64> {
        let at = self.long(block, at)? as usize;
        let (above, below) = (self.long(block, at)?, self.long(block, at.checked_add(4)?)?);
        (below != 0).then(|| f64::from(above) / f64::from(below))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A block written by hand after CIPA DC-008: orientation 6, 300/1 by 600/2 pixels per inch or centimeter.
    fn block(unit: u8) -> Vec<u8> {
        let mut b = b"II\x2A\0\x08\0\0\0\x04\0".to_vec();
        b.extend([0x12, 1, 3, 0, 1, 0, 0, 0, 6, 0, 0, 0]);
        b.extend([0x1A, 1, 5, 0, 1, 0, 0, 0, 62, 0, 0, 0]);
        b.extend([0x1B, 1, 5, 0, 1, 0, 0, 0, 70, 0, 0, 0]);
        b.extend([0x28, 1, 3, 0, 1, 0, 0, 0, unit, 0, 0, 0]);
        b.extend([0, 0, 0, 0]);
        b.extend([44, 1, 0, 0, 1, 0, 0, 0, 88, 2, 0, 0, 2, 0, 0, 0]);
        b
    }

    #[test]
    fn facts_are_found() {
        let exif = read(&block(2));
        assert_eq!(exif, Exif { orientation: Some(Orientation::QuarterTurn), density: Some((300.0, 300.0)) });
        assert_eq!(read(&block(3)).density, Some((762.0, 762.0)));
        assert_eq!(read(&block(1)).density, None);
    }

    #[test]
    fn damage_is_left_out() {
        let whole = block(2);
        for end in 0..whole.len() {
            let exif = read(&whole[..end]);
            assert!(exif.density.is_none());
        }
        assert_eq!(read(b"nothing of the kind"), Exif::default());
    }
}
