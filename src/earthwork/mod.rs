//! Ground and grading steps → surfaces, cut and fill, soil.

pub mod assemble;
pub mod facet;
pub mod mosaic;

pub use assemble::{Assembled, assemble};
pub use facet::{Act, Facet};
pub use mosaic::{Mosaic, Moved};
