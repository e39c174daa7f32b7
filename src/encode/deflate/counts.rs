//! How often each symbol of Deflate comes, and what it costs to write.

/// Lengths from which each symbol on counts, 257 the first; RFC 1951, 3.2.5. The bits after it say how far beyond.
const LENGTHS: [u16; 29] =
    [3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258];
const LENGTH_BITS: [u8; 29] = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0];

/// Which of these a length belongs to.
const LENGTH_SYMBOLS: [u8; 259] = {
    let mut of = [0; 259];
    let (mut symbol, mut length) = (0, 3);
    while length < of.len() {
        if symbol + 1 < LENGTHS.len() && LENGTHS[symbol + 1] as usize == length {
            symbol += 1;
        }
        of[length] = symbol as u8;
        length += 1;
    }
    of
};

/// A symbol, and a number after it.
pub(super) struct Symbol {
    pub(super) symbol: usize,
    pub(super) rest: u32,
    pub(super) bits: u32,
}

/// Of a length from 3 to 258.
#[inline]
pub(super) fn length_symbol(length: u16) -> Symbol {
    let i = usize::from(LENGTH_SYMBOLS[usize::from(length)]);
    Symbol { symbol: 257 + i, rest: u32::from(length - LENGTHS[i]), bits: u32::from(LENGTH_BITS[i]) }
}

/// Of a distance from 1 to 32768: two symbols for each power of two (RFC 1951, 3.2.5).
#[inline]
pub(super) fn distance_symbol(distance: u16) -> Symbol {
    let less = u32::from(distance) - 1;
    if less < 4 {
        return Symbol { symbol: less as usize, rest: 0, bits: 0 };
    }
    let bits = less.ilog2() - 1;
    Symbol { symbol: (2 * bits + (less >> bits)) as usize, rest: less & ((1 << bits) - 1), bits }
}

/// How often each symbol comes.
#[derive(Clone)]
pub(super) struct Counts {
    /// Literals by their byte, the end of a block, lengths.
    pub(super) literals: [u32; 286],
    pub(super) distances: [u32; 30],
}

impl Counts {
    pub(super) fn none() -> Self {
        Self { literals: [0; 286], distances: [0; 30] }
    }

    /// Those of two pieces.
    pub(super) fn and(&self, other: &Self) -> Self {
        let mut sum = self.clone();
        sum.literals.iter_mut().zip(&other.literals).for_each(|(a, b)| *a += b);
        sum.distances.iter_mut().zip(&other.distances).for_each(|(a, b)| *a += b);
        sum
    }

    /// Bits that the symbols take by codes of their own, in 65536ths; what follows a symbol is left out.
    pub(super) fn bits(&self) -> u64 {
        let sum = |counts: &[u32]| {
            let all = logarithm(counts.iter().sum::<u32>().max(1));
            let bits = |n: &u32| u64::from(*n) * u64::from(all - logarithm(*n));
            counts.iter().filter(|n| **n > 0).map(bits).sum::<u64>()
        };
        sum(&self.literals) + sum(&self.distances)
    }

    /// What symbols would cost by codes of their own.
    pub(super) fn prices(&self) -> Prices {
        let mut prices = Prices { literals: [0; 256], lengths: [0; 259], distances: [0; 30] };
        let mut literals = [0; 286];
        literals.iter_mut().zip(price(&self.literals)).for_each(|(out, price)| *out = price);
        prices.literals.copy_from_slice(&literals[..256]);
        for (length, out) in prices.lengths.iter_mut().enumerate().skip(3) {
            let Symbol { symbol, bits, .. } = length_symbol(length as u16);
            *out = literals[symbol] + bits * 16;
        }
        for (i, (out, price)) in prices.distances.iter_mut().zip(price(&self.distances)).enumerate() {
            *out = price + (i as u32 / 2).saturating_sub(1) * 16;
        }
        prices
    }
}

/// What literals by their byte, lengths and distances by their symbol cost, in sixteenths of a bit, with what follows them.
pub(super) struct Prices {
    pub(super) literals: [u32; 256],
    pub(super) lengths: [u32; 259],
    pub(super) distances: [u32; 30],
}

impl Prices {
    /// Before anything is known: literals as the bytes come, one match to sixteen of them, all lengths and distances alike.
    pub(super) fn guess(bytes: &[u8]) -> Self {
        let mut counts = Counts::none();
        bytes.iter().for_each(|byte| counts.literals[usize::from(*byte)] += 1);
        let matches = bytes.len() as u32 / 16 / 29 + 1;
        counts.literals[257..].fill(matches);
        counts.distances.fill(matches);
        counts.prices()
    }
}

/// The price of each in sixteenths of a bit: the logarithm of its share, a quarter of a bit at the least; one that never comes costs a bit
/// more than the rarest could, eight bits at the least, so that it may still come if it saves more.
fn price(counts: &[u32]) -> impl Iterator<Item = u32> {
    let all = logarithm(counts.iter().sum::<u32>().max(1));
    let sixteenths = |log: u32| (log + (1 << 11)) >> 12;
    counts.iter().map(move |&n| if n == 0 { (sixteenths(all) + 16).max(8 * 16) } else { sixteenths(all - logarithm(n)).max(4) })
}

/// 65536ths of the logarithm to base 2, rounded down: its whole part by the highest bit, the rest by squaring.
fn logarithm(n: u32) -> u32 {
    let mut log = n.ilog2();
    // From 1 to 2, in units of 2^-31.
    let mut rest = u64::from(n) << (31 - log);
    for _ in 0..16 {
        rest = (rest * rest) >> 31;
        let more = rest >> 32;
        log = log << 1 | more as u32;
        rest >>= more;
    }
    log
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 1951, 3.2.5: rows of both tables.
    #[test]
    fn symbols_are_those_of_the_standard() {
        for (length, symbol, rest, bits) in [
            (3, 257, 0, 0),
            (10, 264, 0, 0),
            (11, 265, 0, 1),
            (12, 265, 1, 1),
            (130, 280, 15, 4),
            (131, 281, 0, 5),
            (257, 284, 30, 5),
            (258, 285, 0, 0),
        ] {
            let found = length_symbol(length);
            assert_eq!((found.symbol, found.rest, found.bits), (symbol, rest, bits), "length {length}");
        }
        for (distance, symbol, rest, bits) in [
            (1, 0, 0, 0),
            (4, 3, 0, 0),
            (5, 4, 0, 1),
            (8, 5, 1, 1),
            (193, 15, 0, 6),
            (8192, 25, 2047, 11),
            (24_576, 28, 8191, 13),
            (32_768, 29, 8191, 13),
        ] {
            let found = distance_symbol(distance);
            assert_eq!((found.symbol, found.rest, found.bits), (symbol, rest, bits), "distance {distance}");
        }
    }

    #[test]
    fn logarithms_are_exact_to_their_last_digit() {
        for n in [1, 2, 3, 5, 255, 256, 257, 1_000_003, u32::MAX] {
            let exact = crate::color::math::ln(f64::from(n)) / std::f64::consts::LN_2 * 65_536.0;
            assert!((f64::from(logarithm(n)) - exact).abs() < 1.5, "{n}");
        }
    }

    /// Shannon 1948: eight symbols that come equally often take three bits each; a lone one takes none.
    #[test]
    fn bits_are_those_of_information() {
        let mut counts = Counts::none();
        counts.literals[10..18].fill(5);
        counts.distances[3] = 9;
        assert_eq!(counts.bits(), (8 * 5 * 3) << 16);
        let prices = counts.prices();
        assert_eq!([prices.literals[10], prices.distances[3]], [3 * 16, 4]);
    }
}
