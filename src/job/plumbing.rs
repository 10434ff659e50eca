//! The plumbing of a job as its computations see it, and its reading: hose, rain, lips, pump and
//! overflow pipes. Flows in m³/s, rain and speeds in m/s, lengths in metres.
//!
//! Inside diameters of the pipes that are taken where none are given, roughness and coefficients:
//! handbook figures from memory; the maker's table rules. Other defaults: common practice, no source.

use crate::job::decode::{Check, Context, Fields, List, Maybe, Read, Text, YesNo, record};
use crate::job::form::Form;
use crate::job::place::{HeightReader, Path};
use crate::job::quantity::{ANY, Distance, Extent, Length, Volume, number_reader};
use crate::job::rate::{Flow, LipFlow, Rain, Speed};
use crate::job::seen::{Name, Refers, Space, Want};
use crate::job::tree::{Kind, Node};
use crate::job::{At, Height};

#[derive(Debug, Clone, PartialEq)]
pub struct Plumbing {
    /// What the garden hose gives.
    pub hose: Option<f64>,
    /// Intensity of the storm that overflow pipes must carry.
    pub rain: Option<f64>,
    /// Share of that rain that runs off the catchment.
    pub runoff: f64,
    /// Water lost (evaporation, splash, leaks) before anyone tops up, m³.
    pub loss: Option<f64>,
    /// Flow wanted over a lip, for each metre of its width, m²/s.
    pub lip_flow: f64,
    /// How far falling water splashes sideways.
    pub splash: f64,
    /// Roughness of the cascade's bed, Manning's n.
    pub bed_n: f64,
    pub pumps: Vec<Pump>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Pump {
    pub name: String,
    /// The pit or basin it stands in.
    pub sits_in: String,
    pub cascade: String,
    /// Height over that floor below which it draws air.
    pub intake: f64,
    /// Elevation at which the pipe gives out; `None`: at the top pool's water.
    pub discharge: Option<Height>,
    /// From the pump to where the pipe gives out, in plan.
    pub line: Vec<At>,
    /// Added to the pipe's length for what the line does not show.
    pub extra_length: f64,
    /// Flow wanted; `None`: by the widest lip.
    pub flow: Option<f64>,
    pub pipes: Vec<Pipe>,
    /// Name of the pipe that is to be laid; empty: the smallest within the velocity.
    pub pipe: String,
    pub fittings: Vec<Fitting>,
    /// Hazen-Williams.
    pub c: f64,
    /// Absolute roughness for Colebrook.
    pub roughness: f64,
    pub velocity: f64,
    /// A check valve keeps the pipe full when the pump stops.
    pub check_valve: bool,
    /// Flow (m³/s) and head (m), from the pump's sheet.
    pub curve: Vec<(f64, f64)>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Pipe {
    pub name: String,
    /// Inside.
    pub diameter: f64,
}

/// Fittings of one kind: each loses `k` velocity heads, and as much as `length` of pipe.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitting {
    pub name: String,
    pub count: f64,
    pub k: f64,
    pub length: f64,
}

/// A pipe through the brim that keeps a basin from running over.
#[derive(Debug, Clone, PartialEq)]
pub struct Overflow {
    pub name: String,
    pub basin: String,
    /// Inside.
    pub diameter: f64,
    /// From the basin to its outlet.
    pub line: Vec<At>,
    /// Elevation of its invert at the inlet.
    pub invert: Option<Height>,
    /// The same over the basin's water (below it negative).
    pub above_water: Option<f64>,
    /// Elevation of its invert at the outlet.
    pub outlet: Height,
    /// Manning's n.
    pub n: f64,
    /// Least cover of ground over it.
    pub cover: f64,
}

number_reader!(Share, 0.0..=1.0, "share");
number_reader!(Manning, 0.005..=0.2, "Manning's n");
number_reader!(Hazen, 60.0..=160.0, "Hazen-Williams C");
number_reader!(Loss, 0.0..=100.0, "velocity heads");
number_reader!(Pieces, 0.0..=1000.0, "number");

/// `(flow, head)`.
pub struct CurvePoint;

impl Read for CurvePoint {
    type Out = (f64, f64);

    fn says() -> String {
        "`(flow, head)`".to_string()
    }

    fn form() -> Form {
        Form::CurvePoint
    }

    fn read(node: &Node, cx: &mut Context) -> Option<(f64, f64)> {
        let Kind::Tuple { name: None, items } = &node.kind else {
            return cx.wrong(node, Self::says());
        };
        let [flow, head] = items.as_slice() else {
            return cx.wrong(node, Self::says());
        };
        // With the pump shut off nothing flows.
        let flow = match flow.kind {
            Kind::Number(0.0) => Some(0.0),
            _ => Flow::read(flow, cx),
        };
        let head = Distance::read(head, cx);
        Some((flow?, head?))
    }
}

type SumpRef = Refers<{ Want::Sump as u8 }>;

record!(Plumbing as "Plumbing": "What runs through the pipes and over the lips. All of it may be left out." {
    hose: Maybe<Flow>, Absent::None, "What the garden hose gives, for the time to fill. Measure it: a bucket and a watch.", "\"8 gal/min\"";
    rain: Maybe<Rain>, Absent::None, "Intensity of the storm that overflow pipes must carry, from the local code or weather service. There is no default: without it no pipe is sized.", "\"4 in/h\"";
    runoff: Share, Absent::Is("1"), "Share of that rain that runs off the ground above the water. Default: all of it, the safe side.", "0.5";
    loss: Maybe<Volume>, Absent::None, "Water lost before anyone tops up: the level's range follows from it.", "\"150 gal\"";
    lip_flow: LipFlow, Absent::Is("\"100 gal/h per in\""), "Flow wanted over a lip for its width. Default: common practice, no source.", "\"120 gal/h per in\"";
    splash: Distance, Absent::Is("\"12 in\""), "How far falling water splashes to either side of the sheet. Default: common practice, no source.", "\"18 in\"";
    bed_n: Manning, Absent::Is("0.035"), "Roughness of the cascade's stone bed, Manning's n. Default: clean stony bed, from memory.", "0.035";
    pumps: List<Pump>, Absent::Is("[]"), "Pumps.", "[(name: \"pump\", sits_in: \"pump pit\", cascade: \"falls\", line: [(5, 5), (5, 20)])]";
});

record!(Pump as "Pump": "A pump in a basin or its pit that feeds a cascade." {
    name: Name<{ Space::Service as u8 }>, Absent::Required, "Its name.", "\"pump\"";
    sits_in: SumpRef, Absent::Required, "The pit or basin it stands in.", "\"pump pit\"";
    cascade: Refers<{ Want::Work as u8 }>, Absent::Required, "The cascade it feeds.", "\"falls\"";
    line: Path, Absent::Required, "The pipe in plan, from the pump to where it gives out.", "[(5, 5), (5, 20)]";
    intake: Distance, Absent::Is("\"6 in\""), "Height over the floor it stands on below which it draws air. Default: common practice, no source; the pump's sheet rules.", "\"6 in\"";
    discharge: Maybe<HeightReader>, Absent::None, "Elevation at which the pipe gives out. Without it: in the top pool, at its water; given lower than that, the pump still lifts to the water.", "103.5";
    extra_length: Distance, Absent::Is("0"), "Pipe that the line does not show.", "3";
    flow: Maybe<Flow>, Absent::None, "Flow wanted. Without it: by the widest lip and `lip_flow`.", "\"3000 gal/h\"";
    pipes: List<Pipe>, Absent::Is("[(\"1 1/4 in\", \"1.380 in\"), (\"1 1/2 in\", \"1.610 in\"), (\"2 in\", \"2.067 in\"), (\"3 in\", \"3.068 in\")]"), "Pipes to choose from, by inside diameter. Default: Schedule 40 plastic pipe, from memory; take the maker's own.", "[(\"2 in\", \"2.067 in\")]";
    pipe: Text, Absent::Is("\"\""), "Name of the one that is to be laid. Without it: the smallest that keeps to `velocity`.", "\"2 in\"";
    fittings: List<Fitting>, Absent::Is("[]"), "Bends, valves and the like.", "[(\"elbow, 90°\", 4, 0.9)]";
    c: Hazen, Absent::Is("150"), "Hazen-Williams C of the pipe. Default: plastic, handbook figure from memory.", "150";
    roughness: Distance, Absent::Is("\"0.0015 mm\""), "Roughness of the pipe's wall for Colebrook. Default: plastic, handbook figure from memory.", "\"0.0015 mm\"";
    velocity: Speed, Absent::Is("\"5 ft/s\""), "Greatest velocity in the pipe. Default: common practice, no source.", "\"5 ft/s\"";
    check_valve: YesNo, Absent::Is("false"), "True if a check valve keeps the pipe full when the pump stops.", "true";
    curve: List<CurvePoint>, Absent::Is("[]"), "The pump's curve from its sheet: `(flow, head)`, flow rising.", "[(0, 20), (\"3000 gal/h\", 12), (\"5000 gal/h\", 4)]";
});

record!(Pipe as "Pipe": "A size of pipe." {
    name: Text, Absent::Required, "What it is called.", "\"2 in\"";
    diameter: Extent, Absent::Required, "Inside diameter.", "\"2.067 in\"";
});

record!(Fitting as "Fitting": "Fittings of one kind." {
    name: Text, Absent::Required, "What they are.", "\"elbow, 90°\"";
    count: Pieces, Absent::Is("1"), "How many.", "4";
    k: Loss, Absent::Is("0"), "Velocity heads that each loses.", "0.9";
    length: Distance, Absent::Is("0"), "Length of straight pipe that loses as much as one of them.", "\"5 ft\"";
});

record!(Overflow as "Overflow": "A pipe through the brim that keeps a basin from running over. Its trench is not dug by this: draw it among `trenches`." {
    name: Name<{ Space::Service as u8 }>, Absent::Required, "Its name.", "\"overflow\"";
    basin: Refers<{ Want::Basin as u8 }>, Absent::Required, "The basin it drains.", "\"pond\"";
    line: Path, Absent::Required, "From the basin to its outlet.", "[(10, 4), (22, 0)]";
    outlet: HeightReader, Absent::Required, "Elevation of its invert (inside bottom) at the outlet.", "98.2";
    diameter: Extent, Absent::Is("\"4 in\""), "Inside diameter. Default: common practice, no source; the rain decides.", "\"4.026 in\"";
    invert: Maybe<HeightReader>, Absent::None, "Elevation of its invert at the inlet. Without it: at the water, or as `above_water` says.", "99.5";
    above_water: Maybe<Length<ANY>>, Absent::None, "The same over the basin's water; below it negative.", "\"1/2 in\"";
    n: Manning, Absent::Is("0.010"), "Roughness of the pipe, Manning's n. Default: plastic, handbook figure from memory.", "0.010";
    cover: Distance, Absent::Is("\"6 in\""), "Least cover of ground over the pipe. Default: common practice, no source; the pipe's maker and local code rule.", "\"12 in\"";
});

impl Check for Plumbing {}
impl Check for Pipe {}

impl Check for Pump {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        for (i, pair) in self.curve.windows(2).enumerate() {
            if pair[1].0 <= pair[0].0 {
                cx.problem(
                    fields.item_span("curve", i + 1),
                    format!(
                        "pump \"{}\": this flow is not more than the one before it",
                        self.name
                    ),
                    "the points of the curve in order of flow, each once",
                );
            }
        }
        if self.curve.len() == 1 {
            cx.problem(
                fields.span("curve"),
                format!("pump \"{}\": one point is no curve", self.name),
                "two points or more, or none",
            );
        }
        if self.pipes.is_empty() {
            cx.problem(
                fields.span("pipes"),
                format!("pump \"{}\" has no pipe to choose from", self.name),
                "at least one",
            );
        } else if !self.pipe.is_empty() && !self.pipes.iter().any(|p| p.name == self.pipe) {
            let known: Vec<&str> = self.pipes.iter().map(|p| p.name.as_str()).collect();
            cx.problem(
                fields.span("pipe"),
                format!(
                    "pump \"{}\": no pipe is called \"{}\"",
                    self.name, self.pipe
                ),
                format!("one of `pipes`: {}", known.join(", ")),
            );
        }
    }
}

impl Check for Fitting {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.k == 0.0 && self.length == 0.0 {
            cx.problem(
                fields.whole(),
                format!("fitting \"{}\" loses nothing", self.name),
                "give `k` or `length`",
            );
        }
    }
}

impl Check for Overflow {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.invert.is_some() && self.above_water.is_some() {
            cx.problem(
                fields.span("above_water"),
                format!("overflow \"{}\" has its invert twice", self.name),
                "`invert` or `above_water`",
            );
        }
    }
}
