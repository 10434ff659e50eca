//! The line at the foot of the yard that says what the hand can do.

use bevy_egui::egui::{self, Align2, Color32, Context, FontId, Rect, Vec2};

use crate::view::paper;

/// What the hand can do; where there is no room for all, the last of these are left out.
const HINTS: [&str; 8] = [
    "drag: turn",
    "right drag: shift",
    "wheel: nearer",
    "1 2 3: surface",
    "F: whole yard",
    "H: client",
    "X: section",
    "T: tape",
];
/// Always there: it leads to the others.
const KEYS: &str = "F1: all keys";

fn line(hints: &[&str]) -> String {
    let all: Vec<&str> = hints.iter().copied().chain([KEYS]).collect();
    all.join("    ")
}

fn hint_rect(left: Rect) -> Rect {
    Rect::from_min_max(
        egui::pos2(left.left() + 8.0, left.bottom() - 26.0),
        egui::pos2(left.right() - 8.0, left.bottom() - 4.0),
    )
}

pub fn show(ctx: &Context, left: Rect) {
    let painter = egui::Painter::new(ctx.clone(), egui::LayerId::background(), left);
    let laid = |n: usize| {
        painter.layout_no_wrap(line(&HINTS[..n]), FontId::proportional(12.5), paper::INK)
    };
    let room = hint_rect(left).width() - 2.0 * 8.0;
    let most = (0..=HINTS.len()).rev();
    let galley = most
        .map(laid)
        .find(|g| g.size().x <= room)
        .unwrap_or_else(|| laid(0));
    let rect = Align2::CENTER_CENTER.anchor_size(hint_rect(left).center(), galley.size());
    painter.rect_filled(
        rect.expand2(Vec2::new(8.0, 3.0)),
        2.0,
        Color32::from_rgba_unmultiplied(0xf7, 0xf2, 0xe6, 215),
    );
    painter.galley(rect.min, galley, paper::INK);
}

const START: [&str; 4] = [
    "No ground yet.",
    "On the page Notes: a benchmark, a setup with its backsight,",
    "then a row for each shot: name, rod, and its place (x, y or as it was taped).",
    "From three shots on the ground stands here.",
];

/// What to do first in an empty yard.
pub fn start(ctx: &Context, left: Rect, shots: usize) {
    let painter = egui::Painter::new(ctx.clone(), egui::LayerId::background(), left);
    // Above the first shots, not over them.
    let from = if shots > 0 {
        left.center_top() + Vec2::new(0.0, 34.0)
    } else {
        left.center() - Vec2::new(0.0, 40.0)
    };
    let rows: Vec<_> = START
        .into_iter()
        .enumerate()
        .map(|(k, line)| {
            let size = if k == 0 { 20.0 } else { 14.0 };
            let font = FontId::proportional(size);
            painter.layout_no_wrap(line.to_owned(), font, paper::FAINT)
        })
        .collect();
    if shots > 0 {
        let wide = rows.iter().map(|r| r.size().x).fold(0.0, f32::max);
        let sheet = Rect::from_min_max(
            from - Vec2::new(wide / 2.0 + 14.0, 20.0),
            from + Vec2::new(wide / 2.0 + 14.0, 26.0 * 3.0 + 16.0),
        );
        painter.rect_filled(sheet, 3.0, paper::PAPER);
    }
    for (k, row) in rows.into_iter().enumerate() {
        let at = from + Vec2::new(0.0, 26.0 * k as f32);
        let rect = Align2::CENTER_CENTER.anchor_size(at, row.size());
        painter.galley(rect.min, row, paper::FAINT);
    }
}

/// Places over the yard that labels keep clear of.
pub fn overlays(left: Rect) -> Vec<Rect> {
    vec![hint_rect(left)]
}
