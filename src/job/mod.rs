//! The job file: what the installer wrote down.

pub mod model;

pub use model::*;
