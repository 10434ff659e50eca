//! The sign of each severity, and of each verdict on a shot: told by shape and letter before colour.

use bevy_egui::egui::{
    Align2, Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, Vec2,
};

use crate::findings::Severity;
use crate::plan::Verdict;

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

/// What was shot after digging. Right: open circle with a tick; to take off: filled, pointing down;
/// to put on: open, pointing up; outside the design: open square with a question mark.
pub fn shot(painter: &Painter, at: Pos2, size: f32, verdict: Verdict) {
    let r = size / 2.0;
    let off = |x: f32, y: f32| at + Vec2::new(x * r, y * r);
    match verdict {
        Verdict::Right => {
            painter.circle(at, 0.9 * r, paper::PAPER, Stroke::new(1.3, paper::INK));
            let tick = vec![off(-0.42, 0.02), off(-0.1, 0.38), off(0.45, -0.38)];
            painter.line(tick, Stroke::new(1.4, paper::INK));
        }
        Verdict::ToDig | Verdict::TooHigh => {
            let corners = vec![off(-1.15, -0.9), off(1.15, -0.9), off(0.0, 1.15)];
            let rim = Stroke::new(1.5, paper::PAPER);
            painter.add(Shape::convex_polygon(corners, paper::ACCENT, rim));
        }
        Verdict::OverDug | Verdict::ToFill | Verdict::TooLow => {
            let corners = vec![off(-1.1, 0.85), off(1.1, 0.85), off(0.0, -1.1)];
            let rim = Stroke::new(2.0, paper::WATER);
            painter.add(Shape::convex_polygon(corners, paper::PAPER, rim));
        }
        Verdict::Outside => {
            let side = Rect::from_center_size(at, Vec2::splat(1.7 * r));
            painter.rect(
                side,
                0.0,
                paper::PAPER,
                Stroke::new(1.3, paper::FAINT),
                StrokeKind::Inside,
            );
            painter.text(
                at,
                Align2::CENTER_CENTER,
                "?",
                FontId::monospace(size * 0.72),
                paper::FAINT,
            );
        }
    }
}
