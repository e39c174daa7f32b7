//! A file in memory that says when there is no more memory, where a plain vector would end the program.

use std::io::{Error, ErrorKind, Result, Write};

/// The bytes so far.
#[derive(Clone, Debug, Default)]
pub(super) struct Growing(pub(super) Vec<u8>);

impl Write for Growing {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        // Room for twice as much, or else for this much.
        let room = self.0.try_reserve(bytes.len()).or_else(|_| self.0.try_reserve_exact(bytes.len()));
        room.map_err(|_| Error::from(ErrorKind::OutOfMemory))?;
        self.0.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<()> {
        Ok(())
    }
}
