//! A session saves in any format the same pixels, and says the same beside them.

use barewash::encode::Format;
use barewash::encode::png::png;
use barewash::error::Kind;
use barewash::image::{Art, Pixels};
use barewash::pipeline::{Recipe, Saving, Session};
use barewash::units::Ppi;

fn session() -> Session {
    let (width, height) = (120, 90);
    let pixel = |i: usize| {
        let (x, y) = (i % width, i / width);
        let tooth = ((x * 7919 + y * 104_729) % 5) as u8;
        let painted = x.abs_diff(60).pow(2) + y.abs_diff(45).pow(2) < 25 * 25;
        let [r, g, b] = if painted { [70, 110, 170] } else { [240, 236, 226] };
        [r + tooth, g + tooth, b + tooth, 255]
    };
    let pixels = Pixels::Eight((0..width * height).flat_map(pixel).collect());
    Session::open(&png(&Art { width, height, ppi: Some(Ppi(300.0)), pixels }, 8).expect("a scan")).expect("a scan")
}

fn png_samples(file: &[u8]) -> Vec<u8> {
    let mut reader = png::Decoder::new(std::io::Cursor::new(file)).read_info().expect("a PNG");
    let mut samples = vec![0; reader.output_buffer_size().expect("a size")];
    reader.next_frame(&mut samples).expect("pixels");
    samples
}

fn webp_samples(file: &[u8]) -> Vec<u8> {
    let mut reader = image_webp::WebPDecoder::new(std::io::Cursor::new(file)).expect("a WebP");
    let mut samples = vec![0; reader.output_buffer_size().expect("a size")];
    reader.read_image(&mut samples).expect("pixels");
    samples
}

#[test]
fn a_webp_has_the_pixels_of_the_png() {
    let mut session = session();
    let save = |session: &mut Session, format| session.save(&Saving { format, ..Saving::default() }).expect("a file");
    let png = save(&mut session, Format::Png);
    assert_eq!(webp_samples(&save(&mut session, Format::Webp)), png_samples(&png));
    assert!(save(&mut session, Format::Tiff).starts_with(b"II*\0"));
}

#[test]
fn texts_go_into_every_format_and_change_no_pixel() {
    let mut session = session();
    let plain = session.save(&Saving::default()).expect("a file");
    for format in [Format::Png, Format::Tiff, Format::Webp] {
        let title = Some("Tide pool".to_owned());
        let file = session.save(&Saving { format, title, ..Saving::default() }).expect("a file");
        assert!(file.windows(9).any(|w| w == b"Tide pool"), "{format:?}");
        if format == Format::Png {
            assert_eq!(png_samples(&file), png_samples(&plain));
        }
    }
}

/// A WebP has 16383 pixels along a side; trimmed, the same sheet fits.
#[test]
fn what_is_too_long_for_a_webp_is_refused_before_the_lift_with_a_way_out() {
    let (width, height) = (16_384, 40);
    let pixels = Pixels::Eight([240, 236, 226, 255].repeat(width * height));
    let scan = png(&Art { width, height, ppi: Some(Ppi(300.0)), pixels }, 8).expect("a scan");
    let mut session = Session::open(&scan).expect("a scan");
    let saving = Saving { format: Format::Webp, ..Saving::default() };
    let why = session.save(&saving).expect_err("no such file");
    assert_eq!(why.kind(), Kind::Limit);
    assert!(why.message().contains("16384 x 40") && why.message().contains("trim the sheet"), "{why}");
    assert!(!session.finished());
    session.set_recipe(Recipe { trim: Some([0, 0, 16_383, 40]), ..Recipe::default() }).expect("a sound recipe");
    assert!(session.save(&saving).expect("a file").starts_with(b"RIFF"));
}

/// What can be refused is refused before the lift.
#[test]
fn what_cannot_be_saved_is_refused_at_once() {
    let mut session = session();
    for saving in [
        Saving { format: Format::Webp, bits: 16, ..Saving::default() },
        Saving { bits: 12, ..Saving::default() },
        Saving { artist: Some("two\nlines".to_owned()), ..Saving::default() },
    ] {
        assert_eq!(session.save(&saving).expect_err("no such file").kind(), Kind::Parameter);
        assert!(!session.finished());
    }
}
