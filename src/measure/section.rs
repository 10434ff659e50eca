//! A cut through everything along a straight line in plan: the three surfaces, water, and walls.
//! Distances along the line from its first end, elevations. Metres.

use crate::plan::Plan;
use crate::terrain::predicates::P2;
use crate::terrain::probe::Station;
use crate::terrain::{Probe, Surface};

/// One surface along the line, in pieces where it has holes or ends.
pub type Run = Vec<Station>;

#[derive(Debug, Clone, Default, PartialEq)]
pub struct Section {
    pub length: f64,
    pub existing: Vec<Run>,
    pub dug: Vec<Run>,
    pub finished: Vec<Run>,
    pub water: Vec<Stretch>,
    pub walls: Vec<Stretch>,
}

/// Water or a wall between two distances along the line.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    pub name: String,
    pub from: f64,
    pub to: f64,
    /// Level of the water, or cap of the wall.
    pub top: f64,
    /// Foot of the wall; the level again for water, whose bed is the finished surface.
    pub foot: f64,
}

/// The section from `a` to `b`; empty for a line of no length.
pub fn section(plan: &Plan, a: P2, b: P2) -> Section {
    let length = (b[0] - a[0]).hypot(b[1] - a[1]);
    if !(length.is_finite() && length > 1e-6) {
        return Section::default();
    }
    let runs = |surface: &Surface| runs(surface, a, b, length);
    let water = plan.water.iter().flat_map(|body| {
        let inside = body.sheet.iter().filter_map(|t| clip(t, a, b)).collect();
        joined(inside, length)
            .into_iter()
            .map(|[from, to]| Stretch {
                name: body.name.clone(),
                from,
                to,
                top: body.level_m,
                foot: body.level_m,
            })
    });
    let walls = plan.solids.iter().flat_map(|solid| {
        let inside = crossed(&solid.footprint, a, b);
        joined(inside, length)
            .into_iter()
            .map(|[from, to]| Stretch {
                name: solid.name.clone(),
                from,
                to,
                top: solid.cap,
                foot: solid.base,
            })
    });
    Section {
        length,
        existing: runs(&plan.existing),
        dug: runs(&plan.dug),
        finished: runs(&plan.finished),
        water: water.collect(),
        walls: walls.collect(),
    }
}

impl Section {
    /// Elevation of a surface at a distance; at an upright face, of its foot.
    pub fn level(runs: &[Run], at: f64) -> Option<f64> {
        runs.iter()
            .flat_map(|run| run.windows(2))
            .filter(|w| w[0][0] <= at && at <= w[1][0])
            .map(|w| {
                let wide = w[1][0] - w[0][0];
                if wide < 1e-9 {
                    w[0][1].min(w[1][1])
                } else {
                    w[0][1] + (at - w[0][0]) / wide * (w[1][1] - w[0][1])
                }
            })
            .min_by(f64::total_cmp)
    }

    /// Lowest and highest elevation of all that is cut, wall feet aside.
    pub fn reach(&self) -> Option<[f64; 2]> {
        let ground = [&self.existing, &self.dug, &self.finished]
            .into_iter()
            .flatten()
            .flatten()
            .map(|s| s[1]);
        ground
            .chain(self.water.iter().chain(&self.walls).map(|s| s.top))
            .fold(None, |reach, z| {
                Some(reach.map_or([z, z], |[lo, hi]: [f64; 2]| [lo.min(z), hi.max(z)]))
            })
    }
}

fn runs(surface: &Surface, a: P2, b: P2, length: f64) -> Vec<Run> {
    let probe = Probe::new(surface);
    let mut out: Vec<Run> = Vec::new();
    for s in probe.section(a, b) {
        // Stations say nothing of what lies between them: ask there.
        let ends = out.last().and_then(|run| run.last()).is_none_or(|l| {
            let f = (l[0] + s[0]) / 2.0 / length;
            let middle = [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
            s[0] - l[0] > 1e-6 && probe.sound(middle).is_none()
        });
        if ends {
            out.push(Vec::new());
        }
        if let Some(run) = out.last_mut() {
            run.push(s);
        }
    }
    out.retain(|run| run.len() > 1);
    out
}

/// The stretch of the line (fractions) inside a triangle, whichever way round it is.
fn clip(t: &[P2; 3], a: P2, b: P2) -> Option<[f64; 2]> {
    let side = |u: P2, v: P2, p: P2| (v[0] - u[0]) * (p[1] - u[1]) - (v[1] - u[1]) * (p[0] - u[0]);
    let turn = side(t[0], t[1], t[2]).signum();
    let (mut from, mut to) = (0.0f64, 1.0f64);
    for k in 0..3 {
        let (u, v) = (t[k], t[(k + 1) % 3]);
        let (s0, s1) = (turn * side(u, v, a), turn * side(u, v, b));
        if s0 < 0.0 && s1 < 0.0 {
            return None;
        } else if s0 < 0.0 {
            from = from.max(s0 / (s0 - s1));
        } else if s1 < 0.0 {
            to = to.min(s0 / (s0 - s1));
        }
    }
    (to - from > 1e-12).then_some([from, to])
}

/// The stretches inside a ring: the line enters and leaves it in turn.
fn crossed(ring: &[P2], a: P2, b: P2) -> Vec<[f64; 2]> {
    let d = [b[0] - a[0], b[1] - a[1]];
    let side = |p: P2| d[0] * (p[1] - a[1]) - d[1] * (p[0] - a[0]);
    let n = ring.len();
    let mut at: Vec<f64> = (0..n)
        .filter_map(|i| {
            let (u, v) = (ring[i], ring[(i + 1) % n]);
            let (su, sv) = (side(u), side(v));
            // An end exactly on the line counts as above it, so that each is counted once.
            ((su >= 0.0) != (sv >= 0.0)).then(|| {
                let f = su / (su - sv);
                let p = [u[0] + f * (v[0] - u[0]), u[1] + f * (v[1] - u[1])];
                ((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / (d[0] * d[0] + d[1] * d[1])
            })
        })
        .collect();
    at.sort_by(f64::total_cmp);
    at.chunks_exact(2)
        .map(|w| [w[0].clamp(0.0, 1.0), w[1].clamp(0.0, 1.0)])
        .filter(|w| w[1] - w[0] > 1e-12)
        .collect()
}

/// Fractions as distances, touching stretches made one.
fn joined(mut inside: Vec<[f64; 2]>, length: f64) -> Vec<[f64; 2]> {
    inside.sort_by(|p, q| p[0].total_cmp(&q[0]));
    let mut out: Vec<[f64; 2]> = Vec::new();
    for [from, to] in inside {
        let (from, to) = (from * length, to * length);
        match out.last_mut() {
            Some(last) if from <= last[1] + 1e-6 => last[1] = last[1].max(to),
            _ => out.push([from, to]),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Solid, Water};

    fn square(x: [f64; 2], y: [f64; 2], z: impl Fn(f64) -> f64) -> Surface {
        Surface {
            points: [(0, 0), (1, 0), (1, 1), (0, 1)]
                .map(|(i, j)| [x[i], y[j], z(x[i])])
                .to_vec(),
            triangles: vec![[0, 1, 2], [0, 2, 3]],
            made_by: vec![0, 0],
        }
    }

    #[test]
    fn a_slope_with_water_and_a_wall_across() {
        let mut finished = square([0.0, 4.0], [0.0, 4.0], |x| x / 4.0);
        // A second piece beyond a hole two metres wide.
        let beyond = square([6.0, 10.0], [0.0, 4.0], |_| 2.0);
        let shift = finished.points.len() as u32;
        finished.points.extend(&beyond.points);
        let more = beyond.triangles.iter().map(|t| t.map(|i| i + shift));
        finished.triangles.extend(more);
        finished.made_by.extend([0, 0]);
        let plan = Plan {
            finished,
            water: vec![Water {
                name: "pond".into(),
                level_m: 0.5,
                area_m2: 8.0,
                volume_m3: 2.0,
                depth_max_m: 0.5,
                freeboard_min_m: 0.1,
                freeboard_at: [0.0; 2],
                spill_m: 0.6,
                spill_at: [0.0; 2],
                held: true,
                edge: Vec::new(),
                sheet: vec![
                    [[0.0, 0.0], [2.0, 0.0], [2.0, 4.0]],
                    [[0.0, 0.0], [0.0, 4.0], [2.0, 4.0]],
                ],
            }],
            solids: vec![Solid {
                name: "wall".into(),
                footprint: vec![[7.0, -1.0], [7.5, -1.0], [7.5, 5.0], [7.0, 5.0]],
                base: 1.0,
                cap: 3.0,
                new: true,
            }],
            ..Plan::default()
        };
        let cut = section(&plan, [1.0, 1.0], [9.0, 1.0]);
        assert!((cut.length - 8.0).abs() < 1e-12);
        assert_eq!(cut.finished.len(), 2, "two pieces with the hole between");
        // At x = 3, two metres along: 3/4.
        let z = Section::level(&cut.finished, 2.0).unwrap_or(f64::NAN);
        assert!((z - 0.75).abs() < 1e-9, "{z}");
        assert_eq!(Section::level(&cut.finished, 4.0), None, "in the hole");
        assert_eq!(cut.water.len(), 1);
        assert!((cut.water[0].from).abs() < 1e-9 && (cut.water[0].to - 1.0).abs() < 1e-9);
        assert_eq!(cut.walls.len(), 1);
        assert!((cut.walls[0].from - 6.0).abs() < 1e-9 && (cut.walls[0].to - 6.5).abs() < 1e-9);
        let [lo, hi] = cut.reach().unwrap_or([f64::NAN; 2]);
        assert!((lo - 0.25).abs() < 1e-9 && (hi - 3.0).abs() < 1e-9);
        // The other way round it is the same cut.
        let back = section(&plan, [9.0, 1.0], [1.0, 1.0]);
        assert!((back.walls[0].from - 1.5).abs() < 1e-9);
        assert!((back.water[0].to - 8.0).abs() < 1e-9);
        assert_eq!(section(&plan, [1.0, 1.0], [1.0, 1.0]), Section::default());
    }
}
