//! Finished surface and level → water: how far it stands, how deep, and whether it is held.

mod flood;

pub use flood::{Reach, Terrain};
