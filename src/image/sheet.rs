//! The scan as read.

use crate::error::{Result, zeroed};
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
        assert_eq!(red.len(), self.width, "a whole row");
        self.row_from(y, 0, red, green, blue);
    }

    /// A part of one row, from column `x` on and as long as the slices.
    ///
    /// # Panics
    /// When the part lies outside.
    pub fn row_from(&self, y: usize, x: usize, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        let start = (y * self.width + x) * 3;
        let at = start..start + red.len() * 3;
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

    /// A copy reduced by a whole number of pixels: the mean of each square, in encoded values. What is left over at the
    /// right and at the bottom is cut off.
    ///
    /// # Errors
    /// When there is no memory for it.
    ///
    /// # Panics
    /// When `factor` is zero or larger than the sheet.
    pub fn reduced(&self, factor: usize) -> Result<Self> {
        let (width, height) = (self.width / factor, self.height / factor);
        let samples = match &self.samples {
            Samples::Eight(v) => Samples::Eight(reduce(v, self.width, width, height, factor, |mean| mean as u8)?),
            Samples::Sixteen(v) => Samples::Sixteen(reduce(v, self.width, width, height, factor, |mean| mean as u16)?),
        };
        Ok(Self::new(width, height, samples, self.ppi.map(|p| Ppi(p.0 / factor as f64))))
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

fn reduce<T: Copy + Default + Into<u32>>(
    samples: &[T],
    full: usize,
    width: usize,
    height: usize,
    factor: usize,
    narrow: impl Fn(u32) -> T,
) -> Result<Vec<T>> {
    let mut out = zeroed(width * height * 3, "a reduced copy of the sheet")?;
    let mut sums = vec![0_u32; width * 3];
    let count = (factor * factor) as u32;
    for (y, row) in out.chunks_exact_mut(width * 3).enumerate() {
        sums.fill(0);
        for line in samples.chunks_exact(full * 3).skip(y * factor).take(factor) {
            for (sum, square) in sums.chunks_exact_mut(3).zip(line.chunks_exact(factor * 3)) {
                for pixel in square.chunks_exact(3) {
                    (0..3).for_each(|c| sum[c] += pixel[c].into());
                }
            }
        }
        row.iter_mut().zip(&sums).for_each(|(v, s)| *v = narrow((s + count / 2) / count));
    }
    Ok(out)
}
