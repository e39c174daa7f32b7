//! The thin face to JavaScript: the only place that knows of it. Numbers, strings and byte views go through, no more.

use wasm_bindgen::prelude::*;

use crate::error::Error;
use crate::pipeline::{self, Ground, Recipe, Saving, View};

/// Refuses what `Session.save` would refuse of its choices, before there is a scan. Throws `parameter`, naming the key.
#[wasm_bindgen]
pub fn check_saving(choices: &str) -> Result<(), JsValue> {
    Saving::from_json(choices).map(|_| ()).map_err(|e| thrown(&e))
}

/// Prints a panic's place to the console before the module stops.
#[wasm_bindgen(start)]
pub fn start() {
    console_error_panic_hook::set_once();
}

/// The module's version, as in package.json.
#[wasm_bindgen]
#[must_use]
pub fn version() -> String {
    env!("CARGO_PKG_VERSION").to_owned()
}

/// The recipe that is used when nothing is chosen, as JSON with all its keys.
#[wasm_bindgen]
#[must_use]
pub fn default_recipe() -> String {
    Recipe::default().to_json().to_string()
}

/// A JavaScript `Error` with a painter's sentence as its message and a stable `code`: `malformed`, `unsupported`,
/// `limit`, `parameter` or `cancelled`.
fn thrown(error: &Error) -> JsValue {
    let object = js_sys::Error::new(error.message());
    let set = js_sys::Reflect::set(&object, &JsValue::from_str("code"), &JsValue::from_str(error.kind().code()));
    if set.is_err() {
        web_sys::console::warn_1(&JsValue::from_str("the error's code could not be set"));
    }
    object.into()
}

/// One scan being worked on: it is read once, then lifted by one recipe after another.
///
/// Coordinates are pixels of the oriented sheet, origin top left. Methods throw an `Error` with a `code` (`malformed`,
/// `unsupported`, `limit`, `parameter`, `cancelled`) and a message for the painter; after a throw the session goes on as
/// it was.
#[wasm_bindgen]
pub struct Session {
    inner: pipeline::Session,
    shown: Vec<u8>,
}

#[wasm_bindgen]
impl Session {
    /// Reads a scan: the bytes of a TIFF, PNG, JPEG, WebP, BMP or PDF file; of several pages the one with this number, counted from 0, or
    /// the largest. Nothing is lifted yet.
    ///
    /// Throws `malformed`, `unsupported`, `limit`, or `parameter` for a page that is not there.
    #[wasm_bindgen(constructor)]
    pub fn new(file: &[u8], page: Option<usize>) -> Result<Session, JsValue> {
        let inner = pipeline::Session::open_page(file, page).map_err(|e| thrown(&e))?;
        Ok(Self { inner, shown: Vec::new() })
    }

    /// What the file said, as JSON: `{ width, height, bits, ppi: number | null, format, profile: string | null,
    /// pages, page, warnings: [{ code, message }] }`. Width and height in pixels, bits 8 or 16; of how many pages which one,
    /// counted from 0.
    #[must_use]
    pub fn about(&self) -> String {
        self.inner.about().to_string()
    }

    /// States the resolution in pixels per inch, 10..20000, where the file gave none or a wrong one. A recipe keeps it, as
    /// `scan.ppi`, that names no other.
    ///
    /// Throws `parameter`.
    pub fn set_ppi(&mut self, ppi: f64) -> Result<(), JsValue> {
        self.inner.set_ppi(ppi).map_err(|e| thrown(&e))
    }

    /// Takes a recipe as JSON; keys that are left out have their default. What it leaves valid is not done again.
    ///
    /// Throws `parameter`, naming the key.
    pub fn set_recipe(&mut self, json: &str) -> Result<(), JsValue> {
        Recipe::from_json(json).and_then(|recipe| self.inner.set_recipe(recipe)).map_err(|e| thrown(&e))
    }

    /// The recipe in use, as JSON with all its keys.
    #[must_use]
    pub fn recipe(&self) -> String {
        self.inner.recipe().to_json().to_string()
    }

    /// Lifts a reduced copy of the sheet at once, for `draw` to show until the full lift is there.
    ///
    /// Throws `limit` when there is no memory.
    pub fn preview(&mut self) -> Result<(), JsValue> {
        self.inner.lift_preview().map_err(|e| thrown(&e))
    }

    /// Advances the full lift by a short piece. Returns how far it is, 0..1, and exactly 1 when it is done.
    ///
    /// Throws `limit` when there is no memory.
    pub fn step(&mut self) -> Result<f64, JsValue> {
        self.inner.step().map(f64::from).map_err(|e| thrown(&e))
    }

    /// What the full lift is at: `paper`, `cover`, `tidy`, `edges`, or `art` when it is done.
    #[must_use]
    pub fn stage(&self) -> String {
        self.inner.stage().name().to_owned()
    }

    /// Whether the full lift is up to date with the recipe.
    #[must_use]
    pub fn finished(&self) -> bool {
        self.inner.finished()
    }

    /// The islands of the full lift as JSON, those to ask about and the biggest doubt first: `[{ index, at: [x, y],
    /// box: [x, y, width, height], area_mm2, gap: boolean, proposed: "keep" | "clear", confidence: 0.5..1, asked: boolean, decision: "keep" | "clear",
    /// decided: boolean }]`; `gap` says that its contour is open at a gap, `asked` that it is in doubt and no
    /// answer before it would settle it. Empty before the full lift has found them.
    #[must_use]
    pub fn islands(&self) -> String {
        self.inner.islands().to_string()
    }

    /// The index of the island at a pixel or within two pixels of it, or -1.
    #[must_use]
    pub fn island_at(&self, x: u32, y: u32) -> i32 {
        self.inner.full().island_at(x as usize, y as usize).map_or(-1, |i| i as i32)
    }

    /// The piece at a pixel or up to `reach` pixels away, where there is no island, as JSON: `{ at: [x, y],
    /// decision: "keep" | "clear", follow }`; what is decided at `at` is decided for it, and `follow` others would go along, were
    /// it turned over. `null` where there is none.
    #[must_use]
    pub fn piece_at(&self, x: u32, y: u32, reach: u32) -> String {
        self.inner.piece_at(x as usize, y as usize, reach as usize).to_string()
    }

    /// The outline of an island as line segments between pixel corners: x0, y0, x1, y1 repeated, in sheet pixels.
    #[must_use]
    pub fn island_outline(&self, index: u32) -> Vec<f32> {
        self.inner.full().island_outline(index as usize)
    }

    /// The bare paper as JSON: `{ color: [r, g, b], unevenness_percent, tooth_counts: [r, g, b] }` in 8-bit counts, or
    /// `null` before the full lift knows it.
    #[must_use]
    pub fn paper(&self) -> String {
        let mut report = self.inner.report();
        let tooth = report["tooth_counts"].take();
        let mut paper = report["paper"].take();
        if let Some(paper) = paper.as_object_mut() {
            paper.insert("tooth_counts".to_owned(), tooth);
        }
        paper.to_string()
    }

    /// Size, paper, tooth, islands and marks removed, as JSON.
    #[must_use]
    pub fn report(&self) -> String {
        self.inner.report().to_string()
    }

    /// Draws the art over a ground and returns a view into the module's memory: opaque RGBA on the sheet, zeros beyond
    /// it. Use or copy it before the next call. `x`, `y`: the sheet pixel at the view's top left (may lie outside);
    /// `scale`: shown pixels to one sheet pixel, above 0; `width`, `height`: shown pixels, up to 16384 each;
    /// `ground`: `#rrggbb`, `paper` (the painting's own) or `scan` (the scan itself).
    ///
    /// Throws `parameter`.
    pub fn draw(
        &mut self,
        x: f64,
        y: f64,
        scale: f64,
        width: u32,
        height: u32,
        ground: &str,
    ) -> Result<js_sys::Uint8ClampedArray, JsValue> {
        let ground = Ground::parse(ground).map_err(|e| thrown(&e))?;
        let wrong = !(scale > 0.0 && scale.is_finite() && x.is_finite() && y.is_finite()) || width.max(height) > 16_384;
        if wrong {
            let message = "The view has no size that can be drawn.";
            return Err(thrown(&Error::new(crate::error::Kind::Parameter, message)));
        }
        let view = View { x, y, scale, width: width as usize, height: height as usize };
        self.inner.draw(&view, ground, &mut self.shown);
        let memory = wasm_bindgen::memory().unchecked_into::<js_sys::WebAssembly::Memory>();
        let start = self.shown.as_ptr() as u32;
        Ok(js_sys::Uint8ClampedArray::new_with_byte_offset_and_length(&memory.buffer(), start, self.shown.len() as u32))
    }

    /// Refuses choices that `save` would refuse of this scan with this recipe, before it is lifted. `choices` are those of `save`.
    ///
    /// Throws `parameter`, naming the key, and `limit` for a picture beyond the format.
    pub fn check_saving(&self, choices: &str) -> Result<(), JsValue> {
        Saving::from_json(choices).and_then(|saving| self.inner.check_saving(&saving)).map_err(|e| thrown(&e))
    }

    /// The art as a file with straight alpha, sRGB, and the scan's resolution where that is known. Finishes the lift first where it is
    /// not. `choices`, as JSON: `{ format: "png" | "tiff" | "webp", bits: 8 | 16, title, artist, copyright: string | null, profile:
    /// boolean }`; what is left out is a PNG, 8 bits a channel, no text (each up to 2000 characters in one line), and no embedded
    /// profile of sRGB. A WebP is without loss, has 8 bits, and up to 16383 pixels along a side; a TIFF up to 4 GB.
    ///
    /// Throws `parameter`, naming the key, and `limit` for a picture beyond the format or when there is no memory.
    pub fn save(&mut self, choices: Option<String>) -> Result<Vec<u8>, JsValue> {
        let saving = choices.map_or_else(|| Ok(Saving::default()), |json| Saving::from_json(&json));
        saving.and_then(|saving| self.inner.save(&saving)).map_err(|e| thrown(&e))
    }
}
