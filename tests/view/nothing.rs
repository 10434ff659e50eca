//! A job from nothing, with keyboard and mouse alone: level notes, pond, wall, falls, water, saved
//! and opened again.

use brimline::job::Document;
use brimline::plan::Plan;

use crate::screen::*;

/// A sloping yard, invented: name, rod, place.
const SHOTS: [(&str, &str, &str); 4] = [
    ("1", "4.10", "0, 0"),
    ("2", "4.90", "60, 0"),
    ("3", "3.20", "60, 50"),
    ("4", "2.60", "0, 50"),
];

#[test]
fn a_job_from_nothing_with_keyboard_and_mouse_alone() {
    let _one = ONE.lock();
    let Some((screen, app)) = window_on(&demo(), (1280, 800)) else {
        return;
    };
    screen.press("button: New", || last_plan(&screen));
    screen.press("page: Notes", || screen.place("add: Benchmarks"));
    screen.press("add: Benchmarks", || {
        screen.place("cell: field_book.benchmarks[0].elevation")
    });
    screen.type_in("field_book.benchmarks[0].elevation", "100");
    screen.type_in("field_book.benchmarks[0].name", "nail");
    screen.press("button: Add a setup", || {
        screen.place("cell: field_book.setups[0].backsight.rod")
    });
    screen.type_in("field_book.setups[0].backsight.rod", "3.50");
    let setup = "field_book.setups[0].sights";
    for (k, (name, rod, place)) in SHOTS.iter().enumerate() {
        let row = format!("{setup}[{k}]");
        let there = || screen.place(&format!("cell: {row}.rod"));
        if there().is_none() {
            screen.press("button: Add a row to setup S1", there);
        }
        screen.type_in(&format!("{row}.to"), name);
        screen.type_in(&format!("{row}.rod"), rod);
        screen.type_in(&format!("{row}.at"), place);
    }
    screen.xdotool("key Tab");

    screen.press("page: Design", || screen.place("add: Design"));
    for (button, thing, at) in [
        ("Basin", "design.basins[0]", "mousemove 420 420"),
        ("Wall", "design.walls[0]", "mousemove 330 520"),
        ("Cascade", "design.cascades[0]", "mousemove 520 320"),
    ] {
        let offered = format!("button: {button}");
        let placing = format!("placing: {}", button.to_lowercase());
        until_done(
            &placing,
            12,
            || {
                // A press that a slow frame missed may have put the list away.
                let list = screen.place(&offered).is_some();
                screen.click(if list { &offered } else { "add: Design" });
            },
            || screen.place(&placing),
        );
        let thing = format!("thing: {thing}");
        until_done(
            &thing,
            25,
            || {
                screen.xdotool(&format!("{at} sleep 3 click 1"));
            },
            || screen.place(&thing),
        );
    }
    // What lies nowhere in the yard is a row to fill in.
    screen.press("add: Carrying", || screen.place("button: Machine"));
    let machine = "thing: haul.machines[0]";
    until_done(
        machine,
        12,
        || {
            let list = screen.place("button: Machine").is_some();
            screen.click(if list {
                "button: Machine"
            } else {
                "add: Carrying"
            });
        },
        || screen.place(machine),
    );
    // The pond's form is opened by its line in the list, its water set by number.
    let water = "design.basins[0].water";
    screen.press("thing: design.basins[0]", || {
        screen.place(&format!("cell: {water}"))
    });
    let before = last_plan(&screen);
    screen.type_in(water, "99.20");
    screen.xdotool("key Return");
    until_done(
        "a plan with that water",
        60,
        || {},
        || last_plan(&screen).filter(|plan| before.as_ref() != Some(plan)),
    );

    let file = screen.folder.join("new-yard.ron");
    screen.press("button: Save", || {
        screen
            .frame()?
            .iter()
            .any(|l| l.starts_with("slip: "))
            .then_some(())
    });
    until_done(
        "the saved job",
        20,
        || {
            screen.xdotool("key Return");
        },
        || file.exists().then_some(()),
    );
    drop(app);

    let (_, job) = Document::load(&file).unwrap_or_else(|e| panic!("what was saved: {e}"));
    assert_eq!(job.field_book.benchmarks[0].name, "nail");
    let sights = &job.field_book.setups[0].sights;
    assert_eq!(sights.len(), SHOTS.len());
    let plan = Plan::of(&job);
    // By hand: 100 + 3.50 − 4.90 ft, in metres.
    let second = plan.survey.spots.iter().find(|s| s.name == "2");
    let z = second.map(|s| s.z).unwrap_or_default();
    assert!((z - 98.60 * 0.3048).abs() < 1e-9, "shot 2 at {z} m");
    assert_eq!(job.design.basins.len(), 1);
    assert_eq!(job.design.walls.len(), 1);
    assert_eq!(job.design.cascades.len(), 1);
    assert_eq!(job.haul.machines.len(), 1);
    assert!(plan.volumes.cut_bank_m3 > 1.0, "{:?}", plan.volumes);
    let pond = job.design.basins[0].name.as_str();
    let water = plan.water.iter().find(|w| w.name == pond);
    let level = water.map(|w| w.level_m).expect("water in the pond");
    assert!((level - 99.20 * 0.3048).abs() < 1e-9, "water at {level} m");

    // Opened again, it stands there.
    let Some(_app) = run_on(&screen, &file) else {
        panic!("the saved job does not open");
    };
    screen.press("page: Design", || screen.place("thing: design.cascades[0]"));
}
