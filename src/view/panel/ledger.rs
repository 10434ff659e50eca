//! A field book's ruling: titles, dotted entries and striped tables. Every page is written with these.

use bevy_egui::egui::{
    Align, Align2, Grid, Label, Layout, Response, RichText, Sense, TextStyle, Ui, Vec2, pos2,
};

use crate::view::paper;

use super::style;

pub fn title(ui: &mut Ui, text: &str, aside: &str) {
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        ui.label(style::heading(text));
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.label(RichText::new(aside).small().color(paper::FAINT));
        });
    });
}

/// A line of a table: words on the left, figure on the right, dots between as in a ledger.
pub fn entry(ui: &mut Ui, words: &str, figure: &str) -> Response {
    let height = 19.0;
    let (rect, response) =
        ui.allocate_exact_size(Vec2::new(ui.available_width(), height), Sense::hover());
    let painter = ui.painter();
    let left = painter.text(
        rect.left_center(),
        Align2::LEFT_CENTER,
        words,
        TextStyle::Body.resolve(ui.style()),
        paper::INK,
    );
    let right = painter.text(
        rect.right_center(),
        Align2::RIGHT_CENTER,
        figure,
        TextStyle::Monospace.resolve(ui.style()),
        paper::INK,
    );
    let y = rect.center().y + 4.0;
    let mut x = left.right() + 6.0;
    while x < right.left() - 5.0 {
        painter.circle_filled(pos2(x, y), 0.6, paper::RULE);
        x += 5.0;
    }
    response
}

/// A striped table: the first column takes what the others leave, figures stand to the right.
pub fn table(
    ui: &mut Ui,
    id: &str,
    widths: &[f32],
    rows: impl FnOnce(&mut Ui, &dyn Fn(&mut Ui, usize, RichText) -> Response),
) {
    let gap = 4.0;
    let rest = widths.iter().sum::<f32>() + gap * (widths.len() - 1) as f32;
    let first = (ui.available_width() - rest).max(60.0);
    let cell = |ui: &mut Ui, column: usize, text: RichText| {
        let (width, layout) = if column == 0 {
            (first, Layout::left_to_right(Align::Center))
        } else {
            (widths[column], Layout::right_to_left(Align::Center))
        };
        ui.allocate_ui_with_layout(Vec2::new(width, 18.0), layout, |ui| {
            ui.set_min_width(width);
            ui.add(Label::new(text).truncate().halign(if column == 0 {
                Align::Min
            } else {
                Align::Max
            }))
        })
        .inner
    };
    Grid::new(id)
        .num_columns(widths.len())
        .striped(true)
        .spacing(Vec2::new(gap, 3.0))
        .show(ui, |ui| rows(ui, &cell));
}
