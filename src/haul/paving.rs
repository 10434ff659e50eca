//! Paving that the ways of the haul cross on wheels, beside the way in, and the boards over it. Metres.

use crate::findings::{Finding, Severity};
use crate::job::Job;
use crate::plan::{AccessRoute, BESIDE, BY_HAND, Haulage, MarkKind, Plan};
use crate::terrain::line::{self, dist};
use crate::terrain::predicates::{P2, from_line};
use crate::units::format_length;

use super::access::{boards, length_inside};

/// For each paving, how many loads cross it, and what to lay there: the boards of the longest crossing.
pub(super) fn crossed(job: &Job, plan: &Plan, out: &mut Haulage) {
    let access = job.site.access.as_ref();
    let route: Vec<P2> = access
        .and_then(|a| plan.survey.line(&a.line, &job.field_book).ok())
        .unwrap_or_default();
    let half = access.map_or(0.0, |a| 0.5 * a.width);
    // The way in has its own boards.
    let laid = |p: P2| {
        let mut stretches = route.windows(2);
        stretches.any(|w| from_line(p, w[0], w[1]) <= half)
    };
    for mark in plan.marks.iter().filter(|m| m.kind == MarkKind::Paving) {
        let mut loads = 0;
        let mut longest: Vec<[f64; 2]> = Vec::new();
        let sum = |list: &[[f64; 2]]| list.iter().map(|[a, b]| b - a).sum::<f64>();
        let wheels = |by: &str| by != BY_HAND && by != BESIDE;
        for haul in out.hauls.iter().filter(|h| wheels(&h.by)) {
            let lengths: Vec<f64> = haul.path.windows(2).map(|w| dist(w[0], w[1])).collect();
            let mut inside = length_inside(&haul.path, &lengths, &mark.line);
            inside.retain(|[a, b]| !laid(line::at(&haul.path, 0.5 * (a + b))));
            if !inside.is_empty() {
                loads += haul.loads;
                if sum(&inside) > sum(&longest) {
                    longest = inside;
                }
            }
        }
        if loads == 0 {
            continue;
        }
        let unit = |v: f64| format_length(v, job.unit);
        let lay = access.map_or_else(String::new, |access| {
            let mut lane = AccessRoute::default();
            boards(&access.boards, &longest, &mut lane);
            format!(
                ", {} of {} by {} for one lane over {} strip{} of fabric",
                lane.boards,
                unit(lane.board_length_m),
                unit(lane.board_width_m),
                lane.fabric_strips,
                if lane.fabric_strips == 1 { "" } else { "s" }
            )
        });
        out.findings.push(Finding::new(
            Severity::Note,
            "haul",
            format!(
                "{loads} load{} cross{} the paving {} on wheels, up to {} over it",
                if loads == 1 { "" } else { "s" },
                if loads == 1 { "es" } else { "" },
                mark.name,
                unit(sum(&longest))
            ),
            format!("lay boards there{lay}; or make it a keep-out: the ways lead round that"),
        ));
    }
}
