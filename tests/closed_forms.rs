//! Dug and placed shapes against closed forms and a published pond. Metres unless said.

mod common;

use brimline::earthwork::compose::{How, compose};
use brimline::earthwork::facet::{self, Slope};
use brimline::earthwork::{Act, Mosaic, assemble};
use brimline::terrain::Surface;
use brimline::terrain::predicates::P2;
use brimline::water::Terrain;
use common::close;

const FOOT: f64 = 0.3048;

/// Ground over a rectangle, from scattered points with elevations `z(x, y)`.
fn ground(w: f64, h: f64, n: usize, z: impl Fn(f64, f64) -> f64) -> Surface {
    common::ground([0.0, 0.0], [w, h], n, 1, z)
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
    let moved = m.finish(0.0, false);
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
    let moved = m.finish(0.0, false);
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
    let moved = m.finish(0.0, false);
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
    let moved = m.finish(0.0, false);
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
    let placed = m.finish(0.0, false);
    let pit = rectangle(18.0, 5.0, 10.0, 10.0, 9.0);
    m.begin(false);
    facet::flat(&plan(&pit), 9.0, 2)
        .iter()
        .for_each(|f| m.apply(Act::Dig, f));
    let dug = m.finish(0.0, false);
    close("bank soil dug under the ramp", dug.cut_bank, 100.0, 1e-9);
    m.begin(false);
    m.restore(ramp, Act::Dig);
    let back = m.finish(0.0, false);
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

/// A berm with a bend, level, on level ground. Its crest moved out by d has the area A + P d + d² Σ tan(t / 2)
/// over the turns t of its corners, less than nothing at an inward one; a corner that turns by more than
/// 1.75 is rounded off, as a fan of n chords: n sin(t / n) / 2 in place of tan(t / 2) (geometry). With a
/// batter b and a height h the volume is A h + P b h² / 2 + b² h³ / 3 of that sum.
#[test]
fn a_bent_berm_is_its_crest_moved_out() {
    for degrees in [
        -150.0f64, -120.0, -95.0, -60.0, -20.0, 10.0, 45.0, 90.0, 110.0, 140.0, 165.0,
    ] {
        let bend = degrees.to_radians();
        let line = [
            [20.0, 30.0],
            [40.0, 30.0],
            [40.0 + 15.0 * bend.cos(), 30.0 + 15.0 * bend.sin()],
        ];
        let (half, high, batter) = (0.6, 1.0, 1.5);
        let mut m = Mosaic::new(ground(80.0, 60.0, 300, |_, _| 10.0));
        let ring = facet::strip(&line, half, half, |_| 10.0 + high);
        m.begin(false);
        for f in facet::strip_core(&ring, 1).iter().chain(&facet::sides(
            &ring,
            |_| batter,
            Slope::Down,
            9.0,
            1,
        )) {
            m.apply(Act::Place, f);
        }
        let placed = m.finish(0.0, false).fill;
        let crest = plan(&ring);
        let n = crest.len();
        let (mut area, mut around, mut corners) = (0.0, 0.0, 0.0);
        for k in 0..n {
            let [a, b, c] = [k, k + 1, k + 2].map(|k| crest[k % n]);
            let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
            area += 0.5 * (a[0] * b[1] - a[1] * b[0]);
            around += u[0].hypot(u[1]);
            let turn = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
            let chords = (turn / 0.25).ceil();
            corners += if turn > 1.75 {
                0.5 * chords * (turn / chords).sin()
            } else {
                (0.5 * turn).tan()
            };
        }
        let expected = area * high
            + 0.5 * around * batter * high * high
            + batter * batter * high.powi(3) / 3.0 * corners;
        close(&format!("bent by {degrees}°"), placed, expected, 1e-9);
        // Up to where its corners are cut, the crest is as wide as it is said to be.
        if degrees.abs() < 130.0 {
            close("crest", area, 35.0 * 2.0 * half, 1e-9);
        }
    }
}

// ---------------------------------------------------------------- bodies with curved faces

/// A bowl or mound of similar rings, laid out as flat faces between them: rings of an ellipse with
/// half-axes `a · s` and `b · s` and `n` corners at elevation `z`, from the rim inward; the last may
/// be a point (`s` = 0). Source of every volume below: geometry.
fn rings(at: P2, a: f64, b: f64, n: usize, levels: &[(f64, f64)]) -> Surface {
    let mut points: Vec<[f64; 3]> = Vec::new();
    let mut triangles: Vec<[u32; 3]> = Vec::new();
    for &(s, z) in levels {
        if s == 0.0 {
            points.push([at[0], at[1], z]);
            continue;
        }
        points.extend((0..n).map(|k| {
            let w = k as f64 * std::f64::consts::TAU / n as f64;
            [at[0] + a * s * w.cos(), at[1] + b * s * w.sin(), z]
        }));
    }
    for (r, w) in levels.windows(2).enumerate() {
        for k in 0..n {
            let m = (k + 1) % n;
            let (o0, o1) = ((r * n + k) as u32, (r * n + m) as u32);
            if w[1].0 == 0.0 {
                triangles.push([o0, o1, ((r + 1) * n) as u32]);
            } else {
                let (i0, i1) = (((r + 1) * n + k) as u32, ((r + 1) * n + m) as u32);
                triangles.extend([[o0, o1, i1], [o0, i1, i0]]);
            }
        }
    }
    if let Some(&(s, _)) = levels.last().filter(|l| l.0 > 0.0) {
        assert!(s > 0.0);
        let first = ((levels.len() - 1) * n) as u32;
        triangles.extend((1..n as u32 - 1).map(|k| [first, first + k, first + k + 1]));
    }
    Surface {
        made_by: vec![1; triangles.len()],
        points,
        triangles,
    }
}

/// Area of the `n`-cornered ring with half-axes `a` and `b`: an affine image of the regular polygon.
fn ring_area(a: f64, b: f64, n: usize) -> f64 {
    0.5 * n as f64 * a * b * (std::f64::consts::TAU / n as f64).sin()
}

/// Volume between similar rings: frusta of pyramids, h/3 (A1 + A2 + √(A1 A2)).
fn faceted(a: f64, b: f64, n: usize, levels: &[(f64, f64)]) -> f64 {
    levels
        .windows(2)
        .map(|w| {
            let (one, two) = (
                ring_area(a, b, n) * w[0].0.powi(2),
                ring_area(a, b, n) * w[1].0.powi(2),
            );
            (w[1].1 - w[0].1).abs() / 3.0 * (one + two + (one * two).sqrt())
        })
        .sum()
}

/// Digs (or places) the shape at n and 2n corners (and twice the rings): each exact for its flat
/// faces, and the gap to the closed form at least `shrink` times smaller.
fn converges(
    what: &str,
    how: How,
    closed: f64,
    (a, b): (f64, f64),
    levels: impl Fn(usize) -> Vec<(f64, f64)>,
    shrink: f64,
) {
    let level = 10.0;
    let gap = |n: usize| {
        let levels = levels(n);
        let template = rings([20.3, 19.1], a, b, n, &levels);
        let (made, moved) = compose(&ground(40.0, 40.0, 300, |_, _| level), &template, how);
        let found = if how == How::DigTo {
            assert!(moved.fill < 1e-12, "{what}: fill {}", moved.fill);
            moved.cut_bank
        } else {
            assert!(moved.cut_bank < 1e-12, "{what}: cut {}", moved.cut_bank);
            moved.fill
        };
        let flat = faceted(a, b, n, &levels);
        close(
            &format!("{what}, {n} corners, flat faces"),
            found,
            flat,
            1e-9,
        );
        close(
            &format!("{what}, plan"),
            moved.area,
            ring_area(a, b, n),
            1e-9,
        );
        let change = (made.volume_over(0.0) - 1600.0 * level).abs();
        close(&format!("{what}, surface left"), change, flat, 1e-7);
        (found - closed).abs()
    };
    let (coarse, fine) = (gap(24), gap(48));
    assert!(
        fine * shrink < coarse && fine < 0.02 * closed,
        "{what}: off the closed form {closed} by {coarse} with 24 corners and {fine} with 48"
    );
}

/// Cone: π r² h / 3.
#[test]
fn dug_cone() {
    let (r, h) = (6.0, 2.5);
    let closed = std::f64::consts::PI * r * r * h / 3.0;
    converges(
        "cone",
        How::DigTo,
        closed,
        (r, r),
        |_| vec![(1.0, 10.0), (0.0, 10.0 - h)],
        3.9,
    );
}

/// Frustum of a cone: π h / 3 (R² + R r + r²).
#[test]
fn dug_frustum_of_a_cone() {
    let (top, bottom, h) = (7.0, 4.0, 1.8);
    let closed = std::f64::consts::PI * h / 3.0 * (top * top + top * bottom + bottom * bottom);
    converges(
        "frustum of a cone",
        How::DigTo,
        closed,
        (top, top),
        |_| vec![(1.0, 10.0), (bottom / top, 10.0 - h)],
        3.9,
    );
}

/// Spherical cap: π h² (3 R − h) / 3, placed as a mound.
#[test]
fn placed_cap() {
    let (radius, h) = (9.0f64, 2.0f64);
    let closed = std::f64::consts::PI * h * h * (3.0 * radius - h) / 3.0;
    let rim = (2.0 * radius * h - h * h).sqrt();
    converges(
        "spherical cap",
        How::PlaceTo,
        closed,
        (rim, rim),
        |n| {
            let steps = n / 3;
            (0..=steps)
                .map(|k| {
                    let r = rim * (1.0 - k as f64 / steps as f64);
                    let z = 10.0 - radius + h + (radius * radius - r * r).sqrt();
                    // The rim lies on the ground, not a rounding error off it.
                    (r / rim, if k == 0 { 10.0 } else { z })
                })
                .collect()
        },
        3.5,
    );
}

/// Basin on an ellipse, its section a parabola: π a b d / 2.
#[test]
fn dug_ellipse_basin() {
    let (a, b, d) = (8.0, 5.0, 1.5);
    let closed = std::f64::consts::PI * a * b * d / 2.0;
    converges(
        "ellipse basin",
        How::DigTo,
        closed,
        (a, b),
        |n| {
            let steps = n / 3;
            (0..=steps)
                .map(|k| {
                    let s = 1.0 - k as f64 / steps as f64;
                    (s, 10.0 - d * (1.0 - s * s))
                })
                .collect()
        },
        3.5,
    );
}

/// Wedge with base a × b and a ridge of length c along a: b h (2 a + c) / 6.
#[test]
fn placed_wedge() {
    let (a, b, c, h) = (9.0, 4.0, 5.0, 1.7);
    let (x, y) = (14.2, 17.9);
    let ridge = 0.5 * (a - c);
    let template = Surface {
        points: vec![
            [x, y, 10.0],
            [x + a, y, 10.0],
            [x + a, y + b, 10.0],
            [x, y + b, 10.0],
            [x + ridge, y + 0.5 * b, 10.0 + h],
            [x + ridge + c, y + 0.5 * b, 10.0 + h],
        ],
        triangles: vec![
            [0, 1, 5],
            [0, 5, 4],
            [1, 2, 5],
            [2, 3, 4],
            [2, 4, 5],
            [3, 0, 4],
        ],
        made_by: vec![1; 6],
    };
    let (_, moved) = compose(
        &ground(40.0, 40.0, 300, |_, _| 10.0),
        &template,
        How::PlaceTo,
    );
    close("wedge", moved.fill, b * h * (2.0 * a + c) / 6.0, 1e-9);
}

// ---------------------------------------------------------------- water

/// Digs a rectangular basin with sides of one batter; floor at `z`.
fn basin(m: &mut Mosaic, x: f64, y: f64, w: f64, h: f64, z: f64, batter: f64) {
    let ring = rectangle(x, y, w, h, z);
    m.begin(false);
    for f in facet::flat(&plan(&ring), z, 1).iter().chain(&facet::sides(
        &ring,
        |_| batter,
        Slope::Up,
        16.0,
        1,
    )) {
        m.apply(Act::Dig, f);
    }
    m.finish(0.0, false);
}

fn slot(m: &mut Mosaic, line: &[P2], width: f64, z: f64) {
    let ring = facet::strip(line, 0.5 * width, 0.5 * width, |_| z);
    m.begin(false);
    facet::strip_core(&ring, 2)
        .iter()
        .for_each(|f| m.apply(Act::Dig, f));
    m.finish(0.0, false);
}

/// Water in a frustum of a pyramid: area, prismoidal volume, depth and shore at any level.
#[test]
fn water_in_a_frustum() {
    let mut m = Mosaic::new(ground(40.0, 40.0, 300, |_, _| 10.0));
    let (w, h, batter) = (7.0, 5.0, 1.5);
    basin(&mut m, 15.0, 16.0, w, h, 8.0, batter);
    let made = assemble(&m);
    let terrain = Terrain::new(&made, &[]);
    for depth in [0.05, 0.7, 1.0, 1.9] {
        let reach = terrain
            .stand([18.0, 18.0], 8.0 + depth, |_| false)
            .expect("water");
        let side = |d: f64| (w + 2.0 * batter * d, h + 2.0 * batter * d);
        let area = |d: f64| side(d).0 * side(d).1;
        let volume = depth / 6.0 * (area(0.0) + 4.0 * area(0.5 * depth) + area(depth));
        close("area of water", reach.area, area(depth), 1e-9);
        close("volume of water", reach.volume, volume, 1e-9);
        close("depth of water", reach.depth, depth, 1e-12);
        let sheet: f64 = reach
            .sheet
            .iter()
            .map(|[a, b, c]| 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])))
            .sum();
        close("sheet of water", sheet, area(depth), 1e-9);
        assert_eq!(reach.edge.len(), 1, "one shore");
        // A ring: its last corner joins its first.
        let ring = &reach.edge[0];
        let shore: f64 = (0..ring.len())
            .map(|k| {
                let (p, q) = (ring[k], ring[(k + 1) % ring.len()]);
                (q[0] - p[0]).hypot(q[1] - p[1])
            })
            .sum();
        close(
            "length of the shore",
            shore,
            2.0 * (side(depth).0 + side(depth).1),
            1e-7,
        );
        close("spill, level ground", reach.spill, 10.0, 1e-12);
        assert!(!reach.leaves_survey);
    }
    assert!(
        terrain.stand([18.0, 18.0], 8.0, |_| false).is_none(),
        "no water at the floor's own level"
    );
    assert!(
        terrain.stand([2.0, 2.0], 9.0, |_| false).is_none(),
        "no water on high ground"
    );
    assert!(
        terrain.stand([-5.0, 2.0], 9.0, |_| false).is_none(),
        "no water outside the survey"
    );
}

/// A bowl with a notch to the end of the survey spills at the notch's floor.
#[test]
fn a_notch_spills() {
    let mut m = Mosaic::new(ground(40.0, 40.0, 300, |_, _| 10.0));
    basin(&mut m, 15.0, 16.0, 7.0, 5.0, 8.0, 1.0);
    slot(&mut m, &[[20.0, 18.0], [40.0, 18.3]], 0.6, 9.37);
    let made = assemble(&m);
    let terrain = Terrain::new(&made, &[]);
    let reach = terrain.stand([17.0, 18.0], 9.0, |_| false).expect("water");
    close("spill at the notch", reach.spill, 9.37, 1e-9);
    assert!(!reach.leaves_survey, "held under the notch");
    let over = terrain.stand([17.0, 18.0], 9.6, |_| false).expect("water");
    close("spill over the notch", over.spill, 9.37, 1e-9);
    assert!(over.leaves_survey, "it runs out of the notch");
}

/// Two bowls with a saddle between: under the saddle each is its own; over it they are one.
#[test]
fn a_saddle_joins_two_bowls() {
    let mut m = Mosaic::new(ground(50.0, 30.0, 300, |_, _| 10.0));
    basin(&mut m, 10.0, 12.0, 5.0, 5.0, 8.0, 1.0);
    basin(&mut m, 30.0, 12.0, 6.0, 4.0, 7.5, 1.0);
    slot(&mut m, &[[14.0, 14.0], [31.0, 14.0]], 0.8, 9.4);
    let made = assemble(&m);
    let terrain = Terrain::new(&made, &[]);
    let at = |seed: P2, z: f64| terrain.stand(seed, z, |_| false).expect("water");
    let (one, two) = ([12.0, 14.0], [33.0, 14.0]);
    let (a, b) = (at(one, 9.2), at(two, 9.2));
    close("saddle from the first", a.spill, 9.4, 1e-9);
    close("saddle from the second", b.spill, 9.4, 1e-9);
    let frustum = |w: f64, l: f64, d: f64| {
        d / 6.0 * (w * l + 4.0 * (w + d) * (l + d) + (w + 2.0 * d) * (l + 2.0 * d))
    };
    close("first alone", a.volume, frustum(5.0, 5.0, 1.2), 1e-9);
    close("second alone", b.volume, frustum(6.0, 4.0, 1.7), 1e-9);
    let both = at(one, 9.7);
    close(
        "over the saddle it is one",
        both.volume,
        at(two, 9.7).volume,
        1e-12,
    );
    close("then the ground holds it", both.spill, 10.0, 1e-9);
    // The slot between the banks at level z is 0.8 wide and runs where the banks are above 9.4.
    let d = 9.7 - 9.4;
    let bank = |z: f64, floor: f64| z - floor;
    let run = |z: f64| (30.0 - bank(z, 7.5)) - (15.0 + bank(z, 8.0));
    let slot = 0.8 * d / 6.0 * (run(9.4) + 4.0 * run(9.55) + run(9.7));
    close(
        "volume of the two and the slot",
        both.volume,
        frustum(5.0, 5.0, 1.7) + frustum(6.0, 4.0, 2.2) + slot,
        1e-9,
    );
}

/// On a slope the water leaves at the low side; a wall round that side lifts the spill to its cap,
/// or to the ground at its ends where that is lower.
#[test]
fn a_wall_round_the_low_side() {
    let slope = |x: f64, _: f64| 10.0 + 0.1 * (x - 20.0);
    let spill = |end: Option<f64>| {
        let mut m = Mosaic::new(ground(40.0, 40.0, 300, slope));
        basin(&mut m, 15.0, 15.0, 10.0, 10.0, 9.0, 0.0);
        if let Some(end) = end {
            let line = [[end, 25.2], [14.8, 25.2], [14.8, 14.8], [end, 14.8]];
            let ring = facet::strip(&line, 0.2, 0.2, |_| 10.4);
            m.begin(false);
            for f in facet::strip_core(&ring, 7) {
                m.build_solid(&f);
            }
            m.finish(0.0, false);
        }
        let made = assemble(&m);
        let reach = Terrain::new(&made, &[])
            .stand([20.0, 20.0], 9.3, |_| false)
            .expect("water");
        close("area", reach.area, 100.0, 1e-9);
        close("volume", reach.volume, 30.0, 1e-9);
        reach.spill
    };
    close("no wall: the ground at x = 15", spill(None), 9.5, 1e-9);
    close(
        "the wall runs into the slope: its cap",
        spill(Some(27.0)),
        10.4,
        1e-9,
    );
    close(
        "the wall ends at x = 22: the ground there",
        spill(Some(22.0)),
        10.2,
        1e-9,
    );
}

/// A first dig that goes down to the dug floor does not make the finished basin deeper: lining and
/// stone are laid up to the designed floor. Prism: 4 m × 4 m, 1 m deep under water, upright sides.
#[test]
fn an_earlier_dig_does_not_deepen_the_finished_basin() {
    let job = r#"(name: "two digs", unit: Metre,
        field_book: (
            benchmarks: [(name: "BM", elevation: 10, at: (0, 0))],
            points: [("1", 0, 0, 10), ("2", 20, 0, 10), ("3", 20, 20, 10), ("4", 0, 20, 10)],
        ),
        design: (
            pads: [(name: "first", outline: [(9, 9), (11, 9), (11, 11), (9, 11)], elevation: 8.6, batter: 0)],
            basins: [(name: "pond", water: 9.8, outline: [(8, 8), (12, 8), (12, 12), (8, 12)], floor_depth: 1,
                batter: 0, lining: [("stone", 0.3, Level)])],
        ),
        sequence: [(name: "a", works: ["first"]), (name: "b", works: ["pond"])],
    )"#;
    let (_, job) =
        brimline::job::Document::parse("two digs", job).unwrap_or_else(|e| panic!("{e}"));
    let plan = brimline::plan::Plan::of(&job);
    let water = &plan.water[0];
    close("greatest depth", water.depth_max_m, 1.0, 1e-9);
    close("volume of water", water.volume_m3, 16.0, 1e-9);
    close(
        "room for the stone",
        plan.volumes.dug_to_finished_m3,
        16.0 * 0.3,
        1e-9,
    );
}
