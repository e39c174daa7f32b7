//! Packing as PNG and TIFF have it: a zlib stream (RFC 1950) of Deflate blocks (RFC 1951), smaller than the library's.
//!
//! What `flate2` makes of the rows of an art is 5 to 20 % larger: it takes the longest match it sees. Here the cheapest way through a
//! band of bytes is found, literals and matches priced by the codes that will write them: a shortest path, as in Storer and Szymanski,
//! "Data compression via textual substitution" (1982). Prices are those of the band before, which resembles it. The band is then cut
//! into blocks where that pays. All is whole numbers, so the bytes are the same on every machine.

mod bits;
mod block;
mod counts;
mod huffman;
mod matches;
mod parse;

use bits::Bits;
use counts::{Counts, Prices};
use matches::{Finder, WINDOW};
use parse::Way;

/// Bytes that are packed at a time, at most. Of four arts half as many packed one worse by 0.5 % and others no better by more; twice as many
/// packed one worse by 1.8 %, since prices come too late.
const BAND: usize = 1 << 17;
/// Bytes between places where a block may end.
const PIECE: usize = 1 << 13;
/// What the codes of a block cost, in 65536ths of a bit: about 60 bytes.
const HEADER: u64 = 500 << 16;
/// First bytes of a zlib stream (RFC 1950, 2.2): Deflate with a window of 32 KB, no dictionary, "maximum compression", and a check.
const HEAD: [u8; 2] = [0x78, 0xDA];

/// A zlib stream in the making. Holds some megabytes, however long the stream.
pub(super) struct Packer {
    /// The window that matches reach back into, then bytes that are not packed yet.
    bytes: Vec<u8>,
    /// Where the latter begin.
    begin: usize,
    finder: Finder,
    way: Way,
    prices: Option<Prices>,
    bits: Bits,
    sums: Adler,
}

impl Packer {
    /// Begins a stream.
    pub(super) fn new() -> Self {
        let mut packer = Self {
            bytes: Vec::new(),
            begin: 0,
            finder: Finder::new(),
            way: Way::default(),
            prices: None,
            bits: Bits::default(),
            sums: Adler::default(),
        };
        packer.bits.bytes(HEAD);
        packer
    }

    /// Packs more bytes. However they are handed over, the stream is the same.
    pub(super) fn write(&mut self, mut bytes: &[u8]) {
        self.sums.add(bytes);
        while !bytes.is_empty() {
            // A full band is packed only once more comes: the last one must be told that it is the last.
            if self.bytes.len() - self.begin == BAND {
                self.pack(false);
            }
            let (now, later) = bytes.split_at(bytes.len().min(self.begin + BAND - self.bytes.len()));
            self.bytes.extend_from_slice(now);
            bytes = later;
        }
    }

    /// What is packed so far and was not taken yet.
    pub(super) fn take(&mut self) -> Vec<u8> {
        self.bits.take()
    }

    /// Ends the stream, and gives what was not taken of it. The next byte begins another, which is priced by what was learned.
    pub(super) fn end(&mut self) -> Vec<u8> {
        self.pack(true);
        self.bits.fill();
        self.bits.bytes(std::mem::take(&mut self.sums).value().to_be_bytes());
        let end = self.bits.take();
        self.bytes.clear();
        self.begin = 0;
        self.finder.clear();
        self.bits.bytes(HEAD);
        end
    }

    /// Packs the bytes that wait, and keeps the window before those to come.
    fn pack(&mut self, last: bool) {
        let Self { way, bits, .. } = self;
        way.look(&mut self.finder, &self.bytes, self.begin);
        let band = &self.bytes[self.begin..];
        let prices = self.prices.take().unwrap_or_else(|| {
            // Of the first band nothing is known: prices settle within two rounds.
            let mut prices = Prices::guess(band);
            for _ in 0..2 {
                way.find(band, &prices);
                prices = way.counts(band, 0..band.len()).0.prices();
            }
            prices
        });
        way.find(band, &prices);

        // To find the way through each block once more, by its own prices, would take a fifth longer and save 0.1 to 0.6 %.
        let blocks = way.blocks(band);
        let count = blocks.len();
        for (i, (place, counts)) in blocks.into_iter().enumerate() {
            self.prices = Some(counts.prices());
            block::write(bits, way, band, place, counts, last && i + 1 == count);
        }

        let gone = self.bytes.len().saturating_sub(WINDOW);
        self.bytes.drain(..gone);
        self.begin = self.bytes.len();
        self.finder.forget(gone);
    }
}

/// A whole stream at once.
pub(super) fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packer = Packer::new();
    packer.write(bytes);
    packer.end()
}

impl Way {
    /// Where blocks begin and end, and what they hold: pieces one after another, joined while a block of its own would cost more.
    fn blocks(&self, band: &[u8]) -> Vec<(std::ops::Range<usize>, Counts)> {
        let mut blocks: Vec<(std::ops::Range<usize>, Counts)> = Vec::new();
        let mut at = 0;
        // An empty stream has a block too.
        while at < band.len() || blocks.is_empty() {
            let (counts, end) = self.counts(band, at..(at + PIECE).min(band.len()));
            let joined = blocks.last().map(|(_, before)| (before.and(&counts), before.bits() + counts.bits() + HEADER));
            match (blocks.last_mut(), joined) {
                (Some((place, before)), Some((both, apart))) if both.bits() <= apart => {
                    place.end = end;
                    *before = both;
                }
                _ => blocks.push((at..end, counts)),
            }
            at = end;
        }
        blocks
    }
}

/// The checksum of a zlib stream (RFC 1950, 8.2): two sums by a prime.
struct Adler(u32, u32);

impl Default for Adler {
    fn default() -> Self {
        Self(1, 0)
    }
}

impl Adler {
    fn add(&mut self, bytes: &[u8]) {
        const PRIME: u32 = 65_521;
        // As many bytes as the second sum takes without growing beyond 32 bits.
        for part in bytes.chunks(5_552) {
            for &byte in part {
                self.0 += u32::from(byte);
                self.1 += self.0;
            }
            self.0 %= PRIME;
            self.1 %= PRIME;
        }
    }

    fn value(&self) -> u32 {
        self.1 << 16 | self.0
    }
}

#[cfg(test)]
mod tests {
    use std::io::Read;

    use super::*;

    /// By another's reader, which checks the sums too.
    fn unpacked(stream: &[u8]) -> Vec<u8> {
        let mut reader = flate2::read::ZlibDecoder::new(stream);
        let mut bytes = Vec::new();
        reader.read_to_end(&mut bytes).expect("a sound stream");
        assert_eq!(reader.total_in(), stream.len() as u64, "nothing behind its end");
        bytes
    }

    /// Bytes without any order, by a linear congruential generator (Knuth's MMIX).
    fn noise(len: usize) -> Vec<u8> {
        let mut state = 1_u64;
        (0..len)
            .map(|_| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (state >> 56) as u8
            })
            .collect()
    }

    /// RFC 1950, 8.2; the value is the one that the Adler-32 of "Wikipedia" has in the usual example.
    #[test]
    fn sums_are_those_of_the_standard() {
        let mut sums = Adler::default();
        sums.add(b"Wikipedia");
        assert_eq!(sums.value(), 0x11E6_0398);
        let mut long = Adler::default();
        long.add(&[255; 100_000]);
        assert_eq!(long.value() & 0xFFFF, ((1 + 255 * 100_000_u64) % 65_521) as u32);
    }

    #[test]
    fn what_is_packed_comes_back() {
        let noise = noise(3 * BAND);
        let texts: Vec<u8> = (0..20_000).flat_map(|i: u32| (i * i % 977).to_string().into_bytes()).collect();
        let far: Vec<u8> = [&noise[..WINDOW], &noise[..WINDOW], &noise[..WINDOW - 1], &noise[..400]].concat();
        let mixed: Vec<u8> = [&noise[..PIECE], &vec![7; 3 * PIECE], &texts, &noise[..100]].concat();
        for bytes in [
            &[][..],
            &[0],
            &[1, 2],
            &[5; 3],
            &[9; 4],
            &[0; 259],
            &vec![0; 2 * BAND],
            &vec![0; 2 * BAND + 1],
            &noise,
            &noise[..BAND - 1],
            &texts,
            &far,
            &mixed,
        ] {
            assert!(unpacked(&packed(bytes)) == bytes, "{} bytes", bytes.len());
        }
    }

    #[test]
    fn it_is_small_where_there_is_order_and_hardly_grows_where_there_is_none() {
        // Runs of 258 bytes at a distance of one take two bits each at the least.
        assert!(packed(&vec![0; 4 * BAND]).len() < 4 * BAND / 258 / 4 * 2);
        let noise = noise(2 * BAND);
        assert!(packed(&noise).len() < noise.len() + noise.len() / 250);
        // What came once in the window comes again for the price of a match.
        let twice = [&noise[..WINDOW / 2], &noise[..WINDOW / 2]].concat();
        assert!(packed(&twice).len() < WINDOW / 2 + WINDOW / 100);
    }

    #[test]
    fn parts_make_no_difference_and_streams_follow_each_other() {
        let bytes: Vec<u8> = noise(BAND + 5_000).iter().map(|v| v % 7).collect();
        let whole = packed(&bytes);
        for part in [1, 4_099, BAND] {
            let mut packer = Packer::new();
            let mut stream = Vec::new();
            for bytes in bytes.chunks(part) {
                packer.write(bytes);
                stream.extend(packer.take());
            }
            stream.extend(packer.end());
            assert!(stream == whole, "in parts of {part}");
            packer.write(&bytes[..5_000]);
            assert!(unpacked(&packer.end()) == bytes[..5_000]);
        }
    }
}
