//! What a person can do to a job.

use crate::edit::address::Address;
use crate::edit::template::New;

/// One command. Coordinates and lengths are metres in the job's own frame.
#[derive(Debug, Clone, PartialEq)]
pub enum Edit {
    /// A cell as typed, without quotation marks: `5'-3 1/2"`, `pond`, `Offset("A", 3, -4)`. Placings
    /// may be typed as they are called out: `3.5, 12` (coordinates), `A, 3, -4` (baseline, along,
    /// offset), `P1, 14.2, P2, 9.75, L` (two tapes), `P3, P2, 37.5, 21` (at, toward, angle, distance).
    /// Whatever it is, it is kept; what is wrong with it is then a problem of that field. Empty: the
    /// field goes, if it may be left out. A typed name is a [`Edit::Rename`].
    Type { at: Address, text: String },
    /// A value as a job file writes it (RON): `"4 in"` with its quotation marks, `BelowCap("wall")`.
    Write { at: Address, value: String },
    /// An optional field goes back to its default.
    Clear { at: Address },
    /// A new item of a list as number `index` (RON); `None`: an empty row to be typed into.
    Insert {
        list: Address,
        index: usize,
        item: Option<String>,
    },
    /// A new corner or point of a line as number `index`.
    AddPoint {
        list: Address,
        index: usize,
        at: [f64; 2],
    },
    /// An item of a list goes, or an optional record. Refused while something else leans on it;
    /// the stages that name it let go of it.
    Delete { at: Address },
    /// A second item like this one, after it, with a name of its own.
    Copy { at: Address },
    /// An item becomes number `to` of its list.
    Shift { at: Address, to: usize },
    /// A new name, here and wherever it is referred to. `at` is the thing or its name.
    Rename { at: Address, name: String },
    /// A place (corner, point, peg, placing, known point) goes to these coordinates. What was taped
    /// from a baseline stays taped from it; a corner given by a shot becomes coordinates.
    Move { at: Address, to: [f64; 2] },
    /// Everything placed inside a thing moves by so much.
    MoveBy { at: Address, by: [f64; 2] },
    /// A length or an elevation, written in the style of what stands there.
    Length { at: Address, metres: f64 },
    /// A whole new thing at a place, with the trade's usual measures.
    Add {
        what: New,
        at: [f64; 2],
        /// Of the ground there, or of the water.
        elevation: f64,
    },
    /// A new part at the end of a list inside a thing, with the trade's usual measures: a shelf, a
    /// layer of lining, a pit, a pool or a pump; of any other list an empty row. `at`: where somebody
    /// points.
    AddPart { list: Address, at: [f64; 2] },
    /// Several edits that are one, each made in what the ones before it left.
    All { label: String, edits: Vec<Edit> },
    /// The whole text, as a text editor leaves it.
    Text(String),
}

impl Edit {
    /// [`Edit::Type`].
    pub fn typed(at: &Address, text: impl Into<String>) -> Edit {
        Edit::Type {
            at: at.clone(),
            text: text.into(),
        }
    }
}
