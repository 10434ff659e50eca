//! Constrained Delaunay triangulation in plan: `delaunator` for the points, then constraint edges
//! recovered by edge flips (Sloan 1993, "A fast algorithm for generating constrained Delaunay
//! triangulations"), and rings without elevations of their own draped by splitting edges.
//!
//! Signs come from exact predicates. Points must be distinct; constraints must not cross each
//! other in their interiors (split them at the crossing first).

use rustc_hash::FxHashSet;

use super::predicates::{P2, in_circle, orient};

/// No half-edge on the other side: the edge lies on the hull.
pub const NONE: u32 = u32::MAX;

#[derive(Debug, Clone, PartialEq)]
pub enum Trouble {
    /// Fewer than three points, or all of them on one line.
    NoTriangle,
    /// A constraint (by its end points) ran into another one.
    Blocked(u32, u32),
}

/// Half-edge triangulation: half-edge `3 t + k` runs from corner `k` of triangle `t` to the next.
pub struct Triangulation {
    pub points: Vec<P2>,
    /// Elevation over each point; points added later lie on the surface that was there.
    pub heights: Vec<f64>,
    /// Start point of each half-edge.
    pub start: Vec<u32>,
    /// The half-edge on the other side.
    pub twin: Vec<u32>,
    /// Whether the edge is a constraint.
    pub fixed: Vec<bool>,
    /// Some half-edge leaving each point; [`NONE`] for a point in no triangle.
    out: Vec<u32>,
}

#[inline]
fn next(e: u32) -> u32 {
    if e % 3 == 2 { e - 2 } else { e + 1 }
}

#[inline]
fn prev(e: u32) -> u32 {
    if e.is_multiple_of(3) { e + 2 } else { e - 1 }
}

impl Triangulation {
    /// In plan only, every elevation zero.
    pub fn new(points: Vec<P2>) -> Result<Self, Trouble> {
        let heights = vec![0.0; points.len()];
        Self::with_heights(points, heights)
    }

    pub fn with_heights(points: Vec<P2>, heights: Vec<f64>) -> Result<Self, Trouble> {
        // delaunator turns clockwise for y up; mirrored in y it turns counter-clockwise.
        let mirrored: Vec<_> = points
            .iter()
            .map(|p| delaunator::Point { x: p[0], y: -p[1] })
            .collect();
        let made = delaunator::triangulate(&mirrored);
        if made.triangles.is_empty() {
            return Err(Trouble::NoTriangle);
        }
        let start: Vec<u32> = made.triangles.iter().map(|&i| i as u32).collect();
        let twin: Vec<u32> = made
            .halfedges
            .iter()
            .map(|&h| {
                if h == delaunator::EMPTY {
                    NONE
                } else {
                    h as u32
                }
            })
            .collect();
        let mut out = vec![NONE; points.len()];
        for (e, &p) in start.iter().enumerate() {
            out[p as usize] = e as u32;
        }
        Ok(Triangulation {
            fixed: vec![false; start.len()],
            points,
            heights,
            start,
            twin,
            out,
        })
    }

    pub fn triangles(&self) -> usize {
        self.start.len() / 3
    }

    fn at(&self, p: u32) -> P2 {
        self.points[p as usize]
    }

    #[inline]
    fn end(&self, e: u32) -> u32 {
        self.start[next(e) as usize]
    }

    /// Calls `f` for each half-edge leaving `p` until it returns `Some`.
    fn around<T>(&self, p: u32, mut f: impl FnMut(&Self, u32) -> Option<T>) -> Option<T> {
        let first = self.out[p as usize];
        if first == NONE {
            return None;
        }
        let mut e = first;
        loop {
            if let Some(found) = f(self, e) {
                return Some(found);
            }
            let t = self.twin[prev(e) as usize];
            if t == first {
                return None;
            }
            if t == NONE {
                break;
            }
            e = t;
        }
        // The point is on the hull: turn the other way from the first.
        let mut e = first;
        loop {
            let t = self.twin[e as usize];
            if t == NONE {
                return None;
            }
            e = next(t);
            if let Some(found) = f(self, e) {
                return Some(found);
            }
        }
    }

    /// The half-edge from `a` to `b`, or from `b` to `a` where only that one exists.
    fn edge(&self, a: u32, b: u32) -> Option<u32> {
        self.around(a, |s, e| {
            if s.end(e) == b {
                Some(e)
            } else if s.start[prev(e) as usize] == b {
                Some(prev(e))
            } else {
                None
            }
        })
    }

    fn fix(&mut self, e: u32) {
        self.fixed[e as usize] = true;
        let t = self.twin[e as usize];
        if t != NONE {
            self.fixed[t as usize] = true;
        }
    }

    fn link(&mut self, e: u32, t: u32) {
        self.twin[e as usize] = t;
        if t != NONE {
            self.twin[t as usize] = e;
        }
    }

    /// Turns the edge `e` of a convex pair of triangles to the other diagonal; returns the half-edge
    /// that now carries the diagonal.
    fn flip(&mut self, e0: u32) -> u32 {
        let b0 = self.twin[e0 as usize];
        let (e1, e2, b1, b2) = (next(e0), prev(e0), next(b0), prev(b0));
        let (p, q, r, s) = (
            self.start[e0 as usize],
            self.start[e1 as usize],
            self.start[e2 as usize],
            self.start[b2 as usize],
        );
        let (tb1, te1) = (self.twin[b1 as usize], self.twin[e1 as usize]);
        let (fb1, fe1) = (self.fixed[b1 as usize], self.fixed[e1 as usize]);
        self.start[e1 as usize] = s;
        self.start[b1 as usize] = r;
        self.link(e0, tb1);
        self.link(b0, te1);
        self.link(e1, b1);
        self.fixed[e0 as usize] = fb1;
        self.fixed[b0 as usize] = fe1;
        self.fixed[e1 as usize] = false;
        self.fixed[b1 as usize] = false;
        self.out[p as usize] = e0;
        self.out[q as usize] = b0;
        self.out[s as usize] = e1;
        self.out[r as usize] = e2;
        e1
    }

    /// Recovers the edge from `a` to `b`. Points that lie on it split it.
    pub fn constrain(&mut self, a: u32, b: u32) -> Result<(), Trouble> {
        let mut from = a;
        while from != b {
            from = self.constrain_once(from, b)?;
        }
        Ok(())
    }

    /// Recovers the edge from `a` up to the first point on the segment to `b`; returns that point.
    fn constrain_once(&mut self, a: u32, b: u32) -> Result<u32, Trouble> {
        if a == b || self.out[a as usize] == NONE || self.out[b as usize] == NONE {
            return Ok(b);
        }
        let (mut crossed, reached) = match self.crossings(a, b)? {
            Crossings::Edge(e, reached) => {
                self.fix(e);
                return Ok(reached);
            }
            Crossings::Through(list, reached) => (list, reached),
        };
        // Flip until nothing crosses; each turn that cannot be made yet waits at the end.
        let (pa, pb) = (self.at(a), self.at(reached));
        let mut fresh: Vec<(u32, u32)> = Vec::new();
        let mut waits = 0usize;
        while let Some((u, v)) = crossed.pop_front() {
            let Some(e) = self.edge(u, v) else {
                return Err(Trouble::Blocked(a, b));
            };
            if self.fixed[e as usize] || self.twin[e as usize] == NONE {
                return Err(Trouble::Blocked(a, b));
            }
            let (p, q) = (self.start[e as usize], self.end(e));
            let r = self.start[prev(e) as usize];
            let s = self.start[prev(self.twin[e as usize]) as usize];
            let (pp, pq, pr, ps) = (self.at(p), self.at(q), self.at(r), self.at(s));
            if orient(pr, ps, pp) * orient(pr, ps, pq) >= 0.0 {
                crossed.push_back((u, v));
                waits += 1;
                if waits > crossed.len() * 4 + 64 {
                    return Err(Trouble::Blocked(a, b));
                }
                continue;
            }
            waits = 0;
            self.flip(e);
            let ends = [r, s];
            if ends.contains(&a)
                || ends.contains(&reached)
                || orient(pa, pb, pr) * orient(pa, pb, ps) >= 0.0
            {
                fresh.push((r, s));
            } else {
                crossed.push_back((r, s));
            }
        }
        let Some(e) = self.edge(a, reached) else {
            return Err(Trouble::Blocked(a, b));
        };
        self.fix(e);
        // Make the new edges Delaunay again.
        let mut budget = fresh.len() * 16 + 64;
        while let Some((u, v)) = fresh.pop() {
            let Some(e) = self.edge(u, v) else { continue };
            let t = self.twin[e as usize];
            if self.fixed[e as usize] || t == NONE || budget == 0 {
                continue;
            }
            budget -= 1;
            let (p, q) = (self.start[e as usize], self.end(e));
            let (r, s) = (self.start[prev(e) as usize], self.start[prev(t) as usize]);
            let (pp, pq, pr, ps) = (self.at(p), self.at(q), self.at(r), self.at(s));
            if in_circle(pp, pq, pr, ps) > 0.0 && orient(pr, ps, pp) * orient(pr, ps, pq) < 0.0 {
                self.flip(e);
                fresh.extend([(p, s), (s, q), (q, r), (r, p)]);
            }
        }
        Ok(reached)
    }

    /// The edges crossed on the way from `a` to `b`, or the edge itself if it is there.
    fn crossings(&self, a: u32, b: u32) -> Result<Crossings, Trouble> {
        let (pa, pb) = (self.at(a), self.at(b));
        let ahead =
            |p: P2| (p[0] - pa[0]) * (pb[0] - pa[0]) + (p[1] - pa[1]) * (pb[1] - pa[1]) > 0.0;
        enum First {
            Edge(u32, u32),
            Cross(u32),
        }
        let first = self.around(a, |s, e| {
            let (u, v) = (s.end(e), s.start[prev(e) as usize]);
            for (w, edge) in [(u, e), (v, prev(e))] {
                if w == b || (orient(pa, pb, s.at(w)) == 0.0 && ahead(s.at(w))) {
                    return Some(First::Edge(edge, w));
                }
            }
            (orient(pa, pb, s.at(u)) < 0.0 && orient(pa, pb, s.at(v)) > 0.0)
                .then(|| First::Cross(next(e)))
        });
        let mut edge = match first {
            Some(First::Edge(e, w)) => return Ok(Crossings::Edge(e, w)),
            Some(First::Cross(e)) => e,
            None => return Err(Trouble::Blocked(a, b)),
        };
        let mut list = std::collections::VecDeque::new();
        loop {
            list.push_back((self.start[edge as usize], self.end(edge)));
            let t = self.twin[edge as usize];
            if t == NONE {
                return Err(Trouble::Blocked(a, b));
            }
            let w = self.start[prev(t) as usize];
            if w == b {
                return Ok(Crossings::Through(list, b));
            }
            let side = orient(pa, pb, self.at(w));
            if side == 0.0 {
                return Ok(Crossings::Through(list, w));
            }
            edge = if side > 0.0 { next(t) } else { prev(t) };
        }
    }

    /// The triangle that holds `p`, by walking from `hint`; `None` outside the hull.
    pub fn locate(&self, p: P2, hint: u32) -> Option<u32> {
        let mut t = hint.min(self.triangles() as u32 - 1);
        // A straight walk may circle in a triangulation that is not Delaunay: bounded, then search.
        for _ in 0..self.triangles() + 8 {
            let outside = (3 * t..3 * t + 3)
                .find(|&e| orient(self.at(self.start[e as usize]), self.at(self.end(e)), p) < 0.0);
            match outside {
                None => return Some(t),
                Some(e) => match self.twin[e as usize] {
                    NONE => break,
                    other => t = other / 3,
                },
            }
        }
        (0..self.triangles() as u32).find(|&t| {
            (3 * t..3 * t + 3)
                .all(|e| orient(self.at(self.start[e as usize]), self.at(self.end(e)), p) >= 0.0)
        })
    }

    /// Adds a point inside triangle `t` without changing any other edge: the surface over the
    /// triangulation stays what it was. Returns the new point, or the corner it falls on.
    pub fn insert(&mut self, p: P2, t: u32) -> u32 {
        for e in 3 * t..3 * t + 3 {
            if self.at(self.start[e as usize]) == p {
                return self.start[e as usize];
            }
        }
        for e in 3 * t..3 * t + 3 {
            if orient(self.at(self.start[e as usize]), self.at(self.end(e)), p) == 0.0 {
                return self.split_edge(e, p);
            }
        }
        let [a, b, c] = [3 * t, 3 * t + 1, 3 * t + 2];
        let corner = |e: u32| {
            let v = self.start[e as usize];
            [self.at(v)[0], self.at(v)[1], self.heights[v as usize]]
        };
        let z = super::Plane::through(corner(a), corner(b), corner(c)).at(p);
        let n = self.push_point(p, z);
        let (vb, vc) = (self.start[b as usize], self.start[c as usize]);
        let (tb, tc) = (self.twin[b as usize], self.twin[c as usize]);
        let (fb, fc) = (self.fixed[b as usize], self.fixed[c as usize]);
        let va = self.start[a as usize];
        let u = self.push_triangle([vb, vc, n]);
        let w = self.push_triangle([vc, va, n]);
        self.start[c as usize] = n;
        self.fixed[b as usize] = false;
        self.fixed[c as usize] = false;
        self.fixed[u as usize] = fb;
        self.fixed[w as usize] = fc;
        self.link(u, tb);
        self.link(w, tc);
        self.link(b, u + 2);
        self.link(u + 1, w + 2);
        self.link(w + 1, c);
        self.out[n as usize] = c;
        self.out[va as usize] = a;
        self.out[vb as usize] = b;
        self.out[vc as usize] = u + 1;
        n
    }

    fn push_point(&mut self, p: P2, z: f64) -> u32 {
        self.points.push(p);
        self.heights.push(z);
        self.out.push(NONE);
        self.points.len() as u32 - 1
    }

    fn push_triangle(&mut self, corners: [u32; 3]) -> u32 {
        let e = self.start.len() as u32;
        self.start.extend(corners);
        self.twin.extend([NONE; 3]);
        self.fixed.extend([false; 3]);
        e
    }

    /// Splits edge `e` at `p`, which lies on it.
    fn split_edge(&mut self, e: u32, p: P2) -> u32 {
        let (u, v) = (self.start[e as usize], self.end(e));
        let (pu, pv) = (self.at(u), self.at(v));
        let length = (pv[0] - pu[0]).hypot(pv[1] - pu[1]);
        let t = if length > 0.0 {
            (p[0] - pu[0]).hypot(p[1] - pu[1]) / length
        } else {
            0.0
        };
        let z =
            self.heights[u as usize] + t * (self.heights[v as usize] - self.heights[u as usize]);
        let n = self.push_point(p, z);
        let twin = self.twin[e as usize];
        let fixed = self.fixed[e as usize];
        // e: a→b with apex c becomes a→n, and a new triangle n→b→c.
        let half = |s: &mut Self, e: u32| -> (u32, u32) {
            let (e1, e2) = (next(e), prev(e));
            let (b, c) = (s.start[e1 as usize], s.start[e2 as usize]);
            let (t1, f1) = (s.twin[e1 as usize], s.fixed[e1 as usize]);
            let u = s.push_triangle([n, b, c]);
            s.start[e1 as usize] = n;
            s.fixed[e1 as usize] = false;
            s.fixed[u as usize] = fixed;
            s.fixed[u as usize + 1] = f1;
            s.link(u + 1, t1);
            s.link(u + 2, e1);
            s.out[b as usize] = u + 1;
            s.out[c as usize] = e2;
            s.out[n as usize] = u;
            (e, u)
        };
        let a = self.start[e as usize];
        let (first, second) = half(self, e);
        if twin != NONE {
            // twin: b→a becomes b→n, and a new triangle n→a→d.
            let (back, far) = half(self, twin);
            self.link(first, far);
            self.link(second, back);
            self.out[a as usize] = first;
        } else {
            self.twin[first as usize] = NONE;
            self.twin[second as usize] = NONE;
            self.out[a as usize] = first;
        }
        n
    }

    /// Recovers the segment from `a` to `b` by splitting every edge it crosses, so that the surface
    /// over the triangulation does not change. Returns the points passed, `b` included.
    pub fn drape(&mut self, a: u32, b: u32) -> Result<Vec<u32>, Trouble> {
        let mut passed = Vec::new();
        let mut from = a;
        let (pa, pb) = (self.at(a), self.at(b));
        let mut budget = self.triangles() * 4 + 64;
        while from != b {
            if budget == 0 {
                return Err(Trouble::Blocked(a, b));
            }
            budget -= 1;
            from = match self.crossings(from, b)? {
                Crossings::Edge(e, reached) => {
                    self.fix(e);
                    reached
                }
                Crossings::Through(list, _) => {
                    let (u, v) = list[0];
                    let Some(e) = self.edge(u, v) else {
                        return Err(Trouble::Blocked(a, b));
                    };
                    let (pu, pv) = (self.at(u), self.at(v));
                    let (ou, ov) = (orient(pa, pb, pu), orient(pa, pb, pv));
                    let t = if ou == ov {
                        0.5
                    } else {
                        (ou / (ou - ov)).clamp(0.0, 1.0)
                    };
                    let p = [pu[0] + t * (pv[0] - pu[0]), pu[1] + t * (pv[1] - pu[1])];
                    if p == pu || p == pv {
                        return Err(Trouble::Blocked(a, b));
                    }
                    let n = self.split_edge(e, p);
                    if let Some(e) = self.edge(from, n) {
                        self.fix(e);
                    }
                    n
                }
            };
            passed.push(from);
        }
        Ok(passed)
    }

    /// Marks the triangles on the same side of the fixed edges as `seed`.
    pub fn region(&self, seed: u32) -> FxHashSet<u32> {
        let mut seen = FxHashSet::default();
        let mut stack = vec![seed];
        seen.insert(seed);
        while let Some(t) = stack.pop() {
            for e in 3 * t..3 * t + 3 {
                let o = self.twin[e as usize];
                if o != NONE && !self.fixed[e as usize] && seen.insert(o / 3) {
                    stack.push(o / 3);
                }
            }
        }
        seen
    }

    pub fn corners(&self, t: u32) -> [u32; 3] {
        [
            self.start[3 * t as usize],
            self.start[3 * t as usize + 1],
            self.start[3 * t as usize + 2],
        ]
    }
}

enum Crossings {
    /// The edge is there already, reaching this point.
    Edge(u32, u32),
    /// These edges lie between, up to this point.
    Through(std::collections::VecDeque<(u32, u32)>, u32),
}

/// Triangulates the inside of a simple ring; corners index into `ring`.
pub fn triangulate_ring(ring: &[P2]) -> Result<Vec<[u32; 3]>, Trouble> {
    let mut made = Triangulation::new(ring.to_vec())?;
    let n = ring.len() as u32;
    for i in 0..n {
        made.constrain(i, (i + 1) % n)?;
    }
    Ok((0..made.triangles() as u32)
        .map(|t| made.corners(t))
        .filter(|c| {
            let [a, b, c] = c.map(|i| ring[i as usize]);
            super::predicates::in_ring(
                ring,
                [(a[0] + b[0] + c[0]) / 3.0, (a[1] + b[1] + c[1]) / 3.0],
            )
        })
        .collect())
}
