//! PNG: straight alpha, 8 or 16 bits a channel, color kept however low the alpha, resolution and sRGB stated.

use std::io::Write;
use std::sync::{Arc, Mutex, PoisonError};

use png::{BitDepth, ColorType, DeflateCompression, Encoder, Filter, PixelDimensions, SrgbRenderingIntent, StreamWriter, Unit};

use crate::error::{Error, Kind, Result, zeroed};
use crate::image::{Art, Pixels};
use crate::units::Ppi;

/// Deflate level: the knee of the curve. Over three plates laid out on nothing, 3.5 to 16 megapixels, level 6 took 1.4
/// to 3.4 times as long and saved 2 to 5 %; level 2 took half as long and cost 3 to 5 %.
const LEVEL: u8 = 4;
/// Bytes in one IDAT chunk: large enough that chunk heads weigh nothing, small beside the file.
const CHUNK: usize = 1 << 18;

/// Writes a PNG from rows as they come, so that the whole art need not be held twice.
///
/// The file carries `pHYs` where the resolution is known, and `sRGB` (perceptual) with the `gAMA` and `cHRM` that the
/// PNG specification, third edition, 11.3.2.5, recommends beside it. The same rows give the same bytes on every
/// machine, however they are handed over.
pub struct PngWriter {
    stream: StreamWriter<'static, Sink>,
    sink: Sink,
    /// Bytes still to come.
    missing: usize,
}

impl PngWriter {
    /// Begins a picture of `width` by `height` RGBA pixels of `bits` (8 or 16) a channel.
    ///
    /// # Errors
    /// [`Kind::Parameter`] for another depth or an empty picture, [`Kind::Limit`] for one beyond the format.
    pub fn new(width: usize, height: usize, bits: u8, ppi: Option<Ppi>) -> Result<Self> {
        let depth = match bits {
            8 => BitDepth::Eight,
            16 => BitDepth::Sixteen,
            _ => return Err(Error::new(Kind::Parameter, format!("A PNG is saved with 8 or 16 bits a channel, not {bits}."))),
        };
        let (Ok(across), Ok(down)) = (i32::try_from(width), i32::try_from(height)) else { return Err(too_large(width, height)) };
        let Some(missing) = width.checked_mul(height).and_then(|n| n.checked_mul(usize::from(bits) / 2)) else {
            return Err(too_large(width, height));
        };
        if missing == 0 {
            return Err(Error::new(Kind::Parameter, format!("There is no picture to save: it is {width} x {height} pixels.")));
        }
        let sink = Sink::default();
        let mut encoder = Encoder::new(sink.clone(), across.unsigned_abs(), down.unsigned_abs());
        encoder.set_color(ColorType::Rgba);
        encoder.set_depth(depth);
        encoder.set_source_srgb(SrgbRenderingIntent::Perceptual);
        encoder.set_deflate_compression(DeflateCompression::Level(LEVEL));
        encoder.set_filter(Filter::Adaptive);
        if let Some(ppi) = ppi {
            let per_meter = ppi.per_meter();
            encoder.set_pixel_dims(Some(PixelDimensions { xppu: per_meter, yppu: per_meter, unit: Unit::Meter }));
        }
        let stream = encoder.write_header().and_then(|w| w.into_stream_writer_with_size(CHUNK)).map_err(|e| failed(&e))?;
        Ok(Self { stream, sink, missing })
    }

    /// Takes the next rows, or any part of them: RGBA samples from the top left; 16-bit ones with the high byte first.
    ///
    /// # Errors
    /// [`Kind::Parameter`] when more comes than the picture holds.
    pub fn write_rows(&mut self, bytes: &[u8]) -> Result<()> {
        self.missing = self
            .missing
            .checked_sub(bytes.len())
            .ok_or_else(|| Error::new(Kind::Parameter, format!("{} bytes too many for this PNG.", bytes.len() - self.missing)))?;
        self.stream.write_all(bytes).map_err(|e| failed(&e))
    }

    /// The file.
    ///
    /// # Errors
    /// [`Kind::Parameter`] when rows are missing.
    pub fn finish(self) -> Result<Vec<u8>> {
        if self.missing > 0 {
            return Err(Error::new(Kind::Parameter, format!("{} bytes are missing from this PNG.", self.missing)));
        }
        self.stream.finish().map_err(|e| failed(&e))?;
        Ok(self.sink.take())
    }
}

/// A whole art as a PNG file of `bits` (8 or 16) a channel; an art of the other depth is widened exactly or rounded.
///
/// # Errors
/// [`Kind::Parameter`] for another depth or an empty art, [`Kind::Limit`] when there is no memory.
pub fn png(art: &Art, bits: u8) -> Result<Vec<u8>> {
    let mut writer = PngWriter::new(art.width, art.height, bits, art.ppi)?;
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

fn too_large(width: usize, height: usize) -> Error {
    Error::new(
        Kind::Limit,
        format!("{width} x {height} pixels do not fit into a PNG. Trim the sheet, or scan at a lower resolution."),
    )
}

fn failed(why: &dyn std::fmt::Display) -> Error {
    Error::new(Kind::Limit, format!("The PNG could not be written ({why}). Close other programs and save again."))
}

/// Where the encoder writes to: it swallows its writer, so the bytes are kept beside it.
#[derive(Clone, Default)]
struct Sink(Arc<Mutex<Vec<u8>>>);

impl Sink {
    fn take(&self) -> Vec<u8> {
        std::mem::take(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Write for Sink {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let mut file = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        file.try_reserve(bytes.len()).map_err(|_| std::io::Error::from(std::io::ErrorKind::OutOfMemory))?;
        file.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}
