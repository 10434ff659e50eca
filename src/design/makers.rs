//! The register of what can make a bit of surface, fixed before any of it is made, so that the
//! numbers mean the same on every surface of a plan.

use crate::job::Job;
use crate::plan::{Kind, MadeBy};
use crate::terrain::Maker;

#[derive(Debug, Clone)]
pub struct Makers {
    pub list: Vec<MadeBy>,
}

impl Makers {
    pub fn of(job: &Job) -> Self {
        let mut list = vec![MadeBy {
            name: "ground".into(),
            kind: Kind::Ground,
            part: String::new(),
        }];
        let mut add = |name: &str, kind: Kind, parts: &[String]| {
            list.extend(parts.iter().map(|part| MadeBy {
                name: name.into(),
                kind,
                part: part.clone(),
            }));
        };
        let one = |part: &str| vec![part.to_string()];
        for wall in &job.site.walls {
            add(&wall.name, Kind::StandingWall, &one("cap"));
        }
        for basin in &job.design.basins {
            let mut parts: Vec<String> = ["floor", "side", "bank"].map(String::from).to_vec();
            parts.extend((1..=basin.shelves.len()).map(|k| format!("shelf {k}")));
            add(&basin.name, Kind::Basin, &parts);
            for pit in &basin.pits {
                add(&pit.name, Kind::Pit, &["floor", "side"].map(String::from));
            }
        }
        for cascade in &job.design.cascades {
            for pool in &cascade.pools {
                add(
                    &pool.name,
                    Kind::Cascade,
                    &["floor", "side", "lip"].map(String::from),
                );
            }
            add(
                &cascade.name,
                Kind::Surround,
                &["crest", "side"].map(String::from),
            );
        }
        for wall in &job.design.walls {
            add(
                &wall.name,
                Kind::Wall,
                &["cap", "trench", "base course"].map(String::from),
            );
            add(
                &wall.name,
                Kind::Backfill,
                &["top", "side"].map(String::from),
            );
        }
        for pad in &job.design.pads {
            add(&pad.name, Kind::Pad, &["top", "side"].map(String::from));
        }
        for berm in &job.design.berms {
            add(&berm.name, Kind::Berm, &["crest", "side"].map(String::from));
        }
        for trench in &job.design.trenches {
            add(
                &trench.name,
                Kind::Trench,
                &["floor", "side"].map(String::from),
            );
        }
        for ramp in &job.design.ramps {
            add(&ramp.name, Kind::Ramp, &["top", "side"].map(String::from));
        }
        list.truncate(Maker::MAX as usize);
        Makers { list }
    }

    pub fn find(&self, name: &str, kind: Kind, part: &str) -> Maker {
        self.list
            .iter()
            .position(|m| m.kind == kind && m.name == name && m.part == part)
            .unwrap_or(0) as Maker
    }
}
