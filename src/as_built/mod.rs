//! As-built shots against the design of their stage: still to dig, over-dug, volumes, differences.
//!
//! The design is the plan of the job as it stands after the visit's stage; its trenches are left
//! open if they stood open. Of it the ground is laid out that the shots are held against, which takes
//! near as long as a plan, so this is computed when it is asked for; only the levels of the visits are
//! looked at in every plan. Metres.

mod done;
mod ground;
mod levels;
mod map;

use std::borrow::Cow;

use rayon::prelude::*;

use crate::design::Track;
use crate::findings::{About, Finding, Severity};
use crate::job::{Against, AsBuilt, Job, Tolerances, Unit, Visit, Walls};
use crate::measure;
use crate::plan::{Built, DifferenceMap, Kind, MadeBy, Plan, Shot, Trust, Verdict};
use crate::planning::{self, LastStage};
use crate::survey::{Reduced, Spot};
use crate::terrain::{Probe, Span};
use crate::units::{FOOT, format_length};
use levels::Levelled;

/// The ground is looked at so far round the shots, metres.
const NEAR: f64 = 0.01;
/// A shot this near to a whole foot or decimetre off may be a misread rod.
const NEARLY: f64 = 0.015;

/// Every visit of the job.
pub fn of(job: &Job, plan: &Plan) -> Vec<Built> {
    let visits = job.as_built.visits.par_iter();
    visits
        .map(|visit| {
            let mut built = built(job, plan, visit);
            built.findings = Finding::all_about(built.findings, About::AsBuilt);
            built
        })
        .collect()
}

/// What is wrong with the levels of the visits: cheap, and part of every plan.
pub fn findings(job: &Job, plan: &Plan) -> Vec<Finding> {
    job.as_built
        .visits
        .iter()
        .flat_map(|visit| levels::reduce(job, plan, visit).findings)
        .collect()
}

/// The level notes of a visit, reduced; elevations in metres.
pub fn levels(job: &Job, plan: &Plan, visit: &Visit) -> Reduced {
    levels::reduce(job, plan, visit).reduced
}

fn built(job: &Job, plan: &Plan, visit: &Visit) -> Built {
    let Levelled {
        reduced,
        book,
        trust,
        findings,
    } = levels::reduce(job, plan, visit);
    let mut out = Built {
        stage: visit.stage.clone().unwrap_or_default(),
        date: visit.date.clone(),
        against: visit.against,
        walls: visit.walls,
        trust,
        misclosure: reduced.misclosure,
        allowed: reduced.allowed,
        shots: Vec::new(),
        later: false,
        volumes: None,
        map: DifferenceMap::default(),
        findings,
    };
    if matches!(trust, Trust::DoesNotClose | Trust::Nothing) {
        return out;
    }
    let Some((staged, done)) = until(job, visit) else {
        out.findings.push(Finding::new(
            Severity::Error,
            place(visit),
            "is of a stage that the sequence does not have",
            "use the name of a stage of `sequence`",
        ));
        return out;
    };
    let builds = |works: &[String]| {
        let walls = &job.design.walls;
        works.iter().any(|w| walls.iter().any(|f| f.name == *w))
    };
    let all = measure::stages::stages(job);
    let its = all.iter().find(|s| Some(&s.name) == visit.stage.as_ref());
    if visit.walls != Walls::Built && !its.is_some_and(|s| builds(&s.works)) {
        out.findings.push(Finding::new(
            Severity::Error,
            place(visit),
            "tells how far its walls are, but its stage builds none",
            "give the stage that builds the wall, or leave `walls` out",
        ));
        return out;
    }
    let track = match visit.against {
        Against::Dug => Track::Dug,
        Against::Finished => Track::Finished,
    };
    let mut found = Vec::new();
    let from = match visit.stage {
        Some(_) => done - 1,
        None => 0,
    };
    out.later = from > 0;
    // Only the ground near the shots matters.
    let near = Span::of(reduced.spots.iter().map(|s| [s.x, s.y])).grown(NEAR);
    let on_survey = on_survey(&reduced, plan, near);
    let (last, shot) = rayon::join(
        || planning::last_stage(&staged, plan, [from, done], visit.walls, track, &near),
        || ground::of(&on_survey, &book, visit, job.unit, &mut found),
    );
    let Some(last) = last.filter(|_| !plan.existing.triangles.is_empty()) else {
        out.findings.push(Finding::new(
            Severity::Error,
            place(visit),
            "has no designed ground to be held against",
            "mend the errors of the plan first",
        ));
        return out;
    };
    let LastStage {
        before,
        undisturbed,
        after: design,
        makers,
    } = &last;
    let as_built = &job.as_built;
    let held_against_it = || -> Vec<Shot> {
        let grounds = Grounds {
            surveyed: Probe::within(&plan.existing, near),
            before: Probe::new(before),
            design: Probe::new(design),
        };
        let spots = reduced.spots.iter();
        spots
            .map(|spot| held(spot, &grounds, makers, as_built, job.unit))
            .collect()
    };
    let between = || {
        let shot = shot.as_ref()?;
        let grounds = done::Grounds {
            surveyed: (from > 0).then_some(&plan.existing),
            before,
            undisturbed,
            design,
        };
        let (so_far, (depths, left)) = rayon::join(
            || done::SoFar::of(&grounds, shot),
            || measure::depths_and_volumes(design, shot),
        );
        let map = map::of(design, &depths, makers, &as_built.tolerances);
        let volumes = so_far.volumes(&left);
        (volumes.area_m2 > 0.0).then_some((volumes, map))
    };
    let (shots, between) = rayon::join(held_against_it, between);
    out.shots = shots;
    tell(&mut out, job.unit, visit);
    out.findings.extend(found);
    if let Some((volumes, map)) = between {
        (out.volumes, out.map) = (Some(volumes), map);
    }
    out
}

/// The shots of a visit, those beside the surveyed ground as no ground: what lies between one of them and the
/// others nobody has seen.
fn on_survey<'a>(reduced: &'a Reduced, plan: &Plan, near: Span) -> Cow<'a, Reduced> {
    let probe = Probe::within(&plan.dug, near);
    let beside = |s: &Spot| s.ground && probe.sound([s.x, s.y]).is_none();
    let mut reduced = Cow::Borrowed(reduced);
    if reduced.spots.iter().any(beside) {
        for spot in &mut reduced.to_mut().spots {
            spot.ground &= !beside(spot);
        }
    }
    reduced
}

fn place(visit: &Visit) -> String {
    match &visit.stage {
        Some(stage) => format!("as-built, stage {stage}"),
        None => "as-built, all stages".into(),
    }
}

/// The plan of the job as it stands after the visit's stage: its ground is what the shots are held
/// against. `None`: there is no such stage.
pub fn staged(job: &Job, visit: &Visit) -> Option<Plan> {
    let (job, done) = until(job, visit)?;
    Some(Plan::works_with_walls(&job, done, visit.walls))
}

/// The job as it stands after the visit's stage, and how many stages that is.
fn until<'a>(job: &'a Job, visit: &Visit) -> Option<(Cow<'a, Job>, usize)> {
    let stages = measure::stages::stages(job);
    let done = match &visit.stage {
        Some(name) => stages.iter().position(|s| s.name == *name)? + 1,
        None => stages.len(),
    };
    let mut job = Cow::Borrowed(job);
    if let Some(last) = stages[..done].last()
        && visit.trenches_open
        && visit.stage.is_some()
    {
        for trench in &mut job.to_mut().design.trenches {
            if last.works.contains(&trench.name) {
                trench.refill = false;
            }
        }
    }
    Some((job, done))
}

fn tolerance(t: &Tolerances, kind: Kind, part: &str) -> f64 {
    match (kind, part) {
        (Kind::Wall | Kind::StandingWall, "cap") => t.cap,
        (Kind::Cascade, "lip") => t.lip,
        (Kind::Pad, "top") => t.pad,
        (Kind::Trench, "floor") | (Kind::Wall, "trench") => t.invert,
        (Kind::Wall, "base course") => t.base,
        _ => t.earth,
    }
}

/// How far something may stand off the designed face under it, measured square to that face (what is plumb
/// over the length of a metre's run along it): for shots and for the ground between them alike.
fn allowed(by: Option<&MadeBy>, tolerances: &Tolerances) -> f64 {
    let (kind, part) = by.map_or((Kind::Ground, ""), |m| (m.kind, m.part.as_str()));
    tolerance(tolerances, kind, part)
}

/// What shots are held against.
struct Grounds<'a> {
    surveyed: Probe<'a>,
    /// As the stages before leave it.
    before: Probe<'a>,
    design: Probe<'a>,
}

/// One shot against the design at its place.
fn held(spot: &Spot, grounds: &Grounds, makers: &[MadeBy], as_built: &AsBuilt, unit: Unit) -> Shot {
    let at = [spot.x, spot.y];
    let there = grounds.design.sound(at);
    let before = grounds.before.sound(at).map(|s| s.elevation);
    let by = there.and_then(|s| makers.get(s.made_by as usize));
    let (thing, kind, part) = by.map_or((String::new(), Kind::Ground, String::new()), |m| {
        (m.name.clone(), m.kind, m.part.clone())
    });
    let over = there.map(|s| spot.z - s.elevation);
    let longer = there.map_or(0.0, |s| s.slope).hypot(1.0);
    let square = over.map(|over| over / longer);
    let tolerance = allowed(by, &as_built.tolerances);
    let structure = matches!(
        (kind, part.as_str()),
        (Kind::Wall | Kind::StandingWall, "cap")
            | (Kind::Wall, "base course")
            | (Kind::Cascade, "lip")
    );
    let verdict = match (there, square) {
        (Some(s), Some(square)) => {
            let cut = before.is_some_and(|z| z > s.elevation + 1e-6);
            if is_right(square, tolerance) {
                Verdict::Right
            } else if structure {
                if square > 0.0 {
                    Verdict::TooHigh
                } else {
                    Verdict::TooLow
                }
            } else {
                match (square > 0.0, cut) {
                    (true, true) => Verdict::ToDig,
                    (true, false) => Verdict::TooHigh,
                    (false, true) => Verdict::OverDug,
                    (false, false) => Verdict::ToFill,
                }
            }
        }
        _ => Verdict::Outside,
    };
    let step = match unit {
        Unit::Foot => FOOT,
        Unit::Metre => 0.1,
    };
    let slip = verdict != Verdict::Right
        && over.is_some_and(|o| {
            let n = (o / step).round();
            n != 0.0 && (o - n * step).abs() < NEARLY
        });
    Shot {
        name: spot.name.clone(),
        at,
        elevation: spot.z,
        existing: grounds.surveyed.sound(at).map(|s| s.elevation),
        design: there.map(|s| s.elevation),
        thing,
        kind,
        part,
        over,
        square,
        tolerance,
        verdict,
        slip,
    }
}

/// What rounds to the tolerance keeps it.
pub fn is_right(square: f64, tolerance: f64) -> bool {
    square.abs() <= tolerance + 1e-6
}

/// The findings of a visit's shots: one for each verdict that is not right.
fn tell(out: &mut Built, unit: Unit, visit: &Visit) {
    for (verdict, severity, remedy) in [
        (
            Verdict::OverDug,
            Severity::Warning,
            "fill back in thin layers and compact them, or move the design; loose fill under water settles",
        ),
        (
            Verdict::ToDig,
            Severity::Note,
            "dig on, and shoot these again",
        ),
        (
            Verdict::ToFill,
            Severity::Note,
            "place and compact more, and shoot these again",
        ),
        (
            Verdict::TooHigh,
            Severity::Warning,
            "take it down to its elevation",
        ),
        (
            Verdict::TooLow,
            Severity::Warning,
            "raise it to its elevation",
        ),
        (
            Verdict::Outside,
            Severity::Warning,
            "check their places: nothing is designed or surveyed there",
        ),
    ] {
        let remedy = if verdict == Verdict::OverDug && visit.against == Against::Finished {
            "lay lining and stone if they are still to come, or hold these shots against the dug ground; else fill back in thin layers and compact them"
        } else {
            remedy
        };
        let list: Vec<&Shot> = out.shots.iter().filter(|s| s.verdict == verdict).collect();
        let off = |s: &Shot| s.over.unwrap_or(0.0).abs();
        let Some(worst) = list.iter().max_by(|a, b| off(a).total_cmp(&off(b))) else {
            continue;
        };
        let named: Vec<&str> = list.iter().take(8).map(|s| s.name.as_str()).collect();
        let more = if list.len() > named.len() {
            ", …"
        } else {
            ""
        };
        let most = if verdict == Verdict::Outside {
            String::new()
        } else {
            format!(
                ", at most {} at {}{}",
                format_length(off(worst), unit),
                worst.name,
                match (worst.slip, unit) {
                    (false, _) => "",
                    (true, Unit::Foot) => " (nearly whole feet: read that rod again)",
                    (true, Unit::Metre) => " (nearly whole decimetres: read that rod again)",
                }
            )
        };
        let what = format!(
            "{} of {} shots {}: {}{more}{most}",
            list.len(),
            out.shots.len(),
            verdict.words(),
            named.join(", ")
        );
        let [x, y] = worst.at;
        let finding = Finding::new(severity, place(visit), what, remedy).at(x, y, worst.elevation);
        out.findings.push(finding);
    }
}
