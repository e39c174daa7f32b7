//! Prints what every enclosed white looks like, as comma-separated values, a line each: what the proposals are learned from.
//! `cargo run --release --example island_features -- SCAN...` or `-- --seeds FROM..TO WIDTHxHEIGHT`.
//!
//! Columns: name, x, y (a pixel inside), label, then the features by their names. The label of a rendered scene's island is `w`
//! for a white or `p` for a pocket, by the truth of most of its pixels; that of a scan's is `?`.

#[path = "../lifting/mod.rs"]
mod lifting;

use std::error::Error;
use std::fs;
use std::path::Path;
use std::rc::Rc;

use barewash::decode;
use barewash::image::Sheet;
use barewash::matte::features::NAMES;
use barewash::pipeline::{Lift, Recipe};
use barewash_support::render::truth::Scene;
use barewash_support::scenes::conditions::Conditions;

use lifting::{enclosed, lifted};

fn print(name: &str, lift: &Lift, label: impl Fn(usize) -> char) {
    for (index, island, ..) in lift.islands() {
        let [x, y] = island.at;
        let values: Vec<String> = island.features.values.iter().map(|v| format!("{v:.5}")).collect();
        println!("{name},{x},{y},{},{}", label(index), values.join(","));
    }
}

/// What the truth says of most of an island's pixels.
fn truth_of(scene: &Scene, lift: &Lift, index: usize) -> char {
    let inside = enclosed(&lift.island_outline(index), [scene.scan.width(), scene.scan.height()]);
    let kept = inside.iter().filter(|[x, y]| scene.alpha.at(*x, *y) > 0.5).count();
    if 2 * kept > inside.len() { 'w' } else { 'p' }
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    println!("name,x,y,label,{}", NAMES.join(","));
    match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["--seeds", seeds, size] => {
            let (from, to) = seeds.split_once("..").ok_or("--seeds FROM..TO")?;
            let (width, height) = size.split_once('x').ok_or("a size is WIDTHxHEIGHT")?;
            let size = [width.parse()?, height.parse()?];
            for seed in from.parse::<u64>()?..=to.parse()? {
                let scene = Conditions::of(seed, size).scene();
                let lift = lifted(&Rc::new(scene.scan.clone()), &Recipe::default());
                print(&format!("seed_{seed}"), &lift, |index| truth_of(&scene, &lift, index));
            }
        }
        scans => {
            for scan in scans {
                let sheet: Sheet = decode::read(&fs::read(scan)?)?.sheet;
                let name = Path::new(scan).file_stem().ok_or("a scan has a name")?.to_string_lossy().into_owned();
                print(&name, &lifted(&Rc::new(sheet), &Recipe::default()), |_| '?');
            }
        }
    }
    Ok(())
}
