//! Places for piles of soil.

use crate::job::At;
use crate::job::Side;
use crate::job::decode::{Check, Context, Fields, List, Maybe, record, words};
use crate::job::place::{AtReader, SideWord};
use crate::job::seen::{Name, Space};
use crate::plan::SoilKind;

/// Where one kind of soil is piled up.
#[derive(Debug, Clone, PartialEq)]
pub struct Pile {
    pub name: String,
    pub of: SoilKind,
    /// One point: a cone about it. Two: a ridge from one to the other.
    pub along: Vec<At>,
    /// The soil leans on the line and lies on this side of it.
    pub against: Option<Side>,
}

words!(SoilWord -> SoilKind {
    Subsoil => SoilKind::Subsoil,
    Topsoil => SoilKind::Topsoil,
    Unfit => SoilKind::Unfit,
});

record!(Pile as "Pile": "A place for a pile. Its size comes from the ledger, its slope from the soil's angle of repose, its height from the ground it lies on, as that is when its stage ends." {
    name: Name<{ Space::Pile as u8 }>, Absent::Required, "Its name.", "\"spoil heap\"";
    of: SoilWord, Absent::Is("Subsoil"), "What is piled there: `Subsoil`, `Topsoil` or `Unfit`. One pile for each.", "Topsoil";
    along: List<AtReader, 1>, Absent::Required, "One point: a cone about it. Two points: a ridge between them.", "[(70, 20), (80, 24)]";
    against: Maybe<SideWord>, Absent::None, "Side of the line of its two points, walking along it, on which the soil lies; the line itself is a limit that it leans on.", "Left";
});

impl Check for Pile {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.along.len() > 2 {
            cx.problem(
                fields.span("along"),
                format!("pile \"{}\" has {} points", self.name, self.along.len()),
                "one point for a cone, or the two ends of a ridge",
            );
        }
        if self.against.is_some() && self.along.len() < 2 {
            cx.problem(
                fields.span("against"),
                format!(
                    "pile \"{}\" leans on a line, and has only one point",
                    self.name
                ),
                "give the two ends of the line that it leans on",
            );
        }
    }
}
