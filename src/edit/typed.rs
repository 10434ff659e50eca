//! Between what a person types into a cell and what stands in the job's text.
//!
//! A cell shows text without its quotation marks. Whatever is typed is kept, if need be as quoted
//! text that the job then complains about: so the job's text stays readable as a whole, and the
//! complaint is about exactly that cell.

use crate::edit::find::plain;
use crate::job::Form;
use crate::job::tree::{self, Kind, Node};

/// What a cell shows for a written value.
pub fn shown(form: &Form, node: &Node, text: &str) -> String {
    let node = plain(node);
    match &node.kind {
        Kind::Text(inside) if !matches!(form, Form::Level | Form::Elevation | Form::Crest) => {
            inside.to_string()
        }
        // "98 ft" is a length, and shown as one; "98" is refused by the reader and keeps its marks.
        Kind::Text(inside) if !crate::units::is_bare_number(inside) => inside.to_string(),
        Kind::Word("None") => String::new(),
        _ => text.get(node.span.clone()).unwrap_or_default().to_string(),
    }
}

/// What is written for a typed cell. `names` are those that a point may be called by.
pub fn written(form: &Form, typed: &str) -> String {
    let cell = typed.trim();
    match form {
        // Free text keeps its blanks.
        Form::Text => quoted(typed),
        Form::Name(_) | Form::Shot | Form::Refers(_) => quoted(cell),
        Form::YesNo => match cell.to_lowercase().as_str() {
            "true" | "yes" | "y" => "true".into(),
            "false" | "no" | "n" => "false".into(),
            _ => quoted(cell),
        },
        Form::Words(words) => words
            .iter()
            .find(|word| word.eq_ignore_ascii_case(cell))
            .map_or_else(|| word_or_text(cell), |word| (*word).to_string()),
        Form::SoilClass => value(cell, |_| true).unwrap_or_else(|| word_or_text(cell)),
        Form::Length { .. }
        | Form::Batter
        | Form::Gradient
        | Form::Volume
        | Form::Weight
        | Form::Density
        | Form::Flow
        | Form::LipFlow
        | Form::Rain
        | Form::Speed
        | Form::Number { .. } => {
            value(cell, |kind| matches!(kind, Kind::Number(_))).unwrap_or_else(|| quoted(cell))
        }
        Form::Elevation | Form::Level | Form::Crest => value(cell, |kind| {
            matches!(
                kind,
                Kind::Number(_)
                    | Kind::Text(_)
                    | Kind::Tuple { name: Some(_), .. }
                    | Kind::Record { name: Some(_), .. }
            )
        })
        .unwrap_or_else(|| quoted(cell)),
        Form::Point => bracketed(cell).unwrap_or_else(|| quoted(cell)),
        Form::Place => bracketed(cell)
            .or_else(|| taped(cell))
            .unwrap_or_else(|| quoted(cell)),
        Form::Corner | Form::Record(_) | Form::EdgeBatter | Form::CurvePoint => {
            bracketed(cell).unwrap_or_else(|| quoted(cell))
        }
        Form::Fall => falling(cell)
            .or_else(|| bracketed(cell))
            .unwrap_or_else(|| quoted(cell)),
        Form::Allowed => bracketed(cell).unwrap_or_else(|| quoted(cell)),
        Form::List { .. } => {
            value(cell, |kind| matches!(kind, Kind::List(_))).unwrap_or_else(|| quoted(cell))
        }
    }
}

/// The cell as it stands, if it is one RON value of an allowed kind.
fn value(cell: &str, allowed: impl Fn(&Kind) -> bool) -> Option<String> {
    let node = tree::read(cell).ok()?;
    // Comments beside the value would swallow what follows.
    (node.span == (0..cell.len()) && allowed(&node.kind) && is_flat(&node))
        .then(|| cell.to_string())
}

/// Whether a value is nested no deeper than any of a job, so that it can stand anywhere in one.
pub fn is_flat(node: &Node) -> bool {
    fn within(node: &Node, left: usize) -> bool {
        let inside = |node: &Node| left > 0 && within(node, left - 1);
        match &node.kind {
            Kind::List(items) | Kind::Tuple { items, .. } => items.iter().all(inside),
            Kind::Record { fields, .. } => fields.iter().all(|f| inside(&f.value)),
            _ => true,
        }
    }
    within(node, 12)
}

/// A value in brackets, or the pair `3.5, 12'-6` without them.
fn bracketed(cell: &str) -> Option<String> {
    let brackets = |kind: &Kind| matches!(kind, Kind::Tuple { .. } | Kind::Record { .. });
    if let Some(whole) = value(cell, brackets) {
        return Some(whole);
    }
    let any = Form::Length {
        least: None,
        above: false,
    };
    let (x, y) = cell.split_once(',')?;
    let number = |part: &str| crate::units::parse_length(part, crate::job::Unit::Foot).is_ok();
    (number(x) && number(y)).then(|| format!("({}, {})", written(&any, x), written(&any, y)))
}

/// A fall as it is called out: `2, 74, 46` is `(2, (74, 46))`, so many percent toward a place or a
/// point that has a name.
fn falling(cell: &str) -> Option<String> {
    let (percent, to) = cell.split_once(',')?;
    let percent = value(percent.trim(), |kind| matches!(kind, Kind::Number(_)))?;
    let to = to.trim();
    let is_name = !to.is_empty() && !to.contains([',', '(', ')', '"']);
    let to = bracketed(to).or_else(|| is_name.then(|| quoted(to)))?;
    Some(format!("({percent}, {to})"))
}

/// A placing as it is called out, with commas: `A, 12.5, -3` is an `Offset`, `P1, 14.2, P2, 9.75, L`
/// a `Tie`, `P3, P2, 37.5, 21` a `Ray`.
fn taped(cell: &str) -> Option<String> {
    let any = Form::Length {
        least: None,
        above: false,
    };
    let parts: Vec<&str> = cell.split(',').map(str::trim).collect();
    if parts.iter().any(|part| part.is_empty()) || cell.contains(['(', ')', '"']) {
        return None;
    }
    let name = |part: &str| quoted(part);
    let length = |part: &str| written(&any, part);
    Some(match parts.as_slice() {
        [a, along, off] => format!("Offset({}, {}, {})", name(a), length(along), length(off)),
        [at, toward, angle, off] => format!(
            "Ray({}, {}, {}, {})",
            name(at),
            name(toward),
            length(angle),
            length(off)
        ),
        [a, from_a, b, from_b, side] => {
            let side = match side.to_lowercase().as_str() {
                "l" => "Left".into(),
                "r" => "Right".into(),
                _ => written(&Form::Words(&["Left", "Right"]), side),
            };
            format!(
                "Tie({}, {}, {}, {}, {side})",
                name(a),
                length(from_a),
                name(b),
                length(from_b)
            )
        }
        _ => return None,
    })
}

fn word_or_text(cell: &str) -> String {
    value(cell, |kind| matches!(kind, Kind::Word(_))).unwrap_or_else(|| quoted(cell))
}

/// Text in quotation marks.
pub fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() => out.push_str(&format!("\\u{{{:x}}}", c as u32)),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const LENGTH: Form = Form::Length {
        least: None,
        above: false,
    };

    #[test]
    fn cells_become_values() {
        for (form, typed, wanted) in [
            (LENGTH, "4.60", "4.60"),
            (LENGTH, " 5 ft ", "\"5 ft\""),
            (LENGTH, "5'-3 1/2\"", "\"5'-3 1/2\\\"\""),
            (LENGTH, "1/2", "\"1/2\""),
            (LENGTH, "4.6.0", "\"4.6.0\""),
            (LENGTH, "4 // no", "\"4 // no\""),
            (LENGTH, "\"", "\"\\\"\""),
            (LENGTH, "", "\"\""),
            (Form::Shot, "12", "\"12\""),
            (Form::YesNo, "Yes", "true"),
            (Form::YesNo, "maybe", "\"maybe\""),
            (Form::Words(&["Left", "Right"]), "left", "Left"),
            (Form::Words(&["Left", "Right"]), "Lefft", "Lefft"),
            (Form::Elevation, "Shot(\"4\")", "Shot(\"4\")"),
            (Form::Elevation, "98 ft", "\"98 ft\""),
            (Form::Point, "12", "\"12\""),
            (Form::Point, "3.5, 12'-6", "(3.5, \"12'-6\")"),
            (Form::Place, "Offset(\"A\", 3, 4)", "Offset(\"A\", 3, 4)"),
            (Form::Place, "A, 3, -2'-6", "Offset(\"A\", 3, \"-2'-6\")"),
            (
                Form::Place,
                "P1, 9, peg 2, 8 ft, l",
                "Tie(\"P1\", 9, \"peg 2\", \"8 ft\", Left)",
            ),
            (
                Form::Place,
                "P1, 2, 37.5, 21",
                "Ray(\"P1\", \"2\", 37.5, 21)",
            ),
            (Form::Fall, "2, 74, 46", "(2, (74, 46))"),
            (Form::Fall, "(2, (74, 46))", "(2, (74, 46))"),
            (Form::Fall, "2, P3", "(2, \"P3\")"),
            (Form::Fall, "2, \"12\"", "\"2, \\\"12\\\"\""),
            (Form::CurvePoint, "1500, 15.5", "(1500, 15.5)"),
            (Form::Place, "A, 3,", "\"A, 3,\""),
            (Form::Place, "Offset(\"A\", 3", "\"Offset(\\\"A\\\", 3\""),
            (Form::Text, "a\\b\n", "\"a\\\\b\\n\""),
        ] {
            let out = written(&form, typed);
            assert_eq!(out, wanted, "{form:?} {typed}");
            let node = tree::read(&out).unwrap_or_else(|p| panic!("{out}: {p:?}"));
            assert_eq!(node.span, 0..out.len());
        }
    }
}
