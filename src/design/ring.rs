//! Closed outlines in plan: smoothed through their points, moved in or out. Metres.

use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::single::SingleFloatOverlay;
use i_overlay::mesh::float::outline::offset::OutlineOffset;
use i_overlay::mesh::float::style::{LineJoin, OutlineStyle};

use crate::terrain::predicates::{P2, cross, ring_area2, self_crossing};

/// A closed curve through the points (centripetal Catmull-Rom, after Barry and Goldman 1988), cut
/// into straight bits that turn by no more than about 12° each. Counter-clockwise in, same out.
pub fn smooth(points: &[P2]) -> Vec<P2> {
    let n = points.len();
    if n < 3 {
        return points.to_vec();
    }
    let mut ring = Vec::with_capacity(n * 6);
    for i in 0..n {
        let p: [P2; 4] = std::array::from_fn(|k| points[(i + n + k - 1) % n]);
        let knot = |a: P2, b: P2| (b[0] - a[0]).hypot(b[1] - a[1]).sqrt().max(1e-6);
        let t1 = knot(p[0], p[1]);
        let t2 = t1 + knot(p[1], p[2]);
        let t3 = t2 + knot(p[2], p[3]);
        let at = |t: f64| -> P2 {
            let mix = |a: P2, b: P2, ta: f64, tb: f64| -> P2 {
                let k = (t - ta) / (tb - ta);
                [a[0] + k * (b[0] - a[0]), a[1] + k * (b[1] - a[1])]
            };
            let (a1, a2, a3) = (
                mix(p[0], p[1], 0.0, t1),
                mix(p[1], p[2], t1, t2),
                mix(p[2], p[3], t2, t3),
            );
            let (b1, b2) = (mix(a1, a2, 0.0, t2), mix(a2, a3, t1, t3));
            mix(b1, b2, t1, t2)
        };
        let steps = 12;
        let fine: Vec<P2> = (0..=steps)
            .map(|k| at(t1 + (t2 - t1) * k as f64 / steps as f64))
            .collect();
        let turn: f64 = fine
            .windows(3)
            .map(|w| {
                let (u, v) = (
                    [w[1][0] - w[0][0], w[1][1] - w[0][1]],
                    [w[2][0] - w[1][0], w[2][1] - w[1][1]],
                );
                (u[0] * v[1] - u[1] * v[0])
                    .atan2(u[0] * v[0] + u[1] * v[1])
                    .abs()
            })
            .sum();
        let bits = ((turn / 0.21).ceil() as usize).clamp(1, 10);
        ring.extend((0..bits).map(|k| at(t1 + (t2 - t1) * k as f64 / bits as f64)));
    }
    ring
}

/// A place that lies inside both rings, if they overlap by more than a few square centimetres.
pub fn overlap(a: &[P2], b: &[P2]) -> Option<P2> {
    let shared = a
        .to_vec()
        .overlay(&b.to_vec(), OverlayRule::Intersect, FillRule::NonZero);
    shared
        .into_iter()
        .filter_map(|shape| shape.into_iter().next())
        .max_by(|s, t| ring_area2(s).abs().total_cmp(&ring_area2(t).abs()))
        .filter(|ring| ring_area2(ring).abs() > 1e-3)
        .and_then(|ring| inner_point(&ring))
}

/// Moves each edge of a counter-clockwise ring inward by its own distance (negative: outward) and
/// joins them at their crossings. Exact, but only while no edge vanishes: `None` beyond that.
pub fn inset_edges(ring: &[P2], distance: impl Fn(usize) -> f64) -> Option<Vec<P2>> {
    let n = ring.len();
    let mut moved = Vec::with_capacity(n);
    for i in 0..n {
        let (a, b, c) = (ring[(i + n - 1) % n], ring[i], ring[(i + 1) % n]);
        let (d0, d1) = (distance((i + n - 1) % n), distance(i));
        let unit = |p: P2, q: P2| {
            let l = (q[0] - p[0]).hypot(q[1] - p[1]);
            [(q[0] - p[0]) / l, (q[1] - p[1]) / l]
        };
        let (u, v) = (unit(a, b), unit(b, c));
        let (nu, nv) = ([-u[1], u[0]], [-v[1], v[0]]);
        let det = u[0] * v[1] - u[1] * v[0];
        let p = if det.abs() < 1e-9 {
            if (d0 - d1).abs() > 1e-9 {
                return None;
            }
            [b[0] + nu[0] * d0, b[1] + nu[1] * d0]
        } else {
            // Where n·(p − b) equals the distance for both edges.
            [
                b[0] + (d0 * nv[1] - d1 * nu[1]) / det,
                b[1] + (d1 * nu[0] - d0 * nv[0]) / det,
            ]
        };
        moved.push(p);
    }
    let same_way = (0..n).all(|i| {
        let j = (i + 1) % n;
        (moved[j][0] - moved[i][0]) * (ring[j][0] - ring[i][0])
            + (moved[j][1] - moved[i][1]) * (ring[j][1] - ring[i][1])
            > 0.0
    });
    (same_way && ring_area2(&moved) > 0.0 && self_crossing(&moved).is_none()).then_some(moved)
}

/// Moves a whole counter-clockwise ring inward by `distance` (negative: outward). May fall apart
/// into several rings, or into none where nothing is left.
pub fn inset(ring: &[P2], distance: f64) -> Vec<Vec<P2>> {
    if distance.abs() < 1e-9 {
        return vec![ring.to_vec()];
    }
    if let Some(moved) = inset_edges(ring, |_| distance) {
        return vec![moved];
    }
    // Edges vanish: the general offset (crate `i_overlay`, on a fine integer grid) sorts it out.
    let style = OutlineStyle::new(-distance).line_join(LineJoin::Miter(0.5));
    vec![ring.to_vec()]
        .outline(&style)
        .into_iter()
        .filter_map(|shape| shape.into_iter().next())
        .map(|mut ring| {
            if ring_area2(&ring) < 0.0 {
                ring.reverse();
            }
            tidy(ring)
        })
        .filter(|ring| ring.len() >= 3 && ring_area2(ring) > 1e-4)
        .collect()
}

/// Leaves out corners that do not turn, and edges shorter than a millimetre.
fn tidy(ring: Vec<P2>) -> Vec<P2> {
    let mut out: Vec<P2> = Vec::with_capacity(ring.len());
    for p in ring {
        if out
            .last()
            .is_none_or(|q| (q[0] - p[0]).hypot(q[1] - p[1]) > 1e-3)
        {
            out.push(p);
        }
    }
    while out.len() > 3
        && (out[0][0] - out[out.len() - 1][0]).hypot(out[0][1] - out[out.len() - 1][1]) <= 1e-3
    {
        out.pop();
    }
    let n = out.len();
    (0..n)
        .filter(|&i| {
            let (a, b, c) = (out[(i + n - 1) % n], out[i], out[(i + 1) % n]);
            cross(a, b, c).abs() > 1e-9
        })
        .map(|i| out[i])
        .collect()
}

/// A point well inside the ring, to start a search for its water from: the middle of the largest
/// triangle that it falls into.
pub fn inner_point(ring: &[P2]) -> Option<P2> {
    let triangles = crate::terrain::triangulate_ring(ring).ok()?;
    triangles
        .into_iter()
        .map(|t| t.map(|i| ring[i as usize]))
        .max_by(|s, t| area(s).total_cmp(&area(t)))
        .map(|[a, b, c]| [(a[0] + b[0] + c[0]) / 3.0, (a[1] + b[1] + c[1]) / 3.0])
}

fn area([a, b, c]: &[P2; 3]) -> f64 {
    cross(*a, *b, *c).abs()
}
