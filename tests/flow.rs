//! What the water does: spills against another way of finding them, ways of the water, storage and
//! pumps against known answers, and jobs that contradict themselves. Every yard is invented.

mod common;

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use brimline::findings::Severity;
use brimline::job::{Document, Job};
use brimline::plan::{End, FlowIs, Plan};
use brimline::terrain::{Probe, Surface};
use brimline::water::{Stop, Terrain};
use common::{Random, close, close_to, ground};

const DEMO: &str = include_str!("../surveys/demo.ron");
const FOOT: f64 = 0.3048;
const GALLON: f64 = 0.003_785_411_784;

fn job(text: &str) -> Job {
    Document::parse("job.ron", text)
        .unwrap_or_else(|e| panic!("{e}"))
        .1
}

fn demo_with(changes: &[(&str, &str)]) -> Plan {
    let mut text = DEMO.to_string();
    for (from, to) in changes {
        assert!(text.contains(from), "the demo has no {from:?}");
        text = text.replacen(from, to, 1);
    }
    Plan::of(&job(&text))
}

fn says(plan: &Plan, severity: Severity, place: &str, what: &str) {
    let found = plan
        .findings
        .iter()
        .any(|f| f.severity == severity && f.place.contains(place) && f.what.contains(what));
    let list: Vec<String> = plan
        .findings
        .iter()
        .map(|f| format!("{:?} {}: {}", f.severity, f.place, f.what))
        .collect();
    assert!(
        found,
        "no {severity:?} of {place}: {what}\n{}",
        list.join("\n")
    );
}

/// The spill by a raster: ways along the lines of a square net, each as high as the surface along
/// it (its section), so every one is a real way and none can be lower than the pass. Shares no code
/// with the flood but the section.
fn spill_by_raster(
    surface: &Surface,
    seed: [f64; 2],
    level: f64,
    wet: impl Fn([f64; 2]) -> bool,
    cell: f64,
) -> f64 {
    let probe = Probe::new(surface);
    let [low, high] = surface.bounds().expect("a surface");
    let (nx, ny) = (
        ((high[0] - low[0]) / cell) as i64 + 2,
        ((high[1] - low[1]) / cell) as i64 + 2,
    );
    // The net runs through the seed.
    let (ox, oy) = (
        seed[0] - ((seed[0] - low[0]) / cell).ceil() * cell,
        seed[1] - ((seed[1] - low[1]) / cell).ceil() * cell,
    );
    let at = |i: i64, j: i64| [ox + i as f64 * cell, oy + j as f64 * cell];
    let start = (
        ((seed[0] - ox) / cell).round() as i64,
        ((seed[1] - oy) / cell).round() as i64,
    );
    let mut best = std::collections::HashMap::new();
    let mut heap = BinaryHeap::new();
    let key = |z: f64| (z * 1e9).round() as i64;
    let z0 = probe.sound(seed).expect("ground at the seed").elevation;
    heap.push((Reverse(key(z0)), start));
    best.insert(start, key(z0));
    while let Some((Reverse(h), (i, j))) = heap.pop() {
        if best[&(i, j)] < h {
            continue;
        }
        let p = at(i, j);
        let here = probe.sound(p).map(|s| s.elevation);
        let Some(here) = here else {
            return h as f64 / 1e9;
        };
        if here < level - 1e-6 && !wet(p) && h as f64 / 1e9 >= level - 1e-6 {
            return h as f64 / 1e9;
        }
        for (di, dj) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
            let next = (i + di, j + dj);
            if next.0 < -1 || next.1 < -1 || next.0 > nx || next.1 > ny {
                continue;
            }
            let along = probe.section(p, at(next.0, next.1));
            let top = along.iter().map(|s| s[1]).fold(f64::NEG_INFINITY, f64::max);
            let top = h.max(key(top.max(-1e6)));
            if best.get(&next).is_none_or(|&b| top < b) {
                best.insert(next, top);
                heap.push((Reverse(top), next));
            }
        }
    }
    f64::INFINITY
}

fn in_sheet(sheet: &[[[f64; 2]; 3]], p: [f64; 2]) -> bool {
    sheet.iter().any(|t| {
        let side = |a: [f64; 2], b: [f64; 2]| {
            (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
        };
        let s = [side(t[0], t[1]), side(t[1], t[2]), side(t[2], t[0])];
        s.iter().all(|v| *v >= 0.0) || s.iter().all(|v| *v <= 0.0)
    })
}

#[test]
fn the_spill_is_what_a_raster_comes_down_to() {
    let mut gaps = [0.0; 3];
    let mut found = 0;
    for seed in 0..12 {
        // A bowl with bumps: its rim's lowest place is anywhere.
        let mut r = Random::new(900 + seed);
        let bumps: Vec<[f64; 4]> = (0..12)
            .map(|_| {
                [
                    r.within(0.0, 10.0),
                    r.within(0.0, 10.0),
                    r.within(-0.4, 0.6),
                    r.within(0.8, 2.5),
                ]
            })
            .collect();
        let z = |x: f64, y: f64| {
            let d2 = (x - 5.0).powi(2) + (y - 5.0).powi(2);
            1.5 * (-(d2.sqrt() - 3.0).powi(2)).exp()
                + bumps
                    .iter()
                    .map(|b| b[2] * (-((x - b[0]).powi(2) + (y - b[1]).powi(2)) / b[3]).exp())
                    .sum::<f64>()
        };
        let surface = ground([0.0, 0.0], [10.0, 10.0], 350, 7 + seed, z);
        let place: Vec<u32> = (0..surface.points.len() as u32).collect();
        let terrain = Terrain::on(&surface, &place, &[], None);
        let level = z(5.0, 5.0) + 0.1;
        let Some(reach) = terrain.stand([5.0, 5.0], level, |_| false) else {
            continue;
        };
        if reach.spill < level || reach.leaves_survey {
            continue;
        }
        found += 1;
        let mut before = f64::INFINITY;
        for (k, cell) in [0.4, 0.2, 0.1].into_iter().enumerate() {
            let raster = spill_by_raster(
                &surface,
                [5.0, 5.0],
                level,
                |p| in_sheet(&reach.sheet, p),
                cell,
            );
            assert!(
                raster >= reach.spill - 2e-9,
                "seed {seed}, cell {cell}: the raster runs over at {raster}, lower than {}",
                reach.spill
            );
            assert!(
                raster <= before + 1e-9,
                "seed {seed}: a net within a net is no worse"
            );
            before = raster;
            gaps[k] += raster - reach.spill;
        }
    }
    assert!(found >= 8, "only {found} bowls hold water");
    let mean = gaps.map(|g| g / f64::from(found));
    assert!(
        mean[2] < 0.5 * mean[0] && mean[2] < 0.02,
        "gaps by cell 0.4, 0.2, 0.1: {mean:?}"
    );
}

#[test]
fn the_demo_spills_where_a_raster_spills() {
    let plan = Plan::of(&job(DEMO));
    let pond = plan
        .water
        .iter()
        .find(|w| w.name == "pond")
        .expect("a pond");
    let t = &pond.sheet[0];
    let seed = [0, 1].map(|k| (t[0][k] + t[1][k] + t[2][k]) / 3.0);
    let raster = spill_by_raster(
        &plan.finished,
        seed,
        pond.level_m,
        |p| in_sheet(&pond.sheet, p),
        0.15,
    );
    // The brim is the wall's level cap: a way over it at any place is as low as the lowest.
    close_to("spill by raster", raster, pond.spill_m, 1e-6);
    close_to("the cap of the pond wall", pond.spill_m, 96.40 * FOOT, 1e-9);
}

/// A plane that falls towards +x, 1 in 10: the way is straight, and leaves at the far side.
#[test]
fn water_runs_straight_down_a_plane() {
    let surface = ground([0.0, 0.0], [10.0, 4.0], 60, 3, |x, _| 5.0 - 0.1 * x);
    let place: Vec<u32> = (0..surface.points.len() as u32).collect();
    let terrain = Terrain::on(&surface, &place, &[], None);
    let t = terrain.find([1.3, 2.2]).expect("ground");
    let way = terrain.way_from([1.3, 2.2], t, |_, _| false);
    assert_eq!(way.stop, Stop::Survey);
    assert!(way.hollows.is_empty());
    for p in &way.path {
        close_to("off the straight line", p[1], 2.2, 1e-6);
    }
    close_to(
        "where it leaves",
        way.path.last().expect("a path")[0],
        10.0,
        1e-6,
    );
}

/// A roof upside down: two planes falling into a valley along y = 0 that falls towards +x, with a
/// pit of known depth in it.
#[test]
fn water_keeps_to_the_valley_and_fills_the_pit() {
    let line = |x: f64| 3.0 - 0.1 * x;
    let mut points = Vec::new();
    // Stations along the valley; the one at x = 4 is 0.5 too low, so the pit's pass is at x = 6.
    let at: [(f64, f64); 6] = [
        (0.0, line(0.0)),
        (2.0, line(2.0)),
        (4.0, line(4.0) - 0.5),
        (6.0, line(6.0)),
        (8.0, line(8.0)),
        (10.0, line(10.0)),
    ];
    for (x, z) in at {
        points.push([x, -3.0, z + 2.0]);
        points.push([x, 0.0, z]);
        points.push([x, 3.0, z + 2.0]);
    }
    let mut triangles = Vec::new();
    for k in 0..5u32 {
        for row in 0..2u32 {
            let (a, b) = (3 * k + row, 3 * k + row + 1);
            triangles.push([a, a + 3, b + 3]);
            triangles.push([a, b + 3, b]);
        }
    }
    let made_by = vec![0; triangles.len()];
    let surface = Surface {
        points,
        triangles,
        made_by,
    };
    let place: Vec<u32> = (0..surface.points.len() as u32).collect();
    let terrain = Terrain::on(&surface, &place, &[], None);
    let t = terrain.find([0.7, 1.5]).expect("ground");
    let way = terrain.way_from([0.7, 1.5], t, |_, _| false);
    let head = &way.path[..way.path.len().min(12)];
    assert_eq!(way.stop, Stop::Survey, "{head:?}");
    assert_eq!(way.hollows.len(), 1, "{head:?}");
    let pit = way.hollows[0];
    close_to("pit", pit.at[2], line(4.0) - 0.5, 1e-9);
    close_to("pass", pit.pass, line(6.0), 1e-9);
    let end = way.path.last().expect("a path");
    close_to("end x", end[0], 10.0, 1e-9);
    close_to("end y", end[1], 0.0, 1e-9);
}

/// Ways on rough ground never rise but over the pass of a hollow, and end at the edge.
#[test]
fn water_never_runs_uphill() {
    let mut ended = 0;
    for seed in 0..8 {
        let mut r = Random::new(40 + seed);
        let surface = ground([0.0, 0.0], [20.0, 20.0], 500, 50 + seed, |x, y| {
            0.05 * x + 0.3 * (1.3 * x).sin() * (0.9 * y).cos()
        });
        let place: Vec<u32> = (0..surface.points.len() as u32).collect();
        let terrain = Terrain::on(&surface, &place, &[], None);
        for _ in 0..40 {
            let p = [r.within(0.5, 19.5), r.within(0.5, 19.5)];
            let t = terrain.find(p).expect("ground");
            let way = terrain.way_from(p, t, |_, _| false);
            ended += usize::from(way.stop == Stop::Survey);
            for (k, w) in way.path.windows(2).enumerate() {
                let over = way.hollows.iter().any(|h| h.index == k);
                assert!(
                    over || w[1][2] <= w[0][2] + 1e-6,
                    "seed {seed}: rises from {:?} to {:?}",
                    w[0],
                    w[1]
                );
            }
        }
    }
    assert_eq!(
        ended,
        8 * 40,
        "every way leaves over the edge: nothing is closed in"
    );
}

/// USDA NRCS Agriculture Handbook 590 (from memory): areas at top, middle and bottom, and V from
/// them by the prismoidal rule; 0.4 × area × depth as a rough estimate, area × depth the most.
#[test]
fn the_handbook_pond_holds_what_the_handbook_says() {
    let plan = Plan::of(&job(include_str!("../surveys/handbook-dugout.ron")));
    let s = &plan.flow.storage[0];
    let (ft2, ft3) = (FOOT * FOOT, FOOT * FOOT * FOOT);
    close("volume", s.volume_m3, 107_904.0 * ft3, 1e-10);
    close("area", s.area_m2, 15_136.0 * ft2, 1e-10);
    let middle = s
        .curve
        .iter()
        .find(|c| (c.below_m - 6.0 * FOOT).abs() < 1e-9)
        .expect("a row at 6 ft");
    close("area at half depth", middle.area_m2, 8_704.0 * ft2, 1e-9);
    // The lower half, prismoidal again: sides 2:1, 2:1, 2:1, 4:1, so 52 × 118 a quarter up.
    close(
        "lower half",
        middle.volume_m3,
        (8_704.0 + 4.0 * 52.0 * 118.0 + 4_000.0) * ft3,
        1e-9,
    );
    assert!(s.rough_m3 < s.volume_m3 && s.volume_m3 < s.area_m2 * s.depth_max_m);
}

#[test]
fn the_demo_adds_up() {
    let plan = Plan::of(&job(DEMO));
    for s in &plan.flow.storage {
        let w = plan
            .water
            .iter()
            .find(|w| w.name == s.water)
            .expect("a water");
        close(
            "volume by the curve and by the flood",
            s.volume_m3,
            w.volume_m3,
            1e-9,
        );
        close(
            "area by the curve and by the flood",
            s.area_m2,
            w.area_m2,
            1e-9,
        );
        let parts: f64 = s.over.iter().map(|p| p.volume_m3).sum();
        close("parts", parts, s.volume_m3, 1e-6);
        assert!(s.curve.windows(2).all(|c| c[1].volume_m3 <= c[0].volume_m3));
        close_to(
            "empty at the bottom",
            s.curve.last().expect("rows").volume_m3,
            0.0,
            1e-9,
        );
    }
    let pond = plan
        .flow
        .storage
        .iter()
        .find(|s| s.water == "pond")
        .expect("a pond");
    close(
        "hose",
        pond.fill_s.expect("a hose"),
        pond.volume_m3 / (8.0 * GALLON / 60.0),
        1e-9,
    );
    // 150 gal of 558 ft²: 0.036 ft, a little more as the pond narrows.
    let drop = pond.loss_drop_m.expect("a loss");
    let least = 150.0 * GALLON / pond.area_m2;
    assert!(drop >= least && drop < 1.05 * least, "{drop} and {least}");
    let duty = &plan.flow.pumps[0];
    let cascade = &plan.flow.cascades[0];
    let pipe = duty
        .pipes
        .iter()
        .find(|p| p.pipe == duty.pipe)
        .expect("the pipe to lay");
    let [q, head] = pipe.duty.expect("a duty point");
    close("the flow that runs", cascade.flow_m3_s, q, 1e-9);
    // The duty point lies on the curve of the job file.
    let (lph, ft) = (q * 3600.0 / GALLON, head / FOOT);
    let curve = [
        (0.0, 17.0),
        (1500.0, 15.5),
        (3000.0, 12.5),
        (4500.0, 8.0),
        (6000.0, 2.0),
    ];
    let w = curve
        .windows(2)
        .find(|w| w[1].0 >= lph)
        .expect("within the curve");
    let on = w[0].1 + (w[1].1 - w[0].1) * (lph - w[0].0) / (w[1].0 - w[0].0);
    close("head on the curve", ft, on, 1e-9);
    // And on the pipe's: lift, Hazen-Williams, fittings.
    let d = pipe.diameter_m;
    let v = q / (std::f64::consts::FRAC_PI_4 * d * d);
    let h = duty.static_head_m
        + 10.67 * duty.length_m * (q / 150.0).powf(1.852) / d.powf(4.8704)
        + duty.k * v * v / (2.0 * 9.80665);
    close("head of the pipe", head, h, 1e-9);
    let spill = plan
        .flow
        .spills
        .iter()
        .find(|s| s.water == "pond")
        .expect("a spill");
    assert_eq!(spill.ends, End::Survey);
    for lip in &cascade.lips {
        assert!(
            lip.freeboard_m > 0.0
                && [lip.francis_m, lip.sill_m]
                    .iter()
                    .all(|h| lip.head_m >= h.expect("it falls") - 1e-12)
        );
    }
}

#[test]
fn contradictions_are_named_and_give_no_figures() {
    let plan = demo_with(&[("outlet: 94.6", "outlet: 96.2")]);
    says(&plan, Severity::Error, "overflow", "uphill");
    let o = &plan.flow.overflows[0];
    assert!(o.capacity_m3_s.is_none() && o.diameter_wanted_m.is_none() && o.gradient.is_none());

    let plan = demo_with(&[("rain: \"2 in/h\",", "")]);
    says(&plan, Severity::Note, "overflow", "no rain is given");
    assert!(plan.flow.overflows[0].wanted_m3_s.is_none());

    // In the heaviest rain the pipe is too small.
    let text = DEMO.replace("rain: \"2 in/h\"", "rain: \"12 in/h\"");
    let plan = Plan::of(&job(&text));
    let closer = brimline::flow::closer(&job(&text), &plan);
    let o = &closer.overflows[0];
    assert!(o.wanted_m3_s > o.capacity_m3_s, "{o:?}");
    assert!(
        closer
            .findings
            .iter()
            .any(|f| f.what.contains("the rain given brings"))
    );

    let plan = demo_with(&[("(3000, 12.5)", "(3000, 16)")]);
    says(&plan, Severity::Error, "falls pump", "does not fall");
    assert!(plan.flow.pumps[0].pipes.iter().all(|p| p.duty.is_none()));

    let plan = demo_with(&[(
        "(0, 17), (1500, 15.5), (3000, 12.5), (4500, 8), (6000, 2)",
        "(0, 4), (4000, 1)",
    )]);
    says(&plan, Severity::Warning, "falls pump", "falls short");

    let plan = demo_with(&[(
        "(0, 17), (1500, 15.5), (3000, 12.5), (4500, 8), (6000, 2)",
        "(0, 2), (2000, 1)",
    )]);
    says(&plan, Severity::Error, "falls pump", "cannot lift");

    let plan = demo_with(&[("sits_in: \"pump pit\"", "sits_in: \"pump pit\", intake: 4")]);
    says(&plan, Severity::Error, "falls pump", "bares the intake");

    let plan = demo_with(&[("berm: (freeboard: \"5 in\"", "berm: (freeboard: \"1 in\"")]);
    says(&plan, Severity::Error, "pool", "runs over the berm");

    let plan = demo_with(&[("outlet: 94.6", "outlet: 94.6, above_water: \"-6 in\"")]);
    says(&plan, Severity::Error, "overflow", "drains the basin");

    let plan = demo_with(&[("outlet: 94.6", "outlet: 94.6, above_water: \"5 in\"")]);
    says(
        &plan,
        Severity::Error,
        "overflow",
        "no lower than where pond runs over",
    );

    // Without the wall and the bank the pond runs away: nothing is stored, pumped or drained.
    let plan = demo_with(&[("water: BelowCap(\"pond wall\", \"4 in\")", "water: 99")]);
    assert!(plan.flow.storage.iter().all(|s| s.water != "pond"));
    says(
        &plan,
        Severity::Error,
        "falls pump",
        "does not hold its water",
    );
}

const CURVE: &str = "(0, 17), (1500, 15.5), (3000, 12.5), (4500, 8), (6000, 2)";

/// A pump that lifts nothing: no flow, and no figure for one anywhere.
#[test]
fn a_pump_that_gives_nothing_has_no_figures_for_a_flow() {
    let text = DEMO.replace(CURVE, "(0, 2), (2000, 1)");
    let job = job(&text);
    let plan = Plan::of(&job);
    let duty = &plan.flow.pumps[0];
    assert_eq!((duty.flow_is, duty.flow_m3_s), (FlowIs::Nothing, 0.0));
    assert!(plan.flow.cascades.is_empty(), "{:?}", plan.flow.cascades);
    let known = (duty.start_volume_m3, duty.stop_volume_m3, duty.start_drop_m);
    assert_eq!(known, (None, None, None));
    says(
        &plan,
        Severity::Error,
        "falls pump",
        "gives nothing of the 3600 gal/h wanted",
    );
    let page = brimline::report::water(&job, &plan, &brimline::flow::closer(&job, &plan), 100);
    for not in ["Flow over falls", "Starting", "RUNS OVER"] {
        assert!(!page.contains(not), "{not} in\n{page}");
    }
    assert!(page.contains("nothing that its curve shows"), "{page}");
}

/// A curve that ends before it meets the pipe's: all is for its last point, the least that the pump gives,
/// and the pipe is chosen by the speed of that.
#[test]
fn beyond_its_curve_a_pump_is_reckoned_with_its_last_point() {
    let flow = |gal_h: f64| gal_h * GALLON / 3600.0;
    let plan = demo_with(&[(CURVE, "(0, 17), (1000, 16)")]);
    says(
        &plan,
        Severity::Warning,
        "falls pump",
        "is not shown to give the 3600 gal/h wanted",
    );
    let (duty, falls) = (&plan.flow.pumps[0], &plan.flow.cascades[0]);
    assert_eq!(duty.flow_is, FlowIs::AtLeast);
    close("flow", duty.flow_m3_s, flow(1000.0), 1e-9);
    close("flow over the lips", falls.flow_m3_s, flow(1000.0), 1e-9);
    assert!(
        falls.at_least && falls.flow_from.contains("the least"),
        "{falls:?}"
    );

    let wanted = "cascade: \"falls\", flow: \"3000 gal/h\"";
    let plan = demo_with(&[
        (CURVE, "(0, 30), (5000, 20)"),
        ("cascade: \"falls\"", wanted),
    ]);
    says(
        &plan,
        Severity::Warning,
        "falls pump",
        "not for the 3000 gal/h wanted",
    );
    let duty = &plan.flow.pumps[0];
    close("flow", duty.flow_m3_s, flow(5000.0), 1e-9);
    // 5 ft/s is the limit: 3,000 gal/h run 4.78 ft/s through 2 in, 5,000 nearly 8.
    let pipe = |name: &str| duty.pipes.iter().find(|p| p.pipe == name).expect("a size");
    close_to(
        "speed at the flow wanted",
        pipe("2 in").velocity_m_s / FOOT,
        4.78,
        0.01,
    );
    assert!(!pipe("2 in").within_velocity && pipe("3 in").within_velocity);
    assert_eq!(duty.pipe, "3 in");
    let laid = demo_with(&[
        (CURVE, "(0, 30), (5000, 20)"),
        (
            "cascade: \"falls\"",
            "cascade: \"falls\", flow: \"3000 gal/h\", pipe: \"2 in\"",
        ),
    ]);
    says(
        &laid,
        Severity::Warning,
        "falls pump",
        "at least 7.97 ft/s in 2 in",
    );
}

/// A drop of 0.05 ft under 1.3 in of water: the pool below stands over the lip. It is drowned, its pool
/// stands higher than a free lip's, nothing falls, and the pool below keeps its own freeboard.
#[test]
fn a_drowned_lip_is_no_fall() {
    let free = demo_with(&[]);
    let plan = demo_with(&[("drop: 0.75", "drop: 0.05")]);
    let lips = &plan.flow.cascades[0].lips;
    let (upper, middle) = (&lips[0], &lips[1]);
    let over = upper.drowned_m.expect("drowned");
    close_to("over the lip", over, middle.head_m - 0.05 * FOOT, 1e-9);
    assert!(
        upper.head_m > over && upper.head_m >= free.flow.cascades[0].lips[0].head_m,
        "{upper:?}"
    );
    let falling = [
        upper.francis_m,
        upper.sill_m,
        upper.brink_m,
        upper.brink_velocity_m_s,
    ];
    assert_eq!(falling, [None; 4]);
    assert!(middle.drowned_m.is_none() && middle.brink_m.is_some());
    says(
        &plan,
        Severity::Warning,
        "pool upper pool",
        "is drowned: with the flow running middle pool stands",
    );
    // The last lip, a hand over the pond, is no edge of it to be raised.
    let low = DEMO.replace("drop: 0.65", "drop: 0.03");
    let low = job(&low);
    let plan_of_low = Plan::of(&low);
    let brim = &brimline::flow::closer(&low, &plan_of_low).brims[0];
    assert!(
        brim.least_m > 0.3 * FOOT && brim.short.is_empty(),
        "{:?}, least {}",
        brim.short,
        brim.least_m
    );
    // The lip above is no low place of the middle pool's brim.
    close_to(
        "freeboard",
        middle.freeboard_m,
        5.0 / 12.0 * FOOT - middle.head_m,
        2e-3,
    );
    let edge = plan
        .findings
        .iter()
        .find(|f| f.place.ends_with("middle pool"));
    assert!(edge.is_none(), "{edge:?}");
}

/// A dead level yard at elevation 10, a pond in it, and a drain with these fields.
fn level_yard(drain: &str) -> Job {
    job(&format!(
        "(name: \"yard\", unit: Metre, field_book: (points: [
            (\"a\", 0, 0, 10), (\"b\", 30, 0, 10), (\"c\", 30, 30, 10), (\"d\", 0, 30, 10),
        ]), design: (
            basins: [(name: \"pond\", water: 9.8, outline: [(10, 10), (16, 10), (16, 14), (10, 14)], floor_depth: 1)],
            overflows: [(name: \"drain\", basin: \"pond\", {drain})],
        ), plumbing: (rain: \"50 mm/h\"))"
    ))
}

/// An outlet under the ground lets nothing out, and an outlet under its own water drains nothing.
#[test]
fn an_outlet_must_lie_free() {
    let plan = Plan::of(&level_yard(
        "line: [(15, 12), (22, 12)], outlet: 9, cover: 0.5",
    ));
    says(
        &plan,
        Severity::Error,
        "drain",
        "is buried: the ground there lies 1.000 m over its invert",
    );
    let pipe = &plan.flow.overflows[0];
    assert!(
        pipe.capacity_m3_s.is_none() && pipe.outlet_path.is_empty(),
        "{pipe:?}"
    );
    // The least cover is told where it is: past the water's edge at x = 16, on the bank.
    let thin = plan
        .findings
        .iter()
        .find(|f| f.what.contains("covers it only"))
        .expect("a finding");
    let [x, y, _] = thin.at.expect("a place");
    assert!(
        (16.0..16.6).contains(&x) && (y - 12.0).abs() < 1e-9,
        "{thin:?}"
    );
    // Inside the basin it lies open; its end, a metre down, does not.
    assert!(
        pipe.cover
            .iter()
            .all(|s| s.open == (s.along_m <= 1.0 + 1e-9))
    );

    let plan = Plan::of(&level_yard("line: [(15, 12), (11, 12)], outlet: 9.7"));
    says(
        &plan,
        Severity::Error,
        "drain",
        "its outlet lies in pond, 0.100 m under the water",
    );
    assert!(plan.flow.overflows[0].capacity_m3_s.is_none());

    let back = level_yard("line: [(15, 12), (22, 12)], invert: 9.97, outlet: 9.94");
    let plan = Plan::of(&back);
    says(
        &plan,
        Severity::Warning,
        "drain",
        "its outlet stands 0.060 m deep in the ground",
    );
    let end = plan.flow.overflows[0].cover.last().expect("a station");
    assert!(end.open, "covered by next to nothing: {end:?}");
    says(
        &plan,
        Severity::Error,
        "drain",
        "runs back into pond, which it is to drain",
    );
    assert_eq!(plan.flow.overflows[0].outlet_into, "pond");
    // What lies level may run anywhere: said, not silently counted.
    let closer = brimline::flow::closer(&back, &plan);
    let c = closer.overflows[0].catchment.expect("a catchment");
    assert!(c.level_m2 > 0.9 * c.ground_m2 && c.ground_m2 > 0.0, "{c:?}");
    assert!(
        closer
            .findings
            .iter()
            .any(|f| f.what.contains("may as well run elsewhere"))
    );
    let demo = job(DEMO);
    let closer = brimline::flow::closer(&demo, &Plan::of(&demo));
    let c = closer.overflows[0].catchment.expect("a catchment");
    assert!(c.level_m2 < 0.1 * c.ground_m2, "{c:?}");
    // The brim is told once round, and not its first place again past the end.
    for b in &closer.brims {
        assert!(
            b.profile.iter().all(|p| p.along_m <= b.round_m),
            "{} of {}",
            b.water,
            b.round_m
        );
    }
}

/// A yard that falls 1 in 30 from west to east, a pond in it, and what else there is.
fn falling_yard(basins: &str, drains: &str, more: &str, rain: &str) -> Job {
    job(&format!(
        "(name: \"yard\", unit: Metre, field_book: (points: [
            (\"a\", 0, 0, 10.4), (\"b\", 30, 0, 9.4), (\"c\", 30, 24, 9.4), (\"d\", 0, 24, 10.4),
        ]), design: (
            basins: [(name: \"pond\", water: 9.7, outline: [(10, 9), (16, 9), (16, 15), (10, 15)], floor_depth: 0.8, batter: 0.5), {basins}],
            overflows: [{drains}], {more}
        ), plumbing: (rain: \"{rain}\"))"
    ))
}

const DRAIN: &str = "(name: \"drain\", basin: \"pond\", line: [(15.5, 12), (28, 12)], diameter: \"100 mm\", outlet: 9.5)";

/// Water gets into a pipe only where it gets to its mouth.
#[test]
fn an_inlet_must_stand_in_its_basin() {
    let plan = Plan::of(&falling_yard("", DRAIN, "", "50 mm/h"));
    let errors = |plan: &Plan| {
        let mut all = plan.findings.iter();
        all.any(|f| f.severity == Severity::Error)
    };
    assert!(!errors(&plan), "{:?}", plan.findings);
    assert!(plan.flow.overflows[0].capacity_m3_s.is_some());
    // Ashore, under the pond, and on the very edge of the water.
    for (from, sound) in [
        ("(18, 12)", false),
        ("(4, 12)", false),
        ("(16, 12)", true),
        ("(11, 10)", true),
    ] {
        let drain = DRAIN.replace("(15.5, 12)", from);
        let plan = Plan::of(&falling_yard("", &drain, "", "50 mm/h"));
        assert_eq!(
            plan.flow.overflows[0].capacity_m3_s.is_some(),
            sound,
            "{from}"
        );
        assert_eq!(errors(&plan), !sound, "{from}: {:?}", plan.findings);
        if !sound {
            let what = "its inlet stands where the water of pond does not get to it";
            says(&plan, Severity::Error, "drain", what);
        }
    }
}

/// Two pipes of one basin carry its rain together.
#[test]
fn pipes_of_one_basin_carry_it_together() {
    let closer = |drains: &str, rain: f64| {
        let job = falling_yard("", drains, "", &format!("{rain} mm/h"));
        brimline::flow::closer(&job, &Plan::of(&job))
    };
    let one = closer(DRAIN, 50.0);
    let pipe = &one.overflows[0];
    let (wanted, carries) = (pipe.wanted_m3_s, pipe.capacity_m3_s);
    let (wanted, carries) = (wanted.expect("rain"), carries.expect("a capacity"));
    // Half as much again as one of them carries.
    let heavy = 50.0 * 1.5 * carries / wanted;
    let short = |closer: &brimline::plan::Closer| {
        let all = closer.findings.iter();
        all.filter(|f| f.what.contains("the rain given brings"))
            .count()
    };
    assert_eq!(short(&closer(DRAIN, heavy)), 1);
    let second = DRAIN.replace("drain", "second").replace("12)", "11)");
    let both = format!("{DRAIN}, {second}");
    let enough = closer(&both, heavy);
    assert_eq!(enough.overflows.len(), 2);
    assert_eq!(short(&enough), 0, "{:?}", enough.findings);
    let too_few = closer(&both, 1.5 * heavy);
    assert_eq!(short(&too_few), 1, "{:?}", too_few.findings);
    let says = too_few.findings.iter();
    assert!(
        says.into_iter()
            .any(|f| f.what.contains("together with the other pipe of pond"))
    );
}

/// What falls on a pond that runs over into another comes to that one's pipe; what falls on water that does
/// not stand comes to none.
#[test]
fn rain_on_other_waters() {
    let water = |basins: &str, drains: &str, more: &str| {
        let job = falling_yard(basins, &format!("{DRAIN}, {drains}"), more, "50 mm/h");
        let plan = Plan::of(&job);
        let closer = brimline::flow::closer(&job, &plan);
        let c = closer.overflows[0].catchment.expect("a catchment");
        (c.water_m2, plan)
    };
    let area = |plan: &Plan, name: &str| {
        let its = plan.water.iter().find(|w| w.name == name);
        its.expect("a water").area_m2
    };
    let (alone, plan) = water("", "", "");
    close("alone", alone, area(&plan, "pond"), 1e-9);
    let upper = "(name: \"upper\", water: 10, outline: [(3, 10), (7, 10), (7, 14), (3, 14)], floor_depth: 0.5)";
    let (with_upper, plan) = water(upper, "", "");
    let both = area(&plan, "pond") + area(&plan, "upper");
    close("with what runs over", with_upper, both, 1e-9);
    // Its own pipe takes that elsewhere.
    let own = "(name: \"own\", basin: \"upper\", line: [(5, 10.5), (5, 5), (28, 1)], diameter: \"100 mm\", outlet: 9.5)";
    let (piped, plan) = water(upper, own, "");
    assert!(
        plan.flow.overflows[1].capacity_m3_s.is_some(),
        "{:?}",
        plan.findings
    );
    close("piped elsewhere", piped, area(&plan, "pond"), 1e-9);
    // A pool drawn into the pond's own hole stands nowhere.
    let falls = "cascades: [(name: \"falls\", into: \"pond\", centreline: [(13, 17), (13, 12)],
        pools: [(name: \"pool\", length: 5, width: 1.5, depth: 0.3, drop: 0.3, lip_width: 0.6)],
        berm: (freeboard: 0.1, crest_width: 0.4, batter: 2))]";
    let (rained, plan) = water("", "", falls);
    close("without it", rained, area(&plan, "pond"), 1e-9);
    says(
        &plan,
        Severity::Note,
        "falls",
        "its flow is not reckoned: no water stands in pool",
    );
    // No more is said of how far it would spread.
    let spreads = |f: &brimline::findings::Finding| f.what.contains("spreads");
    assert!(!plan.findings.iter().any(spreads), "{:?}", plan.findings);
}

/// The profile's least freeboard is that of the lowest place round the water, also between its places.
#[test]
fn the_least_freeboard_is_the_lowest_place() {
    let job = falling_yard("", "", "", "50 mm/h");
    let plan = Plan::of(&job);
    let brim = &brimline::flow::closer(&job, &plan).brims[0];
    let water = &plan.water[0];
    assert!(brim.least_m <= water.freeboard_min_m, "{brim:?}");
    let lowest = brim.profile.iter().map(|p| p.freeboard_m);
    assert!(lowest.fold(f64::INFINITY, f64::min) >= brim.least_m);
    // By hand: the ground at the corners on the low side, x = 16.
    close_to("least", brim.least_m, 10.4 - 16.0 / 30.0 - 9.7, 1e-2);
}

/// Every key that the command gives stands in its section of KEYS.md.
#[test]
fn every_key_of_the_water_is_documented() {
    let page = include_str!("../src/report/KEYS.md");
    let section = page
        .split("\n# What ")
        .find(|s| s.starts_with("`brimline water "))
        .expect("a section");
    let plan = Plan::of(&job(DEMO));
    let closer = brimline::flow::closer(&job(DEMO), &plan);
    let value = brimline::report::water_json(&plan, &closer);
    fn look(value: &serde_json::Value, section: &str, missing: &mut Vec<String>) {
        match value {
            serde_json::Value::Object(map) => {
                for (key, value) in map {
                    if !section.contains(&format!("`{key}`"))
                        && !section.contains(&format!("`{key}[]`"))
                    {
                        missing.push(key.clone());
                    }
                    look(value, section, missing);
                }
            }
            serde_json::Value::Array(items) => items.iter().for_each(|v| look(v, section, missing)),
            _ => {}
        }
    }
    let mut missing = Vec::new();
    look(&value, section, &mut missing);
    // Those of findings are documented in the section before.
    missing.retain(|k| !["severity", "about", "place", "what", "remedy"].contains(&k.as_str()));
    assert!(missing.is_empty(), "not in KEYS.md: {missing:?}");
}

/// An outlet over the water of another basin gives into that, whether it hangs over a level floor or a side.
#[test]
fn an_outlet_over_water_gives_into_it() {
    let text = "(name: \"yard\", unit: Metre, field_book: (points: [
            (\"a\", 0, 0, 10), (\"b\", 40, 0, 10), (\"c\", 40, 30, 10), (\"d\", 0, 30, 10),
        ]), design: (
            basins: [
                (name: \"upper\", water: 9.8, outline: [(5, 10), (11, 10), (11, 16), (5, 16)], floor_depth: 0.6),
                (name: \"lower\", water: 9.4, outline: [(20, 10), (26, 10), (26, 16), (20, 16)], floor_depth: 0.6),
            ],
            overflows: [(name: \"over\", basin: \"upper\", line: [(10, 13), (END, 13)], invert: 9.8, outlet: 9.5, cover: 0)],
        ), plumbing: (rain: \"50 mm/h\"))";
    for end in ["20.2", "21.5", "23"] {
        let plan = Plan::of(&job(&text.replace("END", end)));
        let pipe = &plan.flow.overflows[0];
        assert_eq!(pipe.outlet_ends, Some(End::Water), "to x = {end}: {pipe:?}");
        assert_eq!(pipe.outlet_into, "lower", "to x = {end}");
    }
    let back = text
        .replace("END", "6")
        .replace("outlet: 9.5", "outlet: 9.79");
    let plan = Plan::of(&job(&back));
    says(&plan, Severity::Error, "over", "its outlet lies in upper");
}

/// On a dead level yard the water of a full pond leaves the survey at its edge, not where it begins.
#[test]
fn a_spill_on_level_ground_ends_at_the_edge_of_the_survey() {
    let plan = Plan::of(&level_yard("line: [(15, 12), (22, 12)], outlet: 9.5"));
    let spill = &plan.flow.spills[0];
    assert_eq!(spill.ends, End::Survey);
    let [x, y, _] = *spill.path.last().expect("a way");
    let off = [x, 30.0 - x, y, 30.0 - y]
        .into_iter()
        .fold(f64::INFINITY, f64::min);
    assert!(
        off.abs() < 1e-6 && spill.length_m > 5.0,
        "ends at {x}, {y} after {}",
        spill.length_m
    );
}

/// Two pumps draw from one pond of 25 m²: what they take at once and give back at once is told together.
#[test]
fn pumps_of_one_basin_draw_it_down_together() {
    let falls = |name: &str, y: [f64; 2]| {
        format!(
            "(name: \"{name}\", into: \"pond\", centreline: [(15, {}), (15, {})],
              pools: [(name: \"{name} pool\", length: 3, width: 2, drop: 0.3)])",
            y[0], y[1]
        )
    };
    let pump = |name: &str, falls: &str, y: f64| {
        format!(
            "(name: \"{name}\", sits_in: \"pond\", cascade: \"{falls}\", line: [(15, 15), (15, {y})],
              curve: [(0, 6), (\"20000 L/h\", 2)])"
        )
    };
    let yard = |pumps: &[String]| {
        job(&format!(
            "(name: \"yard\", unit: Metre, field_book: (points: [
                (\"a\", 0, 0, 10), (\"b\", 30, 0, 10), (\"c\", 30, 30, 10), (\"d\", 0, 30, 10),
             ]), design: (
                basins: [(name: \"pond\", water: 9.9, outline: [(12.5, 12.5), (17.5, 12.5), (17.5, 17.5), (12.5, 17.5)], floor_depth: 0.8)],
                cascades: [{}, {}],
             ), plumbing: (pumps: [{}]))",
            falls("north", [21.5, 17.5]),
            falls("south", [8.5, 12.5]),
            pumps.join(", ")
        ))
    };
    let (north, south) = (pump("one", "north", 21.0), pump("two", "south", 9.0));
    let alone = Plan::of(&yard(std::slice::from_ref(&north)))
        .flow
        .pumps
        .remove(0);
    let plan = Plan::of(&yard(&[north, south]));
    let [one, two] = &plan.flow.pumps[..] else {
        panic!("two pumps: {:?}", plan.flow.pumps)
    };
    assert_eq!(
        (&one.beside[..], &two.beside[..]),
        (&["two".to_string()][..], &["one".to_string()][..])
    );
    assert!(alone.beside.is_empty());
    let drop = |d: &brimline::plan::PumpDuty| d.start_drop_m.expect("a drop");
    // Both stand in the same water.
    close("one water", drop(one), drop(two), 1e-6);
    assert!(
        drop(one) > 1.9 * drop(&alone),
        "{} alone, {} together",
        drop(&alone),
        drop(one)
    );
    // What both took is what the basin's own curve gives for that drop, by hand over its area at the top.
    let taken = one.start_volume_m3.expect("taken") + two.start_volume_m3.expect("taken");
    let area = plan
        .water
        .iter()
        .find(|w| w.name == "pond")
        .expect("a pond")
        .area_m2;
    close_to(
        "over the pond's area",
        drop(one),
        taken / area,
        0.03 * drop(one),
    );
    assert!(
        one.static_head_m > alone.static_head_m,
        "lower water, more lift"
    );
}

/// A pipe that gives out under the pool's water has to lift to that water; over it, to its own end.
#[test]
fn a_drowned_discharge_lifts_to_the_water_over_it() {
    let lift = |discharge: &str| {
        let text = DEMO.replacen(
            "sits_in: \"pump pit\",",
            &format!("sits_in: \"pump pit\", {discharge}"),
            1,
        );
        assert!(text.len() >= DEMO.len());
        Plan::of(&job(&text)).flow.pumps[0].static_head_m
    };
    let usual = lift("");
    // The pipe is so much shorter: a hair more flow, and head over the lip.
    close("drowned", lift("discharge: 95.5,"), usual, 1e-4);
    assert!(lift("discharge: 101,") > usual + 0.5);
}
