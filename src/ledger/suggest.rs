//! Where a pile would fit and cost least: a search over the yard, for the command only (it takes
//! some milliseconds for each kind of soil). Metres.
//!
//! Cost is what is carried to and from the pile times how far, as the crow flies. A place fits if the
//! heap itself, laid on the ground there, meets nothing that a pile is refused for, and no work.

use rustc_hash::FxHashSet;

use super::heap::{Crest, heap};
use super::piles::{apart_of, in_the_way};
use crate::job::Job;
use crate::plan::{Kind, MarkKind, PilePlace, Plan, SoilKind};
use crate::terrain::Probe;
use crate::terrain::predicates::{P2, from_line, in_ring};

/// Side of the search's squares.
const STEP: f64 = 0.75;
/// So many places are tried, cheapest first.
const TRIES: usize = 40;

/// The best place for each kind of soil that lies about, one after the other: each keeps off those
/// found before it.
pub fn places(job: &Job, plan: &Plan) -> Vec<PilePlace> {
    let mut taken = Vec::new();
    SoilKind::ALL
        .iter()
        .filter_map(|&kind| place(job, plan, kind, &mut taken))
        .collect()
}

/// `taken`: triangles in plan that no heap may touch, to which the one found is added.
fn place(job: &Job, plan: &Plan, kind: SoilKind, taken: &mut Vec<[P2; 3]>) -> Option<PilePlace> {
    let lies = |s: &crate::plan::LedgerStage| -> f64 {
        s.lying
            .iter()
            .filter(|l| l.soil == kind && l.state == crate::plan::State::Loose)
            .map(|l| l.volume_m3)
            .sum()
    };
    let loose = plan.ledger.stages.iter().map(lies).fold(0.0, f64::max);
    let soil = plan.ledger.soils.iter().find(|s| s.kind == kind)?;
    if loose < 0.1 {
        return None;
    }
    let carried = carried(plan, kind);
    let cost = |p: P2| -> f64 {
        carried
            .iter()
            .map(|(at, bank)| bank * (at[0] - p[0]).hypot(at[1] - p[1]))
            .sum()
    };
    let slope = soil.repose_deg.to_radians().tan();
    let radius = (3.0 * loose / (std::f64::consts::PI * slope)).cbrt();
    let mut worked: Vec<[P2; 3]> = works(plan);
    worked.extend_from_slice(taken);
    let probe = Probe::new(&plan.existing);
    let [low, high] = plan.existing.bounds()?;
    let mut tries: Vec<(f64, P2)> = Vec::new();
    let (columns, rows) = (
        ((high[0] - low[0]) / STEP) as usize,
        ((high[1] - low[1]) / STEP) as usize,
    );
    // A yard so large that this takes long is searched more coarsely.
    let every = (columns * rows / 20_000 + 1).isqrt().max(1);
    for i in (0..=columns).step_by(every) {
        for j in (0..=rows).step_by(every) {
            let p = [low[0] + i as f64 * STEP, low[1] + j as f64 * STEP];
            if probe.sound(p).is_some() {
                tries.push((cost(p), p));
            }
        }
    }
    tries.sort_by(|a, b| a.0.total_cmp(&b.0));
    let barred = barred(job, plan);
    let mut tried = 0;
    for (cost, p) in tries {
        // Roughly first: most of the disc that the heap would take on level ground.
        let disc = 0.9 * radius;
        let within = |line: &[P2], closed: bool, more: f64| {
            let n = line.len();
            let edges = if closed { n } else { n.saturating_sub(1) };
            (closed && in_ring(line, p))
                || (0..edges).any(|k| from_line(p, line[k], line[(k + 1) % n]) < disc + more)
        };
        if worked.iter().any(|t| within(t, true, 0.0))
            || barred
                .iter()
                .any(|(line, closed, more)| within(line, *closed, *more))
            || (0..12).any(|k| {
                let a = f64::from(k) * std::f64::consts::TAU / 12.0;
                probe
                    .sound([p[0] + disc * a.cos(), p[1] + disc * a.sin()])
                    .is_none()
            })
        {
            continue;
        }
        tried += 1;
        if tried > TRIES {
            return None;
        }
        let Some(found) = heap(&plan.existing, &Crest::Cone(p), soil.repose_deg, loose) else {
            continue;
        };
        let foot: Vec<[P2; 3]> = found.mesh.iter().map(|t| t.map(|p| [p[0], p[1]])).collect();
        let reach = foot
            .iter()
            .flatten()
            .map(|q| (q[0] - p[0]).hypot(q[1] - p[1]))
            .fold(0.0, f64::max);
        let mut near = worked
            .iter()
            .filter(|w| (0..3).any(|k| from_line(p, w[k], w[(k + 1) % 3]) < reach));
        if near.any(|w| foot.iter().any(|t| apart_of(t, w, true) <= 0.0)) {
            continue;
        }
        if in_the_way(job, plan, "", loose, &found, None).is_empty() {
            taken.extend(foot);
            let all: f64 = carried.iter().map(|c| c.1).sum();
            return Some(PilePlace {
                soil: kind,
                at: p,
                loose_m3: loose,
                height_m: found.height,
                area_m2: found.area,
                carry_m: if all > 0.0 { cost / all } else { 0.0 },
            });
        }
    }
    None
}

/// Lines and rings that a pile keeps off, and how far besides.
fn barred(job: &Job, plan: &Plan) -> Vec<(Vec<P2>, bool, f64)> {
    let marks = plan.marks.iter().filter_map(|m| {
        let more = match m.kind {
            MarkKind::Service => job
                .site
                .services
                .iter()
                .find(|s| s.name == m.name)
                .map_or(0.6, |s| s.tolerance),
            MarkKind::KeepOut | MarkKind::House | MarkKind::Paving | MarkKind::Tree => 0.0,
            _ => return None,
        };
        Some((m.line.clone(), m.closed, more))
    });
    let walls = plan
        .solids
        .iter()
        .map(|w| (w.footprint.clone(), true, w.cap - w.base));
    marks.chain(walls).collect()
}

/// What of the kind is dug or placed, and where.
fn carried(plan: &Plan, kind: SoilKind) -> Vec<(P2, f64)> {
    let mut list = Vec::new();
    for v in &plan.volumes.by_feature {
        let dug = match kind {
            SoilKind::Subsoil => {
                v.cut_bank_m3 - v.topsoil_bank_m3 - v.unfit_bank_m3 + v.redug_compacted_m3
            }
            SoilKind::Topsoil => v.topsoil_bank_m3,
            SoilKind::Unfit => v.unfit_bank_m3,
        };
        list.extend(v.cut_at.filter(|_| dug > 0.0).map(|at| (at, dug)));
        if kind == SoilKind::Subsoil {
            list.extend(v.fill_at.map(|at| (at, v.fill_compacted_m3)));
        }
    }
    list
}

/// Triangles of whatever the works change, in plan.
fn works(plan: &Plan) -> Vec<[P2; 3]> {
    let mut seen: FxHashSet<[u64; 2]> = FxHashSet::default();
    let mut list = Vec::new();
    for surface in [&plan.dug, &plan.finished] {
        for (t, &maker) in surface.made_by.iter().enumerate() {
            let ground = plan
                .makers
                .get(usize::from(maker))
                .is_none_or(|m| matches!(m.kind, Kind::Ground | Kind::StandingWall));
            if ground {
                continue;
            }
            let c = surface.corners(t);
            let key = [
                (c[0][0] + c[1][0] + c[2][0]).to_bits(),
                (c[0][1] + c[1][1] + c[2][1]).to_bits(),
            ];
            if seen.insert(key) {
                list.push(c.map(|p| [p[0], p[1]]));
            }
        }
    }
    list
}
