//! A random composition that holds every kind of paint and every kind of mark.

use super::palette::Palette;
use crate::random::Random;
use crate::render::brush::Hole;
use crate::render::element::Element;
use crate::render::marks::Mark;
use crate::render::outline::{blade, blob, curve, ellipse, unsteady};
use crate::render::painting::{Painting, Wash};
use crate::render::paper::{PaperKind, Tint, Tooth};
use crate::render::pigment::UMBER;
use crate::render::scanner::Scanner;
use crate::render::stroke::Stroke;
use crate::render::truth::{Scene, scan};
use std::f32::consts::TAU;

/// Resolution of the truth scenes.
pub const PPI: f32 = 300.0;

/// A scene of every kind of paint and mark. `size`: width and height in pixels, 300 x 375 at least; 600 x 750 is a good
/// size for tests. The seed decides composition, pigments, paper (whites, cream and light gray; hot, cold or rough), scanner
/// and bit depth.
#[must_use]
pub fn truth_scene(seed: u64, size: [usize; 2]) -> Scene {
    let mut random = Random::new(seed ^ 0x7215_ce4e);
    let tints = [Tint::WarmWhite, Tint::Cream, Tint::BrightWhite, Tint::CoolWhite, Tint::Ivory, Tint::PaleGray];
    let tooths = [Tooth::Hot, Tooth::Cold, Tooth::Cold, Tooth::Rough];
    let kind = PaperKind {
        tint: tints[random.below(tints.len())],
        tooth: tooths[random.below(tooths.len())],
        uneven: random.between(0.02, 0.055),
        ..PaperKind::default()
    };
    let scanner = Scanner {
        blur: random.between(0.6, 1.2),
        noise: [random.between(0.0015, 0.0028), random.between(0.003, 0.0055)],
        bits: if random.chance(0.25) { 16 } else { 8 },
        ..Scanner::default()
    };
    truth_scene_on(seed, size, kind, &scanner)
}

/// The composition of [`truth_scene`] on a paper and scanner of one's own choice.
#[must_use]
pub fn truth_scene_on(seed: u64, size: [usize; 2], kind: PaperKind, scanner: &Scanner) -> Scene {
    let mut painting = Painting::new(seed, size, PPI, kind);
    let mut random = Random::new(seed.wrapping_add(77));
    paint(&mut painting, &mut random, Palette::Transparent);
    soil(&mut painting, &mut random);
    scan(painting, scanner)
}

/// Cells of a 4 x 5 grid, one element each, in random order: everything is on the sheet and little of it hides another.
fn cells(painting: &Painting, random: &mut Random) -> (Vec<[f32; 2]>, f32) {
    let [width, height] = painting.size.map(|v| v as f32);
    let (left, top) = (0.09 * width, 0.08 * height);
    let (across, down) = ((width - 2.0 * left) / 4.0, (height - 2.0 * top) / 5.0);
    let mut cells: Vec<[f32; 2]> = (0..20)
        .map(|i| {
            let (x, y) = (left + across * ((i % 4) as f32 + 0.5), top + down * ((i / 4) as f32 + 0.5));
            [x + across * random.between(-0.12, 0.12), y + down * random.between(-0.12, 0.12)]
        })
        .collect();
    for i in (1..cells.len()).rev() {
        cells.swap(i, random.below(i + 1));
    }
    (cells, across.min(down) * 0.5)
}

/// Paints the composition. Its elements grow with the sheet; lines are as wide in millimeters at any resolution.
pub(super) fn paint(p: &mut Painting, random: &mut Random, palette: Palette) {
    let (cells, r) = cells(p, random);
    let mut next = cells.into_iter();
    let mut cell = || next.next().expect("a cell for every element");
    let turn = |random: &mut Random| random.between(0.0, TAU);
    let line = p.ppi / PPI;

    // Crisp areas, one with a pocket of paper and one with a reserved white.
    for hole in [None, Some(Hole::Pocket), Some(Hole::Reserved)] {
        let (at, pigment) = (cell(), palette.strong(random));
        let outline = blob(random, at, [0.85 * r, 0.75 * r], 0.08, 7, 0.0);
        let inner = ellipse([at[0] + 0.1 * r, at[1] - 0.1 * r], [0.28 * r, 0.2 * r], turn(random));
        let holes: Vec<_> = hole.map(|kind| (inner, kind)).into_iter().collect();
        let wash = Wash { body: random.between(0.35, 0.9), ..Wash::default() };
        p.wash(&[outline], &holes, &pigment, &wash, Element::Hard);
    }
    // Wet-edged washes, and a glaze across two of them.
    let mut middles = Vec::new();
    for _ in 0..3 {
        let (at, pigment) = (cell(), palette.strong(random));
        middles.push(at);
        let angle = turn(random);
        let outline = blob(random, at, [0.9 * r, 0.7 * r], 0.14, 9, angle);
        let outline = unsteady(random, &outline, 0.02 * r, 0.3 * r);
        let wash = Wash { body: random.between(0.15, 0.45), tideline: random.between(0.4, 0.9), ..Wash::default() };
        p.wash(&[outline], &[], &pigment, &wash, Element::Wash);
    }
    let glaze = Wash { body: 0.15, tideline: 0.4, ..Wash::default() };
    let (at, pigment) = (middles[0], palette.strong(random));
    let over = blob(random, [at[0] + 0.5 * r, at[1]], [0.55 * r, 0.45 * r], 0.1, 7, 0.0);
    p.wash(&[over], &[], &pigment, &glaze, Element::Wash);
    // Wet-in-wet washes that run out to nothing.
    for _ in 0..2 {
        let (at, pigment) = (cell(), palette.strong(random));
        let outline = blob(random, at, [1.05 * r, 0.9 * r], 0.08, 6, 0.0);
        let wash = Wash { body: random.between(0.3, 0.7), ..Wash::default() };
        let direction = turn(random);
        p.fading_wash(&[outline], direction, 1.3, &pigment, &wash);
    }
    // Dry brush.
    for _ in 0..2 {
        let (at, pigment) = (cell(), palette.strong(random));
        let bend = random.between(-0.4, 0.4) * r;
        let path =
            curve(&[[at[0] - 0.9 * r, at[1] + bend], [at[0], at[1] - 0.3 * bend], [at[0] + 0.9 * r, at[1] + 0.2 * bend]], 24);
        let body = random.between(0.5, 1.0);
        p.dry_brush(&Stroke::new(path, &[0.5 * r, 0.55 * r, 0.45 * r]), &pigment, body, 0.5, 0.8);
    }
    // Lines from hair-thin to thick, ink and paint.
    for k in 0..2 {
        let at = cell();
        for j in 0..5 {
            let y = at[1] + r * (0.32 * j as f32 - 0.7);
            let sway = random.between(-0.2, 0.2) * r;
            let path = curve(&[[at[0] - 0.9 * r, y], [at[0] - 0.2 * r, y + sway], [at[0] + 0.9 * r, y - sway]], 24);
            let width = line * [0.7, 1.2, 2.0, 3.2, 5.5][j];
            let pigment = if k == 0 { palette.ink() } else { palette.strong(random) };
            p.line(&Stroke::new(path, &[width, 0.6 * width, 1.2 * width, 0.3 * width]), &pigment, random.between(0.5, 1.0));
        }
    }
    // A closed loop of line: its inside is a pocket.
    let at = cell();
    let mut path = ellipse(at, [0.6 * r, 0.45 * r], turn(random));
    path.push(path[0]);
    p.line(&Stroke::new(path, &[2.5, 3.5, 2.0].map(|width| line * width)), &palette.ink(), 0.8);
    // Pale washes near the limit of the eye and well above it.
    for difference in [1.5, 2.5, 4.0] {
        let at = cell();
        let pigment = palette.pale(random);
        let angle = turn(random);
        let outline = blob(random, at, [0.85 * r, 0.7 * r], 0.1, 7, angle);
        p.pale(&[outline], &[], &pigment, difference);
    }
    // White body color: alone on paper, and as highlights on a wash.
    let at = cell();
    let outline = blob(random, at, [0.7 * r, 0.55 * r], 0.12, 7, 0.0);
    p.gouache(&[outline], 1.6);
    let at = cell();
    let (pigment, outline) = (palette.strong(random), blob(random, at, [0.85 * r, 0.75 * r], 0.1, 7, 0.0));
    p.wash(&[outline], &[], &pigment, &Wash { body: 0.6, ..Wash::default() }, Element::Hard);
    for _ in 0..4 {
        let spot = [at[0] + random.between(-0.4, 0.4) * r, at[1] + random.between(-0.4, 0.4) * r];
        let radii = [random.between(0.05, 0.12) * r, random.between(0.05, 0.09) * r];
        let dab = blob(random, spot, radii, 0.1, 5, 0.0);
        p.gouache(&[dab], 1.8);
    }
    // Leaves, and splatter.
    let (at, pigment) = (cell(), palette.strong(random));
    for k in 0..3 {
        let leaf = blade([at[0] - 0.7 * r, at[1]], 1.4 * r, 0.32 * r, 0.5 * (k as f32 - 1.0), 0.08);
        let wash = Wash { body: random.between(0.2, 0.6), tideline: 0.5, ..Wash::default() };
        p.wash(&[leaf], &[], &pigment, &wash, Element::Wash);
    }
    let (at, pigment) = (cell(), palette.strong(random));
    p.splatter(at, 28, 1.1 * r, 0.09 * r, &pigment, 0.5);
}

fn soil(p: &mut Painting, random: &mut Random) {
    let [width, height] = p.size.map(|v| v as f32);
    let unit = width.min(height);
    p.marks.push(Mark::Dust { count: 18 });
    let from = [width * random.between(0.1, 0.8), height * random.between(0.1, 0.8)];
    let bend = unit * random.between(0.02, 0.06);
    let hair = curve(
        &[
            from,
            [from[0] + 0.05 * unit, from[1] + bend],
            [from[0] + 0.10 * unit, from[1] - bend],
            [from[0] + 0.17 * unit, from[1]],
        ],
        20,
    );
    p.marks.push(Mark::Hair { path: hair, width: 1.5 });
    let y = height * random.between(0.2, 0.8);
    let line = vec![[0.07 * width, y], [0.93 * width, y + height * random.between(-0.05, 0.05)]];
    p.marks.push(Mark::Graphite { path: line, width: 1.7, dark: 0.17 });
    let center = [width * random.between(0.15, 0.85), height * random.between(0.15, 0.85)];
    p.marks.push(Mark::Smudge { center, radius: 0.06 * unit, dark: 0.05 });
    let start = [width * random.between(0.1, 0.6), height * random.between(0.1, 0.9)];
    let streak = curve(&[start, [start[0] + 0.12 * unit, start[1] + 0.03 * unit], [start[0] + 0.25 * unit, start[1]]], 16);
    p.marks.push(Mark::Stray { stroke: Stroke::new(streak, &[0.022 * unit, 0.012 * unit]), pigment: UMBER, difference: 3.0 });
    let m = 0.03 * unit;
    let tilt = random.between(-0.006, 0.006);
    let corners = [[m, 0.8 * m], [width - 0.7 * m, m], [width - 0.9 * m, height - 1.1 * m], [0.8 * m, height - 0.6 * m]];
    let sheet = corners.iter().map(|c| [c[0] - tilt * (c[1] - 0.5 * height), c[1] + tilt * (c[0] - 0.5 * width)]).collect();
    let lid = if random.chance(0.5) { [0.93, 0.93, 0.925] } else { [0.018, 0.018, 0.02] };
    p.marks.push(Mark::SheetEdge { sheet, lid });
}
