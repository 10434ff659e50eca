//! The findings as a list to read through, worst first.

use super::{Measure, hang, heading};
use crate::findings::{Finding, Severity};
use crate::job::Unit;

pub fn findings(list: &[Finding], unit: Unit, width: usize) -> String {
    let mut out = String::new();
    if list.is_empty() {
        out.push_str("Findings: none\n");
        return out;
    }
    let counts: Vec<String> = [
        (Severity::Error, "error", "errors"),
        (Severity::Warning, "warning", "warnings"),
        (Severity::Caution, "caution", "cautions"),
        (Severity::Note, "note", "notes"),
    ]
    .into_iter()
    .filter_map(|(severity, one, many)| {
        let count = list.iter().filter(|f| f.severity == severity).count();
        (count > 0).then(|| format!("{count} {}", if count == 1 { one } else { many }))
    })
    .collect();
    heading(&mut out, &format!("Findings: {}", counts.join(", ")));
    let mut order: Vec<&Finding> = list.iter().collect();
    order.sort_by_key(|f| f.severity);
    for finding in order {
        let word = match finding.severity {
            Severity::Error => "ERROR",
            Severity::Warning => "Warning",
            Severity::Caution => "Caution",
            Severity::Note => "Note",
        };
        let at = finding.at.map_or(String::new(), |[x, y, _]| {
            let m = Measure(unit);
            format!(" (at x {}, y {})", m.bare(x), m.bare(y))
        });
        let text = format!("{}: {}{at}", finding.place, finding.what);
        hang(&mut out, &format!("{word:<9}"), &text, width);
        if !finding.remedy.is_empty() {
            hang(&mut out, "       →  ", &finding.remedy, width);
        }
    }
    out
}
