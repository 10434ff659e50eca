//! Making an edit in a draft: what each command changes, and what has to change with it.

use crate::edit::address::{Address, Step};
use crate::edit::draft::{Draft, in_list};
use crate::edit::edit::Edit;
use crate::edit::find::{self, Found, children, name_of, plain};
use crate::edit::known::Known;
use crate::edit::names::{self, Group};
use crate::edit::refused::Refused;
use crate::edit::splice::Splice;
use crate::edit::{blank, length, part, points, template, typed};
use crate::job::Form;
use crate::job::decode::Absent;
use crate::job::tree::{self, Kind, Node};
use crate::units::LONGEST;

/// Makes an edit; what was done, in words for a menu.
pub fn make(draft: &mut Draft, edit: &Edit, known: &Known) -> Result<String, Refused> {
    match edit {
        Edit::Type { at, text } => type_in(draft, at, text),
        Edit::Write { at, value } => {
            checked_value(value)?;
            let label = format!("set {}", draft.words(at));
            draft.write(at, value)?;
            Ok(label)
        }
        Edit::Clear { at } => {
            let label = format!("cleared {}", draft.words(at));
            draft.clear(at)?;
            Ok(label)
        }
        Edit::Insert { list, index, item } => {
            let (of, span, last) = draft.at(list, |_, found| {
                let last = children(found).pop();
                let last = last.and_then(|c| name_of(&c.form, c.node?).map(str::to_string));
                let span = found.node.map(|n| n.span.clone());
                (found.form.clone(), span, last)
            })?;
            match item {
                Some(item) => {
                    checked_value(item)?;
                    draft.insert_as_is(list, *index, item)?;
                }
                None => {
                    let names = draft.names()?;
                    let names = span.map_or(names, |span| names.within(&span));
                    let new = blank::item(&of, names, last.as_deref());
                    draft.insert(list, *index, &new)?;
                }
            }
            points::inserted(draft, list, *index)?;
            let what = find::item_noun(&of);
            let name = draft.words(&list.item(*index));
            Ok(if name.starts_with(&what) {
                format!("added {name}")
            } else {
                format!("added {what} {name}")
            })
        }
        Edit::AddPoint { list, index, at } => {
            let value = points::pair(*at, draft_unit(draft))?;
            draft.insert(list, *index, &value)?;
            points::inserted(draft, list, *index)?;
            Ok(format!("added {}", draft.words(&list.item(*index))))
        }
        Edit::Delete { at } => delete(draft, at),
        Edit::Copy { at } => copy(draft, at),
        Edit::Shift { at, to } => {
            let at = draft.numbered(at)?;
            let (list, from) = in_list(&at).ok_or_else(|| Refused::NotThere(at.clone()))?;
            points::may_change_order(draft, &list)?;
            let label = format!("moved {} to place {}", draft.words(&at), to + 1);
            points::shifting(draft, &list, from, *to)?;
            draft.shift(&list, from, *to)?;
            Ok(label)
        }
        Edit::Rename { at, name } => rename(draft, at, name),
        Edit::Move { at, to } => {
            let label = format!("moved {}", draft.words(at));
            points::move_to(draft, at, *to, known)?;
            Ok(label)
        }
        Edit::MoveBy { at, by } => {
            let label = format!("moved {}", draft.words(at));
            points::move_by(draft, at, *by, known)?;
            Ok(label)
        }
        Edit::Length { at, metres } => {
            let label = format!("set {}", draft.words(at));
            let value = new_length(draft, at, *metres)?;
            draft.write(at, &value)?;
            Ok(label)
        }
        Edit::Add {
            what,
            at,
            elevation,
        } => add(draft, *what, *at, *elevation),
        Edit::AddPart { list, at } => add_part(draft, list, *at),
        Edit::All { label, edits } => {
            for edit in edits {
                make(draft, edit, known)?;
            }
            Ok(label.clone())
        }
        Edit::Text(new) => {
            if new.len() as u64 > crate::job::LARGEST {
                return Err(Refused::TooLong(new.len()));
            }
            let splice = difference(draft.text(), new);
            draft.replace_all(splice)?;
            Ok("changed the text".into())
        }
    }
}

/// The unit that bare numbers stand for.
pub fn draft_unit(draft: &Draft) -> crate::job::Unit {
    match draft.written(&Address::job().field("unit")).as_deref() {
        Some("Metre") => crate::job::Unit::Metre,
        _ => crate::job::Unit::Foot,
    }
}

/// A value goes into the text as it is, so it must be one value and nothing else.
fn checked_value(value: &str) -> Result<(), Refused> {
    let wrong = |why: String| Refused::NotAValue {
        text: value.to_string(),
        why,
    };
    let node = tree::read(value).map_err(|p| wrong(p.what))?;
    // A comment behind it could swallow what follows.
    if node.span != (0..value.len()) {
        return Err(wrong(
            "one value, without comments or blanks around it".into(),
        ));
    }
    Ok(())
}

fn type_in(draft: &mut Draft, at: &Address, cell: &str) -> Result<String, Refused> {
    let label = format!("typed {}", draft.words(at));
    let text = draft.text();
    let (value, empty, old_name) = draft.at(at, |_, found| {
        let same = found
            .node
            .is_some_and(|node| typed::shown(&found.form, node, text) == cell);
        let old = match (&found.form, found.node.map(|n| &n.kind)) {
            (Form::Name(_), Some(Kind::Text(old))) if !old.trim().is_empty() => {
                Some(old.to_string())
            }
            _ => None,
        };
        let value = (!same).then(|| typed::written(&found.form, cell));
        let may_go = found.field.is_some_and(|f| f.absent != Absent::Required);
        (value, may_go && cell.trim().is_empty(), old)
    })?;
    let Some(value) = value else {
        return Ok(label);
    };
    if empty {
        draft.clear(at)?;
    } else if old_name.is_some() && rename(draft, at, cell).is_ok() {
        // A name is typed: who refers to it goes on doing so.
    } else {
        draft.write(at, &value)?;
    }
    Ok(label)
}

fn new_length(draft: &Draft, at: &Address, metres: f64) -> Result<String, Refused> {
    if !metres.is_finite() || metres.abs() > LONGEST {
        return Err(Refused::NotANumber(metres));
    }
    let unit = draft_unit(draft);
    draft.at(at, |root, found| match found.form {
        Form::Length { .. } | Form::Elevation | Form::Level | Form::Crest => {
            let old = found
                .node
                .map(|node| draft.text()[plain(node).span.clone()].to_string())
                .or_else(|| match found.field.map(|f| f.absent) {
                    // What it came to so far was in inches or feet.
                    Some(Absent::Is(text)) if unit == crate::job::Unit::Foot => {
                        Some(text.to_string())
                    }
                    _ => None,
                });
            Ok(length::like(metres, old.as_deref(), unit))
        }
        _ => Err(Refused::NotAValue {
            text: length::like(metres, None, unit),
            why: format!("{} is no length", find::words(root, at)),
        }),
    })?
}

/// The field that holds a thing's own name.
fn name_field(draft: &Draft, at: &Address) -> Result<(Address, Form, String), Refused> {
    draft.at(at, |root, found| {
        let no_name = || Refused::HasNoName(find::words(root, at));
        let holder = match (&found.form, found.field) {
            (Form::Name(_) | Form::Shot, _) => found.clone(),
            (Form::Text, Some(field)) if field.name == "name" => found.clone(),
            _ => children(found)
                .into_iter()
                .find(|c| {
                    matches!(c.form, Form::Name(_) | Form::Shot)
                        || c.field.is_some_and(|f| f.name == "name")
                })
                .ok_or_else(no_name)?,
        };
        match holder.node.map(|n| &n.kind) {
            Some(Kind::Text(text)) => Ok((holder.address, holder.form, text.to_string())),
            _ => Err(no_name()),
        }
    })?
}

fn rename(draft: &mut Draft, at: &Address, new: &str) -> Result<String, Refused> {
    let new = names::checked(new)?.to_string();
    let (field, form, old) = name_field(draft, at)?;
    let label = format!("renamed {old} to {new}");
    let Some(group) = Group::of(&form) else {
        draft.write(&field, &typed::quoted(&new))?;
        return Ok(label);
    };
    if old == new {
        return Ok(label);
    }
    let span = draft.at(&field, |_, found| found.node.map(|n| n.span.clone()))?;
    let names = draft.names()?;
    let names = span.as_ref().map_or(names, |span| names.here(&old, span));
    if names.is_taken(group, &new) {
        return Err(Refused::NameTaken {
            name: new,
            kind: group.words(),
        });
    }
    let quoted = typed::quoted(&new);
    // Two of one name, left so by a slip: whoever refers to it means the other one, which keeps its name.
    if span.is_some_and(|span| names.is_shared(group, &old, &span)) {
        draft.write(&field, &quoted)?;
        return Ok(label);
    }
    let splices = names
        .everywhere(group, &old)
        .into_iter()
        .map(|span| Splice::of(draft.text(), span, quoted.as_str()))
        .collect();
    draft.make(splices)?;
    Ok(label)
}

fn delete(draft: &mut Draft, at: &Address) -> Result<String, Refused> {
    let at = draft.numbered(at)?;
    let words = draft.words(&at);
    let noun = match in_list(&at) {
        Some((list, _)) => draft.at(&list, |_, found| find::item_noun(&found.form))?,
        None => String::new(),
    };
    let label = if words.starts_with(&noun) {
        format!("deleted {words}")
    } else {
        format!("deleted {noun} {words}")
    };
    let freed = leaving(draft, &at)?;
    let Some((list, index)) = in_list(&at) else {
        draft.clear(&at)?;
        return Ok(label);
    };
    let has = draft.count(&list);
    draft.at(&list, |root, found| match &found.form {
        Form::List { least, .. } if has <= *least && *least > 0 => Err(Refused::TooFew {
            what: find::words(root, &list),
            least: *least,
        }),
        Form::List { .. } => Ok(()),
        _ => Err(Refused::NotThere(at.clone())),
    })??;
    points::deleting(draft, &list, index)?;
    if list.to_string() == "sequence" {
        keep_works(draft, index)?;
    }
    draft.remove(&list, index)?;
    for name in freed {
        leave_stages(draft, &name)?;
    }
    Ok(label)
}

/// The names that go with what is deleted; refused if something else leans on one of them.
fn leaving(draft: &Draft, at: &Address) -> Result<Vec<String>, Refused> {
    draft.at(at, |root, found| {
        let Some(span) = found.node.map(|n| n.span.clone()) else {
            return Ok(Vec::new());
        };
        let names = draft.names()?;
        let mut freed = Vec::new();
        for (group, name) in names.given_within(&span) {
            if names.is_given_outside(group, &name, &span) {
                continue;
            }
            let users: Vec<Address> = names
                .users(group, &name, &span)
                .into_iter()
                .map(|span| find::at_offset(root, span.start))
                .filter(|user| !(group == Group::Features && is_in_stage(user)))
                .collect();
            if !users.is_empty() {
                let mut by: Vec<String> =
                    users.iter().take(3).map(|u| find::words(root, u)).collect();
                if users.len() > by.len() {
                    by.push(format!("{} more", users.len() - by.len()));
                }
                return Err(Refused::StillUsed { name, by });
            }
            if group == Group::Features {
                freed.push(name);
            }
        }
        Ok(freed)
    })?
}

fn is_in_stage(address: &Address) -> bool {
    matches!(address.steps(), [Step::Field(first), ..] if first == "sequence")
}

/// A feature that is gone is built in no stage.
fn leave_stages(draft: &mut Draft, name: &str) -> Result<(), Refused> {
    let sequence = Address::job().field("sequence");
    for stage in 0..draft.count(&sequence) {
        for field in ["works", "take_back"] {
            let list = sequence.item(stage).field(field);
            for index in (0..draft.count(&list)).rev() {
                if is_text(draft, &list.item(index), name) {
                    draft.remove(&list, index)?;
                }
            }
        }
    }
    Ok(())
}

fn is_text(draft: &Draft, at: &Address, wanted: &str) -> bool {
    draft
        .at(at, |_, found| {
            matches!(found.node.map(|n| &n.kind), Some(Kind::Text(text)) if *text == wanted)
        })
        .unwrap_or(false)
}

/// A stage goes: what it builds and takes back is done in the stage before it, or the one after.
fn keep_works(draft: &mut Draft, index: usize) -> Result<(), Refused> {
    let sequence = Address::job().field("sequence");
    let has = draft.count(&sequence);
    if has < 2 {
        return Ok(());
    }
    let heir = if index > 0 { index - 1 } else { 1 };
    for field in ["works", "take_back"] {
        let from = sequence.item(index).field(field);
        let to = sequence.item(heir).field(field);
        for i in 0..draft.count(&from) {
            if let Some(text) = draft.written(&from.item(i)) {
                let place = if heir < index { draft.count(&to) } else { i };
                draft.insert(&to, place, &text)?;
            }
        }
    }
    Ok(())
}

/// With a sequence, every feature is built in one of its stages: a new one in the same as `beside`,
/// or in the last that builds anything.
fn join_stage(draft: &mut Draft, name: &str, beside: Option<&str>) -> Result<(), Refused> {
    let sequence = Address::job().field("sequence");
    let stages = draft.count(&sequence);
    if stages == 0 {
        return Ok(());
    }
    let works = |stage: usize| sequence.item(stage).field("works");
    let holds = |stage: &usize| {
        let list = works(*stage);
        let mut all = 0..draft.count(&list);
        beside.is_some_and(|b| all.any(|i| is_text(draft, &list.item(i), b)))
    };
    let stage = (0..stages)
        .find(holds)
        .or_else(|| (0..stages).rev().find(|s| draft.count(&works(*s)) > 0))
        .unwrap_or(stages - 1);
    let list = works(stage);
    let end = draft.count(&list);
    draft.insert(&list, end, &typed::quoted(name))
}

fn copy(draft: &mut Draft, at: &Address) -> Result<String, Refused> {
    let at = draft.numbered(at)?;
    let label = format!("copied {}", draft.words(&at));
    let (list, index) = in_list(&at).ok_or_else(|| Refused::NotThere(at.clone()))?;
    let text = draft.text();
    let (item, old, new, feature) = draft.at(&at, |root, found| {
        if matches!(found.form, Form::Point) {
            return Err(Refused::Breaks {
                what: "a copied point would lie on the first".into(),
                allowed: "add a point between two".into(),
            });
        }
        let node = found.node.ok_or_else(|| Refused::NotThere(at.clone()))?;
        let mut item = text[node.span.clone()].to_string();
        let Some(old) = name_of(&found.form, node) else {
            return Ok((item, None, None, false));
        };
        let names = draft.names()?;
        let name = children(found).into_iter().find(|c| {
            matches!(c.form, Form::Name(_) | Form::Shot)
                || c.field.is_some_and(|f| f.name == "name")
        });
        let group = name.as_ref().and_then(|c| Group::of(&c.form));
        let mut renewed = match group {
            // Named things inside it need names of their own as well.
            Some(Group::Features) => names.renewed(Group::Features, &node.span),
            _ => Vec::new(),
        };
        if renewed.is_empty()
            && let Some(span) = name.and_then(|c| c.node).map(|n| n.span.clone())
        {
            let new = match group {
                Some(group) => names.free(group, old),
                None => free_in_list(root, &list, old),
            };
            renewed.push((span, new));
        }
        let new = renewed.first().map(|(_, new)| new.clone());
        renewed.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
        for (span, new) in &renewed {
            let start = span.start - node.span.start;
            item.replace_range(start..start + span.len(), &typed::quoted(new));
        }
        // A part of a feature is built with it; a pile is not built at all.
        let feature = group == Some(Group::Features)
            && matches!(at.steps(), [Step::Field(first), Step::Field(list), _]
                if first == "design" && list != "piles");
        Ok((item, Some(old.to_string()), new, feature))
    })??;
    draft.insert_as_is(&list, index + 1, &item)?;
    if feature && let Some(new) = new {
        join_stage(draft, &new, old.as_deref())?;
    }
    Ok(label)
}

fn free_in_list(root: &Node, list: &Address, wished: &str) -> String {
    let Ok(found) = find::find(root, list) else {
        return wished.to_string();
    };
    let had: Vec<String> = children(&found)
        .iter()
        .filter_map(|c| name_of(&c.form, c.node?).map(str::to_string))
        .collect();
    names::free(wished, |name| had.iter().any(|h| h == name))
}

fn add(
    draft: &mut Draft,
    what: template::New,
    at: [f64; 2],
    elevation: f64,
) -> Result<String, Refused> {
    for value in [at[0], at[1], elevation] {
        if !value.is_finite() || value.abs() > LONGEST {
            return Err(Refused::NotANumber(value));
        }
    }
    let unit = draft_unit(draft);
    let list = what.list();
    let made = draft.at(&list, |_, found: &Found| {
        let names = draft.names()?;
        let had: Vec<String> = children(found)
            .iter()
            .filter_map(|c| name_of(&c.form, c.node?).map(str::to_string))
            .collect();
        let wished = what.wished_name();
        let name = match what.group() {
            Some(group) => names.free(group, wished),
            None => names::free(wished, |name| had.iter().any(|h| h == name)),
        };
        template::written(what, &name, at, elevation, unit, names).map(|text| (name, text))
    })?;
    let (name, text) = made?;
    if what == template::New::Access {
        draft.write(&list, &text)?;
    } else {
        let end = draft.count(&list);
        draft.insert(&list, end, &text)?;
    }
    if what.is_work() {
        join_stage(draft, &name, None)?;
    }
    Ok(format!("added {name}"))
}

fn add_part(draft: &mut Draft, list: &Address, at: [f64; 2]) -> Result<String, Refused> {
    points::checked(at)?;
    let unit = draft_unit(draft);
    let part = draft.at(list, |root, found| {
        part::written(root, found, at, unit, draft.script())
    })?;
    let index = draft.count(list);
    make(
        draft,
        &Edit::Insert {
            list: list.clone(),
            index,
            item: part,
        },
        &Known::default(),
    )
}

/// One splice that turns a text into another.
fn difference(old: &str, new: &str) -> Splice {
    let mut start = old
        .bytes()
        .zip(new.bytes())
        .take_while(|(a, b)| a == b)
        .count();
    while !(old.is_char_boundary(start) && new.is_char_boundary(start)) {
        start -= 1;
    }
    let most = old.len().min(new.len()) - start;
    let mut tail = old
        .bytes()
        .rev()
        .zip(new.bytes().rev())
        .take(most)
        .take_while(|(a, b)| a == b)
        .count();
    while !(old.is_char_boundary(old.len() - tail) && new.is_char_boundary(new.len() - tail)) {
        tail -= 1;
    }
    Splice::of(old, start..old.len() - tail, &new[start..new.len() - tail])
}
