//! Writing PNG: its bytes where the format fixes them, its samples through another reader.

use barewash::color::srgb_profile::srgb_profile;
use barewash::encode::Imprint;
use barewash::encode::png::{PngWriter, png};
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

#[test]
fn rows_may_come_in_any_parts_and_data_goes_in_more_than_one_chunk() {
    let (width, height) = (300, 200);
    // No order in them, so that they do not pack.
    let samples: Vec<u8> =
        (0..width * height).flat_map(|i| (i as u32).wrapping_mul(0x9E37_79B1).rotate_left(i as u32).to_be_bytes()).collect();
    for bits in [8, 16] {
        let width = width * 8 / usize::from(bits);
        let in_parts = |part: usize| {
            let mut writer = PngWriter::new(width, height, bits, &Imprint::default()).expect("a picture");
            samples.chunks(part).for_each(|bytes| writer.write_rows(bytes).expect("a part"));
            writer.finish().expect("a file")
        };
        let file = in_parts(samples.len());
        assert!(chunks(&file).iter().filter(|(name, _)| name == b"IDAT").count() > 1);
        assert!(decoded(&file).2 == samples);
        for part in [1, 7, 1199, 1201, 100_000] {
            assert!(in_parts(part) == file, "in parts of {part} bytes");
        }
    }
}

#[test]
fn too_much_too_little_and_too_large_are_refused() {
    let mut writer = PngWriter::new(3, 2, 8, &Imprint::default()).expect("a picture");
    assert!(writer.write_rows(&[0; 25]).expect_err("too much").message().contains("1 bytes too many"));
    writer.write_rows(&EIGHT[..20]).expect("a part");
    assert!(writer.finish().expect_err("too little").message().contains("4 bytes are missing"));
    for (width, height) in [(1 << 31, 1), (1, 1 << 31), ((1 << 31) - 1, (1 << 31) - 1)] {
        let why = PngWriter::new(width, height, 16, &Imprint::default()).err().expect("no such picture");
        assert_eq!(why.kind(), Kind::Limit, "{width} x {height}");
        assert!(why.message().contains("Trim the sheet"), "{why}");
    }
}

/// The three texts of a study, one of them beyond ASCII.
fn imprint() -> Imprint {
    Imprint {
        ppi: Some(Ppi(300.0)),
        title: Some("Tide pool".to_owned()),
        artist: Some("Zo\u{eb} of Saltmarsh Row".to_owned()),
        copyright: Some("\u{a9} 2026, Saltmarsh Row".to_owned()),
        profile: false,
    }
}

fn written(imprint: &Imprint) -> Vec<u8> {
    let mut writer = PngWriter::new(3, 2, 8, imprint).expect("a picture");
    writer.write_rows(&EIGHT).expect("rows");
    writer.finish().expect("a file")
}

/// PNG specification, third edition, 11.3.3.4: keyword, zero, not compressed, method 0, no language, no translated keyword, UTF-8.
#[test]
fn texts_stand_in_itxt_under_the_keywords_of_the_standard() {
    let file = written(&imprint());
    let texts: Vec<&[u8]> = chunks(&file).into_iter().filter(|(name, _)| name == b"iTXt").map(|(_, data)| data).collect();
    let expected: [&[u8]; 3] = [
        b"Title\0\0\0\0\0Tide pool",
        b"Author\0\0\0\0\0Zo\xc3\xab of Saltmarsh Row",
        b"Copyright\0\0\0\0\0\xc2\xa9 2026, Saltmarsh Row",
    ];
    assert_eq!(texts, expected);
}

/// Exif 2.32, 4.6.2 and 4.6.4, byte by byte: a little-endian TIFF directory of seven tags, of which what is longer than four bytes
/// stands behind it.
#[test]
fn the_same_stands_in_exif() {
    let file = written(&imprint());
    let found = chunks(&file);
    let exif = found.iter().find(|(name, _)| name == b"eXIf").expect("a block").1;
    let mut expected = b"II\x2a\0\x08\0\0\0\x07\0".to_vec();
    // The values behind the directory begin at byte 8 + 2 + 7 x 12 + 4 = 98.
    for entry in [
        *b"\x0e\x01\x02\0\x0a\0\0\0\x62\0\0\0", // ImageDescription: 10 characters at 98
        *b"\x12\x01\x03\0\x01\0\0\0\x01\0\0\0", // Orientation: 1
        *b"\x1a\x01\x05\0\x01\0\0\0\x6c\0\0\0", // XResolution: at 108
        *b"\x1b\x01\x05\0\x01\0\0\0\x74\0\0\0", // YResolution: at 116
        *b"\x28\x01\x03\0\x01\0\0\0\x02\0\0\0", // ResolutionUnit: inch
        *b"\x3b\x01\x02\0\x16\0\0\0\x7c\0\0\0", // Artist: 22 bytes at 124
        *b"\x98\x82\x02\0\x17\0\0\0\x92\0\0\0", // Copyright: 23 bytes at 146
    ] {
        expected.extend(entry);
    }
    expected.extend([0; 4]);
    expected.extend(b"Tide pool\0\x2c\x01\0\0\x01\0\0\0\x2c\x01\0\0\x01\0\0\0");
    expected.extend(b"Zo\xc3\xab of Saltmarsh Row\0\xc2\xa9 2026, Saltmarsh Row\0\0");
    assert_eq!(exif, expected);
}

/// 11.3.2: `iCCP` takes the place of `sRGB`; with texts or a profile go a `gAMA` of 45455 and the `cHRM` of sRGB.
#[test]
fn a_profile_takes_the_place_of_the_mark() {
    const CHROMATICITIES: [u32; 8] = [31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000];
    let chromaticities: Vec<u8> = CHROMATICITIES.iter().flat_map(|v| v.to_be_bytes()).collect();
    for profile in [false, true] {
        let file = written(&Imprint { profile, title: (!profile).then(|| "Tide pool".to_owned()), ..Imprint::default() });
        let found = chunks(&file);
        let data = |wanted: &[u8]| found.iter().find(|(name, _)| *name == wanted).map(|(_, data)| *data);
        assert_eq!(data(b"gAMA"), Some(&45_455_u32.to_be_bytes()[..]));
        assert_eq!(data(b"cHRM"), Some(&chromaticities[..]));
        assert_eq!((data(b"sRGB").is_some(), data(b"iCCP").is_some()), (!profile, profile));
        let reader = png::Decoder::new(std::io::Cursor::new(&file)).read_info().expect("a sound head");
        assert_eq!(reader.info().icc_profile.as_deref(), profile.then(srgb_profile).as_deref());
        assert_eq!(data(b"eXIf").is_none(), profile, "without texts there is nothing to say in it");
    }
}

#[test]
fn texts_that_no_file_can_hold_are_refused_by_name() {
    for (text, said) in
        [("", "is empty"), ("two\nlines", "one line"), ("a\0b", "one line"), (&"x".repeat(2001), "2001 characters")]
    {
        let imprint = Imprint { copyright: Some(text.to_owned()), ..Imprint::default() };
        let why = PngWriter::new(3, 2, 8, &imprint).err().expect("no such text");
        assert_eq!(why.kind(), Kind::Parameter);
        assert!(why.message().contains("\"copyright\"") && why.message().contains(said), "{why}");
    }
}

/// A picture without texts has exactly these chunks, as it always had.
#[test]
fn nothing_is_added_where_nothing_is_asked_for() {
    let file = png(&art(Pixels::Eight(EIGHT.to_vec()), Some(300.0)), 8).expect("a picture");
    let mut names: Vec<&[u8]> = chunks(&file).into_iter().map(|(name, _)| name).collect();
    names.dedup();
    assert_eq!(names, [b"IHDR", b"pHYs", b"sRGB", b"IDAT", b"IEND"]);
}
