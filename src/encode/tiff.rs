//! TIFF: straight alpha, 8 or 16 bits a channel, in strips packed by Deflate after horizontal differencing, little-endian.
//!
//! TIFF 6.0 (1992): directory section 2, strips section 3, differencing section 14, alpha section 18. Deflate (compression 8) is of
//! "TIFF Technical Notes" (2002). The tag of the color profile is of ICC.1:2010, annex B.4. All numbers of sections are from memory.
//! The `tiff` crate's encoder wants a whole picture at once; here rows go into the file as they come.

use std::io::Write;

use super::deflate::Packer;
use super::directory::{HEAD, Value, directory, head};
use super::growing::Growing;
use super::rows::Rows;
use super::{Format, Imprint, exif};
use crate::color::srgb_profile::srgb_profile;
use crate::error::{Error, Kind, Result, zeroed};

/// Bytes of samples in a strip, at most, if a row is not longer: many times the 32 768 that Deflate looks back over, and little for
/// a reader to hold.
const STRIP: usize = 1 << 18;

/// Writes a TIFF from rows as they come, so that the art need not be held twice. Up to 4 GB, since places in the file are 32-bit
/// numbers. The same rows give the same bytes on every machine, however they are handed over.
pub struct TiffWriter {
    width: usize,
    height: usize,
    imprint: Imprint,
    rows: Rows,
    strips: Strips,
    /// Bytes still to come.
    missing: usize,
}

impl TiffWriter {
    /// Begins a picture of `width` by `height` RGBA pixels of `bits` (8 or 16) a channel.
    ///
    /// # Errors
    /// [`Kind::Parameter`] for another depth, an empty picture or a text that no file can hold, [`Kind::Limit`] for a picture beyond
    /// the format, or when there is no memory.
    pub fn new(width: usize, height: usize, bits: u8, imprint: &Imprint) -> Result<Self> {
        let missing = Format::Tiff.samples(width, height, bits)?;
        imprint.check()?;
        let row = missing / height;
        let strips = Strips {
            deep: usize::from(bits) / 8,
            rows: (STRIP / row).clamp(1, height),
            // Where the directory begins is known at the end.
            file: Growing(head(0).to_vec()),
            packer: Packer::new(),
            begins: Vec::new(),
            lengths: Vec::new(),
            begun: 0,
            row: zeroed(row, "a row of the TIFF")?,
        };
        Ok(Self { width, height, imprint: imprint.clone(), rows: Rows::new(row), strips, missing })
    }

    /// Takes the next rows, or any part of them: RGBA samples from the top left; 16-bit ones with the high byte first.
    ///
    /// # Errors
    /// [`Kind::Parameter`] when more comes than the picture holds, [`Kind::Limit`] beyond 4 GB or when there is no memory.
    pub fn write_rows(&mut self, bytes: &[u8]) -> Result<()> {
        self.missing = Format::Tiff.take(self.missing, bytes.len())?;
        self.rows.add(bytes, |row| self.strips.add(row))
    }

    /// The file.
    ///
    /// # Errors
    /// [`Kind::Parameter`] when rows are missing, [`Kind::Limit`] beyond 4 GB or when there is no memory.
    pub fn finish(mut self) -> Result<Vec<u8>> {
        Format::Tiff.end(self.missing)?;
        self.strips.end()?;
        let tags = self.tags();
        let mut file = self.strips.file;
        // The directory may stand anywhere, but at an even byte (section 2).
        let at = file.0.len().next_multiple_of(2);
        let pad = at - file.0.len();
        let tags = directory(tags, at).ok_or_else(beyond)?;
        file.write_all(&[0][..pad]).and_then(|()| file.write_all(&tags)).map_err(|e| Format::Tiff.failed(&e))?;
        file.0[..HEAD].copy_from_slice(&head(place(at)?));
        Ok(file.0)
    }

    /// Its tags, by number.
    fn tags(&self) -> Vec<(u16, Value)> {
        // Sizes are below 4 GB by `Format::samples`.
        let long = |v: usize| Value::Long(vec![v as u32]);
        let short = |v: u16| Value::Short(vec![v]);
        let mut tags = exif::tags(&self.imprint);
        tags.extend([
            (256, long(self.width)),                                   // ImageWidth
            (257, long(self.height)),                                  // ImageLength
            (258, Value::Short(vec![self.strips.deep as u16 * 8; 4])), // BitsPerSample
            (259, short(8)),                                           // Compression: Deflate
            (262, short(2)),                                           // PhotometricInterpretation: RGB
            (273, Value::Long(self.strips.begins.clone())),
            (277, short(4)),               // SamplesPerPixel
            (278, long(self.strips.rows)), // RowsPerStrip
            (279, Value::Long(self.strips.lengths.clone())),
            (284, short(1)), // PlanarConfiguration: samples side by side
            (317, short(2)), // Predictor: horizontal differencing
            (338, short(2)), // ExtraSamples: unassociated alpha
        ]);
        if self.imprint.ppi.is_none() {
            // A baseline file has a resolution (section 6); by unit 1 it is none, and only says that pixels are square.
            tags.extend([(282, Value::Rational([1, 1])), (283, Value::Rational([1, 1])), (296, short(1))]);
        }
        if self.imprint.profile {
            tags.push((34675, Value::Undefined(srgb_profile())));
        }
        tags
    }
}

/// The strips so far.
struct Strips {
    /// Bytes of a sample, 1 or 2.
    deep: usize,
    /// Rows of a strip; the last may have fewer.
    rows: usize,
    file: Growing,
    packer: Packer,
    /// Where strips begin in the file, and how many bytes they have.
    begins: Vec<u32>,
    lengths: Vec<u32>,
    /// Rows in the strip that is being written.
    begun: usize,
    /// A row as it goes into the file.
    row: Vec<u8>,
}

impl Strips {
    /// Adds a row, each sample as what it adds to the sample of the same channel before it, which packs better (section 14).
    fn add(&mut self, row: &[u8]) -> Result<()> {
        if self.deep == 1 {
            self.row[..4].copy_from_slice(&row[..4]);
            for ((out, sample), before) in self.row[4..].iter_mut().zip(&row[4..]).zip(row) {
                *out = sample.wrapping_sub(*before);
            }
        } else {
            let samples = row.as_chunks::<2>().0;
            let before = [[0; 2]; 4];
            let out = self.row.as_chunks_mut::<2>().0;
            for ((out, sample), before) in out.iter_mut().zip(samples).zip(before.iter().chain(samples)) {
                *out = u16::from_be_bytes(*sample).wrapping_sub(u16::from_be_bytes(*before)).to_le_bytes();
            }
        }
        self.packer.write(&self.row);
        self.begun += 1;
        if self.begun == self.rows { self.end() } else { Ok(()) }
    }

    /// Ends a strip that has rows.
    fn end(&mut self) -> Result<()> {
        if self.begun == 0 {
            return Ok(());
        }
        let strip = self.packer.end();
        self.begins.push(place(self.file.0.len())?);
        self.lengths.push(place(strip.len())?);
        self.begun = 0;
        self.file.write_all(&strip).map_err(|e| Format::Tiff.failed(&e))
    }
}

/// A place in the file, as it is stored.
fn place(at: usize) -> Result<u32> {
    u32::try_from(at).map_err(|_| beyond())
}

fn beyond() -> Error {
    Error::new(
        Kind::Limit,
        "This picture makes a TIFF of more than 4 GB, which the format cannot hold. Save it as PNG, or with 8 bits, or trim the sheet.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Places are 32-bit numbers (TIFF 6.0, section 2), which in WebAssembly no file can exceed.
    #[test]
    #[cfg(target_pointer_width = "64")]
    fn what_lies_beyond_four_gigabytes_is_refused_with_a_way_out() {
        assert_eq!(place((1 << 32) - 1).expect("the last place"), u32::MAX);
        let why = place(1 << 32).expect_err("no such place");
        assert_eq!(why.kind(), Kind::Limit);
        assert!(why.message().contains("4 GB") && why.message().contains("PNG"), "{why}");
        assert!(directory(vec![(270, Value::Ascii("Tide pool".to_owned()))], (1 << 32) - 8).is_none());
    }
}
