//! PDF as scanner software writes it: every page one picture, or strips of one. The `hayro-syntax` crate reads the objects of the file;
//! what lies on a page and how its picture is stored is read here, after ISO 32000-1.
//!
//! Nothing is drawn: the samples of the picture are the scan, and the page says only how large it is and which way up.

mod colors;
mod content;
mod filters;
mod picture;
mod place;
mod predictor;
mod screen;

use std::rc::Rc;

use hayro_syntax::page::Page;
use hayro_syntax::{DecryptionError, LoadPdfError, Pdf};

use super::lay::{Sample, transparency};
use super::{Format, Stored, damaged, limits, no_such_page, one_of_many};
use crate::error::{Error, Kind, Result, Warning, zeroed};
use crate::image::Samples;
use picture::Picture;
use place::Place;

/// Pages that are looked at for the largest picture.
const MOST_PAGES: usize = 1000;

pub(super) fn read(bytes: &[u8], page: Option<usize>) -> Result<Stored> {
    screen::screen(bytes)?;
    let mut file = zeroed::<u8>(bytes.len(), "the PDF")?;
    file.copy_from_slice(bytes);
    let pdf = Pdf::new(Rc::new(file)).map_err(explained)?;
    let pages: &[Page<'_>] = pdf.pages();
    let mut warnings = Vec::new();
    let mut budget = content::Budget::default();
    let (page, sheet) = match page {
        Some(page) if page >= pages.len() => return Err(no_such_page(Format::Pdf, page, pages.len())),
        Some(page) => (page, Sheet::of(&pages[page], &mut budget).map_err(|why| on_page(why, page, pages.len()))?),
        None => {
            let (page, sheet) = largest(pages, &mut budget)?;
            if pages.len() > 1 {
                warnings.push(one_of_many(Format::Pdf, page, pages.len()));
            }
            (page, sheet)
        }
    };
    sheet.read(page, pages.len(), warnings)
}

/// The page with the largest picture that can be read, the first of equals; where none can be, why the first cannot.
fn largest<'a>(pages: &'a [Page<'a>], budget: &mut content::Budget) -> Result<(usize, Sheet<'a>)> {
    let mut best: Option<(usize, Sheet<'_>)> = None;
    let mut first = None;
    for (number, page) in pages.iter().enumerate().take(MOST_PAGES) {
        match Sheet::of(page, budget) {
            Ok(sheet) if best.as_ref().is_none_or(|(_, other)| sheet.pixels() > other.pixels()) => best = Some((number, sheet)),
            Ok(_) => {}
            Err(why) => {
                first.get_or_insert((number, why));
            }
        }
    }
    best.ok_or_else(|| match first {
        Some((number, why)) => on_page(why, number, pages.len()),
        None => Error::new(Kind::Unsupported, "This PDF has no pages. Scan the painting as TIFF, PNG or JPEG."),
    })
}

/// A page's picture, perhaps in strips, and how it lies.
struct Sheet<'a> {
    /// From the top of the stored picture to its bottom.
    strips: Vec<Picture<'a>>,
    place: Place,
}

impl<'a> Sheet<'a> {
    fn of(page: &'a Page<'a>, budget: &mut content::Budget) -> Result<Self> {
        let drawn = content::walk(page, budget)?;
        let mut strips = Vec::new();
        for part in drawn {
            strips.push((Picture::of(&part.stream, &part.color_spaces, part.black)?, part.matrix));
        }
        let (place, strips) = place::joined(page, strips)?;
        limits::pixels(strips[0].width as u64, strips.iter().map(|strip| strip.height as u64).sum())?;
        Ok(Self { strips, place })
    }

    fn width(&self) -> usize {
        self.strips[0].width
    }

    fn height(&self) -> usize {
        self.strips.iter().map(|strip| strip.height).sum()
    }

    fn pixels(&self) -> usize {
        self.width() * self.height()
    }

    fn read(&self, page: usize, pages: usize, mut warnings: Vec<Warning>) -> Result<Stored> {
        warnings.extend(self.place.remark());
        let (space, profile) = self.strips[0].space.ready(&mut warnings);
        let mut seen = false;
        let samples = if self.strips[0].bits > 8 {
            Samples::Sixteen(self.samples(&space, &mut seen)?)
        } else {
            Samples::Eight(self.samples(&space, &mut seen)?)
        };
        if seen {
            warnings.push(transparency());
        }
        Ok(Stored {
            width: self.width(),
            height: self.height(),
            samples,
            gray: self.strips[0].space.is_gray(),
            orientation: self.place.orientation,
            profile,
            density: self.place.density,
            pages,
            page,
            warnings,
        })
    }

    fn samples<S: Sample>(&self, space: &colors::Ready, seen: &mut bool) -> Result<Vec<S>> {
        let mut out = zeroed::<S>(self.pixels() * 3, "the scan")?;
        let mut rest = out.as_mut_slice();
        for strip in &self.strips {
            let (to, after) = rest.split_at_mut(strip.width * strip.height * 3);
            *seen |= strip.read(space, to)?;
            rest = after;
        }
        Ok(out)
    }
}

fn unsupported(what: &str) -> Error {
    Error::new(Kind::Unsupported, format!("This PDF {what}. Scan the painting as TIFF, PNG or JPEG."))
}

fn broken(why: &str) -> Error {
    damaged(Format::Pdf, &why)
}

/// Says which of several pages is meant.
fn on_page(why: Error, page: usize, pages: usize) -> Error {
    if pages == 1 {
        return why;
    }
    Error::new(why.kind(), format!("Page {} of {pages}: {}", page + 1, why.message()))
}

fn explained(why: LoadPdfError) -> Error {
    match why {
        LoadPdfError::Decryption(DecryptionError::PasswordProtected) => Error::new(
            Kind::Unsupported,
            "This PDF is locked with a password. Save it without one where it opens, or scan the painting as TIFF, PNG or JPEG.",
        ),
        LoadPdfError::Decryption(_) => unsupported("is locked in a way that is not read"),
        LoadPdfError::Invalid => broken("its pages are not found"),
    }
}
