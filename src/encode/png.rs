//! PNG: straight alpha, 8 or 16 bits a channel, color kept however low the alpha, resolution and sRGB stated.
//!
//! Chunks by the PNG specification, third edition: `pHYs` 11.3.4.3, `sRGB` 11.3.2.5, `iCCP` 11.3.2.3, `iTXt` 11.3.3.4, `eXIf` 11.3.4.5.

use std::io::Write;
use std::sync::{Arc, Mutex, PoisonError};

use png::{
    BitDepth, ColorType, DeflateCompression, Encoder, Filter, Info, PixelDimensions, ScaledFloat, SourceChromaticities,
    SrgbRenderingIntent, StreamWriter, Unit,
};

use super::growing::Growing;
use super::{Format, Imprint, exif};
use crate::color::srgb_profile::srgb_profile;
use crate::error::{Result, zeroed};
use crate::image::{Art, Pixels};

/// Deflate level: the knee of the curve. Over three plates laid out on nothing, 3.5 to 16 megapixels, level 6 took 1.4
/// to 3.4 times as long and saved 2 to 5 %; level 2 took half as long and cost 3 to 5 %.
const LEVEL: u8 = 4;
/// Bytes in one IDAT chunk: large enough that chunk heads weigh nothing, small beside the file.
const CHUNK: usize = 1 << 18;

/// What `gAMA` says of sRGB (11.3.2.5): 1 / 2.2, in 100 000ths.
const GAMMA: u32 = 45_455;

/// What `cHRM` says of sRGB (11.3.2.5).
fn chromaticities() -> SourceChromaticities {
    SourceChromaticities::new((0.3127, 0.3290), (0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
}

/// Writes a PNG from rows as they come, so that the whole art need not be held twice.
///
/// The file carries `pHYs` where the resolution is known, and `sRGB` (perceptual), or an `iCCP` in its place where a profile is asked
/// for. Texts stand in `iTXt` under the keywords `Title`, `Author` and `Copyright` (11.3.3.1) and, since many programs look only
/// there, once more in `eXIf`. With a profile or texts go `gAMA` and `cHRM`, for readers that heed neither mark. The same rows give the
/// same bytes on every machine, however they are handed over.
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
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) for another depth, an empty picture or a text that no file can hold, [`Kind::Limit`](crate::error::Kind::Limit) for a picture beyond
    /// the format.
    pub fn new(width: usize, height: usize, bits: u8, imprint: &Imprint) -> Result<Self> {
        let missing = Format::Png.samples(width, height, bits)?;
        imprint.check()?;
        let sink = Sink::default();
        let mut info = Info::with_size(width as u32, height as u32);
        if imprint.has_text() {
            info.exif_metadata = Some(exif::block(imprint)?.into());
        }
        if imprint.profile {
            info.icc_profile = Some(srgb_profile().into());
        }
        let mut encoder = Encoder::with_info(sink.clone(), info).map_err(|e| Format::Png.failed(&e))?;
        encoder.set_color(ColorType::Rgba);
        encoder.set_depth(if bits == 8 { BitDepth::Eight } else { BitDepth::Sixteen });
        // Not both marks of color in one file (11.3.2.3 and 11.3.2.5).
        if !imprint.profile {
            encoder.set_source_srgb(SrgbRenderingIntent::Perceptual);
        }
        // A picture that says nothing but its resolution keeps the bytes that it had in earlier versions, which wrote no more.
        if imprint.profile || imprint.has_text() {
            encoder.set_source_gamma(ScaledFloat::from_scaled(GAMMA));
            encoder.set_source_chromaticities(chromaticities());
        }
        encoder.set_deflate_compression(DeflateCompression::Level(LEVEL));
        encoder.set_filter(Filter::Adaptive);
        if let Some(ppi) = imprint.ppi {
            let per_meter = ppi.per_meter();
            encoder.set_pixel_dims(Some(PixelDimensions { xppu: per_meter, yppu: per_meter, unit: Unit::Meter }));
        }
        for ((_, text), keyword) in imprint.texts().into_iter().zip(["Title", "Author", "Copyright"]) {
            if let Some(text) = text {
                encoder.add_itxt_chunk(keyword.to_owned(), text.to_owned()).map_err(|e| Format::Png.failed(&e))?;
            }
        }
        let stream =
            encoder.write_header().and_then(|w| w.into_stream_writer_with_size(CHUNK)).map_err(|e| Format::Png.failed(&e))?;
        Ok(Self { stream, sink, missing })
    }

    /// Takes the next rows, or any part of them: RGBA samples from the top left; 16-bit ones with the high byte first.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) when more comes than the picture holds.
    pub fn write_rows(&mut self, bytes: &[u8]) -> Result<()> {
        self.missing = Format::Png.take(self.missing, bytes.len())?;
        self.stream.write_all(bytes).map_err(|e| Format::Png.failed(&e))
    }

    /// The file.
    ///
    /// # Errors
    /// [`Kind::Parameter`](crate::error::Kind::Parameter) when rows are missing.
    pub fn finish(self) -> Result<Vec<u8>> {
        Format::Png.end(self.missing)?;
        self.stream.finish().map_err(|e| Format::Png.failed(&e))?;
        Ok(self.sink.take())
    }
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

/// Where the encoder writes to: it swallows its writer, so the bytes are kept beside it.
#[derive(Clone, Default)]
struct Sink(Arc<Mutex<Growing>>);

impl Sink {
    fn take(&self) -> Vec<u8> {
        std::mem::take(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner).0)
    }
}

impl Write for Sink {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}
