//! Setting out: the lines of the design with the places to stake on them, and the stakes: label,
//! tapes, elevations. Metres, degrees.

use serde::Serialize;

use super::Kind;
use crate::job::Side;

/// A line of the design, as it is dug or built, and the places to stake on it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetOut {
    /// The work it belongs to, and the stage that does it (empty in a job without stages).
    pub work: String,
    pub stage: String,
    /// The thing itself: the work, or a pit or pool of it.
    pub name: String,
    pub kind: Kind,
    /// Which line of it: "water's edge", "floor", "crest".
    pub part: String,
    pub closed: bool,
    pub stations: Vec<Station>,
}

/// A place to stake.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Station {
    pub at: [f64; 2],
    /// What is special about the place: "corner", "bend", "foot"; may be empty.
    pub note: &'static str,
    /// Ground as surveyed, and as it stands when this work begins.
    pub existing: Option<f64>,
    pub before: Option<f64>,
    /// Elevation to dig to.
    pub dig: Option<f64>,
    /// Top of a wall's base course.
    pub base: Option<f64>,
    /// Finished elevation of this part: lined, stoned, paved, built.
    pub finish: Option<f64>,
}

/// Everything to set out, in the order of the work.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct Stakes {
    pub list: Vec<Stake>,
    /// The longest tape and the longest reading.
    pub tape_length: f64,
    pub tape_error: f64,
    pub rod_length: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stake {
    /// Short, to write on the stake: a letter for the work and a number.
    pub label: String,
    pub work: String,
    pub stage: String,
    pub name: String,
    pub kind: Kind,
    pub part: String,
    pub place: Station,
    /// The best two tapes; none without two points to tape from.
    pub tie: Option<TapeTie>,
    /// Along and off the nearest baseline; none without one.
    pub offset: Option<OffsetTie>,
}

/// Two level tapes to a stake.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TapeTie {
    pub a: String,
    pub from_a: f64,
    pub b: String,
    pub from_b: f64,
    /// Side of the line from `a` to `b`, looking that way.
    pub side: Side,
    /// Angle at which the tapes meet at the stake.
    pub angle: f64,
    /// How far off the stake may come to stand if each tape is off by the tape's error.
    pub error: f64,
    pub flaw: Option<Flaw>,
}

/// What is wrong with a tie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Flaw {
    /// The tapes meet at less than 30° or more than 150°.
    Angle,
    /// Beyond the end of the tape.
    Reach,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OffsetTie {
    pub baseline: String,
    pub along: f64,
    /// Right positive, left negative.
    pub offset: f64,
}

/// A rod reading that gives an elevation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reading {
    Reads(f64),
    /// The place lies over the line of sight, by so much.
    AboveSight(f64),
    /// The rod is too short, by so much.
    BeyondRod(f64),
}

/// The rod readings of one stake.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Default)]
pub struct Readings {
    pub ground: Option<Reading>,
    pub dig: Option<Reading>,
    pub base: Option<Reading>,
    pub finish: Option<Reading>,
}

impl Station {
    /// What is to be dug (positive) or filled (negative) from the surveyed ground: to what is dug,
    /// or to what is built where nothing is dug.
    pub fn cut(&self) -> Option<f64> {
        Some(self.existing? - self.dig.or(self.finish)?)
    }
}

impl Stakes {
    /// What the rod reads at one elevation from a level whose line of sight stands at `hi`.
    pub fn reading(&self, hi: f64, elevation: f64) -> Reading {
        let rod = hi - elevation;
        if rod < 0.0 {
            Reading::AboveSight(-rod)
        } else if rod > self.rod_length {
            Reading::BeyondRod(rod - self.rod_length)
        } else {
            Reading::Reads(rod)
        }
    }

    /// The readings for every stake, in the order of the list.
    pub fn readings(&self, hi: f64) -> Vec<Readings> {
        let reads = |z: Option<f64>| z.map(|z| self.reading(hi, z));
        self.list
            .iter()
            .map(|s| Readings {
                ground: reads(s.place.existing),
                dig: reads(s.place.dig),
                base: reads(s.place.base),
                finish: reads(s.place.finish),
            })
            .collect()
    }
}
