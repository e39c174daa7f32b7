//! What the page shows: the art over a ground, at any scale, as opaque pixels.

use super::Session;
use crate::error::{Error, Kind, Result};
use crate::foreground::RowSource;
use crate::pipeline::Lift;

/// What lies behind the art.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ground {
    /// A color in 8-bit counts.
    Color([u8; 3]),
    /// The painting's own paper, even where it was taken away: the art on it looks like the scan, less its tooth.
    Paper,
    /// Nothing: the scan itself is shown.
    Scan,
}

impl Ground {
    /// Reads `#rrggbb`, `paper` or `scan`.
    ///
    /// # Errors
    /// [`Kind::Parameter`] for anything else.
    pub fn parse(text: &str) -> Result<Self> {
        let color = |hex: &str| -> Option<[u8; 3]> {
            if hex.len() != 6 || !hex.is_ascii() {
                return None;
            }
            let part = |i: usize| u8::from_str_radix(&hex[i..i + 2], 16).ok();
            Some([part(0)?, part(2)?, part(4)?])
        };
        match text {
            "paper" => Ok(Self::Paper),
            "scan" => Ok(Self::Scan),
            _ => text.strip_prefix('#').and_then(color).map(Self::Color).ok_or_else(|| {
                Error::new(Kind::Parameter, format!("The ground \"{text}\" is not known. It can be #rrggbb, paper or scan."))
            }),
        }
    }
}

/// A rectangle of the sheet to show: its top left corner in sheet pixels, and how large.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Left, in sheet pixels.
    pub x: f64,
    /// Top, in sheet pixels.
    pub y: f64,
    /// Shown pixels to one sheet pixel.
    pub scale: f64,
    /// Shown pixels across.
    pub width: usize,
    /// Shown pixels down.
    pub height: usize,
}

impl Session {
    /// Draws a view of the art over a ground into `out`, RGBA, opaque on the sheet and clear beyond it.
    ///
    /// Above half size each shown pixel is the nearest sheet pixel; below, the mean over the pixels that it covers, in
    /// encoded values as a browser would blend them. While the full lift is not up to date the reduced one stands in.
    pub fn draw(&self, view: &View, ground: Ground, out: &mut Vec<u8>) {
        out.clear();
        out.resize(view.width * view.height * 4, 0);
        let small = self
            .preview
            .as_ref()
            .filter(|(lift, factor)| lift.finished() && (!self.full.finished() || view.scale * *factor as f64 <= 1.0));
        match small {
            Some((lift, factor)) => {
                let f = *factor as f64;
                let view = View { x: view.x / f, y: view.y / f, scale: view.scale * f, ..*view };
                draw(lift, &view, ground, out);
            }
            None => draw(&self.full, view, ground, out),
        }
    }
}

fn draw(lift: &Lift, view: &View, ground: Ground, out: &mut [u8]) {
    let sheet = lift.sheet();
    let Some(field) = lift.field() else { return };
    let (w, h) = (sheet.width(), sheet.height());
    let span = |start: f64, i: usize, size: usize| -> (usize, usize) {
        let from = start + i as f64 / view.scale;
        if from < 0.0 || from >= size as f64 {
            return (0, 0);
        }
        let to = start + (i + 1) as f64 / view.scale;
        let low = from as usize;
        // Above half size: the nearest pixel. Below: every pixel whose center is covered.
        let high = if view.scale > 0.5 { low + 1 } else { (to as usize).clamp(low + 1, size) };
        (low, high.min(size))
    };
    let columns: Vec<(usize, usize)> = (0..view.width).map(|i| span(view.x, i, w)).collect();
    let left = columns.iter().filter(|c| c.1 > c.0).map(|c| c.0).min().unwrap_or(0);
    let right = columns.iter().map(|c| c.1).max().unwrap_or(0);
    if right <= left {
        return;
    }
    let mut source = RowSource::new(sheet, field);
    let mut art = vec![0_u8; (right - left) * 4];
    let mut flat = vec![[0_u8; 3]; right - left];
    let mut sums = vec![[0_u32; 4]; view.width];
    let mut last = usize::MAX;
    for j in 0..view.height {
        let (top, bottom) = span(view.y, j, h);
        if bottom <= top {
            continue;
        }
        sums.fill([0; 4]);
        for y in top..bottom {
            if y != last {
                lift.row8(&mut source, y, left, &mut art);
                source.load(y);
                for (i, (color, pixel)) in flat.iter_mut().zip(art.as_chunks::<4>().0).enumerate() {
                    *color = over(*pixel, ground, &source, left + i);
                }
                last = y;
            }
            for (sum, (from, to)) in sums.iter_mut().zip(&columns) {
                for color in &flat[from.saturating_sub(left).min(flat.len())..to.saturating_sub(left)] {
                    (0..3).for_each(|c| sum[c] += u32::from(color[c]));
                    sum[3] += 1;
                }
            }
        }
        for (sum, pixel) in sums.iter().zip(out[j * view.width * 4..].as_chunks_mut::<4>().0) {
            if sum[3] > 0 {
                let mean = |c: usize| ((sum[c] + sum[3] / 2) / sum[3]) as u8;
                *pixel = [mean(0), mean(1), mean(2), 255];
            }
        }
    }
}

/// One pixel of art over the ground.
#[inline]
fn over(pixel: [u8; 4], ground: Ground, source: &RowSource<'_>, x: usize) -> [u8; 3] {
    let behind = match ground {
        Ground::Color(color) => color.map(f32::from),
        Ground::Paper => source.paper_at(x).map(|v| v * 255.0),
        Ground::Scan => return source.scan_at(x).map(|v| (v * 255.0 + 0.5) as u8),
    };
    let alpha = f32::from(pixel[3]) / 255.0;
    [0, 1, 2].map(|c| (behind[c] + alpha * (f32::from(pixel[c]) - behind[c]) + 0.5) as u8)
}
