//! The ground that drains into a water: the surface in squares, the way of the water followed from
//! the middle of each. Exact ways, squares of a stated size. Metres.

use rayon::prelude::*;
use rustc_hash::FxHashMap;

use super::Scene;
use crate::plan::Catchment;
use crate::terrain::{Probe, Surface};
use crate::water::{Stop, Terrain};

/// Whether the way drains into the waters from places of a triangle on: ways run together.
type Known = FxHashMap<(u32, [u64; 3]), bool>;

/// About so many squares over the survey.
const SQUARES: f64 = 2500.0;

/// Ground that falls less than this has no way that anyone could tell: 1 in 1000, a rod's reading over
/// ten feet.
const LEVEL: f64 = 0.001;

/// Ground and water that drain into one of the waters `into`, hollows on the way filled.
pub fn of(scene: &Scene, into: &[&str]) -> Option<Catchment> {
    let surface: &Surface = &scene.plan.finished;
    let [low, high] = surface.bounds()?;
    let side = ((high[0] - low[0]) * (high[1] - low[1]) / SQUARES).sqrt();
    if side.is_nan() || side <= 0.0 {
        return None;
    }
    let ours: Vec<bool> = scene
        .waters
        .iter()
        .map(|(w, _)| into.contains(&w.name.as_str()))
        .collect();
    let water_m2 = scene
        .waters
        .iter()
        .zip(&ours)
        // What does not stand there gathers no rain.
        .filter(|((w, _), ours)| **ours && w.held)
        .map(|((w, _), _)| w.area_m2)
        .sum();
    let levels: Vec<f64> = scene.waters.iter().map(|(w, _)| w.level_m).collect();
    let (labels, places) = (&scene.under, &scene.plan.finished_places);
    let under = |t: u32, z: f64| {
        let k = usize::from(labels.get(t as usize).copied().unwrap_or(0)).checked_sub(1)?;
        (z < levels[k] - 1e-6).then_some(k)
    };
    let probe = Probe::new(surface);
    let (nx, ny) = (
        ((high[0] - low[0]) / side).ceil() as usize,
        ((high[1] - low[1]) / side).ceil() as usize,
    );
    let closed = super::closed(scene.plan);
    let terrain = Terrain::on(surface, places, &closed, None);
    let [count, level]: [usize; 2] = (0..ny)
        .into_par_iter()
        // Few long stretches: what was learned in one is of no use in another.
        .with_min_len(ny.div_ceil(2 * rayon::current_num_threads()))
        .map_init(Known::default, |known, j| {
            let mut drains = |i: usize| -> [usize; 2] {
                const NOT: [usize; 2] = [0; 2];
                let p = [
                    low[0] + (i as f64 + 0.5) * side,
                    low[1] + (j as f64 + 0.5) * side,
                ];
                let Some(found) = probe.sound(p) else {
                    return NOT;
                };
                if under(found.triangle, found.elevation).is_some() {
                    return NOT;
                }
                let mut met = None;
                let mut passed = Vec::new();
                let way = terrain.way_until(p, found.triangle, |t, way| {
                    let Some(&[x, y, z]) = way.path.last() else {
                        return false;
                    };
                    // Ways run together at corners. A hollow that is full turns ways that come by later.
                    let corner = || surface.corners(t as usize).contains(&[x, y, z]);
                    if way.hollows.is_empty() && corner() {
                        let place = (t, [x, y, z].map(f64::to_bits));
                        met = known.get(&place).copied();
                        if met.is_some() {
                            return true;
                        }
                        passed.push(place);
                    }
                    under(t, z).is_some()
                });
                let ends = || {
                    let end = way.path.last().map_or(f64::INFINITY, |q| q[2]);
                    way.stop == Stop::Reached && under(way.last, end).is_some_and(|k| ours[k])
                };
                let drains = met.unwrap_or_else(ends);
                known.extend(passed.into_iter().map(|place| (place, drains)));
                [drains, drains && found.slope < LEVEL].map(usize::from)
            };
            (0..nx).map(&mut drains).fold([0; 2], sum)
        })
        .reduce(|| [0; 2], sum);
    Some(Catchment {
        ground_m2: count as f64 * side * side,
        level_m2: level as f64 * side * side,
        water_m2,
        resolution_m: side,
    })
}

fn sum(a: [usize; 2], b: [usize; 2]) -> [usize; 2] {
    [a[0] + b[0], a[1] + b[1]]
}
