//! Facets: convex, plane bits of a designed surface, and the ways to lay them out.
//!
//! A dug shape is the lowest of its facets, a placed one the highest. So side slopes may overlap
//! freely at inward corners, and they simply run on until the ground takes over: the daylight line
//! comes from the ground, never from a guess. Metres; batters as run over rise.

use crate::terrain::convex::Polygon;
use crate::terrain::predicates::{P2, cross, ring_area2};
use crate::terrain::{Maker, Plane, triangulate_ring};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Act {
    /// Lower the ground to the facet.
    Dig,
    /// Raise the ground to the facet.
    Place,
}

#[derive(Debug, Clone)]
pub struct Facet {
    /// Convex, counter-clockwise.
    pub outline: Polygon,
    pub plane: Plane,
    pub maker: Maker,
    /// For a side slope, the edge of the core it starts from.
    pub base: Option<[P2; 2]>,
}

impl Facet {
    /// Whether a piece on this facet belongs to the work for sure: it is core, or touches the core.
    pub fn roots(&self, poly: &[P2]) -> bool {
        let Some([a, b]) = self.base else { return true };
        let length = ((b[0] - a[0]).powi(2) + (b[1] - a[1]).powi(2)).sqrt();
        if length < 1e-9 {
            return poly.iter().any(|p| (p[0] - a[0]).hypot(p[1] - a[1]) < 1e-6);
        }
        poly.iter().any(|&p| cross(a, b, p).abs() / length < 1e-6)
    }
}

/// Level core inside a simple ring (any direction of walking).
pub fn flat(ring: &[P2], z: f64, maker: Maker) -> Vec<Facet> {
    on_plane(ring, Plane::level(z), maker)
}

/// Core on a plane inside a simple ring.
pub fn on_plane(ring: &[P2], plane: Plane, maker: Maker) -> Vec<Facet> {
    if is_convex(ring) {
        return vec![Facet {
            outline: Polygon::from_slice(ring),
            plane,
            maker,
            base: None,
        }];
    }
    let Ok(triangles) = triangulate_ring(ring) else {
        return Vec::new();
    };
    merge_convex(ring, &triangles)
        .into_iter()
        .map(|outline| Facet {
            outline,
            plane,
            maker,
            base: None,
        })
        .collect()
}

fn is_convex(ring: &[P2]) -> bool {
    let n = ring.len();
    (0..n).all(|i| cross(ring[i], ring[(i + 1) % n], ring[(i + 2) % n]) > 0.0)
        && turning(ring) < std::f64::consts::TAU * 1.5
}

fn turning(ring: &[P2]) -> f64 {
    let n = ring.len();
    (0..n)
        .map(|i| {
            let (a, b, c) = (ring[i], ring[(i + 1) % n], ring[(i + 2) % n]);
            let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
            (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1])
        })
        .sum()
}

/// Joins neighbouring triangles while the result stays convex (Hertel and Mehlhorn 1983): fewer,
/// larger facets make fewer pieces.
fn merge_convex(ring: &[P2], triangles: &[[u32; 3]]) -> Vec<Polygon> {
    let mut parts: Vec<Vec<u32>> = triangles.iter().map(|t| t.to_vec()).collect();
    let at = |i: u32| ring[i as usize];
    let mut k = 0;
    while k < parts.len() {
        let mut grown = false;
        'edges: for i in 0..parts[k].len() {
            let n = parts[k].len();
            let (a, b) = (parts[k][i], parts[k][(i + 1) % n]);
            for m in k + 1..parts.len() {
                let other = &parts[m];
                let Some(j) =
                    (0..other.len()).find(|&j| other[j] == b && other[(j + 1) % other.len()] == a)
                else {
                    continue;
                };
                // a … (rest of k) joined with b's side of m.
                let mut joined: Vec<u32> = (0..n).map(|s| parts[k][(i + 1 + s) % n]).collect();
                joined.extend((2..other.len()).map(|s| other[(j + s) % other.len()]));
                let len = joined.len();
                if (0..len).all(|s| {
                    cross(
                        at(joined[s]),
                        at(joined[(s + 1) % len]),
                        at(joined[(s + 2) % len]),
                    ) > 1e-12
                }) {
                    parts[k] = joined;
                    parts.swap_remove(m);
                    grown = true;
                    break 'edges;
                }
            }
        }
        if !grown {
            k += 1;
        }
    }
    parts
        .into_iter()
        .map(|p| p.into_iter().map(at).collect())
        .collect()
}

/// A core given by a ring of points with elevations, triangulated.
pub fn core(ring: &[[f64; 3]], maker: Maker) -> Vec<Facet> {
    let plan: Vec<P2> = ring.iter().map(|p| [p[0], p[1]]).collect();
    let Ok(triangles) = triangulate_ring(&plan) else {
        return Vec::new();
    };
    triangles
        .into_iter()
        .map(|t| {
            let [a, b, c] = t.map(|i| ring[i as usize]);
            Facet {
                outline: Polygon::from_slice(&[[a[0], a[1]], [b[0], b[1]], [c[0], c[1]]]),
                plane: Plane::through(a, b, c),
                maker,
                base: None,
            }
        })
        .collect()
}

/// Which way a side slope runs from its edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Slope {
    /// Outward and up, for digging.
    Up,
    /// Outward and down, for placing.
    Down,
}

/// Side slopes outward from a closed ring (counter-clockwise, with elevations), each edge at its
/// own batter, out to elevation `limit`. A batter of zero has no facet: the face is vertical.
pub fn sides(
    ring: &[[f64; 3]],
    batter: impl Fn(usize) -> f64,
    slope: Slope,
    limit: f64,
    maker: Maker,
) -> Vec<Facet> {
    sides_rounded(ring, batter, |_| false, slope, limit, maker)
}

/// The same, with outward corners rounded off as sharp ones are: those that `round` names.
pub fn sides_rounded(
    ring: &[[f64; 3]],
    batter: impl Fn(usize) -> f64,
    round: impl Fn(usize) -> bool,
    slope: Slope,
    limit: f64,
    maker: Maker,
) -> Vec<Facet> {
    let n = ring.len();
    let sign = if slope == Slope::Up { 1.0 } else { -1.0 };
    struct Edge {
        /// The corner it starts from is rounded off whatever the turn.
        round: bool,
        a: [f64; 3],
        b: [f64; 3],
        normal: P2,
        tangent: P2,
        gradient: P2,
        batter: f64,
        reach: f64,
    }
    let edges: Vec<Option<Edge>> = (0..n)
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % n]);
            let length = (b[0] - a[0]).hypot(b[1] - a[1]);
            if length < 1e-9 {
                return None;
            }
            let tangent = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
            let normal = [tangent[1], -tangent[0]];
            let batter = batter(i);
            let along = (b[2] - a[2]) / length;
            let rise = if batter > 0.0 { sign / batter } else { 0.0 };
            let gradient = [
                along * tangent[0] + rise * normal[0],
                along * tangent[1] + rise * normal[1],
            ];
            let height = (sign * (limit - a[2])).max(sign * (limit - b[2]));
            Some(Edge {
                round: round(i),
                a,
                b,
                normal,
                tangent,
                gradient,
                batter,
                reach: (batter * height).max(0.0),
            })
        })
        .collect();
    let edges: Vec<Edge> = edges.into_iter().flatten().collect();
    let n = edges.len();
    let mut facets = Vec::new();
    // The direction from a corner along which two slopes meet, scaled to one metre out from `e`.
    let ridge = |e: &Edge, other: &Edge, turn: f64, rounded: bool| -> P2 {
        if turn <= 1e-9 || other.batter <= 0.0 || e.batter <= 0.0 || rounded {
            return e.normal;
        }
        let d = [
            e.gradient[0] - other.gradient[0],
            e.gradient[1] - other.gradient[1],
        ];
        let mut r = [-d[1], d[0]];
        // Away from the corner both slopes get nearer to the limit, however steep the edges climb.
        let gained = sign * (e.gradient[0] * r[0] + e.gradient[1] * r[1]);
        if gained < 0.0 {
            r = [-r[0], -r[1]];
        }
        let away = r[0] * e.normal[0] + r[1] * e.normal[1];
        // Slopes that meet almost along the edge itself would run off sideways for ever.
        if away <= 0.05 * r[0].hypot(r[1]) {
            e.normal
        } else {
            [r[0] / away, r[1] / away]
        }
    };
    for i in 0..n {
        let (e, before, after) = (&edges[i], &edges[(i + n - 1) % n], &edges[(i + 1) % n]);
        if e.batter <= 0.0 || e.reach <= 0.0 {
            continue;
        }
        let turn = |u: &Edge, v: &Edge| {
            (u.tangent[0] * v.tangent[1] - u.tangent[1] * v.tangent[0])
                .atan2(u.tangent[0] * v.tangent[0] + u.tangent[1] * v.tangent[1])
        };
        let (t0, t1) = (turn(before, e), turn(e, after));
        let (round0, round1) = (t0 > SHARP || e.round, t1 > SHARP || after.round);
        let (r0, r1) = (ridge(e, before, t0, round0), ridge(e, after, t1, round1));
        let (a, b) = ([e.a[0], e.a[1]], [e.b[0], e.b[1]]);
        // Where an edge climbs, a ridge may lean so far along it that the slope gets to `limit` only further
        // out.
        let out_to = |corner: &[f64; 3], r: P2| {
            let gained = sign * (e.gradient[0] * r[0] + e.gradient[1] * r[1]);
            sign * (limit - corner[2]) / gained.max(LEANING / e.batter)
        };
        let d = e.reach.max(out_to(&e.a, r0)).max(out_to(&e.b, r1));
        let outline = Polygon::from_slice(&[
            a,
            [a[0] + r0[0] * d, a[1] + r0[1] * d],
            [b[0] + r1[0] * d, b[1] + r1[1] * d],
            b,
        ]);
        let plane = Plane {
            through: e.a,
            gradient: e.gradient,
        };
        facets.push(Facet {
            outline,
            plane,
            maker,
            base: Some([a, b]),
        });
        // A sharp outward corner is rounded: a fan of slopes about the corner.
        if t1 > 1e-9 && round1 && after.batter > 0.0 {
            let steps = (t1 / 0.25).ceil() as usize;
            let from = e.normal[1].atan2(e.normal[0]);
            let ray = |k: usize| {
                let f = k as f64 / steps as f64;
                let angle = from + t1 * f;
                (
                    [angle.cos(), angle.sin()],
                    sign / (e.batter + (after.batter - e.batter) * f),
                )
            };
            let r = d.max(after.reach) * 1.05;
            for s in 0..steps {
                let ((u, zu), (v, zv)) = (ray(s), ray(s + 1));
                let det = u[0] * v[1] - u[1] * v[0];
                let gradient = [(zu * v[1] - zv * u[1]) / det, (u[0] * zv - v[0] * zu) / det];
                let outline = Polygon::from_slice(&[
                    b,
                    [b[0] + r * u[0], b[1] + r * u[1]],
                    [b[0] + r * v[0], b[1] + r * v[1]],
                ]);
                facets.push(Facet {
                    outline,
                    plane: Plane {
                        through: e.b,
                        gradient,
                    },
                    maker,
                    base: Some([b, b]),
                });
            }
        }
    }
    facets
}

/// Of its batter so much a slope must gain along a ridge to be followed to its end.
const LEANING: f64 = 0.2;

/// Turns sharper than this (radians) are rounded rather than run to a point.
const SHARP: f64 = 1.75;

/// A ring around a line: its left and right edges at half of `width`, mitred at the bends.
/// Returns the right edge (walked forward) and the left edge (walked forward).
pub fn edges_of(line: &[P2], right: f64, left: f64) -> (Vec<P2>, Vec<P2>) {
    let n = line.len();
    let dir = |i: usize| {
        let (a, b) = (line[i], line[i + 1]);
        let l = (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-12);
        [(b[0] - a[0]) / l, (b[1] - a[1]) / l]
    };
    let mut rights = Vec::with_capacity(n);
    let mut lefts = Vec::with_capacity(n);
    for (i, at) in line.iter().enumerate() {
        let (u, v) = (dir(i.max(1) - 1), dir(i.min(n - 2)));
        // Normal to the right; at a bend along the bisector, longer by 1 / cos(half the turn).
        let (nu, nv) = ([u[1], -u[0]], [v[1], -v[0]]);
        let m = [nu[0] + nv[0], nu[1] + nv[1]];
        let k = (m[0] * nu[0] + m[1] * nu[1]).max(0.3);
        let m = [m[0] / k, m[1] / k];
        rights.push([at[0] + m[0] * right, at[1] + m[1] * right]);
        lefts.push([at[0] - m[0] * left, at[1] - m[1] * left]);
    }
    (rights, lefts)
}

/// A strip along a line as a closed counter-clockwise ring with elevations: right edge forward, left
/// edge back; elevation `z(i)` across the whole width at point `i` of the line.
pub fn strip(line: &[P2], right: f64, left: f64, z: impl Fn(usize) -> f64) -> Vec<[f64; 3]> {
    let (r, l) = edges_of(line, right, left);
    let mut ring: Vec<[f64; 3]> = r
        .iter()
        .enumerate()
        .map(|(i, p)| [p[0], p[1], z(i)])
        .collect();
    ring.extend(l.iter().enumerate().rev().map(|(i, p)| [p[0], p[1], z(i)]));
    ring
}

/// Facets over a strip made by [`strip`]: two triangles for each stretch of the line, so that the
/// crest keeps its elevation across.
pub fn strip_core(ring: &[[f64; 3]], maker: Maker) -> Vec<Facet> {
    let n = ring.len() / 2;
    let mut facets = Vec::new();
    for i in 0..n.saturating_sub(1) {
        let (r0, r1, l1, l0) = (
            ring[i],
            ring[i + 1],
            ring[2 * n - 2 - i],
            ring[2 * n - 1 - i],
        );
        let flat = |p: [f64; 3]| [p[0], p[1]];
        let plane = Plane::through(r0, r1, l0);
        if (plane.at(flat(l1)) - l1[2]).abs() < 1e-9 {
            let outline = Polygon::from_slice(&[flat(r0), flat(r1), flat(l1), flat(l0)]);
            facets.push(Facet {
                outline,
                plane,
                maker,
                base: None,
            });
        } else {
            for [a, b, c] in [[r0, r1, l0], [r1, l1, l0]] {
                let outline = Polygon::from_slice(&[flat(a), flat(b), flat(c)]);
                facets.push(Facet {
                    outline,
                    plane: Plane::through(a, b, c),
                    maker,
                    base: None,
                });
            }
        }
    }
    facets.retain(|f| crate::terrain::convex::area2(&f.outline) > 1e-12);
    facets
}

/// The ring, walked counter-clockwise.
pub fn counter_clockwise(mut ring: Vec<P2>) -> Vec<P2> {
    if ring_area2(&ring) < 0.0 {
        ring.reverse();
    }
    ring
}

pub fn lift(ring: &[P2], z: f64) -> Vec<[f64; 3]> {
    ring.iter().map(|p| [p[0], p[1], z]).collect()
}
