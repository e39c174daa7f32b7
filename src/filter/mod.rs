//! Mathematics on planes that knows no paintings: blurs, distances, components, small linear systems.

pub mod components;
pub mod distance;
pub mod gauss;
pub mod grid;
pub mod linear;
pub mod local_max;
pub mod order;
pub mod vector;

pub use components::{Connectivity, Regions};
