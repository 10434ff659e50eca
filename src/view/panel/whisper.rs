//! What comes up beside a sign or a figure over the yard when it is pointed at.

use bevy_egui::egui::{self, Context, Frame, Margin, Rect, RichText, Stroke, Vec2};

use crate::findings::Finding;
use crate::view::frame::REST;
use crate::view::labels::Written;
use crate::view::{paper, signs, telling};

use super::answers;

pub use answers::Told;

/// What a sign of a finding says.
pub fn finding(ctx: &Context, sign: Rect, finding: &Finding) {
    let head = format!("{}: {}", signs::word(finding.severity), finding.place);
    slip(ctx, sign, Some(&head), &finding.what);
}

/// Where the figure under the pointer comes from, once the pointer rests on it; whether that is told.
pub fn label(ctx: &Context, written: &[Written], told: &Told) -> bool {
    let (at, rests, down) = ctx.input(|i| {
        let p = &i.pointer;
        (
            p.hover_pos(),
            p.time_since_last_movement() > 0.5 * REST,
            p.any_down(),
        )
    });
    let Some(at) = at.filter(|_| rests && !down) else {
        return false;
    };
    // What was written last lies on top.
    let Some(over) = written.iter().rev().find(|w| w.rect.contains(at)) else {
        return false;
    };
    let Some(words) = answers::of(over.of, told) else {
        return false;
    };
    slip(ctx, over.rect, None, &words);
    telling::over(ctx, "answer", &words.replace('\n', " "), over.rect);
    true
}

fn slip(ctx: &Context, beside: Rect, head: Option<&str>, words: &str) {
    egui::Area::new("whisper".into())
        .order(egui::Order::Tooltip)
        .interactable(false)
        .fixed_pos(beside.right_bottom() + Vec2::splat(4.0))
        .constrain(true)
        .show(ctx, |ui| {
            Frame::NONE
                .fill(paper::PAPER)
                .stroke(Stroke::new(1.0, paper::INK))
                .inner_margin(Margin::same(8))
                .show(ui, |ui| {
                    ui.set_max_width(280.0);
                    if let Some(head) = head {
                        ui.label(RichText::new(head).strong());
                    }
                    ui.label(words);
                });
        });
}
