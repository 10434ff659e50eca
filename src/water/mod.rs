//! Finished surface and level → water: how far it stands, how deep, and whether it is held.

mod brim;
mod flood;

pub use brim::{BrimPoint, brim};
pub use flood::{Reach, Terrain};
