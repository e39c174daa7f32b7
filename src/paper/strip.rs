//! A band of rows of the sheet laid against its paper: the color residual, with rows to spare above and below.

use std::ops::Range;

use super::PaperField;
use crate::filter::gauss;
use crate::image::Sheet;

/// Three channels of residual (scan minus paper, encoded) for a band of rows and a border of rows around it.
#[derive(Debug, Default)]
pub struct Strip {
    width: usize,
    rows: Range<usize>,
    halo: usize,
    residual: [Vec<f32>; 3],
    paper: [Vec<f32>; 3],
}

impl Strip {
    /// Fills the strip with rows `rows` of the sheet and `halo` more on each side; beyond the sheet rows mirror.
    pub fn load(&mut self, sheet: &Sheet, field: &PaperField, rows: Range<usize>, halo: usize) {
        self.width = sheet.width();
        self.halo = halo;
        let tall = rows.len() + 2 * halo;
        self.rows = rows;
        for plane in self.residual.iter_mut().chain(&mut self.paper) {
            plane.resize(tall * self.width, 0.0);
        }
        for i in 0..tall {
            let y = gauss::mirror(self.rows.start as isize + i as isize - halo as isize, sheet.height());
            let at = i * self.width..(i + 1) * self.width;
            let [r, g, b] = &mut self.residual;
            sheet.row(y, &mut r[at.clone()], &mut g[at.clone()], &mut b[at.clone()]);
            let [pr, pg, pb] = &mut self.paper;
            field.row(y, &mut pr[at.clone()], &mut pg[at.clone()], &mut pb[at.clone()]);
            for (residual, paper) in self.residual.iter_mut().zip(&self.paper) {
                for (v, p) in residual[at.clone()].iter_mut().zip(&paper[at.clone()]) {
                    *v -= p;
                }
            }
        }
    }

    /// Pixels across.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// The rows of the band itself.
    #[must_use]
    pub fn rows(&self) -> Range<usize> {
        self.rows.clone()
    }

    /// Rows to spare on each side.
    #[must_use]
    pub fn halo(&self) -> usize {
        self.halo
    }

    /// The residual of one channel in row `i` of the strip; row `halo` is the first of the band.
    #[must_use]
    pub fn residual(&self, channel: usize, i: usize) -> &[f32] {
        &self.residual[channel][i * self.width..(i + 1) * self.width]
    }

    /// The paper of one channel in row `i` of the strip.
    #[must_use]
    pub fn paper(&self, channel: usize, i: usize) -> &[f32] {
        &self.paper[channel][i * self.width..(i + 1) * self.width]
    }
}
