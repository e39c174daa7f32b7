//! Chunks: length, name, data and checksum. PNG specification, third edition, 5.3 and annex D.

use std::io::{Result, Write};

use crate::encode::growing::Growing;

/// The remainder of each byte.
const REMAINDERS: [u32; 256] = {
    let mut table = [0; 256];
    let mut i = 0;
    while i < table.len() {
        let mut rest = i as u32;
        let mut bit = 0;
        while bit < 8 {
            rest = if rest & 1 == 1 { 0xEDB8_8320 ^ (rest >> 1) } else { rest >> 1 };
            bit += 1;
        }
        table[i] = rest;
        i += 1;
    }
    table
};

/// Writes a chunk.
///
/// # Errors
/// When there is no memory.
pub(super) fn chunk(file: &mut Growing, name: &[u8; 4], data: &[u8]) -> Result<()> {
    file.write_all(&(data.len() as u32).to_be_bytes())?;
    file.write_all(name)?;
    file.write_all(data)?;
    let sum = name.iter().chain(data).fold(u32::MAX, |sum, byte| REMAINDERS[usize::from(sum as u8 ^ byte)] ^ (sum >> 8));
    file.write_all(&(!sum).to_be_bytes())
}
