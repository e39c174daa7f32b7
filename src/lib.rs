//! barewash lifts a painting off its scanned paper: a scan and a recipe give the art, and nothing else does.
//!
//! # The pipeline on one screen
//!
//! ```text
//! file ──decode──▶ Sheet        upright pixels in encoded sRGB, and how many there are to an inch
//!          paper ─▶ PaperField  what bare paper would scan as at every pixel; the tooth; the edge of the sheet
//!          matte ─▶ Evidence    how far every pixel lies off its paper, counted in the tooth's own deviations
//!                   Cover       what is painted; bare areas enclosed by paint are islands, to keep or to clear
//!         repair ─▶ (marks)     dust, hairs, pencil and stains, told from paint and taken out of the cover
//!          matte ─▶ Matte       how far a pixel is painted, 0..1: 1 inside paint, less only at edges and fades
//!     foreground ─▶ Art         the paint's own color, un-mixed from its paper, at the alpha the dials ask for
//! file ◀──encode── Art          straight-alpha PNG or TIFF of 8 or 16 bits a channel, or WebP
//! ```
//!
//! [`pipeline::Lift`] does these steps in short pieces and keeps what a changed recipe leaves valid;
//! [`pipeline::Session`] adds the file before it, a reduced copy that answers quickly, and the file after it.
//!
//! ```
//! use std::rc::Rc;
//!
//! use barewash::image::{Art, Pixels};
//! use barewash::pipeline::{Lift, Recipe};
//! use barewash::units::Ppi;
//! use barewash::{decode, encode};
//!
//! // A scan to lift: a round blue wash on warm paper with a little tooth.
//! let (width, height) = (120, 90);
//! let pixel = |i: usize| {
//!     let (x, y) = (i % width, i / width);
//!     let tooth = ((x * 7919 + y * 104_729) % 5) as u8;
//!     let painted = x.abs_diff(60).pow(2) + y.abs_diff(45).pow(2) < 25 * 25;
//!     let [r, g, b] = if painted { [70, 110, 170] } else { [240, 236, 226] };
//!     [r + tooth, g + tooth, b + tooth, 255]
//! };
//! let pixels = Pixels::Eight((0..width * height).flat_map(pixel).collect());
//! let file = encode::png::png(&Art { width, height, ppi: Some(Ppi(300.0)), pixels }, 8)?;
//!
//! // The scan and a recipe give the art.
//! let scan = decode::read(&file)?;
//! let mut lift = Lift::new(Rc::new(scan.sheet));
//! lift.set_recipe(Recipe::from_json(r#"{ "barewash": 1, "body": 100 }"#)?);
//! let art = lift.art()?;
//!
//! let Pixels::Eight(rgba) = &art.pixels else { unreachable!("art is made with 8 bits a channel") };
//! let alpha = |x: usize, y: usize| rgba[(y * width + x) * 4 + 3];
//! assert_eq!(alpha(60, 45), 255, "the wash is solid");
//! assert_eq!(alpha(10, 10), 0, "the paper is gone");
//!
//! let saved: Vec<u8> = encode::png::png(&art, 8)?;
//! assert_eq!(decode::read(&saved)?.sheet.ppi(), Some(Ppi(300.0)));
//! # Ok::<(), barewash::error::Error>(())
//! ```
//!
//! # Two kinds of values
//!
//! All blending, and so alpha, is in *encoded* sRGB, as viewers and print shops blend. Optics (blur, light absorbed) is in
//! *linear* light. Samples are numbers of 0..1 inside; reports and recipes speak in 8-bit counts of 0..255.
//!
//! # Code map
//!
//! Knowledge runs one way, from the top of this list to its end; a module uses only those above it.
//!
//! - [`error`]: what can go wrong, in a painter's words; [`units`]: ppi, millimeters and pixels that cannot be mixed up.
//! - [`image`]: the sheet, planes of one value a pixel, the art. Knows nothing of paper or paint.
//! - [`color`]: the transfer curve, Lab, CIEDE2000, embedded profiles, and the only home of transcendental functions.
//! - [`filter`]: blurs, distances, components, small linear systems. Knows no paintings.
//! - [`paper`]: the bare sheet: field, tooth, blur of the scan, edge of the sheet.
//! - [`matte`]: what is painted and how far: evidence, cover, islands, strokes, edges, thin lines, fades.
//! - [`foreground`]: from matte to art; the own-paper identity lives here.
//! - [`repair`]: marks on bare paper, told from paint.
//! - [`pipeline`]: recipe, lift, session, report.
//! - `wasm`: the thin face to JavaScript, compiled for WebAssembly only, and the only place that knows of it.
//!
//! Beside it stand [`geometry`] (turning a picture upright), [`decode`] and [`encode`] (a file a format): they know no
//! algorithm of the lift, and the lift knows no file. `DEVELOPERS.md` says why each of these things is so.

pub mod color;
pub mod decode;
pub mod encode;
pub mod error;
pub mod filter;
pub mod foreground;
pub mod geometry;
pub mod image;
pub mod learned;
pub mod matte;
pub mod paper;
pub mod pipeline;
pub mod repair;
pub mod units;
#[cfg(target_arch = "wasm32")]
pub mod wasm;
