//! A bound for the matte at edges: what comes of taking a pixel's own color from the solid paint beside it, with all else known.

use super::judged::nearest_kind;
use crate::render::distance::nearest;
use crate::render::element::Element;
use crate::render::truth::Scene;

/// Paint from this alpha on is solid.
const SOLID: f32 = 0.95;
/// Solid paint within so many pixels gives the color, weighed by a Gaussian of that deviation; if there is none, the nearest does.
const REACH: usize = 4;
const SIGMA: f32 = 1.5;
/// From this alpha on a color is un-mixed; of what is less, noise would make any color.
const UNMIXED: f32 = 0.3;

/// The picture by someone who knows the paper, where there is none and where there is nothing but paint, and which kind of paint each
/// pixel belongs to, but who must take a half covered pixel's own color from the scan of the solid paint of its kind around it: the
/// pixel is placed on the straight line from paper to that. Straight alpha, encoded 0..1.
#[must_use]
pub fn from_inside(scene: &Scene) -> Vec<[f32; 4]> {
    let (width, height) = (scene.scan.width(), scene.scan.height());
    let (alpha, label) = (scene.alpha.data(), nearest_kind(scene.label.data(), width, height));
    let scan: Vec<[f32; 3]> = (0..alpha.len()).map(|i| scene.scan.pixel(i % width, i / width)).collect();
    let mut out: Vec<[f32; 4]> =
        scan.iter().zip(alpha).map(|(&[r, g, b], &a)| if a > 0.0 { [r, g, b, 1.0] } else { [0.0; 4] }).collect();
    for kind in Element::PAINT.map(|element| element as u8) {
        let solid: Vec<bool> = (0..alpha.len()).map(|i| label[i] == kind && alpha[i] >= SOLID).collect();
        let Some(from) = nearest(&solid, width, height) else { continue };
        for i in (0..alpha.len()).filter(|&i| label[i] == kind && alpha[i] > 0.0 && alpha[i] < 0.995) {
            let (x, y) = (i % width, i / width);
            let (mut sum, mut weight) = ([0.0; 3], 0.0);
            for v in y.saturating_sub(REACH)..(y + REACH + 1).min(height) {
                for u in x.saturating_sub(REACH)..(x + REACH + 1).min(width) {
                    if solid[v * width + u] {
                        let square = (u.abs_diff(x).pow(2) + v.abs_diff(y).pow(2)) as f32;
                        let w = libm::expf(-square / (2.0 * SIGMA * SIGMA));
                        weight += w;
                        (0..3).for_each(|c| sum[c] += w * scan[v * width + u][c]);
                    }
                }
            }
            let own = if weight > 0.0 { sum.map(|v| v / weight) } else { scan[from[i]] };
            out[i] = placed(scan[i], scene.paper[i], own);
        }
    }
    out
}

/// A pixel on the line from paper to a paint's own color.
fn placed(scan: [f32; 3], paper: [f32; 3], own: [f32; 3]) -> [f32; 4] {
    let (mut along, mut whole) = (0.0, 1e-6);
    for c in 0..3 {
        let way = own[c] - paper[c];
        along += (scan[c] - paper[c]) * way;
        whole += way * way;
    }
    let a = (along / whole).clamp(0.0, 1.0);
    let color = |c: usize| if a > UNMIXED { (paper[c] + (scan[c] - paper[c]) / a).clamp(0.0, 1.0) } else { own[c] };
    if a > 0.0 { [color(0), color(1), color(2), a] } else { [0.0; 4] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pixel_half_way_is_half_covered() {
        let (paper, own) = ([0.9, 0.9, 0.8], [0.5, 0.3, 0.2]);
        let half = [0, 1, 2].map(|c| 0.5 * (paper[c] + own[c]));
        let pixel = placed(half, paper, own);
        assert!((pixel[3] - 0.5).abs() < 1e-5 && (0..3).all(|c| (pixel[c] - own[c]).abs() < 1e-5), "{pixel:?}");
        assert_eq!(placed(paper, paper, own), [0.0; 4]);
        // What goes astray from the line stays in the color.
        let astray = placed([0.7, 0.62, 0.5], paper, own);
        assert!((0..3).all(|c| (astray[3] * astray[c] + (1.0 - astray[3]) * paper[c] - [0.7, 0.62, 0.5][c]).abs() < 1e-5));
    }
}
