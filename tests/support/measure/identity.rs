//! The art laid back on its own paper against the scan.

use barewash::image::Sheet;

/// How far the scan is from the art laid back on its paper, in 8-bit counts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Identity {
    /// Pixels compared.
    pub pixels: usize,
    /// Mean over pixels and channels.
    pub mean: f64,
    /// Greatest.
    pub greatest: f64,
    /// Share of pixels with a channel off by more than one count.
    pub over_one: f64,
}

/// Compares where `counts` says so. `art`: straight alpha, encoded 0..1; `paper`: encoded 0..1; both row by row. An 8-bit sheet is
/// compared in whole counts, as a viewer would show the composite: rounded.
///
/// # Panics
/// When the sizes differ.
#[must_use]
pub fn identity(sheet: &Sheet, art: &[[f32; 4]], paper: &[[f32; 3]], counts: impl Fn(usize) -> bool) -> Identity {
    let (width, n) = (sheet.width(), sheet.width() * sheet.height());
    assert!(art.len() == n && paper.len() == n, "art and paper of the sheet's size");
    let whole = sheet.bits() == 8;
    let mut out = Identity::default();
    let (mut sum, mut over) = (0.0, 0_usize);
    for i in (0..n).filter(|&i| counts(i)) {
        let scan = sheet.pixel(i % width, i / width);
        let a = art[i][3];
        let mut worst = 0.0_f64;
        for c in 0..3 {
            let laid = f64::from((art[i][c] * a + (1.0 - a) * paper[i][c]).clamp(0.0, 1.0)) * 255.0;
            let laid = if whole { laid.round() } else { laid };
            let off = (laid - f64::from(scan[c]) * 255.0).abs();
            sum += off;
            worst = worst.max(off);
        }
        out.pixels += 1;
        out.greatest = out.greatest.max(worst);
        over += usize::from(worst > 1.0 + 1e-3);
    }
    let count = out.pixels.max(1) as f64;
    out.mean = sum / (3.0 * count);
    out.over_one = over as f64 / count;
    out
}
