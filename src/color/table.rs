//! Color tables of profiles (ICC.1:2010, 10.8 to 10.11), from samples to linear sRGB: every pixel goes through the table itself. The
//! library reads tables, but converts by a coarser one that it makes of them, which costs up to three counts in dark grays.

use moxcms::{
    ColorProfile, DataColorSpace, LutDataType, LutMultidimensionalType, LutStore, LutType, LutWarehouse, ProfileClass,
    ProfileVersion, ToneReprCurve,
};

use super::black::Black;
use super::lab::{Lab, linear_of_xyz, of_xyz, xyz_of_d50};
use super::profile::curve;
use super::transfer::clamped;

/// Channels that a step takes or gives, at most.
const MOST: usize = 4;

/// From samples to linear sRGB.
pub(super) struct Table {
    steps: Vec<Step>,
    connection: Connection,
    black: Black,
}

impl Table {
    /// The colorimetric table of a profile for samples of its own kind, or else the one it has. `None` where it has none, or its
    /// parts do not fit together.
    pub(super) fn of(profile: &ColorProfile) -> Option<Self> {
        let stored = profile.lut_a_to_b_colorimetric.as_ref().or(profile.lut_a_to_b_perceptual.as_ref())?;
        let channels = match profile.color_space {
            DataColorSpace::Gray => 1,
            DataColorSpace::Rgb => 3,
            DataColorSpace::Cmyk => 4,
            _ => return None,
        };
        let mut table =
            Self { steps: steps(stored, [channels, 3], None)?, connection: Connection::of(profile, stored)?, black: Black::NONE };
        if let Some(darkest) = table.darkest(profile) {
            table.black = Black::of(darkest);
        }
        Some(table)
    }

    /// XYZ under D50, black as it is.
    fn xyz(&self, samples: [f32; MOST]) -> [f64; 3] {
        let [a, b, c, _] = self.steps.iter().fold(samples, |v, step| step.take(v));
        self.connection.xyz([a, b, c])
    }

    /// Linear sRGB of samples 0..1, of which as many are read as the profile has channels; beyond 0..1 where sRGB does not reach.
    pub(super) fn linear(&self, samples: [f32; MOST]) -> [f32; 3] {
        linear_of_xyz(self.black.below(self.xyz(samples))).map(|light| light as f32)
    }

    /// The color that is to come out black, XYZ under D50: of presses what they print for the darkest color, taken as neutral, since all
    /// inks at once are darker than a press is to print; of everything else the end of the scale. Engines in use take black as it is
    /// where a profile has no colorimetric table, or does not say how its press prints.
    fn darkest(&self, profile: &ColorProfile) -> Option<[f64; 3]> {
        let is_of_inks = profile.color_space == DataColorSpace::Cmyk;
        if is_of_inks && profile.profile_class == ProfileClass::OutputDevice {
            profile.lut_a_to_b_perceptual.as_ref()?;
            let printed = profile.lut_b_to_a_perceptual.as_ref()?;
            let connection = Connection::of(profile, printed)?;
            let black = if profile.version() < ProfileVersion::V4_0 { 0.0 } else { REFERENCE_BLACK };
            let steps = steps(printed, [3, 4], Some(connection))?;
            let l = of_xyz(self.xyz(steps.iter().fold(connection.stored(black), |v, step| step.take(v)))).l;
            return Some(xyz_of_d50(Lab { l, a: 0.0, b: 0.0 }));
        }
        profile.lut_a_to_b_colorimetric.as_ref()?;
        Some(self.xyz([if is_of_inks { 1.0 } else { 0.0 }; MOST]))
    }
}

/// L* of the black of the perceptual reference medium, from version 4 on: ICC.1:2010, 6.3.3 (from memory).
const REFERENCE_BLACK: f64 = 3.1373;

/// How the colors that all profiles connect by are stored, each 0..1.
#[derive(Clone, Copy, PartialEq)]
enum Connection {
    /// Up to 1 + 32767/32768.
    Xyz,
    /// Lightness up to 100, axes from -128 to 127.
    Lab,
    /// White at FF00, as before version 4, and in tables of its kind ever after: ICC.1:2010, 10.8.
    OldLab,
}

impl Connection {
    fn of(profile: &ColorProfile, stored: &LutWarehouse) -> Option<Self> {
        match (profile.pcs, stored) {
            (DataColorSpace::Xyz, _) => Some(Self::Xyz),
            (DataColorSpace::Lab, LutWarehouse::Lut(LutDataType { lut_type: LutType::Lut16, .. })) => Some(Self::OldLab),
            (DataColorSpace::Lab, _) => Some(Self::Lab),
            _ => None,
        }
    }

    fn xyz(self, stored: [f32; 3]) -> [f64; 3] {
        let stored = stored.map(f64::from);
        let lab = |[l, a, b]: [f64; 3]| xyz_of_d50(Lab { l: l * 100.0, a: a * 255.0 - 128.0, b: b * 255.0 - 128.0 });
        match self {
            Self::Xyz => stored.map(|v| v * (65535.0 / 32768.0)),
            Self::Lab => lab(stored),
            Self::OldLab => lab(stored.map(|v| v * (65535.0 / 65280.0))),
        }
    }

    /// A gray of this lightness, as stored.
    fn stored(self, l: f64) -> [f32; MOST] {
        let [x, y, z] = match self {
            Self::Xyz => xyz_of_d50(Lab { l, a: 0.0, b: 0.0 }).map(|v| v * (32768.0 / 65535.0)),
            Self::Lab => [l / 100.0, 128.0 / 255.0, 128.0 / 255.0],
            Self::OldLab => [l * (65280.0 / 6_553_500.0), 32768.0 / 65535.0, 32768.0 / 65535.0],
        };
        [x as f32, y as f32, z as f32, 0.0]
    }
}

/// A step of a table.
enum Step {
    /// Of each channel, values at equal steps over 0..1.
    Curves(Vec<Box<[f32]>>),
    Matrix {
        rows: [[f32; 3]; 3],
        add: [f32; 3],
    },
    Grid(Grid),
}

impl Step {
    fn take(&self, v: [f32; MOST]) -> [f32; MOST] {
        match self {
            Self::Curves(curves) => {
                let mut out = v;
                for ((out, v), curve) in out.iter_mut().zip(v).zip(curves) {
                    let (below, part) = place(v, curve.len());
                    *out = curve[below] + (curve[below + 1] - curve[below]) * part;
                }
                out
            }
            Self::Matrix { rows, add } => {
                let [x, y, z] = [0, 1, 2].map(|r| rows[r][0] * v[0] + rows[r][1] * v[1] + rows[r][2] * v[2] + add[r]);
                [x, y, z, 0.0]
            }
            Self::Grid(grid) => grid.at(v),
        }
    }
}

/// Between which of so many equal steps over 0..1 a value lies, and how far from the lower to the upper one.
fn place(v: f32, count: usize) -> (usize, f32) {
    let at = clamped(v) * (count - 1) as f32;
    let below = (at as usize).min(count - 2);
    (below, at - below as f32)
}

/// Colors at the nodes of a grid, the last channel in running fastest.
struct Grid {
    /// Nodes along each channel, at least two, and from one to the next.
    axes: Vec<(usize, usize)>,
    nodes: Vec<[f32; MOST]>,
}

impl Grid {
    fn new(points: &[u8], outputs: usize, stored: &LutStore) -> Option<Self> {
        let mut axes = Vec::new();
        let mut count = 1_usize;
        for points in points.iter().rev() {
            axes.push((usize::from(*points), count));
            count = count.checked_mul(usize::from(*points))?;
        }
        axes.reverse();
        let values = unit(stored);
        let nodes: Vec<_> =
            values.chunks_exact(outputs).map(|v| std::array::from_fn(|c| v.get(c).copied().unwrap_or(0.0))).collect();
        (points.iter().all(|points| *points >= 2) && outputs <= MOST && nodes.len() >= count).then_some(Self { axes, nodes })
    }

    /// Between the nodes of a cell straight within tetrahedra along its diagonal, of four channels the first straight between two
    /// cells: so engines have it that are in use, and the makers of profiles check against these; the standard leaves it open.
    fn at(&self, v: [f32; MOST]) -> [f32; MOST] {
        let mut base = 0;
        let mut ways = [(0.0, 0); MOST];
        for ((way, v), (count, stride)) in ways.iter_mut().zip(v).zip(&self.axes) {
            let (below, part) = place(v, *count);
            base += below * stride;
            *way = (part, *stride);
        }
        let [first, second, third, fourth] = ways;
        if self.axes.len() < MOST {
            return self.within(base, [first, second, third]);
        }
        let (part, stride) = first;
        let (low, high) = (self.within(base, [second, third, fourth]), self.within(base + stride, [second, third, fourth]));
        std::array::from_fn(|c| low[c] + (high[c] - low[c]) * part)
    }

    /// Within a cell of up to three channels: from one corner to the opposite one, along the channel that is furthest on first.
    fn within(&self, base: usize, ways: [(f32, usize); 3]) -> [f32; MOST] {
        let [mut one, mut two, mut three] = ways;
        let sort = |a: &mut (f32, usize), b: &mut (f32, usize)| {
            if a.0 < b.0 {
                std::mem::swap(a, b);
            }
        };
        sort(&mut one, &mut two);
        sort(&mut two, &mut three);
        sort(&mut one, &mut two);
        let corners = [base, base + one.1, base + one.1 + two.1, base + one.1 + two.1 + three.1].map(|at| self.nodes[at]);
        let shares = [1.0 - one.0, one.0 - two.0, two.0 - three.0, three.0];
        std::array::from_fn(|c| {
            corners[0][c] * shares[0] + corners[1][c] * shares[1] + corners[2][c] * shares[2] + corners[3][c] * shares[3]
        })
    }
}

/// Stored values as 0..1.
fn unit(stored: &LutStore) -> Vec<f32> {
    match stored {
        LutStore::Store8(v) => v.iter().map(|v| f32::from(*v) / 255.0).collect(),
        LutStore::Store16(v) => v.iter().map(|v| f32::from(*v) / 65535.0).collect(),
    }
}

/// The steps of a table with so many channels in and out; `from` says how the colors are stored that it begins with, where it is one
/// towards samples.
fn steps(stored: &LutWarehouse, [inputs, outputs]: [usize; 2], from: Option<Connection>) -> Option<Vec<Step>> {
    let (stated_in, stated_out) = match stored {
        LutWarehouse::Lut(table) => (table.num_input_channels, table.num_output_channels),
        LutWarehouse::Multidimensional(table) => (table.num_input_channels, table.num_output_channels),
    };
    if usize::from(stated_in) != inputs || usize::from(stated_out) != outputs {
        return None;
    }
    match stored {
        LutWarehouse::Lut(table) => old_steps(table, from == Some(Connection::Xyz)),
        LutWarehouse::Multidimensional(table) => new_steps(table, from.is_some()),
    }
}

/// ICC.1:2010, 10.8 and 10.9: the matrix is for XYZ alone.
fn old_steps(table: &LutDataType, of_xyz: bool) -> Option<Vec<Step>> {
    let curves = |stored: &LutStore, entries: u16, channels: u8| {
        let (entries, channels) = (usize::from(entries), usize::from(channels));
        let all = unit(stored);
        (entries >= 2 && all.len() >= entries * channels)
            .then(|| bent(all.chunks_exact(entries).take(channels).map(Into::into).collect()))
    };
    let (inputs, outputs) = (table.num_input_channels, table.num_output_channels);
    let matrix = of_xyz.then(|| Step::Matrix { rows: table.matrix.v.map(|row| row.map(|v| v as f32)), add: [0.0; 3] });
    let first = curves(&table.input_table, table.num_input_table_entries, inputs)?;
    let points = vec![table.num_clut_grid_points; usize::from(inputs)];
    let grid = Step::Grid(Grid::new(&points, usize::from(outputs), &table.clut_table)?);
    let last = curves(&table.output_table, table.num_output_table_entries, outputs)?;
    Some([matrix, first, Some(grid), last].into_iter().flatten().collect())
}

/// Curves, unless all of them are straight, as most that nothing is known for are.
fn bent(curves: Vec<Box<[f32]>>) -> Option<Step> {
    let is_straight =
        |curve: &[f32]| curve.iter().enumerate().all(|(i, v)| (v - i as f32 / (curve.len() - 1) as f32).abs() < ROUNDED);
    (!curves.iter().all(|curve| is_straight(curve))).then_some(Step::Curves(curves))
}

/// What a value of 16 bits is rounded by, at most.
const ROUNDED: f32 = 0.51 / 65535.0;

/// ICC.1:2010, 10.10 and 10.11: the same parts in one order or the other, none of them needed but the curves beside the connection.
fn new_steps(table: &LutMultidimensionalType, from_connection: bool) -> Option<Vec<Step>> {
    let curves = |curves: &[ToneReprCurve], channels: u8| {
        if curves.is_empty() {
            return Some(None);
        }
        let all = curves.iter().map(curve).collect::<Option<Vec<_>>>()?;
        if all.len() != usize::from(channels) {
            return None;
        }
        Some(bent(all))
    };
    let (inputs, outputs) = (table.num_input_channels, table.num_output_channels);
    let beside = if from_connection { inputs } else { outputs };
    let rows = table.matrix.v.map(|row| row.map(|v| v as f32));
    let matrix = Step::Matrix { rows, add: table.bias.v.map(|v| v as f32) };
    let matrix = (!table.m_curves.is_empty()).then_some(matrix);
    let (grid, far) = match &table.clut {
        Some(stored) => {
            let points = table.grid_points.get(..usize::from(inputs))?;
            let far = curves(&table.a_curves, if from_connection { outputs } else { inputs })?;
            (Some(Step::Grid(Grid::new(points, usize::from(outputs), stored)?)), far)
        }
        None if inputs == outputs => (None, None),
        None => return None,
    };
    let mut steps = vec![far, grid, curves(&table.m_curves, beside)?, matrix, curves(&table.b_curves, beside)?];
    if from_connection {
        steps.reverse();
    }
    Some(steps.into_iter().flatten().collect())
}
