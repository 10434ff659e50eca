//! Stone, gravel and sand in the lining: each layer is the volume between two dug surfaces, one with
//! room for it and one without. For both the whole design is laid out, so it is exact, corners and all;
//! the layers of a lining add up to what lies between dug and finished. Volumes in m³, weights in kg.

use super::lines::Say;
use crate::job::{Job, Layer, LayerOn, Stuff};
use crate::plan::{Item, Of, Plan, Takeoff, Trade};
use crate::planning::{self, Variant};

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
        Self::measured(job, plan, true)
    }

    /// Those of the basins alone.
    pub fn of_basins(job: &Job, plan: &Plan) -> Self {
        Self::measured(job, plan, false)
    }

    fn measured(job: &Job, plan: &Plan, with_cascades: bool) -> Self {
        let design = &job.design;
        let basins = design.basins.iter().enumerate().map(|(k, basin)| {
            let with = move |job: &mut Job, lining| job.design.basins[k].lining = lining;
            Asked::of(job, &basin.name, &basin.lining, with)
        });
        let cascades = design.cascades.iter().enumerate().map(|(k, cascade)| {
            let with = move |job: &mut Job, lining| job.design.cascades[k].lining = lining;
            Asked::of(job, &cascade.name, &cascade.lining, with)
        });
        let mut asked: Vec<Asked> = basins.chain(cascades.filter(|_| with_cascades)).collect();
        let laid = asked.iter_mut().flat_map(|a| std::mem::take(&mut a.laid));
        let laid: Vec<Variant> = laid.collect();
        let mut moved = planning::moved(job, &laid, plan).into_iter();
        let mut volumes = asked.iter().map(|a| a.volumes(net(plan), &mut moved));
        Stones {
            basins: volumes.by_ref().take(design.basins.len()).collect(),
            cascades: volumes.collect(),
        }
    }

    /// All the stone in the lining of a basin; `None`: there is no such basin.
    pub fn in_basin(&self, job: &Job, basin: &str) -> Option<f64> {
        let k = job.design.basins.iter().position(|b| b.name == basin)?;
        Some(all(&self.basins[k]))
    }
}

/// What has to be laid out to measure the stone in one lining.
struct Asked<'a> {
    layers: usize,
    /// The layers that are stone, by number.
    stone: Vec<usize>,
    /// So many layers laid already in each of the variants.
    counts: Vec<usize>,
    laid: Vec<Variant<'a>>,
}

impl<'a> Asked<'a> {
    /// `with` gives the job another lining of that work.
    fn of(job: &Job, work: &'a str, lining: &[Layer], with: impl Fn(&mut Job, Vec<Layer>)) -> Self {
        let is_stone =
            |l: &Layer| job.materials.stuff(&l.name) == Stuff::Stone && l.thickness > 0.0;
        let stone: Vec<usize> = (0..lining.len())
            .filter(|&k| is_stone(&lining[k]))
            .collect();
        // With only the layers from the k-th on still to be laid.
        let counts: Vec<usize> = (1..=lining.len())
            .filter(|k| stone.contains(k) || stone.contains(&(k - 1)))
            .collect();
        let variant = |&k: &usize| {
            let mut job = job.clone();
            with(&mut job, lining[k..].to_vec());
            Variant { work, job }
        };
        Asked {
            layers: lining.len(),
            laid: counts.iter().map(variant).collect(),
            stone,
            counts,
        }
    }

    /// The volume of each layer of stone, by its number, from what lies between existing and dug ground with
    /// all layers still to be laid, and in each of the variants.
    fn volumes(&self, net: f64, moved: &mut impl Iterator<Item = f64>) -> Vec<(usize, f64)> {
        let mut room = vec![0.0; self.layers + 1];
        room[0] = net;
        for (&k, moved) in self.counts.iter().zip(moved) {
            room[k] = moved;
        }
        let stone = self.stone.iter();
        stone.map(|&k| (k, room[k + 1] - room[k])).collect()
    }
}

fn all(layers: &[(usize, f64)]) -> f64 {
    layers.iter().map(|v| v.1.max(0.0)).sum()
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
