//! How the sheet is scanned.

/// A flatbed scanner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scanner {
    /// Blur as the sigma of a Gaussian in px, linear light: 0.6 to 1.2 on usual devices.
    pub blur: f32,
    /// Noise in linear light: deviation at black, and the square root's factor: sqrt(n0^2 + n1^2 * light).
    pub noise: [f32; 2],
    /// Bits a channel: 8 or 16.
    pub bits: u8,
    /// Light that spreads sideways inside the paper before it comes out: (share, reach in px).
    pub spread: Option<(f32, f32)>,
    /// The device's sharpening, as the share of the detail finer than 1.2 px that is added again.
    pub overshoot: f32,
    /// Darkening towards a fold: (where across the sheet 0..1, share of light lost there, reach in px).
    pub gutter: Option<(f32, f32, f32)>,
}

impl Default for Scanner {
    fn default() -> Self {
        Self { blur: 0.8, noise: [0.0022, 0.0045], bits: 8, spread: None, overshoot: 0.0, gutter: None }
    }
}
