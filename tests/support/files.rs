//! Writing scenes as pictures.

use crate::color;
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

fn byte(v: f32) -> u8 {
    (v * 255.0 + 0.5) as u8
}

/// A scan as PNG, at its own bit depth and resolution.
///
/// # Errors
/// When the encoder refuses.
pub fn sheet_png(sheet: &Sheet) -> Result<Vec<u8>, Box<dyn Error>> {
    match sheet.samples() {
        Samples::Eight(v) => png_of(sheet, png::ColorType::Rgb, png::BitDepth::Eight, &v),
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
    let bytes: Vec<u8> = match sheet.samples() {
        Samples::Eight(v) => v,
        Samples::Sixteen(v) => v.iter().map(|&s| ((u32::from(s) + 128) / 257) as u8).collect(),
    };
    let mut out = Vec::new();
    let mut encoder = Encoder::new(&mut out, quality);
    encoder.set_sampling_factor(SamplingFactor::F_1_1);
    encoder.set_optimized_huffman_tables(true);
    let ppi = sheet.working_ppi().0.round() as u16;
    encoder.set_density(PixelDensity::dpi(ppi));
    encoder.encode(&bytes, u16::try_from(sheet.width())?, u16::try_from(sheet.height())?, ColorType::Rgb)?;
    Ok(out)
}
