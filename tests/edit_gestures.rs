//! Moving, dragging and typing: one step each, and what cannot be is refused or shown.

mod yard;

use brimline::edit::{Edit, Editor, Outcome, Refused};
use yard::*;

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
fn the_way_in_keeps_a_width_for_each_point() {
    let way = |line: &str, widths: &str| {
        YARD.replace(
            "breaklines:",
            &format!(
                "access: (line: [{line}], width: 7, widths: [{widths}]),\n        breaklines:"
            ),
        )
    };
    let before = way("(50, 0), (40, 0), (30, 4)", "\"8 ft\", 10, 7");
    let list = at("site.access.line");
    let add = |index: usize| Edit::AddPoint {
        list: list.clone(),
        index,
        at: [45.0 * FOOT, 2.0 * FOOT],
    };
    for (edit, after) in [
        // Halfway between its neighbours', at either end that of the end.
        (
            add(1),
            way(
                "(50, 0), (45, 2), (40, 0), (30, 4)",
                "\"8 ft\", \"9 ft\", 10, 7",
            ),
        ),
        (
            add(0),
            way(
                "(45, 2), (50, 0), (40, 0), (30, 4)",
                "\"8 ft\", \"8 ft\", 10, 7",
            ),
        ),
        (
            add(3),
            way("(50, 0), (40, 0), (30, 4), (45, 2)", "\"8 ft\", 10, 7, 7"),
        ),
        (
            Edit::Insert {
                list: list.clone(),
                index: 2,
                item: Some("(35, 1)".to_string()),
            },
            way("(50, 0), (40, 0), (35, 1), (30, 4)", "\"8 ft\", 10, 8.5, 7"),
        ),
        (
            Edit::Delete { at: list.item(1) },
            way("(50, 0), (30, 4)", "\"8 ft\", 7"),
        ),
        (
            Edit::Shift {
                at: list.item(0),
                to: 2,
            },
            way("(40, 0), (30, 4), (50, 0)", "10, 7, \"8 ft\""),
        ),
    ] {
        let mut editor = Editor::of_text("yard", &before);
        good(&editor);
        editor.apply(&edit).expect("made");
        good(&editor);
        assert_eq!(editor.text(), after, "{edit:?}");
        editor.undo();
        assert_eq!(editor.text(), before);
    }
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
