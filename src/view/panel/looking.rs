//! The page of looking: maps over the yard, the section and the tape, and how heights are drawn.

use bevy_egui::egui::{Label, Response, RichText, Ui};

use crate::findings::Severity;
use crate::measure::Tape;
use crate::plan::BESIDE;
use crate::report;
use crate::view::figures::Figures;
use crate::view::hand::Tool;
use crate::view::stages::State;
use crate::view::{Look, paper};

use super::Desk;
use super::ledger::{entry, title};
use super::press;

/// Times that heights may be drawn.
pub const STRETCHES: [f32; 3] = [1.0, 2.0, 5.0];

/// Times that the book's writing may be larger.
const SIZES: [f32; 4] = [0.9, 1.0, 1.25, 1.5];

pub fn page(ui: &mut Ui, desk: &mut Desk) {
    client(ui, desk);
    maps(ui, desk);
    wipe(ui, desk);
    stages(ui, desk);
    section(ui, desk);
    tape(ui, desk);
    heights(ui, desk);
}

fn note(ui: &mut Ui, text: &str) -> Response {
    ui.label(RichText::new(text).small().color(paper::FAINT))
}

fn client(ui: &mut Ui, desk: &mut Desk) {
    title(ui, "For the client", "");
    let about = "Puts the tools away; H or Esc brings them back";
    if press::button(ui, "Show the finished yard (H)", about) {
        desk.showing.client = true;
    }
    note(
        ui,
        "Without tools and marks: before and after, turning, on foot, and pictures to hand over.",
    );
}

fn maps(ui: &mut Ui, desk: &mut Desk) {
    title(ui, "Over the yard", "");
    ui.checkbox(&mut desk.showing.depth, "Depth of dig and place (D)");
    note(
        ui,
        match desk.showing.look {
            Look::Existing => "From the existing ground: choose Dug or Finished to see it.",
            Look::Dug => "Dug less existing. Dig is hatched, place is dotted; darker is more.",
            Look::Finished => {
                "Finished less existing. Dig is hatched, place is dotted; darker is more."
            }
        },
    );
    ui.checkbox(&mut desk.showing.brim, "Freeboard round the water (B)");
    note(
        ui,
        if desk.showing.look == Look::Finished {
            "The highest ground straight outwards, up to where it falls below the water. \
             The lowest place is the plan's own figure."
        } else {
            "Around the finished water: choose Finished to see it."
        },
    );
}

fn wipe(ui: &mut Ui, desk: &mut Desk) {
    title(ui, "Wipe (E)", "");
    ui.horizontal(|ui| {
        if ui.radio(desk.showing.wipe.is_none(), "none").clicked() {
            desk.showing.wipe = None;
        }
        for look in Look::ALL {
            let on = desk.showing.wipe == Some(look);
            let choice = ui.radio(on, look.word().to_lowercase());
            if choice.clicked() && look != desk.showing.look {
                desk.showing.wipe = Some(look);
            }
        }
    });
    note(
        ui,
        "Another surface on the right of a line that can be dragged; the one chosen above on its \
         left.",
    );
}

fn stages(ui: &mut Ui, desk: &mut Desk) {
    title(ui, "Stages ([ and ])", "");
    if desk.stages.names.is_empty() {
        note(ui, "Nothing is to be built in this job.");
        return;
    }
    if ui
        .radio(desk.showing.is_look(), "the surface chosen above")
        .clicked()
    {
        (desk.showing.stage, desk.showing.built) = (None, None);
    }
    for (k, name) in desk.stages.names.iter().enumerate() {
        let on = desk.showing.built.is_none() && desk.showing.stage == Some(k);
        if ui.radio(on, format!("after {}: {name}", k + 1)).clicked() {
            (desk.showing.stage, desk.showing.built) = (Some(k), None);
        }
    }
    if let Some(k) = desk.showing.stage {
        match desk.stages.state(k) {
            State::Working => note(ui, "Working it out…"),
            State::Shown => note(
                ui,
                "As the machine leaves it then, temporary works standing.",
            ),
            State::Never(why) => note(ui, &format!("Cannot be shown: {why}.")),
        };
        hauls(ui, desk, &desk.stages.names[k]);
    }
}

/// Who carries what where in a stage, numbered as in the yard.
fn hauls(ui: &mut Ui, desk: &Desk, stage: &str) {
    let Some(hauls) = desk.carrying.of(stage) else {
        note(ui, "Who carries what where is being worked out…");
        return;
    };
    let measure = report::Measure(desk.book.figures.0);
    for (k, haul) in hauls.iter().enumerate() {
        // These letters know no arrow.
        let line = report::carried(haul, true, measure).replace(" → ", " to ");
        let by = match haul.by.as_str() {
            BESIDE | "barrow" => String::new(),
            by => format!(", by {}", by.trim_start_matches("by ")),
        };
        let line = RichText::new(format!("{}  {line}{by}", k + 1)).small();
        ui.add(Label::new(line).wrap());
    }
    if hauls.is_empty() {
        note(ui, "Nothing is carried in it.");
    } else {
        note(
            ui,
            "In the yard as wide as there is soil to carry; topsoil and unfit soil dashed.",
        );
    }
    let wrong = desk
        .carrying
        .haulage()
        .into_iter()
        .flat_map(|h| &h.findings);
    for f in wrong.filter(|f| f.severity <= Severity::Warning) {
        let line = RichText::new(format!("{}: {}", f.place, f.what)).small();
        ui.add(Label::new(line.color(paper::ACCENT)).wrap());
    }
}

fn section(ui: &mut Ui, desk: &mut Desk) {
    title(ui, "Section", "");
    ui.horizontal(|ui| {
        let laid = desk.hand.line(Tool::Section).is_some();
        let words = if laid {
            "Lay it anew (X)"
        } else {
            "Lay a section (X)"
        };
        if press::button(ui, words, "Existing, dug, finished and water along a line") {
            desk.hand.take_up(Tool::Section);
        }
        if laid && press::button(ui, "Put the section away", "The line and its tray go") {
            desk.hand.put_away(Tool::Section);
        }
    });
    note(
        ui,
        match desk.hand.tool {
            Some(Tool::Section) => "Press where it begins, drag or press again where it ends.",
            _ => "Drag its ends A and B in the yard at any time.",
        },
    );
}

fn tape(ui: &mut Ui, desk: &mut Desk) {
    title(ui, "Tape", "");
    ui.horizontal(|ui| {
        let laid = desk.hand.line(Tool::Tape).is_some();
        let words = if laid {
            "Stretch it anew (T)"
        } else {
            "Stretch a tape (T)"
        };
        if press::button(ui, words, "Distance, difference and gradient of two places") {
            desk.hand.take_up(Tool::Tape);
        }
        if laid && press::button(ui, "Roll the tape up", "It goes from the yard") {
            desk.hand.put_away(Tool::Tape);
        }
    });
    let figures = desk.book.figures;
    match desk.hand.tape(desk.yard, desk.showing.look) {
        Some(tape) => readings(ui, &tape, figures, desk.showing.look),
        None if desk.hand.line(Tool::Tape).is_some() => {
            note(ui, "Both ends must lie on the ground shown.");
        }
        None => {
            note(ui, "From one place on the ground shown to another.");
        }
    }
}

fn readings(ui: &mut Ui, tape: &Tape, figures: Figures, look: Look) {
    let length = |m: f64| figures.elevation_with_unit(m);
    let Tape { slope, level, rise } = *tape;
    entry(ui, "Slope distance", &length(slope)).on_hover_text(format!(
        "Straight from end to end: √(level² + rise²) = √({}² + {}²).",
        figures.elevation(level),
        figures.elevation(rise.abs())
    ));
    entry(ui, "Level distance", &length(level))
        .on_hover_text("Between the two places in plan, as a tape held level reads.");
    let way = if rise < 0.0 { "Falls by" } else { "Rises by" };
    entry(ui, way, &length(rise.abs()))
        .on_hover_text("Elevation of the ground shown at the second end less that at the first.");
    let source = "Rise over level distance.";
    match (tape.gradient(), tape.one_in()) {
        (Some(g), Some(n)) => {
            entry(ui, "Gradient", &format!("1 in {n:.1}")).on_hover_text(source);
            entry(ui, "", &format!("{:.1} %", 100.0 * g.abs())).on_hover_text(source);
            // 12 in to the foot, exact.
            entry(ui, "", &format!("{:.2} in/ft", 12.0 * g.abs())).on_hover_text(source);
        }
        (Some(_), None) => {
            entry(ui, "Gradient", "level").on_hover_text(source);
        }
        _ => {
            entry(ui, "Gradient", "upright").on_hover_text(source);
        }
    }
    note(
        ui,
        &format!(
            "From the first end to the second, on the {} ground.",
            look.word().to_lowercase()
        ),
    );
}

fn heights(ui: &mut Ui, desk: &mut Desk) {
    title(ui, "Heights drawn (V)", "");
    ui.horizontal(|ui| {
        for times in STRETCHES {
            let on = (desk.showing.stretch - times).abs() < 0.01;
            let words = if times == 1.0 {
                "true".to_owned()
            } else {
                format!("{times:.0} times")
            };
            if ui.radio(on, words).clicked() {
                desk.showing.stretch = times;
            }
        }
    });
    size(ui);
    let step = desk.yard.contours(desk.showing.look).step;
    note(
        ui,
        &format!(
            "Figures never change with it. Contours every {} {}.",
            desk.book.figures.short(step),
            desk.book.figures.length_unit()
        ),
    )
    .on_hover_text(
        "The closest of the usual steps that needs 16 lines at most for the ground shown.",
    );
}

/// How large the book is written.
fn size(ui: &mut Ui) {
    ui.horizontal(|ui| {
        ui.label("Writing");
        let now = ui.ctx().zoom_factor();
        for times in SIZES {
            let words = format!("{:.0} %", 100.0 * times);
            if ui
                .radio((now - times).abs() < 0.01, words)
                .on_hover_text("Ctrl and +, −, 0; remembered")
                .clicked()
            {
                ui.ctx().set_zoom_factor(times);
            }
        }
    });
}
