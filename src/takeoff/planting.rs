//! Mulch over banks and berms, paving on pads: by area along the finished surface. m², m³.

use super::layers::weighed;
use super::lines::Say;
use crate::job::{Job, Pad};
use crate::plan::{Item, Kind, Of, Plan, Takeoff, Trade};
use crate::terrain::Surface;
use crate::terrain::predicates::ring_area2;

/// Area along the surface that a feature's parts made, m².
fn area(surface: &Surface, plan: &Plan, name: &str, kind: Kind) -> f64 {
    (0..surface.triangles.len())
        .filter(|&t| {
            let maker = surface.made_by.get(t).copied().unwrap_or(0) as usize;
            plan.makers
                .get(maker)
                .is_some_and(|m| m.kind == kind && m.name == name)
        })
        .map(|t| {
            let [p, q, r] = surface.corners(t).map(nalgebra::Vector3::from);
            0.5 * (q - p).cross(&(r - p)).norm()
        })
        .sum()
}

/// Area of a pad's top along its fall, m²: of its outline, also where the ground lies at that level
/// already.
fn top(job: &Job, plan: &Plan, pad: &Pad) -> Option<f64> {
    let ring = plan.survey.line(&pad.outline, &job.field_book).ok()?;
    let fall = pad.fall.as_ref().map_or(0.0, |f| f.0 / 100.0);
    Some(0.5 * ring_area2(&ring).abs() * fall.hypot(1.0))
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
                "top and slope of the backfill",
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
                "top and slopes of the berm",
            )
        }));
    // Delivered once, so it is one line.
    let beds: Vec<(&str, &str, f64)> = beds
        .map(|(name, kind, what)| (name, what, area(&plan.finished, plan, name, kind)))
        .filter(|bed| bed.2 >= 0.01)
        .collect();
    let whole: f64 = beds.iter().map(|b| b.2).sum();
    if m.planting.mulch > 0.0 && whole > 0.0 {
        let names: Vec<&str> = beds.iter().map(|b| b.0).collect();
        let told: Vec<String> = beds
            .iter()
            .map(|(name, what, bed)| format!("{name}, {what}: {}", say.area(*bed)))
            .collect();
        out.items.push(
            Item::new(
                Trade::Planting,
                format!("mulch, {}", say.size(m.planting.mulch)),
                names.join(", "),
            )
            .net(Of::Volume, whole * m.planting.mulch, m.waste.mulch)
            .by_lot(m.planting.lot)
            .how(format!(
                "area along the finished surface by {} deep: {}",
                say.size(m.planting.mulch),
                told.join("; ")
            )),
        );
    }
    for pad in d.pads.iter().filter(|p| p.build_up > 0.0) {
        let Some(top) = top(job, plan, pad) else {
            continue;
        };
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
