//! The command line as a person or a script meets it.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn brimline<const N: usize>(args: [&str; N]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_brimline"))
        .args(args)
        .current_dir(root())
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("COLUMNS")
        .output()
        .expect("the command runs")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

#[track_caller]
fn status(out: &Output, want: i32) {
    assert_eq!(
        out.status.code(),
        Some(want),
        "exit status; stdout:\n{}\nstderr:\n{}",
        text(&out.stdout),
        text(&out.stderr)
    );
    assert!(!text(&out.stderr).contains("panicked"));
}

fn figures_json(job: &str) -> Value {
    let out = brimline(["figures", job, "--json"]);
    status(&out, 0);
    serde_json::from_slice(&out.stdout).expect("JSON")
}

fn jobs() -> Vec<String> {
    let mut jobs: Vec<String> = std::fs::read_dir(root().join("surveys"))
        .expect("surveys/")
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| p.extension().is_some_and(|x| x == "ron"))
        .map(|p| p.display().to_string())
        .collect();
    jobs.sort();
    assert!(!jobs.is_empty());
    jobs
}

/// A job file of this test, written where cargo keeps such things.
fn written(name: &str, job: &str) -> String {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, job).expect("written");
    path.display().to_string()
}

/// Flat ground but for one shot read a foot wrong, and one placed twice, 0.5 ft apart.
fn slipped() -> String {
    let mut sights = String::new();
    for i in 0..6 {
        for j in 0..6 {
            let rod = if (i, j) == (2, 3) { 6.21 } else { 5.21 };
            sights += &format!("(\"{i}{j}\", {rod}, ({}, {})),\n", i * 8, j * 8);
        }
    }
    sights += "(to: \"twice\", rod: 5.21, at: (20, 20), check: (20, 20.5)),\n";
    let job = format!(
        "(name: \"Slip\", unit: Foot, field_book: (
            benchmarks: [(name: \"BM\", elevation: 100, at: (0, -5))],
            setups: [(name: \"1\", backsight: (\"BM\", 4.00), sights: [{sights} (\"BM\", 4.00)])],
        ))"
    );
    written("slipped.ron", &job)
}

#[test]
fn every_job_prints_its_figures_and_notes_within_the_page() {
    for job in jobs() {
        for command in ["figures", "notes"] {
            let out = brimline([command, &job]);
            status(&out, 0);
            let page = text(&out.stdout);
            assert!(page.lines().count() >= 3, "{job} {command}: {page}");
            for line in page.lines() {
                assert!(line.chars().count() <= 80, "{job} {command}: {line}");
                assert!(!line.contains("NaN") && !line.contains("inf "), "{line}");
            }
        }
    }
}

#[test]
fn no_job_of_ours_has_an_error() {
    for job in jobs() {
        let out = brimline(["check", &job]);
        status(&out, 0);
    }
}

/// Paths of all keys, with [] for what is in a list.
fn keys(value: &Value, path: &str, into: &mut BTreeSet<String>) {
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                let path = if path.is_empty() {
                    key.clone()
                } else {
                    format!("{path}.{key}")
                };
                if !value.is_object() {
                    let list = value.as_array().and_then(|a| a.first());
                    // A list of records is documented with its brackets, a list of figures without.
                    let records = list.is_some_and(Value::is_object);
                    let empty = value.as_array().is_some_and(Vec::is_empty);
                    if !empty {
                        into.insert(if records {
                            format!("{path}[]")
                        } else {
                            path.clone()
                        });
                    }
                }
                keys(value, &path, into);
            }
        }
        Value::Array(items) => {
            for item in items.iter().filter(|i| i.is_object()) {
                keys(item, &format!("{path}[]"), into);
            }
        }
        _ => {}
    }
}

#[test]
fn every_key_is_documented_and_every_documented_key_is_given() {
    let page = std::fs::read_to_string(root().join("src/report/KEYS.md")).expect("KEYS.md");
    // The first section of the page; each other command's keys are in one of its own.
    let page = page.split("\n# What ").next().expect("a section");
    let documented: BTreeSet<String> = page
        .lines()
        .filter_map(|l| Some(l.strip_prefix("| `")?.split_once('`')?.0.to_string()))
        .collect();
    let mut given = BTreeSet::new();
    for job in ["surveys/demo.ron".to_string(), slipped()] {
        let out = brimline(["figures", &job, "--json", "--surfaces", "--contours", "0.1"]);
        status(&out, 0);
        let value: Value = serde_json::from_slice(&out.stdout).expect("JSON");
        keys(&value, "", &mut given);
    }
    let unknown: Vec<_> = given.difference(&documented).collect();
    assert!(unknown.is_empty(), "not in KEYS.md: {unknown:?}");
    let missing: Vec<_> = documented
        .difference(&given)
        // The table names each surface and list as a whole as well.
        .filter(|k| !given.iter().any(|g| g.starts_with(&format!("{k}."))))
        .collect();
    assert!(
        missing.is_empty(),
        "in KEYS.md but never given: {missing:?}"
    );
}

fn after_json(stage: &str) -> Value {
    let out = brimline(["figures", "surveys/demo.ron", "--after", stage, "--json"]);
    status(&out, 0);
    serde_json::from_slice(&out.stdout).expect("JSON")
}

#[test]
fn every_key_of_the_ground_after_a_stage_is_documented() {
    let page = std::fs::read_to_string(root().join("src/report/KEYS.md")).expect("KEYS.md");
    let sections = || page.split("\n# What ");
    let read = |begins: &str| -> BTreeSet<String> {
        let section = sections().find(|s| s.trim_start_matches("# What ").starts_with(begins));
        let lines = section.expect("a section").lines();
        lines
            .filter_map(|l| Some(l.strip_prefix("| `")?.split_once('`')?.0.to_string()))
            .collect()
    };
    let mut documented = read("`brimline figures JOB --after");
    // Members that are said to be those of other sections.
    let figures = read("`brimline figures JOB --json");
    let soil = read("`brimline soil");
    let of = |keys: &BTreeSet<String>, prefix: &str| -> Vec<String> {
        keys.iter()
            .filter(|k| k.starts_with(prefix))
            .cloned()
            .collect()
    };
    documented.extend(of(&figures, "volumes."));
    let lying = of(&soil, "stages[].lying[].");
    documented.extend(lying.iter().map(|k| k.replace("stages[].", "")));
    let mut given = BTreeSet::new();
    for stage in ["clear the way", "low side", "5"] {
        keys(&after_json(stage), "", &mut given);
    }
    let unknown: Vec<_> = given.difference(&documented).collect();
    assert!(unknown.is_empty(), "not in KEYS.md: {unknown:?}");
    let missing: Vec<_> = documented
        .difference(&given)
        .filter(|k| !given.iter().any(|g| g.starts_with(&format!("{k}."))))
        // The demo has no errors.
        .filter(|k| *k != "findings[]")
        .collect();
    assert!(
        missing.is_empty(),
        "in KEYS.md but never given: {missing:?}"
    );
}

/// Triangles of the surface after a stage against the figures beside it: its area, and fill less cut since
/// the survey, both integrated here over the triangles.
#[test]
fn the_ground_after_a_stage_is_a_surface_with_its_figures() {
    let figure = |v: &Value| v.as_f64().expect("a figure");
    let over = |surface: &Value| {
        let corner = |k: &Value| -> [f64; 3] {
            let p = &surface["points"][k.as_u64().expect("index") as usize];
            [0, 1, 2].map(|i| p[i].as_f64().expect("metres"))
        };
        let (mut area, mut volume) = (0.0, 0.0);
        for t in surface["triangles"].as_array().expect("triangles") {
            let [a, b, c] = [0, 1, 2].map(|k| corner(&t[k]));
            let twice = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
            assert!(twice >= -1e-9, "counter-clockwise");
            area += 0.5 * twice;
            // Over 20 m, so that little is lost to rounding.
            volume += 0.5 * twice * ((a[2] + b[2] + c[2]) / 3.0 - 20.0);
        }
        (area, volume)
    };
    let out = brimline(["figures", "surveys/demo.ron", "--json", "--surfaces"]);
    status(&out, 0);
    let whole: Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let (bare, was) = over(&whole["surfaces"]["existing"]);
    let mut cuts = Vec::new();
    let mut alone = 0;
    for (n, stage) in ["clear the way", "low side", "dig", "falls", "leave"]
        .iter()
        .enumerate()
    {
        let after = after_json(stage);
        assert_eq!(after["stage"]["number"], n + 1);
        let (area, now) = over(&after["surface"]);
        let told = figure(&after["ground"]["area_m2"]);
        assert!(
            (area - told).abs() < 1e-6,
            "{stage}: {area} m², told {told}"
        );
        let v = &after["volumes"];
        let fill = figure(&v["existing_to_dug_fill_m3"]) - figure(&v["existing_to_dug_cut_m3"]);
        // Tops of walls are part of the surface and no soil. Of walls only the one on the terrace stands before
        // the second stage: its footprint is not part of the existing ground, and its cap, by the shots C1
        // and C2, is at 104.62 - 4.70 = 99.92 ft, give or take what is adjusted.
        if after["walls"].as_array().is_some_and(Vec::is_empty) {
            let wall = (area - bare) * (99.92 * 0.3048 - 20.0);
            let moved = now - was - wall;
            assert!(
                (moved - fill).abs() < 0.02,
                "{stage}: {moved} m³, told {fill}"
            );
            alone += 1;
        }
        cuts.push(figure(&v["cut_bank_m3"]));
        let page = text(&brimline(["figures", "surveys/demo.ron", "--after", stage]).stdout);
        assert!(
            page.contains(&format!("the ground after {stage}, stage {} of 5", n + 1)),
            "{page}"
        );
        let standing = after["lying"].to_string().contains("haul ramp");
        assert_eq!(standing, *stage != "leave", "{stage}: the ramp");
        assert!(page.lines().all(|l| l.chars().count() <= 80), "{page}");
    }
    assert_eq!(alone, 1, "stages before the new wall");
    assert!(cuts.is_sorted(), "{cuts:?}");
    let all = figure(&whole["volumes"]["cut_bank_m3"]);
    assert!(
        (cuts[4] - all).abs() < 1e-9,
        "{} m³ by the last stage, {all} in all",
        cuts[4]
    );
    assert_eq!(
        over(&after_json("leave")["surface"]).1,
        over(&whole["surfaces"]["dug"]).1
    );
}

/// What is printed at once is what each command prints by itself.
#[test]
fn all_papers_are_the_pages_of_the_commands() {
    let demo = "surveys/demo.ron";
    let all = brimline(["papers", demo]);
    status(&all, 0);
    let all = text(&all.stdout);
    let papers: Vec<&str> = all.split("\u{c}\n").collect();
    let commands = [
        "figures", "notes", "soil", "water", "takeoff", "stakes", "asbuilt",
    ];
    assert_eq!(papers.len(), commands.len());
    for (command, paper) in commands.into_iter().zip(papers) {
        assert_eq!(text(&brimline([command, demo]).stdout), paper, "{command}");
    }
}

/// One body has one word in all texts.
#[test]
fn the_berm_of_a_cascade_is_called_so_everywhere() {
    let demo = "surveys/demo.ron";
    for command in ["figures", "soil", "takeoff"] {
        let page = text(&brimline([command, demo]).stdout);
        assert!(
            !page.contains("surround") && !page.contains("soil round"),
            "{command}: {page}"
        );
        if command != "takeoff" {
            assert!(page.contains("falls: berm"), "{command}: {page}");
        }
    }
    let order = text(&brimline(["takeoff", demo]).stdout);
    let line = order
        .lines()
        .find(|l| l.contains("berm, compacted") && l.contains("falls"));
    assert!(line.is_some(), "{order}");
}

/// USDA NRCS, Agriculture Handbook 590, excavated pond: 53,952 × 2 ft³ = 3,996.44 yd³ (from
/// memory; see surveys/handbook-dugout.ron).
#[test]
fn the_handbook_pond_comes_out() {
    let job = "surveys/handbook-dugout.ron";
    let cut = figures_json(job)["volumes"]["cut_bank_m3"]
        .as_f64()
        .expect("a figure");
    let want = 53_952.0 * 2.0 * 0.3048f64.powi(3);
    assert!(
        (cut - want).abs() < 1e-9 * want,
        "cut {cut} m³, handbook {want} m³, off by {:e}",
        cut - want
    );
    let page = text(&brimline(["figures", job]).stdout);
    assert!(page.contains("3,996.44"), "{page}");
}

/// Borrow pit by unit areas, V = A / 4 × (Σh1 + 2 Σh2 + 3 Σh3 + 4 Σh4), US Army FM 5-233 (from
/// memory): 20 × 20 / 4 × 156.10 = 15,610 ft³ (the sums stand in surveys/borrow-pit.ron).
#[test]
fn the_borrow_pit_comes_out() {
    let cut = figures_json("surveys/borrow-pit.ron")["volumes"]["cut_bank_m3"]
        .as_f64()
        .expect("a figure");
    let want = 15_610.0 * 0.3048f64.powi(3);
    assert!(
        (cut - want).abs() < 1e-9 * want,
        "cut {cut} m³, by unit areas {want} m³, off by {:e}",
        cut - want
    );
}

#[test]
fn a_slip_is_named_in_figures_notes_and_json() {
    let job = slipped();
    let value = figures_json(&job);
    assert_eq!(value["survey"]["suspects"][0]["shot"], "23");
    let rod = value["survey"]["suspects"][0]["likely_rod_m"]
        .as_f64()
        .expect("a rod");
    assert!((rod - 5.21 * 0.3048).abs() < 1e-9, "likely rod {rod}");
    let notes = text(&brimline(["notes", &job]).stdout);
    assert!(
        notes.contains("shot 23: reads a whole foot high"),
        "{notes}"
    );
    assert!(notes.contains("shot twice: 0.50 ft apart"), "{notes}");
    assert!(notes.contains("agrees"), "{notes}");
    assert!(text(&brimline(["figures", &job]).stdout).contains("Suspect     23"));
}

#[test]
fn check_exits_1_on_an_error_and_figures_does_not() {
    let job = written(
        "open.ron",
        "(name: \"Open\", unit: Metre, field_book: (
            benchmarks: [(name: \"A\", elevation: 10, at: (0, 0)), (name: \"B\", elevation: 9)],
            setups: [(name: \"1\", backsight: (\"A\", 1.500), sights: [
                (\"1\", 1.6, (0, 1)), (\"2\", 1.7, (5, 1)), (\"3\", 1.8, (3, 6)), (\"B\", 1.400),
            ])],
        ))",
    );
    let out = brimline(["check", &job]);
    status(&out, 1);
    let page = text(&out.stdout);
    assert!(
        page.contains("ERROR") && page.contains("level run A to B"),
        "{page}"
    );
    status(&brimline(["figures", &job]), 0);
    let notes = text(&brimline(["notes", &job]).stdout);
    assert!(
        notes.contains("DOES NOT CLOSE") && notes.contains("not adjusted"),
        "{notes}"
    );
}

#[test]
fn without_ground_there_are_no_figures() {
    let job = written(
        "bare.ron",
        "(name: \"Bare\", unit: Metre, field_book: (benchmarks: [(name: \"A\", elevation: 10)]))",
    );
    let value = figures_json(&job);
    for key in ["cut_bank_m3", "fill_compacted_m3", "dug_to_finished_m3"] {
        assert!(value["volumes"][key].is_null(), "{key}: {value:#}");
    }
    assert!(value["ground"]["area_m2"].is_null() && value["soil"]["truck_loads"].is_null());
    assert!(text(&brimline(["figures", &job]).stdout).contains("no ground surface"));
}

#[test]
fn bad_input_exits_2_and_says_what_is_wrong() {
    let binary = written("binary.ron", "");
    std::fs::write(&binary, [0xFFu8, 0xFE, 0, 1, 2]).expect("written");
    let empty = written("empty.ron", "");
    let wrong = written("wrong.ron", "(name: 5)");
    let demo = "surveys/demo.ron";
    for (out, says) in [
        (
            brimline(["figures", "no/such/file.ron"]),
            "no/such/file.ron",
        ),
        (brimline(["figures", "surveys"]), "folder"),
        (brimline(["notes", &binary]), "UTF-8"),
        (brimline(["check", &empty]), "empty.ron"),
        (brimline(["view", &wrong]), "wrong.ron"),
        (brimline(["figures"]), "JOB"),
        (brimline(["figures", demo, "--surfaces"]), "--json"),
        (
            brimline(["figures", demo, "--after", "low sde"]),
            "no stage is called `low sde`; its stages: `clear the way`, `low side`,",
        ),
        (
            brimline(["figures", demo, "--after", "9", "--json"]),
            "no stage is called `9`",
        ),
        (
            brimline(["figures", "surveys/handbook-dugout.ron", "--after", "dig"]),
            "no `sequence`",
        ),
        (
            brimline(["figures", demo, "--json", "--contours", "-1"]),
            "from 0.001 to 1000",
        ),
        (
            brimline(["figures", demo, "--json", "--contours", "1e-9"]),
            "from 0.001 to 1000",
        ),
        (
            brimline(["figures", demo, "--json", "--contours", "NaN"]),
            "from 0.001 to 1000",
        ),
        // The demo's ground rises 9.02 ft = 2.75 m.
        (
            brimline(["figures", demo, "--json", "--contours", "0.001"]),
            "more than 2000 contours; give 0.002 or more",
        ),
        (
            brimline(["picture", demo, "--out", "x.png", "--size", "12"]),
            "1600x1000",
        ),
        (
            brimline(["picture", demo, "--out", "x.png", "--size", "0x9000"]),
            "1600x1000",
        ),
        (
            brimline(["picture", demo, "--out", "x.png", "--look", "nice"]),
            "finished",
        ),
        (brimline(["dig"]), "dig"),
    ] {
        status(&out, 2);
        let said = text(&out.stderr);
        assert!(said.contains(says), "no {says:?} in {said}");
        assert!(out.stdout.is_empty());
    }
}

#[test]
fn notes_say_what_was_adjusted_and_what_is_allowed() {
    let job = |last: &str, distance: &str| {
        let name = format!("notes{}{}.ron", last.len(), distance.len());
        written(
            &name,
            &format!(
                "(name: \"n\", unit: Foot, field_book: (benchmarks: [(name: \"BM\", elevation: 2)], \
                 setups: [(name: \"1\", backsight: (to: \"BM\", rod: 4{distance}), \
                 sights: [(\"1\", 7.5, (1, 1)), (to: \"BM\", rod: {last}{distance})])]))"
            ),
        )
    };
    let distance = ", distance: 30";
    for (last, distance, says) in [
        ("4.005", "", "elevations are adjusted"),
        ("4.00", "", "elevations are as booked"),
        ("4.5", "", "elevations are as booked"),
        // One minus sign, here as everywhere.
        ("4.5", "", "= −0.500 ft; last − first = −0.500 ft"),
        ("4.005", "", "3 mm × √(number of setups): common practice"),
        // 12 mm are 0.039 ft.
        ("4.00", distance, "0.039 ft × √(length of the run in km)"),
    ] {
        let out = brimline(["notes", &job(last, distance)]);
        status(&out, 0);
        let said = text(&out.stdout).replace('\n', " ");
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(says), "no {says:?} in {said}");
        assert!(!said.contains("-0.") && !said.contains("-3."), "{said}");
    }
}

#[test]
fn a_reader_that_goes_away_is_no_trouble() {
    for args in [
        ["figures", "surveys/demo.ron", "--json", "--surfaces"].as_slice(),
        &["figures", "surveys/demo.ron"],
        &["notes", "surveys/demo.ron"],
        &["--help"],
    ] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_brimline"))
            .args(args)
            .current_dir(root())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the command runs");
        drop(child.stdout.take());
        let out = child.wait_with_output().expect("the command ends");
        assert_eq!(text(&out.stderr), "", "{args:?}");
        assert_eq!(out.status.code(), Some(0), "{args:?}");
    }
}

/// Without a display (and without the feature `view`) one line says so and the figures follow.
#[test]
fn a_bare_command_shows_the_demo() {
    let out = brimline([]);
    status(&out, 0);
    let page = text(&out.stdout);
    let figures = text(&brimline(["figures", "surveys/demo.ron"]).stdout);
    let (line, rest) = page.split_once("\n\n").expect("a line, then the figures");
    assert_eq!(line.lines().count(), 1, "{line}");
    assert_eq!(rest, figures);
}

#[cfg(not(feature = "view"))]
#[test]
fn a_picture_that_cannot_be_made_is_not_a_success() {
    let out = brimline(["picture", "surveys/demo.ron", "--out", "never.png"]);
    status(&out, 2);
    assert!(text(&out.stderr).contains("3D view"));
}

/// Much of a plan is made side by side: none of it may depend on who comes first.
#[test]
fn figures_are_the_same_on_one_thread_and_on_many() {
    let said = |command: &str, threads: &str| {
        let out = Command::new(env!("CARGO_BIN_EXE_brimline"))
            .args([command, "surveys/demo.ron", "--json"])
            .current_dir(root())
            .env("RAYON_NUM_THREADS", threads)
            .output();
        let out = out.unwrap_or_else(|e| panic!("{command}: {e}"));
        let mut said: Value =
            serde_json::from_slice(&out.stdout).unwrap_or_else(|e| panic!("{command}: {e}"));
        // What the search for a ramp took is no figure of the job.
        if let Some(found) = said.get_mut("ramp_found").and_then(Value::as_object_mut) {
            assert!(found.remove("millis").is_some(), "{:?}", found.keys());
        }
        said
    };
    for command in ["figures", "water", "soil", "takeoff"] {
        let alone = said(command, "1");
        for threads in ["2", "3", "4", "8"] {
            assert!(said(command, threads) == alone, "{command} on {threads}");
        }
    }
}
