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
    /// Light that strays inside the device, so that every pixel sees a little of what lies around it: (share, reach in px).
    /// Paper beside a large painted area takes on a faint tint of it, and the dark gets a veil.
    pub stray: Option<(f32, f32)>,
    /// The device's sharpening, as the share of the detail finer than 1.2 px that is added again.
    pub overshoot: f32,
    /// Darkening towards a fold: (where across the sheet 0..1, share of light lost there, reach in px).
    pub gutter: Option<(f32, f32, f32)>,
    /// Deviation of the sensor's gain from column to column, as a share of the light: stripes along the way of the lamp.
    pub banding: f32,
    /// The file that the scan was kept in, if that was a JPEG. The scan then has 8 bits.
    pub jpeg: Option<Jpeg>,
}

/// A JPEG.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Jpeg {
    /// Quality, 1 to 100.
    pub quality: u8,
    /// Whether color has half the resolution in both directions.
    pub halved: bool,
}

impl Default for Scanner {
    fn default() -> Self {
        Self {
            blur: 0.8,
            noise: [0.0022, 0.0045],
            bits: 8,
            spread: None,
            stray: None,
            overshoot: 0.0,
            gutter: None,
            banding: 0.0,
            jpeg: None,
        }
    }
}
