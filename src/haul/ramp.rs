//! A ramp's figures over the ground it is built on: gradient, soil, crown, wheel tracks, turning room.
//! Metres, m³. Soil is measured by the works themselves, on a copy of the ground.

use smallvec::SmallVec;

use crate::design::{Move, Yard, strip};
use crate::earthwork::{Act, Mosaic, facet};
use crate::job::{At, Height, Place, Ramp};
use crate::plan::RampFigures;
use crate::terrain::line::{self, dist};
use crate::terrain::predicates::P2;

/// Along a ramp it is looked at so often.
const STEP: f64 = 0.25;

/// A line with elevations; stretches marked `true` are driven over the ground as it lies.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    pub line: Vec<[f64; 3]>,
    pub bare: Vec<bool>,
    /// Stretches that lie in a bend, where both wheels have not the same way.
    pub bends: Vec<bool>,
    /// What is built dives into the ground at its ends, so that wheels meet no step.
    pub fades: bool,
}

/// A course built.
struct Built {
    ground: Mosaic,
    /// m³ compacted, and m³ bank.
    placed: f64,
    dug: f64,
}

/// The ground with a course built on it like `like`, and the soil that takes.
fn build(course: &Course, like: &Ramp, yard: &Yard, ground: &Mosaic) -> Option<Built> {
    let mut ground = ground.clone();
    let (mut fill, mut cut) = (0.0, 0.0);
    let mut k = 0;
    while k < course.bare.len() {
        if course.bare[k] {
            k += 1;
            continue;
        }
        let mut end = k;
        while end < course.bare.len() && !course.bare[end] {
            end += 1;
        }
        let line = &course.line[k..=end];
        let ramp = Ramp {
            line: line
                .iter()
                .map(|p| At::Placed(Place::Xy(p[0] + yard.origin[0], p[1] + yard.origin[1])))
                .collect(),
            profile: line.iter().map(|p| Height::Elevation(p[2])).collect(),
            ..like.clone()
        };
        let layout = strip::ramp(&ramp, yard, &ground).ok()?;
        ground.begin(true);
        for step in layout.parts.iter().flat_map(|p| &p.moves) {
            match step {
                Move::Dig(facets) => ground.apply_all(Act::Dig, facets),
                Move::Place(facets) => ground.apply_all(Act::Place, facets),
                _ => {}
            }
        }
        let moved = ground.finish(0.0, false);
        fill += moved.fill;
        cut += moved.cut_bank + moved.redug;
        k = end;
    }
    Some(Built {
        ground,
        placed: fill,
        dug: cut,
    })
}

/// A wheel stands on so much of its track: gradients under it are those over this length.
const WHEEL: f64 = 0.25;
/// A track is looked at so often.
const TRACK: f64 = 0.025;

/// Steepest in the tracks of two wheels so far apart, driven over the ground along a line; `None` if that is
/// more than `most`.
fn track_gradient(line: &[P2], gauge: f64, ground: &Mosaic, most: f64) -> Option<f64> {
    let line = bends(line);
    if line.len() < 2 {
        return Some(0.0);
    }
    let (right, left) = facet::edges_of(&line, 0.5 * gauge, 0.5 * gauge);
    let mut steepest = 0.0f64;
    for track in [right, left] {
        let length = line::length(&track);
        let steps = (length / TRACK).ceil().max(1.0) as usize;
        let stand = ((WHEEL * steps as f64 / length.max(1e-12)).round() as usize).clamp(1, steps);
        let run = stand as f64 * length / steps as f64;
        let mut heights: Vec<f64> = Vec::with_capacity(steps + 1);
        let (mut leg, mut begun) = (0, 0.0);
        for s in 0..=steps {
            let l = length * s as f64 / steps as f64;
            while leg + 2 < track.len() && begun + dist(track[leg], track[leg + 1]) < l {
                begun += dist(track[leg], track[leg + 1]);
                leg += 1;
            }
            let (a, b) = (track[leg], track[leg + 1]);
            let f = ((l - begun) / dist(a, b).max(1e-12)).min(1.0);
            let p = [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
            heights.push(ground.elevation(p).unwrap_or(f64::NAN));
            let behind = s.checked_sub(stand).map_or(f64::NAN, |s| heights[s]);
            let climb = (heights[s] - behind).abs() / run;
            if climb.is_finite() {
                steepest = steepest.max(climb);
            }
            if steepest > most {
                return None;
            }
        }
    }
    Some(steepest)
}

fn turn(a: P2, b: P2, c: P2) -> f64 {
    let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
    (u[0] * v[1] - u[1] * v[0])
        .atan2(u[0] * v[0] + u[1] * v[1])
        .abs()
}

/// A line without the points that lie on the straight between their neighbours.
fn bends(line: &[P2]) -> Vec<P2> {
    let mut bent: Vec<P2> = Vec::with_capacity(line.len());
    for (k, &p) in line.iter().enumerate() {
        let straight = match (bent.last(), line.get(k + 1)) {
            (Some(&before), Some(&after)) => turn(before, p, after) < STRAIGHT,
            _ => false,
        };
        if !straight {
            bent.push(p);
        }
    }
    bent
}

/// Radius that the sharpest bend has room for: tangent to the middles of the shorter leg on both.
/// Points on the straight between their neighbours are no bends.
pub fn bend_radius(line: &[P2]) -> Option<f64> {
    bends(line)
        .windows(3)
        .map(|w| {
            let leg = dist(w[0], w[1]).min(dist(w[1], w[2]));
            0.5 * leg / (0.5 * turn(w[0], w[1], w[2])).tan()
        })
        .min_by(f64::total_cmp)
}

/// Whether the sharpest bend has room for less than a radius; told without an angle. The tangent of half a
/// turn is the cross product of the directions over 1 and their dot product.
pub fn bends_tighter(line: &[P2], radius: f64) -> bool {
    // Points on the straight are no bends: as in `bends`.
    let straight = STRAIGHT.tan();
    let half = |a: P2, b: P2, c: P2| {
        let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
        let (cross, dot) = (u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]);
        (cross.abs(), dot, dist(a, b), dist(b, c))
    };
    let mut bent: SmallVec<[P2; 16]> = SmallVec::new();
    for (k, &p) in line.iter().enumerate() {
        let on = match (bent.last(), line.get(k + 1)) {
            (Some(&before), Some(&after)) => {
                let (cross, dot, ..) = half(before, p, after);
                dot > 0.0 && cross < straight * dot
            }
            _ => false,
        };
        if !on {
            bent.push(p);
        }
    }
    bent.windows(3).any(|w| {
        let (cross, dot, before, after) = half(w[0], w[1], w[2]);
        let open = before * after + dot;
        // It turns right back; or 0.5 leg / tan(half the turn) < radius.
        (dot < 0.0 && open < 1e-9 * before * after)
            || 0.5 * before.min(after) * open < radius * cross
    })
}

/// A turn of less is none.
const STRAIGHT: f64 = 1e-4;

/// What a machine asks of a ramp, m and m per m.
#[derive(Clone, Copy)]
pub struct Asked {
    /// From wheel to wheel.
    pub gauge: f64,
    pub radius: f64,
    /// In its tracks as built: what is steeper has no figures.
    pub steepest: f64,
}

pub fn figures(
    name: &str,
    course: &Course,
    like: &Ramp,
    asked: Asked,
    yard: &Yard,
    ground: &Mosaic,
) -> Option<RampFigures> {
    let Asked { gauge, radius, .. } = asked;
    let built = build(course, like, yard, ground)?;
    let plan: Vec<P2> = course.line.iter().map(|p| [p[0], p[1]]).collect();
    let in_tracks = track_gradient(&plan, gauge, &built.ground, asked.steepest)?;
    let mut f = RampFigures {
        name: name.into(),
        width_m: like.width,
        gradient_allowed: like.gradient,
        compacted_m3: built.placed,
        cut_bank_m3: built.dug,
        crown_over_m: f64::NEG_INFINITY,
        radius_needed_m: radius,
        ..RampFigures::default()
    };
    f.bend_radius_m = bend_radius(&plan);
    for (w, &bare) in course.line.windows(2).zip(&course.bare) {
        let (a, b) = ([w[0][0], w[0][1]], [w[1][0], w[1][1]]);
        let length = dist(a, b);
        if length < 1e-9 {
            continue;
        }
        f.length_m += length;
        if bare {
            f.on_ground_m += length;
        }
        let rise = if bare {
            let [a, b] = [a, b].map(|p| ground.elevation(p));
            a.zip(b).map_or(0.0, |(a, b)| b - a)
        } else {
            w[1][2] - w[0][2]
        };
        f.gradient_max = f.gradient_max.max(rise.abs() / length);
        if bare || like.cut {
            continue;
        }
        let across = [-(b[1] - a[1]) / length, (b[0] - a[0]) / length];
        let steps = (length / STEP).ceil() as usize;
        for s in 0..=steps {
            let t = s as f64 / steps as f64;
            let top = w[0][2] + t * (w[1][2] - w[0][2]);
            let over = |off: f64| {
                let p = [
                    a[0] + t * (b[0] - a[0]) + off * across[0],
                    a[1] + t * (b[1] - a[1]) + off * across[1],
                ];
                ground.elevation(p).map(|z| z - top)
            };
            // Where it dives into the ground, that carries the wheels.
            let under = |side: f64| over(side * gauge).is_some_and(|o| o > 0.0);
            if course.fades && (under(-0.5) || under(0.5)) {
                continue;
            }
            for side in [-0.5, -0.25, 0.0, 0.25, 0.5] {
                if let Some(over) = over(side * like.width) {
                    f.crown_over_m = f.crown_over_m.max(over);
                }
            }
        }
    }
    f.track_gradient_max = in_tracks;
    if !f.crown_over_m.is_finite() {
        f.crown_over_m = 0.0;
    }
    f.on_ground = course.bare.clone();
    let [ox, oy] = yard.origin;
    f.line = course
        .line
        .iter()
        .map(|p| [p[0] + ox, p[1] + oy, p[2]])
        .collect();
    Some(f)
}
