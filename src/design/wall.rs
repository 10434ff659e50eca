//! A new retaining wall: base trench, body, and the soil placed behind it. Metres.

use crate::design::{Layout, Move, Part, SetLine, SetPoint, Spaced, Yard};
use crate::earthwork::Mosaic;
use crate::earthwork::facet::{self, Facet, Slope};
use crate::findings::{Finding, Severity};
use crate::job::{NewWall, Side, Walls};
use crate::plan::{Kind, Solid};
use crate::terrain::predicates::P2;

/// Height from which walls are commonly taken out of a gardener's hands: 4 ft from the foot
/// (common practice and many local codes; no source).
const DESIGNED_WALL: f64 = 1.2192;

pub fn lay_out(wall: &NewWall, yard: &Yard, ground: &Mosaic) -> Result<Layout, String> {
    let mut layout = Layout::default();
    let line = yard.line(&wall.line)?;
    let cap = yard.height(&wall.cap)?;
    if wall.thickness <= 0.0 {
        return Err("its thickness must be more than nothing".into());
    }
    // A strip from `near` to `far` behind the front face, as distances right and left of the line.
    let across = |near: f64, far: f64| match wall.back {
        Side::Right => (far, -near),
        Side::Left => (-near, far),
    };
    let mut lowest = f64::INFINITY;
    let (mut in_front, mut behind, mut samples) = (0.0, 0.0, 0.0);
    for w in line.windows(2) {
        let l = (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
        let steps = (l / 0.3).ceil().max(1.0) as usize;
        for s in 0..=steps {
            let t = s as f64 / steps as f64;
            let p = [
                w[0][0] + t * (w[1][0] - w[0][0]),
                w[0][1] + t * (w[1][1] - w[0][1]),
            ];
            let z = ground
                .elevation(p)
                .ok_or("its line leaves the surveyed ground")?;
            lowest = lowest.min(z);
            let side = if wall.back == Side::Left { 1.0 } else { -1.0 };
            let normal = [
                -(w[1][1] - w[0][1]) / l * side,
                (w[1][0] - w[0][0]) / l * side,
            ];
            let at = |d: f64| ground.elevation([p[0] + d * normal[0], p[1] + d * normal[1]]);
            if let (Some(front), Some(back)) = (at(-0.5), at(wall.thickness + 0.5)) {
                in_front += front;
                behind += back;
                samples += 1.0;
            }
        }
    }
    let foot = lowest - wall.embedment;
    let bottom = foot - wall.base_thickness;
    if cap <= lowest {
        return Err(format!(
            "its cap stands {} under the ground at its lowest; raise the cap, or move the wall down the grade",
            yard.length(lowest - cap)
        ));
    }
    if wall.backfill.is_some() && samples > 0.0 && behind / samples < in_front / samples - 0.05 {
        layout.findings.push(
            Finding::new(
                Severity::Warning,
                format!("wall {}", wall.name),
                format!(
                    "is backfilled on its lower side: the ground behind it lies {} under that in front",
                    yard.length((in_front - behind) / samples)
                ),
                "check which side of its line is `back`, seen walking from its first point to its last",
            )
            .at(line[0][0], line[0][1], cap),
        );
    }
    // A wall that is 4 ft on paper may come out a few digits less.
    if cap - foot > DESIGNED_WALL - 1e-6 {
        layout.findings.push(
            Finding::new(
                Severity::Caution,
                format!("wall {}", wall.name),
                format!("stands {} from foot to cap and holds soil and perhaps water", yard.length(cap - foot)),
                format!(
                    "walls from about {}, or with a load behind them (pond, pile, slope, vehicle), are for a licensed engineer; ask the local code",
                    crate::units::of_rule(4, yard.job.unit)
                ),
            )
            .at(line[0][0], line[0][1], cap),
        );
    }
    let ends = line.len() - 1;
    let front = line.iter().enumerate().map(|(i, &p)| {
        let note = if i == 0 || i == ends { "end" } else { "corner" };
        SetPoint::new(p)
            .dig(bottom)
            .base(foot)
            .finish(cap)
            .note(note)
    });
    layout.lines.push(SetLine::line(
        &wall.name,
        Kind::Wall,
        "front face",
        Spaced::Points,
        front.collect(),
    ));
    // Base trench, refilled in front and behind once the wall stands.
    let overhang = 0.5 * (wall.base_width - wall.thickness).max(0.0);
    let (r, l) = across(-overhang, wall.thickness + overhang);
    let trench = facet::strip(&line, r, l, |_| bottom);
    layout.lines.extend(edges(wall, &trench, bottom, foot));
    let (rb, lb) = across(0.0, wall.thickness);
    let body = facet::strip(&line, rb, lb, |_| cap);
    let maker = |part| yard.maker(&wall.name, Kind::Wall, part);
    let (mk_trench, mk_course, mk_cap) = (maker("trench"), maker("base course"), maker("cap"));
    let mut dig = Part::new(
        &wall.name,
        Kind::Wall,
        vec![Move::Dig(facet::strip_core(&trench, mk_trench))],
    );
    dig.label = "base trench";
    dig.temporary = true;
    layout.parts.push(dig);
    let base = facet::strip(&line, r, l, |_| foot);
    let mut course = Part::new(
        &wall.name,
        Kind::Wall,
        vec![Move::Place(facet::strip_core(&base, mk_course))],
    );
    course.structure = true;
    course.label = "base course";
    layout.parts.push(course);
    // Before the trench is filled again: it stands on the base course.
    let thick = wall
        .backfill
        .as_ref()
        .map_or(0.0, |b| yard.job.materials.block.drain_stone.min(b.width));
    if let Some(backfill) = wall.backfill.as_ref().filter(|_| thick > 1e-6) {
        let (r, l) = across(wall.thickness, wall.thickness + thick);
        let ring = facet::strip(&line, r, l, |_| cap - backfill.below_cap);
        let maker = yard.maker(&wall.name, Kind::Backfill, "top");
        let stone = vec![Move::Place(facet::strip_core(&ring, maker))];
        let mut stone = Part::new(&wall.name, Kind::Wall, stone);
        stone.structure = true;
        stone.label = "drainage stone";
        layout.parts.push(stone);
    }
    // The body stands on both tracks; soil is neither dug from it nor laid on it.
    let top = facet::strip_core(&body, mk_cap);
    let refill = vec![Move::Build(top), Move::Refill(wall.name.clone())];
    let mut refill = Part::new(&wall.name, Kind::Wall, refill);
    refill.label = "refill";
    layout.parts.push(refill);
    let footprint: Vec<P2> = body.iter().map(|p| [p[0], p[1]]).collect();
    layout.solids.push(Solid {
        name: wall.name.clone(),
        footprint,
        base: foot,
        cap,
        new: true,
    });
    let so_far = match yard.walls {
        Walls::Trench => Some(1),
        Walls::Base => Some(2),
        Walls::Built => None,
    };
    if let Some(parts) = so_far.filter(|_| yard.in_hand.contains(&wall.name)) {
        layout.parts.truncate(parts);
        layout.solids.clear();
        return Ok(layout);
    }

    if let Some(backfill) = &wall.backfill {
        let z = cap - backfill.below_cap;
        let (r, l) = across(wall.thickness, wall.thickness + backfill.width);
        let ring = facet::strip(&line, r, l, |_| z);
        let n = line.len();
        // Nothing slopes out through the wall itself: of the strip's edges, that along the back face.
        let against = |edge: usize| match wall.back {
            Side::Right => (n..2 * n - 1).contains(&edge),
            Side::Left => edge < n - 1,
        };
        let mut facets: Vec<Facet> =
            facet::strip_core(&ring, yard.maker(&wall.name, Kind::Backfill, "top"));
        let side = yard.maker(&wall.name, Kind::Backfill, "side");
        let batter = |edge: usize| if against(edge) { 0.0 } else { backfill.batter };
        facets.extend(facet::sides(
            &ring,
            batter,
            Slope::Down,
            yard.bottom - 0.5,
            side,
        ));
        layout.parts.push(Part::new(
            &wall.name,
            Kind::Backfill,
            vec![Move::Place(facets)],
        ));
    }
    Ok(layout)
}

/// Both edges of the base trench, to dig to its bottom and to lay the base course up to the wall's foot.
fn edges(wall: &NewWall, trench: &[[f64; 3]], bottom: f64, foot: f64) -> [SetLine; 2] {
    let n = trench.len() / 2;
    let side = |right: bool| {
        let points = (0..n).map(|i| {
            let [x, y, _] = trench[if right { i } else { 2 * n - 1 - i }];
            let note = if i == 0 || i == n - 1 {
                "end"
            } else {
                "corner"
            };
            SetPoint::new([x, y]).dig(bottom).base(foot).note(note)
        });
        let front = right == (wall.back == Side::Left);
        let part = if front {
            "base trench, front edge"
        } else {
            "base trench, back edge"
        };
        let points = points.collect();
        SetLine::line(&wall.name, Kind::Wall, part, Spaced::Points, points)
    };
    let right_first = wall.back == Side::Left;
    [side(right_first), side(!right_first)]
}
