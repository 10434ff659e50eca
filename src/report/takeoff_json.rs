//! The list of materials as JSON: SI units; `KEYS.md` beside this file documents every key.

use serde_json::{Value, json};

use super::doubts::doubts;
use crate::findings::About;
use crate::job::Job;
use crate::plan::{Plan, Takeoff};

pub fn takeoff_json(job: &Job, plan: &Plan, takeoff: &Takeoff) -> Value {
    json!({
        "job": job.name,
        "items": takeoff.items.iter().map(|i| json!({
            "trade": i.trade,
            "what": i.what,
            "for": i.place,
            "of": i.net.map(|a| a.of),
            "net": i.net.map(|a| a.value),
            "waste_percent": i.waste_percent,
            "gross": i.gross.map(|a| a.value),
            "order": i.order.map(|o| json!({
                "of": o.of,
                "least": o.least,
                "most": o.most,
                "lot": o.lot,
            })),
            "brought_in": i.brought_in,
            "bore_m": i.bore_m,
            "how": i.how,
        })).collect::<Vec<_>>(),
        "sheets": takeoff.sheets,
        "notes": takeoff.notes,
        "findings": doubts(plan, &[About::Pump]),
    })
}
