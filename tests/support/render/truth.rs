//! The scan and the truth.
//!
//! Light mixes linearly in the scanner, but whoever shows a picture with alpha mixes encoded values. So the true alpha is
//! the mixing fraction of the encoded scan between encoded paper and encoded paint: a pixel half covered by dark paint scans
//! much lighter than half way, and an alpha of 0.5 there would build a pale halo into the picture.
//!
//! The truth knows the scanner's blur, which cannot be undone. It knows nothing of spread and stray light, sharpening,
//! shading, stripes, noise and lossy files: those are faults of the scan, and the right answer is the painting without them.

use super::blur::blur;
use super::components::regions;
use super::distance;
use super::element::Element;
use super::marks::soil;
use super::painting::Painting;
use super::scanner::Scanner;
use crate::color;
use crate::files;
use barewash::decode;
use barewash::image::{Plane, Samples, Sheet};
use barewash::units::Ppi;

/// Pockets of paper smaller than this (px) are not scored: nobody would click them.
const SMALLEST_POCKET: usize = 200;

/// A scan with its right answer. Colors are encoded sRGB, 0..1.
pub struct Scene {
    /// What the scanner delivers.
    pub scan: Sheet,
    /// The true alpha, 0..1.
    pub alpha: Plane<f32>,
    /// The true picture over black: alpha times color. Over any ground S it is `black + (1 - alpha) * S`.
    pub black: Vec<[f32; 3]>,
    /// The bare paper as the scanner would see it, without noise.
    pub paper: Vec<[f32; 3]>,
    /// [`Element`] of each pixel.
    pub label: Plane<u8>,
    /// A pixel inside each pocket of bare paper, where the painter would click.
    pub pockets: Vec<[usize; 2]>,
}

fn blurred(light: &[[f32; 3]], [width, height]: [usize; 2], sigma: f32) -> [Vec<f32>; 3] {
    [0, 1, 2].map(|c| {
        let mut plane: Vec<f32> = light.iter().map(|p| p[c]).collect();
        blur(&mut plane, width, height, sigma);
        plane
    })
}

/// Scans a painting.
#[must_use]
pub fn scan(painting: Painting, scanner: &Scanner) -> Scene {
    let size = painting.size;
    let [width, height] = size;
    let soiled = soil(&painting);
    let sheet = deliver(&painting, &soiled.light, scanner);
    let marks = soiled.label;
    drop(soiled.light);
    let seen = blurred(&painting.light, size, scanner.blur);
    let bare = blurred(&painting.paper.light, size, scanner.blur);
    let mut member = painting.member;
    blur(&mut member, width, height, scanner.blur);
    let n = width * height;
    let mut alpha = vec![0.0_f32; n];
    let mut black = vec![[0.0_f32; 3]; n];
    let mut paper = vec![[0.0_f32; 3]; n];
    for i in 0..n {
        let p = [0, 1, 2].map(|c| bare[c][i]);
        let encoded_paper = color::encode3(p);
        paper[i] = encoded_paper;
        let m = snap(member[i]);
        if m == 0.0 {
            continue;
        }
        let light = [0, 1, 2].map(|c| seen[c][i]);
        let paint = [0, 1, 2].map(|c| ((light[c] - (1.0 - m) * p[c]) / m).clamp(0.0, 1.0));
        let here = color::encode3(light);
        alpha[i] = encoded_fraction(encoded_paper, here, color::encode3(paint), m);
        if alpha[i] > 0.0 {
            black[i] = [0, 1, 2].map(|c| (here[c] - (1.0 - alpha[i]) * encoded_paper[c]).clamp(0.0, 1.0));
        }
    }
    let (label, pockets) = name(&alpha, &painting.label, &marks, width, height);
    Scene {
        scan: sheet,
        alpha: Plane::from_vec(width, height, alpha),
        black,
        paper,
        label: Plane::from_vec(width, height, label),
        pockets,
    }
}

/// Fractions that no eye and no 8-bit file holds count as nothing or all.
fn snap(v: f32) -> f32 {
    if v < 1.0 / 256.0 {
        0.0
    } else if v > 1.0 - 1.0 / 512.0 {
        1.0
    } else {
        v
    }
}

/// How far `here` lies on the way from paper to paint, all encoded; leaning on the linear fraction where the two are nearly
/// equal, and never so small that the color it leaves could not be shown.
fn encoded_fraction(paper: [f32; 3], here: [f32; 3], paint: [f32; 3], linear: f32) -> f32 {
    const EQUAL: f32 = 0.02 * 0.02;
    let (mut along, mut whole, mut least) = (EQUAL * linear, EQUAL, 0.0_f32);
    for c in 0..3 {
        let way = paper[c] - paint[c];
        along += (paper[c] - here[c]) * way;
        whole += way * way;
        least = least.max(if here[c] < paper[c] {
            (paper[c] - here[c]) / paper[c].max(1e-6)
        } else {
            (here[c] - paper[c]) / (1.0 - paper[c]).max(1e-6)
        });
    }
    snap((along / whole).clamp(0.0, 1.0).max(least.min(1.0)))
}

/// Labels of the final truth, and where the painter would click to open the pockets.
fn name(alpha: &[f32], paint: &[u8], marks: &[u8], width: usize, height: usize) -> (Vec<u8>, Vec<[usize; 2]>) {
    let free: Vec<bool> = alpha.iter().map(|&a| a < 0.15).collect();
    let closed: Vec<bool> = free.iter().map(|v| !v).collect();
    let mut label: Vec<u8> = alpha.iter().zip(paint).zip(marks).map(|((&a, &p), &m)| if a > 0.0 { p } else { m }).collect();
    let (number, found) = regions(&free, width, height, false);
    let to_paint = distance::to_nearest(&closed, width, height);
    let mut pockets = Vec::new();
    for (k, region) in found.iter().enumerate().filter(|(_, r)| !r.touches_edge(width, height)) {
        let mut deepest = (-1.0, [0, 0]);
        for y in region.from[1]..=region.to[1] {
            for x in region.from[0]..=region.to[0] {
                let i = y * width + x;
                if number[i] != k as u32 + 1 {
                    continue;
                }
                if region.area < SMALLEST_POCKET {
                    for (dx, dy) in (0..25).map(|j| (j % 5, j / 5)) {
                        let (u, v) = ((x + dx).wrapping_sub(2), (y + dy).wrapping_sub(2));
                        if u < width && v < height {
                            label[v * width + u] = Element::Ignored as u8;
                        }
                    }
                } else {
                    if alpha[i] == 0.0 {
                        label[i] = Element::Pocket as u8;
                    }
                    if to_paint[i] > deepest.0 {
                        deepest = (to_paint[i], [x, y]);
                    }
                }
            }
        }
        if region.area >= SMALLEST_POCKET {
            pockets.push(deepest.1);
        }
    }
    (label, pockets)
}

/// Blur, spread and stray light, sharpening, shading, stripes, noise, encoding, rounding, and the file.
fn deliver(painting: &Painting, light: &[[f32; 3]], scanner: &Scanner) -> Sheet {
    let [width, height] = painting.size;
    let mut planes = blurred(light, painting.size, scanner.blur);
    for plane in &mut planes {
        for (share, reach) in [scanner.spread, scanner.stray].into_iter().flatten() {
            let mut wide = plane.clone();
            blur(&mut wide, width, height, reach);
            plane.iter_mut().zip(&wide).for_each(|(v, w)| *v += share * (w - *v));
        }
        if scanner.overshoot > 0.0 {
            let mut soft = plane.clone();
            blur(&mut soft, width, height, 1.2);
            plane.iter_mut().zip(&soft).for_each(|(v, s)| *v = (*v + scanner.overshoot * (*v - s)).max(0.0));
        }
        if let Some((across, loss, reach)) = scanner.gutter {
            let fold = across * width as f32;
            let row: Vec<f32> = (0..width).map(|x| 1.0 - loss * libm::expf(-(x as f32 + 0.5 - fold).abs() / reach)).collect();
            plane.chunks_exact_mut(width).for_each(|line| line.iter_mut().zip(&row).for_each(|(v, r)| *v *= r));
        }
    }
    if scanner.banding > 0.0 {
        let mut random = painting.chance_for(5);
        let gain: Vec<f32> = (0..width).map(|_| 1.0 + scanner.banding * random.normal()).collect();
        for line in planes.iter_mut().flat_map(|plane| plane.chunks_exact_mut(width)) {
            line.iter_mut().zip(&gain).for_each(|(v, g)| *v *= g);
        }
    }
    let mut random = painting.chance_for(4);
    let [floor, shot] = scanner.noise.map(|n| n * n);
    let mut value = |i: usize| {
        let noise = random.normals();
        [0, 1, 2].map(|c| {
            let v = planes[c][i];
            color::encode(v + noise[c] * (floor + shot * v.max(0.0)).sqrt())
        })
    };
    let samples = if scanner.bits == 16 {
        Samples::Sixteen((0..width * height).flat_map(|i| value(i).map(|v| (v * 65535.0 + 0.5) as u16)).collect())
    } else {
        Samples::Eight((0..width * height).flat_map(|i| value(i).map(|v| (v * 255.0 + 0.5) as u8)).collect())
    };
    let sheet = Sheet::new(width, height, samples, Some(Ppi(f64::from(painting.ppi))));
    match scanner.jpeg {
        None => sheet,
        Some(jpeg) => {
            let file = files::jpeg(&sheet, jpeg).expect("a sheet that a JPEG can hold");
            decode::read(&file).expect("the JPEG just written").sheet
        }
    }
}

impl Scene {
    /// The true picture as straight-alpha color, encoded 0..1: red, green, blue, alpha.
    #[must_use]
    pub fn answer(&self) -> Vec<[f32; 4]> {
        self.alpha
            .data()
            .iter()
            .zip(&self.black)
            .map(|(&a, b)| if a > 0.0 { [b[0] / a, b[1] / a, b[2] / a, a].map(|v| v.min(1.0)) } else { [0.0; 4] })
            .collect()
    }

    /// The nearest to the answer that a scan lets anyone come who knows the paper and the alpha: each pixel un-mixed by them alone.
    /// What this misses, no lift can find.
    #[must_use]
    pub fn nearest(&self) -> Vec<[f32; 4]> {
        let width = self.scan.width();
        let pixel = |(i, (&a, paper)): (usize, (&f32, &[f32; 3]))| {
            let scan = self.scan.pixel(i % width, i / width);
            let color = |c: usize| if a > 0.0 { (paper[c] + (scan[c] - paper[c]) / a).clamp(0.0, 1.0) } else { 0.0 };
            [color(0), color(1), color(2), a]
        };
        self.alpha.data().iter().zip(&self.paper).enumerate().map(pixel).collect()
    }
}
