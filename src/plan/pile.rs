//! Piles of soil as they lie. SI units.

use delaunator::Point;
use serde::Serialize;

use super::SoilKind;
use crate::terrain::predicates::P2;

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

impl PileState {
    /// Convex ring in plan around all of it at its largest.
    pub fn edge(&self) -> Vec<P2> {
        let largest = self
            .over_time
            .iter()
            .max_by(|a, b| a.loose_m3.total_cmp(&b.loose_m3));
        let points: Vec<Point> = largest
            .iter()
            .flat_map(|stage| stage.mesh.iter().flatten())
            .map(|p| Point { x: p[0], y: p[1] })
            .collect();
        let hull = delaunator::triangulate(&points).hull;
        hull.into_iter()
            .map(|k| [points[k].x, points[k].y])
            .collect()
    }
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
