//! The stages of the work, in the order in which they are done.

use crate::earthwork::sequence;
use crate::job::{Job, Stage};

/// The stages in their order, the works that no stage names last.
pub fn stages(job: &Job) -> Vec<Stage> {
    sequence::stages_of(job, &mut Vec::new())
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
