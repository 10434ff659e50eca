//! Triangles on their way to the graphics card: positions, normals, and what each is made of.
//!
//! Scene coordinates are metres in f32, y up, recentred near the yard ([`Frame`]); everything else
//! of Brimline is f64 with z up.

use bevy::asset::RenderAssetUsages;
use bevy::math::Vec3;
use bevy::mesh::{Indices, Mesh, PrimitiveTopology};

use super::stuff::{Class, Stuff};

/// Where the yard stands in the scene, and how large it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Plan point and elevation that become the scene's origin.
    pub centre: [f64; 3],
    /// Half the diagonal of the yard in plan, m.
    pub reach: f64,
    /// Elevation of the underside of the model.
    pub base: f64,
}

impl Frame {
    /// Subtracts in f64 first: coordinates may be national-grid sized.
    pub fn scene(&self, p: [f64; 3]) -> Vec3 {
        Vec3::new(
            (p[0] - self.centre[0]) as f32,
            (p[2] - self.centre[2]) as f32,
            (self.centre[1] - p[1]) as f32,
        )
    }

    /// Back to plan coordinates.
    pub fn plan(&self, p: Vec3) -> [f64; 3] {
        [
            self.centre[0] + f64::from(p.x),
            self.centre[1] - f64::from(p.z),
            self.centre[2] + f64::from(p.y),
        ]
    }
}

/// Loose triangles; corners are not shared, so each carries its own normal and make. One mesh for
/// each class of stuff.
#[derive(Debug, Default)]
pub struct Batch {
    classes: [Corners; 5],
}

#[derive(Debug, Default)]
struct Corners {
    positions: Vec<Vec3>,
    normals: Vec<Vec3>,
    /// Two numbers that the shader reads: depth below the top of a side, or depth of water.
    extra: Vec<[f32; 2]>,
    stuff: Vec<[f32; 2]>,
}

impl Batch {
    pub fn corner(&mut self, at: Vec3, normal: Vec3, extra: [f32; 2], stuff: Stuff) {
        let corners = &mut self.classes[stuff.class().index()];
        corners.positions.push(at);
        corners.normals.push(normal);
        corners.extra.push(extra);
        corners.stuff.push([stuff.code(), 0.0]);
    }

    /// A flat triangle, counter-clockwise seen from outside.
    pub fn triangle(&mut self, at: [Vec3; 3], extra: [[f32; 2]; 3], stuff: Stuff) {
        let normal = (at[1] - at[0]).cross(at[2] - at[0]);
        if normal.length_squared() < 1e-16 {
            return;
        }
        let normal = normal.normalize();
        for k in 0..3 {
            self.corner(at[k], normal, extra[k], stuff);
        }
    }

    /// A flat four-sided face, counter-clockwise seen from outside.
    pub fn quad(&mut self, at: [Vec3; 4], extra: [[f32; 2]; 4], stuff: Stuff) {
        self.triangle([at[0], at[1], at[2]], [extra[0], extra[1], extra[2]], stuff);
        self.triangle([at[0], at[2], at[3]], [extra[0], extra[2], extra[3]], stuff);
    }

    /// An upright body over a counter-clockwise footprint (plan), between two elevations.
    pub fn prism(
        &mut self,
        frame: &Frame,
        footprint: &[[f64; 2]],
        low: f64,
        high: f64,
        side: Stuff,
        top: Option<Stuff>,
    ) {
        let n = footprint.len();
        let at = |p: [f64; 2], z: f64| frame.scene([p[0], p[1], z]);
        let tall = (high - low) as f32;
        for i in 0..n {
            let (a, b) = (footprint[i], footprint[(i + 1) % n]);
            self.quad(
                [at(a, low), at(b, low), at(b, high), at(a, high)],
                [[0.0, tall], [0.0, tall], [0.0, 0.0], [0.0, 0.0]],
                side,
            );
        }
        if let Some(top) = top {
            for t in ears(footprint) {
                self.triangle(t.map(|i| at(footprint[i], high)), [[0.0; 2]; 3], top);
            }
        }
    }

    /// Takes in the triangles of another.
    pub fn append(&mut self, other: Batch) {
        for (mine, more) in self.classes.iter_mut().zip(other.classes) {
            mine.positions.extend(more.positions);
            mine.normals.extend(more.normals);
            mine.extra.extend(more.extra);
            mine.stuff.extend(more.stuff);
        }
    }

    /// The meshes that have anything in them.
    pub fn into_meshes(self) -> impl Iterator<Item = (Class, Mesh)> {
        Class::ALL
            .into_iter()
            .zip(self.classes)
            .filter(|(_, corners)| !corners.positions.is_empty())
            .map(|(class, corners)| (class, corners.into_mesh()))
    }
}

impl Corners {
    fn into_mesh(self) -> Mesh {
        let count = self.positions.len() as u32;
        Mesh::new(
            PrimitiveTopology::TriangleList,
            // Handed over to the card: nobody asks for the corners again.
            RenderAssetUsages::RENDER_WORLD,
        )
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, self.positions)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, self.normals)
        .with_inserted_attribute(Mesh::ATTRIBUTE_UV_0, self.extra)
        .with_inserted_attribute(Mesh::ATTRIBUTE_UV_1, self.stuff)
        .with_inserted_indices(Indices::U32((0..count).collect()))
    }
}

/// A simple ring cut into triangles by clipping ears; counter-clockwise in, counter-clockwise out.
/// A ring that is not simple gives fewer triangles, never an endless loop.
pub fn ears(ring: &[[f64; 2]]) -> Vec<[usize; 3]> {
    let turn = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    let mut left: Vec<usize> = (0..ring.len()).collect();
    let mut out = Vec::new();
    while left.len() >= 3 {
        let n = left.len();
        let ear = (0..n).find(|&k| {
            let [i, j, l] = [left[(k + n - 1) % n], left[k], left[(k + 1) % n]];
            let [a, b, c] = [ring[i], ring[j], ring[l]];
            turn(a, b, c) > 0.0
                && !left.iter().any(|&p| {
                    let q = ring[p];
                    p != i
                        && p != j
                        && p != l
                        && turn(a, b, q) > 0.0
                        && turn(b, c, q) > 0.0
                        && turn(c, a, q) > 0.0
                })
        });
        match ear {
            Some(k) => {
                out.push([left[(k + n - 1) % n], left[k], left[(k + 1) % n]]);
                left.remove(k);
            }
            // Only straight or crossed corners remain.
            None => break,
        }
    }
    out
}

/// The ring in counter-clockwise order.
pub fn counter_clockwise(ring: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let n = ring.len();
    let area: f64 = (0..n)
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % n]);
            a[0] * b[1] - a[1] * b[0]
        })
        .sum();
    let mut ring = ring.to_vec();
    if area < 0.0 {
        ring.reverse();
    }
    ring
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ears_cover_an_l_shape() {
        let ring = [
            [0.0, 0.0],
            [4.0, 0.0],
            [4.0, 1.0],
            [1.0, 1.0],
            [1.0, 3.0],
            [0.0, 3.0],
        ];
        let area: f64 = ears(&ring)
            .iter()
            .map(|t| {
                let [a, b, c] = t.map(|i| ring[i]);
                0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
            })
            .sum();
        assert!((area - 6.0).abs() < 1e-12, "area {area}, by hand 6");
    }

    #[test]
    fn grid_sized_coordinates_survive_the_step_to_f32() {
        let frame = Frame {
            centre: [500_000.0, 4_000_000.0, 100.0],
            reach: 10.0,
            base: 98.0,
        };
        let at = frame.scene([500_001.125, 4_000_002.25, 100.0625]);
        assert_eq!(at, Vec3::new(1.125, 0.0625, -2.25));
    }
}
