//! Boulders along the water's edge: counted by the edge's length. Metres, kg.

use super::lines::Say;
use crate::job::Job;
use crate::plan::{Item, Of, Order, Plan, Takeoff, Trade, Water};

/// Solid rock, kg/m³: common practice, no source.
const ROCK: [f64; 2] = [2400.0, 2800.0];

fn edge(water: &Water) -> f64 {
    water
        .edge
        .iter()
        .flat_map(|ring| ring.iter().zip(ring.iter().cycle().skip(1)))
        .map(|(a, b)| (b[0] - a[0]).hypot(b[1] - a[1]))
        .sum()
}

pub fn boulders(job: &Job, plan: &Plan, out: &mut Takeoff) {
    let size = job.materials.stone.boulder;
    if size <= 0.0 {
        return;
    }
    let of = |name: &str| plan.water.iter().find(|w| w.name == name && w.held);
    for basin in &job.design.basins {
        if let Some(water) = of(&basin.name) {
            out.items.push(line(
                job,
                &basin.name,
                edge(water),
                "its water's edge",
                size,
            ));
        }
    }
    for cascade in &job.design.cascades {
        let pools: Vec<(&Water, f64)> = cascade
            .pools
            .iter()
            .filter_map(|p| Some((of(&p.name)?, p.lip_width)))
            .collect();
        let length: f64 = pools.iter().map(|(w, lip)| (edge(w) - lip).max(0.0)).sum();
        if length > 0.0 {
            let how = "the water's edge of its pools less their lips,";
            out.items.push(line(job, &cascade.name, length, how, size));
        }
    }
}

fn line(job: &Job, place: &str, length: f64, what: &str, size: f64) -> Item {
    let say = Say(job.unit);
    let waste = job.materials.waste.boulders;
    let count = (length / size - 1e-6).ceil();
    let item = Item::new(Trade::Stone, format!("boulders, {}", say.size(size)), place).net(
        Of::Pieces,
        count,
        waste,
    );
    let pieces = item.gross.map_or(count, |g| (g.value - 1e-6).ceil());
    let each = std::f64::consts::PI / 6.0 * size.powi(3);
    let weight = ROCK.map(|density| pieces * each * density);
    let tons = |kg: f64| match job.unit {
        crate::job::Unit::Foot => format!("{:.1} ton", kg / crate::units::POUND / 2000.0),
        crate::job::Unit::Metre => format!("{:.1} t", kg / 1000.0),
    };
    let mut item = item.how(format!(
        "{what} {} long, one boulder for each {}; as balls of that size of solid rock they weigh \
         about {} to {} together",
        say.length(length),
        say.size(size),
        tons(weight[0]),
        tons(weight[1])
    ));
    item.order = Some(Order {
        of: Of::Pieces,
        least: pieces,
        most: pieces,
        lot: 1.0,
    });
    item
}
