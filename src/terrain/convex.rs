//! Convex polygons in plan: split by a line, and integrals of a linear height over them.
//!
//! Counter-clockwise. Points within [`ON`] of a line count as on it, so that no splinter thinner
//! than that is ever made.

use smallvec::SmallVec;

use super::predicates::{P2, cross};

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
///
/// The two parts share one border and never overlap: of several corners in a row that are "on"
/// between the two sides, only the one nearest to zero is shared. Where no corner is clearly on one
/// of the sides, that part is empty.
#[inline]
pub fn split(poly: &[P2], side: &[f64], tolerance: f64) -> (Polygon, Polygon) {
    let n = poly.len();
    let (mut below, mut above) = (Polygon::new(), Polygon::new());
    let clear = |i: usize| side[i].abs() > tolerance;
    let Some(first) = (0..n).find(|&i| clear(i)) else {
        return (Polygon::from_slice(poly), above);
    };
    if (0..n).all(|i| side[i] >= -tolerance) {
        return (below, Polygon::from_slice(poly));
    }
    if (0..n).all(|i| side[i] <= tolerance) {
        return (Polygon::from_slice(poly), above);
    }
    // From one corner that is clearly on a side to the next such corner, once around.
    let step = |i: usize| if i + 1 == n { 0 } else { i + 1 };
    let mut i = first;
    loop {
        let up = side[i] > 0.0;
        let (mine, other) = if up {
            (&mut above, &mut below)
        } else {
            (&mut below, &mut above)
        };
        mine.push(poly[i]);
        let mut j = step(i);
        let mut nearest = j;
        while !clear(j) {
            if side[j].abs() < side[nearest].abs() {
                nearest = j;
            }
            j = step(j);
        }
        let crosses = (side[j] > 0.0) != up;
        if crosses && step(i) == j {
            let (p, s, q, t) = (poly[i], side[i], poly[j], side[j]);
            // Always from the same end, so that the neighbour over this edge finds the same point.
            let x = if (p[0], p[1]) < (q[0], q[1]) {
                between(p, s, q, t)
            } else {
                between(q, t, p, s)
            };
            mine.push(x);
            other.push(x);
        } else {
            let mut k = step(i);
            let mut passed = false;
            while k != j {
                if !passed {
                    mine.push(poly[k]);
                }
                passed |= crosses && k == nearest;
                if passed {
                    other.push(poly[k]);
                }
                k = step(k);
            }
        }
        i = j;
        if i == first {
            break;
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

/// The stretch of the line from `a` (0) to `b` (1) inside a polygon; from > to where there is none.
#[inline]
pub fn stretch(poly: &[P2], a: P2, b: P2) -> (f64, f64) {
    let (mut from, mut to) = (0.0f64, 1.0f64);
    for k in 0..poly.len() {
        let (p, q) = (poly[k], poly[(k + 1) % poly.len()]);
        narrow(&mut from, &mut to, cross(p, q, a), cross(p, q, b));
    }
    (from, to)
}

/// Keeps of a stretch what lies where a measure that runs evenly from `s` (at 0) to `t` (at 1) is
/// not negative.
#[inline]
pub fn narrow(from: &mut f64, to: &mut f64, s: f64, t: f64) {
    if s < 0.0 && t < 0.0 {
        (*from, *to) = (1.0, 0.0);
    } else if s < 0.0 {
        *from = from.max(s / (s - t));
    } else if t < 0.0 {
        *to = to.min(s / (s - t));
    }
}

/// What two polygons share; empty where they only touch.
pub fn shared(a: &[P2], b: &[P2]) -> Polygon {
    let mut left = Polygon::from_slice(a);
    for k in 0..b.len() {
        let (p, q) = (b[k], b[(k + 1) % b.len()]);
        let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
        let length = (dx * dx + dy * dy).sqrt();
        if length <= 0.0 {
            continue;
        }
        let side: SmallVec<[f64; 8]> = left.iter().map(|&r| cross(p, q, r) / length).collect();
        if side.iter().all(|&s| s >= 0.0) {
            continue;
        }
        left = split(&left, &side, ON).1;
        if left.is_empty() {
            break;
        }
    }
    left
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
    upper_extent(poly, d, 0.0).1
}

/// ∫ of the positive part of a linear height, and of that times the place in plan: what lies under
/// it, and (divided by that) its centroid.
pub fn positive_moment(poly: &[P2], d: &[f64]) -> (f64, P2) {
    if d.iter().all(|&v| v >= 0.0) {
        return moment(poly, d);
    }
    upper(poly, d).map_or((0.0, [0.0; 2]), |(above, heights)| moment(&above, &heights))
}

/// The part of the polygon where a linear height is positive, with its heights; none where it is
/// positive nowhere.
pub fn upper(poly: &[P2], d: &[f64]) -> Option<(Polygon, SmallVec<[f64; 8]>)> {
    if d.iter().all(|&v| v <= 0.0) {
        return None;
    }
    let (_, above) = split(poly, d, 0.0);
    // A cut corner has height zero; every other corner of the upper part is one of the polygon's.
    let heights = above
        .iter()
        .map(|p| {
            poly.iter()
                .position(|q| q == p)
                .map_or(0.0, |i| d[i].max(0.0))
        })
        .collect();
    Some((above, heights))
}

/// Of the part of the polygon where a linear height, `d[i]` more `up` at corner `i`, is positive: its area,
/// and ∫ of the height over it.
pub fn upper_extent(poly: &[P2], d: &[f64], up: f64) -> (f64, f64) {
    let (mut area2, mut sum) = (0.0, 0.0);
    let mut fan: [Option<(P2, f64)>; 2] = [None; 2];
    let mut put = |p: P2, h: f64| match fan {
        [None, _] => fan[0] = Some((p, h)),
        [_, None] => fan[1] = Some((p, h)),
        [Some((o, at_o)), Some((q, at_q))] => {
            let twice = (q[0] - o[0]) * (p[1] - o[1]) - (q[1] - o[1]) * (p[0] - o[0]);
            area2 += twice;
            sum += twice * (at_o + at_q + h);
            fan[1] = Some((p, h));
        }
    };
    let Some(last) = poly.len().checked_sub(1) else {
        return (0.0, 0.0);
    };
    let (mut a, mut s) = (poly[last], d[last] + up);
    for (&b, t) in poly.iter().zip(d) {
        let t = t + up;
        if (s > 0.0) != (t > 0.0) {
            put(between(a, s, b, t), 0.0);
        }
        if t > 0.0 {
            put(b, t);
        }
        (a, s) = (b, t);
    }
    (0.5 * area2, sum / 6.0)
}

/// ∫ of a linear height, and of that times the place.
fn moment(poly: &[P2], d: &[f64]) -> (f64, P2) {
    let mut sum = 0.0;
    let mut of = [0.0; 2];
    for i in 1..poly.len().saturating_sub(1) {
        let (a, b, c) = (poly[0], poly[i], poly[i + 1]);
        let area2 = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        let all = d[0] + d[i] + d[i + 1];
        sum += area2 * all;
        for (k, of) in of.iter_mut().enumerate() {
            *of += area2 * (a[k] * (d[0] + all) + b[k] * (d[i] + all) + c[k] * (d[i + 1] + all));
        }
    }
    (sum / 6.0, [of[0] / 24.0, of[1] / 24.0])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same as of the part cut out by [`split`].
    #[test]
    fn what_is_above_has_the_extent_of_the_part_cut_out() {
        let poly = [[0.0, 0.0], [4.0, 0.5], [5.0, 3.0], [2.0, 5.0], [-1.0, 2.0]];
        let gap = |p: &P2| 0.7 * p[0] - 0.9 * p[1] + 0.3;
        let d: Vec<f64> = poly.iter().map(gap).collect();
        for up in [-4.0, -1.7, -0.3, 0.0, 0.4, 1.1, 2.0, 9.0] {
            let raised: Vec<f64> = d.iter().map(|d| d + up).collect();
            let (area, volume) = upper_extent(&poly, &d, up);
            let wanted = upper(&poly, &raised).map_or((0.0, 0.0), |(part, heights)| {
                (0.5 * area2(&part), integral(&part, &heights))
            });
            assert!((area - wanted.0).abs() < 1e-12, "{up}: {area}, {wanted:?}");
            assert!((volume - wanted.1).abs() < 1e-12, "{up}: {volume}");
        }
        assert_eq!(upper_extent(&[], &[], 1.0), (0.0, 0.0));
    }

    fn parts(poly: &[P2], side: &[f64], tolerance: f64) -> (f64, f64) {
        let (below, above) = split(poly, side, tolerance);
        (0.5 * area2(&below), 0.5 * area2(&above))
    }

    /// Corners "on" the line without lying on it: the parts must not both take what is between.
    #[test]
    fn parts_add_up_where_corners_are_nearly_on() {
        let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        for side in [
            [3e-9, 0.9e-9, -0.8e-9, -3e-9],
            [-3e-9, -0.2e-9, 0.9e-9, 3e-9],
            [2e-9, 0.5e-9, 0.5e-9, -2e-9],
            [0.0, 2.0, 0.0, -2.0],
            [1.0, -1.0, -1.0, 1.0],
        ] {
            let (below, above) = parts(&square, &side, 1e-9);
            assert!(
                (below + above - 1.0).abs() < 1e-15 && below >= 0.0 && above >= 0.0,
                "{side:?}: {below} and {above}"
            );
        }
    }

    /// A wedge over a rectangle, 0 at x = 1 and 3 at x = 4: its centroid lies two thirds along.
    #[test]
    fn the_centroid_of_a_wedge() {
        let field = [[-2.0, 0.0], [4.0, 0.0], [4.0, 2.0], [-2.0, 2.0]];
        let (volume, of) = positive_moment(&field, &[-3.0, 3.0, 3.0, -3.0]);
        assert!((volume - 9.0).abs() < 1e-12, "{volume}");
        let at = [of[0] / volume, of[1] / volume];
        assert!(
            (at[0] - 3.0).abs() < 1e-12 && (at[1] - 1.0).abs() < 1e-12,
            "{at:?}"
        );
    }

    /// A square and the same turned by 45° about its middle: an octagon.
    #[test]
    fn what_two_polygons_share() {
        let square = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]];
        let r = 2f64.sqrt();
        let turned = [[0.0, -r], [r, 0.0], [0.0, r], [-r, 0.0]];
        let area = 0.5 * area2(&shared(&square, &turned));
        // Octagon about a circle of radius 1: 8 tan 22.5°.
        let wanted = 8.0 * (std::f64::consts::PI / 8.0).tan();
        assert!((area - wanted).abs() < 1e-12, "{area}, by hand {wanted}");
        let beside = square.map(|p| [p[0] + 2.0, p[1]]);
        assert!(shared(&square, &beside).is_empty(), "they only touch");
        let (from, to) = stretch(&square, [-3.0, 0.0], [1.0, 0.5]);
        // It enters at x = −1, half way, and ends on the right side.
        assert!((from - 0.5).abs() < 1e-12 && (to - 1.0).abs() < 1e-12);
        let (from, to) = stretch(&square, [-3.0, 2.0], [3.0, 2.0]);
        assert!(from > to);
    }

    #[test]
    fn one_side_only() {
        let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        assert_eq!(parts(&square, &[0.0, 1.0, 1.0, 0.0], 1e-9), (0.0, 1.0));
        assert_eq!(parts(&square, &[0.0, 0.0, 0.0, -1.0], 1e-9), (1.0, 0.0));
        assert_eq!(parts(&square, &[0.0; 4], 1e-9), (1.0, 0.0));
    }
}
