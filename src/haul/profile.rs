//! The lowest profile of a ramp along a line, and about how much soil it takes. Metres, m³.

use std::cell::RefCell;
use std::rc::Rc;

use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use super::ramp::Course;
use super::sought::{Across, EVEN, LENGTH, STEP, Sought, beside};
use crate::terrain::line::dist;
use crate::terrain::predicates::P2;

/// Soil thinner than this is none.
const THIN: f64 = 1e-4;
/// An end given so near to the ground is on it.
pub const AT_GROUND: f64 = 0.05;
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

/// How a line is looked at.
pub struct Look<'a> {
    /// So many times as closely as on the way there.
    pub finer: usize,
    /// With so much room beside it.
    pub room: f64,
    /// What was looked at so before: lines tried one after the other share most of it.
    pub seen: Option<&'a RefCell<Seen>>,
}

/// As what is built.
pub const CLOSELY: Look = Look {
    finer: FINE,
    room: 0.0,
    seen: None,
};

/// Places looked at along straights, by the ends of these and how much of both the bends take.
pub type Seen = FxHashMap<[u64; 6], Option<Rc<[Spot]>>>;

/// A place on a straight that is looked at.
#[derive(Clone, Copy)]
pub struct Spot {
    /// From where the straight begins.
    along: f64,
    /// Whether the way there from the place before lies in a bend.
    bends: bool,
    ground: Across,
}

/// A line with the ground along it.
pub struct Traced {
    at: Vec<Stop>,
    legs: Vec<Leg>,
    finer: usize,
    /// Ground under the wheels, if it is asked for again and again.
    under: Option<Under>,
}

/// Ground from each stop to the next under one wheel, in the middle and under the other.
struct Under {
    heights: Vec<f64>,
    /// Where those of each leg end.
    ends: Vec<usize>,
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

/// Under the one wheel, between them and under the other, as part of the gauge.
const WHEELS: [f64; 3] = [-0.5, 0.0, 0.5];

impl Stop {
    /// Ground under each of [`WHEELS`].
    fn wheels(&self) -> [f64; 3] {
        let Across { tracks, middle, .. } = self.ground;
        [tracks[0], middle, tracks[1]]
    }
}

impl Traced {
    /// What must be reached at each stop.
    fn needed(&self) -> Vec<f64> {
        self.at.iter().map(|a| a.ground.needed).collect()
    }
}

/// A shorter stretch over bare ground between two that are built is built as well, with next to no soil.
const SHORT: f64 = 1.0;
/// What wheels do not feel.
const FELT: f64 = 0.01;

impl Sought<'_> {
    /// The ground along a line; `None` where the line cannot be: closed ground, or a bend too sharp.
    pub fn traced(&self, line: &[P2], look: &Look) -> Option<Traced> {
        if super::ramp::bends_tighter(line, self.radius - 1e-6) {
            return None;
        }
        let (at, legs) = self.stops(line, look)?;
        if self.overlaps(&at) {
            return None;
        }
        let mut traced = Traced {
            at,
            legs,
            finer: look.finer,
            under: None,
        };
        if look.seen.is_none() {
            let mut under = Under {
                heights: Vec::new(),
                ends: vec![0],
            };
            for k in 1..traced.at.len() {
                self.under(&traced, k, &mut under.heights)?;
                under.ends.push(under.heights.len());
            }
            traced.under = Some(under);
        }
        Some(traced)
    }

    /// The lowest profile along a line, and about how much soil it takes; `None` where its ends are too far
    /// apart in height.
    ///
    /// Wheels run on whatever is higher, ground or ramp. So what is built may lie under the ground, and
    /// must reach the ground only where that cannot be driven over as it lies: where it falls to the side
    /// by more than allowed, and where it climbs too steeply under a wheel. Between such places it dives
    /// out of the ground and into it again no steeper than a ramp, and no wheel meets a step. The least
    /// profile is then the upper envelope of cones over those places and the ends.
    pub fn course(&self, traced: &Traced, care: &Care) -> Option<(Course, f64)> {
        let Traced { at, legs, .. } = traced;
        let (z, bare, cost) = self.lowest(traced, self.floor(traced, care)?, care)?;
        let line = at.iter().zip(&z).enumerate().map(|(k, (a, &z))| {
            let built = (k > 0 && !bare[k - 1]) || bare.get(k).is_some_and(|b| !b);
            [a.at[0], a.at[1], if built { z } else { a.ground.middle }]
        });
        let course = Course {
            line: line.collect(),
            bare,
            bends: legs.iter().map(|l| l.bends).collect(),
            fades: true,
        };
        Some((course, cost))
    }

    /// What that profile costs, if it is less.
    pub fn cheaper(&self, traced: &Traced, care: &Care, less: f64) -> Option<f64> {
        // Most lines tried are told by what is known so far.
        let known = self.lowest(traced, traced.needed(), care);
        known.filter(|(_, _, cost)| *cost < less)?;
        let (_, _, cost) = self.lowest(traced, self.floor(traced, care)?, care)?;
        (cost < less).then_some(cost)
    }

    /// What must be reached at each stop, the ground between stops looked at.
    fn floor(&self, traced: &Traced, care: &Care) -> Option<Vec<f64>> {
        let at = &traced.at;
        let mut floor = traced.needed();
        let mut heights = Vec::new();
        for k in 1..at.len() {
            let under = match &traced.under {
                Some(under) => &under.heights[under.ends[k - 1]..under.ends[k]],
                None => {
                    heights.clear();
                    self.under(traced, k, &mut heights)?;
                    &heights
                }
            };
            let steps = under.len() / WHEELS.len() - 1;
            let length = at[k].along - at[k - 1].along;
            let most = self.gradient * care.gradient * length / steps as f64 * (1.0 + 1e-4) + 1e-9;
            // Between two places what is built is straight: ground in between counts for both.
            let mut raise = |s: usize, z: f64| {
                if s < steps {
                    floor[k - 1] = floor[k - 1].max(z + care.over);
                }
                if s > 0 {
                    floor[k] = floor[k].max(z + care.over);
                }
            };
            for wheel in under.chunks(steps + 1) {
                for (s, w) in wheel.windows(2).enumerate() {
                    if (w[1] - w[0]).abs() > most {
                        raise(s, w[0]);
                        raise(s + 1, w[1]);
                    }
                }
            }
        }
        Some(floor)
    }

    /// Adds the ground from the stop before one to it, under each of [`WHEELS`] from first to last.
    fn under(&self, traced: &Traced, k: usize, heights: &mut Vec<f64>) -> Option<()> {
        let Traced {
            at, legs, finer, ..
        } = traced;
        let close = if *finer > 1 { CLOSE } else { STEP };
        let u = legs[k - 1].along;
        let length = at[k].along - at[k - 1].along;
        let steps = (length / close).ceil().max(1.0) as usize;
        // The first place of a leg is the last of the leg before, looked at already unless the line
        // bends there.
        let first = (k == 1 || legs[k - 2].along == u).then(|| at[k - 1].wheels());
        // On the way there its last place is near enough as it was looked at.
        let last = (*finer == 1).then(|| at[k].wheels());
        for (wheel, side) in WHEELS.into_iter().enumerate() {
            for s in 0..=steps {
                let known = match s {
                    0 => first,
                    _ if s == steps => last,
                    _ => None,
                };
                let under = || {
                    let l = length * s as f64 / steps as f64;
                    let [x, y] = at[k - 1].at;
                    let p = [x + l * u[0], y + l * u[1]];
                    self.ground.elevation(beside(p, u, side * self.gauge))
                };
                heights.push(match known {
                    Some(known) => known[wheel],
                    None => under()?,
                });
            }
        }
        Some(())
    }

    /// The lowest profile over a floor, which of its legs are bare ground, and what it costs; `None`
    /// where it does not come down to the ends. No higher floor costs less.
    fn lowest(
        &self,
        traced: &Traced,
        mut floor: Vec<f64>,
        care: &Care,
    ) -> Option<(Vec<f64>, Vec<bool>, f64)> {
        let Traced { at, legs, .. } = traced;
        let n = at.len();
        let highest = |k: usize| at[k].wheels().into_iter().fold(f64::NEG_INFINITY, f64::max);
        let lowest = |k: usize| at[k].wheels().into_iter().fold(f64::INFINITY, f64::min);
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
        Some((z, bare, cost + LENGTH * along[n - 1]))
    }

    /// Where a line is looked at, and what lies between one place and the next. Near a bend only at the
    /// bend itself and where it begins and ends: sections across the way would cross each other.
    fn stops(&self, line: &[P2], look: &Look) -> Option<(Vec<Stop>, Vec<Leg>)> {
        let n = line.len();
        let unit = |k: usize| {
            let (a, b) = (line[k], line[k + 1]);
            let length = dist(a, b);
            (length >= 1e-6).then(|| [(b[0] - a[0]) / length, (b[1] - a[1]) / length])
        };
        let units: SmallVec<[P2; 16]> = (0..n - 1).map(unit).collect::<Option<_>>()?;
        let bend = |k: usize| {
            if k == 0 || k == n - 1 {
                return 0.0;
            }
            let (u, v) = (units[k - 1], units[k]);
            let turn = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
            let reach = 0.5 * self.width * (0.5 * turn.abs()).tan();
            if reach > SLIGHT { reach } else { 0.0 }
        };
        // What is built reaches round the outside of a bend to a corner.
        let half = 0.5 * self.width + look.room - 1e-6;
        let cornered = |k: usize| {
            let (p, u, v) = (line[k], units[k - 1], units[k]);
            let left = u[0] * v[1] - u[1] * v[0] > 0.0;
            let side = if left { -half } else { half };
            let open = (1.0 + u[0] * v[0] + u[1] * v[1]).max(1e-3);
            let tip = beside(p, [(u[0] + v[0]) / open, (u[1] + v[1]) / open], side);
            let (a, b) = (beside(p, u, side), beside(p, v, side));
            self.shut(&if left { [p, a, tip, b] } else { [p, b, tip, a] })
        };
        if (1..n - 1).any(|k| bend(k) > 0.0 && cornered(k)) {
            return None;
        }
        // As many as there are on a straight line so long, and those beside each bend.
        let length: f64 = line.windows(2).map(|w| dist(w[0], w[1])).sum();
        let room = (length / STEP).ceil() as usize * look.finer + (3 + look.finer) * n;
        let mut at = Vec::with_capacity(room);
        let mut legs = Vec::with_capacity(room);
        at.push(Stop {
            at: line[0],
            along: 0.0,
            ground: self.across(line[0], units[0], look.room)?,
        });
        let mut begun = 0.0;
        for k in 0..n - 1 {
            let (u, ends) = (units[k], [line[k], line[k + 1]]);
            let spots = || self.straight(ends, u, [bend(k), bend(k + 1)], look);
            let spots = match look.seen {
                Some(seen) => {
                    let [[a, b], [c, d]] = ends;
                    let key = [a, b, c, d, bend(k), bend(k + 1)].map(f64::to_bits);
                    seen.borrow_mut().entry(key).or_insert_with(spots).clone()?
                }
                None => spots()?,
            };
            for spot in &*spots {
                at.push(Stop {
                    at: [0, 1].map(|i| line[k][i] + spot.along * u[i]),
                    along: begun + spot.along,
                    ground: spot.ground,
                });
                legs.push(Leg {
                    along: u,
                    bends: spot.bends,
                });
            }
            begun += dist(ends[0], ends[1]);
        }
        Some((at, legs))
    }

    /// Where a straight is looked at but for its beginning, given how much of it the bends at both ends take.
    fn straight(&self, ends: [P2; 2], u: P2, bends: [f64; 2], look: &Look) -> Option<Rc<[Spot]>> {
        if !self.free(ends, u, look.room) {
            return None;
        }
        let length = dist(ends[0], ends[1]);
        let (from, to) = (bends[0], (length - bends[1]).max(0.0));
        let straight = (to - from).max(0.0);
        let steps = (straight / STEP).ceil() as usize * look.finer;
        let mut places = Vec::with_capacity(steps + 3);
        places.push(0.0);
        places.extend((from > 0.0).then_some(from.min(length)));
        places.extend((1..=steps).map(|s| from + straight * s as f64 / steps as f64));
        places.push(length);
        places.dedup_by(|b, a| *b - *a < 1e-6);
        // A dedup keeps the first: the bend itself must stay.
        if let Some(last) = places.last_mut() {
            *last = length;
        }
        let spot = |w: &[f64]| {
            let p = [0, 1].map(|i| ends[0][i] + w[1] * u[i]);
            let middle = 0.5 * (w[0] + w[1]);
            Some(Spot {
                along: w[1],
                bends: middle < from || middle > to,
                ground: self.across(p, u, look.room)?,
            })
        };
        places.windows(2).map(spot).collect()
    }

    /// Whether the ramp runs over itself: two places nearer than its width that are more than a half
    /// turn apart along it.
    fn overlaps(&self, at: &[Stop]) -> bool {
        let apart = std::f64::consts::PI * self.radius.max(0.5 * self.width);
        let gain = self.width / apart * (1.0 + 1e-9);
        // What goes on in much the same direction all the way does not come back to itself.
        if let [first, .., last] = at {
            let whole = dist(first.at, last.at).max(1e-9);
            let on = [0, 1].map(|k| (last.at[k] - first.at[k]) / whole);
            let forward = |w: &[Stop]| {
                let d = [0, 1].map(|k| w[1].at[k] - w[0].at[k]);
                d[0] * on[0] + d[1] * on[1] >= gain * (w[1].along - w[0].along)
            };
            if at.windows(2).all(forward) {
                return false;
            }
        }
        // What is more than a width off along an axis is told without a root.
        let far = |a: P2, b: P2| (0..2).any(|k| (a[k] - b[k]).abs() > self.width);
        at.iter().enumerate().any(|(k, a)| {
            at[k + 1..].iter().any(|b| {
                b.along - a.along > apart && !far(a.at, b.at) && dist(a.at, b.at) < self.width
            })
        })
    }
}

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
        bends: Vec::new(),
        fades: course.fades,
    };
    let mut k = 0;
    while k + 1 < course.line.len() {
        let mut j = k + 1;
        let like = |j: usize| {
            course.bare[j] == course.bare[k]
                && (course.bare[k] || course.bends[j] == course.bends[k])
        };
        while j + 1 < course.line.len() && like(j) {
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
        out.bends.push(course.bends[k]);
        k = j;
    }
    out
}

/// Stakes may be left out where what is built comes to lie over what is needed by no more than about this:
/// as closely as a crew grades by rod and level (m). Common practice, no source.
const GRADED: f64 = 0.015;

/// A course with so few points that it can be staked: of each straight built stretch, only where its profile
/// turns by more than a crew grades to. What lies higher than the straight from stake to stake has these
/// raised, so nothing gets lower than needed; nor does anything get steeper than the gradient, or than it is
/// there in a bend. `None` where that cannot be without raising an end of what is built.
pub fn few_stakes(course: &Course, gradient: f64) -> Option<Course> {
    let n = course.line.len();
    let plan = |k: usize| [course.line[k][0], course.line[k][1]];
    let step = |k: usize| dist(plan(k), plan(k + 1));
    let turns = |k: usize| {
        let (a, b, c) = (plan(k - 1), plan(k), plan(k + 1));
        let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
        let area = (u[0] * v[1] - u[1] * v[0]).abs();
        area > 1e-4 * dist(a, b) * dist(b, c)
    };
    // Stakes that stay whatever the profile.
    let stays = |k: usize| {
        k == 0
            || k + 1 == n
            || course.bare[k - 1]
            || course.bare[k]
            || course.bends[k - 1] != course.bends[k]
            || turns(k)
    };
    let mut kept: Vec<usize> = vec![0];
    for k in 1..n {
        if stays(k) {
            turned(course, kept[kept.len() - 1], k, &mut kept);
            kept.push(k);
        }
    }
    // How much each stake is raised for what stands over the straight on either side.
    let mut z: Vec<f64> = kept.iter().map(|&k| course.line[k][2]).collect();
    let mut climbs = Vec::with_capacity(kept.len());
    for (j, w) in kept.windows(2).enumerate() {
        let steps = w[0]..w[1];
        let length: f64 = steps.clone().map(step).sum();
        if course.bare[w[0]] {
            climbs.push(f64::INFINITY);
            continue;
        }
        let slope =
            |k: usize| (course.line[k + 1][2] - course.line[k][2]).abs() / step(k).max(1e-9);
        let steepest = steps.map(slope).fold(0.0, f64::max);
        let most = if course.bends[w[0]] {
            steepest
        } else {
            steepest.max(gradient)
        };
        climbs.push(most * length);
        let over = off(course, w[0], w[1])
            .map(|(_, over)| over)
            .fold(0.0, f64::max);
        if over > THIN {
            let raised = |k: usize| course.line[k][2] + over;
            z[j] = z[j].max(raised(w[0]));
            z[j + 1] = z[j + 1].max(raised(w[1]));
        }
    }
    for j in 1..z.len() {
        z[j] = z[j].max(z[j - 1] - climbs[j - 1]);
    }
    for j in (1..z.len()).rev() {
        z[j - 1] = z[j - 1].max(z[j] - climbs[j - 1]);
    }
    let mut out = Course {
        line: Vec::with_capacity(kept.len()),
        bare: Vec::with_capacity(kept.len()),
        bends: Vec::with_capacity(kept.len()),
        fades: course.fades,
    };
    for (&k, &z) in kept.iter().zip(&z) {
        let [x, y, was] = course.line[k];
        let given = k == 0 || k + 1 == n;
        let ends = given || course.bare[k - 1] || course.bare[k];
        // Where wheels come onto it from the ground, no more than they do not feel.
        if ends && z > was + if given { THIN } else { FELT } {
            return None;
        }
        out.line.push([x, y, if given { was } else { z }]);
        if k + 1 < n {
            out.bare.push(course.bare[k]);
            out.bends.push(course.bends[k]);
        }
    }
    Some(out)
}

/// How far each point between two of a course stands over the straight between them.
fn off(course: &Course, from: usize, to: usize) -> impl Iterator<Item = (usize, f64)> {
    let (a, b) = (course.line[from], course.line[to]);
    let length = dist([a[0], a[1]], [b[0], b[1]]).max(1e-9);
    (from + 1..to).map(move |k| {
        let p = course.line[k];
        let f = dist([a[0], a[1]], [p[0], p[1]]) / length;
        (k, p[2] - (a[2] + f * (b[2] - a[2])))
    })
}

/// Of the points between two on a straight, those that the profile turns at: the furthest off the straight,
/// and so on to both sides of it (Ramer 1972; Douglas and Peucker 1973). What is built ends as low as it
/// was: whatever stands over the straight from there is kept.
fn turned(course: &Course, from: usize, to: usize, kept: &mut Vec<usize>) {
    if course.bare[from] {
        return;
    }
    let high = |k: usize| match k {
        0 => THIN,
        _ if k + 1 == course.line.len() => THIN,
        _ if course.bare[k - 1] || course.bare[k] => 0.9 * FELT,
        _ => GRADED,
    };
    let high = high(from).min(high(to));
    let weighed = off(course, from, to).map(|(k, over)| {
        let allowed = if over > 0.0 { high } else { GRADED };
        (k, over.abs() / allowed)
    });
    let worst = weighed.max_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((k, _)) = worst.filter(|w| w.1 > 1.0) {
        turned(course, from, k, kept);
        kept.push(k);
        turned(course, k, to, kept);
    }
}
