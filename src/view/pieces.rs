//! The pieces that the yard's model is raised from: what each is made of, when it is seen, and what
//! of a new plan makes it out of date.

use bevy::gizmos::GizmoAsset;
use bevy::gizmos::config::GizmoLineConfig;
use bevy::prelude::Mesh;

use crate::plan::{MarkKind, Solid};

use super::Look;
use super::mesh::Batch;
use super::scene::{Layer, Part};
use super::stuff::Class;
use super::yard::{News, Yard};
use super::{charts, ground, lines, pins, walls, water};

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Piece {
    Ground(Look),
    /// Walls that are to be built.
    NewWalls,
    /// Walls that stand already.
    OldWalls,
    Houses,
    Pins,
    /// Freeboard round the water.
    Ribbon,
    /// Its sheets as the crew sees them.
    Water,
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
            Piece::Shore,
        ]
        .into_iter()
        .chain(on_each(Piece::Ground))
        .chain(on_each(Piece::Marks))
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
            Piece::Ribbon => Part::of(Layer::Brim, FINISHED),
            Piece::Water | Piece::Shore => Part::of(Layer::Water, FINISHED),
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
                Piece::Ribbon | Piece::Water => news.water || finished,
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
            Piece::Ribbon => charts::ribbon(yard),
            Piece::Water => {
                let mut batch = Batch::default();
                for body in &plan.water {
                    batch.append(water::sheet(body, yard.drape(Look::Finished), frame));
                }
                batch
            }
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
