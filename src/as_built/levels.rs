//! The levels of a visit, by the same code as the field book's. Metres.

use rustc_hash::FxHashSet;

use super::place;
use crate::findings::{About, Finding, Severity};
use crate::job::{Benchmark, FieldBook, Job, Peg, Visit};
use crate::plan::{Plan, Trust};
use crate::survey::{self, Reduced};

pub struct Levelled {
    pub reduced: Reduced,
    pub book: FieldBook,
    pub trust: Trust,
    pub findings: Vec<Finding>,
}

/// The visit as a field book of its own. It may lean on benchmarks and turning points, and be taped
/// from everything that has a place and that it does not shoot anew.
fn book(job: &Job, plan: &Plan, visit: &Visit) -> FieldBook {
    let field = &job.field_book;
    let names = &plan.survey.names;
    let own: FxHashSet<&str> = visit
        .setups
        .iter()
        .flat_map(|s| {
            std::iter::once(s.name.as_str()).chain(s.sights.iter().map(|g| g.to.as_str()))
        })
        .chain(visit.points.iter().map(|p| p.name.as_str()))
        .collect();
    let mut benchmarks = field.benchmarks.clone();
    for sight in field.setups.iter().flat_map(|s| &s.sights) {
        let known = names.get(sight.to.as_str()).and_then(|n| n.z);
        let listed = benchmarks.iter().any(|b| b.name == sight.to);
        if let Some(elevation) = known.filter(|_| sight.turning && !listed) {
            benchmarks.push(Benchmark {
                name: sight.to.clone(),
                elevation,
                assumed: false,
                at: None,
            });
        }
    }
    for mark in &mut benchmarks {
        // Ties of its place may lean on names that mean other things here.
        mark.at = names
            .get(mark.name.as_str())
            .and_then(|n| n.at)
            .map(|[x, y]| crate::job::Place::Xy(x, y));
    }
    let marks: FxHashSet<&str> = benchmarks.iter().map(|b| b.name.as_str()).collect();
    let pegs = plan
        .survey
        .places
        .iter()
        .filter(|p| !own.contains(p.name.as_str()) && !marks.contains(p.name.as_str()))
        .map(|p| Peg {
            name: p.name.clone(),
            at: [p.x, p.y],
        })
        .collect();
    FieldBook {
        pegs,
        setups: visit.setups.clone(),
        points: visit.points.clone(),
        baselines: field.baselines.clone(),
        rod_length: field.rod_length,
        allowed: field.allowed,
        benchmarks,
    }
}

pub fn reduce(job: &Job, plan: &Plan, visit: &Visit) -> Levelled {
    let book = book(job, plan, visit);
    // Slips are looked for against the design instead.
    let (reduced, found) = survey::reduce_as_dug(&book);
    let mut findings: Vec<Finding> = found
        .into_iter()
        // What they close on is told below.
        .filter(|f| f.place != "level notes")
        .map(|mut f| {
            f.place = format!("{}, {}", place(visit), f.place);
            f
        })
        .collect();
    let levelled = visit.setups.iter().any(|s| !s.sights.is_empty());
    let trust = if reduced.spots.is_empty() {
        Trust::Nothing
    } else if !levelled {
        Trust::Points
    } else if reduced.closures.iter().any(|c| !c.closes) {
        Trust::DoesNotClose
    } else if reduced.closures.is_empty() {
        Trust::Unchecked
    } else {
        Trust::Closes
    };
    match trust {
        Trust::Nothing => findings.push(Finding::new(
            Severity::Error,
            place(visit),
            "has no shot with both an elevation and a place: nothing can be told of it",
            "give each shot its tapes, and a setup whose backsight is on a benchmark",
        )),
        Trust::DoesNotClose => findings.push(Finding::new(
            Severity::Error,
            place(visit),
            "its levels do not close, so its shots are not held against the design",
            "find the slip, or shoot the benchmark and these points again",
        )),
        Trust::Unchecked => findings.push(Finding::new(
            Severity::Warning,
            place(visit),
            "its levels close on nothing: a misread backsight would shift every figure and not show",
            "end on a benchmark, if only the one you began with",
        )),
        Trust::Closes | Trust::Points => {}
    }
    let doubtful = plan.survey.closures.iter().any(|c| !c.closes);
    if doubtful && !matches!(trust, Trust::Nothing | Trust::DoesNotClose) {
        findings.push(Finding::new(
            Severity::Warning,
            place(visit),
            "the field book itself does not close, so the design's own ground is in doubt",
            "mend the field book first",
        ));
    }
    Levelled {
        reduced,
        book,
        trust,
        findings: Finding::all_about(findings, About::AsBuilt),
    }
}
