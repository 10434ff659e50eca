//! Published figures, through job files as a person would write them. Each test names its source;
//! "from memory" means that nobody here has had the document open.

mod common;

use brimline::findings::Severity;
use brimline::job::{Document, Job};
use brimline::plan::Plan;
use common::{close, close_to};

fn job(text: &str) -> Job {
    match Document::parse("published.ron", text) {
        Ok((_, job)) => job,
        Err(errors) => panic!("{errors}"),
    }
}

/// Level ground at 100 ft, 120 × 100 ft, with a design and a soil.
fn yard(design: &str, soil: &str) -> Job {
    job(&format!(
        "(name: \"yard\", unit: Foot, field_book: (points: [
            (\"a\", 0, 0, 100), (\"b\", 120, 0, 100), (\"c\", 120, 100, 100), (\"d\", 0, 100, 100)]),
          design: ({design}), soil: ({soil}))"
    ))
}

const YARD3: f64 = 0.764_554_857_984;

/// NIST SP 811 and Handbook 44, App. C: 1 ft = 0.3048 m, 1 in = 0.0254 m, exactly.
#[test]
fn lengths() {
    let read = job("(name: \"u\", unit: Foot, field_book: (points: [
        (\"foot\", 1, \"1 ft\", \"1'\"),
        (\"inch\", \"1 in\", \"1\\\"\", \"0'-1\"),
        (\"both\", \"5'-3 1/2\", \"5'-3 1/2\\\"\", \"5.29 ft\"),
        (\"metric\", \"1.61 m\", \"161 cm\", \"1610 mm\")]))");
    for (point, expected) in read.field_book.points.iter().zip([
        [0.3048; 3],
        [0.0254; 3],
        [1.6129, 1.6129, 1.612_392],
        [1.61; 3],
    ]) {
        for (found, expected) in [point.x, point.y, point.z].into_iter().zip(expected) {
            close(&point.name, found, expected, 4.0 * f64::EPSILON);
        }
    }
}

/// NIST SP 811 and Handbook 44, App. C: 1 yd³ = 0.764554857984 m³ exactly; avoirdupois pound
/// 0.45359237 kg, short ton 2,000 lb.
#[test]
fn volumes_and_weights() {
    let soil = yard(
        "",
        "truck: \"1 yd3\", barrow: \"27 cu ft\", truck_payload: \"1 ton\"",
    )
    .soil;
    close("cubic yard", soil.truck, YARD3, 4.0 * f64::EPSILON);
    close("27 cubic feet", soil.barrow, YARD3, 4.0 * f64::EPSILON);
    close(
        "short ton",
        soil.truck_payload,
        907.184_74,
        4.0 * f64::EPSILON,
    );
}

/// US Army FM 5-434, soil conversion factors, bank = 1.00 (from memory); and that they are the
/// ones a plan is counted with: a cut of 1,000 ft³.
#[test]
fn soil_factors() {
    for (class, loose, compacted) in [
        ("class: Sand, ", 1.11, 0.95),
        ("class: CommonEarth, ", 1.25, 0.90),
        ("class: Clay, ", 1.43, 0.90),
        ("class: BlastedRock, ", 1.50, 1.30),
        // Common earth where nothing is said.
        ("", 1.25, 0.90),
    ] {
        let works = "pads: [
            (name: \"cut\", outline: [(10, 10), (20, 10), (20, 20), (10, 20)], elevation: 90, build_up: 0, batter: 0),
            (name: \"fill\", outline: [(50, 50), (60, 50), (60, 55), (50, 55)], elevation: 104, build_up: 0, batter: 0)]";
        let plan = Plan::of(&yard(works, &format!("{class}topsoil_depth: 0")));
        let ft3 = YARD3 / 27.0;
        let soil = &plan.soil;
        close("bank", soil.cut_bank_m3, 1000.0 * ft3, 1e-9);
        close("loose", soil.cut_loose_m3, 1000.0 * loose * ft3, 1e-9);
        close("compacted fill", soil.fill_compacted_m3, 200.0 * ft3, 1e-9);
        close(
            "bank in the fill",
            soil.fill_bank_m3,
            200.0 / compacted * ft3,
            1e-9,
        );
        close(
            "spoil, loose",
            soil.spoil_loose_m3,
            (1000.0 - 200.0 / compacted) * loose * ft3,
            1e-9,
        );
    }
}

/// Third order, 12 mm × √K with K in km: FGCC 1984, Standards and Specifications for Geodetic
/// Control Networks. The default where distances are known: 4 × 62.5 m is a quarter of a kilometre.
#[test]
fn third_order() {
    let with = |rod: f64| {
        let (reduced, findings) = brimline::survey::reduce(
            &job(&format!(
                "(name: \"levels\", unit: Metre, field_book: (
                    benchmarks: [(name: \"A\", elevation: 50, at: (0, 0)), (name: \"B\", elevation: 50.5, at: (0, 250))],
                    setups: [
                        (name: \"1\", backsight: (to: \"A\", rod: 1.5, distance: 62.5),
                         sights: [(to: \"T\", rod: 1.2, turning: true, distance: 62.5)]),
                        (name: \"2\", backsight: (to: \"T\", rod: 1.4, distance: 62.5),
                         sights: [(to: \"B\", rod: {rod}, distance: 62.5)]),
                    ]))"
            ))
            .field_book,
            &[],
        );
        let closure = reduced.closures.first().expect("a closure").clone();
        let errors = findings
            .iter()
            .filter(|f| f.severity == Severity::Error)
            .count();
        (closure, errors)
    };
    // 50 + 1.5 − 1.2 + 1.4 − 1.2 = 50.5.
    let (exact, _) = with(1.2);
    close_to("misclosure", exact.misclosure, 0.0, 1e-12);
    close("allowed", exact.allowed, 0.012 * 0.25f64.sqrt(), 1e-12);
    assert!(exact.closes);
    let (inside, errors) = with(1.205);
    assert!(
        inside.closes && errors == 0,
        "5 mm is inside 6 mm: {inside:?}"
    );
    let (outside, errors) = with(1.207);
    assert!(
        !outside.closes && errors > 0,
        "7 mm is outside 6 mm: {outside:?}"
    );
}

fn dug(depth: f64, batter: f64, kind: &str) -> Plan {
    let basin = format!(
        "basins: [(name: \"pond\", water: 100, outline: [(50, 40), (70, 40), (70, 60), (50, 60)],
                   outline_at: Floor, floor_depth: {depth}, batter: {batter})]"
    );
    Plan::of(&yard(&basin, &format!("excavation_type: {kind}")))
}

fn says(plan: &Plan, words: &str) -> bool {
    plan.findings.iter().any(|f| {
        f.severity == Severity::Caution && (f.what.contains(words) || f.remedy.contains(words))
    })
}

/// Steepest slopes, 29 CFR 1926 Subpart P, App. B, Table B-1: type A 3/4:1, B 1:1, C 1 1/2:1;
/// stable rock may stand upright.
#[test]
fn table_b_1() {
    for (kind, steepest) in [("A", 0.75), ("B", 1.0), ("C", 1.5)] {
        let words = format!("steeper than {steepest}:1");
        assert!(
            says(&dug(7.0, steepest - 0.05, kind), &words),
            "type {kind}: 7 ft at just under {steepest}:1 is named"
        );
        assert!(
            !says(&dug(7.0, steepest, kind), "Table B-1"),
            "type {kind}: {steepest}:1 itself is allowed"
        );
    }
    assert!(!says(&dug(7.0, 0.0, "Rock"), "Table B-1"), "stable rock");
    let basin =
        "basins: [(name: \"pond\", water: 100, outline: [(50, 40), (70, 40), (70, 60), (50, 60)],
                   outline_at: Floor, floor_depth: 7, batter: 2, edge_batters: [(1, 0.5)])]";
    assert!(
        says(
            &Plan::of(&yard(basin, "")),
            "its sides at 0.5:1 are steeper than 1.5:1"
        ),
        "one side of its own"
    );
}

/// A protective system unless under 5 ft deep: 29 CFR 1926.652(a)(1). A way out within 25 ft from
/// 4 ft on: 1926.651(c)(2). Spoil at least 2 ft back: 1926.651(j)(2).
#[test]
fn depths_of_excavations() {
    for (depth, protect, way_out) in [
        (3.9, false, false),
        (4.0, false, true),
        (4.9, false, true),
        (5.0, true, true),
        (9.0, true, true),
        (19.9, true, true),
    ] {
        let plan = dug(depth, 2.0, "C");
        assert_eq!(
            says(&plan, "a protective system is required"),
            protect,
            "{depth} ft deep: protective system"
        );
        assert_eq!(
            says(&plan, "a way out within 25 ft"),
            way_out,
            "{depth} ft deep: way out"
        );
        assert!(says(&plan, "at least 2 ft back"), "{depth} ft deep: spoil");
    }
}

/// From 20 ft on a registered professional engineer designs the protective system: Subpart P, App. B,
/// Table B-1, note 3, and App. F (from memory).
#[test]
fn digs_of_20_ft() {
    for (depth, named) in [(19.9, false), (20.0, true), (24.0, true)] {
        let words = "designed by a registered professional engineer";
        let plan = dug(depth, 1.5, "C");
        assert_eq!(says(&plan, words), named, "{depth} ft deep");
    }
}

/// Table B-1 holds for every face: pits, trenches, pads and base trenches as well, by their depth
/// below the ground as surveyed.
#[test]
fn slopes_of_other_digs() {
    let named = |design: &str, name: &str, words: &str| {
        let plan = Plan::of(&yard(design, "excavation_type: B"));
        plan.findings
            .iter()
            .any(|f| f.place == name && f.what.contains("Table B-1") && f.what.contains(words))
    };
    let pit = |floor: f64, depth: f64, batter: f64| {
        format!(
            "basins: [(name: \"pond\", water: 100, outline: [(50, 40), (70, 40), (70, 60), (50, 60)], outline_at: Floor, floor_depth: {floor}, batter: 2,
              pits: [(name: \"sump\", outline: [(55, 45), (65, 45), (65, 55), (55, 55)], depth: {depth}, batter: {batter})])]"
        )
    };
    // 3.5 + 2 ft: neither the floor nor the pit alone is 5 ft deep.
    assert!(named(
        &pit(3.5, 2.0, 0.5),
        "sump",
        "5.50 ft deep, and its sides at 0.5:1"
    ));
    assert!(!named(&pit(2.5, 2.0, 0.5), "sump", ""));
    assert!(!named(&pit(3.5, 2.0, 1.0), "sump", ""));
    let trench = |depth: f64, batter: f64| {
        format!(
            "trenches: [(name: \"pipe\", line: [(20, 50), (80, 50)], depth: {depth}, batter: {batter})]"
        )
    };
    assert!(named(&trench(5.0, 0.0), "pipe", "its upright sides"));
    assert!(!named(&trench(4.9, 0.0), "pipe", ""));
    assert!(!named(&trench(6.0, 1.0), "pipe", ""));
    // Dug in two goes, 3 ft each.
    let twice = "pads: [(name: \"first\", outline: [(40, 40), (60, 40), (60, 60), (40, 60)], elevation: 97, batter: 1),
                 (name: \"second\", outline: [(45, 45), (55, 45), (55, 55), (45, 55)], elevation: 94, batter: 0)]";
    assert!(named(twice, "second", "6.00 ft deep"));
    assert!(!named(twice, "first", ""));
    let wall = "walls: [(name: \"deep\", line: [(40, 50), (60, 50)], back: Left, cap: 101, embedment: \"4 ft 6 in\")]";
    assert!(named(wall, "deep", "5.00 ft deep"));
}

#[test]
fn pits_that_overlap() {
    let two = |x: f64| {
        Plan::of(&yard(
            &format!(
                "basins: [(name: \"pond\", water: 100, outline: [(40, 40), (80, 40), (80, 60), (40, 60)], outline_at: Floor, floor_depth: 2,
                  pits: [(name: \"left\", outline: [(45, 45), (55, 45), (55, 55), (45, 55)], depth: 1, batter: 0),
                         (name: \"right\", outline: [({x}, 45), ({e}, 45), ({e}, 55), ({x}, 55)], depth: 2, batter: 0)])]",
                e = x + 10.0
            ),
            "",
        ))
    };
    let named = |plan: &Plan| {
        plan.findings
            .iter()
            .any(|f| f.place == "pit right" && f.what.contains("overlaps pit left"))
    };
    let pits = |plan: &Plan| -> f64 {
        let rows = plan.volumes.by_feature.iter();
        rows.filter(|v| v.name == "left" || v.name == "right")
            .map(|v| v.cut_bank_m3)
            .sum()
    };
    // Apart, and edge to edge: 100 and 200 ft³.
    for x in [60.0, 55.0] {
        let plan = two(x);
        assert!(!named(&plan), "right pit from {x}");
        close("pits apart", pits(&plan), 300.0 / 27.0 * YARD3, 1e-9);
    }
    // By half, wholly, and the same place: what they share is counted once.
    for (x, shared) in [(50.0, 50.0), (45.0, 100.0)] {
        let plan = two(x);
        assert!(named(&plan), "right pit from {x}");
        let expected = (300.0 - shared) / 27.0 * YARD3;
        close("pits that overlap", pits(&plan), expected, 1e-9);
    }
}

/// USDA NRCS, Agriculture Handbook 590, "Ponds: Planning, Design, Construction" (from memory): bottom
/// 40 × 100 ft, depth 12 ft, one end 4:1, the rest 2:1. Prismoidal, and exact as all sides are planes:
/// 53,952 × 2 ft³ = 3,996.44 yd³.
#[test]
fn handbook_pond() {
    let plan = Plan::of(&job(include_str!("../surveys/handbook-dugout.ron")));
    let ft = 0.3048;
    let expected = 53_952.0 * 2.0 / 27.0 * YARD3;
    close("cut", plan.volumes.cut_bank_m3, expected, 1e-9);
    close(
        "existing to dug",
        plan.volumes.existing_to_dug_cut_m3,
        expected,
        1e-9,
    );
    let between = plan.existing.volume_over(0.0) - plan.dug.volume_over(0.0);
    close("between the surfaces", between, expected, 1e-7);
    let water = &plan.water[0];
    close("water", water.volume_m3, expected, 1e-9);
    close("its area", water.area_m2, 88.0 * 172.0 * ft * ft, 1e-9);
    close("its depth", water.depth_max_m, 12.0 * ft, 1e-9);
}

/// Borrow pit by unit areas, V = A / 4 (Σh1 + 2 Σh2 + 3 Σh3 + 4 Σh4): surveying textbooks and US Army
/// FM 5-233 (from memory). The sums stand in the job; 20 × 20 / 4 × 156.10 ft³.
#[test]
fn borrow_pit() {
    let plan = Plan::of(&job(include_str!("../surveys/borrow-pit.ron")));
    let sum = 18.64 + 2.0 * 26.69 + 3.0 * 4.36 + 4.0 * 17.75;
    close_to("the sum in the job", sum, 156.10, 1e-9);
    let expected = 100.0 * sum / 27.0 * YARD3;
    close("cut", plan.volumes.cut_bank_m3, expected, 1e-9);
}

/// Not published, but of the same kind: what a plan must notice on a yard of 120 × 100 ft.
fn finding(plan: &Plan, place: &str, words: &str) -> bool {
    plan.findings
        .iter()
        .any(|f| f.place == place && f.what.contains(words))
}

#[test]
fn a_small_keep_out_in_the_middle_of_a_wide_floor() {
    let noticed = |x: f64, y: f64| {
        let text = format!(
            "(name: \"yard\", unit: Foot, field_book: (points: [
                (\"a\", 0, 0, 100), (\"b\", 120, 0, 100), (\"c\", 120, 100, 100), (\"d\", 0, 100, 100)]),
              site: (keep_outs: [(name: \"oak\", outline: [({x}, {y}), ({e}, {y}), ({e}, {n})])]),
              design: (pads: [(name: \"lawn\", outline: [(20, 20), (80, 20), (80, 80), (20, 80)], elevation: 99, batter: 0)]))",
            e = x + 0.5,
            n = y + 0.5,
        );
        finding(&Plan::of(&job(&text)), "keep-out oak", "by lawn")
    };
    for (x, y) in [(23.0, 31.0), (61.0, 72.0), (79.0, 21.0)] {
        assert!(noticed(x, y), "keep-out at {x}, {y}");
    }
    for (x, y) in [(18.0, 31.0), (81.0, 72.0)] {
        assert!(!noticed(x, y), "keep-out at {x}, {y}");
    }
}

#[test]
fn water_that_runs_away_has_no_depth() {
    let pond = |water: f64| {
        let basin = format!(
            "basins: [(name: \"pond\", water: {water}, outline: [(50, 40), (70, 40), (70, 60), (50, 60)], floor_depth: 4)]"
        );
        Plan::of(&yard(&basin, ""))
    };
    assert!(finding(&pond(99.0), "pond", "water 4.00 ft deep"));
    let away = pond(101.0);
    assert!(finding(&away, "pond", "does not hold its water"));
    assert!(!finding(&away, "pond", "ft deep: children"));
}

#[test]
fn sills_gradients_and_walls_at_their_limits() {
    let falls = |sill: f64| {
        Plan::of(&yard(
            &format!(
                "basins: [(name: \"pond\", water: 99, outline: [(50, 40), (70, 40), (70, 60), (50, 60)])],
                 cascades: [(name: \"falls\", into: \"pond\", centreline: [(60, 70), (60, 60)],
                   pools: [(name: \"top\", length: 10, width: 5, drop: 1, sill: {sill})])]"
            ),
            "",
        ))
    };
    let words = "the sill of pool top takes 6.00 ft of its 10.00 ft";
    assert!(finding(&falls(6.0), "cascade falls", words));
    assert!(!finding(&falls(5.0), "cascade falls", "the sill"));
    let ramp = |top: f64| {
        Plan::of(&yard(
            &format!(
                "ramps: [(name: \"haul\", line: [(20, 50), (40, 50)], profile: [100, {top}])]"
            ),
            "",
        ))
    };
    let words = "rises 25.4 % between its points 1 and 2; 25.0 % is allowed";
    assert!(finding(&ramp(105.08), "ramp haul", words));
    assert!(!finding(&ramp(105.0), "ramp haul", "is allowed"));
    // Foot 6 in under the ground.
    let wall = |cap: f64| {
        Plan::of(&yard(
            &format!(
                "walls: [(name: \"high\", line: [(20, 50), (40, 50)], back: Left, cap: {cap})]"
            ),
            "",
        ))
    };
    assert!(finding(
        &wall(103.5),
        "wall high",
        "stands 4.00 ft from foot to cap"
    ));
    assert!(!finding(&wall(103.4), "wall high", "from foot to cap"));
}

/// A job of points and tapes alone is told in the unit that its figures are written in.
#[test]
fn tapes_that_do_not_meet_are_told_in_the_unit_of_the_job() {
    let short = |unit: &str| {
        Plan::of(&job(&format!(
            "(name: \"t\", unit: {unit}, field_book: (pegs: [(\"p\", (0, 0)), (\"q\", (20.5, 0)), (\"r\", (3.25, 9.5))],
               benchmarks: [(name: \"B1\", elevation: 10, at: Tie(\"p\", 10, \"q\", 12.5, Left)),
                            (name: \"BM\", elevation: 10, at: Tie(\"B1\", 1, \"q\", 2, Left))],
               points: [(\"s\", 1.75, 2.35, 9.85)]))"
        )))
    };
    // 12.5 from B1 to q, less 1 and 2.
    assert!(finding(&short("Foot"), "benchmark BM", "9.50 ft too short"));
    assert!(finding(
        &short("Metre"),
        "benchmark BM",
        "9.500 m too short"
    ));
}
