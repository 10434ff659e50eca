//! The process is killed at any moment, in the middle of an edit or of a save: nothing older than
//! the last edit is lost, and the job's file is whole.

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use brimline::edit::{Address, Edit, Editor, Recovery};
use brimline::job::Document;

const FOLDER: &str = "BRIMLINE_CRASH_FOLDER";
const SAVES: &str = "BRIMLINE_CRASH_SAVES";

/// Not a test of its own: the other process. It edits without end, and says after each edit that
/// it is kept.
#[test]
fn worker() {
    let Some(folder) = std::env::var_os(FOLDER).map(PathBuf::from) else {
        return;
    };
    let saves: usize = std::env::var(SAVES)
        .ok()
        .and_then(|s| s.parse().ok())
        .expect("how often to save");
    let mut editor = Editor::open(&folder.join("yard.ron")).expect("the job");
    let mut recovery = Recovery::start(&folder.join("kept")).expect("a folder for copies");
    let name = Address::of("name").expect("an address");
    let mut out = std::io::stdout();
    for n in 1usize.. {
        editor
            .apply(&Edit::typed(&name, format!("edit {n}")))
            .expect("typed");
        recovery.keep(&editor).expect("kept");
        if n % saves == 0 {
            editor.save().expect("saved");
            recovery.keep(&editor).expect("let go");
        }
        writeln!(out, "kept {n}").expect("said");
        out.flush().expect("said");
    }
}

fn number(text: &str) -> usize {
    let (_, job) = Document::parse("found", text).unwrap_or_else(|e| panic!("{e}"));
    job.name
        .strip_prefix("edit ")
        .map_or(0, |n| n.parse().expect("a number"))
}

fn killed_after(folder: &Path, wait: Duration, saves: usize) -> usize {
    let this = std::env::current_exe().expect("this test");
    let mut child = Command::new(this)
        .args(["--exact", "worker", "--nocapture", "--test-threads=1"])
        .env(FOLDER, folder)
        .env(SAVES, saves.to_string())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("another process");
    let out = child.stdout.take().expect("what it says");
    let mut lines = BufReader::new(out).lines();
    let kept = |line: &str| {
        line.split_once("kept ")
            .and_then(|(_, n)| n.trim().parse::<usize>().ok())
    };
    // It has begun.
    let mut last = lines
        .by_ref()
        .map_while(Result::ok)
        .find_map(|line| kept(&line))
        .expect("a first edit");
    std::thread::sleep(wait);
    child.kill().expect("killed");
    child.wait().expect("ended");
    for line in lines.map_while(Result::ok) {
        last = kept(&line).unwrap_or(last);
    }
    last
}

#[test]
fn killed_at_any_moment_nothing_older_than_the_last_edit_is_lost() {
    let folder = std::env::temp_dir().join(format!("brimline-crash-{}", std::process::id()));
    let path = folder.join("yard.ron");
    let kept = folder.join("kept");
    let mut copies = 0;
    for round in 0..24u64 {
        std::fs::create_dir_all(&folder).expect("a folder for the test");
        std::fs::write(&path, include_str!("../surveys/demo.ron")).expect("the job");
        // Mostly edits, or a save after each.
        let saves = if round % 2 == 0 { 1 } else { 5 };
        let last = killed_after(&folder, Duration::from_micros(700 * round * round), saves);
        let saved = number(&std::fs::read_to_string(&path).expect("the file"));
        let left = Recovery::left_behind(&kept);
        let copy = left.first().map(|l| (number(l.open().text()), l));
        let best = copy.as_ref().map_or(saved, |(n, _)| saved.max(*n));
        assert!(
            best == last || best == last + 1,
            "round {round}: edit {last} was made, edit {best} is left (saved: {saved})"
        );
        if let Some((n, found)) = copy {
            copies += 1;
            assert_eq!(found.file.as_deref(), Some(path.as_path()));
            let mut editor = found.open();
            assert!(editor.is_changed());
            // Killed between the save and letting go of the copy, both are the same edit.
            assert!(n >= saved);
            if !found.file_changed {
                editor.save().expect("saved");
                assert_eq!(
                    number(&std::fs::read_to_string(&path).expect("the file")),
                    n
                );
            }
        }
        for found in left {
            found.discard().expect("thrown away");
        }
        assert!(Recovery::left_behind(&kept).is_empty());
        std::fs::remove_dir_all(&folder).expect("removed");
    }
    assert!(copies > 0, "a copy was found after some of the kills");
}

#[test]
fn copies_are_offered_only_when_their_owner_is_gone() {
    let folder = std::env::temp_dir().join(format!("brimline-kept-{}", std::process::id()));
    let mut editor = Editor::new_job("Yard", brimline::job::Unit::Foot);
    let mut recovery = Recovery::start(&folder).expect("a folder for copies");
    assert!(recovery.keep(&editor).expect("nothing to keep"));
    assert!(!recovery.keep(&editor).expect("nothing to keep"));
    assert_eq!(
        std::fs::read_dir(&folder).expect("the folder").count(),
        1,
        "only the lock"
    );
    let name = Address::of("name").expect("an address");
    editor.apply(&Edit::typed(&name, "Mine")).expect("typed");
    assert!(recovery.keep(&editor).expect("kept"));
    assert!(
        Recovery::left_behind(&folder).is_empty(),
        "its owner is here"
    );
    drop(recovery);
    // A process that another test is just starting holds every lock of ours until it is itself.
    let mut left = Recovery::left_behind(&folder);
    for _ in 0..50 {
        if !left.is_empty() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
        left = Recovery::left_behind(&folder);
    }
    assert_eq!(left.len(), 1);
    assert_eq!(left[0].file, None);
    let found = left[0].open();
    assert_eq!(found.job().expect("a job").name, "Mine");
    assert!(found.is_changed() && found.path().is_none());
    // Held by this window, no other offers it.
    assert!(Recovery::left_behind(&folder).is_empty());
    drop(left);
    // Undone to the beginning there is nothing to keep.
    let mut recovery = Recovery::start(&folder).expect("a folder for copies");
    recovery.keep(&editor).expect("kept");
    editor.undo();
    recovery.keep(&editor).expect("let go");
    recovery.close().expect("closed");
    let mut left = Recovery::left_behind(&folder);
    assert_eq!(left.len(), 1);
    // A copy that is not whole is no copy.
    left.pop().expect("the copy");
    for entry in std::fs::read_dir(&folder).expect("the folder").flatten() {
        let path = entry.path();
        if path.extension().is_some_and(|e| e == "recovery") {
            let text = std::fs::read_to_string(&path).expect("the copy");
            std::fs::write(&path, &text[..text.len() - 3]).expect("cut short");
        }
    }
    assert!(Recovery::left_behind(&folder).is_empty());
    std::fs::remove_dir_all(&folder).expect("removed");
}

#[test]
fn the_file_changed_meanwhile_is_said() {
    let folder = std::env::temp_dir().join(format!("brimline-meanwhile-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    let path = folder.join("yard.ron");
    std::fs::write(&path, include_str!("../surveys/demo.ron")).expect("the job");
    let mut editor = Editor::open(&path).expect("the job");
    let mut recovery = Recovery::start(&folder.join("kept")).expect("a folder for copies");
    let name = Address::of("name").expect("an address");
    editor.apply(&Edit::typed(&name, "Mine")).expect("typed");
    recovery.keep(&editor).expect("kept");
    drop(recovery);
    // A process that another test starts at this moment holds the lock's copy until it is under way.
    let before = (0..100)
        .find_map(|_| {
            let left = Recovery::left_behind(&folder.join("kept"));
            if left.is_empty() {
                std::thread::sleep(std::time::Duration::from_millis(50));
            }
            left.first().map(|left| left.file_changed)
        })
        .expect("the copy is found within five seconds");
    assert!(!before, "nobody has changed the file yet");
    std::fs::write(&path, "()").expect("changed");
    let left = (0..100).find_map(|_| {
        let left = Recovery::left_behind(&folder.join("kept"));
        if left.is_empty() {
            std::thread::sleep(std::time::Duration::from_millis(50));
        }
        (!left.is_empty()).then_some(left)
    });
    let left = left.expect("the copy is found within five seconds");
    assert!(left[0].file_changed);
    let mut found = left[0].open();
    assert!(found.is_changed_on_disk());
    assert!(found.save().is_err());
    std::fs::remove_dir_all(&folder).expect("removed");
}
