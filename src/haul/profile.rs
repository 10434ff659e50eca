//! The lowest profile of a ramp along a line, and about how much soil it takes. Metres, m³.

use std::cell::RefCell;

use rustc_hash::FxHashMap;

use super::ramp::Course;
use super::sought::{Across, EVEN, LENGTH, STEP, Sought, beside};
use crate::terrain::line::dist;
use crate::terrain::predicates::P2;

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

/// How a line is looked at.
pub struct Look<'a> {
    /// So many times as closely as on the way there.
    pub finer: usize,
    /// With so much room beside it.
    pub room: f64,
    pub care: &'a Care,
    /// Only if it costs less.
    pub less: f64,
    /// What was looked at with that room before: lines tried one after the other share most of it.
    pub seen: Option<&'a RefCell<Seen>>,
}

impl Look<'static> {
    /// As what is built, whatever it costs.
    pub fn closely(care: &'static Care) -> Self {
        Look {
            finer: FINE,
            room: 0.0,
            care,
            less: f64::INFINITY,
            seen: None,
        }
    }
}

/// Ground across places, by place and heading.
pub type Seen = FxHashMap<[[u64; 2]; 2], Option<Across>>;

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

/// A shorter stretch over bare ground between two that are built is built as well, with next to no soil.
const SHORT: f64 = 1.0;
/// What wheels do not feel.
const FELT: f64 = 0.01;

impl Sought<'_> {
    /// The lowest profile along a line, and about how much soil it takes; `None` where the line cannot
    /// be: closed ground, a bend too sharp, or ends too far apart in height; or where it costs no `less`.
    ///
    /// Wheels run on whatever is higher, ground or ramp. So what is built may lie under the ground, and
    /// must reach the ground only where that cannot be driven over as it lies: where it falls to the side
    /// by more than allowed, and where it climbs too steeply under a wheel. Between such places it dives
    /// out of the ground and into it again no steeper than a ramp, and no wheel meets a step. The least
    /// profile is then the upper envelope of cones over those places and the ends.
    pub fn course(&self, line: &[P2], look: &Look) -> Option<(Course, f64)> {
        let (finer, care, less) = (look.finer, look.care, look.less);
        if super::ramp::bends_tighter(line, self.radius - 1e-6) {
            return None;
        }
        let (at, legs) = self.stops(line, look)?;
        let n = at.len();
        if self.overlaps(&at) {
            return None;
        }
        let mut floor: Vec<f64> = at.iter().map(|a| a.ground.needed).collect();
        // Most lines tried are told by what is known so far.
        if less.is_finite() {
            let known = self.lowest(&at, &legs, floor.clone(), care);
            known.filter(|(_, _, cost)| *cost < less)?;
        }
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
            // The first place of a leg is the last of the leg before, looked at already unless the line
            // bends there.
            let Across { tracks, middle, .. } = at[k - 1].ground;
            let known =
                (k == 1 || legs[k - 2].along == u).then_some([tracks[0], middle, tracks[1]]);
            let Across { tracks, middle, .. } = at[k].ground;
            let last = [tracks[0], middle, tracks[1]];
            for (wheel, side) in [-0.5, 0.0, 0.5].into_iter().enumerate() {
                let under = |s: usize| {
                    let l = length * s as f64 / steps as f64;
                    let [x, y] = at[k - 1].at;
                    let p = [x + l * u[0], y + l * u[1]];
                    self.ground.elevation(beside(p, u, side * self.gauge))
                };
                let mut before = match known {
                    Some(known) => known[wheel],
                    None => under(0)?,
                };
                for s in 1..=steps {
                    // Its last place was looked at: on the way there that is near enough.
                    let known = (s == steps && finer == 1).then_some(last[wheel]);
                    let z = known.or_else(|| under(s))?;
                    if (z - before).abs() > most {
                        raise(k, s - 1, steps, before);
                        raise(k, s, steps, z);
                    }
                    before = z;
                }
            }
        }
        let (z, bare, cost) = self.lowest(&at, &legs, floor, care)?;
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

    /// The lowest profile over a floor, which of its legs are bare ground, and what it costs; `None`
    /// where it does not come down to the ends. No higher floor costs less.
    fn lowest(
        &self,
        at: &[Stop],
        legs: &[Leg],
        mut floor: Vec<f64>,
        care: &Care,
    ) -> Option<(Vec<f64>, Vec<bool>, f64)> {
        let n = at.len();
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
        Some((z, bare, cost + LENGTH * along[n - 1]))
    }

    /// Where a line is looked at, and what lies between one place and the next. Near a bend only at the
    /// bend itself and where it begins and ends: sections across the way would cross each other.
    fn stops(&self, line: &[P2], look: &Look) -> Option<(Vec<Stop>, Vec<Leg>)> {
        let seen = |p: P2, u: P2| {
            let Some(seen) = look.seen else {
                return self.across(p, u, look.room);
            };
            let key = [p, u].map(|p| p.map(f64::to_bits));
            let mut seen = seen.borrow_mut();
            let known = seen.entry(key);
            *known.or_insert_with(|| self.across(p, u, look.room))
        };
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
        // As many as there are on a straight line so long, and those beside each bend.
        let length: f64 = line.windows(2).map(|w| dist(w[0], w[1])).sum();
        let room = (length / STEP).ceil() as usize * look.finer + (3 + look.finer) * n;
        let mut at = Vec::with_capacity(room);
        let mut legs = Vec::with_capacity(room);
        let mut places: Vec<f64> = Vec::with_capacity(room);
        let mut begun = 0.0;
        for k in 0..n - 1 {
            let u = units[k];
            let length = dist(line[k], line[k + 1]);
            let (from, to) = (bend(k), (length - bend(k + 1)).max(0.0));
            let straight = (to - from).max(0.0);
            let steps = (straight / STEP).ceil() as usize * look.finer;
            places.clear();
            places.push(0.0);
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
                let ground = seen(p, u)?;
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
        let ends = k == 0 || k + 1 == n || course.bare[k - 1] || course.bare[k];
        if ends && z > was + THIN {
            return None;
        }
        out.line.push([x, y, if ends { was } else { z }]);
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
    let meets_bare =
        |k: usize| k == 0 || k + 1 == course.line.len() || course.bare[k - 1] || course.bare[k];
    let high = if meets_bare(from) || meets_bare(to) {
        THIN
    } else {
        GRADED
    };
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
