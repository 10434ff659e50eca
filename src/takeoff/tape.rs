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
//! somewhat more than the sheet would take. Between neighbouring corners of the surface a cut's
//! length changes evenly, so the longest is found at a corner: it is exact. Where a cut leaves the
//! lining and comes back, the tape goes over the ground between; where there is no ground (a building),
//! straight on. Metres.

use super::lined::Skin;
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

/// A stretch of one cut: from and to along it, length along the surface over length in plan.
struct Chord {
    from: f64,
    to: f64,
    factor: f64,
    /// The same as the sheet unfolds, along the cut.
    unfolded: f64,
    lined: bool,
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
    let mut events: Vec<f64> = Vec::new();
    for bit in skin.bits.iter().filter(|b| b.lined.is_some()) {
        for c in bit.corners {
            let [u, t] = turn(c[0], c[1]);
            widen(&mut u_range, u);
            widen(&mut t_range, t);
            events.push(t);
        }
    }
    for face in skin.faces.iter().filter(|f| f.lined.is_some()) {
        for p in [face.a, face.b] {
            let [u, t] = turn(p[0], p[1]);
            widen(&mut u_range, u);
            widen(&mut t_range, t);
            events.push(t);
        }
    }
    if t_range[1] - t_range[0] < 1e-6 {
        return None;
    }
    let middles = MIDDLES.map(|f| u_range[0] + f * (u_range[1] - u_range[0]));
    // The cuts' lengths on either side of a middle line bend where an edge crosses that line.
    for bit in &skin.bits {
        for k in 0..3 {
            let (p, q) = (bit.corners[k], bit.corners[(k + 1) % 3]);
            let ([u0, t0], [u1, t1]) = (turn(p[0], p[1]), turn(q[0], q[1]));
            for m in middles {
                if (u0 < m) != (u1 < m) {
                    events.push(t0 + (m - u0) / (u1 - u0) * (t1 - t0));
                }
            }
        }
    }
    events.retain(|t| *t >= t_range[0] - 1e-9 && *t <= t_range[1] + 1e-9);
    events.sort_by(f64::total_cmp);
    events.dedup_by(|a, b| (*a - *b).abs() < 4.0 * BESIDE);

    // Triangles and faces by strips across the cuts.
    let strips = 256usize;
    let wide = (t_range[1] - t_range[0]) / strips as f64;
    let strip = |t: f64| (((t - t_range[0]) / wide).max(0.0) as usize).min(strips - 1);
    let mut bits_in: Vec<Vec<u32>> = vec![Vec::new(); strips];
    let mut faces_in: Vec<Vec<u32>> = vec![Vec::new(); strips];
    let sort_in = |list: &mut Vec<Vec<u32>>, id: u32, lo: f64, hi: f64| {
        if hi >= t_range[0] && lo <= t_range[1] {
            for s in list.iter_mut().take(strip(hi) + 1).skip(strip(lo)) {
                s.push(id);
            }
        }
    };
    let turned: Vec<[P2; 3]> = skin
        .bits
        .iter()
        .map(|b| b.corners.map(|c| turn(c[0], c[1])))
        .collect();
    let factors: Vec<[f64; 2]> = skin
        .bits
        .iter()
        .map(|b| {
            let [p, q, r] = b.corners;
            let plane = crate::terrain::Plane::through(p, q, r);
            let along = plane.gradient[0] * cos + plane.gradient[1] * sin;
            let steep = plane.slope();
            // Share of the cut's direction that runs up or down the slope.
            let share = if steep > 0.0 {
                (along / steep).powi(2)
            } else {
                0.0
            };
            [along.hypot(1.0), 1.0 + share * (steep.hypot(1.0) - 1.0)]
        })
        .collect();
    for (id, c) in turned.iter().enumerate() {
        let (lo, hi) = (
            c[0][1].min(c[1][1]).min(c[2][1]),
            c[0][1].max(c[1][1]).max(c[2][1]),
        );
        sort_in(&mut bits_in, id as u32, lo, hi);
    }
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
    let mut chords: Vec<Chord> = Vec::new();
    let mut rises: Vec<Rise> = Vec::new();
    for &event in &events {
        for t in [event - BESIDE, event + BESIDE] {
            if t < t_range[0] || t > t_range[1] {
                continue;
            }
            chords.clear();
            rises.clear();
            for &id in &bits_in[strip(t)] {
                let c = &turned[id as usize];
                if let Some((from, to)) = chord(c, t) {
                    chords.push(Chord {
                        from,
                        to,
                        factor: factors[id as usize][0],
                        unfolded: factors[id as usize][1],
                        lined: skin.bits[id as usize].lined.is_some(),
                    });
                }
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
            let mut ends = [f64::INFINITY, f64::NEG_INFINITY];
            for c in chords.iter().filter(|c| c.lined) {
                ends = [ends[0].min(c.from), ends[1].max(c.to)];
            }
            for r in rises.iter().filter(|r| r.lined > 0.0) {
                ends = [ends[0].min(r.at), ends[1].max(r.at)];
            }
            if ends[0] > ends[1] {
                continue;
            }
            let along = |from: f64, to: f64| length(&chords, &rises, from, to, ends, true);
            longest = longest.max(length(&chords, &rises, ends[0], ends[1], ends, false));
            for (k, m) in middles.into_iter().enumerate() {
                // Beyond the middle line a cut reaches less than nothing.
                let up = if ends[1] >= m {
                    along(m, ends[1])
                } else {
                    -along(ends[1], m)
                };
                let down = if ends[0] <= m {
                    along(ends[0], m)
                } else {
                    -along(m, ends[0])
                };
                reached[k] = [reached[k][0].max(up), reached[k][1].max(down)];
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

/// Where the line t = const runs through a triangle (in turned coordinates).
fn chord(c: &[P2; 3], t: f64) -> Option<(f64, f64)> {
    let mut cut = [0.0; 2];
    let mut n = 0;
    for k in 0..3 {
        let (p, q) = (c[k], c[(k + 1) % 3]);
        if (p[1] < t) != (q[1] < t) && n < 2 {
            cut[n] = p[0] + (t - p[1]) / (q[1] - p[1]) * (q[0] - p[0]);
            n += 1;
        }
    }
    (n == 2).then(|| (cut[0].min(cut[1]), cut[0].max(cut[1])))
}

/// Length along one cut between two places on it. Upright faces at the ends of the lining count as
/// far as they are lined, those between in full; what has no ground counts in plan. `unfolded`: as the
/// sheet unfolds, along the cut.
fn length(
    chords: &[Chord],
    rises: &[Rise],
    from: f64,
    to: f64,
    ends: [f64; 2],
    unfolded: bool,
) -> f64 {
    let (mut sum, mut covered) = (0.0, 0.0);
    for c in chords {
        let plan = c.to.min(to) - c.from.max(from);
        if plan > 0.0 {
            sum += plan * if unfolded { c.unfolded } else { c.factor };
            covered += plan;
        }
    }
    for r in rises {
        // A face on the middle line counts to one side only.
        let first = from <= ends[0] + 1e-9;
        if r.at > to + 1e-7 || r.at < from - if first { 1e-7 } else { 0.0 } {
            continue;
        }
        if !first && r.at <= from {
            continue;
        }
        let at_end = r.at < ends[0] + 1e-7 || r.at > ends[1] - 1e-7;
        let height = if at_end { r.lined } else { r.height };
        sum += height * if unfolded { r.square } else { 1.0 };
    }
    sum + (to - from - covered).max(0.0)
}
