//! Berms, ramps and trenches along lines that leave their bends no room: the union of their legs, against
//! closed forms and against the highest (or lowest) of the legs, place by place. Metres.

mod common;

use brimline::design::legs::Legs;
use brimline::earthwork::facet::Slope;
use brimline::earthwork::{Act, Mosaic};
use brimline::job::Document;
use brimline::plan::{FeatureVolume, Plan};
use brimline::terrain::predicates::P2;
use common::{close, close_to};
use proptest::prelude::*;

/// Level ground at 100, 60 m by 60 m, with one design on it.
fn plan(design: &str) -> Plan {
    let text = format!(
        "(name: \"yard\", unit: Metre, field_book: (points: [(\"a\", 0, 0, 100), (\"b\", 60, 0, 100), \
         (\"c\", 60, 60, 100), (\"d\", 0, 60, 100)]), soil: (topsoil_depth: 0), design: ({design}))"
    );
    match Document::parse("strip.ron", &text) {
        Ok((_, job)) => Plan::of(&job),
        Err(errors) => panic!("{errors}"),
    }
}

fn moved(plan: &Plan) -> FeatureVolume {
    let mut all = plan.volumes.by_feature.iter();
    all.next().expect("a work").clone()
}

/// A berm 1 m high with a crest of 3 m and sides of 1 in 2, and a trench of the same measures.
fn berm(line: &str) -> f64 {
    let plan = plan(&format!(
        "berms: [(name: \"bank\", line: {line}, crest: 101, crest_width: 3, batter: 2)]"
    ));
    let m = moved(&plan);
    assert_eq!(m.cut_bank_m3, 0.0);
    m.fill_compacted_m3
}

fn trench(line: &str) -> f64 {
    let plan = plan(&format!(
        "trenches: [(name: \"ditch\", line: {line}, depth: 1, width: 3, batter: 2)]"
    ));
    moved(&plan).cut_bank_m3
}

/// A shape of area A and circumference P, moved out by d, has the area A + P d + d² Σ tan(t / 2) over the
/// turns t of its corners, as long as none of its edges vanishes (geometry). With 1 in 2 and 1 m of height d
/// goes from 0 to 2: the volume is A + P + 4 / 3 Σ.
fn prism(area: f64, around: f64, corners: f64) -> f64 {
    area + around + 4.0 / 3.0 * corners
}

#[test]
fn a_u_turn_is_the_rectangle_its_legs_cover() {
    for (line, length, wide) in [
        // The last leg lies half on the first: from x = 10 to 21.5, from y = 18.5 to 23.5.
        ("[(10, 20), (20, 20), (20, 22), (10, 22)]", 11.5, 5.0),
        ("[(10, 22), (20, 22), (20, 20), (10, 20)]", 11.5, 5.0),
        // Not quite the inner edge of the leg between is left.
        ("[(10, 20), (20, 20), (20, 22.9), (10, 22.9)]", 11.5, 5.9),
        // Back on itself, to the end or not.
        ("[(10, 20), (20, 20), (10, 20)]", 10.0, 3.0),
        ("[(10, 20), (20, 20), (12, 20)]", 10.0, 3.0),
        // Round a square with no room inside.
        (
            "[(20, 20), (22, 20), (22, 22), (20, 22), (20, 20)]",
            5.0,
            5.0,
        ),
    ] {
        let expected = prism(length * wide, 2.0 * (length + wide), 4.0);
        close(&format!("berm {line}"), berm(line), expected, 1e-9);
        close(&format!("trench {line}"), trench(line), expected, 1e-9);
    }
}

/// Where every leg has room the union is what it was.
#[test]
fn strips_with_room_are_their_line_by_their_width() {
    // One bend: 20 m by 3 m, two edges of 20 m and two ends, four corners.
    let bent = "[(10, 20), (20, 20), (20, 30)]";
    // A ring: between squares of 13 m and of 7 m, whose corners take from each other what they give.
    let ring = "[(20, 20), (30, 20), (30, 30), (20, 30), (20, 20)]";
    // Across itself: 60 m by 3 m less the crossing; of 120 m of edges and 6 m of ends the crossing takes
    // 12 m; its four inward corners against four at the ends.
    let crossed = "[(10, 20), (30, 20), (30, 30), (20, 30), (20, 10)]";
    for (line, expected) in [
        (bent, prism(60.0, 46.0, 4.0)),
        (ring, prism(169.0 - 49.0, 52.0 + 28.0, 0.0)),
        (crossed, prism(180.0 - 9.0, 126.0 - 12.0, 0.0)),
    ] {
        close(&format!("berm {line}"), berm(line), expected, 1e-9);
        close(&format!("trench {line}"), trench(line), expected, 1e-9);
    }
}

// ---------------------------------------------------------------- place by place

fn sub(a: P2, b: P2) -> P2 {
    [a[0] - b[0], a[1] - b[1]]
}

fn dot(a: P2, b: P2) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// How high a strip stands at a place, from its legs alone: `None` where only vertical sides reach.
///
/// Along a leg and beside it: its top, and from its edges down at the batter. Beyond an end of the line, or
/// where it turns back on itself: the lower of the slope that the end goes down and that of the side, run on. Beyond a bend: down from the end
/// of the leg and, inside the bend, from its corner. In the corner outside a bend, which is level, and
/// beyond its two edges: the lower of their slopes.
struct Reference<'a> {
    line: &'a [P2],
    z: &'a [f64],
    half: f64,
    batter: f64,
}

impl Reference<'_> {
    fn top(&self, q: P2) -> f64 {
        let n = self.line.len();
        let unit = |k: usize| {
            let d = sub(self.line[k + 1], self.line[k]);
            let l = d[0].hypot(d[1]);
            ([d[0] / l, d[1] / l], l)
        };
        let down = |out: f64| {
            if out <= 0.0 {
                0.0
            } else if self.batter > 0.0 {
                out / self.batter
            } else {
                f64::INFINITY
            }
        };
        let mut best = f64::NEG_INFINITY;
        for k in 0..n - 1 {
            let (u, l) = unit(k);
            let d = sub(q, self.line[k]);
            let (s, side) = (dot(d, u), u[0] * d[1] - u[1] * d[0]);
            let out = side.abs() - self.half;
            let g = (self.z[k + 1] - self.z[k]) / l;
            let run_on = self.z[k] + g * s - down(out);
            let beyond = if s < 0.0 { -s } else { s - l };
            let i = if s < 0.0 { k } else { k + 1 };
            let back = i > 0 && i < n - 1 && dot(unit(i - 1).0, unit(i).0) < -1.0 + 1e-12;
            let here = if beyond <= 0.0 {
                run_on
            } else if i == 0 || i == n - 1 || back {
                let end = self.z[i] - down(beyond);
                if out > 0.0 { end.min(run_on) } else { end }
            } else {
                // Inside the bend only.
                let (before, after) = (unit(i - 1).0, unit(i).0);
                let left = before[0] * after[1] - before[1] * after[0] > 0.0;
                if (side > 0.0) != left {
                    continue;
                }
                self.z[i] - down(beyond.hypot(out.max(0.0)))
            };
            best = best.max(here);
        }
        for i in 1..n - 1 {
            let (u, v) = (unit(i - 1).0, unit(i).0);
            let turn = u[0] * v[1] - u[1] * v[0];
            let sign = if turn > 0.0 { 1.0 } else { -1.0 };
            let out = |u: P2| [sign * u[1], -sign * u[0]];
            let (a, b) = (out(u), out(v));
            let d = sub(q, self.line[i]);
            // In the cone of both edges' normals, as far as the slopes of the two meet in a ridge.
            let cone =
                dot(d, u) >= 0.0 && dot(d, v) <= 0.0 && dot(d, [a[0] + b[0], a[1] + b[1]]) > 0.0;
            if cone {
                let off = dot(d, a).max(dot(d, b)) - self.half;
                best = best.max(self.z[i] - down(off));
            }
        }
        best
    }

    /// Volume over level ground at `ground`, with squares so wide.
    fn over(&self, ground: f64, square: f64) -> f64 {
        let (mut lo, mut hi) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in self.line {
            for k in 0..2 {
                lo[k] = lo[k].min(p[k]);
                hi[k] = hi[k].max(p[k]);
            }
        }
        let high = self.z.iter().copied().fold(ground, f64::max) - ground;
        let reach = 3.0 * (self.half + self.batter * high);
        let steps = [0, 1].map(|k| ((hi[k] - lo[k] + 2.0 * reach) / square).ceil() as usize);
        let mut sum = 0.0;
        for i in 0..steps[0] {
            for j in 0..steps[1] {
                let q = [
                    lo[0] - reach + (i as f64 + 0.5) * square,
                    lo[1] - reach + (j as f64 + 0.5) * square,
                ];
                sum += (self.top(q) - ground).max(0.0);
            }
        }
        sum * square * square
    }
}

/// The works' own volume of such a strip over level ground.
fn placed(line: &[P2], z: &[f64], half: f64, batter: f64, ground: f64) -> f64 {
    let surface = common::ground([-60.0, -60.0], [120.0, 120.0], 40, 3, |_, _| ground);
    let mut m = Mosaic::new(surface);
    m.begin(false);
    let legs = Legs::of(line, z, half);
    let mut facets = legs.core(1);
    facets.extend(legs.sides(batter, Slope::Down, ground - 0.5, 1));
    m.apply_all(Act::Place, &facets);
    m.finish(0.0, false).fill
}

/// The same upside down.
fn dug(line: &[P2], z: &[f64], half: f64, batter: f64, ground: f64) -> f64 {
    let surface = common::ground([-60.0, -60.0], [120.0, 120.0], 40, 3, |_, _| -ground);
    let mut m = Mosaic::new(surface);
    m.begin(false);
    let z: Vec<f64> = z.iter().map(|z| -z).collect();
    let legs = Legs::of(line, &z, half);
    let mut facets = legs.core(1);
    facets.extend(legs.sides(batter, Slope::Up, -ground + 0.5, 1));
    m.apply_all(Act::Dig, &facets);
    m.finish(0.0, false).cut_bank
}

#[test]
fn a_folded_strip_is_the_highest_of_its_legs_everywhere() {
    type Case<'a> = (&'a str, &'a [P2], &'a [f64], f64, f64);
    let cases: [Case; 9] = [
        (
            "last leg short",
            &[[0.0, 0.0], [10.0, 0.0], [10.0, 1.0]],
            &[1.0; 3],
            1.5,
            2.0,
        ),
        (
            "first leg short",
            &[[0.0, 0.0], [0.5, 0.0], [0.5, -9.0]],
            &[1.0; 3],
            1.5,
            1.0,
        ),
        (
            "vertical sides",
            &[[0.0, 0.0], [10.0, 0.0], [10.0, 1.0], [4.0, 1.0]],
            &[1.0; 4],
            1.5,
            0.0,
        ),
        (
            "a step aside",
            &[[0.0, 0.0], [8.0, 0.0], [8.0, 1.0], [16.0, 1.0]],
            &[1.2; 4],
            1.5,
            1.5,
        ),
        // One that climbs lies over its own beginning.
        (
            "climbing",
            &[[0.0, 0.0], [10.0, 0.0], [10.0, 2.0], [0.0, 2.0]],
            &[0.3, 1.0, 1.2, 2.0],
            1.5,
            1.5,
        ),
        (
            "climbing round",
            &[
                [0.0, 0.0],
                [2.0, 0.0],
                [2.0, 2.0],
                [0.0, 2.0],
                [0.0, 0.0],
                [2.0, 0.0],
            ],
            &[0.3, 0.6, 0.9, 1.2, 1.5, 1.8],
            1.2,
            1.0,
        ),
        (
            "falling back",
            &[[0.0, 0.0], [9.0, 0.0], [1.0, 0.0]],
            &[2.0, 1.0, 0.2],
            1.0,
            1.5,
        ),
        // The slopes beside its upper end run out further than the strip is high there.
        (
            "steep",
            &[[0.0, 0.0], [1.8, 0.0], [1.8, -1.9]],
            &[1.0, 1.7, 2.45],
            2.1,
            1.68,
        ),
        (
            "a point",
            &[[0.0, 0.0], [1.2, 0.0], [1.2, 1.2], [2.4, 1.2], [2.4, -4.0]],
            &[1.0; 5],
            1.3,
            1.5,
        ),
    ];
    for (what, line, z, half, batter) in cases {
        let sum = Reference {
            line,
            z,
            half,
            batter,
        }
        .over(0.0, 0.02);
        close(what, placed(line, z, half, batter, 0.0), sum, 2e-3);
        close(
            &format!("{what}, dug"),
            dug(line, z, half, batter, 0.0),
            sum,
            2e-3,
        );
    }
}

/// A line of up to six legs that turn as they like, with a crest and sides.
fn any_strip() -> impl Strategy<Value = (Vec<P2>, f64, f64, f64)> {
    let leg = (0.3f64..6.0, -170.0f64..170.0);
    let legs = proptest::collection::vec(leg, 1..6);
    (legs, 0.2f64..2.0, 0.3f64..1.5, 0.0f64..2.5).prop_map(|(legs, half, high, batter)| {
        let (mut line, mut heading) = (vec![[0.0, 0.0]], 0.0f64);
        for (length, turn) in legs {
            let [x, y]: P2 = line[line.len() - 1];
            line.push([x + length * heading.cos(), y + length * heading.sin()]);
            heading += turn.to_radians();
        }
        (line, half, high, batter)
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    /// No leg is lost, ends apart; and nothing is counted twice: each leg with its ends, and each corner
    /// outside a bend with slopes all round, are more than all of it together.
    #[test]
    fn a_union_lies_between_its_largest_leg_and_their_sum((line, half, high, batter) in any_strip()) {
        let z = vec![high; line.len()];
        let all = placed(&line, &z, half, batter, 0.0);
        let (mut largest, mut sum) = (0.0f64, 0.0);
        for w in line.windows(2) {
            let length = (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
            largest = largest.max(length * (2.0 * half * high + batter * high * high));
            sum += placed(w, &z[..2], half, batter, 0.0);
        }
        for w in line.windows(3) {
            let (u, v) = (sub(w[1], w[0]), sub(w[2], w[1]));
            let turn = (u[0] * v[1] - u[1] * v[0]).atan2(dot(u, v)).abs();
            // As high as the strip, and as far out as its tip: a square about the bend that holds it.
            let tip = half * (0.5 * turn).cos().recip().min((0.5 * turn).cos() / 0.15).max(1.0);
            sum += placed(&[[-tip, 0.0], [tip, 0.0]], &z[..2], tip, batter, 0.0);
        }
        prop_assert!(all >= largest * (1.0 - 1e-9), "{all} m³, a leg alone {largest} m³");
        prop_assert!(all <= sum * (1.0 + 1e-9), "{all} m³, legs and corners together {sum} m³");
        prop_assert!((all - dug(&line, &z, half, batter, 0.0)).abs() < 1e-9 * all, "dug {all} m³");
    }

    /// Along lines whose turns are all square and whose legs all climb as they like: place by place.
    #[test]
    fn a_union_is_the_highest_of_its_legs(
        legs in proptest::collection::vec((0.3f64..2.0, -0.4f64..0.4, any::<bool>()), 2..5),
        batter in 0.3f64..2.0,
    ) {
        let (mut line, mut z, mut heading) = (vec![[0.0, 0.0]], vec![1.0], [1.0, 0.0]);
        for (length, climb, left) in legs {
            let [x, y]: P2 = line[line.len() - 1];
            line.push([x + length * heading[0], y + length * heading[1]]);
            z.push((z[z.len() - 1] + climb * length).max(0.2));
            heading = if left { [-heading[1], heading[0]] } else { [heading[1], -heading[0]] };
        }
        // So wide that no leg has room for a mitre.
        let half = 2.1;
        let sum = Reference { line: &line, z: &z, half, batter }.over(0.0, 0.06);
        let all = placed(&line, &z, half, batter, 0.0);
        prop_assert!((all - sum).abs() < 5e-3 * sum, "{all} m³, place by place {sum} m³");
    }
}

/// A ramp that is cut into the ground as well, and turns back beside itself 1.5 m higher: nothing that the
/// higher leg stands on is dug away for the lower one.
#[test]
fn a_ramp_cut_beside_itself_keeps_its_higher_leg() {
    let line = "[(20, 20), (40, 20), (40, 22.5), (20, 22.5)]";
    let plan = plan(&format!(
        "ramps: [(name: \"ramp\", line: {line}, width: 2.4, gradient: 0.2, batter: 1, cut: true, \
         profile: [99, 100.5, 100.5, 102])]"
    ));
    let probe = brimline::terrain::Probe::new(&plan.dug);
    let at = |p: P2| probe.sound(p).expect("ground").elevation;
    // Across the mitres at the bends it is level: to the side the top is off by less than 8 cm.
    let high = |x: f64| 100.5 + 1.5 * (40.0 - x) / 20.0;
    for x in [22.0, 25.0, 30.0, 35.0] {
        // On the higher leg, also where the lower one's slope would run through it.
        for y in [21.4, 22.0, 23.0, 23.6] {
            close_to(&format!("top at {x}, {y}"), at([x, y]), high(x), 0.08);
        }
        // On the lower leg: its top, or what lies against the higher one.
        let low = 99.0 + 1.5 * (x - 20.0) / 20.0;
        for y in [19.0, 20.0, 21.0] {
            let leans = high(x) - (21.3 - y);
            close_to(
                &format!("top at {x}, {y}"),
                at([x, y]),
                low.max(leans),
                0.08,
            );
        }
    }
    let m = moved(&plan);
    assert!(m.cut_bank_m3 > 0.0 && m.fill_compacted_m3 > 0.0);
}

/// What is staked of a ramp that lies over itself is what is left of its edges.
#[test]
fn stakes_stand_only_where_an_edge_is_left() {
    let edges = |line: &[P2], z: &[f64]| Legs::of(line, z, 1.5).edges();
    // Half over its beginning, level: the inner edges lie under the other leg's top, and of the line's
    // ends the right edge is left, all round.
    let [right, left] = edges(
        &[[0.0, 0.0], [10.0, 0.0], [10.0, 2.0], [0.0, 2.0]],
        &[1.0; 4],
    );
    let around: Vec<[f64; 3]> = vec![
        [0.0, -1.5, 1.0],
        [11.5, -1.5, 1.0],
        [11.5, 3.5, 1.0],
        [0.0, 3.5, 1.0],
    ];
    assert_eq!(left.len(), 0, "{left:?}");
    assert_eq!(right.len(), 1);
    assert_eq!(right[0].len(), 4, "{right:?}");
    for (p, q) in right[0].iter().zip(&around) {
        (0..3).for_each(|k| close_to("right edge", p[k], q[k], 1e-9));
    }
    // Higher and higher: what comes later lies on top, with both its edges.
    let [_, left] = edges(
        &[[0.0, 0.0], [10.0, 0.0], [10.0, 2.0], [0.0, 2.0]],
        &[0.0, 1.0, 1.2, 2.2],
    );
    let last = left.last().expect("an edge");
    let end = last[last.len() - 1];
    close_to("end of the left edge", end[1], 0.5, 1e-9);
    close_to("its height", end[2], 2.2, 1e-9);
    // With room everywhere: one edge each, from end to end.
    let [right, left] = edges(&[[0.0, 0.0], [10.0, 0.0], [10.0, 8.0]], &[1.0; 3]);
    assert_eq!((right.len(), left.len()), (1, 1));
    assert_eq!((right[0].len(), left[0].len()), (3, 3));
    // Across itself: each edge is left out where the other leg lies.
    let crossed = [
        [0.0, 0.0],
        [20.0, 0.0],
        [20.0, 10.0],
        [10.0, 10.0],
        [10.0, -10.0],
    ];
    let [right, left] = edges(&crossed, &[1.0; 5]);
    assert_eq!((right.len(), left.len()), (3, 3), "{right:?} {left:?}");
}

/// Whoever drives over a ramp that lies over itself meets its higher leg.
#[test]
fn the_way_over_a_ramp_is_its_higher_leg() {
    let ramp = brimline::haul::field::Strip {
        name: "ramp".into(),
        line: vec![
            [0.0, 0.0, 0.0],
            [10.0, 0.0, 1.0],
            [10.0, 2.0, 1.2],
            [0.0, 2.0, 2.2],
        ],
        half: 1.5,
        batter: 2.0,
    };
    let at = |x: f64, y: f64| ramp.at([x, y]).expect("on it");
    close_to("where both lie", at(4.0, 0.8), 1.2 + 0.6, 1e-9);
    close_to("beside the higher", at(4.0, 0.0), 1.8 - 0.25, 1e-9);
    close_to("on the lower alone", at(8.0, -1.4), 0.8, 1e-9);
}
