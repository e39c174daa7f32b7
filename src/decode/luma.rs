//! Luma and color differences to what they were made of.

/// How they are stored.
pub(super) struct Luma {
    /// Shares of red, green and blue in luma.
    pub(super) shares: [f32; 3],
    /// Stored values, 0..255, of no and full luma, and of no and full color differences.
    pub(super) reference: [f32; 6],
}

impl Luma {
    /// As in JPEG files (ITU-T T.871, 7; from memory).
    pub(super) const JPEG: Self = Self { shares: [0.299, 0.587, 0.114], reference: [0.0, 255.0, 128.0, 255.0, 128.0, 255.0] };

    /// RGB 0..255 of stored values 0..255, beyond that where there is no such color: TIFF 6.0, section 21.
    pub(super) fn rgb(&self, stored: [f32; 3]) -> [f32; 3] {
        let [black, white, blue0, blue1, red0, red1] = self.reference;
        let y = (stored[0] - black) * 255.0 / (white - black);
        let cb = (stored[1] - blue0) * 127.0 / (blue1 - blue0);
        let cr = (stored[2] - red0) * 127.0 / (red1 - red0);
        let [red_share, green_share, blue_share] = self.shares;
        let red = cr * (2.0 - 2.0 * red_share) + y;
        let blue = cb * (2.0 - 2.0 * blue_share) + y;
        let green = (y - blue_share * blue - red_share * red) / green_share;
        [red, green, blue]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pure red has a luma of its share, and differences of half and of -share / (2 - 2 x share of blue) of the range.
    #[test]
    fn red_comes_back() {
        let [red, green, blue] = Luma::JPEG.rgb([76.245, 128.0 - 43.03, 128.0 + 127.5]);
        assert!((red - 255.0).abs() < 0.2 && green.abs() < 0.2 && blue.abs() < 0.2, "{red} {green} {blue}");
    }
}
