//! What those who drive the window from outside are told, by BRIMLINE_VIEW_LOG: where buttons, cells
//! and words lie, in points of the screen. One line each on standard error, anew after a change.

use std::fmt::Write as _;
use std::sync::OnceLock;

use bevy_egui::egui::util::IdTypeMap;
use bevy_egui::egui::{Context, Id, Pos2, Rect, Ui};

use super::labels::Written;

/// Whether anybody listens.
pub fn on() -> bool {
    static ON: OnceLock<bool> = OnceLock::new();
    *ON.get_or_init(|| std::env::var_os("BRIMLINE_VIEW_LOG").is_some())
}

fn slot() -> Id {
    Id::new("places told")
}

/// Something of a page or a list lies there in this frame. A list is measured before it is shown, and
/// lies elsewhere then: that is not told.
pub fn place(ui: &Ui, kind: &str, words: &str, rect: Rect) {
    if !ui.is_sizing_pass() {
        over(ui.ctx(), kind, words, rect);
    }
}

/// Something over the yard lies there in this frame.
pub fn over(ctx: &Context, kind: &str, words: &str, rect: Rect) {
    if !on() {
        return;
    }
    let zoom = ctx.zoom_factor();
    let at = if rect.is_finite() {
        rect.center()
    } else {
        Pos2::ZERO
    };
    let [x, y] = [at.x * zoom, at.y * zoom];
    let line = format!("{kind}: {words} at {x:.0} {y:.0}\n");
    ctx.data_mut(|d| d.get_temp_mut_or_default::<String>(slot()).push_str(&line));
}

/// The part of a page that is in sight: left, top, right, bottom.
pub fn sight(ui: &Ui, page: &str, rect: Rect) {
    if !on() {
        return;
    }
    let r = rect * ui.ctx().zoom_factor();
    let line = format!(
        "book: {page} within {:.0} {:.0} {:.0} {:.0}\n",
        r.left(),
        r.top(),
        r.right(),
        r.bottom()
    );
    let told = |d: &mut IdTypeMap| d.get_temp_mut_or_default::<String>(slot()).push_str(&line);
    ui.ctx().data_mut(told);
}

/// Words over the yard, with the room they take: left, top, right, bottom.
pub fn words(ctx: &Context, all: &[Written]) {
    if !on() {
        return;
    }
    let mut lines = String::new();
    for Written { words, rect: r, .. } in all {
        let _ = writeln!(
            lines,
            "words: {words} within {:.1} {:.1} {:.1} {:.1}",
            r.left(),
            r.top(),
            r.right(),
            r.bottom()
        );
    }
    ctx.data_mut(|d| d.get_temp_mut_or_default::<String>(slot()).push_str(&lines));
}

/// The yard is drawn in this frame.
pub fn drawn() {
    if on() {
        eprintln!("yard drawn");
    }
}

/// At the end of a frame: says it all if it is other than in the last, else that it is the same.
pub fn out(ctx: &Context) {
    if !on() {
        return;
    }
    let before = Id::new("places told before");
    let now = ctx.data_mut(|d| std::mem::take(d.get_temp_mut_or_default::<String>(slot())));
    let same = ctx.data(|d| d.get_temp::<String>(before).is_some_and(|b| b == now));
    if same {
        eprintln!("frame as before");
    } else {
        eprint!("frame:\n{now}frame ends\n");
        ctx.data_mut(|d| d.insert_temp(before, now));
    }
}
