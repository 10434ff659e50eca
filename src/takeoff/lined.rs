//! The dug surface as lining sees it: triangles, each lined or not, and the upright faces between
//! them. Lined is what a basin, its pits or a cascade's pools made, up to the lining's edge.
//!
//! A face belongs to the lining where the ground below it does, up to the edge; and where the ground
//! above it does (the drop under a lip), down to its foot. Metres.

use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use crate::plan::{Kind, MadeBy};
use crate::terrain::predicates::{P2, from_line};
use crate::terrain::{Plane, Surface};

/// Part of the surface that a layer of lining may be kept to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    Floor,
    Shelf,
    Side,
}

#[derive(Debug, Clone, Copy)]
pub struct Bit {
    pub corners: [[f64; 3]; 3],
    /// Numbers of the corners' places in plan.
    places: [u32; 3],
    pub lined: Option<Part>,
}

impl Bit {
    fn plane(&self) -> Plane {
        let [p, q, r] = self.corners;
        Plane::through(p, q, r)
    }
}

/// An upright face over the line from `a` to `b`: its foot, its top, and how far up or down it is
/// lined, at both ends.
#[derive(Debug, Clone, Copy)]
pub struct Face {
    pub a: P2,
    pub b: P2,
    pub height: [f64; 2],
    /// Lined height at both ends; none where it is not lined.
    pub lined: Option<[f64; 2]>,
}

/// An edge where the surface ends, bends or changes from lined to bare.
#[derive(Debug, Clone, Copy)]
pub struct Crease {
    pub a: P2,
    pub b: P2,
    /// The ground to the left and to the right of it, where there is any.
    pub left: Option<Ground>,
    pub right: Option<Ground>,
    /// It borders on lining.
    pub lined: bool,
    /// The ground goes over it without a step.
    pub level: bool,
}

impl Crease {
    fn turned(&self) -> Self {
        Crease {
            a: self.b,
            b: self.a,
            left: self.right,
            right: self.left,
            lined: self.lined,
            level: self.level,
        }
    }

    fn is_between_the_slopes_of(&self, other: &Crease) -> bool {
        let same = |a: &Option<Ground>, b: &Option<Ground>| match (a, b) {
            (Some(a), Some(b)) => {
                (0..2).all(|i| (a.gradient[i] - b.gradient[i]).abs() <= SAME_SLOPE)
            }
            (None, None) => true,
            _ => false,
        };
        self.lined == other.lined
            && self.level == other.level
            && same(&self.left, &other.left)
            && same(&self.right, &other.right)
    }
}

/// A corner at which lengths along the surface bend.
#[derive(Debug, Clone, Copy)]
pub struct Corner {
    pub at: P2,
    /// They do not jump there: no face ends there, and no lining.
    pub smooth: bool,
}

/// How the ground slopes.
#[derive(Debug, Clone, Copy)]
pub struct Ground {
    pub gradient: P2,
    /// By how much a metre straight up or down it is longer than in plan, over the square of the slope.
    pub more_by_square: f64,
}

impl Ground {
    fn of(plane: &Plane) -> Self {
        let [x, y] = plane.gradient;
        let square = x * x + y * y;
        Ground {
            gradient: plane.gradient,
            // √(1 + s²) − 1, so that no digits are lost on a slight slope.
            more_by_square: 1.0 / ((1.0 + square).sqrt() + 1.0),
        }
    }
}

#[derive(Debug, Clone, Default)]
pub struct Skin {
    pub bits: Vec<Bit>,
    pub faces: Vec<Face>,
    pub creases: Vec<Crease>,
    /// Corners of what is lined at which those end, meet or turn.
    pub bends: Vec<Corner>,
    /// All corners of what is lined, hardly any twice.
    pub lined: Vec<P2>,
}

/// Two triangles are one plane where neither leaves the other's by more than this (metres): corners were
/// welded to half of it.
const FLAT: f64 = 2e-5;
/// A crease runs on straight past a corner that lies no further off it (metres).
const STRAIGHT: f64 = 2e-6;
/// What is no higher is no upright face (metres).
const STEP: f64 = 1e-6;
/// Slopes that differ by no more are one: in ten metres, a hundredth of a millimetre.
const SAME_SLOPE: f64 = 1e-6;

/// Places in plan to a hundredth of a millimetre, numbered as they come.
#[derive(Default)]
struct Places(FxHashMap<(i64, i64), u32>);

impl Places {
    fn number(&mut self, p: &[f64]) -> u32 {
        let key = ((p[0] * 1e5).round() as i64, (p[1] * 1e5).round() as i64);
        let next = self.0.len() as u32;
        *self.0.entry(key).or_insert(next)
    }
}

/// Edges of triangles by the places that they run between: those from place `p` are
/// `list[first[p]..first[p + 1]]`, each with where it runs to and its number (three to a triangle).
struct Edges {
    first: Vec<u32>,
    list: Vec<[u32; 2]>,
}

impl Edges {
    fn new(places: usize, triangles: impl Iterator<Item = [u32; 3]> + Clone) -> Self {
        let mut first = vec![0u32; places + 1];
        for place in triangles.clone().flatten() {
            first[place as usize + 1] += 1;
        }
        for p in 0..places {
            first[p + 1] += first[p];
        }
        let mut next = first.clone();
        let mut list = vec![[0; 2]; first[places] as usize];
        for (t, at) in (0..).zip(triangles) {
            for k in 0..3 {
                let slot = &mut next[at[k] as usize];
                list[*slot as usize] = [at[(k + 1) % 3], 3 * t + k as u32];
                *slot += 1;
            }
        }
        Edges { first, list }
    }

    /// Triangle and edge that run from one place to another; the last of several.
    fn get(&self, from: u32, to: u32) -> Option<(usize, usize)> {
        let from = from as usize;
        let list = &self.list[self.first[from] as usize..self.first[from + 1] as usize];
        let [_, number] = list.iter().rev().find(|e| e[0] == to)?;
        Some((*number as usize / 3, *number as usize % 3))
    }
}

/// A body of lining: who is lined, and the elevation of its edge.
#[derive(Debug, Clone, Copy)]
pub struct Lining<'a> {
    pub name: &'a str,
    pub kind: Kind,
    pub edge: f64,
}

/// Creases that run on straight between the same two slopes, as one: triangles of works cut them up. Given
/// with the places that they run between, and for each place which meet there.
fn run_on(creases: &[Crease], ends: &[[u32; 2]], meeting: &[SmallVec<[u32; 4]>]) -> Vec<Crease> {
    let mut taken = vec![false; creases.len()];
    let mut out = Vec::with_capacity(creases.len());
    for (k, first) in creases.iter().enumerate() {
        if std::mem::replace(&mut taken[k], true) {
            continue;
        }
        let mut run = *first;
        let mut passed: SmallVec<[P2; 8]> = SmallVec::new();
        // On from where it ends, then back from where it begins.
        for end in [1, 0] {
            let mut place = ends[k][end];
            while let [m, n] = meeting[place as usize][..] {
                let next = if taken[m as usize / 2] { n } else { m };
                let (number, ends_here) = (next as usize / 2, next % 2 == 1);
                if taken[number] {
                    break;
                }
                // Seen in the direction of the run: what ends where the run begins goes its way.
                let it = match ends_here == (end == 0) {
                    true => creases[number],
                    false => creases[number].turned(),
                };
                let longer = match end {
                    1 => Crease { b: it.b, ..run },
                    _ => Crease { a: it.a, ..run },
                };
                passed.push(if end == 1 { run.b } else { run.a });
                let straight = |p: &P2| from_line(*p, longer.a, longer.b) <= STRAIGHT;
                if !run.is_between_the_slopes_of(&it) || !passed.iter().all(straight) {
                    passed.pop();
                    break;
                }
                taken[number] = true;
                run = longer;
                place = ends[number][usize::from(!ends_here)];
            }
        }
        out.push(run);
    }
    out
}

impl Skin {
    /// The lined parts of `surface`, and the ground round and between them.
    pub fn of(surface: &Surface, makers: &[MadeBy], linings: &[Lining]) -> Skin {
        // For each maker: its lining's edge and its part.
        let by: Vec<Option<(f64, Part)>> = makers
            .iter()
            .map(|m| {
                let lining = linings
                    .iter()
                    .find(|l| l.kind == m.kind && l.name == m.name)?;
                let part = match m.part.as_str() {
                    "floor" => Part::Floor,
                    "side" | "bank" => Part::Side,
                    // Shelves, and the sills that water runs over.
                    _ => Part::Shelf,
                };
                Some((lining.edge, part))
            })
            .collect();
        let lining = |t: usize| {
            let maker = surface.made_by.get(t).copied().unwrap_or(0);
            by.get(maker as usize).copied().flatten()
        };
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for t in 0..surface.triangles.len() {
            if lining(t).is_some_and(|(edge, _)| surface.corners(t).iter().any(|c| c[2] < edge)) {
                for c in surface.corners(t) {
                    for k in 0..2 {
                        low[k] = low[k].min(c[k]);
                        high[k] = high[k].max(c[k]);
                    }
                }
            }
        }
        let near: Vec<usize> = (0..surface.triangles.len())
            .filter(|&t| {
                let c = surface.corners(t);
                (0..2)
                    .all(|k| c.iter().any(|p| p[k] >= low[k]) && c.iter().any(|p| p[k] <= high[k]))
            })
            .collect();
        let mut skin = Skin::default();
        let mut places = Places::default();
        let mut of_point = vec![u32::MAX; surface.points.len()];
        for &i in near.iter().flat_map(|&t| &surface.triangles[t]) {
            let place = &mut of_point[i as usize];
            if *place == u32::MAX {
                *place = places.number(&surface.points[i as usize]);
            }
        }
        let places_of = |t: usize| surface.triangles[t].map(|i| of_point[i as usize]);
        for &t in &near {
            skin.add(surface.corners(t), places_of(t), lining(t), &mut places);
        }
        // Both sides of an upright face have the same ends in plan.
        let edges = Edges::new(places.0.len(), near.iter().map(|&t| places_of(t)));
        for &t in &near {
            let (c, at) = (surface.corners(t), places_of(t));
            for k in 0..3 {
                let m = (k + 1) % 3;
                let (a, b) = (c[k], c[m]);
                let Some((other, n)) = edges.get(at[m], at[k]) else {
                    continue;
                };
                let other = near[other];
                let over = surface.corners(other);
                let (zb, za) = (over[n][2], over[(n + 1) % 3][2]);
                // Seen from below, so that each is taken once.
                let height = [za - a[2], zb - b[2]];
                if height[0] + height[1] <= 1e-6 {
                    continue;
                }
                let height = height.map(|h| h.max(0.0));
                let lined = match (lining(t), lining(other)) {
                    (Some((edge, _)), _) => Some([
                        height[0].min((edge - a[2]).max(0.0)),
                        height[1].min((edge - b[2]).max(0.0)),
                    ]),
                    (None, Some((edge, _))) => Some([
                        (za.min(edge) - a[2]).clamp(0.0, height[0]),
                        (zb.min(edge) - b[2]).clamp(0.0, height[1]),
                    ]),
                    (None, None) => None,
                };
                let lined = lined.filter(|l| l[0] + l[1] > 1e-6);
                skin.faces.push(Face {
                    a: [a[0], a[1]],
                    b: [b[0], b[1]],
                    height,
                    lined,
                });
            }
        }
        skin.crease(places.0.len());
        // A corner is left out only if the last of that place was the very same.
        let mut known = vec![[f64::NAN; 2]; places.0.len()];
        for bit in skin.bits.iter().filter(|b| b.lined.is_some()) {
            for (c, place) in bit.corners.iter().zip(bit.places) {
                let corner = [c[0], c[1]];
                if std::mem::replace(&mut known[place as usize], corner) != corner {
                    skin.lined.push(corner);
                }
            }
        }
        skin
    }

    /// Finds creases and bends. Works cut one plane into very many triangles: a tape bends at few of their
    /// edges.
    fn crease(&mut self, places: usize) {
        let edges = Edges::new(places, self.bits.iter().map(|b| b.places));
        let planes: Vec<Plane> = self.bits.iter().map(Bit::plane).collect();
        let mut creases: Vec<Crease> = Vec::new();
        // Over each corner its creases, by twice their numbers and one more where they end there.
        let mut meeting: Vec<SmallVec<[u32; 4]>> = vec![SmallVec::new(); places];
        let mut at_ends: Vec<[u32; 2]> = Vec::new();
        // Those that neither a face nor the lining's edge runs along.
        let mut inner: Vec<bool> = Vec::new();
        for (i, bit) in self.bits.iter().enumerate() {
            for k in 0..3 {
                let (a, b) = (bit.corners[k], bit.corners[(k + 1) % 3]);
                let (at_a, at_b) = (bit.places[k], bit.places[(k + 1) % 3]);
                let over = edges.get(at_b, at_a);
                let mut lined = bit.lined.is_some();
                let mut right = None;
                let mut level = false;
                let mut within = false;
                if let Some((o, m)) = over {
                    let other = &self.bits[o];
                    if o < i && edges.get(at_a, at_b) == Some((i, k)) {
                        // It was seen from the other side.
                        continue;
                    }
                    let near =
                        |of: usize, c: [f64; 3]| (planes[of].at([c[0], c[1]]) - c[2]).abs() <= FLAT;
                    let flat = bit.lined.is_some() == other.lined.is_some()
                        && near(i, other.corners[(m + 2) % 3])
                        && near(o, bit.corners[(k + 2) % 3]);
                    if flat {
                        continue;
                    }
                    within = bit.lined.is_some() == other.lined.is_some();
                    lined |= other.lined.is_some();
                    let (to, from) = (other.corners[m], other.corners[(m + 1) % 3]);
                    level = (from[2] - a[2]).abs().max((to[2] - b[2]).abs()) <= STEP;
                    right = Some(Ground::of(&planes[o]));
                }
                let (a, b) = ([a[0], a[1]], [b[0], b[1]]);
                let number = 2 * creases.len() as u32;
                meeting[at_a as usize].push(number);
                meeting[at_b as usize].push(number + 1);
                at_ends.push([at_a, at_b]);
                creases.push(Crease {
                    a,
                    b,
                    left: Some(Ground::of(&planes[i])),
                    right,
                    lined,
                    level,
                });
                inner.push(within && level);
            }
        }
        let crease = |number: u32| &creases[number as usize / 2];
        let bends = meeting.iter().filter_map(|numbers| {
            let near = |n: u32| [crease(n).a, crease(n).b][n as usize % 2];
            let far = |n: u32| [crease(n).b, crease(n).a][n as usize % 2];
            let straight = match numbers[..] {
                [m, n] => from_line(near(m), far(m), far(n)) <= STRAIGHT,
                _ => false,
            };
            let lined = numbers.iter().any(|&n| crease(n).lined);
            (lined && !straight).then(|| Corner {
                at: near(numbers[0]),
                smooth: numbers.iter().all(|&n| inner[n as usize / 2]),
            })
        });
        self.bends = bends.collect();
        self.creases = run_on(&creases, &at_ends, &meeting);
    }

    /// A triangle, cut at the elevation of the lining's edge.
    fn add(
        &mut self,
        c: [[f64; 3]; 3],
        at: [u32; 3],
        lining: Option<(f64, Part)>,
        places: &mut Places,
    ) {
        let Some((edge, part)) = lining else {
            self.bits.push(Bit {
                corners: c,
                places: at,
                lined: None,
            });
            return;
        };
        type Ring = SmallVec<[([f64; 3], u32); 4]>;
        let (mut below, mut above): (Ring, Ring) = Default::default();
        for k in 0..3 {
            let (p, q) = (c[k], c[(k + 1) % 3]);
            let side = |z: f64| z <= edge + 1e-9;
            if side(p[2]) {
                below.push((p, at[k]));
            } else {
                above.push((p, at[k]));
            }
            if side(p[2]) != side(q[2]) {
                let f = (edge - p[2]) / (q[2] - p[2]);
                let x = [p[0] + f * (q[0] - p[0]), p[1] + f * (q[1] - p[1]), edge];
                let x = (x, places.number(&x));
                below.push(x);
                above.push(x);
            }
        }
        for (ring, lined) in [(below, Some(part)), (above, None)] {
            for k in 1..ring.len().saturating_sub(1) {
                let [a, b, c] = [ring[0], ring[k], ring[k + 1]];
                self.bits.push(Bit {
                    corners: [a.0, b.0, c.0],
                    places: [a.1, b.1, c.1],
                    lined,
                });
            }
        }
    }

    pub fn is_empty(&self) -> bool {
        !self.bits.iter().any(|b| b.lined.is_some())
    }

    /// Area along the surface that `which` takes in, upright faces as sides, m².
    pub fn area(&self, which: impl Fn(Part) -> bool) -> f64 {
        let bits = self.bits.iter().filter(|b| b.lined.is_some_and(&which));
        let flat: f64 = bits
            .map(|b| {
                let [p, q, r] = b.corners.map(nalgebra::Vector3::from);
                0.5 * (q - p).cross(&(r - p)).norm()
            })
            .sum();
        if !which(Part::Side) {
            return flat;
        }
        let upright: f64 = self
            .faces
            .iter()
            .filter_map(|f| {
                let h = f.lined?;
                Some(0.5 * (h[0] + h[1]) * (f.b[0] - f.a[0]).hypot(f.b[1] - f.a[1]))
            })
            .sum();
        flat + upright
    }
}
