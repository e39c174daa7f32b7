//! Lifts scenes under all conditions and judges the lifts against the truth:
//! `cargo run --release --example truth_table -- [--seeds FROM..TO] [--size WxH] [--out DIR] [--art DIR | --nearest | --inside] [--write DIR]`.
//!
//! Each scene is lifted by the default recipe, all islands kept but those that the painter clicks. A line is printed for each,
//! then a table of every figure over all of them.
//!
//! - `--seeds FROM..TO`: the seeds, both ends included; 1..40 unless said.
//! - `--size WxH`: pixels of a sheet at 300 ppi; 600x750 unless said.
//! - `--out DIR`: also writes `table.txt`, and `worst.png`, a row for each of the five worst scenes: scan, truth on black, art on
//!   black, and eight times their difference.
//! - `--art DIR`: judges `DIR/SEED.png` (straight alpha, 8 or 16 bits) in place of a lift of ours.
//! - `--nearest`: judges what knows the paper and the alpha, in place of a lift: no lift can be nearer to the truth in color.
//! - `--inside`: judges what knows the paper, and where there is none, but takes the color of half covered pixels from solid paint
//!   beside them: what may be hoped for at edges of a lift that does so.
//! - `--write DIR`: lifts nothing, but writes `DIR/SEED/sheet.png`, `truth.png`, `black.png` and `pockets.json`.

#[path = "../lifting/mod.rs"]
mod lifting;

use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;

use barewash_support::files::{pockets_json, read_art, sheet_png, write_scene};
use barewash_support::measure::Judge;
use barewash_support::measure::figures::Judged;
use barewash_support::measure::identity::identity;
use barewash_support::measure::inside::from_inside;
use barewash_support::measure::table::{from_the_worst, line, table};
use barewash_support::pictures::ContactSheet;
use barewash_support::render::truth::Scene;
use barewash_support::scenes::conditions::Conditions;

use lifting::{clicked, lifted, own_paper, unit};

/// Scenes named and shown as the worst.
const NAMED: usize = 5;

/// Scenes at work at a time: one takes up to 300 MB.
const AT_A_TIME: usize = 2;

type Failure = Box<dyn Error + Send + Sync>;

/// Where the art that is judged comes from.
enum Source {
    Lifted,
    Folder(PathBuf),
    Nearest,
    Inside,
}

struct Choices {
    seeds: (u64, u64),
    size: [usize; 2],
    out: Option<PathBuf>,
    source: Source,
    write: Option<PathBuf>,
}

impl Choices {
    fn read(mut arguments: impl Iterator<Item = String>) -> Result<Self, Failure> {
        let mut choices = Self { seeds: (1, 40), size: [600, 750], out: None, source: Source::Lifted, write: None };
        while let Some(name) = arguments.next() {
            let source = match name.as_str() {
                "--nearest" => Some(Source::Nearest),
                "--inside" => Some(Source::Inside),
                _ => None,
            };
            if let Some(source) = source {
                choices.source = source;
                continue;
            }
            let value = arguments.next().ok_or_else(|| format!("{name} wants a value"))?;
            let pair = |between: &str| value.split_once(between).ok_or_else(|| format!("{name} {value}: {between} is missing"));
            match name.as_str() {
                "--seeds" => {
                    let (from, to) = pair("..")?;
                    choices.seeds = (from.parse()?, to.parse()?);
                }
                "--size" => {
                    let (width, height) = pair("x")?;
                    choices.size = [width.parse()?, height.parse()?];
                }
                "--out" => choices.out = Some(value.into()),
                "--art" => choices.source = Source::Folder(value.into()),
                "--write" => choices.write = Some(value.into()),
                _ => return Err(format!("{name} is not known; see the head of tests/examples/truth_table.rs").into()),
            }
        }
        if choices.seeds.0 > choices.seeds.1 || choices.size[0] < 300 || choices.size[1] < 375 {
            return Err("seeds go up, and a sheet has 300x375 pixels at least".into());
        }
        Ok(choices)
    }
}

/// The art of a scene, and how far the scan is from it on the paper that the lift measured.
fn art(seed: u64, scene: &Scene, source: &Source) -> Result<(Vec<[f32; 4]>, Option<f64>), Failure> {
    match source {
        Source::Nearest => Ok((scene.nearest(), None)),
        Source::Inside => Ok((from_inside(scene), None)),
        Source::Folder(folder) => {
            let path = folder.join(format!("{seed}.png"));
            let art = read_art(&path).map_err(|e| format!("{}: {e}", path.display()))?;
            if art.size != [scene.scan.width(), scene.scan.height()] {
                return Err(format!("{}: {:?} is not the sheet's size", path.display(), art.size).into());
            }
            Ok((art.pixels, None))
        }
        Source::Lifted => {
            let mut lift = lifted(&Rc::new(scene.scan.clone()), &clicked(scene));
            let (art, paper) = (unit(&mut lift), own_paper(&lift));
            let back = identity(&scene.scan, &art, &paper, |i| art[i][3] > 0.0);
            Ok((art, Some(back.mean)))
        }
    }
}

fn judged(seed: u64, choices: &Choices) -> Result<Judged, Failure> {
    let conditions = Conditions::of(seed, choices.size);
    let scene = conditions.scene();
    let (art, identity) = art(seed, &scene, &choices.source)?;
    let score = Judge::new(&scene).score(&art);
    Ok(Judged { seed, conditions: conditions.to_string(), kinds: conditions.kinds(), score, identity })
}

fn written(seed: u64, choices: &Choices, folder: &Path) -> Result<(), Failure> {
    let (scene, folder) = (Conditions::of(seed, choices.size).scene(), folder.join(seed.to_string()));
    write_scene(&scene, &folder).map_err(|e| e.to_string())?;
    Ok(fs::write(folder.join("pockets.json"), pockets_json(&scene))?)
}

/// Does a piece of work for every seed, some at a time; the first failure is the answer, the rest is done nevertheless.
fn for_each_seed((from, to): (u64, u64), work: impl Fn(u64) -> Result<(), Failure> + Sync) -> Result<(), Failure> {
    let (next, failure) = (AtomicU64::new(from), Mutex::new(Ok(())));
    thread::scope(|scope| {
        for _ in 0..AT_A_TIME {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed > to {
                        break;
                    }
                    if let Err(e) = work(seed) {
                        eprintln!("{seed:>5}  {e}");
                        let mut first = failure.lock().expect("no panic");
                        *first = std::mem::replace(&mut *first, Ok(())).and(Err(e));
                    }
                }
            });
        }
    });
    failure.into_inner().expect("no panic")
}

fn main() -> Result<(), Failure> {
    let choices = Choices::read(std::env::args().skip(1))?;
    if let Some(folder) = &choices.write {
        return for_each_seed(choices.seeds, |seed| written(seed, &choices, folder));
    }
    let scenes = Mutex::new(Vec::new());
    let done = for_each_seed(choices.seeds, |seed| {
        let judged = judged(seed, &choices)?;
        println!("{}", line(&judged));
        scenes.lock().expect("no panic").push(judged);
        Ok(())
    });
    let mut scenes = scenes.into_inner().expect("no panic");
    scenes.sort_by_key(|judged| judged.seed);
    let table = table(&scenes, NAMED);
    println!("\n{table}");
    if let Some(folder) = &choices.out {
        fs::create_dir_all(folder)?;
        fs::write(folder.join("table.txt"), &table)?;
        let mut pictures = ContactSheet::default();
        for worst in from_the_worst(&scenes).into_iter().take(NAMED) {
            let scene = Conditions::of(worst.seed, choices.size).scene();
            pictures.add(&scene, &art(worst.seed, &scene, &choices.source)?.0);
        }
        if let Some(picture) = pictures.picture() {
            fs::write(folder.join("worst.png"), sheet_png(&picture).map_err(|e| e.to_string())?)?;
        }
    }
    done
}
