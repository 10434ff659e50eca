//! Changes of a text, and the layout of lists and records: where an item goes in and what goes out
//! with it. Comments stay; so do the indentation and the comma habits that are found.

use crate::job::tree::{Kind, Node, Span, block_comment};

/// Some bytes of a text replaced by others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Splice {
    /// Where, in bytes.
    pub at: usize,
    /// What stood there.
    pub old: String,
    /// What stands there now.
    pub new: String,
}

impl Splice {
    /// `new` in the place of what stands at `span`.
    pub fn of(text: &str, span: Span, new: impl Into<String>) -> Splice {
        Splice {
            at: span.start,
            old: text.get(span).unwrap_or_default().to_string(),
            new: new.into(),
        }
    }

    /// Makes it.
    pub fn apply(&self, text: &mut String) {
        text.replace_range(self.at..self.at + self.old.len(), &self.new);
    }

    /// Takes it back.
    pub fn undo(&self, text: &mut String) {
        text.replace_range(self.at..self.at + self.new.len(), &self.old);
    }
}

/// What stands between two brackets.
#[derive(Debug)]
pub struct Members {
    /// Just after the opening bracket.
    pub inside: usize,
    /// The closing bracket.
    pub close: usize,
    /// Items, or fields with their names.
    pub spans: Vec<Span>,
    /// What is put in is laid out already.
    pub as_is: bool,
}

impl Members {
    pub fn of(text: &str, node: &Node) -> Option<Members> {
        let close = node.span.end.checked_sub(1)?;
        let (inside, spans) = match &node.kind {
            Kind::List(items) => (
                node.span.start + 1,
                items.iter().map(|n| n.span.clone()).collect(),
            ),
            Kind::Tuple { name, items } => {
                let from = node.span.start + name.map_or(0, str::len);
                let open = after_trivia(text, from);
                (open + 1, items.iter().map(|n| n.span.clone()).collect())
            }
            Kind::Record { fields, inside, .. } => (
                *inside,
                fields
                    .iter()
                    .map(|f| f.name_span.start..f.value.span.end)
                    .collect(),
            ),
            _ => return None,
        };
        Some(Members {
            inside,
            close,
            spans,
            as_is: false,
        })
    }

    /// Puts an item in as number `index`. `rows`: the first item of an empty list gets a line of
    /// its own. Lines inside the item are indented with it.
    pub fn insert(&self, text: &str, index: usize, item: &str, rows: bool) -> Vec<Splice> {
        let put = |at: usize, new: String| Splice::of(text, at..at, new);
        let line = newline(text);
        let Some(first) = self.spans.first() else {
            return self.insert_first(text, item, rows);
        };
        if index == 0 {
            if !has_newline(text, self.inside..first.start) {
                let item = self.indented(item, &indent_at(text, first.start), line);
                return vec![put(first.start, format!("{item}, "))];
            }
            let indent = self.indent_of(text, 0);
            let (at, _) = after_remark(text, self.inside);
            let item = self.indented(item, &indent, line);
            return vec![put(at, format!("{line}{indent}{item},"))];
        }
        let index = index.min(self.spans.len());
        let before = &self.spans[index - 1];
        let next = self.spans.get(index);
        let broken = match next {
            Some(next) => has_newline(text, before.end..next.start),
            None if index > 1 => has_newline(text, self.spans[index - 2].end..before.start),
            None => has_newline(text, self.inside..before.start),
        };
        let comma = comma_after(text, before.end, self.close);
        let (at, remark) = after_remark(text, comma.map_or(before.end, |c| c + 1));
        let own_line = broken || remark;
        let indent = if own_line {
            self.indent_of(text, index - 1)
        } else {
            indent_at(text, before.start)
        };
        let item = self.indented(item, &indent, line);
        let lead = if own_line {
            format!("{line}{indent}")
        } else {
            " ".to_string()
        };
        match comma {
            Some(_) => vec![put(at, format!("{lead}{item},"))],
            None if at == before.end => vec![put(at, format!(",{lead}{item}"))],
            None => vec![
                put(before.end, ",".to_string()),
                put(at, format!("{lead}{item}")),
            ],
        }
    }

    fn insert_first(&self, text: &str, item: &str, rows: bool) -> Vec<Splice> {
        let line = newline(text);
        let outer = indent_at(text, self.inside);
        let inner = format!("{outer}{}", indent_unit(text));
        let between = &text[self.inside..self.close];
        let blank = between.trim().is_empty();
        let (span, new) = if blank && rows {
            let item = self.indented(item, &inner, line);
            (
                self.inside..self.close,
                format!("{line}{inner}{item},{line}{outer}"),
            )
        } else if blank {
            (self.inside..self.close, self.indented(item, &outer, line))
        } else if between.contains('\n') {
            // A remark stands inside: it stays above.
            let own = indent_at(text, self.close);
            let inner = format!("{own}{}", indent_unit(text));
            let item = self.indented(item, &inner, line);
            let first_on_line = is_first_on_line(text, self.close);
            let lead = if first_on_line {
                indent_unit(text)
            } else {
                format!("{line}{inner}")
            };
            (self.close..self.close, format!("{lead}{item},{line}{own}"))
        } else {
            let item = self.indented(item, &outer, line);
            (self.close..self.close, format!(" {item}"))
        };
        vec![Splice::of(text, span, new)]
    }

    /// Takes item `index` out. Comments beside and above it stay.
    pub fn remove(&self, text: &str, index: usize) -> Vec<Splice> {
        let Some(span) = self.spans.get(index).cloned() else {
            return Vec::new();
        };
        let cut = |span: Span| Splice::of(text, span, "");
        let comma = comma_after(text, span.end, self.close);
        let end = match comma {
            // A comment between the item and its comma stays.
            Some(c) if text[span.end..c].trim().is_empty() => c + 1,
            _ => span.end,
        };
        let mut out = Vec::new();
        if let Some(c) = comma
            && end == span.end
        {
            out.push(cut(c..c + 1));
        }
        let last = index + 1 == self.spans.len();
        let before = index.checked_sub(1).map(|i| self.spans[i].clone());
        // Without a comma after the last item, the one before it has to go with it.
        if last
            && comma.is_none()
            && let Some(before) = &before
            && let Some(c) = comma_after(text, before.end, span.start)
        {
            if text[before.end..span.start].trim() == "," && !is_first_on_line(text, self.close) {
                return vec![cut(before.end..span.end)];
            }
            out.push(cut(c..c + 1));
        }
        let after = end + blanks(&text[end..]);
        let ends_line = text[after..].starts_with(['\n', '\r']) || after == text.len();
        let line_start = line_start(text, span.start);
        let span = if is_first_on_line(text, span.start) && ends_line {
            let stop = text[after..]
                .find('\n')
                .map_or(text.len(), |i| after + i + 1);
            line_start..stop
        } else if is_first_on_line(text, span.start) || (!last && !ends_line) {
            span.start..after.min(self.close)
        } else {
            let kept = text[..span.start].trim_end_matches([' ', '\t']).len();
            kept.max(self.inside)..end
        };
        out.push(cut(span));
        out.sort_by_key(|s| s.at);
        out
    }

    /// Moves item `from` to be number `to`. If every item has lines of its own, its comments move
    /// with it; otherwise the items change places and all else stays.
    pub fn shift(&self, text: &str, from: usize, to: usize) -> Vec<Splice> {
        let (low, high) = (from.min(to), from.max(to));
        if from == to || high >= self.spans.len() {
            return Vec::new();
        }
        let pieces: Vec<Span> = self
            .lines(text, low, high)
            .unwrap_or_else(|| self.spans[low..=high].to_vec());
        let mut order: Vec<usize> = (0..pieces.len()).collect();
        let moved = order.remove(from - low);
        order.insert(to - low, moved);
        pieces
            .iter()
            .zip(order)
            .filter(|(slot, taken)| text[(*slot).clone()] != text[pieces[*taken].clone()])
            .map(|(slot, taken)| Splice::of(text, slot.clone(), &text[pieces[taken].clone()]))
            .collect()
    }

    /// The whole lines of items `low` to `high`, each with the comments above and beside it.
    fn lines(&self, text: &str, low: usize, high: usize) -> Option<Vec<Span>> {
        let mut start = match low.checked_sub(1) {
            None => line_end(text, self.inside)?,
            Some(before) => self.end_of_lines(text, before)?,
        };
        let mut out = Vec::new();
        for i in low..=high {
            if !is_first_on_line(text, self.spans[i].start) || self.spans[i].start < start {
                return None;
            }
            let end = self.end_of_lines(text, i)?;
            out.push(start..end);
            start = end;
        }
        Some(out)
    }

    /// Just after the line on which an item and its comma end, if nothing else follows there.
    fn end_of_lines(&self, text: &str, index: usize) -> Option<usize> {
        let comma = comma_after(text, self.spans[index].end, self.close)?;
        line_end(text, comma + 1)
    }

    fn indented(&self, item: &str, indent: &str, line: &str) -> String {
        if self.as_is {
            item.to_string()
        } else {
            item.replace('\n', &format!("{line}{indent}"))
        }
    }

    fn indent_of(&self, text: &str, index: usize) -> String {
        let own =
            |span: &Span| is_first_on_line(text, span.start).then(|| indent_at(text, span.start));
        own(&self.spans[index])
            .or_else(|| self.spans.get(index + 1).and_then(own))
            .or_else(|| self.spans.iter().find_map(own))
            .unwrap_or_else(|| format!("{}{}", indent_at(text, self.inside), indent_unit(text)))
    }
}

/// The start of the next line, if from here to there are only blanks and comments.
fn line_end(text: &str, at: usize) -> Option<usize> {
    let (at, _) = after_remark(text, at);
    let at = at + blanks(&text[at..]);
    if text[at..].starts_with("\r\n") {
        Some(at + 2)
    } else {
        text[at..].starts_with('\n').then_some(at + 1)
    }
}

fn has_newline(text: &str, span: Span) -> bool {
    text.get(span).is_some_and(|between| between.contains('\n'))
}

/// How lines end in this text.
pub fn newline(text: &str) -> &'static str {
    match text.find('\n') {
        Some(i) if text[..i].ends_with('\r') => "\r\n",
        _ => "\n",
    }
}

/// One step of indentation in this text.
pub fn indent_unit(text: &str) -> String {
    text.lines()
        .find(|line| line.starts_with([' ', '\t']) && !line.trim().is_empty())
        .map_or("    ".to_string(), |line| {
            line[..line.len() - line.trim_start_matches([' ', '\t']).len()].to_string()
        })
}

fn line_start(text: &str, at: usize) -> usize {
    text[..at].rfind('\n').map_or(0, |i| i + 1)
}

/// The blanks at the start of the line.
pub fn indent_at(text: &str, at: usize) -> String {
    let line = &text[line_start(text, at)..];
    line[..blanks(line)].to_string()
}

fn is_first_on_line(text: &str, at: usize) -> bool {
    text[line_start(text, at)..at].trim().is_empty()
}

fn blanks(text: &str) -> usize {
    text.len() - text.trim_start_matches([' ', '\t']).len()
}

/// Past white space and comments.
pub fn after_trivia(text: &str, mut at: usize) -> usize {
    loop {
        let rest = &text[at..];
        let space = rest.len() - rest.trim_start_matches(is_space).len();
        at += space;
        let rest = &text[at..];
        if rest.starts_with("//") {
            at += rest.find('\n').unwrap_or(rest.len());
        } else if rest.starts_with("/*") {
            at += block_comment(rest);
        } else {
            return at;
        }
    }
}

fn is_space(c: char) -> bool {
    c.is_whitespace() || matches!(c, '\u{200E}' | '\u{200F}')
}

/// The comma after an item, if there is one before `limit`.
fn comma_after(text: &str, at: usize, limit: usize) -> Option<usize> {
    let next = after_trivia(text, at);
    (next < limit && text[next..].starts_with(',')).then_some(next)
}

/// Past the comments that stand on the same line; whether one runs to the line's end.
fn after_remark(text: &str, at: usize) -> (usize, bool) {
    let mut end = at;
    let mut look = at;
    loop {
        look += blanks(&text[look..]);
        let rest = &text[look..];
        if rest.starts_with("//") {
            let length = rest.find('\n').unwrap_or(rest.len());
            let length = rest[..length].trim_end_matches('\r').len();
            return (look + length, true);
        }
        if !rest.starts_with("/*") {
            return (end, false);
        }
        let length = block_comment(rest);
        if rest[..length].contains('\n') {
            return (end, false);
        }
        look += length;
        end = look;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::tree;

    fn with(text: &str, change: impl Fn(&Members) -> Vec<Splice>) -> String {
        let node = tree::read(text).unwrap_or_else(|p| panic!("{text}: {p:?}"));
        let members = Members::of(text, &node).expect("brackets");
        let splices = change(&members);
        let mut out = text.to_string();
        for splice in splices.iter().rev() {
            splice.apply(&mut out);
        }
        tree::read(&out).unwrap_or_else(|p| panic!("{out}: {p:?}"));
        let mut back = out.clone();
        for splice in &splices {
            splice.undo(&mut back);
        }
        assert_eq!(back, text);
        out
    }

    #[track_caller]
    fn put(text: &str, index: usize, wanted: &str) {
        assert_eq!(with(text, |m| m.insert(text, index, "9", false)), wanted);
    }

    #[track_caller]
    fn cut(text: &str, index: usize, wanted: &str) {
        assert_eq!(with(text, |m| m.remove(text, index)), wanted);
    }

    #[track_caller]
    fn shift(text: &str, from: usize, to: usize, wanted: &str) {
        assert_eq!(with(text, |m| m.shift(text, from, to)), wanted);
    }

    #[test]
    fn items_go_in_as_the_list_is_written() {
        put("[]", 0, "[9]");
        put("[ ]", 0, "[9]");
        put("[1]", 0, "[9, 1]");
        put("[1]", 1, "[1, 9]");
        put("[1,]", 1, "[1, 9,]");
        put("[1, 2]", 1, "[1, 9, 2]");
        put("[1,2]", 1, "[1, 9,2]");
        put("[1, /* one */ 2]", 1, "[1, /* one */ 9, 2]");
        put("[\n  1,\n  2,\n]", 2, "[\n  1,\n  2,\n  9,\n]");
        put("[\n  1,\n  2\n]", 2, "[\n  1,\n  2,\n  9\n]");
        put("[\n  1, // one\n  2\n]", 1, "[\n  1, // one\n  9,\n  2\n]");
        put("[\n  1,\n  2 // two\n]", 2, "[\n  1,\n  2, // two\n  9\n]");
        put("[ // all\n  1,\n]", 0, "[ // all\n  9,\n  1,\n]");
        put("[\r\n\t1,\r\n]", 1, "[\r\n\t1,\r\n\t9,\r\n]");
        put("[1, // one\n]", 1, "[1, // one\n    9,\n]");
        put("[ // none\n]", 0, "[ // none\n    9,\n]");
        put("[/* none */]", 0, "[/* none */ 9]");
        put("[\n  1, 2,\n  3, 4,\n]", 4, "[\n  1, 2,\n  3, 4, 9,\n]");
        let text = "(\n  a: [],\n)";
        let node = tree::read(text).expect("a record");
        let Kind::Record { fields, .. } = &node.kind else {
            panic!("{node:?}");
        };
        let members = Members::of(text, &fields[0].value).expect("a list");
        let mut out = text.to_string();
        members.insert(text, 0, "(1,\n2)", true)[0].apply(&mut out);
        assert_eq!(out, "(\n  a: [\n    (1,\n    2),\n  ],\n)");
    }

    #[test]
    fn items_go_out_and_comments_stay() {
        cut("[1]", 0, "[]");
        cut("[1,]", 0, "[]");
        cut("[1, 2, 3]", 0, "[2, 3]");
        cut("[1, 2, 3]", 1, "[1, 3]");
        cut("[1, 2, 3]", 2, "[1, 2]");
        cut("[1, 2,]", 1, "[1,]");
        cut("[\n  1,\n  2,\n]", 1, "[\n  1,\n]");
        cut("[\n  1,\n  2\n]", 1, "[\n  1\n]");
        cut("[\n  1,\n  2]", 1, "[\n  1]");
        cut("[\n  // one\n  1,\n  2,\n]", 0, "[\n  // one\n  2,\n]");
        cut("[\n  1, // one\n  2,\n]", 0, "[\n  // one\n  2,\n]");
        cut("[\n  1, // one\n  2\n]", 1, "[\n  1 // one\n]");
        cut("[1 /* one */, 2]", 0, "[/* one */ 2]");
        cut("[1, /* two */ 2]", 1, "[1 /* two */]");
        cut("[1, 2,\n 3]", 1, "[1,\n 3]");
        cut("(\r\n\ta: 1,\r\n\tb: 2,\r\n)", 0, "(\r\n\tb: 2,\r\n)");
    }

    #[test]
    fn items_change_places() {
        shift("[1, 2, 3]", 0, 2, "[2, 3, 1]");
        shift("[1, /* x */ 2, 3]", 2, 0, "[3, /* x */ 1, 2]");
        shift(
            "[\n  // one\n  1, // 1\n  2,\n  // three\n  3,\n]",
            0,
            2,
            "[\n  2,\n  // three\n  3,\n  // one\n  1, // 1\n]",
        );
        shift("[\n  1, // 1\n  2\n]", 0, 1, "[\n  2, // 1\n  1\n]");
    }
}
