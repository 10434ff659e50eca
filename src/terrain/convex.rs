//! Convex polygons in plan: split by a line, and integrals of a linear height over them.
//!
//! Counter-clockwise. Points within [`ON`] of a line count as on it, so that no splinter thinner
//! than that is ever made.

use smallvec::SmallVec;

use super::predicates::P2;

pub type Polygon = SmallVec<[P2; 8]>;

/// Distance (metres) within which a point lies on a cutting line.
pub const ON: f64 = 1e-9;

/// Pieces smaller than this (m²) are not worth keeping: a thousandth of a square millimetre.
pub const SPECK: f64 = 1e-12;

/// Twice the area.
#[inline]
pub fn area2(poly: &[P2]) -> f64 {
    if poly.len() < 3 {
        return 0.0;
    }
    let o = poly[0];
    let mut sum = 0.0;
    for w in poly[1..].windows(2) {
        sum += (w[0][0] - o[0]) * (w[1][1] - o[1]) - (w[0][1] - o[1]) * (w[1][0] - o[0]);
    }
    sum
}

/// Splits `poly` by the sign of `side` (one value for each corner, in metres or any linear measure
/// where less than `tolerance` means "on"): (where negative or zero, where positive or zero).
#[inline]
pub fn split(poly: &[P2], side: &[f64], tolerance: f64) -> (Polygon, Polygon) {
    let mut below = Polygon::new();
    let mut above = Polygon::new();
    let n = poly.len();
    for i in 0..n {
        let (p, s) = (poly[i], side[i]);
        let j = if i + 1 == n { 0 } else { i + 1 };
        let (q, t) = (poly[j], side[j]);
        let (sp, tp) = (s > tolerance, t > tolerance);
        let (sn, tn) = (s < -tolerance, t < -tolerance);
        if !sp {
            below.push(p);
        }
        if !sn {
            above.push(p);
        }
        if (sp && tn) || (sn && tp) {
            // Always from the same end, so that the neighbour over this edge finds the same point.
            let x = if (p[0], p[1]) < (q[0], q[1]) {
                between(p, s, q, t)
            } else {
                between(q, t, p, s)
            };
            below.push(x);
            above.push(x);
        }
    }
    if below.len() < 3 {
        below.clear();
    }
    if above.len() < 3 {
        above.clear();
    }
    (below, above)
}

#[inline]
fn between(p: P2, s: f64, q: P2, t: f64) -> P2 {
    let k = s / (s - t);
    [p[0] + k * (q[0] - p[0]), p[1] + k * (q[1] - p[1])]
}

/// ∫ of the linear height with value `d[i]` at corner `i`: (signed integral).
#[inline]
pub fn integral(poly: &[P2], d: &[f64]) -> f64 {
    let mut sum = 0.0;
    for i in 1..poly.len().saturating_sub(1) {
        let (a, b, c) = (poly[0], poly[i], poly[i + 1]);
        let area2 = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        sum += area2 * (d[0] + d[i] + d[i + 1]);
    }
    sum / 6.0
}

/// ∫ of the positive part of a linear height over the polygon.
pub fn positive_integral(poly: &[P2], d: &[f64]) -> f64 {
    if d.iter().all(|&v| v >= 0.0) {
        return integral(poly, d);
    }
    if d.iter().all(|&v| v <= 0.0) {
        return 0.0;
    }
    let (_, above) = split(poly, d, 0.0);
    // A cut corner has height zero; every other corner of the upper part is one of the polygon's.
    let heights: SmallVec<[f64; 8]> = above
        .iter()
        .map(|p| {
            poly.iter()
                .position(|q| q == p)
                .map_or(0.0, |i| d[i].max(0.0))
        })
        .collect();
    integral(&above, &heights)
}
