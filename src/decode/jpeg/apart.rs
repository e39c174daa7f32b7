//! Baseline JPEGs whose channels stand in scans of their own. The decoder gives wrong colors for them: it leaves a scan as soon as
//! it has seen the mark of the next one, a row of blocks too early. So each channel is handed to it as a gray JPEG, with nothing
//! behind it, and what it gives is put together here.

use crate::error::{Error, Kind, Result};

/// A channel.
#[derive(Debug)]
pub(super) struct Channel {
    /// It alone, as a file.
    pub(super) file: Vec<u8>,
    /// Samples across and down.
    size: [usize; 2],
    /// How many of its samples stand, across and down, where the finest channel has `finest`.
    share: [usize; 2],
    finest: [usize; 2],
}

/// The channels of a file, in the order of its frame; `None` where one is missing or damaged.
///
/// # Errors
/// [`Kind::Unsupported`] where a scan holds some of the channels, but not one alone.
pub(super) fn channels(bytes: &[u8]) -> Result<Option<Vec<Channel>>> {
    let (mut tables, mut frame, mut found) = (Vec::new(), None, Vec::new());
    let mut at = 2;
    while let Some(&[0xFF, mark]) = bytes.get(at..at + 2) {
        if mark == 0xFF {
            at += 1;
            continue;
        }
        let Some(segment) = segment(bytes, at) else { break };
        let whole = &bytes[at..at + 4 + segment.len()];
        at += whole.len();
        match mark {
            0xDB | 0xC4 | 0xDD => tables.extend_from_slice(whole),
            0xC0 | 0xC1 if frame.is_none() => frame = Some((mark, segment)),
            0xDA => {
                let [1, id, coded, ..] = *segment else {
                    return Err(Error::new(
                        Kind::Unsupported,
                        "This JPEG is of a rare kind: some of its channels stand together, others apart. \
                         Save it as TIFF or PNG from the program that it came from.",
                    ));
                };
                let end = at + coded_length(&bytes[at..]);
                found.push((id, coded, tables.clone(), &bytes[at..end]));
                at = end;
            }
            _ => {}
        }
    }
    let Some((mark, &[bits, h1, h0, w1, w0, count, ref each @ ..])) = frame else { return Ok(None) };
    let whole = [[w1, w0], [h1, h0]].map(|side| usize::from(u16::from_be_bytes(side)));
    let shares = |channel: &[u8; 3]| [usize::from(channel[1] >> 4), usize::from(channel[1] & 15)];
    let each = &each.as_chunks::<3>().0[..usize::from(count).min(each.len() / 3)];
    let finest = each.iter().map(shares).fold([0; 2], |most, share| [0, 1].map(|side| most[side].max(share[side])));
    let channel = |channel: &[u8; 3]| {
        let [id, _, quantized] = *channel;
        let share = shares(channel);
        let (_, coded, tables, data) = found.iter().find(|scan| scan.0 == id)?;
        if share.contains(&0) || share.iter().any(|share| *share > 4) {
            return None;
        }
        // As many samples as T.81, annex A.1.1, gives it.
        let size = [0, 1].map(|side| (whole[side] * share[side]).div_ceil(finest[side]));
        let [[w1, w0], [h1, h0]] = size.map(|side| (side as u16).to_be_bytes());
        let head = [0xFF, mark, 0, 11, bits, h1, h0, w1, w0, 1, 1, 0x11, quantized];
        let scan = [0xFF, 0xDA, 0, 8, 1, 1, *coded, 0, 63, 0];
        Some(Channel { file: [&[0xFF, 0xD8], &tables[..], &head, &scan, data, &[0xFF, 0xD9]].concat(), size, share, finest })
    };
    Ok(each.iter().map(channel).collect())
}

/// What stands in the segment whose mark is at `at`, where all of it is there.
fn segment(bytes: &[u8], at: usize) -> Option<&[u8]> {
    let long = bytes.get(at + 2..at + 4)?;
    bytes.get(at + 4..at + 2 + usize::from(u16::from_be_bytes([long[0], long[1]])))
}

/// How far coded data goes: to a mark that is no restart.
fn coded_length(data: &[u8]) -> usize {
    let ends = |pair: &[u8]| pair[0] == 0xFF && !matches!(pair[1], 0 | 0xD0..=0xD7 | 0xFF);
    data.windows(2).position(ends).unwrap_or(data.len())
}

impl Channel {
    /// Whether a decoded picture is of the size that this channel should have.
    pub(super) fn fits(&self, width: usize, height: usize) -> bool {
        self.size == [width, height]
    }

    /// Lays its samples into channel `index` of a picture of `count` channels and `width` pixels across. Where it has fewer
    /// than that, it runs straight from the middle of one sample to the middle of the next.
    pub(super) fn spread(&self, samples: &[u8], index: usize, count: usize, width: usize, out: &mut [u8]) {
        let places: Vec<Place> = (0..width).map(|x| self.place(0, x)).collect();
        for (y, row) in out.chunks_exact_mut(width * count).enumerate() {
            let down = self.place(1, y);
            let [upper, lower] = [down.from, down.to].map(|line| &samples[line * self.size[0]..][..self.size[0]]);
            for (across, pixel) in places.iter().zip(row.chunks_exact_mut(count)) {
                let between = |line: &[u8]| {
                    u32::from(line[across.from]) * (across.of - across.part) + u32::from(line[across.to]) * across.part
                };
                let whole = down.of * across.of;
                let sum = between(upper) * (down.of - down.part) + between(lower) * down.part;
                pixel[index] = ((sum + whole / 2) / whole) as u8;
            }
        }
    }

    /// Where a pixel lies among the samples, along a side.
    fn place(&self, side: usize, pixel: usize) -> Place {
        let (share, finest, last) = (self.share[side], self.finest[side], self.size[side] - 1);
        // Pixels and samples are met in their middles. A whole sample is added, so that nothing is negative.
        let at = (2 * pixel + 1) * share + finest;
        let sample = at / (2 * finest);
        let [from, to] = [sample.max(1) - 1, sample].map(|sample| sample.min(last));
        Place { from, to, part: (at % (2 * finest)) as u32, of: 2 * finest as u32 }
    }
}

/// Between two samples: so many parts of the whole beyond the first.
struct Place {
    from: usize,
    to: usize,
    part: u32,
    of: u32,
}
