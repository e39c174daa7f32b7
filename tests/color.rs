//! Color against published and independently computed values.

use std::collections::BTreeMap;

use barewash::color::ciede2000::difference;
use barewash::color::inks::Inks;
use barewash::color::lab::{Lab, XYZ_OF_LINEAR};
use barewash::color::math;
use barewash::color::profile::convert;
use barewash::color::transfer::{encoded, linear};
use barewash::image::Samples;

fn data(name: &str) -> Vec<u8> {
    let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(&path).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The lines of a table below its head, split at commas.
fn table(name: &str) -> Vec<Vec<String>> {
    let text = String::from_utf8(data(name)).expect("text");
    text.lines().skip(1).map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

fn numbers(fields: &[String]) -> Vec<f64> {
    fields.iter().map(|f| f.parse().unwrap_or_else(|_| panic!("{f} is no number"))).collect()
}

/// All 34 pairs of Sharma, Wu and Dalal 2005, which are chosen to catch every usual mistake; given to four decimals.
#[test]
fn ciede2000_pairs() {
    let pairs = table("reference/ciede2000_sharma_pairs.csv");
    assert_eq!(pairs.len(), 34);
    for pair in pairs {
        let v = numbers(&pair);
        let (one, two) = (Lab { l: v[1], a: v[2], b: v[3] }, Lab { l: v[4], a: v[5], b: v[6] });
        for (one, two) in [(one, two), (two, one)] {
            assert!((difference(one, two) - v[7]).abs() < 0.000_051, "pair {}: {} for {}", v[0], difference(one, two), v[7]);
        }
        assert_eq!(difference(one, one), 0.0);
    }
}

/// The constants of IEC 61966-2-1 and the matrix of CSS Color 4 are those that the code computes with.
#[test]
fn srgb_constants() {
    let stated: BTreeMap<String, f64> =
        table("reference/srgb_constants.csv").into_iter().map(|row| (row[0].clone(), numbers(&row[2..])[0])).collect();
    for (r, row) in XYZ_OF_LINEAR.iter().enumerate() {
        for (c, v) in row.iter().enumerate() {
            assert!((v - stated[&format!("lin_srgb_to_xyz_d65_{r}{c}")]).abs() < 1e-15);
        }
    }
    let (foot, slope) = (stated["encoded_threshold"], stated["linear_slope"]);
    assert_eq!(linear(foot), foot / slope);
    assert_eq!(encoded(stated["linear_threshold"]), stated["linear_threshold"] * slope);
    let bowed = math::ln((0.5 + stated["offset"]) / stated["scale"]) * stated["gamma"];
    assert!((math::ln(linear(0.5)) - bowed).abs() < 1e-14);
}

/// Converts one color, and demands that nothing was remarked.
fn converted(icc: &[u8], mut samples: Samples) -> Samples {
    let mut warnings = Vec::new();
    convert(icc, false, &mut samples, &mut warnings);
    assert!(warnings.is_empty(), "{warnings:?}");
    samples
}

/// What an independent engine gives, see `tests/data/profiles/make_vectors.py`. Its 8-bit answers are rounded, so ours
/// at 16 bits may lie half a count from them, and a little for where it computes less exactly.
#[test]
fn profiles_against_an_independent_engine() {
    let all = by_profile("profiles/vectors.csv");
    assert_eq!(all.len(), 8);
    for (name, rows) in all {
        let icc = data(&format!("profiles/{name}.icc"));
        let before = || rows.iter().flat_map(|v| v[..3].iter().map(|v| *v as u8));
        let expected = rows.iter().flat_map(|v| &v[3..]);
        let Samples::Sixteen(wide) = converted(&icc, Samples::Sixteen(before().map(|v| u16::from(v) * 257).collect())) else {
            panic!("16 bits stay 16 bits")
        };
        let Samples::Eight(narrow) = converted(&icc, Samples::Eight(before().collect())) else { panic!("8 bits stay 8 bits") };
        let off = wide.iter().zip(expected.clone()).map(|(is, be)| (f64::from(*is) / 257.0 - be).abs()).fold(0.0, f64::max);
        let counts = narrow.iter().zip(expected).map(|(is, be)| is.abs_diff(*be as u8)).max().unwrap();
        println!("{name}: {off:.2} and {counts} counts");
        assert!(off <= 0.65 && counts <= 1, "{name}: {off} of a count, {counts} counts");
    }
}

/// The numbers of a table by the profile that each row begins with.
fn by_profile(name: &str) -> BTreeMap<String, Vec<Vec<f64>>> {
    let mut all = BTreeMap::<String, Vec<Vec<f64>>>::new();
    for row in table(name) {
        all.entry(row[0].clone()).or_default().push(numbers(&row[1..]));
    }
    all
}

/// The formulas of ICC.1 in double precision, see `tests/data/profiles/make_vectors.py`, in 16-bit counts.
#[test]
fn profiles_keep_16_bits() {
    let rows = table("profiles/exact.csv");
    for row in &rows {
        let icc = data(&format!("profiles/{}.icc", row[0]));
        let v = numbers(&row[1..]);
        let Samples::Sixteen(after) = converted(&icc, Samples::Sixteen(v[..3].iter().map(|&v| v as u16).collect())) else {
            panic!("16 bits stay 16 bits")
        };
        for c in 0..3 {
            assert!((f64::from(after[c]) - v[3 + c]).abs() <= 0.6, "{row:?}: {after:?}");
        }
    }
    assert_eq!(rows.len(), 3 * 55);
}

/// What is sRGB in all but name leaves every sample as it is.
#[test]
fn srgb_profiles_change_nothing() {
    for name in ["sRGB-v2-micro", "sRGB-v4"] {
        let samples = Samples::Sixteen((0..=65535_u16).map(|v| v.wrapping_mul(31)).chain([1, 2]).collect());
        assert_eq!(converted(&data(&format!("profiles/{name}.icc")), samples.clone()), samples, "{name}");
    }
    let mut gray = Samples::Eight((0..=255).flat_map(|v| [v; 3]).collect());
    let before = gray.clone();
    let mut warnings = Vec::new();
    assert_eq!(convert(&data("profiles/sGrey-v4.icc"), true, &mut gray, &mut warnings).as_deref(), Some("sGry"));
    assert!(warnings.is_empty());
    assert_eq!(gray, before);
}

/// A gray profile with this curve, of which 16-bit numbers are given as ICC.1 type `curv` has them, made by hand after ICC.1.
fn gray_profile(connection: &[u8; 4], curve: &[u16]) -> Vec<u8> {
    let mut icc = vec![0; 128];
    icc[8..12].copy_from_slice(&[2, 0x40, 0, 0]);
    icc[12..20].copy_from_slice(b"mntrGRAY");
    icc[20..24].copy_from_slice(connection);
    icc[36..40].copy_from_slice(b"acsp");
    icc[68..80].copy_from_slice(&[0, 0, 0xF6, 0xD6, 0, 1, 0, 0, 0, 0, 0xD3, 0x2D]);
    icc.extend(1_u32.to_be_bytes());
    icc.extend(b"kTRC");
    icc.extend(144_u32.to_be_bytes());
    icc.extend((12 + 2 * curve.len() as u32).to_be_bytes());
    icc.extend(b"curv\0\0\0\0");
    icc.extend((curve.len() as u32).to_be_bytes());
    icc.extend(curve.iter().flat_map(|v| v.to_be_bytes()));
    let size = (icc.len() as u32).to_be_bytes();
    icc[..4].copy_from_slice(&size);
    icc
}

/// Every gray through this profile as encoded sRGB 0..1, beside its own value 0..1.
fn grays(icc: &[u8]) -> impl Iterator<Item = (f64, f64)> {
    let mut samples = Samples::Sixteen((0..=65535).flat_map(|v| [v; 3]).collect());
    let mut warnings = Vec::new();
    assert_eq!(convert(icc, true, &mut samples, &mut warnings), None);
    assert!(warnings.is_empty(), "{warnings:?}");
    let Samples::Sixteen(after) = samples else { panic!("16 bits stay 16 bits") };
    let whole = |v: u16| f64::from(v) / 65535.0;
    (0..=65535_u16).map(move |v| (whole(v), whole(after[usize::from(v) * 3])))
}

/// ICC.1:2010, 10.5: no number is the light itself, one number a power in 1/256, several are light at equal steps. The encoding of
/// light is that of IEC 61966-2-1. The power of zero is zero: the library that reads profiles has it otherwise for 461/256 and 512/256.
#[test]
fn gray_curves() {
    for power in [256_u16, 300, 461, 512, 563] {
        for (before, after) in grays(&gray_profile(b"XYZ ", &[power])) {
            let expected = encoded(math::pow(before, f64::from(power) / 256.0));
            assert!((after - expected).abs() * 65535.0 <= 0.6, "{before} to {power}/256: {after}, not {expected}");
        }
    }
    for (before, after) in grays(&gray_profile(b"XYZ ", &[])) {
        assert!((after - encoded(before)).abs() * 65535.0 <= 0.6, "{before}: {after}");
    }
}

/// A gray profile that connects by L\*a\*b\* has a curve of lightness: ICC.1:2010, F.2. Gray of L\* 50 reflects 0.184187 (CIE 15:2004).
#[test]
fn gray_curves_of_lightness() {
    let all: Vec<_> = grays(&gray_profile(b"Lab ", &[])).collect();
    assert_eq!((all[0].1, all[65535].1), (0.0, 1.0));
    assert!((all[32768].1 - encoded(0.184_187)).abs() < 2e-5, "{}", all[32768].1);
}

/// The darkest gray comes out black and white stays; what lies halfway between them in light comes out as half the light.
#[test]
fn the_darkest_is_black() {
    let all: Vec<_> = grays(&gray_profile(b"XYZ ", &[3277, 65535])).collect();
    assert_eq!((all[0].1, all[65535].1), (0.0, 1.0));
    assert!((all[32768].1 - encoded(0.5)).abs() < 2e-5, "{}", all[32768].1);
}

/// A profile that is damaged, or for other colors than the picture's, is left out with a remark.
#[test]
fn profiles_that_do_not_fit() {
    for (name, gray, code) in [
        ("bad", false, "broken-profile"),
        ("CGATS001Compat-v2-micro", false, "unfit-profile"),
        ("CGATS001Compat-v2-micro", true, "unfit-profile"),
        ("sGrey-v4", false, "unfit-profile"),
    ] {
        let mut samples = Samples::Eight((0..=254).collect());
        let before = samples.clone();
        let mut warnings = Vec::new();
        convert(&data(&format!("profiles/{name}.icc")), gray, &mut samples, &mut warnings);
        assert_eq!(warnings.iter().map(|w| w.code).collect::<Vec<_>>(), [code], "{name}");
        assert_eq!(samples, before);
    }
}

/// However a profile is damaged, it is converted or left out, never a panic.
#[test]
fn damaged_profiles() {
    for name in ["AdobeCompat-v2", "table-rgb", "sGrey-v4", "Rec2020-v2-micro", "press", "new-table-rgb"] {
        let icc = data(&format!("profiles/{name}.icc"));
        // Damage to the header and the list of tags is the most telling: every byte there, some behind.
        for at in (0..icc.len().min(250)).step_by(2).chain((250..icc.len()).step_by(97)) {
            let mut broken = icc.clone();
            broken[at] ^= 0xFF;
            convert(&broken, name == "sGrey-v4", &mut Samples::Eight(vec![10, 128, 250]), &mut Vec::new());
            convert(&icc[..at], false, &mut Samples::Sixteen(vec![10, 128, 250]), &mut Vec::new());
            Inks::of(Some(&broken), &mut Vec::new()).lay(&[9, 99, 999, 9999], &mut [0; 3]);
        }
    }
}

/// What an independent engine makes of inks, see `tests/data/profiles/make_vectors.py`; its answers are rounded to 8 bits.
#[test]
fn print_inks_against_an_independent_engine() {
    let all = by_profile("profiles/inks.csv");
    assert_eq!(all.len(), 2);
    for (name, rows) in all {
        let mut warnings = Vec::new();
        let inks = Inks::of(Some(&data(&format!("profiles/{name}.icc"))), &mut warnings);
        assert!(warnings.is_empty() && inks.name.is_some(), "{warnings:?}");
        let stored: Vec<u16> = rows.iter().flat_map(|v| v[..4].iter().map(|v| *v as u16 * 257)).collect();
        let mut rgb = vec![0; rows.len() * 3];
        inks.lay(&stored, &mut rgb);
        let expected = rows.iter().flat_map(|v| &v[4..]);
        let off = rgb.iter().zip(expected).map(|(is, be)| (f64::from(*is) / 257.0 - be).abs()).fold(0.0, f64::max);
        println!("{name}: {off:.2} counts");
        assert!(off <= 0.65, "{name}: {off} of a count");
    }
}
