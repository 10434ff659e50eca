//! The ground as a mosaic of convex pieces, each on one plane, worked by grading moves.
//!
//! The ground's own triangles are pieces from the start; a move that lowers the ground to a facet
//! ("dig to") or raises it to one ("place to") splits just the pieces it really changes. A changed
//! region is an intersection of half-planes, so it is convex, and what is left of the piece falls
//! into convex pieces on the same plane. Planes are kept exactly as they came, so nothing drifts
//! however often a piece is split.
//!
//! Each piece remembers the plane of the ground as surveyed, that of the undisturbed soil, and, on
//! temporary works, that of what lies under them. So soil dug out of a fill is never taken for
//! bank soil, and a ramp that was dug through is not taken back where it no longer is.
//!
//! Metres; plan coordinates near the origin.

use std::sync::Arc;

use smallvec::SmallVec;

use crate::terrain::convex::{self, Polygon, area2};
use crate::terrain::predicates::{P2, cross};
use crate::terrain::{GROUND, Maker, Plane, Span, Surface};

use super::facet::{Act, Facet};
use super::grid::Grid;

/// Height differences smaller than this (metres) count as none.
pub const LEVEL: f64 = 1e-9;

pub(super) const NO: u32 = u32::MAX;

/// A triangle of the ground that no work has touched, or that was cut up.
const LIVE: u32 = u32::MAX;
const CUT: u32 = u32::MAX - 1;

#[derive(Debug, Clone, Copy)]
pub struct Piece {
    pub(super) start: u32,
    pub(super) len: u16,
    pub maker: Maker,
    /// A wall: no move changes it.
    pub solid: bool,
    pub(super) live: bool,
    /// The surface now, the ground as surveyed, and the undisturbed soil (planes by index).
    pub(super) plane: u32,
    pub(super) original: u32,
    pub(super) native: u32,
    /// The surface under temporary work, and the number of that work.
    pub(super) under: u32,
    pub(super) under_work: u32,
    pub(super) under_maker: Maker,
    /// As before the work in hand.
    pub(super) work: u32,
    pub(super) before: u32,
    pub(super) before_maker: Maker,
    pub(super) before_native: u32,
    pub(super) before_under: u32,
    pub(super) before_under_work: u32,
    /// Touches the core of the work in hand.
    pub(super) rooted: bool,
}

impl Piece {
    /// Ground that no work has touched.
    fn fresh(plane: u32, maker: Maker) -> Self {
        Piece {
            start: 0,
            len: 0,
            maker,
            solid: false,
            live: true,
            plane,
            original: plane,
            native: plane,
            under: NO,
            under_work: NO,
            under_maker: maker,
            work: NO,
            before: plane,
            before_maker: maker,
            before_native: plane,
            before_under: NO,
            before_under_work: NO,
            rooted: false,
        }
    }
}

impl Piece {
    /// The plane that the soil placed by its maker stands on: the surface that the work found, or, where
    /// that was undisturbed soil, what the work left of it.
    pub(super) fn foot(&self) -> u32 {
        if self.before == self.before_native || self.before == self.plane {
            self.native
        } else {
            self.before
        }
    }
}

/// What became of a triangle of the ground.
pub(super) enum Fate {
    Untouched,
    /// A work took all of it: the piece in its place.
    Whole(u32),
    Cut,
}

/// What one work moved.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Moved {
    /// Undisturbed soil dug, m³ bank.
    pub cut_bank: f64,
    /// Placed soil dug out again, m³ as it lies.
    pub redug: f64,
    /// Soil placed, m³ as it lies.
    pub fill: f64,
    /// Of `cut_bank`, topsoil.
    pub topsoil: f64,
    /// Topsoil left lying under `fill`.
    pub covered: f64,
    /// Plan area changed, m².
    pub area: f64,
    /// Deepest cut, m.
    pub depth: f64,
    /// Centroid in plan of all that is dug, bank and placed before.
    pub cut_at: Option<P2>,
    /// Centroid in plan of what is placed.
    pub fill_at: Option<P2>,
}

/// A wall in the way of a move: soil would have to be dug from it, or laid over its cap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Obstruction {
    pub maker: Maker,
    pub at: P2,
}

#[derive(Clone)]
pub struct Mosaic {
    /// Shared by all copies of the mosaic: a large ground is never copied.
    pub(super) base: Arc<Surface>,
    /// What became of each triangle of the ground: [`LIVE`], [`CUT`], or the piece that took its
    /// whole place, which the grid goes on finding under the triangle's own id.
    pub(super) became: Vec<u32>,
    pub(super) planes: Vec<Plane>,
    pub(super) corners: Vec<P2>,
    /// Box in plan of each piece: low and high corner.
    pub(super) boxes: Vec<[P2; 2]>,
    pub(super) pieces: Vec<Piece>,
    pub(super) grid: Grid,
    /// Ids of pieces that the work in hand has changed (may hold dead ones).
    pub(super) changed: Vec<u32>,
    pub(super) work: u32,
    pub(super) temporary: bool,
    /// Room for the answers of the grid, kept to spare allocations.
    pub(super) ids: Vec<u32>,
    /// Walls that stood in the way of the work in hand.
    pub obstructions: Vec<Obstruction>,
}

pub(super) fn bounds(points: impl IntoIterator<Item = P2>) -> (P2, P2) {
    let Span { low, high } = Span::of(points);
    (low, high)
}

impl Mosaic {
    pub fn new(ground: impl Into<Arc<Surface>>) -> Self {
        let ground = ground.into();
        let grid = Grid::new(&ground);
        Mosaic::of(ground, grid)
    }

    fn of(ground: Arc<Surface>, grid: Grid) -> Self {
        Mosaic {
            became: vec![LIVE; ground.triangles.len()],
            grid,
            base: ground,
            planes: Vec::new(),
            corners: Vec::new(),
            boxes: Vec::new(),
            pieces: Vec::new(),
            changed: Vec::new(),
            work: 0,
            temporary: false,
            ids: Vec::new(),
            obstructions: Vec::new(),
        }
    }

    /// A level sheet, convex, for some `works` facets to be worked into.
    pub(super) fn sheet(outline: &[P2], level: f64, works: usize) -> Self {
        let (lo, hi) = bounds(outline.iter().copied());
        let grid = Grid::over(lo, hi, 2 * works + 16);
        let mut sheet = Mosaic::of(Arc::default(), grid);
        let plane = sheet.push_plane(Plane::level(level));
        sheet.push_at(Piece::fresh(plane, GROUND), outline);
        sheet
    }

    /// Makes room for the pieces that works will cut: growing bit by bit would copy them all again and
    /// again.
    pub fn with_room(mut self) -> Self {
        let pieces = (4_000 + self.base.triangles.len()).min(400_000);
        self.pieces.reserve(pieces);
        self.boxes.reserve(pieces);
        self.corners.reserve(4 * pieces);
        self.planes.reserve(pieces);
        self.grid.reserve(2 * pieces);
        self
    }

    pub(super) fn base_count(&self) -> u32 {
        self.base.triangles.len() as u32
    }

    pub(super) fn polygon(&self, id: u32) -> Polygon {
        let n = self.base_count();
        if id < n {
            self.base.triangles[id as usize]
                .iter()
                .map(|&i| {
                    let p = self.base.points[i as usize];
                    [p[0], p[1]]
                })
                .collect()
        } else {
            let piece = &self.pieces[(id - n) as usize];
            Polygon::from_slice(
                &self.corners[piece.start as usize..piece.start as usize + piece.len as usize],
            )
        }
    }

    pub(super) fn bounds_of(&self, id: u32) -> [P2; 2] {
        let n = self.base_count();
        if id >= n {
            return self.boxes[(id - n) as usize];
        }
        let [a, b, c] = self.base.corners(id as usize);
        let (low, high) = (
            |k: usize| a[k].min(b[k]).min(c[k]),
            |k: usize| a[k].max(b[k]).max(c[k]),
        );
        [[low(0), low(1)], [high(0), high(1)]]
    }

    pub(super) fn is_live(&self, id: u32) -> bool {
        let n = self.base_count();
        if id < n {
            self.became[id as usize] == LIVE
        } else {
            self.pieces[(id - n) as usize].live
        }
    }

    pub(super) fn plane_of(&self, id: u32) -> Plane {
        let n = self.base_count();
        if id < n {
            let [a, b, c] = self.base.corners(id as usize);
            Plane::through(a, b, c)
        } else {
            self.planes[self.pieces[(id - n) as usize].plane as usize]
        }
    }

    /// The top of the undisturbed soil.
    pub(super) fn undisturbed(&self, id: u32) -> Plane {
        let n = self.base_count();
        if id < n {
            self.plane_of(id)
        } else {
            self.planes[self.pieces[(id - n) as usize].native as usize]
        }
    }

    pub(super) fn maker_of(&self, id: u32) -> Maker {
        let n = self.base_count();
        if id < n {
            let makers = &self.base.made_by;
            makers.get(id as usize).copied().unwrap_or(GROUND)
        } else {
            self.pieces[(id - n) as usize].maker
        }
    }

    /// The piece that the grid found under this id, if it is still there.
    #[inline]
    pub(super) fn there(&self, id: u32) -> Option<u32> {
        let n = self.base_count();
        let id = if id < n {
            match self.became[id as usize] {
                LIVE => return Some(id),
                CUT => return None,
                piece => n + piece,
            }
        } else {
            id
        };
        self.pieces[(id - n) as usize].live.then_some(id)
    }

    /// The pieces near a box that are no longer triangles of the ground.
    pub(super) fn worked_in(&self, lo: P2, hi: P2, out: &mut Vec<u32>) {
        let n = self.base_count();
        let worked = |id| self.there(id).filter(|&id| id >= n);
        self.grid.query_for(lo, hi, worked, out);
    }

    pub(super) fn push_plane(&mut self, plane: Plane) -> u32 {
        self.planes.push(plane);
        self.planes.len() as u32 - 1
    }

    /// The piece's record; for a triangle of the ground, a fresh one.
    pub(super) fn record(&mut self, id: u32) -> Piece {
        let n = self.base_count();
        if id >= n {
            return self.pieces[(id - n) as usize];
        }
        let plane = self.plane_of(id);
        let plane = self.push_plane(plane);
        let maker = self
            .base
            .made_by
            .get(id as usize)
            .copied()
            .unwrap_or(GROUND);
        Piece::fresh(plane, maker)
    }

    pub(super) fn kill(&mut self, id: u32) {
        let n = self.base_count();
        if id < n {
            self.became[id as usize] = CUT;
        } else {
            self.pieces[(id - n) as usize].live = false;
        }
    }

    pub(super) fn push(&mut self, record: Piece, poly: &[P2]) -> u32 {
        let id = self.add(record, poly);
        let [lo, hi] = self.boxes[(id - self.base_count()) as usize];
        self.grid.add(id, lo, hi);
        id
    }

    /// A new piece on a plane that is neither the ground's nor that of a move.
    fn push_at(&mut self, record: Piece, poly: &[P2]) {
        let id = self.add(record, poly);
        let [lo, hi] = self.boxes[(id - self.base_count()) as usize];
        let plane = self.planes[record.plane as usize];
        let range = poly
            .iter()
            .map(|&p| plane.at(p))
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], z| {
                [l.min(z), h.max(z)]
            });
        self.grid.add_at(id, lo, hi, range);
    }

    /// A new piece that the grid does not find by itself.
    pub(super) fn add(&mut self, record: Piece, poly: &[P2]) -> u32 {
        let id = self.base_count() + self.pieces.len() as u32;
        let piece = Piece {
            start: self.corners.len() as u32,
            len: poly.len() as u16,
            live: true,
            ..record
        };
        self.corners.extend_from_slice(poly);
        self.pieces.push(piece);
        let (lo, hi) = bounds(poly.iter().copied());
        self.boxes.push([lo, hi]);
        if piece.work == self.work && self.work != 0 {
            self.changed.push(id);
        }
        id
    }

    /// Starts a work. `temporary`: what it covers or digs will be put back by [`Mosaic::restore`].
    /// Returns the work's number.
    pub fn begin(&mut self, temporary: bool) -> u32 {
        self.work += 1;
        self.temporary = temporary;
        self.changed.clear();
        self.obstructions.clear();
        self.work
    }

    /// Takes the work with number `work` back: soil above what lay under it is dug off (`Dig`), or
    /// what was dug is filled up again (`Place`).
    pub fn restore(&mut self, work: u32, act: Act) {
        let sign = if act == Act::Dig { 1.0 } else { -1.0 };
        for k in 0..self.pieces.len() {
            let record = self.pieces[k];
            if !record.live || record.under_work != work || record.under == NO || record.solid {
                continue;
            }
            let id = self.base_count() + k as u32;
            let poly = self.polygon(id);
            let (now, under) = (
                self.planes[record.plane as usize],
                self.planes[record.under as usize],
            );
            let gap: SmallVec<[f64; 8]> = poly
                .iter()
                .map(|&p| sign * (now.at(p) - under.at(p)))
                .collect();
            if gap.iter().all(|&d| d <= LEVEL) {
                self.pieces[k].under = NO;
                self.pieces[k].under_work = NO;
                continue;
            }
            let maker = record.under_maker;
            self.kill(id);
            let (keep, back) = if gap.iter().any(|&d| d < -LEVEL) {
                convex::split(&poly, &gap, LEVEL)
            } else {
                (Polygon::new(), poly)
            };
            if area2(&keep) > 0.0 {
                self.push(
                    Piece {
                        under: NO,
                        under_work: NO,
                        ..record
                    },
                    &keep,
                );
            }
            let mut new = self.change(record, record.under, maker, true);
            new.under = NO;
            new.under_work = NO;
            self.lay(new, &back);
        }
    }

    /// Turns the surface inside `outline` (convex) into the top of a wall that no move changes.
    pub fn build_solid(&mut self, facet: &Facet) {
        // Put down first whatever stands above, then up whatever lies below.
        let temporary = std::mem::replace(&mut self.temporary, false);
        self.apply(Act::Dig, facet);
        self.apply(Act::Place, facet);
        self.temporary = temporary;
        let (lo, hi) = bounds(facet.outline.iter().copied());
        let mut ids = Vec::new();
        self.worked_in(lo, hi, &mut ids);
        let n = self.base_count();
        for id in ids {
            let poly = self.polygon(id);
            let c = centroid(&poly);
            let inside = (0..facet.outline.len()).all(|k| {
                cross(
                    facet.outline[k],
                    facet.outline[(k + 1) % facet.outline.len()],
                    c,
                ) >= 0.0
            });
            let piece = &mut self.pieces[(id - n) as usize];
            if inside && piece.maker == facet.maker {
                piece.solid = true;
                // The soil the wall stands on, for the balance of soil.
                piece.under = piece.before;
                piece.under_work = NO;
                piece.native = piece.before_native;
            }
        }
    }

    /// Adds a wall's top over plan that has no ground (a footprint left out of the survey).
    pub fn add_solid(&mut self, outline: &[P2], plane: Plane, maker: Maker) {
        let plane = self.push_plane(plane);
        let record = Piece {
            solid: true,
            ..Piece::fresh(plane, maker)
        };
        self.push_at(record, outline);
    }

    pub(super) fn live_ids(&self) -> impl Iterator<Item = u32> + '_ {
        let n = self.base_count();
        (0..n + self.pieces.len() as u32).filter(|&id| self.is_live(id))
    }

    /// Number of pieces, untouched triangles included.
    pub fn len(&self) -> usize {
        self.live_ids().count()
    }

    pub fn is_empty(&self) -> bool {
        self.live_ids().next().is_none()
    }

    /// What became of triangle `t` of the ground.
    pub(super) fn fate(&self, t: usize) -> Fate {
        match self.became[t] {
            LIVE => Fate::Untouched,
            CUT => Fate::Cut,
            k if self.pieces[k as usize].live => Fate::Whole(k),
            _ => Fate::Cut,
        }
    }

    /// Boxes in plan of the walls that stood before any work.
    pub(super) fn standing_walls(&self) -> impl Iterator<Item = [P2; 2]> + '_ {
        let walls = self.pieces.iter().zip(&self.boxes);
        walls
            .filter(|(p, _)| p.live && p.solid && p.under == NO)
            .map(|(_, b)| *b)
    }

    /// Hands out every live piece that is no longer (or never was) a triangle of the ground.
    pub fn worked(&self) -> impl Iterator<Item = (&[P2], Plane, Maker)> + '_ {
        let live = (0..self.pieces.len()).filter(|&k| self.pieces[k].live);
        live.map(|k| self.piece(k))
    }

    /// Outline, plane and maker of a piece; `None` for one that is no more.
    pub(super) fn left(&self, k: usize) -> Option<(&[P2], Plane, Maker)> {
        self.pieces[k].live.then(|| self.piece(k))
    }

    fn piece(&self, k: usize) -> (&[P2], Plane, Maker) {
        let p = &self.pieces[k];
        let start = p.start as usize;
        (
            &self.corners[start..start + p.len as usize],
            self.planes[p.plane as usize],
            p.maker,
        )
    }
}

pub(super) fn centroid(poly: &[P2]) -> P2 {
    let n = poly.len().max(1) as f64;
    let s = poly
        .iter()
        .fold([0.0, 0.0], |s, p| [s[0] + p[0], s[1] + p[1]]);
    [s[0] / n, s[1] / n]
}
