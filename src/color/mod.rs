//! Color: transfer curves, Lab, color difference, profiles, print inks, and the mathematics that gives the same bits everywhere.

mod black;
pub mod ciede2000;
pub mod inks;
pub mod lab;
pub mod math;
pub mod profile;
pub mod srgb_profile;
mod table;
pub mod transfer;
