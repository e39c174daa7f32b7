//! A scan being worked on: the full lift, and beside it the lift of a reduced copy that answers while a dial moves.

use std::rc::Rc;

use serde_json::{Value, json};

use super::recipe::{Decided, OfScan};
use super::{Lift, Recipe, Saving, Stage, islands, recipe, report};
use crate::decode::{self, Scan};
use crate::encode::Writer;
use crate::error::{Error, Kind, Result, Warning};
use crate::foreground::RowSource;
use crate::image::Sheet;
use crate::matte::island::Decision;
use crate::units::Ppi;

mod view;

pub use view::{Ground, View};

/// Pixels of the reduced copy, at most: what can be lifted again while a dial moves.
const PREVIEW_PIXELS: usize = 260_000;

/// A scan, its recipe, and what is known of its art.
#[derive(Debug)]
pub struct Session {
    format: &'static str,
    profile: Option<String>,
    pages: usize,
    page: usize,
    warnings: Vec<Warning>,
    /// What the file says of its resolution.
    stated: Option<Ppi>,
    /// What was said beside the recipe, and belongs to it where it says nothing else.
    said: OfScan,
    full: Lift,
    /// A reduced copy, once it is asked for, and how many sheet pixels make one of its own along a side; none of a small sheet.
    preview: Option<(Lift, usize)>,
}

impl Session {
    /// Reads a scan; of a file with several pages the largest. Nothing is lifted yet.
    ///
    /// # Errors
    /// When the file cannot be read: [`decode::read`].
    pub fn open(file: &[u8]) -> Result<Self> {
        Self::open_page(file, None)
    }

    /// Reads a page of a scan, counted from 0; without a number the largest.
    ///
    /// # Errors
    /// When the file cannot be read, or has no such page: [`decode::read_page`].
    pub fn open_page(file: &[u8], asked: Option<usize>) -> Result<Self> {
        let Scan { sheet, format, profile, pages, page, warnings } = decode::read_page(file, asked)?;
        let (format, stated) = (format.name(), sheet.ppi());
        let said = OfScan { page: asked.map(|_| page as u32 + 1), ppi: None };
        let full = Lift::new(Rc::new(sheet));
        let mut session = Self { format, profile, pages, page, warnings, stated, said, full, preview: None };
        session.set_recipe(Recipe::default())?;
        Ok(session)
    }

    /// What the file said.
    #[must_use]
    pub fn about(&self) -> Value {
        let sheet = self.full.sheet();
        // What is wrong with the file's resolution is of no concern once the painter has stated it.
        let stated = self.recipe().scan.ppi.is_some();
        let warnings = self.warnings.iter().filter(|w| !(stated && w.code.ends_with("-ppi")));
        let warnings: Vec<Value> = warnings.map(|w| json!({ "code": w.code, "message": w.message })).collect();
        json!({
            "width": sheet.width(),
            "height": sheet.height(),
            "bits": sheet.bits(),
            "ppi": sheet.ppi().map(|p| p.0),
            "format": self.format,
            "profile": self.profile,
            "pages": self.pages,
            "page": self.page,
            "warnings": warnings,
        })
    }

    /// States the resolution where the file did not, or wrongly; 10..20000 pixels an inch. The recipe keeps it.
    ///
    /// # Errors
    /// [`Kind::Parameter`] outside that range.
    pub fn set_ppi(&mut self, ppi: f64) -> Result<()> {
        let [low, high] = recipe::PPI;
        if !(low..=high).contains(&ppi) {
            return Err(Error::new(Kind::Parameter, format!("{ppi} ppi is not a scan's resolution. Give {low} to {high}.")));
        }
        let mut recipe = self.recipe().clone();
        recipe.scan.ppi = Some(ppi);
        self.set_recipe(recipe)?;
        self.said.ppi = Some(ppi);
        Ok(())
    }

    /// The recipe.
    #[must_use]
    pub fn recipe(&self) -> &Recipe {
        self.full.recipe()
    }

    /// Takes another recipe; what it leaves valid is kept. A page or resolution that was asked for beside it is added where it
    /// names none.
    ///
    /// # Errors
    /// When it is for another page, its trim lies outside the sheet, or there is no memory.
    pub fn set_recipe(&mut self, mut recipe: Recipe) -> Result<()> {
        let open = self.page as u32 + 1;
        let OfScan { page, ppi } = recipe.scan;
        recipe.scan = OfScan { page: page.or(self.said.page), ppi: ppi.or(self.said.ppi) };
        if let Some(page) = recipe.scan.page.filter(|page| *page != open) {
            return Err(Error::new(
                Kind::Parameter,
                format!("The recipe is for page {page} of the scan, and page {open} is open. Open page {page} first."),
            ));
        }
        if let Some([x, y, w, h]) = recipe.trim {
            let (width, height) = (self.full.sheet().width() as u64, self.full.sheet().height() as u64);
            if u64::from(x) + u64::from(w) > width || u64::from(y) + u64::from(h) > height {
                return Err(Error::new(
                    Kind::Parameter,
                    format!("The recipe's \"trim\" reaches beyond the sheet, which is {width} by {height} pixels."),
                ));
            }
        }
        let ppi = recipe.scan.ppi.map(Ppi).or(self.stated);
        if ppi != self.full.sheet().ppi() {
            self.full.set_ppi(ppi);
            if let Some((lift, factor)) = &mut self.preview {
                lift.set_ppi(ppi.map(|ppi| Ppi(ppi.0 / *factor as f64)));
            }
        }
        self.full.set_recipe(recipe);
        self.agree();
        Ok(())
    }

    /// Lifts the reduced copy by the present recipe. A sheet too small to have one is lifted whole.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn lift_preview(&mut self) -> Result<()> {
        if self.preview.is_none() {
            self.preview = reduced(self.full.sheet())?;
            self.agree();
        }
        match &mut self.preview {
            // What it shows is up to date, and may be the full lift's.
            Some((lift, _)) if lift.finished() => Ok(()),
            Some((lift, _)) => {
                lift.finish()?;
                self.show_from_afar()
            }
            None => self.full.finish(),
        }
    }

    /// Advances the full lift by a short piece and says how far it is, 0..1.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn step(&mut self) -> Result<f32> {
        let was_finished = self.full.finished();
        let done = self.full.step()?;
        if !was_finished {
            self.show_from_afar()?;
        }
        Ok(done)
    }

    /// Has the reduced copy keep and clear the same islands as the full lift, as far as that knows them.
    fn agree(&mut self) {
        let Some((lift, _)) = &mut self.preview else { return };
        let mut islands = self.full.islands();
        let mut recipe = self.full.recipe().clone();
        if !islands.is_empty() {
            // Small ones may fall together at the copy's size: the largest has the last word.
            islands.sort_by_key(|(index, island, ..)| (island.pixels, *index));
            let decided =
                islands.into_iter().map(|(_, island, decision, _)| Decided { at: island.at.map(|v| v as u32), decision });
            recipe.decided.extend(decided);
        }
        lift.set_recipe(recipe);
    }

    /// Lays the full lift's matte on the reduced copy, which is seen from afar, once both are there. Nobody may ever look from
    /// afar: a copy that was not lifted waits until it is asked for.
    fn show_from_afar(&mut self) -> Result<()> {
        match &mut self.preview {
            Some((lift, factor)) if lift.finished() && self.full.finished() => lift.take_matte(&self.full, *factor),
            _ => Ok(()),
        }
    }

    /// What the full lift is at.
    #[must_use]
    pub fn stage(&self) -> Stage {
        self.full.stage()
    }

    /// Whether the full lift is up to date with the recipe.
    #[must_use]
    pub fn finished(&self) -> bool {
        self.full.finished()
    }

    /// The full lift.
    #[must_use]
    pub fn full(&self) -> &Lift {
        &self.full
    }

    /// The islands of the full lift.
    #[must_use]
    pub fn islands(&self) -> Value {
        islands(&self.full)
    }

    /// What the painter points at with a pixel of the sheet, if it is a piece of the full lift, up to `reach` pixels away, and no
    /// island; `null` otherwise.
    #[must_use]
    pub fn piece_at(&self, x: usize, y: usize, reach: usize) -> Value {
        let pointed = self.full.piece_at(x, y, reach);
        pointed.map_or(Value::Null, |p| {
            let decision = if p.cleared { Decision::Clear } else { Decision::Keep };
            json!({ "at": p.at, "decision": decision.name(), "follow": p.follow })
        })
    }

    /// What the file said and what the lift found.
    #[must_use]
    pub fn report(&self) -> Value {
        let mut out = report(&self.full);
        let about = self.about();
        for key in ["format", "profile", "warnings"] {
            out[key] = about[key].clone();
        }
        if self.pages > 1 {
            out["page"] = json!(self.page + 1);
            out["pages"] = json!(self.pages);
        }
        out
    }

    /// Refuses what [`Self::save`] would: a lift takes long, and this no time.
    ///
    /// # Errors
    /// [`Kind::Parameter`] for bits that the format has not, or a text that no file can hold, [`Kind::Limit`] for a picture beyond
    /// the format, trimmed as the recipe says.
    pub fn check_saving(&self, saving: &Saving) -> Result<()> {
        let [_, _, width, height] = self.full.trimmed();
        saving.format.samples(width, height, saving.bits)?;
        saving.imprint(None).check()
    }

    /// The art as a file, trimmed as the recipe says; the lift is finished first.
    ///
    /// # Errors
    /// Those of [`Self::check_saving`], and [`Kind::Limit`] when there is no memory.
    pub fn save(&mut self, saving: &Saving) -> Result<Vec<u8>> {
        self.check_saving(saving)?;
        let bits = saving.bits;
        let [left, top, width, height] = self.full.trimmed();
        self.full.finish()?;
        let sheet = Rc::clone(self.full.sheet());
        let mut writer = Writer::new(saving.format, width, height, bits, &saving.imprint(sheet.ppi()))?;
        let Some(field) = self.full.field() else {
            return Err(Error::new(Kind::Cancelled, "The painting is not lifted yet. Wait until it is, then save."));
        };
        let mut source = RowSource::new(&sheet, field);
        let mut row8 = vec![0_u8; sheet.width() * 4];
        let mut row16 = vec![0_u16; if bits == 16 { sheet.width() * 4 } else { 0 }];
        let mut bytes = Vec::new();
        for y in top..top + height {
            if bits == 16 {
                self.full.row16(&mut source, y, &mut row16);
                bytes.clear();
                bytes.extend(row16[left * 4..(left + width) * 4].iter().flat_map(|v| v.to_be_bytes()));
                writer.write_rows(&bytes)?;
            } else {
                self.full.row8(&mut source, y, 0, &mut row8);
                writer.write_rows(&row8[left * 4..(left + width) * 4])?;
            }
        }
        writer.finish()
    }
}

/// A copy small enough to lift while a dial moves, by whole numbers of pixels.
fn reduced(sheet: &Sheet) -> Result<Option<(Lift, usize)>> {
    let mut factor = 1;
    while (sheet.width() / factor) * (sheet.height() / factor) > PREVIEW_PIXELS {
        factor += 1;
    }
    // A sheet narrower than the factor has no reduced copy.
    if factor == 1 || factor > sheet.width().min(sheet.height()) {
        return Ok(None);
    }
    let small = sheet.reduced(factor)?;
    Ok(Some((Lift::scaled(Rc::new(small), 1.0 / factor as f64), factor)))
}
