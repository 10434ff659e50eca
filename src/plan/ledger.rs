//! Where the soil goes, stage by stage and place by place. SI units.
//!
//! Every amount stands in bank measure (so that it can be added up) and in the state that the soil
//! is in at that place.

use serde::Serialize;

/// The ledger of all soil of a job.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Ledger {
    pub stages: Vec<LedgerStage>,
    pub soils: Vec<SoilRange>,
    /// Loads over all stages, as far as the factors are known.
    pub out: Loads,
    pub brought: Loads,
    pub shortages: Vec<Shortage>,
}

/// Which soil: kinds are kept apart on their own piles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SoilKind {
    /// What may be placed as fill.
    Subsoil,
    Topsoil,
    /// Rocky or otherwise not to be used as fill.
    Unfit,
}

impl SoilKind {
    pub const ALL: [SoilKind; 3] = [SoilKind::Subsoil, SoilKind::Topsoil, SoilKind::Unfit];

    pub fn word(self) -> &'static str {
        match self {
            SoilKind::Subsoil => "subsoil",
            SoilKind::Topsoil => "topsoil",
            SoilKind::Unfit => "unfit soil",
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum State {
    Bank,
    Loose,
    Compacted,
}

impl State {
    pub fn word(self) -> &'static str {
        match self {
            State::Bank => "bank",
            State::Loose => "loose",
            State::Compacted => "compacted",
        }
    }
}

/// What happens to soil at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Deed {
    /// Undisturbed soil dug.
    Dug,
    /// Placed soil dug out again.
    Redug,
    Placed,
    /// Carried onto the pile.
    Piled,
    /// Taken from the pile.
    Unpiled,
    BroughtIn,
    HauledOff,
}

impl Deed {
    pub fn word(self) -> &'static str {
        match self {
            Deed::Dug => "dug",
            Deed::Redug => "dug out again",
            Deed::Placed => "placed",
            Deed::Piled => "put on the pile",
            Deed::Unpiled => "taken from the pile",
            Deed::BroughtIn => "brought in",
            Deed::HauledOff => "hauled off",
        }
    }

    /// +1 where soil is set free, −1 where it goes: over a stage they add up to nothing.
    pub fn sign(self) -> f64 {
        match self {
            Deed::Dug | Deed::Redug | Deed::Unpiled | Deed::BroughtIn => 1.0,
            Deed::Placed | Deed::Piled | Deed::HauledOff => -1.0,
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Entry {
    /// A feature (with its part), a pile, "off the site" or "brought in".
    pub place: String,
    pub soil: SoilKind,
    pub deed: Deed,
    pub bank_m3: f64,
    /// The state that the soil is in at that place, and its volume in that state.
    pub state: State,
    pub volume_m3: f64,
}

/// What lies on one pile, or in one temporary work, when a stage ends.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lying {
    pub place: String,
    pub soil: SoilKind,
    pub bank_m3: f64,
    pub state: State,
    pub volume_m3: f64,
}

#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct LedgerStage {
    pub name: String,
    pub cut_bank_m3: f64,
    pub fill_compacted_m3: f64,
    pub redug_compacted_m3: f64,
    /// On all piles when the stage ends.
    pub pile_loose_m3: f64,
    /// In ramps when the stage ends.
    pub ramp_compacted_m3: f64,
    pub import_loose_m3: f64,
    pub export_loose_m3: f64,
    pub entries: Vec<Entry>,
    pub lying: Vec<Lying>,
}

/// A soil's factors: low, likely, high.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SoilRange {
    pub kind: SoilKind,
    pub name: String,
    pub loose: [f64; 3],
    pub compacted: [f64; 3],
    pub loose_density_kg_m3: f64,
    pub repose_deg: f64,
}

/// Truck loads and loose volume: low, likely, high.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Loads {
    pub loose_m3: [f64; 3],
    pub loads: [u32; 3],
}

/// A stage that needs more than exists by then.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shortage {
    pub stage: String,
    pub feature: String,
    pub soil: SoilKind,
    pub bank_m3: f64,
    pub loose_m3: f64,
    pub loads: u32,
}

impl Ledger {
    /// Gives a place the name it has in the job.
    pub fn rename(&mut self, from: &str, to: &str) {
        for stage in &mut self.stages {
            for e in stage
                .entries
                .iter_mut()
                .filter(|e| e.place == from && matches!(e.deed, Deed::Piled | Deed::Unpiled))
            {
                e.place = to.into();
            }
            for l in stage
                .lying
                .iter_mut()
                .filter(|l| l.place == from && l.state == State::Loose)
            {
                l.place = to.into();
            }
        }
    }
}
