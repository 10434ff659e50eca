//! Falling water: for each lip a sheet over the sill, off its brink and down to the water below.
//!
//! How thick and how fast the sheet leaves the brink is the plan's (`LipFlow`: critical depth, and
//! the speed that goes with it); a lip whose flow is not known has none. From there it flies as water
//! does that leaves level, thinner as it gets faster, lies on what it meets, and ends in the first
//! water whose level it reaches. The brink is where the lip's surface ends and what follows is no
//! higher. Threads and foam are drawn for looks. Metres.

use bevy::math::Vec3;

use crate::plan::{Kind, MadeBy, Plan};

use crate::view::drape::Drape;
use crate::view::mesh::{Batch, Frame};
use crate::view::stuff::Stuff;

const GRAVITY: f64 = 9.81;
/// A sheet of this thickness breaks into threads as the shader draws it; a thinner one sooner.
const USUAL: f64 = 0.02;
/// Over the still pool behind the sill it begins so thin, and comes to its depth on this way.
const BEGINS: f64 = 0.003;
const SWELLS: f64 = 0.08;
/// Water runs over an edge beyond which the ground is not higher than this.
const LEAST: f64 = 0.005;
const STEP: f64 = 0.012;
/// A sheet ends after this far, whatever it has met.
const FARTHEST: f64 = 2.5;
const COLUMN: f64 = 0.06;
const ROWS: usize = 28;

/// A sheet where it leaves its brink.
#[derive(Clone, Copy)]
struct Sheet {
    depth: f64,
    /// On the sill before it.
    on_sill: f64,
    /// m/s.
    speed: f64,
}

impl Sheet {
    /// Over the lip of this pool; `None` where the plan knows of no flow.
    fn of(plan: &Plan, pool: &str) -> Option<Sheet> {
        let mut lips = plan.flow.cascades.iter().flat_map(|c| &c.lips);
        let lip = lips.find(|l| l.pool == pool)?;
        let sheet = Sheet {
            depth: lip.brink_m?,
            on_sill: lip.sill_depth_m?,
            speed: lip.brink_velocity_m_s?,
        };
        let known = |v: f64| v.is_finite() && v > 1e-4;
        let all = [sheet.depth, sheet.on_sill, sheet.speed];
        all.into_iter().all(known).then_some(sheet)
    }

    /// How thick it is after falling so far: the same water goes by, faster.
    fn thickness(&self, fallen: f64) -> f64 {
        let v = self.speed;
        self.depth * v / (v * v + 2.0 * GRAVITY * fallen.max(0.0)).sqrt()
    }
}

/// The sheets and their foam. `extra` is (across, 1 + way down) on sheets, before the brink less
/// than 1; (strength, −1) on foam.
pub fn falls(plan: &Plan, drape: &Drape, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    let maker = |t: usize| -> Option<&MadeBy> {
        let by = plan.finished.made_by.get(t)?;
        plan.makers.get(usize::from(*by))
    };
    let lip = |t: usize| maker(t).filter(|m| m.kind == Kind::Cascade && m.part == "lip");
    let surface = &plan.finished;
    let brinks = (0..surface.triangles.len())
        .filter_map(|t| Some((lip(t)?, surface.corners(t))))
        .flat_map(|(own, c)| (0..3).map(move |k| (own, c[k], c[(k + 1) % 3])));
    for (own, a, b) in brinks {
        let d = [b[0] - a[0], b[1] - a[1]];
        let length = d[0].hypot(d[1]);
        if length < 1e-3 {
            continue;
        }
        let out = [d[1] / length, -d[0] / length];
        let beyond = [0, 1].map(|k| (a[k] + b[k]) / 2.0 + 0.01 * out[k]);
        let lower = drape
            .height(beyond)
            .is_some_and(|z| z <= (a[2] + b[2]) / 2.0 + LEAST);
        let same = |t: usize| maker(t).is_some_and(|m| m.name == own.name);
        if !lower || drape.triangle(beyond).is_some_and(same) {
            continue;
        }
        let Some(sheet) = Sheet::of(plan, &own.name) else {
            continue;
        };
        let count = ((length / COLUMN).ceil() as usize).max(1);
        let columns: Vec<Column> = (0..=count)
            .map(|k| {
                let f = k as f64 / count as f64;
                let at = [0, 1, 2].map(|i| a[i] + f * (b[i] - a[i]));
                column(plan, drape, at, out, sheet, |p| {
                    drape
                        .triangle(p)
                        .and_then(lip)
                        .is_some_and(|m| m.name == own.name)
                })
            })
            .collect();
        let breaks = USUAL / sheet.depth;
        let corner = |c: usize, r: usize, upper: bool| {
            let at = &columns[c].points[r];
            let across = c as f64 / count as f64 * length;
            let place = if upper { at.upper } else { at.lower };
            (
                frame.scene(place),
                [across as f32, (1.0 + breaks * at.way) as f32],
            )
        };
        let mut quad = |q: [(Vec3, [f32; 2]); 4]| {
            batch.quad(q.map(|c| c.0), q.map(|c| c.1), Stuff::Pin);
        };
        for r in 0..ROWS - 1 {
            for c in 0..count {
                // Seen from below, and from behind the fall, is its other face.
                for upper in [true, false] {
                    let mut q = [(c, r), (c, r + 1), (c + 1, r + 1), (c + 1, r)];
                    if !upper {
                        q.reverse();
                    }
                    quad(q.map(|(c, r)| corner(c, r, upper)));
                }
            }
            for (c, first) in [(0, true), (count, false)] {
                let mut q = [(r, true), (r, false), (r + 1, false), (r + 1, true)];
                if !first {
                    q.reverse();
                }
                quad(q.map(|(r, upper)| corner(c, r, upper)));
            }
        }
        foam(&mut batch, &columns, out, frame);
    }
    batch
}

/// A place on the sheet: its upper and its lower face, and its way from the brink.
#[derive(Debug, Clone, Copy)]
struct Point {
    upper: [f64; 3],
    lower: [f64; 3],
    way: f64,
}

struct Column {
    points: Vec<Point>,
    /// Where it met water.
    landed: Option<[f64; 3]>,
}

fn column(
    plan: &Plan,
    drape: &Drape,
    brink: [f64; 3],
    out: [f64; 2],
    sheet: Sheet,
    on_lip: impl Fn([f64; 2]) -> bool,
) -> Column {
    let at = |s: f64| [brink[0] + out[0] * s, brink[1] + out[1] * s];
    let mut sill = 0.0;
    while sill < 1.0 && on_lip(at(-sill - 0.02)) {
        sill += 0.02;
    }
    // Way from the brink in plan, elevation of the upper face, thickness plumb under it.
    let mut line: Vec<[f64; 3]> = Vec::new();
    let deep = sheet.on_sill;
    if sill > 0.0 {
        line.push([-sill, brink[2] + BEGINS, BEGINS]);
        if sill > 2.0 * SWELLS {
            line.push([SWELLS - sill, brink[2] + deep, deep]);
            line.push([-SWELLS, brink[2] + deep, deep]);
        }
    }
    let top = brink[2] + sheet.depth;
    line.push([0.0, top, sheet.depth]);
    let mut landed = None;
    let mut z = top;
    let mut s = STEP;
    // Lying on ground, it flies no more: the flight begins anew where the ground falls away.
    let (mut from, mut from_z) = (0.0, top);
    while s <= FARTHEST {
        let p = at(s);
        let t = (s - from) / sheet.speed;
        let flight = from_z - GRAVITY / 2.0 * t * t;
        let bed = drape.height(p).map_or(flight, |h| h + sheet.depth);
        if bed > z + 0.02 {
            break;
        }
        // Square to its way it is as thick as its speed leaves it; plumb it is more.
        let steep = (1.0 + (GRAVITY * t / sheet.speed).powi(2)).sqrt();
        let plumb = sheet.thickness(from_z - flight) * steep;
        if let Some(level) = water_at(plan, p).filter(|level| *level >= flight.max(bed)) {
            line.push([s, level - 0.02, plumb]);
            landed = Some([p[0], p[1], level]);
            break;
        }
        if bed >= flight {
            (from, from_z) = (s, bed);
            line.push([s, bed, sheet.depth]);
        } else {
            line.push([s, flight, plumb]);
        }
        z = flight.max(bed);
        s += STEP;
    }
    let mut way = vec![0.0];
    for w in line.windows(2) {
        way.push(way[way.len() - 1] + (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]));
    }
    let whole = way[way.len() - 1];
    let points = (0..ROWS)
        .map(|r| {
            let want = whole * r as f64 / (ROWS - 1) as f64;
            let k = way
                .partition_point(|w| *w < want)
                .clamp(1, line.len().max(2) - 1);
            let (p, q) = (line[k - 1], line.get(k).copied().unwrap_or(line[k - 1]));
            let step = way.get(k).map_or(0.0, |w| w - way[k - 1]);
            let f = ((want - way[k - 1]) / step.max(1e-9)).clamp(0.0, 1.0);
            let [s, z, plumb] = [0, 1, 2].map(|i| p[i] + f * (q[i] - p[i]));
            let [x, y] = at(s);
            // Square to the sheet's way, from its upper face down and back under it.
            let (run, rise) = (q[0] - p[0], q[1] - p[1]);
            let long = run.hypot(rise).max(1e-9);
            let square = plumb * run / long;
            let under = at(s + square * rise / long);
            Point {
                upper: [x, y, z],
                lower: [under[0], under[1], z - square * run / long],
                way: want - sill,
            }
        })
        .collect();
    Column { points, landed }
}

/// The highest water over a place.
fn water_at(plan: &Plan, p: [f64; 2]) -> Option<f64> {
    let side =
        |a: [f64; 2], b: [f64; 2]| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
    plan.water
        .iter()
        .filter(|w| {
            w.sheet.iter().any(|[a, b, c]| {
                let sides = [side(*a, *b), side(*b, *c), side(*c, *a)];
                sides.iter().all(|s| *s >= 0.0) || sides.iter().all(|s| *s <= 0.0)
            })
        })
        .map(|w| w.level_m)
        .max_by(f64::total_cmp)
}

/// White water where the sheet goes under, thinning out away from it.
fn foam(batch: &mut Batch, columns: &[Column], out: [f64; 2], frame: &Frame) {
    let along = [-out[1], out[0]];
    let mut rows: Vec<([f64; 3], f32)> = columns
        .iter()
        .filter_map(|c| c.landed)
        .map(|p| (p, 1.0))
        .collect();
    let (Some(first), Some(last)) = (rows.first().copied(), rows.last().copied()) else {
        return;
    };
    let beside = |p: [f64; 3], by: f64| [p[0] + along[0] * by, p[1] + along[1] * by, p[2]];
    // From a to b the brink runs against `along`.
    let way = if (last.0[0] - first.0[0]) * along[0] + (last.0[1] - first.0[1]) * along[1] > 0.0 {
        1.0
    } else {
        -1.0
    };
    rows.insert(0, (beside(first.0, -0.22 * way), 0.0));
    rows.push((beside(last.0, 0.22 * way), 0.0));
    let bands = [(-0.12, 0.0), (0.0, 1.0), (0.16, 0.8), (0.55, 0.0)];
    for pair in rows.windows(2) {
        for band in bands.windows(2) {
            let corner = |c: usize, b: usize| {
                let (p, strength) = pair[c];
                let at = [
                    p[0] + out[0] * band[b].0,
                    p[1] + out[1] * band[b].0,
                    p[2] + 0.006,
                ];
                (frame.scene(at), [strength * band[b].1, -1.0])
            };
            let q = [corner(0, 0), corner(0, 1), corner(1, 1), corner(1, 0)];
            batch.quad(q.map(|c| c.0), q.map(|c| c.1), Stuff::Pin);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{CascadeFlow, LipFlow};
    use crate::terrain::Surface;

    /// A sill a metre over a level floor: the sheet flies as Torricelli says, and the same water
    /// goes by at every height.
    #[test]
    fn a_sheet_falls_and_thins_by_the_plans_flow() {
        let corners = |x: [f64; 2], z: f64| {
            [[x[0], -1.0], [x[1], -1.0], [x[1], 1.0], [x[0], 1.0]].map(|[x, y]| [x, y, z])
        };
        let mut points = corners([-0.5, 0.0], 1.0).to_vec();
        points.extend(corners([0.0, 4.0], 0.0));
        let surface = Surface {
            points,
            triangles: vec![[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]],
            made_by: vec![0; 4],
        };
        let mut plan = Plan::default();
        let lip = LipFlow {
            pool: "pool".into(),
            width_m: 1.0,
            drop_m: 1.0,
            wanted_m3_s: 0.0,
            drowned_m: None,
            francis_m: None,
            brink_m: Some(0.03),
            sill_m: None,
            sill_depth_m: Some(0.0375),
            head_m: 0.0,
            friction_m: None,
            pool_velocity_m_s: 0.0,
            brink_velocity_m_s: Some(0.54),
            freeboard_m: 0.0,
            splash_room_m: None,
            in_range: true,
        };
        plan.flow.cascades.push(CascadeFlow {
            cascade: "falls".into(),
            flow_m3_s: 0.0162,
            at_least: false,
            flow_from: String::new(),
            lips: vec![lip],
            in_pools_m3: 0.0,
            on_sills_m3: 0.0,
            in_air_m3: 0.0,
        });
        assert!(Sheet::of(&plan, "another").is_none(), "no flow, no sheet");
        let sheet = Sheet::of(&plan, "pool").expect("a sheet");
        let drape = Drape::new(&surface);
        let column = column(&plan, &drape, [0.0, 0.0, 1.0], [1.0, 0.0], sheet, |p| {
            p[0] < 0.0
        });
        let mut flown = 0;
        for p in &column.points {
            let ([x, _, z], fallen) = (p.upper, 1.03 - p.upper[2]);
            if x < 0.01 || z < 0.15 {
                continue;
            }
            flown += 1;
            // z = 1.03 − g x² / (2 v²), and x between steps of 12 mm.
            let flight = 1.03 - GRAVITY * x * x / (2.0 * 0.54 * 0.54);
            assert!((z - flight).abs() < 1e-3, "at {x}: {z}, by hand {flight}");
            let thick = (0..3)
                .map(|k| (p.upper[k] - p.lower[k]).powi(2))
                .sum::<f64>()
                .sqrt();
            // q = 0.0162 m²/s at √(v² + 2 g h).
            let by_hand = 0.0162 / (0.54f64.powi(2) + 2.0 * GRAVITY * fallen).sqrt();
            assert!(
                (thick / by_hand - 1.0).abs() < 0.05,
                "thick {thick} after falling {fallen}, by hand {by_hand}"
            );
        }
        assert!(flown > 4, "{flown} places in the air");
        // On the sill as deep as the plan says.
        let on_sill = column
            .points
            .iter()
            .filter(|p| p.way < -0.1 && p.way > -0.3);
        for p in on_sill {
            assert!((p.upper[2] - 1.0375).abs() < 1e-9, "{:?}", p.upper);
        }
    }
}
