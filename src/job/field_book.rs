//! Reading the field book: benchmarks, baselines, pegs, setups and sights.

use crate::job::decode::{Check, Context, Fields, List, Maybe, Read, Text, YesNo, record};
use crate::job::form::Form;
use crate::job::place::{Corner, PlaceReader, only};
use crate::job::quantity::{ANY, Distance, Extent, Length};
use crate::job::seen::{Name, Space};
use crate::job::tree::Node;
use crate::job::{Allowed, Baseline, Benchmark, FieldBook, KnownPoint, Peg, Place, Setup, Sight};

record!(FieldBook as "FieldBook": "What was measured." {
    benchmarks: List<Benchmark>, Absent::Is("[]"), "Points of known or assumed elevation. At least one if there are setups.", "[(name: \"BM\", elevation: 100, assumed: true)]";
    baselines: List<Baseline>, Absent::Is("[]"), "Taped lines that offsets and grids are measured from.", "[(name: \"A\", from: (0, 0), to: (40, 0))]";
    pegs: List<Peg>, Absent::Is("[]"), "Named points that ties and angles are measured from.", "[(\"peg 1\", (0, 0))]";
    rod_length: RodLength, Absent::Is("\"13 ft\""), "Full length of the rod; a longer reading is an error. Default: common practice, no source.", "\"16 ft\"";
    allowed: AllowedReader, Absent::Is("PerRootKm(\"12 mm\")"), "Misclosure allowed: `PerRootKm(length)` times √K, K the length of the line in km; `PerSetup(length)` times √(number of setups); `Total(length)`. K needs the `distance` of the backsight and of the sight that carries the run on, in every setup of it; where one is missing, `PerRootKm` comes to 3 mm times √(number of setups), whatever its length says (common practice, no source). Default: third order, FGCC 1984, Standards and Specifications for Geodetic Control Networks (from memory).", "PerSetup(\"3 mm\")";
    setups: List<Setup>, Absent::Is("[]"), "Standings of the level, in order.", "[(name: \"1\", backsight: (\"BM\", 5.42), sights: [])]";
    points: List<KnownPoint>, Absent::Is("[]"), "Points known in all three coordinates, without level notes.", "[(\"101\", 3.5, 12, 99.2)]";
});

record!(Benchmark as "Benchmark": "A point of known or assumed elevation." {
    name: Name<{ Space::Benchmark as u8 }>, Absent::Required, "Its name.", "\"BM\"";
    elevation: Length<ANY>, Absent::Required, "Its elevation.", "100";
    assumed: YesNo, Absent::Is("false"), "True if the elevation is only assumed.", "true";
    at: Maybe<PlaceReader>, Absent::None, "Where it is, if it was placed.", "(0, 0)";
});

record!(Baseline as "Baseline": "A taped line." {
    name: Name<{ Space::Baseline as u8 }>, Absent::Required, "Its name.", "\"A\"";
    from: Corner, Absent::Required, "Where its zero is.", "(0, 0)";
    to: Corner, Absent::Required, "A point further along it; offsets to the right, walking that way, are positive.", "(40, 0)";
});

record!(Peg as "Peg": "A named point of known place." {
    name: Name<{ Space::Peg as u8 }>, Absent::Required, "Its name.", "\"peg 1\"";
    at: Corner, Absent::Required, "Where it is.", "(0, 0)";
});

record!(KnownPoint as "KnownPoint": "A point known in all three coordinates; it shapes the ground." {
    name: Name<{ Space::Point as u8 }>, Absent::Required, "Its name.", "\"101\"";
    x: Length<ANY>, Absent::Required, "To the right.", "3.5";
    y: Length<ANY>, Absent::Required, "Up the page.", "12";
    z: Length<ANY>, Absent::Required, "Elevation.", "99.2";
});

record!(Setup as "Setup": "One standing of the level." {
    name: Name<{ Space::Setup as u8 }>, Absent::Required, "Its name.", "\"1\"";
    at: Maybe<PlaceReader>, Absent::None, "Where the level stood, if it was placed.", "Offset(\"A\", 10, -4)";
    backsight: Backsight, Absent::Required, "The sight that gives the height of instrument: to a benchmark, or to a point sighted from an earlier setup.", "(\"BM\", 5.42)";
    sights: List<Sight>, Absent::Is("[]"), "The other sights, in order.", "[(\"1\", 6.05, (3, 4))]";
});

record!(Sight as "Sight": "One reading of the rod. The first three fields may be given in order: `(\"12\", 5.42, Offset(\"A\", 12.5, -3))`." {
    to: SightName, Absent::Required, "Name of the shot, benchmark, peg or turning point that the rod stood on.", "\"12\"";
    rod: Rod, Absent::Required, "Rod reading.", "5.42";
    at: Maybe<PlaceReader>, Absent::None, "Where it was, in plan. A shot without it only carries levels.", "Offset(\"A\", 12.5, -3)";
    remark: Text, Absent::Is("\"\""), "Anything worth noting.", "\"edge of terrace\"";
    turning: YesNo, Absent::Is("false"), "True for the foresight to a turning point, which the next setup's backsight reads again.", "true";
    inverted: YesNo, Absent::Is("false"), "True if the rod was held upside down under a soffit: the reading counts upward.", "true";
    ground: YesNo, Absent::Is("true"), "False if the rod did not stand on the ground (a wall's cap, a sill): the shot does not shape the ground.", "false";
    distance: Maybe<Distance>, Absent::None, "Distance from the level.", "62";
    check: Maybe<PlaceReader>, Absent::None, "A second, independent placing, to check the first.", "Tie(\"peg 1\", 14.2, \"peg 2\", 9.75, Left)";
});

impl Check for FieldBook {}
impl Check for KnownPoint {
    fn check(&self, _fields: &Fields, cx: &mut Context) {
        cx.seen.place(&self.name, &Place::Xy(self.x, self.y));
    }
}
impl Check for Peg {
    fn check(&self, _fields: &Fields, cx: &mut Context) {
        cx.seen
            .place(&self.name, &Place::Xy(self.at[0], self.at[1]));
    }
}
impl Check for Benchmark {
    fn check(&self, _fields: &Fields, cx: &mut Context) {
        cx.seen.benchmarks.insert(self.name.clone());
        if let Some(place) = &self.at {
            cx.seen.place(&self.name, place);
        }
    }
}

impl Check for Baseline {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.from == self.to {
            cx.problem(
                fields.span("to"),
                format!("baseline \"{}\" has no length", self.name),
                "`to` must be another place than `from`",
            );
        } else {
            cx.seen
                .baselines
                .insert(self.name.clone(), [self.from, self.to]);
        }
    }
}

impl Check for Setup {
    fn open(cx: &mut Context) {
        cx.seen.setups += 1;
    }

    fn check(&self, fields: &Fields, cx: &mut Context) {
        if let Some(place) = &self.at {
            cx.seen.place_setup(&self.name, place, fields.span("name"));
        }
    }
}

impl Check for Sight {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        cx.seen.sighted(self.at.as_ref());
        if self.turning {
            cx.seen.turning.insert(self.to.clone());
        }
        if self.check.is_some() && self.at.is_none() {
            cx.problem(
                fields.span("check"),
                format!("shot \"{}\" has a `check` placing and no `at`", self.to),
                "a second placing checks a first: give `at` as well",
            );
        }
    }
}

/// The sight that gives the height of instrument.
pub struct Backsight;

impl Read for Backsight {
    type Out = Sight;

    fn says() -> String {
        Sight::says()
    }

    fn form() -> Form {
        Sight::form()
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Sight> {
        cx.seen.backsight = true;
        let sight = Sight::read(node, cx);
        cx.seen.backsight = false;
        sight
    }
}

pub struct SightName;

impl Read for SightName {
    type Out = String;

    fn says() -> String {
        "name".to_string()
    }

    fn form() -> Form {
        Form::Shot
    }

    fn read(node: &Node, cx: &mut Context) -> Option<String> {
        let name = crate::job::seen::name(node, cx)?;
        cx.seen.sight(&name, node.span.clone());
        Some(name)
    }
}

pub struct Rod;

impl Read for Rod {
    type Out = f64;

    fn says() -> String {
        Distance::says()
    }

    fn form() -> Form {
        Distance::form()
    }

    fn read(node: &Node, cx: &mut Context) -> Option<f64> {
        let reading = Distance::read(node, cx)?;
        cx.seen.rods.push((reading, node.span.clone()));
        Some(reading)
    }
}

pub struct RodLength;

impl Read for RodLength {
    type Out = f64;

    fn says() -> String {
        Extent::says()
    }

    fn form() -> Form {
        Extent::form()
    }

    fn read(node: &Node, cx: &mut Context) -> Option<f64> {
        let length = Extent::read(node, cx)?;
        cx.seen.rod_length = Some(length);
        Some(length)
    }
}

pub struct AllowedReader;

impl Read for AllowedReader {
    type Out = Allowed;

    fn says() -> String {
        "`PerRootKm(length)`, `PerSetup(length)` or `Total(length)`".to_string()
    }

    fn form() -> Form {
        Form::Allowed
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Allowed> {
        type Make = fn(f64) -> Allowed;
        let kinds: [(&str, Make); 3] = [
            ("PerRootKm", Allowed::PerRootKm),
            ("PerSetup", Allowed::PerSetup),
            ("Total", Allowed::Total),
        ];
        for (name, make) in kinds {
            if let Some(inner) = only(node, name) {
                return Extent::read(inner, cx).map(make);
            }
        }
        cx.wrong(node, Self::says())
    }
}
