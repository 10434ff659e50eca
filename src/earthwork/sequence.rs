//! The works in the order of the stages, on one track: surfaces, volumes and soil on hand.
//! Metres, m³.

use std::ops::Range;

use rustc_hash::{FxHashMap, FxHashSet};

use super::watch::Watch;
use super::{Act, Mosaic, Moved};
use crate::design::basin::Upto;
use crate::design::{self, Layout, Move, Part, Still, Track, Yard};
use crate::findings::{About, Finding, Severity};
use crate::job::{Job, Stage};
use crate::plan::{BaseCourse, FeatureVolume, Kind, RampStands, SetOut, Solid, Station};

/// What the sequence came to.
#[derive(Clone)]
pub struct Outcome {
    pub ground: Mosaic,
    pub volumes: Vec<FeatureVolume>,
    /// Stone laid under walls: it is bought, not dug.
    pub courses: Vec<BaseCourse>,
    /// Soil in the ramps when each stage ends.
    pub ramps: Vec<RampStands>,
    pub waters: Vec<Still>,
    pub solids: Vec<Solid>,
    pub findings: Vec<Finding>,
    pub stages: Vec<Stage>,
    /// What is to be staked, on the dug track.
    pub set_out: Vec<SetOut>,
    /// What was seen near services, keep-outs and trees.
    pub watch: Watch,
}

/// Stages as written; features that no stage names come last, and a finding says so.
pub fn stages_of(job: &Job, findings: &mut Vec<Finding>) -> Vec<Stage> {
    let d = &job.design;
    let mut all: Vec<&str> = Vec::new();
    all.extend(d.walls.iter().map(|f| f.name.as_str()));
    all.extend(d.berms.iter().map(|f| f.name.as_str()));
    all.extend(d.ramps.iter().map(|f| f.name.as_str()));
    all.extend(d.pads.iter().map(|f| f.name.as_str()));
    all.extend(d.basins.iter().map(|f| f.name.as_str()));
    all.extend(d.cascades.iter().map(|f| f.name.as_str()));
    all.extend(d.trenches.iter().map(|f| f.name.as_str()));
    let named: FxHashSet<&str> = job
        .sequence
        .iter()
        .flat_map(|s| s.works.iter().map(String::as_str))
        .collect();
    let rest: Vec<String> = all
        .iter()
        .filter(|n| !named.contains(*n))
        .map(|n| n.to_string())
        .collect();
    let mut stages = job.sequence.clone();
    if !rest.is_empty() {
        if !job.sequence.is_empty() {
            findings.push(Finding::new(
                Severity::Warning,
                "sequence",
                format!("no stage builds {}; taken last", rest.join(", ")),
                "name each feature in the stage that builds it",
            ));
        }
        // A job without stages has one, without a name.
        let name = if job.sequence.is_empty() {
            ""
        } else {
            "works without a stage"
        };
        stages.push(Stage {
            name: name.into(),
            works: rest,
            take_back: Vec::new(),
        });
    }
    stages
}

fn lay_out(
    name: &str,
    yard: &Yard,
    ground: &Mosaic,
    track: Track,
    done: &FxHashSet<String>,
) -> Option<Result<Layout, String>> {
    let d = &yard.job.design;
    if let Some(f) = d.basins.iter().find(|f| f.name == name) {
        return Some(
            design::basin::lay_out(f, yard, track, Upto::Daylight).map(|mut layout| {
                // Where an earlier work dug deeper, lining and stone still come up to what was designed.
                if track == Track::Finished
                    && !done.is_empty()
                    && let (Some(still), Some(part)) =
                        (layout.waters.first(), layout.parts.first_mut())
                    && let Some(Move::Dig(facets)) = part.moves.first()
                {
                    let made_good = Move::MakeGood {
                        dug_to: facets.clone(),
                        water: still.level,
                    };
                    part.moves.push(made_good);
                }
                layout
            }),
        );
    }
    if let Some(f) = d.cascades.iter().find(|f| f.name == name) {
        return Some(design::cascade::lay_out(f, yard, track).map(|mut layout| {
            // Soil placed for the cascade does not stay in a basin that is dug already.
            let basin = d
                .basins
                .iter()
                .find(|b| b.name == f.into && done.contains(&b.name));
            if let (Some(basin), Some(surround)) = (basin, layout.parts.first_mut())
                && let Ok(dug) = design::basin::lay_out(basin, yard, track, Upto::Water)
            {
                let digs = dug
                    .parts
                    .into_iter()
                    .filter(|p| matches!(p.kind, Kind::Basin | Kind::Pit))
                    .flat_map(|p| p.moves);
                surround.moves.extend(digs);
            }
            layout
        }));
    }
    if let Some(f) = d.walls.iter().find(|f| f.name == name) {
        return Some(design::wall::lay_out(f, yard, ground));
    }
    if let Some(f) = d.pads.iter().find(|f| f.name == name) {
        return Some(design::pad::lay_out(f, yard, track));
    }
    if let Some(f) = d.berms.iter().find(|f| f.name == name) {
        return Some(design::strip::berm(f, yard, ground));
    }
    if let Some(f) = d.trenches.iter().find(|f| f.name == name) {
        return Some(design::strip::trench(f, yard, ground));
    }
    d.ramps
        .iter()
        .find(|f| f.name == name)
        .map(|f| design::strip::ramp(f, yard, ground))
}

/// Runs the stages on `ground`. With a `watch`, for which there is cause only on the dug track, where soil
/// is moved: what each work moves is measured, what is odd about it noticed, what the watch looks at seen.
pub fn run(
    ground: Mosaic,
    yard: &Yard,
    track: Track,
    stages: &[Stage],
    watch: Option<Watch>,
) -> Outcome {
    let mut begun = Begun::on(ground, stages, watch);
    begun.go_on(yard, track, 0..stages.len());
    begun.out
}

/// Works of which some stages are done.
#[derive(Clone)]
pub struct Begun {
    pub out: Outcome,
    watched: bool,
    /// Temporary works by name.
    works: FxHashMap<String, u32>,
    /// Ramps built so far; a temporary one with its work.
    ramps: Vec<(String, Option<u32>)>,
    done: FxHashSet<String>,
}

impl Begun {
    /// Nothing done yet of these stages; the rest as for [`run`].
    pub fn on(ground: Mosaic, stages: &[Stage], watch: Option<Watch>) -> Self {
        Begun {
            watched: watch.is_some(),
            out: Outcome {
                ground,
                volumes: Vec::new(),
                courses: Vec::new(),
                ramps: Vec::new(),
                waters: Vec::new(),
                solids: Vec::new(),
                findings: Vec::new(),
                stages: stages.to_vec(),
                set_out: Vec::new(),
                watch: watch.unwrap_or_default(),
            },
            works: FxHashMap::default(),
            ramps: Vec::new(),
            done: FxHashSet::default(),
        }
    }

    /// Does the next stages.
    pub fn go_on(&mut self, yard: &Yard, track: Track, next: Range<usize>) {
        let Begun {
            out,
            watched,
            works,
            ramps,
            done,
        } = self;
        let watched = *watched;
        let stages = out.stages.clone();
        // By the whole job: what a stage takes back is temporary also while only those before it are done.
        let taken_back: FxHashSet<&str> = (yard.job.sequence.iter())
            .flat_map(|s| s.take_back.iter().map(String::as_str))
            .filter(|name| !is_lasting(name, yard))
            .collect();
        let topsoil = yard.job.soil.topsoil_depth;
        for stage in &stages[next] {
            let mut refill: Vec<Part> = Vec::new();
            for name in &stage.works {
                let layout = match lay_out(name, yard, &out.ground, track, done) {
                    Some(Ok(layout)) => layout,
                    Some(Err(why)) => {
                        out.findings.push(
                            Finding::new(
                                Severity::Error,
                                name.clone(),
                                format!("cannot be built: {why}"),
                                "mend it in the job; every figure is without it",
                            )
                            .about(about(name, yard)),
                        );
                        continue;
                    }
                    None => {
                        out.findings.push(Finding::new(
                            Severity::Error,
                            format!("stage {}", stage.name),
                            format!("names {name}, which is not in the design"),
                            "use the name of a basin, cascade, wall, pad, berm, trench or ramp",
                        ));
                        continue;
                    }
                };
                if !done.insert(name.clone()) {
                    out.findings.push(Finding::new(
                        Severity::Warning,
                        format!("stage {}", stage.name),
                        format!("builds {name} a second time"),
                        "name each feature in one stage only",
                    ));
                    continue;
                }
                let late = yard
                    .job
                    .design
                    .cascades
                    .iter()
                    .find(|c| c.into == *name && done.contains(&c.name));
                if let Some(cascade) = late {
                    let what = format!(
                        "digs {name} after its cascade {}: the banks cut into the cascade's foot",
                        cascade.name
                    );
                    out.findings.push(Finding::new(
                        Severity::Warning,
                        format!("stage {}", stage.name),
                        what,
                        "dig the basin first, then build the cascade",
                    ));
                }
                for line in layout.lines.iter().filter(|_| watched) {
                    let staked = staked(line, name, &stage.name, &out.ground, yard);
                    out.set_out.push(staked);
                }
                let its = Finding::all_about(layout.findings, about(name, yard));
                out.findings.extend(its);
                out.solids.extend(layout.solids);
                out.waters.extend(layout.waters);
                for part in layout.parts {
                    let temporary = part.temporary || taken_back.contains(name.as_str());
                    let work = out.ground.begin(temporary);
                    if temporary {
                        works.insert(part.name.clone(), work);
                    }
                    if part.kind == Kind::Ramp {
                        ramps.push((part.name.clone(), temporary.then_some(work)));
                    }
                    for step in &part.moves {
                        apply(&mut out.ground, step, works);
                    }
                    let strip = yard.job.soil.strip_under_fills && !temporary && !part.structure;
                    if watched {
                        obstructed(out, &part, yard);
                        // What is put back in the same stage goes back with its topsoil.
                        let depth = if part.temporary { 0.0 } else { topsoil };
                        let moved = out.ground.finish(depth, strip);
                        out.watch.see(&out.ground, &part, &stage.name);
                        if part.structure {
                            if moved.fill > 1e-9 {
                                out.courses.push(BaseCourse {
                                    wall: part.name.clone(),
                                    part: part.label.into(),
                                    stage: stage.name.clone(),
                                    compacted_m3: moved.fill,
                                });
                            }
                            continue;
                        }
                        in_vain(out, &part, moved);
                        inside_basin(out, &part, yard);
                        on_temporary(out, &part, temporary, yard);
                        record(&mut out.volumes, &part, &stage.name, moved);
                    } else if track == Track::Dug && strip {
                        // Later works meet the ground without its topsoil.
                        out.ground.finish(topsoil, true);
                    } else {
                        out.ground.settle();
                    }
                    if part.temporary && part.kind == Kind::Trench {
                        refill.push(part);
                    }
                }
            }
            for part in refill {
                if let Some(&work) = works.get(&part.name) {
                    out.ground.begin(false);
                    out.ground.restore(work, Act::Place);
                    if !watched {
                        out.ground.settle();
                        continue;
                    }
                    let moved = out.ground.finish(topsoil, false);
                    let refill = Part {
                        label: "refill",
                        ..part
                    };
                    out.watch.see(&out.ground, &refill, &stage.name);
                    record(&mut out.volumes, &refill, &stage.name, moved);
                }
            }
            for name in &stage.take_back {
                if is_lasting(name, yard) {
                    out.findings.push(
                        Finding::new(
                            Severity::Error,
                            format!("stage {}", stage.name),
                            format!("takes {name} back, which is built to stay: it is left as it is"),
                            "take back what was placed for the time being, such as a ramp; leave out of the design what is not to be built",
                        )
                        .about(about(name, yard)),
                    );
                    continue;
                }
                let Some(&work) = works.get(name) else {
                    out.findings.push(Finding::new(
                        Severity::Error,
                        format!("stage {}", stage.name),
                        format!("takes {name} back, but no earlier stage built it"),
                        "take back only what an earlier stage builds",
                    ));
                    continue;
                };
                out.ground.begin(false);
                out.ground.restore(work, Act::Dig);
                if !watched {
                    out.ground.settle();
                    continue;
                }
                let moved = out.ground.finish(topsoil, false);
                if moved.redug + moved.cut_bank < 1e-6 {
                    out.findings.push(Finding::new(
                    Severity::Warning,
                    format!("stage {}", stage.name),
                    format!("takes {name} back, but nothing that it placed lies there: nothing is moved"),
                    "take back what was placed, such as a ramp; what is dug is filled by a work of its own",
                ));
                }
                let back = Part {
                    label: "taken back",
                    ..Part::new(name, kind_of(&out.volumes, name), Vec::new())
                };
                out.watch.see(&out.ground, &back, &stage.name);
                record(&mut out.volumes, &back, &stage.name, moved);
            }
            if watched {
                out.watch.stage_over(&out.ground);
                let stand = ramps.iter().map(|(name, work)| RampStands {
                    ramp: name.clone(),
                    stage: stage.name.clone(),
                    compacted_m3: match work {
                        Some(work) => out.ground.stands_of(*work),
                        None => out.ground.stands_by(|m| {
                            let by = &yard.makers.list[m as usize];
                            by.kind == Kind::Ramp && by.name == *name
                        }),
                    },
                });
                out.ramps.extend(stand);
            }
        }
        design::set_out::steps(&mut out.set_out);
    }
}

/// The places to stake on a line, with the ground there as surveyed and as it stands now.
fn staked(line: &design::SetLine, work: &str, stage: &str, ground: &Mosaic, yard: &Yard) -> SetOut {
    let how = &yard.job.setting_out;
    let stations = line.stations(how.spacing, how.along);
    SetOut {
        work: work.into(),
        stage: stage.into(),
        name: line.name.clone(),
        kind: line.kind,
        part: line.part.clone(),
        closed: line.closed,
        stations: stations
            .into_iter()
            .map(|s| Station {
                at: s.at,
                note: s.note,
                existing: ground.surveyed(s.at),
                before: ground.elevation(s.at),
                dig: s.dig,
                base: s.base,
                finish: s.finish,
            })
            .collect(),
    }
}

/// A part that moves nothing was drawn where there is nothing to move.
fn in_vain(out: &mut Outcome, part: &Part, moved: Moved) {
    if moved.cut_bank + moved.fill + moved.redug < 1e-6
        && part.kind != Kind::Wall
        && part.kind != Kind::Cascade
    {
        out.findings.push(Finding::new(
            Severity::Warning,
            part.name.clone(),
            "moves no soil: what is placed lies under the ground, or what is dug lies over it or outside it",
            "check its elevations and its place",
        ).about(About::of(part.kind)));
    }
}

/// Soil moved in a basin after it was dug lies on its lining, or cuts it.
fn inside_basin(out: &mut Outcome, part: &Part, yard: &Yard) {
    if matches!(
        part.kind,
        Kind::Basin | Kind::Pit | Kind::Surround | Kind::Cascade
    ) {
        return;
    }
    let basin = |m: u16| {
        let by = &yard.makers.list[m as usize];
        matches!(by.kind, Kind::Basin | Kind::Pit) && by.part != "bank"
    };
    if let Some((maker, area, p)) = out.ground.changed_of(basin).filter(|f| f.1 > 0.05) {
        let name = &yard.makers.list[maker as usize].name;
        out.findings.push(
            Finding::new(
                Severity::Warning,
                part.name.clone(),
                format!(
                    "moves soil in {name}, which is dug before it, over {}",
                    crate::units::format_area(area, yard.job.unit)
                ),
                "build it before the basin is dug, or draw it clear of the basin and its lining",
            )
            .about(About::Water)
            .at(p[0], p[1], out.ground.elevation(p).unwrap_or(yard.bottom)),
        );
    }
}

/// Work on top of temporary work: it goes when that is taken back, or is not put back itself.
fn on_temporary(out: &mut Outcome, part: &Part, temporary: bool, yard: &Yard) {
    let found = match (temporary, out.ground.on_temporary(true)) {
        (false, found) => found,
        (true, Some(found)) => Some(found),
        (true, None) => out.ground.on_temporary(false),
    };
    let Some((maker, p)) = found else {
        return;
    };
    let other = &yard.makers.list[maker as usize].name;
    if *other == part.name {
        return;
    }
    let (what, remedy) = if temporary {
        (
            format!(
                "crosses {other}, which is temporary as well: where they meet only {other} is put back, not this"
            ),
            "draw them apart, or take one back before the other is begun",
        )
    } else {
        (
            format!(
                "is laid on {other}, which is temporary: what lies on it goes when it is taken back or filled again"
            ),
            "build it after that, or draw it clear of it",
        )
    };
    out.findings.push(
        Finding::new(Severity::Warning, part.name.clone(), what, remedy)
            .about(About::of(part.kind))
            .at(p[0], p[1], out.ground.elevation(p).unwrap_or(yard.bottom)),
    );
}

/// Walls that stood in the way of the part just worked, each named once.
fn obstructed(out: &mut Outcome, part: &Part, yard: &Yard) {
    let mut named: Vec<&str> = Vec::new();
    for o in &out.ground.obstructions {
        let wall = yard.makers.list[o.maker as usize].name.as_str();
        if wall == part.name || named.contains(&wall) {
            continue;
        }
        named.push(wall);
        let z = yard.caps.get(wall).copied().unwrap_or(yard.top);
        out.findings.push(
            Finding::new(
                Severity::Warning,
                part.name.clone(),
                format!(
                    "runs into the wall {wall}: soil is neither dug from it nor laid over its cap"
                ),
                "leave room for slope and lining between the work and the wall, or make its slope steeper there",
            )
            .about(About::of(part.kind))
            .at(o.at[0], o.at[1], z),
        );
    }
}

/// Whether a work is none that could be taken back: it is more than soil moved.
fn is_lasting(work: &str, yard: &Yard) -> bool {
    let d = &yard.job.design;
    d.basins.iter().any(|b| b.name == work)
        || d.cascades.iter().any(|c| c.name == work)
        || d.walls.iter().any(|w| w.name == work)
}

/// What is to be said of a work as a whole is about.
fn about(work: &str, yard: &Yard) -> About {
    let d = &yard.job.design;
    let water =
        d.basins.iter().any(|b| b.name == work) || d.cascades.iter().any(|c| c.name == work);
    if water { About::Water } else { About::Works }
}

fn kind_of(built: &[FeatureVolume], name: &str) -> Kind {
    built
        .iter()
        .find(|v| v.name == name)
        .map_or(Kind::Ramp, |v| v.kind)
}

fn apply(ground: &mut Mosaic, step: &Move, works: &FxHashMap<String, u32>) {
    match step {
        Move::Dig(facets) => ground.apply_all(Act::Dig, facets),
        Move::Place(facets) => ground.apply_all(Act::Place, facets),
        Move::MakeGood { dug_to, water } => ground.make_good(dug_to, *water),
        Move::Build(facets) => facets.iter().for_each(|f| ground.build_solid(f)),
        Move::Refill(name) => {
            if let Some(&work) = works.get(name) {
                ground.restore(work, Act::Place);
            }
        }
    }
}

fn record(list: &mut Vec<FeatureVolume>, part: &Part, stage: &str, moved: Moved) {
    list.push(FeatureVolume {
        name: part.name.clone(),
        kind: part.kind,
        part: part.label.into(),
        stage: stage.into(),
        cut_bank_m3: moved.cut_bank,
        fill_compacted_m3: moved.fill,
        redug_compacted_m3: moved.redug,
        topsoil_bank_m3: moved.topsoil,
        topsoil_under_fill_m3: moved.covered,
        unfit_bank_m3: 0.0,
        area_m2: moved.area,
        depth_max_m: moved.depth,
        cut_at: moved.cut_at,
        fill_at: moved.fill_at,
    });
}
