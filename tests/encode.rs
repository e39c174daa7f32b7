//! Writing PNG: its bytes where the format fixes them, its samples through another reader.

use barewash::encode::png::png;
use barewash::error::Kind;
use barewash::image::{Art, Pixels};
use barewash::units::Ppi;

/// 300 ppi are 11811 pixels per meter (PNG specification, third edition, 11.3.4.3): length 9, `pHYs`, 00002E23 twice,
/// unit 1, and the checksum of those.
const PHYS_300: [u8; 21] = [0, 0, 0, 9, 0x70, 0x48, 0x59, 0x73, 0, 0, 0x2E, 0x23, 0, 0, 0x2E, 0x23, 1, 0x78, 0xA5, 0x3F, 0x76];

/// 3 x 2 pixels: nothing, hardly anything of strong colors, half, and all.
const EIGHT: [u8; 24] = [0, 0, 0, 0, 255, 3, 200, 1, 1, 254, 90, 2, 17, 34, 51, 128, 9, 8, 7, 254, 255, 255, 255, 255];

fn art(pixels: Pixels, ppi: Option<f64>) -> Art {
    Art { width: 3, height: 2, ppi: ppi.map(Ppi), pixels }
}

fn sixteen() -> Vec<u16> {
    EIGHT.iter().enumerate().map(|(i, &v)| (u16::from(v) * 257) ^ if v == 0 || v == 255 { 0 } else { i as u16 }).collect()
}

fn chunks(file: &[u8]) -> Vec<(&[u8], &[u8])> {
    let mut found = Vec::new();
    let mut rest = &file[8..];
    while let Some((head, after)) = rest.split_at_checked(8) {
        let long = u32::from_be_bytes([head[0], head[1], head[2], head[3]]) as usize;
        found.push((&head[4..8], &after[..long]));
        rest = &after[long + 4..];
    }
    found
}

/// Samples as the `png` crate reads them, with its checks of checksums on.
fn decoded(file: &[u8]) -> (png::ColorType, png::BitDepth, Vec<u8>) {
    let mut reader = png::Decoder::new(std::io::Cursor::new(file)).read_info().expect("a sound head");
    let mut samples = vec![0; reader.output_buffer_size().expect("a small picture")];
    let info = reader.next_frame(&mut samples).expect("sound data");
    (info.color_type, info.bit_depth, samples)
}

#[test]
fn resolution_and_colors_are_stated() {
    for (pixels, bits) in [(Pixels::Eight(EIGHT.to_vec()), 8), (Pixels::Sixteen(sixteen()), 16)] {
        let file = png(&art(pixels.clone(), Some(300.0)), bits).expect("a picture");
        assert_eq!(file.windows(21).filter(|w| *w == PHYS_300).count(), 1);
        let found = chunks(&file);
        let names: Vec<&[u8]> = found.iter().map(|(name, _)| *name).collect();
        assert_eq!((names[0], names[names.len() - 1]), (&b"IHDR"[..], &b"IEND"[..]));
        assert_eq!(found.iter().filter(|(name, data)| name == b"sRGB" && data == &[0]).count(), 1);
        let at = |name: &[u8]| names.iter().position(|n| *n == name).expect("a chunk");
        assert!(at(b"sRGB") < at(b"IDAT") && at(b"pHYs") < at(b"IDAT"));
        let silent = png(&art(pixels, None), bits).expect("a picture");
        assert!(chunks(&silent).iter().all(|(name, _)| name != b"pHYs"));
    }
}

#[test]
fn samples_come_back_as_they_were() {
    let (color, depth, samples) = decoded(&png(&art(Pixels::Eight(EIGHT.to_vec()), None), 8).expect("a picture"));
    assert_eq!((color, depth, samples.as_slice()), (png::ColorType::Rgba, png::BitDepth::Eight, &EIGHT[..]));
    let wide = sixteen();
    let (color, depth, samples) = decoded(&png(&art(Pixels::Sixteen(wide.clone()), None), 16).expect("a picture"));
    let bytes: Vec<u8> = wide.iter().flat_map(|v| v.to_be_bytes()).collect();
    assert_eq!((color, depth, samples), (png::ColorType::Rgba, png::BitDepth::Sixteen, bytes));
}

#[test]
fn the_other_depth_is_widened_or_rounded() {
    let (_, _, wide) = decoded(&png(&art(Pixels::Eight(EIGHT.to_vec()), None), 16).expect("a picture"));
    assert_eq!(wide, EIGHT.iter().flat_map(|&v| [v, v]).collect::<Vec<_>>());
    let (_, _, narrow) = decoded(&png(&art(Pixels::Sixteen(sixteen()), None), 8).expect("a picture"));
    // The 16-bit samples lie fewer than 128 counts from multiples of 257.
    assert_eq!(narrow, EIGHT);
}

#[test]
fn what_makes_no_sense_is_refused() {
    let why = png(&art(Pixels::Eight(EIGHT.to_vec()), None), 12).expect_err("12 bits");
    assert_eq!((why.kind(), why.message()), (Kind::Parameter, "A PNG is saved with 8 or 16 bits a channel, not 12."));
    let empty = Art { width: 0, height: 2, ppi: None, pixels: Pixels::Eight(Vec::new()) };
    assert_eq!(png(&empty, 8).expect_err("nothing").kind(), Kind::Parameter);
}
