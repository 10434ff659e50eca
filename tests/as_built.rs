//! As-built: shots against the design of their stage, volumes by closed form, levels that do not
//! close. Every yard in here is invented.

mod common;

use brimline::as_built;
use brimline::findings::Severity;
use brimline::job::{Against, Document, Job, KnownPoint, Visit, Walls};
use brimline::plan::{Built, Kind, Plan, Trust, Verdict};
use common::command::printed;
use common::{close, close_to, keys};
use serde_json::Value;

const DEMO: &str = include_str!("../surveys/demo.ron");
const FOOT: f64 = 0.3048;

fn job(text: &str) -> Job {
    match Document::parse("job", text) {
        Ok((_, job)) => job,
        Err(errors) => panic!("{errors}"),
    }
}

/// Level ground at 10 m, a pad of 8 × 4 m at 9 m with upright sides, in stage "dig".
fn pad(visit: &str) -> Job {
    job(&format!(
        "(name: \"flat\", unit: Metre, field_book: (
            benchmarks: [(name: \"BM\", elevation: 10, at: (-5, -5))],
            points: [(\"a\", -10, -10, 10), (\"b\", 20, -10, 10), (\"c\", 20, 20, 10), (\"d\", -10, 20, 10)],
        ),
        design: (
            pads: [(name: \"floor\", outline: [(0, 0), (8, 0), (8, 4), (0, 4)], elevation: 9, batter: 0)],
            trenches: [(name: \"pipe\", line: [(12, 0), (12, 6)], depth: 0.5, width: 0.4)],
        ),
        sequence: [(name: \"dig\", works: [\"floor\"]), (name: \"pipe\", works: [\"pipe\"])],
        as_built: (visits: [{visit}]),
        )"
    ))
}

/// Corners of the pad, so much above 9 m.
fn corners(over: [f64; 4]) -> String {
    let at = [(0, 0), (8, 0), (8, 4), (0, 4)];
    let points: Vec<String> = at
        .iter()
        .zip(over)
        .enumerate()
        .map(|(i, ((x, y), o))| format!("(\"{}\", {x}, {y}, {})", i + 1, 9.0 + o))
        .collect();
    format!("(stage: \"dig\", points: [{}])", points.join(", "))
}

fn one(job: &Job) -> Built {
    let plan = Plan::of(job);
    let mut all = as_built::of(job, &plan);
    assert_eq!(all.len(), 1);
    all.remove(0)
}

/// A visit with these points, to the ground as dug of a stage.
fn dug(stage: &str, points: Vec<KnownPoint>, walls: Walls) -> Visit {
    Visit {
        stage: Some(stage.into()),
        against: Against::Dug,
        date: String::new(),
        setups: Vec::new(),
        points,
        breaklines: Vec::new(),
        outline: Vec::new(),
        trenches_open: true,
        walls,
    }
}

/// Closed forms: a box, and a plane that tilts about the middle line of the pad.
#[test]
fn volumes_are_exact() {
    let v = one(&pad(&corners([0.0; 4]))).volumes.expect("volumes");
    close("area", v.area_m2, 32.0, 1e-9);
    close("dug", v.dug_m3, 32.0, 1e-9);
    close_to("to dig", v.to_dig_m3, 0.0, 1e-9);
    close_to("missing", v.missing_m3, 0.0, 1e-9);
    let v = one(&pad(&corners([-0.25; 4]))).volumes.expect("volumes");
    close("dug", v.dug_m3, 32.0 * 1.25, 1e-9);
    close("missing", v.missing_m3, 32.0 * 0.25, 1e-9);
    close("over-dug", v.over_dug_m3, 32.0 * 0.25, 1e-9);
    close_to("to place", v.to_place_m3, 0.0, 1e-9);
    let built = one(&pad(&corners([0.4, -0.4, -0.4, 0.4])));
    let v = built.volumes.expect("volumes");
    // Two wedges of half the pad: 4 × 4 m, 0.4 m at the end: 3.2 m³ each.
    close("dug", v.dug_m3, 32.0, 1e-9);
    close("to dig", v.to_dig_m3, 3.2, 1e-9);
    close("missing", v.missing_m3, 3.2, 1e-9);
    // The map says the same: its triangles integrate to nothing, and reach ±0.4 m.
    let map = &built.map;
    let mut sum = 0.0;
    for t in &map.triangles {
        let [a, b, c] = t.map(|i| map.points[i as usize]);
        let area2 = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        sum += area2 / 6.0 * (a[2] + b[2] + c[2]);
    }
    close_to("map", sum, 0.0, 1e-9);
    let most = map.points.iter().map(|p| p[2]).fold(0.0, f64::max);
    close("highest", most, 0.4, 1e-9);
}

/// In the middle of the pad, where nothing is in doubt.
fn middle(z: f64) -> Built {
    one(&pad(&format!(
        "(stage: \"dig\", points: [(\"1\", 4, 2, {z}), (\"2\", 15, 15, {z})])"
    )))
}

#[test]
fn verdicts_follow_the_design_and_its_tolerance() {
    // Pads are allowed 0.05 ft = 15.24 mm.
    for (z, verdict) in [
        (9.0, Verdict::Right),
        (9.0152, Verdict::Right),
        (9.0154, Verdict::ToDig),
        (8.9848, Verdict::Right),
        (8.9846, Verdict::OverDug),
    ] {
        let built = middle(z);
        assert_eq!(built.shots[0].verdict, verdict, "{z}");
        assert_eq!(built.shots[0].kind, Kind::Pad);
        close_to("over", built.shots[0].over.expect("over"), z - 9.0, 1e-9);
        // Beside it nothing is designed: the ground as surveyed, at 10 m.
        assert_eq!(built.shots[1].kind, Kind::Ground);
        assert_eq!(built.shots[1].verdict, Verdict::ToFill, "{z}");
    }
    assert!(middle(9.302).shots[0].slip, "three decimetres, nearly");
    assert!(!middle(9.25).shots[0].slip);
    let outside = one(&pad("(stage: \"dig\", points: [(\"1\", 40, 2, 9)])"));
    assert_eq!(outside.shots[0].verdict, Verdict::Outside);
    assert_eq!(outside.shots[0].design, None);
    assert!(!outside.accepted());
}

/// Without a stage it is the whole design; so a job without stages can be held against it as well.
#[test]
fn without_a_stage_all_is_done() {
    let built = one(&pad("(points: [(\"1\", 12, 3, 10), (\"2\", 4, 2, 9)])"));
    assert!(
        built.accepted(),
        "the trench is filled, the pad is dug: {built:?}"
    );
    assert_eq!(built.stage, "");
    let small = include_str!("smallest.ron")
        .trim_end()
        .strip_suffix(')')
        .expect("a job");
    let job = job(&format!(
        "{small} as_built: (visits: [(points: [(\"1\", 15, 12, 95.9)])]))"
    ));
    let built = one(&job);
    assert_eq!(
        (built.shots.len(), built.shots[0].thing.as_str()),
        (1, "pond")
    );
}

/// An open trench is held against its bottom, a filled one against the ground.
#[test]
fn trenches_stand_open_or_filled() {
    for (open, design) in [(true, 9.5), (false, 10.0)] {
        let built = one(&pad(&format!(
            "(stage: \"pipe\", points: [(\"1\", 12, 3, 9.5)], trenches_open: {open})"
        )));
        close_to(
            "design",
            built.shots[0].design.expect("design"),
            design,
            1e-9,
        );
        assert_eq!(built.shots[0].verdict == Verdict::Right, open);
    }
}

fn levelled(backsight: f64, sights: &str) -> Built {
    one(&pad(&format!(
        "(stage: \"dig\", setups: [(name: \"S\", backsight: (\"BM\", {backsight}), sights: [{sights}])])"
    )))
}

#[test]
fn levels_that_do_not_close_tell_nothing() {
    let shots = "(\"1\", 2.5, (2, 2)), (\"2\", 2.5, (6, 2)), (\"3\", 2.5, (4, 3))";
    let good = levelled(1.5, &format!("{shots}, (\"BM\", 1.5)"));
    assert_eq!(good.trust, Trust::Closes);
    assert!(
        good.accepted() && good.findings.is_empty(),
        "{:?}",
        good.findings
    );
    let bad = levelled(1.5, &format!("{shots}, (\"BM\", 1.6)"));
    assert_eq!(bad.trust, Trust::DoesNotClose);
    assert!(bad.shots.is_empty() && bad.volumes.is_none() && bad.map.triangles.is_empty());
    assert!(!bad.accepted());
    let error = |b: &Built| b.findings.iter().any(|f| f.severity == Severity::Error);
    assert!(error(&bad));
    let open = levelled(1.5, shots);
    assert_eq!(open.trust, Trust::Unchecked);
    assert_eq!(open.count(Verdict::Right), 3);
    assert!(!open.accepted(), "right, but on levels that nothing checks");
    let nowhere = levelled(1.5, "(\"1\", 2.5), (\"BM\", 1.5)");
    assert_eq!(nowhere.trust, Trust::Nothing);
    assert!(error(&nowhere));
    // The plan says so as well.
    let job = pad(&format!(
        "(stage: \"dig\", setups: [(name: \"S\", backsight: (\"BM\", 1.5), sights: [{shots}, (\"BM\", 1.6)])])"
    ));
    let plan = Plan::of(&job);
    assert!(
        plan.findings
            .iter()
            .any(|f| f.place == "as-built, stage dig" && f.severity == Severity::Error)
    );
}

/// A visit may be numbered from 1 again, lean on a spike of the field book, and be taped from
/// shots of the field book.
#[test]
fn a_visit_has_names_of_its_own() {
    let whole = job(include_str!("whole.ron"));
    let plan = Plan::of(&whole);
    let built = &as_built::of(&whole, &plan)[0];
    assert_eq!(built.trust, Trust::Closes);
    // TP lies at 100 + 4.25 − 5.5 = 98.75 ft; there the rod reads 4.1, on shot "1" 4.2 ft.
    close("shot 1", built.shots[0].elevation, 98.65 * FOOT, 1e-9);
    assert!(built.shots.iter().any(|s| s.name == "4"));
    assert!(built.volumes.is_some());
}

/// Dug by the stakes, everything is right.
#[test]
fn what_is_dug_by_the_stakes_is_right() {
    let mut demo = job(DEMO);
    let plan = Plan::of(&demo);
    let points: Vec<KnownPoint> = plan
        .stakes
        .list
        .iter()
        .filter(|s| s.name == "pond" && s.part != "water's edge")
        .map(|s| KnownPoint {
            name: s.label.clone(),
            x: s.place.at[0],
            y: s.place.at[1],
            z: s.place.dig.expect("dug"),
        })
        .collect();
    demo.as_built.visits = vec![dug("dig", points, Walls::Built)];
    let built = one(&demo);
    assert!(built.shots.len() > 30);
    for s in &built.shots {
        assert_eq!(s.verdict, Verdict::Right, "{s:?}");
        // At a corner the slope of the first dig, done before, lies a hair under the shelf.
        if s.thing == "first dig" {
            continue;
        }
        close_to(&s.name, s.over.expect("over"), 0.0, 1e-4);
    }
    assert!(built.accepted());
}

/// The tolerance is that of the thing the shot stands on.
#[test]
fn caps_and_lips_are_held_to_their_own_tolerance() {
    let mut demo = job(DEMO);
    let plan = Plan::of(&demo);
    let lip: Vec<[f64; 2]> = plan
        .stakes
        .list
        .iter()
        .filter(|s| s.name == "upper pool" && s.part == "lip")
        .map(|s| s.place.at)
        .collect();
    let first = demo.design.cascades[0].clone();
    let up: f64 = first.lining.iter().map(|l| l.thickness).sum();
    // Back from the lip's edge onto its sill, uphill: the line comes from (57, 60) ft.
    let middle = [(lip[0][0] + lip[1][0]) / 2.0, (lip[0][1] + lip[1][1]) / 2.0];
    let back = [57.0 * FOOT - middle[0], 60.0 * FOOT - middle[1]];
    let length = back[0].hypot(back[1]);
    let sill = [
        middle[0] + 0.1 * back[0] / length,
        middle[1] + 0.1 * back[1] / length,
    ];
    let water = plan
        .water
        .iter()
        .find(|w| w.name == "upper pool")
        .expect("a pool")
        .level_m;
    let cap = [40.0 * FOOT, (19.5 + 0.5) * FOOT];
    let visit = |stage: &str, at: [f64; 2], z: f64| {
        dug(
            stage,
            vec![KnownPoint {
                name: "1".into(),
                x: at[0],
                y: at[1],
                z,
            }],
            Walls::Built,
        )
    };
    for (stage, at, z, tolerance, part) in [
        ("falls", sill, water - up, 0.01, "lip"),
        ("low side", cap, 96.40 * FOOT, 0.02, "cap"),
    ] {
        for (off, verdict) in [
            (0.0, Verdict::Right),
            (tolerance - 0.001, Verdict::Right),
            (tolerance + 0.001, Verdict::TooHigh),
            (-tolerance - 0.001, Verdict::TooLow),
        ] {
            demo.as_built.visits = vec![visit(stage, at, z + off * FOOT)];
            let built = one(&demo);
            assert_eq!(built.shots[0].part, part);
            assert_eq!(
                built.shots[0].verdict, verdict,
                "{part} off {off} ft: {:?}",
                built.shots[0]
            );
        }
    }
}

/// A wall's base trench and its base course, shot before the wall hides them. Level ground at 10 m; the wall's
/// foot 0.3 m under it, 0.15 m of base course: bottom at 9.55 m, its top at 9.70 m. Trench 0.6 m wide about a
/// body of 0.3 m. Volumes by hand: 6 × 0.6 m over all the shots, dug 0.45 m deep.
#[test]
fn base_trenches_are_held_to_their_bottom_and_their_base_course() {
    let wall = |walls: &str, shots: &str| {
        one(&job(&format!(
            "(name: \"flat\", unit: Metre, field_book: (points: [(\"a\", -10, -10, 10), (\"b\", 20, -10, 10), (\"c\", 20, 20, 10), (\"d\", -10, 20, 10)]),
            design: (walls: [(name: \"seat\", line: [(2, 5), (8, 5)], back: Left, cap: 10.5, thickness: 0.3,
                embedment: 0.3, base_thickness: 0.15, base_width: 0.6, backfill: (width: 0.5))]),
            sequence: [(name: \"wall\", works: [\"seat\"])],
            as_built: (visits: [(stage: \"wall\", walls: {walls}, points: [{shots}])]))"
        )))
    };
    let corners = |z: [f64; 4]| {
        let at = [(2.0, 4.85), (8.0, 4.85), (8.0, 5.45), (2.0, 5.45)];
        let points = at.iter().zip(z).enumerate();
        let points: Vec<String> = points
            .map(|(k, ((x, y), z))| format!("(\"{k}\", {x}, {y}, {z})"))
            .collect();
        points.join(", ")
    };
    let built = wall("Trench", &corners([9.55; 4]));
    assert!(built.accepted(), "{built:?}");
    let v = built.volumes.expect("volumes");
    close("dug", v.dug_m3, 6.0 * 0.6 * 0.45, 1e-9);
    close_to("to dig", v.to_dig_m3 + v.missing_m3, 0.0, 1e-9);
    for s in &built.shots {
        assert_eq!((s.thing.as_str(), s.part.as_str()), ("seat", "trench"));
        close_to("bottom", s.design.expect("a bottom"), 9.55, 1e-9);
    }
    // A trench bottom is allowed 0.05 ft = 15.24 mm, the top of a base course 0.02 ft = 6.1 mm.
    let middle = |walls: &str, z: f64| {
        let built = wall(walls, &format!("(\"1\", 5, 5.15, {z})"));
        built.shots[0].verdict
    };
    for (walls, z, verdict) in [
        ("Trench", 9.565, Verdict::Right),
        ("Trench", 9.566, Verdict::ToDig),
        ("Trench", 9.534, Verdict::OverDug),
        ("Base", 9.706, Verdict::Right),
        ("Base", 9.707, Verdict::TooHigh),
        ("Base", 9.693, Verdict::TooLow),
        ("Built", 10.5, Verdict::Right),
    ] {
        assert_eq!(middle(walls, z), verdict, "{walls} at {z}");
    }
    // A stage that builds no wall has no base trench.
    let none = pad("(stage: \"dig\", walls: Trench, points: [(\"1\", 4, 2, 9)])");
    let none = one(&none);
    assert!(none.shots.is_empty());
    assert!(
        none.findings
            .iter()
            .any(|f| f.what.contains("its stage builds none"))
    );
}

/// The stakes of the demo's walls, dug to as they say: right.
#[test]
fn a_base_trench_dug_by_the_stakes_is_right() {
    let mut demo = job(DEMO);
    let plan = Plan::of(&demo);
    let wall = demo.design.walls[0].name.clone();
    let its = plan.stakes.list.iter();
    let its = its.filter(|s| s.name == wall && s.part.starts_with("base trench"));
    let (mut points, mut stage) = (Vec::new(), String::new());
    for s in its {
        stage.clone_from(&s.stage);
        points.push(KnownPoint {
            name: s.label.clone(),
            x: s.place.at[0],
            y: s.place.at[1],
            z: s.place.dig.expect("dug"),
        });
    }
    assert!(points.len() >= 4);
    demo.as_built.visits = vec![dug(&stage, points, Walls::Trench)];
    let built = one(&demo);
    for s in &built.shots {
        assert_eq!(s.verdict, Verdict::Right, "{s:?}");
        assert_eq!(s.part, "trench", "{s:?}");
    }
    // The sheet says what the walls were held to, and says nothing where they are as built.
    let sheet = |visits: &[Built]| brimline::report::as_built(&demo, visits, 100);
    assert!(sheet(std::slice::from_ref(&built)).contains("Walls     base trenches"));
    let stand = Built {
        walls: Walls::Built,
        ..built
    };
    assert!(!sheet(&[stand]).contains("Walls  "));
}

/// The map between the shots is held to the same as the shots: square to the face, and to the tolerance of
/// what the design has there. A basin with sides at 1 in 1 (their tolerance 0.1 ft = 30.48 mm, square) whose
/// ground came out 40 mm too high, plumb: right on the sides, 40 / √2 = 28.3 mm off, and not on the floor.
#[test]
fn the_map_is_held_to_what_the_shots_are() {
    let rise = 0.04;
    // Floor 4 × 4 m at 9 m, rim 6 × 6 m at 10 m.
    let mut points = Vec::new();
    for i in 0..=12 {
        for j in 0..=12 {
            let (x, y) = (f64::from(i) * 0.5, f64::from(j) * 0.5);
            let out = (1.0 - x).max(x - 5.0).max(1.0 - y).max(y - 5.0);
            let z = 9.0 + out.clamp(0.0, 1.0) + rise;
            points.push(format!("(\"{i}_{j}\", {x}, {y}, {z})"));
        }
    }
    let job = job(&format!(
        "(name: \"pond\", unit: Metre, field_book: (points: [(\"a\", -10, -10, 10), (\"b\", 16, -10, 10), (\"c\", 16, 16, 10), (\"d\", -10, 16, 10)]),
        design: (basins: [(name: \"pond\", water: 10, outline: [(0, 0), (6, 0), (6, 6), (0, 6)], floor_depth: 1, batter: 1)]),
        sequence: [(name: \"dig\", works: [\"pond\"])],
        as_built: (visits: [(stage: \"dig\", points: [{}])]))",
        points.join(", ")
    ));
    let built = one(&job);
    let map = &built.map;
    assert_eq!(map.points.len(), map.square.len());
    assert_eq!(map.triangles.len(), map.allowed.len());
    let mut told = [0usize; 2];
    for shot in &built.shots {
        // Inside one face: what a shot on an edge stands on is a matter of digits.
        let [x, y] = shot.at;
        let out = (1.0 - x).max(x - 5.0).max(1.0 - y).max(y - 5.0);
        let ridge = ((x - 3.0).abs() - (y - 3.0).abs()).abs() < 0.1 && out > 0.0;
        if out.abs() < 0.1 || (out - 1.0).abs() < 0.1 || ridge {
            continue;
        }
        let its = map.triangles.iter().zip(&map.allowed).find(|(t, _)| {
            let c = t.map(|i| map.points[i as usize]);
            (0..3).all(|k| {
                let (a, b) = (c[k], c[(k + 1) % 3]);
                (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]) >= -1e-9
            })
        });
        let (t, &allowed) = its.expect("a bit of the map under the shot");
        close("allowed", allowed, shot.tolerance, 1e-12);
        let square = shot.square.expect("over the design");
        let c = t.map(|i| map.points[i as usize]);
        let part = |k: usize| {
            let (a, b) = (c[(k + 1) % 3], c[(k + 2) % 3]);
            (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])
        };
        let parts = [0, 1, 2].map(part);
        let whole: f64 = parts.iter().sum();
        let there: f64 = (0..3)
            .map(|k| parts[k] / whole * map.square[t[k] as usize])
            .sum();
        close("square", there, square, 1e-6);
        let right = as_built::is_right(there, allowed);
        assert_eq!(right, shot.verdict == Verdict::Right, "{shot:?}");
        let sloped = out > 0.0;
        let expected = if sloped { rise / 2f64.sqrt() } else { rise };
        close("by hand", square, expected, 1e-6);
        assert_eq!(shot.verdict == Verdict::Right, sloped, "{shot:?}");
        told[usize::from(sloped)] += 1;
    }
    assert!(told[0] > 20 && told[1] > 10, "{told:?}");
}

// ---------------------------------------------------------------- the command

/// A berm half up: what is placed and still to place is told, compacted, and nothing of digging.
#[test]
fn a_berm_is_placed_and_not_dug() {
    let text = "(name: \"yard\", unit: Metre, field_book: (points: [
            (\"a\", 0, 0, 10), (\"b\", 30, 0, 10), (\"c\", 30, 30, 10), (\"d\", 0, 30, 10),
        ]), design: (berms: [(name: \"bank\", line: [(5, 10), (20, 10)], crest: 11, crest_width: 1, batter: 2)]),
        sequence: [(name: \"one\", works: [\"bank\"])],
        as_built: (visits: [(stage: \"one\", against: Finished, points: [
            (\"1\", 6, 9.7, 10.5), (\"2\", 18, 9.7, 10.5), (\"3\", 18, 10.3, 10.5), (\"4\", 6, 10.3, 10.5),
        ])]))";
    let (_, job) = Document::parse("berm", text).unwrap_or_else(|e| panic!("{e}"));
    let visits = as_built::of(&job, &Plan::of(&job));
    let v = visits[0].volumes.expect("volumes");
    // 12 × 0.6 m, 0.5 m up and 0.5 m to go.
    close("placed", v.placed_m3, 3.6, 1e-9);
    close("to place", v.to_place_m3, 3.6, 1e-9);
    close_to(
        "all else",
        v.dug_m3 + v.to_dig_m3 + v.to_take_off_m3 + v.over_dug_m3,
        0.0,
        1e-9,
    );
    let record = brimline::report::record(&visits[0], job.unit);
    assert!(
        record.contains("placed 3.60 m³ compacted so far, 3.60 m³ to place"),
        "{record}"
    );
    assert!(
        !record.contains("dug") && !record.contains("too much"),
        "{record}"
    );
}

/// The demo's evening: 27 of 30 right, two still to dig, one over-dug, as its figures were made.
#[test]
fn the_demo_reads_as_it_is_used() {
    let page = printed(["asbuilt", "surveys/demo.ron"]);
    let flat = page.split_whitespace().collect::<Vec<_>>().join(" ");
    for says in [
        "Stage dig (second evening of the dig): 27 of 30 shots right; 2 still to dig (at most 0.28 ft); 1 over-dug (at most 0.19 ft)",
        "close, off by 0.000 ft",
        "+0.28 ±0.10 still to dig",
        "over-dug: 24",
    ] {
        assert!(flat.contains(says), "no {says:?} in\n{page}");
    }
    assert!(page.lines().all(|l| l.chars().count() <= 100), "{page}");
    assert!(!page.contains("UNCHECKED"));
    let page = printed(["asbuilt", "surveys/terrace-metric.ron"]);
    assert!(
        page.contains("Nothing was shot after digging yet"),
        "{page}"
    );
}

#[test]
fn every_key_of_the_visits_is_documented() {
    let value: Value =
        serde_json::from_str(&printed(["asbuilt", "surveys/demo.ron", "--json"])).expect("JSON");
    assert_eq!(keys::given(&value), keys::documented("asbuilt"));
}

/// A shot beside the survey is told as one and shapes nothing: the volumes are those of the others.
#[test]
fn shots_beside_the_survey_shape_no_ground() {
    let inside = "(\"1\", 1, 1, 9), (\"2\", 3, 1, 9), (\"3\", 1, 3, 9)";
    let visit = |points: &str| one(&pad(&format!("(stage: \"dig\", points: [{points}])")));
    let built = visit(inside);
    let with = visit(&format!("{inside}, (\"out\", 200, 200, 9.5)"));
    let (a, b) = (
        built.volumes.expect("volumes"),
        with.volumes.expect("volumes"),
    );
    close_to("area", a.area_m2, 2.0, 1e-9);
    close_to("dug", a.stage_dug_m3, 2.0, 1e-9);
    close_to("area with the far shot", b.area_m2, 2.0, 1e-9);
    close_to("dug with the far shot", b.stage_dug_m3, 2.0, 1e-9);
    close_to("over-dug with the far shot", b.over_dug_m3, 0.0, 1e-9);
    assert_eq!(with.shots.last().map(|s| s.verdict), Some(Verdict::Outside));
    let out = visit("(\"1\", 200, 200, 9), (\"2\", 210, 200, 9), (\"3\", 200, 210, 9)");
    assert!(out.volumes.is_none(), "{:?}", out.volumes);
}
