//! Bare paper: tint, light, tooth.

use super::noise;
use super::patch::{Frame, Patch};
use crate::random::Random;

/// The color of the paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tint {
    /// Natural cotton.
    WarmWhite,
    /// Old or cream paper.
    Cream,
    /// Neutral and very white.
    BrightWhite,
    /// Slightly blue.
    CoolWhite,
    /// Yellowish white.
    Ivory,
    /// Light toned paper.
    PaleGray,
    /// Brown wrapping paper.
    Kraft,
    /// Black paper.
    Dark,
    /// A reflectance of one's own (linear light).
    Own([f32; 3]),
}

impl Tint {
    /// Reflectance in linear light; chosen values within the working ranges for art papers.
    #[must_use]
    pub fn reflectance(self) -> [f32; 3] {
        match self {
            Self::WarmWhite => [0.870, 0.842, 0.785],
            Self::Cream => [0.832, 0.775, 0.665],
            Self::BrightWhite => [0.885, 0.888, 0.884],
            Self::CoolWhite => [0.832, 0.850, 0.864],
            Self::Ivory => [0.852, 0.817, 0.728],
            Self::PaleGray => [0.545, 0.540, 0.525],
            Self::Kraft => [0.515, 0.352, 0.209],
            Self::Dark => [0.036, 0.036, 0.037],
            Self::Own(v) => v,
        }
    }

    /// Whether dust shows pale on it and transparent paint does not show at all.
    #[must_use]
    pub fn is_dark(self) -> bool {
        self.reflectance()[1] < 0.15
    }
}

/// The surface of the paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tooth {
    /// Hot-pressed: nearly smooth.
    Hot,
    /// Cold-pressed: the usual watercolor surface.
    Cold,
    /// Rough.
    Rough,
}

/// What a sheet of paper is made like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PaperKind {
    /// Color.
    pub tint: Tint,
    /// Surface.
    pub tooth: Tooth,
    /// How strongly the relief shows: 1 as its surface usually scans.
    pub relief: f32,
    /// Unevenness of light across the sheet, 0.02..0.055 on a usual scanner.
    pub uneven: f32,
    /// Cloudiness of the sheet itself, as a share of its reflectance.
    pub cloud: f32,
}

impl Default for PaperKind {
    fn default() -> Self {
        Self { tint: Tint::WarmWhite, tooth: Tooth::Cold, relief: 1.0, uneven: 0.03, cloud: 0.004 }
    }
}

/// A sheet of paper.
pub struct Paper {
    /// Reflectance as lit, linear light.
    pub light: Vec<[f32; 3]>,
    /// Height of the tooth: mean 0, variance 1. Pigment settles where it is low, a dry brush catches where it is high.
    pub height: Vec<f32>,
}

impl Paper {
    /// Makes the sheet. Grain is in millimeters, so it grows with the resolution.
    #[must_use]
    pub fn new(random: &mut Random, width: usize, height: usize, ppi: f32, kind: &PaperKind) -> Self {
        let mm = ppi / 25.4;
        let frame = Frame { x: 0, y: 0, width, height };
        // White paper then scans with a deviation of about 0.8 (hot), 2.2 (cold) and 4.5 (rough) 8-bit counts at 300 ppi: working
        // values for such papers, not measured on sheets.
        // Felt marks, their finer relief, and fibers; then the share of each in height, in lit relief and in fiber color.
        let (felt, fine, weights): (f32, f32, [f32; 5]) = match kind.tooth {
            Tooth::Hot => (0.9 * mm, 0.30 * mm, [0.30, 0.55, 0.0035, 0.0048, 0.0066]),
            Tooth::Cold => (0.85 * mm, 0.36 * mm, [0.80, 0.45, 0.0110, 0.0187, 0.0077]),
            Tooth::Rough => (1.25 * mm, 0.45 * mm, [0.90, 0.45, 0.0170, 0.0330, 0.0080]),
        };
        let [big, small, lift, slope, fiber] = weights;
        let mut tooth = noise::patch(random, frame, felt);
        let detail = noise::patch(random, frame, fine);
        let scale = 1.0 / f32::sqrt(big * big + small * small);
        // Felt marks are rounded hollows between ridges: bent, not just waved.
        for (t, d) in tooth.values.iter_mut().zip(&detail.values) {
            *t = scale * (big * (*t - 0.22 * (*t * *t - 1.0)) + small * d);
        }
        drop(detail);
        let fibers = noise::field(random, width, height, (0.13 * mm).max(1.6));
        let clouds = noise::field(random, width, height, 25.0 * mm);
        let way = random.between(0.0, std::f32::consts::TAU);
        let (along, across) = (libm::cosf(way), libm::sinf(way));
        let bow = [random.between(-1.0, 1.0), random.between(-1.0, 1.0)];
        let drift = [(); 3].map(|()| [0.15 * random.between(-1.0, 1.0), 0.15 * random.between(-1.0, 1.0)]);
        let tint = kind.tint.reflectance();
        // Light falls from the upper left: the relief is the height's slope in that direction over about a grain's flank.
        let step = (felt * 0.18).round().max(1.0) as usize;
        let flank = slope * (felt / 9.0).sqrt().min(1.5);
        let mut light = Vec::with_capacity(width * height);
        for y in 0..height {
            let v = y as f32 / height as f32 - 0.5;
            for x in 0..width {
                let i = y * width + x;
                let u = x as f32 / width as f32 - 0.5;
                let back = y.saturating_sub(step) * width + x.saturating_sub(step);
                let h = tooth.values[i];
                let relief = h - tooth.values[back];
                let grain = 1.0 + kind.relief * (lift * h + flank * relief + fiber * fibers[i]);
                let lamp = 1.0 + kind.uneven * (along * u + across * v + bow[0] * u * u + bow[1] * v * v);
                let common = lamp * grain * (1.0 + kind.cloud * clouds[i]);
                light.push([0, 1, 2].map(|c| {
                    let own = 1.0 + kind.uneven * (drift[c][0] * u + drift[c][1] * v);
                    (tint[c] * common * own).clamp(0.0, 0.985)
                }));
            }
        }
        Self { light, height: tooth.values }
    }
}

/// The height of the tooth over a frame.
#[must_use]
pub fn height_of(heights: &[f32], width: usize, frame: Frame) -> Patch {
    let mut values = Vec::with_capacity(frame.area());
    for y in frame.y..frame.y + frame.height {
        values.extend_from_slice(&heights[y * width + frame.x..y * width + frame.x + frame.width]);
    }
    Patch { frame, values }
}
