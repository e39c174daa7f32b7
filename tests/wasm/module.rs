//! The module as the page has it: in a worker of a real browser, driven through the face that JavaScript sees.
#![cfg(target_arch = "wasm32")]

use barewash::wasm::{Session, check_saving, default_recipe, version};
use js_sys::Reflect;
use wasm_bindgen::JsValue;
use wasm_bindgen_test::{wasm_bindgen_test, wasm_bindgen_test_configure};

wasm_bindgen_test_configure!(run_in_dedicated_worker);

const WIDTH: u32 = 240;
const HEIGHT: u32 = 180;

/// A scan as PNG: warm paper with a light tooth, and a round blue wash in the middle.
fn scan() -> Vec<u8> {
    let mut pixels = Vec::new();
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            let tooth = ((x * 7919 + y * 104_729) % 5) as u8;
            let (dx, dy) = (x as i32 - 120, y as i32 - 90);
            let painted = dx * dx + dy * dy < 50 * 50;
            pixels.extend(if painted { [70 + tooth, 110 + tooth, 170 + tooth] } else { [240 + tooth, 236 + tooth, 226 + tooth] });
        }
    }
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, WIDTH, HEIGHT);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: 11811, yppu: 11811, unit: png::Unit::Meter }));
    let mut writer = encoder.write_header().expect("a header");
    writer.write_image_data(&pixels).expect("pixels");
    writer.finish().expect("an end");
    file
}

/// A session on that scan.
fn session() -> Session {
    Session::new(&scan(), None).expect("the scan is sound")
}

/// A session with its lift done.
fn lifted() -> Session {
    let mut session = session();
    while session.step().expect("a step") < 1.0 {}
    session
}

/// Decodes a PNG by the codec itself: size, depth, samples.
fn pixels_of(file: &[u8]) -> (u32, u32, png::BitDepth, Vec<u8>) {
    let mut reader = png::Decoder::new(std::io::Cursor::new(file)).read_info().expect("a PNG");
    let mut samples = vec![0; reader.output_buffer_size().expect("a size")];
    let info = reader.next_frame(&mut samples).expect("pixels");
    assert_eq!(info.color_type, png::ColorType::Rgba);
    (info.width, info.height, info.bit_depth, samples)
}

/// The field of an answer in JSON.
fn field(json: &str, name: &str) -> serde_json::Value {
    let value: serde_json::Value = serde_json::from_str(json).expect("JSON");
    value.get(name).unwrap_or_else(|| panic!("{name} is missing in {json}")).clone()
}

/// An error as JavaScript catches it: its code and its sentence.
fn caught(error: impl Into<JsValue>) -> (String, String) {
    let error = error.into();
    let read = |name: &str| Reflect::get(&error, &name.into()).ok().and_then(|v| v.as_string()).unwrap_or_default();
    (read("code"), read("message"))
}

#[wasm_bindgen_test]
fn says_what_the_file_says() {
    let about = session().about();
    assert_eq!(field(&about, "width"), WIDTH);
    assert_eq!(field(&about, "height"), HEIGHT);
    assert_eq!(field(&about, "bits"), 8);
    assert_eq!(field(&about, "ppi").as_f64().map(f64::round), Some(300.0));
}

#[wasm_bindgen_test]
fn lifts_the_wash_off_the_paper() {
    let mut session = lifted();
    assert!(session.finished());
    let (width, height, depth, samples) = pixels_of(&session.save(None).expect("a PNG"));
    assert_eq!((width, height, depth), (WIDTH, HEIGHT, png::BitDepth::Eight));
    let alpha = |x: u32, y: u32| samples[((y * WIDTH + x) * 4 + 3) as usize];
    assert_eq!(alpha(120, 90), 255, "the middle of the wash is solid");
    assert_eq!(alpha(20, 20), 0, "the bare paper is gone");
}

#[wasm_bindgen_test]
fn knows_the_paper() {
    let paper = lifted().paper();
    let color: Vec<i64> = serde_json::from_value(field(&paper, "color")).expect("three numbers");
    for (found, painted) in color.iter().zip([242, 238, 228]) {
        assert!((found - painted).abs() <= 2, "{paper}");
    }
    assert!(field(&paper, "unevenness_percent").as_f64().is_some_and(|v| v < 2.0), "{paper}");
}

#[wasm_bindgen_test]
fn saves_sixteen_bits() {
    let (width, height, depth, samples) = pixels_of(&lifted().save(Some(r#"{"bits":16}"#.to_owned())).expect("a PNG"));
    assert_eq!((width, height, depth), (WIDTH, HEIGHT, png::BitDepth::Sixteen));
    assert_eq!(samples.len(), (WIDTH * HEIGHT * 8) as usize);
}

#[wasm_bindgen_test]
fn lifts_the_same_bytes_twice() {
    assert_eq!(lifted().save(None).expect("a PNG"), lifted().save(None).expect("a PNG"));
}

#[wasm_bindgen_test]
fn refuses_a_damaged_file() {
    let (code, message) = caught(Session::new(b"II*\0 and then nothing", None).err().expect("no scan"));
    assert_eq!(code, "malformed");
    assert!(message.ends_with('.'), "a whole sentence: {message}");
}

#[wasm_bindgen_test]
fn names_the_unknown_key() {
    let (code, message) = caught(session().set_recipe(r#"{"barewash":1,"tolerence":50}"#).expect_err("no such key"));
    assert_eq!(code, "parameter");
    assert!(message.contains("tolerence"), "{message}");
}

#[wasm_bindgen_test]
fn a_new_recipe_makes_the_lift_stale_and_saving_does_it_anew() {
    let mut session = lifted();
    let solid = session.save(None).expect("a PNG");
    session.set_recipe(r#"{"barewash":1,"body":0,"tolerance":60}"#).expect("a sound recipe");
    assert!(!session.finished());
    let sheer = session.save(None).expect("a PNG");
    assert!(session.finished());
    assert_ne!(solid, sheer);
}

#[wasm_bindgen_test]
fn saves_other_formats_and_refuses_what_they_have_not() {
    let mut session = lifted();
    let mut saved = |choices: &str| session.save(Some(choices.to_owned()));
    let tiff = saved(r#"{"format":"tiff","bits":16,"title":"Tide pool","profile":true}"#).expect("a TIFF");
    assert!(tiff.starts_with(b"II*\0") && tiff.windows(9).any(|w| w == b"Tide pool"));
    let webp = saved(r#"{"format":"webp"}"#).expect("a WebP");
    assert_eq!((&webp[..4], &webp[8..12]), (&b"RIFF"[..], &b"WEBP"[..]));
    for (choices, named) in
        [(r#"{"bits":12}"#, "\"bits\""), (r#"{"fromat":"png"}"#, "\"fromat\""), (r#"{"format":"webp","bits":16}"#, "8 bits")]
    {
        for thrown in [saved(choices).expect_err("no such choice"), check_saving(choices).expect_err("no such choice")] {
            let (code, message) = caught(thrown);
            assert_eq!(code, "parameter");
            assert!(message.contains(named), "{message}");
        }
    }
    assert!(check_saving(r#"{"format":"tiff","bits":16}"#).is_ok());
}

#[wasm_bindgen_test]
fn draws_opaque_pixels_on_the_sheet_and_none_outside() {
    let mut session = session();
    session.preview().expect("a preview");
    let view = session.draw(-10.0, 0.0, 1.0, 40, 30, "#000000").expect("a view").to_vec();
    assert_eq!(view.len(), 40 * 30 * 4);
    assert_eq!(view[3], 0, "outside the sheet");
    assert_eq!(view[(15 * 40 + 30) * 4 + 3], 255, "on the sheet");
}

#[wasm_bindgen_test]
fn the_default_recipe_is_the_one_a_session_starts_with() {
    let start: serde_json::Value = serde_json::from_str(&session().recipe()).expect("JSON");
    let default: serde_json::Value = serde_json::from_str(&default_recipe()).expect("JSON");
    assert_eq!(start, default);
}

#[wasm_bindgen_test]
fn the_version_is_the_packages() {
    assert_eq!(version(), env!("CARGO_PKG_VERSION"));
}
