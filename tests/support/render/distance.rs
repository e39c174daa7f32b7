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
        envelope(&line, row, &mut places, &mut bounds);
        row.iter_mut().for_each(|v| *v = v.sqrt());
    }
    squares
}

fn envelope(line: &[f32], out: &mut [f32], places: &mut [usize], bounds: &mut [f64]) {
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
    for (x, v) in out.iter_mut().enumerate() {
        while bounds[k + 1] < x as f64 {
            k += 1;
        }
        let d = x.abs_diff(places[k]);
        *v = line[places[k]] + (d * d) as f32;
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
            for (i, &d) in found.iter().enumerate() {
                let square = |j: usize| {
                    let (dx, dy) = ((i % width).abs_diff(j % width), (i / width).abs_diff(j / width));
                    dx * dx + dy * dy
                };
                let nearest = (0..marked.len()).filter(|&j| marked[j]).map(square).min().expect("one is marked");
                assert!((d - (nearest as f32).sqrt()).abs() < 1e-4);
            }
        }
    }
}
