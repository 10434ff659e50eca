//! Findings from the ledger: stages that need more soil than there is by then, with the ways out.

use rustc_hash::FxHashMap;

use crate::findings::{Finding, Severity};
use crate::job::Job;
use crate::plan::{Kind, Plan, SoilKind};
use crate::units;

/// Less than this (m³ bank, some three buckets) is found on any site.
const WORTH: f64 = 0.03;

pub fn of(job: &Job, plan: &Plan) -> Vec<Finding> {
    let mut list = Vec::new();
    let amount = |v: f64| units::format_volume(v, job.unit);
    // What was named as a way out already is not there a second time.
    let mut promised: FxHashMap<usize, f64> = FxHashMap::default();
    for s in plan.ledger.shortages.iter().filter(|s| s.bank_m3 > WORTH) {
        let volumes = &plan.volumes.by_feature;
        let here = volumes
            .iter()
            .position(|v| v.stage == s.stage && v.name == s.feature)
            .unwrap_or(0);
        // Later works that free soil of their own, the most first.
        let mut later: Vec<(usize, f64)> = Vec::new();
        for (k, v) in volumes.iter().enumerate().skip(here) {
            let gives = v.cut_bank_m3
                - promised.get(&k).copied().unwrap_or(0.0)
                - v.topsoil_bank_m3
                - v.unfit_bank_m3
                - v.fill_compacted_m3 / job.soil.class.compacted;
            if s.soil == SoilKind::Subsoil && v.name != s.feature && gives > WORTH {
                later.push((k, gives));
            }
        }
        later.sort_by(|a, b| b.1.total_cmp(&a.1));
        let mut ways: Vec<String> = Vec::new();
        if let Some((k, gives)) = later.first() {
            let (name, stage) = (&volumes[*k].name, &volumes[*k].stage);
            *promised.entry(*k).or_insert(0.0) += gives.min(s.bank_m3);
            let stage = if stage.is_empty() {
                String::new()
            } else {
                format!(" of stage {stage}")
            };
            ways.push(if *gives < s.bank_m3 - WORTH {
                format!(
                    "dig {name}{stage} before it, which gives {} bank of that, and bring in the rest",
                    amount(*gives)
                )
            } else {
                format!(
                    "dig {name}{stage} before it, or part of it: it gives {} bank",
                    amount(*gives)
                )
            });
        }
        let ramp = volumes
            .iter()
            .take(here + 1)
            .rev()
            .find(|v| v.kind == Kind::Ramp && v.fill_compacted_m3 > WORTH);
        if let Some(way) = ramp.and_then(|v| steeper(job, plan, &v.name)) {
            ways.push(way);
        }
        ways.push(format!(
            "bring in {} loose, {}",
            amount(s.loose_m3),
            units_of(s.loads, "truck load")
        ));
        list.push(Finding::new(
            Severity::Warning,
            if s.stage.is_empty() {
                s.feature.clone()
            } else {
                format!("stage {}, {}", s.stage, s.feature)
            },
            format!(
                "needs {} bank more {} than there is by then",
                amount(s.bank_m3),
                s.soil.word()
            ),
            ways.join("; or "),
        ));
    }
    list
}

/// What a ramp could save if it ran as steep as it may.
fn steeper(job: &Job, plan: &Plan, name: &str) -> Option<String> {
    let ramp = job.design.ramps.iter().find(|r| r.name == name)?;
    let line: Vec<[f64; 2]> = ramp
        .line
        .iter()
        .filter_map(|at| plan.survey.locate(at, &job.field_book).ok())
        .collect();
    let z: Vec<f64> = ramp
        .profile
        .iter()
        .filter_map(|h| plan.survey.elevation(h).ok())
        .collect();
    if z.len() != line.len() || z.len() < 2 {
        return None;
    }
    let steepest = line
        .windows(2)
        .zip(z.windows(2))
        .map(|(p, z)| {
            let run = (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1]);
            if run > 0.0 {
                (z[1] - z[0]).abs() / run
            } else {
                0.0
            }
        })
        .fold(0.0, f64::max);
    // One that runs level crosses something: it has no end to let down.
    (steepest > 0.005 && steepest + 0.005 < ramp.gradient).then(|| {
        format!(
            "let {name} rise {:.0} % instead of {:.0} %, which its limit allows: it takes less soil",
            100.0 * ramp.gradient,
            100.0 * steepest
        )
    })
}

fn units_of(count: u32, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}
