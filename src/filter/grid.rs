//! Neighbors on a packed grid, and flooding over them.

/// The two cells, `side` pixels wide and `count` in all, whose middles a pixel lies between, and how far it is from the first
/// middle to the second, in parts of `2 * side`. Beyond the outermost middles both are the outermost cell.
#[must_use]
pub fn between(pixel: usize, side: usize, count: usize) -> (usize, usize, usize) {
    // Counted in half pixels: a cell's middle lies between two pixels.
    let from_first = (2 * pixel + 1).saturating_sub(side);
    let first = (from_first / (2 * side)).min(count - 1);
    (first, (first + 1).min(count - 1), from_first % (2 * side))
}

/// The cells that share a side with cell `i` of a grid; fewer than four at its border.
#[inline]
pub fn beside(i: usize, width: usize, height: usize) -> impl Iterator<Item = usize> {
    let (x, y) = (i % width, i / width);
    [(x > 0).then(|| i - 1), (x + 1 < width).then_some(i + 1), (y > 0).then(|| i - width), (y + 1 < height).then_some(i + width)]
        .into_iter()
        .flatten()
}

/// The cell so many steps from cell `i`, if it lies on the grid.
#[inline]
pub fn step(i: usize, (dx, dy): (isize, isize), steps: isize, width: usize, height: usize) -> Option<usize> {
    let x = (i % width).checked_add_signed(steps * dx).filter(|x| *x < width)?;
    let y = (i / width).checked_add_signed(steps * dy).filter(|y| *y < height)?;
    Some(y * width + x)
}

/// The up to four cells of a grid that make cell `(x, y)` of one of half its size.
#[inline]
pub fn four(x: usize, y: usize, width: usize, height: usize) -> impl Iterator<Item = (usize, usize)> {
    (2 * y..(2 * y + 2).min(height)).flat_map(move |y| (2 * x..(2 * x + 2).min(width)).map(move |x| (x, y)))
}

/// Visits cells breadth first from `seeds`: a cell beside a visited one is visited too when `enter(from, to)` says so.
/// `enter` must say no to cells already visited; returns all visited, seeds included, in order.
pub fn flood(seeds: Vec<usize>, width: usize, height: usize, mut enter: impl FnMut(usize, usize) -> bool) -> Vec<usize> {
    let mut visited = seeds;
    let mut next = 0;
    while next < visited.len() {
        let from = visited[next];
        next += 1;
        for to in beside(from, width, height) {
            if enter(from, to) {
                visited.push(to);
            }
        }
    }
    visited
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pixel_lies_between_two_middles() {
        // The middles of cells of eight lie at 3.5 and 11.5, those of cells of two at 0.5 and 2.5.
        assert_eq!(between(5, 8, 2), (0, 1, 3));
        assert_eq!(between(3, 8, 2), (0, 1, 0));
        assert_eq!(between(12, 8, 2), (1, 1, 1));
        assert_eq!(between(2, 2, 9), (0, 1, 3));
        assert_eq!(between(0, 2, 9), (0, 1, 0));
    }

    #[test]
    fn corners_have_two_neighbors_and_the_middle_four() {
        assert_eq!(beside(0, 3, 2).collect::<Vec<_>>(), [1, 3]);
        assert_eq!(beside(4, 3, 2).collect::<Vec<_>>(), [3, 5, 1]);
        assert_eq!(beside(4, 3, 3).collect::<Vec<_>>(), [3, 5, 1, 7]);
        assert_eq!(beside(0, 1, 1).count(), 0);
    }

    #[test]
    fn steps_end_at_the_border() {
        assert_eq!(step(4, (1, 0), 1, 3, 2), Some(5));
        assert_eq!(step(4, (1, 0), 2, 3, 2), None);
        assert_eq!(step(4, (0, -1), 1, 3, 2), Some(1));
        assert_eq!(step(1, (0, -1), 1, 3, 2), None);
        assert_eq!(step(5, (-1, 0), 2, 3, 2), Some(3));
    }

    #[test]
    fn four_make_one_and_fewer_at_an_odd_border() {
        assert_eq!(four(1, 0, 5, 3).collect::<Vec<_>>(), [(2, 0), (3, 0), (2, 1), (3, 1)]);
        assert_eq!(four(2, 1, 5, 3).collect::<Vec<_>>(), [(4, 2)]);
    }

    #[test]
    fn a_flood_stops_at_a_wall() {
        let open = [true, true, false, true, true, false, false, false, true];
        let mut seen = [true, false, false, false, false, false, false, false, false];
        let found = flood(vec![0], 3, 3, |_, to| open[to] && !std::mem::replace(&mut seen[to], true));
        assert_eq!(found, [0, 1, 3, 4]);
    }
}
