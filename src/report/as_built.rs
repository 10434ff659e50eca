//! As-built: each visit with its shots against the design, its volumes, and a line for the record.

use super::{Columns, Measure, findings, hang, heading};
use crate::job::{Against, Job, Unit, Walls};
use crate::plan::{Built, BuiltVolumes, Trust, Verdict};

/// Less than this (m³, a bucket) of soil dug again is not spoken of.
const TOLD: f64 = 0.01;

pub fn as_built(job: &Job, visits: &[Built], width: usize) -> String {
    let m = Measure(job.unit);
    let mut out = String::new();
    heading(
        &mut out,
        &format!("{} · as-built, {}", job.name, m.length_unit()),
    );
    if visits.is_empty() {
        out.push_str("Nothing was shot after digging yet: the job has no visits in `as_built`.\n");
        return out;
    }
    out.push_str("For the record\n");
    for visit in visits {
        hang(&mut out, "  ", &record(visit, job.unit), width);
    }
    for visit in visits {
        out.push('\n');
        let date = if visit.date.is_empty() {
            String::new()
        } else {
            format!(" · {}", visit.date)
        };
        let against = match visit.against {
            Against::Dug => "as dug, before lining",
            Against::Finished => "as finished",
        };
        heading(
            &mut out,
            &format!("{}{date} · against the design {against}", stage(visit)),
        );
        hang(&mut out, "Levels    ", &levels(visit, m), width);
        if let Some(walls) = walls(visit.walls) {
            hang(&mut out, "Walls     ", walls, width);
        }
        if !visit.shots.is_empty() {
            out.push('\n');
            shots(&mut out, visit, m, width);
        }
        if let Some(v) = &visit.volumes {
            out.push('\n');
            for (word, text) in volumes(visit, v, m) {
                hang(&mut out, word, &text, width);
            }
        }
        out.push('\n');
        out.push_str(&findings(&visit.findings, job.unit, width));
    }
    out
}

/// Each volume with the word that stands before it.
fn volumes(visit: &Built, v: &BuiltVolumes, m: Measure) -> Vec<(&'static str, String)> {
    let volume = |v: f64| m.volume(v);
    // A job without stages, and its first stage, begin on the ground as surveyed.
    let [begun, under] = if visit.later {
        [
            "the ground that the stages before it leave by the design",
            "the ground begun on",
        ]
    } else {
        ["the ground as surveyed"; 2]
    };
    let again = |v: f64, words: &str| {
        if v > TOLD {
            format!("; and {} compacted {words}", volume(v))
        } else {
            String::new()
        }
    };
    let mut list = vec![
        (
            "Shot      ",
            format!(
                "{} of ground, in plan; volumes are over it alone",
                m.area(v.area_m2)
            ),
        ),
        ("Begun on  ", begun.to_string()),
        (
            "Dug       ",
            format!(
                "{} bank so far{}",
                volume(v.stage_dug_m3),
                again(
                    v.stage_redug_m3,
                    "that earlier stages placed there, dug again"
                )
            ),
        ),
        (
            "Placed    ",
            format!("{} compacted so far", volume(v.stage_placed_m3)),
        ),
    ];
    if visit.later {
        list.push((
            "In all    ",
            format!(
                "{} bank dug and {} compacted placed since the survey, by all stages so far",
                volume(v.dug_m3),
                volume(v.placed_m3)
            ),
        ));
    }
    list.extend([
        (
            "To dig    ",
            format!(
                "{} bank, undisturbed soil over the design{}",
                volume(v.to_dig_m3),
                again(v.to_redig_m3, "that earlier stages placed there")
            ),
        ),
        (
            "To place  ",
            format!(
                "{} compacted, from the ground as shot up to the design",
                volume(v.to_place_m3)
            ),
        ),
        (
            "Too much  ",
            format!(
                "{} compacted, placed over the design",
                volume(v.to_take_off_m3)
            ),
        ),
        (
            "Over-dug  ",
            format!(
                "{} compacted to fill back, under the design and {under}",
                volume(v.over_dug_m3)
            ),
        ),
    ]);
    list
}

fn stage(visit: &Built) -> String {
    if visit.stage.is_empty() {
        "All stages".into()
    } else {
        format!("Stage {}", visit.stage)
    }
}

fn levels(visit: &Built, m: Measure) -> String {
    let figures = || match (visit.misclosure, visit.allowed) {
        (Some(off), Some(allowed)) => format!(" by {} ({} allowed)", m.fine(off), m.fine(allowed)),
        _ => String::new(),
    };
    match visit.trust {
        Trust::Closes => format!("close, off{}", figures()),
        Trust::Points => "none: points given in all three coordinates".into(),
        Trust::Unchecked => {
            "close on nothing: figures below are UNCHECKED, and nothing is called right for good"
                .into()
        }
        Trust::DoesNotClose => {
            format!(
                "DO NOT CLOSE, off{}: no figure is told from them",
                figures()
            )
        }
        Trust::Nothing => "none that lead to an elevation and a place".into(),
    }
}

/// What the design of a wall is while it is being built; none where it stands as anyone would take it to.
fn walls(walls: Walls) -> Option<&'static str> {
    match walls {
        Walls::Built => None,
        Walls::Trench => Some(
            "base trenches of this stage dug and empty: shots in them are held to their bottoms",
        ),
        Walls::Base => {
            Some("base courses of this stage laid: shots on them are held to their tops")
        }
    }
}

fn shots(out: &mut String, visit: &Built, m: Measure, width: usize) {
    let mut table = Columns::new([
        "shot",
        "on",
        ">as built",
        ">design",
        ">over, under",
        ">allowed",
        "verdict",
    ]);
    let bare = |v: Option<f64>| v.map_or("–".into(), |v| m.bare(v));
    for s in &visit.shots {
        let on = match (s.thing.as_str(), s.part.as_str()) {
            ("", _) => "–".to_string(),
            (thing, "") => thing.to_string(),
            (thing, part) => format!("{thing}, {part}"),
        };
        let over = s.over.map_or("–".into(), |v| {
            let text = m.bare(v);
            // A sign that cannot be overlooked, also on what lies over.
            if v > 0.0 && text.contains(|c: char| ('1'..='9').contains(&c)) {
                format!("+{text}")
            } else {
                text
            }
        });
        let slip = if s.slip { ", misread?" } else { "" };
        table.row([
            s.name.clone(),
            on,
            m.bare(s.elevation),
            bare(s.design),
            over,
            format!("±{}", m.bare(s.tolerance)),
            format!("{}{slip}", s.verdict.words()),
        ]);
    }
    table.write(out, width);
    hang(
        out,
        "  ",
        "Over and under are plumb; what is allowed is square to the face, so on a slope more is right",
        width,
    );
}

/// One line that can go into the diary of the job.
pub fn record(visit: &Built, unit: Unit) -> String {
    let m = Measure(unit);
    let name = if visit.date.is_empty() {
        stage(visit)
    } else {
        format!("{} ({})", stage(visit), visit.date)
    };
    match visit.trust {
        Trust::DoesNotClose => {
            return format!("{name}: levels DO NOT CLOSE; not held against the design");
        }
        Trust::Nothing => return format!("{name}: no shot with an elevation and a place"),
        _ => {}
    }
    if visit.shots.is_empty() {
        return format!("{name}: not held against the design; see its findings");
    }
    let mut parts = vec![format!(
        "{} of {} shots right",
        visit.count(Verdict::Right),
        visit.shots.len()
    )];
    for verdict in [
        Verdict::ToDig,
        Verdict::OverDug,
        Verdict::ToFill,
        Verdict::TooHigh,
        Verdict::TooLow,
        Verdict::Outside,
    ] {
        let list = visit.shots.iter().filter(|s| s.verdict == verdict);
        let most = list
            .clone()
            .filter_map(|s| s.over)
            .map(f64::abs)
            .fold(0.0, f64::max);
        match list.count() {
            0 => {}
            n if most > 0.0 => parts.push(format!(
                "{n} {} (at most {})",
                verdict.words(),
                m.length(most)
            )),
            n => parts.push(format!("{n} {}", verdict.words())),
        }
    }
    if let Some(v) = &visit.volumes {
        // What digs tells of its digging, what is placed of that; a stage may do both. A hundredth of
        // the other is what shots leave between them.
        let dug = v.stage_dug_m3 + v.stage_redug_m3;
        let digs = dug + v.to_dig_m3 + v.to_redig_m3;
        let places = v.stage_placed_m3 + v.to_place_m3;
        if digs >= 0.01 * places {
            let again = |v: f64| match v > TOLD {
                true => format!(" and {} of placed soil", m.volume(v)),
                false => String::new(),
            };
            parts.push(format!(
                "dug {} bank{} so far, {} bank{} to dig",
                m.volume(v.stage_dug_m3),
                again(v.stage_redug_m3),
                m.volume(v.to_dig_m3),
                again(v.to_redig_m3)
            ));
        }
        if places > 0.01 * digs {
            parts.push(format!(
                "placed {} compacted so far, {} to place",
                m.volume(v.stage_placed_m3),
                m.volume(v.to_place_m3)
            ));
        }
    }
    let end = match visit.trust {
        Trust::Unchecked => ". UNCHECKED: its levels close on nothing",
        _ if visit.accepted() => ". All right",
        _ => "",
    };
    format!("{name}: {}{end}", parts.join("; "))
}
