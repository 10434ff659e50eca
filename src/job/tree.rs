//! A job file as a tree of values, each with its span (bytes) in the source.
//!
//! The `ron` crate reads the whole text first and decides what is RON and what is not; its error
//! is the only syntax error there is. The walk below then only finds where each value stands in
//! text that is known to be well formed. (Asking `ron` for raw slices level by level gives the same
//! spans, but reads every sight about fifteen times, and hides whether a bracket holds names.)
//! Limits: values nested deeper than [`DEEPEST`] are refused.

use std::borrow::Cow;
use std::ops::Range;

use serde::de::IgnoredAny;

use crate::job::problem::Problem;

pub type Span = Range<usize>;

/// A job nests about ten deep.
pub const DEEPEST: usize = 48;

#[derive(Debug, Clone)]
pub struct Node<'a> {
    pub span: Span,
    pub kind: Kind<'a>,
}

#[derive(Debug, Clone)]
pub enum Kind<'a> {
    Number(f64),
    Text(Cow<'a, str>),
    Bool(bool),
    /// A bare word, such as `Left`.
    Word(&'a str),
    List(Vec<Node<'a>>),
    /// `(1, 2)` or `Name(1, 2)`.
    Tuple {
        name: Option<&'a str>,
        items: Vec<Node<'a>>,
    },
    /// `(a: 1)` or `Name(a: 1)`, and the empty `()`.
    Record {
        name: Option<&'a str>,
        fields: Vec<Field<'a>>,
        /// Just after the opening bracket.
        inside: usize,
    },
    /// What RON has and a job file has not: maps, characters, bytes, ranges.
    Other(&'static str),
}

#[derive(Debug, Clone)]
pub struct Field<'a> {
    pub name: &'a str,
    pub name_span: Span,
    pub value: Node<'a>,
}

impl Node<'_> {
    /// What stands here, in words.
    pub fn describe(&self) -> String {
        match &self.kind {
            Kind::Number(n) => format!("the number {}", crate::units::plain(*n)),
            Kind::Text(t) => format!("the text \"{}\"", shorten(t)),
            Kind::Bool(b) => format!("{b}"),
            Kind::Word(w) => format!("the word {}", shorten(w)),
            Kind::List(items) => format!("a list of {}", items.len()),
            Kind::Tuple { name, items } => match name {
                Some(name) => format!("{}(…)", shorten(name)),
                None if items.len() == 1 => "one value in brackets".to_string(),
                None => format!("{} values in brackets", items.len()),
            },
            Kind::Record { name, fields, .. } => match name {
                Some(name) => format!("{}(…)", shorten(name)),
                None if fields.is_empty() => "empty brackets".to_string(),
                None => "named fields in brackets".to_string(),
            },
            Kind::Other(what) => (*what).to_string(),
        }
    }
}

/// Long names must not flood a message.
pub fn shorten(text: &str) -> String {
    const MOST: usize = 40;
    if text.chars().count() <= MOST {
        text.to_string()
    } else {
        let head: String = text.chars().take(MOST).collect();
        format!("{head}…")
    }
}

/// Reads the text; on failure the one syntax error.
pub fn read(text: &str) -> Result<Node<'_>, Problem> {
    // Editors on some machines put an invisible mark in front.
    let start = if text.starts_with('\u{feff}') { 3 } else { 0 };
    let body = &text[start..];
    if body.trim().is_empty() {
        return Err(Problem::new(
            0..0,
            "the file is empty",
            "a job starts with `(` and a name; surveys/README.md has one to copy",
        ));
    }
    let options = ron::Options::default().with_recursion_limit(DEEPEST);
    if let Err(error) = options.from_str::<IgnoredAny>(body) {
        return Err(syntax(text, start, &error));
    }
    walk(text)
}

/// The same for a text that is known to be well formed: made from one that was read, by putting
/// values that were read in the place of others.
pub fn walk(text: &str) -> Result<Node<'_>, Problem> {
    let start = if text.starts_with('\u{feff}') { 3 } else { 0 };
    let mut walk = Walk { text, at: start };
    walk.attributes();
    walk.value(0)
}

fn syntax(text: &str, start: usize, error: &ron::error::SpannedError) -> Problem {
    use ron::error::Error;
    // ron's span runs from before the last token to where it stopped; the stop is what to look at.
    let stop = &error.span.end;
    let to = start + offset_of(&text[start..], stop.line, stop.col);
    let end = text[to..].chars().next().map_or(to, |c| to + c.len_utf8());
    let found = match text[to..].chars().next() {
        None => "the end of the file".to_string(),
        Some('\n' | '\r') => "the end of the line".to_string(),
        Some(c) => format!("`{c}`"),
    };
    // Where people write decimals with a comma.
    let before = text[..to].trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = |s: &str, last: bool| {
        let mut c = s.chars();
        let c = if last { c.next_back() } else { c.next() };
        c.is_some_and(|c| c.is_ascii_digit())
    };
    let whole = before.strip_suffix(',').unwrap_or_default();
    let comma = digits(whole, true) && digits(&text[before.len()..], false);
    let (what, allowed) = match &error.code {
        Error::Eof | Error::ExpectedStringEnd | Error::UnclosedBlockComment => (
            "the file breaks off here".to_string(),
            "every bracket, quotation mark and comment that is opened must be closed".to_string(),
        ),
        Error::ExceededRecursionLimit => (
            format!("values are nested more than {DEEPEST} deep"),
            "a job nests about ten deep: look for brackets that are not closed".to_string(),
        ),
        Error::ExpectedComma => (
            format!("expected a comma or a closing bracket, found {found}"),
            "fields and list items are separated by commas; a value with a unit goes in quotation marks, such as \"5.29 ft\""
                .to_string(),
        ),
        Error::TrailingCharacters => (
            format!("more text after the end of the job: {found}"),
            "one job in one pair of brackets, and comments".to_string(),
        ),
        Error::ExpectedMapColon => (
            format!("expected a colon after the field's name, found {found}"),
            "a field is written `name: value`".to_string(),
        ),
        Error::UnexpectedChar('−' | '–' | '—') => (
            "a dash that is no minus sign".to_string(),
            "outside quotation marks a minus is the plain `-` of the keyboard".to_string(),
        ),
        Error::UnexpectedChar(c) => (
            format!("unexpected `{}`", c.escape_debug()),
            "a value: a number, text in quotation marks, a word, a [list] or (fields)".to_string(),
        ),
        Error::ExpectedStructLikeEnd => (
            format!("expected a closing bracket `)`, found {found}"),
            "every bracket that is opened must be closed".to_string(),
        ),
        Error::ExpectedArrayEnd => (
            format!("expected a closing bracket `]`, found {found}"),
            "every bracket that is opened must be closed".to_string(),
        ),
        Error::InvalidEscape(why) => (
            format!("a backslash in text that means nothing: {why}"),
            "inside quotation marks an inch mark is written \\\" (or left out after feet: \"5'-3 1/2\")"
                .to_string(),
        ),
        _ if comma => (
            "a number with a comma in it".to_string(),
            "decimals follow a point, as in 1.1; a comma ends a field".to_string(),
        ),
        other => (
            format!("this is not RON: {other}"),
            "see \"How a job file is written\" in surveys/README.md".to_string(),
        ),
    };
    Problem::new(to..end, what, allowed)
}

/// Byte offset of a line and column (characters), both from 1.
fn offset_of(text: &str, line: usize, column: usize) -> usize {
    let mut start = 0;
    for _ in 1..line {
        match text[start..].find('\n') {
            Some(i) => start += i + 1,
            None => return text.len(),
        }
    }
    text[start..]
        .char_indices()
        .nth(column.saturating_sub(1))
        .map_or(text.len(), |(i, _)| start + i)
}

struct Walk<'a> {
    text: &'a str,
    at: usize,
}

/// Reached only if `ron` and the walk disagree.
fn lost(at: usize) -> Problem {
    Problem::new(
        at..at,
        "this value is written in a way that job files do not use",
        "a number, text in quotation marks, a word, a [list] or (fields)",
    )
}

fn is_space(c: char) -> bool {
    c.is_whitespace() || matches!(c, '\u{200E}' | '\u{200F}')
}

impl<'a> Walk<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn eat(&mut self, c: char) -> bool {
        let found = self.peek() == Some(c);
        if found {
            self.at += c.len_utf8();
        }
        found
    }

    fn skip(&mut self, condition: impl Fn(char) -> bool) -> &'a str {
        let rest = self.rest();
        let length = rest.find(|c| !condition(c)).unwrap_or(rest.len());
        self.at += length;
        &rest[..length]
    }

    /// White space and comments; block comments nest.
    fn space(&mut self) {
        loop {
            self.skip(is_space);
            let rest = self.rest();
            if rest.starts_with("//") {
                self.skip(|c| c != '\n');
            } else if rest.starts_with("/*") {
                self.at += block_comment(rest);
            } else {
                return;
            }
        }
    }

    /// `#![enable(implicit_some)]` and the like mean nothing here.
    fn attributes(&mut self) {
        self.space();
        while self.rest().starts_with("#!") {
            match self.rest().find(']') {
                Some(i) => self.at += i + 1,
                None => return,
            }
            self.space();
        }
    }

    fn word(&mut self) -> Option<&'a str> {
        let rest = self.rest();
        if let Some(raw) = rest.strip_prefix("r#")
            && raw.starts_with(|c: char| c.is_alphanumeric() || c == '_')
        {
            self.at += 2;
            return Some(self.skip(|c| c.is_alphanumeric() || matches!(c, '_' | '.' | '+' | '-')));
        }
        rest.starts_with(|c: char| c.is_alphabetic() || c == '_')
            .then(|| self.skip(|c| c.is_alphanumeric() || c == '_'))
    }

    fn value(&mut self, depth: usize) -> Result<Node<'a>, Problem> {
        self.space();
        let start = self.at;
        if depth > DEEPEST + 2 {
            return Err(lost(start));
        }
        let kind = match self.peek() {
            Some('"') => self.text()?,
            Some('(') => self.brackets(None, depth)?,
            Some('[') => {
                self.at += 1;
                Kind::List(self.items(']', depth)?)
            }
            Some('{') => return self.skip_map(),
            Some('\'') => {
                self.at += 1;
                self.eat('\\');
                self.at += self.peek().map_or(0, char::len_utf8);
                self.skip(|c| c != '\'');
                self.eat('\'');
                Kind::Other("a single character in '…'")
            }
            Some(c) if c.is_ascii_digit() || matches!(c, '+' | '-' | '.') => self.number(),
            Some('r') if self.is_raw_text() => self.text()?,
            Some('b') if self.rest().starts_with("b\"") || self.rest().starts_with("b'") => {
                return Err(lost(start));
            }
            Some(_) => match self.word() {
                Some("true") => Kind::Bool(true),
                Some("false") => Kind::Bool(false),
                Some(w) if is_special_number(w) => Kind::Number(special(w)),
                Some(word) => {
                    let end = self.at;
                    self.space();
                    if self.peek() == Some('(') {
                        self.brackets(Some(word), depth)?
                    } else {
                        self.at = end;
                        Kind::Word(word)
                    }
                }
                None => return Err(lost(start)),
            },
            None => return Err(lost(start)),
        };
        Ok(Node {
            span: start..self.at,
            kind,
        })
    }

    fn number(&mut self) -> Kind<'a> {
        let token = self.skip(|c| c.is_ascii_alphanumeric() || matches!(c, '.' | '+' | '-' | '_'));
        if token.contains("..") {
            return Kind::Other("a range");
        }
        let bare = token.trim_start_matches(['+', '-']);
        if is_special_number(bare) {
            let sign = if token.starts_with('-') { -1.0 } else { 1.0 };
            return Kind::Number(sign * special(bare));
        }
        if let Ok(value) = token.parse::<f64>() {
            return Kind::Number(value);
        }
        // Underscores, hexadecimal, type suffixes: as ron reads them.
        match ron::from_str::<ron::Value>(token) {
            Ok(ron::Value::Number(number)) => Kind::Number(number.into_f64()),
            _ => Kind::Other("a number that cannot be read"),
        }
    }

    fn is_raw_text(&self) -> bool {
        let rest = &self.rest()[1..];
        rest.trim_start_matches('#').starts_with('"')
    }

    fn text(&mut self) -> Result<Kind<'a>, Problem> {
        let start = self.at;
        let raw = self.eat('r');
        let hashes = self.skip(|c| c == '#').len();
        self.eat('"');
        let inner = self.at;
        if raw {
            let close = format!("\"{}", "#".repeat(hashes));
            let length = self.rest().find(&close).ok_or_else(|| lost(start))?;
            self.at += length + close.len();
            return Ok(Kind::Text(Cow::Borrowed(&self.text[inner..inner + length])));
        }
        let mut escaped = false;
        let mut plain = true;
        for (i, c) in self.rest().char_indices() {
            match c {
                _ if escaped => escaped = false,
                '\\' => {
                    escaped = true;
                    plain = false;
                }
                '"' => {
                    self.at = inner + i + 1;
                    if plain {
                        return Ok(Kind::Text(Cow::Borrowed(&self.text[inner..inner + i])));
                    }
                    return match ron::from_str::<String>(&self.text[start..self.at]) {
                        Ok(text) => Ok(Kind::Text(Cow::Owned(text))),
                        Err(_) => Err(lost(start)),
                    };
                }
                _ => {}
            }
        }
        Err(lost(start))
    }

    fn items(&mut self, close: char, depth: usize) -> Result<Vec<Node<'a>>, Problem> {
        let mut items = Vec::new();
        loop {
            self.space();
            if self.eat(close) {
                return Ok(items);
            }
            items.push(self.value(depth + 1)?);
            self.space();
            if !self.eat(',') && self.peek() != Some(close) {
                return Err(lost(self.at));
            }
        }
    }

    fn brackets(&mut self, name: Option<&'a str>, depth: usize) -> Result<Kind<'a>, Problem> {
        self.at += 1;
        let inside = self.at;
        self.space();
        let first = self.at;
        let named = self.peek() == Some(')')
            || self.word().is_some() && {
                self.space();
                self.peek() == Some(':')
            };
        self.at = first;
        if !named {
            return Ok(Kind::Tuple {
                name,
                items: self.items(')', depth)?,
            });
        }
        let mut fields = Vec::new();
        loop {
            self.space();
            if self.eat(')') {
                return Ok(Kind::Record {
                    name,
                    fields,
                    inside,
                });
            }
            let start = self.at;
            let name = self.word().ok_or_else(|| lost(start))?;
            let name_span = start..self.at;
            self.space();
            if !self.eat(':') {
                return Err(lost(self.at));
            }
            let value = self.value(depth + 1)?;
            fields.push(Field {
                name,
                name_span,
                value,
            });
            self.space();
            if !self.eat(',') && self.peek() != Some(')') {
                return Err(lost(self.at));
            }
        }
    }

    fn skip_map(&mut self) -> Result<Node<'a>, Problem> {
        Err(Problem::new(
            self.at..self.at + 1,
            "found a map in braces `{ }`",
            "fields stand in round brackets: `(name: \"…\", at: (0, 0))`",
        ))
    }
}

fn is_special_number(word: &str) -> bool {
    matches!(
        word,
        "inf" | "inff32" | "inff64" | "NaN" | "NaNf32" | "NaNf64"
    )
}

fn special(word: &str) -> f64 {
    if word.starts_with("inf") {
        f64::INFINITY
    } else {
        f64::NAN
    }
}

/// The length of the block comment that the text starts with; they nest. One that never ends takes
/// all of it.
pub(crate) fn block_comment(text: &str) -> usize {
    let bytes = text.as_bytes();
    let (mut level, mut i) = (0usize, 0usize);
    while i < bytes.len() {
        if bytes[i..].starts_with(b"/*") {
            level += 1;
            i += 2;
        } else if bytes[i..].starts_with(b"*/") {
            level -= 1;
            i += 2;
            if level == 0 {
                break;
            }
        } else {
            i += 1;
        }
    }
    i
}
