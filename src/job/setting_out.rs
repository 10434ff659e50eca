//! How the design is set out on the ground: how close the stakes stand, and what they are taped from.
//! Metres.

use crate::job::Unit;
use crate::job::decode::{Check, Context, Fields, List, record};
use crate::job::place::ShotRef;
use crate::job::quantity::{Distance, Extent};
use crate::units::format_length;

/// Stakes closer than this only hide each other.
const CLOSEST: f64 = 0.1;

#[derive(Debug, Clone, PartialEq)]
pub struct SettingOut {
    /// Distance between stakes round the outlines of basins, at most.
    pub spacing: f64,
    /// Distance between stakes along lines such as a berm's crest, at most.
    pub along: f64,
    /// Points to tape from. Empty: every peg.
    pub pegs: Vec<String>,
    pub tape_length: f64,
    /// How far off a taped distance may be.
    pub tape_error: f64,
}

record!(SettingOut as "SettingOut": "How the design is set out with stakes, and what is taped from." {
    spacing: Extent, Absent::Is("\"5 ft\""), "Distance between stakes round the outlines, shelves and floors of basins, at most; corners get a stake of their own. Default: common practice, no source.", "\"4 ft\"";
    along: Extent, Absent::Is("\"10 ft\""), "Distance between stakes along the crests of berms and the edges of ramps, at most; bends get a stake of their own. Default: common practice, no source.", "\"8 ft\"";
    pegs: List<ShotRef>, Absent::Is("[]"), "Points to tape from: pegs, benchmarks or shots that have a place. Without it: every peg.", "[\"peg 1\", \"peg 2\"]";
    tape_length: Extent, Absent::Is("\"100 ft\""), "Length of the tapes. Default: common practice, no source.", "\"30 m\"";
    tape_error: Distance, Absent::Is("\"1/2 in\""), "How far off a distance taped level over rough ground may be. Default: common practice, no source.", "\"1 in\"";
});

impl Check for SettingOut {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        let least = match cx.unit {
            Unit::Foot => "4 in",
            Unit::Metre => "10 cm",
        };
        for (field, length) in [("spacing", self.spacing), ("along", self.along)] {
            if length < CLOSEST {
                cx.problem(
                    fields.span(field),
                    format!("stakes {} apart", format_length(length, cx.unit)),
                    format!("`{field}` of at least {least}"),
                );
            }
        }
    }
}
