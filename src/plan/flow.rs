//! What the water does: where it spills, what is stored, what runs over the lips and through the
//! pipes. SI: metres, m², m³, m³/s, m/s, seconds.

use serde::Serialize;

use crate::findings::Finding;

#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct WaterFlow {
    pub spills: Vec<Spill>,
    pub storage: Vec<Storage>,
    pub cascades: Vec<CascadeFlow>,
    pub pumps: Vec<PumpDuty>,
    pub overflows: Vec<OverflowPipe>,
}

/// Where a water runs over, and where it goes from there.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spill {
    pub water: String,
    pub spill_m: f64,
    pub at: [f64; 2],
    /// Area and volume with the water risen to there.
    pub area_m2: f64,
    pub volume_m3: f64,
    /// What it wets on its way up that it does not wet at its level.
    pub touches: Vec<String>,
    /// `[x, y, elevation]`, steepest descent from the spill.
    pub path: Vec<[f64; 3]>,
    pub length_m: f64,
    pub ends: End,
    /// The water it runs into, if that is its end.
    pub into: String,
    /// What it runs through or along: house, paving, keep-outs.
    pub meets: Vec<Met>,
    pub pockets: Vec<Pocket>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum End {
    /// Over the edge of the survey.
    Survey,
    /// Into another water.
    Water,
    /// A hollow that nothing leads out of.
    Hollow,
    /// It could not be followed further.
    Lost,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Met {
    pub name: String,
    pub kind: super::MarkKind,
    pub at: [f64; 3],
    /// Distance from the spill along the path.
    pub along_m: f64,
}

/// A hollow on the way that fills before the water runs on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pocket {
    pub at: [f64; 3],
    pub depth_m: f64,
    pub area_m2: f64,
    pub volume_m3: f64,
    pub along_m: f64,
}

/// What a water holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Storage {
    pub water: String,
    pub level_m: f64,
    pub area_m2: f64,
    pub volume_m3: f64,
    pub depth_max_m: f64,
    pub curve: Vec<CurvePoint>,
    /// The water standing over each part in plan: floor, shelves, sides, pits.
    pub over: Vec<OverPart>,
    /// Gross volume of the stone between liner and finished surface: near, its area times its
    /// thickness; in [`Closer`] that of a basin is measured.
    pub stone_m3: f64,
    pub fill_s: Option<f64>,
    /// Drop of the level when the loss of the job file is gone.
    pub loss_drop_m: Option<f64>,
    /// 0.4 × area × greatest depth: Agriculture Handbook 590's rough estimate (from memory).
    pub rough_m3: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Below the water's level.
    pub below_m: f64,
    pub elevation_m: f64,
    pub area_m2: f64,
    pub volume_m3: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OverPart {
    pub part: String,
    pub area_m2: f64,
    pub volume_m3: f64,
}

/// A cascade with its flow.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CascadeFlow {
    pub cascade: String,
    pub flow_m3_s: f64,
    /// The pump gives more than that: its curve ends there.
    pub at_least: bool,
    /// Where that flow comes from, in words.
    pub flow_from: String,
    pub lips: Vec<LipFlow>,
    /// Water held by the pools over their lips, on the sills and in the air.
    pub in_pools_m3: f64,
    pub on_sills_m3: f64,
    pub in_air_m3: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LipFlow {
    pub pool: String,
    pub width_m: f64,
    pub drop_m: f64,
    /// Wanted for this lip by its width.
    pub wanted_m3_s: f64,
    /// The water below stands so far over its crest with the flow running: the lip is drowned, and
    /// what only falling water has is `None`.
    pub drowned_m: Option<f64>,
    /// Head over the lip, Francis, contracted; infinite where the lip is too narrow for any.
    pub francis_m: Option<f64>,
    /// Critical depth at the brink of the sill: the sheet's thickness.
    pub brink_m: Option<f64>,
    /// Head in the pool as a broad crest: 1.5 brink, and friction along the sill (Manning).
    pub sill_m: Option<f64>,
    /// Mean depth on the sill.
    pub sill_depth_m: Option<f64>,
    /// How far the pool stands over its lip: the greater of the two, or what a drowned lip takes.
    pub head_m: f64,
    pub friction_m: Option<f64>,
    /// Velocity through the pool, and at the brink.
    pub pool_velocity_m_s: f64,
    pub brink_velocity_m_s: Option<f64>,
    /// What is left under the surround's lowest place with that head.
    pub freeboard_m: f64,
    /// Room to either side of the falling sheet before the water's edge below ends.
    pub splash_room_m: Option<f64>,
    /// Head for each metre of lip is within what Francis measured.
    pub in_range: bool,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PumpDuty {
    pub pump: String,
    pub cascade: String,
    pub flow_wanted_m3_s: f64,
    /// The flow that all else is reckoned for, and what it is.
    pub flow_m3_s: f64,
    pub flow_is: FlowIs,
    pub discharge_m: f64,
    /// Level that the pump draws from, when running.
    pub running_level_m: f64,
    pub static_head_m: f64,
    pub length_m: f64,
    pub k: f64,
    pub equivalent_m: f64,
    pub pipes: Vec<PipeDuty>,
    /// The pipe to lay.
    pub pipe: String,
    pub pipe_volume_m3: f64,
    /// Of starting and stopping nothing is known of a pump that gives nothing.
    /// Level drop with everything filled and flowing, from the level at rest.
    pub start_drop_m: Option<f64>,
    pub start_volume_m3: Option<f64>,
    /// Rise when it stops, from the level when running.
    pub stop_rise_m: Option<f64>,
    pub stop_volume_m3: Option<f64>,
    /// Level after a stop, if it was topped up to its level while running.
    pub topped_up_m: Option<f64>,
    pub intake_m: f64,
    pub water_over_intake_m: Option<f64>,
    /// Other pumps in the same basin: what starting and stopping does to the water is with all of them.
    pub beside: Vec<String>,
}

/// What the flow is that a pump is reckoned for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FlowIs {
    /// Where its curve meets the pipe's.
    Duty,
    /// The end of its curve; it gives more.
    AtLeast,
    /// What is wanted: no curve tells what it gives.
    Wanted,
    /// Nothing, as far as its curve tells.
    Nothing,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PipeDuty {
    pub pipe: String,
    pub diameter_m: f64,
    pub velocity_m_s: f64,
    /// At the flow wanted, and at what the pump gives through it.
    pub within_velocity: bool,
    pub hazen_williams_m: f64,
    pub darcy_weisbach_m: f64,
    pub fittings_m: f64,
    /// Static, friction (Hazen-Williams), fittings and the velocity head at the outlet.
    pub head_m: f64,
    /// Flow and head where the pump's curve meets this pipe's; `None` without a usable curve.
    pub duty: Option<[f64; 2]>,
    /// The last point of the curve, if the pump gives more through this pipe than its curve shows.
    pub beyond: Option<[f64; 2]>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OverflowPipe {
    pub overflow: String,
    pub basin: String,
    /// `[x, y, invert]` at its inlet, its corners and its outlet.
    pub line: Vec<[f64; 3]>,
    pub diameter_m: f64,
    pub inlet_m: f64,
    pub outlet_m: f64,
    pub length_m: f64,
    pub fall_m: f64,
    /// Rise over run; `None` if it does not fall.
    pub gradient: Option<f64>,
    /// Ground over the pipe's crown, at stations along it.
    pub cover: Vec<Cover>,
    /// The least of it where the pipe does not lie open.
    pub cover_min_m: Option<f64>,
    /// Full pipe by Manning.
    pub full_m3_s: Option<f64>,
    /// Inlet as an orifice, with the water at the spill.
    pub orifice_m3_s: Option<f64>,
    pub capacity_m3_s: Option<f64>,
    /// Ground that drains into the water, and the water itself and its cascade's.
    pub catchment: Option<Catchment>,
    pub wanted_m3_s: Option<f64>,
    /// Inside diameter that would carry it at this fall.
    pub diameter_wanted_m: Option<f64>,
    /// The way of the water from the outlet.
    pub outlet_path: Vec<[f64; 3]>,
    pub outlet_ends: Option<End>,
    /// The water it runs into, if that is its end.
    pub outlet_into: String,
    pub outlet_meets: Vec<Met>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cover {
    pub along_m: f64,
    pub invert_m: f64,
    pub ground_m: Option<f64>,
    pub cover_m: Option<f64>,
    /// Lies open: in the basin, and at its ends where the ground does not cover it as is wanted. No cover is
    /// asked for there.
    pub open: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Catchment {
    pub ground_m2: f64,
    /// Of that ground, what lies so level that it may as well run elsewhere.
    pub level_m2: f64,
    pub water_m2: f64,
    /// Side of the squares it was traced by.
    pub resolution_m: f64,
}

/// What takes longer than a plan may: stone as the takeoff measures it, the brim as a profile, and
/// overflow pipes for the rain.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Closer {
    pub storage: Vec<Storage>,
    pub brims: Vec<Brim>,
    pub overflows: Vec<OverflowPipe>,
    pub findings: Vec<Finding>,
}

/// The freeboard all round a basin as a profile.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Brim {
    pub water: String,
    pub round_m: f64,
    pub wanted_m: f64,
    pub least_m: f64,
    pub level_crest_m: f64,
    /// Ground was followed outwards so far from the water's edge.
    pub reach_m: f64,
    /// Distance along the water's edge, and freeboard there.
    pub profile: Vec<BrimPlace>,
    pub short: Vec<Short>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BrimPlace {
    pub along_m: f64,
    pub at: [f64; 2],
    pub freeboard_m: f64,
}

/// A stretch where the edge stands lower than is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Short {
    pub from_m: f64,
    pub to_m: f64,
    pub least_m: f64,
    pub at: [f64; 2],
}
