//! What was moved on a mosaic: per work, since the survey, and at a place. Metres, m³.

use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use crate::terrain::convex::{self, area2, positive_integral, positive_moment};
use crate::terrain::predicates::{P2, cross};
use crate::terrain::{Maker, Plane};

use super::assemble::floor;
use super::mosaic::{LEVEL, Mosaic, Moved, NO, Piece, bounds, centroid};
use super::sets::Sets;

type Gaps = SmallVec<[f64; 8]>;

/// Rounding is not soil: equal planes may differ in their last digits.
fn level(gap: f64) -> f64 {
    if gap.abs() < LEVEL { 0.0 } else { gap }
}

/// What lies no further outside an edge is on it.
pub(super) const HAIR: f64 = 1e-7;

/// Whether a place lies to the left of an edge, or on it: both from where the edge begins.
#[inline]
pub(super) fn on_or_left(edge: P2, p: P2) -> bool {
    let side = edge[0] * p[1] - edge[1] * p[0];
    side >= 0.0 || side * side <= HAIR * HAIR * (edge[0] * edge[0] + edge[1] * edge[1])
}

/// Whether a convex piece holds a place, or its edge does.
#[inline]
fn holds(corners: &[P2], p: P2) -> bool {
    let mut a = corners[corners.len() - 1];
    corners.iter().all(|&b| {
        let (edge, to) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
        a = b;
        on_or_left(edge, to)
    })
}

impl Mosaic {
    /// Ends the work in hand: what it changed beyond its daylight line, where the ground dips out of
    /// its slopes and a mound comes up again, is put back; the rest is measured. `strip`: topsoil under
    /// what it places is dug first, and its room filled too.
    pub fn finish(&mut self, topsoil_depth: f64, strip: bool) -> Moved {
        self.settle();
        let mut moved = Moved::default();
        let n = self.base_count();
        // Volumes times places, for the centroids.
        let (mut dug, mut of_cut, mut of_fill) = (0.0, [0.0; 2], [0.0; 2]);
        let mut stripped: Vec<(u32, Plane)> = Vec::new();
        let (mut rise, mut fall): (Gaps, Gaps) = Default::default();
        for &id in &self.changed {
            let piece = &self.pieces[(id - n) as usize];
            if !piece.live || piece.solid {
                continue;
            }
            let start = piece.start as usize;
            let poly = &self.corners[start..start + piece.len as usize];
            let plane = |i: u32| &self.planes[i as usize];
            let (now, before) = (plane(piece.plane), plane(piece.before));
            rise.clear();
            fall.clear();
            let (mut up, mut down) = (0.0f64, 0.0f64);
            for &p in poly {
                let d = level(now.at(p) - before.at(p));
                (up, down) = (up.max(d), down.max(-d));
                rise.push(d);
                fall.push(-d);
            }
            moved.depth = moved.depth.max(down);
            moved.area += 0.5 * area2(poly);
            let over = |a: &Plane, b: &Plane| -> f64 {
                let gap: Gaps = poly.iter().map(|&p| level(a.at(p) - b.at(p))).collect();
                positive_integral(poly, &gap)
            };
            let mut cut = 0.0;
            if down > 0.0 {
                let at;
                (cut, at) = positive_moment(poly, &fall);
                dug += cut;
                of_cut = [of_cut[0] + at[0], of_cut[1] + at[1]];
            }
            let (native, native_now) = (plane(piece.before_native), plane(piece.native));
            let bank = if piece.native == piece.before_native {
                0.0
            } else if piece.native == piece.plane && piece.before_native == piece.before {
                // All that is dug here is undisturbed soil.
                cut
            } else {
                over(native, native_now)
            };
            moved.cut_bank += bank;
            moved.redug += (cut - bank).max(0.0);
            let original = plane(piece.original);
            if topsoil_depth > 0.0 && bank > 0.0 {
                // Topsoil is the soil between the ground as surveyed and that much below it.
                let deep = original.raised(-topsoil_depth);
                let above = |top: &Plane, index: u32| {
                    if index == piece.original {
                        return 0.0;
                    }
                    over(original, top) - over(&deep, top)
                };
                let (now, before) = (
                    above(native_now, piece.native),
                    above(native, piece.before_native),
                );
                moved.topsoil += (now - before).max(0.0);
            }
            if up <= 0.0 {
                continue;
            }
            let (fill, at) = positive_moment(poly, &rise);
            moved.fill += fill;
            of_fill = [of_fill[0] + at[0], of_fill[1] + at[1]];
            if topsoil_depth > 0.0 {
                // What is placed on undisturbed topsoil, not on soil placed before.
                let (_, under) = convex::split(poly, &rise, 0.0);
                let deep = original.raised(-topsoil_depth);
                let gap = |a: &Plane, b: &Plane| -> Gaps {
                    under.iter().map(|&p| a.at(p) - b.at(p)).collect()
                };
                let bare = gap(native, before).iter().all(|d| d.abs() < LEVEL);
                if bare && area2(&under) > 0.0 {
                    let (covered, of) = positive_moment(&under, &gap(native_now, &deep));
                    if strip {
                        dug += covered;
                        moved.cut_bank += covered;
                        moved.topsoil += covered;
                        moved.fill += covered;
                        for k in 0..2 {
                            of_cut[k] += of[k];
                            of_fill[k] += of[k];
                        }
                        // Whoever digs here later meets placed soil down to there.
                        let all = rise.iter().all(|&d| d >= 0.0);
                        if all && gap(native_now, &deep).iter().all(|&d| d >= 0.0) {
                            stripped.push((id - n, deep));
                        }
                    } else {
                        moved.covered += covered;
                    }
                }
            }
        }
        for (k, deep) in stripped {
            self.pieces[k as usize].native = self.push_plane(deep);
        }
        let centroid = |volume: f64, of: P2| (volume > 0.0).then(|| of.map(|of| of / volume));
        moved.cut_at = centroid(dug, of_cut);
        moved.fill_at = centroid(moved.fill, of_fill);
        moved
    }

    /// Ends the work in hand without measuring it.
    pub fn settle(&mut self) {
        let n = self.base_count();
        let live: Vec<u32> = self
            .changed
            .iter()
            .copied()
            .filter(|&id| self.is_live(id))
            .collect();
        self.changed = live.clone();
        if live.iter().all(|&id| self.pieces[(id - n) as usize].rooted) {
            return;
        }
        // All that touches the core counts as one, under the number after the last.
        let core = live.len() as u32;
        let mut sets = Sets::new(live.len() + 1);
        let corners = |id: u32| {
            let piece = &self.pieces[(id - n) as usize];
            let start = piece.start as usize;
            let corners = self.corners[start..start + piece.len as usize].iter();
            corners.map(|p| (floor(p[0] * 1e6 + 0.5), floor(p[1] * 1e6 + 0.5)))
        };
        let (held, free): (Vec<u32>, Vec<u32>) =
            (0..core).partition(|&k| self.pieces[(live[k as usize] - n) as usize].rooted);
        let mut corner: FxHashMap<(i64, i64), u32> =
            FxHashMap::with_capacity_and_hasher(2 * free.len(), Default::default());
        for &k in &free {
            for key in corners(live[k as usize]) {
                let other = *corner.entry(key).or_insert(k);
                sets.join(k, other);
            }
        }
        for &k in &held {
            sets.join(k, core);
            for key in corners(live[k as usize]) {
                if let Some(&other) = corner.get(&key) {
                    sets.join(other, core);
                }
            }
        }
        // Pieces may touch along an edge without sharing a corner: look closer at what seems loose,
        // among its neighbours only, for there may be very many of both.
        let firm = sets.root(core);
        let loose: Vec<u32> = free
            .iter()
            .copied()
            .filter(|&k| sets.root(k) != firm)
            .collect();
        if !loose.is_empty() {
            let number: FxHashMap<u32, u32> = live.iter().copied().zip(0..).collect();
            let mut near = Vec::new();
            for k in loose {
                let id = live[k as usize];
                let poly = self.polygon(id);
                let [lo, hi] = self.bounds_of(id);
                self.worked_in(lo, hi, &mut near);
                for &other in &near {
                    let Some(&m) = number.get(&other) else {
                        continue;
                    };
                    if sets.root(m) != sets.root(k) && touch(&poly, &self.polygon(other)) {
                        sets.join(k, m);
                    }
                }
            }
        }
        let firm = sets.root(core);
        for k in free {
            if sets.root(k) != firm {
                let piece = &mut self.pieces[(live[k as usize] - n) as usize];
                piece.plane = piece.before;
                piece.maker = piece.before_maker;
                piece.native = piece.before_native;
                piece.under = piece.before_under;
                piece.under_work = piece.before_under_work;
                piece.work = NO;
            }
        }
        self.changed
            .retain(|&id| self.pieces[(id - n) as usize].work != NO);
    }

    /// Elevation of the surface at a place in plan; `None` where there is none. On a vertical face,
    /// the lower side.
    pub fn elevation(&self, p: P2) -> Option<f64> {
        self.lowest(p, |id| Some(self.plane_of(id)))
    }

    /// The same of the ground as surveyed, which has nothing under walls that stood already.
    pub fn surveyed(&self, p: P2) -> Option<f64> {
        let n = self.base_count();
        self.lowest(p, |id| {
            if id < n {
                return Some(self.plane_of(id));
            }
            let piece = &self.pieces[(id - n) as usize];
            let stood = piece.solid && piece.under == NO;
            (!stood).then(|| self.planes[piece.original as usize])
        })
    }

    fn lowest(&self, p: P2, plane: impl Fn(u32) -> Option<Plane>) -> Option<f64> {
        let n = self.base_count();
        self.grid
            .at(p)
            .filter_map(|id| self.there(id))
            .filter(|&id| {
                if id < n {
                    let [a, b, c] = self.base.corners(id as usize);
                    return holds(&[[a[0], a[1]], [b[0], b[1]], [c[0], c[1]]], p);
                }
                let [lo, hi] = self.boxes[(id - n) as usize];
                let piece = &self.pieces[(id - n) as usize];
                let start = piece.start as usize;
                (0..2).all(|k| p[k] >= lo[k] - HAIR && p[k] <= hi[k] + HAIR)
                    && holds(&self.corners[start..start + piece.len as usize], p)
            })
            .filter_map(|id| Some(plane(id)?.at(p)))
            .min_by(f64::total_cmp)
    }

    /// Volumes between the ground as surveyed and the soil's surface now: (cut, fill), m³. Under a
    /// wall that is the soil it stands on; the footprints of standing walls are left out.
    pub fn since_survey(&self) -> (f64, f64) {
        let (mut cut, mut fill) = (0.0, 0.0);
        let n = self.base_count();
        for (k, piece) in self.pieces.iter().enumerate() {
            let soil = if piece.solid {
                piece.under
            } else {
                piece.plane
            };
            if !piece.live || soil == NO || soil == piece.original {
                continue;
            }
            let poly = self.polygon(n + k as u32);
            let (now, was) = (
                self.planes[soil as usize],
                self.planes[piece.original as usize],
            );
            let gap: SmallVec<[f64; 8]> = poly.iter().map(|&p| was.at(p) - now.at(p)).collect();
            let up: SmallVec<[f64; 8]> = gap.iter().map(|d| -d).collect();
            if gap.iter().any(|&d| d > 0.0) {
                cut += positive_integral(&poly, &gap);
            }
            if up.iter().any(|&d| d > 0.0) {
                fill += positive_integral(&poly, &up);
            }
        }
        (cut, fill)
    }

    /// Who moved soil inside the ring, each with a place where.
    pub fn moved_inside(&self, ring: &[P2]) -> Vec<(Maker, P2)> {
        let n = self.base_count();
        let (lo, hi) = bounds(ring.iter().copied());
        let mut found: Vec<(Maker, P2)> = Vec::new();
        for (k, piece) in self.pieces.iter().enumerate() {
            let [plo, phi] = self.boxes[k];
            let apart = (0..2).any(|i| plo[i] > hi[i] || phi[i] < lo[i]);
            let known = found.iter().any(|f| f.0 == piece.maker);
            if !piece.live || apart || known || piece.plane == piece.original {
                continue;
            }
            let poly = self.polygon(n + k as u32);
            let (now, was) = (
                self.planes[piece.plane as usize],
                self.planes[piece.original as usize],
            );
            let moved = poly.iter().copied().chain([centroid(&poly)]).find(|&p| {
                crate::terrain::predicates::in_ring(ring, p) && (now.at(p) - was.at(p)).abs() > 0.02
            });
            found.extend(moved.map(|p| (piece.maker, p)));
        }
        found
    }

    /// Plan area in which the work just finished changed what `earlier` had made, whose it was, and
    /// a place in it.
    pub fn changed_of(&self, earlier: impl Fn(Maker) -> bool) -> Option<(Maker, f64, P2)> {
        let n = self.base_count();
        let mut found: Option<(Maker, f64, P2)> = None;
        for &id in &self.changed {
            let piece = &self.pieces[(id - n) as usize];
            if !piece.live || piece.solid || !earlier(piece.before_maker) {
                continue;
            }
            let poly = self.polygon(id);
            let at = centroid(&poly);
            let (now, before) = (
                self.planes[piece.plane as usize],
                self.planes[piece.before as usize],
            );
            if (now.at(at) - before.at(at)).abs() > 0.01 {
                let area = 0.5 * area2(&poly);
                found =
                    Some(found.map_or((piece.before_maker, area, at), |f| (f.0, f.1 + area, f.2)));
            }
        }
        found
    }

    /// Of what the work just finished changed, a place where temporary work of another number still
    /// lay, `raised` or not, and whose it was.
    pub fn on_temporary(&self, raised: bool) -> Option<(Maker, P2)> {
        let n = self.base_count();
        self.changed.iter().find_map(|&id| {
            let piece = &self.pieces[(id - n) as usize];
            let other = piece.before_under != NO && piece.before_under_work != piece.work;
            if !piece.live || piece.solid || !other {
                return None;
            }
            let poly = self.polygon(id);
            let at = centroid(&poly);
            let rise = self.planes[piece.plane as usize].at(at)
                - self.planes[piece.before as usize].at(at);
            let met = if raised { rise > 0.01 } else { rise < -0.01 };
            (met && area2(&poly) > 0.02).then_some((piece.before_maker, at))
        })
    }

    /// What stands of a temporary work: soil over what lay under it, m³.
    pub fn stands_of(&self, work: u32) -> f64 {
        self.stands(|p| (p.under_work == work && p.under != NO).then_some(p.under))
    }

    /// Soil under the surface that some makers left, down to what they found there, m³.
    pub fn stands_by(&self, of: impl Fn(Maker) -> bool) -> f64 {
        self.stands(|p| of(p.maker).then(|| p.foot()))
    }

    /// `over`: the plane that soil in a piece stands on, if it is any of it.
    fn stands(&self, over: impl Fn(&Piece) -> Option<u32>) -> f64 {
        let live = self.pieces.iter().filter(|p| p.live && !p.solid);
        live.filter_map(|piece| {
            let foot = self.planes[over(piece)? as usize];
            let now = self.planes[piece.plane as usize];
            let start = piece.start as usize;
            let poly = &self.corners[start..start + piece.len as usize];
            let gap: Gaps = poly
                .iter()
                .map(|&p| level(now.at(p) - foot.at(p)))
                .collect();
            Some(positive_integral(poly, &gap))
        })
        .sum()
    }

    /// For each maker of the surface now, how far below the ground as surveyed it lies at most, and
    /// where.
    pub fn deepest(&self) -> FxHashMap<Maker, (f64, P2)> {
        let n = self.base_count();
        let mut found: FxHashMap<Maker, (f64, P2)> = FxHashMap::default();
        for (k, piece) in self.pieces.iter().enumerate() {
            if !piece.live || piece.solid || piece.plane == piece.original {
                continue;
            }
            let (now, was) = (
                self.planes[piece.plane as usize],
                self.planes[piece.original as usize],
            );
            for p in self.polygon(n + k as u32) {
                let depth = was.at(p) - now.at(p);
                let best = found.entry(piece.maker).or_insert((depth, p));
                if depth > best.0 {
                    *best = (depth, p);
                }
            }
        }
        found
    }

    /// Who moved soil at a place in plan (by more than a finger's width), if anyone.
    pub fn moved_at(&self, p: P2) -> Option<Maker> {
        let n = self.base_count();
        self.grid
            .at(p)
            .filter_map(|id| self.there(id).filter(|&id| id >= n))
            .find_map(|id| {
                let piece = &self.pieces[(id - n) as usize];
                let [lo, hi] = self.boxes[(id - n) as usize];
                let inside = p[0] >= lo[0] && p[0] <= hi[0] && p[1] >= lo[1] && p[1] <= hi[1];
                if piece.solid || piece.plane == piece.original || !inside {
                    return None;
                }
                let poly = self.polygon(id);
                let within =
                    (0..poly.len()).all(|k| cross(poly[k], poly[(k + 1) % poly.len()], p) >= 0.0);
                let (now, was) = (
                    self.planes[piece.plane as usize],
                    self.planes[piece.original as usize],
                );
                (within && (now.at(p) - was.at(p)).abs() > 0.02).then_some(piece.maker)
            })
    }

    /// Volume over the level `datum` of everything but the walls, m³.
    pub fn volume_over(&self, datum: f64) -> f64 {
        self.live_ids()
            .filter(|&id| {
                id < self.base_count() || !self.pieces[(id - self.base_count()) as usize].solid
            })
            .map(|id| {
                let poly = self.polygon(id);
                let plane = self.plane_of(id);
                let d: SmallVec<[f64; 8]> = poly.iter().map(|&p| plane.at(p) - datum).collect();
                convex::integral(&poly, &d)
            })
            .sum()
    }
}

/// Whether two convex polygons touch: no edge of either keeps them apart by more than a micrometre.
fn touch(a: &[P2], b: &[P2]) -> bool {
    let apart = |a: &[P2], b: &[P2]| {
        (0..a.len()).any(|k| {
            let (p, q) = (a[k], a[(k + 1) % a.len()]);
            let length = ((q[0] - p[0]).powi(2) + (q[1] - p[1]).powi(2)).sqrt();
            length > 0.0 && b.iter().all(|&r| cross(p, q, r) < -1e-6 * length)
        })
    };
    !apart(a, b) && !apart(b, a)
}
