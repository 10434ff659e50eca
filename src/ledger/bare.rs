//! Bare ground when all is done: what topsoil is put back on. m², m³.

use crate::design::Still;
use crate::job::Job;
use crate::plan::{Kind, MadeBy, Plan};
use crate::terrain::Surface;
use crate::terrain::convex::{self, ON, Polygon, area2};
use crate::terrain::line::dist;
use crate::terrain::predicates::P2;

/// Topsoil wanted on bare ground, as it lies settled.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Wanted {
    pub area_m2: f64,
    pub settled_m3: f64,
}

/// What one work leaves bare.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    pub work: String,
    pub area_m2: f64,
    /// Middles of its triangles, each with its plan area.
    pub parts: Vec<(P2, f64)>,
}

/// Topsoil for what the works leave as bare soil.
pub fn wanted(job: &Job, plan: &Plan) -> Wanted {
    Wanted::on(&pieces(job, plan), job)
}

/// The same from a finished surface, wherever in plan it lies, the makers of its triangles and the waters
/// that are to stand on it, each with its level.
pub fn wanted_on(job: &Job, finished: &Surface, makers: &[MadeBy], waters: &[Still]) -> Wanted {
    let level = |basin: &str| Some(waters.iter().find(|w| w.name == basin)?.level);
    Wanted::on(&pieces_on(job, finished, makers, level), job)
}

impl Wanted {
    fn on(pieces: &[Piece], job: &Job) -> Self {
        let area: f64 = pieces.iter().map(|p| p.area_m2).sum();
        Wanted {
            area_m2: area,
            settled_m3: area * job.soil.put_back,
        }
    }
}

/// What the works leave as bare soil, work by work: berms, banks over the lining's edge, backfill, slopes of
/// pads, and refilled trenches and ramps that stay. Water, lining, walls and paving are not bare. Nothing where
/// no topsoil is put back.
pub fn pieces(job: &Job, plan: &Plan) -> Vec<Piece> {
    let level = |basin: &str| Some(plan.water.iter().find(|w| w.name == basin)?.level_m);
    pieces_on(job, &plan.finished, &plan.makers, level)
}

fn pieces_on(
    job: &Job,
    surface: &Surface,
    makers: &[MadeBy],
    level: impl Fn(&str) -> Option<f64>,
) -> Vec<Piece> {
    let mut out: Vec<Piece> = Vec::new();
    if job.soil.put_back <= 0.0 {
        return out;
    }
    for (t, &maker) in surface.made_by.iter().enumerate() {
        let Some(by) = makers.get(usize::from(maker)) else {
            continue;
        };
        let bare = match by.kind {
            Kind::Berm | Kind::Surround | Kind::Backfill | Kind::Trench | Kind::Ramp => true,
            Kind::Basin => true,
            Kind::Pad => {
                let paved = job.design.pads.iter().find(|p| p.name == by.name);
                by.part == "side" || paved.is_none_or(|p| p.build_up <= 0.0)
            }
            _ => false,
        };
        if !bare {
            continue;
        }
        let corners = surface.corners(t);
        let mut outline = Polygon::from_iter(corners.iter().map(|p| [p[0], p[1]]));
        if by.kind == Kind::Basin {
            let Some(edge) = lined_to(&by.name, job, &level) else {
                continue;
            };
            let over = corners.map(|p| p[2] - edge);
            outline = convex::split(&outline, &over, ON).1;
        }
        let area = 0.5 * area2(&outline);
        if area <= 0.0 {
            continue;
        }
        let n = outline.len() as f64;
        let middle = [0, 1].map(|k| outline.iter().map(|p| p[k]).sum::<f64>() / n);
        let work = job.design.work_of(&by.name);
        let k = out.iter().position(|p| p.work == work).unwrap_or_else(|| {
            out.push(Piece {
                work: work.into(),
                area_m2: 0.0,
                parts: Vec::new(),
            });
            out.len() - 1
        });
        out[k].area_m2 += area;
        out[k].parts.push((middle, area));
    }
    out.retain(|p| p.area_m2 > 1e-9);
    out
}

/// What lies higher in a basin is bare: the lining ends there, or, where there is none, the water.
fn lined_to(basin: &str, job: &Job, level: impl Fn(&str) -> Option<f64>) -> Option<f64> {
    let basin = job.design.basins.iter().find(|b| b.name == basin)?;
    let level = level(&basin.name)?;
    let lined = basin.lining.iter().any(|l| l.thickness > 0.0);
    Some(level + if lined { basin.edge_above } else { 0.0 })
}

impl Piece {
    /// A place on it, not between its parts, that is as far from there as all of it is on the mean, as the
    /// crow flies; without a `from`, the nearest to its centroid.
    pub fn spot(&self, from: Option<P2>) -> Option<P2> {
        let mean = |value: &dyn Fn(P2) -> f64| -> f64 {
            let sum: f64 = self.parts.iter().map(|(p, a)| a * value(*p)).sum();
            sum / self.area_m2
        };
        let centroid = [mean(&|p| p[0]), mean(&|p| p[1])];
        let far = from.map_or(0.0, |from| mean(&|p| dist(p, from)));
        let off = |p: P2| match from {
            Some(from) => (dist(p, from) - far).abs(),
            None => dist(p, centroid),
        };
        // Of many that are about as good, the one in the middle of it.
        let worth = |p: P2| off(p) + 0.1 * dist(p, centroid);
        let parts = self.parts.iter().map(|(p, _)| *p);
        parts.min_by(|a, b| worth(*a).total_cmp(&worth(*b)))
    }

    /// The nearest of its parts.
    pub fn nearest(&self, from: P2) -> Option<P2> {
        let parts = self.parts.iter().map(|(p, _)| *p);
        parts.min_by(|a, b| dist(*a, from).total_cmp(&dist(*b, from)))
    }
}
