//! The yard as squares: how high the ground stands at a moment of the work, and where nobody may
//! drive. Metres. Squares of half a metre, larger in a yard that would need more than 40,000 of them;
//! whatever is thinner than a square may be missed, but from walls, houses and keep-outs everything keeps
//! off by half its width, so none of them is.

use rustc_hash::FxHashSet;

use crate::job::Job;
use crate::plan::{Kind, MarkKind, Plan};
use crate::terrain::line::{self, dist};
use crate::terrain::predicates::{P2, from_line, in_ring, proper_crossing};
use crate::terrain::probe::HAIR;
use crate::terrain::{Plane, Span, Surface};

const SIDE: f64 = 0.5;
const MOST: f64 = 40_000.0;

pub struct Field {
    pub low: P2,
    pub side: f64,
    pub columns: usize,
    pub rows: usize,
    pub existing: Vec<f64>,
    dug: Vec<f64>,
    /// The feature that made the dug ground there, by number into `features`; 0 is the ground.
    made: Vec<u16>,
    features: Vec<(String, bool)>,
    /// Keep-outs, houses, standing walls, and where there is no ground.
    closed: Vec<bool>,
    /// Of these, the squares whose middles lie in one of the first three.
    in_area: Vec<bool>,
    /// From each middle to the nearest edge of one, where that is near enough to matter.
    beside: Vec<f64>,
    /// The first three themselves, each with the box around it.
    areas: Vec<(Span, Vec<P2>)>,
    walls: Vec<(String, Vec<P2>)>,
    pub ramps: Vec<Strip>,
}

/// The top of a ramp: its line with elevations.
#[derive(Debug, Clone)]
pub struct Strip {
    pub name: String,
    pub line: Vec<[f64; 3]>,
    pub half: f64,
    pub batter: f64,
}

/// The ground at one moment.
pub struct Ground {
    pub z: Vec<f64>,
    pub open: Vec<bool>,
}

/// What is nowhere less high than a strip, and sooner asked: its box at its highest, with its sides.
struct Above {
    span: Span,
    highest: f64,
    half: f64,
    batter: f64,
}

impl Above {
    fn of(strip: &Strip) -> Above {
        Above {
            span: Span::of(strip.line.iter().map(|p| [p[0], p[1]])),
            highest: strip
                .line
                .iter()
                .map(|p| p[2])
                .fold(f64::NEG_INFINITY, f64::max),
            half: strip.half,
            batter: strip.batter,
        }
    }

    /// Whether it lies under a place at an elevation for sure.
    fn lies_under(&self, p: P2, z: f64) -> bool {
        let Span { low, high } = self.span;
        let out = [0, 1].map(|k| (low[k] - p[k]).max(p[k] - high[k]));
        let off = out[0].max(out[1]) - self.half;
        off > 1e-6 && self.highest < z + off * self.batter.recip() - 1e-6
    }
}

impl Strip {
    /// Its line in plan.
    fn plan(&self) -> Vec<P2> {
        self.line.iter().map(|p| [p[0], p[1]]).collect()
    }

    /// Steepest of its legs, rise over run.
    pub fn steepest(&self) -> f64 {
        let legs = self.line.windows(2);
        let climbs = legs.map(|w| {
            let length = dist([w[0][0], w[0][1]], [w[1][0], w[1][1]]);
            (w[1][2] - w[0][2]).abs() / length.max(1e-9)
        });
        climbs.fold(0.0, f64::max)
    }

    /// Places along its line, no further apart than `most`, both ends among them.
    pub fn stations(&self, most: f64) -> Vec<P2> {
        let plan = self.plan();
        let length = line::length(&plan);
        let steps = (length / most).ceil().clamp(1.0, 1000.0) as usize;
        let at = |s: usize| line::at(&plan, length * s as f64 / steps as f64);
        (0..=steps).map(at).collect()
    }

    /// The way along its line from beside one place to beside another, both ends included.
    pub fn ride(&self, from: P2, to: P2) -> Vec<P2> {
        let plan = self.plan();
        let beside = |p: P2| {
            let (mut begun, mut best) = (0.0, (f64::INFINITY, 0.0));
            for w in plan.windows(2) {
                let d = [w[1][0] - w[0][0], w[1][1] - w[0][1]];
                let length = (d[0] * d[0] + d[1] * d[1]).sqrt();
                let f = (p[0] - w[0][0]) * d[0] + (p[1] - w[0][1]) * d[1];
                let l = (f / length.max(1e-9)).clamp(0.0, length);
                let q = [0, 1].map(|k| w[0][k] + l / length.max(1e-9) * d[k]);
                if dist(p, q) < best.0 {
                    best = (dist(p, q), begun + l);
                }
                begun += length;
            }
            best.1
        };
        let (a, b) = (beside(from), beside(to));
        let (low, high) = (a.min(b), a.max(b));
        let mut way = vec![line::at(&plan, low)];
        let mut begun = 0.0;
        for w in plan.windows(2) {
            begun += dist(w[0], w[1]);
            if begun > low + 1e-9 && begun < high - 1e-9 {
                way.push(w[1]);
            }
        }
        way.push(line::at(&plan, high));
        if a > b {
            way.reverse();
        }
        way
    }

    /// Elevation of ramp or side over a place.
    pub fn at(&self, p: P2) -> Option<f64> {
        let leg = |w: &[[f64; 3]]| {
            let d = [w[1][0] - w[0][0], w[1][1] - w[0][1]];
            let l2 = d[0] * d[0] + d[1] * d[1];
            if l2 < 1e-12 {
                return None;
            }
            let f = ((p[0] - w[0][0]) * d[0] + (p[1] - w[0][1]) * d[1]) / l2;
            let beside = (0.0..=1.0).contains(&f);
            let f = f.clamp(0.0, 1.0);
            let off = dist(p, [w[0][0] + f * d[0], w[0][1] + f * d[1]]);
            Some((off, w[0][2] + f * (w[1][2] - w[0][2]), beside))
        };
        let over = |off: f64, z: f64| {
            if off <= self.half {
                Some(z)
            } else if self.batter > 0.0 {
                Some(z - (off - self.half) / self.batter)
            } else {
                None
            }
        };
        let mut best: Option<(f64, f64, usize)> = None;
        for (k, w) in self.line.windows(2).enumerate() {
            if let Some((off, z, _)) = leg(w).filter(|l| best.is_none_or(|b| l.0 < b.0)) {
                best = Some((off, z, k));
            }
        }
        let (off, z, nearest) = best?;
        // A leg further off counts where it lies higher; of neighbours the nearer does.
        let others = self.line.windows(2).enumerate();
        let others = others.filter(|(k, _)| k.abs_diff(nearest) > 1);
        others
            .filter_map(|(_, w)| leg(w).filter(|l| l.2))
            .filter_map(|(off, z, _)| over(off, z))
            .chain(over(off, z))
            .max_by(f64::total_cmp)
    }
}

impl Field {
    /// `widest`: half of the widest that is to get by.
    pub fn new(job: &Job, plan: &Plan, ramps: Vec<Strip>, widest: f64) -> Option<Field> {
        let [low, high] = plan.existing.bounds()?;
        let (w, h) = (high[0] - low[0], high[1] - low[1]);
        let side = SIDE.max((w * h / MOST).sqrt());
        let (columns, rows) = ((w / side) as usize + 1, (h / side) as usize + 1);
        let mut features: Vec<(String, bool)> = vec![(String::new(), false)];
        // Makers → features: pits belong to their basin, pools to their cascade.
        let of_maker: Vec<u16> = plan
            .makers
            .iter()
            .map(|m| {
                if matches!(m.kind, Kind::Ground | Kind::StandingWall) {
                    return 0;
                }
                let owner = job.design.work_of(&m.name).to_string();
                // Nobody drives in a basin or over a cascade; the bank above the water is ground.
                let shut =
                    matches!(m.kind, Kind::Basin | Kind::Pit | Kind::Cascade) && m.part != "bank";
                let entry = (owner, shut);
                let k = features.iter().position(|f| *f == entry);
                k.unwrap_or_else(|| {
                    features.push(entry);
                    features.len() - 1
                }) as u16
            })
            .collect();
        let areas: Vec<(Span, Vec<P2>)> = plan
            .marks
            .iter()
            .filter(|m| matches!(m.kind, MarkKind::KeepOut | MarkKind::House) && m.line.len() > 2)
            .map(|m| &m.line)
            .chain(plan.solids.iter().filter(|s| !s.new).map(|s| &s.footprint))
            .map(|ring| (Span::of(ring.iter().copied()), ring.clone()))
            .collect();
        let mut field = Field {
            low: [low[0], low[1]],
            side,
            columns,
            rows,
            existing: Vec::new(),
            dug: Vec::new(),
            made: Vec::new(),
            features,
            closed: Vec::new(),
            in_area: vec![false; columns * rows],
            beside: vec![f64::INFINITY; columns * rows],
            areas,
            walls: plan
                .solids
                .iter()
                .filter(|s| s.new)
                .map(|s| (s.name.clone(), s.footprint.clone()))
                .collect(),
            ramps,
        };
        let (existing, dug) = rayon::join(
            || field.middles(&plan.existing),
            || field.middles(&plan.dug),
        );
        field.closed = existing.iter().map(|(z, _)| z.is_nan()).collect();
        let worked = dug.iter().zip(&existing);
        field.dug = worked
            .map(|((dug, _), (z, _))| if dug.is_nan() { *z } else { *dug })
            .collect();
        field.existing = existing.into_iter().map(|(z, _)| z).collect();
        let made = |t: u32| {
            let maker = plan.dug.made_by.get(t as usize).copied().unwrap_or(0);
            of_maker.get(usize::from(maker)).copied().unwrap_or(0)
        };
        field.made = dug
            .iter()
            .map(|&(z, t)| if z.is_nan() { 0 } else { made(t) })
            .collect();
        let far = field.keeps_off(widest);
        for (span, ring) in std::mem::take(&mut field.areas) {
            for k in field.within(&span) {
                if in_ring(&ring, field.middle(k)) {
                    (field.in_area[k], field.closed[k]) = (true, true);
                }
            }
            for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
                for k in field.within(&Span::of([*a, *b]).grown(far)) {
                    let off = from_line(field.middle(k), *a, *b);
                    field.beside[k] = field.beside[k].min(off);
                }
            }
            field.areas.push((span, ring));
        }
        Some(field)
    }

    /// Squares whose middles lie in a box.
    fn within(&self, span: &Span) -> impl Iterator<Item = usize> + use<> {
        let first = |k: usize| {
            ((span.low[k] - self.low[k]) / self.side - 0.5)
                .ceil()
                .max(0.0)
        };
        let last = |k: usize, n: usize| {
            let l = (span.high[k] - self.low[k]) / self.side - 0.5;
            (l.floor() + 1.0).clamp(0.0, n as f64) as usize
        };
        let (n, columns) = (self.columns, first(0) as usize..last(0, self.columns));
        let rows = first(1) as usize..last(1, self.rows);
        rows.flat_map(move |row| columns.clone().map(move |column| row * n + column))
    }

    /// How far from the edge of what is closed the middle of its way must lie for something of half a width:
    /// no nearer than that no step from square to square leads across what is thin.
    fn keeps_off(&self, half: f64) -> f64 {
        half.max(std::f64::consts::FRAC_1_SQRT_2 * self.side)
    }

    /// Whether there is room in a square beside keep-outs, houses and standing walls.
    pub fn clear(&self, k: usize, half: f64) -> bool {
        self.beside[k] >= self.keeps_off(half)
    }

    /// Where neither keep-out nor house nor standing wall lies between a place and a square's middle. What
    /// the place itself lies in does not count: works are done there.
    pub fn in_sight(&self, p: P2, reach: f64) -> impl Fn(P2) -> bool {
        let around = Span::of([p]).grown(reach);
        let areas = self.areas.iter();
        let near = areas.filter(move |(span, ring)| span.meets(&around) && !in_ring(ring, p));
        let near: Vec<&(Span, Vec<P2>)> = near.collect();
        move |q| {
            let between = Span::of([p, q]);
            !near.iter().any(|(span, ring)| {
                let mut edges = ring.iter().zip(ring.iter().cycle().skip(1));
                span.meets(&between) && edges.any(|(a, b)| proper_crossing(p, q, *a, *b).is_some())
            })
        }
    }

    /// Elevation of a surface over the middle of each square, and its triangle there: NaN where it has none,
    /// the lower on a vertical face.
    fn middles(&self, surface: &Surface) -> Vec<(f64, u32)> {
        let mut out = vec![(f64::NAN, 0); self.columns * self.rows];
        for t in 0..surface.triangles.len() {
            let [a, b, c] = surface.corners(t);
            let span = Span::of([a, b, c].map(|p| [p[0], p[1]])).grown(HAIR);
            let edges = [(a, b), (b, c), (c, a)].map(|(u, v)| {
                let d = [v[0] - u[0], v[1] - u[1]];
                // No further outside than a hair.
                let least = -HAIR * (d[0] * d[0] + d[1] * d[1]).sqrt();
                (u, d, least)
            });
            let plane = Plane::through(a, b, c);
            for k in self.within(&span) {
                let p = self.middle(k);
                let inside = edges
                    .iter()
                    .all(|(u, d, least)| d[0] * (p[1] - u[1]) - d[1] * (p[0] - u[0]) >= *least);
                let its = out[k].0;
                let z = inside.then(|| plane.at(p));
                if let Some(z) = z.filter(|z| its.is_nan() || *z < its) {
                    out[k] = (z, t as u32);
                }
            }
        }
        out
    }

    pub fn middle(&self, k: usize) -> P2 {
        [
            self.low[0] + ((k % self.columns) as f64 + 0.5) * self.side,
            self.low[1] + ((k / self.columns) as f64 + 0.5) * self.side,
        ]
    }

    pub fn square(&self, p: P2) -> usize {
        let k = |v: f64, low: f64, n: usize| (((v - low) / self.side).max(0.0) as usize).min(n - 1);
        k(p[1], self.low[1], self.rows) * self.columns + k(p[0], self.low[0], self.columns)
    }

    /// Squares whose middles lie in a ring, or that its edge runs through; one may come more than once.
    pub fn touched(&self, ring: &[P2]) -> Vec<usize> {
        let mut out = Vec::new();
        let (mut lo, mut hi) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in ring {
            for k in 0..2 {
                lo[k] = lo[k].min(p[k]);
                hi[k] = hi[k].max(p[k]);
            }
        }
        let (a, b) = (self.square(lo), self.square(hi));
        for row in a / self.columns..=b / self.columns {
            for column in a % self.columns..=b % self.columns {
                let k = row * self.columns + column;
                if in_ring(ring, self.middle(k)) {
                    out.push(k);
                }
            }
        }
        for k in 0..ring.len() {
            let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
            let steps = (dist(a, b) / (0.4 * self.side)).ceil().max(1.0) as usize;
            for s in 0..=steps {
                let f = s as f64 / steps as f64;
                let p = [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
                let inside = (0..2).all(|k| {
                    let n = [self.columns, self.rows][k] as f64;
                    p[k] >= self.low[k] && p[k] <= self.low[k] + n * self.side
                });
                if inside {
                    out.push(self.square(p));
                }
            }
        }
        out
    }

    /// The ground with these features built and these ramps (numbers into `ramps`) standing.
    pub fn ground(&self, built: &FxHashSet<&str>, standing: &[usize]) -> Ground {
        let mut shut: Vec<bool> = self
            .features
            .iter()
            .map(|(name, shut)| *shut && built.contains(name.as_str()))
            .collect();
        // Where a ramp leads in, somebody is to drive there as long as it stands.
        for ramp in standing.iter().map(|&r| &self.ramps[r]) {
            for end in [ramp.line.first(), ramp.line.last()].into_iter().flatten() {
                shut[self.made[self.square([end[0], end[1]])] as usize] = false;
            }
        }
        let there: Vec<bool> = self
            .features
            .iter()
            .map(|(name, _)| built.contains(name.as_str()))
            .collect();
        let ramps: Vec<(&Strip, Above)> = standing
            .iter()
            .map(|&r| (&self.ramps[r], Above::of(&self.ramps[r])))
            .collect();
        let n = self.existing.len();
        let mut ground = Ground {
            z: Vec::with_capacity(n),
            open: Vec::with_capacity(n),
        };
        for k in 0..n {
            let made = self.made[k] as usize;
            let mut z = if there[made] {
                self.dug[k]
            } else {
                self.existing[k]
            };
            let p = self.middle(k);
            for (ramp, above) in &ramps {
                if !above.lies_under(p, z)
                    && let Some(top) = ramp.at(p)
                {
                    z = z.max(top);
                }
            }
            ground.z.push(z);
            ground.open.push(!self.closed[k] && !shut[made]);
        }
        for (name, footprint) in &self.walls {
            if built.contains(name.as_str()) {
                for k in self.touched(footprint) {
                    ground.open[k] = false;
                }
            }
        }
        ground
    }

    /// Distance squared, in squares, from each square to the nearest that is closed by works, piles or for
    /// want of ground: exact where that is less than so many `most`, else no less than their square. Along
    /// the columns, then along the rows over what the columns say (Felzenszwalb and Huttenlocher 2012); near
    /// by, each of the few is looked at.
    pub fn room(&self, open: &[bool], most: u32) -> Vec<u32> {
        let n = self.columns;
        // What is closed for good is kept off exactly: see `clear`.
        let open = open.iter().zip(&self.in_area);
        let free = open.map(|(open, in_area)| if *open | *in_area { most } else { 0 });
        let mut up: Vec<u32> = free.collect();
        let nearer = |its: &mut [u32], beside: &[u32]| {
            let both = its.iter_mut().zip(beside);
            both.for_each(|(d, next)| *d = (*d).min(next + 1));
        };
        for row in 1..self.rows {
            let (before, its) = up.split_at_mut(row * n);
            nearer(&mut its[..n], &before[(row - 1) * n..]);
        }
        for row in (1..self.rows).rev() {
            let (its, after) = up.split_at_mut(row * n);
            nearer(&mut its[(row - 1) * n..], &after[..n]);
        }
        up.iter_mut().for_each(|d| *d *= *d);
        let mut room = up.clone();
        let off = (most as usize).min(n);
        for (row, up) in room.chunks_mut(n).zip(up.chunks(n)) {
            for across in 1..off {
                let more = (across * across) as u32;
                let (right, left) = (row[across..].iter_mut(), up[..n - across].iter());
                right.zip(left).for_each(|(d, up)| *d = (*d).min(up + more));
                let (left, right) = (row[..n - across].iter_mut(), up[across..].iter());
                left.zip(right).for_each(|(d, up)| *d = (*d).min(up + more));
            }
        }
        room
    }

    /// The least that [`Field::room`] says of a square where there is so much room to both sides: from the
    /// middle to the nearest closed square's edge, half a square before that one's middle.
    pub fn squares(&self, half: f64) -> f64 {
        half / self.side + 0.5
    }

    /// How steep the ground is in each square, rise over run, squared, by its neighbours.
    pub fn steep(&self, z: &[f64]) -> Vec<f64> {
        let n = self.columns;
        let fall = |from: f64, to: f64, run: f64| {
            let d = (to - from) / run;
            if d.is_finite() { d * d } else { 0.0 }
        };
        let mut steep = Vec::with_capacity(z.len());
        for y in 0..self.rows {
            let (y0, y1) = (y.saturating_sub(1), (y + 1).min(self.rows - 1));
            let run = (y1 - y0).max(1) as f64 * self.side;
            let (below, above) = (&z[y0 * n..][..n], &z[y1 * n..][..n]);
            steep.extend(below.iter().zip(above).map(|(a, b)| fall(*a, *b, run)));
            let (row, out) = (&z[y * n..][..n], &mut steep[y * n..]);
            let run = 2.0 * self.side;
            let between = row.windows(3).zip(&mut out[1.min(n - 1)..]);
            between.for_each(|(w, out)| *out += fall(w[0], w[2], run));
            if n > 1 {
                out[0] += fall(row[0], row[1], self.side);
                out[n - 1] += fall(row[n - 2], row[n - 1], self.side);
            }
        }
        steep
    }

    /// Elevation between the middles of squares.
    pub fn height(&self, z: &[f64], p: P2) -> f64 {
        let u = ((p[0] - self.low[0]) / self.side - 0.5).clamp(0.0, (self.columns - 1) as f64);
        let v = ((p[1] - self.low[1]) / self.side - 0.5).clamp(0.0, (self.rows - 1) as f64);
        let (i, j) = (u as usize, v as usize);
        let (i1, j1) = ((i + 1).min(self.columns - 1), (j + 1).min(self.rows - 1));
        let (f, g) = (u - i as f64, v - j as f64);
        let at = |i: usize, j: usize| z[j * self.columns + i];
        let mut sum = 0.0;
        let mut weight = 0.0;
        for (i, j, w) in [
            (i, j, (1.0 - f) * (1.0 - g)),
            (i1, j, f * (1.0 - g)),
            (i, j1, (1.0 - f) * g),
            (i1, j1, f * g),
        ] {
            let z = at(i, j);
            if z.is_finite() {
                sum += w * z;
                weight += w;
            }
        }
        if weight > 1e-9 {
            sum / weight
        } else {
            f64::NAN
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terrain::Probe;

    fn field(columns: usize, rows: usize) -> Field {
        Field {
            low: [1.0, -2.0],
            side: 0.5,
            columns,
            rows,
            existing: Vec::new(),
            dug: Vec::new(),
            made: Vec::new(),
            features: Vec::new(),
            closed: Vec::new(),
            in_area: vec![false; columns * rows],
            beside: vec![f64::INFINITY; columns * rows],
            areas: Vec::new(),
            walls: Vec::new(),
            ramps: Vec::new(),
        }
    }

    /// From 0 to 1, always the same.
    fn chance(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed;
        move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        }
    }

    /// Of every square the nearest closed one, found by looking at all of them.
    #[test]
    fn room_is_that_to_the_nearest_closed_square() {
        let mut chance = chance(1);
        for (columns, rows, closed) in [(23, 17, 0.03), (1, 9, 0.2), (12, 1, 0.2), (8, 8, 0.0)] {
            let f = field(columns, rows);
            let open: Vec<bool> = (0..columns * rows).map(|_| chance() >= closed).collect();
            for most in 1..7 {
                let room = f.room(&open, most);
                for (k, room) in room.iter().enumerate() {
                    let apart = |j: usize| {
                        let dx = (k % columns).abs_diff(j % columns);
                        let dy = (k / columns).abs_diff(j / columns);
                        (dx * dx + dy * dy) as u32
                    };
                    let shut = (0..open.len()).filter(|&j| !open[j]).map(apart);
                    let nearest = shut.min().unwrap_or(u32::MAX);
                    if nearest < most * most {
                        assert_eq!(*room, nearest, "square {k} of {columns} by {rows}");
                    } else {
                        assert!(*room >= most * most, "square {k}: {room}");
                    }
                }
            }
        }
        // 0.6 m to both sides needs a middle 0.85 m off, 1.7 squares.
        assert!((field(1, 1).squares(0.6) - 1.7).abs() < 1e-12);
    }

    /// Over a plane with a hole, its own slope wherever both neighbours are there.
    #[test]
    fn steepness_is_that_of_the_plane() {
        let f = field(9, 6);
        let mut z: Vec<f64> = (0..54)
            .map(|k| f.middle(k))
            .map(|p| 0.3 * p[0] - 0.4 * p[1])
            .collect();
        let steep = f.steep(&z);
        assert!(steep.iter().all(|s| (s - 0.25).abs() < 1e-12), "{steep:?}");
        z[9 * 2 + 4] = f64::NAN;
        let steep = f.steep(&z);
        // Beside the hole only what is across from it counts.
        for (k, left) in [
            (9 * 2 + 3, 0.16),
            (9 * 2 + 5, 0.16),
            (9 + 4, 0.09),
            (9 * 3 + 4, 0.09),
        ] {
            assert!((steep[k] - left).abs() < 1e-12, "square {k}: {}", steep[k]);
        }
        assert!((steep[0] - 0.25).abs() < 1e-12);
        // A single row, a single column, a single square.
        assert_eq!(field(1, 1).steep(&[5.0]), [0.0]);
        let row = field(3, 1).steep(&[0.0, 0.5, 2.0]);
        assert_eq!(row, [1.0, 4.0, 9.0]);
        let column = field(1, 3).steep(&[0.0, 0.5, 2.0]);
        assert_eq!(column, [1.0, 4.0, 9.0]);
    }

    /// Laid over the squares triangle by triangle, a surface stands where asking at each middle says, on
    /// edges, corners and an upright face too, and is nowhere where there is none.
    #[test]
    fn middles_are_as_asked_for() {
        let f = field(24, 18);
        let mut chance = chance(7);
        let mut surface = Surface::default();
        let mut add = |corners: [[f64; 3]; 3]| {
            let n = surface.points.len() as u32;
            surface.points.extend(corners);
            surface.triangles.push([n, n + 1, n + 2]);
            surface.made_by.push(0);
        };
        // A sheet of squares, each in two; corners of every other one on middles of the field's.
        for i in 0..6 {
            for j in 0..5 {
                let at = |x: usize, y: usize| {
                    [
                        1.25 + 1.5 * x as f64,
                        -1.75 + 1.5 * y as f64,
                        (x * y) as f64,
                    ]
                };
                let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
                add([a, b, c]);
                add([a, c, d]);
            }
        }
        // A step: the same edge again, higher.
        add([[10.25, -1.75, 9.0], [12.0, -1.0, 9.0], [10.25, 1.0, 9.0]]);
        for _ in 0..40 {
            let mut at = || [1.0 + 12.0 * chance(), -2.0 + 9.0 * chance(), chance()];
            let [a, b, c] = [at(), at(), at()];
            let left = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
            add(if left > 0.0 { [a, b, c] } else { [a, c, b] });
        }
        let probe = Probe::new(&surface);
        let mut none = 0;
        for (k, (z, _)) in f.middles(&surface).into_iter().enumerate() {
            match probe.elevation(f.middle(k)) {
                Some((asked, _)) => assert!((z - asked).abs() < 1e-12, "square {k}: {z}, {asked}"),
                None => {
                    none += 1;
                    assert!(z.is_nan(), "square {k}: {z}");
                }
            }
        }
        assert!((10..400).contains(&none), "{none}");
    }
}
