//! Keys in the order in which they were struck, however slow the frames are.
//!
//! A frame may gather many keys: all that was typed while the last one was drawn. A key that leads
//! out of a cell (Tab, Enter, Escape) takes effect a frame later, so what was struck after it waits
//! until the next cell has the keyboard; else it would go into the cell before, or nowhere. And
//! each key keeps the Ctrl and Shift that were held with it, not those held at the end of the frame.

use std::collections::VecDeque;

use bevy::input::ButtonState;
use bevy::input::keyboard::{Key as Struck, KeyboardFocusLost, KeyboardInput};
use bevy::prelude::*;
use bevy::window::RequestRedraw;
use bevy_egui::egui::{Event, Key, Modifiers};
use bevy_egui::helpers::{bevy_to_egui_key, bevy_to_egui_physical_key};
use bevy_egui::{
    EguiContext, EguiContextSettings, EguiInput, EguiInputSystemSettings, PrimaryEguiContext,
};

use super::clipboard::Clipboard;
use super::panel;

/// Frames in which a cell that is to take the keyboard may still appear.
const PATIENCE: u8 = 8;

/// What was struck and is not handed over yet.
#[derive(Resource, Default)]
pub struct Strokes {
    queue: VecDeque<Event>,
    held: Modifiers,
    /// The key of the desktop is held: what is struck with it is not text.
    desktop: bool,
    /// What was struck in this frame with Ctrl, each by its own.
    commands: Vec<(Key, Modifiers)>,
    /// Keys without Ctrl that are handed over in this frame, however long ago they were struck.
    plain: Vec<Key>,
    /// The last frame had a key that leads out of a cell.
    led_out: bool,
    waited: u8,
}

/// The settings of a context whose keys come from here.
pub fn settings() -> EguiContextSettings {
    EguiContextSettings {
        input_system_settings: EguiInputSystemSettings {
            run_write_keyboard_input_messages_system: false,
            ..default()
        },
        ..default()
    }
}

/// Hands the keys of this frame over.
pub fn strike(
    mut struck: MessageReader<KeyboardInput>,
    mut focus_lost: MessageReader<KeyboardFocusLost>,
    mut strokes: ResMut<Strokes>,
    context: Single<(&mut EguiContext, &mut EguiInput), With<PrimaryEguiContext>>,
    mut clipboard: NonSendMut<Clipboard>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let (mut context, mut input) = context.into_inner();
    if focus_lost.read().count() > 0 {
        strokes.held = Modifiers::NONE;
        strokes.desktop = false;
    }
    let mut new = std::mem::take(&mut input.events);
    strokes.commands.clear();
    for key in struck.read() {
        let events = strokes.read(key);
        let command = events.iter().find_map(|event| match event {
            Event::Key {
                key,
                pressed: true,
                modifiers,
                ..
            } if modifiers.command => Some((*key, *modifiers)),
            _ => None,
        });
        new.extend(events);
        if let Some((key, held)) = command {
            new.extend(clipboard.event(key));
            strokes.commands.push((key, held));
        }
    }
    let waiting = panel::is_cell_wanted(context.get_mut());
    input.events = strokes.hand_over(new, waiting);
    if strokes.waited > PATIENCE {
        panel::forget_wanted_cell(context.get_mut());
    }
    if !strokes.queue.is_empty() {
        redraw.write(RequestRedraw);
    }
}

impl Strokes {
    /// Whether what is struck now belongs to a cell that is about to have the keyboard.
    pub fn are_for_a_cell(&self) -> bool {
        self.led_out || (1..=PATIENCE).contains(&self.waited) || !self.queue.is_empty()
    }

    /// Whether this key was struck in this frame with Ctrl, and with Shift or without.
    pub fn is_command(&self, key: Key, shift: bool) -> bool {
        let mut struck = self.commands.iter();
        struck.any(|(k, held)| *k == key && held.shift == shift)
    }

    /// Whether this key, without Ctrl, is handed over in this frame. If no cell has the keyboard it is
    /// the yard's: what is for a cell waits until the cell has it.
    pub fn is_plain(&self, key: Key) -> bool {
        self.plain.contains(&key)
    }

    /// One message of the keyboard, with what is held at that moment.
    fn read(&mut self, message: &KeyboardInput) -> Vec<Event> {
        let pressed = message.state == ButtonState::Pressed;
        let held = &mut self.held;
        let mac = cfg!(target_os = "macos");
        match message.logical_key {
            Struck::Shift => held.shift = pressed,
            Struck::Alt => held.alt = pressed,
            Struck::Control => {
                held.ctrl = pressed;
                if !mac {
                    held.command = pressed;
                }
            }
            Struck::Super | Struck::Meta => {
                self.desktop = pressed;
                held.mac_cmd = mac && pressed;
                if mac {
                    held.command = pressed;
                }
            }
            _ => {}
        }
        let held = *held;
        let mut out = Vec::new();
        // Ctrl and Alt together write further letters on some keyboards.
        if pressed && (!held.ctrl && !self.desktop || held.ctrl && held.alt && !mac) {
            match &message.logical_key {
                Struck::Character(text) if !text.contains(char::is_control) => {
                    out.push(Event::Text(text.to_string()));
                }
                Struck::Space => out.push(Event::Text(" ".to_owned())),
                _ => {}
            }
        }
        let physical = bevy_to_egui_physical_key(&message.key_code);
        if let Some(key) = bevy_to_egui_key(&message.logical_key).or(physical) {
            out.push(Event::Key {
                key,
                physical_key: physical,
                pressed,
                repeat: false,
                modifiers: held,
            });
        }
        out
    }

    /// What goes into this frame; `waiting`: a cell is to take the keyboard and has not yet.
    fn hand_over(&mut self, new: Vec<Event>, waiting: bool) -> Vec<Event> {
        let mut out = Vec::new();
        for event in new {
            match event {
                // Where the pointer is, and what is held, is so now.
                Event::PointerMoved(_) | Event::ModifiersChanged(_) | Event::WindowFocused(_) => {
                    out.push(event);
                }
                _ => self.queue.push_back(event),
            }
        }
        self.waited = if waiting {
            self.waited.saturating_add(1)
        } else {
            0
        };
        let waiting = waiting && self.waited <= PATIENCE;
        // The cell that takes the keyboard marks its text at the end of that frame.
        let rests = std::mem::take(&mut self.led_out) || waiting;
        let (mut typed, mut pressed) = (false, false);
        while let Some(event) = self.queue.front() {
            let leads = leads_out(event);
            // What leads out of a cell comes when what was typed in it has been taken in; and a press
            // gives a cell the keyboard only at the end of its frame.
            let too_early = typed && leads || pressed;
            if is_typed(event) && (rests || too_early) {
                break;
            }
            typed |= is_typed(event);
            pressed |= matches!(event, Event::PointerButton { .. });
            let event = self.queue.pop_front();
            // Tab finds the next cell in the same frame, and its text is marked at the end of it.
            self.led_out |= leads && !event.as_ref().is_some_and(is_plain_tab);
            out.extend(event);
            if leads {
                break;
            }
        }
        let plain = out.iter().filter_map(|event| match event {
            Event::Key {
                key,
                pressed: true,
                modifiers,
                ..
            } if !modifiers.command && !modifiers.ctrl => Some(*key),
            _ => None,
        });
        self.plain = plain.collect();
        out
    }
}

fn is_typed(event: &Event) -> bool {
    let clipboard = matches!(event, Event::Copy | Event::Cut | Event::Paste(_));
    clipboard || matches!(event, Event::Text(_) | Event::Key { pressed: true, .. })
}

fn is_plain_tab(event: &Event) -> bool {
    matches!(event, Event::Key { key: Key::Tab, modifiers, .. } if modifiers.is_none())
}

fn leads_out(event: &Event) -> bool {
    matches!(
        event,
        Event::Key {
            key: Key::Tab | Key::Enter | Key::Escape,
            pressed: true,
            ..
        }
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(key: Key) -> Event {
        Event::Key {
            key,
            physical_key: None,
            pressed: true,
            repeat: false,
            modifiers: Modifiers::NONE,
        }
    }

    fn text(text: &str) -> Event {
        Event::Text(text.to_owned())
    }

    #[test]
    fn what_follows_a_tab_waits_until_the_next_cell_has_the_keyboard() {
        let mut strokes = Strokes::default();
        let all = vec![
            text("5"),
            key(Key::Tab),
            text("7"),
            key(Key::Tab),
            text("8"),
        ];
        assert_eq!(strokes.hand_over(all, false), [text("5")]);
        assert_eq!(strokes.hand_over(Vec::new(), false), [key(Key::Tab)]);
        assert!(strokes.are_for_a_cell());
        assert_eq!(strokes.hand_over(vec![text("9")], false), [text("7")]);
        assert_eq!(strokes.hand_over(Vec::new(), false), [key(Key::Tab)]);
        assert_eq!(strokes.hand_over(Vec::new(), false), [text("8"), text("9")]);
        assert!(!strokes.are_for_a_cell());
    }

    #[test]
    fn a_cell_that_is_still_to_be_drawn_is_waited_for_but_not_for_ever() {
        let mut strokes = Strokes::default();
        assert_eq!(
            strokes.hand_over(vec![key(Key::Enter), text("1")], false),
            [key(Key::Enter)]
        );
        for _ in 0..3 {
            assert_eq!(strokes.hand_over(Vec::new(), true), []);
        }
        // It has been drawn.
        assert_eq!(strokes.hand_over(Vec::new(), false), [text("1")]);

        strokes.hand_over(vec![text("2")], true);
        let frames = (0..100).find(|_| !strokes.hand_over(Vec::new(), true).is_empty());
        assert!(
            frames.is_some_and(|n| n <= usize::from(PATIENCE) + 2),
            "{frames:?}"
        );
    }

    #[test]
    fn a_press_keeps_its_place_among_the_keys() {
        let press = Event::PointerButton {
            pos: Default::default(),
            button: bevy_egui::egui::PointerButton::Primary,
            pressed: true,
            modifiers: Modifiers::NONE,
        };
        let mut strokes = Strokes::default();
        let all = vec![key(Key::Enter), text("5"), press.clone(), text("6")];
        assert_eq!(strokes.hand_over(all, false), [key(Key::Enter)]);
        assert_eq!(strokes.hand_over(Vec::new(), false), []);
        assert_eq!(strokes.hand_over(Vec::new(), false), [text("5"), press]);
        assert_eq!(strokes.hand_over(Vec::new(), false), [text("6")]);
    }

    #[test]
    fn a_key_struck_together_with_a_press_is_the_yards_a_frame_later() {
        let press = Event::PointerButton {
            pos: Default::default(),
            button: bevy_egui::egui::PointerButton::Primary,
            pressed: true,
            modifiers: Modifiers::NONE,
        };
        let mut strokes = Strokes::default();
        strokes.hand_over(vec![press, key(Key::Num1)], false);
        assert!(!strokes.is_plain(Key::Num1));
        strokes.hand_over(Vec::new(), false);
        assert!(strokes.is_plain(Key::Num1));
        strokes.hand_over(Vec::new(), false);
        assert!(!strokes.is_plain(Key::Num1));
        // Escape takes a tool from the hand in its own frame.
        strokes.hand_over(vec![key(Key::Escape)], false);
        assert!(strokes.is_plain(Key::Escape));
        let ctrl = Event::Key {
            key: Key::Z,
            physical_key: None,
            pressed: true,
            repeat: false,
            modifiers: Modifiers::CTRL,
        };
        strokes.hand_over(Vec::new(), false);
        strokes.hand_over(vec![ctrl.clone()], false);
        assert!(!strokes.is_plain(Key::Z), "{ctrl:?}");
    }

    #[test]
    fn enter_waits_until_what_was_typed_before_it_has_been_taken_in() {
        let mut strokes = Strokes::default();
        let all = vec![key(Key::Backspace), text("5"), key(Key::Enter), text("6")];
        assert_eq!(
            strokes.hand_over(all, false),
            [key(Key::Backspace), text("5")]
        );
        assert_eq!(strokes.hand_over(Vec::new(), false), [key(Key::Enter)]);
        assert_eq!(strokes.hand_over(Vec::new(), false), []);
        assert_eq!(strokes.hand_over(Vec::new(), false), [text("6")]);
    }
}
