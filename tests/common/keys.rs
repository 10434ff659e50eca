//! Keys of a command's JSON against what KEYS.md says of it.

#![allow(dead_code)] // each test file uses its own part

use std::collections::BTreeSet;

use serde_json::Value;

/// Paths of all keys, with [] for what is in a list of records.
pub fn given(value: &Value) -> BTreeSet<String> {
    let mut all = BTreeSet::new();
    walk(value, "", &mut all);
    all
}

fn walk(value: &Value, path: &str, into: &mut BTreeSet<String>) {
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                let path = if path.is_empty() {
                    key.clone()
                } else {
                    format!("{path}.{key}")
                };
                let first = value.as_array().and_then(|a| a.first());
                into.insert(if first.is_some_and(Value::is_object) {
                    format!("{path}[]")
                } else {
                    path.clone()
                });
                walk(value, &path, into);
            }
        }
        Value::Array(items) => {
            for item in items.iter().filter(|i| i.is_object()) {
                walk(item, &format!("{path}[]"), into);
            }
        }
        _ => {}
    }
}

/// Keys in the section of KEYS.md about this command.
pub fn documented(command: &str) -> BTreeSet<String> {
    include_str!("../../src/report/KEYS.md")
        .split("# What ")
        .find(|s| s.starts_with(&format!("`brimline {command} ")))
        .unwrap_or_else(|| panic!("no section of KEYS.md about {command}"))
        .lines()
        .filter_map(|l| Some(l.strip_prefix("| `")?.split_once('`')?.0.to_string()))
        .collect()
}
