//! What is measured on a finished plan when somebody asks: sections, distances, depths between
//! surfaces. Nothing here changes the plan. Metres.

pub mod depth;
pub mod section;
pub mod stages;
pub mod step;
pub mod tape;

pub use depth::{Depths, depths, depths_and_volumes};
pub use section::{Section, section};
pub use step::step;
pub use tape::Tape;
