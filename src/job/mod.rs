//! The job file: what the installer wrote down.
//!
//! Text → `tree` (values with their places in the text) → readers (`decode`, and the files that
//! declare the records) → [`Job`], checked as a whole by `checks`. What was typed is kept by
//! [`Document`]; what is wrong with it is shown by [`JobErrors`].

mod checks;
mod decode;
mod document;
mod field_book;
pub mod model;
mod place;
mod problem;
mod quantity;
pub mod reference;
mod seen;
mod site;
mod soil;
mod tree;
mod works;

pub use document::{Document, LARGEST, PathError};
pub use model::*;
pub use problem::{JobErrors, Problem, SHOWN};
