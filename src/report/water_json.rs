//! What the water does as JSON: SI units, the plan's own records. `KEYS.md` documents the keys.

use serde_json::{Value, json};

use crate::flow::Brim;
use crate::plan::Plan;

pub fn water_json(plan: &Plan, brims: &[Brim]) -> Result<Value, serde_json::Error> {
    let mut value = serde_json::to_value(&plan.flow)?;
    if let Value::Object(map) = &mut value {
        map.insert("brims".into(), serde_json::to_value(brims)?);
        map.insert(
            "findings".into(),
            plan.findings
                .iter()
                .map(|f| json!({ "severity": f.severity, "place": f.place, "at": f.at, "what": f.what, "remedy": f.remedy }))
                .collect(),
        );
    }
    Ok(value)
}
