//! The ledger of soil on a flat yard, where every volume has a closed form, and works that meet
//! temporary works. The yard is invented.

mod common;

use brimline::findings::Severity;
use brimline::job::{Document, Job};
use brimline::plan::{Kind, Plan};
use brimline::report;
use common::{close, close_to};

const FT3: f64 = 0.3048 * 0.3048 * 0.3048;
/// Frustum of a pyramid with mitred corners (geometry), h/6 (A0 + 4 Am + A1): crest 40 × 2 ft, 2 ft
/// high, sides 2:1 all round, so 48 × 10 ft at its foot and 44 × 6 ft half way up.
const BERM: f64 = 2.0 / 6.0 * (80.0 + 4.0 * 264.0 + 480.0) * FT3;

fn job(design: &str, rest: &str) -> Job {
    let text = format!(
        "(name: \"flat\", unit: Foot, field_book: (points: [(\"a\", 0, 0, 100), (\"b\", 120, 0, 100), \
         (\"c\", 120, 90, 100), (\"d\", 0, 90, 100)]), design: ({design}), {rest})"
    );
    match Document::parse("flat.ron", &text) {
        Ok((_, job)) => job,
        Err(errors) => panic!("{errors}"),
    }
}

const BERM_ALONE: &str = "berms: [(name: \"screen\", line: [(20, 20), (60, 20)], crest: 102, crest_width: 2, batter: 2)]";
const HOLE: &str = "pads: [(name: \"hole\", outline: [(70, 50), (90, 50), (90, 70), (70, 70)], elevation: 96, batter: 0)]";

#[test]
fn topsoil_under_fill_is_named_and_counted_apart() {
    let job = job(BERM_ALONE, "soil: (topsoil_depth: \"4 in\")");
    let plan = Plan::of(&job);
    close("berm", plan.soil.fill_compacted_m3, BERM, 1e-9);
    close(
        "topsoil under the berm",
        plan.soil.topsoil_under_fill_m3,
        480.0 / 3.0 * FT3,
        1e-9,
    );
    assert_eq!(plan.soil.topsoil_bank_m3, 0.0, "nothing is dug");
    let note = plan.findings.iter().find(|f| f.place == "topsoil");
    // 160 ft³ are 5.9 yd³.
    assert!(note.is_some_and(|f| f.what.contains("screen 5.9 yd³")));
    // A second layer lies on the first, not on topsoil.
    let two = format!("{BERM_ALONE}, {HOLE}").replace(
        "batter: 2)]",
        "batter: 2), (name: \"top\", line: [(30, 20), (50, 20)], crest: 103, crest_width: 1, batter: 1)]",
    );
    let plan = Plan::of(&self::job(&two, "soil: (topsoil_depth: \"4 in\")"));
    close(
        "topsoil under both",
        plan.soil.topsoil_under_fill_m3,
        480.0 / 3.0 * FT3,
        1e-9,
    );
}

#[test]
fn what_is_brought_in_is_told_from_what_is_left_over() {
    // The hole gives 20 × 20 × 4 ft = 1600 ft³ bank, after the berm took BERM / 0.9.
    let design = format!("{BERM_ALONE}, {HOLE}");
    let rest = "soil: (topsoil_depth: 0, truck: \"20 yd3\", truck_payload: \"12 ton\"),
        sequence: [(name: \"first\", works: [\"screen\"]), (name: \"then\", works: [\"hole\"])]";
    let job = job(&design, rest);
    let plan = Plan::of(&job);
    let (taken, dug) = (BERM / 0.9, 1600.0 * FT3);
    let s = &plan.soil;
    close("short", s.short_bank_m3, taken, 1e-9);
    close("short, loose", s.short_loose_m3, 1.25 * taken, 1e-9);
    close("left over", s.spoil_bank_m3, dug, 1e-9);
    close("of it brought in", s.spoil_brought_bank_m3, taken, 1e-9);
    assert_eq!(
        (s.short_at.as_str(), s.short_feature.as_str()),
        ("first", "screen")
    );
    // 12 short tons at 1250 kg/m³ are 8.709 m³, less than 20 yd³ = 15.29 m³.
    let load = 12.0 * 2000.0 * 0.453_592_37 / 1250.0;
    close("a load", s.load_loose_m3, load, 1e-12);
    assert!(s.load_by_payload);
    assert_eq!(s.truck_loads, (1.25 * dug / load).ceil() as u32);
    assert_eq!(s.short_loads, (1.25 * taken / load).ceil() as u32);
    let text = report::figures(&job, &plan, 200);
    for line in [
        "first at screen, stage first: 3 truck loads to bring in or borrow",
        "of it 22.17 yd³ bank had been brought in",
        "11.39 yd³ loose a load, set by its payload",
    ] {
        assert!(text.contains(line), "“{line}” is not in\n{text}");
    }
    // The other way round nothing is short, and nothing is brought in.
    let turned = rest
        .replace("screen", "x")
        .replace("hole", "screen")
        .replace("\"x\"", "\"hole\"");
    let plan = Plan::of(&self::job(&design, &turned));
    close_to("short", plan.soil.short_bank_m3, 0.0, 1e-12);
    close("left over", plan.soil.spoil_bank_m3, dug - taken, 1e-9);
    assert_eq!(plan.soil.spoil_brought_bank_m3, 0.0);
    let text = report::figures(&job, &plan, 200);
    assert!(
        text.contains("Short         never") && !text.contains("brought in\n"),
        "{text}"
    );
}

#[test]
fn parts_of_one_work_are_told_apart() {
    let design = "walls: [(name: \"seat\", line: [(20, 30), (40, 30)], back: Left, cap: 101.5)],
        trenches: [(name: \"pipe\", line: [(20, 60), (60, 60)], depth: 2)]";
    let plan = Plan::of(&job(design, ""));
    let parts: Vec<(&str, &str)> = plan
        .volumes
        .by_feature
        .iter()
        .map(|v| (v.name.as_str(), v.part.as_str()))
        .collect();
    assert_eq!(
        parts,
        [
            ("seat", "base trench"),
            ("seat", "refill"),
            ("pipe", ""),
            ("pipe", "refill")
        ]
    );
    // A job without stages speaks of none.
    let text = report::figures(&job(design, ""), &plan, 100);
    assert!(
        text.contains("pipe: refill") && !text.contains("stage"),
        "{text}"
    );
}

fn warned(plan: &Plan, place: &str, what: &str) -> bool {
    plan.findings
        .iter()
        .any(|f| f.severity == Severity::Warning && f.place == place && f.what.contains(what))
}

const RAMP: &str =
    "ramps: [(name: \"haul\", line: [(20, 40), (60, 40)], width: 10, profile: [102, 102])]";

#[test]
fn fill_on_a_temporary_ramp() {
    let design = format!(
        "{RAMP}, berms: [(name: \"screen\", line: [(40, 20), (40, 60)], crest: 103, crest_width: 2)]"
    );
    let staged = |back: &str| {
        let stages = format!(
            "sequence: [(name: \"a\", works: [\"haul\", \"screen\"]), (name: \"b\"{back})]"
        );
        Plan::of(&job(&design, &stages))
    };
    let what = "is laid on haul, which is temporary";
    assert!(warned(&staged(", take_back: [\"haul\"]"), "screen", what));
    // A ramp that stays is ground like any other.
    assert!(!warned(&staged(""), "screen", what));
}

#[test]
fn temporary_works_that_cross() {
    let trench = "trenches: [(name: \"pipe\", line: [(40, 20), (40, 60)], depth: 1)]";
    let stages = "sequence: [(name: \"a\", works: [\"haul\", \"pipe\"]), (name: \"b\", take_back: [\"haul\"])]";
    let plan = Plan::of(&job(&format!("{RAMP}, {trench}"), stages));
    assert!(
        warned(&plan, "pipe", "crosses haul, which is temporary as well"),
        "{:?}",
        plan.findings
    );
    let back = plan
        .volumes
        .by_feature
        .iter()
        .find(|v| v.part == "taken back");
    assert!(back.is_some_and(|v| v.name == "haul" && v.kind == Kind::Ramp));
    // Apart from each other, nothing is said.
    let apart = trench.replace("20), (40, 60)", "60), (40, 80)");
    let plan = Plan::of(&job(&format!("{RAMP}, {apart}"), stages));
    assert!(!warned(&plan, "pipe", "crosses"), "{:?}", plan.findings);
}

#[test]
fn a_dig_cannot_be_taken_back() {
    let stages =
        "sequence: [(name: \"a\", works: [\"hole\"]), (name: \"b\", take_back: [\"hole\"])]";
    let plan = Plan::of(&job(HOLE, stages));
    assert!(
        warned(
            &plan,
            "stage b",
            "takes hole back, but nothing that it placed lies there"
        ),
        "{:?}",
        plan.findings
    );
    close(
        "the hole",
        plan.volumes.existing_to_dug_cut_m3,
        1600.0 * FT3,
        1e-9,
    );
}

#[test]
fn a_wall_under_the_ground_is_not_built() {
    let wall = |cap: &str| {
        let design = format!(
            "walls: [(name: \"seat\", line: [(20, 30), (40, 30)], back: Left, cap: {cap})]"
        );
        Plan::of(&job(&design, ""))
    };
    let plan = wall("99");
    let error = plan.findings.iter().find(|f| f.severity == Severity::Error);
    assert!(
        error.is_some_and(
            |f| f.place == "seat" && f.what.contains("its cap stands 1.00 ft under the ground")
        ),
        "{:?}",
        plan.findings
    );
    assert!(plan.volumes.by_feature.is_empty() && plan.solids.is_empty());
    assert_eq!(wall("101").solids.len(), 1);
}

/// A wall is no soil: it is not taken back, and all figures are those without it.
#[test]
fn a_wall_is_not_taken_back() {
    let wall = "walls: [(name: \"edge\", line: [(20, 40), (60, 40)], back: Left, cap: 102, thickness: 1, backfill: (width: 3))]";
    let stages = |back: &str| {
        let plan = format!("sequence: [(name: \"a\", works: [\"edge\"]), (name: \"b\"{back})]");
        Plan::of(&job(wall, &plan))
    };
    let (kept, back) = (stages(""), stages(", take_back: [\"edge\"]"));
    let said = back.findings.iter().find(|f| f.place == "stage b");
    assert!(
        said.is_some_and(|f| f.severity == Severity::Error && f.what.contains("built to stay")),
        "{said:?}"
    );
    assert_eq!(kept.volumes, back.volumes);
}

/// A ramp that a later stage takes back is temporary also while only the stages before that are done: the
/// ground under it keeps its topsoil. By hand: 40 × 10 ft and 2 ft high, upright sides.
#[test]
fn a_ramp_is_temporary_from_its_first_stage_on() {
    let ramp = RAMP.replace("width: 10", "width: 10, batter: 0");
    let rest = "soil: (topsoil_depth: \"4 in\", strip_under_fills: true), \
                sequence: [(name: \"a\", works: [\"haul\"]), (name: \"b\", take_back: [\"haul\"])]";
    let job = job(&ramp, rest);
    for plan in [Plan::of(&job), Plan::works_after(&job, 1)] {
        let haul = &plan.volumes.by_feature[0];
        close("placed", haul.fill_compacted_m3, 800.0 * FT3, 1e-9);
        close_to("dug", haul.cut_bank_m3, 0.0, 1e-9);
    }
    let after = Plan::works_after(&job, 1);
    close(
        "stands",
        after.volumes.existing_to_dug_fill_m3,
        800.0 * FT3,
        1e-9,
    );
    close_to(
        "nothing is stripped",
        after.volumes.existing_to_dug_cut_m3,
        0.0,
        1e-9,
    );
}

/// Shelf and floor are as high as designed where soil is, or was before an earlier work dug there; where the
/// ground lies lower by nature nobody has placed any, whatever was done before. By hand, in feet: level
/// ground at 100, a basin of 20 × 20 upright, its water 1 over the ground, held by a ring of soil round it,
/// a shelf 6 in down and 3 ft wide, a floor 2 down: all that is under the water's level down to the ground,
/// 1 deep, and the floor 1 deeper.
#[test]
fn lining_lies_on_the_ground_that_is_there() {
    let ring = "(name: \"ring\", line: [(39, 29), (61, 29), (61, 51), (39, 51), (39, 29)], crest: 102, crest_width: 2, batter: 0)";
    let basin = "basins: [(name: \"pond\", water: 101, outline: [(40, 30), (60, 30), (60, 50), (40, 50)], \
                 shelves: [(depth: \"6 in\", width: 3)], floor_depth: 2, batter: 0, bank_batter: 0)]";
    let slot = "trenches: [(name: \"slot\", line: [(45, 31), (55, 31)], width: 1, depth: DEEP, batter: 0, refill: false)]";
    let held = |works: &[&str], more: &str| {
        let stages: Vec<String> = works
            .iter()
            .map(|w| format!("(name: \"{w}\", works: [\"{w}\"])"))
            .collect();
        let rest = format!("sequence: [{}]", stages.join(", "));
        let plan = Plan::of(&job(&format!("berms: [{ring}], {basin}{more}"), &rest));
        let water = plan
            .water
            .iter()
            .find(|w| w.name == "pond")
            .expect("a pond");
        assert!(water.held, "{:?}", plan.findings);
        water.volume_m3 / FT3
    };
    let by_hand = 400.0 + 14.0 * 14.0;
    close_to("ring first", held(&["ring", "pond"], ""), by_hand, 1e-6);
    close_to("pond first", held(&["pond", "ring"], ""), by_hand, 1e-6);
    // A slot dug in the low shelf before is filled with stone, up to the ground and no higher.
    let slot = format!(", {}", slot.replace("DEEP", "1.5"));
    close_to(
        "a slot",
        held(&["ring", "slot", "pond"], &slot),
        by_hand,
        1e-6,
    );
    // After it, the slot is as deep as it is.
    close_to(
        "a slot later",
        held(&["ring", "pond", "slot"], &slot),
        by_hand + 15.0,
        1e-6,
    );
}
