//! Signs that decide topology, exact (Shewchuk's adaptive predicates, crate `robust`).

use robust::Coord;

pub type P2 = [f64; 2];

fn coord(p: P2) -> Coord<f64> {
    Coord { x: p[0], y: p[1] }
}

/// Positive if `c` lies left of the line from `a` to `b`, negative if right, zero if on it.
pub fn orient(a: P2, b: P2, c: P2) -> f64 {
    robust::orient2d(coord(a), coord(b), coord(c))
}

/// Positive if `d` lies inside the circle through the counter-clockwise `a`, `b`, `c`.
pub fn in_circle(a: P2, b: P2, c: P2, d: P2) -> f64 {
    robust::incircle(coord(a), coord(b), coord(c), coord(d))
}

/// Plain (not exact) cross product of `b − a` and `c − a`.
#[inline]
pub fn cross(a: P2, b: P2, c: P2) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// Twice the signed area of a closed ring, about its first point so that offsets do not hurt.
pub fn ring_area2(ring: &[P2]) -> f64 {
    let Some(&o) = ring.first() else { return 0.0 };
    ring.windows(2).map(|w| cross(o, w[0], w[1])).sum()
}

/// Whether `p` lies inside the ring (even-odd; points on the edge may fall either way).
pub fn in_ring(ring: &[P2], p: P2) -> bool {
    let mut inside = false;
    let mut j = ring.len().wrapping_sub(1);
    for i in 0..ring.len() {
        let (a, b) = (ring[i], ring[j]);
        if (a[1] > p[1]) != (b[1] > p[1]) {
            // The exact side test keeps the answer the same for two rings that share the edge.
            let (lo, hi) = if a[1] < b[1] { (a, b) } else { (b, a) };
            if orient(lo, hi, p) > 0.0 {
                inside = !inside;
            }
        }
        j = i;
    }
    inside
}

/// Where the segments `a b` and `c d` cross in their interiors: parameters along each.
/// `None` if they do not cross properly (touching ends do not count).
pub fn proper_crossing(a: P2, b: P2, c: P2, d: P2) -> Option<(f64, f64)> {
    let (o1, o2) = (orient(a, b, c), orient(a, b, d));
    let (o3, o4) = (orient(c, d, a), orient(c, d, b));
    if o1 * o2 < 0.0 && o3 * o4 < 0.0 {
        Some((o3 / (o3 - o4), o1 / (o1 - o2)))
    } else {
        None
    }
}

/// Distance from a point to the straight line between two ends.
pub fn from_line(p: P2, a: P2, b: P2) -> f64 {
    let d = [b[0] - a[0], b[1] - a[1]];
    let l2 = d[0] * d[0] + d[1] * d[1];
    let f = if l2 > 0.0 {
        (((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / l2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let off = [p[0] - a[0] - f * d[0], p[1] - a[1] - f * d[1]];
    (off[0] * off[0] + off[1] * off[1]).sqrt()
}

/// First pair of edges of a closed ring that cross or overlap, if any: the ring is then not simple.
pub fn self_crossing(ring: &[P2]) -> Option<(usize, usize)> {
    let n = ring.len();
    for i in 0..n {
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        let (lo, hi) = (
            [a[0].min(b[0]), a[1].min(b[1])],
            [a[0].max(b[0]), a[1].max(b[1])],
        );
        for j in i + 1..n {
            let (c, d) = (ring[j], ring[(j + 1) % n]);
            if c[0].min(d[0]) > hi[0]
                || c[0].max(d[0]) < lo[0]
                || c[1].min(d[1]) > hi[1]
                || c[1].max(d[1]) < lo[1]
            {
                continue;
            }
            if j == i + 1 || (i == 0 && j == n - 1) {
                // Neighbours share a point; they must not fold back on each other.
                let (p, q, r) = if j == i + 1 { (a, b, d) } else { (c, a, b) };
                if orient(p, q, r) == 0.0
                    && (r[0] - q[0]) * (p[0] - q[0]) + (r[1] - q[1]) * (p[1] - q[1]) > 0.0
                {
                    return Some((i, j));
                }
                continue;
            }
            let (o1, o2) = (orient(a, b, c), orient(a, b, d));
            let (o3, o4) = (orient(c, d, a), orient(c, d, b));
            if (o1 > 0.0) != (o2 > 0.0) && (o3 > 0.0) != (o4 > 0.0) {
                return Some((i, j));
            }
            let touches = |o: f64, p: P2, s: P2, t: P2| {
                o == 0.0
                    && p[0] >= s[0].min(t[0])
                    && p[0] <= s[0].max(t[0])
                    && p[1] >= s[1].min(t[1])
                    && p[1] <= s[1].max(t[1])
            };
            if touches(o1, c, a, b)
                || touches(o2, d, a, b)
                || touches(o3, a, c, d)
                || touches(o4, b, c, d)
            {
                return Some((i, j));
            }
        }
    }
    None
}
