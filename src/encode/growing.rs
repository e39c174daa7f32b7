//! A file in memory that says when there is no more memory, where a plain vector would end the program.

use std::io::{Error, ErrorKind, Result, Write};

/// The bytes so far.
#[derive(Clone, Debug, Default)]
pub(super) struct Growing(pub(super) Vec<u8>);

impl Write for Growing {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        self.0.try_reserve(bytes.len()).map_err(|_| Error::from(ErrorKind::OutOfMemory))?;
        self.0.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<()> {
        Ok(())
    }
}
