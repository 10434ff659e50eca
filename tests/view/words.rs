//! Words over the yard: none over another, none cut off, all to be read.

use crate::screen::*;

struct Word {
    text: String,
    /// Left, top, right, bottom.
    room: [f64; 4],
}

fn words(screen: &Screen) -> Vec<Word> {
    screen
        .frame()
        .unwrap_or_default()
        .iter()
        .filter_map(|line| {
            let (text, room) = line.strip_prefix("words: ")?.rsplit_once(" within ")?;
            let mut room = room.split(' ').map(str::parse::<f64>);
            let mut next = || room.next()?.ok();
            Some(Word {
                text: text.to_owned(),
                room: [next()?, next()?, next()?, next()?],
            })
        })
        .collect()
}

/// Relative luminance by WCAG 2.1 (weights and exponents from memory).
fn light(p: [u8; 3]) -> f64 {
    let l = |v: u8| {
        let v = f64::from(v) / 255.0;
        if v <= 0.03928 {
            v / 12.92
        } else {
            ((v + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * l(p[0]) + 0.7152 * l(p[1]) + 0.0722 * l(p[2])
}

fn check(size: (u32, u32)) {
    let Some((screen, _app)) = window_on(&demo(), size) else {
        return;
    };
    screen.until("the finished yard", |p| {
        p.colours() > 200 && p.water() > 0.002
    });
    let all = until_done(
        "words over the yard",
        30,
        || {},
        || {
            let before = words(&screen);
            std::thread::sleep(std::time::Duration::from_secs(3));
            let now = words(&screen);
            (now.len() > 40 && now.len() == before.len()).then_some(now)
        },
    );
    let picture = screen.pixels();
    let yard = f64::from(size.0) - 400.0;
    for (k, word) in all.iter().enumerate() {
        let [left, top, right, bottom] = word.room;
        assert!(
            left >= 0.0 && top >= 0.0 && right <= yard && bottom <= f64::from(size.1),
            "{size:?}: `{}` is cut off: {:?}",
            word.text,
            word.room
        );
        for other in &all[k + 1..] {
            let [l, t, r, b] = other.room;
            let over = left < r && l < right && top < b && t < bottom;
            assert!(
                !over,
                "{size:?}: `{}` {:?} and `{}` {:?} overlap",
                word.text, word.room, other.text, other.room
            );
        }
        assert!(bottom - top >= 9.0, "`{}` is too small to read", word.text);
        let mut seen: Vec<f64> = (top as usize..bottom as usize)
            .flat_map(|y| (left as usize..right as usize).map(move |x| (x, y)))
            .map(|(x, y)| light(picture.rgb[y * picture.width + x]))
            .collect();
        seen.sort_by(f64::total_cmp);
        // Ink is a few per cent of the room: its darkest against the usual paper. The room of words
        // that run askew along a contour takes in grass beside their paper.
        let level = bottom - top <= 18.0;
        let usual = if level { 15 } else { 17 };
        let (ink, paper) = (seen[seen.len() / 100], seen[seen.len() * usual / 20]);
        let contrast = (paper + 0.05) / (ink + 0.05);
        assert!(
            contrast > 4.5,
            "{size:?}: `{}` stands out by {contrast:.1} only; WCAG 2.1 asks for 4.5",
            word.text
        );
    }
    let shown = |name: &str| {
        all.iter()
            .find(|w| w.text == name)
            .unwrap_or_else(|| panic!("{size:?}: no `{name}` over the yard"))
    };
    shown("upper pool  98.17 ft");
    // What is pointed at says where it comes from.
    let [left, top, right, bottom] = shown("pond  96.07 ft").room;
    let (x, y) = ((left + right) / 2.0, (top + bottom) / 2.0);
    until_done(
        "where the pond's level comes from",
        30,
        || {
            screen.xdotool(&format!("mousemove {:.0} {y:.0}", left + 8.0));
            screen.xdotool(&format!("mousemove {x:.0} {y:.0}"));
        },
        || {
            let answer = "answer: Where the design puts the water of pond;";
            let told = screen.frame()?.iter().any(|l| l.starts_with(answer));
            told.then_some(())
        },
    );
}

#[test]
fn words_over_the_yard_are_legible_at_1280_by_800() {
    let _one = ONE.lock();
    check((1280, 800));
}

#[test]
fn words_over_the_yard_are_legible_at_1920_by_1080() {
    let _one = ONE.lock();
    check((1920, 1080));
}
