//! The sheet itself: where everything lies.

use super::kit::Pose;
use super::spire::{Coat3, Coil};
use super::{crab, glass, grass, limpet, palette, pebble, scallop, spire, star, wrack};
use crate::render::element::Element;
use crate::render::marks::Mark;
use crate::render::outline::{blob, curve, unsteady};
use crate::render::painting::{Coat, Painting, Wash};
use crate::render::paper::{PaperKind, Tint, Tooth};
use crate::render::scanner::Scanner;
use crate::render::truth::{Scene, scan};

/// Resolution of the studio's scans.
const PPI: f32 = 300.0;

/// The studio's paper: cold-pressed, natural white, lit a little unevenly. Its relief is
/// gentle, so that a scan of it stays small as JPEG.
fn paper() -> PaperKind {
    PaperKind { tint: Tint::Own([0.868, 0.842, 0.782]), tooth: Tooth::Cold, relief: 0.61, uneven: 0.035, cloud: 0.004 }
}

fn scanner() -> Scanner {
    Scanner { blur: 0.85, noise: [0.0010, 0.0022], ..Scanner::default() }
}

/// The large whelk.
const WHELK: Coil = Coil { width: 0.270, last: 0.44, growth: 1.52, bulge: 0.20, slope: 0.30, cords: 6.0, canal: true };

/// A periwinkle.
const PERIWINKLE: Coil = Coil { width: 0.42, last: 0.36, growth: 1.75, bulge: 0.16, slope: 0.24, cords: 7.0, canal: false };

fn whelk(p: &mut Painting, pose: &Pose, seed: u64) {
    let coat = Coat3 {
        pale: (palette::sand(), 0.20),
        main: (palette::sienna(), 0.22),
        dark: (palette::weed_brown(), 0.42),
        flames: 1.0,
    };
    spire::paint(p, pose, &WHELK, &coat, seed);
}

fn periwinkle(p: &mut Painting, pose: &Pose, yellow: bool, seed: u64) {
    let coat = if yellow {
        Coat3 { pale: (palette::ochre(), 0.26), main: (palette::amber(), 0.22), dark: (palette::sienna(), 0.22), flames: 0.5 }
    } else {
        Coat3 { pale: (palette::sand(), 0.16), main: (palette::slate(), 0.42), dark: (palette::sepia(), 0.32), flames: 0.7 }
    };
    spire::paint(p, pose, &PERIWINKLE, &coat, seed);
}

/// The water that the eelgrass stands in: a pale wash with a tideline, a second one laid while the first was damp.
fn pool(p: &mut Painting) {
    let body = p.pale_body(&palette::aqua(), 5.0);
    let mut random = p.chance_for(12);
    let outline = blob(&mut random, [1900.0, 2745.0], [415.0, 140.0], 0.10, 9, -0.04);
    let outline = unsteady(&mut random, &outline, 5.0, 210.0);
    let wash = Wash { body, variation: 0.22, tideline: 0.9, tide_mm: 0.30, ..Wash::default() };
    p.wash(&[outline], &[], &palette::aqua(), &wash, Element::Wash);
    let deeper = blob(&mut random, [1960.0, 2755.0], [300.0, 95.0], 0.10, 7, 0.0);
    if let Some(cover) = p.cover(&[deeper]) {
        let soft = cover.within(cover.frame.grown(90, p.size)).blurred(26.0);
        let pigment = palette::aqua();
        let depth = p.depth(&soft, &pigment, &Wash { body: 1.5 * body, variation: 0.25, ..Wash::default() });
        p.glaze(&soft, &[Coat { pigment: &pigment, depth }]);
    }
}

/// The demonstration sheet: 8 x 10 inches at 300 ppi.
#[must_use]
pub fn demo_sheet() -> Scene {
    let mut p = Painting::new(1871, [2400, 3000], PPI, paper());
    let p = &mut p;
    pool(p);
    wrack::paint(p, &Pose::new([470.0, 2810.0], -1.53, 590.0), 5, 23);
    grass::paint(p, [2010.0, 2800.0], 900.0, [-2.35, -1.30], 11, 31);
    scallop::paint(p, &Pose::new([655.0, 1090.0], -0.12, 760.0), 41);
    whelk(p, &Pose::new([1590.0, 200.0], -0.30, 1020.0), 51);
    crab::paint(p, &Pose::new([1440.0, 1620.0], 0.08, 270.0), 61);
    star::paint(p, &Pose::new([1190.0, 2420.0], 0.2, 310.0), 71);
    glass::paint(p, &Pose::new([1290.0, 400.0], 0.5, 128.0), 4, 0.78, &palette::aqua(), 0.30, 81);
    glass::paint(p, &Pose::new([1620.0, 2690.0], -0.2, 140.0), 5, 0.72, &palette::bottle(), 0.34, 82);
    glass::paint(p, &Pose::new([1800.0, 2840.0], 0.35, 88.0), 3, 0.80, &palette::amber(), 0.34, 83);
    glass::paint(p, &Pose::new([2150.0, 1190.0], 0.9, 104.0), 4, 0.74, &palette::cobalt(), 0.36, 84);
    glass::paint(p, &Pose::new([790.0, 2790.0], 0.1, 92.0), 4, 0.8, &palette::aqua(), 0.20, 85);
    limpet::paint(p, &Pose::new([1300.0, 890.0], 0.2, 136.0), &palette::slate(), 91);
    periwinkle(p, &Pose::new([870.0, 1240.0], 0.55, 220.0), true, 92);
    periwinkle(p, &Pose::new([2130.0, 330.0], -0.5, 250.0), false, 93);
    scallop::paint(p, &Pose::new([2190.0, 1700.0], 0.35, 190.0), 46);
    pebble::paint(p, &Pose::new([1010.0, 2830.0], -0.1, 112.0), 0.70, &palette::slate(), true, 94);
    pebble::paint(p, &Pose::new([1290.0, 2850.0], 0.2, 82.0), 0.74, &palette::sand(), false, 95);
    let drops = palette::grass_green();
    p.splatter([1760.0, 2330.0], 30, 260.0, 8.0, &drops, 0.30);
    p.splatter([960.0, 2180.0], 22, 200.0, 7.0, &palette::coral(), 0.34);
    p.splatter([1900.0, 1020.0], 16, 170.0, 6.0, &palette::slate(), 0.30);
    finish(p)
}

/// Dust, a hair, pencil guidelines; then the scan.
fn finish(p: &mut Painting) -> Scene {
    let [width, height] = p.size.map(|v| v as f32);
    p.marks.push(Mark::Dust { count: (width * height / 120_000.0) as usize });
    let hair =
        [[0.86, 0.425], [0.90, 0.412], [0.925, 0.430], [0.918, 0.452], [0.945, 0.462]].map(|[x, y]| [x * width, y * height]);
    p.marks.push(Mark::Hair { path: curve(&hair, 24), width: 1.7 });
    let guide = vec![[0.045 * width, 0.4085 * height], [0.955 * width, 0.4068 * height]];
    p.marks.push(Mark::Graphite { path: guide, width: 2.0, dark: 0.20 });
    let base = vec![[0.10 * width, 0.9655 * height], [0.93 * width, 0.9672 * height]];
    p.marks.push(Mark::Graphite { path: base, width: 1.8, dark: 0.17 });
    let blank = Painting::new(0, [1, 1], PPI, paper());
    scan(std::mem::replace(p, blank), &scanner())
}

/// A small study with one subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Study {
    /// A scallop and a periwinkle.
    Shell,
    /// The shore crab.
    Crab,
    /// Three pieces of sea-glass.
    SeaGlass,
}

/// A sheet of the same studio, 4 x 5 inches at 300 ppi.
#[must_use]
pub fn study(which: Study) -> Scene {
    let mut p = Painting::new(1900 + which as u64, [1200, 1500], PPI, paper());
    let p = &mut p;
    match which {
        Study::Shell => {
            scallop::paint(p, &Pose::new([580.0, 960.0], -0.1, 650.0), 141);
            periwinkle(p, &Pose::new([900.0, 1120.0], 0.4, 230.0), false, 142);
        }
        Study::Crab => crab::paint(p, &Pose::new([600.0, 780.0], -0.06, 265.0), 161),
        Study::SeaGlass => {
            glass::paint(p, &Pose::new([470.0, 560.0], 0.4, 210.0), 4, 0.78, &palette::aqua(), 0.30, 181);
            glass::paint(p, &Pose::new([780.0, 830.0], -0.3, 170.0), 5, 0.74, &palette::bottle(), 0.34, 182);
            glass::paint(p, &Pose::new([430.0, 1010.0], 0.9, 130.0), 3, 0.84, &palette::amber(), 0.34, 183);
        }
    }
    finish(p)
}
