//! An invented yard, and what every test of an edit looks at.

#![allow(dead_code)] // each test file uses its own part

use brimline::edit::{Address, Edit, Editor, Outcome};

pub const FOOT: f64 = 0.3048;

pub const YARD: &str = r#"// An invented yard.
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

pub fn at(text: &str) -> Address {
    Address::of(text).expect(text)
}

pub fn yard() -> Editor {
    let editor = Editor::of_text("yard", YARD);
    if let Some(errors) = editor.errors() {
        panic!("{errors}");
    }
    editor
}

/// Makes an edit and checks that the text changed from `old` to `new` in one place and nowhere
/// else, that undo and redo lead there and back, and that the label is this one.
#[track_caller]
pub fn changes(edit: Edit, old: &str, new: &str, label: &str) {
    let editor = made(edit, label);
    assert_eq!(
        YARD.matches(old).count(),
        1,
        "{old} stands once in the yard"
    );
    assert_eq!(editor.text(), YARD.replace(old, new));
}

#[track_caller]
pub fn made(edit: Edit, label: &str) -> Editor {
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
pub fn refused(edit: Edit, says: &str) {
    let mut editor = yard();
    let why = editor.apply(&edit).expect_err("refused").to_string();
    assert_eq!(why, says);
    assert_eq!(editor.text(), YARD);
    assert_eq!(editor.history().undo_label(), None);
}

pub fn typed(address: &str, text: &str) -> Edit {
    Edit::typed(&at(address), text)
}

pub fn good(editor: &Editor) {
    if let Some(errors) = editor.errors() {
        panic!("{errors}\n{}", editor.text());
    }
}
