//! What is known of the way in, of who carries what where, and of the ramp. SI units; hours.

use serde::Serialize;

/// Where the truck stands.
pub const STREET: &str = "street";
/// Carried by nobody: it lies within reach of where it goes.
pub const BESIDE: &str = "beside it";
/// In buckets, where nothing on wheels gets.
pub const BY_HAND: &str = "by hand";

/// The way in, from the street.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct AccessRoute {
    pub length_m: f64,
    /// Narrowest width, what it is ("side gate", "the route") and how far along.
    pub narrowest_m: f64,
    pub narrowest_name: String,
    pub narrowest_along_m: f64,
    /// Steepest on the existing ground (rise over run), and how far along it starts; `None` where the
    /// route does not touch the surveyed ground.
    pub gradient_max: Option<f64>,
    pub gradient_along_m: f64,
    /// Part of the route that lies on surveyed ground.
    pub surveyed_m: f64,
    pub over_paving_m: f64,
    /// Boards and strips of fabric over the paving, whole ones.
    pub boards: u32,
    pub board_length_m: f64,
    pub board_width_m: f64,
    pub tracks: u32,
    pub fabric_strips: u32,
    pub fabric_strip_m: f64,
    pub steps: Vec<StepsOnWay>,
    pub machines: Vec<MachineWay>,
}

/// Steps across the way in.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepsOnWay {
    pub name: String,
    pub along_m: f64,
    pub rise_m: f64,
    pub run_m: f64,
    pub planked: bool,
}

/// Whether a machine gets in.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MachineWay {
    pub name: String,
    /// Its width with room on both sides.
    pub needs_m: f64,
    /// Nothing is known to stop it, and the ground along it is known.
    pub gets_in: bool,
    /// Whether what stops it cannot be gone round over the yard: a gate, steps.
    pub shut_out: bool,
    /// What stops it; empty if nothing is known to.
    pub why: String,
}

/// One line of the list that the crew follows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Haul {
    pub stage: String,
    pub from: String,
    pub to: String,
    pub soil: String,
    pub bank_m3: f64,
    pub loose_m3: f64,
    pub by: String,
    pub loads: u32,
    /// One way, along the path; `None` for a truck's trip, which starts at the street.
    pub distance_m: Option<f64>,
    pub hours: f64,
    /// Steepest on the way, laden.
    pub gradient_max: f64,
    /// The way in plan.
    pub path: Vec<[f64; 2]>,
}

/// Soil that nobody can carry.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Uncarried {
    pub stage: String,
    /// What is dug, or the pile, that it stays at; empty: it is what a work lacks.
    pub from: String,
    /// What is placed and lacks it; empty: nobody takes it away.
    pub to: String,
    pub soil: String,
    pub bank_m3: f64,
    pub loose_m3: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CarrierSum {
    pub by: String,
    pub loads: u32,
    /// Over the ways whose length is known; whether that is all of them.
    pub all_known: bool,
    pub hours: f64,
    pub loose_m3: f64,
}

/// A place of the linear model: something dug, something placed, a pile, the street.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Node {
    pub name: String,
    /// The feature that it belongs to, by name: a pipe run for the run and for its refill. Empty for a pile
    /// and for bare ground.
    #[serde(skip)]
    pub work: String,
    /// Place in the order of work; stages by number.
    pub order: usize,
    pub stage: usize,
    /// `None`: a pile that has no place.
    pub at: Option<[f64; 2]>,
    pub bank_m3: f64,
}

/// A way that soil can take in the linear model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Arc {
    pub kind: ArcKind,
    /// Numbers into sources, sinks, piles; 0 for the street.
    pub from: usize,
    pub to: usize,
    pub stage: usize,
    /// Number into `carriers`.
    pub by: usize,
    pub cost_per_m3: f64,
    pub hours_per_m3: f64,
    /// What the solver sends along it, bank.
    pub bank_m3: f64,
    #[serde(skip)]
    pub way: usize,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ArcKind {
    /// Dug to placed, within a stage, while it is dug.
    Direct,
    ToPile,
    FromPile,
    /// Dug to the street.
    Off,
    PileOff,
    /// Street to placed.
    In,
}

/// The linear model as it was solved, for a second opinion.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct HaulModel {
    pub soil: String,
    pub stages: Vec<String>,
    pub carriers: Vec<String>,
    /// Most hours of each carrier in any stage.
    pub hours: Vec<Option<f64>>,
    pub sources: Vec<Node>,
    pub sinks: Vec<Node>,
    pub piles: Vec<Node>,
    pub arcs: Vec<Arc>,
    /// The soil may stay on its pile in the end.
    pub keeps: bool,
    /// What the ledger takes off the site and brings to it in each stage, bank; empty: left free.
    pub off_bank_m3: Vec<f64>,
    pub in_bank_m3: Vec<f64>,
    pub cost: f64,
    pub solved: bool,
}

/// A ramp's figures.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct RampFigures {
    pub name: String,
    pub length_m: f64,
    /// Of it, driven over the ground as it lies.
    pub on_ground_m: f64,
    pub width_m: f64,
    pub gradient_max: f64,
    pub gradient_allowed: f64,
    pub compacted_m3: f64,
    pub cut_bank_m3: f64,
    /// Highest that the ground stands over the ramp's top between its edges; negative: it clears it.
    pub crown_over_m: f64,
    /// Steepest in either wheel track, over the 0.25 m that a wheel stands on, as built.
    pub track_gradient_max: f64,
    /// Radius that its sharpest bend leaves room for; `None`: it is straight.
    pub bend_radius_m: Option<f64>,
    pub radius_needed_m: f64,
    pub line: Vec<[f64; 3]>,
    /// For each stretch of the line, whether it is driven over the ground as it lies.
    pub on_ground: Vec<bool>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct RampFound {
    pub found: RampFigures,
    /// The user's ramp, measured the same way; `None` without one.
    pub own: Option<RampFigures>,
    /// Compacted soil, placed and dug together, that the found one spares.
    pub saving_m3: Option<f64>,
    /// Why that is not told beside a ramp of the design; else nothing.
    pub not_compared: String,
    pub cell_m: f64,
    pub states: usize,
    pub millis: f64,
}

/// The way from the street to the first work, before any is done.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WayIn {
    pub by: String,
    pub to: String,
    /// `None`: there is none for it.
    pub distance_m: Option<f64>,
    pub gradient_max: f64,
    pub path: Vec<[f64; 2]>,
}

/// All that is asked for when the soil is carried.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct Haulage {
    pub ways_in: Vec<WayIn>,
    pub hauls: Vec<Haul>,
    /// In the order of work; empty where all is carried.
    pub uncarried: Vec<Uncarried>,
    pub carriers: Vec<CarrierSum>,
    pub models: Vec<HaulModel>,
    pub cell_m: f64,
    pub ramps: Vec<RampFigures>,
    pub found: Option<RampFound>,
    pub findings: Vec<crate::findings::Finding>,
}
