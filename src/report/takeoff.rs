//! The list of materials, laid out for whoever orders and whoever unloads, in the job's unit.

use super::measure::number;
use super::{Columns, Measure, doubts, findings, hang, heading};
use crate::findings::About;
use crate::job::{Job, Unit};
use crate::plan::{Of, Plan, Takeoff, Trade};
use crate::units::POUND;

/// A figure with its unit: weights in short tons or tonnes.
fn amount(of: Of, value: f64, m: Measure) -> String {
    match of {
        Of::Pieces => number(value, 0),
        Of::Length => format!(
            "{} {}",
            number(value / m.0.metres(), if m.0 == Unit::Foot { 1 } else { 2 }),
            m.length_unit()
        ),
        Of::Area => m.area(value),
        Of::Volume => m.volume(value),
        Of::Weight => match m.0 {
            Unit::Foot => format!("{} ton", number(value / POUND / 2000.0, 1)),
            Unit::Metre => format!("{} t", number(value / 1000.0, 2)),
        },
    }
}

fn range(of: Of, least: f64, most: f64, m: Measure) -> String {
    let (from, to) = (amount(of, least, m), amount(of, most, m));
    if from == to {
        return to;
    }
    let bare = from.split(' ').next().unwrap_or_default();
    format!("{bare} to {to}")
}

/// Where soil to place comes from, by the share of it that is brought in.
fn comes_from(brought_in: f64) -> String {
    match brought_in {
        b if b < 0.005 => "from the dig".into(),
        b if b > 0.995 => "brought in".into(),
        b => format!("{} % brought in", number(100.0 * b, 0)),
    }
}

/// Ends with the errors of the plan that make it doubtful.
pub fn takeoff(job: &Job, plan: &Plan, takeoff: &Takeoff, width: usize) -> String {
    let m = Measure(job.unit);
    let mut out = String::new();
    heading(&mut out, &format!("{}: what to order", job.name));
    let about = if takeoff.items.is_empty() {
        "Nothing to order: the design is empty, or nothing of it can be taken off."
    } else {
        "From the plan's own surfaces. Net is what the work takes; waste is added to it; to order is \
         rounded up to what it is sold in. Stone is ordered by weight, from the lighter to the \
         heavier kind. How each line was got stands below under its number."
    };
    hang(&mut out, "", about, width);
    let mut n = 0;
    let mut hows: Vec<String> = Vec::new();
    for (trade, title) in [
        (Trade::Lining, "Lining"),
        (Trade::Stone, "Stone"),
        (Trade::Wall, "Walls"),
        (Trade::Pipe, "Pipe"),
        (Trade::Soil, "Soil to place"),
        (Trade::Planting, "Mulch"),
        (Trade::Paving, "Paving"),
    ] {
        let items: Vec<_> = takeoff.items.iter().filter(|i| i.trade == trade).collect();
        if items.is_empty() {
            continue;
        }
        out.push('\n');
        heading(&mut out, title);
        let mut table = Columns::new(["", "what", "for", ">net", ">waste", ">to order"]);
        for item in items {
            n += 1;
            hows.push(item.how.clone());
            let dash = || "—".to_string();
            table.row([
                format!("({n})"),
                item.what.clone(),
                item.place.clone(),
                item.net.map_or_else(dash, |a| amount(a.of, a.value, m)),
                if item.net.is_some() {
                    format!("{} %", number(item.waste_percent, 0))
                } else {
                    dash()
                },
                item.order.map_or_else(
                    || item.brought_in.map_or_else(dash, comes_from),
                    |o| range(o.of, o.least, o.most, m),
                ),
            ]);
        }
        table.write(&mut out, width);
    }
    if !hows.is_empty() {
        out.push('\n');
        heading(&mut out, "How each was got");
        for (k, how) in hows.iter().enumerate() {
            hang(
                &mut out,
                &format!("{:>5} ", format!("({})", k + 1)),
                how,
                width,
            );
        }
    }
    for whole in takeoff.sheets.iter().filter(|s| !s.ordered) {
        out.push('\n');
        let side = |v: f64| number(v / m.0.metres(), if m.0 == Unit::Foot { 1 } else { 2 });
        hang(
            &mut out,
            "",
            &format!(
                "Instead of the sheets above, one over {} would be {} × {} {} ({} off the roll{}).",
                whole.place,
                side(whole.long_m),
                side(whole.short_m),
                m.length_unit(),
                m.area(f64::from(whole.widths) * whole.roll_m * whole.cut_m),
                if whole.widths > 1 {
                    format!(", {} widths with seams", whole.widths)
                } else {
                    String::new()
                }
            ),
            width,
        );
    }
    if !takeoff.notes.is_empty() {
        out.push('\n');
        heading(&mut out, "Before ordering");
        for note in &takeoff.notes {
            hang(&mut out, "  ", note, width);
        }
    }
    let doubts = doubts::doubts(plan, &[About::Pump]);
    if !doubts.is_empty() {
        out.push_str("\nTHESE FIGURES ARE DOUBTFUL: mend the plan before ordering by them.\n");
        out.push_str(&findings(&doubts, job.unit, width));
    }
    out
}
