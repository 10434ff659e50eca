//! The page of what is there and what is to be built: a list of contents, each thing opening as a
//! form in its place.

use bevy_egui::egui::{
    self, Align, Align2, FontId, Id, Layout, Rect, RichText, Sense, Stroke, Ui, vec2,
};

use crate::edit::{Address, Cell, Editor, Entry, New, is_named, item_noun};
use crate::job::Form;
use crate::view::{paper, telling};

use super::cell;
use super::form::{Forms, Orders, ROW, one_more};
use super::notes::{add_whole, newly_picked, once, picked_here};
use super::{Desk, Page, Wish, press, style};
use crate::view::shaping::word;

/// A part of the job: its heading, its field of the job, and what its own form is about.
type Section = (&'static str, &'static str, &'static str);

/// All parts of a job but the field book, which has a page of its own.
const SECTIONS: [Section; 10] = [
    ("Design", "design", ""),
    ("Site", "site", "edge of the survey"),
    ("Stages", "sequence", ""),
    ("Soil", "soil", "soil and its loads"),
    ("Carrying", "haul", "barrow, truck, ramp sought"),
    ("Water and pipes", "plumbing", "hose, rain, lips"),
    ("Materials", "materials", "how they are sold, and waste"),
    ("Setting out", "setting_out", "stakes and tapes"),
    ("As built", "as_built", "tolerances and visits"),
    ("Job", "", "name, unit, remarks"),
];

pub fn page(ui: &mut Ui, desk: &mut Desk) {
    let slot = Id::new("open form");
    let mut open: Option<Address> = ui.ctx().data(|d| d.get_temp(slot)).unwrap_or_default();
    let contents = once(ui.ctx(), desk.work, "contents of the job", || {
        std::sync::Arc::new(desk.work.editor.contents(false))
    });
    let news = newly_picked(ui.ctx(), desk, Page::Design);
    if let Some(picked) = &news {
        open = Some(thing_of(picked, &contents));
    }
    let mut orders = Orders::default();
    let added = Id::new("part just added");
    let fresh: Option<Address> = ui.ctx().data_mut(|d| d.remove_temp(added));
    if let Some(fresh) = &fresh {
        wants_keyboard(ui, &desk.work.editor, fresh);
    }
    let mut list = Contents {
        open: open.clone(),
        forms: Forms {
            news,
            fresh,
            orders: &mut orders,
        },
    };
    for section in SECTIONS {
        list.group(ui, desk, section, &contents);
    }
    let Orders {
        edits,
        open: next,
        fresh,
    } = orders;
    let mut done = true;
    for edit in &edits {
        done &= desk.work.edit(edit);
    }
    if done && let Some(next) = next {
        open = next;
        picked_here(ui.ctx(), desk, open.clone());
        ui.ctx().request_repaint();
    }
    if done && let Some(fresh) = fresh {
        ui.ctx().data_mut(|d| d.insert_temp(added, fresh));
        ui.ctx().request_repaint();
    }
    ui.ctx().data_mut(|d| d.insert_temp(slot, open));
}

/// What has just been added is typed into at once.
fn wants_keyboard(ui: &Ui, editor: &Editor, at: &Address) {
    let sheet = editor.sheet(at);
    let first = match &sheet {
        Some(sheet) => sheet.fields.iter().find(|f| cell::is_typed(f)),
        None => None,
    };
    cell::want(ui.ctx(), first.map_or(at, |f| &f.address));
}

/// The line of the page that an address is inside of: a thing with a name, the way in, or a part of
/// the job.
fn thing_of(at: &Address, contents: &[Entry]) -> Address {
    let mut at = at.clone();
    let has_line = |at: &Address| {
        let part = |(_, field, _): &Section| at.to_string() == *field;
        is_way_in(at)
            || SECTIONS.iter().any(part)
            || contents.iter().any(|e| e.address == *at && is_listed(e))
    };
    while !has_line(&at) {
        match at.parent() {
            Some(up) => at = up,
            None => break,
        }
    }
    at
}

/// Whether a thing has a line of its own; what is inside one has not.
fn is_listed(entry: &Entry) -> bool {
    entry.address.steps().len() <= 3
}

fn is_way_in(at: &Address) -> bool {
    at.to_string() == "site.access"
}

/// Whether a form leaves this field to other lines of the page.
pub fn is_elsewhere(at: &Address, field: &Cell) -> bool {
    match (at.steps().len(), &field.form) {
        // The parts of the job.
        (0, form) => matches!(form, Form::Record(_) | Form::List { .. }),
        (1, Form::List { of, .. }) => matches!(**of, Form::Record(record) if is_named(record)),
        (1, _) => is_way_in(&field.address),
        _ => false,
    }
}

/// Lists of named things that are filled in row by row: nothing of them lies in the yard.
fn rows_to_add(editor: &Editor, part: &Address) -> Vec<Cell> {
    let whole: Vec<Address> = New::ALL.iter().map(|what| what.list()).collect();
    let fields = editor.sheet(part).map_or(Vec::new(), |sheet| sheet.fields);
    fields
        .into_iter()
        .filter(|f| matches!(f.form, Form::List { .. }) && is_elsewhere(part, f))
        .filter(|f| !whole.contains(&f.address))
        .collect()
}

fn is_bad(desk: &Desk, at: &Address, contents: &[Entry]) -> bool {
    let editor = &desk.work.editor;
    editor.problems().iter().take(20).any(|p| {
        editor
            .address_at(p.span.start)
            .is_some_and(|a| !a.steps().is_empty() && thing_of(&a, contents) == *at)
    })
}

struct Contents<'a> {
    open: Option<Address>,
    forms: Forms<'a>,
}

impl Contents<'_> {
    fn group(&mut self, ui: &mut Ui, desk: &mut Desk, section: Section, contents: &[Entry]) {
        let (words, field, about) = section;
        let at = if field.is_empty() {
            Address::job()
        } else {
            Address::job().field(field)
        };
        ui.add_space(6.0);
        ui.horizontal(|ui| {
            ui.label(style::heading(words));
            if !field.is_empty() {
                self.offer(ui, desk, words, &at);
            }
        });
        let listed = contents
            .iter()
            .filter(|e| !field.is_empty() && at.holds(&e.address) && is_listed(e));
        for entry in listed {
            let name = entry.name.as_deref().unwrap_or_default();
            self.line(ui, desk, &entry.address, name, &entry.noun, contents);
        }
        let access = Address::job().field("site").field("access");
        if at.holds(&access) && !field.is_empty() && desk.work.editor.shown(&access).is_some() {
            self.line(ui, desk, &access, "access", "way in", contents);
        }
        if !about.is_empty() {
            self.line(ui, desk, &at, about, "", contents);
        }
    }

    /// What can be added to a part of the job: whole things where one presses in the yard, or a row
    /// to be filled in.
    fn offer(&mut self, ui: &mut Ui, desk: &mut Desk, words: &str, at: &Address) {
        let news: Vec<New> = New::ALL
            .into_iter()
            .filter(|what| at.holds(&what.list()))
            .collect();
        let rows = once(ui.ctx(), desk.work, &format!("rows of {words}"), || {
            std::sync::Arc::new(rows_to_add(&desk.work.editor, at))
        });
        if news.is_empty() && rows.is_empty() {
            return;
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let menu = ui.menu_button(RichText::new("Add…").small(), |ui| {
                for what in &news {
                    let about = "Then press in the yard where it goes";
                    if press::button(ui, &capital(word(*what)), about) {
                        match what {
                            New::Stage => self.add(ui, desk, *what),
                            _ => desk.wishes.push(Wish::Place(*what)),
                        }
                        ui.close();
                    }
                }
                for row in rows.iter() {
                    let noun = capital(&item_noun(&row.form));
                    if press::button(ui, &noun, row.meaning) {
                        let count = row.count.unwrap_or(0);
                        self.forms.order(
                            one_more(&row.address, desk),
                            Some(Some(row.address.item(count))),
                        );
                        // Its form may open out of sight: the keyboard goes there.
                        self.forms.orders.fresh = Some(row.address.item(count));
                        ui.close();
                    }
                }
            });
            telling::place(ui, "add", words, menu.response.rect);
            menu.response
                .on_hover_text("With usual measures, to be changed");
        });
    }

    fn add(&mut self, ui: &Ui, desk: &mut Desk, what: New) {
        let list = what.list();
        let count = desk.work.editor.count(&list);
        if add_whole(desk, what) {
            self.forms.orders.open = Some(Some(list.item(count)));
            self.forms.orders.fresh = Some(list.item(count));
            ui.ctx().request_repaint();
        }
    }

    /// A line of the contents, with its form under it if it is open.
    fn line(
        &mut self,
        ui: &mut Ui,
        desk: &mut Desk,
        at: &Address,
        name: &str,
        noun: &str,
        contents: &[Entry],
    ) {
        let is_open = self.open.as_ref() == Some(at);
        let (rect, response) =
            ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::click());
        let bad = is_bad(desk, at, contents);
        if is_open {
            ui.painter().rect_filled(rect, 0.0, paper::SHEET);
            let bar = Rect::from_min_size(rect.left_top() - vec2(5.0, 0.0), vec2(3.0, ROW));
            ui.painter().rect_filled(bar, 0.0, paper::ACCENT);
        }
        if response.hovered() || response.has_focus() {
            ui.painter().rect_stroke(
                rect,
                2.0,
                Stroke::new(1.0, paper::RULE),
                egui::StrokeKind::Inside,
            );
        }
        ui.painter().text(
            rect.left_center() + vec2(6.0, 0.0),
            Align2::LEFT_CENTER,
            name,
            FontId::proportional(14.0),
            if bad { paper::ACCENT } else { paper::INK },
        );
        let noun = if noun == name { "" } else { noun };
        let noun = if bad {
            "something is wrong in it"
        } else {
            noun
        };
        ui.painter().text(
            rect.right_center() - vec2(6.0, 0.0),
            Align2::RIGHT_CENTER,
            noun,
            FontId::proportional(12.0),
            if bad { paper::ACCENT } else { paper::FAINT },
        );
        telling::place(ui, "thing", &at.to_string(), rect);
        if response.clicked() {
            self.forms.orders.open = Some((!is_open).then(|| at.clone()));
        }
        if !is_open {
            return;
        }
        if self.forms.news.is_some() {
            ui.scroll_to_rect(rect.expand2(vec2(0.0, 120.0)), None);
        }
        let left = rect.left() + 4.0;
        ui.horizontal(|ui| {
            ui.add_space(left - ui.cursor().left());
            ui.vertical(|ui| {
                ui.set_width(ui.available_width());
                if at.index().is_some() || is_way_in(at) {
                    self.forms.deeds(ui, desk, at, true);
                }
                self.forms.form(ui, desk, at);
                ui.add_space(6.0);
            });
        });
    }
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::Edit;
    use crate::job::Unit;

    fn part(field: &str) -> Address {
        match field {
            "" => Address::job(),
            field => Address::job().field(field),
        }
    }

    /// Everything that the page shows of a form that is open.
    fn shown(editor: &Editor, at: &Address, out: &mut Vec<Address>) {
        let Some(sheet) = editor.sheet(at) else {
            return;
        };
        for field in sheet.fields.iter().filter(|f| !is_elsewhere(at, f)) {
            out.push(field.address.clone());
            match &field.form {
                Form::Record(_) => shown(editor, &field.address, out),
                Form::List { of, .. } => {
                    for k in 0..field.count.unwrap_or(0) {
                        out.push(field.address.item(k));
                        if matches!(**of, Form::Record(_)) {
                            shown(editor, &field.address.item(k), out);
                        }
                    }
                }
                _ => {}
            }
        }
    }

    /// Everything that is written.
    fn written(editor: &Editor, at: &Address, out: &mut Vec<Address>) {
        let Some(sheet) = editor.sheet(at) else {
            return;
        };
        for field in sheet.fields.iter().filter(|f| f.is_written) {
            match &field.form {
                Form::Record(_) => written(editor, &field.address, out),
                Form::List { of, .. } if matches!(**of, Form::Record(_)) => {
                    for k in 0..field.count.unwrap_or(0) {
                        written(editor, &field.address.item(k), out);
                    }
                }
                _ => out.push(field.address.clone()),
            }
        }
    }

    #[test]
    fn whatever_is_written_in_a_job_has_its_place_on_the_page() {
        for text in [
            include_str!("../../../surveys/demo.ron"),
            include_str!("../../../tests/whole.ron"),
        ] {
            let editor = Editor::of_text("job", text);
            let contents = editor.contents(false);
            let mut page = Vec::new();
            for (_, field, _) in SECTIONS {
                shown(&editor, &part(field), &mut page);
            }
            for entry in contents.iter().filter(|e| is_listed(e)) {
                shown(&editor, &entry.address, &mut page);
            }
            shown(&editor, &part("site").field("access"), &mut page);
            let mut all = Vec::new();
            written(&editor, &Address::job(), &mut all);
            assert!(all.len() > 150, "{} fields", all.len());
            let notes = part("field_book");
            for at in all.iter().filter(|at| !notes.holds(at)) {
                assert!(page.contains(at), "{at} is nowhere on the page");
                let line = thing_of(at, &contents);
                let has_line = SECTIONS
                    .iter()
                    .any(|s| part(s.1) == line && !s.2.is_empty())
                    || contents.iter().any(|e| e.address == line && is_listed(e))
                    || is_way_in(&line);
                assert!(has_line, "{at} belongs to {line}, which has no line");
            }
        }
    }

    #[test]
    fn what_is_added_as_a_row_has_a_line() {
        let mut editor = Editor::new_job("New", Unit::Foot);
        let mut added = Vec::new();
        for (_, field, _) in SECTIONS.iter().filter(|s| !s.1.is_empty()) {
            for row in rows_to_add(&editor, &part(field)) {
                let edit = Edit::AddPart {
                    list: row.address.clone(),
                    at: [0.0, 0.0],
                };
                editor.apply(&edit).unwrap_or_else(|e| panic!("{e}"));
                let new = row.address.item(0);
                assert_eq!(thing_of(&new, &editor.contents(false)), new);
                added.push(row.address.to_string());
            }
        }
        assert_eq!(
            added,
            ["haul.machines", "plumbing.pumps", "materials.layers"]
        );
    }
}
