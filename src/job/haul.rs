//! How soil is carried, and the way in for it: machines, barrow, truck; gates, steps and boards along
//! the access route; the ramp that is sought. Metres, m³, kg, seconds, hours.
//!
//! Every default here is common practice, no source: the maker's manual decides, and the people who
//! push the barrow know better.

use crate::job::decode::{Check, Context, Fields, List, Maybe, Text, YesNo, record};
use crate::job::place::{AtReader, HeightReader};
use crate::job::quantity::{
    Distance, Extent, Gradient, Hours, Minutes, Rate, Seconds, Tracks, Volume, Weight,
};
use crate::job::{At, Height};

/// A gate or another narrow place on the way in.
#[derive(Debug, Clone, PartialEq)]
pub struct Gate {
    pub name: String,
    /// Distance along the route from its first point.
    pub along: f64,
    pub width: f64,
}

/// Steps across the way in.
#[derive(Debug, Clone, PartialEq)]
pub struct Steps {
    pub name: String,
    pub along: f64,
    pub rise: f64,
    pub run: f64,
    /// Planks or a filled ramp lie over them.
    pub planked: bool,
}

/// What protects paving under wheels.
#[derive(Debug, Clone, PartialEq)]
pub struct Boards {
    pub length: f64,
    pub width: f64,
    pub overlap: f64,
    pub tracks: f64,
    pub fabric_width: f64,
    pub fabric_overlap: f64,
}

/// A machine that carries soil.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    pub name: String,
    pub width: f64,
    /// Loose, m³.
    pub capacity: f64,
    pub payload: f64,
    /// Metres in a minute.
    pub laden: f64,
    pub empty: f64,
    pub gradient: f64,
    pub radius: f64,
    /// Between the middles of its wheels or tracks.
    pub gauge: f64,
    /// Seconds.
    pub load: f64,
    pub dump: f64,
    pub hour_cost: f64,
    /// Most hours it works in one stage.
    pub hours: Option<f64>,
}

/// The barrow; its volume is `soil.barrow`.
#[derive(Debug, Clone, PartialEq)]
pub struct Barrow {
    pub width: f64,
    pub payload: f64,
    pub laden: f64,
    pub empty: f64,
    pub gradient: f64,
    pub load: f64,
    pub dump: f64,
    pub hour_cost: f64,
}

/// What a ramp to be found must do; what is left out is as in the first ramp of the design.
#[derive(Debug, Clone, PartialEq)]
pub struct RampSought {
    pub from: Option<At>,
    pub to: Option<At>,
    pub from_level: Option<Height>,
    pub to_level: Option<Height>,
    pub width: Option<f64>,
    pub gradient: Option<f64>,
    pub radius: Option<f64>,
    /// Cross fall that the machine drives over as it lies.
    pub cross_fall: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Haulage {
    pub machines: Vec<Machine>,
    pub barrow: Barrow,
    /// Room to either side of whatever drives.
    pub clearance: f64,
    /// Minutes of a truck's round trip.
    pub truck_trip: f64,
    pub truck_cost: f64,
    pub ramp: RampSought,
}

record!(Gate as "Gate": "A gate or another narrow place on the way in." {
    name: Text, Absent::Required, "What it is called.", "\"side gate\"";
    along: Distance, Absent::Required, "How far along the route it is, from its first point.", "12";
    width: Extent, Absent::Required, "Clear width between its posts.", "\"42 in\"";
});

record!(Steps as "Steps": "Steps across the way in." {
    name: Text, Absent::Required, "What they are called.", "\"front steps\"";
    along: Distance, Absent::Required, "How far along the route their middle is, from its first point.", "20";
    rise: Extent, Absent::Required, "From the lowest level to the highest.", "\"21 in\"";
    run: Extent, Absent::Required, "Level length from the first riser to the last.", "\"36 in\"";
    planked: YesNo, Absent::Is("false"), "True if planks or a filled ramp lie over them as long as the work lasts; then their rise over their run counts as gradient.", "true";
});

record!(Boards as "Boards": "What protects paving under wheels: boards in tracks, fabric under them. Defaults: common practice, no source." {
    length: Extent, Absent::Is("\"8 ft\""), "Length of a board.", "\"8 ft\"";
    width: Extent, Absent::Is("\"24 in\""), "Width of a board.", "\"4 ft\"";
    overlap: Distance, Absent::Is("\"6 in\""), "How far each board lies over the next.", "\"4 in\"";
    tracks: Tracks, Absent::Is("2"), "Rows of boards side by side: 2 for wheels or tracks, 1 for a barrow.", "1";
    fabric_width: Extent, Absent::Is("\"6 ft\""), "Width of the fabric's roll.", "\"12 ft\"";
    fabric_overlap: Distance, Absent::Is("\"12 in\""), "Lap of two strips of fabric, and how far it runs out beyond the paving at each end.", "\"6 in\"";
});

record!(Machine as "Machine": "A machine that carries soil. Defaults: those of a small stand-on loader, common practice, no source; the maker's manual decides." {
    name: Text, Absent::Required, "What it is called.", "\"mini loader\"";
    width: Extent, Absent::Is("\"36 in\""), "Its full width, bucket included.", "\"41 in\"";
    capacity: Volume, Absent::Is("\"5 cu ft\""), "Loose volume of its bucket or skip, heaped.", "\"9 cu ft\"";
    payload: Weight, Absent::Is("\"900 lb\""), "Most that it carries.", "\"1100 lb\"";
    laden: Extent, Absent::Is("\"200 ft\""), "How far it drives in a minute, laden.", "\"40 m\"";
    empty: Extent, Absent::Is("\"260 ft\""), "How far it drives in a minute, empty.", "\"60 m\"";
    gradient: Gradient, Absent::Is("0.25"), "Steepest that it drives laden, along its way.", "\"1 in 5\"";
    radius: Distance, Absent::Is("\"5 ft\""), "Least radius that its middle turns in.", "\"8 ft\"";
    gauge: Extent, Absent::Is("\"28 in\""), "From the middle of one wheel or track to that of the other.", "\"30 in\"";
    load: Seconds, Absent::Is("30"), "Seconds to fill it.", "20";
    dump: Seconds, Absent::Is("20"), "Seconds to empty it.", "15";
    hour_cost: Rate, Absent::Is("2"), "What an hour of it costs, driver included, against an hour of one person; only the ratio counts.", "2.5";
    hours: Maybe<Hours>, Absent::None, "Most hours that it carries in any one stage. Without it: as long as it takes.", "16";
});

record!(Barrow as "Barrow": "A barrow and who pushes it; how much it takes is `barrow` of the soil. Defaults: common practice, no source." {
    width: Extent, Absent::Is("\"28 in\""), "Its full width.", "\"26 in\"";
    payload: Weight, Absent::Is("\"300 lb\""), "Most that is put in it.", "\"250 lb\"";
    laden: Extent, Absent::Is("\"130 ft\""), "How far it goes in a minute, laden.", "\"35 m\"";
    empty: Extent, Absent::Is("\"200 ft\""), "How far it goes in a minute, empty.", "\"60 m\"";
    gradient: Gradient, Absent::Is("\"1 in 6\""), "Steepest that it is pushed laden, up or down, along its way.", "\"1 in 8\"";
    load: Seconds, Absent::Is("150"), "Seconds to fill it by shovel.", "120";
    dump: Seconds, Absent::Is("15"), "Seconds to tip it.", "10";
    hour_cost: Rate, Absent::Is("1"), "What an hour of it costs against an hour of one person.", "1";
});

record!(RampSought as "RampSought": "What the ramp that is sought must do. Without these: what the first ramp of the design does, with the turning radius of the first machine." {
    from: Maybe<AtReader>, Absent::None, "Where the machine stands.", "(20, 0)";
    to: Maybe<AtReader>, Absent::None, "Where it must get.", "(40, 0)";
    from_level: Maybe<HeightReader>, Absent::None, "Elevation it starts at. Without it: the ground there, or the ramp's own end.", "98.5";
    to_level: Maybe<HeightReader>, Absent::None, "Elevation it must reach. Without it: the ground there, or the ramp's own end.", "101";
    width: Maybe<Extent>, Absent::None, "Width of its top.", "\"6 ft\"";
    gradient: Maybe<Gradient>, Absent::None, "Steepest along its line.", "\"1 in 5\"";
    radius: Maybe<Distance>, Absent::None, "Least radius of its bends.", "\"8 ft\"";
    cross_fall: Gradient, Absent::Is("\"1 in 10\""), "Cross fall of the ground that the machine drives over as it lies, without soil. Default: common practice, no source.", "0.15";
});

record!(Haulage as "Haulage": "How soil is carried. What no wheels get to is carried by hand, a pair of buckets at a time: 24 l loose or 30 kg, 35 m a minute laden and 50 m empty, 40 s to fill and empty them. Where gates or steps shut the barrow out, so is what goes to the street; lifted in empty, the barrow serves within the yard. Defaults: common practice, no source." {
    machines: List<Machine>, Absent::Is("[]"), "Machines that carry soil, the first of them the one that ramps are made for. Without it: all by barrow.", "[(name: \"mini loader\")]";
    barrow: Barrow, Absent::Is("()"), "The barrow.", "(gradient: \"1 in 8\")";
    clearance: Distance, Absent::Is("\"3 in\""), "Room to be kept on either side of whatever drives.", "\"6 in\"";
    truck_trip: Minutes, Absent::Is("60"), "Minutes of a truck's round trip from the street, loading aside.", "45";
    truck_cost: Rate, Absent::Is("3"), "What an hour of the truck costs, driver included, against an hour of one person.", "4";
    ramp: RampSought, Absent::Is("()"), "The ramp that is sought.", "(radius: \"8 ft\")";
});

impl Check for Gate {}
impl Check for Steps {}
impl Check for Barrow {}
impl Check for RampSought {}

impl Check for Boards {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.overlap >= self.length {
            cx.problem(
                fields.span("overlap"),
                "the boards overlap by their whole length",
                "`overlap` is less than `length`",
            );
        }
        if self.fabric_overlap >= self.fabric_width {
            cx.problem(
                fields.span("fabric_overlap"),
                "the strips of fabric overlap by their whole width",
                "`fabric_overlap` is less than `fabric_width`",
            );
        }
    }
}

impl Check for Machine {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.gauge >= self.width {
            cx.problem(
                fields.span("gauge"),
                format!(
                    "machine \"{}\": its wheels stand further apart than it is wide",
                    self.name
                ),
                "`gauge` is less than `width`",
            );
        }
    }
}

impl Check for Haulage {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        for (i, machine) in self.machines.iter().enumerate() {
            if machine.name.trim().is_empty() {
                cx.problem(
                    fields.item_span("machines", i),
                    "this machine has no name",
                    "a name that is not empty",
                );
            }
            if self.machines[..i].iter().any(|m| m.name == machine.name) {
                cx.problem(
                    fields.item_span("machines", i),
                    format!("a second machine is called \"{}\"", machine.name),
                    "every name once",
                );
            }
        }
    }
}
