//! Codes of least length (Huffman 1952), and the bits that stand for them (RFC 1951, 3.2.2).

/// Bits of each symbol's code, `most` at the most, zero for one that never comes; a lone symbol has one bit.
///
/// Where codes grow longer, counts are evened out and it is tried again: that costs next to nothing, since those are rare symbols.
pub(super) fn lengths(counts: &[u32], most: u8) -> Vec<u8> {
    let mut leaves: Vec<(u32, usize)> = counts.iter().enumerate().filter(|(_, n)| **n > 0).map(|(i, n)| (*n, i)).collect();
    leaves.sort_unstable();
    let mut lengths = vec![0; counts.len()];
    if let [(_, lone)] = leaves[..] {
        lengths[lone] = 1;
        return lengths;
    }
    let mut depths = depths(&leaves);
    while depths.iter().any(|depth| *depth > most) {
        leaves.iter_mut().for_each(|(n, _)| *n = n.div_ceil(2));
        depths = self::depths(&leaves);
    }
    leaves.iter().zip(depths).for_each(|((_, i), depth)| lengths[*i] = depth);
    lengths
}

/// How deep in the tree each of the leaves lies, which go from the lightest to the heaviest: the two lightest are joined over and over. What is
/// joined grows ever heavier, so that the lightest stands first either among the leaves or among the joined.
fn depths(leaves: &[(u32, usize)]) -> Vec<u8> {
    let count = leaves.len();
    let mut weights: Vec<u32> = leaves.iter().map(|(n, _)| *n).collect();
    let mut parents = vec![0; 2 * count];
    let (mut leaf, mut joined) = (0, count);
    while weights.len() + 1 < 2 * count {
        let mut weight = 0;
        for _ in 0..2 {
            let lightest = if leaf < count && weights.get(joined).is_none_or(|joined| weights[leaf] <= *joined) {
                &mut leaf
            } else {
                &mut joined
            };
            weight += weights[*lightest];
            parents[*lightest] = weights.len();
            *lightest += 1;
        }
        weights.push(weight);
    }
    let mut depths = vec![0; weights.len()];
    for i in (0..weights.len().saturating_sub(1)).rev() {
        depths[i] = depths[parents[i]] + 1;
    }
    depths.truncate(count);
    depths
}

/// The codes, as they are written: from the lowest bit.
pub(super) fn codes(lengths: &[u8]) -> Vec<u32> {
    let mut counts = [0_u16; 16];
    lengths.iter().filter(|n| **n > 0).for_each(|n| counts[usize::from(*n)] += 1);
    let mut next = [0_u16; 16];
    for bits in 1..16 {
        next[bits] = (next[bits - 1] + counts[bits - 1]) << 1;
    }
    let code = |length: &u8| {
        if *length == 0 {
            return 0;
        }
        let code = next[usize::from(*length)];
        next[usize::from(*length)] += 1;
        u32::from(code.reverse_bits() >> (16 - length))
    };
    lengths.iter().map(code).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example of RFC 1951, 3.2.2, bits from the other end.
    #[test]
    fn codes_are_those_of_the_standard() {
        let written = codes(&[3, 3, 3, 3, 3, 2, 4, 4]);
        assert_eq!(written, [0b010, 0b110, 0b001, 0b101, 0b011, 0b00, 0b0111, 0b1111]);
    }

    /// Huffman 1952: by hand, 1 1 2 3 5 make a comb.
    #[test]
    fn lengths_are_least() {
        assert_eq!(lengths(&[5, 0, 1, 3, 1, 2], 15), [1, 0, 4, 2, 4, 3]);
        assert_eq!(lengths(&[7, 7, 7, 7], 15), [2; 4]);
        assert_eq!(lengths(&[0, 9], 15), [0, 1]);
    }

    /// Fibonacci's numbers make the longest codes. Held to fewer bits they must still fill the tree: Kraft's sum is one.
    #[test]
    fn lengths_are_limited_and_fill_the_tree() {
        let mut counts = vec![1_u32, 1];
        for i in 2..30 {
            counts.push(counts[i - 1] + counts[i - 2]);
        }
        for (counts, most) in [(&counts[..], 15), (&counts[..19], 7)] {
            let lengths = lengths(counts, most);
            assert!(lengths.iter().all(|n| (1..=most).contains(n)));
            assert_eq!(lengths.iter().map(|n| 1_u32 << (most - n)).sum::<u32>(), 1 << most);
        }
    }
}
