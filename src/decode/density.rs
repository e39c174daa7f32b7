//! The resolution that a file states, and whether it can be believed.

use crate::error::Warning;
use crate::units::{MM_PER_INCH, Ppi};

/// Below this no scanner works; such numbers are leftovers of a program.
const LOWEST: f64 = 10.0;
/// Above this no flatbed works.
const HIGHEST: f64 = 20_000.0;
/// Cameras and programs that do not know write 72 or 96. Believed, unless the sheet would have a side longer than this,
/// in millimeters: an A1 sheet, longer than what is scanned in one piece, is 841 mm.
const LONGEST_SIDE: f64 = 1200.0;
/// Those numbers; believed, but with a remark where they make a side longer than this: that of A3, the largest sheet of usual scanners.
const UNKNOWING: [f64; 2] = [72.0, 96.0];
const LONG_SIDE: f64 = 420.0;
/// How far the two directions may lie apart and still mean the same.
const SAME: f64 = 0.01;

/// The resolution of an upright picture of `width` by `height` pixels from what its file stated, pixels per inch across
/// and down; `None`, with a remark, where that is missing or cannot be.
pub(super) fn settle(stated: Option<(f64, f64)>, width: usize, height: usize, warnings: &mut Vec<Warning>) -> Option<Ppi> {
    let Some((across, down)) = stated else {
        warnings.push(Warning::new(
            "no-ppi",
            "The file does not say at how many pixels per inch it was scanned. State it, so that sizes in millimeters and on paper are right.",
        ));
        return None;
    };
    let believable = |ppi: f64| (LOWEST..=HIGHEST).contains(&ppi);
    let ppi = across.max(down);
    let side = width.max(height) as f64 / ppi * MM_PER_INCH;
    if !believable(across) || !believable(down) || side > LONGEST_SIDE {
        warnings.push(Warning::new(
            "unlikely-ppi",
            format!("The file says {} pixels per inch, which cannot be. State at how many it was scanned.", words(across, down)),
        ));
        return None;
    }
    if (across - down).abs() > SAME * ppi {
        warnings.push(Warning::new(
            "uneven-ppi",
            format!(
                "The file says {} pixels per inch: that is wrong, or the scan is stretched one way. State the width of the original, or \
                 scan again with the same number both ways.",
                words(across, down)
            ),
        ));
        return Some(Ppi(ppi));
    }
    let ppi = tidy(ppi);
    if UNKNOWING.contains(&ppi) && side > LONG_SIDE {
        let mm = |pixels: usize| (pixels as f64 / ppi * MM_PER_INCH).round();
        warnings.push(Warning::new(
            "doubtful-ppi",
            format!(
                "The file says {ppi} pixels per inch, as files do that do not know. Then the original is {} by {} mm; if it is not, \
                 state its width.",
                mm(width),
                mm(height)
            ),
        ));
    }
    Some(Ppi(ppi))
}

/// A resolution that was stored per meter or per centimeter comes back a little off: 299.9994 was 300.
fn tidy(ppi: f64) -> f64 {
    let whole = ppi.round();
    // Half a pixel per meter, the rounding of PNG.
    if (ppi - whole).abs() <= 0.5 * MM_PER_INCH / 1000.0 { whole } else { ppi }
}

fn words(across: f64, down: f64) -> String {
    let short = |v: f64| format!("{}", (v * 10.0).round() / 10.0);
    if short(across) == short(down) { short(across) } else { format!("{} across and {} down", short(across), short(down)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settled(across: f64, down: f64) -> (Option<f64>, Vec<&'static str>) {
        let mut warnings = Vec::new();
        let ppi = settle(Some((across, down)), 2480, 3508, &mut warnings);
        (ppi.map(|p| p.0), warnings.iter().map(|w| w.code).collect())
    }

    #[test]
    fn believed() {
        assert_eq!(settled(300.0, 300.0), (Some(300.0), vec![]));
        assert_eq!(settled(11811.0 * 0.0254, 11811.0 * 0.0254), (Some(300.0), vec![]));
        assert_eq!(settled(118.0 * 2.54, 118.0 * 2.54), (Some(299.72), vec![]));
        assert_eq!(settled(300.0, 300.5), (Some(300.5), vec![]));
    }

    #[test]
    fn not_believed() {
        for (across, down) in
            [(0.0, 0.0), (1.0, 1.0), (f64::NAN, 300.0), (300.0, f64::INFINITY), (-300.0, -300.0), (1e9, 1e9), (72.0, 72.0)]
        {
            assert_eq!(settled(across, down), (None, vec!["unlikely-ppi"]), "{across} {down}");
        }
    }

    /// 72 and 96 where nobody knew: taken as it is, but asked about when the sheet would be larger than A3.
    #[test]
    fn doubted() {
        for (ppi, width, height, expected) in [
            (72.0, 2000, 1500, vec!["doubtful-ppi"]),
            (96.0, 1500, 2000, vec!["doubtful-ppi"]),
            (96.0 / 25.4 * 25.4, 1500, 2000, vec!["doubtful-ppi"]),
            (72.0, 600, 400, vec![]),
            (100.0, 4000, 2000, vec![]),
        ] {
            let mut warnings = Vec::new();
            let settled = settle(Some((ppi, ppi)), width, height, &mut warnings);
            assert!(settled.is_some_and(|settled| (settled.0 - ppi).abs() < 0.1), "{ppi} {width}");
            assert_eq!(warnings.iter().map(|w| w.code).collect::<Vec<_>>(), expected, "{ppi} {width}");
        }
    }

    #[test]
    fn stretched() {
        assert_eq!(settled(300.0, 600.0), (Some(600.0), vec!["uneven-ppi"]));
    }

    #[test]
    fn not_stated() {
        let mut warnings = Vec::new();
        assert_eq!(settle(None, 100, 100, &mut warnings), None);
        assert_eq!(warnings[0].code, "no-ppi");
    }
}
