//! The balance of soil over the stages: bank, loose and compacted, topsoil apart. m³.
//!
//! All soil on hand is counted in bank measure: what a cut frees, what a fill takes (its compacted
//! volume divided by the class's compaction factor), and what comes back when placed soil is dug
//! again. Topsoil and unfit soil are kept apart and never counted as fill; unfit soil is left over.
//! What is missing at the worst moment is taken to be brought in, so it is there at the end as well.

use crate::job::Soil;
use crate::plan::{FeatureVolume, Kind, SoilBalance, StageSoil};

pub fn balance(soil: &Soil, volumes: &[FeatureVolume]) -> SoilBalance {
    let class = &soil.class;
    let mut on_hand = 0.0f64;
    let mut lowest = 0.0f64;
    let mut unfit = 0.0f64;
    let mut stages: Vec<StageSoil> = Vec::new();
    let mut b = SoilBalance {
        class: class.name.clone(),
        ..SoilBalance::default()
    };
    for v in volumes {
        let taken = v.fill_compacted_m3 / class.compacted;
        on_hand += v.cut_bank_m3 - v.topsoil_bank_m3 - v.unfit_bank_m3
            + v.redug_compacted_m3 / class.compacted
            - taken;
        unfit += v.unfit_bank_m3;
        if on_hand < lowest - 1e-9 {
            if lowest >= -1e-9 {
                b.short_at = v.stage.clone();
                b.short_feature = v.name.clone();
            }
            lowest = on_hand;
        }
        b.cut_bank_m3 += v.cut_bank_m3;
        b.topsoil_bank_m3 += v.topsoil_bank_m3;
        b.topsoil_under_fill_m3 += v.topsoil_under_fill_m3;
        b.fill_compacted_m3 += v.fill_compacted_m3;
        if v.kind == Kind::Ramp {
            b.ramp_compacted_m3 += v.fill_compacted_m3;
        }
        match stages.last_mut() {
            Some(s) if s.stage == v.stage => {
                s.cut_bank_m3 += v.cut_bank_m3;
                s.fill_compacted_m3 += v.fill_compacted_m3;
                s.redug_compacted_m3 += v.redug_compacted_m3;
                s.on_hand_bank_m3 = on_hand;
            }
            _ => stages.push(StageSoil {
                stage: v.stage.clone(),
                cut_bank_m3: v.cut_bank_m3,
                fill_compacted_m3: v.fill_compacted_m3,
                redug_compacted_m3: v.redug_compacted_m3,
                on_hand_bank_m3: on_hand,
            }),
        }
    }
    b.cut_loose_m3 =
        (b.cut_bank_m3 - b.topsoil_bank_m3) * class.loose + b.topsoil_bank_m3 * soil.topsoil.loose;
    b.topsoil_loose_m3 = b.topsoil_bank_m3 * soil.topsoil.loose;
    b.ramp_bank_m3 = b.ramp_compacted_m3 / class.compacted;
    b.fill_bank_m3 = b.fill_compacted_m3 / class.compacted;
    b.short_bank_m3 = 0.0 - lowest;
    b.short_loose_m3 = b.short_bank_m3 * class.loose;
    b.spoil_bank_m3 = (on_hand - lowest).max(0.0) + unfit;
    b.spoil_loose_m3 = b.spoil_bank_m3 * class.loose;
    b.spoil_brought_bank_m3 = (b.spoil_bank_m3 - unfit).min(b.short_bank_m3);
    b.load_loose_m3 = load(soil, class.loose_density);
    b.load_by_payload = b.load_loose_m3 < soil.truck;
    b.truck_loads = loads(b.spoil_loose_m3, b.load_loose_m3);
    b.short_loads = loads(b.short_loose_m3, b.load_loose_m3);
    b.barrow_loads = loads(b.cut_loose_m3, soil.barrow);
    b.stages = stages;
    b
}

/// Loose volume of one truck load of a soil of this loose density (kg/m³), by room or by weight.
pub fn load(soil: &Soil, loose_density: f64) -> f64 {
    fits(soil.truck, soil.truck_payload, loose_density)
}

/// Loose volume that fills this room, or weighs as much as may be carried (kg).
pub fn fits(room: f64, payload: f64, loose_density: f64) -> f64 {
    if loose_density > 0.0 && payload > 0.0 {
        room.min(payload / loose_density)
    } else {
        room
    }
}

/// How many loads of `each` a loose volume makes; rounding does not make it one more.
pub fn loads(loose: f64, each: f64) -> u32 {
    if each > 0.0 && loose > 1e-9 {
        (loose / each - 1e-9).ceil().min(f64::from(u32::MAX)) as u32
    } else {
        0
    }
}
