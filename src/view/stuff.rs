//! What a triangle looks like, by who made it and which of the three surfaces it belongs to.
//!
//! The codes are those of `ground.wgsl`.

use crate::plan::{Kind, MadeBy};

use super::Look;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stuff {
    Grass,
    /// Cut to: darker, hatched.
    Cut,
    /// Placed: lighter, dotted.
    Placed,
    /// Soil that is both or neither.
    Soil,
    /// Rounded stone over the lining.
    Cobble,
    /// Flat stone: sills, pools, lips.
    Flag,
    Paving,
    Block,
    Cap,
    /// Side of the model: layers drawn for looks, not surveyed.
    Strata,
    /// Planted soil of banks and berms.
    Bed,
    /// Cut through a house.
    House,
    Pin,
    /// Depth of dig and place, in steps.
    Depth,
    /// Freeboard round the water, in steps.
    Brim,
    /// Leaves and flowers of the planting edge.
    Leaf,
    /// Stones laid along the water.
    Rock,
    /// As built over or under the design, in steps.
    Built,
    /// Wood of a stake, its head painted.
    Lath,
}

/// Stuffs that share a shader.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Class {
    Turf,
    Earth,
    Stone,
    Built,
    Chart,
}

impl Class {
    pub const ALL: [Class; 5] = [
        Class::Turf,
        Class::Earth,
        Class::Stone,
        Class::Built,
        Class::Chart,
    ];

    pub fn name(self) -> &'static str {
        match self {
            Class::Turf => "TURF",
            Class::Earth => "EARTH",
            Class::Stone => "STONE",
            Class::Built => "BUILT",
            Class::Chart => "CHART",
        }
    }

    pub fn index(self) -> usize {
        self as usize
    }
}

impl Stuff {
    pub fn class(self) -> Class {
        match self {
            Stuff::Grass => Class::Turf,
            Stuff::Cut | Stuff::Placed | Stuff::Soil | Stuff::Bed | Stuff::Leaf => Class::Earth,
            Stuff::Cobble | Stuff::Flag | Stuff::Paving | Stuff::Rock => Class::Stone,
            Stuff::Block | Stuff::Cap | Stuff::Strata | Stuff::House | Stuff::Pin | Stuff::Lath => {
                Class::Built
            }
            Stuff::Depth | Stuff::Brim | Stuff::Built => Class::Chart,
        }
    }

    pub fn code(self) -> f32 {
        self as u8 as f32
    }

    /// What lies on top.
    pub fn of(made_by: Option<&MadeBy>, look: Look) -> Stuff {
        let Some(made_by) = made_by else {
            return Stuff::Grass;
        };
        match look {
            Look::Existing => match made_by.kind {
                Kind::StandingWall | Kind::Wall => Stuff::Cap,
                _ => Stuff::Grass,
            },
            Look::Dug => match made_by.kind {
                Kind::Ground => Stuff::Grass,
                Kind::Basin | Kind::Pit | Kind::Trench | Kind::Wall => Stuff::Cut,
                Kind::Surround | Kind::Backfill | Kind::Berm | Kind::Ramp => Stuff::Placed,
                Kind::Cascade | Kind::Pad | Kind::Overflow => Stuff::Soil,
                Kind::StandingWall => Stuff::Cap,
            },
            Look::Finished => match made_by.kind {
                Kind::Ground => Stuff::Grass,
                Kind::Basin if made_by.part == "bank" => Stuff::Bed,
                Kind::Basin | Kind::Pit => Stuff::Cobble,
                Kind::Cascade => Stuff::Flag,
                Kind::Surround | Kind::Berm | Kind::Backfill => Stuff::Bed,
                Kind::Pad if made_by.part == "side" => Stuff::Bed,
                Kind::Pad => Stuff::Paving,
                Kind::Wall if made_by.part != "cap" => Stuff::Soil,
                Kind::Trench | Kind::Ramp | Kind::Overflow => Stuff::Soil,
                Kind::Wall | Kind::StandingWall => Stuff::Cap,
            },
        }
    }

    /// An upright face between two pieces of ground.
    pub fn face(upper: Option<&MadeBy>, lower: Option<&MadeBy>, look: Look) -> Stuff {
        let wall = |m: Option<&MadeBy>| {
            m.is_some_and(|m| matches!(m.kind, Kind::Wall | Kind::StandingWall))
        };
        match look {
            Look::Finished if wall(upper) => Stuff::Block,
            Look::Existing | Look::Dug if upper.is_some_and(|m| m.kind == Kind::StandingWall) => {
                Stuff::Block
            }
            Look::Existing => Stuff::Soil,
            Look::Dug => match Stuff::of(upper, look) {
                Stuff::Placed => Stuff::Placed,
                _ => Stuff::Cut,
            },
            Look::Finished => match (upper.map(|m| m.kind), lower.map(|m| m.kind)) {
                (Some(Kind::Cascade), _) => Stuff::Flag,
                (_, Some(Kind::Basin | Kind::Pit)) => Stuff::Cobble,
                (_, Some(Kind::Cascade)) => Stuff::Flag,
                (Some(Kind::Pad), _) => Stuff::Paving,
                (Some(Kind::Surround | Kind::Berm | Kind::Backfill), _) => Stuff::Bed,
                _ => Stuff::Soil,
            },
        }
    }
}
