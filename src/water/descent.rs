//! Where water runs on a surface of triangles: steepest descent, along valleys and the feet of
//! walls, over falls, through hollows that fill and run over. Metres.
//!
//! Exact on the piecewise-linear surface: within a triangle the way is straight; at an edge it goes
//! on, or along it if both sides lead to it. In a hollow the pass is found as in `flood` and the way
//! goes on beyond it. Real water has width and momentum; this is its thread.

use std::collections::BinaryHeap;
use std::sync::Arc;

use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use super::flood::{OUTSIDE, Step, Terrain, locked};
use crate::terrain::Plane;
use crate::terrain::line::dist;
use crate::terrain::predicates::P2;

/// Elevations nearer than this are the same.
const SAME: f64 = 1e-6;
/// A slope under this is level.
const LEVEL: f64 = 1e-6;
/// Steps after which a way is given up.
const MOST: usize = 20_000;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    Survey,
    /// Stopped by whoever asked.
    Reached,
    Hollow,
    Lost,
}

/// A hollow on the way.
#[derive(Debug, Clone, Copy)]
pub struct Hollow {
    pub at: [f64; 3],
    /// A triangle in it, for measuring.
    pub seed: u32,
    pub pass: f64,
    /// Which point of the path it is at.
    pub index: usize,
}

#[derive(Debug, Clone)]
pub struct Way {
    pub path: Vec<[f64; 3]>,
    pub hollows: Vec<Hollow>,
    /// Where it ran along a closed footprint (a house), points of the path.
    pub along_closed: Vec<usize>,
    pub stop: Stop,
    /// The triangle it ends in.
    pub last: u32,
}

impl Way {
    /// Elevation of its last place.
    fn low(&self) -> f64 {
        self.path.last().map_or(f64::INFINITY, |p| p[2])
    }
}

enum Next {
    At(u32, [f64; 3]),
    Pit(u32, [f64; 3]),
    Out([f64; 3]),
}

/// A pass found from a pit: height, place, and the triangle the water goes on in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pass {
    height: f64,
    at: P2,
    into: u32,
    /// Where it comes into that triangle, or leaves the survey: apart from the pass where a level crest lies
    /// between.
    entry: P2,
}

impl Terrain<'_> {
    /// The way from the pass over which water runs out of the triangle `from`; `level` as in a
    /// pass: that leads to ground under it which is not its `own`.
    pub fn way_from_pass(
        &self,
        from: u32,
        level: f64,
        own: impl Fn(u32) -> bool,
        reached: impl Fn(u32, f64) -> bool,
    ) -> Way {
        let mut way = Way {
            path: Vec::new(),
            hollows: Vec::new(),
            along_closed: Vec::new(),
            stop: Stop::Hollow,
            last: from,
        };
        if let Some(pass) = self.pass_out(from, level, own) {
            if self.over_pass(&pass, &mut way.path) {
                let full = vec![self.filled(from, pass.height)];
                self.follow(pass.into, full, &mut way, |t, way| reached(t, way.low()));
            } else {
                way.stop = Stop::Survey;
            }
        }
        way
    }

    /// The way from a place in plan.
    pub fn way_from(&self, p: P2, triangle: u32, reached: impl Fn(u32, f64) -> bool) -> Way {
        self.way_until(p, triangle, |t, way| reached(t, way.low()))
    }

    /// The same; `reached` is asked at each place with the way so far, whose last place it is.
    pub fn way_until(&self, p: P2, triangle: u32, reached: impl FnMut(u32, &Way) -> bool) -> Way {
        let mut way = Way {
            path: vec![[p[0], p[1], self.height(triangle, p)]],
            hollows: Vec::new(),
            along_closed: Vec::new(),
            stop: Stop::Lost,
            last: triangle,
        };
        self.follow(triangle, Vec::new(), &mut way, reached);
        way
    }

    /// `full` are the triangles of hollows that are full: from their passes the way leads down the
    /// other side, however much steeper it is back, and they are no way out of a later hollow.
    fn follow(
        &self,
        mut t: u32,
        mut full: Full,
        way: &mut Way,
        mut reached: impl FnMut(u32, &Way) -> bool,
    ) {
        way.stop = Stop::Lost;
        for _ in 0..MOST {
            let Some(&p) = way.path.last() else {
                return;
            };
            way.last = t;
            if reached(t, way) {
                way.stop = Stop::Reached;
                return;
            }
            match self.next(t, p, &full, way) {
                Next::At(o, q) => {
                    t = o;
                    add(&mut way.path, q);
                }
                Next::Out(q) => {
                    add(&mut way.path, q);
                    way.stop = Stop::Survey;
                    return;
                }
                Next::Pit(o, q) => {
                    add(&mut way.path, q);
                    let mut pass = self.pass_known(o, q[2]);
                    if pass.is_some_and(|p| among(&full, p.into)) {
                        // Full already: both stand as one, and run over together.
                        pass = self.pass_out(o, q[2], |t| among(&full, t));
                    }
                    let Some(pass) = pass else {
                        way.stop = Stop::Hollow;
                        return;
                    };
                    if pass.height > q[2] + SAME {
                        way.hollows.push(Hollow {
                            at: q,
                            seed: o,
                            pass: pass.height,
                            index: way.path.len() - 1,
                        });
                        full.push(self.filled(o, pass.height));
                    }
                    if !self.over_pass(&pass, &mut way.path) {
                        way.stop = Stop::Survey;
                        return;
                    }
                    t = pass.into;
                }
            }
        }
    }

    /// Goes over a pass and down into the triangle beyond it; `false` if that is off the survey.
    fn over_pass(&self, pass: &Pass, path: &mut Vec<[f64; 3]>) -> bool {
        add(path, [pass.at[0], pass.at[1], pass.height]);
        let [x, y] = pass.entry;
        add(path, [x, y, pass.height]);
        if pass.into == OUTSIDE {
            return false;
        }
        let foot = self.height(pass.into, pass.entry);
        if foot < pass.height - SAME {
            add(path, [x, y, foot]);
        }
        true
    }

    pub(crate) fn height(&self, t: u32, p: P2) -> f64 {
        let c = [0, 1, 2].map(|k| self.corner(t, k).1);
        Plane::through(c[0], c[1], c[2]).at(p)
    }

    fn lowest(&self, t: u32) -> f64 {
        (0..3)
            .map(|k| self.corner(t, k).1[2])
            .fold(f64::INFINITY, f64::min)
    }

    /// One step from `p` in (or on the border of) `t`.
    fn next(&self, t: u32, p: [f64; 3], full: &Full, way: &mut Way) -> Next {
        let c = [0, 1, 2].map(|k| self.corner(t, k).1);
        if let Some(k) = (0..3).find(|&k| near([c[k][0], c[k][1]], [p[0], p[1]])) {
            return self.leave_corner(t, k, p, full);
        }
        let plane = Plane::through(c[0], c[1], c[2]);
        let slope = plane.slope();
        if slope < LEVEL {
            return Next::Pit(t, p);
        }
        let d = [-plane.gradient[0] / slope, -plane.gradient[1] / slope];
        // Out over the edge that is met first.
        let mut exit: Option<(f64, usize)> = None;
        for k in 0..3 {
            let (a, b) = (c[k], c[(k + 1) % 3]);
            let e = [b[0] - a[0], b[1] - a[1]];
            // Most edges are left behind: that is told without their length.
            if e[1] * d[0] - e[0] * d[1] <= 0.0 {
                continue;
            }
            let length = (e[0] * e[0] + e[1] * e[1]).sqrt();
            if length < 1e-12 {
                continue;
            }
            let n = [e[1] / length, -e[0] / length];
            let towards = n[0] * d[0] + n[1] * d[1];
            if towards <= 1e-12 {
                continue;
            }
            let off = n[0] * (a[0] - p[0]) + n[1] * (a[1] - p[1]);
            let far = (off / towards).max(0.0);
            if exit.is_none_or(|(f, _)| far < f) {
                exit = Some((far, k));
            }
        }
        let Some((far, k)) = exit else {
            return Next::Pit(t, p);
        };
        let q = [p[0] + far * d[0], p[1] + far * d[1]];
        let q = [q[0], q[1], plane.at(q)];
        if let Some(m) = (0..3).find(|&m| near([c[m][0], c[m][1]], [q[0], q[1]])) {
            return Next::At(t, c[m]);
        }
        self.over_edge(t, k, q, way)
    }

    /// At `q` on edge `k` of `t`, coming from inside.
    fn over_edge(&self, t: u32, k: usize, q: [f64; 3], way: &mut Way) -> Next {
        let ((_, a), (_, b)) = (self.corner(t, k), self.corner(t, (k + 1) % 3));
        let Some((o, za, zb)) = self.over(t, k) else {
            if self.is_closed(t, k) {
                way.along_closed.push(way.path.len());
                return self.slide(t, a, b, q);
            }
            self.crossing(t, k);
            return Next::Out(q);
        };
        let flat = |p: [f64; 3]| [p[0], p[1]];
        let l = dist(flat(a), flat(b));
        let f = (dist(flat(q), flat(a)) / l).clamp(0.0, 1.0);
        let there = za + f * (zb - za);
        if there < q[2] - SAME {
            return Next::At(o, [q[0], q[1], there]);
        }
        if there > q[2] + SAME {
            return self.slide(t, a, b, q);
        }
        let c = [0, 1, 2].map(|k| self.corner(o, k).1);
        let plane = Plane::through(c[0], c[1], c[2]);
        if plane.slope() < LEVEL {
            return Next::Pit(o, q);
        }
        // Outward from t is inward to o.
        let n = [(b[1] - a[1]) / l, -(b[0] - a[0]) / l];
        let on = -(plane.gradient[0] * n[0] + plane.gradient[1] * n[1]) / plane.slope();
        if on > 1e-9 {
            // A hair inside, so that the next step starts from there.
            Next::At(o, q)
        } else {
            self.slide(t, a, b, q)
        }
    }

    /// Down along an edge to its lower end.
    fn slide(&self, t: u32, a: [f64; 3], b: [f64; 3], q: [f64; 3]) -> Next {
        let low = if a[2] < b[2] { a } else { b };
        if low[2] < q[2] - 1e-9 {
            Next::At(t, low)
        } else {
            Next::Pit(t, q)
        }
    }

    /// From corner `k` of `t`: the steepest way down of all that meet there and are not `full`.
    fn leave_corner(&self, t: u32, k: usize, p: [f64; 3], full: &Full) -> Next {
        let place = self.corner(t, k).0;
        let around: SmallVec<[u32; 12]> = self
            .around(place)
            .iter()
            .copied()
            .filter(|&o| !among(full, o))
            .collect();
        let at = |o: u32| (0..3).find(|&m| self.corner(o, m).0 == place);
        let z = |o: u32| at(o).map_or(f64::INFINITY, |m| self.corner(o, m).1[2]);
        // Over a face that drops away here.
        let foot = around
            .iter()
            .copied()
            .filter(|&o| z(o) < p[2] - SAME)
            .min_by(|&x, &y| z(x).total_cmp(&z(y)));
        if let Some(o) = foot {
            let m = at(o).unwrap_or(0);
            return Next::At(o, self.corner(o, m).1);
        }
        let mut best: Option<(f64, u32, Option<[f64; 3]>)> = None;
        let mut level = None;
        let mut offer = |slope: f64, o: u32, to: Option<[f64; 3]>| {
            if slope > 1e-9 && best.is_none_or(|b| slope > b.0) {
                best = Some((slope, o, to));
            }
        };
        for &o in &around {
            let Some(m) = at(o) else { continue };
            let c = [0, 1, 2].map(|k| self.corner(o, (m + k) % 3).1);
            if c[0][2] > p[2] + SAME {
                continue;
            }
            let plane = Plane::through(c[0], c[1], c[2]);
            let slope = plane.slope();
            if slope < LEVEL {
                level = Some(o);
                continue;
            }
            let d = [-plane.gradient[0], -plane.gradient[1]];
            let (u, v) = (
                [c[1][0] - c[0][0], c[1][1] - c[0][1]],
                [c[2][0] - c[0][0], c[2][1] - c[0][1]],
            );
            let cross = |a: P2, b: P2| a[0] * b[1] - a[1] * b[0];
            if cross(u, d) > 0.0 && cross(d, v) > 0.0 {
                offer(slope, o, None);
            }
            for (w, e) in [(c[1], u), (c[2], v)] {
                offer(
                    (c[0][2] - w[2]) / (e[0] * e[0] + e[1] * e[1]).sqrt().max(1e-12),
                    o,
                    Some(w),
                );
            }
        }
        match best {
            None => Next::Pit(level.unwrap_or(t), p),
            Some((_, o, Some(w))) => Next::At(o, w),
            Some((_, o, None)) => {
                // Across the triangle to the edge opposite.
                let m = at(o).unwrap_or(0);
                let c = [0, 1, 2].map(|k| self.corner(o, (m + k) % 3).1);
                let plane = Plane::through(c[0], c[1], c[2]);
                let d = [-plane.gradient[0], -plane.gradient[1]];
                let e = [c[2][0] - c[1][0], c[2][1] - c[1][1]];
                let r = [c[1][0] - c[0][0], c[1][1] - c[0][1]];
                let f = (r[0] * e[1] - r[1] * e[0]) / (d[0] * e[1] - d[1] * e[0]);
                let q = [c[0][0] + f * d[0], c[0][1] + f * d[1]];
                Next::At(o, [q[0], q[1], plane.at(q)])
            }
        }
    }

    /// The triangles under water that stands at a pass's height around a triangle.
    fn filled(&self, start: u32, height: f64) -> Arc<[u32]> {
        if self.lowest(start) >= height - SAME {
            return Arc::default();
        }
        self.wet(start, height)
    }

    /// The pass out of a pit, looked for once.
    fn pass_known(&self, start: u32, level: f64) -> Option<Pass> {
        let key = (start, level.to_bits());
        if let Some(known) = locked(&self.passes).get(&key) {
            return *known;
        }
        let pass = self.pass_out(start, level, |_| false);
        locked(&self.passes).insert(key, pass);
        pass
    }

    /// The lowest pass from `start` to ground under `level`, or out of the survey. Ground of its
    /// `own` (a pool that runs into it) is no way out.
    fn pass_out(&self, start: u32, level: f64, own: impl Fn(u32) -> bool) -> Option<Pass> {
        let mut best: FxHashMap<u32, f64> = FxHashMap::default();
        let mut from: FxHashMap<u32, (u32, P2)> = FxHashMap::default();
        let mut heap = BinaryHeap::new();
        let low = self.lowest(start).min(level);
        let corners = (0..3).map(|k| self.corner(start, k).1);
        let lowest = corners.min_by(|a, b| a[2].total_cmp(&b[2]));
        let c = lowest.unwrap_or_default();
        best.insert(start, low);
        let under = self.region(start, level - SAME);
        let lost = |s: &Step| s.triangle == OUTSIDE && s.height < level - SAME;
        let from_shore = !under.rim.iter().any(lost);
        if from_shore {
            // All that is under the level is reached below it; the pass is sought from the shore on.
            for &step in &under.rim {
                let o = step.triangle;
                let wet = o != OUTSIDE && under.wet[o as usize];
                if !wet && best.get(&o).is_none_or(|&h| step.height < h) {
                    best.insert(o, step.height);
                    from.insert(o, (start, step.at));
                    heap.push(step);
                }
            }
        } else {
            heap.push(Step {
                height: low,
                triangle: start,
                at: [c[0], c[1]],
            });
        }
        while let Some(step) = heap.pop() {
            let t = step.triangle;
            if best.get(&t).is_some_and(|&h| h < step.height) {
                continue;
            }
            let out = t == OUTSIDE
                || t != start
                    && step.height >= level - SAME
                    && self.lowest(t) < level - SAME
                    && !own(t);
            if out {
                // From the pass on, the first triangle that leads down.
                let mut chain = vec![t];
                let mut last = t;
                while let Some(&(before, _)) = from.get(&last) {
                    if best.get(&before).copied().unwrap_or(low) < step.height - 1e-12 {
                        break;
                    }
                    chain.push(before);
                    last = before;
                }
                let into = chain
                    .iter()
                    .rev()
                    .copied()
                    .find(|&o| o != OUTSIDE && self.lowest(o) < step.height - SAME)
                    .unwrap_or(t);
                let entry = if into != OUTSIDE && self.touches(into, step.at) {
                    step.at
                } else {
                    from.get(&into).map_or(step.at, |f| f.1)
                };
                return Some(Pass {
                    height: step.height,
                    at: step.at,
                    into,
                    entry,
                });
            }
            for k in 0..3 {
                let Some((o, height, at)) = self.crossing(t, k) else {
                    continue;
                };
                if from_shore && o != OUTSIDE && under.wet[o as usize] {
                    continue;
                }
                let here = at;
                let (height, at) = if height > step.height {
                    (height, at)
                } else {
                    (step.height, step.at)
                };
                if best.get(&o).is_none_or(|&h| height < h) {
                    best.insert(o, height);
                    from.insert(o, (t, here));
                    heap.push(Step {
                        height,
                        triangle: o,
                        at,
                    });
                }
            }
        }
        None
    }

    fn touches(&self, t: u32, p: P2) -> bool {
        (0..3).all(|k| {
            let (a, b) = (self.corner(t, k).1, self.corner(t, (k + 1) % 3).1);
            let l = dist([a[0], a[1]], [b[0], b[1]]).max(1e-12);
            ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / l >= -1e-6
        })
    }
}

/// The triangles of each full hollow, in order.
type Full = Vec<Arc<[u32]>>;

fn among(full: &Full, t: u32) -> bool {
    full.iter().any(|hollow| hollow.binary_search(&t).is_ok())
}

fn near(a: P2, b: P2) -> bool {
    (a[0] - b[0]).abs() < 1e-7 && (a[1] - b[1]).abs() < 1e-7
}

fn add(path: &mut Vec<[f64; 3]>, q: [f64; 3]) {
    let same = |p: &[f64; 3]| near([p[0], p[1]], [q[0], q[1]]) && (p[2] - q[2]).abs() < 1e-9;
    if !path.last().is_some_and(same) {
        path.push(q);
    }
}
