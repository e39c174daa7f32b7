//! How likely an island is a white: boosted decision trees, learned from labeled paintings (`tests/whites`).
//!
//! Trees by gradient boosting: Friedman, "Greedy function approximation: a gradient boosting machine", Annals of Statistics 29,
//! 2001. Two islands are alike as far as the trees sort them alike: Breiman, "Random forests", Machine Learning 45, 2001, where
//! it is called proximity.

mod table;

use super::features::Features;
use table::{START, TREES};

/// Splits from the root to a leaf.
const DEPTH: usize = 3;

/// A feature, and the value up to which it goes left.
struct Split(usize, f32);

/// A tree of full depth: the branches of split `i` are `2 i + 1` and `2 i + 2`.
struct Tree {
    splits: [Split; (1 << DEPTH) - 1],
    /// What it adds to the log odds, left to right.
    leaves: [f32; 1 << DEPTH],
}

impl Tree {
    fn leaf(&self, features: &Features) -> usize {
        let mut place = 0;
        for _ in 0..DEPTH {
            let Split(feature, most) = self.splits[place];
            place = 2 * place + if features.values[feature] <= most { 1 } else { 2 };
        }
        place + 1 - self.leaves.len()
    }
}

/// Where each tree sorts an island.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sorted([u8; TREES.len()]);

impl Sorted {
    /// Sorts an island.
    #[must_use]
    pub(super) fn of(features: &Features) -> Self {
        let mut leaves = [0; TREES.len()];
        leaves.iter_mut().zip(&TREES).for_each(|(leaf, tree)| *leaf = tree.leaf(features) as u8);
        Self(leaves)
    }

    /// Log odds of a white.
    #[must_use]
    pub(super) fn log_odds(&self) -> f32 {
        TREES.iter().zip(self.0).fold(START, |sum, (tree, leaf)| sum + tree.leaves[usize::from(leaf)])
    }

    /// The share of trees that sort two islands alike, 0..1.
    #[must_use]
    pub(super) fn likeness(&self, other: &Self) -> f32 {
        self.0.iter().zip(other.0).filter(|(a, b)| **a == *b).count() as f32 / TREES.len() as f32
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
            let mut features = Features::default();
            features.values[0] = value;
            assert_eq!(tree.leaf(&features), leaf, "{value}");
        }
    }

    #[test]
    fn an_island_is_like_itself() {
        let (mut one, mut other) = (Features::default(), Features::default());
        one.values.fill(0.01);
        other.values.fill(9.0);
        let (one, other) = (Sorted::of(&one), Sorted::of(&other));
        assert_eq!(one.likeness(&one), 1.0);
        assert!(one.likeness(&other) < 1.0 && one.likeness(&other) == other.likeness(&one));
    }
}
