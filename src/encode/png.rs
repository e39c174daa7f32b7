//! PNG: straight alpha, 8 or 16 bits a channel, color kept however low the alpha, resolution and sRGB stated.
//!
//! Chunks by the PNG specification, third edition: `pHYs` 11.3.4.3, `sRGB` 11.3.2.5, `iCCP` 11.3.2.3, `iTXt` 11.3.3.4, `eXIf` 11.3.4.5
//! (numbers of sections from memory).

mod chunk;
mod filter;

use self::chunk::chunk;
use self::filter::Filters;
use super::deflate::{Packer, packed};
use super::growing::Growing;
use super::rows::Rows;
use super::{Format, Imprint, exif};
use crate::color::srgb_profile::srgb_profile;
use crate::error::{Result, zeroed};
use crate::image::{Art, Pixels};

/// What a file begins with (5.2).
const SIGNATURE: [u8; 8] = [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1A, b'\n'];
/// Bytes in one `IDAT` from which it is written: so many that heads of chunks weigh nothing.
const CHUNK: usize = 1 << 16;

/// What `gAMA` and `cHRM` say of sRGB (11.3.2.5), in 100 000ths: 1 / 2.2; x and y of white, red, green and blue.
const GAMMA: [u32; 1] = [45_455];
const CHROMATICITIES: [u32; 8] = [31_270, 32_900, 64_000, 33_000, 30_000, 60_000, 15_000, 6_000];

/// Writes a PNG from rows as they come, so that the whole art need not be held twice.
///
/// The file carries `pHYs` where the resolution is known, and `sRGB` (perceptual), or an `iCCP` in its place where a profile is asked
/// for. Texts stand in `iTXt` under the keywords `Title`, `Author` and `Copyright` (11.3.3.1) and, since many programs look only
/// there, once more in `eXIf`. With a profile or texts go `gAMA` and `cHRM`, for readers that heed neither mark. The same rows give the
/// same bytes on every machine, however they are handed over.
pub struct PngWriter {
    file: Growing,
    rows: Rows,
    filters: Filters,
    packer: Packer,
    /// What is packed and not in the file yet.
    data: Vec<u8>,
    /// Bytes still to come.
    missing: usize,
}

impl PngWriter {
    /// Begins a picture of `width` by `height` RGBA pixels of `bits` (8 or 16) a channel.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) for another depth, an empty picture or a text that no file can hold,
    /// [`Kind::Limit`](crate::error::Kind::Limit) for a picture beyond the format, or when there is no memory.
    pub fn new(width: usize, height: usize, bits: u8, imprint: &Imprint) -> Result<Self> {
        let missing = Format::Png.samples(width, height, bits)?;
        imprint.check()?;
        let mut file = Growing(SIGNATURE.to_vec());
        for (name, data) in beside(width, height, bits, imprint)? {
            chunk(&mut file, &name, &data).map_err(|e| Format::Png.failed(&e))?;
        }
        let (row, pixel) = (missing / height, usize::from(bits) / 2);
        let filters = Filters::new(row, pixel)?;
        Ok(Self { file, rows: Rows::new(row), filters, packer: Packer::new(), data: Vec::new(), missing })
    }

    /// Takes the next rows, or any part of them: RGBA samples from the top left; 16-bit ones with the high byte first.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) when more comes than the picture holds,
    /// [`Kind::Limit`](crate::error::Kind::Limit) when there is no memory.
    pub fn write_rows(&mut self, bytes: &[u8]) -> Result<()> {
        self.missing = Format::Png.take(self.missing, bytes.len())?;
        let Self { file, rows, filters, packer, data, .. } = self;
        rows.add(bytes, |row| {
            packer.write(filters.filtered(row));
            data.append(&mut packer.take());
            if data.len() < CHUNK { Ok(()) } else { idat(file, data) }
        })
    }

    /// The file.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) when rows are missing, [`Kind::Limit`](crate::error::Kind::Limit) when
    /// there is no memory.
    pub fn finish(mut self) -> Result<Vec<u8>> {
        Format::Png.end(self.missing)?;
        self.data.append(&mut self.packer.end());
        idat(&mut self.file, &mut self.data)?;
        chunk(&mut self.file, b"IEND", &[]).map_err(|e| Format::Png.failed(&e))?;
        Ok(self.file.0)
    }
}

/// Writes what is packed.
fn idat(file: &mut Growing, data: &mut Vec<u8>) -> Result<()> {
    chunk(file, b"IDAT", data).map_err(|e| Format::Png.failed(&e))?;
    data.clear();
    Ok(())
}

/// The chunks before the pixels.
fn beside(width: usize, height: usize, bits: u8, imprint: &Imprint) -> Result<Vec<([u8; 4], Vec<u8>)>> {
    let numbers = |numbers: &[u32]| numbers.iter().flat_map(|n| n.to_be_bytes()).collect::<Vec<u8>>();
    // Size (below 2^31 by `Format::samples`), depth, RGBA; the only kinds of packing and filters; not interlaced.
    let mut chunks = vec![(*b"IHDR", [numbers(&[width as u32, height as u32]), vec![bits, 6, 0, 0, 0]].concat())];
    if let Some(ppi) = imprint.ppi {
        let per_meter = ppi.per_meter();
        chunks.push((*b"pHYs", [numbers(&[per_meter, per_meter]), vec![1]].concat()));
    }
    // Not both marks of color in one file (11.3.2.3 and 11.3.2.5).
    chunks.push(if imprint.profile {
        (*b"iCCP", [&b"sRGB\0\0"[..], &packed(&srgb_profile())].concat())
    } else {
        (*b"sRGB", vec![0])
    });
    if imprint.profile || imprint.has_text() {
        chunks.extend([(*b"gAMA", numbers(&GAMMA)), (*b"cHRM", numbers(&CHROMATICITIES))]);
    }
    if imprint.has_text() {
        chunks.push((*b"eXIf", exif::block(imprint)?));
    }
    for ((_, text), keyword) in imprint.texts().into_iter().zip(["Title", "Author", "Copyright"]) {
        // Not compressed, no language, no translated keyword.
        chunks.extend(text.map(|text| (*b"iTXt", [keyword, "\0\0\0\0\0", text].concat().into_bytes())));
    }
    Ok(chunks)
}

/// A whole art as a PNG file of `bits` (8 or 16) a channel; an art of the other depth is widened exactly or rounded.
///
/// # Errors
/// [`Kind::Parameter`](crate::error::Kind::Parameter) for another depth or an empty art, [`Kind::Limit`](crate::error::Kind::Limit) when there is no memory.
pub fn png(art: &Art, bits: u8) -> Result<Vec<u8>> {
    let mut writer = PngWriter::new(art.width, art.height, bits, &Imprint::of_ppi(art.ppi))?;
    let samples = art.width * 4;
    let mut row = zeroed::<u8>(samples * usize::from(bits / 8), "a row of the PNG")?;
    for y in 0..art.height {
        let at = y * samples..(y + 1) * samples;
        match (&art.pixels, bits) {
            (Pixels::Eight(v), 8) => row.copy_from_slice(&v[at]),
            (Pixels::Eight(v), _) => {
                for (two, &sample) in row.as_chunks_mut::<2>().0.iter_mut().zip(&v[at]) {
                    *two = [sample, sample];
                }
            }
            (Pixels::Sixteen(v), 8) => {
                for (one, &sample) in row.iter_mut().zip(&v[at]) {
                    *one = eight(sample);
                }
            }
            (Pixels::Sixteen(v), _) => {
                for (two, &sample) in row.as_chunks_mut::<2>().0.iter_mut().zip(&v[at]) {
                    *two = sample.to_be_bytes();
                }
            }
        }
        writer.write_rows(&row)?;
    }
    writer.finish()
}

/// The nearest 8-bit sample: 65535 is 255, and 257 apart are neighbors.
fn eight(sample: u16) -> u8 {
    ((u32::from(sample) + 128) / 257) as u8
}
