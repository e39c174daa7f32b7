//! The ICC profile of sRGB, for programs that heed nothing else: version 4 (ICC.1:2010), three primaries and the exact curve.
//!
//! Numbers of sections are from memory; what the values must be is computed anew in a test, and another's reader reads the whole.
//!
//! It is made here rather than by the profile library, which would write the hour of its making into it.

/// D50, the white that profiles refer to, as X, Y and Z (ICC.1:2010, 7.2.16). All numbers here are of 65536ths (`s15Fixed16Number`, 4.6).
const D50: [i32; 3] = [0xF6D6, 0x1_0000, 0xD32D];

/// Red, green and blue of sRGB (IEC 61966-2-1: x 0.64, 0.30, 0.15, y 0.33, 0.60, 0.06 under x 0.3127, y 0.3290), adapted to [`D50`]
/// by the Bradford transform, as ICC.1:2010 annex E does. A test computes them anew.
const PRIMARIES: [[i32; 3]; 3] = [[28_576, 14_581, 912], [25_239, 46_983, 6_361], [9_375, 3_972, 46_787]];

/// That transform, row by row, from sRGB's own white to [`D50`].
const ADAPTATION: [i32; 9] = [68_674, 1_502, -3_291, 1_939, 64_912, -1_119, -606, 988, 49_262];

/// Light of a sample X: ((X + 0.055) / 1.055)^2.4 from 0.04045 on, X / 12.92 below (IEC 61966-2-1), as g, a, b, c, d of the third kind
/// of `parametricCurveType` (ICC.1:2010, 10.16).
const CURVE: [i32; 5] = [157_286, 62_119, 3_417, 5_072, 2_651];

/// Bytes of the header (ICC.1:2010, 7.2).
const HEADER: usize = 128;

/// The profile as a file of its own, and as it is embedded in pictures. Always the same bytes.
#[must_use]
pub fn srgb_profile() -> Vec<u8> {
    let xyz = |values: &[i32; 3]| element(*b"XYZ ", &fixed(values));
    let mut curve = vec![0, 3, 0, 0];
    curve.extend(fixed(&CURVE));
    let curve = element(*b"para", &curve);
    let tags: [([u8; 4], Vec<u8>); 10] = [
        (*b"desc", text("sRGB")),
        (*b"cprt", text("No copyright; use freely")),
        (*b"wtpt", xyz(&D50)),
        (*b"chad", element(*b"sf32", &fixed(&ADAPTATION))),
        (*b"rXYZ", xyz(&PRIMARIES[0])),
        (*b"gXYZ", xyz(&PRIMARIES[1])),
        (*b"bXYZ", xyz(&PRIMARIES[2])),
        (*b"rTRC", curve.clone()),
        (*b"gTRC", curve.clone()),
        (*b"bTRC", curve),
    ];

    let mut table = (tags.len() as u32).to_be_bytes().to_vec();
    let mut data: Vec<u8> = Vec::new();
    let begin = HEADER + 4 + 12 * tags.len();
    let mut before: Option<(&Vec<u8>, usize)> = None;
    for (name, bytes) in &tags {
        // The three curves are one: tags may share their data (7.3.1).
        let at = match before {
            Some((same, at)) if same == bytes => at,
            _ => {
                let at = begin + data.len();
                data.extend(bytes);
                at
            }
        };
        before = Some((bytes, at));
        table.extend(name);
        table.extend((at as u32).to_be_bytes());
        table.extend((bytes.len() as u32).to_be_bytes());
    }

    let mut file = header(begin + data.len());
    file.extend(table);
    file.extend(data);
    file
}

/// The header of a profile of so many bytes. What is not set is zero: no maker, no device, no preferred program, no checksum.
fn header(size: usize) -> Vec<u8> {
    let mut head = vec![0; HEADER];
    head[..4].copy_from_slice(&(size as u32).to_be_bytes());
    head[8..12].copy_from_slice(&[4, 0x20, 0, 0]);
    head[12..24].copy_from_slice(b"mntrRGB XYZ ");
    // A date must stand there (4.2): that of IEC 61966-2-1, October 1999, so that it never changes.
    for (place, number) in head[24..36].as_chunks_mut::<2>().0.iter_mut().zip([1999_u16, 10, 1, 0, 0, 0]) {
        *place = number.to_be_bytes();
    }
    head[36..40].copy_from_slice(b"acsp");
    head[68..80].copy_from_slice(&fixed(&D50));
    head
}

/// A tag's data: what kind it is, four zeros, what it holds; filled up to whole words (7.3.1).
fn element(kind: [u8; 4], holds: &[u8]) -> Vec<u8> {
    let mut bytes = kind.to_vec();
    bytes.extend([0; 4]);
    bytes.extend(holds);
    bytes.resize(bytes.len().next_multiple_of(4), 0);
    bytes
}

/// A text in English (`multiLocalizedUnicodeType`, 10.13).
fn text(words: &str) -> Vec<u8> {
    let units: Vec<u8> = words.encode_utf16().flat_map(u16::to_be_bytes).collect();
    let mut holds = Vec::new();
    for number in [1, 12] {
        holds.extend(u32::to_be_bytes(number));
    }
    holds.extend(b"enUS");
    for number in [units.len() as u32, 28] {
        holds.extend(number.to_be_bytes());
    }
    holds.extend(units);
    element(*b"mluc", &holds)
}

fn fixed(values: &[i32]) -> Vec<u8> {
    values.iter().flat_map(|v| v.to_be_bytes()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::lab::XYZ_OF_LINEAR;
    use crate::image::Samples;

    /// Bradford's matrix (ICC.1:2010, annex E), and its inverse.
    const CONES: [[f64; 3]; 3] = [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]];
    const FROM_CONES: [[f64; 3]; 3] = [
        [0.986_992_905_466_712_1, -0.147_054_256_420_990_13, 0.159_962_651_663_731_22],
        [0.432_305_269_723_394_6, 0.518_360_271_536_777_5, 0.049_291_228_212_855_6],
        [-0.008_528_664_575_177_328, 0.040_042_821_654_084_87, 0.968_486_695_787_550_1],
    ];

    fn times(matrix: &[[f64; 3]; 3], v: [f64; 3]) -> [f64; 3] {
        matrix.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
    }

    #[test]
    fn its_numbers_are_those_of_the_standard() {
        let white = times(&XYZ_OF_LINEAR, [1.0; 3]);
        let (from, to) = (times(&CONES, white), times(&CONES, D50.map(|v| f64::from(v) / 65536.0)));
        let adapted = |xyz: [f64; 3]| {
            let cones = times(&CONES, xyz);
            times(&FROM_CONES, [0, 1, 2].map(|i| cones[i] * to[i] / from[i]))
        };
        for (i, primary) in PRIMARIES.iter().enumerate() {
            let found = adapted(XYZ_OF_LINEAR.map(|row| row[i]));
            for (stored, value) in primary.iter().zip(found) {
                assert!((f64::from(*stored) - value * 65536.0).abs() <= 0.51, "{primary:?} {found:?}");
            }
        }
        for i in 0..3 {
            let mut unit = [0.0; 3];
            unit[i] = 1.0;
            for (row, value) in adapted(unit).iter().enumerate() {
                assert!((f64::from(ADAPTATION[3 * row + i]) - value * 65536.0).abs() <= 0.51);
            }
        }
        for (stored, value) in CURVE.iter().zip([2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.040_45]) {
            assert!((f64::from(*stored) - value * 65536.0).abs() <= 0.51);
        }
    }

    /// Another's reader of profiles finds sRGB in it.
    #[test]
    fn it_moves_no_color() {
        let file = srgb_profile();
        assert_eq!(file.len() % 4, 0);
        assert_eq!(u32::from_be_bytes([file[0], file[1], file[2], file[3]]) as usize, file.len());
        let before: Vec<u8> = (0..=255).flat_map(|v| [v, 255 - v, v / 2]).collect();
        let mut samples = Samples::Eight(before.clone());
        let mut warnings = Vec::new();
        let name = crate::color::profile::convert(&file, false, &mut samples, &mut warnings);
        assert_eq!((name.as_deref(), warnings), (Some("sRGB"), Vec::new()));
        assert_eq!(samples, Samples::Eight(before));
    }
}
