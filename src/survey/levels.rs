//! Level notes → elevations: heights of instrument, turning points, closures, adjustment. Metres.
//!
//! A run goes from a benchmark, turning point by turning point, to a sight on a benchmark. Its
//! misclosure is what was booked there minus what is known. Within the allowed amount it is shared
//! equally over the run's setups, and every sight of a setup carries the shares up to and with its
//! own. Beyond the allowed amount nothing is shared out.
//!
//! Allowed by default: third order, 12 mm × √K, K in km (FGCC 1984, Standards and Specifications
//! for Geodetic Control Networks; from memory). Where sight distances are not booked: 3 mm for
//! each setup times √(setups), common practice, no source.

use std::collections::BTreeSet;

use rustc_hash::FxHashMap;

use super::reduced::{Closure, Row};
use super::written;
use crate::findings::{Finding, Severity};
use crate::job::{Allowed, FieldBook, Setup, Sight, Unit};

/// What the notes come to.
pub struct Levels<'a> {
    /// For each setup, for each sight, the booked elevation.
    pub booked: Vec<Vec<Option<f64>>>,
    /// For each setup, the correction its sights carry.
    pub correction: Vec<f64>,
    /// For each setup, whether it hangs on a run that does not close.
    pub doubtful: Vec<bool>,
    /// Adjusted elevations by name.
    pub by_name: FxHashMap<&'a str, f64>,
    pub rows: Vec<Row>,
    pub closures: Vec<Closure>,
    pub arithmetic: Option<[f64; 2]>,
    pub runs: Vec<Run>,
}

/// From a benchmark to a benchmark.
pub struct Run {
    /// Setup and, in it, the sight that carries the run on.
    pub legs: Vec<(usize, usize)>,
    pub misclosure: f64,
    pub allowed: f64,
    /// Setups already fixed by an earlier run: the share starts after these.
    fixed: usize,
}

/// An elevation and where it came from: setup and sight, or a benchmark.
#[derive(Clone, Copy)]
struct Station {
    booked: f64,
    from: Option<(usize, usize)>,
}

fn up(sight: &Sight) -> f64 {
    if sight.inverted {
        -sight.rod
    } else {
        sight.rod
    }
}

pub fn solve<'a>(book: &'a FieldBook, unit: Unit, findings: &mut Vec<Finding>) -> Levels<'a> {
    let setups = &book.setups;
    let mut known: FxHashMap<&str, Station> = FxHashMap::default();
    for mark in &book.benchmarks {
        let station = Station {
            booked: mark.elevation,
            from: None,
        };
        if let Some(before) = known.insert(&mark.name, station)
            && (before.booked - mark.elevation).abs() > 1e-9
        {
            findings.push(Finding::new(
                Severity::Error,
                format!("benchmark {}", mark.name),
                format!(
                    "is given two elevations, {} and {}",
                    written::figure(unit, before.booked),
                    written::length(unit, mark.elevation)
                ),
                "Keep the right one.",
            ));
        }
    }
    if book.benchmarks.is_empty() && !setups.is_empty() {
        findings.push(Finding::new(
            Severity::Error,
            "level notes",
            "have no benchmark, so no shot has an elevation",
            "Give one fixed point an elevation, known or assumed (a nail called 100.00).",
        ));
    }
    let mut levels = Levels {
        booked: setups.iter().map(|s| vec![None; s.sights.len()]).collect(),
        correction: vec![0.0; setups.len()],
        doubtful: vec![false; setups.len()],
        by_name: FxHashMap::default(),
        rows: Vec::new(),
        closures: Vec::new(),
        arithmetic: None,
        runs: Vec::new(),
    };
    let order = book_elevations(book, &mut known, &mut levels, unit, findings);
    find_runs(book, &known, &order, &mut levels);
    share_out(book, &known, &order, &mut levels, unit, findings);
    check_arithmetic(setups, &known, &order, &mut levels);
    for (name, station) in &known {
        let fix = station.from.map_or(0.0, |(s, _)| levels.correction[s]);
        levels.by_name.insert(name, station.booked + fix);
    }
    levels.rows = rows(book, &known, &levels);
    levels
}

/// Solves the setups whose backsight is known until nothing changes; returns the order.
fn book_elevations<'a>(
    book: &'a FieldBook,
    known: &mut FxHashMap<&'a str, Station>,
    levels: &mut Levels<'a>,
    unit: Unit,
    findings: &mut Vec<Finding>,
) -> Vec<usize> {
    let setups = &book.setups;
    let mut ready: BTreeSet<usize> = BTreeSet::new();
    let mut waiting: FxHashMap<&str, Vec<usize>> = FxHashMap::default();
    for (s, setup) in setups.iter().enumerate() {
        if known.contains_key(setup.backsight.to.as_str()) {
            ready.insert(s);
        } else {
            waiting.entry(&setup.backsight.to).or_default().push(s);
        }
    }
    let mut order = Vec::new();
    while let Some(s) = ready.pop_first() {
        order.push(s);
        let setup = &setups[s];
        let Some(hi) = instrument(setup, known) else {
            continue;
        };
        for (k, sight) in setup.sights.iter().enumerate() {
            let booked = hi - up(sight);
            if !booked.is_finite() {
                continue;
            }
            levels.booked[s][k] = Some(booked);
            match known.get(sight.to.as_str()) {
                None => {
                    let from = Some((s, k));
                    known.insert(&sight.to, Station { booked, from });
                    for t in waiting.remove(sight.to.as_str()).into_iter().flatten() {
                        ready.insert(t);
                    }
                }
                Some(first) if first.from.is_some() => {
                    let gap = booked - first.booked;
                    // Two looks at one point from two setups: two readings and a turn.
                    let allowed = 2.0 * tolerance(book, &[(s, k)]);
                    if gap.abs() > allowed.max(0.01) {
                        findings.push(Finding::new(
                            Severity::Warning,
                            format!("shot {}", sight.to),
                            format!(
                                "was levelled twice, and the second time it came {} {}",
                                written::length(unit, gap.abs()),
                                if gap > 0.0 { "higher" } else { "lower" }
                            ),
                            "The first is used. If these are two points, give them two names.",
                        ));
                    }
                }
                Some(_) => {}
            }
        }
    }
    if !book.benchmarks.is_empty() {
        for setup in setups {
            if !known.contains_key(setup.backsight.to.as_str()) {
                findings.push(Finding::new(
                    Severity::Error,
                    format!("setup {}", setup.name),
                    format!(
                        "takes its backsight on \"{}\", which never gets an elevation, so none of \
                         its {} shots does",
                        setup.backsight.to,
                        setup.sights.len()
                    ),
                    "Check the name against the turning points, or book the missing setup.",
                ));
            }
        }
    }
    order
}

fn instrument(setup: &Setup, known: &FxHashMap<&str, Station>) -> Option<f64> {
    let station = known.get(setup.backsight.to.as_str())?;
    Some(station.booked + up(&setup.backsight)).filter(|hi| hi.is_finite())
}

/// The legs that lead from a benchmark to a sight.
fn trace(
    setups: &[Setup],
    known: &FxHashMap<&str, Station>,
    end: (usize, usize),
) -> Vec<(usize, usize)> {
    let mut legs = vec![end];
    let mut setup = end.0;
    while let Some(leg) = known
        .get(setups[setup].backsight.to.as_str())
        .and_then(|s| s.from)
    {
        legs.push(leg);
        setup = leg.0;
        if legs.len() > setups.len() {
            break;
        }
    }
    legs.reverse();
    legs
}

fn tolerance(book: &FieldBook, legs: &[(usize, usize)]) -> f64 {
    let root = (legs.len() as f64).sqrt();
    match book.allowed {
        Allowed::Total(all) => all,
        Allowed::PerSetup(each) => each * root,
        Allowed::PerRootKm(rate) => {
            length(book, legs).map_or(0.003 * root, |metres| rate * (metres / 1000.0).sqrt())
        }
    }
}

/// Length of a line of levels, if the distance of every sight in it is booked.
fn length(book: &FieldBook, legs: &[(usize, usize)]) -> Option<f64> {
    legs.iter()
        .map(|&(s, k)| {
            let setup = &book.setups[s];
            Some(setup.backsight.distance? + setup.sights[k].distance?)
        })
        .sum::<Option<f64>>()
        .filter(|&metres| metres > 0.0)
}

fn find_runs(
    book: &FieldBook,
    known: &FxHashMap<&str, Station>,
    order: &[usize],
    levels: &mut Levels,
) {
    let mut fixed = vec![false; book.setups.len()];
    for &s in order {
        for (k, sight) in book.setups[s].sights.iter().enumerate() {
            let Some(mark) = known.get(sight.to.as_str()).filter(|m| m.from.is_none()) else {
                continue;
            };
            let Some(booked) = levels.booked[s][k] else {
                continue;
            };
            let legs = trace(&book.setups, known, (s, k));
            let misclosure = booked - mark.booked;
            let allowed = tolerance(book, &legs);
            let closes = misclosure.abs() <= allowed + 1e-9;
            levels.closures.push(Closure {
                from: book.setups[legs[0].0].backsight.to.clone(),
                to: sight.to.clone(),
                setups: legs.len(),
                distance: length(book, &legs),
                misclosure,
                allowed,
                closes,
            });
            let already = legs.iter().take_while(|l| fixed[l.0]).count();
            if closes {
                for leg in &legs {
                    fixed[leg.0] = true;
                }
            }
            levels.runs.push(Run {
                legs,
                misclosure,
                allowed,
                fixed: already,
            });
        }
    }
}

fn share_out(
    book: &FieldBook,
    known: &FxHashMap<&str, Station>,
    order: &[usize],
    levels: &mut Levels,
    unit: Unit,
    findings: &mut Vec<Finding>,
) {
    let mut shared = vec![false; book.setups.len()];
    // A setup in a run that closes is not made doubtful by another run that does not.
    let mut trusted = vec![false; book.setups.len()];
    for (run, closure) in levels.runs.iter().zip(&levels.closures) {
        for leg in run.legs.iter().filter(|_| closure.closes) {
            trusted[leg.0] = true;
        }
    }
    for (run, closure) in levels.runs.iter().zip(&levels.closures) {
        if !closure.closes {
            for leg in run.legs.iter().filter(|l| !trusted[l.0]) {
                levels.doubtful[leg.0] = true;
            }
            findings.push(Finding::new(
                Severity::Error,
                format!("level run {} to {}", closure.from, closure.to),
                format!(
                    "misses by {} over {} setup{}; {} is allowed. Its elevations are given as \
                     booked and nothing is adjusted{}",
                    written::fine(unit, closure.misclosure),
                    closure.setups,
                    if closure.setups == 1 { "" } else { "s" },
                    written::fine(unit, closure.allowed),
                    whole_unit(unit, run),
                ),
                "Find the slip or level the run again before anything is dug from these figures.",
            ));
            continue;
        }
        let free = &run.legs[run.fixed..];
        let start = match run.fixed {
            0 => 0.0,
            n => levels.correction[run.legs[n - 1].0],
        };
        let rest = run.misclosure + start;
        for (i, leg) in free.iter().enumerate() {
            levels.correction[leg.0] = start - rest * (i + 1) as f64 / free.len() as f64;
            shared[leg.0] = true;
        }
    }
    // Setups beside the runs hang on a turning point and move with it.
    for &s in order {
        let parent = known
            .get(book.setups[s].backsight.to.as_str())
            .and_then(|st| st.from);
        if let Some((p, _)) = parent {
            levels.doubtful[s] |= levels.doubtful[p] && !trusted[s];
            if !shared[s] {
                levels.correction[s] = levels.correction[p];
            }
        }
    }
    for s in 0..book.setups.len() {
        if levels.doubtful[s] {
            levels.correction[s] = 0.0;
        }
    }
    if levels.closures.is_empty() && !order.is_empty() {
        findings.push(Finding::new(
            Severity::Warning,
            "level notes",
            "close on nothing, so no slip in a turning point would show",
            "End on a benchmark: the first one will do.",
        ));
    }
}

/// A hint where the misclosure is about a whole foot or a round part of a metre.
fn whole_unit(unit: Unit, run: &Run) -> String {
    let (step, what) = match unit {
        Unit::Foot => (crate::units::FOOT, "a whole number of feet"),
        Unit::Metre => (0.1, "a whole number of decimetres"),
    };
    let steps = (run.misclosure / step).round();
    if steps != 0.0 && (run.misclosure - steps * step).abs() <= run.allowed {
        format!(". It is nearly {what}: look for a misread mark on a turning point")
    } else {
        String::new()
    }
}

/// Σ backsights − Σ foresights against the difference in elevation, over the run that misses by
/// most for its allowance, or the longest line if nothing closes.
fn check_arithmetic(
    setups: &[Setup],
    known: &FxHashMap<&str, Station>,
    order: &[usize],
    levels: &mut Levels,
) {
    let worst = levels
        .runs
        .iter()
        .max_by(|a, b| a.misclosure.abs().total_cmp(&b.misclosure.abs()))
        .map(|r| r.legs.clone());
    let legs = worst.or_else(|| {
        let mut deepest: FxHashMap<usize, usize> = FxHashMap::default();
        let mut best: Option<(usize, (usize, usize))> = None;
        for &s in order {
            let parent = known
                .get(setups[s].backsight.to.as_str())
                .and_then(|st| st.from);
            let depth = 1 + parent.map_or(0, |(p, _)| *deepest.get(&p).unwrap_or(&0));
            deepest.insert(s, depth);
            let end = setups[s].sights.iter().rposition(|g| g.turning);
            let end = end.or_else(|| setups[s].sights.len().checked_sub(1));
            if let Some(k) = end.filter(|_| best.is_none_or(|(d, _)| depth > d)) {
                best = Some((depth, (s, k)));
            }
        }
        best.map(|(_, end)| trace(setups, known, end))
    });
    levels.arithmetic = legs.and_then(|legs| {
        let readings: f64 = legs
            .iter()
            .map(|&(s, k)| up(&setups[s].backsight) - up(&setups[s].sights[k]))
            .sum();
        let (&(first, _), &(s, k)) = (legs.first()?, legs.last()?);
        let start = known.get(setups[first].backsight.to.as_str())?.booked;
        Some([readings, levels.booked[s][k]? - start])
    });
}

fn rows(book: &FieldBook, known: &FxHashMap<&str, Station>, levels: &Levels) -> Vec<Row> {
    let carried: BTreeSet<&str> = book
        .setups
        .iter()
        .map(|s| s.backsight.to.as_str())
        .collect();
    let mut rows = Vec::new();
    for (s, setup) in book.setups.iter().enumerate() {
        let station = known.get(setup.backsight.to.as_str());
        let remark = |text: &str| match (levels.doubtful[s], text.is_empty()) {
            (false, _) => text.to_string(),
            (true, true) => "not adjusted: the notes do not close".to_string(),
            (true, false) => format!("{text}; not adjusted: the notes do not close"),
        };
        let correction = station
            .and_then(|st| st.from)
            .map_or(0.0, |(p, _)| levels.correction[p]);
        rows.push(Row {
            setup: setup.name.clone(),
            to: setup.backsight.to.clone(),
            backsight: Some(setup.backsight.rod),
            height_of_instrument: instrument(setup, known),
            foresight: None,
            intermediate: None,
            inverted: setup.backsight.inverted,
            booked: station.map(|st| st.booked),
            correction,
            elevation: station.map(|st| st.booked + correction),
            remark: remark(&setup.backsight.remark),
        });
        for (k, sight) in setup.sights.iter().enumerate() {
            let mark = known
                .get(sight.to.as_str())
                .is_some_and(|st| st.from.is_none());
            let fore = sight.turning || mark || carried.contains(sight.to.as_str());
            let booked = levels.booked[s][k];
            rows.push(Row {
                setup: setup.name.clone(),
                to: sight.to.clone(),
                backsight: None,
                height_of_instrument: None,
                foresight: fore.then_some(sight.rod),
                intermediate: (!fore).then_some(sight.rod),
                inverted: sight.inverted,
                booked,
                correction: if booked.is_some() {
                    levels.correction[s]
                } else {
                    0.0
                },
                elevation: booked.map(|b| b + levels.correction[s]),
                remark: remark(&sight.remark),
            });
        }
    }
    rows
}
