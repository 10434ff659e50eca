//! Text and JSON faces of the plan. They compute nothing: every figure is the plan's.
//!
//! [`figures`] and [`notes`] print in the job's unit for a person at the truck; [`json`] prints SI
//! for machines, every key documented in `KEYS.md` beside it.

mod after;
mod as_built;
mod as_built_json;
mod card;
mod doubts;
mod figures;
mod findings;
mod haul;
mod haul_json;
mod json;
mod measure;
mod notes;
mod soil;
mod soil_json;
mod stakes;
mod stakes_json;
mod takeoff;
mod takeoff_json;
mod water;
mod water_json;
mod water_pipes;

pub use after::{After, after, after_json};
pub use as_built::{as_built, record};
pub use as_built_json::as_built_json;
pub use card::{Card, card};
pub use figures::{figures, ledgers_loads};
pub use findings::findings;
pub use haul::{carried, uncarried};
pub use json::{Extras, json};
pub use measure::Measure;
pub use notes::notes;
pub use soil::soil;
pub use soil_json::soil_json;
pub use stakes::stakes;
pub use stakes_json::stakes_json;
pub use takeoff::takeoff;
pub use takeoff_json::takeoff_json;
pub use water::water;
pub use water_json::water_json;

/// Width that text is laid out for when nothing else is known.
pub const WIDTH: usize = 80;

/// A heading with a rule as long as the words.
fn heading(out: &mut String, words: &str) {
    let lines = wrap(words, WIDTH);
    let longest = lines.iter().map(|l| l.chars().count()).max().unwrap_or(0);
    for line in lines {
        out.push_str(&line);
        out.push('\n');
    }
    out.extend(std::iter::repeat_n('─', longest));
    out.push('\n');
}

/// Breaks text into lines of at most `width` characters, at spaces where there are any.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let width = width.max(8);
    let mut lines = Vec::new();
    for paragraph in text.lines() {
        let mut line = String::new();
        let mut length = 0;
        for word in paragraph.split_whitespace() {
            let letters: Vec<char> = word.chars().collect();
            for (n, piece) in letters.chunks(width).enumerate() {
                let gap = usize::from(length > 0 && n == 0);
                if length > 0 && length + gap + piece.len() > width {
                    lines.push(std::mem::take(&mut line));
                    length = 0;
                } else if gap == 1 {
                    line.push(' ');
                    length += 1;
                }
                line.extend(piece);
                length += piece.len();
            }
        }
        lines.push(line);
    }
    lines
}

/// Writes wrapped text, the first line after `first` and the rest under it.
fn hang(out: &mut String, first: &str, text: &str, width: usize) {
    let indent = first.chars().count();
    for (n, line) in wrap(text, width.saturating_sub(indent)).iter().enumerate() {
        if n == 0 {
            out.push_str(first);
        } else {
            out.extend(std::iter::repeat_n(' ', indent));
        }
        out.push_str(line);
        out.push('\n');
    }
}

/// A table without rules: words to the left, figures to the right, two spaces between.
struct Columns {
    head: Vec<(String, bool)>,
    rows: Vec<Vec<String>>,
}

impl Columns {
    /// Heads of the columns; a head starting with `>` stands over figures.
    fn new<const N: usize>(head: [&str; N]) -> Columns {
        Columns {
            head: head
                .iter()
                .map(|h| match h.strip_prefix('>') {
                    Some(h) => (h.to_string(), true),
                    None => (h.to_string(), false),
                })
                .collect(),
            rows: Vec::new(),
        }
    }

    fn row<const N: usize>(&mut self, cells: [String; N]) {
        self.rows.push(cells.to_vec());
    }

    /// Leaves a column out, by its head.
    fn drop(&mut self, head: &str) {
        let named = head.strip_prefix('>').unwrap_or(head);
        if let Some(k) = self.head.iter().position(|(h, _)| h == named) {
            self.head.remove(k);
            for row in &mut self.rows {
                row.remove(k);
            }
        }
    }

    fn write(&self, out: &mut String, width: usize) {
        let mut table = comfy_table::Table::new();
        table
            .load_style(comfy_table::presets::NOTHING)
            .set_content_arrangement(comfy_table::ContentArrangement::Dynamic)
            .set_width(width.saturating_sub(2).clamp(20, 400) as u16)
            .set_header(self.head.iter().map(|(h, _)| h.as_str()));
        for row in &self.rows {
            table.add_row(row);
        }
        for (k, (_, figures)) in self.head.iter().enumerate() {
            if let Some(column) = table.column_mut(k) {
                column.set_padding((0, if k + 1 < self.head.len() { 2 } else { 0 }));
                if *figures {
                    // Words may be broken to fit; figures may not.
                    column.set_constraint(comfy_table::ColumnConstraint::ContentWidth);
                    column.set_cell_alignment(comfy_table::CellAlignment::Right);
                }
            }
        }
        for line in table.lines() {
            out.push_str("  ");
            out.push_str(line.trim_end());
            out.push('\n');
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_stay_within_the_width() {
        let text = "a wall of twelve feet stands within the setback pneumonoultramicroscopic";
        for width in 8..40 {
            let lines = wrap(text, width);
            assert!(
                lines.iter().all(|l| l.chars().count() <= width),
                "{lines:?}"
            );
            let joined: String = lines.concat().replace(' ', "");
            assert_eq!(joined, text.replace(' ', ""));
        }
    }
}
