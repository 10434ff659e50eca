//! Works along a line: berm, access ramp, trench. Metres.

use crate::design::legs::Legs;
use crate::design::{Layout, Move, Part, SetLine, SetPoint, Spaced, Yard};
use crate::earthwork::Mosaic;
use crate::earthwork::envelope::clear_of;
use crate::earthwork::facet::Slope;
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

pub fn berm(berm: &Berm, yard: &Yard, ground: &Mosaic) -> Result<Layout, String> {
    let line = yard.line(&berm.line)?;
    let crest: Vec<f64> = match &berm.crest {
        Crest::At(height) => vec![yard.height(height)?; line.len()],
        Crest::Above(by) => ground_along(&line, ground)?
            .into_iter()
            .map(|z| z + by)
            .collect(),
    };
    let legs = Legs::of(&line, &crest, 0.5 * berm.crest_width);
    let side = yard.maker(&berm.name, Kind::Berm, "side");
    let mut facets = legs.core(yard.maker(&berm.name, Kind::Berm, "crest"));
    facets.extend(legs.sides(berm.batter, Slope::Down, yard.bottom - 0.5, side));
    let ends = line.len() - 1;
    let top = line.iter().zip(&crest).enumerate().map(|(i, (&p, &z))| {
        let note = if i == 0 || i == ends { "end" } else { "bend" };
        SetPoint::new(p).finish(z).note(note)
    });
    let (kind, top) = (Kind::Berm, top.collect());
    Ok(Layout {
        lines: vec![SetLine::line(&berm.name, kind, "crest", Spaced::Line, top)],
        parts: vec![Part::new(&berm.name, Kind::Berm, vec![Move::Place(facets)])],
        ..Layout::default()
    })
}

/// A ramp that ends higher over the ground (m) ends in the air: a step that no small machine climbs.
/// Common practice, no source.
pub const IN_THE_AIR: f64 = 0.15;

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
    for (k, end) in [(0, "begins"), (line.len() - 1, "ends")] {
        let over = ground.elevation(line[k]).map(|z| profile[k] - z);
        if let Some(over) = over.filter(|&o| o > IN_THE_AIR) {
            layout.findings.push(
                Finding::new(
                    Severity::Warning,
                    format!("ramp {}", ramp.name),
                    format!(
                        "{end} {} over the ground: nothing drives on or off there",
                        yard.length(over)
                    ),
                    "lead it on until it meets the ground, or give that end the ground's elevation; what it is to meet is built in an earlier stage",
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
    let legs = Legs::of(&line, &profile, 0.5 * ramp.width);
    let (top, side) = (
        yard.maker(&ramp.name, Kind::Ramp, "top"),
        yard.maker(&ramp.name, Kind::Ramp, "side"),
    );
    let mut placed = legs.core(top);
    placed.extend(legs.sides(ramp.batter, Slope::Down, yard.bottom - 0.5, side));
    let dug = ramp.cut.then(|| {
        let mut facets = legs.core(top);
        facets.extend(legs.sides(ramp.batter, Slope::Up, yard.top + 0.5, side));
        // What a higher leg stands on is not cut away for a lower one.
        clear_of(facets, &placed)
    });
    let mut moves = vec![Move::Place(placed)];
    moves.extend(dug.map(Move::Dig));
    let n = line.len();
    let falls = profile[n - 1] < profile[0];
    for (part, bits) in ["right edge", "left edge"].into_iter().zip(legs.edges()) {
        let last = bits.len().saturating_sub(1);
        for (b, bit) in bits.iter().enumerate() {
            let end = bit.len() - 1;
            let points = bit.iter().enumerate().map(|(i, p)| {
                let note = match (b, i) {
                    (0, 0) if falls => "top",
                    (0, 0) => "foot",
                    _ if b < last || i < end => "bend",
                    _ if falls => "foot",
                    _ => "top",
                };
                let point = SetPoint::new([p[0], p[1]]).finish(p[2]).note(note);
                if ramp.cut { point.dig(p[2]) } else { point }
            });
            let points = points.collect();
            let line = SetLine::line(&ramp.name, Kind::Ramp, part, Spaced::Line, points);
            layout.lines.push(line);
        }
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
    let legs = Legs::of(&line, &floor, 0.5 * trench.width);
    let side = yard.maker(&trench.name, Kind::Trench, "side");
    let mut facets = legs.core(yard.maker(&trench.name, Kind::Trench, "floor"));
    facets.extend(legs.sides(trench.batter, Slope::Up, yard.top + 0.5, side));
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
        ..Layout::default()
    })
}
