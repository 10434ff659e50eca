//! The ledger: conserved at every stage and place, telescoping from existing to dug, with the
//! factors that were given; and the command that prints it. All yards are invented.

mod common;

use std::path::Path;

use brimline::findings::Finding;
use brimline::job::{Document, Job};
use brimline::plan::{Deed, Plan, SoilKind, State};
use brimline::report;
use common::command::printed;
use common::{close, keys};
use proptest::prelude::*;

const FT3: f64 = 0.3048 * 0.3048 * 0.3048;

fn job(design: &str, rest: &str) -> Job {
    let text = format!(
        "(name: \"flat\", unit: Foot, field_book: (points: [(\"a\", 0, 0, 100), (\"b\", 120, 0, 102), \
         (\"c\", 120, 90, 103), (\"d\", 0, 90, 100)]), design: ({design}), {rest})"
    );
    match Document::parse("flat.ron", &text) {
        Ok((_, job)) => job,
        Err(errors) => panic!("{errors}"),
    }
}

fn survey(name: &str) -> Job {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("surveys")
        .join(name);
    Document::load(&path)
        .unwrap_or_else(|e| panic!("{name}: {e}"))
        .1
}

/// Every stage adds up to nothing, for each soil; what lies on the piles is what was put there; and
/// all stages together are the way from the existing to the dug surface.
fn conserved(plan: &Plan) -> Result<(), String> {
    let mut lies = [0.0f64; 3];
    let mut placed = 0.0;
    for stage in &plan.ledger.stages {
        placed += stage.fill_compacted_m3 - stage.redug_compacted_m3;
        if stage.ramp_compacted_m3 > placed + 1e-7 {
            return Err(format!(
                "stage {}: {} in ramps, {placed} placed and not dug out again",
                stage.name, stage.ramp_compacted_m3
            ));
        }
        for kind in SoilKind::ALL {
            let mine = stage.entries.iter().filter(|e| e.soil == kind);
            let sum: f64 = mine.clone().map(|e| e.deed.sign() * e.bank_m3).sum();
            let all: f64 = mine.clone().map(|e| e.bank_m3).sum();
            if sum.abs() > 1e-8 + 1e-9 * all {
                return Err(format!("stage {}, {kind:?}: {sum} of {all}", stage.name));
            }
            lies[kind as usize] += mine
                .map(|e| match e.deed {
                    Deed::Piled => e.bank_m3,
                    Deed::Unpiled => -e.bank_m3,
                    _ => 0.0,
                })
                .sum::<f64>();
            let found: f64 = stage
                .lying
                .iter()
                .filter(|l| l.soil == kind && l.state == State::Loose)
                .map(|l| l.bank_m3)
                .sum();
            if (lies[kind as usize] - found).abs() > 1e-7 {
                return Err(format!("pile of {kind:?}: {found}, put there {lies:?}"));
            }
        }
        if stage
            .entries
            .iter()
            .any(|e| e.bank_m3 < 0.0 || !e.volume_m3.is_finite())
        {
            return Err(format!("stage {}: less than nothing", stage.name));
        }
    }
    let sum =
        |f: fn(&brimline::plan::LedgerStage) -> f64| plan.ledger.stages.iter().map(f).sum::<f64>();
    let rise = sum(|s| s.fill_compacted_m3 - s.cut_bank_m3 - s.redug_compacted_m3);
    let v = &plan.volumes;
    let surfaces = v.existing_to_dug_fill_m3 - v.existing_to_dug_cut_m3;
    // Stone under walls fills some of what was dug for it.
    let rise = rise + v.base_courses.iter().map(|c| c.compacted_m3).sum::<f64>();
    if (rise - surfaces).abs() > 1e-6 {
        return Err(format!("stages {rise}, existing to dug {surfaces}"));
    }
    let b = &plan.soil;
    let brought: f64 = plan
        .ledger
        .shortages
        .iter()
        .filter(|s| s.soil == SoilKind::Subsoil)
        .map(|s| s.bank_m3)
        .sum();
    if (brought - b.short_bank_m3).abs() > 1e-6 {
        return Err(format!("brought {brought}, short {}", b.short_bank_m3));
    }
    Ok(())
}

#[test]
fn the_jobs_of_ours_are_conserved() {
    for name in ["demo.ron", "terrace-metric.ron"] {
        if let Err(why) = conserved(&Plan::of(&survey(name))) {
            panic!("{name}: {why}");
        }
    }
}

const HOLE: &str = "pads: [(name: \"hole\", outline: [(70, 50), (90, 50), (90, 70), (70, 70)], elevation: 96, batter: 0)]";
const BERM: &str = "berms: [(name: \"screen\", line: [(20, 20), (60, 20)], crest: Above(2), crest_width: 2, batter: 2)]";

fn flat(design: &str, rest: &str) -> Plan {
    Plan::of(&level_job(design, rest))
}

fn level_job(design: &str, rest: &str) -> Job {
    let text = format!(
        "(name: \"flat\", unit: Foot, field_book: (points: [(\"a\", 0, 0, 100), (\"b\", 120, 0, 100), \
         (\"c\", 120, 90, 100), (\"d\", 0, 90, 100)]), design: ({design}), {rest})"
    );
    Document::parse("flat.ron", &text)
        .unwrap_or_else(|e| panic!("{e}"))
        .1
}

/// US Army FM 5-434, soil conversion factors, common earth (from memory): 1.00 bank, 1.25 loose, 0.90
/// compacted. 1600 ft³ of hole are 2000 ft³ on the truck.
#[test]
fn published_factors_carry_through() {
    let plan = flat(
        HOLE,
        "soil: (topsoil_depth: 0, truck: \"20 yd3\", truck_payload: \"100 ton\")",
    );
    let out = &plan.ledger.out;
    close("likely", out.loose_m3[1], 2000.0 * FT3, 1e-9);
    // A twentieth either way: 1.1875 and 1.3125.
    close("low", out.loose_m3[0], 1900.0 * FT3, 1e-9);
    close("high", out.loose_m3[2], 2100.0 * FT3, 1e-9);
    // 2000 ft³ are 74.07 yd³: four loads of 20; 70.4 four; 77.8 four.
    assert_eq!(out.loads, [4, 4, 4]);
    assert_eq!(
        report::ledgers_loads(&plan),
        None,
        "the soil left over makes four too"
    );
    let own = "soil: (class: (name: \"silt\", loose: 1.2, compacted: 0.9, loose_range: [1.1, 1.4]), topsoil_depth: 0)";
    let out = flat(HOLE, own).ledger.out;
    close("own low", out.loose_m3[0], 1760.0 * FT3, 1e-9);
    close("own high", out.loose_m3[2], 2240.0 * FT3, 1e-9);
}

/// Topsoil that no work takes back goes on a truck of its own: the figures count the spoil alone, and
/// say that the ledger counts more.
#[test]
fn the_figures_say_why_the_ledger_hauls_off_more() {
    let job = survey("demo.ron");
    let plan = Plan::of(&job);
    let [_, likely, _] = plan.ledger.out.loads;
    assert_eq!((plan.soil.truck_loads, likely), (4, 6), "of the demo");
    let text = report::figures(&job, &plan, 200);
    let says = "the ledger hauls off 6: stage by stage, topsoil with it";
    assert!(text.contains(says), "{text}");
}

#[test]
fn unfit_soil_is_hauled_off_and_never_placed() {
    let design = format!("{BERM}, {HOLE}");
    let rest = "soil: (topsoil_depth: 0, unfit: [(\"hole\", 75)]), sequence: [(name: \"dig\", works: [\"hole\"]), (name: \"bank\", works: [\"screen\"])]";
    let plan = flat(&design, rest);
    conserved(&plan).unwrap_or_else(|e| panic!("{e}"));
    let of = |kind, deed| -> f64 {
        plan.ledger
            .stages
            .iter()
            .flat_map(|s| &s.entries)
            .filter(|e| e.soil == kind && e.deed == deed)
            .map(|e| e.bank_m3)
            .sum()
    };
    close(
        "unfit dug",
        of(SoilKind::Unfit, Deed::Dug),
        1200.0 * FT3,
        1e-9,
    );
    close(
        "unfit out",
        of(SoilKind::Unfit, Deed::HauledOff),
        1200.0 * FT3,
        1e-9,
    );
    // 400 ft³ are fit; the berm takes 2/6 (80 + 4 × 264 + 480) / 0.9 ft³.
    let lack = 2.0 / 6.0 * 1616.0 / 0.9 - 400.0;
    close("short", plan.soil.short_bank_m3, lack * FT3, 1e-9);
}

/// The berm stands on 480 ft² of ground, 4 in of topsoil under it: so much more is dug and placed.
#[test]
fn topsoil_under_a_fill_is_stripped_if_asked() {
    let plain = flat(BERM, "soil: (topsoil_depth: \"4 in\")");
    let plan = flat(
        BERM,
        "soil: (topsoil_depth: \"4 in\", strip_under_fills: true)",
    );
    conserved(&plan).unwrap_or_else(|e| panic!("{e}"));
    let strip = 160.0 * FT3;
    close("stripped", plan.volumes.cut_bank_m3, strip, 1e-9);
    close("all of it topsoil", plan.soil.topsoil_bank_m3, strip, 1e-9);
    close(
        "placed",
        plan.volumes.fill_compacted_m3,
        plain.volumes.fill_compacted_m3 + strip,
        1e-9,
    );
    assert_eq!(plan.soil.topsoil_under_fill_m3, 0.0);
    close(
        "the surface is the same",
        plan.dug.volume_over(0.0),
        plain.dug.volume_over(0.0),
        1e-12,
    );
}

/// Put back 3 in on the berm's 480 ft² in plan: 120 ft³ settled, of 160 ft³ that were stripped.
#[test]
fn topsoil_is_put_back_on_bare_ground() {
    let rest = "soil: (topsoil_depth: \"4 in\", strip_under_fills: true, put_back: \"3 in\", topsoil: (name: \"loam\", loose: 1.2, compacted: 1))";
    let plan = flat(BERM, rest);
    conserved(&plan).unwrap_or_else(|e| panic!("{e}"));
    let last = &plan.ledger.stages[0];
    let back = last.entries.iter().find(|e| e.place == "bare ground");
    close(
        "put back",
        back.map_or(0.0, |e| e.bank_m3),
        120.0 * FT3,
        1e-9,
    );
    let off = last
        .entries
        .iter()
        .find(|e| e.soil == SoilKind::Topsoil && e.deed == Deed::HauledOff);
    close(
        "left over",
        off.map_or(0.0, |e| e.bank_m3),
        40.0 * FT3,
        1e-9,
    );
}

#[test]
fn a_stage_that_lacks_soil_says_what_to_do() {
    let design = format!("{BERM}, {HOLE}");
    let plan = flat(
        &design,
        "soil: (topsoil_depth: 0), sequence: [(name: \"bank\", works: [\"screen\"]), (name: \"dig\", works: [\"hole\"])]",
    );
    let found = plan
        .findings
        .iter()
        .find(|f| f.what.contains("than there is by then"));
    let found = found.expect("a finding");
    // 538.67 / 0.9 = 598.5 ft³ = 22.2 yd³ bank; the hole gives 59.3.
    assert!(found.what.contains("22.2 yd³ bank"), "{}", found.what);
    assert!(
        found.remedy.contains("dig hole of stage dig") && found.remedy.contains("59.3 yd³"),
        "{}",
        found.remedy
    );
    assert!(
        found.remedy.contains("bring in 27.7 yd³ loose"),
        "{}",
        found.remedy
    );
}

#[test]
fn the_command_keeps_to_the_page_and_tells_the_story() {
    for name in ["surveys/demo.ron", "surveys/terrace-metric.ron"] {
        let text = printed(["soil", name]);
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{name}: {line}");
        }
        assert!(text.contains("Ledger") && text.contains("Stage by stage"));
    }
}

#[test]
fn every_key_of_the_command_is_documented() {
    let documented = keys::documented("soil");
    let value: serde_json::Value =
        serde_json::from_str(&printed(["soil", "surveys/demo.ron", "--json"])).expect("JSON");
    let given = keys::given(&value);
    let unknown: Vec<_> = given
        .iter()
        .filter(|k| {
            !k.starts_with("findings")
                && !["shortages", "stages[].lying", "uncarried", "access.steps"]
                    .contains(&k.as_str())
        })
        .filter(|k| !documented.contains(k.as_str()))
        .collect();
    assert!(unknown.is_empty(), "not in KEYS.md: {unknown:?}");
}

/// On a plane of slope m a cone of slope s meets the ground in an ellipse, and its volume is that of
/// the level cone of the same height over the foot of its axis times (1 − (m/s)²)^(−3/2) (closed form).
#[test]
fn a_cone_on_a_slope_holds_what_it_should() {
    use brimline::ledger::heap::{Crest, FACES, heap};
    use brimline::terrain::Surface;
    for m in [0.0f64, 0.1, 0.3] {
        let z = |x: f64| 10.0 + m * x;
        let ground = Surface {
            points: vec![
                [-40.0, -40.0, z(-40.0)],
                [40.0, -40.0, z(40.0)],
                [40.0, 40.0, z(40.0)],
                [-40.0, 40.0, z(-40.0)],
            ],
            triangles: vec![[0, 1, 2], [0, 2, 3]],
            made_by: vec![0, 0],
        };
        let s = 35.0f64.to_radians().tan();
        let volume = 12.0;
        let found = heap(&ground, &Crest::Cone([1.0, 2.0]), 35.0, volume).expect("a heap");
        let h = found.crest - z(1.0);
        let cone =
            std::f64::consts::PI * h.powi(3) / (3.0 * s * s) * (1.0 - (m / s).powi(2)).powf(-1.5);
        // Its faces stand around the cone.
        let n = FACES as f64;
        let more = n / std::f64::consts::PI * (std::f64::consts::PI / n).tan();
        assert!(
            (volume / cone - more).abs() < if m == 0.0 { 1e-9 } else { 1e-3 },
            "slope {m}: {} instead of {more}",
            volume / cone
        );
        // Its mesh over the ground holds it.
        let held: f64 = found
            .mesh
            .iter()
            .map(|t| {
                let [a, b, c] = *t;
                let area = 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
                area * t.iter().map(|p| p[2] - z(p[0])).sum::<f64>() / 3.0
            })
            .sum();
        close("mesh", held, volume, 1e-9);
        assert!(!found.beyond);
    }
}

/// A ridge on level ground: a prism and one cone for its two ends; against a wall, half of it.
#[test]
fn ridges_hold_what_they_should() {
    use brimline::ledger::heap::{Crest, FACES, heap};
    use brimline::terrain::Surface;
    let ground = Surface {
        points: vec![
            [-40.0, -40.0, 0.0],
            [40.0, -40.0, 0.0],
            [40.0, 40.0, 0.0],
            [-40.0, 40.0, 0.0],
        ],
        triangles: vec![[0, 1, 2], [0, 2, 3]],
        made_by: vec![0, 0],
    };
    let s = 35.0f64.to_radians().tan();
    let n = FACES as f64;
    let (a, b) = ([0.0, 0.0], [6.0, 0.0]);
    let whole = heap(&ground, &Crest::Ridge(a, b), 35.0, 20.0).expect("a ridge");
    let h = whole.crest;
    let formula =
        6.0 * h * h / s + n * (std::f64::consts::PI / n).tan() * h.powi(3) / (3.0 * s * s);
    close("ridge", formula, 20.0, 1e-9);
    let half = heap(&ground, &Crest::Against(a, b), 35.0, 10.0).expect("against");
    close("half", half.crest, h, 1e-9);
}

const HEAP: &str = "piles: [(name: \"heap\", along: [(AT)])]";

#[test]
fn piles_are_refused_where_they_may_not_lie() {
    let with = |at: &str, site: &str| {
        let design = format!("{BERM}, {HOLE}, {}", HEAP.replace("AT", at));
        let rest = format!(
            "site: ({site}), soil: (topsoil_depth: 0), sequence: [(name: \"dig\", works: [\"hole\"]), (name: \"bank\", works: [\"screen\"])]"
        );
        flat(&design, &rest)
    };
    let says = |plan: &Plan, words: &str| {
        plan.findings
            .iter()
            .any(|f| f.place == "pile heap" && f.what.contains(words))
    };
    let good = with("30, 60", "");
    // The berm wants 598.5 ft³ bank, 748.1 ft³ loose, and no other pile is needed.
    close("pile", good.piles[0].loose_m3, 748.148_148 * FT3, 1e-6);
    assert!(!good.findings.iter().any(|f| f.place == "pile heap"));
    assert!(says(&with("80, 60", ""), "lies on the dig of hole"));
    assert!(says(&with("58, 60", ""), "from the edge of hole"));
    assert!(says(&with("3, 60", ""), "runs off the surveyed ground"));
    let keep = "keep_outs: [(\"oak\", [(28, 58), (34, 58), (34, 62), (28, 62)])]";
    assert!(says(&with("30, 60", keep), "keep-out oak"));
    let pipe = "services: [(name: \"gas\", kind: \"gas\", line: [(0, 70), (60, 70)], depth: 2)]";
    assert!(says(&with("30, 60", pipe), "service gas"));
}

/// A pile put on a place that was graded before it stands on what was left there. Level ground at 100 ft; a
/// pad 40 × 30 ft dug to 98 ft in the first stage, a hole dug in the second: its soil lies on the pad. On a
/// level floor a ridge is the prism and two half cones, closed form: its crest is as high over the floor.
#[test]
fn a_pile_stands_on_the_ground_as_it_is_by_then() {
    use brimline::ledger::heap::FACES;
    const PAD: &str = "(name: \"yard\", outline: [(10, 10), (50, 10), (50, 40), (10, 40)], elevation: 98, batter: 0)";
    let hole = "(name: \"hole\", outline: [(70, 50), (90, 50), (90, 70), (70, 70)], elevation: 96, batter: 0)";
    let with = |at: &str, more: &str, first: &str, take_back: &str| {
        let design = format!(
            "pads: [{PAD}, {hole}{more}], {BANK}, piles: [(name: \"heap\", along: [{at}])]"
        );
        let rest = format!(
            "soil: (topsoil_depth: 0), sequence: [(name: \"wait\", works: []), (name: \"grade\", works: [\"yard\"{first}]), \
             (name: \"dig\", works: [\"hole\"]{take_back}), (name: \"bank\", works: [\"screen\"])]"
        );
        flat(&design, &rest)
    };
    const BANK: &str = "berms: [(name: \"screen\", line: [(20, 80), (50, 80)], crest: Above(1), crest_width: 2, batter: 2)]";
    let says = |plan: &Plan, words: &str| {
        let mut its = plan.findings.iter().filter(|f| f.place == "pile heap");
        its.any(|f| f.what.contains(words))
    };
    let place = "(25, 25), (35, 25)";
    let plan = with(place, "", "", "");
    conserved(&plan).unwrap_or_else(|e| panic!("{e}"));
    let pile = &plan.piles[0];
    assert_eq!(pile.stands_on, ["yard"]);
    let floor = 98.0 * 0.3048;
    let s = 35.0f64.to_radians().tan();
    let n = FACES as f64;
    let (h, l) = (pile.crest_m - floor, 10.0 * 0.3048);
    close("thickest", pile.height_m, h, 1e-9);
    let held = l * h * h / s + n * (std::f64::consts::PI / n).tan() * h.powi(3) / (3.0 * s * s);
    close("volume over the floor", held, pile.loose_m3, 1e-9);
    // The mesh lies on the floor: its lowest points are there.
    let low = pile.over_time.iter().flat_map(|o| o.mesh.iter().flatten());
    let low = low.map(|p| p[2]).fold(f64::INFINITY, f64::min);
    close("foot", low, floor, 1e-9);
    assert!(says(&plan, "stands on what yard left by then"));
    assert!(!says(&plan, "lies on the dig"), "{:#?}", plan.findings);
    assert!(!says(&plan, "from the edge"));
    // A pit in that floor, dug before as well, 1 ft from the foot of the pile: an edge like any other.
    // Its faces stand around the round ends: at their corners they reach a little further.
    let reach = h / s / (std::f64::consts::PI / n).cos() / 0.3048;
    let edge = 35.0 + reach + 1.0;
    let pit = format!(
        ", (name: \"pit\", outline: [({edge}, 20), (49, 20), (49, 30), ({edge}, 30)], elevation: 95, batter: 0)"
    );
    let plan = with(place, &pit, ", \"pit\"", "");
    let words = "lies 1.00 ft from the edge of pit; 2.00 ft are wanted";
    assert!(says(&plan, words), "{:#?}", plan.findings);
    // Nothing of it falls into the pit past the foot.
    close("beside a pit", plan.piles[0].height_m, h, 1e-9);
    // The same pile on the ground as surveyed stands two feet higher; and dug away under it in the stage
    // that it comes from, it is refused as before.
    let beside = with("(25, 60), (35, 60)", "", "", "");
    assert!(beside.piles[0].stands_on.is_empty());
    close(
        "on the surveyed ground",
        beside.piles[0].crest_m - 100.0 * 0.3048,
        h,
        1e-9,
    );
    assert!(says(
        &with("(76, 60), (84, 60)", "", "", ""),
        "lies on the dig of hole"
    ));
}

/// On a ramp that is taken back before the pile comes, it stands on the ground that is left.
#[test]
fn a_pile_does_not_stand_on_a_ramp_that_is_gone() {
    let with = |take_back: &str| {
        let design = "ramps: [(name: \"ramp\", line: [(20, 30), (40, 30)], profile: [102, 102], width: 20)], \
             pads: [(name: \"first\", outline: [(90, 10), (100, 10), (100, 20), (90, 20)], elevation: 90, batter: 0), \
                    (name: \"hole\", outline: [(70, 50), (90, 50), (90, 70), (70, 70)], elevation: 96, batter: 0)], \
             berms: [(name: \"screen\", line: [(20, 80), (50, 80)], crest: Above(1), crest_width: 2, batter: 2)], \
             piles: [(name: \"heap\", along: [(30, 30)])]";
        let rest = format!(
            "soil: (topsoil_depth: 0), sequence: [(name: \"wait\", works: []), (name: \"a\", works: [\"first\", \"ramp\"]), \
             (name: \"b\", works: [\"hole\"], take_back: [{take_back}]), (name: \"c\", works: [\"screen\"])]"
        );
        flat(design, &rest)
    };
    let gone = with("\"ramp\"");
    let pile = &gone.piles[0];
    let last = pile.over_time.iter().rev().find(|o| o.loose_m3 > 0.1);
    let last = last.expect("a pile after the ramp");
    let low = last.mesh.iter().flatten().map(|p| p[2]);
    close(
        "foot on the ground",
        low.fold(f64::INFINITY, f64::min),
        30.48,
        1e-9,
    );
    let stays = with("");
    assert_eq!(stays.piles[0].stands_on, ["ramp"]);
    assert!(stays.piles[0].crest_m - 102.0 * 0.3048 > 0.1);
}

/// A place that is suggested is one that is not refused.
#[test]
fn suggested_places_are_not_refused() {
    let design = format!("{BERM}, {HOLE}");
    let rest = "site: (keep_outs: [(\"oak\", [(40, 40), (60, 40), (60, 60), (40, 60)])]), soil: (topsoil_depth: \"4 in\"), sequence: [(name: \"dig\", works: [\"hole\"]), (name: \"bank\", works: [\"screen\"])]";
    let plan = flat(&design, rest);
    let text = format!(
        "(name: \"flat\", unit: Foot, field_book: (points: [(\"a\", 0, 0, 100), (\"b\", 120, 0, 100), \
         (\"c\", 120, 90, 100), (\"d\", 0, 90, 100)]), design: ({design}), {rest})"
    );
    let (_, job) = Document::parse("flat.ron", &text).unwrap_or_else(|e| panic!("{e}"));
    let places = brimline::ledger::places(&job, &plan);
    assert_eq!(places.len(), 2, "subsoil and topsoil");
    let [x, y] = places[0].at.map(|v| v / 0.3048);
    let named = format!("{design}, piles: [(name: \"heap\", along: [({x}, {y})])]");
    let plan = flat(&named, rest);
    assert!(!plan.findings.iter().any(|f| f.place == "pile heap"));
    close(
        "the same pile",
        plan.piles[0].loose_m3,
        places[0].loose_m3,
        1e-9,
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Random digs, banks and ramps in random order on a slope, with every kind of soil.
    #[test]
    fn soil_is_conserved(
        holes in prop::collection::vec((5.0..100.0f64, 5.0..70.0f64, 4.0..16.0f64, 92.0..101.0f64), 1..4),
        banks in prop::collection::vec((10.0..60.0f64, 10.0..80.0f64, 5.0..40.0f64, 0.5..4.0f64), 1..4),
        ramp in (10.0..50.0f64, 10.0..80.0f64, 15.0..50.0f64, 99.0..105.0f64),
        order in Just((0..7usize).collect::<Vec<_>>()).prop_shuffle(),
        cuts in prop::collection::vec(0..7usize, 0..3),
        (topsoil, back, unfit, strip) in (0.0..1.0f64, 0.0..0.5f64, 0.0..60.0f64, any::<bool>()),
    ) {
        let mut names = Vec::new();
        let mut pads = String::new();
        for (k, (x, y, s, z)) in holes.iter().enumerate() {
            names.push(format!("hole {k}"));
            let (x1, y1) = (x + s, y + s);
            pads += &format!("(name: \"hole {k}\", outline: [({x}, {y}), ({x1}, {y}), ({x1}, {y1}), ({x}, {y1})], elevation: {z}, batter: 1), ");
        }
        let mut berms = String::new();
        for (k, (x, y, l, h)) in banks.iter().enumerate() {
            names.push(format!("bank {k}"));
            berms += &format!("(name: \"bank {k}\", line: [({x}, {y}), ({}, {y})], crest: Above({h})), ", x + l);
        }
        names.push("ramp".into());
        let (x, y, l, z) = ramp;
        let ramps = format!("(name: \"ramp\", line: [({x}, {y}), ({}, {y})], profile: [{z}, {z}], cut: true)", x + l);
        let works: Vec<&String> = order.iter().filter_map(|&i| names.get(i)).collect();
        let mut at: Vec<usize> = cuts.iter().map(|c| c.min(&works.len()).to_owned()).collect();
        at.push(0);
        at.push(works.len());
        at.sort_unstable();
        let mut sequence = String::new();
        for (k, w) in at.windows(2).enumerate() {
            sequence += &format!("(name: \"stage {k}\", works: {:?}), ", &works[w[0]..w[1]]);
        }
        sequence += "(name: \"leave\", take_back: [\"ramp\"])";
        let job = job(
            &format!("pads: [{pads}], berms: [{berms}], ramps: [{ramps}]"),
            &format!("soil: (topsoil_depth: {topsoil}, put_back: {back}, unfit_share: {unfit}, strip_under_fills: {strip}), sequence: [{sequence}]"),
        );
        let plan = Plan::of(&job);
        if let Err(why) = conserved(&plan) {
            prop_assert!(false, "{why}");
        }
    }
}

/// A causeway 40 ft long and 3 ft high, 6 ft wide on top with sides of 1 1/2 to 1, and a pit of 10 ft by
/// 10 ft through its middle. In the pit stood 10 ft of it, cut off 5 ft to either side: 6 ft by 3 ft in
/// the middle, and beside it 2 ft that fall by 4/3 ft.
#[test]
fn what_is_dug_out_of_a_ramp_is_in_it_no_more() {
    let ramp = "ramps: [(name: \"way\", line: [(20, 40), (60, 40)], width: 6, profile: [103, 103], batter: 1.5)]";
    let pit = "pads: [(name: \"pit\", outline: [(35, 35), (45, 35), (45, 45), (35, 45)], elevation: 99, batter: 0)]";
    let gone = 10.0 * (6.0 * 3.0 + 2.0 * 2.0 * (3.0 - 2.0 / 3.0)) * FT3;
    for back in ["", "(name: \"c\", take_back: [\"way\"])"] {
        let rest = format!(
            "sequence: [(name: \"a\", works: [\"way\"]), (name: \"b\", works: [\"pit\"]), {back}]"
        );
        let plan = flat(&format!("{ramp}, {pit}"), &rest);
        conserved(&plan).unwrap_or_else(|e| panic!("{e}"));
        let stands: Vec<f64> = plan
            .ledger
            .stages
            .iter()
            .map(|s| s.ramp_compacted_m3)
            .collect();
        close("dug out of it", stands[0] - stands[1], gone, 1e-9);
        close("as placed", stands[0], plan.volumes.fill_compacted_m3, 1e-9);
        if !back.is_empty() {
            assert_eq!(stands[2], 0.0, "taken back");
        }
    }
}

/// A causeway that stays, over a bank that was placed before it: what stands of the ramp is what was placed
/// for it. The bank's soil under it is the bank's.
#[test]
fn a_ramp_that_stays_has_no_soil_of_what_it_stands_on() {
    let ramp = "ramps: [(name: \"way\", line: [(20, 40), (60, 40)], width: 6, profile: [103, 103], batter: 1.5)]";
    let bank = "berms: [(name: \"bank\", line: [(40, 25), (40, 55)], crest: Above(2), crest_width: 4, batter: 2)]";
    for strip in ["", "strip_under_fills: true, topsoil_depth: 0.5"] {
        let rest = format!(
            "soil: ({strip}), sequence: [(name: \"a\", works: [\"bank\"]), (name: \"b\", works: [\"way\"])]"
        );
        let plan = flat(&format!("{bank}, {ramp}"), &rest);
        conserved(&plan).unwrap_or_else(|e| panic!("{e}"));
        let own = plan.volumes.by_feature.iter().find(|v| v.name == "way");
        let placed = own.expect("the ramp").fill_compacted_m3;
        let stands = plan.ledger.stages[1].ramp_compacted_m3;
        close("as placed", stands, placed, 1e-9);
    }
}

/// Trees to keep: a pile on the roots of one is warned of, and no place is suggested there.
#[test]
fn piles_keep_off_the_roots_of_trees() {
    // What is dug lies about until the screen is made of it.
    let stages = "sequence: [(name: \"a\", works: [\"hole\"]), (name: \"b\", works: [\"screen\"])]";
    let job = |site: &str, piles: &str| {
        let text = format!(
            "(name: \"flat\", unit: Foot, field_book: (points: [(\"a\", 0, 0, 100), (\"b\", 120, 0, 100), \
             (\"c\", 120, 90, 100), (\"d\", 0, 90, 100)]), {site} design: ({HOLE}, {BERM}, {piles}), \
             soil: (topsoil_depth: 0), {stages})"
        );
        Document::parse("flat.ron", &text)
            .unwrap_or_else(|e| panic!("{e}"))
            .1
    };
    let bare = job("", "");
    let best = brimline::ledger::places(&bare, &Plan::of(&bare))[0].at;
    let [x, y] = best.map(|v| v / 0.3048);
    let trees = format!("site: (trees: [(name: \"ash\", at: ({x}, {y}), trunk: \"8 in\")]),");
    let shaded = job(&trees, "");
    let place = brimline::ledger::places(&shaded, &Plan::of(&shaded))[0].clone();
    let off = (place.at[0] - best[0]).hypot(place.at[1] - best[1]);
    // On level ground a cone reaches as far as its area tells.
    let reach = (place.area_m2 / std::f64::consts::PI).sqrt() + shaded.site.trees[0].protected();
    assert!(off > reach - 0.05, "{off} m off the trunk, {reach} wanted");
    let piles = format!("piles: [(name: \"heap\", along: [({x}, {y})])]");
    let heaped = job(&trees, &piles);
    let plan = Plan::of(&heaped);
    let warned = plan
        .findings
        .iter()
        .any(|f| f.place == "pile heap" && f.what.contains("root zone of the tree ash"));
    assert!(warned, "{:#?}", plan.findings);
}

/// Topsoil goes back on what is bare over the lining's edge, whether bank and side are one slope or two. By
/// hand: level ground 2 ft over the water, edge at 4 in, so 20 in of bank at 1:1 round a square of 20 ft,
/// from 20 ft 8 in to 24 ft wide, its corners square.
#[test]
fn banks_are_bare_over_the_lining_whatever_their_slope() {
    let area = |more: &str| -> f64 {
        let design = format!(
            "basins: [(name: \"pond\", water: 98, outline: [(30, 30), (50, 30), (50, 50), (30, 50)], {more} \
             lining: [(\"liner\", \"0.045 in\")])]"
        );
        let plan = flat(&design, "soil: (put_back: \"3 in\")");
        let placed = plan.ledger.stages.iter().flat_map(|s| &s.entries);
        let bare = placed.filter(|e| e.place == "bare ground" && e.deed == Deed::Placed);
        bare.map(|e| e.volume_m3).sum::<f64>() / (0.25 * FT3)
    };
    let by_hand = 24.0 * 24.0 - (20.0 + 8.0 / 12.0f64).powi(2);
    // The ground is dug for the liner, 0.045 in thick, up to its edge only.
    for more in ["", "bank_batter: 1,", "batter: 1, bank_batter: 1,"] {
        close(more, area(more), by_hand, 2e-3);
    }
    close(
        "2:1, from 21 ft 4 in to 28 ft",
        area("bank_batter: 2,"),
        28.0 * 28.0 - (64.0 / 3.0f64).powi(2),
        2e-3,
    );
}

/// A basin filled up again in its middle gets no water, so nothing tells where its lining ends: the ledger of
/// the plan has no bank of it to put topsoil on, nor has one made of the plan when that is known.
#[test]
fn a_basin_without_water_has_no_bare_bank() {
    let basin = "basins: [(name: \"pond\", water: 98, outline: [(30, 30), (50, 30), (50, 50), (30, 50)], \
                 lining: [(\"liner\", \"0.045 in\")])]";
    let filled = format!(
        "{basin}, pads: [(name: \"fill\", outline: [(37, 37), (43, 37), (43, 43), (37, 43)], elevation: 100, batter: 0)]"
    );
    let rest = "soil: (put_back: \"3 in\"), sequence: [(name: \"dig\", works: [\"pond\"]), (name: \"fill\", works: [\"fill\"])]";
    let job = level_job(&filled, rest);
    let plan = Plan::of(&job);
    let dry = |f: &Finding| f.place == "pond" && f.what.starts_with("has no water");
    assert!(plan.findings.iter().any(dry), "{:?}", plan.findings);
    let back = brimline::ledger::account::put_back;
    assert_eq!(back(&plan.ledger), back(&brimline::ledger::of(&job, &plan)));
    let rest = rest.replace(", (name: \"fill\", works: [\"fill\"])", "");
    let wet = flat(basin, &rest);
    // The pad's own top and sides are paved and upright; all that was bare is the bank over the lining.
    assert!(back(&wet.ledger) > 1.0 && back(&plan.ledger) < 0.9 * back(&wet.ledger));
}

/// Two banks that lack soil, and one hole later on: its soil is named as a way out once.
#[test]
fn soil_is_promised_once() {
    let berm = |name: &str, y: i32| {
        format!("(name: \"{name}\", line: [(20, {y}), (60, {y})], crest: Above(1.5))")
    };
    let design = format!("berms: [{}, {}], {HOLE}", berm("one", 60), berm("two", 75));
    let plan = flat(
        &design,
        "soil: (topsoil_depth: 0), sequence: [(name: \"a\", works: [\"one\"]), (name: \"b\", works: [\"two\"]), \
         (name: \"c\", works: [\"hole\"])]",
    );
    let ways: Vec<&str> = plan
        .findings
        .iter()
        .filter(|f| f.what.contains("more subsoil"))
        .map(|f| f.remedy.as_str())
        .collect();
    assert_eq!(ways.len(), 2, "{ways:?}");
    let gives = |way: &str| -> f64 {
        let (_, rest) = way.split_once("gives ").unwrap_or((way, "0 "));
        rest.split(' ')
            .next()
            .and_then(|n| n.replace(',', "").parse().ok())
            .unwrap_or(0.0)
    };
    let there = 1600.0 / 27.0;
    let sum: f64 = ways.iter().map(|w| gives(w)).sum();
    assert!(gives(ways[0]) > 0.0 && sum < 2.0 * there - 1.0, "{ways:?}");
}
