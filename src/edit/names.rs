//! Who is called what, and who refers to whom: for renaming, for choices, for deleting.

use rustc_hash::FxHashSet;

use crate::edit::refused::Refused;
use crate::job::decode::{Context, Read as _};
use crate::job::seen::{Reference, Seen, Space, Want};
use crate::job::tree::{Node, Span};
use crate::job::{Form, Job};

/// All names of a job, broken or not.
pub struct Names {
    seen: Seen,
    /// Of the as-built visits, which have names of their own.
    visits: Vec<Names>,
}

/// Names that must differ from each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Group {
    /// Benchmarks, pegs, known points and shots.
    Points,
    Baselines,
    Setups,
    /// Walls, basins and all other features.
    Features,
    Services,
    Stages,
}

impl Group {
    /// The group of a name's own field.
    pub fn of(form: &Form) -> Option<Group> {
        match form {
            Form::Shot => Some(Group::Points),
            Form::Name(space) => Some(group(*space)),
            _ => None,
        }
    }

    /// What such things are, in a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Group::Points => "benchmark, peg, point or shot",
            Group::Baselines => "baseline",
            Group::Setups => "setup",
            Group::Features => "wall or other feature",
            Group::Services => "service",
            Group::Stages => "stage",
        }
    }
}

fn group(space: Space) -> Group {
    match space {
        Space::Benchmark | Space::Peg | Space::Point => Group::Points,
        Space::Baseline => Group::Baselines,
        Space::Setup => Group::Setups,
        Space::StandingWall
        | Space::NewWall
        | Space::Basin
        | Space::Feature
        | Space::Pit
        | Space::Pool
        | Space::Pile => Group::Features,
        Space::Service => Group::Services,
        Space::Stage => Group::Stages,
    }
}

/// Adds where an as-built visit leans on names of the field book; its own shots are its own.
fn leaning(seen: &mut Seen, visit: &Seen) {
    let shared: FxHashSet<&str> = visit.names[..visit.inherited.min(visit.names.len())]
        .iter()
        .map(|n| n.name.as_str())
        .collect();
    let own: FxHashSet<&str> = visit.names[visit.inherited.min(visit.names.len())..]
        .iter()
        .map(|n| n.name.as_str())
        .chain(visit.sights.iter().map(|s| s.name.as_str()))
        .filter(|n| !shared.contains(n))
        .collect();
    let outside: Vec<_> = visit
        .references
        .iter()
        .filter(|r| !own.contains(r.name.as_str()))
        .map(|r| (r.want, r.name.clone(), r.span.clone(), r.field))
        .collect();
    let sights: Vec<_> = visit
        .sights
        .iter()
        .filter(|s| shared.contains(s.name.as_str()))
        .map(|s| (s.name.clone(), s.span.clone()))
        .collect();
    seen.references.extend(
        outside
            .into_iter()
            .map(|(want, name, span, field)| Reference {
                want,
                name,
                span,
                field,
            }),
    );
    // A sight on a benchmark names it again, as in the field book.
    seen.references
        .extend(sights.into_iter().map(|(name, span)| Reference {
            want: Want::Elevation,
            name,
            span,
            field: "to",
        }));
}

impl Names {
    /// Of a whole job.
    pub fn of(root: &Node) -> Names {
        let mut cx = Context::default();
        let _ = Job::read(root, &mut cx);
        let mut seen = cx.seen;
        let mut visits = Vec::new();
        for visit in std::mem::take(&mut seen.visits) {
            leaning(&mut seen, &visit);
            visits.push(Names {
                seen: visit,
                visits: Vec::new(),
            });
        }
        Names { seen, visits }
    }

    /// The names among which the one that stands at `span` is meant: those of its visit, unless it
    /// is a name of the field book.
    pub fn here(&self, name: &str, span: &Span) -> &Names {
        self.visits
            .iter()
            .find(|v| {
                let inherited = v.seen.inherited.min(v.seen.names.len());
                let own = !v.seen.names[..inherited].iter().any(|n| n.name == name);
                let within = v.seen.span.start <= span.start && span.end <= v.seen.span.end;
                within && own
            })
            .unwrap_or(self)
    }

    /// The names among which what stands at `span` is given: those of its visit, or of the job.
    pub fn within(&self, span: &Span) -> &Names {
        self.visits
            .iter()
            .find(|v| v.seen.span.start <= span.start && span.end <= v.seen.span.end)
            .unwrap_or(self)
    }

    /// Every place where a name of this group is given, with the name.
    fn given(&self, wanted: Group) -> impl Iterator<Item = (&str, Span)> {
        let named = self
            .seen
            .names
            .iter()
            .filter(move |n| group(n.space) == wanted)
            .map(|n| (n.name.as_str(), n.span.clone()));
        let sights = self
            .seen
            .sights
            .iter()
            .filter(move |_| wanted == Group::Points)
            .map(|s| (s.name.as_str(), s.span.clone()));
        named.chain(sights)
    }

    /// Every place where a name of this group is referred to.
    fn referred(&self, wanted: Group) -> impl Iterator<Item = (&str, Span)> {
        self.seen
            .references
            .iter()
            .filter(move |r| match r.want {
                Want::Place => matches!(wanted, Group::Points | Group::Setups),
                Want::Elevation => wanted == Group::Points,
                Want::Baseline => wanted == Group::Baselines,
                Want::Stage => wanted == Group::Stages,
                Want::Wall | Want::Basin | Want::Work | Want::TakeBack | Want::Sump => {
                    wanted == Group::Features
                }
            })
            .map(|r| (r.name.as_str(), r.span.clone()))
    }

    pub fn is_taken(&self, wanted: Group, name: &str) -> bool {
        self.given(wanted).any(|(given, _)| given == name)
    }

    /// Whether another thing than the one whose name stands at `span` is called so too. A sight on a
    /// point names it again and is no other thing.
    pub fn is_shared(&self, wanted: Group, name: &str, span: &Span) -> bool {
        let mut names = self.seen.names.iter();
        names.any(|n| group(n.space) == wanted && n.name == name && n.span != *span)
    }

    /// Where a name stands, given or referred to, in the order of the text.
    pub fn everywhere(&self, wanted: Group, name: &str) -> Vec<Span> {
        // A setup may be named like a shot as long as it has no place; then nothing refers to it.
        let shadowed = wanted == Group::Setups && self.is_taken(Group::Points, name);
        let references = self.referred(wanted).filter(|_| !shadowed);
        let mut out: Vec<Span> = self
            .given(wanted)
            .chain(references)
            .filter(|(found, _)| *found == name)
            .map(|(_, span)| span)
            .collect();
        out.sort_by_key(|span| span.start);
        out.dedup();
        out
    }

    /// Where a name is referred to from outside `except`.
    pub fn users(&self, wanted: Group, name: &str, except: &Span) -> Vec<Span> {
        let outside = |span: &Span| span.start < except.start || span.end > except.end;
        let mut out: Vec<Span> = self
            .referred(wanted)
            .filter(|(found, span)| *found == name && outside(span))
            .map(|(_, span)| span)
            .collect();
        if wanted == Group::Points {
            // A later backsight leans on the shot.
            let backs = self.seen.sights.iter().filter(|s| s.backsight);
            out.extend(
                backs
                    .filter(|s| s.name == name && outside(&s.span))
                    .map(|s| s.span.clone()),
            );
        }
        out
    }

    /// Whether a name is given outside `except` as well.
    pub fn is_given_outside(&self, wanted: Group, name: &str, except: &Span) -> bool {
        let backsights: FxHashSet<usize> = self
            .seen
            .sights
            .iter()
            .filter(|s| s.backsight)
            .map(|s| s.span.start)
            .collect();
        self.given(wanted).any(|(found, span)| {
            found == name
                && (span.start < except.start || span.end > except.end)
                && !backsights.contains(&span.start)
        })
    }

    /// New names for the things named within these bytes, with the places where they are given.
    pub fn renewed(&self, wanted: Group, within: &Span) -> Vec<(Span, String)> {
        let had: FxHashSet<&str> = self.given(wanted).map(|(name, _)| name).collect();
        let mut new: Vec<(Span, String)> = Vec::new();
        for (name, span) in self.given(wanted) {
            if span.start >= within.start && span.end <= within.end {
                let name = free(name, |n| {
                    had.contains(n) || new.iter().any(|(_, other)| other == n)
                });
                new.push((span, name));
            }
        }
        new
    }

    /// The names that are given within these bytes, each once.
    pub fn given_within(&self, span: &Span) -> Vec<(Group, String)> {
        let groups = [
            Group::Points,
            Group::Baselines,
            Group::Setups,
            Group::Features,
        ];
        let mut out = Vec::new();
        for wanted in groups {
            let mut had: FxHashSet<&str> = FxHashSet::default();
            for (name, at) in self.given(wanted) {
                if at.start >= span.start && at.end <= span.end && had.insert(name) {
                    out.push((wanted, name.to_string()));
                }
            }
        }
        out
    }

    /// The names that may be written where one is wanted, in the order of the job, each once.
    pub fn choices(&self, want: Want) -> Vec<String> {
        let spaces: &[Space] = match want {
            Want::Place => &[Space::Benchmark, Space::Peg, Space::Point],
            Want::Elevation => &[Space::Benchmark, Space::Point],
            Want::Baseline => &[Space::Baseline],
            Want::Wall => &[Space::StandingWall, Space::NewWall],
            Want::Basin => &[Space::Basin],
            Want::Sump => &[Space::Pit, Space::Basin],
            Want::Work | Want::TakeBack => &[Space::NewWall, Space::Basin, Space::Feature],
            Want::Stage => &[Space::Stage],
        };
        let placed: FxHashSet<&str> = self.seen.places.iter().map(|(n, _)| n.as_str()).collect();
        let mut out = Vec::new();
        let mut had: FxHashSet<&str> = FxHashSet::default();
        for named in &self.seen.names {
            let can = want != Want::Place
                || named.space != Space::Benchmark
                || placed.contains(named.name.as_str());
            if spaces.contains(&named.space) && can && had.insert(&named.name) {
                out.push(named.name.clone());
            }
        }
        if matches!(want, Want::Place | Want::Elevation) {
            for sight in &self.seen.sights {
                let can = want == Want::Elevation || placed.contains(sight.name.as_str());
                if can && had.insert(&sight.name) {
                    out.push(sight.name.clone());
                }
            }
        }
        out
    }

    /// Points that a rod may stand on again: benchmarks, pegs and shots, each once.
    pub fn points(&self) -> Vec<String> {
        let mut had: FxHashSet<&str> = FxHashSet::default();
        self.given(Group::Points)
            .filter(|(name, _)| had.insert(*name))
            .map(|(name, _)| name.to_string())
            .collect()
    }

    /// A name like `wished` that nobody has: itself, or with the next number that is free.
    pub fn free(&self, wanted: Group, wished: &str) -> String {
        let had: FxHashSet<&str> = self.given(wanted).map(|(name, _)| name).collect();
        free(wished, |name| had.contains(name))
    }

    /// The name of the next shot: one more than the number of the last one.
    pub fn next_shot(&self) -> String {
        let last = self
            .seen
            .sights
            .iter()
            .rev()
            .filter(|s| !s.backsight)
            .find(|s| s.name.ends_with(|c: char| c.is_ascii_digit()));
        self.free(Group::Points, last.map_or("1", |s| &s.name))
    }
}

/// `wished`, or the next after it that is not taken: `pond`, `pond 2`, `pond 3`; `12`, `13`.
pub fn free(wished: &str, taken: impl Fn(&str) -> bool) -> String {
    let wished = if wished.trim().is_empty() {
        "1"
    } else {
        wished
    };
    if !taken(wished) {
        return wished.to_string();
    }
    let head = wished.trim_end_matches(|c: char| c.is_ascii_digit());
    let (head, from) = match wished[head.len()..].parse::<u64>() {
        Ok(number) => (head.to_string(), number.saturating_add(1)),
        Err(_) => (format!("{} ", head.trim_end()), 2),
    };
    (from..)
        .map(|number| format!("{head}{number}"))
        .find(|name| !taken(name))
        .unwrap_or_else(|| wished.to_string())
}

/// Whether a text can be a name at all.
pub fn checked(name: &str) -> Result<&str, Refused> {
    let name = name.trim();
    if name.is_empty() {
        return Err(Refused::NotAName("it is empty".into()));
    }
    if name.chars().count() > 200 {
        return Err(Refused::NotAName("it is longer than 200 characters".into()));
    }
    Ok(name)
}
