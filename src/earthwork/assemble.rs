//! From a worked mosaic to a surface whose triangles meet edge to edge.
//!
//! Corners within [`WELD`] of each other become one; corners that lie on a neighbour's edge are
//! put into it; each piece is then cut into triangles. Triangles of the ground that no work came
//! near are passed on as they are. Metres.

use rustc_hash::{FxHashMap, FxHashSet};
use smallvec::SmallVec;

use crate::terrain::predicates::{P2, cross};
use crate::terrain::{GROUND, Maker, Plane, Surface};

use super::mosaic::{Fate, Mosaic};

/// Corners nearer than this in plan (metres) are the same corner.
pub const WELD: f64 = 1e-6;
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

struct Welder {
    cells: FxHashMap<(i64, i64), SmallVec<[u32; 2]>>,
    at: Vec<P2>,
}

impl Welder {
    fn key(v: f64) -> i64 {
        floor(v / (4.0 * WELD))
    }

    fn find(&mut self, p: P2) -> u32 {
        // A corner near the border of its cell may have its twin next door.
        let (x0, x1) = (Self::key(p[0] - WELD), Self::key(p[0] + WELD));
        let (y0, y1) = (Self::key(p[1] - WELD), Self::key(p[1] + WELD));
        for x in x0..=x1 {
            for y in y0..=y1 {
                if let Some(ids) = self.cells.get(&(x, y)) {
                    for &id in ids {
                        let q = self.at[id as usize];
                        if (q[0] - p[0]).abs() <= WELD && (q[1] - p[1]).abs() <= WELD {
                            return id;
                        }
                    }
                }
            }
        }
        let id = self.at.len() as u32;
        self.at.push(p);
        self.cells
            .entry((Self::key(p[0]), Self::key(p[1])))
            .or_default()
            .push(id);
        id
    }
}

/// Corners by coarse cell, to find those on an edge.
struct Near {
    cell: f64,
    ids: FxHashMap<(i32, i32), SmallVec<[u32; 4]>>,
}

impl Near {
    fn new(at: &[P2], cell: f64) -> Self {
        let mut near = Near {
            cell,
            ids: FxHashMap::default(),
        };
        for (i, p) in at.iter().enumerate() {
            near.ids.entry(near.key(*p)).or_default().push(i as u32);
        }
        near
    }

    fn key(&self, p: P2) -> (i32, i32) {
        (
            floor(p[0] / self.cell) as i32,
            floor(p[1] / self.cell) as i32,
        )
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
            self.key([p[0].min(q[0]) - WELD, 0.0]).0,
            self.key([p[0].max(q[0]) + WELD, 0.0]).0,
        );
        for kx in k0..=k1 {
            // The stretch of the edge inside this column of cells gives the rows to look at.
            let (xa, xb) = (kx as f64 * self.cell, (kx + 1) as f64 * self.cell);
            let (y0, y1) = if d[0].abs() < 1e-9 {
                (p[1].min(q[1]), p[1].max(q[1]))
            } else {
                let t = |x: f64| ((x - p[0]) / d[0]).clamp(0.0, 1.0);
                let (ya, yb) = (p[1] + t(xa) * d[1], p[1] + t(xb) * d[1]);
                (ya.min(yb), ya.max(yb))
            };
            let (r0, r1) = (
                self.key([0.0, y0 - 2.0 * WELD]).1,
                self.key([0.0, y1 + 2.0 * WELD]).1,
            );
            for ky in r0..=r1 {
                let Some(ids) = self.ids.get(&(kx, ky)) else {
                    continue;
                };
                for &id in ids {
                    if id == a || id == b {
                        continue;
                    }
                    let r = at[id as usize];
                    let off = ((r[0] - p[0]) * d[1] - (r[1] - p[1]) * d[0]).abs() / length;
                    let along = ((r[0] - p[0]) * d[0] + (r[1] - p[1]) * d[1]) / length;
                    if off <= 1.5 * WELD && along > WELD && along < length - WELD {
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
    let mut surface = Surface {
        points: base.points.clone(),
        triangles: Vec::with_capacity(base.triangles.len()),
        made_by: Vec::with_capacity(base.triangles.len()),
    };
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
    let mut welder = Welder {
        cells: FxHashMap::default(),
        at: Vec::new(),
    };
    // For each corner: the points standing there, as (elevation, index).
    let mut standing: Vec<SmallVec<[(f64, u32); 2]>> = Vec::new();
    let mut base_corner = vec![u32::MAX; base.points.len()];
    let mut weld = |i: u32, standing: &mut Vec<SmallVec<_>>, welder: &mut Welder| {
        let corner = &mut base_corner[i as usize];
        if *corner == u32::MAX {
            let p = base.points[i as usize];
            *corner = welder.find([p[0], p[1]]);
            standing.resize(welder.at.len(), SmallVec::new());
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
    let mut parts: Vec<Part> = Vec::new();
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
    let mut edges: FxHashSet<(u32, u32)> = FxHashSet::default();
    edges.reserve(parts.len() * 4);
    for part in &parts {
        for k in 0..part.corners.len() {
            edges.insert((part.corners[k], part.corners[(k + 1) % part.corners.len()]));
        }
    }
    let mut at = std::mem::take(&mut welder.at);
    let near = Near::new(&at, 0.35);
    let mut inside: SmallVec<[u32; 4]> = SmallVec::new();
    let mut place: Vec<u32> = (0..base.points.len() as u32).collect();
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
            let (a, b) = (part.corners[k], part.corners[(k + 1) % n]);
            full.push(a);
            if !edges.contains(&(b, a)) {
                near.on(&at, a, b, &mut inside);
                full.extend_from_slice(&inside);
            }
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
                for k in 1..n - 1 {
                    let (i, j) = ((apex + k) % n, (apex + k + 1) % n);
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

/// The corner from which the polygon falls into the roundest fan; `None` if every fan has a
/// triangle without area.
fn best_fan(plan: &[P2]) -> Option<usize> {
    let n = plan.len();
    let worst = |apex: usize| {
        (1..n - 1)
            .map(|k| cross(plan[apex], plan[(apex + k) % n], plan[(apex + k + 1) % n]))
            .fold(f64::INFINITY, f64::min)
    };
    let (apex, area) = (0..n)
        .map(|a| (a, worst(a)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (area > 1e-13 || n == 3).then_some(apex)
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
