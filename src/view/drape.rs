//! Finding the surface under a point in plan, so that lines, pins and labels lie on it.
//!
//! For drawing only: no figure comes from here.

use crate::terrain::Surface;

use super::bins::Bins;

/// A surface with its triangles sorted into square bins.
pub struct Drape {
    triangles: Vec<[[f64; 3]; 3]>,
    origin: [f64; 2],
    cell: f64,
    columns: usize,
    rows: usize,
    /// Numbers of triangles.
    bins: Bins<u32>,
}

impl Drape {
    pub fn new(surface: &Surface) -> Self {
        let triangles: Vec<_> = (0..surface.triangles.len())
            .map(|t| surface.corners(t))
            .collect();
        let Some([lo, hi]) = surface.bounds() else {
            return Drape {
                triangles,
                origin: [0.0; 2],
                cell: 1.0,
                columns: 0,
                rows: 0,
                bins: Bins::of(0, |_| {}),
            };
        };
        let (w, h) = (hi[0] - lo[0], hi[1] - lo[1]);
        // About two triangles a bin, never more than a quarter million bins.
        let cell = (w * h * 2.0 / triangles.len().max(1) as f64)
            .sqrt()
            .max(w.max(h) / 500.0)
            .max(1e-3);
        let columns = (w / cell) as usize + 1;
        let rows = (h / cell) as usize + 1;
        let span = |t: &[[f64; 3]; 3], k: usize, n: usize| {
            let lowest = t[0][k].min(t[1][k]).min(t[2][k]);
            let highest = t[0][k].max(t[1][k]).max(t[2][k]);
            let bin = |v: f64| (((v - lo[k]) / cell).max(0.0) as usize).min(n - 1);
            bin(lowest)..=bin(highest)
        };
        let bins = Bins::of(columns * rows, |put| {
            for (i, t) in triangles.iter().enumerate() {
                for r in span(t, 1, rows) {
                    for c in span(t, 0, columns) {
                        put(r * columns + c, i as u32);
                    }
                }
            }
        });
        Drape {
            triangles,
            origin: [lo[0], lo[1]],
            cell,
            columns,
            rows,
            bins,
        }
    }

    /// The highest triangle over the point, as the plane it lies in.
    pub fn plane(&self, p: [f64; 2]) -> Option<Plane> {
        self.find(p).map(|(_, plane)| plane)
    }

    /// Its number in the surface.
    pub fn triangle(&self, p: [f64; 2]) -> Option<usize> {
        self.find(p).map(|(triangle, _)| triangle)
    }

    fn find(&self, p: [f64; 2]) -> Option<(usize, Plane)> {
        let c = (p[0] - self.origin[0]) / self.cell;
        let r = (p[1] - self.origin[1]) / self.cell;
        if c < 0.0 || r < 0.0 || c >= self.columns as f64 || r >= self.rows as f64 {
            return None;
        }
        let bin = r as usize * self.columns + c as usize;
        self.bins
            .get(bin)
            .iter()
            .filter_map(|&i| {
                let t = self.triangles[i as usize];
                let inside = (0..3).all(|k| {
                    let (a, b) = (t[k], t[(k + 1) % 3]);
                    (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) >= -1e-9
                });
                if !inside {
                    return None;
                }
                Some((i as usize, Plane::through(t)?))
            })
            .max_by(|(_, a), (_, b)| a.height(p).total_cmp(&b.height(p)))
    }

    pub fn height(&self, p: [f64; 2]) -> Option<f64> {
        self.plane(p).map(|plane| plane.height(p))
    }

    /// A line laid over the surface, in pieces where it leaves it; points every `step` metres.
    pub fn lay(&self, line: &[[f64; 2]], closed: bool, step: f64) -> Vec<Vec<[f64; 3]>> {
        let mut pieces = Vec::new();
        let mut piece = Vec::new();
        let ends = if closed {
            line.len()
        } else {
            line.len().saturating_sub(1)
        };
        for i in 0..ends {
            let (a, b) = (line[i], line[(i + 1) % line.len()]);
            let length = (b[0] - a[0]).hypot(b[1] - a[1]);
            let steps = ((length / step).ceil() as usize).clamp(1, 2000);
            for s in usize::from(i > 0)..=steps {
                let f = s as f64 / steps as f64;
                let p = [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
                match self.height(p) {
                    Some(z) => piece.push([p[0], p[1], z]),
                    None if piece.len() > 1 => pieces.push(std::mem::take(&mut piece)),
                    None => piece.clear(),
                }
            }
        }
        if piece.len() > 1 {
            pieces.push(piece);
        }
        pieces
    }
}

/// z = a + b x + c y, kept relative to a corner.
#[derive(Clone, Copy)]
pub struct Plane {
    at: [f64; 3],
    slope: [f64; 2],
}

impl Plane {
    fn through(t: [[f64; 3]; 3]) -> Option<Self> {
        let [a, b, c] = t;
        let (ux, uy, uz) = (b[0] - a[0], b[1] - a[1], b[2] - a[2]);
        let (vx, vy, vz) = (c[0] - a[0], c[1] - a[1], c[2] - a[2]);
        let d = ux * vy - uy * vx;
        (d > 1e-12).then(|| Plane {
            at: a,
            slope: [(uz * vy - vz * uy) / d, (ux * vz - vx * uz) / d],
        })
    }

    pub fn height(&self, p: [f64; 2]) -> f64 {
        self.at[2] + self.slope[0] * (p[0] - self.at[0]) + self.slope[1] * (p[1] - self.at[1])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_lies_on_a_tilted_square() {
        let surface = Surface {
            points: vec![
                [0.0, 0.0, 1.0],
                [2.0, 0.0, 2.0],
                [2.0, 2.0, 4.0],
                [0.0, 2.0, 3.0],
            ],
            triangles: vec![[0, 1, 2], [0, 2, 3]],
            made_by: vec![0, 0],
        };
        let drape = Drape::new(&surface);
        // z = 1 + x/2 + y over the whole square.
        for p in [[0.5, 0.25], [1.5, 1.9], [0.0, 0.0], [0.3, 1.7]] {
            let z = drape.height(p).expect("inside");
            assert!((z - (1.0 + p[0] / 2.0 + p[1])).abs() < 1e-12, "{p:?}: {z}");
        }
        assert_eq!(drape.height([2.5, 1.0]), None);
        let pieces = drape.lay(&[[-1.0, 1.0], [3.0, 1.0]], false, 0.1);
        assert_eq!(pieces.len(), 1);
        assert!(pieces[0].iter().all(|p| (0.0..=2.0).contains(&p[0])));
    }
}
