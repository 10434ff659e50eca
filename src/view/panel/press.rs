//! Buttons of the book: each says under the pointer what it does, and where it lies to those who
//! drive the window from outside.

use bevy_egui::egui::{Button, Response, RichText, Ui};

use crate::view::telling;

/// A button; true when pressed.
pub fn button(ui: &mut Ui, words: &str, about: &str) -> bool {
    let response = ui.button(words).on_hover_text(about);
    told(ui, words, &response)
}

pub fn small(ui: &mut Ui, words: &str, about: &str) -> bool {
    let response = ui.small_button(RichText::new(words)).on_hover_text(about);
    told(ui, words, &response)
}

/// One of several of the same words: told apart by what it is about.
pub fn small_of(ui: &mut Ui, words: &str, about: &str, (kind, what): (&str, &str)) -> bool {
    let response = ui.small_button(RichText::new(words)).on_hover_text(about);
    telling::place(ui, kind, what, response.rect);
    told(ui, words, &response)
}

/// One that cannot be pressed now and then.
pub fn small_if(ui: &mut Ui, can: bool, words: &str, about: &str) -> bool {
    let response = ui
        .add_enabled(can, Button::new(words).small())
        .on_hover_text(about)
        .on_disabled_hover_text(about);
    told(ui, words, &response)
}

fn told(ui: &Ui, words: &str, response: &Response) -> bool {
    telling::place(ui, "button", words, response.rect);
    response.clicked()
}
