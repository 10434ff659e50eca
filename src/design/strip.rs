//! Works along a line: berm, access ramp, trench. Metres.

use crate::design::{Layout, Move, Part, SetLine, SetPoint, Spaced, Yard};
use crate::earthwork::Mosaic;
use crate::earthwork::facet::{self, Slope};
use crate::findings::{Finding, Severity};
use crate::job::{Berm, Crest, Ramp, Trench};
use crate::plan::Kind;
use crate::terrain::predicates::P2;

fn ground_along(line: &[P2], ground: &Mosaic) -> Result<Vec<f64>, String> {
    line.iter()
        .map(|&p| {
            ground
                .elevation(p)
                .ok_or_else(|| "its line leaves the surveyed ground".to_string())
        })
        .collect()
}

/// What is to be said of a bend so sharp that the inner edge of a stretch beside it runs backwards: the
/// strip folds over itself there.
fn folds(name: &str, line: &[P2], ring: &[[f64; 3]]) -> Option<Finding> {
    let n = line.len();
    let along = |a: [f64; 3], b: [f64; 3], u: P2| (b[0] - a[0]) * u[0] + (b[1] - a[1]) * u[1];
    let folded = (1..n).find(|&k| {
        let u = [line[k][0] - line[k - 1][0], line[k][1] - line[k - 1][1]];
        let (right, left) = (
            (ring[k - 1], ring[k]),
            (ring[2 * n - k], ring[2 * n - 1 - k]),
        );
        [right, left].iter().any(|(a, b)| along(*a, *b, u) < 0.0)
    })?;
    let [x, y, z] = ring[folded];
    let finding = Finding::new(
        Severity::Warning,
        name,
        format!(
            "is too wide for its bends: beside points {folded} and {} its inner edge runs backwards, and its volume comes out too small there",
            folded + 1
        ),
        "set the points beside the bend further apart, make the bend flatter, or make it narrower",
    );
    Some(finding.at(x, y, z))
}

pub fn berm(berm: &Berm, yard: &Yard, ground: &Mosaic) -> Result<Layout, String> {
    let line = yard.line(&berm.line)?;
    let crest: Vec<f64> = match &berm.crest {
        Crest::At(height) => vec![yard.height(height)?; line.len()],
        Crest::Above(by) => ground_along(&line, ground)?
            .into_iter()
            .map(|z| z + by)
            .collect(),
    };
    let half = 0.5 * berm.crest_width;
    let ring = facet::strip(&line, half, half, |i| crest[i]);
    let side = yard.maker(&berm.name, Kind::Berm, "side");
    let mut facets = facet::strip_core(&ring, yard.maker(&berm.name, Kind::Berm, "crest"));
    facets.extend(facet::sides(
        &ring,
        |_| berm.batter,
        Slope::Down,
        yard.bottom - 0.5,
        side,
    ));
    let ends = line.len() - 1;
    let top = line.iter().zip(&crest).enumerate().map(|(i, (&p, &z))| {
        let note = if i == 0 || i == ends { "end" } else { "bend" };
        SetPoint::new(p).finish(z).note(note)
    });
    let (kind, top) = (Kind::Berm, top.collect());
    Ok(Layout {
        lines: vec![SetLine::line(&berm.name, kind, "crest", Spaced::Line, top)],
        findings: folds(&format!("berm {}", berm.name), &line, &ring)
            .into_iter()
            .collect(),
        parts: vec![Part::new(&berm.name, Kind::Berm, vec![Move::Place(facets)])],
        ..Layout::default()
    })
}

pub fn ramp(ramp: &Ramp, yard: &Yard, ground: &Mosaic) -> Result<Layout, String> {
    let mut layout = Layout::default();
    let line = yard.line(&ramp.line)?;
    let lengths: Vec<f64> = line
        .windows(2)
        .map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]))
        .collect();
    let total: f64 = lengths.iter().sum();
    let profile: Vec<f64> = if ramp.profile.is_empty() {
        let ground = ground_along(&[line[0], line[line.len() - 1]], ground)?;
        let mut run = 0.0;
        let mut z = vec![ground[0]];
        for l in &lengths {
            run += l;
            z.push(ground[0] + (ground[1] - ground[0]) * run / total);
        }
        z
    } else if ramp.profile.len() == ramp.line.len() && ramp.line.len() == line.len() {
        ramp.profile
            .iter()
            .map(|h| yard.height(h))
            .collect::<Result<_, _>>()?
    } else {
        return Err(format!(
            "its profile has {} elevations for {} points; give one for each point, or none",
            ramp.profile.len(),
            line.len()
        ));
    };
    for (k, l) in lengths.iter().enumerate() {
        let gradient = (profile[k + 1] - profile[k]).abs() / l;
        if gradient > ramp.gradient + 1e-9 {
            layout.findings.push(
                Finding::new(
                    Severity::Warning,
                    format!("ramp {}", ramp.name),
                    format!(
                        "rises {:.1} % between its points {} and {}; {:.1} % is allowed",
                        100.0 * gradient,
                        k + 1,
                        k + 2,
                        100.0 * ramp.gradient
                    ),
                    "make it longer or let it wind; keep to the machine maker's greatest gradient",
                )
                .at(line[k][0], line[k][1], profile[k]),
            );
        }
    }
    if !ramp.cut {
        let mut worst: Option<(f64, P2)> = None;
        for (k, w) in line.windows(2).enumerate() {
            for step in 0..=20 {
                let f = step as f64 / 20.0;
                let p = [
                    w[0][0] + f * (w[1][0] - w[0][0]),
                    w[0][1] + f * (w[1][1] - w[0][1]),
                ];
                let under = ground
                    .elevation(p)
                    .map(|z| z - (profile[k] + f * (profile[k + 1] - profile[k])));
                if let Some(under) = under.filter(|&u| u > worst.map_or(0.1, |b| b.0)) {
                    worst = Some((under, p));
                }
            }
        }
        if let Some((under, p)) = worst {
            layout.findings.push(
                Finding::new(
                    Severity::Warning,
                    format!("ramp {}", ramp.name),
                    format!(
                        "runs up to {} under the ground, which is not cut away",
                        yard.length(under)
                    ),
                    "raise its profile over the ground, or give cut: true",
                )
                .at(p[0], p[1], ground.elevation(p).unwrap_or(yard.top)),
            );
        }
    }
    let half = 0.5 * ramp.width;
    let ring = facet::strip(&line, half, half, |i| profile[i]);
    let folds = folds(&format!("ramp {}", ramp.name), &line, &ring);
    layout.findings.extend(folds);
    let (top, side) = (
        yard.maker(&ramp.name, Kind::Ramp, "top"),
        yard.maker(&ramp.name, Kind::Ramp, "side"),
    );
    let mut facets = facet::strip_core(&ring, top);
    facets.extend(facet::sides(
        &ring,
        |_| ramp.batter,
        Slope::Down,
        yard.bottom - 0.5,
        side,
    ));
    let mut moves = vec![Move::Place(facets)];
    if ramp.cut {
        let mut facets = facet::strip_core(&ring, top);
        facets.extend(facet::sides(
            &ring,
            |_| ramp.batter,
            Slope::Up,
            yard.top + 0.5,
            side,
        ));
        moves.push(Move::Dig(facets));
    }
    let n = line.len();
    let falls = profile[n - 1] < profile[0];
    for (part, right) in [("right edge", true), ("left edge", false)] {
        let points = (0..n).map(|i| {
            let p = ring[if right { i } else { 2 * n - 1 - i }];
            let note = match i {
                0 if falls => "top",
                0 => "foot",
                _ if i < n - 1 => "bend",
                _ if falls => "foot",
                _ => "top",
            };
            let point = SetPoint::new([p[0], p[1]]).finish(p[2]).note(note);
            if ramp.cut { point.dig(p[2]) } else { point }
        });
        let (name, points) = (&ramp.name, points.collect());
        let line = SetLine::line(name, Kind::Ramp, part, Spaced::Line, points);
        layout.lines.push(line);
    }
    layout.parts.push(Part::new(&ramp.name, Kind::Ramp, moves));
    Ok(layout)
}

pub fn trench(trench: &Trench, yard: &Yard, ground: &Mosaic) -> Result<Layout, String> {
    let line = yard.line(&trench.line)?;
    let floor: Vec<f64> = ground_along(&line, ground)?
        .into_iter()
        .map(|z| z - trench.depth)
        .collect();
    let half = 0.5 * trench.width;
    let ring = facet::strip(&line, half, half, |i| floor[i]);
    let side = yard.maker(&trench.name, Kind::Trench, "side");
    let mut facets = facet::strip_core(&ring, yard.maker(&trench.name, Kind::Trench, "floor"));
    facets.extend(facet::sides(
        &ring,
        |_| trench.batter,
        Slope::Up,
        yard.top + 0.5,
        side,
    ));
    let mut part = Part::new(&trench.name, Kind::Trench, vec![Move::Dig(facets)]);
    part.temporary = trench.refill;
    let ends = line.len() - 1;
    let inverts = line.iter().zip(&floor).enumerate().map(|(i, (&p, &z))| {
        SetPoint::new(p).dig(z).note(match i {
            0 => "start",
            _ if i == ends => "end",
            _ => "bend",
        })
    });
    let (kind, inverts) = (Kind::Trench, inverts.collect());
    Ok(Layout {
        lines: vec![SetLine::line(
            &trench.name,
            kind,
            "invert",
            Spaced::Points,
            inverts,
        )],
        parts: vec![part],
        findings: folds(&format!("trench {}", trench.name), &line, &ring)
            .into_iter()
            .collect(),
        ..Layout::default()
    })
}
