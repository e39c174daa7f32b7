//! Lifts scans natively: the yardstick that the wasm module is compared with.
//!
//! - `lift SCAN OUT.png [RECIPE.json]`: one scan; the report is printed.
//! - `lift --each DIR`: `sheet.png` by `recipe.json`, if there is one, in every folder of DIR, to `art.png` and `report.json`.

use std::error::Error;
use std::fs;
use std::path::Path;
use std::rc::Rc;
use std::time::Instant;

use barewash::decode;
use barewash::encode::png;
use barewash::pipeline::{Lift, Recipe, report};

/// Lifts a scan, says on standard error how long each stage took, and gives the report.
fn lifted(scan: &Path, out: &Path, recipe: Option<&Path>) -> Result<String, Box<dyn Error>> {
    let started = Instant::now();
    let read = decode::read(&fs::read(scan)?)?;
    eprintln!("read {:.3} s", started.elapsed().as_secs_f64());
    let mut lift = Lift::new(Rc::new(read.sheet));
    if let Some(recipe) = recipe {
        lift.set_recipe(Recipe::from_json(&fs::read_to_string(recipe)?)?);
    }
    while !lift.finished() {
        let (stage, begun) = (lift.stage(), Instant::now());
        while lift.stage() == stage {
            lift.step()?;
        }
        eprintln!("{} {:.3} s", stage.name(), begun.elapsed().as_secs_f64());
    }
    let begun = Instant::now();
    let art = lift.art()?;
    eprintln!("art {:.3} s", begun.elapsed().as_secs_f64());
    fs::write(out, png::png(&art, 8)?)?;
    Ok(format!("{:#}", report(&lift)))
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["--each", folder] => {
            for entry in fs::read_dir(folder)? {
                let folder = entry?.path();
                let recipe = folder.join("recipe.json");
                let recipe = recipe.exists().then_some(recipe);
                let report = lifted(&folder.join("sheet.png"), &folder.join("art.png"), recipe.as_deref())?;
                fs::write(folder.join("report.json"), report)?;
            }
            Ok(())
        }
        [scan, out, rest @ ..] if rest.len() < 2 => {
            println!("{}", lifted(scan.as_ref(), out.as_ref(), rest.first().map(Path::new))?);
            Ok(())
        }
        _ => Err("usage: lift SCAN OUT.png [RECIPE.json], or lift --each DIR".into()),
    }
}
