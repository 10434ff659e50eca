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

use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use crate::terrain::convex::{self, ON, Polygon, SPECK, area2, positive_integral};
use crate::terrain::predicates::{P2, cross};
use crate::terrain::{GROUND, Maker, Plane, Surface};

use super::facet::{Act, Facet};

/// Height differences smaller than this (metres) count as none.
pub const LEVEL: f64 = 1e-9;

const NO: u32 = u32::MAX;

#[derive(Debug, Clone, Copy)]
pub struct Piece {
    start: u32,
    len: u16,
    pub maker: Maker,
    /// A wall: no move changes it.
    pub solid: bool,
    live: bool,
    /// The surface now, the ground as surveyed, and the undisturbed soil (planes by index).
    plane: u32,
    original: u32,
    native: u32,
    /// The surface under temporary work, and the number of that work.
    under: u32,
    under_work: u32,
    under_maker: Maker,
    /// As before the work in hand.
    work: u32,
    before: u32,
    before_maker: Maker,
    before_native: u32,
    before_under: u32,
    before_under_work: u32,
    /// Touches the core of the work in hand.
    rooted: bool,
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
    /// Plan area changed, m².
    pub area: f64,
    /// Deepest cut, m.
    pub depth: f64,
}

/// Soil that a move would take from where there is none to take: a wall in the way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Obstruction {
    pub maker: Maker,
    pub at: P2,
}

#[derive(Clone)]
pub struct Mosaic {
    base: Surface,
    base_live: Vec<bool>,
    planes: Vec<Plane>,
    corners: Vec<P2>,
    /// Box in plan of each piece: low and high corner.
    boxes: Vec<[P2; 2]>,
    pieces: Vec<Piece>,
    grid: Grid,
    /// Ids of pieces that the work in hand has changed (may hold dead ones).
    changed: Vec<u32>,
    work: u32,
    temporary: bool,
    /// Room for the answers of the grid, kept to spare allocations.
    ids: Vec<u32>,
    pub obstructions: Vec<Obstruction>,
}

#[derive(Clone)]
/// An index over the plan: ids of base triangles in a packed list, later pieces beside it.
struct Grid {
    low: P2,
    cell: f64,
    columns: usize,
    rows: usize,
    first: Vec<u32>,
    ids: Vec<u32>,
    later: Vec<Vec<u32>>,
    /// For each id, the number of the last query that found it.
    found: Vec<u32>,
    queries: u32,
}

impl Grid {
    fn new(surface: &Surface) -> Self {
        let [low, high] = surface.bounds().unwrap_or([[0.0; 3]; 2]);
        let count = surface.triangles.len().max(1);
        let (w, h) = ((high[0] - low[0]).max(1e-6), (high[1] - low[1]).max(1e-6));
        // Never coarse, however few the shots: it is the works that make the many pieces.
        let cell = (w * h / (count as f64 * 0.5).max(3000.0))
            .sqrt()
            .max(w.max(h) / 2000.0);
        let columns = (w / cell) as usize + 1;
        let rows = (h / cell) as usize + 1;
        let mut grid = Grid {
            low: [low[0], low[1]],
            cell,
            columns,
            rows,
            first: vec![0; columns * rows + 1],
            ids: Vec::new(),
            later: vec![Vec::new(); columns * rows],
            found: vec![0; surface.triangles.len()],
            queries: 0,
        };
        // Counting sort: how many in each cell, where each cell starts, then the ids.
        let boxes: Vec<[u16; 4]> = surface
            .triangles
            .iter()
            .map(|t| {
                let [a, b, c] = t.map(|i| surface.points[i as usize]);
                let lo = [a[0].min(b[0]).min(c[0]), a[1].min(b[1]).min(c[1])];
                let hi = [a[0].max(b[0]).max(c[0]), a[1].max(b[1]).max(c[1])];
                grid.span(lo, hi).map(|v| v as u16)
            })
            .collect();
        for &[x0, y0, x1, y1] in &boxes {
            for y in y0..=y1 {
                for x in x0..=x1 {
                    grid.first[y as usize * columns + x as usize + 1] += 1;
                }
            }
        }
        for i in 1..grid.first.len() {
            grid.first[i] += grid.first[i - 1];
        }
        grid.ids = vec![0; grid.first[columns * rows] as usize];
        let mut fill = grid.first.clone();
        for (t, &[x0, y0, x1, y1]) in boxes.iter().enumerate() {
            for y in y0..=y1 {
                for x in x0..=x1 {
                    let slot = &mut fill[y as usize * columns + x as usize];
                    grid.ids[*slot as usize] = t as u32;
                    *slot += 1;
                }
            }
        }
        grid
    }

    fn span(&self, lo: P2, hi: P2) -> [usize; 4] {
        let x = |v: f64| (((v - self.low[0]) / self.cell).max(0.0) as usize).min(self.columns - 1);
        let y = |v: f64| (((v - self.low[1]) / self.cell).max(0.0) as usize).min(self.rows - 1);
        [
            x(lo[0] - 1e-6),
            y(lo[1] - 1e-6),
            x(hi[0] + 1e-6),
            y(hi[1] + 1e-6),
        ]
    }

    fn add(&mut self, id: u32, lo: P2, hi: P2) {
        self.found.push(0);
        let [x0, y0, x1, y1] = self.span(lo, hi);
        for y in y0..=y1 {
            for x in x0..=x1 {
                self.later[y * self.columns + x].push(id);
            }
        }
    }

    /// The same as [`Grid::query`] without what is dead, and unsorted; forgets the dead on its way.
    fn query_live(&mut self, lo: P2, hi: P2, live: impl Fn(u32) -> bool, out: &mut Vec<u32>) {
        out.clear();
        self.queries += 1;
        let [x0, y0, x1, y1] = self.span(lo, hi);
        for y in y0..=y1 {
            for x in x0..=x1 {
                let c = y * self.columns + x;
                let base = &self.ids[self.first[c] as usize..self.first[c + 1] as usize];
                self.later[c].retain(|&id| live(id));
                for &id in base.iter().chain(&self.later[c]) {
                    let found = &mut self.found[id as usize];
                    if *found != self.queries {
                        *found = self.queries;
                        out.push(id);
                    }
                }
            }
        }
    }

    /// Everything whose box may overlap this one, each once, in a fixed order.
    fn query(&self, lo: P2, hi: P2, out: &mut Vec<u32>) {
        out.clear();
        let [x0, y0, x1, y1] = self.span(lo, hi);
        for y in y0..=y1 {
            for x in x0..=x1 {
                let c = y * self.columns + x;
                out.extend_from_slice(
                    &self.ids[self.first[c] as usize..self.first[c + 1] as usize],
                );
                out.extend_from_slice(&self.later[c]);
            }
        }
        out.sort_unstable();
        out.dedup();
    }
}

fn bounds(poly: &[P2]) -> (P2, P2) {
    let mut lo = [f64::INFINITY; 2];
    let mut hi = [f64::NEG_INFINITY; 2];
    for p in poly {
        for k in 0..2 {
            lo[k] = lo[k].min(p[k]);
            hi[k] = hi[k].max(p[k]);
        }
    }
    (lo, hi)
}

impl Mosaic {
    pub fn new(ground: Surface) -> Self {
        Mosaic {
            base_live: vec![true; ground.triangles.len()],
            grid: Grid::new(&ground),
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

    fn base_count(&self) -> u32 {
        self.base.triangles.len() as u32
    }

    fn polygon(&self, id: u32) -> Polygon {
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

    fn bounds_of(&self, id: u32) -> [P2; 2] {
        let n = self.base_count();
        if id >= n {
            return self.boxes[(id - n) as usize];
        }
        let (lo, hi) = bounds(&self.polygon(id));
        [lo, hi]
    }

    fn is_live(&self, id: u32) -> bool {
        let n = self.base_count();
        if id < n {
            self.base_live[id as usize]
        } else {
            self.pieces[(id - n) as usize].live
        }
    }

    fn plane_of(&self, id: u32) -> Plane {
        let n = self.base_count();
        if id < n {
            let [a, b, c] = self.base.corners(id as usize);
            Plane::through(a, b, c)
        } else {
            self.planes[self.pieces[(id - n) as usize].plane as usize]
        }
    }

    fn push_plane(&mut self, plane: Plane) -> u32 {
        self.planes.push(plane);
        self.planes.len() as u32 - 1
    }

    /// The piece's record; for a triangle of the ground, a fresh one.
    fn record(&mut self, id: u32) -> Piece {
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

    fn kill(&mut self, id: u32) {
        let n = self.base_count();
        if id < n {
            self.base_live[id as usize] = false;
        } else {
            self.pieces[(id - n) as usize].live = false;
        }
    }

    fn push(&mut self, record: Piece, poly: &[P2]) -> u32 {
        let id = self.base_count() + self.pieces.len() as u32;
        let piece = Piece {
            start: self.corners.len() as u32,
            len: poly.len() as u16,
            live: true,
            ..record
        };
        self.corners.extend_from_slice(poly);
        self.pieces.push(piece);
        let (lo, hi) = bounds(poly);
        self.boxes.push([lo, hi]);
        self.grid.add(id, lo, hi);
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
        self.work
    }

    /// Lowers (or raises) the surface to the facet wherever that lies lower (or higher).
    pub fn apply(&mut self, act: Act, facet: &Facet) {
        let sign = match act {
            Act::Dig => 1.0,
            Act::Place => -1.0,
        };
        let (lo, hi) = bounds(&facet.outline);
        let mut ids = std::mem::take(&mut self.ids);
        let (base_live, pieces, n) = (&self.base_live, &self.pieces, self.base_count());
        let live = |id: u32| {
            if id < n {
                base_live[id as usize]
            } else {
                pieces[(id - n) as usize].live
            }
        };
        self.grid.query_live(lo, hi, live, &mut ids);
        let mut facet_plane = NO;
        for &id in &ids {
            if !self.is_live(id) {
                continue;
            }
            let [plo, phi] = self.bounds_of(id);
            if plo[0] >= hi[0] || phi[0] <= lo[0] || plo[1] >= hi[1] || phi[1] <= lo[1] {
                continue;
            }
            let poly = self.polygon(id);
            let plane = self.plane_of(id);
            let gap = |p: &P2| sign * (plane.at(*p) - facet.plane.at(*p));
            if poly.iter().all(|p| gap(p) <= LEVEL) {
                continue;
            }
            // Cut away what lies outside the facet, then what the move does not reach.
            let mut rest = poly;
            let mut outside: SmallVec<[Polygon; 6]> = SmallVec::new();
            for k in 0..facet.outline.len() {
                let (a, b) = (
                    facet.outline[k],
                    facet.outline[(k + 1) % facet.outline.len()],
                );
                let length = ((b[0] - a[0]).powi(2) + (b[1] - a[1]).powi(2)).sqrt();
                if length < ON {
                    continue;
                }
                let side: SmallVec<[f64; 8]> =
                    rest.iter().map(|&p| cross(a, b, p) / length).collect();
                if side.iter().all(|&s| s >= -ON) {
                    continue;
                }
                let (out, inside) = convex::split(&rest, &side, ON);
                if !out.is_empty() {
                    outside.push(out);
                }
                rest = inside;
                if rest.is_empty() {
                    break;
                }
            }
            if area2(&rest) < SPECK {
                continue;
            }
            let depth: SmallVec<[f64; 8]> = rest.iter().map(gap).collect();
            if depth.iter().all(|&d| d <= LEVEL) {
                continue;
            }
            if depth.iter().any(|&d| d < -LEVEL) {
                let (out, inside) = convex::split(&rest, &depth, LEVEL);
                outside.push(out);
                rest = inside;
            }
            if area2(&rest) < SPECK {
                continue;
            }
            let record = self.record(id);
            if record.solid {
                self.obstructions.push(Obstruction {
                    maker: record.maker,
                    at: rest[0],
                });
                continue;
            }
            self.kill(id);
            for out in outside {
                if area2(&out) > 0.0 {
                    self.push(record, &out);
                }
            }
            if facet_plane == NO {
                facet_plane = self.push_plane(facet.plane);
            }
            let changed = self.change(record, facet_plane, facet.maker, facet.roots(&rest));
            self.lay(changed, &rest);
        }
        self.ids = ids;
    }

    /// The record of a piece after the work in hand has put it on `plane`.
    fn change(&mut self, record: Piece, plane: u32, maker: Maker, rooted: bool) -> Piece {
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
    fn lay(&mut self, record: Piece, poly: &[P2]) {
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
        let (lo, hi) = bounds(&facet.outline);
        let mut ids = Vec::new();
        self.grid.query(lo, hi, &mut ids);
        let n = self.base_count();
        for id in ids {
            if id >= n && self.is_live(id) {
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
    }

    /// Adds a wall's top over plan that has no ground (a footprint left out of the survey).
    pub fn add_solid(&mut self, outline: &[P2], plane: Plane, maker: Maker) {
        let plane = self.push_plane(plane);
        let record = Piece {
            start: 0,
            len: 0,
            maker,
            solid: true,
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
        };
        self.push(record, outline);
    }

    /// Ends the work in hand: what it changed beyond its daylight line, where the ground dips out of
    /// its slopes and a mound comes up again, is put back; the rest is measured.
    pub fn finish(&mut self, topsoil_depth: f64) -> Moved {
        self.drop_unrooted();
        let mut moved = Moved::default();
        let n = self.base_count();
        for k in 0..self.changed.len() {
            let id = self.changed[k];
            if !self.is_live(id) {
                continue;
            }
            let piece = self.pieces[(id - n) as usize];
            if piece.solid {
                continue;
            }
            let poly = self.polygon(id);
            let plane = |i: u32| self.planes[i as usize];
            let (now, before) = (plane(piece.plane), plane(piece.before));
            let (native, native_now) = (plane(piece.before_native), plane(piece.native));
            let original = plane(piece.original);
            let over = |a: &Plane, b: &Plane| -> SmallVec<[f64; 8]> {
                // Rounding is not soil: equal planes may differ in their last digits.
                let gap = |&p: &P2| a.at(p) - b.at(p);
                poly.iter()
                    .map(gap)
                    .map(|d| if d.abs() < LEVEL { 0.0 } else { d })
                    .collect()
            };
            let cut = positive_integral(&poly, &over(&before, &now));
            let bank = positive_integral(&poly, &over(&native, &native_now));
            moved.fill += positive_integral(&poly, &over(&now, &before));
            moved.cut_bank += bank;
            moved.redug += (cut - bank).max(0.0);
            if topsoil_depth > 0.0 && bank > 0.0 {
                // Topsoil is the soil between the ground as surveyed and that much below it.
                let deep = original.raised(-topsoil_depth);
                let above = |top: &Plane| {
                    positive_integral(&poly, &over(&original, top))
                        - positive_integral(&poly, &over(&deep, top))
                };
                moved.topsoil += (above(&native_now) - above(&native)).max(0.0);
            }
            moved.area += 0.5 * area2(&poly);
            for p in &poly {
                moved.depth = moved.depth.max(before.at(*p) - now.at(*p));
            }
        }
        moved
    }

    fn drop_unrooted(&mut self) {
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
        let mut sets = Sets::new(live.len());
        let mut corner: FxHashMap<(i64, i64), u32> = FxHashMap::default();
        for (k, &id) in live.iter().enumerate() {
            for p in self.polygon(id) {
                let key = ((p[0] * 1e6).round() as i64, (p[1] * 1e6).round() as i64);
                let other = *corner.entry(key).or_insert(k as u32);
                sets.join(k as u32, other);
            }
        }
        let mut rooted: Vec<bool> = vec![false; live.len()];
        for (k, &id) in live.iter().enumerate() {
            if self.pieces[(id - n) as usize].rooted {
                rooted[sets.root(k as u32) as usize] = true;
            }
        }
        // Pieces may touch along an edge without sharing a corner: look closer at what seems loose.
        loop {
            let mut joined = false;
            for (k, &id) in live.iter().enumerate() {
                let root = sets.root(k as u32);
                if rooted[root as usize] {
                    continue;
                }
                let poly = self.polygon(id);
                let touching = live.iter().enumerate().find(|&(m, &other)| {
                    rooted[sets.root_of(m as u32) as usize] && touch(&poly, &self.polygon(other))
                });
                if touching.is_some() {
                    rooted[root as usize] = true;
                    joined = true;
                }
            }
            if !joined {
                break;
            }
        }
        for (k, &id) in live.iter().enumerate() {
            if !rooted[sets.root(k as u32) as usize] {
                let piece = &mut self.pieces[(id - n) as usize];
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

    /// Lowest and highest surface under a box in plan.
    pub fn height_range(&self, lo: P2, hi: P2) -> Option<(f64, f64)> {
        let mut ids = Vec::new();
        self.grid.query(lo, hi, &mut ids);
        let mut range: Option<(f64, f64)> = None;
        for id in ids {
            if !self.is_live(id) {
                continue;
            }
            let poly = self.polygon(id);
            let (plo, phi) = bounds(&poly);
            if plo[0] > hi[0] || phi[0] < lo[0] || plo[1] > hi[1] || phi[1] < lo[1] {
                continue;
            }
            let plane = self.plane_of(id);
            for p in poly {
                let z = plane.at(p);
                range = Some(range.map_or((z, z), |(a, b)| (a.min(z), b.max(z))));
            }
        }
        range
    }

    /// Elevation of the surface at a place in plan; `None` where there is none. On a vertical face,
    /// the lower side.
    pub fn elevation(&self, p: P2) -> Option<f64> {
        let mut ids = Vec::new();
        self.grid.query(p, p, &mut ids);
        ids.into_iter()
            .filter(|&id| self.is_live(id))
            .filter(|&id| {
                let poly = self.polygon(id);
                (0..poly.len()).all(|k| {
                    let (a, b) = (poly[k], poly[(k + 1) % poly.len()]);
                    cross(a, b, p) >= -1e-7 * (b[0] - a[0]).hypot(b[1] - a[1])
                })
            })
            .map(|id| self.plane_of(id).at(p))
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
            cut += positive_integral(&poly, &gap);
            fill += positive_integral(&poly, &up);
        }
        (cut, fill)
    }

    /// Whether any soil inside the ring was moved, and a place where.
    pub fn moved_inside(&self, ring: &[P2]) -> Option<(Maker, P2)> {
        let n = self.base_count();
        self.pieces.iter().enumerate().find_map(|(k, piece)| {
            if !piece.live || piece.plane == piece.original {
                return None;
            }
            let poly = self.polygon(n + k as u32);
            let (now, was) = (
                self.planes[piece.plane as usize],
                self.planes[piece.original as usize],
            );
            poly.iter()
                .copied()
                .chain([centroid(&poly)])
                .find(|&p| {
                    crate::terrain::predicates::in_ring(ring, p)
                        && (now.at(p) - was.at(p)).abs() > 0.02
                })
                .map(|p| (piece.maker, p))
        })
    }

    /// Who moved soil at a place in plan (by more than a finger's width), if anyone.
    pub fn moved_at(&self, p: P2) -> Option<Maker> {
        let mut ids = Vec::new();
        self.grid.query(p, p, &mut ids);
        let n = self.base_count();
        ids.into_iter()
            .filter(|&id| id >= n && self.is_live(id))
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

    fn live_ids(&self) -> impl Iterator<Item = u32> + '_ {
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

    /// Hands out the untouched triangles of the ground.
    pub(super) fn untouched(&self) -> (&Surface, &[bool]) {
        (&self.base, &self.base_live)
    }

    /// Hands out every live piece that is no longer (or never was) a triangle of the ground.
    pub(super) fn worked(&self) -> impl Iterator<Item = (&[P2], Plane, Maker)> + '_ {
        self.pieces.iter().filter(|p| p.live).map(|p| {
            (
                &self.corners[p.start as usize..p.start as usize + p.len as usize],
                self.planes[p.plane as usize],
                p.maker,
            )
        })
    }
}

fn centroid(poly: &[P2]) -> P2 {
    let n = poly.len().max(1) as f64;
    let s = poly
        .iter()
        .fold([0.0, 0.0], |s, p| [s[0] + p[0], s[1] + p[1]]);
    [s[0] / n, s[1] / n]
}

/// Whether two convex polygons touch: no edge of either keeps them apart by more than a micrometre.
fn touch(a: &[P2], b: &[P2]) -> bool {
    let apart = |a: &[P2], b: &[P2]| {
        (0..a.len()).any(|k| {
            let (p, q) = (a[k], a[(k + 1) % a.len()]);
            let length = (q[0] - p[0]).hypot(q[1] - p[1]);
            length > 0.0 && b.iter().all(|&r| cross(p, q, r) / length < -1e-6)
        })
    };
    !apart(a, b) && !apart(b, a)
}

/// Disjoint sets.
struct Sets(Vec<u32>);

impl Sets {
    fn new(n: usize) -> Self {
        Sets((0..n as u32).collect())
    }

    fn root_of(&self, mut k: u32) -> u32 {
        while self.0[k as usize] != k {
            k = self.0[k as usize];
        }
        k
    }

    fn root(&mut self, k: u32) -> u32 {
        let root = self.root_of(k);
        let mut k = k;
        while self.0[k as usize] != root {
            k = std::mem::replace(&mut self.0[k as usize], root);
        }
        root
    }

    fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b) as usize] = a.min(b);
    }
}
