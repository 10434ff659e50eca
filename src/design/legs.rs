//! A strip along a line as the union of its legs: crest or floor, side slopes, edges to stake. Metres.
//!
//! Where a bend leaves both legs beside it room, it is mitred and the legs meet in the mitre. Where one of
//! them is shorter than the mitre takes from its inner edge, or the bend so sharp that the mitre is cut
//! short, the strip would fold over itself. There both legs run on to the bend with their full width, and
//! the corner outside it is filled, level. Legs that overlap are told apart by whoever digs to the lowest
//! facet or places to the highest: so every place belongs to the leg that counts there, and to one only.
//! A line that comes back to where it began, at the height at which it began, bends there as well.

use crate::earthwork::Facet;
use crate::earthwork::facet::{self, Slope};
use crate::terrain::convex::{self, area2};
use crate::terrain::line::dist;
use crate::terrain::predicates::{P2, cross};
use crate::terrain::{GROUND, Maker, Plane};

/// A mitre is as long as its bend asks for up to here: 1 + the cosine of the turn (as in
/// [`facet::edges_of`]).
const MITRED: f64 = 0.3;
/// What lies no deeper in a leg is on its edge.
const EDGE: f64 = 1e-6;
/// An edge shorter than this is not staked.
const SHORT: f64 = 0.01;

pub struct Legs {
    runs: Vec<Run>,
    corners: Vec<Corner>,
}

/// A stretch of the line whose bends are mitred.
struct Run {
    /// Right edge forward, left edge back.
    ring: Vec<[f64; 3]>,
    /// Numbers of the corners at its ends.
    begins: Option<usize>,
    ends: Option<usize>,
}

/// A bend at which the legs run on to the point of the line.
struct Corner {
    at: [f64; 3],
    /// Outside the bend: end of the leg before, tip, beginning of the leg after.
    outer: [[f64; 3]; 3],
    /// It turns left: its outside is to the right of the line.
    left: bool,
}

fn unit(a: P2, b: P2) -> P2 {
    let length = (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-12);
    [(b[0] - a[0]) / length, (b[1] - a[1]) / length]
}

impl Legs {
    /// Along a line of at least two points, so wide to either side; elevation `z` across the whole width at
    /// each point.
    pub fn of(line: &[P2], z: &[f64], half: f64) -> Legs {
        let n = line.len();
        let closed = n > 3
            && (line[0][0] - line[n - 1][0]).hypot(line[0][1] - line[n - 1][1]) < EDGE
            && (z[0] - z[n - 1]).abs() < EDGE;
        let apart = runs_on(line, half);
        let mut legs = Legs {
            runs: Vec::new(),
            corners: Vec::new(),
        };
        let mut from = 0;
        let last = closed.then_some(legs.corners.len());
        if closed {
            legs.corners
                .push(corner([line[n - 2], line[0], line[1]], z[0], half));
        }
        let mut begins = last;
        for to in 1..n {
            let ends = if to == n - 1 {
                last
            } else if apart[to] {
                let at = [line[to - 1], line[to], line[to + 1]];
                legs.corners.push(corner(at, z[to], half));
                Some(legs.corners.len() - 1)
            } else {
                continue;
            };
            legs.runs.push(Run {
                ring: facet::strip(&line[from..=to], half, half, |i| z[from + i]),
                begins,
                ends,
            });
            (from, begins) = (to, ends);
        }
        legs
    }

    /// Crest or floor.
    pub fn core(&self, maker: Maker) -> Vec<Facet> {
        let runs = self
            .runs
            .iter()
            .flat_map(|r| facet::strip_core(&r.ring, maker));
        let corners = self.corners.iter().filter_map(|c| {
            let ring = [c.at, c.outer[0], c.outer[1], c.outer[2]].map(|p| [p[0], p[1]]);
            let ring = facet::counter_clockwise(ring.to_vec());
            (area2(&ring) > 1e-9).then(|| facet::on_plane(&ring, Plane::level(c.at[2]), maker))
        });
        runs.chain(corners.flatten()).collect()
    }

    /// Side slopes out to elevation `limit`.
    pub fn sides(&self, batter: f64, slope: Slope, limit: f64, maker: Maker) -> Vec<Facet> {
        let sides = |run: &Run| {
            let around = self.around(run);
            let ring: Vec<[f64; 3]> = around.iter().map(|c| c.at).collect();
            let batter = |i: usize| if around[i].slopes { batter } else { 0.0 };
            facet::sides_rounded(&ring, batter, |i| around[i].round, slope, limit, maker)
        };
        self.runs.iter().flat_map(sides).collect()
    }

    /// Round a run and the corners at its ends, with the edges that slopes go down (or up) from.
    fn around(&self, run: &Run) -> Vec<Turn> {
        let m = run.ring.len() / 2;
        let mut turns: Vec<Turn> = Vec::with_capacity(2 * m + 8);
        let mut go = |at, slopes, round| turns.push(Turn { at, slopes, round });
        // What lies inside a bend is rounded off, so that nothing of it stands out where the other leg
        // covers it; the outside goes with the leg before and with that after, for the ridges between.
        let (right, left) = run.ring.split_at(m);
        let ends = run.ends.map(|k| &self.corners[k]);
        right[..m - 1].iter().for_each(|&p| go(p, true, false));
        match ends {
            None => {
                go(right[m - 1], true, false);
                go(left[0], true, false);
            }
            Some(c) if c.left => {
                go(right[m - 1], true, false);
                go(c.outer[1], true, false);
                go(c.outer[2], false, false);
                go(c.at, true, false);
                go(left[0], true, true);
            }
            Some(c) => {
                go(right[m - 1], true, true);
                go(c.at, false, false);
                go(c.outer[2], true, false);
                go(c.outer[1], true, false);
                go(left[0], true, false);
            }
        }
        left[1..].iter().for_each(|&p| go(p, true, false));
        match run.begins.map(|k| &self.corners[k]) {
            None => {}
            Some(c) if c.left => {
                go(c.at, false, false);
                go(c.outer[0], true, false);
                go(c.outer[1], true, false);
                let last = turns.len() - 4;
                turns[last].round = true;
            }
            Some(c) => {
                go(c.outer[1], true, false);
                go(c.outer[0], false, false);
                go(c.at, true, false);
                turns[0].round = true;
            }
        }
        turns
    }

    /// The right and the left edge, each walked forward: in one, or in as many bits as the tops of other
    /// legs leave of it.
    pub fn edges(&self) -> [Vec<Vec<[f64; 3]>>; 2] {
        let core = self.core(GROUND);
        [true, false].map(|right| {
            let mut edge: Vec<[f64; 3]> = Vec::new();
            for run in &self.runs {
                let m = run.ring.len() / 2;
                if right {
                    edge.extend_from_slice(&run.ring[..m]);
                } else {
                    edge.extend(run.ring[m..].iter().rev());
                }
                if let Some(c) = run.ends.map(|k| &self.corners[k]) {
                    edge.push(if c.left == right { c.outer[1] } else { c.at });
                }
            }
            // A closed line's edges end where they began.
            if self.runs.first().is_some_and(|r| r.begins.is_some()) {
                edge.push(edge[0]);
            }
            if !self.corners.is_empty() {
                edge.dedup_by(|b, a| dist(flat(*a), flat(*b)) < EDGE);
            }
            match bared(&edge, &core) {
                None if self.corners.is_empty() => vec![edge],
                None => straightened(vec![edge]),
                Some(bits) => straightened(bits),
            }
        })
    }
}

fn flat(p: [f64; 3]) -> P2 {
    [p[0], p[1]]
}

/// Points between which a line is laid out on its own: `true` where the legs on both sides run on to it.
fn runs_on(line: &[P2], half: f64) -> Vec<bool> {
    let n = line.len();
    let units: Vec<P2> = line.windows(2).map(|w| unit(w[0], w[1])).collect();
    let mut on: Vec<bool> = (0..n)
        .map(|k| {
            let between = k > 0 && k + 1 < n;
            between && 1.0 + units[k - 1][0] * units[k][0] + units[k - 1][1] * units[k][1] < MITRED
        })
        .collect();
    let (rights, lefts) = facet::edges_of(line, half, half);
    // A leg whose bends leave it no room has both run on to; then the next may have too little.
    loop {
        let folds = |k: usize| {
            let u = units[k];
            [(&rights, 1.0), (&lefts, -1.0)]
                .into_iter()
                .any(|(edge, side)| {
                    let end = |i: usize| {
                        if on[i] {
                            let off = side * half;
                            [line[i][0] + off * u[1], line[i][1] - off * u[0]]
                        } else {
                            edge[i]
                        }
                    };
                    let (a, b) = (end(k), end(k + 1));
                    // A mitre may take all of an edge, to within rounding.
                    (b[0] - a[0]) * u[0] + (b[1] - a[1]) * u[1] < -EDGE
                })
        };
        let folded: Vec<usize> = (0..n - 1).filter(|&k| folds(k)).collect();
        if folded.is_empty() {
            return on;
        }
        let before = on.iter().filter(|on| **on).count();
        for k in folded {
            on[k] = k > 0;
            on[k + 1] = k + 2 < n;
        }
        if on.iter().filter(|on| **on).count() == before {
            return on;
        }
    }
}

fn corner([a, p, b]: [P2; 3], z: f64, half: f64) -> Corner {
    let (u, v) = (unit(a, p), unit(p, b));
    let left = u[0] * v[1] - u[1] * v[0] >= 0.0;
    let (rights, lefts) = facet::edges_of(&[a, p, b], half, half);
    let (out, tip) = if left {
        (half, rights[1])
    } else {
        (-half, lefts[1])
    };
    let beside = |u: P2| [p[0] + out * u[1], p[1] - out * u[0], z];
    Corner {
        at: [p[0], p[1], z],
        outer: [beside(u), [tip[0], tip[1], z], beside(v)],
        left,
    }
}

/// The bits of an edge over which no top lies; `None` if that is all of it.
fn bared(edge: &[[f64; 3]], core: &[Facet]) -> Option<Vec<Vec<[f64; 3]>>> {
    let inside = |f: &Facet, p: P2| {
        let n = f.outline.len();
        (0..n).all(|k| {
            let (a, b) = (f.outline[k], f.outline[(k + 1) % n]);
            cross(a, b, p) > EDGE * dist(a, b)
        })
    };
    let bare = |p: [f64; 3]| {
        let over = |f: &Facet| f.plane.at(flat(p)) >= p[2] - EDGE && inside(f, flat(p));
        !core.iter().any(over)
    };
    let mut bits: Vec<Vec<[f64; 3]>> = Vec::new();
    let (mut open, mut whole) = (false, true);
    for w in edge.windows(2) {
        let (a, b) = (w[0], w[1]);
        let at = |f: f64| {
            [0, 1, 2].map(|i| {
                if f == 1.0 {
                    b[i]
                } else {
                    a[i] + f * (b[i] - a[i])
                }
            })
        };
        let mut cuts = vec![0.0, 1.0];
        for f in core {
            let (from, to) = convex::stretch(&f.outline, flat(a), flat(b));
            if from < to {
                // Where it is under the top only in part, from where it dives.
                let over = [from, to].map(|t| f.plane.at(flat(at(t))) - at(t)[2]);
                cuts.extend([from, to]);
                if over[0] * over[1] < 0.0 {
                    cuts.push(from + (to - from) * over[0] / (over[0] - over[1]));
                }
            }
        }
        cuts.sort_by(f64::total_cmp);
        let length = dist(flat(a), flat(b));
        cuts.dedup_by(|b, a| (*b - *a) * length < EDGE);
        if let Some(last) = cuts.last_mut() {
            *last = 1.0;
        }
        for c in cuts.windows(2) {
            if !bare(at(0.5 * (c[0] + c[1]))) {
                (open, whole) = (false, false);
                continue;
            }
            match bits.last_mut().filter(|_| open) {
                Some(bit) => bit.push(at(c[1])),
                None => bits.push(vec![at(c[0]), at(c[1])]),
            }
            open = true;
        }
    }
    (!whole).then_some(bits)
}

/// Without points on the straight between their neighbours, and without bits too short to stake.
fn straightened(bits: Vec<Vec<[f64; 3]>>) -> Vec<Vec<[f64; 3]>> {
    let straight = |bit: Vec<[f64; 3]>| {
        let mut out: Vec<[f64; 3]> = Vec::with_capacity(bit.len());
        for (k, &p) in bit.iter().enumerate() {
            let needless = match (out.last(), bit.get(k + 1)) {
                (Some(a), Some(c)) => {
                    let f = dist(flat(*a), flat(p)) / dist(flat(*a), flat(*c)).max(EDGE);
                    (0..3).all(|i| (a[i] + f * (c[i] - a[i]) - p[i]).abs() < EDGE)
                }
                _ => false,
            };
            if !needless {
                out.push(p);
            }
        }
        out
    };
    let long = |bit: &Vec<[f64; 3]>| {
        let length: f64 = bit.windows(2).map(|w| dist(flat(w[0]), flat(w[1]))).sum();
        length > SHORT
    };
    bits.into_iter().map(straight).filter(long).collect()
}

/// A corner of the ring round a run.
struct Turn {
    at: [f64; 3],
    /// A slope goes down (or up) from the edge to the next.
    slopes: bool,
    round: bool,
}
