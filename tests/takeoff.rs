//! The takeoff: sheets that are known beforehand, layers and walls by hand, the command.
//! Every yard in here is invented.

mod common;

use brimline::job::{Document, Job};
use brimline::plan::{Item, Kind, MadeBy, Of, Plan, Takeoff};
use brimline::takeoff::{Lining, Skin, takeoff, tape};
use brimline::terrain::Surface;
use common::command::printed;
use common::keys;
use serde_json::Value;

/// A level yard of 30 × 30 m at elevation 10, corners and middle shot.
fn yard(design: &str, rest: &str) -> Job {
    let text = format!(
        "(name: \"yard\", unit: Metre, field_book: (points: [
            (\"a\", 0, 0, 10), (\"b\", 30, 0, 10), (\"c\", 30, 30, 10), (\"d\", 0, 30, 10), (\"e\", 15, 15, 10),
        ]), design: ({design}), {rest})"
    );
    match Document::parse("yard", &text) {
        Ok((_, job)) => job,
        Err(errors) => panic!("{errors}"),
    }
}

fn list(job: &Job) -> (Plan, Takeoff) {
    let plan = Plan::of(job);
    let list = takeoff(job, &plan);
    (plan, list)
}

#[track_caller]
fn item<'a>(list: &'a Takeoff, what: &str, place: &str) -> &'a Item {
    list.items
        .iter()
        .find(|i| i.what.starts_with(what) && i.place == place)
        .unwrap_or_else(|| panic!("no {what} for {place} in {:#?}", list.items))
}

#[track_caller]
fn near(what: &str, found: f64, wanted: f64, within: f64) {
    assert!(
        (found - wanted).abs() <= within,
        "{what}: {found}, not {wanted} (off by {:e})",
        found - wanted
    );
}

/// A strip surface folded along lines x = const, `z` at each x, from y0 to y1, all by one maker.
fn folded(xz: &[[f64; 2]], y: [f64; 2]) -> (Surface, Vec<MadeBy>) {
    let mut s = Surface::default();
    for &[x, z] in xz {
        s.points.push([x, y[0], z]);
        s.points.push([x, y[1], z]);
    }
    for k in 0..xz.len() as u32 - 1 {
        let (a, b, c, d) = (2 * k, 2 * k + 2, 2 * k + 3, 2 * k + 1);
        s.triangles.push([a, b, c]);
        s.triangles.push([a, c, d]);
    }
    s.made_by = vec![0; s.triangles.len()];
    let makers = vec![MadeBy {
        name: "p".into(),
        kind: Kind::Basin,
        part: "side".into(),
    }];
    (s, makers)
}

const ALL: &[Lining] = &[Lining {
    name: "p",
    kind: Kind::Basin,
    edge: 100.0,
}];

/// Developable: a channel folded along parallel lines unrolls to a rectangle. V channel 3-4-5: two
/// sides of 5 m each, 12 m long.
#[test]
fn a_channel_unrolls_to_its_known_sheet() {
    let (s, makers) = folded(&[[0.0, 4.0], [3.0, 0.0], [6.0, 4.0]], [0.0, 12.0]);
    let skin = Skin::of(&s, &makers, ALL);
    let across = tape(&skin, 0.0).expect("taped");
    let along = tape(&skin, std::f64::consts::FRAC_PI_2).expect("taped");
    near("across the V", across.side, 10.0, 1e-6);
    near("longest section across", across.longest, 10.0, 1e-6);
    near("along the V", along.side, 12.0, 1e-6);
    near("its area", skin.area(|_| true), 120.0, 1e-9);
    // A prism trench with shelves: 1 + √2 + 2 + √2 + 1.
    let (s, makers) = folded(
        &[
            [0.0, 1.0],
            [1.0, 1.0],
            [2.0, 0.0],
            [4.0, 0.0],
            [5.0, 1.0],
            [6.0, 1.0],
        ],
        [0.0, 7.0],
    );
    let skin = Skin::of(&s, &makers, ALL);
    near(
        "across the trench",
        tape(&skin, 0.0).expect("taped").side,
        4.0 + 2.0 * 2f64.sqrt(),
        1e-6,
    );
}

/// A flat outline needs its own extents, and no more, in every direction: here a square of side 2
/// (2|cos| + 2|sin|), and a slanting parallelogram, whose single cuts are all 5 long.
#[test]
fn a_flat_outline_needs_its_extents() {
    let (s, makers) = folded(&[[0.0, 0.0], [2.0, 0.0]], [0.0, 2.0]);
    let skin = Skin::of(&s, &makers, ALL);
    for degrees in [0.0f64, 10.0, 30.0, 45.0, 80.0] {
        let a = degrees.to_radians();
        near(
            "extent of the square",
            tape(&skin, a).expect("taped").side,
            2.0 * (a.cos() + a.sin()),
            1e-5,
        );
    }
    let slanting = Surface {
        points: vec![
            [0.0, 0.0, 0.0],
            [5.0, 0.0, 0.0],
            [9.0, 4.0, 0.0],
            [4.0, 4.0, 0.0],
        ],
        triangles: vec![[0, 1, 2], [0, 2, 3]],
        made_by: vec![0, 0],
    };
    let taped = tape(&Skin::of(&slanting, &makers, ALL), 0.0).expect("taped");
    near("longest single cut", taped.longest, 5.0, 1e-6);
    near("room for the slant", taped.side, 9.0, 1e-5);
}

/// The V channel of 10 × 12 m, turned by an angle: the sheet that unfolds from it takes 10 cos + 12 sin.
/// The tape starts from a line that is straight in plan, not in the sheet, so its slant of 12 sin may
/// count as much as the slope is longer than its plan, 5/3; it is never less than the sheet takes.
#[test]
fn a_channel_askew_is_never_short() {
    let (s, makers) = folded(&[[0.0, 4.0], [3.0, 0.0], [6.0, 4.0]], [0.0, 12.0]);
    let skin = Skin::of(&s, &makers, ALL);
    for degrees in [0.5f64, 1.0, 3.0, 10.0] {
        let a = degrees.to_radians();
        let taped = tape(&skin, a).expect("taped");
        let least = 10.0 * a.cos() + 12.0 * a.sin();
        let most = 10.0 * a.cos() + 12.0 * 5.0 / 3.0 * a.sin();
        assert!(
            taped.side >= least - 1e-6 && taped.side <= most.max(taped.longest) + 1e-6,
            "{degrees}°: {taped:?}, not between {least} and {most}"
        );
    }
}

/// Pools with upright ends along a straight line: the falls of the demo need across hardly
/// more than their widest section, though their ends stand square to the line.
#[test]
fn upright_ends_add_nothing_across() {
    let path = format!("{}/surveys/demo.ron", env!("CARGO_MANIFEST_DIR"));
    let (_, job) = Document::load(std::path::Path::new(&path)).unwrap_or_else(|e| panic!("{e}"));
    let (_, list) = list(&job);
    let falls = list
        .sheets
        .iter()
        .find(|s| s.place == "falls")
        .expect("a sheet");
    let across = falls.short_m - 2.0 * 0.3048;
    assert!(
        across < falls.short_section_m + 0.15,
        "{falls:?}: the line bends by less than a degree"
    );
}

/// A box of a basin with upright sides, 6 × 4 m at the water, 1 m deep, its lining's edge 0.1 m over
/// the water: 6 + 2 × 1.1 by 4 + 2 × 1.1, and a tuck of 0.3 m on every side.
#[test]
fn an_upright_basin_needs_floor_and_two_walls() {
    let job = yard(
        "basins: [(name: \"pond\", water: 9.8, outline: [(10, 10), (16, 10), (16, 14), (10, 14)],
            floor_depth: 1, batter: 0, bank_batter: 0, edge_above: 0.1, lining: [(\"liner\", 0)])]",
        "materials: (liner: (tuck: 0.3, rolls: [8], cut: 0.5))",
    );
    let (_, list) = list(&job);
    let sheet = &list.sheets[0];
    near("long side", sheet.long_m, 6.0 + 2.2 + 0.6, 1e-5);
    near("short side", sheet.short_m, 4.0 + 2.2 + 0.6, 1e-5);
    near("surface", sheet.surface_m2, 24.0 + 20.0 * 1.1, 1e-5);
    assert_eq!(sheet.widths, 1);
    near("off the roll", sheet.cut_m, 9.0, 1e-9);
    let order = item(&list, "liner", "pond").order.expect("an order");
    near("ordered", order.most, 8.0 * 9.0, 1e-9);
}

/// Two widths of 5 m with 0.2 m overlap make 9.8 m.
#[test]
fn a_narrow_roll_makes_a_seam() {
    let job = yard(
        "basins: [(name: \"pond\", water: 9.8, outline: [(10, 10), (16, 10), (16, 14), (10, 14)],
            floor_depth: 1, batter: 0, bank_batter: 0, edge_above: 0.1, lining: [(\"liner\", 0)])]",
        "materials: (liner: (tuck: 0.3, rolls: [5], seam: 0.2, cut: 0.5))",
    );
    let (_, list) = list(&job);
    let sheet = &list.sheets[0];
    assert_eq!(sheet.widths, 2, "{sheet:?}");
    assert!(sheet.seams_m > 6.0, "{sheet:?}");
}

/// Stone 0.1 m thick on floor and shelf of a straight-sided basin is the slab between two levels,
/// its sides going on at the side's batter. Floor 4 × 2 m, batter 1: under the finished floor the
/// outline shrinks by 1 m for each metre down.
#[test]
fn a_layer_of_stone_is_the_volume_between_its_faces() {
    let job = yard(
        "basins: [(name: \"pond\", water: 9.8, outline: [(10, 10), (14, 10), (14, 12), (10, 12)], outline_at: Floor,
            floor_depth: 1, batter: 1, lining: [(\"fleece\", 0), (\"gravel\", 0.1, Level)])]",
        "materials: (waste: (stone: 0), stone: (least: \"1500 kg/m3\", most: \"1800 kg/m3\", lot: 100))",
    );
    let (plan, list) = list(&job);
    let gravel = item(&list, "gravel", "pond");
    // Prismatoid: (4·2 + 4·3.9·1.9 + 3.8·1.8) / 6 × 0.1.
    let wanted = 0.1 / 6.0 * (4.0 * 2.0 + 4.0 * 3.9 * 1.9 + 3.8 * 1.8);
    let net = gravel.net.expect("a volume");
    assert_eq!(net.of, Of::Volume);
    near("gravel", net.value, wanted, 1e-9);
    near(
        "all between dug and finished",
        plan.volumes.dug_to_finished_m3,
        wanted,
        1e-9,
    );
    let order = gravel.order.expect("an order");
    near(
        "lightest",
        order.least,
        (wanted * 15.0).ceil() * 100.0,
        1e-6,
    );
    near("heaviest", order.most, (wanted * 18.0).ceil() * 100.0, 1e-6);
}

/// Two layers of stone add up to what lies between dug and finished.
#[test]
fn layers_add_up() {
    let job = yard(
        "basins: [(name: \"pond\", water: 9.8, outline: [(10, 10), (18, 10), (18, 16), (10, 16)],
            shelves: [(depth: 0.3, width: 0.5)], floor_depth: 1, batter: 0.5,
            lining: [(\"sand\", 0.05), (\"gravel\", 0.1, Level)])]",
        "",
    );
    let (plan, list) = list(&job);
    let sum: f64 = ["sand", "gravel"]
        .map(|l| item(&list, l, "pond").net.expect("a volume").value)
        .iter()
        .sum();
    near("sum of layers", sum, plan.volumes.dug_to_finished_m3, 1e-9);
    let storage = brimline::flow::closer(&job, &plan).storage;
    let pond = storage.iter().find(|s| s.water == "pond").expect("held");
    near("stone on the water's page", pond.stone_m3, sum, 1e-12);
    assert!(
        list.notes
            .iter()
            .any(|n| n.contains("no layer of its lining is a liner"))
    );
}

/// By hand: a straight wall 8 m long on level ground, cap 0.9 m over the ground, foot 0.15 m under
/// it: face 8.4 m², 7.2 m² of it seen. Courses of 0.2 m under a cap of 0.05 m: 1.0 / 0.2 = 5. Blocks
/// of 0.4 m: 20 to a course. Caps of 0.5 m: 16. Base 0.6 × 0.15 × 8 = 0.72 m³. Drainage stone 0.3 m thick:
/// 0.9 m over the ground, and 0.15 m down to the foot as far as the trench reaches behind the wall, 0.15 m.
/// What the backfill of 1 m, with slopes of 2 beyond it, takes is the rest.
#[test]
fn a_wall_by_hand() {
    let job = yard(
        "walls: [(name: \"wall\", line: [(8, 15), (16, 15)], back: Left, cap: 10.9, thickness: 0.3,
            embedment: 0.15, base_thickness: 0.15, base_width: 0.6, backfill: (width: 1, below_cap: 0))]",
        "materials: (block: (length: 0.4, height: 0.2, cap_length: 0.5, cap_height: 0.05, drain_stone: 0.3),
            pipe: (length: 5), waste: (block: 5, stone: 0, pipe: 0))",
    );
    let (_, list) = list(&job);
    let net = |what: &str| item(&list, what, "wall").net.expect("a quantity").value;
    near("blocks", net("block"), 100.0, 1e-9);
    near(
        "blocks to order",
        item(&list, "block", "wall").order.expect("an order").most,
        105.0,
        1e-9,
    );
    near("caps", net("cap"), 16.0, 1e-9);
    near("base stone", net("base stone"), 0.72, 1e-9);
    near("drain pipe", net("drain pipe"), 8.0, 1e-9);
    near(
        "drainage stone",
        net("drainage stone"),
        8.0 * (0.3 * 0.9 + 0.15 * 0.15),
        1e-9,
    );
    let mut without = job.clone();
    without.materials.block.drain_stone = 0.0;
    let fill = |job: &Job| -> f64 {
        let volumes = Plan::of(job).volumes.by_feature;
        volumes.iter().map(|v| v.fill_compacted_m3).sum()
    };
    near(
        "soil for which stone takes the room",
        fill(&without) - fill(&job),
        net("drainage stone"),
        1e-9,
    );
    let how = &item(&list, "block", "wall").how;
    for part in [
        "8.4 m²",
        "7.2 m² to be seen",
        "1.2 m² in the ground",
        "5 courses",
        "which fits",
    ] {
        assert!(how.contains(part), "{part} in: {how}");
    }
    assert!(!list.items.iter().any(|i| i.what.contains("grid")));
    let mut high = job.clone();
    high.materials.block.grid_from = 1.0;
    let list = takeoff(&high, &Plan::of(&high));
    assert!(
        item(&list, "reinforcing grid", "wall")
            .how
            .contains("licensed professional")
    );
}

/// A trench of 3 + 4 m on level ground with one square corner, 0.5 m deep: 7 m and 0.5 m up at each
/// end; one bend of 90° and one at each end.
#[test]
fn a_pipe_by_hand() {
    let job = yard(
        "trenches: [(name: \"run\", line: [(10, 10), (13, 10), (13, 14)], depth: 0.5)]",
        "materials: (pipe: (length: 3), waste: (pipe: 0))",
    );
    let (_, list) = list(&job);
    let pipe = item(&list, "pipe", "run");
    near("pipe", pipe.net.expect("a length").value, 8.0, 1e-6);
    near(
        "pipe to order",
        pipe.order.expect("an order").most,
        9.0,
        1e-9,
    );
    near(
        "bends",
        item(&list, "bend, 90", "run").net.expect("a count").value,
        3.0,
        1e-9,
    );
    near(
        "couplings",
        item(&list, "coupling", "run").net.expect("a count").value,
        2.0,
        1e-9,
    );
    near(
        "refill",
        item(&list, "refill", "run").net.expect("a volume").value,
        7.0 * 0.3048 * 0.5,
        0.03,
    );
}

/// The demo's pump is piped as its flow is reckoned: by that size and that length, with the fittings of
/// the job, once and not for its trench again; and so is the drain through the brim.
#[test]
fn the_pipes_of_the_plan_are_ordered() {
    let path = format!("{}/surveys/demo.ron", env!("CARGO_MANIFEST_DIR"));
    let (_, job) = Document::load(std::path::Path::new(&path)).unwrap_or_else(|e| panic!("{e}"));
    let (plan, list) = list(&job);
    let duty = &plan.flow.pumps[0];
    let laid = duty
        .pipes
        .iter()
        .find(|p| p.pipe == duty.pipe)
        .expect("one is laid");
    let pipe = item(&list, "pipe, 3 in", "falls pump");
    near(
        "pipe of the pump",
        pipe.net.expect("a length").value,
        duty.length_m,
        1e-12,
    );
    assert_eq!(pipe.bore_m, Some(laid.diameter_m));
    for (fitting, count) in [("elbow, 90°", 5.0), ("ball valve", 1.0)] {
        near(
            fitting,
            item(&list, fitting, "falls pump")
                .net
                .expect("a count")
                .value,
            count,
            0.0,
        );
    }
    let drain = item(&list, "pipe, 4.026 in inside", "brim drain");
    let made = &plan.flow.overflows[0];
    near(
        "pipe of the drain",
        drain.net.expect("a length").value,
        (4.8f64 * 0.3048).hypot(made.inlet_m - made.outlet_m),
        1e-9,
    );
    let twice: Vec<_> = list
        .items
        .iter()
        .filter(|i| i.place == "pipe run" && !i.what.starts_with("refill"))
        .collect();
    assert!(twice.is_empty(), "{twice:?}");
    assert!(pipe.how.contains("trench pipe run"), "{}", pipe.how);
}

/// An overflow with a square corner, 7 m in plan and 0.3 m down; a trench that only crosses it keeps its
/// own pipe, of which nobody knows the size.
#[test]
fn an_overflow_by_hand() {
    let job = yard(
        "basins: [(name: \"pond\", water: 9.8, outline: [(10, 10), (16, 10), (16, 14), (10, 14)], floor_depth: 1)],
            overflows: [(name: \"drain\", basin: \"pond\", line: [(15, 12), (18, 12), (18, 16)], outlet: 9.5)],
            trenches: [(name: \"cable\", line: [(17, 15), (21, 15)], depth: 0.5)]",
        "materials: (pipe: (length: 3), waste: (pipe: 0))",
    );
    let (_, list) = list(&job);
    let pipe = item(&list, "pipe, 102 mm inside", "drain");
    near(
        "pipe",
        pipe.net.expect("a length").value,
        7.0f64.hypot(0.3),
        1e-9,
    );
    near(
        "bend",
        item(&list, "bend, 90", "drain").net.expect("a count").value,
        1.0,
        0.0,
    );
    let own = item(&list, "pipe, diameter not known", "cable");
    assert_eq!(own.bore_m, None);
    near(
        "pipe in the trench",
        own.net.expect("a length").value,
        5.0,
        1e-6,
    );
}

/// A pit of 3 × 3 m, 0.5 m deep, gives 4.5 m³ of a berm that takes more; the rest is brought in, and so
/// is all the topsoil where nothing is stripped.
#[test]
fn soil_that_is_lacking_is_ordered_by_kind() {
    let job = yard(
        "pads: [(name: \"pit\", outline: [(3, 3), (6, 3), (6, 6), (3, 6)], elevation: 9.5, batter: 0)],
            berms: [(name: \"bank\", line: [(10, 10), (20, 10)], crest: 11, crest_width: 1, batter: 2)]",
        "soil: (topsoil_depth: 0, put_back: 0.1), sequence: [(name: \"one\", works: [\"pit\", \"bank\"])]",
    );
    let (plan, list) = list(&job);
    let class = &job.soil.class;
    let bank = item(&list, "berm", "bank");
    let takes = bank.net.expect("a volume").value / class.compacted;
    near(
        "share brought in",
        bank.brought_in.expect("soil"),
        1.0 - 4.5 / takes,
        1e-6,
    );
    let common = item(&list, "common earth to bring in, loose", "bank");
    near(
        "brought in, loose",
        common.net.expect("a volume").value,
        (takes - 4.5) * class.loose,
        1e-5,
    );
    let top = item(&list, "topsoil to bring in, loose", "bare ground");
    let back = item(&list, "topsoil, settled", "bare ground");
    assert_eq!(back.brought_in, Some(1.0));
    let topsoil = &job.soil.topsoil;
    near(
        "topsoil, loose",
        top.net.expect("a volume").value,
        back.net.expect("a volume").value / topsoil.compacted * topsoil.loose,
        1e-9,
    );
    let import: f64 = plan.ledger.stages.iter().map(|s| s.import_loose_m3).sum();
    near(
        "all that the ledger brings in",
        common.net.expect("a volume").value + top.net.expect("a volume").value,
        import,
        1e-9,
    );
    let text = brimline::report::takeoff(&job, &plan, &list, 100);
    assert!(text.contains("brought in"), "{text}");
}

/// A pad of 4 × 3 m, build-up 0.2 m of which 0.06 m paving: 12 m² and 1.68 m³ of bed. A berm's mulch
/// is its area along the slopes by the depth: ridge 6 m long, 0.5 m high, sides 2:1, crest 0.4 m.
#[test]
fn paving_and_mulch_by_hand() {
    let job = yard(
        "pads: [(name: \"pad\", outline: [(5, 5), (9, 5), (9, 8), (5, 8)], elevation: 10, build_up: 0.2)]",
        "materials: (planting: (paver: 0.06), waste: (paving: 0, stone: 0))",
    );
    let (_, list) = list(&job);
    near(
        "paving",
        item(&list, "paving", "pad").net.expect("an area").value,
        12.0,
        1e-9,
    );
    near(
        "bed",
        item(&list, "bed", "pad").net.expect("a volume").value,
        12.0 * 0.14,
        1e-9,
    );
}

#[test]
fn the_command_prints_and_its_keys_are_documented() {
    for job in ["surveys/demo.ron", "surveys/terrace-metric.ron"] {
        let text = printed(["takeoff", job]);
        assert!(text.contains("what to order"), "{text}");
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    }
    let text = printed(["takeoff", "surveys/demo.ron", "--json"]);
    let value: Value = serde_json::from_str(&text).expect("JSON");
    let mut given = keys::given(&value);
    given.remove("notes");
    given.remove("findings");
    let mut documented = keys::documented("takeoff");
    documented.remove("notes[]");
    documented.remove("findings[]");
    assert_eq!(given, documented);
}

/// The demo, line by line: every sheet is at least what it covers, nothing is ordered short.
#[test]
fn nothing_is_ordered_short() {
    for name in ["surveys/demo.ron", "surveys/terrace-metric.ron"] {
        let path = format!("{}/{name}", env!("CARGO_MANIFEST_DIR"));
        let (_, job) =
            Document::load(std::path::Path::new(&path)).unwrap_or_else(|e| panic!("{e}"));
        let (_, list) = list(&job);
        assert!(!list.items.is_empty());
        for s in &list.sheets {
            assert!(s.long_m * s.short_m >= s.surface_m2, "{s:?}");
            assert!(
                s.long_m >= s.long_section_m && s.short_m >= s.short_section_m,
                "{s:?}"
            );
        }
        for i in &list.items {
            if let (Some(gross), Some(order)) = (i.gross, i.order)
                && gross.of == order.of
            {
                assert!(order.least >= gross.value - 1e-6, "{i:?}");
            }
        }
    }
}

/// A second opinion on the tape, by other code: sections of the whole dug surface along grid lines 1 cm
/// apart, followed out from the middle of the basin until they rise over the lining's edge. The
/// longest of them comes up to the tape's from below.
#[test]
fn grid_sections_come_up_to_the_tape() {
    let path = format!("{}/surveys/terrace-metric.ron", env!("CARGO_MANIFEST_DIR"));
    let (_, job) = Document::load(std::path::Path::new(&path)).unwrap_or_else(|e| panic!("{e}"));
    let plan = Plan::of(&job);
    let edge = 49.22 + 0.10;
    let linings = [Lining {
        name: "basin",
        kind: Kind::Basin,
        edge,
    }];
    let skin = Skin::of(&plan.dug, &plan.makers, &linings);
    let probe = brimline::terrain::Probe::new(&plan.dug);
    // Out from `middle`, the stations being (distance, elevation) in order.
    let reach = |stations: &mut dyn Iterator<Item = [f64; 2]>| {
        let (mut sum, mut last) = (0.0, None::<[f64; 2]>);
        for s in stations {
            if let Some(l) = last {
                let (run, rise) = ((s[0] - l[0]).abs(), s[1] - l[1]);
                if s[1] > edge {
                    let f = if rise > 0.0 {
                        (edge - l[1]) / rise
                    } else {
                        0.0
                    };
                    return sum + f * run.hypot(rise);
                }
                sum += run.hypot(rise);
            }
            last = Some(s);
        }
        sum
    };
    let mut longest = 0.0f64;
    for k in 0..1000 {
        let x = 3.0 + 0.00701 * k as f64;
        let cut = probe.section([x, 1.0], [x, 9.5]);
        // From the middle of the basin, y = 5.25.
        let Some(at) = cut.iter().position(|s| s[0] > 4.25) else {
            continue;
        };
        if cut[at][1] > edge {
            continue;
        }
        let mid = at - 1;
        let up = reach(&mut cut[mid..].iter().copied());
        let down = reach(&mut cut[..=mid].iter().rev().copied());
        longest = longest.max(up + down);
    }
    let taped = tape(&skin, std::f64::consts::FRAC_PI_2)
        .expect("taped")
        .longest;
    assert!(
        longest <= taped + 1e-6 && longest > taped - 0.01,
        "grid sections reach {longest} m, the tape {taped} m"
    );
}

/// Cutting a surface's triangles up adds hardly a bend, and the tape reads the same in every direction.
#[test]
fn the_tape_does_not_see_how_finely_a_plane_is_cut() {
    let path = format!("{}/surveys/terrace-metric.ron", env!("CARGO_MANIFEST_DIR"));
    let (_, job) = Document::load(std::path::Path::new(&path)).unwrap_or_else(|e| panic!("{e}"));
    let plan = Plan::of(&job);
    let linings = [Lining {
        name: "basin",
        kind: Kind::Basin,
        edge: 49.22 + 0.10,
    }];
    let mut fine = Surface::default();
    for (t, maker) in plan.dug.made_by.iter().enumerate() {
        let [a, b, c] = plan.dug.corners(t);
        let mid = |p: [f64; 3], q: [f64; 3]| [0, 1, 2].map(|k| 0.5 * (p[k] + q[k]));
        let (ab, bc, ca) = (mid(a, b), mid(b, c), mid(c, a));
        for corners in [[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]] {
            let first = fine.points.len() as u32;
            fine.points.extend(corners);
            fine.triangles.push([first, first + 1, first + 2]);
            fine.made_by.push(*maker);
        }
    }
    let coarse = Skin::of(&plan.dug, &plan.makers, &linings);
    let fine = Skin::of(&fine, &plan.makers, &linings);
    assert!(fine.bits.len() > 3 * coarse.bits.len());
    assert!(
        fine.bends.len() < coarse.bends.len() + coarse.bends.len() / 2,
        "{} bends from {}",
        fine.bends.len(),
        coarse.bends.len()
    );
    // Most bends are such that one cut tells; that and the other together tell the same.
    let smooth = coarse.bends.iter().filter(|b| b.smooth).count();
    assert!(2 * smooth > coarse.bends.len(), "{smooth} are smooth");
    let mut both = coarse.clone();
    both.bends.iter_mut().for_each(|b| b.smooth = false);
    both.creases.iter_mut().for_each(|c| c.level = false);
    for degrees in [0.0f64, 7.0, 31.0, 45.0, 90.0, 118.0] {
        let read = |skin| tape(skin, degrees.to_radians()).expect("taped");
        let (whole, cut) = (read(&coarse), read(&fine));
        near("side", cut.side, whole.side, 2e-5);
        near("longest section", cut.longest, whole.longest, 2e-5);
        let both = read(&both);
        near("side by both cuts", both.side, whole.side, 2e-6);
        near("section by both cuts", both.longest, whole.longest, 2e-6);
    }
}
