//! What a file says beside its pixels: resolution, title, painter, copyright, and whether it carries a color profile.

use crate::error::{Error, Kind, Result};
use crate::units::Ppi;

/// Characters that a text may have, at most: a title or a notice, no essay.
const LONGEST: usize = 2000;

/// What is written beside the pixels, the same in every format. What is left out is not written.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Imprint {
    /// Resolution of the picture.
    pub ppi: Option<Ppi>,
    /// Title of the painting.
    pub title: Option<String>,
    /// The painter's name.
    pub artist: Option<String>,
    /// Copyright notice.
    pub copyright: Option<String>,
    /// Whether the ICC profile of sRGB is embedded. Where it is not, PNG says sRGB by a mark of its own, and what says nothing is
    /// taken as sRGB by common practice.
    pub profile: bool,
}

impl Imprint {
    /// An imprint of the resolution alone.
    #[must_use]
    pub fn of_ppi(ppi: Option<Ppi>) -> Self {
        Self { ppi, ..Self::default() }
    }

    /// Whether there is any text.
    #[must_use]
    pub fn has_text(&self) -> bool {
        self.texts().iter().any(|(_, text)| text.is_some())
    }

    /// Its texts with their names in options.
    pub(super) fn texts(&self) -> [(&'static str, Option<&str>); 3] {
        [("title", self.title.as_deref()), ("artist", self.artist.as_deref()), ("copyright", self.copyright.as_deref())]
    }

    /// Refuses texts that some format could not hold. All formats refuse the same, so that the choice of one changes nothing else.
    ///
    /// # Errors
    /// [`Kind::Parameter`], naming the text: empty, longer than 2000 characters, or with a line break or another control character.
    pub fn check(&self) -> Result<()> {
        for (name, text) in self.texts() {
            let Some(text) = text else { continue };
            let wrong = if text.trim().is_empty() {
                "is empty. Leave it out, or write something".to_owned()
            } else if text.chars().count() > LONGEST {
                format!("has {} characters. Shorten it to {LONGEST} at most", text.chars().count())
            } else if text.chars().any(char::is_control) {
                "has a line break or another control character in it. Write it in one line".to_owned()
            } else {
                continue;
            };
            return Err(Error::new(Kind::Parameter, format!("The \"{name}\" {wrong}.")));
        }
        Ok(())
    }
}
