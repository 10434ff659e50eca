//! Surface onto surface: dig to, place to, grade to.

use crate::terrain::convex::{Polygon, area2};
use crate::terrain::{Plane, Surface};

use super::{Act, Facet, Mosaic, Moved, assemble};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// The lower of the two.
    DigTo,
    /// The higher of the two.
    PlaceTo,
    /// The template, wherever there is one.
    GradeTo,
}

/// The ground worked to `template` where both have plan in common, and the soil moved (as bank cut
/// and fill between the two surfaces; exact).
///
/// ```
/// use brimline::earthwork::compose::{How, compose};
/// use brimline::terrain::Surface;
///
/// let square = |size: f64, z: f64| Surface {
///     points: vec![[0.0, 0.0, z], [size, 0.0, z], [size, size, z], [0.0, size, z]],
///     triangles: vec![[0, 1, 2], [0, 2, 3]],
///     made_by: vec![0, 0],
/// };
/// let (dug, moved) = compose(&square(4.0, 10.0), &square(2.0, 9.0), How::DigTo);
/// assert!((moved.cut_bank - 4.0).abs() < 1e-12);
/// assert!((dug.plan_area() - 16.0).abs() < 1e-12);
/// ```
pub fn compose(ground: &Surface, template: &Surface, how: How) -> (Surface, Moved) {
    let mut mosaic = Mosaic::new(ground.clone());
    mosaic.begin(false);
    let acts: &[Act] = match how {
        How::DigTo => &[Act::Dig],
        How::PlaceTo => &[Act::Place],
        How::GradeTo => &[Act::Dig, Act::Place],
    };
    for &act in acts {
        for t in 0..template.triangles.len() {
            let [a, b, c] = template.corners(t);
            let outline = Polygon::from_slice(&[[a[0], a[1]], [b[0], b[1]], [c[0], c[1]]]);
            if area2(&outline) <= 0.0 {
                continue;
            }
            let maker = template
                .made_by
                .get(t)
                .copied()
                .unwrap_or(crate::terrain::GROUND);
            mosaic.apply(
                act,
                &Facet {
                    outline,
                    plane: Plane::through(a, b, c),
                    maker,
                    base: None,
                },
            );
        }
    }
    let moved = mosaic.finish(0.0, false);
    (assemble(&mosaic).surface, moved)
}
