//! Forms: every record of a job as its fields, with all that a form or a table needs to let a
//! person fill them in. All of it comes from the tables that read the file, so a new field is in
//! the form by itself.

use std::ops::Range;

use crate::edit::address::Address;
use crate::edit::editor::Editor;
use crate::edit::find::{self, Found, children, name_of, noun, plain, record_of};
use crate::edit::typed;
use crate::job::decode::{Absent, FieldDoc};
use crate::job::tree::{Kind, Span};
use crate::job::{Form, Problem, Unit, Want};

/// One record as a form.
#[derive(Debug, Clone)]
pub struct Sheet {
    /// Where it stands.
    pub address: Address,
    /// The record's table in `surveys/README.md`: `Basin`, `Sight`, `Offset`.
    pub record: &'static str,
    /// The table's name in a sentence: `basin`, `shot`.
    pub noun: String,
    /// The name of this one, if it has one.
    pub name: Option<String>,
    /// What such a record is.
    pub about: &'static str,
    /// Every field of its table, in the table's order.
    pub fields: Vec<Cell>,
    /// What is wrong with the record as a whole.
    pub problems: Vec<Problem>,
    /// Its bytes in the text, if it is written.
    pub span: Option<Span>,
}

/// One field of a form.
#[derive(Debug, Clone)]
pub struct Cell {
    /// Where it stands, or would.
    pub address: Address,
    /// The field's name in a job file.
    pub name: &'static str,
    /// The kind of value, to choose an editor by.
    pub form: Form,
    /// The kind in words, as the reference prints it.
    pub kind: String,
    /// What a bare number means here: `ft`, `yd³`.
    pub unit: Option<&'static str>,
    /// What it comes to if nothing is written.
    pub default: Default,
    /// What the field means.
    pub meaning: &'static str,
    /// A value that could stand there, as a job file writes it.
    pub example: &'static str,
    /// What a cell shows: the text as typed, without quotation marks. Empty if nothing is written.
    pub shown: String,
    /// Whether it stands in the text.
    pub is_written: bool,
    /// Items, if it is a list that is written.
    pub count: Option<usize>,
    /// The table that its value follows, if it is a record: [`Editor::sheet`] opens it.
    pub record: Option<&'static str>,
    /// What is wrong with it, and inside it.
    pub problems: Vec<Problem>,
    /// Its bytes in the text, if it is written.
    pub span: Option<Span>,
}

/// What a field comes to if nothing is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Default {
    /// It must be given.
    Required,
    /// It is simply not there.
    Nothing,
    /// The same as if this were typed.
    Is(String),
}

/// Something of the job that has a name or a place in a list, for a list of contents.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Where it stands.
    pub address: Address,
    /// The record's table.
    pub record: &'static str,
    /// The table's name in a sentence.
    pub noun: String,
    /// Its own name.
    pub name: Option<String>,
}

impl Editor {
    /// The record at an address as a form; it need not be written yet (`site` of a new job).
    /// `None` if no record can stand there, or the text is broken off.
    pub fn sheet(&self, address: &Address) -> Option<Sheet> {
        let root = self.script.tree().ok()?;
        let found = find::find(root, address).ok()?;
        self.sheet_of(&found)
    }

    /// Some of the records of a list, with one look at the text: the rows of a table.
    pub fn rows(&self, list: &Address, range: Range<usize>) -> Vec<Sheet> {
        let Ok(root) = self.script.tree() else {
            return Vec::new();
        };
        let Ok(found) = find::find(root, list) else {
            return Vec::new();
        };
        let has = count(&found).unwrap_or(0);
        (range.start..range.end.min(has))
            .filter_map(|i| find::child(&found, &crate::edit::Step::Item(i)))
            .filter_map(|row| self.sheet_of(&row))
            .collect()
    }

    /// One value by its address, also of a list's item or a value in brackets.
    pub fn shown(&self, address: &Address) -> Option<String> {
        let root = self.script.tree().ok()?;
        let found = find::find(root, address).ok()?;
        found
            .node
            .map(|node| typed::shown(&found.form, node, self.text()))
    }

    /// How many items a list has; 0 if it is not written.
    pub fn count(&self, list: &Address) -> usize {
        let Ok(root) = self.script.tree() else {
            return 0;
        };
        find::find(root, list)
            .ok()
            .and_then(|found| count(&found))
            .unwrap_or(0)
    }

    /// The unit that bare numbers stand for.
    pub fn unit(&self) -> Unit {
        match self.shown(&Address::job().field("unit")).as_deref() {
            Some("Metre") => Unit::Metre,
            _ => Unit::Foot,
        }
    }

    /// What may be chosen for a value, as it would be typed: names, words. Empty: anything goes.
    pub fn choices(&self, form: &Form) -> Vec<String> {
        let names = |want: Want| match self.script.names() {
            Ok(names) => names.choices(want),
            Err(_) => Vec::new(),
        };
        let shots = || {
            names(Want::Elevation)
                .into_iter()
                .map(|n| format!("Shot({})", typed::quoted(&n)))
        };
        match form {
            Form::Refers(want) => names(*want),
            Form::Point => names(Want::Place),
            Form::Shot => match self.script.names() {
                Ok(names) => names.points(),
                Err(_) => Vec::new(),
            },
            Form::YesNo => vec!["true".into(), "false".into()],
            Form::Words(words) => words.iter().map(|w| w.to_string()).collect(),
            Form::SoilClass => crate::job::soil::READY
                .iter()
                .map(|ready| ready.0.to_string())
                .collect(),
            Form::Elevation => shots().collect(),
            Form::Crest => std::iter::once("Above(\"18 in\")".to_string())
                .chain(shots())
                .collect(),
            Form::Place => self.placings(),
            Form::Allowed => [
                "PerRootKm(\"12 mm\")",
                "PerSetup(\"3 mm\")",
                "Total(\"10 mm\")",
            ]
            .map(String::from)
            .to_vec(),
            Form::Level => names(Want::Wall)
                .into_iter()
                .map(|n| format!("BelowCap({}, \"4 in\")", typed::quoted(&n)))
                .chain(shots())
                .collect(),
            _ => Vec::new(),
        }
    }

    /// Every named thing of the job in the order of the text, shots among them only if asked for.
    pub fn contents(&self, shots: bool) -> Vec<Entry> {
        let mut out = Vec::new();
        if let Ok(root) = self.script.tree()
            && let Ok(job) = find::find(root, &Address::job())
        {
            for part in children(&job) {
                collect(&part, shots, &mut out);
            }
        }
        out
    }

    /// Where the thing of this name is: from a pick in the yard, or a finding, to its form. `record`
    /// is its table: `Sight`, `Basin`. The first one, if several share it.
    pub fn find_named(&self, record: &str, name: &str) -> Option<Address> {
        self.contents(record == "Sight")
            .into_iter()
            .find(|entry| entry.record == record && entry.name.as_deref() == Some(name))
            .map(|entry| entry.address)
    }

    /// A name for the next shot: one more than the number of the last one.
    pub fn next_shot(&self) -> String {
        match self.script.names() {
            Ok(names) => names.next_shot(),
            Err(_) => "1".into(),
        }
    }

    /// The ways of placing a point that this job has baselines and pegs for, their figures empty.
    fn placings(&self) -> Vec<String> {
        let Ok(names) = self.script.names() else {
            return Vec::new();
        };
        let q = typed::quoted;
        let mut out = vec!["(\"\", \"\")".to_string()];
        for baseline in names.choices(Want::Baseline) {
            out.push(format!("Offset({}, \"\", \"\")", q(&baseline)));
            out.push(format!("Grid({}, \"\", 0, 0)", q(&baseline)));
        }
        let points = names.choices(Want::Place);
        if let [a, b, ..] = points.as_slice() {
            out.push(format!("Tie({}, \"\", {}, \"\", Left)", q(a), q(b)));
            out.push(format!("Ray({}, {}, 0, \"\")", q(a), q(b)));
        }
        out
    }

    fn sheet_of(&self, found: &Found) -> Option<Sheet> {
        let record = record_of(&found.form, found.node)?;
        let span = found.node.map(|n| plain(n).span.clone());
        let fields: Vec<Cell> = record
            .fields
            .iter()
            .filter_map(|field| {
                let child = find::child(found, &crate::edit::Step::Field(field.name.into()))?;
                Some(self.cell(&child, field, span.as_ref()))
            })
            .collect();
        let inside = self.problems_in(span.as_ref());
        let problems = inside
            .into_iter()
            .filter(|p| !fields.iter().any(|f| f.problems.contains(p)))
            .collect();
        Some(Sheet {
            address: found.address.clone(),
            record: record.label,
            noun: noun(record.label),
            name: found
                .node
                .and_then(|n| name_of(&found.form, n))
                .map(str::to_string),
            about: record.about,
            fields,
            problems,
            span,
        })
    }

    fn cell(&self, found: &Found, field: &'static FieldDoc, record: Option<&Span>) -> Cell {
        let span = found.node.map(|n| n.span.clone());
        let mut problems = self.problems_in(span.as_ref());
        // What is missing is noted at the bracket of its record.
        if let (None, Some(record)) = (&span, record) {
            let must = format!("`{}` must be given", field.name);
            problems.extend(
                self.problems()
                    .iter()
                    .filter(|p| p.span.start == record.start && p.allowed.starts_with(&must))
                    .cloned(),
            );
        }
        Cell {
            address: found.address.clone(),
            name: field.name,
            form: field.form.clone(),
            kind: field.kind.clone(),
            unit: unit(&field.form, self.unit()),
            default: match field.absent {
                Absent::Required => Default::Required,
                Absent::None => Default::Nothing,
                Absent::Is(text) => Default::Is(unquoted(&field.form, text)),
            },
            meaning: field.meaning,
            example: field.example,
            shown: found
                .node
                .map(|node| typed::shown(&field.form, node, self.text()))
                .unwrap_or_default(),
            is_written: span.is_some(),
            count: count(found),
            record: record_of(&field.form, found.node).map(|r| r.label),
            problems,
            span,
        }
    }

    fn problems_in(&self, span: Option<&Span>) -> Vec<Problem> {
        let Some(span) = span else {
            return Vec::new();
        };
        self.problems()
            .iter()
            .filter(|p| span.start <= p.span.start && p.span.end <= span.end)
            .cloned()
            .collect()
    }
}

fn count(found: &Found) -> Option<usize> {
    match &plain(found.node?).kind {
        Kind::List(items) => Some(items.len()),
        _ => None,
    }
}

fn collect(found: &Found, shots: bool, out: &mut Vec<Entry>) {
    if let Some(record) = record_of(&found.form, found.node)
        && found.field.is_none()
    {
        if record.label == "Sight" && !shots {
            return;
        }
        let name = found.node.and_then(|n| name_of(&found.form, n));
        let is_place = matches!(found.form, Form::Point | Form::Place | Form::Corner);
        if !is_place && name.is_some() {
            out.push(Entry {
                address: found.address.clone(),
                record: record.label,
                noun: noun(record.label),
                name: name.map(str::to_string),
            });
        }
    }
    for part in children(found) {
        collect(&part, shots, out);
    }
}

fn unit(form: &Form, unit: Unit) -> Option<&'static str> {
    let foot = unit == Unit::Foot;
    Some(match form {
        Form::Length { .. } | Form::Elevation | Form::Level | Form::Crest => {
            if foot {
                "ft"
            } else {
                "m"
            }
        }
        Form::Volume if foot => "yd³",
        Form::Volume => "m³",
        Form::Weight if foot => "lb",
        Form::Weight => "kg",
        Form::Density if foot => "lb/yd³",
        Form::Density => "kg/m³",
        Form::Flow if foot => "gal/h",
        Form::Flow => "L/h",
        Form::LipFlow if foot => "gal/h/in",
        Form::LipFlow => "L/h/cm",
        Form::Rain if foot => "in/h",
        Form::Rain => "mm/h",
        Form::Speed if foot => "ft/s",
        Form::Speed => "m/s",
        _ => return None,
    })
}

/// A default as a cell would show it.
fn unquoted(form: &Form, text: &str) -> String {
    match crate::job::tree::read(text) {
        Ok(node) => typed::shown(form, &node, text),
        Err(_) => text.to_string(),
    }
}
