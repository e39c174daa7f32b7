//! Pictures for a person to look at a lift and its truth side by side.

use crate::render::truth::Scene;
use barewash::image::{Samples, Sheet};

/// Panels are made no wider than this, px.
const WIDEST: usize = 600;

/// Px between panels.
const GAP: usize = 8;

/// How many times a difference is made larger to be seen.
const LARGER: f32 = 8.0;

/// Rows of four panels, one row a scene: the scan on its paper, the truth on black, the art on black, and the difference of
/// the last two, eight times as large around mid-gray.
#[derive(Default)]
pub struct ContactSheet {
    rows: Vec<(usize, Vec<[f32; 3]>)>,
    width: usize,
}

impl ContactSheet {
    /// Adds a scene and an art of it: straight alpha, encoded 0..1, row by row.
    pub fn add(&mut self, scene: &Scene, art: &[[f32; 4]]) {
        let (width, height) = (scene.scan.width(), scene.scan.height());
        let factor = width.div_ceil(WIDEST);
        let laid = |i: usize| [0, 1, 2].map(|c| art[i][c] * art[i][3]);
        let panels: [&dyn Fn(usize) -> [f32; 3]; 4] =
            [&|i| scene.scan.pixel(i % width, i / width), &|i| scene.black[i], &laid, &|i| {
                [0, 1, 2].map(|c| (0.5 + LARGER * (laid(i)[c] - scene.black[i][c])).clamp(0.0, 1.0))
            }];
        let (across, down) = (width / factor, height / factor);
        let whole = 4 * across + 3 * GAP;
        let mut row = vec![[0.5; 3]; whole * down];
        let share = 1.0 / (factor * factor) as f32;
        for (k, panel) in panels.iter().enumerate() {
            for (x, y) in (0..across * down).map(|i| (i % across, i / across)) {
                let mut sum = [0.0_f32; 3];
                for j in 0..factor * factor {
                    let value = panel((y * factor + j / factor) * width + x * factor + j % factor);
                    sum.iter_mut().zip(value).for_each(|(s, v)| *s += share * v);
                }
                row[y * whole + k * (across + GAP) + x] = sum;
            }
        }
        self.width = self.width.max(whole);
        self.rows.push((whole, row));
    }

    /// All rows under each other, encoded 8 bits; nothing when there are none.
    #[must_use]
    pub fn picture(&self) -> Option<Sheet> {
        let gray = [0.5_f32; 3];
        let mut pixels = Vec::new();
        for (k, (whole, row)) in self.rows.iter().enumerate() {
            if k > 0 {
                pixels.extend(std::iter::repeat_n(gray, GAP * self.width));
            }
            for line in row.chunks_exact(*whole) {
                pixels.extend(line);
                pixels.extend(std::iter::repeat_n(gray, self.width - whole));
            }
        }
        let height = pixels.len().checked_div(self.width)?;
        let samples = pixels.into_iter().flat_map(|p: [f32; 3]| p.map(|v| (v * 255.0 + 0.5) as u8)).collect();
        Some(Sheet::new(self.width, height, Samples::Eight(samples), None))
    }
}
