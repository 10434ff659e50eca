//! What stays in sight above every page: the job's name, which surface, what is drawn over it, and
//! how many findings there are.

use bevy_egui::egui::{self, Align, Color32, Label, Layout, RichText, Sense, Ui, Vec2};

use crate::findings::Severity;
use crate::job::Unit;
use crate::view::{Look, paper, signs};

use super::{Desk, Wish};

pub fn head(ui: &mut Ui, desk: &mut Desk) {
    ui.add(Label::new(RichText::new(&desk.book.title).heading().strong()).wrap());
    let shots = desk.yard.plan.survey.spots.len();
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 5.0;
        ui.label(
            RichText::new(format!(
                "{shots} {}; lengths in {}, soil in {}",
                if shots == 1 { "shot" } else { "shots" },
                desk.book.figures.length_unit(),
                desk.book.figures.soil_unit()
            ))
            .small()
            .color(paper::FAINT),
        );
        let other = match desk.book.figures.0 {
            Unit::Foot => "in metres",
            Unit::Metre => "in feet",
        };
        let flip = ui.small_button(other);
        if flip
            .on_hover_text(
                "Figures on screen only: the job keeps its unit, and findings speak in it",
            )
            .clicked()
        {
            desk.wishes.push(Wish::Unit);
        }
    });
    job_line(ui, desk);
    ui.add_space(4.0);
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        let width = (ui.available_width() - 8.0) / 3.0;
        for (k, look) in Look::ALL.into_iter().enumerate() {
            let on = desk.showing.look == look;
            let text = RichText::new(format!("{}  {}", k + 1, look.word())).color(if on {
                Color32::WHITE
            } else {
                paper::INK
            });
            let button = egui::Button::new(text)
                .fill(if on { paper::ACCENT } else { paper::SHEET })
                .min_size(Vec2::new(width, 30.0));
            if ui.add(button).clicked() {
                desk.showing.look = look;
            }
        }
    });
    ui.add_space(2.0);
    ui.label(
        RichText::new(desk.showing.look.meaning())
            .small()
            .color(paper::FAINT),
    );
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 9.0;
        ui.checkbox(&mut desk.showing.water, "Water");
        ui.checkbox(&mut desk.showing.shots, "Shots");
        ui.checkbox(&mut desk.showing.contours, "Contours");
        ui.checkbox(&mut desk.showing.marks, "Marks");
    });
    ui.horizontal(|ui| {
        if ui.button("Whole yard (F)").clicked() {
            desk.wishes.push(Wish::Whole);
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            for severity in [
                Severity::Note,
                Severity::Caution,
                Severity::Warning,
                Severity::Error,
            ] {
                let count = desk
                    .yard
                    .plan
                    .findings
                    .iter()
                    .filter(|f| f.severity == severity)
                    .count();
                if count > 0 {
                    ui.label(RichText::new(count.to_string()).monospace());
                    let (spot, response) =
                        ui.allocate_exact_size(Vec2::splat(18.0), Sense::hover());
                    signs::paint(ui.painter(), spot.center(), 14.0, severity);
                    response.on_hover_text(signs::word(severity));
                }
            }
        });
    });
}

/// Taking back and saving, and what was last said about the job.
fn job_line(ui: &mut Ui, desk: &mut Desk) {
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 5.0;
        let history = desk.work.editor.history();
        let (back, again) = (
            history.undo_label().map(str::to_owned),
            history.redo_label().map(str::to_owned),
        );
        let button = |ui: &mut Ui, word: &str, label: &Option<String>, key: &str| {
            let button = ui.add_enabled(label.is_some(), egui::Button::new(word).small());
            match label {
                Some(label) => button.on_hover_text(format!("{label} ({key})")).clicked(),
                None => button.clicked(),
            }
        };
        if button(ui, "Take back", &back, "Ctrl+Z") {
            desk.work.undo();
        }
        if button(ui, "Do again", &again, "Ctrl+Shift+Z") {
            desk.work.redo();
        }
        if ui
            .small_button("New")
            .on_hover_text("An empty job")
            .clicked()
        {
            desk.wishes.push(Wish::New);
        }
        if ui
            .small_button("Open")
            .on_hover_text("Ctrl+O; or drop a file")
            .clicked()
        {
            desk.wishes.push(Wish::Open);
        }
        if ui.small_button("Save").on_hover_text("Ctrl+S").clicked() {
            desk.wishes.push(Wish::Save);
        }
        if ui.small_button("Save as").clicked() {
            desk.wishes.push(Wish::SaveAs);
        }
    });
    let editor = &desk.work.editor;
    let (text, ink) = if desk.work.is_planning() {
        ("Working the plan out\u{2026}".to_owned(), paper::ACCENT)
    } else if let Some(said) = &desk.work.said {
        let ink = if said.bad {
            paper::ACCENT
        } else {
            paper::FAINT
        };
        (said.text.clone(), ink)
    } else if let Some(problem) = editor.problems().first() {
        (
            format!("The figures are those before this: {}", problem.what),
            paper::ACCENT,
        )
    } else if editor.is_changed() {
        ("Not saved yet".to_owned(), paper::FAINT)
    } else {
        (editor.name().to_owned(), paper::FAINT)
    };
    ui.add(Label::new(RichText::new(&text).small().color(ink)).truncate())
        .on_hover_text(&text);
}
