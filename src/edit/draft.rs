//! A text being edited: primitive changes one after another, each found in the text as it then is.

use std::cell::OnceCell;
use std::sync::Arc;

use crate::edit::address::{Address, Step};
use crate::edit::find::{self, Found, chain, plain, table};
use crate::edit::names::Names;
use crate::edit::refused::Refused;
use crate::edit::script::Script;
use crate::edit::splice::{Members, Splice};
use crate::job::decode::Absent;
use crate::job::tree::{Kind, Node};
use crate::job::{Form, LARGEST};

/// A text and what has been changed in it.
#[derive(Debug)]
pub struct Draft {
    text: String,
    /// The text as it is now, read; empty after a change until somebody looks.
    script: OnceCell<Arc<Script>>,
    /// Whether nothing but values was put in the place of values.
    sound: bool,
    done: Vec<Splice>,
}

impl Draft {
    pub fn new(script: Arc<Script>) -> Draft {
        Draft {
            text: script.text().to_string(),
            sound: script.tree().is_ok(),
            script: OnceCell::from(script),
            done: Vec::new(),
        }
    }

    pub fn text(&self) -> &str {
        &self.text
    }

    pub fn script(&self) -> &Arc<Script> {
        self.script.get_or_init(|| {
            Arc::new(if self.sound {
                Script::walk(&self.text)
            } else {
                Script::read(&self.text)
            })
        })
    }

    pub fn names(&self) -> Result<&Names, Refused> {
        self.script().names()
    }

    /// The text, and the changes in the order in which they were made.
    pub fn finish(self) -> (Arc<Script>, Vec<Splice>) {
        (self.script().clone(), self.done)
    }

    /// Whether nothing but values was put in the place of values.
    pub fn is_sound(&self) -> bool {
        self.sound
    }

    /// Puts any text in the place of all.
    pub fn replace_all(&mut self, splice: Splice) -> Result<(), Refused> {
        self.sound = false;
        self.make(vec![splice])
    }

    /// Makes changes that were all found in the text as it is now, in its order.
    pub fn make(&mut self, splices: Vec<Splice>) -> Result<(), Refused> {
        // From the end, so that the places before stay right.
        for splice in splices.into_iter().rev() {
            if splice.old == splice.new {
                continue;
            }
            let length = self.text.len() + splice.new.len() - splice.old.len();
            if length as u64 > LARGEST {
                return Err(Refused::TooLong(length));
            }
            self.script.take();
            splice.apply(&mut self.text);
            self.done.push(splice);
        }
        Ok(())
    }

    /// Works something out from what stands at an address.
    pub fn at<T>(
        &self,
        address: &Address,
        look: impl FnOnce(&Node, &Found) -> T,
    ) -> Result<T, Refused> {
        let root = self.script().root()?;
        let found = find::find(root, address)?;
        Ok(look(root, &found))
    }

    pub fn words(&self, address: &Address) -> String {
        match self.script().tree() {
            Ok(root) => find::words(root, address),
            Err(_) => address.to_string(),
        }
    }

    /// Writes a value (RON) over what is there, or where it belongs.
    pub fn write(&mut self, address: &Address, value: &str) -> Result<(), Refused> {
        loop {
            let root = self.script().root()?;
            let all = chain(root, address)?;
            let last = all
                .last()
                .ok_or_else(|| Refused::NotThere(address.clone()))?;
            if let Some(node) = last.node {
                let splice = Splice::of(&self.text, node.span.clone(), value);
                return self.make(vec![splice]);
            }
            // The first thing on the way that is not written yet goes in: the value itself, or an
            // empty record for it to stand in.
            let gap = all.iter().position(|f| f.node.is_none()).unwrap_or(0);
            let (Some(record), Some(missing)) = (gap.checked_sub(1).map(|i| &all[i]), all.get(gap))
            else {
                return Err(Refused::NotThere(address.clone()));
            };
            let whole = gap + 1 == all.len();
            let new = if whole { value } else { "()" };
            if !whole && !matches!(missing.form, Form::Record(_)) {
                return Err(Refused::NotThere(address.clone()));
            }
            let splices = add_field(&self.text, record, missing, new)
                .ok_or_else(|| Refused::NotThere(address.clone()))?;
            self.make(splices)?;
            if whole {
                return Ok(());
            }
        }
    }

    /// Takes a field out, so that it comes to its default.
    pub fn clear(&mut self, address: &Address) -> Result<(), Refused> {
        let root = self.script().root()?;
        let all = chain(root, address)?;
        let [.., record, last] = all.as_slice() else {
            return Err(Refused::MustBeGiven("the job".into()));
        };
        let Some(field) = last.field else {
            return Err(Refused::MustBeGiven(find::words(root, address)));
        };
        if field.absent == Absent::Required {
            return Err(Refused::MustBeGiven(find::words(root, address)));
        }
        if last.node.is_none() {
            return Ok(());
        }
        let splices = take_field(&self.text, record, field.name)
            .ok_or_else(|| Refused::NotThere(address.clone()))?;
        self.make(splices)
    }

    /// Puts an item (RON) into a list; the list is begun if it is not written yet. Its lines are
    /// indented as the list is.
    pub fn insert(&mut self, list: &Address, index: usize, item: &str) -> Result<(), Refused> {
        self.put(list, index, item, false)
    }

    /// The same, the item's bytes left alone.
    pub fn insert_as_is(
        &mut self,
        list: &Address,
        index: usize,
        item: &str,
    ) -> Result<(), Refused> {
        self.put(list, index, item, true)
    }

    fn put(
        &mut self,
        list: &Address,
        index: usize,
        item: &str,
        as_is: bool,
    ) -> Result<(), Refused> {
        let written = self.at(list, |_, found| match (&found.form, found.node) {
            (Form::List { .. }, None) => Ok(false),
            (Form::List { .. }, Some(node)) if matches!(plain(node).kind, Kind::List(_)) => {
                Ok(true)
            }
            _ => Err(Refused::NotThere(list.clone())),
        })??;
        if !written {
            self.write(list, "[]")?;
        }
        let root = self.script().root()?;
        let found = find::find(root, list)?;
        let rows = matches!(&found.form, Form::List { of, .. } if matches!(**of, Form::Record(_)));
        let mut members = found
            .node
            .and_then(|node| Members::of(&self.text, plain(node)))
            .ok_or_else(|| Refused::NotThere(list.clone()))?;
        if index > members.spans.len() {
            return Err(Refused::NoSuchItem {
                what: find::words(root, list),
                has: members.spans.len(),
            });
        }
        members.as_is = as_is;
        let splices = members.insert(&self.text, index, item, rows);
        self.make(splices)
    }

    /// Takes an item out of a list, whatever the list needs.
    pub fn remove(&mut self, list: &Address, index: usize) -> Result<(), Refused> {
        let members = self.members(list)?;
        let splices = members.remove(&self.text, index);
        self.make(splices)
    }

    /// Moves an item of a list to another place in it.
    pub fn shift(&mut self, list: &Address, from: usize, to: usize) -> Result<(), Refused> {
        let members = self.members(list)?;
        if from.max(to) >= members.spans.len() {
            return Err(Refused::NoSuchItem {
                what: self.words(list),
                has: members.spans.len(),
            });
        }
        let splices = members.shift(&self.text, from, to);
        self.make(splices)
    }

    fn members(&self, list: &Address) -> Result<Members, Refused> {
        self.at(list, |_, found| {
            let node = found.node.map(plain)?;
            matches!(node.kind, Kind::List(_))
                .then(|| Members::of(&self.text, node))
                .flatten()
        })?
        .ok_or_else(|| Refused::NotThere(list.clone()))
    }

    /// How many items a list has; 0 if it is not written.
    pub fn count(&self, list: &Address) -> usize {
        self.at(list, |_, found| {
            found.node.map(plain).map_or(0, |node| match &node.kind {
                Kind::List(items) => items.len(),
                _ => 0,
            })
        })
        .unwrap_or(0)
    }

    /// What is written at an address.
    pub fn written(&self, address: &Address) -> Option<String> {
        self.at(address, |_, found| {
            found
                .node
                .map(|node| self.text[node.span.clone()].to_string())
        })
        .ok()
        .flatten()
    }

    /// The address with every name replaced by its number.
    pub fn numbered(&self, address: &Address) -> Result<Address, Refused> {
        self.at(address, |_, found| found.address.clone())
    }
}

/// Puts a field into a record, in the order of its table.
fn add_field(text: &str, record: &Found, missing: &Found, value: &str) -> Option<Vec<Splice>> {
    let node = plain(record.node?);
    let field = missing.field?;
    let names = field_names(record, node)?;
    let at = names.iter().position(|name| *name == field.name)?;
    let members = Members::of(text, node)?;
    let named = format!("{}: {value}", field.name);
    let section = record.address.steps().len() == 1 && matches!(record.form, Form::Record(_));
    match &node.kind {
        Kind::Record { fields, .. } => {
            let place = |name: &str| names.iter().position(|n| *n == name);
            // After the last field that comes before it in the table.
            let index = fields
                .iter()
                .rposition(|f| place(f.name).is_some_and(|p| p < at))
                .map_or(0, |i| i + 1);
            Some(members.insert(text, index, &named, section))
        }
        Kind::Tuple { items, .. } if items.len() == at => {
            Some(members.insert(text, at, value, false))
        }
        // Values without names cannot skip one: the names are written in.
        Kind::Tuple { items, .. } if items.len() < at => {
            let mut out = name_items(text, &members, &names);
            out.extend(members.insert(text, items.len(), &named, false));
            Some(out)
        }
        _ => None,
    }
}

fn take_field(text: &str, record: &Found, name: &str) -> Option<Vec<Splice>> {
    let node = plain(record.node?);
    let members = Members::of(text, node)?;
    match &node.kind {
        Kind::Record { fields, .. } => {
            let index = fields.iter().position(|f| f.name == name)?;
            Some(members.remove(text, index))
        }
        Kind::Tuple { items, .. } => {
            let names = field_names(record, node)?;
            let index = names.iter().position(|n| *n == name)?;
            let mut out = Vec::new();
            if index + 1 < items.len() {
                out = name_items(text, &members, &names);
                out.remove(index);
            }
            out.extend(members.remove(text, index));
            out.sort_by_key(|s| s.at);
            Some(out)
        }
        _ => None,
    }
}

fn field_names(record: &Found, node: &Node) -> Option<Vec<&'static str>> {
    let label = find::record_of(&record.form, Some(node))?.label;
    Some(table(label)?.fields.iter().map(|f| f.name).collect())
}

/// The names of the fields, written before values that had none.
fn name_items(text: &str, members: &Members, names: &[&str]) -> Vec<Splice> {
    members
        .spans
        .iter()
        .zip(names)
        .map(|(span, name)| Splice::of(text, span.start..span.start, format!("{name}: ")))
        .collect()
}

/// The list that an item is in, and its number.
pub fn in_list(address: &Address) -> Option<(Address, usize)> {
    match address.last() {
        Some(Step::Item(index)) => Some((address.parent()?, *index)),
        _ => None,
    }
}
