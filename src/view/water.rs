//! Water as a sheet at its level, with the depth under it, and the line where it meets the shore.

use crate::plan::Water;

use super::drape::Drape;
use super::mesh::{Batch, Frame};
use super::stuff::Stuff;

/// The sheet of one body of water over the finished surface.
pub fn sheet(water: &Water, finished: &Drape, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    for triangle in &water.sheet {
        // The plane under the middle, not the surface under each corner: a corner on a wall's
        // face would find the wall's top.
        let middle = [0, 1].map(|k| triangle.iter().map(|p| p[k]).sum::<f64>() / 3.0);
        let plane = finished.plane(middle);
        let mut depth = triangle.map(|p| {
            let bed = plane.map_or(water.level_m, |plane| plane.height(p));
            [(water.level_m - bed).max(0.0) as f32, 0.0]
        });
        let mut corners = triangle.map(|p| frame.scene([p[0], p[1], water.level_m]));
        if (corners[1] - corners[0]).cross(corners[2] - corners[0]).y < 0.0 {
            corners.swap(1, 2);
            depth.swap(1, 2);
        }
        batch.triangle(corners, depth, Stuff::Pin);
    }
    batch
}

/// A thin band along the water's edge; the half of it that lies in the shore is hidden by it.
pub fn shoreline(water: &Water, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    // Wide enough to be seen from where the whole yard is.
    let half = (frame.reach * 0.0022).clamp(0.012, 0.06);
    // Above the sheet by less than any depth that matters, so that the two do not fight.
    let level = water.level_m + 0.004;
    for ring in &water.edge {
        let n = ring.len();
        if n < 3 {
            continue;
        }
        for i in 0..n {
            let (a, b) = (ring[i], ring[(i + 1) % n]);
            let d = [b[0] - a[0], b[1] - a[1]];
            let length = d[0].hypot(d[1]);
            if length < 1e-6 {
                continue;
            }
            let across = [-d[1] / length * half, d[0] / length * half];
            let along = [d[0] / length * half * 0.5, d[1] / length * half * 0.5];
            let at = |p: [f64; 2], side: f64, on: f64| {
                frame.scene([
                    p[0] + side * across[0] + on * along[0],
                    p[1] + side * across[1] + on * along[1],
                    level,
                ])
            };
            batch.quad(
                [
                    at(a, -1.0, -1.0),
                    at(b, -1.0, 1.0),
                    at(b, 1.0, 1.0),
                    at(a, 1.0, -1.0),
                ],
                [[0.0; 2]; 4],
                Stuff::Pin,
            );
        }
    }
    batch
}
