//! Walls and the house as bodies.

use crate::plan::{Mark, MarkKind, Plan, Solid};

use super::drape::Drape;
use super::mesh::{Batch, Frame, counter_clockwise};
use super::stuff::Stuff;

/// Height of the lighter course on top of a wall, m; drawn, not specified.
const COPING: f64 = 0.07;
/// The house is shown cut off this far above the highest ground along it; its height is not known.
const CUT: f64 = 1.2;

pub fn wall(solid: &Solid, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    let ring = counter_clockwise(&solid.footprint);
    if ring.len() < 3 || solid.cap <= solid.base {
        return batch;
    }
    let coping = (solid.cap - COPING).max(solid.base);
    batch.prism(frame, &ring, solid.base, coping, Stuff::Block, None);
    batch.prism(
        frame,
        &ring,
        coping,
        solid.cap,
        Stuff::Cap,
        Some(Stuff::Cap),
    );
    if solid.base > frame.base {
        // Soil under the foot, so that the block shows no hole where a wall reaches its edge.
        batch.prism(frame, &ring, frame.base, solid.base, Stuff::Strata, None);
    }
    batch
}

pub fn house(mark: &Mark, existing: &Drape, plan: &Plan, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    if mark.kind != MarkKind::House || !mark.closed || mark.line.len() < 3 {
        return batch;
    }
    let ring = counter_clockwise(&mark.line);
    // The ground stops at the house; look just outside its walls.
    let n = ring.len();
    let mut ground = Vec::new();
    for i in 0..n {
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        let d = [b[0] - a[0], b[1] - a[1]];
        let length = d[0].hypot(d[1]).max(1e-9);
        for s in 0..=8 {
            let f = f64::from(s) / 8.0;
            let p = [
                a[0] + f * d[0] + 0.02 * d[1] / length,
                a[1] + f * d[1] - 0.02 * d[0] / length,
            ];
            ground.extend(existing.height(p));
        }
    }
    let highest = ground.iter().copied().fold(f64::MIN, f64::max);
    let highest = if ground.is_empty() {
        match plan.existing.bounds() {
            Some([_, hi]) => hi[2],
            None => return batch,
        }
    } else {
        highest
    };
    batch.prism(
        frame,
        &ring,
        frame.base,
        highest + CUT,
        Stuff::House,
        Some(Stuff::House),
    );
    batch
}
