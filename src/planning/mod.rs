//! How a plan comes about: survey, ground, works on both tracks, water, soil, findings.

mod base;
mod marks;
mod waters;

use std::sync::{Arc, OnceLock};

use crate::design::{Makers, Track, Yard};
use crate::earthwork::sequence::Begun;
use crate::earthwork::watch::Watch;
use crate::earthwork::{Mosaic, assemble, balance, sequence};
use crate::findings::{About, Finding, Severity};
use crate::flow::Walked;
use crate::job::{Job, Stage, Walls};
use crate::ledger::{Wanted, bare};
use crate::plan::{MadeBy, Plan, Solid, Volumes};
use crate::survey::{self, Reduced};
use crate::terrain::predicates::P2;
use crate::terrain::{Span, Surface};
use crate::{as_built, cautions, drawn, flow, guards, haul, ledger, sizes, stakes};
use base::Base;
use marks::marks;
use waters::waters;

/// The plan: the ground and its works, then all that follows from them.
pub fn plan(job: &Job) -> Plan {
    // From inside the pool each of its parts goes on at once; a thread outside is woken for each.
    rayon::scope(|_| planned(job))
}

fn planned(job: &Job) -> Plan {
    // What needs no water is looked at while the waters are still being found.
    let (mut plan, walked, dry) = walked(job, None, Walls::Built, |known, wanted| {
        let ledger = ledger::with(job, known, wanted);
        let piles = ledger::piles(job, known, &ledger);
        let shot = as_built::findings(job, known);
        (ledger, piles, shot, haul::access(job, known))
    });
    let (ledger, (piles, placed), shot, way_in) = dry;
    (plan.ledger, plan.piles) = (ledger, piles);
    let pipes = flow::set_out(job, &plan);
    plan.set_out.extend(pipes);
    let known = &plan;
    let ((flow, wet), staked) = rayon::join(
        || flow::after(job, known, walked),
        || stakes::of(job, known),
    );
    let soil = ledger::findings(job, &plan);
    plan.findings.extend(placed.into_iter().chain(soil));
    plan.findings.extend(stakes::findings(&staked, job));
    plan.findings.extend(shot.into_iter().chain(wet));
    plan.stakes = staked;
    plan.flow = flow;
    if let Some((route, findings)) = way_in {
        plan.access = Some(route);
        plan.findings.extend(findings);
    }
    sort(&mut plan.findings);
    plan
}

/// What `ask` makes of the ground as it is just before the work `name` (or, if no work is called so, of
/// the ground as surveyed), for a job with a known plan. Lays the job out again up to there: for commands,
/// not for every plan.
pub fn before<R>(
    job: &Job,
    plan: &Plan,
    name: &str,
    ask: impl FnOnce(&Mosaic, &Yard) -> R,
) -> Option<R> {
    // Laid out from the shots again: the plan's own ground has been moved in plan, which rounds.
    let base = Base::build(job, &plan.survey, &mut Vec::new())?;
    let yard = Yard {
        staked: false,
        ..yard(job, &plan.survey, Makers::of(job), &base)
    };
    let mut stages = sequence::stages_of(job, &mut Vec::new());
    match stages
        .iter()
        .position(|s| s.works.iter().any(|w| w == name))
    {
        Some(k) => {
            stages.truncate(k + 1);
            let last = &mut stages[k];
            let n = last.works.iter().position(|w| w == name).unwrap_or(0);
            last.works.truncate(n);
            last.take_back.clear();
        }
        None => stages.clear(),
    }
    let out = sequence::run(base.mosaic(&yard), &yard, Track::Dug, &stages, None);
    Some(ask(&out.ground, &yard))
}

/// The dug ground inside some boxes as it is when each stage ends: for each stage, by its name, one
/// surface a box. Lays the works of a known plan out again, on one track: only for what needs it.
pub fn stage_by_stage(job: &Job, plan: &Plan, boxes: &[Span]) -> Vec<(String, Vec<Surface>)> {
    let [dx, dy] = drawn::origin(&plan.survey);
    let here = |p: P2| [p[0] - dx, p[1] - dy];
    let boxes = boxes.iter().map(|s| Span {
        low: here(s.low),
        high: here(s.high),
    });
    let watch = Watch {
        boxes: boxes.collect(),
        ..Watch::default()
    };
    let out = dug_again(job, plan, watch);
    let mut kept = out.watch.kept;
    for p in kept.iter_mut().flatten().flat_map(|s| &mut s.points) {
        (p[0], p[1]) = (p[0] + dx, p[1] + dy);
    }
    let names = out.stages.into_iter().map(|s| s.name);
    names.zip(kept).collect()
}

/// A job that differs from another only in how it builds one work.
pub struct Variant<'a> {
    pub work: &'a str,
    pub job: Job,
}

/// Fill less cut, m³, between existing and dug ground of each of some variants of a job with a known plan:
/// for those who change a work to see what that moves. Lays the works out on one track, those of the stages
/// before a work once for all its variants.
pub fn moved(job: &Job, variants: &[Variant], plan: &Plan) -> Vec<f64> {
    if plan.existing.triangles.is_empty() {
        return vec![0.0; variants.len()];
    }
    let base = base_again(plan);
    let yard_of = |job| Yard {
        staked: false,
        ..yard(job, &plan.survey, Makers::of(job), &base)
    };
    let mut own = yard_of(job);
    let mut yards: Vec<Yard> = variants.iter().map(|v| yard_of(&v.job)).collect();
    // Heights that slopes run on to are those of all of them, so that stages come out alike.
    let all = || yards.iter().chain([&own]);
    let top = all().fold(f64::NEG_INFINITY, |z, y| z.max(y.top));
    let bottom = all().fold(f64::INFINITY, |z, y| z.min(y.bottom));
    for yard in yards.iter_mut().chain([&mut own]) {
        (yard.top, yard.bottom) = (top, bottom);
    }
    let stages = sequence::stages_of(job, &mut Vec::new());
    let first = |v: &Variant| {
        let its = |s: &Stage| s.works.iter().any(|w| w == v.work);
        stages.iter().position(its).unwrap_or(0)
    };
    let mut order: Vec<(usize, usize)> = variants.iter().map(first).zip(0..).collect();
    order.sort_unstable();
    let found: Vec<OnceLock<f64>> = variants.iter().map(|_| OnceLock::new()).collect();
    rayon::scope(|scope| {
        let mut begun = Some(Begun::on(base.mosaic(&own).with_room(), &stages, None));
        let mut done = 0;
        for (n, &(from, k)) in order.iter().enumerate() {
            if let Some(begun) = &mut begun {
                begun.go_on(&own, Track::Dug, done..from);
            }
            done = from;
            // The last of them goes on with what the others copy.
            let works = if n + 1 == order.len() {
                begun.take()
            } else {
                begun.clone()
            };
            let Some(mut works) = works else { return };
            let (yard, found, all) = (&yards[k], &found[k], stages.len());
            scope.spawn(move |_| {
                works.go_on(yard, Track::Dug, from..all);
                let (cut, fill) = works.out.ground.since_survey();
                let _ = found.set(fill - cut);
            });
        }
    });
    let found = found.into_iter();
    found.map(|f| f.into_inner().unwrap_or(0.0)).collect()
}

/// The works of a job on the ground of a known plan, on the dug track.
fn dug_again(job: &Job, plan: &Plan, watch: Watch) -> sequence::Outcome {
    let base = base_again(plan);
    let yard = yard(job, &plan.survey, Makers::of(job), &base);
    let stages = sequence::stages_of(job, &mut Vec::new());
    let ground = base.mosaic(&yard).with_room();
    sequence::run(ground, &yard, Track::Dug, &stages, Some(watch))
}

/// The ground before any work, of a known plan.
fn base_again(plan: &Plan) -> Base {
    let [dx, dy] = drawn::origin(&plan.survey);
    let mut ground = plan.existing.clone();
    for p in &mut ground.points {
        (p[0], p[1]) = (p[0] - dx, p[1] - dy);
    }
    let mut walls: Vec<Solid> = plan.solids.iter().filter(|s| !s.new).cloned().collect();
    for p in walls.iter_mut().flat_map(|w| &mut w.footprint) {
        *p = [p[0] - dx, p[1] - dy];
    }
    Base {
        ground: Arc::new(ground),
        walls,
        boundary: Vec::new(),
        closed: Vec::new(),
    }
}

/// The yard that the works are laid out in, with all heights that they can get to.
fn yard<'a>(job: &'a Job, survey: &'a Reduced, makers: Makers, base: &Base) -> Yard<'a> {
    let bounds = base.ground.bounds().unwrap_or([[0.0; 3]; 2]);
    let mut caps: rustc_hash::FxHashMap<String, f64> =
        base.walls.iter().map(|w| (w.name.clone(), w.cap)).collect();
    for wall in &job.design.walls {
        if let Ok(cap) = survey.elevation(&wall.cap) {
            caps.insert(wall.name.clone(), cap);
        }
    }
    let mut yard = Yard {
        job,
        survey,
        makers,
        origin: drawn::origin(survey),
        caps,
        top: bounds[1][2],
        bottom: bounds[0][2],
        in_hand: Vec::new(),
        walls: Walls::Built,
        staked: true,
    };
    (yard.top, yard.bottom) = heights(&yard);
    yard
}

/// Survey, ground, works on both tracks, soil and water: all that the surfaces need; of the first
/// `done` stages, if not of all; the walls of the last of them are so far.
pub fn works(job: &Job, done: Option<usize>, walls: Walls) -> Plan {
    walked(job, done, walls, |_, _| ()).0
}

/// The same with what was learned of the finished surface, and what `beside` makes of a plan that has no
/// waters and no finished surface yet, while the waters are found on that.
fn walked<R: Send>(
    job: &Job,
    done: Option<usize>,
    walls: Walls,
    beside: impl Fn(&Plan, &Wanted) -> R + Sync,
) -> (Plan, Option<Walked>, R) {
    let ((survey, findings), (base, of_base)) =
        survey::reduce_beside(&job.field_book, &job.site.breaklines, |survey| {
            let mut found = Vec::new();
            (Base::build(job, survey, &mut found), found)
        });
    let mut plan = Plan {
        survey,
        findings,
        ..Plan::default()
    };
    let makers = Makers::of(job);
    plan.makers = makers.list.clone();
    let origin = drawn::origin(&plan.survey);

    plan.findings.extend(sizes::of(job));
    let surveyed = plan.findings.len();
    plan.findings.extend(of_base);
    marks(job, &plan.survey, &mut plan.marks);
    let Some(base) = base else {
        shift_findings(&mut plan.findings[surveyed..], origin);
        let made = beside(&plan, &Wanted::default());
        return (plan, None, made);
    };
    let mut yard = yard(job, &plan.survey, makers, &base);
    let mut stages = sequence::stages_of(job, &mut plan.findings);
    stages.truncate(done.unwrap_or(usize::MAX));
    leave_off(&mut stages, walls, &mut yard);
    let for_dug = base.mosaic(&yard);
    let for_finished = for_dug.clone().with_room();
    let for_dug = for_dug.with_room();
    let (guards, watch) = guards::watch(&yard, &for_dug);
    let (dug, finished) = rayon::join(
        || {
            let mut out = sequence::run(for_dug, &yard, Track::Dug, &stages, Some(watch));
            let mut found = Vec::new();
            ledger::mark_unfit(job, &mut out.volumes, &mut found);
            let soil = balance::balance(&job.soil, &out.volumes);
            let of_works = std::mem::take(&mut out.findings);
            let known = &out;
            let (made, (moved, beyond, guarded, cautions)) = rayon::join(
                || assemble(&known.ground),
                || {
                    (
                        known.ground.since_survey(),
                        beyond_survey(&base, &yard, &known.ground),
                        guards::of(guards, &known.watch, &yard, &known.ground),
                        cautions::of_works(&yard, &base.walls, known, &soil),
                    )
                },
            );
            found.extend(beyond.into_iter().chain(of_works));
            (out, made, moved, soil, [found, guarded, cautions])
        },
        || {
            let out = sequence::run(for_finished, &yard, Track::Finished, &stages, None);
            let (made, moved) = rayon::join(|| assemble(&out.ground), || out.ground.since_survey());
            let makers = &yard.makers.list;
            let wanted = bare::wanted_on(job, &made.surface, makers, &out.waters);
            (made, moved, out.waters, wanted)
        },
    );
    let (mut dug, dug_made, (cut, fill), soil, [found, guarded, cautions]) = dug;
    let (made, (finished_cut, finished_fill), mut stills, wanted) = finished;
    let sum = |f: fn(&crate::plan::FeatureVolume) -> f64| dug.volumes.iter().map(f).sum::<f64>();
    plan.volumes = Volumes {
        cut_bank_m3: sum(|v| v.cut_bank_m3),
        fill_compacted_m3: sum(|v| v.fill_compacted_m3),
        redug_compacted_m3: sum(|v| v.redug_compacted_m3),
        existing_to_dug_cut_m3: cut,
        existing_to_dug_fill_m3: fill,
        dug_to_finished_m3: (finished_fill - finished_cut) - (fill - cut),
        by_feature: Vec::new(),
        base_courses: std::mem::take(&mut dug.courses),
        ramps: std::mem::take(&mut dug.ramps),
    };
    plan.soil = soil;
    plan.set_out = dug.set_out;
    plan.volumes.by_feature = dug.volumes;
    plan.solids = base.walls.into_iter().chain(dug.solids).collect();
    // The last of the mosaics gives the ground back without a copy.
    drop(dug.ground);
    plan.existing = Arc::unwrap_or_clone(base.ground);
    plan.dug = dug_made.surface;
    shift(&mut plan, origin);
    let known = &plan;
    let ((waters, walked, of_waters), mut dry) = rayon::join(
        || waters(job, &known.makers, &stills, &made, &base.closed),
        || beside(known, &wanted),
    );
    if waters.len() < stills.len() {
        // A basin that gets no water has no bank over it either.
        stills.retain(|s| waters.iter().any(|w| w.name == s.name));
        let wanted = bare::wanted_on(job, &made.surface, &known.makers, &stills);
        dry = beside(known, &wanted);
    }
    let wet = cautions::of_waters(job, &waters);
    for list in [found, of_waters, guarded, cautions, wet] {
        plan.findings.extend(list);
    }
    plan.water = waters;
    plan.finished = made.surface;
    plan.finished_places = made.place;
    shift_waters(&mut plan, origin);
    shift_findings(&mut plan.findings[surveyed..], origin);
    (plan, Some(walked), dry)
}

/// The last of the stages as far as its walls are so far.
fn leave_off(stages: &mut [Stage], walls: Walls, yard: &mut Yard) {
    if let Some(last) = stages.last_mut().filter(|_| walls != Walls::Built) {
        // While walls are in hand, what the stage does after them is still to be done.
        let is_wall = |w: &String| yard.job.design.walls.iter().any(|f| f.name == *w);
        let first = last.works.iter().position(is_wall);
        let mut order = 0..;
        last.works.retain(|w| order.next() < first || is_wall(w));
        last.take_back.clear();
        (yard.walls, yard.in_hand) = (walls, last.works.clone());
    }
}

/// The ground inside a box before and after the last of some stages. Its triangles share no corners.
pub struct LastStage {
    pub before: Surface,
    /// The undisturbed soil under that.
    pub undisturbed: Surface,
    pub after: Surface,
    /// Who made the triangles.
    pub makers: Vec<MadeBy>,
}

/// The ground that [`works`] would come to on one track after the first `done` stages, and what it was `from`
/// so many stages, for a job that has the survey of a known plan. `None`: there is no ground.
pub fn last_stage(
    job: &Job,
    plan: &Plan,
    [from, done]: [usize; 2],
    walls: Walls,
    track: Track,
    within: &Span,
) -> Option<LastStage> {
    let makers = Makers::of(job);
    let made_by = makers.list.clone();
    // Laid out from the shots again: the plan's own ground has been moved in plan, which rounds.
    let base = Base::build(job, &plan.survey, &mut Vec::new())?;
    let mut yard = Yard {
        staked: false,
        ..yard(job, &plan.survey, makers, &base)
    };
    let mut stages = sequence::stages_of(job, &mut Vec::new());
    stages.truncate(done);
    leave_off(&mut stages, walls, &mut yard);
    let [dx, dy] = yard.origin;
    let here = |p: P2| [p[0] - dx, p[1] - dy];
    let within = Span {
        low: here(within.low),
        high: here(within.high),
    };
    let placed = |mut surface: Surface| {
        for p in &mut surface.points {
            (p[0], p[1]) = (p[0] + dx, p[1] + dy);
        }
        surface
    };
    let mut works = Begun::on(base.mosaic(&yard).with_room(), &stages, None);
    let from = from.min(stages.len());
    works.go_on(&yard, track, 0..from);
    let before = placed(works.out.ground.around(&within));
    let undisturbed = placed(works.out.ground.undisturbed_around(&within));
    works.go_on(&yard, track, from..stages.len());
    Some(LastStage {
        before,
        undisturbed,
        after: placed(works.out.ground.around(&within)),
        makers: made_by,
    })
}

/// Highest and lowest that any surface can get, so that slopes reach that far: the ground, and
/// whatever the design places on it or digs into it.
fn heights(yard: &Yard) -> (f64, f64) {
    let d = &yard.job.design;
    let (mut top, mut bottom) = (yard.top, yard.bottom);
    let mut reach = |z: Result<f64, String>, up: f64, down: f64| {
        if let Ok(z) = z {
            top = top.max(z + up);
            bottom = bottom.min(z - down);
        }
    };
    for b in &d.basins {
        let lining: f64 = b.lining.iter().map(|l| l.thickness).sum();
        let pit = b.pits.iter().map(|p| p.depth).fold(0.0, f64::max);
        reach(
            yard.level(&b.water),
            0.0,
            b.floor_depth + pit + 2.0 * lining,
        );
        for c in d.cascades.iter().filter(|c| c.into == b.name) {
            let rise: f64 = c.pools.iter().map(|p| p.drop).sum();
            reach(yard.level(&b.water), rise + c.berm.freeboard, 0.0);
        }
    }
    d.walls
        .iter()
        .for_each(|w| reach(yard.height(&w.cap), 0.0, 0.0));
    d.pads
        .iter()
        .for_each(|p| reach(yard.height(&p.elevation), 0.0, p.build_up));
    d.ramps
        .iter()
        .flat_map(|r| &r.profile)
        .for_each(|h| reach(yard.height(h), 0.0, 0.0));
    let mut above = 0.0f64;
    for b in &d.berms {
        match &b.crest {
            crate::job::Crest::At(h) => reach(yard.height(h), 0.0, 0.0),
            crate::job::Crest::Above(by) => above = above.max(*by),
        }
    }
    let trench = d.trenches.iter().map(|t| t.depth).fold(0.0, f64::max);
    let foot = d
        .walls
        .iter()
        .map(|w| w.embedment + w.base_thickness)
        .fold(0.0, f64::max);
    (top + above, bottom - trench.max(foot))
}

/// Works that run off the surveyed ground: their volumes are not all there.
fn beyond_survey(base: &Base, yard: &Yard, ground: &Mosaic) -> Vec<Finding> {
    let mut found: Vec<(u16, P2)> = Vec::new();
    for [a, b] in &base.boundary {
        let d = [b[0] - a[0], b[1] - a[1]];
        let length = d[0].hypot(d[1]);
        if length < 1e-6 {
            continue;
        }
        let left = [-d[1] / length * 1e-3, d[0] / length * 1e-3];
        let steps = (length / 0.4).ceil().min(400.0) as usize;
        for s in 0..steps {
            let f = (s as f64 + 0.5) / steps as f64;
            let p = [a[0] + f * d[0] + left[0], a[1] + f * d[1] + left[1]];
            let Some(maker) = ground.moved_at(p) else {
                continue;
            };
            let name = &yard.makers.list[maker as usize].name;
            let known = found
                .iter()
                .any(|(m, _)| yard.makers.list[*m as usize].name == *name);
            // A standing wall's footprint is no end of the ground for soil that leans on it.
            let out = [p[0] - 2.0 * left[0], p[1] - 2.0 * left[1]];
            if !known && ground.elevation(out).is_none() {
                found.push((maker, p));
            }
        }
    }
    found
        .into_iter()
        .map(|(maker, p)| {
            let z = ground.elevation(p).unwrap_or(yard.bottom);
            Finding::new(
                Severity::Warning,
                yard.makers.list[maker as usize].name.clone(),
                "runs beyond the surveyed ground (or into a footprint); its volumes are only those inside",
                "shoot the ground further out, or draw it further in",
            )
            .about(About::of(yard.makers.list[maker as usize].kind))
            .at(p[0], p[1], z)
        })
        .collect()
}

/// Worst first; within one severity in the order found, and nothing twice.
fn sort(findings: &mut Vec<Finding>) {
    findings.sort_by_key(|f| f.severity);
    let mut seen: Vec<Finding> = Vec::with_capacity(findings.len());
    for f in findings.drain(..) {
        let twin = |s: &Finding| s.severity == f.severity && s.place == f.place && s.what == f.what;
        if seen.len() > 500 || !seen.iter().any(twin) {
            seen.push(f);
        }
    }
    *findings = seen;
}

/// Back to the job's own coordinates: all but the waters, the surface they stand on and the findings.
fn shift(plan: &mut Plan, origin: P2) {
    for surface in [&mut plan.existing, &mut plan.dug] {
        shift_surface(surface, origin);
    }
    let move_plan = |p: &mut P2| *p = [p[0] + origin[0], p[1] + origin[1]];
    plan.solids
        .iter_mut()
        .flat_map(|s| s.footprint.iter_mut())
        .for_each(move_plan);
    for v in &mut plan.volumes.by_feature {
        v.cut_at
            .iter_mut()
            .chain(&mut v.fill_at)
            .for_each(move_plan);
    }
    plan.set_out
        .iter_mut()
        .flat_map(|s| s.stations.iter_mut())
        .for_each(|s| move_plan(&mut s.at));
}

fn shift_waters(plan: &mut Plan, origin: P2) {
    shift_surface(&mut plan.finished, origin);
    let move_plan = |p: &mut P2| *p = [p[0] + origin[0], p[1] + origin[1]];
    for w in &mut plan.water {
        move_plan(&mut w.freeboard_at);
        move_plan(&mut w.spill_at);
        w.edge.iter_mut().flatten().for_each(move_plan);
        w.sheet.iter_mut().flatten().for_each(move_plan);
    }
}

/// For those that came after the survey: its own are in the job's coordinates already.
fn shift_findings(findings: &mut [Finding], [dx, dy]: P2) {
    for at in findings.iter_mut().filter_map(|f| f.at.as_mut()) {
        at[0] += dx;
        at[1] += dy;
    }
}

fn shift_surface(surface: &mut Surface, [dx, dy]: P2) {
    for p in &mut surface.points {
        p[0] += dx;
        p[1] += dy;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Works that go on from stages done for another design leave the ground that the plan has.
    #[test]
    fn stages_done_once_for_all_come_to_the_same() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let (_, job) = crate::job::Document::load(&path).unwrap_or_else(|e| panic!("{e}"));
        let plan = Plan::of(&job);
        let expected = plan.volumes.existing_to_dug_fill_m3 - plan.volumes.existing_to_dug_cut_m3;
        let own = |work| Variant {
            work,
            job: job.clone(),
        };
        let works = job.sequence.iter().flat_map(|s| &s.works);
        let variants: Vec<Variant> = works.map(|w| own(w.as_str())).collect();
        for (variant, moved) in variants.iter().zip(moved(&job, &variants, &plan)) {
            assert!(
                (moved - expected).abs() < 1e-9,
                "from {} on: {moved} m³, in the plan {expected}",
                variant.work
            );
        }
        // The room for the pond's lining is dug late: what comes before it is shared.
        let mut bare = job.clone();
        bare.design.basins[0].lining.clear();
        let bare = |work| Variant {
            work,
            job: bare.clone(),
        };
        let both = moved(&job, &[own("pond"), bare("pond")], &plan);
        let alone = moved(&job, &[bare(&job.sequence[0].works[0])], &plan)[0];
        assert!((both[1] - alone).abs() < 1e-9, "{} and {alone}", both[1]);
        assert!(
            alone > expected + 0.1,
            "{alone} m³ without lining, {expected} with"
        );
    }

    /// The ground of one track alone is that of the whole plan, and so is that before its last stage.
    #[test]
    fn one_track_alone_comes_to_the_same_ground() {
        use crate::terrain::overlay::cut_fill;
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let (_, job) = crate::job::Document::load(&path).unwrap_or_else(|e| panic!("{e}"));
        let plan = Plan::of(&job);
        let all = Span::of(plan.existing.points.iter().map(|p| [p[0], p[1]]));
        let same = |what: &str, found: &Surface, wanted: &Surface| {
            let between = cut_fill(found, wanted);
            assert!((between.area - wanted.plan_area()).abs() < 1e-6, "{what}");
            assert!(between.cut + between.fill < 1e-6, "{what}: {between:?}");
        };
        let so_far = Walls::Base;
        for (done, walls) in (0..=job.sequence.len())
            .map(|done| (done, Walls::Built))
            .chain([(2, so_far)])
        {
            let staged = works(&job, Some(done), walls);
            let from = done.saturating_sub(1);
            let earlier = works(&job, Some(from), Walls::Built);
            for (track, after, before) in [
                (Track::Dug, &staged.dug, &earlier.dug),
                (Track::Finished, &staged.finished, &earlier.finished),
            ] {
                let last = last_stage(&job, &plan, [from, done], walls, track, &all)
                    .unwrap_or_else(|| panic!("there is ground"));
                same(&format!("after {done} stages"), &last.after, after);
                same(&format!("before the last of {done}"), &last.before, before);
                assert_eq!(last.makers, staged.makers);
            }
        }
    }
}
