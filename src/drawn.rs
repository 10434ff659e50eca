//! Shots on the ground and the lines drawn through them, about an origin of their own so that far-off
//! coordinates cost no digits: what [`crate::terrain::ground::build`] is given. Metres.

use rustc_hash::FxHashMap;

use crate::findings::{Finding, Severity};
use crate::job::{At, FieldBook};
use crate::survey::Reduced;
use crate::terrain::ground::{Corner, GroundSpot, Outline};
use crate::terrain::predicates::P2;

pub struct Drawn<'a> {
    survey: &'a Reduced,
    book: &'a FieldBook,
    pub origin: P2,
    pub spots: Vec<GroundSpot<'a>>,
    by_name: FxHashMap<&'a str, usize>,
}

/// Near the first shot on the ground.
pub fn origin(survey: &Reduced) -> P2 {
    let first = survey.spots.iter().find(|s| s.ground);
    first.map_or([0.0, 0.0], |s| [s.x.round(), s.y.round()])
}

impl<'a> Drawn<'a> {
    pub fn new(survey: &'a Reduced, book: &'a FieldBook) -> Self {
        let origin = origin(survey);
        let spots: Vec<GroundSpot> = survey
            .spots
            .iter()
            .filter(|s| s.ground)
            .map(|s| GroundSpot {
                name: &s.name,
                at: [s.x - origin[0], s.y - origin[1], s.z],
            })
            .collect();
        let named = spots.iter().enumerate().filter(|(_, s)| !s.name.is_empty());
        let by_name = named.map(|(i, s)| (s.name, i)).collect();
        Drawn {
            survey,
            book,
            origin,
            spots,
            by_name,
        }
    }

    fn corner(&self, at: &At) -> Result<Corner, String> {
        if let At::Shot(name) = at
            && let Some(&i) = self.by_name.get(name.as_str())
        {
            return Ok(Corner::Spot(i));
        }
        let p = self.survey.locate(at, self.book)?;
        Ok(Corner::Place([
            p[0] - self.origin[0],
            p[1] - self.origin[1],
        ]))
    }

    /// A line through these points; a finding where one of them has no place. `prefix` goes before
    /// its name there.
    pub fn outline(
        &self,
        prefix: &str,
        name: String,
        along: &[At],
        findings: &mut Vec<Finding>,
    ) -> Option<Outline> {
        match along.iter().map(|at| self.corner(at)).collect() {
            Ok(corners) => Some(Outline { name, corners }),
            Err(why) => {
                let why: String = why;
                findings.push(Finding::new(
                    Severity::Error,
                    format!("{prefix}{name}"),
                    format!("is left out: {why}"),
                    "use the name of a placed shot or peg, or give its place",
                ));
                None
            }
        }
    }

    /// Its corners in plan.
    pub fn plan(&self, line: &Outline) -> Vec<P2> {
        let at = |c: &Corner| match *c {
            Corner::Spot(i) => [self.spots[i].at[0], self.spots[i].at[1]],
            Corner::Place(p) => p,
        };
        line.corners.iter().map(at).collect()
    }
}
