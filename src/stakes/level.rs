//! Where the level stands now: its height of instrument from a fresh backsight. Metres.

use crate::job::Job;
use crate::plan::Plan;
use crate::units::{self, format_length};

/// A level that was just set up.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    pub benchmark: String,
    pub elevation: f64,
    pub backsight: f64,
    /// Elevation of the line of sight.
    pub height: f64,
    /// What to mind about the benchmark; may be empty.
    pub caution: &'static str,
}

/// From `BM=READING`, the reading as people write it.
pub fn instrument(job: &Job, plan: &Plan, text: &str) -> Result<Instrument, String> {
    let (name, reading) = text
        .rsplit_once('=')
        .map(|(n, r)| (n.trim(), r.trim()))
        .filter(|(n, r)| !n.is_empty() && !r.is_empty())
        .ok_or_else(|| {
            format!(
                "\"{text}\": write the benchmark and what the rod reads on it, such as \"BM=5.12\""
            )
        })?;
    let benchmarks: Vec<&str> = job
        .field_book
        .benchmarks
        .iter()
        .map(|b| b.name.as_str())
        .collect();
    let Some(known) = plan.survey.names.get(name) else {
        return Err(format!(
            "there is no benchmark or point \"{name}\"; benchmarks of this job: {}",
            listed(&benchmarks)
        ));
    };
    let Some(elevation) = known.z else {
        return Err(format!(
            "\"{name}\" has no elevation; benchmarks of this job: {}",
            listed(&benchmarks)
        ));
    };
    let backsight = units::parse_length(reading, job.unit)
        .map_err(|e| format!("the reading on \"{name}\": {e}; write {}", units::LENGTHS))?;
    let rod = job.field_book.rod_length;
    if backsight < 0.0 {
        return Err(format!(
            "the reading on \"{name}\" is negative; a rod reads 0 or more"
        ));
    }
    if backsight > rod + 1e-9 {
        return Err(format!(
            "the reading on \"{name}\", {}, is longer than the rod of {} (`rod_length` in `field_book`)",
            format_length(backsight, job.unit),
            format_length(rod, job.unit)
        ));
    }
    let sights = || job.field_book.setups.iter().flat_map(|s| &s.sights);
    let doubtful = plan.survey.closures.iter().any(|c| !c.closes);
    let caution = if benchmarks.contains(&name) {
        ""
    } else if doubtful {
        "its elevation comes from notes that do not close"
    } else if sights().any(|s| s.to == name && s.ground && !s.turning) {
        "it is a shot on the ground, which may have been dug or trodden since: a benchmark is safer"
    } else {
        ""
    };
    Ok(Instrument {
        benchmark: name.into(),
        elevation,
        backsight,
        height: elevation + backsight,
        caution,
    })
}

fn listed(names: &[&str]) -> String {
    if names.is_empty() {
        "none".into()
    } else {
        names.join(", ")
    }
}
