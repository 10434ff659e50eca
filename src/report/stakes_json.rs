//! The stakes as JSON, SI. Keys: `KEYS.md`, section of `brimline stakes`.

use serde_json::{Value, json};

use super::doubts::doubts;
use crate::job::{Job, Side};
use crate::plan::{Flaw, Plan, Reading, Stakes};
use crate::stakes::Instrument;

pub fn stakes_json(job: &Job, plan: &Plan, all: &Stakes, level: Option<&Instrument>) -> Value {
    let readings = level.map(|l| all.readings(l.height));
    let rod = |r: Option<Reading>| match r {
        Some(Reading::Reads(rod)) => json!(rod),
        _ => Value::Null,
    };
    // How far out of reach: above the line of sight positive, below the foot of the rod negative.
    let missed = |r: Option<Reading>| match r {
        Some(Reading::AboveSight(by)) => json!(by),
        Some(Reading::BeyondRod(by)) => json!(-by),
        _ => Value::Null,
    };
    let list: Vec<Value> = all
        .list
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let p = &s.place;
            let r = readings.as_ref().and_then(|r| r.get(i));
            json!({
                "label": s.label,
                "work": s.work,
                "stage": s.stage,
                "name": s.name,
                "kind": s.kind,
                "part": s.part,
                "note": p.note,
                "at": p.at,
                "existing_m": p.existing,
                "before_m": p.before,
                "dig_m": p.dig,
                "base_m": p.base,
                "finish_m": p.finish,
                "cut_m": p.cut(),
                "tie": s.tie.as_ref().map(|t| json!({
                    "a": t.a,
                    "from_a_m": t.from_a,
                    "b": t.b,
                    "from_b_m": t.from_b,
                    "side": match t.side { Side::Left => "left", Side::Right => "right" },
                    "angle_deg": t.angle,
                    "error_m": t.error,
                    "flaw": t.flaw.map(|f| match f { Flaw::Angle => "angle", Flaw::Reach => "reach" }),
                })),
                "offset": s.offset.as_ref().map(|o| json!({
                    "baseline": o.baseline,
                    "along_m": o.along,
                    "offset_m": o.offset,
                })),
                "rod": r.map(|r| json!({
                    "ground_m": rod(r.ground),
                    "dig_m": rod(r.dig),
                    "base_m": rod(r.base),
                    "finish_m": rod(r.finish),
                })),
                "out_of_reach": r.map(|r| json!({
                    "ground_m": missed(r.ground),
                    "dig_m": missed(r.dig),
                    "base_m": missed(r.base),
                    "finish_m": missed(r.finish),
                })),
            })
        })
        .collect();
    json!({
        "job": job.name,
        "level": level.map(|l| json!({
            "benchmark": l.benchmark,
            "elevation_m": l.elevation,
            "backsight_m": l.backsight,
            "height_of_instrument_m": l.height,
        })),
        "tape_length_m": all.tape_length,
        "tape_error_m": all.tape_error,
        "rod_length_m": all.rod_length,
        "stakes": list,
        "findings": doubts(plan, &[]),
    })
}
