//! Writing WebP: its chunks where the format fixes them, its samples through a reader.

use barewash::color::srgb_profile::srgb_profile;
use barewash::decode;
use barewash::encode::Imprint;
use barewash::encode::webp::WebpWriter;
use barewash::error::Kind;
use barewash::units::Ppi;

/// 3 x 2 pixels: color under nothing, hardly anything of strong colors, half, and all.
const EIGHT: [u8; 24] = [90, 20, 7, 0, 255, 3, 200, 1, 1, 254, 90, 2, 17, 34, 51, 128, 9, 8, 7, 254, 255, 255, 255, 255];

fn written(imprint: &Imprint) -> Vec<u8> {
    let mut writer = WebpWriter::new(3, 2, 8, imprint).expect("a picture");
    // Rows may come in any parts.
    EIGHT.chunks(7).for_each(|part| writer.write_rows(part).expect("a part"));
    writer.finish().expect("a file")
}

fn imprint() -> Imprint {
    Imprint {
        ppi: Some(Ppi(300.0)),
        title: Some("Tide <pool> & shore".to_owned()),
        artist: Some("Zoë of Saltmarsh Row".to_owned()),
        copyright: None,
        profile: true,
    }
}

/// RFC 9649, 2.3 and 2.4: `RIFF`, the size of all after it, `WEBP`, then chunks of a name, a size, and data filled up to even.
fn chunks(file: &[u8]) -> Vec<(&[u8], &[u8])> {
    let size = |at: usize| u32::from_le_bytes([file[at], file[at + 1], file[at + 2], file[at + 3]]) as usize;
    assert_eq!((&file[..4], size(4), &file[8..12]), (&b"RIFF"[..], file.len() - 8, &b"WEBP"[..]));
    let mut found = Vec::new();
    let mut at = 12;
    while at < file.len() {
        let long = size(at + 4);
        found.push((&file[at..at + 4], &file[at + 8..at + 8 + long]));
        at += 8 + long.next_multiple_of(2);
    }
    assert_eq!(at, file.len());
    found
}

/// RFC 9649, 2.6: without anything beside the pixels there is one chunk. 3.4: its signature 0x2F, then width less one and height less one
/// in 14 bits each, then whether alpha is used.
#[test]
fn pixels_alone_are_one_chunk() {
    let file = written(&Imprint::default());
    let found = chunks(&file);
    assert_eq!(found.len(), 1);
    let (name, data) = found[0];
    assert_eq!(name, b"VP8L");
    assert_eq!(data[0], 0x2F);
    let head = u32::from_le_bytes([data[1], data[2], data[3], data[4]]);
    assert_eq!((head & 0x3FFF, head >> 14 & 0x3FFF, head >> 28 & 1, head >> 29), (2, 1, 1, 0));
}

/// RFC 9649, 2.7: `VP8X` with its flags (profile 0x20, alpha 0x10, EXIF 0x08, XMP 0x04), then profile, pixels, EXIF, XMP.
#[test]
fn what_stands_beside_the_pixels_is_in_chunks_of_its_own() {
    let file = written(&imprint());
    let found = chunks(&file);
    let names: Vec<&[u8]> = found.iter().map(|(name, _)| *name).collect();
    assert_eq!(names, [b"VP8X", b"ICCP", b"VP8L", b"EXIF", b"XMP "]);
    assert_eq!(found[0].1, [0x3C, 0, 0, 0, 2, 0, 0, 1, 0, 0]);
    assert_eq!(found[1].1, srgb_profile());
    // Without a marker before it (2.7.1.5); six tags.
    assert_eq!(found[3].1[..10], *b"II\x2a\0\x08\0\0\0\x06\0");
    let xmp = std::str::from_utf8(found[4].1).expect("UTF-8");
    // ISO 16684-1:2019, 7.9 and 8.3, from memory.
    for part in [
        "<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">Tide &lt;pool&gt; &amp; shore</rdf:li></rdf:Alt></dc:title>",
        "<dc:creator><rdf:Seq><rdf:li>Zoë of Saltmarsh Row</rdf:li></rdf:Seq></dc:creator>",
    ] {
        assert!(xmp.contains(part), "{xmp}");
    }
    assert!(!xmp.contains("rights"));
}

#[test]
fn samples_come_back_as_they_were_under_full_transparency_too() {
    for imprint in [Imprint::default(), imprint()] {
        let file = written(&imprint);
        let mut reader = image_webp::WebPDecoder::new(std::io::Cursor::new(&file)).expect("a WebP");
        assert_eq!((reader.dimensions(), reader.has_alpha(), reader.is_lossy()), ((3, 2), true, false));
        let mut samples = vec![0; 24];
        reader.read_image(&mut samples).expect("samples");
        assert_eq!(samples, EIGHT);
    }
}

#[test]
fn it_is_read_again_with_its_resolution_or_without() {
    for ppi in [None, Some(Ppi(300.0)), Some(Ppi(1200.0))] {
        assert_eq!(decode::read(&written(&Imprint::of_ppi(ppi))).expect("a scan").sheet.ppi(), ppi);
    }
}

#[test]
fn what_does_not_fit_is_refused_with_a_way_out() {
    let refused = |w, h, bits| WebpWriter::new(w, h, bits, &Imprint::default()).err().expect("no such picture");
    let deep = refused(3, 2, 16);
    assert_eq!(
        (deep.kind(), deep.message()),
        (Kind::Parameter, "A WebP holds 8 bits a channel, not 16. Save it with 8 bits, or as PNG or TIFF.")
    );
    let wide = refused(16_384, 1, 8);
    assert_eq!(wide.kind(), Kind::Limit);
    assert!(wide.message().contains("16383") && wide.message().contains("PNG or TIFF"), "{wide}");
    assert!(WebpWriter::new(1, 16_383, 8, &Imprint::default()).is_ok());
    let mut writer = WebpWriter::new(3, 2, 8, &Imprint::default()).expect("a picture");
    writer.write_rows(&EIGHT[..20]).expect("a part");
    assert!(writer.finish().expect_err("too little").message().contains("4 bytes are missing"));
}
