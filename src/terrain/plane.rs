//! A plane over the plan: `z = z0 + gx (x − x0) + gy (y − y0)`. Kept with a point of its own, so
//! that steep planes far from the origin lose nothing. Metres.

use super::predicates::P2;

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    pub through: [f64; 3],
    pub gradient: P2,
}

impl Plane {
    pub fn level(z: f64) -> Self {
        Plane {
            through: [0.0, 0.0, z],
            gradient: [0.0, 0.0],
        }
    }

    /// Through three corners; level through the first if they are in line in plan.
    #[inline]
    pub fn through(a: [f64; 3], b: [f64; 3], c: [f64; 3]) -> Self {
        let (ux, uy, uz) = (b[0] - a[0], b[1] - a[1], b[2] - a[2]);
        let (vx, vy, vz) = (c[0] - a[0], c[1] - a[1], c[2] - a[2]);
        let det = ux * vy - uy * vx;
        let gradient = if det == 0.0 {
            [0.0, 0.0]
        } else {
            [(uz * vy - vz * uy) / det, (ux * vz - vx * uz) / det]
        };
        Plane {
            through: a,
            gradient,
        }
    }

    #[inline]
    pub fn at(&self, p: P2) -> f64 {
        self.through[2]
            + self.gradient[0] * (p[0] - self.through[0])
            + self.gradient[1] * (p[1] - self.through[1])
    }

    /// The same plane moved up (or down) by `dz`.
    pub fn raised(mut self, dz: f64) -> Self {
        self.through[2] += dz;
        self
    }

    /// Rise over run along the steepest line.
    pub fn slope(&self) -> f64 {
        let [x, y] = self.gradient;
        (x * x + y * y).sqrt()
    }
}
