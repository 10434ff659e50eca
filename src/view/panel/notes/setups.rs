//! Setups with their sights, row by row.

use bevy_egui::egui::{
    self, Align2, Context, FontId, Rect, RichText, Sense, Stroke, Ui, Vec2, vec2,
};

use crate::edit::{Address, Edit, Sheet};
use crate::survey::Reduced;
use crate::view::paper;

use crate::view::panel::cell::{self};
use crate::view::panel::{Desk, press, sources};
use crate::view::telling;

use super::{ROW, Troubles, columns, field, heads, picked_here, remove, rows, take_back_row};

/// Name, rod, place, kind, elevation, more.
const SIGHT: [f32; 6] = [54.0, 54.0, 0.0, 50.0, 54.0, 20.0];

/// What a setup is written with, besides the job.
pub(super) struct Notes<'a> {
    pub levels: &'a Reduced,
    pub troubles: &'a Troubles,
    pub reveal: Option<&'a Address>,
}

/// A setup with its rows; `before`: so many rows of the levels belong to the setups before it.
pub(super) fn setup(ui: &mut Ui, desk: &mut Desk, notes: &Notes, at: &Address, before: usize) {
    ui.add_space(8.0);
    let height = 2.0 * ROW + 4.0;
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    let sights = at.field("sights");
    let count = desk.work.editor.count(&sights);
    let mut name = String::new();
    if ui.is_rect_visible(rect) {
        if let Some(sheet) = desk.work.editor.sheet(at) {
            name = sheet.name.clone().unwrap_or_default();
            head(ui, desk, notes.levels, rect, &sheet, (before, count));
        }
    } else {
        name = desk
            .work
            .editor
            .shown(&at.field("name"))
            .unwrap_or_default();
    }
    heads(
        ui,
        &SIGHT,
        &["shot", "rod", "place", "kind", "elevation", ""],
    );
    let told = (notes.troubles, notes.reveal);
    rows(ui, desk, &sights, told, ROW, |ui, desk, rect, row| {
        sight(
            ui,
            desk,
            notes.levels,
            rect,
            row,
            (&name, before + 1, count),
        );
    });
    let words = format!("Add a row to setup {name}");
    if press::small(ui, &words, "A shot: its name, the rod, and where it was") {
        new_row(ui.ctx(), desk, &sights, count);
    }
}

fn new_row(ctx: &Context, desk: &mut Desk, sights: &Address, index: usize) {
    let added = desk.work.edit(&Edit::Insert {
        list: sights.clone(),
        index,
        item: None,
    });
    if added {
        let row = sights.item(index);
        cell::want(ctx, &row.field("rod"));
        picked_here(ctx, desk, Some(row));
    }
}

/// The setup's name and place, its backsight and the height of instrument.
fn head(
    ui: &mut Ui,
    desk: &mut Desk,
    levels: &Reduced,
    rect: Rect,
    sheet: &Sheet,
    (before, count): (usize, usize),
) {
    ui.painter()
        .hline(rect.x_range(), rect.top(), Stroke::new(1.0, paper::RULE));
    let upper = Rect::from_min_size(rect.left_top() + vec2(0.0, 3.0), vec2(rect.width(), ROW));
    let lower = upper.translate(vec2(0.0, ROW));
    let word = |ui: &Ui, place: Rect, text: &str| {
        ui.painter().text(
            place.left_center(),
            Align2::LEFT_CENTER,
            text,
            FontId::proportional(13.0),
            paper::FAINT,
        );
    };
    let places = columns(upper, &[40.0, 84.0, 44.0, 0.0, 20.0]);
    ui.painter().text(
        places[0].left_center(),
        Align2::LEFT_CENTER,
        "Setup",
        FontId::proportional(15.0),
        paper::ACCENT,
    );
    word(ui, places[2].translate(vec2(4.0, 0.0)), "level at");
    for (place, name) in [(places[1], "name"), (places[3], "at")] {
        if let Some(cell) = field(sheet, name) {
            cell::field(ui, place, desk.work, cell);
        }
    }
    cell::at(ui, places[4], ("more", sheet.address.to_string()), |ui| {
        cell::more(ui, &sheet.address, |ui| {
            remove(ui, desk, &sheet.address, "Delete the setup and its rows");
        });
    });
    let back = sheet.address.field("backsight");
    let Some(record) = desk.work.editor.sheet(&back) else {
        return;
    };
    let places = columns(lower, &[64.0, 0.0, 20.0, 24.0, 54.0, 96.0]);
    word(ui, places[0], "backsight");
    word(ui, places[3].translate(vec2(3.0, 0.0)), "rod");
    if let Some(to) = field(&record, "to") {
        cell::field(ui, places[1], desk.work, to);
        cell::at(ui, places[2], ("to", back.to_string()), |ui| {
            cell::pick(ui, desk.work, to);
        });
    }
    if let Some(rod) = field(&record, "rod") {
        let done = cell::field(ui, places[4], desk.work, rod);
        let sights = sheet.address.field("sights");
        if done.entered && count > 0 {
            cell::want(ui.ctx(), &sights.item(0).field("rod"));
        } else if done.entered && !rod.shown.is_empty() {
            new_row(ui.ctx(), desk, &sights, 0);
        }
    }
    let name = sheet.name.as_deref().unwrap_or_default();
    let height = levels
        .rows
        .get(before)
        .filter(|r| r.setup == name)
        .and_then(|r| r.height_of_instrument);
    let height = height.map_or("—".to_owned(), |h| desk.book.figures.elevation(h));
    let place = places[5];
    let right = ui.painter().text(
        place.right_center(),
        Align2::RIGHT_CENTER,
        height,
        FontId::monospace(13.0),
        paper::INK,
    );
    ui.painter().text(
        right.left_center() - vec2(5.0, 0.0),
        Align2::RIGHT_CENTER,
        "H.I.",
        FontId::proportional(13.0),
        paper::FAINT,
    );
    ui.interact(place, ui.id().with(("hi", before)), Sense::hover())
        .on_hover_text("Height of instrument: elevation of the backsight's point + rod");
}

/// The elevation of a row of the notes, if the plan is of these notes.
fn elevation(survey: &Reduced, setup: &str, index: usize, name: &str) -> Option<f64> {
    survey
        .rows
        .get(index)
        .filter(|r| r.setup == setup && r.to == name)
        .map_or_else(
            || survey.names.get(name).and_then(|known| known.z),
            |row| row.elevation,
        )
}

fn sight(
    ui: &mut Ui,
    desk: &mut Desk,
    survey: &Reduced,
    rect: Rect,
    row: &Sheet,
    (setup, first, count): (&str, usize, usize),
) {
    let places = columns(rect, &SIGHT);
    let Some(k) = row.address.index() else {
        return;
    };
    for (place, name) in [(places[0], "to"), (places[1], "rod"), (places[2], "at")] {
        let Some(cell) = field(row, name) else {
            continue;
        };
        let done = cell::field(ui, place, desk.work, cell);
        if done.taken {
            picked_here(ui.ctx(), desk, Some(row.address.clone()));
        }
        if done.entered {
            on_from(ui.ctx(), desk, row, name, count);
        }
    }
    cell::at(ui, places[3], "kind", |ui| kind(ui, desk, row));
    if desk.book.picked.as_ref() == Some(&row.address) {
        let second = Rect::from_min_size(rect.left_bottom(), rect.size());
        if remark(ui, desk, second, row) {
            on_from(ui.ctx(), desk, row, "rod", count);
        }
    }
    let name = row.name.as_deref().unwrap_or_default();
    let suspect = survey.suspects.iter().find(|s| s.shot == name);
    let text = elevation(survey, setup, first + k, name)
        .map_or("—".to_owned(), |z| desk.book.figures.elevation(z));
    let ink = if suspect.is_some() {
        paper::ACCENT
    } else {
        paper::INK
    };
    ui.painter().text(
        places[4].right_center(),
        Align2::RIGHT_CENTER,
        text,
        FontId::monospace(13.0),
        ink,
    );
    let figures = desk.book.figures;
    let instrument = first
        .checked_sub(1)
        .and_then(|back| survey.rows.get(back)?.height_of_instrument);
    let mut words = survey
        .rows
        .get(first + k)
        .filter(|r| r.setup == setup && r.to == name)
        .and_then(|r| sources::elevation(r, instrument?, figures))
        .unwrap_or_default();
    if let Some(suspect) = suspect {
        // A mark over the corner of the name, and the words for it.
        let at = places[4].left_center() + vec2(2.0, 0.0);
        ui.painter().text(
            at,
            Align2::CENTER_CENTER,
            "?",
            FontId::proportional(17.0),
            paper::ACCENT,
        );
        words = format!(
            "Suspect: {}; off by {}",
            suspect.slip,
            figures.elevation_with_unit(suspect.off_by)
        );
        if let Some(rod) = suspect.likely_rod {
            words += &format!("; a rod of {} would fit", figures.elevation(rod));
        }
    }
    if !words.is_empty() {
        ui.interact(places[4], ui.id().with("elevation"), Sense::hover())
            .on_hover_text(words);
    }
    cell::at(ui, places[5], "more", |ui| {
        cell::more(ui, &row.address, |ui| details(ui, desk, row));
    });
}

/// Enter in a row: on to the next; from the last one to a new one, or out of the list if nothing was
/// booked in it.
fn on_from(ctx: &Context, desk: &mut Desk, row: &Sheet, name: &str, count: usize) {
    let (Some(list), Some(k)) = (row.address.parent(), row.address.index()) else {
        return;
    };
    let is_booked = |name: &str| {
        desk.work
            .editor
            .shown(&row.address.field(name))
            .is_some_and(|shown| !shown.is_empty())
    };
    if k + 1 < count {
        cell::want(ctx, &list.item(k + 1).field(name));
    } else if is_booked("rod") {
        new_row(ctx, desk, &list, k + 1);
    } else if !is_booked("at") && !is_booked("remark") {
        take_back_row(ctx, desk, &row.address);
    }
}

/// The second line of the row that is worked on. True when left by Enter.
fn remark(ui: &mut Ui, desk: &mut Desk, rect: Rect, row: &Sheet) -> bool {
    let places = columns(rect, &[SIGHT[0], 0.0, SIGHT[5]]);
    ui.painter().text(
        places[0].left_center() + vec2(4.0, 0.0),
        Align2::LEFT_CENTER,
        "remark",
        FontId::proportional(12.0),
        paper::FAINT,
    );
    let Some(cell) = field(row, "remark") else {
        return false;
    };
    cell::field(ui, places[1], desk.work, cell).entered
}

/// What kind of sight it is: one word, and three questions behind it.
fn kind(ui: &mut Ui, desk: &mut Desk, row: &Sheet) {
    let is = |name: &str| {
        field(row, name).is_some_and(|c| match c.shown.as_str() {
            "true" => true,
            "false" => false,
            _ => name == "ground",
        })
    };
    let (turning, inverted, ground) = (is("turning"), is("inverted"), is("ground"));
    let word = match (turning, inverted, ground) {
        (true, _, _) => "turning",
        (_, true, _) => "inverted",
        (_, _, false) => "no ground",
        _ => "shot",
    };
    let ink = if word == "shot" {
        paper::FAINT
    } else {
        paper::INK
    };
    let text = RichText::new(word).size(11.5).color(ink);
    ui.spacing_mut().button_padding = Vec2::new(2.0, 1.0);
    let config = egui::containers::menu::MenuConfig::new()
        .close_behavior(egui::PopupCloseBehavior::CloseOnClickOutside);
    let button = egui::Button::new(text)
        .frame_when_inactive(false)
        .truncate();
    let (button, _) = egui::containers::menu::MenuButton::from_button(button)
        .config(config)
        .ui(ui, |ui| {
            for (name, words, was) in [
                (
                    "turning",
                    "A turning point: the next setup reads it again",
                    turning,
                ),
                ("inverted", "Rod upside down under a soffit", inverted),
                ("ground", "The rod stood on the ground", ground),
            ] {
                let mut on = was;
                let Some(cell) = field(row, name) else {
                    continue;
                };
                let tick = ui.checkbox(&mut on, words);
                cell::told_tick(ui, &cell.address, on, tick.rect);
                if tick.changed() {
                    desk.work.edit(&Edit::typed(&cell.address, on.to_string()));
                    ui.ctx().request_repaint();
                }
            }
        });
    telling::place(ui, "kind", &row.address.to_string(), button.rect);
}

/// What is seldom booked with a sight, and what can be done with its row.
fn details(ui: &mut Ui, desk: &mut Desk, row: &Sheet) {
    ui.set_width(260.0);
    for name in ["distance", "check"] {
        let Some(cell) = field(row, name) else {
            continue;
        };
        let (rect, _) = ui.allocate_exact_size(vec2(258.0, ROW), Sense::hover());
        let places = columns(rect, &[64.0, 0.0]);
        ui.painter().text(
            places[0].left_center(),
            Align2::LEFT_CENTER,
            name,
            FontId::proportional(13.0),
            paper::FAINT,
        );
        cell::field(ui, places[1], desk.work, cell);
        cell::wrong(ui, cell);
    }
    let (Some(list), Some(k)) = (row.address.parent(), row.address.index()) else {
        return;
    };
    ui.horizontal(|ui| {
        if press::button(ui, "New row above", "An empty row before this one") {
            new_row(ui.ctx(), desk, &list, k);
            ui.close();
        }
        remove(ui, desk, &row.address, "Delete the row");
    });
}
