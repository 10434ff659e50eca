//! Letters, spacing and colours of the paper.

use bevy_egui::egui::{
    self, Color32, Context, CornerRadius, FontFamily, FontId, RichText, Stroke, TextStyle, Vec2,
};

use crate::view::paper;

pub fn style(ctx: &Context) {
    // Between the two halves of a press may lie a slow frame: it is no long hold.
    ctx.options_mut(|options| options.input_options.max_click_duration = 5.0);
    ctx.all_styles_mut(|style| {
        style.text_styles = [
            (
                TextStyle::Heading,
                FontId::new(19.0, FontFamily::Proportional),
            ),
            (TextStyle::Body, FontId::new(14.0, FontFamily::Proportional)),
            (
                TextStyle::Button,
                FontId::new(14.0, FontFamily::Proportional),
            ),
            (
                TextStyle::Small,
                FontId::new(12.0, FontFamily::Proportional),
            ),
            (
                TextStyle::Monospace,
                FontId::new(13.0, FontFamily::Monospace),
            ),
        ]
        .into();
        style.spacing.item_spacing = Vec2::new(8.0, 4.0);
        style.interaction.selectable_labels = false;
        // A cell that comes into sight is there at once: what glides is missed by the next press.
        style.scroll_animation = egui::style::ScrollAnimation::none();
        style.visuals = egui::Visuals::light();
        let v = &mut style.visuals;
        v.override_text_color = Some(paper::INK);
        v.panel_fill = paper::PAPER;
        v.window_fill = paper::PAPER;
        v.extreme_bg_color = paper::SHEET;
        v.faint_bg_color = paper::SHEET;
        v.selection.bg_fill = paper::ACCENT;
        v.selection.stroke = Stroke::new(1.0, Color32::WHITE);
        v.widgets.noninteractive.bg_stroke = Stroke::new(1.0, paper::RULE);
        for w in [
            &mut v.widgets.inactive,
            &mut v.widgets.hovered,
            &mut v.widgets.active,
            &mut v.widgets.open,
        ] {
            w.bg_fill = paper::SHEET;
            w.weak_bg_fill = paper::SHEET;
            w.corner_radius = CornerRadius::same(2);
        }
        v.widgets.inactive.bg_stroke = Stroke::new(1.0, paper::RULE);
        v.widgets.hovered.bg_stroke = Stroke::new(1.0, paper::INK);
        v.widgets.active.bg_stroke = Stroke::new(1.0, paper::ACCENT);
    });
}

/// Over a part of a page.
pub fn heading(words: impl Into<String>) -> RichText {
    RichText::new(words)
        .size(15.0)
        .strong()
        .color(paper::ACCENT)
}

#[cfg(test)]
mod tests {
    use super::*;
    use bevy_egui::egui::{RawInput, Rect, ScrollArea, Ui, UiBuilder};

    #[test]
    fn a_press_with_a_slow_frame_between_its_halves_is_a_press() {
        let ctx = Context::default();
        style(&ctx);
        let pos = egui::pos2(20.0, 10.0);
        let button = |pressed| egui::Event::PointerButton {
            pos,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: egui::Modifiers::NONE,
        };
        let frames = [
            vec![],
            vec![egui::Event::PointerMoved(pos), button(true)],
            vec![button(false)],
        ];
        let mut clicked = Vec::new();
        for (frame, events) in frames.into_iter().enumerate() {
            ctx.begin_pass(RawInput {
                screen_rect: Some(Rect::from_min_size(egui::Pos2::ZERO, Vec2::splat(100.0))),
                time: Some(2.0 * frame as f64),
                events,
                ..Default::default()
            });
            let mut ui = Ui::new(ctx.clone(), "page".into(), UiBuilder::new());
            let size = Vec2::new(80.0, 20.0);
            clicked.push(ui.allocate_response(size, egui::Sense::click()).clicked());
            ctx.end_pass().textures_delta.clear();
        }
        assert_eq!(clicked, [false, false, true]);
    }

    #[test]
    fn what_is_brought_into_sight_is_there_at_once_and_stays() {
        let ctx = Context::default();
        style(&ctx);
        let page = Rect::from_min_size(egui::Pos2::ZERO, Vec2::new(200.0, 100.0));
        let mut seen = Vec::new();
        for frame in 0..6 {
            ctx.begin_pass(RawInput {
                screen_rect: Some(page),
                time: Some(f64::from(frame) / 60.0),
                ..Default::default()
            });
            let about = UiBuilder::new().max_rect(page);
            let mut ui = Ui::new(ctx.clone(), "page".into(), about);
            ScrollArea::vertical().show(&mut ui, |ui| {
                for row in 0..100 {
                    let (rect, _) =
                        ui.allocate_exact_size(Vec2::new(100.0, 20.0), egui::Sense::hover());
                    if row == 90 {
                        seen.push((ui.clip_rect().contains_rect(rect), rect.top()));
                        if frame == 1 {
                            ui.scroll_to_rect(rect, None);
                        }
                    }
                }
            });
            ctx.end_pass().textures_delta.clear();
        }
        let inside: Vec<bool> = seen.iter().map(|s| s.0).collect();
        // Asked for in the second frame, taken up in the next, seen from then on.
        assert_eq!(inside, [false, false, false, true, true, true], "{seen:?}");
        assert!(
            seen[3..].iter().all(|s| s.1 == seen[3].1),
            "it glides on: {seen:?}"
        );
    }
}
