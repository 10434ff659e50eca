//! Level notes and tape positions → spots, closure, suspect shots.

mod reduced;

pub use reduced::*;
