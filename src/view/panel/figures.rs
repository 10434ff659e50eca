//! The page of figures: water, soil, and what each feature takes and gives.

use bevy_egui::egui::{Label, RichText, Ui};

use crate::report;
use crate::view::figures::Figures;
use crate::view::paper;
use crate::view::scene::Yard;

use super::Desk;
use super::ledger::{entry, table, title};
use super::sources;

pub fn page(ui: &mut Ui, desk: &mut Desk) {
    water(ui, desk.book.figures, desk.yard);
    soil(ui, desk.book.figures, desk.yard);
    by_feature(ui, desk.book.figures, desk.yard);
}

fn water(ui: &mut Ui, figures: Figures, yard: &Yard) {
    let bodies = &yard.plan.water;
    title(ui, "Water", "");
    if bodies.is_empty() {
        ui.label(RichText::new("None in this plan.").color(paper::FAINT));
        return;
    }
    let length = figures.length_unit();
    let columns = [
        ("", String::new()),
        ("level", length.to_owned()),
        ("area", figures.area_unit().to_owned()),
        ("volume", figures.water_unit().to_owned()),
        ("deepest", length.to_owned()),
        ("freeboard", length.to_owned()),
    ];
    let widths = [0.0, 50.0, 42.0, 52.0, 50.0, 58.0];
    table(ui, "water", &widths, |ui, cell| {
        for (k, (word, _)) in columns.iter().enumerate() {
            cell(ui, k, RichText::new(*word).small().color(paper::FAINT));
        }
        ui.end_row();
        for (k, (_, unit)) in columns.iter().enumerate() {
            cell(ui, k, RichText::new(unit).small().color(paper::FAINT));
        }
        ui.end_row();
        for body in bodies {
            // Water that runs away never stands at that level.
            let held = |figure: String| if body.held { figure } else { "—".into() };
            let sources = sources::water(body, figures);
            cell(ui, 0, RichText::new(&body.name));
            let row = [
                figures.elevation(body.level_m),
                held(figures.bare_area(body.area_m2)),
                held(figures.bare_water(body.volume_m3)),
                held(figures.elevation(body.depth_max_m)),
                figures.elevation(body.freeboard_min_m),
            ];
            for (k, (text, source)) in row.iter().zip(sources).enumerate() {
                cell(ui, k + 1, RichText::new(text).monospace()).on_hover_text(source);
            }
            ui.end_row();
        }
    });
    for body in bodies {
        let [.., freeboard] = sources::water(body, figures);
        let spill = figures.elevation_with_unit(body.spill_m);
        let words = if body.held {
            format!("{}: held; would run over at {spill}", body.name)
        } else {
            format!("{}: not held; runs over at {spill}", body.name)
        };
        let color = if body.held {
            paper::FAINT
        } else {
            paper::ACCENT
        };
        ui.label(RichText::new(words).small().color(color))
            .on_hover_text(freeboard);
    }
}

fn soil(ui: &mut Ui, figures: Figures, yard: &Yard) {
    let soil = &yard.plan.soil;
    title(ui, "Soil", &soil.class);
    let plan = &yard.plan;
    let volume = |m3: f64| figures.soil_with_unit(m3);
    entry(ui, "Cut, bank", &volume(plan.volumes.cut_bank_m3))
        .on_hover_text(sources::cut(plan, figures));
    entry(
        ui,
        "Fill, compacted",
        &volume(plan.volumes.fill_compacted_m3),
    )
    .on_hover_text(sources::fill(plan, figures));
    entry(ui, "Ramp, compacted", &volume(soil.ramp_compacted_m3))
        .on_hover_text(sources::ramp(plan, figures));
    entry(ui, "Topsoil, bank", &volume(soil.topsoil_bank_m3))
        .on_hover_text(sources::topsoil(plan, figures));
    entry(ui, "Spoil, loose", &volume(soil.spoil_loose_m3))
        .on_hover_text(sources::spoil(plan, figures));
    if soil.short_bank_m3 > 0.0 {
        let at = if soil.short_at.is_empty() {
            "Short, bank".to_owned()
        } else {
            format!("Short at {}, bank", soil.short_at)
        };
        entry(ui, &at, &volume(soil.short_bank_m3)).on_hover_text(sources::short(plan, figures));
    }
    entry(ui, "Truck loads", &soil.truck_loads.to_string())
        .on_hover_text(sources::trucks(plan, figures));
    if let Some(says) = report::ledgers_loads(plan) {
        let says = RichText::new(format!("Of spoil; {says}."));
        ui.add(Label::new(says.small().color(paper::FAINT)).wrap());
    }
    entry(ui, "Barrow loads", &soil.barrow_loads.to_string())
        .on_hover_text(sources::barrows(plan, figures));
}

fn by_feature(ui: &mut Ui, figures: Figures, yard: &Yard) {
    let rows = &yard.plan.volumes.by_feature;
    if rows.is_empty() {
        return;
    }
    title(ui, "By feature", figures.soil_unit());
    table(ui, "by feature", &[0.0, 74.0, 74.0], |ui, cell| {
        for (k, word) in ["feature", "cut, bank", "fill, comp."].iter().enumerate() {
            cell(ui, k, RichText::new(*word).small().color(paper::FAINT));
        }
        ui.end_row();
        for row in rows {
            let kind = row.kind.word();
            let name = if row.name.contains(kind) {
                row.name.clone()
            } else {
                format!("{}, {kind}", row.name)
            };
            let name = if row.part.is_empty() {
                name
            } else {
                format!("{name}: {}", row.part)
            };
            cell(ui, 0, RichText::new(name));
            let volumes = [row.cut_bank_m3, row.fill_compacted_m3];
            let sources = sources::work(row, figures);
            for (k, (volume, source)) in volumes.iter().zip(sources).enumerate() {
                let text = if volume.abs() < 1e-9 {
                    "·".to_owned()
                } else {
                    figures.soil(*volume)
                };
                cell(ui, k + 1, RichText::new(text).monospace()).on_hover_text(source);
            }
            ui.end_row();
        }
    });
}
