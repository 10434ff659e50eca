//! The yard over time: the ground just before each work, what is built by then, which ramps stand and where
//! piles lie.

use rustc_hash::FxHashSet;

use crate::plan::{FeatureVolume, LedgerStage, PilePlace, Plan, SoilKind, State};
use crate::terrain::line;
use crate::terrain::predicates::P2;

use super::field::{Field, Ground};
use super::flows::Site;
use super::paths::REACH;

/// The yard at one moment of the work.
pub(super) struct Moment {
    pub ground: Ground,
    /// As [`Field::room`] says.
    pub room: Vec<u32>,
    /// As [`Field::steep`] says.
    pub steep: Vec<f64>,
    piles: Vec<Foot>,
}

/// A pile as it lies at a moment.
struct Foot {
    middle: P2,
    /// How far it reaches from there.
    radius: f64,
    /// The squares that it covers, sorted.
    squares: Vec<usize>,
}

impl Moment {
    /// How far from a place its way may begin or end: from the middle of a pile, or from what comes to lie
    /// under one in that stage, as far as past its foot.
    pub fn reach(&self, field: &Field, p: P2) -> f64 {
        let square = field.square(p);
        let under = |f: &&Foot| f.middle == p || f.squares.binary_search(&square).is_ok();
        let its = self.piles.iter().filter(under);
        its.map(|f| line::dist(p, f.middle) + f.radius + REACH)
            .fold(REACH, f64::max)
    }
}

/// A pile as ground that nobody drives over.
pub(super) struct Heap {
    at: P2,
    /// The squares that it covers when each stage of the ledger ends.
    covers: Vec<Vec<usize>>,
}

/// The ground just before each work, and after the last; works that change nothing for whoever drives
/// share one. A pile lies there as it is when the stage ends or as the one before left it, whichever is
/// there. `widest`: half of the widest that is to get by.
pub(super) fn moments(
    field: &Field,
    volumes: &[FeatureVolume],
    owners: &[&str],
    heaps: &[Heap],
    widest: f64,
) -> (Vec<Moment>, Vec<usize>) {
    let most = field.squares(widest).ceil() as u32;
    let mut built: FxHashSet<&str> = FxHashSet::default();
    let mut standing: Vec<usize> = Vec::new();
    let mut moments = Vec::new();
    let mut of = Vec::new();
    let mut fresh = true;
    let mut stage = 0usize;
    for k in 0..=volumes.len() {
        let begins = k > 0
            && volumes
                .get(k)
                .is_none_or(|v| v.stage != volumes[k - 1].stage);
        if begins {
            stage += 1;
            fresh |= !heaps.is_empty();
        }
        if std::mem::take(&mut fresh) {
            let mut ground = field.ground(&built, &standing);
            let mut piles = Vec::new();
            for heap in heaps {
                let lies = |s: usize| heap.covers.get(s).map_or(&[][..], Vec::as_slice);
                let before = stage.checked_sub(1).map_or(&[][..], lies);
                let mut squares = [lies(stage), before].concat();
                squares.sort_unstable();
                squares.dedup();
                let mut radius: f64 = 0.0;
                for &square in &squares {
                    ground.open[square] = false;
                    radius = radius.max(line::dist(field.middle(square), heap.at));
                }
                piles.push(Foot {
                    middle: heap.at,
                    radius,
                    squares,
                });
            }
            let room = field.room(&ground.open, most);
            let steep = field.steep(&ground.z);
            moments.push(Moment {
                ground,
                room,
                steep,
                piles,
            });
        }
        of.push(moments.len() - 1);
        let Some(v) = volumes.get(k) else { break };
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

/// The piles that have a place in the job, as they lie when each stage ends; where one has none, the place
/// suggested, as large as it ever gets.
pub(super) fn heaps(
    field: &Field,
    plan: &Plan,
    places: &[PilePlace],
    sites: &[Site; 3],
) -> Vec<Heap> {
    let mut out = Vec::new();
    for kind in SoilKind::ALL {
        let (name, Some(at)) = &sites[kind as usize] else {
            continue;
        };
        let stages = plan.ledger.stages.iter();
        let own = plan
            .piles
            .iter()
            .find(|p| p.name == *name && p.soil == kind);
        let suggested = places.iter().find(|p| p.soil == kind && p.at == *at);
        let covers: Vec<Vec<usize>> = match (own, suggested) {
            (Some(pile), _) => {
                let meshes = pile.over_time.iter().map(|s| &s.mesh);
                meshes
                    .map(|mesh| {
                        let mut squares: Vec<usize> = mesh
                            .iter()
                            .flat_map(|t| field.touched(&t.map(|p| [p[0], p[1]])))
                            .collect();
                        squares.sort_unstable();
                        squares.dedup();
                        squares
                    })
                    .collect()
            }
            (None, Some(place)) => {
                let radius = (place.area_m2 / std::f64::consts::PI).sqrt();
                let ring: Vec<P2> = (0..24)
                    .map(|k| f64::from(k) * std::f64::consts::TAU / 24.0)
                    .map(|a| [at[0] + radius * a.cos(), at[1] + radius * a.sin()])
                    .collect();
                let disc = field.touched(&ring);
                let lies = |s: &LedgerStage| {
                    let mut lying = s.lying.iter();
                    lying.any(|l| l.soil == kind && l.state == State::Loose)
                };
                stages
                    .map(|s| if lies(s) { disc.clone() } else { Vec::new() })
                    .collect()
            }
            (None, None) => continue,
        };
        out.push(Heap { at: *at, covers });
    }
    out
}
