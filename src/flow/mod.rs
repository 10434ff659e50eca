//! What the water does, from the finished plan: spills and their ways, storage, lips, pump, overflow
//! pipes. SI units.

mod basins;
mod brims;
mod cascade;
mod catchment;
pub mod formulas;
mod overflow;
mod pump;
mod spill;
mod storage;

use crate::findings::Finding;
use crate::job::Job;
use crate::plan::{Closer, MarkKind, OverflowPipe, Plan, Storage, Water, WaterFlow};
use crate::takeoff;
use crate::terrain::predicates::P2;
use crate::water::{Links, Terrain};
use crate::{drawn, units};

pub(crate) use brims::brims;
pub use overflow::set_out;
pub use storage::DepthCurve;

/// What was learned of the finished surface when its still waters were found.
pub struct Walked {
    pub links: Links,
    /// For each water of the plan a triangle that it stands over.
    pub starts: Vec<u32>,
}

/// What every part needs.
pub(crate) struct Scene<'a> {
    pub job: &'a Job,
    pub plan: &'a Plan,
    pub terrain: &'a Terrain<'a>,
    /// Known waters, each with a triangle that it stands over.
    pub waters: Vec<(&'a Water, u32)>,
    /// For each triangle the number of the water it lies under, from 1; 0 is none.
    pub under: Vec<u16>,
}

impl Scene<'_> {
    pub fn length(&self, metres: f64) -> String {
        units::format_length(metres, self.job.unit)
    }

    /// The water that ground of this triangle at this elevation lies under.
    pub fn under(&self, triangle: u32, z: f64) -> Option<&Water> {
        let k = self.under.get(triangle as usize).copied().unwrap_or(0);
        let (w, _) = self.waters.get(usize::from(k).checked_sub(1)?)?;
        (z < w.level_m - 1e-6).then_some(*w)
    }

    pub fn water(&self, name: &str) -> Option<(&Water, u32)> {
        self.waters
            .iter()
            .find(|(w, _)| w.name == name)
            .map(|&(w, t)| (w, t))
    }
}

/// Everything of the water that a plan has room for, and what is to be said about it.
pub fn of(job: &Job, plan: &Plan) -> (WaterFlow, Vec<Finding>) {
    after(job, plan, None)
}

/// The same; `walked` spares looking over the surface once more.
pub fn after(job: &Job, plan: &Plan, walked: Option<Walked>) -> (WaterFlow, Vec<Finding>) {
    with_scene(job, plan, walked, |scene| {
        let ((spills, overflows, of_spills, of_overflows), (storage, cascades, pumps, falls)) =
            rayon::join(
                || {
                    let (mut of_spills, mut of_overflows) = (Vec::new(), Vec::new());
                    let spills = spill::of(scene, &mut of_spills);
                    let overflows = overflow::of(scene, &mut of_overflows);
                    (spills, overflows, of_spills, of_overflows)
                },
                || {
                    let mut falls = Vec::new();
                    let (storage, curves) = basins::of(scene);
                    let (cascades, pumps) = cascade::of(scene, &curves, &mut falls);
                    (storage, cascades, pumps, falls)
                },
            );
        let findings = [of_spills, falls, of_overflows].concat();
        let flow = WaterFlow {
            spills,
            storage,
            cascades,
            pumps,
            overflows,
        };
        (flow, findings)
    })
}

pub fn closer(job: &Job, plan: &Plan) -> Closer {
    let (sized, (stones, brims)) = rayon::join(
        || sized(job, plan),
        || {
            rayon::join(
                || takeoff::Stones::of_basins(job, plan),
                || brims(job, plan),
            )
        },
    );
    let storage = stored(plan, |water| stones.in_basin(job, water));
    let (overflows, findings) = sized;
    Closer {
        storage,
        brims,
        overflows,
        findings,
    }
}

/// What overflow pipes must carry in the rain.
pub(crate) fn sized(job: &Job, plan: &Plan) -> (Vec<OverflowPipe>, Vec<Finding>) {
    let mut overflows = plan.flow.overflows.clone();
    let findings = if overflows.is_empty() {
        Vec::new()
    } else {
        with_scene(job, plan, None, |scene| {
            overflow::size(scene, &mut overflows)
        })
    };
    (overflows, findings)
}

/// What basins hold, with their stone as measured; `stone_in` tells it, where it is known.
pub(crate) fn stored(plan: &Plan, stone_in: impl Fn(&str) -> Option<f64>) -> Vec<Storage> {
    let stores = plan.flow.storage.iter().cloned();
    stores
        .map(|mut s| {
            s.stone_m3 = stone_in(&s.water).unwrap_or(s.stone_m3);
            s
        })
        .collect()
}

fn with_scene<T>(
    job: &Job,
    plan: &Plan,
    walked: Option<Walked>,
    mut then: impl FnMut(&Scene) -> T,
) -> T {
    let closed = closed(plan);
    let (surface, places) = (&plan.finished, &plan.finished_places);
    let (terrain, at) = match walked {
        Some(Walked { links, starts }) => {
            let origin = drawn::origin(&plan.survey);
            let terrain = Terrain::again(surface, places, &closed, links, origin);
            (terrain, starts.into_iter().map(Some).collect())
        }
        None => {
            let terrain = Terrain::near_works(surface, places, &closed);
            let at = starts(plan, &terrain);
            (terrain, at)
        }
    };
    let made = then(&scene(job, plan, &terrain, at));
    if terrain.strayed() {
        let whole = Terrain::on(surface, places, &closed, None);
        let found = starts(plan, &whole);
        return then(&scene(job, plan, &whole, found));
    }
    made
}

/// For each water a triangle that it stands over; `None` for one that cannot be found.
fn starts(plan: &Plan, terrain: &Terrain) -> Vec<Option<u32>> {
    let area = |t: &[P2; 3]| {
        let [a, b, c] = *t;
        ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])).abs()
    };
    let start = |w: &Water| {
        let widest = w.sheet.iter().max_by(|a, b| area(a).total_cmp(&area(b)))?;
        let middle = [0, 1].map(|k| (widest[0][k] + widest[1][k] + widest[2][k]) / 3.0);
        terrain.find(middle)
    };
    plan.water.iter().map(start).collect()
}

fn scene<'a>(
    job: &'a Job,
    plan: &'a Plan,
    terrain: &'a Terrain<'a>,
    starts: Vec<Option<u32>>,
) -> Scene<'a> {
    let waters = plan.water.iter().zip(starts);
    let waters: Vec<_> = waters.filter_map(|(w, start)| Some((w, start?))).collect();
    let mut under = vec![0u16; plan.finished.triangles.len()];
    for (k, (w, seed)) in waters.iter().enumerate().filter(|(_, (w, _))| w.held) {
        for &t in terrain.wet(*seed, w.level_m).iter() {
            under[t as usize] = k as u16 + 1;
        }
    }
    Scene {
        job,
        plan,
        terrain,
        waters,
        under,
    }
}

/// Footprints that hold water like a wall.
fn closed(plan: &Plan) -> Vec<Vec<P2>> {
    plan.marks
        .iter()
        .filter(|m| m.kind == MarkKind::House)
        .map(|m| m.line.clone())
        .collect()
}
