//! Lines that lie on a surface: the marks of the site plan.

use bevy::gizmos::GizmoAsset;
use bevy::gizmos::config::{GizmoLineConfig, GizmoLineJoint, GizmoLineStyle};
use bevy::math::Vec3;
use bevy::prelude::{Alpha, Color};

use crate::plan::{Mark, MarkKind};

use super::drape::Drape;
use super::mesh::Frame;
use super::paper;

/// How far above the ground a line is drawn, m.
const LIFT: f64 = 0.015;

pub fn mark(mark: &Mark, drape: &Drape, frame: &Frame) -> Option<(GizmoAsset, GizmoLineConfig)> {
    let (color, width, style) = manner(mark.kind)?;
    let mut asset = GizmoAsset::default();
    let step = (frame.reach / 120.0).clamp(0.05, 0.5);
    for piece in drape.lay(&mark.line, mark.closed, step) {
        asset.linestrip(lifted(&piece, frame), color);
    }
    Some((asset, config(width, style)))
}

pub fn config(width: f32, style: GizmoLineStyle) -> GizmoLineConfig {
    GizmoLineConfig {
        width,
        style,
        joints: GizmoLineJoint::Miter,
        ..Default::default()
    }
}

pub fn lifted(line: &[[f64; 3]], frame: &Frame) -> Vec<Vec3> {
    line.iter()
        .map(|p| frame.scene([p[0], p[1], p[2] + LIFT]))
        .collect()
}

/// Told apart by dash and weight first, by colour second. `None`: not drawn as a line.
fn manner(kind: MarkKind) -> Option<(Color, f32, GizmoLineStyle)> {
    let dashed = |line_scale: f32, gap_scale: f32| GizmoLineStyle::Dashed {
        gap_scale,
        line_scale,
    };
    Some(match kind {
        MarkKind::KeepOut => (paper::scene(paper::ACCENT), 3.5, dashed(4.0, 2.0)),
        MarkKind::Service => (paper::scene(paper::INK), 3.0, dashed(6.0, 3.0)),
        MarkKind::Access => (paper::scene(paper::PAPER), 3.0, dashed(9.0, 4.0)),
        MarkKind::Breakline => (
            paper::scene(paper::INK).with_alpha(0.45),
            1.2,
            GizmoLineStyle::Solid,
        ),
        MarkKind::Outline => (
            paper::scene(paper::INK).with_alpha(0.6),
            1.5,
            GizmoLineStyle::Solid,
        ),
        MarkKind::Paving => (
            paper::scene(paper::INK).with_alpha(0.35),
            1.0,
            GizmoLineStyle::Solid,
        ),
        MarkKind::House => return None,
    })
}
