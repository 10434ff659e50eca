//! Forms, whole things, the demo from nothing, and saving.

mod yard;

use brimline::edit::{Address, Default, Edit, Editor, New, NotSaved, Outcome};
use brimline::job::{At, Height, Level, Place, Unit};
use yard::*;

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
            // Parts are built with their things; piles and overflow pipes are no works.
            let at = entry.address.to_string();
            let not_built = ["pools", "lining", "piles", "overflows"];
            if at.starts_with("design") && !not_built.iter().any(|part| at.contains(part)) {
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
fn a_visit_is_begun_with_its_level_notes_and_its_shots_count_from_one() {
    let mut editor = yard();
    let add = |list: &str| Edit::AddPart {
        list: at(list),
        at: [0.0, 0.0],
    };
    let visits = "as_built.visits";
    editor.apply(&add(visits)).expect("a visit");
    // The rod on the benchmark is still to be read.
    let setup = format!("{visits}[0].setups[0]");
    let rod = editor.problems().first().expect("no rod yet").span.start;
    let found = editor.address_at(rod).map(|a| a.to_string());
    assert_eq!(found, Some(format!("{setup}.backsight.rod")));
    let back = format!("{setup}.backsight.to");
    assert_eq!(editor.shown(&at(&back)).as_deref(), Some("BM"));
    editor
        .apply(&typed(&format!("{setup}.backsight.rod"), "4.25"))
        .expect("the rod");
    let sights = at(&format!("{setup}.sights"));
    for (k, rod) in ["6.10", "6.20"].into_iter().enumerate() {
        let row = Edit::Insert {
            list: sights.clone(),
            index: k,
            item: None,
        };
        editor.apply(&row).expect("a row");
        let at = sights.item(k);
        let name = editor.shown(&at.field("to"));
        assert_eq!(name, Some(format!("{}", k + 1)));
        for (field, text) in [("rod", rod), ("at", "12, 9")] {
            let cell = at.field(field);
            editor.apply(&Edit::typed(&cell, text)).expect("typed");
        }
    }
    good(&editor);
    // The field book goes on from its own last shot.
    let row = Edit::Insert {
        list: at("field_book.setups[0].sights"),
        index: 4,
        item: None,
    };
    editor.apply(&row).expect("a row");
    let name = editor.shown(&at("field_book.setups[0].sights[4].to"));
    assert_eq!(name.as_deref(), Some("5"));
}

#[test]
fn pegs_are_counted_on() {
    let mut editor = yard();
    let list = at("field_book.pegs");
    for (k, name) in ["P7", "P8", "P9"].into_iter().enumerate() {
        let row = Edit::Insert {
            list: list.clone(),
            index: k,
            item: None,
        };
        editor.apply(&row).expect("a row");
        let cell = list.item(k).field("name");
        if k == 0 {
            editor.apply(&Edit::typed(&cell, name)).expect("a name");
        }
        assert_eq!(editor.shown(&cell).as_deref(), Some(name));
    }
}
