//! How the art is saved, as JSON: format, depth, and what is written beside the pixels.
//!
//! This is no part of the recipe: it changes nothing of the art. As there, an absent key takes its default and an unknown one is
//! refused by name.

use serde_json::Value;

use crate::encode::{Format, Imprint};
use crate::error::{Error, Kind, Result};
use crate::units::Ppi;

/// How the art is saved. The resolution is the sheet's own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Saving {
    /// The file's format.
    pub format: Format,
    /// Bits a channel: 8 or 16, in a WebP 8.
    pub bits: u8,
    /// Title of the painting.
    pub title: Option<String>,
    /// The painter's name.
    pub artist: Option<String>,
    /// Copyright notice.
    pub copyright: Option<String>,
    /// Whether the ICC profile of sRGB is embedded.
    pub profile: bool,
}

impl Default for Saving {
    fn default() -> Self {
        Self { format: Format::Png, bits: 8, title: None, artist: None, copyright: None, profile: false }
    }
}

impl Saving {
    /// Reads choices such as `{ "format": "tiff", "bits": 16, "title": "Tide pool", "artist": null, "profile": true }`. An absent key, a
    /// `null` and a text of nothing but spaces stand for the default.
    ///
    /// # Errors
    /// [`Kind::Parameter`], naming the key, when it is no JSON, has an unknown key, or a value that cannot be.
    pub fn from_json(text: &str) -> Result<Self> {
        let value: Value = serde_json::from_str(text).map_err(|e| {
            wrong(format!("The choices for saving are not readable as JSON ({e}). Mend them, or leave them out."))
        })?;
        let Value::Object(keys) = value else {
            return Err(wrong("The choices for saving must be an object in braces, such as { \"format\": \"png\" }."));
        };
        let mut saving = Self::default();
        for (key, value) in keys.iter().filter(|(_, value)| !value.is_null()) {
            match key.as_str() {
                "format" => saving.format = value.as_str().and_then(format_of).ok_or_else(|| refused(key, value, FORMATS))?,
                "bits" => {
                    saving.bits = match value.as_u64() {
                        Some(8) => 8,
                        Some(16) => 16,
                        _ => return Err(refused(key, value, "8 or 16")),
                    }
                }
                "title" => saving.title = text_of(key, value)?,
                "artist" => saving.artist = text_of(key, value)?,
                "copyright" => saving.copyright = text_of(key, value)?,
                "profile" => saving.profile = value.as_bool().ok_or_else(|| refused(key, value, "true or false"))?,
                _ => {}
            }
        }
        if let Some(key) = keys.keys().find(|key| !KEYS.contains(&key.as_str())) {
            return Err(wrong(format!("Saving has no choice \"{key}\". Check its spelling or take it out.")));
        }
        saving.format.check_bits(saving.bits)?;
        saving.imprint(None).check()?;
        Ok(saving)
    }

    /// What is written beside the pixels of a picture of this resolution.
    pub(super) fn imprint(&self, ppi: Option<Ppi>) -> Imprint {
        let Self { title, artist, copyright, profile, .. } = self.clone();
        Imprint { ppi, title, artist, copyright, profile }
    }
}

const KEYS: [&str; 6] = ["format", "bits", "title", "artist", "copyright", "profile"];
const FORMATS: &str = "\"png\", \"tiff\" or \"webp\"";

fn format_of(name: &str) -> Option<Format> {
    match name {
        "png" => Some(Format::Png),
        "tiff" => Some(Format::Tiff),
        "webp" => Some(Format::Webp),
        _ => None,
    }
}

fn text_of(key: &str, value: &Value) -> Result<Option<String>> {
    let text = value.as_str().ok_or_else(|| refused(key, value, "a text in quotation marks"))?;
    Ok(Some(text.trim().to_owned()).filter(|text| !text.is_empty()))
}

fn refused(key: &str, value: &Value, wanted: &str) -> Error {
    wrong(format!("The choice \"{key}\" for saving is {value}. It can be {wanted}."))
}

fn wrong(message: impl Into<String>) -> Error {
    Error::new(Kind::Parameter, message)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_said_is_the_default() {
        for text in ["{}", r#"{ "title": "  ", "artist": null, "format": null }"#] {
            assert_eq!(Saving::from_json(text).unwrap(), Saving::default());
        }
    }

    #[test]
    fn every_key_is_read() {
        let text = r#"{ "format": "tiff", "bits": 16, "title": " Tide pool ", "artist": "Zoë", "copyright": "© 2026", "profile": true }"#;
        let some = |text: &str| Some(text.to_owned());
        let expected = Saving {
            format: Format::Tiff,
            bits: 16,
            title: some("Tide pool"),
            artist: some("Zoë"),
            copyright: some("© 2026"),
            profile: true,
        };
        assert_eq!(Saving::from_json(text).unwrap(), expected);
    }

    #[test]
    fn errors_name_the_key() {
        for (text, named) in [
            ("{", "JSON"),
            ("[]", "object"),
            (r#"{ "fromat": "png" }"#, "\"fromat\""),
            (r#"{ "depth": null }"#, "\"depth\""),
            (r#"{ "format": "PNG" }"#, "\"format\""),
            (r#"{ "format": 1 }"#, "\"format\""),
            (r#"{ "bits": 12 }"#, "\"bits\""),
            (r#"{ "bits": "8" }"#, "\"bits\""),
            (r#"{ "bits": 16, "format": "webp" }"#, "8 bits a channel, not 16"),
            (r#"{ "title": 5 }"#, "\"title\""),
            (r#"{ "artist": ["Zoë"] }"#, "\"artist\""),
            (r#"{ "copyright": "two\nlines" }"#, "\"copyright\""),
            (r#"{ "profile": "yes" }"#, "\"profile\""),
        ] {
            let error = Saving::from_json(text).unwrap_err();
            assert_eq!(error.kind(), Kind::Parameter);
            assert!(error.message().contains(named), "{text}: {error}");
        }
    }
}
