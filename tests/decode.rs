//! Reading files: every sample against a table, the facts beside the pixels, and damage.

use std::collections::BTreeSet;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use barewash::decode::{Scan, read, read_page};
use barewash::error::{Error, Kind};
use barewash::image::Samples;
use barewash_support::random::Random;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/formats")
}

fn file(name: &str) -> Vec<u8> {
    std::fs::read(folder().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// The sample files, as `folder/name`.
fn files() -> BTreeSet<String> {
    let inside = |path: PathBuf| std::fs::read_dir(path).expect("folder").map(|entry| entry.expect("entry"));
    let mut found = BTreeSet::new();
    for kind in inside(folder()).filter(|entry| entry.path().is_dir()) {
        for entry in inside(kind.path()) {
            found.insert(format!("{}/{}", kind.file_name().to_string_lossy(), entry.file_name().to_string_lossy()));
        }
    }
    found
}

/// `expected.txt`: file, `opens`, size, bits, ppi, remarks; or file, `refused`, kind, the sentence or how it begins.
fn expected() -> Vec<Vec<String>> {
    let text = String::from_utf8(file("expected.txt")).expect("text");
    text.lines().map(|line| line.split('|').map(str::to_owned).collect()).collect()
}

fn codes(scan: &Scan) -> Vec<&str> {
    scan.warnings.iter().map(|w| w.code).collect()
}

fn ppi(bytes: &[u8]) -> Option<f64> {
    read(bytes).expect("a sound file").sheet.ppi().map(|p| p.0)
}

#[test]
fn every_sample_has_a_row_and_every_row_a_sample() {
    let rows: Vec<String> = expected().into_iter().map(|row| row[0].clone()).collect();
    assert_eq!(rows.iter().cloned().collect::<BTreeSet<_>>(), files());
    assert_eq!(rows.len(), files().len(), "a file has two rows");
}

#[test]
fn samples_do_as_the_table_says() {
    for row in expected() {
        let name = &row[0];
        match (read(&file(name)), row[1].as_str()) {
            (Ok(scan), "opens") => {
                let sheet = &scan.sheet;
                let ppi = sheet.ppi().map_or_else(|| "-".to_owned(), |p| p.0.to_string());
                let found =
                    [format!("{}x{}", sheet.width(), sheet.height()), sheet.bits().to_string(), ppi, codes(&scan).join(",")];
                assert_eq!(found.as_slice(), &row[2..], "{name}");
            }
            (Err(why), "refused") => {
                assert_eq!(why.kind().code(), row[2], "{name}: {why}");
                assert!(why.message().starts_with(&row[3]), "{name}: {why}");
            }
            (Ok(_), _) => panic!("{name} opens"),
            (Err(why), _) => panic!("{name}: {why}"),
        }
    }
}

/// The same picture stored three ways round comes out the same, but for what JPEG loses.
#[test]
fn exif_orientation() {
    let pixels = |name: &str| match read(&file(name)).expect("a sound file").sheet.samples() {
        Samples::Eight(v) => v,
        Samples::Sixteen(_) => panic!("8 bits"),
    };
    let apart =
        |one: &[u8], two: &[u8]| one.iter().zip(two).map(|(a, b)| f64::from(a.abs_diff(*b))).sum::<f64>() / one.len() as f64;
    let first = pixels("jpeg/orient_2.jpg");
    for name in ["jpeg/orient_5.jpg", "jpeg/orient_8.jpg"] {
        assert!(apart(&first, &pixels(name)) < 4.0, "{name}: {}", apart(&first, &pixels(name)));
    }
    // The measure tells: mirrored, the picture is far from itself.
    let mirrored: Vec<u8> =
        first.chunks_exact(128 * 3).flat_map(|row| row.as_chunks::<3>().0.iter().rev().flatten().copied()).collect();
    assert!(apart(&first, &mirrored) > 20.0, "{}", apart(&first, &mirrored));
}

/// A PNG of 8 or 16 bits, written by the `png` crate.
fn png(width: u32, color: png::ColorType, depth: png::BitDepth, density: Option<u32>, samples: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, width, 1);
    encoder.set_color(color);
    encoder.set_depth(depth);
    encoder.set_pixel_dims(density.map(|d| png::PixelDimensions { xppu: d, yppu: d, unit: png::Unit::Meter }));
    encoder.write_header().and_then(|mut w| w.write_image_data(samples)).expect("a sound picture");
    out
}

#[test]
fn png_density_is_per_meter() {
    for (per_meter, expected) in [(11811, 300.0), (23622, 600.0), (2835, 72.0)] {
        let bytes = png(1, png::ColorType::Grayscale, png::BitDepth::Eight, Some(per_meter), &[7]);
        assert_eq!(ppi(&bytes), Some(expected));
    }
}

/// Zeros are what deflate packs most: RFC 1951 takes two bits for 258 of them.
#[test]
fn png_packed_as_densely_as_can_be() {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, 4096, 4096);
    encoder.set_depth(png::BitDepth::One);
    encoder.set_compression(png::Compression::High);
    encoder.set_filter(png::Filter::NoFilter);
    encoder.write_header().and_then(|mut w| w.write_image_data(&[0; 4096 * 4096 / 8])).expect("a sound picture");
    assert!(bytes.len() < 2300, "{} bytes", bytes.len());
    assert_eq!(read(&bytes).expect("a sound picture").sheet.height(), 4096);
    // The same bytes cannot hold the largest picture that is read.
    bytes[16..24].copy_from_slice(&[0, 0, 0x32, 0xC8, 0, 0, 0x32, 0xC8]);
    let mut sum = flate2::Crc::new();
    sum.update(&bytes[12..29]);
    bytes.splice(29..33, sum.sum().to_be_bytes());
    assert!(read(&bytes).expect_err("no picture").message().contains("cut off"));
}

/// PNG, third edition, 11.2.2: a palette's length is a multiple of 3. Found by fuzzing.
#[test]
fn png_palette_that_ends_within_a_color() {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, 1, 1);
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_palette(vec![9; 6]);
    encoder.write_header().and_then(|mut w| w.write_image_data(&[1])).expect("a sound picture");
    assert!(read(&bytes).is_ok());
    let at = bytes.windows(4).position(|four| four == b"PLTE").expect("a palette");
    let cut = bytes[at..at + 9].to_vec();
    let mut sum = flate2::Crc::new();
    sum.update(&cut);
    let chunk = [&[0, 0, 0, 5], &cut[..], &sum.sum().to_be_bytes()].concat();
    bytes.splice(at - 4..at + 14, chunk);
    let why = read(&bytes).expect_err("no palette");
    assert!(why.kind() == Kind::Malformed && why.message().contains("palette"), "{why}");
}

/// A picture of one gray takes two bits a block: one for its DC, one for the end of the block (ITU-T T.81, annex F). A file that states
/// many more pixels is refused before they are drawn. Found by fuzzing.
#[test]
fn jpeg_that_states_more_than_it_holds() {
    let mut bytes = file("jpeg/gray.jpg");
    assert!(read(&bytes).is_ok());
    let at = bytes.windows(2).position(|two| two[0] == 0xFF && matches!(two[1], 0xC0 | 0xC2)).expect("a frame");
    bytes[at + 5..at + 9].copy_from_slice(&[0x2E, 0xE0, 0x2E, 0xE0]);
    let Err(why) = read(&bytes) else { panic!("no picture of 144 megapixels") };
    assert!(why.message().contains("cut off"), "{why}");
}

/// JFIF's header: unit at byte 13, then two counts.
#[test]
fn jpeg_density() {
    let mut bytes = file("jpeg/gray.jpg");
    for (unit, count, expected) in [(1, 300_u16, Some(300.0)), (2, 118, Some(299.72)), (0, 300, None)] {
        bytes[13] = unit;
        for at in [14, 16] {
            bytes[at..at + 2].copy_from_slice(&count.to_be_bytes());
        }
        assert_eq!(ppi(&bytes), expected);
    }
}

/// Channels in scans of their own: what another reader makes of them (`tests/reference/jpegs.py`), but for how each rounds.
#[test]
fn jpeg_channels_apart() {
    for name in ["apart-420", "apart-420-odd", "apart-422", "apart-444"] {
        let [ours, other] = ["jpg", "png"].map(|kind| {
            let folder = if kind == "jpg" { "jpeg" } else { kind };
            match read(&file(&format!("{folder}/{name}.{kind}"))).expect("a sound file").sheet.samples() {
                Samples::Eight(v) => v,
                Samples::Sixteen(_) => panic!("8 bits"),
            }
        });
        assert_eq!(ours.len(), other.len(), "{name}");
        let furthest = ours.iter().zip(&other).map(|(a, b)| a.abs_diff(*b)).max();
        assert!(furthest <= Some(3), "{name}: {furthest:?}");
    }
}

#[test]
fn gray_becomes_rgb_and_16_bits_stay() {
    let scan = read(&png(2, png::ColorType::Grayscale, png::BitDepth::Sixteen, None, &[0x12, 0x34, 0xFF, 0xFE])).expect("sound");
    assert_eq!(scan.sheet.samples(), Samples::Sixteen(vec![0x1234, 0x1234, 0x1234, 0xFFFE, 0xFFFE, 0xFFFE]));
    assert_eq!(codes(&scan), ["no-ppi"]);
}

#[test]
fn transparency_is_laid_on_white_with_a_remark() {
    let see_through = [10, 20, 30, 255, 10, 20, 30, 0, 0, 100, 255, 51];
    let scan = read(&png(3, png::ColorType::Rgba, png::BitDepth::Eight, Some(11811), &see_through)).expect("sound");
    assert_eq!(scan.sheet.samples(), Samples::Eight(vec![10, 20, 30, 255, 255, 255, 204, 224, 255]));
    assert_eq!(codes(&scan), ["transparency"]);
    let opaque = read(&png(1, png::ColorType::Rgba, png::BitDepth::Eight, Some(11811), &[1, 2, 3, 255])).expect("sound");
    assert!(opaque.warnings.is_empty(), "{:?}", opaque.warnings);
}

/// A head of 25 bytes that declares 10 gigapixels; nothing may be asked for on its word.
#[test]
fn a_declared_giant_is_refused() {
    let mut bytes = Cursor::new(Vec::new());
    drop(png::Encoder::new(&mut bytes, 100_000, 100_000).write_header().expect("a head"));
    let why = read(bytes.get_ref()).expect_err("too large");
    assert_eq!(why.kind(), Kind::Limit);
    assert_eq!(
        why.message(),
        "This picture is too large: 100000 x 100000 pixels are 10000 megapixels, and 170 can be worked on. \
         Scan at 13 % of this resolution or less, or in parts."
    );
}

/// The kinds that a file can be refused with; the others would blame the painter's recipe.
fn sensible(name: &str, why: &Error) {
    assert!(matches!(why.kind(), Kind::Malformed | Kind::Unsupported | Kind::Limit), "{name}: {why:?}");
    assert!(why.message().len() > 20, "{name}: {why:?}");
}

/// However a sound file is cut or changed, it opens or is refused with a sentence, never a panic.
#[test]
fn random_damage() {
    let mut random = Random::new(0x0BA2_EA54);
    let sound: Vec<String> = expected().into_iter().filter(|row| row[1] == "opens").map(|row| row[0].clone()).collect();
    let mut refused = 0;
    for name in &sound {
        let whole = file(name);
        for _ in 0..4 {
            let cut = &whole[..random.below(whole.len())];
            let mut flipped = whole.clone();
            for _ in 0..=random.below(3) {
                flipped[random.below(whole.len())] ^= 1 << random.below(8);
            }
            for bytes in [cut, &flipped] {
                if let Err(why) = read(bytes) {
                    refused += 1;
                    sensible(name, &why);
                }
            }
        }
    }
    assert!(refused > sound.len(), "only {refused} of {} damaged files were noticed", sound.len() * 8);
}

/// A head after ITU-T T.81, B.2: a baseline frame of three channels, and a scan of one of them, of two, or of one twice.
#[test]
fn jpeg_channels_that_are_missing() {
    let frame = [0xFF, 0xC0, 0, 17, 8, 0, 16, 0, 16, 3, 1, 0x22, 0, 2, 0x11, 1, 3, 0x11, 1];
    let scan =
        |channels: &[u8]| [&[0xFF, 0xDA, 0, 6 + channels.len() as u8, channels.len() as u8 / 2], channels, &[0, 63, 0]].concat();
    let refused = |scan: &[u8]| read(&[&[0xFF, 0xD8], &frame[..], scan, &[0xFF, 0xD9]].concat()).expect_err("no picture");
    for scans in [scan(&[1, 0]), [scan(&[1, 0]), scan(&[1, 0])].concat()] {
        let why = refused(&scans);
        assert!(why.kind() == Kind::Malformed && why.message().contains("a channel is missing"), "{why}");
    }
    let why = refused(&scan(&[1, 0, 2, 0]));
    assert!(why.kind() == Kind::Unsupported && why.message().contains("stand together"), "{why}");
}

/// Pages are counted from 0, and one that is not there is asked for in vain.
#[test]
fn a_page_can_be_chosen() {
    let two = file("tiff/seq-1c-8b-multipage-adeefdcc.tiff");
    let first = read_page(&two, Some(0)).expect("a page");
    assert!(first.pages > 1, "{}", first.pages);
    let second = read_page(&two, Some(1)).expect("a page");
    assert_ne!(first.sheet.samples(), second.sheet.samples());
    let why = read_page(&two, Some(first.pages)).expect_err("no such page");
    assert_eq!(why.kind(), Kind::Parameter);
    assert!(why.message().starts_with(&format!("There is no page {}", first.pages + 1)), "{why}");
    let one = png(1, png::ColorType::Grayscale, png::BitDepth::Eight, None, &[7]);
    assert_eq!(read_page(&one, Some(1)).expect_err("one page").kind(), Kind::Parameter);
}

/// One 16-bit RGB pixel in a PNG with these chunks about its colors.
fn colored(pixel: [u16; 3], set: impl Fn(&mut png::Info<'_>), numbers: Option<[u8; 4]>) -> Scan {
    let mut info = png::Info::with_size(1, 1);
    (info.color_type, info.bit_depth) = (png::ColorType::Rgb, png::BitDepth::Sixteen);
    set(&mut info);
    let mut out = Vec::new();
    let encoder = png::Encoder::with_info(&mut out, info).expect("sound facts");
    let bytes: Vec<u8> = pixel.iter().flat_map(|v| v.to_be_bytes()).collect();
    let mut writer = encoder.write_header().expect("a sound head");
    if let Some(numbers) = numbers {
        writer.write_chunk(png::chunk::ChunkType(*b"cICP"), &numbers).expect("a chunk");
    }
    writer.write_image_data(&bytes).expect("a sound picture");
    writer.finish().expect("a file");
    read(&out).expect("a sound file")
}

fn assert_near(scan: &Scan, expected: [u16; 3], within: u16) {
    let Samples::Sixteen(found) = scan.sheet.samples() else { panic!("16 bits") };
    assert!(found.iter().zip(expected).all(|(a, b)| a.abs_diff(b) <= within), "{found:?}, not {expected:?}");
}

const P3: [[f32; 2]; 4] = [[0.3127, 0.329], [0.68, 0.32], [0.265, 0.69], [0.15, 0.06]];

/// Light of a half is 0.735357 in sRGB (IEC 61966-2-1); that of Display P3 at (0.5, 0.25, 0.25) comes by the matrices of the CSS Color 4
/// sample code to (0.556235, 0.239486, 0.24509) in linear sRGB.
#[test]
fn colors_that_a_png_states() {
    let half = [32768; 3];
    let linear = |info: &mut png::Info<'_>| info.source_gamma = Some(png::ScaledFloat::new(1.0));
    assert_near(&colored(half, linear, None), [48192; 3], 3);
    let usual = |info: &mut png::Info<'_>| info.source_gamma = Some(png::ScaledFloat::new(0.45455));
    assert_near(&colored(half, usual, None), half, 0);
    let wide = |info: &mut png::Info<'_>| {
        linear(info);
        let [white, red, green, blue] = P3.map(|[x, y]| (x, y));
        info.source_chromaticities = Some(png::SourceChromaticities::new(white, red, green, blue));
    };
    assert_near(&colored([32768, 16384, 16384], wide, None), [50544, 34510, 34879], 60);
    // The numbers of ITU-T H.273 have the first word: 12 is Display P3, and 13 the curve of sRGB.
    let encoded = [48192, 35199, 35199];
    let wide = colored(encoded, linear, Some([12, 13, 0, 1]));
    assert_near(&wide, [50544, 34510, 34879], 60);
    assert_near(&colored(encoded, |_| {}, Some([1, 13, 0, 1])), encoded, 0);
    // 16 is the curve of displays of high brightness.
    let bright = colored(half, |_| {}, Some([9, 16, 0, 1]));
    assert_near(&bright, half, 0);
    assert!(codes(&bright).contains(&"unread-colors"), "{:?}", codes(&bright));
}

/// A TIFF of one gray pixel whose profile is said to have two thousand million bytes: no memory is taken for them.
#[test]
fn a_declared_giant_of_a_tag_takes_no_memory() {
    let mut tiff = b"II*\0\x08\0\0\0".to_vec();
    let entries: [(u16, u16, u32, u32); 8] = [
        (256, 3, 1, 1),
        (257, 3, 1, 1),
        (258, 3, 1, 8),
        (262, 3, 1, 1),
        (273, 4, 1, 8),
        (278, 3, 1, 1),
        (279, 4, 1, 1),
        (34675, 7, 0x7FFF_FFFF, 8),
    ];
    tiff.extend((entries.len() as u16).to_le_bytes());
    for (tag, kind, count, value) in entries {
        tiff.extend([tag.to_le_bytes(), kind.to_le_bytes()].concat());
        tiff.extend([count.to_le_bytes(), value.to_le_bytes()].concat());
    }
    tiff.extend([0; 4]);
    assert_eq!(read(&tiff).expect("a pixel").profile, None);
}
