//! From an address to the value in the text, by the tables: which field, which kind, which bytes.

use std::sync::LazyLock;

use crate::edit::address::{Address, Step};
use crate::edit::refused::Refused;
use crate::job::Form;
use crate::job::decode::{FieldDoc, RecordDoc};
use crate::job::seen::Want;
use crate::job::soil;
use crate::job::tree::{Kind, Node};

static TABLES: LazyLock<Vec<RecordDoc>> = LazyLock::new(soil::records);

/// The table of a record.
pub fn table(label: &str) -> Option<&'static RecordDoc> {
    TABLES.iter().find(|record| record.label == label)
}

/// A value by its address.
#[derive(Debug, Clone)]
pub struct Found<'n, 'a> {
    /// The address with every name replaced by its number.
    pub address: Address,
    pub form: Form,
    /// Its line in the tables, if it is a field.
    pub field: Option<&'static FieldDoc>,
    /// What is written there; `None` if nothing is.
    pub node: Option<&'n Node<'a>>,
}

/// What stands at an address.
pub fn find<'n, 'a>(root: &'n Node<'a>, address: &Address) -> Result<Found<'n, 'a>, Refused> {
    chain(root, address).map(|mut all| all.pop().unwrap_or_else(|| whole(root)))
}

/// Everything on the way to an address: the job first, the value last.
pub fn chain<'n, 'a>(root: &'n Node<'a>, address: &Address) -> Result<Vec<Found<'n, 'a>>, Refused> {
    let mut all = vec![whole(root)];
    for step in address.steps() {
        let here = all.last().and_then(|found| child(found, step));
        all.push(here.ok_or_else(|| Refused::NotThere(address.clone()))?);
    }
    Ok(all)
}

fn whole<'n, 'a>(root: &'n Node<'a>) -> Found<'n, 'a> {
    Found {
        address: Address::job(),
        form: Form::Record("Job"),
        field: None,
        node: Some(root),
    }
}

/// The table that a written value follows, if it is a record.
pub fn record_of(form: &Form, node: Option<&Node>) -> Option<&'static RecordDoc> {
    if let Form::Record(label) = form {
        return table(label);
    }
    let (Kind::Tuple { name, .. } | Kind::Record { name, .. }) = &plain(node?).kind else {
        return None;
    };
    let allowed: &[&str] = match form {
        Form::Place | Form::Point => &["Xy", "Offset", "Tie", "Ray", "Grid"],
        Form::Corner => &["Xy"],
        Form::Level => &["BelowCap"],
        Form::SoilClass => &["SoilClass"],
        _ => &[],
    };
    let label = match (name, form) {
        (Some(name), _) => *name,
        (None, Form::Place | Form::Point | Form::Corner) => "Xy",
        (None, Form::SoilClass) => "SoilClass",
        _ => return None,
    };
    let label = allowed.iter().find(|known| **known == label)?;
    table(label)
}

/// `Some(x)` is `x`.
pub fn plain<'n, 'a>(node: &'n Node<'a>) -> &'n Node<'a> {
    match &node.kind {
        Kind::Tuple {
            name: Some("Some"),
            items,
        } if items.len() == 1 => &items[0],
        _ => node,
    }
}

pub fn child<'n, 'a>(of: &Found<'n, 'a>, step: &Step) -> Option<Found<'n, 'a>> {
    let node = of.node.map(plain);
    match step {
        Step::Field(name) => {
            let record = record_of(&of.form, node)?;
            let at = record.fields.iter().position(|f| f.name == name)?;
            let field = &record.fields[at];
            let value = node.and_then(|n| value_of(n, name, at));
            Some(Found {
                address: of.address.field(name),
                form: field.form.clone(),
                field: Some(field),
                node: value,
            })
        }
        Step::Item(index) => item(of, node?, *index),
        Step::Named(name) => {
            let Kind::List(items) = &node?.kind else {
                return None;
            };
            let Form::List { of: form, .. } = &of.form else {
                return None;
            };
            let index = items
                .iter()
                .position(|item| name_of(form, item).is_some_and(|n| n == name))?;
            item(of, node?, index)
        }
    }
}

fn item<'n, 'a>(of: &Found<'n, 'a>, node: &'n Node<'a>, index: usize) -> Option<Found<'n, 'a>> {
    let (items, form) = match (&node.kind, &of.form) {
        (Kind::List(items), Form::List { of, .. }) => (items, of.as_ref().clone()),
        (Kind::Tuple { name, items }, form) => (items, inner(form, *name, index)?),
        _ => return None,
    };
    Some(Found {
        address: of.address.item(index),
        form,
        field: None,
        node: Some(items.get(index)?),
    })
}

/// What stands in the brackets of a value that has no table of its own.
fn inner(form: &Form, name: Option<&str>, index: usize) -> Option<Form> {
    let any = Form::Length {
        least: None,
        above: false,
    };
    Some(match (form, name, index) {
        (Form::Elevation | Form::Level | Form::Crest, Some("Shot"), 0) => {
            Form::Refers(Want::Elevation)
        }
        (Form::Crest, Some("Above"), 0) => any,
        (Form::Allowed, Some(_), 0) => Form::Length {
            least: Some(0.0),
            above: true,
        },
        (Form::EdgeBatter, None, 0) => Form::Number {
            least: 0.0,
            most: 1e6,
        },
        (Form::EdgeBatter, None, 1) => Form::Batter,
        (Form::Fall, None, 0) => Form::Number {
            least: 0.0,
            most: 100.0,
        },
        (Form::Fall, None, 1) => Form::Point,
        (Form::CurvePoint, None, 0) => Form::Flow,
        (Form::CurvePoint, None, 1) => Form::Length {
            least: Some(0.0),
            above: false,
        },
        _ => return None,
    })
}

/// The value of a record's field, which stands in place `at` of its table.
pub fn value_of<'n, 'a>(record: &'n Node<'a>, name: &str, at: usize) -> Option<&'n Node<'a>> {
    match &record.kind {
        Kind::Record { fields, .. } => fields.iter().find(|f| f.name == name).map(|f| &f.value),
        Kind::Tuple { items, .. } => items.get(at),
        _ => None,
    }
}

/// The name that a record was given: its `name`, or for a sight what it goes to.
pub fn name_of<'n>(form: &Form, node: &'n Node<'_>) -> Option<&'n str> {
    let node = plain(node);
    let record = record_of(form, Some(node))?;
    let at = record
        .fields
        .iter()
        .position(|f| f.name == "name" || matches!(f.form, Form::Shot))?;
    match &value_of(node, record.fields[at].name, at)?.kind {
        Kind::Text(text) => Some(text),
        _ => None,
    }
}

/// What a record or an item is called in a sentence: its table's name in small letters.
pub fn noun(label: &str) -> String {
    match label {
        "Sight" => return "shot".into(),
        "NewWall" => return "wall".into(),
        "Line" => return "breakline".into(),
        "Xy" => return "place".into(),
        _ => {}
    }
    let mut out = String::new();
    for (i, c) in label.chars().enumerate() {
        if c.is_uppercase() && i > 0 {
            out.push(' ');
        }
        out.extend(c.to_lowercase());
    }
    out
}

/// Whether things of this table have a name, by which they are listed.
pub fn is_named(label: &str) -> bool {
    let name = |f: &FieldDoc| f.name == "name" || matches!(f.form, Form::Shot);
    table(label).is_some_and(|record| record.fields.iter().any(name))
}

/// What one item of a list is called.
pub fn item_noun(list: &Form) -> String {
    match list {
        Form::List { of, closed, .. } => match of.as_ref() {
            Form::Point if *closed => "corner".into(),
            Form::Point => "point".into(),
            Form::Record(label) => noun(label),
            Form::EdgeBatter => "edge batter".into(),
            Form::Elevation => "elevation".into(),
            _ => "entry".into(),
        },
        _ => "part".into(),
    }
}

/// The address in words: `corner 3 of pond`, `rod of shot 12`.
pub fn words(root: &Node, address: &Address) -> String {
    let Ok(all) = chain(root, address) else {
        return address.to_string();
    };
    let mut parts: Vec<String> = Vec::new();
    for (i, found) in all.iter().enumerate().rev() {
        let before = i.checked_sub(1).map(|b| &all[b]);
        let named = match (&found.form, found.node) {
            (Form::Record("Job"), _) | (_, None) => None,
            (Form::Record("Stage"), Some(node)) => {
                name_of(&found.form, node).map(|name| format!("stage \"{name}\""))
            }
            (Form::Record(label @ ("Sight" | "Setup")), Some(node)) if found.field.is_none() => {
                name_of(&found.form, node).map(|name| format!("{} {name}", noun(label)))
            }
            (Form::Record(_), Some(node)) if found.field.is_none() => {
                name_of(&found.form, node).map(|name| format!("\"{name}\""))
            }
            _ => None,
        };
        if let Some(name) = named {
            parts.push(name);
            break;
        }
        match (found.address.last(), before) {
            (Some(Step::Item(index)), Some(list)) => {
                parts.push(format!("{} {}", item_noun(&list.form), index + 1));
            }
            (Some(Step::Field(name)), Some(of)) => {
                // "corner 3 of pond", not "corner 3 of outline of pond".
                let said = matches!(found.form, Form::List { .. }) && i + 1 < all.len();
                let section = of.address.steps().is_empty() && i + 1 < all.len();
                if !said && !section {
                    parts.push(name.replace('_', " "));
                }
            }
            _ => {}
        }
    }
    parts.retain(|part| !part.is_empty());
    if parts.is_empty() {
        "the job".into()
    } else {
        parts.join(" of ")
    }
}

/// The deepest value whose bytes hold this one.
pub fn at_offset(root: &Node, offset: usize) -> Address {
    let mut here = whole(root);
    while let Some(next) = children(&here)
        .into_iter()
        .find(|c| c.node.is_some_and(|n| n.span.contains(&offset)))
    {
        here = next;
    }
    here.address
}

/// Everything that is written directly inside a value.
pub fn children<'n, 'a>(of: &Found<'n, 'a>) -> Vec<Found<'n, 'a>> {
    let Some(node) = of.node.map(plain) else {
        return Vec::new();
    };
    if let Some(record) = record_of(&of.form, Some(node)) {
        return record
            .fields
            .iter()
            .filter_map(|field| child(of, &Step::Field(field.name.to_string())))
            .filter(|found| found.node.is_some())
            .collect();
    }
    match &node.kind {
        Kind::List(items) | Kind::Tuple { items, .. } => (0..items.len())
            .filter_map(|index| child(of, &Step::Item(index)))
            .collect(),
        _ => Vec::new(),
    }
}
