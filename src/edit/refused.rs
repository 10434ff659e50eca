//! Why an edit is not made.

use std::fmt;

use crate::edit::address::Address;

/// Why an edit is not made. The text is as it was.
#[derive(Debug, Clone, PartialEq)]
pub enum Refused {
    /// Nothing can stand at this address.
    NotThere(Address),
    /// The text is no RON at all: it can only be mended as text.
    Unreadable { what: String, line: usize },
    /// This field must be given.
    MustBeGiven(String),
    /// The list needs so many.
    TooFew { what: String, least: usize },
    /// An item, a place in a list.
    NoSuchItem { what: String, has: usize },
    /// Another thing has this name.
    NameTaken { name: String, kind: &'static str },
    /// Not a name at all: why.
    NotAName(String),
    /// This thing has no name that others refer to.
    HasNoName(String),
    /// Others lean on it: who.
    StillUsed { name: String, by: Vec<String> },
    /// The new value cannot be written: why.
    NotAValue { text: String, why: String },
    /// This is no place that can be moved.
    NotAPlace(String),
    /// There is nothing that it could belong to.
    NeedsFirst { what: String, first: String },
    /// Not a finite number of metres, or larger than a yard can be.
    NotANumber(f64),
    /// The job would be broken by it: what is wrong, and what is allowed.
    Breaks { what: String, allowed: String },
    /// Longer than a job file may be, bytes.
    TooLong(usize),
    /// Sides that differ are counted along the outline, and would change places.
    OrderMatters(String),
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refused::NotThere(address) => write!(f, "there is no `{address}` in this job"),
            Refused::Unreadable { what, line } => {
                write!(
                    f,
                    "the text breaks off at line {line}: {what}; mend it as text first"
                )
            }
            Refused::MustBeGiven(what) => {
                write!(f, "{what} must be given: it can be changed, not left out")
            }
            Refused::TooFew { what, least } => {
                write!(
                    f,
                    "{what} needs at least {least}: delete the whole of it instead"
                )
            }
            Refused::NoSuchItem { what, has } => write!(f, "{what} has only {has}"),
            Refused::NameTaken { name, kind } => {
                write!(f, "a {kind} is called \"{name}\" already; every name once")
            }
            Refused::NotAName(why) => write!(f, "not a name: {why}"),
            Refused::HasNoName(what) => write!(f, "{what} has no name"),
            Refused::StillUsed { name, by } => write!(
                f,
                "\"{name}\" is still used by {}; change that first",
                by.join(", ")
            ),
            Refused::NotAValue { text, why } => write!(f, "`{text}` cannot be written: {why}"),
            Refused::NotAPlace(what) => write!(f, "{what} is no place that can be moved"),
            Refused::NeedsFirst { what, first } => {
                write!(f, "{what} needs {first}: add that first")
            }
            Refused::NotANumber(value) => {
                write!(
                    f,
                    "{value} m is no length that a yard can have (up to 100 km)"
                )
            }
            Refused::Breaks { what, allowed } => write!(f, "{what}; {allowed}"),
            Refused::TooLong(bytes) => write!(
                f,
                "the job would be {} MB long; a job file is at most {} MB",
                bytes >> 20,
                crate::job::LARGEST >> 20
            ),
            Refused::OrderMatters(what) => write!(
                f,
                "{what} has `edge_batters`, which count along its outline: clear them before changing the order of its corners"
            ),
        }
    }
}

impl std::error::Error for Refused {}
