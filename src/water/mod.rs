//! Finished surface and level → water: how far it stands, how deep, and whether it is held.

mod brim;
mod descent;
mod flood;

pub use brim::{BrimPoint, brim};
pub use descent::{Hollow, Stop, Way};
pub use flood::{Links, Reach, Terrain};
