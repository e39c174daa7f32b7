//! The scan as read.

use crate::units::Ppi;

/// Interleaved RGB samples, rows packed.
#[derive(Clone, Debug, PartialEq)]
pub enum Samples {
    /// 8 bits a channel.
    Eight(Vec<u8>),
    /// 16 bits a channel.
    Sixteen(Vec<u16>),
}

/// A scan: upright pixels in encoded sRGB (IEC 61966-2-1), and its resolution. Never changed after reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    width: usize,
    height: usize,
    samples: Samples,
    ppi: Option<Ppi>,
}

impl Sheet {
    /// A sheet over interleaved RGB samples.
    ///
    /// # Panics
    /// When the samples are not `3 * width * height`, or the sheet is empty.
    #[must_use]
    pub fn new(width: usize, height: usize, samples: Samples, ppi: Option<Ppi>) -> Self {
        let len = match &samples {
            Samples::Eight(v) => v.len(),
            Samples::Sixteen(v) => v.len(),
        };
        assert!(width > 0 && height > 0 && len == 3 * width * height, "a sheet of {width} x {height} with {len} samples");
        Self { width, height, samples, ppi }
    }

    /// Pixels across.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    #[must_use]
    pub fn height(&self) -> usize {
        self.height
    }

    /// The samples as read.
    #[must_use]
    pub fn samples(&self) -> &Samples {
        &self.samples
    }

    /// 8 or 16.
    #[must_use]
    pub fn bits(&self) -> u8 {
        match self.samples {
            Samples::Eight(_) => 8,
            Samples::Sixteen(_) => 16,
        }
    }

    /// The resolution that the file gave, or that the painter stated.
    #[must_use]
    pub fn ppi(&self) -> Option<Ppi> {
        self.ppi
    }

    /// The resolution to work with: the known one, or [`Ppi::ASSUMED`].
    #[must_use]
    pub fn working_ppi(&self) -> Ppi {
        self.ppi.unwrap_or(Ppi::ASSUMED)
    }

    /// States the resolution.
    pub fn set_ppi(&mut self, ppi: Option<Ppi>) {
        self.ppi = ppi;
    }

    /// One row as three planes of encoded values 0..1.
    ///
    /// # Panics
    /// When `y` lies outside or a slice is not `width` long.
    pub fn row(&self, y: usize, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        let at = y * self.width * 3..(y + 1) * self.width * 3;
        let outputs = red.iter_mut().zip(green).zip(blue);
        match &self.samples {
            Samples::Eight(v) => {
                const SCALE: f32 = 1.0 / 255.0;
                for (p, ((r, g), b)) in v[at].as_chunks::<3>().0.iter().zip(outputs) {
                    (*r, *g, *b) = (f32::from(p[0]) * SCALE, f32::from(p[1]) * SCALE, f32::from(p[2]) * SCALE);
                }
            }
            Samples::Sixteen(v) => {
                const SCALE: f32 = 1.0 / 65535.0;
                for (p, ((r, g), b)) in v[at].as_chunks::<3>().0.iter().zip(outputs) {
                    (*r, *g, *b) = (f32::from(p[0]) * SCALE, f32::from(p[1]) * SCALE, f32::from(p[2]) * SCALE);
                }
            }
        }
    }

    /// One pixel as encoded values 0..1.
    #[must_use]
    pub fn pixel(&self, x: usize, y: usize) -> [f32; 3] {
        let i = (y * self.width + x) * 3;
        match &self.samples {
            Samples::Eight(v) => [0, 1, 2].map(|c| f32::from(v[i + c]) * (1.0 / 255.0)),
            Samples::Sixteen(v) => [0, 1, 2].map(|c| f32::from(v[i + c]) * (1.0 / 65535.0)),
        }
    }
}
