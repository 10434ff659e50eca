//! Findings about the work as a whole: what can hurt someone, and what the soil does not allow.
//! Each caution defers to local code and licensed practice.

use crate::design::Yard;
use crate::design::ring::inner_point;
use crate::earthwork::sequence::Outcome;
use crate::findings::{About, Finding, Severity};
use crate::job::{ExcavationType, Job};
use crate::plan::{Kind, SoilBalance, Solid, Water};
use crate::terrain::predicates::P2;
use crate::units;

/// 29 CFR 1926.652(a)(1): a protective system from this depth on, or less where soil may cave in.
const PROTECT: f64 = 5.0 * 0.3048 - ROUNDING;
/// 29 CFR 1926.651(c)(2): a way out within 25 ft from this depth on.
const WAY_OUT: f64 = 4.0 * 0.3048 - ROUNDING;
/// 29 CFR 1926 Subpart P, App. B, Table B-1, note, and App. F: from this depth on a registered
/// professional engineer designs the protective system (from memory).
const DESIGNED: f64 = 20.0 * 0.3048 - ROUNDING;
/// A depth that is 5 ft on paper may come out a few digits less.
const ROUNDING: f64 = 1e-6;
/// Depth from which many local codes want a barrier around standing water: 18 to 24 in
/// (common practice, no source).
const DEEP_WATER: f64 = 18.0 * 0.0254;

/// Steepest slope allowed under 20 ft, run over rise: 29 CFR 1926 Subpart P, App. B, Table B-1.
pub fn steepest(kind: ExcavationType) -> f64 {
    match kind {
        ExcavationType::Rock => 0.0,
        ExcavationType::A => 0.75,
        ExcavationType::B => 1.0,
        ExcavationType::C => 1.5,
    }
}

/// Of what is dug and placed.
pub fn of_works(yard: &Yard, walls: &[Solid], dug: &Outcome, soil: &SoilBalance) -> Vec<Finding> {
    let mut list = Vec::new();
    if dug.volumes.iter().any(|v| v.cut_bank_m3 > 0.0) {
        list.push(Finding::new(
            Severity::Caution,
            "before digging",
            "buried services must be located and marked before any ground is broken",
            "call the locating service that your local code names, and dig by hand inside the tolerance zone",
        ));
    }
    excavations(yard, dug, &mut list);
    if soil.topsoil_under_fill_m3 > 0.01 {
        let named: Vec<String> = dug
            .volumes
            .iter()
            .filter(|v| v.topsoil_under_fill_m3 > 0.01)
            .map(|v| {
                let amount = units::format_volume(v.topsoil_under_fill_m3, yard.job.unit);
                format!("{} {amount}", v.name)
            })
            .collect();
        list.push(Finding::new(
            Severity::Note,
            "topsoil",
            format!(
                "stays under what is placed, and is counted nowhere: {}",
                named.join(", ")
            ),
            if yard.job.soil.strip_under_fills {
                "there the ground is not stripped: under what is taken back again, and under paving and walls; what is to stand for good there is laid on stripped ground (common practice)"
            } else {
                "soil that must stand or hold water is laid on stripped ground (common practice): strip it first, set it aside, and have as much more soil for the fill; `strip_under_fills: true` in the job's soil counts it so"
            },
        ));
    }
    paving(yard, dug, &mut list);
    undermined(yard, walls, dug, &mut list);
    list
}

/// Of the water that stands there in the end.
pub fn of_waters(job: &Job, waters: &[Water]) -> Vec<Finding> {
    let mut list = Vec::new();
    if !waters.is_empty() {
        list.push(Finding::new(
            Severity::Caution,
            "electricity",
            "pumps and lights near water can kill",
            "wiring by a licensed electrician, on a residual-current (ground-fault) protected circuit, to local code",
        ));
    }
    if let Some(deep) = waters
        .iter()
        .filter(|w| w.held && w.depth_max_m >= DEEP_WATER)
        .max_by(|a, b| a.depth_max_m.total_cmp(&b.depth_max_m))
    {
        list.push(Finding::new(
            Severity::Caution,
            deep.name.clone(),
            format!(
                "water {} deep: children drown in less",
                units::format_length(deep.depth_max_m, job.unit)
            ),
            "ask the local code about a barrier or fence around the water, during the work as well",
        ));
    }
    Finding::all_about(list, About::Water)
}

/// A dig as the rules see it: how deep, how steep at its steepest, and where.
struct Dig {
    name: String,
    depth: f64,
    at: Option<P2>,
    /// Run over rise of the steepest of its sides that the design gives.
    batter: Option<f64>,
}

/// Each feature that digs, as deep as it ends below the ground as surveyed, whatever was dug there
/// before it: the faces round it are that high.
fn digs(yard: &Yard, dug: &Outcome) -> Vec<Dig> {
    let d = &yard.job.design;
    let batter = |name: &str, kind: Kind| -> Option<f64> {
        match kind {
            Kind::Basin => {
                let basin = d.basins.iter().find(|b| b.name == name)?;
                // Edges with a batter of their own count by it; the common one only where it is used.
                let common =
                    (basin.edge_batters.len() < basin.outline.len()).then_some(basin.batter);
                let own = basin.edge_batters.iter().map(|e| e.1);
                Some(own.chain(common).fold(f64::INFINITY, f64::min))
            }
            Kind::Pit => {
                let mut pits = d.basins.iter().flat_map(|b| &b.pits);
                pits.find(|p| p.name == name).map(|p| p.batter)
            }
            Kind::Trench => d.trenches.iter().find(|t| t.name == name).map(|t| t.batter),
            Kind::Pad => d.pads.iter().find(|p| p.name == name).map(|p| p.batter),
            // Base trenches are dug upright.
            Kind::Wall => Some(0.0),
            _ => None,
        }
    };
    let deepest = dug.ground.deepest();
    let mut list: Vec<(Dig, Kind)> = Vec::new();
    for v in dug.volumes.iter().filter(|v| v.cut_bank_m3 > 0.0) {
        // What is filled again shows in the row of its digging only.
        let left = deepest
            .iter()
            .filter(|(maker, _)| {
                let by = &yard.makers.list[**maker as usize];
                by.name == v.name && by.kind == v.kind
            })
            .map(|(_, found)| *found)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .filter(|found| found.0 > v.depth_max_m);
        let (depth, at) = left.map_or((v.depth_max_m, None), |(depth, p)| (depth, Some(p)));
        match list
            .iter_mut()
            .find(|(dig, kind)| dig.name == v.name && *kind == v.kind)
        {
            Some((dig, _)) if dig.depth >= depth => {}
            Some((dig, _)) => (dig.depth, dig.at) = (depth, at),
            None => list.push((
                Dig {
                    name: v.name.clone(),
                    depth,
                    at,
                    batter: batter(&v.name, v.kind),
                },
                v.kind,
            )),
        }
    }
    list.into_iter().map(|(dig, _)| dig).collect()
}

fn excavations(yard: &Yard, dug: &Outcome, list: &mut Vec<Finding>) {
    let unit = |v: f64| units::format_length(v, yard.job.unit);
    let rule = |feet: u16| units::of_rule(feet, yard.job.unit);
    let kind = yard.job.soil.excavation_type;
    let digs = digs(yard, dug);
    let caution = |dig: &Dig, what: String, remedy: String| {
        let finding = Finding::new(Severity::Caution, dig.name.clone(), what, remedy);
        match dig.at {
            Some(p) => finding.at(p[0], p[1], dug.ground.elevation(p).unwrap_or(yard.bottom)),
            None => finding,
        }
    };
    let deepest = digs.iter().max_by(|a, b| a.depth.total_cmp(&b.depth));
    if let Some(dig) = deepest.filter(|d| d.depth >= WAY_OUT) {
        let depth = unit(dig.depth);
        let (what, remedy) = if dig.depth >= DESIGNED {
            (
                format!("is dug {depth} deep: from {} on, its protective system must be designed by a registered professional engineer (29 CFR 1926 Subpart P, App. B and F; from memory)", rule(20)),
                "no slope of this plan is enough there: stop until that design is at hand; local code and licensed practice rule".to_string(),
            )
        } else if dig.depth >= PROTECT {
            (
                format!("is dug {depth} deep: a protective system is required (29 CFR 1926.652)"),
                format!(
                    "slope it no steeper than {}:1 for this soil type, or shore it, under a competent person; a way out within {}; local code and licensed practice rule",
                    steepest(kind),
                    rule(25)
                ),
            )
        } else {
            (
                format!("is dug {depth} deep: a way out within {} of every worker is required (29 CFR 1926.651(c)(2))", rule(25)),
                "let a competent person look for signs of cave-in each day and after rain; local code rules".to_string(),
            )
        };
        list.push(caution(dig, what, remedy));
    }
    for dig in digs.iter().filter(|d| d.depth >= PROTECT) {
        let Some(batter) = dig.batter.filter(|&b| b < steepest(kind)) else {
            continue;
        };
        let sides = if batter > 0.0 {
            format!("its sides at {batter}:1 are")
        } else {
            "its upright sides are".to_string()
        };
        list.push(caution(
            dig,
            format!(
                "{} deep, and {sides} steeper than {}:1, the steepest for its soil type from {} (29 CFR 1926 Subpart P, Table B-1)",
                unit(dig.depth),
                steepest(kind),
                rule(5)
            ),
            "flatten the sides, shore them, or let a licensed engineer design them".to_string(),
        ));
    }
    if dug.volumes.iter().any(|v| v.depth_max_m > 0.3) {
        list.push(Finding::new(
            Severity::Caution,
            "spoil",
            "soil and machines at the edge can bring a face down",
            format!(
                "keep spoil at least {} back from every edge (29 CFR 1926.651(j)(2)), machines further",
                rule(2)
            ),
        ));
    }
    if yard.job.design.ramps.iter().any(|r| r.gradient > 0.0) {
        list.push(Finding::new(
            Severity::Caution,
            "ramp",
            "machines tip on ramps: the gradient allowed loaded, across and wet is the machine maker's, not this plan's",
            "keep to the manual; travel straight up and down, load uphill",
        ));
    }
}

/// Soil moved inside a ring, who by and where. The ring may lie in the middle of one large face: then
/// no corner of that lies in the ring, but all of the ring lies in it.
fn moved_in<'a>(ring: &[P2], yard: &'a Yard, dug: &Outcome) -> Vec<(&'a str, P2)> {
    let at = |p: P2| dug.ground.moved_at(p).map(|maker| (maker, p));
    let mut moved = dug.ground.moved_inside(ring);
    if moved.is_empty() {
        moved.extend(
            inner_point(ring)
                .and_then(at)
                .or_else(|| ring.iter().copied().find_map(at)),
        );
    }
    // Parts of one work are one mover.
    let mut named: Vec<(&str, P2)> = Vec::new();
    for (maker, p) in moved {
        let name = yard.makers.list[maker as usize].name.as_str();
        if !named.iter().any(|n| n.0 == name) {
            named.push((name, p));
        }
    }
    named
}

fn paving(yard: &Yard, dug: &Outcome, list: &mut Vec<Finding>) {
    for area in &yard.job.site.paving {
        let Ok(ring) = yard.ring(&area.outline) else {
            continue;
        };
        for (by, p) in moved_in(&ring, yard, dug) {
            list.push(
                Finding::new(
                    Severity::Note,
                    format!("paving {}", area.name),
                    format!("is broken up by {by}"),
                    "lift and store it first, or move the work",
                )
                .at(p[0], p[1], dug.ground.elevation(p).unwrap_or(yard.bottom)),
            );
        }
    }
}

/// Digs that reach under a slope of 1:1 down from a wall's foot take away what it stands on (common
/// practice, no source).
fn undermined(yard: &Yard, walls: &[Solid], dug: &Outcome, list: &mut Vec<Finding>) {
    for wall in walls.iter().chain(&dug.solids) {
        let n = wall.footprint.len();
        let mut worst: Option<(f64, f64, P2)> = None;
        for k in 0..n {
            let (a, b) = (wall.footprint[k], wall.footprint[(k + 1) % n]);
            let length = (b[0] - a[0]).hypot(b[1] - a[1]);
            let steps = (length / 0.5).ceil().clamp(1.0, 200.0) as usize;
            for step in 0..steps {
                let f = (step as f64 + 0.5) / steps as f64;
                for out in [0.05, 0.4, 0.8, 1.2] {
                    let off = out / length.max(1e-9);
                    let p = [
                        a[0] + f * (b[0] - a[0]) + off * (b[1] - a[1]),
                        a[1] + f * (b[1] - a[1]) - off * (b[0] - a[0]),
                    ];
                    let Some(z) = dug.ground.elevation(p) else {
                        continue;
                    };
                    let under = wall.base - z;
                    if under > out + 0.03
                        && worst.is_none_or(|w| under > w.0)
                        && dug.ground.moved_at(p).is_some()
                    {
                        worst = Some((under, out, p));
                    }
                }
            }
        }
        if let Some((under, out, p)) = worst {
            list.push(
                Finding::new(
                    Severity::Warning,
                    format!("wall {}", wall.name),
                    format!(
                        "the ground is dug {} below its foot only {} away: it may lose its footing",
                        yard.length(under),
                        yard.length(out)
                    ),
                    "stay outside a slope of 1:1 down from its foot, set its foot deeper, or let a licensed engineer design it",
                )
                .at(p[0], p[1], wall.base - under),
            );
        }
    }
}
