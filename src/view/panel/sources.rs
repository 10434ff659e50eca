//! Where the figures of the page come from: the rule in words, and what went into it. Shown when a
//! figure is pointed at.

use crate::plan::{Plan, Water};
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

pub fn water(body: &Water, figures: Figures) -> String {
    format!(
        "{}: standing at {}, measured over every triangle of the finished surface that lies under \
         it. Freeboard {} is the lowest way out, {}, less the level; weirs are taken as stopped up.",
        body.name,
        figures.elevation_with_unit(body.level_m),
        figures.elevation_with_unit(body.freeboard_min_m),
        figures.elevation_with_unit(body.level_m + body.freeboard_min_m),
    )
}
