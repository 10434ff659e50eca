//! The ramps of the design with their figures, and the ramp found beside them. Metres, m³.

use std::time::Instant;

use rayon::prelude::*;

use crate::design::Yard;
use crate::design::strip::IN_THE_AIR;
use crate::earthwork::{Mosaic, Relief};
use crate::findings::{Finding, Severity};
use crate::job::{At, Job, Machine, Ramp};
use crate::plan::{Haulage, MadeBy, MarkKind, Plan, RampFigures, RampFound};
use crate::terrain::line::dist;
use crate::terrain::predicates::{P2, in_ring};
use crate::terrain::{Probe, Span};
use crate::units::{FOOT, format_length};

use super::profile::{AT_GROUND, CARE, few_stakes, thinned};
use super::ramp::{Asked, Course, bend_radius, figures};
use super::sought::{self, Improved, LENGTH, MOST, ROOM, Sought};

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
    let ends_given = sought.from.is_some() && sought.to.is_some();
    for ramp in &job.design.ramps {
        let strip = strips.iter().find(|s| s.name == ramp.name);
        // What cannot be built itself may still tell where a better one is to lead.
        if strip.is_none() && !(first && ends_given) {
            continue;
        }
        let asked = crate::planning::before(job, plan, &ramp.name, |ground, yard| {
            let [ox, oy] = yard.origin;
            let own = strip.map(|strip| Course {
                line: strip
                    .line
                    .iter()
                    .map(|p| [p[0] - ox, p[1] - oy, p[2]])
                    .collect(),
                bare: vec![false; strip.line.len().saturating_sub(1)],
                bends: vec![false; strip.line.len().saturating_sub(1)],
                fades: false,
            });
            let whatever = Asked {
                gauge,
                radius,
                steepest: f64::INFINITY,
            };
            let (own, found) = rayon::join(
                || figures(&ramp.name, own.as_ref()?, ramp, whatever, yard, ground),
                || first.then(|| search.find(ramp, own.as_ref(), yard, ground)),
            );
            (own, found.unwrap_or_default())
        });
        let Some((own, found)) = asked else { continue };
        if let Some(own) = &own {
            beside(own, ramp, radius, machine, job, out);
            out.ramps.push(own.clone());
        } else if !ends_given {
            continue;
        }
        if first {
            cut_short |= found.cut_short;
            take(found, own, ramp, out);
            first = false;
        }
    }
    if job.design.ramps.is_empty() && ends_given {
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
        take(found, None, &like, out);
    } else if out.ramps.is_empty() && (sought.from.is_some() != sought.to.is_some()) {
        out.findings.push(Finding::new(
            Severity::Note,
            FOUND,
            "only one of its ends is given, so no line was sought",
            "give both `from` and `to` in `ramp` of `haul`, or a ramp in the design",
        ));
    }
    if out.found.is_some() && cut_short {
        out.findings.push(Finding::new(
            Severity::Note,
            FOUND,
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

/// What the findings about it are called after.
const FOUND: &str = "ramp found";

/// What the machine asks of a ramp of the design and does not get.
fn beside(
    own: &RampFigures,
    ramp: &Ramp,
    radius: f64,
    machine: Option<&Machine>,
    job: &Job,
    out: &mut Haulage,
) {
    let unit = |v: f64| format_length(v, job.unit);
    let place = format!("ramp {}", ramp.name);
    if let Some(bend) = own.bend_radius_m.filter(|b| *b < radius - 1e-6) {
        out.findings.push(Finding::new(
            Severity::Warning,
            place.clone(),
            format!(
                "its sharpest bend has room for a radius of {}; the machine turns in {}",
                unit(bend),
                unit(radius)
            ),
            "make the legs on both sides of the bend longer, or the bend flatter",
        ));
    }
    let narrow = machine.and_then(|m| too_narrow(place, ramp.width, m, job));
    out.findings.extend(narrow);
}

fn too_narrow(place: String, width: f64, machine: &Machine, job: &Job) -> Option<Finding> {
    let unit = |v: f64| format_length(v, job.unit);
    (machine.width > width).then(|| {
        Finding::new(
            Severity::Warning,
            place,
            format!(
                "is {} wide, {} is {}",
                unit(width),
                machine.name,
                unit(machine.width)
            ),
            "make it wider than the machine, with room on both sides",
        )
    })
}

/// What a search came to, beside the ramp of the design.
fn take(found: Found, own: Option<RampFigures>, ramp: &Ramp, out: &mut Haulage) {
    out.findings.extend(found.findings);
    let Some(mut ramp_found) = found.ramp else {
        let (what, remedy) = found.why.unwrap_or(if found.cut_short {
            (
                "the search was cut short before any line was found; there may be one",
                CLOSER,
            )
        } else {
            (
                "no line between the two places was found that keeps gradient, width and turning radius on the surveyed ground",
                "give `ramp` of `haul` other ends, a steeper gradient, a smaller radius or less width, level the ground there first, or draw a line as a ramp of the design: it is tried as well",
            )
        });
        out.findings
            .push(Finding::new(Severity::Note, FOUND, what, remedy));
        return;
    };
    if let Some(own) = own {
        let total = |f: &RampFigures| f.compacted_m3 + f.cut_bank_m3;
        let its = &ramp_found.found;
        let saving = total(&own) - total(its);
        let unlike = |a: f64, b: f64| (a - b).abs() > 1e-9;
        let why = if !same_ends(&own.line, &its.line, 0.5 * ramp.width) {
            // Between other ends it is another errand: nothing is spared by it.
            "the ramps of the design run between other ends, or end at other heights".into()
        } else if unlike(its.width_m, own.width_m)
            || unlike(its.gradient_allowed, own.gradient_allowed)
        {
            format!(
                "another width or gradient is asked for than that of {}",
                own.name
            )
        } else if saving <= 0.0 && own.track_gradient_max > own.gradient_allowed + OVER {
            format!(
                "{} is steeper in its wheel tracks than it may be, so it is none to compare with",
                own.name
            )
        } else {
            String::new()
        };
        if why.is_empty() {
            ramp_found.saving_m3 = Some(saving);
            ramp_found.own = Some(own);
        }
        ramp_found.not_compared = why;
    }
    out.found = Some(ramp_found);
}

/// A ramp steeper than allowed by no more is not said to be.
const OVER: f64 = 5e-3;

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
    /// Why none was sought, and what helps.
    why: Option<(&'static str, &'static str)>,
    findings: Vec<Finding>,
}

impl Found {
    fn none(what: &'static str, remedy: &'static str) -> Self {
        Found {
            why: Some((what, remedy)),
            ..Found::default()
        }
    }
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
            return Found::none(
                "an end of it lies beyond the surveyed ground",
                "give it an end on the ground, or shoot the ground there",
            );
        };
        if dist([from[0], from[1]], [to[0], to[1]]) < 1e-3 {
            return Found::none(
                "both its ends are the same place",
                "give `from` and `to` of `ramp` of `haul` apart from each other",
            );
        }
        let unit = |v: f64| format_length(v, job.unit);
        let mut findings = Vec::new();
        let narrow = job.haul.machines.first();
        let narrow = narrow.and_then(|m| too_narrow(FOUND.into(), like.width, m, job));
        findings.extend(narrow);
        for (p, level, ends) in [
            (from, &want.from_level, "begins"),
            (to, &want.to_level, "ends"),
        ] {
            let stands = ground.elevation([p[0], p[1]]).unwrap_or(p[2]);
            let over = p[2] - stands;
            if level.is_some() && over < -AT_GROUND {
                findings.push(Finding::new(
                    Severity::Warning,
                    FOUND,
                    format!(
                        "{ends} at the ground, {} over the height given: a ramp that is sought is only filled",
                        unit(-over)
                    ),
                    "dig there in an earlier stage, give the ground's height, or draw a ramp with `cut: true`",
                ));
            } else if over > IN_THE_AIR {
                findings.push(Finding::new(
                    Severity::Warning,
                    FOUND,
                    format!(
                        "{ends} {} over the ground: nothing drives on or off there",
                        unit(over)
                    ),
                    "what it is to meet is built in an earlier stage, or give the ground's height",
                ));
            }
        }
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
        let in_closed = |p: &P2| {
            closed
                .iter()
                .any(|(span, ring)| span.holds(*p) && in_ring(ring, *p))
        };
        if ends.iter().any(in_closed) {
            return Found {
                findings,
                ..Found::none(
                    "an end of it lies in a keep-out, a house, a wall or a trunk",
                    "give it an end beside that, with half its width between",
                )
            };
        }
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
                // All of them together are given up after so many.
                let left = self.most.saturating_sub(states);
                let searched = sought.search(room, 1.5 * known + 0.2, left);
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
                let measured = |course: &Course| figures(FOUND, course, &like, asked, yard, ground);
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
            not_compared: String::new(),
            cell_m: cell,
            states,
            millis: begun.elapsed().as_secs_f64() * 1000.0,
        });
        if let Some(ramp) = &ramp {
            let sides = self.sides(&ramp.found, like.batter, yard, ground);
            findings.extend(sides);
        }
        Found {
            ramp,
            cut_short,
            why: None,
            findings,
        }
    }

    /// What the soil of its sides may reach into: so far out as on level ground.
    fn sides(
        &self,
        found: &RampFigures,
        batter: f64,
        yard: &Yard,
        ground: &Mosaic,
    ) -> Vec<Finding> {
        let [ox, oy] = yard.origin;
        let half = 0.5 * found.width_m;
        // Of each built stretch, what it covers with its sides.
        let mut strips: Vec<[P2; 4]> = Vec::new();
        for (w, bare) in found.line.windows(2).zip(&found.on_ground) {
            let (a, b) = ([w[0][0], w[0][1]], [w[1][0], w[1][1]]);
            let length = dist(a, b);
            if *bare || length < 1e-6 {
                continue;
            }
            let u = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
            let side = |sign: f64| {
                let over = |(p, z): (P2, f64)| {
                    let q = sought::beside(p, u, sign * half);
                    let stands = ground.elevation([q[0] - ox, q[1] - oy]);
                    stands.map_or(0.0, |s| z - s)
                };
                let high = over((a, w[0][2])).max(over((b, w[1][2]))).max(0.0);
                sign * (half + batter * high)
            };
            let (right, left) = (side(-1.0), side(1.0));
            strips.push([
                sought::beside(a, u, right),
                sought::beside(b, u, right),
                sought::beside(b, u, left),
                sought::beside(a, u, left),
            ]);
        }
        let marks = self.plan.marks.iter().filter_map(|m| match m.kind {
            MarkKind::KeepOut => Some((format!("the keep-out {}", m.name), &m.line)),
            MarkKind::House => Some((format!("the footprint of {}", m.name), &m.line)),
            _ => None,
        });
        let walls = self.plan.solids.iter().filter(|s| !s.new);
        let walls = walls.map(|s| (format!("the wall {}", s.name), &s.footprint));
        let met = marks.chain(walls).filter_map(|(name, ring)| {
            let strip = strips.iter().find(|s| sought::reaches_into(&s[..], ring))?;
            let at = [0, 1].map(|k| strip.iter().map(|p| p[k]).sum::<f64>() / 4.0);
            let z = ground.elevation([at[0] - ox, at[1] - oy]).unwrap_or(0.0);
            let finding = Finding::new(
                Severity::Warning,
                FOUND,
                format!("the soil of its sides may reach into or against {name}"),
                "hold it back with boards, make its batter steeper, or lead it further off: draw a line as a ramp of the design and see what it moves there",
            );
            Some(finding.at(at[0], at[1], z))
        });
        met.collect()
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
