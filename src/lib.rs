//! Brimline: terrain and excavation for lined ponds and waterfalls.
//!
//! A job file goes in, a plan comes out, and that is one pure function: [`plan::Plan::of`].

pub mod as_built;
pub mod asked;
mod cautions;
pub mod cli;
pub mod design;
mod drawn;
pub mod earthwork;
pub mod edit;
pub mod findings;
pub mod flow;
mod guards;
pub mod haul;
pub mod job;
pub mod ledger;
pub mod measure;
mod places;
pub mod plan;
mod planning;
pub mod report;
mod sizes;
pub mod stakes;
pub mod survey;
pub mod takeoff;
pub mod terrain;
pub mod units;
#[cfg(feature = "view")]
pub mod view;
pub mod water;

/// Plans come one after the other: what one gives back, the next takes, without asking the system for fresh
/// pages each time.
#[global_allocator]
static MEMORY: mimalloc::MiMalloc = mimalloc::MiMalloc;
