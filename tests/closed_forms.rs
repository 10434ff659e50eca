//! Dug and placed shapes against closed forms and a published pond. Metres unless said.

use brimline::earthwork::facet::{self, Slope};
use brimline::earthwork::{Act, Mosaic, assemble};
use brimline::terrain::predicates::P2;
use brimline::terrain::{Surface, constrained::Triangulation};

const FOOT: f64 = 0.3048;

/// Ground over a rectangle, from scattered points with elevations `z(x, y)`.
fn ground(w: f64, h: f64, n: usize, z: impl Fn(f64, f64) -> f64) -> Surface {
    let mut points: Vec<P2> = vec![[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
    let mut s = 88172645463325252u64;
    let mut random = move || {
        s ^= s << 13;
        s ^= s >> 7;
        s ^= s << 17;
        (s >> 11) as f64 / (1u64 << 53) as f64
    };
    for _ in 0..n {
        points.push([w * random(), h * random()]);
    }
    let made = Triangulation::new(points).unwrap();
    Surface {
        points: made
            .points
            .iter()
            .map(|p| [p[0], p[1], z(p[0], p[1])])
            .collect(),
        triangles: (0..made.triangles() as u32)
            .map(|t| made.corners(t))
            .collect(),
        made_by: vec![0; made.triangles()],
    }
}

fn close(what: &str, found: f64, expected: f64, relative: f64) {
    let off = (found - expected).abs() / expected.abs().max(1e-12);
    assert!(
        off <= relative,
        "{what}: found {found}, expected {expected}, off by {off:e} of it (allowed {relative:e})"
    );
}

fn rectangle(x: f64, y: f64, w: f64, h: f64, z: f64) -> Vec<[f64; 3]> {
    vec![[x, y, z], [x + w, y, z], [x + w, y + h, z], [x, y + h, z]]
}

fn plan(ring: &[[f64; 3]]) -> Vec<P2> {
    ring.iter().map(|p| [p[0], p[1]]).collect()
}

/// USDA NRCS, Agriculture Handbook 590, "Ponds: Planning, Design, Construction" (from memory):
/// bottom 40 × 100 ft, depth 12 ft, one end 4:1, the other sides 2:1. All sides are planes, so the
/// prismoidal value 53,952 × 2 ft³ = 3,996.44 yd³ is exact.
#[test]
fn handbook_pond() {
    let mut m = Mosaic::new(ground(260.0 * FOOT, 200.0 * FOOT, 300, |_, _| 50.0));
    let floor = 50.0 - 12.0 * FOOT;
    let ring = rectangle(80.0 * FOOT, 80.0 * FOOT, 100.0 * FOOT, 40.0 * FOOT, floor);
    m.begin(false);
    let mut facets = facet::flat(&plan(&ring), floor, 1);
    facets.extend(facet::sides(
        &ring,
        |i| if i == 1 { 4.0 } else { 2.0 },
        Slope::Up,
        50.5,
        1,
    ));
    for f in &facets {
        m.apply(Act::Dig, f);
    }
    let moved = m.finish(0.0);
    let yards = moved.cut_bank / (27.0 * FOOT.powi(3));
    close("handbook pond, yd³", yards, 53_952.0 * 2.0 / 27.0, 1e-9);
    close(
        "plan area, ft²",
        moved.area / FOOT.powi(2),
        88.0 * 172.0,
        1e-9,
    );
    let dug = assemble(&m).surface;
    close(
        "area kept",
        dug.plan_area(),
        260.0 * 200.0 * FOOT * FOOT,
        1e-9,
    );
    let before = 50.0 * dug.plan_area();
    close(
        "cut from the assembled surface",
        (before - dug.volume_over(0.0)) / (27.0 * FOOT.powi(3)),
        yards,
        1e-8,
    );
    assert_eq!(moved.fill, 0.0);
}

/// Frustum of a pyramid: V = h/3 (A1 + A2 + √(A1 A2)) (geometry); placed on a slope-free ground.
#[test]
fn placed_frustum() {
    let mut m = Mosaic::new(ground(40.0, 40.0, 200, |_, _| 10.0));
    let ring = rectangle(15.0, 16.0, 6.0, 5.0, 11.5);
    m.begin(false);
    let mut facets = facet::flat(&plan(&ring), 11.5, 1);
    facets.extend(facet::sides(&ring, |_| 1.5, Slope::Down, 9.0, 1));
    facets.iter().for_each(|f| m.apply(Act::Place, f));
    let moved = m.finish(0.0);
    let (w, l) = (5.0 + 2.0 * 2.25, 6.0 + 2.0 * 2.25);
    let prismoid = 1.5 / 6.0 * (30.0 + w * l + 4.0 * (5.0 + 2.25) * (6.0 + 2.25));
    close("placed frustum", moved.fill, prismoid, 1e-9);
    assert_eq!(moved.cut_bank, 0.0);
}

/// On a tilted plane ground a pad's cut and fill are equal by symmetry, and soil is conserved.
#[test]
fn pad_on_a_slope() {
    let mut m = Mosaic::new(ground(40.0, 40.0, 400, |x, _| 10.0 + 0.1 * (x - 20.0)));
    let before = m.volume_over(0.0);
    let ring = rectangle(16.0, 16.0, 8.0, 8.0, 10.0);
    m.begin(false);
    for f in facet::flat(&plan(&ring), 10.0, 1)
        .iter()
        .chain(&facet::sides(&ring, |_| 2.0, Slope::Down, 5.0, 1))
    {
        m.apply(Act::Place, f);
    }
    for f in facet::flat(&plan(&ring), 10.0, 1)
        .iter()
        .chain(&facet::sides(&ring, |_| 2.0, Slope::Up, 15.0, 1))
    {
        m.apply(Act::Dig, f);
    }
    let moved = m.finish(0.0);
    close("cut equals fill", moved.cut_bank, moved.fill, 1e-9);
    let after = m.volume_over(0.0);
    assert!((before - after - (moved.cut_bank - moved.fill)).abs() < 1e-9 * before);
    close(
        "assembled volume",
        assemble(&m).surface.volume_over(0.0),
        after,
        1e-9,
    );
}

/// A mound beyond the daylight line is left alone: the slope ended before it.
#[test]
fn a_mound_beyond_daylight_stays() {
    // Flat at 10 m; from x = 30 on, the ground climbs above where a 1:1 slope would run.
    let z = |x: f64, _: f64| {
        if x < 28.0 {
            10.0
        } else {
            10.0 + 3.0 * (x - 28.0)
        }
    };
    let mut m = Mosaic::new(ground(40.0, 20.0, 3000, z));
    let ring = rectangle(18.0, 8.0, 4.0, 4.0, 8.0);
    m.begin(false);
    for f in facet::flat(&plan(&ring), 8.0, 1)
        .iter()
        .chain(&facet::sides(&ring, |_| 1.0, Slope::Up, 46.0, 1))
    {
        m.apply(Act::Dig, f);
    }
    let moved = m.finish(0.0);
    let prismoid = 2.0 / 6.0 * (16.0 + 64.0 + 4.0 * 36.0);
    close("cut without the mound", moved.cut_bank, prismoid, 1e-9);
}

/// A ramp placed, dug through, and taken back: nothing counted twice, the ground as it was elsewhere.
#[test]
fn ramp_dug_through_and_taken_back() {
    let mut m = Mosaic::new(ground(40.0, 20.0, 200, |_, _| 10.0));
    let line = [[5.0, 10.0], [25.0, 10.0]];
    let ring = facet::strip(&line, 1.5, 1.5, |_| 11.0);
    let ramp = m.begin(true);
    for f in
        facet::strip_core(&ring, 1)
            .iter()
            .chain(&facet::sides(&ring, |_| 1.5, Slope::Down, 9.0, 1))
    {
        m.apply(Act::Place, f);
    }
    let placed = m.finish(0.0);
    let pit = rectangle(18.0, 5.0, 10.0, 10.0, 9.0);
    m.begin(false);
    facet::flat(&plan(&pit), 9.0, 2)
        .iter()
        .for_each(|f| m.apply(Act::Dig, f));
    let dug = m.finish(0.0);
    close("bank soil dug under the ramp", dug.cut_bank, 100.0, 1e-9);
    m.begin(false);
    m.restore(ramp, Act::Dig);
    let back = m.finish(0.0);
    close(
        "all of the ramp comes out once",
        dug.redug + back.redug,
        placed.fill,
        1e-9,
    );
    assert_eq!(back.cut_bank, 0.0);
    let (cut, fill) = m.since_survey();
    close("existing to dug", cut, 100.0, 1e-9);
    assert!(fill.abs() < 1e-9, "{fill}");
}
