//! Where pixels lie: turning a scan upright.

pub mod orient;
