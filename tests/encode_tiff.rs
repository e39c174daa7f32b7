//! Writing TIFF: its bytes where the format fixes them, its samples through another reader.

use std::collections::BTreeMap;
use std::io::Read;

use barewash::color::srgb_profile::srgb_profile;
use barewash::decode;
use barewash::encode::Imprint;
use barewash::encode::tiff::TiffWriter;
use barewash::error::Kind;
use barewash::units::Ppi;

/// 3 x 2 pixels: nothing, hardly anything of strong colors, half, and all.
const EIGHT: [u8; 24] = [0, 0, 0, 0, 255, 3, 200, 1, 1, 254, 90, 2, 17, 34, 51, 128, 9, 8, 7, 254, 255, 255, 255, 255];

fn imprint() -> Imprint {
    Imprint {
        ppi: Some(Ppi(300.0)),
        title: Some("Tide pool".to_owned()),
        artist: Some("Zoë of Saltmarsh Row".to_owned()),
        copyright: Some("© 2026, Saltmarsh Row".to_owned()),
        profile: false,
    }
}

fn written(width: usize, height: usize, bits: u8, imprint: &Imprint, samples: &[u8]) -> Vec<u8> {
    let mut writer = TiffWriter::new(width, height, bits, imprint).expect("a picture");
    writer.write_rows(samples).expect("rows");
    writer.finish().expect("a file")
}

/// The directory: of each tag its type, its count and its bytes (TIFF 6.0, section 2).
fn tags(file: &[u8]) -> BTreeMap<u16, (u16, u32, Vec<u8>)> {
    let two = |at: usize| u16::from_le_bytes([file[at], file[at + 1]]);
    let four = |at: usize| u32::from_le_bytes([file[at], file[at + 1], file[at + 2], file[at + 3]]);
    assert_eq!(file[..4], *b"II*\0");
    let at = four(4) as usize;
    assert_eq!(at % 2, 0, "a directory begins on a word boundary");
    let count = usize::from(two(at));
    assert_eq!(four(at + 2 + 12 * count), 0, "one directory and no more");
    let mut found = BTreeMap::new();
    let mut last = 0;
    for entry in (0..count).map(|i| at + 2 + 12 * i) {
        let (tag, kind, count) = (two(entry), two(entry + 2), four(entry + 4));
        assert!(tag > last, "tags are in ascending order");
        last = tag;
        let long = count as usize * [0, 1, 1, 2, 4, 8, 1, 1][usize::from(kind)];
        let begin = if long <= 4 { entry + 8 } else { four(entry + 8) as usize };
        assert_eq!(begin % 2, 0, "values begin on word boundaries");
        found.insert(tag, (kind, count, file[begin..begin + long].to_vec()));
    }
    found
}

fn longs(bytes: &[u8]) -> Vec<usize> {
    bytes.as_chunks::<4>().0.iter().map(|b| u32::from_le_bytes(*b) as usize).collect()
}

/// What stands in a strip, unpacked; differences not yet undone.
fn unpacked(file: &[u8], strip: usize) -> Vec<u8> {
    let tags = tags(file);
    let (at, long) = (longs(&tags[&273].2)[strip], longs(&tags[&279].2)[strip]);
    let mut out = Vec::new();
    flate2::read::ZlibDecoder::new(&file[at..at + long]).read_to_end(&mut out).expect("a sound strip");
    out
}

/// TIFF 6.0, sections 3, 6, 14 and 18; compression 8 of "TIFF Technical Notes" (2002); types 2 ASCII, 3 SHORT, 4 LONG, 5 RATIONAL.
#[test]
fn the_tags_are_those_of_the_standard() {
    for bits in [8_u8, 16] {
        let samples: Vec<u8> = EIGHT.iter().flat_map(|&v| vec![v; usize::from(bits) / 8]).collect();
        let file = written(3, 2, bits, &imprint(), &samples);
        let tags = tags(&file);
        let expected: [(u16, u16, u32, &[u8]); 18] = [
            (256, 4, 1, &[3, 0, 0, 0]),                           // ImageWidth
            (257, 4, 1, &[2, 0, 0, 0]),                           // ImageLength
            (258, 3, 4, &[bits, 0, bits, 0, bits, 0, bits, 0]),   // BitsPerSample
            (259, 3, 1, &[8, 0]),                                 // Compression
            (262, 3, 1, &[2, 0]),                                 // PhotometricInterpretation
            (270, 2, 10, b"Tide pool\0"),                         // ImageDescription
            (273, 4, 1, &[8, 0, 0, 0]),                           // StripOffsets
            (274, 3, 1, &[1, 0]),                                 // Orientation
            (277, 3, 1, &[4, 0]),                                 // SamplesPerPixel
            (278, 4, 1, &[2, 0, 0, 0]),                           // RowsPerStrip
            (282, 5, 1, &[0x2C, 1, 0, 0, 1, 0, 0, 0]),            // XResolution
            (283, 5, 1, &[0x2C, 1, 0, 0, 1, 0, 0, 0]),            // YResolution
            (284, 3, 1, &[1, 0]),                                 // PlanarConfiguration
            (296, 3, 1, &[2, 0]),                                 // ResolutionUnit
            (315, 2, 22, "Zoë of Saltmarsh Row\0".as_bytes()),    // Artist
            (317, 3, 1, &[2, 0]),                                 // Predictor
            (338, 3, 1, &[2, 0]),                                 // ExtraSamples
            (33432, 2, 23, "© 2026, Saltmarsh Row\0".as_bytes()), // Copyright
        ];
        for (tag, kind, count, bytes) in expected {
            assert_eq!(tags[&tag], (kind, count, bytes.to_vec()), "tag {tag}");
        }
        // StripByteCounts is whatever packing makes of it; nothing else is there.
        let mut known: Vec<u16> = expected.iter().map(|e| e.0).chain([279]).collect();
        known.sort_unstable();
        assert_eq!(tags.keys().copied().collect::<Vec<_>>(), known);
    }
}

/// Section 14: what a sample adds to that of the same channel in the pixel before it, by the size of a sample, from each row's begin.
#[test]
fn samples_are_differences_along_the_row() {
    let file = written(3, 2, 8, &Imprint::default(), &EIGHT);
    let first = [0, 0, 0, 0, 255, 3, 200, 1, 2, 251, 146, 1];
    let second = [17, 34, 51, 128, 248, 230, 212, 126, 246, 247, 248, 1];
    assert_eq!(unpacked(&file, 0), [first, second].concat());
    // 0x0102, 0x0304, 0x0506, 0x0708, then 0x0201, 0x0304, 0xFFFF, 0x0000: high byte first they come, low byte first they go.
    let file = written(2, 1, 16, &Imprint::default(), &[1, 2, 3, 4, 5, 6, 7, 8, 2, 1, 3, 4, 255, 255, 0, 0]);
    assert_eq!(unpacked(&file, 0), [2, 1, 4, 3, 6, 5, 8, 7, 0xFF, 0, 0, 0, 0xF9, 0xFA, 0xF8, 0xF8]);
}

/// Nothing of 8 bits repeats, so strips, parts of rows and channels cannot be mixed up unseen.
fn picture(width: usize, height: usize) -> Vec<u8> {
    (0..width * height).flat_map(|i| (i as u32).wrapping_mul(0x9E37_79B1).to_be_bytes()).collect()
}

#[test]
fn strips_are_small_and_rows_may_come_in_any_parts() {
    let (width, height) = (1000, 200);
    let samples = picture(width, height);
    let file = written(width, height, 8, &Imprint::default(), &samples);
    let tags = tags(&file);
    assert_eq!(longs(&tags[&278].2), [65], "65 rows of 4000 bytes are the most below 262 144");
    assert_eq!(tags[&273].1, 4);
    assert_eq!((0..4).map(|i| unpacked(&file, i).len()).collect::<Vec<_>>(), [260_000, 260_000, 260_000, 20_000]);
    for part in [1, 7, 3999, 4001, 100_000] {
        let mut writer = TiffWriter::new(width, height, 8, &Imprint::default()).expect("a picture");
        for bytes in samples.chunks(part) {
            writer.write_rows(bytes).expect("a part");
        }
        assert!(writer.finish().expect("a file") == file, "in parts of {part} bytes");
    }
}

/// All strips one after another, differences undone as section 14 says, high byte first.
fn samples_of(file: &[u8], width: usize, deep: usize) -> Vec<u8> {
    let strips = tags(file)[&273].1 as usize;
    let mut out: Vec<u8> = (0..strips).flat_map(|i| unpacked(file, i)).collect();
    for row in out.chunks_mut(width * 4 * deep) {
        if deep == 1 {
            (4..row.len()).for_each(|i| row[i] = row[i].wrapping_add(row[i - 4]));
        } else {
            let row = row.as_chunks_mut::<2>().0;
            let mut before = [0_u16; 4];
            for (i, sample) in row.iter_mut().enumerate() {
                before[i % 4] = before[i % 4].wrapping_add(u16::from_le_bytes(*sample));
                *sample = before[i % 4].to_be_bytes();
            }
        }
    }
    out
}

#[test]
fn samples_come_back_as_they_were() {
    let (width, height) = (1000, 70);
    let samples = picture(width, height);
    assert!(samples_of(&written(width, height, 8, &Imprint::default(), &samples), width, 1) == samples);
    assert!(samples_of(&written(width / 2, height, 16, &imprint(), &samples), width / 2, 2) == samples);
}

/// ICC.1:2010, annex B.4: tag 34675, type UNDEFINED.
#[test]
fn a_profile_is_embedded_where_it_is_asked_for() {
    let file = written(3, 2, 8, &Imprint { profile: true, ..imprint() }, &EIGHT);
    let profile = srgb_profile();
    assert_eq!(tags(&file)[&34675], (7, profile.len() as u32, profile));
    assert_eq!(decode::read(&file).expect("a scan").profile.as_deref(), Some("sRGB"));
    assert!(!tags(&written(3, 2, 8, &imprint(), &EIGHT)).contains_key(&34675));
}

#[test]
fn it_is_read_again_with_its_resolution_or_without() {
    for ppi in [None, Some(300.0), Some(299.9994), Some(72.5), Some(1200.0)] {
        let file = written(3, 2, 8, &Imprint::of_ppi(ppi.map(Ppi)), &EIGHT);
        let read = decode::read(&file).expect("a scan");
        assert_eq!(read.sheet.ppi().map(|p| (p.0 * 100.0).round()), ppi.map(|p| (p * 100.0).round()));
    }
}

#[test]
fn what_makes_no_sense_is_refused() {
    let refused = |w, h, bits| TiffWriter::new(w, h, bits, &Imprint::default()).err().expect("no such picture");
    assert_eq!(refused(3, 2, 12).message(), "A TIFF is saved with 8 or 16 bits a channel, not 12.");
    assert_eq!(refused(0, 2, 8).kind(), Kind::Parameter);
    assert_eq!(refused(1 << 31, 1, 8).kind(), Kind::Limit);
    let mut writer = TiffWriter::new(3, 2, 8, &Imprint::default()).expect("a picture");
    assert!(writer.write_rows(&[0; 25]).expect_err("too much").message().contains("1 bytes too many"));
    assert!(writer.finish().expect_err("too little").message().contains("24 bytes are missing"));
}
