//! The ramp that needs least soil: a search over (square, heading, height), then the line made better
//! bit by bit, then measured like any ramp. Metres, m³.
//!
//! Squares are as small as the turning radius lets a lattice of sixteen headings bend (radius / 2.118,
//! at least 0.6 m). Cost of a step: the ramp's section over the ground at both ends, sides included as
//! over level ground, and a little for length. A height is either the ground's own, driven over as it
//! lies where its cross fall allows, or one of a ladder of levels above it. Given the line, the least
//! ramp is the lowest profile that keeps the gradient over the ends and over whatever ground cannot be
//! driven over as it lies: the upper envelope of cones (`profile.rs`).
//! The answer is the best the lattice holds, improved locally; not proved best over all lines. In its
//! wheel tracks it is measured as built, and taken only if it keeps to the gradient there.

use std::cell::RefCell;
use std::cmp::Reverse;
use std::collections::{BinaryHeap, VecDeque};

use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use crate::earthwork::Relief;
use crate::terrain::line::dist;
use crate::terrain::predicates::{P2, in_ring};
use crate::terrain::{Span, convex};

use super::paths::HEADINGS;
use super::profile::{CARE, CLOSELY, Look, Traced};
use super::ramp::Course;

pub struct Sought<'a> {
    pub ground: &'a Relief<'a>,
    /// Each with the box around it.
    pub closed: &'a [(Span, Vec<P2>)],
    /// What is worked later, while the ramp stands.
    pub kept_clear: &'a (dyn Fn(P2) -> bool + Sync),
    pub from: [f64; 3],
    pub to: [f64; 3],
    pub width: f64,
    /// From wheel to wheel.
    pub gauge: f64,
    pub gradient: f64,
    pub batter: f64,
    pub radius: f64,
    pub cross_fall: f64,
}

pub const ACROSS: [f64; 5] = [-0.5, -0.25, 0.0, 0.25, 0.5];
/// Soil that a metre of way is worth, m³: every load drives over it. Common practice, no source: so
/// little that soil decides, so much that nobody is led round the yard to spare a bucketful.
pub const LENGTH: f64 = 2e-2;
/// Looked at so often along a line.
pub const STEP: f64 = 0.3;
/// Room beside the lattice's line, m: more is tried where the line made of less comes too near something.
pub const ROOM: [f64; 3] = [0.0, 0.1, 0.3];
/// Cost so far, and the state before: its node, and its height as a rung of the ladder or [`BARE`].
type Got = (f64, (u32, i32));
/// So many states at most: some seconds.
pub const MOST: usize = 1_500_000;
/// After so many it is looked whether there is any way at all.
const DOUBT: usize = 20_000;
const BARE: i32 = i32::MIN;
pub const EVEN: f64 = 0.01;
/// Ground across the way at one place: in the middle, and at each of [`ACROSS`].
#[derive(Clone, Copy)]
pub struct Across {
    pub middle: f64,
    pub z: [f64; 5],
    /// Under the wheels.
    pub tracks: [f64; 2],
    /// Lowest top that clears the ground but for the cross fall allowed.
    pub least: f64,
    /// What a ramp must reach if the ground cannot be driven over as it lies.
    pub needed: f64,
}

/// A line made better, and what is built along it with the first care.
pub struct Improved {
    pub line: Vec<P2>,
    pub traced: Traced,
    pub course: Course,
    pub cost: f64,
}

/// What a search came to.
#[derive(Default)]
pub struct Searched {
    pub line: Option<Vec<P2>>,
    /// Side of the lattice's squares.
    pub cell: f64,
    /// So many were looked at.
    pub states: usize,
    /// Given up with more to look at: no line means only that none was found.
    pub cut_short: bool,
}

/// What the search knows of its lattice. All heights at a place and heading lie beside each other: they
/// are asked about together.
#[derive(Default)]
struct Lattice {
    number: FxHashMap<(i32, i32, u8), u32>,
    nodes: Vec<Node>,
    /// By square and one of the first eight headings.
    sections: FxHashMap<(i32, i32, u8), u32>,
    section: Vec<Section>,
    states: usize,
}

/// A square and two opposite headings: the ground is the same forwards and backwards.
#[derive(Default)]
struct Section {
    across: Option<Option<Across>>,
    /// Of the step in the first of the headings, ground in the middle, and whether a wheel would climb too
    /// steeply over the ground as it lies.
    step: Option<Option<(Across, bool)>>,
}

/// A square and a heading.
struct Node {
    at: (i32, i32, u8),
    section: u32,
    /// The same square with each heading that can be turned into, once asked for.
    turned: SmallVec<[u32; 5]>,
    /// Where the step onward in this heading leads, once asked for.
    onward: Option<u32>,
    bare: Got,
    /// From this rung of the ladder up.
    lowest: i32,
    rungs: VecDeque<Got>,
}

/// Orders as the figure does.
fn rank(v: f64) -> u64 {
    let bits = v.to_bits();
    if bits >> 63 == 1 {
        !bits
    } else {
        bits | 1 << 63
    }
}

const NOWHERE: Got = (f64::INFINITY, (0, 0));

impl Lattice {
    fn node(&mut self, at: (i32, i32, u8)) -> u32 {
        let (x, y, h) = at;
        *self.number.entry(at).or_insert_with(|| {
            let section = self.sections.entry((x, y, h % 8)).or_insert_with(|| {
                self.section.push(Section::default());
                self.section.len() as u32 - 1
            });
            self.nodes.push(Node {
                at,
                section: *section,
                turned: SmallVec::new(),
                onward: None,
                bare: NOWHERE,
                lowest: 0,
                rungs: VecDeque::new(),
            });
            self.nodes.len() as u32 - 1
        })
    }

    /// Where the step onward from a node leads.
    fn onward(&mut self, k: u32) -> u32 {
        if let Some(known) = self.nodes[k as usize].onward {
            return known;
        }
        let (x, y, h) = self.nodes[k as usize].at;
        let (dx, dy) = HEADINGS[h as usize];
        let to = self.node((x + dx, y + dy, h));
        self.nodes[k as usize].onward = Some(to);
        to
    }

    fn across(&mut self, k: u32, ask: impl Fn(i32, i32, u8) -> Option<Across>) -> Option<Across> {
        let Node { at, section, .. } = self.nodes[k as usize];
        let (x, y, h) = at;
        let its = &mut self.section[section as usize].across;
        *its.get_or_insert_with(|| ask(x, y, h))
    }

    /// Least cost known of a state.
    fn cost(&self, k: u32, state: i32) -> f64 {
        self.before(k, state).0
    }

    fn before(&self, k: u32, state: i32) -> Got {
        let node = &self.nodes[k as usize];
        if state == BARE {
            return node.bare;
        }
        let rung = usize::try_from(i64::from(state) - i64::from(node.lowest));
        let got = rung.ok().and_then(|r| node.rungs.get(r));
        got.copied().unwrap_or(NOWHERE)
    }

    fn got(&mut self, k: u32, state: i32, cost: f64, before: (u32, i32)) {
        let node = &mut self.nodes[k as usize];
        let got = if state == BARE {
            &mut node.bare
        } else {
            if node.rungs.is_empty() {
                node.lowest = state;
            }
            while state < node.lowest {
                node.rungs.push_front(NOWHERE);
                node.lowest -= 1;
            }
            let rung = (state - node.lowest) as usize;
            if rung >= node.rungs.len() {
                node.rungs.resize(rung + 1, NOWHERE);
            }
            &mut node.rungs[rung]
        };
        self.states += usize::from(got.0 == f64::INFINITY);
        *got = (cost, before);
    }

    /// The squares that lead to a state.
    fn way(&self, to: (u32, i32)) -> Vec<(i32, i32)> {
        let mut at = to;
        let mut line = Vec::new();
        loop {
            let (x, y, _) = self.nodes[at.0 as usize].at;
            line.push((x, y));
            let (_, before) = self.before(at.0, at.1);
            if before == at {
                break;
            }
            at = before;
        }
        line.reverse();
        line
    }
}

/// The place so far to the left of a way.
pub fn beside(p: P2, u: P2, off: f64) -> P2 {
    [p[0] - off * u[1], p[1] + off * u[0]]
}

/// Whether a ring reaches into a convex outline, counter-clockwise.
pub fn reaches_into(outline: &[P2], ring: &[P2]) -> bool {
    let Some(&last) = ring.last().filter(|_| ring.len() > 2) else {
        return false;
    };
    let mut a = last;
    let cuts = ring.iter().any(|&b| {
        let (from, to) = convex::stretch(outline, a, b);
        a = b;
        from < to
    });
    cuts || in_ring(ring, outline[0])
}

impl Sought<'_> {
    pub fn across(&self, p: P2, u: P2, room: f64) -> Option<Across> {
        if !self.clear(p, u, room) {
            return None;
        }
        let mut z = [0.0; 5];
        for (z, off) in z.iter_mut().zip(ACROSS) {
            *z = self.ground.elevation(beside(p, u, off * self.width))?;
        }
        let mut tracks = [0.0; 2];
        for (z, side) in tracks.iter_mut().zip([-0.5, 0.5]) {
            *z = self.ground.elevation(beside(p, u, side * self.gauge))?;
        }
        let least = z
            .iter()
            .zip(ACROSS)
            .map(|(z, off)| z - self.cross_fall * (off * self.width).abs())
            .fold(f64::NEG_INFINITY, f64::max);
        let (middle, least) = (z[2], least.max(z[2]));
        let falls = z
            .iter()
            .zip(ACROSS)
            .any(|(z, off)| (z - middle).abs() > self.cross_fall * (off * self.width).abs() + EVEN);
        Some(Across {
            middle,
            z,
            tracks,
            least,
            needed: if falls { least } else { f64::NEG_INFINITY },
        })
    }

    /// Whether nothing is in the way across it, or so much beside it.
    fn clear(&self, p: P2, u: P2, room: f64) -> bool {
        let places = ACROSS.map(|off| beside(p, u, off * (self.width + 2.0 * room)));
        let across = Span::of(places);
        let shut = |(span, ring): &(Span, Vec<P2>)| {
            span.meets(&across) && places.iter().any(|q| span.holds(*q) && in_ring(ring, *q))
        };
        !self.closed.iter().any(shut) && !places.iter().any(|q| (self.kept_clear)(*q))
    }

    /// Whether nothing is in the way between two places straight from each other, however thin.
    pub fn free(&self, [a, b]: [P2; 2], u: P2, room: f64) -> bool {
        // What only touches it is not in its way.
        let half = 0.5 * self.width + room - 1e-6;
        let strip = [
            beside(a, u, -half),
            beside(b, u, -half),
            beside(b, u, half),
            beside(a, u, half),
        ];
        !self.shut(&strip)
    }

    /// Whether something closed reaches into a convex outline, counter-clockwise.
    pub fn shut(&self, outline: &[P2]) -> bool {
        let span = Span::of(outline.iter().copied());
        let shuts = |(its, ring): &(Span, Vec<P2>)| its.meets(&span) && reaches_into(outline, ring);
        self.closed.iter().any(shuts)
    }

    /// Ground in the middle of a step, if all of it is free with room beside it, and whether a wheel
    /// would climb it too steeply as it lies; given how high the wheels stand at both ends.
    fn step(&self, [a, b]: [P2; 2], u: P2, ends: [P2; 2], room: f64) -> Option<(Across, bool)> {
        let length = dist(a, b);
        let steps = (length / STEP).ceil().max(1.0) as usize;
        let at = |f: f64| [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
        let worked = |s: usize| {
            let p = at(s as f64 / steps as f64);
            let mut across = ACROSS.iter();
            across.any(|off| (self.kept_clear)(beside(p, u, off * (self.width + 2.0 * room))))
        };
        let free = self.free([a, b], u, room) && !(1..steps).any(worked);
        let middle = free.then(|| self.across(at(0.5), u, room)).flatten()?;
        let most = 0.5 * self.gradient * length + 1e-3;
        let [first, last] = ends;
        let steep = [(first, middle.tracks), (middle.tracks, last)];
        let steep = steep.iter().any(|(a, b)| {
            let mut wheels = a.iter().zip(b);
            wheels.any(|(a, b)| (b - a).abs() > most)
        });
        Some((middle, steep))
    }

    /// Area of the section of a ramp with its top at `top`.
    pub fn area(&self, a: &Across, top: f64) -> f64 {
        let w = self.width / 4.0;
        let h = |k: usize| (top - a.z[k]).max(0.0);
        w * (0.5 * h(0) + h(1) + h(2) + h(3) + 0.5 * h(4))
            + 0.5 * self.batter * (h(0) * h(0) + h(4) * h(4))
    }

    /// The lattice's best line with so much room beside it that costs no more than `limit`, given up after
    /// so many states.
    pub fn search(&self, room: f64, limit: f64, most: usize) -> Searched {
        // Turned and stretched so that both ends are corners of its squares.
        let (from, to) = ([self.from[0], self.from[1]], [self.to[0], self.to[1]]);
        let apart = dist(from, to);
        if apart < 1e-6 {
            return Searched::default();
        }
        let along = [(to[0] - from[0]) / apart, (to[1] - from[1]) / apart];
        let squares = (apart / (self.radius / 2.118).max(0.6)).floor().max(1.0);
        let cell = apart / squares;
        let goal = [squares as i32, 0];
        let rung = (self.gradient * cell / 3.0).max(0.01);
        let slack = 0.5 * rung;
        let mut lattice = Lattice::default();
        // By cost so far and the least that is still to come: the way straight there, without soil.
        let mut heap: BinaryHeap<Reverse<(u64, u64, u32, i32)>> = BinaryHeap::new();
        let to_come = |p: P2| LENGTH * dist(p, to);
        let turned = |x: f64, y: f64| [along[0] * x - along[1] * y, along[1] * x + along[0] * y];
        let unit = |h: u8| {
            let (x, y) = HEADINGS[h as usize];
            let l = f64::from(x * x + y * y).sqrt();
            turned(f64::from(x) / l, f64::from(y) / l)
        };
        let units: [P2; 16] = std::array::from_fn(|h| unit(h as u8));
        let place = |x: i32, y: i32| {
            let [dx, dy] = turned(f64::from(x) * cell, f64::from(y) * cell);
            [from[0] + dx, from[1] + dy]
        };
        let height = |state: i32, a: &Across| {
            if state == BARE {
                a.middle
            } else {
                f64::from(state) * rung
            }
        };
        let length = |h: u8| {
            let (x, y) = HEADINGS[h as usize];
            f64::from(x * x + y * y).sqrt() * cell
        };
        // Whether there is room to bend from one heading into another.
        let bends = |h: u8, next: u8| {
            let (u, v) = (units[h as usize], units[next as usize]);
            let angle = (u[0] * v[1] - u[1] * v[0])
                .abs()
                .atan2(u[0] * v[0] + u[1] * v[1]);
            let leg = length(next).min(length(h));
            0.5 * leg / (0.5 * angle).tan() >= self.radius - 1e-9
        };
        let turns: [Vec<u8>; 16] = std::array::from_fn(|h| {
            let next = (-2i32..=2).map(|turn| (h as i32 + turn).rem_euclid(16) as u8);
            let h = h as u8;
            next.filter(|&n| n == h || bends(h, n)).collect()
        });
        let across = |x: i32, y: i32, h: u8| self.across(place(x, y), units[h as usize % 8], room);
        // Where the ground at the end stands too high beside it in every heading, no line comes down to it,
        // and all the yard would be searched for one.
        let ends = (0..8).any(|h| {
            let k = lattice.node((goal[0], goal[1], h));
            lattice.across(k, across).is_some_and(|a| {
                let bare = a.least <= a.middle + EVEN && (a.middle - self.to[2]).abs() <= slack;
                let lowest = (a.least / rung).ceil() * rung;
                bare || lowest <= self.to[2] + slack + 1e-9
            })
        });
        if !ends {
            return Searched {
                cell,
                ..Searched::default()
            };
        }
        // No ramp needs to stand higher than its ends and all ground: held down to that, none gets steeper.
        let cap = self.ground.highest().max(self.from[2]).max(self.to[2]) + slack;
        let cap = (cap / rung).ceil() as i32 + 1;
        // The step from one node on to another, both in the same heading.
        let step = |lattice: &mut Lattice, from: u32, to: u32| {
            let (_, _, h) = lattice.nodes[from as usize].at;
            let (a, b) = if h < 8 { (from, to) } else { (to, from) };
            let section = lattice.nodes[a as usize].section as usize;
            if let Some(known) = lattice.section[section].step {
                return known;
            }
            let [first, last] = [a, b].map(|k| lattice.across(k, across));
            let step = || {
                let at = [a, b].map(|k| lattice.nodes[k as usize].at);
                let ends = [first?.tracks, last?.tracks];
                let u = units[h as usize % 8];
                self.step(at.map(|(x, y, _)| place(x, y)), u, ends, room)
            };
            let step = step();
            *lattice.section[section].step.insert(step)
        };
        let turned = |lattice: &mut Lattice, k: u32| {
            if lattice.nodes[k as usize].turned.is_empty() {
                let (x, y, h) = lattice.nodes[k as usize].at;
                let its = turns[h as usize].iter();
                lattice.nodes[k as usize].turned = its.map(|&h| lattice.node((x, y, h))).collect();
            }
            lattice.nodes[k as usize].turned.clone()
        };
        // Whether there may be a way at all: how low one gets at each place, soil and rungs aside. What is
        // left out only makes more ways possible.
        let reaches = |lattice: &mut Lattice| {
            let mut lowest: FxHashMap<u32, f64> = FxHashMap::default();
            let mut heap = BinaryHeap::new();
            for h in 0..16u8 {
                let k = lattice.node((0, 0, h));
                if let Some(a) = lattice.across(k, across) {
                    let low = self.from[2].min(a.middle).max(a.least - rung - EVEN);
                    lowest.insert(k, low);
                    heap.push(Reverse((rank(low), k)));
                }
            }
            while let Some(Reverse((at, k))) = heap.pop() {
                // Got lower since.
                let Some(&low) = lowest.get(&k).filter(|low| rank(**low) == at) else {
                    continue;
                };
                let (x, y, _) = lattice.nodes[k as usize].at;
                if [x, y] == goal && low <= self.to[2] + slack + 1e-6 {
                    return true;
                }
                for leaves in turned(lattice, k) {
                    let to = lattice.onward(leaves);
                    let (_, _, next) = lattice.nodes[to as usize].at;
                    let Some(there) = lattice.across(to, across) else {
                        continue;
                    };
                    let Some((middle, _)) = step(lattice, leaves, to) else {
                        continue;
                    };
                    let most = self.gradient * length(next) + 1e-9;
                    let over = middle.least - 0.05 - 0.5 * most;
                    let new = (low - most).max(there.least - EVEN).max(over);
                    let known = lowest.entry(to).or_insert(f64::INFINITY);
                    if new < *known {
                        *known = new;
                        heap.push(Reverse((rank(new), to)));
                    }
                }
            }
            false
        };
        let mut doubted = false;
        for h in 0..16u8 {
            let k = lattice.node((0, 0, h));
            let Some(a) = lattice.across(k, across) else {
                continue;
            };
            let state = if (self.from[2] - a.middle).abs() < 0.05 && a.least <= a.middle + EVEN {
                BARE
            } else {
                (self.from[2].max(a.least) / rung).round() as i32
            };
            lattice.got(k, state, 0.0, (k, state));
            heap.push(Reverse((to_come(from).to_bits(), 0, k, state)));
        }
        while let Some(Reverse((_, bits, k, state))) = heap.pop() {
            let cost = f64::from_bits(bits);
            if cost > lattice.cost(k, state) {
                continue;
            }
            let Some(here) = lattice.across(k, across) else {
                continue;
            };
            let z = height(state, &here);
            let (x, y, _) = lattice.nodes[k as usize].at;
            if [x, y] == goal && (z - self.to[2]).abs() <= slack {
                let line = lattice.way((k, state));
                let line = line.into_iter().map(|(x, y)| place(x, y));
                return Searched {
                    line: Some(line.collect()),
                    cell,
                    states: lattice.states,
                    cut_short: false,
                };
            }
            if !doubted && lattice.states > DOUBT.min(most) {
                doubted = true;
                if !reaches(&mut lattice) {
                    break;
                }
            }
            if lattice.states > most {
                return Searched {
                    line: None,
                    cell,
                    states: lattice.states,
                    cut_short: true,
                };
            }
            let a1 = if state == BARE {
                0.0
            } else {
                self.area(&here, z)
            };
            for leaves in turned(&mut lattice, k) {
                let node = lattice.onward(leaves);
                let Some(there) = lattice.across(node, across) else {
                    continue;
                };
                let Some((middle, steep)) = step(&mut lattice, leaves, node) else {
                    continue;
                };
                let (nx, ny, next) = lattice.nodes[node as usize].at;
                let run = length(next);
                let p = place(nx, ny);
                let most = self.gradient * run + 1e-9;
                let low = ((z - most).max(there.least) / rung).ceil() as i32;
                let high = (((z + most) / rung).floor() as i32).min(cap);
                let bare = there.least <= there.middle + EVEN && (there.middle - z).abs() <= most;
                let rungs = (low..=high.min(low.saturating_add(12)))
                    .map(Some)
                    .chain([bare.then_some(BARE)]);
                let to_come = to_come(p);
                let no_less = cost + run * (a1 / 6.0 + LENGTH);
                for state2 in rungs.flatten() {
                    let z2 = height(state2, &there);
                    let zm = 0.5 * (z + z2);
                    let on_ground = state == BARE && state2 == BARE;
                    if zm < middle.least - 0.05 || (on_ground && steep) {
                        continue;
                    }
                    // Whatever the soil further on, it is not better than what is known.
                    let known = lattice.cost(node, state2);
                    if no_less >= known {
                        continue;
                    }
                    let a2 = if state2 == BARE {
                        0.0
                    } else {
                        self.area(&there, z2)
                    };
                    let am = if on_ground && (zm - middle.middle).abs() < 0.05 {
                        0.0
                    } else {
                        self.area(&middle, zm)
                    };
                    let new = cost + run * ((a1 + 4.0 * am + a2) / 6.0 + LENGTH);
                    let least = new + to_come;
                    if least <= limit && new < known - 1e-12 {
                        lattice.got(node, state2, new, (k, state));
                        heap.push(Reverse((least.to_bits(), new.to_bits(), node, state2)));
                    }
                }
            }
        }
        Searched {
            cell,
            states: lattice.states,
            ..Searched::default()
        }
    }

    /// The line made better: its points moved, taken out or put in as long as that spares soil.
    /// What is given is looked at more finely than on the way there.
    pub fn improve(&self, line: &[P2]) -> Option<Improved> {
        // With room to spare first: what is looked at coarsely may cut a corner.
        let spare = [0.15, 0.05, 0.0].into_iter();
        spare.map(|room| self.improved(line, room)).find_map(|f| f)
    }

    fn improved(&self, line: &[P2], room: f64) -> Option<Improved> {
        let mut line = line.to_vec();
        let mut ways = vec![line.clone()];
        let seen = RefCell::default();
        let look = Look {
            finer: 1,
            room,
            seen: Some(&seen),
        };
        let mut cost = self.course(&self.traced(&line, &look)?, &CARE[0])?.1;
        let mut reach = 1.0;
        for _ in 0..40 {
            let mut better = false;
            let mut attempt = |new: Vec<P2>, line: &mut Vec<P2>, better: &mut bool| {
                let less = cost - 1e-5;
                let traced = self.traced(&new, &look);
                if let Some(v) = traced.and_then(|t| self.cheaper(&t, &CARE[0], less)) {
                    ways.push(new.clone());
                    (*line, cost, *better) = (new, v, true);
                }
            };
            let mut k = 1;
            while k + 1 < line.len() {
                let mut new = line.clone();
                new.remove(k);
                let before = line.len();
                attempt(new, &mut line, &mut better);
                if line.len() < before {
                    continue;
                }
                for (dx, dy) in HEADINGS.iter().step_by(2) {
                    let mut new = line.clone();
                    new[k][0] += reach * f64::from(*dx);
                    new[k][1] += reach * f64::from(*dy);
                    attempt(new, &mut line, &mut better);
                }
                k += 1;
            }
            if !better {
                reach *= 0.5;
                if reach < 0.05 {
                    break;
                }
                if line.len() < 8 {
                    // A longer stretch between two points may want to bend.
                    let longest = (0..line.len() - 1).max_by(|&a, &b| {
                        dist(line[a], line[a + 1]).total_cmp(&dist(line[b], line[b + 1]))
                    });
                    if let Some(k) = longest {
                        let middle = [
                            0.5 * (line[k][0] + line[k + 1][0]),
                            0.5 * (line[k][1] + line[k + 1][1]),
                        ];
                        line.insert(k + 1, middle);
                    }
                }
            }
        }
        // Where what was looked at coarsely cannot be, one of the lines on the way to it may: the last, the
        // one before it, and then in longer and longer steps back to what was given.
        let mut back = 0;
        loop {
            let line = ways.len() - 1 - back;
            let line = std::mem::take(&mut ways[line]);
            let traced = self.traced(&line, &CLOSELY);
            let made = traced.and_then(|t| Some((self.course(&t, &CARE[0])?, t)));
            if let Some(((course, cost), traced)) = made {
                return Some(Improved {
                    line,
                    traced,
                    course,
                    cost,
                });
            }
            if back + 1 >= ways.len() {
                return None;
            }
            back = (2 * back + 1).min(ways.len() - 1);
        }
    }
}
