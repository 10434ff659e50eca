//! What several checks share: repeatable random numbers, surfaces from points, closeness that
//! names the quantity. Metres.

#![allow(dead_code)] // each test file uses its own part

pub mod command;
pub mod keys;

use brimline::terrain::Surface;
use brimline::terrain::constrained::Triangulation;
use brimline::terrain::predicates::P2;

/// xorshift64*: the same numbers on every run.
pub struct Random(u64);

impl Random {
    pub fn new(seed: u64) -> Self {
        Random(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// In [0, 1).
    pub fn unit(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    pub fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n - 1)
    }
}

/// Points without any two alike.
pub fn distinct(mut points: Vec<P2>) -> Vec<P2> {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    points.dedup();
    points
}

pub fn surface(points: Vec<P2>, z: impl Fn(f64, f64) -> f64) -> Surface {
    let made = Triangulation::new(points).expect("points that make a triangle");
    Surface {
        points: made
            .points
            .iter()
            .map(|p| [p[0], p[1], z(p[0], p[1])])
            .collect(),
        triangles: (0..made.triangles() as u32)
            .map(|t| made.corners(t))
            .collect(),
        made_by: vec![0; made.triangles()],
    }
}

/// Ground over a rectangle with corner (x, y): its corners and `n` scattered points.
pub fn ground([x, y]: P2, [w, h]: P2, n: usize, seed: u64, z: impl Fn(f64, f64) -> f64) -> Surface {
    let mut r = Random::new(seed);
    let mut points: Vec<P2> = vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
    points.extend((0..n).map(|_| [x + w * r.unit(), y + h * r.unit()]));
    surface(points, z)
}

pub fn close(what: &str, found: f64, expected: f64, relative: f64) {
    let off = (found - expected).abs() / expected.abs().max(1e-12);
    assert!(
        off <= relative,
        "{what}: found {found}, expected {expected}, off by {off:e} of it (allowed {relative:e})"
    );
}

pub fn close_to(what: &str, found: f64, expected: f64, allowed: f64) {
    let off = (found - expected).abs();
    assert!(
        off <= allowed,
        "{what}: found {found}, expected {expected}, off by {off:e} (allowed {allowed:e})"
    );
}
