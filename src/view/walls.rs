//! Walls and the house as bodies.

use crate::plan::{Mark, MarkKind, Plan, Solid};

use super::drape::Drape;
use super::materials::{Face, Made};
use super::mesh::{Batch, Frame, counter_clockwise, ears};
use super::stuff::Stuff;

/// Height of the lighter course on top of a wall, m; drawn, not specified.
const COPING: f64 = 0.07;
/// How far a cap stands out, m; drawn, not specified.
const OVERHANG: f64 = 0.035;
/// The house is shown cut off this far above the highest ground along it; its height is not known.
const CUT: f64 = 1.2;
/// Height of the eaves for the client, m; drawn.
const EAVES: f64 = 2.7;
/// How far its roof stands out, and how thick it is, m; drawn.
const OUT: f64 = 0.4;
const ROOF: f64 = 0.22;

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

/// Slabs over the wall that stand out a little on all sides; drawn, not specified.
pub fn cap(solid: &Solid, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    let ring = counter_clockwise(&solid.footprint);
    if ring.len() < 3 || solid.cap <= solid.base {
        return batch;
    }
    let ring = wider(&ring, OVERHANG);
    let low = (solid.cap - COPING).max(solid.base);
    // A hair over the wall's own top, so that the two do not fight.
    let high = solid.cap + 0.004;
    batch.prism(frame, &ring, low, high, Stuff::Cap, Some(Stuff::Cap));
    for [a, b, c] in ears(&ring) {
        let under = [a, c, b].map(|i| frame.scene([ring[i][0], ring[i][1], low]));
        batch.triangle(under, [[0.0; 2]; 3], Stuff::Cap);
    }
    batch
}

/// The ring moved outwards; it must be counter-clockwise.
fn wider(ring: &[[f64; 2]], by: f64) -> Vec<[f64; 2]> {
    let n = ring.len();
    let outward = |a: [f64; 2], b: [f64; 2]| {
        let d = [b[0] - a[0], b[1] - a[1]];
        let length = d[0].hypot(d[1]).max(1e-9);
        [d[1] / length, -d[0] / length]
    };
    (0..n)
        .map(|i| {
            let p = ring[i];
            let (u, v) = (
                outward(ring[(i + n - 1) % n], p),
                outward(p, ring[(i + 1) % n]),
            );
            // Where both sides moved out meet; blunted at sharp corners.
            let f = by / (1.0 + u[0] * v[0] + u[1] * v[1]).max(0.4);
            [p[0] + (u[0] + v[0]) * f, p[1] + (u[1] + v[1]) * f]
        })
        .collect()
}

pub fn house(mark: &Mark, existing: &Drape, plan: &Plan, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    let Some((ring, highest)) = stands(mark, existing, plan) else {
        return batch;
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

/// The rest of the house for the client, under a flat roof; drawn, its height is not known.
pub fn roofed(mark: &Mark, existing: &Drape, plan: &Plan, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    let Some((ring, highest)) = stands(mark, existing, plan) else {
        return batch;
    };
    let eaves = highest + EAVES;
    batch.prism(frame, &ring, highest + CUT, eaves, Stuff::House, None);
    let roof = wider(&ring, OUT);
    batch.prism(
        frame,
        &roof,
        eaves,
        eaves + ROOF,
        Stuff::Pin,
        Some(Stuff::Pin),
    );
    batch
}

/// The upright faces of a roofed house.
pub fn faces(mark: &Mark, existing: &Drape, plan: &Plan, frame: &Frame) -> Vec<Face> {
    let Some((ring, highest)) = stands(mark, existing, plan) else {
        return Vec::new();
    };
    let eaves = highest + EAVES;
    let roof = wider(&ring, OUT);
    let round = |ring: &[[f64; 2]], low: f32, top: f64, made: Made| -> Vec<Face> {
        let at = |k: usize| {
            let p = ring[k % ring.len()];
            frame.scene([p[0], p[1], top])
        };
        (0..ring.len())
            .map(|k| Face {
                ends: [at(k), at(k + 1)],
                low,
                top: at(k).y,
                made,
                light: 0.0,
            })
            .collect()
    };
    let under = frame.scene([ring[0][0], ring[0][1], eaves]).y;
    let mut faces = round(&ring, f32::MIN, eaves, Made::House);
    faces.extend(round(&roof, under, eaves + ROOF, Made::Roof));
    faces
}

/// The footprint of a house, and the highest ground along it.
fn stands(mark: &Mark, existing: &Drape, plan: &Plan) -> Option<(Vec<[f64; 2]>, f64)> {
    if mark.kind != MarkKind::House || !mark.closed || mark.line.len() < 3 {
        return None;
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
            None => return None,
        }
    } else {
        highest
    };
    Some((ring, highest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_is_made_wider_on_all_sides() {
        let ring = [[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0]];
        let by_hand = [[-0.1, -0.1], [2.1, -0.1], [2.1, 1.1], [-0.1, 1.1]];
        for (p, q) in wider(&ring, 0.1).iter().zip(by_hand) {
            assert!(
                (p[0] - q[0]).hypot(p[1] - q[1]) < 1e-12,
                "{p:?}, by hand {q:?}"
            );
        }
    }
}
