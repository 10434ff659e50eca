//! Overflow pipes: fall, cover, what they carry and what they must carry. SI.

use super::cascade::rate;
use super::{Scene, catchment, formulas as f};
use crate::findings::{Finding, Severity};
use crate::plan::{Cover, OverflowPipe};
use crate::terrain::{Probe, Span, line};

/// Cover is looked at this often, and at every bend.
const STATION: f64 = 0.25;
/// The mouth and the outlet lie open over this length.
const OPEN: f64 = 0.5;
/// A pipe flatter than this silts up: 1 % (common practice, no source).
const LEAST_FALL: f64 = 0.01;

pub fn of(scene: &Scene, findings: &mut Vec<Finding>) -> Vec<OverflowPipe> {
    let design = &scene.job.design;
    let mut list = Vec::new();
    if design.overflows.is_empty() {
        return list;
    }
    for pipe in &design.overflows {
        let place = format!("overflow {}", pipe.name);
        let mut say = |severity, at: Option<[f64; 3]>, what: String, remedy: &str| {
            let finding = Finding::new(severity, place.clone(), what, remedy);
            findings.push(match at {
                Some([x, y, z]) => finding.at(x, y, z),
                None => finding,
            });
        };
        let Some((water, _)) = scene.water(&pipe.basin) else {
            say(
                Severity::Error,
                None,
                format!("{} has no water to drain", pipe.basin),
                "mend the basin first",
            );
            continue;
        };
        let survey = &scene.plan.survey;
        let line = survey.line(&pipe.line, &scene.job.field_book);
        let inlet = match &pipe.invert {
            Some(h) => survey.elevation(h),
            None => Ok(water.level_m + pipe.above_water.unwrap_or(0.0)),
        };
        let (line, inlet, outlet) = match (line, inlet, survey.elevation(&pipe.outlet)) {
            (Ok(line), Ok(inlet), Ok(outlet)) => (line, inlet, outlet),
            (line, inlet, outlet) => {
                let why = [line.err(), inlet.err(), outlet.err()];
                let why: Vec<String> = why.into_iter().flatten().collect();
                say(
                    Severity::Error,
                    None,
                    format!("is left out: {}", why.join("; ")),
                    "use the name of a shot that has a place and an elevation, or give them",
                );
                continue;
            }
        };
        let probe = Probe::within(&scene.plan.finished, Span::of(line.iter().copied()));
        let length = line::length(&line);
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
        let stations = cover(&line, length, [inlet, outlet], pipe.diameter, &probe);
        // Inside the basin the pipe's mouth lies open.
        let buried = stations
            .iter()
            .filter(|s| s.along_m > OPEN && s.along_m < length - OPEN);
        let least = buried
            .filter_map(|s| Some((s.cover_m?, s.along_m)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((cover, along)) = least
            && cover < pipe.cover
        {
            say(
                Severity::Warning,
                start,
                format!(
                    "{} from its inlet the ground covers it only {}; {} is wanted",
                    scene.length(along),
                    scene.length(cover),
                    scene.length(pipe.cover)
                ),
                "lay it deeper, or lead it another way",
            );
        }
        if stations.iter().any(|s| s.ground_m.is_none()) {
            say(
                Severity::Note,
                end,
                "runs out of the surveyed ground: cover and outlet are not known there".into(),
                "see where the water goes from its outlet; a neighbour's ground is a matter of local code",
            );
        }
        let full = gradient.map(|g| f::manning_full(pipe.diameter, g, pipe.n));
        let head = water.spill_m - inlet - 0.5 * pipe.diameter;
        let mouth = (gradient.is_some() && head > 0.0).then(|| f::orifice(pipe.diameter, head));
        if gradient.is_some() && head <= 0.0 && inlet < water.spill_m {
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
            .and_then(|&p| super::spill::from_outlet(scene, &place, p, findings));
        list.push(OverflowPipe {
            overflow: pipe.name.clone(),
            basin: pipe.basin.clone(),
            diameter_m: pipe.diameter,
            inlet_m: inlet,
            outlet_m: outlet,
            length_m: length,
            fall_m: fall,
            gradient,
            cover: stations,
            cover_min_m: least.map(|l| l.0),
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

/// What each pipe must carry in the rain of the job file: this follows the water over all the ground,
/// and takes longer than a plan may.
pub fn size(scene: &Scene, pipes: &mut [OverflowPipe]) -> Vec<Finding> {
    let design = &scene.job.design;
    let plumbing = &scene.job.plumbing;
    let mut findings = Vec::new();
    for pipe in pipes {
        let Some((water, _)) = scene.water(&pipe.basin) else {
            continue;
        };
        let cascades = design.cascades.iter().filter(|c| c.into == pipe.basin);
        let mut into: Vec<&str> = cascades
            .flat_map(|c| c.pools.iter().map(|p| p.name.as_str()))
            .collect();
        into.push(&pipe.basin);
        pipe.catchment = catchment::of(scene, &into);
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
        if let (Some(wanted), Some(capacity)) = (pipe.wanted_m3_s, pipe.capacity_m3_s)
            && wanted > capacity
        {
            findings.push(Finding::new(
                Severity::Warning,
                format!("overflow {}", pipe.overflow),
                format!(
                    "carries {} before {} runs over; the rain given brings {}",
                    rate(scene, capacity),
                    water.name,
                    rate(scene, wanted)
                ),
                "lay a wider pipe or a second one, or give the brim a wide low place where water may run",
            ));
        }
    }
    findings
}

fn cover(
    line: &[[f64; 2]],
    length: f64,
    [inlet, outlet]: [f64; 2],
    diameter: f64,
    probe: &Probe,
) -> Vec<Cover> {
    let mut out = Vec::new();
    let mut run = 0.0;
    for (n, w) in line.windows(2).enumerate() {
        let l = line::dist(w[0], w[1]);
        let steps = (l / STATION).ceil().clamp(1.0, 2000.0) as usize;
        for s in usize::from(n > 0)..=steps {
            let t = s as f64 / steps as f64;
            let along = run + t * l;
            let invert = inlet + (outlet - inlet) * along / length.max(1e-9);
            let ground = probe
                .sound([
                    w[0][0] + t * (w[1][0] - w[0][0]),
                    w[0][1] + t * (w[1][1] - w[0][1]),
                ])
                .map(|s| s.elevation);
            out.push(Cover {
                along_m: along,
                invert_m: invert,
                ground_m: ground,
                cover_m: ground.map(|g| g - invert - diameter),
            });
        }
        run += l;
    }
    out
}
