//! Paints the demonstration sheet of the fictional studio Saltmarsh Row, and its three small studies:
//! `cargo run --release --example demo_sheet -- OUT_DIR [--studies]`.
//!
//! Writes `sheet.jpg` (embedded in the page), `sheet.png` (the scan without loss), `truth.png` (the right answer, straight
//! alpha), `black.png` (the same over black) and `small.jpg` (a third of the size, for a text). With `--studies` also a folder each for `shell`, `crab` and `sea-glass`.

use barewash_support::files::{reduced, sheet_jpeg, write_scene};
use barewash_support::render::truth::Scene;
use barewash_support::scenes::tidepool::{Study, demo_sheet, study};
use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};

/// Quality at which the sheet's tooth and the washes' granulation survive and the file stays small enough to sit in a page.
const QUALITY: u8 = 90;

fn write(scene: &Scene, folder: &Path) -> Result<(), Box<dyn Error>> {
    write_scene(scene, folder)?;
    fs::write(folder.join("sheet.jpg"), sheet_jpeg(&scene.scan, QUALITY)?)?;
    fs::write(folder.join("small.jpg"), sheet_jpeg(&reduced(&scene.scan, 3), QUALITY)?)?;
    println!("{}", folder.display());
    Ok(())
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some(out) = arguments.iter().find(|a| !a.starts_with("--")) else {
        return Err("Say where to: demo_sheet OUT_DIR [--studies]".into());
    };
    let out = PathBuf::from(out);
    write(&demo_sheet(), &out)?;
    if arguments.iter().any(|a| a == "--studies") {
        for (which, name) in [(Study::Shell, "shell"), (Study::Crab, "crab"), (Study::SeaGlass, "sea-glass")] {
            write(&study(which), &out.join(name))?;
        }
    }
    Ok(())
}
