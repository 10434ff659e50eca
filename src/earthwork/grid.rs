//! An index over the plan, for a mosaic: the ground's triangles in a packed list, pieces cut later
//! beside them. Metres.

use std::sync::Arc;

use crate::terrain::predicates::P2;
use crate::terrain::{Plane, Span, Surface};

use super::facet::Act;

#[derive(Clone)]
/// An index over the plan: ids of base triangles in a packed list, later pieces beside it.
pub(super) struct Grid {
    low: P2,
    cell: f64,
    columns: usize,
    rows: usize,
    first: Arc<[u32]>,
    ids: Arc<[u32]>,
    /// First link of what was added in each cell, and the links: id and next link.
    later: Vec<u32>,
    links: Vec<[u32; 2]>,
    /// How many of them there are in each cell.
    counts: Vec<u32>,
    /// Lowest and highest that the surface gets within each cell, or got at any time before.
    heights: Vec<[f64; 2]>,
    /// For each id, the number of the last query that found it.
    found: Vec<u32>,
    queries: u32,
}

/// No further link.
const END: u32 = u32::MAX;

/// Heights known of a cell may be off by so much, from all that rounds in cutting up (metres).
const SLACK: f64 = 1e-6;

impl Grid {
    /// An empty index of about so many cells over a rectangle.
    pub fn over(low: P2, high: P2, cells: usize) -> Self {
        let (w, h) = ((high[0] - low[0]).max(1e-6), (high[1] - low[1]).max(1e-6));
        let cell = (w * h / cells.max(1) as f64).sqrt().max(w.max(h) / 2000.0);
        let columns = (w / cell) as usize + 1;
        let rows = (h / cell) as usize + 1;
        Grid {
            low,
            cell,
            columns,
            rows,
            first: Arc::from(vec![0; columns * rows + 1]),
            ids: Arc::from([]),
            later: vec![END; columns * rows],
            links: Vec::new(),
            counts: vec![0; columns * rows],
            heights: vec![[f64::INFINITY, f64::NEG_INFINITY]; columns * rows],
            found: Vec::new(),
            queries: 0,
        }
    }

    pub fn new(surface: &Surface) -> Self {
        let [low, high] = surface.bounds().unwrap_or([[0.0; 3]; 2]);
        // Never coarse, however few the shots: it is the works that make the many pieces.
        let cells = (surface.triangles.len() / 2).max(3000);
        let mut grid = Grid::over([low[0], low[1]], [high[0], high[1]], cells);
        grid.found = vec![0; surface.triangles.len()];
        let (columns, rows) = (grid.columns, grid.rows);
        // Counting sort: how many in each cell, where each cell starts, then the ids.
        let boxes: Vec<[u16; 4]> = surface
            .triangles
            .iter()
            .map(|t| {
                let [a, b, c] = t.map(|i| surface.points[i as usize]);
                let lo = [a[0].min(b[0]).min(c[0]), a[1].min(b[1]).min(c[1])];
                let hi = [a[0].max(b[0]).max(c[0]), a[1].max(b[1]).max(c[1])];
                grid.span(lo, hi).map(|v| v as u16)
            })
            .collect();
        let mut first = vec![0; columns * rows + 1];
        for &[x0, y0, x1, y1] in &boxes {
            for y in y0..=y1 {
                for x in x0..=x1 {
                    first[y as usize * columns + x as usize + 1] += 1;
                }
            }
        }
        for i in 1..first.len() {
            first[i] += first[i - 1];
        }
        let mut ids = vec![0; first[columns * rows] as usize];
        let mut fill = first.clone();
        for (t, &[x0, y0, x1, y1]) in boxes.iter().enumerate() {
            let [a, b, c] = surface.corners(t);
            let range = [a[2].min(b[2]).min(c[2]), a[2].max(b[2]).max(c[2])];
            // A triangle over many cells has not its whole range in each.
            let plane = (x1 - x0 > 1 || y1 - y0 > 1).then(|| Plane::through(a, b, c));
            for y in y0..=y1 {
                for x in x0..=x1 {
                    let (x, y) = (x as usize, y as usize);
                    let slot = &mut fill[y * columns + x];
                    ids[*slot as usize] = t as u32;
                    *slot += 1;
                    let within = plane.map_or(range, |plane| {
                        let [least, most] = grid.range(&plane, x, y);
                        [range[0].max(least), range[1].min(most)]
                    });
                    grid.reach(y * columns + x, within);
                }
            }
        }
        (grid.first, grid.ids) = (first.into(), ids.into());
        grid
    }

    /// What it lies over, and the side of its cells.
    pub fn extent(&self) -> (Span, f64) {
        let [w, h] = [self.columns, self.rows].map(|n| n as f64 * self.cell);
        let high = [self.low[0] + w, self.low[1] + h];
        let low = self.low;
        (Span { low, high }, self.cell)
    }

    /// Makes room for so many things more.
    pub fn reserve(&mut self, count: usize) {
        self.links.reserve(2 * count);
        self.found.reserve(count);
    }

    /// Lowest and highest of a plane over a cell.
    #[inline]
    fn range(&self, plane: &Plane, x: usize, y: usize) -> [f64; 2] {
        let half = 0.5 * self.cell;
        let middle = [
            self.low[0] + x as f64 * self.cell + half,
            self.low[1] + y as f64 * self.cell + half,
        ];
        let [gx, gy] = plane.gradient;
        let (z, up) = (plane.at(middle), (half + 1e-6) * (gx.abs() + gy.abs()));
        [z - up, z + up]
    }

    /// Notes that the surface gets so low and so high in a cell.
    #[inline]
    fn reach(&mut self, cell: usize, [least, most]: [f64; 2]) {
        let [low, high] = &mut self.heights[cell];
        *low = if least < *low { least } else { *low };
        *high = if most > *high { most } else { *high };
    }

    /// What was added in a cell.
    fn added(&self, c: usize) -> impl Iterator<Item = u32> + '_ {
        let mut link = self.later[c];
        std::iter::from_fn(move || {
            let &[id, next] = self.links.get(link as usize)?;
            link = next;
            Some(id)
        })
    }

    fn span(&self, lo: P2, hi: P2) -> [usize; 4] {
        let x = |v: f64| (((v - self.low[0]) / self.cell).max(0.0) as usize).min(self.columns - 1);
        let y = |v: f64| (((v - self.low[1]) / self.cell).max(0.0) as usize).min(self.rows - 1);
        [
            x(lo[0] - 1e-6),
            y(lo[1] - 1e-6),
            x(hi[0] + 1e-6),
            y(hi[1] + 1e-6),
        ]
    }

    /// Adds what lies at heights of its own: on neither the ground nor a facet asked about.
    pub fn add_at(&mut self, id: u32, lo: P2, hi: P2, range: [f64; 2]) {
        self.add(id, lo, hi);
        let [x0, y0, x1, y1] = self.span(lo, hi);
        for y in y0..=y1 {
            for x in x0..=x1 {
                self.reach(y * self.columns + x, range);
            }
        }
    }

    pub fn add(&mut self, id: u32, lo: P2, hi: P2) {
        if self.found.len() <= id as usize {
            self.found.resize(id as usize + 1, 0);
        }
        let [x0, y0, x1, y1] = self.span(lo, hi);
        for y in y0..=y1 {
            for x in x0..=x1 {
                let cell = y * self.columns + x;
                let head = &mut self.later[cell];
                self.links.push([id, *head]);
                *head = self.links.len() as u32 - 1;
                self.counts[cell] += 1;
            }
        }
    }

    /// Everything that a move to this plane may change in the cells that this convex outline reaches,
    /// each once, unsorted; forgets dead pieces on its way. `live` is asked only about what was added
    /// after the base triangles.
    ///
    /// Side slopes run on far beyond the ground that they meet: most of their cells are passed over
    /// by their heights alone.
    pub fn query_move(
        &mut self,
        act: Act,
        outline: &[P2],
        plane: &Plane,
        live: impl Fn(u32) -> bool,
        out: &mut Vec<u32>,
    ) {
        out.clear();
        self.queries += 1;
        let (low, high) = outline
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| {
                (l.min(p[1]), h.max(p[1]))
            });
        let [_, r0, _, r1] = self.span([self.low[0], low], [self.low[0], high]);
        for row in r0..=r1 {
            // The outline's stretch in this row; beyond the first and last row lies the rest of it.
            let y = |r: usize| self.low[1] + r as f64 * self.cell;
            let from = if row == 0 { low } else { y(row) - 1e-6 };
            let to = if row + 1 == self.rows {
                high
            } else {
                y(row + 1) + 1e-6
            };
            let (mut x0, mut x1) = (f64::INFINITY, f64::NEG_INFINITY);
            let mut reach = |x: f64| {
                x0 = x0.min(x);
                x1 = x1.max(x);
            };
            for (k, a) in outline.iter().enumerate() {
                let b = outline[(k + 1) % outline.len()];
                if a[1] >= from && a[1] <= to {
                    reach(a[0]);
                }
                for edge in [from, to] {
                    if (a[1] < edge) != (b[1] < edge) {
                        reach(a[0] + (edge - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
                    }
                }
            }
            if x0 > x1 {
                continue;
            }
            let [c0, _, c1, _] = self.span([x0, low], [x1, low]);
            for column in c0..=c1 {
                let c = row * self.columns + column;
                let [least, most] = self.range(plane, column, row);
                // What lies outside the index counts to its outermost cells.
                let outermost =
                    column == 0 || row == 0 || column + 1 == self.columns || row + 1 == self.rows;
                let [low, high] = &mut self.heights[c];
                if act == Act::Dig {
                    if !outermost && least >= *high + SLACK {
                        continue;
                    }
                    *low = if least < *low { least } else { *low };
                } else {
                    if !outermost && most <= *low - SLACK {
                        continue;
                    }
                    *high = if most > *high { most } else { *high };
                }
                let base = &self.ids[self.first[c] as usize..self.first[c + 1] as usize];
                for &id in base {
                    let found = &mut self.found[id as usize];
                    if *found != self.queries {
                        *found = self.queries;
                        out.push(id);
                    }
                }
                let mut last = END;
                let mut link = self.later[c];
                while link != END {
                    let [id, next] = self.links[link as usize];
                    if live(id) {
                        let found = &mut self.found[id as usize];
                        if *found != self.queries {
                            *found = self.queries;
                            out.push(id);
                        }
                        last = link;
                    } else {
                        self.counts[c] -= 1;
                        match last {
                            END => self.later[c] = next,
                            last => self.links[last as usize][1] = next,
                        }
                    }
                    link = next;
                }
            }
        }
    }

    /// About how many are in this box: those over several cells count for each.
    pub fn about(&self, lo: P2, hi: P2) -> usize {
        let [x0, y0, x1, y1] = self.span(lo, hi);
        (y0..=y1)
            .map(|y| {
                let row = y * self.columns;
                let cells = row + x0..=row + x1;
                let count = |c: usize| self.added(c).count() as u32;
                debug_assert!(cells.clone().all(|c| self.counts[c] == count(c)));
                let later: u32 = self.counts[cells].iter().sum();
                (self.first[row + x1 + 1] - self.first[row + x0] + later) as usize
            })
            .sum()
    }

    /// Everything whose box may hold this place; some may come twice. Nothing is allocated.
    pub fn at(&self, p: P2) -> impl Iterator<Item = u32> + '_ {
        let [x0, y0, x1, y1] = self.span(p, p);
        (y0..=y1)
            .flat_map(move |y| (x0..=x1).map(move |x| y * self.columns + x))
            .flat_map(|c| {
                let base = &self.ids[self.first[c] as usize..self.first[c + 1] as usize];
                base.iter().copied().chain(self.added(c))
            })
    }

    /// Everything whose box may overlap this one, each once, in a fixed order.
    pub fn query(&self, lo: P2, hi: P2, out: &mut Vec<u32>) {
        self.query_for(lo, hi, Some, out);
    }

    /// Of everything whose box may overlap this one what `made` makes of it, each once, in a fixed order.
    pub fn query_for(&self, lo: P2, hi: P2, made: impl Fn(u32) -> Option<u32>, out: &mut Vec<u32>) {
        out.clear();
        let [x0, y0, x1, y1] = self.span(lo, hi);
        for y in y0..=y1 {
            for x in x0..=x1 {
                let c = y * self.columns + x;
                let base = &self.ids[self.first[c] as usize..self.first[c + 1] as usize];
                out.extend(base.iter().filter_map(|&id| made(id)));
                out.extend(self.added(c).filter_map(&made));
            }
        }
        out.sort_unstable();
        out.dedup();
    }
}
