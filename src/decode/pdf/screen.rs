//! What is refused of a PDF before its objects are read: the library unpacks tables of objects by itself, as large as they come.

use std::io::Read;

use crate::decode::limits;
use crate::decode::packed::{deflated, lzw};
use crate::error::{Error, Kind, Result};

/// A stream's dictionary is looked for in so many bytes before it.
const HEAD: usize = 4096;

/// Unpacks every plain stream that is not marked as a picture, keeping nothing, and refuses a file that holds more in them than
/// [`limits::MAX_TABLES`]. Pictures are unpacked row by row later on, so that theirs need no memory.
pub(super) fn screen(file: &[u8]) -> Result<()> {
    let (mut at, mut total) = (0, 0);
    while let Some(found) = file[at..].windows(6).position(|word| word == b"stream") {
        let start = at + found;
        at = start + 6;
        let before = &file[start.saturating_sub(HEAD)..start];
        if before.ends_with(b"end") {
            continue;
        }
        let head = before.windows(3).rposition(|word| word == b"obj").map_or(before, |from| &before[from..]);
        let count = |name: &[u8]| head.windows(name.len()).filter(|word| *word == name).count();
        let (deflate, lzws) = (count(b"/FlateDecode"), count(b"/LZWDecode"));
        if count(b"/Image") > 0 || deflate + lzws == 0 {
            continue;
        }
        if deflate + lzws > 1 {
            return Err(too_large());
        }
        let data = &file[at..];
        let data = data.strip_prefix(b"\r").unwrap_or(data);
        let data = data.strip_prefix(b"\n").unwrap_or(data);
        let unpacked = if deflate > 0 { deflated(data) } else { lzw(data, true) };
        total += length(unpacked.take(limits::MAX_TABLES - total + 1));
        if total > limits::MAX_TABLES {
            return Err(too_large());
        }
    }
    Ok(())
}

/// How many bytes there are, up to the end or to damage.
fn length(mut source: impl Read) -> u64 {
    let mut part = [0; 8192];
    let mut sum = 0;
    while let Ok(count @ 1..) = source.read(&mut part) {
        sum += count as u64;
    }
    sum
}

pub(super) fn too_large() -> Error {
    Error::new(
        Kind::Limit,
        format!(
            "This PDF unpacks to more than {} MB beside its pictures, which no scanner writes. Scan the painting as TIFF, PNG or JPEG.",
            limits::MAX_TABLES >> 20
        ),
    )
}
