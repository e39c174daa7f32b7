//! A strip of the sheet, gone through from its top to its bottom for the evidence of paint.
//!
//! Each row is read once and held only as long as rows below need it, so that a strip stays in the processor's cache.
//! Beyond the sheet pixels mirror.

use std::ops::Range;

use super::evidence::{BLOCK, CONTRAST_STEPS, STEPS, STRONG, STRONG_CONTRAST};
use crate::color::math::min;
use crate::filter::gauss;
use crate::image::{Plane, Sheet};
use crate::paper::{PaperField, Ruler, SheetEdge, Tooth};

/// Columns of a strip. A multiple of 8, so that every reduced pixel belongs to one.
pub(super) const COLUMNS: usize = 1024;
/// Reach of the exclusion around strong paint, in pixels.
const GUARD: usize = 2;

/// What is gathered, for the whole sheet.
#[derive(Debug)]
pub(super) struct Gathered {
    /// As in the evidence.
    pub(super) fine: Plane<u8>,
    /// As in the evidence.
    pub(super) contrast: Plane<u16>,
    /// Sums over 2 x 2 pixels of the residual, strong paint left out, and of how many pixels were not.
    pub(super) half: Plane<[f32; 4]>,
    /// Sums over 4 x 4 pixels, in sixteenths, of the residual and of the square of its sum.
    pub(super) coarse: Plane<[f32; 4]>,
    /// Energy of the fine noise and the pixels it was measured on; only where the scan was coded in blocks.
    pub(super) blocks: Option<Plane<[f32; 2]>>,
}

/// The last rows of a kind, the next in the place of the oldest.
#[derive(Debug)]
struct Ring<T>(Vec<Vec<T>>);

impl<T: Clone + Default> Ring<T> {
    fn new(rows: usize, width: usize) -> Self {
        Self(vec![vec![T::default(); width]; rows])
    }

    fn row(&self, i: usize) -> &[T] {
        &self.0[i % self.0.len()]
    }

    fn row_mut(&mut self, i: usize) -> &mut [T] {
        let rows = self.0.len();
        &mut self.0[i % rows]
    }
}

/// A strip, and the rows of it that are at hand. Rows are counted from the first that is needed above the sheet.
#[derive(Debug)]
pub(super) struct Strip {
    columns: Range<usize>,
    /// The part of the sheet's rows that is read, and how far it is from the strip's border.
    read: Range<usize>,
    lead: usize,
    kernel: Vec<f32>,
    ruler: Ruler,
    paper: [Vec<f32>; 3],
    /// Rows read, with all that is needed left and right; and blurred across.
    loaded: usize,
    residual: [Ring<f32>; 3],
    across: [Ring<f32>; 3],
    /// Rows judged, with [`GUARD`] pixels left and right: all bits set where paint is not strong.
    judged: usize,
    weak: Ring<u8>,
    /// How many deviations the blur took off a row, squared.
    rough: Ring<f32>,
    smooth: [Vec<f32>; 3],
    distance: Vec<f32>,
    square: Vec<f32>,
    weak_down: Vec<u8>,
    keep: Vec<f32>,
    outside: Vec<u8>,
    /// Sums down the rows of a half-size and of a quarter-size pixel.
    two: [Vec<f32>; 4],
    four: [Vec<f32>; 4],
}

impl Strip {
    /// The strip over some columns of a sheet, whose finest pooling is by `kernel`.
    pub(super) fn new(sheet: &Sheet, field: &PaperField, columns: Range<usize>, kernel: Vec<f32>) -> Self {
        let halo = GUARD + kernel.len() - 1;
        let read = columns.start.saturating_sub(halo)..(columns.end + halo).min(sheet.width());
        let (n, wide) = (columns.len(), columns.len() + 2 * GUARD);
        let line = || vec![0.0; n];
        Self {
            lead: read.start + halo - columns.start,
            ruler: Ruler::new(field, read.clone()),
            paper: [0, 1, 2].map(|_| vec![0.0; read.len()]),
            loaded: 0,
            residual: [0, 1, 2].map(|_| Ring::new(halo + 1, n + 2 * halo)),
            across: [0, 1, 2].map(|_| Ring::new(2 * kernel.len() - 1, wide)),
            judged: 0,
            weak: Ring::new(2 * GUARD + 1, wide),
            rough: Ring::new(GUARD + 1, n),
            smooth: [0, 1, 2].map(|_| vec![0.0; wide]),
            distance: vec![0.0; wide],
            square: vec![0.0; wide],
            weak_down: vec![0; wide],
            keep: line(),
            outside: vec![0; n],
            two: [0, 1, 2, 3].map(|_| line()),
            four: [0, 1, 2, 3].map(|_| line()),
            columns,
            read,
            kernel,
        }
    }

    /// Gathers row `y`, the next below the last.
    pub(super) fn row(
        &mut self,
        sheet: &Sheet,
        field: &PaperField,
        edge: &SheetEdge,
        tooth: &Tooth,
        y: usize,
        to: &mut Gathered,
    ) {
        while self.judged <= y + 2 * GUARD {
            while self.loaded <= self.judged + 2 * self.reach() {
                self.load(sheet, field);
            }
            self.judge(tooth, to);
        }
        self.weigh(edge, y);
        self.sum(y, y + 1 == sheet.height(), to);
    }

    /// How far the kernel reaches.
    fn reach(&self) -> usize {
        self.kernel.len() - 1
    }

    /// Pixels needed around the strip.
    fn halo(&self) -> usize {
        GUARD + self.reach()
    }

    /// Reads the next row against its paper, and blurs it across.
    fn load(&mut self, sheet: &Sheet, field: &PaperField) {
        let (halo, lead, start) = (self.halo(), self.lead, self.columns.start);
        let y = gauss::mirror(self.loaded as isize - halo as isize, sheet.height());
        let [red, green, blue] = &mut self.paper;
        self.ruler.draw(field, y, [red, green, blue]);
        for (c, ((residual, across), paper)) in self.residual.iter_mut().zip(&mut self.across).zip(&self.paper).enumerate() {
            let row = residual.row_mut(self.loaded);
            let on_sheet = lead..lead + paper.len();
            sheet.above(y, self.read.start, c, paper, &mut row[on_sheet.clone()]);
            for x in (0..on_sheet.start).chain(on_sheet.end..row.len()) {
                row[x] = row[gauss::mirror((start + x) as isize - halo as isize, sheet.width()) + halo - start];
            }
            gauss::blur_inside(row, &self.kernel, across.row_mut(self.loaded));
        }
        self.loaded += 1;
    }

    /// Blurs the next row down, tells how far it lies off the paper, and where paint is strong in it.
    fn judge(&mut self, tooth: &Tooth, to: &mut Gathered) {
        let (reach, halo, n) = (self.reach(), self.halo(), self.columns.len());
        let middle = self.judged + reach;
        for (across, smooth) in self.across.iter().zip(&mut self.smooth) {
            gauss::blur_column(&self.kernel, |dy| across.row(middle.wrapping_add_signed(dy)), smooth);
        }
        let [red, green, blue] = &self.smooth;
        tooth.distances_squared([red, green, blue], &mut self.distance);
        for (((out, r), g), b) in self.square.iter_mut().zip(red).zip(green).zip(blue) {
            *out = r * r + g * g + b * b;
        }
        let weak = self.weak.row_mut(self.judged);
        for ((out, d), square) in weak.iter_mut().zip(&self.distance).zip(&self.square) {
            let strong = (*d > STRONG * STRONG) & (*square > STRONG_CONTRAST * STRONG_CONTRAST);
            *out = u8::from(strong).wrapping_sub(1);
        }
        if let Some(y) = self.judged.checked_sub(GUARD).filter(|y| *y < to.fine.height()) {
            // By way of a whole integer, which there are vectors of.
            for (out, d) in to.fine.row_mut(y)[self.columns.clone()].iter_mut().zip(&self.distance[GUARD..]) {
                *out = min(d.sqrt() * STEPS, 255.0) as i32 as u8;
            }
            for (out, v) in to.contrast.row_mut(y)[self.columns.clone()].iter_mut().zip(&self.square[GUARD..]) {
                *out = (v.sqrt() * CONTRAST_STEPS) as i32 as u16;
            }
            if to.blocks.is_some() {
                let [r, g, b] = [0, 1, 2].map(|c| &self.residual[c].row(middle)[halo..][..n]);
                let (red, green, blue) = (&red[GUARD..], &green[GUARD..], &blue[GUARD..]);
                for (x, rough) in self.rough.row_mut(self.judged).iter_mut().enumerate() {
                    *rough = tooth.distance_squared([r[x] - red[x], g[x] - green[x], b[x] - blue[x]]);
                }
            }
        }
        self.judged += 1;
    }

    /// Says which pixels of row `y` are pooled: none within two pixels of strong paint, and none outside the sheet.
    fn weigh(&mut self, edge: &SheetEdge, y: usize) {
        self.weak_down.fill(u8::MAX);
        for i in y..=y + 2 * GUARD {
            self.weak_down.iter_mut().zip(self.weak.row(i)).for_each(|(down, weak)| *down &= weak);
        }
        let down = &self.weak_down;
        for (x, out) in self.keep.iter_mut().enumerate() {
            let five = down[x] & down[x + 1] & down[x + 2] & down[x + 3] & down[x + 4];
            *out = f32::from(five & 1);
        }
        if !edge.is_none() {
            edge.row_from(y, self.columns.start, &mut self.outside);
            self.keep.iter_mut().zip(&self.outside).for_each(|(k, o)| *k *= f32::from(1 - o));
        }
    }

    /// Adds row `y` to the sums. Rows are summed first, columns once per reduced row.
    fn sum(&mut self, y: usize, last: bool, to: &mut Gathered) {
        let (halo, n, start) = (self.halo(), self.columns.len(), self.columns.start);
        let (begin_two, begin_four) = (y.is_multiple_of(2), y.is_multiple_of(4));
        let Self { residual, keep, two, four, .. } = self;
        let residual = [0, 1, 2].map(|c| &residual[c].row(y + halo)[halo..halo + n]);
        for (c, residual) in residual.iter().enumerate() {
            add(residual, &mut four[c], begin_four);
            let kept = two[c].iter_mut().zip(residual.iter()).zip(keep.iter());
            if begin_two {
                kept.for_each(|((sum, r), k)| *sum = r * k);
            } else {
                kept.for_each(|((sum, r), k)| *sum += r * k);
            }
        }
        let [r, g, b] = residual;
        let sum = four[3].iter_mut().zip(r).zip(g).zip(b);
        if begin_four {
            sum.for_each(|(((sum, r), g), b)| *sum = (r + g + b) * (r + g + b));
        } else {
            sum.for_each(|(((sum, r), g), b)| *sum += (r + g + b) * (r + g + b));
        }
        add(keep, &mut two[3], begin_two);
        if y % 4 == 3 || last {
            let coarse = &mut to.coarse.row_mut(y / 4)[start / 4..];
            sum_columns::<4>(four, coarse);
            coarse[..n.div_ceil(4)].iter_mut().for_each(|sum| *sum = sum.map(|v| v * (1.0 / 16.0)));
        }
        if y % 2 == 1 || last {
            sum_columns::<2>(two, &mut to.half.row_mut(y / 2)[start / 2..]);
        }
        if let Some(blocks) = &mut to.blocks {
            let row = &mut blocks.row_mut(y / BLOCK)[start / BLOCK..];
            for (x, (k, rough)) in keep.iter().zip(self.rough.row(y + GUARD)).enumerate() {
                row[x / BLOCK][0] += k * rough;
                row[x / BLOCK][1] += k;
            }
        }
    }
}

/// Adds a row to a sum, or begins it.
fn add(row: &[f32], sum: &mut [f32], begin: bool) {
    if begin {
        sum.copy_from_slice(row);
    } else {
        sum.iter_mut().zip(row).for_each(|(s, v)| *s += v);
    }
}

/// Sums of every `SIDE` columns of four rows, the four beside each other; the last may be of fewer.
fn sum_columns<const SIDE: usize>(rows: &[Vec<f32>; 4], sums: &mut [[f32; 4]]) {
    let [a, b, c, d] = [0, 1, 2, 3].map(|i| rows[i].as_chunks::<SIDE>());
    let whole = a.0.iter().zip(b.0).zip(c.0).zip(d.0);
    for (sums, (((a, b), c), d)) in sums.iter_mut().zip(whole) {
        *sums = [a, b, c, d].map(|v| v.iter().sum());
    }
    if !a.1.is_empty() {
        sums[a.0.len()] = [a.1, b.1, c.1, d.1].map(|v| v.iter().sum());
    }
}
