//! Which errors of the plan make a list of its figures doubtful: those of the ground and of the works and
//! waters it is about, also of those that are missing in it for that reason.

use crate::findings::{Finding, Severity};
use crate::job::Job;
use crate::plan::Plan;

/// What stands before a name in the place of a finding.
const PREFIXES: [&str; 12] = [
    "pool ",
    "pump ",
    "overflow ",
    "basin ",
    "cascade ",
    "wall ",
    "ramp ",
    "pit ",
    "trench ",
    "berm ",
    "pad ",
    "backfill ",
];
/// Findings of these places are about no figure of the works.
const APART: [&str; 9] = [
    "access",
    "haul",
    "as-built",
    "service ",
    "keep-out ",
    "tree ",
    "pile ",
    "spoil",
    "stakes",
];

/// The name in the place of a finding.
pub fn bare(place: &str) -> &str {
    PREFIXES
        .iter()
        .find_map(|p| place.strip_prefix(p))
        .unwrap_or(place)
}

/// The errors that the figures of the works hang on; those of pumps only `with_pumps`.
pub fn doubts(job: &Job, plan: &Plan, with_pumps: bool) -> Vec<Finding> {
    let design = &job.design;
    let pile = |place: &str| design.piles.iter().any(|p| p.name == place);
    let pump = |place: &str| job.plumbing.pumps.iter().any(|p| p.name == bare(place));
    plan.findings
        .iter()
        .filter(|f| f.severity == Severity::Error)
        .filter(|f| !APART.iter().any(|a| f.place.starts_with(a)) && !pile(&f.place))
        .filter(|f| with_pumps || !pump(&f.place))
        .cloned()
        .collect()
}
