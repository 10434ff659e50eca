//! What is wrong with a job file, and how it is shown: file, line, column, the line itself, what
//! was found, what is allowed.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

/// So many problems are shown; the rest are counted.
pub const SHOWN: usize = 50;
/// So many are kept at all.
const KEPT: usize = 1000;
/// Longer lines are shown in part.
const LONGEST_LINE: usize = 400;

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Bytes in the source.
    pub span: Range<usize>,
    /// What was found.
    pub what: String,
    /// What is allowed, or what to do.
    pub allowed: String,
}

impl Problem {
    pub fn new(span: Range<usize>, what: impl Into<String>, allowed: impl Into<String>) -> Self {
        Problem {
            span,
            what: what.into(),
            allowed: allowed.into(),
        }
    }
}

/// All that is wrong with one job file, in the order of the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobErrors {
    /// The file, as the person named it.
    pub file: String,
    text: Arc<str>,
    pub problems: Vec<Problem>,
    /// Further problems that were not kept.
    pub more: usize,
}

impl JobErrors {
    pub fn new(file: &str, text: &str, mut problems: Vec<Problem>) -> Self {
        problems.sort_by_key(|p| (p.span.start, p.span.end));
        problems.dedup();
        let more = problems.len().saturating_sub(KEPT);
        problems.truncate(KEPT);
        JobErrors {
            file: file.to_string(),
            text: text.into(),
            problems,
            more,
        }
    }

    /// A file that could not be read at all.
    pub fn unreadable(file: &str, what: impl Into<String>, allowed: impl Into<String>) -> Self {
        JobErrors::new(file, "", vec![Problem::new(0..0, what, allowed)])
    }

    /// Line and column (in characters), both from 1.
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        line_column(&self.text, offset)
    }

    /// The report; `styled` for a terminal.
    pub fn render(&self, styled: bool) -> String {
        let renderer = if styled {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let mut out = String::new();
        for problem in self.problems.iter().take(SHOWN) {
            out.push_str(&self.render_one(problem, &renderer));
            out.push_str("\n\n");
        }
        let hidden = self.more + self.problems.len().saturating_sub(SHOWN);
        if hidden > 0 {
            out.push_str(&format!("and {hidden} more\n"));
        }
        out
    }

    fn render_one(&self, problem: &Problem, renderer: &Renderer) -> String {
        let title = Level::ERROR.primary_title(&problem.what);
        let help = Level::HELP.message(&problem.allowed);
        if self.text.is_empty() {
            let group = Group::with_title(title)
                .element(Origin::path(&self.file))
                .element(help);
            return renderer.render(&[group]);
        }
        let start = floor_char(&self.text, problem.span.start);
        let (line, column) = line_column(&self.text, start);
        let line_start = self.text[..start].rfind('\n').map_or(0, |i| i + 1);
        let line_end = self.text[start..]
            .find(['\n', '\r'])
            .map_or(self.text.len(), |i| start + i);
        // Only a window of the source is handed over: the renderer looks at all it gets.
        let from = floor_char(
            &self.text,
            line_start.max(start.saturating_sub(LONGEST_LINE)),
        );
        let to = floor_char(&self.text, line_end.min(start + LONGEST_LINE));
        let end = floor_char(&self.text, problem.span.end.clamp(start, to.max(start)));
        let window = &self.text[from..to.max(from)];
        let mut snippet = Snippet::source(window)
            .line_start(line)
            .annotation(AnnotationKind::Primary.span(start - from..end - from));
        let mut group = Group::with_title(title);
        if from == line_start {
            snippet = snippet.path(&self.file);
        } else {
            // The renderer would count the column from the window.
            let origin = Origin::path(&self.file);
            group = group.element(origin.line(line).char_column(column));
        }
        renderer.render(&[group.element(snippet).element(help)])
    }
}

impl fmt::Display for JobErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for JobErrors {}

pub(crate) fn floor_char(text: &str, offset: usize) -> usize {
    let mut at = offset.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

pub(crate) fn line_column(text: &str, offset: usize) -> (usize, usize) {
    let before = &text[..floor_char(text, offset)];
    let line = before.bytes().filter(|&b| b == b'\n').count() + 1;
    let column = before.chars().rev().take_while(|&c| c != '\n').count() + 1;
    (line, column)
}
