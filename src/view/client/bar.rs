//! The one strip over the client's view. It goes away when the pointer rests.

use bevy_egui::egui::{self, Align2, Color32, Context, DragValue, Frame, Margin, RichText, Ui};

use crate::view::panel::press;
use crate::view::scene::{Showing, Yard};
use crate::view::{Look, paper};

use super::stand::{self, Client};

/// How long the strip stays, s.
const STAYS: f64 = 4.0;
/// How long the name of a saved picture stays, s.
const SAID: f64 = 12.0;
const SIZES: [[u32; 2]; 4] = [[1280, 800], [1920, 1080], [2560, 1600], [3840, 2160]];

/// Shows the strip. `true`: the pointer is on it.
pub fn show(
    ctx: &Context,
    client: &mut Client,
    showing: &mut Showing,
    yard: &Yard,
    yaw: f32,
    now: f64,
) -> bool {
    let moved = ctx.input(|i| i.pointer.delta() != egui::Vec2::ZERO || i.pointer.any_pressed());
    if moved || client.stirred == 0.0 {
        client.stirred = now;
    }
    client.said = client.said.take().filter(|(_, since)| now - since < SAID);
    let typing = ctx.egui_wants_keyboard_input();
    if now - client.stirred > STAYS && client.said.is_none() && !typing {
        return false;
    }
    let area = egui::Area::new("client".into())
        .anchor(Align2::CENTER_BOTTOM, [0.0, -14.0])
        .order(egui::Order::Foreground)
        .show(ctx, |ui| {
            Frame::NONE
                .fill(Color32::from_rgba_unmultiplied(0xf7, 0xf2, 0xe6, 232))
                .corner_radius(3)
                .inner_margin(Margin::symmetric(12, 8))
                .show(ui, |ui| strip(ui, client, showing, yard, yaw));
        });
    area.response.contains_pointer()
}

fn strip(ui: &mut Ui, client: &mut Client, showing: &mut Showing, yard: &Yard, yaw: f32) {
    if let Some((said, _)) = &client.said {
        ui.label(RichText::new(said).strong());
    }
    if client.walk.is_some() {
        let words = "On foot: arrows or W A S D to walk, drag to look round, Esc to rise again";
        ui.label(RichText::new(words).small().color(paper::FAINT));
    }
    ui.horizontal(|ui| {
        let other = if showing.look == Look::Finished {
            "Before (Space)"
        } else {
            "After (Space)"
        };
        if press::button(ui, other, "The ground before the work, and after it") {
            stand::swap(showing);
        }
        let turn = if client.turning {
            "Stop turning"
        } else {
            "Turn slowly (T)"
        };
        if press::button(ui, turn, "Once round the yard; any key or drag stops it")
            && client.walk.is_none()
        {
            client.turning = !client.turning;
        }
        let foot = if client.walk.is_some() {
            "From above (G)"
        } else {
            "On foot (G)"
        };
        if press::button(
            ui,
            foot,
            "Eyes at a person's height; W A S D or arrows to walk",
        ) {
            stand::on_foot(client, yard, showing.look, yaw);
        }
        ui.separator();
        if press::button(
            ui,
            "Save a picture (P)",
            "A PNG of this view beside the job's file",
        ) {
            client.ask_for_picture();
        }
        let [wide, tall] = &mut client.size;
        ui.add(DragValue::new(wide).range(16..=8192));
        ui.label("×");
        ui.add(DragValue::new(tall).range(16..=8192));
        ui.menu_button("⏷", |ui| {
            for [w, h] in SIZES {
                if ui.button(format!("{w} × {h}")).clicked() {
                    (*wide, *tall) = (w, h);
                    ui.close();
                }
            }
        });
        ui.separator();
        if press::button(ui, "Back to the tools (H)", "The tools as they were") {
            showing.client = false;
        }
    });
}
