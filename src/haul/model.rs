//! The linear model: what is dug, what is placed, piles and the street, and every way between them
//! with its cost. Bank m³; cost in hours of one person.
//!
//! Solved by `good_lp` over `microlp`: a simplex in plain Rust, so nothing has to be installed beside
//! the program, the answer is the same everywhere, and the model stays readable; both are maintained
//! (good_lp 1.15, MIT; microlp 0.6, Apache-2.0). A yard's model is far too small for more.
//!
//! Time: soil is placed straight away only within the stage it is dug in, and not before it is dug;
//! what a later stage needs waits on a pile and is handled twice. What nobody needs goes to the
//! street. Soil is brought in only where there is not enough: each m³ of it costs [`BOUGHT`] on top.
//! How much leaves and comes in each stage is the ledger's, so that the two tell one story.

use good_lp::{
    Constraint, Expression, ProblemVariables, Solution, SolverModel, Variable, constraint, microlp,
    variable,
};

use crate::plan::{Arc, ArcKind, HaulModel};

pub const BOUGHT: f64 = 1000.0;
/// Bank m³ that a stage's sum may be off the ledger's: rounding.
const SLACK: f64 = 1e-8;

/// Solves the models of all soils together, since they share the machines' hours: fills in what goes
/// along each way, and the cost.
pub fn solve(models: &mut [HaulModel]) -> bool {
    let mut vars = ProblemVariables::new();
    let flows: Vec<Vec<Variable>> = models
        .iter()
        .map(|m| {
            m.arcs
                .iter()
                .map(|_| vars.add(variable().min(0.0)))
                .collect()
        })
        .collect();
    let all = || {
        let each = models.iter().zip(&flows);
        each.flat_map(|(m, x)| m.arcs.iter().zip(x))
    };
    let cost: Expression = all().map(|(a, &x)| a.cost_per_m3 * x).sum();
    let mut problem = vars.minimise(cost).using(microlp);
    for (model, x) in models.iter().zip(&flows) {
        let Some(list) = kept(model, x) else {
            return false;
        };
        for one in list {
            problem = problem.with(one);
        }
    }
    let stages = models.iter().map(|m| m.stages.len()).max().unwrap_or(0);
    let hours = models.first().map_or(&[][..], |m| &m.hours);
    for (c, most) in hours.iter().enumerate() {
        let Some(most) = *most else { continue };
        for s in 0..stages {
            let used: Expression = all()
                .filter(|(a, _)| a.by == c && a.stage == s)
                .map(|(a, &x)| a.hours_per_m3 * x)
                .sum();
            problem = problem.with(constraint!(used <= most));
        }
    }
    let Ok(solution) = problem.solve() else {
        return false;
    };
    for (model, x) in models.iter_mut().zip(&flows) {
        model.cost = 0.0;
        for (arc, &x) in model.arcs.iter_mut().zip(x) {
            arc.bank_m3 = solution.value(x).max(0.0);
            model.cost += arc.bank_m3 * arc.cost_per_m3;
        }
        model.solved = true;
    }
    true
}

/// What keeps soil together: all that is dug goes somewhere, all that is placed comes from somewhere.
/// `None` where something must leave or come in and there is no way for it.
fn kept(model: &HaulModel, x: &[Variable]) -> Option<Vec<Constraint>> {
    let mut out = Vec::new();
    let sum = |pick: &dyn Fn(&Arc) -> bool| -> Expression {
        let its = model.arcs.iter().zip(x).filter(|(a, _)| pick(a));
        its.map(|(_, &x)| Expression::from(x)).sum()
    };
    for (i, source) in model.sources.iter().enumerate() {
        let leaves = sum(&|a| {
            matches!(a.kind, ArcKind::Direct | ArcKind::ToPile | ArcKind::Off) && a.from == i
        });
        out.push(constraint!(leaves == source.bank_m3));
    }
    for (j, sink) in model.sinks.iter().enumerate() {
        let into = sum(&|a| {
            matches!(a.kind, ArcKind::Direct | ArcKind::FromPile | ArcKind::In) && a.to == j
        });
        out.push(constraint!(into == sink.bank_m3));
    }
    let last = model.stages.len().saturating_sub(1);
    for k in 0..model.piles.len() {
        let taken = |a: &Arc| matches!(a.kind, ArcKind::FromPile | ArcKind::PileOff) && a.from == k;
        let brought = |a: &Arc| a.kind == ArcKind::ToPile && a.to == k;
        for s in 0..=last {
            // What is taken by the end of a stage was brought before that stage.
            let leaves = sum(&|a| taken(a) && a.stage <= s);
            let into = sum(&|a| brought(a) && a.stage < s);
            out.push(constraint!(leaves <= into));
        }
        if !model.keeps {
            let leaves = sum(&taken);
            let into = sum(&brought);
            out.push(constraint!(leaves == into));
        }
    }
    // What leaves and comes in each stage is the ledger's.
    let off: &[ArcKind] = &[ArcKind::Off, ArcKind::PileOff];
    for (amounts, kinds) in [
        (&model.off_bank_m3, off),
        (&model.in_bank_m3, &[ArcKind::In]),
    ] {
        let which = |a: &Arc| kinds.contains(&a.kind);
        for (s, &amount) in amounts.iter().enumerate() {
            if !model.arcs.iter().any(|a| which(a) && a.stage == s) {
                if amount > SLACK {
                    return None;
                }
                continue;
            }
            out.push(constraint!(
                sum(&|a| which(a) && a.stage == s) <= amount + SLACK
            ));
            out.push(constraint!(
                sum(&|a| which(a) && a.stage == s) >= amount - SLACK
            ));
        }
    }
    Some(out)
}
