//! Who feeds whom: sources and sinks from the works, ways between them over the yard as it is at that
//! moment, least cost, and the list that the crew follows.

use rustc_hash::{FxHashMap, FxHashSet};

use crate::earthwork::balance;
use crate::findings::{Finding, Severity};
use crate::job::{Job, SoilClass};
use crate::ledger::account::{self, Turn};
use crate::plan::{
    Arc, ArcKind, Deed, FeatureVolume, HaulModel, Haulage, Kind, LedgerStage, Node, PilePlace,
    Plan, SoilKind, WayIn,
};
use crate::terrain::line;
use crate::terrain::predicates::P2;

use super::carriers::{Carrier, carriers};
use super::field::{Field, Ground, Strip};
use super::list;
use super::model::{BOUGHT, solve};
use super::paths::{Map, REACH, Reach, Way};

/// Less bank soil than this (m³) is rounding.
const SPECK: f64 = 1e-9;
/// Less than this is nothing to carry: a litre.
pub(super) const NOTHING: f64 = 1e-3;

/// A pile's name and middle.
type Site = (String, Option<P2>);

struct Moment {
    ground: Ground,
    room: Vec<f64>,
    steep: Vec<f64>,
}

/// Where a carrier can go at a moment, and how far it is from the places asked about.
struct Region<'a> {
    map: Map<'a>,
    reaches: FxHashMap<[u64; 2], Reach>,
}

/// Ways over the yard, each found once.
pub(super) struct Ways<'a> {
    field: &'a Field,
    pub(super) carriers: &'a [Carrier],
    moments: &'a [Moment],
    /// By moment and carrier.
    regions: FxHashMap<(usize, usize), Region<'a>>,
    /// Of each work in order, the moment just before it.
    moment_of: Vec<usize>,
    pub(super) list: Vec<Way>,
    /// Where the access route comes onto the ground, and how far that is from the street.
    street: Option<(P2, f64)>,
    shut_out: Vec<bool>,
}

impl<'a> Ways<'a> {
    fn region(&mut self, moment: usize, c: usize) -> &mut Region<'a> {
        let (m, carrier) = (&self.moments[moment], &self.carriers[c]);
        self.regions.entry((moment, c)).or_insert_with(|| {
            let (half, limit) = (carrier.half, carrier.gradient);
            Region {
                map: Map::new(self.field, &m.ground, &m.room, &m.steep, half, limit),
                reaches: FxHashMap::default(),
            }
        })
    }

    fn find(&mut self, moment: usize, c: usize, from: P2, to: P2) -> Option<Way> {
        let Region { map, reaches } = self.region(moment, c);
        let reach = reaches.entry(from.map(f64::to_bits));
        map.to(reach.or_insert_with(|| map.from(from)), to)
    }

    fn between(&mut self, order: usize, from: P2, to: Option<P2>) -> Vec<(usize, usize)> {
        match to {
            Some(to) => self.known(order, from, to),
            None => self.unknown(from),
        }
    }

    /// Nobody knows how far: by barrow, over a way of one point, which has no length to print.
    fn unknown(&mut self, p: P2) -> Vec<(usize, usize)> {
        let barrow = self.carriers.iter().position(|c| !c.drives && !c.by_hand);
        self.list.push(Way {
            line: vec![p],
            length: 0.0,
            gradient: 0.0,
        });
        let way = self.list.len() - 1;
        barrow.map(|c| (c, way)).into_iter().collect()
    }

    /// Every carrier that can go this way before work `order`, with the number of its way; by hand only
    /// where nothing else can.
    fn known(&mut self, order: usize, from: P2, to: P2) -> Vec<(usize, usize)> {
        let moment = self.moment_of[order];
        let mut out = Vec::new();
        for c in 0..self.carriers.len() {
            let carrier = &self.carriers[c];
            if self.shut_out[c] || (carrier.by_hand && !out.is_empty()) {
                continue;
            }
            if carrier.drives
                && let Some((street, _)) = self.street
                && !self.region(moment, c).map.joined(street, from)
            {
                continue;
            }
            if let Some(way) = self.find(moment, c, from, to) {
                self.list.push(way);
                out.push((c, self.list.len() - 1));
            }
        }
        out
    }

    /// To or from the street: the way to where the access comes onto the ground, and along it.
    fn street(&mut self, order: usize, p: Option<P2>, outward: bool) -> Vec<(usize, usize)> {
        let (Some((street, more)), Some(p)) = (self.street, p) else {
            return self.unknown(p.unwrap_or_default());
        };
        let out = if outward {
            self.known(order, p, street)
        } else {
            self.known(order, street, p)
        };
        for &(_, w) in &out {
            self.list[w].length += more;
        }
        out
    }
}

impl Ways<'_> {
    /// Of whatever drives or is pushed, the way from the street to the first work.
    fn ways_in(&mut self, first: &Event) -> Vec<WayIn> {
        let Some((street, more)) = self.street else {
            return Vec::new();
        };
        let moment = self.moment_of[first.order];
        (0..self.carriers.len())
            .filter(|&c| !self.carriers[c].by_hand)
            .map(|c| {
                let way = if self.shut_out[c] {
                    None
                } else {
                    self.find(moment, c, street, first.cut_at)
                };
                WayIn {
                    by: self.carriers[c].name.clone(),
                    to: first.name.clone(),
                    distance_m: way.as_ref().map(|w| w.length + more),
                    gradient_max: way.as_ref().map_or(0.0, |w| w.gradient),
                    path: way.map_or(Vec::new(), |w| w.line),
                }
            })
            .collect()
    }
}

struct Event {
    order: usize,
    stage: usize,
    name: String,
    moved: Turn,
    cut_at: P2,
    fill_at: P2,
}

fn events(job: &Job, volumes: &[FeatureVolume]) -> (Vec<Event>, Vec<String>) {
    let mut stages: Vec<String> = Vec::new();
    let mut list = Vec::new();
    for (order, v) in volumes.iter().enumerate() {
        if stages.last() != Some(&v.stage) {
            stages.push(v.stage.clone());
        }
        let at = v.cut_at.or(v.fill_at);
        let Some(at) = at else { continue };
        let name = match (v.part.as_str(), v.kind) {
            ("", Kind::Backfill) => format!("{}, backfill", v.name),
            ("", Kind::Surround) => format!("{}, berm", v.name),
            ("", _) => v.name.clone(),
            (part, _) => format!("{}, {part}", v.name),
        };
        list.push(Event {
            order,
            stage: stages.len() - 1,
            name,
            moved: account::turn(v, job.soil.class.compacted),
            cut_at: v.cut_at.unwrap_or(at),
            fill_at: v.fill_at.unwrap_or(at),
        });
    }
    (list, stages)
}

pub fn flows(job: &Job, plan: &Plan, ramps: Vec<Strip>, places: &[PilePlace], out: &mut Haulage) {
    let volumes = &plan.volumes.by_feature;
    let (events, stages) = events(job, volumes);
    let moving = |e: &Event| e.moved.gives.iter().chain(&e.moved.takes).sum::<f64>() > NOTHING;
    if !events.iter().any(moving) {
        return;
    }
    let Some(field) = Field::new(job, plan, ramps) else {
        return;
    };
    out.cell_m = field.side;
    let carriers = carriers(job);
    let owners: Vec<&str> = volumes
        .iter()
        .map(|v| job.design.work_of(&v.name))
        .collect();
    let (moments, moment_of) = moments(&field, volumes, &owners);
    let street = street(job, plan);
    if street.is_none() {
        out.findings.push(Finding::new(
            Severity::Warning,
            "haul",
            "the way from the street is not known, so neither is the way of what is taken off or brought in",
            "give `access` of the site, from the street in, onto surveyed ground",
        ));
    }
    let shut = |c: &Carrier| {
        let mut ways = plan.access.iter().flat_map(|a| &a.machines);
        c.drives && ways.any(|w| w.name == c.name && w.shut_out)
    };
    let shut_out = carriers.iter().map(shut).collect();
    let mut ways = Ways {
        field: &field,
        carriers: &carriers,
        moments: &moments,
        regions: FxHashMap::default(),
        moment_of,
        list: Vec::new(),
        street,
        shut_out,
    };
    let sites = sites(job, plan, places);
    if let Some(first) = events.iter().find(|e| moving(e)) {
        out.ways_in = ways.ways_in(first);
    }
    let class_of = |kind: SoilKind| match kind {
        SoilKind::Topsoil => &job.soil.topsoil,
        _ => &job.soil.class,
    };
    let (mut kinds, mut models) = (Vec::new(), Vec::new());
    for kind in SoilKind::ALL {
        let class = class_of(kind);
        let model = model(job, plan, &events, &stages, &mut ways, class, kind, &sites);
        if model.sources.is_empty() && model.sinks.is_empty() {
            continue;
        }
        stranded(&model, &mut out.findings);
        kinds.push(kind);
        models.push(model);
    }
    solved(&mut models, &mut out.findings);
    for (model, kind) in models.iter().zip(kinds) {
        if model.solved {
            list::add(job, model, &ways, class_of(kind), out);
            let piled = |a: &Arc| a.kind == ArcKind::ToPile && a.bank_m3 > NOTHING;
            let lost = model.piles.iter().find(|p| p.at.is_none());
            if let Some(pile) = lost.filter(|_| model.arcs.iter().any(piled)) {
                out.findings.push(Finding::new(
                    Severity::Warning,
                    pile.name.clone(),
                    "has no place, so how far soil is carried to it and from it is not known",
                    "give it one in `piles` of the design",
                ));
            }
        }
    }
    out.models = models;
    list::cautions(out);
}

/// All soils together; if that cannot be, each that can be carried by itself, and what is wrong.
fn solved(models: &mut [HaulModel], findings: &mut Vec<Finding>) {
    if solve(models) {
        return;
    }
    let mut each = true;
    for model in models {
        if !solve(std::slice::from_mut(model)) {
            each = false;
            findings.push(Finding::new(
                Severity::Error,
                "haul",
                format!(
                    "nobody can carry all the {}: it has no way, or the machines have too few hours",
                    model.soil
                ),
                "give the machines more hours a stage, leave their `hours` out, or open a way for the barrow",
            ));
        }
    }
    if each {
        findings.push(Finding::new(
            Severity::Warning,
            "haul",
            "the machines have too few hours for all soils of a stage together; each is listed as if it had them to itself",
            "give the machines more hours a stage, or open a way for the barrow",
        ));
    }
}

/// The ground just before each work; works that change nothing for whoever drives share one.
fn moments(field: &Field, volumes: &[FeatureVolume], owners: &[&str]) -> (Vec<Moment>, Vec<usize>) {
    let mut built: FxHashSet<&str> = FxHashSet::default();
    let mut standing: Vec<usize> = Vec::new();
    let mut moments = Vec::new();
    let mut of = Vec::new();
    let mut fresh = false;
    for (k, v) in volumes.iter().enumerate() {
        if moments.is_empty() || fresh {
            let ground = field.ground(&built, &standing);
            let room = field.room(&ground.open);
            let steep = field.steep(&ground.z);
            moments.push(Moment {
                ground,
                room,
                steep,
            });
            fresh = false;
        }
        of.push(moments.len() - 1);
        // A feature's parts follow each other; it is there when the last of them is done.
        let done = owners.get(k + 1) != Some(&owners[k]);
        let ramp = field.ramps.iter().position(|r| r.name == v.name);
        match ramp {
            Some(r) if v.part == "taken back" => {
                standing.retain(|&s| s != r);
                fresh = true;
            }
            Some(r) => {
                if !standing.contains(&r) {
                    standing.push(r);
                }
                fresh = true;
            }
            None if done => {
                built.insert(owners[k]);
                fresh = true;
            }
            None => {}
        }
    }
    (moments, of)
}

/// Where the access route first lies on surveyed ground, and how far along that is.
fn street(job: &Job, plan: &Plan) -> Option<(P2, f64)> {
    let access = job.site.access.as_ref()?;
    let line = plan.survey.line(&access.line, &job.field_book).ok()?;
    let total = line::length(&line);
    let near = super::access::nearby(&plan.existing, &line);
    if near.triangles.is_empty() || line.len() < 2 {
        return None;
    }
    let probe = crate::terrain::Probe::new(&near);
    let steps = (total / 0.1).ceil().clamp(1.0, 10_000.0) as usize;
    (0..=steps).find_map(|s| {
        let along = total * s as f64 / steps as f64;
        let p = line::at(&line, along);
        probe.sound(p).map(|_| (p, along))
    })
}

/// Where each kind lies: the job's own pile, the place suggested, or nobody knows where.
fn sites(job: &Job, plan: &Plan, places: &[PilePlace]) -> [Site; 3] {
    SoilKind::ALL.map(|kind| {
        let own = job
            .design
            .piles
            .iter()
            .find(|p| p.of == kind)
            .and_then(|p| {
                let line = plan.survey.line(&p.along, &job.field_book).ok()?;
                let n = line.len() as f64;
                let sum = line
                    .iter()
                    .fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
                (n > 0.0).then(|| (p.name.clone(), Some([sum[0] / n, sum[1] / n])))
            });
        let suggested = places.iter().find(|p| p.soil == kind).map(|p| p.at);
        own.unwrap_or_else(|| (account::pile_of(kind), suggested))
    })
}

#[allow(clippy::too_many_arguments)] // one place builds it, from all that there is
fn model(
    job: &Job,
    plan: &Plan,
    events: &[Event],
    stages: &[String],
    ways: &mut Ways,
    class: &SoilClass,
    kind: SoilKind,
    sites: &[Site; 3],
) -> HaulModel {
    let topsoil = kind == SoilKind::Topsoil;
    let node = |e: &Event, at: P2, bank: f64| Node {
        name: e.name.clone(),
        order: e.order,
        stage: e.stage,
        at: Some(at),
        bank_m3: bank,
    };
    let mut model = HaulModel {
        stages: stages.to_vec(),
        carriers: ways.carriers.iter().map(|c| c.name.clone()).collect(),
        hours: ways.carriers.iter().map(|c| c.hours).collect(),
        soil: match kind {
            SoilKind::Unfit => kind.word().into(),
            _ => class.name.clone(),
        },
        piles: vec![Node {
            name: sites[kind as usize].0.clone(),
            order: 0,
            stage: 0,
            at: sites[kind as usize].1,
            bank_m3: 0.0,
        }],
        ..HaulModel::default()
    };
    for e in events {
        let dug = e.moved.gives[kind as usize];
        let placed = e.moved.takes[kind as usize];
        if dug > SPECK {
            model.sources.push(node(e, e.cut_at, dug));
        }
        if placed > SPECK {
            model.sinks.push(node(e, e.fill_at, placed));
        }
    }
    // Topsoil goes back on bare ground in the end, or stays on its pile.
    let last = stages.len().saturating_sub(1);
    let entries = plan.ledger.stages.iter().flat_map(|s| &s.entries);
    let back: f64 = entries
        .filter(|e| topsoil && e.soil == kind && e.place == account::BARE)
        .map(|e| e.bank_m3)
        .sum();
    if back > SPECK {
        let (mut at, mut weight) = ([0.0; 2], 0.0);
        for e in events {
            let placed: f64 = e.moved.takes.iter().sum();
            at = [at[0] + placed * e.fill_at[0], at[1] + placed * e.fill_at[1]];
            weight += placed;
        }
        model.sinks.push(Node {
            name: account::BARE.into(),
            order: events.last().map_or(0, |e| e.order),
            stage: last,
            at: if weight > 0.0 {
                Some([at[0] / weight, at[1] / weight])
            } else {
                sites[kind as usize].1
            },
            bank_m3: back,
        });
    }
    model.keeps = topsoil && back <= SPECK;
    let off = of_ledger(plan, stages, kind, Deed::HauledOff);
    let brought = of_ledger(plan, stages, kind, Deed::BroughtIn);
    let some = |list: &[f64], stage: usize| list.get(stage).is_none_or(|v| *v > SPECK);
    let leaves = |stage: usize| some(&off, stage);
    let comes = |stage: usize| some(&brought, stage);
    // What one m³ of bank soil costs on a truck, there and back.
    let per_truck = balance::load(&job.soil, class.loose_density) / class.loose;
    let truck = if per_truck > 0.0 {
        job.haul.truck_trip / 60.0 / per_truck
    } else {
        0.0
    };
    let limited = ways.carriers.iter().any(|c| c.hours.is_some());
    let pile = model.piles[0].at;
    let mut arcs: Vec<Arc> = Vec::new();
    let mut add = |ways: &Ways, kind, from, to, stage, found: Vec<(usize, usize)>, more: f64| {
        let mut new: Vec<Arc> = found
            .into_iter()
            .map(|(c, w)| {
                let carrier = &ways.carriers[c];
                let length = ways.list[w].length;
                // Cast straight across by whoever digs: no way to go.
                let hours = if kind == ArcKind::Direct && length <= REACH {
                    0.0
                } else {
                    carrier.hours_of(length) * class.loose / carrier.load(class)
                };
                Arc {
                    kind,
                    from,
                    to,
                    stage,
                    by: c,
                    cost_per_m3: hours * carrier.cost + more,
                    hours_per_m3: hours,
                    bank_m3: 0.0,
                    way: w,
                }
            })
            .collect();
        if !limited && new.len() > 1 {
            // Without limits on their hours, the cheapest does it all.
            new.sort_by(|a, b| a.cost_per_m3.total_cmp(&b.cost_per_m3));
            new.truncate(1);
        }
        arcs.extend(new);
    };
    let truck_cost = truck * job.haul.truck_cost;
    for (i, s) in model.sources.iter().enumerate() {
        let from = s.at.unwrap_or_default();
        let found = ways.between(s.order, from, pile);
        add(ways, ArcKind::ToPile, i, 0, s.stage, found, 0.0);
        if leaves(s.stage) {
            let found = ways.street(s.order, s.at, true);
            add(ways, ArcKind::Off, i, 0, s.stage, found, truck_cost);
        }
        for (j, t) in model.sinks.iter().enumerate() {
            if s.stage == t.stage && s.order <= t.order {
                let found = ways.between(t.order, from, t.at);
                add(ways, ArcKind::Direct, i, j, t.stage, found, 0.0);
            }
        }
    }
    for (j, t) in model.sinks.iter().enumerate() {
        let found = match pile {
            Some(pile) => ways.between(t.order, pile, t.at),
            None => ways.unknown(t.at.unwrap_or_default()),
        };
        add(ways, ArcKind::FromPile, 0, j, t.stage, found, 0.0);
        if comes(t.stage) {
            let found = ways.street(t.order, t.at, false);
            add(ways, ArcKind::In, 0, j, t.stage, found, truck_cost + BOUGHT);
        }
    }
    // One way off the pile for each stage, at its first work.
    for stage in (0..stages.len()).filter(|&s| leaves(s)) {
        if let Some(first) = events.iter().find(|e| e.stage == stage) {
            let found = ways.street(first.order, pile, true);
            add(ways, ArcKind::PileOff, 0, 0, stage, found, truck_cost);
        }
    }
    model.arcs = arcs;
    (model.off_bank_m3, model.in_bank_m3) = (off, brought);
    model
}

/// What the ledger does with a kind of soil in each stage, bank; nothing if its stages are not these.
fn of_ledger(plan: &Plan, stages: &[String], kind: SoilKind, deed: Deed) -> Vec<f64> {
    let ledger = &plan.ledger.stages;
    if ledger.len() != stages.len() {
        return Vec::new();
    }
    let sum = |s: &LedgerStage| {
        let entries = s.entries.iter();
        let its = entries.filter(|e| e.soil == kind && e.deed == deed);
        its.map(|e| e.bank_m3).sum()
    };
    ledger.iter().map(sum).collect()
}

/// Works that nobody gets to.
fn stranded(model: &HaulModel, findings: &mut Vec<Finding>) {
    let out = |i: usize| {
        model.arcs.iter().any(|a| {
            matches!(a.kind, ArcKind::Direct | ArcKind::ToPile | ArcKind::Off) && a.from == i
        })
    };
    let into = |j: usize| {
        model.arcs.iter().any(|a| {
            matches!(a.kind, ArcKind::Direct | ArcKind::FromPile | ArcKind::In) && a.to == j
        })
    };
    let lost = (0..model.sources.len())
        .filter(|&i| !out(i))
        .map(|i| &model.sources[i])
        .chain(
            (0..model.sinks.len())
                .filter(|&j| !into(j))
                .map(|j| &model.sinks[j]),
        );
    for node in lost {
        findings.push(Finding::new(
            Severity::Error,
            node.name.clone(),
            "nobody gets there: walls, houses, keep-outs or the dug pond shut it in",
            "open a way to it, or do it in an earlier stage",
        ));
    }
}
