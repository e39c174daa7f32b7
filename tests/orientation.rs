//! A picture stored any of eight ways round is read upright, from every format that can say so.

use barewash::decode::read;
use barewash::encode::{Format, Imprint, Writer};
use barewash::image::{Samples, Sheet};
use barewash_support::files;
use barewash_support::render::scanner::Jpeg;

/// Blocks across and down, and pixels of a block: as large as those of JPEG with halved color, which so keeps each color to rounding.
const ACROSS: usize = 3;
const DOWN: usize = 2;
const BLOCK: usize = 16;

/// A color for each block, so that no two ways round look alike.
const COLORS: [[u8; 3]; ACROSS * DOWN] =
    [[250, 240, 230], [200, 40, 60], [20, 90, 160], [90, 150, 30], [128, 128, 128], [10, 20, 30]];

/// The picture as it is stored by an orientation, and its size. TIFF 6.0, section 8, "Orientation", and Exif 2.32, 4.6.4, from memory:
/// which side of the upright picture the first stored row is, and which the first stored column.
fn stored(orientation: u16) -> (usize, usize, Vec<u8>) {
    let (row_is, column_is) = match orientation {
        1 => ("top", "left"),
        2 => ("top", "right"),
        3 => ("bottom", "right"),
        4 => ("bottom", "left"),
        5 => ("left", "top"),
        6 => ("right", "top"),
        7 => ("right", "bottom"),
        _ => ("left", "bottom"),
    };
    let (wide, high) = (ACROSS * BLOCK, DOWN * BLOCK);
    let (width, height) = if orientation < 5 { (wide, high) } else { (high, wide) };
    // So many pixels from a side is this column, or this row, of the upright picture.
    let from = |side: &str, far: usize| match side {
        "right" => wide - 1 - far,
        "bottom" => high - 1 - far,
        _ => far,
    };
    let color = |i: usize| {
        let (row, column) = (from(row_is, i / width), from(column_is, i % width));
        let (x, y) = if orientation < 5 { (column, row) } else { (row, column) };
        COLORS[y / BLOCK * ACROSS + x / BLOCK]
    };
    (width, height, (0..width * height).flat_map(color).collect())
}

/// A file of this format, whose entry for the orientation is changed from upright to another: tag 274, SHORT, one, 1.
fn file(format: Format, orientation: u16) -> Vec<u8> {
    const UPRIGHT: [u8; 12] = [0x12, 0x01, 3, 0, 1, 0, 0, 0, 1, 0, 0, 0];
    let (width, height, rgb) = stored(orientation);
    let title = Some("Tide pool".to_owned());
    let mut writer = Writer::new(format, width, height, 8, &Imprint { title, ..Imprint::default() }).expect("a picture");
    let rgba: Vec<u8> = rgb.as_chunks::<3>().0.iter().flat_map(|[r, g, b]| [*r, *g, *b, 255]).collect();
    writer.write_rows(&rgba).expect("rows");
    let mut file = writer.finish().expect("a file");
    let at = file.windows(12).position(|w| w == UPRIGHT).expect("an orientation");
    file[at + 8] = orientation as u8;
    if format == Format::Png {
        mend_checksum(&mut file);
    }
    file
}

/// Puts the right checksum behind `eXIf` (PNG specification, third edition, annex D), bit by bit.
fn mend_checksum(file: &mut [u8]) {
    let name = file.windows(4).position(|w| w == b"eXIf").expect("a chunk");
    let long = u32::from_be_bytes([file[name - 4], file[name - 3], file[name - 2], file[name - 1]]) as usize;
    let end = name + 4 + long;
    let mut sum = u32::MAX;
    for byte in &file[name..end] {
        sum ^= u32::from(*byte);
        for _ in 0..8 {
            sum = if sum & 1 == 1 { 0xEDB8_8320 ^ (sum >> 1) } else { sum >> 1 };
        }
    }
    file[end..end + 4].copy_from_slice(&(!sum).to_be_bytes());
}

/// A JPEG that says in EXIF how it lies (Exif 2.32, 4.7.2: `APP1`, its length, `Exif` and two zeros, a TIFF directory).
fn jpeg(orientation: u16) -> Vec<u8> {
    let (width, height, rgb) = stored(orientation);
    let sheet = Sheet::new(width, height, Samples::Eight(rgb), None);
    let plain = files::jpeg(&sheet, Jpeg { quality: 100, halved: true }).expect("a JPEG");
    let mut block = b"Exif\0\0II\x2A\0\x08\0\0\0\x01\0".to_vec();
    block.extend([0x12, 0x01, 3, 0, 1, 0, 0, 0, orientation as u8, 0, 0, 0, 0, 0, 0, 0]);
    let long = (block.len() as u16 + 2).to_be_bytes();
    [&plain[..2], &[0xFF, 0xE1], &long, &block, &plain[2..]].concat()
}

fn upright(file: &[u8]) -> (usize, usize, Vec<u8>) {
    let sheet = read(file).expect("a scan").sheet;
    match sheet.samples() {
        Samples::Eight(samples) => (sheet.width(), sheet.height(), samples),
        Samples::Sixteen(_) => panic!("8 bits"),
    }
}

#[test]
fn all_eight_of_every_lossless_format_are_the_same_picture() {
    let first = stored(1);
    for orientation in 1..=8 {
        for format in [Format::Png, Format::Tiff, Format::Webp] {
            assert!(upright(&file(format, orientation)) == first, "{} {orientation}", format.name());
        }
    }
}

/// Color has half the resolution in these files, and between its pixels it is smoothed, along rows and columns in turn: samples are held
/// against the picture away from the borders of blocks, and against each other everywhere. Measured: 1 count, and 2 where sides change.
#[test]
fn all_eight_of_jpeg_are_the_same_picture() {
    let (width, height, exact) = stored(1);
    let inside = |i: usize| [i % width % BLOCK, i / width % BLOCK].iter().all(|at| (2..BLOCK - 2).contains(at));
    let (.., first) = upright(&jpeg(1));
    for orientation in 1..=8 {
        let (w, h, samples) = upright(&jpeg(orientation));
        assert_eq!((w, h), (width, height));
        for (i, sample) in samples.iter().enumerate() {
            assert!(!inside(i / 3) || sample.abs_diff(exact[i]) <= 1, "{orientation}: {i}");
            assert!(sample.abs_diff(first[i]) <= 2, "{orientation}: {i}");
        }
    }
}
