//! Setting out: the stakes stand on what the design digs; tapes and rod readings lead back to it.

mod common;

use std::collections::BTreeSet;

use brimline::findings::Severity;
use brimline::job::{Document, FieldBook, Job, Peg, Place, Setup, Side, Sight};
use brimline::plan::{Flaw, Kind, Plan, Reading, Stake, Stakes};
use brimline::report;
use brimline::stakes;
use brimline::survey;
use brimline::terrain::{Probe, Surface};
use common::command::{brimline, printed};
use common::{close, close_to, keys};
use proptest::prelude::*;
use serde_json::Value;

const FOOT: f64 = 0.3048;
const DEMO: &str = include_str!("../surveys/demo.ron");
const METRIC: &str = include_str!("../surveys/terrace-metric.ron");
const SMALL: &str = include_str!("smallest.ron");

fn job(text: &str) -> Job {
    match Document::parse("job", text) {
        Ok((_, job)) => job,
        Err(errors) => panic!("{errors}"),
    }
}

fn sight(to: &str, rod: f64, at: Option<Place>) -> Sight {
    Sight {
        to: to.into(),
        rod,
        turning: false,
        inverted: false,
        ground: true,
        distance: None,
        at,
        check: None,
        remark: String::new(),
    }
}

fn placed(s: &Stake) -> Place {
    match (&s.tie, &s.offset) {
        (Some(t), _) => Place::Tie {
            a: t.a.clone(),
            from_a: t.from_a,
            b: t.b.clone(),
            from_b: t.from_b,
            side: t.side,
        },
        (None, Some(o)) => Place::Offset {
            baseline: o.baseline.clone(),
            along: o.along,
            offset: o.offset,
        },
        (None, None) => panic!("{} cannot be taped", s.label),
    }
}

/// The elevation that a stake is dug or built to.
fn target(s: &Stake) -> f64 {
    s.place.dig.or(s.place.finish).expect("an elevation")
}

/// Shots that somebody takes who digs by the stakes: the tapes and rod readings of the list, each
/// rounded to `to` (0: as they are).
fn shots(job: &Job, stakes: &[&Stake], all: &Stakes, hi: f64, to: f64) -> FieldBook {
    let round = |v: f64| if to > 0.0 { (v / to).round() * to } else { v };
    let sights = stakes.iter().map(|s| {
        let rod = match all.reading(hi, target(s)) {
            Reading::Reads(rod) => rod,
            other => panic!("{}: {other:?}", s.label),
        };
        let place = match placed(s) {
            Place::Tie {
                a,
                from_a,
                b,
                from_b,
                side,
            } => Place::Tie {
                a,
                from_a: round(from_a),
                b,
                from_b: round(from_b),
                side,
            },
            other => other,
        };
        sight(&format!("stake {}", s.label), round(rod), Some(place))
    });
    let bm = &job.field_book.benchmarks[0];
    FieldBook {
        setups: vec![Setup {
            name: "again".into(),
            at: None,
            backsight: sight(&bm.name, hi - bm.elevation, None),
            sights: sights
                .chain([sight(&bm.name, hi - bm.elevation, None)])
                .collect(),
        }],
        points: Vec::new(),
        ..job.field_book.clone()
    }
}

fn dug(all: &Stakes) -> Vec<&Stake> {
    all.list
        .iter()
        .filter(|s| s.place.dig.or(s.place.finish).is_some())
        .collect()
}

/// Stake → tapes and rod → survey → the same place and elevation, to 1e-9 m; and the surface
/// through them is the same surface.
#[test]
fn tapes_and_readings_lead_back_to_the_stakes() {
    for (name, text) in [("demo", DEMO), ("terrace", METRIC)] {
        let job = job(text);
        let plan = Plan::of(&job);
        let wanted = dug(&plan.stakes);
        assert!(wanted.len() > 40, "{name}: {} stakes", wanted.len());
        let top = wanted.iter().map(|s| target(s)).fold(f64::MIN, f64::max);
        let book = shots(&job, &wanted, &plan.stakes, top + 0.25, 0.0);
        let (back, findings) = survey::reduce(&book, &[]);
        let errors: Vec<_> = findings
            .iter()
            .filter(|f| f.severity == Severity::Error)
            .collect();
        assert!(errors.is_empty(), "{name}: {errors:?}");
        assert_eq!(back.spots.len(), wanted.len(), "{name}");
        for (s, spot) in wanted.iter().zip(&back.spots) {
            let label = format!("{name} {}", s.label);
            close_to(&format!("{label} x"), spot.x, s.place.at[0], 1e-9);
            close_to(&format!("{label} y"), spot.y, s.place.at[1], 1e-9);
            close_to(&format!("{label} z"), spot.z, target(s), 1e-9);
        }
        // The floor and shelves of the basin, as a surface through the stakes.
        let basin = |s: &Stake| s.kind == Kind::Basin;
        let (a, b): (Vec<_>, Vec<_>) = wanted
            .iter()
            .zip(&back.spots)
            .filter(|(s, _)| basin(s))
            .map(|(s, p)| {
                let [x, y] = s.place.at;
                ([x, y, target(s)], [p.x, p.y, p.z])
            })
            .unzip();
        let low = a.iter().map(|p| p[2]).fold(f64::MAX, f64::min) - 1.0;
        let through = |points: Vec<[f64; 3]>, like: &[[f64; 3]]| {
            let plan: Vec<[f64; 2]> = like.iter().map(|p| [p[0], p[1]]).collect();
            let made = brimline::terrain::constrained::Triangulation::new(plan).expect("points");
            let triangles: Vec<[u32; 3]> = (0..made.triangles() as u32)
                .map(|t| made.corners(t))
                .collect();
            assert!(triangles.len() > 30);
            Surface {
                made_by: vec![0; triangles.len()],
                points,
                triangles,
            }
        };
        let (one, two) = (through(a.clone(), &a), through(b, &a));
        close(
            &format!("{name}: volume"),
            two.volume_over(low),
            one.volume_over(low),
            1e-9,
        );
    }
}

/// Printed figures are rounded: what comes back lies within half of the last place of the rod, and
/// within what the list says a tape error of half of the last place does.
#[test]
fn printed_figures_lead_back_within_rounding() {
    let mut job = job(DEMO);
    let half = 0.005 * FOOT;
    job.setting_out.tape_error = half;
    let plan = Plan::of(&job);
    let wanted = dug(&plan.stakes);
    let bm = job.field_book.benchmarks[0].elevation;
    // A backsight that is read to the hundredth.
    let hi = bm + 4.37 * FOOT;
    let book = shots(&job, &wanted, &plan.stakes, hi, 0.01 * FOOT);
    let (back, _) = survey::reduce(&book, &[]);
    assert_eq!(back.spots.len(), wanted.len());
    for (s, spot) in wanted.iter().zip(&back.spots) {
        let t = s.tie.as_ref().expect("pegs");
        let off = (spot.x - s.place.at[0]).hypot(spot.y - s.place.at[1]);
        assert!(
            off <= t.error + 1e-9,
            "{}: {off} m off, said {}",
            s.label,
            t.error
        );
        close_to(&s.label, spot.z, target(s), half + 1e-9);
    }
}

/// The stakes of a basin stand on the ground as it is dug. Where a ring loses an edge on its way
/// inward, the general offset lays it out on a grid: a tenth of a millimetre.
#[test]
fn stakes_stand_on_what_is_dug() {
    for (name, text) in [("demo", DEMO), ("terrace", METRIC), ("smallest", SMALL)] {
        let job = job(text);
        let plan = Plan::of(&job);
        let probe = Probe::new(&plan.dug);
        let mut seen = 0;
        for s in plan
            .stakes
            .list
            .iter()
            .filter(|s| matches!(s.kind, Kind::Basin | Kind::Pit))
        {
            let here = probe.sound(s.place.at).expect("ground");
            let by = &plan.makers[here.made_by as usize];
            if by.name != s.name {
                continue;
            }
            seen += 1;
            close_to(
                &format!("{name}: {} ({})", s.label, s.part),
                here.elevation,
                s.place.dig.expect("dug"),
                1e-4,
            );
        }
        let all = plan
            .stakes
            .list
            .iter()
            .filter(|s| s.kind == Kind::Basin)
            .count();
        assert!(
            seen * 10 > all * 8,
            "{name}: only {seen} of {all} on the basin"
        );
    }
}

#[test]
fn readings_follow_the_level() {
    let job = job(DEMO);
    let plan = Plan::of(&job);
    // By hand: 93.86 + 5.12 = 98.98 ft; to 96.07 ft the rod reads 2.91 ft.
    let level = stakes::instrument(&job, &plan, "gatepost=5.12").expect("a level");
    close("height of instrument", level.height, 98.98 * FOOT, 1e-12);
    let inches = stakes::instrument(&job, &plan, "gatepost = 5'-1 7/16").expect("feet and inches");
    close_to("in inches", inches.backsight, 61.4375 * 0.0254, 1e-12);
    match plan.stakes.reading(level.height, 96.07 * FOOT) {
        Reading::Reads(rod) => close("rod", rod, 2.91 * FOOT, 1e-9),
        other => panic!("{other:?}"),
    }
    let reading = |z: f64| plan.stakes.reading(level.height, z * FOOT);
    assert!(matches!(reading(99.98), Reading::AboveSight(by) if (by - FOOT).abs() < 1e-9));
    // The rod is 13 ft: 98.98 − 13 = 85.98.
    assert!(matches!(reading(84.98), Reading::BeyondRod(by) if (by - FOOT).abs() < 1e-9));
    for (text, says) in [
        ("gatepost", "write the benchmark"),
        ("=5", "write the benchmark"),
        ("gate=5", "benchmarks of this job: doorstep, gatepost"),
        ("P1=5", "\"P1\" has no elevation"),
        ("gatepost=five", "there is no number in it"),
        ("gatepost=-1", "negative"),
        ("gatepost=14", "longer than the rod"),
        ("gatepost=NaN", "not a finite number"),
    ] {
        let why = stakes::instrument(&job, &plan, text).expect_err(text);
        assert!(why.contains(says), "{text}: {why}");
    }
    let ground = stakes::instrument(&job, &plan, "20=4").expect("a shot");
    assert!(
        ground.caution.contains("benchmark is safer"),
        "{}",
        ground.caution
    );
}

/// Labels: once each, without I and O, and none that a peg or shot could be mistaken for.
#[test]
fn labels_are_clear() {
    let job = job(DEMO);
    let plan = Plan::of(&job);
    let labels: BTreeSet<&str> = plan.stakes.list.iter().map(|s| s.label.as_str()).collect();
    assert_eq!(labels.len(), plan.stakes.list.len());
    assert!(
        !labels.iter().any(|l| l.contains(['I', 'O', 'P', 'T', 'C'])),
        "{labels:?}"
    );
}

#[test]
fn every_thing_of_the_demo_is_set_out() {
    let job = job(DEMO);
    let plan = Plan::of(&job);
    let has = |name: &str, part: &str| {
        plan.stakes
            .list
            .iter()
            .filter(|s| s.name == name && s.part.starts_with(part))
            .count()
    };
    for (name, part, least) in [
        ("pond", "water's edge", 18),
        ("pond", "shelf 1", 12),
        ("pond", "shelf 2", 12),
        ("pond", "floor", 12),
        ("pump pit", "floor", 4),
        ("falls", "centreline", 3),
        ("falls", "berm crest", 12),
        ("upper pool", "lip", 2),
        ("middle pool", "lip", 2),
        ("lower pool", "lip", 2),
        ("lower pool", "floor", 4),
        ("pond wall", "front face", 3),
        ("pond wall", "base trench, front edge", 3),
        ("pond wall", "base trench, back edge", 3),
        ("east bank", "crest", 4),
        ("bench pad", "corners", 4),
        ("first dig", "corners", 5),
        ("pipe run", "invert", 3),
        ("brim drain", "invert", 2),
        ("haul ramp", "right edge", 3),
        ("haul ramp", "left edge", 3),
    ] {
        assert!(
            has(name, part) >= least,
            "{name}, {part}: {}",
            has(name, part)
        );
    }
    // Neighbours on an outline stand no further apart than asked (a chord is shorter than its arc).
    let edge: Vec<&Stake> = plan
        .stakes
        .list
        .iter()
        .filter(|s| s.part == "water's edge")
        .collect();
    for w in edge.windows(2) {
        let (a, b) = (w[0].place.at, w[1].place.at);
        let apart = (a[0] - b[0]).hypot(a[1] - b[1]);
        assert!(
            apart <= job.setting_out.spacing + 1e-9,
            "{} {apart}",
            w[0].label
        );
    }
}

/// A wall down a plane that falls 1 in 20, written as three walls end to end: ends, corners and steps
/// with the elevations that follow by hand. Metres.
#[test]
fn walls_are_staked_at_ends_corners_and_steps() {
    let text = r#"(
        name: "steps", unit: Metre,
        field_book: (points: [("1", 0, 0, 10), ("2", 20, 0, 9), ("3", 20, 12, 9), ("4", 0, 12, 10)]),
        design: (walls: [
            (name: "upper", line: [(2, 5), (8, 5)], back: Left, cap: 10.2, thickness: 0.3,
             embedment: 0.2, base_thickness: 0.15, base_width: 0.6),
            (name: "lower", line: [(8, 5), (8, 8), (14, 8)], back: Left, cap: 9.8, thickness: 0.3,
             embedment: 0.2, base_thickness: 0.15, base_width: 0.6),
            (name: "end piece", line: [(14, 8), (14, 10)], back: Left, cap: 9.8, thickness: 0.3,
             embedment: 0.2, base_thickness: 0.15, base_width: 0.6),
        ]),
    )"#;
    let plan = Plan::of(&job(text));
    let faces = || plan.stakes.list.iter().filter(|s| s.part == "front face");
    let staked: Vec<(&str, &str, [f64; 2])> = faces()
        .map(|s| (s.name.as_str(), s.place.note, s.place.at))
        .collect();
    let by_hand = [
        ("upper", "end", [2.0, 5.0]),
        ("upper", "step", [8.0, 5.0]),
        ("lower", "step", [8.0, 5.0]),
        ("lower", "corner", [8.0, 8.0]),
        // Cap and base go on as they are: no step.
        ("lower", "end", [14.0, 8.0]),
        ("end piece", "end", [14.0, 8.0]),
        ("end piece", "end", [14.0, 10.0]),
    ];
    assert_eq!(staked.len(), by_hand.len(), "{staked:?}");
    for ((name, note, at), (n, w, p)) in staked.iter().zip(by_hand) {
        assert_eq!((*name, *note), (n, w), "at {at:?}");
        assert!((at[0] - p[0]).hypot(at[1] - p[1]) < 1e-9, "{name}: {at:?}");
    }
    for s in faces() {
        // The foot lies 0.2 under the lowest ground along the front, 10 − x / 20; its base course
        // is 0.15 thick.
        let (foot, cap) = match s.name.as_str() {
            "upper" => (10.0 - 8.0 / 20.0 - 0.2, 10.2),
            _ => (10.0 - 14.0 / 20.0 - 0.2, 9.8),
        };
        let figures = [
            ("cap", s.place.finish, cap),
            ("base", s.place.base, foot),
            ("dig", s.place.dig, foot - 0.15),
        ];
        for (what, found, by_hand) in figures {
            let label = format!("{} {what}", s.label);
            close_to(&label, found.unwrap_or(f64::NAN), by_hand, 1e-9);
        }
    }
}

/// The base trench of a straight wall on a plane, by hand: body 0.3 m thick to the left of its line, trench
/// 0.7 m wide centred on it, so 0.2 m out on both sides. Ground z = 10 + 0.1 x: lowest at x = 2, 10.2 m;
/// foot 0.25 m under it, base course 0.1 m under that. Depth to dig is what the ground stands over it.
#[test]
fn a_base_trench_is_staked_along_both_edges() {
    let job = job(BASE_TRENCH);
    let plan = Plan::of(&job);
    let (foot, bottom) = (10.2 - 0.25, 10.2 - 0.25 - 0.1);
    let hi = 12.0;
    let readings = plan.stakes.readings(hi);
    for (part, y) in [
        ("base trench, front edge", 4.8),
        ("base trench, back edge", 5.5),
    ] {
        let its: Vec<_> = plan
            .stakes
            .list
            .iter()
            .zip(&readings)
            .filter(|(s, _)| s.name == "wall" && s.part == part)
            .collect();
        assert_eq!(its.len(), 2, "{part}");
        for ((s, r), x) in its.iter().zip([2.0, 8.0]) {
            let label = format!("{part} {}", s.label);
            assert_eq!(s.place.note, "end");
            close_to(&format!("{label} x"), s.place.at[0], x, 1e-9);
            close_to(&format!("{label} y"), s.place.at[1], y, 1e-9);
            close_to(
                &format!("{label} dig to"),
                s.place.dig.expect("dug"),
                bottom,
                1e-9,
            );
            close_to(
                &format!("{label} base"),
                s.place.base.expect("a base"),
                foot,
                1e-9,
            );
            let deep = 10.0 + 0.1 * x - bottom;
            close_to(
                &format!("{label} depth"),
                s.place.cut().expect("a cut"),
                deep,
                1e-9,
            );
            match r.dig {
                Some(Reading::Reads(rod)) => close_to(&label, rod, hi - bottom, 1e-9),
                other => panic!("{label}: {other:?}"),
            }
            match r.base {
                Some(Reading::Reads(rod)) => close_to(&label, rod, hi - foot, 1e-9),
                other => panic!("{label}: {other:?}"),
            }
        }
    }
    let page = printed(["stakes", "surveys/demo.ron"]);
    assert!(page.contains("base trench, front edge"), "{page}");
}

const BASE_TRENCH: &str = "(
    name: \"wall\", unit: Metre,
    field_book: (
        pegs: [(\"p\", (0, 0)), (\"q\", (6, -4))],
        points: [(\"a\", 0, 0, 10), (\"b\", 10, 0, 11), (\"c\", 10, 10, 11), (\"d\", 0, 10, 10)],
    ),
    design: (walls: [(name: \"wall\", line: [(2, 5), (8, 5)], back: Left, cap: 11.2, thickness: 0.3,
        embedment: 0.25, base_thickness: 0.1, base_width: 0.7)]),
    sequence: [(name: \"wall\", works: [\"wall\"])],
)";

/// Pegs in line with the work, or out of the tape's reach, are told; so is a job without pegs.
#[test]
fn poor_pegs_are_found() {
    let poor = |pegs: &[(&str, [f64; 2])]| {
        let mut job = job(DEMO);
        job.field_book.pegs.extend(pegs.iter().map(|(n, p)| Peg {
            name: n.to_string(),
            at: p.map(|v| v * FOOT),
        }));
        job.field_book.baselines.clear();
        job.setting_out.pegs = pegs.iter().map(|p| p.0.to_string()).collect();
        let plan = Plan::of(&job);
        let found: Vec<String> = plan
            .findings
            .iter()
            .filter(|f| f.place == "stakes")
            .map(|f| format!("{:?}: {}", f.severity, f.what))
            .collect();
        (plan, found)
    };
    let (plan, found) = poor(&[("near 1", [40.0, 10.0]), ("near 2", [42.0, 10.0])]);
    assert!(
        found
            .iter()
            .any(|f| f.starts_with("Warning") && f.contains("less than 30°")),
        "{found:?}"
    );
    let flawed = plan.stakes.list.iter().filter_map(|s| s.tie.as_ref());
    for t in flawed.filter(|t| t.flaw == Some(Flaw::Angle)) {
        assert!(t.angle < 30.0 || t.angle > 150.0);
        assert!(
            t.error > 1.2 * 0.0127,
            "a poor tie errs by more than its tapes: {}",
            t.error
        );
    }
    let (_, found) = poor(&[("far 1", [-300.0, 10.0]), ("far 2", [-300.0, 90.0])]);
    assert!(
        found
            .iter()
            .any(|f| f.contains("beyond the end of the tape of 100.00 ft")),
        "{found:?}"
    );
    let (_, found) = poor(&[("only", [0.0, 0.0])]);
    assert!(
        found.iter().any(|f| f.contains("cannot be taped")),
        "{found:?}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..Default::default() })]

    /// Any two pegs and any place: the survey, given the tapes and the side, finds the place again,
    /// to what the crossing angle leaves of the digits.
    #[test]
    fn any_tie_leads_back(
        a in (-40.0..40.0f64, -40.0..40.0f64), b in (-40.0..40.0f64, -40.0..40.0f64),
        p in (-40.0..40.0f64, -40.0..40.0f64),
    ) {
        let (a, b, p) = ([a.0, a.1], [b.0, b.1], [p.0, p.1]);
        prop_assume!((a[0] - b[0]).hypot(a[1] - b[1]) > 0.5);
        let mut job = job(SMALL);
        let pegs = [stakes::Peg { name: "a", at: a }, stakes::Peg { name: "b", at: b }];
        let t = stakes::tie(&pegs[0], &pegs[1], p, &job.setting_out);
        job.field_book.pegs = vec![Peg { name: "a".into(), at: a }, Peg { name: "b".into(), at: b }];
        let place = Place::Tie { a: "a".into(), from_a: t.from_a, b: "b".into(), from_b: t.from_b, side: t.side };
        let at = brimline::job::At::Placed(place);
        let (reduced, _) = survey::reduce(&job.field_book, &[]);
        let found = reduced.locate(&at, &job.field_book).expect("a place");
        let off = (found[0] - p[0]).hypot(found[1] - p[1]);
        prop_assert!(off < 1e-9 || t.flaw.is_some() && off < 1e-5, "{off} at {}°", t.angle);
        prop_assert!(t.side == Side::Left || t.side == Side::Right);
    }
}

// ---------------------------------------------------------------- the command

#[test]
fn the_list_reads_as_it_is_used() {
    let page = printed(["stakes", "surveys/demo.ron", "--backsight", "gatepost=5.12"]);
    assert!(page.contains("height of instrument 98.98"), "{page}");
    assert!(page.contains("dig to 96.07 (rod 2.91)"), "{page}");
    assert!(
        page.contains("fill 0'-9\"") && page.contains("dig 1'-11 1/2\""),
        "{page}"
    );
    assert!(!page.contains("NaN") && !page.contains('?'), "{page}");
    let wide = page.lines().filter(|l| l.chars().count() > 100).count();
    assert_eq!(wide, 0, "{page}");
    let page = printed(["stakes", "surveys/demo.ron"]);
    assert!(
        page.contains("there are no rod readings") && !page.contains("rod 2"),
        "{page}"
    );
    let page = printed(["stakes", "surveys/demo.ron", "--backsight", "gatepost=0.1"]);
    assert!(
        page.contains("out of reach from this setup") && page.contains("too high"),
        "{page}"
    );
    let page = printed(["stakes", "surveys/demo.ron", "--pegs", "P1,P3"]);
    assert!(
        page.contains("! ") && page.contains("the tapes meet at"),
        "{page}"
    );
}

#[test]
fn a_wrong_request_exits_2() {
    for (args, says) in [
        (["--backsight", "gate=1"], "there is no benchmark"),
        (["--pegs", "P1"], "write two points"),
        (["--pegs", "P1,P1"], "the same place"),
        (["--pegs", "P1,P7"], "no peg, benchmark or shot \"P7\""),
        (["--pegs", "P1,T9"], "no peg, benchmark or shot \"T9\""),
    ] {
        let out = brimline(["stakes", "surveys/demo.ron", args[0], args[1]]);
        assert_eq!(out.status.code(), Some(2), "{args:?}");
        let said = String::from_utf8_lossy(&out.stderr);
        assert!(said.contains(says), "{args:?}: {said}");
    }
}

#[test]
fn every_key_of_the_stakes_is_documented() {
    let mut given = BTreeSet::new();
    for args in [
        [
            "stakes",
            "surveys/demo.ron",
            "--json",
            "--backsight",
            "gatepost=5.12",
        ],
        [
            "stakes",
            "surveys/terrace-metric.ron",
            "--json",
            "--backsight",
            "sill=1.3",
        ],
    ] {
        let value: Value = serde_json::from_str(&printed(args)).expect("JSON");
        given.extend(keys::given(&value));
    }
    // Neither has errors.
    given.remove("findings");
    let mut documented = keys::documented("stakes");
    documented.remove("findings[]");
    assert_eq!(given, documented);
}

/// A pond that does not hold its water, and one that cannot be dug: the lists say so at their end.
#[test]
fn lists_of_a_plan_that_fails_say_so() {
    let with = |name: &str, basin: &str| {
        job(&format!(
            "(name: \"yard\", unit: Metre, field_book: (points: [
                (\"a\", 0, 0, 10), (\"b\", 30, 0, 10), (\"c\", 30, 30, 10), (\"d\", 0, 30, 10),
            ]), design: (basins: [(name: \"{name}\", floor_depth: 1, outline: {basin})]))"
        ))
    };
    let high = "[(10, 10), (16, 10), (16, 14), (10, 14)], water: 10.5";
    let runs_away = "does not hold its water";
    for (name, basin, what) in [
        ("pond", high, runs_away),
        (
            "pond",
            "[(40, 10), (46, 10), (46, 14), (40, 14)], water: 9.8",
            "has no water",
        ),
        // Whatever it is called.
        ("service yard pond", high, runs_away),
        ("tree pool", high, runs_away),
        ("spoil", high, runs_away),
        ("access", high, runs_away),
        ("stakes", high, runs_away),
    ] {
        let job = with(name, basin);
        let plan = Plan::of(&job);
        let list = brimline::takeoff::takeoff(&job, &plan);
        let closer = brimline::flow::closer(&job, &plan);
        let pages = [
            report::takeoff(&job, &plan, &list, 200),
            report::stakes(&job, &plan, &plan.stakes, None, 200),
            report::water(&job, &plan, &closer, 200),
        ];
        for page in &pages {
            assert!(
                page.contains("ERROR") && page.contains(what),
                "{what}:\n{page}"
            );
        }
        assert!(
            pages[..2].iter().all(|p| p.contains("DOUBTFUL")),
            "{pages:?}"
        );
        for value in [
            report::takeoff_json(&job, &plan, &list),
            report::stakes_json(&job, &plan, &plan.stakes, None),
        ] {
            let found = value["findings"].as_array().expect("a list");
            let said = |f: &Value| f["what"].as_str().is_some_and(|w| w.contains(what));
            assert!(found.iter().any(said), "{what}: {found:?}");
        }
    }
    let demo = job(DEMO);
    let plan = Plan::of(&demo);
    assert!(!report::stakes(&demo, &plan, &plan.stakes, None, 100).contains("DOUBTFUL"));
}

/// A list is in doubt by what an error is about, not by what its thing is called.
#[test]
fn errors_about_something_else_are_no_doubts() {
    use brimline::findings::{About, Finding, Severity};
    let job = job(DEMO);
    let plan = Plan::of(&job);
    let list = brimline::takeoff::takeoff(&job, &plan);
    for (about, stakes, takeoff) in [
        (About::Works, true, true),
        (About::Water, true, true),
        (About::Pump, false, true),
        (About::Haul, false, false),
        (About::Guarded, false, false),
        (About::Stakes, false, false),
        (About::AsBuilt, false, false),
    ] {
        for place in ["pond", "pile topsoil", "tree 1"] {
            let mut plan = plan.clone();
            let error = Finding::new(Severity::Error, place, "is wrong", "mend it").about(about);
            plan.findings.push(error);
            let page = report::stakes(&job, &plan, &plan.stakes, None, 100);
            assert_eq!(page.contains("DOUBTFUL"), stakes, "{about:?} {place}");
            let page = report::takeoff(&job, &plan, &list, 100);
            assert_eq!(page.contains("DOUBTFUL"), takeoff, "{about:?} {place}");
        }
    }
}

/// The drain of the demo: its invert at both ends, as its reckoning has it, after all works.
#[test]
fn an_overflow_is_staked_by_its_inverts() {
    let text = DEMO.replace(
        "line: [(50, 24), (50, 19.2)]",
        "line: [(50, 24), (50, 20.2), (51, 19.2)]",
    );
    let plan = Plan::of(&job(&text));
    let pipe = &plan.flow.overflows[0];
    let stakes: Vec<&Stake> = plan
        .stakes
        .list
        .iter()
        .filter(|s| s.work == "brim drain")
        .collect();
    let notes: Vec<&str> = stakes.iter().map(|s| s.place.note).collect();
    assert_eq!(notes, ["inlet", "bend", "outlet"]);
    assert_eq!(pipe.line.len(), 3);
    for (stake, corner) in stakes.iter().zip(&pipe.line) {
        assert_eq!(stake.place.at, [corner[0], corner[1]]);
        close_to(
            "invert",
            stake.place.dig.expect("an invert"),
            corner[2],
            1e-9,
        );
    }
    // 1.47 ft down over 3.8 and √2 ft.
    let fall = pipe.inlet_m - pipe.outlet_m;
    let bend = pipe.inlet_m - fall * 3.8 / (3.8 + 2f64.sqrt());
    close_to("invert at the bend", pipe.line[1][2], bend, 1e-6);
    // The rod 5.12 on the gatepost reads so much on the outlet's invert.
    let level = brimline::stakes::instrument(&job(&text), &plan, "gatepost=5.12").expect("a level");
    let reading = plan.stakes.reading(level.height, pipe.outlet_m);
    assert_eq!(
        plan.stakes
            .readings(level.height)
            .last()
            .and_then(|r| r.dig),
        Some(reading)
    );
    // The ground by then: the wall's backfill stands over the bend.
    let bend = &stakes[1].place;
    assert!(bend.before > bend.existing, "{bend:?}");
}
