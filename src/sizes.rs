//! Sizes that no back yard has: most often a wrong `unit`, or inches written as bare numbers. The
//! limits are common practice, no source. Metres.

use crate::findings::{Finding, Severity};
use crate::job::{Crest, Job, Unit};
use crate::units::{FOOT, format_length};

/// So many are named; the rest are counted.
const NAMED: usize = 5;
/// Readings on a metric rod stay under this, m.
const METRIC_ROD: f64 = 5.0;

pub fn of(job: &Job) -> Vec<Finding> {
    large(job).into_iter().chain(readings(job)).collect()
}

/// Names, fields and sizes over what such a thing has in a yard.
fn large(job: &Job) -> Option<Finding> {
    let d = &job.design;
    let mut found: Vec<(&str, &str, f64)> = Vec::new();
    let mut look = |name, field, size: f64, most: f64| {
        if size > most {
            found.push((name, field, size));
        }
    };
    for b in &d.basins {
        look(&b.name, "floor_depth", b.floor_depth, 6.0);
        for shelf in &b.shelves {
            look(&b.name, "shelf width", shelf.width, 6.0);
        }
        for layer in &b.lining {
            look(&layer.name, "thickness", layer.thickness, 1.0);
        }
        for pit in &b.pits {
            look(&pit.name, "depth", pit.depth, 6.0);
        }
    }
    for c in &d.cascades {
        for pool in &c.pools {
            look(&pool.name, "drop", pool.drop, 6.0);
            look(&pool.name, "depth", pool.depth, 3.0);
            look(&pool.name, "width", pool.width, 20.0);
        }
        for layer in &c.lining {
            look(&layer.name, "thickness", layer.thickness, 1.0);
        }
    }
    for w in &d.walls {
        look(&w.name, "thickness", w.thickness, 2.0);
        look(&w.name, "embedment", w.embedment, 3.0);
        look(&w.name, "base_width", w.base_width, 5.0);
    }
    for p in &d.pads {
        look(&p.name, "build_up", p.build_up, 1.5);
    }
    for b in &d.berms {
        if let Crest::Above(by) = b.crest {
            look(&b.name, "crest", by, 6.0);
        }
    }
    for t in &d.trenches {
        look(&t.name, "depth", t.depth, 6.0);
        look(&t.name, "width", t.width, 6.0);
    }
    for r in &d.ramps {
        look(&r.name, "width", r.width, 15.0);
    }
    look("topsoil", "topsoil_depth", job.soil.topsoil_depth, 1.5);
    if found.is_empty() {
        return None;
    }
    let named: Vec<String> = found
        .iter()
        .take(NAMED)
        .map(|(name, field, size)| format!("{name} `{field}` {}", format_length(*size, job.unit)))
        .collect();
    let more = match found.len().saturating_sub(NAMED) {
        0 => String::new(),
        n => format!(", and {n} more"),
    };
    Some(Finding::new(
        Severity::Warning,
        "sizes",
        format!(
            "larger than such things are in a yard: {}{more}",
            named.join(", ")
        ),
        format!(
            "is {} right? Inches are written with their unit, such as \"24 in\"",
            unit_as_written(job.unit)
        ),
    ))
}

/// A job in feet whose rod readings are all whole thousandths under 5 was likely read in metres.
fn readings(job: &Job) -> Option<Finding> {
    if job.unit != Unit::Foot {
        return None;
    }
    let whole = |value: f64, parts: f64| {
        let scaled = value * parts;
        (scaled - scaled.round()).abs() < 1e-6 * parts
    };
    let rods: Vec<f64> = job
        .field_book
        .setups
        .iter()
        .flat_map(|s| std::iter::once(&s.backsight).chain(&s.sights))
        .map(|s| s.rod / FOOT)
        .collect();
    let fine: Vec<f64> = rods
        .iter()
        .copied()
        // Half hundredths are read on a foot rod as well, and so are sixteenths of an inch.
        .filter(|&r| whole(r, 1000.0) && !whole(r, 200.0) && !whole(r, 192.0))
        .collect();
    let metric =
        rods.len() >= 5 && 2 * fine.len() > rods.len() && rods.iter().all(|&r| r < METRIC_ROD);
    metric.then(|| {
        Finding::new(
            Severity::Note,
            "level notes",
            format!(
                "{} of {} rod readings have three decimals, such as {:.3}, and none reaches {METRIC_ROD}: they read like metres",
                fine.len(),
                rods.len(),
                fine[0]
            ),
            format!("is {} right?", unit_as_written(job.unit)),
        )
    })
}

fn unit_as_written(unit: Unit) -> &'static str {
    match unit {
        Unit::Foot => "`unit: Foot`",
        Unit::Metre => "`unit: Metre`",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Document;

    fn job(text: &str) -> Job {
        match Document::parse("sizes.ron", text) {
            Ok((_, job)) => job,
            Err(errors) => panic!("{errors}"),
        }
    }

    #[test]
    fn depths_in_inches_ask_for_the_unit() {
        let yard = |unit: &str, depth: &str| {
            of(&job(&format!(
                "(name: \"x\", unit: {unit}, field_book: (), design: (basins: [(name: \"pond\", water: 9, \
                 outline: [(0, 0), (9, 0), (9, 9)], floor_depth: {depth})]))"
            )))
        };
        for (unit, depth, says) in [
            ("Metre", "24", "pond `floor_depth` 24.000 m"),
            ("Foot", "24", "pond `floor_depth` 24.00 ft"),
        ] {
            let found = yard(unit, depth);
            assert_eq!(found.len(), 1, "{unit} {depth}");
            assert!(found[0].what.contains(says), "{}", found[0].what);
            let asks = format!("is `unit: {unit}` right?");
            assert!(found[0].remedy.contains(&asks), "{}", found[0].remedy);
        }
        assert!(yard("Metre", "\"24 in\"").is_empty());
        // The handbook's pond is 12 ft deep.
        assert!(yard("Foot", "12").is_empty());
    }

    #[test]
    fn metric_readings_in_a_job_in_feet() {
        let notes = |readings: [&str; 5]| {
            let sights: Vec<String> = (0..4)
                .map(|k| format!("(\"{k}\", {}, ({k}, 0))", readings[k + 1]))
                .collect();
            of(&job(&format!(
                "(name: \"x\", unit: Foot, field_book: (benchmarks: [(name: \"BM\", elevation: 10)], \
                 setups: [(name: \"S\", backsight: (\"BM\", {}), sights: [{}])]))",
                readings[0],
                sights.join(", ")
            )))
        };
        let found = notes(["1.454", "1.523", "1.301", "2.077", "1.6"]);
        assert_eq!(found.len(), 1);
        assert!(found[0].remedy.contains("is `unit: Foot` right?"));
        for clean in [
            ["1.45", "1.52", "1.30", "2.07", "1.6"],
            ["1.455", "1.525", "1.305", "2.075", "1.605"],
            ["1.454", "1.523", "1.301", "2.077", "9.6"],
        ] {
            assert!(notes(clean).is_empty(), "{clean:?}");
        }
    }
}
