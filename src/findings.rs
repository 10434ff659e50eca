//! What the plan notices, in one list that every face shows.

use serde::Serialize;

use crate::plan::Kind;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// The plan, or part of it, cannot be trusted or cannot be built so.
    Error,
    /// Likely to go wrong.
    Warning,
    /// Work that can hurt someone: the usual caution.
    Caution,
    /// Worth knowing.
    Note,
}

/// What a finding is about: whether a list of figures hangs on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// The notes, the ground and the works: every figure hangs on them.
    Works,
    /// What holds water, falls and overflow pipes: every figure hangs on these as well.
    Water,
    /// A pump and its pipe: no figure of the earthwork hangs on it.
    Pump,
    /// How soil is carried and where it lies meanwhile.
    Haul,
    /// What must not be hurt: services, keep-outs, trees.
    Guarded,
    /// How stakes are taped.
    Stakes,
    /// Visits after digging.
    AsBuilt,
}

impl About {
    /// A part of the design.
    pub fn of(kind: Kind) -> About {
        match kind {
            Kind::Basin | Kind::Pit | Kind::Cascade | Kind::Surround | Kind::Overflow => {
                About::Water
            }
            Kind::Ground
            | Kind::Wall
            | Kind::Backfill
            | Kind::Pad
            | Kind::Berm
            | Kind::Trench
            | Kind::Ramp
            | Kind::StandingWall => About::Works,
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    pub severity: Severity,
    pub about: About,
    /// The name of the thing: "shot 23", "basin lower pond", "stage 3".
    pub place: String,
    /// Where it is, metres (x, y, elevation), if it is at one place.
    pub at: Option<[f64; 3]>,
    pub what: String,
    /// What to do about it.
    pub remedy: String,
}

impl Finding {
    /// About the works, if nothing else is said: so it makes figures doubtful rather than not.
    pub fn new(
        severity: Severity,
        place: impl Into<String>,
        what: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Finding {
            severity,
            about: About::Works,
            place: place.into(),
            at: None,
            what: what.into(),
            remedy: remedy.into(),
        }
    }

    pub fn about(mut self, about: About) -> Self {
        self.about = about;
        self
    }

    /// All of these are about that.
    pub fn all_about(list: Vec<Finding>, about: About) -> Vec<Finding> {
        list.into_iter().map(|f| f.about(about)).collect()
    }

    pub fn at(mut self, x: f64, y: f64, z: f64) -> Self {
        self.at = Some([x, y, z]);
        self
    }
}
