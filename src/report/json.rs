//! The plan as JSON: SI units, names that stay as they are. `KEYS.md` beside this file documents
//! every key; a test holds the two together.
//!
//! | key | what it holds |
//! | --- | --- |
//! | `job` | name, unit the job is written in, remarks |
//! | `survey` | the reduced field book: spots, closure, suspects |
//! | `ground` | the existing surface: triangles, area, lowest and highest elevation |
//! | `volumes` | soil between named surfaces, feature by feature |
//! | `soil` | the ledger: bank, loose, compacted, stage by stage |
//! | `water[]` | each body of water at its level |
//! | `findings[]` | what the plan noticed |
//! | `surfaces` | points and triangles of the three surfaces (on request) |
//! | `contours` | lines of equal elevation of the existing ground (on request) |
//!
//! A figure that the data does not support is `null`, never 0.

use serde_json::{Map, Value, json};

use crate::job::{Job, Unit};
use crate::plan::Plan;
use crate::terrain::{Surface, contours};

/// Parts that are only given on request.
#[derive(Debug, Clone, Copy, Default)]
pub struct Extras {
    pub surfaces: bool,
    /// Interval of the contours, metres.
    pub contours: Option<f64>,
}

pub fn json(job: &Job, plan: &Plan, extras: Extras) -> Value {
    let grounded = !plan.existing.triangles.is_empty();
    let ground = |value: f64| figure(plan, value);
    let s = &plan.survey;
    let soil = &plan.soil;
    let mut out = Map::new();
    out.insert(
        "job".into(),
        json!({
            "name": job.name,
            "unit": match job.unit { Unit::Foot => "foot", Unit::Metre => "metre" },
            "remarks": job.remarks,
        }),
    );
    out.insert(
        "survey".into(),
        json!({
            "spots": s.spots.len(),
            "ground_spots": s.spots.iter().filter(|p| p.ground).count(),
            "misclosure_m": s.misclosure,
            "allowed_m": s.allowed,
            "arithmetic_m": s.arithmetic,
            "closures": s.closures.iter().map(|c| json!({
                "from": c.from,
                "to": c.to,
                "setups": c.setups,
                "distance_m": c.distance,
                "misclosure_m": c.misclosure,
                "allowed_m": c.allowed,
                "closes": c.closes,
            })).collect::<Vec<_>>(),
            "suspects": s.suspects.iter().map(|p| json!({
                "shot": p.shot,
                "off_by_m": p.off_by,
                "slip": p.slip,
                "likely_rod_m": p.likely_rod,
            })).collect::<Vec<_>>(),
            "residuals": s.residuals.iter().map(|r| json!({
                "shot": r.shot,
                "distance_m": r.distance,
            })).collect::<Vec<_>>(),
        }),
    );
    out.insert("ground".into(), extent(plan, &plan.existing));
    out.insert("volumes".into(), volumes(plan));
    out.insert(
        "soil".into(),
        json!({
            "class": soil.class,
            "cut_bank_m3": ground(soil.cut_bank_m3),
            "cut_loose_m3": ground(soil.cut_loose_m3),
            "topsoil_bank_m3": ground(soil.topsoil_bank_m3),
            "topsoil_loose_m3": ground(soil.topsoil_loose_m3),
            "ramp_compacted_m3": ground(soil.ramp_compacted_m3),
            "ramp_bank_m3": ground(soil.ramp_bank_m3),
            "fill_compacted_m3": ground(soil.fill_compacted_m3),
            "fill_bank_m3": ground(soil.fill_bank_m3),
            "spoil_bank_m3": ground(soil.spoil_bank_m3),
            "spoil_loose_m3": ground(soil.spoil_loose_m3),
            "spoil_brought_bank_m3": ground(soil.spoil_brought_bank_m3),
            "short_bank_m3": ground(soil.short_bank_m3),
            "short_loose_m3": ground(soil.short_loose_m3),
            "short_at": soil.short_at,
            "short_feature": soil.short_feature,
            "topsoil_under_fill_m3": ground(soil.topsoil_under_fill_m3),
            "load_loose_m3": ground(soil.load_loose_m3),
            "load_by_payload": grounded.then_some(soil.load_by_payload),
            "truck_loads": grounded.then_some(soil.truck_loads),
            "short_loads": grounded.then_some(soil.short_loads),
            "barrow_loads": grounded.then_some(soil.barrow_loads),
            "stages": soil.stages.iter().map(|s| json!({
                "stage": s.stage,
                "cut_bank_m3": ground(s.cut_bank_m3),
                "fill_compacted_m3": ground(s.fill_compacted_m3),
                "redug_compacted_m3": ground(s.redug_compacted_m3),
                "on_hand_bank_m3": ground(s.on_hand_bank_m3),
            })).collect::<Vec<_>>(),
        }),
    );
    out.insert(
        "water".into(),
        plan.water
            .iter()
            .map(|w| {
                json!({
                    "name": w.name,
                    "level_m": w.level_m,
                    "area_m2": w.held.then_some(w.area_m2),
                    "volume_m3": w.held.then_some(w.volume_m3),
                    "depth_max_m": w.held.then_some(w.depth_max_m),
                    "freeboard_min_m": w.freeboard_min_m,
                    "freeboard_at": w.freeboard_at,
                    "spill_m": w.spill_m,
                    "spill_at": w.spill_at,
                    "held": w.held,
                })
            })
            .collect(),
    );
    out.insert(
        "findings".into(),
        plan.findings
            .iter()
            .map(|f| {
                json!({
                    "severity": f.severity,
                    "about": f.about,
                    "place": f.place,
                    "at": f.at,
                    "what": f.what,
                    "remedy": f.remedy,
                })
            })
            .collect(),
    );
    if extras.surfaces {
        out.insert(
            "surfaces".into(),
            json!({
                "existing": surface(&plan.existing),
                "dug": surface(&plan.dug),
                "finished": surface(&plan.finished),
            }),
        );
    }
    if let Some(interval) = extras.contours {
        let lines: Vec<Value> = contours(&plan.existing, interval)
            .into_iter()
            .map(|c| json!({ "elevation_m": c.elevation, "closed": c.closed, "line": c.line }))
            .collect();
        out.insert("contours".into(), Value::Array(lines));
    }
    Value::Object(out)
}

/// A figure that needs the ground: without it there is nothing to measure, and it is null.
fn figure(plan: &Plan, value: f64) -> Value {
    if !plan.existing.triangles.is_empty() && value.is_finite() {
        json!(value)
    } else {
        Value::Null
    }
}

/// How large a surface is and how high it lies.
pub(super) fn extent(plan: &Plan, surface: &Surface) -> Value {
    let bounds = surface.bounds();
    json!({
        "triangles": surface.triangles.len(),
        "area_m2": figure(plan, surface.plan_area()),
        "sloped_area_m2": figure(plan, surface.sloped_area()),
        "lowest_m": bounds.map(|b| b[0][2]),
        "highest_m": bounds.map(|b| b[1][2]),
    })
}

/// Soil between named surfaces, feature by feature.
pub(super) fn volumes(plan: &Plan) -> Value {
    let ground = |value: f64| figure(plan, value);
    let v = &plan.volumes;
    json!({
        "cut_bank_m3": ground(v.cut_bank_m3),
        "fill_compacted_m3": ground(v.fill_compacted_m3),
        "redug_compacted_m3": ground(v.redug_compacted_m3),
        "existing_to_dug_cut_m3": ground(v.existing_to_dug_cut_m3),
        "existing_to_dug_fill_m3": ground(v.existing_to_dug_fill_m3),
        "dug_to_finished_m3": ground(v.dug_to_finished_m3),
        "by_feature": v.by_feature.iter().map(|f| json!({
            "name": f.name,
            "kind": f.kind,
            "part": f.part,
            "stage": f.stage,
            "cut_bank_m3": ground(f.cut_bank_m3),
            "fill_compacted_m3": ground(f.fill_compacted_m3),
            "redug_compacted_m3": ground(f.redug_compacted_m3),
            "topsoil_bank_m3": ground(f.topsoil_bank_m3),
            "topsoil_under_fill_m3": ground(f.topsoil_under_fill_m3),
            "unfit_bank_m3": ground(f.unfit_bank_m3),
            "area_m2": ground(f.area_m2),
            "depth_max_m": ground(f.depth_max_m),
            "cut_at": f.cut_at,
            "fill_at": f.fill_at,
        })).collect::<Vec<_>>(),
    })
}

pub(super) fn surface(surface: &Surface) -> Value {
    json!({ "points": surface.points, "triangles": surface.triangles })
}
