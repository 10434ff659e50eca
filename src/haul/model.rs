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
    Expression, ProblemVariables, Solution, SolverModel, Variable, constraint, microlp, variable,
};

use crate::plan::{ArcKind, HaulModel};

pub const BOUGHT: f64 = 1000.0;
/// Bank m³ that a stage's sum may be off the ledger's: rounding.
const SLACK: f64 = 1e-6;

/// Solves a model: fills in what goes along each way, and the cost.
pub fn solve(model: &mut HaulModel) -> bool {
    let mut vars = ProblemVariables::new();
    let x: Vec<Variable> = model
        .arcs
        .iter()
        .map(|_| vars.add(variable().min(0.0)))
        .collect();
    let cost: Expression = model
        .arcs
        .iter()
        .zip(&x)
        .map(|(a, &x)| a.cost_per_m3 * x)
        .sum();
    let mut problem = vars.minimise(cost).using(microlp);
    let sum = |pick: &dyn Fn(&crate::plan::Arc) -> bool| -> Expression {
        model
            .arcs
            .iter()
            .zip(&x)
            .filter(|(a, _)| pick(a))
            .map(|(_, &x)| Expression::from(x))
            .sum()
    };
    for (i, source) in model.sources.iter().enumerate() {
        let out = sum(&|a| {
            matches!(a.kind, ArcKind::Direct | ArcKind::ToPile | ArcKind::Off) && a.from == i
        });
        problem = problem.with(constraint!(out == source.bank_m3));
    }
    for (j, sink) in model.sinks.iter().enumerate() {
        let into = sum(&|a| {
            matches!(a.kind, ArcKind::Direct | ArcKind::FromPile | ArcKind::In) && a.to == j
        });
        problem = problem.with(constraint!(into == sink.bank_m3));
    }
    let last = model.stages.len().saturating_sub(1);
    for k in 0..model.piles.len() {
        let taken = |a: &crate::plan::Arc| {
            matches!(a.kind, ArcKind::FromPile | ArcKind::PileOff) && a.from == k
        };
        let brought = |a: &crate::plan::Arc| a.kind == ArcKind::ToPile && a.to == k;
        for s in 0..=last {
            // What is taken by the end of a stage was brought before that stage.
            let out = sum(&|a| taken(a) && a.stage <= s);
            let into = sum(&|a| brought(a) && a.stage < s);
            problem = problem.with(constraint!(out <= into));
        }
        if !model.keeps {
            let out = sum(&taken);
            let into = sum(&brought);
            problem = problem.with(constraint!(out == into));
        }
    }
    // What leaves and comes in each stage is the ledger's.
    let off: &[ArcKind] = &[ArcKind::Off, ArcKind::PileOff];
    for (amounts, kinds) in [
        (&model.off_bank_m3, off),
        (&model.in_bank_m3, &[ArcKind::In]),
    ] {
        let which = |a: &crate::plan::Arc| kinds.contains(&a.kind);
        for (s, &amount) in amounts.iter().enumerate() {
            if !model.arcs.iter().any(|a| which(a) && a.stage == s) {
                if amount > SLACK {
                    return false;
                }
                continue;
            }
            problem = problem.with(constraint!(
                sum(&|a| which(a) && a.stage == s) <= amount + SLACK
            ));
            problem = problem.with(constraint!(
                sum(&|a| which(a) && a.stage == s) >= amount - SLACK
            ));
        }
    }
    for (c, hours) in model.hours.iter().enumerate() {
        let Some(most) = *hours else { continue };
        for s in 0..model.stages.len() {
            let used: Expression = model
                .arcs
                .iter()
                .zip(&x)
                .filter(|(a, _)| a.by == c && a.stage == s)
                .map(|(a, &x)| a.hours_per_m3 * x)
                .sum();
            problem = problem.with(constraint!(used <= most));
        }
    }
    let Ok(solution) = problem.solve() else {
        return false;
    };
    let flows: Vec<f64> = x.iter().map(|&x| solution.value(x).max(0.0)).collect();
    model.cost = 0.0;
    for (arc, flow) in model.arcs.iter_mut().zip(flows) {
        arc.bank_m3 = flow;
        model.cost += flow * arc.cost_per_m3;
    }
    model.solved = true;
    true
}
