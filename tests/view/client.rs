//! The client's view in the window, by its keys: H, Space, G, P.

use crate::screen::*;

fn wet(p: &Pixels) -> f64 {
    let clear = |[r, g, b]: [u8; 3]| i32::from(b) > i32::from(r) + 8 && g > r;
    // The sky is blue as well: only what lies below it.
    let from = p.rgb.len() / 2;
    let below = &p.rgb[from..];
    below.iter().filter(|p| clear(**p)).count() as f64 / below.len() as f64
}

#[test]
fn the_clients_keys_show_before_after_on_foot_and_save_a_picture() {
    let _one = ONE.lock();
    let folder = std::env::temp_dir().join(format!("brimline-keys-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for the job");
    let job = folder.join("garden.ron");
    std::fs::copy(demo(), &job).expect("a copy of the demo");
    let Some((screen, mut app)) = window_on(&job, (960, 600)) else {
        return;
    };
    screen.until("the finished yard", |p| {
        p.colours() > 200 && p.water() > 0.002
    });
    screen.xdotool("mousemove 400 300");
    let key = |key: &str, button: &str| {
        until_done(
            &format!("{button}, by key {key}"),
            30,
            || {
                // The strip comes back when the pointer stirs.
                screen.xdotool(&format!("key {key} sleep 3 mousemove_relative 3 2"));
            },
            || {
                screen.xdotool("mousemove_relative -- -2 -1");
                screen.place(&format!("button: {button}"))
            },
        );
    };
    key("h", "Before (Space)");
    // The camera takes its time.
    let after = screen.until("the client's water", |p| wet(p) > 0.05);
    key("space", "After (Space)");
    screen.until("no water before there is any", |p| wet(p) == 0.0);
    key("space", "Before (Space)");
    screen.until("the water again", |p| wet(p) > 0.05);
    key("t", "Stop turning");
    let turned = screen.until("the yard turned", |p| p.differs(&after) > 0.1);
    assert!(wet(&turned) > 0.02, "no water in the turned yard");
    // Its own button stops it, and does not start it again.
    until_done(
        "the turntable stopped",
        30,
        || {
            screen.xdotool("mousemove_relative 3 2 sleep 3");
            screen.click("button: Stop turning");
        },
        || screen.place("button: Turn slowly (T)"),
    );
    std::thread::sleep(std::time::Duration::from_secs(6));
    let stands = until_done(
        "the strip again",
        10,
        || {
            screen.xdotool("mousemove_relative 3 2");
        },
        || {
            let turns = screen.place("button: Stop turning").map(|_| false);
            turns.or(screen.place("button: Turn slowly (T)").map(|_| true))
        },
    );
    assert!(stands, "the button that stops it set it turning again");
    key("g", "From above (G)");
    let foot = screen.until("the yard on foot", |p| p.differs(&after) > 0.2);
    assert!(foot.colours() > 100, "on foot is blank");
    key("Escape", "On foot (G)");
    let saved = until_done(
        "a picture, by key P",
        40,
        || {
            screen.xdotool("key p");
        },
        || {
            let path = folder.join("garden-after-1.png");
            image::open(path).ok().map(|i| i.to_rgb8())
        },
    );
    assert_eq!(saved.dimensions(), (1920, 1080));
    let saved = Pixels {
        width: 1920,
        height: 1080,
        rgb: saved.pixels().map(|p| p.0).collect(),
    };
    assert!(wet(&saved) > 0.02, "water covers {} below", wet(&saved));
    assert!(app.0.try_wait().expect("a state").is_none(), "it ended");
    let _ = std::fs::remove_dir_all(&folder);
}
