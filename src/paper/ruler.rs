//! Draws rows of the paper field, one below another over the same columns.
//!
//! Between two cell centers a row is a straight line, so it is drawn stretch by stretch. Where the stretches lie is settled
//! once for all rows.

use std::ops::Range;

use super::PaperField;
use super::field::between;

/// The columns of the rows that are drawn, cut where the field has its cell centers.
#[derive(Debug, Default)]
pub struct Ruler {
    /// The cells whose centers are needed, as columns of the field's grid.
    cells: Range<usize>,
    stretches: Vec<Stretch>,
    /// How far each column lies from the cell center that its stretch is drawn from.
    along: Vec<f32>,
    /// The field at the cell centers of a row, three channels each, and how much it rises a pixel from there on; the last,
    /// not at all.
    centers: Vec<f32>,
    slopes: Vec<f32>,
}

/// Columns between two cell centers.
#[derive(Debug)]
struct Stretch {
    /// Drawn eight at a time, the last of them too far: the next stretch goes over them again.
    columns: Range<usize>,
    /// Where the values of the cell before it, and its slopes, begin.
    center: usize,
    slope: usize,
}

impl Ruler {
    /// A ruler for `columns` of a field.
    #[must_use]
    pub fn new(field: &PaperField, columns: Range<usize>) -> Self {
        let mut ruler = Self::default();
        ruler.measure(field, columns);
        ruler
    }

    /// Makes this the ruler for `columns` of a field.
    pub fn measure(&mut self, field: &PaperField, columns: Range<usize>) {
        let (all, cell) = (field.grid().width(), field.cell() as f32);
        let cell_of = |column: usize| between(column, field.cell(), all);
        self.cells = cell_of(columns.start).0..cell_of(columns.end - 1).1 + 1;
        let values = 3 * self.cells.len();
        self.centers.resize(values, 0.0);
        self.slopes.clear();
        self.slopes.resize(values, 0.0);
        self.along.clear();
        self.stretches.clear();
        let mut last = None;
        for (i, column) in columns.clone().enumerate() {
            let (left, right, _) = cell_of(column);
            let center = 3 * (left - self.cells.start);
            if last != Some((left, right)) {
                last = Some((left, right));
                let slope = if left == right { values - 3 } else { center };
                self.stretches.push(Stretch { columns: i..i, center, slope });
            }
            self.along.push(column as f32 - (left as f32 * cell + (cell - 1.0) / 2.0));
            if let Some(stretch) = self.stretches.last_mut() {
                stretch.columns.end = i + 1;
            }
        }
        for stretch in &mut self.stretches {
            let eights = stretch.columns.len().next_multiple_of(8);
            stretch.columns.end = (stretch.columns.start + eights).min(columns.len());
        }
    }

    /// Draws row `y` of the field as three planes.
    pub fn draw(&mut self, field: &PaperField, y: usize, planes: [&mut [f32]; 3]) {
        let (top, bottom, down) = between(y, field.cell(), field.grid().height());
        let cells = |row: usize| field.grid().row(row)[self.cells.clone()].as_flattened();
        for ((center, upper), lower) in self.centers.iter_mut().zip(cells(top)).zip(cells(bottom)) {
            *center = upper + down * (lower - upper);
        }
        let cell = field.cell() as f32;
        for ((slope, from), to) in self.slopes.iter_mut().zip(&self.centers).zip(&self.centers[3..]) {
            *slope = (to - from) / cell;
        }
        let [red, green, blue] = planes;
        for Stretch { columns, center, slope } in &self.stretches {
            let along = &self.along[columns.clone()];
            let (centers, slopes) = (&self.centers[*center..center + 3], &self.slopes[*slope..slope + 3]);
            line(centers[0], slopes[0], along, &mut red[columns.clone()]);
            line(centers[1], slopes[1], along, &mut green[columns.clone()]);
            line(centers[2], slopes[2], along, &mut blue[columns.clone()]);
        }
    }
}

/// A straight line.
#[inline]
fn line(base: f32, slope: f32, along: &[f32], out: &mut [f32]) {
    let (eights, rest) = out.as_chunks_mut::<8>();
    let (along_eights, along_rest) = along.as_chunks::<8>();
    for (out, along) in eights.iter_mut().zip(along_eights) {
        for (v, along) in out.iter_mut().zip(along) {
            *v = base + slope * along;
        }
    }
    for (v, along) in rest.iter_mut().zip(along_rest) {
        *v = base + slope * along;
    }
}
