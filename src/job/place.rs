//! Readers of places in plan and of elevations.

use crate::job::decode::{Check, Context, Fields, List, Read, record, words};
use crate::job::form::Form;
use crate::job::quantity::{ANY, Count, Degrees, Distance, Extent, Length};
use crate::job::seen::{Line, Refers, Tie, Want};
use crate::job::tree::{Kind, Node};
use crate::job::{At, Crest, Height, Level, Place, Side};
use crate::units;

words!(SideWord -> Side { Left => Side::Left, Right => Side::Right });

const PLACES: &str = "(x, y), Offset(baseline, along, offset), Tie(a, from_a, b, from_b, side), Ray(at, toward, angle, distance) or Grid(baseline, spacing, column, row)";

pub type ShotRef = Refers<{ Want::Place as u8 }>;
pub type BaselineRef = Refers<{ Want::Baseline as u8 }>;
pub type WallRef = Refers<{ Want::Wall as u8 }>;
pub type ElevationRef = Refers<{ Want::Elevation as u8 }>;

pub struct Xy {
    x: f64,
    y: f64,
}

record!(Xy as "Xy": "A place by coordinates: x to the right, y up the page. The name may be left out: `(3.5, \"12'-6\")`." {
    x: Length<ANY>, Absent::Required, "To the right.", "3.5";
    y: Length<ANY>, Absent::Required, "Up the page.", "\"12'-6\"";
});

pub struct Offset {
    baseline: String,
    along: f64,
    offset: f64,
}

record!(Offset as "Offset": "A place by a taped line: so far along it, so far off it. `Offset(\"A\", 12.5, -3)`." {
    baseline: BaselineRef, Absent::Required, "Name of the baseline.", "\"A\"";
    along: Length<ANY>, Absent::Required, "Distance along it from its `from` end.", "12.5";
    offset: Length<ANY>, Absent::Required, "Distance square off it, looking along it: to the right positive, to the left negative.", "\"-3'-6\"";
});

pub struct TieFields {
    a: String,
    from_a: f64,
    b: String,
    from_b: f64,
    side: Side,
}

record!(TieFields as "Tie": "A place by two tapes from two named points. `Tie(\"peg 1\", 14.2, \"peg 2\", 9.75, Left)`." {
    a: ShotRef, Absent::Required, "First point: a peg, benchmark or shot that has a place.", "\"peg 1\"";
    from_a: Distance, Absent::Required, "Level taped distance from it.", "14.2";
    b: ShotRef, Absent::Required, "Second point.", "\"peg 2\"";
    from_b: Distance, Absent::Required, "Level taped distance from it.", "9.75";
    side: SideWord, Absent::Required, "Side on which the place lies, looking from `a` to `b`.", "Left";
});

pub struct Ray {
    at: String,
    toward: String,
    angle: f64,
    distance: f64,
}

record!(Ray as "Ray": "A place by an angle and a distance. `Ray(\"peg 1\", \"BM\", 37.5, 21)`." {
    at: ShotRef, Absent::Required, "Where the angle is turned: a peg, benchmark or shot that has a place, or a setup that has one.", "\"peg 1\"";
    toward: ShotRef, Absent::Required, "The point that is zero.", "\"BM\"";
    angle: Degrees, Absent::Required, "Clockwise from there, in decimal degrees.", "37.5";
    distance: Distance, Absent::Required, "Level distance.", "21";
});

pub struct Grid {
    baseline: String,
    spacing: f64,
    column: f64,
    row: f64,
}

record!(Grid as "Grid": "A place on a grid along a baseline: `column` × `spacing` along it and `row` × `spacing` to the right of it. `Grid(\"A\", 5, 2, -1)`." {
    baseline: BaselineRef, Absent::Required, "Name of the baseline.", "\"A\"";
    spacing: Extent, Absent::Required, "Size of one square.", "5";
    column: Count, Absent::Required, "Squares along; may be a fraction.", "2";
    row: Count, Absent::Required, "Squares to the right; to the left negative.", "-1";
});

impl Check for Xy {}
impl Check for Offset {}
impl Check for Ray {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.at == self.toward {
            cx.problem(
                fields.span("toward"),
                format!(
                    "this Ray is turned at and from the same point \"{}\"",
                    self.at
                ),
                "`toward` must be another point than `at`",
            );
        }
    }
}
impl Check for Grid {}
impl Check for TieFields {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        cx.seen.ties.push(Tie {
            a: self.a.clone(),
            from_a: self.from_a,
            b: self.b.clone(),
            from_b: self.from_b,
            span: fields.whole(),
        });
    }
}

/// How a point was placed.
pub struct PlaceReader;

impl Read for PlaceReader {
    type Out = Place;

    fn says() -> String {
        "place".to_string()
    }

    fn form() -> Form {
        Form::Place
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Place> {
        let name = match &node.kind {
            Kind::Tuple { name, .. } | Kind::Record { name, .. } => name.unwrap_or("Xy"),
            Kind::Text(_) => {
                return cx.wrong(node, format!("a place that was measured: {PLACES}"));
            }
            _ => return cx.wrong(node, PLACES),
        };
        match name {
            "Xy" => Xy::read(node, cx).map(|p| Place::Xy(p.x, p.y)),
            "Offset" => Offset::read(node, cx).map(|p| Place::Offset {
                baseline: p.baseline,
                along: p.along,
                offset: p.offset,
            }),
            "Tie" => TieFields::read(node, cx).map(|p| Place::Tie {
                a: p.a,
                from_a: p.from_a,
                b: p.b,
                from_b: p.from_b,
                side: p.side,
            }),
            "Ray" => Ray::read(node, cx).map(|p| Place::Ray {
                at: p.at,
                toward: p.toward,
                angle: p.angle,
                distance: p.distance,
            }),
            "Grid" => Grid::read(node, cx).map(|p| Place::Grid {
                baseline: p.baseline,
                spacing: p.spacing,
                column: p.column,
                row: p.row,
            }),
            _ => cx.wrong(node, PLACES),
        }
    }
}

/// Coordinates that must be literal: `(x, y)`.
pub struct Corner;

impl Read for Corner {
    type Out = [f64; 2];

    fn says() -> String {
        "`(x, y)`".to_string()
    }

    fn form() -> Form {
        Form::Corner
    }

    fn read(node: &Node, cx: &mut Context) -> Option<[f64; 2]> {
        match &node.kind {
            Kind::Tuple {
                name: None | Some("Xy"),
                ..
            }
            | Kind::Record {
                name: None | Some("Xy"),
                ..
            } => Xy::read(node, cx).map(|p| [p.x, p.y]),
            _ => cx.wrong(node, "coordinates (x, y)"),
        }
    }
}

/// A point in plan: a shot by name, or a placing of its own.
pub struct AtReader;

impl Read for AtReader {
    type Out = At;

    fn says() -> String {
        "point".to_string()
    }

    fn form() -> Form {
        Form::Point
    }

    fn read(node: &Node, cx: &mut Context) -> Option<At> {
        match &node.kind {
            Kind::Text(_) => ShotRef::read(node, cx).map(At::Shot),
            Kind::Tuple { .. } | Kind::Record { .. } => PlaceReader::read(node, cx).map(At::Placed),
            _ => cx.wrong(
                node,
                format!("a point: the name of a shot in quotation marks, or a place: {PLACES}"),
            ),
        }
    }
}

/// Points joined by a line; `CLOSED` joins the last to the first.
pub struct Points<const CLOSED: bool>;
pub type Path = Points<false>;
pub type Ring = Points<true>;

impl<const CLOSED: bool> Read for Points<CLOSED> {
    type Out = Vec<At>;

    fn says() -> String {
        if CLOSED {
            "list of at least 3: point".to_string()
        } else {
            "list of at least 2: point".to_string()
        }
    }

    fn form() -> Form {
        Form::List {
            of: Box::new(Form::Point),
            least: if CLOSED { 3 } else { 2 },
            or_none: false,
            closed: CLOSED,
        }
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Vec<At>> {
        let mut points = if CLOSED {
            List::<AtReader, 3>::read(node, cx)?
        } else {
            List::<AtReader, 2>::read(node, cx)?
        };
        // An outline closes by itself; people write the first point again all the same.
        if CLOSED && points.len() > 3 && points.first() == points.last() {
            points.pop();
        }
        let Kind::List(items) = &node.kind else {
            return Some(points);
        };
        for (i, pair) in points.windows(2).enumerate() {
            if pair[0] == pair[1] {
                let span = items
                    .get(i + 1)
                    .map_or(node.span.clone(), |n| n.span.clone());
                let what = format!("`{}`: this point repeats the one before it", cx.field);
                cx.problem(span, what, "each point once, in order");
                return None;
            }
        }
        cx.seen.lines.push(Line {
            points: points.clone(),
            closed: CLOSED,
            record: cx.record,
            field: cx.field,
            span: node.span.clone(),
        });
        Some(points)
    }
}

/// An outline that may be left out altogether.
pub struct RingOrNone;

impl Read for RingOrNone {
    type Out = Vec<At>;

    fn says() -> String {
        Ring::says()
    }

    fn form() -> Form {
        Form::List {
            of: Box::new(Form::Point),
            least: 3,
            or_none: true,
            closed: true,
        }
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Vec<At>> {
        match &node.kind {
            Kind::List(items) if items.is_empty() => Some(Vec::new()),
            _ => Ring::read(node, cx),
        }
    }
}

const HEIGHTS: &str = "an elevation as a length, or Shot(\"…\") for that of a shot";

/// The one value in `Name(value)`.
pub fn only<'n, 'a>(node: &'n Node<'a>, wanted: &str) -> Option<&'n Node<'a>> {
    match &node.kind {
        Kind::Tuple {
            name: Some(name),
            items,
        } if *name == wanted && items.len() == 1 => items.first(),
        _ => None,
    }
}

pub struct HeightReader;

impl Read for HeightReader {
    type Out = Height;

    fn says() -> String {
        "elevation".to_string()
    }

    fn form() -> Form {
        Form::Elevation
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Height> {
        if let Some(inner) = only(node, "Shot") {
            return ElevationRef::read(inner, cx).map(Height::Shot);
        }
        match &node.kind {
            // "31" might be a shot's name or an elevation: nobody may have to guess.
            Kind::Text(text) if units::lacks_unit(text) => cx.wrong(
                node,
                format!("{HEIGHTS}; a bare elevation is written without quotation marks"),
            ),
            Kind::Number(_) | Kind::Text(_) => Length::<ANY>::read(node, cx).map(Height::Elevation),
            _ => cx.wrong(node, HEIGHTS),
        }
    }
}

pub struct BelowCap {
    wall: String,
    by: f64,
}

record!(BelowCap as "BelowCap": "A water level taken from a wall: `BelowCap(\"north wall\", \"4 in\")`." {
    wall: WallRef, Absent::Required, "Name of a standing or new wall.", "\"north wall\"";
    by: Length<ANY>, Absent::Is("\"4 in\""), "How far below its cap. Default: common practice, no source.", "\"4 in\"";
});

impl Check for BelowCap {}

pub struct LevelReader;

impl Read for LevelReader {
    type Out = Level;

    fn says() -> String {
        "elevation or `BelowCap`".to_string()
    }

    fn form() -> Form {
        Form::Level
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Level> {
        match &node.kind {
            Kind::Tuple {
                name: Some("BelowCap"),
                ..
            }
            | Kind::Record {
                name: Some("BelowCap"),
                ..
            } => BelowCap::read(node, cx).map(|b| Level::BelowCap {
                wall: b.wall,
                by: b.by,
            }),
            Kind::Number(_) | Kind::Text(_) => HeightReader::read(node, cx).map(Level::At),
            _ if only(node, "Shot").is_some() => HeightReader::read(node, cx).map(Level::At),
            _ => cx.wrong(node, format!("{HEIGHTS}, or BelowCap(\"wall\", \"4 in\")")),
        }
    }
}

pub struct CrestReader;

impl Read for CrestReader {
    type Out = Crest;

    fn says() -> String {
        "elevation or `Above(length)`".to_string()
    }

    fn form() -> Form {
        Form::Crest
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Crest> {
        if let Some(inner) = only(node, "Above") {
            return Extent::read(inner, cx).map(Crest::Above);
        }
        match &node.kind {
            Kind::Number(_) | Kind::Text(_) => HeightReader::read(node, cx).map(Crest::At),
            _ if only(node, "Shot").is_some() => HeightReader::read(node, cx).map(Crest::At),
            _ => cx.wrong(
                node,
                format!("{HEIGHTS}, or Above(\"18 in\") over the ground along its line"),
            ),
        }
    }
}
