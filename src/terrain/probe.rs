//! Asking a surface: elevation and slope at a place, and a section along a line. Metres.

use super::convex;
use super::predicates::P2;
use super::{Maker, Plane, Span, Surface};

/// An index of a surface's triangles by squares in plan, for asking at many places.
pub struct Probe<'a> {
    surface: &'a Surface,
    low: P2,
    side: f64,
    columns: usize,
    rows: usize,
    start: Vec<u32>,
    ids: Vec<u32>,
}

/// What a surface is at a place in plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sounding {
    pub elevation: f64,
    /// Rise over run along the steepest line, and the direction of fall (radians from +x).
    pub slope: f64,
    pub fall: f64,
    pub made_by: Maker,
    pub triangle: u32,
}

/// Rounding is no way past a square, metres.
pub(crate) const HAIR: f64 = 1e-9;

/// A point of a section: distance along the line, elevation.
pub type Station = [f64; 2];

impl<'a> Probe<'a> {
    pub fn new(surface: &'a Surface) -> Self {
        let [low, high] = surface.bounds().unwrap_or([[0.0; 3]; 2]);
        let all = (0..surface.triangles.len() as u32).collect();
        Self::of(surface, all, [low, high].map(|p| [p[0], p[1]]))
    }

    /// Only of what meets a box: to ask a large surface at a few places.
    pub fn within(surface: &'a Surface, span: Span) -> Self {
        let near = (0..surface.triangles.len() as u32).filter(|&t| {
            let c = surface.corners(t as usize);
            Span::of(c.map(|p| [p[0], p[1]])).meets(&span)
        });
        Self::of(surface, near.collect(), [span.low, span.high])
    }

    fn of(surface: &'a Surface, triangles: Vec<u32>, [low, high]: [P2; 2]) -> Self {
        let (w, h) = ((high[0] - low[0]).max(1e-6), (high[1] - low[1]).max(1e-6));
        let side = (w * h / triangles.len().max(1) as f64)
            .sqrt()
            .max(w.max(h) / 2000.0)
            * 1.5;
        let (columns, rows) = ((w / side) as usize + 1, (h / side) as usize + 1);
        let mut probe = Probe {
            surface,
            low,
            side,
            columns,
            rows,
            start: vec![0; columns * rows + 1],
            ids: Vec::new(),
        };
        let boxes: Vec<[usize; 4]> = triangles
            .iter()
            .map(|&t| {
                let c = surface.corners(t as usize);
                let span = Span::of(c.map(|p| [p[0], p[1]]));
                let (a, b) = (probe.square(span.low), probe.square(span.high));
                [a.0, a.1, b.0, b.1]
            })
            .collect();
        for b in &boxes {
            for y in b[1]..=b[3] {
                for x in b[0]..=b[2] {
                    probe.start[y * columns + x + 1] += 1;
                }
            }
        }
        for s in 1..probe.start.len() {
            probe.start[s] += probe.start[s - 1];
        }
        probe.ids = vec![0; probe.start[columns * rows] as usize];
        let mut next = probe.start.clone();
        for (t, b) in triangles.iter().zip(&boxes) {
            for y in b[1]..=b[3] {
                for x in b[0]..=b[2] {
                    let slot = &mut next[y * columns + x];
                    probe.ids[*slot as usize] = *t;
                    *slot += 1;
                }
            }
        }
        probe
    }

    fn square(&self, p: P2) -> (usize, usize) {
        let k = |v: f64, low: f64, n: usize| (((v - low) / self.side).max(0.0) as usize).min(n - 1);
        (
            k(p[0], self.low[0], self.columns),
            k(p[1], self.low[1], self.rows),
        )
    }

    fn in_square(&self, x: usize, y: usize) -> &[u32] {
        let s = y * self.columns + x;
        &self.ids[self.start[s] as usize..self.start[s + 1] as usize]
    }

    /// The surface at a place; `None` outside it. On a vertical face, its foot.
    pub fn sound(&self, p: P2) -> Option<Sounding> {
        let (triangle, plane) = self.plane(p)?;
        Some(Sounding {
            elevation: plane.at(p),
            slope: plane.slope(),
            fall: (-plane.gradient[1]).atan2(-plane.gradient[0]),
            made_by: self.made_by(triangle),
            triangle,
        })
    }

    /// Elevation of the surface at a place, and who made it: the same without slope and fall.
    pub fn elevation(&self, p: P2) -> Option<(f64, Maker)> {
        let (triangle, plane) = self.plane(p)?;
        Some((plane.at(p), self.made_by(triangle)))
    }

    fn made_by(&self, triangle: u32) -> Maker {
        let made_by = self.surface.made_by.get(triangle as usize);
        made_by.copied().unwrap_or(0)
    }

    /// The triangle at a place, the lowest on a vertical face, and its plane.
    fn plane(&self, p: P2) -> Option<(u32, Plane)> {
        let (x, y) = self.square(p);
        let mut lowest: Option<(f64, u32, Plane)> = None;
        let found = self.in_square(x, y).iter().filter_map(|&t| {
            let [a, b, c] = self.surface.corners(t as usize);
            let inside = [(a, b), (b, c), (c, a)].iter().all(|(u, v)| {
                let d = [v[0] - u[0], v[1] - u[1]];
                let cross = d[0] * (p[1] - u[1]) - d[1] * (p[0] - u[0]);
                // No further outside than a hair; the root is spared.
                cross >= 0.0 || cross * cross <= 1e-18 * (d[0] * d[0] + d[1] * d[1])
            });
            inside.then(|| (t, Plane::through(a, b, c)))
        });
        for (t, plane) in found {
            let z = plane.at(p);
            if lowest.is_none_or(|l| z < l.0) {
                lowest = Some((z, t, plane));
            }
        }
        lowest.map(|(_, t, plane)| (t, plane))
    }

    /// The surface cut along the straight line from `a` to `b`: stations in order, one at every
    /// edge crossed (two where a vertical face is crossed). Gaps (holes) are left out.
    pub fn section(&self, a: P2, b: P2) -> Vec<Station> {
        let d = [b[0] - a[0], b[1] - a[1]];
        let length = d[0].hypot(d[1]);
        if length < 1e-9 {
            return Vec::new();
        }
        let steps = (length / (0.5 * self.side)).ceil() as usize;
        // All squares that the line runs through, a stretch at a time.
        let place = |s: usize| {
            let f = s as f64 / steps as f64;
            [a[0] + f * d[0], a[1] + f * d[1]]
        };
        let mut squares: Vec<u32> = Vec::new();
        for s in 0..steps {
            let stretch = Span::of([place(s), place(s + 1)]).grown(HAIR);
            let (low, high) = (self.square(stretch.low), self.square(stretch.high));
            for y in low.1..=high.1 {
                squares.extend((low.0..=high.0).map(|x| (y * self.columns + x) as u32));
            }
        }
        squares.sort_unstable();
        squares.dedup();
        let span = Span::of([a, b]).grown(HAIR);
        let mut bits: Vec<(u32, [f64; 2], [f64; 2])> = Vec::new();
        for s in squares.into_iter().map(|s| s as usize) {
            for &t in &self.ids[self.start[s] as usize..self.start[s + 1] as usize] {
                let c = self.surface.corners(t as usize);
                let flat = c.map(|p| [p[0], p[1]]);
                if !Span::of(flat).meets(&span) {
                    continue;
                }
                let (from, to) = convex::stretch(&flat, a, b);
                if to - from > 1e-12 {
                    let plane = Plane::through(c[0], c[1], c[2]);
                    let at = |f: f64| plane.at([a[0] + f * d[0], a[1] + f * d[1]]);
                    bits.push((t, [from, to], [at(from), at(to)]));
                }
            }
        }
        // Along the line; a triangle that was found in several squares comes once.
        let order = |b: &(u32, [f64; 2], _)| (b.1[0] + b.1[1], b.0);
        bits.sort_unstable_by(|p, q| {
            let (p, q) = (order(p), order(q));
            p.0.total_cmp(&q.0).then(p.1.cmp(&q.1))
        });
        bits.dedup_by_key(|b| b.0);
        let mut stations: Vec<Station> = Vec::new();
        for (_, f, z) in bits {
            for (f, z) in f.into_iter().zip(z) {
                let s = [f * length, z];
                if stations
                    .last()
                    .is_none_or(|l| (l[0] - s[0]).abs() > 1e-9 || (l[1] - s[1]).abs() > 1e-9)
                {
                    stations.push(s);
                }
            }
        }
        stations
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terrain::contours::contours;

    fn tilted() -> Surface {
        Surface {
            points: vec![
                [0.0, 0.0, 0.0],
                [4.0, 0.0, 2.0],
                [4.0, 4.0, 2.0],
                [0.0, 4.0, 0.0],
            ],
            triangles: vec![[0, 1, 2], [0, 2, 3]],
            made_by: vec![0, 0],
        }
    }

    #[test]
    fn soundings_on_a_plane() {
        let s = tilted();
        let probe = Probe::new(&s);
        let at = probe.sound([1.0, 3.0]).unwrap();
        assert!((at.elevation - 0.5).abs() < 1e-12 && (at.slope - 0.5).abs() < 1e-12);
        assert!(
            (at.fall.abs() - std::f64::consts::PI).abs() < 1e-12,
            "falls towards −x, not {}",
            at.fall
        );
        assert!(probe.sound([5.0, 1.0]).is_none());
    }

    #[test]
    fn section_and_contours_of_a_plane() {
        let s = tilted();
        let section = Probe::new(&s).section([0.0, 1.0], [4.0, 1.0]);
        assert!((section[0][1]).abs() < 1e-12);
        assert!((section.last().unwrap()[1] - 2.0).abs() < 1e-12);
        let lines = contours(&s, 0.5);
        // 0.0 falls on the lowest corners, which count as above it: three lines are left, and 2.0 on
        // the highest.
        let inner: Vec<_> = lines
            .iter()
            .filter(|c| c.elevation > 0.0 && c.elevation < 2.0)
            .collect();
        assert_eq!(inner.len(), 3);
        for c in inner {
            assert!(
                !c.closed
                    && c.line
                        .iter()
                        .all(|p| (p[0] - 2.0 * c.elevation).abs() < 1e-12)
            );
        }
    }
}
