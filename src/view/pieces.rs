//! The pieces that the yard's model is raised from: what each is made of, when it is seen, and what
//! of a new plan makes it out of date.

use bevy::gizmos::GizmoAsset;
use bevy::gizmos::config::GizmoLineConfig;
use bevy::prelude::Mesh;

use crate::plan::{MarkKind, Solid, Stake};

use super::Look;
use super::mesh::Batch;
use super::scene::{Layer, Part};
use super::stuff::Class;
use super::yard::{News, Yard};
use super::{charts, falls, ground, laths, lines, pins, walls, water};

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Piece {
    Ground(Look),
    /// Walls that are to be built.
    NewWalls,
    /// Walls that stand already.
    OldWalls,
    Houses,
    Pins,
    /// Stakes as they stand on each of the grounds.
    Laths(Look),
    /// Freeboard round the water.
    Ribbon,
    /// Its sheets as the crew sees them.
    Water,
    /// What falls over the lips.
    Falls,
    Shore,
    Marks(Look),
    Contours(Look),
}

/// A piece on its way into the scene: bodies for each class of stuff, or lines.
pub enum Made {
    Bodies(Vec<(Class, Mesh)>),
    Lines(Vec<(GizmoAsset, GizmoLineConfig)>),
}

impl Piece {
    pub fn all() -> impl Iterator<Item = Piece> {
        let on_each = |of: fn(Look) -> Piece| Look::ALL.into_iter().map(of);
        [
            Piece::NewWalls,
            Piece::OldWalls,
            Piece::Houses,
            Piece::Pins,
            Piece::Ribbon,
            Piece::Water,
            Piece::Falls,
            Piece::Shore,
        ]
        .into_iter()
        .chain(on_each(Piece::Ground))
        .chain(on_each(Piece::Marks))
        .chain(on_each(Piece::Laths))
        .chain(on_each(Piece::Contours))
    }

    /// When it is seen.
    pub fn part(self) -> Part {
        const FINISHED: &[Look] = &[Look::Finished];
        match self {
            Piece::Ground(look) => Part::of(Layer::Model, &[look]),
            Piece::NewWalls => Part::of(Layer::Model, FINISHED),
            Piece::OldWalls | Piece::Houses => Part::of(Layer::Standing, &Look::ALL),
            Piece::Pins => Part::of(Layer::Shots, &Look::ALL),
            Piece::Laths(look) => Part::of(Layer::Stakes, &[look]),
            Piece::Ribbon => Part::of(Layer::Brim, FINISHED),
            Piece::Water | Piece::Falls | Piece::Shore => Part::of(Layer::Water, FINISHED),
            Piece::Marks(look) => Part::of(Layer::Marks, &[look]),
            Piece::Contours(look) => Part::of(Layer::Contours, &[look]),
        }
    }

    /// Whether it must be made anew after such a change. To be kept in step with [`Piece::make`].
    pub fn is_old(self, news: &News) -> bool {
        let finished = news.ground(Look::Finished);
        news.frame
            || match self {
                // Tops of walls are drawn by the walls, ground under water is stoned.
                Piece::Ground(Look::Finished) => finished || news.solids || news.water,
                Piece::Ground(look) => news.ground(look) || news.solids,
                Piece::NewWalls | Piece::OldWalls => news.solids,
                Piece::Houses => news.marks || news.ground(Look::Existing),
                Piece::Pins => news.spots,
                Piece::Laths(look) => news.stakes || news.ground(look),
                Piece::Ribbon | Piece::Water => news.water || finished,
                Piece::Falls => news.flow || news.water || finished,
                Piece::Shore => news.water,
                Piece::Marks(look) => news.marks || news.ground(look),
                Piece::Contours(look) => news.ground(look),
            }
    }

    pub fn make(self, yard: &Yard) -> Made {
        let Yard { plan, frame, .. } = yard;
        let batch = match self {
            Piece::Ground(look) => {
                ground::block(plan, look, look == Look::Finished, yard.drape(look), frame)
            }
            Piece::NewWalls => built(yard, |s| s.new),
            Piece::OldWalls => built(yard, |s| !s.new),
            Piece::Houses => {
                let mut batch = Batch::default();
                for mark in plan.marks.iter().filter(|m| m.kind == MarkKind::House) {
                    let existing = yard.drape(Look::Existing);
                    batch.append(walls::house(mark, existing, plan, frame));
                }
                batch
            }
            Piece::Pins => pins::pins(&plan.survey.spots, frame),
            Piece::Laths(look) => {
                let drape = yard.drape(look);
                let foot = |stake: &Stake| {
                    let [x, y] = stake.place.at;
                    let z = drape.height([x, y]).or(stake.place.existing)?;
                    Some(frame.scene([x, y, z]))
                };
                laths::laths(plan.stakes.list.iter().filter_map(foot), frame)
            }
            Piece::Ribbon => charts::ribbon(yard),
            Piece::Water => {
                let mut batch = Batch::default();
                for body in &plan.water {
                    batch.append(water::sheet(body, yard.drape(Look::Finished), frame));
                }
                batch
            }
            Piece::Falls => falls::falls(plan, yard.drape(Look::Finished), frame),
            Piece::Shore => {
                let mut batch = Batch::default();
                for body in &plan.water {
                    batch.append(water::shoreline(body, frame));
                }
                batch
            }
            Piece::Marks(look) => {
                return Made::Lines(lines::marks(&plan.marks, yard.drape(look), frame));
            }
            Piece::Contours(look) => {
                return Made::Lines(lines::contours(yard.contours(look), frame));
            }
        };
        Made::Bodies(batch.into_meshes().collect())
    }
}

fn built(yard: &Yard, which: fn(&Solid) -> bool) -> Batch {
    let mut batch = Batch::default();
    for solid in yard.plan.solids.iter().filter(|s| which(s)) {
        batch.append(walls::wall(solid, &yard.frame));
    }
    batch
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{Document, Job, Unit};
    use crate::plan::Plan;

    /// All of what is drawn of a piece.
    fn drawn(piece: Piece, yard: &Yard) -> String {
        match piece.make(yard) {
            Made::Bodies(all) => all
                .iter()
                .map(|(class, mesh)| {
                    let parts = [
                        Mesh::ATTRIBUTE_POSITION,
                        Mesh::ATTRIBUTE_NORMAL,
                        Mesh::ATTRIBUTE_UV_0,
                        Mesh::ATTRIBUTE_UV_1,
                    ];
                    format!("{class:?} {:?}", parts.map(|a| mesh.attribute(a)))
                })
                .collect(),
            Made::Lines(all) => all
                .iter()
                .map(|(asset, config)| {
                    let lines = asset.buffer();
                    let (places, colors) = (&lines.strip_positions, &lines.strip_colors);
                    format!("{} {places:?} {colors:?}", config.width)
                })
                .collect(),
        }
    }

    /// What is left standing after an edit is what would be made anew, and an edit of the pond
    /// leaves standing what has nothing to do with it.
    #[test]
    fn what_is_left_standing_is_as_the_next_plan_has_it() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let (_, demo) = Document::load(&path).unwrap_or_else(|e| panic!("the demo: {e}"));
        let before = Yard::new(Plan::of(&demo), demo.unit);
        type Change = fn(&mut Job);
        let edits: [(&str, Unit, Change); 6] = [
            ("nothing", demo.unit, |_| {}),
            ("the unit", Unit::Metre, |_| {}),
            ("the pond's depth", demo.unit, |job| {
                job.design.basins[0].floor_depth += 0.05;
            }),
            ("a wall's corner", demo.unit, |job| {
                job.design.walls[0].line.pop();
            }),
            ("no paving", demo.unit, |job| job.site.paving.clear()),
            ("no standing wall", demo.unit, |job| job.site.walls.clear()),
        ];
        for (what, unit, edit) in edits {
            let mut job = demo.clone();
            edit(&mut job);
            let after = Yard::after(&before, Plan::of(&job), unit);
            let (old, stand): (Vec<Piece>, Vec<Piece>) =
                Piece::all().partition(|p| p.is_old(&after.news));
            for piece in &stand {
                assert!(
                    drawn(*piece, &before) == drawn(*piece, &after),
                    "{what}: {piece:?} is left standing but is another"
                );
            }
            match what {
                "nothing" => assert!(old.is_empty(), "{old:?} is raised for nothing"),
                "the unit" => assert!(stand.is_empty(), "lines go by the unit"),
                "the pond's depth" => {
                    for piece in [
                        Piece::Ground(Look::Existing),
                        Piece::Contours(Look::Existing),
                        Piece::OldWalls,
                        Piece::NewWalls,
                        Piece::Houses,
                        Piece::Pins,
                    ] {
                        assert!(stand.contains(&piece), "{piece:?} is raised for nothing");
                    }
                    let bed = Piece::Ground(Look::Finished);
                    assert!(old.contains(&bed) && drawn(bed, &before) != drawn(bed, &after));
                }
                _ => assert!(!old.is_empty(), "{what} changes nothing"),
            }
        }
    }
}
