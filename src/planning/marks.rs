//! Lines to draw over the yard. Metres, in the job's own coordinates.

use crate::guards;
use crate::job::{At, Job};
use crate::plan::{Mark, MarkKind};
use crate::survey::Reduced;
use crate::terrain::predicates::P2;

pub fn marks(job: &Job, survey: &Reduced, marks: &mut Vec<Mark>) {
    let mut add = |name: &str, kind: MarkKind, line: &[At], closed: bool| {
        // A place that is not known is reported where it matters; here it is just not drawn.
        let points: Vec<P2> = line
            .iter()
            .filter_map(|at| survey.locate(at, &job.field_book).ok())
            .collect();
        if points.len() > 1 {
            marks.push(Mark {
                name: name.into(),
                kind,
                line: points,
                closed,
            });
        }
    };
    let site = &job.site;
    site.paving
        .iter()
        .for_each(|a| add(&a.name, MarkKind::Paving, &a.outline, true));
    site.keep_outs
        .iter()
        .for_each(|a| add(&a.name, MarkKind::KeepOut, &a.outline, true));
    site.holes
        .iter()
        .for_each(|a| add(&a.name, MarkKind::House, &a.outline, true));
    site.services
        .iter()
        .for_each(|s| add(&s.name, MarkKind::Service, &s.line, false));
    site.breaklines
        .iter()
        .for_each(|l| add(&l.name, MarkKind::Breakline, &l.along, false));
    for tree in &site.trees {
        if let Ok(at) = survey.locate(&tree.at, &job.field_book) {
            let ring = guards::circle(at, tree.protected());
            let ring = ring
                .into_iter()
                .map(|p| At::Placed(crate::job::Place::Xy(p[0], p[1])));
            add(&tree.name, MarkKind::Tree, &ring.collect::<Vec<At>>(), true);
        }
    }
    if let Some(access) = &site.access {
        add("access", MarkKind::Access, &access.line, false);
    }
    add("surveyed outline", MarkKind::Outline, &site.outline, true);
}
