//! An index over the plan, for a mosaic: the ground's triangles in a packed list, pieces cut later
//! beside them. Metres.

use std::sync::Arc;

use crate::terrain::Surface;
use crate::terrain::predicates::P2;

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
    /// For each id, the number of the last query that found it.
    found: Vec<u32>,
    queries: u32,
}

/// No further link.
const END: u32 = u32::MAX;

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
            for y in y0..=y1 {
                for x in x0..=x1 {
                    let slot = &mut fill[y as usize * columns + x as usize];
                    ids[*slot as usize] = t as u32;
                    *slot += 1;
                }
            }
        }
        (grid.first, grid.ids) = (first.into(), ids.into());
        grid
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

    pub fn add(&mut self, id: u32, lo: P2, hi: P2) {
        if self.found.len() <= id as usize {
            self.found.resize(id as usize + 1, 0);
        }
        let [x0, y0, x1, y1] = self.span(lo, hi);
        for y in y0..=y1 {
            for x in x0..=x1 {
                let head = &mut self.later[y * self.columns + x];
                self.links.push([id, *head]);
                *head = self.links.len() as u32 - 1;
            }
        }
    }

    /// Everything in the cells that this convex outline reaches, each once, unsorted; forgets dead
    /// pieces on its way. `live` is asked only about what was added after the base triangles.
    pub fn query_live(&mut self, outline: &[P2], live: impl Fn(u32) -> bool, out: &mut Vec<u32>) {
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
            for c in row * self.columns + c0..=row * self.columns + c1 {
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
                    } else if last == END {
                        self.later[c] = next;
                    } else {
                        self.links[last as usize][1] = next;
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
                let later: usize = (row + x0..=row + x1).map(|c| self.added(c).count()).sum();
                (self.first[row + x1 + 1] - self.first[row + x0]) as usize + later
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
        out.clear();
        let [x0, y0, x1, y1] = self.span(lo, hi);
        for y in y0..=y1 {
            for x in x0..=x1 {
                let c = y * self.columns + x;
                out.extend_from_slice(
                    &self.ids[self.first[c] as usize..self.first[c + 1] as usize],
                );
                out.extend(self.added(c));
            }
        }
        out.sort_unstable();
        out.dedup();
    }
}
