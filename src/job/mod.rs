//! The job file: what the installer wrote down.
//!
//! Text → `tree` (values with their places in the text) → readers (`decode`, and the files that
//! declare the records) → [`Job`], checked as a whole by `checks`. What was typed is kept by
//! [`Document`]; what is wrong with it is shown by [`JobErrors`].

mod as_built;
mod checks;
pub(crate) mod decode;
pub(crate) mod document;
mod field_book;
mod form;
mod haul;
pub mod materials;
pub mod model;
mod pile;
pub(crate) mod place;
mod plumbing;
pub(crate) mod problem;
mod quantity;
mod rate;
pub mod reference;
pub(crate) mod seen;
mod setting_out;
mod site;
pub(crate) mod soil;
pub(crate) mod tree;
mod works;

pub use as_built::{Against, AsBuilt, Tolerances, Visit, Walls};
pub use document::{Document, LARGEST, PathError};
pub use form::Form;
pub use haul::{Barrow, Boards, Gate, Haulage, Machine, RampSought, Steps};
pub use materials::{LayerStuff, Materials, Stuff};
pub use model::*;
pub use pile::Pile;
pub use plumbing::{Fitting, Overflow, Pipe, Plumbing, Pump};
pub use problem::{JobErrors, Problem, SHOWN};
pub use seen::{Space, Want};
pub use setting_out::SettingOut;
pub use tree::Span;
