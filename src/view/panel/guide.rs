//! A few slips of paper for the first day, on the demo: what the yard, the book and the hand can do.
//! Put away once, they do not come again by themselves; the page of keys brings them back.

use bevy_egui::egui::{
    Align2, Area, Context, Frame, Id, Label, Margin, Order, Rect, RichText, Stroke, vec2,
};

use crate::view::paper;

use super::press;

const SLIPS: [(&str, &str); 6] = [
    (
        "A yard to try things on",
        "This garden is invented: nothing can be broken in it. Drag to turn it, drag with the right \
         button to shift it, turn the wheel to come nearer; F shows all of it again.",
    ),
    (
        "Three grounds",
        "1 is the ground as it was shot, 2 as the machine leaves it, 3 as the client will see it. \
         On the page Looking are the stages of the work, the depth of dig and place, and sections.",
    ),
    (
        "Ask a figure",
        "On the page Figures, rest the pointer on a figure: it says what it was made from. The signs \
         above the pages count the findings; the page Findings says what to do about each.",
    ),
    (
        "Take hold of something",
        "Press on the edge of the pond. Drag a corner, or the round handle to raise and lower the \
         water: figures and findings follow. Ctrl+Z takes it back, to the very beginning.",
    ),
    (
        "Read the notes",
        "On the page Notes, type another rod reading in any row. Enter goes down the column, from the \
         last row to a new one; in an empty one it ends the list. A cell with a mistake keeps what \
         you typed and says what is wanted.",
    ),
    (
        "Show the client, then start your own",
        "H puts the tools away. New begins an empty yard: a benchmark, a setup with its backsight, \
         a row for each shot, then Design. F1 lists all keys and brings these slips back.",
    ),
];

/// Shows the slip `at`; `None` once they are put away. Returns where it lies.
pub fn show(ctx: &Context, left: Rect, at: &mut Option<usize>) -> Option<Rect> {
    let k = (*at)?.min(SLIPS.len() - 1);
    let (title, words) = SLIPS[k];
    let mut next = Some(k);
    let shown = Area::new(Id::new("first day"))
        .order(Order::Middle)
        .pivot(Align2::LEFT_BOTTOM)
        .fixed_pos(left.left_bottom() + vec2(14.0, -40.0))
        .show(ctx, |ui| {
            Frame::NONE
                .fill(paper::PAPER)
                .stroke(Stroke::new(1.0, paper::INK))
                .inner_margin(Margin::same(10))
                .show(ui, |ui| {
                    ui.set_width(300.0);
                    ui.label(RichText::new(title).strong().color(paper::ACCENT));
                    ui.add(Label::new(words).wrap());
                    ui.horizontal(|ui| {
                        let last = k + 1 == SLIPS.len();
                        if last {
                            if press::button(ui, "Begin", "Puts the slips away") {
                                next = None;
                            }
                        } else if press::button(ui, "Next slip", "The next of these slips") {
                            next = Some(k + 1);
                        }
                        if k > 0 && press::button(ui, "One back", "The slip before") {
                            next = Some(k - 1);
                        }
                        if !last && press::button(ui, "Put them away", "F1 brings these slips back")
                        {
                            next = None;
                        }
                        let count = format!("{} of {}", k + 1, SLIPS.len());
                        ui.label(RichText::new(count).small().color(paper::FAINT));
                    });
                });
        });
    if next != *at {
        *at = next;
        ctx.request_repaint();
    }
    Some(shown.response.rect)
}
