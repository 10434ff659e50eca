//! Frame times of the yard, drawn without a window at 1920 × 1080: the demo, and the demo's ground
//! with a million triangles. Run it where there is a graphics card; a software driver takes seconds
//! a frame. What is printed is the median, and what one frame in twenty is over.

mod race;

use std::time::Duration;

use brimline::job::{Document, Job};
use brimline::plan::Plan;
use brimline::view;
use race::more;

const SIZE: (u32, u32) = (1920, 1080);
const DEMO: &str = include_str!("../surveys/demo.ron");

fn main() {
    // `cargo test --benches` asks for a look only.
    if !std::env::args().any(|a| a == "--bench") {
        return;
    }
    let (_, demo) = Document::parse("demo", DEMO).unwrap_or_else(|e| panic!("{e}"));
    show("the demo", &demo, [200; 3]);
    let mut large = demo.clone();
    large
        .field_book
        .points
        .extend(more(&Plan::of(&demo), 500_000));
    // A plan of it takes seconds.
    show("a million triangles", &large, [40, 40, 4]);
}

fn show(what: &str, job: &Job, counts: [usize; 3]) {
    let triangles = Plan::of(job).finished.triangles.len();
    // A millimetre to and fro, as under a hand.
    let mut other = job.clone();
    for basin in &mut other.design.basins {
        basin.floor_depth += 0.001;
    }
    match view::frame_times([job, &other], SIZE, counts) {
        Ok(times) => {
            let kinds = ["at rest", "turning", "dragging, a plan in each"];
            for (how, mut times) in kinds.into_iter().zip(times) {
                times.sort();
                let ms = |d: Duration| d.as_secs_f64() * 1e3;
                println!(
                    "{what} ({triangles} triangles), {how}: {:.2} ms a frame, one in twenty over {:.2} ms",
                    ms(times[times.len() / 2]),
                    ms(times[times.len() * 19 / 20])
                );
            }
        }
        Err(why) => println!("{what}: {why}"),
    }
}
