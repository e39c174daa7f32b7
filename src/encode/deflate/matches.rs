//! Where bytes came before: chains of places with the same hash, the nearest first.

/// How far back matches reach, less one: RFC 1951, 2.
pub(super) const WINDOW: usize = 1 << 15;
/// Bytes of a match, at most.
const LONGEST: usize = 258;
/// From so many bytes on a match is taken as it is, and nothing within it is looked at.
pub(super) const PLENTY: usize = 64;
/// How far back three bytes may lie: from farther they cost as much as three literals.
const NEAR: usize = 1 << 13;
/// Places of a chain that are looked at. Of three arts 32 packed one 0.4 % worse and two hardly.
const DEPTH: usize = 40;
/// No place.
const NONE: u32 = u32::MAX;

/// So many bytes, so far back. A literal is one byte at a distance of zero.
#[derive(Clone, Copy)]
pub(super) struct Match {
    pub(super) length: u16,
    pub(super) distance: u16,
}

/// Finds matches.
pub(super) struct Finder {
    /// The last place of each hash of four bytes, and of three.
    fours: Vec<u32>,
    threes: Vec<u32>,
    /// The place before each place, by its rest to [`WINDOW`], that has the same hash of four bytes.
    before: Vec<u32>,
}

impl Finder {
    pub(super) fn new() -> Self {
        Self { fours: vec![NONE; 1 << 16], threes: vec![NONE; 1 << 15], before: vec![NONE; WINDOW] }
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        [&mut self.fours, &mut self.threes, &mut self.before].into_iter().for_each(|places| places.fill(NONE));
    }

    /// Makes places smaller by `gone`, since so many bytes are taken from before them; what lies before is forgotten.
    pub(super) fn forget(&mut self, gone: usize) {
        for place in self.fours.iter_mut().chain(&mut self.threes).chain(&mut self.before) {
            *place = if *place == NONE { NONE } else { place.checked_sub(gone as u32).unwrap_or(NONE) };
        }
        self.before.rotate_left(gone % WINDOW);
    }

    /// Adds the place `at` to what is known.
    fn learn(&mut self, bytes: &[u8], at: usize) -> Option<[u32; 2]> {
        let four = bytes[at..].first_chunk::<4>()?;
        let hash = |bits: u32, word: u32| (word.wrapping_mul(0x9E37_79B1) >> (32 - bits)) as usize;
        let word = u32::from_le_bytes(*four);
        let last = std::mem::replace(&mut self.fours[hash(16, word)], at as u32);
        let last_of_three = std::mem::replace(&mut self.threes[hash(15, word << 8)], at as u32);
        self.before[at % WINDOW] = last;
        Some([last, last_of_three])
    }

    /// Adds to `found` what matches at `at`, ever longer and farther, each the nearest of its length; of a match that is [`PLENTY`] long, it alone.
    /// Its length, or none. Places are looked at in ascending order; matches end with `bytes`.
    pub(super) fn look(&mut self, bytes: &[u8], at: usize, found: &mut Vec<Match>) -> Option<usize> {
        let [last, last_of_three] = self.learn(bytes, at)?;
        let first = found.len();
        let most = LONGEST.min(bytes.len() - at);
        let mut best = 2;
        let mut add = |place: usize, best: &mut usize| {
            let length = same(&bytes[place..place + most], &bytes[at..at + most]);
            if length > *best {
                *best = length;
                found.push(Match { length: length as u16, distance: (at - place) as u16 });
            }
        };
        let near = |place: u32| place != NONE && at - (place as usize) < WINDOW;
        if near(last_of_three) && at - (last_of_three as usize) < NEAR {
            add(last_of_three as usize, &mut best);
        }
        let mut place = last;
        for _ in 0..DEPTH {
            if !near(place) || best >= PLENTY.min(most) {
                break;
            }
            let begin = place as usize;
            // Only what agrees where the best so far ends can be longer. Four bytes are compared at once.
            let end = best.max(3) - 3;
            if bytes[begin + end..].first_chunk::<4>() == bytes[at + end..].first_chunk::<4>() {
                add(begin, &mut best);
            }
            let before = self.before[begin % WINDOW];
            if before == NONE || before >= place {
                break;
            }
            place = before;
        }
        if best < PLENTY {
            return None;
        }
        found.drain(first..found.len() - 1);
        Some(best)
    }

    /// Passes over a place within a match that is taken as it is.
    pub(super) fn pass(&mut self, bytes: &[u8], at: usize) {
        self.learn(bytes, at);
    }
}

/// How many bytes two places have in common, from their begin.
#[inline]
fn same(a: &[u8], b: &[u8]) -> usize {
    let (whole, other) = (a.as_chunks::<8>().0, b.as_chunks::<8>().0);
    for (i, (a, b)) in whole.iter().zip(other).enumerate() {
        let differs = u64::from_le_bytes(*a) ^ u64::from_le_bytes(*b);
        if differs != 0 {
            return 8 * i + differs.trailing_zeros() as usize / 8;
        }
    }
    let done = 8 * whole.len();
    done + a[done..].iter().zip(&b[done..]).take_while(|(a, b)| a == b).count()
}
