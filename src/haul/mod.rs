//! Carrying soil: the way in, who carries what where, and the ramp. Everything here follows from the
//! finished plan; all but the way in takes too long for every plan and is computed when asked for.

pub mod access;
pub mod carriers;
pub mod field;
pub mod find;
pub mod flows;
mod list;
pub mod model;
mod moments;
pub mod paths;
mod paving;
pub mod profile;
pub mod ramp;
mod short;
pub mod sought;

pub use access::access;

use crate::findings::{About, Finding};
use crate::job::Job;
use crate::plan::{Haulage, PilePlace, Plan};
use crate::terrain::line::dist;

/// Who carries what where, and the ramps. `places`: where piles would fit, for kinds of soil whose pile
/// has no place of its own.
pub fn of(job: &Job, plan: &Plan, places: &[PilePlace]) -> Haulage {
    let (mut out, ramps) = rayon::join(|| carried(job, plan, places), || find::ramps(job, plan));
    (out.ramps, out.found) = (ramps.ramps, ramps.found);
    let ramps = Finding::all_about(ramps.findings, About::Haul);
    out.findings.extend(ramps);
    out
}

/// The same without the ramps, which take the longest.
pub fn carried(job: &Job, plan: &Plan, places: &[PilePlace]) -> Haulage {
    let mut out = Haulage::default();
    flows::flows(job, plan, strips(job, plan), places, &mut out);
    out.findings = Finding::all_about(out.findings, About::Haul);
    out
}

/// Tops of the design's ramps; where they have no profile, from end to end on the ground as it is when they
/// are built.
fn strips(job: &Job, plan: &Plan) -> Vec<field::Strip> {
    let strip = |ramp: &crate::job::Ramp| {
        let line = plan.survey.line(&ramp.line, &job.field_book).ok()?;
        let z: Vec<f64> = if ramp.profile.len() == line.len() {
            ramp.profile
                .iter()
                .map(|h| plan.survey.elevation(h).ok())
                .collect::<Option<_>>()?
        } else {
            let (first, last) = (*line.first()?, *line.last()?);
            let ends = crate::planning::before(job, plan, &ramp.name, |ground, yard| {
                let [ox, oy] = yard.origin;
                [first, last].map(|p| ground.elevation([p[0] - ox, p[1] - oy]))
            })?;
            let (a, b) = (ends[0]?, ends[1]?);
            let mut along = vec![0.0];
            for w in line.windows(2) {
                along.push(along[along.len() - 1] + dist(w[0], w[1]));
            }
            let total = along.last().copied().unwrap_or(0.0).max(1e-9);
            along.iter().map(|s| a + (b - a) * s / total).collect()
        };
        Some(field::Strip {
            name: ramp.name.clone(),
            line: line.iter().zip(z).map(|(p, z)| [p[0], p[1], z]).collect(),
            half: 0.5 * ramp.width,
            batter: ramp.batter,
        })
    };
    job.design.ramps.iter().filter_map(strip).collect()
}
