//! The stages of the work, in the order in which they are done.

use crate::earthwork::sequence;
use crate::job::decode::did_you_mean;
use crate::job::{Job, Stage};

/// The stages in their order, the works that no stage names last.
pub fn stages(job: &Job) -> Vec<Stage> {
    sequence::stages_of(job, &mut Vec::new())
}

/// How many stages are done when the one that is called so is: by its name, or else by its number, the
/// first being 1. Why it cannot be told, where there is no such stage.
pub fn done_after(stages: &[Stage], called: &str) -> Result<usize, String> {
    let called = called.trim();
    let same = |s: &&Stage| s.name == called;
    let alike = |s: &&Stage| s.name.to_lowercase() == called.to_lowercase();
    let mut alikes = stages.iter().filter(alike);
    let one = match (alikes.next(), alikes.next()) {
        (Some(s), None) => Some(s.name.as_str()),
        _ => None,
    };
    let name = stages.iter().find(same).map(|s| s.name.as_str()).or(one);
    if let Some(k) = stages.iter().position(|s| Some(s.name.as_str()) == name) {
        return Ok(k + 1);
    }
    let number = called.parse().ok();
    if let Some(n) = number.filter(|n| (1..=stages.len()).contains(n)) {
        return Ok(n);
    }
    match stages {
        [] => Err("this job has no works, so no stages".into()),
        [only] if only.name.is_empty() => {
            Err("this job has no `sequence`: all its works are one stage; call it 1".into())
        }
        _ => {
            let names = || stages.iter().map(|s| s.name.as_str());
            let listed: Vec<String> = names().map(|n| format!("`{n}`")).collect();
            Err(format!(
                "no stage is called `{called}`; its stages: {}{}",
                listed.join(", "),
                did_you_mean(called, names())
            ))
        }
    }
}

#[cfg(test)]
mod tests {
    use rustc_hash::FxHashSet;

    use super::*;
    use crate::job::Document;
    use crate::plan::Plan;

    fn demo() -> Job {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let (_, job) = Document::load(&path).unwrap_or_else(|e| panic!("the demo: {e}"));
        job
    }

    #[test]
    fn stages_of_the_demo_add_up_to_its_plan() {
        add_up(&demo());
    }

    #[test]
    fn a_stage_is_found_by_its_name_or_number() {
        let all = stages(&demo());
        for (called, done) in [("clear the way", 1), ("dig", 3), ("LEAVE", 5), (" 2 ", 2)] {
            assert_eq!(done_after(&all, called), Ok(done), "{called}");
        }
        for called in ["low sde", "0", "6", "", "-1", "99999999999999999999"] {
            let why = done_after(&all, called).expect_err(called);
            assert!(
                why.contains("its stages: `clear the way`, `low side`"),
                "{why}"
            );
        }
        let why = done_after(&all, "low sde").expect_err("no such stage");
        assert!(why.contains("did you mean `low side`"), "{why}");
        assert!(done_after(&[], "1").is_err());
        let mut one = demo();
        one.sequence.clear();
        let one = stages(&one);
        assert_eq!(done_after(&one, "1"), Ok(1));
        let why = done_after(&one, "dig").expect_err("no sequence");
        assert!(why.contains("no `sequence`"), "{why}");
    }

    /// Its pools hang on the level of a basin that is not dug yet.
    #[test]
    fn a_cascade_stands_before_its_basin_is_dug() {
        let mut job = demo();
        job.sequence.swap(2, 3);
        assert_eq!(job.sequence[2].works[0], "falls");
        add_up(&job);
    }

    /// Built stage by stage, each work moves what it moves in the whole plan, and the last stage
    /// leaves the ground that the whole plan leaves.
    fn add_up(job: &Job) {
        let whole = Plan::of(job);
        let all = stages(job);
        assert_eq!(all.len(), 5, "stages of the demo");
        for count in 0..=all.len() {
            let plan = Plan::works_after(job, count);
            let named: FxHashSet<&str> = all[..count].iter().map(|s| s.name.as_str()).collect();
            let expected: f64 = whole
                .volumes
                .by_feature
                .iter()
                .filter(|v| named.contains(v.stage.as_str()))
                .map(|v| v.cut_bank_m3)
                .sum();
            let found = plan.volumes.cut_bank_m3;
            assert!(
                (found - expected).abs() < 1e-6,
                "cut after {count} stages {found} m³; those stages in the whole plan {expected} m³"
            );
            if count == 0 {
                let v = &plan.volumes;
                let moved = v.existing_to_dug_cut_m3 + v.existing_to_dug_fill_m3;
                assert!(moved.abs() < 1e-9, "no stage, but {moved} m³ moved");
            }
            if count == all.len() {
                let (a, b) = (plan.dug.volume_over(0.0), whole.dug.volume_over(0.0));
                assert!(
                    (a - b).abs() < 1e-6,
                    "after the last stage {a}, whole plan {b}"
                );
            }
        }
    }
}
