//! Spots and breaklines → the ground surface; and the overlay of surfaces.

pub mod constrained;
pub mod contours;
pub mod convex;
pub mod line;
mod plane;
pub mod predicates;
pub mod probe;
mod span;
mod surface;

pub use constrained::triangulate_ring;
pub use contours::{Contour, MOST_LEVELS, contours};
pub use plane::Plane;
pub use probe::Probe;
pub use span::Span;
pub use surface::*;

pub mod ground;
pub mod overlay;
