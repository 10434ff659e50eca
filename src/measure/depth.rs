//! How deep is dug and how high is placed between two surfaces, cell by cell, for a shaded map.
//! Metres; dug is negative, placed positive.

use crate::terrain::Surface;
use crate::terrain::overlay::{CutFill, Overlay};
use crate::terrain::predicates::P2;

/// Triangles in plan with the change of ground at their corners.
#[derive(Debug, Clone, Default)]
pub struct Depths {
    pub triangles: Vec<[(P2, f64); 3]>,
    /// For each the triangle of the ground before that it lies over.
    pub over: Vec<u32>,
    /// Deepest dig and highest place, both positive or zero.
    pub dig: f64,
    pub place: f64,
}

/// From `before` to `after`, over their common plan.
pub fn depths(before: &Surface, after: &Surface) -> Depths {
    depths_and_volumes(before, after).0
}

/// The same with the volumes between them: what `after` lies over `before` is the cut.
pub fn depths_and_volumes(before: &Surface, after: &Surface) -> (Depths, CutFill) {
    type Bits = Vec<([(P2, f64); 3], u32)>;
    let overlay = Overlay::new(after, before);
    let origin = overlay.origin;
    let (bits, volumes) = overlay.fold(
        <(Bits, CutFill)>::default,
        |(list, volumes), cell| {
            volumes.add(cell);
            let corner = |k: usize| {
                let p = cell.polygon[k];
                ([p[0] + origin[0], p[1] + origin[1]], cell.over[k])
            };
            for k in 1..cell.polygon.len().saturating_sub(1) {
                list.push(([corner(0), corner(k), corner(k + 1)], cell.second));
            }
        },
        |(mut list, volumes), (more, its)| {
            list.extend(more);
            (list, volumes.and(its))
        },
    );
    let (mut triangles, over): (Vec<_>, Vec<_>) = bits.into_iter().unzip();
    // Less than half a millimetre is arithmetic, not digging.
    for (_, change) in triangles.iter_mut().flatten() {
        if change.abs() < 5e-4 {
            *change = 0.0;
        }
    }
    let (mut dig, mut place) = (0.0f64, 0.0f64);
    for (_, change) in triangles.iter().flatten() {
        dig = dig.max(-change);
        place = place.max(*change);
    }
    let depths = Depths {
        triangles,
        over,
        dig,
        place,
    };
    (depths, volumes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tilted(at: impl Fn(f64) -> f64) -> Surface {
        Surface {
            points: [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]]
                .map(|[x, y]| [x, y, at(x)])
                .to_vec(),
            triangles: vec![[0, 1, 2], [0, 2, 3]],
            made_by: vec![0, 0],
        }
    }

    #[test]
    fn a_tilt_digs_on_one_side_and_places_on_the_other() {
        let d = depths(&tilted(|_| 10.0), &tilted(|x| 9.0 + x * 0.75));
        assert!((d.dig - 1.0).abs() < 1e-9 && (d.place - 2.0).abs() < 1e-9);
        for ((p, change), (q, _)) in d.triangles.iter().map(|t| (t[0], t[1])) {
            assert!((change - (p[0] * 0.75 - 1.0)).abs() < 1e-9, "{p:?} {q:?}");
        }
        // The prism's volume from the triangles: 4 × ∫(0.75x − 1) dx over 0..4 = 8.
        let volume: f64 = d
            .triangles
            .iter()
            .map(|[(a, za), (b, zb), (c, zc)]| {
                let area2 = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
                area2 / 2.0 * (za + zb + zc) / 3.0
            })
            .sum();
        assert!((volume - 8.0).abs() < 1e-9, "{volume}, by hand 8");
    }
}
