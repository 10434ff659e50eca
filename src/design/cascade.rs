//! The cascade: pools that step down a centreline, each with a lip and a drop, held by a surround
//! of placed soil that ties back to the ground. Metres.

use crate::design::{BuildUp, Layout, Move, Part, SetLine, SetPoint, Spaced, Still, Track, Yard};
use crate::earthwork::facet::{self, Facet, Slope};
use crate::findings::{Finding, Severity};
use crate::job::Cascade;
use crate::plan::Kind;
use crate::terrain::line;
use crate::terrain::predicates::{P2, from_line, in_ring};

/// Metres along the line for each metre of pool as written: lengths are shared out over the
/// centreline. Not finite where there are no pools.
pub fn stretch(cascade: &Cascade, line: &[P2]) -> f64 {
    line::length(line) / cascade.pools.iter().map(|p| p.length).sum::<f64>()
}

pub fn lay_out(cascade: &Cascade, yard: &Yard, track: Track) -> Result<Layout, String> {
    let mut layout = Layout::default();
    let line = yard.line(&cascade.centreline)?;
    let basin = yard
        .job
        .design
        .basins
        .iter()
        .find(|b| b.name == cascade.into)
        .ok_or_else(|| format!("there is no basin named {}", cascade.into))?;
    let mut level = yard.level(&basin.water)?;
    let wanted: f64 = cascade.pools.iter().map(|p| p.length).sum();
    let total = stretch(cascade, &line) * wanted;
    if cascade.pools.is_empty() {
        return Err("it has no pools".into());
    }
    if (wanted - total).abs() > 0.02 * total.max(1.0) {
        layout.findings.push(
            Finding::new(
                Severity::Warning,
                format!("cascade {}", cascade.name),
                format!("its pools are {} long together, its centreline {}; lengths are shared out over the line",
                    yard.length(wanted),
                    yard.length(total)),
                "make the pools' lengths add up to the centreline",
            )
            .at(line[0][0], line[0][1], level),
        );
    }
    let stretch = stretch(cascade, &line);
    let up = BuildUp::of(&cascade.lining, track);
    // Levels from the basin up.
    let mut levels = vec![0.0; cascade.pools.len()];
    for (k, pool) in cascade.pools.iter().enumerate().rev() {
        if pool.drop <= 0.0 {
            return Err(format!(
                "pool {} must drop to the water below it",
                pool.name
            ));
        }
        level += pool.drop;
        levels[k] = level;
    }
    let crest = yard.maker(&cascade.name, Kind::Surround, "crest");
    let slope = yard.maker(&cascade.name, Kind::Surround, "side");
    let berm = &cascade.berm;
    let mut place: Vec<Facet> = Vec::new();
    let mut dig: Vec<Part> = Vec::new();
    let (mut crests, mut pools) = (Vec::new(), Vec::new());
    let mut from = 0.0;
    let last = cascade.pools.len() - 1;
    for (k, pool) in cascade.pools.iter().enumerate() {
        let (water, to) = (levels[k], from + pool.length * stretch);
        let sill = pool.sill.min(0.5 * pool.length) * stretch;
        if pool.sill > 0.5 * pool.length {
            layout.findings.push(Finding::new(
                Severity::Warning,
                format!("cascade {}", cascade.name),
                format!(
                    "the sill of pool {} takes {} of its {}; half of the pool is taken",
                    pool.name,
                    yard.length(pool.sill),
                    yard.length(pool.length)
                ),
                "make the pool longer or its sill shorter, so that it holds water to fall",
            ));
        }
        if pool.width <= 0.0 || pool.depth <= 0.0 || pool.lip_width <= 0.0 {
            return Err(format!(
                "pool {} needs a width, a depth and a lip width",
                pool.name
            ));
        }
        // Surround: from behind the pool's back to its lip; nothing slopes down over the drop.
        let back = if k == 0 { -berm.crest_width } else { from };
        let along = stretch_of(&line, back, to);
        let half = 0.5 * pool.width + berm.crest_width;
        let ring = facet::strip(&along, half, half, |_| water + berm.freeboard);
        let n = along.len();
        place.extend(facet::strip_core(&ring, crest));
        if track == Track::Dug {
            let part = format!("berm crest by {}", pool.name);
            let points = ring
                .iter()
                .enumerate()
                .map(|(i, p)| {
                    let note = if i < n { "right" } else { "left" };
                    SetPoint::new([p[0], p[1]]).finish(p[2]).note(note)
                })
                .collect();
            let (name, kind) = (&cascade.name, Kind::Surround);
            crests.push(SetLine::line(name, kind, &part, Spaced::Points, points));
        }
        let batter = |edge: usize| {
            if edge == n - 1 && k == last {
                0.0
            } else {
                berm.batter
            }
        };
        place.extend(facet::sides(
            &ring,
            batter,
            Slope::Down,
            yard.bottom - 0.5,
            slope,
        ));

        // The pool, upright at both ends, battered along its sides (1 in 4 steeper than plumb is
        // never asked of placed soil: stone stands against it).
        let maker = |part: &str| yard.maker(&pool.name, Kind::Cascade, part);
        let b = pool.batter;
        let inner = 0.5 * pool.width - b * pool.depth;
        if inner <= 0.05 {
            return Err(format!(
                "pool {} is too narrow for its depth at a batter of {b}:1",
                pool.name
            ));
        }
        let half = inner + up.side * (b * b + 1.0).sqrt() - b * up.floor;
        // Each end is dug wider by the lining, except under the fall from the pool above.
        let start = from + 0.0 - if k == 0 { up.side } else { 0.0 };
        let floor = stretch_of(&line, start, to - sill + up.side);
        let z = water - pool.depth - up.floor;
        let ring = facet::strip(&floor, half, half, |_| z);
        let floor_ring = ring.clone();
        let n = floor.len();
        let ends = |edge: usize| edge == n - 1 || edge == 2 * n - 1;
        let mut facets = facet::strip_core(&ring, maker("floor"));
        facets.extend(facet::sides(
            &ring,
            |e| if ends(e) { 0.0 } else { b },
            Slope::Up,
            yard.top + 20.0,
            maker("side"),
        ));
        let lip_line = stretch_of(&line, to - sill - 0.01, to);
        let half = 0.5 * pool.lip_width + up.side;
        let ring = facet::strip(&lip_line, half, half, |_| water - up.shelf);
        facets.extend(facet::strip_core(&ring, maker("lip")));
        if track == Track::Dug {
            let (name, kind) = (&pool.name, Kind::Cascade);
            let (shelf, n) = (water - up.shelf, ring.len() / 2);
            let end = |i: usize, note: &'static str| {
                SetPoint::new([ring[i][0], ring[i][1]])
                    .dig(shelf)
                    .finish(water)
                    .note(note)
            };
            let lip = vec![end(n - 1, "right"), end(n, "left")];
            pools.push(SetLine::line(name, kind, "lip", Spaced::Points, lip));
            let points = floor_ring
                .iter()
                .map(|p| {
                    SetPoint::new([p[0], p[1]])
                        .dig(z)
                        .finish(water - pool.depth)
                })
                .collect();
            pools.push(SetLine::line(name, kind, "floor", Spaced::Points, points));
        }
        dig.push(Part::new(
            &pool.name,
            Kind::Cascade,
            vec![Move::Dig(facets)],
        ));

        let edge = facet::strip(
            &stretch_of(&line, from, to - sill),
            0.5 * pool.width,
            0.5 * pool.width,
            |_| water,
        );
        let seed = line::at(&line, 0.5 * (from + to - sill));
        layout.waters.push(Still {
            name: pool.name.clone(),
            level: water,
            seed,
            outline: edge.iter().map(|p| [p[0], p[1]]).collect(),
            edge_above: berm.freeboard,
            lipped: true,
        });
        from = to;
    }
    let end = line[line.len() - 1];
    if let Ok(outline) = yard.ring(&basin.outline) {
        let near = outline
            .iter()
            .zip(outline.iter().cycle().skip(1))
            .map(|(a, b)| from_line(end, *a, *b))
            .fold(f64::INFINITY, f64::min);
        if !in_ring(&outline, end) && near > 0.6 {
            layout.findings.push(
                Finding::new(
                    Severity::Warning,
                    format!("cascade {}", cascade.name),
                    format!("its last lip stands {} away from the water of {}", yard.length(near), basin.name),
                    "run the centreline to the basin's edge, so that the fall lands on lined ground",
                )
                .at(end[0], end[1], levels[last]),
            );
        }
    }
    if track == Track::Dug {
        let ends = line.len() - 1;
        let centre = line.iter().enumerate().map(|(i, &p)| {
            SetPoint::new(p).note(match i {
                0 => "top",
                _ if i == ends => "foot",
                _ => "bend",
            })
        });
        layout.lines.push(SetLine::line(
            &cascade.name,
            Kind::Surround,
            "centreline",
            Spaced::Points,
            centre.collect(),
        ));
        layout.lines.append(&mut crests);
        layout.lines.append(&mut pools);
    }
    layout.parts.push(Part::new(
        &cascade.name,
        Kind::Surround,
        vec![Move::Place(place)],
    ));
    layout.parts.extend(dig);
    Ok(layout)
}

/// The part of the line between two distances along it.
fn stretch_of(line: &[P2], from: f64, to: f64) -> Vec<P2> {
    let mut points = vec![line::at(line, from)];
    let mut run = 0.0;
    for w in line.windows(2) {
        run += line::dist(w[0], w[1]);
        if run > from + 1e-6 && run < to - 1e-6 {
            points.push(w[1]);
        }
    }
    points.push(line::at(line, to));
    points
}
