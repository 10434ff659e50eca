//! Spots and breaklines → the ground surface; and the overlay of surfaces.

mod surface;

pub use surface::*;
