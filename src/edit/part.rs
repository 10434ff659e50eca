//! New parts of things, with the trade's usual measures: shelves, layers, pits, pools, pumps; and the
//! level notes of a visit, begun.
//!
//! Measures: common practice, no source. Metres in.

use crate::edit::address::Address;
use crate::edit::find::{self, Found, children, name_of};
use crate::edit::names::{self, Group, Names};
use crate::edit::script::Script;
use crate::edit::template::Pen;
use crate::edit::typed::quoted;
use crate::job::decode::{Context, Read as _};
use crate::job::tree::{Kind, Node};
use crate::job::{Basin, Form, Unit, Want};

/// A new item for this list; `None`: nothing is usual for it.
pub fn written(
    root: &Node,
    list: &Found,
    at: [f64; 2],
    unit: Unit,
    script: &Script,
) -> Option<String> {
    let pen = Pen { at, unit };
    let Form::List { of, .. } = &list.form else {
        return None;
    };
    let Form::Record(label) = **of else {
        return None;
    };
    let names = script.names().ok()?;
    let parts = children(list);
    let name = |wished: &str| {
        let beside: Vec<&str> = parts
            .iter()
            .filter_map(|c| name_of(&c.form, c.node?))
            .collect();
        let taken = |name: &str| beside.contains(&name) || names.is_taken(Group::Features, name);
        quoted(&names::free(wished, taken))
    };
    Some(match label {
        "Shelf" => {
            let depth = next_shelf(root, &list.address, unit);
            let depth = depth.map_or(pen.inches(12.0, 30.0), |depth| pen.measure(depth));
            format!("(depth: {depth}, width: {})", pen.inches(12.0, 30.0))
        }
        // Without `on` it lies everywhere, as a liner or underlayment must: whoever means the level parts says so.
        "Layer" => format!("(\"stone\", {})", pen.inches(3.0, 7.5)),
        "Pit" => format!(
            "(name: {}, outline: {}, depth: {})",
            name("pump pit"),
            pen.ring(3.0, 3.0),
            pen.inches(12.0, 30.0)
        ),
        "Pool" => format!(
            "(name: {}, length: {}, width: {}, drop: {})",
            name("pool"),
            pen.inches(60.0, 150.0),
            pen.inches(48.0, 120.0),
            pen.inches(9.0, 22.5)
        ),
        "Pump" => {
            // In a pit rather than on the floor of its basin.
            let (all, basins) = (names.choices(Want::Sump), names.choices(Want::Basin));
            let pit = all.iter().find(|name| !basins.contains(name));
            format!(
                "(name: {}, sits_in: {}, cascade: {}, line: {})",
                quoted(&names.free(Group::Services, "pump")),
                quoted(pit.or(all.first())?),
                quoted(&first_cascade(root)?),
                pen.line(8.0)
            )
        }
        "Setup" => setup(names),
        // Without shots it would be no visit.
        "Visit" => format!("(setups: [{}])", setup(names)),
        _ => return None,
    })
}

/// The rod is still to be read.
fn setup(names: &Names) -> String {
    let back = names.choices(Want::Elevation);
    format!(
        "(name: {}, backsight: ({}, \"\"), sights: [])",
        quoted(&names.free(Group::Setups, "S1")),
        quoted(back.first().map_or("", String::as_str))
    )
}

fn first_cascade(root: &Node) -> Option<String> {
    let cascade = Address::of("design.cascades[0].name").ok()?;
    match &find::find(root, &cascade).ok()?.node?.kind {
        Kind::Text(name) => Some(name.to_string()),
        _ => None,
    }
}

/// Halfway from the deepest shelf to the floor.
fn next_shelf(root: &Node, shelves: &Address, unit: Unit) -> Option<f64> {
    let basin = find::find(root, &shelves.parent()?).ok()?;
    let mut cx = Context {
        unit,
        ..Context::default()
    };
    let basin = Basin::read(basin.node?, &mut cx)?;
    let deepest = basin.shelves.last()?.depth;
    (basin.floor_depth > deepest).then_some((deepest + basin.floor_depth) / 2.0)
}
