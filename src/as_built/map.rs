//! The differences between the ground as shot and the design, cell by cell, so that edges of the
//! design show as edges. Metres.

use rustc_hash::FxHashMap;

use super::allowed;
use crate::job::Tolerances;
use crate::plan::{DifferenceMap, MadeBy};
use crate::terrain::overlay::Overlay;
use crate::terrain::predicates::P2;
use crate::terrain::{Plane, Surface};

/// Less than half a millimetre is arithmetic, not digging.
const NOTHING: f64 = 5e-4;

/// A triangle in plan: its corners with how far each stands over the design, and the design's triangle
/// under it.
type Bit = ([(P2, f64); 3], u32);

pub fn of(
    design: &Surface,
    built: &Surface,
    makers: &[MadeBy],
    tolerances: &Tolerances,
) -> DifferenceMap {
    let overlay = Overlay::new(built, design);
    let origin = overlay.origin;
    let bits = overlay.fold(
        Vec::new,
        |list: &mut Vec<Bit>, cell| {
            let corner = |k: usize| {
                let p = cell.polygon[k];
                let off = cell.over[k];
                let off = if off.abs() < NOTHING { 0.0 } else { off };
                ([p[0] + origin[0], p[1] + origin[1]], off)
            };
            for k in 1..cell.polygon.len().saturating_sub(1) {
                list.push(([corner(0), corner(k), corner(k + 1)], cell.second));
            }
        },
        |mut a, b| {
            a.extend(b);
            a
        },
    );
    let mut out = DifferenceMap::default();
    let mut index: FxHashMap<[u64; 4], u32> = FxHashMap::default();
    for (corners, under) in bits {
        let under = under as usize;
        let [a, b, c] = design.corners(under);
        let slope = Plane::through(a, b, c).slope();
        let by = design
            .made_by
            .get(under)
            .and_then(|m| makers.get(usize::from(*m)));
        let triangle = corners.map(|([x, y], over)| {
            let (square, _) = allowed(over, slope, by, tolerances);
            let key = [x, y, over, square].map(f64::to_bits);
            *index.entry(key).or_insert_with(|| {
                out.points.push([x, y, over]);
                out.square.push(square);
                (out.points.len() - 1) as u32
            })
        });
        out.triangles.push(triangle);
        out.allowed.push(allowed(0.0, slope, by, tolerances).1);
    }
    out
}
