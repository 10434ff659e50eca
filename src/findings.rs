//! What the plan notices, in one list that every face shows.

use serde::Serialize;

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

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    pub severity: Severity,
    /// The name of the thing: "shot 23", "basin lower pond", "stage 3".
    pub place: String,
    /// Where it is, metres (x, y, elevation), if it is at one place.
    pub at: Option<[f64; 3]>,
    pub what: String,
    /// What to do about it.
    pub remedy: String,
}

impl Finding {
    pub fn new(
        severity: Severity,
        place: impl Into<String>,
        what: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Finding {
            severity,
            place: place.into(),
            at: None,
            what: what.into(),
            remedy: remedy.into(),
        }
    }

    pub fn at(mut self, x: f64, y: f64, z: f64) -> Self {
        self.at = Some([x, y, z]);
        self
    }
}
