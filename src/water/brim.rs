//! The brim: how high the ground stands over the water, all round its edge. Metres.
//!
//! At each place of the edge the ground is followed straight outwards, to where it falls below the
//! water again or `reach` has been gone; its highest point there less the water's level is the
//! freeboard of that place. What runs round a corner is seen only by the flood: the least freeboard
//! of the plan, not of this profile, is the figure to build by.

use rayon::prelude::*;

use crate::terrain::predicates::P2;
use crate::terrain::{Probe, Span};

/// A place of the water's edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BrimPoint {
    /// Distance along the edge from its first corner.
    pub along: f64,
    pub at: P2,
    /// Outwards, of length one.
    pub out: P2,
    pub freeboard: f64,
}

/// Inside the edge by this much, so that an upright face at the edge is met from its foot.
const STEP_IN: f64 = 1e-3;

/// The profile along the lines of an edge, places at most `spacing` apart; a closed line ends with
/// its first place again. `sheet` is the water in plan: what has it on both sides is no edge.
pub fn brim(
    probe: &Probe,
    edge: &[Vec<P2>],
    sheet: &[[P2; 3]],
    level: f64,
    reach: f64,
    spacing: f64,
) -> Vec<Vec<BrimPoint>> {
    if !(reach > 0.0 && spacing > 0.0) {
        return Vec::new();
    }
    let sheet: Vec<(Span, &[P2; 3])> = sheet.iter().map(|t| (Span::of(*t), t)).collect();
    let wet = |p: P2| {
        sheet
            .iter()
            .any(|(span, t)| span.holds(p) && in_triangle(t, p))
    };
    let mut pieces = Vec::new();
    for ring in edge.iter().filter(|ring| ring.len() > 1) {
        let mut piece: Vec<BrimPoint> = Vec::new();
        let mut whole = true;
        let mut run = 0.0;
        for i in 0..ring.len() {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            let d = [b[0] - a[0], b[1] - a[1]];
            let length = (d[0] * d[0] + d[1] * d[1]).sqrt();
            if length < 1e-6 {
                continue;
            }
            let right = [d[1] / length, -d[0] / length];
            let middle = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
            let beside = |k: f64| wet([middle[0] + k * right[0], middle[1] + k * right[1]]);
            let thin = STEP_IN.min(length / 4.0);
            let out = match (beside(-thin), beside(thin)) {
                (true, false) => right,
                (false, true) => [-right[0], -right[1]],
                // The line was left open here.
                _ => {
                    whole = false;
                    if piece.len() > 1 {
                        pieces.push(std::mem::take(&mut piece));
                    }
                    piece.clear();
                    run += length;
                    continue;
                }
            };
            let steps = (length / spacing).ceil().max(1.0) as usize;
            for s in 0..steps {
                let f = (s as f64 + 0.5) / steps as f64;
                let at = [a[0] + f * d[0], a[1] + f * d[1]];
                piece.push(BrimPoint {
                    along: run + f * length,
                    at,
                    out,
                    // Looked for when all places are known.
                    freeboard: 0.0,
                });
            }
            run += length;
        }
        if whole && let Some(first) = piece.first().copied() {
            piece.push(BrimPoint {
                along: run + first.along,
                ..first
            });
        }
        if piece.len() > 1 {
            pieces.push(piece);
        }
    }
    pieces
        .par_iter_mut()
        .flat_map(|piece| piece.par_iter_mut())
        .for_each(|p| p.freeboard = highest(probe, p.at, p.out, level, reach) - level);
    pieces
}

fn in_triangle(t: &[P2; 3], p: P2) -> bool {
    let side = |a: P2, b: P2| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
    let s = [side(t[0], t[1]), side(t[1], t[2]), side(t[2], t[0])];
    s.iter().all(|v| *v >= 0.0) || s.iter().all(|v| *v <= 0.0)
}

/// The highest ground outwards, before it falls below the water; the level itself where there is
/// none.
fn highest(probe: &Probe, at: P2, out: P2, level: f64, reach: f64) -> f64 {
    let along = |k: f64| [at[0] + k * out[0], at[1] + k * out[1]];
    let mut top = level;
    for [s, z] in probe.section(along(-STEP_IN), along(reach)) {
        if s > 2.0 * STEP_IN && z < level - 1e-3 {
            break;
        }
        top = top.max(z);
    }
    top
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terrain::Surface;

    /// Rings of a square pond: floor, water's edge, crest, foot. The crest is 0.5 + 0.1 x over the
    /// water.
    fn pond() -> Surface {
        let mut points = vec![];
        let crest = |x: f64| 0.5 + 0.1 * x;
        for (half, z) in [(0.5, -1.0), (1.0, 0.0), (2.0, f64::NAN), (4.0, -1.0)] {
            for [x, y] in [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]] {
                let z = if f64::is_nan(z) { crest(x * half) } else { z };
                points.push([x * half, y * half, z]);
            }
        }
        let mut triangles = vec![[0, 1, 2], [0, 2, 3]];
        for ring in 0..3u32 {
            for k in 0..4u32 {
                let (a, b) = (4 * ring + k, 4 * ring + (k + 1) % 4);
                triangles.push([a, a + 4, b + 4]);
                triangles.push([a, b + 4, b]);
            }
        }
        let made_by = vec![0; triangles.len()];
        Surface {
            points,
            triangles,
            made_by,
        }
    }

    const SHEET: [[P2; 3]; 2] = [
        [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0]],
        [[-1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]],
    ];

    #[test]
    fn the_crest_of_a_square_pond_is_followed() {
        let ring: Vec<P2> = vec![[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]];
        let reversed: Vec<P2> = ring.iter().rev().copied().collect();
        for ring in [ring, reversed] {
            let profile = brim(&Probe::new(&pond()), &[ring], &SHEET, 0.0, 3.0, 0.1);
            assert_eq!(profile.len(), 1);
            for b in &profile[0] {
                // Straight out: the sides meet the crest at x = ±2, top and bottom at their own x.
                let x = if b.out[0].abs() > 0.5 {
                    2.0 * b.out[0]
                } else {
                    b.at[0]
                };
                let expected = 0.5 + 0.1 * x;
                assert!(
                    (b.freeboard - expected).abs() < 1e-9,
                    "{b:?}: by hand {expected}"
                );
            }
            let least = profile[0].iter().map(|b| b.freeboard).fold(1.0, f64::min);
            assert!((least - 0.3).abs() < 1e-9, "least {least}, by hand 0.3");
            let round = profile[0].last().map_or(0.0, |b| b.along);
            assert!(
                (round - 8.05).abs() < 1e-9,
                "{round}, by hand 8 and the first 0.05"
            );
        }
    }

    #[test]
    fn an_open_line_is_not_closed_through_the_water() {
        let open = vec![[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0]];
        let profile = brim(&Probe::new(&pond()), &[open], &SHEET, 0.0, 3.0, 0.1);
        let points: Vec<_> = profile.iter().flatten().collect();
        assert_eq!(points.len(), 40, "two sides of 20 places");
        assert!(
            points.iter().all(|b| b.freeboard > 0.2),
            "a chord was followed"
        );
    }

    #[test]
    fn nothing_to_follow_gives_nothing() {
        let ring = vec![vec![[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0]]];
        assert!(brim(&Probe::new(&pond()), &ring, &[], 0.0, 1.0, 0.5).is_empty());
        assert!(brim(&Probe::new(&pond()), &ring, &SHEET, 0.0, 0.0, 0.5).is_empty());
    }

    /// On the demo the ribbon and the flood, which share no code, agree on the pond's lowest place.
    #[test]
    fn the_demo_has_its_freeboard_all_round() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let (_, job) = crate::job::Document::load(&path).unwrap_or_else(|e| panic!("{e}"));
        let plan = crate::plan::Plan::of(&job);
        let pond = plan.water.iter().find(|w| w.name == "pond");
        let pond = pond.unwrap_or_else(|| panic!("the demo has a pond"));
        let profile = brim(
            &Probe::new(&plan.finished),
            &pond.edge,
            &pond.sheet,
            pond.level_m,
            2.0,
            0.1,
        );
        let least = profile
            .iter()
            .flatten()
            .map(|b| b.freeboard)
            .fold(f64::INFINITY, f64::min);
        assert!(
            (least - pond.freeboard_min_m).abs() < 0.002,
            "least of the ribbon {least}, of the flood {}",
            pond.freeboard_min_m
        );
    }
}
