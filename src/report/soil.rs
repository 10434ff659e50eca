//! Where the soil goes, as it can be read aloud: stage by stage, then the ledger place by place.
//! [`soil`] puts the sections of this command one under the other.

use super::measure::number;
use super::{Columns, Measure, findings, hang, haul, heading};
use crate::job::Job;
use crate::plan::{Deed, Entry, Haulage, LedgerStage, Loads, PilePlace, Plan, SoilKind, State};

/// The sections in their order: each writes itself, or nothing where the job says nothing of it.
pub fn soil(
    job: &Job,
    plan: &Plan,
    places: &[PilePlace],
    haulage: &Haulage,
    width: usize,
) -> String {
    let m = Measure(job.unit);
    let mut out = String::new();
    heading(&mut out, &format!("{}: where the soil goes", job.name));
    out.push('\n');
    if plan.existing.triangles.is_empty() {
        out.push_str("There is no ground surface, so no volumes: see the findings.\n\n");
    } else if plan.ledger.stages.is_empty() {
        out.push_str("No work of this job moves soil.\n\n");
    } else {
        story(&mut out, plan, m, width);
        stages(&mut out, plan, m, width);
        ledger(&mut out, plan, m, width);
        piles(&mut out, plan, m, width);
        suggested(&mut out, places, m, width);
        kinds(&mut out, plan, m, width);
    }
    haul::carrying(&mut out, plan, haulage, m, width);
    let all: Vec<_> = plan
        .findings
        .iter()
        .chain(&haulage.findings)
        .cloned()
        .collect();
    out.push_str(&findings(&all, job.unit, width));
    out
}

fn title(stage: &LedgerStage, n: usize) -> String {
    if stage.name.is_empty() {
        "All works".into()
    } else {
        format!("{}. {}", n + 1, stage.name)
    }
}

/// "12.30 yd³ bank".
fn amount(e: &Entry, m: Measure) -> String {
    format!("{} {}", m.volume(e.volume_m3), e.state.word())
}

fn story(out: &mut String, plan: &Plan, m: Measure, width: usize) {
    heading(out, "Stage by stage");
    for (n, stage) in plan.ledger.stages.iter().enumerate() {
        out.push_str(&title(stage, n));
        out.push('\n');
        let mut k = 0;
        while k < stage.entries.len() {
            // All that happens at one place in one sentence.
            let place = &stage.entries[k].place;
            let here: Vec<&Entry> = stage.entries[k..]
                .iter()
                .take_while(|e| e.place == *place)
                .collect();
            k += here.len();
            let mut said: Vec<String> = here.iter().map(|e| clause(e, m)).collect();
            for k in 1..said.len() {
                // "dig this and that" is said once.
                if let (Deed::Dug, Some(rest)) = (here[k].deed, said[k].strip_prefix("dig "))
                    && here[k - 1].deed == Deed::Dug
                {
                    said[k] = format!("and {rest}");
                }
            }
            hang(
                out,
                "   ",
                &format!("{}: {}.", capital(place), said.join(", ")),
                width,
            );
        }
        if stage.entries.is_empty() {
            out.push_str("   No soil is moved.\n");
        }
        let lies: Vec<String> = stage
            .lying
            .iter()
            .map(|l| {
                format!(
                    "{} {} {}",
                    m.volume(l.volume_m3),
                    l.state.word(),
                    lies_in(&l.place, l.state)
                )
            })
            .collect();
        let lies = if lies.is_empty() {
            "Nothing is left lying.".to_string()
        } else {
            format!("When it is done: {}.", lies.join(", "))
        };
        hang(out, "   ", &lies, width);
    }
    out.push('\n');
}

fn clause(e: &Entry, m: Measure) -> String {
    let soil = match e.soil {
        SoilKind::Subsoil => String::new(),
        kind => format!(" of {}", kind.word()),
    };
    let of = amount(e, m);
    match e.deed {
        Deed::Dug => format!("dig {of}{soil}"),
        Deed::Redug => format!("dig out {of} placed before"),
        Deed::Placed => format!("place {of}{soil}, which takes {} bank", m.volume(e.bank_m3)),
        Deed::Piled => format!("put {of} on it"),
        Deed::Unpiled => format!("take {of} from it"),
        Deed::BroughtIn => format!("{of}{soil}"),
        Deed::HauledOff => format!("{of}{soil}"),
    }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map(|c| c.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}

fn lies_in(place: &str, state: State) -> String {
    if state == State::Loose {
        format!("on the {place}")
    } else {
        format!("in the {place}")
    }
}

fn stages(out: &mut String, plan: &Plan, m: Measure, width: usize) {
    heading(out, "Stages");
    let mut table = Columns::new([
        "stage", ">cut", ">fill", ">re-dug", ">in", ">out", ">piles", ">ramps",
    ]);
    let sum =
        |f: fn(&LedgerStage) -> f64| m.bare_volume(plan.ledger.stages.iter().map(f).sum::<f64>());
    for (n, s) in plan.ledger.stages.iter().enumerate() {
        table.row([
            title(s, n),
            m.bare_volume(s.cut_bank_m3),
            m.bare_volume(s.fill_compacted_m3),
            m.bare_volume(s.redug_compacted_m3),
            m.bare_volume(s.import_loose_m3),
            m.bare_volume(s.export_loose_m3),
            m.bare_volume(s.pile_loose_m3),
            m.bare_volume(s.ramp_compacted_m3),
        ]);
    }
    table.row([
        "all".into(),
        sum(|s| s.cut_bank_m3),
        sum(|s| s.fill_compacted_m3),
        sum(|s| s.redug_compacted_m3),
        sum(|s| s.import_loose_m3),
        sum(|s| s.export_loose_m3),
        String::new(),
        String::new(),
    ]);
    table.write(out, width);
    hang(
        out,
        "  ",
        &format!(
            "{}. Cut bank; fill, re-dug and in ramps compacted; brought in, hauled off and on piles \
             loose. On piles and in ramps: when the stage ends. Once what no later stage \
             needs fills a truck, all of it goes.",
            m.volume_unit()
        ),
        width,
    );
    out.push('\n');
}

fn ledger(out: &mut String, plan: &Plan, m: Measure, width: usize) {
    heading(out, "Ledger");
    let mut table = Columns::new(["", "place", "soil", "what", ">bank", ">as it is", " "]);
    for (n, stage) in plan.ledger.stages.iter().enumerate() {
        for e in &stage.entries {
            table.row([
                if stage.name.is_empty() {
                    String::new()
                } else {
                    (n + 1).to_string()
                },
                e.place.clone(),
                e.soil.word().into(),
                e.deed.word().into(),
                m.bare_volume(e.deed.sign() * e.bank_m3),
                m.bare_volume(e.volume_m3),
                e.state.word().into(),
            ]);
        }
    }
    table.write(out, width);
    hang(
        out,
        "  ",
        &format!(
            "{}. Bank: with + where soil comes from and − where it goes; every stage adds up to 0.",
            m.volume_unit()
        ),
        width,
    );
    out.push('\n');
}

fn piles(out: &mut String, plan: &Plan, m: Measure, width: usize) {
    if plan.piles.is_empty() {
        return;
    }
    heading(out, "Piles, at their largest");
    let mut table = Columns::new(["pile", "soil", "after", ">loose", ">high", ">on", ">crest"]);
    for p in &plan.piles {
        table.row([
            p.name.clone(),
            p.soil.word().into(),
            p.stage.clone(),
            m.volume(p.loose_m3),
            m.length(p.height_m),
            m.area(p.area_m2),
            m.bare(p.crest_m),
        ]);
    }
    table.write(out, width);
    out.push_str("  High: thickest over the ground. On: plan area. Crest: its elevation\n\n");
}

fn suggested(out: &mut String, places: &[PilePlace], m: Measure, width: usize) {
    if places.is_empty() {
        return;
    }
    heading(out, "Where piles would fit, carried least");
    let mut table = Columns::new(["soil", ">x", ">y", ">loose", ">high", ">on", ">carried"]);
    for p in places {
        table.row([
            p.soil.word().into(),
            m.bare(p.at[0]),
            m.bare(p.at[1]),
            m.volume(p.loose_m3),
            m.length(p.height_m),
            m.area(p.area_m2),
            m.length(p.carry_m),
        ]);
    }
    table.write(out, width);
    hang(
        out,
        "  ",
        "A cone about that place, clear of works, setbacks, keep-outs, services, paving and walls. \
         Each keeps off those above it. Carried: mean distance to and from it, as the crow flies.",
        width,
    );
    out.push('\n');
}

fn kinds(out: &mut String, plan: &Plan, m: Measure, width: usize) {
    heading(out, "Kinds of soil, and loads");
    let mut table = Columns::new(["soil", "as", ">loose", ">", ">", ">compacted", "> ", "> "]);
    let met = |kind: SoilKind| {
        let mut entries = plan.ledger.stages.iter().flat_map(|s| &s.entries);
        entries.any(|e| e.soil == kind)
    };
    for s in plan.ledger.soils.iter().filter(|s| met(s.kind)) {
        let f = |v: f64| format!("{v:.2}");
        table.row([
            s.kind.word().into(),
            s.name.clone(),
            f(s.loose[0]),
            f(s.loose[1]),
            f(s.loose[2]),
            f(s.compacted[0]),
            f(s.compacted[1]),
            f(s.compacted[2]),
        ]);
    }
    table.write(out, width);
    out.push_str("  Volume from one of bank: low, likely, high\n");
    for (what, loads) in [
        ("Hauled off  ", &plan.ledger.out),
        ("Brought in  ", &plan.ledger.brought),
    ] {
        hang(out, what, &range(loads, m), width);
    }
    for course in &plan.volumes.base_courses {
        hang(
            out,
            "Bought      ",
            &format!(
                "stone for the {} of {}: {} compacted; what to order of it is in the takeoff",
                course.part,
                course.wall,
                m.volume(course.compacted_m3)
            ),
            width,
        );
    }
    out.push('\n');
}

fn range(l: &Loads, m: Measure) -> String {
    let [low, likely, high] = l.loads;
    if high == 0 {
        return "nothing".into();
    }
    let n = |v: u32| number(f64::from(v), 0);
    if likely == 0 {
        return format!(
            "likely nothing; at the worst of the factors {} loose, {} truck load{}",
            m.volume(l.loose_m3[2]),
            n(high),
            if high == 1 { "" } else { "s" }
        );
    }
    let spread = if low == high {
        String::new()
    } else {
        format!(", from {} to {}", n(low), n(high))
    };
    format!(
        "{} truck load{}{spread}; {} loose, from {} to {}",
        n(likely),
        if likely == 1 { "" } else { "s" },
        m.volume(l.loose_m3[1]),
        m.bare_volume(l.loose_m3[0]),
        m.bare_volume(l.loose_m3[2])
    )
}
