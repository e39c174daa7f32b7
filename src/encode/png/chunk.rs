//! Chunks: length, name, data and checksum. PNG specification, third edition, 5.3 and annex D.

use std::io::{Result, Write};

use flate2::Crc;

use crate::encode::growing::Growing;

/// Writes a chunk.
///
/// # Errors
/// When there is no memory.
pub(super) fn chunk(file: &mut Growing, name: &[u8; 4], data: &[u8]) -> Result<()> {
    file.write_all(&(data.len() as u32).to_be_bytes())?;
    file.write_all(name)?;
    file.write_all(data)?;
    let mut sum = Crc::new();
    sum.update(name);
    sum.update(data);
    file.write_all(&sum.sum().to_be_bytes())
}
