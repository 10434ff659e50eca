//! The plan: everything anyone wants to know, from a job, by one pure function.

mod as_built;
mod flow;
mod haul;
mod ledger;
mod pile;
mod stakes;
mod takeoff;

pub use haul::*;

use serde::Serialize;

pub use flow::*;

use crate::findings::Finding;
use crate::job::{Job, Walls};
use crate::survey::Reduced;
use crate::terrain::Surface;

pub use as_built::*;
pub use pile::{PilePlace, PileStage, PileState};
pub use stakes::*;
pub use takeoff::{Amount, Item, Of, Order, Sheet, Takeoff, Trade};

pub use ledger::{
    Deed, Entry, Ledger, LedgerStage, Loads, Lying, Shortage, SoilKind, SoilRange, State,
};

/// Everything that follows from a [`Job`]. SI units throughout.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    pub survey: Reduced,
    /// As surveyed, with standing walls' footprints left out (see `solids`).
    pub existing: Surface,
    /// As the machine leaves it, permanent works only.
    pub dug: Surface,
    /// As the client sees it: lined, stoned, paved, with wall tops as part of the surface.
    pub finished: Surface,
    /// Who made the triangles of the three surfaces; index 0 is the ground itself.
    pub makers: Vec<MadeBy>,
    /// Walls, standing and new, and whatever else stands as a body.
    pub solids: Vec<Solid>,
    pub volumes: Volumes,
    pub soil: SoilBalance,
    /// Where the soil goes, stage by stage and place by place.
    pub ledger: Ledger,
    /// Piles that the job gives a place.
    pub piles: Vec<PileState>,
    pub water: Vec<Water>,
    /// Lines to draw over the yard: paving, keep-outs, services, access, breaklines, house.
    pub marks: Vec<Mark>,
    /// The lines of the design with the places to stake on them, in the order of the work.
    pub set_out: Vec<SetOut>,
    /// The stakes: labels, tapes, elevations.
    pub stakes: Stakes,
    pub access: Option<AccessRoute>,
    pub findings: Vec<Finding>,
    /// For each point of `finished`, the place in plan it stands on: points share one across a
    /// vertical face.
    pub finished_places: Vec<u32>,
    /// What the water does.
    pub flow: WaterFlow,
}

/// Kinds of feature, as printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    Ground,
    Basin,
    Pit,
    Cascade,
    /// The berm that belongs to a cascade.
    Surround,
    Wall,
    Backfill,
    Pad,
    Berm,
    Trench,
    Ramp,
    Overflow,
    StandingWall,
}

impl Kind {
    /// As people call it.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Ground => "ground",
            Kind::Basin => "basin",
            Kind::Pit => "pit",
            Kind::Cascade => "cascade",
            // As the job calls it: the `berm` of the cascade.
            Kind::Surround => "berm",
            Kind::Wall => "wall",
            Kind::Backfill => "backfill",
            Kind::Pad => "pad",
            Kind::Berm => "berm",
            Kind::Trench => "trench",
            Kind::Ramp => "ramp",
            Kind::Overflow => "overflow pipe",
            Kind::StandingWall => "standing wall",
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MadeBy {
    pub name: String,
    pub kind: Kind,
    /// Which part of the feature: "shelf 1", "floor", "side", "pool top", "lip"; may be empty.
    pub part: String,
}

/// A body with a flat top standing on the ground.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Solid {
    pub name: String,
    /// Footprint, counter-clockwise.
    pub footprint: Vec<[f64; 2]>,
    /// Underside (foot of the wall).
    pub base: f64,
    pub cap: f64,
    /// True for a wall still to be built.
    pub new: bool,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mark {
    pub name: String,
    pub kind: MarkKind,
    pub line: Vec<[f64; 2]>,
    pub closed: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum MarkKind {
    Paving,
    KeepOut,
    Service,
    /// Root zone of a tree to keep.
    Tree,
    Access,
    Breakline,
    House,
    Outline,
}

/// Volumes of soil between named surfaces.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct Volumes {
    /// Undisturbed soil dug, bank state, all features together.
    pub cut_bank_m3: f64,
    /// Soil placed, as it lies compacted, all features together, temporary works included.
    pub fill_compacted_m3: f64,
    /// Placed soil dug out again (ramps taken back, ramps dug through), compacted state.
    pub redug_compacted_m3: f64,
    /// Between the surfaces existing and dug: cut and fill in place, the order of work aside.
    pub existing_to_dug_cut_m3: f64,
    pub existing_to_dug_fill_m3: f64,
    /// Between dug and finished, walls left out: room taken by lining, stone and paving.
    pub dug_to_finished_m3: f64,
    pub by_feature: Vec<FeatureVolume>,
    /// Stone laid under walls, as it lies compacted; no soil.
    pub base_courses: Vec<BaseCourse>,
    /// What stands of each ramp when a stage ends.
    pub ramps: Vec<RampStands>,
}

/// Soil in a ramp when a stage ends: what was placed for it less what any work dug out of it since.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RampStands {
    pub ramp: String,
    pub stage: String,
    pub compacted_m3: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BaseCourse {
    pub wall: String,
    /// "base course" or "drainage stone".
    pub part: String,
    pub stage: String,
    pub compacted_m3: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FeatureVolume {
    pub name: String,
    pub kind: Kind,
    /// Which part of its work: "base trench", "refill", "taken back"; empty if it is done in one.
    pub part: String,
    /// Empty in a job without stages.
    pub stage: String,
    pub cut_bank_m3: f64,
    pub fill_compacted_m3: f64,
    pub redug_compacted_m3: f64,
    /// Of the cut, topsoil (bank).
    pub topsoil_bank_m3: f64,
    /// Topsoil left lying under what it places (bank); nothing of it is counted as cut.
    pub topsoil_under_fill_m3: f64,
    /// Of the cut, subsoil that may not be placed as fill (bank).
    pub unfit_bank_m3: f64,
    /// Plan area the feature changes.
    pub area_m2: f64,
    /// Deepest cut below the ground that was there.
    pub depth_max_m: f64,
    /// Centroid in plan of all that it digs (bank soil and soil placed before); nothing if it digs
    /// nothing.
    pub cut_at: Option<[f64; 2]>,
    /// Centroid in plan of what it places.
    pub fill_at: Option<[f64; 2]>,
}

impl FeatureVolume {
    /// The place where its soil comes from or goes: "pond wall: refill", "falls: berm".
    pub fn place(&self) -> String {
        let part = match (self.part.as_str(), self.kind) {
            ("", Kind::Backfill) => "backfill",
            ("", Kind::Surround) => "berm",
            (part, _) => part,
        };
        if part.is_empty() {
            self.name.clone()
        } else {
            format!("{}: {part}", self.name)
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct SoilBalance {
    /// Name of the soil class the factors belong to.
    pub class: String,
    pub cut_bank_m3: f64,
    pub cut_loose_m3: f64,
    pub topsoil_bank_m3: f64,
    pub topsoil_loose_m3: f64,
    pub ramp_compacted_m3: f64,
    /// Bank soil that the ramps take.
    pub ramp_bank_m3: f64,
    pub fill_compacted_m3: f64,
    pub fill_bank_m3: f64,
    /// What is left over in the end, what had been brought in for a shortage included.
    pub spoil_bank_m3: f64,
    pub spoil_loose_m3: f64,
    /// Of it, what had been brought in.
    pub spoil_brought_bank_m3: f64,
    /// Largest shortage at any moment of the sequence, bank.
    pub short_bank_m3: f64,
    pub short_loose_m3: f64,
    /// The stage at which it falls short; empty if it never does, or if the job has no stages.
    pub short_at: String,
    /// The feature that it first falls short at.
    pub short_feature: String,
    /// Topsoil left lying under everything that is placed (bank).
    pub topsoil_under_fill_m3: f64,
    /// Loose volume of one truck load, and whether its payload sets it rather than its volume.
    pub load_loose_m3: f64,
    pub load_by_payload: bool,
    /// Truck loads of what is left over, and of what is brought in.
    pub truck_loads: u32,
    pub short_loads: u32,
    pub barrow_loads: u32,
    pub stages: Vec<StageSoil>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StageSoil {
    pub stage: String,
    pub cut_bank_m3: f64,
    pub fill_compacted_m3: f64,
    pub redug_compacted_m3: f64,
    /// Bank soil on hand after the stage; negative is missing.
    pub on_hand_bank_m3: f64,
}

/// One body of water at its level.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Water {
    pub name: String,
    pub level_m: f64,
    pub area_m2: f64,
    pub volume_m3: f64,
    pub depth_max_m: f64,
    /// Lowest height of what surrounds the water over its level.
    pub freeboard_min_m: f64,
    pub freeboard_at: [f64; 2],
    /// Elevation at which it would run over, and where.
    pub spill_m: f64,
    pub spill_at: [f64; 2],
    /// Whether it is held at its level.
    pub held: bool,
    /// Water's edge, as closed rings.
    #[serde(skip)]
    pub edge: Vec<Vec<[f64; 2]>>,
    /// The sheet of water, as triangles in plan.
    #[serde(skip)]
    pub sheet: Vec<[[f64; 2]; 3]>,
}

impl Plan {
    /// Computes the plan of a job. Never panics; what cannot be computed is left empty and named
    /// in the findings.
    pub fn of(job: &Job) -> Plan {
        crate::planning::plan(job)
    }

    /// Only what the surfaces need, as it stands when so many stages are done: ground, works, soil and
    /// water. No ledger, no stakes, and none of their findings. Temporary works stand until the stage that
    /// takes them back.
    pub fn works_after(job: &Job, stages: usize) -> Plan {
        crate::planning::works(job, Some(stages), Walls::Built)
    }

    /// The same while the walls of the last of these stages are only so far.
    pub fn works_with_walls(job: &Job, stages: usize, walls: Walls) -> Plan {
        crate::planning::works(job, Some(stages), walls)
    }
}
