//! Soil that cannot all be carried: as much of it as can be, and what is left. Bank m³.

use crate::findings::{Finding, Severity};
use crate::job::{SoilClass, Unit};
use crate::plan::{HaulModel, Node, Uncarried};
use crate::units;

use super::flows::NOTHING;
use super::model::{Unmet, keeps_hours, solve, solve_in_part};

/// A soil that cannot all be carried.
pub(super) struct Short {
    unmet: Unmet,
    /// With more hours it could.
    hours: bool,
}

impl Short {
    pub fn says(&self, model: &HaulModel, left: &[Uncarried], unit: Unit) -> Finding {
        // What stays at one place is often what another lacks: the two do not add up.
        let sum = |stays: bool| -> f64 {
            let its = left.iter().filter(|l| l.to.is_empty() == stays);
            its.map(|l| l.loose_m3).sum()
        };
        let (stays, lacking) = (sum(true), sum(false));
        let mut amounts = Vec::new();
        if stays > 0.0 {
            amounts.push(format!("{} loose stays", units::format_volume(stays, unit)));
        }
        if lacking > 0.0 {
            amounts.push(format!(
                "{} loose is lacking",
                units::format_volume(lacking, unit)
            ));
        }
        let (why, remedy) = if self.hours {
            (
                "the machines have too few hours",
                "give the machines more hours a stage, leave their `hours` out, or open a way for the barrow",
            )
        } else {
            (
                "it has no way",
                "open a way, or do what is shut in in an earlier stage",
            )
        };
        Finding::new(
            Severity::Error,
            "haul",
            format!(
                "nobody can carry all the {}: {why}; {}",
                model.soil,
                amounts.join(" and ")
            ),
            remedy,
        )
    }

    /// What nobody carries, in the order of work.
    pub fn left(&self, model: &HaulModel, class: &SoilClass) -> Vec<Uncarried> {
        let unmet = &self.unmet;
        let line = |stage: usize, from: &str, to: &str, bank: f64| Uncarried {
            stage: model.stages.get(stage).cloned().unwrap_or_default(),
            from: from.into(),
            to: to.into(),
            soil: model.soil.clone(),
            bank_m3: bank,
            loose_m3: bank * class.loose,
        };
        let last = model.stages.len().saturating_sub(1);
        let stays = model.sources.iter().zip(&unmet.left);
        let stays = stays.map(|(n, &bank)| (n.stage, n.order, line(n.stage, &n.name, "", bank)));
        let lacks = model.sinks.iter().zip(&unmet.lack);
        let lacks = lacks.map(|(n, &bank)| (n.stage, n.order, line(n.stage, "", &n.name, bank)));
        let piles = model.piles.iter().zip(&unmet.stays);
        let piles = piles.map(|(n, &bank)| (last, usize::MAX, line(last, &n.name, "", bank)));
        let mut all: Vec<(usize, usize, Uncarried)> = stays.chain(lacks).chain(piles).collect();
        all.retain(|l| l.2.bank_m3 > NOTHING);
        all.sort_by_key(|l| (l.0, l.1));
        all.into_iter().map(|l| l.2).collect()
    }
}

/// Hours that a solution at the limit is over it by, for all that rounds in solving.
const ROUNDED: f64 = 1e-6;

/// All soils together; if that cannot be, each by itself, as far as it can be carried: what is wrong with
/// each, and whether all of them together take more hours than the machines have.
pub(super) fn solved(models: &mut [HaulModel]) -> (Vec<Option<Short>>, bool) {
    if solve(models) {
        return (models.iter().map(|_| None).collect(), false);
    }
    let short: Vec<Option<Short>> = models
        .iter_mut()
        .map(|model| {
            if solve(std::slice::from_mut(model)) {
                return None;
            }
            let mut free = model.clone();
            free.hours.fill(None);
            Some(Short {
                hours: solve(std::slice::from_mut(&mut free)),
                unmet: solve_in_part(model).unwrap_or_else(|| nothing_of(model)),
            })
        })
        .collect();
    // Each fits by itself; together they may take more hours than there are.
    let alone = !keeps_hours(models, ROUNDED);
    (short, alone)
}

/// As if nothing were carried.
fn nothing_of(model: &HaulModel) -> Unmet {
    let amounts = |nodes: &[Node]| nodes.iter().map(|n| n.bank_m3).collect();
    Unmet {
        left: amounts(&model.sources),
        lack: amounts(&model.sinks),
        stays: amounts(&model.piles),
    }
}
