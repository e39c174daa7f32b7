//! A sheet and a recipe give the art.

mod lift;
pub mod recipe;
mod report;
mod session;

pub use lift::{Lift, Stage};
pub use recipe::Recipe;
pub use report::{islands, report};
pub use session::{Ground, Session, View};
