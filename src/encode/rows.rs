//! Whole rows out of bytes that come in any parts.

use crate::error::Result;

/// A row that has come in part.
pub(super) struct Rows {
    length: usize,
    part: Vec<u8>,
}

impl Rows {
    /// For rows of so many bytes, one at the least.
    pub(super) fn new(length: usize) -> Self {
        Self { length, part: Vec::new() }
    }

    /// Hands over each row that is whole, and keeps what begins another.
    ///
    /// # Errors
    /// Those of `each`.
    pub(super) fn add(&mut self, bytes: &[u8], mut each: impl FnMut(&[u8]) -> Result<()>) -> Result<()> {
        let begun = if self.part.is_empty() { 0 } else { bytes.len().min(self.length - self.part.len()) };
        let (begun, rest) = bytes.split_at(begun);
        self.part.extend_from_slice(begun);
        if self.part.len() == self.length {
            each(&self.part)?;
            self.part.clear();
        }
        let rows = rest.chunks_exact(self.length);
        self.part.extend_from_slice(rows.remainder());
        for row in rows {
            each(row)?;
        }
        Ok(())
    }
}
