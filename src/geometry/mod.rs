//! Where pixels lie: turning, straightening, cropping.

pub mod orient;
