//! Falling water: for each lip a sheet over the sill, off its brink and down to the water below.
//!
//! The brink is where the lip's surface ends and what follows is no higher. From it the sheet flies as water
//! does that leaves level at [`SPEED`], lies on what it meets, and ends in the first water whose
//! level it reaches. Drawn for looks: how much water falls is not known here. Metres.

use crate::plan::{Kind, MadeBy, Plan};

use crate::view::drape::Drape;
use crate::view::mesh::{Batch, Frame};
use crate::view::stuff::Stuff;

/// Speed at the brink, m/s: about that of a sheet 3 cm thick, √(g h).
const SPEED: f64 = 0.55;
const GRAVITY: f64 = 9.81;
/// How far the sheet lies over what carries it.
const FILM: f64 = 0.014;
/// Water runs over an edge beyond which the ground is not higher than this.
const LEAST: f64 = 0.005;
const STEP: f64 = 0.012;
/// A sheet ends after this far, whatever it has met.
const FARTHEST: f64 = 2.5;
const COLUMN: f64 = 0.06;
const ROWS: usize = 28;

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
        let count = ((length / COLUMN).ceil() as usize).max(1);
        let columns: Vec<Column> = (0..=count)
            .map(|k| {
                let f = k as f64 / count as f64;
                let at = [0, 1, 2].map(|i| a[i] + f * (b[i] - a[i]));
                column(plan, drape, at, out, |p| {
                    drape
                        .triangle(p)
                        .and_then(lip)
                        .is_some_and(|m| m.name == own.name)
                })
            })
            .collect();
        for (k, pair) in columns.windows(2).enumerate() {
            let across = |k: usize| (k as f64 / count as f64 * length) as f32;
            for r in 0..ROWS - 1 {
                let corner = |c: usize, r: usize| {
                    let (p, way) = pair[c].points[r];
                    (frame.scene(p), [across(k + c), 1.0 + way as f32])
                };
                let q = [
                    corner(0, r),
                    corner(0, r + 1),
                    corner(1, r + 1),
                    corner(1, r),
                ];
                batch.quad(q.map(|c| c.0), q.map(|c| c.1), Stuff::Pin);
            }
        }
        foam(&mut batch, &columns, out, frame);
    }
    batch
}

struct Column {
    /// Place, and way from the brink along the sheet.
    points: Vec<([f64; 3], f64)>,
    /// Where it met water.
    landed: Option<[f64; 3]>,
}

fn column(
    plan: &Plan,
    drape: &Drape,
    brink: [f64; 3],
    out: [f64; 2],
    on_lip: impl Fn([f64; 2]) -> bool,
) -> Column {
    let at = |s: f64| [brink[0] + out[0] * s, brink[1] + out[1] * s];
    let top = brink[2] + FILM;
    let mut sill = 0.0;
    while sill < 1.0 && on_lip(at(-sill - 0.02)) {
        sill += 0.02;
    }
    let start = at(-sill);
    let mut line = vec![[start[0], start[1], top]];
    if sill > 0.0 {
        line.push([brink[0], brink[1], top]);
    }
    let mut landed = None;
    let mut z = top;
    let mut s = STEP;
    // Lying on ground, it flies no more: the flight begins anew where the ground falls away.
    let (mut from, mut from_z) = (0.0, top);
    while s <= FARTHEST {
        let p = at(s);
        let t = (s - from) / SPEED;
        let flight = from_z - GRAVITY / 2.0 * t * t;
        let bed = drape.height(p).map_or(flight, |h| h + FILM);
        if bed > z + 0.02 {
            break;
        }
        if let Some(level) = water_at(plan, p).filter(|level| *level >= flight.max(bed)) {
            line.push([p[0], p[1], level - 0.02]);
            landed = Some([p[0], p[1], level]);
            break;
        }
        if bed >= flight {
            (from, from_z) = (s, bed);
        }
        z = flight.max(bed);
        line.push([p[0], p[1], z]);
        s += STEP;
    }
    let mut way = vec![0.0];
    for w in line.windows(2) {
        let step = (0..3).map(|k| (w[1][k] - w[0][k]).powi(2)).sum::<f64>();
        way.push(way[way.len() - 1] + step.sqrt());
    }
    let whole = way[way.len() - 1];
    let points = (0..ROWS)
        .map(|r| {
            let want = whole * r as f64 / (ROWS - 1) as f64;
            let k = way
                .partition_point(|w| *w < want)
                .clamp(1, line.len().max(2) - 1);
            let (Some(p), Some(q)) = (line.get(k - 1), line.get(k)) else {
                return (line[0], 0.0);
            };
            let f = ((want - way[k - 1]) / (way[k] - way[k - 1]).max(1e-9)).clamp(0.0, 1.0);
            ([0, 1, 2].map(|i| p[i] + f * (q[i] - p[i])), want - sill)
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
