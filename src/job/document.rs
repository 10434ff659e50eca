//! A job file as its author typed it.
//!
//! The text is kept byte for byte: comments, units and layout survive a load and a save. An editor
//! changes one value by [`Document::replace`]; an undo is an earlier document.

use std::fmt;
use std::fs::{self, File};
use std::io::{Read as _, Write as _};
use std::path::Path;
use std::sync::Arc;

use crate::job::decode::{Context, Read as _};
use crate::job::problem::{self, JobErrors, Problem};
use crate::job::tree::{self, Kind, Node, Span};
use crate::job::{Job, checks};

/// A larger file is refused before it is read, bytes.
pub const LARGEST: u64 = 16 * 1024 * 1024;

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Document {
    name: String,
    text: Arc<str>,
}

impl Document {
    /// Reads a file. Errors name it as `path` does.
    pub fn load(path: &Path) -> Result<(Document, Job), JobErrors> {
        Document::parse(&path.display().to_string(), &text_of(path)?)
    }

    /// Reads a text that errors call `name`.
    pub fn parse(name: &str, text: &str) -> Result<(Document, Job), JobErrors> {
        if text.len() as u64 > LARGEST {
            return Err(JobErrors::unreadable(
                name,
                format!("this text is larger than {} MB", LARGEST >> 20),
                "a job file is text of at most 16 MB",
            ));
        }
        let root = tree::read(text).map_err(|p| JobErrors::new(name, text, vec![p]))?;
        let job = job_of(name, text, &root)?;
        let document = Document {
            name: name.to_string(),
            text: text.into(),
        };
        Ok((document, job))
    }

    /// The file's name, as errors show it.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The text, exactly as typed.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Writes the text, byte for byte. Either the whole new file is there afterwards or the old one.
    pub fn save(&self, path: &Path) -> std::io::Result<()> {
        write_whole(path, self.text.as_bytes())
    }

    /// The same document with one value written anew, every other byte left alone. `path` leads to
    /// the value: `design.basins[0].water`, or with a name, `design.basins["pond"].water`. A field
    /// that is not written yet is added. The result is not checked: parse it.
    pub fn replace(&self, path: &str, value: &str) -> Result<Document, PathError> {
        let root = tree::read(&self.text).map_err(|_| PathError::NotAJob)?;
        let (span, new) = match find(&root, path)? {
            Found::Value(node) => (node.span.clone(), value.to_string()),
            Found::Missing { field, inside } => (inside..inside, format!("{field}: {value}, ")),
        };
        let mut text = String::with_capacity(self.text.len() + new.len());
        text.push_str(&self.text[..span.start]);
        text.push_str(&new);
        text.push_str(&self.text[span.end..]);
        Ok(Document {
            name: self.name.clone(),
            text: text.into(),
        })
    }

    /// What is written at a path.
    pub fn written(&self, path: &str) -> Result<&str, PathError> {
        let root = tree::read(&self.text).map_err(|_| PathError::NotAJob)?;
        match find(&root, path)? {
            Found::Value(node) => Ok(&self.text[node.span.clone()]),
            Found::Missing { field, .. } => Err(PathError::NotThere(field.to_string())),
        }
    }

    /// Where the thing of this name (a shot, a basin, a wall, …) stands in the text: the whole of
    /// its record. The first one, if several share it.
    pub fn span_of(&self, name: &str) -> Option<Span> {
        let root = tree::read(&self.text).ok()?;
        let mut open = vec![&root];
        while let Some(node) = open.pop() {
            let title = match &node.kind {
                Kind::Record { fields, .. } => fields
                    .iter()
                    .find(|f| f.name == "name" || f.name == "to")
                    .map(|f| &f.value),
                // A placing starts with a name as well, but not with its own.
                Kind::Tuple { name: None, items } => items.first(),
                _ => None,
            };
            if let Some(Kind::Text(text)) = title.map(|t| &t.kind)
                && *text == name
            {
                return Some(node.span.clone());
            }
            match &node.kind {
                Kind::List(items) | Kind::Tuple { items, .. } => open.extend(items.iter().rev()),
                Kind::Record { fields, .. } => open.extend(fields.iter().rev().map(|f| &f.value)),
                _ => {}
            }
        }
        None
    }

    /// Line and column (in characters), both from 1.
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        problem::line_column(&self.text, offset)
    }
}

/// The job that a text makes, from the tree of that text. Errors call it `name`.
pub(crate) fn job_of(name: &str, text: &str, root: &Node) -> Result<Job, JobErrors> {
    let mut cx = Context::default();
    let job = Job::read(root, &mut cx);
    checks::check(&mut cx, text);
    match job {
        Some(job) if cx.problems.is_empty() => Ok(job),
        _ => {
            if cx.problems.is_empty() {
                cx.problems.push(Problem::new(
                    root.span.clone(),
                    "this job could not be read",
                    "see surveys/README.md",
                ));
            }
            let mut errors = JobErrors::new(name, text, cx.problems);
            errors.more += cx.more;
            Err(errors)
        }
    }
}

/// The text of a file, whatever it says. Errors name it as `path` does.
pub(crate) fn text_of(path: &Path) -> Result<String, JobErrors> {
    let name = path.display().to_string();
    let unreadable = |what: String, allowed: &str| JobErrors::unreadable(&name, what, allowed);
    let file = File::open(path).map_err(|e| {
        unreadable(
            format!("cannot open this file: {e}"),
            "the path of a job file",
        )
    })?;
    if file.metadata().is_ok_and(|m| m.is_dir()) {
        return Err(unreadable(
            "this is a folder".to_string(),
            "the path of a job file",
        ));
    }
    let mut bytes = Vec::new();
    // Read no further than the limit: a device or a pipe has no size to ask for.
    file.take(LARGEST + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| unreadable(format!("cannot read this file: {e}"), "a job file"))?;
    if bytes.len() as u64 > LARGEST {
        return Err(unreadable(
            format!("this file is larger than {} MB", LARGEST >> 20),
            "a job file is text of at most 16 MB",
        ));
    }
    String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let head = String::from_utf8_lossy(&error.as_bytes()[..good]).into_owned();
        let (line, column) = problem::line_column(&head, good);
        unreadable(
            format!("byte {good} (line {line}, column {column}) is not text in UTF-8"),
            "a job file is plain text in UTF-8; this looks like another kind of file",
        )
    })
}

/// Writes a file beside its place, syncs it, and moves it there: whoever looks finds the whole new
/// file or the old one.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    // A link stays a link: what it leads to is written.
    let target = fs::canonicalize(path);
    let path = target.as_deref().unwrap_or(path);
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let file_name = path
        .file_name()
        .ok_or_else(|| std::io::Error::other("this path names no file"))?;
    let mut hidden = std::ffi::OsString::from(".");
    hidden.push(file_name);
    hidden.push(format!(".{}.tmp", std::process::id()));
    let beside = folder.join(hidden);
    let written = (|| {
        let mut file = File::create(&beside)?;
        file.write_all(bytes)?;
        if let Ok(old) = fs::metadata(path) {
            file.set_permissions(old.permissions())?;
        }
        file.sync_all()?;
        fs::rename(&beside, path)
    })();
    if written.is_err() {
        // The error that is reported is the first one.
        let _ = fs::remove_file(&beside);
    }
    written
}

/// Why a path leads nowhere.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PathError {
    NotAJob,
    /// The path itself is not written as one.
    NotAPath(String),
    NotThere(String),
}

impl fmt::Display for PathError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PathError::NotAJob => write!(f, "the text is not a job"),
            PathError::NotAPath(s) => {
                write!(f, "`{s}` is not a path such as design.basins[0].water")
            }
            PathError::NotThere(s) => write!(f, "there is no `{s}`"),
        }
    }
}

impl std::error::Error for PathError {}

enum Found<'n, 'a, 'p> {
    Value(&'n Node<'a>),
    /// Its record is there, the field is not: it would be written at `inside`.
    Missing {
        field: &'p str,
        inside: usize,
    },
}

fn find<'n, 'a, 'p>(root: &'n Node<'a>, path: &'p str) -> Result<Found<'n, 'a, 'p>, PathError> {
    let not_a_path = || PathError::NotAPath(path.to_string());
    let mut node = root;
    let mut rest = path;
    while !rest.is_empty() {
        if let Some(tail) = rest.strip_prefix('[') {
            let (index, after) = if let Some(tail) = tail.strip_prefix('"') {
                let (name, after) = tail.split_once("\"]").ok_or_else(not_a_path)?;
                (position(node, name), after)
            } else {
                let (number, after) = tail.split_once(']').ok_or_else(not_a_path)?;
                (
                    Some(number.parse::<usize>().map_err(|_| not_a_path())?),
                    after,
                )
            };
            let (Kind::List(items) | Kind::Tuple { items, .. }) = &node.kind else {
                return Err(PathError::NotThere(path.to_string()));
            };
            node = index
                .and_then(|i| items.get(i))
                .ok_or_else(|| PathError::NotThere(path.to_string()))?;
            rest = after;
        } else {
            let start = rest.strip_prefix('.').unwrap_or(rest);
            let end = start.find(['.', '[']).unwrap_or(start.len());
            let (field, after) = start.split_at(end);
            if field.is_empty() {
                return Err(not_a_path());
            }
            let Kind::Record { fields, inside, .. } = &node.kind else {
                return Err(PathError::NotThere(field.to_string()));
            };
            match fields.iter().find(|f| f.name == field) {
                Some(found) => node = &found.value,
                None if after.is_empty() => {
                    return Ok(Found::Missing {
                        field,
                        inside: *inside,
                    });
                }
                None => return Err(PathError::NotThere(field.to_string())),
            }
            rest = after;
        }
    }
    Ok(Found::Value(node))
}

/// The item of a list whose record has this name.
fn position(list: &Node, name: &str) -> Option<usize> {
    let Kind::List(items) = &list.kind else {
        return None;
    };
    items.iter().position(|item| {
        let title = match &item.kind {
            Kind::Record { fields, .. } => fields
                .iter()
                .find(|f| f.name == "name" || f.name == "to")
                .map(|f| &f.value),
            Kind::Tuple { items, .. } => items.first(),
            _ => None,
        };
        matches!(title.map(|t| &t.kind), Some(Kind::Text(text)) if *text == name)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{At, Height, Level, Place};

    const JOB: &str = "// A remark.\r\n(name: \"yard\", unit: Foot, // in feet\n\tfield_book: (points: [(\"1\",0,0,1), (\"2\",9, 0,1), (\"3\",0,9,1.5)]),\n design: (basins: [(name: \"pond\", /* low */ water: \"0'-6\", outline: [\"1\", \"2\", \"3\"])],),\n)\n\n// End.";

    fn read(text: &str) -> (Document, Job) {
        Document::parse("yard.ron", text).unwrap_or_else(|errors| panic!("{errors}"))
    }

    fn water(text: &str) -> f64 {
        match read(text).1.design.basins[0].water {
            Level::At(Height::Elevation(metres)) => metres,
            ref other => panic!("{other:?}"),
        }
    }

    #[test]
    fn saved_as_typed() {
        let folder = std::env::temp_dir().join(format!("brimline-saved-{}", std::process::id()));
        fs::create_dir_all(&folder).expect("a folder for the test");
        let path = folder.join("yard.ron");
        fs::write(&path, JOB).expect("a file for the test");
        let (document, job) = Document::load(&path).unwrap_or_else(|errors| panic!("{errors}"));
        document.save(&path).expect("saved over itself");
        assert_eq!(fs::read(&path).expect("the saved file"), JOB.as_bytes());
        let (again, same) = Document::load(&path).unwrap_or_else(|errors| panic!("{errors}"));
        assert_eq!((document, job), (again, same));
        // Nothing else is left behind.
        assert_eq!(fs::read_dir(&folder).expect("the folder").count(), 1);
        #[cfg(unix)]
        {
            let link = folder.join("link.ron");
            std::os::unix::fs::symlink(&path, &link).expect("a link for the test");
            let changed = read(JOB).0.replace("name", "\"lot\"").expect("spliced");
            changed.save(&link).expect("saved through the link");
            assert!(fs::symlink_metadata(&link).expect("the link").is_symlink());
            assert_eq!(fs::read_to_string(&path).expect("its end"), changed.text());
            fs::remove_file(&link).expect("removed");
        }
        let gone = read(JOB).0.save(&folder.join("none").join("yard.ron"));
        assert!(gone.is_err());
        assert_eq!(fs::read_dir(&folder).expect("the folder").count(), 1);
        fs::remove_dir_all(&folder).expect("removed");
    }

    #[test]
    fn one_value_changes_and_nothing_else() {
        let (document, _) = read(JOB);
        assert_eq!(document.written("design.basins[0].water"), Ok("\"0'-6\""));
        for path in ["design.basins[0].water", "design.basins[\"pond\"].water"] {
            let changed = document.replace(path, "\"8 in\"").expect(path);
            assert_eq!(changed.text(), JOB.replace("\"0'-6\"", "\"8 in\""));
            assert!((water(changed.text()) - 0.2032).abs() < 1e-12);
            let back = changed.replace(path, "\"0'-6\"").expect(path);
            assert_eq!(back, document);
        }
        let point = document
            .replace("design.basins[0].outline[1]", "(9, 1)")
            .expect("an item of a list");
        let outline = &read(point.text()).1.design.basins[0].outline;
        assert_eq!(outline[1], At::Placed(Place::Xy(9.0 * 0.3048, 0.3048)));
        let rod = document
            .replace("field_book.points[\"2\"][3]", "2")
            .expect("a value in brackets");
        assert_eq!(read(rod.text()).1.field_book.points[1].z, 2.0 * 0.3048);
    }

    #[test]
    fn a_field_that_is_not_written_is_added() {
        let (document, job) = read(JOB);
        assert!(!job.design.basins[0].smooth);
        let changed = document
            .replace("design.basins[0].smooth", "true")
            .expect("added");
        assert!(read(changed.text()).1.design.basins[0].smooth);
        assert!(changed.text().contains("[(smooth: true, name: \"pond\""));
    }

    #[test]
    fn paths_that_lead_nowhere() {
        let (document, _) = read(JOB);
        let error = |path: &str| document.replace(path, "1").expect_err(path);
        assert_eq!(
            error("site.walls[0].cap"),
            PathError::NotThere("site".into())
        );
        let past = "design.basins[1].water";
        assert_eq!(error(past), PathError::NotThere(past.into()));
        assert_eq!(error("name.first"), PathError::NotThere("first".into()));
        for path in [
            "design..basins",
            "design.basins[x]",
            "design.basins[\"pond",
            "design.basins[1",
        ] {
            assert_eq!(error(path), PathError::NotAPath(path.into()));
        }
        assert!(matches!(
            error("design.basins[\"pool\"].water"),
            PathError::NotThere(_)
        ));
    }

    #[test]
    fn a_broken_value_is_seen_when_read() {
        let (document, _) = read(JOB);
        let changed = document
            .replace("design.basins[0].water", "(")
            .expect("spliced");
        assert!(Document::parse("yard.ron", changed.text()).is_err());
        assert_eq!(changed.replace("name", "\"x\""), Err(PathError::NotAJob));
    }

    #[test]
    fn where_things_stand() {
        let (document, _) = read(JOB);
        let span = document.span_of("pond").expect("the pond");
        assert!(JOB[span.clone()].starts_with("(name: \"pond\""));
        assert!(JOB[span.clone()].ends_with("\"3\"])"));
        assert_eq!(document.line_column(span.start), (4, 20));
        let span = document.span_of("2").expect("a point");
        assert_eq!(&JOB[span], "(\"2\",9, 0,1)");
        assert_eq!(document.span_of("lake"), None);
    }
}
