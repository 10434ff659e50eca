//! The ground as shot in a visit: its shots and breaklines triangulated, within its outline or the
//! hull of the shots. Metres.

use super::place;
use crate::findings::{Finding, Severity};
use crate::job::{At, FieldBook, Unit, Visit};
use crate::survey::Reduced;
use crate::terrain::Surface;
use crate::terrain::ground::{self, Corner, GroundSpot, Outline};

pub fn of(
    reduced: &Reduced,
    book: &FieldBook,
    visit: &Visit,
    unit: Unit,
    findings: &mut Vec<Finding>,
) -> Option<Surface> {
    let on_ground: Vec<_> = reduced.spots.iter().filter(|s| s.ground).collect();
    let first = on_ground.first()?;
    // Near an origin of its own, so that far-off coordinates cost no digits.
    let origin = [first.x.round(), first.y.round()];
    if on_ground.len() < 3 {
        findings.push(Finding::new(
            Severity::Note,
            place(visit),
            format!(
                "{} shot{} on the ground make no surface: no volumes",
                on_ground.len(),
                if on_ground.len() == 1 { "" } else { "s" }
            ),
            "shoot at least three, better the edges of floor and shelves",
        ));
        return None;
    }
    let spots: Vec<GroundSpot> = on_ground
        .iter()
        .map(|s| GroundSpot {
            name: &s.name,
            at: [s.x - origin[0], s.y - origin[1], s.z],
        })
        .collect();
    let corner = |at: &At| -> Result<Corner, String> {
        if let At::Shot(name) = at
            && let Some(i) = spots.iter().position(|s| s.name == name)
        {
            return Ok(Corner::Spot(i));
        }
        let p = reduced.locate(at, book)?;
        Ok(Corner::Place([p[0] - origin[0], p[1] - origin[1]]))
    };
    let mut outline = |name: String, along: &[At]| -> Option<Outline> {
        match along.iter().map(&corner).collect::<Result<Vec<_>, _>>() {
            Ok(corners) => Some(Outline { name, corners }),
            Err(why) => {
                findings.push(Finding::new(
                    Severity::Error,
                    format!("{}, {name}", place(visit)),
                    format!("is left out: {why}"),
                    "use the name of a placed shot or peg, or give its place",
                ));
                None
            }
        }
    };
    let lines: Vec<Outline> = visit
        .breaklines
        .iter()
        .filter_map(|l| outline(l.name.clone(), &l.along))
        .collect();
    let edge = if visit.outline.is_empty() {
        None
    } else {
        outline("outline".into(), &visit.outline)
    };
    let made = ground::build(&spots, &lines, edge.as_ref(), &[], unit);
    findings.extend(made.findings.into_iter().map(|mut f| {
        f.place = format!("{}, {}", place(visit), f.place);
        f.at = f.at.map(|[x, y, z]| [x + origin[0], y + origin[1], z]);
        f
    }));
    let mut surface = made.surface;
    for p in &mut surface.points {
        p[0] += origin[0];
        p[1] += origin[1];
    }
    (!surface.triangles.is_empty()).then_some(surface)
}
