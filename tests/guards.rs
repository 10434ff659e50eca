//! Services, keep-outs and trees: what is found near them, against figures by hand.
//! Every yard in here is invented.

use brimline::findings::Finding;
use brimline::job::Document;
use brimline::plan::{MarkKind, Plan};

/// A yard of 30 × 30 m; its ground rises from 10 by `rise` m over its width along x.
fn plan(rise: f64, site: &str, design: &str, rest: &str) -> Plan {
    let high = 10.0 + rise;
    let text = format!(
        "(name: \"yard\", unit: Metre, field_book: (points: [
            (\"a\", 0, 0, 10), (\"b\", 30, 0, {high}), (\"c\", 30, 30, {high}), (\"d\", 0, 30, 10),
        ]), site: ({site}), design: ({design}), {rest})"
    );
    match Document::parse("yard", &text) {
        Ok((_, job)) => Plan::of(&job),
        Err(errors) => panic!("{errors}"),
    }
}

fn about<'a>(plan: &'a Plan, place: &str) -> Vec<&'a Finding> {
    plan.findings.iter().filter(|f| f.place == place).collect()
}

#[track_caller]
fn says(plan: &Plan, place: &str, parts: &[&str]) {
    let found = about(plan, place);
    assert!(
        found
            .iter()
            .any(|f| parts.iter().all(|p| f.what.contains(p))),
        "{place}: {parts:?} in {found:#?}"
    );
}

const SUPPLY: &str = "services: [(name: \"supply\", kind: \"water\", line: [(15, 0), (15, 30)], depth: 0.6, tolerance: 0.5)]";

/// A trench across the service that is filled again in its own stage: 0.4 m deep leaves 0.2 m over
/// the top at 9.4; 0.7 m deep goes 0.1 m deeper. 0.05 m deep leaves 0.55 m: nothing.
#[test]
fn a_trench_that_is_filled_again_counts_at_its_deepest() {
    let trench = |depth: f64| {
        plan(
            0.0,
            SUPPLY,
            &format!(
                "trenches: [(name: \"run\", line: [(10, 15), (20, 15)], depth: {depth}, width: 0.3)]"
            ),
            "sequence: [(name: \"dig\", works: [\"run\"])]",
        )
    };
    says(
        &trench(0.4),
        "service supply",
        &[
            "run (stage dig)",
            "within 0.200 m of the water",
            "elevation 9.600 m",
        ],
    );
    says(
        &trench(0.7),
        "service supply",
        &["run", "0.100 m deeper than the top of the water"],
    );
    assert!(about(&trench(0.05), "service supply").is_empty());
}

/// Beside it, in space: the dig's lower edge at 0.3 m off in plan and 0.4 m over the top is 0.5 m
/// away (3-4-5): outside a tolerance of 0.49 m, inside one of 0.51 m. Straight down it would have been
/// 0.4 m, and in plan 0.3 m.
#[test]
fn the_zone_is_round_in_space() {
    let beside = |tolerance: f64| {
        plan(
            0.0,
            &format!(
                "services: [(name: \"supply\", line: [(15, 0), (15, 30)], depth: 1.0, tolerance: {tolerance})]"
            ),
            "pads: [(name: \"pit\", outline: [(15.3, 10), (20, 10), (20, 20), (15.3, 20)], elevation: 9.4, batter: 0)]",
            "",
        )
    };
    says(&beside(0.51), "service supply", &["pit", "within 0.500 m"]);
    assert!(about(&beside(0.49), "service supply").is_empty());
}

/// The service follows the ground: 0.6 m under it all along. A level dig at 10.5 into ground that
/// rises 3 m over 30 m meets it where the ground stands 1.1 m higher than 10, and at its upper end,
/// x = 20, goes 0.9 m deeper than its top there (12 − 0.6 − 10.5).
#[test]
fn a_service_follows_the_ground() {
    let p = plan(
        3.0,
        "services: [(name: \"cable\", kind: \"electricity\", line: [(0, 15), (30, 15)], depth: 0.6)]",
        "pads: [(name: \"terrace\", outline: [(6, 10), (20, 10), (20, 20), (6, 20)], elevation: 10.5, batter: 0)]",
        "",
    );
    says(
        &p,
        "service cable",
        &["terrace", "0.900 m deeper than the top of the electricity"],
    );
    let at = about(&p, "service cable")[0].at.expect("a place");
    assert!(
        (at[0] - 20.0).abs() < 1e-6 && (at[2] - 11.4).abs() < 1e-6,
        "{at:?}"
    );
}

#[test]
fn every_work_that_conflicts_is_named() {
    let p = plan(
        0.0,
        SUPPLY,
        "trenches: [(name: \"one\", line: [(10, 10), (20, 10)], depth: 0.4), (name: \"two\", line: [(10, 20), (20, 20)], depth: 0.5)],
         walls: [(name: \"seat\", line: [(10, 25), (20, 25)], back: Left, cap: 10.5)]",
        "",
    );
    for work in ["one", "two", "seat"] {
        says(&p, "service supply", &[work]);
    }
    assert_eq!(about(&p, "service supply").len(), 3);
}

/// A trench through a keep-out, filled again: 0.3 m wide, 4 m of it inside, 0.5 m deep.
#[test]
fn a_keep_out_sees_what_is_filled_again() {
    let p = plan(
        0.0,
        "keep_outs: [(\"bed\", [(10, 10), (14, 10), (14, 14), (10, 14)])]",
        "trenches: [(name: \"run\", line: [(5, 12), (20, 12)], depth: 0.5, width: 0.3)]",
        "",
    );
    says(
        &p,
        "keep-out bed",
        &["by run", "cut up to 0.500 m deep over 1.2 m²"],
    );
}

/// Trunk 0.25 m: zone of 3 m, 28.3 m². A dig up to the trunk's middle takes half of it; a berm over
/// the other half fills it. The way in runs along a chord 2.4 m off, 1.2 m wide: over the zone and
/// half its width it is 2·√(3.6² − 2.4²) = 5.367 m long.
#[test]
fn roots_are_cut_filled_and_driven_over() {
    let tree = "trees: [(name: \"oak\", at: (15, 15), trunk: 0.25)]";
    let p = plan(
        0.0,
        tree,
        "pads: [(name: \"dig\", outline: [(15, 5), (25, 5), (25, 25), (15, 25)], elevation: 9.6, batter: 0)]",
        "",
    );
    says(
        &p,
        "tree oak",
        &[
            "dig works in its root zone (3.000 m",
            "cut up to 0.400 m deep over 14.1 m²",
            "50 % of the zone",
            "topple",
        ],
    );
    assert!(
        p.marks
            .iter()
            .any(|m| m.kind == MarkKind::Tree && m.name == "oak")
    );
    let p = plan(
        0.0,
        tree,
        "berms: [(name: \"bank\", line: [(14, 12), (14, 18)], crest: Above(0.5), crest_width: 0.4)]",
        "",
    );
    says(&p, "tree oak", &["bank", "filled up to 0.500 m high"]);
    let p = plan(
        0.0,
        "trees: [(name: \"oak\", at: (15, 15), trunk: 0.25)], access: (line: [(0, 17.4), (30, 17.4)], width: 1.2)",
        "",
        "",
    );
    says(
        &p,
        "tree oak",
        &[
            "runs over its root zone for 5.367 m",
            "1.800 m to the trunk",
        ],
    );
    let p = plan(
        0.0,
        "trees: [(name: \"oak\", at: (15, 15), trunk: 0.25, radius: 1)], access: (line: [(0, 17.4), (30, 17.4)], width: 1.2)",
        "",
        "",
    );
    assert!(about(&p, "tree oak").is_empty());
}
