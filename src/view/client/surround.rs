//! What stands about the yard in the client's view: lawn that goes on into the haze, and a sky.
//!
//! Nothing of it was surveyed; the haze begins where the survey ends.

use bevy::math::Vec3;

use crate::view::ground::OpenEdge;
use crate::view::mesh::{Batch, Frame};
use crate::view::stuff::Stuff;

/// How far the lawn goes on, in times the distance from the middle of the yard.
const RINGS: [f64; 8] = [1.0, 1.06, 1.2, 1.5, 2.2, 4.0, 9.0, 22.0];

/// The lawn about the surface whose outer edges these are.
pub fn lawn(edges: &[OpenEdge], frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    let [cx, cy, _] = frame.centre;
    let outer: Vec<&OpenEdge> = edges.iter().filter(|e| e.over.is_none()).collect();
    let count = outer.len().max(1) as f64;
    let mean = outer.iter().map(|e| e.ends[0][2]).sum::<f64>() / count;
    for edge in outer {
        let [a, b] = edge.ends;
        let d = [b[0] - a[0], b[1] - a[1]];
        let middle = [(a[0] + b[0]) / 2.0 - cx, (a[1] + b[1]) / 2.0 - cy];
        // Open air is on the right. A hole in the yard, such as a house, opens towards the middle
        // or lies well inside.
        let outward = d[1] * middle[0] - d[0] * middle[1];
        if outward <= 0.0 || middle[0].hypot(middle[1]) < 0.45 * frame.reach {
            continue;
        }
        let at = |p: [f64; 3], times: f64| {
            let f = ((times - 1.0) / 1.6).clamp(0.0, 1.0);
            let f = f * f * (3.0 - 2.0 * f);
            frame.scene([
                cx + (p[0] - cx) * times,
                cy + (p[1] - cy) * times,
                p[2] + (mean - p[2]) * f,
            ])
        };
        for ring in RINGS.windows(2) {
            let corners = [
                at(b, ring[0]),
                at(a, ring[0]),
                at(a, ring[1]),
                at(b, ring[1]),
            ];
            for k in [0, 1, 2, 0, 2, 3] {
                batch.corner(corners[k], Vec3::Y, [0.0; 2], Stuff::Grass);
            }
        }
    }
    batch
}
