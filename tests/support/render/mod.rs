//! A scan of a painted sheet, from pigment to pixel, with the right answer beside it.
//!
//! Paper (`paper`) carries layers of pigment (`pigment`: Kubelka-Munk) laid through antialiased shapes (`raster`,
//! `stroke`, `outline`) by the strokes of `painting` and `brush`; `marks` soils the bare paper; `scanner` says how the sheet is
//! scanned and `truth` makes the scan and the truth. All in linear light until the scanner encodes. Nothing depends on
//! anything but the seed.

pub mod blur;
pub mod brush;
pub mod components;
pub mod distance;
pub mod element;
pub mod marks;
pub mod noise;
pub mod outline;
pub mod painting;
pub mod paper;
pub mod patch;
pub mod pigment;
pub mod raster;
pub mod scanner;
pub mod stroke;
pub mod truth;
