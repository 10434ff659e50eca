//! Every command of the editor, what it leaves alone, and its undo. Jobs are invented.

use brimline::edit::{Address, Default, Edit, Editor, New, NotSaved, Outcome, Refused};
use brimline::job::{At, Height, Level, Place, Unit};

const FOOT: f64 = 0.3048;

const YARD: &str = r#"// An invented yard.
(
    name: "Yard",
    unit: Foot,
    field_book: (
        benchmarks: [(name: "BM", elevation: 100, assumed: true, at: (0, 0))],
        baselines: [(name: "A", from: (0, 0), to: (40, 0))],
        setups: [
            (name: "1", backsight: ("BM", 4.25), sights: [
                ("1", 4.60, Offset("A", 0, -24)), // by the gate
                ("2", 5.05, Offset("A", 30, "-24'-0")),
                ("3", "6'-1 1/2", (26, 14)),
                ("4", 5.20, Grid("A", 5, 0, 0)),
            ]),
        ],
    ),
    site: (
        breaklines: [("bank", ["1", "2"])],
    ),
    design: (
        basins: [(
            name: "pond",
            // Just under the wall.
            water: BelowCap("wall", "4 in"),
            outline: [(10, 8), (20, 8), "3", (10, 16)],
            shelves: [(depth: "10 in", width: "12 in")],
            edge_batters: [(1, 2), (3, 0.5)],
        )],
        cascades: [(name: "falls", into: "pond", centreline: [(15, 24), (15, 16)], pools: [("top", 5, 4, 1)])],
        walls: [(name: "wall", line: [(8, 6), (22, 6)], back: Left, cap: 99.50)],
        ramps: [(name: "ramp", line: [(40, 0), (30, 4)], profile: [98, 99])],
    ),
    sequence: [
        (name: "first", works: ["ramp", "wall"]),
        (name: "dig", works: ["pond", "falls"], take_back: ["ramp"]),
    ],
)
"#;

fn at(text: &str) -> Address {
    Address::of(text).expect(text)
}

fn yard() -> Editor {
    let editor = Editor::of_text("yard", YARD);
    if let Some(errors) = editor.errors() {
        panic!("{errors}");
    }
    editor
}

/// Makes an edit and checks that the text changed from `old` to `new` in one place and nowhere
/// else, that undo and redo lead there and back, and that the label is this one.
#[track_caller]
fn changes(edit: Edit, old: &str, new: &str, label: &str) {
    let editor = made(edit, label);
    assert_eq!(
        YARD.matches(old).count(),
        1,
        "{old} stands once in the yard"
    );
    assert_eq!(editor.text(), YARD.replace(old, new));
}

#[track_caller]
fn made(edit: Edit, label: &str) -> Editor {
    let mut editor = yard();
    match editor.apply(&edit) {
        Ok(outcome) => assert_eq!(outcome, Outcome::Changed),
        Err(refused) => panic!("{refused}"),
    }
    let after = editor.text().to_string();
    assert_eq!(editor.history().undo_label(), Some(label));
    assert!(editor.is_changed());
    assert_eq!(editor.undo().as_deref(), Some(label));
    assert_eq!(editor.text(), YARD);
    assert!(!editor.is_changed() && editor.is_good());
    assert_eq!(editor.redo().as_deref(), Some(label));
    assert_eq!(editor.text(), after);
    editor
}

#[track_caller]
fn refused(edit: Edit, says: &str) {
    let mut editor = yard();
    let why = editor.apply(&edit).expect_err("refused").to_string();
    assert_eq!(why, says);
    assert_eq!(editor.text(), YARD);
    assert_eq!(editor.history().undo_label(), None);
}

fn typed(address: &str, text: &str) -> Edit {
    Edit::typed(&at(address), text)
}

fn good(editor: &Editor) {
    if let Some(errors) = editor.errors() {
        panic!("{errors}\n{}", editor.text());
    }
}

#[test]
fn a_field_is_typed() {
    changes(
        typed("field_book.setups[0].sights[1].rod", "5'-1"),
        "5.05",
        "\"5'-1\"",
        "typed rod of shot 2",
    );
    changes(
        typed("design.basins[\"pond\"].water", "98.25"),
        "BelowCap(\"wall\", \"4 in\")",
        "98.25",
        "typed water of \"pond\"",
    );
    changes(
        typed("design.basins[0].water.by", "6 in"),
        "\"4 in\"",
        "\"6 in\"",
        "typed by of water of \"pond\"",
    );
    changes(
        typed("name", "A \"new\" yard"),
        "\"Yard\"",
        r#""A \"new\" yard""#,
        "typed name",
    );
}

#[test]
fn a_field_that_is_not_there_goes_where_the_table_has_it() {
    changes(
        typed("design.basins[0].floor_depth", "30 in"),
        "width: \"12 in\")],\n",
        "width: \"12 in\")],\n            floor_depth: \"30 in\",\n",
        "typed floor depth of \"pond\"",
    );
    changes(
        typed("design.walls[0].thickness", "10 in"),
        "cap: 99.50",
        "cap: 99.50, thickness: \"10 in\"",
        "typed thickness of \"wall\"",
    );
    changes(
        typed("remarks", "gate code: ask"),
        "unit: Foot,\n",
        "unit: Foot,\n    remarks: \"gate code: ask\",\n",
        "typed remarks",
    );
    changes(
        typed("soil.topsoil_depth", "6 in"),
        "    sequence: [",
        "    soil: (\n        topsoil_depth: \"6 in\",\n    ),\n    sequence: [",
        "typed topsoil depth",
    );
    // Values without names: one more at the end, or the names are written in.
    changes(
        typed("field_book.setups[0].sights[0].remark", "gate"),
        "Offset(\"A\", 0, -24))",
        "Offset(\"A\", 0, -24), \"gate\")",
        "typed remark of shot 1",
    );
    changes(
        typed("field_book.setups[0].sights[0].ground", "no"),
        "(\"1\", 4.60, Offset(\"A\", 0, -24))",
        "(to: \"1\", rod: 4.60, at: Offset(\"A\", 0, -24), ground: false)",
        "typed ground of shot 1",
    );
}

#[test]
fn a_field_goes_back_to_its_default() {
    changes(
        Edit::Clear {
            at: at("design.basins[0].edge_batters"),
        },
        "            edge_batters: [(1, 2), (3, 0.5)],\n",
        "",
        "cleared edge batters of \"pond\"",
    );
    changes(
        typed("field_book.benchmarks[0].assumed", ""),
        ", assumed: true",
        "",
        "typed assumed of \"BM\"",
    );
    changes(
        Edit::Clear {
            at: at("field_book.setups[0].sights[2].at"),
        },
        "(\"3\", \"6'-1 1/2\", (26, 14))",
        "(\"3\", \"6'-1 1/2\")",
        "cleared at of shot 3",
    );
    refused(
        Edit::Clear {
            at: at("design.walls[0].cap"),
        },
        "cap of \"wall\" must be given: it can be changed, not left out",
    );
}

#[test]
fn items_come_and_go() {
    changes(
        Edit::Insert {
            list: at("field_book.setups[0].sights"),
            index: 4,
            item: None,
        },
        "Grid(\"A\", 5, 0, 0)),\n",
        "Grid(\"A\", 5, 0, 0)),\n                (\"5\", \"\"),\n",
        "added shot 5",
    );
    changes(
        Edit::Insert {
            list: at("design.basins[0].shelves"),
            index: 1,
            item: Some("(depth: \"18 in\", width: 1)".into()),
        },
        "width: \"12 in\")]",
        "width: \"12 in\"), (depth: \"18 in\", width: 1)]",
        "added shelf 2 of \"pond\"",
    );
    let editor = made(
        Edit::Insert {
            list: at("design.pads"),
            index: 0,
            item: Some(
                "(name: \"seat\", outline: [(50, 0), (60, 0), (60, 9)], elevation: 99)".into(),
            ),
        },
        "added pad \"seat\"",
    );
    assert!(
        editor
            .text()
            .contains("    pads: [\n            (name: \"seat\""),
        "{}",
        editor.text()
    );
    changes(
        Edit::Delete {
            at: at("field_book.setups[0].sights[3]"),
        },
        "                (\"4\", 5.20, Grid(\"A\", 5, 0, 0)),\n",
        "",
        "deleted shot 4",
    );
    changes(
        Edit::Shift {
            at: at("field_book.setups[0].sights[0]"),
            to: 1,
        },
        "                (\"1\", 4.60, Offset(\"A\", 0, -24)), // by the gate\n                (\"2\", 5.05, Offset(\"A\", 30, \"-24'-0\")),\n",
        "                (\"2\", 5.05, Offset(\"A\", 30, \"-24'-0\")),\n                (\"1\", 4.60, Offset(\"A\", 0, -24)), // by the gate\n",
        "moved shot 1 to place 2",
    );
    refused(
        Edit::Shift {
            at: at("field_book.setups[0].sights[0]"),
            to: 9,
        },
        "sights of setup 1 has only 4",
    );
    refused(
        Edit::Delete {
            at: at("design.walls[0].line[0]"),
        },
        "line of \"wall\" needs at least 2: delete the whole of it instead",
    );
    refused(
        Edit::Insert {
            list: at("design.pads"),
            index: 0,
            item: Some("(name: ".into()),
        },
        "`(name: ` cannot be written: the file breaks off here",
    );
    refused(
        Edit::Insert {
            list: at("design.pads"),
            index: 0,
            item: Some("1 // one".into()),
        },
        "`1 // one` cannot be written: one value, without comments or blanks around it",
    );
    refused(
        Edit::Delete {
            at: at("design.ponds[0]"),
        },
        "there is no `design.ponds[0]` in this job",
    );
}

#[test]
fn copies_have_names_of_their_own() {
    let editor = made(
        Edit::Copy {
            at: at("design.basins[0]"),
        },
        "copied \"pond\"",
    );
    good(&editor);
    let job = editor.job().expect("a job");
    assert_eq!(job.design.basins[1].name, "pond 2");
    assert_eq!(job.design.basins[1].shelves, job.design.basins[0].shelves);
    assert_eq!(job.sequence[1].works, ["pond", "falls", "pond 2"]);
    assert_eq!(editor.text().matches("// Just under the wall.").count(), 2);
    let editor = made(
        Edit::Copy {
            at: at("design.cascades[0]"),
        },
        "copied \"falls\"",
    );
    good(&editor);
    let falls = &editor.job().expect("a job").design.cascades[1];
    assert_eq!(
        (falls.name.as_str(), falls.pools[0].name.as_str()),
        ("falls 2", "top 2")
    );
    changes(
        Edit::Copy {
            at: at("design.cascades[0].pools[0]"),
        },
        "(\"top\", 5, 4, 1)",
        "(\"top\", 5, 4, 1), (\"top 2\", 5, 4, 1)",
        "copied \"top\"",
    );
    refused(
        Edit::Copy {
            at: at("design.basins[0].outline[1]"),
        },
        "a copied point would lie on the first; add a point between two",
    );
}

#[test]
fn deleting_asks_who_leans_on_it() {
    refused(
        Edit::Delete {
            at: at("design.basins[0]"),
        },
        "\"pond\" is still used by into of \"falls\"; change that first",
    );
    refused(
        Edit::Delete {
            at: at("field_book.setups[0].sights[2]"),
        },
        "\"3\" is still used by corner 3 of \"pond\"; change that first",
    );
    refused(
        Edit::Delete {
            at: at("field_book.baselines[0]"),
        },
        "\"A\" is still used by baseline of at of shot 1, baseline of at of shot 2, baseline of at of shot 4; change that first",
    );
    let editor = made(
        Edit::Delete {
            at: at("design.ramps[0]"),
        },
        "deleted ramp \"ramp\"",
    );
    good(&editor);
    assert!(!editor.text().contains("\"ramp\""));
    let editor = made(
        Edit::Delete {
            at: at("sequence[1]"),
        },
        "deleted stage \"dig\"",
    );
    good(&editor);
    let job = editor.job().expect("a job");
    assert_eq!(job.sequence[0].works, ["ramp", "wall", "pond", "falls"]);
    assert_eq!(job.sequence[0].take_back, ["ramp"]);
    let editor = made(
        Edit::Delete {
            at: at("sequence[0]"),
        },
        "deleted stage \"first\"",
    );
    good(&editor);
    assert_eq!(
        editor.job().expect("a job").sequence[0].works,
        ["ramp", "wall", "pond", "falls"]
    );
}

#[test]
fn names_change_everywhere() {
    for (thing, old, new, count) in [
        ("design.basins[0]", "pond", "lily pond", 3),
        ("design.walls[\"wall\"]", "wall", "low wall", 3),
        ("design.ramps[0].name", "ramp", "way in", 3),
        ("field_book.baselines[0]", "A", "fence", 4),
    ] {
        let edit = Edit::Rename {
            at: at(thing),
            name: new.into(),
        };
        let editor = made(edit, &format!("renamed {old} to {new}"));
        good(&editor);
        let (old, new) = (format!("\"{old}\""), format!("\"{new}\""));
        assert_eq!(YARD.matches(&old).count(), count, "{old}");
        assert_eq!(editor.text(), YARD.replace(&old, &new));
    }
    // Typing in a name's cell does the same.
    let editor = made(
        typed("design.basins[0].name", "lake"),
        "typed name of \"pond\"",
    );
    assert_eq!(editor.text(), YARD.replace("\"pond\"", "\"lake\""));
    // A shot: the sight, the breakline.
    let edit = Edit::Rename {
        at: at("field_book.setups[0].sights[0]"),
        name: "G".into(),
    };
    let editor = made(edit, "renamed 1 to G");
    good(&editor);
    assert_eq!(
        editor.text(),
        YARD.replace("(\"1\", 4.60", "(\"G\", 4.60")
            .replace("[\"1\", \"2\"]", "[\"G\", \"2\"]")
    );
    for (thing, name, says) in [
        (
            "design.basins[0]",
            "wall",
            "a wall or other feature is called \"wall\" already; every name once",
        ),
        (
            "field_book.setups[0].sights[0]",
            "BM",
            "a benchmark, peg, point or shot is called \"BM\" already; every name once",
        ),
        ("design.basins[0]", "  ", "not a name: it is empty"),
        ("soil", "x", "soil has no name"),
    ] {
        refused(
            Edit::Rename {
                at: at(thing),
                name: name.into(),
            },
            says,
        );
    }
}

#[test]
fn places_are_moved_in_the_style_they_are_written_in() {
    let moved = |address: &str, x: f64, y: f64| Edit::Move {
        at: at(address),
        to: [x * FOOT, y * FOOT],
    };
    changes(
        moved("design.basins[0].outline[1]", 21.256, 7.5),
        "(20, 8)",
        "(21.26, 7.5)",
        "moved corner 2 of \"pond\"",
    );
    changes(
        moved("design.basins[0].outline[2]", 22.0, 15.0),
        "\"3\", (10, 16)",
        "(22, 15), (10, 16)",
        "moved corner 3 of \"pond\"",
    );
    changes(
        moved("field_book.setups[0].sights[1].at", 31.5, 23.5),
        "Offset(\"A\", 30, \"-24'-0\")",
        "Offset(\"A\", 31.5, \"-23'-6\")",
        "moved at of shot 2",
    );
    changes(
        moved("field_book.setups[0].sights[3].at", 2.5, 5.0),
        "Grid(\"A\", 5, 0, 0)",
        "Grid(\"A\", 5, 0.5, -1)",
        "moved at of shot 4",
    );
    changes(
        moved("field_book.benchmarks[0].at", 1.0, -0.001),
        "at: (0, 0)",
        "at: (1, 0)",
        "moved at of \"BM\"",
    );
    refused(
        moved("design.walls[0].cap", 1.0, 1.0),
        "cap of \"wall\" is no place that can be moved",
    );
    refused(
        Edit::Move {
            at: at("design.basins[0].outline[1]"),
            to: [f64::NAN, 0.0],
        },
        "NaN m is no length that a yard can have (up to 100 km)",
    );
}

#[test]
fn a_whole_thing_is_moved() {
    let editor = made(
        Edit::MoveBy {
            at: at("design.basins[0]"),
            by: [FOOT, -2.0 * FOOT],
        },
        "moved \"pond\"",
    );
    good(&editor);
    assert_eq!(
        editor.text(),
        YARD.replace(
            "[(10, 8), (20, 8), \"3\", (10, 16)]",
            "[(11, 6), (21, 6), (27, 12), (11, 14)]"
        )
    );
    refused(
        Edit::MoveBy {
            at: at("sequence[0]"),
            by: [1.0, 1.0],
        },
        "stage \"first\" is no place that can be moved",
    );
}

#[test]
fn an_outline_that_repeats_its_first_point_stays_closed() {
    let text = YARD.replace("(10, 16)]", "(10, 16), (10, 8)]");
    let mut editor = Editor::of_text("yard", &text);
    good(&editor);
    let edit = Edit::Move {
        at: at("design.basins[0].outline[0]"),
        to: [9.0 * FOOT, 7.0 * FOOT],
    };
    editor.apply(&edit).expect("moved");
    assert_eq!(editor.text(), text.replace("(10, 8)", "(9, 7)"));
}

#[test]
fn what_counts_along_a_line_stays_in_step() {
    let add = |list: &str, index: usize, x: f64, y: f64| Edit::AddPoint {
        list: at(list),
        index,
        at: [x * FOOT, y * FOOT],
    };
    let editor = made(
        add("design.basins[0].outline", 2, 22.0, 9.0),
        "added corner 3 of \"pond\"",
    );
    good(&editor);
    assert_eq!(
        editor.text(),
        YARD.replace("(20, 8), \"3\"", "(20, 8), (22, 9), \"3\"")
            .replace("[(1, 2), (3, 0.5)]", "[(1, 2), (4, 0.5), (2, 2)]")
    );
    let editor = made(
        add("design.ramps[0].line", 1, 35.0, 2.0),
        "added point 2 of \"ramp\"",
    );
    good(&editor);
    assert_eq!(
        editor.text(),
        YARD.replace("[(40, 0), (30, 4)]", "[(40, 0), (35, 2), (30, 4)]")
            .replace("[98, 99]", "[98, 98.5, 99]")
    );
    let editor = made(
        Edit::Delete {
            at: at("design.basins[0].outline[1]"),
        },
        "deleted corner 2 of \"pond\"",
    );
    good(&editor);
    assert_eq!(
        editor.text(),
        YARD.replace("(20, 8), \"3\"", "\"3\"")
            .replace("[(1, 2), (3, 0.5)]", "[(2, 0.5)]")
    );
    refused(
        Edit::Shift {
            at: at("design.basins[0].outline[0]"),
            to: 2,
        },
        "\"pond\" has `edge_batters`, which count along its outline: clear them before changing the order of its corners",
    );
}

#[test]
fn lengths_are_set_as_they_are_written() {
    let set = |address: &str, metres: f64| Edit::Length {
        at: at(address),
        metres,
    };
    changes(
        set("design.walls[0].cap", 99.756 * FOOT),
        "99.50",
        "99.76",
        "set cap of \"wall\"",
    );
    changes(
        set("design.basins[0].water.by", 0.5 * FOOT),
        "\"4 in\"",
        "\"6 in\"",
        "set by of water of \"pond\"",
    );
    changes(
        set("field_book.setups[0].sights[2].rod", 5.75 * FOOT),
        "\"6'-1 1/2\"",
        "\"5'-9\"",
        "set rod of shot 3",
    );
    // Not written yet: in the style of its default.
    changes(
        set("design.basins[0].floor_depth", 2.5 * FOOT),
        "width: \"12 in\")],\n",
        "width: \"12 in\")],\n            floor_depth: \"30 in\",\n",
        "set floor depth of \"pond\"",
    );
    refused(
        set("name", 1.0),
        "`3.28` cannot be written: name is no length",
    );
}

#[test]
fn a_drag_is_one_step() {
    let mut editor = yard();
    let corner = at("design.basins[0].outline[2]");
    for step in 0..100 {
        let to = [f64::from(step) * 0.1, 5.0];
        editor
            .apply_as(
                "drag",
                &Edit::Move {
                    at: corner.clone(),
                    to,
                },
            )
            .expect("moved");
    }
    let after = editor.text().to_string();
    assert!(after.contains("(20, 8), (32.48, 16.4), (10, 16)"));
    // A position that cannot be: the one before stays.
    let bad = Edit::Move {
        at: corner.clone(),
        to: [f64::INFINITY, 0.0],
    };
    assert!(editor.apply_as("drag", &bad).is_err());
    assert_eq!(editor.text(), after);
    editor.end_gesture();
    editor
        .apply_as(
            "drag",
            &Edit::Move {
                at: corner.clone(),
                to: [0.0, 9.0],
            },
        )
        .expect("moved");
    let (steps, standing) = editor.history().steps();
    assert_eq!((steps.len(), standing), (2, 2));
    editor.abandon_gesture("drag");
    assert_eq!(editor.text(), after);
    editor.undo().expect("the drag");
    assert_eq!(editor.text(), YARD);
    assert!(
        editor.history().size() < 100,
        "only what was replaced is kept"
    );
}

#[test]
fn a_bad_cell_keeps_its_text_and_the_last_good_job_stays() {
    let mut editor = yard();
    let job = editor.job().expect("a job").clone();
    let rod = at("field_book.setups[0].sights[1].rod");
    for cell in [
        "5.0.5",
        "17.05",
        "(",
        "\"",
        "five",
        "5 // five",
        "-3",
        "5 \\ \n 6",
        "",
    ] {
        editor
            .apply_as("rod", &Edit::typed(&rod, cell))
            .expect(cell);
        assert!(!editor.is_good(), "{cell}");
        assert_eq!(editor.job().expect("a job"), &job);
        let rows = editor.rows(&at("field_book.setups[0].sights"), 0..4);
        let wrong: Vec<&str> = rows
            .iter()
            .flat_map(|r| &r.fields)
            .filter(|f| !f.problems.is_empty())
            .map(|f| f.shown.as_str())
            .collect();
        assert_eq!(wrong, [cell.trim()], "{:?}", editor.problems());
        let span = editor.problems()[0].span.clone();
        assert_eq!(editor.address_at(span.start), Some(rod.clone()));
    }
    editor
        .apply_as("rod", &Edit::typed(&rod, "5.06"))
        .expect("typed");
    assert!(editor.is_good());
    assert_eq!(
        editor.history().steps().0.len(),
        1,
        "typing in one cell is one step"
    );
    // Typed back to what it was: no step at all.
    editor
        .apply_as("rod", &Edit::typed(&rod, "5.05"))
        .expect("typed");
    assert_eq!(editor.text(), YARD);
    assert!(!editor.is_changed());
    assert_eq!(editor.history().steps().0.len(), 0);
}

#[test]
fn impossible_shapes_are_refused_or_shown() {
    let across = Edit::Move {
        at: at("design.basins[0].outline[0]"),
        to: [24.0 * FOOT, 20.0 * FOOT],
    };
    let mut editor = yard();
    let why = editor
        .apply_if_good(&across)
        .expect_err("crosses itself")
        .to_string();
    assert!(
        why.contains("crosses itself") && why.contains("the corners in order"),
        "{why}"
    );
    assert_eq!(editor.text(), YARD);
    assert!(editor.is_good() && !editor.is_changed());
    editor.apply(&across).expect("held");
    assert!(!editor.is_good());
    assert_eq!(editor.problems().len(), 1);
    let deep = typed("design.basins[0].shelves[0].depth", "40 in");
    let why = yard()
        .apply_if_good(&deep)
        .expect_err("under the floor")
        .to_string();
    assert!(why.contains("is not above the floor"), "{why}");
    let line = typed("design.walls[0].line[1]", "8, 6");
    let why = yard()
        .apply_if_good(&line)
        .expect_err("no length")
        .to_string();
    assert!(why.contains("repeats the one before it"), "{why}");
}

#[test]
fn several_edits_are_one_step_or_none() {
    let good_edit = typed("design.walls[0].thickness", "10 in");
    let bad = Edit::Delete {
        at: at("design.basins[0]"),
    };
    let all = |edits| Edit::All {
        label: "made the wall thinner".into(),
        edits,
    };
    made(
        all(vec![
            good_edit.clone(),
            typed("design.walls[0].base_width", "20 in"),
        ]),
        "made the wall thinner",
    );
    let mut editor = yard();
    assert!(matches!(
        editor.apply(&all(vec![good_edit, bad])),
        Err(Refused::StillUsed { .. })
    ));
    assert_eq!(editor.text(), YARD);
}

#[test]
fn nothing_done_is_no_step() {
    let mut editor = yard();
    for edit in [
        typed("name", "Yard"),
        typed("design.basins[0].water.by", "4 in"),
        typed("design.basins[0].outline[2]", "3"),
        Edit::Clear {
            at: at("design.basins[0].smooth"),
        },
        Edit::Shift {
            at: at("sequence[0]"),
            to: 0,
        },
        Edit::Text(YARD.into()),
    ] {
        assert_eq!(editor.apply(&edit), Ok(Outcome::AsBefore), "{edit:?}");
    }
    assert_eq!(editor.history().undo_label(), None);
    assert_eq!((editor.undo(), editor.redo()), (None, None));
}

#[test]
fn the_whole_text_can_be_changed_even_to_nonsense() {
    let mut editor = yard();
    editor.apply(&Edit::Text("(name: ".into())).expect("held");
    assert!(!editor.is_good());
    assert!(editor.job().is_some());
    let why = editor
        .apply(&typed("name", "x"))
        .expect_err("no tree")
        .to_string();
    assert_eq!(
        why,
        "the text breaks off at line 1: the file breaks off here; mend it as text first"
    );
    assert!(editor.rows(&at("sequence"), 0..9).is_empty());
    assert!(editor.sheet(&at("")).is_none());
    editor
        .apply(&Edit::Text(YARD.replace("Yard", "Ÿard")))
        .expect("mended");
    good(&editor);
    editor.undo();
    editor.undo();
    assert_eq!(editor.text(), YARD);
    assert!(matches!(
        editor.apply(&Edit::Text("x".repeat(17 << 20))),
        Err(Refused::TooLong(_))
    ));
}

#[test]
fn everything_can_be_added_to_an_empty_job() {
    for unit in [Unit::Foot, Unit::Metre] {
        let mut editor = Editor::new_job("New", unit);
        good(&editor);
        assert!(!editor.is_changed());
        let refuse = Edit::Add {
            what: New::Cascade,
            at: [0.0, 0.0],
            elevation: 30.0,
        };
        assert_eq!(
            editor.apply(&refuse).expect_err("no basin").to_string(),
            "a cascade needs a basin to fall into: add that first"
        );
        for round in 0..2 {
            for (i, what) in New::ALL.into_iter().enumerate() {
                let place = [4.0 * i as f64, 20.0 * f64::from(round)];
                editor
                    .apply(&Edit::Add {
                        what,
                        at: place,
                        elevation: 30.0,
                    })
                    .unwrap_or_else(|e| panic!("{what:?}: {e}"));
                let problems: Vec<&str> =
                    editor.problems().iter().map(|p| p.what.as_str()).collect();
                // A setup waits for its rod reading, and a first stage for the works before it.
                let waits = what == New::Setup || what == New::Stage;
                assert!(
                    waits || problems.is_empty(),
                    "{what:?}: {problems:?}\n{}",
                    editor.text()
                );
                if what == New::Setup {
                    let rod = at(&format!("field_book.setups[{round}].backsight.rod"));
                    editor.apply(&Edit::typed(&rod, "1.5 m")).expect("typed");
                }
                if what == New::Stage && round == 0 {
                    editor.undo();
                }
            }
        }
        let stage = at("sequence[0].works");
        for entry in editor.contents(false) {
            if entry.address.to_string().starts_with("design")
                && !entry.address.to_string().contains("pools")
                && !entry.address.to_string().contains("lining")
            {
                let item = format!("\"{}\"", entry.name.expect("a name"));
                let index = editor.count(&stage);
                editor
                    .apply(&Edit::Insert {
                        list: stage.clone(),
                        index,
                        item: Some(item),
                    })
                    .expect("joined");
            }
        }
        good(&editor);
        let job = editor.job().expect("a job");
        assert_eq!(
            job.design.basins.len() + job.design.ramps.len() + job.site.walls.len(),
            6
        );
        // A new feature joins the stages.
        editor
            .apply(&Edit::Add {
                what: New::Pad,
                at: [0.0, 60.0],
                elevation: 30.0,
            })
            .expect("added");
        good(&editor);
        while editor.undo().is_some() {}
        assert_eq!(editor.text(), Editor::new_job("New", unit).text());
    }
}

#[test]
fn forms_say_all_about_a_field() {
    let editor = yard();
    let pond = editor
        .sheet(&at("design.basins[\"pond\"]"))
        .expect("the pond");
    assert_eq!(
        (pond.record, pond.noun.as_str(), pond.name.as_deref()),
        ("Basin", "basin", Some("pond"))
    );
    let cell = |name: &str| pond.fields.iter().find(|f| f.name == name).expect(name);
    let water = cell("water");
    assert_eq!(water.shown, "BelowCap(\"wall\", \"4 in\")");
    assert_eq!((water.record, water.unit), (Some("BelowCap"), Some("ft")));
    assert!(
        editor
            .choices(&water.form)
            .contains(&"BelowCap(\"wall\", \"4 in\")".to_string())
    );
    let below = editor.sheet(&water.address).expect("a record of its own");
    assert_eq!(below.fields[0].shown, "wall");
    assert_eq!(editor.choices(&below.fields[0].form), ["wall"]);
    let depth = cell("floor_depth");
    assert_eq!(depth.default, Default::Is("24 in".into()));
    assert!(!depth.is_written && depth.shown.is_empty());
    assert!(depth.meaning.starts_with("Finished floor"));
    assert_eq!(cell("outline").count, Some(4));
    assert_eq!(cell("outline_at").kind, "`Water` or `Floor`");
    assert_eq!(editor.choices(&cell("outline_at").form), ["Water", "Floor"]);
    assert_eq!(
        editor.shown(&at("design.basins[0].outline[2]")).as_deref(),
        Some("3")
    );
    // A record that is not written has a form as well.
    let soil = editor.sheet(&at("soil")).expect("the soil");
    assert!(soil.fields.iter().all(|f| !f.is_written));
    assert_eq!(soil.fields[0].default, Default::Is("CommonEarth".into()));
    let places = editor.choices(&brimline::job::Form::Point);
    assert_eq!(places, ["BM", "1", "2", "3", "4"]);
    assert_eq!(
        editor.find_named("Sight", "3"),
        Some(at("field_book.setups[0].sights[2]"))
    );
    assert_eq!(
        editor.find_named("Ramp", "ramp"),
        Some(at("design.ramps[0]"))
    );
    assert_eq!(editor.next_shot(), "5");
    // What is missing is said at the field.
    let text = YARD.replace(", back: Left", "");
    let editor = Editor::of_text("yard", &text);
    let wall = editor.sheet(&at("design.walls[0]")).expect("the wall");
    let wrong: Vec<&str> = wall
        .fields
        .iter()
        .filter(|f| !f.problems.is_empty())
        .map(|f| f.name)
        .collect();
    assert_eq!(wrong, ["back"]);
    assert!(editor.job().is_none() && wall.problems.is_empty());
}

/// Every field of every record, shown and typed again, changes nothing: for all jobs there are.
#[test]
fn what_is_shown_can_be_typed() {
    for (name, text) in jobs() {
        let mut editor = Editor::of_text(name, text);
        good(&editor);
        let old = editor.job().expect("a job").clone();
        let mut open = vec![Address::job()];
        let mut fields = 0;
        while let Some(address) = open.pop() {
            let Some(sheet) = editor.sheet(&address) else {
                continue;
            };
            for cell in sheet.fields.iter().filter(|f| f.is_written) {
                fields += 1;
                // Not as a change of nothing: through another text and back.
                let before = Edit::Write {
                    at: cell.address.clone(),
                    value: "\"?\"".into(),
                };
                let same = Edit::typed(&cell.address, &cell.shown);
                assert_eq!(
                    editor.apply(&same),
                    Ok(Outcome::AsBefore),
                    "{name} {}",
                    cell.address
                );
                editor.apply(&before).expect("held");
                editor
                    .apply(&same)
                    .unwrap_or_else(|e| panic!("{name} {}: {e}", cell.address));
                good(&editor);
                assert_eq!(editor.job(), Some(&old), "{name} {}", cell.address);
                editor.undo();
                editor.undo();
                assert_eq!(editor.text(), text);
                // The longest list is enough by a sample.
                for i in 0..cell.count.unwrap_or(0).min(6) {
                    open.push(cell.address.item(i));
                }
                if cell.record.is_some() {
                    open.push(cell.address.clone());
                }
            }
        }
        assert!(fields > 15, "{name}: {fields} fields");
    }
}

fn jobs() -> [(&'static str, &'static str); 6] {
    [
        ("demo", include_str!("../surveys/demo.ron")),
        ("terrace", include_str!("../surveys/terrace-metric.ron")),
        ("pit", include_str!("../surveys/borrow-pit.ron")),
        ("dugout", include_str!("../surveys/handbook-dugout.ron")),
        ("whole", include_str!("whole.ron")),
        ("smallest", include_str!("smallest.ron")),
    ]
}

/// Types a job into an empty one, field by field, as somebody at the window would.
fn build(from: &Editor, to: &mut Editor, address: &Address) {
    let sheet = from.sheet(address).unwrap_or_else(|| panic!("{address}"));
    let here = to.sheet(address).unwrap_or_else(|| panic!("{address}"));
    for (cell, new) in sheet.fields.iter().zip(&here.fields) {
        let apply = |to: &mut Editor, edit: Edit| {
            to.apply(&edit)
                .unwrap_or_else(|e| panic!("{}: {e}", cell.address));
        };
        if !cell.is_written {
            if new.is_written && new.default != Default::Required {
                apply(
                    to,
                    Edit::Clear {
                        at: cell.address.clone(),
                    },
                );
            }
            continue;
        }
        match cell.count {
            None if matches!(cell.form, brimline::job::Form::Record(_)) => {
                build(from, to, &cell.address)
            }
            None => apply(to, Edit::typed(&cell.address, &cell.shown)),
            Some(0) => apply(to, Edit::typed(&cell.address, &cell.shown)),
            Some(count) => {
                for i in 0..count {
                    let item = cell.address.item(i);
                    apply(
                        to,
                        Edit::Insert {
                            list: cell.address.clone(),
                            index: i,
                            item: None,
                        },
                    );
                    let record = matches!(&cell.form, brimline::job::Form::List { of, .. } if matches!(**of, brimline::job::Form::Record(_)));
                    if record {
                        build(from, to, &item);
                    } else {
                        let shown = from.shown(&item).expect("an item");
                        apply(to, Edit::typed(&item, &shown));
                    }
                }
            }
        }
    }
}

#[test]
fn the_demo_is_built_from_nothing_by_commands_alone() {
    for (name, text) in jobs() {
        let target = Editor::of_text(name, text);
        let mut editor = Editor::new_job("", Unit::Foot);
        build(&target, &mut editor, &Address::job());
        good(&editor);
        assert_eq!(editor.job(), target.job(), "{name}");
        // It reads like a field book: a line for each shot.
        let lines = editor.text().lines().count();
        let shots: usize = target
            .job()
            .expect("a job")
            .field_book
            .setups
            .iter()
            .map(|s| s.sights.len())
            .sum();
        assert!(
            lines > shots,
            "{lines} lines for {shots} shots:\n{}",
            editor.text()
        );
        let steps = editor.history().steps().1;
        for _ in 0..steps {
            editor.undo().expect("a step");
        }
        assert_eq!(editor.text(), Editor::new_job("", Unit::Foot).text());
        for _ in 0..steps {
            editor.redo().expect("a step");
        }
        assert_eq!(editor.job(), target.job(), "{name}");
    }
}

#[test]
fn saving_knows_what_is_saved() {
    let folder = std::env::temp_dir().join(format!("brimline-editing-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    let path = folder.join("yard.ron");
    let mut editor = yard();
    assert!(matches!(editor.save(), Err(NotSaved::NoFile)));
    editor.save_as(&path).expect("saved");
    editor.apply(&typed("name", "First")).expect("typed");
    assert!(editor.is_changed());
    editor.save().expect("saved");
    assert!(!editor.is_changed());
    editor.undo();
    assert!(editor.is_changed());
    editor.redo();
    assert!(!editor.is_changed());
    // What was saved is undone and something else done: it is gone for good.
    editor.undo();
    editor.apply(&typed("name", "Second")).expect("typed");
    editor.undo();
    assert!(editor.is_changed());
    editor.redo();
    assert!(editor.is_changed());

    let mut other = Editor::open(&path).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(other.job().expect("a job").name, "First");
    other
        .apply(&typed("name", "Somebody else's"))
        .expect("typed");
    other.save().expect("saved");
    assert!(editor.is_changed_on_disk());
    let why = editor.save().expect_err("changed").to_string();
    assert!(why.contains("was changed by someone else"), "{why}");
    editor.reload().unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(editor.job().expect("a job").name, "Somebody else's");
    assert!(!editor.is_changed() && !editor.is_changed_on_disk());
    editor.undo();
    assert_eq!(editor.job().expect("a job").name, "Second");
    editor.save().expect("saved over");
    // Touched is not changed.
    let text = std::fs::read(&path).expect("the file");
    std::fs::write(&path, text).expect("written again");
    assert!(!editor.is_changed_on_disk());
    let nowhere = folder.join("no folder").join("yard.ron");
    let why = editor.save_as(&nowhere).expect_err("no folder").to_string();
    assert!(
        why.starts_with("there is no folder") && why.contains("save in another place"),
        "{why}"
    );
    assert_eq!(editor.path(), Some(path.as_path()));
    std::fs::remove_dir_all(&folder).expect("removed");
}

#[test]
fn a_new_job_holds_what_was_made_in_it() {
    let mut editor = Editor::new_job("Yard", Unit::Metre);
    editor
        .apply(&Edit::Add {
            what: New::Basin,
            at: [3.0, 4.0],
            elevation: 20.0,
        })
        .expect("added");
    good(&editor);
    let job = editor.job().expect("a job");
    let basin = &job.design.basins[0];
    assert!(
        matches!(basin.water, Level::At(Height::Elevation(z)) if (z - 19.85).abs() < 1e-9),
        "{:?}",
        basin.water
    );
    assert_eq!(basin.outline[0], At::Placed(Place::Xy(1.2, 2.8)));
}

#[test]
fn parts_are_added_with_usual_measures() {
    let part = |list: &str| Edit::AddPart {
        list: at(list),
        at: [15.0 * FOOT, 12.0 * FOOT],
    };
    for (list, new, label) in [
        (
            "design.basins[0].shelves",
            "(depth: \"17 in\", width: \"12 in\")",
            "added shelf 2 of \"pond\"",
        ),
        (
            "design.basins[0].lining",
            "(\"stone\", \"3 in\", Level)",
            "added layer \"stone\"",
        ),
        (
            "design.basins[0].pits",
            "(name: \"pump pit\", outline: [(13.5, 10.5), (16.5, 10.5), (16.5, 13.5), (13.5, 13.5)], depth: \"12 in\")",
            "added pit \"pump pit\"",
        ),
        (
            "design.cascades[0].pools",
            "(name: \"pool\", length: \"60 in\", width: \"48 in\", drop: \"9 in\")",
            "added pool \"pool\"",
        ),
    ] {
        let editor = made(part(list), label);
        good(&editor);
        assert!(editor.text().contains(new), "{}", editor.text());
    }
    let editor = made(part("field_book.setups[0].sights"), "added shot 5");
    assert!(editor.text().contains("(\"5\", \"\")"));
}

#[test]
fn a_placing_is_chosen_or_called_out() {
    let mut editor = yard();
    let cell = at("field_book.setups[0].sights[2].at");
    let choices = editor.choices(&brimline::job::Form::Place);
    assert_eq!(choices.len(), 5, "{choices:?}");
    for choice in &choices {
        editor.apply(&Edit::typed(&cell, choice)).expect(choice);
        assert!(editor.sheet(&cell).is_some(), "{choice} has a form");
        assert!(!editor.is_good(), "{choice} waits for its figures");
    }
    for (called, place) in [
        ("26, 14", "(26, 14)"),
        ("A, 26, -14", "Offset(\"A\", 26, -14)"),
        ("1, 10, 2, 30, R", "Tie(\"1\", 10, \"2\", 30, Right)"),
        ("1, 2, 12.5, 20", "Ray(\"1\", \"2\", 12.5, 20)"),
    ] {
        editor.apply(&Edit::typed(&cell, called)).expect(called);
        assert_eq!(editor.shown(&cell).as_deref(), Some(place));
        let own = |p: &brimline::job::Problem| {
            editor
                .address_at(p.span.start)
                .is_some_and(|a| cell.holds(&a))
        };
        let wrong: Vec<_> = editor.problems().iter().filter(|p| own(p)).collect();
        assert!(
            wrong.is_empty() || place.starts_with("Tie"),
            "{place}: {wrong:?}"
        );
    }
}
