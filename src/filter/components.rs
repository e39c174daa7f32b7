//! Connected regions of a mask, as runs of pixels a row, joined by union-find.

/// Which neighbors touch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Connectivity {
    /// Sides only.
    Four,
    /// Sides and corners.
    Eight,
}

/// A run of mask pixels `start..end` in one row.
#[derive(Clone, Copy, Debug)]
pub struct Run {
    /// First pixel.
    pub start: u32,
    /// One past the last pixel.
    pub end: u32,
    /// Number of the region it belongs to.
    pub region: u32,
}

impl Run {
    /// The cells, `side` pixels wide, that the run goes through, each with how many pixels of it.
    pub fn cells(&self, side: usize) -> impl Iterator<Item = (usize, usize)> {
        let (start, end) = (self.start as usize, self.end as usize);
        let pixels = move |cell: usize| ((cell + 1) * side).min(end) - (cell * side).max(start);
        (start / side..end.div_ceil(side)).map(move |cell| (cell, pixels(cell)))
    }
}

/// The regions of a mask, numbered from 0 in the order of their first pixel.
#[derive(Debug, Default)]
pub struct Regions {
    runs: Vec<Run>,
    rows: Vec<usize>,
    count: usize,
}

impl Regions {
    /// Finds the regions of the mask `inside(x, y)` over rows given one at a time by `row`, which fills a byte
    /// a pixel: nonzero is inside.
    pub fn find(width: usize, height: usize, connectivity: Connectivity, mut row: impl FnMut(usize, &mut [u8])) -> Self {
        let mut runs: Vec<Run> = Vec::new();
        let mut rows = Vec::with_capacity(height + 1);
        let mut parent: Vec<u32> = Vec::new();
        let mut mask = vec![0; width];
        let reach = u32::from(connectivity == Connectivity::Eight);
        rows.push(0);
        for y in 0..height {
            row(y, &mut mask);
            let above = if y == 0 { 0..0 } else { rows[y - 1]..rows[y] };
            let mut look = above.start;
            let mut x = 0;
            while x < width {
                let start = x + leading(&mask[x..], |v| v == 0);
                if start == width {
                    break;
                }
                let end = start + leading(&mask[start..], |v| v != 0);
                let (from, to) = (start as u32, end as u32);
                let mut region = u32::MAX;
                while look < above.end && runs[look].end + reach <= from {
                    look += 1;
                }
                let mut touch = look;
                while touch < above.end && runs[touch].start < to + reach {
                    let root = find_root(&mut parent, runs[touch].region);
                    if region == u32::MAX {
                        region = root;
                    } else if root != region {
                        let (low, high) = (root.min(region), root.max(region));
                        parent[high as usize] = low;
                        region = low;
                    }
                    touch += 1;
                }
                if region == u32::MAX {
                    region = parent.len() as u32;
                    parent.push(region);
                }
                runs.push(Run { start: from, end: to, region });
                x = end;
            }
            rows.push(runs.len());
        }
        let mut number = vec![u32::MAX; parent.len()];
        let mut count = 0;
        for run in &mut runs {
            let root = find_root(&mut parent, run.region) as usize;
            if number[root] == u32::MAX {
                number[root] = count;
                count += 1;
            }
            run.region = number[root];
        }
        Self { runs, rows, count: count as usize }
    }

    /// The same pixels in other regions, `count` of them: `parts` hands on the parts of a run, left to right.
    #[must_use]
    pub fn split(&self, count: usize, mut parts: impl FnMut(&Run, usize, &mut dyn FnMut(Run))) -> Self {
        let mut runs = Vec::with_capacity(self.runs.len());
        let mut rows = vec![0];
        for y in 0..self.height() {
            self.row(y).iter().for_each(|run| parts(run, y, &mut |part| runs.push(part)));
            rows.push(runs.len());
        }
        Self { runs, rows, count }
    }

    /// How many regions there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.count
    }

    /// The runs of one row, left to right.
    #[must_use]
    pub fn row(&self, y: usize) -> &[Run] {
        &self.runs[self.rows[y]..self.rows[y + 1]]
    }

    /// How many rows there are.
    #[must_use]
    pub fn height(&self) -> usize {
        self.rows.len() - 1
    }

    /// The region at a pixel, if any. O(log runs in the row).
    #[must_use]
    pub fn at(&self, x: usize, y: usize) -> Option<usize> {
        let row = self.row(y);
        let i = row.partition_point(|run| run.end as usize <= x);
        row.get(i).filter(|run| run.start as usize <= x).map(|run| run.region as usize)
    }
}

/// How many values at the beginning of a row are `alike`. Looked at by sixteens: one at a time is slow for long runs.
fn leading(row: &[u8], alike: impl Fn(u8) -> bool) -> usize {
    let all = |chunk: &&[u8; 16]| chunk.iter().fold(true, |all, v| all & alike(*v));
    let whole = 16 * row.as_chunks::<16>().0.iter().take_while(all).count();
    whole + row[whole..].iter().take_while(|v| alike(**v)).count()
}

fn find_root(parent: &mut [u32], mut i: u32) -> u32 {
    while parent[i as usize] != i {
        let up = parent[parent[i as usize] as usize];
        parent[i as usize] = up;
        i = up;
    }
    i
}

#[cfg(test)]
mod tests {
    use super::*;

    fn regions(picture: &[&str], connectivity: Connectivity) -> Regions {
        Regions::find(picture[0].len(), picture.len(), connectivity, |y, row| {
            row.iter_mut().zip(picture[y].bytes()).for_each(|(v, c)| *v = u8::from(c == b'#'));
        })
    }

    #[test]
    fn a_run_is_cut_at_cells() {
        let cells = |start, end| Run { start, end, region: 0 }.cells(4).collect::<Vec<_>>();
        assert_eq!(cells(2, 9), [(0, 2), (1, 4), (2, 1)]);
        assert_eq!(cells(4, 8), [(1, 4)]);
        assert_eq!(cells(5, 7), [(1, 2)]);
    }

    #[test]
    fn corners_join_only_when_asked() {
        let diagonal = ["#..", ".#.", "..#"];
        assert_eq!(regions(&diagonal, Connectivity::Four).count(), 3);
        assert_eq!(regions(&diagonal, Connectivity::Eight).count(), 1);
        let anti = ["..#", ".#.", "#.."];
        assert_eq!(regions(&anti, Connectivity::Eight).count(), 1);
    }

    #[test]
    fn arms_that_meet_late_are_one() {
        let comb = ["#.#.#.#", "#.#.#.#", "#######", "......."];
        let found = regions(&comb, Connectivity::Four);
        assert_eq!(found.count(), 1);
        assert_eq!(found.at(4, 1), Some(0));
        assert_eq!(found.at(3, 1), None);
        assert_eq!(found.at(3, 3), None);
    }

    /// Against a flood fill over pseudo-random masks.
    #[test]
    fn as_a_flood_fill() {
        let (w, h) = (37, 29);
        let mut state = 1_u64;
        for round in 0..40 {
            let mask: Vec<u8> = (0..w * h)
                .map(|_| {
                    state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                    u8::from((state >> 60) < 4 + round % 9)
                })
                .collect();
            for connectivity in [Connectivity::Four, Connectivity::Eight] {
                let found = Regions::find(w, h, connectivity, |y, row| row.copy_from_slice(&mask[y * w..(y + 1) * w]));
                let mut label = vec![usize::MAX; w * h];
                let mut count = 0;
                for start in 0..w * h {
                    if mask[start] == 0 || label[start] != usize::MAX {
                        continue;
                    }
                    let mut stack = vec![start];
                    label[start] = count;
                    while let Some(i) = stack.pop() {
                        let (x, y) = ((i % w) as i32, (i / w) as i32);
                        for (dx, dy) in [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1)] {
                            let (nx, ny) = (x + dx, y + dy);
                            let diagonal = dx != 0 && dy != 0;
                            let inside = nx >= 0 && ny >= 0 && nx < w as i32 && ny < h as i32;
                            if inside && !(diagonal && connectivity == Connectivity::Four) {
                                let j = ny as usize * w + nx as usize;
                                if mask[j] != 0 && label[j] == usize::MAX {
                                    label[j] = count;
                                    stack.push(j);
                                }
                            }
                        }
                    }
                    count += 1;
                }
                assert_eq!(found.count(), count);
                for (i, &expected) in label.iter().enumerate() {
                    assert_eq!(found.at(i % w, i / w), (expected != usize::MAX).then_some(expected));
                }
            }
        }
    }
}
