//! The basin: floor, shelves, sides and pits, out to daylight.
//!
//! From the outline (at the water's edge, or at the floor) every level is an inset of it. What is
//! dug lies under what is finished by the lining's thickness, measured square to each face: a level
//! face goes down by its own build-up `t`, a side by `s·√(1+n²)` in plumb line, so the dug ring of a
//! level lies `s·√(n²+1) − n·t` outside the finished one (n the batter). Metres.

use crate::design::{BuildUp, Layout, Move, Part, SetLine, Still, Track, Yard, ring};
use crate::earthwork::facet::{self, Facet, Slope};
use crate::findings::{Finding, Severity};
use crate::job::{Basin, OutlineAt};
use crate::plan::Kind;
use crate::terrain::predicates::{P2, in_ring, ring_area2};

/// How far up the basin is dug.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Upto {
    /// Out to where its banks meet the ground.
    Daylight,
    /// Only what lies under its water.
    Water,
}

pub fn lay_out(basin: &Basin, yard: &Yard, track: Track, upto: Upto) -> Result<Layout, String> {
    let mut layout = Layout::default();
    let water = yard.level(&basin.water)?;
    let corners = yard.ring(&basin.outline)?;
    let n = corners.len();
    let reversed = ring_area2(&yard.line(&basin.outline)?) < 0.0;
    let outline = if basin.smooth {
        ring::smooth(&corners)
    } else {
        corners
    };
    let varied = !basin.edge_batters.is_empty();
    if varied && basin.smooth {
        return Err("batters by edge need a straight outline: give smooth: false, or leave edge_batters out".into());
    }
    if let Some((k, _)) = basin.edge_batters.iter().find(|(k, _)| *k >= n) {
        return Err(format!(
            "edge_batters names edge {k}, but the outline has edges 0 to {}",
            n - 1
        ));
    }
    let batter = |edge: usize| {
        if !varied {
            return basin.batter;
        }
        // Edges are numbered as the outline was written, also where it was walked clockwise.
        let written = if reversed {
            (2 * n - 2 - edge) % n
        } else {
            edge
        };
        basin
            .edge_batters
            .iter()
            .find(|(k, _)| *k == written)
            .map_or(basin.batter, |e| e.1)
    };
    let up = BuildUp::of(&basin.lining, track);
    let mut depth = 0.0;
    for (k, shelf) in basin.shelves.iter().enumerate() {
        if shelf.depth <= depth || shelf.width <= 0.0 {
            return Err(format!(
                "shelf {} must lie deeper than what is above it and have a width",
                k + 1
            ));
        }
        depth = shelf.depth;
    }
    if basin.floor_depth <= depth {
        return Err("the floor must lie deeper than every shelf and the water".into());
    }
    // Distance in from the water's edge, at one edge's batter, of each level's outer ring.
    struct Step {
        depth: f64,
        part: String,
        build_up: f64,
        widths: f64,
    }
    let mut steps: Vec<Step> = Vec::new();
    let mut widths = 0.0;
    for (k, shelf) in basin.shelves.iter().enumerate() {
        steps.push(Step {
            depth: shelf.depth,
            part: format!("shelf {}", k + 1),
            build_up: up.shelf,
            widths,
        });
        widths += shelf.width;
    }
    steps.push(Step {
        depth: basin.floor_depth,
        part: "floor".into(),
        build_up: up.floor,
        widths,
    });
    let floor_step = steps.len() - 1;
    let shift = |edge: usize| match basin.outline_at {
        OutlineAt::Water => 0.0,
        OutlineAt::Floor => -(batter(edge) * basin.floor_depth + widths),
    };
    let place = |distance: &dyn Fn(usize) -> f64| -> Vec<Vec<P2>> {
        if varied {
            ring::inset_edges(&outline, distance).into_iter().collect()
        } else {
            ring::inset(&outline, distance(0))
        }
    };
    let maker = |part: &str| yard.maker(&basin.name, Kind::Basin, part);
    let top = yard.top + 0.5;
    // The bank above the water: as asked, else the side's own slope, but never steeper than 1:1.
    let bank_batter = |edge: usize| basin.bank_batter.unwrap_or_else(|| batter(edge).max(1.0));
    let one_slope = (0..outline.len()).all(|edge| bank_batter(edge) == batter(edge));
    // Room for the lining is dug up to its edge; above it the bank is what it will be.
    let lined_to = if up.side > 0.0 {
        water + basin.edge_above
    } else {
        top
    };
    let mut facets: Vec<Facet> = Vec::new();
    let mut floors: Vec<Vec<P2>> = Vec::new();
    for (k, step) in steps.iter().enumerate().rev() {
        let rings = place(&|edge| {
            let b = batter(edge);
            shift(edge) + b * step.depth + step.widths
                - (up.side * (b * b + 1.0).sqrt() - b * step.build_up)
        });
        if rings.is_empty() {
            layout.findings.push(Finding::new(
                Severity::Error,
                format!("basin {}", basin.name),
                format!(
                    "no room for its {}{} inside the outline: the sides meet above it",
                    if up.side > 0.0 { "dug " } else { "" },
                    step.part
                ),
                "make the basin wider, the shelves narrower, the batter steeper or the floor less deep",
            ));
        }
        let z = water - step.depth - step.build_up;
        let limit = if k > 0 {
            water - steps[k - 1].depth - steps[k - 1].build_up
        } else if one_slope && upto == Upto::Daylight {
            lined_to
        } else {
            water
        };
        for ring in &rings {
            facets.extend(facet::flat(ring, z, maker(&step.part)));
            let sides = facet::sides(
                &facet::lift(ring, z),
                batter,
                Slope::Up,
                limit,
                maker("side"),
            );
            facets.extend(sides);
        }
        if k == floor_step {
            floors = rings;
        }
    }
    if track == Track::Dug && upto == Upto::Daylight && yard.staked {
        // The side as it is dug passes through the water's level here, and through each shelf's
        // level where the next side begins.
        let thick = |b: f64| up.side * (b * b + 1.0).sqrt();
        for ring in place(&|edge| shift(edge) - thick(batter(edge))) {
            let (name, kind) = (&basin.name, Kind::Basin);
            let line = SetLine::ring(name, kind, "water's edge", &ring, water, water);
            layout.lines.push(line);
        }
        for (k, step) in steps.iter().enumerate() {
            let inward = if k < floor_step {
                steps[k + 1].widths
            } else {
                step.widths
            };
            let rings = place(&|edge| {
                let b = batter(edge);
                shift(edge) + b * step.depth + inward - (thick(b) - b * step.build_up)
            });
            let part = if k < floor_step {
                format!("{}, inner edge", step.part)
            } else {
                "floor, edge".into()
            };
            let z = water - step.depth;
            layout.lines.extend(rings.iter().map(|ring| {
                SetLine::ring(&basin.name, Kind::Basin, &part, ring, z - step.build_up, z)
            }));
        }
    }
    let edge = place(&|edge| shift(edge));
    if !one_slope && upto == Upto::Daylight {
        let rings = place(&|edge| shift(edge) - up.side * (batter(edge).powi(2) + 1.0).sqrt());
        for ring in &rings {
            facets.extend(facet::sides(
                &facet::lift(ring, water),
                bank_batter,
                Slope::Up,
                lined_to,
                maker("bank"),
            ));
        }
    }
    if lined_to < top && upto == Upto::Daylight {
        for ring in place(&|edge| shift(edge) - bank_batter(edge) * basin.edge_above) {
            facets.extend(facet::sides(
                &facet::lift(&ring, lined_to),
                bank_batter,
                Slope::Up,
                top,
                maker("bank"),
            ));
        }
    }
    layout
        .parts
        .push(Part::new(&basin.name, Kind::Basin, vec![Move::Dig(facets)]));

    let mut pits: Vec<(&str, Vec<P2>)> = Vec::new();
    for pit in &basin.pits {
        let outline = yard
            .ring(&pit.outline)
            .map_err(|e| format!("pit {}: {e}", pit.name))?;
        if !outline
            .iter()
            .all(|p| floors.iter().any(|f| in_ring(f, *p)))
            && !floors.is_empty()
        {
            layout.findings.push(
                Finding::new(
                    Severity::Warning,
                    format!("pit {}", pit.name),
                    "reaches beyond the basin's floor into a side or a shelf",
                    "move it onto the floor, or make it smaller",
                )
                .at(outline[0][0], outline[0][1], water - basin.floor_depth),
            );
        }
        for (other, ring) in &pits {
            if let Some(p) = ring::overlap(&outline, ring) {
                layout.findings.push(
                    Finding::new(
                        Severity::Warning,
                        format!("pit {}", pit.name),
                        format!(
                            "overlaps pit {other}: where they overlap the deeper one is dug, and the soil they share is counted with {other}, which is dug first"
                        ),
                        "draw them apart, or as one pit",
                    )
                    .at(p[0], p[1], water - basin.floor_depth - pit.depth),
                );
            }
        }
        pits.push((&pit.name, outline.clone()));
        let b = pit.batter;
        let delta = up.side * (b * b + 1.0).sqrt() - b * up.floor;
        let z = water - basin.floor_depth - pit.depth - up.floor;
        let mut facets = Vec::new();
        for ring in ring::inset(&outline, b * pit.depth - delta) {
            if track == Track::Dug {
                let (part, finish) = ("floor, edge", z + up.floor);
                let line = SetLine::ring(&pit.name, Kind::Pit, part, &ring, z, finish);
                layout.lines.push(line);
            }
            facets.extend(facet::flat(
                &ring,
                z,
                yard.maker(&pit.name, Kind::Pit, "floor"),
            ));
            let side = yard.maker(&pit.name, Kind::Pit, "side");
            facets.extend(facet::sides(
                &facet::lift(&ring, z),
                |_| b,
                Slope::Up,
                water - basin.floor_depth,
                side,
            ));
        }
        layout
            .parts
            .push(Part::new(&pit.name, Kind::Pit, vec![Move::Dig(facets)]));
    }
    let seed = floors
        .iter()
        .find_map(|f| ring::inner_point(f))
        .or_else(|| ring::inner_point(&outline));
    if let (Some(seed), Some(edge)) = (seed, edge.into_iter().next()) {
        layout.waters.push(Still {
            name: basin.name.clone(),
            level: water,
            seed,
            outline: edge,
            edge_above: basin.edge_above,
            lipped: false,
        });
    }
    Ok(layout)
}
