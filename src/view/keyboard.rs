//! Keys of the window outside its cells.

use bevy::prelude::*;
use bevy_egui::EguiContexts;
use bevy_egui::egui::Key;
use bevy_panorbit_camera::PanOrbitCamera;

use super::Look;
use super::book::Book;
use super::dialog::Dialog;
use super::frame::{ask_to_open, frame_whole, save};
use super::hand::{Hand, Tool};
use super::panel;
use super::scene::{Showing, Yard};
use super::stages::Stages;
use super::strokes::Strokes;
use super::work::Work;

pub fn keys(
    mut contexts: EguiContexts,
    keys: Res<ButtonInput<KeyCode>>,
    yard: Res<Yard>,
    mut showing: ResMut<Showing>,
    (mut hand, stages, mut dialog): (ResMut<Hand>, Res<Stages>, ResMut<Dialog>),
    (mut work, mut book, strokes): (ResMut<Work>, ResMut<Book>, Res<Strokes>),
    camera: Single<(&Camera, &mut PanOrbitCamera)>,
) -> Result {
    // In a slow frame a key may be down and up again: that counts as well.
    let held = |any: [KeyCode; 2]| keys.any_pressed(any) || keys.any_just_pressed(any);
    let ctrl = held([KeyCode::ControlLeft, KeyCode::ControlRight])
        || held([KeyCode::SuperLeft, KeyCode::SuperRight]);
    let in_cell = contexts.ctx_mut()?.egui_wants_keyboard_input();
    let typing = in_cell || strokes.are_for_a_cell();
    if showing.client {
        return Ok(());
    }
    let command = |key: Key| strokes.is_command(key, false);
    // In a cell, taking back belongs to the cell.
    if command(Key::Z) && !typing {
        work.undo();
    }
    if (command(Key::Y) || strokes.is_command(Key::Z, true)) && !typing {
        work.redo();
    }
    if command(Key::S) {
        save(&mut work, &mut book, &mut dialog);
    }
    if command(Key::O) {
        ask_to_open(&mut book, &mut dialog);
    }
    if ctrl || in_cell {
        return Ok(());
    }
    // By what is handed over, not by what is held just now: a key struck together with a press comes a
    // frame later.
    let struck = |key: Key| strokes.is_plain(key);
    let mut next = *showing;
    for (key, look) in [
        (Key::Num1, Look::Existing),
        (Key::Num2, Look::Dug),
        (Key::Num3, Look::Finished),
    ] {
        if struck(key) {
            next.turn_to(look);
        }
    }
    for (key, layer) in [
        (Key::W, &mut next.water),
        (Key::S, &mut next.shots),
        (Key::C, &mut next.contours),
        (Key::M, &mut next.marks),
        (Key::D, &mut next.depth),
        (Key::B, &mut next.brim),
    ] {
        if struck(key) {
            *layer = !*layer;
        }
    }
    let (camera, mut orbit) = camera.into_inner();
    if struck(Key::V) {
        let now = panel::STRETCHES
            .iter()
            .position(|s| (s - next.stretch).abs() < 0.01);
        next.stretch = panel::STRETCHES[now.map_or(0, |k| (k + 1) % panel::STRETCHES.len())];
    }
    for (key, tool) in [(Key::X, Tool::Section), (Key::T, Tool::Tape)] {
        if struck(key) {
            hand.take_up(tool);
        }
    }
    if struck(Key::E) {
        // None, then each of the others in turn.
        let others = || Look::ALL.into_iter().filter(|l| *l != next.look);
        let now = next.wipe.and_then(|w| others().position(|l| l == w));
        next.wipe = others().nth(now.map_or(0, |k| k + 1));
    }
    for (key, by) in [(Key::OpenBracket, -1), (Key::CloseBracket, 1)] {
        if struck(key) {
            next.stage = stages.beside(next.stage, by);
            next.built = None;
        }
    }
    if struck(Key::Escape) {
        hand.let_go();
    }
    if next != *showing {
        *showing = next;
    }
    if struck(Key::F) {
        let size = camera
            .physical_viewport_size()
            .unwrap_or(UVec2::new(16, 10));
        frame_whole(&yard, &mut orbit, size, showing.stretch);
    }
    Ok(())
}
