//! Where the figures of the page come from: the rule in words, and what went into it. Shown when a
//! figure is pointed at.

use crate::plan::{FeatureVolume, Plan, Water};
use crate::survey::Row;
use crate::view::figures::Figures;

pub fn cut(plan: &Plan, figures: Figures) -> String {
    format!(
        "Undisturbed soil dug, added up over the works in their order, before it loosens. \
         Between the surfaces existing and dug alone it is {}: what is dug and placed again at the \
         same place counts in the works, not there.",
        figures.soil_with_unit(plan.volumes.existing_to_dug_cut_m3)
    )
}

pub fn fill(plan: &Plan, figures: Figures) -> String {
    format!(
        "Soil placed, as it lies when compacted, added up over the works; temporary works are in \
         it. It takes {} of bank soil.",
        figures.soil_with_unit(plan.soil.fill_bank_m3)
    )
}

pub fn ramp(plan: &Plan, figures: Figures) -> String {
    format!(
        "Soil placed for the ramps, compacted; they take {} of bank soil while they stand.",
        figures.soil_with_unit(plan.soil.ramp_bank_m3)
    )
}

pub fn topsoil(plan: &Plan, figures: Figures) -> String {
    format!(
        "Of the cut, what lies in the topsoil; loosened it is {}.",
        figures.soil_with_unit(plan.soil.topsoil_loose_m3)
    )
}

pub fn spoil(plan: &Plan, figures: Figures) -> String {
    let soil = &plan.soil;
    let loosens = if soil.spoil_bank_m3 > 1e-9 {
        format!(
            " × {:.2} when loosened",
            soil.spoil_loose_m3 / soil.spoil_bank_m3
        )
    } else {
        String::new()
    };
    format!(
        "What is left over in the end: {} of bank soil{loosens} = {} loose.",
        figures.soil_with_unit(soil.spoil_bank_m3),
        figures.soil_with_unit(soil.spoil_loose_m3),
    )
}

pub fn short(plan: &Plan, figures: Figures) -> String {
    format!(
        "The largest shortage at any moment of the work, as bank soil; loose it is {}.",
        figures.soil_with_unit(plan.soil.short_loose_m3)
    )
}

pub fn trucks(plan: &Plan, figures: Figures) -> String {
    let soil = &plan.soil;
    format!(
        "Spoil {} loose ÷ {} loose a load, rounded up. The load is set by the {}.",
        figures.soil_with_unit(soil.spoil_loose_m3),
        figures.soil_with_unit(soil.load_loose_m3),
        if soil.load_by_payload {
            "payload, not the body"
        } else {
            "volume of the body"
        }
    )
}

pub fn barrows(plan: &Plan, figures: Figures) -> String {
    format!(
        "Cut {} loose ÷ a barrow load, rounded up.",
        figures.soil_with_unit(plan.soil.cut_loose_m3)
    )
}

/// Level, area, volume, deepest, freeboard.
pub fn water(body: &Water, figures: Figures) -> [String; 5] {
    let name = &body.name;
    let level = figures.elevation_with_unit(body.level_m);
    let [bed, brim] = [
        body.level_m - body.depth_max_m,
        body.level_m + body.freeboard_min_m,
    ]
    .map(|z| figures.elevation_with_unit(z));
    let measured = format!(
        "over every triangle of the finished surface that lies under the water of {name} at {level}"
    );
    [
        format!(
            "Where the design puts the water of {name}; a pool's follows from the basin that it \
             falls into and the drops between."
        ),
        format!("In plan, measured {measured}."),
        format!("Between level and ground, measured {measured}."),
        format!("{level} less the lowest finished ground under {name}, {bed}."),
        format!(
            "The lowest way out of {name}, {brim}, less its level {level}; weirs are taken as \
             stopped up."
        ),
    ]
}

/// What one work digs, and what it places.
pub fn work(row: &FeatureVolume, figures: Figures) -> [String; 2] {
    let stage = if row.stage.is_empty() {
        String::new()
    } else {
        format!(" in stage {}", row.stage)
    };
    let again = if row.redug_compacted_m3 > 1e-9 {
        format!(
            " Placed soil that it digs again, {} compacted, is not in it.",
            figures.soil_with_unit(row.redug_compacted_m3)
        )
    } else {
        String::new()
    };
    [
        format!(
            "Undisturbed soil that {} digs{stage}, between the ground as the works before it left \
             it and as it leaves it.{again}",
            row.name
        ),
        format!(
            "Soil that {} places{stage}, compacted, between the same two grounds.",
            row.name
        ),
    ]
}

/// How the elevation of a row of the notes was got, from the height of instrument of its setup.
pub fn elevation(row: &Row, instrument: f64, figures: Figures) -> Option<String> {
    let rod = row.intermediate.or(row.foresight)?;
    let sign = if row.inverted { '+' } else { '−' };
    let mut words = format!(
        "Height of instrument {} {sign} rod {} = {}",
        figures.elevation(instrument),
        figures.elevation(rod),
        figures.elevation(row.booked?),
    );
    if row.correction.abs() > 1e-9 {
        words += &format!(
            "; {} of the misclosure shared out",
            figures.elevation_with_unit(row.correction)
        );
    }
    Some(words)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::Editor;

    fn demo() -> (Plan, Figures) {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let editor = Editor::open(&path).unwrap_or_else(|e| panic!("{e}"));
        let job = editor.job().expect("a good job").clone();
        (Plan::of(&job), Figures(job.unit))
    }

    #[test]
    fn the_parts_that_a_source_names_come_to_the_figure() {
        let (plan, figures) = demo();
        let rows = &plan.survey.rows;
        let back = rows.iter().position(|r| r.setup == "I").expect("setup I");
        let instrument = rows[back].height_of_instrument.expect("an instrument");
        let shot = rows.iter().find(|r| r.to == "9").expect("shot 9");
        let words = elevation(shot, instrument, figures).expect("a source");
        // By hand: 100.00 + 4.62 − 5.17 ft.
        let by_hand = "Height of instrument 104.62 − rod 5.17 = 99.45";
        assert!(words.starts_with(by_hand), "{words}");
        let pond = plan
            .water
            .iter()
            .find(|w| w.name == "pond")
            .expect("a pond");
        let [.., deepest, freeboard] = water(pond, figures);
        // The wall's cap 96.40 ft less 4 in.
        assert!(deepest.starts_with("96.07 ft less"), "{deepest}");
        assert!(freeboard.contains("less its level 96.07 ft"), "{freeboard}");
    }
}
