//! What the water does as JSON: SI units, the plan's own records. `KEYS.md` documents the keys.

use serde_json::{Value, json};

use crate::plan::{Closer, Plan};

pub fn water_json(plan: &Plan, closer: &Closer) -> Value {
    let mut value = json!(plan.flow);
    if let Value::Object(map) = &mut value {
        map.insert("storage".into(), json!(closer.storage));
        map.insert("brims".into(), json!(closer.brims));
        map.insert("overflows".into(), json!(closer.overflows));
        let all: Vec<_> = plan.findings.iter().chain(&closer.findings).collect();
        map.insert("findings".into(), json!(all));
    }
    value
}
