//! The composition of `truth` under any conditions that a sheet may meet: paper, surface, light, scanner, file, resolution.
//!
//! All ranges are working values for flatbed scans of art papers, chosen and not measured.

use super::palette::Palette;
use super::soiling::soil;
use super::truth::{PPI, paint};
use crate::random::Random;
use crate::render::painting::Painting;
use crate::render::paper::{PaperKind, Tint, Tooth};
use crate::render::scanner::{Jpeg, Scanner};
use crate::render::truth::{Scene, scan};
use std::fmt::{self, Display, Formatter};

/// What lies around the sheet in the scan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Around {
    /// Nothing: the scan ends inside the sheet.
    Nothing,
    /// A white lid and the sheet's shadow.
    WhiteLid,
    /// A black lid.
    BlackLid,
}

/// The conditions of one scene.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// The seed that chose them, and that paints the scene.
    pub seed: u64,
    /// Pixels across and down.
    pub size: [usize; 2],
    /// Resolution.
    pub ppi: f32,
    /// The paper by its name; `kind` has the color of this very sheet.
    pub tint: Tint,
    /// The paper.
    pub kind: PaperKind,
    /// The scanner, and the file.
    pub scanner: Scanner,
    /// What lies around the sheet.
    pub around: Around,
}

/// A scene of every kind of paint and mark, under the conditions of its seed: see [`Conditions::of`].
#[must_use]
pub fn any_scene(seed: u64, size: [usize; 2]) -> Scene {
    Conditions::of(seed, size).scene()
}

impl Conditions {
    /// The conditions that a seed chooses. `size`: pixels across and down at 300 ppi, 300 x 375 at least; the one scene in eight
    /// that is scanned at 600 ppi has twice as many both ways.
    #[must_use]
    pub fn of(seed: u64, size: [usize; 2]) -> Self {
        // Each choice has a stream of its own: another range for one of them leaves the others as they are.
        let seeds = Random::new(seed ^ 0x51ce_ab1e);
        let stream = |tag: u64| seeds.fork(tag);
        let fine = stream(1).chance(0.125);
        let ppi = if fine { 2.0 * PPI } else { PPI };
        let mm = ppi / 25.4;
        let tint = tint(&mut stream(2));
        let kind = paper(&mut stream(3), tint);
        let mut random = stream(4);
        let share = |random: &mut Random, chance: f32, low: f32, high: f32| {
            let (happens, value) = (random.chance(chance), random.between(low, high));
            happens.then_some(value)
        };
        let blur = random.between(0.6, 1.2);
        let noise = [random.between(0.0012, 0.0028), random.between(0.0025, 0.0055)];
        let spread = share(&mut random, 0.35, 0.15, 0.40).map(|v| (v, mm * random.between(0.05, 0.09)));
        let stray = share(&mut random, 0.40, 0.005, 0.015).map(|v| (v, mm * random.between(4.0, 10.0)));
        let overshoot = share(&mut random, 0.25, 0.10, 0.45).unwrap_or(0.0);
        let gutter = share(&mut random, 0.20, 0.04, 0.18).map(|v| {
            let side = if random.chance(0.5) { 0.0 } else { 1.0 };
            (side, v, mm * random.between(2.0, 6.0))
        });
        let banding = share(&mut random, 0.40, 0.001, 0.003).unwrap_or(0.0);
        let mut random = stream(5);
        let lossy = share(&mut random, 0.25, 84.0, 97.0);
        let jpeg = lossy.map(|quality| Jpeg { quality: quality as u8, halved: random.chance(0.35) });
        let bits = if jpeg.is_none() && random.chance(0.3) { 16 } else { 8 };
        let around = [Around::Nothing, Around::WhiteLid, Around::WhiteLid, Around::BlackLid, Around::BlackLid];
        Self {
            seed,
            size: if fine { size.map(|v| 2 * v) } else { size },
            ppi,
            tint,
            kind,
            scanner: Scanner { blur, noise, bits, spread, stray, overshoot, gutter, banding, jpeg },
            around: around[stream(6).below(around.len())],
        }
    }

    /// Every word for these conditions that other scenes share: the paper, its surface, and whatever is not so on every scene.
    #[must_use]
    pub fn kinds(&self) -> Vec<&'static str> {
        let scanner = &self.scanner;
        let paper = match self.tint {
            Tint::PaleGray => "gray paper",
            Tint::Kraft => "kraft paper",
            Tint::Dark => "dark paper",
            _ => "white paper",
        };
        let special = [
            (self.ppi > PPI, "600 ppi"),
            (scanner.bits == 16, "16 bits"),
            (scanner.jpeg.is_some(), "JPEG"),
            (scanner.jpeg.is_some_and(|jpeg| jpeg.halved), "JPEG of half color"),
            (scanner.spread.is_some(), "spread"),
            (scanner.stray.is_some(), "stray light"),
            (scanner.overshoot > 0.0, "overshoot"),
            (scanner.gutter.is_some(), "gutter"),
            (scanner.banding > 0.0, "stripes"),
        ];
        let own = [paper, surface(self.kind.tooth), self.around.words()];
        own.into_iter().chain(special.into_iter().filter(|(is_so, _)| *is_so).map(|(_, word)| word)).collect()
    }

    /// The scene under these conditions.
    #[must_use]
    pub fn scene(&self) -> Scene {
        let mut painting = Painting::new(self.seed, self.size, self.ppi, self.kind);
        let palette = if self.tint.is_dark() { Palette::Body } else { Palette::Transparent };
        paint(&mut painting, &mut Random::new(self.seed.wrapping_add(77)), palette);
        soil(&mut painting, &mut Random::new(self.seed.wrapping_add(78)), palette, self.around);
        scan(painting, &self.scanner)
    }
}

impl Around {
    fn words(self) -> &'static str {
        match self {
            Self::Nothing => "no edge",
            Self::WhiteLid => "white lid",
            Self::BlackLid => "black lid",
        }
    }
}

fn surface(tooth: Tooth) -> &'static str {
    match tooth {
        Tooth::Hot => "hot-pressed",
        Tooth::Cold => "cold-pressed",
        Tooth::Rough => "rough",
    }
}

/// Two of three papers are white or nearly so.
fn tint(random: &mut Random) -> Tint {
    const WHITES: [Tint; 5] = [Tint::WarmWhite, Tint::Cream, Tint::BrightWhite, Tint::CoolWhite, Tint::Ivory];
    let (which, white) = (random.unit(), WHITES[random.below(WHITES.len())]);
    match which {
        ..0.14 => Tint::Dark,
        0.14..0.24 => Tint::Kraft,
        0.24..0.34 => Tint::PaleGray,
        _ => white,
    }
}

/// A sheet of a paper: no two have quite the same color, surface and light.
fn paper(random: &mut Random, tint: Tint) -> PaperKind {
    const TOOTHS: [Tooth; 4] = [Tooth::Hot, Tooth::Cold, Tooth::Cold, Tooth::Rough];
    let lot = random.between(0.96, 1.02);
    let own = tint.reflectance().map(|v| (v * lot * random.between(0.99, 1.01)).min(0.93));
    PaperKind {
        tint: Tint::Own(own),
        tooth: TOOTHS[random.below(TOOTHS.len())],
        relief: random.between(0.8, 1.1),
        uneven: random.between(0.02, 0.055),
        cloud: random.between(0.002, 0.006),
    }
}

impl Display for Conditions {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let scanner = &self.scanner;
        let paper = match self.tint {
            Tint::WarmWhite => "warm white",
            Tint::Cream => "cream",
            Tint::BrightWhite => "bright white",
            Tint::CoolWhite => "cool white",
            Tint::Ivory => "ivory",
            Tint::PaleGray => "pale gray",
            Tint::Kraft => "kraft",
            Tint::Dark => "dark",
            Tint::Own(_) => "own color",
        };
        let (tooth, around) = (surface(self.kind.tooth), self.around.words());
        write!(f, "{paper} {tooth}, {around}, {} ppi, {} bits, blur {:.2} px", self.ppi, scanner.bits, scanner.blur)?;
        write!(f, ", uneven {:.1} %", 100.0 * self.kind.uneven)?;
        if let Some(Jpeg { quality, halved }) = scanner.jpeg {
            write!(f, ", JPEG {quality}{}", if halved { " of half color" } else { "" })?;
        }
        if let Some((share, reach)) = scanner.spread {
            write!(f, ", spread {share:.2} over {reach:.1} px")?;
        }
        if let Some((share, reach)) = scanner.stray {
            write!(f, ", stray light {:.1} % over {reach:.0} px", 100.0 * share)?;
        }
        if scanner.overshoot > 0.0 {
            write!(f, ", overshoot {:.2}", scanner.overshoot)?;
        }
        if let Some((side, loss, reach)) = scanner.gutter {
            let side = if side < 0.5 { "left" } else { "right" };
            write!(f, ", gutter {side} {:.0} % over {reach:.0} px", 100.0 * loss)?;
        }
        if scanner.banding > 0.0 {
            write!(f, ", stripes {:.2} %", 100.0 * scanner.banding)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Nothing that a seed can choose is missing, and the rare stays rare.
    #[test]
    fn every_condition_occurs_in_its_share() {
        const COUNT: u64 = 2000;
        let all: Vec<Conditions> = (0..COUNT).map(|seed| Conditions::of(seed, [300, 375])).collect();
        let share = |what: &str, expected: f64, of: &dyn Fn(&Conditions) -> bool| {
            let found = all.iter().filter(|c| of(c)).count() as f64 / COUNT as f64;
            assert!((found - expected).abs() < 0.04, "{what}: {found} for {expected}");
        };
        share("dark", 0.14, &|c| c.tint.is_dark());
        share("kraft", 0.10, &|c| c.tint == Tint::Kraft);
        share("pale gray", 0.10, &|c| c.tint == Tint::PaleGray);
        share("ivory", 0.66 / 5.0, &|c| c.tint == Tint::Ivory);
        share("hot", 0.25, &|c| c.kind.tooth == Tooth::Hot);
        share("rough", 0.25, &|c| c.kind.tooth == Tooth::Rough);
        share("600 ppi", 0.125, &|c| c.ppi == 600.0 && c.size == [600, 750]);
        share("300 ppi", 0.875, &|c| c.ppi == 300.0 && c.size == [300, 375]);
        share("JPEG", 0.25, &|c| c.scanner.jpeg.is_some() && c.scanner.bits == 8);
        share("16 bits", 0.225, &|c| c.scanner.bits == 16);
        share("spread", 0.35, &|c| c.scanner.spread.is_some());
        share("stray light", 0.40, &|c| c.scanner.stray.is_some());
        share("overshoot", 0.25, &|c| c.scanner.overshoot > 0.0);
        share("gutter", 0.20, &|c| c.scanner.gutter.is_some());
        share("stripes", 0.40, &|c| c.scanner.banding > 0.0);
        share("no edge", 0.20, &|c| c.around == Around::Nothing);
        share("black lid", 0.40, &|c| c.around == Around::BlackLid);
    }
}
