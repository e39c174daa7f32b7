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
    /// Row by row; in a row all reds, then all greens, then all blues: channels are worked on apart, and are read many
    /// times more often than they are stored.
    lines: Samples,
    ppi: Option<Ppi>,
}

impl Sheet {
    /// A sheet over interleaved RGB samples.
    ///
    /// # Panics
    /// When the samples are not `3 * width * height`, or the sheet is empty.
    #[must_use]
    pub fn new(width: usize, height: usize, mut samples: Samples, ppi: Option<Ppi>) -> Self {
        let len = match &samples {
            Samples::Eight(v) => v.len(),
            Samples::Sixteen(v) => v.len(),
        };
        assert!(width > 0 && height > 0 && len == 3 * width * height, "a sheet of {width} x {height} with {len} samples");
        match &mut samples {
            Samples::Eight(v) => part(v, width),
            Samples::Sixteen(v) => part(v, width),
        }
        Self { width, height, lines: samples, ppi }
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

    /// A copy of the samples as read, interleaved.
    #[must_use]
    pub fn samples(&self) -> Samples {
        match &self.lines {
            Samples::Eight(v) => Samples::Eight(interleaved(v, self.width)),
            Samples::Sixteen(v) => Samples::Sixteen(interleaved(v, self.width)),
        }
    }

    /// 8 or 16.
    #[must_use]
    pub fn bits(&self) -> u8 {
        match self.lines {
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
        for (c, out) in [red, green, blue].into_iter().enumerate() {
            let at = self.channel(y, x, c, out.len());
            match &self.lines {
                Samples::Eight(v) => out.iter_mut().zip(&v[at]).for_each(|(o, v)| *o = f32::from(*v) * EIGHT),
                Samples::Sixteen(v) => out.iter_mut().zip(&v[at]).for_each(|(o, v)| *o = f32::from(*v) * SIXTEEN),
            }
        }
    }

    /// What a part of one channel of a row, from column `x` on, lies above `level`.
    ///
    /// # Panics
    /// When the part lies outside.
    pub fn above(&self, y: usize, x: usize, channel: usize, level: &[f32], out: &mut [f32]) {
        let at = self.channel(y, x, channel, out.len());
        let places = out.iter_mut().zip(level);
        match &self.lines {
            Samples::Eight(v) => places.zip(&v[at]).for_each(|((o, l), v)| *o = f32::from(*v) * EIGHT - l),
            Samples::Sixteen(v) => places.zip(&v[at]).for_each(|((o, l), v)| *o = f32::from(*v) * SIXTEEN - l),
        }
    }

    /// Where `count` samples of a channel lie.
    fn channel(&self, y: usize, x: usize, channel: usize, count: usize) -> std::ops::Range<usize> {
        assert!(x + count <= self.width, "a part of a row");
        let start = (y * 3 + channel) * self.width + x;
        start..start + count
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
        let samples = match &self.lines {
            Samples::Eight(v) => Samples::Eight(reduce(v, self.width, width, height, factor, |mean| mean as u8)?),
            Samples::Sixteen(v) => Samples::Sixteen(reduce(v, self.width, width, height, factor, |mean| mean as u16)?),
        };
        Ok(Self::new(width, height, samples, self.ppi.map(|p| Ppi(p.0 / factor as f64))))
    }

    /// One pixel as encoded values 0..1.
    #[must_use]
    pub fn pixel(&self, x: usize, y: usize) -> [f32; 3] {
        let at = [0, 1, 2].map(|c| (y * 3 + c) * self.width + x);
        match &self.lines {
            Samples::Eight(v) => at.map(|i| f32::from(v[i]) * EIGHT),
            Samples::Sixteen(v) => at.map(|i| f32::from(v[i]) * SIXTEEN),
        }
    }
}

/// From whole samples to encoded values 0..1.
const EIGHT: f32 = 1.0 / 255.0;
const SIXTEEN: f32 = 1.0 / 65535.0;

/// Takes the channels of each row apart, in place.
fn part<T: Copy>(samples: &mut [T], width: usize) {
    let mut row = Vec::with_capacity(width * 3);
    for line in samples.chunks_exact_mut(width * 3) {
        row.clear();
        row.extend_from_slice(line);
        let (red, rest) = line.split_at_mut(width);
        let (green, blue) = rest.split_at_mut(width);
        for (((p, r), g), b) in row.as_chunks::<3>().0.iter().zip(red).zip(green).zip(blue) {
            [*r, *g, *b] = *p;
        }
    }
}

/// The channels of each row together again.
fn interleaved<T: Copy>(lines: &[T], width: usize) -> Vec<T> {
    lines.chunks_exact(width * 3).flat_map(|line| (0..width).flat_map(|x| [0, 1, 2].map(|c| line[c * width + x]))).collect()
}

fn reduce<T: Copy + Default + Into<u32>>(
    lines: &[T],
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
        for line in lines.chunks_exact(full * 3).skip(y * factor).take(factor) {
            for (c, channel) in line.chunks_exact(full).enumerate() {
                for (sum, square) in sums[c..].iter_mut().step_by(3).zip(channel.chunks_exact(factor)) {
                    *sum += square.iter().map(|v| -> u32 { (*v).into() }).sum::<u32>();
                }
            }
        }
        row.iter_mut().zip(&sums).for_each(|(v, s)| *v = narrow((s + count / 2) / count));
    }
    Ok(out)
}
