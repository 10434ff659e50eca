//! Level notes and placings. The arithmetic of each example is shown beside it.

mod notes;

use brimline::findings::{Finding, Severity};
use brimline::job::*;
use brimline::survey::{Reduced, reduce};
use notes::*;

fn elevation(reduced: &Reduced, name: &str) -> f64 {
    reduced
        .elevation(&Height::Shot(name.into()))
        .unwrap_or(f64::NAN)
}

/// Two setups from benchmark A (100.00 ft) to benchmark B (95.40 ft):
///
/// ```text
/// I   HI = 100.00 + 4.32 = 104.32;  1: 104.32 − 5.10 = 99.22;  T1: 104.32 − 6.87 = 97.45
/// II  HI =  97.45 + 3.21 = 100.66;  2: 100.66 − 7.46 = 93.20;  soffit: 100.66 + 5.00 = 105.66
///     B: 100.66 − 5.25 = 95.41, known 95.40: +0.01 ft over two setups, −0.005 ft each
/// ΣBS − ΣFS = (4.32 + 3.21) − (6.87 + 5.25) = −4.59 = 95.41 − 100.00
/// ```
fn worked() -> FieldBook {
    book(
        vec![mark("A", 100.0 * FT), mark("B", 95.40 * FT)],
        vec![
            setup(
                "I",
                sight("A", 4.32 * FT),
                vec![sight("1", 5.10 * FT), turning("T1", 6.87 * FT)],
            ),
            setup(
                "II",
                sight("T1", 3.21 * FT),
                vec![
                    sight("2", 7.46 * FT),
                    Sight {
                        inverted: true,
                        ..sight("soffit", 5.00 * FT)
                    },
                    sight("B", 5.25 * FT),
                ],
            ),
        ],
    )
}

#[test]
fn worked_notes() {
    let (r, findings) = reduce(&worked(), &[]);
    assert!(findings.is_empty(), "{findings:#?}");
    near("shot 1", elevation(&r, "1"), (99.22 - 0.005) * FT);
    near("T1", elevation(&r, "T1"), (97.45 - 0.005) * FT);
    near("shot 2", elevation(&r, "2"), (93.20 - 0.010) * FT);
    near("soffit", elevation(&r, "soffit"), (105.66 - 0.010) * FT);
    near("B", elevation(&r, "B"), 95.40 * FT);
    near("misclosure", r.misclosure.unwrap(), 0.01 * FT);
    // 3 mm for each setup, √2.
    near("allowed", r.allowed.unwrap(), 0.003 * 2f64.sqrt());
    let [readings, levels] = r.arithmetic.unwrap();
    near("ΣBS − ΣFS", readings, -4.59 * FT);
    near("last − first", levels, -4.59 * FT);
    let row = |to: &str| {
        r.rows
            .iter()
            .find(|row| row.to == to && row.backsight.is_none())
    };
    assert!(row("T1").unwrap().foresight.is_some() && row("1").unwrap().intermediate.is_some());
    near("booked", row("B").unwrap().booked.unwrap(), 95.41 * FT);
    near("correction", row("B").unwrap().correction, -0.01 * FT);
    near(
        "HI of II",
        r.rows
            .iter()
            .find(|row| row.to == "T1" && row.backsight.is_some())
            .and_then(|row| row.height_of_instrument)
            .unwrap(),
        100.66 * FT,
    );
}

#[test]
fn the_order_of_setups_does_not_matter() {
    let (straight, _) = reduce(&worked(), &[]);
    let mut notes = worked();
    notes.setups.reverse();
    let (turned, findings) = reduce(&notes, &[]);
    assert!(findings.is_empty(), "{findings:#?}");
    for name in ["1", "T1", "2", "soffit", "B"] {
        near(name, elevation(&turned, name), elevation(&straight, name));
    }
}

/// FGCC 1984, Standards and Specifications for Geodetic Control Networks, third order: 12 mm √K
/// (from memory). Four sights of 50 m are 0.2 km: 12 √0.2 = 5.367 mm; 0.25 km: 6 mm.
#[test]
fn third_order_allowance() {
    for (sights, millimetres) in [(50.0, 5.366_563_145_999_495), (62.5, 6.0)] {
        let mut notes = worked();
        for s in &mut notes.setups {
            s.backsight.distance = Some(sights);
            s.sights.last_mut().unwrap().distance = Some(sights);
        }
        let (r, _) = reduce(&notes, &[]);
        near("allowed, mm", r.allowed.unwrap() * 1000.0, millimetres);
    }
    let mut notes = worked();
    notes.allowed = Allowed::PerSetup(0.002);
    near(
        "per setup",
        reduce(&notes, &[]).0.allowed.unwrap(),
        0.002 * 2f64.sqrt(),
    );
    notes.allowed = Allowed::Total(0.004);
    near("total", reduce(&notes, &[]).0.allowed.unwrap(), 0.004);
}

/// Three equal setups round a loop that misses by +3 mm: 1, 2 and 3 mm are taken off, and a setup
/// that hangs on the second turning point moves with it.
#[test]
fn a_loop_and_a_spur() {
    let notes = book(
        vec![mark("A", 10.0)],
        vec![
            setup("I", sight("A", 1.500), vec![turning("T1", 1.200)]),
            setup("II", sight("T1", 1.400), vec![turning("T2", 1.900)]),
            setup("III", sight("T2", 1.703), vec![turning("A", 1.500)]),
            setup("spur", sight("T2", 1.000), vec![sight("5", 2.000)]),
        ],
    );
    let (r, findings) = reduce(&notes, &[]);
    assert!(findings.is_empty(), "{findings:#?}");
    near("misclosure", r.misclosure.unwrap(), 0.003);
    near("T1", elevation(&r, "T1"), 10.3 - 0.001);
    near("T2", elevation(&r, "T2"), 9.8 - 0.002);
    near("5", elevation(&r, "5"), 8.8 - 0.002);
    assert_eq!(r.closures.len(), 1);
    assert_eq!(r.closures[0].setups, 3);
}

#[test]
fn what_does_not_close_is_not_adjusted() {
    let mut notes = worked();
    notes.setups[1].sights[2].rod = 5.05 * FT;
    let (r, findings) = reduce(&notes, &[]);
    has(&findings, Severity::Error, "level run A to B", "0.210 ft");
    near("shot 2 as booked", elevation(&r, "2"), 93.20 * FT);
    assert!(r.rows.iter().all(|row| row.correction == 0.0));
    assert!(r.rows.iter().all(|row| row.remark.contains("not adjusted")));
    assert!(!r.closures[0].closes);
}

#[test]
fn nothing_to_start_from() {
    let mut notes = worked();
    notes.benchmarks.clear();
    let (r, findings) = reduce(&notes, &[]);
    has(&findings, Severity::Error, "level notes", "no benchmark");
    assert!(r.rows.iter().all(|row| row.elevation.is_none()));
    assert!(r.spots.is_empty() && r.misclosure.is_none() && r.arithmetic.is_none());

    let mut notes = worked();
    notes.setups[1].backsight.to = "T9".into();
    let (r, findings) = reduce(&notes, &[]);
    has(&findings, Severity::Error, "setup II", "\"T9\"");
    has(
        &findings,
        Severity::Warning,
        "level notes",
        "close on nothing",
    );
    near("shot 1", elevation(&r, "1"), 99.22 * FT);
    assert!(r.elevation(&Height::Shot("2".into())).is_err());
}

#[test]
fn two_benchmarks_on_the_way_are_two_runs() {
    let notes = book(
        vec![mark("A", 10.0), mark("B", 10.4), mark("C", 9.0)],
        vec![
            setup("I", sight("A", 1.502), vec![turning("B", 1.100)]),
            setup("II", sight("B", 1.000), vec![turning("C", 2.401)]),
        ],
    );
    let (r, findings) = reduce(&notes, &[]);
    assert!(findings.is_empty(), "{findings:#?}");
    let runs: Vec<(&str, &str, usize)> = r
        .closures
        .iter()
        .map(|c| (c.from.as_str(), c.to.as_str(), c.setups))
        .collect();
    assert_eq!(runs, [("A", "B", 1), ("B", "C", 1)]);
    near("A to B", r.closures[0].misclosure, 0.002);
    near("B to C", r.closures[1].misclosure, -0.001);
}

// ------------------------------------------------------------------ placings

fn pegs() -> FieldBook {
    let mut notes = book(vec![mark("A", 10.0)], vec![]);
    notes.pegs = vec![
        Peg {
            name: "P".into(),
            at: [0.0, 0.0],
        },
        Peg {
            name: "Q".into(),
            at: [5.0, 0.0],
        },
    ];
    notes.baselines = vec![Baseline {
        name: "fence".into(),
        from: [1.0, 1.0],
        to: [1.0, 9.0],
    }];
    notes
}

fn tie(a: &str, from_a: f64, b: &str, from_b: f64, side: Side) -> Place {
    Place::Tie {
        a: a.into(),
        from_a,
        b: b.into(),
        from_b,
        side,
    }
}

fn placed(places: Vec<(&str, Place)>) -> (Reduced, Vec<Finding>) {
    let mut notes = pegs();
    let sights = places
        .into_iter()
        .map(|(name, place)| Sight {
            at: Some(place),
            ..sight(name, 1.0)
        })
        .chain([sight("A", 1.2)])
        .collect();
    notes.setups = vec![setup("I", sight("A", 1.2), sights)];
    reduce(&notes, &[])
}

#[test]
fn each_way_of_placing() {
    let (r, findings) = placed(vec![
        // Placed from a shot further down the page.
        ("later", tie("left", 0.0, "P", 5.0, Side::Left)),
        // The 3-4-5 triangle: foot 9/5 = 1.8 along, 12/5 = 2.4 off.
        ("left", tie("P", 3.0, "Q", 4.0, Side::Left)),
        ("right", tie("P", 3.0, "Q", 4.0, Side::Right)),
        (
            "offset",
            Place::Offset {
                baseline: "fence".into(),
                along: 2.0,
                offset: 3.0,
            },
        ),
        (
            "grid",
            Place::Grid {
                baseline: "fence".into(),
                spacing: 0.5,
                column: 4.0,
                row: -3.0,
            },
        ),
        // From P, clockwise from the way to Q (east): south-east, and √2 metres.
        (
            "ray",
            Place::Ray {
                at: "P".into(),
                toward: "Q".into(),
                angle: 45.0,
                distance: 2f64.sqrt(),
            },
        ),
    ]);
    // "later" leans on a tape of no length beside one of 5 m: P to left is 3 m.
    has(&findings, Severity::Error, "shot later", "2.000 m");
    assert_eq!(findings.len(), 1, "{findings:#?}");
    for (name, [x, y]) in [
        ("left", [1.8, 2.4]),
        ("right", [1.8, -2.4]),
        // The fence runs up the page; right of it is +x.
        ("offset", [4.0, 3.0]),
        ("grid", [-0.5, 3.0]),
        ("ray", [1.0, -1.0]),
    ] {
        let got = r.locate(&At::Shot(name.into()), &pegs()).unwrap();
        near(name, got[0], x);
        near(name, got[1], y);
    }
    assert_eq!(r.spots.len(), 5);
}

/// Setups and shots are both numbered; a number in a placing is the shot's.
#[test]
fn a_shot_goes_before_a_setup_of_the_same_name() {
    let mut notes = pegs();
    notes.setups = vec![Setup {
        at: Some(Place::Xy(9.0, 9.0)),
        ..setup("1", sight("A", 1.2), vec![at("1", 1.0, 2.0, 3.0)])
    }];
    let (r, _) = reduce(&notes, &[]);
    assert_eq!(r.locate(&At::Shot("1".into()), &notes), Ok([2.0, 3.0]));
}

#[test]
fn ties_lean_on_earlier_and_later_shots() {
    let (r, findings) = placed(vec![
        ("c", tie("b", 5.0, "a", 4.0, Side::Right)),
        ("b", tie("P", 6.0, "a", 3.0, Side::Right)),
        ("a", Place::Xy(6.0, -3.0)),
    ]);
    assert!(findings.is_empty(), "{findings:#?}");
    let b = r.locate(&At::Shot("b".into()), &pegs()).unwrap();
    near("b from P", b[0].hypot(b[1]), 6.0);
    let c = r.locate(&At::Shot("c".into()), &pegs()).unwrap();
    near("c from a", (c[0] - 6.0).hypot(c[1] + 3.0), 4.0);
    near("c from b", (c[0] - b[0]).hypot(c[1] - b[1]), 5.0);
}

#[test]
fn placings_that_come_to_nothing() {
    let (r, findings) = placed(vec![
        ("short", tie("P", 2.0, "Q", 2.5, Side::Left)),
        ("long", tie("P", 9.0, "Q", 2.5, Side::Left)),
        ("nowhere", tie("P", 2.0, "Z", 2.5, Side::Left)),
        ("x", tie("y", 2.0, "P", 2.0, Side::Left)),
        ("y", tie("x", 2.0, "P", 2.0, Side::Left)),
        (
            "noline",
            Place::Offset {
                baseline: "hedge".into(),
                along: 2.0,
                offset: 3.0,
            },
        ),
        // Tapes of 2.51 m each over 5 m cross very flat: about 5 degrees of 180.
        ("flat", tie("P", 2.51, "Q", 2.51, Side::Left)),
    ]);
    has(
        &findings,
        Severity::Error,
        "shot short",
        "0.500 m too short",
    );
    has(
        &findings,
        Severity::Error,
        "shot long",
        "\"P\" is 1.500 m too long",
    );
    has(&findings, Severity::Error, "shot nowhere", "\"Z\"");
    has(&findings, Severity::Error, "shot x", "waits");
    has(&findings, Severity::Error, "shot y", "waits");
    has(&findings, Severity::Error, "shot noline", "\"hedge\"");
    has(&findings, Severity::Warning, "shot flat", "cross at");
    assert_eq!(findings.len(), 7, "{findings:#?}");
    assert_eq!(r.spots.len(), 1);
    // Known in level, not in plan.
    assert!(r.elevation(&Height::Shot("short".into())).is_ok());
    assert!(r.locate(&At::Shot("short".into()), &pegs()).is_err());
    assert!(r.locate(&At::Shot("ghost".into()), &pegs()).is_err());
}

#[test]
fn a_check_gives_a_residual() {
    let mut notes = pegs();
    let checked = |name: &str, y: f64| Sight {
        check: Some(Place::Xy(1.8, y)),
        at: Some(tie("P", 3.0, "Q", 4.0, Side::Left)),
        ..sight(name, 1.0)
    };
    notes.setups = vec![setup(
        "I",
        sight("A", 1.2),
        vec![checked("good", 2.43), checked("bad", 2.7), sight("A", 1.2)],
    )];
    let (r, findings) = reduce(&notes, &[]);
    near("good", r.residuals[0].distance, 0.03);
    near("bad", r.residuals[1].distance, 0.3);
    has(&findings, Severity::Warning, "shot bad", "0.300 m apart");
    assert_eq!(findings.len(), 1, "{findings:#?}");
}

#[test]
fn known_points_need_no_notes() {
    let mut notes = book(vec![], vec![]);
    notes.points = (0..5)
        .map(|i| KnownPoint {
            name: if i == 0 { "hub".into() } else { String::new() },
            x: f64::from(i),
            y: 0.0,
            z: 2.0,
        })
        .collect();
    let (r, findings) = reduce(&notes, &[]);
    assert!(findings.is_empty(), "{findings:#?}");
    assert_eq!((r.spots.len(), r.places.len()), (5, 1));
    near("hub", elevation(&r, "hub"), 2.0);
}

#[test]
fn a_million_known_points_pass_quickly() {
    let mut notes = book(vec![], vec![]);
    notes.points = (0..1_000_000)
        .map(|i| KnownPoint {
            name: String::new(),
            x: f64::from(i % 1000),
            y: f64::from(i / 1000),
            z: 1.0,
        })
        .collect();
    let started = std::time::Instant::now();
    let (r, _) = reduce(&notes, &[]);
    assert_eq!(r.spots.len(), 1_000_000);
    assert!(started.elapsed().as_secs() < 5, "{:?}", started.elapsed());
}
