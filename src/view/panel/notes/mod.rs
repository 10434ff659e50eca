//! The page of level notes: benchmarks and baselines, then each setup with its sights, and at the
//! foot how they close. Elevations are those of the plan; only the rows in sight are drawn.

use bevy_egui::egui::{
    self, Align, Align2, Context, FontId, Id, Label, Layout, Rect, RichText, Sense, Stroke, Ui,
    UiBuilder, Vec2, pos2, vec2,
};

use crate::edit::{Address, Cell, Edit, New, Sheet, Step};
use crate::job::Unit;
use crate::survey::Reduced;
use crate::view::paper;
use crate::view::work::Work;

use super::cell::{self, HEIGHT};
use super::ledger::{entry, title};
use super::{Desk, Page, Wish};

const ROW: f32 = HEIGHT + 2.0;
/// A line of words under a row that something is wrong with.
const WORDS: f32 = 17.0;
const GAP: f32 = 2.0;

/// Rows that something is wrong with, and what.
type Troubles = Vec<(Address, String)>;

pub fn page(ui: &mut Ui, desk: &mut Desk) {
    let troubles = troubles(ui.ctx(), desk.work);
    let reveal = newly_picked(ui.ctx(), desk, Page::Notes);
    known(ui, desk, &troubles, reveal.as_ref());
    let setups = book("setups");
    let counts: Vec<usize> = (0..desk.work.editor.count(&setups))
        .map(|s| desk.work.editor.count(&setups.item(s).field("sights")))
        .collect();
    let mut before = 0;
    for (s, &count) in counts.iter().enumerate() {
        setup(
            ui,
            desk,
            &setups.item(s),
            before,
            &troubles,
            reveal.as_ref(),
        );
        before += 1 + count;
    }
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        let add = ui
            .button("Add a setup")
            .on_hover_text("The level stands somewhere new: a backsight, then its sights");
        if add.clicked() && add_whole(desk, New::Setup) {
            let new = setups.item(counts.len());
            cell::want(ui.ctx(), &new.field("backsight").field("rod"));
        }
    });
    foot(ui, desk);
}

fn book(list: &str) -> Address {
    Address::job().field("field_book").field(list)
}

/// Adds a whole thing at the middle of the yard. A benchmark is called 100, as nails are.
pub fn add_whole(desk: &mut Desk, what: New) -> bool {
    let centre = desk.yard.frame.centre;
    let at = [centre[0], centre[1]];
    let elevation = match (what, desk.work.editor.unit()) {
        (New::Benchmark, Unit::Foot) => 30.48,
        (New::Benchmark, Unit::Metre) => 100.0,
        _ => desk
            .yard
            .drape(crate::view::Look::Existing)
            .height(at)
            .unwrap_or(centre[2]),
    };
    desk.work.edit(&Edit::Add {
        what,
        at,
        elevation,
    })
}

/// What is picked, if that is news to this page and stands in the field book or not as it should;
/// a pick that belongs on the other page turns to it.
pub fn newly_picked(ctx: &Context, desk: &mut Desk, page: Page) -> Option<Address> {
    let slot = Id::new("picked on a page");
    let known: Option<Address> = ctx.data(|d| d.get_temp(slot)).unwrap_or_default();
    let picked = desk.book.picked.clone();
    if known == picked {
        return None;
    }
    let in_book = picked
        .as_ref()
        .is_some_and(|p| Address::job().field("field_book").holds(p));
    if picked.is_some() && in_book != (page == Page::Notes) {
        // Still news when that page is written.
        desk.page = if in_book { Page::Notes } else { Page::Design };
        ctx.request_repaint();
        return None;
    }
    ctx.data_mut(|d| d.insert_temp(slot, picked.clone()));
    picked
}

/// Remembers that this page itself picked something: nothing has to be brought into sight.
pub fn picked_here(ctx: &Context, desk: &mut Desk, address: Option<Address>) {
    ctx.data_mut(|d| d.insert_temp(Id::new("picked on a page"), address.clone()));
    desk.wishes.push(Wish::Pick(address));
}

/// Something that is worked out once for each state of the text.
pub fn once<T: Clone + Send + Sync + 'static>(
    ctx: &Context,
    work: &Work,
    name: &str,
    make: impl FnOnce() -> T,
) -> T {
    let text = work.editor.text();
    let state = (work.editor.revision(), text.as_ptr() as usize, text.len());
    let slot = Id::new(name);
    if let Some((of, made)) = ctx.data(|d| d.get_temp::<((u64, usize, usize), T)>(slot))
        && of == state
    {
        return made;
    }
    let made = make();
    ctx.data_mut(|d| d.insert_temp(slot, (state, made.clone())));
    made
}

fn troubles(ctx: &Context, work: &Work) -> std::sync::Arc<Troubles> {
    once(ctx, work, "troubles in the notes", || {
        let mut out = Troubles::new();
        for problem in work.editor.problems().iter().take(40) {
            let Some(mut at) = work.editor.address_at(problem.span.start) else {
                continue;
            };
            while !is_row(&at) {
                match at.parent() {
                    Some(up) => at = up,
                    None => break,
                }
            }
            out.push((at, cell::in_words(&problem.what, &problem.allowed)));
        }
        std::sync::Arc::new(out)
    })
}

fn is_row(at: &Address) -> bool {
    let lists = ["benchmarks", "baselines", "pegs", "points", "sights"];
    at.index().is_some()
        && at.parent().is_some_and(
            |list| matches!(list.last(), Some(Step::Field(name)) if lists.contains(&name.as_str())),
        )
}

/// The rows of a list, those in sight drawn by `draw`.
fn rows(
    ui: &mut Ui,
    desk: &mut Desk,
    list: &Address,
    troubles: &Troubles,
    reveal: Option<&Address>,
    mut draw: impl FnMut(&mut Ui, &mut Desk, Rect, &Sheet),
) {
    let count = desk.work.editor.count(list);
    let mut wrong: Vec<(usize, &str)> = troubles
        .iter()
        .filter(|(row, _)| row.parent().as_ref() == Some(list))
        .filter_map(|(row, words)| Some((row.index()?, words.as_str())))
        .collect();
    wrong.sort_unstable();
    wrong.dedup_by_key(|w| w.0);
    let height = count as f32 * ROW + wrong.len() as f32 * WORDS;
    let width = ui.available_width();
    let (area, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    let top_of = |k: usize| {
        let words = wrong.iter().take_while(|w| w.0 < k).count() as f32 * WORDS;
        area.top() + k as f32 * ROW + words
    };
    let place = |k: usize| Rect::from_min_size(pos2(area.left(), top_of(k)), vec2(width, ROW));
    if let Some(k) = reveal
        .filter(|r| r.parent().as_ref() == Some(list))
        .and_then(Address::index)
    {
        let rect = place(k);
        if !ui.clip_rect().contains_rect(rect) {
            ui.scroll_to_rect(rect, Some(Align::Center));
        }
    }
    let clip = ui.clip_rect();
    let above = clip.top() - area.top() - wrong.len() as f32 * WORDS;
    let first = (above / ROW - 1.0).floor().max(0.0) as usize;
    let last = ((clip.bottom() - area.top()) / ROW + 2.0).max(0.0) as usize;
    if first >= count.min(last) {
        return;
    }
    for sheet in desk.work.editor.rows(list, first..last) {
        let Some(k) = sheet.address.index() else {
            continue;
        };
        let rect = place(k);
        let picked = desk.book.picked.as_ref() == Some(&sheet.address);
        if picked {
            ui.painter().rect_filled(rect, 0.0, paper::SHEET);
            let bar = Rect::from_min_size(rect.left_top() - vec2(5.0, 0.0), vec2(3.0, ROW));
            ui.painter().rect_filled(bar, 0.0, paper::ACCENT);
        }
        // Rows must not move what follows on the page.
        let mut row = ui.new_child(UiBuilder::new().id_salt(k).max_rect(rect));
        draw(&mut row, desk, rect, &sheet);
        if let Some((_, words)) = wrong.iter().find(|w| w.0 == k) {
            let under = Rect::from_min_size(rect.left_bottom(), vec2(width, WORDS));
            let text = RichText::new(*words).small().color(paper::ACCENT);
            cell::at(ui, under, ("words", k), |ui| {
                ui.add(Label::new(text).truncate()).on_hover_text(*words)
            });
        }
    }
}

/// Columns from widths; the one of width 0 takes the rest.
fn columns(rect: Rect, widths: &[f32]) -> Vec<Rect> {
    let rest = rect.width() - widths.iter().sum::<f32>() - GAP * (widths.len() - 1) as f32;
    let mut x = rect.left();
    widths
        .iter()
        .map(|&w| {
            let w = if w == 0.0 { rest.max(30.0) } else { w };
            let place = Rect::from_min_size(pos2(x, rect.top() + 1.0), vec2(w, HEIGHT));
            x += w + GAP;
            place
        })
        .collect()
}

fn heads(ui: &mut Ui, widths: &[f32], words: &[&str]) {
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 16.0), Sense::hover());
    for (place, word) in columns(rect, widths).iter().zip(words) {
        ui.painter().text(
            pos2(place.left() + 4.0, rect.center().y),
            Align2::LEFT_CENTER,
            word,
            FontId::proportional(12.0),
            paper::FAINT,
        );
    }
}

fn field<'a>(sheet: &'a Sheet, name: &str) -> Option<&'a Cell> {
    sheet.fields.iter().find(|f| f.name == name)
}

// ------------------------------------------------------------ what is known beforehand

fn known(ui: &mut Ui, desk: &mut Desk, troubles: &Troubles, reveal: Option<&Address>) {
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
            ui.label(
                RichText::new(words)
                    .size(15.0)
                    .strong()
                    .color(paper::ACCENT),
            )
            .on_hover_text(hover);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let add = ui.small_button("Add").on_hover_text(hover);
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
        rows(ui, desk, &list, troubles, reveal, |ui, desk, rect, row| {
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
                // Down the column; in the last row along it, and from its end into a new row.
                if done.entered && next < count {
                    cell::want(ui.ctx(), &list.item(next).field(col.0));
                } else if done.entered && k + 1 < cols.len() {
                    cell::want(ui.ctx(), &row.address.field(cols[k + 1].0));
                } else if done.entered && add_whole(desk, what) {
                    cell::want(ui.ctx(), &list.item(count).field(cols[0].0));
                }
            }
            if let Some(place) = places.last() {
                cell::at(ui, *place, "more", |ui| {
                    cell::more(ui, |ui| remove(ui, desk, &row.address, "Delete"));
                });
            }
        });
    }
}

fn remove(ui: &mut Ui, desk: &mut Desk, at: &Address, words: &str) {
    if ui.button(words).clicked() {
        if desk.work.edit(&Edit::Delete { at: at.clone() }) {
            picked_here(ui.ctx(), desk, None);
        }
        ui.close();
    }
}

// ------------------------------------------------------------ setups

/// Name, rod, place, kind, elevation, more.
const SIGHT: [f32; 6] = [54.0, 54.0, 0.0, 50.0, 54.0, 20.0];

fn setup(
    ui: &mut Ui,
    desk: &mut Desk,
    at: &Address,
    before: usize,
    troubles: &Troubles,
    reveal: Option<&Address>,
) {
    ui.add_space(8.0);
    let height = 2.0 * ROW + 4.0;
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    let sights = at.field("sights");
    let count = desk.work.editor.count(&sights);
    let mut name = String::new();
    if ui.is_rect_visible(rect) {
        if let Some(sheet) = desk.work.editor.sheet(at) {
            name = sheet.name.clone().unwrap_or_default();
            head(ui, desk, rect, &sheet, before, count);
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
    rows(
        ui,
        desk,
        &sights,
        troubles,
        reveal,
        |ui, desk, rect, row| {
            sight(ui, desk, rect, row, &name, before + 1, count);
        },
    );
    let label = RichText::new(format!("Add a row to setup {name}")).small();
    if ui.small_button(label).clicked() {
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
fn head(ui: &mut Ui, desk: &mut Desk, rect: Rect, sheet: &Sheet, before: usize, count: usize) {
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
        cell::more(ui, |ui| {
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
    let survey = &desk.yard.plan.survey;
    let name = sheet.name.as_deref().unwrap_or_default();
    let height = survey
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
    rect: Rect,
    row: &Sheet,
    setup: &str,
    first: usize,
    count: usize,
) {
    let places = columns(rect, &SIGHT);
    let (Some(list), Some(k)) = (row.address.parent(), row.address.index()) else {
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
            let is_read = field(row, "rod").is_some_and(|rod| !rod.shown.is_empty());
            if k + 1 < count {
                let next = list.item(k + 1);
                cell::want(ui.ctx(), &next.field(name));
            } else if is_read {
                new_row(ui.ctx(), desk, &list, k + 1);
            }
        }
    }
    cell::at(ui, places[3], "kind", |ui| kind(ui, desk, row));
    let name = row.name.as_deref().unwrap_or_default();
    let survey = &desk.yard.plan.survey;
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
        let figures = desk.book.figures;
        let mut words = format!(
            "Suspect: {}; off by {}",
            suspect.slip,
            figures.elevation_with_unit(suspect.off_by)
        );
        if let Some(rod) = suspect.likely_rod {
            words += &format!("; a rod of {} would fit", figures.elevation(rod));
        }
        ui.interact(places[4], ui.id().with("suspect"), Sense::hover())
            .on_hover_text(words);
    }
    cell::at(ui, places[5], "more", |ui| {
        cell::more(ui, |ui| details(ui, desk, row));
    });
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
    egui::containers::menu::MenuButton::from_button(button)
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
                if ui.checkbox(&mut on, words).changed() {
                    desk.work.edit(&Edit::typed(&cell.address, on.to_string()));
                    ui.ctx().request_repaint();
                }
            }
        });
}

/// What is seldom booked with a sight, and what can be done with its row.
fn details(ui: &mut Ui, desk: &mut Desk, row: &Sheet) {
    ui.set_width(260.0);
    for name in ["remark", "distance", "check"] {
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
        if ui.button("New row above").clicked() {
            new_row(ui.ctx(), desk, &list, k);
            ui.close();
        }
        remove(ui, desk, &row.address, "Delete the row");
    });
}

// ------------------------------------------------------------ the foot

fn foot(ui: &mut Ui, desk: &mut Desk) {
    let figures = desk.book.figures;
    let survey = &desk.yard.plan.survey;
    title(ui, "Closure", "");
    if survey.closures.is_empty() {
        let words = "These notes do not come back to a benchmark: a slip would not show.";
        ui.add(Label::new(RichText::new(words).small().color(paper::FAINT)).wrap());
    }
    for closure in &survey.closures {
        let from = if closure.from == closure.to {
            format!("{} and back", closure.from)
        } else {
            format!("{} to {}", closure.from, closure.to)
        };
        let off = figures.elevation_with_unit(closure.misclosure);
        entry(ui, &from, &off).on_hover_text("As booked minus as known");
        let allowed = figures.elevation_with_unit(closure.allowed);
        let (words, ink) = if closure.closes {
            (format!("closes; allowed {allowed}"), paper::FAINT)
        } else {
            (format!("does not close; allowed {allowed}"), paper::ACCENT)
        };
        ui.label(RichText::new(words).small().color(ink));
    }
    if let Some([sum, rise]) = survey.arithmetic {
        entry(ui, "Σ backsights − Σ foresights", &figures.elevation(sum));
        entry(ui, "Last elevation − first", &figures.elevation(rise))
            .on_hover_text("The check of the arithmetic: both must be the same");
    }
    ui.add_space(4.0);
    let at = Address::job().field("field_book");
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 2.0 * ROW), Sense::hover());
    if !ui.is_rect_visible(rect) {
        return;
    }
    let Some(sheet) = desk.work.editor.sheet(&at) else {
        return;
    };
    for (k, (name, words)) in [
        ("rod_length", "Length of the rod"),
        ("allowed", "Misclosure allowed"),
    ]
    .iter()
    .enumerate()
    {
        let line = Rect::from_min_size(
            rect.left_top() + vec2(0.0, k as f32 * ROW),
            vec2(rect.width(), ROW),
        );
        let places = columns(line, &[130.0, 0.0]);
        ui.painter().text(
            places[0].left_center(),
            Align2::LEFT_CENTER,
            words,
            FontId::proportional(13.0),
            paper::FAINT,
        );
        if let Some(cell) = field(&sheet, name) {
            cell::field(ui, places[1], desk.work, cell);
        }
    }
}
