//! Bits as RFC 1951, 3.1.1, packs them into bytes: from the lowest.

/// Bytes, and bits that do not fill one yet.
#[derive(Default)]
pub(super) struct Bits {
    bytes: Vec<u8>,
    held: u64,
    count: u32,
}

impl Bits {
    /// Writes the lowest `count` bits of `value`, 32 at most; the others are zero.
    #[inline]
    pub(super) fn put(&mut self, value: u32, count: u32) {
        self.held |= u64::from(value) << self.count;
        self.count += count;
        if self.count >= 32 {
            self.bytes.extend_from_slice(&(self.held as u32).to_le_bytes());
            self.held >>= 32;
            self.count -= 32;
        }
    }

    /// Fills up to whole bytes.
    pub(super) fn fill(&mut self) {
        while self.count > 0 {
            self.bytes.push(self.held as u8);
            self.held >>= 8;
            self.count = self.count.saturating_sub(8);
        }
    }

    /// Writes whole bytes, at the begin or after [`Bits::fill`].
    pub(super) fn bytes<const N: usize>(&mut self, bytes: [u8; N]) {
        debug_assert_eq!(self.count, 0, "bytes begin at a byte");
        self.bytes.extend_from_slice(&bytes);
    }

    /// The bytes so far; bits that do not fill one stay.
    pub(super) fn take(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.bytes)
    }
}
