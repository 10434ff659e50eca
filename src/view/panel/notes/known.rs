//! What is known beforehand: benchmarks, baselines, pegs and known points.

use bevy_egui::egui::{Align, Layout, Ui};

use crate::edit::{Address, Edit, New, Sheet};

use crate::view::panel::cell::{self};
use crate::view::panel::{Desk, style};
use crate::view::telling;

use super::{
    Troubles, add_whole, book, columns, field, heads, picked_here, remove, rows, take_back_row,
};

pub(super) fn known(ui: &mut Ui, desk: &mut Desk, troubles: &Troubles, reveal: Option<&Address>) {
    type Table<'a> = (
        &'a str,
        New,
        &'a str,
        &'a str,
        &'a [(&'a str, &'a str, f32)],
    );
    let tables: [Table; 4] = [
        (
            "Benchmarks",
            New::Benchmark,
            "benchmarks",
            "Points of known or assumed elevation",
            &[
                ("name", "name", 0.0),
                ("elevation", "elevation", 72.0),
                ("assumed", "assumed", 52.0),
                ("at", "place", 100.0),
            ],
        ),
        (
            "Baselines",
            New::Baseline,
            "baselines",
            "Taped lines that offsets are measured from",
            &[
                ("name", "name", 0.0),
                ("from", "from x, y", 115.0),
                ("to", "to x, y", 115.0),
            ],
        ),
        (
            "Pegs",
            New::Peg,
            "pegs",
            "Named points that ties and angles are measured from",
            &[("name", "name", 0.0), ("at", "x, y", 150.0)],
        ),
        (
            "Known points",
            New::KnownPoint,
            "points",
            "Points known in all three coordinates",
            &[
                ("name", "name", 0.0),
                ("x", "x", 80.0),
                ("y", "y", 80.0),
                ("z", "elevation", 80.0),
            ],
        ),
    ];
    for (words, what, list, hover, cols) in tables {
        let list = book(list);
        let count = desk.work.editor.count(&list);
        ui.add_space(4.0);
        ui.horizontal(|ui| {
            ui.label(style::heading(words)).on_hover_text(hover);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let add = ui.small_button("Add").on_hover_text(hover);
                telling::place(ui, "add", words, add.rect);
                if add.clicked() && add_whole(desk, what) {
                    let new = list.item(count).field(cols[0].0);
                    cell::want(ui.ctx(), &new);
                }
            });
        });
        if count == 0 {
            continue;
        }
        let mut widths: Vec<f32> = cols.iter().map(|c| c.2).collect();
        widths.push(20.0);
        let mut names: Vec<&str> = cols.iter().map(|c| c.1).collect();
        names.push("");
        heads(ui, &widths, &names);
        let told = (troubles, reveal);
        rows(ui, desk, &list, told, 0.0, |ui, desk, rect, row| {
            let places = columns(rect, &widths);
            for (k, (place, col)) in places.iter().zip(cols).enumerate() {
                let Some(cell) = field(row, col.0) else {
                    continue;
                };
                let done = cell::field(ui, *place, desk.work, cell);
                if done.taken {
                    picked_here(ui.ctx(), desk, Some(row.address.clone()));
                }
                let next = row.address.index().unwrap_or(0) + 1;
                // Down the column; in the last row along it, and from its end into a new row, or out
                // of the list if nothing was written in it.
                if !done.entered {
                    continue;
                }
                if next < count {
                    cell::want(ui.ctx(), &list.item(next).field(col.0));
                } else if let Some(along) = cols[k + 1..].iter().find(|c| is_typed_in(row, c.0)) {
                    cell::want(ui.ctx(), &row.address.field(along.0));
                } else if is_untouched(row) {
                    take_back_row(ui.ctx(), desk, &row.address);
                } else if add_row(desk, &list, count) {
                    cell::want(ui.ctx(), &list.item(count).field(cols[0].0));
                }
            }
            if let Some(place) = places.last() {
                cell::at(ui, *place, "more", |ui| {
                    cell::more(ui, &row.address, |ui| {
                        remove(ui, desk, &row.address, "Delete");
                    });
                });
            }
        });
    }
}

fn add_row(desk: &mut Desk, list: &Address, index: usize) -> bool {
    desk.work.edit(&Edit::Insert {
        list: list.clone(),
        index,
        item: None,
    })
}

/// Whether nothing but its name stands in a row.
fn is_untouched(row: &Sheet) -> bool {
    row.fields
        .iter()
        .all(|f| f.name == "name" || f.shown.is_empty() || !f.is_written)
}

fn is_typed_in(row: &Sheet, name: &str) -> bool {
    field(row, name).is_some_and(cell::is_typed)
}
