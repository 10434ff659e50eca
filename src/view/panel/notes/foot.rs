//! The foot of the notes: closure, the arithmetic check, the rod and what is allowed.

use bevy_egui::egui::{Align2, FontId, Label, Rect, RichText, Sense, Ui, vec2};

use crate::edit::Address;
use crate::view::paper;

use crate::view::panel::Desk;
use crate::view::panel::cell::{self};
use crate::view::panel::ledger::{entry, title};

use super::{ROW, columns, field};

pub(super) fn foot(ui: &mut Ui, desk: &mut Desk) {
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
        ui.label(RichText::new(words).small().color(ink))
            .on_hover_text("By the rule at the foot of this page");
    }
    if let Some([sum, rise]) = survey.arithmetic {
        for (words, figure) in [
            ("Σ backsights − Σ foresights", sum),
            ("Last elevation − first", rise),
        ] {
            entry(ui, words, &figures.elevation(figure))
                .on_hover_text("The check of the arithmetic: both must be the same");
        }
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
