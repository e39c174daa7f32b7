//! One value a pixel.

use crate::error::{Result, zeroed};

/// A picture of one value a pixel, rows packed, origin top left.
#[derive(Clone, Debug, PartialEq)]
pub struct Plane<T> {
    width: usize,
    height: usize,
    data: Vec<T>,
}

impl<T: Clone + Default> Plane<T> {
    /// A plane of default values. `what` names it in the error.
    ///
    /// # Errors
    /// [`crate::error::Kind::Limit`] when there is no memory for it.
    pub fn new(width: usize, height: usize, what: &str) -> Result<Self> {
        Ok(Self { width, height, data: zeroed(width * height, what)? })
    }
}

impl<T> Plane<T> {
    /// A plane over existing values, row by row.
    ///
    /// # Panics
    /// When `data` does not hold `width * height` values.
    #[must_use]
    pub fn from_vec(width: usize, height: usize, data: Vec<T>) -> Self {
        assert_eq!(data.len(), width * height, "a plane of {width} x {height}");
        Self { width, height, data }
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

    /// One row.
    #[must_use]
    pub fn row(&self, y: usize) -> &[T] {
        &self.data[y * self.width..(y + 1) * self.width]
    }

    /// One row, to be written.
    pub fn row_mut(&mut self, y: usize) -> &mut [T] {
        &mut self.data[y * self.width..(y + 1) * self.width]
    }

    /// All values, row by row.
    #[must_use]
    pub fn data(&self) -> &[T] {
        &self.data
    }

    /// All values, to be written.
    pub fn data_mut(&mut self) -> &mut [T] {
        &mut self.data
    }

    /// The values themselves.
    #[must_use]
    pub fn into_vec(self) -> Vec<T> {
        self.data
    }
}

impl<T: Copy> Plane<T> {
    /// The value at a pixel.
    #[must_use]
    pub fn at(&self, x: usize, y: usize) -> T {
        self.data[y * self.width + x]
    }

    /// Sets the value at a pixel.
    pub fn set(&mut self, x: usize, y: usize, value: T) {
        self.data[y * self.width + x] = value;
    }
}
