//! How near a straight line in space comes to a body of soil over a convex piece of plan, between two
//! planes. Exact: the body's faces are plane, so the nearest point lies on a face, an edge or an end.
//! Metres.

use nalgebra::Vector3;

use crate::terrain::predicates::P2;
use crate::terrain::{Plane, convex};

type V3 = Vector3<f64>;

/// The nearest approach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Approach {
    /// 0 where the line runs into the body.
    pub distance: f64,
    /// Where the line runs into the body: how far the body's underside lies below it at most.
    pub below: f64,
    /// The place on the line, and the place on the body.
    pub on_line: [f64; 3],
    pub on_body: [f64; 3],
}

impl Approach {
    /// Smaller is worse: how far off, or less than nothing where the line is reached.
    pub fn clearance(&self) -> f64 {
        if self.distance > 0.0 {
            self.distance
        } else {
            -self.below
        }
    }
}

/// From the line `a b` to the body over `poly` (convex, counter-clockwise) from `low` up to `high`.
pub fn approach(a: [f64; 3], b: [f64; 3], poly: &[P2], low: &Plane, high: &Plane) -> Approach {
    if let Some(found) = into(a, b, poly, low, high) {
        return found;
    }
    let (a, b) = (V3::from(a), V3::from(b));
    let lift = |plane: &Plane, p: P2| V3::new(p[0], p[1], plane.at(p));
    let mut best = (f64::INFINITY, a, a);
    let mut take = |on_line: V3, on_body: V3| {
        let d = (on_line - on_body).norm();
        if d < best.0 {
            best = (d, on_line, on_body);
        }
    };
    let n = poly.len();
    let mut face = |corners: [V3; 3]| {
        for k in 0..3 {
            let (p, q) = between(a, b, corners[k], corners[(k + 1) % 3]);
            take(p, q);
        }
        for end in [a, b] {
            if let Some(foot) = foot(end, corners) {
                take(end, foot);
            }
        }
    };
    for k in 1..n.saturating_sub(1) {
        for plane in [low, high] {
            face([
                lift(plane, poly[0]),
                lift(plane, poly[k]),
                lift(plane, poly[k + 1]),
            ]);
        }
    }
    for k in 0..n {
        let (p, q) = (poly[k], poly[(k + 1) % n]);
        let (pl, ql, ph, qh) = (lift(low, p), lift(low, q), lift(high, p), lift(high, q));
        face([pl, ql, qh]);
        face([pl, qh, ph]);
    }
    Approach {
        distance: best.0,
        below: 0.0,
        on_line: best.1.into(),
        on_body: best.2.into(),
    }
}

/// Where the line runs through the body.
fn into(a: [f64; 3], b: [f64; 3], poly: &[P2], low: &Plane, high: &Plane) -> Option<Approach> {
    let at = |f: f64| -> [f64; 3] { std::array::from_fn(|k| a[k] + f * (b[k] - a[k])) };
    let flat = |p: [f64; 3]| [p[0], p[1]];
    let (mut from, mut to) = convex::stretch(poly, flat(a), flat(b));
    let mut keep = |s: f64, t: f64| convex::narrow(&mut from, &mut to, s, t);
    keep(a[2] - low.at(flat(a)), b[2] - low.at(flat(b)));
    keep(high.at(flat(a)) - a[2], high.at(flat(b)) - b[2]);
    if from > to {
        return None;
    }
    let below = |f: f64| {
        let p = at(f);
        p[2] - low.at(flat(p))
    };
    let f = if below(from) >= below(to) { from } else { to };
    let on_line = at(f);
    Some(Approach {
        distance: 0.0,
        below: below(f).max(0.0),
        on_line,
        on_body: [on_line[0], on_line[1], low.at(flat(on_line))],
    })
}

/// The nearest points of two straight lines between ends (Ericson 2005, ch. 5, from memory).
fn between(a: V3, b: V3, p: V3, q: V3) -> (V3, V3) {
    let (u, v, w) = (b - a, q - p, a - p);
    let (uu, vv, uv) = (u.dot(&u), v.dot(&v), u.dot(&v));
    let (uw, vw) = (u.dot(&w), v.dot(&w));
    let part = |num: f64, den: f64| {
        if den > 0.0 {
            (num / den).clamp(0.0, 1.0)
        } else {
            0.0
        }
    };
    let det = uu * vv - uv * uv;
    let mut s = if det > 1e-14 * uu * vv {
        part(uv * vw - vv * uw, det)
    } else {
        0.0
    };
    let t = if vv > 0.0 { (uv * s + vw) / vv } else { 0.0 };
    let t = if t < 0.0 {
        s = part(-uw, uu);
        0.0
    } else if t > 1.0 {
        s = part(uv - uw, uu);
        1.0
    } else {
        t
    };
    (a + u * s, p + v * t)
}

/// The foot of the plumb line from `p` on a triangle, if it falls inside.
fn foot(p: V3, [a, b, c]: [V3; 3]) -> Option<V3> {
    let n = (b - a).cross(&(c - a));
    let size = n.norm();
    if size < 1e-15 {
        return None;
    }
    let n = n / size;
    let foot = p - n * n.dot(&(p - a));
    let inside = [(a, b), (b, c), (c, a)]
        .iter()
        .all(|(u, v)| (v - u).cross(&(foot - u)).dot(&n) >= 0.0);
    inside.then_some(foot)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: [P2; 4] = [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]];

    #[track_caller]
    fn distance(a: [f64; 3], b: [f64; 3], wanted: f64) -> Approach {
        let found = approach(a, b, &SQUARE, &Plane::level(1.0), &Plane::level(3.0));
        assert!(
            (found.distance - wanted).abs() < 1e-12,
            "{found:?}, not {wanted}"
        );
        found
    }

    /// A box from (0, 0, 1) to (2, 2, 3).
    #[test]
    fn from_a_line_to_a_box() {
        distance([-5.0, 1.0, 0.5], [5.0, 1.0, 0.5], 0.5);
        distance([1.0, 1.0, 0.0], [1.0, 1.0, 0.25], 0.75);
        distance([-1.0, -5.0, 2.0], [-1.0, 5.0, 2.0], 1.0);
        // Past an edge of its underside: 3-4-5.
        distance([-0.3, -5.0, 0.6], [-0.3, 5.0, 0.6], 0.5);
        // Past a corner: an end at 1, 2, 2 off it.
        distance([-1.0, -2.0, -1.0], [-9.0, -9.0, -9.0], 3.0);
        let through = distance([-1.0, 1.0, 1.25], [3.0, 1.0, 1.75], 0.0);
        // At x = 2 it is 1.625 high.
        assert!((through.below - 0.625).abs() < 1e-12, "{through:?}");
        assert!((through.clearance() + 0.625).abs() < 1e-12);
        // Steep line through the top, upright line beside it.
        distance([1.0, 1.0, 9.0], [1.1, 1.0, 2.0], 0.0);
        distance([2.5, 1.0, 0.0], [2.5, 1.0, 9.0], 0.5);
    }
}
