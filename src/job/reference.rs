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
