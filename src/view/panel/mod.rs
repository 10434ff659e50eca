//! The field book beside the yard: a head that stays, and one page at a time under it.
//!
//! To add a page: a file of its own with `page(ui, desk)`, and its lines in [`Page`].

mod answers;
mod cell;
mod design;
mod figures;
mod findings;
mod form;
pub mod guide;
mod head;
pub mod hint;
pub mod keys;
mod ledger;
mod looking;
mod notes;
pub mod press;
pub mod sheets;
pub mod slip;
mod sources;
pub mod strip;
mod style;
mod tray;
pub mod whisper;

pub use cell::{forget_wanted_cell, is_cell_wanted};
pub use hint::overlays;
pub use looking::STRETCHES;
pub use style::style;

use bevy_egui::egui::scroll_area::ScrollAreaOutput;
use bevy_egui::egui::{
    self, Align2, Context, Frame, Margin, Panel, Rect, ScrollArea, Sense, Stroke, TextStyle, Ui,
    UiBuilder, Vec2,
};

use super::hand::Hand;
use crate::edit::{Address, New};

use super::book::Book;
use super::built::Visits;
use super::carrying::Carrying;
use super::paper;
use super::scene::{Showing, Yard};
use super::stages::Stages;
use super::work::Work;

const WIDTH: f32 = 400.0;

/// Of the book beside the yard, in a window of this width.
pub fn width(window: f32) -> f32 {
    WIDTH.min(window * 0.45)
}

/// What the reader asks the camera for.
pub enum Wish {
    Whole,
    Finding(usize),
    /// This thing of the job, or nothing, is picked from now on.
    Pick(Option<Address>),
    /// Lengths in feet or metres, on screen only.
    Unit,
    /// This sheet over the yard.
    Lay(sheets::Sheet),
    /// The next press in the yard says where a new thing goes.
    Place(New),
    New,
    Open,
    Save,
    SaveAs,
}

/// The pages, in their order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Page {
    #[default]
    Figures,
    Findings,
    Looking,
    Notes,
    Design,
    Sheets,
}

impl Page {
    pub const ALL: [Page; 6] = [
        Page::Notes,
        Page::Design,
        Page::Figures,
        Page::Findings,
        Page::Looking,
        Page::Sheets,
    ];

    fn word(self) -> &'static str {
        match self {
            Page::Figures => "Figures",
            Page::Findings => "Findings",
            Page::Looking => "Looking",
            Page::Notes => "Notes",
            Page::Design => "Design",
            Page::Sheets => "Sheets",
        }
    }

    fn about(self) -> &'static str {
        match self {
            Page::Figures => "Water, soil, and what each work takes and gives",
            Page::Findings => "What will not work, and what to do about it",
            Page::Looking => "Maps, stages, sections, the tape, and the client's view",
            Page::Notes => "The field book: benchmarks, pegs, setups and their shots",
            Page::Design => "What is there, what is to be built, and in which order",
            Page::Sheets => {
                "What the crew takes along: soil, what to order, stakes and rod readings, as-built"
            }
        }
    }

    fn write(self, ui: &mut Ui, desk: &mut Desk) {
        match self {
            Page::Figures => figures::page(ui, desk),
            Page::Findings => findings::page(ui, desk),
            Page::Looking => looking::page(ui, desk),
            Page::Notes => notes::page(ui, desk),
            Page::Design => design::page(ui, desk),
            Page::Sheets => sheets::page(ui, desk),
        }
    }
}

/// What a page is written from, and what the reader changes on it.
pub struct Desk<'a> {
    pub book: &'a Book,
    pub yard: &'a Yard,
    /// The job that is worked on.
    pub work: &'a mut Work,
    pub stages: &'a Stages,
    pub carrying: &'a Carrying,
    pub visits: &'a Visits,
    pub hand: &'a mut Hand,
    pub page: Page,
    pub showing: Showing,
    pub wishes: Vec<Wish>,
}

/// Shows the book open at `desk.page`; returns what it leaves to the yard.
pub fn show(ctx: &Context, desk: &mut Desk) -> Rect {
    let whole = ctx.viewport_rect();
    let width = width(whole.width());
    let mut root = Ui::new(
        ctx.clone(),
        "page".into(),
        UiBuilder::new()
            .layer_id(egui::LayerId::background())
            .max_rect(whole),
    );
    Panel::right("field book")
        .resizable(false)
        .exact_size(width)
        .frame(
            Frame::NONE
                .fill(paper::PAPER)
                .stroke(Stroke::new(1.0, paper::RULE))
                .inner_margin(Margin::symmetric(16, 12)),
        )
        .show(&mut root, |ui| {
            head::head(ui, desk);
            ui.add_space(4.0);
            turn(ui, desk);
            let shown = ScrollArea::vertical()
                .id_salt(desk.page.word())
                .auto_shrink([false, false])
                .show(ui, |ui| {
                    // The bar lies over the page: figures keep clear of it.
                    ui.set_width(ui.available_width() - 10.0);
                    super::telling::sight(ui, desk.page.word(), ui.clip_rect());
                    desk.page.write(ui, desk);
                    ui.add_space(8.0);
                });
            turn_beside(ui, shown);
        });
    tray::show(&mut root, desk.hand, desk.book.figures);
    let left = root.available_rect_before_wrap();
    hint::show(ctx, left);
    left
}

/// The wheel turns the page also where the pointer is in the margin beside it.
fn turn_beside<R>(ui: &Ui, shown: ScrollAreaOutput<R>) {
    let page = shown.inner_rect;
    let margin = page.expand2(Vec2::new(24.0, 0.0));
    let (at, by) = ui.input(|i| (i.pointer.latest_pos(), i.smooth_scroll_delta().y));
    let beside = at.is_some_and(|at| margin.contains(at) && !page.contains(at));
    if !beside || by == 0.0 || at.and_then(|at| ui.ctx().layer_id_at(at)) != Some(ui.layer_id()) {
        return;
    }
    let mut state = shown.state;
    let most = (shown.content_size.y - page.height()).max(0.0);
    state.offset.y = (state.offset.y - by).clamp(0.0, most);
    state.store(ui.ctx(), shown.id);
    ui.ctx().request_repaint();
}

/// The names of the pages on a ruled line, the open one over a heavier stretch of it.
fn turn(ui: &mut Ui, desk: &mut Desk) {
    let (rect, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), 26.0), Sense::hover());
    let y = rect.bottom() - 1.0;
    let font = TextStyle::Body.resolve(ui.style());
    ui.painter()
        .hline(rect.x_range(), y, Stroke::new(1.0, paper::RULE));
    let mut x = rect.left();
    for page in Page::ALL {
        let on = desk.page == page;
        let ink = if on { paper::INK } else { paper::FAINT };
        let galley = ui
            .painter()
            .layout_no_wrap(page.word().to_owned(), font.clone(), ink);
        let place = Rect::from_min_max(
            egui::pos2(x, rect.top()),
            egui::pos2(x + galley.size().x, rect.bottom()),
        );
        let response = ui.interact(
            place.expand2(Vec2::new(8.0, 0.0)),
            ui.id().with(page.word()),
            Sense::click(),
        );
        let response = response.on_hover_text(page.about());
        super::telling::place(ui, "page", page.word(), place);
        if response.clicked() {
            desk.page = page;
        }
        let ink = if response.hovered() { paper::INK } else { ink };
        let at = Align2::LEFT_CENTER.anchor_size(place.left_center(), galley.size());
        ui.painter()
            .galley_with_override_text_color(at.min, galley, ink);
        if on {
            ui.painter()
                .hline(place.x_range(), y, Stroke::new(3.0, paper::ACCENT));
        }
        x = place.right() + 18.0;
    }
}
