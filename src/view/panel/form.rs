//! A record of the job as a form: its fields, the records and lists within it, and what can be done
//! with each item of a list.

use bevy_egui::egui::{
    self, Align2, CollapsingHeader, CollapsingResponse, FontId, Label, Rect, Response, RichText,
    Sense, Stroke, Ui, pos2, vec2,
};

use crate::edit::{Address, Cell, Default as Absent, Edit, Sheet, item_noun};
use crate::job::Form;
use crate::view::{paper, telling};

use super::cell::{self, HEIGHT};
use super::design::is_elsewhere;
use super::{Desk, Wish, notes, press};

pub const ROW: f32 = HEIGHT + 3.0;
const LABEL: f32 = 104.0;

/// What is to be done when all has been drawn: addresses hold until then.
#[derive(Default)]
pub struct Orders {
    pub edits: Vec<Edit>,
    /// The thing to be open from now on.
    pub open: Option<Option<Address>>,
    /// The part that is added by one of the edits.
    pub fresh: Option<Address>,
}

/// One more of a list, with usual measures.
pub fn one_more(list: &Address, desk: &Desk) -> Edit {
    let centre = desk.yard.frame.centre;
    Edit::AddPart {
        list: list.clone(),
        at: [centre[0], centre[1]],
    }
}

/// Records of no more fields than this are rows of a table.
const COLUMNS: usize = 4;

/// Writes forms, and gathers what is to be done.
pub struct Forms<'a> {
    /// What has just been picked: unfolded down to it.
    pub news: Option<Address>,
    /// A part that has just been added: unfolded as well.
    pub fresh: Option<Address>,
    pub orders: &'a mut Orders,
}

impl Forms<'_> {
    /// Copy, move, delete.
    pub fn deeds(&mut self, ui: &mut Ui, desk: &mut Desk, at: &Address, is_thing: bool) {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 4.0;
            self.deeds_in(ui, desk, at, is_thing);
        });
    }

    fn deeds_in(&mut self, ui: &mut Ui, desk: &mut Desk, at: &Address, is_thing: bool) {
        let count = at.parent().map_or(0, |list| desk.work.editor.count(&list));
        let list = at.parent();
        let beside = |k: usize| list.as_ref().map(|l| l.item(k));
        if let Some(k) = at.index() {
            if press::small(ui, "Copy", "A second one like it, after it") {
                self.order(
                    Edit::Copy { at: at.clone() },
                    is_thing.then(|| beside(k + 1)),
                );
            }
            let about = "One place earlier in the list";
            if press::small_if(ui, k > 0, "Move up", about) {
                let to = k - 1;
                self.order(
                    Edit::Shift { at: at.clone(), to },
                    is_thing.then(|| beside(to)),
                );
            }
            let about = "One place later in the list";
            if press::small_if(ui, k + 1 < count, "Move down", about) {
                let to = k + 1;
                self.order(
                    Edit::Shift { at: at.clone(), to },
                    is_thing.then(|| beside(to)),
                );
            }
        }
        let about = "Refused while something else leans on it";
        if press::small_of(ui, "Delete", about, ("delete", &at.to_string())) {
            self.order(Edit::Delete { at: at.clone() }, is_thing.then_some(None));
        }
    }

    pub fn order(&mut self, edit: Edit, open: Option<Option<Address>>) {
        self.orders.edits.push(edit);
        if let Some(open) = open {
            self.orders.open = Some(open);
        }
    }

    // -------------------------------------------------------- forms

    pub fn form(&mut self, ui: &mut Ui, desk: &mut Desk, at: &Address) {
        let Some(sheet) = desk.work.editor.sheet(at) else {
            return;
        };
        let lines: Vec<&Cell> = sheet.fields.iter().filter(|f| is_line(f)).collect();
        for (k, field) in lines.iter().enumerate() {
            let next = lines[k + 1..].iter().find(|c| cell::is_typed(c));
            self.field(ui, desk, field, next.map(|c| &c.address));
        }
        let rest = |f: &&Cell| !is_line(f) && !is_elsewhere(at, f);
        for field in sheet.fields.iter().filter(rest) {
            match &field.form {
                Form::List { of, .. } => self.list(ui, desk, field, of),
                _ => self.nested(ui, desk, field),
            }
        }
        for problem in &sheet.problems {
            wrong(ui, &problem.what, &problem.allowed);
        }
    }

    fn field(&mut self, ui: &mut Ui, desk: &mut Desk, cell: &Cell, next: Option<&Address>) {
        let words = cell.name.replace('_', " ");
        let done = labelled(ui, &words, cell.unit, |ui, place| {
            cell::field(ui, place, desk.work, cell)
        });
        if let (true, Some(next)) = (done.entered, next) {
            cell::want(ui.ctx(), next);
        }
        cell::wrong(ui, cell);
    }

    /// A record within a record; it need not be written yet.
    fn nested(&mut self, ui: &mut Ui, desk: &mut Desk, cell: &Cell) {
        let mut words = cell.name.replace('_', " ");
        if !cell.is_written {
            words += match cell.default {
                Absent::Nothing => ": none",
                _ => ": as usual",
            };
        }
        let shown = CollapsingHeader::new(heading(&words, cell))
            .id_salt(cell.address.to_string())
            .open(self.must_open(&cell.address))
            .show(ui, |ui| {
                self.form(ui, desk, &cell.address);
                let may_go = cell.default != Absent::Required;
                let about = "Back to what is usual";
                if cell.is_written && may_go && press::small(ui, "Leave it out", about) {
                    self.order(
                        Edit::Clear {
                            at: cell.address.clone(),
                        },
                        None,
                    );
                }
            });
        told(ui, cell, shown.header_response);
    }

    fn list(&mut self, ui: &mut Ui, desk: &mut Desk, cell: &Cell, of: &Form) {
        let count = cell.count.unwrap_or(0);
        let words = format!("{}: {count}", cell.name.replace('_', " "));
        let fold = CollapsingHeader::new(heading(&words, cell))
            .id_salt(cell.address.to_string())
            .open(self.must_open(&cell.address));
        let shown = unfolded(fold, ui, needs_width(of), |ui| {
            let first = count.checked_sub(1).map(|_| cell.address.item(0));
            let first = first.and_then(|at| desk.work.editor.sheet(&at));
            match of {
                Form::Record("Setup") => notes::visit(ui, desk, &cell.address),
                Form::Record(_) if first.as_ref().is_some_and(is_row) => {
                    self.table(ui, desk, &cell.address, count);
                }
                Form::Record(_) => {
                    for k in 0..count {
                        self.part(ui, desk, &cell.address.item(k), k);
                    }
                }
                _ => {
                    for k in 0..count {
                        self.item(ui, desk, cell, of, k);
                    }
                }
            }
            let words = match item_noun(&cell.form).as_str() {
                "entry" => "One more".to_owned(),
                noun => format!("One more {noun}"),
            };
            let this = cell.address.to_string();
            let about = "At the end of the list; Enter in the last one does the same";
            if press::small_of(ui, &words, about, ("add", &this)) {
                self.add(desk, &cell.address, count);
            }
        });
        told(ui, cell, shown.header_response);
        cell::wrong(ui, cell);
    }

    /// One more at the end of a list; it takes the keyboard.
    fn add(&mut self, desk: &Desk, list: &Address, count: usize) {
        self.order(one_more(list, desk), None);
        self.orders.fresh = Some(list.item(count));
    }

    /// Records of few fields, one in a row.
    fn table(&mut self, ui: &mut Ui, desk: &mut Desk, list: &Address, count: usize) {
        for k in 0..count {
            let at = list.item(k);
            let Some(sheet) = desk.work.editor.sheet(&at) else {
                continue;
            };
            if k == 0 {
                let (rect, _) =
                    ui.allocate_exact_size(vec2(ui.available_width(), 16.0), Sense::hover());
                for (place, field) in columns(rect, &sheet).iter().zip(&sheet.fields) {
                    let unit = field.unit.map_or(String::new(), |u| format!(", {u}"));
                    ui.painter().text(
                        place.left_center() + vec2(4.0, 0.0),
                        Align2::LEFT_CENTER,
                        field.name.replace('_', " ") + &unit,
                        FontId::proportional(12.0),
                        paper::FAINT,
                    );
                }
            }
            let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::hover());
            let places = columns(rect, &sheet);
            for (c, field) in sheet.fields.iter().enumerate() {
                let done = cell::field(ui, places[c], desk.work, field);
                if done.entered {
                    self.on_from(ui, desk, list, &sheet, (k, c, count));
                }
            }
            if let Some(place) = places.last() {
                cell::at(ui, *place, ("more", at.to_string()), |ui| {
                    cell::more(ui, &at, |ui| self.deeds_in(ui, desk, &at, false));
                });
            }
            for field in &sheet.fields {
                cell::wrong(ui, field);
            }
            for problem in &sheet.problems {
                wrong(ui, &problem.what, &problem.allowed);
            }
        }
    }

    /// Enter in a table: down the column, in the last row along it, from its end into a new row.
    fn on_from(
        &mut self,
        ui: &Ui,
        desk: &Desk,
        list: &Address,
        sheet: &Sheet,
        (row, column, count): (usize, usize, usize),
    ) {
        let along = || sheet.fields[column + 1..].iter();
        if row + 1 < count {
            let below = list.item(row + 1).field(sheet.fields[column].name);
            cell::want(ui.ctx(), &below);
        } else if let Some(next) = along().find(|f| cell::is_typed(f)) {
            cell::want(ui.ctx(), &next.address);
        } else {
            self.add(desk, list, count);
        }
    }

    /// A part of a thing: a shelf, a layer, a pool.
    fn part(&mut self, ui: &mut Ui, desk: &mut Desk, at: &Address, k: usize) {
        let Some(sheet) = desk.work.editor.sheet(at) else {
            return;
        };
        let fold = CollapsingHeader::new(RichText::new(in_short(&sheet, k)).size(13.5))
            .id_salt(at.to_string())
            .open(self.must_open(at));
        let shown = unfolded(fold, ui, sheet.record == "Visit", |ui| {
            self.deeds(ui, desk, at, false);
            self.form(ui, desk, at);
        });
        let header = shown.header_response.rect;
        telling::place(ui, "fold", &at.to_string(), header);
    }

    /// One value of a list: a corner, a name.
    fn item(&mut self, ui: &mut Ui, desk: &mut Desk, list: &Cell, of: &Form, k: usize) {
        let at = list.address.item(k);
        let count = list.count.unwrap_or(0);
        let shown = desk.work.editor.shown(&at).unwrap_or_default();
        let problems = list.problems.iter().filter(|p| {
            let found = desk.work.editor.address_at(p.span.start);
            found.is_some_and(|a| at.holds(&a))
        });
        let one = Cell {
            address: at.clone(),
            form: of.clone(),
            default: Absent::Required,
            shown,
            is_written: true,
            count: None,
            record: None,
            problems: problems.cloned().collect(),
            span: None,
            ..list.clone()
        };
        let picked = desk.book.picked.as_ref() == Some(&at);
        let done = labelled(ui, &format!("{}", k + 1), Some("…"), |ui, place| {
            let done = cell::field(ui, place, desk.work, &one);
            if picked {
                ui.painter().rect_stroke(
                    place,
                    2.0,
                    Stroke::new(1.5, paper::INK),
                    egui::StrokeKind::Outside,
                );
            }
            let more = Rect::from_min_size(
                pos2(place.right() + 4.0, place.top()),
                vec2(24.0, place.height()),
            );
            cell::at(ui, more, ("more", at.to_string()), |ui| {
                cell::more(ui, &at, |ui| {
                    self.deeds_in(ui, desk, &at, false);
                });
            });
            done
        });
        if done.entered {
            // From the last one to a new one; an empty one ends it.
            let shown = desk.work.editor.shown(&at).unwrap_or_default();
            if k + 1 < count {
                cell::want(ui.ctx(), &list.address.item(k + 1));
            } else if !shown.trim().is_empty() {
                self.add(desk, &list.address, count);
            } else {
                self.order(Edit::Delete { at: at.clone() }, None);
            }
        }
        if done.taken && matches!(of, Form::Point | Form::Corner) {
            desk.wishes.push(Wish::Pick(Some(at)));
        }
    }

    /// What has just been picked or added is unfolded down to it.
    fn must_open(&self, at: &Address) -> Option<bool> {
        let mut shown = self.news.iter().chain(&self.fresh);
        shown.any(|inside| at.holds(inside)).then_some(true)
    }
}

fn is_line(cell: &Cell) -> bool {
    !matches!(cell.form, Form::Record(_) | Form::List { .. })
}

/// Level notes take the whole width of the page: their rows are as wide as those of the field book.
fn needs_width(of: &Form) -> bool {
    matches!(of, Form::Record("Visit" | "Setup"))
}

/// What is folded, a step further in unless it needs the width.
fn unfolded(
    fold: CollapsingHeader,
    ui: &mut Ui,
    wide: bool,
    add: impl FnOnce(&mut Ui),
) -> CollapsingResponse<()> {
    if wide {
        fold.show_unindented(ui, add)
    } else {
        fold.show(ui, add)
    }
}

/// Whether a record fits in a row.
fn is_row(sheet: &Sheet) -> bool {
    sheet.fields.len() <= COLUMNS && sheet.fields.iter().all(is_line)
}

/// The columns of a row, names wider than figures; the last one is for what can be done with it.
fn columns(rect: Rect, sheet: &Sheet) -> Vec<Rect> {
    let share = |cell: &Cell| match cell.form {
        Form::Text | Form::Name(_) | Form::Refers(_) => 1.6,
        _ => 1.0,
    };
    let all: f32 = sheet.fields.iter().map(share).sum();
    let wide = rect.width() - 24.0;
    let mut x = rect.left();
    let mut out: Vec<Rect> = sheet
        .fields
        .iter()
        .map(|field| {
            let width = wide * share(field) / all;
            let place = Rect::from_min_size(
                pos2(x, rect.top() + 1.0),
                vec2(width - 2.0, rect.height() - 3.0),
            );
            x += width;
            place
        })
        .collect();
    out.push(Rect::from_min_max(pos2(x, rect.top()), rect.max));
    out
}

fn wrong(ui: &mut Ui, what: &str, allowed: &str) {
    let words = RichText::new(cell::in_words(what, allowed)).small();
    ui.add(Label::new(words.color(paper::ACCENT)).wrap());
}

fn heading(words: &str, cell: &Cell) -> RichText {
    let text = RichText::new(words).size(13.5);
    if cell.problems.is_empty() {
        text
    } else {
        text.color(paper::ACCENT)
    }
}

/// A part in a line: its name, or its first values.
fn in_short(sheet: &Sheet, k: usize) -> String {
    let what = match &sheet.name {
        Some(name) => name.clone(),
        None => format!("{} {}", sheet.noun, k + 1),
    };
    let values: Vec<String> = sheet
        .fields
        .iter()
        .filter(|f| f.is_written && f.name != "name" && is_line(f))
        .take(2)
        .map(|f| format!("{} {}", f.name.replace('_', " "), f.shown))
        .collect();
    if values.is_empty() {
        what
    } else {
        format!("{what}: {}", values.join(", "))
    }
}

/// A label, a place to type in, and a unit.
fn labelled(
    ui: &mut Ui,
    words: &str,
    unit: Option<&str>,
    add: impl FnOnce(&mut Ui, Rect) -> cell::Done,
) -> cell::Done {
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::hover());
    ui.painter().text(
        rect.left_center(),
        Align2::LEFT_CENTER,
        words,
        FontId::proportional(13.0),
        paper::FAINT,
    );
    let place = Rect::from_min_max(
        pos2(rect.left() + LABEL, rect.top() + 1.0),
        pos2(rect.right() - 42.0, rect.bottom() - 2.0),
    );
    if let Some(unit) = unit.filter(|u| *u != "…") {
        ui.painter().text(
            pos2(place.right() + 4.0, rect.center().y),
            Align2::LEFT_CENTER,
            unit,
            FontId::proportional(12.0),
            paper::FAINT,
        );
    }
    add(ui, place)
}

/// The head of a fold tells where it lies and what it is about.
fn told(ui: &Ui, cell: &Cell, head: Response) {
    telling::place(ui, "fold", &cell.address.to_string(), head.rect);
    head.on_hover_text(cell::about(cell));
}
