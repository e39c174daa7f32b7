//! The samples in stored rows: any number of bits, whole or floating, as differences or not.

use half::f16;

use super::lay::Sample;

/// What was stored instead of the samples themselves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Predictor {
    None,
    /// Differences to the pixel before: TIFF 6.0, section 14.
    Difference,
    /// Differences of the bytes of floating-point numbers, the highest of all first: TIFF Technical Note 3, 2005 (from memory).
    Floating,
}

/// How the samples of a row are stored.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row {
    pub(super) bits: usize,
    pub(super) floating: bool,
    /// Channels side by side.
    pub(super) channels: usize,
    /// Whether the high byte comes first.
    pub(super) big_endian: bool,
    pub(super) predictor: Predictor,
}

impl Row {
    /// Bytes of a row of so many pixels.
    pub(super) fn bytes(&self, pixels: usize) -> usize {
        (pixels * self.channels * self.bits).div_ceil(8)
    }

    /// Reads as many samples as fit into `to`. `bytes` is a whole row, and is changed. Floating-point samples are 0 for black
    /// and 1 for white; says whether any lies beyond.
    pub(super) fn read<S: Sample>(&self, bytes: &mut [u8], to: &mut [S]) -> bool {
        let big = self.undo(bytes);
        let mut beyond = false;
        let mut unit = |v: f64| {
            beyond |= v > 1.001;
            S::of_sixteen((v.clamp(0.0, 1.0) * 65535.0 + 0.5) as u16)
        };
        match (self.floating, self.bits) {
            (true, 16) => each(bytes, to, big, |b| unit(f64::from(f16::from_bits(u16::from_be_bytes(b)).to_f32()))),
            (true, 32) => each(bytes, to, big, |b| unit(f64::from(f32::from_be_bytes(b)))),
            (true, _) => each(bytes, to, big, |b| unit(f64::from_be_bytes(b))),
            (false, 8) => each(bytes, to, big, |[v]| S::of_eight(v)),
            (false, 16) => each(bytes, to, big, |b| S::of_sixteen(u16::from_be_bytes(b))),
            (false, 24) => each(bytes, to, big, |[high, middle, _]| S::of_sixteen(u16::from_be_bytes([high, middle]))),
            (false, 32) => each(bytes, to, big, |[high, middle, ..]: [u8; 4]| S::of_sixteen(u16::from_be_bytes([high, middle]))),
            (false, bits) => packed(bytes, bits, |i, value, most| {
                if let Some(to) = to.get_mut(i) {
                    *to = S::of((value * S::WHITE + most / 2) / most);
                }
            }),
        }
        beyond
    }

    /// The numbers of palette entries in a row.
    pub(super) fn entries(&self, bytes: &mut [u8], to: &mut [u16]) {
        let big = self.undo(bytes);
        match self.bits {
            8 => each(bytes, to, big, |[v]| u16::from(v)),
            16 => each(bytes, to, big, u16::from_be_bytes),
            bits => packed(bytes, bits, |i, value, _| {
                if let Some(to) = to.get_mut(i) {
                    *to = value as u16;
                }
            }),
        }
    }

    /// Takes differences back; says whether the high byte comes first afterwards.
    fn undo(&self, bytes: &mut [u8]) -> bool {
        let (apart, size) = (self.channels, self.bits / 8);
        match self.predictor {
            Predictor::None => self.big_endian,
            Predictor::Difference => {
                match (size, self.big_endian) {
                    (1, _) => (apart..bytes.len()).for_each(|i| bytes[i] = bytes[i].wrapping_add(bytes[i - apart])),
                    (2, true) => summed(bytes, apart, u16::from_be_bytes, u16::to_be_bytes, u16::wrapping_add),
                    (2, false) => summed(bytes, apart, u16::from_le_bytes, u16::to_le_bytes, u16::wrapping_add),
                    (4, true) => summed(bytes, apart, u32::from_be_bytes, u32::to_be_bytes, u32::wrapping_add),
                    (4, false) => summed(bytes, apart, u32::from_le_bytes, u32::to_le_bytes, u32::wrapping_add),
                    (_, true) => summed(bytes, apart, u64::from_be_bytes, u64::to_be_bytes, u64::wrapping_add),
                    (_, false) => summed(bytes, apart, u64::from_le_bytes, u64::to_le_bytes, u64::wrapping_add),
                }
                self.big_endian
            }
            Predictor::Floating => {
                (apart..bytes.len()).for_each(|i| bytes[i] = bytes[i].wrapping_add(bytes[i - apart]));
                let count = bytes.len() / size;
                let planes = bytes.to_vec();
                for (i, sample) in bytes.chunks_exact_mut(size).enumerate() {
                    sample.iter_mut().enumerate().for_each(|(k, byte)| *byte = planes[k * count + i]);
                }
                true
            }
        }
    }
}

/// Whole samples of so many bytes.
fn each<S, const SIZE: usize>(bytes: &[u8], to: &mut [S], big_endian: bool, mut sample: impl FnMut([u8; SIZE]) -> S) {
    for (to, from) in to.iter_mut().zip(bytes.as_chunks::<SIZE>().0) {
        let mut from = *from;
        if !big_endian {
            from.reverse();
        }
        *to = sample(from);
    }
}

/// Differences summed up, of samples of so many bytes.
fn summed<V: Copy, const SIZE: usize>(
    bytes: &mut [u8],
    apart: usize,
    read: impl Fn([u8; SIZE]) -> V,
    write: impl Fn(V) -> [u8; SIZE],
    add: impl Fn(V, V) -> V,
) {
    let samples = bytes.as_chunks_mut::<SIZE>().0;
    for i in apart..samples.len() {
        samples[i] = write(add(read(samples[i]), read(samples[i - apart])));
    }
}

/// Samples of up to 16 bits, the leftmost in the highest bits: hands over the number, the sample, and the largest possible.
fn packed(bytes: &[u8], bits: usize, mut sample: impl FnMut(usize, u32, u32)) {
    let most = (1_u32 << bits) - 1;
    for i in 0..bytes.len() * 8 / bits {
        let (first, last) = (i * bits, (i + 1) * bits);
        let value = bytes[first / 8..last.div_ceil(8)].iter().fold(0_u32, |sum, byte| sum << 8 | u32::from(*byte));
        sample(i, value >> (last.div_ceil(8) * 8 - last) & most, most);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: Row = Row { bits: 8, floating: false, channels: 1, big_endian: true, predictor: Predictor::None };

    #[test]
    fn bits_are_spread_over_the_range() {
        let mut four = [0_u8; 4];
        Row { bits: 1, ..PLAIN }.read(&mut [0b1010_0000], &mut four);
        assert_eq!(four, [255, 0, 255, 0]);
        let mut two = [0_u16; 2];
        Row { bits: 12, ..PLAIN }.read(&mut [0xFF, 0xF8, 0x00], &mut two);
        assert_eq!(two, [65535, 32776], "0x800 of 0xFFF");
        Row { bits: 10, ..PLAIN }.read(&mut [0, 0b0111_1111, 0b1111_0000], &mut two);
        assert_eq!(two, [64, 65535], "1 and 1023 of 1023");
    }

    #[test]
    fn differences_are_taken_back() {
        let mut pixels = [0_u8; 6];
        Row { channels: 3, predictor: Predictor::Difference, ..PLAIN }.read(&mut [10, 20, 30, 1, 2, 255], &mut pixels);
        assert_eq!(pixels, [10, 20, 30, 11, 22, 29]);
        let mut words = [0_u16; 2];
        let little = Row { bits: 16, big_endian: false, predictor: Predictor::Difference, ..PLAIN };
        little.read(&mut [0xFF, 0x00, 0x02, 0x00], &mut words);
        assert_eq!(words, [0x00FF, 0x0101]);
    }

    /// 0.5 and 1.0: 3F000000 and 3F800000, bytes side by side, each less the one before.
    #[test]
    fn floating_differences_are_taken_back() {
        let mut two = [0_u16; 2];
        let row = Row { bits: 32, floating: true, predictor: Predictor::Floating, ..PLAIN };
        let beyond = row.read(&mut [0x3F, 0x00, 0xC1, 0x80, 0x80, 0x00, 0x00, 0x00], &mut two);
        assert_eq!((two, beyond), ([32768, 65535], false));
    }
}
