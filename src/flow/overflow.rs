//! Overflow pipes: fall, cover, what they carry and what they must carry. SI.

use super::cascade::rate;
use super::{Scene, catchment, formulas as f};
use crate::findings::{About, Finding, Severity};
use crate::job::{Job, Overflow};
use crate::plan::{Catchment, Cover, End, Kind, OverflowPipe, Plan, SetOut, Station, Water};
use crate::terrain::predicates::P2;
use crate::terrain::{Probe, Span, line};
use crate::units::format_area;

/// Cover is looked at this often, and at every bend.
const STATION: f64 = 0.25;
/// The mouth and the outlet may lie open over this length; the mouth all through the basin.
const OPEN: f64 = 0.5;
/// A rod is read no closer.
const ROD: f64 = 0.02;
/// A pipe flatter than this silts up: 1 % (common practice, no source).
const LEAST_FALL: f64 = 0.01;

/// Where a pipe lies: its line in plan, and the inverts at its ends.
struct Laid {
    line: Vec<P2>,
    inlet: f64,
    outlet: f64,
}

impl Laid {
    /// Err: why nothing can be said of it.
    fn of(job: &Job, plan: &Plan, pipe: &Overflow, water: &Water) -> Result<Laid, String> {
        let survey = &plan.survey;
        let line = survey.line(&pipe.line, &job.field_book);
        let inlet = match &pipe.invert {
            Some(h) => survey.elevation(h),
            None => Ok(water.level_m + pipe.above_water.unwrap_or(0.0)),
        };
        match (line, inlet, survey.elevation(&pipe.outlet)) {
            (Ok(line), Ok(inlet), Ok(outlet)) => Ok(Laid {
                line,
                inlet,
                outlet,
            }),
            (line, inlet, outlet) => {
                let why = [line.err(), inlet.err(), outlet.err()];
                let why: Vec<String> = why.into_iter().flatten().collect();
                Err(why.join("; "))
            }
        }
    }

    /// Invert so far along it: it falls evenly.
    fn invert(&self, along: f64) -> f64 {
        let length = line::length(&self.line).max(1e-9);
        self.inlet + (self.outlet - self.inlet) * along / length
    }

    /// `[x, y, invert]` at its inlet, its corners and its outlet.
    fn corners(&self) -> Vec<[f64; 3]> {
        let mut along = 0.0;
        let mut last = self.line.first().copied().unwrap_or_default();
        let corner = |&p: &P2| {
            along += line::dist(last, p);
            last = p;
            [p[0], p[1], self.invert(along)]
        };
        self.line.iter().map(corner).collect()
    }
}

/// The places to stake of each overflow pipe: its invert at the inlet, the corners and the outlet. The
/// ground by then is that of all works.
pub fn set_out(job: &Job, plan: &Plan) -> Vec<SetOut> {
    let pipes = job.design.overflows.iter().filter_map(|pipe| {
        let water = plan.water.iter().find(|w| w.name == pipe.basin)?;
        let laid = Laid::of(job, plan, pipe, water).ok()?;
        let span = Span::of(laid.line.iter().copied());
        let (before, by_then) = (
            Probe::within(&plan.existing, span),
            Probe::within(&plan.dug, span),
        );
        let ground = |probe: &Probe, at| probe.sound(at).map(|s| s.elevation);
        let corners = laid.corners();
        let last = corners.len().saturating_sub(1);
        let stations = corners.iter().enumerate().map(|(k, &[x, y, z])| Station {
            at: [x, y],
            note: match k {
                0 => "inlet",
                _ if k == last => "outlet",
                _ => "bend",
            },
            existing: ground(&before, [x, y]),
            before: ground(&by_then, [x, y]),
            dig: Some(z),
            base: None,
            finish: None,
        });
        Some(SetOut {
            work: pipe.name.clone(),
            stage: String::new(),
            name: pipe.name.clone(),
            kind: Kind::Overflow,
            part: "invert (inside bottom)".into(),
            closed: false,
            stations: stations.collect(),
        })
    });
    pipes.collect()
}

pub fn of(scene: &Scene, findings: &mut Vec<Finding>) -> Vec<OverflowPipe> {
    let design = &scene.job.design;
    let mut list = Vec::new();
    if design.overflows.is_empty() {
        return list;
    }
    for pipe in &design.overflows {
        let place = format!("overflow {}", pipe.name);
        let mut say = |severity, at: Option<[f64; 3]>, what: String, remedy: &str| {
            let finding = Finding::new(severity, place.clone(), what, remedy).about(About::Water);
            findings.push(match at {
                Some([x, y, z]) => finding.at(x, y, z),
                None => finding,
            });
        };
        let Some((water, seed)) = scene.water(&pipe.basin) else {
            say(
                Severity::Error,
                None,
                format!("{} has no water to drain", pipe.basin),
                "mend the basin first",
            );
            continue;
        };
        let laid = match Laid::of(scene.job, scene.plan, pipe, water) {
            Ok(laid) => laid,
            Err(why) => {
                say(
                    Severity::Error,
                    None,
                    format!("is left out: {why}"),
                    "use the name of a shot that has a place and an elevation, or give them",
                );
                continue;
            }
        };
        let Laid {
            line,
            inlet,
            outlet,
        } = &laid;
        let (&inlet, &outlet) = (inlet, outlet);
        let probe = Probe::within(&scene.plan.finished, Span::of(line.iter().copied()));
        let length = line::length(line);
        let fall = inlet - outlet;
        let gradient = (fall > 1e-6 && length > 1e-6).then(|| fall / length);
        let start = line.first().map(|p| [p[0], p[1], inlet]);
        let end = line.last().map(|p| [p[0], p[1], outlet]);
        if gradient.is_none() {
            say(
                Severity::Error,
                end,
                format!(
                    "runs uphill or level: inlet {}, outlet {}",
                    scene.length(inlet),
                    scene.length(outlet)
                ),
                "bring it out lower than it goes in; no capacity is given for it",
            );
        } else if gradient.is_some_and(|g| g < LEAST_FALL) {
            say(
                Severity::Warning,
                end,
                format!(
                    "falls {} over {}, less than 1 in 100: it silts up (common practice)",
                    scene.length(fall),
                    scene.length(length)
                ),
                "give it more fall, or a wider pipe that can be rodded",
            );
        }
        if inlet < water.level_m - 1e-3 {
            say(
                Severity::Error,
                start,
                format!(
                    "its inlet lies {} under the water of {}: it drains the basin down to there",
                    scene.length(water.level_m - inlet),
                    water.name
                ),
                "raise the inlet to the water, or lower the water",
            );
        } else if inlet >= water.spill_m - 1e-3 {
            say(
                Severity::Error,
                start,
                format!(
                    "its inlet lies at {}, no lower than where {} runs over ({})",
                    scene.length(inlet),
                    water.name,
                    scene.length(water.spill_m)
                ),
                "lower the inlet: the pipe must take the water before the brim lets it go",
            );
        }
        let reached = start.is_none_or(|start| reaches(scene, water, seed, start, pipe.diameter));
        if !reached {
            say(
                Severity::Error,
                start,
                format!(
                    "its inlet stands where the water of {} does not get to it, risen to where it runs over",
                    water.name
                ),
                "begin its line in the basin; no capacity is given for it",
            );
        }
        let stations = cover(scene, &laid, pipe, &probe);
        let least = stations
            .iter()
            .filter(|s| !s.open)
            .filter_map(|s| Some((s.cover_m?, s)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((cover, s)) = least
            && cover < pipe.cover
        {
            let [x, y] = line::at(line, s.along_m);
            let along = scene.length(s.along_m);
            let wanted = scene.length(pipe.cover);
            let what = if cover >= 0.0 {
                format!(
                    "{along} from its inlet the ground covers it only {}; {wanted} is wanted",
                    scene.length(cover)
                )
            } else {
                format!(
                    "{along} from its inlet its top stands {} out of the ground; {wanted} of cover is wanted",
                    scene.length(-cover)
                )
            };
            say(
                Severity::Warning,
                Some([x, y, s.ground_m.unwrap_or(s.invert_m)]),
                what,
                "lay it deeper, or lead it another way",
            );
        }
        let at_end = line.last().copied().unwrap_or_default();
        // What its outlet lies under: water, or ground.
        let drowned = scene
            .terrain
            .find(at_end)
            .and_then(|t| scene.under(t, outlet.min(probe.sound(at_end)?.elevation)))
            .filter(|w| outlet < w.level_m - 1e-3);
        let ground = stations.last().and_then(|s| s.ground_m);
        let buried = ground.map_or(0.0, |g| g - outlet);
        let free = if let Some(w) = drowned {
            let (severity, remedy) = if w.name == water.name {
                (
                    Severity::Error,
                    "lead it on to lower ground outside the basin that it drains; no capacity is given for it",
                )
            } else {
                (
                    Severity::Warning,
                    "bring it out over the water there; no capacity is given for it",
                )
            };
            say(
                severity,
                end,
                format!(
                    "its outlet lies in {}, {} under the water",
                    w.name,
                    scene.length(w.level_m - outlet)
                ),
                remedy,
            );
            false
        } else if buried >= pipe.diameter - ROD {
            say(
                Severity::Error,
                end,
                format!(
                    "its outlet is buried: the ground there lies {} over its invert, and nothing runs out",
                    scene.length(buried)
                ),
                "lead it on to where the ground lies no higher than its invert, or grade the ground down from there; no capacity is given for it",
            );
            false
        } else {
            if buried > ROD {
                say(
                    Severity::Warning,
                    end,
                    format!(
                        "its outlet stands {} deep in the ground",
                        scene.length(buried)
                    ),
                    "lead it on to lower ground, or grade the ground down from there: it silts up",
                );
            }
            true
        };
        if stations.iter().any(|s| s.ground_m.is_none()) {
            say(
                Severity::Note,
                end,
                "runs out of the surveyed ground: cover and outlet are not known there".into(),
                "see where the water goes from its outlet; a neighbour's ground is a matter of local code",
            );
        }
        let runs = gradient.filter(|_| free && reached);
        let full = runs.map(|g| f::manning_full(pipe.diameter, g, pipe.n));
        let head = water.spill_m - inlet - 0.5 * pipe.diameter;
        let mouth = (runs.is_some() && head > 0.0).then(|| f::orifice(pipe.diameter, head));
        if runs.is_some() && head <= 0.0 && inlet < water.spill_m {
            say(
                Severity::Warning,
                start,
                format!(
                    "its mouth is not half drowned when {} runs over: it never runs full",
                    water.name
                ),
                "set it lower, or give the basin more freeboard; no capacity is given for it",
            );
        }
        let capacity = full.zip(mouth).map(|(a, b)| a.min(b));
        if scene.job.plumbing.rain.is_none() {
            say(
                Severity::Note,
                None,
                "is not sized: no rain is given".into(),
                "give `rain` in `plumbing`, in inches or millimetres an hour, from the local code or weather service",
            );
        }
        let outlet_way = line
            .last()
            .filter(|_| free)
            .and_then(|&p| super::spill::from_outlet(scene, &place, p, findings));
        // A water that runs into this one is no other.
        let comes_back = |name: &str| {
            let mut pools = design
                .cascades
                .iter()
                .filter(|c| c.into == pipe.basin)
                .flat_map(|c| &c.pools);
            name == pipe.basin || pools.any(|p| p.name == name)
        };
        if let Some(way) = &outlet_way
            && way.ends == End::Water
        {
            let at = way.path.last().copied().or(end);
            if comes_back(&way.into) {
                let what = format!(
                    "the water from it runs back into {}, which it is to drain",
                    way.into
                );
                let finding = Finding::new(
                    Severity::Error,
                    place.clone(),
                    what,
                    "bring it out where the ground falls away from the basin",
                )
                .about(About::Water);
                findings.push(match at {
                    Some([x, y, z]) => finding.at(x, y, z),
                    None => finding,
                });
            }
        }
        list.push(OverflowPipe {
            line: laid.corners(),
            outlet_into: outlet_way
                .as_ref()
                .map_or(String::new(), |w| w.into.clone()),
            overflow: pipe.name.clone(),
            basin: pipe.basin.clone(),
            diameter_m: pipe.diameter,
            inlet_m: inlet,
            outlet_m: outlet,
            length_m: length,
            fall_m: fall,
            gradient,
            cover_min_m: least.map(|l| l.0),
            cover: stations,
            full_m3_s: full,
            orifice_m3_s: mouth,
            capacity_m3_s: capacity,
            catchment: None,
            wanted_m3_s: None,
            diameter_wanted_m: None,
            outlet_ends: outlet_way.as_ref().map(|w| w.ends),
            outlet_meets: outlet_way.as_ref().map_or(Vec::new(), |w| w.meets.clone()),
            outlet_path: outlet_way.map_or(Vec::new(), |w| w.path),
        });
    }
    list
}

/// The mouth may be drawn on the very edge of the water: so far round it is looked, metres.
const MOUTH: f64 = 0.15;

/// Whether the water of a basin, risen to where it runs over, gets to the mouth of a pipe, and no ground lies
/// before it.
fn reaches(scene: &Scene, water: &Water, seed: u32, mouth: [f64; 3], diameter: f64) -> bool {
    let [x, y, invert] = mouth;
    let round = (0..8).map(|k| {
        let (sin, cos) = (f64::from(k) * std::f64::consts::FRAC_PI_4).sin_cos();
        [x + MOUTH * cos, y + MOUTH * sin]
    });
    let mut rising = None;
    let probe = Probe::within(&scene.plan.finished, Span::of([[x, y]]).grown(2.0 * MOUTH));
    std::iter::once([x, y]).chain(round).any(|p| {
        let (Some(t), Some(ground)) = (scene.terrain.find(p), probe.sound(p)) else {
            return false;
        };
        if ground.elevation >= water.spill_m.min(invert + diameter) {
            return false;
        }
        if scene
            .under(t, ground.elevation)
            .is_some_and(|w| w.name == water.name)
        {
            return true;
        }
        // Ground that only gets wet as the water rises.
        let wet = rising.get_or_insert_with(|| scene.terrain.wet(seed, water.spill_m));
        wet.binary_search(&t).is_ok()
    })
}

/// The waters that run into one of these as well: through their overflow pipes, or over their brim where no
/// pipe takes that elsewhere.
fn drained_too(scene: &Scene, into: &mut Vec<String>) {
    let flow = &scene.plan.flow;
    let ours = |into: &[String], name: &str| into.iter().any(|n| n == name);
    loop {
        let piped = flow
            .overflows
            .iter()
            .filter(|o| o.outlet_ends == Some(End::Water) && ours(into, &o.outlet_into))
            .map(|o| &o.basin);
        let elsewhere = |name: &str| {
            let mut its = flow.overflows.iter().filter(|o| o.basin == name);
            its.any(|o| o.capacity_m3_s.is_some())
        };
        let over = flow
            .spills
            .iter()
            .filter(|s| s.ends == End::Water && ours(into, &s.into) && !elsewhere(&s.water))
            .map(|s| &s.water);
        let Some(more) = piped.chain(over).find(|name| !ours(into, name)) else {
            return;
        };
        into.push(more.clone());
    }
}

/// What each pipe must carry in the rain of the job file: this follows the water over all the ground,
/// and takes longer than a plan may.
pub fn size(scene: &Scene, pipes: &mut [OverflowPipe]) -> Vec<Finding> {
    let design = &scene.job.design;
    let plumbing = &scene.job.plumbing;
    let mut findings = Vec::new();
    // Pipes of one basin drain the same, and carry it together.
    let mut known: Vec<(String, Option<Catchment>)> = Vec::new();
    let mut warned: Vec<String> = Vec::new();
    let together: Vec<(String, f64)> = pipes
        .iter()
        .filter_map(|p| Some((p.basin.clone(), p.capacity_m3_s?)))
        .collect();
    for pipe in pipes {
        let Some((water, _)) = scene.water(&pipe.basin) else {
            continue;
        };
        let before = known.iter().find(|k| k.0 == pipe.basin).map(|k| k.1);
        pipe.catchment = before.unwrap_or_else(|| {
            let cascades = design.cascades.iter().filter(|c| c.into == pipe.basin);
            let pools = cascades.flat_map(|c| c.pools.iter().map(|p| p.name.clone()));
            let mut into: Vec<String> = pools.chain([pipe.basin.clone()]).collect();
            drained_too(scene, &mut into);
            let into: Vec<&str> = into.iter().map(String::as_str).collect();
            catchment::of(scene, &into)
        });
        if before.is_none() {
            known.push((pipe.basin.clone(), pipe.catchment));
        }
        if let Some(c) = pipe
            .catchment
            .filter(|c| before.is_none() && c.level_m2 > 0.1 * c.ground_m2)
        {
            findings.push(Finding::new(
                Severity::Note,
                format!("overflow {}", pipe.overflow),
                format!(
                    "of {} of ground that drain into {} by the survey, {} lie level, and may as well run elsewhere: the pipe is sized as if all came",
                    format_area(c.ground_m2, scene.job.unit),
                    water.name,
                    format_area(c.level_m2, scene.job.unit)
                ),
                "look which way the ground falls, and shoot it there; a yard is never dead level",
            ));
        }
        pipe.wanted_m3_s = plumbing
            .rain
            .zip(pipe.catchment)
            .map(|(rain, c)| rain * (c.water_m2 + plumbing.runoff * c.ground_m2));
        let n = design
            .overflows
            .iter()
            .find(|o| o.name == pipe.overflow)
            .map_or(0.01, |o| o.n);
        pipe.diameter_wanted_m = pipe.wanted_m3_s.zip(pipe.gradient).and_then(|(q, g)| {
            let by_pipe = f::root(0.001, 5.0, |d| f::manning_full(d, g, n) - q);
            // Its mouth takes ever more up to 1.6 times the depth of water over its invert.
            let depth = water.spill_m - pipe.inlet_m;
            let mouth = |d: f64| f::orifice(d, depth - 0.5 * d) - q;
            (depth > 0.0 && mouth(1.6 * depth) >= 0.0)
                .then(|| f::root(0.0, 1.6 * depth, mouth).max(by_pipe))
        });
        let its: Vec<f64> = together
            .iter()
            .filter(|(basin, _)| *basin == pipe.basin)
            .map(|(_, capacity)| *capacity)
            .collect();
        let capacity: f64 = its.iter().sum();
        if let Some(wanted) = pipe.wanted_m3_s
            && pipe.capacity_m3_s.is_some()
            && wanted > capacity
            && !warned.contains(&pipe.basin)
        {
            warned.push(pipe.basin.clone());
            let others = match its.len() {
                1 => String::new(),
                n => format!(
                    " together with the other pipe{} of {}",
                    if n > 2 { "s" } else { "" },
                    water.name
                ),
            };
            findings.push(Finding::new(
                Severity::Warning,
                format!("overflow {}", pipe.overflow),
                format!(
                    "carries {}{others} before {} runs over; the rain given brings {}",
                    rate(scene, capacity),
                    water.name,
                    rate(scene, wanted)
                ),
                "lay a wider pipe or a second one, or give the brim a wide low place where water may run",
            ));
        }
    }
    Finding::all_about(findings, About::Water)
}

/// Ground over the pipe at stations along it, and where it lies open: in its basin, and at its ends as far as
/// they are not covered as is wanted.
fn cover(scene: &Scene, laid: &Laid, pipe: &Overflow, probe: &Probe) -> Vec<Cover> {
    let basin = scene
        .job
        .design
        .basins
        .iter()
        .find(|b| b.name == pipe.basin);
    let inside = |maker: u16| {
        let by = scene.plan.makers.get(maker as usize);
        by.is_some_and(|m| match m.kind {
            Kind::Basin => m.name == pipe.basin && m.part != "bank",
            Kind::Pit => basin.is_some_and(|b| b.pits.iter().any(|p| p.name == m.name)),
            _ => false,
        })
    };
    let length = line::length(&laid.line);
    let mut out = Vec::new();
    let mut run = 0.0;
    let mut mouth = Some(OPEN);
    for (n, w) in laid.line.windows(2).enumerate() {
        let l = line::dist(w[0], w[1]);
        let steps = (l / STATION).ceil().clamp(1.0, 2000.0) as usize;
        for s in usize::from(n > 0)..=steps {
            let t = s as f64 / steps as f64;
            let along = run + t * l;
            let invert = laid.invert(along);
            let found = probe.sound([
                w[0][0] + t * (w[1][0] - w[0][0]),
                w[0][1] + t * (w[1][1] - w[0][1]),
            ]);
            let ground = found.map(|s| s.elevation);
            // Once it has left the basin it does not come back to its mouth.
            let within = found.is_some_and(|s| inside(s.made_by));
            mouth = mouth.filter(|open| within || along <= *open);
            let cover = ground.map(|g| g - invert - pipe.diameter);
            let bare = cover.is_none_or(|c| c < pipe.cover);
            let at_an_end = mouth.is_some() || along >= length - OPEN;
            out.push(Cover {
                along_m: along,
                invert_m: invert,
                ground_m: ground,
                cover_m: cover,
                open: within && mouth.is_some() || at_an_end && bare,
            });
        }
        run += l;
    }
    out
}
