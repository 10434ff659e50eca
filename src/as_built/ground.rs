//! The ground as shot in a visit: its shots and breaklines triangulated, within its outline or the
//! hull of the shots. Metres.

use super::place;
use crate::drawn::Drawn;
use crate::findings::{Finding, Severity};
use crate::job::{At, FieldBook, Unit, Visit};
use crate::survey::Reduced;
use crate::terrain::Surface;
use crate::terrain::ground::{self, Outline};

pub fn of(
    reduced: &Reduced,
    book: &FieldBook,
    visit: &Visit,
    unit: Unit,
    findings: &mut Vec<Finding>,
) -> Option<Surface> {
    let count = reduced.spots.iter().filter(|s| s.ground).count();
    if count == 0 {
        return None;
    }
    if count < 3 {
        findings.push(Finding::new(
            Severity::Note,
            place(visit),
            format!(
                "{} shot{} on the ground make no surface: no volumes",
                count,
                if count == 1 { "" } else { "s" }
            ),
            "shoot at least three, better the edges of floor and shelves",
        ));
        return None;
    }
    let drawn = Drawn::new(reduced, book);
    let prefix = format!("{}, ", place(visit));
    let mut outline = |name: String, along: &[At]| drawn.outline(&prefix, name, along, findings);
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
    let made = ground::build(&drawn.spots, &lines, edge.as_ref(), &[], unit);
    let origin = drawn.origin;
    findings.extend(made.findings.into_iter().map(|mut f| {
        f.place = format!("{prefix}{}", f.place);
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
