//! Every drawn line of the job that can be taken by hand: where its corners lie and where they are
//! written. Plan coordinates, metres. A line with a corner that lies nowhere yet is left out: the
//! findings name it.

use crate::edit::{Address, Step};
use crate::job::{At, Cascade, Job};
use crate::survey::Reduced;
use crate::view::work::Work;

/// One line of one thing.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// The thing it belongs to: `design.basins[0]`.
    pub thing: Address,
    /// The list of its corners: `design.basins[0].outline`.
    pub list: Address,
    /// What it is, in the trade's word.
    pub word: &'static str,
    pub name: String,
    pub points: Vec<[f64; 2]>,
    /// The shots that corners are given by.
    pub shots: Vec<Option<String>>,
    pub closed: bool,
    /// The basin on whose water it lies.
    pub afloat: Option<String>,
    /// The ground hangs on the elevations of its shots: they stay where they were measured.
    pub bound: bool,
    /// Of the design, not of the site.
    pub designed: bool,
}

impl Outline {
    /// The cascade whose centreline it is.
    pub fn cascade<'a>(&self, work: &'a Work) -> Option<&'a Cascade> {
        let index = self.thing.index().filter(|_| self.word == "cascade")?;
        work.editor.job()?.design.cascades.get(index)
    }

    /// Number of its edges.
    pub fn edges(&self) -> usize {
        match self.points.len() {
            n if self.closed && n > 2 => n,
            n => n.saturating_sub(1),
        }
    }

    pub fn edge(&self, index: usize) -> Option<[[f64; 2]; 2]> {
        let a = self.points.get(index)?;
        let b = self.points.get((index + 1) % self.points.len())?;
        Some([*a, *b])
    }

    /// The corner before (`-1`) or after (`1`) another, if the line goes on there.
    pub fn beside(&self, index: usize, by: isize) -> Option<[f64; 2]> {
        let n = self.points.len() as isize;
        let at = index as isize + by;
        let at = if self.closed { at.rem_euclid(n) } else { at };
        self.points.get(usize::try_from(at).ok()?).copied()
    }

    /// How deep the picked address goes into this thing; `None` if it is another's.
    pub fn picked_by(&self, picked: &Address) -> Option<usize> {
        let mine = self.thing.steps();
        let other = picked.steps();
        let same = |(a, b): (&Step, &Step)| match (a, b) {
            (Step::Item(_), Step::Named(name)) => *name == self.name,
            _ => a == b,
        };
        (other.len() >= mine.len() && mine.iter().zip(other).all(same)).then_some(mine.len())
    }

    /// The corner that an address names.
    pub fn corner_of(&self, picked: &Address) -> Option<usize> {
        self.picked_by(picked)?;
        let rest = &picked.steps()[self.thing.steps().len()..];
        let list = &self.list.steps()[self.thing.steps().len()..];
        match rest.split_last()? {
            (Step::Item(index), head) if head == list && *index < self.points.len() => Some(*index),
            _ => None,
        }
    }

    /// `basin "pond"`, or only the word of what has no name.
    pub fn words(&self) -> String {
        if self.name.is_empty() {
            self.word.to_owned()
        } else {
            format!("{} \"{}\"", self.word, self.name)
        }
    }
}

/// The lines of a job; small ones last, so that they are found over larger ones.
pub fn outlines(job: &Job, survey: &Reduced) -> Vec<Outline> {
    let mut all = Collect {
        job,
        survey,
        out: Vec::new(),
    };
    let site = Address::job().field("site");
    let s = &job.site;
    all.line(&site, "outline", "yard outline", "", &s.outline, true);
    for (i, x) in s.holes.iter().enumerate() {
        let thing = site.field("holes").item(i);
        all.line(&thing, "outline", "building", &x.name, &x.outline, true);
    }
    for (i, x) in s.paving.iter().enumerate() {
        let thing = site.field("paving").item(i);
        all.line(&thing, "outline", "paving", &x.name, &x.outline, true);
    }
    for (i, x) in s.keep_outs.iter().enumerate() {
        let thing = site.field("keep_outs").item(i);
        all.line(&thing, "outline", "keep-out", &x.name, &x.outline, true);
    }
    for (i, x) in s.services.iter().enumerate() {
        let thing = site.field("services").item(i);
        all.line(&thing, "line", "service", &x.name, &x.line, false);
    }
    if let Some(access) = &s.access {
        let thing = site.field("access");
        all.line(&thing, "line", "access", "", &access.line, false);
    }
    for (i, x) in s.breaklines.iter().enumerate() {
        let thing = site.field("breaklines").item(i);
        all.line(&thing, "along", "breakline", &x.name, &x.along, false);
    }
    for (i, x) in s.walls.iter().enumerate() {
        let thing = site.field("walls").item(i);
        for (field, line) in [("left", &x.left), ("right", &x.right)] {
            all.line(&thing, field, "standing wall", &x.name, line, false);
        }
    }
    let design = Address::job().field("design");
    let d = &job.design;
    for (i, x) in d.pads.iter().enumerate() {
        let thing = design.field("pads").item(i);
        all.line(&thing, "outline", "pad", &x.name, &x.outline, true);
    }
    for (i, x) in d.basins.iter().enumerate() {
        let thing = design.field("basins").item(i);
        all.line(&thing, "outline", "basin", &x.name, &x.outline, true);
        for (k, pit) in x.pits.iter().enumerate() {
            let thing = thing.field("pits").item(k);
            all.line(&thing, "outline", "pit", &pit.name, &pit.outline, true);
        }
    }
    for (i, x) in d.ramps.iter().enumerate() {
        let thing = design.field("ramps").item(i);
        all.line(&thing, "line", "ramp", &x.name, &x.line, false);
    }
    for (i, x) in d.trenches.iter().enumerate() {
        let thing = design.field("trenches").item(i);
        all.line(&thing, "line", "trench", &x.name, &x.line, false);
    }
    for (i, x) in d.walls.iter().enumerate() {
        let thing = design.field("walls").item(i);
        all.line(&thing, "line", "wall", &x.name, &x.line, false);
    }
    for (i, x) in d.berms.iter().enumerate() {
        let thing = design.field("berms").item(i);
        all.line(&thing, "line", "berm", &x.name, &x.line, false);
    }
    for (i, x) in d.cascades.iter().enumerate() {
        let thing = design.field("cascades").item(i);
        let line = &x.centreline;
        all.line(&thing, "centreline", "cascade", &x.name, line, false);
    }
    for (i, x) in d.piles.iter().enumerate() {
        let thing = design.field("piles").item(i);
        all.line(&thing, "along", "pile", &x.name, &x.along, false);
    }
    for (i, x) in d.overflows.iter().enumerate() {
        let thing = design.field("overflows").item(i);
        all.line(&thing, "line", "overflow", &x.name, &x.line, false);
    }
    for (i, x) in job.plumbing.pumps.iter().enumerate() {
        let thing = Address::job().field("plumbing").field("pumps").item(i);
        all.line(&thing, "line", "pump's pipe", &x.name, &x.line, false);
    }
    all.out
}

struct Collect<'a> {
    job: &'a Job,
    survey: &'a Reduced,
    out: Vec<Outline>,
}

impl Collect<'_> {
    fn line(
        &mut self,
        thing: &Address,
        field: &str,
        word: &'static str,
        name: &str,
        places: &[At],
        closed: bool,
    ) {
        let located: Result<Vec<_>, _> = places
            .iter()
            .map(|at| self.survey.locate(at, &self.job.field_book))
            .collect();
        let Ok(points) = located else { return };
        if points.is_empty() {
            return;
        }
        let thing_is_the_list = word == "yard outline";
        let list = thing.field(field);
        self.out.push(Outline {
            thing: if thing_is_the_list {
                list.clone()
            } else {
                thing.clone()
            },
            list,
            word,
            name: name.to_owned(),
            points,
            shots: places
                .iter()
                .map(|at| match at {
                    At::Shot(name) => Some(name.clone()),
                    At::Placed(_) => None,
                })
                .collect(),
            closed,
            afloat: (word == "basin").then(|| name.to_owned()),
            bound: matches!(word, "breakline" | "standing wall"),
            designed: matches!(thing.steps().first(), Some(Step::Field(s)) if s == "design"),
        });
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::edit::{Edit, Editor};
    use crate::plan::Plan;

    fn demo() -> (Editor, Vec<Outline>) {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let editor = Editor::open(&path).unwrap_or_else(|e| panic!("{e}"));
        let job = editor.job().expect("a good job").clone();
        let all = outlines(&job, &Plan::of(&job).survey);
        (editor, all)
    }

    #[test]
    fn every_line_of_the_demo_is_there() {
        let (_, all) = demo();
        let count = |word: &str| all.iter().filter(|o| o.word == word).count();
        for (word, n) in [
            ("yard outline", 1),
            ("building", 1),
            ("paving", 1),
            ("keep-out", 1),
            ("service", 1),
            ("access", 1),
            ("breakline", 5),
            ("standing wall", 2),
            ("pad", 2),
            ("basin", 1),
            ("pit", 1),
            ("ramp", 1),
            ("trench", 1),
            ("wall", 1),
            ("berm", 1),
            ("cascade", 1),
            ("pile", 2),
            ("overflow", 1),
            ("pump's pipe", 1),
        ] {
            assert_eq!(count(word), n, "{word}");
        }
    }

    /// The addresses lead to places: each corner that is not bound moves, and comes back.
    #[test]
    fn every_corner_can_be_moved_by_its_address() {
        let (mut editor, all) = demo();
        let text = editor.text().to_owned();
        for outline in all {
            for (k, p) in outline.points.iter().enumerate() {
                let to = [p[0] + 0.05, p[1] + 0.05];
                let at = outline.list.item(k);
                assert_eq!(outline.corner_of(&at), Some(k), "{at}");
                editor
                    .apply(&Edit::Move { at: at.clone(), to })
                    .unwrap_or_else(|why| panic!("{at}: {why}"));
                editor.undo();
                assert_eq!(editor.text(), text, "{at}");
            }
        }
    }

    #[test]
    fn a_pick_belongs_to_the_thing_and_its_corner() {
        let (_, all) = demo();
        let pond = all.iter().find(|o| o.word == "basin").expect("a pond");
        let pit = all.iter().find(|o| o.word == "pit").expect("a pit");
        let of = |text: &str| Address::of(text).expect(text);
        let corner = of("design.basins[0].outline[2]");
        assert_eq!(pond.corner_of(&corner), Some(2));
        assert_eq!(pit.picked_by(&corner), None);
        assert_eq!(pond.corner_of(&of("design.basins[0].outline[99]")), None);
        assert_eq!(pond.corner_of(&of("design.basins[0].shelves[0]")), None);
        let named = of("design.basins[\"pond\"].water");
        assert!(pond.picked_by(&named).is_some());
        let deep = of("design.basins[0].pits[0]");
        assert!(pit.picked_by(&deep) > pond.picked_by(&deep));
        assert_eq!(pond.beside(0, -1), pond.points.last().copied());
        let wall = all.iter().find(|o| o.word == "wall").expect("a wall");
        assert_eq!(wall.beside(0, -1), None);
        assert_eq!(wall.edges(), 2);
        assert_eq!(pond.edges(), 11);
    }
}
