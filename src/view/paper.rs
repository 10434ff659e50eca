//! The colours of the panel and of everything drawn over the yard: paper, ink, and one accent.

use bevy::prelude::Color;
use bevy_egui::egui::Color32;

pub const PAPER: Color32 = Color32::from_rgb(0xf7, 0xf2, 0xe6);
pub const SHEET: Color32 = Color32::from_rgb(0xef, 0xe8, 0xd7);
pub const RULE: Color32 = Color32::from_rgb(0xd6, 0xcb, 0xb2);
pub const INK: Color32 = Color32::from_rgb(0x2c, 0x28, 0x22);
pub const FAINT: Color32 = Color32::from_rgb(0x6d, 0x64, 0x56);
/// Water in drawings and words.
pub const WATER: Color32 = Color32::from_rgb(0x1b, 0x55, 0x74);
pub const ACCENT: Color32 = Color32::from_rgb(0xa6, 0x3c, 0x1e);

/// The same colour for things in the scene.
pub fn scene(color: Color32) -> Color {
    Color::srgb_u8(color.r(), color.g(), color.b())
}
