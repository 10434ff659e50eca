//! Empty rows: a new item of a list with nothing in it but what the program can know, ready to be
//! typed into. From the tables, so that a new kind of record has one by itself.

use crate::edit::find::{noun, table};
use crate::edit::names::{Group, Names};
use crate::edit::typed::quoted;
use crate::job::Form;
use crate::job::decode::Absent;

/// A new item of this list; `last`: the name of the item that is last so far.
pub fn item(list: &Form, names: &Names, last: Option<&str>) -> String {
    match list {
        Form::List { of, .. } => match **of {
            Form::Record(label) => record(label, names, last),
            _ => value(of, names, ""),
        },
        _ => quoted(""),
    }
}

fn value(form: &Form, names: &Names, wished: &str) -> String {
    match form {
        Form::Name(_) => match Group::of(form) {
            Some(group) => quoted(&names.free(group, wished)),
            None => quoted(wished),
        },
        Form::Text => quoted(wished),
        Form::Words(words) => words.first().map_or_else(|| quoted(""), |w| w.to_string()),
        Form::YesNo => "false".into(),
        Form::List { .. } => "[]".into(),
        Form::EdgeBatter => "(0, 1)".into(),
        Form::Record(label) => record(label, names, None),
        // To be typed: the text is kept whatever it is, and nothing is made up.
        _ => quoted(""),
    }
}

fn record(label: &str, names: &Names, last: Option<&str>) -> String {
    if label == "Sight" {
        return format!("({}, \"\")", quoted(&names.next_shot()));
    }
    let Some(table) = table(label) else {
        return "()".into();
    };
    let required: Vec<_> = table
        .fields
        .iter()
        .filter(|f| f.absent == Absent::Required)
        .collect();
    // Pegs are counted on: P3, P4.
    let wished = last.map_or_else(|| noun(label), str::to_owned);
    let written = |form: &Form| value(form, names, &wished);
    // Short rows are written without names, as the field book is.
    let short = matches!(label, "Peg" | "KnownPoint" | "Layer" | "Area" | "Line");
    if short && table.fields.len() >= required.len() {
        let values: Vec<String> = required.iter().map(|f| written(&f.form)).collect();
        return format!("({})", values.join(", "));
    }
    let fields: Vec<String> = required
        .iter()
        .map(|f| {
            let value = if matches!(f.form, Form::Record("Sight")) {
                "(\"\", \"\")".to_string()
            } else {
                written(&f.form)
            };
            format!("{}: {value}", f.name)
        })
        .collect();
    format!("({})", fields.join(", "))
}
