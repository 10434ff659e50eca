//! What the readers note on their way for the checks that need the whole file: names, references,
//! readings, lines. Metres.

use rustc_hash::{FxHashMap, FxHashSet};

use crate::job::decode::{Context, Read};
use crate::job::form::Form;
use crate::job::tree::{Kind, Node, Span};
use crate::job::{At, Place};

/// What a name is the name of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Space {
    Benchmark,
    Baseline,
    Peg,
    Point,
    Setup,
    StandingWall,
    NewWall,
    Basin,
    /// Cascades, pads, berms, trenches, ramps.
    Feature,
    Pit,
    Pool,
    Pile,
    Service,
    Stage,
}

const SPACES: [Space; 14] = [
    Space::Benchmark,
    Space::Baseline,
    Space::Peg,
    Space::Point,
    Space::Setup,
    Space::StandingWall,
    Space::NewWall,
    Space::Basin,
    Space::Feature,
    Space::Pit,
    Space::Pool,
    Space::Pile,
    Space::Service,
    Space::Stage,
];

/// What a reference must find.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Want {
    Place,
    Elevation,
    Baseline,
    Wall,
    Basin,
    Work,
    TakeBack,
    Stage,
    /// A pit or a basin that a pump stands in.
    Sump,
}

const WANTS: [Want; 9] = [
    Want::Place,
    Want::Elevation,
    Want::Baseline,
    Want::Wall,
    Want::Basin,
    Want::Work,
    Want::TakeBack,
    Want::Stage,
    Want::Sump,
];

#[derive(Debug)]
pub struct Named {
    pub space: Space,
    pub name: String,
    pub span: Span,
}

#[derive(Debug)]
pub struct Reference {
    pub want: Want,
    pub name: String,
    pub span: Span,
    pub field: &'static str,
}

#[derive(Debug)]
pub struct Sighted {
    pub name: String,
    pub span: Span,
    pub setup: usize,
    pub backsight: bool,
    /// Unknown (`None`) if the sight could not be read whole.
    pub placed: Option<bool>,
}

#[derive(Debug)]
pub struct Tie {
    pub a: String,
    pub from_a: f64,
    pub b: String,
    pub from_b: f64,
    pub span: Span,
}

#[derive(Debug)]
pub struct Line {
    pub points: Vec<At>,
    pub closed: bool,
    pub record: &'static str,
    pub field: &'static str,
    pub span: Span,
}

#[derive(Debug, Default)]
pub struct StageSeen {
    pub works: Vec<(String, Span)>,
    pub take_back: Vec<(String, Span)>,
}

#[derive(Debug, Default)]
pub struct Seen {
    pub names: Vec<Named>,
    pub references: Vec<Reference>,
    pub sights: Vec<Sighted>,
    pub places: Vec<(String, Place)>,
    pub placed_setups: Vec<(String, Span)>,
    /// Benchmarks that were read whole; of the others nobody knows whether they have a place.
    pub benchmarks: FxHashSet<String>,
    pub baselines: FxHashMap<String, [[f64; 2]; 2]>,
    pub ties: Vec<Tie>,
    pub lines: Vec<Line>,
    pub rods: Vec<(f64, Span)>,
    pub rod_length: Option<f64>,
    pub stages: Vec<StageSeen>,
    /// How many setups have been opened.
    pub setups: usize,
    /// Whether the sight being read is a backsight.
    pub backsight: bool,
    /// Turning points.
    pub turning: FxHashSet<String>,
    /// What was seen in each as-built visit, which has names of its own.
    pub visits: Vec<Seen>,
    /// Of a visit: how many of its names are those of the field book.
    pub inherited: usize,
    /// Of a visit: where it stands.
    pub span: Span,
}

impl Seen {
    pub fn place(&mut self, name: &str, place: &Place) {
        self.places.push((name.to_string(), place.clone()));
    }

    pub fn place_setup(&mut self, name: &str, place: &Place, span: Span) {
        self.placed_setups.push((name.to_string(), span));
        self.place(name, place);
    }

    pub fn sight(&mut self, name: &str, span: Span) {
        self.sights.push(Sighted {
            name: name.to_string(),
            span,
            setup: self.setups,
            backsight: self.backsight,
            placed: None,
        });
    }

    /// The sight noted last has been read whole.
    pub fn sighted(&mut self, place: Option<&Place>) {
        if let Some(last) = self.sights.last_mut() {
            last.placed = Some(place.is_some());
            if let Some(place) = place {
                self.places.push((last.name.clone(), place.clone()));
            }
        }
    }
}

/// A name in quotation marks.
pub fn name(node: &Node, cx: &mut Context) -> Option<String> {
    match &node.kind {
        Kind::Text(text) if text.trim().is_empty() => cx.wrong(node, "a name that is not empty"),
        Kind::Text(text) if text.chars().count() > 200 => {
            cx.wrong(node, "a name of up to 200 characters")
        }
        Kind::Text(text) if text.trim() != text => {
            cx.wrong(node, "a name without spaces before or after it")
        }
        Kind::Text(text) => Some(text.to_string()),
        Kind::Number(n) => cx.wrong(node, format!("a name in quotation marks, such as \"{n}\"")),
        _ => cx.wrong(node, "a name in quotation marks"),
    }
}

/// The name of something new.
pub struct Name<const SPACE: u8>;

impl<const SPACE: u8> Read for Name<SPACE> {
    type Out = String;

    fn says() -> String {
        "name".to_string()
    }

    fn form() -> Form {
        Form::Name(
            SPACES
                .get(SPACE as usize)
                .copied()
                .unwrap_or(Space::Feature),
        )
    }

    fn read(node: &Node, cx: &mut Context) -> Option<String> {
        let name = name(node, cx)?;
        if let Some(&space) = SPACES.get(SPACE as usize) {
            cx.seen.names.push(Named {
                space,
                name: name.clone(),
                span: node.span.clone(),
            });
        }
        Some(name)
    }
}

/// The name of something that is given elsewhere in the file.
pub struct Refers<const WANT: u8>;

impl<const WANT: u8> Read for Refers<WANT> {
    type Out = String;

    fn says() -> String {
        match WANTS.get(WANT as usize) {
            Some(Want::Place | Want::Elevation) => "name of a point",
            Some(Want::Baseline) => "name of a baseline",
            Some(Want::Wall) => "name of a wall",
            Some(Want::Basin) => "name of a basin",
            Some(Want::Stage) => "name of a stage",
            Some(Want::Sump) => "name of a pit or basin",
            _ => "name of a feature",
        }
        .to_string()
    }

    fn form() -> Form {
        Form::Refers(WANTS.get(WANT as usize).copied().unwrap_or(Want::Work))
    }

    fn read(node: &Node, cx: &mut Context) -> Option<String> {
        let name = name(node, cx)?;
        if let Some(&want) = WANTS.get(WANT as usize) {
            cx.seen.references.push(Reference {
                want,
                name: name.clone(),
                span: node.span.clone(),
                field: cx.field,
            });
            if let Some(stage) = cx.seen.stages.last_mut() {
                match want {
                    Want::Work => stage.works.push((name.clone(), node.span.clone())),
                    Want::TakeBack => stage.take_back.push((name.clone(), node.span.clone())),
                    _ => {}
                }
            }
        }
        Some(name)
    }
}
