//! The cheapest way through a band: at each byte a literal, or one of the matches that are found there.

use std::ops::Range;

use super::counts::{Counts, Prices, distance_symbol, length_symbol};
use super::matches::{Finder, Match, PLENTY};

/// What is found in a band, and the way through it.
#[derive(Default)]
pub(super) struct Way {
    /// Matches, place after place.
    matches: Vec<Match>,
    /// Where those of each place end.
    ends: Vec<u32>,
    /// The step to take at each place.
    steps: Vec<Match>,
    /// What the way from each place on costs, and from behind the last.
    costs: Vec<u32>,
}

impl Way {
    /// Looks for matches at all places from `begin` on.
    pub(super) fn look(&mut self, finder: &mut Finder, bytes: &[u8], begin: usize) {
        self.matches.clear();
        self.ends.clear();
        let mut next = begin;
        for at in begin..bytes.len() {
            if at < next {
                finder.pass(bytes, at);
            } else if let Some(length) = finder.look(bytes, at, &mut self.matches) {
                next = at + length;
            }
            self.ends.push(self.matches.len() as u32);
        }
        self.steps.clear();
        self.steps.resize(bytes.len() - begin, Match { length: 1, distance: 0 });
        self.costs.resize(self.steps.len() + 1, 0);
    }

    /// Finds the cheapest way: from behind, at each place the cheapest step with the way after it.
    pub(super) fn find(&mut self, band: &[u8], prices: &Prices) {
        let Self { matches, ends, steps, costs } = self;
        costs[band.len()] = 0;
        for at in (0..band.len()).rev() {
            let mut least = prices.literals[usize::from(band[at])] + costs[at + 1];
            let mut step = Match { length: 1, distance: 0 };
            let first = if at == 0 { 0 } else { ends[at - 1] };
            let mut shortest = 3;
            for found in &matches[first as usize..ends[at] as usize] {
                let longest = usize::from(found.length);
                if longest >= PLENTY {
                    shortest = longest;
                }
                let distance = prices.distances[distance_symbol(found.distance).symbol];
                let after = &costs[at + shortest..=at + longest];
                for (i, (length, after)) in prices.lengths[shortest..=longest].iter().zip(after).enumerate() {
                    let cost = length + distance + after;
                    if cost < least {
                        least = cost;
                        step = Match { length: (shortest + i) as u16, ..*found };
                    }
                }
                shortest = longest + 1;
            }
            costs[at] = least;
            steps[at] = step;
        }
    }

    /// The step at a place.
    #[inline]
    pub(super) fn step(&self, at: usize) -> Match {
        self.steps[at]
    }

    /// What comes on the way from the begin of `place` to the first step that reaches its end, and where that is.
    pub(super) fn counts(&self, band: &[u8], place: Range<usize>) -> (Counts, usize) {
        let mut counts = Counts::none();
        let mut at = place.start;
        while at < place.end {
            let step = self.steps[at];
            if step.distance == 0 {
                counts.literals[usize::from(band[at])] += 1;
            } else {
                counts.literals[length_symbol(step.length).symbol] += 1;
                counts.distances[distance_symbol(step.distance).symbol] += 1;
            }
            at += usize::from(step.length);
        }
        (counts, at)
    }
}
