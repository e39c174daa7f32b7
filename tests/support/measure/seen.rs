//! What shows when the art is laid on another ground.

use crate::color::{ciede2000, lab};

/// The grounds that every art is judged on, encoded 0..1: black, navy, mid-gray, pink.
pub const GROUNDS: [[f32; 3]; 4] = [
    [0.0, 0.0, 0.0],
    [20.0 / 255.0, 33.0 / 255.0, 61.0 / 255.0],
    [119.0 / 255.0, 119.0 / 255.0, 119.0 / 255.0],
    [1.0, 182.0 / 255.0, 193.0 / 255.0],
];

/// Differences at each pixel of the sheet.
pub struct Seen {
    /// CIEDE2000 on each of the [`GROUNDS`].
    pub on: [Vec<f32>; 4],
    /// How much lighter (L*) than the truth on black; never negative.
    pub lighter: Vec<f32>,
}

/// Lays art (straight alpha) and truth (color over black, alpha) on the grounds, where `counts` says so. Elsewhere 0.
#[must_use]
pub fn compare(art: &[[f32; 4]], black: &[[f32; 3]], alpha: &[f32], counts: &[bool]) -> Seen {
    let n = art.len();
    let mut seen = Seen { on: [(); 4].map(|()| vec![0.0; n]), lighter: vec![0.0; n] };
    for i in (0..n).filter(|&i| counts[i] && (art[i][3] > 0.0 || alpha[i] > 0.0)) {
        let ([r, g, b, a], t) = (art[i], alpha[i]);
        for (k, ground) in GROUNDS.iter().enumerate() {
            let color = [r, g, b];
            let one = [0, 1, 2].map(|c| (color[c] * a + (1.0 - a) * ground[c]).clamp(0.0, 1.0));
            let two = [0, 1, 2].map(|c| (black[i][c] + (1.0 - t) * ground[c]).clamp(0.0, 1.0));
            if one == two {
                continue;
            }
            let (one, two) = (lab(one), lab(two));
            seen.on[k][i] = ciede2000(one, two) as f32;
            if k == 0 {
                seen.lighter[i] = (one[0] - two[0]).max(0.0) as f32;
            }
        }
    }
    seen
}

/// The mean, and the value that `share` of the values stay under; `None` without values.
#[must_use]
pub fn mean_and_share(values: &mut [f32], share: f64) -> Option<(f64, f64)> {
    if values.is_empty() {
        return None;
    }
    values.sort_by(f32::total_cmp);
    let mean = values.iter().map(|&v| f64::from(v)).sum::<f64>() / values.len() as f64;
    // Between two values: in proportion.
    let at = share * (values.len() - 1) as f64;
    let (low, high) = (values[at as usize], values[(at as usize + 1).min(values.len() - 1)]);
    Some((mean, f64::from(low) + f64::from(high - low) * at.fract()))
}
