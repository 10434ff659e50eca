//! Soil to place: the plan's own volumes, as they lie compacted, and as much loose to load. m³.

use super::lines::Say;
use crate::job::Job;
use crate::plan::{Item, Kind, Of, Plan, Takeoff, Trade};

pub fn of(job: &Job, plan: &Plan, out: &mut Takeoff) {
    let say = Say(job.unit);
    let class = &job.soil.class;
    for v in &plan.volumes.by_feature {
        let what = match v.kind {
            Kind::Backfill => "backfill",
            Kind::Berm => "berm",
            Kind::Surround => "soil round a cascade",
            Kind::Ramp => "ramp",
            Kind::Pad => "fill under a pad",
            Kind::Wall | Kind::Trench if v.part == "refill" => "refill",
            _ => continue,
        };
        if v.fill_compacted_m3 < 0.01 {
            continue;
        }
        let bank = v.fill_compacted_m3 / class.compacted;
        out.items.push(
            Item::new(Trade::Soil, format!("{what}, compacted"), &v.name)
                .net(Of::Volume, v.fill_compacted_m3, 0.0)
                .how(format!(
                    "volume placed by the plan{}; from {}: {} bank, {} loose",
                    if v.stage.is_empty() {
                        String::new()
                    } else {
                        format!(", stage {}", v.stage)
                    },
                    class.name,
                    say.volume(bank),
                    say.volume(bank * class.loose)
                )),
        );
    }
    let soil = &plan.soil;
    if soil.short_bank_m3 > 1e-3 {
        let at = if soil.short_at.is_empty() {
            soil.short_feature.clone()
        } else {
            format!("{} (stage {})", soil.short_feature, soil.short_at)
        };
        out.items.push(
            Item::new(Trade::Soil, format!("{} to bring in, loose", soil.class), at)
                .net(Of::Volume, soil.short_loose_m3, 0.0)
                .by_lot(soil.load_loose_m3.max(1e-6))
                .how(format!(
                    "largest shortage at any moment of the work, {} bank; in whole truck loads of {} loose",
                    say.volume(soil.short_bank_m3),
                    say.volume(soil.load_loose_m3)
                )),
        );
    }
}
