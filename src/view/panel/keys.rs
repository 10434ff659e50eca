//! The page of keys: what the hand and the keyboard can do.

use bevy_egui::egui::{self, Align2, Context, Grid, Key, RichText};

use crate::view::paper;

use super::press;

const KEYS: [(&str, &[(&str, &str)]); 5] = [
    (
        "Going about",
        &[
            ("drag", "turn the yard"),
            ("right drag", "shift it"),
            ("wheel", "nearer, further"),
            ("F", "the whole yard"),
            ("V", "heights stretched"),
        ],
    ),
    (
        "What is shown",
        &[
            ("1  2  3", "existing, dug, finished"),
            ("[  ]", "stage before, stage after"),
            ("W  S  C  M", "water, shots, contours, marks"),
            ("D", "depth of dig and place"),
            ("B", "freeboard round the water"),
            ("H", "for the client, without tools"),
        ],
    ),
    (
        "Asking the yard",
        &[
            ("X", "a section along a line"),
            ("T", "tape between two places"),
            ("Esc", "let go"),
        ],
    ),
    (
        "Shaping",
        &[
            ("click", "pick a line or a shot"),
            ("drag what is picked", "a corner, the whole, the water"),
            ("double click", "a new corner on an edge"),
            ("Alt", "held in a drag: no snapping"),
            ("Del", "take out the corner, the thing"),
            ("A", "add here"),
        ],
    ),
    (
        "The job",
        &[
            ("Ctrl+Z", "take back"),
            ("Ctrl+Shift+Z", "do again"),
            ("Ctrl+S", "save"),
            ("Ctrl+O", "open"),
            ("Ctrl+C X V", "in a cell: copy, cut, paste"),
            ("Ctrl  +  −  0", "larger, smaller, usual writing"),
            ("F1", "this page"),
        ],
    ),
];

/// Shows the page while `open`; Escape, F1 or a click beside it closes it.
pub fn show(ctx: &Context, open: &mut bool, guide: &mut Option<usize>) {
    if ctx.input(|i| i.key_pressed(Key::F1)) {
        *open = !*open;
    }
    if !*open {
        return;
    }
    let shown = egui::Window::new("keys")
        .title_bar(false)
        .resizable(false)
        .collapsible(false)
        .anchor(Align2::CENTER_CENTER, [-160.0, 0.0])
        .show(ctx, |ui| {
            for (title, rows) in KEYS {
                ui.label(RichText::new(title).strong());
                Grid::new(title)
                    .num_columns(2)
                    .min_col_width(110.0)
                    .show(ui, |ui| {
                        for (key, what) in rows {
                            ui.label(RichText::new(*key).monospace().color(paper::ACCENT));
                            ui.label(*what);
                            ui.end_row();
                        }
                    });
                ui.add_space(6.0);
            }
            let about = "What the yard, the book and the hand can do, in six slips of paper";
            if press::small(ui, "The slips of the first day", about) {
                *guide = Some(0);
                *open = false;
            }
        });
    let beside = shown.is_some_and(|s| s.response.clicked_elsewhere());
    if beside || ctx.input(|i| i.key_pressed(Key::Escape)) {
        *open = false;
    }
}
