//! From a worked mosaic to a surface whose triangles meet edge to edge.
//!
//! Corners within [`WELD`] of each other become one; corners that lie on a neighbour's edge are
//! put into it; each piece is then cut into triangles. Triangles of the ground that no work came
//! near are passed on as they are. Metres.

use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use crate::terrain::predicates::{P2, cross};
use crate::terrain::{GROUND, Maker, Plane, Span, Surface};

use super::mosaic::{Fate, Mosaic};

/// Corners nearer than this in plan (metres) are the same corner. Some times what rounds where works cut
/// each other at small angles, and as little more as can be: of corners that are really some welds apart,
/// one may be made one with another for one piece and not for its neighbour.
pub const WELD: f64 = 1e-8;
/// Elevations nearer than this (metres) at one corner are the same point.
const WELD_HEIGHT: f64 = 1e-5;

/// A surface, and for each of its points the place in plan it stands on: two points share one only
/// across a vertical face.
#[derive(Debug, Clone, Default)]
pub struct Assembled {
    pub surface: Surface,
    pub place: Vec<u32>,
}

/// The next whole number down. Most processors' common subset has no instruction for it, and
/// `f64::floor` is a call.
#[inline]
pub(super) fn floor(v: f64) -> i64 {
    let t = v as i64;
    t - i64::from(v < t as f64)
}

/// Corners by fine cell, each cell a chain of them.
struct Welder {
    first: FxHashMap<u64, u32>,
    next: Vec<u32>,
    at: Vec<P2>,
}

/// No further corner.
const END: u32 = u32::MAX;

impl Welder {
    fn new(corners: usize) -> Self {
        Welder {
            first: FxHashMap::with_capacity_and_hasher(corners, Default::default()),
            next: Vec::with_capacity(corners),
            at: Vec::with_capacity(corners),
        }
    }

    /// The cell of a measure, and the first and last one that its twin may lie in.
    #[inline]
    fn cells(v: f64) -> [i64; 3] {
        let cells = v * (0.25 / WELD);
        let cell = floor(cells);
        let part = cells - cell as f64;
        // A hair more than a weld, for what rounds.
        [
            cell,
            cell - i64::from(part < 0.2501),
            cell + i64::from(part > 0.7499),
        ]
    }

    /// Cells so far apart that their numbers fall together are told apart by their corners.
    fn cell(x: i64, y: i64) -> u64 {
        (x as u64) << 32 ^ (y as u64 & 0xffff_ffff)
    }

    fn find(&mut self, p: P2) -> u32 {
        // A corner near the border of its cell may have its twin next door.
        let [x, x0, x1] = Self::cells(p[0]);
        let [y, y0, y1] = Self::cells(p[1]);
        let own = Self::cell(x, y);
        let first = self.first.get(&own).copied().unwrap_or(END);
        if let Some(id) = self.among(first, p) {
            return id;
        }
        for x in x0..=x1 {
            for y in y0..=y1 {
                let cell = Self::cell(x, y);
                if cell != own
                    && let Some(&first) = self.first.get(&cell)
                    && let Some(id) = self.among(first, p)
                {
                    return id;
                }
            }
        }
        let id = self.at.len() as u32;
        self.first.insert(own, id);
        self.next.push(first);
        self.at.push(p);
        id
    }

    /// The twin of a corner in a chain, if it has one there.
    #[inline]
    fn among(&self, mut id: u32, p: P2) -> Option<u32> {
        while id != END {
            let q = self.at[id as usize];
            if (q[0] - p[0]).abs() <= WELD && (q[1] - p[1]).abs() <= WELD {
                return Some(id);
            }
            id = self.next[id as usize];
        }
        None
    }
}

/// Lists one after the other: items by number, those of one number together.
struct Packed {
    first: Vec<u32>,
    items: Vec<u32>,
}

impl Packed {
    /// From pairs of a number under `count` and an item.
    fn new(count: usize, pairs: &[(u32, u32)]) -> Self {
        let mut first = vec![0u32; count + 1];
        for (k, _) in pairs {
            first[*k as usize + 1] += 1;
        }
        for k in 1..first.len() {
            first[k] += first[k - 1];
        }
        let mut items = vec![0u32; first[count] as usize];
        let mut fill = first.clone();
        for &(k, item) in pairs {
            let slot = &mut fill[k as usize];
            items[*slot as usize] = item;
            *slot += 1;
        }
        Packed { first, items }
    }

    fn of(&self, k: u32) -> &[u32] {
        &self.items[self.first[k as usize] as usize..self.first[k as usize + 1] as usize]
    }
}

/// Corners by coarse cell, to find those on an edge.
struct Near {
    cell: f64,
    low: P2,
    columns: u32,
    rows: u32,
    ids: Packed,
}

impl Near {
    /// Cells of a foot or so; larger where there would be many more of them than corners.
    fn new(at: &[P2]) -> Self {
        let span = Span::of(at.iter().copied());
        let size = [0, 1].map(|k| (span.high[k] - span.low[k]).max(0.0));
        let cell = (size[0] * size[1] / (4 * at.len() + 64) as f64)
            .sqrt()
            .max(size[0].max(size[1]) / 4000.0)
            .max(0.35);
        let cells = |k: usize| {
            if size[k] > 0.0 {
                (size[k] / cell) as u32 + 1
            } else {
                1
            }
        };
        let mut near = Near {
            cell,
            low: if at.is_empty() { [0.0; 2] } else { span.low },
            columns: cells(0),
            rows: cells(1),
            ids: Packed {
                first: Vec::new(),
                items: Vec::new(),
            },
        };
        let number = |p: &P2| near.row(p[1]) * near.columns + near.column(p[0]);
        let numbers: Vec<(u32, u32)> = at.iter().map(number).zip(0..).collect();
        near.ids = Packed::new((near.columns * near.rows) as usize, &numbers);
        near
    }

    fn column(&self, x: f64) -> u32 {
        (((x - self.low[0]) / self.cell).max(0.0) as u32).min(self.columns - 1)
    }

    fn row(&self, y: f64) -> u32 {
        (((y - self.low[1]) / self.cell).max(0.0) as u32).min(self.rows - 1)
    }

    /// Corners strictly inside the edge from `a` to `b`, in order.
    fn on(&self, at: &[P2], a: u32, b: u32, out: &mut SmallVec<[u32; 4]>) {
        let (p, q) = (at[a as usize], at[b as usize]);
        let d = [q[0] - p[0], q[1] - p[1]];
        let length = (d[0] * d[0] + d[1] * d[1]).sqrt();
        out.clear();
        if length < WELD {
            return;
        }
        let mut found: SmallVec<[(f64, u32); 8]> = SmallVec::new();
        let (k0, k1) = (
            self.column(p[0].min(q[0]) - 2.0 * WELD),
            self.column(p[0].max(q[0]) + 2.0 * WELD),
        );
        for kx in k0..=k1 {
            // The stretch of the edge inside this column of cells gives the rows to look at.
            let x = |k: u32| self.low[0] + f64::from(k) * self.cell;
            let (xa, xb) = (x(kx), x(kx + 1));
            let (y0, y1) = if d[0].abs() < 1e-9 {
                (p[1].min(q[1]), p[1].max(q[1]))
            } else {
                let t = |x: f64| ((x - p[0]) / d[0]).clamp(0.0, 1.0);
                let (ya, yb) = (p[1] + t(xa) * d[1], p[1] + t(xb) * d[1]);
                (ya.min(yb), ya.max(yb))
            };
            let (r0, r1) = (self.row(y0 - 2.0 * WELD), self.row(y1 + 2.0 * WELD));
            for ky in r0..=r1 {
                for &id in self.ids.of(ky * self.columns + kx) {
                    if id == a || id == b {
                        continue;
                    }
                    let r = at[id as usize];
                    let off = ((r[0] - p[0]) * d[1] - (r[1] - p[1]) * d[0]).abs();
                    if off > 1.5 * WELD * length {
                        continue;
                    }
                    let along = ((r[0] - p[0]) * d[0] + (r[1] - p[1]) * d[1]) / length;
                    if along > WELD && along < length - WELD {
                        found.push((along, id));
                    }
                }
            }
        }
        found.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        out.extend(found.iter().map(|f| f.1));
    }
}

/// Puts the mosaic together.
pub fn assemble(mosaic: &Mosaic) -> Assembled {
    let base = &*mosaic.base;
    // A piece falls into some three triangles, with about as many points as pieces.
    let live = mosaic.pieces.iter().filter(|p| p.live).count();
    let (triangles, corners) = (
        base.triangles.len() + 3 * live,
        base.points.len() + live + live / 2,
    );
    let mut surface = Surface {
        points: Vec::with_capacity(corners),
        triangles: Vec::with_capacity(triangles),
        made_by: Vec::with_capacity(triangles),
    };
    surface.points.extend_from_slice(&base.points);
    let base_maker = |t: usize| base.made_by.get(t).copied().unwrap_or(GROUND);

    // Corners of the ground that pieces cut out of it, or walls, may stand on.
    let mut touched = vec![false; base.points.len()];
    for t in 0..base.triangles.len() {
        if matches!(mosaic.fate(t), Fate::Cut) {
            for &i in &base.triangles[t] {
                touched[i as usize] = true;
            }
        }
    }
    for [lo, hi] in mosaic.standing_walls() {
        for (p, touched) in base.points.iter().zip(&mut touched) {
            *touched |= (0..2).all(|k| p[k] >= lo[k] - WELD && p[k] <= hi[k] + WELD);
        }
    }
    let mut welder = Welder::new(live + live / 8);
    // For each corner: the points standing there, as (elevation, index).
    let mut standing: Vec<SmallVec<[(f64, u32); 2]>> = Vec::with_capacity(2 * live);
    let mut base_corner = vec![u32::MAX; base.points.len()];
    let mut weld = |i: u32, standing: &mut Vec<SmallVec<_>>, welder: &mut Welder| {
        let corner = &mut base_corner[i as usize];
        if *corner == u32::MAX {
            let p = base.points[i as usize];
            *corner = welder.find([p[0], p[1]]);
            if standing.len() < welder.at.len() {
                standing.push(SmallVec::new());
            }
            standing[*corner as usize].push((p[2], i));
        }
        *corner
    };
    for (i, _) in touched.iter().enumerate().filter(|(_, t)| **t) {
        weld(i as u32, &mut standing, &mut welder);
    }

    // Triangles with no edge on anything that was cut meet their neighbours as they always did:
    // untouched ones are passed on, those on a new plane need no more than new points.
    let alone = |t: usize| {
        let near = base.triangles[t].iter().filter(|&&i| touched[i as usize]);
        near.count() < 2
    };
    let mut parts: Vec<Part> = Vec::with_capacity(live + live / 2);
    let mut moved: Vec<(u32, u32)> = Vec::new();
    let mut passed = vec![false; mosaic.pieces.len()];
    for t in 0..base.triangles.len() {
        match mosaic.fate(t) {
            Fate::Cut => {}
            Fate::Untouched if alone(t) => {
                surface.triangles.push(base.triangles[t]);
                surface.made_by.push(base_maker(t));
            }
            Fate::Untouched => {
                let [a, b, c] = base.corners(t);
                let plane = Plane::through(a, b, c);
                let corners = base.triangles[t].map(|i| weld(i, &mut standing, &mut welder));
                parts.push(Part::triangle(corners, plane, base_maker(t)));
            }
            Fate::Whole(k) => {
                passed[k as usize] = true;
                if alone(t) {
                    moved.push((t as u32, k));
                } else if let Some((_, plane, maker)) = mosaic.left(k as usize) {
                    let corners = base.triangles[t].map(|i| weld(i, &mut standing, &mut welder));
                    parts.push(Part::triangle(corners, plane, maker));
                }
            }
        }
    }
    for (k, _) in passed.iter().enumerate().filter(|(_, p)| !**p) {
        let Some((poly, plane, maker)) = mosaic.left(k) else {
            continue;
        };
        let mut corners: SmallVec<[u32; 8]> = SmallVec::new();
        for &p in poly {
            let id = welder.find(p);
            if corners.last() != Some(&id) {
                corners.push(id);
            }
        }
        while corners.len() > 1 && corners.first() == corners.last() {
            corners.pop();
        }
        if corners.len() >= 3 {
            parts.push(Part {
                corners,
                plane,
                maker,
            });
        }
    }
    standing.resize(welder.at.len(), SmallVec::new());

    // Edges without their counterpart have a corner of the neighbour on them, or end the surface.
    let mut at = std::mem::take(&mut welder.at);
    let mut edges: Vec<(u32, u32)> = Vec::with_capacity(5 * parts.len());
    for part in &parts {
        let mut a = part.corners[part.corners.len() - 1];
        for &b in &part.corners {
            edges.push((a, b));
            a = b;
        }
    }
    let edges = Packed::new(at.len(), &edges);
    let near = Near::new(&at);
    let mut inside: SmallVec<[u32; 4]> = SmallVec::new();
    let mut place: Vec<u32> = Vec::with_capacity(corners);
    place.extend(0..base.points.len() as u32);
    let mut place_of_corner = vec![u32::MAX; at.len()];
    for (i, &corner) in (0..).zip(&base_corner).filter(|(_, c)| **c != u32::MAX) {
        // Two ground points over one corner share a place; the lower index names it.
        let slot = &mut place_of_corner[corner as usize];
        *slot = (*slot).min(i);
        place[i as usize] = *slot;
    }
    let mut points = Points {
        surface,
        place,
        places: base.points.len() as u32,
        standing,
        place_of_corner,
    };
    for (t, k) in moved {
        let Some((_, plane, maker)) = mosaic.left(k as usize) else {
            continue;
        };
        let triangle = base.triangles[t as usize].map(|i| {
            let corner = &mut base_corner[i as usize];
            let p = base.points[i as usize];
            if *corner == u32::MAX {
                *corner = at.len() as u32;
                at.push([p[0], p[1]]);
                points.standing.push(SmallVec::from_slice(&[(p[2], i)]));
                points.place_of_corner.push(i);
            }
            points.at(*corner, [p[0], p[1]], plane.at([p[0], p[1]]))
        });
        points.surface.triangles.push(triangle);
        points.surface.made_by.push(maker);
    }
    let mut full: SmallVec<[u32; 16]> = SmallVec::new();
    let mut ids: SmallVec<[u32; 16]> = SmallVec::new();
    for part in &parts {
        full.clear();
        let n = part.corners.len();
        for k in 0..n {
            let (a, b) = (part.corners[k], part.corners[next(k, n)]);
            full.push(a);
            if !edges.of(b).contains(&a) {
                near.on(&at, a, b, &mut inside);
                full.extend_from_slice(&inside);
            }
        }
        if full.len() > n {
            drop_spikes(&mut full);
        }
        if full.len() < 3 {
            continue;
        }
        ids.clear();
        for &corner in &full {
            let p = at[corner as usize];
            ids.push(points.at(corner, p, part.plane.at(p)));
        }
        let plan: SmallVec<[P2; 16]> = full.iter().map(|&c| at[c as usize]).collect();
        let surface = &mut points.surface;
        match best_fan(&plan) {
            Some(apex) => {
                let n = full.len();
                let mut j = next(apex, n);
                for _ in 1..n - 1 {
                    let i = j;
                    j = next(i, n);
                    surface.triangles.push([ids[apex], ids[i], ids[j]]);
                    surface.made_by.push(part.maker);
                }
            }
            None => {
                // No corner sees all the others at a width: a point in the middle does.
                let n = plan.len() as f64;
                let c = plan
                    .iter()
                    .fold([0.0, 0.0], |s, p| [s[0] + p[0] / n, s[1] + p[1] / n]);
                let i = surface.points.len() as u32;
                surface.points.push([c[0], c[1], part.plane.at(c)]);
                points.place.push(points.places);
                points.places += 1;
                for k in 0..ids.len() {
                    let m = (k + 1) % ids.len();
                    if cross(plan[k], plan[m], c) > 0.0 {
                        surface.triangles.push([ids[k], ids[m], i]);
                        surface.made_by.push(part.maker);
                    }
                }
            }
        }
    }
    let Points {
        mut surface,
        mut place,
        ..
    } = points;
    drop_unused(&mut surface, &mut place);
    Assembled { surface, place }
}

/// A piece, its corners welded to those of others.
struct Part {
    corners: SmallVec<[u32; 8]>,
    plane: Plane,
    maker: Maker,
}

impl Part {
    fn triangle(corners: [u32; 3], plane: Plane, maker: Maker) -> Self {
        Part {
            corners: SmallVec::from_slice(&corners),
            plane,
            maker,
        }
    }
}

/// The points of the surface as it grows, by the corner in plan they stand on.
struct Points {
    surface: Surface,
    place: Vec<u32>,
    places: u32,
    standing: Vec<SmallVec<[(f64, u32); 2]>>,
    place_of_corner: Vec<u32>,
}

impl Points {
    /// The point over a corner (at `p` in plan) at elevation `z`.
    fn at(&mut self, corner: u32, p: P2, z: f64) -> u32 {
        let standing = &mut self.standing[corner as usize];
        if let Some(&(_, i)) = standing.iter().find(|s| (s.0 - z).abs() <= WELD_HEIGHT) {
            return i;
        }
        let i = self.surface.points.len() as u32;
        standing.push((z, i));
        self.surface.points.push([p[0], p[1], z]);
        let place = &mut self.place_of_corner[corner as usize];
        if *place == u32::MAX {
            *place = self.places;
            self.places += 1;
        }
        self.place.push(*place);
        i
    }
}

/// The corner after this one of so many around. A remainder would take longer.
fn next(k: usize, n: usize) -> usize {
    if k + 1 == n { 0 } else { k + 1 }
}

/// Where a part is no thicker than a weld, one corner may lie on both of its sides: it runs out to a tip and
/// back over the same way. The tip is left out, for the way is one edge of the neighbours on both sides.
fn drop_spikes(ring: &mut SmallVec<[u32; 16]>) {
    let tip = |ring: &[u32]| {
        let n = ring.len();
        let tip = (0..n).find(|&k| ring[k] == ring[next(next(k, n), n)]);
        tip.filter(|_| n > 2).map(|k| next(k, n))
    };
    while let Some(k) = tip(ring) {
        // With one of the two corners that are the same.
        ring.remove(k);
        ring.remove(if k < ring.len() { k } else { 0 });
    }
}

/// The corner from which the polygon falls into the roundest fan; `None` if every fan has a
/// triangle without area.
fn best_fan(plan: &[P2]) -> Option<usize> {
    let n = plan.len();
    if n == 3 {
        return Some(0);
    }
    let worst = |apex: usize| {
        let (mut least, mut k) = (f64::INFINITY, next(apex, n));
        while next(k, n) != apex {
            least = least.min(cross(plan[apex], plan[k], plan[next(k, n)]));
            k = next(k, n);
        }
        least
    };
    let (apex, area) = (0..n)
        .map(|a| (a, worst(a)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (area > 1e-13).then_some(apex)
}

/// Points no triangle stands on any more are left out.
fn drop_unused(surface: &mut Surface, place: &mut Vec<u32>) {
    let mut used = vec![false; surface.points.len()];
    for t in &surface.triangles {
        for &i in t {
            used[i as usize] = true;
        }
    }
    if used.iter().all(|&u| u) {
        return;
    }
    let mut new = vec![u32::MAX; used.len()];
    let mut count = 0u32;
    for i in 0..used.len() {
        if used[i] {
            new[i] = count;
            surface.points[count as usize] = surface.points[i];
            place[count as usize] = place[i];
            count += 1;
        }
    }
    surface.points.truncate(count as usize);
    place.truncate(count as usize);
    for t in &mut surface.triangles {
        *t = t.map(|i| new[i as usize]);
    }
}
