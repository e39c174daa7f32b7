//! Lifts one scan natively: `lift SCAN OUT.png [RECIPE.json]`. The yardstick that the wasm module is compared with.

use std::error::Error;
use std::rc::Rc;
use std::time::Instant;

use barewash::decode;
use barewash::encode::png;
use barewash::pipeline::{Lift, Recipe, report};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [scan, out, rest @ ..] = arguments.as_slice() else {
        return Err("usage: lift SCAN OUT.png [RECIPE.json]".into());
    };
    let started = Instant::now();
    let read = decode::read(&std::fs::read(scan)?)?;
    eprintln!("read {:.3} s", started.elapsed().as_secs_f64());
    let mut lift = Lift::new(Rc::new(read.sheet));
    if let Some(recipe) = rest.first() {
        lift.set_recipe(Recipe::from_json(&std::fs::read_to_string(recipe)?)?);
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
    std::fs::write(out, png::png(&art, 8)?)?;
    println!("{:#}", report(&lift));
    Ok(())
}
