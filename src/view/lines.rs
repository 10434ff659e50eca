//! Lines that lie on a surface: the marks of the site plan and contours.

use bevy::gizmos::GizmoAsset;
use bevy::gizmos::config::{GizmoLineConfig, GizmoLineJoint};
use bevy::math::Vec3;
use bevy::prelude::{Alpha, Color};

use crate::plan::{Mark, MarkKind};

use super::contours::Contours;
use super::drape::Drape;
use super::mesh::Frame;
use super::paper;

/// How far above the ground a line is drawn, m.
const LIFT: f64 = 0.015;

type Drawn = (GizmoAsset, GizmoLineConfig);

/// The marks as they lie on a surface, those of one width together: the card is given few lists
/// instead of one for each mark.
pub fn marks(marks: &[Mark], drape: &Drape, frame: &Frame) -> Vec<Drawn> {
    let mut drawn: Vec<Drawn> = Vec::new();
    let step = (frame.reach / 150.0).clamp(0.04, 0.5);
    for mark in marks {
        let Some(manner) = manner(mark.kind) else {
            continue;
        };
        let known = drawn.iter().position(|(_, c)| c.width == manner.width);
        let k = known.unwrap_or_else(|| {
            drawn.push((GizmoAsset::default(), config(manner.width)));
            drawn.len() - 1
        });
        for piece in drape.lay(&mark.line, mark.closed, step) {
            for dash in dashes(&piece, manner.dash, frame.reach) {
                drawn[k].0.linestrip(lifted(&dash, frame), manner.color);
            }
        }
    }
    drawn
}

/// Thin lines, and heavier index lines.
pub fn contours(contours: &Contours, frame: &Frame) -> Vec<Drawn> {
    [(false, 1.0, 0.28), (true, 1.8, 0.5)]
        .into_iter()
        .map(|(index, width, alpha)| {
            let color = paper::scene(paper::INK).with_alpha(alpha);
            let mut asset = GizmoAsset::default();
            for (z, _, line) in contours.lines.iter().filter(|l| l.1 == index) {
                let line: Vec<_> = line.iter().map(|p| [p[0], p[1], *z]).collect();
                asset.linestrip(lifted(&line, frame), color);
            }
            (asset, config(width))
        })
        .collect()
}

fn config(width: f32) -> GizmoLineConfig {
    GizmoLineConfig {
        width,
        joints: GizmoLineJoint::Bevel,
        ..Default::default()
    }
}

/// Cuts a line into dashes; lengths are fractions of the yard's reach.
fn dashes(line: &[[f64; 3]], dash: Option<(f64, f64)>, reach: f64) -> Vec<Vec<[f64; 3]>> {
    let Some((on, off)) = dash.map(|(on, off)| (on * reach, off * reach)) else {
        return vec![line.to_vec()];
    };
    let mut out = Vec::new();
    let mut piece = Vec::new();
    let mut run = 0.0;
    for pair in line.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        if run % (on + off) < on {
            if piece.is_empty() {
                piece.push(a);
            }
            piece.push(b);
        } else if !piece.is_empty() {
            out.push(std::mem::take(&mut piece));
        }
        run += (b[0] - a[0]).hypot(b[1] - a[1]);
    }
    if !piece.is_empty() {
        out.push(piece);
    }
    out
}

pub fn lifted(line: &[[f64; 3]], frame: &Frame) -> Vec<Vec3> {
    line.iter()
        .map(|p| frame.scene([p[0], p[1], p[2] + LIFT]))
        .collect()
}

struct Manner {
    color: Color,
    width: f32,
    dash: Option<(f64, f64)>,
}

/// Told apart by dash and weight first, by colour second. `None`: not drawn as a line.
fn manner(kind: MarkKind) -> Option<Manner> {
    let ink = |alpha: f32| paper::scene(paper::INK).with_alpha(alpha);
    let (color, width, dash) = match kind {
        MarkKind::KeepOut => (paper::scene(paper::ACCENT), 3.0, Some((0.03, 0.018))),
        MarkKind::Service => (ink(0.9), 2.6, Some((0.05, 0.022))),
        MarkKind::Tree => (ink(0.7), 1.8, Some((0.02, 0.016))),
        MarkKind::Access => (paper::scene(paper::PAPER), 3.0, Some((0.07, 0.03))),
        MarkKind::Breakline => (ink(0.35), 1.2, None),
        MarkKind::Outline => (ink(0.5), 1.5, None),
        MarkKind::Paving => (ink(0.3), 1.0, None),
        MarkKind::House => return None,
    };
    Some(Manner { color, width, dash })
}
