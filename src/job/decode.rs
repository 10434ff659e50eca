//! From the tree of a job file to values: what every reader shares.
//!
//! A record's fields are declared once, with [`record!`]: name, reader, default, meaning, example.
//! The reading and the reference table in `surveys/README.md` both come from that declaration.
//! Every reader notes what is wrong in the context and goes on, so that one run finds all.

use smallvec::SmallVec;

use crate::job::Unit;
use crate::job::form::Form;
use crate::job::problem::Problem;
use crate::job::seen::Seen;
use crate::job::tree::{Kind, Node, Span, shorten};

/// Problems beyond this many are only counted.
const KEPT: usize = 1000;

/// What the readers share while they read one job.
#[derive(Debug)]
pub struct Context {
    pub unit: Unit,
    pub problems: Vec<Problem>,
    pub more: usize,
    /// The field being read, for messages.
    pub field: &'static str,
    /// The record it is in.
    pub record: &'static str,
    /// Names, references and readings, for the checks at the end.
    pub seen: Seen,
}

impl Default for Context {
    fn default() -> Self {
        Context {
            unit: Unit::Foot,
            problems: Vec::new(),
            more: 0,
            field: "job",
            record: "Job",
            seen: Seen::default(),
        }
    }
}

impl Context {
    pub fn problem(&mut self, span: Span, what: impl Into<String>, allowed: impl Into<String>) {
        if self.problems.len() < KEPT {
            self.problems.push(Problem::new(span, what, allowed));
        } else {
            self.more += 1;
        }
    }

    /// The usual message: this field expects one thing, and here is another.
    pub fn wrong<T>(&mut self, node: &Node, expected: impl AsRef<str>) -> Option<T> {
        let what = format!("`{}`: found {}", self.field, node.describe());
        self.problem(
            node.span.clone(),
            what,
            format!("allowed: {}", expected.as_ref()),
        );
        None
    }
}

/// Reads one kind of value.
pub trait Read {
    type Out;
    /// The kind of value, as the reference table prints it.
    fn says() -> String;
    /// The kind of value, for an editor.
    fn form() -> Form;
    fn read(node: &Node, cx: &mut Context) -> Option<Self::Out>;
    /// What a missing field without a default comes to, if it may be missing.
    fn absent() -> Option<Self::Out> {
        None
    }
}

/// What is still to be checked or noted once a record has been read.
pub trait Check {
    fn open(_cx: &mut Context) {}
    fn check(&self, _fields: &Fields, _cx: &mut Context) {}
}

/// What a field comes to if it is not written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Absent {
    Required,
    /// It is simply not there.
    None,
    /// The same as if this had been written.
    Is(&'static str),
}

/// One field of the reference table.
#[derive(Debug, Clone)]
pub struct FieldDoc {
    pub name: &'static str,
    pub kind: String,
    pub form: Form,
    pub absent: Absent,
    pub meaning: &'static str,
    pub example: &'static str,
    /// Reads a value of this field: for checking the example and the default.
    #[cfg(test)]
    pub reads: fn(&Node, &mut Context) -> bool,
}

/// One record of the reference table.
#[derive(Debug, Clone)]
pub struct RecordDoc {
    pub label: &'static str,
    pub about: &'static str,
    pub fields: Vec<FieldDoc>,
}

pub trait Documented {
    fn doc() -> RecordDoc;
}

/// Declares a record's fields once: for reading and for the reference table.
macro_rules! record {
    ($target:ident as $label:literal: $about:literal {
        $( $field:ident: $reader:ty, $absent:expr, $meaning:literal, $example:literal; )*
    }) => {
        impl $crate::job::decode::Read for $target {
            type Out = $target;

            fn says() -> String {
                concat!("`", $label, "`").to_string()
            }

            fn form() -> $crate::job::form::Form {
                $crate::job::form::Form::Record($label)
            }

            fn read(
                node: &$crate::job::tree::Node,
                cx: &mut $crate::job::decode::Context,
            ) -> Option<$target> {
                use $crate::job::decode::Absent;
                const NAMES: &[&str] = &[$(stringify!($field)),*];
                <$target as $crate::job::decode::Check>::open(cx);
                let fields = $crate::job::decode::Fields::open(node, cx, $label, NAMES)?;
                // All are read, and so all errors found, before any is given up on.
                $( let $field = fields.take::<$reader>(stringify!($field), $absent, cx); )*
                let value = $target { $( $field: $field? ),* };
                $crate::job::decode::Check::check(&value, &fields, cx);
                Some(value)
            }
        }

        impl $crate::job::decode::Documented for $target {
            fn doc() -> $crate::job::decode::RecordDoc {
                use $crate::job::decode::Absent;
                $crate::job::decode::RecordDoc {
                    label: $label,
                    about: $about,
                    fields: vec![$( $crate::job::decode::FieldDoc {
                        name: stringify!($field),
                        kind: <$reader as $crate::job::decode::Read>::says(),
                        form: <$reader as $crate::job::decode::Read>::form(),
                        absent: $absent,
                        meaning: $meaning,
                        example: $example,
                        #[cfg(test)]
                        reads: |node, cx| {
                            <$reader as $crate::job::decode::Read>::read(node, cx).is_some()
                        },
                    } ),*],
                }
            }
        }
    };
}
pub(crate) use record;

/// The fields of one record as they stand in the file.
#[derive(Debug)]
pub struct Fields<'n, 'a> {
    label: &'static str,
    names: &'static [&'static str],
    found: SmallVec<[Option<&'n Node<'a>>; 16]>,
    span: Span,
}

impl<'n, 'a> Fields<'n, 'a> {
    pub fn open(
        node: &'n Node<'a>,
        cx: &mut Context,
        label: &'static str,
        names: &'static [&'static str],
    ) -> Option<Self> {
        let mut found: SmallVec<[Option<&'n Node<'a>>; 16]> =
            SmallVec::from_elem(None, names.len());
        let title = match &node.kind {
            Kind::Record { name, fields, .. } => {
                for field in fields {
                    match names.iter().position(|n| *n == field.name) {
                        None => {
                            unknown_field(cx, field.name, field.name_span.clone(), label, names)
                        }
                        Some(i) if found[i].is_some() => cx.problem(
                            field.name_span.clone(),
                            format!("`{}` is given twice in this {}", field.name, spoken(label)),
                            "each field once",
                        ),
                        Some(i) => found[i] = Some(&field.value),
                    }
                }
                name
            }
            Kind::Tuple { name, items } => {
                if let Some(extra) = items.get(names.len()) {
                    cx.problem(
                        extra.span.clone(),
                        match items.len() - names.len() {
                            1 => format!("this {} has one value too many", spoken(label)),
                            n => format!("this {} has {n} values too many", spoken(label)),
                        },
                        format!(
                            "at most {}, in this order: {}",
                            names.len(),
                            names.join(", ")
                        ),
                    );
                }
                for (slot, item) in found.iter_mut().zip(items) {
                    *slot = Some(item);
                }
                name
            }
            _ => {
                let names = names.join(", ");
                return cx.wrong(node, format!("{label}(…) with the fields {names}"));
            }
        };
        if let Some(title) = title
            && *title != label
        {
            cx.problem(
                node.span.start..node.span.start + title.len(),
                format!("`{}`: found {}(…)", cx.field, shorten(title)),
                format!("allowed: {label}(…), or the brackets alone"),
            );
            return None;
        }
        Some(Fields {
            label,
            names,
            found,
            span: node.span.clone(),
        })
    }

    pub fn take<R: Read>(
        &self,
        name: &'static str,
        absent: Absent,
        cx: &mut Context,
    ) -> Option<R::Out> {
        let outer = std::mem::replace(&mut cx.field, name);
        let outer_record = std::mem::replace(&mut cx.record, self.label);
        let value = match (self.get(name), absent) {
            (Some(node), _) if is_none(node) && absent == Absent::None => R::absent(),
            (Some(node), _) => R::read(node, cx),
            (None, Absent::Required) => {
                cx.problem(
                    self.span.start..self.span.start + 1,
                    format!("this {} has no `{name}`", spoken(self.label)),
                    format!("`{name}` must be given: {}", R::says()),
                );
                None
            }
            (None, Absent::None) => R::absent(),
            (None, Absent::Is(text)) => read_default::<R>(text, cx),
        };
        cx.field = outer;
        cx.record = outer_record;
        value
    }

    fn get(&self, name: &str) -> Option<&'n Node<'a>> {
        let i = self.names.iter().position(|n| *n == name)?;
        self.found.get(i).copied().flatten()
    }

    /// Where a field's value stands; the record itself if it is not written.
    pub fn span(&self, name: &str) -> Span {
        self.get(name)
            .map_or_else(|| self.span.clone(), |node| node.span.clone())
    }

    /// Where item `index` of a list stands.
    pub fn item_span(&self, name: &str, index: usize) -> Span {
        match self.get(name).map(|node| &node.kind) {
            Some(Kind::List(items)) => items.get(index).map(|item| item.span.clone()),
            _ => None,
        }
        .unwrap_or_else(|| self.span(name))
    }

    pub fn whole(&self) -> Span {
        self.span.clone()
    }
}

fn is_none(node: &Node) -> bool {
    matches!(node.kind, Kind::Word("None"))
}

fn unknown_field(
    cx: &mut Context,
    found: &str,
    span: Span,
    label: &'static str,
    names: &[&'static str],
) {
    let hint = did_you_mean(found, names.iter().copied());
    cx.problem(
        span,
        format!(
            "this {} has no field `{}`{hint}",
            spoken(label),
            shorten(found)
        ),
        format!("allowed: {}", names.join(", ")),
    );
}

/// A record as people call it: `NewWall` is a new wall.
pub fn spoken(label: &str) -> String {
    if label == "Xy" {
        return "place (x, y)".to_string();
    }
    let mut out = String::with_capacity(label.len() + 4);
    for c in label.chars() {
        if c.is_uppercase() && !out.is_empty() {
            out.push(' ');
        }
        out.extend(c.to_lowercase());
    }
    out
}

/// `; did you mean `…`?`, if something like it is known.
pub fn did_you_mean<'s>(found: &str, known: impl Iterator<Item = &'s str>) -> String {
    let lower = found.to_lowercase();
    let best = known
        .take(2000)
        .filter_map(|name| {
            let other = name.to_lowercase();
            let likeness = strsim::jaro_winkler(&lower, &other);
            // One slip of the pen; but any two names of one character are one slip apart.
            let one_slip = || lower.len() > 1 && strsim::damerau_levenshtein(&lower, &other) == 1;
            (likeness > 0.82 || one_slip()).then_some((likeness, name))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match best {
        Some((_, name)) => format!("; did you mean `{name}`?"),
        None => String::new(),
    }
}

fn read_default<R: Read>(text: &'static str, cx: &mut Context) -> Option<R::Out> {
    // The commonest are built directly: a large field book has several for each sight.
    let kind = match text {
        "false" => Kind::Bool(false),
        "true" => Kind::Bool(true),
        "\"\"" => Kind::Text("".into()),
        "[]" => Kind::List(Vec::new()),
        _ => match crate::job::tree::read(text) {
            Ok(node) => return R::read(&node, cx),
            Err(problem) => {
                cx.problems.push(problem);
                return None;
            }
        },
    };
    R::read(&Node { span: 0..0, kind }, cx)
}

// ---------------------------------------------------------------- readers of every kind of record

/// A field that may be left out.
pub struct Maybe<R>(std::marker::PhantomData<R>);

impl<R: Read> Read for Maybe<R> {
    type Out = Option<R::Out>;

    fn says() -> String {
        R::says()
    }

    fn form() -> Form {
        R::form()
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Self::Out> {
        match &node.kind {
            Kind::Word("None") => Some(None),
            Kind::Tuple {
                name: Some("Some"),
                items,
            } if items.len() == 1 => R::read(&items[0], cx).map(Some),
            _ => R::read(node, cx).map(Some),
        }
    }

    fn absent() -> Option<Self::Out> {
        Some(None)
    }
}

/// `[…]` of at least `LEAST` things.
pub struct List<R, const LEAST: usize = 0>(std::marker::PhantomData<R>);

impl<R: Read, const LEAST: usize> Read for List<R, LEAST> {
    type Out = Vec<R::Out>;

    fn says() -> String {
        match LEAST {
            0 => format!("list of {}", R::says()),
            n => format!("list of at least {n}: {}", R::says()),
        }
    }

    fn form() -> Form {
        Form::list(R::form(), LEAST)
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Self::Out> {
        let Kind::List(items) = &node.kind else {
            return cx.wrong(node, format!("a list in square brackets: {}", Self::says()));
        };
        if items.len() < LEAST {
            let what = format!("`{}`: found {} in the list", cx.field, items.len());
            cx.problem(
                node.span.clone(),
                what,
                format!("allowed: {}", Self::says()),
            );
            return None;
        }
        let mut whole = true;
        let mut out = Vec::with_capacity(items.len());
        for item in items {
            match R::read(item, cx) {
                Some(value) => out.push(value),
                None => whole = false,
            }
        }
        whole.then_some(out)
    }
}

/// Text in quotation marks, possibly empty.
pub struct Text;

impl Read for Text {
    type Out = String;

    fn says() -> String {
        "text".to_string()
    }

    fn form() -> Form {
        Form::Text
    }

    fn read(node: &Node, cx: &mut Context) -> Option<String> {
        match &node.kind {
            Kind::Text(text) => Some(text.to_string()),
            _ => cx.wrong(node, "text in quotation marks"),
        }
    }
}

pub struct YesNo;

impl Read for YesNo {
    type Out = bool;

    fn says() -> String {
        "`true` or `false`".to_string()
    }

    fn form() -> Form {
        Form::YesNo
    }

    fn read(node: &Node, cx: &mut Context) -> Option<bool> {
        match node.kind {
            Kind::Bool(value) => Some(value),
            _ => cx.wrong(node, "true or false"),
        }
    }
}

/// Declares a reader for an enum whose values are bare words.
macro_rules! words {
    ($reader:ident -> $out:ty { $($word:ident => $value:expr),* $(,)? }) => {
        pub struct $reader;

        impl $crate::job::decode::Read for $reader {
            type Out = $out;

            fn says() -> String {
                [$(concat!("`", stringify!($word), "`")),*].join(" or ")
            }

            fn form() -> $crate::job::form::Form {
                $crate::job::form::Form::Words(&[$(stringify!($word)),*])
            }

            fn read(
                node: &$crate::job::tree::Node,
                cx: &mut $crate::job::decode::Context,
            ) -> Option<$out> {
                use $crate::job::tree::Kind;
                match &node.kind {
                    $( Kind::Word(stringify!($word)) => Some($value), )*
                    Kind::Word(other) => {
                        const WORDS: &[&str] = &[$(stringify!($word)),*];
                        let hint = $crate::job::decode::did_you_mean(other, WORDS.iter().copied());
                        let what = format!("`{}`: found {}{hint}", cx.field, node.describe());
                        cx.problem(node.span.clone(), what, format!("allowed: {}", Self::says()));
                        None
                    }
                    _ => cx.wrong(node, format!("{}, without quotation marks", Self::says())),
                }
            }
        }
    };
}
pub(crate) use words;
