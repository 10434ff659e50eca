//! The field book, reduced: what the level notes and tapes come to. Metres.

use rustc_hash::FxHashMap;
use serde::Serialize;

/// The result of [`crate::survey::reduce`].
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct Reduced {
    /// Every shot with an elevation and a place in plan, in field-book order.
    pub spots: Vec<Spot>,
    /// Names that can be used as places in plan: shots, pegs, benchmarks, turning points.
    pub places: Vec<Named>,
    /// The reduced field book, row by row, as it would be printed.
    pub rows: Vec<Row>,
    /// Worst misclosure found (signed, as booked minus known), if the notes close on anything.
    pub misclosure: Option<f64>,
    /// The amount allowed for that misclosure.
    pub allowed: Option<f64>,
    pub closures: Vec<Closure>,
    /// Σ backsights − Σ foresights, and the difference in elevation it must equal.
    pub arithmetic: Option<[f64; 2]>,
    pub suspects: Vec<Suspect>,
    pub residuals: Vec<Residual>,
    /// What is known of each name, for [`Reduced::locate`] and [`Reduced::elevation`].
    #[serde(skip)]
    pub names: FxHashMap<String, Known>,
}

/// What is known of a name.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Known {
    pub at: Option<[f64; 2]>,
    pub z: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spot {
    pub name: String,
    pub x: f64,
    pub y: f64,
    /// Adjusted elevation.
    pub z: f64,
    /// Whether it shapes the ground.
    pub ground: bool,
    pub remark: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Named {
    pub name: String,
    pub x: f64,
    pub y: f64,
    /// Elevation, where known.
    pub z: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    pub setup: String,
    pub to: String,
    pub backsight: Option<f64>,
    pub height_of_instrument: Option<f64>,
    pub foresight: Option<f64>,
    pub intermediate: Option<f64>,
    pub inverted: bool,
    /// Elevation as booked.
    pub booked: Option<f64>,
    /// Correction from sharing out the misclosure.
    pub correction: f64,
    /// Adjusted elevation.
    pub elevation: Option<f64>,
    pub remark: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Closure {
    /// From this benchmark.
    pub from: String,
    /// To this benchmark (the same one for a loop).
    pub to: String,
    pub setups: usize,
    /// Length of the run, where the distance of every sight in it is booked.
    pub distance: Option<f64>,
    /// Booked minus known.
    pub misclosure: f64,
    pub allowed: f64,
    pub closes: bool,
}

/// A shot that does not fit its neighbours.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Suspect {
    pub shot: String,
    /// How far it stands off, booked minus expected.
    pub off_by: f64,
    /// The likely slip, in words: "reads a whole foot low".
    pub slip: String,
    /// The rod reading that would fit, if there is one.
    pub likely_rod: Option<f64>,
}

/// Distance between a shot's two placings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Residual {
    pub shot: String,
    pub distance: f64,
}
