//! The takeoff: what to buy, from the plan's own surfaces, each line with how it was got.
//!
//! Sheets are taped along the dug surface, layers of stone are the difference of two plans, walls and
//! pipes go by their lines. Takes longer than the plan, so it is no part of it.

mod layers;
mod lined;
mod lines;
mod lining;
mod met;
mod pipe;
mod planting;
pub mod sheet;
mod soil;
mod stone;
mod tape;
mod wall;

pub use layers::Stones;
pub use lined::{Lining, Skin};
pub use tape::{Taped, tape};

use crate::job::Job;
use crate::plan::{Plan, Takeoff};

/// The list of materials of a job and its plan.
pub fn takeoff(job: &Job, plan: &Plan) -> Takeoff {
    let (linings, stones) = rayon::join(|| linings(job, plan), || Stones::of(job, plan));
    listed(job, plan, linings, &stones)
}

/// Of the list, what lines basins and cascades.
pub(crate) fn linings(job: &Job, plan: &Plan) -> Takeoff {
    lining::of(job, plan)
}

/// The whole list, from what is known of it.
pub(crate) fn listed(job: &Job, plan: &Plan, linings: Takeoff, stones: &Stones) -> Takeoff {
    if plan.existing.triangles.is_empty() {
        return Takeoff {
            notes: vec![
                "There is no ground surface, so nothing can be taken off: see the findings.".into(),
            ],
            ..Takeoff::default()
        };
    }
    let mut out = linings;
    layers::of(job, stones, &mut out);
    stone::boulders(job, plan, &mut out);
    wall::of(job, plan, &mut out);
    pipe::of(job, plan, &mut out);
    soil::of(job, plan, &mut out);
    planting::of(job, plan, &mut out);
    out
}
