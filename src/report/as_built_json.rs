//! The as-built visits as JSON, SI. Keys: `KEYS.md`, section of `brimline asbuilt`.

use serde_json::{Value, json};

use super::as_built::record;
use crate::job::{Against, Job, Walls};
use crate::plan::Built;

pub fn as_built_json(job: &Job, visits: &[Built]) -> Value {
    let list: Vec<Value> = visits
        .iter()
        .map(|v| {
            let shots: Vec<Value> = v
                .shots
                .iter()
                .map(|s| {
                    json!({
                        "shot": s.name,
                        "at": s.at,
                        "elevation_m": s.elevation,
                        "existing_m": s.existing,
                        "design_m": s.design,
                        "thing": s.thing,
                        "kind": s.kind,
                        "part": s.part,
                        "over_m": s.over,
                        "square_m": s.square,
                        "tolerance_m": s.tolerance,
                        "verdict": s.verdict,
                        "misread": s.slip,
                    })
                })
                .collect();
            json!({
                "stage": v.stage,
                "date": v.date,
                "against": match v.against { Against::Dug => "dug", Against::Finished => "finished" },
                "walls": match v.walls {
                    Walls::Built => "built",
                    Walls::Trench => "trench",
                    Walls::Base => "base",
                },
                "levels": v.trust,
                "misclosure_m": v.misclosure,
                "allowed_m": v.allowed,
                "accepted": v.accepted(),
                "record": record(v, job.unit),
                "shots": shots,
                "volumes": v.volumes,
                "map": {
                    "points": v.map.points,
                    "square_m": v.map.square,
                    "triangles": v.map.triangles,
                    "allowed_m": v.map.allowed,
                },
                "findings": v.findings,
            })
        })
        .collect();
    json!({ "job": job.name, "visits": list })
}
