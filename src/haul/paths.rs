//! Shortest ways over the yard for whatever drives or is pushed: over squares with enough room to both
//! sides, no ground steeper than it takes, neither along nor across, then pulled straight wherever the straight line is as good.
//! Metres.
//!
//! Dijkstra over sixteen directions; the pulled line is what is measured. Ends are joined to any
//! square within [`REACH`], the reach of a bucket or a shovel's throw.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::terrain::line::{self, dist};
use crate::terrain::predicates::P2;

use super::field::{Field, Ground};

pub const REACH: f64 = 2.5;
const NONE: u32 = u32::MAX;

/// Sixteen directions over squares, counter-clockwise.
pub(super) const HEADINGS: [(i32, i32); 16] = [
    (1, 0),
    (2, 1),
    (1, 1),
    (1, 2),
    (0, 1),
    (-1, 2),
    (-1, 1),
    (-2, 1),
    (-1, 0),
    (-2, -1),
    (-1, -1),
    (-1, -2),
    (0, -1),
    (1, -2),
    (1, -1),
    (2, -1),
];

/// Where something can drive.
pub struct Map<'a> {
    field: &'a Field,
    ground: &'a Ground,
    pass: Vec<bool>,
    limit: f64,
}

/// Distances from one place.
pub struct Reach {
    from: P2,
    distance: Vec<f64>,
    before: Vec<u32>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    pub line: Vec<P2>,
    pub length: f64,
    pub gradient: f64,
}

impl<'a> Map<'a> {
    pub fn new(field: &'a Field, ground: &'a Ground, room: &[f64], half: f64, limit: f64) -> Self {
        // Across a slope as well as up it: the ground itself may not be steeper than that, but for
        // what squares make of an edge.
        let steepest = 1.15 * limit;
        let level = |k: usize| {
            let (x, y) = (k % field.columns, k / field.columns);
            let fall = |a: usize, b: usize, squares: usize| {
                let d = (ground.z[b] - ground.z[a]) / (squares.max(1) as f64 * field.side);
                if d.is_finite() { d } else { 0.0 }
            };
            let (x0, x1) = (x.saturating_sub(1), (x + 1).min(field.columns - 1));
            let (y0, y1) = (y.saturating_sub(1), (y + 1).min(field.rows - 1));
            let row = y * field.columns;
            let gx = fall(row + x0, row + x1, x1 - x0);
            let gy = fall(y0 * field.columns + x, y1 * field.columns + x, y1 - y0);
            gx.hypot(gy) <= steepest
        };
        let pass = (0..ground.open.len())
            .map(|k| ground.open[k] && room[k] >= half && ground.z[k].is_finite() && level(k))
            .collect();
        Map {
            field,
            ground,
            pass,
            limit,
        }
    }

    fn near(&self, p: P2) -> Vec<(usize, f64)> {
        let f = self.field;
        let n = (REACH / f.side).ceil() as i64;
        let k = f.square(p);
        let (x, y) = ((k % f.columns) as i64, (k / f.columns) as i64);
        let mut out = Vec::new();
        for j in (y - n).max(0)..=(y + n).min(f.rows as i64 - 1) {
            for i in (x - n).max(0)..=(x + n).min(f.columns as i64 - 1) {
                let k = j as usize * f.columns + i as usize;
                let d = dist(p, f.middle(k));
                if self.pass[k] && d <= REACH {
                    out.push((k, d));
                }
            }
        }
        out
    }

    pub fn from(&self, p: P2) -> Reach {
        let f = self.field;
        let n = self.pass.len();
        let mut reach = Reach {
            from: p,
            distance: vec![f64::INFINITY; n],
            before: vec![NONE; n],
        };
        let mut heap: BinaryHeap<Reverse<(u64, u32)>> = BinaryHeap::new();
        for (k, d) in self.near(p) {
            reach.distance[k] = d;
            heap.push(Reverse((d.to_bits(), k as u32)));
        }
        while let Some(Reverse((bits, k))) = heap.pop() {
            let d = f64::from_bits(bits);
            let k = k as usize;
            if d > reach.distance[k] {
                continue;
            }
            let (x, y) = ((k % f.columns) as i32, (k / f.columns) as i32);
            for (dx, dy) in HEADINGS {
                let (i, j) = (x + dx, y + dy);
                if i < 0 || j < 0 || i >= f.columns as i32 || j >= f.rows as i32 {
                    continue;
                }
                let to = j as usize * f.columns + i as usize;
                if !self.pass[to] {
                    continue;
                }
                // What a longer step passes over must be free as well.
                if dx.abs() + dy.abs() == 3 {
                    let (hx, hy) = (dx / 2, dy / 2);
                    let a = (y + hy) as usize * f.columns + (x + hx) as usize;
                    let b = (y + dy - hy) as usize * f.columns + (x + dx - hx) as usize;
                    if !self.pass[a] || !self.pass[b] {
                        continue;
                    }
                }
                let step = f64::from(dx * dx + dy * dy).sqrt() * f.side;
                if (self.ground.z[to] - self.ground.z[k]).abs() > self.limit * step + 1e-9 {
                    continue;
                }
                let new = d + step;
                if new < reach.distance[to] - 1e-12 {
                    reach.distance[to] = new;
                    reach.before[to] = k as u32;
                    heap.push(Reverse((new.to_bits(), to as u32)));
                }
            }
        }
        reach
    }

    /// The way from where `reach` began to `p`.
    pub fn to(&self, reach: &Reach, p: P2) -> Option<Way> {
        let (end, _) = self
            .near(p)
            .into_iter()
            .map(|(k, d)| (k, reach.distance[k] + d))
            .filter(|(_, d)| d.is_finite())
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        let mut squares = vec![end];
        let mut k = end;
        while reach.before[k] != NONE {
            k = reach.before[k] as usize;
            squares.push(k);
        }
        squares.reverse();
        let mut line = vec![reach.from];
        line.extend(squares.iter().map(|&k| self.field.middle(k)));
        line.push(p);
        let line = self.pulled(&line);
        let length = line::length(&line);
        let gradient = line
            .windows(2)
            .map(|w| self.steepest(w[0], w[1]))
            .fold(0.0, f64::max);
        Some(Way {
            line,
            length,
            gradient: gradient.min(self.limit),
        })
    }

    fn pulled(&self, line: &[P2]) -> Vec<P2> {
        let mut out = vec![line[0]];
        let mut k = 0;
        while k + 1 < line.len() {
            let mut j = k + 1;
            let mut probe = line.len() - 1;
            while probe > j {
                if self.straight(line[k], line[probe]) {
                    j = probe;
                    break;
                }
                // Coarse at first, then one by one: long lines are seldom free.
                probe -= 1 + (probe - j) / 16;
            }
            out.push(line[j]);
            k = j;
        }
        out
    }

    /// Whether one can go straight; the ends themselves may lie in what is being dug or placed.
    fn straight(&self, a: P2, b: P2) -> bool {
        let length = dist(a, b);
        let steps = (length / (0.5 * self.field.side)).ceil().max(1.0) as usize;
        let at = |s: usize| {
            let f = s as f64 / steps as f64;
            [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])]
        };
        (0..=steps).all(|s| self.pass[self.field.square(at(s))])
            && self.steepest(a, b) <= self.limit + 1e-9
    }

    /// Steepest over stretches of a square's length.
    fn steepest(&self, a: P2, b: P2) -> f64 {
        let length = dist(a, b);
        let steps = (length / self.field.side).floor().max(1.0) as usize;
        if length < 1e-9 {
            return 0.0;
        }
        let z = |s: usize| {
            let f = s as f64 / steps as f64;
            let p = [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
            self.field.height(&self.ground.z, p)
        };
        (0..steps)
            .map(|s| (z(s + 1) - z(s)).abs() / (length / steps as f64))
            .filter(|g| g.is_finite())
            .fold(0.0, f64::max)
    }
}
