//! As-built: what was shot after digging or building, held against the design. Metres, m³.

use serde::Serialize;

use super::Kind;
use crate::findings::Finding;
use crate::job::{Against, Walls};

/// One visit, reduced and held against the design as it stands after the visit's stage.
#[derive(Debug, Clone, PartialEq)]
pub struct Built {
    /// Empty: all stages.
    pub stage: String,
    pub date: String,
    pub against: Against,
    /// How far the walls of the stage were.
    pub walls: Walls,
    pub trust: Trust,
    /// Worst misclosure, and what is allowed for it.
    pub misclosure: Option<f64>,
    pub allowed: Option<f64>,
    /// Empty if the notes do not close.
    pub shots: Vec<Shot>,
    /// Its stage is not the first.
    pub later: bool,
    /// Over the ground that was shot; none if the notes do not close or there is no such ground.
    pub volumes: Option<BuiltVolumes>,
    pub map: DifferenceMap,
    pub findings: Vec<Finding>,
}

/// How far the elevations of a visit can be believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Trust {
    /// Its levels close on a benchmark.
    Closes,
    /// Points in all three coordinates: there is nothing to close.
    Points,
    /// Its levels end on nothing known: a slip would not show.
    Unchecked,
    /// They miss by more than allowed: nothing is told from them.
    DoesNotClose,
    /// No shot has an elevation and a place.
    Nothing,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shot {
    pub name: String,
    pub at: [f64; 2],
    pub elevation: f64,
    pub existing: Option<f64>,
    /// What it is held against; none outside the designed surface.
    pub design: Option<f64>,
    /// The thing and its part that the design has there.
    pub thing: String,
    pub kind: Kind,
    pub part: String,
    /// As built over design.
    pub over: Option<f64>,
    /// The same square to the designed face: what the tolerance is for.
    pub square: Option<f64>,
    pub tolerance: f64,
    pub verdict: Verdict,
    /// It stands nearly a whole foot (a decimetre) off: perhaps a misread rod.
    pub slip: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    Right,
    ToDig,
    OverDug,
    ToFill,
    TooHigh,
    TooLow,
    /// Outside the designed surface.
    Outside,
}

impl Verdict {
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Right => "right",
            Verdict::ToDig => "still to dig",
            Verdict::OverDug => "over-dug",
            Verdict::ToFill => "still to fill",
            Verdict::TooHigh => "too high",
            Verdict::TooLow => "too low",
            Verdict::Outside => "outside the design's ground",
        }
    }
}

/// Surface to surface, over the ground that was shot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct BuiltVolumes {
    pub area_m2: f64,
    /// Since the survey, whatever the stage: existing over as-built, in place (bank), and as-built over
    /// existing (as it lies).
    pub dug_m3: f64,
    pub placed_m3: f64,
    /// In this stage, from the ground that the stages before it leave by the design: undisturbed soil dug
    /// (bank), soil of earlier stages dug again, and soil placed (both as they lie).
    pub stage_dug_m3: f64,
    pub stage_redug_m3: f64,
    pub stage_placed_m3: f64,
    /// Over the design: undisturbed soil still to dig (bank), and soil of earlier stages still to dig again
    /// (as it lies).
    pub to_dig_m3: f64,
    pub to_redig_m3: f64,
    /// Soil placed in this stage over the design: too much of it, as it lies.
    pub to_take_off_m3: f64,
    /// Design over as-built, over the ground before the stage: still to be placed, as it lies.
    pub to_place_m3: f64,
    /// Design over as-built under the ground before the stage: over-dug.
    pub over_dug_m3: f64,
    /// Both of these.
    pub missing_m3: f64,
}

/// As-built over design at the corners of triangles in plan.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct DifferenceMap {
    /// `[x, y, difference]`, plumb.
    pub points: Vec<[f64; 3]>,
    /// The difference at each point square to the designed face: what the tolerance is for.
    pub square: Vec<f64>,
    pub triangles: Vec<[u32; 3]>,
    /// For each triangle how far it may stand off, square to the face.
    pub allowed: Vec<f64>,
}

impl Built {
    pub fn count(&self, verdict: Verdict) -> usize {
        self.shots.iter().filter(|s| s.verdict == verdict).count()
    }

    /// Whether every shot is right, and the levels say so for sure.
    pub fn accepted(&self) -> bool {
        matches!(self.trust, Trust::Closes | Trust::Points)
            && !self.shots.is_empty()
            && self.count(Verdict::Right) == self.shots.len()
    }
}
