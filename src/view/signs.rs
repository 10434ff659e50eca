//! The sign of each severity: told by shape and letter before colour.

use bevy_egui::egui::{Align2, Color32, FontId, Painter, Pos2, Shape, Stroke, Vec2};

use crate::findings::Severity;

use super::paper;

pub fn word(severity: Severity) -> &'static str {
    match severity {
        Severity::Error => "Error",
        Severity::Warning => "Warning",
        Severity::Caution => "Caution",
        Severity::Note => "Note",
    }
}

/// Error: filled square on its corner; warning: filled triangle; caution: open circle; note: open
/// square.
pub fn paint(painter: &Painter, at: Pos2, size: f32, severity: Severity) {
    let r = size / 2.0;
    let off = |x: f32, y: f32| at + Vec2::new(x * r, y * r);
    let rim = Stroke::new(1.5, paper::PAPER);
    let (letter, color) = match severity {
        Severity::Error => {
            let corners = vec![off(0.0, -1.2), off(1.2, 0.0), off(0.0, 1.2), off(-1.2, 0.0)];
            painter.add(Shape::convex_polygon(corners, paper::ACCENT, rim));
            ("×", Color32::WHITE)
        }
        Severity::Warning => {
            let corners = vec![off(0.0, -1.15), off(1.15, 0.9), off(-1.15, 0.9)];
            painter.add(Shape::convex_polygon(corners, paper::INK, rim));
            ("!", paper::PAPER)
        }
        Severity::Caution => {
            painter.circle(at, r, paper::PAPER, Stroke::new(1.8, paper::INK));
            ("!", paper::INK)
        }
        Severity::Note => {
            let corners = vec![
                off(-0.85, -0.85),
                off(0.85, -0.85),
                off(0.85, 0.85),
                off(-0.85, 0.85),
            ];
            painter.add(Shape::convex_polygon(
                corners,
                paper::PAPER,
                Stroke::new(1.3, paper::FAINT),
            ));
            ("i", paper::FAINT)
        }
    };
    let down = if severity == Severity::Warning {
        0.18
    } else {
        0.0
    };
    painter.text(
        off(0.0, down),
        Align2::CENTER_CENTER,
        letter,
        FontId::monospace(size * 0.72),
        color,
    );
}
