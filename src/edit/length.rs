//! A length written as the person would have written it: in the style of what stood there, rounded
//! to what a tape can read. Metres in.
//!
//! Steps: 0.01 ft, 1/8 in, 0.005 m, 0.5 cm, 5 mm, 0.01 yd; finer only where the old text was.

use crate::job::Unit;
use crate::job::tree::{self, Kind};
use crate::units::{self, FOOT, INCH, YARD};

/// The value in the style of `old` (a RON value); without one, a bare number in the job's unit.
pub fn like(metres: f64, old: Option<&str>, unit: Unit) -> String {
    let node = old.and_then(|old| tree::read(old).ok());
    match node.as_ref().map(|n| &n.kind) {
        Some(Kind::Text(text)) if units::parse_length(text, unit).is_ok() => {
            super::typed::quoted(&text_like(metres, text, unit))
        }
        _ => bare(metres, old.map_or(0, decimals_of), unit),
    }
}

/// A bare number in the job's unit, with at least so many decimals of those that count.
fn bare(metres: f64, least: usize, unit: Unit) -> String {
    match unit {
        Unit::Foot => number(metres / FOOT, 0.01, least.min(2)),
        Unit::Metre => number(metres, 0.005, least.min(3)),
    }
}

fn text_like(metres: f64, old: &str, unit: Unit) -> String {
    let old = old.trim();
    let least = decimals_of(old);
    if let Some((_, after)) = old.split_once('\'') {
        let after_feet = after.trim();
        if after_feet.is_empty() {
            return format!("{}'", number(metres / FOOT, 0.01, least.min(2)));
        }
        let between = if after.starts_with('-') {
            "-"
        } else if after.starts_with(' ') {
            " "
        } else {
            ""
        };
        let mark = ["\"", " in", "in"]
            .into_iter()
            .find(|mark| after_feet.ends_with(mark))
            .unwrap_or("");
        let (sign, feet, inches) = feet_inches(metres);
        return format!("{sign}{feet}'{between}{inches}{mark}");
    }
    let at = old
        .find(|c: char| c.is_alphabetic() || matches!(c, '"' | '″' | '”'))
        .unwrap_or(old.len());
    let (figures, suffix) = old.split_at(at);
    let blank = &figures[figures.trim_end().len()..];
    let word: String = suffix.chars().take_while(|c| c.is_alphabetic()).collect();
    // "5 ft 3 1/2 in"
    if suffix.chars().any(|c| c.is_ascii_digit()) {
        let (sign, feet, inches) = feet_inches(metres);
        return format!("{sign}{feet}{blank}{word} {inches} in");
    }
    let figure = match word.to_lowercase().as_str() {
        "" if suffix.is_empty() => return bare(metres, least, unit),
        "ft" | "foot" | "feet" => number(metres / FOOT, 0.01, least.min(2)),
        "" | "in" | "inch" | "inches" if figures.contains('.') => {
            // Liner is measured in thousandths.
            let step = if least >= 3 { 0.001 } else { 0.01 };
            number(metres / INCH, step, least.min(3))
        }
        "" | "in" | "inch" | "inches" => {
            let sign = if metres < 0.0 { "-" } else { "" };
            let (figure, nothing) = eighths((metres.abs() / INCH * 8.0).round());
            format!("{}{figure}", if nothing { "" } else { sign })
        }
        "yd" | "yard" | "yards" => number(metres / YARD, 0.01, least.min(2)),
        "cm" => number(metres * 100.0, 0.5, least.min(1)),
        "mm" if metres.abs() < 0.02 => number(metres * 1000.0, 0.1, least.min(1)),
        "mm" => number(metres * 1000.0, 5.0, 0),
        _ => number(metres, 0.005, least.min(3)),
    };
    format!("{figure}{blank}{suffix}")
}

fn feet_inches(metres: f64) -> (&'static str, String, String) {
    let all = (metres.abs() / INCH * 8.0).round();
    let sign = if metres < 0.0 && all > 0.0 { "-" } else { "" };
    let feet = (all / 96.0).floor();
    (sign, format!("{feet:.0}"), eighths(all - feet * 96.0).0)
}

/// Inches as a whole number and a fraction; whether they are nothing at all.
fn eighths(all: f64) -> (String, bool) {
    let (whole, part) = ((all / 8.0).floor(), (all % 8.0) as usize);
    let part = ["", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"][part.min(7)];
    let text = match (whole > 0.0, part) {
        (_, "") => format!("{whole:.0}"),
        (true, part) => format!("{whole:.0} {part}"),
        (false, part) => part.to_string(),
    };
    (text, all == 0.0)
}

/// Rounded to a step, with no more decimals than it needs and no fewer than `least`.
fn number(value: f64, step: f64, least: usize) -> String {
    let most: usize = match step {
        s if s >= 1.0 => 0,
        s if s >= 0.1 => 1,
        s if s >= 0.01 => 2,
        _ => 3,
    };
    let text = format!("{:.most$}", (value / step).round() * step);
    let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
    let mut part = part.to_string();
    while part.len() > least && part.ends_with('0') {
        part.pop();
    }
    let out = if part.is_empty() {
        whole.to_string()
    } else {
        format!("{whole}.{part}")
    };
    match out.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_string(),
        _ => out,
    }
}

fn decimals_of(text: &str) -> usize {
    text.split_once('.').map_or(0, |(_, rest)| {
        rest.chars().take_while(char::is_ascii_digit).count()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_style_stays() {
        let ft = |feet: f64, old: &str| like(feet * FOOT, Some(old), Unit::Foot);
        for (feet, old, wanted) in [
            (25.537, "25.5", "25.54"),
            (25.5, "25", "25.5"),
            (96.4, "96.40", "96.40"),
            (0.001, "-4", "0"),
            (5.0 + 3.5 / 12.0, "\"4'-0\\\"\"", "\"5'-3 1/2\\\"\""),
            (5.0 + 3.5 / 12.0, "\"4'-0\"", "\"5'-3 1/2\""),
            (-5.5, "\"-6'-0\"", "\"-5'-6\""),
            (5.999, "\"6' 1\\\"\"", "\"6' 0\\\"\""),
            (1.25, "\"4 in\"", "\"15 in\""),
            (0.8, "\"3 1/2 in\"", "\"9 5/8 in\""),
            (0.03, "\"1/4 in\"", "\"3/8 in\""),
            (0.00375, "\"0.045 in\"", "\"0.045 in\""),
            (5.25, "\"3 ft 2 in\"", "\"5 ft 3 in\""),
            (5.257, "\"5 ft\"", "\"5.26 ft\""),
            (5.25, "\"5'\"", "\"5.25'\""),
        ] {
            assert_eq!(ft(feet, old), wanted, "{feet} ft over {old}");
        }
        let m = |metres: f64, old: &str| like(metres, Some(old), Unit::Metre);
        for (metres, old, wanted) in [
            (1.6132, "1.6", "1.615"),
            (49.5, "49.50", "49.50"),
            (0.414, "\"40 cm\"", "\"41.5 cm\""),
            (0.0012, "\"1.2 mm\"", "\"1.2 mm\""),
            (0.113, "\"6 mm\"", "\"115 mm\""),
            (1.6132, "\"2m\"", "\"1.615m\""),
        ] {
            assert_eq!(m(metres, old), wanted, "{metres} m over {old}");
        }
        assert_eq!(like(1.0, None, Unit::Foot), "3.28");
        assert_eq!(like(1.0, Some("\"5 miles\""), Unit::Metre), "1");
    }

    const STYLES: [&str; 15] = [
        "3",
        "3.25",
        "\"5'-3 1/2\"",
        "\"5' 3\\\"\"",
        "\"5'3\"",
        "\"4 in\"",
        "\"3 1/2\\\"\"",
        "\"5.29 ft\"",
        "\"2 yd\"",
        "\"1.61 m\"",
        "\"161 cm\"",
        "\"380 mm\"",
        "\"5 ft 3 in\"",
        "\"-2'-6\"",
        "\"0.5 in\"",
    ];

    proptest! {
        #[test]
        fn what_is_written_reads_back(metres in -400.0f64..400.0, style in 0usize..15, foot: bool) {
            let unit = if foot { Unit::Foot } else { Unit::Metre };
            let text = like(metres, Some(STYLES[style]), unit);
            let node = tree::read(&text).map_err(|p| TestCaseError::fail(p.what))?;
            let back = match &node.kind {
                Kind::Number(n) => units::length_of_number(*n, unit),
                Kind::Text(t) => units::parse_length(t, unit),
                other => panic!("{other:?}"),
            };
            let back = back.map_err(|e| TestCaseError::fail(format!("{text}: {e}")))?;
            // Half the coarsest step, 0.01 yd.
            prop_assert!((back - metres).abs() <= 0.005 * YARD + 1e-9, "{metres} m as {text} is {back}");
            // Written again, it stays.
            prop_assert_eq!(&like(back, Some(&text), unit), &text);
        }
    }
}
