//! Writes a truth scene to look at: `cargo run --release --example truth_scene -- SEED WIDTH HEIGHT OUT_DIR`.

use barewash_support::scenes::truth::truth_scene;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let mut number = |default: u64| arguments.next().map_or(Ok(default), |v| v.parse::<u64>());
    let (seed, width, height) = (number(1)?, number(600)? as usize, number(750)? as usize);
    let out = std::path::PathBuf::from(arguments.next().unwrap_or_else(|| ".".into()));
    let scene = truth_scene(seed, [width, height]);
    barewash_support::files::write_scene(&scene, &out)?;
    Ok(())
}
