//! Frame times of the yard, drawn without a window at 1920 × 1080: the demo, and the demo's ground
//! with a million triangles. Run it where there is a graphics card; a software driver takes seconds
//! a frame. What is printed is the median, and what one frame in twenty is over.

use std::time::Duration;

use brimline::earthwork::Mosaic;
use brimline::job::{Document, KnownPoint};
use brimline::plan::Plan;
use brimline::view;

const SIZE: (u32, u32) = (1920, 1080);
const DEMO: &str = include_str!("../surveys/demo.ron");

fn main() {
    // `cargo test --benches` asks for a look only.
    if !std::env::args().any(|a| a == "--bench") {
        return;
    }
    let (_, demo) = Document::parse("demo", DEMO).unwrap_or_else(|e| panic!("{e}"));
    let plan = Plan::of(&demo);
    show("the demo", &plan);
    let mut large = demo.clone();
    large.field_book.points.extend(more(&plan, 500_000));
    show("a million triangles", &Plan::of(&large));
}

fn show(what: &str, plan: &Plan) {
    let triangles = plan.finished.triangles.len();
    match view::frame_times(plan, SIZE, 200) {
        Ok(times) => {
            for (how, mut times) in ["at rest", "turning"].into_iter().zip(times) {
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

/// Points on the ground of the plan, on a grid, so many that they tell in every frame.
fn more(plan: &Plan, count: usize) -> Vec<KnownPoint> {
    let Some([low, high]) = plan.existing.bounds() else {
        return Vec::new();
    };
    let ground = Mosaic::new(plan.existing.clone());
    let pitch = (plan.existing.plan_area() / count as f64).sqrt();
    let steps = |k: usize| ((high[k] - low[k]) / pitch) as usize;
    let mut points = Vec::with_capacity(count);
    for i in 0..steps(0) {
        for j in 0..steps(1) {
            // No three in a row, no four on a circle.
            let off = 0.3 * ((i * 7 + j * 13) % 17) as f64 / 17.0;
            let at = [
                low[0] + pitch * (i as f64 + 0.2 + off),
                low[1] + pitch * (j as f64 + 0.5 - off),
            ];
            if let Some(z) = ground.elevation(at) {
                points.push(KnownPoint {
                    name: String::new(),
                    x: at[0],
                    y: at[1],
                    z: z + 0.002 * off,
                });
            }
        }
    }
    points
}
