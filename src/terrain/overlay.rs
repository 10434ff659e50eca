//! Two surfaces laid over each other: every pair of triangles that overlap in plan, cut to the
//! convex cell they share. On a cell both are planes, so whatever is integrated there is exact.
//!
//! Pairs are found over a grid that both surfaces are sorted into; a pair that meets in several
//! grid squares is taken only in the one that holds the lower left corner of the two boxes'
//! overlap, so nothing is seen twice and nothing has to be remembered. Rows of squares run in
//! parallel; their results are put together in order, so the answer never depends on threads.
//! Metres.

use rayon::prelude::*;

use super::Surface;
use super::predicates::P2;

/// What two triangles share in plan.
#[derive(Debug)]
pub struct Cell<'a> {
    /// Triangle of the first surface, and of the second.
    pub first: u32,
    pub second: u32,
    /// Convex, counter-clockwise, about [`Overlay::origin`].
    pub polygon: &'a [P2],
    /// First minus second surface at each corner.
    pub over: &'a [f64],
}

impl Cell<'_> {
    pub fn area(&self) -> f64 {
        0.5 * super::convex::area2(self.polygon)
    }
}

/// Volumes between two surfaces over their common plan.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CutFill {
    /// Where the first surface lies over the second, m³.
    pub cut: f64,
    /// Where it lies under it.
    pub fill: f64,
    /// Common plan area, m².
    pub area: f64,
    pub cells: u64,
}

#[derive(Clone, Copy)]
struct Sided {
    corner: [P2; 3],
    low: P2,
    high: P2,
    /// Height is `plane[0] + plane[1] (x − corner x) + plane[2] (y − corner y)`.
    plane: [f64; 3],
}

/// Planes that lie no further apart than this are the same but for rounding, metres: in all the ground of a
/// yard that is less than a thousandth of a litre.
const ROUNDED: f64 = 1e-10;

/// Two surfaces made ready to be laid over each other.
pub struct Overlay {
    pub origin: P2,
    first: Vec<Sided>,
    second: Vec<Sided>,
    grid: Squares,
}

struct Squares {
    low: P2,
    inverse: f64,
    columns: usize,
    rows: usize,
    first: Packed,
    second: Packed,
}

/// Ids by square: those of square `s` are `ids[start[s]..start[s + 1]]`.
struct Packed {
    start: Vec<u32>,
    ids: Vec<u32>,
}

fn prepare(surface: &Surface, origin: P2) -> Vec<Sided> {
    surface
        .triangles
        .par_iter()
        .with_min_len(4096)
        .map(|t| {
            let [a, b, c] = t.map(|i| {
                let p = surface.points[i as usize];
                [p[0] - origin[0], p[1] - origin[1], p[2]]
            });
            let plane = super::Plane::through(a, b, c);
            Sided {
                corner: [[a[0], a[1]], [b[0], b[1]], [c[0], c[1]]],
                low: [a[0].min(b[0]).min(c[0]), a[1].min(b[1]).min(c[1])],
                high: [a[0].max(b[0]).max(c[0]), a[1].max(b[1]).max(c[1])],
                plane: [a[2], plane.gradient[0], plane.gradient[1]],
            }
        })
        .collect()
}

impl Sided {
    /// Elevation of its plane.
    fn at(&self, p: P2) -> f64 {
        let [z, x, y] = self.plane;
        z + x * (p[0] - self.corner[0][0]) + y * (p[1] - self.corner[0][1])
    }
}

impl Squares {
    fn column(&self, x: f64) -> usize {
        (((x - self.low[0]) * self.inverse).max(0.0) as usize).min(self.columns - 1)
    }

    fn row(&self, y: f64) -> usize {
        (((y - self.low[1]) * self.inverse).max(0.0) as usize).min(self.rows - 1)
    }

    #[inline]
    fn each_square(&self, t: &Sided, mut f: impl FnMut(usize)) {
        for r in self.row(t.low[1])..=self.row(t.high[1]) {
            for c in self.column(t.low[0])..=self.column(t.high[0]) {
                f(r * self.columns + c);
            }
        }
    }

    fn pack(&self, list: &[Sided], low: P2, high: P2) -> Packed {
        let mut start = vec![0u32; self.columns * self.rows + 1];
        let meets = |t: &Sided| {
            t.low[0] <= high[0] && t.high[0] >= low[0] && t.low[1] <= high[1] && t.high[1] >= low[1]
        };
        for t in list.iter().filter(|t| meets(t)) {
            self.each_square(t, |s| start[s + 1] += 1);
        }
        for s in 1..start.len() {
            start[s] += start[s - 1];
        }
        let mut ids = vec![0u32; *start.last().unwrap_or(&0) as usize];
        let mut next = start.clone();
        for (i, t) in list.iter().enumerate().filter(|(_, t)| meets(t)) {
            self.each_square(t, |s| {
                ids[next[s] as usize] = i as u32;
                next[s] += 1;
            });
        }
        Packed { start, ids }
    }
}

/// The cell two triangles share: corners and how many. Sutherland–Hodgman, without allocation.
#[inline]
fn clip(a: &Sided, b: &Sided, out: &mut [P2; 9]) -> usize {
    let mut buffer = [[0.0; 2]; 9];
    let mut n = 3;
    out[..3].copy_from_slice(&a.corner);
    for k in 0..3 {
        let (p, q) = (b.corner[k], b.corner[if k == 2 { 0 } else { k + 1 }]);
        let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
        let side = |r: P2| dx * (r[1] - p[1]) - dy * (r[0] - p[0]);
        let mut s = [0.0; 9];
        let (mut any_in, mut any_out) = (false, false);
        for i in 0..n {
            s[i] = side(out[i]);
            any_in |= s[i] > 0.0;
            any_out |= s[i] < 0.0;
        }
        if !any_in {
            return 0;
        }
        if !any_out {
            continue;
        }
        let mut m = 0;
        for i in 0..n {
            let j = if i + 1 == n { 0 } else { i + 1 };
            if s[i] >= 0.0 {
                buffer[m] = out[i];
                m += 1;
            }
            if (s[i] > 0.0 && s[j] < 0.0) || (s[i] < 0.0 && s[j] > 0.0) {
                let f = s[i] / (s[i] - s[j]);
                buffer[m] = [
                    out[i][0] + f * (out[j][0] - out[i][0]),
                    out[i][1] + f * (out[j][1] - out[i][1]),
                ];
                m += 1;
            }
        }
        if m < 3 {
            return 0;
        }
        out[..m].copy_from_slice(&buffer[..m]);
        n = m;
    }
    n
}

impl Overlay {
    pub fn new(first: &Surface, second: &Surface) -> Self {
        let origin = first
            .bounds()
            .or(second.bounds())
            .map_or([0.0, 0.0], |[lo, _]| [lo[0], lo[1]]);
        let (first, second) = rayon::join(|| prepare(first, origin), || prepare(second, origin));
        let bounds = |list: &[Sided]| {
            list.iter().fold(
                ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]),
                |(lo, hi), t| {
                    (
                        [lo[0].min(t.low[0]), lo[1].min(t.low[1])],
                        [hi[0].max(t.high[0]), hi[1].max(t.high[1])],
                    )
                },
            )
        };
        let ((l1, h1), (l2, h2)) = rayon::join(|| bounds(&first), || bounds(&second));
        let low = [l1[0].max(l2[0]), l1[1].max(l2[1])];
        let high = [h1[0].min(h2[0]), h1[1].min(h2[1])];
        let (w, h) = ((high[0] - low[0]).max(0.0), (high[1] - low[1]).max(0.0));
        let empty = !(w > 0.0 && h > 0.0) || first.is_empty() || second.is_empty();
        let nothing = || Packed {
            start: vec![0, 0],
            ids: Vec::new(),
        };
        let mut grid = Squares {
            low: if empty { [0.0, 0.0] } else { low },
            inverse: 1.0,
            columns: 1,
            rows: 1,
            first: nothing(),
            second: nothing(),
        };
        if !empty {
            // About as many squares as triangles in the finer surface: fewer pairs to look at in
            // vain, and each triangle still lies in few squares.
            let side = (w * h / first.len().max(second.len()) as f64)
                .sqrt()
                .max(w.max(h) / 4000.0)
                * 1.4;
            grid.inverse = 1.0 / side;
            grid.columns = (w / side) as usize + 1;
            grid.rows = (h / side) as usize + 1;
            let (one, two) = rayon::join(
                || grid.pack(&first, low, high),
                || grid.pack(&second, low, high),
            );
            grid.first = one;
            grid.second = two;
        }
        Overlay {
            origin,
            first,
            second,
            grid,
        }
    }

    /// Hands every cell to `each`, row by row in parallel, and puts the rows' results together in
    /// order.
    pub fn fold<T: Send>(
        &self,
        start: impl Fn() -> T + Sync,
        each: impl Fn(&mut T, &Cell) + Sync,
        join: impl Fn(T, T) -> T,
    ) -> T {
        self.fold_where(|_, _| true, start, each, join)
    }

    /// The same with the cells of those pairs of triangles that are wanted.
    fn fold_where<T: Send>(
        &self,
        wanted: impl Fn(&Sided, &Sided) -> bool + Sync,
        start: impl Fn() -> T + Sync,
        each: impl Fn(&mut T, &Cell) + Sync,
        join: impl Fn(T, T) -> T,
    ) -> T {
        let g = &self.grid;
        let row = |r: usize| {
            let mut sum = start();
            let mut polygon = [[0.0; 2]; 9];
            let mut over = [0.0; 9];
            for c in 0..g.columns {
                let s = r * g.columns + c;
                let bs = &g.second.ids[g.second.start[s] as usize..g.second.start[s + 1] as usize];
                if bs.is_empty() {
                    continue;
                }
                for &i in &g.first.ids[g.first.start[s] as usize..g.first.start[s + 1] as usize] {
                    let a = &self.first[i as usize];
                    for &j in bs {
                        let b = &self.second[j as usize];
                        if a.low[0] >= b.high[0]
                            || b.low[0] >= a.high[0]
                            || a.low[1] >= b.high[1]
                            || b.low[1] >= a.high[1]
                        {
                            continue;
                        }
                        if g.column(a.low[0].max(b.low[0])) != c
                            || g.row(a.low[1].max(b.low[1])) != r
                            || !wanted(a, b)
                        {
                            continue;
                        }
                        let n = clip(a, b, &mut polygon);
                        if n < 3 {
                            continue;
                        }
                        for k in 0..n {
                            let p = polygon[k];
                            over[k] = a.at(p) - b.at(p);
                        }
                        each(
                            &mut sum,
                            &Cell {
                                first: i,
                                second: j,
                                polygon: &polygon[..n],
                                over: &over[..n],
                            },
                        );
                    }
                }
            }
            sum
        };
        let rows: Vec<T> = (0..g.rows).into_par_iter().map(row).collect();
        rows.into_iter().fold(start(), join)
    }

    /// Exact volumes between the two surfaces.
    pub fn cut_fill(&self) -> CutFill {
        self.fold(CutFill::default, CutFill::add, CutFill::and)
    }

    /// What lies where `sign` times the first less the second surface is positive, m³. Most pairs of triangles
    /// are told by their planes to have nothing there.
    fn on_side(&self, sign: f64) -> f64 {
        let wanted = |a: &Sided, b: &Sided| {
            let gaps = |p: &P2| sign * (a.at(*p) - b.at(*p)) > ROUNDED;
            a.corner.iter().any(gaps) && b.corner.iter().any(gaps)
        };
        let sum = self.fold_where(wanted, CutFill::default, CutFill::add, CutFill::and);
        if sign > 0.0 { sum.cut } else { sum.fill }
    }
}

impl CutFill {
    /// What one cell adds.
    pub fn add(&mut self, cell: &Cell) {
        let (p, d) = (cell.polygon, cell.over);
        let (mut area2, mut volume) = (0.0, 0.0);
        let mut low = d[0];
        let mut high = d[0];
        for k in 1..p.len() - 1 {
            let a = (p[k][0] - p[0][0]) * (p[k + 1][1] - p[0][1])
                - (p[k][1] - p[0][1]) * (p[k + 1][0] - p[0][0]);
            area2 += a;
            volume += a * (d[0] + d[k] + d[k + 1]);
            low = low.min(d[k]);
            high = high.max(d[k]);
        }
        low = low.min(d[p.len() - 1]);
        high = high.max(d[p.len() - 1]);
        volume /= 6.0;
        self.area += 0.5 * area2;
        self.cells += 1;
        if low >= 0.0 {
            self.cut += volume;
        } else if high <= 0.0 {
            self.fill -= volume;
        } else {
            let cut = positive(p, d);
            self.cut += cut;
            self.fill += cut - volume;
        }
    }

    pub fn and(self, other: Self) -> Self {
        CutFill {
            cut: self.cut + other.cut,
            fill: self.fill + other.fill,
            area: self.area + other.area,
            cells: self.cells + other.cells,
        }
    }
}

/// ∫ of the positive part, where the sign changes inside the cell: triangle by triangle of its fan.
fn positive(p: &[P2], d: &[f64]) -> f64 {
    let mut sum = 0.0;
    for k in 1..p.len() - 1 {
        let area = 0.5
            * ((p[k][0] - p[0][0]) * (p[k + 1][1] - p[0][1])
                - (p[k][1] - p[0][1]) * (p[k + 1][0] - p[0][0]));
        let mut h = [d[0], d[k], d[k + 1]];
        h.sort_unstable_by(f64::total_cmp);
        let [low, mid, high] = h;
        let all = area * (low + mid + high) / 3.0;
        sum += if low >= 0.0 {
            all
        } else if high <= 0.0 {
            0.0
        } else if mid <= 0.0 {
            // One corner above: a similar triangle at that corner.
            let f = (high / (high - low)) * (high / (high - mid));
            area * f * high / 3.0
        } else {
            // One corner below: all, plus what lies under at that corner.
            let f = (low / (low - high)) * (low / (low - mid));
            all - area * f * low / 3.0
        };
    }
    sum
}

/// Exact cut (first over second) and fill (first under second) over the common plan.
pub fn cut_fill(first: &Surface, second: &Surface) -> CutFill {
    Overlay::new(first, second).cut_fill()
}

/// Of that the cut alone, m³.
pub fn cut(first: &Surface, second: &Surface) -> f64 {
    Overlay::new(first, second).on_side(1.0)
}

/// The fill alone.
pub fn fill(first: &Surface, second: &Surface) -> f64 {
    Overlay::new(first, second).on_side(-1.0)
}
