//! Flow over the lips: heads, sheets, freeboard and splash; and with it the pumps that feed them.
//!
//! A lip of this design is a level sill: its head is taken by Francis (sharp crest, contracted) and as
//! a broad crest (critical at its brink, friction along the sill by Manning); the greater counts.
//! Where the water below stands over the crest, nothing falls: the lip is drowned, and its pool stands
//! as high as Villemonte's reduction of the weir's flow asks for.

use rustc_hash::FxHashMap;

use super::Scene;
use super::basins::Curves;
use super::formulas::{self as f, LEAST_HEAD};
use super::pump::{self, Beside, Feed};
use crate::design;
use crate::findings::{About, Finding, Severity};
use crate::job::Cascade;
use crate::plan::{CascadeFlow, FlowIs, LipFlow, PumpDuty};
use crate::terrain::line;
use crate::terrain::predicates::P2;
use crate::units;

/// Pumps that share a basin are settled by going round at most so often.
const ROUNDS: usize = 20;

pub fn of(
    scene: &Scene,
    curves: &Curves,
    findings: &mut Vec<Finding>,
) -> (Vec<CascadeFlow>, Vec<PumpDuty>) {
    // What one pump of a basin takes lowers the water that the others draw from.
    let mut beside = FxHashMap::default();
    let mut round = 1;
    loop {
        let mut found = Vec::new();
        let (flows, duties) = beside_others(scene, curves, &beside, &mut found);
        let next = Beside::of(scene.job, &duties);
        let same =
            |(name, b): (&String, &Beside)| beside.get(name).is_some_and(|a: &Beside| a.is_near(b));
        if round == ROUNDS || (next.len() == beside.len() && next.iter().all(same)) {
            findings.extend(found);
            return (flows, duties);
        }
        beside = next;
        round += 1;
    }
}

/// The flows and pumps, given what the others of its basin do to the water of each.
fn beside_others(
    scene: &Scene,
    curves: &Curves,
    beside: &FxHashMap<String, Beside>,
    findings: &mut Vec<Finding>,
) -> (Vec<CascadeFlow>, Vec<PumpDuty>) {
    let alone = Beside::default();
    let mut flows = Vec::new();
    let mut duties = Vec::new();
    for pump in &scene.job.plumbing.pumps {
        if !scene
            .job
            .design
            .cascades
            .iter()
            .any(|c| c.name == pump.cascade)
        {
            findings.push(
                Finding::new(
                    Severity::Error,
                    pump.name.clone(),
                    format!("feeds {}, which is no cascade", pump.cascade),
                    "give the name of a cascade",
                )
                .about(About::Pump),
            );
        }
    }
    for cascade in &scene.job.design.cascades {
        let pumps: Vec<_> = scene
            .job
            .plumbing
            .pumps
            .iter()
            .filter(|p| p.cascade == cascade.name)
            .collect();
        if let Some(second) = pumps.get(1) {
            findings.push(Finding::new(
                Severity::Error,
                second.name.clone(),
                format!("feeds {} together with {}; they are not reckoned together", cascade.name, pumps[0].name),
                "give one pump for each cascade; for two alike side by side, one pump with the sum of their flows",
            )
            .about(About::Pump));
        }
        let Some(levels) = pool_levels(scene, cascade) else {
            let dry = |p: &&str| scene.water(p).is_none_or(|w| !w.0.held);
            let names = cascade.pools.iter().map(|p| p.name.as_str());
            let dry: Vec<&str> = names.filter(dry).collect();
            let pump = match pumps.first() {
                Some(p) => format!(", nor is {}", p.name),
                None => String::new(),
            };
            findings.push(
                Finding::new(
                    Severity::Note,
                    format!("cascade {}", cascade.name),
                    format!(
                        "its flow is not reckoned{pump}: no water stands in {}",
                        dry.join(", ")
                    ),
                    "mend what the findings say of it and of the water there",
                )
                .about(About::Water),
            );
            continue;
        };
        let wanted = cascade
            .pools
            .iter()
            .map(|p| p.lip_width)
            .fold(0.0, f64::max)
            * scene.job.plumbing.lip_flow;
        let flow_at = |flow: f64, below: f64| lay(scene, cascade, flow, below);
        let rest = scene
            .water(&cascade.into)
            .filter(|w| w.0.held)
            .map_or(f64::NEG_INFINITY, |w| w.0.level_m);
        let mut made = match pumps.first() {
            None => {
                let mut made = flow_at(wanted, rest);
                made.flow_from = "by the widest lip, as no pump is given".into();
                made
            }
            Some(p) => {
                let feed = Feed {
                    cascade,
                    top: levels[0],
                    wanted: p.flow.unwrap_or(wanted),
                };
                let others = beside.get(&p.name).unwrap_or(&alone);
                match pump::duty(scene, p, &feed, others, curves, findings, &flow_at) {
                    None => {
                        let mut made = flow_at(feed.wanted, rest);
                        made.flow_from = format!(
                            "as wanted of {}: what it gives is not known, see the findings",
                            p.name
                        );
                        made
                    }
                    Some(duty) => {
                        let is = duty.flow_is;
                        let through = format!("{} gives through {}", p.name, duty.pipe);
                        let laid = (is != FlowIs::Nothing)
                            .then(|| flow_at(duty.flow_m3_s, duty.running_level_m));
                        duties.push(duty);
                        let Some(mut made) = laid else {
                            continue;
                        };
                        made.at_least = is == FlowIs::AtLeast;
                        made.flow_from = match is {
                            FlowIs::Duty => format!("what {through}"),
                            FlowIs::AtLeast => {
                                format!("the least that {through}: its curve ends there")
                            }
                            _ => format!("as wanted of {}: no curve tells what it gives", p.name),
                        };
                        made
                    }
                }
            }
        };
        for (k, lip) in made.lips.iter_mut().enumerate() {
            if lip.drowned_m.is_some() {
                continue;
            }
            let below = cascade.pools.get(k + 1).map_or(&cascade.into, |p| &p.name);
            lip.splash_room_m = splash_room(scene, cascade, k, below);
        }
        report(scene, cascade, &made, findings);
        flows.push(made);
    }
    (flows, duties)
}

/// The level of each pool, where they all hold water.
fn pool_levels(scene: &Scene, cascade: &Cascade) -> Option<Vec<f64>> {
    cascade
        .pools
        .iter()
        .map(|p| {
            scene
                .water(&p.name)
                .filter(|w| w.0.held)
                .map(|w| w.0.level_m)
        })
        .collect()
}

/// The cascade with a flow running into water that stands at `below`: from the last lip up, for what
/// stands in a pool may drown the lip over it.
fn lay(scene: &Scene, cascade: &Cascade, flow: f64, mut below: f64) -> CascadeFlow {
    let plumbing = &scene.job.plumbing;
    let mut made = CascadeFlow {
        cascade: cascade.name.clone(),
        flow_m3_s: flow,
        at_least: false,
        flow_from: String::new(),
        lips: Vec::new(),
        in_pools_m3: 0.0,
        on_sills_m3: 0.0,
        in_air_m3: 0.0,
    };
    for pool in cascade.pools.iter().rev() {
        let water = scene.water(&pool.name).map(|w| w.0);
        let width = pool.lip_width;
        let brink = f::critical_depth(width, flow);
        let crest_flow = f::level_sill(width, pool.sill, flow, plumbing.bed_n);
        let (sill, depth) = (crest_flow.head, crest_flow.depth);
        let friction = sill - 1.5 * brink;
        // Too narrow for Francis at any head: the broad crest still says how high.
        let francis = f::francis_head(width, flow).unwrap_or(f64::INFINITY);
        let free = if francis.is_finite() {
            francis.max(sill)
        } else {
            sill
        };
        let area = water.map_or(0.0, |w| w.area_m2);
        let crest = water.map_or(0.0, |w| w.freeboard_min_m);
        let level = water.map(|w| w.level_m);
        let drowned = level.map(|z| below - z).filter(|over| *over > 0.0);
        let head = match drowned {
            Some(over) => f::drowned_head(width, flow, over)
                .unwrap_or(over)
                .max(free)
                .max(over),
            None => free,
        };
        made.in_pools_m3 += area * head;
        made.on_sills_m3 += width * pool.sill * drowned.map_or(depth, |over| 0.5 * (over + head));
        if drowned.is_none() {
            made.in_air_m3 += flow * (2.0 * pool.drop / f::G).sqrt();
        }
        let falling = |v: f64| drowned.is_none().then_some(v);
        made.lips.push(LipFlow {
            pool: pool.name.clone(),
            width_m: width,
            drop_m: pool.drop,
            wanted_m3_s: width * plumbing.lip_flow,
            drowned_m: drowned,
            francis_m: falling(francis),
            brink_m: falling(brink),
            sill_m: falling(sill),
            sill_depth_m: falling(depth),
            head_m: head,
            friction_m: falling(friction),
            pool_velocity_m_s: flow
                / (pool.width * (pool.depth + head) - pool.batter * pool.depth.powi(2)),
            brink_velocity_m_s: falling(flow / (width * brink)),
            freeboard_m: crest - head,
            splash_room_m: None,
            in_range: drowned.is_none()
                && francis.is_finite()
                && head >= LEAST_HEAD
                && head <= width / 3.0,
        });
        below = level.map_or(f64::NEG_INFINITY, |z| z + head);
    }
    made.lips.reverse();
    made
}

/// From the side of the falling sheet to the edge of the water that it falls into, the nearer side.
fn splash_room(scene: &Scene, cascade: &Cascade, k: usize, below: &str) -> Option<f64> {
    let survey = &scene.plan.survey;
    let line = survey
        .line(&cascade.centreline, &scene.job.field_book)
        .ok()?;
    let run: f64 = cascade.pools[..=k].iter().map(|p| p.length).sum();
    let lip = run * design::cascade::stretch(cascade, &line);
    // A hand's breadth beyond the lip, where the sheet lands, square to the line.
    let water = scene.water(below)?.0;
    let (before, at) = (line::at(&line, lip - 0.01), line::at(&line, lip));
    let step = line::dist(before, at).max(1e-9);
    let along = [at[0] - before[0], at[1] - before[1]].map(|v| v / step);
    let inside = |p: P2| {
        water
            .sheet
            .iter()
            .any(|t| crate::terrain::predicates::in_ring(t, p))
    };
    // The last lip may end short of the water: up to 2 ft on.
    let landing = (1..=12)
        .map(|s| 0.05 * f64::from(s))
        .map(|d| [at[0] + d * along[0], at[1] + d * along[1]])
        .find(|p| inside(*p))
        // A hand further on, clear of the water's very edge.
        .map(|p| [p[0] + 0.15 * along[0], p[1] + 0.15 * along[1]])?;
    let side = [-along[1], along[0]];
    let reach = |sign: f64| {
        let mut far = f64::INFINITY;
        for ring in &water.edge {
            for i in 0..ring.len() {
                let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                let (d, e) = ([sign * side[0], sign * side[1]], [b[0] - a[0], b[1] - a[1]]);
                let cross = d[0] * e[1] - d[1] * e[0];
                if cross.abs() < 1e-12 {
                    continue;
                }
                let r = [a[0] - landing[0], a[1] - landing[1]];
                let t = (r[0] * e[1] - r[1] * e[0]) / cross;
                let u = (r[0] * d[1] - r[1] * d[0]) / cross;
                if t > 0.0 && (0.0..=1.0).contains(&u) {
                    far = far.min(t);
                }
            }
        }
        far
    };
    let room = reach(1.0).min(reach(-1.0)) - 0.5 * cascade.pools[k].lip_width;
    room.is_finite().then_some(room)
}

fn report(scene: &Scene, cascade: &Cascade, made: &CascadeFlow, findings: &mut Vec<Finding>) {
    let splash = scene.job.plumbing.splash;
    for lip in &made.lips {
        let Some((water, _)) = scene.water(&lip.pool) else {
            continue;
        };
        if let Some(over) = lip.drowned_m {
            let mut pools = cascade.pools.iter().skip_while(|p| p.name != lip.pool);
            let next = pools.nth(1);
            let below = next.map_or(&cascade.into, |p| &p.name);
            let what = format!(
                "its lip is drowned: with the flow running {below} stands {} over it, and nothing falls there; the pool stands {} over its lip (Villemonte)",
                scene.length(over),
                scene.length(lip.head_m)
            );
            let remedy = if next.is_some() {
                "give it more drop, make the lip below wider, or the flow less"
            } else {
                "give it more drop: set the falls higher over the water, or lower the water"
            };
            // A pool runs over at its lip.
            let [x, y] = water.spill_at;
            findings.push(
                Finding::new(
                    Severity::Warning,
                    format!("pool {}", lip.pool),
                    what,
                    remedy,
                )
                .about(About::Water)
                .at(x, y, water.level_m),
            );
        }
        let [x, y] = water.freeboard_at;
        let mut say = |severity, what: String, remedy: &str| {
            findings.push(
                Finding::new(severity, format!("pool {}", lip.pool), what, remedy)
                    .about(About::Water)
                    .at(x, y, water.level_m),
            );
        };
        if lip.freeboard_m <= 0.0 {
            say(
                Severity::Error,
                format!(
                    "with the flow running the water stands {} over its lip and runs over the berm beside it",
                    scene.length(lip.head_m)
                ),
                "make the lip wider, the berm higher or the flow less",
            );
        } else if lip.freeboard_m < 0.5 * cascade.berm.freeboard {
            say(
                Severity::Warning,
                format!(
                    "with the flow running only {} of its {} of freeboard are left",
                    scene.length(lip.freeboard_m),
                    scene.length(cascade.berm.freeboard)
                ),
                "make the lip wider, the berm higher or the flow less; leaves in the lip raise it further",
            );
        }
        if made.flow_m3_s < lip.wanted_m3_s * (1.0 - 1e-9) {
            say(
                Severity::Note,
                format!(
                    "its lip of {} gets {}{} of the flow that its width asks for",
                    scene.length(lip.width_m),
                    if made.at_least { "at least " } else { "" },
                    percent(made.flow_m3_s / lip.wanted_m3_s)
                ),
                "make the lip narrower, or take a pump that gives more; a thin sheet clings to the stone",
            );
        }
        if let Some(room) = lip.splash_room_m
            && room < 0.0
        {
            say(
                Severity::Note,
                format!(
                    "where the sheet from its lip lands, the water's edge cuts across it: {} of it fall on the bank",
                    scene.length(-room)
                ),
                "line the bank there up past the splash, and set a stone that turns the water in; or run the lip out over the water",
            );
        } else if let Some(room) = lip.splash_room_m
            && room < splash - 0.005
        {
            say(
                Severity::Note,
                format!(
                    "the water below its lip reaches only {} beside the falling sheet; splash goes {} (common practice)",
                    scene.length(room),
                    scene.length(splash)
                ),
                "carry the liner up the berm beside the fall that far and let it drain back, or water is lost there",
            );
        }
    }
}

pub fn percent(share: f64) -> String {
    format!("{:.0}%", 100.0 * share)
}

/// So many gallons or litres, for findings.
pub fn water(scene: &Scene, m3: f64) -> String {
    match scene.job.unit {
        crate::job::Unit::Foot => format!("{:.0} gal", m3 / units::GALLON),
        crate::job::Unit::Metre => format!("{:.0} L", m3 * 1000.0),
    }
}

/// So much an hour, for findings.
pub fn rate(scene: &Scene, m3_s: f64) -> String {
    format!("{}/h", water(scene, m3_s * 3600.0))
}
