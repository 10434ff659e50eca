//! Spots and breaklines → the ground surface; and the overlay of surfaces.

pub mod constrained;
pub mod convex;
mod plane;
pub mod predicates;
mod surface;

pub use constrained::triangulate_ring;
pub use plane::Plane;
pub use surface::*;

pub mod ground;
pub mod overlay;
