//! Pipe in the trenches that are filled again: by the run of the trench's floor and up at both ends;
//! bends by the turns of its line. Metres, degrees.

use super::lines::Say;
use crate::job::Job;
use crate::plan::{Item, Of, Plan, Takeoff, Trade};
use crate::terrain::Probe;

/// Turns up to this need no bend: the pipe gives (common practice, no source).
const GIVES: f64 = 11.25;
/// From here a turn takes a bend of 90°, below it one of 45°.
const SQUARE: f64 = 67.5;

pub fn of(job: &Job, plan: &Plan, out: &mut Takeoff) {
    let say = Say(job.unit);
    let m = &job.materials;
    let trenches = job
        .design
        .trenches
        .iter()
        .filter(|t| t.refill && !m.pipe.not_in.contains(&t.name));
    let mut probe = None;
    for trench in trenches {
        let line = plan.survey.line(&trench.line, &job.field_book).ok();
        // Filled again, the ground lies as it did when the trench was dug.
        let probe = probe.get_or_insert_with(|| Probe::new(&plan.dug));
        let run: Option<Vec<[f64; 3]>> = line.and_then(|line| {
            line.into_iter()
                .map(|p| Some([p[0], p[1], probe.sound(p)?.elevation - trench.depth]))
                .collect()
        });
        let Some(run) = run.filter(|r| r.len() > 1) else {
            out.notes.push(format!(
                "{}: its line leaves the surveyed ground, so its pipe is not taken off.",
                trench.name
            ));
            continue;
        };
        let step = |w: &[[f64; 3]]| [w[1][0] - w[0][0], w[1][1] - w[0][1], w[1][2] - w[0][2]];
        let size = |d: [f64; 3]| d.iter().map(|v| v * v).sum::<f64>().sqrt();
        let plan_length: f64 = run
            .windows(2)
            .map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]))
            .sum();
        let floor: f64 = run.windows(2).map(|w| size(step(w))).sum();
        let total = floor + 2.0 * trench.depth;
        let stock = m.pipe.stock_length(job.unit);
        let item = Item::new(Trade::Pipe, "pipe", &trench.name)
            .net(Of::Length, total, m.waste.pipe)
            .by_lot(stock)
            .how(format!(
                "{} along the trench's floor ({} in plan), and {} up at each end; in lengths of {}",
                say.length(floor),
                say.length(plan_length),
                say.length(trench.depth),
                say.length(stock)
            ));
        let lengths = item.order.map_or(0.0, |o| (o.most / stock).round());
        out.items.push(item);
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
        let square = turns.iter().filter(|t| **t >= SQUARE).count();
        let half = turns.iter().filter(|t| **t > GIVES && **t < SQUARE).count();
        let told: Vec<String> = turns.iter().map(|t| format!("{t:.0}°")).collect();
        let told = if told.is_empty() {
            "its line is straight".to_string()
        } else {
            format!("its line turns by {}", told.join(", "))
        };
        if half > 0 {
            out.items.push(
                Item::new(Trade::Pipe, "bend, 45°", &trench.name)
                    .net(Of::Pieces, half as f64, 0.0)
                    .by_lot(1.0)
                    .how(format!(
                        "{told}; up to {GIVES}° the pipe gives, from {SQUARE}° it takes 90°"
                    )),
            );
        }
        out.items.push(
            Item::new(Trade::Pipe, "bend, 90°", &trench.name)
                .net(Of::Pieces, (square + 2) as f64, 0.0)
                .by_lot(1.0)
                .how(format!(
                    "{told}; and one at each end, where the pipe comes up"
                )),
        );
        if lengths > 1.0 {
            out.items.push(
                Item::new(Trade::Pipe, "coupling", &trench.name)
                    .net(Of::Pieces, lengths - 1.0, 0.0)
                    .by_lot(1.0)
                    .how(format!(
                        "between {lengths:.0} lengths; none if the pipe comes as a coil"
                    )),
            );
        }
    }
}
