//! Findings about what must not be hurt: buried services, keep-outs, the roots of trees to keep.
//! What each work does near them was seen while it was done (`earthwork::watch`).
//!
//! Lengths and elevations in metres. A locate mark is not a licence to dig: local code and the
//! owner of the service rule.

use std::f64::consts::TAU;

use crate::design::Yard;
use crate::earthwork::Mosaic;
use crate::earthwork::watch::{Area, InArea, Line, NearLine, Watch, profile};
use crate::findings::{About, Finding, Severity};
use crate::job::Tree;
use crate::terrain::predicates::P2;
use crate::units;

/// Share of its root zone from which a cut puts a tree at risk (common practice, no source).
const MUCH: f64 = 0.25;
/// Corners of a root zone drawn as a polygon of the same area.
const CORNERS: usize = 64;

/// What is watched: the lines and areas of [`Watch`] in this order, and what could not be.
pub struct Guards {
    services: Vec<usize>,
    keep_outs: Vec<usize>,
    trees: Vec<(usize, P2)>,
    findings: Vec<Finding>,
}

/// A circle as a ring of the same area.
pub fn circle(at: P2, radius: f64) -> Vec<P2> {
    let n = CORNERS as f64;
    let r = radius * (TAU / (n * (TAU / n).sin())).sqrt();
    (0..CORNERS)
        .map(|k| {
            let (sin, cos) = (TAU * k as f64 / n).sin_cos();
            [at[0] + r * cos, at[1] + r * sin]
        })
        .collect()
}

/// What is to be watched, from the ground before any work.
pub fn watch(yard: &Yard, ground: &Mosaic) -> (Guards, Watch) {
    let mut watch = Watch::default();
    let mut guards = Guards {
        services: Vec::new(),
        keep_outs: Vec::new(),
        trees: Vec::new(),
        findings: Vec::new(),
    };
    let site = &yard.job.site;
    let blind = |place: String, why: String, remedy: &str| {
        Finding::new(
            Severity::Error,
            place,
            format!("is not watched: {why}"),
            remedy,
        )
    };
    for (k, service) in site.services.iter().enumerate() {
        let place = format!("service {}", service.name);
        match yard.line(&service.line) {
            Ok(line) => {
                let mut points = profile(ground, &line);
                points.iter_mut().for_each(|p| p[2] -= service.depth);
                if points.len() < 2 {
                    guards.findings.push(
                        Finding::new(
                            Severity::Note,
                            place,
                            "runs outside the surveyed ground: no work is checked against it",
                            "shoot the ground over it if any digging comes near",
                        )
                        .at(line[0][0], line[0][1], yard.top),
                    );
                    continue;
                }
                watch.lines.push(Line {
                    points,
                    tolerance: service.tolerance,
                });
                guards.services.push(k);
            }
            Err(why) => guards.findings.push(blind(place, why, "mend its line")),
        }
    }
    for (k, area) in site.keep_outs.iter().enumerate() {
        match yard.ring(&area.outline) {
            Ok(ring) => {
                watch.areas.push(Area::of(&ring));
                guards.keep_outs.push(k);
            }
            Err(why) => guards.findings.push(blind(
                format!("keep-out {}", area.name),
                why,
                "mend its outline",
            )),
        }
    }
    for (k, tree) in site.trees.iter().enumerate() {
        match yard.place(&tree.at) {
            Ok(at) => {
                watch.areas.push(Area::of(&circle(at, tree.protected())));
                guards.trees.push((k, at));
            }
            Err(why) => {
                guards
                    .findings
                    .push(blind(format!("tree {}", tree.name), why, "mend its place"))
            }
        }
    }
    (guards, watch)
}

/// What the works came to.
pub fn of(guards: Guards, watch: &Watch, yard: &Yard, ground: &Mosaic) -> Vec<Finding> {
    let mut list = guards.findings;
    let site = &yard.job.site;
    for near in &watch.near {
        let service = &site.services[guards.services[near.line]];
        list.push(service_met(
            near,
            &service.name,
            &service.kind,
            service.tolerance,
            service.depth,
            yard,
        ));
    }
    for met in &watch.inside {
        if met.area < guards.keep_outs.len() {
            let name = &site.keep_outs[guards.keep_outs[met.area]].name;
            list.push(keep_out_met(met, name, yard, ground));
        } else {
            let (k, _) = guards.trees[met.area - guards.keep_outs.len()];
            let zone = watch.areas[met.area].size();
            list.push(tree_met(met, &site.trees[k], zone, yard, ground));
        }
    }
    for &(k, at) in &guards.trees {
        list.extend(driven_over(&site.trees[k], at, yard, ground));
    }
    Finding::all_about(list, About::Guarded)
}

/// "pipe run", with its stage if there is one.
fn work(name: &str, stage: &str) -> String {
    if stage.is_empty() {
        name.to_string()
    } else {
        format!("{name} (stage {stage})")
    }
}

fn service_met(
    near: &NearLine,
    name: &str,
    kind: &str,
    tolerance: f64,
    depth: f64,
    yard: &Yard,
) -> Finding {
    let unit = |v: f64| units::format_length(v, yard.job.unit);
    let kind = if kind.is_empty() { "service" } else { kind };
    let a = &near.approach;
    let by = work(&near.work, &near.stage);
    let bottom = a.on_body[2];
    let what = if a.distance > 0.0 {
        format!(
            "{by} digs to elevation {} and comes within {} of the {kind} as stated ({} deep, top at {}), inside its tolerance of {}",
            unit(bottom),
            unit(a.distance),
            unit(depth),
            unit(a.on_line[2]),
            unit(tolerance)
        )
    } else {
        format!(
            "{by} digs to elevation {}, which is {} deeper than the top of the {kind} as stated ({} deep, at {})",
            unit(bottom),
            unit(a.below),
            unit(depth),
            unit(a.on_line[2])
        )
    };
    Finding::new(
        Severity::Warning,
        format!("service {name}"),
        what,
        format!(
            "no machine within {} of it on any side: have it located and exposed by hand by its owner's rules, move it, or move the dig",
            unit(tolerance)
        ),
    )
    .at(a.on_line[0], a.on_line[1], a.on_line[2])
}

/// "cut 0.40 ft deep over 12 ft²", "filled …", or both.
fn moved(met: &InArea, yard: &Yard) -> String {
    let unit = |v: f64| units::format_length(v, yard.job.unit);
    let area = |v: f64| units::format_area(v, yard.job.unit);
    let mut said: Vec<String> = Vec::new();
    if met.cut.area > 0.0 {
        said.push(format!(
            "cut up to {} deep over {}",
            unit(met.cut.most),
            area(met.cut.area)
        ));
    }
    if met.fill.area > 0.0 {
        said.push(format!(
            "filled up to {} high over {}",
            unit(met.fill.most),
            area(met.fill.area)
        ));
    }
    said.join(", and ")
}

/// Where it goes deepest, else highest.
fn place(met: &InArea) -> P2 {
    if met.cut.area > 0.0 {
        met.cut.at
    } else {
        met.fill.at
    }
}

fn keep_out_met(met: &InArea, name: &str, yard: &Yard, ground: &Mosaic) -> Finding {
    let p = place(met);
    let stage = if met.stage.is_empty() {
        String::new()
    } else {
        format!(" (stage {})", met.stage)
    };
    Finding::new(
        Severity::Warning,
        format!("keep-out {name}"),
        format!(
            "soil is moved inside it by {}{stage}: {}",
            met.work,
            moved(met, yard)
        ),
        "move the work, or make its slopes steeper there",
    )
    .at(p[0], p[1], ground.elevation(p).unwrap_or(yard.bottom))
}

fn tree_met(met: &InArea, tree: &Tree, zone: f64, yard: &Yard, ground: &Mosaic) -> Finding {
    let p = place(met);
    let unit = |v: f64| units::format_length(v, yard.job.unit);
    let share = met.cut.area.max(met.fill.area) / zone.max(1e-9);
    let risk = if met.cut.area / zone.max(1e-9) >= MUCH {
        "; so much cut root can kill or topple a tree"
    } else {
        ""
    };
    Finding::new(
        Severity::Warning,
        format!("tree {}", tree.name),
        format!(
            "{} works in its root zone ({} round the trunk): {}, {:.0} % of the zone{risk}",
            work(&met.work, &met.stage),
            unit(tree.protected()),
            moved(met, yard),
            100.0 * share
        ),
        "move the work out of the zone; else dig by hand, cut roots clean, keep fill off, and ask an arborist first (common practice, no source)",
    )
    .at(p[0], p[1], ground.elevation(p).unwrap_or(yard.bottom))
}

/// The way in, where it runs over roots: wheels press the soil that they breathe through.
fn driven_over(tree: &Tree, at: P2, yard: &Yard, ground: &Mosaic) -> Option<Finding> {
    let access = yard.job.site.access.as_ref()?;
    let line = yard.line(&access.line).ok()?;
    let reach = tree.protected() + 0.5 * access.width;
    let mut over = 0.0;
    let mut nearest = (f64::INFINITY, at);
    for w in line.windows(2) {
        let d = [w[1][0] - w[0][0], w[1][1] - w[0][1]];
        let length = d[0].hypot(d[1]);
        let f = ((at[0] - w[0][0]) * d[0] + (at[1] - w[0][1]) * d[1]) / (length * length);
        let off = ((at[0] - w[0][0]) * d[1] - (at[1] - w[0][1]) * d[0]).abs() / length;
        if off < reach {
            // The stretch within reach, as shares of this leg.
            let half = (reach * reach - off * off).sqrt() / length;
            over += ((f + half).min(1.0) - (f - half).max(0.0)).max(0.0) * length;
        }
        let f = f.clamp(0.0, 1.0);
        let p = [w[0][0] + f * d[0], w[0][1] + f * d[1]];
        let off = (p[0] - at[0]).hypot(p[1] - at[1]);
        if off < nearest.0 {
            nearest = (off, p);
        }
    }
    if over < 0.01 {
        return None;
    }
    let unit = |v: f64| units::format_length(v, yard.job.unit);
    let p = nearest.1;
    Some(
        Finding::new(
            Severity::Warning,
            format!("tree {}", tree.name),
            format!(
                "the way in runs over its root zone for {}, as near as {} to the trunk; wheels press the soil and kill roots",
                unit(over),
                unit((nearest.0 - 0.5 * access.width).max(0.0))
            ),
            "move the way in, or lay boards or matting on a deep bed of wood chips first (common practice, no source)",
        )
        .at(p[0], p[1], ground.elevation(p).unwrap_or(yard.bottom)),
    )
}
