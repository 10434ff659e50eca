//! What stays in sight above every page: the job's name, which surface, what is drawn over it, and
//! how many findings there are.

use bevy_egui::egui::{self, Align, Color32, Label, Layout, RichText, Sense, Ui, Vec2};

use crate::findings::Severity;
use crate::job::Unit;
use crate::view::{Look, paper, signs};

use super::{Desk, Wish, cell, press};

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
        )
        .on_hover_text("Shots with an elevation and a place, from the field book: page Notes");
        let other = match desk.book.figures.0 {
            Unit::Foot => "in metres",
            Unit::Metre => "in feet",
        };
        let about = "Figures on screen only: the job keeps its unit, and findings speak in it";
        if press::small(ui, other, about) {
            desk.wishes.push(Wish::Unit);
        }
    });
    job_line(ui, desk);
    ui.add_space(4.0);
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        let width = (ui.available_width() - 8.0) / 3.0;
        for (k, look) in Look::ALL.into_iter().enumerate() {
            // A stage or a visit that is looked at has taken its place.
            let on = desk.showing.is_look() && desk.showing.look == look;
            let text = RichText::new(format!("{}  {}", k + 1, look.word())).color(if on {
                Color32::WHITE
            } else {
                paper::INK
            });
            let button = egui::Button::new(text)
                .fill(if on { paper::ACCENT } else { paper::SHEET })
                .min_size(Vec2::new(width, 30.0));
            if ui.add(button).on_hover_text(look.meaning()).clicked() {
                desk.showing.turn_to(look);
            }
        }
    });
    ui.add_space(2.0);
    let meaning = match (desk.showing.built, desk.showing.stage) {
        (Some(_), _) => "The ground that the crew's shots are held against.".to_owned(),
        (None, Some(k)) => match desk.stages.names.get(k).map_or("", String::as_str) {
            "" => "The ground when all is done.".to_owned(),
            name => format!("The ground when stage {} is done: {name}.", k + 1),
        },
        (None, None) => desk.showing.look.meaning().to_owned(),
    };
    ui.add(Label::new(RichText::new(meaning).small().color(paper::FAINT)).truncate());
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 9.0;
        let showing = &mut desk.showing;
        for (on, word, about) in [
            (
                &mut showing.water,
                "Water",
                "Water at its level, with its names (W)",
            ),
            (
                &mut showing.shots,
                "Shots",
                "Pins of the shots, with their numbers (S)",
            ),
            (
                &mut showing.contours,
                "Contours",
                "Lines of equal elevation on the ground shown (C)",
            ),
            (
                &mut showing.marks,
                "Marks",
                "Keep-outs, services, the way in, breaklines (M)",
            ),
        ] {
            ui.checkbox(on, word).on_hover_text(about);
        }
    });
    ui.horizontal(|ui| {
        if press::button(ui, "Whole yard (F)", "Steps back until all of it is seen") {
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
                    response.on_hover_text(format!(
                        "Findings of this kind: {}. They are on the page Findings",
                        signs::word(severity)
                    ));
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
            let about = match label {
                Some(label) => format!("{label} ({key})"),
                None => format!("Nothing to do here ({key})"),
            };
            press::small_if(ui, label.is_some(), word, &about)
        };
        if button(ui, "Take back", &back, "Ctrl+Z") {
            desk.work.undo();
        }
        if button(ui, "Do again", &again, "Ctrl+Shift+Z") {
            desk.work.redo();
        }
        if press::small(ui, "New", "An empty job") {
            desk.wishes.push(Wish::New);
        }
        if press::small(
            ui,
            "Open",
            "Another job (Ctrl+O); or drop its file on the window",
        ) {
            desk.wishes.push(Wish::Open);
        }
        if press::small(ui, "Save", "To the job's own file (Ctrl+S)") {
            desk.wishes.push(Wish::Save);
        }
        if press::small(ui, "Save as", "Under another name, or in another place") {
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
            format!(
                "The figures are those before this: {}",
                cell::in_words(&problem.what, "")
            ),
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
