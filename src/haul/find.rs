//! The ramps of the design with their figures, and the ramp found beside them. Metres, m³.

use std::time::Instant;

use rayon::prelude::*;

use crate::design::Yard;
use crate::earthwork::{Mosaic, Relief};
use crate::findings::{Finding, Severity};
use crate::job::{At, Job, Ramp};
use crate::plan::{Haulage, MadeBy, MarkKind, Plan, RampFigures, RampFound};
use crate::terrain::predicates::{P2, in_ring};
use crate::terrain::{Probe, Span};
use crate::units::{FOOT, format_length};

use super::profile::{CARE, few_stakes, thinned};
use super::ramp::{Asked, Course, bend_radius, figures};
use super::sought::{Improved, LENGTH, MOST, ROOM, Sought};

/// Without a machine: a barrow turns on the spot.
const GAUGE: f64 = 0.6;
/// A ramp that the design does not have: as a ramp of the job is without figures of its own.
const WIDTH: f64 = 8.0 * FOOT;
const GRADIENT: f64 = 0.25;
const BATTER: f64 = 1.5;
/// A ramp found keeps to its gradient to within this.
const KEPT: f64 = 5e-4;

pub fn ramps(job: &Job, plan: &Plan) -> Haulage {
    ramps_within(job, plan, MOST)
}

/// The same, each search given up after so many states.
pub fn ramps_within(job: &Job, plan: &Plan, most: usize) -> Haulage {
    let mut haulage = Haulage::default();
    let out = &mut haulage;
    let machine = job.haul.machines.first();
    let sought = &job.haul.ramp;
    let gauge = machine.map_or(GAUGE, |m| m.gauge);
    let radius = sought.radius.or(machine.map(|m| m.radius)).unwrap_or(0.0);
    let strips = super::strips(job, plan);
    let search = Search {
        job,
        plan,
        gauge,
        radius,
        most,
    };
    let mut cut_short = false;
    // A better line is sought for the first ramp that can be built.
    let mut first = true;
    for ramp in &job.design.ramps {
        let Some(strip) = strips.iter().find(|s| s.name == ramp.name) else {
            continue;
        };
        let asked = crate::planning::before(job, plan, &ramp.name, |ground, yard| {
            let [ox, oy] = yard.origin;
            let own = Course {
                line: strip
                    .line
                    .iter()
                    .map(|p| [p[0] - ox, p[1] - oy, p[2]])
                    .collect(),
                bare: vec![false; strip.line.len().saturating_sub(1)],
                bends: vec![false; strip.line.len().saturating_sub(1)],
                fades: false,
            };
            let whatever = Asked {
                gauge,
                radius,
                steepest: f64::INFINITY,
            };
            let (own, found) = rayon::join(
                || figures(&ramp.name, &own, ramp, whatever, yard, ground),
                || first.then(|| search.find(ramp, Some(&own), yard, ground)),
            );
            (own, found.unwrap_or_default())
        });
        let Some((own, found)) = asked else { continue };
        cut_short |= found.cut_short;
        if let Some(own) = own {
            let unit = |v: f64| format_length(v, job.unit);
            if let Some(bend) = own.bend_radius_m.filter(|b| *b < radius - 1e-6) {
                out.findings.push(Finding::new(
                    Severity::Warning,
                    format!("ramp {}", ramp.name),
                    format!(
                        "its sharpest bend has room for a radius of {}; the machine turns in {}",
                        unit(bend),
                        unit(radius)
                    ),
                    "make the legs on both sides of the bend longer, or the bend flatter",
                ));
            }
            if let Some(m) = machine.filter(|m| m.width > ramp.width) {
                out.findings.push(Finding::new(
                    Severity::Warning,
                    format!("ramp {}", ramp.name),
                    format!(
                        "is {} wide, {} is {}",
                        unit(ramp.width),
                        m.name,
                        unit(m.width)
                    ),
                    "make it wider than the machine, with room on both sides",
                ));
            }
            out.ramps.push(own.clone());
            if let Some(mut found) = found.ramp {
                let total = |f: &crate::plan::RampFigures| f.compacted_m3 + f.cut_bank_m3;
                // Between other ends it is another errand: nothing is spared by it.
                if same_ends(&own.line, &found.found.line, 0.5 * ramp.width) {
                    found.saving_m3 = Some(total(&own) - total(&found.found));
                    found.own = Some(own);
                }
                out.found = Some(found);
            } else if first {
                none(cut_short, out);
            }
            first = false;
        }
    }
    if job.design.ramps.is_empty() && sought.from.is_some() && sought.to.is_some() {
        let like = Ramp {
            name: "ramp".into(),
            line: Vec::new(),
            width: WIDTH,
            gradient: GRADIENT,
            batter: BATTER,
            profile: Vec::new(),
            cut: false,
        };
        let found = crate::planning::before(job, plan, "", |ground, yard| {
            search.find(&like, None, yard, ground)
        });
        let found = found.unwrap_or_default();
        cut_short |= found.cut_short;
        match found.ramp {
            Some(found) => out.found = Some(found),
            None => none(cut_short, out),
        }
    }
    if out.found.is_some() && cut_short {
        out.findings.push(Finding::new(
            Severity::Note,
            "ramp found",
            "the search was cut short: there may be a line that needs less soil",
            CLOSER,
        ));
    }
    if !out.ramps.is_empty() || out.found.is_some() {
        out.findings.push(Finding::new(
            Severity::Caution,
            "ramp",
            "a loose or wet ramp slides, and its edges break away under wheels",
            "compact it in layers, keep wheels off its edges; gradient and load are for the machine maker's manual, local code and the competent person on the spot",
        ));
    }
    haulage
}

/// Ends whose elevations differ by more (m) are not the same.
const AS_HIGH: f64 = 0.1;

/// Whether two lines begin and end at the same places, or in plan so near to them.
fn same_ends(a: &[[f64; 3]], b: &[[f64; 3]], near: f64) -> bool {
    let close = |p: Option<&[f64; 3]>, q: Option<&[f64; 3]>| {
        p.zip(q).is_some_and(|(p, q)| {
            (p[0] - q[0]).hypot(p[1] - q[1]) <= near && (p[2] - q[2]).abs() <= AS_HIGH
        })
    };
    close(a.first(), b.first()) && close(a.last(), b.last())
}

/// Of so many ways to do something, each with more care than the one before, the first that comes to
/// anything; two are tried at once. Where one does, so do those after it, as a rule: what is before one that
/// does not is only tried if nothing after it does.
fn least_that_does<T: Send>(n: usize, with: impl Fn(usize) -> Option<T> + Sync) -> Option<T> {
    let (mut low, mut high, mut found) = (0, n, None);
    let mut passed_over = Vec::new();
    while low < high {
        let (a, b) = match low {
            0 => (0, high / 2),
            _ => (low + (high - low) / 3, low + 2 * (high - low) / 3),
        };
        let (first, second) = rayon::join(|| with(a), || (b > a).then(|| with(b)).flatten());
        if first.is_some() {
            (found, high) = (first, a);
        } else if second.is_some() {
            (found, low, high) = (second, a + 1, b);
        } else {
            passed_over.extend((low..b).filter(|&k| k != a));
            low = b + 1;
        }
    }
    found.or_else(|| passed_over.into_iter().find_map(with))
}

/// What makes a search shorter.
const CLOSER: &str =
    "give `ramp` of `haul` ends nearer to each other, a steeper gradient or a larger radius";

fn none(cut_short: bool, out: &mut Haulage) {
    let (what, remedy) = if cut_short {
        (
            "the search was cut short before any line was found; there may be one",
            CLOSER,
        )
    } else {
        (
            "no line between the two places keeps gradient, width and turning radius on the surveyed ground",
            "give `ramp` of `haul` other ends, a steeper gradient or a smaller radius, or level the ground there first",
        )
    };
    let found = Finding::new(Severity::Note, "ramp found", what, remedy);
    out.findings.push(found);
}

/// For each maker, the work it belongs to if that is done while the ramp stands.
fn later<'a>(job: &'a Job, plan: &'a Plan, ramp: &str) -> Vec<Option<&'a str>> {
    let volumes = &plan.volumes.by_feature;
    let mut its = (0..volumes.len()).filter(|&k| volumes[k].name == ramp);
    let built = its.next().map_or(volumes.len(), |k| k + 1);
    let gone = its.next().unwrap_or(volumes.len()).max(built);
    let works: Vec<&str> = volumes[built..gone]
        .iter()
        .map(|v| job.design.work_of(&v.name))
        .collect();
    let of = |m: &'a MadeBy| Some(job.design.work_of(&m.name)).filter(|w| works.contains(w));
    plan.makers.iter().map(of).collect()
}

/// What every search for a ramp depends on.
struct Search<'a> {
    job: &'a Job,
    plan: &'a Plan,
    gauge: f64,
    radius: f64,
    /// Given up after so many states.
    most: usize,
}

/// What a search came to.
#[derive(Default)]
struct Found {
    ramp: Option<RampFound>,
    /// Given up with more to look at: there may be a better one, or one at all.
    cut_short: bool,
}

impl Search<'_> {
    /// The best ramp like this one over the ground, and beside `own`.
    fn find(&self, like: &Ramp, own: Option<&Course>, yard: &Yard, ground: &Mosaic) -> Found {
        let Search {
            job, plan, gauge, ..
        } = *self;
        let begun = Instant::now();
        let want = &job.haul.ramp;
        let [ox, oy] = yard.origin;
        let place = |at: &Option<At>| at.as_ref().and_then(|at| yard.place(at).ok());
        let end = |at: Option<P2>, level: &Option<crate::job::Height>, own: Option<[f64; 3]>| {
            let p = at.or(own.map(|p| [p[0], p[1]]))?;
            let stands = ground.elevation(p)?;
            let given = level.as_ref().and_then(|h| yard.height(h).ok());
            let z = given.or(if at.is_none() {
                own.map(|p| p[2])
            } else {
                None
            });
            Some([p[0], p[1], z.unwrap_or(stands)])
        };
        let like = Ramp {
            width: want.width.unwrap_or(like.width),
            gradient: want.gradient.unwrap_or(like.gradient),
            ..like.clone()
        };
        // A ramp bends no tighter than half its width, whoever drives on it.
        let radius = self.radius.max(0.5 * like.width);
        let from = end(
            place(&want.from),
            &want.from_level,
            own.and_then(|o| o.line.first().copied()),
        );
        let to = end(
            place(&want.to),
            &want.to_level,
            own.and_then(|o| o.line.last().copied()),
        );
        let (Some(from), Some(to)) = (from, to) else {
            return Found::default();
        };
        let here =
            |ring: &[P2]| -> Vec<P2> { ring.iter().map(|p| [p[0] - ox, p[1] - oy]).collect() };
        let ends = [[from[0], from[1]], [to[0], to[1]]];
        let marks = plan.marks.iter().filter_map(|m| match m.kind {
            MarkKind::KeepOut | MarkKind::House => Some(here(&m.line)),
            // Over the roots of a tree only where an end is given there.
            MarkKind::Tree => Some(here(&m.line)).filter(|r| !ends.iter().any(|p| in_ring(r, *p))),
            _ => None,
        });
        // Nobody drives over a trunk.
        let trunks = job.site.trees.iter().filter_map(|tree| {
            let at = yard.place(&tree.at).ok()?;
            Some(crate::guards::circle(at, 0.5 * tree.trunk))
        });
        let standing = plan.solids.iter().filter(|s| !s.new);
        // A pile as it is at its largest: who builds the ramp need not know when it is.
        let piles = plan.piles.iter().map(|pile| here(&pile.edge()));
        let piles = piles.filter(|r| !ends.iter().any(|p| in_ring(r, *p)));
        let closed: Vec<(Span, Vec<P2>)> = marks
            .chain(standing.map(|s| here(&s.footprint)))
            .chain(piles)
            .chain(trunks)
            .map(|ring| (Span::of(ring.iter().copied()), ring))
            .collect();
        let later = later(job, plan, &like.name);
        let work_of = |maker: u16| later.get(usize::from(maker)).copied().flatten();
        let dug = &plan.dug;
        let worked = dug.triangles.iter().zip(&dug.made_by);
        let worked = worked.filter(|(_, m)| work_of(**m).is_some());
        let worked = Span::of(worked.flat_map(|(t, _)| t).map(|&i| {
            let p = dug.points[i as usize];
            [p[0], p[1]]
        }));
        let probe = Probe::within(dug, worked);
        let work_at = |p: P2| {
            let p = [p[0] + ox, p[1] + oy];
            let (_, maker) = worked.holds(p).then(|| probe.elevation(p)).flatten()?;
            work_of(maker)
        };
        let given: Vec<&str> = ends.iter().filter_map(|p| work_at(*p)).collect();
        let kept_clear = |p: P2| work_at(p).is_some_and(|work| !given.contains(&work));
        let relief = Relief::new(ground);
        let sought = Sought {
            ground: &relief,
            closed: &closed,
            kept_clear: &kept_clear,
            from,
            to,
            width: like.width,
            gauge,
            gradient: like.gradient,
            batter: like.batter,
            radius,
            cross_fall: want.cross_fall,
            most: self.most,
        };
        let mut lines: Vec<Vec<P2>> = vec![ends.to_vec()];
        if let Some(own) = own.filter(|_| want.from.is_none() && want.to.is_none()) {
            lines.push(own.line.iter().map(|p| [p[0], p[1]]).collect());
        }
        let tried: Vec<Improved> = lines
            .par_iter()
            .filter_map(|line| sought.improve(line))
            .collect();
        // A line that costs much more than these on the lattice is not made better than these.
        let known = tried.iter().map(|t| t.cost).fold(f64::INFINITY, f64::min);
        let on_lattice = || {
            let (mut cell, mut states, mut cut_short) = (0.0, 0, false);
            let mut better = None;
            for room in ROOM {
                let searched = sought.search(room, 1.5 * known + 0.2);
                (cell, states) = (searched.cell, states + searched.states);
                cut_short |= searched.cut_short;
                let Some(line) = searched.line else { break };
                better = sought.improve(&line);
                if better.is_some() {
                    break;
                }
            }
            (better, cell, states, cut_short)
        };
        // What is built is measured as it stands: of each line the profile with the least care that keeps to
        // the gradient in its tracks.
        let built = |better: &Improved| {
            let line = &better.line;
            let with = |care: usize| {
                let more = match care {
                    0 => None,
                    _ => Some(sought.course(&better.traced, &CARE[care])?.0),
                };
                let course = thinned(more.as_ref().unwrap_or(&better.course));
                let asked = Asked {
                    gauge,
                    radius,
                    steepest: like.gradient + KEPT,
                };
                let measured =
                    |course: &Course| figures("ramp found", course, &like, asked, yard, ground);
                // With as few stakes as will do, else with more of them.
                let few = few_stakes(&course, like.gradient);
                let few = few.and_then(|few| measured(&few));
                let mut made = few.or_else(|| measured(&course))?;
                // Points that only change the profile are no bends.
                made.bend_radius_m = bend_radius(line);
                Some(made)
            };
            least_that_does(CARE.len(), with)
        };
        let worth = |f: &RampFigures| f.compacted_m3 + LENGTH * f.length_m;
        // The search takes the longest: the lines known already are measured beside it.
        let ((last, cell, states, cut_short), first) = rayon::join(
            || {
                let (better, cell, states, cut_short) = on_lattice();
                (better.as_ref().and_then(built), cell, states, cut_short)
            },
            || -> Vec<RampFigures> { tried.par_iter().filter_map(built).collect() },
        );
        let found = first
            .into_iter()
            .chain(last)
            .min_by(|a, b| worth(a).total_cmp(&worth(b)));
        let ramp = found.map(|found| RampFound {
            found,
            own: None,
            saving_m3: None,
            cell_m: cell,
            states,
            millis: begun.elapsed().as_secs_f64() * 1000.0,
        });
        Found { ramp, cut_short }
    }
}

#[cfg(test)]
mod tests {
    use super::least_that_does;

    #[test]
    fn the_least_that_does_is_found_wherever_it_lies() {
        for n in 1..12 {
            // All from one on.
            for least in 0..=n {
                let found = least_that_does(n, |k| (k >= least).then_some(k));
                assert_eq!(found, (least < n).then_some(least), "{least} of {n}");
            }
            // Only one, against the rule.
            for only in 0..n {
                let found = least_that_does(n, |k| (k == only).then_some(k));
                assert_eq!(found, Some(only), "{only} of {n}");
            }
        }
    }
}
