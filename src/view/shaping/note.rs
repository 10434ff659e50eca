//! The note beside what is held: where it is, and what that comes to. Figures of the last plan.

use crate::edit::Address;
use crate::job::Level;
use crate::view::figures::Figures;
use crate::view::hand::Eye;
use crate::view::work::Work;

use super::drag::Grip;
use super::pools::{Part, Run};
use super::snap::Snapped;
use super::{Shaping, Target, water_of};

impl Shaping {
    /// Lines to write beside the handle; the last ones in accent if something is wrong.
    pub(super) fn note(
        &self,
        grip: &Grip,
        now: [f64; 3],
        eye: &Eye,
        work: &Work,
        figures: Figures,
    ) -> Vec<String> {
        let unit = figures.length_unit();
        let mut lines = Vec::new();
        match &grip.target {
            Target::Water(_) => lines.push(self.water_words(&grip.thing, now[2], work, figures)),
            Target::Corner(..) => lines.push(format!(
                "{}, {} {unit}",
                figures.elevation(now[0]),
                figures.elevation(now[1])
            )),
            Target::Part(_, part) => {
                lines.extend(self.pool_words(&grip.thing, *part, work, figures))
            }
            _ => lines.push(format!(
                "by {}, {} {unit}",
                figures.elevation(now[0] - grip.begun[0]),
                figures.elevation(now[1] - grip.begun[1])
            )),
        }
        lines.extend(resting(grip.snapped.as_ref(), grip.loose));
        if let Some(line) = self.lines.iter().find(|l| l.outline.thing == grip.thing)
            && line.outline.designed
        {
            lines.extend(figures_of(&line.outline.name, eye, figures));
        }
        if work.is_planning() {
            lines.push("working it out …".to_owned());
        }
        lines
    }

    /// What the dragged part of a cascade measures.
    fn pool_words(
        &self,
        thing: &Address,
        part: Part,
        work: &Work,
        figures: Figures,
    ) -> Vec<String> {
        let Some(job) = work.editor.job() else {
            return Vec::new();
        };
        let Some(cascade) = thing.index().and_then(|i| job.design.cascades.get(i)) else {
            return Vec::new();
        };
        let k = Run::pool(part);
        let about = match part {
            Part::Lip(_) => k..k + 2,
            Part::Pool(_) => k.saturating_sub(1)..k + 2,
            Part::Width(_) => k..k + 1,
        };
        let of = |k: usize| cascade.pools.get(k);
        about
            .filter_map(of)
            .map(|pool| match part {
                Part::Width(_) => format!(
                    "{}: lip {} wide",
                    pool.name,
                    figures.elevation_with_unit(pool.lip_width)
                ),
                _ => format!(
                    "{}: {} long",
                    pool.name,
                    figures.elevation_with_unit(pool.length)
                ),
            })
            .collect()
    }

    /// `96.07 ft, 4 in under "pond wall"`, in the job's unit.
    pub(super) fn water_words(
        &self,
        thing: &Address,
        level: f64,
        work: &Work,
        figures: Figures,
    ) -> String {
        let level = format!("water {}", figures.elevation_with_unit(level));
        match water_of(work, thing) {
            Some(Level::BelowCap { wall, by }) => {
                let way = if by < 0.0 { "over" } else { "under" };
                format!("{level}, {} {way} \"{wall}\"", figures.elevation(by.abs()))
            }
            _ => level,
        }
    }
}

/// What a dragged corner rests on, and the key that lets go of it.
fn resting(snapped: Option<&Snapped>, loose: bool) -> Option<String> {
    match snapped {
        Some(snapped) => Some(format!("{}  (Alt: let go)", snapped.rest.words())),
        None => loose.then(|| "Alt: rests on nothing".to_owned()),
    }
}

/// Cut and fill of a thing, the least freeboard, and how many findings there are.
fn figures_of(name: &str, eye: &Eye, figures: Figures) -> Vec<String> {
    let plan = &eye.yard.plan;
    let mine = plan.volumes.by_feature.iter().filter(|v| v.name == name);
    let (mut cut, mut fill, mut any) = (0.0, 0.0, false);
    for v in mine {
        cut += v.cut_bank_m3;
        fill += v.fill_compacted_m3;
        any = true;
    }
    let mut lines = Vec::new();
    if any {
        lines.push(format!(
            "cut {}   fill {} {}",
            figures.soil(cut),
            figures.soil(fill),
            figures.soil_unit()
        ));
    }
    let lowest = plan
        .water
        .iter()
        .filter(|w| w.name == name || !plan.water.iter().any(|w| w.name == name))
        .filter(|w| w.freeboard_min_m.is_finite())
        .min_by(|a, b| a.freeboard_min_m.total_cmp(&b.freeboard_min_m));
    if let Some(water) = lowest {
        lines.push(format!(
            "{}: least freeboard {}",
            water.name,
            figures.elevation_with_unit(water.freeboard_min_m)
        ));
    }
    let findings = plan.findings.len();
    if findings > 0 {
        lines.push(format!("findings {findings}"));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::view::shaping::snap::{Sides, Spot, snap};

    #[test]
    fn a_corner_at_rest_names_the_key_that_lets_go() {
        let spot = Spot {
            at: [1.0, 1.0],
            rest: crate::view::shaping::snap::Rest::Shot("12".into()),
        };
        let near = snap([1.1, 1.0], &[spot], &Sides::default(), 0.3);
        let words = resting(near.as_ref(), false);
        assert_eq!(words.as_deref(), Some("on shot 12  (Alt: let go)"));
        let words = resting(None, true).expect("what Alt does");
        assert!(words.starts_with("Alt"), "{words}");
        assert_eq!(resting(None, false), None);
    }
}
