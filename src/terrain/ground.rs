//! The ground as surveyed: spots triangulated, breaklines and rings recovered, the outside of the
//! outline and the holes carved away. Metres, near the origin.

use rustc_hash::FxHashMap;

use super::constrained::{NONE, Triangulation, Trouble};
use super::predicates::{P2, in_ring, proper_crossing, self_crossing};
use super::{GROUND, Span, Surface};
use crate::findings::{Finding, Severity};
use crate::job::Unit;
use crate::units::format_length;

/// Spots nearer than this in plan (metres) are the same spot.
pub const SAME: f64 = 1e-3;

#[derive(Debug, Clone)]
pub struct GroundSpot<'a> {
    pub name: &'a str,
    pub at: [f64; 3],
}

/// A corner of a line or ring: a spot by index, or a place without an elevation of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Corner {
    Spot(usize),
    Place(P2),
}

#[derive(Debug, Clone)]
pub struct Outline {
    pub name: String,
    pub corners: Vec<Corner>,
}

#[derive(Debug, Default)]
pub struct Ground {
    pub surface: Surface,
    /// Edges where the surface ends (at the hull, the outline or a hole), ground on their left.
    pub boundary: Vec<[P2; 2]>,
    pub findings: Vec<Finding>,
}

/// Builds the ground. What cannot be built is named in the findings; the surface is then empty, or
/// leaves that line out; lengths in findings are in `unit`.
pub fn build(
    spots: &[GroundSpot],
    breaklines: &[Outline],
    outline: Option<&Outline>,
    holes: &[Outline],
    unit: Unit,
) -> Ground {
    let mut findings = Vec::new();
    let (index, points, mut heights) = merge(spots, unit, &mut findings);
    let mut points = points;
    if points.len() < 3 {
        findings.push(Finding::new(
            Severity::Error,
            "ground",
            format!(
                "{} ground shot{} with a place and an elevation; a surface needs at least three",
                points.len(),
                if points.len() == 1 { "" } else { "s" }
            ),
            "place more shots in plan, or mark shots on the ground as ground",
        ));
        return Ground {
            findings,
            ..Ground::default()
        };
    }
    let segments = split_crossings(
        breaklines,
        &index,
        &mut points,
        &mut heights,
        unit,
        &mut findings,
    );
    let mut made = match Triangulation::with_heights(points, heights) {
        Ok(made) => made,
        Err(_) => {
            findings.push(Finding::new(
                Severity::Error,
                "ground",
                "all ground shots lie on one line in plan; there is no surface",
                "shoot points to both sides of the line",
            ));
            return Ground {
                findings,
                ..Ground::default()
            };
        }
    };
    for (name, a, b) in segments {
        if made.constrain(a, b).is_err() {
            findings.push(Finding::new(
                Severity::Error,
                format!("breakline {name}"),
                "runs into another breakline so closely that it cannot be kept",
                "check the shots of both lines; let them share a shot where they meet",
            ));
        }
    }
    let mut rings: Vec<(bool, Vec<P2>)> = Vec::new();
    for (is_outline, ring) in outline
        .map(|o| (true, o))
        .into_iter()
        .chain(holes.iter().map(|h| (false, h)))
    {
        if let Some(plan) = drape_ring(&mut made, ring, is_outline, &index, spots, &mut findings) {
            rings.push((is_outline, plan));
        }
    }
    let spans: Vec<Span> = rings
        .iter()
        .map(|(_, ring)| Span::of(ring.iter().copied()))
        .collect();
    let keep = |c: [u32; 3]| {
        let p = c.map(|i| made.points[i as usize]);
        let m = [
            (p[0][0] + p[1][0] + p[2][0]) / 3.0,
            (p[0][1] + p[1][1] + p[2][1]) / 3.0,
        ];
        rings
            .iter()
            .zip(&spans)
            .all(|((inside, ring), span)| (span.holds(m) && in_ring(ring, m)) == *inside)
    };
    let kept: Vec<bool> = (0..made.triangles() as u32)
        .map(|t| rings.is_empty() || keep(made.corners(t)))
        .collect();
    let mut boundary = Vec::new();
    for e in (0..made.start.len()).filter(|e| kept[e / 3]) {
        let other = made.twin[e];
        if other == NONE || !kept[other as usize / 3] {
            let next = if e % 3 == 2 { e - 2 } else { e + 1 };
            boundary.push([made.start[e], made.start[next]].map(|i| made.points[i as usize]));
        }
    }
    let triangles: Vec<[u32; 3]> = (0..made.triangles() as u32)
        .filter(|&t| kept[t as usize])
        .map(|t| made.corners(t))
        .collect();
    let surface = Surface {
        points: made
            .points
            .iter()
            .zip(&made.heights)
            .map(|(p, &z)| [p[0], p[1], z])
            .collect(),
        made_by: vec![GROUND; triangles.len()],
        triangles,
    };
    Ground {
        surface,
        boundary,
        findings,
    }
}

/// Places in plan, to find those nearer than [`SAME`]: cells of [`CELL`], each a chain of places.
struct Places {
    first: FxHashMap<(i64, i64), u32>,
    /// The next place of the same cell, for each.
    next: Vec<u32>,
}

/// Much larger than [`SAME`], so that a place rarely has to look over the border of its cell.
const CELL: f64 = 16.0 * SAME;

impl Places {
    fn cell(p: P2) -> (i64, i64) {
        ((p[0] / CELL).floor() as i64, (p[1] / CELL).floor() as i64)
    }

    /// The nearest of `points` that is the same place as `p`; the earlier of two as near.
    fn find(&self, p: P2, points: &[P2]) -> Option<u32> {
        let (low, high) = (
            Self::cell([p[0] - SAME, p[1] - SAME]),
            Self::cell([p[0] + SAME, p[1] + SAME]),
        );
        let mut best: Option<(f64, u32)> = None;
        for x in low.0..=high.0 {
            for y in low.1..=high.1 {
                let mut at = self.first.get(&(x, y)).copied().unwrap_or(NONE);
                while at != NONE {
                    let q = points[at as usize];
                    let off = (q[0] - p[0]).hypot(q[1] - p[1]);
                    if off <= SAME && best.is_none_or(|b| (off, at) < b) {
                        best = Some((off, at));
                    }
                    at = self.next[at as usize];
                }
            }
        }
        best.map(|b| b.1)
    }

    /// Adds the place with the next number.
    fn add(&mut self, p: P2) {
        let id = self.next.len() as u32;
        let before = self.first.insert(Self::cell(p), id);
        self.next.push(before.unwrap_or(NONE));
    }
}

/// Spots at one place merge if they agree in elevation; otherwise both are named.
fn merge(
    spots: &[GroundSpot],
    unit: Unit,
    findings: &mut Vec<Finding>,
) -> (Vec<u32>, Vec<P2>, Vec<f64>) {
    let mut seen = Places {
        first: FxHashMap::default(),
        next: Vec::with_capacity(spots.len()),
    };
    seen.first.reserve(spots.len());
    let (mut index, mut points, mut heights) = (
        Vec::with_capacity(spots.len()),
        Vec::with_capacity(spots.len()),
        Vec::with_capacity(spots.len()),
    );
    let mut owner: Vec<u32> = Vec::with_capacity(spots.len());
    for (k, spot) in spots.iter().enumerate() {
        let p = [spot.at[0], spot.at[1]];
        let id = seen.find(p, &points).unwrap_or_else(|| {
            seen.add(p);
            points.push(p);
            heights.push(spot.at[2]);
            owner.push(k as u32);
            points.len() as u32 - 1
        });
        let off = spot.at[2] - heights[id as usize];
        if off.abs() > SAME {
            let first = spots[owner[id as usize] as usize].name;
            findings.push(
                Finding::new(
                    Severity::Error,
                    format!("shot {}", spot.name),
                    format!("stands at the same place as shot {first} but {} {}", format_length(off.abs(), unit), if off > 0.0 { "higher" } else { "lower" }),
                    "place one of them again; on a wall, tape top and foot each where it stands, a little apart, and join each with a breakline",
                )
                .at(spot.at[0], spot.at[1], spot.at[2]),
            );
        }
        index.push(id);
    }
    (index, points, heights)
}

/// Breaklines as segments between points; where two cross, a point is put in.
fn split_crossings(
    lines: &[Outline],
    index: &[u32],
    points: &mut Vec<P2>,
    heights: &mut Vec<f64>,
    unit: Unit,
    findings: &mut Vec<Finding>,
) -> Vec<(String, u32, u32)> {
    let mut segments: Vec<(usize, u32, u32)> = Vec::new();
    for (l, line) in lines.iter().enumerate() {
        let ids: Vec<Option<u32>> = line
            .corners
            .iter()
            .map(|c| match c {
                Corner::Spot(k) => index.get(*k).copied(),
                Corner::Place(_) => None,
            })
            .collect();
        if ids.iter().any(Option::is_none) {
            findings.push(Finding::new(
                Severity::Error,
                format!("breakline {}", line.name),
                "has a point without a ground elevation, so it is left out",
                "run breaklines through ground shots only",
            ));
            continue;
        }
        let ids: Vec<u32> = ids.into_iter().flatten().collect();
        for w in ids.windows(2).filter(|w| w[0] != w[1]) {
            segments.push((l, w[0], w[1]));
        }
    }
    let mut cuts: Vec<Vec<(f64, u32)>> = vec![Vec::new(); segments.len()];
    let mut order: Vec<usize> = (0..segments.len()).collect();
    let span = |s: &(usize, u32, u32), points: &[P2]| {
        let (a, b) = (points[s.1 as usize][0], points[s.2 as usize][0]);
        (a.min(b), a.max(b))
    };
    order.sort_by(|&i, &j| {
        span(&segments[i], points)
            .0
            .total_cmp(&span(&segments[j], points).0)
    });
    for (n, &i) in order.iter().enumerate() {
        let end = span(&segments[i], points).1;
        for &j in &order[n + 1..] {
            if span(&segments[j], points).0 > end {
                break;
            }
            let ((li, a, b), (lj, c, d)) = (segments[i], segments[j]);
            let (pa, pb, pc, pd) = (
                points[a as usize],
                points[b as usize],
                points[c as usize],
                points[d as usize],
            );
            let Some((t, u)) = proper_crossing(pa, pb, pc, pd) else {
                continue;
            };
            let z = |a: u32, b: u32, t: f64| {
                heights[a as usize] + t * (heights[b as usize] - heights[a as usize])
            };
            let (zi, zj) = (z(a, b, t), z(c, d, u));
            let p = [pa[0] + t * (pb[0] - pa[0]), pa[1] + t * (pb[1] - pa[1])];
            if (zi - zj).abs() > 0.01 {
                findings.push(
                    Finding::new(
                        Severity::Error,
                        format!("breakline {}", lines[li].name),
                        format!(
                            "crosses breakline {} at different elevations, {} apart",
                            lines[lj].name,
                            format_length((zi - zj).abs(), unit)
                        ),
                        "check the shots of both lines; breaklines may meet, but not pass over each other",
                    )
                    .at(p[0], p[1], zi),
                );
            }
            // A third line through the same place, or a shot within a hair of it: one point.
            let near = |id: &u32| {
                let q = points[*id as usize];
                (q[0] - p[0]).hypot(q[1] - p[1]) <= SAME
            };
            let known = cuts[i].iter().chain(&cuts[j]).map(|c| c.1);
            let id = known.chain([a, b, c, d]).find(near).unwrap_or_else(|| {
                points.push(p);
                heights.push(0.5 * (zi + zj));
                points.len() as u32 - 1
            });
            for (k, f, ends) in [(i, t, [a, b]), (j, u, [c, d])] {
                if !ends.contains(&id) && cuts[k].iter().all(|c| c.1 != id) {
                    cuts[k].push((f, id));
                }
            }
        }
    }
    let mut split = Vec::with_capacity(segments.len());
    for ((l, a, b), mut cut) in segments.into_iter().zip(cuts) {
        cut.sort_by(|x, y| x.0.total_cmp(&y.0));
        let mut from = a;
        for to in cut.into_iter().map(|c| c.1).chain([b]) {
            split.push((lines[l].name.clone(), from, to));
            from = to;
        }
    }
    split
}

/// Recovers a ring's edges; returns it in plan, or `None` if it cannot be used.
fn drape_ring(
    made: &mut Triangulation,
    ring: &Outline,
    is_outline: bool,
    index: &[u32],
    spots: &[GroundSpot],
    findings: &mut Vec<Finding>,
) -> Option<Vec<P2>> {
    let plan: Vec<P2> = ring
        .corners
        .iter()
        .map(|c| match *c {
            Corner::Spot(k) => [spots[k].at[0], spots[k].at[1]],
            Corner::Place(p) => p,
        })
        .collect();
    if plan.len() < 3 {
        findings.push(Finding::new(
            Severity::Error,
            ring.name.clone(),
            format!(
                "its outline has {} points; at least three are needed",
                plan.len()
            ),
            "give the corners in order around it",
        ));
        return None;
    }
    if let Some((i, j)) = self_crossing(&plan) {
        findings.push(
            Finding::new(
                Severity::Error,
                ring.name.clone(),
                format!(
                    "its outline crosses itself: side {} and side {}",
                    i + 1,
                    j + 1
                ),
                "give the corners in order around it",
            )
            .at(plan[i][0], plan[i][1], 0.0),
        );
        return None;
    }
    let mut ids = Vec::with_capacity(plan.len());
    let mut hint = 0;
    for (c, p) in ring.corners.iter().zip(&plan) {
        let id = match c {
            Corner::Spot(k) => Some(index[*k]),
            Corner::Place(p) => made.locate(*p, hint).map(|t| {
                hint = t;
                made.insert(*p, t)
            }),
        };
        if id.is_none() {
            findings.push(
                Finding::new(
                    if is_outline {
                        Severity::Error
                    } else {
                        Severity::Note
                    },
                    ring.name.clone(),
                    "its outline reaches beyond the shots",
                    if is_outline {
                        "shoot the corners of the outline, or draw it inside the shots"
                    } else {
                        "nothing to do if that part of the yard does not matter"
                    },
                )
                .at(p[0], p[1], 0.0),
            );
        }
        ids.push(id);
    }
    if is_outline && ids.iter().any(Option::is_none) {
        return None;
    }
    for k in 0..ids.len() {
        let m = (k + 1) % ids.len();
        let (Some(a), Some(b)) = (ids[k], ids[m]) else {
            continue;
        };
        let both_shot = matches!(
            (ring.corners[k], ring.corners[m]),
            (Corner::Spot(_), Corner::Spot(_))
        );
        let done = if both_shot {
            made.constrain(a, b)
        } else {
            made.drape(a, b).map(|_| ())
        };
        // A ring edge that meets a breakline crosses it there: draping keeps both.
        let done = match done {
            Err(Trouble::Blocked(..)) => made.drape(a, b).map(|_| ()),
            other => other,
        };
        if done.is_err() {
            findings.push(Finding::new(
                Severity::Warning,
                ring.name.clone(),
                format!(
                    "side {} of its outline could not be followed exactly",
                    k + 1
                ),
                "check for shots very near to that side",
            ));
        }
    }
    Some(plan)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(name: &str, at: [f64; 3]) -> GroundSpot<'_> {
        GroundSpot { name, at }
    }

    fn square() -> Vec<GroundSpot<'static>> {
        vec![
            spot("a", [-10.0, -10.0, 1.0]),
            spot("b", [10.0, -10.0, 1.0]),
            spot("c", [10.0, 10.0, 1.0]),
            spot("d", [-10.0, 10.0, 1.0]),
        ]
    }

    #[test]
    fn spots_a_hair_apart_are_one_wherever_they_lie() {
        // Over the borders of any cells: pairs half a millimetre apart at every eighth of one.
        for k in 0..400 {
            let x = k as f64 * SAME / 8.0;
            let mut spots = square();
            spots.push(spot("e", [x, 0.3, 1.2]));
            spots.push(spot("f", [x + 0.5 * SAME, 0.3 + 0.5 * SAME, 1.2]));
            let made = build(&spots, &[], None, &[], Unit::Metre);
            assert_eq!(made.surface.points.len(), 5, "at {x}");
            assert!(made.findings.is_empty(), "at {x}: {:?}", made.findings);
            // The same with another elevation is an error that names both.
            spots[5].at[2] = 1.5;
            let made = build(&spots, &[], None, &[], Unit::Metre);
            assert_eq!(made.findings.len(), 1, "at {x}");
            let f = &made.findings[0];
            assert!(f.place.contains('f') && f.what.contains("shot e"), "{f:?}");
            // Two millimetres apart they are two.
            spots[5].at = [x + 2.0 * SAME, 0.3, 1.5];
            let made = build(&spots, &[], None, &[], Unit::Metre);
            assert_eq!(made.surface.points.len(), 6, "at {x}");
        }
    }

    fn line(name: &str, from: usize, to: usize) -> Outline {
        Outline {
            name: name.into(),
            corners: vec![Corner::Spot(from), Corner::Spot(to)],
        }
    }

    #[test]
    fn three_breaklines_through_one_place_make_one_point() {
        for turn in 0..40 {
            let mut spots = square();
            for k in 0..6 {
                // Opposite ends of three lines through (0.3, 0.7), of unlike lengths.
                let angle = turn as f64 * 0.07 + (k % 3) as f64;
                let (s, c) = angle.sin_cos();
                let reach = if k < 3 {
                    3.0 + k as f64
                } else {
                    k as f64 - 7.5
                };
                spots.push(spot("", [0.3 + reach * c, 0.7 + reach * s, 1.0]));
            }
            let lines = [line("p", 4, 7), line("q", 5, 8), line("r", 6, 9)];
            let made = build(&spots, &lines, None, &[], Unit::Metre);
            assert!(made.findings.is_empty(), "{turn}: {:?}", made.findings);
            let middle = made
                .surface
                .points
                .iter()
                .filter(|p| (p[0] - 0.3).hypot(p[1] - 0.7) < 2.0 * SAME);
            assert_eq!(middle.count(), 1, "turn {turn}");
            assert_eq!(made.surface.points.len(), 11, "turn {turn}");
            let area = made.surface.plan_area();
            assert!((area - 400.0).abs() < 1e-9, "turn {turn}: {area}");
        }
    }

    #[test]
    fn a_line_that_passes_a_hair_from_a_shot_goes_through_it() {
        let mut spots = square();
        spots.push(spot("e", [-5.0, 0.0, 1.0]));
        spots.push(spot("f", [5.0, 0.0, 1.0]));
        // Its end lies just over the other line.
        spots.push(spot("g", [0.0, 0.4 * SAME, 1.0]));
        spots.push(spot("h", [0.0, -5.0, 1.0]));
        let lines = [line("p", 4, 5), line("q", 6, 7)];
        let made = build(&spots, &lines, None, &[], Unit::Metre);
        assert!(made.findings.is_empty(), "{:?}", made.findings);
        assert_eq!(made.surface.points.len(), 8);
    }
}
