//! One of the three surfaces as a block model: the ground, its upright faces, and the sides of the
//! block down to a common base.
//!
//! A surface stores no upright faces: across one, the two sides stand on different points at the
//! same place in plan. They are found here as edges that only one triangle uses: two such edges
//! one over the other give a face, a single one is the side of the block.

use bevy::math::Vec3;
use rustc_hash::FxHashMap;

use crate::plan::{Kind, MadeBy, Plan, Solid};
use crate::terrain::Surface;

use super::Look;
use super::bins::Bins;
use super::drape::Drape;
use super::mesh::{Batch, Frame};
use super::stuff::Stuff;

/// Points closer than this are one.
const TOUCH: f64 = 1e-5;
/// Faces lower than this are not drawn.
const FLUSH: f64 = 1e-4;
/// Ground bending by less than this is drawn round (cosine of 38°).
const ROUND: f32 = 0.788;

/// `walls`: whether new walls are drawn as bodies beside it.
pub fn block(plan: &Plan, look: Look, walls: bool, drape: &Drape, frame: &Frame) -> Batch {
    let surface = look.surface(plan);
    let mut batch = Batch::default();
    let maker = |t: usize| -> Option<&MadeBy> {
        plan.makers
            .get(usize::from(*surface.made_by.get(t).unwrap_or(&0)))
    };
    let count = surface.triangles.len();
    let topped: Vec<bool> = (0..count)
        .map(|t| drawn_as_solid(surface, t, maker(t), &plan.solids, walls))
        .collect();

    let mut wet = vec![false; count];
    if look == Look::Finished {
        for triangle in plan.water.iter().flat_map(|w| &w.sheet) {
            let middle = [0, 1].map(|k| triangle.iter().map(|p| p[k]).sum::<f64>() / 3.0);
            if let Some(t) = drape.triangle(middle) {
                wet[t] = true;
            }
        }
    }

    let vertices = Vertices::of(surface);
    let normals = vertices.corner_normals(surface, frame);
    for t in (0..count).filter(|&t| !topped[t]) {
        let mut stuff = Stuff::of(maker(t), look);
        if wet[t] && maker(t).is_some_and(|m| m.kind == Kind::Pad) {
            // A floor levelled before the pond was dug; under water it is stoned like the rest.
            stuff = Stuff::Cobble;
        }
        let corners = surface.corners(t).map(|p| frame.scene(p));
        for k in 0..3 {
            batch.corner(corners[k], normals[t][k], [0.0; 2], stuff);
        }
    }

    for edge in vertices.open_edges() {
        match edge.over {
            None => side(&mut batch, frame, &edge, maker(edge.triangle)),
            // The body of the wall shows its own face.
            Some(_) if topped[edge.triangle] => {}
            Some((lower, below)) => {
                let stuff = Stuff::face(maker(edge.triangle), maker(lower), look);
                let [a, b] = edge.ends;
                let at = |p: [f64; 3], z: f64| frame.scene([p[0], p[1], z]);
                let [za, zb] = [a[2] - below[0], b[2] - below[1]].map(|d| [0.0, d as f32]);
                batch.quad(
                    [at(b, below[1]), at(a, below[0]), at(a, a[2]), at(b, b[2])],
                    [zb, za, [0.0; 2], [0.0; 2]],
                    stuff,
                );
            }
        }
    }
    batch
}

/// Wall tops are part of the finished surface, and walls are bodies as well: drawn once.
fn drawn_as_solid(
    surface: &Surface,
    t: usize,
    maker: Option<&MadeBy>,
    solids: &[Solid],
    walls: bool,
) -> bool {
    let Some(maker) = maker else { return false };
    let wall = match maker.kind {
        Kind::StandingWall => true,
        Kind::Wall => walls,
        _ => false,
    };
    wall && {
        let top = surface.corners(t).iter().map(|p| p[2]).sum::<f64>() / 3.0;
        solids
            .iter()
            .any(|s| s.name == maker.name && (s.cap - top).abs() < 0.03)
    }
}

fn side(batch: &mut Batch, frame: &Frame, edge: &OpenEdge, maker: Option<&MadeBy>) {
    let [a, b] = edge.ends;
    let at = |p: [f64; 3], z: f64| frame.scene([p[0], p[1], z]);
    // Where the ground is as it was, its topsoil shows.
    let natural = maker.is_none_or(|m| m.kind == Kind::Ground);
    let topsoil = if natural { 1.0 } else { 0.0 };
    batch.quad(
        [
            at(b, frame.base),
            at(a, frame.base),
            at(a, a[2]),
            at(b, b[2]),
        ],
        [
            [topsoil, (b[2] - frame.base) as f32],
            [topsoil, (a[2] - frame.base) as f32],
            [topsoil, 0.0],
            [topsoil, 0.0],
        ],
        Stuff::Strata,
    );
}

/// The edges of a surface with open air on their right.
pub fn open_edges(surface: &Surface) -> Vec<OpenEdge> {
    Vertices::of(surface).open_edges()
}

/// An edge with open air on its right.
pub struct OpenEdge {
    pub ends: [[f64; 3]; 2],
    pub triangle: usize,
    /// The ground below it: its triangle, and its elevations at the two ends.
    pub over: Option<(usize, [f64; 2])>,
}

struct Vertices {
    /// For each triangle, its corners as numbers shared by corners at the same place.
    corners: Vec<[u32; 3]>,
    places: Vec<[f64; 3]>,
    /// For each place the triangles with a corner there, and which corner it is.
    around: Bins<(u32, u8)>,
    origin: [f64; 2],
}

impl Vertices {
    fn of(surface: &Surface) -> Self {
        let mut seen: FxHashMap<[i64; 3], u32> = FxHashMap::default();
        let mut places = Vec::new();
        let number: Vec<u32> = surface
            .points
            .iter()
            .map(|p| {
                *seen
                    .entry(p.map(|v| (v / TOUCH).round() as i64))
                    .or_insert_with(|| {
                        places.push(*p);
                        places.len() as u32 - 1
                    })
            })
            .collect();
        let corners: Vec<[u32; 3]> = surface
            .triangles
            .iter()
            .map(|t| t.map(|i| number[i as usize]))
            .collect();
        let around = Bins::of(places.len(), |put| {
            for (t, corners) in corners.iter().enumerate() {
                for (k, v) in corners.iter().enumerate() {
                    put(*v as usize, (t as u32, k as u8));
                }
            }
        });
        let origin = surface.bounds().map_or([0.0; 2], |[lo, _]| [lo[0], lo[1]]);
        Vertices {
            corners,
            places,
            around,
            origin,
        }
    }

    /// Whether a triangle has this edge, in this direction.
    fn has_edge(&self, from: u32, to: u32) -> bool {
        self.around
            .get(from as usize)
            .iter()
            .any(|(t, k)| self.corners[*t as usize][(usize::from(*k) + 1) % 3] == to)
    }

    /// Normals averaged over the neighbours that bend gently, each counted by its angle.
    fn corner_normals(&self, surface: &Surface, frame: &Frame) -> Vec<[Vec3; 3]> {
        let flat: Vec<Vec3> = (0..surface.triangles.len())
            .map(|t| {
                let [a, b, c] = surface.corners(t).map(|p| frame.scene(p));
                (b - a).cross(c - a).normalize_or(Vec3::Y)
            })
            .collect();
        let angles: Vec<[f32; 3]> = (0..self.corners.len())
            .map(|t| {
                let p = surface.corners(t).map(|p| frame.scene(p));
                [0, 1, 2].map(|k| {
                    let (u, v) = (p[(k + 1) % 3] - p[k], p[(k + 2) % 3] - p[k]);
                    let angle = u.angle_between(v);
                    if angle.is_finite() { angle } else { 0.0 }
                })
            })
            .collect();
        self.corners
            .iter()
            .enumerate()
            .map(|(t, corners)| {
                corners.map(|v| {
                    self.around
                        .get(v as usize)
                        .iter()
                        .map(|(n, k)| (*n as usize, usize::from(*k)))
                        .filter(|(n, _)| flat[*n].dot(flat[t]) > ROUND)
                        .map(|(n, k)| flat[n] * angles[n][k])
                        .sum::<Vec3>()
                        .normalize_or(flat[t])
                })
            })
            .collect()
    }

    fn open_edges(&self) -> Vec<OpenEdge> {
        let mut open = Vec::new();
        for (t, c) in self.corners.iter().enumerate() {
            for k in 0..3 {
                let (a, b) = (c[k], c[(k + 1) % 3]);
                if a != b && !self.has_edge(b, a) {
                    let [from, to] = [a, b].map(|v| self.places[v as usize]);
                    open.push((from, to, t));
                }
            }
        }
        self.pair(self.split(&open))
    }

    /// Cuts open edges where another's end touches them, so that the two sides of a face match.
    fn split(&self, open: &[([f64; 3], [f64; 3], usize)]) -> Vec<([f64; 3], [f64; 3], usize)> {
        const BIN: f64 = 0.5;
        let bin = |v: f64, k: usize| ((v - self.origin[k]) / BIN).floor() as i64;
        let mut ends: FxHashMap<(i64, i64), Vec<[f64; 2]>> = FxHashMap::default();
        for (a, _, _) in open {
            ends.entry((bin(a[0], 0), bin(a[1], 1)))
                .or_default()
                .push([a[0], a[1]]);
        }
        let mut out = Vec::new();
        for &(a, b, t) in open {
            let d = [b[0] - a[0], b[1] - a[1]];
            let length = d[0].hypot(d[1]);
            if length < TOUCH {
                continue;
            }
            let mut cuts = vec![0.0, 1.0];
            let range = |k: usize| {
                let (lo, hi) = (a[k].min(b[k]) - TOUCH, a[k].max(b[k]) + TOUCH);
                bin(lo, k)..=bin(hi, k)
            };
            for i in range(0) {
                for j in range(1) {
                    for p in ends.get(&(i, j)).into_iter().flatten() {
                        let e = [p[0] - a[0], p[1] - a[1]];
                        let f = (e[0] * d[0] + e[1] * d[1]) / (length * length);
                        let off = (e[0] * d[1] - e[1] * d[0]).abs() / length;
                        let clear = TOUCH / length;
                        if off < TOUCH && f > clear && f < 1.0 - clear {
                            cuts.push(f);
                        }
                    }
                }
            }
            cuts.sort_by(f64::total_cmp);
            cuts.dedup_by(|p, q| (*p - *q) * length < TOUCH);
            let along = |f: f64| [0, 1, 2].map(|k| a[k] + f * (b[k] - a[k]));
            for w in cuts.windows(2) {
                out.push((along(w[0]), along(w[1]), t));
            }
        }
        out
    }

    fn pair(&self, edges: Vec<([f64; 3], [f64; 3], usize)>) -> Vec<OpenEdge> {
        let key = |p: [f64; 3]| {
            // Coarser than the points themselves: both sides were cut at computed places.
            [0, 1].map(|k| ((p[k] - self.origin[k]) / (4.0 * TOUCH)).round() as i64)
        };
        let mut here: FxHashMap<([i64; 2], [i64; 2]), Vec<usize>> = FxHashMap::default();
        for (i, (a, b, _)) in edges.iter().enumerate() {
            here.entry((key(*a), key(*b))).or_default().push(i);
        }
        edges
            .iter()
            .filter_map(|&(a, b, triangle)| {
                let ends = [a, b];
                let other = here
                    .get(&(key(b), key(a)))
                    .and_then(|other| other.first())
                    .map(|&i| edges[i]);
                match other {
                    None => Some(OpenEdge {
                        ends,
                        triangle,
                        over: None,
                    }),
                    Some((from, to, lower)) => {
                        let below = [to[2], from[2]];
                        let drop = [a[2] - below[0], b[2] - below[1]];
                        let higher = drop[0] + drop[1] > 0.0 && drop.iter().any(|d| *d > FLUSH);
                        higher.then_some(OpenEdge {
                            ends,
                            triangle,
                            over: Some((lower, below)),
                        })
                    }
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two level squares side by side, the left one a metre higher, the right one cut finer.
    fn step() -> Surface {
        Surface {
            points: vec![
                [0.0, 0.0, 1.0],
                [1.0, 0.0, 1.0],
                [1.0, 1.0, 1.0],
                [0.0, 1.0, 1.0],
                [1.0, 0.0, 0.0],
                [2.0, 0.0, 0.0],
                [2.0, 1.0, 0.0],
                [1.0, 1.0, 0.0],
                [1.0, 0.5, 0.0],
            ],
            triangles: vec![[0, 1, 2], [0, 2, 3], [4, 5, 8], [5, 6, 8], [6, 7, 8]],
            made_by: vec![0; 5],
        }
    }

    #[test]
    fn a_step_has_one_face_and_six_sides() {
        let surface = step();
        let edges = Vertices::of(&surface).open_edges();
        let face: f64 = edges
            .iter()
            .filter_map(|e| {
                let (_, below) = e.over?;
                let [a, b] = e.ends;
                let wide = (b[0] - a[0]).hypot(b[1] - a[1]);
                Some(wide * (a[2] + b[2] - below[0] - below[1]) / 2.0)
            })
            .sum();
        assert!(
            (face - 1.0).abs() < 1e-12,
            "area of the face {face}, by hand 1"
        );
        let sides = edges.iter().filter(|e| e.over.is_none()).count();
        assert_eq!(sides, 6, "three outer edges on either side");
    }
}
