//! A rectangle of values that knows where on the sheet it lies.

use super::{blur, distance};

/// A rectangle of the sheet, in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Frame {
    /// Left edge.
    pub x: usize,
    /// Top edge.
    pub y: usize,
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
}

impl Frame {
    /// The frame of points with a margin, cut to a sheet; `None` when it misses the sheet.
    #[must_use]
    pub fn around<'a>(points: impl Iterator<Item = &'a [f32; 2]>, margin: f32, sheet: [usize; 2]) -> Option<Self> {
        let (mut low, mut high) = ([f32::MAX; 2], [f32::MIN; 2]);
        for p in points {
            for i in 0..2 {
                low[i] = low[i].min(p[i] - margin);
                high[i] = high[i].max(p[i] + margin);
            }
        }
        let from = [0, 1].map(|i| low[i].floor().clamp(0.0, sheet[i] as f32) as usize);
        let to = [0, 1].map(|i| high[i].ceil().clamp(0.0, sheet[i] as f32) as usize);
        (from[0] < to[0] && from[1] < to[1]).then(|| Self {
            x: from[0],
            y: from[1],
            width: to[0] - from[0],
            height: to[1] - from[1],
        })
    }

    /// The smallest frame that holds both.
    #[must_use]
    pub fn join(self, other: Self) -> Self {
        let (x, y) = (self.x.min(other.x), self.y.min(other.y));
        Self {
            x,
            y,
            width: (self.x + self.width).max(other.x + other.width) - x,
            height: (self.y + self.height).max(other.y + other.height) - y,
        }
    }

    /// This frame with a margin, cut to a sheet.
    #[must_use]
    pub fn grown(self, margin: usize, sheet: [usize; 2]) -> Self {
        let (x, y) = (self.x.saturating_sub(margin), self.y.saturating_sub(margin));
        let width = (self.x + self.width + margin).min(sheet[0]) - x;
        let height = (self.y + self.height + margin).min(sheet[1]) - y;
        Self { x, y, width, height }
    }

    /// Number of pixels.
    #[must_use]
    pub fn area(self) -> usize {
        self.width * self.height
    }
}

/// Values over a frame; outside it they are 0.
#[derive(Clone, Debug)]
pub struct Patch {
    /// Where it lies.
    pub frame: Frame,
    /// Row by row.
    pub values: Vec<f32>,
}

impl Patch {
    /// A patch of one value.
    #[must_use]
    pub fn flat(frame: Frame, value: f32) -> Self {
        Self { frame, values: vec![value; frame.area()] }
    }

    /// A patch computed at pixel centers of the sheet.
    #[must_use]
    pub fn from_fn(frame: Frame, mut of: impl FnMut(f32, f32) -> f32) -> Self {
        let mut values = Vec::with_capacity(frame.area());
        for y in frame.y..frame.y + frame.height {
            for x in frame.x..frame.x + frame.width {
                values.push(of(x as f32 + 0.5, y as f32 + 0.5));
            }
        }
        Self { frame, values }
    }

    /// The value at a pixel of the sheet.
    #[must_use]
    pub fn at(&self, x: usize, y: usize) -> f32 {
        let f = self.frame;
        if x < f.x || y < f.y || x >= f.x + f.width || y >= f.y + f.height {
            return 0.0;
        }
        self.values[(y - f.y) * f.width + x - f.x]
    }

    /// The same values over another frame.
    #[must_use]
    pub fn within(&self, frame: Frame) -> Self {
        let mut out = Self::flat(frame, 0.0);
        for (i, v) in out.values.iter_mut().enumerate() {
            *v = self.at(frame.x + i % frame.width, frame.y + i / frame.width);
        }
        out
    }

    /// Each value changed.
    #[must_use]
    pub fn map(mut self, of: impl Fn(f32) -> f32) -> Self {
        self.values.iter_mut().for_each(|v| *v = of(*v));
        self
    }

    /// Combined with another patch, pixel by pixel, over this one's frame.
    #[must_use]
    pub fn with(mut self, other: &Self, of: impl Fn(f32, f32) -> f32) -> Self {
        if self.frame == other.frame {
            self.values.iter_mut().zip(&other.values).for_each(|(v, &o)| *v = of(*v, o));
        } else {
            let f = self.frame;
            for (i, v) in self.values.iter_mut().enumerate() {
                *v = of(*v, other.at(f.x + i % f.width, f.y + i / f.width));
            }
        }
        self
    }

    /// Both at once: the product.
    #[must_use]
    pub fn times(self, other: &Self) -> Self {
        self.with(other, |a, b| a * b)
    }

    /// What of this the other does not cover.
    #[must_use]
    pub fn minus(self, other: &Self) -> Self {
        self.with(other, |a, b| a * (1.0 - b))
    }

    /// Either: over the frame of both.
    #[must_use]
    pub fn or(&self, other: &Self) -> Self {
        self.within(self.frame.join(other.frame)).with(other, f32::max)
    }

    /// Blurred within its frame (edges repeated).
    #[must_use]
    pub fn blurred(mut self, sigma: f32) -> Self {
        blur::blur(&mut self.values, self.frame.width, self.frame.height, sigma);
        self
    }

    /// Distance in pixels from each covered pixel to the nearest one that is less than half covered; the coverage of
    /// the edge pixel itself makes it finer than a pixel.
    #[must_use]
    pub fn depth_inside(&self) -> Self {
        let outside: Vec<bool> = self.values.iter().map(|&v| v < 0.5).collect();
        let mut values = distance::to_nearest(&outside, self.frame.width, self.frame.height);
        for (d, &v) in values.iter_mut().zip(&self.values) {
            *d = if *d > 0.0 { (*d - 1.0) + v.min(1.0) - 0.5 } else { 0.0 };
        }
        Self { frame: self.frame, values }
    }

    /// The largest value.
    #[must_use]
    pub fn greatest(&self) -> f32 {
        self.values.iter().fold(0.0, |a, &b| a.max(b))
    }
}
