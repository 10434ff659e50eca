//! The takeoff: what to buy, from the plan's own surfaces, each line with how it was got.
//!
//! Sheets are taped along the dug surface, layers of stone are the difference of two plans, walls and
//! pipes go by their lines. Takes longer than the plan, so it is no part of it.

mod layers;
mod lined;
mod lines;
mod lining;
mod pipe;
mod planting;
pub mod sheet;
mod soil;
mod stone;
mod tape;
mod wall;

pub use layers::stone_in;
pub use lined::{Lining, Skin};
pub use tape::{Taped, tape};

use crate::job::Job;
use crate::plan::{Plan, Takeoff};

/// The list of materials of a job and its plan.
pub fn takeoff(job: &Job, plan: &Plan) -> Takeoff {
    let mut out = Takeoff::default();
    if plan.existing.triangles.is_empty() {
        out.notes.push(
            "There is no ground surface, so nothing can be taken off: see the findings.".into(),
        );
        return out;
    }
    let ((), stones) = rayon::join(
        || lining::of(job, plan, &mut out),
        || {
            let mut stones = Takeoff::default();
            layers::of(job, plan, &mut stones);
            stones
        },
    );
    out.items.extend(stones.items);
    out.notes.extend(stones.notes);
    stone::boulders(job, plan, &mut out);
    wall::of(job, plan, &mut out);
    pipe::of(job, plan, &mut out);
    soil::of(job, plan, &mut out);
    planting::of(job, plan, &mut out);
    out
}
