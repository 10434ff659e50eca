//! Any edits at all, in any order: undone they give back the same bytes, redone the same again; a
//! refused one changes nothing; comments stay; nothing panics. And the same on a large field book.

use brimline::edit::{Address, Cell, Edit, Editor, New, Outcome, Step};
use brimline::job::{Form, Unit};
use proptest::prelude::*;
use proptest::strategy::ValueTree as _;

/// Something to do, still without a place to do it.
#[derive(Debug, Clone)]
struct Act {
    kind: u8,
    /// Chooses the way to a value.
    way: Vec<u16>,
    index: u8,
    x: f64,
    y: f64,
    text: usize,
}

fn act() -> impl Strategy<Value = Act> {
    let way = proptest::collection::vec(any::<u16>(), 1..8);
    let number = prop_oneof![
        8 => -40.0f64..80.0,
        1 => Just(f64::NAN),
        1 => Just(1e9),
    ];
    (
        any::<u8>(),
        way,
        0u8..9,
        number.clone(),
        number,
        0..TEXTS.len(),
    )
        .prop_map(|(kind, way, index, x, y, text)| Act {
            kind,
            way,
            index,
            x,
            y,
            text,
        })
}

const TEXTS: [&str; 28] = [
    "",
    " ",
    "5",
    "5.25",
    "-3",
    "5'-3 1/2",
    "5' 3\"",
    "4 in",
    "30 cm",
    "1e400",
    "NaN",
    "pond",
    "pond wall",
    "1",
    "\"",
    "\\",
    "(",
    ")",
    "]",
    "// no",
    "/* no",
    "Offset(\"A\", 3, 4)",
    "(1, 2), ",
    "3, 4",
    "Left",
    "ÿ—é\u{200e}",
    "r#\"x\"#",
    "line\nline",
];

/// Walks down the forms, by the numbers of `way`, to a field or an item.
fn go(editor: &Editor, way: &[u16]) -> (Address, Option<Cell>) {
    let mut here = Address::job();
    let mut cell = None;
    for number in way {
        let number = usize::from(*number);
        if let Some(sheet) = editor.sheet(&here) {
            // Mostly what is written: there is more below it.
            let written: Vec<&Cell> = sheet.fields.iter().filter(|f| f.is_written).collect();
            let chosen = if number % 5 != 0 && !written.is_empty() {
                written[number % written.len()].clone()
            } else {
                sheet.fields[number % sheet.fields.len()].clone()
            };
            here = chosen.address.clone();
            cell = Some(chosen);
        } else if editor.count(&here) > 0 {
            here = here.item(number % editor.count(&here));
            cell = None;
        } else {
            break;
        }
    }
    (here, cell)
}

/// Some of the places and some of the items of lists, a few from each list.
fn places_and_items(editor: &Editor, way: &[u16]) -> (Vec<Address>, Vec<Address>) {
    let (mut places, mut items) = (Vec::new(), Vec::new());
    let mut open = vec![Address::job()];
    while let Some(here) = open.pop() {
        let Some(sheet) = editor.sheet(&here) else {
            continue;
        };
        for cell in sheet.fields.iter().filter(|f| f.is_written) {
            if matches!(cell.form, Form::Place | Form::Corner) {
                places.push(cell.address.clone());
            } else if matches!(cell.form, Form::Record(_)) {
                open.push(cell.address.clone());
            }
            let count = cell.count.unwrap_or(0);
            for i in (0..count.min(4)).map(|i| (i + usize::from(way[0])) % count) {
                let item = cell.address.item(i);
                match &cell.form {
                    Form::List { of, .. } if matches!(**of, Form::Point) => {
                        places.push(item.clone());
                    }
                    Form::List { of, .. } if matches!(**of, Form::Record(_)) => {
                        open.push(item.clone());
                    }
                    _ => {}
                }
                items.push(item);
            }
        }
    }
    (places, items)
}

fn list_of(editor: &Editor, at: &Address) -> Address {
    match at.last() {
        Some(Step::Item(_)) => at.parent().unwrap_or_default(),
        _ if editor.count(at) > 0 => at.clone(),
        _ => New::Basin.list(),
    }
}

/// The edit, or `None` for undo, redo and the end of a gesture.
fn edit(editor: &Editor, act: &Act, gentle: bool) -> Option<Edit> {
    let (mut at, cell) = go(editor, &act.way);
    let kind = act.kind % 21;
    // Left to the walk, these would hardly ever find what they need.
    if matches!(kind, 8..=13) && act.index > 0 {
        let (places, items) = places_and_items(editor, &act.way);
        let from = if kind == 12 { places } else { items };
        if !from.is_empty() {
            at = from[usize::from(act.way[act.way.len() - 1]) % from.len()].clone();
        }
    }
    let text = TEXTS[act.text];
    let to = [act.x, act.y];
    let index = usize::from(act.index);
    Some(match kind {
        0..=3 => {
            let leaf = cell.is_some_and(|c| c.count.is_none() && c.record.is_none());
            if gentle && !leaf {
                return None;
            }
            Edit::typed(&at, text)
        }
        4 if !gentle => Edit::Write {
            at,
            value: text.into(),
        },
        5 if !gentle => Edit::Clear { at },
        6 => Edit::Insert {
            list: list_of(editor, &at),
            index,
            item: None,
        },
        7 => Edit::Insert {
            list: list_of(editor, &at),
            index,
            item: Some(text.into()),
        },
        8 if !gentle => Edit::Delete { at },
        9 => Edit::Copy { at },
        10 => Edit::Shift { at, to: index },
        11 => Edit::Rename {
            at,
            name: text.into(),
        },
        12 => Edit::Move { at, to },
        13 => Edit::MoveBy { at, by: to },
        14 => Edit::Length { at, metres: act.x },
        15 => Edit::AddPoint {
            list: list_of(editor, &at),
            index,
            at: to,
        },
        16 => Edit::Add {
            what: New::ALL[act.text % New::ALL.len()],
            at: to,
            elevation: 29.0,
        },
        17 => Edit::All {
            label: "both".into(),
            edits: vec![
                Edit::Insert {
                    list: list_of(editor, &at),
                    index: 0,
                    item: None,
                },
                Edit::Rename {
                    at,
                    name: text.into(),
                },
            ],
        },
        18 => Edit::AddPart {
            list: list_of(editor, &at),
            at: to,
        },
        19 if !gentle && act.index == 0 => {
            let mut new = editor.text().to_string();
            let mut place = usize::from(act.way[0]) % (new.len() + 1);
            while !new.is_char_boundary(place) {
                place -= 1;
            }
            new.insert_str(place, text);
            Edit::Text(new)
        }
        _ => return None,
    })
}

const JOBS: [(&str, &str); 6] = [
    ("demo", include_str!("../surveys/demo.ron")),
    ("terrace", include_str!("../surveys/terrace-metric.ron")),
    ("pit", include_str!("../surveys/borrow-pit.ron")),
    ("whole", include_str!("whole.ron")),
    ("smallest", include_str!("smallest.ron")),
    (
        "windows",
        "(\r\n\tname: \"x\", // a\r\n\tunit: Metre,\r\n\tfield_book: (\r\n\t\tpoints: [(\"1\",0,0,1), (\"2\",9,0,1), /* b */ (\"3\",0,9,1.5)]),\r\n\tdesign: (basins: [(name: \"pond\", water: 1, outline: [\"1\", \"2\", \"3\"])],),\r\n)\r\n\r\n// End.",
    ),
];

fn job(which: usize) -> Editor {
    match JOBS.get(which) {
        Some((name, text)) => Editor::of_text(name, text),
        None => Editor::new_job("New", Unit::Foot),
    }
}

fn run(which: usize, acts: &[Act], gentle: bool) -> Result<Editor, TestCaseError> {
    let mut editor = job(which);
    let first = editor.text().to_string();
    for act in acts {
        let before = editor.text().to_string();
        let readable = editor.sheet(&Address::job()).is_some();
        let Some(edit) = edit(&editor, act, gentle) else {
            match act.index % 3 {
                0 => drop(editor.undo()),
                1 => drop(editor.redo()),
                _ => editor.end_gesture(),
            }
            continue;
        };
        let outcome = match act.index {
            0..3 => editor.apply(&edit),
            3..6 => editor.apply_if_good(&edit),
            _ => editor.apply_as("gesture", &edit),
        };
        if let Err(refused) = outcome {
            prop_assert_eq!(
                editor.text(),
                &before,
                "{:?} was refused: {}",
                edit,
                refused
            );
            prop_assert!(!refused.to_string().is_empty());
        }
        let still = editor.sheet(&Address::job()).is_some();
        let nonsense = matches!(edit, Edit::Text(_));
        prop_assert!(
            !readable || still || nonsense,
            "{:?} broke the text:\n{}\n{:?}",
            edit,
            editor.text(),
            editor.problems()
        );
    }
    // Read anew as a whole, the text says the same.
    let anew = Editor::of_text(editor.name(), editor.text());
    prop_assert_eq!(anew.problems(), editor.problems(), "{}", editor.text());
    prop_assert!(!editor.is_good() || anew.job() == editor.job());
    let last = editor.text().to_string();
    let done = editor.history().steps().1;
    while editor.undo().is_some() {}
    prop_assert_eq!(editor.text(), &first);
    prop_assert!(!editor.is_changed());
    for _ in 0..done {
        editor.redo();
    }
    prop_assert_eq!(editor.text(), &last);
    Ok(editor)
}

/// The comments of a text without such marks in its values.
fn comments(text: &str) -> Vec<String> {
    let ends = text.lines().filter_map(|line| line.split_once("//"));
    let blocks = text
        .split("/*")
        .skip(1)
        .filter_map(|rest| rest.split_once("*/"));
    ends.map(|(_, comment)| comment.trim().to_string())
        .chain(blocks.map(|(comment, _)| comment.to_string()))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, max_shrink_iters: 300, ..ProptestConfig::default() })]

    #[test]
    fn any_edits_undone_and_redone(which in 0usize..7, acts in proptest::collection::vec(act(), 1..25)) {
        run(which, &acts, false)?;
    }

    #[test]
    fn comments_survive_all_edits_but_those_that_take_away(
        which in 0usize..7,
        acts in proptest::collection::vec(act(), 1..25),
    ) {
        let editor = run(which, &acts, true)?;
        let first = job(which);
        for comment in comments(first.text()) {
            prop_assert!(editor.text().contains(&comment), "{} is gone:\n{}", comment, editor.text());
        }
    }
}

/// The sequences above are worth something only if every kind of edit is made in them now and then.
#[test]
fn every_kind_of_edit_is_made_and_refused() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let mut made = [0; 21];
    let mut refused = 0;
    for which in 0..7 {
        let mut editor = job(which);
        for _ in 0..1200 {
            let act = act().new_tree(&mut runner).expect("an act").current();
            let Some(edit) = edit(&editor, &act, false) else {
                editor.undo();
                continue;
            };
            match editor.apply(&edit) {
                Ok(Outcome::Changed) => made[usize::from(act.kind % 21)] += 1,
                Ok(Outcome::AsBefore) => {}
                Err(_) => refused += 1,
            }
            // A text in pieces refuses all that follows.
            if editor.sheet(&Address::job()).is_none() {
                editor.undo();
            }
        }
    }
    println!("made {made:?}, refused {refused}");
    // The last kind is undo.
    assert!(made[..20].iter().all(|n| *n >= 10), "{made:?}");
    assert!(refused > 100, "{refused}");
}

#[test]
fn the_jobs_have_comments_to_keep() {
    let all: usize = (0..7).map(|which| comments(job(which).text()).len()).sum();
    assert!(all > 10, "{all}");
}

/// 100 000 shots: an edit keeps a few bytes, however long the text.
#[test]
fn a_large_field_book_stays_cheap_to_edit() {
    let mut text = String::from(
        "(\n    name: \"Large\",\n    unit: Foot,\n    field_book: (\n        benchmarks: [(\"BM\", 100)],\n        setups: [(name: \"1\", backsight: (\"BM\", 5), sights: [\n",
    );
    for i in 0..100_000 {
        let (x, y) = (i % 317, i / 317);
        text.push_str(&format!(
            "            (\"{i}\", 4.{:02}, ({x}, {y})),\n",
            i * 7 % 100
        ));
    }
    text.push_str("        ])],\n    ),\n)\n");
    let start = std::time::Instant::now();
    let mut editor = Editor::of_text("large", &text);
    let opened = start.elapsed();
    assert!(editor.is_good(), "{:?}", editor.problems().first());
    let sights = Address::of("field_book.setups[0].sights").expect("an address");
    let start = std::time::Instant::now();
    for i in 0..10usize {
        let rod = sights.item(i * 9_999).field("rod");
        editor.apply(&Edit::typed(&rod, "5.55")).expect("typed");
    }
    let typed = start.elapsed() / 10;
    let start = std::time::Instant::now();
    let rows = editor.rows(&sights, 50_000..50_040);
    let shown = start.elapsed();
    editor.read_later(true);
    let start = std::time::Instant::now();
    let rod = sights.item(7).field("rod");
    editor.apply(&Edit::typed(&rod, "5.57")).expect("typed");
    let unread = start.elapsed();
    let reading = editor.unread().expect("unread").read();
    assert!(!editor.is_good());
    assert!(editor.accept(reading) && editor.is_good() && editor.unread().is_none());
    println!("opened in {opened:?}, an edit takes {typed:?}, unread {unread:?}, 40 rows {shown:?}");
    assert_eq!(rows.len(), 40);
    assert_eq!(rows[39].fields[0].shown, "50039");
    assert!(matches!(rows[39].fields[2].form, Form::Place));
    assert!(
        editor.history().size() < 1000,
        "{} bytes",
        editor.history().size()
    );
    while editor.undo().is_some() {}
    assert_eq!(editor.text(), text);
}
