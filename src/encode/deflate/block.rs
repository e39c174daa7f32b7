//! A block with codes of its own: RFC 1951, 3.2.7.

use std::ops::Range;

use super::bits::Bits;
use super::counts::{Counts, distance_symbol, length_symbol};
use super::huffman::{codes, lengths};
use super::parse::Way;

/// The symbol that ends a block.
const END: usize = 256;
/// The order in which lengths of the code for code lengths stand.
const ORDER: [usize; 19] = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];

/// Writes what stands at `place` of the band, the way that was found, whose symbols come as `counts` say.
pub(super) fn write(bits: &mut Bits, way: &Way, band: &[u8], place: Range<usize>, mut counts: Counts, last: bool) {
    counts.literals[END] = 1;
    // Without a match one code of one bit stands for none.
    counts.distances[0] = counts.distances[0].max(u32::from(counts.distances.iter().all(|n| *n == 0)));
    let (literals, distances) = (lengths(&counts.literals, 15), lengths(&counts.distances, 15));
    bits.put(u32::from(last), 1);
    bits.put(2, 2);
    head(bits, &literals, &distances);

    let (literal_codes, distance_codes) = (codes(&literals), codes(&distances));
    let literal = |bits: &mut Bits, symbol: usize| bits.put(literal_codes[symbol], u32::from(literals[symbol]));
    let mut at = place.start;
    while at < place.end {
        let step = way.step(at);
        if step.distance == 0 {
            literal(bits, usize::from(band[at]));
        } else {
            let length = length_symbol(step.length);
            literal(bits, length.symbol);
            bits.put(length.rest, length.bits);
            let distance = distance_symbol(step.distance);
            bits.put(distance_codes[distance.symbol], u32::from(distances[distance.symbol]));
            bits.put(distance.rest, distance.bits);
        }
        at += usize::from(step.length);
    }
    literal(bits, END);
}

/// The lengths of both codes, runs of the same shortened, by a third code.
fn head(bits: &mut Bits, literals: &[u8], distances: &[u8]) {
    let used = |lengths: &[u8], least: usize| lengths.iter().rposition(|n| *n > 0).map_or(least, |i| (i + 1).max(least));
    let (literals, distances) = (&literals[..used(literals, 257)], &distances[..used(distances, 1)]);
    // A symbol, and a number of so many bits after it.
    let mut words: Vec<(usize, u32, u32)> = Vec::new();
    for run in [literals, distances].concat().chunk_by(|a, b| a == b) {
        let length = usize::from(run[0]);
        let mut left = run.len();
        while left > 0 {
            let repeats = length > 0 && left < run.len();
            let (taken, word) = match left {
                11.. if length == 0 => (left.min(138), (18, left.min(138) as u32 - 11, 7)),
                3.. if length == 0 => (left, (17, left as u32 - 3, 3)),
                3.. if repeats => (left.min(6), (16, left.min(6) as u32 - 3, 2)),
                _ => (1, (length, 0, 0)),
            };
            words.push(word);
            left -= taken;
        }
    }
    let mut counts = [0; 19];
    words.iter().for_each(|(symbol, ..)| counts[*symbol] += 1);
    let lengths = lengths(&counts, 7);
    let codes = codes(&lengths);
    let order = &ORDER[..ORDER.iter().rposition(|symbol| lengths[*symbol] > 0).map_or(4, |i| (i + 1).max(4))];
    bits.put(literals.len() as u32 - 257, 5);
    bits.put(distances.len() as u32 - 1, 5);
    bits.put(order.len() as u32 - 4, 4);
    order.iter().for_each(|symbol| bits.put(u32::from(lengths[*symbol]), 3));
    for (symbol, rest, count) in words {
        bits.put(codes[symbol], u32::from(lengths[symbol]));
        bits.put(rest, count);
    }
}
