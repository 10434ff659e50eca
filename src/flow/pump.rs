//! The pump: static head, friction and fittings for each size of pipe, the duty point on its curve,
//! and what its starting and stopping does to the level. SI.

use rustc_hash::FxHashMap;

use super::basins::Curves;
use super::cascade::{percent, rate};
use super::formulas as f;
use super::{DepthCurve, Scene};
use crate::findings::{About, Finding, Severity};
use crate::job::{Basin, Cascade, Job, Pump};
use crate::plan::{CascadeFlow, FlowIs, PipeDuty, PumpDuty};
use crate::terrain::line;

/// What the pump has to feed.
pub struct Feed<'a> {
    pub cascade: &'a Cascade,
    pub top: f64,
    pub wanted: f64,
}

/// What other pumps do to the basin that a pump draws from, all running or all stopped together, m³.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Beside {
    pub pumps: Vec<String>,
    pub start: f64,
    pub stop: f64,
}

impl Beside {
    /// For each pump that shares its basin, what the others there do.
    pub fn of(job: &Job, duties: &[PumpDuty]) -> FxHashMap<String, Beside> {
        let basin = |d: &PumpDuty| {
            let pump = job.plumbing.pumps.iter().find(|p| p.name == d.pump)?;
            stands(job, pump).map(|(b, _)| b.name.as_str())
        };
        let flows: Vec<_> = duties
            .iter()
            .filter_map(|d| Some((d, basin(d)?, d.start_volume_m3?, d.stop_volume_m3?)))
            .collect();
        let mut out = FxHashMap::default();
        for (d, basin, ..) in &flows {
            let others = flows.iter().filter(|o| o.1 == *basin && o.0.pump != d.pump);
            let mut beside = Beside::default();
            for (other, _, start, stop) in others {
                beside.pumps.push(other.pump.clone());
                beside.start += start;
                beside.stop += stop;
            }
            if !beside.pumps.is_empty() {
                out.insert(d.pump.clone(), beside);
            }
        }
        out
    }

    pub fn is_near(&self, other: &Beside) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
        self.pumps == other.pumps && near(self.start, other.start) && near(self.stop, other.stop)
    }
}

/// The basin that a pump stands in, and how deep under its water.
fn stands<'a>(job: &'a Job, pump: &Pump) -> Option<(&'a Basin, f64)> {
    job.design.basins.iter().find_map(|b| {
        let pit = b
            .pits
            .iter()
            .find(|p| p.name == pump.sits_in)
            .map(|p| p.depth);
        let own = (b.name == pump.sits_in).then_some(0.0);
        pit.or(own).map(|deeper| (b, b.floor_depth + deeper))
    })
}

/// The duty; `None` where something needed is not known. `with_flow` lays the cascade out for a flow
/// while the basin stands at a level; `beside` tells of other pumps in that basin.
pub fn duty(
    scene: &Scene,
    pump: &Pump,
    feed: &Feed,
    beside: &Beside,
    curves: &Curves,
    findings: &mut Vec<Finding>,
    with_flow: &dyn Fn(f64, f64) -> CascadeFlow,
) -> Option<PumpDuty> {
    let mut say = |severity, what: String, remedy: &str| {
        findings.push(
            Finding::new(severity, format!("pump {}", pump.name), what, remedy).about(About::Pump),
        );
    };
    let Some((basin, depth)) = stands(scene.job, pump) else {
        say(
            Severity::Error,
            format!(
                "stands in {}, which is neither a basin nor a pit",
                pump.sits_in
            ),
            "give the name of a basin or of a pit in it",
        );
        return None;
    };
    let Some(water) = scene.water(&basin.name).map(|w| w.0).filter(|w| w.held) else {
        say(
            Severity::Error,
            format!("draws from {}, which does not hold its water", basin.name),
            "mend the basin first; nothing can be said of the pump",
        );
        return None;
    };
    if basin.name != feed.cascade.into {
        say(
            Severity::Error,
            format!(
                "draws from {}, but {} falls into {}: one empties, the other runs over",
                basin.name, feed.cascade.name, feed.cascade.into
            ),
            "put the pump where the cascade ends",
        );
    }
    let line = match scene.plan.survey.line(&pump.line, &scene.job.field_book) {
        Ok(line) => line,
        Err(why) => {
            say(
                Severity::Error,
                format!("has no pipe: {why}"),
                "use the name of a placed shot or peg, or give its place",
            );
            return None;
        }
    };
    let discharge = match &pump.discharge {
        None => None,
        Some(h) => match scene.plan.survey.elevation(h) {
            Ok(z) => Some(z),
            Err(why) => {
                say(
                    Severity::Error,
                    format!("gives out at an elevation that is not known: {why}"),
                    "give its elevation",
                );
                return None;
            }
        },
    };
    let intake = water.level_m - depth + pump.intake;
    // The pipe climbs as well as runs: its length is that of the slope between its ends.
    let length =
        line::length(&line).hypot(discharge.unwrap_or(feed.top) - intake) + pump.extra_length;
    // At the outlet one velocity head is lost.
    let k: f64 = 1.0 + pump.fittings.iter().map(|p| p.count * p.k).sum::<f64>();
    let equivalent: f64 = pump.fittings.iter().map(|p| p.count * p.length).sum();
    let curve = curves.get(&basin.name);
    let usable = usable(pump, &mut say);

    // What stands in the cascade when it runs comes out of the basin; the lower that stands, the
    // higher the lift, the less the flow: settled by going round.
    let mut drop = 0.0;
    let mut flow = feed.wanted;
    let mut made: Option<PumpDuty> = None;
    for _ in 0..12 {
        let running = water.level_m - drop;
        let head_of_top = if flow > 0.0 {
            with_flow(flow, running)
                .lips
                .first()
                .map_or(0.0, |l| l.head_m)
        } else {
            0.0
        };
        // Given out under the pool's water, it has to rise against that all the same.
        let surface = feed.top + head_of_top;
        let out = discharge.map_or(surface, |z| z.max(surface));
        let lift = out - running;
        let pipes: Vec<PipeDuty> = pump
            .pipes
            .iter()
            .map(|pipe| {
                let head_at = |q: f64| {
                    let v = f::velocity(pipe.diameter, q);
                    lift + f::hazen_williams(length + equivalent, pipe.diameter, q, pump.c)
                        + k * v * v / (2.0 * f::G)
                };
                let q = feed.wanted;
                let v = f::velocity(pipe.diameter, q);
                let met = usable.then(|| meet(&pump.curve, head_at));
                let duty = match met {
                    Some(Met::At(point)) => Some(point),
                    _ => None,
                };
                let beyond = match met {
                    Some(Met::Beyond(end)) => Some(end),
                    _ => None,
                };
                let carries = duty.or(beyond).map_or(q, |d| d[0].max(q));
                PipeDuty {
                    pipe: pipe.name.clone(),
                    diameter_m: pipe.diameter,
                    velocity_m_s: v,
                    within_velocity: f::velocity(pipe.diameter, carries)
                        <= pump.velocity * (1.0 + 1e-9),
                    hazen_williams_m: f::hazen_williams(length, pipe.diameter, q, pump.c),
                    darcy_weisbach_m: f::darcy_weisbach(length, pipe.diameter, q, pump.roughness),
                    fittings_m: k * v * v / (2.0 * f::G)
                        + f::hazen_williams(equivalent, pipe.diameter, q, pump.c),
                    head_m: head_at(q),
                    duty,
                    beyond,
                }
            })
            .collect();
        let chosen = if pump.pipe.is_empty() {
            let fits = |p: &&PipeDuty| p.within_velocity;
            let small = |a: &&PipeDuty, b: &&PipeDuty| a.diameter_m.total_cmp(&b.diameter_m);
            let slow = pipes.iter().filter(fits).min_by(small);
            slow.or_else(|| pipes.iter().max_by(small))
        } else {
            pipes.iter().find(|p| p.pipe == pump.pipe)
        }?;
        let (name, diameter) = (chosen.pipe.clone(), chosen.diameter_m);
        let before = flow;
        let flow_is;
        (flow, flow_is) = match (chosen.duty, chosen.beyond) {
            (Some(d), _) => (d[0], FlowIs::Duty),
            (None, Some(end)) => (end[0], FlowIs::AtLeast),
            (None, None) if usable => (0.0, FlowIs::Nothing),
            (None, None) => (feed.wanted, FlowIs::Wanted),
        };
        let mut now = PumpDuty {
            pump: pump.name.clone(),
            cascade: feed.cascade.name.clone(),
            flow_wanted_m3_s: feed.wanted,
            flow_m3_s: flow,
            flow_is,
            discharge_m: out,
            running_level_m: running,
            static_head_m: lift,
            length_m: length,
            k,
            equivalent_m: equivalent,
            pipes,
            pipe: name,
            pipe_volume_m3: std::f64::consts::PI / 4.0 * diameter * diameter * length,
            start_drop_m: None,
            start_volume_m3: None,
            stop_rise_m: None,
            stop_volume_m3: None,
            topped_up_m: None,
            intake_m: intake,
            water_over_intake_m: None,
            beside: beside.pumps.clone(),
        };
        if flow_is == FlowIs::Nothing {
            made = Some(now);
            drop = 0.0;
            // Without the head of a flow over the top lip the lift is least: that decides.
            if before == 0.0 {
                break;
            }
            continue;
        }
        let laid = with_flow(flow, running);
        let transit = laid.in_pools_m3 + laid.on_sills_m3 + laid.in_air_m3;
        let start = transit + now.pipe_volume_m3;
        let stop = transit
            + if pump.check_valve {
                0.0
            } else {
                now.pipe_volume_m3
            };
        let lowered =
            curve.and_then(|c| c.level_of(c.volume(water.level_m) - start - beside.start));
        let stopped = lowered.and_then(|z| {
            let c = curve?;
            c.level_of((c.volume(z) + stop + beside.stop).min(c.volume(water.level_m)))
        });
        let start_drop = lowered.map(|z| water.level_m - z);
        now.start_drop_m = start_drop;
        now.start_volume_m3 = Some(start);
        now.stop_rise_m = lowered.zip(stopped).map(|(a, b)| b - a);
        now.stop_volume_m3 = Some(stop);
        now.water_over_intake_m = lowered.map(|z| z - intake);
        made = Some(now);
        let settled = start_drop.is_some_and(|d| (d - drop).abs() < 1e-7);
        if settled || start_drop.is_none() {
            break;
        }
        drop = start_drop.unwrap_or(0.0);
    }
    let mut duty = made?;
    duty.topped_up_m = duty
        .stop_volume_m3
        .and_then(|more| risen(scene, &basin.name, more + beside.stop));
    report(scene, pump, basin.edge_above, feed, &duty, beside, findings);
    Some(duty)
}

/// The level with so much more water than its own, up to the spill; `None` beyond.
fn risen(scene: &Scene, basin: &str, more: f64) -> Option<f64> {
    let (water, seed) = scene.water(basin)?;
    if water.spill_m <= water.level_m {
        return None;
    }
    let surface = &scene.plan.finished;
    let held = |z: f64| {
        let wet = scene.terrain.wet(seed, z);
        DepthCurve::once(wet.iter().map(|&t| surface.corners(t as usize)), z)
    };
    let wanted = water.volume_m3 + more;
    let (mut low, mut high) = (water.level_m, water.spill_m);
    let mut z = low + more / water.area_m2.max(1e-9);
    let mut full = false;
    // Newton; halved where that leads out of what is left (another hollow joins, all at once). To a
    // hundredth of a millimetre.
    for _ in 0..60 {
        if z >= high && !full {
            full = true;
            z = high;
        } else if z <= low || z >= high {
            z = 0.5 * (low + high);
        }
        let (volume, area) = held(z);
        let off = volume - wanted;
        if z >= water.spill_m && off < 0.0 {
            return None;
        }
        if off.abs() < 1e-5 * water.area_m2 || high - low < 1e-5 {
            return Some(z);
        }
        if off < 0.0 {
            low = z;
        } else {
            high = z;
        }
        z -= off / area.max(1e-9);
    }
    Some(0.5 * (low + high))
}

/// Whether the curve can be used: two points or more, head falling all the way.
fn usable(pump: &Pump, say: &mut impl FnMut(Severity, String, &str)) -> bool {
    if pump.curve.len() < 2 {
        return false;
    }
    let rising = pump.curve.windows(2).position(|w| w[1].1 >= w[0].1);
    if let Some(k) = rising {
        say(
            Severity::Error,
            format!(
                "its curve does not fall from point {} to point {}: no duty can be read off it",
                k + 1,
                k + 2
            ),
            "copy the curve from the pump's sheet: the more flow, the less head",
        );
    }
    rising.is_none()
}

/// How a pump's curve and its pipe's meet.
#[derive(Clone, Copy)]
enum Met {
    /// Flow and head.
    At([f64; 2]),
    /// Not up to this, the last point of the curve: the pump gives more.
    Beyond([f64; 2]),
    /// The pipe asks for more head than the curve begins with.
    Nowhere,
}

/// Where a falling curve, straight between its points, meets a rising head.
fn meet(curve: &[(f64, f64)], head: impl Fn(f64) -> f64) -> Met {
    for w in curve.windows(2) {
        let on = |q: f64| w[0].1 + (w[1].1 - w[0].1) * (q - w[0].0) / (w[1].0 - w[0].0);
        let (a, b) = (on(w[0].0) - head(w[0].0), on(w[1].0) - head(w[1].0));
        if a < 0.0 {
            return Met::Nowhere;
        }
        if b <= 0.0 {
            let q = f::root(w[0].0, w[1].0, |q| head(q) - on(q));
            return if q > 0.0 {
                Met::At([q, on(q)])
            } else {
                Met::Nowhere
            };
        }
    }
    curve
        .last()
        .map_or(Met::Nowhere, |&(q, h)| Met::Beyond([q, h]))
}

fn report(
    scene: &Scene,
    pump: &Pump,
    edge_above: f64,
    feed: &Feed,
    duty: &PumpDuty,
    beside: &Beside,
    findings: &mut Vec<Finding>,
) {
    let (it, they) = if beside.pumps.is_empty() {
        (String::new(), "it stops".to_string())
    } else {
        let others = beside.pumps.join(", ");
        (
            format!(", {others} running as well,"),
            format!("it and {others} stop"),
        )
    };
    let mut say = |severity, what: String, remedy: &str| {
        findings.push(
            Finding::new(severity, format!("pump {}", pump.name), what, remedy).about(About::Pump),
        );
    };
    let Some(pipe) = duty.pipes.iter().find(|p| p.pipe == duty.pipe) else {
        return;
    };
    let first = pump.curve.first().copied().unwrap_or_default();
    let wanted = rate(scene, feed.wanted);
    match (duty.flow_is, pipe.duty) {
        (FlowIs::Duty, Some([q, head])) if q < feed.wanted * 0.995 => say(
            Severity::Warning,
            format!(
                "falls short: through {} it gives {} at {} of head, {} of the {wanted} wanted; all figures are for what it gives",
                duty.pipe,
                rate(scene, q),
                scene.length(head),
                percent(q / feed.wanted)
            ),
            "take a pump with more head at that flow, a wider pipe, or narrower lips",
        ),
        (FlowIs::Duty | FlowIs::Wanted, _) => {}
        (FlowIs::Nothing, _) if first.1 <= duty.static_head_m => say(
            Severity::Error,
            format!(
                "cannot lift the water: {} of lift, and its curve goes up to {} of head; it gives nothing of the {wanted} wanted, and no figures are given for a flow",
                scene.length(duty.static_head_m),
                scene.length(first.1)
            ),
            "take a pump with more head",
        ),
        (FlowIs::Nothing, _) => say(
            Severity::Error,
            format!(
                "falls short: its curve begins at {} with {} of head, and through {} less flow than that is all it gives, of the {wanted} wanted; no figures are given for a flow",
                rate(scene, first.0),
                scene.length(first.1),
                duty.pipe
            ),
            "give the curve from no flow on, or take a pump with more head",
        ),
        (FlowIs::AtLeast, _) if duty.flow_m3_s < feed.wanted * 0.995 => say(
            Severity::Warning,
            format!(
                "is not shown to give the {wanted} wanted: its curve ends at {}, {} of that, and through {} it gives more than there, nobody knows how much; all figures are for the end of the curve, the least that it gives",
                rate(scene, duty.flow_m3_s),
                percent(duty.flow_m3_s / feed.wanted),
                duty.pipe
            ),
            "give the curve further on, or take a pump whose curve reaches what is wanted; run beyond its curve a pump overheats",
        ),
        (FlowIs::AtLeast, _) => say(
            Severity::Warning,
            format!(
                "gives more through {} than its curve shows: it ends at {}, and the pipe would take more; all figures are for the end of the curve, the least that it gives, not for the {wanted} wanted",
                duty.pipe,
                rate(scene, duty.flow_m3_s)
            ),
            "give the curve further on, or throttle it with a valve; run beyond its curve a pump overheats",
        ),
    }
    if duty.flow_is == FlowIs::Nothing {
        return;
    }
    let v = f::velocity(pipe.diameter_m, duty.flow_m3_s);
    if v > pump.velocity * (1.0 + 1e-9) {
        say(
            Severity::Warning,
            format!(
                "the water runs {}{}/s in {}; {}/s is the limit",
                if duty.flow_is == FlowIs::AtLeast {
                    "at least "
                } else {
                    ""
                },
                scene.length(v),
                duty.pipe,
                scene.length(pump.velocity)
            ),
            "lay a wider pipe",
        );
    }
    match duty.water_over_intake_m {
        None => say(
            Severity::Error,
            "the cascade takes more water to start than the basin holds: the pump runs dry".into(),
            "make the basin larger, the pools smaller or the flow less",
        ),
        Some(over) if over <= 0.0 => say(
            Severity::Error,
            format!(
                "starting{it} lowers the water by {} and bares the intake by {}",
                scene.length(duty.start_drop_m.unwrap_or(0.0)),
                scene.length(-over)
            ),
            "set the pump deeper, make the basin larger or the flow less",
        ),
        Some(over) => {
            let loss = scene.job.plumbing.loss.unwrap_or(0.0);
            let area = scene
                .water(&feed.cascade.into)
                .map_or(f64::INFINITY, |w| w.0.area_m2);
            // With the loss gone as well, at the area of the full water: at the least.
            if loss / area >= over {
                say(
                    Severity::Warning,
                    "running, and with the loss of the job file gone, the water no longer covers its intake".into(),
                    "set the pump deeper, or top up sooner",
                );
            }
        }
    }
    if let Some((water, _)) = scene.water(&feed.cascade.into) {
        match duty.topped_up_m {
            None => say(
                Severity::Warning,
                format!(
                    "topped up to its level while running, {} runs over when {they}: {} come back",
                    water.name,
                    super::cascade::water(scene, duty.stop_volume_m3.unwrap_or(0.0) + beside.stop)
                ),
                "top up with the pump stopped, or give the basin more freeboard, or an overflow pipe",
            ),
            Some(z) if water.freeboard_min_m - (z - water.level_m) < 0.5 * edge_above => say(
                Severity::Note,
                format!(
                    "topped up to its level while running, {} stands {} over it when {they}",
                    water.name,
                    scene.length(z - water.level_m)
                ),
                "top up with the pump stopped",
            ),
            Some(_) => {}
        }
    }
}
