//! One stake at a time, as the person at the rod wants it: few words, large.

use super::Measure;
use super::stakes::change;
use crate::job::{Job, Side};
use crate::plan::{Reading, Stake, Stakes};

/// What is written large for one stake.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    /// As on the stake.
    pub label: String,
    /// The thing and its line.
    pub what: String,
    /// `dig 1'-4 1/2"`; empty where the ground is not known.
    pub change: String,
    /// What the rod reads, each with what it stands on; empty without a level.
    pub rod: Vec<(&'static str, String)>,
    /// How to find the place.
    pub tapes: String,
    /// Elevations, each with what it is.
    pub elevations: Vec<(&'static str, String)>,
}

/// `hi` is the elevation of the line of sight, if a level stands.
pub fn card(job: &Job, all: &Stakes, stake: &Stake, hi: Option<f64>) -> Card {
    let m = Measure(job.unit);
    let p = &stake.place;
    let heights = [
        ("dig to", p.dig),
        ("top of base", p.base),
        ("finished", p.finish),
    ];
    let known = |list: &[(&'static str, Option<f64>)], write: &dyn Fn(f64) -> String| {
        list.iter()
            .filter_map(|&(what, z)| Some((what, write(z?))))
            .collect::<Vec<_>>()
    };
    let rod = |hi: f64, z: f64| match all.reading(hi, z) {
        Reading::Reads(rod) => m.bare(rod),
        Reading::AboveSight(by) => format!("too high by {}: move the level", m.length(by)),
        Reading::BeyondRod(by) => format!("too low by {}: move the level", m.length(by)),
    };
    let mut elevations = vec![("ground as surveyed", p.existing)];
    elevations.extend(heights);
    let name = if stake.name == stake.work {
        stake.work.clone()
    } else {
        format!("{} of {}", stake.name, stake.work)
    };
    // "corners, corner" says nothing more.
    let note = if p.note.is_empty() || stake.part.contains(p.note) {
        String::new()
    } else {
        format!(", {}", p.note)
    };
    Card {
        label: stake.label.clone(),
        what: format!("{name}: {}{note}", stake.part),
        change: p
            .cut()
            .map_or_else(String::new, |cut| change(m, cut, p.dig.is_some())),
        rod: hi.map_or_else(Vec::new, |hi| known(&heights, &|z| rod(hi, z))),
        tapes: tapes(stake, m),
        elevations: known(&elevations, &|z| m.bare(z)),
    }
}

fn tapes(stake: &Stake, m: Measure) -> String {
    if let Some(t) = &stake.tie {
        let side = match t.side {
            Side::Left => "left",
            Side::Right => "right",
        };
        return format!(
            "{} from {}, {} from {}; {side} of {} to {}",
            m.length(t.from_a),
            t.a,
            m.length(t.from_b),
            t.b,
            t.a,
            t.b
        );
    }
    if let Some(o) = &stake.offset {
        let side = if o.offset > 0.0 { "right" } else { "left" };
        return format!(
            "{} along baseline {}, {} to the {side}",
            m.length(o.along),
            o.baseline,
            m.length(o.offset.abs())
        );
    }
    let [x, y] = stake.place.at;
    format!("x {}, y {}", m.length(x), m.length(y))
}
