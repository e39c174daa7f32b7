//! The recipe: every choice that a person can make, as JSON.
//!
//! An absent key takes its default; an unknown one is refused by name, since a misspelled choice that is silently
//! ignored would be a lost choice. Coordinates are pixels of the oriented sheet, origin top left.

use serde_json::{Map, Value, json};

use crate::error::{Error, Kind, Result};
use crate::matte::island::Decision;

/// The version of recipes that is written and read.
pub const VERSION: u64 = 1;

/// Every choice that a person can make.
#[derive(Clone, Debug, PartialEq)]
pub struct Recipe {
    /// What of the file is worked on, and how large it is.
    pub scan: OfScan,
    /// 0..100 in units of measured noise; higher keeps less.
    pub tolerance: f64,
    /// The paper's color in 8-bit counts, or measured.
    pub paper: Option<[u8; 3]>,
    /// Edge softness, 0..100; 50 is as scanned.
    pub soft: f64,
    /// Rim removal, 0..100.
    pub rim: f64,
    /// Body, 0..100.
    pub body: f64,
    /// What is done with islands that nobody decided.
    pub islands: Islands,
    /// What the painter decided for the island at a pixel, or where there is none for the piece, in the order given; the last word
    /// counts.
    pub decided: Vec<Decided>,
    /// What is cleared from bare paper.
    pub tidy: Tidy,
    /// Strokes, in the order given; a later one covers an earlier.
    pub strokes: Vec<Stroke>,
    /// Left, top, width and height of the part that is saved; all of it if absent.
    pub trim: Option<[u32; 4]>,
}

/// What the painter said about the scan itself.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OfScan {
    /// The page of a file of several, counted from 1; the largest if absent.
    pub page: Option<u32>,
    /// Pixels per inch, 10..20000, where the file gives none or wrong ones; what the file says if absent.
    pub ppi: Option<f64>,
}

/// The least and most pixels per inch that can be stated.
pub const PPI: [f64; 2] = [10.0, 20_000.0];
/// Pages that can be named, at most.
const MOST_PAGES: u64 = 1_000_000;

/// What is done with islands that nobody decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Islands {
    /// What is proposed for each.
    Propose,
    /// All stay.
    Keep,
    /// All go.
    Clear,
}

/// One decision about an island, or about a piece that lies apart from the painting or hangs on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Decided {
    /// A pixel in it.
    pub at: [u32; 2],
    /// What to do with it.
    pub decision: Decision,
}

impl Decided {
    /// Its pixel on a sheet, so many of whose pixels are one of the recipe's.
    pub(super) fn on(&self, scale: f64) -> [usize; 2] {
        self.at.map(|v| (f64::from(v) * scale) as usize)
    }
}

/// What is cleared from bare paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tidy {
    /// Specks up to this diameter in millimeters, 0..10.
    pub specks_mm: f64,
    /// Hairs and fibers.
    pub hairs: Decision,
    /// Pencil that belongs to the painting.
    pub pencil: Decision,
    /// Faint stains and stray streaks.
    pub stains: Decision,
    /// What lies beyond the sheet's edge.
    pub sheet_edge: Decision,
}

/// A stroke by hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// What it does.
    pub decision: Decision,
    /// Its radius in pixels, 0.5..2000.
    pub radius: f64,
    /// The points it goes through.
    pub path: Vec<[f64; 2]>,
}

impl Default for Recipe {
    fn default() -> Self {
        Self {
            scan: OfScan::default(),
            tolerance: 50.0,
            paper: None,
            soft: 50.0,
            rim: 100.0,
            body: 100.0,
            islands: Islands::Propose,
            decided: Vec::new(),
            tidy: Tidy {
                specks_mm: 0.8,
                hairs: Decision::Clear,
                pencil: Decision::Keep,
                stains: Decision::Clear,
                sheet_edge: Decision::Clear,
            },
            strokes: Vec::new(),
            trim: None,
        }
    }
}

impl Recipe {
    /// Reads a recipe.
    ///
    /// # Errors
    /// [`Kind::Parameter`], naming the key, when it is no JSON, has an unknown key, or a value out of range.
    pub fn from_json(text: &str) -> Result<Self> {
        let value: Value = serde_json::from_str(text).map_err(|e| {
            wrong(format!(
                "The recipe is not readable as JSON ({e}). Open it in a text editor and mend it, or start from a new one."
            ))
        })?;
        let mut top = Keys::of(&value, "")?;
        let mut recipe = Self::default();
        let version = top
            .take("barewash")
            .ok_or_else(|| wrong("The recipe lacks the key \"barewash\": 1, so it may belong to something else."))?;
        if version.as_u64() != Some(VERSION) {
            return Err(wrong(format!("The recipe's \"barewash\" is {version}; this version reads 1. Use a newer barewash.")));
        }
        top.number("tolerance", 0.0, 100.0, &mut recipe.tolerance)?;
        top.number("body", 0.0, 100.0, &mut recipe.body)?;
        let mut straighten = 0.0;
        top.number("straighten", -45.0, 45.0, &mut straighten)?;
        if straighten != 0.0 {
            return Err(wrong(
                "The recipe's \"straighten\" is not 0, which this version cannot do yet. Lay the sheet straight on the glass, or turn the scan first.",
            ));
        }
        if let Some(value) = top.take("scan") {
            recipe.scan = OfScan::read(&value)?;
        }
        if let Some(value) = top.take("paper") {
            let mut keys = Keys::of(&value, "paper.")?;
            if let Some(color) = keys.take("color")
                && color != "auto"
            {
                recipe.paper =
                    Some(whole(&color, "paper.color", 255, "\"auto\" or three whole numbers of 0 to 255")?.map(|v| v as u8));
            }
            keys.end()?;
        }
        if let Some(value) = top.take("edge") {
            let mut keys = Keys::of(&value, "edge.")?;
            keys.number("soft", 0.0, 100.0, &mut recipe.soft)?;
            keys.number("rim", 0.0, 100.0, &mut recipe.rim)?;
            keys.end()?;
        }
        if let Some(value) = top.take("islands") {
            recipe.read_islands(&value)?;
        }
        if let Some(value) = top.take("tidy") {
            let mut keys = Keys::of(&value, "tidy.")?;
            keys.number("specks_mm", 0.0, 10.0, &mut recipe.tidy.specks_mm)?;
            keys.decision("hairs", &mut recipe.tidy.hairs)?;
            keys.decision("pencil", &mut recipe.tidy.pencil)?;
            keys.decision("stains", &mut recipe.tidy.stains)?;
            keys.decision("sheet_edge", &mut recipe.tidy.sheet_edge)?;
            keys.end()?;
        }
        if let Some(value) = top.take("strokes") {
            for (i, value) in list(&value, "strokes")?.iter().enumerate() {
                recipe.strokes.push(Stroke::read(value, &format!("strokes[{i}]."))?);
            }
        }
        if let Some(value) = top.take("trim").filter(|v| !v.is_null()) {
            let trim = whole(&value, "trim", 1_000_000, "null or [left, top, width, height] in whole pixels")?;
            if trim[2] == 0 || trim[3] == 0 {
                return Err(wrong("The recipe's \"trim\" has no area. Give a width and a height of at least 1 pixel."));
            }
            recipe.trim = Some(trim);
        }
        top.end()?;
        Ok(recipe)
    }

    fn read_islands(&mut self, value: &Value) -> Result<()> {
        let mut keys = Keys::of(value, "islands.")?;
        if let Some(value) = keys.take("default") {
            self.islands = match value.as_str() {
                Some("propose") => Islands::Propose,
                Some("keep") => Islands::Keep,
                Some("clear") => Islands::Clear,
                _ => {
                    return Err(wrong(format!(
                        "The recipe's \"islands.default\" is {value}. It can be \"propose\", \"keep\" or \"clear\"."
                    )));
                }
            };
        }
        if let Some(value) = keys.take("decided") {
            for (i, value) in list(&value, "islands.decided")?.iter().enumerate() {
                let name = format!("islands.decided[{i}].");
                let mut entry = Keys::of(value, &name)?;
                let at = entry
                    .take("at")
                    .ok_or_else(|| wrong(format!("The recipe's \"{name}at\" is missing. Give a pixel as [x, y].")))?;
                let at = whole(&at, &format!("{name}at"), 1_000_000, "a pixel as [x, y] in whole numbers")?;
                let mut decision = None;
                entry.decision_or("do", &mut decision)?;
                entry.end()?;
                let decision = decision
                    .ok_or_else(|| wrong(format!("The recipe's \"{name}do\" is missing. It can be \"keep\" or \"clear\".")))?;
                self.decided.push(Decided { at, decision });
            }
        }
        keys.end()
    }

    /// The recipe with all its keys.
    #[must_use]
    pub fn to_json(&self) -> Value {
        let islands = match self.islands {
            Islands::Propose => "propose",
            Islands::Keep => "keep",
            Islands::Clear => "clear",
        };
        let decided: Vec<Value> = self.decided.iter().map(|d| json!({ "at": d.at, "do": d.decision.name() })).collect();
        let strokes: Vec<Value> =
            self.strokes.iter().map(|s| json!({ "do": s.decision.name(), "radius": s.radius, "path": s.path })).collect();
        json!({
            "barewash": VERSION,
            "scan": { "page": self.scan.page, "ppi": self.scan.ppi },
            "tolerance": self.tolerance,
            "paper": { "color": self.paper.map_or(json!("auto"), |c| json!(c)) },
            "edge": { "soft": self.soft, "rim": self.rim },
            "body": self.body,
            "islands": { "default": islands, "decided": decided },
            "tidy": {
                "specks_mm": self.tidy.specks_mm,
                "hairs": self.tidy.hairs.name(),
                "pencil": self.tidy.pencil.name(),
                "stains": self.tidy.stains.name(),
                "sheet_edge": self.tidy.sheet_edge.name(),
            },
            "strokes": strokes,
            "straighten": 0.0,
            "trim": self.trim,
        })
    }
}

impl OfScan {
    fn read(value: &Value) -> Result<Self> {
        let mut keys = Keys::of(value, "scan.")?;
        let page = keys.take("page").filter(|v| !v.is_null()).map(|value| {
            let page = value.as_u64().filter(|page| (1..=MOST_PAGES).contains(page));
            let why = || wrong(format!("The recipe's \"scan.page\" is {value}. It can be null or a whole number from 1."));
            page.map(|page| page as u32).ok_or_else(why)
        });
        let ppi = keys.take("ppi").filter(|v| !v.is_null()).map(|value| {
            let [low, high] = PPI;
            let why = || wrong(format!("The recipe's \"scan.ppi\" is {value}. It can be null or a number from {low} to {high}."));
            value.as_f64().filter(|v| (low..=high).contains(v)).ok_or_else(why)
        });
        keys.end()?;
        Ok(Self { page: page.transpose()?, ppi: ppi.transpose()? })
    }
}

impl Stroke {
    fn read(value: &Value, name: &str) -> Result<Self> {
        let mut keys = Keys::of(value, name)?;
        let mut decision = None;
        keys.decision_or("do", &mut decision)?;
        let mut radius = 6.0;
        keys.number("radius", 0.5, 2000.0, &mut radius)?;
        let path = keys
            .take("path")
            .ok_or_else(|| wrong(format!("The recipe's \"{name}path\" is missing. Give points as [[x, y], ...].")))?;
        keys.end()?;
        let mut points = Vec::new();
        for (i, point) in list(&path, &format!("{name}path"))?.iter().enumerate() {
            let pair = point.as_array().filter(|p| p.len() == 2).and_then(|p| Some([p[0].as_f64()?, p[1].as_f64()?]));
            points.push(
                pair.ok_or_else(|| wrong(format!("The recipe's \"{name}path[{i}]\" is {point}. Give a point as [x, y].")))?,
            );
        }
        let decision =
            decision.ok_or_else(|| wrong(format!("The recipe's \"{name}do\" is missing. It can be \"keep\" or \"clear\".")))?;
        Ok(Self { decision, radius, path: points })
    }
}

/// The keys of one object, taken one by one so that what is left over can be named.
struct Keys {
    map: Map<String, Value>,
    name: String,
}

impl Keys {
    fn of(value: &Value, name: &str) -> Result<Self> {
        let shown = name.trim_end_matches('.');
        let map = value.as_object().ok_or_else(|| {
            if shown.is_empty() {
                wrong("The recipe must be an object in braces, such as { \"barewash\": 1 }.")
            } else {
                wrong(format!("The recipe's \"{shown}\" is {value}. It must be an object in braces."))
            }
        })?;
        Ok(Self { map: map.clone(), name: name.to_owned() })
    }

    fn take(&mut self, key: &str) -> Option<Value> {
        self.map.remove(key)
    }

    fn number(&mut self, key: &str, low: f64, high: f64, out: &mut f64) -> Result<()> {
        if let Some(value) = self.take(key) {
            *out = value.as_f64().filter(|v| (low..=high).contains(v)).ok_or_else(|| {
                wrong(format!("The recipe's \"{}{key}\" is {value}. It can be a number from {low} to {high}.", self.name))
            })?;
        }
        Ok(())
    }

    fn decision_or(&mut self, key: &str, out: &mut Option<Decision>) -> Result<()> {
        if let Some(value) = self.take(key) {
            *out = Some(match value.as_str() {
                Some("keep") => Decision::Keep,
                Some("clear") => Decision::Clear,
                Some("mend") => {
                    return Err(wrong(format!(
                        "The recipe's \"{}{key}\" is \"mend\", which this version cannot do yet. Use \"keep\" or \"clear\".",
                        self.name
                    )));
                }
                _ => {
                    return Err(wrong(format!(
                        "The recipe's \"{}{key}\" is {value}. It can be \"keep\" or \"clear\".",
                        self.name
                    )));
                }
            });
        }
        Ok(())
    }

    fn decision(&mut self, key: &str, out: &mut Decision) -> Result<()> {
        let mut found = None;
        self.decision_or(key, &mut found)?;
        *out = found.unwrap_or(*out);
        Ok(())
    }

    fn end(self) -> Result<()> {
        self.map.keys().next().map_or(Ok(()), |key| {
            Err(wrong(format!(
                "The recipe has a key \"{}{key}\" that is not known. Check its spelling or take it out.",
                self.name
            )))
        })
    }
}

fn list<'a>(value: &'a Value, name: &str) -> Result<&'a Vec<Value>> {
    value.as_array().ok_or_else(|| wrong(format!("The recipe's \"{name}\" is {value}. It must be a list in brackets.")))
}

fn whole<const N: usize>(value: &Value, name: &str, most: u64, wanted: &str) -> Result<[u32; N]> {
    let numbers: Option<Vec<u32>> =
        value.as_array().and_then(|list| list.iter().map(|v| v.as_u64().filter(|v| *v <= most).map(|v| v as u32)).collect());
    numbers
        .and_then(|v| v.try_into().ok())
        .ok_or_else(|| wrong(format!("The recipe's \"{name}\" is {value}. It can be {wanted}.")))
}

fn wrong(message: impl Into<String>) -> Error {
    Error::new(Kind::Parameter, message)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_survive_a_round_trip() {
        let recipe = Recipe::from_json(r#"{ "barewash": 1 }"#).unwrap();
        assert_eq!(recipe, Recipe::default());
        assert_eq!(Recipe::from_json(&recipe.to_json().to_string()).unwrap(), recipe);
    }

    #[test]
    fn every_key_survives_a_round_trip() {
        let text = r#"{ "barewash": 1, "scan": { "page": 3, "ppi": 299.5 }, "tolerance": 61.5, "paper": { "color": [244, 240, 231] },
            "edge": { "soft": 30, "rim": 80 }, "body": 25,
            "islands": { "default": "keep", "decided": [ { "at": [812, 640], "do": "clear" } ] },
            "tidy": { "specks_mm": 1.2, "hairs": "keep", "pencil": "clear", "stains": "keep", "sheet_edge": "keep" },
            "strokes": [ { "do": "clear", "radius": 6, "path": [[10, 10], [40, 12]] } ],
            "straighten": 0, "trim": [10, 20, 300, 400] }"#;
        let recipe = Recipe::from_json(text).unwrap();
        assert_eq!(recipe.trim, Some([10, 20, 300, 400]));
        assert_eq!(recipe.scan, OfScan { page: Some(3), ppi: Some(299.5) });
        assert_eq!(recipe.paper, Some([244, 240, 231]));
        assert_eq!(Recipe::from_json(&recipe.to_json().to_string()).unwrap(), recipe);
    }

    #[test]
    fn errors_name_the_key() {
        for (text, named) in [
            ("{", "JSON"),
            ("[]", "object"),
            ("{}", "\"barewash\""),
            (r#"{ "barewash": 2 }"#, "reads 1"),
            (r#"{ "barewash": 1, "tolerence": 50 }"#, "\"tolerence\""),
            (r#"{ "barewash": 1, "tolerance": 101 }"#, "\"tolerance\""),
            (r#"{ "barewash": 1, "tolerance": "50" }"#, "\"tolerance\""),
            (r#"{ "barewash": 1, "scan": { "page": 0 } }"#, "\"scan.page\""),
            (r#"{ "barewash": 1, "scan": { "page": 1.5 } }"#, "\"scan.page\""),
            (r#"{ "barewash": 1, "scan": { "ppi": 9 } }"#, "\"scan.ppi\""),
            (r#"{ "barewash": 1, "scan": { "ppi": "300" } }"#, "\"scan.ppi\""),
            (r#"{ "barewash": 1, "scan": { "pages": 2 } }"#, "\"scan.pages\""),
            (r#"{ "barewash": 1, "edge": { "hard": 1 } }"#, "\"edge.hard\""),
            (r#"{ "barewash": 1, "edge": 5 }"#, "\"edge\""),
            (r#"{ "barewash": 1, "paper": { "color": [1, 2] } }"#, "\"paper.color\""),
            (r#"{ "barewash": 1, "paper": { "color": [1, 2, 256] } }"#, "\"paper.color\""),
            (r#"{ "barewash": 1, "islands": { "default": "drop" } }"#, "\"islands.default\""),
            (r#"{ "barewash": 1, "islands": { "decided": [ { "do": "keep" } ] } }"#, "\"islands.decided[0].at\""),
            (r#"{ "barewash": 1, "islands": { "decided": [ { "at": [1, 2] } ] } }"#, "\"islands.decided[0].do\""),
            (r#"{ "barewash": 1, "strokes": [ { "do": "keep", "path": [[1]] } ] }"#, "\"strokes[0].path[0]\""),
            (r#"{ "barewash": 1, "strokes": [ { "do": "mend", "path": [] } ] }"#, "\"strokes[0].do\""),
            (r#"{ "barewash": 1, "trim": [1, 2, 0, 4] }"#, "\"trim\""),
            (r#"{ "barewash": 1, "straighten": 1.5 }"#, "\"straighten\""),
            (r#"{ "barewash": 1, "straighten": 50 }"#, "\"straighten\""),
            (r#"{ "barewash": 1, "tidy": { "hairs": true } }"#, "\"tidy.hairs\""),
        ] {
            let error = Recipe::from_json(text).unwrap_err();
            assert_eq!(error.kind(), Kind::Parameter);
            assert!(error.message().contains(named), "{text}: {error}");
        }
    }
}
