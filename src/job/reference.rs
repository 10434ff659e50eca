//! The reference table of `surveys/README.md`, from the same declarations that read the file.

use std::fmt::Write as _;

use crate::job::decode::Absent;
use crate::job::soil;

/// Markdown: one heading and one table for every record.
pub fn markdown() -> String {
    let mut out = String::new();
    for record in soil::records() {
        let _ = writeln!(out, "### {}\n\n{}\n", record.label, cell(record.about));
        let _ = writeln!(out, "| field | kind | if left out | meaning | example |");
        let _ = writeln!(out, "| --- | --- | --- | --- | --- |");
        for field in record.fields {
            let absent = match field.absent {
                Absent::Required => "must be given".to_string(),
                Absent::None => "nothing".to_string(),
                Absent::Is(text) => format!("`{text}`"),
            };
            let _ = writeln!(
                out,
                "| `{}` | {} | {absent} | {} | `{}` |",
                field.name,
                cell(&field.kind),
                cell(field.meaning),
                field.example
            );
        }
        out.push('\n');
    }
    out
}

/// A bar would end the cell.
fn cell(text: &str) -> String {
    text.replace('|', "\\|")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::decode::Context;
    use crate::job::tree;

    #[test]
    fn every_example_and_default_can_be_read() {
        for record in soil::records() {
            for field in record.fields {
                let default = match field.absent {
                    Absent::Is(text) => Some(text),
                    _ => None,
                };
                for text in [Some(field.example), default].into_iter().flatten() {
                    let place = format!("{}, `{}`: `{text}`", record.label, field.name);
                    let node = tree::read(text).unwrap_or_else(|p| panic!("{place}: {p:?}"));
                    let mut cx = Context::default();
                    let read = (field.reads)(&node, &mut cx);
                    assert!(read && cx.problems.is_empty(), "{place}: {:?}", cx.problems);
                }
            }
        }
    }

    #[test]
    fn every_field_is_explained() {
        for record in soil::records() {
            assert!(record.about.ends_with('.'), "{}", record.label);
            for field in record.fields {
                let place = format!("{}, `{}`", record.label, field.name);
                assert!(field.meaning.ends_with('.'), "{place}");
                assert!(!field.kind.is_empty(), "{place}");
            }
        }
    }
}
