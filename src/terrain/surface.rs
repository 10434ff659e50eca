//! A surface: triangles over the plan that do not overlap, each with an elevation at its corners.
//!
//! Where the ground is continuous, neighbouring triangles share vertices; across a vertical face
//! they stand on different vertices at the same place in plan. Units: metres.

/// What made a triangle: an index into [`Surface::makers`].
pub type Maker = u16;

/// The untouched ground.
pub const GROUND: Maker = 0;

#[derive(Debug, Clone, Default, PartialEq)]
pub struct Surface {
    pub points: Vec<[f64; 3]>,
    /// Counter-clockwise seen from above.
    pub triangles: Vec<[u32; 3]>,
    /// For each triangle, who made it; [`GROUND`] is 0.
    pub made_by: Vec<Maker>,
}

impl Surface {
    pub fn corners(&self, triangle: usize) -> [[f64; 3]; 3] {
        self.triangles[triangle].map(|i| self.points[i as usize])
    }

    /// Plan area, m².
    pub fn plan_area(&self) -> f64 {
        (0..self.triangles.len())
            .map(|t| {
                let [a, b, c] = self.corners(t);
                0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
            })
            .sum()
    }

    /// Area along the surface, m².
    pub fn sloped_area(&self) -> f64 {
        (0..self.triangles.len())
            .map(|t| {
                let [a, b, c] = self.corners(t).map(nalgebra::Vector3::from);
                0.5 * (b - a).cross(&(c - a)).norm()
            })
            .sum()
    }

    /// Volume between the surface and the level `datum`, m³; ground below the datum counts negative.
    pub fn volume_over(&self, datum: f64) -> f64 {
        (0..self.triangles.len())
            .map(|t| {
                let [a, b, c] = self.corners(t);
                let area = 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
                area * ((a[2] + b[2] + c[2]) / 3.0 - datum)
            })
            .sum()
    }

    /// Lowest and highest corner: `[min, max]`, or `None` without points.
    pub fn bounds(&self) -> Option<[[f64; 3]; 2]> {
        let first = *self.points.first()?;
        Some(
            self.points
                .iter()
                .fold([first, first], |[mut lo, mut hi], p| {
                    for k in 0..3 {
                        lo[k] = lo[k].min(p[k]);
                        hi[k] = hi[k].max(p[k]);
                    }
                    [lo, hi]
                }),
        )
    }
}
