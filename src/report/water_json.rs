//! What the water does as JSON: SI units, the plan's own records. `KEYS.md` documents the keys.

use serde_json::{Value, json};

use crate::flow::Closer;
use crate::plan::Plan;

pub fn water_json(plan: &Plan, closer: &Closer) -> Result<Value, serde_json::Error> {
    let mut value = serde_json::to_value(&plan.flow)?;
    if let Value::Object(map) = &mut value {
        map.insert("brims".into(), serde_json::to_value(&closer.brims)?);
        map.insert("overflows".into(), serde_json::to_value(&closer.overflows)?);
        map.insert(
            "findings".into(),
            plan.findings
                .iter()
                .chain(&closer.findings)
                .map(|f| json!({ "severity": f.severity, "place": f.place, "at": f.at, "what": f.what, "remedy": f.remedy }))
                .collect(),
        );
    }
    Ok(value)
}
