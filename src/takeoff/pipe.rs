//! Pipe: of pumps and overflows as the water's reckoning takes it, with the fittings of the job; and in
//! trenches that are filled again and carry none of these, by the run of their floor. Metres, degrees.

use super::lines::Say;
use crate::job::{Job, Pump, Trench};
use crate::plan::{Item, Of, OverflowPipe, Plan, PumpDuty, Takeoff, Trade};
use crate::terrain::predicates::{P2, from_line};
use crate::terrain::{Probe, line};

/// Turns up to this need no bend: the pipe gives (common practice, no source).
const GIVES: f64 = 11.25;
/// From here a turn takes a bend of 90°, below it one of 45°.
const SQUARE: f64 = 67.5;
/// A trench is compared with the pipes at places so far apart.
const STEP: f64 = 0.05;
/// A pipe at least so near to the middle of a trench lies in it: lines are drawn no closer than a foot.
const BESIDE: f64 = 0.3;
/// A trench is that of a pipe if the pipe lies in so much of it; a pipe that only crosses it has its own.
const SAME: f64 = 0.5;

/// A pipe of the plan, and where it runs.
struct Known {
    name: String,
    line: Vec<P2>,
}

pub fn of(job: &Job, plan: &Plan, out: &mut Takeoff) {
    let mut list = List {
        job,
        plan,
        say: Say(job.unit),
        out,
    };
    let known = list.known();
    let carries: Vec<&Trench> = job
        .design
        .trenches
        .iter()
        .filter(|t| t.refill && !job.materials.pipe.not_in.contains(&t.name))
        .collect();
    // Which pipe a trench was drawn for, and over how much of its length that lies in it.
    let drawn_for: Vec<Option<(&Known, f64)>> = carries
        .iter()
        .map(|t| {
            let run = plan.survey.line(&t.line, &job.field_book).ok()?;
            known
                .iter()
                .map(|k| (k, shared(&run, &k.line, (0.5 * t.width).max(BESIDE))))
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .filter(|(_, share)| *share >= SAME)
        })
        .collect();
    let trenches_of = |name: &str| -> Vec<String> {
        let of = |(t, d): (&&Trench, &Option<(&Known, f64)>)| {
            d.filter(|(k, _)| k.name == name).map(|_| t.name.clone())
        };
        carries.iter().zip(&drawn_for).filter_map(of).collect()
    };
    for pump in &job.plumbing.pumps {
        let duty = plan.flow.pumps.iter().find(|d| d.pump == pump.name);
        match duty {
            Some(duty) => list.pump(pump, duty, &trenches_of(&pump.name)),
            None => list.out.notes.push(format!(
                "{}: nothing can be reckoned for it (see the findings), so its pipe and fittings are not taken off.",
                pump.name
            )),
        }
    }
    for pipe in &job.design.overflows {
        let made = plan.flow.overflows.iter().find(|o| o.overflow == pipe.name);
        match made {
            Some(made) => list.overflow(made, &known, &trenches_of(&pipe.name)),
            None => list.out.notes.push(format!(
                "{}: nothing can be reckoned for it (see the findings), so its pipe is not taken off.",
                pipe.name
            )),
        }
    }
    let mut probe = None;
    for (trench, drawn_for) in carries.into_iter().zip(&drawn_for) {
        match drawn_for {
            None => list.trench(
                trench,
                // Filled again, the ground lies as it did when the trench was dug.
                probe.get_or_insert_with(|| Probe::new(&plan.dug)),
            ),
            Some((known, share)) if *share < 0.95 => list.out.notes.push(format!(
                "{}: {} lies in {:.0} % of its length; no pipe is taken off for the rest.",
                trench.name,
                known.name,
                100.0 * share
            )),
            Some(_) => {}
        }
    }
}

/// Share of a trench's line that has a pipe's line within `near` of it.
fn shared(trench: &[P2], pipe: &[P2], near: f64) -> f64 {
    let length = line::length(trench);
    let steps = (length / STEP).ceil().clamp(1.0, 10_000.0) as usize;
    let beside = |p: P2| pipe.windows(2).any(|w| from_line(p, w[0], w[1]) <= near);
    let met = (0..steps)
        .filter(|&k| beside(line::at(trench, (k as f64 + 0.5) / steps as f64 * length)))
        .count();
    met as f64 / steps as f64
}

struct List<'a> {
    job: &'a Job,
    plan: &'a Plan,
    say: Say,
    out: &'a mut Takeoff,
}

impl List<'_> {
    /// The pipes whose size and length are known.
    fn known(&self) -> Vec<Known> {
        let (survey, book) = (&self.plan.survey, &self.job.field_book);
        let flow = &self.plan.flow;
        let pumps = self
            .job
            .plumbing
            .pumps
            .iter()
            .filter(|p| flow.pumps.iter().any(|d| d.pump == p.name))
            .map(|p| (&p.name, &p.line));
        let overflows = self
            .job
            .design
            .overflows
            .iter()
            .filter(|p| flow.overflows.iter().any(|o| o.overflow == p.name))
            .map(|p| (&p.name, &p.line));
        pumps
            .chain(overflows)
            .filter_map(|(name, line)| {
                Some(Known {
                    name: name.clone(),
                    line: survey.line(line, book).ok()?,
                })
            })
            .collect()
    }

    fn add(&mut self, what: impl Into<String>, place: &str, count: f64, how: String) {
        self.out.items.push(
            Item::new(Trade::Pipe, what, place)
                .net(Of::Pieces, count, 0.0)
                .by_lot(1.0)
                .how(how),
        );
    }

    /// Pipe by its length, and what joins its lengths.
    fn pipe(&mut self, what: String, place: &str, length: f64, bore: Option<f64>, how: String) {
        let m = &self.job.materials;
        let stock = m.pipe.stock_length(self.job.unit);
        let mut item = Item::new(Trade::Pipe, what, place)
            .net(Of::Length, length, m.waste.pipe)
            .by_lot(stock)
            .how(format!("{how}; in lengths of {}", self.say.length(stock)));
        item.bore_m = bore;
        let lengths = item.order.map_or(0.0, |o| (o.most / stock).round());
        self.out.items.push(item);
        if lengths > 1.0 {
            let how = format!("between {lengths:.0} lengths; none if the pipe comes as a coil");
            self.add("coupling", place, lengths - 1.0, how);
        }
    }

    fn pump(&mut self, pump: &Pump, duty: &PumpDuty, trenches: &[String]) {
        let say = self.say;
        let Some(pipe) = duty.pipes.iter().find(|p| p.pipe == duty.pipe) else {
            return;
        };
        let run = self.plan.survey.line(&pump.line, &self.job.field_book);
        let run = run.unwrap_or_default();
        let mut how = format!(
            "{} inside; as the water's page reckons it, {} along the slope between its ends ({} in plan, {} up from the intake)",
            say.size(pipe.diameter_m),
            say.length(duty.length_m - pump.extra_length),
            say.length(line::length(&run)),
            say.length(duty.discharge_m - duty.intake_m)
        );
        if pump.extra_length > 0.0 {
            how.push_str(&format!(
                " and {} that the line does not show",
                say.length(pump.extra_length)
            ));
        }
        how.push_str(&lies_in(trenches));
        self.pipe(
            format!("pipe, {}", pipe.pipe),
            &pump.name,
            duty.length_m,
            Some(pipe.diameter_m),
            how,
        );
        let turns = Turns::of(&flat(&run));
        for fitting in &pump.fittings {
            let how = format!(
                "as listed in the job's plumbing, for {}; {} in plan",
                pipe.pipe, turns.told
            );
            self.add(fitting.name.clone(), &pump.name, fitting.count, how);
        }
        if pump.fittings.is_empty() {
            self.out.notes.push(format!(
                "{}: its `fittings` are not listed, so none are taken off; {} in plan, and it comes up from the pump.",
                pump.name, turns.told
            ));
        }
        let listed = |f: &crate::job::Fitting| f.name.to_lowercase().contains("check");
        if pump.check_valve && !pump.fittings.iter().any(listed) {
            let how = "the job keeps the pipe full with one; it is not among the fittings, and its loss is not reckoned".into();
            self.add("check valve", &pump.name, 1.0, how);
        }
    }

    fn overflow(&mut self, made: &OverflowPipe, known: &[Known], trenches: &[String]) {
        let say = self.say;
        let name = &made.overflow;
        let run = known.iter().find(|k| k.name == *name);
        let run = run.map_or(&[][..], |k| k.line.as_slice());
        let length = made.length_m.hypot(made.fall_m);
        let how = format!(
            "{} along its fall ({} in plan, {} down from inlet to outlet){}",
            say.length(length),
            say.length(made.length_m),
            say.length(made.fall_m),
            lies_in(trenches)
        );
        let what = format!("pipe, {} inside", say.size(made.diameter_m));
        self.pipe(what, name, length, Some(made.diameter_m), how);
        let turns = Turns::of(&flat(run));
        self.bends(name, &turns, 0, "");
    }

    /// Bends by the turns of a line, and `more` square ones for a reason.
    fn bends(&mut self, place: &str, turns: &Turns, more: usize, why: &str) {
        if turns.half > 0 {
            let how = format!(
                "{}; up to {GIVES}° the pipe gives, from {SQUARE}° it takes 90°",
                turns.told
            );
            self.add("bend, 45°", place, turns.half as f64, how);
        }
        if turns.square + more > 0 {
            let how = format!("{}{why}", turns.told);
            self.add("bend, 90°", place, (turns.square + more) as f64, how);
        }
    }

    fn trench(&mut self, trench: &Trench, probe: &Probe) {
        let say = self.say;
        let line = self
            .plan
            .survey
            .line(&trench.line, &self.job.field_book)
            .ok();
        let run: Option<Vec<[f64; 3]>> = line.and_then(|line| {
            line.into_iter()
                .map(|p| Some([p[0], p[1], probe.sound(p)?.elevation - trench.depth]))
                .collect()
        });
        let Some(run) = run.filter(|r| r.len() > 1) else {
            self.out.notes.push(format!(
                "{}: its line leaves the surveyed ground, so its pipe is not taken off.",
                trench.name
            ));
            return;
        };
        let plan_length: f64 = run
            .windows(2)
            .map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]))
            .sum();
        let floor: f64 = run.windows(2).map(|w| size(step(w))).sum();
        let how = format!(
            "no pump or overflow of the job runs in it, so its diameter is not known; {} along the trench's floor ({} in plan), and {} up at each end",
            say.length(floor),
            say.length(plan_length),
            say.length(trench.depth)
        );
        let total = floor + 2.0 * trench.depth;
        self.pipe(
            "pipe, diameter not known".into(),
            &trench.name,
            total,
            None,
            how,
        );
        let ends = "; and one at each end, where the pipe comes up";
        self.bends(&trench.name, &Turns::of(&run), 2, ends);
    }
}

fn lies_in(trenches: &[String]) -> String {
    if trenches.is_empty() {
        String::new()
    } else {
        format!(
            "; part of it lies in the trench {}, for which no other pipe is ordered",
            trenches.join(" and ")
        )
    }
}

fn flat(line: &[P2]) -> Vec<[f64; 3]> {
    line.iter().map(|p| [p[0], p[1], 0.0]).collect()
}

fn step(w: &[[f64; 3]]) -> [f64; 3] {
    [w[1][0] - w[0][0], w[1][1] - w[0][1], w[1][2] - w[0][2]]
}

fn size(d: [f64; 3]) -> f64 {
    d.iter().map(|v| v * v).sum::<f64>().sqrt()
}

/// The turns of a run, and the bends that they take.
struct Turns {
    square: usize,
    half: usize,
    told: String,
}

impl Turns {
    fn of(run: &[[f64; 3]]) -> Turns {
        let turns: Vec<f64> = run
            .windows(3)
            .map(|w| {
                let (u, v) = (step(&w[..2]), step(&w[1..]));
                let dot: f64 = u.iter().zip(v).map(|(a, b)| a * b).sum();
                (dot / (size(u) * size(v)).max(1e-12))
                    .clamp(-1.0, 1.0)
                    .acos()
                    .to_degrees()
            })
            .collect();
        let told: Vec<String> = turns.iter().map(|t| format!("{t:.0}°")).collect();
        Turns {
            square: turns.iter().filter(|t| **t >= SQUARE).count(),
            half: turns.iter().filter(|t| **t > GIVES && **t < SQUARE).count(),
            told: if told.is_empty() {
                "its line is straight".into()
            } else {
                format!("its line turns by {}", told.join(", "))
            },
        }
    }
}
