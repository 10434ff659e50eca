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

use super::lined::{Crease, Skin};
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
    /// `turn` takes places in plan to places along and across the cuts; `more` tells by how much a metre
    /// of a cut is longer on ground of a gradient.
    fn of(crease: &Crease, turn: impl Fn(P2) -> P2, more: impl Fn(P2) -> [f64; 2]) -> Line {
        let (a, b) = (turn(crease.a), turn(crease.b));
        let up = b[1] > a[1];
        let (low, high) = if up { (a, b) } else { (b, a) };
        let side = |of: Option<P2>| of.map_or([0.0; 2], &more);
        // To the left of a line that runs up across the cuts lies what they come from.
        let (left, right) = (side(crease.left), side(crease.right));
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

/// A place across the cuts where a length bends: all of them, or only those from one middle line.
struct Event {
    t: f64,
    middle: Option<usize>,
}

struct Rise {
    at: f64,
    height: f64,
    lined: f64,
    /// How square the cut crosses the face: 1 is square, 0 along it.
    square: f64,
}

/// Tapes the lined part of the skin in direction `angle` (radians from +x).
pub fn tape(skin: &Skin, angle: f64) -> Option<Taped> {
    let (sin, cos) = angle.sin_cos();
    // u along the cut, t across the cuts.
    let turn = |x: f64, y: f64| -> P2 { [x * cos + y * sin, y * cos - x * sin] };
    let mut u_range = [f64::INFINITY, f64::NEG_INFINITY];
    let mut t_range = u_range;
    let widen = |range: &mut [f64; 2], v: f64| {
        range[0] = range[0].min(v);
        range[1] = range[1].max(v);
    };
    let mut events: Vec<Event> = Vec::new();
    for bit in skin.bits.iter().filter(|b| b.lined.is_some()) {
        for c in bit.corners {
            let [u, t] = turn(c[0], c[1]);
            widen(&mut u_range, u);
            widen(&mut t_range, t);
        }
    }
    let of_all = |t: f64| Event { t, middle: None };
    events.extend(skin.bends.iter().map(|p| of_all(turn(p[0], p[1])[1])));
    for face in skin.faces.iter().filter(|f| f.lined.is_some()) {
        for p in [face.a, face.b] {
            let [u, t] = turn(p[0], p[1]);
            widen(&mut u_range, u);
            widen(&mut t_range, t);
            events.push(of_all(t));
        }
    }
    if t_range[1] - t_range[0] < 1e-6 {
        return None;
    }
    let middles = MIDDLES.map(|f| u_range[0] + f * (u_range[1] - u_range[0]));
    // The cuts' lengths on either side of a middle line bend where an edge crosses that line.
    for crease in &skin.creases {
        let ([u0, t0], [u1, t1]) = (
            turn(crease.a[0], crease.a[1]),
            turn(crease.b[0], crease.b[1]),
        );
        for (k, m) in middles.into_iter().enumerate() {
            if (u0 < m) != (u1 < m) {
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

    // Faces by strips across the cuts.
    let strips = 256usize;
    let wide = (t_range[1] - t_range[0]) / strips as f64;
    let strip = |t: f64| (((t - t_range[0]) / wide).max(0.0) as usize).min(strips - 1);
    let mut faces_in: Vec<Vec<u32>> = vec![Vec::new(); strips];
    let sort_in = |list: &mut Vec<Vec<u32>>, id: u32, lo: f64, hi: f64| {
        if hi >= t_range[0] && lo <= t_range[1] {
            for s in list.iter_mut().take(strip(hi) + 1).skip(strip(lo)) {
                s.push(id);
            }
        }
    };
    let more_on = |gradient: P2| {
        let along = gradient[0] * cos + gradient[1] * sin;
        let steep = gradient[0].hypot(gradient[1]);
        // Share of the cut's direction that runs up or down the slope.
        let share = if steep > 0.0 {
            (along / steep).powi(2)
        } else {
            0.0
        };
        [along.hypot(1.0) - 1.0, share * (steep.hypot(1.0) - 1.0)]
    };
    let lines = skin.creases.iter();
    let mut lines: Vec<Line> = lines
        .map(|c| Line::of(c, |p| turn(p[0], p[1]), more_on))
        .filter(|l| l.last > l.first)
        .collect();
    lines.sort_unstable_by(|a, b| a.first.total_cmp(&b.first));
    let face_ends: Vec<[P2; 2]> = skin
        .faces
        .iter()
        .map(|f| [turn(f.a[0], f.a[1]), turn(f.b[0], f.b[1])])
        .collect();
    for (id, [a, b]) in face_ends.iter().enumerate() {
        sort_in(&mut faces_in, id as u32, a[1].min(b[1]), a[1].max(b[1]));
    }

    let mut reached = [[f64::NEG_INFINITY; 2]; MIDDLES.len()];
    let mut longest = 0.0f64;
    let mut turns: Vec<Turn> = Vec::new();
    // Creases that the cut meets: the cuts come in order.
    let (mut met, mut next): (Vec<&Line>, usize) = (Vec::new(), 0);
    let mut rises: Vec<Rise> = Vec::new();
    for event in &events {
        for t in [event.t - BESIDE, event.t + BESIDE] {
            if t < t_range[0] || t > t_range[1] {
                continue;
            }
            turns.clear();
            rises.clear();
            while let Some(line) = lines.get(next).filter(|l| l.first < t) {
                met.push(line);
                next += 1;
            }
            let mut ends = [f64::INFINITY, f64::NEG_INFINITY];
            let mut k = 0;
            while let Some(line) = met.get(k) {
                if line.last < t {
                    met.swap_remove(k);
                    continue;
                }
                let at = line.at + line.slope * (t - line.first);
                if line.lined {
                    ends = [ends[0].min(at), ends[1].max(at)];
                }
                turns.push(Turn {
                    at,
                    plain: line.plain,
                    unfolded: line.unfolded,
                });
                k += 1;
            }
            for &id in &faces_in[strip(t)] {
                let [a, b] = face_ends[id as usize];
                if (a[1] < t) != (b[1] < t) {
                    let f = (t - a[1]) / (b[1] - a[1]);
                    let face = &skin.faces[id as usize];
                    let mix = |h: [f64; 2]| h[0] + f * (h[1] - h[0]);
                    rises.push(Rise {
                        at: a[0] + f * (b[0] - a[0]),
                        height: mix(face.height),
                        lined: face.lined.map_or(0.0, mix),
                        square: (b[1] - a[1]).abs() / (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-12),
                    });
                }
            }
            for r in rises.iter().filter(|r| r.lined > 0.0) {
                ends = [ends[0].min(r.at), ends[1].max(r.at)];
            }
            if ends[0] > ends[1] {
                continue;
            }
            // Along the cut from one place to another, of which is known by how much more that is.
            let along = |(from, more_from): (f64, f64), (to, more_to): (f64, f64)| {
                let faces = |a: f64, b: f64| upright(&rises, a, b, ends, true);
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
                    reached[0].max(along(middle, (ends[1], last))),
                    reached[1].max(along((ends[0], first), middle)),
                ];
            };
            if let Some(k) = event.middle {
                let places = [ends[0], middles[k], ends[1]];
                reach(k, more(&turns, places, |c| c.unfolded));
                continue;
            }
            let plain = more(&turns, ends, |c| c.plain);
            let faces = upright(&rises, ends[0], ends[1], ends, false);
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

/// What upright faces add between two places on a cut: those at the ends of the lining as far as they are
/// lined, those between in full. `unfolded`: as the sheet unfolds, along the cut.
fn upright(rises: &[Rise], from: f64, to: f64, ends: [f64; 2], unfolded: bool) -> f64 {
    // A face on the middle line counts to one side only.
    let first = from <= ends[0] + 1e-9;
    let counts = |r: &&Rise| {
        if first {
            r.at >= from - 1e-7 && r.at <= to + 1e-7
        } else {
            r.at > from && r.at <= to + 1e-7
        }
    };
    let heights = rises.iter().filter(counts).map(|r| {
        let at_end = r.at < ends[0] + 1e-7 || r.at > ends[1] - 1e-7;
        let height = if at_end { r.lined } else { r.height };
        height * if unfolded { r.square } else { 1.0 }
    });
    heights.sum()
}
