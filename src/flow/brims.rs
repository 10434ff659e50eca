//! The freeboard all round each basin as a profile, for the command. Metres.

use crate::job::Job;
use crate::plan::{Brim, BrimPlace, Kind, Plan, Short};
use crate::terrain::Probe;
use crate::water::{BrimPoint, brim};

/// Ground is followed outwards so far from the water's edge.
const REACH: f64 = 2.0;
const SPACING: f64 = 0.1;
/// Half of what a rod can be read to: less is no difference.
const ROD: f64 = 0.0015;

/// A fall's lip is looked for so far out from the water's edge.
const LIP: [f64; 3] = [0.02, 0.1, 0.2];

pub fn brims(job: &Job, plan: &Plan) -> Vec<Brim> {
    let probe = Probe::new(&plan.finished);
    let basins = job.design.basins.iter().filter_map(|b| {
        let water = plan.water.iter().find(|w| w.name == b.name && w.held)?;
        let lines = brim(
            &probe,
            &water.edge,
            &water.sheet,
            water.level_m,
            REACH,
            SPACING,
        );
        let mut made = Brim {
            water: b.name.clone(),
            round_m: 0.0,
            wanted_m: b.edge_above,
            // Between two places of the profile it may stand a hair lower.
            least_m: water.freeboard_min_m,
            level_crest_m: 0.0,
            reach_m: REACH,
            profile: Vec::new(),
            short: Vec::new(),
        };
        let cascades = job.design.cascades.iter().filter(|c| c.into == b.name);
        let pools: Vec<&str> = cascades
            .flat_map(|c| c.pools.iter().map(|p| p.name.as_str()))
            .collect();
        // What runs over there runs into a pool of its own falls and comes back: no edge to raise.
        let lip = |p: &BrimPoint| {
            LIP.iter().any(|k| {
                let found = probe.sound([p.at[0] + k * p.out[0], p.at[1] + k * p.out[1]]);
                let by = found.and_then(|s| plan.makers.get(usize::from(s.made_by)));
                by.is_some_and(|m| {
                    m.kind == Kind::Cascade && m.part == "lip" && pools.contains(&m.name.as_str())
                })
            })
        };
        for line in &lines {
            let mut open: Option<Short> = None;
            for (k, p) in line.iter().enumerate() {
                let next = line.get(k + 1).map_or(0.0, |q| q.along - p.along);
                made.round_m += next;
                if lip(p) {
                    made.short.extend(open.take());
                    continue;
                }
                made.least_m = made.least_m.min(p.freeboard);
                if (p.freeboard - (water.spill_m - water.level_m)).abs() < ROD {
                    made.level_crest_m += next;
                }
                // The last place of a closed line is its first once more.
                if line.len() > 2 && k + 1 == line.len() && p.at == line[0].at {
                    if let Some(run) = &mut open {
                        run.to_m = p.along - line[0].along;
                    }
                    continue;
                }
                made.profile.push(BrimPlace {
                    along_m: p.along,
                    at: p.at,
                    freeboard_m: p.freeboard,
                });
                let here = Short {
                    from_m: p.along,
                    to_m: p.along,
                    least_m: p.freeboard,
                    at: p.at,
                };
                if p.freeboard < b.edge_above - ROD {
                    let run = open.get_or_insert(here);
                    run.to_m = p.along;
                    if p.freeboard < run.least_m {
                        (run.least_m, run.at) = (p.freeboard, p.at);
                    }
                } else if let Some(run) = open.take() {
                    made.short.push(run);
                }
            }
            made.short.extend(open);
        }
        (!made.profile.is_empty()).then_some(made)
    });
    basins.collect()
}
