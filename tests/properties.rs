//! What holds for every sheet and every recipe.

mod lifting;

use std::rc::Rc;

use barewash::image::{Samples, Sheet};
use barewash::pipeline::{Ground, Lift, Recipe, Saving, Session, View, islands, report};
use barewash::units::Ppi;
use barewash_support::files::sheet_png;
use barewash_support::random::Random;
use barewash_support::scenes::truth::truth_scene;

use lifting::{any_recipe, area, bytes, edit, lifted};

const SMALL: [usize; 2] = [300, 375];

/// How the pixels of a made-up sheet are filled.
#[derive(Clone, Copy, Debug)]
enum Fill {
    Constant,
    White,
    Black,
    Noise,
    /// Pale paper with a dark block, some speckles and a hard border.
    Blocks,
    /// Two colors, pixel by pixel.
    Checker,
    Ramp,
}

const FILLS: [Fill; 7] = [Fill::Constant, Fill::White, Fill::Black, Fill::Noise, Fill::Blocks, Fill::Checker, Fill::Ramp];

fn made_up(random: &mut Random, [width, height]: [usize; 2], fill: Fill, bits: u8) -> Sheet {
    let color = [0; 3].map(|_| random.below(256) as u32);
    let value = |random: &mut Random, x: usize, y: usize, c: usize| -> u32 {
        match fill {
            Fill::Constant => color[c],
            Fill::White => 255,
            Fill::Black => 0,
            Fill::Noise => random.below(256) as u32,
            Fill::Blocks => {
                let inside = x * 4 / width == 1 && y * 4 / height == 2;
                if inside || (x * 7 + y * 13).is_multiple_of(29) { color[c] / 2 } else { 236 + random.below(6) as u32 }
            }
            Fill::Checker => [color[c], 255 - color[c]][(x + y) % 2],
            Fill::Ramp => (255 * x / width) as u32,
        }
    };
    let mut values = Vec::with_capacity(3 * width * height);
    for (x, y) in (0..width * height).map(|i| (i % width, i / width)) {
        (0..3).for_each(|c| values.push(value(random, x, y, c)));
    }
    let samples = if bits == 8 {
        Samples::Eight(values.into_iter().map(|v| v as u8).collect())
    } else {
        Samples::Sixteen(values.into_iter().map(|v| (v * 257) as u16 ^ (random.below(256) as u16)).collect())
    };
    let ppi = [None, Some(Ppi(72.0)), Some(Ppi(300.0)), Some(Ppi(1200.0))][random.below(4)];
    Sheet::new(width, height, samples, ppi)
}

/// Opens a sheet as a file, and does with it whatever the page can do.
fn play(random: &mut Random, sheet: &Sheet, what: &str) {
    let size = [sheet.width(), sheet.height()];
    let mut session = Session::open(&sheet_png(sheet).expect("a PNG")).unwrap_or_else(|e| panic!("{what}: {e}"));
    let mut recipe = any_recipe(random, size);
    if random.chance(0.3) {
        let (x, y) = (random.below(size[0]), random.below(size[1]));
        recipe.trim = Some([x, y, 1 + random.below(size[0] - x), 1 + random.below(size[1] - y)].map(|v| v as u32));
    }
    session.set_recipe(recipe.clone()).unwrap_or_else(|e| panic!("{what}: {e}"));
    let mut shown = Vec::new();
    look(random, &session, size, &mut shown);
    session.lift_preview().expect("memory");
    look(random, &session, size, &mut shown);
    let mut last = 0.0;
    let mut steps = 0;
    while !session.finished() {
        let progress = session.step().expect("memory");
        assert!((last..=1.0).contains(&progress), "{what}: progress from {last} to {progress}");
        assert_eq!(progress == 1.0, session.finished(), "{what}: finished at {progress}");
        last = progress;
        steps += 1;
        assert!(steps < 10_000, "{what}: no end");
        if random.chance(0.1) {
            look(random, &session, size, &mut shown);
        }
    }
    look(random, &session, size, &mut shown);
    let [_, _, width, height] = recipe.trim.unwrap_or([0, 0, size[0] as u32, size[1] as u32]);
    for bits in [8, 16] {
        let file = session.save(&Saving { bits, ..Saving::default() }).unwrap_or_else(|e| panic!("{what}: {e}"));
        let number = |at: usize| u32::from_be_bytes([file[at], file[at + 1], file[at + 2], file[at + 3]]);
        assert_eq!([number(16), number(20)], [width, height], "{what}: size of the PNG");
        assert_eq!([file[24], file[25]], [bits, 6], "{what}: bits, and RGBA");
    }
    assert!(session.save(&Saving { bits: 7, ..Saving::default() }).is_err());
    for island in session.islands().as_array().expect("a list") {
        let index = island["index"].as_u64().expect("a number") as usize;
        assert!(!session.full().island_outline(index).is_empty(), "{what}: island {index} has no outline");
    }
    assert!(session.full().island_outline(1_000_000).is_empty());
    assert!(session.full().island_at(1_000_000, 1_000_000).is_none());
    assert_eq!(
        Recipe::from_json(&session.report()["recipe"].to_string()).as_ref(),
        Ok(&recipe),
        "{what}: the recipe's round trip"
    );
}

/// Draws an odd view: some of it outside, tiny or huge.
fn look(random: &mut Random, session: &Session, [width, height]: [usize; 2], shown: &mut Vec<u8>) {
    let ground = [Ground::Color([0, 0, 0]), Ground::Color([255, 182, 193]), Ground::Paper, Ground::Scan][random.below(4)];
    let scale = [0.01, 0.3, 0.5, 0.501, 1.0, 1.7, 16.0, 500.0][random.below(8)];
    let reach = |random: &mut Random, size: usize| f64::from(random.between(-1.2, 1.2)) * size as f64;
    let view =
        View { x: reach(random, width), y: reach(random, height), scale, width: random.below(40), height: random.below(40) };
    session.draw(&view, ground, shown);
    assert_eq!(shown.len(), view.width * view.height * 4);
    assert!(shown.chunks_exact(4).all(|p| p[3] == 255 || *p == [0; 4]), "opaque on the sheet, nothing beyond: {view:?}");
}

#[test]
fn no_sheet_is_too_small_or_too_odd() {
    let mut random = Random::new(41);
    let mut sizes = vec![[1, 1], [1, 2], [2, 1], [2, 2], [3, 3], [1, 40], [40, 1], [1, 700], [700, 1], [7, 5], [8, 8]];
    // Around the sides of tiles, cells and blocks.
    sizes.extend([[255, 9], [256, 65], [257, 64], [258, 3], [65, 63], [64, 129]]);
    sizes.extend((0..12).map(|_| [1 + random.below(40), 1 + random.below(40)]));
    for size in sizes {
        for fill in FILLS {
            for bits in [8, 16] {
                let sheet = made_up(&mut random, size, fill, bits);
                play(&mut random, &sheet, &format!("{size:?} {fill:?} {bits}"));
            }
        }
    }
}

#[test]
fn any_recipe_on_a_painting() {
    for seed in 0..6 {
        let scene = truth_scene(100 + seed, SMALL);
        let mut random = Random::new(seed);
        for round in 0..4 {
            play(&mut random, &scene.scan, &format!("scene {seed}, round {round}"));
        }
    }
}

#[test]
fn places_far_outside_are_no_trouble() {
    let sheet = Rc::new(made_up(&mut Random::new(9), [40, 30], Fill::Blocks, 8));
    let plain = bytes(&mut lifted(&sheet, &Recipe::default()));
    for text in [
        r#""strokes": [ { "do": "keep", "radius": 2000, "path": [[1e300, -1e300], [-1e300, 1e300]] } ]"#,
        r#""strokes": [ { "do": "clear", "radius": 0.5, "path": [[-1e9, 900], [1e9, 900]] } ]"#,
        r#""strokes": [ { "do": "clear", "radius": 3, "path": [] } ]"#,
        r#""strokes": [ { "do": "clear", "path": [[-500, -500]] } ]"#,
        r#""islands": { "decided": [ { "at": [1000000, 1000000], "do": "clear" }, { "at": [39, 1000000], "do": "keep" } ] }"#,
    ] {
        let recipe = Recipe::from_json(&format!("{{ \"barewash\": 1, {text} }}")).unwrap();
        assert_eq!(bytes(&mut lifted(&sheet, &recipe)), plain, "{text}");
    }
    let mut session = Session::open(&sheet_png(&sheet).expect("a PNG")).unwrap();
    for (trim, fits) in [([0, 0, 40, 30], true), ([39, 29, 1, 1], true), ([40, 0, 1, 1], false), ([0, 0, 41, 30], false)] {
        assert_eq!(session.set_recipe(Recipe { trim: Some(trim), ..Recipe::default() }).is_ok(), fits, "{trim:?}");
    }
}

#[test]
fn twice_the_same_bytes() {
    for seed in [3, 4] {
        let sheet = Rc::new(truth_scene(seed, SMALL).scan);
        let recipe = any_recipe(&mut Random::new(seed), SMALL);
        let (mut one, mut two) = (lifted(&sheet, &recipe), lifted(&sheet, &recipe));
        assert_eq!(bytes(&mut one), bytes(&mut two));
        assert_eq!(report(&one), report(&two));
    }
}

/// However a recipe came about, and wherever the work stood when it changed, the art is that of a fresh lift.
#[test]
fn edits_in_mid_work_leave_no_trace() {
    for seed in 0..4 {
        let sheet = Rc::new(truth_scene(200 + seed, SMALL).scan);
        let mut random = Random::new(seed);
        let mut lift = Lift::new(Rc::clone(&sheet));
        let mut recipe = Recipe::default();
        let mut edits = Vec::new();
        for round in 0..10 {
            for _ in 0..1 + random.below(4) {
                edit(&mut random, &mut recipe, SMALL);
                // Often a place where an island is, as the page would send it.
                let known: Vec<[u32; 2]> = lift.islands().iter().map(|(_, i, ..)| i.at.map(|v| v as u32)).collect();
                if let (Some(last), false) = (recipe.decided.last_mut(), known.is_empty()) {
                    last.at = known[random.below(known.len())];
                }
                lift.set_recipe(recipe.clone());
                let steps = random.below(30);
                for _ in 0..steps {
                    lift.step().expect("memory");
                }
                edits.push((recipe.to_json().to_string(), steps));
            }
            let mut fresh = lifted(&sheet, &recipe);
            lift.finish().expect("memory");
            let same = bytes(&mut lift) == bytes(&mut fresh);
            assert!(same, "scene {}, round {round}: other bytes than a fresh lift after\n{edits:#?}", 200 + seed);
            assert_eq!(islands(&lift), islands(&fresh), "scene {}, round {round}", 200 + seed);
            assert_eq!(report(&lift), report(&fresh), "scene {}, round {round}", 200 + seed);
        }
    }
}

/// One key at a time, from a finished lift and back, and at whatever step the work stands.
#[test]
fn every_key_takes_effect_and_is_taken_back() {
    let sheet = Rc::new(truth_scene(3, SMALL).scan);
    let plain = Recipe::default();
    let mut lift = lifted(&sheet, &plain);
    let before = bytes(&mut lift);
    let at = lift.islands().first().map(|(_, island, ..)| island.at).expect("an island");
    let [x, y] = at;
    let mut steps = 0;
    let mut counted = Lift::new(Rc::clone(&sheet));
    while !counted.finished() {
        counted.step().expect("memory");
        steps += 1;
    }
    let lines = [[0, 180], [299, 180]];
    for (key, effect) in [
        (r#""tolerance": 70"#.to_owned(), true),
        (r#""paper": { "color": [60, 60, 60] }"#.to_owned(), true),
        (r#""edge": { "soft": 80 }"#.to_owned(), true),
        (r#""edge": { "rim": 20 }"#.to_owned(), true),
        (r#""body": 40"#.to_owned(), true),
        (
            format!(
                r#""islands": {{ "decided": [ {{ "at": [{x}, {y}], "do": "keep" }}, {{ "at": [{x}, {y}], "do": "clear" }} ] }}"#
            ),
            false,
        ),
        (r#""islands": { "default": "clear" }"#.to_owned(), true),
        (r#""tidy": { "specks_mm": 0 }"#.to_owned(), true),
        (r#""tidy": { "hairs": "keep" }"#.to_owned(), false),
        (r#""tidy": { "pencil": "clear" }"#.to_owned(), false),
        (r#""tidy": { "stains": "keep" }"#.to_owned(), true),
        (r#""tidy": { "sheet_edge": "keep" }"#.to_owned(), true),
        (format!(r#""strokes": [ {{ "do": "clear", "radius": 9, "path": {lines:?} }} ]"#), true),
        (format!(r#""strokes": [ {{ "do": "keep", "radius": 2, "path": {lines:?} }} ]"#), true),
    ] {
        let recipe = Recipe::from_json(&format!("{{ \"barewash\": 1, {key} }}")).expect(&key);
        let wanted = bytes(&mut lifted(&sheet, &recipe));
        assert!(!effect || wanted != before, "{key} does nothing");
        lift.set_recipe(recipe.clone());
        assert!(bytes(&mut lift) == wanted, "{key} on a finished lift");
        lift.set_recipe(plain.clone());
        assert!(bytes(&mut lift) == before, "{key} taken back");
        for done in [steps / 3, 2 * steps / 3, steps - 1] {
            let mut midway = Lift::new(Rc::clone(&sheet));
            for _ in 0..done {
                midway.step().expect("memory");
            }
            midway.set_recipe(recipe.clone());
            assert!(bytes(&mut midway) == wanted, "{key} after {done} of {steps} steps");
        }
    }
}

/// The same for a resolution stated in mid-work, and for the reduced copy.
#[test]
fn a_session_edited_shows_what_a_fresh_one_shows() {
    let size = [600, 750];
    let file = sheet_png(&truth_scene(31, size).scan).expect("a PNG");
    let mut random = Random::new(31);
    let mut session = Session::open(&file).expect("a scan");
    let mut recipe = Recipe::default();
    let view = View { x: -20.0, y: -10.0, scale: 0.5, width: 330, height: 400 };
    for round in 0..5 {
        for _ in 0..3 {
            edit(&mut random, &mut recipe, size);
            session.set_recipe(recipe.clone()).expect("a recipe");
            for _ in 0..random.below(12) {
                session.step().expect("memory");
            }
            if random.chance(0.4) {
                session.lift_preview().expect("memory");
            }
        }
        let ppi = [300.0, 240.0, 600.0][round % 3];
        session.set_ppi(ppi).expect("a resolution");
        let mut fresh = Session::open(&file).expect("a scan");
        fresh.set_ppi(ppi).expect("a resolution");
        fresh.set_recipe(recipe.clone()).expect("a recipe");
        let (mut one, mut two) = (Vec::new(), Vec::new());
        for finish in [false, true] {
            for s in [&mut session, &mut fresh] {
                s.lift_preview().expect("memory");
                while finish && !s.finished() {
                    s.step().expect("memory");
                }
            }
            session.draw(&view, Ground::Color([20, 33, 61]), &mut one);
            fresh.draw(&view, Ground::Color([20, 33, 61]), &mut two);
            assert!(one == two, "round {round}, finished: {finish}");
        }
    }
}

/// A higher tolerance never keeps more.
#[test]
fn tolerance_only_takes() {
    let mut wrong = Vec::new();
    for seed in 0..4 {
        let sheet = Rc::new(truth_scene(300 + seed, [600, 750]).scan);
        let mut lift = Lift::new(sheet);
        let kept: Vec<f64> = [20.0, 35.0, 50.0, 65.0, 80.0]
            .into_iter()
            .map(|tolerance| {
                lift.set_recipe(Recipe { tolerance, ..Recipe::default() });
                area(&mut lift)
            })
            .collect();
        if kept.windows(2).any(|pair| pair[1] > pair[0]) {
            wrong.push(format!("scene {}: kept pixels at 20, 35, 50, 65, 80: {kept:.1?}", 300 + seed));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A sheet turned or mirrored; `turn`: 0..4 quarter turns, then mirrored left to right if so wished.
fn turned(sheet: &Sheet, turn: usize, mirror: bool) -> Sheet {
    let (w, h) = (sheet.width(), sheet.height());
    let (width, height) = if turn % 2 == 1 { (h, w) } else { (w, h) };
    let from = |x: usize, y: usize| {
        let x = if mirror { width - 1 - x } else { x };
        let (x, y) = match turn {
            0 => (x, y),
            1 => (y, h - 1 - x),
            2 => (w - 1 - x, h - 1 - y),
            _ => (w - 1 - y, x),
        };
        y * w + x
    };
    let places: Vec<usize> = (0..width * height).map(|i| from(i % width, i / width)).collect();
    let samples = match sheet.samples() {
        Samples::Eight(v) => Samples::Eight(places.iter().flat_map(|p| v[3 * p..3 * p + 3].to_vec()).collect()),
        Samples::Sixteen(v) => Samples::Sixteen(places.iter().flat_map(|p| v[3 * p..3 * p + 3].to_vec()).collect()),
    };
    Sheet::new(width, height, samples, sheet.ppi())
}

/// A painting does not care which way up it was scanned.
#[test]
fn which_way_up_hardly_matters() {
    let mut wrong = Vec::new();
    for seed in [400, 401, 402] {
        let sheet = truth_scene(seed, [600, 750]).scan;
        let upright = area(&mut lifted(&Rc::new(sheet.clone()), &Recipe::default()));
        for (turn, mirror) in [(0, true), (1, false), (2, false), (3, true)] {
            let other = area(&mut lifted(&Rc::new(turned(&sheet, turn, mirror)), &Recipe::default()));
            let off = (other - upright).abs() / upright;
            if off > 0.005 {
                wrong.push(format!(
                    "scene {seed}, {turn} quarters, mirrored {mirror}: {other:.0} for {upright:.0} px, {:.2} %",
                    off * 100.0
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// At full size a view is the art itself over the ground, however it is cut into views.
#[test]
fn views_fit_together() {
    let scene = truth_scene(7, SMALL);
    let mut session = Session::open(&sheet_png(&scene.scan).expect("a PNG")).expect("a scan");
    while !session.finished() {
        session.step().expect("memory");
    }
    let [width, height] = SMALL;
    for ground in [Ground::Color([119, 119, 119]), Ground::Paper, Ground::Scan] {
        let whole = View { x: 0.0, y: 0.0, scale: 1.0, width, height };
        let (mut all, mut part) = (Vec::new(), Vec::new());
        session.draw(&whole, ground, &mut all);
        if let (Ground::Scan, Samples::Eight(scan)) = (ground, scene.scan.samples()) {
            assert!(all.chunks_exact(4).zip(scan.chunks_exact(3)).all(|(a, s)| a[..3] == *s), "the scan as it is");
        }
        for (x, y) in [(0, 0), (37, 101), (255, 63), (299, 374)] {
            let view = View { x: x as f64, y: y as f64, width: 60, height: 50, ..whole };
            session.draw(&view, ground, &mut part);
            for (i, pixel) in part.chunks_exact(4).enumerate() {
                let (px, py) = (x + i % 60, y + i / 60);
                let expected = if px < width && py < height { &all[4 * (py * width + px)..][..4] } else { &[0; 4][..] };
                assert_eq!(pixel, expected, "{ground:?} at {px} {py}");
            }
        }
    }
}
