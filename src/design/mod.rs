//! The design, feature by feature, as grading moves on the ground.
//!
//! Each feature lays itself out for one of two tracks: what the machine leaves ("dug") and what the
//! client sees ("finished", with lining, stone, paving and walls in place).

pub mod basin;
pub mod cascade;
pub mod legs;
pub mod makers;
pub mod pad;
pub mod ring;
pub mod set_out;
pub mod strip;
pub mod wall;
pub mod yard;

use crate::earthwork::Facet;
use crate::findings::Finding;
use crate::job::Layer;
use crate::job::LayerOn;
use crate::plan::{Kind, Solid};
use crate::terrain::predicates::P2;

pub use makers::Makers;
pub use set_out::{SetLine, SetPoint, Spaced};
pub use yard::{Track, Yard};

/// One move of a feature.
#[derive(Debug, Clone)]
pub enum Move {
    Dig(Vec<Facet>),
    Place(Vec<Facet>),
    /// Raises what earlier works dug too deep, up to the level parts of what was dug to, as far as they lie
    /// under the water, or to the ground as surveyed.
    MakeGood {
        dug_to: Vec<Facet>,
        water: f64,
    },
    /// A wall's body: its top becomes part of the finished surface.
    Build(Vec<Facet>),
    /// Puts back what the feature's own temporary part with this name dug.
    Refill(String),
}

/// A part of a feature that is measured by itself.
#[derive(Debug, Clone)]
pub struct Part {
    pub name: String,
    pub kind: Kind,
    /// Which part of the feature's work it is, as the figures name it; empty if there is one only.
    pub label: &'static str,
    /// Will be put back later (by [`Move::Refill`] or a stage that takes it back).
    pub temporary: bool,
    /// Stone or block, not soil: it is built, but no soil is counted.
    pub structure: bool,
    pub moves: Vec<Move>,
}

impl Part {
    pub fn new(name: &str, kind: Kind, moves: Vec<Move>) -> Self {
        Part {
            name: name.into(),
            kind,
            label: "",
            temporary: false,
            structure: false,
            moves,
        }
    }
}

/// A feature laid out.
#[derive(Debug, Clone, Default)]
pub struct Layout {
    pub parts: Vec<Part>,
    pub solids: Vec<Solid>,
    pub findings: Vec<Finding>,
    pub waters: Vec<Still>,
    /// What is set out with stakes: lines as dug or built, on the dug track only.
    pub lines: Vec<SetLine>,
}

/// Water that a feature is meant to hold.
#[derive(Debug, Clone)]
pub struct Still {
    pub name: String,
    pub level: f64,
    /// A place under the water.
    pub seed: P2,
    /// Water's edge as drawn.
    pub outline: Vec<P2>,
    /// Least height of the lining's edge over the water.
    pub edge_above: f64,
    /// It runs over a lip by design.
    pub lipped: bool,
}

/// Thickness of the lining on level floors, shelves and sides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BuildUp {
    pub floor: f64,
    pub shelf: f64,
    pub side: f64,
}

impl BuildUp {
    pub fn of(layers: &[Layer], track: Track) -> Self {
        if track == Track::Finished {
            return BuildUp {
                floor: 0.0,
                shelf: 0.0,
                side: 0.0,
            };
        }
        let sum = |on: &[LayerOn]| {
            layers
                .iter()
                .filter(|l| on.contains(&l.on))
                .map(|l| l.thickness)
                .sum::<f64>()
        };
        BuildUp {
            floor: sum(&[LayerOn::All, LayerOn::Level, LayerOn::Floor]),
            shelf: sum(&[LayerOn::All, LayerOn::Level]),
            side: sum(&[LayerOn::All]),
        }
    }
}
