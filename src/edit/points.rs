//! Moving places, and what counts along a line and must keep in step with its points. Metres.

use crate::edit::address::{Address, Step};
use crate::edit::draft::Draft;
use crate::edit::find::{self, Found, children, plain};
use crate::edit::known::Known;
use crate::edit::length;
use crate::edit::make::draft_unit;
use crate::edit::refused::Refused;
use crate::job::decode::{Context, Read as _};
use crate::job::tree::{Kind, Node};
use crate::job::{Form, Unit, place};
use crate::units::{self, LONGEST};

/// `(x, y)` in the job's unit.
pub fn pair(at: [f64; 2], unit: Unit) -> Result<String, Refused> {
    let [x, y] = checked(at)?;
    Ok(format!(
        "({}, {})",
        length::like(x, None, unit),
        length::like(y, None, unit)
    ))
}

pub fn checked(at: [f64; 2]) -> Result<[f64; 2], Refused> {
    match at.iter().find(|v| !v.is_finite() || v.abs() > LONGEST) {
        Some(bad) => Err(Refused::NotANumber(*bad)),
        None => Ok(at),
    }
}

/// Moves one place. The other end of an outline that repeats its first point goes with it.
pub fn move_to(
    draft: &mut Draft,
    at: &Address,
    to: [f64; 2],
    known: &Known,
) -> Result<(), Refused> {
    let to = checked(to)?;
    let at = draft.numbered(at)?;
    let twin = twin(draft, &at);
    move_one(draft, &at, to, known)?;
    match twin {
        Some(twin) => move_one(draft, &twin, to, known),
        None => Ok(()),
    }
}

fn move_one(draft: &mut Draft, at: &Address, to: [f64; 2], known: &Known) -> Result<(), Refused> {
    let unit = draft_unit(draft);
    let writes = draft.at(at, |root, found| {
        moved(draft.text(), found, to, unit, known)
            .ok_or_else(|| Refused::NotAPlace(find::words(root, at)))
    })??;
    for (address, value) in writes {
        draft.write(&address, &value)?;
    }
    Ok(())
}

/// What to write where, so that a place lies at `to`.
fn moved(
    text: &str,
    found: &Found,
    to: [f64; 2],
    unit: Unit,
    known: &Known,
) -> Option<Vec<(Address, String)>> {
    let fields = |names: [&str; 2], values: [f64; 2]| {
        names
            .iter()
            .zip(values)
            .map(|(name, value)| {
                let field = find::child(found, &Step::Field((*name).to_string()))?;
                let old = field.node.map(|n| &text[n.span.clone()]);
                Some((field.address, length::like(value, old, unit)))
            })
            .collect::<Option<Vec<_>>>()
    };
    let anew = || {
        let [x, y] = to.map(|v| length::like(v, None, unit));
        Some(vec![(found.address.clone(), format!("({x}, {y})"))])
    };
    match &found.form {
        Form::Record("KnownPoint") => return fields(["x", "y"], to),
        Form::Point | Form::Place | Form::Corner => {}
        _ => return None,
    }
    let Some(record) = find::record_of(&found.form, found.node) else {
        return anew();
    };
    match record.label {
        "Xy" if children(found).len() == 2 => fields(["x", "y"], to),
        "Offset" => baseline(found)
            .and_then(|name| known.off(&name, to))
            .and_then(|off| fields(["along", "offset"], off))
            .or_else(anew),
        "Grid" => grid(found, to, unit, known).or_else(anew),
        _ => anew(),
    }
}

fn baseline(found: &Found) -> Option<String> {
    let name = find::child(found, &Step::Field("baseline".into()))?;
    match &name.node?.kind {
        Kind::Text(text) => Some(text.to_string()),
        _ => None,
    }
}

fn grid(found: &Found, to: [f64; 2], unit: Unit, known: &Known) -> Option<Vec<(Address, String)>> {
    let off = known.off(&baseline(found)?, to)?;
    let spacing = find::child(found, &Step::Field("spacing".into()))?;
    let spacing = match &spacing.node?.kind {
        Kind::Number(n) => units::length_of_number(*n, unit).ok()?,
        Kind::Text(text) => units::parse_length(text, unit).ok()?,
        _ => return None,
    };
    if spacing.is_nan() || spacing <= 0.0 {
        return None;
    }
    ["column", "row"]
        .iter()
        .zip(off)
        .map(|(name, value)| {
            let field = find::child(found, &Step::Field((*name).to_string()))?;
            let squares = (value / spacing * 100.0).round() / 100.0;
            // Never -0.
            Some((field.address, units::plain(squares + 0.0)))
        })
        .collect()
}

/// Of an outline that repeats its first point at its end, the other one of the two.
fn twin(draft: &Draft, at: &Address) -> Option<Address> {
    let (list, index) = (at.parent()?, at.index()?);
    let closed = draft
        .at(&list, |_, found| {
            matches!(found.form, Form::List { closed: true, .. })
        })
        .ok()?;
    let last = draft.count(&list).checked_sub(1)?;
    let other = match index {
        0 => last,
        i if i == last => 0,
        _ => return None,
    };
    let same = draft.written(&list.item(0)) == draft.written(&list.item(last));
    (closed && last > 2 && same).then(|| list.item(other))
}

/// Moves every place inside a thing.
pub fn move_by(
    draft: &mut Draft,
    at: &Address,
    by: [f64; 2],
    known: &Known,
) -> Result<(), Refused> {
    let by = checked(by)?;
    let unit = draft_unit(draft);
    let text = draft.text();
    let writes = draft.at(at, |root, found| {
        let mut places = Vec::new();
        collect(found, &mut places);
        if places.is_empty() {
            return Err(Refused::NotAPlace(find::words(root, at)));
        }
        let mut writes = Vec::new();
        for place in places {
            let not_known = || Refused::NotAPlace(find::words(root, &place.address));
            let from = read_place(&place, unit)
                .and_then(|at| known.locate(&at))
                .ok_or_else(not_known)?;
            let to = checked([from[0] + by[0], from[1] + by[1]])?;
            writes.extend(moved(text, &place, to, unit, known).ok_or_else(not_known)?);
        }
        Ok(writes)
    })??;
    for (address, value) in writes {
        draft.write(&address, &value)?;
    }
    Ok(())
}

fn collect<'n, 'a>(found: &Found<'n, 'a>, out: &mut Vec<Found<'n, 'a>>) {
    match found.form {
        Form::Point | Form::Place | Form::Corner | Form::Record("KnownPoint") => {
            out.push(found.clone());
        }
        _ => children(found).iter().for_each(|c| collect(c, out)),
    }
}

fn read_place(found: &Found, unit: Unit) -> Option<crate::job::At> {
    let mut cx = Context {
        unit,
        ..Context::default()
    };
    let node = plain(found.node?);
    match found.form {
        Form::Record("KnownPoint") => crate::job::KnownPoint::read(node, &mut cx)
            .map(|p| crate::job::At::Placed(crate::job::Place::Xy(p.x, p.y))),
        _ => place::AtReader::read(node, &mut cx),
    }
}

// ---------------------------------------------------------------- what counts along a line

/// The record that a list of points is in, if something in it counts along that list: a ramp's
/// elevations and a way's widths have one for each point, a basin's batters name edges.
fn counted(draft: &Draft, list: &Address) -> Option<(&'static str, Address)> {
    let record = list.parent()?;
    let label = draft
        .at(&record, |_, found| match found.form {
            Form::Record(label) => Some(label),
            _ => None,
        })
        .ok()??;
    match (label, list.last()?) {
        ("Ramp", Step::Field(name)) if name == "line" => Some((label, record.field("profile"))),
        ("Access", Step::Field(name)) if name == "line" => Some((label, record.field("widths"))),
        ("Basin", Step::Field(name)) if name == "outline" => {
            Some((label, record.field("edge_batters")))
        }
        _ => None,
    }
    .filter(|(_, list)| draft.count(list) > 0)
}

/// A point has been put in: what counts along the line gets one more, or counts on.
pub fn inserted(draft: &mut Draft, list: &Address, index: usize) -> Result<(), Refused> {
    let Some((label, other)) = counted(draft, list) else {
        return Ok(());
    };
    let points = draft.count(list);
    if label != "Basin" {
        // Out of step already: the person is at work on it.
        if draft.count(&other) + 1 != points {
            return Ok(());
        }
        let value = between(draft, &other, index);
        return match value {
            Some(value) => draft.insert(&other, index, &value),
            None => Ok(()),
        };
    }
    let before = points - 1;
    // The edge that the new corner splits.
    let split = if index == 0 { before - 1 } else { index - 1 };
    let mut second = None;
    for item in 0..draft.count(&other) {
        let Some((edge, batter)) = edge(draft, &other.item(item)) else {
            continue;
        };
        if edge == split {
            second = Some(batter);
        }
        let new = match index {
            0 => edge + 1,
            i if edge >= i => edge + 1,
            _ => edge,
        };
        draft.write(&other.item(item).item(0), &new.to_string())?;
    }
    if let Some(batter) = second {
        let end = draft.count(&other);
        draft.insert(&other, end, &format!("({index}, {batter})"))?;
    }
    Ok(())
}

/// A point is about to go.
pub fn deleting(draft: &mut Draft, list: &Address, index: usize) -> Result<(), Refused> {
    let Some((label, other)) = counted(draft, list) else {
        return Ok(());
    };
    if label != "Basin" {
        if draft.count(&other) == draft.count(list) {
            draft.remove(&other, index)?;
        }
        return Ok(());
    }
    for item in (0..draft.count(&other)).rev() {
        match edge(draft, &other.item(item)) {
            // The two edges at the corner become one; it keeps the first one's batter.
            Some((edge, _)) if edge == index => draft.remove(&other, item)?,
            Some((edge, _)) if edge > index => {
                draft.write(&other.item(item).item(0), &(edge - 1).to_string())?;
            }
            _ => {}
        }
    }
    Ok(())
}

/// Corners with batters of their own cannot change places unnoticed.
pub fn may_change_order(draft: &Draft, list: &Address) -> Result<(), Refused> {
    match counted(draft, list) {
        Some(("Basin", other)) => {
            let basin = other.parent().unwrap_or_default();
            Err(Refused::OrderMatters(draft.words(&basin)))
        }
        _ => Ok(()),
    }
}

/// A point changes its place in the line: what it has of its own goes with it.
pub fn shifting(draft: &mut Draft, list: &Address, from: usize, to: usize) -> Result<(), Refused> {
    match counted(draft, list) {
        Some((label, other)) if label != "Basin" && draft.count(&other) == draft.count(list) => {
            draft.shift(&other, from, to)
        }
        _ => Ok(()),
    }
}

fn edge(draft: &Draft, at: &Address) -> Option<(usize, String)> {
    let text = draft.text();
    draft
        .at(at, |_, found| match &found.node?.kind {
            Kind::Tuple { name: None, items } => match items.as_slice() {
                [
                    Node {
                        kind: Kind::Number(n),
                        ..
                    },
                    batter,
                ] if *n >= 0.0 && n.fract() == 0.0 => {
                    Some((*n as usize, text[batter.span.clone()].to_string()))
                }
                _ => None,
            },
            _ => None,
        })
        .ok()?
}

/// An elevation or a width for a new point: halfway between its neighbours', or the same as one.
fn between(draft: &Draft, values: &Address, index: usize) -> Option<String> {
    let unit = draft_unit(draft);
    let value = |at: &Address| {
        let written = draft.written(at)?;
        let node = crate::job::tree::read(&written).ok()?;
        match &node.kind {
            Kind::Number(n) => units::length_of_number(*n, unit).ok(),
            Kind::Text(text) => units::parse_length(text, unit).ok(),
            _ => None,
        }
    };
    let before = index.checked_sub(1).map(|i| values.item(i));
    let after = (index < draft.count(values)).then(|| values.item(index));
    match (before, after) {
        (Some(before), Some(after)) => match (value(&before), value(&after)) {
            (Some(a), Some(b)) => {
                let style = draft.written(&before);
                Some(length::like((a + b) / 2.0, style.as_deref(), unit))
            }
            _ => draft.written(&before),
        },
        (Some(only), None) | (None, Some(only)) => draft.written(&only),
        (None, None) => None,
    }
}
