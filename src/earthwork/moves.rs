//! Digging and placing on the mosaic: what lies inside a facet's outline and on the wrong side of its
//! plane goes to the facet; what is cut off stays as it was. Metres.

use smallvec::SmallVec;

use crate::terrain::convex::{self, ON, Polygon, SPECK, area2};
use crate::terrain::predicates::{P2, cross};
use crate::terrain::{Maker, Plane};

use super::envelope::{self, envelope};
use super::facet::{Act, Facet};
use super::mosaic::{LEVEL, Mosaic, NO, Obstruction, Piece, bounds, centroid};

/// So many pieces of ground for each facet make the envelope worth its while. Tried on the demo with
/// up to a million points: at 4 the demo takes half as long again, without an envelope a million
/// points take a third longer; in between 100 did best.
const MUCH: usize = 100;

/// Least and most of a measure over some corners.
#[inline]
fn range(corners: &[P2], measure: impl Fn(P2) -> f64) -> [f64; 2] {
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    for &p in corners {
        let s = measure(p);
        least = if s < least { s } else { least };
        most = if s > most { s } else { most };
    }
    [least, most]
}

impl Mosaic {
    /// Lowers (or raises) the surface to the lowest (or highest) of the facets.
    pub fn apply_all(&mut self, act: Act, facets: &[Facet]) {
        let corners = facets.iter().flat_map(|f| &f.outline).copied();
        let (lo, hi) = bounds(corners);
        // Their envelope has some three times as many facets: worth it where there is much ground.
        if facets.len() > 1 && self.grid.about(lo, hi) > MUCH * facets.len() {
            for facet in &envelope(act, facets) {
                self.apply(act, facet);
            }
        } else {
            for facet in facets {
                self.apply(act, facet);
            }
        }
    }

    /// Lowers (or raises) the surface to the facet wherever that lies lower (or higher).
    pub fn apply(&mut self, act: Act, facet: &Facet) {
        let sign = match act {
            Act::Dig => 1.0,
            Act::Place => -1.0,
        };
        let (lo, hi) = bounds(facet.outline.iter().copied());
        let mut ids = std::mem::take(&mut self.ids);
        let (pieces, n) = (&self.pieces, self.base_count());
        let live = |id: u32| pieces[(id - n) as usize].live;
        self.grid
            .query_move(act, &facet.outline, &facet.plane, live, &mut ids);
        // The facet's edges as a point and the unit normal inward; the side of a place is its
        // distance from the edge.
        let edges: SmallVec<[(P2, P2); 8]> = (0..facet.outline.len())
            .filter_map(|k| {
                let (a, b) = (
                    facet.outline[k],
                    facet.outline[(k + 1) % facet.outline.len()],
                );
                let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
                let length = (dx * dx + dy * dy).sqrt();
                (length >= ON).then(|| (a, [-dy / length, dx / length]))
            })
            .collect();
        let last = edges.len();
        let mut facet_plane = NO;
        for &id in &ids {
            let Some(id) = self.there(id) else { continue };
            let [plo, phi] = self.bounds_of(id);
            if plo[0] >= hi[0] || phi[0] <= lo[0] || plo[1] >= hi[1] || phi[1] <= lo[1] {
                continue;
            }
            let triangle;
            let (corners, plane): (&[P2], Plane) = if id < n {
                let [a, b, c] = self.base.corners(id as usize);
                triangle = [[a[0], a[1]], [b[0], b[1]], [c[0], c[1]]];
                (&triangle, Plane::through(a, b, c))
            } else {
                let piece = &self.pieces[(id - n) as usize];
                let start = piece.start as usize;
                (
                    &self.corners[start..start + piece.len as usize],
                    self.planes[piece.plane as usize],
                )
            };
            // Most of what a facet's box meets it does not reach, or takes whole: both are told from
            // box and corners, without copies.
            let gap = |p: P2| sign * (plane.at(p) - facet.plane.at(p));
            let [least, most] = range(corners, gap);
            if most <= LEVEL {
                continue;
            }
            // Only lines that the piece lies across can cut it; last among them the move itself, how
            // far it reaches.
            let mut across: SmallVec<[(f64, usize); 8]> = SmallVec::new();
            if least < -ON {
                across.push((least, last));
            }
            let side = |(a, n): &(P2, P2), p: P2| n[0] * (p[0] - a[0]) + n[1] * (p[1] - a[1]);
            let met = edges.iter().enumerate().all(|(k, edge)| {
                // The corner of the box furthest out, and that furthest in.
                let out = [0, 1].map(|i| if edge.1[i] > 0.0 { plo[i] } else { phi[i] });
                let inward = [0, 1].map(|i| if edge.1[i] > 0.0 { phi[i] } else { plo[i] });
                if side(edge, out) >= -ON {
                    return true;
                }
                if side(edge, inward) <= ON {
                    return false;
                }
                let [least, most] = range(corners, |p| side(edge, p));
                if least < -ON {
                    across.push((least, k));
                }
                most > ON
            });
            if !met {
                continue;
            }
            let line = |k: usize, p: P2| match edges.get(k) {
                Some(edge) => side(edge, p),
                None => gap(p),
            };
            if across.is_empty() {
                let poly = Polygon::from_slice(corners);
                if area2(&poly) < SPECK || !self.yields(id, &poly, gap) {
                    continue;
                }
                if facet_plane == NO {
                    facet_plane = self.push_plane(facet.plane);
                }
                self.take_whole(id, facet_plane, facet, &poly);
                continue;
            }
            let poly = Polygon::from_slice(corners);
            // Cut along the line that leaves most outside first: then few others still cut, and
            // the next facet meets few pieces.
            across.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
            let mut rest = poly;
            let mut outside: SmallVec<[Polygon; 6]> = SmallVec::new();
            for &(_, k) in &across {
                let at: SmallVec<[f64; 8]> = rest.iter().map(|&p| line(k, p)).collect();
                if at.iter().any(|&s| s < -ON) {
                    let (out, inside) = convex::split(&rest, &at, ON);
                    rest = inside;
                    if rest.is_empty() {
                        break;
                    }
                    outside.push(out);
                }
            }
            if area2(&rest) < SPECK
                || rest.iter().all(|&p| gap(p) <= LEVEL)
                || !self.yields(id, &rest, gap)
            {
                continue;
            }
            if facet_plane == NO {
                facet_plane = self.push_plane(facet.plane);
            }
            self.put(id, &outside, &rest, facet_plane, facet);
        }
        self.ids = ids;
    }

    /// Raises what works before the one in hand dug below the level ones of these facets, as far as they lie
    /// under the water: lining and stone are laid up to those. But nothing is raised higher than the ground as
    /// surveyed: where that lies lower by nature, nobody has placed soil. Sides are left out: stone does not
    /// make up for ground that is missing there.
    pub fn make_good(&mut self, dug_to: &[Facet], water: f64) {
        let (lo, hi) = bounds(dug_to.iter().flat_map(|f| &f.outline).copied());
        let mut ids = std::mem::take(&mut self.ids);
        self.worked_in(lo, hi, &mut ids);
        let n = self.base_count();
        ids.retain(|id| {
            let piece = &self.pieces[(id - n) as usize];
            // What the work in hand dug lies on its facets.
            let earlier = piece.work != self.work && piece.plane != piece.original;
            let [now, surveyed] = [piece.plane, piece.original].map(|k| self.planes[k as usize]);
            let dug = |p: P2| surveyed.at(p) > now.at(p) + LEVEL;
            earlier && !piece.solid && self.polygon(*id).iter().any(|&p| dug(p))
        });
        if !ids.is_empty() {
            // One layer of facets that do not overlap: the lowest at each place.
            for facet in envelope::beyond(Act::Dig, dug_to, water) {
                if facet.plane.slope() == 0.0 {
                    self.make_good_to(&facet, &mut ids);
                }
            }
        }
        self.ids = ids;
    }

    /// The same for one facet and these pieces, of which some may be no more; what is left of others is added.
    fn make_good_to(&mut self, facet: &Facet, ids: &mut Vec<u32>) {
        let (lo, hi) = bounds(facet.outline.iter().copied());
        let n = self.base_count();
        let mut facet_plane = NO;
        for next in 0..ids.len() {
            let id = ids[next];
            let record = self.pieces[(id - n) as usize];
            if !record.live {
                continue;
            }
            let [plo, phi] = self.bounds_of(id);
            if plo[0] >= hi[0] || phi[0] <= lo[0] || plo[1] >= hi[1] || phi[1] <= lo[1] {
                continue;
            }
            let poly = self.polygon(id);
            let [now, surveyed] = [record.plane, record.original].map(|k| self.planes[k as usize]);
            // Most pieces are told by their corners: those that lie on the facet already first of all.
            let low = |poly: &[P2]| {
                let under = |plane: &Plane| poly.iter().any(|&p| plane.at(p) > now.at(p) + LEVEL);
                under(&facet.plane) && under(&surveyed)
            };
            if !low(&poly) {
                continue;
            }
            let inside = convex::shared(&poly, &facet.outline);
            if area2(&inside) < SPECK || !low(&inside) {
                continue;
            }
            self.kill(id);
            let kept = n + self.pieces.len() as u32;
            // In what order the cuts are made does not matter: what they leave out stays as it is.
            let mut rest = poly;
            for k in 0..facet.outline.len() {
                let (a, b) = (
                    facet.outline[k],
                    facet.outline[(k + 1) % facet.outline.len()],
                );
                let length = ((b[0] - a[0]).powi(2) + (b[1] - a[1]).powi(2)).sqrt();
                if length < ON {
                    continue;
                }
                rest = self.keep(record, &rest, |p| cross(a, b, p) / length);
            }
            let gap = |p: P2| surveyed.at(p) - facet.plane.at(p);
            let heights: SmallVec<[f64; 8]> = rest.iter().map(|&p| gap(p)).collect();
            let (by_ground, by_facet) = convex::split(&rest, &heights, LEVEL);
            for (part, plane) in [(by_ground, surveyed), (by_facet, facet.plane)] {
                let part = self.keep(record, &part, |p| plane.at(p) - now.at(p));
                if area2(&part) <= 0.0 {
                    continue;
                }
                let number = if plane == surveyed {
                    record.original
                } else {
                    if facet_plane == NO {
                        facet_plane = self.push_plane(facet.plane);
                    }
                    facet_plane
                };
                let new = self.change(record, number, facet.maker, facet.roots(&part));
                self.lay(new, &part);
            }
            let left = kept..n + self.pieces.len() as u32;
            ids.extend(left.filter(|&id| self.pieces[(id - n) as usize].work != self.work));
        }
    }

    /// Cuts a polygon in two and lays down, as it was, the part where a measure is under zero; gives the
    /// other.
    fn keep(&mut self, record: Piece, poly: &[P2], side: impl Fn(P2) -> f64) -> Polygon {
        let at: SmallVec<[f64; 8]> = poly.iter().map(|&p| side(p)).collect();
        let (out, rest) = convex::split(poly, &at, ON);
        if area2(&out) > 0.0 {
            self.push(record, &out);
        }
        rest
    }

    /// Cuts a piece up: what lies outside stays as it is, what lies inside goes to the facet.
    fn put(&mut self, id: u32, outside: &[Polygon], inside: &[P2], plane: u32, facet: &Facet) {
        let record = self.record(id);
        self.kill(id);
        for out in outside {
            if area2(out) > 0.0 {
                self.push(record, out);
            }
        }
        let changed = self.change(record, plane, facet.maker, facet.roots(inside));
        self.lay(changed, inside);
    }

    /// Whether the piece is soil. A wall stays as it is, and is noted as in the way where more than
    /// a finger's width would have to go.
    fn yields(&mut self, id: u32, region: &[P2], gap: impl Fn(P2) -> f64) -> bool {
        let n = self.base_count();
        if id < n || !self.pieces[(id - n) as usize].solid {
            return true;
        }
        if area2(region) > 0.02 && region.iter().any(|&p| gap(p) > 0.02) {
            self.obstructions.push(Obstruction {
                maker: self.pieces[(id - n) as usize].maker,
                at: centroid(region),
            });
        }
        false
    }

    /// Puts the whole of a piece on the facet, where it lies.
    fn take_whole(&mut self, id: u32, facet_plane: u32, facet: &Facet, poly: &[P2]) {
        let n = self.base_count();
        let record = self.record(id);
        let mut new = self.change(record, facet_plane, facet.maker, facet.roots(poly));
        let (surface, native) = (&facet.plane, self.planes[new.native as usize]);
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for &p in poly {
            let deep = native.at(p) - surface.at(p);
            least = least.min(deep);
            most = most.max(deep);
        }
        if most > LEVEL {
            if least < -LEVEL {
                // Part of it goes into undisturbed soil.
                self.kill(id);
                self.lay(new, poly);
                return;
            }
            new.native = facet_plane;
        }
        if id < n {
            self.became[id as usize] = self.pieces.len() as u32;
            self.add(new, poly);
        } else {
            if record.work != self.work {
                self.changed.push(id);
            }
            self.pieces[(id - n) as usize] = new;
        }
    }

    /// The record of a piece after the work in hand has put it on `plane`.
    pub(super) fn change(
        &mut self,
        record: Piece,
        plane: u32,
        maker: Maker,
        rooted: bool,
    ) -> Piece {
        let mut new = record;
        if record.work != self.work {
            new.work = self.work;
            new.before = record.plane;
            new.before_maker = record.maker;
            new.before_native = record.native;
            new.before_under = record.under;
            new.before_under_work = record.under_work;
            new.rooted = false;
            if self.temporary && record.under == NO {
                new.under = record.plane;
                new.under_work = self.work;
                new.under_maker = record.maker;
            }
        }
        new.rooted |= rooted;
        new.plane = plane;
        new.maker = maker;
        new
    }

    /// Lays a changed piece down; where it reaches below the undisturbed soil, that soil ends there.
    pub(super) fn lay(&mut self, record: Piece, poly: &[P2]) {
        let (surface, native) = (
            self.planes[record.plane as usize],
            self.planes[record.native as usize],
        );
        let deep: SmallVec<[f64; 8]> = poly.iter().map(|&p| native.at(p) - surface.at(p)).collect();
        if deep.iter().all(|&d| d <= LEVEL) {
            self.push(record, poly);
        } else if deep.iter().all(|&d| d >= -LEVEL) {
            self.push(
                Piece {
                    native: record.plane,
                    ..record
                },
                poly,
            );
        } else {
            let (keep, cut) = convex::split(poly, &deep, LEVEL);
            if area2(&keep) > 0.0 {
                self.push(record, &keep);
            }
            if area2(&cut) > 0.0 {
                self.push(
                    Piece {
                        native: record.plane,
                        ..record
                    },
                    &cut,
                );
            }
        }
    }
}
