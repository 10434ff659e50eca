//! The reduced field book as a table, with the checks under it.

use super::{Columns, Measure, hang, heading};
use crate::job::{Allowed, Job};
use crate::plan::Plan;

pub fn notes(job: &Job, plan: &Plan, width: usize) -> String {
    let m = Measure(job.unit);
    let survey = &plan.survey;
    let mut out = String::new();
    heading(
        &mut out,
        &format!("{} · field book, {}", job.name, m.length_unit()),
    );
    if survey.rows.is_empty() {
        out.push_str(&format!(
            "No level notes; {} known in all three coordinates.\n",
            match job.field_book.points.len() {
                1 => "1 point".to_string(),
                n => format!("{n} points"),
            }
        ));
    } else {
        let mut table = Columns::new([
            "setup", "point", ">back", ">HI", ">inter.", ">fore", ">corr.", ">elev.", "remark",
        ]);
        let cell = |value: Option<f64>| value.map(|v| m.bare(v)).unwrap_or_default();
        let mut last = None;
        for row in &survey.rows {
            let rod = |value: Option<f64>| {
                let mark = if row.inverted { "↑" } else { "" };
                value
                    .map(|v| format!("{mark}{}", m.bare(v)))
                    .unwrap_or_default()
            };
            let setup = if last == Some(&row.setup) && row.backsight.is_none() {
                String::new()
            } else {
                row.setup.clone()
            };
            last = Some(&row.setup);
            table.row([
                setup,
                row.to.clone(),
                rod(row.backsight),
                cell(row.height_of_instrument),
                rod(row.intermediate),
                rod(row.foresight),
                if row.correction.abs() < 1e-9 {
                    String::new()
                } else {
                    m.bare_fine(row.correction)
                },
                cell(row.elevation).to_string(),
                row.remark.clone(),
            ]);
        }
        table.write(&mut out, width);
        let adjusted = survey.rows.iter().any(|r| r.correction.abs() >= 1e-9);
        out.push_str(&format!(
            "  HI: height of instrument, as booked; elevations are {}\n",
            if adjusted { "adjusted" } else { "as booked" }
        ));
        if survey.rows.iter().any(|r| r.inverted) {
            out.push_str("  ↑ rod held upside down: elevation = instrument + reading\n");
        }
    }
    if let Some([readings, levels]) = survey.arithmetic {
        out.push('\n');
        let text = format!(
            "Σ backsights − Σ foresights = {}; last − first = {}: {}",
            m.fine(readings),
            m.fine(levels),
            // The two come by different ways; only rounding may lie between them.
            if (readings - levels).abs() < 1e-6 {
                "agrees"
            } else {
                "DOES NOT AGREE"
            }
        );
        hang(&mut out, "Arithmetic  ", &text, width);
    }
    out.push_str(&closures(plan, m, width));
    for line in allowances(job, plan, m) {
        hang(&mut out, "Allowed     ", &line, width);
    }
    if !survey.residuals.is_empty() {
        out.push('\n');
        heading(&mut out, "Places taped twice");
        for r in &survey.residuals {
            out.push_str(&format!(
                "  shot {}: {} apart\n",
                r.shot,
                m.length(r.distance)
            ));
        }
    }
    if !survey.suspects.is_empty() {
        out.push('\n');
        heading(&mut out, "Suspect readings");
        for s in &survey.suspects {
            let fits = s
                .likely_rod
                .map(|rod| format!("; {} would fit", m.bare(rod)))
                .unwrap_or_default();
            let text = format!("{}, off by {}{fits}", s.slip, m.length(s.off_by));
            hang(&mut out, &format!("  shot {}: ", s.shot), &text, width);
        }
    }
    out
}

/// Where the allowances come from, each way once.
fn allowances(job: &Job, plan: &Plan, m: Measure) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for c in &plan.survey.closures {
        let line = match (job.field_book.allowed, c.distance) {
            (Allowed::Total(_), _) => "so much in all, as the job says".to_string(),
            (Allowed::PerSetup(each), _) => {
                format!("{} × √(number of setups), as the job says", m.fine(each))
            }
            (Allowed::PerRootKm(rate), Some(_)) => {
                format!("{} × √(length of the run in km)", m.fine(rate))
            }
            (Allowed::PerRootKm(_), None) => {
                "3 mm × √(number of setups): common practice, no source; used because not every \
                 sight of the run has its `distance` booked"
                    .to_string()
            }
        };
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    lines
}

/// One line for each run of levels.
pub fn closures(plan: &Plan, m: Measure, width: usize) -> String {
    let mut out = String::new();
    for c in &plan.survey.closures {
        let text = format!(
            "{} to {}, {} setup{}: {} ({} allowed): {}",
            c.from,
            c.to,
            c.setups,
            if c.setups == 1 { "" } else { "s" },
            m.fine(c.misclosure),
            m.fine(c.allowed),
            if c.closes {
                "closes"
            } else {
                "DOES NOT CLOSE, nothing adjusted"
            }
        );
        hang(&mut out, "Closure     ", &text, width);
    }
    if plan.survey.closures.is_empty() && !plan.survey.rows.is_empty() {
        out.push_str("Closure     the notes close on nothing\n");
    }
    out
}
