//! Exact Euclidean distance to the nearest marked pixel, in time linear in the pixels: lower envelope of parabolas,
//! Felzenszwalb and Huttenlocher 2012.

/// Distance of every pixel to the nearest marked one (0 on it); a very large number where nothing is marked.
#[must_use]
pub fn to_nearest(marked: &[bool], width: usize, height: usize) -> Vec<f32> {
    const FAR: f32 = 1e12;
    let mut squares = vec![0.0_f32; marked.len()];
    // Down each column the distance is a count, done row by row for the cache's sake.
    for x in 0..width {
        squares[x] = if marked[x] { 0.0 } else { FAR };
    }
    for i in width..marked.len() {
        squares[i] = if marked[i] { 0.0 } else { squares[i - width] + 1.0 };
    }
    for i in (0..marked.len() - width).rev() {
        squares[i] = squares[i].min(squares[i + width] + 1.0);
    }
    let mut line = vec![0.0_f32; width];
    let mut places = vec![0_usize; width];
    let mut bounds = vec![0.0_f64; width + 1];
    for y in 0..height {
        let row = &mut squares[y * width..(y + 1) * width];
        for (l, &r) in line.iter_mut().zip(row.iter()) {
            *l = if r >= FAR * 0.5 { FAR } else { r * r };
        }
        envelope(&line, &mut places, &mut bounds, |x, place| {
            let d = x.abs_diff(place);
            row[x] = (line[place] + (d * d) as f32).sqrt();
        });
    }
    squares
}

/// The index of the marked pixel that is nearest to every pixel; nothing when none is marked.
#[must_use]
pub fn nearest(marked: &[bool], width: usize, height: usize) -> Option<Vec<usize>> {
    const NONE: usize = usize::MAX;
    // Down each column: the row of the nearest marked pixel above, then the nearer of that and the one below.
    let mut rows: Vec<usize> = (0..marked.len()).map(|i| if marked[i] { i / width } else { NONE }).collect();
    for i in width..rows.len() {
        if rows[i] == NONE {
            rows[i] = rows[i - width];
        }
    }
    for i in (0..rows.len() - width).rev() {
        let (y, above, below) = (i / width, rows[i], rows[i + width]);
        if below != NONE && (above == NONE || y.abs_diff(below) < y.abs_diff(above)) {
            rows[i] = below;
        }
    }
    let mut line = vec![0.0_f32; width];
    let mut places = vec![0_usize; width];
    let mut bounds = vec![0.0_f64; width + 1];
    let mut out = vec![0; marked.len()];
    for y in 0..height {
        let row = &rows[y * width..(y + 1) * width];
        for (l, &r) in line.iter_mut().zip(row) {
            *l = if r == NONE { 1e12 } else { (y.abs_diff(r) * y.abs_diff(r)) as f32 };
        }
        let mut found = true;
        envelope(&line, &mut places, &mut bounds, |x, place| {
            found &= row[place] != NONE;
            out[y * width + x] = if row[place] == NONE { 0 } else { row[place] * width + place };
        });
        if !found {
            return None;
        }
    }
    Some(out)
}

/// Hands out, for every x, the place whose parabola over the line is the lowest there.
fn envelope(line: &[f32], places: &mut [usize], bounds: &mut [f64], mut each: impl FnMut(usize, usize)) {
    let mut top = 0;
    places[0] = 0;
    (bounds[0], bounds[1]) = (f64::MIN, f64::MAX);
    for q in 1..line.len() {
        let height = |p: usize| f64::from(line[p]) + (p * p) as f64;
        loop {
            let p = places[top];
            let meet = (height(q) - height(p)) / (2 * (q - p)) as f64;
            if meet > bounds[top] {
                top += 1;
                places[top] = q;
                (bounds[top], bounds[top + 1]) = (meet, f64::MAX);
                break;
            }
            // The first parabola's bound is the smallest number, so this never runs below 0.
            top -= 1;
        }
    }
    let mut k = 0;
    for x in 0..line.len() {
        while bounds[k + 1] < x as f64 {
            k += 1;
        }
        each(x, places[k]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Random;

    #[test]
    fn equals_the_search_over_all_pixels() {
        let (width, height) = (23, 17);
        let mut random = Random::new(3);
        for share in [0.01, 0.1, 0.6] {
            let mut marked: Vec<bool> = (0..width * height).map(|_| random.chance(share)).collect();
            marked[40] = true;
            let found = to_nearest(&marked, width, height);
            let which = nearest(&marked, width, height).expect("one is marked");
            for (i, &d) in found.iter().enumerate() {
                let square = |j: usize| {
                    let (dx, dy) = ((i % width).abs_diff(j % width), (i / width).abs_diff(j / width));
                    dx * dx + dy * dy
                };
                let least = (0..marked.len()).filter(|&j| marked[j]).map(square).min().expect("one is marked");
                assert!((d - (least as f32).sqrt()).abs() < 1e-4);
                assert!(marked[which[i]] && square(which[i]) == least);
            }
        }
        assert_eq!(nearest(&[false; 6], 3, 2), None);
    }
}
