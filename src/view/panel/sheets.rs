//! Sheets for the crew, laid over the yard: where the soil goes, what is ordered, what the water
//! does, what is staked and read on the rod, how it was built. The words are those of the reports;
//! the stakes also come one at a time, in large letters.

use std::sync::Arc;

use bevy::tasks::{Task, block_on, poll_once};
use bevy_egui::egui::{
    Align2, Context, FontId, Frame, Grid, Key, Label, Margin, Modifiers, Rect, RichText,
    ScrollArea, Stroke, TextEdit, Ui, Window, vec2,
};

use crate::job::Job;
use crate::plan::Plan;
use crate::stakes::{self, Instrument};
use crate::takeoff::takeoff;
use crate::view::aside::Crew;
use crate::view::{built, paper, telling};
use crate::{as_built, flow, haul, ledger, report};

use super::ledger::title;
use super::{Desk, Wish, press};

/// Size of a sheet's letters, points.
const LETTERS: f32 = 12.5;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    Soil,
    Order,
    Water,
    Stakes,
    Built,
}

impl Sheet {
    const ALL: [Sheet; 5] = [
        Sheet::Soil,
        Sheet::Order,
        Sheet::Water,
        Sheet::Stakes,
        Sheet::Built,
    ];

    fn word(self) -> &'static str {
        match self {
            Sheet::Soil => "Where the soil goes",
            Sheet::Order => "What to order",
            Sheet::Water => "Water, pump and pipes",
            Sheet::Stakes => "Setting out",
            Sheet::Built => "As built",
        }
    }

    fn about(self) -> &'static str {
        match self {
            Sheet::Soil => "Stage by stage: what is dug and placed, what lies on which pile, loads",
            Sheet::Order => {
                "Liner, underlayment, stone, block, pipe, soil: how much, and how it was got"
            }
            Sheet::Water => {
                "Where it runs over and goes then, what is stored, depth over the lips, the pump's \
                 duty, overflow pipes"
            }
            Sheet::Stakes => {
                "Every stake with its tapes, what to dig there, and what the rod reads from where the \
                 level stands now"
            }
            Sheet::Built => "What was shot after digging, held against the design of its stage",
        }
    }
}

/// The sheet that lies over the yard.
#[derive(Default)]
pub struct Sheets {
    laid: Option<Sheet>,
    /// Its words, and those whose columns they fit.
    text: String,
    columns: usize,
    stale: bool,
    /// Words that take longer than a frame are written aside; the old ones lie there meanwhile.
    writing: Option<Task<String>>,
    /// The backsight as typed, the level that it gives, or why it gives none.
    backsight: String,
    level: Option<Result<Instrument, String>>,
    one_by_one: bool,
    /// The stake in large letters.
    stake: usize,
    /// The visit that is to be shown in the yard in place of its sheet.
    in_yard: Option<usize>,
}

impl Sheets {
    pub fn lay(&mut self, sheet: Sheet) {
        self.laid = Some(sheet);
        self.stale = true;
    }

    pub fn is_laid(&self) -> bool {
        self.laid.is_some()
    }

    /// The stake to be shown in the yard, if stakes are.
    pub fn stake(&self) -> Option<usize> {
        (self.laid == Some(Sheet::Stakes)).then_some(self.stake)
    }

    /// The visit that was asked for on its sheet, once.
    pub fn wanted_in_yard(&mut self) -> Option<usize> {
        self.in_yard.take()
    }

    fn write(&mut self, sheet: Sheet, job: &Arc<Job>, plan: &Plan) {
        self.stale = false;
        if sheet == Sheet::Stakes {
            let typed = self.backsight.trim();
            self.level = (!typed.is_empty()).then(|| stakes::instrument(job, plan, typed));
            let level = self.level.as_ref().and_then(|l| l.as_ref().ok());
            self.writing = None;
            self.text = report::stakes(job, plan, &plan.stakes, level, self.columns);
            self.stake = self.stake.min(plan.stakes.list.len().saturating_sub(1));
            return;
        }
        let (job, plan, columns) = (job.clone(), plan.clone(), self.columns);
        let write = move || match sheet {
            Sheet::Soil => {
                let places = ledger::places(&job, &plan);
                let haulage = haul::of(&job, &plan, &places);
                report::soil(&job, &plan, &places, &haulage, columns)
            }
            Sheet::Order => report::takeoff(&job, &plan, &takeoff(&job, &plan), columns),
            Sheet::Water => report::water(&job, &plan, &flow::closer(&job, &plan), columns),
            Sheet::Built => report::as_built(&job, &as_built::of(&job, &plan), columns),
            Sheet::Stakes => String::new(),
        };
        self.writing = Some(Crew::Others.begin(write));
    }

    /// Takes up what was written aside; whether it is still being written.
    fn is_writing(&mut self) -> bool {
        let Some(task) = &mut self.writing else {
            return false;
        };
        let Some(text) = block_on(poll_once(task)) else {
            return true;
        };
        self.text = text;
        self.writing = None;
        false
    }
}

/// The page they are taken from.
pub fn page(ui: &mut Ui, desk: &mut Desk) {
    title(ui, "Sheets for the crew", "");
    ui.add(Label::new("A sheet is laid over the yard; Esc puts it away.").wrap());
    for sheet in Sheet::ALL {
        ui.add_space(8.0);
        if press::button(ui, sheet.word(), sheet.about()) {
            desk.wishes.push(Wish::Lay(sheet));
        }
        let about = RichText::new(sheet.about()).size(13.0).color(paper::FAINT);
        ui.add(Label::new(about).wrap());
        if sheet == Sheet::Built {
            visits(ui, desk);
        }
    }
}

/// What was shot, in the yard itself.
fn visits(ui: &mut Ui, desk: &mut Desk) {
    let Some(job) = desk.work.editor.job().cloned() else {
        return;
    };
    if job.as_built.visits.is_empty() {
        return;
    }
    ui.add_space(4.0);
    let shown = desk.showing.built;
    if told_radio(ui, shown.is_none(), "not in the yard") {
        desk.showing.built = None;
    }
    for (k, visit) in job.as_built.visits.iter().enumerate() {
        let words = format!("in the yard: {}", built::name(visit));
        if told_radio(ui, shown == Some(k), &words) {
            desk.showing.built = Some(k);
        }
    }
    let Some(k) = shown else { return };
    let words = match desk.visits.seen(k) {
        None => "Being worked out…".to_owned(),
        Some(seen) => match seen.why_not() {
            Some(why) => format!("Cannot be shown: {why}."),
            None => report::record(&seen.built, desk.yard.unit),
        },
    };
    ui.add(Label::new(RichText::new(words).size(13.0)).wrap());
}

fn told_radio(ui: &mut Ui, on: bool, words: &str) -> bool {
    let response = ui.radio(on, words);
    telling::place(ui, "button", words, response.rect);
    response.clicked()
}

/// Shows the sheet that is laid; returns where it lies. `fresh`: the plan is another than before.
pub fn show(
    ctx: &Context,
    left: Rect,
    sheets: &mut Sheets,
    job: Option<&Arc<Job>>,
    plan: &Plan,
    fresh: bool,
) -> Option<Rect> {
    let (sheet, job) = (sheets.laid?, job?);
    let letter = ctx.fonts_mut(|f| f.glyph_width(&FontId::monospace(LETTERS), '0'));
    let columns = ((left.width() - 90.0) / letter.max(1.0)).clamp(60.0, 112.0) as usize;
    if fresh || sheets.stale || sheets.columns != columns {
        sheets.columns = columns;
        sheets.write(sheet, job, plan);
    }
    let waited = sheets.writing.is_some();
    let writing = sheets.is_writing();
    // Once more when the words are there: the sheet grows to them in the frame after.
    if waited {
        ctx.request_repaint();
    }
    let height = (left.height() - 150.0).max(120.0);
    let large = sheet == Sheet::Stakes && sheets.one_by_one && !plan.stakes.list.is_empty();
    let mut away = ctx.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Escape));
    let frame = Frame::NONE
        .fill(paper::PAPER)
        .stroke(Stroke::new(1.0, paper::INK))
        .inner_margin(Margin::same(12));
    // The large one leaves room to see its stake: it is small, and lies low.
    let (name, pivot, corner) = if large {
        (
            "stake",
            Align2::LEFT_BOTTOM,
            left.left_bottom() + vec2(14.0, -40.0),
        )
    } else {
        (
            "sheet",
            Align2::LEFT_TOP,
            left.left_top() + vec2(14.0, 14.0),
        )
    };
    let shown = Window::new(name)
        .title_bar(false)
        .resizable(false)
        .collapsible(false)
        .frame(frame)
        .pivot(pivot)
        .fixed_pos(corner)
        .show(ctx, |ui| {
            ui.horizontal(|ui| {
                ui.label(RichText::new(sheet.word()).heading());
                if press::button(ui, "Put away", "Esc does the same") {
                    away = true;
                }
                if !large && press::button(ui, "Copy all", "Copies the sheet as text") {
                    ui.ctx().copy_text(sheets.text.clone());
                }
                let visits = job.as_built.visits.len();
                if sheet == Sheet::Built && visits > 0 {
                    let about = "The last visit, with its shots and the ground as shot; the others \
                                 are chosen on the page";
                    if press::button(ui, "In the yard", about) {
                        sheets.in_yard = Some(visits - 1);
                        away = true;
                    }
                }
                if sheet == Sheet::Stakes {
                    let (words, about) = if sheets.one_by_one {
                        ("All stakes", "The whole list")
                    } else {
                        (
                            "One at a time",
                            "One stake in large letters, and in the yard",
                        )
                    };
                    if press::button(ui, words, about) {
                        sheets.one_by_one = !sheets.one_by_one;
                    }
                }
            });
            if sheet == Sheet::Stakes {
                backsight(ui, sheets, job, plan);
            }
            if writing {
                ui.label(RichText::new("being written…").color(paper::FAINT));
            } else {
                telling::place(ui, "sheet", sheet.word(), ui.max_rect());
            }
            if !large {
                // As wide as its columns, and what the bar beside them takes.
                ui.set_width(columns as f32 * letter + 20.0);
            }
            ui.separator();
            if large {
                one(ui, sheets, job, plan);
                return;
            }
            ScrollArea::both()
                .id_salt("sheet's words")
                .max_height(height)
                .min_scrolled_height(height)
                .auto_shrink([false, true])
                .show(ui, |ui| {
                    let text = RichText::new(&sheets.text).monospace().size(LETTERS);
                    ui.add(Label::new(text).extend().selectable(true));
                });
        });
    if away {
        sheets.laid = None;
    }
    shown.map(|s| s.response.rect)
}

/// Where the level stands now.
fn backsight(ui: &mut Ui, sheets: &mut Sheets, job: &Arc<Job>, plan: &Plan) {
    let name = job.field_book.benchmarks.first();
    let hint = format!("{}=4.62", name.map_or("BM", |b| b.name.as_str()));
    ui.horizontal(|ui| {
        ui.label("Level now, backsight");
        let edit = TextEdit::singleline(&mut sheets.backsight)
            .hint_text(hint)
            .desired_width(170.0);
        let response = ui.add(edit).on_hover_text(
            "A benchmark, =, and what the rod reads on it from where the level stands",
        );
        telling::place(ui, "cell", "backsight", response.rect);
        if response.changed() {
            sheets.write(Sheet::Stakes, job, plan);
        }
        if let Some(Ok(level)) = &sheets.level {
            let hi = report::Measure(job.unit).length(level.height);
            ui.label(format!("height of instrument {hi}"));
        }
    });
    match &sheets.level {
        Some(Err(why)) => {
            ui.add(Label::new(RichText::new(why).color(paper::ACCENT)).wrap());
        }
        Some(Ok(level)) if !level.caution.is_empty() => {
            ui.add(Label::new(RichText::new(level.caution).color(paper::ACCENT)).wrap());
        }
        _ => {}
    }
}

/// One stake in large letters.
fn one(ui: &mut Ui, sheets: &mut Sheets, job: &Job, plan: &Plan) {
    let all = &plan.stakes;
    let Some(stake) = all.list.get(sheets.stake) else {
        return;
    };
    let level = sheets.level.as_ref().and_then(|l| l.as_ref().ok());
    let card = report::card(job, all, stake, level.map(|l| l.height));
    ui.set_width(430.0);
    ui.horizontal(|ui| {
        ui.label(RichText::new(&card.label).size(56.0).strong());
        if !card.change.is_empty() {
            ui.add_space(12.0);
            let change = RichText::new(&card.change).size(40.0).strong();
            ui.label(change.color(paper::ACCENT));
        }
    });
    ui.add(Label::new(RichText::new(&card.what).size(18.0)).wrap());
    if card.rod.is_empty() {
        let words = "No rod reading: type the backsight above.";
        ui.label(RichText::new(words).size(18.0).color(paper::FAINT));
    }
    Grid::new("rod").num_columns(2).show(ui, |ui| {
        for (what, reading) in &card.rod {
            ui.label(RichText::new(format!("rod, {what}")).size(20.0));
            ui.label(RichText::new(reading).size(38.0).monospace());
            ui.end_row();
        }
        for (what, elevation) in &card.elevations {
            ui.label(RichText::new(*what).size(16.0));
            ui.label(RichText::new(elevation).size(18.0).monospace());
            ui.end_row();
        }
    });
    ui.add(Label::new(RichText::new(&card.tapes).size(18.0)).wrap());
    ui.add_space(8.0);
    let last = all.list.len() - 1;
    let mut to = sheets.stake;
    ui.horizontal(|ui| {
        if press::button(ui, "Stake before", "The left arrow does the same") {
            to = to.saturating_sub(1);
        }
        if press::button(ui, "Next stake", "The right arrow does the same") {
            to = (to + 1).min(last);
        }
        ui.label(format!("{} of {}", sheets.stake + 1, last + 1));
    });
    if !ui.ctx().egui_wants_keyboard_input() {
        let pressed = |key| ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
        if pressed(Key::ArrowLeft) {
            to = to.saturating_sub(1);
        }
        if pressed(Key::ArrowRight) {
            to = (to + 1).min(last);
        }
    }
    sheets.stake = to;
}
