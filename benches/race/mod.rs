//! What the benches share: every iteration's time is kept beside criterion's own statistics, so that
//! rivals of one run can be compared in plain words at the end.

#![allow(dead_code)] // each bench uses its own part

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::hint::black_box;
use std::time::{Duration, Instant};

use brimline::earthwork::Mosaic;
use brimline::job::KnownPoint;
use brimline::plan::Plan;
use criterion::Criterion;

pub struct Race {
    criterion: Criterion,
    times: RefCell<BTreeMap<String, Vec<Duration>>>,
}

impl Race {
    pub fn new() -> Self {
        Race {
            criterion: Criterion::default()
                .sample_size(10)
                .warm_up_time(Duration::from_millis(500))
                .measurement_time(Duration::from_secs(4))
                .configure_from_args(),
            times: RefCell::new(BTreeMap::new()),
        }
    }

    pub fn run<T>(&mut self, name: &str, mut work: impl FnMut() -> T) {
        let times = &self.times;
        self.criterion.bench_function(name, |bencher| {
            bencher.iter_custom(|n| {
                let mut all = Duration::ZERO;
                for _ in 0..n {
                    let start = Instant::now();
                    let made = black_box(work());
                    let one = start.elapsed();
                    // Giving memory back is not part of the answer.
                    drop(made);
                    all += one;
                    times.borrow_mut().entry(name.into()).or_default().push(one);
                }
                all
            });
        });
    }

    /// Median seconds; `None` if a filter on the command line left it out.
    pub fn median(&self, name: &str) -> Option<f64> {
        let mut times = self.times.borrow().get(name)?.clone();
        times.sort_unstable();
        Some(times.get(times.len() / 2)?.as_secs_f64())
    }

    /// "A takes so many times as long as B".
    pub fn compare(&self, name: &str, rival: &str, goal: &str) {
        if let (Some(a), Some(b)) = (self.median(name), self.median(rival)) {
            println!(
                "{name}: {:.1} ms, {:.2} × the {:.1} ms of {rival} (goal: {goal})",
                a * 1e3,
                a / b,
                b * 1e3
            );
        }
    }

    pub fn within(&self, name: &str, goal_ms: f64) {
        if let Some(a) = self.median(name) {
            println!(
                "{name}: {:.2} ms (goal: {goal_ms} ms, {})",
                a * 1e3,
                if a * 1e3 <= goal_ms { "met" } else { "missed" }
            );
        }
    }

    pub fn finish(self) {
        self.criterion.final_summary();
    }
}

/// xorshift64*: the same points on every run.
pub struct Random(pub u64);

impl Random {
    pub fn unit(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    }
}

pub fn bare_delaunator(points: &[[f64; 2]]) -> usize {
    let points: Vec<_> = points
        .iter()
        .map(|p| delaunator::Point { x: p[0], y: p[1] })
        .collect();
    delaunator::triangulate(&points).len()
}

/// `n` points over the demo's own ground, on a grid with each point shaken, so that none coincide.
pub fn more(plan: &Plan, n: usize) -> Vec<KnownPoint> {
    let Some([low, high]) = plan.existing.bounds() else {
        return Vec::new();
    };
    let ground = Mosaic::new(plan.existing.clone());
    let (w, h) = (high[0] - low[0], high[1] - low[1]);
    let pitch = (plan.existing.plan_area() / n as f64).sqrt();
    let (columns, rows) = ((w / pitch) as usize + 1, (h / pitch) as usize + 1);
    let mut r = Random(99);
    let mut points = Vec::with_capacity(n);
    for i in 0..columns {
        for j in 0..rows {
            let p = [
                low[0] + pitch * (i as f64 + 0.1 + 0.8 * r.unit()),
                low[1] + pitch * (j as f64 + 0.1 + 0.8 * r.unit()),
            ];
            if let Some(z) = ground.elevation(p) {
                points.push(KnownPoint {
                    name: String::new(),
                    x: p[0],
                    y: p[1],
                    z: z + 0.004 * (r.unit() - 0.5),
                });
            }
        }
    }
    points
}
