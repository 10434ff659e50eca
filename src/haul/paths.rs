//! Shortest ways over the yard for whatever drives or is pushed: over squares with enough room to both
//! sides, no ground steeper than it takes, neither along nor across, then pulled straight wherever the straight line is as good.
//! Metres.
//!
//! Dijkstra over sixteen directions; the pulled line is what is measured. Ends are joined to any
//! square within [`REACH`], the reach of a bucket or a shovel's throw; the middle of a pile to any
//! within that of its foot.

use crate::terrain::line::{self, dist};
use crate::terrain::predicates::P2;

use super::field::{Field, Ground};

pub const REACH: f64 = 2.5;
const NONE: u32 = u32::MAX;

/// Sixteen directions over squares, counter-clockwise: the other half are the first eight turned about.
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
    /// Of each square, one bit for each heading that it can be left in.
    ways: Vec<u16>,
    /// Squares between which there is a way have the same number.
    part: Vec<u32>,
}

/// Distances from one place, as far out as anybody asked yet.
pub struct Reach {
    from: P2,
    /// Parts of the map that it gets to.
    parts: Vec<u32>,
    distance: Vec<f64>,
    before: Vec<u32>,
    /// Squares reached and not yet left, by the stretch of distance that they lie in.
    waiting: Vec<Vec<(u64, u32)>>,
    /// Stretches that are done with.
    done: usize,
}

/// Length of a stretch, as part of a square's side: shorter than any step, so that no step ends in
/// the stretch that it starts in.
const STRETCH: f64 = 0.99;

/// About so many squares wait in a stretch.
const ABOUT: usize = 64;

#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    pub line: Vec<P2>,
    pub length: f64,
    pub gradient: f64,
}

impl<'a> Map<'a> {
    /// Of the ground where there is so much `room` ([`Field::room`]) and where it is so `steep`
    /// ([`Field::steep`]): of what needs `half` its width to both sides and takes slopes up to `limit`.
    pub fn new(
        field: &'a Field,
        ground: &'a Ground,
        room: &[u32],
        steep: &[f64],
        half: f64,
        limit: f64,
    ) -> Self {
        // Across a slope as well as up it: the ground itself may not be steeper than that, but for
        // what squares make of an edge.
        let steepest = (1.15 * limit).powi(2);
        let least = field.squares(half).powi(2).ceil() as u32;
        let gentle = room
            .iter()
            .zip(steep)
            .map(|(room, steep)| (*room >= least) & (*steep <= steepest));
        let there = ground.open.iter().zip(&ground.z);
        let pass: Vec<bool> = there
            .zip(gentle)
            .enumerate()
            .map(|(k, ((open, z), gentle))| *open & z.is_finite() & gentle & field.clear(k, half))
            .collect();
        let n = pass.len();
        let mut map = Map {
            field,
            ground,
            pass,
            limit,
            ways: vec![0; n],
            part: Vec::new(),
        };
        map.join();
        map.part = map.parts();
        map
    }

    /// Finds the ways from each square to its neighbours.
    fn join(&mut self) {
        let f = self.field;
        let (columns, rows) = (f.columns as i32, f.rows as i32);
        let mut open: Vec<u16> = Vec::with_capacity(f.columns);
        for (h, &(dx, dy)) in HEADINGS.iter().enumerate().take(8) {
            let most = self.limit * self.step(h) + 1e-9;
            let by = dy as isize * f.columns as isize + dx as isize;
            // What a longer step passes over must be free as well.
            let half = (dx / 2) as isize + (dy / 2) as isize * f.columns as isize;
            let (first, last) = ((-dx).max(0), columns - dx.max(0));
            if first >= last {
                continue;
            }
            let count = (last - first) as usize;
            let (pass, z) = (&self.pass, &self.ground.z);
            for y in 0..rows - dy {
                let k = y as usize * f.columns + first as usize;
                let to = k.wrapping_add_signed(by);
                let (a, b) = (k.wrapping_add_signed(half), to.wrapping_add_signed(-half));
                // A row of squares beside the row that the step leads to, and those passed over.
                let row = |k: usize| pass[k..k + count].iter();
                let heights = z[k..k + count].iter().zip(&z[to..to + count]);
                let free = row(k).zip(row(to)).zip(row(a).zip(row(b)));
                open.clear();
                open.extend(free.zip(heights).map(|(((k, to), (a, b)), (here, there))| {
                    let free = *k & *to & *a & *b;
                    u16::from(free & ((there - here).abs() <= most))
                }));
                let ways = self.ways[k..k + count].iter_mut();
                ways.zip(&open).for_each(|(w, open)| *w |= open << h);
                let ways = self.ways[to..to + count].iter_mut();
                ways.zip(&open).for_each(|(w, open)| *w |= open << (h + 8));
            }
        }
    }

    /// Numbers the parts between which there is no way.
    fn parts(&self) -> Vec<u32> {
        fn root(part: &mut [u32], mut k: u32) -> u32 {
            while part[k as usize] != k {
                let up = part[part[k as usize] as usize];
                part[k as usize] = up;
                k = up;
            }
            k
        }
        let number = |(k, &pass): (usize, &bool)| if pass { k as u32 } else { NONE };
        let mut part: Vec<u32> = self.pass.iter().enumerate().map(number).collect();
        // Every way is seen from one of its ends in the first eight headings.
        let by: [isize; 8] = std::array::from_fn(|h| {
            let (dx, dy) = HEADINGS[h];
            dy as isize * self.field.columns as isize + dx as isize
        });
        for k in 0..part.len() {
            let mut ways = self.ways[k] & 0xff;
            if ways == 0 {
                continue;
            }
            let mut its = root(&mut part, k as u32);
            while ways != 0 {
                let h = ways.trailing_zeros() as usize;
                ways &= ways - 1;
                let to = k.wrapping_add_signed(by[h]);
                if part[to] != its {
                    let other = root(&mut part, to as u32);
                    let first = its.min(other);
                    part[its as usize] = first;
                    part[other as usize] = first;
                    its = first;
                }
            }
        }
        // A square points only to those before it, which are numbered for good.
        for k in 0..part.len() {
            if part[k] != NONE {
                part[k] = part[part[k] as usize];
            }
        }
        part
    }

    /// The squares next to one, each with the heading that leads to it.
    fn next(&self, k: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        let mut ways = self.ways[k];
        std::iter::from_fn(move || {
            if ways == 0 {
                return None;
            }
            let h = ways.trailing_zeros() as usize;
            ways &= ways - 1;
            let (dx, dy) = HEADINGS[h];
            let by = dy as isize * self.field.columns as isize + dx as isize;
            Some((h, k.wrapping_add_signed(by)))
        })
    }

    /// Length of a step in a heading.
    fn step(&self, h: usize) -> f64 {
        let (dx, dy) = HEADINGS[h];
        f64::from(dx * dx + dy * dy).sqrt() * self.field.side
    }

    /// Whether there is a way between two places, each with the reach around it.
    pub fn joined(&self, a: (P2, f64), b: (P2, f64)) -> bool {
        let parts = self.parts_of(&self.near(a.0, a.1));
        self.near(b.0, b.1)
            .iter()
            .any(|(k, _)| parts.contains(&self.part[*k]))
    }

    fn parts_of(&self, squares: &[(usize, f64)]) -> Vec<u32> {
        let mut parts: Vec<u32> = squares.iter().map(|(k, _)| self.part[*k]).collect();
        parts.sort_unstable();
        parts.dedup();
        parts
    }

    fn near(&self, p: P2, reach: f64) -> Vec<(usize, f64)> {
        let f = self.field;
        let n = (reach / f.side).ceil() as i64;
        let k = f.square(p);
        let (x, y) = ((k % f.columns) as i64, (k / f.columns) as i64);
        let in_sight = f.in_sight(p, reach);
        let mut out = Vec::new();
        for j in (y - n).max(0)..=(y + n).min(f.rows as i64 - 1) {
            for i in (x - n).max(0)..=(x + n).min(f.columns as i64 - 1) {
                let k = j as usize * f.columns + i as usize;
                let d = dist(p, f.middle(k));
                if self.pass[k] && d <= reach && in_sight(f.middle(k)) {
                    out.push((k, d));
                }
            }
        }
        out
    }

    /// `within`: how far off the way may begin.
    pub fn from(&self, p: P2, within: f64) -> Reach {
        let n = self.pass.len();
        let near = self.near(p, within);
        let mut reach = Reach {
            from: p,
            parts: self.parts_of(&near),
            distance: vec![f64::INFINITY; n],
            before: vec![NONE; n],
            waiting: Vec::new(),
            done: 0,
        };
        for (k, d) in near {
            reach.distance[k] = d;
            self.wait(&mut reach.waiting, k, d);
        }
        reach
    }

    fn wait(&self, waiting: &mut Vec<Vec<(u64, u32)>>, k: usize, d: f64) {
        let stretch = (d / (STRETCH * self.field.side)) as usize;
        if waiting.len() <= stretch {
            waiting.resize_with(stretch + 1, || Vec::with_capacity(ABOUT));
        }
        waiting[stretch].push((d.to_bits(), k as u32));
    }

    /// Goes on by a stretch.
    fn extend(&self, reach: &mut Reach) {
        let steps: [f64; 16] = std::array::from_fn(|h| self.step(h));
        let mut squares = std::mem::take(&mut reach.waiting[reach.done]);
        reach.done += 1;
        squares.retain(|&(bits, k)| f64::from_bits(bits) <= reach.distance[k as usize]);
        for (bits, k) in squares {
            let d = f64::from_bits(bits);
            for (h, to) in self.next(k as usize) {
                let new = d + steps[h];
                if new < reach.distance[to] - 1e-12 {
                    reach.distance[to] = new;
                    reach.before[to] = k;
                    self.wait(&mut reach.waiting, to, new);
                }
            }
        }
    }

    /// The way from where `reach` began to `p`, or to no further off than `within`.
    pub fn to(&self, reach: &mut Reach, p: P2, within: f64) -> Option<Way> {
        let near = self.near(p, within);
        if !near
            .iter()
            .any(|(k, _)| reach.parts.contains(&self.part[*k]))
        {
            return None;
        }
        let nearest = |reach: &Reach| {
            let all = near.iter().map(|&(k, d)| (k, reach.distance[k] + d));
            let known = all.filter(|(_, d)| d.is_finite());
            known.min_by(|a, b| a.1.total_cmp(&b.1))
        };
        // As the crow flies nothing of it is nearer.
        let crow = dist(reach.from, p) - within;
        let (end, _) = loop {
            // Whatever is not known for good lies further than that.
            let known = reach.done as f64 * STRETCH * self.field.side;
            let all = reach.done >= reach.waiting.len();
            if all || known > crow {
                let found = nearest(reach);
                if all || found.is_some_and(|(_, d)| d < known - 1e-9) {
                    break found?;
                }
            }
            self.extend(reach);
        };
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
        let mut before = z(0);
        let climbs = (1..=steps).map(|s| {
            let here = z(s);
            (here - std::mem::replace(&mut before, here)).abs() / (length / steps as f64)
        });
        climbs.filter(|g| g.is_finite()).fold(0.0, f64::max)
    }
}
