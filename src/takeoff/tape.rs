//! Lengths along a surface, as a tape laid over it in one direction shows them.
//!
//! A sheet laid over a hollow needs, in each of its two directions, more than the plan length: the
//! length along the surface. For one direction the surface is cut by all vertical planes that run
//! that way. From a middle line square to them each cut is taped out to the last lined place, one way
//! and the other; the longest reach one way and the longest the other way together are the side of
//! the rectangle, but never less than the longest single cut. So a slanting outline gets the room that
//! it takes, which the longest single cut does not give. A reach is measured as the sheet unfolds: what
//! a slope or an upright face adds counts only as far as it runs with the cut, for a face that the cut
//! crosses askew takes its height sideways too. The middle line is straight in plan: askew to slopes it asks for
//! somewhat more than the sheet would take. Between neighbouring bends of the surface a cut's
//! length changes evenly, so the longest is found at a bend: it is exact, but for what lies flatter than
//! corners are welded (see [`Skin`]). Where a cut leaves the
//! lining and comes back, the tape goes over the ground between; where there is no ground (a building),
//! straight on. Metres.

use super::lined::{Crease, Face, Ground, Skin};
use crate::terrain::predicates::P2;

/// To either side of a corner, metres: at an upright face the two sides differ.
const BESIDE: f64 = 1e-7;
/// Middle lines tried, as shares of the extent.
const MIDDLES: [f64; 5] = [0.3, 0.4, 0.5, 0.6, 0.7];

/// What the tape shows in one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taped {
    /// Side of the rectangle.
    pub side: f64,
    /// The longest single cut.
    pub longest: f64,
}

/// Where a cut crosses a crease: the place on it, and by how much more than before it a metre of the cut
/// is longer along the surface than in plan, from there on: in full, and as the sheet unfolds along the cut.
struct Turn {
    at: f64,
    plain: f64,
    unfolded: f64,
}

/// A crease as the cuts from `first` to `last` meet it.
struct Line {
    first: f64,
    last: f64,
    /// Place on the first cut, and how much further for each metre on.
    at: f64,
    slope: f64,
    plain: f64,
    unfolded: f64,
    lined: bool,
}

impl Line {
    /// `ends` of the crease along and across the cuts; `more` tells by how much a metre of a cut is longer
    /// on the ground beside it.
    fn of(crease: &Crease, [a, b]: [P2; 2], more: impl Fn(&Ground) -> [f64; 2]) -> Line {
        let up = b[1] > a[1];
        let (low, high) = if up { (a, b) } else { (b, a) };
        let side = |of: &Option<Ground>| of.as_ref().map_or([0.0; 2], &more);
        // To the left of a line that runs up across the cuts lies what they come from.
        let (left, right) = (side(&crease.left), side(&crease.right));
        let (before, after) = if up { (left, right) } else { (right, left) };
        Line {
            first: low[1],
            last: high[1],
            at: low[0],
            slope: (high[0] - low[0]) / (high[1] - low[1]).max(f64::MIN_POSITIVE),
            plain: after[0] - before[0],
            unfolded: after[1] - before[1],
            lined: crease.lined,
        }
    }
}

/// An upright face as the cuts from `first` to `last` meet it.
struct Wall<'a> {
    face: &'a Face,
    first: f64,
    last: f64,
    /// Its ends along and across the cuts.
    ends: [P2; 2],
    /// How square the cuts cross it: 1 is square, 0 along it.
    square: f64,
}

impl Wall<'_> {
    fn of(face: &Face, turn: impl Fn(P2) -> P2) -> Wall<'_> {
        let [a, b] = [turn(face.a), turn(face.b)];
        Wall {
            face,
            first: a[1].min(b[1]),
            last: a[1].max(b[1]),
            ends: [a, b],
            square: (b[1] - a[1]).abs() / (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-12),
        }
    }

    /// Where the cut at `t` crosses it.
    fn rise(&self, t: f64) -> Rise {
        let [a, b] = self.ends;
        let f = (t - a[1]) / (b[1] - a[1]);
        let mix = |h: [f64; 2]| h[0] + f * (h[1] - h[0]);
        Rise {
            at: a[0] + f * (b[0] - a[0]),
            height: mix(self.face.height),
            lined: self.face.lined.map_or(0.0, mix),
            square: self.square,
        }
    }
}

/// Where a cut crosses an upright face.
struct Rise {
    at: f64,
    height: f64,
    lined: f64,
    square: f64,
}

/// A place across the cuts where a length bends: all of them, or only those from one middle line.
struct Event {
    t: f64,
    middle: Option<usize>,
}

/// An upright face that a cut crosses, and what it adds to the cut: in full, and as the sheet unfolds.
/// Tapes the lined part of the skin in direction `angle` (radians from +x).
pub fn tape(skin: &Skin, angle: f64) -> Option<Taped> {
    let (sin, cos) = angle.sin_cos();
    // u along the cut, t across the cuts.
    let turn = |p: P2| -> P2 { [p[0] * cos + p[1] * sin, p[1] * cos - p[0] * sin] };
    let walls: Vec<Wall> = skin.faces.iter().map(|f| Wall::of(f, turn)).collect();
    let lined = walls.iter().filter(|w| w.face.lined.is_some());
    let mut u_range = [f64::INFINITY, f64::NEG_INFINITY];
    let mut t_range = u_range;
    let corners = skin.lined.iter().map(|&p| turn(p));
    for [u, t] in corners.chain(lined.clone().flat_map(|w| w.ends)) {
        u_range = [least(u_range[0], u), most(u_range[1], u)];
        t_range = [least(t_range[0], t), most(t_range[1], t)];
    }
    if t_range[1] - t_range[0] < 1e-6 {
        return None;
    }
    let of_all = |t: f64| Event { t, middle: None };
    let mut events: Vec<Event> = Vec::with_capacity(skin.bends.len() + skin.creases.len());
    events.extend(skin.bends.iter().map(|&p| of_all(turn(p)[1])));
    events.extend(lined.flat_map(|w| w.ends).map(|p| of_all(p[1])));
    let middles = MIDDLES.map(|f| u_range[0] + f * (u_range[1] - u_range[0]));
    // The cuts' lengths on either side of a middle line bend where an edge crosses that line.
    let creases: Vec<[P2; 2]> = skin
        .creases
        .iter()
        .map(|c| [turn(c.a), turn(c.b)])
        .collect();
    for [[u0, t0], [u1, t1]] in &creases {
        for (k, m) in middles.into_iter().enumerate() {
            if (*u0 < m) != (*u1 < m) {
                events.push(Event {
                    t: t0 + (m - u0) / (u1 - u0) * (t1 - t0),
                    middle: Some(k),
                });
            }
        }
    }
    events.retain(|e| e.t >= t_range[0] - 1e-9 && e.t <= t_range[1] + 1e-9);
    events.sort_by(|a, b| a.t.total_cmp(&b.t));
    events.dedup_by(|next, kept| {
        let same = (next.t - kept.t).abs() < 4.0 * BESIDE;
        if same && next.middle != kept.middle {
            kept.middle = None;
        }
        same
    });

    let more_on = |ground: &Ground| {
        let [x, y] = ground.gradient;
        let along = x * cos + y * sin;
        // Share of the cut's direction that runs up or down the slope.
        let share = if ground.slope > 0.0 {
            (along / ground.slope).powi(2)
        } else {
            0.0
        };
        [along.hypot(1.0) - 1.0, share * ground.more]
    };
    let made = skin.creases.iter().zip(&creases);
    let lines: Vec<Line> = made.map(|(c, &ends)| Line::of(c, ends, more_on)).collect();
    // Lines and upright faces as the cuts come to them.
    let in_order = |mut list: Vec<(f64, u32)>| {
        list.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        list.into_iter().peekable()
    };
    let to_meet = (0..).zip(&lines).filter(|(_, l)| l.last > l.first);
    let mut next_line = in_order(to_meet.map(|(k, l)| (l.first, k)).collect());
    let mut next_wall = in_order((0..).zip(&walls).map(|(k, w)| (w.first, k)).collect());

    let mut reached = [[f64::NEG_INFINITY; 2]; MIDDLES.len()];
    let mut longest = 0.0f64;
    let mut turns: Vec<Turn> = Vec::new();
    let mut rises: Vec<Rise> = Vec::new();
    // What the cut meets: lines, and walls by number.
    let (mut met, mut faces): (Vec<&Line>, Vec<u32>) = Default::default();
    for event in &events {
        for t in [event.t - BESIDE, event.t + BESIDE] {
            if t < t_range[0] || t > t_range[1] {
                continue;
            }
            while let Some((_, k)) = next_line.next_if(|l| l.0 < t) {
                met.push(&lines[k as usize]);
            }
            while let Some((_, k)) = next_wall.next_if(|w| w.0 < t) {
                faces.insert(faces.partition_point(|&other| other < k), k);
            }
            let mut ends = [f64::INFINITY, f64::NEG_INFINITY];
            turns.clear();
            let mut k = 0;
            while let Some(line) = met.get(k) {
                if line.last < t {
                    met.swap_remove(k);
                    continue;
                }
                let at = line.at + line.slope * (t - line.first);
                if line.lined {
                    ends = [least(ends[0], at), most(ends[1], at)];
                }
                turns.push(Turn {
                    at,
                    plain: line.plain,
                    unfolded: line.unfolded,
                });
                k += 1;
            }
            faces.retain(|&k| walls[k as usize].last >= t);
            rises.clear();
            rises.extend(faces.iter().map(|&k| walls[k as usize].rise(t)));
            for r in rises.iter().filter(|r| r.lined > 0.0) {
                ends = [least(ends[0], r.at), most(ends[1], r.at)];
            }
            if ends[0] > ends[1] {
                continue;
            }
            // At the ends of the lining faces count as far as they are lined, those between in full.
            for r in &mut rises {
                if r.at < ends[0] + 1e-7 || r.at > ends[1] - 1e-7 {
                    r.height = r.lined;
                }
            }
            // Along the cut from one place to another, of which is known by how much more that is.
            let along = |(from, more_from): (f64, f64), (to, more_to): (f64, f64)| {
                let faces = |a: f64, b: f64| upright(&rises, a, b, ends, |r| r.height * r.square);
                let faces = if to >= from {
                    faces(from, to)
                } else {
                    -faces(to, from)
                };
                to - from + more_to - more_from + faces
            };
            // Beyond the middle line a cut reaches less than nothing.
            let mut reach = |k: usize, [first, at_middle, last]: [f64; 3]| {
                let middle = (middles[k], at_middle);
                let reached = &mut reached[k];
                *reached = [
                    most(reached[0], along(middle, (ends[1], last))),
                    most(reached[1], along((ends[0], first), middle)),
                ];
            };
            if let Some(k) = event.middle {
                let places = [ends[0], middles[k], ends[1]];
                reach(k, more(&turns, places, |c| c.unfolded));
                continue;
            }
            let plain = more(&turns, ends, |c| c.plain);
            let faces = upright(&rises, ends[0], ends[1], ends, |r| r.height);
            longest = longest.max(ends[1] - ends[0] + plain[1] - plain[0] + faces);
            let [m0, m1, m2, m3, m4] = middles;
            let places = [ends[0], m0, m1, m2, m3, m4, ends[1]];
            let more = more(&turns, places, |c| c.unfolded);
            for k in 0..MIDDLES.len() {
                reach(k, [more[0], more[k + 1], more[MIDDLES.len() + 1]]);
            }
        }
    }
    let side = reached
        .iter()
        .map(|r| r[0] + r[1])
        .filter(|s| s.is_finite())
        .min_by(f64::total_cmp)?;
    Some(Taped {
        side: side.max(longest),
        longest,
    })
}

/// By how much the surface is longer than its plan, along one cut from its beginning to each of these
/// places on it. What has no ground counts in plan.
fn more<const N: usize>(turns: &[Turn], places: [f64; N], by: impl Fn(&Turn) -> f64) -> [f64; N] {
    let mut sums = [0.0; N];
    for turn in turns {
        let by = by(turn);
        for (sum, at) in sums.iter_mut().zip(places) {
            let on = at - turn.at;
            *sum += by * if on > 0.0 { on } else { 0.0 };
        }
    }
    sums
}

/// Plainer than those of the language, which look for what is no number.
fn least(a: f64, b: f64) -> f64 {
    if b < a { b } else { a }
}

fn most(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}

/// What upright faces add between two places on a cut whose lining has these ends.
fn upright(rises: &[Rise], from: f64, to: f64, ends: [f64; 2], adds: impl Fn(&Rise) -> f64) -> f64 {
    // A face on the middle line counts to one side only.
    let first = from <= ends[0] + 1e-9;
    let counts = |r: &&Rise| {
        if first {
            r.at >= from - 1e-7 && r.at <= to + 1e-7
        } else {
            r.at > from && r.at <= to + 1e-7
        }
    };
    rises.iter().filter(counts).map(adds).sum()
}
