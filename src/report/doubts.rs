//! Which errors of the plan make a list of its figures doubtful: those of the ground and of the works and
//! waters it is about, also of those that are missing in it for that reason.

use crate::findings::{About, Finding, Severity};
use crate::plan::Plan;

/// The errors that figures about all this hang on; about the works and their water in any case.
pub fn doubts(plan: &Plan, and: &[About]) -> Vec<Finding> {
    let hangs = |about: About| matches!(about, About::Works | About::Water) || and.contains(&about);
    let errors = plan
        .findings
        .iter()
        .filter(|f| f.severity == Severity::Error);
    errors.filter(|f| hangs(f.about)).cloned().collect()
}
