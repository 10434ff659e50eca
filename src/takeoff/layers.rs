//! Stone, gravel and sand in the lining: each layer is the volume between two dug surfaces, one with
//! room for it and one without. For both the whole design is laid out, so it is exact, corners and all;
//! the layers of a lining add up to what lies between dug and finished. Volumes in m³, weights in kg.

use rayon::prelude::*;

use super::lines::Say;
use crate::job::{Job, Layer, LayerOn, Stuff};
use crate::plan::{Item, Of, Plan, Takeoff, Trade};
use crate::planning;

/// Fill less cut between the surfaces existing and dug, m³.
fn net(plan: &Plan) -> f64 {
    plan.volumes.existing_to_dug_fill_m3 - plan.volumes.existing_to_dug_cut_m3
}

/// The volumes of the layers of stone, by their numbers in the linings: for each basin and each cascade.
pub struct Stones {
    basins: Vec<Vec<(usize, f64)>>,
    cascades: Vec<Vec<(usize, f64)>>,
}

impl Stones {
    pub fn of(job: &Job, plan: &Plan) -> Self {
        let design = &job.design;
        let (basins, cascades) = rayon::join(
            || {
                let basins = (0..design.basins.len()).into_par_iter();
                basins.map(|k| in_basin(job, plan, k)).collect()
            },
            || {
                let cascades = (0..design.cascades.len()).into_par_iter();
                cascades.map(|k| in_cascade(job, plan, k)).collect()
            },
        );
        Stones { basins, cascades }
    }

    /// All the stone in the lining of a basin; `None`: there is no such basin.
    pub fn in_basin(&self, job: &Job, basin: &str) -> Option<f64> {
        let k = job.design.basins.iter().position(|b| b.name == basin)?;
        Some(all(&self.basins[k]))
    }
}

fn all(layers: &[(usize, f64)]) -> f64 {
    layers.iter().map(|v| v.1.max(0.0)).sum()
}

fn in_basin(job: &Job, plan: &Plan, k: usize) -> Vec<(usize, f64)> {
    let basin = &job.design.basins[k];
    volumes(job, plan, &basin.name, &basin.lining, |job, lining| {
        job.design.basins[k].lining = lining;
    })
}

fn in_cascade(job: &Job, plan: &Plan, k: usize) -> Vec<(usize, f64)> {
    let cascade = &job.design.cascades[k];
    volumes(job, plan, &cascade.name, &cascade.lining, |job, lining| {
        job.design.cascades[k].lining = lining;
    })
}

pub fn of(job: &Job, stones: &Stones, out: &mut Takeoff) {
    for (basin, volumes) in job.design.basins.iter().zip(&stones.basins) {
        layers(job, &basin.name, &basin.lining, volumes, out);
    }
    for (cascade, volumes) in job.design.cascades.iter().zip(&stones.cascades) {
        layers(job, &cascade.name, &cascade.lining, volumes, out);
    }
}

fn layers(job: &Job, name: &str, lining: &[Layer], volumes: &[(usize, f64)], out: &mut Takeoff) {
    let say = Say(job.unit);
    for &(k, volume) in volumes {
        let layer = &lining[k];
        if volume <= 1e-6 {
            out.notes
                .push(format!("{name}: no room is left for its {}.", layer.name));
            continue;
        }
        let on = match layer.on {
            LayerOn::All => "floor, shelves and sides",
            LayerOn::Level => "floor and shelves",
            LayerOn::Floor => "the floor",
        };
        out.items.push(weighed(
            Item::new(
                Trade::Stone,
                format!("{}, {}", layer.name, say.size(layer.thickness)),
                name,
            ),
            volume,
            &format!(
                "volume between the surfaces under and over it on {on}: {}",
                say.volume(volume)
            ),
            job,
        ));
    }
}

/// The volume of each layer of stone, by its number in the lining.
fn volumes(
    job: &Job,
    plan: &Plan,
    name: &str,
    lining: &[Layer],
    put: impl Fn(&mut Job, Vec<Layer>),
) -> Vec<(usize, f64)> {
    let is_stone = |l: &Layer| job.materials.stuff(&l.name) == Stuff::Stone && l.thickness > 0.0;
    let stone: Vec<usize> = (0..lining.len())
        .filter(|&k| is_stone(&lining[k]))
        .collect();
    // With only the layers from the k-th on still to be laid.
    let laid: Vec<usize> = (1..=lining.len())
        .filter(|k| stone.contains(k) || stone.contains(&(k - 1)))
        .collect();
    let jobs: Vec<Job> = laid
        .iter()
        .map(|&k| {
            let mut job = job.clone();
            put(&mut job, lining[k..].to_vec());
            job
        })
        .collect();
    let mut room = vec![0.0; lining.len() + 1];
    room[0] = net(plan);
    for (k, moved) in laid.into_iter().zip(planning::moved(&jobs, name, plan)) {
        room[k] = moved;
    }
    stone
        .into_iter()
        .map(|k| (k, room[k + 1] - room[k]))
        .collect()
}

/// All the stone in the lining of a basin, measured as for the takeoff; `None`: there is no such
/// basin.
pub fn stone_in(job: &Job, plan: &Plan, basin: &str) -> Option<f64> {
    let k = job.design.basins.iter().position(|b| b.name == basin)?;
    Some(all(&in_basin(job, plan, k)))
}

/// A line for stone by volume, ordered by weight.
pub fn weighed(item: Item, volume: f64, how: &str, job: &Job) -> Item {
    let m = &job.materials;
    let say = Say(job.unit);
    item.net(Of::Volume, volume, m.waste.stone)
        .by_other(Of::Weight, m.stone.least, m.stone.most, m.stone.lot)
        .how(format!(
            "{how}; {} to {} as it lies",
            say.density(m.stone.least),
            say.density(m.stone.most)
        ))
}
