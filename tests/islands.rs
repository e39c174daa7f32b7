//! Islands: bare areas enclosed by paint are listed, proposed, and obeyed.

mod lifting;

use std::fmt::Write;
use std::rc::Rc;

use barewash::image::{Samples, Sheet};
use barewash::matte::island::Decision;
use barewash::pipeline::recipe::{Decided, Islands};
use barewash::pipeline::{Ground, Lift, Recipe, Session, View};
use barewash::units::Ppi;
use barewash_support::files::sheet_png;
use barewash_support::random::Random;
use barewash_support::render::element::Element;
use barewash_support::render::truth::Scene;
use barewash_support::scenes::truth::truth_scene;

use lifting::{bytes, enclosed, lifted};

const SIZE: [usize; 2] = [600, 750];
const SEEDS: [u64; 8] = [21, 22, 23, 24, 25, 26, 27, 28];

fn alpha(art: &[u8], width: usize, x: usize, y: usize) -> u8 {
    art[4 * (y * width + x) + 3]
}

/// Side of the sheet with a ring.
const SIDE: usize = 600;

/// White paper with a ring drawn on it in a fine line that is open over so many pixels.
fn ring(gap: f32) -> Rc<Sheet> {
    let mut random = Random::new(3);
    let mut samples = Vec::with_capacity(SIDE * SIDE * 3);
    for i in 0..SIDE * SIDE {
        let (x, y) = ((i % SIDE) as f32 - 300.0, (i / SIDE) as f32 - 300.0);
        let off = ((x * x + y * y).sqrt() - 70.0).abs();
        let open = x > 0.0 && y.abs() < gap / 2.0;
        let line = if open { 0.0 } else { (2.0 - off).clamp(0.0, 1.0) };
        let light = random.normals();
        samples.extend([0, 1, 2].map(|c| (240.0 - 150.0 * line + 0.8 * light[c]) as u8));
    }
    Rc::new(Sheet::new(SIDE, SIDE, Samples::Eight(samples), Some(Ppi(300.0))))
}

/// A petal drawn in a line with a gap of half a millimeter or two is asked about, cleared until the painter keeps it, and then
/// whole; through one of four millimeters it is ground.
#[test]
fn a_contour_with_a_gap_encloses() {
    for gap in [0.0, 6.0, 24.0, 48.0] {
        let sheet = ring(gap);
        let lift = lifted(&sheet, &Recipe::default());
        let found: Vec<_> = lift.islands().into_iter().map(|(_, island, decision, _)| (island.bay, decision)).collect();
        if gap > 40.0 {
            assert!(found.is_empty(), "gap {gap}: {found:?}");
            continue;
        }
        assert_eq!(found, [(gap > 0.0, Decision::Clear)], "gap {gap}");
        // What all islands are to be says nothing about one that is open.
        let mut every = lifted(&sheet, &Recipe { islands: Islands::Keep, ..Recipe::default() });
        assert_eq!(alpha(&bytes(&mut every), SIDE, 300, 300), if gap > 0.0 { 0 } else { 255 }, "gap {gap}");
        let decided = vec![Decided { at: [300, 300], decision: Decision::Keep }];
        let mut kept = lifted(&sheet, &Recipe { decided, ..Recipe::default() });
        let art = bytes(&mut kept);
        let (mut inside, mut outside) = (0, 0);
        for (x, y) in (0..SIDE * SIDE).map(|i| (i % SIDE, i / SIDE)) {
            let (right, down) = (x as f32 - 300.0, y as f32 - 300.0);
            let from_middle = (right * right + down * down).sqrt();
            inside += u32::from(from_middle < 66.0 && alpha(&art, SIDE, x, y) < 250);
            outside += u32::from(from_middle > 76.0 && alpha(&art, SIDE, x, y) > 5);
        }
        assert!(inside == 0 && outside == 0, "gap {gap}: {inside} pixels lost, {outside} too many");
    }
}

/// White paper with rings drawn on it in a fine line, at these places in pixels.
fn rings(at: &[[f32; 2]], [width, height]: [usize; 2]) -> Rc<Sheet> {
    let mut random = Random::new(5);
    let mut samples = Vec::with_capacity(width * height * 3);
    for i in 0..width * height {
        let (x, y) = ((i % width) as f32, (i / width) as f32);
        let off = |c: &[f32; 2]| (((x - c[0]) * (x - c[0]) + (y - c[1]) * (y - c[1])).sqrt() - 22.0).abs();
        let line = (2.0 - at.iter().map(off).fold(f32::MAX, f32::min)).clamp(0.0, 1.0);
        let light = random.normals();
        samples.extend([0, 1, 2].map(|c| (240.0 - 150.0 * line + 0.8 * light[c]) as u8));
    }
    Rc::new(Sheet::new(width, height, Samples::Eight(samples), Some(Ppi(300.0))))
}

/// Who keeps one petal is proposed to keep those beside it that look the same, and none far off; taken back, all is as before.
#[test]
fn a_decision_speaks_for_what_is_alike_nearby() {
    let near: Vec<[f32; 2]> = (0..3).map(|i| [60.0 + 50.0 * i as f32, 60.0]).collect();
    let far = [60.0, 700.0];
    let sheet = rings(&[near.clone(), vec![far]].concat(), [220, 760]);
    let decided = |decision| Recipe { decided: vec![Decided { at: [60, 60], decision }], ..Recipe::default() };
    let at = |lift: &Lift, [x, y]: [f32; 2]| {
        let index = lift.island_at(x as usize, y as usize).expect("an island");
        lift.islands()
            .into_iter()
            .find(|(i, ..)| *i == index)
            .map(|(_, _, decision, by_painter)| (decision, by_painter))
            .expect("listed")
    };
    let mut lift = lifted(&sheet, &Recipe::default());
    let before: Vec<_> = near.iter().chain([&far]).map(|ring| at(&lift, *ring)).collect();
    for decision in [Decision::Keep, Decision::Clear] {
        lift.set_recipe(decided(decision));
        assert_eq!(at(&lift, near[0]), (decision, true));
        for ring in &near[1..] {
            assert_eq!(at(&lift, *ring), (decision, false), "{ring:?}");
        }
        assert_eq!(at(&lift, far), before[3], "five centimeters away");
    }
    lift.set_recipe(Recipe::default());
    assert_eq!(near.iter().chain([&far]).map(|ring| at(&lift, *ring)).collect::<Vec<_>>(), before);
}

#[test]
fn every_pocket_is_listed_and_most_proposals_are_right() {
    let (mut pockets, mut missing, mut right_pockets, mut whites, mut right_whites) = (0, 0, 0, 0, 0);
    let mut table = String::new();
    for seed in SEEDS {
        let scene = truth_scene(seed, SIZE);
        let lift = lifted(&Rc::new(scene.scan.clone()), &Recipe::default());
        let listed: Vec<_> = lift.islands();
        for &[x, y] in &scene.pockets {
            pockets += 1;
            let found = lift.island_at(x, y).and_then(|index| listed.iter().find(|(i, ..)| *i == index));
            match found {
                Some((_, island, decision, decided)) => {
                    assert!(!decided && *decision == island.proposed && (0.5..=1.0).contains(&island.confidence));
                    right_pockets += usize::from(*decision == Decision::Clear);
                    let _ = writeln!(
                        table,
                        "scene {seed}: pocket {x} {y}, {:.1} mm2, {} {:.2}",
                        island.area_mm2,
                        decision.name(),
                        island.confidence
                    );
                }
                None => {
                    missing += 1;
                    let _ = writeln!(table, "scene {seed}: pocket {x} {y} is not listed");
                }
            }
        }
        for (index, island, decision, _) in &listed {
            if most(&scene, &lift, *index) == Element::Reserved as u8 {
                whites += 1;
                right_whites += usize::from(*decision == Decision::Keep);
                let _ = writeln!(
                    table,
                    "scene {seed}: white {:?}, {:.1} mm2, {} {:.2}",
                    island.at,
                    island.area_mm2,
                    decision.name(),
                    island.confidence
                );
            }
        }
    }
    let _ = writeln!(
        table,
        "pockets {pockets}: {missing} not listed, {right_pockets} proposed to clear; whites {whites}: {right_whites} proposed to keep"
    );
    println!("{table}");
    assert_eq!(missing, 0, "every pocket is listed\n{table}");
    // Regression limits. A pocket in a wash and a reserved white of the same shape look alike, so half is what can be had
    // here: all pockets between lines, and no white lost.
    assert!(right_pockets * 2 >= pockets && right_whites == whites && whites >= SEEDS.len(), "\n{table}");
}

/// What the truth says of most of an island's pixels.
fn most(scene: &Scene, lift: &Lift, index: usize) -> u8 {
    let mut counts = [0_usize; 256];
    for [x, y] in enclosed(&lift.island_outline(index), SIZE) {
        counts[usize::from(scene.label.at(x, y))] += 1;
    }
    (0..=255_u8).max_by_key(|l| counts[usize::from(*l)]).unwrap_or(0)
}

#[test]
fn outlines_enclose_their_islands() {
    for seed in [21, 22, 23] {
        let scene = truth_scene(seed, SIZE);
        let lift = lifted(&Rc::new(scene.scan), &Recipe::default());
        assert!(!lift.islands().is_empty());
        let mut taken = vec![false; SIZE[0] * SIZE[1]];
        for (index, island, ..) in lift.islands() {
            let inside = enclosed(&lift.island_outline(index), SIZE);
            let what = format!("scene {seed}, island {index} at {:?}", island.at);
            assert!(inside.contains(&island.at), "{what}: its own pixel lies outside");
            // The foot of the paint's edge belongs to the region, but is not counted as bare.
            assert!(inside.len() >= island.pixels as usize, "{what}: {} pixels in the outline", inside.len());
            assert!(island.is_listed(), "{what}: too small to be listed");
            let [left, top, width, height] = island.bounds;
            for &[x, y] in &inside {
                assert!((left..left + width).contains(&x) && (top..top + height).contains(&y), "{what}: {x} {y} outside its box");
                assert_eq!(lift.island_at(x, y), Some(index), "{what}: {x} {y}");
                assert!(!std::mem::replace(&mut taken[y * SIZE[0] + x], true), "{what}: {x} {y} in two islands");
            }
            let spans = |k: usize| {
                let values = inside.iter().map(|p| p[k]);
                (values.clone().min().expect("pixels"), values.max().expect("pixels") + 1)
            };
            assert_eq!([spans(0), spans(1)], [(left, left + width), (top, top + height)], "{what}: its box is tight");
        }
    }
}

/// Whoever answers what is asked as proposed has nothing left to answer, after no more answers than there were questions.
#[test]
fn answers_settle_what_is_asked() {
    let mut questions = 0;
    for seed in SEEDS {
        let sheet = Rc::new(truth_scene(seed, SIZE).scan);
        let mut lift = lifted(&sheet, &Recipe::default());
        let asked = lift.islands().iter().filter(|(_, island, ..)| island.asked).count();
        let mut decided = Vec::new();
        while let Some((at, decision)) =
            lift.islands().first().filter(|(_, island, ..)| island.asked).map(|(_, island, ..)| (island.at, island.proposed))
        {
            decided.push(Decided { at: at.map(|v| v as u32), decision });
            lift.set_recipe(Recipe { decided: decided.clone(), ..Recipe::default() });
            assert!(decided.len() <= asked, "scene {seed}: {} answers, {asked} questions", decided.len());
        }
        questions += asked;
    }
    assert!(questions > 0);
}

/// A decision is the last word: cleared means nothing is left inside, kept means nothing is taken.
#[test]
fn decisions_are_obeyed() {
    for seed in [21, 24, 27] {
        let scene = truth_scene(seed, SIZE);
        let sheet = Rc::new(scene.scan);
        let mut lift = lifted(&sheet, &Recipe::default());
        let listed: Vec<(usize, [u32; 2], Vec<[usize; 2]>)> = lift
            .islands()
            .iter()
            .map(|(i, island, ..)| (*i, island.at.map(|v| v as u32), enclosed(&lift.island_outline(*i), SIZE)))
            .collect();
        for default in [Islands::Keep, Islands::Clear, Islands::Propose] {
            for flip in [false, true] {
                let decision = |k: usize| if k.is_multiple_of(2) == flip { Decision::Keep } else { Decision::Clear };
                let decided =
                    listed.iter().enumerate().map(|(k, (_, at, _))| Decided { at: *at, decision: decision(k) }).collect();
                lift.set_recipe(Recipe { islands: default, decided, ..Recipe::default() });
                let art = bytes(&mut lift);
                let now = lift.islands();
                for (k, (index, at, inside)) in listed.iter().enumerate() {
                    let what = format!("scene {seed}, {default:?}, island {index} at {at:?}");
                    let (_, _, settled, decided) = now.iter().find(|(i, ..)| i == index).expect("still listed");
                    assert!(*decided && *settled == decision(k), "{what}: listed as {settled:?}");
                    let at = at.map(|v| v as usize);
                    let wanted = if decision(k) == Decision::Clear { 0 } else { 255 };
                    assert_eq!(alpha(&art, SIZE[0], at[0], at[1]), wanted, "{what}");
                    // Away from the soft edge there is no exception.
                    let deep = |[x, y]: [usize; 2]| {
                        (y - 4..=y + 4)
                            .all(|v| (x - 4..=x + 4).all(|u| inside.binary_search_by_key(&(v, u), |p| (p[1], p[0])).is_ok()))
                    };
                    for &[x, y] in inside.iter().filter(|p| p[0] >= 4 && p[1] >= 4 && deep(**p)) {
                        assert_eq!(alpha(&art, SIZE[0], x, y), wanted, "{what}: {x} {y}");
                    }
                }
            }
        }
    }
}

/// Clearing can be taken back: keep, clear, keep gives the bytes of keep.
#[test]
fn decisions_can_be_taken_back() {
    let scene = truth_scene(25, SIZE);
    let mut lift = lifted(&Rc::new(scene.scan), &Recipe { islands: Islands::Keep, ..Recipe::default() });
    let kept = bytes(&mut lift);
    lift.set_recipe(Recipe { islands: Islands::Clear, ..Recipe::default() });
    let cleared = bytes(&mut lift);
    assert!(cleared.chunks_exact(4).zip(kept.chunks_exact(4)).all(|(c, k)| c[3] <= k[3]), "clearing never adds");
    assert_ne!(cleared, kept);
    lift.set_recipe(Recipe { islands: Islands::Keep, ..Recipe::default() });
    assert_eq!(bytes(&mut lift), kept);
}

/// From afar a reduced copy is seen: it must show what is saved, reduced.
#[test]
fn what_is_seen_from_afar_is_what_is_saved() {
    /// One pixel of the copy for so many of the sheet, along a side.
    const FACTOR: usize = 3;
    const LARGE: [usize; 2] = [1200, 1500];
    let [width, height] = LARGE.map(|v| v / FACTOR);
    let view = View { x: 0.0, y: 0.0, scale: 1.0 / FACTOR as f64, width, height };
    for seed in [21, 23, 25] {
        let scene = truth_scene(seed, LARGE);
        let mut session = Session::open(&sheet_png(&scene.scan).expect("a file")).expect("a scan");
        session.lift_preview().expect("memory");
        let lift = |session: &mut Session| {
            while !session.finished() {
                session.step().expect("memory");
            }
            session.lift_preview().expect("memory");
        };
        lift(&mut session);
        let first = session.full().islands().first().map(|(_, island, ..)| island.at.map(|v| v as u32)).expect("an island");
        let other = vec![Decided { at: first, decision: Decision::Keep }];
        for recipe in
            [Recipe::default(), Recipe { body: 90.0, ..Recipe::default() }, Recipe { decided: other, ..Recipe::default() }]
        {
            session.set_recipe(recipe.clone()).expect("a recipe");
            lift(&mut session);
            let mut seen = Vec::new();
            session.draw(&view, Ground::Color([0, 0, 0]), &mut seen);
            let art = bytes(&mut lifted(&Rc::new(scene.scan.clone()), &recipe));
            let mut apart = 0;
            for (x, y) in (0..width * height).map(|i| (i % width, i / width)) {
                for c in 0..3 {
                    let pixels =
                        (0..FACTOR * FACTOR).map(|k| ((y * FACTOR + k / FACTOR) * LARGE[0] + x * FACTOR + k % FACTOR) * 4);
                    let sum: u32 = pixels.map(|i| u32::from(art[i + c]) * u32::from(art[i + 3]) / 255).sum();
                    let mean = sum / (FACTOR * FACTOR) as u32;
                    apart += u32::from(mean.abs_diff(u32::from(seen[4 * (y * width + x) + c])) > 6);
                }
            }
            assert!(apart * 200 < (3 * width * height) as u32, "scene {seed}: {apart} of {} differ", 3 * width * height);
        }
    }
}
