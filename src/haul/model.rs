//! The linear model: what is dug, what is placed, piles and the street, and every way between them
//! with its cost. Bank m³; cost in hours of one person.
//!
//! Solved by `good_lp` over `microlp`: a simplex in plain Rust, so nothing has to be installed beside
//! the program, the answer is the same everywhere, and the model stays readable; both are maintained
//! (good_lp 1.15, MIT; microlp 0.6, Apache-2.0). A yard's model is far too small for more.
//!
//! Time: soil is placed straight away only within the stage it is dug in, and not before it is dug;
//! what a later stage needs waits on a pile and is handled twice, and so may what a later work of the
//! same stage needs, if the pile has a place. What nobody needs goes to the street, off the pile when a
//! stage begins. Soil is brought in only where there is not enough: each m³ of it costs [`BOUGHT`] on
//! top. How much leaves and comes in each stage is the ledger's, so that the two tell one story.

use good_lp::{
    Constraint, Expression, ProblemVariables, Solution, SolverModel, Variable, constraint, microlp,
    variable,
};

use crate::plan::{Arc, ArcKind, HaulModel, Node};

pub const BOUGHT: f64 = 1000.0;
/// What a bank m³ costs that nobody carries: more than any way.
const LEFT: f64 = 10_000.0;
/// By so much, hours a bank m³, a work is thought to be nearer to itself than it is: of ways that cost the
/// same, its own soil goes back to it. Far less than any way, so it decides nothing else.
const OWN: f64 = 1e-8;
/// Bank m³ that a stage's sum may be off the ledger's: rounding.
const SLACK: f64 = 1e-8;

/// Bank m³ that nobody carries: what stays at each source, what each sink lacks, and what should leave
/// each pile and does not.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Unmet {
    pub left: Vec<f64>,
    pub lack: Vec<f64>,
    pub stays: Vec<f64>,
}

/// One for each source, sink and pile.
struct Slack {
    left: Vec<Variable>,
    lack: Vec<Variable>,
    stays: Vec<Variable>,
}

/// Solves the models of all soils together, since they share the machines' hours: fills in what goes
/// along each way, and the cost.
pub fn solve(models: &mut [HaulModel]) -> bool {
    let mut vars = ProblemVariables::new();
    let flows: Vec<Vec<Variable>> = models.iter().map(|m| flows(m, &mut vars)).collect();
    let all = || {
        let each = models.iter().zip(&flows);
        each.flat_map(|(m, x)| m.arcs.iter().zip(x))
    };
    let each = models.iter().zip(&flows);
    let cost: Expression = each.map(|(m, x)| wanted(m, x)).sum();
    let mut problem = vars.minimise(cost).using(microlp);
    for (model, x) in models.iter().zip(&flows) {
        let Some(list) = kept(model, x, None) else {
            return false;
        };
        for one in list {
            problem = problem.with(one);
        }
    }
    let stages = models.iter().map(|m| m.stages.len()).max().unwrap_or(0);
    let hours = models.first().map_or(&[][..], |m| &m.hours);
    let pairs: Vec<(&Arc, Variable)> = all().map(|(a, &x)| (a, x)).collect();
    for one in within_hours(&pairs, hours, stages) {
        problem = problem.with(one);
    }
    let Ok(solution) = problem.solve() else {
        return false;
    };
    for (model, x) in models.iter_mut().zip(&flows) {
        fill(model, x, &solution);
        model.solved = true;
    }
    true
}

/// Solves the models as if hours had no limit, and tells whether that keeps to everybody's hours all the same.
/// If so it is the answer: limits only cost.
pub fn solve_in_time(models: &mut [HaulModel]) -> bool {
    let hours = models.first().map_or(Vec::new(), |m| m.hours.clone());
    let mut free: Vec<HaulModel> = models.to_vec();
    free.iter_mut().for_each(|m| m.hours.fill(None));
    if !solve(&mut free) {
        return false;
    }
    free.iter_mut().for_each(|m| m.hours.clone_from(&hours));
    let kept = keeps_hours(&free, 0.0);
    if kept {
        for (model, free) in models.iter_mut().zip(free) {
            *model = free;
        }
    }
    kept
}

/// Whether solved models keep to everybody's hours in every stage, all of them together, but for so many.
pub fn keeps_hours(models: &[HaulModel], slack: f64) -> bool {
    let hours = models.first().map_or(&[][..], |m| &m.hours);
    let stages = models.iter().map(|m| m.stages.len()).max().unwrap_or(0);
    let used = |c: usize, stage: usize| -> f64 {
        let arcs = models.iter().flat_map(|m| &m.arcs);
        let its = arcs.filter(|a| a.by == c && a.stage == stage);
        its.map(|a| a.hours_per_m3 * a.bank_m3).sum()
    };
    let mut each = hours.iter().enumerate();
    each.all(|(c, most)| {
        most.is_none_or(|most| (0..stages).all(|stage| used(c, stage) <= most + slack))
    })
}

/// As much as can be carried, where not all of it can: fills in what goes along each way, and tells what
/// goes along none. `None`: not even that is found.
pub fn solve_in_part(model: &mut HaulModel) -> Option<Unmet> {
    let mut vars = ProblemVariables::new();
    let x = flows(model, &mut vars);
    let mut some =
        |n: usize| -> Vec<Variable> { (0..n).map(|_| vars.add(variable().min(0.0))).collect() };
    let slack = Slack {
        left: some(model.sources.len()),
        lack: some(model.sinks.len()),
        stays: some(model.piles.len()),
    };
    let mut cost = wanted(model, &x);
    for &v in slack.left.iter().chain(&slack.lack).chain(&slack.stays) {
        cost += LEFT * v;
    }
    let mut problem = vars.minimise(cost).using(microlp);
    for one in kept(model, &x, Some(&slack))? {
        problem = problem.with(one);
    }
    let pairs: Vec<(&Arc, Variable)> = model.arcs.iter().zip(x.iter().copied()).collect();
    for one in within_hours(&pairs, &model.hours, model.stages.len()) {
        problem = problem.with(one);
    }
    let solution = problem.solve().ok()?;
    let of = |list: &[Variable]| list.iter().map(|&v| solution.value(v).max(0.0)).collect();
    let unmet = Unmet {
        left: of(&slack.left),
        lack: of(&slack.lack),
        stays: of(&slack.stays),
    };
    fill(model, &x, &solution);
    Some(unmet)
}

fn flows(model: &HaulModel, vars: &mut ProblemVariables) -> Vec<Variable> {
    let each = model.arcs.iter();
    each.map(|_| vars.add(variable().min(0.0))).collect()
}

/// What is to be least: the cost, and of equal costs a work's own soil first.
fn wanted(model: &HaulModel, x: &[Variable]) -> Expression {
    let each = model.arcs.iter().zip(x);
    each.map(|(a, &x)| {
        let ends = model.sources.get(a.from).zip(model.sinks.get(a.to));
        let same = |(f, t): (&Node, &Node)| !f.work.is_empty() && f.work == t.work;
        let own = a.kind == ArcKind::Direct && ends.is_some_and(same);
        (a.cost_per_m3 - if own { OWN } else { 0.0 }) * x
    })
    .sum()
}

fn fill(model: &mut HaulModel, x: &[Variable], solution: &impl Solution) {
    model.cost = 0.0;
    for (arc, &x) in model.arcs.iter_mut().zip(x) {
        arc.bank_m3 = solution.value(x).max(0.0);
        model.cost += arc.bank_m3 * arc.cost_per_m3;
    }
}

fn within_hours(
    ways: &[(&Arc, Variable)],
    hours: &[Option<f64>],
    stages: usize,
) -> Vec<Constraint> {
    let mut out = Vec::new();
    for (c, most) in hours.iter().enumerate() {
        let Some(most) = *most else { continue };
        for s in 0..stages {
            let its = ways.iter().filter(|(a, _)| a.by == c && a.stage == s);
            let used: Expression = its.map(|&(a, x)| a.hours_per_m3 * x).sum();
            out.push(constraint!(used <= most));
        }
    }
    out
}

/// What keeps soil together: all that is dug goes somewhere, all that is placed comes from somewhere.
/// `None` where something must leave or come in and there is no way for it. With `slack`, some of it may
/// stay, and no more may leave or come in than the ledger says.
fn kept(model: &HaulModel, x: &[Variable], slack: Option<&Slack>) -> Option<Vec<Constraint>> {
    let mut out = Vec::new();
    let sum = |pick: &dyn Fn(&Arc) -> bool| -> Expression {
        let its = model.arcs.iter().zip(x).filter(|(a, _)| pick(a));
        its.map(|(_, &x)| Expression::from(x)).sum()
    };
    for (i, source) in model.sources.iter().enumerate() {
        let mut leaves = sum(&|a| {
            matches!(a.kind, ArcKind::Direct | ArcKind::ToPile | ArcKind::Off) && a.from == i
        });
        if let Some(slack) = slack {
            leaves += slack.left[i];
        }
        out.push(constraint!(leaves == source.bank_m3));
    }
    for (j, sink) in model.sinks.iter().enumerate() {
        let mut into = sum(&|a| {
            matches!(a.kind, ArcKind::Direct | ArcKind::FromPile | ArcKind::In) && a.to == j
        });
        if let Some(slack) = slack {
            into += slack.lack[j];
        }
        out.push(constraint!(into == sink.bank_m3));
    }
    for (k, pile) in model.piles.iter().enumerate() {
        let taken = |a: &Arc| matches!(a.kind, ArcKind::FromPile | ArcKind::PileOff) && a.from == k;
        let brought = |a: &Arc| a.kind == ArcKind::ToPile && a.to == k;
        for s in 0..model.stages.len() {
            // What leaves the site when a stage begins was brought before.
            let off = |a: &Arc| a.kind == ArcKind::PileOff && a.from == k && a.stage == s;
            if model.arcs.iter().any(off) {
                let leaves = sum(&|a| taken(a) && (a.stage < s || off(a)));
                let into = sum(&|a| brought(a) && a.stage < s);
                out.push(constraint!(leaves <= into));
            }
        }
        for (j, sink) in model.sinks.iter().enumerate() {
            if !model
                .arcs
                .iter()
                .any(|a| a.kind == ArcKind::FromPile && a.from == k && a.to == j)
            {
                continue;
            }
            // What a work takes was brought by then: before its stage, or in it by works done before.
            let leaves = sum(&|a| {
                let later = a.kind == ArcKind::FromPile && model.sinks[a.to].order > sink.order;
                taken(a) && (a.stage < sink.stage || (a.stage == sink.stage && !later))
            });
            let into = sum(&|a| {
                let in_time = pile.at.is_some()
                    && a.stage == sink.stage
                    && model
                        .sources
                        .get(a.from)
                        .is_some_and(|s| s.order <= sink.order);
                brought(a) && (a.stage < sink.stage || in_time)
            });
            out.push(constraint!(leaves <= into));
        }
        if !model.keeps {
            let mut leaves = sum(&taken);
            let into = sum(&brought);
            if let Some(slack) = slack {
                leaves += slack.stays[k];
            }
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
                if amount > SLACK && slack.is_none() {
                    return None;
                }
                continue;
            }
            out.push(constraint!(
                sum(&|a| which(a) && a.stage == s) <= amount + SLACK
            ));
            if slack.is_none() {
                out.push(constraint!(
                    sum(&|a| which(a) && a.stage == s) >= amount - SLACK
                ));
            }
        }
    }
    Some(out)
}
