//! The 3D view: pictures without a display, a window under Xvfb driven by xdotool, and what
//! happens where there is neither.
//!
//! With BRIMLINE_VIEW_TESTS=required everything must run (Xvfb, xdotool and a Vulkan driver, a
//! software one will do); without it the parts that lack something are skipped, saying so.
#![cfg(feature = "view")]

mod canvas;
mod client;
mod nothing;
mod screen;
mod wheel;
mod words;

use std::path::Path;
use std::time::{Duration, Instant};

use brimline::job::Document;
use brimline::plan::{Plan, Water};
use brimline::terrain::predicates::{from_line, in_ring};
use brimline::view::{self, Look};

use screen::*;

#[test]
fn pictures_of_the_demo_show_each_look() {
    let _one = ONE.lock();
    let (_, job) = Document::load(&demo()).unwrap_or_else(|e| panic!("the demo: {e}"));
    let plan = Plan::of(&job);
    let folder = std::env::temp_dir().join(format!("brimline-pictures-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for the pictures");
    let mut pictures = Vec::new();
    for (look, name) in [
        (Look::Existing, "existing"),
        (Look::Dug, "dug"),
        (Look::Finished, "finished"),
    ] {
        let out = folder.join(name).with_extension("png");
        if let Err(why) = view::picture(&plan, look, (800, 600), &out) {
            return skip(&why);
        }
        let image = image::open(&out).expect("a readable PNG").to_rgb8();
        assert_eq!(image.dimensions(), (800, 600), "{name}");
        let pixels = Pixels {
            width: 800,
            height: 600,
            rgb: image.pixels().map(|p| p.0).collect(),
        };
        assert!(
            pixels.colours() > 200,
            "{name} is blank: {} colours",
            pixels.colours()
        );
        pictures.push(pixels);
    }
    let wet: Vec<f64> = pictures.iter().map(Pixels::water).collect();
    assert_eq!(wet[0], 0.0, "water-coloured pixels in the existing yard");
    assert!(
        wet[2] > 0.005,
        "water covers only {} of the finished yard",
        wet[2]
    );
    assert!(
        pictures[0].differs(&pictures[1]) > 0.01,
        "existing and dug look the same"
    );
    assert!(
        pictures[1].differs(&pictures[2]) > 0.01,
        "dug and finished look the same"
    );
    let _ = std::fs::remove_dir_all(&folder);
}

#[test]
fn the_clients_picture_has_water_where_water_is_and_nowhere_else() {
    const SIZE: (u32, u32) = (960, 600);
    let _one = ONE.lock();
    let (_, job) = Document::load(&demo()).unwrap_or_else(|e| panic!("the demo: {e}"));
    let plan = Plan::of(&job);
    let folder = std::env::temp_dir().join(format!("brimline-client-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for the pictures");
    let draw = |look: Look, name: &str| {
        let out = folder.join(name).with_extension("png");
        view::client_picture(&plan, look, SIZE, &out)?;
        Ok(image::open(&out).expect("a readable PNG").to_rgb8())
    };
    let wet = match draw(Look::Finished, "after") {
        Ok(image) => image,
        Err(why) => {
            let why: String = why;
            return skip(&why);
        }
    };
    let dry = draw(Look::Existing, "before").unwrap_or_else(|why| panic!("before: {why}"));
    let before = dry.pixels().filter(|p| is_clear_water(p.0)).count();
    assert_eq!(before, 0, "pixels like water before there is any");

    let pixels = |places: &[[f64; 3]]| -> Vec<[u8; 3]> {
        view::places_in_client_picture(&plan, SIZE, places)
            .into_iter()
            .flatten()
            .map(|[x, y]| wet.get_pixel(x as u32, y as u32).0)
            .collect()
    };
    let share = |seen: &[[u8; 3]]| {
        seen.iter().filter(|p| is_clear_water(**p)).count() as f64 / seen.len().max(1) as f64
    };
    for water in &plan.water {
        // The shore is soft, and stones lie along it; a small pool is hardly wider.
        let (shore, least) = if water.area_m2 > 10.0 {
            (0.35, 0.7)
        } else {
            (0.15, 0.3)
        };
        let places = places_on(water, shore);
        assert!(
            places.len() > 100,
            "{}: {} places",
            water.name,
            places.len()
        );
        let seen = pixels(&places);
        // The berm's crest, the plants on it and falling water hide part of the small pools.
        assert!(
            seen.len() == places.len() && share(&seen) > least,
            "{}: only {} of {} places in its sheet look like water",
            water.name,
            share(&seen),
            seen.len()
        );
    }
    let lawn: Vec<[f64; 3]> = (0..plan.finished.triangles.len())
        .filter(|t| plan.finished.made_by[*t] == 0)
        .map(|t| {
            let corners = plan.finished.corners(t);
            [0, 1, 2].map(|k| corners.iter().map(|p| p[k]).sum::<f64>() / 3.0)
        })
        .collect();
    let seen = pixels(&lawn);
    assert!(
        seen.len() > 20,
        "only {} places of the lawn are seen",
        seen.len()
    );
    assert_eq!(share(&seen), 0.0, "of the lawn looks like water");
    let _ = std::fs::remove_dir_all(&folder);
}

/// Places on a sheet of water every five centimetres, so far from its edge.
fn places_on(water: &Water, from_edge: f64) -> Vec<[f64; 3]> {
    let wet = |p: [f64; 2]| water.sheet.iter().any(|t| in_ring(t, p));
    let points = || water.edge.iter().flatten();
    let low = [0, 1].map(|k| points().fold(f64::MAX, |m, p| m.min(p[k])));
    let high = [0, 1].map(|k| points().fold(f64::MIN, |m, p| m.max(p[k])));
    let steps = |k: usize| ((high[k] - low[k]) / 0.05) as u32;
    (0..=steps(0))
        .flat_map(|i| (0..=steps(1)).map(move |j| [i, j].map(|n| f64::from(n) * 0.05)))
        .map(|p| [low[0] + p[0], low[1] + p[1]])
        .filter(|p| wet(*p))
        .filter(|p| {
            water.edge.iter().all(|ring| {
                let next = ring.iter().cycle().skip(1);
                ring.iter()
                    .zip(next)
                    .all(|(a, b)| from_line(*p, *a, *b) > from_edge)
            })
        })
        .map(|p| [p[0], p[1], water.level_m])
        .collect()
}

#[test]
fn what_cannot_be_a_picture_is_one_line() {
    let plan = Plan::default();
    let out = std::env::temp_dir().join("brimline-never.png");
    let none = view::picture(&plan, Look::Finished, (800, 600), &out).expect_err("no ground");
    assert!(none.contains("no ground") && !none.contains('\n'), "{none}");
    let size = view::picture(&plan, Look::Finished, (8, 600), &out).expect_err("too narrow");
    assert!(size.contains("16 to 8192"), "{size}");
    let name = view::picture(&plan, Look::Finished, (80, 60), Path::new("yard.jpg"));
    assert!(name.expect_err("not PNG").contains(".png"));
    assert!(!out.exists());
}

#[test]
fn without_a_display_the_figures_are_printed() {
    // No display at all, and one that nobody serves.
    for display in [None, Some(":987")] {
        let mut command = brimline();
        command
            .arg("view")
            .arg(demo())
            .env_remove("WAYLAND_DISPLAY");
        match display {
            None => command.env_remove("DISPLAY"),
            Some(name) => command.env("DISPLAY", name),
        };
        let run = command.output().expect("brimline runs");
        let (out, err) = (
            String::from_utf8_lossy(&run.stdout).into_owned(),
            String::from_utf8_lossy(&run.stderr).into_owned(),
        );
        assert_eq!(run.status.code(), Some(0), "{display:?}: {err}");
        let mut lines = out.lines();
        let first = lines.next().unwrap_or_default();
        assert!(first.starts_with("no 3D: "), "{display:?}: {first}");
        assert!(lines.count() > 20, "{display:?}: no figures after the line");
        assert!(
            !err.contains("panicked") && !err.contains("backtrace"),
            "{display:?}: {err}"
        );
    }
}

#[test]
fn the_window_opens_and_answers_keys() {
    let _one = ONE.lock();
    let Some((_screen, mut app, first, existing)) = window_on_the_demo() else {
        return;
    };
    assert!(first.differs(&existing) > 0.01, "key 1 changed nothing");
    assert!(
        app.0.try_wait().expect("a state").is_none(),
        "the view ended by itself"
    );
}

#[test]
fn a_drag_turns_the_yard() {
    let _one = ONE.lock();
    let Some((screen, mut app, _, existing)) = window_on_the_demo() else {
        return;
    };
    // Only relative motion reaches the camera. A slow machine draws a frame in seconds: the button
    // stays down until the turn has been seen.
    screen.xdotool("mousedown 1");
    let start = Instant::now();
    let mut turned = None;
    let steps = std::iter::repeat_n("30 -6", 12).chain(std::iter::repeat_n("-30 6", 12));
    for step in steps.cycle() {
        if turned.is_some() || start.elapsed() > Duration::from_secs(240) {
            break;
        }
        screen.xdotool(&format!("mousemove_relative -- {step}"));
        std::thread::sleep(Duration::from_millis(900));
        let yard = screen.pixels().left(860);
        turned = (existing.differs(&yard) > 0.05).then_some(yard);
    }
    screen.xdotool("mouseup 1");
    let turned = turned.expect("the yard turned by a drag, within four minutes");
    assert!(turned.colours() > 100, "blank after turning");
    assert!(
        app.0.try_wait().expect("a state").is_none(),
        "the view ended by itself"
    );
}

/// Colours of `paper.rs` and `charts.rs`.
const PAPER: [u8; 3] = [0xf7, 0xf2, 0xe6];
const ACCENT: [u8; 3] = [0xa6, 0x3c, 0x1e];
const UNTOUCHED: [u8; 3] = [240, 236, 226];

#[test]
fn maps_stages_the_wipe_and_a_section_are_shown() {
    let _one = ONE.lock();
    let Some((screen, mut app, _, _)) = window_on_the_demo() else {
        return;
    };
    screen.xdotool("key 3");
    screen.xdotool("key d");
    screen.until("the map of depths, by key D", |p| p.share(UNTOUCHED) > 0.1);
    screen.xdotool("key d");
    screen.until("the water again", |p| {
        p.share(UNTOUCHED) < 0.05 && p.water() > 0.002
    });
    screen.xdotool("key bracketright");
    let stage = screen.until("the ground after the first stage, without water", |p| {
        let grass = p.grass();
        assert!(grass > 0.1, "bare until the stage is made: grass {grass}");
        p.water() < 0.0005
    });
    assert!(stage.colours() > 100, "the stage is blank");
    until_done(
        "the strip of stages, and who carries what where in the first",
        60,
        || {},
        || {
            let frame = screen.frame()?;
            let told = |begin: &str| frame.iter().any(|l| l.starts_with(begin));
            let loads = "words: 5  33 loads first dig → haul ramp, 42 ft within ";
            (told("stage: clear the way at ") && told(loads)).then_some(())
        },
    );
    screen.xdotool("key bracketleft");
    screen.until("the water once more", |p| p.water() > 0.002);

    // The line of the wipe stands in the middle of the yard; its rim is blended with the paper.
    let line = |p: &Pixels| {
        let red = |[r, g, b]: [u8; 3]| r > b.saturating_add(50) && r > g.saturating_add(40);
        (430..450)
            .map(|x| {
                let on = (0..p.height)
                    .filter(|y| red(p.rgb[y * p.width + x]))
                    .count();
                on as f64 / p.height as f64
            })
            .fold(0.0, f64::max)
    };
    screen.xdotool("key e");
    screen.until("the line of the wipe, by key E", |p| line(p) > 0.7);
    for _ in 0..2 {
        // Two presses in one slow frame would be one.
        screen.xdotool("key e");
        std::thread::sleep(Duration::from_secs(8));
    }
    screen.until("no wipe", |p| line(p) < 0.3);

    // The tray comes out with the tool; two presses lay the section.
    screen.xdotool("key x");
    let tray = |p: &Pixels| p.below(600).share(PAPER);
    screen.until("the tray, by key X", |p| tray(p) > 0.7);
    screen.xdotool("mousemove 200 290 click 1");
    std::thread::sleep(Duration::from_secs(6));
    screen.xdotool("mousemove 660 330");
    std::thread::sleep(Duration::from_secs(6));
    screen.xdotool("click 1");
    screen.until("the finished ground in the section", |p| {
        p.below(600).share(ACCENT) > 0.001
    });
    assert!(
        app.0.try_wait().expect("a state").is_none(),
        "the view ended by itself"
    );
}

#[test]
fn a_typed_rod_reading_changes_the_figures_and_is_taken_back() {
    let _one = ONE.lock();
    let Some((screen, _app, _, _)) = window_on_the_demo() else {
        return;
    };
    let (_, job) = Document::load(&demo()).unwrap_or_else(|e| panic!("the demo: {e}"));
    let volumes = Plan::of(&job).volumes;
    let as_opened = format!(
        "planned: cut {:.3} m3, fill {:.3} m3",
        volumes.cut_bank_m3, volumes.fill_compacted_m3
    );
    let page = || {
        let all = screen.pixels();
        let rows = all.rgb.chunks(all.width).skip(235).take(540);
        rows.flat_map(|row| row[890..1250].iter().copied())
            .collect::<Vec<_>>()
    };
    let turned = |before: &[[u8; 3]], share: usize| {
        let now = page();
        let other = before.iter().zip(&now).filter(|(a, b)| a != b).count();
        (other * share > now.len()).then_some(())
    };
    let before = page();
    // The level notes are the first page; the rod of the first backsight is in sight there.
    let open = || {
        screen.xdotool("mousemove 916 216 sleep 1 click 1");
    };
    until_done("the level notes", 20, open, || turned(&before, 20));
    let before = page();
    let into = || {
        screen.xdotool("mousemove 1127 603 sleep 1 click 1");
    };
    until_done("the cell of a rod", 20, into, || turned(&before, 4000));
    let typed = until_done(
        "a plan after typing",
        60,
        || {
            screen.xdotool("keydown ctrl sleep 4 key a sleep 4 keyup ctrl");
            screen.xdotool("type --delay 400 4.9");
        },
        || last_plan(&screen).filter(|plan| *plan != as_opened),
    );
    assert_ne!(typed, as_opened);
    // The cell is still being typed in.
    until_done(
        "the plan as it was",
        30,
        || {
            // A slow frame must see the two keys together.
            screen.xdotool("keydown ctrl sleep 4 key z sleep 4 keyup ctrl");
        },
        || last_plan(&screen).filter(|plan| *plan == as_opened),
    );
}

#[test]
fn a_dragged_corner_changes_the_dig_and_undo_brings_it_back() {
    let _one = ONE.lock();
    let Some((screen, mut app, _, _)) = window_on_the_demo() else {
        return;
    };
    screen.xdotool("key 3");
    screen.until("the finished yard again, by key 3", |p| p.water() > 0.002);
    // A click on the shoreline picks the pond and shows its corners.
    let edge = until_told(&screen, "edge: design.basins[0].outline at ", |_| true);
    screen.xdotool(&format!("mousemove {edge}"));
    std::thread::sleep(Duration::from_secs(5));
    screen.xdotool("click 1");
    // Away from the pump pit, towards the falls: farther out is more to dig.
    let corner = "handle: design.basins[0].outline[9] at ";
    let handle = until_told(&screen, corner, |_| true);
    screen.xdotool(&format!("mousemove {handle}"));
    std::thread::sleep(Duration::from_secs(5));
    screen.xdotool("mousedown 1");
    for _ in 0..6 {
        screen.xdotool("mousemove_relative -- -2 -5");
        std::thread::sleep(Duration::from_secs(1));
    }
    let cut = |told: &str| -> f64 {
        let figure = told.split(' ').nth(1).unwrap_or_default();
        figure
            .parse()
            .unwrap_or_else(|_| panic!("a figure in {told}"))
    };
    // What the demo comes to as it is.
    let (_, job) = Document::load(&demo()).unwrap_or_else(|e| panic!("the demo: {e}"));
    let before = Plan::of(&job).volumes.cut_bank_m3;
    let dragged = until_told(&screen, "planned: ", |told| {
        (cut(told) - before).abs() > 0.05
    });
    screen.xdotool("mouseup 1");
    std::thread::sleep(Duration::from_secs(5));
    assert!(
        cut(&dragged) > before,
        "a larger pond digs less: {dragged}, before {before} m3"
    );
    screen.xdotool("key ctrl+z");
    until_told(&screen, "planned: ", |told| {
        (cut(told) - before).abs() < 0.002
    });
    assert!(
        app.0.try_wait().expect("a state").is_none(),
        "the view ended by itself"
    );
}
