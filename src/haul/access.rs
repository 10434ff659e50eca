//! The way in from the street: narrowest place, steepest stretch on the existing ground, what it
//! crosses, boards and fabric over paving. Metres.
//!
//! Lengths over areas are exact (the line is cut at every edge of the area); gradients are those of
//! the surface's own triangles along the line. Common practice, no source: how boards and fabric lap.

use crate::findings::{About, Finding, Severity};
use crate::job::{Access, Boards, Job, Steps};
use crate::plan::{AccessRoute, MachineWay, MarkKind, Plan, StepsOnWay};
use crate::terrain::line::{self, dist};
use crate::terrain::predicates::{P2, from_line, in_ring};
use crate::terrain::probe::Station;
use crate::terrain::{Probe, Surface};
use crate::units::format_length;

const PLACE: &str = "access";
const GROUND: &str = "the ground rises";
/// Bits of a section shorter than this have no gradient of their own.
const BIT: f64 = 0.02;
/// A rise of less than this is driven over.
const KERB: f64 = 0.03;

/// The way in, and what is wrong with it; `None` without one.
pub fn access(job: &Job, plan: &Plan) -> Option<(AccessRoute, Vec<Finding>)> {
    let access = job.site.access.as_ref()?;
    let known = plan.survey.line(&access.line, &job.field_book);
    let line: Vec<P2> = known.unwrap_or_default();
    let mut findings = Vec::new();
    let lengths: Vec<f64> = line.windows(2).map(|w| dist(w[0], w[1])).collect();
    let total: f64 = lengths.iter().sum();
    if total < 1e-6 {
        findings.push(Finding::new(
            Severity::Error,
            PLACE,
            "has no line in plan, so nothing is known of the way in",
            "give each of its points a place",
        ));
        let findings = Finding::all_about(findings, About::Haul);
        return Some((AccessRoute::default(), findings));
    }
    let unit = |v: f64| format_length(v, job.unit);
    let mut route = AccessRoute {
        length_m: total,
        ..AccessRoute::default()
    };
    let z_at = |along: f64| {
        let p = line::at(&line, along.clamp(0.0, total));
        let near = nearby(&plan.existing, &[p, p]);
        let z = Probe::new(&near).sound(p).map_or(f64::NAN, |s| s.elevation);
        (p, z)
    };
    let place = |finding: Finding, along: f64| {
        let (p, z) = z_at(along);
        if z.is_finite() {
            finding.at(p[0], p[1], z)
        } else {
            finding
        }
    };
    narrowest(access, &lengths, &mut route);
    for (name, along) in access
        .gates
        .iter()
        .map(|g| (&g.name, g.along))
        .chain(access.steps.iter().map(|s| (&s.name, s.along)))
    {
        if along > total + 1e-6 {
            findings.push(Finding::new(
                Severity::Warning,
                PLACE,
                format!(
                    "{name} is {} along the route, which ends at {}",
                    unit(along),
                    unit(total)
                ),
                "measure it along the route from its first point, at the street",
            ));
        }
    }
    route.steps = access
        .steps
        .iter()
        .map(|s| StepsOnWay {
            name: s.name.clone(),
            along_m: s.along,
            rise_m: s.rise,
            run_m: s.run,
            planked: s.planked,
        })
        .collect();
    // What it runs through, which stops whoever keeps to it.
    let mut through: Vec<String> = Vec::new();
    let sections = sections(&plan.existing, &line, &lengths);
    steepest(&sections, &mut route);
    let mut paved = Vec::new();
    for mark in &plan.marks {
        let inside = length_inside(&line, &lengths, &mark.line);
        let (what, remedy) = match mark.kind {
            MarkKind::Paving => {
                paved.extend(inside);
                continue;
            }
            MarkKind::KeepOut => ("the keep-out", "lead it round, outside the keep-out"),
            MarkKind::House => ("the footprint of", "lead it round"),
            _ => continue,
        };
        if let Some(&[from, to]) = inside.first() {
            through.push(format!("it runs through {what} {}", mark.name));
            let found = Finding::new(
                Severity::Warning,
                PLACE,
                format!(
                    "runs through {what} {} for {}",
                    mark.name,
                    unit(inside.iter().map(|[a, b]| b - a).sum())
                ),
                remedy,
            );
            findings.push(place(found, 0.5 * (from + to)));
        }
    }
    // Where slabs are drawn over each other the boards lie once.
    let paved = united(paved);
    route.over_paving_m = paved.iter().map(|[a, b]| b - a).sum();
    boards(&access.boards, &paved, &mut route);
    for solid in plan.solids.iter().filter(|s| !s.new) {
        if let Some(&[from, _]) = length_inside(&line, &lengths, &solid.footprint).first() {
            through.push(format!("it runs through the wall {}", solid.name));
            let found = Finding::new(
                Severity::Warning,
                PLACE,
                format!("runs through the wall {}", solid.name),
                "lead it round the wall, or to a gap in it",
            );
            findings.push(place(found, from));
        }
    }
    for steps in access.steps.iter().filter(|s| !s.planked) {
        let found = Finding::new(
            Severity::Warning,
            PLACE,
            format!(
                "{} cross it, {} high: neither machine nor barrow gets over them as they are",
                steps.name,
                unit(steps.rise)
            ),
            "lay planks or fill a ramp over them and say `planked: true`, or lead the route round",
        );
        findings.push(place(found, steps.along));
    }
    let bridged = ramp_over(job, plan, line::at(&line, route.gradient_along_m + 0.05));
    machines(
        job,
        access,
        bridged,
        &through,
        &mut route,
        &mut findings,
        place,
    );
    Some((route, Finding::all_about(findings, About::Haul)))
}

/// The ramp of the design that is built over a place.
fn ramp_over<'a>(job: &'a Job, plan: &Plan, p: P2) -> Option<&'a str> {
    let over = |ramp: &&crate::job::Ramp| {
        let line = plan.survey.line(&ramp.line, &job.field_book);
        line.unwrap_or_default()
            .windows(2)
            .any(|w| from_line(p, w[0], w[1]) <= 0.5 * ramp.width)
    };
    job.design.ramps.iter().find(over).map(|r| r.name.as_str())
}

fn machines(
    job: &Job,
    access: &Access,
    bridged: Option<&str>,
    through: &[String],
    route: &mut AccessRoute,
    findings: &mut Vec<Finding>,
    place: impl Fn(Finding, f64) -> Finding,
) {
    let unit = |v: f64| format_length(v, job.unit);
    let percent = |g: f64| format!("{:.0} %", 100.0 * g);
    let barrow = &job.haul.barrow;
    let all = job
        .haul
        .machines
        .iter()
        .map(|m| (m.name.as_str(), m.width, m.gradient))
        .chain(std::iter::once(("barrow", barrow.width, barrow.gradient)));
    for (name, width, gradient) in all {
        let needs = width + 2.0 * job.haul.clearance;
        let mut why = String::new();
        let narrow = needs > route.narrowest_m + 1e-9;
        let over = |s: &Steps| !s.planked || s.rise / s.run > gradient + 1e-9;
        let shut_out = narrow || access.steps.iter().any(over);
        if narrow {
            why = format!(
                "{} is {} wide, it needs {}",
                route.narrowest_name,
                unit(route.narrowest_m),
                unit(needs)
            );
            let found = Finding::new(
                Severity::Warning,
                PLACE,
                format!("too narrow for {name}: {why}"),
                if name == "barrow" {
                    "take the gate and a post out, or take a narrower barrow"
                } else {
                    "take the gate and a post out, take a narrower machine, or carry by barrow"
                },
            );
            findings.push(place(found, route.narrowest_along_m));
        }
        let planks = access.steps.iter().filter(|s| s.planked).map(|s| {
            (
                s.rise / s.run,
                s.along,
                format!("the planks over {} rise", s.name),
            )
        });
        let ground = route
            .gradient_max
            .map(|g| (g, route.gradient_along_m, GROUND.to_string()));
        for (found, along, what) in planks.chain(ground) {
            if found <= gradient + 1e-9 {
                continue;
            }
            let says = format!(
                "{what} {} at {} along; it takes {}",
                percent(found),
                unit(along),
                percent(gradient)
            );
            let ramp = bridged.filter(|_| what == GROUND);
            let finding = match ramp {
                Some(ramp) => Finding::new(
                    Severity::Note,
                    PLACE,
                    format!("too steep for {name} until {ramp} stands: {says}"),
                    "build the ramp first; until it stands go round the steep place where the ground allows it, or carry by hand",
                ),
                None => Finding::new(
                    Severity::Warning,
                    PLACE,
                    format!("too steep for {name}: {says}"),
                    "fill a ramp there, lead the route round, or take what the maker allows on such a slope",
                ),
            };
            let says = match ramp {
                Some(ramp) => format!("{says}, until {ramp} stands"),
                None => says,
            };
            findings.push(place(finding, along));
            if !why.is_empty() {
                why.push_str("; ");
            }
            why.push_str(&says);
        }
        if let Some(steps) = access.steps.iter().find(|s| !s.planked) {
            if !why.is_empty() {
                why.push_str("; ");
            }
            why.push_str(&format!("{} in the way", steps.name));
        }
        for what in through {
            if !why.is_empty() {
                why.push_str("; ");
            }
            why.push_str(what);
        }
        route.machines.push(MachineWay {
            name: name.into(),
            needs_m: needs,
            gets_in: why.is_empty() && route.gradient_max.is_some(),
            shut_out,
            why,
        });
    }
}

fn narrowest(access: &Access, lengths: &[f64], route: &mut AccessRoute) {
    route.narrowest_m = access.width;
    route.narrowest_name = "the route".into();
    if access.widths.len() == lengths.len() + 1 {
        // Between points the width changes evenly, so it is least at one of them.
        route.narrowest_m = f64::INFINITY;
        let mut along = 0.0;
        for (k, &w) in access.widths.iter().enumerate() {
            if w < route.narrowest_m {
                (route.narrowest_m, route.narrowest_along_m) = (w, along);
            }
            along += lengths.get(k).copied().unwrap_or(0.0);
        }
    }
    for gate in &access.gates {
        if gate.width < route.narrowest_m {
            route.narrowest_m = gate.width;
            route.narrowest_name = gate.name.clone();
            route.narrowest_along_m = gate.along;
        }
    }
}

/// The existing ground cut along each straight of the line: distance along the whole line, elevation.
fn sections(ground: &Surface, line: &[P2], lengths: &[f64]) -> Vec<Vec<Station>> {
    let near = nearby(ground, line);
    if near.triangles.is_empty() {
        return Vec::new();
    }
    let probe = Probe::new(&near);
    let mut out = Vec::new();
    let mut along = 0.0;
    for (w, length) in line.windows(2).zip(lengths) {
        let stations = probe.section(w[0], w[1]);
        out.push(stations.iter().map(|s| [along + s[0], s[1]]).collect());
        // Gaps in the ground are no gradient: cut there.
        let last: Vec<Station> = out.pop().unwrap_or_default();
        let mut run: Vec<Station> = Vec::new();
        for s in last {
            let gap = run.last().is_some_and(|l| {
                let f = (0.5 * (l[0] + s[0]) - along) / length;
                let middle = [
                    w[0][0] + f * (w[1][0] - w[0][0]),
                    w[0][1] + f * (w[1][1] - w[0][1]),
                ];
                s[0] - l[0] > 1e-6 && probe.sound(middle).is_none()
            });
            if gap {
                out.push(std::mem::take(&mut run));
            }
            run.push(s);
        }
        out.push(run);
        along += length;
    }
    out
}

fn steepest(sections: &[Vec<Station>], route: &mut AccessRoute) {
    for run in sections {
        let mut k = 0;
        while k + 1 < run.len() {
            // Slivers are taken together with what follows.
            let mut j = k + 1;
            while j + 1 < run.len() && run[j][0] - run[k][0] < BIT {
                j += 1;
            }
            let (length, rise) = (run[j][0] - run[k][0], (run[j][1] - run[k][1]).abs());
            route.surveyed_m += length;
            if rise > KERB.min(length) || length >= BIT {
                let gradient = rise / length.max(BIT);
                if route.gradient_max.is_none_or(|g| gradient > g + 1e-12) {
                    route.gradient_max = Some(gradient);
                    route.gradient_along_m = run[k][0];
                }
            }
            k = j;
        }
    }
}

/// Stretches in their order, those that overlap as one.
fn united(mut stretches: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    stretches.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut out: Vec<[f64; 2]> = Vec::new();
    for [from, to] in stretches {
        match out.last_mut().filter(|last| from < last[1]) {
            Some(last) => last[1] = last[1].max(to),
            None => out.push([from, to]),
        }
    }
    out
}

/// Whole boards and strips of fabric over stretches of paving.
pub(super) fn boards(b: &Boards, stretches: &[[f64; 2]], route: &mut AccessRoute) {
    let tracks = b.tracks.round().max(1.0);
    route.board_length_m = b.length;
    route.board_width_m = b.width;
    route.tracks = tracks as u32;
    for [from, to] in stretches {
        let length = to - from;
        let row = laid(length, b.length, b.overlap);
        route.boards += row * tracks as u32;
        // The fabric lies under all tracks, with a lap of ground beside them.
        let strips = laid(tracks * b.width, b.fabric_width, b.fabric_overlap);
        route.fabric_strips += strips;
        route.fabric_strip_m = route.fabric_strip_m.max(length + 2.0 * b.fabric_overlap);
    }
}

/// How many pieces of a length, each over the next by `lap`, cover a stretch.
pub fn laid(stretch: f64, piece: f64, lap: f64) -> u32 {
    if stretch <= 1e-6 {
        return 0;
    }
    let more = ((stretch - piece) / (piece - lap) - 1e-9).ceil().max(0.0);
    1 + more.min(1e6) as u32
}

/// Stretches of the line inside a ring, as distances along it; exact but for rounding.
pub fn length_inside(line: &[P2], lengths: &[f64], ring: &[P2]) -> Vec<[f64; 2]> {
    let mut out: Vec<[f64; 2]> = Vec::new();
    if ring.len() < 3 {
        return out;
    }
    let mut along = 0.0;
    for (w, &length) in line.windows(2).zip(lengths) {
        let d = [w[1][0] - w[0][0], w[1][1] - w[0][1]];
        let mut cuts = vec![0.0, 1.0];
        for k in 0..ring.len() {
            let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
            let e = [b[0] - a[0], b[1] - a[1]];
            let det = d[0] * e[1] - d[1] * e[0];
            if det.abs() < 1e-15 {
                continue;
            }
            let r = [a[0] - w[0][0], a[1] - w[0][1]];
            let f = (r[0] * e[1] - r[1] * e[0]) / det;
            let g = (r[0] * d[1] - r[1] * d[0]) / det;
            if f > 0.0 && f < 1.0 && (0.0..=1.0).contains(&g) {
                cuts.push(f);
            }
        }
        cuts.sort_by(f64::total_cmp);
        for c in cuts.windows(2) {
            let middle = 0.5 * (c[0] + c[1]);
            let p = [w[0][0] + middle * d[0], w[0][1] + middle * d[1]];
            if (c[1] - c[0]) * length > 1e-9 && in_ring(ring, p) {
                let (from, to) = (along + c[0] * length, along + c[1] * length);
                match out.last_mut() {
                    Some(last) if from - last[1] < 1e-6 => last[1] = to,
                    _ => out.push([from, to]),
                }
            }
        }
        along += length;
    }
    out
}

/// The triangles of a surface whose boxes meet that of some points.
pub fn nearby(surface: &Surface, points: &[P2]) -> Surface {
    let (mut lo, mut hi) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in points {
        for k in 0..2 {
            lo[k] = lo[k].min(p[k]);
            hi[k] = hi[k].max(p[k]);
        }
    }
    let mut near = Surface::default();
    for t in 0..surface.triangles.len() {
        let c = surface.corners(t);
        let meets = (0..2).all(|k| {
            c[0][k].min(c[1][k]).min(c[2][k]) <= hi[k] && c[0][k].max(c[1][k]).max(c[2][k]) >= lo[k]
        });
        if meets {
            let n = near.points.len() as u32;
            near.points.extend(c);
            near.triangles.push([n, n + 1, n + 2]);
            near.made_by
                .push(surface.made_by.get(t).copied().unwrap_or(0));
        }
    }
    near
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_inside_and_boards() {
        let square = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        let line = [[-1.0, 1.0], [2.0, 1.0], [2.0, 9.0]];
        let inside = length_inside(&line, &[3.0, 8.0], &square);
        assert_eq!(inside.len(), 1);
        assert!((inside[0][0] - 1.0).abs() < 1e-12 && (inside[0][1] - 6.0).abs() < 1e-12);
        // 2.4 m boards lapped by 0.1 m over 5 m: 2.4, 4.7, 7.0.
        assert_eq!(laid(5.0, 2.4, 0.1), 3);
        assert_eq!(laid(4.7, 2.4, 0.1), 2);
        assert_eq!(laid(2.4, 2.4, 0.1), 1);
        assert_eq!(laid(0.0, 2.4, 0.1), 0);
    }
}
