//! The piles that a job gives a place: their size over time, and what is in their way. Metres.

use rayon::prelude::*;

use super::heap::{Crest, Heap, heaps};
use crate::findings::{Finding, Severity};
use crate::job::{Job, Pile, Side};
use crate::plan::{Kind, MarkKind, PileStage, PileState, Plan};
use crate::terrain::predicates::{P2, from_line, in_ring, proper_crossing};
use crate::terrain::{Probe, Span};
use crate::units;

/// 29 CFR 1926.651(j)(2): spoil at least 2 ft back from the edge of an excavation.
pub const SETBACK: f64 = 2.0 * 0.3048;
/// Ground this much lower than it was is an excavation (4 in; below it nothing falls in on anyone).
const DUG: f64 = 4.0 * 0.0254;
/// A pile this small (m³ loose, a barrow) is not worth a place.
const WORTH: f64 = 0.1;

/// The piles of a plan whose ledger is known, and what is wrong with their places.
pub fn of(job: &Job, plan: &Plan) -> (Vec<PileState>, Vec<Finding>) {
    let piles = job.design.piles.par_iter().enumerate();
    let made: Vec<_> = piles.map(|(k, pile)| one(job, plan, k, pile)).collect();
    let (states, found): (Vec<_>, Vec<_>) = made.into_iter().unzip();
    (
        states.into_iter().flatten().collect(),
        found.into_iter().flatten().collect(),
    )
}

fn one(job: &Job, plan: &Plan, k: usize, pile: &Pile) -> (Option<PileState>, Vec<Finding>) {
    let finding = |what: String, remedy: &str| {
        vec![Finding::new(
            Severity::Warning,
            format!("pile {}", pile.name),
            what,
            remedy,
        )]
    };
    if job.design.piles[..k].iter().any(|p| p.of == pile.of) {
        let what = format!(
            "is a second pile of {}: all of it goes on the first",
            pile.of.word()
        );
        return (None, finding(what, "give each kind of soil one pile"));
    }
    let crest = match crest(job, plan, pile) {
        Ok(crest) => crest,
        Err(why) => {
            let remedy = "use the name of a placed shot or peg, or give its place";
            return (None, finding(format!("is left out: {why}"), remedy));
        }
    };
    match state(plan, pile, &crest) {
        Ok(Some((state, heap))) => {
            let found = in_the_way(job, plan, &pile.name, state.loose_m3, &heap);
            (Some(state), found)
        }
        Ok(None) => (None, Vec::new()),
        Err(()) => (
            None,
            finding(
                "does not lie: there is no ground, or the ground is as steep as the soil's angle of repose".into(),
                "put it on flatter, surveyed ground",
            ),
        ),
    }
}

fn crest(job: &Job, plan: &Plan, pile: &Pile) -> Result<Crest, String> {
    let at = |k: usize| plan.survey.locate(&pile.along[k], &job.field_book);
    if pile.along.is_empty() {
        return Err("it has no place".into());
    }
    let a = at(0)?;
    if pile.along.len() < 2 {
        return Ok(Crest::Cone(a));
    }
    let b = at(1)?;
    if (a[0] - b[0]).hypot(a[1] - b[1]) < 1e-3 {
        return Err("its two points are one".into());
    }
    Ok(match pile.against {
        None => Crest::Ridge(a, b),
        Some(Side::Left) => Crest::Against(a, b),
        Some(Side::Right) => Crest::Against(b, a),
    })
}

fn state(plan: &Plan, pile: &Pile, crest: &Crest) -> Result<Option<(PileState, Heap)>, ()> {
    let repose = plan
        .ledger
        .soils
        .iter()
        .find(|s| s.kind == pile.of)
        .map_or(35.0, |s| s.repose_deg);
    let stages = &plan.ledger.stages;
    let loose: Vec<f64> = stages
        .iter()
        .map(|stage| {
            let here = stage.lying.iter().filter(|l| l.place == pile.name);
            here.map(|l| l.volume_m3).sum()
        })
        .collect();
    if loose.iter().all(|&v| v <= 0.0) {
        return Ok(None);
    }
    let heaps = heaps(&plan.existing, crest, repose, &loose).ok_or(())?;
    let mut over_time = Vec::new();
    let mut largest: Option<(String, f64, Heap)> = None;
    for ((stage, loose), heap) in stages.iter().zip(loose).zip(heaps) {
        over_time.push(PileStage {
            stage: stage.name.clone(),
            loose_m3: loose,
            height_m: heap.height,
            mesh: heap.mesh.clone(),
        });
        if largest.as_ref().is_none_or(|l| loose > l.1) {
            largest = Some((stage.name.clone(), loose, heap));
        }
    }
    Ok(largest.map(|(stage, loose, heap)| {
        (
            PileState {
                name: pile.name.clone(),
                soil: pile.of,
                stage,
                loose_m3: loose,
                crest_m: heap.crest,
                height_m: heap.height,
                area_m2: heap.area,
                over_time,
            },
            heap,
        )
    }))
}

/// What is wrong with a heap of so much loose soil lying there.
pub(super) fn in_the_way(
    job: &Job,
    plan: &Plan,
    name: &str,
    loose: f64,
    heap: &Heap,
) -> Vec<Finding> {
    let mut found = Vec::new();
    if loose < WORTH {
        return found;
    }
    let unit = |v: f64| units::format_length(v, job.unit);
    let place = format!("pile {name}");
    let mut add = |severity, what: String, remedy: &str| {
        found.push(Finding::new(severity, place.clone(), what, remedy));
    };
    let foot: Vec<[P2; 3]> = heap.mesh.iter().map(|t| t.map(|p| [p[0], p[1]])).collect();
    let spans: Vec<Span> = foot.iter().map(|t| Span::of(*t)).collect();
    let whole = Span::of(foot.iter().flatten().copied());
    // Distance from the pile, where it is less than `within`.
    let clear = |ring: &[P2], closed: bool, within: f64| {
        let span = Span::of(ring.iter().copied()).grown(within);
        if !whole.meets(&span) {
            return f64::INFINITY;
        }
        foot.iter()
            .zip(&spans)
            .filter(|(_, s)| s.meets(&span))
            .map(|(t, _)| apart_of(t, ring, closed))
            .fold(f64::INFINITY, f64::min)
    };
    if heap.beyond {
        add(
            Severity::Warning,
            format!(
                "runs off the surveyed ground at its largest ({} loose)",
                units::format_volume(loose, job.unit)
            ),
            "its size is only that of the part on known ground: move it in, or shoot the ground there",
        );
    }
    // Every hole that is there at some time: what stays open, and trenches filled again.
    let mut beside: Vec<(&str, f64, [[f64; 3]; 3])> = Vec::new();
    for t in 0..plan.dug.triangles.len() {
        let Some(by) = plan
            .dug
            .made_by
            .get(t)
            .and_then(|&m| plan.makers.get(usize::from(m)))
        else {
            continue;
        };
        if matches!(by.kind, Kind::Ground | Kind::StandingWall) {
            continue;
        }
        let c = plan.dug.corners(t);
        let distance = clear(&c.map(|p| [p[0], p[1]]), true, SETBACK);
        if distance < SETBACK - 1e-6 {
            beside.push((&by.name, distance, c));
        }
    }
    let corners = beside.iter().flat_map(|b| b.2);
    let ground = Probe::within(&plan.existing, Span::of(corners.map(|p| [p[0], p[1]])));
    let deep = |p: &[f64; 3]| {
        let was = ground.sound([p[0], p[1]]);
        was.is_some_and(|s| s.elevation - p[2] > DUG)
    };
    let mut near: Vec<(&str, f64)> = Vec::new();
    for (name, distance, _) in beside.iter().filter(|b| b.2.iter().any(deep)) {
        match near.iter_mut().find(|n| n.0 == *name) {
            Some(n) => n.1 = n.1.min(*distance),
            None => near.push((name, *distance)),
        }
    }
    for trench in &job.design.trenches {
        let line = plan.survey.line(&trench.line, &job.field_book);
        let line = line.unwrap_or_default();
        let half = 0.5 * trench.width + trench.batter * trench.depth;
        let distance = (clear(&line, false, SETBACK + half) - half).max(0.0);
        if distance < SETBACK - 1e-6 && !near.iter().any(|n| n.0 == trench.name) {
            near.push((&trench.name, distance));
        }
    }
    for (name, distance) in near {
        let what = if distance < 1e-6 {
            format!("lies on the dig of {name}")
        } else {
            format!(
                "lies {} from the edge of {name}; {} are wanted",
                unit(distance),
                unit(SETBACK)
            )
        };
        add(
            Severity::Caution,
            what,
            "keep spoil at least 2 ft back from the edge of a dig (29 CFR 1926.651(j)(2)), further as local code or a competent person says",
        );
    }
    for mark in &plan.marks {
        let within = match mark.kind {
            MarkKind::Service => job
                .site
                .services
                .iter()
                .find(|s| s.name == mark.name)
                .map_or(0.6, |s| s.tolerance),
            _ => 0.0,
        };
        let meets = clear(&mark.line, mark.closed, within) <= within + 1e-9;
        match mark.kind {
            MarkKind::KeepOut if meets => add(
                Severity::Warning,
                format!("lies on the keep-out {}", mark.name),
                "move it: weight and soil kill roots as digging does",
            ),
            MarkKind::Service if meets => add(
                Severity::Caution,
                format!("lies over the service {}", mark.name),
                "move it: it hides the marks and loads the pipe, and nobody can get at it; ask the service's owner",
            ),
            MarkKind::House if meets => add(
                Severity::Warning,
                format!("lies against {}", mark.name),
                "move it: wet soil against a building lets the water in",
            ),
            MarkKind::Paving if meets => add(
                Severity::Note,
                format!("lies on the paving {}", mark.name),
                "lay sheets and boards under it",
            ),
            _ => {}
        }
    }
    for wall in &plan.solids {
        let height = wall.cap - wall.base;
        let distance = clear(&wall.footprint, true, height);
        if distance < height && height > 0.3 {
            add(
                Severity::Caution,
                format!(
                    "lies {} from {}, which stands {} high: it loads the wall",
                    unit(distance),
                    wall.name,
                    unit(height)
                ),
                "keep it further off than the wall is high (common practice, no source), or have an engineer say what the wall takes",
            );
        }
    }
    found
}

/// Distance in plan between a triangle and a line or ring; 0 where they meet.
pub(super) fn apart_of(triangle: &[P2; 3], line: &[P2], closed: bool) -> f64 {
    if line.iter().any(|&p| in_ring(triangle, p)) || (closed && in_ring(line, triangle[0])) {
        return 0.0;
    }
    let n = line.len();
    let edges = if closed { n } else { n.saturating_sub(1) };
    let mut least = f64::INFINITY;
    for i in 0..edges {
        let (p, q) = (line[i], line[(i + 1) % n]);
        for k in 0..3 {
            let (a, b) = (triangle[k], triangle[(k + 1) % 3]);
            if proper_crossing(a, b, p, q).is_some() {
                return 0.0;
            }
            for d in [
                from_line(a, p, q),
                from_line(b, p, q),
                from_line(p, a, b),
                from_line(q, a, b),
            ] {
                least = least.min(d);
            }
        }
    }
    least
}
