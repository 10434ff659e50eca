//! Who feeds whom: sources and sinks from the works, ways between them over the yard as it is at that
//! moment, least cost, and the list that the crew follows.

use std::ops::RangeInclusive;

use rustc_hash::FxHashMap;

use crate::earthwork::balance;
use crate::findings::{Finding, Severity};
use crate::job::{Job, SoilClass};
use crate::ledger::account::{self, Turn};
use crate::ledger::bare;
use crate::plan::{
    Arc, ArcKind, Deed, FeatureVolume, HaulModel, Haulage, LedgerStage, Node, PilePlace, Plan,
    SoilKind, WayIn,
};
use crate::terrain::line;
use crate::terrain::predicates::P2;

use super::carriers::{Carrier, carriers};
use super::field::{Field, Strip};
use super::list;
use super::model::{BOUGHT, solve_in_time};
use super::moments::{Moment, heaps, moments};
use super::paths::{Map, REACH, Reach, Way};
use super::paving;
use super::short::solved;

/// Less bank soil than this (m³) is rounding.
const SPECK: f64 = 1e-9;
/// Of all bare ground, a smaller share is nobody's way to go.
const SLIVER: f64 = 0.01;
/// Less than this is nothing to carry: a litre.
pub(super) const NOTHING: f64 = 1e-3;

/// A pile's name and middle.
pub(super) type Site = (String, Option<P2>);

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
    /// Of each work in order, the moment just before it; the last: when all is done.
    moment_of: Vec<usize>,
    pub(super) list: Vec<Way>,
    /// Where the access route comes onto the ground, and how far that is from the street.
    street: Option<(P2, f64)>,
    /// Cannot come in from the street nor go out to it. An empty barrow is lifted in, a machine is not.
    shut_out: Vec<bool>,
    /// Of each carrier, what an hour on the way costs for each bank m³ of the soil in hand.
    prices: Vec<f64>,
    /// Whether anybody's hours may not do: if they do, only the cheapest way of all counts.
    limited: bool,
    /// Where the soil of ramps is dug or placed, each with the number of its ramp.
    on_ramps: Vec<(P2, usize)>,
}

/// Whoever builds a ramp or takes it back gets onto it at places so far apart, m.
const ONTO: f64 = 1.0;

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
        let (within, end) = (
            self.moments[moment].reach(self.field, from),
            self.moments[moment].reach(self.field, to),
        );
        let Region { map, reaches } = self.region(moment, c);
        let reach = reaches.entry(from.map(f64::to_bits));
        map.to(reach.or_insert_with(|| map.from(from, within)), to, end)
    }

    fn between(&mut self, order: usize, from: P2, to: Option<P2>) -> Vec<(usize, usize)> {
        match to {
            Some(to) => self.known(order..=order, from, to, false),
            None => self.unknown(from),
        }
    }

    /// Nobody knows how far: by barrow, over a way of one point, which has no length to print.
    fn unknown(&mut self, p: P2) -> Vec<(usize, usize)> {
        let barrow = self.carriers.iter().position(|c| !c.drives && !c.by_hand);
        self.unknown_by(barrow, p)
    }

    fn unknown_by(&mut self, carrier: Option<usize>, p: P2) -> Vec<(usize, usize)> {
        self.list.push(Way {
            line: vec![p],
            length: 0.0,
            gradient: 0.0,
        });
        let way = self.list.len() - 1;
        carrier.map(|c| (c, way)).into_iter().collect()
    }

    /// Every carrier that can go this way just before some work of these, with the number of its way: the
    /// first that it can. By hand only where nothing else can, and without limits on hours nobody who
    /// would cost more than one before. `cast`: what is within reach needs nobody.
    fn known(
        &mut self,
        orders: RangeInclusive<usize>,
        from: P2,
        to: P2,
        cast: bool,
    ) -> Vec<(usize, usize)> {
        let inside = |ways: &Self, c: usize| !(ways.shut_out[c] && ways.carriers[c].drives);
        self.those(inside, orders, from, to, cast)
    }

    /// The same of some carriers.
    fn those(
        &mut self,
        may: impl Fn(&Self, usize) -> bool,
        orders: RangeInclusive<usize>,
        from: P2,
        to: P2,
        cast: bool,
    ) -> Vec<(usize, usize)> {
        let crow = line::dist(from, to);
        let mut best = f64::INFINITY;
        let moments = self.moment_of[*orders.start()]..=self.moment_of[*orders.end()];
        let mut out = Vec::new();
        for c in 0..self.carriers.len() {
            if !may(self, c) || (self.carriers[c].by_hand && !out.is_empty()) {
                continue;
            }
            let cost = |ways: &Self, length: f64| {
                if cast && length <= REACH {
                    0.0
                } else {
                    ways.carriers[c].hours_of(length) * ways.prices[c]
                }
            };
            // As the crow flies it would cost more already.
            if !self.limited && cost(self, crow) * (1.0 - 1e-9) >= best {
                continue;
            }
            let way = moments.clone().find_map(|m| self.at(m, c, from, to));
            if let Some(way) = way {
                best = best.min(cost(self, way.length));
                self.list.push(way);
                out.push((c, self.list.len() - 1));
            }
        }
        out
    }

    /// The way of a carrier at a moment. Soil of a ramp may also go along the ramp, which is built forward
    /// from where one gets to it and taken back the same way.
    fn at(&mut self, moment: usize, c: usize, from: P2, to: P2) -> Option<Way> {
        if self.reached(moment, c, from)
            && let Some(way) = self.find(moment, c, from, to)
        {
            return Some(way);
        }
        let mut over: Vec<Way> = Vec::new();
        for (end, other, outward) in [(from, to, true), (to, from, false)] {
            let Some(ramp) = self.on_ramps.iter().find(|r| r.0 == end).map(|r| r.1) else {
                continue;
            };
            let (ramp, carrier) = (&self.field.ramps[ramp], &self.carriers[c]);
            let steepest = ramp.steepest();
            if steepest > carrier.gradient + 1e-9 || ramp.half < carrier.body {
                continue;
            }
            for onto in ramp.stations(ONTO) {
                let start = if outward { onto } else { from };
                if !self.reached(moment, c, start) {
                    continue;
                }
                // There and back are the same way.
                let Some(mut way) = self.find(moment, c, other, onto) else {
                    continue;
                };
                let ride = ramp.ride(onto, end);
                way.length += line::length(&ride);
                way.gradient = way.gradient.max(steepest);
                way.line.extend(ride.into_iter().skip(1));
                if outward {
                    way.line.reverse();
                }
                over.push(way);
            }
        }
        over.into_iter()
            .min_by(|a, b| a.length.total_cmp(&b.length))
    }

    /// Whether a carrier gets to a place from the street, if it has to.
    fn reached(&mut self, moment: usize, c: usize, from: P2) -> bool {
        let reach = self.moments[moment].reach(self.field, from);
        if self.carriers[c].drives
            && let Some((street, _)) = self.street
            && !self
                .region(moment, c)
                .map
                .joined((street, REACH), (from, reach))
        {
            return false;
        }
        true
    }

    /// To or from the street: the way to where the access comes onto the ground, and along it.
    fn street(&mut self, order: usize, p: Option<P2>, outward: bool) -> Vec<(usize, usize)> {
        let gets_through = |ways: &Self, c: usize| !ways.shut_out[c];
        let (Some((street, more)), Some(p)) = (self.street, p) else {
            let all = 0..self.carriers.len();
            let mut on_foot = all.filter(|&c| !self.carriers[c].drives && gets_through(self, c));
            return self.unknown_by(on_foot.next(), p.unwrap_or_default());
        };
        let (from, to) = if outward { (p, street) } else { (street, p) };
        let out = self.those(gets_through, order..=order, from, to, false);
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
    /// Of the place, and of the feature that it is at.
    name: String,
    work: String,
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
        list.push(Event {
            order,
            stage: stages.len() - 1,
            name: v.place(),
            work: v.name.clone(),
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
    let carriers = carriers(job);
    let widest = carriers.iter().map(|c| c.half).fold(0.0, f64::max);
    let Some(field) = Field::new(job, plan, ramps, widest) else {
        return;
    };
    out.cell_m = field.side;
    let owners: Vec<&str> = volumes
        .iter()
        .map(|v| job.design.work_of(&v.name))
        .collect();
    let sites = sites(job, plan, places);
    let heaps = heaps(&field, plan, places, &sites);
    let (moments, moment_of) = moments(&field, volumes, &owners, &heaps, widest);
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
        !c.by_hand && ways.any(|w| w.name == c.name && w.shut_out)
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
        prices: Vec::new(),
        limited: false,
        on_ramps: events
            .iter()
            .filter_map(|e| {
                let name = &volumes[e.order].name;
                let ramp = field.ramps.iter().position(|r| r.name == *name)?;
                Some([(e.cut_at, ramp), (e.fill_at, ramp)])
            })
            .flatten()
            .collect(),
    };
    if let Some(first) = events.iter().find(|e| moving(e)) {
        out.ways_in = ways.ways_in(first);
    }
    let class_of = |kind: SoilKind| match kind {
        SoilKind::Topsoil => &job.soil.topsoil,
        _ => &job.soil.class,
    };
    let all_soils = |ways: &mut Ways| -> (Vec<SoilKind>, Vec<HaulModel>) {
        let each = SoilKind::ALL.into_iter().map(|kind| {
            let class = class_of(kind);
            let model = model(job, plan, &events, &stages, ways, class, kind, &sites);
            (kind, model)
        });
        each.filter(|(_, m)| !m.sources.is_empty() || !m.sinks.is_empty())
            .unzip()
    };
    let (mut kinds, mut models) = all_soils(&mut ways);
    // Most hours are more than enough: then the cheapest ways alone are the answer, and no others need be
    // looked for.
    let limited = carriers.iter().any(|c| c.hours.is_some());
    let free = limited && solve_in_time(&mut models);
    if limited && !free {
        ways.limited = true;
        (kinds, models) = all_soils(&mut ways);
    }
    for model in &models {
        stranded(model, &mut out.findings);
    }
    let mut lines = Vec::new();
    let (short, each_alone) = if free {
        (models.iter().map(|_| None).collect(), false)
    } else {
        solved(&mut models)
    };
    if each_alone {
        out.findings.push(Finding::new(
            Severity::Warning,
            "haul",
            "the machines have too few hours for all soils of a stage together; each is listed as if it had them to itself",
            "give the machines more hours a stage, or open a way for the barrow",
        ));
    }
    for ((model, kind), short) in models.iter().zip(kinds).zip(short) {
        let class = class_of(kind);
        list::add(job, model, &ways, (kind, class), &mut lines, out);
        if let Some(short) = short {
            let left = short.left(model, class);
            out.findings.push(short.says(model, &left, job.unit));
            out.uncarried.extend(left);
        }
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
    out.hauls = list::in_order(lines);
    out.models = models;
    paving::crossed(job, plan, out);
    list::cautions(out);
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
        work: e.work.clone(),
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
            // Of the same class, topsoil is told by its own word.
            SoilKind::Topsoil if class.name == job.soil.class.name => kind.word().into(),
            _ => class.name.clone(),
        },
        piles: vec![Node {
            name: sites[kind as usize].0.clone(),
            work: String::new(),
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
    let back = if topsoil {
        account::put_back(&plan.ledger)
    } else {
        0.0
    };
    let mut pieces = Vec::new();
    let placed = model.sinks.len();
    if back > SPECK {
        pieces = bare::pieces(job, plan);
        let all: f64 = pieces.iter().map(|p| p.area_m2).sum();
        // Slivers are raked over from what lies beside them.
        pieces.retain(|p| p.area_m2 >= SLIVER * all);
        let area: f64 = pieces.iter().map(|p| p.area_m2).sum();
        model.sinks.extend(pieces.iter().map(|piece| Node {
            name: format!("{}: {}", account::BARE, piece.work),
            work: String::new(),
            order: ways.moment_of.len() - 1,
            stage: last,
            at: piece.spot(sites[kind as usize].1),
            bank_m3: back * piece.area_m2 / area,
        }));
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
    ways.prices = ways
        .carriers
        .iter()
        .map(|c| class.loose / c.load(class) * c.cost)
        .collect();
    let limited = ways.limited;
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
                // It is carried while it is dug: the hole that it leaves is not in its way. Where
                // nothing gets there yet, it is carried as soon as something does.
                // Topsoil goes back on the nearest of what its own work leaves bare.
                let work = job.design.work_of(&plan.volumes.by_feature[s.order].name);
                let own = j.checked_sub(placed).and_then(|k| pieces.get(k));
                let own = own.filter(|p| p.work == work);
                let found = match own.map_or(t.at, |p| p.nearest(from)) {
                    Some(to) => ways.known(s.order..=t.order, from, to, true),
                    None => ways.unknown(from),
                };
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
            format!(
                "nobody gets there with its {}: walls, houses, keep-outs or the dug pond lie before it, the pile that it goes to is out of reach, or a passage is too narrow to be found",
                model.soil
            ),
            "open a way to it or to the pile, or do it in an earlier stage",
        ));
    }
}
