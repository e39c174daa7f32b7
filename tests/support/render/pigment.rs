//! Pigments and what a layer of them does to light.
//!
//! Kubelka and Munk 1931: a layer absorbs K and scatters S per unit thickness. The twelve pigments are those of Curtis,
//! Anderson, Seims, Fleischer and Salesin, "Computer-Generated Watercolor", SIGGRAPH 1997, figure 5. Two are not in that
//! paper and are invented here: a dense white body color and a black ink.

/// Absorption and scattering per unit thickness for red, green and blue, and how strongly it settles into the tooth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pigment {
    /// Absorption K.
    pub absorb: [f64; 3],
    /// Scattering S.
    pub scatter: [f64; 3],
    /// Granulation 0..1 (gamma in the paper).
    pub granulation: f64,
}

const fn pigment(absorb: [f64; 3], scatter: [f64; 3], granulation: f64) -> Pigment {
    Pigment { absorb, scatter, granulation }
}

/// Quinacridone rose.
pub const ROSE: Pigment = pigment([0.22, 1.47, 0.57], [0.05, 0.003, 0.03], 0.81);
/// Indian red.
pub const INDIAN_RED: Pigment = pigment([0.46, 1.07, 1.50], [1.28, 0.38, 0.21], 0.40);
/// Cadmium yellow.
pub const CADMIUM_YELLOW: Pigment = pigment([0.10, 0.36, 3.45], [0.97, 0.65, 0.007], 0.81);
/// Hooker's green.
pub const HOOKERS_GREEN: Pigment = pigment([1.62, 0.61, 1.64], [0.01, 0.012, 0.003], 0.41);
/// Cerulean blue.
pub const CERULEAN: Pigment = pigment([1.52, 0.32, 0.25], [0.06, 0.26, 0.40], 0.31);
/// Burnt umber.
pub const UMBER: Pigment = pigment([0.74, 1.54, 2.10], [0.09, 0.09, 0.004], 0.90);
/// Cadmium red.
pub const CADMIUM_RED: Pigment = pigment([0.14, 1.08, 1.68], [0.77, 0.015, 0.018], 0.63);
/// Brilliant orange.
pub const ORANGE: Pigment = pigment([0.13, 0.81, 3.45], [0.005, 0.009, 0.007], 0.14);
/// Hansa yellow.
pub const HANSA: Pigment = pigment([0.06, 0.21, 1.78], [0.50, 0.88, 0.009], 0.08);
/// Phthalo green.
pub const PHTHALO: Pigment = pigment([1.55, 0.47, 0.63], [0.01, 0.05, 0.035], 0.12);
/// French ultramarine.
pub const ULTRAMARINE: Pigment = pigment([0.86, 0.86, 0.06], [0.005, 0.005, 0.09], 0.91);
/// Interference lilac.
pub const LILAC: Pigment = pigment([0.08, 0.11, 0.07], [1.25, 0.42, 1.43], 0.08);
/// White body color: invented values.
pub const WHITE: Pigment = pigment([0.004, 0.005, 0.008], [3.2, 3.2, 3.1], 0.2);
/// Black ink: invented values.
pub const INK: Pigment = pigment([3.6, 3.7, 3.5], [0.02, 0.02, 0.025], 0.1);

/// The pigments of the 1997 paper in its order, with their names in the table of tests/data/reference.
pub const CURTIS: [(&str, Pigment); 12] = [
    ("Quinacridone Rose", ROSE),
    ("Indian Red", INDIAN_RED),
    ("Cadmium Yellow", CADMIUM_YELLOW),
    ("Hookers Green", HOOKERS_GREEN),
    ("Cerulean Blue", CERULEAN),
    ("Burnt Umber", UMBER),
    ("Cadmium Red", CADMIUM_RED),
    ("Brilliant Orange", ORANGE),
    ("Hansa Yellow", HANSA),
    ("Phthalo Green", PHTHALO),
    ("French Ultramarine", ULTRAMARINE),
    ("Interference Lilac", LILAC),
];

/// A mixture: absorption and scattering add in proportion to the amounts.
#[must_use]
pub fn mix(parts: &[(Pigment, f64)]) -> Pigment {
    let total: f64 = parts.iter().map(|(_, amount)| amount).sum();
    let blend = |of: &dyn Fn(&Pigment) -> f64| parts.iter().map(|(p, amount)| of(p) * amount).sum::<f64>() / total;
    pigment([0, 1, 2].map(|c| blend(&|p| p.absorb[c])), [0, 1, 2].map(|c| blend(&|p| p.scatter[c])), blend(&|p| p.granulation))
}

/// What a layer of absorption `k` and scattering `s` (per unit thickness), `x` thick, sends back over black, and what it lets
/// through: (R0, T) of Kubelka and Munk, in exponentials that neither overflow nor cancel. Without scattering: Lambert and Beer.
#[must_use]
pub fn layer(k: f64, s: f64, x: f64) -> (f64, f64) {
    let x = x.max(0.0);
    if s < 1e-9 {
        return (0.0, libm::exp(-k * x));
    }
    if k < 1e-12 {
        return (s * x / (1.0 + s * x), 1.0 / (1.0 + s * x));
    }
    let a = 1.0 + k / s;
    let b = (a * a - 1.0).sqrt();
    let fall = libm::exp(-b * s * x);
    let twice = fall * fall;
    let below = a * (1.0 - twice) + b * (1.0 + twice);
    ((1.0 - twice) / below, 2.0 * b * fall / below)
}

/// Reflectance of a layer over a ground of reflectance `ground`: light goes through, bounces between layer and ground, and out.
#[must_use]
pub fn over((r0, t): (f64, f64), ground: f64) -> f64 {
    r0 + t * t * ground / (1.0 - r0 * ground)
}

/// Reflectance of an endlessly thick layer.
#[must_use]
pub fn endless(k: f64, s: f64) -> f64 {
    let a = 1.0 + k / s;
    a - (a * a - 1.0).sqrt()
}

impl Pigment {
    /// Reflectance of this pigment, `depth` thick, over a ground.
    #[must_use]
    pub fn over(&self, depth: f64, ground: [f32; 3]) -> [f32; 3] {
        [0, 1, 2].map(|c| over(layer(self.absorb[c], self.scatter[c], depth), f64::from(ground[c])) as f32)
    }
}

/// One pigment's layer for depths from 0 to a greatest one, tabled: a wash asks for it at every pixel.
pub struct Film {
    /// R0 and T squared, per channel.
    steps: Vec<[f32; 6]>,
    scale: f32,
}

impl Film {
    /// A table for depths 0..=deepest.
    #[must_use]
    pub fn new(pigment: &Pigment, deepest: f32) -> Self {
        const STEPS: usize = 1024;
        let deepest = deepest.max(1e-6);
        let steps = (0..=STEPS + 1)
            .map(|i| {
                let depth = f64::from(deepest) * i as f64 / STEPS as f64;
                let mut step = [0.0; 6];
                for c in 0..3 {
                    let (r0, t) = layer(pigment.absorb[c], pigment.scatter[c], depth);
                    step[c] = r0 as f32;
                    step[c + 3] = (t * t) as f32;
                }
                step
            })
            .collect();
        Self { steps, scale: STEPS as f32 / deepest }
    }

    /// Reflectance of the layer, `depth` thick, over a ground.
    #[must_use]
    pub fn over(&self, depth: f32, ground: [f32; 3]) -> [f32; 3] {
        let at = (depth * self.scale).clamp(0.0, (self.steps.len() - 2) as f32);
        let i = at as usize;
        let t = at - i as f32;
        let (low, high) = (&self.steps[i], &self.steps[i + 1]);
        [0, 1, 2].map(|c| {
            let r0 = low[c] + (high[c] - low[c]) * t;
            let t2 = low[c + 3] + (high[c + 3] - low[c + 3]) * t;
            r0 + t2 * ground[c] / (1.0 - r0 * ground[c])
        })
    }
}
