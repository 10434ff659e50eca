//! What kind of value a field takes, for whoever lets a person fill it in: the same declarations
//! that read the file say it, so a new field is known here by itself.

use crate::job::seen::{Space, Want};

/// The kind of one value.
#[derive(Debug, Clone, PartialEq)]
pub enum Form {
    /// Free text.
    Text,
    /// The name of the thing itself, by which others refer to it.
    Name(Space),
    /// The name of the point that the rod stood on: a new shot, or one known already.
    Shot,
    /// The name of something that is given elsewhere.
    Refers(Want),
    YesNo,
    /// One of these words.
    Words(&'static [&'static str]),
    /// A length; `least` is 0 if it may not be negative.
    Length {
        least: Option<f64>,
        /// Zero itself is refused as well.
        above: bool,
    },
    /// An elevation: a length, or `Shot("…")`.
    Elevation,
    /// An elevation or `BelowCap`.
    Level,
    /// An elevation or `Above(length)`.
    Crest,
    /// Run over rise.
    Batter,
    /// Rise over run.
    Gradient,
    Volume,
    Weight,
    Density,
    /// Volume in a time, such as gal/h.
    Flow,
    /// Flow for each width of a lip.
    LipFlow,
    /// Height of rain in a time.
    Rain,
    Speed,
    /// A plain number within these bounds.
    Number {
        least: f64,
        most: f64,
    },
    /// How something was placed: `(x, y)`, `Offset`, `Tie`, `Ray` or `Grid`.
    Place,
    /// `(x, y)` and nothing else.
    Corner,
    /// The name of a point, or a place.
    Point,
    /// `PerRootKm(length)`, `PerSetup(length)` or `Total(length)`.
    Allowed,
    /// A word for a soil, or a `SoilClass`.
    SoilClass,
    /// `(edge, batter)`.
    EdgeBatter,
    /// `(percent, point)`.
    Fall,
    /// `(flow, head)`.
    CurvePoint,
    /// The record of this label in the tables.
    Record(&'static str),
    List {
        of: Box<Form>,
        /// So many at least.
        least: usize,
        /// May be empty in spite of that.
        or_none: bool,
        /// The last point is joined to the first.
        closed: bool,
    },
}

impl Form {
    /// A list of at least `least`.
    pub fn list(of: Form, least: usize) -> Form {
        Form::List {
            of: Box::new(of),
            least,
            or_none: false,
            closed: false,
        }
    }
}
