//! A sheet and a recipe give the art.

mod lift;
pub mod recipe;
mod report;
mod saving;
mod session;

pub use lift::{Lift, Stage};
pub use recipe::Recipe;
pub use report::{islands, report};
pub use saving::Saving;
pub use session::{Ground, Session, View};
