//! Painted sheets.
//!
//! `truth`: a random composition of every element and every mark, for tests; `conditions`: the same under any conditions, with
//! `palette` and `soiling` for them. `tidepool`: the demonstration sheet, a tide-pool study by the fictional studio Saltmarsh
//! Row.

pub mod conditions;
pub mod palette;
mod soiling;
pub mod tidepool;
pub mod truth;
