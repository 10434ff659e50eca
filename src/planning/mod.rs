//! How a plan comes about: survey, ground, works on both tracks, water, soil, findings.

use std::sync::Arc;

use crate::design::{Makers, Track, Yard};
use crate::earthwork::watch::Watch;
use crate::earthwork::{Assembled, Mosaic, assemble, balance, sequence};
use crate::findings::{Finding, Severity};
use crate::job::{At, Job};
use crate::plan::{Kind, Mark, MarkKind, Plan, Solid, Volumes, Water};
use crate::survey::{self, Reduced};
use crate::terrain::ground::{Corner, GroundSpot, Outline};
use crate::terrain::predicates::{P2, in_ring, ring_area2, self_crossing};
use crate::terrain::{Plane, Surface, ground};
use crate::{as_built, cautions, guards, ledger, sizes, stakes, units, water};

/// The plan: the ground and its works, then all that follows from them.
pub fn plan(job: &Job) -> Plan {
    let mut plan = works(job);
    ledger::add(job, &mut plan);
    let staked = stakes::of(job, &plan);
    plan.findings.extend(stakes::findings(&staked, job));
    plan.stakes = staked;
    let shot = as_built::findings(job, &plan);
    plan.findings.extend(shot);
    sort(&mut plan.findings);
    plan
}

/// Survey, ground, works on both tracks, soil and water.
fn works(job: &Job) -> Plan {
    let (survey, findings) = survey::reduce(&job.field_book, &job.site.breaklines);
    let mut plan = Plan {
        survey,
        findings,
        ..Plan::default()
    };
    let makers = Makers::of(job);
    plan.makers = makers.list.clone();
    let origin = plan
        .survey
        .spots
        .iter()
        .find(|s| s.ground)
        .map_or([0.0, 0.0], |s| [s.x.round(), s.y.round()]);

    plan.findings.extend(sizes::of(job));
    let surveyed = plan.findings.len();
    // The ground, about an origin of its own so that far-off coordinates cost no digits.
    let base = Base::build(job, &plan.survey, origin, &mut plan.findings);
    marks(job, &plan.survey, &mut plan.marks);
    let Some(base) = base else {
        shift(&mut plan, origin, surveyed);
        return plan;
    };
    let bounds = base.ground.bounds().unwrap_or([[0.0; 3]; 2]);
    let mut caps: rustc_hash::FxHashMap<String, f64> =
        base.walls.iter().map(|w| (w.name.clone(), w.cap)).collect();
    for wall in &job.design.walls {
        if let Ok(cap) = plan.survey.elevation(&wall.cap) {
            caps.insert(wall.name.clone(), cap);
        }
    }
    let mut yard = Yard {
        job,
        survey: &plan.survey,
        makers,
        origin,
        caps,
        top: bounds[1][2],
        bottom: bounds[0][2],
    };
    (yard.top, yard.bottom) = heights(&yard);
    let yard = yard;
    let stages = sequence::stages_of(job, &mut plan.findings);
    let for_dug = base.mosaic(&yard);
    let for_finished = for_dug.clone();
    let (guards, watch) = guards::watch(&yard, &for_dug);
    let (dug, finished) = rayon::join(
        || {
            let out = sequence::run(for_dug, &yard, Track::Dug, &stages, watch);
            let made = assemble(&out.ground);
            (out, made)
        },
        || {
            let out = sequence::run(
                for_finished,
                &yard,
                Track::Finished,
                &stages,
                Watch::default(),
            );
            let made = assemble(&out.ground);
            let waters = waters(&out, &made, &base, &yard);
            (out, made, waters)
        },
    );
    let (mut dug, dug_made) = dug;
    ledger::mark_unfit(job, &mut dug.volumes, &mut plan.findings);
    let (finished, finished_made, (waters, water_findings)) = finished;

    let (cut, fill) = dug.ground.since_survey();
    let sum = |f: fn(&crate::plan::FeatureVolume) -> f64| dug.volumes.iter().map(f).sum::<f64>();
    plan.volumes = Volumes {
        cut_bank_m3: sum(|v| v.cut_bank_m3),
        fill_compacted_m3: sum(|v| v.fill_compacted_m3),
        redug_compacted_m3: sum(|v| v.redug_compacted_m3),
        existing_to_dug_cut_m3: cut,
        existing_to_dug_fill_m3: fill,
        dug_to_finished_m3: {
            let (finished_cut, finished_fill) = finished.ground.since_survey();
            (finished_fill - finished_cut) - (fill - cut)
        },
        by_feature: Vec::new(),
        base_courses: std::mem::take(&mut dug.courses),
    };
    plan.soil = balance::balance(&job.soil, &dug.volumes);
    let findings = cautions::of(&yard, &base.walls, &dug, &plan.soil, &waters);
    let guarded = guards::of(guards, &dug.watch, &yard, &dug.ground);
    plan.findings
        .extend(beyond_survey(&base, &yard, &dug.ground));
    plan.findings.extend(dug.findings);
    plan.set_out = dug.set_out;
    plan.findings.extend(water_findings);
    plan.findings.extend(guarded);
    plan.findings.extend(findings);
    plan.volumes.by_feature = dug.volumes;
    plan.water = waters;
    plan.solids = base.walls.into_iter().chain(dug.solids).collect();
    // The last of the mosaics gives the ground back without a copy.
    drop((dug.ground, finished));
    plan.existing = Arc::unwrap_or_clone(base.ground);
    plan.dug = dug_made.surface;
    plan.finished = finished_made.surface;
    shift(&mut plan, origin, surveyed);
    plan
}

/// Highest and lowest that any surface can get, so that slopes reach that far: the ground, and
/// whatever the design places on it or digs into it.
fn heights(yard: &Yard) -> (f64, f64) {
    let d = &yard.job.design;
    let (mut top, mut bottom) = (yard.top, yard.bottom);
    let mut reach = |z: Result<f64, String>, up: f64, down: f64| {
        if let Ok(z) = z {
            top = top.max(z + up);
            bottom = bottom.min(z - down);
        }
    };
    for b in &d.basins {
        let lining: f64 = b.lining.iter().map(|l| l.thickness).sum();
        let pit = b.pits.iter().map(|p| p.depth).fold(0.0, f64::max);
        reach(
            yard.level(&b.water),
            0.0,
            b.floor_depth + pit + 2.0 * lining,
        );
        for c in d.cascades.iter().filter(|c| c.into == b.name) {
            let rise: f64 = c.pools.iter().map(|p| p.drop).sum();
            reach(yard.level(&b.water), rise + c.berm.freeboard, 0.0);
        }
    }
    d.walls
        .iter()
        .for_each(|w| reach(yard.height(&w.cap), 0.0, 0.0));
    d.pads
        .iter()
        .for_each(|p| reach(yard.height(&p.elevation), 0.0, p.build_up));
    d.ramps
        .iter()
        .flat_map(|r| &r.profile)
        .for_each(|h| reach(yard.height(h), 0.0, 0.0));
    let mut above = 0.0f64;
    for b in &d.berms {
        match &b.crest {
            crate::job::Crest::At(h) => reach(yard.height(h), 0.0, 0.0),
            crate::job::Crest::Above(by) => above = above.max(*by),
        }
    }
    let trench = d.trenches.iter().map(|t| t.depth).fold(0.0, f64::max);
    let foot = d
        .walls
        .iter()
        .map(|w| w.embedment + w.base_thickness)
        .fold(0.0, f64::max);
    (top + above, bottom - trench.max(foot))
}

/// Works that run off the surveyed ground: their volumes are not all there.
fn beyond_survey(base: &Base, yard: &Yard, ground: &Mosaic) -> Vec<Finding> {
    let mut found: Vec<(u16, P2)> = Vec::new();
    for [a, b] in &base.boundary {
        let d = [b[0] - a[0], b[1] - a[1]];
        let length = d[0].hypot(d[1]);
        if length < 1e-6 {
            continue;
        }
        let left = [-d[1] / length * 1e-3, d[0] / length * 1e-3];
        let steps = (length / 0.4).ceil().min(400.0) as usize;
        for s in 0..steps {
            let f = (s as f64 + 0.5) / steps as f64;
            let p = [a[0] + f * d[0] + left[0], a[1] + f * d[1] + left[1]];
            let Some(maker) = ground.moved_at(p) else {
                continue;
            };
            let name = &yard.makers.list[maker as usize].name;
            let known = found
                .iter()
                .any(|(m, _)| yard.makers.list[*m as usize].name == *name);
            // A standing wall's footprint is no end of the ground for soil that leans on it.
            let out = [p[0] - 2.0 * left[0], p[1] - 2.0 * left[1]];
            if !known && ground.elevation(out).is_none() {
                found.push((maker, p));
            }
        }
    }
    found
        .into_iter()
        .map(|(maker, p)| {
            let z = ground.elevation(p).unwrap_or(yard.bottom);
            Finding::new(
                Severity::Warning,
                yard.makers.list[maker as usize].name.clone(),
                "runs beyond the surveyed ground (or into a footprint); its volumes are only those inside",
                "shoot the ground further out, or draw it further in",
            )
            .at(p[0], p[1], z)
        })
        .collect()
}

/// Worst first; within one severity in the order found, and nothing twice.
fn sort(findings: &mut Vec<Finding>) {
    findings.sort_by_key(|f| f.severity);
    let mut seen: Vec<Finding> = Vec::with_capacity(findings.len());
    for f in findings.drain(..) {
        let twin = |s: &Finding| s.severity == f.severity && s.place == f.place && s.what == f.what;
        if seen.len() > 500 || !seen.iter().any(twin) {
            seen.push(f);
        }
    }
    *findings = seen;
}

/// The ground before any work.
struct Base {
    ground: Arc<Surface>,
    walls: Vec<Solid>,
    boundary: Vec<[P2; 2]>,
    /// Footprints that hold water like a wall.
    closed: Vec<Vec<P2>>,
}

impl Base {
    fn build(job: &Job, survey: &Reduced, origin: P2, findings: &mut Vec<Finding>) -> Option<Base> {
        let spots: Vec<GroundSpot> = survey
            .spots
            .iter()
            .filter(|s| s.ground)
            .map(|s| GroundSpot {
                name: &s.name,
                at: [s.x - origin[0], s.y - origin[1], s.z],
            })
            .collect();
        let by_name: rustc_hash::FxHashMap<&str, usize> = spots
            .iter()
            .enumerate()
            .filter(|(_, s)| !s.name.is_empty())
            .map(|(i, s)| (s.name, i))
            .collect();
        let corner = |at: &At| -> Result<Corner, String> {
            if let At::Shot(name) = at
                && let Some(&i) = by_name.get(name.as_str())
            {
                return Ok(Corner::Spot(i));
            }
            let p = survey.locate(at, &job.field_book)?;
            Ok(Corner::Place([p[0] - origin[0], p[1] - origin[1]]))
        };
        let outline =
            |name: String, along: &[At], findings: &mut Vec<Finding>| -> Option<Outline> {
                match along.iter().map(&corner).collect::<Result<Vec<_>, _>>() {
                    Ok(corners) => Some(Outline { name, corners }),
                    Err(why) => {
                        findings.push(Finding::new(
                            Severity::Error,
                            name,
                            format!("is left out: {why}"),
                            "use the name of a placed shot or peg, or give its place",
                        ));
                        None
                    }
                }
            };
        let site = &job.site;
        let breaklines: Vec<Outline> = site
            .breaklines
            .iter()
            .filter_map(|l| outline(l.name.clone(), &l.along, findings))
            .collect();
        let edge = if site.outline.is_empty() {
            None
        } else {
            outline("surveyed outline".into(), &site.outline, findings)
        };
        let mut holes: Vec<Outline> = site
            .holes
            .iter()
            .filter_map(|h| outline(h.name.clone(), &h.outline, findings))
            .collect();
        let houses = holes.len();
        let mut walls = Vec::new();
        for wall in &site.walls {
            let ring: Vec<At> = wall
                .left
                .iter()
                .chain(wall.right.iter().rev())
                .cloned()
                .collect();
            let Some(ring) = outline(format!("wall {}", wall.name), &ring, findings) else {
                continue;
            };
            let cap = match survey.elevation(&wall.cap) {
                Ok(cap) => cap,
                Err(why) => {
                    findings.push(Finding::new(
                        Severity::Error,
                        format!("wall {}", wall.name),
                        format!("is left out: its cap has no elevation ({why})"),
                        "shoot the cap, or give its elevation",
                    ));
                    continue;
                }
            };
            let plan = plan_of(&ring, &spots);
            let base = ring
                .corners
                .iter()
                .filter_map(|c| {
                    if let Corner::Spot(i) = c {
                        Some(spots[*i].at[2])
                    } else {
                        None
                    }
                })
                .fold(cap, f64::min);
            if plan.len() < 3 || self_crossing(&plan).is_some() {
                findings.push(Finding::new(
                    Severity::Error,
                    format!("wall {}", wall.name),
                    "is left out: its two faces cross each other",
                    "give left and right both in the same direction",
                ));
                continue;
            }
            let footprint = if ring_area2(&plan) < 0.0 {
                plan.iter().rev().copied().collect()
            } else {
                plan
            };
            walls.push(Solid {
                name: wall.name.clone(),
                footprint,
                base,
                cap,
                new: false,
            });
            holes.push(ring);
        }
        let made = ground::build(&spots, &breaklines, edge.as_ref(), &holes, job.unit);
        findings.extend(made.findings);
        if made.surface.triangles.is_empty() {
            return None;
        }
        let closed = holes[..houses].iter().map(|h| plan_of(h, &spots)).collect();
        Some(Base {
            ground: Arc::new(made.surface),
            boundary: made.boundary,
            walls,
            closed,
        })
    }

    fn mosaic(&self, yard: &Yard) -> Mosaic {
        let mut mosaic = Mosaic::new(self.ground.clone());
        for wall in &self.walls {
            let maker = yard.maker(&wall.name, Kind::StandingWall, "cap");
            for facet in crate::earthwork::facet::flat(&wall.footprint, wall.cap, maker) {
                mosaic.add_solid(&facet.outline, Plane::level(wall.cap), maker);
            }
        }
        mosaic
    }
}

fn plan_of(ring: &Outline, spots: &[GroundSpot]) -> Vec<P2> {
    ring.corners
        .iter()
        .map(|c| match *c {
            Corner::Spot(i) => [spots[i].at[0], spots[i].at[1]],
            Corner::Place(p) => p,
        })
        .collect()
}

fn waters(
    out: &sequence::Outcome,
    made: &Assembled,
    base: &Base,
    yard: &Yard,
) -> (Vec<Water>, Vec<Finding>) {
    let mut terrain = water::Terrain::near_works(made, &base.closed);
    let mut list = Vec::new();
    let mut findings = Vec::new();
    for still in &out.waters {
        let lip = |m: u16| {
            let by = &yard.makers.list[m as usize];
            still.lipped && by.part == "lip" && by.name == still.name
        };
        let mut reach = terrain.stand(still.seed, still.level, lip);
        if terrain.strayed() {
            terrain = water::Terrain::new(made, &base.closed);
            reach = terrain.stand(still.seed, still.level, lip);
        }
        let Some(reach) = reach else {
            findings.push(
                Finding::new(
                    Severity::Error,
                    still.name.clone(),
                    "has no water: the finished ground at its middle lies above the water, or outside the survey",
                    "check its level, its outline and the order of the stages",
                )
                .at(still.seed[0], still.seed[1], still.level),
            );
            continue;
        };
        let held = reach.spill >= still.level - 1e-6 && !reach.leaves_survey;
        let freeboard = reach.brim - still.level;
        let unit = |v: f64| units::format_length(v, yard.job.unit);
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
                .at(reach.brim_at[0], reach.brim_at[1], reach.brim),
            );
        }
        let drawn = 0.5 * ring_area2(&still.outline).abs();
        if reach.area > 1.01 * drawn + 0.05 {
            findings.push(
                Finding::new(
                    Severity::Warning,
                    still.name.clone(),
                    format!(
                        "the water spreads {} beyond its outline, over ground that is not lined",
                        units::format_area(reach.area - drawn, yard.job.unit)
                    ),
                    "the ground beside it lies under the water: raise it with soil or a wall, or draw the outline around it",
                )
                .at(still.seed[0], still.seed[1], still.level),
            );
        }
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
    for (k, still) in out.waters.iter().enumerate() {
        for w in list
            .iter()
            .filter(|w| w.name != still.name && (w.level_m - still.level).abs() > 1e-6)
        {
            if out.waters[..k].iter().any(|o| o.name == w.name)
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
                    .at(still.seed[0], still.seed[1], still.level),
                );
            }
        }
    }
    (list, findings)
}

fn marks(job: &Job, survey: &Reduced, marks: &mut Vec<Mark>) {
    let mut add = |name: &str, kind: MarkKind, line: &[At], closed: bool| {
        // A place that is not known is reported where it matters; here it is just not drawn.
        let points: Vec<P2> = line
            .iter()
            .filter_map(|at| survey.locate(at, &job.field_book).ok())
            .collect();
        if points.len() > 1 {
            marks.push(Mark {
                name: name.into(),
                kind,
                line: points,
                closed,
            });
        }
    };
    let site = &job.site;
    site.paving
        .iter()
        .for_each(|a| add(&a.name, MarkKind::Paving, &a.outline, true));
    site.keep_outs
        .iter()
        .for_each(|a| add(&a.name, MarkKind::KeepOut, &a.outline, true));
    site.holes
        .iter()
        .for_each(|a| add(&a.name, MarkKind::House, &a.outline, true));
    site.services
        .iter()
        .for_each(|s| add(&s.name, MarkKind::Service, &s.line, false));
    site.breaklines
        .iter()
        .for_each(|l| add(&l.name, MarkKind::Breakline, &l.along, false));
    for tree in &site.trees {
        if let Ok(at) = survey.locate(&tree.at, &job.field_book) {
            let ring = guards::circle(at, tree.protected());
            let ring = ring
                .into_iter()
                .map(|p| At::Placed(crate::job::Place::Xy(p[0], p[1])));
            add(&tree.name, MarkKind::Tree, &ring.collect::<Vec<At>>(), true);
        }
    }
    if let Some(access) = &site.access {
        add("access", MarkKind::Access, &access.line, false);
    }
    add("surveyed outline", MarkKind::Outline, &site.outline, true);
}

/// Back to the job's own coordinates.
fn shift(plan: &mut Plan, origin: P2, surveyed: usize) {
    let [dx, dy] = origin;
    if dx == 0.0 && dy == 0.0 {
        return;
    }
    for surface in [&mut plan.existing, &mut plan.dug, &mut plan.finished] {
        for p in &mut surface.points {
            p[0] += dx;
            p[1] += dy;
        }
    }
    let move_plan = |p: &mut P2| {
        p[0] += dx;
        p[1] += dy;
    };
    plan.solids
        .iter_mut()
        .flat_map(|s| s.footprint.iter_mut())
        .for_each(move_plan);
    for v in &mut plan.volumes.by_feature {
        v.cut_at
            .iter_mut()
            .chain(&mut v.fill_at)
            .for_each(move_plan);
    }
    plan.set_out
        .iter_mut()
        .flat_map(|s| s.stations.iter_mut())
        .for_each(|s| move_plan(&mut s.at));
    for w in &mut plan.water {
        move_plan(&mut w.freeboard_at);
        move_plan(&mut w.spill_at);
        w.edge.iter_mut().flatten().for_each(move_plan);
        w.sheet.iter_mut().flatten().for_each(move_plan);
    }
    // Findings of the survey are in the job's coordinates already: only what came after moves.
    for f in plan.findings.iter_mut().skip(surveyed) {
        if let Some(at) = &mut f.at {
            at[0] += dx;
            at[1] += dy;
        }
    }
}
