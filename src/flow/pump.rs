//! The pump: static head, friction and fittings for each size of pipe, the duty point on its curve,
//! and what its starting and stopping does to the level. SI.

use super::basins::Curves;
use super::cascade::{percent, rate};
use super::formulas as f;
use super::{DepthCurve, Scene};
use crate::findings::{Finding, Severity};
use crate::job::{Cascade, Pump};
use crate::plan::{CascadeFlow, PipeDuty, PumpDuty};
use crate::terrain::line;

/// What the pump has to feed.
pub struct Feed<'a> {
    pub cascade: &'a Cascade,
    pub top: f64,
    pub wanted: f64,
}

/// The duty and the flow it comes to; `None` where something needed is not known.
pub fn duty(
    scene: &Scene,
    pump: &Pump,
    feed: &Feed,
    curves: &Curves,
    findings: &mut Vec<Finding>,
    with_flow: &dyn Fn(f64) -> CascadeFlow,
) -> Option<(PumpDuty, f64)> {
    let mut say = |severity, what: String, remedy: &str| {
        findings.push(Finding::new(
            severity,
            format!("pump {}", pump.name),
            what,
            remedy,
        ));
    };
    let design = &scene.job.design;
    let stands = design.basins.iter().find_map(|b| {
        let pit = b
            .pits
            .iter()
            .find(|p| p.name == pump.sits_in)
            .map(|p| p.depth);
        let own = (b.name == pump.sits_in).then_some(0.0);
        pit.or(own).map(|deeper| (b, b.floor_depth + deeper))
    });
    let Some((basin, depth)) = stands else {
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
    let mut made: Option<(PumpDuty, f64)> = None;
    for _ in 0..12 {
        let running = water.level_m - drop;
        let head_of_top = with_flow(flow).lips.first().map_or(0.0, |l| l.head_m);
        let out = discharge.unwrap_or(feed.top + head_of_top);
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
                PipeDuty {
                    pipe: pipe.name.clone(),
                    diameter_m: pipe.diameter,
                    velocity_m_s: v,
                    within_velocity: v <= pump.velocity * (1.0 + 1e-9),
                    hazen_williams_m: f::hazen_williams(length, pipe.diameter, q, pump.c),
                    darcy_weisbach_m: f::darcy_weisbach(length, pipe.diameter, q, pump.roughness),
                    fittings_m: k * v * v / (2.0 * f::G)
                        + f::hazen_williams(equivalent, pipe.diameter, q, pump.c),
                    head_m: head_at(q),
                    duty: usable.then(|| meet(&pump.curve, head_at)).flatten(),
                }
            })
            .collect();
        let chosen = if pump.pipe.is_empty() {
            // Within the velocity at what it will really carry, where that is known.
            let fits = |p: &&PipeDuty| {
                p.within_velocity
                    && p.duty.is_none_or(|d| {
                        f::velocity(p.diameter_m, d[0]) <= pump.velocity * (1.0 + 1e-9)
                    })
            };
            let small = |a: &&PipeDuty, b: &&PipeDuty| a.diameter_m.total_cmp(&b.diameter_m);
            let slow = pipes.iter().filter(fits).min_by(small);
            slow.or_else(|| pipes.iter().max_by(small))
        } else {
            pipes.iter().find(|p| p.pipe == pump.pipe)
        }?;
        let (name, diameter, met) = (chosen.pipe.clone(), chosen.diameter_m, chosen.duty);
        flow = met.map_or(feed.wanted, |d| d[0]);
        let running_with = with_flow(flow);
        let transit = running_with.in_pools_m3 + running_with.on_sills_m3 + running_with.in_air_m3;
        let pipe_volume = std::f64::consts::PI / 4.0 * diameter * diameter * length;
        let start = transit + pipe_volume;
        let stop = transit + if pump.check_valve { 0.0 } else { pipe_volume };
        let lowered = curve.and_then(|c| c.level_of(c.volume(water.level_m) - start));
        let start_drop = lowered.map(|z| water.level_m - z);
        let stopped = lowered.and_then(|z| {
            let c = curve?;
            c.level_of((c.volume(z) + stop).min(c.volume(water.level_m)))
        });
        let settled = start_drop.is_some_and(|d| (d - drop).abs() < 1e-7);
        made = Some((
            PumpDuty {
                pump: pump.name.clone(),
                cascade: feed.cascade.name.clone(),
                flow_wanted_m3_s: feed.wanted,
                discharge_m: out,
                running_level_m: running,
                static_head_m: lift,
                length_m: length,
                k,
                equivalent_m: equivalent,
                pipes,
                pipe: name,
                pipe_volume_m3: pipe_volume,
                start_drop_m: start_drop,
                start_volume_m3: start,
                stop_rise_m: lowered.zip(stopped).map(|(a, b)| b - a),
                stop_volume_m3: stop,
                topped_up_m: None,
                intake_m: intake,
                water_over_intake_m: lowered.map(|z| z - intake),
            },
            flow,
        ));
        if settled || start_drop.is_none() {
            break;
        }
        drop = start_drop.unwrap_or(0.0);
    }
    let (mut duty, flow) = made?;
    duty.topped_up_m = risen(scene, &basin.name, duty.stop_volume_m3);
    report(scene, pump, basin.edge_above, feed, &duty, usable, findings);
    Some((duty, flow))
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

/// Where a falling curve, straight between its points, meets a rising head; `None` off its ends.
fn meet(curve: &[(f64, f64)], head: impl Fn(f64) -> f64) -> Option<[f64; 2]> {
    for w in curve.windows(2) {
        let on = |q: f64| w[0].1 + (w[1].1 - w[0].1) * (q - w[0].0) / (w[1].0 - w[0].0);
        let (a, b) = (on(w[0].0) - head(w[0].0), on(w[1].0) - head(w[1].0));
        if a >= 0.0 && b <= 0.0 {
            let q = f::root(w[0].0, w[1].0, |q| head(q) - on(q));
            return (q > 0.0).then(|| [q, on(q)]);
        }
    }
    None
}

fn report(
    scene: &Scene,
    pump: &Pump,
    edge_above: f64,
    feed: &Feed,
    duty: &PumpDuty,
    usable: bool,
    findings: &mut Vec<Finding>,
) {
    let mut say = |severity, what: String, remedy: &str| {
        findings.push(Finding::new(
            severity,
            format!("pump {}", pump.name),
            what,
            remedy,
        ));
    };
    let Some(pipe) = duty.pipes.iter().find(|p| p.pipe == duty.pipe) else {
        return;
    };
    if usable {
        let shut_off = pump.curve.first().map_or(0.0, |p| p.1);
        let end = pump.curve.last().copied().unwrap_or_default();
        match pipe.duty {
            Some([q, head]) if q < feed.wanted * 0.995 => say(
                Severity::Warning,
                format!(
                    "falls short: through {} it gives {} at {} of head, {} of the {} wanted",
                    duty.pipe,
                    rate(scene, q),
                    scene.length(head),
                    percent(q / feed.wanted),
                    rate(scene, feed.wanted)
                ),
                "take a pump with more head at that flow, a wider pipe, or narrower lips",
            ),
            Some(_) => {}
            None if shut_off <= duty.static_head_m => say(
                Severity::Error,
                format!(
                    "cannot lift the water: {} of lift, and its curve ends at {} of head",
                    scene.length(duty.static_head_m),
                    scene.length(shut_off)
                ),
                "take a pump with more head",
            ),
            None if pump.curve.first().is_some_and(|p| p.0 > 0.0) && shut_off < pipe.head_m => say(
                Severity::Error,
                format!(
                    "falls short: its curve begins at {} with {} of head, and through {} less flow than that is all it gives",
                    rate(scene, pump.curve[0].0),
                    scene.length(shut_off),
                    duty.pipe
                ),
                "give the curve from no flow on, or take a pump with more head",
            ),
            None => say(
                Severity::Warning,
                format!(
                    "gives more through {} than its curve shows: it ends at {}, and the pipe would take more",
                    duty.pipe,
                    rate(scene, end.0)
                ),
                "give the curve further on, or throttle it with a valve; run beyond its curve a pump overheats",
            ),
        }
    }
    let v = f::velocity(pipe.diameter_m, pipe.duty.map_or(feed.wanted, |d| d[0]));
    if v > pump.velocity * (1.0 + 1e-9) {
        say(
            Severity::Warning,
            format!(
                "the water runs {}/s in {}; {}/s is the limit",
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
                "starting lowers the water by {} and bares the intake by {}",
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
                    "topped up to its level while running, {} runs over when it stops: {} come back",
                    water.name,
                    super::cascade::water(scene, duty.stop_volume_m3)
                ),
                "top up with the pump stopped, or give the basin more freeboard, or an overflow pipe",
            ),
            Some(z) if water.freeboard_min_m - (z - water.level_m) < 0.5 * edge_above => say(
                Severity::Note,
                format!(
                    "topped up to its level while running, {} stands {} over it when it stops",
                    water.name,
                    scene.length(z - water.level_m)
                ),
                "top up with the pump stopped",
            ),
            Some(_) => {}
        }
    }
}
