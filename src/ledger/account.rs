//! Keeping the ledger: from what each work digs and places to what lies where when each stage ends.
//!
//! What a work digs feeds what it places; the rest goes to the pile of its kind. What it lacks comes
//! from the pile, and what the pile lacks is brought in. When a stage ends, what no later stage needs
//! is hauled off as soon as it fills a truck; what one needs stays. Topsoil and unfit soil are never
//! placed as fill; topsoil goes back on bare ground in the end, if the job asks. Soil is
//! conserved: the entries of a stage, each with its sign, add up to nothing in bank measure.

use super::bare::Wanted;
use super::factors::Pair;
use crate::earthwork::balance::{load, loads};
use crate::job::Soil;
use crate::plan::{
    Deed, Entry, FeatureVolume, Ledger, LedgerStage, Loads, Lying, RampStands, Shortage, SoilKind,
    State,
};

pub const OFF_SITE: &str = "off the site";
pub const BROUGHT_IN: &str = "brought in";
pub const BARE: &str = "bare ground";
/// Less than this (m³, a thimble) is rounding.
const SPECK: f64 = 1e-9;

/// What one work frees and takes, in bank measure, by kind.
#[derive(Debug, Clone, Copy, Default)]
pub struct Turn {
    pub gives: [f64; 3],
    pub takes: [f64; 3],
}

pub fn account(
    volumes: &[FeatureVolume],
    ramps: &[RampStands],
    factors: &[Pair; 3],
    soil: &Soil,
    wanted: &Wanted,
) -> Ledger {
    let f = |kind: SoilKind| factors[kind as usize];
    let compacted = f(SoilKind::Subsoil).compacted;
    let turns: Vec<Turn> = volumes.iter().map(|v| turn(v, compacted)).collect();
    // The most that the works from each one on will ever lack, on the whole, by kind.
    let mut needed = vec![[0.0f64; 3]; volumes.len() + 1];
    for i in (0..volumes.len()).rev() {
        let (next, t) = (needed[i + 1], turns[i]);
        needed[i] = std::array::from_fn(|k| (next[k] + t.takes[k] - t.gives[k]).max(0.0));
    }
    let mut ledger = Ledger::default();
    let mut pile = [0.0f64; 3];
    let mut i = 0;
    while i < volumes.len() {
        let name = &volumes[i].stage;
        let last = (i..volumes.len())
            .find(|&j| volumes[j].stage != *name)
            .unwrap_or(volumes.len());
        let mut stage = LedgerStage {
            name: name.clone(),
            ..LedgerStage::default()
        };
        let before = pile;
        let mut bought = [0.0f64; 3];
        for (v, t) in volumes[i..last].iter().zip(&turns[i..last]) {
            stage.cut_bank_m3 += v.cut_bank_m3;
            stage.fill_compacted_m3 += v.fill_compacted_m3;
            stage.redug_compacted_m3 += v.redug_compacted_m3;
            enter(&mut stage.entries, v, t, factors);
            for kind in SoilKind::ALL {
                let k = kind as usize;
                pile[k] += t.gives[k] - t.takes[k];
                if pile[k] < -SPECK {
                    let lack = -pile[k];
                    bought[k] += lack;
                    pile[k] = 0.0;
                    short(&mut ledger.shortages, v, kind, lack);
                }
                pile[k] = pile[k].max(0.0);
            }
        }
        for kind in SoilKind::ALL {
            let k = kind as usize;
            let end = last == volumes.len();
            if kind == SoilKind::Topsoil && end && wanted.settled_m3 > SPECK {
                let bank = wanted.settled_m3 / f(kind).compacted;
                stage.entries.push(Entry {
                    place: BARE.into(),
                    soil: kind,
                    deed: Deed::Placed,
                    bank_m3: bank,
                    state: State::Compacted,
                    volume_m3: wanted.settled_m3,
                });
                let lack = (bank - pile[k]).max(0.0);
                pile[k] = (pile[k] - bank).max(0.0);
                if lack > SPECK {
                    bought[k] += lack;
                    ledger.shortages.push(Shortage {
                        stage: stage.name.clone(),
                        feature: BARE.into(),
                        soil: kind,
                        bank_m3: lack,
                        loose_m3: 0.0,
                        loads: 0,
                    });
                }
            }
            let spare = (pile[k] - needed[last][k]).max(0.0);
            // A truck comes for a full load, or for the last one. Topsoil is kept to the end, and
            // beyond it where none is asked to be put back.
            let waits = match kind {
                SoilKind::Topsoil => !end || wanted.settled_m3 <= 0.0,
                _ => !end && spare * f(kind).loose < load(soil, f(kind).density),
            };
            let leaves = if waits || spare <= SPECK { 0.0 } else { spare };
            pile[k] -= leaves;
            let loose = f(kind).loose;
            ledger.out.add(leaves * loose, load(soil, f(kind).density));
            ledger
                .brought
                .add(bought[k] * loose, load(soil, f(kind).density));
            stage.import_loose_m3 += bought[k] * loose;
            stage.export_loose_m3 += leaves * loose;
            stage.pile_loose_m3 += pile[k] * loose;
            let mut note = |place: &str, deed, bank: f64| {
                if bank > SPECK {
                    stage.entries.push(Entry {
                        place: place.into(),
                        soil: kind,
                        deed,
                        bank_m3: bank,
                        state: State::Loose,
                        volume_m3: bank * loose,
                    });
                }
            };
            note(&pile_of(kind), Deed::Unpiled, before[k] - pile[k]);
            note(BROUGHT_IN, Deed::BroughtIn, bought[k]);
            note(&pile_of(kind), Deed::Piled, pile[k] - before[k]);
            note(OFF_SITE, Deed::HauledOff, leaves);
            if pile[k] > SPECK {
                stage.lying.push(Lying {
                    place: pile_of(kind),
                    soil: kind,
                    bank_m3: pile[k],
                    state: State::Loose,
                    volume_m3: pile[k] * loose,
                });
            }
        }
        let here = ramps.iter().filter(|r| r.stage == stage.name);
        for ramp in here.filter(|r| r.compacted_m3 > SPECK) {
            stage.ramp_compacted_m3 += ramp.compacted_m3;
            stage.lying.push(Lying {
                place: ramp.ramp.clone(),
                soil: SoilKind::Subsoil,
                bank_m3: ramp.compacted_m3 / f(SoilKind::Subsoil).compacted,
                state: State::Compacted,
                volume_m3: ramp.compacted_m3,
            });
        }
        ledger.stages.push(stage);
        i = last;
    }
    for s in &mut ledger.shortages {
        let pair = f(s.soil);
        s.loose_m3 = s.bank_m3 * pair.loose;
        s.loads = loads(s.loose_m3, load(soil, pair.density));
    }
    ledger
}

/// Topsoil that goes back on bare ground in the end, m³ bank.
pub fn put_back(ledger: &Ledger) -> f64 {
    let entries = ledger.stages.iter().flat_map(|s| &s.entries);
    let back = entries.filter(|e| e.place == BARE && e.deed == Deed::Placed);
    back.map(|e| e.bank_m3).sum()
}

/// Name of the place where a kind lies.
pub fn pile_of(kind: SoilKind) -> String {
    match kind {
        SoilKind::Subsoil => "pile".into(),
        SoilKind::Topsoil => "topsoil pile".into(),
        SoilKind::Unfit => "pile of unfit soil".into(),
    }
}

/// `compacted`: compacted volume from one of bank subsoil.
pub fn turn(v: &FeatureVolume, compacted: f64) -> Turn {
    let subsoil = v.cut_bank_m3 - v.topsoil_bank_m3 - v.unfit_bank_m3;
    let mut t = Turn::default();
    t.gives[SoilKind::Subsoil as usize] = subsoil.max(0.0) + v.redug_compacted_m3 / compacted;
    t.gives[SoilKind::Topsoil as usize] = v.topsoil_bank_m3;
    t.gives[SoilKind::Unfit as usize] = v.unfit_bank_m3;
    t.takes[SoilKind::Subsoil as usize] = v.fill_compacted_m3 / compacted;
    t
}

fn enter(entries: &mut Vec<Entry>, v: &FeatureVolume, t: &Turn, factors: &[Pair; 3]) {
    let place = v.place();
    let compacted = factors[SoilKind::Subsoil as usize].compacted;
    let redug = v.redug_compacted_m3 / compacted;
    let mut add = |soil, deed, bank: f64, state, volume_m3| {
        if bank > SPECK {
            entries.push(Entry {
                place: place.clone(),
                soil,
                deed,
                bank_m3: bank,
                state,
                volume_m3,
            });
        }
    };
    for kind in SoilKind::ALL {
        let own = if kind == SoilKind::Subsoil {
            redug
        } else {
            0.0
        };
        let dug = t.gives[kind as usize] - own;
        add(kind, Deed::Dug, dug, State::Bank, dug);
    }
    let kind = SoilKind::Subsoil;
    add(
        kind,
        Deed::Redug,
        redug,
        State::Compacted,
        v.redug_compacted_m3,
    );
    add(
        kind,
        Deed::Placed,
        t.takes[kind as usize],
        State::Compacted,
        v.fill_compacted_m3,
    );
}

fn short(list: &mut Vec<Shortage>, v: &FeatureVolume, soil: SoilKind, lack: f64) {
    match list
        .iter_mut()
        .find(|s| s.stage == v.stage && s.feature == v.name && s.soil == soil)
    {
        Some(s) => s.bank_m3 += lack,
        None => list.push(Shortage {
            stage: v.stage.clone(),
            feature: v.name.clone(),
            soil,
            bank_m3: lack,
            loose_m3: 0.0,
            loads: 0,
        }),
    }
}

impl Loads {
    /// What is carried of one kind in one stage, loose: kinds are not mixed in a truck, nor does one wait
    /// for the next stage.
    fn add(&mut self, loose: f64, each: f64) {
        let count = loads(loose, each);
        self.loose_m3 = self.loose_m3.map(|v| v + loose);
        self.loads = self.loads.map(|n| n.saturating_add(count));
    }
}
