//! The differences between the ground as shot and the design, cell by cell, so that edges of the
//! design show as edges. Metres.

use rustc_hash::FxHashMap;

use super::allowed;
use crate::job::Tolerances;
use crate::measure::Depths;
use crate::plan::{DifferenceMap, MadeBy};
use crate::terrain::{Plane, Surface};

pub fn of(
    design: &Surface,
    depths: &Depths,
    makers: &[MadeBy],
    tolerances: &Tolerances,
) -> DifferenceMap {
    let mut out = DifferenceMap::default();
    let mut index: FxHashMap<[u64; 4], u32> =
        FxHashMap::with_capacity_and_hasher(depths.triangles.len(), Default::default());
    for (corners, &under) in depths.triangles.iter().zip(&depths.over) {
        let under = under as usize;
        let [a, b, c] = design.corners(under);
        let longer = Plane::through(a, b, c).slope().hypot(1.0);
        let by = design
            .made_by
            .get(under)
            .and_then(|m| makers.get(usize::from(*m)));
        let triangle = corners.map(|([x, y], over)| {
            let square = over / longer;
            let key = [x, y, over, square].map(f64::to_bits);
            *index.entry(key).or_insert_with(|| {
                out.points.push([x, y, over]);
                out.square.push(square);
                (out.points.len() - 1) as u32
            })
        });
        out.triangles.push(triangle);
        out.allowed.push(allowed(by, tolerances));
    }
    out
}
