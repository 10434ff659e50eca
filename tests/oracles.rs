//! The kernels against general-purpose libraries on the same points: triangulation and
//! interpolation against `spade`, clipping against `geo`, closed-mesh volume against `parry3d`.
//! Random and nasty points: collinear rows, duplicates, cocircular grids, slivers, offsets of 1e6.

mod common;

use brimline::earthwork::assemble;
use brimline::earthwork::facet::{self, Act, Slope};
use brimline::earthwork::{Assembled, Mosaic};
use brimline::terrain::Surface;
use brimline::terrain::constrained::{NONE, Triangulation};
use brimline::terrain::overlay::{self, Overlay};
use brimline::terrain::predicates::{P2, cross, in_circle, orient};
use common::{Random, close, close_to, distinct, ground, surface};
use geo::{Area, BooleanOps, ConvexHull};
use parry3d_f64::mass_properties::MassProperties;
use spade::{
    ConstrainedDelaunayTriangulation, DelaunayTriangulation, FloatTriangulation as _, Point2,
    Triangulation as _,
};
use std::collections::HashMap;

type Spade = ConstrainedDelaunayTriangulation<Point2<f64>>;

/// Point sets that triangulators stumble over, by name.
fn point_sets() -> Vec<(&'static str, Vec<P2>)> {
    let mut r = Random::new(11);
    let random: Vec<P2> = (0..600)
        .map(|_| [100.0 * r.unit(), 80.0 * r.unit()])
        .collect();
    let grid: Vec<P2> = (0..24)
        .flat_map(|i| (0..18).map(move |j| [i as f64, j as f64]))
        .collect();
    let grid_of_tenths: Vec<P2> = (0..20)
        .flat_map(|i| (0..20).map(move |j| [i as f64 * 0.1, j as f64 * 0.1]))
        .collect();
    let rows: Vec<P2> = (0..5)
        .flat_map(|j| (0..40).map(move |i| [i as f64 * 0.7, j as f64 * 11.0]))
        .collect();
    let circle: Vec<P2> = (0..96)
        .map(|k| {
            let a = k as f64 * std::f64::consts::TAU / 96.0;
            [5.0 * a.cos(), 5.0 * a.sin()]
        })
        .chain([[0.0, 0.0]])
        .collect();
    let one_line_and_a_point: Vec<P2> = (0..50)
        .map(|i| [i as f64 / 3.0, i as f64 / 3.0])
        .chain([[3.0, 9.0]])
        .collect();
    let slivers: Vec<P2> = (0..200)
        .map(|i| [i as f64 * 0.5, if i % 2 == 0 { 0.0 } else { 1e-6 }])
        .chain([[40.0, 30.0], [50.0, -30.0]])
        .collect();
    let clusters: Vec<P2> = (0..300)
        .map(|i| {
            let c = [(i % 3) as f64 * 40.0, (i % 5) as f64 * 25.0];
            [c[0] + 2e-3 * r.unit() + 1e-3, c[1] + 2e-3 * r.unit() + 1e-3]
        })
        .collect();
    let far: Vec<P2> = random.iter().map(|p| [p[0] + 1e6, p[1] - 1e6]).collect();
    let far_grid: Vec<P2> = grid_of_tenths
        .iter()
        .map(|p| [p[0] + 1e6, p[1] + 1e6])
        .collect();
    let doubled: Vec<P2> = random.iter().chain(&random[..200]).copied().collect();
    vec![
        ("random", random),
        ("grid", grid),
        ("grid of tenths", grid_of_tenths),
        ("collinear rows", rows),
        ("circle", circle),
        ("one line and a point", one_line_and_a_point),
        ("slivers", slivers),
        ("clusters", clusters),
        ("offset by 1e6", far),
        ("grid offset by 1e6", far_grid),
        ("duplicates", doubled),
    ]
    .into_iter()
    .map(|(name, p)| (name, distinct(p)))
    .collect()
}

fn area(t: &Triangulation) -> f64 {
    (0..t.triangles() as u32)
        .map(|k| {
            let [a, b, c] = t.corners(k).map(|i| t.points[i as usize]);
            0.5 * cross(a, b, c)
        })
        .sum()
}

fn spade_area(s: &Spade) -> f64 {
    s.inner_faces()
        .map(|f| {
            let [a, b, c] = f.vertices().map(|v| [v.position().x, v.position().y]);
            0.5 * cross(a, b, c)
        })
        .sum()
}

/// Every triangle turns left, every twin is mutual, every inner edge that is not fixed is Delaunay
/// (`robust`'s exact in-circle sign; cocircular ties may fall either way within rounding).
fn sound(name: &str, t: &Triangulation) {
    for k in 0..t.triangles() as u32 {
        let [a, b, c] = t.corners(k).map(|i| t.points[i as usize]);
        assert!(
            orient(a, b, c) > 0.0,
            "{name}: triangle {k} has no area or is turned over: {a:?} {b:?} {c:?}"
        );
    }
    let next = |e: u32| if e % 3 == 2 { e - 2 } else { e + 1 };
    let at = |e: u32| t.points[t.start[e as usize] as usize];
    for e in 0..t.start.len() as u32 {
        let o = t.twin[e as usize];
        if o == NONE {
            continue;
        }
        assert_eq!(t.twin[o as usize], e, "{name}: twin of edge {e}");
        assert_eq!(
            t.start[e as usize],
            t.start[next(o) as usize],
            "{name}: edge {e} and its twin share their ends"
        );
        assert_eq!(
            t.fixed[e as usize], t.fixed[o as usize],
            "{name}: edge {e} is fixed on both sides or on neither"
        );
        if !t.fixed[e as usize] {
            let (a, b, c) = (at(e), at(next(e)), at(next(next(e))));
            let d = at(next(next(o)));
            let sign = in_circle(a, b, c, d);
            // delaunator's own in-circle test is plain f64: a tie may be broken the wrong way by
            // as much as that test's rounding, which grows with the fourth power of the size.
            let size = [a, b, c].iter().fold(0.0f64, |m, p| {
                m.max((p[0] - d[0]).abs()).max((p[1] - d[1]).abs())
            });
            assert!(
                sign <= 64.0 * f64::EPSILON * size.powi(4),
                "{name}: edge {a:?} {b:?} is not Delaunay: in-circle {sign:e} for size {size}"
            );
        }
    }
}

/// `spade` 2, same points: same area, same number of triangles; the hull's area by `geo`.
#[test]
fn triangulation_agrees_with_spade() {
    for (name, points) in point_sets() {
        let ours = Triangulation::new(points.clone()).unwrap();
        let theirs =
            Spade::bulk_load(points.iter().map(|p| Point2::new(p[0], p[1])).collect()).unwrap();
        assert_eq!(theirs.num_vertices(), points.len(), "{name}: points kept");
        sound(name, &ours);
        assert_eq!(
            ours.triangles(),
            theirs.num_inner_faces(),
            "{name}: number of triangles"
        );
        close(
            &format!("{name}: area, spade"),
            area(&ours),
            spade_area(&theirs),
            1e-9,
        );
        let hull = geo::MultiPoint::from(points.iter().map(|p| (p[0], p[1])).collect::<Vec<_>>())
            .convex_hull()
            .unsigned_area();
        close(
            &format!("{name}: area, geo's convex hull"),
            area(&ours),
            hull,
            1e-9,
        );
    }
}

/// Constraints that do not cross: `spade` keeps the same ones, with as many triangles.
#[test]
fn constraints_agree_with_spade() {
    for (name, points) in point_sets() {
        let mut theirs = Spade::bulk_load_stable(&points);
        let handles: Vec<_> = theirs.fixed_vertices().collect();
        let mut ours = Triangulation::new(points.clone()).unwrap();
        let mut r = Random::new(7);
        let mut wanted = 0;
        for _ in 0..400 {
            let (a, b) = (r.below(points.len()), r.below(points.len()));
            if a == b || !theirs.can_add_constraint(handles[a], handles[b]) {
                continue;
            }
            theirs.add_constraint(handles[a], handles[b]);
            ours.constrain(a as u32, b as u32)
                .unwrap_or_else(|e| panic!("{name}: constraint {a}–{b} refused: {e:?}"));
            wanted += 1;
            if wanted == 40 {
                break;
            }
        }
        assert!(wanted > 0, "{name}: nothing tried");
        sound(name, &ours);
        assert_eq!(
            ours.triangles(),
            theirs.num_inner_faces(),
            "{name}: number of triangles"
        );
        close(
            &format!("{name}: area"),
            area(&ours),
            spade_area(&theirs),
            1e-9,
        );
        let mut kept: Vec<(u32, u32)> = (0..ours.start.len() as u32)
            .filter(|&e| ours.fixed[e as usize])
            .map(|e| {
                let n = if e % 3 == 2 { e - 2 } else { e + 1 };
                let (u, v) = (ours.start[e as usize], ours.start[n as usize]);
                (u.min(v), u.max(v))
            })
            .collect();
        kept.sort_unstable();
        kept.dedup();
        let mut expected: Vec<(u32, u32)> = theirs
            .undirected_edges()
            .filter(|e| e.is_constraint_edge())
            .map(|e| {
                let [u, v] = e.vertices().map(|v| v.fix().index() as u32);
                (u.min(v), u.max(v))
            })
            .collect();
        expected.sort_unstable();
        assert_eq!(kept, expected, "{name}: constraint edges");
    }
}

trait Stable {
    fn bulk_load_stable(points: &[P2]) -> Self;
}

impl Stable for Spade {
    /// Point `i` is vertex `i`.
    fn bulk_load_stable(points: &[P2]) -> Self {
        Spade::bulk_load_cdt(
            points.iter().map(|p| Point2::new(p[0], p[1])).collect(),
            Vec::new(),
        )
        .unwrap()
    }
}

/// Draped lines leave the surface as it was: heights by `spade`'s barycentric interpolation on the
/// surface before.
#[test]
fn draping_keeps_the_surface() {
    let mut r = Random::new(5);
    let points: Vec<P2> = (0..300)
        .map(|_| [50.0 * r.unit(), 50.0 * r.unit()])
        .collect();
    let heights: Vec<f64> = points.iter().map(|_| 10.0 * r.unit()).collect();
    let mut made = Triangulation::with_heights(points.clone(), heights.clone()).unwrap();
    let before: Vec<[[f64; 3]; 3]> = (0..made.triangles() as u32)
        .map(|t| {
            made.corners(t).map(|i| {
                let p = made.points[i as usize];
                [p[0], p[1], made.heights[i as usize]]
            })
        })
        .collect();
    let height_before = |p: P2| {
        before.iter().find_map(|c| {
            let flat = c.map(|v| [v[0], v[1]]);
            let w = [
                cross(flat[1], flat[2], p),
                cross(flat[2], flat[0], p),
                cross(flat[0], flat[1], p),
            ];
            let all: f64 = w.iter().sum();
            (w.iter().all(|v| *v >= -1e-9 * all))
                .then(|| (w[0] * c[0][2] + w[1] * c[1][2] + w[2] * c[2][2]) / all)
        })
    };
    let before_area = area(&made);
    let ring: Vec<P2> = (0..9)
        .map(|k| {
            let a = k as f64 * std::f64::consts::TAU / 9.0;
            [25.0 + 11.3 * a.cos(), 25.0 + 9.1 * a.sin()]
        })
        .collect();
    let ids: Vec<u32> = ring
        .iter()
        .map(|&p| {
            let t = made.locate(p, 0).unwrap();
            made.insert(p, t)
        })
        .collect();
    for k in 0..ids.len() {
        made.drape(ids[k], ids[(k + 1) % ids.len()]).unwrap();
    }
    for k in 0..made.triangles() as u32 {
        let [a, b, c] = made.corners(k).map(|i| made.points[i as usize]);
        assert!(orient(a, b, c) >= 0.0, "triangle {k} is turned over");
    }
    close("area", area(&made), before_area, 1e-12);
    for (p, z) in made.points.iter().zip(&made.heights) {
        let was = height_before(*p).expect("inside the hull");
        close_to("height of a draped point", *z, was, 1e-7);
    }
}

#[derive(Clone, Copy)]
struct Shot {
    at: Point2<f64>,
    z: f64,
}

impl spade::HasPosition for Shot {
    type Scalar = f64;
    fn position(&self) -> Point2<f64> {
        self.at
    }
}

/// Elevation on the ground: `spade`'s barycentric interpolation on the same shots (random points,
/// so that the Delaunay triangulation is unique).
#[test]
fn elevations_agree_with_spade() {
    let mut r = Random::new(3);
    let z = |x: f64, y: f64| 100.0 + 0.08 * x - 0.05 * y + (0.3 * x).sin() * (0.2 * y).cos();
    let made = ground([0.0, 0.0], [60.0, 45.0], 900, 21, z);
    let theirs: DelaunayTriangulation<Shot> = DelaunayTriangulation::bulk_load(
        made.points
            .iter()
            .map(|p| Shot {
                at: Point2::new(p[0], p[1]),
                z: p[2],
            })
            .collect(),
    )
    .unwrap();
    let mosaic = Mosaic::new(made);
    let weights = theirs.barycentric();
    for _ in 0..2000 {
        let p = [r.within(0.01, 59.99), r.within(0.01, 44.99)];
        let expected = weights
            .interpolate(|v| v.data().z, Point2::new(p[0], p[1]))
            .expect("inside");
        let found = mosaic.elevation(p).expect("inside");
        close_to("elevation", found, expected, 1e-9);
    }
}

fn triangle(r: &mut Random, offset: f64, sliver: bool) -> [P2; 3] {
    loop {
        let a = [offset + 10.0 * r.unit(), offset + 10.0 * r.unit()];
        let b = [offset + 10.0 * r.unit(), offset + 10.0 * r.unit()];
        let c = if sliver {
            let t = r.unit();
            [
                a[0] + t * (b[0] - a[0]) + 1e-5 * r.unit(),
                a[1] + t * (b[1] - a[1]) + 1e-5 * r.unit(),
            ]
        } else {
            [offset + 10.0 * r.unit(), offset + 10.0 * r.unit()]
        };
        match cross(a, b, c) {
            s if s > 1e-9 => return [a, b, c],
            s if s < -1e-9 => return [a, c, b],
            _ => {}
        }
    }
}

fn single(t: [P2; 3], z: f64) -> Surface {
    Surface {
        points: t.iter().map(|p| [p[0], p[1], z]).collect(),
        triangles: vec![[0, 1, 2]],
        made_by: vec![0],
    }
}

fn polygon(t: &[P2]) -> geo::Polygon<f64> {
    geo::Polygon::new(t.iter().map(|p| (p[0], p[1])).collect(), vec![])
}

/// Area of a cell: `geo`'s intersection of the two triangles. `geo` clips on a fine integer grid
/// (2⁻³⁰ or so of the extent), hence its tolerance here and not ours.
#[test]
fn cells_agree_with_geo() {
    for (name, offset, slivers) in [
        ("near", 0.0, false),
        ("offset by 1e6", 1e6, false),
        ("slivers", 0.0, true),
    ] {
        let mut r = Random::new(17);
        let mut met = 0;
        for _ in 0..1500 {
            let (s, t) = (
                triangle(&mut r, offset, slivers),
                triangle(&mut r, offset, false),
            );
            let found = overlay::cut_fill(&single(s, 2.0), &single(t, 1.0));
            let local = |t: [P2; 3]| polygon(&t.map(|p| [p[0] - offset, p[1] - offset]));
            let expected = local(s).intersection(&local(t)).unsigned_area();
            close_to(&format!("{name}: common area"), found.area, expected, 5e-7);
            close_to(&format!("{name}: cut"), found.cut, found.area, 1e-9);
            assert_eq!(found.fill, 0.0, "{name}: fill");
            met += usize::from(expected > 1e-9);
        }
        assert!(met > 100, "{name}: too few pairs met ({met})");
    }
}

/// Touching in a corner, along an edge, equal, nested: exact answers by hand (geometry).
#[test]
fn cells_of_touching_triangles() {
    let t = [[0.0, 0.0], [4.0, 0.0], [0.0, 4.0]];
    let cases: [(&str, [P2; 3], f64); 6] = [
        ("itself", t, 8.0),
        ("nested", [[1.0, 1.0], [2.0, 1.0], [1.0, 2.0]], 0.5),
        ("around it", [[-9.0, -9.0], [30.0, -9.0], [-9.0, 30.0]], 8.0),
        ("over an edge", [[4.0, 0.0], [4.0, 4.0], [0.0, 4.0]], 0.0),
        ("at a corner", [[4.0, 0.0], [8.0, 0.0], [8.0, 4.0]], 0.0),
        ("half", [[0.0, 0.0], [2.0, 2.0], [0.0, 4.0]], 4.0),
    ];
    for (name, other, expected) in cases {
        let found = overlay::cut_fill(&single(t, 5.0), &single(other, 4.0));
        close_to(name, found.area, expected, 1e-12);
        close_to(name, found.cut, expected, 1e-12);
        let back = overlay::cut_fill(&single(other, 4.0), &single(t, 5.0));
        close_to(name, back.fill, expected, 1e-12);
    }
}

/// Two whole surfaces: the cells' areas against `geo`'s intersection of the two outlines.
#[test]
fn cells_cover_the_common_plan() {
    for offset in [0.0, 1e6] {
        let one = ground([offset, offset], [30.0, 20.0], 400, 1, |x, _| x - offset);
        let two = ground(
            [offset + 7.5, offset + 4.25],
            [30.0, 20.0],
            500,
            2,
            |_, y| y - offset,
        );
        let cells = Overlay::new(&one, &two).cut_fill();
        close(
            &format!("common plan at {offset}"),
            cells.area,
            22.5 * 15.75,
            1e-9,
        );
    }
}

/// The body between an assembled surface and a level far below it, as a closed mesh: bottom, walls
/// around the outline, and walls where the surface has a vertical face.
fn body(made: &Assembled, datum: f64) -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
    let s = &made.surface;
    let mut points = s.points.clone();
    let mut triangles = s.triangles.clone();
    let n = points.len() as u32;
    points.extend(s.points.iter().map(|p| [p[0], p[1], datum]));
    triangles.extend(s.triangles.iter().map(|t| [t[0] + n, t[2] + n, t[1] + n]));
    let mut edges: HashMap<(u32, u32), (u32, u32)> = HashMap::new();
    for t in &s.triangles {
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            edges.insert((made.place[a as usize], made.place[b as usize]), (a, b));
        }
    }
    for t in &s.triangles {
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            match edges.get(&(made.place[b as usize], made.place[a as usize])) {
                Some(&(q, p)) if (p, q) != (a, b) => {
                    // A step: a wall from this side down to the datum; the other side brings its own.
                    triangles.extend([[b, a, a + n], [b, a + n, b + n]]);
                }
                Some(_) => {}
                None => triangles.extend([[b, a, a + n], [b, a + n, b + n]]),
            }
        }
    }
    (points, triangles)
}

fn parry_volume(points: &[[f64; 3]], triangles: &[[u32; 3]]) -> f64 {
    let vertices: Vec<_> = points
        .iter()
        .map(|p| parry3d_f64::math::Vector::new(p[0], p[1], p[2]))
        .collect();
    MassProperties::from_trimesh(1.0, &vertices, triangles).mass()
}

/// Existing less dug, each as a closed body over one level: `parry3d`'s mass at density 1.
#[test]
fn dug_volume_agrees_with_parry() {
    let z = |x: f64, y: f64| 10.0 + 0.06 * x - 0.04 * y + 0.2 * (0.5 * x).sin();
    let existing = ground([0.0, 0.0], [40.0, 30.0], 500, 4, z);
    let mut m = Mosaic::new(existing.clone());
    let untouched = assemble(&m);
    let ring: Vec<P2> = vec![
        [12.0, 8.0],
        [25.0, 9.0],
        [27.0, 18.0],
        [20.0, 14.0],
        [13.0, 20.0],
    ];
    let mut moved = brimline::earthwork::Moved::default();
    let mut add = |m: &mut Mosaic| {
        let one = m.finish(0.0, false);
        moved.cut_bank += one.cut_bank;
        moved.redug += one.redug;
        moved.fill += one.fill;
    };
    m.begin(false);
    for f in facet::flat(&ring, 8.5, 1).iter().chain(&facet::sides(
        &facet::lift(&ring, 8.5),
        |_| 1.5,
        Slope::Up,
        20.0,
        1,
    )) {
        m.apply(Act::Dig, f);
    }
    add(&mut m);
    // A trench with upright sides, so that the surface has vertical faces.
    m.begin(false);
    let trench = facet::strip(&[[3.0, 3.0], [30.0, 25.0]], 0.3, 0.3, |_| 7.0);
    facet::strip_core(&trench, 2)
        .iter()
        .for_each(|f| m.apply(Act::Dig, f));
    add(&mut m);
    m.begin(false);
    let heap: Vec<P2> = vec![[32.0, 20.0], [36.0, 20.0], [36.0, 25.0], [32.0, 25.0]];
    for f in facet::flat(&heap, 13.0, 3).iter().chain(&facet::sides(
        &facet::lift(&heap, 13.0),
        |_| 1.0,
        Slope::Down,
        5.0,
        3,
    )) {
        m.apply(Act::Place, f);
    }
    add(&mut m);
    let dug = assemble(&m);
    let (p, t) = body(&untouched, 0.0);
    let before = parry_volume(&p, &t);
    let (p, t) = body(&dug, 0.0);
    let after = parry_volume(&p, &t);
    close("existing body", existing.volume_over(0.0), before, 1e-9);
    close("dug body", dug.surface.volume_over(0.0), after, 1e-9);
    close(
        "soil moved",
        moved.cut_bank + moved.redug - moved.fill,
        before - after,
        1e-7,
    );
    let laid_over = overlay::cut_fill(&existing, &dug.surface);
    close(
        "overlay",
        laid_over.cut - laid_over.fill,
        before - after,
        1e-7,
    );
}

/// A pyramid alone, closed by its base: the mesh helper itself against V = A h / 3 (geometry).
#[test]
fn the_mesh_helper_is_right() {
    let points = vec![[0.0, 0.0], [6.0, 0.0], [6.0, 6.0], [0.0, 6.0], [3.0, 3.0]];
    let s = surface(points, |x, y| if x == 3.0 && y == 3.0 { 5.0 } else { 0.0 });
    let place = (0..s.points.len() as u32).collect();
    let (p, t) = body(&Assembled { surface: s, place }, 0.0);
    close("pyramid", parry_volume(&p, &t), 36.0 * 5.0 / 3.0, 1e-12);
}
