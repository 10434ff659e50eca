//! Whole new things, with the trade's usual measures, where somebody points. Metres in.
//!
//! Measures: common practice, no source. They are starting points that show up on the plan at once
//! and are there to be changed; only what has no default in the tables is written.

use crate::edit::address::Address;
use crate::edit::length;
use crate::edit::names::{Group, Names};
use crate::edit::refused::Refused;
use crate::edit::typed::quoted;
use crate::job::{Unit, Want};
use crate::units::FOOT;

/// A kind of thing that can be added whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum New {
    Benchmark,
    Baseline,
    Peg,
    KnownPoint,
    Setup,
    Breakline,
    Hole,
    StandingWall,
    Paving,
    KeepOut,
    Service,
    Access,
    Tree,
    Basin,
    Cascade,
    Wall,
    Pad,
    Berm,
    Trench,
    Ramp,
    Pile,
    Overflow,
    Stage,
}

impl New {
    /// All of them, in the order of a job.
    pub const ALL: [New; 23] = [
        New::Benchmark,
        New::Baseline,
        New::Peg,
        New::KnownPoint,
        New::Setup,
        New::Breakline,
        New::Hole,
        New::StandingWall,
        New::Paving,
        New::KeepOut,
        New::Service,
        New::Access,
        New::Tree,
        New::Basin,
        New::Cascade,
        New::Wall,
        New::Pad,
        New::Berm,
        New::Trench,
        New::Ramp,
        New::Pile,
        New::Overflow,
        New::Stage,
    ];

    /// The list that it goes into; for the access, its own place.
    pub fn list(self) -> Address {
        let (section, field) = match self {
            New::Benchmark => ("field_book", "benchmarks"),
            New::Baseline => ("field_book", "baselines"),
            New::Peg => ("field_book", "pegs"),
            New::KnownPoint => ("field_book", "points"),
            New::Setup => ("field_book", "setups"),
            New::Breakline => ("site", "breaklines"),
            New::Hole => ("site", "holes"),
            New::StandingWall => ("site", "walls"),
            New::Paving => ("site", "paving"),
            New::KeepOut => ("site", "keep_outs"),
            New::Service => ("site", "services"),
            New::Access => ("site", "access"),
            New::Tree => ("site", "trees"),
            New::Basin => ("design", "basins"),
            New::Cascade => ("design", "cascades"),
            New::Wall => ("design", "walls"),
            New::Pad => ("design", "pads"),
            New::Berm => ("design", "berms"),
            New::Trench => ("design", "trenches"),
            New::Ramp => ("design", "ramps"),
            New::Pile => ("design", "piles"),
            New::Overflow => ("design", "overflows"),
            New::Stage => return Address::job().field("sequence"),
        };
        Address::job().field(section).field(field)
    }

    /// What it is called until somebody names it.
    pub fn wished_name(self) -> &'static str {
        match self {
            New::Benchmark => "BM",
            New::Baseline => "A",
            New::Peg => "P1",
            New::KnownPoint => "101",
            New::Setup => "S1",
            New::Breakline => "top of bank",
            New::Hole => "building",
            New::StandingWall => "standing wall",
            New::Paving => "paving",
            New::KeepOut => "keep out",
            New::Service => "service",
            New::Access => "access",
            New::Tree => "tree",
            New::Basin => "pond",
            New::Cascade => "falls",
            New::Wall => "wall",
            New::Pad => "pad",
            New::Berm => "berm",
            New::Trench => "trench",
            New::Ramp => "ramp",
            New::Pile => "spoil heap",
            New::Overflow => "overflow",
            New::Stage => "stage",
        }
    }

    /// The names that its own must differ from, if others refer to it.
    pub fn group(self) -> Option<Group> {
        Some(match self {
            New::Benchmark | New::Peg | New::KnownPoint => Group::Points,
            New::Baseline => Group::Baselines,
            New::Setup => Group::Setups,
            New::Service | New::Tree | New::Overflow => Group::Services,
            New::Stage => Group::Stages,
            New::Breakline | New::Hole | New::Paving | New::KeepOut | New::Access => return None,
            _ => Group::Features,
        })
    }

    /// Whether a stage of the work builds it.
    pub fn is_work(self) -> bool {
        matches!(
            self,
            New::Basin | New::Cascade | New::Wall | New::Pad | New::Berm | New::Trench | New::Ramp
        )
    }
}

/// The text of a new thing around `at`; `elevation` is that of the ground there.
pub fn written(
    what: New,
    name: &str,
    at: [f64; 2],
    elevation: f64,
    unit: Unit,
    names: &Names,
) -> Result<String, Refused> {
    let pen = Pen { at, unit };
    let name = quoted(name);
    let level = pen.length(elevation);
    // So far over the ground, in feet.
    let over = |feet: f64| pen.length(elevation + feet * FOOT);
    let xy = pen.point(0.0, 0.0);
    Ok(match what {
        New::Benchmark => format!("(name: {name}, elevation: {level}, assumed: true, at: {xy})"),
        New::Baseline => format!("(name: {name}, from: {xy}, to: {})", pen.point(30.0, 0.0)),
        New::Peg => format!("({name}, {xy})"),
        New::KnownPoint => {
            let [x, y] = at.map(|v| pen.length(v));
            format!("({name}, {x}, {y}, {level})")
        }
        New::Setup => {
            let back = names.choices(Want::Elevation);
            let back = back.first().ok_or_else(|| Refused::NeedsFirst {
                what: "a setup".into(),
                first: "a benchmark to sight back to".into(),
            })?;
            // The rod is still to be read.
            format!(
                "(\n    name: {name},\n    backsight: ({}, \"\"),\n    sights: [],\n)",
                quoted(back)
            )
        }
        New::Breakline => format!("({name}, {})", pen.points(&[(-5.0, 0.0), (5.0, 0.0)])),
        New::Hole => format!("({name}, {})", pen.ring(12.0, 8.0)),
        New::Paving | New::KeepOut => format!("({name}, {})", pen.ring(8.0, 8.0)),
        New::StandingWall => format!(
            "(\n    name: {name},\n    left: {},\n    right: {},\n    cap: {},\n)",
            pen.points(&[(-5.0, 0.5), (5.0, 0.5)]),
            pen.points(&[(-5.0, -0.5), (5.0, -0.5)]),
            over(2.0)
        ),
        New::Service => format!(
            "(name: {name}, line: {}, depth: {})",
            pen.points(&[(-10.0, 0.0), (10.0, 0.0)]),
            pen.inches(24.0, 60.0)
        ),
        New::Access => format!(
            "(line: {}, width: {})",
            pen.points(&[(0.0, 0.0), (15.0, 0.0)]),
            pen.inches(96.0, 240.0)
        ),
        New::Tree => format!(
            "(name: {name}, at: {xy}, trunk: {})",
            pen.inches(12.0, 30.0)
        ),
        New::Basin => format!(
            "(\n    name: {name},\n    water: {},\n    outline: {},\n    shelves: [(depth: {}, width: {})],\n    floor_depth: {},\n    lining: [(\"underlayment\", {}), (\"liner\", {})],\n)",
            // The lining's edge stands over the water by this much at least.
            over(-0.5),
            pen.ring(12.0, 8.0),
            pen.inches(12.0, 30.0),
            pen.inches(12.0, 30.0),
            pen.inches(24.0, 60.0),
            pen.exact("1/4 in", "6 mm"),
            pen.exact("0.045 in", "1.2 mm"),
        ),
        New::Cascade => {
            let into = names.choices(Want::Basin);
            let into = into.first().ok_or_else(|| Refused::NeedsFirst {
                what: "a cascade".into(),
                first: "a basin to fall into".into(),
            })?;
            format!(
                "(\n    name: {name},\n    into: {},\n    centreline: {},\n    pools: [(name: {}, length: {}, width: {}, drop: {})],\n)",
                quoted(into),
                pen.points(&[(0.0, 8.0), (0.0, 0.0)]),
                quoted(&names.free(Group::Features, "upper pool")),
                pen.inches(60.0, 150.0),
                pen.inches(48.0, 120.0),
                pen.inches(9.0, 22.5),
            )
        }
        New::Wall => format!(
            "(\n    name: {name},\n    line: {},\n    back: Left,\n    cap: {},\n)",
            pen.points(&[(-6.0, 0.0), (6.0, 0.0)]),
            over(2.0)
        ),
        New::Pad => format!(
            "(\n    name: {name},\n    outline: {},\n    elevation: {level},\n)",
            pen.ring(8.0, 8.0)
        ),
        New::Berm => format!(
            "(\n    name: {name},\n    line: {},\n    crest: Above({}),\n)",
            pen.points(&[(-8.0, 0.0), (8.0, 0.0)]),
            pen.inches(18.0, 45.0)
        ),
        New::Trench => format!(
            "(\n    name: {name},\n    line: {},\n    depth: {},\n)",
            pen.points(&[(-8.0, 0.0), (8.0, 0.0)]),
            pen.inches(18.0, 45.0)
        ),
        New::Ramp => format!(
            "(\n    name: {name},\n    line: {},\n)",
            pen.points(&[(-8.0, 0.0), (8.0, 0.0)])
        ),
        New::Pile => format!("(name: {name}, along: [{xy}])"),
        New::Overflow => {
            let basin = names.choices(Want::Basin);
            let basin = basin.first().ok_or_else(|| Refused::NeedsFirst {
                what: "an overflow".into(),
                first: "a basin that it drains".into(),
            })?;
            format!(
                "(\n    name: {name},\n    basin: {},\n    line: {},\n    outlet: {},\n)",
                quoted(basin),
                pen.points(&[(0.0, 0.0), (8.0, 0.0)]),
                // Lower than where it begins, so that it runs.
                over(-1.0)
            )
        }
        New::Stage => format!("(name: {name})"),
    })
}

/// Writes measures around a place.
pub struct Pen {
    pub at: [f64; 2],
    pub unit: Unit,
}

impl Pen {
    fn length(&self, metres: f64) -> String {
        length::like(metres, None, self.unit)
    }

    /// So many inches in a job in feet, so many centimetres in one in metres.
    pub fn inches(&self, inches: f64, centimetres: f64) -> String {
        match self.unit {
            Unit::Foot => format!("\"{inches} in\""),
            Unit::Metre => format!("\"{centimetres} cm\""),
        }
    }

    /// A small measure: to whole inches or half centimetres.
    pub fn measure(&self, metres: f64) -> String {
        let style = match self.unit {
            Unit::Foot => "\"1 in\"",
            Unit::Metre => "\"1 cm\"",
        };
        length::like(metres, Some(style), self.unit)
    }

    fn exact(&self, foot: &str, metre: &str) -> String {
        quoted(match self.unit {
            Unit::Foot => foot,
            Unit::Metre => metre,
        })
    }

    /// A point so many feet off; a job in metres gets whole and half metres.
    fn point(&self, dx: f64, dy: f64) -> String {
        let step = match self.unit {
            Unit::Foot => FOOT,
            Unit::Metre => 0.3,
        };
        let [x, y] = [self.at[0] + dx * step, self.at[1] + dy * step].map(|v| self.length(v));
        format!("({x}, {y})")
    }

    fn points(&self, off: &[(f64, f64)]) -> String {
        let all: Vec<String> = off.iter().map(|&(x, y)| self.point(x, y)).collect();
        format!("[{}]", all.join(", "))
    }

    /// Two points so many feet apart.
    pub fn line(&self, long: f64) -> String {
        self.points(&[(-long / 2.0, 0.0), (long / 2.0, 0.0)])
    }

    pub fn ring(&self, width: f64, height: f64) -> String {
        let (w, h) = (width / 2.0, height / 2.0);
        self.points(&[(-w, -h), (w, -h), (w, h), (-w, h)])
    }
}

/// The empty job: enough to start a field book.
pub fn empty_job(name: &str, unit: Unit) -> String {
    let unit = match unit {
        Unit::Foot => "Foot",
        Unit::Metre => "Metre",
    };
    format!(
        "(\n    name: {},\n    unit: {unit},\n    field_book: (),\n)\n",
        quoted(name)
    )
}
