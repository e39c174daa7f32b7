//! Writing scenes as pictures, and reading what was made of them.

use crate::color;
use crate::render::scanner::Jpeg;
use crate::render::truth::Scene;
use barewash::image::{Samples, Sheet};
use barewash::units::Ppi;
use jpeg_encoder::{ColorType, Encoder, PixelDensity, SamplingFactor};
use std::error::Error;
use std::fs;
use std::path::Path;

/// Writes a scene into a folder: `sheet.png` (the scan), `truth.png` (the answer, straight alpha), `black.png` (the answer over
/// black).
///
/// # Errors
/// When a file cannot be written.
pub fn write_scene(scene: &Scene, folder: &Path) -> Result<(), Box<dyn Error>> {
    fs::create_dir_all(folder)?;
    let sheet = &scene.scan;
    fs::write(folder.join("sheet.png"), sheet_png(sheet)?)?;
    let truth: Vec<u8> = scene.answer().iter().flat_map(|p| p.map(byte)).collect();
    fs::write(folder.join("truth.png"), png_of(sheet, png::ColorType::Rgba, png::BitDepth::Eight, &truth)?)?;
    let black: Vec<u8> = scene.black.iter().flat_map(|p| p.map(byte)).collect();
    fs::write(folder.join("black.png"), png_of(sheet, png::ColorType::Rgb, png::BitDepth::Eight, &black)?)?;
    Ok(())
}

/// Where the painter would click to open the pockets of a scene: a JSON list of [x, y].
#[must_use]
pub fn pockets_json(scene: &Scene) -> String {
    let places: Vec<String> = scene.pockets.iter().map(|[x, y]| format!("[{x}, {y}]")).collect();
    format!("[{}]\n", places.join(", "))
}

/// An art that was read from a file.
pub struct ReadArt {
    /// Pixels across and down.
    pub size: [usize; 2],
    /// Straight alpha, encoded 0..1, row by row.
    pub pixels: Vec<[f32; 4]>,
}

/// Reads an art: a PNG with straight alpha, 8 or 16 bits a channel.
///
/// # Errors
/// When the file cannot be read, or is another kind of PNG.
pub fn read_art(path: &Path) -> Result<ReadArt, Box<dyn Error>> {
    let mut reader = png::Decoder::new(std::io::BufReader::new(fs::File::open(path)?)).read_info()?;
    let (color, depth) = reader.output_color_type();
    let size = [reader.info().width as usize, reader.info().height as usize];
    let mut bytes = vec![0; reader.output_buffer_size().ok_or("too large")?];
    reader.next_frame(&mut bytes)?;
    let pixels = match (color, depth) {
        (png::ColorType::Rgba, png::BitDepth::Eight) => {
            bytes.chunks_exact(4).map(|p| [0, 1, 2, 3].map(|c| f32::from(p[c]) / 255.0)).collect()
        }
        (png::ColorType::Rgba, png::BitDepth::Sixteen) => bytes
            .chunks_exact(8)
            .map(|p| [0, 2, 4, 6].map(|c| f32::from(u16::from_be_bytes([p[c], p[c + 1]])) / 65535.0))
            .collect(),
        _ => return Err(format!("{} is {color:?} at {depth:?} bits; an art is RGBA", path.display()).into()),
    };
    Ok(ReadArt { size, pixels })
}

fn byte(v: f32) -> u8 {
    (v * 255.0 + 0.5) as u8
}

/// A scan as PNG, at its own bit depth and resolution.
///
/// # Errors
/// When the encoder refuses.
pub fn sheet_png(sheet: &Sheet) -> Result<Vec<u8>, Box<dyn Error>> {
    match sheet.samples() {
        Samples::Eight(v) => png_of(sheet, png::ColorType::Rgb, png::BitDepth::Eight, v),
        Samples::Sixteen(v) => {
            let bytes: Vec<u8> = v.iter().flat_map(|s| s.to_be_bytes()).collect();
            png_of(sheet, png::ColorType::Rgb, png::BitDepth::Sixteen, &bytes)
        }
    }
}

fn png_of(sheet: &Sheet, color: png::ColorType, depth: png::BitDepth, bytes: &[u8]) -> Result<Vec<u8>, Box<dyn Error>> {
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, sheet.width() as u32, sheet.height() as u32);
    encoder.set_color(color);
    encoder.set_depth(depth);
    encoder.set_compression(png::Compression::Fast);
    let per_meter = sheet.working_ppi().per_meter();
    encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per_meter, yppu: per_meter, unit: png::Unit::Meter }));
    let mut writer = encoder.write_header()?;
    writer.write_image_data(bytes)?;
    writer.finish()?;
    Ok(out)
}

/// A scan made smaller by a whole factor, each pixel the mean of a square in linear light: for a picture of it in a text.
#[must_use]
pub fn reduced(sheet: &Sheet, factor: usize) -> Sheet {
    let (width, height) = (sheet.width() / factor, sheet.height() / factor);
    let share = 1.0 / (factor * factor) as f32;
    let mut samples = Vec::with_capacity(3 * width * height);
    for (x, y) in (0..width * height).map(|i| (i % width, i / width)) {
        let mut sum = [0.0_f32; 3];
        for k in 0..factor * factor {
            let pixel = sheet.pixel(x * factor + k % factor, y * factor + k / factor);
            sum.iter_mut().zip(pixel).for_each(|(s, v)| *s += color::decode(v));
        }
        samples.extend(sum.map(|s| byte(color::encode(s * share))));
    }
    let ppi = sheet.ppi().map(|p| Ppi(p.0 / factor as f64));
    Sheet::new(width, height, Samples::Eight(samples), ppi)
}

/// A scan as JPEG without color subsampling, at its own resolution. 16-bit scans are rounded to 8 bits.
///
/// # Errors
/// When the encoder refuses.
pub fn sheet_jpeg(sheet: &Sheet, quality: u8) -> Result<Vec<u8>, Box<dyn Error>> {
    jpeg(sheet, Jpeg { quality, halved: false })
}

/// A scan as JPEG, at its own resolution. 16-bit scans are rounded to 8 bits.
///
/// # Errors
/// When the encoder refuses.
pub fn jpeg(sheet: &Sheet, how: Jpeg) -> Result<Vec<u8>, Box<dyn Error>> {
    let bytes: Vec<u8> = match sheet.samples() {
        Samples::Eight(v) => v.clone(),
        Samples::Sixteen(v) => v.iter().map(|&s| ((u32::from(s) + 128) / 257) as u8).collect(),
    };
    let mut out = Vec::new();
    let mut encoder = Encoder::new(&mut out, how.quality);
    encoder.set_sampling_factor(if how.halved { SamplingFactor::F_2_2 } else { SamplingFactor::F_1_1 });
    // Tables of its own make the encoder write a scan a channel; with all channels in one scan, as scanners write them, it uses
    // the usual tables.
    encoder.set_optimized_huffman_tables(!how.halved);
    let ppi = sheet.working_ppi().0.round() as u16;
    encoder.set_density(PixelDensity::dpi(ppi));
    encoder.encode(&bytes, u16::try_from(sheet.width())?, u16::try_from(sheet.height())?, ColorType::Rgb)?;
    Ok(out)
}
