//! The painter's own strokes, drawn as bytes that steer the cover.

use super::cover::stroke;
use super::island::Decision;
use crate::error::Result;
use crate::filter::Regions;
use crate::image::Plane;

/// One stroke in pixels of the sheet at hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// What it does.
    pub decision: Decision,
    /// Radius in pixels.
    pub radius: f64,
    /// The points it goes through.
    pub path: Vec<[f64; 2]>,
}

/// Draws strokes in order, a later one over an earlier; `None` when there are none.
///
/// # Errors
/// When there is no memory.
pub fn draw(width: usize, height: usize, strokes: &[Stroke]) -> Result<Option<Plane<u8>>> {
    if strokes.is_empty() {
        return Ok(None);
    }
    let mut plane = Plane::new(width, height, "the strokes")?;
    for s in strokes {
        let value = match s.decision {
            Decision::Keep => stroke::KEEP,
            Decision::Clear => stroke::CLEAR,
        };
        let ends = s.path.iter().zip(s.path.iter().skip(1).chain(s.path.last()));
        for (from, to) in ends {
            segment(&mut plane, *from, *to, s.radius, value);
        }
    }
    Ok(Some(plane))
}

/// For each region, whether a stroke that does `what` runs over it.
#[must_use]
pub fn touched(regions: &Regions, drawn: Option<&Plane<u8>>, what: u8) -> Vec<bool> {
    let mut touched = vec![false; regions.count()];
    if let Some(drawn) = drawn {
        for y in 0..regions.height() {
            for run in regions.row(y) {
                let kept = drawn.row(y)[run.start as usize..run.end as usize].contains(&what);
                touched[run.region as usize] |= kept;
            }
        }
    }
    touched
}

/// Fills every pixel whose center lies within `radius` of a line segment.
fn segment(plane: &mut Plane<u8>, from: [f64; 2], to: [f64; 2], radius: f64, value: u8) {
    let range = |low: f64, high: f64, size: usize| {
        let low = (low - radius).floor().max(0.0) as usize;
        let high = ((high + radius).ceil().max(-1.0) + 1.0) as usize;
        low.min(size)..high.min(size)
    };
    let rows = range(from[1].min(to[1]), from[1].max(to[1]), plane.height());
    let columns = range(from[0].min(to[0]), from[0].max(to[0]), plane.width());
    let along = [to[0] - from[0], to[1] - from[1]];
    let square = along[0] * along[0] + along[1] * along[1];
    for y in rows {
        let row = plane.row_mut(y);
        for x in columns.clone() {
            let off = [x as f64 - from[0], y as f64 - from[1]];
            let t = if square > 0.0 { ((off[0] * along[0] + off[1] * along[1]) / square).clamp(0.0, 1.0) } else { 0.0 };
            let (dx, dy) = (off[0] - t * along[0], off[1] - t * along[1]);
            if dx * dx + dy * dy <= radius * radius {
                row[x] = value;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dot_a_line_and_the_order() {
        let dot = Stroke { decision: Decision::Keep, radius: 1.0, path: vec![[2.0, 2.0]] };
        let line = Stroke { decision: Decision::Clear, radius: 0.5, path: vec![[-5.0, 2.0], [9.0, 2.0]] };
        let plane = draw(6, 5, &[dot.clone(), line]).unwrap().unwrap();
        assert_eq!(plane.row(1), [0, 0, 1, 0, 0, 0]);
        assert_eq!(plane.row(2), [2, 2, 2, 2, 2, 2]);
        assert_eq!(plane.row(3), [0, 0, 1, 0, 0, 0]);
        assert!(draw(6, 5, &[]).unwrap().is_none());
        let far = Stroke { path: vec![[900.0, -900.0]], ..dot };
        assert!(draw(6, 5, &[far]).unwrap().unwrap().data().iter().all(|v| *v == 0));
    }
}
