//! Sheets for the crew, laid over the yard: what is ordered, what is staked and read on the rod. The
//! words are those of the reports; the stakes also come one at a time, in large letters.

use bevy_egui::egui::{
    Align2, Context, Frame, Grid, Key, Label, Margin, Modifiers, Rect, RichText, ScrollArea,
    Stroke, TextEdit, Ui, vec2,
};

use crate::job::Job;
use crate::plan::Plan;
use crate::report;
use crate::stakes::{self, Instrument};
use crate::takeoff::takeoff;
use crate::view::paper;

use super::ledger::title;
use super::{Desk, Wish, press};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    Order,
    Stakes,
}

impl Sheet {
    const ALL: [Sheet; 2] = [Sheet::Order, Sheet::Stakes];

    fn word(self) -> &'static str {
        match self {
            Sheet::Order => "What to order",
            Sheet::Stakes => "Setting out",
        }
    }

    fn about(self) -> &'static str {
        match self {
            Sheet::Order => {
                "Liner, underlayment, stone, block, pipe, soil: how much, and how it was got"
            }
            Sheet::Stakes => {
                "Every stake with its tapes, what to dig there, and what the rod reads from where the \
                 level stands now"
            }
        }
    }
}

/// The sheet that lies over the yard.
#[derive(Debug, Default)]
pub struct Sheets {
    laid: Option<Sheet>,
    /// Its words, and those whose columns they fit.
    text: String,
    columns: usize,
    stale: bool,
    /// The backsight as typed, the level that it gives, or why it gives none.
    backsight: String,
    level: Option<Result<Instrument, String>>,
    one_by_one: bool,
    /// The stake in large letters.
    stake: usize,
}

impl Sheets {
    pub fn lay(&mut self, sheet: Sheet) {
        self.laid = Some(sheet);
        self.stale = true;
    }

    /// The stake to be shown in the yard, if stakes are.
    pub fn stake(&self) -> Option<usize> {
        (self.laid == Some(Sheet::Stakes)).then_some(self.stake)
    }

    fn write(&mut self, sheet: Sheet, job: &Job, plan: &Plan) {
        self.stale = false;
        let typed = self.backsight.trim();
        self.level = (!typed.is_empty()).then(|| stakes::instrument(job, plan, typed));
        let level = self.level.as_ref().and_then(|l| l.as_ref().ok());
        self.text = match sheet {
            Sheet::Order => report::takeoff(job, &takeoff(job, plan), self.columns),
            Sheet::Stakes => report::stakes(job, &plan.stakes, level, self.columns),
        };
        self.stake = self.stake.min(plan.stakes.list.len().saturating_sub(1));
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
    }
}

/// Shows the sheet that is laid; returns where it lies. `fresh`: the plan is another than before.
pub fn show(
    ctx: &Context,
    left: Rect,
    sheets: &mut Sheets,
    job: Option<&Job>,
    plan: &Plan,
    fresh: bool,
) -> Option<Rect> {
    let (sheet, job) = (sheets.laid?, job?);
    // A letter of the sheet is 7.3 points wide.
    let columns = ((left.width() - 90.0) / 7.3).clamp(60.0, 112.0) as usize;
    if fresh || sheets.stale || sheets.columns != columns {
        sheets.columns = columns;
        sheets.write(sheet, job, plan);
    }
    let large = sheet == Sheet::Stakes && sheets.one_by_one && !plan.stakes.list.is_empty();
    let mut away = ctx.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Escape));
    let frame = Frame::NONE
        .fill(paper::PAPER)
        .stroke(Stroke::new(1.0, paper::INK))
        .inner_margin(Margin::same(12));
    let shown = bevy_egui::egui::Window::new("sheet")
        .title_bar(false)
        .resizable(false)
        .collapsible(false)
        .frame(frame)
        .pivot(Align2::LEFT_TOP)
        .fixed_pos(left.left_top() + vec2(14.0, 14.0))
        .show(ctx, |ui| {
            ui.horizontal(|ui| {
                ui.label(RichText::new(sheet.word()).heading());
                if press::button(ui, "Put away", "Esc does the same") {
                    away = true;
                }
                if !large && press::button(ui, "Copy all", "Copies the sheet as text") {
                    ui.ctx().copy_text(sheets.text.clone());
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
            ui.separator();
            if large {
                one(ui, sheets, job, plan);
                return;
            }
            ScrollArea::both()
                .id_salt("sheet's words")
                .max_height((left.height() - 150.0).max(120.0))
                .max_width(left.width() - 60.0)
                .auto_shrink([false, true])
                .show(ui, |ui| {
                    let text = RichText::new(&sheets.text).monospace().size(12.5);
                    ui.add(Label::new(text).extend().selectable(true));
                });
        });
    if away {
        sheets.laid = None;
    }
    shown.map(|s| s.response.rect)
}

/// Where the level stands now.
fn backsight(ui: &mut Ui, sheets: &mut Sheets, job: &Job, plan: &Plan) {
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
        crate::view::telling::place(ui.ctx(), "cell", "backsight", response.rect);
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
    ui.set_width(540.0);
    ui.horizontal(|ui| {
        ui.label(RichText::new(&card.label).size(64.0).strong());
        ui.add_space(16.0);
        ui.add(Label::new(RichText::new(&card.what).size(20.0)).wrap());
    });
    if !card.change.is_empty() {
        ui.label(
            RichText::new(&card.change)
                .size(46.0)
                .strong()
                .color(paper::ACCENT),
        );
    }
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
    ui.add(Label::new(RichText::new(&card.tapes).size(20.0)).wrap());
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
