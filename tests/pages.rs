//! Files of several pages, and what the painter says of a scan: both are kept in the recipe, so that a scan and a recipe give the art.

use std::path::Path;

use barewash::decode::read;
use barewash::error::Kind;
use barewash::pipeline::{Recipe, Saving, Session};

fn file(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/formats").join(name);
    std::fs::read(&path).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn recipe(text: &str) -> Recipe {
    Recipe::from_json(text).unwrap_or_else(|why| panic!("{text}: {why}"))
}

fn codes(session: &Session) -> Vec<String> {
    let about = session.about();
    about["warnings"].as_array().expect("a list").iter().map(|w| w["code"].as_str().expect("a code").to_owned()).collect()
}

#[test]
fn a_recipe_remembers_the_page_that_was_chosen() {
    let bytes = file("pdf/pillow-pages.pdf");
    let largest = Session::open(&bytes).expect("a page");
    assert_eq!(largest.recipe(), &Recipe::default(), "nothing was chosen");
    assert_eq!((largest.about()["pages"].as_u64(), largest.about()["page"].as_u64()), (Some(3), Some(1)));

    let mut third = Session::open_page(&bytes, Some(2)).expect("a page");
    assert_eq!(third.recipe().scan.page, Some(3));
    third.set_recipe(recipe(r#"{ "barewash": 1, "body": 20 }"#)).expect("a recipe that names no page");
    assert_eq!((third.recipe().scan.page, third.recipe().body), (Some(3), 20.0));
    let why = third.set_recipe(recipe(r#"{ "barewash": 1, "scan": { "page": 2 } }"#)).expect_err("another page");
    assert_eq!(why.kind(), Kind::Parameter);
    assert_eq!(why.message(), "The recipe is for page 2 of the scan, and page 3 is open. Open page 2 first.");
    assert_eq!((third.report()["page"].as_u64(), third.report()["pages"].as_u64()), (Some(3), Some(3)));

    // Page and recipe together give what the page by itself does.
    let kept = third.recipe().to_json().to_string();
    let mut again = Session::open_page(&bytes, Some(2)).expect("a page");
    again.set_recipe(recipe(&kept)).expect("its recipe");
    assert_eq!(again.save(&Saving::default()).expect("art"), third.save(&Saving::default()).expect("art"));
}

#[test]
fn a_recipe_remembers_the_resolution_that_was_stated() {
    let bytes = file("png/tide-pool.png");
    let mut session = Session::open(&bytes).expect("a scan");
    assert_eq!((session.about()["ppi"].as_f64(), codes(&session)), (None, vec!["no-ppi".to_owned()]));
    session.set_ppi(254.0).expect("a resolution");
    assert_eq!((session.recipe().scan.ppi, session.about()["ppi"].as_f64()), (Some(254.0), Some(254.0)));
    assert!(codes(&session).is_empty(), "what is stated is not asked for");
    // 61 and 47 pixels at ten a millimeter.
    assert_eq!(session.report()["size_mm"].to_string(), "[6.1,4.7]");
    let art = session.save(&Saving::default()).expect("art");

    let kept = session.recipe().to_json().to_string();
    let mut again = Session::open(&bytes).expect("a scan");
    again.lift_preview().expect("a copy");
    again.set_recipe(recipe(&kept)).expect("its recipe");
    assert_eq!(again.save(&Saving::default()).expect("art"), art);

    // Taken back, what the file says holds again.
    again.set_recipe(Recipe::default()).expect("the default");
    assert_eq!((again.about()["ppi"].as_f64(), codes(&again)), (None, vec!["no-ppi".to_owned()]));
    assert_ne!(again.save(&Saving::default()).expect("art"), art, "the resolution is in the file");
    assert_eq!(again.set_ppi(9.0).expect_err("too few").kind(), Kind::Parameter);
    assert_eq!(again.recipe(), &Recipe::default());
}

/// Smaller copies of a picture, which programs put beside it, are no pages.
#[test]
fn thumbnails_are_no_pages() {
    let scan = read(&file("tiff/c_tif-rgb-3res-64x56x16-tiled-uncompressed.tif")).expect("a scan");
    assert_eq!((scan.pages, scan.page, scan.sheet.width()), (1, 0, 64));
    assert!(scan.warnings.iter().all(|w| w.code != "several-pages"), "{:?}", scan.warnings);
}
