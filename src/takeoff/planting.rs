//! Mulch over banks and berms, paving on pads: by area along the finished surface. m², m³.

use super::layers::weighed;
use super::lines::Say;
use crate::job::Job;
use crate::plan::{Item, Kind, Of, Plan, Takeoff, Trade};
use crate::terrain::Surface;

/// Area along the surface that a feature's parts made, m².
fn area(surface: &Surface, plan: &Plan, name: &str, kind: Kind, part: Option<&str>) -> f64 {
    (0..surface.triangles.len())
        .filter(|&t| {
            let maker = surface.made_by.get(t).copied().unwrap_or(0) as usize;
            plan.makers.get(maker).is_some_and(|m| {
                m.kind == kind && m.name == name && part.is_none_or(|p| m.part == p)
            })
        })
        .map(|t| {
            let [p, q, r] = surface.corners(t).map(nalgebra::Vector3::from);
            0.5 * (q - p).cross(&(r - p)).norm()
        })
        .sum()
}

pub fn of(job: &Job, plan: &Plan, out: &mut Takeoff) {
    let say = Say(job.unit);
    let m = &job.materials;
    let d = &job.design;
    let beds = d
        .walls
        .iter()
        .map(|w| {
            (
                w.name.as_str(),
                Kind::Backfill,
                "top and slope of its backfill",
            )
        })
        .chain(
            d.berms
                .iter()
                .map(|b| (b.name.as_str(), Kind::Berm, "top and slopes")),
        )
        .chain(d.cascades.iter().map(|c| {
            (
                c.name.as_str(),
                Kind::Surround,
                "top and slopes of its surround",
            )
        }));
    for (name, kind, what) in beds {
        let bed = area(&plan.finished, plan, name, kind, None);
        if m.planting.mulch <= 0.0 || bed < 0.01 {
            continue;
        }
        out.items.push(
            Item::new(
                Trade::Planting,
                format!("mulch, {}", say.size(m.planting.mulch)),
                name,
            )
            .net(Of::Volume, bed * m.planting.mulch, m.waste.mulch)
            .by_lot(m.planting.lot)
            .how(format!(
                "{what}, {} along the finished surface, by {} deep",
                say.area(bed),
                say.size(m.planting.mulch)
            )),
        );
    }
    for pad in d.pads.iter().filter(|p| p.build_up > 0.0) {
        let top = area(&plan.finished, plan, &pad.name, Kind::Pad, Some("top"));
        if top < 0.01 {
            continue;
        }
        let paver = m.planting.paver.min(pad.build_up);
        out.items.push(
            Item::new(
                Trade::Paving,
                format!("paving, {}", say.size(paver)),
                &pad.name,
            )
            .net(Of::Area, top, m.waste.paving)
            .by_lot(match job.unit {
                crate::job::Unit::Foot => crate::units::FOOT * crate::units::FOOT,
                crate::job::Unit::Metre => 0.5,
            })
            .how(format!("area of its top {}", say.area(top))),
        );
        let bed = top * (pad.build_up - paver);
        if bed > 0.0 {
            out.items.push(weighed(
                Item::new(Trade::Paving, "bed under paving, compacted", &pad.name),
                bed,
                &format!(
                    "{} of top by its build-up of {} less {} of paving: {}",
                    say.area(top),
                    say.size(pad.build_up),
                    say.size(paver),
                    say.volume(bed)
                ),
                job,
            ));
        }
    }
}
