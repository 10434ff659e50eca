//! The piles that a job gives a place: their size over time, each on the ground as it is when a stage
//! ends, and what is in their way. Metres.

use rayon::prelude::*;

use super::heap::{Crest, Heap, heap_by_edges, heaps};
use super::standing;
use crate::findings::{About, Finding, Severity};
use crate::job::{Job, Pile, Side};
use crate::plan::{Kind, Ledger, MarkKind, PileStage, PileState, Plan};
use crate::terrain::predicates::{P2, from_line, in_ring, proper_crossing};
use crate::terrain::{Probe, Span, Surface};
use crate::units;

/// 29 CFR 1926.651(j)(2): spoil at least 2 ft back from the edge of an excavation.
pub const SETBACK: f64 = 2.0 * 0.3048;
/// Ground this much lower than it was is an excavation (4 in; below it nothing falls in on anyone).
pub const DUG: f64 = 4.0 * 0.0254;
/// A pile this small (m³ loose, a barrow) is not worth a place.
const WORTH: f64 = 0.1;

/// The piles of a plan without a ledger and of the one it will have, and what is wrong with their places.
pub fn of(job: &Job, plan: &Plan, ledger: &Ledger) -> (Vec<PileState>, Vec<Finding>) {
    let piles = job.design.piles.par_iter().enumerate();
    let mut laid: Vec<Result<Laid, Vec<Finding>>> = piles
        .map(|(k, pile)| lay(job, plan, ledger, k, pile))
        .collect();
    // Most piles lie on no work: only for others is the ground looked at stage by stage.
    let mut on_works: Vec<&mut Laid> = laid.iter_mut().flatten().filter(|l| l.near_works).collect();
    let boxes: Vec<Span> = on_works.iter().map(|l| l.room()).collect();
    if !boxes.is_empty() {
        for (name, kept) in crate::planning::stage_by_stage(job, plan, &boxes) {
            // A stage that moves no soil is none of the ledger's.
            let stage = ledger.stages.iter().position(|s| s.name == name);
            for (pile, ground) in on_works.iter_mut().zip(kept) {
                pile.stand_on(plan, stage, ground);
            }
        }
    }
    let made: Vec<_> = laid
        .into_par_iter()
        .map(|l| l.map_or_else(|found| (None, found), |l| l.settled(job, plan, ledger)))
        .collect();
    let (states, found): (Vec<_>, Vec<_>) = made.into_iter().unzip();
    (
        states.into_iter().flatten().collect(),
        found.into_iter().flatten().collect(),
    )
}

/// A pile as it lies when each stage ends.
struct Laid<'a> {
    pile: &'a Pile,
    crest: Crest,
    repose: f64,
    loose: Vec<f64>,
    heaps: Vec<Heap>,
    /// What it stands on where that is no longer the ground as surveyed.
    grounds: Vec<Option<Surface>>,
    /// The ground just before the first of it is put there, if that may be another than was surveyed.
    before: Option<Surface>,
    /// Whether, stage by stage, some of it lies there already.
    begun: bool,
    /// It may lie where a work is done at some time.
    near_works: bool,
    /// It does not lie on the ground of some stage.
    slides: bool,
}

fn finding(pile: &Pile, severity: Severity, what: String, remedy: &str) -> Finding {
    Finding::new(severity, format!("pile {}", pile.name), what, remedy).about(About::Haul)
}

fn slides(pile: &Pile) -> Vec<Finding> {
    let what =
        "does not lie: there is no ground, or the ground is as steep as the soil's angle of repose";
    let remedy = "put it on flatter, surveyed ground";
    vec![finding(pile, Severity::Warning, what.into(), remedy)]
}

/// On the ground as surveyed; an error without findings is a pile that never has anything on it.
fn lay<'a>(
    job: &Job,
    plan: &Plan,
    ledger: &Ledger,
    k: usize,
    pile: &'a Pile,
) -> Result<Laid<'a>, Vec<Finding>> {
    let refuse =
        |what: String, remedy: &str| Err(vec![finding(pile, Severity::Warning, what, remedy)]);
    if job.design.piles[..k].iter().any(|p| p.of == pile.of) {
        let what = format!(
            "is a second pile of {}: all of it goes on the first",
            pile.of.word()
        );
        return refuse(what, "give each kind of soil one pile");
    }
    let crest = match crest(job, plan, pile) {
        Ok(crest) => crest,
        Err(why) => {
            let remedy = "use the name of a placed shot or peg, or give its place";
            return refuse(format!("is left out: {why}"), remedy);
        }
    };
    let soils = &ledger.soils;
    let its = soils.iter().find(|s| s.kind == pile.of);
    let repose = its.map_or(35.0, |s| s.repose_deg);
    let loose: Vec<f64> = ledger
        .stages
        .iter()
        .map(|stage| {
            let here = stage.lying.iter().filter(|l| l.place == pile.name);
            here.map(|l| l.volume_m3).sum()
        })
        .collect();
    if loose.iter().all(|&v| v <= 0.0) {
        return Err(Vec::new());
    }
    let heaps = heaps(&plan.existing, &crest, repose, &loose).ok_or_else(|| slides(pile))?;
    let mut laid = Laid {
        pile,
        crest,
        repose,
        grounds: vec![None; loose.len()],
        before: None,
        begun: false,
        loose,
        heaps,
        near_works: false,
        slides: false,
    };
    laid.near_works = standing::near_works(job, plan, &laid.feet());
    Ok(laid)
}

impl Laid<'_> {
    /// The stage at which it is largest.
    fn largest(&self) -> usize {
        let mut best = 0;
        for (k, v) in self.loose.iter().enumerate() {
            if *v > self.loose[best] {
                best = k;
            }
        }
        best
    }

    fn feet(&self) -> Vec<[P2; 3]> {
        foot(&self.heaps[self.largest()])
    }

    /// Room enough for it, wherever the ground has come to lie.
    fn room(&self) -> Span {
        let span = Span::of(self.feet().into_iter().flatten());
        let wide = (0..2)
            .map(|k| span.high[k] - span.low[k])
            .fold(1.0, f64::max);
        span.grown(wide + SETBACK)
    }

    /// The ground around it as it is when a stage ends: where it meets a work, it lies on what that left.
    fn stand_on(&mut self, plan: &Plan, stage: Option<usize>, ground: Surface) {
        let lies = stage.filter(|&k| self.loose[k] > 0.0);
        let Some(stage) = lies else {
            if !self.begun {
                self.before = Some(ground);
            }
            return;
        };
        self.begun = true;
        if standing::works_under(plan, &ground, &foot(&self.heaps[stage])).is_empty() {
            return;
        }
        match heap_by_edges(&ground, &self.crest, self.repose, self.loose[stage]) {
            Some(heap) => self.heaps[stage] = heap,
            None => self.slides = true,
        }
        self.grounds[stage] = Some(ground);
    }

    fn settled(self, job: &Job, plan: &Plan, ledger: &Ledger) -> (Option<PileState>, Vec<Finding>) {
        if self.slides {
            return (None, slides(self.pile));
        }
        let largest = self.largest();
        let (heap, ground) = (&self.heaps[largest], self.grounds[largest].as_ref());
        let loose = self.loose[largest];
        let stands = ground.map(|now| Stands {
            now,
            before: self.before.as_ref().unwrap_or(&plan.existing),
        });
        let mut found = in_the_way(job, plan, &self.pile.name, loose, heap, stands);
        let stands_on =
            ground.map_or_else(Vec::new, |g| standing::works_under(plan, g, &foot(heap)));
        if !stands_on.is_empty() && loose >= WORTH {
            let what = format!("stands on what {} left by then", stands_on.join(" and "));
            let remedy = "have it gone before that is lined, paved or planted";
            found.push(finding(self.pile, Severity::Note, what, remedy));
        }
        let stages = &ledger.stages;
        let over_time = stages.iter().zip(&self.loose).zip(&self.heaps);
        let state = PileState {
            name: self.pile.name.clone(),
            soil: self.pile.of,
            stage: stages[largest].name.clone(),
            loose_m3: loose,
            crest_m: heap.crest,
            height_m: heap.height,
            area_m2: heap.area,
            stands_on,
            over_time: over_time
                .map(|((stage, &loose_m3), heap)| PileStage {
                    stage: stage.name.clone(),
                    loose_m3,
                    height_m: heap.height,
                    mesh: heap.mesh.clone(),
                })
                .collect(),
        };
        (Some(state), found)
    }
}

/// Its triangles in plan.
fn foot(heap: &Heap) -> Vec<[P2; 3]> {
    heap.mesh.iter().map(|t| t.map(|p| [p[0], p[1]])).collect()
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

/// The ground that a pile stands on, and as it was just before there was a pile.
#[derive(Clone, Copy)]
pub(super) struct Stands<'a> {
    now: &'a Surface,
    before: &'a Surface,
}

/// What is wrong with a heap of so much loose soil lying there; `stands`: on what, if that is no longer
/// the ground as surveyed.
pub(super) fn in_the_way(
    job: &Job,
    plan: &Plan,
    name: &str,
    loose: f64,
    heap: &Heap,
    stands: Option<Stands>,
) -> Vec<Finding> {
    let mut found = Vec::new();
    if loose < WORTH {
        return found;
    }
    let unit = |v: f64| units::format_length(v, job.unit);
    let place = format!("pile {name}");
    let setback = format!(
        "keep spoil at least {} back from the edge of a dig (29 CFR 1926.651(j)(2)), further as local code or a competent person says",
        units::of_rule(2, job.unit)
    );
    let mut add = |severity, what: String, remedy: &str| {
        found.push(Finding::new(severity, place.clone(), what, remedy).about(About::Haul));
    };
    let foot = foot(heap);
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
    let span = Span::of(corners.map(|p| [p[0], p[1]]));
    let ground = Probe::within(&plan.existing, span);
    // What was dug before there was a pile is no dig to it but the ground it stands on.
    let before = stands.map(|s| Probe::within(s.before, span));
    let deep = |p: &[f64; 3]| {
        let at = [p[0], p[1]];
        let was = before.as_ref().and_then(|b| b.sound(at));
        let was = was.or_else(|| ground.sound(at));
        was.is_some_and(|s| s.elevation - p[2] > DUG)
    };
    let mut near: Vec<(&str, f64)> = Vec::new();
    for (name, distance, _) in beside.iter().filter(|b| b.2.iter().any(deep)) {
        match near.iter_mut().find(|n| n.0 == *name) {
            Some(n) => n.1 = n.1.min(*distance),
            None => near.push((name, *distance)),
        }
    }
    // And what was dug by then beside the place it stands on.
    for (name, distance) in stands.map_or_else(Vec::new, |s| standing::edges(plan, s.now, &foot)) {
        if !near.iter().any(|n| n.0 == name) {
            near.push((name, distance));
        }
    }
    // A trench may be filled again before the pile is there, or dug when it has gone.
    let holes = near.len();
    for trench in &job.design.trenches {
        let line = plan.survey.line(&trench.line, &job.field_book);
        let line = line.unwrap_or_default();
        let half = 0.5 * trench.width + trench.batter * trench.depth;
        let distance = (clear(&line, false, SETBACK + half) - half).max(0.0);
        if distance < SETBACK - 1e-6 && !near.iter().any(|n| n.0 == trench.name) {
            near.push((&trench.name, distance));
        }
    }
    for (k, (name, distance)) in near.into_iter().enumerate() {
        let severity = if k < holes {
            Severity::Error
        } else {
            Severity::Caution
        };
        let what = if distance < 1e-6 {
            format!("lies on the dig of {name}")
        } else {
            format!(
                "lies {} from the edge of {name}; {} are wanted",
                unit(distance),
                unit(SETBACK)
            )
        };
        add(severity, what, &setback);
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
                Severity::Error,
                format!("lies on the keep-out {}", mark.name),
                "move it: weight and soil kill roots as digging does",
            ),
            MarkKind::Service if meets => add(
                Severity::Error,
                format!("lies over the service {}", mark.name),
                "move it: it hides the marks and loads the pipe, and nobody can get at it; ask the service's owner",
            ),
            MarkKind::Tree if meets => add(
                Severity::Warning,
                format!("lies on the root zone of the tree {}", mark.name),
                "move it: roots under soil and its weight get no air, and a trunk under soil rots (common practice, no source)",
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
