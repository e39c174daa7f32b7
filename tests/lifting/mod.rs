//! What the tests of whole lifts share, and the table of truth scenes with them.

#![allow(dead_code, reason = "each file uses its own part")]

use std::rc::Rc;

use barewash::color::transfer::linear;
use barewash::decode;
use barewash::image::{Pixels, Samples, Sheet};
use barewash::matte::island::Decision;
use barewash::pipeline::recipe::{Decided, Islands, Stroke};
use barewash::pipeline::{Lift, Recipe};
use barewash::units::Ppi;
use barewash_support::files;
use barewash_support::random::Random;
use barewash_support::render::scanner::Jpeg;
use barewash_support::render::truth::Scene;

/// A finished lift.
pub(crate) fn lifted(sheet: &Rc<Sheet>, recipe: &Recipe) -> Lift {
    let mut lift = Lift::new(Rc::clone(sheet));
    lift.set_recipe(recipe.clone());
    lift.finish().expect("memory");
    lift
}

/// A square sheet at 300 ppi with a color at each pixel, and a little noise.
pub(crate) fn painted(side: usize, seed: u64, noise: f32, color: impl Fn([usize; 2]) -> [f32; 3]) -> Rc<Sheet> {
    let mut random = Random::new(seed);
    let mut samples = Vec::with_capacity(side * side * 3);
    for i in 0..side * side {
        let color = color([i % side, i / side]);
        let light = random.normals();
        samples.extend([0, 1, 2].map(|c| (color[c] + noise * light[c]) as u8));
    }
    Rc::new(Sheet::new(side, side, Samples::Eight(samples), Some(Ppi(300.0))))
}

/// Linear light of a count 0..255.
pub(crate) fn light(count: f32) -> f32 {
    linear(f64::from(count) / 255.0) as f32
}

/// The same sheet as a JPEG of this quality brings it.
pub(crate) fn through_jpeg(sheet: &Sheet, quality: u8) -> Rc<Sheet> {
    let file = files::jpeg(sheet, Jpeg { quality, halved: false }).expect("a JPEG");
    let mut sheet = decode::read(&file).expect("a scan").sheet;
    sheet.set_ppi(Some(Ppi(300.0)));
    Rc::new(sheet)
}

/// What the painter decides on a scene: every pocket is clicked, all else is kept.
pub(crate) fn clicked(scene: &Scene) -> Recipe {
    Recipe {
        islands: Islands::Keep,
        decided: scene.pockets.iter().map(|at| Decided { at: at.map(|v| v as u32), decision: Decision::Clear }).collect(),
        ..Recipe::default()
    }
}

/// The pixels that an outline encloses, by the even-odd rule: each row is crossed by its upright segments.
pub(crate) fn enclosed(outline: &[f32], [width, height]: [usize; 2]) -> Vec<[usize; 2]> {
    let mut crossings: Vec<Vec<usize>> = vec![Vec::new(); height];
    for line in outline.chunks_exact(4) {
        let [x0, y0, x1, y1] = [line[0], line[1], line[2], line[3]];
        assert!((x0 == x1) != (y0 == y1), "upright or level, and not a point: {line:?}");
        if x0 == x1 {
            let (top, bottom) = (y0.min(y1) as usize, y0.max(y1) as usize);
            crossings[top..bottom].iter_mut().for_each(|row| row.push(x0 as usize));
        }
    }
    let mut inside = Vec::new();
    for (y, row) in crossings.iter_mut().enumerate() {
        row.sort_unstable();
        assert!(row.len().is_multiple_of(2), "row {y} is left as often as it is entered");
        for pair in row.chunks_exact(2) {
            inside.extend((pair[0]..pair[1].min(width)).map(|x| [x, y]));
        }
    }
    inside
}

/// The art's bytes, RGBA.
pub(crate) fn bytes(lift: &mut Lift) -> Vec<u8> {
    match lift.art().expect("memory").pixels {
        Pixels::Eight(v) => v,
        Pixels::Sixteen(_) => panic!("an art in memory has 8 bits"),
    }
}

/// The art with values 0..1.
pub(crate) fn unit(lift: &mut Lift) -> Vec<[f32; 4]> {
    bytes(lift).chunks_exact(4).map(|p| [0, 1, 2, 3].map(|c| f32::from(p[c]) / 255.0)).collect()
}

/// The paper that the lift measured, pixel by pixel.
pub(crate) fn own_paper(lift: &Lift) -> Vec<[f32; 3]> {
    let (sheet, field) = (lift.sheet(), lift.field().expect("a paper"));
    let (w, h) = (sheet.width(), sheet.height());
    (0..w * h).map(|i| field.pixel(i % w, i / w)).collect()
}

/// Painted area in pixels: alpha summed.
pub(crate) fn area(lift: &mut Lift) -> f64 {
    bytes(lift).chunks_exact(4).map(|p| f64::from(p[3]) / 255.0).sum()
}

/// A recipe with values anywhere in their ranges, for a sheet of this size; some of its places lie outside.
pub(crate) fn any_recipe(random: &mut Random, [width, height]: [usize; 2]) -> Recipe {
    let mut recipe = Recipe::default();
    for _ in 0..random.below(6) {
        edit(random, &mut recipe, [width, height]);
    }
    recipe
}

/// Changes one thing in a recipe.
pub(crate) fn edit(random: &mut Random, recipe: &mut Recipe, [width, height]: [usize; 2]) {
    let percent = |random: &mut Random| match random.below(5) {
        0 => 0.0,
        1 => 100.0,
        2 => 50.0,
        _ => hundredths(f64::from(random.between(0.0, 100.0))),
    };
    let decision = |random: &mut Random| if random.chance(0.5) { Decision::Keep } else { Decision::Clear };
    let place = |random: &mut Random| [random.below(width + width / 4 + 1) as u32, random.below(height + height / 4 + 1) as u32];
    match random.below(16) {
        0 => recipe.tolerance = percent(random),
        1 => recipe.soft = percent(random),
        2 => recipe.rim = percent(random),
        3 => recipe.body = percent(random),
        4 => recipe.islands = [Islands::Propose, Islands::Keep, Islands::Clear][random.below(3)],
        5 | 6 => {
            let (at, decision) = (place(random), decision(random));
            recipe.decided.push(Decided { at, decision });
        }
        7 => {
            recipe.decided.pop();
        }
        8 => recipe.tidy.specks_mm = hundredths(f64::from(random.between(0.0, 10.0))),
        9 => recipe.tidy.hairs = decision(random),
        10 => recipe.tidy.pencil = decision(random),
        11 => recipe.tidy.stains = decision(random),
        12 => recipe.tidy.sheet_edge = decision(random),
        13 => {
            let colors = [None, Some([250, 248, 240]), Some([40, 40, 40]), Some([0; 3]), Some([255; 3])];
            recipe.paper = colors[random.below(colors.len())];
        }
        14 => {
            let reach = width.max(height) as f32;
            let point = |random: &mut Random| [0; 2].map(|_| hundredths(f64::from(random.between(-0.5 * reach, 1.5 * reach))));
            let path = (0..random.below(4)).map(|_| point(random)).collect();
            let radius = hundredths(f64::from(random.between(0.5, 0.1 * reach + 1.0)));
            recipe.strokes.push(Stroke { decision: decision(random), radius, path });
        }
        _ => {
            recipe.strokes.pop();
        }
    }
}

/// As the page sends numbers.
fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
