//! Piles on ground that works have changed by the time: which works, and the edges of what they dug.
//! Metres.

use super::piles::{DUG, SETBACK, apart_of};
use crate::job::Job;
use crate::plan::{Kind, Plan, SetOut, Station};
use crate::terrain::convex::{area2, shared};
use crate::terrain::line::dist;
use crate::terrain::predicates::P2;
use crate::terrain::{Plane, Probe, Span, Surface};

/// A pile that covers less of a work (m²) does not stand on it.
const TOUCH: f64 = 1e-3;
/// Ground that falls away more gently than this is no edge.
const EDGE: f64 = 1.0 / 3.0;
/// Along each side of a triangle it is looked at so often.
const PLACES: usize = 8;

/// The work that made a triangle, if one did.
fn work<'a>(plan: &'a Plan, surface: &Surface, triangle: usize) -> Option<&'a str> {
    let maker = surface.made_by.get(triangle)?;
    let by = plan.makers.get(usize::from(*maker))?;
    let ground = matches!(by.kind, Kind::Ground | Kind::StandingWall);
    (!ground).then_some(by.name.as_str())
}

fn flat(surface: &Surface, triangle: usize) -> [P2; 3] {
    surface.corners(triangle).map(|p| [p[0], p[1]])
}

/// Works that left triangles of a surface under a pile, each once.
pub fn works_under(plan: &Plan, surface: &Surface, foot: &[[P2; 3]]) -> Vec<String> {
    let spans: Vec<Span> = foot.iter().map(|t| Span::of(*t)).collect();
    let whole = Span::of(foot.iter().flatten().copied());
    let mut names: Vec<String> = Vec::new();
    for t in 0..surface.triangles.len() {
        let Some(name) = work(plan, surface, t) else {
            continue;
        };
        let triangle = flat(surface, t);
        let span = Span::of(triangle);
        if !whole.meets(&span) || names.iter().any(|n| n == name) {
            continue;
        }
        let covers = |(f, s): (&[P2; 3], &Span)| {
            s.meets(&span) && 0.5 * area2(&shared(f, &triangle)) > TOUCH
        };
        if foot.iter().zip(&spans).any(covers) {
            names.push(name.into());
        }
    }
    names
}

/// Whether a pile may lie where a work is done at some time: one that stays, or one that is taken back.
pub fn near_works(job: &Job, plan: &Plan, foot: &[[P2; 3]]) -> bool {
    if !works_under(plan, &plan.dug, foot).is_empty() {
        return true;
    }
    let mut taken = job.sequence.iter().flat_map(|s| &s.take_back);
    taken.any(|name| {
        let ramp = job.design.ramps.iter().find(|r| r.name == *name);
        // Side slopes of other works are taken to be no flatter than 1 in 3.
        let batter = ramp.map_or(3.0, |r| r.batter);
        let lines: Vec<&SetOut> = plan.set_out.iter().filter(|l| l.work == *name).collect();
        let high = |s: &Station| {
            let to = s.dig.or(s.finish).zip(s.existing);
            to.map_or(0.0, |(z, ground)| (z - ground).abs())
        };
        let meets = |line: &[P2], closed: bool, reach: f64| {
            let span = Span::of(line.iter().copied()).grown(reach);
            let mut its = foot.iter().filter(|t| span.meets(&Span::of(**t)));
            its.any(|t| apart_of(t, line, closed) <= reach + 1e-6)
        };
        // What lies inside its lines: two edges of a ramp are one ring.
        let ring: Vec<P2> = if ramp.is_some() && lines.len() == 2 {
            let at = |l: &SetOut| l.stations.iter().map(|s| s.at).collect::<Vec<P2>>();
            at(lines[0])
                .into_iter()
                .chain(at(lines[1]).into_iter().rev())
                .collect()
        } else {
            Vec::new()
        };
        // The edges of one that lies over itself come in bits: its legs, one by one.
        let leg = |w: &[P2]| {
            let (d, half) = (
                dist(w[0], w[1]).max(1e-9),
                ramp.map_or(0.0, |r| 0.5 * r.width),
            );
            let across = [
                half * (w[1][1] - w[0][1]) / d,
                half * (w[0][0] - w[1][0]) / d,
            ];
            let beside = |p: P2, side: f64| [0, 1].map(|i| p[i] + side * across[i]);
            let [a, b] = [w[0], w[1]];
            meets(
                &[
                    beside(a, 1.0),
                    beside(b, 1.0),
                    beside(b, -1.0),
                    beside(a, -1.0),
                ],
                true,
                0.0,
            )
        };
        let line = ramp.and_then(|r| plan.survey.line(&r.line, &job.field_book).ok());
        if !ring.is_empty() && meets(&ring, true, 0.0)
            || line.is_some_and(|line| line.windows(2).any(leg))
        {
            return true;
        }
        lines.iter().any(|l| {
            let all: Vec<P2> = l.stations.iter().map(|s| s.at).collect();
            (l.closed && meets(&all, true, 0.0))
                || l.stations.windows(2).any(|w| {
                    let reach = batter * high(&w[0]).max(high(&w[1]));
                    meets(&[w[0].at, w[1].at], false, reach)
                })
        })
    })
}

/// Works on a surface whose ground falls away beside a pile that stands on it, within the setback, each
/// with the least distance.
pub fn edges<'a>(plan: &'a Plan, surface: &Surface, foot: &[[P2; 3]]) -> Vec<(&'a str, f64)> {
    let near = Span::of(foot.iter().flatten().copied()).grown(SETBACK);
    let probe = Probe::within(surface, near);
    let ground: Vec<(P2, f64)> = foot
        .iter()
        .flatten()
        .filter_map(|&p| Some((p, probe.sound(p)?.elevation)))
        .collect();
    let mut list: Vec<(&str, f64)> = Vec::new();
    for t in 0..surface.triangles.len() {
        let Some(name) = work(plan, surface, t) else {
            continue;
        };
        let triangle = flat(surface, t);
        if !near.meets(&Span::of(triangle)) {
            continue;
        }
        let [a, b, c] = surface.corners(t);
        let plane = Plane::through(a, b, c);
        let n = PLACES;
        let places = (0..=n).flat_map(|i| (0..=n - i).map(move |j| (i, j)));
        let falls = places
            .map(|(i, j)| {
                let [a, b, c] = triangle;
                let (u, v) = (i as f64 / n as f64, j as f64 / n as f64);
                [0, 1].map(|k| a[k] + u * (b[k] - a[k]) + v * (c[k] - a[k]))
            })
            .filter(|p| near.holds(*p))
            .any(|p| {
                let stands = ground.iter().map(|(q, z)| (dist(p, *q), z));
                let nearest = stands.min_by(|x, y| x.0.total_cmp(&y.0));
                nearest.is_some_and(|(run, z)| {
                    let drop = z - plane.at(p);
                    run < SETBACK && drop > DUG && drop > EDGE * run
                })
            });
        if falls {
            let to = |t: &[P2; 3]| apart_of(t, &triangle, true);
            let distance = foot.iter().map(to).fold(f64::INFINITY, f64::min);
            match list.iter_mut().find(|n| n.0 == name) {
                Some(known) => known.1 = known.1.min(distance),
                None => list.push((name, distance)),
            }
        }
    }
    list
}
