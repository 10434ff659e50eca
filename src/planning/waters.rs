//! Every water of the design on the finished surface: what it covers, what holds it. Metres.

use rayon::prelude::*;

use crate::design::Still;
use crate::earthwork::Assembled;
use crate::findings::{About, Finding, Severity};
use crate::flow::Walked;
use crate::job::Job;
use crate::plan::{Kind, MadeBy, Water};
use crate::terrain::predicates::{P2, in_ring, ring_area2};
use crate::{units, water};

/// The waters, what was learned of the surface on the way, and what is to be said about them. `closed`:
/// footprints that hold water like a wall.
pub fn waters(
    job: &Job,
    makers: &[MadeBy],
    stills: &[Still],
    made: &Assembled,
    closed: &[Vec<P2>],
) -> (Vec<Water>, Walked, Vec<Finding>) {
    let cascades = &job.design.cascades;
    let stand = |terrain: &water::Terrain, still: &Still| {
        let is_lip = |by: &MadeBy| still.lipped && by.part == "lip" && by.name == still.name;
        let lips: Vec<bool> = makers.iter().map(is_lip).collect();
        // A pool that runs into this water and is reached by it backs up: nothing is lost there.
        let into = cascades.iter().filter(|c| c.into == still.name);
        let mut above: Vec<&str> = into
            .flat_map(|c| c.pools.iter().map(|p| p.name.as_str()))
            .collect();
        for cascade in cascades {
            let names = || cascade.pools.iter().map(|p| p.name.as_str());
            if let Some(k) = names().position(|name| name == still.name) {
                above.extend(names().take(k));
            }
        }
        let is_own = |by: &MadeBy| by.kind == Kind::Cascade && above.contains(&by.name.as_str());
        let own: Vec<bool> = makers.iter().map(is_own).collect();
        let start = terrain.find(still.seed)?;
        let among = |list: &[bool], m: u16| list[usize::from(m)];
        let lip = |m| among(&lips, m);
        let reach = terrain.stand_among(start, still.level, lip, |m| among(&own, m))?;
        Some((start, reach))
    };
    let all = |terrain: &water::Terrain| -> Vec<_> {
        let each = stills.par_iter().map(|still| stand(terrain, still));
        each.collect()
    };
    let mut terrain = water::Terrain::near_works(&made.surface, &made.place, closed);
    let mut reaches = all(&terrain);
    if terrain.strayed() {
        terrain = water::Terrain::new(made, closed);
        reaches = all(&terrain);
    }
    let mut list = Vec::new();
    let mut starts = Vec::new();
    let mut findings = Vec::new();
    for (still, reach) in stills.iter().zip(reaches) {
        let Some((start, reach)) = reach else {
            findings.push(
                Finding::new(
                    Severity::Error,
                    still.name.clone(),
                    "has no water: the finished ground at its middle lies above the water, or outside the survey",
                    "check its level, its outline and the order of the stages",
                )
                .about(About::Water)
                .at(still.seed[0], still.seed[1], still.level),
            );
            continue;
        };
        let held = reach.spill >= still.level - 1e-6 && !reach.leaves_survey;
        let freeboard = reach.brim - still.level;
        let unit = |v: f64| units::format_length(v, job.unit);
        if !held {
            findings.push(
                Finding::new(
                    Severity::Error,
                    still.name.clone(),
                    format!(
                        "does not hold its water: it runs away at elevation {}, {} under the level asked for",
                        unit(reach.spill),
                        unit(still.level - reach.spill)
                    ),
                    "lower the water, raise the ground there with a berm or wall, or move the outline",
                )
                .about(About::Water)
                .at(reach.spill_at[0], reach.spill_at[1], reach.spill),
            );
        } else if freeboard < still.edge_above - 0.0015 {
            findings.push(
                Finding::new(
                    Severity::Warning,
                    still.name.clone(),
                    format!(
                        "the lowest place around it stands only {} over the water; {} is wanted",
                        unit(freeboard),
                        unit(still.edge_above)
                    ),
                    "raise the edge there, or lower the water; the lining's edge must stay over the water all round",
                )
                .about(About::Water)
                .at(reach.brim_at[0], reach.brim_at[1], reach.brim),
            );
        }
        let drawn = 0.5 * ring_area2(&still.outline).abs();
        // Where water that is not held would spread to is no figure of any water.
        if held && reach.area > 1.01 * drawn + 0.05 {
            findings.push(
                Finding::new(
                    Severity::Warning,
                    still.name.clone(),
                    format!(
                        "the water spreads {} beyond its outline, over ground that is not lined",
                        units::format_area(reach.area - drawn, job.unit)
                    ),
                    "the ground beside it lies under the water: raise it with soil or a wall, or draw the outline around it",
                )
                .about(About::Water)
                .at(still.seed[0], still.seed[1], still.level),
            );
        }
        starts.push(start);
        list.push(Water {
            name: still.name.clone(),
            level_m: still.level,
            area_m2: reach.area,
            volume_m3: reach.volume,
            depth_max_m: reach.depth,
            freeboard_min_m: freeboard,
            freeboard_at: reach.brim_at,
            spill_m: reach.spill,
            spill_at: reach.spill_at,
            held,
            edge: reach.edge,
            sheet: reach.sheet,
        });
    }
    // The same hole holds one water, not two.
    for (k, still) in stills.iter().enumerate() {
        for w in list
            .iter()
            .filter(|w| w.name != still.name && (w.level_m - still.level).abs() > 1e-6)
        {
            if stills[..k].iter().any(|o| o.name == w.name)
                && w.sheet.iter().any(|t| in_ring(t, still.seed))
            {
                findings.push(
                    Finding::new(
                        Severity::Error,
                        still.name.clone(),
                        format!(
                            "lies in the same hole as {}: one water cannot stand at two levels",
                            w.name
                        ),
                        "draw them apart, with ground higher than both waters between them",
                    )
                    .about(About::Water)
                    .at(still.seed[0], still.seed[1], still.level),
                );
            }
        }
    }
    let links = terrain.into_links();
    (list, Walked { links, starts }, findings)
}
