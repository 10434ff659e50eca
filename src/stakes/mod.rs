//! Setting out: a label and two tapes for every place to stake, in the order of the work.
//!
//! Where the stakes stand and how deep they say to dig comes from the design as it lays itself out
//! (`Plan::set_out`); here they get names and are tied to the pegs. Distances are level, as in the
//! survey. Metres.

mod label;
mod level;
mod tie;

use rustc_hash::FxHashMap;

use crate::findings::{About, Finding, Severity};
use crate::job::Job;
use crate::plan::{Flaw, OffsetTie, Plan, SetOut, Stake, Stakes, Station, TapeTie};
use crate::terrain::predicates::P2;
use crate::units::format_length;
pub use level::{Instrument, instrument};
pub use tie::{Peg, offset, tie};

/// Of more pegs than this only those nearest to a work are tried for it.
const TRIED: usize = 12;

/// The stakes of a plan, tied from the pegs that suit each work best.
pub fn of(job: &Job, plan: &Plan) -> Stakes {
    let wanted: Vec<&str> = if job.setting_out.pegs.is_empty() {
        job.field_book
            .pegs
            .iter()
            .map(|p| p.name.as_str())
            .collect()
    } else {
        job.setting_out.pegs.iter().map(String::as_str).collect()
    };
    let pegs: Vec<Peg> = wanted
        .into_iter()
        .filter_map(|name| {
            let at = plan.survey.names.get(name)?.at?;
            Some(Peg { name, at })
        })
        .collect();
    list(job, plan, &pegs)
}

/// The stakes of a plan, all of them tied from these two points.
pub fn from_pegs(job: &Job, plan: &Plan, a: &str, b: &str) -> Result<Stakes, String> {
    let peg = |name| match plan.survey.names.get(name).map(|n| n.at) {
        Some(Some(at)) => Ok(at),
        Some(None) => Err(format!("\"{name}\" has no place in plan")),
        None => Err(format!("there is no peg, benchmark or shot \"{name}\"")),
    };
    let pegs = [
        Peg {
            name: a,
            at: peg(a)?,
        },
        Peg {
            name: b,
            at: peg(b)?,
        },
    ];
    let apart = (pegs[0].at[0] - pegs[1].at[0]).hypot(pegs[0].at[1] - pegs[1].at[1]);
    if apart < 1e-3 {
        return Err(format!("\"{a}\" and \"{b}\" stand at the same place"));
    }
    Ok(list(job, plan, &pegs))
}

fn list(job: &Job, plan: &Plan, pegs: &[Peg]) -> Stakes {
    let how = &job.setting_out;
    let mut stakes = Stakes {
        list: Vec::new(),
        tape_length: how.tape_length,
        tape_error: how.tape_error,
        rod_length: job.field_book.rod_length,
    };
    let mut works: Vec<&str> = Vec::new();
    for line in &plan.set_out {
        if !works.contains(&line.work.as_str()) {
            works.push(&line.work);
        }
    }
    let letters = label::letters(job, works.len());
    let mut numbers: FxHashMap<&str, usize> = FxHashMap::default();
    for (work, letter) in works.iter().zip(&letters) {
        let lines: Vec<&SetOut> = plan.set_out.iter().filter(|l| l.work == *work).collect();
        let places: Vec<P2> = lines
            .iter()
            .flat_map(|l| l.stations.iter().map(|s| s.at))
            .collect();
        let pairs = pairs(pegs, &places);
        let tied = |pair: &[Peg; 2], at: P2| tie(&pair[0], &pair[1], at, how);
        // One pair for the whole work, so that the tapes stay hooked on: the one with the fewest
        // poor ties, and of those the one that errs least.
        let badness = |pair: &[Peg; 2]| {
            let all: Vec<TapeTie> = places.iter().map(|&p| tied(pair, p)).collect();
            let poor = all.iter().filter(|t| t.flaw.is_some()).count();
            (poor, all.iter().map(|t| t.error).sum::<f64>())
        };
        let better = |a: &(usize, f64), b: &(usize, f64)| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1));
        let common = pairs
            .iter()
            .map(|pair| (badness(pair), pair))
            .min_by(|a, b| better(&a.0, &b.0))
            .map(|(_, pair)| pair);
        for line in lines {
            for place in &line.stations {
                let number = numbers.entry(work).or_insert(0);
                *number += 1;
                let mut best = common.map(|pair| tied(pair, place.at));
                if best.as_ref().is_some_and(|t| t.flaw.is_some()) {
                    let other = pairs
                        .iter()
                        .map(|pair| tied(pair, place.at))
                        .filter(|t| t.flaw.is_none())
                        .min_by(|a, b| a.error.total_cmp(&b.error));
                    best = other.or(best);
                }
                stakes.list.push(Stake {
                    label: format!("{letter}{number}"),
                    work: line.work.clone(),
                    stage: line.stage.clone(),
                    name: line.name.clone(),
                    kind: line.kind,
                    part: line.part.clone(),
                    place: *place,
                    tie: best,
                    offset: nearest_offset(job, place),
                });
            }
        }
    }
    stakes
}

/// Every pair of pegs that do not stand at the same place, the first named first.
fn pairs<'a>(pegs: &[Peg<'a>], places: &[P2]) -> Vec<[Peg<'a>; 2]> {
    let n = places.len().max(1) as f64;
    let sum = places
        .iter()
        .fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
    let middle = [sum[0] / n, sum[1] / n];
    let away = |p: &Peg| (p.at[0] - middle[0]).hypot(p.at[1] - middle[1]);
    let mut near: Vec<usize> = (0..pegs.len()).collect();
    if near.len() > TRIED {
        near.sort_by(|&i, &j| away(&pegs[i]).total_cmp(&away(&pegs[j])));
        near.truncate(TRIED);
        near.sort_unstable();
    }
    let mut out = Vec::new();
    for (k, &i) in near.iter().enumerate() {
        for &j in &near[k + 1..] {
            let (a, b) = (&pegs[i], &pegs[j]);
            if (a.at[0] - b.at[0]).hypot(a.at[1] - b.at[1]) > 1e-3 {
                out.push([a.clone(), b.clone()]);
            }
        }
    }
    out
}

fn nearest_offset(job: &Job, place: &Station) -> Option<OffsetTie> {
    job.field_book
        .baselines
        .iter()
        .filter_map(|line| offset(line, place.at))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, tie)| tie)
}

/// What the crew must know of the ties before it starts.
pub fn findings(stakes: &Stakes, job: &Job) -> Vec<Finding> {
    let all = stakes.list.len();
    let unit = job.unit;
    let mut out = Vec::new();
    if all == 0 {
        return out;
    }
    let offsets = stakes.list.iter().all(|s| s.offset.is_some());
    if stakes.list.iter().all(|s| s.tie.is_none()) && !offsets {
        out.push(Finding::new(
            Severity::Note,
            "stakes",
            "cannot be taped: there are not two pegs with a place, and no baseline",
            "drive two pegs that can be taped to from all over the work, tape their places, and book them",
        ));
    }
    for (flaw, what, remedy) in [
        (
            Flaw::Angle,
            "meet at less than 30° or more than 150°",
            "drive a peg to the side of the work, so that the tapes cross squarely",
        ),
        (
            Flaw::Reach,
            "stand beyond the end of the tape",
            "drive a peg nearer to them, or give the longer tape as `tape_length`",
        ),
    ] {
        let poor: Vec<&Stake> = stakes
            .list
            .iter()
            .filter(|s| s.tie.as_ref().is_some_and(|t| t.flaw == Some(flaw)))
            .collect();
        let worst = poor.iter().max_by(|a, b| error(a).total_cmp(&error(b)));
        let (Some(first), Some(worst)) = (poor.first(), worst) else {
            continue;
        };
        let named: Vec<&str> = poor.iter().take(6).map(|s| s.label.as_str()).collect();
        let more = if poor.len() > named.len() {
            ", …"
        } else {
            ""
        };
        let what = match flaw {
            Flaw::Angle => format!(
                "the tapes to {} of {all} ({}{more}) {what}: up to {} off for tapes off by {}",
                poor.len(),
                named.join(", "),
                format_length(error(worst), unit),
                format_length(stakes.tape_error, unit),
            ),
            Flaw::Reach => format!(
                "{} of {all} ({}{more}) {what} of {}",
                poor.len(),
                named.join(", "),
                format_length(stakes.tape_length, unit),
            ),
        };
        let severity = if offsets {
            Severity::Note
        } else {
            Severity::Warning
        };
        let remedy = if offsets {
            format!("measure these along and off the baseline, or {remedy}")
        } else {
            remedy.to_string()
        };
        let at = first.place;
        let z = at.existing.or(at.dig).or(at.finish).unwrap_or(0.0);
        out.push(Finding::new(severity, "stakes", what, remedy).at(at.at[0], at.at[1], z));
    }
    Finding::all_about(out, About::Stakes)
}

fn error(stake: &Stake) -> f64 {
    stake.tie.as_ref().map_or(0.0, |t| t.error)
}
