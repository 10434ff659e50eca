//! The list that the crew follows: from what goes along each way to loads, hours and sums.

use crate::earthwork::balance::{load, loads};
use crate::findings::{Finding, Severity};
use crate::job::{Job, SoilClass};
use crate::plan::{
    ArcKind, BESIDE, BY_HAND, CarrierSum, Haul, HaulModel, Haulage, STREET, SoilKind,
};

use super::flows::{NOTHING, Ways};
use super::paths::REACH;

/// Lines of the list with what orders them: stage, work, and topsoil first, since it comes off first.
pub(super) type Lines = Vec<((usize, usize, bool), Haul)>;

/// Adds what a solved model sends along each way to the lines, and to the sums.
pub(super) fn add(
    job: &Job,
    model: &HaulModel,
    ways: &Ways,
    (kind, class): (SoilKind, &SoilClass),
    lines: &mut Lines,
    out: &mut Haulage,
) {
    let each = load(&job.soil, class.loose_density);
    // Away and in, stage by stage: a truck does not wait for the next.
    let mut trucked = vec![[0.0f64; 2]; model.stages.len()];
    for a in &model.arcs {
        if a.bank_m3 < NOTHING {
            continue;
        }
        let carrier = &ways.carriers[a.by];
        let way = &ways.list[a.way];
        let pile = || model.piles[0].name.clone();
        let source = |i: usize| (model.sources[i].order, model.sources[i].name.clone());
        let sink = |j: usize| (model.sinks[j].order, model.sinks[j].name.clone());
        let (order, from, to) = match a.kind {
            ArcKind::Direct => {
                let (order, to) = sink(a.to);
                (order, source(a.from).1, to)
            }
            ArcKind::ToPile => {
                let (order, from) = source(a.from);
                (order, from, pile())
            }
            ArcKind::FromPile => {
                let (order, to) = sink(a.to);
                (order, pile(), to)
            }
            ArcKind::Off => {
                let (order, from) = source(a.from);
                (order, from, STREET.into())
            }
            // When the stage begins.
            ArcKind::PileOff => (0, pile(), STREET.into()),
            ArcKind::In => {
                let (order, to) = sink(a.to);
                (order, STREET.into(), to)
            }
        };
        let loose = a.bank_m3 * class.loose;
        match a.kind {
            ArcKind::Off | ArcKind::PileOff => trucked[a.stage][0] += loose,
            ArcKind::In => trucked[a.stage][1] += loose,
            _ => {}
        }
        let loads = loads(loose, carrier.load(class));
        let known = way.line.len() > 1;
        let hours = if known {
            carrier.hours_of(way.length) * f64::from(loads)
        } else {
            f64::NAN
        };
        let beside = a.kind == ArcKind::Direct && way.length <= REACH;
        let (by, loads, hours) = if beside {
            (BESIDE, 0, 0.0)
        } else {
            let counted = if known { hours } else { 0.0 };
            let carried = sum(&mut out.carriers, &carrier.name, loads, counted, loose);
            carried.all_known &= known;
            (carrier.name.as_str(), loads, hours)
        };
        lines.push((
            (a.stage, order, kind != SoilKind::Topsoil),
            Haul {
                stage: model.stages[a.stage].clone(),
                from,
                to,
                soil: model.soil.clone(),
                bank_m3: a.bank_m3,
                loose_m3: loose,
                by: by.into(),
                loads,
                distance_m: known.then_some(way.length),
                hours,
                gradient_max: way.gradient,
                path: way.line.clone(),
            },
        ));
    }
    for loose in trucked.into_iter().flatten() {
        if loose > NOTHING && each > 0.0 {
            let loads = loads(loose, each);
            let hours = f64::from(loads) * job.haul.truck_trip / 60.0;
            sum(&mut out.carriers, "truck", loads, hours, loose);
        }
    }
}

/// All lines in the order of work.
pub(super) fn in_order(mut lines: Lines) -> Vec<Haul> {
    lines.sort_by_key(|l| l.0);
    lines.into_iter().map(|l| l.1).collect()
}

fn sum<'a>(
    sums: &'a mut Vec<CarrierSum>,
    by: &str,
    loads: u32,
    hours: f64,
    loose: f64,
) -> &'a mut CarrierSum {
    let k = sums.iter().position(|s| s.by == by).unwrap_or_else(|| {
        sums.push(CarrierSum {
            by: by.into(),
            loads: 0,
            all_known: true,
            hours: 0.0,
            loose_m3: 0.0,
        });
        sums.len() - 1
    });
    let s = &mut sums[k];
    s.loads += loads;
    s.hours += hours;
    s.loose_m3 += loose;
    s
}

pub(super) fn cautions(out: &mut Haulage) {
    let machine = out
        .carriers
        .iter()
        .any(|c| !matches!(c.by.as_str(), "barrow" | "truck" | BY_HAND));
    if machine {
        out.findings.push(Finding::new(
            Severity::Caution,
            "haul",
            "a machine near the edge of an excavation, or across a slope, can go over",
            "keep it back from edges, straight up and down slopes, load low; the maker's manual, local code and a competent person on the spot decide",
        ));
    }
    let hand: u32 = out
        .carriers
        .iter()
        .filter(|c| c.by == BY_HAND)
        .map(|c| c.loads)
        .sum();
    if hand > 0 {
        out.findings.push(Finding::new(
            Severity::Note,
            "haul",
            format!(
                "{hand} pairs of buckets are carried by hand, where neither machine nor barrow gets"
            ),
            "a plank run or a flatter ramp there spares them",
        ));
    }
}
