//! The page of level notes: benchmarks and baselines, then each setup with its sights, and at the
//! foot how they close. Elevations are those of the plan; only the rows in sight are drawn.

mod foot;
mod known;
mod setups;

use bevy_egui::egui::{
    Align, Align2, Context, FontId, Id, Label, Rect, RichText, Sense, Ui, UiBuilder, pos2, vec2,
};

use crate::edit::{Address, Cell, Edit, New, Sheet, Step};
use crate::job::Unit;
use crate::survey::Reduced;
use crate::view::paper;
use crate::view::work::Work;

use super::cell::{self, HEIGHT};
use super::{Desk, Page, Wish, press};

const ROW: f32 = HEIGHT + 2.0;
/// A line of words under a row that something is wrong with.
const WORDS: f32 = 17.0;
const GAP: f32 = 2.0;

/// Rows that something is wrong with, and what.
type Troubles = Vec<(Address, String)>;

pub fn page(ui: &mut Ui, desk: &mut Desk) {
    let troubles = troubles(ui.ctx(), desk.work);
    let reveal = newly_picked(ui.ctx(), desk, Page::Notes);
    known::known(ui, desk, &troubles, reveal.as_ref());
    let setups = book("setups");
    let counts: Vec<usize> = (0..desk.work.editor.count(&setups))
        .map(|s| desk.work.editor.count(&setups.item(s).field("sights")))
        .collect();
    let mut before = 0;
    for (s, &count) in counts.iter().enumerate() {
        let yard = desk.yard;
        let notes = setups::Notes {
            levels: &yard.plan.survey,
            troubles: &troubles,
            reveal: reveal.as_ref(),
        };
        setups::setup(ui, desk, &notes, &setups.item(s), before);
        before += 1 + count;
    }
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        let about = "The level stands somewhere new: a backsight, then its sights";
        if press::button(ui, "Add a setup", about) && add_whole(desk, New::Setup) {
            let new = setups.item(counts.len());
            cell::want(ui.ctx(), &new.field("backsight").field("rod"));
        }
    });
    foot::foot(ui, desk);
}

/// The setups of a visit after digging, as they are booked.
pub fn visit(ui: &mut Ui, desk: &mut Desk, list: &Address) {
    let troubles = troubles(ui.ctx(), desk.work);
    let levels = levels(ui.ctx(), desk, list).unwrap_or_default();
    let notes = setups::Notes {
        levels: &levels,
        troubles: &troubles,
        reveal: None,
    };
    let mut before = 0;
    for k in 0..desk.work.editor.count(list) {
        let setup = list.item(k);
        setups::setup(ui, desk, &notes, &setup, before);
        before += 1 + desk.work.editor.count(&setup.field("sights"));
    }
}

/// The levels of the visit whose setups these are.
fn levels(ctx: &Context, desk: &Desk, list: &Address) -> Option<std::sync::Arc<Reduced>> {
    let visit = list.parent()?;
    let yard = desk.yard;
    once(ctx, desk.work, &format!("levels of {visit}"), || {
        let job = desk.work.editor.job()?;
        let visit = job.as_built.visits.get(visit.index()?)?;
        let levels = crate::as_built::levels(job, &yard.plan, visit);
        Some(std::sync::Arc::new(levels))
    })
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

/// The rows of a list, those in sight drawn by `draw`. The row that is picked has a second line of
/// height `second`.
fn rows(
    ui: &mut Ui,
    desk: &mut Desk,
    list: &Address,
    (troubles, reveal): (&Troubles, Option<&Address>),
    second: f32,
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
    let picked = desk.book.picked.as_ref();
    let picked = picked.filter(|p| p.parent().as_ref() == Some(list));
    let picked = picked.and_then(Address::index).filter(|k| *k < count);
    let extra = if picked.is_some() { second } else { 0.0 };
    let height = count as f32 * ROW + wrong.len() as f32 * WORDS + extra;
    let width = ui.available_width();
    let (area, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    let top_of = |k: usize| {
        let words = wrong.iter().take_while(|w| w.0 < k).count() as f32 * WORDS;
        let second = if picked.is_some_and(|p| p < k) {
            extra
        } else {
            0.0
        };
        area.top() + k as f32 * ROW + words + second
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
    let above = clip.top() - area.top() - wrong.len() as f32 * WORDS - extra;
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
        let mut whole = rect;
        if picked == Some(k) {
            whole.max.y += extra;
            ui.painter().rect_filled(whole, 0.0, paper::SHEET);
            let bar = vec2(3.0, whole.height());
            let bar = Rect::from_min_size(rect.left_top() - vec2(5.0, 0.0), bar);
            ui.painter().rect_filled(bar, 0.0, paper::ACCENT);
        }
        // Rows must not move what follows on the page.
        let mut row = ui.new_child(UiBuilder::new().id_salt(k).max_rect(whole));
        draw(&mut row, desk, rect, &sheet);
        if let Some((_, words)) = wrong.iter().find(|w| w.0 == k) {
            let under = Rect::from_min_size(whole.left_bottom(), vec2(width, WORDS));
            let text = RichText::new(*words).small().color(paper::ACCENT);
            cell::at(ui, under, ("words", k), |ui| {
                ui.add(Label::new(text).truncate()).on_hover_text(*words)
            });
        }
    }
}

/// A row that was begun and not gone on with goes again.
fn take_back_row(ctx: &Context, desk: &mut Desk, at: &Address) {
    if desk.work.edit(&Edit::Delete { at: at.clone() }) {
        picked_here(ctx, desk, None);
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

fn remove(ui: &mut Ui, desk: &mut Desk, at: &Address, words: &str) {
    if ui.button(words).clicked() {
        if desk.work.edit(&Edit::Delete { at: at.clone() }) {
            picked_here(ui.ctx(), desk, None);
        }
        ui.close();
    }
}
