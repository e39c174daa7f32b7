//! Antialiased filled polygons.

use super::outline::Outline;
use super::patch::{Frame, Patch};

/// Scanlines a pixel; along each the coverage is exact.
const LINES: usize = 8;

/// Coverage of the union of outlines (nonzero winding), or `None` when they miss the sheet.
#[must_use]
pub fn fill(outlines: &[Outline], sheet: [usize; 2]) -> Option<Patch> {
    let frame = Frame::around(outlines.iter().flatten(), 4.0, sheet)?;
    let mut union: Option<Patch> = None;
    for one in outlines {
        let patch = fill_one(one, frame);
        union = Some(match union {
            Some(before) => before.with(&patch, |a, b| a + b - a * b),
            None => patch,
        });
    }
    union
}

fn fill_one(outline: &Outline, frame: Frame) -> Patch {
    let lines = LINES as f32;
    let (left, top) = (frame.x as f32, frame.y as f32);
    // Where each scanline meets the outline, and in which direction.
    let mut meets: Vec<Vec<(f32, i32)>> = vec![Vec::new(); frame.height * LINES];
    for (i, &[x1, y1]) in outline.iter().enumerate() {
        let [x2, y2] = outline[(i + 1) % outline.len()];
        let (y1, y2) = ((y1 - top) * lines - 0.5, (y2 - top) * lines - 0.5);
        let (way, (xa, ya), (xb, yb)) = if y1 < y2 { (1, (x1, y1), (x2, y2)) } else { (-1, (x2, y2), (x1, y1)) };
        let slope = (xb - xa) / (yb - ya);
        let first = ya.ceil().max(0.0) as usize;
        let end = (yb.ceil().max(0.0) as usize).min(meets.len());
        for (line, met) in meets.iter_mut().enumerate().take(end).skip(first) {
            met.push((xa + (line as f32 - ya) * slope - left, way));
        }
    }
    let mut patch = Patch::flat(frame, 0.0);
    // Of each row: exact coverage at the ends of spans, and the change of what runs on to the right.
    let mut change = vec![0.0_f32; frame.width + 2];
    let share = 1.0 / lines;
    for (row, group) in patch.values.chunks_exact_mut(frame.width).zip(meets.chunks_exact_mut(LINES)) {
        if group.iter().all(Vec::is_empty) {
            continue;
        }
        change.fill(0.0);
        for met in group {
            met.sort_by(|a, b| a.0.total_cmp(&b.0));
            let mut wind = 0;
            let mut start = 0.0;
            for &(x, way) in met.iter() {
                let before = wind;
                wind += way;
                let x = x.clamp(0.0, frame.width as f32);
                if before == 0 {
                    start = x;
                } else if wind == 0 {
                    step(&mut change, start, share);
                    step(&mut change, x, -share);
                }
            }
        }
        let mut sum = 0.0;
        for (v, &c) in row.iter_mut().zip(&change) {
            sum += c;
            *v = sum.clamp(0.0, 1.0);
            if *v < 1e-5 {
                *v = 0.0;
            }
        }
    }
    patch
}

/// From `x` on the line is covered by `share` more: the pixel that holds `x` gets its part.
fn step(change: &mut [f32], x: f32, share: f32) {
    let i = x as usize;
    let part = 1.0 - (x - i as f32);
    change[i] += share * part;
    change[i + 1] += share * (1.0 - part);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn areas_are_right() {
        let square = vec![[10.25, 10.5], [20.75, 10.5], [20.75, 30.0], [10.25, 30.0]];
        let patch = fill(std::slice::from_ref(&square), [64, 64]).expect("on the sheet");
        assert!((patch.values.iter().sum::<f32>() - 10.5 * 19.5).abs() < 0.01);
        assert!((patch.at(10, 20) - 0.75).abs() < 1e-4);
        let circle = super::super::outline::ellipse([32.0, 32.0], [20.0, 20.0], 0.0);
        let area = fill(&[circle], [64, 64]).expect("on the sheet").values.iter().sum::<f32>();
        assert!((area / (std::f32::consts::PI * 400.0) - 1.0).abs() < 0.005, "{area}");
    }

    #[test]
    fn turning_the_other_way_and_overlapping_change_nothing() {
        let square = vec![[4.0, 4.0], [12.0, 4.0], [12.0, 12.0], [4.0, 12.0]];
        let mut turned = square.clone();
        turned.reverse();
        let one = fill(std::slice::from_ref(&square), [20, 20]).expect("on the sheet");
        let two = fill(&[square, turned], [20, 20]).expect("on the sheet");
        assert_eq!(one.values, two.values);
    }

    #[test]
    fn what_lies_off_the_sheet_is_cut() {
        let square = vec![[-5.0, -5.0], [5.0, -5.0], [5.0, 5.0], [-5.0, 5.0]];
        let patch = fill(&[square], [20, 20]).expect("on the sheet");
        assert!((patch.values.iter().sum::<f32>() - 25.0).abs() < 1e-3);
        assert!(fill(&[vec![[-9.0, -9.0], [-8.0, -9.0], [-8.0, -8.0]]], [20, 20]).is_none());
    }
}
