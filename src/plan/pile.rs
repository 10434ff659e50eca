//! Piles of soil as they lie. SI units.

use serde::Serialize;

use super::SoilKind;

/// A pile that the job gives a place, at its largest.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PileState {
    pub name: String,
    pub soil: SoilKind,
    /// The stage at whose end it is largest.
    pub stage: String,
    pub loose_m3: f64,
    /// Elevation of its crest, and its greatest thickness over the ground.
    pub crest_m: f64,
    pub height_m: f64,
    pub area_m2: f64,
    /// Works on whose ground it stands then: what they dug or placed by that stage. Empty: all of it
    /// on the ground as surveyed.
    pub stands_on: Vec<String>,
    /// Loose volume and thickness when each stage ends.
    pub over_time: Vec<PileStage>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PileStage {
    pub stage: String,
    pub loose_m3: f64,
    pub height_m: f64,
    /// Its surface then.
    #[serde(skip)]
    pub mesh: Vec<[[f64; 3]; 3]>,
}

/// A place where a kind of soil would fit, and costs least to carry.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PilePlace {
    pub soil: SoilKind,
    /// Middle of a cone.
    pub at: [f64; 2],
    /// The most that ever lies there.
    pub loose_m3: f64,
    pub height_m: f64,
    pub area_m2: f64,
    /// Mean distance that soil is carried to and from it, as the crow flies.
    pub carry_m: f64,
}
