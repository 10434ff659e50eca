//! The page of findings, the worst first; a click goes to the place.

use bevy_egui::egui::{self, Frame, Label, Margin, RichText, Sense, Stroke, Ui, Vec2};

use crate::view::{paper, signs};

use super::ledger::title;
use super::{Desk, Wish};

pub fn page(ui: &mut Ui, desk: &mut Desk) {
    let all = &desk.yard.plan.findings;
    title(ui, "Findings", &format!("{}", all.len()));
    let mut order: Vec<usize> = (0..all.len()).collect();
    order.sort_by_key(|&i| all[i].severity);
    for i in order {
        let finding = &all[i];
        let chosen = desk.book.chosen == Some(i);
        let shown = Frame::NONE
            .fill(if chosen { paper::SHEET } else { paper::PAPER })
            .inner_margin(Margin::symmetric(4, 5))
            .show(ui, |ui| {
                ui.set_width(ui.available_width());
                ui.horizontal_top(|ui| {
                    let (spot, _) = ui.allocate_exact_size(Vec2::new(20.0, 20.0), Sense::hover());
                    signs::paint(ui.painter(), spot.center(), 15.0, finding.severity);
                    ui.vertical(|ui| {
                        ui.spacing_mut().item_spacing.y = 2.0;
                        let head = format!("{}: {}", signs::word(finding.severity), finding.place);
                        ui.add(Label::new(RichText::new(head).strong()).wrap());
                        ui.add(Label::new(RichText::new(&finding.what)).wrap());
                        if !finding.remedy.is_empty() {
                            let remedy = RichText::new(&finding.remedy)
                                .size(13.0)
                                .color(paper::FAINT);
                            ui.add(Label::new(remedy).wrap());
                        }
                    });
                });
            });
        let response = ui.interact(
            shown.response.rect,
            ui.id().with(("finding", i)),
            Sense::click(),
        );
        if finding.at.is_some() {
            if response.hovered() {
                ui.ctx().set_cursor_icon(egui::CursorIcon::PointingHand);
                ui.painter().rect_stroke(
                    shown.response.rect,
                    2.0,
                    Stroke::new(1.0, paper::RULE),
                    egui::StrokeKind::Inside,
                );
            }
            if response.clicked() {
                desk.wishes.push(Wish::Finding(i));
            }
        }
    }
}
