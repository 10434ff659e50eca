//! What must be conserved, whatever the shapes: areas of cells, volumes over a datum, soil through
//! any sequence of works, and the plan through `assemble`. Property tests (`proptest`). Metres.

mod common;

use brimline::earthwork::compose::{How, compose};
use brimline::earthwork::facet::{self, Act, Facet, Slope};
use brimline::earthwork::{Assembled, Mosaic, Moved, Relief, assemble};
use brimline::flow::DepthCurve;
use brimline::terrain::Surface;
use brimline::terrain::overlay::{Overlay, cut_fill};
use brimline::terrain::predicates::P2;
use brimline::water::Terrain;
use common::{Random, close, close_to, ground};
use proptest::prelude::*;
use std::collections::HashMap;

const SIZE: f64 = 30.0;

/// A piece of work to try.
#[derive(Debug, Clone)]
enum Work {
    /// A levelled pad: placed and dug, sides out to daylight.
    Pad(Site, f64, f64),
    /// A basin with a shelf.
    Basin(Site, f64, f64),
    /// Soil placed or dug along a line, with or without sides.
    Strip {
        line: Vec<P2>,
        width: f64,
        z: f64,
        batter: f64,
        act: Act,
    },
    /// A temporary ramp; taken back at the end, after everything else.
    Ramp(Vec<P2>, f64, f64),
    /// A wall.
    Wall(P2, P2, f64),
}

/// A ring about a centre: a star with corners at these radii.
#[derive(Debug, Clone)]
struct Site {
    at: P2,
    radii: Vec<f64>,
    turn: f64,
}

impl Site {
    fn ring(&self, scale: f64) -> Vec<P2> {
        let n = self.radii.len();
        (0..n)
            .map(|k| {
                let a = self.turn + k as f64 * std::f64::consts::TAU / n as f64;
                let r = self.radii[k] * scale;
                [self.at[0] + r * a.cos(), self.at[1] + r * a.sin()]
            })
            .collect()
    }
}

fn place() -> impl Strategy<Value = P2> {
    (4.0..SIZE - 4.0, 4.0..SIZE - 4.0).prop_map(|(x, y)| [x, y])
}

/// Corners that fall on the same round figures as each other, and so touch and coincide often.
fn snapped() -> impl Strategy<Value = P2> {
    (8u8..52, 8u8..52).prop_map(|(x, y)| [f64::from(x) * 0.5, f64::from(y) * 0.5])
}

fn spot() -> impl Strategy<Value = P2> {
    prop_oneof![place(), snapped()]
}

fn site() -> impl Strategy<Value = Site> {
    (
        spot(),
        prop::collection::vec(0.8..4.0f64, 3..8),
        prop_oneof![Just(0.0), 0.0..6.0f64],
    )
        .prop_map(|(at, radii, turn)| Site { at, radii, turn })
}

fn elevation() -> impl Strategy<Value = f64> {
    prop_oneof![8.0..13.0f64, (16u8..26).prop_map(|k| f64::from(k) * 0.5)]
}

fn batter() -> impl Strategy<Value = f64> {
    prop_oneof![Just(0.0), Just(1.0), 0.3..3.0f64]
}

fn work() -> impl Strategy<Value = Work> {
    let line = || {
        (spot(), spot(), prop::option::of(spot())).prop_filter_map("a line", |(a, b, c)| {
            let far = |p: P2, q: P2| (p[0] - q[0]).hypot(p[1] - q[1]) > 2.5;
            let line: Vec<P2> = [a, b].into_iter().chain(c).collect();
            let straight = |w: &[P2]| {
                let (u, v) = (
                    [w[1][0] - w[0][0], w[1][1] - w[0][1]],
                    [w[2][0] - w[1][0], w[2][1] - w[1][1]],
                );
                u[0] * v[0] + u[1] * v[1] > 0.0
            };
            (line.windows(2).all(|w| far(w[0], w[1])) && line.windows(3).all(straight))
                .then_some(line)
        })
    };
    prop_oneof![
        (site(), elevation(), batter()).prop_map(|(s, z, b)| Work::Pad(s, z, b)),
        (site(), 6.0..10.0f64, batter()).prop_map(|(s, z, b)| Work::Basin(s, z, b)),
        (
            line(),
            0.4..2.0f64,
            elevation(),
            batter(),
            prop_oneof![Just(Act::Dig), Just(Act::Place)]
        )
            .prop_map(|(line, width, z, batter, act)| Work::Strip {
                line,
                width,
                z,
                batter,
                act
            }),
        (line(), 11.0..13.0f64, batter()).prop_map(|(l, z, b)| Work::Ramp(l, z, b)),
        (spot(), spot(), 11.0..13.0f64)
            .prop_filter("a wall with a length", |(a, b, _)| {
                (a[0] - b[0]).hypot(a[1] - b[1]) > 1.0
            })
            .prop_map(|(a, b, z)| Work::Wall(a, b, z)),
    ]
}

#[derive(Debug, Clone, Copy)]
enum Shape {
    Level,
    Tilted,
    Rough,
}

fn yard(shape: Shape, shots: usize, seed: u64) -> Surface {
    ground([0.0, 0.0], [SIZE, SIZE], shots, seed, |x, y| match shape {
        Shape::Level => 10.0,
        Shape::Tilted => 10.0 + 0.05 * (x - 15.0) - 0.03 * (y - 15.0),
        Shape::Rough => 10.0 + 0.8 * (0.7 * x).sin() * (0.5 * y).cos() + 0.02 * x,
    })
}

fn slopes(ring: &[[f64; 3]], core: &[Facet], batter: f64, act: Act, maker: u16, m: &mut Mosaic) {
    let (slope, limit) = match act {
        Act::Dig => (Slope::Up, 16.0),
        Act::Place => (Slope::Down, 4.0),
    };
    core.iter()
        .chain(&facet::sides(ring, |_| batter, slope, limit, maker))
        .for_each(|f| m.apply(act, f));
}

/// Soil that left, less soil that came.
fn net(moved: &Moved) -> f64 {
    moved.cut_bank + moved.redug - moved.fill
}

/// Does the works; returns the sum of what each moved, and the soil under walls.
fn run(m: &mut Mosaic, works: &[Work]) -> (Moved, f64) {
    let mut sum = Moved::default();
    let mut under_walls = 0.0;
    let mut ramps = Vec::new();
    let take = |m: &mut Mosaic, sum: &mut Moved| {
        let one = m.finish(0.15, false);
        assert!(
            one.cut_bank > -1e-12 && one.redug > -1e-12 && one.fill > -1e-12,
            "negative volume: {one:?}"
        );
        assert!(
            one.topsoil <= one.cut_bank + 1e-9,
            "more topsoil than soil: {one:?}"
        );
        sum.cut_bank += one.cut_bank;
        sum.redug += one.redug;
        sum.fill += one.fill;
    };
    for (k, work) in works.iter().enumerate() {
        let maker = k as u16 + 1;
        match work {
            Work::Pad(site, z, batter) => {
                m.begin(false);
                let ring = site.ring(1.0);
                let core = facet::flat(&ring, *z, maker);
                let ring = facet::lift(&ring, *z);
                slopes(&ring, &core, *batter, Act::Place, maker, m);
                slopes(&ring, &core, *batter, Act::Dig, maker, m);
                take(m, &mut sum);
            }
            Work::Basin(site, z, batter) => {
                m.begin(false);
                for (scale, z) in [(0.6, *z), (1.0, z + 0.4)] {
                    let ring = site.ring(scale);
                    let core = facet::flat(&ring, z, maker);
                    slopes(&facet::lift(&ring, z), &core, *batter, Act::Dig, maker, m);
                }
                take(m, &mut sum);
            }
            Work::Strip {
                line,
                width,
                z,
                batter,
                act,
            } => {
                m.begin(false);
                let ring = facet::strip(line, 0.5 * width, 0.5 * width, |i| z + 0.3 * i as f64);
                let core = facet::strip_core(&ring, maker);
                slopes(&ring, &core, *batter, *act, maker, m);
                take(m, &mut sum);
            }
            Work::Ramp(line, z, batter) => {
                ramps.push(m.begin(true));
                let ring = facet::strip(line, 1.2, 1.2, |i| z - 0.8 * i as f64);
                let core = facet::strip_core(&ring, maker);
                slopes(&ring, &core, *batter, Act::Place, maker, m);
                take(m, &mut sum);
            }
            Work::Wall(a, b, cap) => {
                let before = m.volume_over(0.0);
                m.begin(false);
                let ring = facet::strip(&[*a, *b], 0.2, 0.1, |_| *cap);
                for f in facet::strip_core(&ring, maker) {
                    m.build_solid(&f);
                }
                take(m, &mut sum);
                // A wall moves no soil; its footprint only leaves the volume.
                under_walls += before - m.volume_over(0.0);
            }
        }
    }
    for ramp in ramps {
        m.begin(false);
        m.restore(ramp, Act::Dig);
        take(m, &mut sum);
    }
    (sum, under_walls)
}

/// Plan area and volume kept; no triangle turned over or overlapping; every edge has its twin over
/// the same two places, unless it lies on the outline of the yard.
fn whole(m: &Mosaic, made: &Assembled, walls: bool) {
    let s = &made.surface;
    close(
        "plan area of the assembled surface",
        s.plan_area(),
        SIZE * SIZE,
        1e-8,
    );
    if !walls {
        close(
            "volume of the assembled surface",
            s.volume_over(0.0),
            m.volume_over(0.0),
            1e-8,
        );
    }
    let mut edges: HashMap<(u32, u32), usize> = HashMap::new();
    for (k, t) in s.triangles.iter().enumerate() {
        let [a, b, c] = s.corners(k);
        let twice = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        let longest = (0..3)
            .map(|i| {
                let (p, q) = (s.corners(k)[i], s.corners(k)[(i + 1) % 3]);
                (q[0] - p[0]).hypot(q[1] - p[1])
            })
            .fold(0.0, f64::max);
        // Thinner than the weld of a micrometre counts as a line.
        assert!(
            twice > -2e-6 * longest,
            "triangle {k} is turned over: {a:?} {b:?} {c:?} (twice its area {twice:e})"
        );
        for i in 0..3 {
            let (p, q) = (
                made.place[t[i] as usize],
                made.place[t[(i + 1) % 3] as usize],
            );
            assert_ne!(p, q, "triangle {k} has two corners at one place");
            if let Some(other) = edges.insert((p, q), k) {
                panic!(
                    "triangles {k} and {other} overlap along an edge: {:?} and {:?}",
                    s.corners(k),
                    s.corners(other)
                );
            }
        }
    }
    let border = |p: [f64; 3], q: [f64; 3]| {
        (0..2).any(|k| [0.0, SIZE].iter().any(|v| p[k] == *v && q[k] == *v))
    };
    for (&(p, q), &k) in &edges {
        if edges.contains_key(&(q, p)) {
            continue;
        }
        let t = s.triangles[k];
        let i = (0..3)
            .find(|&i| made.place[t[i] as usize] == p)
            .expect("its own edge");
        let (a, b) = (s.corners(k)[i], s.corners(k)[(i + 1) % 3]);
        assert!(border(a, b), "edge {a:?} {b:?} of triangle {k} has no twin");
    }
}

/// A thin bit of this pad's side has one corner on both of its sides: it was cut into two triangles that
/// lay on one edge.
#[test]
fn assembled_edge_to_edge_beside_a_sliver() {
    let radii = [
        0.8,
        0.8,
        0.8,
        2.7590292837376778,
        1.163790444052279,
        1.412516066912274,
        1.8132706486908747,
    ];
    let site = Site {
        at: [8.461838956852292, 18.908920111357844],
        radii: radii.to_vec(),
        turn: 0.5554549687402608,
    };
    let mut m = Mosaic::new(yard(Shape::Tilted, 97, 28));
    run(&mut m, &[Work::Pad(site, 8.59357131321349, 1.0)]);
    whole(&m, &assemble(&m), false);
}

/// Three corners of this basin's side lie some micrometres from each other: where corners so far apart were
/// made one, two of them became one for one triangle and stayed two for its neighbour.
#[test]
fn assembled_edge_to_edge_beside_corners_hardly_apart() {
    let radii = [
        3.8111194325341824,
        2.888265672791671,
        3.5871544751991906,
        2.3795986162266,
        1.306523917187302,
    ];
    let site = Site {
        at: [13.0, 5.0],
        radii: radii.to_vec(),
        turn: 0.0,
    };
    let mut m = Mosaic::new(yard(Shape::Level, 106, 11));
    run(
        &mut m,
        &[Work::Basin(site, 8.67613363442491, 0.39451311059133304)],
    );
    whole(&m, &assemble(&m), false);
}

fn shape() -> impl Strategy<Value = Shape> {
    prop_oneof![Just(Shape::Level), Just(Shape::Tilted), Just(Shape::Rough)]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, max_shrink_iters: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    /// Soil before − soil after = what was dug − what was placed, to 1e-9 of the ground's volume;
    /// and between the survey and now the cut and the fill telescope to the same.
    #[test]
    fn soil_through_any_works(
        shape in shape(),
        shots in 0usize..250,
        seed in 0u64..50,
        works in prop::collection::vec(work(), 1..6),
    ) {
        let surface = yard(shape, shots, seed);
        let mut m = Mosaic::new(surface);
        let before = m.volume_over(0.0);
        let (moved, under_walls) = run(&mut m, &works);
        let after = m.volume_over(0.0);
        close_to(
            "before − after = cut + redug − fill",
            before - after - under_walls,
            net(&moved),
            1e-9 * before,
        );
        let (cut, fill) = m.since_survey();
        close_to(
            "since the survey = sum of the works",
            cut - fill,
            net(&moved),
            1e-9 * before,
        );
        // Undisturbed soil leaves once: all bank soil dug is at least what is missing now.
        prop_assert!(cut <= moved.cut_bank + 1e-9 * before);
    }

    /// The assembled surface is the mosaic, edge to edge.
    #[test]
    fn assembled_edge_to_edge(
        shape in shape(),
        shots in 0usize..250,
        seed in 0u64..50,
        works in prop::collection::vec(work(), 1..6),
    ) {
        let mut m = Mosaic::new(yard(shape, shots, seed));
        run(&mut m, &works);
        let walls = works.iter().any(|w| matches!(w, Work::Wall(..)));
        whole(&m, &assemble(&m), walls);
    }

    /// Cells add up to the common plan; cut − fill is the difference of the volumes there.
    #[test]
    fn cells_add_up(
        shape in shape(),
        one in 0usize..300,
        two in 0usize..300,
        seed in 0u64..1000,
        dx in prop_oneof![Just(0.0), -20.0..20.0f64],
        dy in prop_oneof![Just(0.0), -20.0..20.0f64],
        offset in prop_oneof![Just(0.0), Just(1e6)],
    ) {
        let o = [offset, -offset];
        let z = |x: f64, y: f64| 10.0 + 0.5 * (0.4 * (x - o[0])).sin() + 0.03 * (y - o[1]);
        let first = ground(o, [SIZE, SIZE], one, seed, z);
        let second = {
            let mut s = yard(shape, two, seed + 1);
            for p in &mut s.points {
                p[0] += o[0] + dx;
                p[1] += o[1] + dy;
            }
            s
        };
        let found = cut_fill(&first, &second);
        let common = (SIZE - dx.abs()) * (SIZE - dy.abs());
        close_to("common area", found.area, common, 1e-9 * SIZE * SIZE);
        // The same volumes cell by cell, each surface by itself.
        let apart = Overlay::new(&first, &second).fold(
            || 0.0,
            |sum: &mut f64, cell| *sum += cell.area() * mean(cell.polygon, cell.over),
            |a, b| a + b,
        );
        close_to("cut − fill", found.cut - found.fill, apart, 1e-9 * 10.0 * common.max(1.0));
        if dx == 0.0 && dy == 0.0 {
            close_to(
                "cut − fill = difference of the volumes over a datum",
                found.cut - found.fill,
                first.volume_over(0.0) - second.volume_over(0.0),
                1e-9 * first.volume_over(0.0),
            );
        }
        let back = cut_fill(&second, &first);
        close_to("cut is fill the other way", back.fill, found.cut, 1e-9 * 10.0 * common.max(1.0));
        close_to("fill is cut the other way", back.cut, found.fill, 1e-9 * 10.0 * common.max(1.0));
    }

    /// Dig to, place to, grade to: what the overlay says is moved is moved.
    #[test]
    fn composed(
        shape in shape(),
        shots in 0usize..200,
        seed in 0u64..1000,
        level in 9.0..11.0f64,
    ) {
        let existing = yard(shape, shots, seed);
        let template = ground([5.0, 6.0], [17.0, 13.5], 40, seed + 7, |x, y| {
            level + 0.3 * (0.9 * x).sin() * (0.8 * y).sin()
        });
        let laid = cut_fill(&existing, &template);
        let before = existing.volume_over(0.0);
        for (how, cut, fill) in [
            (How::DigTo, laid.cut, 0.0),
            (How::PlaceTo, 0.0, laid.fill),
            (How::GradeTo, laid.cut, laid.fill),
        ] {
            let (made, moved) = compose(&existing, &template, how);
            close_to("cut", moved.cut_bank, cut, 1e-9 * before);
            close_to("fill", moved.fill, fill, 1e-9 * before);
            close_to("nothing dug twice", moved.redug, 0.0, 1e-9 * before);
            close_to(
                "volume after",
                made.volume_over(0.0),
                before - cut + fill,
                1e-8 * before,
            );
            close("plan area", made.plan_area(), SIZE * SIZE, 1e-8);
            if how == How::GradeTo {
                let rest = cut_fill(&made, &template);
                close_to("nothing left to cut", rest.cut, 0.0, 1e-8 * before);
                close_to("nothing left to fill", rest.fill, 0.0, 1e-8 * before);
            }
        }
    }

    /// Filling to a level and integrating the storage curve up to there agree to 1e-9: between two knots,
    /// where no corner of the ground lies, the curve's area is quadratic in the level, and Gauss's rule of
    /// three points is exact to the fifth power, so exact there. The flood's own face is the curve's too.
    #[test]
    fn water_is_area_over_depth(
        radii in prop::collection::vec(1.5..5.0f64, 3..8),
        batter in 0.3..2.5f64,
        depth in 0.4..1.4f64,
        seed in 0u64..1000,
    ) {
        let mut m = Mosaic::new(yard(Shape::Level, 60, seed));
        let site = Site { at: [15.0, 15.0], radii, turn: 0.3 };
        let floor = 10.0 - 1.5;
        m.begin(false);
        let ring = site.ring(1.0);
        let core = facet::flat(&ring, floor, 1);
        slopes(&facet::lift(&ring, floor), &core, batter, Act::Dig, 1, &mut m);
        m.finish(0.0, false);
        let made = assemble(&m);
        let terrain = Terrain::new(&made, &[]);
        let level = floor + depth;
        let seed_at = inner(&made, floor);
        let stand = |z: f64| terrain.stand(seed_at, z, |_| false).expect("water");
        let start = terrain.find(seed_at).expect("the floor");
        let wet = terrain.wet(start, level);
        let curve = DepthCurve::new(wet.iter().map(|&t| made.surface.corners(t as usize)), level);
        let mut sum = 0.0;
        for w in curve.knots().windows(2) {
            let h = w[1] - w[0];
            // Never on a corner's elevation, where the area may step.
            let x = (0.6f64).sqrt() * 0.5;
            let at = |f: f64| curve.area(w[0] + h * f);
            sum += h / 18.0 * (5.0 * at(0.5 - x) + 8.0 * at(0.5) + 5.0 * at(0.5 + x));
        }
        let water = stand(level);
        close("filled = ∫ storage curve", water.volume, sum, 1e-9);
        close("filled = storage curve", water.volume, curve.volume(level), 1e-9);
        for share in [0.23, 0.61, 0.97] {
            let z = floor + share * depth;
            let lower = stand(z);
            close("filled lower = storage curve", lower.volume, curve.volume(z), 1e-9);
            close("face of the flood = storage curve", lower.area, curve.area(z), 1e-9);
        }
        close_to("depth", water.depth, depth, 1e-9);
        prop_assert!(!water.leaves_survey);
    }
}

/// A place on the floor: the middle of its largest triangle.
fn inner(made: &Assembled, floor: f64) -> P2 {
    let s = &made.surface;
    (0..s.triangles.len())
        .map(|t| s.corners(t))
        .filter(|c| c.iter().all(|p| (p[2] - floor).abs() < 1e-9))
        .max_by(|a, b| {
            let size = |c: &[[f64; 3]; 3]| {
                (c[1][0] - c[0][0]) * (c[2][1] - c[0][1])
                    - (c[1][1] - c[0][1]) * (c[2][0] - c[0][0])
            };
            size(a).total_cmp(&size(b))
        })
        .map(|c| {
            [
                (c[0][0] + c[1][0] + c[2][0]) / 3.0,
                (c[0][1] + c[1][1] + c[2][1]) / 3.0,
            ]
        })
        .expect("a floor")
}

/// Mean of a linear function over a convex polygon, by its triangles.
fn mean(polygon: &[P2], over: &[f64]) -> f64 {
    let (mut area, mut sum) = (0.0, 0.0);
    for k in 1..polygon.len() - 1 {
        let (a, b, c) = (polygon[0], polygon[k], polygon[k + 1]);
        let t = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        area += t;
        sum += t * (over[0] + over[k] + over[k + 1]) / 3.0;
    }
    if area > 0.0 { sum / area } else { 0.0 }
}

/// A relief says of every place what the mosaic says, to the last digit: on dug and placed ground, on edges
/// and corners, and beyond the ground.
#[test]
fn a_relief_says_what_the_mosaic_says() {
    let rough = |x: f64, y: f64| 10.0 + 0.4 * (0.9 * x).sin() * (0.7 * y).cos();
    let mut m = Mosaic::new(ground([0.0, 0.0], [30.0, 20.0], 400, 3, rough));
    let pit = [[8.0, 6.0], [15.0, 5.0], [17.0, 12.0], [9.0, 13.0]];
    let ring = facet::lift(&pit, 8.8);
    m.begin(false);
    let mut facets = facet::flat(&pit, 8.8, 1);
    facets.extend(facet::sides(&ring, |_| 0.8, Slope::Up, 12.0, 1));
    m.apply_all(Act::Dig, &facets);
    m.finish(0.0, false);
    let bank = facet::strip(&[[3.0, 16.0], [20.0, 14.0], [26.0, 4.0]], 0.7, 0.7, |_| {
        11.5
    });
    m.begin(false);
    let mut facets = facet::strip_core(&bank, 2);
    facets.extend(facet::sides(&bank, |_| 1.5, Slope::Down, 8.0, 2));
    m.apply_all(Act::Place, &facets);
    m.finish(0.0, false);
    let relief = Relief::new(&m);
    let mut r = Random::new(5);
    let anywhere = (0..20_000).map(|_| [r.within(-1.0, 31.0), r.within(-1.0, 21.0)]);
    let mut places: Vec<P2> = anywhere.collect();
    let made = assemble(&m).surface;
    for t in &made.triangles {
        let corners = t.map(|i| made.points[i as usize]).map(|p| [p[0], p[1]]);
        for k in 0..3 {
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            places.extend([a, [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]]);
        }
    }
    let mut none = 0;
    for p in places {
        assert_eq!(relief.elevation(p), m.elevation(p), "at {p:?}");
        none += usize::from(m.elevation(p).is_none());
    }
    assert!(none > 500);
}
