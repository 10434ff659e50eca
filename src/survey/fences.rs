//! Breaklines as fences: who can be seen from where without looking across one, and which shots
//! stand on one. Metres.
//!
//! Segments are hashed into cells, so that a crossing is found without asking all of them.
//! Predicates are exact (`robust`).

use rustc_hash::FxHashMap;

type Segment = [[f64; 2]; 2];

pub struct Fences {
    segments: Vec<Segment>,
    /// For each line, its points: the shot there, if any, and the station.
    pub chains: Vec<Vec<(Option<u32>, f64)>>,
    lines: Vec<Vec<[f64; 2]>>,
    low: [f64; 2],
    cell: [f64; 2],
    side: usize,
    cells: Vec<Vec<u32>>,
}

impl Fences {
    pub fn new(lines: &[Vec<[f64; 2]>], centre: [f64; 2]) -> Fences {
        let lines: Vec<Vec<[f64; 2]>> = lines
            .iter()
            .map(|l| {
                l.iter()
                    .map(|p| [p[0] - centre[0], p[1] - centre[1]])
                    .collect()
            })
            .collect();
        let segments: Vec<Segment> = lines
            .iter()
            .flat_map(|l| l.windows(2).map(|w| [w[0], w[1]]))
            .collect();
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for p in segments.iter().flatten() {
            for k in 0..2 {
                low[k] = low[k].min(p[k]);
                high[k] = high[k].max(p[k]);
            }
        }
        let side = ((segments.len() as f64).sqrt() * 2.0).clamp(1.0, 256.0) as usize;
        let cell = [0, 1].map(|k| ((high[k] - low[k]) / side as f64).max(1e-6));
        let mut fences = Fences {
            chains: Vec::new(),
            lines,
            low,
            cell,
            side,
            cells: vec![Vec::new(); side * side],
            segments,
        };
        for s in 0..fences.segments.len() {
            let [a, b] = fences.segments[s];
            if let Some([x, y]) = fences.span(a, b) {
                for row in y.0..=y.1 {
                    for column in x.0..=x.1 {
                        fences.cells[row * side + column].push(s as u32);
                    }
                }
            }
        }
        fences
    }

    /// Columns and rows that the box of two points covers.
    fn span(&self, a: [f64; 2], b: [f64; 2]) -> Option<[(usize, usize); 2]> {
        let mut out = [(0, 0); 2];
        for k in 0..2 {
            let (lo, hi) = (a[k].min(b[k]), a[k].max(b[k]));
            let first = ((lo - self.low[k]) / self.cell[k]).floor() - 1e-9;
            let last = ((hi - self.low[k]) / self.cell[k]).floor();
            if !(last >= -1.0 && first <= self.side as f64) {
                return None;
            }
            let top = (self.side - 1) as f64;
            out[k] = (
                first.clamp(0.0, top) as usize,
                last.clamp(0.0, top) as usize,
            );
        }
        Some(out)
    }

    /// Whether the straight way from a to b crosses or touches a breakline.
    pub fn between(&self, a: &[f64; 3], b: &[f64; 3]) -> bool {
        let (a, b) = ([a[0], a[1]], [b[0], b[1]]);
        let Some([x, y]) = self.span(a, b).filter(|_| !self.segments.is_empty()) else {
            return false;
        };
        for row in y.0..=y.1 {
            for column in x.0..=x.1 {
                for &s in &self.cells[row * self.side + column] {
                    if meet(a, b, self.segments[s as usize]) {
                        return true;
                    }
                }
            }
        }
        false
    }

    /// Which shots stand on a point of a breakline (line and point); notes them in the chains.
    pub fn stand_on(&mut self, points: &[[f64; 3]]) -> Vec<Option<(u32, u32)>> {
        let key = |x: f64, y: f64| ((x * 1e6).round() as i64, (y * 1e6).round() as i64);
        let shots: FxHashMap<(i64, i64), u32> = (0u32..)
            .zip(points)
            .map(|(i, p)| (key(p[0], p[1]), i))
            .collect();
        let mut stands = vec![None; points.len()];
        for (l, line) in self.lines.iter().enumerate() {
            let mut station = 0.0;
            let mut chain = Vec::with_capacity(line.len());
            for (v, p) in line.iter().enumerate() {
                if v > 0 {
                    station += (p[0] - line[v - 1][0]).hypot(p[1] - line[v - 1][1]);
                }
                let shot = shots.get(&key(p[0], p[1])).copied();
                if let Some(i) = shot {
                    stands[i as usize].get_or_insert((l as u32, v as u32));
                }
                chain.push((shot, station));
            }
            self.chains.push(chain);
        }
        stands
    }
}

fn meet(a: [f64; 2], b: [f64; 2], [c, d]: Segment) -> bool {
    let turn = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
        robust::orient2d(
            robust::Coord { x: p[0], y: p[1] },
            robust::Coord { x: q[0], y: q[1] },
            robust::Coord { x: r[0], y: r[1] },
        )
    };
    for k in 0..2 {
        if a[k].max(b[k]) < c[k].min(d[k]) || c[k].max(d[k]) < a[k].min(b[k]) {
            return false;
        }
    }
    turn(a, b, c) * turn(a, b, d) <= 0.0 && turn(c, d, a) * turn(c, d, b) <= 0.0
}
