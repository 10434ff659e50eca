//! The figures of a plan, laid out for a person at the truck, in the job's unit.

use super::measure::number;
use super::notes::closures;
use super::{Columns, Measure, findings, hang, heading};
use crate::job::Job;
use crate::ledger::account;
use crate::plan::Plan;

pub fn figures(job: &Job, plan: &Plan, width: usize) -> String {
    let m = Measure(job.unit);
    let mut out = String::new();
    heading(&mut out, &job.name);
    if !job.remarks.is_empty() {
        hang(&mut out, "", &job.remarks, width);
    }
    out.push('\n');
    survey(&mut out, plan, m, width);
    if plan.existing.triangles.is_empty() {
        out.push_str("\nThere is no ground surface, so no volumes: see the findings.\n\n");
    } else if plan.volumes.by_feature.is_empty() {
        out.push_str("No work of this job moves soil.\n\n");
    } else {
        volumes(&mut out, plan, m, width);
        out.push_str(&format!(
            "Dug to finished       {} taken by lining, stone and paving\n\n",
            m.volume(plan.volumes.dug_to_finished_m3)
        ));
        soil(&mut out, plan, m, width);
    }
    water(&mut out, plan, m, width);
    out.push_str(&findings(&plan.findings, job.unit, width));
    out
}

fn survey(out: &mut String, plan: &Plan, m: Measure, width: usize) {
    heading(out, "Survey");
    let ground = plan.survey.spots.iter().filter(|s| s.ground).count();
    out.push_str(&format!(
        "Shots       {} with place and elevation, {ground} of them on the ground\n",
        plan.survey.spots.len()
    ));
    if !plan.existing.triangles.is_empty() {
        out.push_str(&format!(
            "Ground      {} in {} triangles",
            m.area(plan.existing.plan_area()),
            plan.existing.triangles.len()
        ));
        if let Some([low, high]) = plan.existing.bounds() {
            out.push_str(&format!(
                ", from {} to {}",
                m.length(low[2]),
                m.length(high[2])
            ));
        }
        out.push('\n');
    }
    out.push_str(&closures(plan, m, width));
    if !plan.survey.suspects.is_empty() {
        let names: Vec<&str> = plan
            .survey
            .suspects
            .iter()
            .map(|s| s.shot.as_str())
            .collect();
        hang(out, "Suspect     ", &names.join(", "), width);
    }
    out.push('\n');
}

/// What each feature digs and places, and what lies between the existing and the dug surface.
pub(super) fn volumes(out: &mut String, plan: &Plan, m: Measure, width: usize) {
    let v = &plan.volumes;
    let unit = m.volume_unit();
    heading(out, "Cut and fill, feature by feature");
    hang(
        out,
        "",
        &format!(
            "Each between the ground as that feature finds it and as it leaves it, in the order of \
             the work, down to the dug surface. Cut is undisturbed soil, {unit} bank; fill is \
             {unit} as it lies compacted{}; deepest cut in {}.",
            if v.redug_compacted_m3 > 0.0 {
                "; re-dug is placed soil dug out again, as it lay"
            } else {
                ""
            },
            m.length_unit()
        ),
        width,
    );
    let mut table = Columns::new([
        "feature",
        "kind",
        "stage",
        ">cut bank",
        ">fill comp.",
        ">re-dug",
        ">deepest",
    ]);
    for f in &v.by_feature {
        table.row([
            f.place(),
            f.kind.word().into(),
            f.stage.clone(),
            m.bare_volume(f.cut_bank_m3),
            m.bare_volume(f.fill_compacted_m3),
            m.bare_volume(f.redug_compacted_m3),
            if f.depth_max_m >= 0.005 {
                m.bare(f.depth_max_m)
            } else {
                String::new()
            },
        ]);
    }
    table.row([
        "all".into(),
        String::new(),
        String::new(),
        m.bare_volume(v.cut_bank_m3),
        m.bare_volume(v.fill_compacted_m3),
        m.bare_volume(v.redug_compacted_m3),
        String::new(),
    ]);
    // What says nothing in this job is left out.
    if v.redug_compacted_m3 <= 0.0 {
        table.drop(">re-dug");
    }
    if v.by_feature.iter().all(|f| f.stage.is_empty()) {
        table.drop("stage");
    }
    table.write(out, width);
    out.push('\n');
    heading(out, "Between the surfaces");
    out.push_str(&format!(
        "Existing to dug       cut {}, fill {}, in place\n",
        m.volume(v.existing_to_dug_cut_m3),
        m.volume(v.existing_to_dug_fill_m3)
    ));
}

fn soil(out: &mut String, plan: &Plan, m: Measure, width: usize) {
    let s = &plan.soil;
    heading(out, &format!("Soil: {}", s.class));
    let line = |out: &mut String, what: &str, text: String| {
        hang(out, &format!("{what:<14}"), &text, width);
    };
    line(
        out,
        "Dug",
        format!(
            "{} bank, {} loose, topsoil included: {} barrow loads",
            m.volume(s.cut_bank_m3),
            m.volume(s.cut_loose_m3),
            number(f64::from(s.barrow_loads), 0)
        ),
    );
    if s.topsoil_bank_m3 > 0.0 {
        let back = match account::put_back(&plan.ledger) {
            bank if bank > 0.0 => format!(
                "{} bank of topsoil placed on bare ground in the end (not in what is placed here)",
                m.volume(bank)
            ),
            _ => "never placed".into(),
        };
        line(
            out,
            "Topsoil",
            format!(
                "of it {} bank, {} loose: set aside, {} and not in what is left over",
                m.volume(s.topsoil_bank_m3),
                m.volume(s.topsoil_loose_m3),
                back
            ),
        );
    }
    line(
        out,
        "Placed",
        format!(
            "{} compacted, which takes {} bank",
            m.volume(s.fill_compacted_m3),
            m.volume(s.fill_bank_m3)
        ),
    );
    if s.ramp_compacted_m3 > 0.0 {
        line(
            out,
            "Ramps",
            format!(
                "of it {} compacted, which takes {} bank",
                m.volume(s.ramp_compacted_m3),
                m.volume(s.ramp_bank_m3)
            ),
        );
    }
    if s.topsoil_under_fill_m3 > 0.0 {
        line(
            out,
            "Under fill",
            format!(
                "{} of topsoil stays under what is placed; stripped first, it is so much more to \
                 dig, and so much more soil to place (neither is counted here)",
                m.volume(s.topsoil_under_fill_m3)
            ),
        );
    }
    if s.short_bank_m3 > 0.0 {
        let stage = if s.short_at.is_empty() {
            String::new()
        } else {
            format!(", stage {}", s.short_at)
        };
        line(
            out,
            "Short",
            format!(
                "{} bank, {} loose at the worst, first at {}{stage}: {} to bring in or borrow",
                m.volume(s.short_bank_m3),
                m.volume(s.short_loose_m3),
                s.short_feature,
                loads(s.short_loads)
            ),
        );
    } else {
        line(out, "Short", "never".into());
    }
    let brought_in = plan.ledger.brought.loads[1];
    if brought_in != s.short_loads {
        let says = format!(
            "the ledger brings in {}: stage by stage, topsoil with it",
            loads(brought_in)
        );
        line(out, "", says);
    }
    let brought = if s.spoil_brought_bank_m3 > 0.0 {
        format!(
            "; of it {} bank had been brought in",
            m.volume(s.spoil_brought_bank_m3)
        )
    } else {
        String::new()
    };
    line(
        out,
        "Left over",
        format!(
            "{} bank, {} loose: {}{brought}",
            m.volume(s.spoil_bank_m3),
            m.volume(s.spoil_loose_m3),
            loads(s.truck_loads)
        ),
    );
    if let Some(says) = ledgers_loads(plan) {
        line(out, "", says);
    }
    line(
        out,
        "Truck",
        format!(
            "{} loose a load, set by its {}",
            m.volume(s.load_loose_m3),
            if s.load_by_payload {
                "payload"
            } else {
                "volume"
            }
        ),
    );
    if s.stages.len() > 1 {
        let mut table = Columns::new([
            "stage",
            ">cut bank",
            ">fill comp.",
            ">re-dug comp.",
            ">on hand bank",
        ]);
        for stage in &s.stages {
            table.row([
                stage.stage.clone(),
                m.bare_volume(stage.cut_bank_m3),
                m.bare_volume(stage.fill_compacted_m3),
                m.bare_volume(stage.redug_compacted_m3),
                m.bare_volume(stage.on_hand_bank_m3),
            ]);
        }
        table.write(out, width);
        out.push_str(
            "  On hand: without topsoil and without what is brought in; below 0 is missing\n",
        );
    }
    out.push('\n');
}

/// Why the ledger hauls off another number of loads than the soil left over makes; `None` if it does
/// not.
pub fn ledgers_loads(plan: &Plan) -> Option<String> {
    let [_, likely, _] = plan.ledger.out.loads;
    let other = likely != plan.soil.truck_loads;
    other.then(|| {
        format!(
            "the ledger hauls off {}: stage by stage, topsoil with it",
            number(f64::from(likely), 0)
        )
    })
}

fn loads(count: u32) -> String {
    let s = if count == 1 { "" } else { "s" };
    format!("{} truck load{s}", number(f64::from(count), 0))
}

fn water(out: &mut String, plan: &Plan, m: Measure, width: usize) {
    if plan.water.is_empty() {
        return;
    }
    heading(out, "Water, on the finished surface");
    let mut table = Columns::new([
        "water",
        ">level",
        &format!(">{}", m.area_unit()),
        &format!(">{}", m.water_unit()),
        ">deepest",
        ">freeboard",
        ">runs over at",
        "held",
    ]);
    for w in &plan.water {
        // Water that runs away never stands at that level: no area, volume or depth of it.
        let held = |figure: String| if w.held { figure } else { "—".into() };
        table.row([
            w.name.clone(),
            m.bare(w.level_m),
            held(m.bare_area(w.area_m2)),
            held(m.bare_water(w.volume_m3)),
            held(m.bare(w.depth_max_m)),
            m.bare(w.freeboard_min_m),
            m.bare(w.spill_m),
            if w.held { "yes" } else { "NO" }.into(),
        ]);
    }
    table.write(out, width);
    out.push('\n');
}
