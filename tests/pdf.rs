//! Reading PDFs: samples against the pictures that independent writers put in (`tests/reference/pdfs.py`), how pages lie, what takes
//! too much memory, and damage.

use std::io::Write;
use std::path::Path;

use barewash::color::profile;
use barewash::decode::{Scan, read, read_page};
use barewash::error::Kind;
use barewash::image::Samples;
use barewash_support::random::Random;

fn file(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/formats").join(name);
    std::fs::read(&path).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn opened(name: &str) -> Scan {
    read(&file(name)).unwrap_or_else(|why| panic!("{name}: {why}"))
}

fn eight(scan: &Scan) -> Vec<u8> {
    match scan.sheet.samples() {
        Samples::Eight(v) => v,
        Samples::Sixteen(_) => panic!("8 bits"),
    }
}

/// The largest difference of two pictures in counts, and the mean.
fn apart(one: &[u8], two: &[u8]) -> (u8, f64) {
    assert_eq!(one.len(), two.len());
    let apart = || one.iter().zip(two).map(|(a, b)| a.abs_diff(*b));
    (apart().max().unwrap_or(0), apart().map(f64::from).sum::<f64>() / one.len() as f64)
}

/// Whatever the way that a picture is packed and its colors are told, it comes out to the sample.
#[test]
fn pictures_come_out_as_they_were_put_in() {
    for (picture, pdfs) in [
        (
            "png/tide-pool.png",
            &[
                "img2pdf-png",
                "reportlab",
                "reportlab-searched",
                "reportlab-hidden-words",
                "tiff-differences",
                "runs",
                "base85",
                "lzw",
                "strips",
                "group",
                "scaled-twice",
                "slanted",
                "unit",
                "object-streams",
                "open-lock",
                "open-lock-128",
                "img2pdf-jpx",
                "jpx-stream",
                "jpx-alpha",
            ][..],
        ),
        ("png/tide-pool-gray.png", &["img2pdf-gray", "inverted", "jpx-gray"]),
        ("png/tide-pool-gray-16.png", &["jpx-gray-16"]),
        ("png/tide-pool-bits.png", &["img2pdf-fax", "pillow-fax", "stencil"]),
        ("png/tide-pool-palette.png", &["img2pdf-palette", "pillow-palette", "palette-4-bits", "jpx-palette"]),
        ("png/tide-pool-16.png", &["img2pdf-16-bits", "tiff-differences-16"]),
        ("png/tide-pool-alpha.png", &["reportlab-alpha"]),
        ("jpeg/tide-pool.jpg", &["img2pdf-jpeg", "jpeg-in-hex"]),
        ("jpeg/tide-pool-inks.jpg", &["img2pdf-inks"]),
    ] {
        let expected = opened(picture).sheet.samples();
        for pdf in pdfs {
            assert_eq!(opened(&format!("pdf/{pdf}.pdf")).sheet.samples(), expected, "{pdf}");
        }
    }
    let gray = eight(&opened("png/tide-pool-gray.png"));
    let four: Vec<u8> = gray.iter().map(|v| (v >> 6) * 85).collect();
    assert_eq!(eight(&opened("pdf/gray-2-bits.pdf")), four);
}

/// JPEG 2000 with loss, in tiles, beside what OpenJPEG itself makes of it: rounding apart, which ISO/IEC 15444-4 leaves free.
#[test]
fn jpeg_2000_with_loss() {
    let (most, mean) = apart(&eight(&opened("pdf/jpx-lossy.pdf")), &eight(&opened("png/tide-pool-jpx.png")));
    assert!(most <= 1 && mean < 0.05, "{most} {mean}");
}

/// JPEG 2000 that is not read, or cannot be.
#[test]
fn jpeg_2000_that_is_refused() {
    for (name, kind, words) in [
        ("jpx-alpha-seen", Kind::Unsupported, "see-through picture as JPEG 2000"),
        ("jpx-other-colors", Kind::Malformed, "other channels than the PDF says"),
        ("jpx-broken", Kind::Malformed, "its JPEG 2000:"),
    ] {
        let why = read(&file(&format!("pdf/{name}.pdf"))).expect_err(name);
        assert!(why.kind() == kind && why.message().contains(words), "{name}: {why}");
    }
}

/// JPEG 2000 that states more tiles, or pixels, than its bytes can hold: refused before the memory for them is taken.
#[test]
fn jpeg_2000_that_cannot_hold_what_it_states() {
    let sound = file("pdf/jpx-lossy.pdf");
    let size = sound.windows(4).position(|four| four == [0xFF, 0x4F, 0xFF, 0x51]).expect("a code stream");
    // A row of 8194 tiles, of 32 pixels each; and 100 megapixels in one.
    for changes in [&[(8, 262_205_u32)][..], &[(8, 10_000), (12, 10_000), (24, 1 << 24), (28, 1 << 24)]] {
        let mut bytes = sound.clone();
        changes.iter().for_each(|(at, number)| bytes[size + at..][..4].copy_from_slice(&number.to_be_bytes()));
        let why = read(&bytes).expect_err("no such picture");
        assert!(why.message().contains("cut off"), "{why}");
    }
}

/// Colors by a profile, by powers and primaries, and as L*a*b* in 8 bits, which rounds.
#[test]
fn colors_are_converted() {
    let plain = eight(&opened("png/tide-pool.png"));
    let mut samples = Samples::Eight(plain.clone());
    let icc = std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/profiles/DisplayP3-v2-magic.icc"))
        .expect("a profile");
    let name = profile::convert(&icc, false, &mut samples, &mut Vec::new());
    let by_profile = opened("pdf/profile.pdf");
    assert_eq!((by_profile.sheet.samples(), &by_profile.profile), (samples.clone(), &name));
    assert_ne!(samples, Samples::Eight(plain.clone()));
    assert_eq!(opened("pdf/default-rgb.pdf").sheet.samples(), samples);
    // A power of 2.2 stands for sRGB, whose primaries these are.
    assert!(apart(&eight(&opened("pdf/calibrated.pdf")), &plain).0 <= 1);
    let (most, mean) = apart(&eight(&opened("pdf/lab.pdf")), &plain);
    assert!(most <= 12 && mean < 1.0, "{most} {mean}");
}

/// Pages that are shown turned, and pictures laid on them turned: the upright picture is the other turned, pixel by pixel.
#[test]
fn turned_pages_come_out_upright() {
    let flat = opened("png/tide-pool.png");
    let (wide, high) = (flat.sheet.width(), flat.sheet.height());
    let flat = eight(&flat);
    let at = |x: usize, y: usize| &flat[(y * wide + x) * 3..][..3];
    // Clockwise: the left column, from its lowest pixel on, is the first row.
    let clockwise: Vec<u8> = (0..wide).flat_map(|y| (0..high).flat_map(move |x| at(y, high - 1 - x)).copied()).collect();
    let counterclockwise: Vec<u8> = (0..wide).flat_map(|y| (0..high).flat_map(move |x| at(wide - 1 - y, x)).copied()).collect();
    for (name, expected) in
        [("rotated", &clockwise), ("lost-table", &clockwise), ("late-head", &clockwise), ("turned", &counterclockwise)]
    {
        let scan = opened(&format!("pdf/{name}.pdf"));
        assert_eq!((scan.sheet.width(), scan.sheet.height()), (high, wide), "{name}");
        assert!(eight(&scan) == *expected, "{name}");
    }
}

/// A file of several pages: the largest by itself, any by its number.
#[test]
fn pages() {
    let bytes = file("pdf/pillow-pages.pdf");
    let sizes = [(20, 15), (61, 47), (20, 15)];
    for (page, size) in sizes.into_iter().enumerate() {
        let scan = read_page(&bytes, Some(page)).expect("a page");
        assert_eq!((scan.sheet.width(), scan.sheet.height(), scan.pages, scan.page), (size.0, size.1, 3, page));
        assert!(scan.warnings.is_empty(), "{:?}", scan.warnings);
    }
    let scan = read(&bytes).expect("a page");
    assert_eq!((scan.sheet.width(), scan.page), (61, 1));
    assert_eq!(scan.warnings[0].code, "several-pages");
    let why = read_page(&bytes, Some(3)).expect_err("no such page");
    assert_eq!((why.kind(), why.message()), (Kind::Parameter, "There is no page 4 in this PDF: it holds 3 pages."));
}

/// A PDF of these objects, the first being the catalog: ISO 32000-1, 7.5.
fn pdf(objects: &[Vec<u8>]) -> Vec<u8> {
    let mut out = b"%PDF-1.7\n".to_vec();
    let mut places = Vec::new();
    for (number, object) in objects.iter().enumerate() {
        places.push(out.len());
        out.extend([format!("{} 0 obj\n", number + 1).as_bytes(), object, b"\nendobj\n"].concat());
    }
    let table = out.len();
    out.extend(format!("xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1).bytes());
    places.iter().for_each(|place| out.extend(format!("{place:010} 00000 n \n").bytes()));
    let size = objects.len() + 1;
    out.extend(format!("trailer\n<</Size {size} /Root 1 0 R>>\nstartxref\n{table}\n%%EOF\n").bytes());
    out
}

fn stream(dictionary: &str, bytes: &[u8]) -> Vec<u8> {
    [format!("<<{dictionary} /Length {}>>\nstream\n", bytes.len()).as_bytes(), bytes, b"\nendstream"].concat()
}

fn deflated(bytes: impl Iterator<Item = u8>) -> Vec<u8> {
    let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::best());
    let mut part = Vec::new();
    for byte in bytes {
        part.push(byte);
        if part.len() == 1 << 16 {
            encoder.write_all(&part).expect("memory");
            part.clear();
        }
    }
    encoder.write_all(&part).expect("memory");
    encoder.finish().expect("memory")
}

/// One page of one inch with this drawing, on which `/P` is object 5.
fn page(content: Vec<u8>, picture: Vec<u8>) -> Vec<u8> {
    let text = |text: &str| text.as_bytes().to_vec();
    pdf(&[
        text("<</Type /Catalog /Pages 2 0 R>>"),
        text("<</Type /Pages /Kids [3 0 R] /Count 1>>"),
        text("<</Type /Page /Parent 2 0 R /MediaBox [0 0 72 72] /Contents 4 0 R /Resources <</XObject <</P 5 0 R>>>>>>"),
        content,
        picture,
    ])
}

const DRAW: &[u8] = b"72 0 0 72 0 0 cm /P Do";

fn gray_of(side: u32, dictionary: &str, bytes: &[u8]) -> Vec<u8> {
    let head = format!("/Subtype /Image /Width {side} /Height {side} /ColorSpace /DeviceGray /BitsPerComponent 8 {dictionary}");
    stream(&head, bytes)
}

/// The example that everything else here is a change of: four gray pixels on an inch.
#[test]
fn a_page_by_hand() {
    let scan = read(&page(stream("", DRAW), gray_of(2, "", &[0, 80, 160, 255]))).expect("a page");
    assert_eq!(eight(&scan), [0, 0, 0, 80, 80, 80, 160, 160, 160, 255, 255, 255]);
    assert_eq!(scan.sheet.ppi(), None, "two pixels an inch are no scan");
}

/// What unpacks to far more than its size: refused, or never unpacked.
#[test]
fn little_that_unpacks_to_much() {
    let much = || deflated(std::iter::repeat_n(b' ', 80 << 20));
    let refused = |bytes: &[u8], what: &str| {
        let why = read(bytes).expect_err(what);
        assert_eq!(why.kind(), Kind::Limit, "{what}: {why}");
        assert!(why.message().contains("unpacks to more than 64 MB"), "{what}: {why}");
    };
    let four = gray_of(2, "", &[0, 80, 160, 255]);
    refused(&page(stream("/Filter /FlateDecode", &much()), four.clone()), "a page's drawing");
    refused(&page(stream("/Filter /Fl", &much()), four.clone()), "a page's drawing by the short name");
    let twice = deflated(much().into_iter());
    refused(&page(stream("/Filter [/FlateDecode /FlateDecode]", &twice), four.clone()), "a page's drawing, packed twice");
    // Objects within a stream, which the library unpacks whenever one is wanted.
    let objects = stream("/Type /ObjStm /N 1 /First 4 /Filter /FlateDecode", &much());
    refused(&page(stream("", DRAW), objects), "a table of objects");
    // Of a picture only the rows are unpacked that it has.
    let picture = gray_of(2, "/Filter /FlateDecode", &much());
    assert_eq!(eight(&read(&page(stream("", DRAW), picture)).expect("a page")), [b' '; 12]);
    let picture = gray_of(2, "/Filter [/FlateDecode /RunLengthDecode]", &much());
    assert_eq!(read(&page(stream("", DRAW), picture)).expect_err("too much").kind(), Kind::Limit);
}

/// What has no end.
#[test]
fn pages_that_contain_themselves() {
    let text = |text: &str| text.as_bytes().to_vec();
    let group = |inner: usize| stream(&format!("/Subtype /Form /Resources <</XObject <</P {inner} 0 R>>>>"), b"/P Do /P Do");
    assert_eq!(
        read(&page(stream("", b"/P Do"), group(5))).expect_err("no end").kind(),
        Kind::Unsupported,
        "the library sees to it"
    );
    // A group in a group, twenty deep, would be drawn a million times.
    let mut deep = vec![
        text("<</Type /Catalog /Pages 2 0 R>>"),
        text("<</Type /Pages /Kids [3 0 R] /Count 1>>"),
        text("<</Type /Page /Parent 2 0 R /MediaBox [0 0 72 72] /Contents 4 0 R /Resources <</XObject <</P 5 0 R>>>>>>"),
        stream("", b"/P Do"),
    ];
    deep.extend((6..26).map(group));
    assert_eq!(read(&pdf(&deep)).expect_err("too deep").kind(), Kind::Malformed);
    let colors = stream("/Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace 6 0 R", b"x");
    let bytes = pdf(&[
        text("<</Type /Catalog /Pages 2 0 R>>"),
        text("<</Type /Pages /Kids [3 0 R 2 0 R] /Count 1>>"),
        text("<</Type /Page /Parent 2 0 R /MediaBox [0 0 72 72] /Contents 4 0 R /Resources <</XObject <</P 5 0 R>>>>>>"),
        stream("", DRAW),
        colors,
        text("[/Indexed 6 0 R 1 (ab)]"),
    ]);
    assert_eq!(read(&bytes).expect_err("no end").kind(), Kind::Malformed);
    let deep = [&b"[".repeat(200_000)[..], b"q ".repeat(200_000).as_slice(), DRAW].concat();
    let _ = read(&page(stream("", &deep), gray_of(2, "", &[0; 4])));
    let many = [b"q ".repeat(200_000).as_slice(), DRAW].concat();
    assert!(read(&page(stream("", &many), gray_of(2, "", &[0; 4]))).is_ok());
}

/// Sizes at which a number of 32 bits would wrap around.
#[test]
fn sizes_that_cannot_be() {
    for (width, height, bits) in [(65_536, 65_536, 8), (u32::MAX, 1, 8), (1, u32::MAX, 16), (0, 5, 8), (5, 5, 3), (5, 5, 32)] {
        let head = format!("/Subtype /Image /Width {width} /Height {height} /ColorSpace /DeviceRGB /BitsPerComponent {bits}");
        let why = read(&page(stream("", DRAW), stream(&head, b"xxxx"))).expect_err("no such size");
        assert!(matches!(why.kind(), Kind::Limit | Kind::Malformed), "{width} {height} {bits}: {why}");
    }
    for parameters in ["/Columns 4294967295 /Colors 4294967295", "/Columns 0", "/BitsPerComponent 7", "/Columns 2000000000"] {
        let picture = gray_of(
            2,
            &format!("/Filter /FlateDecode /DecodeParms <</Predictor 12 {parameters}>>"),
            &deflated([0; 9].into_iter()),
        );
        assert_eq!(read(&page(stream("", DRAW), picture)).expect_err("no such rows").kind(), Kind::Malformed, "{parameters}");
    }
}

/// What hides what, and what a page may hold besides its picture.
#[test]
fn only_the_picture_counts() {
    let four = || gray_of(2, "", &[0, 80, 160, 255]);
    let of =
        |content: &str| read(&page(stream("", content.as_bytes()), four())).map(|_| ()).map_err(|why| why.message().to_owned());
    let draw = "q 72 0 0 72 0 0 cm /P Do Q";
    for sound in [
        format!("0 0 30 30 re W n {draw}"),
        format!("1 0 0 rg 0 0 72 72 re f {draw}"),
        format!("{draw} 1 g 0 0 10 10 re f"),
        format!("{draw} BT 3 Tr (word) Tj ET"),
        format!("{draw} {draw}"),
        format!("/Artifact BMC {draw} EMC"),
    ] {
        assert_eq!(of(&sound), Ok(()), "{sound}");
    }
    for (wrong, words) in [
        (format!("{draw} 1 0 0 rg 0 0 10 10 re f"), "words or drawing besides its picture"),
        (format!("{draw} BT 3 Tr (word) Tj 0 Tr (word) Tj ET"), "words or drawing besides its picture"),
        (format!("{draw} q 9 0 0 9 0 0 cm /P Do Q"), "several pictures"),
        ("0 0 9 9 re f".to_owned(), "and no picture"),
        (String::new(), "the page is empty"),
        ("/Q Do".to_owned(), "the page is empty"),
        (format!("{draw} BI /W 1 /H 1 /BPC 8 /CS /G ID x EI"), "in a way that is not read"),
    ] {
        let why = of(&wrong).expect_err(&wrong);
        assert!(why.contains(words), "{wrong}: {why}");
    }
}

/// A stated meaning of the samples (8.9.5.2): halfway for the most, and the numbers of a palette the other way round.
#[test]
fn samples_mean_what_is_stated() {
    let half = read(&page(stream("", DRAW), gray_of(2, "/Decode [0 0.5]", &[0, 100, 200, 255]))).expect("a page");
    assert_eq!(eight(&half), [0, 0, 0, 50, 50, 50, 100, 100, 100, 128, 128, 128]);
    let palette =
        "/Subtype /Image /Width 4 /Height 1 /BitsPerComponent 2 /ColorSpace [/Indexed /DeviceGray 2 <00 50 FF>] /Decode [3 0]";
    let turned = read(&page(stream("", DRAW), stream(palette, &[0b00_01_10_11]))).expect("a page");
    // Numbers 3, 2, 1 and 0, of which the first is beyond the end.
    assert_eq!(eight(&turned), [255, 255, 255, 255, 255, 255, 0x50, 0x50, 0x50, 0, 0, 0]);
}

/// A stencil as mask is 1 where the picture is not there (8.9.6.3), and may be larger than it.
#[test]
fn masks() {
    let text = |text: &str| text.as_bytes().to_vec();
    let bytes = pdf(&[
        text("<</Type /Catalog /Pages 2 0 R>>"),
        text("<</Type /Pages /Kids [3 0 R] /Count 1>>"),
        text("<</Type /Page /Parent 2 0 R /MediaBox [0 0 72 72] /Contents 4 0 R /Resources <</XObject <</P 5 0 R>>>>>>"),
        stream("", DRAW),
        gray_of(2, "/Mask 6 0 R", &[10, 20, 30, 40]),
        stream("/Subtype /Image /ImageMask true /Width 4 /Height 2", &[0b0011_0000, 0b1100_0000]),
    ]);
    let scan = read(&bytes).expect("a page");
    assert_eq!(eight(&scan), [10, 10, 10, 255, 255, 255, 255, 255, 255, 40, 40, 40]);
    assert!(scan.warnings.iter().any(|w| w.code == "transparency"));
}

/// However a PDF is damaged, it opens or is refused with a sentence.
#[test]
fn damage() {
    let mut random = Random::new(0x0BA2_EA54_0BDF);
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/formats/pdf");
    let mut names: Vec<_> = std::fs::read_dir(folder).expect("the folder").map(|e| e.expect("an entry").path()).collect();
    names.sort();
    let mut refused = 0;
    for name in &names {
        let whole = std::fs::read(name).expect("a file");
        // Half of the damage goes where the objects are described.
        let words: Vec<usize> = (0..whole.len()).filter(|i| b"0123456789/<>[] RCFILWD".contains(&whole[*i])).collect();
        for turn in 0..300 {
            let mut bytes = whole.clone();
            for _ in 0..=random.below(4) {
                if bytes.len() < 2 {
                    break;
                }
                let at =
                    if turn % 2 == 0 { random.below(bytes.len()) } else { words[random.below(words.len())].min(bytes.len() - 1) };
                match random.below(4) {
                    0 => bytes[at] ^= 1 << random.below(8),
                    1 => bytes[at] = b"0123456789-/<>[]() \n"[random.below(20)],
                    2 => drop(bytes.drain(at..(at + 1 + random.below(8)).min(whole.len()).min(bytes.len()))),
                    _ => bytes.truncate(at.max(1)),
                }
            }
            if let Err(why) = read(&bytes) {
                refused += 1;
                assert!(matches!(why.kind(), Kind::Malformed | Kind::Unsupported | Kind::Limit), "{}: {why:?}", name.display());
                assert!(why.message().len() > 20, "{}: {why:?}", name.display());
            }
        }
    }
    assert!(refused > names.len() * 100, "only {refused} damaged files were noticed");
}
