//! Bare ground when all is done: what topsoil is put back on. m², m³.

use crate::job::Job;
use crate::plan::{Kind, Plan};

/// Topsoil wanted on bare ground, as it lies settled.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Wanted {
    pub area_m2: f64,
    pub settled_m3: f64,
}

/// Plan area of what the works leave as bare soil: berms, banks, backfill, slopes of pads, and
/// refilled trenches and ramps that stay. Water, lining, walls and paving are not bare.
pub fn wanted(job: &Job, plan: &Plan) -> Wanted {
    let depth = job.soil.put_back;
    if depth <= 0.0 {
        return Wanted::default();
    }
    let surface = &plan.finished;
    let mut area = 0.0;
    for (t, &maker) in surface.made_by.iter().enumerate() {
        let Some(by) = plan.makers.get(usize::from(maker)) else {
            continue;
        };
        let bare = match by.kind {
            Kind::Berm | Kind::Surround | Kind::Backfill | Kind::Trench | Kind::Ramp => true,
            Kind::Basin => by.part == "bank",
            Kind::Pad => {
                let paved = job.design.pads.iter().find(|p| p.name == by.name);
                by.part == "side" || paved.is_none_or(|p| p.build_up <= 0.0)
            }
            _ => false,
        };
        if bare {
            let [a, b, c] = surface.corners(t);
            area += 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
        }
    }
    Wanted {
        area_m2: area,
        settled_m3: area * depth,
    }
}
