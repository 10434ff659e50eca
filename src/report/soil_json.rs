//! Where the soil goes, as JSON: SI units. Keys: the section of `brimline soil` in `KEYS.md`.

use serde_json::{Map, Value, json};

use super::haul_json;
use crate::job::Job;
use crate::plan::{Haulage, PilePlace, Plan};

/// Each part of the command adds its keys here.
pub fn soil_json(job: &Job, plan: &Plan, places: &[PilePlace], haulage: &Haulage) -> Value {
    let mut out = Map::new();
    out.insert("job".into(), json!({ "name": job.name }));
    ledger(plan, &mut out);
    out.insert("pile_places".into(), json!(places));
    haul_json::carrying(&mut out, plan, haulage);
    let all: Vec<_> = plan.findings.iter().chain(&haulage.findings).collect();
    out.insert("findings".into(), json!(all));
    Value::Object(out)
}

fn ledger(plan: &Plan, out: &mut Map<String, Value>) {
    let l = &plan.ledger;
    out.insert("stages".into(), json!(l.stages));
    out.insert("piles".into(), json!(plan.piles));
    out.insert("soils".into(), json!(l.soils));
    out.insert("hauled_off".into(), json!(l.out));
    out.insert("brought_in".into(), json!(l.brought));
    out.insert("base_courses".into(), json!(plan.volumes.base_courses));
    out.insert("shortages".into(), json!(l.shortages));
}
