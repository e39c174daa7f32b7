//! A tide-pool study by the fictional studio Saltmarsh Row: shells, a crab, weed, a sea star, sea-glass.
//!
//! One file a subject; `kit` holds what they share; `plate` composes the sheet and the three small studies.

mod crab;
mod glass;
mod grass;
mod kit;
mod limpet;
mod palette;
mod pebble;
mod plate;
mod scallop;
mod spire;
mod star;
mod wrack;

pub use plate::{Study, demo_sheet, study};
