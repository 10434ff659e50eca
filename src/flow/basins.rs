//! What each water holds: the depth curve, what stands over each part, stone, filling, losses.

use rustc_hash::FxHashMap;

use super::{DepthCurve, Scene};
use crate::job::{Layer, LayerOn, Stuff};
use crate::plan::{CurvePoint, Kind, OverPart, Storage, Water};

/// Rows of the depth curve: as many steps of a round size as come nearest to this.
const ROWS: f64 = 12.0;

pub type Curves = FxHashMap<String, DepthCurve>;

pub fn of(scene: &Scene) -> (Vec<Storage>, Curves) {
    let mut curves = Curves::default();
    let mut list = Vec::new();
    for &(water, seed) in &scene.waters {
        // Water that runs away is stored nowhere.
        if !water.held {
            continue;
        }
        let surface = &scene.plan.finished;
        let wet = scene.terrain.wet(seed, water.level_m);
        let corners = |t: &u32| surface.corners(*t as usize);
        let curve = DepthCurve::new(wet.iter().map(corners), water.level_m);
        let mut parts: Vec<(u16, Vec<u32>)> = Vec::new();
        for &t in wet.iter() {
            let maker = surface.made_by.get(t as usize).copied().unwrap_or(0);
            match parts.iter_mut().find(|(m, _)| *m == maker) {
                Some((_, list)) => list.push(t),
                None => parts.push((maker, vec![t])),
            }
        }
        let mut over: Vec<OverPart> = parts
            .iter()
            .map(|(maker, triangles)| {
                let (volume_m3, area_m2) =
                    DepthCurve::once(triangles.iter().map(corners), water.level_m);
                OverPart {
                    part: part_name(scene, *maker, &water.name),
                    area_m2,
                    volume_m3,
                }
            })
            .filter(|p| p.volume_m3 > 1e-6)
            .collect();
        over.sort_by(|a, b| a.part.cmp(&b.part));
        list.push(Storage {
            water: water.name.clone(),
            level_m: water.level_m,
            area_m2: curve.area(water.level_m),
            volume_m3: curve.volume(water.level_m),
            depth_max_m: water.level_m - curve.bottom,
            curve: rows(&curve, water, scene.job.unit.metres()),
            over,
            stone_m3: stone(scene, water, &parts),
            fill_s: scene
                .job
                .plumbing
                .hose
                .map(|hose| curve.volume(water.level_m) / hose),
            loss_drop_m: scene.job.plumbing.loss.and_then(|loss| {
                let basin = scene.job.design.basins.iter().any(|b| b.name == water.name);
                let left = curve.volume(water.level_m) - loss;
                basin
                    .then(|| curve.level_of(left))?
                    .map(|z| water.level_m - z)
            }),
            rough_m3: 0.4 * water.area_m2 * water.depth_max_m,
        });
        curves.insert(water.name.clone(), curve);
    }
    (list, curves)
}

fn part_name(scene: &Scene, maker: u16, water: &str) -> String {
    match scene.plan.makers.get(maker as usize) {
        Some(by) if by.kind == Kind::Ground => "ground as surveyed".into(),
        Some(by) if by.name == water => by.part.clone(),
        Some(by) => format!("{}: {}", by.name, by.part),
        None => String::new(),
    }
}

fn rows(curve: &DepthCurve, water: &Water, unit: f64) -> Vec<CurvePoint> {
    let depth = water.level_m - curve.bottom;
    let wish = depth / ROWS / unit;
    let step = [0.02, 0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0]
        .into_iter()
        .min_by(|a, b| (a / wish).ln().abs().total_cmp(&(b / wish).ln().abs()))
        .unwrap_or(1.0)
        * unit;
    let mut out = Vec::new();
    let mut k = 0;
    while f64::from(k) * step < depth - 1e-6 {
        out.push(f64::from(k) * step);
        k += 1;
    }
    out.push(depth);
    out.into_iter()
        .map(|below| {
            let z = water.level_m - below;
            CurvePoint {
                below_m: below,
                elevation_m: z,
                area_m2: curve.area(z),
                volume_m3: curve.volume(z),
            }
        })
        .collect()
}

/// Stone between liner and finished surface on the level parts: their area, times its thickness.
fn stone(scene: &Scene, water: &Water, parts: &[(u16, Vec<u32>)]) -> f64 {
    let design = &scene.job.design;
    let lining: &[Layer] = design
        .basins
        .iter()
        .find(|b| b.name == water.name)
        .map(|b| b.lining.as_slice())
        .or_else(|| {
            let own = |c: &&crate::job::Cascade| c.pools.iter().any(|p| p.name == water.name);
            design
                .cascades
                .iter()
                .find(own)
                .map(|c| c.lining.as_slice())
        })
        .unwrap_or_default();
    let surface = &scene.plan.finished;
    parts
        .iter()
        .map(|(maker, triangles)| {
            let part = scene
                .plan
                .makers
                .get(*maker as usize)
                .filter(|m| matches!(m.kind, Kind::Basin | Kind::Pit | Kind::Cascade))
                .map_or("", |m| m.part.as_str());
            let on = |l: &Layer| match l.on {
                LayerOn::Floor => part == "floor",
                LayerOn::Level => part == "floor" || part.starts_with("shelf"),
                LayerOn::All => matches!(part, "floor" | "side") || part.starts_with("shelf"),
            };
            let thick: f64 = lining
                .iter()
                .filter(|l| scene.job.materials.stuff(&l.name) == Stuff::Stone)
                .filter(|l| on(l))
                .map(|l| l.thickness)
                .sum();
            if thick == 0.0 {
                return 0.0;
            }
            let area: f64 = triangles
                .iter()
                .map(|&t| {
                    let [a, b, c] = surface.corners(t as usize).map(nalgebra::Vector3::from);
                    0.5 * (b - a).cross(&(c - a)).norm()
                })
                .sum();
            area * thick
        })
        .sum()
}
