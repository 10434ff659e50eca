//! Where the soil goes: the ledger over stages and places. It works on a finished plan. m³.

pub mod account;
pub mod bare;
mod cautions;
mod factors;
pub mod heap;
mod piles;
mod standing;
mod suggest;

use crate::findings::{Finding, Severity};
use crate::job::Job;
use crate::plan::{FeatureVolume, Ledger, Plan};

pub use bare::Wanted;
pub use cautions::of as findings;
pub use piles::of as piles;
pub use suggest::places;

/// Which part of what each work digs may not be placed as fill.
pub fn mark_unfit(job: &Job, volumes: &mut [FeatureVolume], findings: &mut Vec<Finding>) {
    let soil = &job.soil;
    for v in volumes.iter_mut() {
        let work = job.design.work_of(&v.name);
        let own = soil.unfit.iter().find(|u| u.feature == work);
        let share = own.map_or(soil.unfit_share, |u| u.percent) / 100.0;
        v.unfit_bank_m3 = share * (v.cut_bank_m3 - v.topsoil_bank_m3).max(0.0);
    }
    for u in &soil.unfit {
        let digs =
            |v: &FeatureVolume| v.cut_bank_m3 > 0.0 && job.design.work_of(&v.name) == u.feature;
        if !volumes.iter().any(digs) {
            findings.push(Finding::new(
                Severity::Warning,
                "soil",
                format!(
                    "names {} as giving unfit soil, but it digs nothing",
                    u.feature
                ),
                "use the name of a feature that digs",
            ));
        }
    }
}

/// The ledger of a plan whose volumes and surfaces are known.
pub fn of(job: &Job, plan: &Plan) -> Ledger {
    with(job, plan, &bare::wanted(job, plan))
}

/// The ledger of a plan whose volumes are known, and the topsoil wanted on bare ground.
pub fn with(job: &Job, plan: &Plan, wanted: &Wanted) -> Ledger {
    if plan.existing.triangles.is_empty() {
        return Ledger::default();
    }
    let soils = factors::soils(&job.soil);
    let likely = factors::pick(&soils, 1, 1);
    let volumes = &plan.volumes.by_feature;
    let ramps = &plan.volumes.ramps;
    let mut ledger = account::account(volumes, ramps, &likely, &job.soil, wanted);
    // More is left over the less room it takes when placed, and it takes the more room when loose:
    // the extremes lie at the corners of the two ranges.
    for (loose, compacted) in [(0, 0), (0, 2), (2, 0), (2, 2)] {
        let other = account::account(
            volumes,
            ramps,
            &factors::pick(&soils, loose, compacted),
            &job.soil,
            wanted,
        );
        for (mine, its) in [
            (&mut ledger.out, &other.out),
            (&mut ledger.brought, &other.brought),
        ] {
            mine.loose_m3[0] = mine.loose_m3[0].min(its.loose_m3[1]);
            mine.loose_m3[2] = mine.loose_m3[2].max(its.loose_m3[1]);
            mine.loads[0] = mine.loads[0].min(its.loads[1]);
            mine.loads[2] = mine.loads[2].max(its.loads[1]);
        }
    }
    for pile in &job.design.piles {
        ledger.rename(&account::pile_of(pile.of), &pile.name);
    }
    ledger.soils = soils;
    ledger
}
