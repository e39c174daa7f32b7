//! Prints what every enclosed white and every loose part looks like, as comma-separated values, a line each: what is learned
//! from. `cargo run --release --example features -- SCAN...` or `-- --seeds FROM..TO WIDTHxHEIGHT`.
//!
//! Columns: `white` or `part`, name, x, y (a pixel inside), label, then the features; the first two lines name these. The label
//! of a rendered scene's white is `w`, or `p` if by the truth of most of its pixels it is a pocket; that of its part is `a` for
//! art or `x`. That of a scan's white is what `tests/learning/whites.csv` says of places in it, if it says one thing of all of
//! them; that of its part is what `tests/learning/parts.csv` says of the place nearest to it; and `?` where nothing was said.

#[path = "../lifting/mod.rs"]
mod lifting;

use std::error::Error;
use std::fs;
use std::path::Path;
use std::rc::Rc;

use barewash::decode;
use barewash::image::Sheet;
use barewash::matte::features;
use barewash::pipeline::{Lift, Recipe};
use barewash::repair::{parts, scrap};
use barewash_support::render::truth::Scene;
use barewash_support::scenes::conditions::Conditions;

use lifting::{enclosed, lifted};

fn line(kind: &str, name: &str, [x, y]: [usize; 2], label: char, features: &[f32]) {
    let values: Vec<String> = features.iter().map(|v| format!("{v:.5}")).collect();
    println!("{kind},{name},{x},{y},{label},{}", values.join(","));
}

fn print(
    name: &str,
    lift: &Lift,
    white: impl Fn(usize) -> char,
    part: impl Fn([usize; 2]) -> char,
    scrap: impl Fn([usize; 2]) -> char,
) {
    for (index, island, ..) in lift.every_island() {
        let label = white(index);
        // By eye, no one labels what is too small to be listed.
        if island.is_listed() || label != '?' && island.is_traced() {
            line("white", name, island.at, label, &island.features.values);
        }
    }
    for loose in lift.parts() {
        line("part", name, loose.at, part(loose.at), &loose.features);
    }
    for pale in lift.scraps() {
        line("scrap", name, pale.at, scrap(pale.at), &pale.features);
    }
}

/// What the truth says of most of an island's pixels.
fn truth_of(scene: &Scene, lift: &Lift, index: usize) -> char {
    let inside = enclosed(&lift.island_outline(index), [scene.scan.width(), scene.scan.height()]);
    let kept = inside.iter().filter(|[x, y]| scene.alpha.at(*x, *y) > 0.5).count();
    if 2 * kept > inside.len() { 'w' } else { 'p' }
}

/// A place, and what was said of it.
type Place = ([usize; 2], char);

/// What was said of places in a scan where there are whites, or parts.
fn said(kind: &str, name: &str) -> Result<Vec<Place>, Box<dyn Error>> {
    let labels = fs::read_to_string(format!("{}/tests/learning/{kind}s.csv", env!("CARGO_MANIFEST_DIR")))?;
    let mut places = Vec::new();
    for line in labels.lines() {
        if let [scan, x, y, label] = line.split(',').collect::<Vec<_>>()[..]
            && scan == name
        {
            places.push(([x.parse()?, y.parse()?], label.chars().next().unwrap_or('?')));
        }
    }
    Ok(places)
}

/// What was said of the place nearest to a part's own, if that is the part or beside it.
fn nearest(places: &[Place], [x, y]: [usize; 2]) -> char {
    const BESIDE: usize = 6;
    let off = |([i, j], label): &Place| (i.abs_diff(x) + j.abs_diff(y), *label);
    places.iter().map(off).min().filter(|(off, _)| *off <= BESIDE).map_or('?', |(_, label)| label)
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    println!("white,name,x,y,label,{}", features::NAMES.join(","));
    println!("part,name,x,y,label,{}", parts::NAMES.join(","));
    println!("scrap,name,x,y,label,{}", scrap::NAMES.join(","));
    match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["--seeds", seeds, size] => {
            let (from, to) = seeds.split_once("..").ok_or("--seeds FROM..TO")?;
            let (width, height) = size.split_once('x').ok_or("a size is WIDTHxHEIGHT")?;
            let size = [width.parse()?, height.parse()?];
            for seed in from.parse::<u64>()?..=to.parse()? {
                let scene = Conditions::of(seed, size).scene();
                let lift = lifted(&Rc::new(scene.scan.clone()), &Recipe::default());
                let art = |[x, y]: [usize; 2]| if scene.alpha.at(x, y) > 0.3 { 'a' } else { 'x' };
                print(&format!("seed_{seed}"), &lift, |index| truth_of(&scene, &lift, index), art, art);
            }
        }
        scans => {
            for scan in scans {
                let sheet: Sheet = decode::read(&fs::read(scan)?)?.sheet;
                let name = Path::new(scan).file_stem().ok_or("a scan has a name")?.to_string_lossy().into_owned();
                let lift = lifted(&Rc::new(sheet), &Recipe::default());
                let (places, parts, scraps) = (said("white", &name)?, said("part", &name)?, said("scrap", &name)?);
                let label = |index| {
                    let mut inside = places.iter().filter(|([x, y], _)| lift.island_at(*x, *y) == Some(index));
                    let first = inside.next().map_or('?', |(_, label)| *label);
                    if inside.all(|(_, label)| *label == first) { first } else { '?' }
                };
                print(&name, &lift, label, |at| nearest(&parts, at), |at| nearest(&scraps, at));
            }
        }
    }
    Ok(())
}
