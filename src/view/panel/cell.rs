//! One field of the job, to be typed in or chosen from.
//!
//! What is typed goes into the job at every key, so the plan follows; from coming into the cell to
//! leaving it is one step of taking back. Enter and Tab leave it, Escape gives the old text back.
//! What is wrong stays in the cell as typed.

use bevy_egui::egui::containers::menu::{MenuButton, MenuConfig};
use bevy_egui::egui::text::{CCursor, CCursorRange};
use bevy_egui::egui::{
    self, Align, Button, Color32, ComboBox, Context, Event, Id, Key, Label, Layout, Margin,
    Modifiers, PopupCloseBehavior, Rect, RichText, ScrollArea, Sense, Stroke, TextEdit, TextStyle,
    Ui, UiBuilder,
};

use crate::edit::{Address, Cell, Default as Absent, Edit};
use crate::job::Form;
use crate::job::tree::{self, Kind};
use crate::view::paper;
use crate::view::telling;
use crate::view::work::Work;

pub const HEIGHT: f32 = 22.0;
/// More names than this are not listed: they are typed.
const LISTED: usize = 300;

const HINT: Color32 = Color32::from_rgb(0x9a, 0x90, 0x7e);

/// What happened in a cell.
#[derive(Default)]
pub struct Done {
    /// Left by Enter.
    pub entered: bool,
    /// Come into just now.
    pub taken: bool,
}

/// The cell that somebody is in.
#[derive(Clone, Default)]
struct Typing {
    at: Option<Id>,
    text: String,
    typed: bool,
    /// Come into by the press that is still down.
    fresh: bool,
    /// How high the lines under it were that said what was wrong when it was come into.
    room: f32,
}

fn typing_slot() -> Id {
    Id::new("typing")
}

/// Where it is kept how high the lines under a cell are.
fn room_slot(cell: Id) -> Id {
    cell.with("room")
}

fn id_of(address: &Address) -> Id {
    Id::new(("cell", address.to_string()))
}

/// Whether it is a line to type in.
pub fn is_typed(cell: &Cell) -> bool {
    !matches!(
        cell.form,
        Form::YesNo | Form::Words(_) | Form::Refers(_) | Form::Record(_) | Form::List { .. }
    )
}

/// The cell that is to take the keyboard, and since which frame.
#[derive(Clone, Copy, PartialEq)]
struct Wanted(Id, u64);

fn wanted_slot() -> Id {
    Id::new("wanted cell")
}

/// The cell at this address takes the keyboard as soon as it is drawn in another frame: the Enter
/// of this one would lead out of it again.
pub fn want(ctx: &Context, address: &Address) {
    let wanted = Wanted(id_of(address), ctx.cumulative_pass_nr());
    ctx.data_mut(|d| d.insert_temp(wanted_slot(), wanted));
    ctx.request_repaint();
}

/// What is typed waits for this line, which is not drawn for good yet.
pub fn wait_for(ctx: &Context, line: Id) {
    let wanted = Wanted(line, ctx.cumulative_pass_nr());
    ctx.data_mut(|d| d.insert_temp(wanted_slot(), wanted));
    ctx.request_repaint();
}

/// Whether a cell is to take the keyboard that has not been drawn since.
pub fn is_cell_wanted(ctx: &Context) -> bool {
    ctx.data(|d| d.get_temp::<Wanted>(wanted_slot())).is_some()
}

/// It does not appear: what is typed is not kept waiting.
pub fn forget_wanted_cell(ctx: &Context) {
    ctx.data_mut(|d| d.remove::<Wanted>(wanted_slot()));
}

fn is_wanted(ctx: &Context, id: Id) -> bool {
    let now = ctx.cumulative_pass_nr();
    let wanted = ctx.data(|d| d.get_temp::<Wanted>(wanted_slot()));
    let wanted = wanted.is_some_and(|Wanted(of, since)| of == id && since < now);
    if wanted {
        forget_wanted_cell(ctx);
    }
    wanted
}

/// A place within a rectangle of its own, so that columns stand where they should.
pub fn at<R>(
    ui: &mut Ui,
    rect: Rect,
    salt: impl std::hash::Hash + std::fmt::Debug,
    add: impl FnOnce(&mut Ui) -> R,
) -> R {
    let builder = UiBuilder::new()
        .id_salt(Id::new(salt))
        .max_rect(rect)
        .layout(Layout::left_to_right(Align::Center));
    add(&mut ui.new_child(builder))
}

/// A field in a rectangle.
pub fn field(ui: &mut Ui, rect: Rect, work: &mut Work, cell: &Cell) -> Done {
    // A child, so that what is put there does not move what follows on the page.
    let ui = &mut ui.new_child(
        UiBuilder::new()
            .id_salt(cell.address.to_string())
            .max_rect(rect),
    );
    telling::place(ui, "cell", &cell.address.to_string(), rect);
    let done = match &cell.form {
        Form::YesNo => yes_no(ui, rect, work, cell),
        Form::Words(_) | Form::Refers(_) => choose(ui, rect, work, cell),
        Form::Elevation | Form::Level | Form::Crest | Form::Allowed | Form::SoilClass => {
            line_or_choice(ui, rect, work, cell)
        }
        _ => line(ui, rect, work, cell),
    };
    if !cell.problems.is_empty() {
        let edge = Stroke::new(1.5, paper::ACCENT);
        ui.painter()
            .rect_stroke(rect, 2.0, edge, egui::StrokeKind::Inside);
    }
    done
}

/// What is wrong, in words, under a cell. While one types in it nothing moves for that: half of a number
/// is seldom one, and the lines below would jump at every key.
pub fn wrong(ui: &mut Ui, cell: &Cell) {
    let ctx = ui.ctx().clone();
    let id = id_of(&cell.address);
    let top = ui.cursor().left_top();
    let typing: Option<Typing> = ctx.data(|d| d.get_temp(typing_slot()));
    let Some(typing) = typing.filter(|t| t.at == Some(id)) else {
        in_lines(ui, cell);
        let high = ui.cursor().top() - top.y;
        let slot = room_slot(id);
        ctx.data_mut(|d| match cell.problems.is_empty() {
            true => d.remove::<f32>(slot),
            false => {
                d.insert_temp(slot, high);
            }
        });
        return;
    };
    let wide = ui.available_width();
    if typing.room > 0.0 {
        let between = ui.spacing().item_spacing.y;
        ui.allocate_space(egui::vec2(wide, (typing.room - between).max(0.0)));
    }
    if cell.problems.is_empty() || !ui.clip_rect().contains(top) {
        return;
    }
    egui::Area::new(id.with("wrong"))
        .order(egui::Order::Foreground)
        .fixed_pos(top)
        .interactable(false)
        .show(&ctx, |ui| {
            egui::Frame::new()
                .fill(paper::PAPER)
                .stroke(Stroke::new(1.0, paper::ACCENT))
                .inner_margin(Margin::symmetric(4, 2))
                .show(ui, |ui| {
                    ui.set_width(wide - 10.0);
                    in_lines(ui, cell);
                });
        });
}

fn in_lines(ui: &mut Ui, cell: &Cell) {
    for problem in cell.problems.iter().take(3) {
        let words = RichText::new(in_words(&problem.what, &problem.allowed))
            .small()
            .color(paper::ACCENT);
        ui.add(Label::new(words).wrap());
    }
}

pub fn in_words(what: &str, allowed: &str) -> String {
    // A row that has just been begun has done nothing wrong.
    let what = &what.replace("found the text \"\"", "still empty");
    if allowed.is_empty() {
        what.to_owned()
    } else {
        format!("{what}; {allowed}")
    }
}

/// Meaning, kind, unit and default.
pub fn about(cell: &Cell) -> String {
    let mut text = format!("{}\n{}", cell.meaning, cell.kind.replace('`', ""));
    if let Some(unit) = cell.unit {
        text += &format!("; a bare number is {unit}");
    }
    match &cell.default {
        Absent::Is(value) if !value.is_empty() && value != "[]" && value != "()" => {
            text += &format!("\nLeft empty: {value}");
        }
        Absent::Required => text += "\nMust be given",
        _ => {}
    }
    if matches!(
        cell.form,
        Form::Fall | Form::EdgeBatter | Form::CurvePoint | Form::Allowed | Form::SoilClass
    ) {
        text += &format!("\nSuch as {}", cell.example);
    }
    if matches!(cell.form, Form::Place) {
        text += "\nAs called out: 3.5, 12 (x, y) — A, 12.5, -3 (baseline, along, right of it) — \
                 P1, 14.2, P2, 9.75, L (two tapes) — P3, P2, 37.5, 21 (at, toward, angle, off)";
    }
    for problem in &cell.problems {
        text += &format!("\n! {}", in_words(&problem.what, &problem.allowed));
    }
    text.trim().to_owned()
}

fn hint(cell: &Cell) -> String {
    match &cell.default {
        Absent::Is(value) if value == "[]" || value == "()" => String::new(),
        Absent::Is(value) => value.clone(),
        Absent::Required => "?".to_owned(),
        Absent::Nothing => String::new(),
    }
}

fn line_or_choice(ui: &mut Ui, rect: Rect, work: &mut Work, cell: &Cell) -> Done {
    let (mut left, mut right) = (rect, rect);
    left.max.x -= 20.0;
    right.min.x = left.max.x + 2.0;
    let done = line(ui, left, work, cell);
    at(ui, right, ("choices", cell.address.to_string()), |ui| {
        pick(ui, work, cell);
    });
    done
}

/// What may be chosen, behind a small button.
pub fn pick(ui: &mut Ui, work: &mut Work, cell: &Cell) {
    let button = Button::new(RichText::new("⏷").small())
        .small()
        .sense(Sense::CLICK);
    let (button, _) = MenuButton::from_button(button).ui(ui, |ui| list(ui, work, cell));
    telling::place(ui, "choices", &cell.address.to_string(), button.rect);
}

fn list(ui: &mut Ui, work: &mut Work, cell: &Cell) {
    let choices = work.editor.choices(&cell.form);
    if choices.is_empty() {
        ui.label(RichText::new("Nothing to choose from yet").color(paper::FAINT));
    }
    ScrollArea::vertical().max_height(260.0).show(ui, |ui| {
        ui.set_min_width(120.0);
        for choice in choices.iter().take(LISTED) {
            let words = said(&cell.form, choice);
            let line = ui.selectable_label(*choice == cell.shown, &words);
            telling::place(ui, "choice", &words, line.rect);
            if line.clicked() {
                work.edit(&Edit::typed(&cell.address, choice.clone()));
                ui.ctx().request_repaint();
                ui.close();
            }
        }
        if choices.len() > LISTED {
            let more = choices.len() - LISTED;
            ui.label(RichText::new(format!("and {more} more: type the name")).small());
        }
    });
}

fn choose(ui: &mut Ui, rect: Rect, work: &mut Work, cell: &Cell) -> Done {
    let text = if cell.is_written && !cell.shown.is_empty() {
        RichText::new(&cell.shown)
    } else {
        RichText::new(hint(cell)).color(HINT)
    };
    at(ui, rect, ("choose", cell.address.to_string()), |ui| {
        ui.spacing_mut().interact_size.y = HEIGHT;
        ui.spacing_mut().button_padding.y = 1.0;
        let shown = ComboBox::from_id_salt("choice")
            .width(rect.width())
            .truncate()
            .selected_text(text)
            .show_ui(ui, |ui| list(ui, work, cell));
        if shown.response.has_focus() {
            let words = format!("{} = {}", cell.address, cell.shown);
            telling::place(ui, "choosing", &words, rect);
            choose_by_letters(ui.ctx(), work, cell);
        }
        if is_wanted(ui.ctx(), id_of(&cell.address)) {
            shown.response.request_focus();
            ui.scroll_to_rect(rect.expand2(egui::vec2(0.0, 40.0)), None);
        }
        shown.response.on_hover_text(about(cell));
    });
    Done::default()
}

/// Letters that are typed lead to the first choice that begins with them.
fn choose_by_letters(ctx: &Context, work: &mut Work, cell: &Cell) {
    let typed: String = ctx.input(|i| {
        let texts = i.events.iter().filter_map(|event| match event {
            Event::Text(text) => Some(text.as_str()),
            _ => None,
        });
        texts.collect()
    });
    // Space opens the list.
    let typed = typed.trim();
    if typed.is_empty() {
        return;
    }
    let slot = Id::new("letters typed");
    let id = id_of(&cell.address);
    let before: Option<(Id, String)> = ctx.data(|d| d.get_temp(slot));
    let before = before.filter(|(at, _)| *at == id).map(|(_, text)| text);
    let all = before.unwrap_or_default() + typed;
    let choices = work.editor.choices(&cell.form);
    let Some((letters, choice)) = by_letters(&choices, &[&all, typed]) else {
        return;
    };
    work.edit(&Edit::typed(&cell.address, choice));
    ctx.data_mut(|d| d.insert_temp(slot, (id, letters.to_owned())));
    ctx.request_repaint();
}

/// The choice that is one of these, else the first that begins with it, and with which; blanks do not
/// count.
fn by_letters<'a>(choices: &[String], typed: &[&'a str]) -> Option<(&'a str, String)> {
    let bare = |text: &str| text.replace(' ', "").to_lowercase();
    typed.iter().find_map(|letters| {
        let is = |choice: &&String| bare(choice) == bare(letters);
        let begins = |choice: &&String| bare(choice).starts_with(&bare(letters));
        let found = choices.iter().find(is).or(choices.iter().find(begins))?;
        Some((*letters, found.clone()))
    })
}

fn yes_no(ui: &mut Ui, rect: Rect, work: &mut Work, cell: &Cell) -> Done {
    let default = matches!(&cell.default, Absent::Is(value) if value == "true");
    let mut on = match cell.shown.as_str() {
        "true" => true,
        "false" => false,
        _ => default,
    };
    let changed = at(ui, rect, ("yes", cell.address.to_string()), |ui| {
        let words = if on { "yes" } else { "no" };
        let tick = ui.checkbox(&mut on, words).on_hover_text(about(cell));
        told_tick(ui, &cell.address, on, tick.rect);
        tick.changed()
    });
    if changed {
        work.edit(&Edit::typed(&cell.address, on.to_string()));
        ui.ctx().request_repaint();
    }
    Done::default()
}

/// Where a tick lies, and whether it is set.
pub fn told_tick(ui: &Ui, at: &Address, on: bool, rect: Rect) {
    telling::place(ui, "tick", &at.to_string(), rect);
    telling::place(ui, "ticked", &format!("{at} = {on}"), rect);
}

/// A line to type in.
pub fn line(ui: &mut Ui, rect: Rect, work: &mut Work, cell: &Cell) -> Done {
    let ctx = ui.ctx().clone();
    let id = id_of(&cell.address);
    let slot = typing_slot();
    let wanted = is_wanted(&ctx, id);
    if wanted {
        ui.memory_mut(|m| m.request_focus(id));
    }
    let typing: Typing = ctx.data(|d| d.get_temp(slot)).unwrap_or_default();
    let mut mine = if typing.at == Some(id) {
        typing.clone()
    } else {
        Typing::default()
    };
    if ui.memory(|m| m.has_focus(id)) && step_back(&ctx, work) {
        mine.typed = false;
    }
    let mut text = if mine.typed {
        mine.text.clone()
    } else {
        said(&cell.form, &cell.shown)
    };
    let gesture = format!("typing in {}", cell.address);
    let is_figure = !matches!(
        cell.form,
        Form::Text | Form::Name(_) | Form::Shot | Form::Level | Form::Crest
    );
    let style = if is_figure {
        TextStyle::Monospace
    } else {
        TextStyle::Body
    };
    let edit = TextEdit::singleline(&mut text)
        .id(id)
        .font(style)
        .margin(Margin::symmetric(4, 2))
        .vertical_align(Align::Center)
        .hint_text(RichText::new(hint(cell)).color(HINT))
        .clip_text(true);
    let response = ui.put(rect, edit).on_hover_text(about(cell));
    if wanted || response.gained_focus() {
        ui.scroll_to_rect(rect.expand2(egui::vec2(0.0, 40.0)), None);
    }
    let mut done = Done::default();
    if response.gained_focus() {
        work.editor.end_gesture();
        select_all(&ctx, id, &text);
        mine.fresh = true;
        mine.room = ctx.data(|d| d.get_temp(room_slot(id))).unwrap_or(0.0);
        done.taken = true;
    }
    if response.clicked() && mine.fresh {
        select_all(&ctx, id, &text);
        mine.fresh = false;
    }
    if response.changed() {
        mine.typed = true;
        mine.fresh = false;
        work.edit_as(&gesture, &Edit::typed(&cell.address, text.clone()));
        ctx.request_repaint();
    }
    if response.has_focus() {
        let words = format!("{} = {text}", cell.address);
        telling::place(ui, "typing", &words, rect);
        mine.at = Some(id);
        mine.text = text;
        ctx.data_mut(|d| d.insert_temp(slot, mine));
    } else if response.lost_focus() && typing.at == Some(id) {
        // Only in the frame in which it is left: egui still says so in the next one, and an Enter
        // there belongs to the next cell.
        left(&ctx, work, &gesture);
        done.entered = ctx.input(|i| i.key_pressed(Key::Enter));
        ctx.data_mut(|d| d.remove::<Typing>(slot));
    }
    done
}

fn left(ctx: &Context, work: &mut Work, gesture: &str) {
    if ctx.input(|i| i.key_pressed(Key::Escape)) {
        work.editor.abandon_gesture(gesture);
        ctx.request_repaint();
    } else {
        work.editor.end_gesture();
    }
}

/// Taking back from within a cell is taking back a step of the job.
fn step_back(ctx: &Context, work: &mut Work) -> bool {
    let shift = Modifiers::COMMAND | Modifiers::SHIFT;
    let again = ctx
        .input_mut(|i| i.consume_key(shift, Key::Z) || i.consume_key(Modifiers::COMMAND, Key::Y));
    let back = !again && ctx.input_mut(|i| i.consume_key(Modifiers::COMMAND, Key::Z));
    if again {
        work.redo();
    } else if back {
        work.undo();
    }
    if again || back {
        ctx.request_repaint();
    }
    again || back
}

fn select_all(ctx: &Context, id: Id, text: &str) {
    if let Some(mut state) = TextEdit::load_state(ctx, id) {
        let all = CCursorRange::two(CCursor::new(0), CCursor::new(text.chars().count()));
        state.cursor.set_char_range(Some(all));
        TextEdit::store_state(ctx, id, state);
    }
}

/// A place as it is called out: `A, 12.5, -3` for `Offset("A", 12.5, -3)`. It can be typed the same
/// way; what cannot stays as the job file writes it.
pub fn said(form: &Form, shown: &str) -> String {
    let as_is = || shown.to_owned();
    if !matches!(
        form,
        Form::Place | Form::Point | Form::Corner | Form::Fall | Form::CurvePoint | Form::EdgeBatter
    ) {
        return as_is();
    }
    let Ok(node) = tree::read(shown) else {
        return as_is();
    };
    // A fall is so many percent toward a place.
    if let (Form::Fall, Kind::Tuple { name: None, items }) = (form, &node.kind)
        && let [percent, to] = items.as_slice()
    {
        let text = |span: &std::ops::Range<usize>| shown.get(span.clone()).unwrap_or_default();
        let to = match &to.kind {
            Kind::Text(name) if !name.contains([',', '(', ')', '"']) => name.to_string(),
            _ => said(&Form::Point, text(&to.span)),
        };
        return format!("{}, {to}", text(&percent.span));
    }
    let Kind::Tuple { name, items } = &node.kind else {
        return as_is();
    };
    if !matches!(*name, None | Some("Offset" | "Tie" | "Ray")) {
        return as_is();
    }
    let mut parts = Vec::new();
    for item in items {
        let part = match &item.kind {
            Kind::Text(text) => match text.strip_suffix('"') {
                Some(feet) if feet.contains('\'') => feet.to_owned(),
                Some(inches) => format!("{inches} in"),
                None => text.to_string(),
            },
            _ => match shown.get(item.span.clone()).unwrap_or_default() {
                "Left" => "L".to_owned(),
                "Right" => "R".to_owned(),
                other => other.to_owned(),
            },
        };
        if part.is_empty() || part.contains([',', '(', ')', '"']) {
            return as_is();
        }
        parts.push(part);
    }
    parts.join(", ")
}

/// A small button with a list of things to do with `at` behind it; it stays open while one types in
/// it.
pub fn more(ui: &mut Ui, at: &Address, add: impl FnOnce(&mut Ui)) {
    let button = Button::new("…").small().sense(Sense::CLICK);
    let config = MenuConfig::new().close_behavior(PopupCloseBehavior::CloseOnClickOutside);
    let (button, _) = MenuButton::from_button(button).config(config).ui(ui, add);
    telling::place(ui, "more", &at.to_string(), button.rect);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_takes_the_keyboard_in_the_frame_after_the_enter() {
        let ctx = Context::default();
        let at = Address::job().field("name");
        let mut taken = Vec::new();
        for frame in 0..3 {
            ctx.begin_pass(egui::RawInput::default());
            if frame == 0 {
                want(&ctx, &at);
            }
            taken.push(is_wanted(&ctx, id_of(&at)));
            assert_eq!(is_cell_wanted(&ctx), frame == 0);
            // Letters that nobody draws.
            ctx.end_pass().textures_delta.clear();
        }
        assert_eq!(taken, [false, true, false]);
    }

    #[test]
    fn letters_lead_to_a_choice() {
        let choices = ["pond", "pond wall", "falls"].map(String::from);
        let found = |typed: &[&'static str]| by_letters(&choices, typed).map(|(_, c)| c);
        assert_eq!(found(&["F"]).as_deref(), Some("falls"));
        assert_eq!(found(&["p"]).as_deref(), Some("pond"));
        assert_eq!(found(&["pondw"]).as_deref(), Some("pond wall"));
        // What is written out is meant, though a longer one stands before it.
        let longer_first = ["pond wall", "pond"].map(String::from);
        let found_in = by_letters(&longer_first, &["pond"]).map(|(_, c)| c);
        assert_eq!(found_in.as_deref(), Some("pond"));
        // What does not go on with the letters before begins anew.
        assert_eq!(found(&["pondf", "f"]).as_deref(), Some("falls"));
        assert_eq!(found(&["x"]), None);
    }

    #[test]
    fn places_are_shown_as_called_out() {
        for (written, called) in [
            ("Offset(\"A\", 12.5, -3)", "A, 12.5, -3"),
            (
                "Offset(\"A\", \"4'-0\\\"\", \"-6'-0\\\"\")",
                "A, 4'-0, -6'-0",
            ),
            ("Offset(\"A\", \"24\\\"\", 0)", "A, 24 in, 0"),
            (
                "Tie(\"P1\", 43.4, \"P2\", 26.6, Left)",
                "P1, 43.4, P2, 26.6, L",
            ),
            ("Ray(\"P3\", \"P2\", 295, 41.6)", "P3, P2, 295, 41.6"),
            ("(20, 69.5)", "20, 69.5"),
            (
                "Grid(\"A\", \"10 ft\", 1, 2)",
                "Grid(\"A\", \"10 ft\", 1, 2)",
            ),
            ("Offset(\"A, b\", 1, 2)", "Offset(\"A, b\", 1, 2)"),
            ("somewhere", "somewhere"),
        ] {
            assert_eq!(said(&Form::Place, written), called);
        }
        assert_eq!(said(&Form::Fall, "(2, (74, 46))"), "2, 74, 46");
        assert_eq!(said(&Form::Fall, "(2, \"12\")"), "2, 12");
        assert_eq!(said(&Form::CurvePoint, "(1500, 15.5)"), "1500, 15.5");
        assert_eq!(said(&Form::Text, "(1, 2)"), "(1, 2)");
    }
}
