//! The ground before any work, with the walls that stand on it. Metres.

use std::sync::Arc;

use crate::design::Yard;
use crate::drawn::Drawn;
use crate::earthwork::Mosaic;
use crate::findings::{Finding, Severity};
use crate::job::{At, Job};
use crate::plan::{Kind, Solid};
use crate::survey::Reduced;
use crate::terrain::ground::{self, Corner, Outline};
use crate::terrain::predicates::{P2, from_line, in_ring, ring_area2, self_crossing};
use crate::terrain::{Plane, Span, Surface};

/// The ground before any work.
pub struct Base {
    pub ground: Arc<Surface>,
    pub walls: Vec<Solid>,
    pub boundary: Vec<[P2; 2]>,
    /// Footprints that hold water like a wall.
    pub closed: Vec<Vec<P2>>,
}

/// Shots so far outside the surveyed outline are told, metres, and as a share of its diagonal: an outline is
/// often drawn a little inside the outermost.
const BEYOND: f64 = 2.0;
const SHARE: f64 = 0.05;

/// Shots on the ground well outside the surveyed outline: perhaps placed on the wrong side of their tie.
fn beyond(drawn: &Drawn, edge: &Outline) -> Option<Finding> {
    let ring = drawn.plan(edge);
    let away = |p: P2| {
        let sides = (0..ring.len()).map(|k| (ring[k], ring[(k + 1) % ring.len()]));
        sides
            .map(|(a, b)| from_line(p, a, b))
            .fold(f64::INFINITY, f64::min)
    };
    let Span { low, high } = Span::of(ring.iter().copied());
    let diagonal = (high[0] - low[0]).hypot(high[1] - low[1]);
    let far = BEYOND.max(SHARE * diagonal);
    let out: Vec<_> = drawn
        .spots
        .iter()
        .filter(|s| {
            let p = [s.at[0], s.at[1]];
            !in_ring(&ring, p) && away(p) > far
        })
        .collect();
    let first = out.first()?;
    let named: Vec<&str> = out.iter().take(8).map(|s| s.name).collect();
    let more = if out.len() > named.len() { ", …" } else { "" };
    let lie = if out.len() == 1 { "lies" } else { "lie" };
    let [x, y, z] = first.at;
    Some(
        Finding::new(
            Severity::Note,
            "surveyed outline",
            format!("{}{more} {lie} well outside it", named.join(", ")),
            "if they should, look whether they were placed on the wrong side of their tie, or draw the outline round them",
        )
        .at(x, y, z),
    )
}

impl Base {
    pub fn build(job: &Job, survey: &Reduced, findings: &mut Vec<Finding>) -> Option<Base> {
        let drawn = Drawn::new(survey, &job.field_book);
        let outline = |name: String, along: &[At], findings: &mut Vec<Finding>| {
            drawn.outline("", name, along, findings)
        };
        let site = &job.site;
        let breaklines: Vec<Outline> = site
            .breaklines
            .iter()
            .filter_map(|l| outline(l.name.clone(), &l.along, findings))
            .collect();
        let edge = if site.outline.is_empty() {
            None
        } else {
            outline("surveyed outline".into(), &site.outline, findings)
        };
        if let Some(edge) = &edge {
            findings.extend(beyond(&drawn, edge));
        }
        let mut holes: Vec<Outline> = site
            .holes
            .iter()
            .filter_map(|h| outline(h.name.clone(), &h.outline, findings))
            .collect();
        let houses = holes.len();
        let mut walls = Vec::new();
        for wall in &site.walls {
            let ring: Vec<At> = wall
                .left
                .iter()
                .chain(wall.right.iter().rev())
                .cloned()
                .collect();
            let Some(ring) = outline(format!("wall {}", wall.name), &ring, findings) else {
                continue;
            };
            let cap = match survey.elevation(&wall.cap) {
                Ok(cap) => cap,
                Err(why) => {
                    findings.push(Finding::new(
                        Severity::Error,
                        format!("wall {}", wall.name),
                        format!("is left out: its cap has no elevation ({why})"),
                        "shoot the cap, or give its elevation",
                    ));
                    continue;
                }
            };
            let plan = drawn.plan(&ring);
            let base = ring
                .corners
                .iter()
                .filter_map(|c| {
                    if let Corner::Spot(i) = c {
                        Some(drawn.spots[*i].at[2])
                    } else {
                        None
                    }
                })
                .fold(cap, f64::min);
            if plan.len() < 3 || self_crossing(&plan).is_some() {
                findings.push(Finding::new(
                    Severity::Error,
                    format!("wall {}", wall.name),
                    "is left out: its two faces cross each other",
                    "give left and right both in the same direction",
                ));
                continue;
            }
            let footprint = if ring_area2(&plan) < 0.0 {
                plan.iter().rev().copied().collect()
            } else {
                plan
            };
            walls.push(Solid {
                name: wall.name.clone(),
                footprint,
                base,
                cap,
                new: false,
            });
            holes.push(ring);
        }
        let made = ground::build(&drawn.spots, &breaklines, edge.as_ref(), &holes, job.unit);
        findings.extend(made.findings);
        if made.surface.triangles.is_empty() {
            return None;
        }
        // Where no shot says how deep a wall's foot lies, the ground at its corners does.
        for wall in walls.iter_mut().filter(|w| w.base >= w.cap) {
            let at_corner = |p: &&[f64; 3]| {
                let near = |c: &P2| (c[0] - p[0]).abs().max((c[1] - p[1]).abs()) < 1e-6;
                wall.footprint.iter().any(near)
            };
            let ground = made.surface.points.iter().filter(at_corner).map(|p| p[2]);
            wall.base = ground.fold(wall.base, f64::min);
        }
        let closed = holes[..houses].iter().map(|h| drawn.plan(h)).collect();
        Some(Base {
            ground: Arc::new(made.surface),
            boundary: made.boundary,
            walls,
            closed,
        })
    }

    pub fn mosaic(&self, yard: &Yard) -> Mosaic {
        let mut mosaic = Mosaic::new(self.ground.clone());
        for wall in &self.walls {
            let maker = yard.maker(&wall.name, Kind::StandingWall, "cap");
            for facet in crate::earthwork::facet::flat(&wall.footprint, wall.cap, maker) {
                mosaic.add_solid(&facet.outline, Plane::level(wall.cap), maker);
            }
        }
        mosaic
    }
}
