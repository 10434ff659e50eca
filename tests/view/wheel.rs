//! The wheel belongs to what the pointer is over in that very frame.

use std::time::Duration;

use crate::screen::*;

#[test]
fn the_wheel_over_the_book_turns_the_page_and_never_the_yard() {
    let _one = ONE.lock();
    let Some((screen, _app, _, _)) = window_on_the_demo() else {
        return;
    };
    let cell = "cell: field_book.benchmarks[0].name";
    let [_, top] = screen.press("page: Notes", || screen.place(cell));
    // The pointer comes from over the yard, and the wheel is turned before a slow frame has seen it
    // leave.
    for way in [5, 4] {
        screen.xdotool("mousemove 430 520");
        std::thread::sleep(Duration::from_secs(4));
        let before = screen.pixels().left(860);
        let wheel = format!("mousemove 1000 500 click --repeat 3 --delay 5 {way}");
        let at_top = || screen.place(cell).is_some_and(|[_, y]| y == top);
        until_done(
            "another part of the page",
            20,
            || {
                screen.xdotool(&wheel);
            },
            || (at_top() == (way == 4)).then_some(()),
        );
        std::thread::sleep(Duration::from_secs(3));
        let after = screen.pixels().left(860);
        let other = before.differs(&after);
        assert!(
            other < 0.005,
            "{other} of the yard is another, by button {way}"
        );
    }
}
