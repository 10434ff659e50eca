//! The way in, the haul and the ramp: against brute force, closed forms and the command's output.

use brimline::findings::Severity;
use brimline::haul::model::{BOUGHT, solve, solve_in_part};
use brimline::job::{Document, Job};
use brimline::plan::{Arc, ArcKind, HaulModel, Haulage, Kind, Node, Plan};

mod common;
use common::command::{brimline, printed};
use common::{Random, close_to};

fn job(text: &str) -> Job {
    match Document::parse("haul.ron", text) {
        Ok((_, job)) => job,
        Err(errors) => panic!("{errors}"),
    }
}

fn node(name: &str, stage: usize, order: usize, bank: f64) -> Node {
    Node {
        name: name.into(),
        work: name.into(),
        order,
        stage,
        at: Some([0.0; 2]),
        bank_m3: bank,
    }
}

/// Whole cubic metres over every way, tried out one by one: the optimum of such a model is whole.
fn brute(model: &HaulModel) -> f64 {
    fn go(m: &HaulModel, flows: &mut Vec<u32>, k: usize, cost: f64, best: &mut f64) {
        if cost >= *best {
            return;
        }
        let sum = |f: &dyn Fn(&Arc) -> bool| -> u32 {
            m.arcs
                .iter()
                .zip(flows.iter())
                .filter(|(a, _)| f(a))
                .map(|(_, v)| v)
                .sum()
        };
        let leaves = |a: &Arc, i: usize| {
            matches!(a.kind, ArcKind::Direct | ArcKind::ToPile | ArcKind::Off) && a.from == i
        };
        let enters = |a: &Arc, j: usize| {
            matches!(a.kind, ArcKind::Direct | ArcKind::FromPile | ArcKind::In) && a.to == j
        };
        let takes = |a: &Arc| matches!(a.kind, ArcKind::FromPile | ArcKind::PileOff);
        let over = (0..m.sources.len())
            .any(|i| sum(&|a| leaves(a, i)) > m.sources[i].bank_m3 as u32)
            || (0..m.sinks.len()).any(|j| sum(&|a| enters(a, j)) > m.sinks[j].bank_m3 as u32);
        if over {
            return;
        }
        if k == m.arcs.len() {
            let whole = (0..m.sources.len())
                .all(|i| sum(&|a| leaves(a, i)) == m.sources[i].bank_m3 as u32)
                && (0..m.sinks.len()).all(|j| sum(&|a| enters(a, j)) == m.sinks[j].bank_m3 as u32)
                && sum(&takes) == sum(&|a| a.kind == ArcKind::ToPile)
                && never_overdrawn(m, flows);
            if whole {
                *best = cost;
            }
            return;
        }
        for v in 0..=4 {
            flows.push(v);
            // Sums over the ways tried so far only: the zip ends with them.
            go(
                m,
                flows,
                k + 1,
                cost + f64::from(v) * m.arcs[k].cost_per_m3,
                best,
            );
            flows.pop();
        }
    }
    let mut best = f64::INFINITY;
    go(model, &mut Vec::new(), 0, 0.0, &mut best);
    best
}

/// Follows the pile through the work: each stage begins with what leaves the site; then every work in its
/// order first digs onto the pile, then takes from it. A pile without a place gives nothing of what came in
/// the same stage.
fn never_overdrawn(m: &HaulModel, flows: &[u32]) -> bool {
    let mut lies = 0i64;
    let placed = m.piles[0].at.is_some();
    let orders = m.sources.iter().chain(&m.sinks).map(|n| n.order);
    let last = orders.max().unwrap_or(0);
    for stage in 0..m.stages.len() {
        let of = |kind: ArcKind, order: Option<usize>| -> i64 {
            let its = m.arcs.iter().zip(flows).filter(|(a, _)| {
                let at = match kind {
                    ArcKind::ToPile => m.sources[a.from].order,
                    _ => m.sinks.get(a.to).map_or(0, |t| t.order),
                };
                a.kind == kind && a.stage == stage && order.is_none_or(|o| o == at)
            });
            its.map(|(_, v)| i64::from(*v)).sum()
        };
        lies -= of(ArcKind::PileOff, None);
        let mut ok = lies >= 0;
        for order in 0..=last {
            if placed {
                lies += of(ArcKind::ToPile, Some(order));
            }
            lies -= of(ArcKind::FromPile, Some(order));
            ok &= lies >= 0;
        }
        if !placed {
            lies += of(ArcKind::ToPile, None);
        }
        if !ok {
            return false;
        }
    }
    true
}

#[test]
fn least_cost_is_what_brute_force_finds() {
    let mut r = Random::new(4);
    let mut lay_within = 0;
    for round in 0..90 {
        let mut m = HaulModel {
            stages: vec!["a".into(), "b".into()],
            carriers: vec!["barrow".into()],
            hours: vec![None],
            sources: vec![
                node("s0", 0, 0, r.below(4) as f64),
                node("s1", 0, 2, r.below(4) as f64),
                node("s2", 1, 3, r.below(3) as f64),
            ],
            sinks: vec![
                node("t0", 0, 1, r.below(4) as f64),
                node("t1", 1, 4, r.below(4) as f64),
            ],
            piles: vec![node("pile", 0, 0, 0.0)],
            ..HaulModel::default()
        };
        let mut add = |kind, from: usize, to: usize, stage: usize, more: f64| {
            m.arcs.push(Arc {
                kind,
                from,
                to,
                stage,
                by: 0,
                cost_per_m3: (1 + r.below(9)) as f64 + more,
                hours_per_m3: 1.0,
                bank_m3: 0.0,
                way: 0,
            });
        };
        add(ArcKind::Direct, 0, 0, 0, 0.0);
        add(ArcKind::Direct, 2, 1, 1, 0.0);
        for (i, stage) in [(0, 0), (1, 0), (2, 1)] {
            add(ArcKind::Off, i, 0, stage, 0.0);
        }
        add(ArcKind::ToPile, 0, 0, 0, 0.0);
        add(ArcKind::ToPile, 1, 0, 0, 0.0);
        add(ArcKind::FromPile, 0, 0, 0, 0.0);
        add(ArcKind::FromPile, 0, 1, 1, 0.0);
        add(ArcKind::PileOff, 0, 0, 1, 0.0);
        add(ArcKind::In, 0, 0, 0, BOUGHT);
        add(ArcKind::In, 0, 1, 1, BOUGHT);
        let expected = brute(&m);
        assert!(
            solve(std::slice::from_mut(&mut m)),
            "round {round}: not solved"
        );
        close_to(&format!("round {round}: cost"), m.cost, expected, 1e-6);
        let within = |a: &&Arc| a.kind == ArcKind::FromPile && a.stage == 0 && a.bank_m3 > 0.5;
        lay_within += usize::from(m.arcs.iter().any(|a| within(&a)));
    }
    assert!(
        lay_within > 5,
        "soil lay on a pile within its stage {lay_within} times"
    );
}

/// What cannot all be carried is carried as far as it can be, and the rest is named.
#[test]
fn what_has_no_way_is_left_and_told() {
    let mut m = HaulModel {
        stages: vec!["a".into()],
        carriers: vec!["barrow".into()],
        hours: vec![None],
        sources: vec![node("s0", 0, 0, 5.0), node("s1", 0, 1, 3.0)],
        sinks: vec![node("t0", 0, 2, 4.0), node("t1", 0, 3, 4.0)],
        piles: vec![node("pile", 0, 0, 0.0)],
        ..HaulModel::default()
    };
    // Nothing leads to the second sink.
    for from in 0..2 {
        m.arcs.push(Arc {
            kind: ArcKind::Direct,
            from,
            to: 0,
            stage: 0,
            by: 0,
            cost_per_m3: 1.0 + from as f64,
            hours_per_m3: 1.0,
            bank_m3: 0.0,
            way: 0,
        });
    }
    assert!(!solve(std::slice::from_mut(&mut m)));
    let unmet = solve_in_part(&mut m).expect("some of it");
    close_to("carried", m.arcs.iter().map(|a| a.bank_m3).sum(), 4.0, 1e-9);
    close_to("the nearer first", m.cost, 4.0, 1e-6);
    close_to("left", unmet.left.iter().sum(), 4.0, 1e-9);
    close_to("of the first", unmet.left[0], 1.0, 1e-9);
    close_to("lacking", unmet.lack[1], 4.0, 1e-9);
    close_to("lacking where it was brought", unmet.lack[0], 0.0, 1e-9);
}

/// Ground of an invented yard, 30 m by 20 m, from a rule for its height.
fn yard(z: impl Fn(f64, f64) -> f64, rest: &str) -> Job {
    let mut points = String::new();
    for i in 0..=30 {
        for j in 0..=20 {
            let (x, y) = (f64::from(i), f64::from(j));
            points.push_str(&format!("(\"p{i}_{j}\", {x}, {y}, {:.6}), ", z(x, y)));
        }
    }
    job(&format!(
        "(name: \"yard\", unit: Metre, field_book: (points: [{points}]), {rest})"
    ))
}

fn haul(job: &Job) -> (Plan, Haulage) {
    let plan = Plan::of(job);
    let haul = brimline::haul::of(job, &plan, &brimline::ledger::places(job, &plan));
    (plan, haul)
}

const RAMP: &str = "design: (ramps: [(name: \"ramp\", line: [(5, 10), (25, 10)], width: 2, gradient: 0.2, batter: 1.5)])";

#[test]
fn a_plane_within_the_gradient_needs_no_soil() {
    let (_, h) = haul(&yard(|x, _| 0.15 * x, RAMP));
    let found = h.found.expect("a ramp");
    close_to("soil", found.found.compacted_m3, 0.0, 1e-6);
    close_to("length", found.found.length_m, 20.0, 0.05);
    close_to("on the ground", found.found.on_ground_m, 20.0, 0.05);
}

/// A step of 1 m from x = 15 to 16, level on both sides, in a lane as wide as the ramp (slantwise, with one
/// side against the bank, less would do): the least ramp is a wedge with its top at the edge of the step.
/// Its section at height h is w h + b h², h being its top over the ground.
#[test]
fn a_step_needs_the_wedge() {
    let rest = format!(
        "site: (keep_outs: [(\"left\", [(-1, 11.05), (31, 11.05), (31, 21), (-1, 21)]), \
                            (\"right\", [(-1, -1), (31, -1), (31, 8.95), (-1, 8.95)])]), {RAMP}"
    );
    let (_, h) = haul(&yard(|x, _| (x - 15.0).clamp(0.0, 1.0), &rest));
    let found = h.found.expect("a ramp");
    // Top at x = 16, foot at x = 11; from 15 to 16 the ground rises under it.
    let (w, b, g) = (2.0, 1.5, 0.2);
    let mut wedge = 0.0;
    let n = 20_000;
    for k in 0..n {
        let x = 11.0 + 5.0 * (k as f64 + 0.5) / n as f64;
        let high = g * (x - 11.0) - (x - 15.0).clamp(0.0, 1.0);
        wedge += (w * high + b * high * high) * 5.0 / n as f64;
    }
    let least = found.found.compacted_m3;
    // Sides on the slope of the step reach less or more far than on level ground: a few per cent.
    assert!(
        (least - wedge).abs() < 0.06 * wedge,
        "{least} against {wedge}"
    );
    assert!(found.found.gradient_max <= 0.2 + 1e-9);
    // The user's own is straight from end to end, over the ground's middle: more soil.
    assert!(found.saving_m3.expect("own ramp") > 0.0);
}

/// A ramp sought to another height than the own one ends at is another errand: no saving is told.
#[test]
fn a_ramp_to_another_height_spares_nothing() {
    let sought = |level: &str| {
        let rest = format!("haul: (ramp: (to_level: {level})), {RAMP}");
        let (_, h) = haul(&yard(|x, _| 0.05 * x, &rest));
        h.found.expect("a ramp")
    };
    let own = sought("1.25").saving_m3.expect("the same ends");
    assert!(own.abs() < 1e-6, "{own}");
    assert!(sought("1.3").saving_m3.is_some(), "a hand higher");
    // Made coarsely better, the straight line turns round behind its own end, where it cannot be built:
    // the last line that can be is taken. A wedge 5 m long that ends 0.75 m over the ground.
    let higher = sought("2.0");
    let soil = higher.found.compacted_m3;
    let (w, b, h, gains) = (2.0, 1.5, 0.75, 0.15);
    let wedge = (0.5 * w * h * h + b * h * h * h / 3.0) / gains;
    assert!(
        (0.9..1.6).contains(&(soil / wedge)),
        "{soil} against {wedge}"
    );
    assert_eq!(higher.saving_m3, None);
    assert_eq!(higher.own, None);
}

/// Two banks of 1 m: left of y = 10 both stand at x = 12 and x = 13, so that one ramp must climb 2 m; to the
/// right the second bank stands 8 m further, with a bench between: two small wedges, half the soil.
#[test]
fn two_benches_are_climbed_one_by_one() {
    let z = |x: f64, y: f64| {
        let second = if y < 10.0 { 13.0 } else { 21.0 };
        (x - 12.0).clamp(0.0, 1.0) + (x - second).clamp(0.0, 1.0)
    };
    let rest = "design: (ramps: [(name: \"ramp\", line: [(2, 8), (28, 8)], width: 2, gradient: 0.25, batter: 1.5, profile: [0, 2])])";
    let (_, h) = haul(&yard(z, rest));
    let found = h.found.expect("a ramp");
    let bench = found
        .found
        .line
        .iter()
        .any(|p| p[0] > 14.0 && p[0] < 20.0 && p[1] > 10.5);
    assert!(bench, "goes over the bench: {:?}", found.found.line);
    // Two wedges of 1 m at 1 in 4, generously.
    let wedge = 2.0 / (2.0 * 0.25) + 1.5 / (3.0 * 0.25);
    assert!(
        found.found.compacted_m3 < 2.0 * wedge,
        "{}",
        found.found.compacted_m3
    );
}

#[test]
fn ways_go_round_what_is_in_the_way() {
    // A pad dug at one end feeds a berm at the other; a keep-out between them reaches from y = 0 to 16.
    let rest = "site: (keep_outs: [(\"trees\", [(14, -1), (16, -1), (16, 16), (14, 16)])]), \
        design: (pads: [(name: \"pit\", outline: [(4, 4), (8, 4), (8, 8), (4, 8)], elevation: 99.5, batter: 0)], \
                 berms: [(name: \"bank\", line: [(24, 4), (24, 8)], crest: 100.4)]), \
        soil: (topsoil_depth: 0), sequence: [(name: \"all\", works: [\"pit\", \"bank\"])]";
    let (_, h) = haul(&yard(|_, _| 100.0, rest));
    let line = h
        .hauls
        .iter()
        .find(|l| l.from == "pit" && l.to == "bank")
        .expect("pit feeds bank");
    // Round the corners at (14, 16) and (16, 16): not nearer than the keep-out itself, and not further out
    // than half a barrow, its clearance, and what squares of half a metre lose: one for the keep-out's
    // edge and half of one for the barrow's.
    let round = |off: f64| 2.0 * (8.0 - off).hypot(10.0 + off) + 2.0 + 2.0 * off;
    let off = 0.5 * 28.0 * 0.0254 + 3.0 * 0.0254 + 1.5 * h.cell_m;
    let far = line.distance_m.expect("a way");
    assert!(
        far > round(0.0) && far < round(off),
        "{far}, not between {} and {}",
        round(0.0),
        round(off)
    );
    // 8 m³ dug (16 m² by 0.5 m); what the bank does not need cannot go off: there is no access.
    assert!(
        h.findings
            .iter()
            .any(|f| f.what.contains("the way from the street is not known"))
    );
}

/// A pond whose middle is far from its edge, and the berm made of its soil. Pond: 8 m × 6 m.
const POND_AND_BERM: &str = "basins: [(name: \"pond\", water: 99.85, outline: [(8, 4), (16, 4), (16, 10), (8, 10)], \
     floor_depth: 0.75, batter: 0.5, lining: [(\"liner\", 0.002)])], \
     berms: [(name: \"berm\", line: [(4, 15), (20, 15)], crest: Above(0.3))]";
const WAY_IN: &str =
    "site: (access: (line: [(29, 1), (25, 3)], width: 2.4, gates: [(\"gate\", 1, 1.2)]))";
const LOADER: &str = "haul: (machines: [(name: \"loader\", width: 0.9, gradient: 0.25)])";

/// All that is dug goes somewhere, all that is placed comes from somewhere, by loads that print.
fn all_is_carried(what: &str, h: &Haulage) {
    let wrong: Vec<_> = h
        .findings
        .iter()
        .filter(|f| f.severity == Severity::Error)
        .collect();
    assert!(wrong.is_empty(), "{what}: {wrong:#?}");
    assert!(h.uncarried.is_empty(), "{what}: {:#?}", h.uncarried);
    assert!(h.models.iter().all(|m| m.solved), "{what}");
    for model in &h.models {
        let of = |pick: &dyn Fn(&brimline::plan::Haul) -> bool| -> f64 {
            let its = h.hauls.iter().filter(|l| l.soil == model.soil && pick(l));
            its.map(|l| l.bank_m3).sum()
        };
        let dug: f64 = model.sources.iter().map(|s| s.bank_m3).sum();
        let from = of(&|l| model.sources.iter().any(|s| s.name == l.from));
        close_to(&format!("{what}: {} dug", model.soil), from, dug, 0.01);
        let placed: f64 = model.sinks.iter().map(|s| s.bank_m3).sum();
        let to = of(&|l| model.sinks.iter().any(|s| s.name == l.to));
        close_to(&format!("{what}: {} placed", model.soil), to, placed, 0.01);
    }
}

/// The commonest sequence: the pond is dug and the berm made of its soil, in one stage.
#[test]
fn a_pond_feeds_the_berm_of_its_stage() {
    let pile = "piles: [(name: \"heap\", along: [(24, 12)])]";
    let one = "sequence: [(name: \"all\", works: [\"pond\", \"berm\"])]";
    for (what, piles) in [("no pile", ""), ("a pile", pile)] {
        let rest = format!("{WAY_IN}, design: ({POND_AND_BERM}, {piles}), {LOADER}, {one}");
        let (_, h) = haul(&yard(|_, _| 100.0, &rest));
        all_is_carried(what, &h);
        let line = h.hauls.iter().find(|l| l.from == "pond" && l.to == "berm");
        let line = line.unwrap_or_else(|| panic!("{what}: the pond feeds the berm"));
        // From middle to middle over the ground that is dug: 8 m, and what squares lose.
        let far = line.distance_m.expect("a way");
        assert!((7.999..8.6).contains(&far), "{what}: {far}");
        assert_eq!(line.by, "loader", "{what}");
    }
    // Without a sequence berms come before basins: the berm's soil is brought in, the pond's goes off.
    let (_, h) = haul(&yard(
        |_, _| 100.0,
        &format!("{WAY_IN}, design: ({POND_AND_BERM}), {LOADER}"),
    ));
    all_is_carried("no sequence", &h);
    let brought = h.hauls.iter().any(|l| l.from == "street" && l.to == "berm");
    let away = h.hauls.iter().any(|l| l.from == "pond" && l.to == "street");
    assert!(brought && away, "{:#?}", h.hauls);
}

/// The same for a pit with upright sides, which nothing on wheels gets out of once it is dug.
#[test]
fn a_pit_feeds_the_berm_of_its_stage() {
    let pit = "pads: [(name: \"pit\", outline: [(8, 4), (16, 4), (16, 10), (8, 10)], elevation: 99, batter: 0)], \
        berms: [(name: \"berm\", line: [(4, 15), (20, 15)], crest: Above(0.3))]";
    let one = "sequence: [(name: \"all\", works: [\"pit\", \"berm\"])]";
    let (_, h) = haul(&yard(
        |_, _| 100.0,
        &format!("{WAY_IN}, design: ({pit}), {LOADER}, {one}"),
    ));
    all_is_carried("pit", &h);
    let hand = h.hauls.iter().filter(|l| l.by == "by hand").count();
    assert_eq!(hand, 0, "{:#?}", h.hauls);
}

/// A pond shut in all round by a keep-out: its soil stays, the list says so, and so does `check`.
#[test]
fn what_nobody_can_carry_stands_in_the_list() {
    let ring = "keep_outs: [(\"south\", [(5, 1), (19, 1), (19, 3), (5, 3)]), (\"north\", [(5, 11), (19, 11), (19, 13), (5, 13)]), \
        (\"west\", [(5, 2), (7, 2), (7, 12), (5, 12)]), (\"east\", [(17, 2), (19, 2), (19, 12), (17, 12)])]";
    let site = WAY_IN.replace("site: (", &format!("site: ({ring}, "));
    let rest = format!(
        "{site}, design: ({POND_AND_BERM}), {LOADER}, soil: (topsoil_depth: 0), \
        sequence: [(name: \"all\", works: [\"pond\", \"berm\"])]"
    );
    let job = yard(|_, _| 100.0, &rest);
    let (plan, h) = haul(&job);
    let error = |f: &brimline::findings::Finding| f.severity == Severity::Error;
    assert!(
        h.findings
            .iter()
            .any(|f| error(f) && f.what.contains("it has no way"))
    );
    let stays = h
        .uncarried
        .iter()
        .find(|u| u.from == "pond")
        .expect("stays");
    let model = &h.models[0];
    close_to(
        "all of the pond",
        stays.bank_m3,
        model.sources[0].bank_m3,
        1e-6,
    );
    let lacks = h.uncarried.iter().find(|u| u.to == "berm").expect("lacks");
    close_to(
        "all of the berm",
        lacks.bank_m3,
        model.sinks[0].bank_m3,
        1e-6,
    );
    assert!(!model.solved);
    let text = brimline::report::soil(&job, &plan, &[], &h, 100);
    for says in [
        "pond: nobody can take away",
        "berm: nobody can bring",
        "these sums are not of the whole job",
    ] {
        assert!(text.contains(says), "{says:?} in\n{text}");
    }
}

/// `check` tells of the haul too, by its exit status as well; `soil` only prints it.
#[test]
fn check_tells_what_is_wrong_with_the_haul() {
    // Fenced in as above; the pond is all there is.
    let text = "(name: \"fenced\", unit: Metre, field_book: (points: [(\"a\", 0, 0, 100), (\"b\", 30, 0, 100), \
        (\"c\", 30, 20, 100), (\"d\", 0, 20, 100)]), \
        site: (access: (line: [(29, 1), (25, 3)], width: 2.4), keep_outs: [ \
            (\"south\", [(5, 1), (19, 1), (19, 3), (5, 3)]), (\"north\", [(5, 11), (19, 11), (19, 13), (5, 13)]), \
            (\"west\", [(5, 2), (7, 2), (7, 12), (5, 12)]), (\"east\", [(17, 2), (19, 2), (19, 12), (17, 12)])]), \
        design: (basins: [(name: \"pond\", water: 99.85, outline: [(8, 4), (16, 4), (16, 10), (8, 10)], floor_depth: 0.75, \
            batter: 0.5, lining: [(\"liner\", 0.002)])]))";
    let path = std::env::temp_dir().join(format!("brimline-fenced-{}.ron", std::process::id()));
    std::fs::write(&path, text).expect("written");
    let name = path.to_str().expect("UTF-8");
    let (check, soil) = (brimline(["check", name]), brimline(["soil", name]));
    let _ = std::fs::remove_file(&path);
    for (what, out) in [("check", &check), ("soil", &soil)] {
        let says = String::from_utf8_lossy(&out.stdout);
        assert!(
            says.contains("ERROR    haul: nobody can carry"),
            "{what}: {says}"
        );
    }
    assert_eq!(
        (check.status.code(), soil.status.code()),
        (Some(1), Some(0))
    );
}

/// A gate of 0.5 m lets through neither loader nor barrow: what goes to the street is carried by hand.
/// Within the yard the barrow, which is lifted in, still serves.
#[test]
fn what_shuts_the_barrow_out_shuts_it_out_of_the_list() {
    let heap = "piles: [(name: \"heap\", of: Topsoil, along: [(24, 12)])]";
    let steps = WAY_IN.replace(
        "gates: [(\"gate\", 1, 1.2)]",
        "steps: [(\"steps\", 1, 0.5, 0.9)]",
    );
    for site in [WAY_IN.replace("1, 1.2", "1, 0.5"), steps] {
        let rest = format!("{site}, design: ({POND_AND_BERM}, {heap}), {LOADER}");
        let (plan, h) = haul(&yard(|_, _| 100.0, &rest));
        all_is_carried("gate", &h);
        let ways = &plan.access.as_ref().expect("a way in").machines;
        assert!(ways.iter().all(|w| w.shut_out), "{ways:#?}");
        for l in &h.hauls {
            let outside = l.from == "street" || l.to == "street";
            assert_eq!(l.by, if outside { "by hand" } else { "barrow" }, "{l:#?}");
        }
        let known = h.ways_in.iter().filter(|w| w.distance_m.is_some());
        assert_eq!(known.count(), 0);
    }
}

/// A truck does not wait for the next stage: three pits of 1.2 loads each are six trips.
#[test]
fn truck_loads_are_counted_stage_by_stage() {
    let pits = [2, 10, 20].map(|x| {
        format!(
            "(name: \"pit {x}\", outline: [({x}, 8), ({}, 8), ({}, 12), ({x}, 12)], elevation: 99.4, batter: 0)",
            x + 4,
            x + 4
        )
    });
    let stages = [2, 10, 20].map(|x| format!("(name: \"{x}\", works: [\"pit {x}\"])"));
    let rest = format!(
        "{WAY_IN}, design: (pads: [{}]), {LOADER}, soil: (topsoil_depth: 0, truck: \"10 m3\", truck_payload: \"100 ton\"), sequence: [{}]",
        pits.join(", "),
        stages.join(", ")
    );
    // 9.6 m³ bank, 12 m³ loose each.
    let (plan, h) = haul(&yard(|_, _| 100.0, &rest));
    assert_eq!(plan.ledger.out.loads, [6, 6, 6]);
    let truck = h.carriers.iter().find(|c| c.by == "truck").expect("truck");
    assert_eq!((truck.loads, truck.hours), (6, 6.0));
}

/// Topsoil goes back where the ground is bare, work by work, as much as its area says.
#[test]
fn topsoil_goes_back_on_bare_ground_work_by_work() {
    let rest = format!(
        "{WAY_IN}, design: ({POND_AND_BERM}, piles: [(name: \"heap\", of: Topsoil, along: [(26, 16)])]), \
         {LOADER}, soil: (topsoil_depth: 0.15, put_back: 0.05, strip_under_fills: true), \
         sequence: [(name: \"dig\", works: [\"pond\"]), (name: \"bank\", works: [\"berm\"])]"
    );
    let job = yard(|_, _| 100.0, &rest);
    let (plan, h) = haul(&job);
    all_is_carried("bare", &h);
    let pieces = brimline::ledger::bare::pieces(&job, &plan);
    let all: f64 = pieces.iter().map(|p| p.area_m2).sum();
    let sinks = &h
        .models
        .iter()
        .find(|m| m.soil == job.soil.topsoil.name)
        .expect("topsoil")
        .sinks;
    let back: f64 = sinks.iter().map(|s| s.bank_m3).sum();
    assert!(back > 0.0 && !pieces.is_empty());
    assert_eq!(sinks.len(), pieces.len());
    let probe = brimline::terrain::Probe::new(&plan.finished);
    for (sink, piece) in sinks.iter().zip(&pieces) {
        assert_eq!(sink.name, format!("bare ground: {}", piece.work));
        close_to(&sink.name, sink.bank_m3, back * piece.area_m2 / all, 1e-9);
        // On that work's own ground, and not in the pond.
        let by = probe
            .sound(sink.at.expect("a place"))
            .expect("ground")
            .made_by;
        let maker = &plan.makers[by as usize];
        assert_eq!(job.design.work_of(&maker.name), piece.work);
        assert!(
            maker.kind != Kind::Basin || maker.part == "bank",
            "{maker:?}"
        );
    }
}

/// A heap stands in the straight line from the pond to the street: ways lead round its foot, but for its
/// own, which end at its middle.
#[test]
fn ways_go_round_a_pile() {
    let piles = "piles: [(name: \"heap\", along: [(20, 6)])]";
    let rest = format!(
        "{WAY_IN}, design: ({POND_AND_BERM}, {piles}), {LOADER}, soil: (topsoil_depth: 0, truck: \"2 m3\"), \
         sequence: [(name: \"dig\", works: [\"pond\"]), (name: \"bank\", works: [\"berm\"])]"
    );
    let (plan, h) = haul(&yard(|_, _| 100.0, &rest));
    all_is_carried("pile", &h);
    let radius = (plan.piles[0].area_m2 / std::f64::consts::PI).sqrt();
    assert!(radius > 1.0, "a heap worth going round: {radius}");
    let (mut round, mut own) = (0, 0);
    for l in &h.hauls {
        if l.to == "heap" || l.from == "heap" {
            let end = if l.to == "heap" {
                l.path.last()
            } else {
                l.path.first()
            };
            assert_eq!(end, Some(&[20.0, 6.0]), "{l:#?}");
            own += 1;
            continue;
        }
        for w in l.path.windows(2) {
            for k in 0..=50 {
                let f = f64::from(k) / 50.0;
                let p = [0, 1].map(|i| w[0][i] + f * (w[1][i] - w[0][i]));
                let off = (p[0] - 20.0).hypot(p[1] - 6.0);
                // Half a loader and its clearance, less what squares lose.
                assert!(
                    off > radius + 0.45 - h.cell_m,
                    "{off}, foot at {radius}: {l:#?}"
                );
            }
        }
        round += 1;
    }
    assert!(round > 0 && own > 1, "{:#?}", h.hauls);
}

/// A heap comes to stand on the pad that was dug in its own stage: the pad's soil is carried all the same.
#[test]
fn what_comes_to_lie_under_a_pile_is_reached() {
    let design = "pads: [(name: \"bench\", outline: [(18, 10), (27, 10), (27, 18), (18, 18)], elevation: 99.8, batter: 1)], \
        piles: [(name: \"heap\", along: [(22.5, 14)])]";
    let works = POND_AND_BERM.replace("Above(0.3)", "Above(0.8)");
    let rest = format!(
        "{WAY_IN}, design: ({works}, {design}), {LOADER}, \
         sequence: [(name: \"dig\", works: [\"bench\", \"pond\"]), (name: \"bank\", works: [\"berm\"])]"
    );
    let (plan, h) = haul(&yard(|_, _| 100.0, &rest));
    assert_eq!(plan.piles[0].stands_on, ["bench"]);
    // Wider than a bucket reaches from its middle.
    assert!(plan.piles[0].area_m2 > std::f64::consts::PI * 2.5f64.powi(2));
    all_is_carried("bench", &h);
    assert!(
        h.hauls
            .iter()
            .all(|l| l.by == "loader" || l.by == "beside it")
    );
}

/// A patio between the pond and the way in: the list's loads cross it, and a finding says what to lay there.
#[test]
fn paving_beside_the_way_in_is_noticed() {
    let patio = "paving: [(\"patio\", [(18, -1), (22, -1), (22, 21), (18, 21)])]";
    let site = WAY_IN.replace("site: (", &format!("site: ({patio}, "));
    let rest = format!("{site}, design: ({POND_AND_BERM}), {LOADER}, soil: (topsoil_depth: 0)");
    let (plan, h) = haul(&yard(|_, _| 100.0, &rest));
    assert_eq!(plan.access.as_ref().expect("way in").boards, 0);
    let found = h.findings.iter().find(|f| f.what.contains("paving patio"));
    let found = found.unwrap_or_else(|| panic!("{:#?}", h.findings));
    // All that goes off and comes in; longest from (29, 1) to the berm's middle at (12, 15), 4 m of 17 across:
    // 5.2 m, three boards a track.
    let loads: u32 = h.hauls.iter().map(|l| l.loads).sum();
    assert!(
        found.what.starts_with(&format!("{loads} loads cross")),
        "{}",
        found.what
    );
    assert!(found.remedy.contains("6 of"), "{}", found.remedy);
    // Along the way in they are counted there.
    let along = site.replace("(29, 1), (25, 3)", "(29, 7), (12, 7)");
    let pond = POND_AND_BERM.split_once("berms").expect("two works").0;
    let rest = format!("{along}, design: ({pond}), {LOADER}, soil: (topsoil_depth: 0)");
    let (plan, h) = haul(&yard(|_, _| 100.0, &rest));
    assert!(plan.access.as_ref().expect("way in").boards > 0);
    let again = h.findings.iter().any(|f| f.what.contains("paving patio"));
    assert!(!again, "{:#?}", h.findings);
}

/// What runs through a house gets nowhere along it, what runs over unknown ground nobody knows how, and
/// planks rise.
#[test]
fn the_way_in_is_not_better_than_it_is() {
    let of = |site: &str| {
        let job = yard(|_, _| 100.0, &format!("site: ({site}), {LOADER}"));
        let plan = Plan::of(&job);
        let text = brimline::report::soil(&job, &plan, &[], &Haulage::default(), 80);
        (plan.access.clone().expect("a way in"), text)
    };
    let house = "holes: [(\"house\", [(10, 5), (14, 5), (14, 9), (10, 9)])], access: (line: [(29, 7), (5, 7)], width: 2.4)";
    let (route, text) = of(house);
    assert!(route.machines.iter().all(|w| !w.gets_in && !w.shut_out));
    assert!(
        text.contains("it runs through the footprint of house"),
        "{text}"
    );
    let (route, text) = of("access: (line: [(90, 7), (60, 7)], width: 2.4)");
    assert!(
        route
            .machines
            .iter()
            .all(|w| !w.gets_in && w.why.is_empty())
    );
    assert!(
        text.contains("not known: the ground along it is not"),
        "{text}"
    );
    let steps =
        "access: (line: [(29, 7), (5, 7)], width: 2.4, steps: [(\"steps\", 3, 0.3, 1.8, true)])";
    let (route, text) = of(steps);
    assert!(route.machines.iter().all(|w| w.gets_in));
    assert!(text.contains("planked, 17 %"), "{text}");
}

#[test]
fn access_names_the_narrow_the_steep_and_the_boards() {
    let rest = "site: (paving: [(\"terrace\", [(8, 8), (13, 8), (13, 12), (8, 12)])], \
        access: (line: [(0, 10), (28, 10)], width: 1.5, gates: [(\"gate\", 3, 0.9)], \
                 boards: (length: 2.4, width: 0.6, overlap: 0.1))), \
        haul: (machines: [(name: \"loader\", width: 1.0, gradient: 0.25)])";
    let plan = Plan::of(&yard(|x, _| (x - 20.0).clamp(0.0, 1.0) * 0.3, rest));
    let route = plan.access.clone().expect("a way in");
    close_to("narrowest", route.narrowest_m, 0.9, 1e-12);
    close_to(
        "gradient",
        route.gradient_max.expect("on the ground"),
        0.3,
        1e-9,
    );
    close_to("gradient at", route.gradient_along_m, 20.0, 1e-9);
    close_to("over paving", route.over_paving_m, 5.0, 1e-9);
    // 5 m: 2.4, 4.7, 7.0: three boards a track.
    assert_eq!(route.boards, 6);
    let says = |text: &str| plan.findings.iter().any(|f| f.what.contains(text));
    assert!(says("too narrow for loader") && says("too steep for loader"));
    assert!(!route.machines[0].gets_in);
}

fn soil_json(path: &str) -> serde_json::Value {
    serde_json::from_str(&printed(["soil", path, "--json"])).expect("JSON")
}

#[test]
fn the_demo_carries_all_that_it_digs() {
    let json = soil_json("surveys/demo.ron");
    for model in json["haul_models"].as_array().expect("models") {
        assert_eq!(model["solved"], true);
        let out: f64 = model["arcs"]
            .as_array()
            .expect("arcs")
            .iter()
            .filter(|a| ["direct", "to_pile", "off"].iter().any(|k| a["kind"] == *k))
            .map(|a| a["bank_m3"].as_f64().expect("flow"))
            .sum();
        let dug: f64 = model["sources"]
            .as_array()
            .expect("sources")
            .iter()
            .map(|s| s["bank_m3"].as_f64().expect("bank"))
            .sum();
        close_to("carried", out, dug, 1e-6 * dug.max(1.0));
    }
    // The ledger, which knows no ways, tells the same of every stage: what is dug, placed, put on piles or
    // taken from them, hauled off and brought in. Bank; the list leaves out lines of less than a litre.
    for stage in json["stages"].as_array().expect("stages") {
        let name = &stage["name"];
        let of = |deeds: &[&str]| -> f64 {
            let entries = stage["entries"].as_array().expect("entries").iter();
            let its = entries.filter(|e| deeds.iter().any(|d| e["deed"] == *d));
            its.map(|e| e["bank_m3"].as_f64().expect("bank")).sum()
        };
        let pile = |v: &serde_json::Value| v.as_str().is_some_and(|v| v.ends_with("heap"));
        let carried = |pick: &dyn Fn(&serde_json::Value, &serde_json::Value) -> bool| -> f64 {
            let lines = json["haul"].as_array().expect("list").iter();
            let its = lines.filter(|h| h["stage"] == *name && pick(&h["from"], &h["to"]));
            its.map(|h| h["bank_m3"].as_f64().expect("bank")).sum()
        };
        let same = |what: &str, list: f64, ledger: f64| {
            close_to(&format!("{name}: {what}"), list, ledger, 0.01);
        };
        let street = |v: &serde_json::Value| v == "street";
        same("off", carried(&|_, to| street(to)), of(&["hauled_off"]));
        same("in", carried(&|from, _| street(from)), of(&["brought_in"]));
        same(
            "dug",
            carried(&|from, _| !pile(from) && !street(from)),
            of(&["dug", "redug"]),
        );
        same(
            "placed",
            carried(&|_, to| !pile(to) && !street(to)),
            of(&["placed"]),
        );
        same(
            "onto piles less off them",
            carried(&|_, to| pile(to)) - carried(&|from, _| pile(from)),
            of(&["piled"]) - of(&["unpiled"]),
        );
    }
    let carriers = json["carriers"].as_array().expect("sums");
    let truck = carriers
        .iter()
        .find(|c| c["by"] == "truck")
        .expect("a truck");
    close_to(
        "hauled off",
        truck["loose_m3"].as_f64().expect("loose"),
        json["hauled_off"]["loose_m3"][1].as_f64().expect("loose"),
        1e-6,
    );
    assert_eq!(truck["loads"], json["hauled_off"]["loads"][1]);
    assert!(json["ramp"]["compacted_m3"].as_f64().expect("ramp") > 0.0);
    assert!(json["ramp_found"]["saving_m3"].as_f64().expect("saving") >= -1e-6);
    assert!(json["access"]["narrowest_m"].as_f64().expect("width") > 0.0);
    assert!(!json["haul"].as_array().expect("list").is_empty());
}

/// A yard without a way in and without room for a pile says so, and prints no distance that nobody knows.
#[test]
fn what_has_no_place_has_no_distance() {
    let (_, h) = haul(&yard(
        |_, _| 100.0,
        "design: (pads: [(name: \"pit\", outline: [(1, 1), (29, 1), (29, 19), (1, 19)], elevation: 99.5, batter: 0)]), \
         soil: (topsoil_depth: 0.1), sequence: [(name: \"all\", works: [\"pit\"])]",
    ));
    let to_pile = h.hauls.iter().find(|l| l.to == "topsoil pile");
    let off = h.hauls.iter().find(|l| l.to == "street");
    for line in [to_pile.expect("topsoil"), off.expect("the rest")] {
        assert!(line.distance_m.is_none() && !line.hours.is_finite());
    }
    assert!(h.carriers.iter().any(|c| c.by == "barrow" && !c.all_known));
    let says = |text: &str| h.findings.iter().any(|f| f.what.contains(text));
    assert!(says("has no place") && says("the way from the street is not known"));
}

/// A tree between the two ends of a ramp: the line found keeps off its roots, and off a pad dug later.
#[test]
fn a_ramp_found_keeps_off_roots_and_later_works() {
    let rest = "site: (trees: [(\"oak\", (12, 10), \"0.2 m\", 1.5)]), \
        design: (pads: [(name: \"pit\", outline: [(17, 9), (19, 9), (19, 14), (17, 14)], elevation: 0.2, batter: 0)], \
                 ramps: [(name: \"ramp\", line: [(5, 10), (25, 10)], width: 2, gradient: 0.2, batter: 1.5)]), \
        haul: (ramp: (radius: 2)), \
        sequence: [(name: \"a\", works: [\"ramp\"]), (name: \"b\", works: [\"pit\"], take_back: [\"ramp\"])]";
    let (_, h) = haul(&yard(|x, _| 0.1 * x, rest));
    let found = h.found.expect("a ramp").found;
    for w in found.line.windows(2) {
        for s in 0..=100 {
            let f = f64::from(s) / 100.0;
            let p = [0, 1].map(|k| w[0][k] + f * (w[1][k] - w[0][k]));
            let tree = (p[0] - 12.0).hypot(p[1] - 10.0);
            // Half its width off the roots and off the pit; the ring of roots is a polygon.
            assert!(tree > 1.5 + 1.0 - 0.1, "{p:?} is {tree} from the tree");
            let off = |v: f64, low: f64, high: f64| (low - v).max(v - high).max(0.0);
            let pit = off(p[0], 17.0, 19.0).hypot(off(p[1], 9.0, 14.0));
            assert!(pit > 1.0 - 0.1, "{p:?} is {pit} from the pit");
        }
    }
    // A metre of way is worth 0.02 m³ (LENGTH in the search); past both there is a way of less than 22 m
    // that needs no soil: (5, 10), (12, 7), (18, 7), (25, 10) with its bends.
    let worth = found.compacted_m3 + 0.02 * found.length_m;
    assert!(worth < 0.02 * 22.0, "{worth}");
}

/// A search given up early says so: beside a ramp that was found anyway, and where there is none.
#[test]
fn a_search_cut_short_says_so() {
    let said = |rest: &str, most: usize| {
        let job = yard(|x, _| (x - 15.0).clamp(0.0, 1.0), rest);
        let h = brimline::haul::find::ramps_within(&job, &Plan::of(&job), most);
        let notes = h.findings.iter().filter(|f| f.place == "ramp found");
        let notes: Vec<String> = notes.map(|f| f.what.clone()).collect();
        (h.found.is_some(), notes.join("; "))
    };
    let (found, what) = said(RAMP, 3_000_000);
    assert!(found && what.is_empty(), "{what}");
    // The straight line between the two ends is tried first, without a search.
    let (found, what) = said(RAMP, 10);
    assert!(found, "{what}");
    assert_eq!(
        what,
        "the search was cut short: there may be a line that needs less soil"
    );
    // A keep-out across that line: round it there is one, for whoever seeks long enough.
    let rest = "site: (keep_outs: [(\"bed\", [(9, 8), (11, 8), (11, 12), (9, 12)])]), \
        haul: (ramp: (from: (5, 10), to: (25, 10), radius: 2))";
    let (found, what) = said(rest, 3_000_000);
    assert!(found && what.is_empty(), "{what}");
    let (found, what) = said(rest, 10);
    assert!(!found);
    assert_eq!(
        what,
        "the search was cut short before any line was found; there may be one"
    );
    // Where the end itself is kept clear nothing was cut short, however small the limit.
    let rest = rest.replace(
        "(9, 8), (11, 8), (11, 12), (9, 12)",
        "(24, 9), (26, 9), (26, 11), (24, 11)",
    );
    let (found, what) = said(&rest, 10);
    assert!(
        !found && what.starts_with("an end of it lies in a keep-out"),
        "{what}"
    );
}

/// A machine's hours in a stage are shared by all soils; what it has no time for goes by barrow.
#[test]
fn hours_of_a_stage_are_not_spent_twice() {
    let text = include_str!("../surveys/demo.ron");
    let short = text.replace("radius: \"5 ft\",", "radius: \"5 ft\", hours: 1,");
    assert_ne!(short, text);
    let (_, h) = haul(&job(&short));
    let stages = h.models[0].stages.len();
    for stage in 0..stages {
        let arcs = h.models.iter().flat_map(|m| &m.arcs);
        let its = arcs.filter(|a| a.stage == stage && a.by == 0);
        let used: f64 = its.map(|a| a.hours_per_m3 * a.bank_m3).sum();
        assert!(used < 1.0 + 1e-6, "stage {stage}: {used} h");
    }
    let by = |who: &str| h.carriers.iter().any(|c| c.by == who);
    assert!(by("mini loader") && by("barrow"));
}

/// A gate too narrow for the machine keeps it out of everything behind it, whatever the ground allows.
#[test]
fn a_narrow_gate_leaves_the_barrow() {
    let text = include_str!("../surveys/demo.ron");
    let narrow = text.replace(
        "(\"street gate\", 1.5, \"4 ft\")",
        "(\"street gate\", 1.5, \"3 ft\")",
    );
    assert_ne!(narrow, text);
    let (plan, h) = haul(&job(&narrow));
    assert!(
        plan.findings
            .iter()
            .any(|f| f.what.contains("too narrow for mini loader"))
    );
    assert!(h.carriers.iter().all(|c| c.by != "mini loader"));
    let way = h.ways_in.iter().find(|w| w.by == "mini loader");
    assert!(way.is_some_and(|w| w.distance_m.is_none()));
}

/// The least haul along a line is the area between the mass-haul diagram and its base line: highway
/// texts and US Army FM 5-434, mass diagrams (from memory).
#[test]
fn least_haul_along_a_line_is_the_area_of_its_mass_diagram() {
    let mut r = Random::new(11);
    for round in 0..40 {
        // Stations in order: where each lies (m), and what it digs or, below nothing, fills (m³ bank).
        let mut stations: Vec<(f64, f64)> = Vec::new();
        let (mut x, mut mass) = (0.0, 0.0);
        for _ in 0..3 + r.below(6) {
            x += 2.0 + r.below(20) as f64;
            let moved = r.below(19) as f64 - 9.0;
            mass += moved;
            stations.push((x, moved));
        }
        stations.push((x + 7.0, -mass));
        let (mut area, mut carried) = (0.0, 0.0f64);
        for w in stations.windows(2) {
            carried += w[0].1;
            area += carried.abs() * (w[1].0 - w[0].0);
        }
        let ends = |sign: f64| -> Vec<(f64, Node)> {
            let here = stations.iter().filter(|s| sign * s.1 > 0.0);
            here.map(|s| (s.0, node("station", 0, 0, sign * s.1)))
                .collect()
        };
        let (digs, fills) = (ends(1.0), ends(-1.0));
        let mut m = HaulModel {
            stages: vec!["all".into()],
            carriers: vec!["loader".into()],
            hours: vec![None],
            sources: digs.iter().map(|d| d.1.clone()).collect(),
            sinks: fills.iter().map(|f| f.1.clone()).collect(),
            ..HaulModel::default()
        };
        for (i, dig) in digs.iter().enumerate() {
            for (k, fill) in fills.iter().enumerate() {
                m.arcs.push(Arc {
                    kind: ArcKind::Direct,
                    from: i,
                    to: k,
                    stage: 0,
                    by: 0,
                    cost_per_m3: (dig.0 - fill.0).abs(),
                    hours_per_m3: 1.0,
                    bank_m3: 0.0,
                    way: 0,
                });
            }
        }
        assert!(
            solve(std::slice::from_mut(&mut m)),
            "round {round}: not solved"
        );
        let haul: f64 = m.arcs.iter().map(|a| a.bank_m3 * a.cost_per_m3).sum();
        close_to(&format!("round {round}, m³·m"), haul, area, 1e-6);
    }
}

/// Ramps over rough ground, built as they were found and driven over: no wheel climbs more than the limit
/// over the quarter of a metre it stands on, on ramp or ground or from one to the other. Measured on the
/// dug surface of a job that has the found ramp in it, by other code than the one that found it.
#[test]
fn tracks_of_a_ramp_found_keep_to_the_gradient_over_rough_ground() {
    let limit = 0.2;
    let mut found_some = 0;
    for seed in 0..2u64 {
        for (slope, rough, step) in [(0.1, 0.06, 0.0), (0.05, 0.12, 0.0), (0.0, 0.08, 1.0)] {
            let bumps = || {
                let mut r = Random::new(100 + seed);
                let bumps: Vec<f64> = (0..31 * 21)
                    .map(|_| rough * (r.below(2001) as f64 / 1000.0 - 1.0))
                    .collect();
                move |x: f64, y: f64| {
                    let bump = bumps[(x as usize) * 21 + y as usize];
                    100.0 + slope * x + bump + if x > 14.5 { step } else { 0.0 }
                }
            };
            let machine = "haul: (machines: [(name: \"loader\", width: 1.2, gauge: 1, radius: 2)])";
            let (_, h) = haul(&yard(bumps(), &format!("{machine}, {RAMP}")));
            let Some(found) = h.found.map(|f| f.found) else {
                continue;
            };
            found_some += 1;
            let what = format!("seed {seed}, slope {slope}, rough {rough}, step {step}");
            // Each built stretch is a ramp of its own.
            let mut ramps = String::new();
            let mut k = 0;
            while k < found.on_ground.len() {
                let built = found.on_ground[k..].iter().take_while(|g| !**g).count();
                if built > 0 {
                    let points = &found.line[k..=k + built];
                    let at: Vec<String> = points
                        .iter()
                        .map(|p| format!("({:.9}, {:.9})", p[0], p[1]))
                        .collect();
                    let z: Vec<String> = points.iter().map(|p| format!("{:.9}", p[2])).collect();
                    ramps.push_str(&format!(
                        "(name: \"r{k}\", line: [{}], width: 2, gradient: 0.2, batter: 1.5, profile: [{}]), ",
                        at.join(", "),
                        z.join(", ")
                    ));
                }
                k += built.max(1);
            }
            let plan = Plan::of(&yard(bumps(), &format!("design: (ramps: [{ramps}])")));
            let placed: f64 = plan
                .volumes
                .by_feature
                .iter()
                .map(|v| v.fill_compacted_m3)
                .sum();
            close_to(
                &format!("{what}: soil"),
                placed,
                found.compacted_m3,
                0.02 + 0.01 * placed,
            );
            let probe = brimline::terrain::Probe::new(&plan.dug);
            let mut steepest = (0.0, [0.0; 2]);
            for w in found.line.windows(2) {
                let (a, b) = ([w[0][0], w[0][1]], [w[1][0], w[1][1]]);
                let length = (b[0] - a[0]).hypot(b[1] - a[1]);
                let u = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
                // Both wheels of each straight stretch; at bends, where the stretches meet, an inner wheel
                // has its own way, which is not this one's.
                for side in [-0.5, 0.5] {
                    let z = |l: f64| {
                        let p = [a[0] + l * u[0] - side * u[1], a[1] + l * u[1] + side * u[0]];
                        probe.sound(p).map(|s| (s.elevation, p))
                    };
                    for s in 0..((length - 0.25) / 0.02).max(0.0) as usize {
                        let l = 0.02 * s as f64;
                        let (Some((z0, _)), Some((z1, p))) = (z(l), z(l + 0.25)) else {
                            continue;
                        };
                        let g = (z1 - z0).abs() / 0.25;
                        if g > steepest.0 {
                            steepest = (g, p);
                        }
                    }
                }
            }
            assert!(
                steepest.0 <= limit + 0.001,
                "{what}: {:.4} at {:?}; said to be {:.4}",
                steepest.0,
                steepest.1,
                found.track_gradient_max
            );
            assert!(found.track_gradient_max <= limit + 0.001, "{what}");
            assert!(found.gradient_max <= limit + 0.001, "{what}: crown line");
        }
    }
    assert!(found_some >= 5, "only {found_some} of 6 found");
}

/// Of ways that cost the same, a work's own soil goes back to it: the trench's, not that of another beside,
/// whatever the two are called.
#[test]
fn a_work_gets_its_own_soil_back_where_that_costs_no_more() {
    for own_first in [true, false] {
        let names = if own_first {
            ["run: low", "run"]
        } else {
            ["run", "run: low"]
        };
        let refill = Node {
            work: "run: low".into(),
            ..node("run: low: refill", 0, 2, 3.0)
        };
        let mut m = HaulModel {
            stages: vec!["a".into()],
            carriers: vec!["barrow".into()],
            hours: vec![None],
            sources: vec![node(names[0], 0, 0, 3.0), node(names[1], 0, 1, 3.0)],
            sinks: vec![refill],
            piles: vec![node("heap", 0, 0, 0.0)],
            keeps: true,
            ..HaulModel::default()
        };
        for (kind, cost) in [(ArcKind::Direct, 0.0), (ArcKind::ToPile, 0.25)] {
            for from in 0..2 {
                m.arcs.push(Arc {
                    kind,
                    from,
                    to: 0,
                    stage: 0,
                    by: 0,
                    cost_per_m3: cost,
                    hours_per_m3: cost,
                    bank_m3: 0.0,
                    way: 0,
                });
            }
        }
        assert!(solve(std::slice::from_mut(&mut m)));
        let own = usize::from(!own_first);
        close_to("own soil", m.arcs[own].bank_m3, 3.0, 1e-9);
        close_to("cost", m.cost, 0.75, 1e-9);
    }
}

/// A pond with its floor 1.5 m down is dug first; then a ramp leads in, a sump is dug from its floor, and
/// the ramp comes out again. The loader does it all.
#[test]
fn a_ramp_leads_into_a_pond_that_is_dug() {
    let design = "basins: [(name: \"pond\", water: 99.9, outline: [(6, 5), (18, 5), (18, 15), (6, 15)], \
             floor_depth: 1.5, batter: 0.5, lining: [(\"liner\", 0.002)])], \
         pads: [(name: \"sump\", outline: [(8, 9), (9.5, 9), (9.5, 11), (8, 11)], elevation: 98, batter: 0.2)], \
         ramps: [(name: \"way in\", line: [(18.3, 10), (10.5, 10)], width: 2, gradient: 0.25, batter: 1, profile: [100, 98.398])], \
         piles: [(name: \"heap\", along: [(24, 16)])]";
    let rest = format!(
        "{WAY_IN}, design: ({design}), {LOADER}, soil: (topsoil_depth: 0), \
         sequence: [(name: \"dig\", works: [\"pond\"]), (name: \"in\", works: [\"way in\"]), \
             (name: \"sump\", works: [\"sump\"]), (name: \"out\", take_back: [\"way in\"])]"
    );
    let (_, h) = haul(&yard(|_, _| 100.0, &rest));
    let lost: Vec<_> = h
        .findings
        .iter()
        .filter(|f| f.what.contains("nobody gets there"))
        .collect();
    assert!(lost.is_empty(), "{lost:#?}");
    all_is_carried("into the pond", &h);
    for stage in ["in", "sump", "out"] {
        let its: Vec<_> = h.hauls.iter().filter(|l| l.stage == stage).collect();
        assert!(!its.is_empty(), "{stage}");
        for l in its {
            assert_eq!(l.by, "loader", "{l:#?}");
            assert!(l.gradient_max <= 0.25 + 1e-9, "{l:#?}");
        }
    }
}

/// A keep-out from edge to edge of the yard between the two ends: there is no way, and that is said long
/// before all heights at all places are looked at. So is that nothing comes down to the foot of a shaft.
#[test]
fn a_search_without_a_way_is_soon_over() {
    let said = |z: &dyn Fn(f64, f64) -> f64, rest: &str| {
        let job = yard(z, rest);
        let plan = Plan::of(&job);
        let h = brimline::haul::find::ramps_within(&job, &plan, 60_000);
        let notes = h.findings.iter().filter(|f| f.place == "ramp found");
        assert!(h.found.is_none());
        notes.map(|f| f.what.clone()).collect::<Vec<_>>().join("; ")
    };
    let belt = "site: (keep_outs: [(\"belt\", [(14, -1), (16, -1), (16, 21), (14, 21)])]), \
        haul: (ramp: (from: (5, 10), to: (25, 10), radius: 1.5))";
    let what = said(&|x, _| 0.1 * x, belt);
    assert!(what.starts_with("no line between"), "{what}");
    // 3 m deep, 5 m by 5 m, with sides of 1 in 0.5: filling alone makes no way down into it.
    let shaft = |x: f64, y: f64| {
        let out = (x - 22.0).abs().max((y - 10.0).abs());
        -(5.0 - 2.0 * (out - 1.0)).clamp(0.0, 3.0)
    };
    let into = "haul: (ramp: (from: (5, 10), to: (22, 10), radius: 1.5))";
    let what = said(&shaft, into);
    assert!(what.starts_with("no line between"), "{what}");
}

/// A ramp whose head stands in the air says so, whatever its gradient; one that meets the ground does not.
#[test]
fn a_ramp_that_ends_in_the_air_is_told() {
    for (profile, told) in [
        ("[100, 101]", Some("ends 1.000 m over the ground")),
        ("[100.4, 100]", Some("begins 0.400 m over the ground")),
        ("[100, 100]", None),
    ] {
        let rest = format!(
            "design: (ramps: [(name: \"way\", line: [(5, 10), (15, 10)], width: 2, gradient: 0.25, profile: {profile})])"
        );
        let plan = Plan::of(&yard(|_, _| 100.0, &rest));
        let said: Vec<&str> = plan
            .findings
            .iter()
            .filter(|f| f.place == "ramp way" && f.what.contains("over the ground"))
            .map(|f| f.what.as_str())
            .collect();
        match told {
            Some(what) => assert!(said.len() == 1 && said[0].starts_with(what), "{said:?}"),
            None => assert!(said.is_empty(), "{said:?}"),
        }
    }
}

/// A course over a rounded crest and a sag, looked at every 5 cm, with a bend in plan: few stakes are left,
/// nothing between them lies lower than needed or 3 cm over it, nothing is steeper, both ends are as they were.
#[test]
fn a_course_is_staked_at_few_places() {
    use brimline::haul::profile::few_stakes;
    use brimline::haul::ramp::Course;
    let n = 241;
    let bend = 120;
    let line: Vec<[f64; 3]> = (0..n)
        .map(|k| {
            let s = 0.05 * k as f64;
            // Steepest in the middle of either half: 2 π 0.15 / 6 = 0.157.
            let z = 0.15 * (std::f64::consts::TAU * s / 6.0).sin();
            let on = s.min(6.0);
            [on, s - on, z]
        })
        .collect();
    let mut bare = vec![false; n - 1];
    bare[n - 11..].fill(true);
    let course = Course {
        line: line.clone(),
        bends: vec![false; n - 1],
        bare,
        fades: true,
    };
    let few = few_stakes(&course, 0.2).expect("a course");
    let built = few.bare.iter().filter(|b| !**b).count();
    assert!(built < 20, "{built} stretches of {}", n - 11);
    assert!(
        few.line.iter().any(|p| p[..2] == line[bend][..2]),
        "the bend"
    );
    assert_eq!(few.line.first(), line.first());
    assert_eq!(few.line.last(), line.last());
    assert!(
        few.line.contains(&line[n - 11]),
        "where the built part ends"
    );
    let along = |p: &[f64; 3]| p[0] + p[1];
    for (w, _) in few.line.windows(2).zip(&few.bare).filter(|(_, b)| !**b) {
        let (a, b) = (along(&w[0]), along(&w[1]));
        let slope = (w[1][2] - w[0][2]) / (b - a);
        assert!(slope.abs() <= 0.2 + 1e-9, "{slope}");
        for p in line.iter().filter(|p| (a..=b).contains(&along(p))) {
            let over = w[0][2] + slope * (along(p) - a) - p[2];
            assert!(
                (-2e-4..0.03 + 1e-9).contains(&over),
                "{over} at {}",
                along(p)
            );
        }
    }
}

/// A yard of 40 m by 30 m, flat but for what is done in it.
fn flat_yard(rest: &str) -> Job {
    let corners =
        "(\"a\", 0, 0, 100), (\"b\", 40, 0, 100), (\"c\", 40, 30, 100), (\"d\", 0, 30, 100)";
    job(&format!(
        "(name: \"flat\", unit: Metre, field_book: (points: [{corners}]), soil: (topsoil_depth: 0), \
         sequence: [(name: \"dig\", works: [\"hole\"]), (name: \"bank\", works: [\"screen\"])], \
         haul: (machines: [(name: \"loader\", width: 0.9)]), {rest})"
    ))
}

const HOLE: &str = "pads: [(name: \"hole\", outline: [(24, 24), (29, 24), (29, 29), (24, 29)], elevation: 99.4, batter: 0)], \
     berms: [(name: \"screen\", line: [(6, 4), (16, 4)], crest: Above(0.6), crest_width: 0.6, batter: 2)]";

/// Between a house and a keep-out goes what has half a metre more room than it is wide, wherever the squares
/// of the yard lie; through what is narrower than it, nobody goes.
#[test]
fn a_passage_is_found_where_it_is_wide_enough() {
    let through = |width: f64, off: f64| {
        let (left, right) = (20.0 + off, 20.0 + off + width);
        let rest = format!(
            "site: (access: (line: [(20, 0), (20, 2)], width: 3), \
                    holes: [(\"house\", [(0.5, 13), ({left}, 13), ({left}, 17), (0.5, 17)])], \
                    keep_outs: [(\"hedge\", [(-1, 13), (1, 13), (1, 17), (-1, 17)]), (\"oak\", [({right}, 13), (41, 13), (41, 17), ({right}, 17)])]), \
             design: ({HOLE})"
        );
        let (_, h) = haul(&flat_yard(&rest));
        let by = h.hauls.iter().find(|l| l.to == "screen");
        by.map_or(String::new(), |l| l.by.clone())
    };
    let loader = 0.9 + 2.0 * 0.1;
    for off in [0.0, 0.07, 0.13, 0.21, 0.29, 0.37, 0.45] {
        let job = flat_yard(&format!("design: ({HOLE})"));
        assert!(job.haul.clearance <= 0.1 + 1e-9, "{}", job.haul.clearance);
        assert_eq!(through(loader + 0.5, off), "loader", "{off}");
        assert_ne!(through(0.8, off), "loader", "{off}");
    }
}

/// A ridge that is long along a house is not reached through it.
#[test]
fn nobody_reaches_through_a_house() {
    let carried = |house: &str| {
        let rest = format!(
            "site: (access: (line: [(20, 0), (20, 2)], width: 3){house}), \
             design: ({HOLE}, piles: [(name: \"ridge\", along: [(8, 20), (33, 20)])])"
        );
        let (_, h) = haul(&flat_yard(&rest));
        let from = h.hauls.iter().filter(|l| l.to == "screen");
        (from.map(|l| l.bank_m3).sum::<f64>(), h.findings)
    };
    assert!(carried("").0 > 1.0);
    // From edge to edge of the yard.
    let (soil, findings) =
        carried(", holes: [(\"house\", [(-1, 12), (41, 12), (41, 16), (-1, 16)])]");
    close_to("through the house", soil, 0.0, 1e-9);
    assert!(
        findings.iter().any(|f| f.what.contains("nobody")),
        "{findings:?}"
    );
}

/// The least that a ring keeps off the built and driven strip of a found ramp.
fn strip_is_clear(line: &[[f64; 3]], half: f64, rings: &[Vec<[f64; 2]>]) {
    for w in line.windows(2) {
        for s in 0..=200 {
            let f = f64::from(s) / 200.0;
            let p = [0, 1].map(|k| w[0][k] + f * (w[1][k] - w[0][k]));
            for ring in rings {
                let mut a = ring[ring.len() - 1];
                for &b in ring {
                    let off = brimline::terrain::predicates::from_line(p, a, b);
                    assert!(off > half - 1e-3, "{off} beside {a:?} {b:?} at {p:?}");
                    a = b;
                }
            }
        }
    }
}

/// What is thinner than the places that are looked at across a ramp is kept clear of all the same.
#[test]
fn a_ramp_found_keeps_clear_of_posts_and_fences() {
    let post = vec![[14.6, 10.1], [14.9, 10.1], [14.9, 10.4], [14.6, 10.4]];
    let fence = vec![[9.0, 10.15], [21.0, 10.15], [21.0, 10.17], [9.0, 10.17]];
    let across = vec![[15.0, 4.0], [15.02, 4.0], [15.02, 14.0], [15.0, 14.0]];
    for ring in [post, fence, across] {
        let corners: Vec<String> = ring
            .iter()
            .map(|p| format!("({}, {})", p[0], p[1]))
            .collect();
        let rest = format!(
            "site: (keep_outs: [(\"thin\", [{}])]), {RAMP}",
            corners.join(", ")
        );
        let (_, h) = haul(&yard(|_, _| 100.0, &rest));
        let found = h.found.expect("a way round");
        strip_is_clear(&found.found.line, 1.0, &[ring]);
    }
}

/// An end in the root zone of a tree opens the zone, not the trunk.
#[test]
fn a_ramp_found_goes_round_a_trunk() {
    let rest = "site: (trees: [(name: \"oak\", at: (7, 10), trunk: 0.6, radius: 4)]), \
                haul: (ramp: (from: (5, 10), to: (25, 10), width: 2))";
    let (_, h) = haul(&yard(|_, _| 100.0, rest));
    let trunk = [[6.7, 10.0], [7.0, 9.7], [7.3, 10.0], [7.0, 10.3]];
    strip_is_clear(
        &h.found.expect("a way round").found.line,
        1.0,
        &[trunk.to_vec()],
    );
}

/// A ramp without a profile into a pit that an earlier stage dug: its own figures and those of the ledger are
/// of the same ramp.
#[test]
fn a_later_ramp_ends_on_what_was_dug() {
    let rest = "design: (pads: [(name: \"pit\", outline: [(20, 6), (28, 6), (28, 14), (20, 14)], elevation: 99, batter: 0)], \
         ramps: [(name: \"ramp\", line: [(8, 10), (24, 10)], width: 2, gradient: 0.2, batter: 1.5)]), \
         sequence: [(name: \"a\", works: [\"pit\"]), (name: \"b\", works: [\"ramp\"])]";
    let (plan, h) = haul(&yard(|_, _| 100.0, rest));
    let built = plan.volumes.by_feature.iter().find(|v| v.name == "ramp");
    let built = built.expect("the ramp").fill_compacted_m3;
    close_to("the same soil", h.ramps[0].compacted_m3, built, 1e-9);
    close_to(
        "down a metre in 16",
        h.ramps[0].gradient_max,
        1.0 / 16.0,
        1e-9,
    );
}

/// Why no line was sought, or what is not as asked for, is said in so many words.
#[test]
fn what_is_asked_of_a_ramp_in_vain_is_said() {
    let said = |rest: &str| {
        let (_, h) = haul(&yard(|_, _| 100.0, rest));
        let its = h.findings.iter().filter(|f| f.place == "ramp found");
        its.map(|f| f.what.clone()).collect::<Vec<_>>().join("; ")
    };
    for (ramp, wanted) in [
        (
            "from: (5, 10), to: (25, 10), to_level: 98",
            "ends at the ground, 2.000 m over the height given",
        ),
        (
            "from: (5, 10), to: (25, 10), to_level: 100.5",
            "ends 0.500 m over the ground",
        ),
        (
            "from: (5, 10), to: (5, 10)",
            "both its ends are the same place",
        ),
        ("from: (5, 10), to: (45, 10)", "beyond the surveyed ground"),
        ("from: (5, 10)", "only one of its ends is given"),
    ] {
        let what = said(&format!("haul: (ramp: ({ramp}))"));
        assert!(what.contains(wanted), "{ramp}: {what}");
    }
    let rest = "haul: (machines: [(name: \"wide\", width: 3.4)], ramp: (from: (5, 10), to: (25, 10), width: 2))";
    assert!(
        said(rest).contains("is 2.000 m wide, wide is 3.400 m"),
        "{}",
        said(rest)
    );
    // Soil held against a keep-out.
    let rest = "site: (keep_outs: [(\"left\", [(3, 11.05), (27, 11.05), (27, 14), (3, 14)])]), \
                haul: (ramp: (from: (5, 10), to: (25, 10), from_level: 100, to_level: 101.5, width: 2))";
    assert!(said(rest).contains("the keep-out left"), "{}", said(rest));
}

/// What leaves the site from a pile when a stage begins is listed first in it: the ramp still stands then.
#[test]
fn what_leaves_a_pile_is_listed_before_the_ramp_is_taken_out() {
    let (_, demo) = Document::parse("demo", include_str!("../surveys/demo.ron")).expect("the demo");
    let (_, h) = haul(&demo);
    let leave: Vec<_> = h.hauls.iter().filter(|l| l.stage == "leave").collect();
    let place = |from: &str, to: &str| {
        let found = leave.iter().position(|l| l.from == from && l.to == to);
        found.unwrap_or_else(|| panic!("{from} to {to}"))
    };
    let street = &leave
        .iter()
        .find(|l| l.from == "spoil heap")
        .expect("spoil")
        .to;
    assert!(place("spoil heap", street) < place("haul ramp: taken back", street));
}

/// A wedge on level ground that ends in the air, sides and end at their batter, however steep it climbs:
/// (w h²/2 + b h³/3) / g under the top and beside it, w b h²/2 + b² (2 + g b) h³/3 at the high end.
#[test]
fn a_free_wedge_is_whole_at_any_gradient() {
    for (g, b, h) in [
        (0.2, 1.5, 0.5),
        (0.2, 9.9, 0.25),
        (0.2, 10.1, 0.25),
        (2.0, 0.9, 1.0),
        (2.0, 1.5, 1.0),
    ] {
        let w = 2.0;
        let end = 12.0 + h / g;
        let rest = format!(
            "design: (ramps: [(name: \"ramp\", line: [(12, 10), ({end}, 10)], width: {w}, gradient: {g}, \
             batter: {b}, profile: [100, {}])])",
            100.0 + h
        );
        let (plan, _) = haul(&yard(|_, _| 100.0, &rest));
        let built = plan.volumes.by_feature.iter().find(|v| v.name == "ramp");
        let wedge = (0.5 * w * h * h + b * h * h * h / 3.0) / g
            + 0.5 * w * b * h * h
            + b * b * (2.0 + g * b) * h * h * h / 3.0;
        let fill = built.expect("the ramp").fill_compacted_m3;
        close_to(
            &format!("gradient {g}, batter {b}"),
            fill,
            wedge,
            1e-9 * wedge,
        );
    }
}

/// Faces given by coordinates say nothing of the foot of a standing wall: the ground at its corners does.
#[test]
fn a_wall_without_shots_stands_on_the_ground() {
    let rest = "site: (walls: [(name: \"old\", left: [(9, 10.4), (21, 10.4)], right: [(9, 10), (21, 10)], cap: 102.5)])";
    let plan = Plan::of(&yard(|x, _| 100.0 + 0.01 * x, rest));
    let wall = plan.solids.iter().find(|s| s.name == "old").expect("it");
    close_to("its foot", wall.base, 100.09, 1e-9);
    close_to("its cap", wall.cap, 102.5, 1e-9);
}
