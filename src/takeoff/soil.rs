//! Soil to place: the plan's own volumes, as they lie compacted, and as much loose to load; and what
//! the ledger has brought in for them, by kind. m³.

use super::lines::Say;
use crate::earthwork::balance::{load, loads};
use crate::job::Job;
use crate::ledger::account::{self, BARE};
use crate::plan::{Deed, FeatureVolume, Item, Kind, Of, Plan, SoilKind, SoilRange, Takeoff, Trade};

/// Less than this (m³) is rounding.
const SPECK: f64 = 1e-6;

pub fn of(job: &Job, plan: &Plan, out: &mut Takeoff) {
    let say = Say(job.unit);
    let class = &job.soil.class;
    let brought = brought(plan, class.compacted);
    for (v, brought) in plan.volumes.by_feature.iter().zip(brought) {
        let what = match v.kind {
            Kind::Backfill => "backfill",
            Kind::Berm | Kind::Surround => "berm",
            Kind::Ramp => "ramp",
            Kind::Pad => "fill under a pad",
            Kind::Wall | Kind::Trench if v.part == "refill" => "refill",
            _ => continue,
        };
        if v.fill_compacted_m3 < 0.01 {
            continue;
        }
        let bank = v.fill_compacted_m3 / class.compacted;
        let mut item = Item::new(Trade::Soil, format!("{what}, compacted"), &v.name)
            .net(Of::Volume, v.fill_compacted_m3, 0.0)
            .how(format!(
                "volume placed by the plan{}; from {}: {} bank, {} loose{}",
                in_stage(&v.stage),
                class.name,
                say.volume(bank),
                say.volume(bank * class.loose),
                part_brought(say, bank, brought, class.loose)
            ));
        item.brought_in = Some((brought / bank).clamp(0.0, 1.0));
        out.items.push(item);
    }
    put_back(job, plan, out);
    for range in &plan.ledger.soils {
        bring(job, plan, range, out);
    }
}

/// What each work lacks of subsoil, bank: of what one feature lacks in a stage, the last of its
/// volumes lack first, for once the pile is used up all that follows is brought in.
fn brought(plan: &Plan, compacted: f64) -> Vec<f64> {
    let volumes = &plan.volumes.by_feature;
    let mut lacks: Vec<_> = plan
        .ledger
        .shortages
        .iter()
        .filter(|s| s.soil == SoilKind::Subsoil)
        .map(|s| (s, s.bank_m3))
        .collect();
    let mut of = |v: &FeatureVolume| {
        let same =
            |(s, _): &&mut (&crate::plan::Shortage, f64)| s.feature == v.name && s.stage == v.stage;
        let Some((_, left)) = lacks.iter_mut().find(same) else {
            return 0.0;
        };
        let takes = account::turn(v, compacted).takes[SoilKind::Subsoil as usize];
        let lack = takes.min(*left);
        *left -= lack;
        lack
    };
    let mut list: Vec<f64> = volumes.iter().rev().map(&mut of).collect();
    list.reverse();
    list
}

fn in_stage(stage: &str) -> String {
    if stage.is_empty() {
        String::new()
    } else {
        format!(", stage {stage}")
    }
}

/// How much of it is brought in, where it is only a part.
fn part_brought(say: Say, bank: f64, brought: f64, loose: f64) -> String {
    if brought > SPECK && brought < bank - SPECK {
        format!("; of it {} loose brought in", say.volume(brought * loose))
    } else {
        String::new()
    }
}

/// Topsoil put back on bare ground in the end.
fn put_back(job: &Job, plan: &Plan, out: &mut Takeoff) {
    let say = Say(job.unit);
    let soil = &job.soil.topsoil;
    let lacks: f64 = plan
        .ledger
        .shortages
        .iter()
        .filter(|s| s.soil == SoilKind::Topsoil && s.feature == BARE)
        .map(|s| s.bank_m3)
        .sum();
    for stage in &plan.ledger.stages {
        for e in stage
            .entries
            .iter()
            .filter(|e| e.place == BARE && e.soil == SoilKind::Topsoil && e.deed == Deed::Placed)
        {
            let mut item = Item::new(Trade::Soil, format!("{}, settled", soil.name), BARE)
                .net(Of::Volume, e.volume_m3, 0.0)
                .how(format!(
                    "put back on what lies bare in the end{}: {} bank, {} loose{}",
                    in_stage(&stage.name),
                    say.volume(e.bank_m3),
                    say.volume(e.bank_m3 * soil.loose),
                    part_brought(say, e.bank_m3, lacks, soil.loose)
                ));
            item.brought_in = Some((lacks / e.bank_m3).clamp(0.0, 1.0));
            out.items.push(item);
        }
    }
}

/// What has to be brought in of one kind, in truck loads.
fn bring(job: &Job, plan: &Plan, range: &SoilRange, out: &mut Takeoff) {
    let say = Say(job.unit);
    let mut stages: Vec<(&str, f64, f64)> = Vec::new();
    for stage in &plan.ledger.stages {
        let entries = stage.entries.iter();
        let (mut loose, mut bank) = (0.0, 0.0);
        for e in entries.filter(|e| e.soil == range.kind && e.deed == Deed::BroughtIn) {
            loose += e.volume_m3;
            bank += e.bank_m3;
        }
        if loose > SPECK {
            stages.push((&stage.name, loose, bank));
        }
    }
    if stages.is_empty() {
        return;
    }
    let mut places: Vec<&str> = Vec::new();
    for s in plan
        .ledger
        .shortages
        .iter()
        .filter(|s| s.soil == range.kind)
    {
        if !places.contains(&s.feature.as_str()) {
            places.push(&s.feature);
        }
    }
    let loose: f64 = stages.iter().map(|s| s.1).sum();
    let bank: f64 = stages.iter().map(|s| s.2).sum();
    let each = load(&job.soil, range.loose_density_kg_m3).max(1e-6);
    let when: Vec<String> = stages
        .iter()
        .filter(|s| !s.0.is_empty())
        .map(|(name, loose, _)| format!("{} in stage {name}", say.volume(*loose)))
        .collect();
    let when = if when.is_empty() {
        String::new()
    } else {
        format!("; {}", when.join(", "))
    };
    out.items.push(
        Item::new(
            Trade::Soil,
            format!("{} to bring in, loose", range.name),
            places.join(", "),
        )
        .net(Of::Volume, loose, 0.0)
        .by_lot(each)
        .how(format!(
            "what the works lack as the soil's ledger has it, {} bank{when}; {} truck loads of {} loose",
            say.volume(bank),
            stages.iter().map(|s| loads(s.1, each)).sum::<u32>(),
            say.volume(each)
        )),
    );
}
