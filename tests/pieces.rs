//! What lies apart from the painting can be turned over, and what looks like it goes along.

mod lifting;

use std::rc::Rc;

use barewash::image::Sheet;
use barewash::matte::island::Decision;
use barewash::pipeline::recipe::Decided;
use barewash::pipeline::{Lift, Recipe};

use lifting::{bytes, lifted, painted};

const SIDE: usize = 600;
const PAPER: [f32; 3] = [240.0, 236.0, 226.0];
const LEAF: [f32; 3] = [50.0, 110.0, 70.0];
const DROP: [f32; 3] = [150.0, 60.0, 60.0];
/// The drops, 16 pixels wide and high: five in a row; and a bar, of another kind, far below.
const DROPS: [[usize; 2]; 5] = [[320, 80], [360, 84], [400, 78], [440, 82], [480, 80]];
const BAR: [usize; 2] = [60, 540];
/// A scrap at the right edge of the leaf, as large.
const SCRAP: [usize; 2] = [260, 300];
const LIGHT: [f32; 3] = [248.0, 246.0, 242.0];

fn sheet() -> Rc<Sheet> {
    let within = |[x, y]: [usize; 2], [left, top]: [usize; 2], [w, h]: [usize; 2]| {
        (left..left + w).contains(&x) && (top..top + h).contains(&y)
    };
    painted(SIDE, 4, 0.8, |at| {
        if within(at, [60, 60], [200, 400]) || within(at, BAR, [300, 24]) {
            LEAF
        } else if DROPS.iter().any(|drop| within(at, *drop, [16, 16])) {
            DROP
        } else if within(at, SCRAP, [16, 16]) {
            LIGHT
        } else {
            PAPER
        }
    })
}

fn alpha(art: &[u8], [x, y]: [usize; 2]) -> u8 {
    art[4 * ((y + 8) * SIDE + x + 8) + 3]
}

fn decided(lift: &mut Lift, decisions: &[([usize; 2], Decision)]) -> Vec<u8> {
    let decided = decisions.iter().map(|(at, decision)| Decided { at: at.map(|v| v as u32 + 8), decision: *decision });
    lift.set_recipe(Recipe { decided: decided.collect(), ..Recipe::default() });
    bytes(lift)
}

#[test]
fn one_piece_speaks_for_those_like_it() {
    let mut lift = lifted(&sheet(), &Recipe::default());
    let before = bytes(&mut lift);
    assert!(DROPS.iter().all(|drop| alpha(&before, *drop) == 255), "drops of paint stay unasked");
    let [x, y] = DROPS[1].map(|v| v + 8);
    let pointed = lift.piece_at(x, y, 0).expect("a drop is a piece");
    assert!(!pointed.cleared && pointed.follow == DROPS.len() - 1, "{pointed:?}");
    assert_eq!(lift.piece_at(100, 100, 3), None, "the leaf is the painting");
    assert_eq!(lift.piece_at(560, 300, 3), None, "nor is paper a piece");

    assert_eq!(lift.piece_at(x, DROPS[1][1] - 5, 8), Some(pointed), "it is enough to point near it");
    assert_eq!(lift.piece_at(x, DROPS[1][1] - 5, 3), None);

    let cleared = decided(&mut lift, &[(DROPS[1], Decision::Clear)]);
    assert!(DROPS.iter().all(|drop| alpha(&cleared, *drop) == 0), "one goes, and all like it");
    assert_eq!(alpha(&cleared, BAR), 255, "what looks otherwise stays");
    assert!(lift.piece_at(x, y, 0).expect("still a piece").cleared);

    let but_one = decided(&mut lift, &[(DROPS[1], Decision::Clear), (DROPS[3], Decision::Keep)]);
    assert_eq!((alpha(&but_one, DROPS[1]), alpha(&but_one, DROPS[3])), (0, 255), "each word counts where it was said");
    let kept = decided(&mut lift, &[(DROPS[1], Decision::Clear), (DROPS[1], Decision::Keep)]);
    assert!(kept == before, "the last word counts");
    assert!(decided(&mut lift, &[]) == before, "and all of it can be taken back");
}

/// What was found to be paper can be had back: a light scrap at the edge of the leaf, as sharpening leaves it.
#[test]
fn a_cleared_scrap_comes_back() {
    let at = |art: &[u8]| alpha(art, SCRAP);
    let mut lift = lifted(&sheet(), &Recipe::default());
    let before = bytes(&mut lift);
    let [x, y] = SCRAP.map(|v| v + 8);
    assert_eq!((at(&before), lift.piece_at(x, y, 0).map(|piece| piece.cleared)), (0, Some(true)), "the scrap is gone");
    assert_eq!(at(&decided(&mut lift, &[(SCRAP, Decision::Keep)])), 255);
    assert!(decided(&mut lift, &[]) == before, "and goes again");
}
