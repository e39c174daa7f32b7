//! Painted sheets.
//!
//! `truth`: a random composition of every element and every mark, for tests. `tidepool`: the demonstration sheet, a
//! tide-pool study by the fictional studio Saltmarsh Row.

pub mod tidepool;
pub mod truth;
