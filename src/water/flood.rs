//! Still water on a surface of triangles: the region below a level that is connected with a seed,
//! and the pass over which the water would first run away.
//!
//! Exact on the piecewise-linear surface: within a triangle the height is linear, so the lowest way
//! from one edge to another never rises above the higher of their lowest points, and the pass is
//! found by always going on over the lowest edge (Dijkstra's order with "highest so far" in place
//! of length). Across a vertical face the higher side counts. Metres.

use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering::Relaxed};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use super::descent::Pass;
use crate::earthwork::Assembled;
use crate::terrain::contours::join;
use crate::terrain::convex::{self, Polygon};
use crate::terrain::predicates::{P2, in_ring};
use crate::terrain::{GROUND, Maker, Surface};

/// Wet triangles, by the one asked from and the level's bits.
type Floods = FxHashMap<(u32, u64), Arc<[u32]>>;

/// A surface that can be walked from triangle to triangle.
pub struct Terrain<'a> {
    pub surface: &'a Surface,
    place: &'a [u32],
    /// Footprints whose edges hold water like a wall (a house).
    closed: &'a [Vec<P2>],
    links: Links,
    /// Passes out of pits, once looked for.
    pub(super) passes: Mutex<FxHashMap<(u32, u64), Option<Pass>>>,
}

/// What a walk has learned of a surface, for a walk over the same triangles later: places may have been
/// moved in plan since, all by as much.
pub struct Links {
    /// Triangles around each place: `around[first[p]..first[p + 1]]`.
    first: Vec<u32>,
    around: Vec<u32>,
    /// Only triangles that meet this box are known; `None`: all are.
    known: Option<[P2; 2]>,
    /// A walk came to the end of what is known.
    strayed: AtomicBool,
    /// Over each edge of each triangle, once asked for: the neighbour's edge, [`UNKNOWN`] or
    /// [`OUTSIDE`].
    beyond: Vec<[AtomicU32; 3]>,
    /// What is wet around a triangle at a level, once asked for.
    floods: Mutex<Floods>,
}

fn unknown() -> [AtomicU32; 3] {
    [const { AtomicU32::new(UNKNOWN) }; 3]
}

/// What several walks at once learn; that one of them broke off spoils nothing for the others.
pub(super) fn locked<T>(known: &Mutex<T>) -> MutexGuard<'_, T> {
    known.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Up to so many triangles the whole surface is made walkable at once.
const SMALL: usize = 20_000;

/// Water standing at a level.
#[derive(Debug, Clone, Default)]
pub struct Reach {
    pub area: f64,
    pub volume: f64,
    pub depth: f64,
    /// Elevation at which it runs away, and where.
    pub spill: f64,
    pub spill_at: P2,
    /// The same with its lips stopped up.
    pub brim: f64,
    pub brim_at: P2,
    pub edge: Vec<Vec<P2>>,
    pub sheet: Vec<[P2; 3]>,
    /// It reaches the end of the surveyed ground.
    pub leaves_survey: bool,
}

const CLOSE: f64 = 1e-9;

/// Wet triangles, and the ways out of them that lie at the level or higher, or end the survey.
pub(super) struct Region {
    pub wet: Vec<bool>,
    triangles: Arc<[u32]>,
    pub rim: Vec<Step>,
}

#[derive(Clone, Copy, PartialEq)]
pub(super) struct Step {
    pub height: f64,
    pub triangle: u32,
    pub at: P2,
}

impl Eq for Step {}

impl Ord for Step {
    fn cmp(&self, other: &Self) -> Ordering {
        // The heap hands out its greatest; the lowest pass must come first.
        other
            .height
            .total_cmp(&self.height)
            .then(other.triangle.cmp(&self.triangle))
    }
}

impl PartialOrd for Step {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Beyond the edge of the survey.
pub(super) const OUTSIDE: u32 = u32::MAX;
/// Not looked for yet.
const UNKNOWN: u32 = u32::MAX - 1;

impl<'a> Terrain<'a> {
    pub fn new(made: &'a Assembled, closed: &'a [Vec<P2>]) -> Self {
        Self::on(&made.surface, &made.place, closed, None)
    }

    /// On a large surface only what lies around the works: most of it never matters. Ask
    /// [`Terrain::strayed`] afterwards whether it did.
    pub fn near_works(surface: &'a Surface, place: &'a [u32], closed: &'a [Vec<P2>]) -> Self {
        let small = surface.triangles.len() <= SMALL;
        let known = (!small).then(|| Self::works_box(surface));
        Self::on(surface, place, closed, known)
    }

    /// Goes on with what an earlier walk over these triangles learned; `by` is how far they have been
    /// moved in plan since.
    pub fn again(
        surface: &'a Surface,
        place: &'a [u32],
        closed: &'a [Vec<P2>],
        links: Links,
        by: P2,
    ) -> Self {
        let known = links.known;
        Terrain {
            surface,
            place,
            closed,
            links: Links {
                known: known.map(|b| b.map(|p| [p[0] + by[0], p[1] + by[1]])),
                ..links
            },
            passes: Mutex::default(),
        }
    }

    /// What was learned, without the surface.
    pub fn into_links(self) -> Links {
        self.links
    }

    /// The box around what was worked, with room to spare.
    fn works_box(surface: &Surface) -> [P2; 2] {
        let worked = surface
            .triangles
            .iter()
            .zip(&surface.made_by)
            .filter(|(_, m)| **m != GROUND);
        let (mut lo, mut hi) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in worked
            .flat_map(|(t, _)| t)
            .map(|&i| surface.points[i as usize])
        {
            for k in 0..2 {
                lo[k] = lo[k].min(p[k]);
                hi[k] = hi[k].max(p[k]);
            }
        }
        let margin = 5.0 + 0.1 * (hi[0] - lo[0]).max(hi[1] - lo[1]).max(0.0);
        [
            [lo[0] - margin, lo[1] - margin],
            [hi[0] + margin, hi[1] + margin],
        ]
    }

    /// On a surface whose points stand on these places in plan; all of it, or what meets a box.
    pub fn on(
        surface: &'a Surface,
        place: &'a [u32],
        closed: &'a [Vec<P2>],
        known: Option<[P2; 2]>,
    ) -> Self {
        let meets = |t: &[u32; 3]| {
            known.is_none_or(|[lo, hi]| {
                let c = t.map(|i| surface.points[i as usize]);
                (0..2).all(|k| c.iter().any(|p| p[k] >= lo[k]) && c.iter().any(|p| p[k] <= hi[k]))
            })
        };
        let places = place.iter().map(|&p| p as usize + 1).max().unwrap_or(0);
        let mut first = vec![0u32; places + 1];
        let triangles: Vec<u32> = (0..surface.triangles.len() as u32)
            .filter(|&t| meets(&surface.triangles[t as usize]))
            .collect();
        for &t in &triangles {
            for i in surface.triangles[t as usize] {
                first[place[i as usize] as usize + 1] += 1;
            }
        }
        for k in 1..first.len() {
            first[k] += first[k - 1];
        }
        let mut fill = first.clone();
        let mut around = vec![0u32; triangles.len() * 3];
        for &t in &triangles {
            for i in surface.triangles[t as usize] {
                let slot = &mut fill[place[i as usize] as usize];
                around[*slot as usize] = t;
                *slot += 1;
            }
        }
        Terrain {
            surface,
            place,
            closed,
            links: Links {
                first,
                around,
                known,
                strayed: AtomicBool::new(false),
                beyond: surface.triangles.iter().map(|_| unknown()).collect(),
                floods: Mutex::default(),
            },
            passes: Mutex::default(),
        }
    }

    /// Whether an answer may be wrong because a walk left the part of the surface that is known.
    pub fn strayed(&self) -> bool {
        self.links.strayed.load(Relaxed)
    }

    pub(super) fn corner(&self, t: u32, k: usize) -> (u32, [f64; 3]) {
        let i = self.surface.triangles[t as usize][k];
        (self.place[i as usize], self.surface.points[i as usize])
    }

    /// The triangle over edge `k` of `t`, with its elevations at that edge's two ends.
    pub(super) fn over(&self, t: u32, k: usize) -> Option<(u32, f64, f64)> {
        let (o, m) = self.facing(t, k)?;
        let z = |m: usize| self.corner(o, m).1[2];
        // The neighbour walks the edge the other way.
        Some((o, z((m + 1) % 3), z(m)))
    }

    /// The triangle over edge `k` of `t`, and which of its edges that is.
    #[inline]
    fn facing(&self, t: u32, k: usize) -> Option<(u32, usize)> {
        let known = &self.links.beyond[t as usize][k];
        let mut edge = known.load(Relaxed);
        if edge == UNKNOWN {
            edge = self.look_over(t, k);
            known.store(edge, Relaxed);
            if edge != OUTSIDE {
                let back = &self.links.beyond[edge as usize / 3][edge as usize % 3];
                if back.load(Relaxed) == UNKNOWN {
                    back.store(3 * t + k as u32, Relaxed);
                }
            }
        }
        (edge != OUTSIDE).then_some((edge / 3, edge as usize % 3))
    }

    /// Triangles that meet at a place.
    pub(super) fn around(&self, place: u32) -> &[u32] {
        &self.links.around[self.links.first[place as usize] as usize
            ..self.links.first[place as usize + 1] as usize]
    }

    /// Whether a footprint that holds water like a wall lies over edge `k` of `t`.
    pub(super) fn is_closed(&self, t: u32, k: usize) -> bool {
        self.over(t, k).is_none() && self.crossing(t, k).is_none()
    }

    /// The neighbour's edge over edge `k` of `t`, as three times the triangle and the edge.
    fn look_over(&self, t: u32, k: usize) -> u32 {
        let (a, _) = self.corner(t, k);
        let (b, _) = self.corner(t, (k + 1) % 3);
        let range =
            self.links.first[a as usize] as usize..self.links.first[a as usize + 1] as usize;
        let edge = self.links.around[range].iter().find_map(|&o| {
            if o == t {
                return None;
            }
            let places = self.surface.triangles[o as usize].map(|i| self.place[i as usize]);
            let m = (0..3).find(|&m| places[m] == b && places[(m + 1) % 3] == a)?;
            Some(3 * o + m as u32)
        });
        edge.unwrap_or(OUTSIDE)
    }

    /// Lowest place of the way over edge `k` of `t`: neighbour (or outside), height and place.
    pub(super) fn crossing(&self, t: u32, k: usize) -> Option<(u32, f64, P2)> {
        let corners = &self.surface.triangles[t as usize];
        let (i, j) = (corners[k], corners[if k == 2 { 0 } else { k + 1 }]);
        let (a, b) = (
            self.surface.points[i as usize],
            self.surface.points[j as usize],
        );
        match self.facing(t, k) {
            Some((o, m)) => {
                let other = &self.surface.triangles[o as usize];
                let (there_a, there_b) = (other[if m == 2 { 0 } else { m + 1 }], other[m]);
                if there_a == i && there_b == j {
                    // No face between them: the way over is lowest at the lower end.
                    let low = if a[2] <= b[2] { a } else { b };
                    return Some((o, low[2], [low[0], low[1]]));
                }
                let z = |i: u32| self.surface.points[i as usize][2];
                let (za, zb) = (z(there_a), z(there_b));
                let height = |f: f64| (a[2] + f * (b[2] - a[2])).max(za + f * (zb - za));
                // The higher of two lines is lowest at an end or where they cross.
                let (da, db) = (a[2] - za, b[2] - zb);
                let mut best = if height(0.0) <= height(1.0) { 0.0 } else { 1.0 };
                if da * db < 0.0 {
                    let f = da / (da - db);
                    if height(f) < height(best) {
                        best = f;
                    }
                }
                Some((
                    o,
                    height(best),
                    [a[0] + best * (b[0] - a[0]), a[1] + best * (b[1] - a[1])],
                ))
            }
            None => {
                if let Some([lo, hi]) = self.links.known {
                    // The neighbour may be there, but beyond the box.
                    let outside = |k: usize| a[k].max(b[k]) < lo[k] || a[k].min(b[k]) > hi[k];
                    if outside(0) || outside(1) {
                        self.links.strayed.store(true, Relaxed);
                    }
                }
                let m = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
                let l = (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-12);
                let out = [
                    m[0] + 1e-4 * (b[1] - a[1]) / l,
                    m[1] - 1e-4 * (b[0] - a[0]) / l,
                ];
                if self.closed.iter().any(|ring| in_ring(ring, out)) {
                    return None;
                }
                let low = if a[2] <= b[2] { a } else { b };
                Some((OUTSIDE, low[2], [low[0], low[1]]))
            }
        }
    }

    /// The triangle under a place in plan (the lowest, on a vertical face).
    pub fn find(&self, p: P2) -> Option<u32> {
        let inside = |t: u32| {
            let c = self.surface.triangles[t as usize].map(|i| &self.surface.points[i as usize]);
            // Most lie wholly to one side.
            let apart = |k: usize| {
                let (least, most) = (p[k] - 1e-6, p[k] + 1e-6);
                c[0][k] < least && c[1][k] < least && c[2][k] < least
                    || c[0][k] > most && c[1][k] > most && c[2][k] > most
            };
            !apart(0)
                && !apart(1)
                && (0..3).all(|k| {
                    let (a, b) = (c[k], c[(k + 1) % 3]);
                    (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) >= -1e-12
                })
        };
        let mean = |t: u32| (0..3).map(|k| self.corner(t, k).1[2]).sum::<f64>();
        let lowest = |worked: bool| {
            let makers = self.surface.made_by.iter();
            (0u32..)
                .zip(makers)
                .filter(|&(t, m)| (*m != GROUND) == worked && inside(t))
                .map(|(t, _)| t)
                .min_by(|&a, &b| mean(a).total_cmp(&mean(b)))
        };
        // Water is looked for in what was dug: there first.
        lowest(true).or_else(|| lowest(false))
    }

    /// Water at `level` around `seed`; `None` if the seed lies outside the ground or stands dry.
    /// `lips` tells the makers that water runs over by design.
    pub fn stand(&self, seed: P2, level: f64, lips: impl Fn(Maker) -> bool) -> Option<Reach> {
        self.stand_from(self.find(seed)?, level, lips)
    }

    /// The same around a triangle.
    pub fn stand_from(
        &self,
        start: u32,
        level: f64,
        lips: impl Fn(Maker) -> bool,
    ) -> Option<Reach> {
        self.stand_among(start, level, lips, |_| false)
    }

    /// The same; what these makers made is no way out though it lies lower: pools that run into
    /// this water, and fill up with it.
    pub fn stand_among(
        &self,
        start: u32,
        level: f64,
        lips: impl Fn(Maker) -> bool,
        own: impl Fn(Maker) -> bool,
    ) -> Option<Reach> {
        let own = |t: u32| own(self.surface.made_by[t as usize]);
        if (0..3).all(|k| self.corner(start, k).1[2] >= level - CLOSE) {
            return None;
        }
        let wet = self.region(start, level);
        let mut reach = self.measure(&wet, level);
        (reach.spill, reach.spill_at) = self.pass(start, &wet, level, |_| false, own);
        (reach.brim, reach.brim_at) = if reach.spill >= level - CLOSE {
            let lip = |t: u32| lips(self.surface.made_by[t as usize]);
            self.pass(start, &wet, level, lip, own)
        } else {
            (reach.spill, reach.spill_at)
        };
        Some(reach)
    }

    /// The triangles that water at `level` around a triangle wets, in order.
    pub fn wet(&self, start: u32, level: f64) -> Arc<[u32]> {
        let key = (start, level.to_bits());
        if let Some(known) = locked(&self.links.floods).get(&key) {
            return known.clone();
        }
        let mut seen = vec![false; self.surface.triangles.len()];
        let enter = |t: u32| !std::mem::replace(&mut seen[t as usize], true);
        let mut triangles = self.flood(start, level, enter, |_| {});
        triangles.sort_unstable();
        let wet: Arc<[u32]> = triangles.into();
        locked(&self.links.floods).insert(key, wet.clone());
        wet
    }

    pub(super) fn region(&self, start: u32, level: f64) -> Region {
        let mut wet = vec![false; self.surface.triangles.len()];
        let mut rim = Vec::new();
        let enter = |t: u32| !std::mem::replace(&mut wet[t as usize], true);
        let mut triangles = self.flood(start, level, enter, |step| rim.push(step));
        triangles.sort_unstable();
        let triangles: Arc<[u32]> = triangles.into();
        let key = (start, level.to_bits());
        locked(&self.links.floods).insert(key, triangles.clone());
        Region {
            wet,
            triangles,
            rim,
        }
    }

    /// Goes from triangle to triangle under `level`, into each that `enter` says is new; tells the
    /// ways out.
    fn flood(
        &self,
        start: u32,
        level: f64,
        mut enter: impl FnMut(u32) -> bool,
        mut rim: impl FnMut(Step),
    ) -> Vec<u32> {
        enter(start);
        let mut triangles = vec![start];
        let mut next = 0;
        while let Some(&t) = triangles.get(next) {
            next += 1;
            for k in 0..3 {
                let Some((triangle, height, at)) = self.crossing(t, k) else {
                    continue;
                };
                if triangle == OUTSIDE || height >= level - CLOSE {
                    rim(Step {
                        height,
                        triangle,
                        at,
                    });
                } else if enter(triangle) {
                    triangles.push(triangle);
                }
            }
        }
        triangles
    }

    fn measure(&self, region: &Region, level: f64) -> Reach {
        let mut reach = Reach::default();
        let mut shore: Vec<(P2, P2)> = Vec::new();
        for &t in region.triangles.iter() {
            let corners: [[f64; 3]; 3] = std::array::from_fn(|k| self.corner(t, k).1);
            let poly: Polygon = corners.iter().map(|c| [c[0], c[1]]).collect();
            // Corners at the level to within rounding are at the level: the shore runs through them.
            let snap = |d: f64| if d.abs() < CLOSE { 0.0 } else { d };
            let depth: SmallVec<[f64; 8]> = corners.iter().map(|c| snap(level - c[2])).collect();
            reach.depth = depth.iter().fold(reach.depth, |m, &d| m.max(d));
            if depth.iter().all(|&d| d >= 0.0) {
                reach.volume += convex::integral(&poly, &depth);
                reach.area += 0.5 * convex::area2(&poly);
                reach.sheet.push([poly[0], poly[1], poly[2]]);
            } else {
                let (_, under) = convex::split(&poly, &depth, 0.0);
                reach.volume += convex::positive_integral(&poly, &depth);
                reach.area += 0.5 * convex::area2(&under);
                for k in 1..under.len().saturating_sub(1) {
                    reach.sheet.push([under[0], under[k], under[k + 1]]);
                }
                // The shore: where the water's plane cuts the triangle, and wet edges with a dry side.
                let crossings: SmallVec<[P2; 2]> = under
                    .iter()
                    .copied()
                    .filter(|p| !poly.contains(p) || depth[position(&poly, *p)] == 0.0)
                    .collect();
                if crossings.len() == 2 {
                    shore.push((crossings[0], crossings[1]));
                }
            }
            for k in 0..3 {
                let m = (k + 1) % 3;
                // An edge along the level is shore if this triangle falls away from it into water.
                let along = depth[k] == 0.0 && depth[m] == 0.0 && depth[(k + 2) % 3] > 0.0;
                if depth[k] <= 0.0 && depth[m] <= 0.0 && !along {
                    continue;
                }
                let dry = match self.over(t, k) {
                    None => {
                        reach.leaves_survey |= self.crossing(t, k).is_some();
                        true
                    }
                    Some((o, za, zb)) => !region.wet[o as usize] || (za > level && zb > level),
                };
                if dry {
                    let (p, q) = (poly[k], poly[m]);
                    let at = |f: f64| [p[0] + f * (q[0] - p[0]), p[1] + f * (q[1] - p[1])];
                    let f = depth[k] / (depth[k] - depth[m]);
                    let a = if depth[k] < 0.0 { at(f) } else { p };
                    let b = if depth[m] < 0.0 { at(f) } else { q };
                    shore.push((a, b));
                }
            }
        }
        reach.edge = join(shore).into_iter().map(|(line, _)| line).collect();
        reach.edge.sort_by_key(|line| std::cmp::Reverse(line.len()));
        reach
    }

    /// The lowest pass from `start` to ground below `level` that the water does not cover yet, or
    /// to the end of the survey.
    fn pass(
        &self,
        start: u32,
        region: &Region,
        level: f64,
        stopped: impl Fn(u32) -> bool,
        own: impl Fn(u32) -> bool,
    ) -> (f64, P2) {
        let mut best: FxHashMap<u32, f64> = FxHashMap::default();
        let mut heap = BinaryHeap::new();
        let low = (0..3)
            .map(|k| self.corner(start, k).1[2])
            .fold(f64::INFINITY, f64::min);
        let c = self.corner(start, 0).1;
        let mut last = Step {
            height: low,
            triangle: start,
            at: [c[0], c[1]],
        };
        let lost = |s: &Step| s.triangle == OUTSIDE && s.height < level - CLOSE;
        let from_shore = !region.rim.iter().any(lost);
        if !from_shore {
            // Lost over the end of the survey below its level: the pass lies somewhere in the water.
            best.insert(start, low);
            heap.push(last);
        } else {
            // All that is wet is reached below the level; the pass is sought from the shore on.
            for &step in &region.rim {
                let o = step.triangle;
                let better = || best.get(&o).is_none_or(|&h| step.height < h);
                if o == OUTSIDE || !region.wet[o as usize] && !stopped(o) && better() {
                    if o != OUTSIDE {
                        best.insert(o, step.height);
                    }
                    heap.push(step);
                }
            }
        }
        while let Some(step) = heap.pop() {
            if step.triangle == OUTSIDE {
                return (step.height, step.at);
            }
            if best.get(&step.triangle).is_some_and(|&h| h < step.height) {
                continue;
            }
            if step.height >= level - CLOSE && !region.wet[step.triangle as usize] {
                let low = (0..3)
                    .map(|k| self.corner(step.triangle, k).1[2])
                    .fold(f64::INFINITY, f64::min);
                if low < level - 1e-6 && !own(step.triangle) {
                    return (step.height, step.at);
                }
            }
            for k in 0..3 {
                let Some((o, height, at)) = self.crossing(step.triangle, k) else {
                    continue;
                };
                if o != OUTSIDE && (from_shore && region.wet[o as usize] || stopped(o)) {
                    continue;
                }
                let (height, at) = if height > step.height {
                    (height, at)
                } else {
                    (step.height, step.at)
                };
                if o == OUTSIDE || best.get(&o).is_none_or(|&h| height < h) {
                    if o != OUTSIDE {
                        best.insert(o, height);
                    }
                    heap.push(Step {
                        height,
                        triangle: o,
                        at,
                    });
                }
            }
            last = step;
        }
        // Closed in on all sides (by houses): it never runs away.
        (last.height, last.at)
    }
}

fn position(poly: &[P2], p: P2) -> usize {
    poly.iter().position(|q| *q == p).unwrap_or(0)
}
