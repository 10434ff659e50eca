//! The way in, hauls and ramps for machines, SI; keys in `KEYS.md`.

use serde_json::{Map, Value, json};

use crate::plan::{Haulage, Plan};

pub fn carrying(out: &mut Map<String, Value>, plan: &Plan, haulage: &Haulage) {
    let mut put = |key: &str, value: Result<Value, serde_json::Error>| {
        out.insert(key.into(), value.unwrap_or(Value::Null));
    };
    put("access", serde_json::to_value(&plan.access));
    put("ways_in", serde_json::to_value(&haulage.ways_in));
    put("haul", serde_json::to_value(&haulage.hauls));
    put("uncarried", serde_json::to_value(&haulage.uncarried));
    put("carriers", serde_json::to_value(&haulage.carriers));
    put("haul_models", serde_json::to_value(&haulage.models));
    put("haul_cell_m", Ok(json!(haulage.cell_m)));
    put("ramp", serde_json::to_value(haulage.ramps.first()));
    put("ramps", serde_json::to_value(&haulage.ramps));
    let found = haulage.found.as_ref().map(|f| {
        let mut value = serde_json::to_value(&f.found).unwrap_or(Value::Null);
        if let Value::Object(map) = &mut value {
            map.insert("saving_m3".into(), json!(f.saving_m3));
            map.insert("not_compared".into(), json!(f.not_compared));
            map.insert("own".into(), json!(f.own));
            map.insert("cell_m".into(), json!(f.cell_m));
            map.insert("states".into(), json!(f.states));
            map.insert("millis".into(), json!(f.millis));
        }
        value
    });
    put("ramp_found", Ok(json!(found)));
}
