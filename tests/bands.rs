//! However the work is interrupted and however the art is cut into bands, the bytes are the same.

mod lifting;

use std::rc::Rc;

use barewash::encode::png::png;
use barewash::foreground::RowSource;
use barewash::image::{Art, Pixels};
use barewash::pipeline::{Ground, Lift, Recipe, Saving, Session, View};
use barewash_support::files::sheet_png;
use barewash_support::random::Random;
use barewash_support::scenes::conditions::any_scene;

use lifting::{any_recipe, bytes, clicked, lifted};

const SIZE: [usize; 2] = [300, 375];

/// Cuts a length into parts of any size, one pixel included: where each begins and ends, in any order.
fn parts(random: &mut Random, length: usize) -> Vec<(usize, usize)> {
    let widest = [1, 9, 64, 70, length][random.below(5)];
    let mut out = Vec::new();
    let mut from = 0;
    while from < length {
        let to = (from + 1 + random.below(widest)).min(length);
        out.push((from, to));
        from = to;
    }
    for i in (1..out.len()).rev() {
        out.swap(i, random.below(i + 1));
    }
    out
}

/// The art in rows of 16 bits, from the first on.
fn sixteen(lift: &Lift) -> Vec<u16> {
    let (sheet, field) = (lift.sheet(), lift.field().expect("a paper"));
    let mut source = RowSource::new(sheet, field);
    let mut out = vec![0; 4 * sheet.width() * sheet.height()];
    for (y, row) in out.chunks_exact_mut(4 * sheet.width()).enumerate() {
        lift.row16(&mut source, y, row);
    }
    out
}

/// Rows asked for in bands of any height and in any order, in pieces of any width, are those of the whole.
fn rows_in_any_order(random: &mut Random, lift: &Lift, whole: &[u8], what: &str) {
    let (sheet, field) = (lift.sheet(), lift.field().expect("a paper"));
    let (width, height) = (sheet.width(), sheet.height());
    let fine = sixteen(lift);
    let columns = parts(random, width);
    let (mut eight, mut sixteen) = (vec![0; 4 * width], vec![0; 4 * width]);
    for (top, bottom) in parts(random, height) {
        // Every band by itself, as if the others were somewhere else.
        let mut source = RowSource::new(sheet, field);
        for y in (top..bottom).rev() {
            for &(left, right) in &columns {
                lift.row8(&mut source, y, left, &mut eight[4 * left..4 * right]);
            }
            assert!(eight == whole[4 * y * width..][..4 * width], "{what}: row {y} in a band from {top} to {bottom}");
            lift.row16(&mut source, y, &mut sixteen);
            assert!(sixteen == fine[4 * y * width..][..4 * width], "{what}: row {y} at 16 bits, from {top} to {bottom}");
        }
    }
}

/// What is saved of a sheet trimmed to a part is that part of the whole.
fn trimmed_to_any_part(random: &mut Random, lift: &mut Lift, whole: &[u8], what: &str) {
    let (width, height) = (lift.sheet().width(), lift.sheet().height());
    let recipe = lift.recipe().clone();
    let mut joined = vec![0; whole.len()];
    for (top, bottom) in parts(random, height) {
        let cut = random.below(width + 1);
        for (left, right) in [(0, cut), (cut, width)].into_iter().filter(|(left, right)| left < right) {
            let trim = Some([left, top, right - left, bottom - top].map(|v| v as u32));
            lift.set_recipe(Recipe { trim, ..recipe.clone() });
            for (y, row) in (top..bottom).zip(bytes(lift).chunks_exact(4 * (right - left))) {
                joined[4 * (y * width + left)..4 * (y * width + right)].copy_from_slice(row);
            }
        }
    }
    assert!(joined == whole, "{what}: trimmed parts joined are not the whole");
    lift.set_recipe(recipe);
}

/// The work stopped after any number of steps, and looked at, goes on as if it had not been.
fn stopped_and_looked_at(random: &mut Random, file: &[u8], recipe: &Recipe, whole: &[u8], what: &str) {
    let mut session = Session::open(file).expect("a scan");
    session.set_recipe(recipe.clone()).expect("a recipe");
    let (width, height) = (session.full().sheet().width(), session.full().sheet().height());
    let (mut shown, mut row) = (Vec::new(), vec![0; 4 * width]);
    while !session.finished() {
        for _ in 0..1 + random.below(6) {
            session.step().expect("memory");
        }
        let (x, y) = (f64::from(random.between(-9.0, width as f32)), f64::from(random.between(-9.0, height as f32)));
        let scale = [0.5, 1.0, 3.0][random.below(3)];
        session.draw(&View { x, y, scale, width: 20, height: 20 }, Ground::Paper, &mut shown);
        let lift = session.full();
        if let Some(field) = lift.field() {
            lift.row8(&mut RowSource::new(lift.sheet(), field), random.below(height), 0, &mut row);
        }
        if random.chance(0.2) {
            session.lift_preview().expect("memory");
        }
    }
    let art = Art { width, height, ppi: session.full().sheet().ppi(), pixels: Pixels::Eight(whole.to_vec()) };
    let expected = png(&art, 8).expect("a PNG");
    assert!(session.save(&Saving::default()).expect("a PNG") == expected, "{what}: other bytes after being stopped");
}

fn the_same_however_cut(seeds: std::ops::RangeInclusive<u64>) {
    for seed in seeds {
        let scene = any_scene(seed, SIZE);
        let mut random = Random::new(seed);
        let sheet = Rc::new(scene.scan.clone());
        // Odd seeds by the painter's clicks, even ones by a recipe of any values.
        let recipe = if seed % 2 == 1 { clicked(&scene) } else { any_recipe(&mut random, [sheet.width(), sheet.height()]) };
        let what = format!("scene {seed}, {}", recipe.to_json());
        let mut lift = lifted(&sheet, &recipe);
        let whole = bytes(&mut lift);
        rows_in_any_order(&mut random, &lift, &whole, &what);
        trimmed_to_any_part(&mut random, &mut lift, &whole, &what);
        stopped_and_looked_at(&mut random, &sheet_png(&sheet).expect("a PNG"), &recipe, &whole, &what);
    }
}

// Two tests, so that two cores have work.
#[test]
fn the_same_however_cut_on_scenes_1_to_25() {
    the_same_however_cut(1..=25);
}

#[test]
fn the_same_however_cut_on_scenes_26_to_50() {
    the_same_however_cut(26..=50);
}
