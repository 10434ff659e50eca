//! Ground and grading steps → surfaces, cut and fill, soil.

mod around;
pub mod assemble;
pub mod balance;
pub mod compose;
pub mod envelope;
pub mod facet;
mod grid;
mod measure;
pub mod mosaic;
mod moves;
mod near;
mod relief;
pub mod sequence;
mod sets;
pub mod watch;

pub use assemble::{Assembled, assemble};
pub use facet::{Act, Facet};
pub use mosaic::{Mosaic, Moved};
pub use relief::Relief;
