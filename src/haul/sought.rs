//! The ramp that needs least soil: a search over (square, heading, height), then the line made better
//! bit by bit, then measured like any ramp. Metres, m³.
//!
//! Squares are as small as the turning radius lets a lattice of sixteen headings bend (radius / 2.118,
//! at least 0.6 m). Cost of a step: the ramp's section over the ground at both ends, sides included as
//! over level ground, and a little for length. A height is either the ground's own, driven over as it
//! lies where its cross fall allows, or one of a ladder of levels above it. Given the line, the least
//! ramp is the lowest profile that keeps the gradient over the ends and over whatever ground cannot be
//! driven over as it lies: the upper envelope of cones (see [`Sought::course`]).
//! The answer is the best the lattice holds, improved locally; not proved best over all lines. In its
//! wheel tracks it is measured as built, and taken only if it keeps to the gradient there.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use rustc_hash::FxHashMap;

use crate::earthwork::Mosaic;
use crate::terrain::line::dist;
use crate::terrain::predicates::{P2, in_ring};

use super::paths::HEADINGS;
use super::ramp::Course;

pub struct Sought<'a> {
    pub ground: &'a Mosaic,
    pub closed: &'a [Vec<P2>],
    /// What is worked later, while the ramp stands.
    pub kept_clear: &'a dyn Fn(P2) -> bool,
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

const ACROSS: [f64; 5] = [-0.5, -0.25, 0.0, 0.25, 0.5];
/// Soil that a metre of way is worth, m³: every load drives over it. Common practice, no source: so
/// little that soil decides, so much that nobody is led round the yard to spare a bucketful.
pub const LENGTH: f64 = 2e-2;
/// Looked at so often along a line.
const STEP: f64 = 0.3;
/// Room beside the lattice's line, m: more is tried where the line made of less comes too near something.
pub const ROOM: [f64; 3] = [0.0, 0.1, 0.3];
/// Square, heading, and height as a rung of the ladder or [`BARE`].
type State = (i32, i32, u8, i32);
/// Cost so far, and the state before.
type Got = (f64, State);
/// So many states at most.
const MOST: usize = 3_000_000;
const BARE: i32 = i32::MIN;
const EVEN: f64 = 0.01;
/// Soil thinner than this is none.
const THIN: f64 = 1e-4;
/// An end given so near to the ground is on it.
const AT_GROUND: f64 = 0.05;
/// What is given is looked at so many times as finely as on the way there, and under the wheels at
/// places so near to each other that nothing pokes out between them.
pub const FINE: usize = 6;
const CLOSE: f64 = 0.0125;
/// A bend that shortens its inner edge by less, to either side, is none.
const SLIGHT: f64 = 0.03;

/// What is done lest a ramp comes out steeper in its tracks than its profile is: more and more, until
/// what is built keeps to the gradient.
pub struct Care {
    /// So much is built over what must be covered.
    over: f64,
    /// Part of the gradient that is used.
    gradient: f64,
    /// Bends are level.
    level_bends: bool,
}

pub const CARE: [Care; 8] = [
    care(0.0, 1.0, false),
    care(0.001, 0.99, false),
    care(0.002, 0.98, false),
    care(0.003, 0.96, false),
    care(0.003, 0.98, true),
    care(0.005, 0.95, true),
    care(0.01, 0.9, true),
    care(0.02, 0.8, true),
];

const fn care(over: f64, gradient: f64, level_bends: bool) -> Care {
    Care {
        over,
        gradient,
        level_bends,
    }
}

/// A place that a line is looked at.
struct Stop {
    at: P2,
    along: f64,
    ground: Across,
}

/// The way from one such place to the next.
struct Leg {
    along: P2,
    bends: bool,
}

/// Ground across the way at one place: in the middle, and at each of [`ACROSS`].
#[derive(Clone, Copy)]
struct Across {
    middle: f64,
    z: [f64; 5],
    /// Under the wheels.
    tracks: [f64; 2],
    /// Lowest top that clears the ground but for the cross fall allowed.
    least: f64,
}

/// The place so far to the left of a way.
fn beside(p: P2, u: P2, off: f64) -> P2 {
    [p[0] - off * u[1], p[1] + off * u[0]]
}

impl Sought<'_> {
    fn across(&self, p: P2, u: P2, room: f64) -> Option<Across> {
        let mut z = [0.0; 5];
        for (z, off) in z.iter_mut().zip(ACROSS) {
            *z = self.ground.elevation(beside(p, u, off * self.width))?;
        }
        if !self.clear(p, u, room) {
            return None;
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
        Some(Across {
            middle: z[2],
            z,
            tracks,
            least: least.max(z[2]),
        })
    }

    /// Whether nothing is in the way across it, or so much beside it.
    fn clear(&self, p: P2, u: P2, room: f64) -> bool {
        ACROSS.iter().all(|off| {
            let q = beside(p, u, off * (self.width + 2.0 * room));
            !self.closed.iter().any(|ring| in_ring(ring, q)) && !(self.kept_clear)(q)
        })
    }

    /// Ground in the middle of a step, if all of it is free with room beside it, and whether a wheel
    /// would climb it too steeply as it lies.
    fn step(&self, a: P2, b: P2, u: P2, room: f64) -> Option<(Across, bool)> {
        let length = dist(a, b);
        let steps = (length / STEP).ceil().max(1.0) as usize;
        let at = |f: f64| [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
        let (first, last) = (self.across(a, u, room)?, self.across(b, u, room)?);
        let free = (1..steps).all(|s| self.clear(at(s as f64 / steps as f64), u, room));
        let middle = free.then(|| self.across(at(0.5), u, room)).flatten()?;
        let most = 0.5 * self.gradient * length + 1e-3;
        let steep = [(&first, &middle), (&middle, &last)].iter().any(|(a, b)| {
            let wheels = a.tracks.iter().zip(b.tracks);
            wheels.into_iter().any(|(a, b)| (b - a).abs() > most)
        });
        Some((middle, steep))
    }

    /// Area of the section of a ramp with its top at `top`.
    fn area(&self, a: &Across, top: f64) -> f64 {
        let w = self.width / 4.0;
        let h = |k: usize| (top - a.z[k]).max(0.0);
        w * (0.5 * h(0) + h(1) + h(2) + h(3) + 0.5 * h(4))
            + 0.5 * self.batter * (h(0) * h(0) + h(4) * h(4))
    }

    /// The lattice's best line with so much room beside it, the side of its squares, and how many states
    /// were looked at.
    pub fn search(&self, room: f64) -> (Option<Vec<P2>>, f64, usize) {
        // Turned and stretched so that both ends are corners of its squares.
        let (from, to) = ([self.from[0], self.from[1]], [self.to[0], self.to[1]]);
        let apart = dist(from, to);
        if apart < 1e-6 {
            return (None, 0.0, 0);
        }
        let along = [(to[0] - from[0]) / apart, (to[1] - from[1]) / apart];
        let squares = (apart / (self.radius / 2.118).max(0.6)).floor().max(1.0);
        let cell = apart / squares;
        let goal = [squares as i32, 0];
        let rung = (self.gradient * cell / 3.0).max(0.01);
        let slack = 0.5 * rung;
        let mut known: FxHashMap<(i32, i32, u8), Option<Across>> = FxHashMap::default();
        let mut steps: FxHashMap<(i32, i32, u8), Option<(Across, bool)>> = FxHashMap::default();
        let mut best: FxHashMap<State, Got> = FxHashMap::default();
        let mut heap: BinaryHeap<Reverse<(u64, State)>> = BinaryHeap::new();
        let turned = |x: f64, y: f64| [along[0] * x - along[1] * y, along[1] * x + along[0] * y];
        let unit = |h: u8| {
            let (x, y) = HEADINGS[h as usize];
            let l = f64::from(x * x + y * y).sqrt();
            turned(f64::from(x) / l, f64::from(y) / l)
        };
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
        for h in 0..16u8 {
            let a = *known
                .entry((0, 0, h % 8))
                .or_insert_with(|| self.across(place(0, 0), unit(h % 8), room));
            let Some(a) = a else { continue };
            let state = if (self.from[2] - a.middle).abs() < 0.05 && a.least <= a.middle + EVEN {
                BARE
            } else {
                (self.from[2].max(a.least) / rung).round() as i32
            };
            let key = (0, 0, h, state);
            best.insert(key, (0.0, key));
            heap.push(Reverse((0, key)));
        }
        while let Some(Reverse((bits, key))) = heap.pop() {
            let cost = f64::from_bits(bits);
            if best.get(&key).is_some_and(|b| cost > b.0) {
                continue;
            }
            let (x, y, h, state) = key;
            let Some(here) = known.get(&(x, y, h % 8)).copied().flatten() else {
                continue;
            };
            let z = height(state, &here);
            if [x, y] == goal && (z - self.to[2]).abs() <= slack {
                let mut line = vec![place(x, y)];
                let mut at = key;
                while let Some(&(_, before)) = best.get(&at) {
                    if before == at {
                        break;
                    }
                    line.push(place(before.0, before.1));
                    at = before;
                }
                line.reverse();
                return (Some(line), cell, best.len());
            }
            if best.len() > MOST {
                break;
            }
            for turn in -2i32..=2 {
                let next = (i32::from(h) + turn).rem_euclid(16) as u8;
                let (sx, sy) = HEADINGS[next as usize];
                let step = f64::from(sx * sx + sy * sy).sqrt() * cell;
                if turn != 0 {
                    let (u, v) = (unit(h), unit(next));
                    let angle = (u[0] * v[1] - u[1] * v[0])
                        .abs()
                        .atan2(u[0] * v[0] + u[1] * v[1]);
                    let (hx, hy) = HEADINGS[h as usize];
                    let leg = step.min(f64::from(hx * hx + hy * hy).sqrt() * cell);
                    if 0.5 * leg / (0.5 * angle).tan() < self.radius - 1e-9 {
                        continue;
                    }
                }
                let (nx, ny) = (x + sx, y + sy);
                let p = place(nx, ny);
                let there = *known
                    .entry((nx, ny, next % 8))
                    .or_insert_with(|| self.across(p, unit(next % 8), room));
                let Some(there) = there else { continue };
                let middle = *steps
                    .entry((x, y, next))
                    .or_insert_with(|| self.step(place(x, y), p, unit(next), room));
                let Some((middle, steep)) = middle else {
                    continue;
                };
                let most = self.gradient * step + 1e-9;
                let low = ((z - most).max(there.least) / rung).ceil() as i32;
                let high = ((z + most) / rung).floor() as i32;
                let bare = there.least <= there.middle + EVEN && (there.middle - z).abs() <= most;
                let rungs = (low..=high.min(low + 12))
                    .map(Some)
                    .chain([bare.then_some(BARE)]);
                for state2 in rungs.flatten() {
                    let z2 = height(state2, &there);
                    let zm = 0.5 * (z + z2);
                    let on_ground = state == BARE && state2 == BARE;
                    if zm < middle.least - 0.05 || (on_ground && steep) {
                        continue;
                    }
                    let a1 = if state == BARE {
                        0.0
                    } else {
                        self.area(&here, z)
                    };
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
                    let new = cost + step * ((a1 + 4.0 * am + a2) / 6.0 + LENGTH);
                    let to = (nx, ny, next, state2);
                    if best.get(&to).is_none_or(|b| new < b.0 - 1e-12) {
                        best.insert(to, (new, key));
                        heap.push(Reverse((new.to_bits(), to)));
                    }
                }
            }
        }
        (None, cell, best.len())
    }

    /// The lowest profile along a line, and about how much soil it takes; `None` where the line cannot
    /// be: closed ground, a bend too sharp, or ends too far apart in height.
    ///
    /// Wheels run on whatever is higher, ground or ramp. So what is built may lie under the ground, and
    /// must reach the ground only where that cannot be driven over as it lies: where it falls to the side
    /// by more than allowed, and where it climbs too steeply under a wheel. Between such places it dives
    /// out of the ground and into it again no steeper than a ramp, and no wheel meets a step. The least
    /// profile is then the upper envelope of cones over those places and the ends.
    pub fn course(
        &self,
        line: &[P2],
        finer: usize,
        room: f64,
        care: &Care,
    ) -> Option<(Course, f64)> {
        if super::ramp::bend_radius(line).is_some_and(|r| r < self.radius - 1e-6) {
            return None;
        }
        let (at, legs) = self.stops(line, finer, room)?;
        let n = at.len();
        if self.overlaps(&at) {
            return None;
        }
        let mut floor: Vec<f64> = at.iter().map(|a| self.needed(&a.ground)).collect();
        let close = if finer > 1 { CLOSE } else { STEP };
        // Between two places what is built is straight: ground in between counts for both.
        let mut raise = |k: usize, s: usize, steps: usize, z: f64| {
            if s < steps {
                floor[k - 1] = floor[k - 1].max(z + care.over);
            }
            if s > 0 {
                floor[k] = floor[k].max(z + care.over);
            }
        };
        for k in 1..n {
            let u = legs[k - 1].along;
            let length = at[k].along - at[k - 1].along;
            let steps = (length / close).ceil().max(1.0) as usize;
            let most = self.gradient * care.gradient * length / steps as f64 * (1.0 + 1e-4) + 1e-9;
            for side in [-0.5, 0.0, 0.5] {
                let under = |s: usize| {
                    let l = length * s as f64 / steps as f64;
                    let [x, y] = at[k - 1].at;
                    let p = [x + l * u[0], y + l * u[1]];
                    self.ground.elevation(beside(p, u, side * self.gauge))
                };
                let mut before = under(0)?;
                for s in 1..=steps {
                    let z = under(s)?;
                    if (z - before).abs() > most {
                        raise(k, s - 1, steps, before);
                        raise(k, s, steps, z);
                    }
                    before = z;
                }
            }
        }
        let wheels = |k: usize| {
            let Across { tracks, middle, .. } = at[k].ground;
            [tracks[0], middle, tracks[1]]
        };
        let highest = |k: usize| wheels(k).into_iter().fold(f64::NEG_INFINITY, f64::max);
        let lowest = |k: usize| wheels(k).into_iter().fold(f64::INFINITY, f64::min);
        let mut caps = [0.0; 2];
        for (cap, (k, given)) in caps
            .iter_mut()
            .zip([(0, self.from[2]), (n - 1, self.to[2])])
        {
            let ground = &at[k].ground;
            // An end on the ground is the ground's; what comes up to it carries on from there.
            if (given - ground.middle).abs() >= AT_GROUND || floor[k] > ground.middle + EVEN {
                floor[k] = floor[k].max(given);
            }
            *cap = given.max(ground.least).max(highest(k)) + care.over;
        }
        let mut z = floor;
        let climb = |k: usize| {
            let gentler = if legs[k - 1].bends {
                if care.level_bends {
                    0.0
                } else {
                    // The wheels on the inner side have less way for the same climb.
                    (1.0 - self.gauge / self.width).max(0.0)
                }
            } else {
                1.0
            };
            self.gradient * care.gradient * gentler * (at[k].along - at[k - 1].along)
        };
        for k in 1..n {
            z[k] = z[k].max(z[k - 1] - climb(k));
        }
        for k in (0..n - 1).rev() {
            z[k] = z[k].max(z[k + 1] - climb(k + 1));
        }
        if z[0] > caps[0] + 1e-6 || z[n - 1] > caps[1] + 1e-6 {
            return None;
        }
        let mut bare: Vec<bool> = (1..n)
            .map(|k| z[k - 1] <= lowest(k - 1) + THIN && z[k] <= lowest(k) + THIN)
            .collect();
        let along: Vec<f64> = at.iter().map(|a| a.along).collect();
        fill_short(&mut bare, &along);
        let mut cost = 0.0;
        for k in (1..n).filter(|&k| !bare[k - 1]) {
            let both = self.area(&at[k - 1].ground, z[k - 1]) + self.area(&at[k].ground, z[k]);
            cost += 0.5 * both * (along[k] - along[k - 1]);
        }
        let line = at.iter().zip(&z).enumerate().map(|(k, (a, &z))| {
            let built = (k > 0 && !bare[k - 1]) || bare.get(k).is_some_and(|b| !b);
            [a.at[0], a.at[1], if built { z } else { a.ground.middle }]
        });
        let course = Course {
            line: line.collect(),
            bare,
            fades: true,
        };
        Some((course, cost + LENGTH * along[n - 1]))
    }

    /// Where a line is looked at, and what lies between one place and the next. Near a bend only at the
    /// bend itself and where it begins and ends: sections across the way would cross each other.
    fn stops(&self, line: &[P2], finer: usize, room: f64) -> Option<(Vec<Stop>, Vec<Leg>)> {
        let n = line.len();
        let unit = |k: usize| {
            let (a, b) = (line[k], line[k + 1]);
            let length = dist(a, b);
            (length >= 1e-6).then(|| [(b[0] - a[0]) / length, (b[1] - a[1]) / length])
        };
        let units: Vec<P2> = (0..n - 1).map(unit).collect::<Option<_>>()?;
        let bend = |k: usize| {
            if k == 0 || k == n - 1 {
                return 0.0;
            }
            let (u, v) = (units[k - 1], units[k]);
            let turn = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
            let reach = 0.5 * self.width * (0.5 * turn.abs()).tan();
            if reach > SLIGHT { reach } else { 0.0 }
        };
        let mut at = Vec::new();
        let mut legs = Vec::new();
        let mut begun = 0.0;
        for k in 0..n - 1 {
            let u = units[k];
            let length = dist(line[k], line[k + 1]);
            let (from, to) = (bend(k), (length - bend(k + 1)).max(0.0));
            let straight = (to - from).max(0.0);
            let steps = (straight / STEP).ceil() as usize * finer;
            let mut places = vec![0.0];
            places.extend((from > 0.0).then_some(from.min(length)));
            places.extend((1..=steps).map(|s| from + straight * s as f64 / steps as f64));
            places.push(length);
            places.dedup_by(|b, a| *b - *a < 1e-6);
            // A dedup keeps the first: the bend itself must stay.
            if let Some(last) = places.last_mut() {
                *last = length;
            }
            for (s, &l) in places.iter().enumerate() {
                if s == 0 && k > 0 {
                    continue;
                }
                let p = [line[k][0] + l * u[0], line[k][1] + l * u[1]];
                let ground = self.across(p, u, room)?;
                at.push(Stop {
                    at: p,
                    along: begun + l,
                    ground,
                });
                if s > 0 {
                    let middle = 0.5 * (places[s - 1] + l);
                    legs.push(Leg {
                        along: u,
                        bends: middle < from || middle > to,
                    });
                }
            }
            begun += length;
        }
        Some((at, legs))
    }

    /// What a ramp must reach at a place if the ground there cannot be driven over as it lies.
    fn needed(&self, a: &Across) -> f64 {
        let falls = a.z.iter().zip(ACROSS).any(|(z, off)| {
            (z - a.middle).abs() > self.cross_fall * (off * self.width).abs() + EVEN
        });
        if falls { a.least } else { f64::NEG_INFINITY }
    }

    /// Whether the ramp runs over itself: two places nearer than its width that are more than a half
    /// turn apart along it.
    fn overlaps(&self, at: &[Stop]) -> bool {
        let apart = std::f64::consts::PI * self.radius.max(0.5 * self.width);
        at.iter().enumerate().any(|(k, a)| {
            at[k + 1..]
                .iter()
                .any(|b| b.along - a.along > apart && dist(a.at, b.at) < self.width)
        })
    }

    /// The line made better: its points moved, taken out or put in as long as that spares soil.
    /// What is given is looked at more finely than on the way there.
    pub fn improve(&self, line: &[P2]) -> Option<(Vec<P2>, f64)> {
        // With room to spare first: what is looked at coarsely may cut a corner.
        let spare = [0.15, 0.05, 0.0].into_iter();
        spare.map(|room| self.improved(line, room)).find_map(|f| f)
    }

    fn improved(&self, line: &[P2], room: f64) -> Option<(Vec<P2>, f64)> {
        let mut line = line.to_vec();
        let (_, mut cost) = self.course(&line, 1, room, &CARE[0])?;
        let mut reach = 1.0;
        for _ in 0..40 {
            let mut better = false;
            let mut attempt = |new: Vec<P2>, line: &mut Vec<P2>, better: &mut bool| {
                if let Some((_, v)) = self.course(&new, 1, room, &CARE[0])
                    && v < cost - 1e-5
                {
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
        let (_, cost) = self.course(&line, FINE, 0.0, &CARE[0])?;
        Some((line, cost))
    }
}

/// A shorter stretch over bare ground between two that are built is built as well, with next to no soil.
const SHORT: f64 = 1.0;
/// What wheels do not feel.
const FELT: f64 = 0.01;

/// Bits of bare ground, with built stretches before and after, taken into these.
fn fill_short(bare: &mut [bool], along: &[f64]) {
    let mut k = 0;
    while k < bare.len() {
        let end = k + bare[k..].iter().take_while(|b| **b == bare[k]).count();
        if bare[k] && k > 0 && end < bare.len() && along[end] - along[k] < SHORT {
            bare[k..end].fill(false);
        }
        k = end;
    }
}

/// A course that can be set out: points left out that lie on the straight between their neighbours, or so
/// little under it that nobody feels it. Nothing gets lower or steeper by it.
pub fn thinned(course: &Course) -> Course {
    let mut out = Course {
        line: vec![course.line[0]],
        bare: Vec::new(),
        fades: course.fades,
    };
    let mut k = 0;
    while k + 1 < course.line.len() {
        let mut j = k + 1;
        while j + 1 < course.line.len() && course.bare[j] == course.bare[k] {
            let (a, c) = (course.line[k], course.line[j + 1]);
            let length = dist([a[0], a[1]], [c[0], c[1]]).max(1e-9);
            let fits = course.line[k + 1..=j].iter().all(|b| {
                let f = dist([a[0], a[1]], [b[0], b[1]]) / length;
                // Over bare ground the line's height is the ground's and needs no points of its own.
                let over = a[2] + f * (c[2] - a[2]) - b[2];
                let level = course.bare[k] || (-THIN..FELT).contains(&over);
                let q = [a[0] + f * (c[0] - a[0]), a[1] + f * (c[1] - a[1])];
                level && dist(q, [b[0], b[1]]) < 1e-3
            });
            if !fits {
                break;
            }
            j += 1;
        }
        out.line.push(course.line[j]);
        out.bare.push(course.bare[k]);
        k = j;
    }
    out
}
