//! What words over the yard answer when they are pointed at: where the figure comes from.

use crate::measure::Tape;
use crate::plan::{MarkKind, Plan, Shot, Stake};
use crate::view::Look;
use crate::view::built::Seen;
use crate::view::charts::STEPS;
use crate::view::figures::Figures;
use crate::view::labels::Of;
use crate::view::scene::Yard;
use crate::view::stages::{Stages, State};

use super::sources;

/// What an answer is taken from.
pub struct Told<'a> {
    pub yard: &'a Yard,
    pub stages: &'a Stages,
    /// The visit whose shots are shown.
    pub visit: Option<&'a Seen>,
    pub tape: Option<Tape>,
    pub figures: Figures,
}

/// `None` where the words say all there is.
pub fn of(what: Of, told: &Told) -> Option<String> {
    let Told { yard, figures, .. } = *told;
    let plan = &yard.plan;
    Some(match what {
        Of::Title => {
            let why = |k| match told.stages.state(k) {
                State::Never(why) => Some(why.to_owned()),
                _ => None,
            };
            return (0..told.stages.names.len()).find_map(why);
        }
        Of::Level(k) => sources::water(plan.water.get(k)?, figures)[0].clone(),
        Of::Freeboard(k) => sources::water(plan.water.get(k)?, figures)[4].clone(),
        Of::Spill(k) => {
            let spill = plan.flow.spills.get(k)?;
            let body = plan.water.iter().find(|w| w.name == spill.water);
            let over = body.map_or(String::new(), |w| {
                format!(
                    ", {} over its level",
                    figures.elevation_with_unit(spill.spill_m - w.level_m)
                )
            });
            format!(
                "The lowest way out of {} over the finished surface{over}. The line goes down the \
                 steepest way from there.",
                spill.water
            )
        }
        Of::Mark(k) => mark(plan.marks.get(k)?.kind)?.to_owned(),
        Of::Contour(z, look) => format!(
            "The line on which the {} lies at {}. One every {} {}.",
            ground(look),
            figures.elevation_with_unit(z),
            figures.short(yard.contours(look).step),
            figures.length_unit()
        ),
        Of::Shot(k) => shot(plan, k, figures)?,
        Of::Stake(k) => stake(plan.stakes.list.get(k)?, figures),
        Of::Peg => "A point of the field book: one of the two tapes begins here.".to_owned(),
        Of::Pile(k) => format!(
            "By the ledger of soil: what the works until then have brought to {}, less what they \
             have taken from it, loose.",
            plan.piles.get(k)?.name
        ),
        Of::Place(_) => "The nearest place where a cone of the most that ever lies of it keeps clear of works, \
                         setbacks, keep-outs, services, paving and walls. Add a pile on the page of \
                         design to have it there, or elsewhere."
            .to_owned(),
        Of::Haul => {
            "What lies over from one work goes to where it is wanted, loads rounded up; of \
                     all ways to do that the one with the least carrying. Distances along the way \
                     that is drawn."
                .to_owned()
        }
        Of::Built(k) => built(told.visit?.built.shots.get(k)?, figures),
        Of::Differences => "Elevation of each shot less the design's at its place; between the \
                            shots as the ground is drawn through them."
            .to_owned(),
        Of::Depths(look) => format!(
            "The {} at each place less the existing ground there, both laid over each other. Steps \
             are the closest usual ones of which {STEPS} go as deep as is dug or placed.",
            ground(look)
        ),
        Of::Brim => "The highest ground straight outwards from the water's edge, up to where it \
                     falls below the water, less the water's level."
            .to_owned(),
        Of::Tape => {
            let Tape { level, rise, .. } = told.tape?;
            format!(
                "Straight from end to end on the ground shown: {} level, {} {}.",
                figures.elevation_with_unit(level),
                figures.elevation_with_unit(rise.abs()),
                if rise < 0.0 { "down" } else { "up" }
            )
        }
    })
}

fn ground(look: Look) -> &'static str {
    match look {
        Look::Existing => "existing ground",
        Look::Dug => "ground as dug",
        Look::Finished => "finished ground",
    }
}

fn mark(kind: MarkKind) -> Option<&'static str> {
    Some(match kind {
        MarkKind::KeepOut => "Keep-out: nothing is dug, placed or driven over here.",
        MarkKind::Service => "A buried service, as it was entered. Have it located before digging.",
        MarkKind::Tree => "Root zone of a tree to keep, as it was entered.",
        MarkKind::Access => "The way in, as it was entered.",
        MarkKind::House => {
            "A building: its outline as it was entered; how high it stands is drawn."
        }
        MarkKind::Paving => "Paving that stays, as it was entered.",
        MarkKind::Breakline | MarkKind::Outline => return None,
    })
}

/// From the rod, if the shot was read; else as it was entered.
fn shot(plan: &Plan, k: usize, figures: Figures) -> Option<String> {
    let spot = plan.survey.spots.get(k)?;
    let rows = &plan.survey.rows;
    let read = rows.iter().position(|r| r.to == spot.name).and_then(|at| {
        let instrument = rows[..at]
            .iter()
            .rev()
            .filter(|r| r.setup == rows[at].setup)
            .find_map(|r| r.height_of_instrument)?;
        sources::elevation(&rows[at], instrument, figures)
    });
    let level = read.unwrap_or_else(|| {
        format!(
            "Elevation {} as it was entered",
            figures.elevation_with_unit(spot.z)
        )
    });
    let shapes = if spot.ground {
        ""
    } else {
        " It does not shape the ground."
    };
    Some(format!("Shot {}: {level}.{shapes}", spot.name))
}

fn stake(stake: &Stake, figures: Figures) -> String {
    let mut words = format!("{}, {}", stake.name, stake.part);
    let elevations = [
        ("existing ground", stake.place.existing),
        ("dig to", stake.place.dig),
        ("finished", stake.place.finish),
    ];
    for (name, z) in elevations {
        if let Some(z) = z {
            words += &format!("; {name} {}", figures.elevation_with_unit(z));
        }
    }
    if let Some(tie) = &stake.tie {
        words += &format!(
            ". Tapes held level: {} from {}, {} from {}",
            figures.elevation_with_unit(tie.from_a),
            tie.a,
            figures.elevation_with_unit(tie.from_b),
            tie.b
        );
    }
    words + "."
}

fn built(shot: &Shot, figures: Figures) -> String {
    let at = figures.elevation_with_unit(shot.elevation);
    match (shot.design, shot.over) {
        (Some(design), Some(_)) => format!(
            "Shot at {at} less the design there, {}: {}. Right is within {} square to the face.",
            figures.elevation_with_unit(design),
            shot.verdict.words(),
            figures.elevation_with_unit(shot.tolerance)
        ),
        _ => format!("Shot at {at}, {}.", shot.verdict.words()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::Editor;

    fn demo() -> (Yard, Stages) {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let editor = Editor::open(&path).unwrap_or_else(|e| panic!("{e}"));
        let job = editor.job().expect("a good job").clone();
        let yard = Yard::new(Plan::of(&job), job.unit);
        (yard, Stages::of(job))
    }

    #[test]
    fn every_shot_water_and_stake_of_the_demo_answers() {
        let (yard, stages) = demo();
        let plan = yard.plan.clone();
        let told = Told {
            figures: Figures(yard.unit),
            yard: &yard,
            stages: &stages,
            visit: None,
            tape: None,
        };
        let shots = (0..plan.survey.spots.len()).map(Of::Shot);
        let waters = (0..plan.water.len()).flat_map(|k| [Of::Level(k), Of::Freeboard(k)]);
        let spills = (0..plan.flow.spills.len()).map(Of::Spill);
        let stakes = (0..plan.stakes.list.len()).map(Of::Stake);
        let all: Vec<Of> = shots.chain(waters).chain(spills).chain(stakes).collect();
        assert!(all.len() > 60, "{} labels", all.len());
        for what in all {
            let words = of(what, &told).unwrap_or_else(|| panic!("{what:?} says nothing"));
            assert!(
                words.ends_with('.') && words.len() > 20,
                "{what:?}: {words}"
            );
        }
        let nine = plan.survey.spots.iter().position(|s| s.name == "9");
        let words = of(Of::Shot(nine.expect("shot 9")), &told).expect("words");
        // By hand: 100.00 + 4.62 − 5.17 ft.
        let by_hand = "Shot 9: Height of instrument 104.62 − rod 5.17 = 99.45";
        assert!(words.starts_with(by_hand), "{words}");
    }
}
