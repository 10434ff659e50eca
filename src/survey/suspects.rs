//! Shots that are likely slips: off their neighbours by a whole foot or decimetre, digits in the
//! wrong order, backsight and foresight in each other's column. Metres.
//!
//! Each ground shot is predicted from its natural neighbours (and theirs) by a plane that lets one
//! bad neighbour pass unheard (least absolute deviations). A shot is suspect only if it stands far
//! outside the scatter of the yard and of its own neighbourhood, its neighbours agree among
//! themselves, and the amount is that of a slip. Neighbours on or beyond a breakline are not
//! asked; shots on a breakline are compared along it. Scale is the median absolute deviation
//! × 1.4826 (normal consistency). Common sense, no source.

use delaunator::{EMPTY, Point, triangulate};
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;
use smallvec::SmallVec;

use super::fences::Fences;
use super::levels::Run;
use super::reduced::{Spot, Suspect};
use super::written;
use crate::findings::{Finding, Severity};
use crate::job::{FieldBook, Sight, Unit};
use crate::units::FOOT;

/// Fewer opinions than this give no verdict.
const LEAST_NEIGHBOURS: usize = 5;
const LEAST_ALONG: usize = 4;
const MOST_NEIGHBOURS: usize = 12;
/// So many scales off is no scatter any more.
const FAR: f64 = 5.0;
/// An amount within so many scales of a slip is taken for it: of honest scatter, one in 16,000 lies
/// beyond.
const NEAR: f64 = 4.0;
/// A rod is not read better than this.
const READING: f64 = 0.004;

struct Opinion {
    /// Booked minus expected.
    off: f64,
    /// Scatter of the neighbours about their own plane.
    spread: f64,
    /// How much surer or less sure than one reading: √(1 + leverage).
    reach: f64,
    asked: SmallVec<[u32; 16]>,
    agree: bool,
}

/// What the search starts from.
pub struct Shots {
    /// Setup and sight of each spot that was shot: they are the first of the spots.
    pub origins: Vec<(usize, usize)>,
    pub runs: Vec<Run>,
    /// For each setup, whether it hangs on a run that does not close.
    pub doubtful: Vec<bool>,
    pub unit: Unit,
}

pub fn search(
    book: &FieldBook,
    shots: &Shots,
    spots: &[Spot],
    lines: &[Vec<[f64; 2]>],
) -> (Vec<Suspect>, Vec<Finding>) {
    let mut findings = Vec::new();
    let mut suspects = slips_in_runs(book, &shots.runs, shots.unit);
    let spots = &spots[..shots.origins.len()];
    suspects.extend(slips_in_shots(book, shots, spots, lines, &mut findings));
    (suspects, findings)
}

// ------------------------------------------------------------------ runs

/// One reading or one pair of readings that explains why a run does not close.
fn slips_in_runs(book: &FieldBook, runs: &[Run], unit: Unit) -> Vec<Suspect> {
    let mut out: Vec<Suspect> = Vec::new();
    for run in runs
        .iter()
        .filter(|r| r.misclosure.abs() > r.allowed + 1e-9)
    {
        let explains = |change: f64| (run.misclosure + change).abs() <= run.allowed + 1e-9;
        let mut found: Vec<Suspect> = Vec::new();
        for &(s, k) in &run.legs {
            let setup = &book.setups[s];
            let (back, fore) = (&setup.backsight, &setup.sights[k]);
            if back.inverted == fore.inverted {
                let sign = if back.inverted { -1.0 } else { 1.0 };
                let change = 2.0 * sign * (fore.rod - back.rod);
                if explains(change) {
                    found.push(Suspect {
                        shot: fore.to.clone(),
                        off_by: -change,
                        slip: format!(
                            "backsight {} and foresight {} of setup {} are likely swapped",
                            written::figure(unit, back.rod),
                            written::figure(unit, fore.rod),
                            setup.name
                        ),
                        likely_rod: Some(back.rod),
                    });
                }
            }
        }
        // Digits only where no swap explains it: there are many more of these to hit by chance.
        if found.is_empty() {
            for &(s, k) in &run.legs {
                let setup = &book.setups[s];
                for (sight, sign) in [(&setup.backsight, 1.0), (&setup.sights[k], -1.0)] {
                    let sign = if sight.inverted { -sign } else { sign };
                    for other in written::transposed(unit, sight.rod) {
                        let change = sign * (other - sight.rod);
                        if explains(change) {
                            found.push(Suspect {
                                shot: sight.to.clone(),
                                off_by: -change,
                                slip: format!(
                                    "{} on {} from setup {} has likely two digits transposed, {} \
                                     for {}",
                                    if sign > 0.0 {
                                        "the backsight"
                                    } else {
                                        "the foresight"
                                    },
                                    sight.to,
                                    setup.name,
                                    written::figure(unit, sight.rod),
                                    written::figure(unit, other)
                                ),
                                likely_rod: Some(other),
                            });
                        }
                    }
                }
            }
        }
        // Several explanations are none.
        if found.len() == 1 {
            out.append(&mut found);
        }
    }
    out
}

// ------------------------------------------------------------------ shots

fn slips_in_shots(
    book: &FieldBook,
    shots: &Shots,
    spots: &[Spot],
    lines: &[Vec<[f64; 2]>],
    findings: &mut Vec<Finding>,
) -> Vec<Suspect> {
    let (origins, unit) = (&shots.origins, shots.unit);
    let ground: Vec<usize> = (0..spots.len()).filter(|&i| spots[i].ground).collect();
    if ground.len() <= LEAST_NEIGHBOURS {
        return Vec::new();
    }
    let centre = [spots[ground[0]].x, spots[ground[0]].y];
    let points: Vec<[f64; 3]> = ground
        .iter()
        .map(|&i| [spots[i].x - centre[0], spots[i].y - centre[1], spots[i].z])
        .collect();
    let mut fences = Fences::new(lines, centre);
    let (start, neighbours) = natural_neighbours(&points);
    let on_line = fences.stand_on(&points);
    let fences = fences;
    let opinion = |i: usize| -> Option<Opinion> {
        let setup = origins[ground[i]].0;
        // Where the notes do not close, two setups may differ by the slip in between.
        let heard = |j: usize| !shots.doubtful[setup] || origins[ground[j]].0 == setup;
        if let Some(vertex) = on_line[i] {
            return along_line(i, vertex, &points, &fences, heard);
        }
        let list = &neighbours[start[i] as usize..start[i + 1] as usize];
        let mut asked: SmallVec<[u32; 32]> = SmallVec::new();
        let open = |a: usize, b: usize| !fences.between(&points[a], &points[b]);
        for &j in list {
            if heard(j as usize) && open(i, j as usize) {
                asked.push(j);
            }
        }
        for n in 0..asked.len() {
            let j = asked[n] as usize;
            for &k in &neighbours[start[j] as usize..start[j + 1] as usize] {
                if k as usize != i
                    && !asked.contains(&k)
                    && heard(k as usize)
                    && open(j, k as usize)
                    && open(i, k as usize)
                {
                    asked.push(k);
                }
            }
        }
        let far = |j: &u32| square(&points[i], &points[*j as usize]);
        asked.sort_by(|a, b| far(a).total_cmp(&far(b)));
        asked.truncate(MOST_NEIGHBOURS);
        from_plane(i, &asked, &points)
    };
    let opinions: Vec<Option<Opinion>> = if points.len() > 256 {
        (0..points.len()).into_par_iter().map(opinion).collect()
    } else {
        (0..points.len()).map(opinion).collect()
    };
    let mut offs: Vec<f64> = opinions
        .iter()
        .flatten()
        .map(|o| o.off.abs() / o.reach)
        .collect();
    let yard = 1.4826 * median(&mut offs);

    let mut out = Vec::new();
    for (i, opinion) in opinions.iter().enumerate() {
        let Some(o) = opinion.as_ref().filter(|o| o.agree) else {
            continue;
        };
        let mut around: Vec<f64> = o
            .asked
            .iter()
            .filter_map(|&j| opinions[j as usize].as_ref())
            .map(|n| n.off.abs() / n.reach)
            .collect();
        let around = 1.4826 * median(&mut around);
        let scale = yard.max(o.spread).max(around).max(READING) * o.reach;
        if o.off.abs() < FAR * scale {
            continue;
        }
        let spot = &spots[ground[i]];
        let (s, k) = origins[ground[i]];
        let sight = &book.setups[s].sights[k];
        let Some((slip, rod)) = likely_slip(sight, o.off, scale, book.rod_length, unit) else {
            continue;
        };
        findings.push(
            Finding::new(
                Severity::Warning,
                format!("shot {}", spot.name),
                format!(
                    "stands {} {} its neighbours; it likely {slip}: {} would fit, {} is booked",
                    written::length(unit, o.off.abs()),
                    if o.off > 0.0 { "above" } else { "below" },
                    written::figure(unit, rod),
                    written::length(unit, sight.rod),
                ),
                "Look at the spot or shoot it again; if it is right, a breakline explains it.",
            )
            .at(spot.x, spot.y, spot.z),
        );
        out.push(Suspect {
            shot: spot.name.clone(),
            off_by: o.off,
            slip,
            likely_rod: Some(rod),
        });
    }
    out
}

/// The slip that comes nearest, if one is near enough.
fn likely_slip(
    sight: &Sight,
    off: f64,
    scale: f64,
    rod_length: f64,
    unit: Unit,
) -> Option<(String, f64)> {
    // Elevation too high means the rod was read too low, upside down the other way round.
    let sign = if sight.inverted { 1.0 } else { -1.0 };
    let side = |reading: f64| if reading < 0.0 { "low" } else { "high" };
    let steps: &[(f64, &str)] = match unit {
        Unit::Foot => &[
            (1.0 * FOOT, "a whole foot"),
            (2.0 * FOOT, "two whole feet"),
            (5.0 * FOOT, "five whole feet"),
        ],
        Unit::Metre => &[(0.1, "0.1 m"), (1.0, "a whole metre")],
    };
    let reading_off = sign * off;
    let mut candidates: Vec<(f64, String, f64)> = steps
        .iter()
        .map(|(step, what)| {
            let by = step.copysign(reading_off);
            (by, format!("reads {what} {}", side(by)), sight.rod - by)
        })
        .collect();
    for other in written::transposed(unit, sight.rod) {
        candidates.push((
            sight.rod - other,
            format!(
                "has two digits transposed ({} for {})",
                written::figure(unit, sight.rod),
                written::figure(unit, other)
            ),
            other,
        ));
    }
    candidates
        .into_iter()
        .filter(|(by, _, rod)| {
            let miss = (by - reading_off).abs();
            miss <= NEAR * scale && miss <= 0.35 * by.abs() && *rod >= 0.0 && *rod <= rod_length
        })
        .min_by(|a, b| {
            (a.0 - reading_off)
                .abs()
                .total_cmp(&(b.0 - reading_off).abs())
        })
        .map(|(_, slip, rod)| (slip, rod))
}

fn square(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)
}

fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Delaunay neighbours, as one list and where each point's part starts.
fn natural_neighbours(points: &[[f64; 3]]) -> (Vec<u32>, Vec<u32>) {
    let plan: Vec<Point> = points.iter().map(|p| Point { x: p[0], y: p[1] }).collect();
    let net = triangulate(&plan);
    let next = |e: usize| if e % 3 == 2 { e - 2 } else { e + 1 };
    let mut edges: Vec<(u32, u32)> = Vec::with_capacity(net.triangles.len() * 2);
    for e in 0..net.triangles.len() {
        let (a, b) = (net.triangles[e] as u32, net.triangles[next(e)] as u32);
        edges.push((a, b));
        if net.halfedges[e] == EMPTY {
            edges.push((b, a));
        }
    }
    let mut start = vec![0u32; points.len() + 1];
    for &(a, _) in &edges {
        start[a as usize + 1] += 1;
    }
    for i in 0..points.len() {
        start[i + 1] += start[i];
    }
    let mut fill = start.clone();
    let mut list = vec![0u32; edges.len()];
    for (a, b) in edges {
        list[fill[a as usize] as usize] = b;
        fill[a as usize] += 1;
    }
    (start, list)
}

/// Weighted plane through the neighbours, heard again and again with less weight for those that
/// stand off it: least absolute deviations.
fn from_plane(i: usize, asked: &[u32], points: &[[f64; 3]]) -> Option<Opinion> {
    if asked.len() < LEAST_NEIGHBOURS {
        return None;
    }
    let here = points[i];
    let reach = square(&here, &points[*asked.last()? as usize]).sqrt();
    if !(reach > 0.0 && reach.is_finite()) {
        return None;
    }
    // In units of the neighbourhood, so that the normal equations are well scaled.
    let rows: SmallVec<[(Vector3<f64>, f64, f64); 16]> = asked
        .iter()
        .map(|&j| {
            let p = points[j as usize];
            let (u, v) = ((p[0] - here[0]) / reach, (p[1] - here[1]) / reach);
            let near = 1.0 / (0.1 + u * u + v * v);
            (Vector3::new(1.0, u, v), p[2] - here[2], near)
        })
        .collect();
    let mut weights: SmallVec<[f64; 16]> = rows.iter().map(|r| r.2).collect();
    let mut plane = Vector3::zeros();
    for pass in 0..8 {
        let mut normal = Matrix3::zeros();
        let mut right = Vector3::zeros();
        for ((x, z, _), w) in rows.iter().zip(&weights) {
            normal += *w * x * x.transpose();
            right += *w * *z * x;
        }
        // Neighbours nearly in one line say nothing of the slope across it.
        let inverse = normal.try_inverse()?;
        let total: f64 = weights.iter().sum();
        if inverse.trace() * total > 400.0 * rows.len() as f64 {
            return None;
        }
        plane = inverse * right;
        if pass < 7 {
            for ((x, z, near), w) in rows.iter().zip(&mut weights) {
                *w = near / (z - plane.dot(x)).abs().max(READING);
            }
        }
    }
    let mut normal = Matrix3::zeros();
    for (x, _, near) in &rows {
        normal += *near * x * x.transpose();
    }
    let total: f64 = rows.iter().map(|r| r.2).sum();
    let leverage = normal.try_inverse().map_or(1.0, |m| m[(0, 0)]) * total / rows.len() as f64;
    Some(opinion_of(
        -plane[0],
        (1.0 + leverage).sqrt(),
        asked.iter().copied().collect(),
        rows.iter().map(|(x, z, _)| z - plane.dot(x)).collect(),
    ))
}

fn opinion_of(off: f64, reach: f64, asked: SmallVec<[u32; 16]>, misses: Vec<f64>) -> Opinion {
    let mut sizes: Vec<f64> = misses.iter().map(|m| m.abs()).collect();
    let spread = 1.4826 * median(&mut sizes);
    // At most a quarter of the neighbours may stand off by more than a third of what this does.
    let loud = misses.iter().filter(|m| m.abs() > off.abs() / 3.0).count();
    Opinion {
        off,
        spread,
        reach,
        agree: loud * 4 <= misses.len(),
        asked,
    }
}

/// A shot on a breakline against the ones before and after it on the same line.
fn along_line(
    i: usize,
    (line, vertex): (u32, u32),
    points: &[[f64; 3]],
    fences: &Fences,
    heard: impl Fn(usize) -> bool,
) -> Option<Opinion> {
    let chain = &fences.chains[line as usize];
    let v = vertex as usize;
    let near = v.saturating_sub(3)..(v + 4).min(chain.len());
    let here = chain.get(v)?.1;
    let others: Vec<(u32, f64)> = near
        .filter(|&k| k != v)
        .filter_map(|k| {
            let (shot, station) = chain[k];
            let shot = shot?;
            (shot as usize != i && heard(shot as usize)).then_some((shot, station - here))
        })
        .collect();
    // Both sides have to speak: past the end of a line the ground may do anything.
    let before = others.iter().filter(|o| o.1 < 0.0).count();
    if others.len() < LEAST_ALONG || before == 0 || before == others.len() {
        return None;
    }
    let z = |j: u32| points[j as usize][2] - points[i][2];
    // Theil–Sen: the median slope, then the median height, lets one bad neighbour pass.
    let mut slopes = Vec::new();
    for (n, a) in others.iter().enumerate() {
        for b in &others[n + 1..] {
            if (b.1 - a.1).abs() > 1e-9 {
                slopes.push((z(b.0) - z(a.0)) / (b.1 - a.1));
            }
        }
    }
    let slope = median(&mut slopes);
    let mut levels: Vec<f64> = others.iter().map(|o| z(o.0) - slope * o.1).collect();
    let level = median(&mut levels);
    Some(opinion_of(
        -level,
        1.25,
        others.iter().map(|o| o.0).collect(),
        others
            .iter()
            .map(|o| z(o.0) - slope * o.1 - level)
            .collect(),
    ))
}
