//! The whole plan of the demo, and all that is asked for after it; the plan of the demo with 2,000,
//! 100,000 and 1,000,000 more ground points; and bare `delaunator` on those points in the same run.

mod race;

use brimline::job::{Document, Job};
use brimline::plan::Plan;
use brimline::takeoff::takeoff;
use brimline::{as_built, asked, flow, stakes};
use race::{Race, bare_delaunator, more};

const AFTER: &str = "everything of the demo after the plan";

const TOGETHER: &str = "plan of the demo with its haul and ramp";

const DEMO: &str = include_str!("../surveys/demo.ron");

/// An invented yard, 60 m by 40 m: 15 pads dug and 15 berms raised in 20 stages, with a way in and a loader.
fn busy() -> Option<Job> {
    let mut points = String::new();
    for i in 0..=20 {
        for j in 0..=13 {
            let (x, y) = (3.0 * f64::from(i), 3.0 * f64::from(j));
            let z = 100.0 + 0.02 * x + 0.3 * (0.3 * x).sin() * (0.2 * y).cos();
            points.push_str(&format!("(\"p{i}_{j}\", {x}, {y}, {z:.3}), "));
        }
    }
    let (mut pads, mut berms, mut works) = (String::new(), String::new(), vec![Vec::new(); 20]);
    for k in 0..15usize {
        let (x, y) = (6.0 + 10.0 * (k % 5) as f64, 6.0 + 11.0 * (k / 5) as f64);
        pads.push_str(&format!(
            "(name: \"pad {k}\", outline: [({x}, {y}), ({}, {y}), ({}, {}), ({x}, {})], elevation: 99.6, batter: 1), ",
            x + 4.0, x + 4.0, y + 3.0, y + 3.0
        ));
        berms.push_str(&format!(
            "(name: \"berm {k}\", line: [({x}, {}), ({}, {})], crest: Above(0.4)), ",
            y + 6.0,
            x + 4.0,
            y + 6.0
        ));
        works[k].push(format!("\"pad {k}\""));
        works[k + 5].push(format!("\"berm {k}\""));
    }
    let stages: Vec<String> = works
        .iter()
        .enumerate()
        .map(|(k, w)| format!("(name: \"stage {k}\", works: [{}])", w.join(", ")))
        .collect();
    let text = format!(
        "(name: \"busy\", unit: Metre, field_book: (points: [{points}]), \
         site: (access: (line: [(0, 1), (58, 1)], width: 2)), \
         design: (pads: [{pads}], berms: [{berms}]), \
         haul: (machines: [(name: \"loader\", hours: 100)]), sequence: [{}])",
        stages.join(", ")
    );
    Document::parse("busy", &text).ok().map(|(_, job)| job)
}

fn main() {
    let demo: Job = match Document::parse("surveys/demo.ron", DEMO) {
        Ok((_, job)) => job,
        Err(errors) => {
            eprintln!("{errors}");
            return;
        }
    };
    let plan = Plan::of(&demo);
    let mut race = Race::new();
    race.run("reading the demo", || Document::parse("demo", DEMO).is_ok());
    race.run("plan of the demo", || Plan::of(&demo));
    // Not part of the plan: its command asks for it.
    race.run("takeoff of the demo", || takeoff(&demo, &plan));
    race.run("where the soil goes, demo (and a copy of its plan)", || {
        let mut copy = plan.clone();
        copy.ledger = brimline::ledger::of(&demo, &copy);
        copy.piles = brimline::ledger::piles(&demo, &copy, &copy.ledger).0;
        copy.ledger.stages.len()
    });
    race.run("stakes of the demo", || stakes::of(&demo, &plan));
    race.run("levels of the demo's as-built visit", || {
        as_built::findings(&demo, &plan)
    });
    // Makes the plan of the stage, so it is not part of every plan.
    race.run("as-built of the demo", || as_built::of(&demo, &plan));
    race.run(AFTER, || asked::all(&demo, &plan));
    race.run("the same, each by itself and all at once", || {
        rayon::join(
            || rayon::join(|| takeoff(&demo, &plan), || stakes::of(&demo, &plan)),
            || rayon::join(|| flow::closer(&demo, &plan), || as_built::of(&demo, &plan)),
        )
    });
    race.run("haul and ramp of the demo", || {
        brimline::haul::of(&demo, &plan, &[])
    });
    race.run(TOGETHER, || {
        let plan = Plan::of(&demo);
        let haul = brimline::haul::of(&demo, &plan, &[]);
        (plan, haul)
    });
    if let Some(busy) = busy() {
        let plan = Plan::of(&busy);
        race.run("plan of 30 features in 20 stages", || Plan::of(&busy));
        race.run("haul of 30 features in 20 stages", || {
            brimline::haul::of(&busy, &plan, &[])
        });
    }
    race.run("water of the demo", || flow::of(&demo, &plan));
    race.run("brim and storage of the demo, closer", || {
        flow::closer(&demo, &plan)
    });
    let mut sizes = Vec::new();
    for n in [2_000, 100_000, 1_000_000] {
        let mut job = demo.clone();
        job.field_book.points.extend(more(&plan, n));
        let points: Vec<[f64; 2]> = job.field_book.points.iter().map(|p| [p.x, p.y]).collect();
        race.run(&format!("bare delaunator, {n}"), || {
            bare_delaunator(&points)
        });
        race.run(&format!("plan of the demo + {n}"), || Plan::of(&job));
        sizes.push((n, points.len()));
    }
    println!();
    for (n, really) in &sizes {
        println!("+ {n} means {really} points");
    }
    race.within("plan of the demo", 16.0);
    // All that the sheets are written from but the soil's: takeoff, closer water, stakes, as-built.
    race.within(AFTER, 16.7);
    race.within(TOGETHER, 16.7);
    race.within("stakes of the demo", 2.0);
    // Asked for one by one, each in a frame of its own.
    for part in [
        "takeoff of the demo",
        "as-built of the demo",
        "haul and ramp of the demo",
        "brim and storage of the demo, closer",
    ] {
        race.within(part, 16.0);
    }
    race.within("plan of the demo + 2000", 16.0);
    for n in [100_000, 1_000_000] {
        race.compare(
            &format!("plan of the demo + {n}"),
            &format!("bare delaunator, {n}"),
            "2 ×",
        );
    }
    race.finish();
}
