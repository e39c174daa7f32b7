//! Judgments that were learned from labeled examples: boosted decision trees.
//!
//! Trees by gradient boosting: Friedman, "Greedy function approximation: a gradient boosting machine", Annals of Statistics 29,
//! 2001. Two things are alike as far as the trees sort them alike: Breiman, "Random forests", Machine Learning 45, 2001, where it
//! is called proximity. What the trees say is written by `tests/learning/learn.py` from labeled paintings and rendered scenes.

use crate::color::math;

pub mod parts;
pub mod scraps;
pub mod whites;

/// Splits from the root to a leaf.
const DEPTH: usize = 3;
/// Trees that judge whites.
pub const WHITES: usize = 200;
/// Trees that judge loose parts, and what is pale and hangs on paint.
pub const PIECES: usize = 100;

/// A feature, and the value up to which it goes left.
#[derive(Debug)]
pub struct Split(usize, f32);

/// A tree of full depth: the branches of split `i` are `2 i + 1` and `2 i + 2`.
#[derive(Debug)]
pub struct Tree {
    splits: [Split; (1 << DEPTH) - 1],
    /// What it adds to the log odds, left to right.
    leaves: [f32; 1 << DEPTH],
}

impl Tree {
    fn leaf(&self, features: &[f32]) -> usize {
        let mut place = 0;
        for _ in 0..DEPTH {
            let Split(feature, most) = self.splits[place];
            place = 2 * place + if features[feature] <= most { 1 } else { 2 };
        }
        place + 1 - self.leaves.len()
    }
}

/// Trees that judge together.
#[derive(Debug)]
pub struct Forest<const TREES: usize> {
    /// Log odds before any tree has spoken.
    start: f32,
    trees: [Tree; TREES],
}

impl<const TREES: usize> Forest<TREES> {
    /// Sorts something by its features.
    ///
    /// # Panics
    /// When there are fewer features than it was learned from.
    #[must_use]
    pub fn sort(&self, features: &[f32]) -> Sorted<TREES> {
        let mut leaves = [0; TREES];
        leaves.iter_mut().zip(&self.trees).for_each(|(leaf, tree)| *leaf = tree.leaf(features) as u8);
        Sorted(leaves)
    }

    /// The log odds of what it was learned to tell.
    #[must_use]
    pub fn log_odds(&self, sorted: &Sorted<TREES>) -> f32 {
        self.trees.iter().zip(sorted.0).fold(self.start, |sum, (tree, leaf)| sum + tree.leaves[usize::from(leaf)])
    }
}

/// Where each tree sorts something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sorted<const TREES: usize>([u8; TREES]);

impl<const TREES: usize> Sorted<TREES> {
    /// Sorted by no tree.
    pub const NOT: Self = Self([0; TREES]);

    /// The share of trees that sort two things alike, 0..1.
    #[must_use]
    pub fn likeness(&self, other: &Self) -> f32 {
        self.0.iter().zip(other.0).filter(|(a, b)| **a == *b).count() as f32 / TREES as f32
    }

    /// How much of what is said of one thing holds for another at this `offset`, 0..1, when a word carries as far as `near`: less
    /// as they look less alike, and as they lie apart.
    #[must_use]
    pub fn holds(&self, other: &Self, offset: [f32; 2], near: f32) -> f32 {
        let [dx, dy] = offset.map(|v| v / near);
        let off = dx * dx + dy * dy;
        if off >= 9.0 {
            return 0.0;
        }
        let likeness = self.likeness(other);
        likeness * likeness * math::expf(-0.5 * off)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn goes_left_up_to_the_value_and_right_beyond() {
        let split = |value| Split(0, value);
        let tree = Tree {
            splits: [split(4.0), split(2.0), split(6.0), split(1.0), split(3.0), split(5.0), split(7.0)],
            leaves: [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0],
        };
        for (value, leaf) in [(0.5, 0), (1.0, 0), (1.5, 1), (2.5, 2), (4.0, 3), (4.5, 4), (5.5, 5), (6.5, 6), (9.0, 7)] {
            assert_eq!(tree.leaf(&[value]), leaf, "{value}");
        }
    }

    #[test]
    fn a_thing_is_like_itself() {
        let (one, other) = (whites::FOREST.sort(&[0.01; 40]), whites::FOREST.sort(&[9.0; 40]));
        assert_eq!(one.likeness(&one), 1.0);
        assert!(one.likeness(&other) < 1.0 && one.likeness(&other) == other.likeness(&one));
    }
}
