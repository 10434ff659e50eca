//! The yard as squares: how high the ground stands at a moment of the work, and where nobody may
//! drive. Metres. Squares of half a metre, larger in a yard that would need more than 40,000 of them;
//! whatever is thinner than a square may be missed, but walls, houses and keep-outs are widened by
//! what drives, so none of them is.

use rustc_hash::FxHashSet;

use crate::job::Job;
use crate::plan::{Kind, MarkKind, Plan};
use crate::terrain::line::{self, dist};
use crate::terrain::predicates::{P2, in_ring};
use crate::terrain::{Probe, Span};

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
    pub fn new(job: &Job, plan: &Plan, ramps: Vec<Strip>) -> Option<Field> {
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
        let areas: Vec<&Vec<P2>> = plan
            .marks
            .iter()
            .filter(|m| matches!(m.kind, MarkKind::KeepOut | MarkKind::House) && m.line.len() > 2)
            .map(|m| &m.line)
            .chain(plan.solids.iter().filter(|s| !s.new).map(|s| &s.footprint))
            .collect();
        let (existing, dug) = (Probe::new(&plan.existing), Probe::new(&plan.dug));
        let n = columns * rows;
        let mut field = Field {
            low: [low[0], low[1]],
            side,
            columns,
            rows,
            existing: Vec::with_capacity(n),
            dug: Vec::with_capacity(n),
            made: Vec::with_capacity(n),
            features,
            closed: Vec::with_capacity(n),
            walls: plan
                .solids
                .iter()
                .filter(|s| s.new)
                .map(|s| (s.name.clone(), s.footprint.clone()))
                .collect(),
            ramps,
        };
        for k in 0..n {
            let p = field.middle(k);
            let z = existing.elevation(p).map(|s| s.0);
            let worked = dug.elevation(p);
            field.closed.push(z.is_none());
            field.existing.push(z.unwrap_or(f64::NAN));
            field
                .dug
                .push(worked.map_or(z.unwrap_or(f64::NAN), |s| s.0));
            let made = worked.map_or(0, |(_, maker)| {
                of_maker.get(usize::from(maker)).copied().unwrap_or(0)
            });
            field.made.push(made);
        }
        for ring in areas {
            field.paint(ring, |f, k| f.closed[k] = true);
        }
        Some(field)
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

    /// Squares that a ring touches: their middles lie in it, or its edge runs through them.
    fn paint(&mut self, ring: &[P2], mut paint: impl FnMut(&mut Field, usize)) {
        for k in self.touched(ring) {
            paint(self, k);
        }
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

    /// Distance from the middle of each square to the nearest closed square's edge (about): the
    /// squares' middles, less half a square. Felzenszwalb and Huttenlocher 2012, exact between middles.
    pub fn room(&self, open: &[bool]) -> Vec<f64> {
        let far_off = 1e12;
        let mut d: Vec<f64> = open
            .iter()
            .map(|&o| if o { far_off } else { 0.0 })
            .collect();
        let mut line = Vec::new();
        let mut envelope = Envelope::default();
        for x in 0..self.columns {
            line.clear();
            line.extend((0..self.rows).map(|y| d[y * self.columns + x]));
            // Where all is free nothing is nearer than that.
            if line.iter().all(|v| *v == far_off) {
                continue;
            }
            for (y, v) in envelope.of(&line).iter().enumerate() {
                d[y * self.columns + x] = *v;
            }
        }
        for row in d.chunks_mut(self.columns) {
            let new = envelope.of(row);
            row.copy_from_slice(new);
        }
        d.iter()
            .map(|v| (v.sqrt() * self.side - 0.5 * self.side).max(0.0))
            .collect()
    }

    /// How steep the ground is in each square, rise over run, by its neighbours.
    pub fn steep(&self, z: &[f64]) -> Vec<f64> {
        let slope = |k: usize| {
            let (x, y) = (k % self.columns, k / self.columns);
            let fall = |a: usize, b: usize, squares: usize| {
                let d = (z[b] - z[a]) / (squares.max(1) as f64 * self.side);
                if d.is_finite() { d } else { 0.0 }
            };
            let (x0, x1) = (x.saturating_sub(1), (x + 1).min(self.columns - 1));
            let (y0, y1) = (y.saturating_sub(1), (y + 1).min(self.rows - 1));
            let row = y * self.columns;
            let gx = fall(row + x0, row + x1, x1 - x0);
            let gy = fall(y0 * self.columns + x, y1 * self.columns + x, y1 - y0);
            (gx * gx + gy * gy).sqrt()
        };
        (0..z.len()).map(slope).collect()
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

/// Lower envelope of parabolas over a line of squared distances, with room that one line after the other
/// is worked in.
#[derive(Default)]
struct Envelope {
    v: Vec<usize>,
    z: Vec<f64>,
    out: Vec<f64>,
}

impl Envelope {
    fn of(&mut self, f: &[f64]) -> &[f64] {
        let n = f.len();
        let Envelope { v, z, out } = self;
        v.clear();
        v.resize(n, 0);
        z.clear();
        z.resize(n + 1, 0.0);
        out.clear();
        let mut k = 0;
        z[0] = f64::NEG_INFINITY;
        z[1] = f64::INFINITY;
        for q in 1..n {
            loop {
                let p = v[k];
                let s = ((f[q] + (q * q) as f64) - (f[p] + (p * p) as f64))
                    / (2.0 * q as f64 - 2.0 * p as f64);
                if s <= z[k] && k > 0 {
                    k -= 1;
                    continue;
                }
                if s > z[k] {
                    k += 1;
                }
                v[k] = q;
                z[k] = if s.is_finite() && k > 0 {
                    s
                } else {
                    f64::NEG_INFINITY
                };
                if k < n {
                    z[k + 1] = f64::INFINITY;
                }
                break;
            }
        }
        let mut k = 0;
        for q in 0..n {
            while z[k + 1] < q as f64 {
                k += 1;
            }
            let d = q as f64 - v[k] as f64;
            out.push(d * d + f[v[k]]);
        }
        out
    }
}
