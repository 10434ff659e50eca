//! What was shot after digging or building: visits, stage by stage, with their own setups. Metres.
//!
//! A visit knows the benchmarks, turning points, pegs, baselines and placed shots of the field book;
//! its own shots are known only to itself, so they may be numbered from 1 again.

use crate::job::decode::{Check, Context, Fields, List, Maybe, Read, Text, YesNo, record, words};
use crate::job::form::Form;
use crate::job::place::RingOrNone;
use crate::job::quantity::Distance;
use crate::job::seen::{Named, Refers, Seen, Space, Want};
use crate::job::tree::Node;
use crate::job::{At, KnownPoint, Line, Setup};

#[derive(Debug, Clone, PartialEq, Default)]
pub struct AsBuilt {
    pub tolerances: Tolerances,
    pub visits: Vec<Visit>,
}

/// How far a thing may stand off its design, square to its face.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tolerances {
    pub earth: f64,
    pub pad: f64,
    pub invert: f64,
    pub cap: f64,
    pub lip: f64,
    pub base: f64,
}

/// One visit with level and rod.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// The stage that was done, or is being done; none: all of them.
    pub stage: Option<String>,
    pub against: Against,
    pub date: String,
    pub setups: Vec<Setup>,
    /// Points with all three coordinates, without level notes.
    pub points: Vec<KnownPoint>,
    pub breaklines: Vec<Line>,
    /// Edge of what was shot. Empty: the hull of the shots.
    pub outline: Vec<At>,
    /// Trenches of the stage stand open (never when all stages are done).
    pub trenches_open: bool,
    /// How far the walls of the stage are.
    pub walls: Walls,
}

/// How far a wall is that is being built.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Walls {
    #[default]
    Built,
    /// Its base trench is dug.
    Trench,
    /// Its base course is laid in it.
    Base,
}

words!(WallsWord -> Walls { Built => Walls::Built, Trench => Walls::Trench, Base => Walls::Base });

/// The designed surface that shots are held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Against {
    #[default]
    Dug,
    Finished,
}

words!(AgainstWord -> Against { Dug => Against::Dug, Finished => Against::Finished });

record!(AsBuilt as "AsBuilt": "What was shot after digging or building, to hold against the design." {
    tolerances: Tolerances, Absent::Is("()"), "How far off the design is still right.", "(earth: \"1 in\")";
    visits: List<VisitReader>, Absent::Is("[]"), "Visits with level and rod, in order.", "[(stage: \"dig\", setups: [(name: \"III\", backsight: (\"BM\", 5.02), sights: [(\"1\", 7.4, (12, 9)), (\"BM\", 5.02)])])]";
});

record!(Tolerances as "Tolerances": "How far a thing may stand off its design, measured square to its face. Defaults: common practice, no source." {
    earth: Distance, Absent::Is("\"0.1 ft\""), "Earth: basins, pools, berms, ramps, ground.", "\"3 cm\"";
    pad: Distance, Absent::Is("\"0.05 ft\""), "Levelled areas.", "\"1 cm\"";
    invert: Distance, Absent::Is("\"0.05 ft\""), "Bottoms of trenches, walls' base trenches among them.", "\"1 cm\"";
    cap: Distance, Absent::Is("\"0.02 ft\""), "Caps of walls.", "\"5 mm\"";
    lip: Distance, Absent::Is("\"0.01 ft\""), "Lips that water runs over.", "\"3 mm\"";
    base: Distance, Absent::Is("\"0.02 ft\""), "Tops of walls' base courses.", "\"5 mm\"";
});

record!(Visit as "Visit": "One visit with level and rod after digging or building. Its shots have names of their own, which may be those of the field book; benchmarks, turning points, pegs, baselines and placed shots of the field book are known to it." {
    stage: Maybe<Refers<{ Want::Stage as u8 }>>, Absent::None, "Name of the stage that is done, or being done: shots are held against the design as it stands after it. Without it: the whole design, all stages done.", "\"dig\"";
    setups: List<Setup>, Absent::Is("[]"), "Standings of the level. End on a benchmark: what closes on nothing is not called right.", "[(name: \"III\", backsight: (\"BM\", 5.02), sights: [(\"1\", 7.4, (12, 9)), (\"BM\", 5.02)])]";
    against: AgainstWord, Absent::Is("Dug"), "The surface to hold them against: as dug, before lining, or as finished.", "Finished";
    date: Text, Absent::Is("\"\""), "When it was, for the record.", "\"3 May, evening\"";
    points: List<KnownPoint>, Absent::Is("[]"), "Points shot in all three coordinates, without level notes.", "[(\"101\", 3.5, 12, 97.2)]";
    breaklines: List<Line>, Absent::Is("[]"), "Lines through these shots along which the ground bends: edges of floor and shelves.", "[(\"floor\", [(12, 9), (15, 9)])]";
    outline: RingOrNone, Absent::Is("[]"), "Edge of what was shot; volumes are those inside it. Without it: the hull of the shots.", "[(10, 8), (20, 8), (20, 16)]";
    trenches_open: YesNo, Absent::Is("true"), "True while trenches of the stage that will be filled again stand open.", "false";
    walls: WallsWord, Absent::Is("Built"), "How far the walls of the stage are: `Trench` while their base trenches are dug and stand empty, `Base` while the base course lies in them, `Built` when they stand.", "Trench";
});

impl Check for AsBuilt {}
impl Check for Tolerances {}
impl Check for Visit {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.walls != Walls::Built && self.stage.is_none() {
            cx.problem(
                fields.span("walls"),
                "this visit tells how far walls are, and not of which stage".to_string(),
                "give the `stage` that builds them",
            );
        }
        let shots = self.points.len() + self.setups.iter().map(|s| s.sights.len()).sum::<usize>();
        if shots == 0 {
            cx.problem(
                fields.whole(),
                match &self.stage {
                    Some(stage) => format!("the visit for stage \"{stage}\" has no shots"),
                    None => "this visit has no shots".to_string(),
                },
                "give its `setups` with a backsight and sights, or `points`",
            );
        }
    }
}

/// Reads a visit in a scope of its own.
pub struct VisitReader;

impl Read for VisitReader {
    type Out = Visit;

    fn says() -> String {
        Visit::says()
    }

    fn form() -> Form {
        Visit::form()
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Visit> {
        let mut outer = std::mem::take(&mut cx.seen);
        cx.seen = scope(&outer);
        let visit = Visit::read(node, cx);
        let inner = std::mem::take(&mut cx.seen);
        outer.visits.push(Seen {
            span: node.span.clone(),
            ..inner
        });
        cx.seen = outer;
        visit
    }
}

/// What a visit knows before its own shots.
fn scope(outer: &Seen) -> Seen {
    let mut names: Vec<Named> = outer
        .names
        .iter()
        .filter(|n| {
            matches!(
                n.space,
                Space::Benchmark | Space::Baseline | Space::Peg | Space::Stage
            )
        })
        .map(|n| Named {
            space: n.space,
            name: n.name.clone(),
            span: n.span.clone(),
        })
        .collect();
    // A spike that the field book turned on is as good as a benchmark.
    for sight in &outer.sights {
        if outer.turning.contains(&sight.name)
            && !names
                .iter()
                .any(|n| n.space == Space::Benchmark && n.name == sight.name)
        {
            names.push(Named {
                space: Space::Benchmark,
                name: sight.name.clone(),
                span: sight.span.clone(),
            });
        }
    }
    Seen {
        inherited: names.len(),
        names,
        places: outer.places.clone(),
        benchmarks: outer.benchmarks.clone(),
        baselines: outer.baselines.clone(),
        rod_length: outer.rod_length,
        ..Seen::default()
    }
}
