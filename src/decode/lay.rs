//! Laying stored samples out as RGB: gray spread, transparency laid on white.

/// A sample of 8 or 16 bits.
pub(super) trait Sample: Copy + Default + PartialEq {
    /// White, and full opacity.
    const WHITE: u32;
    /// The value.
    fn value(self) -> u32;
    /// From a value up to `WHITE`.
    fn of(value: u32) -> Self;
    /// From 8 bits.
    fn of_eight(value: u8) -> Self;
    /// From 16 bits, the nearest.
    fn of_sixteen(value: u16) -> Self;
    /// In 16 bits.
    fn sixteen(self) -> u16;
}

impl Sample for u8 {
    const WHITE: u32 = 0xFF;
    fn value(self) -> u32 {
        u32::from(self)
    }
    fn of(value: u32) -> Self {
        value.min(Self::WHITE) as Self
    }
    fn of_eight(value: u8) -> Self {
        value
    }
    fn of_sixteen(value: u16) -> Self {
        ((u32::from(value) + 128) / 257) as Self
    }
    fn sixteen(self) -> u16 {
        u16::from(self) * 257
    }
}

impl Sample for u16 {
    const WHITE: u32 = 0xFFFF;
    fn value(self) -> u32 {
        u32::from(self)
    }
    fn of(value: u32) -> Self {
        value.min(Self::WHITE) as Self
    }
    fn of_eight(value: u8) -> Self {
        u16::from(value) * 257
    }
    fn of_sixteen(value: u16) -> Self {
        value
    }
    fn sixteen(self) -> u16 {
        self
    }
}

/// What the transparency channel did to the colors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Alpha {
    /// There is none.
    None,
    /// The colors are as painted.
    Straight,
    /// The colors are already multiplied by it.
    Multiplied,
}

/// The channels of a stored pixel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Channels {
    /// One gray channel; otherwise red, green, blue.
    pub(super) gray: bool,
    /// Whether and how transparency follows.
    pub(super) alpha: Alpha,
    /// Samples of a pixel, with those at its end that mean nothing here.
    pub(super) count: usize,
}

impl Channels {
    /// Channels without any that mean nothing.
    pub(super) fn new(gray: bool, alpha: Alpha) -> Self {
        let count = if gray { 1 } else { 3 } + usize::from(alpha != Alpha::None);
        Self { gray, alpha, count }
    }
}

/// Lays a run of stored pixels out as RGB over white paper. `from` holds `channels.count` samples a pixel, `to` three.
/// Says whether any pixel was not opaque.
pub(super) fn lay<S: Sample>(from: &[S], channels: Channels, to: &mut [S]) -> bool {
    let to = to.as_chunks_mut::<3>().0;
    match (channels.gray, channels.alpha, channels.count) {
        (false, Alpha::None, 3) => {
            for (to, from) in to.iter_mut().zip(from.as_chunks::<3>().0) {
                *to = *from;
            }
            false
        }
        (true, Alpha::None, count) => {
            for (to, from) in to.iter_mut().zip(from.chunks_exact(count)) {
                *to = [from[0]; 3];
            }
            false
        }
        (false, Alpha::None, count) => {
            for (to, from) in to.iter_mut().zip(from.chunks_exact(count)) {
                *to = [from[0], from[1], from[2]];
            }
            false
        }
        (gray, alpha, count) => {
            let colors = if gray { 1 } else { 3 };
            let mut seen = false;
            for (to, from) in to.iter_mut().zip(from.chunks_exact(count)) {
                let opacity = from[colors].value();
                let color = if gray { [from[0]; 3] } else { [from[0], from[1], from[2]] };
                seen |= opacity != S::WHITE;
                *to = color.map(|c| match alpha {
                    Alpha::Multiplied => S::of(c.value() + S::WHITE - opacity),
                    _ => S::of((c.value() * opacity + S::WHITE * (S::WHITE - opacity) + S::WHITE / 2) / S::WHITE),
                });
            }
            seen
        }
    }
}

/// The remark that goes with a scan that was see-through in places.
pub(super) fn transparency() -> crate::error::Warning {
    crate::error::Warning::new(
        "transparency",
        "The scan is see-through in places; it was laid on white paper. Lift the first scan rather than one worked on before.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gray_is_spread() {
        let mut to = [0_u8; 6];
        assert!(!lay(&[1, 2], Channels::new(true, Alpha::None), &mut to));
        assert_eq!(to, [1, 1, 1, 2, 2, 2]);
    }

    #[test]
    fn unknown_channels_are_left_out() {
        let mut to = [0_u16; 6];
        assert!(!lay(&[1, 2, 3, 9, 4, 5, 6, 9], Channels { gray: false, alpha: Alpha::None, count: 4 }, &mut to));
        assert_eq!(to, [1, 2, 3, 4, 5, 6]);
    }

    #[test]
    fn transparency_is_laid_on_white() {
        let mut to = [0_u8; 9];
        let straight = Channels::new(false, Alpha::Straight);
        assert!(lay(&[10, 20, 30, 255, 10, 20, 30, 0, 0, 100, 255, 51], straight, &mut to));
        // 51 is a fifth: 204 + 0, 204 + 20, 204 + 51.
        assert_eq!(to, [10, 20, 30, 255, 255, 255, 204, 224, 255]);
        assert!(!lay(&[10, 20, 30, 255], straight, &mut to[..3]));
        // The same color multiplied by its opacity comes out the same.
        assert!(lay(&[0, 20, 51, 51], Channels::new(false, Alpha::Multiplied), &mut to[..3]));
        assert_eq!(to[..3], [204, 224, 255]);
        // A color above its opacity is not possible; it must not wrap.
        assert!(lay(&[200, 200, 200, 100], Channels::new(false, Alpha::Multiplied), &mut to[..3]));
        assert_eq!(to[..3], [255, 255, 255]);
    }
}
