//! The yard as it lies when a stage of the work is done: as text in the job's unit, and as JSON in SI
//! with the ground itself. Keys: the section of `figures --after` in `KEYS.md`.

use serde_json::{Value, json};

use super::json::{extent, surface, volumes};
use super::measure::number;
use super::{Columns, Measure, figures, findings, hang, heading};
use crate::findings::{Finding, Severity};
use crate::job::{Job, Stage};
use crate::plan::{LedgerStage, PileStage, PileState, Plan, State};

/// A stage of the work that is done, with all stages before it.
pub struct After<'a> {
    pub job: &'a Job,
    /// All stages in their order, and how many of them are done.
    pub stages: &'a [Stage],
    pub done: usize,
    /// The plan of the whole job: what lies on piles depends on what later stages need.
    pub whole: &'a Plan,
    /// The plan of the works done by then.
    pub then: &'a Plan,
}

impl After<'_> {
    fn name(&self) -> &str {
        self.stages[self.done - 1].name.as_str()
    }

    fn ledger(&self) -> Option<&LedgerStage> {
        let mut stages = self.whole.ledger.stages.iter();
        stages.find(|s| s.name == self.name())
    }

    /// Piles that lie there then.
    fn piles(&self) -> impl Iterator<Item = (&PileState, &PileStage)> {
        let its = self.whole.piles.iter().filter_map(|pile| {
            let mut over_time = pile.over_time.iter();
            Some((pile, over_time.find(|s| s.stage == self.name())?))
        });
        its.filter(|(_, s)| !s.mesh.is_empty())
    }

    /// What keeps this ground from being all of what the stages say.
    fn errors(&self) -> Vec<Finding> {
        let all = self.then.findings.iter();
        all.filter(|f| f.severity == Severity::Error)
            .cloned()
            .collect()
    }

    /// Names of the walls built by then.
    fn walls(&self) -> impl Iterator<Item = &str> {
        let new = self.then.solids.iter().filter(|s| s.new);
        new.map(|s| s.name.as_str())
    }
}

pub fn after(a: &After, width: usize) -> String {
    let m = Measure(a.job.unit);
    let plan = a.then;
    let mut out = String::new();
    let title = format!(
        "{}: the ground after {}, stage {} of {}",
        a.job.name,
        a.name(),
        a.done,
        a.stages.len()
    );
    heading(&mut out, &title);
    out.push('\n');
    if plan.existing.triangles.is_empty() {
        out.push_str("There is no ground surface, so no volumes: see the findings.\n\n");
        out.push_str(&findings(&a.errors(), a.job.unit, width));
        return out;
    }
    let mut table = Columns::new([
        "surface",
        &format!(">{}", m.area_unit()),
        ">along the slope",
        ">lowest",
        ">highest",
        ">triangles",
    ]);
    for (name, s) in [("existing", &plan.existing), ("after it", &plan.dug)] {
        let [low, high] = s.bounds().map_or([f64::NAN; 2], |b| [b[0][2], b[1][2]]);
        table.row([
            name.into(),
            m.bare_area(s.plan_area()),
            m.bare_area(s.sloped_area()),
            m.bare(low),
            m.bare(high),
            number(s.triangles.len() as f64, 0),
        ]);
    }
    table.write(&mut out, width);
    hang(
        &mut out,
        "  ",
        "As the machine leaves it, before lining, stone and paving, with temporary works as they stand then. \
         Tops of walls are part of it; the footprints of walls that stood before are not part of the existing ground.",
        width,
    );
    out.push('\n');
    if plan.volumes.by_feature.is_empty() {
        out.push_str("No soil is moved by then.\n\n");
    } else {
        figures::volumes(&mut out, plan, m, width);
        out.push('\n');
    }
    let mut lies: Vec<String> = Vec::new();
    for l in a.ledger().map_or(&[][..], |s| &s.lying) {
        let place = if l.state == State::Loose { "on" } else { "in" };
        lies.push(format!(
            "{} {} {place} the {}",
            m.volume(l.volume_m3),
            l.state.word(),
            l.place
        ));
    }
    for (what, says) in [
        ("Lies then   ", lies.join("; ")),
        ("Walls built ", a.walls().collect::<Vec<_>>().join(", ")),
    ] {
        if !says.is_empty() {
            hang(&mut out, what, &says, width);
        }
    }
    let piles: Vec<String> = a
        .piles()
        .map(|(pile, s)| format!("{} {} high", pile.name, m.length(s.height_m)))
        .collect();
    if !piles.is_empty() {
        hang(&mut out, "Piles       ", &piles.join(", "), width);
    }
    let errors = a.errors();
    if !errors.is_empty() {
        out.push('\n');
        out.push_str(&findings(&errors, a.job.unit, width));
    }
    out
}

pub fn after_json(a: &After) -> Value {
    let plan = a.then;
    let piles = a.piles().map(|(pile, s)| {
        json!({
            "name": pile.name,
            "soil": pile.soil,
            "loose_m3": s.loose_m3,
            "height_m": s.height_m,
            "triangles": s.mesh,
        })
    });
    json!({
        "job": { "name": a.job.name },
        "stage": { "name": a.name(), "number": a.done, "of": a.stages.len() },
        "works": a.stages[..a.done].iter().flat_map(|s| &s.works).collect::<Vec<_>>(),
        "taken_back": a.stages[..a.done].iter().flat_map(|s| &s.take_back).collect::<Vec<_>>(),
        "existing": extent(plan, &plan.existing),
        "ground": extent(plan, &plan.dug),
        "volumes": volumes(plan),
        "lying": a.ledger().map_or(&[][..], |s| &s.lying),
        "piles": piles.collect::<Vec<_>>(),
        "walls": a.walls().collect::<Vec<_>>(),
        "surface": surface(&plan.dug),
        "findings": a.errors(),
    })
}
