//! Color: transfer curves, Lab, color difference, profiles, and the mathematics that gives the same bits everywhere.

pub mod ciede2000;
pub mod lab;
pub mod math;
pub mod profile;
pub mod transfer;
