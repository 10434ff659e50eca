//! A job as it stands after some of its stages: its plan shows the ground at that moment.
//!
//! A feature that a later stage builds is left out of the design; a temporary work stays until the
//! stage that takes it back. Volumes of such a plan are those of the stages done.

use rustc_hash::FxHashSet;

use crate::earthwork::sequence;
use crate::job::{Job, Level, Stage};
use crate::survey::Reduced;

/// The stages in their order, the works that no stage names last.
pub fn stages(job: &Job) -> Vec<Stage> {
    sequence::stages_of(job, &mut Vec::new())
}

/// The job after its first `count` stages. `survey` is that of its plan: the cap of a wall that
/// does not stand yet may be that of a shot.
pub fn after(job: &Job, survey: &Reduced, count: usize) -> Job {
    let mut cut = job.clone();
    cut.sequence = stages(job).into_iter().take(count).collect();
    let built: FxHashSet<String> = cut
        .sequence
        .iter()
        .flat_map(|s| s.works.iter().cloned())
        .collect();
    let d = &mut cut.design;
    for basin in &mut d.basins {
        // A level below the cap of a wall still to come keeps its elevation.
        if let Level::BelowCap { wall, by } = &basin.water
            && !built.contains(wall)
            && let Some(wall) = d.walls.iter().find(|w| w.name == *wall)
            && let Ok(cap) = survey.elevation(&wall.cap)
        {
            basin.water = Level::At(crate::job::Height::Elevation(cap - by));
        }
    }
    d.basins.retain(|f| built.contains(&f.name));
    d.cascades.retain(|f| built.contains(&f.name));
    d.walls.retain(|f| built.contains(&f.name));
    d.pads.retain(|f| built.contains(&f.name));
    d.berms.retain(|f| built.contains(&f.name));
    d.trenches.retain(|f| built.contains(&f.name));
    d.ramps.retain(|f| built.contains(&f.name));
    cut
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Document;
    use crate::plan::Plan;

    /// Built stage by stage, each work moves what it moves in the whole plan, and the last stage
    /// leaves the ground that the whole plan leaves.
    #[test]
    fn stages_of_the_demo_add_up_to_its_plan() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let (_, job) = Document::load(&path).unwrap_or_else(|e| panic!("the demo: {e}"));
        let whole = Plan::of(&job);
        let all = stages(&job);
        assert_eq!(all.len(), 5, "stages of the demo");
        for count in 0..=all.len() {
            let plan = Plan::of(&after(&job, &whole.survey, count));
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
