//! The yard is drawn when something of it has changed, and not for a key in a cell.

use std::time::Duration;

use crate::screen::*;

/// So often the yard was drawn until now.
fn drawn(screen: &Screen) -> usize {
    let log = std::fs::read_to_string(screen.folder.join("log")).expect("the log");
    log.lines().filter(|l| *l == "yard drawn").count()
}

#[test]
fn a_key_in_a_cell_draws_no_yard_and_a_deeper_pond_does() {
    let _one = ONE.lock();
    let Some((screen, _app, ..)) = window_on_the_demo() else {
        return;
    };
    let cell = "field_book.benchmarks[0].name";
    let typing = || {
        screen
            .frame()?
            .iter()
            .any(|l| l.starts_with(&format!("typing: {cell} = ")))
            .then_some(())
    };
    screen.press("page: Notes", || screen.place(&format!("cell: {cell}")));
    screen.press(&format!("cell: {cell}"), typing);
    std::thread::sleep(Duration::from_secs(6));
    let before = drawn(&screen);
    assert!(before > 0, "the yard was drawn when the window opened");
    // Into the next cells and back, without a change.
    for key in ["Tab", "Tab", "shift+Tab", "shift+Tab"] {
        screen.xdotool(&format!("key {key}"));
        std::thread::sleep(Duration::from_secs(1));
    }
    until_done("the cell again", 20, || {}, typing);
    assert_eq!(drawn(&screen), before, "drawn for keys that change nothing");
    // Another look is another yard.
    screen.xdotool("mousemove 430 520 click 1 key Escape");
    screen.xdotool("key 3");
    let finished = screen.until("the finished yard, by key 3", |p| p.water() > 0.002);
    assert!(finished.colours() > 200);
    assert!(drawn(&screen) > before, "not drawn for another look");
}
