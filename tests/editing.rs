//! Commands on fields, items, names: what they change, what they leave alone, and their undo.

mod yard;

use brimline::edit::{Edit, Editor};
use yard::*;

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
    // Whether its pool needs a name of its own is the job's to say: it is a good one.
    let cascades = &editor.job().expect("a job").design.cascades;
    assert_eq!(cascades[1].name, "falls 2");
    assert_eq!(cascades[1].pools[0].length, cascades[0].pools[0].length);
    // A pile is no work of a stage.
    let mut editor = Editor::of_text("demo", include_str!("../surveys/demo.ron"));
    let works = |e: &Editor| e.job().map(|j| j.sequence.clone());
    let before = works(&editor);
    let copy = Edit::Copy {
        at: at("design.piles[1]"),
    };
    editor.apply(&copy).unwrap_or_else(|e| panic!("{e}"));
    good(&editor);
    let piles = &editor.job().expect("a job").design.piles;
    assert_eq!(piles[2].name, "topsoil heap 2");
    assert_eq!(works(&editor), before);
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
fn of_two_things_of_one_name_one_is_renamed_alone() {
    // A wall left with the pond's name: a slip, to be put right by typing another.
    let twice = YARD.replace("name: \"wall\"", "name: \"pond\"");
    let mut editor = Editor::of_text("yard", &twice);
    assert!(!editor.is_good());
    let typing = typed("design.walls[0].name", "wall");
    editor.apply(&typing).unwrap_or_else(|why| panic!("{why}"));
    assert_eq!(editor.text(), YARD, "the pond went with the wall");
    good(&editor);
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
            "(\"stone\", \"3 in\")",
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
fn a_pump_stands_in_the_first_pit_and_feeds_the_falls() {
    let mut editor = yard();
    let add = Edit::AddPart {
        list: at("plumbing.pumps"),
        at: [15.0 * FOOT, 12.0 * FOOT],
    };
    editor.apply(&add).unwrap_or_else(|e| panic!("{e}"));
    good(&editor);
    let pump = &editor.job().expect("a job").plumbing.pumps[0];
    assert_eq!(
        (
            pump.name.as_str(),
            pump.sits_in.as_str(),
            pump.cascade.as_str()
        ),
        ("pump", "pond", "falls")
    );
    editor.undo();
    assert_eq!(editor.text(), YARD);
    let mut editor = Editor::of_text("demo", include_str!("../surveys/demo.ron"));
    editor.apply(&add).unwrap_or_else(|e| panic!("{e}"));
    good(&editor);
    let pump = &editor.job().expect("a job").plumbing.pumps[1];
    assert_eq!(
        (pump.name.as_str(), pump.sits_in.as_str()),
        ("pump", "pump pit")
    );
}
